//! The headline: labor hours, stock, glass, points and putty, each in its own unit, with what they cost.

use super::cuts::Source;
use super::model::HeadlineRow;
use crate::number::{Exact, NumError};
use crate::program::{Program, ResourceClass, ResourceId, Version};
use crate::units::UnitExpr;

/// Amounts of a resource in base units.
pub(super) struct Amounts {
    pub(super) resource: ResourceId,
    pub(super) net: Exact,
    pub(super) bought: Exact,
}

/// The rows of the five classes, and of the others where used.
pub(super) fn headline(
    program: &Program,
    version: &Version,
    amounts: &[Amounts],
    sources: &[Source<'_>],
) -> Result<Vec<HeadlineRow>, NumError> {
    let mut rows = Vec::new();
    for class in ResourceClass::ALL {
        let mut cents: i128 = sources
            .iter()
            .filter(|s| s.class == class)
            .map(|s| s.priced.cents)
            .sum();
        let mut sums: Vec<(&UnitExpr, Exact, Exact)> = Vec::new();
        for used in amounts {
            let Some(def) = version
                .resources
                .get(used.resource)
                .filter(|def| def.class == class)
            else {
                continue;
            };
            match sums
                .iter_mut()
                .find(|(unit, ..)| unit.dim() == def.unit.dim())
            {
                None => sums.push((&def.unit, used.net.clone(), used.bought.clone())),
                Some((_, net, bought)) => {
                    *net = net.add(&used.net)?;
                    *bought = bought.add(&used.bought)?;
                }
            }
        }
        if class == ResourceClass::Other || class.is_hired() {
            if !sums.is_empty() {
                rows.push(HeadlineRow {
                    class,
                    unit: String::new(),
                    net: None,
                    bought: None,
                    cents,
                });
            }
            continue;
        }
        if sums.is_empty() {
            rows.push(HeadlineRow {
                class,
                unit: String::new(),
                net: Some(Exact::ZERO),
                bought: None,
                cents,
            });
        }
        for (unit, net, bought) in sums {
            let net = unit.from_base(&net)?;
            let word = unit.text_after(&program.nouns, &net);
            rows.push(HeadlineRow {
                class,
                unit: word,
                net: Some(net),
                bought: Some(unit.from_base(&bought)?),
                cents,
            });
            cents = 0; // the cost of a class is told once, on its first row
        }
    }
    Ok(rows)
}
