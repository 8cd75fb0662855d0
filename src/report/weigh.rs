//! Versions side by side on a terminal and as CSV.

use super::view::{Cell, Column, View};
use super::{csv, terminal};
use crate::diagnostics::Diagnostic;
use crate::number::cents_grouped;
use crate::pricing::{ComparePart, CompareRow, CompareValues, Comparison, OpeningDifference};

/// Columns of versions that fit beside their labels in 80 columns.
const BESIDE: usize = 3;
/// Rows of the survey shown on a terminal.
const MOST_ROWS: usize = 12;

/// The comparison, at most `width` columns wide: more versions than fit are told in further tables, each beside the first.
pub fn report(comparison: &Comparison, width: usize) -> String {
    let fit = (width.saturating_sub(22) / 16).clamp(1, comparison.versions.len().max(BESIDE));
    let others: Vec<usize> = (1..comparison.versions.len()).collect();
    let mut out = String::new();
    let mut groups: Vec<Vec<usize>> = others.chunks(fit.saturating_sub(1).max(1)).map(|c| [&[0], c].concat()).collect();
    if groups.is_empty() {
        groups.push((0..comparison.versions.len()).collect());
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

/// One table of a comparison as CSV: `versions` or `rows`. Errors: OV-840 for another name.
pub fn table(comparison: &Comparison, name: &str) -> Result<String, Diagnostic> {
    let all: Vec<usize> = (0..comparison.versions.len()).collect();
    csv::pick(&views(comparison, &all, usize::MAX), name)
}

/// Names of the tables of a comparison.
pub fn names(comparison: &Comparison) -> Vec<String> {
    views(comparison, &[], usize::MAX).into_iter().filter(|v| !v.is_empty()).map(|v| v.name).collect()
}

fn views(comparison: &Comparison, shown: &[usize], most: usize) -> Vec<View> {
    vec![versions(comparison, shown), openings(comparison, shown, most)]
}

fn heads(comparison: &Comparison, shown: &[usize]) -> Vec<Column> {
    shown.iter().filter_map(|at| comparison.versions.get(*at)).map(|name| Column::number(name.clone())).collect()
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
            view.notes.extend(shown.iter().filter(|at| **at > 0).filter_map(|at| bid_line(comparison, *at, *cents.get(*at)?)));
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
        CompareValues::Amounts { values, .. } => values.get(at).cloned().flatten().map_or(Cell::Blank, |x| Cell::Number(x, 2)),
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
        1 => format!("Add alternate \"{name}\": add {} {currency}", cents_grouped(cents)),
        _ => format!("Deduct alternate \"{name}\": deduct {} {currency}", cents_grouped(-cents)),
    };
    Some(format!("{}.", line.trim_end()))
}

/// The rows of the survey that differ most among the versions shown; all of them where there is no bound.
fn openings(comparison: &Comparison, shown: &[usize], most: usize) -> View {
    let mut columns = vec![Column::text(comparison.row_word.replace('_', " "))];
    columns.extend(heads(comparison, shown));
    let mut view = View::new("rows", "Where the cost differs most", columns);
    let pick = |o: &OpeningDifference| OpeningDifference {
        mark: o.mark.clone(),
        cents: shown.iter().filter_map(|at| o.cents.get(*at).copied()).collect(),
    };
    let mut list: Vec<OpeningDifference> = comparison.openings.iter().map(pick).filter(|o| o.most() > 0).collect();
    list.sort_by_key(|o| std::cmp::Reverse(o.most())); // stable: ties keep their order
    for one in list.iter().take(most) {
        let mut cells = vec![Cell::text(one.mark.clone())];
        cells.extend(one.cents.iter().map(|c| Cell::Money(*c)));
        view.row(cells);
    }
    if list.len() > most {
        view.notes.push(format!("{} differ in all; these the most, greatest first.", list.len()));
    }
    view
}
