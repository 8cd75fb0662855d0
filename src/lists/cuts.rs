//! A cut plan as the shop follows it: each piece of stock drawn to scale with its cuts in order, what to fetch, what to keep, what the parts
//! are for. It holds sizes and counts, and no money.
//!
//! ```
//! # fn bars() -> (ovolo::cutting::model::Problem, ovolo::cutting::plan::Plan) {
//! #     include!(concat!(env!("CARGO_MANIFEST_DIR"), "/tests/docs/bars.rs"))
//! # }
//! let (problem, plan) = bars(); // four parts out of two bars
//! let paper = ovolo::lists::cuts::paper(&problem, &plan, "bars", Default::default());
//! assert_eq!(paper.title, "Cut plan: bars");
//! ```

use super::cut_figure::{Figures, whole};
use super::cut_marks::Marks;
use crate::cutting::model::{Goods, Problem};
use crate::cutting::offcuts::offcuts;
use crate::cutting::plan::{PlacedPiece, Plan, PlannedCut};
use crate::cutting::words;
use crate::drawing::Drawing;
use crate::number::{Exact, Rounding};
use crate::paper::{
    Block, Cell, Class, Column, Head, Paper, Picture, Reader, Row, RowKind, State, Table, Value,
};

/// The blocks of a plan. `goods` is what the stock is called, for the heading; a paper of one plan has it in its title.
pub fn blocks(problem: &Problem, plan: &Plan, goods: &str) -> Vec<Block> {
    let mut said = summary(problem, plan);
    if !plan.finished {
        said.push_str(" UNFINISHED: the search was interrupted; a job does not take this plan.");
    }
    with_summary(problem, plan, goods, said)
}

fn with_summary(problem: &Problem, plan: &Plan, goods: &str, said: String) -> Vec<Block> {
    let mut out = Vec::new();
    if !goods.is_empty() {
        out.push(Block::Heading(capital(&spoken(goods))));
    }
    out.extend([Block::Text(said), Block::Text(settings(problem))]);
    out.push(fetch(problem, plan));
    out.push(Block::Text(KEY.to_owned()));
    let figures = Figures::of(problem, plan);
    let marks = Marks::of(problem, plan);
    for (at, cut) in plan.cuts.iter().enumerate() {
        out.push(Block::Table(cuts(problem, goods, (at, cut), &marks)));
        let drawing = figures.draw(problem, (at, cut), &marks);
        let alternative = drawing.title.clone();
        out.push(Block::Drawing(Picture {
            drawing,
            caption: String::new(),
            alternative,
        }));
    }
    out.extend(keep(problem, plan));
    out.extend(parts(problem));
    out
}

const KEY: &str = "Each piece of stock is drawn to a scale of its own. White: parts, with their number in the list above the drawing and the sash or opening that they are for. Dashed: offcuts to keep. Crossed: a \
                   stretch that cannot be used. Gray: trims, kerfs and waste.";

/// A whole plan on one drawing.
pub fn drawing(problem: &Problem, plan: &Plan, title: &str) -> Drawing {
    whole(problem, plan, title)
}

/// A plan as a paper for the shop, for those who write it alone.
pub fn paper(problem: &Problem, plan: &Plan, name: &str, head: Head) -> Paper {
    Paper {
        name: "cut_plan".to_owned(),
        title: format!("Cut plan: {}", spoken(name)),
        reader: Reader::Shop,
        state: match plan.finished && head.doubts.is_empty() && head.date.is_some() {
            true => State::Issued,
            false => State::Draft,
        },
        head,
        blocks: blocks(problem, plan, ""),
    }
}

/// What one sheet yields as a paper for the shop; `said` is what it comes to.
pub fn yield_paper(problem: &Problem, plan: &Plan, said: String, head: Head) -> Paper {
    Paper {
        name: "sheet".to_owned(),
        title: "What the sheet yields".to_owned(),
        reader: Reader::Shop,
        state: State::Draft,
        head,
        blocks: with_summary(problem, plan, "", said),
    }
}

/// A name of a sheet as words.
pub(super) fn spoken(name: &str) -> String {
    name.replace('_', " ")
}

fn many(n: u64, one: &str, more: &str) -> String {
    match n {
        1 => format!("1 {one}"),
        n => format!("{n} {more}"),
    }
}

fn summary(problem: &Problem, plan: &Plan) -> String {
    let scope = words::scope(problem);
    let ways = crate::ids::long(plan.cuts.len());
    let head = format!(
        "{} out of {}, in {}.",
        many(problem.pieces(), "part", "parts"),
        many(plan.used(), "piece of stock", "pieces of stock"),
        many(ways, "way of cutting", "ways of cutting")
    );
    let share = Exact::ratio(plan.bound(), plan.cost).filter(|_| plan.cost > plan.bound());
    let share = share.and_then(|s| s.mul(&Exact::int(100)).ok());
    match share {
        Some(share) => {
            let share = share.to_fixed(1, Rounding::Down);
            format!("{head} It is proved that {scope} than {share} % of this one.")
        }
        None => format!("{head} It is proved that {scope}."),
    }
}

fn settings(problem: &Problem) -> String {
    let rules = &problem.rules;
    let with = |n: i64| format!("{} {}", problem.size(n), problem.shown_unit());
    let mut said = match (rules.goods, rules.crosscut, rules.rip) {
        (Goods::Linear, kerf, _) => vec![format!("Kerf {}", with(kerf))],
        (Goods::Glass, 0, 0) => vec!["Scored and snapped, without a kerf".to_owned()],
        (_, a, b) if a == b => vec![format!("Kerf {}", with(a))],
        (_, a, b) => vec![format!("Kerf {} across, {} along", with(a), with(b))],
    };
    let mut trims = problem.stocks.iter().map(|s| s.trim);
    let first = trims.next().unwrap_or(0);
    if first > 0 && trims.all(|t| t == first) {
        let kerf = if rules.crosscut > 0 {
            ", kerf included"
        } else {
            ""
        };
        let sides = match rules.goods {
            Goods::Glass => "every edge",
            Goods::Linear | Goods::Boards => "each end",
        };
        said.push(format!("{} trimmed off {sides}{kerf}", with(first)));
    }
    if rules.least > 0 {
        said.push(format!(
            "no strip under {} is snapped off",
            with(rules.least)
        ));
    }
    let unit = match problem.shown_unit() {
        "in" => "inches",
        unit => unit,
    };
    format!(
        "{}. Sizes in {unit}. {} Cut each piece of stock in the order of its list; check it against the drawing first.",
        said.join("; "),
        words::places(problem)
    )
}

fn column(name: &str, heading: &str) -> Column {
    Column {
        name: name.to_owned(),
        heading: heading.to_owned(),
        unit: None,
        numbers: None,
        class: Class::Open,
    }
}

fn table(name: &str, title: String, columns: &[(&str, &str)]) -> Table {
    Table {
        name: name.to_owned(),
        title,
        columns: columns.iter().map(|c| column(c.0, c.1)).collect(),
        rows: Vec::new(),
        notes: Vec::new(),
        entries: Vec::new(),
        counted: 0,
    }
}

fn line(cells: Vec<Cell>) -> Row {
    Row {
        kind: RowKind::Line,
        cells,
    }
}

fn empty(value: Value) -> Cell {
    Cell {
        value,
        ..Cell::blank()
    }
}

fn fetch(problem: &Problem, plan: &Plan) -> Block {
    let columns = [
        ("stock", "Stock"),
        ("pieces", "Pieces"),
        ("from", "From"),
        ("fetched", "Fetched"),
    ];
    let mut out = table("fetch", "Stock to fetch".to_owned(), &columns);
    for (at, stock) in problem.stocks.iter().enumerate() {
        let cuts = plan.cuts.iter().filter(|c| c.stock == at);
        let pieces: u64 = cuts.map(|c| u64::from(c.times)).sum();
        if pieces > 0 {
            let from = match stock.available {
                Some(_) => "on hand",
                None => "bought",
            };
            out.rows.push(line(vec![
                Cell::words(words::stock_name(problem, at)),
                Cell::words(pieces.to_string()),
                Cell::words(from),
                empty(Value::Tick),
            ]));
        }
    }
    Block::Table(out)
}

/// `3. C-04, 39 1/2 x 3 x 2 in, 2 cut alike`
pub(super) fn titled(problem: &Problem, (number, cut): (usize, &PlannedCut)) -> String {
    let alike = match cut.times {
        1 => String::new(),
        n => format!(", {n} cut alike"),
    };
    format!("{number}. {}{alike}", words::stock_name(problem, cut.stock))
}

/// The cuts of one piece of stock, strip by strip.
fn cuts(
    problem: &Problem,
    goods: &str,
    (place, cut): (usize, &PlannedCut),
    marks: &Marks,
) -> Table {
    let number = place + 1;
    let title = titled(problem, (number, cut));
    let [first, second, last] = words::steps(problem);
    let columns = [
        ("piece", "Piece"),
        ("first", first),
        ("second", second),
        ("parts", last),
    ];
    let mut columns = columns.map(|(name, heading)| (name, capital(heading)));
    let one_stage = problem.rules.stages == 1;
    if one_stage {
        columns.swap(2, 3);
    }
    let shown = if one_stage { 3 } else { 4 };
    let shown: Vec<(&str, &str)> = columns[..shown]
        .iter()
        .map(|(n, h)| (*n, h.as_str()))
        .collect();
    let mut out = table("cuts", title, &shown);
    // The lists of several plans follow one another in a CSV file.
    let piece = match goods {
        "" => number.to_string(),
        goods => format!("{} {number}", spoken(goods)),
    };
    let mut key = 1;
    for section in &cut.sections {
        for (at, strip) in section.strips.iter().enumerate() {
            let first = match at {
                0 => Cell::words(words::section(problem, cut, section)),
                _ => Cell::blank(),
            };
            let mut cells = vec![Cell::words(piece.as_str()), first];
            if !one_stage {
                cells.push(Cell::words(words::strip(problem, cut, strip)));
            }
            cells.push(Cell::words(pieces(
                problem,
                (place, cut),
                (strip.width, &strip.pieces),
                (&mut key, marks),
            )));
            out.rows.push(line(cells));
        }
    }
    out
}

fn capital(text: &str) -> String {
    let mut signs = text.chars();
    match signs.next() {
        Some(first) => first.to_uppercase().chain(signs).collect(),
        None => String::new(),
    }
}

/// `1: S3-S, rail bottom 4, 23 3/4 x 3 1/2; 2 to 4: N5-L (2), N8-L, muntin level 1, 25 x 1 1/8`, numbered on from `key`.
fn pieces(
    problem: &Problem,
    (place, cut): (usize, &PlannedCut),
    (width, list): (i64, &[PlacedPiece]),
    (key, marks): (&mut usize, &Marks),
) -> String {
    let alike = list.chunk_by(|a, b| a.part == b.part && a.turned == b.turned);
    let one = |same: &[PlacedPiece]| {
        let first = *key;
        *key += same.len();
        let piece = &same[0];
        let (part, size) = (
            &problem.parts[piece.part],
            words::part_size(problem, piece.part),
        );
        let keys = match same.len() {
            1 => first.to_string(),
            _ => format!("{first} to {}", *key - 1),
        };
        let marked = marks.told(place, first - 1..*key - 1);
        let words = [marked.unwrap_or_default(), spoken(&part.mark), size];
        let words: Vec<String> = words.into_iter().filter(|w| !w.is_empty()).collect();
        let mut said = format!("{keys}: {}", words.join(", "));
        if piece.turned {
            said.push_str(", turned");
        }
        let wide = match piece.turned == cut.along {
            true => part.width,
            false => part.length,
        };
        if problem.rules.stages > 1 && wide < width {
            said.push_str(", trimmed");
        }
        said
    };
    alike.map(one).collect::<Vec<_>>().join("; ")
}

/// What is cut and is in no plan, by its goods.
pub(super) fn without(goods: &[(String, u64)]) -> Option<Block> {
    let told = goods
        .iter()
        .map(|(goods, pieces)| format!("{goods}, {}", many(*pieces, "piece", "pieces")));
    let told = told.collect::<Vec<_>>().join("; ");
    (!told.is_empty()).then(|| {
        Block::Text(format!(
            "No plan, cut by the sizes of the cut list: {told}."
        ))
    })
}

fn keep(problem: &Problem, plan: &Plan) -> Option<Block> {
    let (length, width) = problem.rules.keep;
    let title = match problem.rules.stages {
        1 => format!("Offcuts to keep, from {}", problem.size(length)),
        _ => format!(
            "Offcuts to keep, from {} x {}",
            problem.size(length),
            problem.size(width)
        ),
    };
    let columns = [
        ("number", "No."),
        ("from", "From"),
        ("pieces", "Pieces"),
        ("size", "Size"),
        ("mark", "New mark"),
    ];
    let mut out = table("offcuts", title, &columns);
    for (at, cut) in plan.cuts.iter().enumerate() {
        for a in offcuts(problem, cut) {
            let size = match problem.rules.stages {
                1 => problem.size(a.length),
                _ => format!("{} x {}", problem.size(a.length), problem.size(a.width)),
            };
            out.rows.push(line(vec![
                Cell::words((at + 1).to_string()),
                Cell::words(words::stock_name(problem, cut.stock)),
                Cell::words(cut.times.to_string()),
                Cell::words(size),
                empty(Value::Room),
            ]));
        }
    }
    (!out.rows.is_empty()).then_some(Block::Table(out))
}

fn parts(problem: &Problem) -> Option<Block> {
    let columns = [
        ("part", "Part"),
        ("size", "Size"),
        ("pieces", "Pieces"),
        ("rows", "For"),
    ];
    let mut out = table("parts", "What the parts are for".to_owned(), &columns);
    for (at, part) in problem
        .parts
        .iter()
        .enumerate()
        .filter(|(_, p)| !p.rows.is_empty())
    {
        let thick = match part.thick {
            0 => String::new(),
            t => format!(" x {}", problem.size(t)),
        };
        let row = |(mark, n): &(String, u32)| match n {
            1 => mark.clone(),
            n => format!("{n} of {mark}"),
        };
        out.rows.push(line(vec![
            Cell::words(spoken(&part.mark)),
            Cell::words(format!("{}{thick}", words::part_size(problem, at))),
            Cell::words(part.count.to_string()),
            Cell::words(part.rows.iter().map(row).collect::<Vec<_>>().join(", ")),
        ]));
    }
    (!out.rows.is_empty()).then_some(Block::Table(out))
}
