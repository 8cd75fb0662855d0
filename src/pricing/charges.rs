//! Charges and allowances in order, and the rounding of the final figure.
//!
//! A base is the sum of printed cents, so a reader can work each charge again from the page; the unrounded chain is kept beside it.
//! A mark-up is a share of the cost, a margin a share of the selling price. A tax is carried to the third decimal and goes up when
//! that is above 4, for each item or once for the invoice.

use super::cuts::Spread;
use super::fault::too_long;
use super::model::{ChargeKind, ChargeLine, CostLine, FinalLine};
use super::names;
use crate::diagnostics::Diagnostic;
use crate::number::{Exact, NumError, Rounding};
use crate::program::{ChargeAmountDef, ChargeBase, ChargeDef, Program, ResourceClass, Version};
use crate::syntax::tree::{ShareKind, TaxBasis};

/// The charges of a job on its cost lines. Errors: OV-823, OV-824.
pub(super) fn charge_all(
    program: &Program,
    version: &Version,
    lines: &[CostLine],
) -> Result<Vec<ChargeLine>, Vec<Diagnostic>> {
    let (mut done, mut faults): (Vec<ChargeLine>, Vec<Diagnostic>) = (Vec::new(), Vec::new());
    for def in &program.terms.charges {
        if let ChargeAmountDef::Share {
            share,
            kind: ShareKind::Margin,
            ..
        } = &def.amount
            && *share >= Exact::ONE
        {
            let d = Diagnostic::error(
                "OV-823",
                format!("{} is a margin of all or more of the price", def.name),
            );
            faults.push(
                d.at(def.span, "")
                    .found(names::percent(share))
                    .expected("less than 100 %, or the word mark-up"),
            );
            continue;
        }
        match charge(program, version, lines, &done, def) {
            Ok(line) => done.push(line),
            Err(e) => {
                faults.push(too_long(&format!("the charge {}", def.name), e).at(def.span, ""))
            }
        }
    }
    if faults.is_empty() {
        Ok(done)
    } else {
        Err(faults)
    }
}

/// An item of a base: its exact value and its cents.
type Item<'a> = (&'a Exact, i128);

fn charge(
    program: &Program,
    version: &Version,
    lines: &[CostLine],
    done: &[ChargeLine],
    def: &ChargeDef,
) -> Result<ChargeLine, NumError> {
    let ties = program.terms.ties;
    let line = |kind, share, of, base, exact: Exact, cents| ChargeLine {
        name: names::spoken(&def.name),
        kind,
        allowance: def.allowance,
        share,
        of,
        base,
        exact,
        cents,
        source: def.source.clone(),
        note: def.note.clone(),
    };
    let (share, kind, bases, basis) = match &def.amount {
        ChargeAmountDef::Sum(sum) => {
            return Ok(line(
                ChargeKind::Sum,
                None,
                String::new(),
                None,
                sum.clone(),
                sum.to_cents(ties)?,
            ));
        }
        ChargeAmountDef::Share {
            share,
            kind,
            bases,
            basis,
        } => (share, kind, bases, basis),
    };
    let items = items(lines, done, bases);
    let base: i128 = items.iter().map(|(_, cents)| cents).sum();
    let exact_base = super::split::total(items.iter().map(|(exact, _)| *exact))?;
    // A margin is of the price, and the price is base / (1 - margin).
    let factor = match kind {
        ShareKind::Of | ShareKind::MarkUp => share.clone(),
        ShareKind::Margin => share.div(&Exact::ONE.sub(share)?)?,
    };
    let of_cents = |cents: i128| Exact::from_cents(cents).mul(&factor);
    let (kind, cents) = match (basis, kind) {
        (Some(TaxBasis::Item), _) => {
            let each = items
                .iter()
                .map(|(_, cents)| tax_cents(&of_cents(*cents)?))
                .collect::<Result<Vec<i128>, _>>()?;
            (ChargeKind::TaxByItem, each.iter().sum())
        }
        (Some(TaxBasis::Invoice), _) => (ChargeKind::TaxByInvoice, tax_cents(&of_cents(base)?)?),
        (None, ShareKind::Of) => (ChargeKind::Share, of_cents(base)?.to_cents(ties)?),
        (None, ShareKind::MarkUp) => (ChargeKind::MarkUp, of_cents(base)?.to_cents(ties)?),
        (None, ShareKind::Margin) => (ChargeKind::Margin, of_cents(base)?.to_cents(ties)?),
    };
    Ok(line(
        kind,
        Some(share.clone()),
        base_words(program, version, bases),
        Some(base),
        exact_base.mul(&factor)?,
        cents,
    ))
}

/// A tax in cents: carried to the third decimal, then up when that is above 4.
/// Source: Streamlined sales tax agreement, rounding rule, as enacted by cities of West Virginia.
pub(super) fn tax_cents(tax: &Exact) -> Result<i128, NumError> {
    let mill = Exact::ONE.div(&Exact::int(1000))?;
    tax.round_to(&mill, Rounding::TowardZero)?
        .to_cents(Rounding::HalfUp)
}

/// What a base is made of; nothing counts twice though it be named twice.
fn items<'a>(lines: &'a [CostLine], done: &'a [ChargeLine], bases: &[ChargeBase]) -> Vec<Item<'a>> {
    let lines = lines
        .iter()
        .filter(|l| line_counts(bases, l))
        .map(|l| (&l.exact, l.cents));
    let charges = done
        .iter()
        .enumerate()
        .filter(|(at, _)| charge_counts(bases, *at))
        .map(|(_, c)| (&c.exact, c.cents));
    lines.chain(charges).collect()
}

fn line_counts(bases: &[ChargeBase], line: &CostLine) -> bool {
    bases.iter().any(|base| match base {
        ChargeBase::Class(class) => *class == line.class,
        ChargeBase::Resource(id) => *id == line.resource,
        ChargeBase::AllSoFar => true,
        ChargeBase::Charge(_) => false,
    })
}

fn charge_counts(bases: &[ChargeBase], at: usize) -> bool {
    bases
        .iter()
        .any(|base| matches!(base, ChargeBase::AllSoFar) || *base == ChargeBase::Charge(at))
}

/// How the charges, and the final rounding after them, are spread over the parts of a cut.
pub(super) fn spreads(
    program: &Program,
    lines: &[CostLine],
    charges: &[ChargeLine],
    last: Option<&FinalLine>,
) -> Vec<Spread> {
    let each = program
        .terms
        .charges
        .iter()
        .zip(charges)
        .enumerate()
        .map(|(at, (def, line))| {
            let none = Vec::new();
            let bases = match &def.amount {
                ChargeAmountDef::Share { bases, .. } => bases,
                ChargeAmountDef::Sum(_) => &none,
            };
            let of_lines = lines.iter().map(|l| line_counts(bases, l)).collect();
            let of_charges = (0..at).filter(|c| charge_counts(bases, *c)).collect();
            Spread {
                cents: line.cents,
                of_lines,
                of_charges,
            }
        });
    let last = last.map(|f| Spread {
        cents: f.cents,
        of_lines: Vec::new(),
        of_charges: Vec::new(),
    });
    each.chain(last).collect()
}

/// What a charge is a share of, by place.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct ChargeBases {
    /// Cost lines.
    pub lines: Vec<usize>,
    /// Earlier charges.
    pub charges: Vec<usize>,
}

/// What each charge of a job is a share of; nothing for a fixed sum.
pub fn charge_bases(program: &Program, lines: &[CostLine]) -> Vec<ChargeBases> {
    let defs = program.terms.charges.iter().enumerate();
    let of = defs.map(|(at, def)| match &def.amount {
        ChargeAmountDef::Sum(_) => ChargeBases::default(),
        ChargeAmountDef::Share { bases, .. } => ChargeBases {
            lines: (0..lines.len())
                .filter(|l| lines.get(*l).is_some_and(|l| line_counts(bases, l)))
                .collect(),
            charges: (0..at).filter(|c| charge_counts(bases, *c)).collect(),
        },
    });
    of.collect()
}

fn base_words(program: &Program, version: &Version, bases: &[ChargeBase]) -> String {
    let has = |class| bases.contains(&ChargeBase::Class(class));
    let materials = ResourceClass::MATERIALS;
    let all_materials = materials.iter().all(|class| has(*class));
    let mut words: Vec<String> = Vec::new();
    for base in bases {
        let word = match base {
            ChargeBase::AllSoFar => "all so far".to_owned(),
            ChargeBase::Class(class) if all_materials && materials.contains(class) => {
                "materials".to_owned()
            }
            ChargeBase::Class(class) => class.word().to_owned(),
            ChargeBase::Resource(id) => names::resource(version, *id),
            ChargeBase::Charge(at) => program
                .terms
                .charges
                .get(*at)
                .map_or_else(String::new, |c| names::spoken(&c.name)),
        };
        if !words.contains(&word) {
            words.push(word);
        }
    }
    names::list(&words)
}

/// What the rounding of the final figure adds, in cents.
pub(super) fn final_line(program: &Program, before: i128) -> Result<Option<FinalLine>, NumError> {
    let Some((mode, step, _)) = &program.terms.final_rounding else {
        return Ok(None);
    };
    let amount = Exact::from_cents(before);
    let rounded = amount.round_to(step, *mode)?.to_cents(program.terms.ties)?;
    Ok(Some(FinalLine {
        mode: *mode,
        step: step.clone(),
        cents: rounded - before,
    }))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::number::parse_money;

    #[test]
    fn tax_follows_the_third_decimal() {
        // Amounts and answers calculated by the rule in the source above.
        let tax = |price: &str, rate: &str| {
            let read = |text| Exact::from(parse_money(text).expect("a decimal"));
            let exact = read(price).mul(&read(rate)).expect("small");
            tax_cents(&exact).expect("small")
        };
        assert_eq!(tax("12.50", "0.07"), 88); // 0.8750
        assert_eq!(tax("19.95", "0.0625"), 125); // 1.246875
        assert_eq!(tax("1.00", "0.0449"), 4); // 0.0449: the third decimal is 4, whatever follows
        assert_eq!(tax("1.00", "0.045"), 5);
    }
}
