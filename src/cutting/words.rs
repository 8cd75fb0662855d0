//! How parts, stock and cuts are called in lists and on drawings.
//!
//! ```
//! # fn bars() -> (ovolo::cutting::model::Problem, ovolo::cutting::plan::Plan) {
//! #     include!(concat!(env!("CARGO_MANIFEST_DIR"), "/tests/docs/bars.rs"))
//! # }
//! let (problem, _) = bars();
//! assert_eq!(ovolo::cutting::words::part_size(&problem, 0), "40");
//! ```

use super::model::{Goods, Problem};
use super::plan::{PlacedSection, PlacedStrip, PlannedCut};

/// How a part is called: its mark, or its size.
pub fn name(problem: &Problem, part: usize) -> String {
    let p = &problem.parts[part];
    match p.mark.is_empty() {
        false => p.mark.clone(),
        true => part_size(problem, part),
    }
}

/// The sizes of a part that are cut.
pub fn part_size(problem: &Problem, part: usize) -> String {
    let p = &problem.parts[part];
    match problem.rules.stages {
        1 => problem.size(p.length),
        _ => format!("{} x {}", problem.size(p.length), problem.size(p.width)),
    }
}

/// How a stock is called.
pub fn stock_name(problem: &Problem, stock: usize) -> String {
    let s = &problem.stocks[stock];
    let size = match (problem.rules.stages, s.thick) {
        (1, _) => problem.size(s.length),
        (_, 0) => format!("{} x {}", problem.size(s.length), problem.size(s.width)),
        (_, t) => format!(
            "{} x {} x {}",
            problem.size(s.length),
            problem.size(s.width),
            problem.size(t)
        ),
    };
    let size = format!("{size} {}", problem.shown_unit());
    match s.mark.is_empty() {
        true => size,
        false => format!("{}, {size}", s.mark),
    }
}

/// What the cuts are called, in the order in which they are made, with what the last ones give.
pub fn steps(problem: &Problem) -> [&'static str; 3] {
    match problem.rules.goods {
        Goods::Linear => ["run", "strip", "cut, in order"],
        Goods::Boards => ["crosscut", "rip", "chop, in order"],
        Goods::Glass => ["first cuts", "second cuts", "panes, in order"],
    }
}

/// What the first cuts part: `22 7/8 long, from 15`.
pub fn section(problem: &Problem, cut: &PlannedCut, section: &PlacedSection) -> String {
    let way = match problem.rules.goods {
        Goods::Linear | Goods::Boards => "long",
        Goods::Glass => across(!cut.along),
    };
    place(problem, section.size, way, section.at)
}

/// What the second cuts part: `2 3/8 wide, from 0`.
pub fn strip(problem: &Problem, cut: &PlannedCut, strip: &PlacedStrip) -> String {
    let way = match problem.rules.goods {
        Goods::Linear | Goods::Boards => "wide",
        Goods::Glass => across(cut.along),
    };
    place(problem, strip.width, way, strip.at)
}

fn across(wide: bool) -> &'static str {
    if wide { "wide" } else { "high" }
}

fn place(problem: &Problem, size: i64, way: &str, at: i64) -> String {
    format!("{} {way}, from {}", problem.size(size), problem.size(at))
}

/// Where places count from.
pub fn places(problem: &Problem) -> &'static str {
    match problem.rules.goods {
        Goods::Linear => "Places count from one end.",
        Goods::Boards => "Places count from one end and, for a rip, from the lower edge.",
        Goods::Glass => "Places count from the lower left corner, as drawn.",
    }
}

/// What the bound holds for, in words.
pub fn scope(problem: &Problem) -> &'static str {
    match (problem.rules.goods, problem.rules.stages) {
        (Goods::Linear, _) => "no plan of these bars can cost less",
        (Goods::Boards, _) => "no plan of crosscut, rip and chop can cost less",
        (Goods::Glass, 2) => "no plan of two stages can cost less",
        (Goods::Glass, _) => "no plan of three stages can cost less",
    }
}
