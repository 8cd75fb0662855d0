//! Versions side by side on a terminal and as CSV.
//!
//! ```
//! # fn worked() -> ovolo::session::Session {
//! #     include!(concat!(env!("CARGO_MANIFEST_DIR"), "/tests/docs/worked.rs"))
//! # }
//! let session = worked(); // a small job in memory
//! let run = session.run().expect("it is worked");
//! let estimate = &run.worked.estimate;
//! let version = &run.job.checked.program.versions[0];
//! let comparison = ovolo::pricing::compare(&[(version, estimate.clone())]);
//! assert!(ovolo::report::weigh::names(&comparison).contains(&"versions".to_owned()));
//! ```

use super::study::StudyTable;
use super::view::{Cell, Column, View};
use super::{Face, csv, terminal};
use crate::diagnostics::Diagnostic;
use crate::number::cents_grouped;
use crate::pricing::{
    ComparePart, CompareRow, CompareValues, Comparison, OpeningDifference, spoken,
};

/// Columns of versions that fit beside their labels in 80 columns.
const BESIDE: usize = 3;
/// Rows of the survey shown on a terminal.
const MOST_ROWS: usize = 12;

/// The comparison, at most `width` columns wide: more versions than fit are reported in further tables, each beside the first.
pub fn report(comparison: &Comparison, width: usize) -> String {
    let fit = (width.saturating_sub(22) / 16).clamp(1, comparison.versions.len().max(BESIDE));
    let others: Vec<usize> = (1..comparison.versions.len()).collect();
    let mut out = String::new();
    let mut groups: Vec<Vec<usize>> = others
        .chunks(fit.saturating_sub(1).max(1))
        .map(|c| [&[0], c].concat())
        .collect();
    if groups.is_empty() {
        groups.push((0..comparison.versions.len()).collect());
    }
    if !comparison.picked.is_empty() {
        let mut view = picked_plans(comparison);
        view.notes.push("`--csv picked` lists the rows.".to_owned());
        out.push_str(&terminal::draw(&view, width));
        out.push('\n');
    }
    for shown in groups {
        for view in views(comparison, &shown, MOST_ROWS) {
            if !view.is_empty() {
                out.push_str(&terminal::draw(&view, width));
                out.push('\n');
            }
        }
    }
    out
}

/// One table of a comparison as CSV: `versions`, `rows`, or `picked` where there is a mixed plan.
/// Errors: OV-840 for another name.
pub fn table(comparison: &Comparison, name: &str, face: &Face) -> Result<String, Diagnostic> {
    csv::pick(&all_views(comparison), name, face)
}

/// Names of the tables of a comparison.
pub fn names(comparison: &Comparison) -> Vec<String> {
    all_views(comparison)
        .into_iter()
        .filter(|v| !v.is_empty())
        .map(|v| v.name)
        .collect()
}

/// The tables of a comparison as they go to a page or a workbook.
pub fn tables(comparison: &Comparison) -> Vec<StudyTable> {
    all_views(comparison)
        .into_iter()
        .filter(|v| !v.is_empty())
        .map(StudyTable::new)
        .collect()
}

fn all_views(comparison: &Comparison) -> Vec<View> {
    let all: Vec<usize> = (0..comparison.versions.len()).collect();
    let mut list = views(comparison, &all, usize::MAX);
    list.push(picked(comparison));
    list
}

fn views(comparison: &Comparison, shown: &[usize], most: usize) -> Vec<View> {
    vec![
        versions(comparison, shown),
        openings(comparison, shown, most),
    ]
}

fn heads(comparison: &Comparison, shown: &[usize]) -> Vec<Column> {
    shown
        .iter()
        .filter_map(|at| comparison.versions.get(*at))
        .map(|name| Column::number(name.clone()))
        .collect()
}

fn versions(comparison: &Comparison, shown: &[usize]) -> View {
    let mut columns = vec![Column::text(""), Column::text("unit")];
    columns.extend(heads(comparison, shown));
    let mut view = View::new("versions", "Side by side", columns);
    for one in &comparison.rows {
        let mut cells = vec![Cell::text(label(one)), Cell::text(unit(comparison, one))];
        cells.extend(shown.iter().map(|at| value(&one.values, *at)));
        view.row(cells);
        // As alternates are asked for in bids.
        if let ("difference", CompareValues::Money(cents)) = (one.what.as_str(), &one.values) {
            view.notes.extend(
                shown
                    .iter()
                    .filter(|at| **at > 0)
                    .filter_map(|at| bid_line(comparison, *at, *cents.get(*at)?)),
            );
        }
    }
    view
}

fn label(row: &CompareRow) -> String {
    match row.part {
        ComparePart::Trade => format!("{}, hours", row.what),
        ComparePart::Headline | ComparePart::Cost | ComparePart::Decision => row.what.clone(),
    }
}

fn unit(comparison: &Comparison, row: &CompareRow) -> String {
    match &row.values {
        CompareValues::Amounts { unit, .. } => unit.clone(),
        CompareValues::Money(_) => comparison.currency.clone(),
        CompareValues::Counts(_) => "rows".to_owned(),
    }
}

fn value(values: &CompareValues, at: usize) -> Cell {
    match values {
        CompareValues::Amounts { values, .. } => values
            .get(at)
            .cloned()
            .flatten()
            .map_or(Cell::Blank, |x| Cell::Number(x, 2)),
        CompareValues::Money(cents) => cents.get(at).map_or(Cell::Blank, |c| Cell::Money(*c)),
        CompareValues::Counts(counts) => counts.get(at).map_or(Cell::Blank, |n| Cell::Count(*n)),
    }
}

/// `Deduct alternate "Modern glass": deduct 1,234.00 USD.`, as a bid states it.
fn bid_line(comparison: &Comparison, at: usize, cents: i128) -> Option<String> {
    let name = comparison.versions.get(at)?;
    let currency = &comparison.currency;
    let line = match cents.signum() {
        0 => format!("Alternate \"{name}\": no change in price"),
        1 => format!(
            "Add alternate \"{name}\": add {} {currency}",
            cents_grouped(cents)
        ),
        _ => format!(
            "Deduct alternate \"{name}\": deduct {} {currency}",
            cents_grouped(-cents)
        ),
    };
    Some(format!("{}.", line.trim_end()))
}

/// The rows of the survey that differ most among the versions shown; all of them where there is no bound.
fn openings(comparison: &Comparison, shown: &[usize], most: usize) -> View {
    let mut columns = vec![Column::text(spoken(&comparison.row_word))];
    columns.extend(heads(comparison, shown));
    let mut view = View::new("rows", "Where the cost differs most", columns);
    let pick = |o: &OpeningDifference| OpeningDifference {
        mark: o.mark.clone(),
        cents: shown
            .iter()
            .filter_map(|at| o.cents.get(*at).copied())
            .collect(),
    };
    let mut list: Vec<OpeningDifference> = comparison
        .openings
        .iter()
        .map(pick)
        .filter(|o| o.most() > 0)
        .collect();
    list.sort_by_key(|o| std::cmp::Reverse(o.most())); // stable: ties keep their order
    for one in list.iter().take(most) {
        let mut cells = vec![Cell::text(one.mark.clone())];
        cells.extend(one.cents.iter().map(|c| Cell::Money(*c)));
        view.row(cells);
    }
    if list.len() > most {
        view.notes.push(format!(
            "{} differ in all; these the most, greatest first.",
            list.len()
        ));
    }
    view
}

/// How often mixed plans pick each of theirs.
fn picked_plans(comparison: &Comparison) -> View {
    let columns = vec![
        Column::text("mixed plan"),
        Column::text("takes"),
        Column::number("rows"),
        Column::text("where its cost is"),
    ];
    let mut view = View::new("mixed", "Mixed plans", columns);
    for plan in &comparison.picked {
        let first = plan.rows.iter().filter(|r| r.first).count();
        let [a, b] = &plan.plans;
        let share = crate::pricing::percent(&plan.share);
        view.row(vec![
            Cell::text(plan.name.clone()),
            Cell::text(a.clone()),
            Cell::Count(first),
            Cell::text(format!("less than {share} of {b}")),
        ]);
        view.row(vec![
            Cell::Blank,
            Cell::text(b.clone()),
            Cell::Count(plan.rows.len() - first),
            Cell::text("otherwise"),
        ]);
    }
    view.notes.push("Costs of a row are labor and materials, without charges and what belongs to the whole job.".to_owned());
    view
}

/// What each row takes.
fn picked(comparison: &Comparison) -> View {
    let row_word = spoken(&comparison.row_word);
    let columns = ["mixed plan", &row_word, "plan", "other plan", "takes"]
        .map(Column::text)
        .to_vec();
    let mut columns: Vec<Column> = columns;
    columns.splice(3..3, [Column::number("cost under plan")]);
    columns.splice(5..5, [Column::number("cost under other")]);
    let mut view = View::new("picked", "What each row takes", columns);
    for plan in &comparison.picked {
        let [a, b] = &plan.plans;
        for row in &plan.rows {
            view.row(vec![
                Cell::text(plan.name.clone()),
                Cell::text(row.mark.clone()),
                Cell::text(a.clone()),
                Cell::Money(row.cents[0]),
                Cell::text(b.clone()),
                Cell::Money(row.cents[1]),
                Cell::text(if row.first { a.clone() } else { b.clone() }),
            ]);
        }
    }
    view
}
