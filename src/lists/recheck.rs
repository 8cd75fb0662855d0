//! What lists are made of, added up again on every run: parts against the take-off, purchases against the cost, activities against the hours.

use super::papers::Made;
use crate::diagnostics::Diagnostic;
use crate::eval::Cell;
use crate::number::{Exact, NumError};
use crate::program::{NodeId, ResourceClass, ResourceId};

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
    }
    out
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
        _ => Ok(sum),
    })
}
