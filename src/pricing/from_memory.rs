//! How much of the cost rests on figures from memory: amounts that such a given goes into, waste of such a given, and prices without a
//! source. Charges are on the cost, and are not counted again.

use super::model::{CostLine, PriceOrigin, PriceUsed};
use super::names;
use super::split::total;
use crate::number::{Exact, NumError, Rounding};
use crate::program::{Program, ResourceId, Version, says_memory};
use crate::takeoff::Quantities;

/// How much of the cost rests on figures from memory, in cents.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct FromMemory {
    /// Cost of what has at least one figure from memory in its amount or its price.
    pub cents: i128,
    /// All cost, before charges.
    pub of: i128,
}

impl FromMemory {
    /// `15.23 of 26.64 USD (57 %)`; nothing where there is no cost.
    pub fn words(&self, currency: &str) -> Option<String> {
        let money = crate::number::cents_grouped;
        let percent = Exact::from_i128(self.cents)
            .div(&Exact::from_i128(self.of))
            .ok()?;
        let percent = percent.mul(&Exact::int(100)).ok()?;
        let percent = percent.round_to(&Exact::ONE, Rounding::HalfUp).ok()?;
        let (some, all) = (money(self.cents), money(self.of));
        Some(format!("{some} of {all} {currency} ({percent} %)"))
    }
}

pub(super) fn share<'a>(
    program: &Program,
    version: &Version,
    quantities: &Quantities,
    lines: &[CostLine],
    prices: impl Iterator<Item = (ResourceId, &'a PriceUsed)>,
) -> Result<FromMemory, NumError> {
    let priced_from_memory = |price: &PriceUsed| {
        price.origin == PriceOrigin::Book && says_memory(price.source.as_deref())
    };
    let from_memory: Vec<ResourceId> = prices
        .filter(|(_, price)| priced_from_memory(price))
        .map(|(resource, _)| resource)
        .collect();
    let mut out = Vec::with_capacity(lines.len());
    for line in lines {
        let allowance = version
            .resources
            .get(line.resource)
            .and_then(|r| r.allowance.as_ref());
        let given = allowance.and_then(|(.., name)| name.as_ref());
        let waste = version
            .values
            .iter()
            .any(|v| Some(&v.name) == given && v.is_from_memory());
        if waste || from_memory.contains(&line.resource) {
            out.push(Exact::from_cents(line.cents));
            continue;
        }
        let takes = || {
            quantities.lines.iter().filter(|take| {
                let phase = || names::phase(program, take.phase);
                take.resource == line.resource && line.phase.as_ref().is_none_or(|p| *p == phase())
            })
        };
        let all = total(takes().map(|t| &t.total))?;
        let some = total(takes().filter(|t| t.from_memory).map(|t| &t.total))?;
        if !all.is_zero() {
            out.push(Exact::from_cents(line.cents).mul(&some)?.div(&all)?);
        }
    }
    Ok(FromMemory {
        cents: total(&out)?.to_cents(program.terms.ties)?,
        of: lines.iter().map(|l| l.cents).sum(),
    })
}
