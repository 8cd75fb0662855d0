//! Parts on their rows: what lists, drawings, tags and cut plans read.

use crate::eval::{Cell, Results};
use crate::number::Exact;
use crate::program::{Grain, NodeId, PartDef, Program, Version};
use crate::show::{cell_text, row_name, rows};
use crate::syntax::tree::{Side, Way};
use crate::table::{Absence, Table};
use std::sync::Arc;

/// The parts of a version.
#[derive(Debug, Clone, Default)]
pub struct Parts {
    /// Each part at each row that has a piece of it: by part in the order of the sheets, then by row.
    pub at: Vec<PartAt>,
    /// Pieces that are there and stay: nothing is taken for them, and only drawings show them.
    pub kept: Vec<PartAt>,
    /// Parts at rows where how many or how large is not known: part, mark of the row, and why. In no list and no plan.
    pub unknown: Vec<(usize, Arc<str>, Absence)>,
}

/// A part at a row.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PartAt {
    /// Its place in [`Version::parts`], where name, resource, phase and note stand.
    pub part: usize,
    /// Row of the part's grain.
    pub row: usize,
    /// How the row is named: its key, the keys of a group, or "whole job".
    pub key: Arc<str>,
    /// How many pieces, above zero.
    pub count: u64,
    /// Sizes in the order of the sheet, in inches, all above zero.
    pub sizes: Vec<SizeAt>,
    /// Its place, in inches.
    pub places: Vec<PlaceAt>,
    /// The member it belongs to; none where the sheet does not say or it is unknown.
    pub member: Option<Arc<str>>,
    /// What becomes of it.
    pub treatment: Option<Arc<str>>,
    /// Its profile.
    pub profile: Option<Arc<str>>,
    /// The share of it with decay; none where the sheet does not say or it is unknown.
    pub decayed: Option<Exact>,
}

/// A size of a part at a row, in inches.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SizeAt {
    /// Which.
    pub side: Side,
    /// As it leaves the bench.
    pub finished: Exact,
    /// As it is cut.
    pub rough: Exact,
}

/// A place of a part at a row, in inches. A place that is unknown is left out.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PlaceAt {
    /// Which way.
    pub way: Way,
    /// Of the first piece.
    pub at: Exact,
    /// From one piece to the next.
    pub each: Option<Exact>,
}

impl PartAt {
    /// A size, if the part has it.
    pub fn size(&self, side: Side) -> Option<&SizeAt> {
        self.sizes.iter().find(|s| s.side == side)
    }
}

/// The nodes that must be calculated before [`parts`].
pub fn wanted_parts(program: &Program, version: &Version) -> Vec<NodeId> {
    let mut nodes = Vec::new();
    for part in &version.parts {
        if let Grain::Group(group) = part.grain {
            nodes.extend(program.groups.get(group).into_iter().flat_map(|g| &g.keys));
        }
        nodes.push(part.count);
        nodes.extend(part.standing);
        nodes.extend(part.sizes.iter().flat_map(|s| [s.finished, s.rough]));
        nodes.extend(
            part.places
                .iter()
                .flat_map(|p| [Some(p.at), p.each])
                .flatten(),
        );
        nodes.extend(
            [part.member, part.treatment, part.profile, part.decayed]
                .into_iter()
                .flatten(),
        );
    }
    nodes.sort_unstable();
    nodes.dedup();
    nodes
}

/// Each part of a version at each row. `results` hold [`wanted_parts`], and the run had no faults.
pub fn parts(program: &Program, version: &Version, results: &Results, tables: &[&Table]) -> Parts {
    let mut out = Parts::default();
    let mut named: Vec<(Grain, Vec<Arc<str>>)> = Vec::new();
    for (at, part) in version.parts.iter().enumerate() {
        let known = named.iter().position(|(grain, _)| *grain == part.grain);
        let known = known.unwrap_or_else(|| {
            let name = |row| {
                row_name(program, tables, results, part.grain, row)
                    .unwrap_or_else(|| "whole job".to_owned())
                    .into()
            };
            let names = (0..rows(tables, results, part.grain)).map(name).collect();
            named.push((part.grain, names));
            named.len() - 1
        });
        let Some((_, keys)) = named.get(known) else {
            continue;
        };
        for (row, key) in keys.iter().enumerate() {
            match part_at(program, results, (at, part), part.count, row, key) {
                Ok(Some(found)) => out.at.push(found),
                Ok(None) => {
                    let there = part
                        .standing
                        .map(|count| part_at(program, results, (at, part), count, row, key));
                    // A kept piece of unknown size cannot be drawn, and nothing else asks for it.
                    out.kept.extend(there.and_then(Result::ok).flatten());
                }
                Err(absence) => out.unknown.push((at, Arc::clone(key), absence)),
            }
        }
    }
    out
}

fn part_at(
    program: &Program,
    results: &Results,
    (at, part): (usize, &PartDef),
    count: NodeId,
    row: usize,
    key: &Arc<str>,
) -> Result<Option<PartAt>, Absence> {
    let number = |node: NodeId| match results.value(node, row) {
        Cell::Number(n) => Ok(n),
        Cell::Absent(absence) => Err(absence),
        Cell::Fault(_) | Cell::Truth(_) | Cell::Label(_) | Cell::Text(_) => {
            Err(Absence::Unreadable)
        }
    };
    let count = number(count)?;
    let count = count
        .small()
        .filter(|(_, d)| *d == 1)
        .and_then(|(n, _)| u64::try_from(n.max(0)).ok())
        .ok_or(Absence::Unreadable)?;
    if count == 0 {
        return Ok(None);
    }
    let said = |node: Option<NodeId>| {
        let node = node?;
        match results.value(node, row) {
            Cell::Absent(_) | Cell::Fault(_) => None,
            cell @ (Cell::Number(_) | Cell::Truth(_) | Cell::Label(_) | Cell::Text(_)) => {
                Some(cell_text(program, node, &cell, None).into())
            }
        }
    };
    let place = |p: &crate::program::PartPlaceDef| {
        let each = p.each.map(number).transpose().ok()?;
        Some(PlaceAt {
            way: p.way,
            at: number(p.at).ok()?,
            each,
        })
    };
    let sizes = part
        .sizes
        .iter()
        .map(|s| {
            Ok(SizeAt {
                side: s.side,
                finished: number(s.finished)?,
                rough: number(s.rough)?,
            })
        })
        .collect::<Result<_, Absence>>()?;
    Ok(Some(PartAt {
        part: at,
        row,
        key: Arc::clone(key),
        count,
        sizes,
        places: part.places.iter().filter_map(place).collect(),
        member: said(part.member),
        treatment: said(part.treatment),
        profile: said(part.profile),
        decayed: part.decayed.and_then(|node| number(node).ok()),
    }))
}
