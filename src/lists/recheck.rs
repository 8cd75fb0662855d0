//! What lists are made of, added up again on every run: parts against the take-off, purchases against the cost, activities against the hours.

use super::papers::Made;
use super::rows::{Gathered, ListRows};
use super::table;
use crate::diagnostics::Diagnostic;
use crate::eval::Cell;
use crate::number::{Exact, NumError, Rounding};
use crate::paper::{Paper, RowKind};
use crate::program::{Grain, ListOver, NodeId, ResourceClass, ResourceId, TakeDef};

/// A message for each sum that is not the one of the estimate.
pub(super) fn add_up(made: &Made<'_>) -> Vec<Diagnostic> {
    let mut out = Vec::new();
    for id in made.version.resources.ids() {
        let (Ok(parts), Ok(taken)) = (of_parts(made, id), of_takes(made, id)) else {
            continue;
        };
        if parts != taken {
            let name = made.version.resources[id].name.clone();
            out.push(differ(
                &format!("the parts made of `{name}`"),
                &parts,
                &taken,
            ));
        }
    }
    let estimate = made.estimate;
    for buy in &estimate.buys {
        let takes = made.version.takes.iter();
        let of = takes.filter(|t| t.resource == buy.resource);
        let taken = total(made, of.map(|t| t.plan.total));
        if let (Ok(taken), Ok(listed)) = (taken, buy.net.mul(&buy.base_per_unit))
            && taken != listed
        {
            let what = format!("the buy line of `{}`", buy.name);
            out.push(differ(&what, &listed, &taken));
        }
    }
    for take in &made.version.takes {
        if let (Some(Ok(rows)), Ok(whole)) = (
            of_rows(made, take),
            total(made, [take.plan.total].into_iter()),
        ) && rows != whole
        {
            let name = made.version.resources[take.resource].name.clone();
            out.push(differ(
                &format!("the rows of a take of `{name}`"),
                &rows,
                &whole,
            ));
        }
    }
    for plan in estimate.cut_plans.iter().filter_map(|c| c.plan.as_ref()) {
        let picked: u64 = plan.picks.iter().map(|p| p.count).sum();
        if picked != plan.on_hand {
            let count = |n: u64| Exact::from_i128(i128::from(n));
            out.push(differ(
                "the pieces of stock to be picked",
                &count(picked),
                &count(plan.on_hand),
            ));
        }
    }
    if estimate.unpriced.is_none() {
        let bought: i128 = estimate.buys.iter().map(|b| b.cents).sum();
        let told = estimate.totals.direct - estimate.totals.labor;
        if bought != told {
            let cents = |n: i128| Exact::from_i128(n);
            out.push(differ(
                "the cents of what is bought",
                &cents(bought),
                &cents(told),
            ));
        }
    }
    if let Some(plan) = estimate.schedule.as_deref() {
        let labor = plan
            .phases
            .iter()
            .flat_map(|p| &p.activities)
            .map(|a| &a.labor);
        let planned = labor.into_iter().try_fold(Exact::ZERO, |sum, n| sum.add(n));
        if let (Ok(planned), Ok(taken)) = (planned, of_labor(made))
            && planned != taken
        {
            out.push(differ("the minutes of the calendar", &planned, &taken));
        }
        // What runs over several weeks is split.
        if made.version.lists.iter().any(|l| l.over == ListOver::Work)
            && let (Ok(laid), Ok(taken)) = (made.laid_in_weeks(), of_labor(made))
            && laid != taken
        {
            out.push(differ("the minutes of the weeks", &laid, &taken));
        }
    }
    out
}

/// A message for each sum on paper that is not that of its lines, and for each column whose papers do not add up to the list.
pub(super) fn printed(of: &Gathered<'_>, papers: &[Paper<ListRows<'_>>]) -> Vec<Diagnostic> {
    let (list, mut out) = (of.list, Vec::new());
    for (at, _) in list.columns.iter().enumerate().filter(|(_, c)| c.total) {
        let mut found = Ok(Exact::ZERO);
        for table in papers
            .iter()
            .flat_map(Paper::tables)
            .filter(|t| t.name == list.name)
        {
            match of_numbers(table.rows.numbers(at)) {
                Ok(sum) => found = found.and_then(|f| f.add(&sum)),
                Err((told, sum)) => {
                    out.push(differ(&format!("the sums of `{}`", list.name), &told, &sum));
                }
            }
        }
        let (mut whole, mut rounded) = (Ok(Exact::ZERO), false);
        for line in &of.lines {
            let value = table::exact(of.made, list, line, at);
            rounded |= !table::in_cents(&value);
            whole = whole.and_then(|sum| sum.add(&value));
        }
        let whole = whole.and_then(|n| match rounded {
            true => n.round_to(&table::cent(), Rounding::HalfEven),
            false => Ok(n),
        });
        if let (Ok(found), Ok(whole)) = (found, whole)
            && found != whole
        {
            out.push(differ(
                &format!("the papers of `{}`", list.name),
                &found,
                &whole,
            ));
        }
    }
    out
}

/// The sum of the lines in a column of a table. Errors: a sum that it prints, and what its lines add up to.
fn of_numbers(rows: impl Iterator<Item = (RowKind, Exact)>) -> Result<Exact, (Exact, Exact)> {
    let add = |a: &Exact, b: &Exact| a.add(b).unwrap_or(Exact::ZERO);
    let (mut all, mut groups) = (Exact::ZERO, Vec::<Exact>::new());
    for (kind, number) in rows {
        let sum = match kind {
            RowKind::Group(level) => {
                groups.resize(level, Exact::ZERO);
                groups.push(Exact::ZERO);
                continue;
            }
            RowKind::Line => {
                all = add(&all, &number);
                groups.iter_mut().for_each(|g| *g = add(g, &number));
                continue;
            }
            RowKind::Subtotal(level) => groups.get(level).cloned().unwrap_or(Exact::ZERO),
            RowKind::Total => all.clone(),
        };
        if number != sum {
            return Err((number, sum));
        }
    }
    Ok(all)
}

/// What a take takes on all rows; none where it can't be said by row.
fn of_rows(made: &Made<'_>, take: &TakeDef) -> Option<Result<Exact, NumError>> {
    let (node, main) = take.plan.by_row.zip(made.program.main_table())?;
    let count = crate::show::rows(made.tables, made.results, Grain::Table(main));
    Some((0..count).try_fold(
        Exact::ZERO,
        |sum, row| match made.results.value(node, row) {
            Cell::Number(n) => sum.add(&n),
            Cell::Truth(_) | Cell::Label(_) | Cell::Text(_) | Cell::Absent(_) | Cell::Fault(_) => {
                Ok(sum)
            }
        },
    ))
}

fn differ(what: &str, found: &Exact, expected: &Exact) -> Diagnostic {
    Diagnostic::error("OV-828", format!("{what} do not add up to the take-off"))
        .found(found.to_decimal(6).0)
        .expected(expected.to_decimal(6).0)
}

/// Pieces times rough sizes, in base units.
fn of_parts(made: &Made<'_>, resource: ResourceId) -> Result<Exact, NumError> {
    let mut sum = Exact::ZERO;
    for at in &made.parts.at {
        let own = made.version.parts.get(at.part);
        if own.is_none_or(|p| p.resource != resource) {
            continue;
        }
        let mut product = Exact::from_i128(i128::from(at.count));
        for size in &at.sizes {
            product = product.mul(&size.rough)?;
        }
        sum = sum.add(&product)?;
    }
    Ok(sum)
}

fn of_takes(made: &Made<'_>, resource: ResourceId) -> Result<Exact, NumError> {
    let takes = made.version.takes.iter();
    let of = takes.filter(|t| t.part.is_some() && t.resource == resource);
    total(made, of.map(|t| t.plan.total))
}

fn of_labor(made: &Made<'_>) -> Result<Exact, NumError> {
    let takes = made.version.takes.iter();
    let labor = |id: ResourceId| made.version.resources[id].class == ResourceClass::Labor;
    let of = takes.filter(|t| labor(t.resource));
    total(made, of.map(|t| t.plan.total))
}

fn total(made: &Made<'_>, mut nodes: impl Iterator<Item = NodeId>) -> Result<Exact, NumError> {
    nodes.try_fold(Exact::ZERO, |sum, node| match made.results.value(node, 0) {
        Cell::Number(n) => sum.add(&n),
        Cell::Truth(_) | Cell::Label(_) | Cell::Text(_) | Cell::Absent(_) | Cell::Fault(_) => {
            Ok(sum)
        }
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_sum_on_paper_that_is_not_that_of_its_lines_is_found() {
        let rows = |inner: i64, all: i64| {
            let rows = [
                (RowKind::Group(0), 0),
                (RowKind::Line, 3),
                (RowKind::Line, 4),
                (RowKind::Subtotal(0), inner),
                (RowKind::Group(0), 0),
                (RowKind::Line, 5),
                (RowKind::Subtotal(0), 5),
                (RowKind::Total, all),
            ];
            of_numbers(rows.into_iter().map(|(kind, n)| (kind, Exact::int(n))))
        };
        let pair = |told, sum| Err((Exact::int(told), Exact::int(sum)));
        assert_eq!(rows(7, 12), Ok(Exact::int(12)));
        assert_eq!(rows(8, 12), pair(8, 7));
        assert_eq!(rows(7, 13), pair(13, 12));
    }
}
