//! Cost over the years as tables: one line a plan, and every later cost with its present worth.
//!
//! ```
//! use ovolo::number::Exact;
//! use ovolo::program::Rate;
//! use ovolo::study::{Life, LifePlan, Payback};
//! use ovolo::syntax::tree::RateKind;
//!
//! let life = Life {
//!     years: 30,
//!     discount: Rate { share: Exact::ratio(3, 100).expect("a ratio"), kind: RateKind::Real },
//!     escalation: Exact::ZERO,
//!     inflation: None,
//!     plans: vec![LifePlan {
//!         name: "as decided".into(),
//!         first: 100_00,
//!         rows: vec![],
//!         worth: 100_00,
//!         upkeep_a_year: Exact::ZERO,
//!         payback: Payback::Base,
//!     }],
//! };
//! let table = ovolo::report::life::plans(&life, "USD");
//! assert!(table.text(80).contains("100.00"));
//! ```

use super::study::StudyTable;
use super::view::{Cell, Column, View};
use crate::number::Rounding;
use crate::pricing::percent;
use crate::study::{Life, LifePlan, LifeRow, Payback};
use crate::syntax::tree::{LifeCostKind, LifeWhen, RateKind};

/// Plans side by side.
pub fn plans(life: &Life, currency: &str) -> StudyTable {
    let columns = [Column::text("plan")].into_iter();
    let columns = columns.chain(
        [
            "first cost",
            "upkeep",
            "replacement",
            "residual",
            "present worth",
            "difference",
        ]
        .map(Column::number),
    );
    let mut view = View::new(
        "life",
        format!("Cost over {} years, in {currency} of today", life.years),
        columns.collect(),
    );
    let base = life.plans.first().map_or(0, |p| p.worth);
    for plan in &life.plans {
        let mut cells = vec![Cell::text(plan.name.clone()), Cell::Money(plan.first)];
        cells.extend(
            [
                LifeCostKind::Upkeep,
                LifeCostKind::Replace,
                LifeCostKind::Residual,
            ]
            .map(|kind| Cell::Money(plan.worth_of(kind))),
        );
        cells.extend([Cell::Money(plan.worth), Cell::Money(plan.worth - base)]);
        view.row(cells);
    }
    let kind = match life.discount.kind {
        RateKind::Real => "real",
        RateKind::Nominal => "nominal",
    };
    let turned = life
        .inflation
        .as_ref()
        .map_or_else(String::new, |i| format!("; inflation {}", rate(i)));
    view.notes.push(format!(
        "Discount {} {kind}, prices rise {} {kind}{turned}. By the formulas of NIST Handbook 135.",
        rate(&life.discount.share),
        rate(&life.escalation)
    ));
    // A plan without later costs would win by what nobody wrote down.
    let (costed, bare): (Vec<&LifePlan>, Vec<&LifePlan>) =
        life.plans.iter().partition(|p| !p.rows.is_empty());
    match (costed.iter().min_by_key(|p| p.worth), bare.is_empty()) {
        (None, _) => view.notes.push(
            "No plan has later costs: a `life` block of a plan states its upkeep, replacement and residual value."
                .to_owned(),
        ),
        (Some(least), true) => view
            .notes
            .push(format!("Least present worth: {}.", least.name)),
        (Some(least), false) => {
            let names: Vec<&str> = bare.iter().map(|p| p.name.as_str()).collect();
            let has = if names.len() == 1 { "has" } else { "have" };
            view.notes.push(format!(
                "{} {has} no `life` block: no later cost is counted for it, so its present worth can't be compared.",
                names.join(", ")
            ));
            view.notes.push(format!(
                "Least present worth among plans with later costs: {}.",
                least.name
            ));
        }
    }
    let paybacks: Vec<String> = life.plans.iter().filter_map(payback).collect();
    if let (Some(base), false) = (life.plans.first(), paybacks.is_empty()) {
        // Secondary, since it leaves out all that comes later.
        let list = paybacks.join("; ");
        view.notes.push(format!(
            "Secondary, for it leaves out later costs and can rank plans wrongly: simple payback against {}: {list}.",
            base.name
        ));
    }
    StudyTable::new(view)
}

/// A rate to a hundredth of a percent.
fn rate(share: &crate::number::Exact) -> String {
    let hundredth = crate::number::Exact::ratio(1, 10_000).unwrap_or_default();
    percent(
        &share
            .round_to(&hundredth, Rounding::HalfEven)
            .unwrap_or_else(|_| share.clone()),
    )
}

fn payback(plan: &LifePlan) -> Option<String> {
    let name = &plan.name;
    let what = match &plan.payback {
        Payback::Base => return None,
        Payback::NoExtra => "none, it costs no more at first".to_owned(),
        Payback::Never => "never, its upkeep saves nothing".to_owned(),
        Payback::Years(years) => format!("{} years", years.to_decimal(1).0),
    };
    Some(format!("{name} {what}"))
}

/// Every later cost.
pub fn rows(life: &Life) -> StudyTable {
    let columns = vec![
        Column::text("plan"),
        Column::text("cost"),
        Column::text("when"),
        Column::number("each, today"),
        Column::number("times"),
        Column::number("present worth"),
    ];
    let mut view = View::new("life-costs", "Later costs", columns);
    let remarks = |row: &LifeRow| -> String {
        let source = row
            .source
            .as_ref()
            .map(|source| format!("source: {source}"));
        let each: Vec<String> = row.note.iter().cloned().chain(source).collect();
        each.join("; ")
    };
    let all = || life.plans.iter().flat_map(|plan| &plan.rows);
    let has_remarks = all().any(|row| !remarks(row).is_empty());
    if has_remarks {
        view.columns.push(Column::text("note"));
    }
    for plan in &life.plans {
        for row in &plan.rows {
            let mut cells = vec![
                Cell::text(plan.name.clone()),
                Cell::text(row.name.clone()),
                Cell::text(when(row.when)),
                Cell::Number(row.amount.clone(), 2),
                Cell::Count(crate::ids::length(row.times.into())),
                Cell::Money(row.cents),
            ];
            cells.extend(has_remarks.then(|| Cell::text(remarks(row))));
            view.row(cells);
        }
    }
    view.notes.push(
        "A cost that comes every so many years does not come on the last day; one that comes each year comes on the last day too."
            .to_owned(),
    );
    StudyTable::new(view)
}

fn when(when: LifeWhen) -> String {
    match when {
        LifeWhen::EachYear => "each year".to_owned(),
        LifeWhen::Every(n) => format!("every {n} years"),
        LifeWhen::After(1) => "after 1 year".to_owned(),
        LifeWhen::After(n) => format!("after {n} years"),
        LifeWhen::End => "at the end".to_owned(),
    }
}
