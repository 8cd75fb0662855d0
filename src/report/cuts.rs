//! Cut plans as tables: what it comes to, what is cut in order, what is used, what is worth keeping.
//!
//! ```
//! # fn bars() -> (ovolo::cutting::model::Problem, ovolo::cutting::plan::Plan) {
//! #     include!(concat!(env!("CARGO_MANIFEST_DIR"), "/tests/docs/bars.rs"))
//! # }
//! let (problem, plan) = bars(); // four parts out of two bars
//! let table = ovolo::report::cuts::table(&problem, &plan, "totals").expect("a table");
//! assert!(table.lines().count() > 1);
//! ```

use super::csv;
use super::face::Face;
use super::view::{Cell, Column, View};
use crate::cutting::model::Problem;
use crate::cutting::offcuts::offcuts;
use crate::cutting::one_sheet::{OneSheet, Yielded};
use crate::cutting::plan::Plan;
use crate::cutting::words::{self, name, stock_name};
use crate::diagnostics::Diagnostic;
use crate::ids;
use crate::number::Exact;

/// The tables of a plan, in the order of the report.
pub fn views(problem: &Problem, plan: &Plan) -> Vec<View> {
    vec![
        totals(problem, plan),
        used(problem, plan),
        cuts(problem, plan),
        kept(problem, plan),
        parts(problem),
    ]
}

/// One table as CSV by its name. Errors: OV-840 for a name that no table has.
pub fn table(problem: &Problem, plan: &Plan, name: &str) -> Result<String, Diagnostic> {
    pick(&views(problem, plan), name)
}

/// One of these tables as CSV by its name. Errors: OV-840 for a name that no table has.
pub fn pick(views: &[View], name: &str) -> Result<String, Diagnostic> {
    csv::pick(views, name, &Face::default())
}

/// The tables of what one sheet yields, in the order of the report.
pub fn yield_views(asked: &OneSheet, found: &Yielded) -> Vec<View> {
    let columns = vec![Column::text("what"), Column::number("amount")];
    let mut totals = View::new("totals", "What the sheet yields", columns);
    let number = |n: i64| Cell::Number(Exact::int(n), 0);
    let worth = if asked.by_area { "area" } else { "worth" };
    totals.row(vec![Cell::text("panes"), count(found.problem.pieces())]);
    totals.row(vec![
        Cell::text(format!("{worth} of the panes")),
        number(found.value),
    ]);
    totals.row(vec![
        Cell::text("panes of one size alone"),
        number(found.greedy),
    ]);
    totals.row(vec![Cell::text("proved bound"), number(found.bound)]);
    totals.notes.push(yield_gap(asked, found));
    vec![
        totals,
        cuts(&found.problem, &found.plan),
        kept(&found.problem, &found.plan),
    ]
}

/// How far the yield is from the bound.
pub fn yield_gap(asked: &OneSheet, found: &Yielded) -> String {
    let (area, stages) = (
        if asked.by_area { "Area" } else { "Worth" },
        if found.problem.rules.stages == 2 {
            "two"
        } else {
            "three"
        },
    );
    let (value, bound) = (found.value, found.bound);
    if value >= bound {
        return format!(
            "{area} {value} in {stages} stages; no cuts from edge to edge, of any number of stages, yield more."
        );
    }
    let share = Exact::ratio((bound - value).saturating_mul(100), bound).unwrap_or(Exact::ZERO);
    format!(
        "{area} {value} in {stages} stages; no cuts from edge to edge, of any number of stages, yield more than {bound}: a gap of {} %.",
        share.to_fixed(2, crate::number::Rounding::HalfEven)
    )
}

fn count(n: u64) -> Cell {
    Cell::Count(ids::length(n))
}

fn cost(problem: &Problem, n: i64) -> Cell {
    match Exact::ratio(n, 100).filter(|_| problem.cents) {
        Some(money) => Cell::Number(money, 2),
        None => Cell::Number(Exact::int(n), 0),
    }
}

fn totals(problem: &Problem, plan: &Plan) -> View {
    let columns = vec![Column::text("what"), Column::number("amount")];
    let mut view = View::new("totals", "Cut plan", columns);
    view.row(vec![Cell::text("parts"), count(problem.pieces())]);
    view.row(vec![Cell::text("pieces of stock used"), count(plan.used())]);
    view.row(vec![
        Cell::text("ways of cutting them"),
        count(ids::long(plan.cuts.len())),
    ]);
    view.row(vec![Cell::text("cost"), cost(problem, plan.cost)]);
    view.row(vec![
        Cell::text("cost of the greedy plan"),
        cost(problem, plan.greedy),
    ]);
    view.row(vec![
        Cell::text("proved bound"),
        cost(problem, plan.bound()),
    ]);
    view.notes.push(gap(problem, plan));
    if !plan.finished {
        view.notes.push(
            "UNFINISHED: the search was interrupted; a job does not take this plan.".to_string(),
        );
    }
    view
}

/// How far the plan is from the bound: "Cost 29; no plan of two stages can cost less than 28: a gap of 3.6 %".
pub fn gap(problem: &Problem, plan: &Plan) -> String {
    let bound = plan.bound();
    let head = format!(
        "Cost {}; {} than {}",
        problem.money(plan.cost),
        words::scope(problem),
        problem.money(bound)
    );
    if plan.cost <= bound {
        return format!("{head}: the plan is the best there is.");
    }
    let share = Exact::ratio((plan.cost - bound) * 100, bound);
    match share {
        Some(share) => format!(
            "{head}: a gap of {} %.",
            share.to_fixed(2, crate::number::Rounding::HalfEven)
        ),
        None => format!("{head}."),
    }
}

fn used(problem: &Problem, plan: &Plan) -> View {
    let columns = vec![
        Column::text("stock"),
        Column::number("used"),
        Column::number("there"),
        Column::number("cost each"),
        Column::number("cost"),
    ];
    let mut view = View::new("stock", "Stock used", columns);
    for (i, stock) in problem.stocks.iter().enumerate() {
        let n: u64 = plan
            .cuts
            .iter()
            .filter(|c| c.stock == i)
            .map(|c| u64::from(c.times))
            .sum();
        if n > 0 {
            view.row(vec![
                Cell::text(stock_name(problem, i)),
                count(n),
                stock
                    .available
                    .map_or(Cell::text("bought"), |a| count(u64::from(a))),
                cost(problem, stock.cost),
                cost(
                    problem,
                    stock
                        .cost
                        .saturating_mul(i64::try_from(n).unwrap_or(i64::MAX)),
                ),
            ]);
        }
    }
    view
}

fn cuts(problem: &Problem, plan: &Plan) -> View {
    let [first, second, last] = words::steps(problem);
    let mut columns = vec![
        Column::number("no."),
        Column::text("stock"),
        Column::number("times"),
        Column::text(first),
        Column::text(second),
        Column::text(last),
    ];
    if problem.rules.stages == 1 {
        columns[3] = columns[3].clone().wide();
        columns[4] = columns[4].clone().wide();
    }
    let mut view = View::new("cuts", "What is cut, in order", columns);
    for (n, cut) in plan.cuts.iter().enumerate() {
        let mut first = true;
        for section in &cut.sections {
            for (s, strip) in section.strips.iter().enumerate() {
                let lead = std::mem::take(&mut first);
                view.row(vec![
                    if lead {
                        Cell::Count(n + 1)
                    } else {
                        Cell::Blank
                    },
                    if lead {
                        Cell::text(stock_name(problem, cut.stock))
                    } else {
                        Cell::Blank
                    },
                    if lead {
                        count(u64::from(cut.times))
                    } else {
                        Cell::Blank
                    },
                    if s == 0 {
                        Cell::text(words::section(problem, cut, section))
                    } else {
                        Cell::Blank
                    },
                    Cell::text(words::strip(problem, cut, strip)),
                    Cell::text(in_order(
                        problem,
                        strip.pieces.iter().map(|p| (p.part, p.turned)),
                    )),
                ]);
            }
        }
    }
    let unit = match problem.shown_unit() {
        "in" => "inches",
        unit => unit,
    };
    view.notes
        .push(format!("Sizes in {unit}. {}", words::places(problem)));
    view
}

/// What each part is for, where the parts are of a job.
fn parts(problem: &Problem) -> View {
    let columns = vec![
        Column::text("part"),
        Column::text("size"),
        Column::number("count"),
        Column::text("for"),
    ];
    let mut view = View::new("parts", "What the parts are for", columns);
    for part in problem.parts.iter().filter(|p| !p.rows.is_empty()) {
        let mut sizes = vec![problem.size(part.length)];
        if problem.rules.stages > 1 {
            sizes.push(problem.size(part.width));
        }
        if part.thick > 0 {
            sizes.push(problem.size(part.thick));
        }
        let row = |(mark, n): &(String, u32)| {
            if *n > 1 {
                format!("{n} of {mark}")
            } else {
                mark.clone()
            }
        };
        view.row(vec![
            Cell::text(part.mark.clone()),
            Cell::text(sizes.join(" x ")),
            count(u64::from(part.count)),
            Cell::text(part.rows.iter().map(row).collect::<Vec<_>>().join(", ")),
        ]);
    }
    view
}

/// Parts of a strip with equal neighbors counted: `3 of R-12, S-4`.
fn in_order(problem: &Problem, pieces: impl Iterator<Item = (usize, bool)>) -> String {
    let mut runs: Vec<((usize, bool), u32)> = Vec::new();
    for piece in pieces {
        match runs.last_mut() {
            Some((last, n)) if *last == piece => *n += 1,
            _ => runs.push((piece, 1)),
        }
    }
    let one = |((part, turned), n): &((usize, bool), u32)| {
        let many = if *n > 1 {
            format!("{n} of ")
        } else {
            String::new()
        };
        let turned = if *turned { " turned" } else { "" };
        format!("{many}{}{turned}", name(problem, *part))
    };
    runs.iter().map(one).collect::<Vec<_>>().join(", ")
}

fn kept(problem: &Problem, plan: &Plan) -> View {
    let columns = vec![
        Column::number("no."),
        Column::text("from"),
        Column::number("times"),
        Column::text("length"),
        Column::text("width"),
    ];
    let mut view = View::new("offcuts", "Offcuts worth keeping", columns);
    for (n, cut) in plan.cuts.iter().enumerate() {
        for a in offcuts(problem, cut) {
            view.row(vec![
                Cell::Count(n + 1),
                Cell::text(stock_name(problem, cut.stock)),
                count(u64::from(cut.times)),
                Cell::text(problem.size(a.length)),
                Cell::text(problem.size(a.width)),
            ]);
        }
    }
    view.notes.push(format!(
        "At least {} x {} {}.",
        problem.size(problem.rules.keep.0),
        problem.size(problem.rules.keep.1),
        problem.shown_unit()
    ));
    view
}
