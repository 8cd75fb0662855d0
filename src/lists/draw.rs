//! Drawings of a paper: parts of rows as members of elevations, openings of a wall as a diagram, the calendar as bars.

use super::gather::paper_text;
use super::papers::Made;
use crate::cutting::plan::Planned;
use crate::drawing::Head;
use crate::drawing::elevation::{self, Lies, Member, Sash, Soft, Window};
use crate::drawing::wall::{self, Wall, WallOpening};
use crate::eval::Cell;
use crate::number::Exact;
use crate::paper::{Block, Picture, Reader};
use crate::program::{DrawDef, Grain, NodeId, ResourceClass, SoftDef};
use crate::show::{row_name, rows};
use crate::syntax::tree::{Chart, Side, Way};
use crate::takeoff::PartAt;
use foldhash::HashMap;

/// Everything that one `draw` line draws, for each row of its block, at one scale.
pub(super) enum Drawn {
    /// Elevations: the window of each row of the block; and the scale of all of them.
    Elevations(HashMap<usize, Window>, i64),
    /// Diagrams: the wall of each row of the block; and the scale of all of them.
    Walls(HashMap<usize, Wall>, i64),
    /// The same for each row.
    Calendar,
    /// The same for each row.
    Cuts,
    /// The same for each row.
    Chart(Chart, Reader),
}

/// Puts together what a `draw` line draws for the rows of its block.
pub(super) fn drawn(made: &Made<'_>, draw: &DrawDef, block: Grain, of: &[usize]) -> Drawn {
    match draw {
        DrawDef::Chart(chart, reader) => Drawn::Chart(*chart, *reader),
        DrawDef::Calendar => Drawn::Calendar,
        DrawDef::Cuts => Drawn::Cuts,
        DrawDef::Sash {
            grain,
            at,
            within,
            soft,
        } => {
            let mut sash = sash_of(made, (*grain, block), at, soft.as_ref());
            let windows = of.iter().filter_map(|row| {
                let [width, height] = lengths(made, within, *row)?;
                let mut own = sash.remove(row).unwrap_or_default();
                // From the foot up; of two side by side the left one first.
                own.sort_by(|a, b| a.up.cmp(&b.up).then_with(|| a.across.cmp(&b.across)));
                let window = Window {
                    mark: named(made, block, *row),
                    width,
                    height,
                    sash: own,
                };
                Some((*row, window))
            });
            let windows: HashMap<usize, Window> = windows.collect();
            let scale = elevation::scale_for(windows.values());
            Drawn::Elevations(windows, scale)
        }
        DrawDef::Wall {
            grain,
            along,
            up,
            within,
            letter,
        } => {
            let wall = |row: &usize| {
                let wall = Wall {
                    name: named(made, block, *row),
                    openings: Vec::new(),
                    left_out: Vec::new(),
                };
                (*row, wall)
            };
            let mut walls: HashMap<usize, Wall> = of.iter().map(wall).collect();
            for row in 0..rows(made.tables, made.results, *grain) {
                let owner = made.row_above((*grain, row), block);
                let Some(wall) = owner.and_then(|own| walls.get_mut(&own)) else {
                    continue;
                };
                let mark = named(made, *grain, row);
                let place = |node: NodeId| number(made, node, row).and_then(|n| n.to_i64());
                match (lengths(made, within, row), place(*along), place(*up)) {
                    (Some([width, height]), Some(along), Some(up)) => {
                        wall.openings.push(WallOpening {
                            mark,
                            along,
                            up,
                            width,
                            height,
                            letter: letter.and_then(|node| words(made, node, row)),
                        });
                    }
                    _ => wall.left_out.push(mark),
                }
            }
            let scale = wall::scale_for(walls.values());
            Drawn::Walls(walls, scale)
        }
    }
}

fn failed(what: &str) -> Vec<Block> {
    vec![Block::Text(format!(
        "{what} is not drawn: a size that it needs is not known."
    ))]
}

impl Drawn {
    /// The key to the marks of its elevations.
    pub(super) fn key(&self) -> Vec<Block> {
        let Drawn::Elevations(windows, _) = self else {
            return Vec::new();
        };
        let drawn = windows.values().filter(|w| !w.sash.is_empty());
        match elevation::key(drawn) {
            Ok(Some(key)) => {
                let heading = Block::Heading("Key to the drawings".to_owned());
                let key = picture(key, "");
                std::iter::once(heading).chain(key).collect()
            }
            Ok(None) => Vec::new(),
            Err(_) => failed("The key to the drawings"),
        }
    }

    /// The blocks for a row of the block; a drawing that cannot be made is said so in words.
    pub(super) fn blocks(&self, made: &Made<'_>, row: usize) -> Vec<Block> {
        match self {
            Drawn::Chart(chart, reader) => match super::charted::drawn(made, *chart, *reader) {
                Ok(drawing) => picture(drawing, ""),
                Err(why) => vec![Block::Text(why)],
            },
            Drawn::Calendar => match made.estimate.schedule.as_deref() {
                None => vec![Block::Text("This job has no calendar.".to_owned())],
                Some(plan) => {
                    let drawings = crate::schedule::bars_by_page(plan);
                    let each = drawings.into_iter();
                    each.flat_map(|d| picture(d, "The work by week.")).collect()
                }
            },
            Drawn::Cuts => match made.plans {
                [] => vec![Block::Text("This job uses no cut plan.".to_owned())],
                plans => {
                    let of = |p: &Planned| super::cuts::blocks(&p.problem, &p.plan, &p.name);
                    let each: Vec<Vec<Block>> = plans.iter().map(of).collect();
                    let mut out: Vec<Block> =
                        super::cuts::without(&unplanned(made)).into_iter().collect();
                    out.extend(each.join(&Block::PageBreak));
                    out
                }
            },
            Drawn::Elevations(windows, scale) => {
                let found = windows.get(&row);
                let Some(window) = found.filter(|w| !w.sash.is_empty()) else {
                    return failed("This window");
                };
                match elevation::elevation(window, *scale) {
                    Err(_) => failed(&window.mark),
                    Ok(drawing) => picture(drawing, ""),
                }
            }
            Drawn::Walls(walls, scale) => {
                let Some(wall) = walls.get(&row) else {
                    return failed("This wall");
                };
                match wall::diagram(wall, *scale) {
                    Err(_) => failed(&wall.name),
                    Ok(drawing) => picture(drawing, &wall.words()),
                }
            }
        }
    }
}

fn picture(drawing: crate::drawing::Drawing, caption: &str) -> Vec<Block> {
    let alternative = drawing.title.clone();
    vec![Block::Drawing(Picture {
        drawing,
        caption: caption.to_owned(),
        alternative,
    })]
}

fn named(made: &Made<'_>, grain: Grain, row: usize) -> String {
    row_name(made.program, made.tables, made.results, grain, row)
        .unwrap_or_else(|| "whole job".to_owned())
}

fn number(made: &Made<'_>, node: NodeId, row: usize) -> Option<Exact> {
    match made.results.value(node, row) {
        Cell::Number(n) => Some(n),
        Cell::Truth(_) | Cell::Label(_) | Cell::Text(_) | Cell::Absent(_) | Cell::Fault(_) => None,
    }
}

fn words(made: &Made<'_>, node: NodeId, row: usize) -> Option<String> {
    match made.results.value(node, row) {
        Cell::Absent(_) | Cell::Fault(_) => None,
        cell @ Cell::Number(_)
        | cell @ Cell::Truth(_)
        | cell @ Cell::Label(_)
        | cell @ Cell::Text(_) => Some(paper_text(made.program, node, &cell, None)),
    }
}

fn lengths(made: &Made<'_>, nodes: &[NodeId; 2], row: usize) -> Option<[Exact; 2]> {
    let [first, second] = *nodes;
    let both = [number(made, first, row)?, number(made, second, row)?];
    both.iter().all(|n| n.signum() > 0).then_some(both)
}

/// Each sash with the row of the block that it belongs to.
fn sash_of(
    made: &Made<'_>,
    (grain, block): (Grain, Grain),
    at: &[NodeId; 2],
    soft: Option<&SoftDef>,
) -> HashMap<usize, Vec<Sash>> {
    let soft = soft.map_or_else(HashMap::default, |def| soft_places(made, def, grain));
    let mut members: Vec<Vec<(usize, Member)>> =
        vec![Vec::new(); rows(made.tables, made.results, grain)];
    for part in made.parts.at.iter().chain(&made.parts.kept) {
        let Some(def) = made
            .version
            .parts
            .get(part.part)
            .filter(|p| p.grain == grain)
        else {
            continue;
        };
        if let Some(mut member) = member_of(part, &def.name.replace('_', " "))
            && let Some(list) = members.get_mut(part.row)
        {
            let own = soft.get(&part.row).into_iter().flatten();
            let own = own.filter(|(on, _)| member.count == 1 && *on == member.name);
            member.soft = own.map(|(_, s)| s.clone()).collect();
            list.push((part.part, member));
        }
    }
    let mut out: HashMap<usize, Vec<Sash>> = HashMap::default();
    for (row, mut list) in members.into_iter().enumerate() {
        list.sort_by_key(|(part, _)| *part);
        let owner = made.row_above((grain, row), block);
        let (across, up) = (number(made, at[0], row), number(made, at[1], row));
        if let (Some(owner), Some(across), Some(up), false) = (owner, across, up, list.is_empty()) {
            out.entry(owner).or_default().push(Sash {
                mark: named(made, grain, row),
                across,
                up,
                members: list.into_iter().map(|(_, m)| m).collect(),
            });
        }
    }
    out
}

/// A part as a member of an elevation, if it says where it is and how broad its face is.
fn member_of(part: &PartAt, name: &str) -> Option<Member> {
    let face = part.size(Side::Width)?.finished.clone();
    let place = |way: Way| part.places.iter().find(|p| p.way == way);
    let (lies, at) = match (place(Way::Across), place(Way::Up)) {
        (Some(at), None) => (Lies::Upright, at),
        (None, Some(at)) => (Lies::Level, at),
        _ => return None,
    };
    let rise = |way: Way| place(way).map(|p| p.at.clone()).filter(|r| r.signum() > 0);
    Some(Member {
        name: part
            .member
            .as_ref()
            .map_or_else(|| name.to_owned(), |m| m.replace('_', " ")),
        lies,
        at: at.at.clone(),
        each: at.each.clone(),
        count: part.count,
        face,
        head: match (rise(Way::Arch), rise(Way::Point)) {
            (_, Some(rise)) => Head::Point(rise),
            (Some(rise), None) => Head::Arch(rise),
            (None, None) => Head::Square,
        },
        treatment: part.treatment.as_ref().map(|t| t.to_string()),
        decayed: part.decayed.clone(),
        soft: Vec::new(),
    })
}

/// Soft places whose place was measured, by the row they belong to: member, place.
fn soft_places(
    made: &Made<'_>,
    def: &SoftDef,
    grain: Grain,
) -> HashMap<usize, Vec<(String, Soft)>> {
    let mut out: HashMap<usize, Vec<(String, Soft)>> = HashMap::default();
    for row in 0..rows(made.tables, made.results, def.grain) {
        let measured = || {
            let on = words(made, def.on, row)?;
            let place = Soft {
                item: named(made, def.grain, row),
                from: number(made, def.from, row)?,
                long: number(made, def.long, row)?,
                broad: number(made, def.broad, row)?,
            };
            Some((on, place))
        };
        if let (Some(owner), Some(found)) = (made.row_above((def.grain, row), grain), measured()) {
            out.entry(owner).or_default().push(found);
        }
    }
    out
}

/// Pieces of wood and glass that no plan of the job cuts, by what they are cut from.
fn unplanned(made: &Made<'_>) -> Vec<(String, u64)> {
    let mut out: Vec<(String, u64)> = Vec::new();
    for at in &made.parts.at {
        let Some(part) = made.version.parts.get(at.part) else {
            continue;
        };
        let def = &made.version.resources[part.resource];
        let cut = matches!(def.class, ResourceClass::Stock | ResourceClass::Glass);
        if !cut || made.plans.iter().any(|p| p.name == def.name) {
            continue;
        }
        let goods = made.called(part.resource);
        match out.iter_mut().find(|(name, _)| *name == goods) {
            Some((_, pieces)) => *pieces += at.count,
            None => out.push((goods, at.count)),
        }
    }
    out
}
