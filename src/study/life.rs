//! What a version costs over the years: present worth of the first cost, upkeep, replacement and residual value, by the formulas of
//! NIST Handbook 135 (single present value, uniform present value, and the same with prices that rise).
//!
//! Amounts are in today's prices. With d the discount and e the rise of prices, both real or both nominal, a sum of today n years on is
//! worth ((1 + e) / (1 + d))^n of itself now. Factors are exact; each line is rounded to the cent once, so that the page adds up.

use crate::diagnostics::Diagnostic;
use crate::estimate::WorkedAll;
use crate::eval::Cell;
use crate::number::{Exact, NumError, Rounding};
use crate::program::{LifeAmountDef, LifeCostDef, LifeTerms, NodeId, Program, Rate, Version};
use crate::syntax::tree::{LifeCostKind, LifeWhen};

/// What is reported besides the sheet; it takes the place of what the sheet states.
#[derive(Debug, Clone, Default)]
pub struct LifeAsk {
    /// Length of the study.
    pub years: Option<u32>,
    /// Discount.
    pub discount: Option<Rate>,
    /// Rise of prices.
    pub escalation: Option<Rate>,
}

/// A study over the years.
#[derive(Debug, Clone)]
pub struct Life {
    /// Its length.
    pub years: u32,
    /// Discount.
    pub discount: Rate,
    /// Rise of prices, in the kind of the discount.
    pub escalation: Exact,
    /// Inflation by which rates were turned from one kind into the other.
    pub inflation: Option<Exact>,
    /// The plans, the job as decided first.
    pub plans: Vec<LifePlan>,
}

/// A plan over the years. Money in cents unless said.
#[derive(Debug, Clone)]
pub struct LifePlan {
    /// Its name.
    pub name: String,
    /// Cost now.
    pub first: i128,
    /// Later costs in the order of the sheets.
    pub rows: Vec<LifeRow>,
    /// Present worth of everything.
    pub worth: i128,
    /// Upkeep of an average year, in currency, neither discounted nor rising.
    pub upkeep_a_year: Exact,
    /// Simple payback against the job as decided.
    pub payback: Payback,
}

impl LifePlan {
    /// Present worth of all rows of a kind.
    pub fn worth_of(&self, kind: LifeCostKind) -> i128 {
        self.rows
            .iter()
            .filter(|r| r.kind == kind)
            .map(|r| r.cents)
            .sum()
    }
}

/// A later cost.
#[derive(Debug, Clone)]
pub struct LifeRow {
    /// Name.
    pub name: String,
    /// What it is.
    pub kind: LifeCostKind,
    /// When.
    pub when: LifeWhen,
    /// Amount each time, in currency of today.
    pub amount: Exact,
    /// How often it falls into the study.
    pub times: u32,
    /// Present worth in cents; below zero for a residual value.
    pub cents: i128,
    /// Where the amount is from.
    pub source: Option<String>,
    /// What the sheet notes with it.
    pub note: Option<String>,
}

/// Simple payback: extra first cost over yearly saving of upkeep. It leaves out what comes later and so can rank plans wrongly.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Payback {
    /// This is what the others are compared with.
    Base,
    /// It costs no more at first.
    NoExtra,
    /// Its upkeep saves nothing.
    Never,
    /// Years.
    Years(Exact),
}

/// The sum of `growth`^(every x j) for j from 1 to `times`: with growth (1 + e) / (1 + d), the worth now of one unit every so many years.
/// Errors: a number too long.
pub fn series(growth: &Exact, every: u32, times: u32) -> Result<Exact, NumError> {
    let power = |n: u32| growth.pow(i32::try_from(n).map_err(|_| NumError::TooManyDigits)?);
    let each = power(every)?;
    if each == Exact::ONE {
        return Ok(Exact::int(i64::from(times)));
    }
    let whole = power(every.saturating_mul(times))?;
    each.mul(&Exact::ONE.sub(&whole)?)?
        .div(&Exact::ONE.sub(&each)?)
}

/// The nodes a study over the years needs besides those of the estimates.
pub fn life_nodes(program: &Program) -> Vec<NodeId> {
    let amounts = program.versions.iter().flat_map(|v| &v.life);
    amounts
        .filter_map(|c| {
            if let LifeAmountDef::Node(node) = c.amount {
                Some(node)
            } else {
                None
            }
        })
        .collect()
}

/// Present worth of every version. `worked` holds all versions of the program, in order, and the nodes of [`life_nodes`].
/// Errors: OV-630 for rates of different kinds, OV-634 for a study without length or discount, or with an amount that can't be calculated.
pub fn life(program: &Program, worked: &WorkedAll, ask: &LifeAsk) -> Result<Life, Vec<Diagnostic>> {
    let stated = &program.terms.life;
    let terms = LifeTerms {
        years: ask.years.or(stated.years),
        discount: ask.discount.clone().or_else(|| stated.discount.clone()),
        escalation: ask.escalation.clone().or_else(|| stated.escalation.clone()),
        inflation: stated.inflation.clone(),
    };
    let (Some(years), Some(discount)) = (terms.years, terms.discount.clone()) else {
        let d = Diagnostic::error("OV-634", "a study over the years needs its length and a discount")
            .expected("a block `life { study 30 years  discount 3 % real }` in the job sheet, or --years and --discount");
        return Err(vec![d]);
    };
    let rates = Rates {
        terms: &terms,
        discount: &discount,
    };
    let general = rates.rise(None)?;
    let (mut plans, mut faults) = (Vec::<LifePlan>::new(), Vec::new());
    for (version, estimate) in program.versions.iter().zip(&worked.estimates) {
        let mut rows = Vec::new();
        for cost in &version.life {
            match row(program, worked, cost, years, estimate.totals.grand, &rates) {
                Ok(found) => rows.push(found),
                Err(found) => faults.extend(found),
            }
        }
        match plan(version, estimate.totals.grand, rows, plans.first()) {
            Ok(found) => plans.push(found),
            Err(_) => faults.push(too_long(version.life.first())),
        }
    }
    if faults.is_empty() {
        Ok(Life {
            years,
            discount,
            escalation: general,
            inflation: terms.inflation,
            plans,
        })
    } else {
        Err(faults)
    }
}

struct Rates<'a> {
    terms: &'a LifeTerms,
    discount: &'a Rate,
}

impl Rates<'_> {
    /// The rise of prices of a cost in the kind of the discount.
    fn rise(&self, own: Option<&Rate>) -> Result<Exact, Vec<Diagnostic>> {
        let rate = own.or(self.terms.escalation.as_ref());
        match self.terms.in_kind(self.discount.kind, rate) {
            Ok(share) => share.map_err(|_| vec![too_long(None)]),
            Err(crate::program::Mixed) => Err(vec![
                Diagnostic::error("OV-630", "real and nominal rates are mixed")
                    .expected("a discount and rises of prices that are all real, or all nominal")
                    .mend("tell --escalation in the kind of --discount, or state `inflation P %` in the job sheet")
                    .note("a nominal discount needs a nominal escalation: prices of today do not stay the same"),
            ]),
        }
    }

    fn growth(&self, own: Option<&Rate>) -> Result<Exact, Vec<Diagnostic>> {
        let rise = self.rise(own)?;
        let both = Exact::ONE
            .add(&rise)
            .and_then(|up| up.div(&Exact::ONE.add(&self.discount.share)?));
        both.map_err(|_| vec![too_long(None)])
    }
}

fn too_long(cost: Option<&LifeCostDef>) -> Diagnostic {
    let d = Diagnostic::error("OV-634", "a present worth has too many digits")
        .expected("rates of a few digits, and fewer years");
    match cost {
        Some(cost) => d.at(cost.span, ""),
        None => d,
    }
}

fn row(
    program: &Program,
    worked: &WorkedAll,
    cost: &LifeCostDef,
    years: u32,
    first: i128,
    rates: &Rates<'_>,
) -> Result<LifeRow, Vec<Diagnostic>> {
    let growth = rates.growth(cost.rising.as_ref())?;
    let amount = match &cost.amount {
        LifeAmountDef::Share(share) => Exact::from_cents(first)
            .mul(share)
            .map_err(|_| vec![too_long(Some(cost))])?,
        LifeAmountDef::Node(node) => match worked.results.value(*node, 0) {
            Cell::Number(amount) => amount,
            other @ (Cell::Truth(_)
            | Cell::Label(_)
            | Cell::Text(_)
            | Cell::Absent(_)
            | Cell::Fault(_)) => {
                let found = crate::show::cell_text(program, *node, &other, None);
                return Err(vec![
                    Diagnostic::error(
                        "OV-634",
                        format!("the amount of \"{}\" can't be worked", cost.name),
                    )
                    .at(cost.span, "")
                    .found(found),
                ]);
            }
        },
    };
    let (every, times) = match cost.when {
        LifeWhen::EachYear => (1, years),
        // No upkeep on the last day: what it would buy lies beyond the study.
        LifeWhen::Every(n) => (n, years.saturating_sub(1) / n.max(1)),
        LifeWhen::After(n) => (n, u32::from(n <= years)),
        LifeWhen::End => (years, 1),
    };
    let sign = if cost.kind == LifeCostKind::Residual {
        Exact::int(-1)
    } else {
        Exact::ONE
    };
    let worth = series(&growth, every, times).and_then(|f| f.mul(&amount)?.mul(&sign));
    let cents = worth
        .and_then(|w| w.to_cents(program.terms.ties))
        .map_err(|_| vec![too_long(Some(cost))])?;
    Ok(LifeRow {
        name: cost.name.clone(),
        kind: cost.kind,
        when: cost.when,
        amount,
        times,
        cents,
        source: cost.source.clone(),
        note: cost.note.clone(),
    })
}

fn plan(
    version: &Version,
    first: i128,
    rows: Vec<LifeRow>,
    base: Option<&LifePlan>,
) -> Result<LifePlan, NumError> {
    let mut upkeep = Exact::ZERO;
    for row in rows.iter().filter(|r| r.kind == LifeCostKind::Upkeep) {
        upkeep = match row.when {
            LifeWhen::EachYear => upkeep.add(&row.amount)?,
            LifeWhen::Every(n) => upkeep.add(&row.amount.div(&Exact::int(i64::from(n)))?)?,
            LifeWhen::After(_) | LifeWhen::End => upkeep,
        };
    }
    let payback = match base {
        None => Payback::Base,
        Some(base) if first <= base.first => Payback::NoExtra,
        Some(base) => {
            let saving = base.upkeep_a_year.sub(&upkeep)?;
            if saving.signum() <= 0 {
                Payback::Never
            } else {
                Payback::Years(
                    Exact::from_cents(first - base.first)
                        .div(&saving)?
                        .round_to(&Exact::ratio(1, 10).unwrap_or(Exact::ONE), Rounding::HalfUp)?,
                )
            }
        }
    };
    let worth = first + rows.iter().map(|r| r.cents).sum::<i128>();
    let name = version
        .name
        .clone()
        .unwrap_or_else(|| crate::program::AS_DECIDED.to_owned());
    Ok(LifePlan {
        name,
        first,
        rows,
        worth,
        upkeep_a_year: upkeep,
        payback,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn percent(hundredths: i64) -> Exact {
        Exact::ratio(hundredths, 100).expect("a ratio")
    }

    /// (1 + e) / (1 + d)
    fn growth(e: i64, d: i64) -> Exact {
        Exact::ONE
            .add(&percent(e))
            .and_then(|up| up.div(&Exact::ONE.add(&percent(d))?))
            .expect("a ratio")
    }

    fn six(x: Result<Exact, NumError>) -> String {
        x.expect("fits").to_fixed(6, Rounding::HalfUp)
    }

    // NIST Handbook 135, single and uniform present value: SPV = 1 / (1 + d)^n, UPV = (1 - (1 + d)^-n) / d; the figures are
    // calculated from the formulas, those of SPV at 3 % match a printed table of three digits.
    #[test]
    fn factors_without_a_rise() {
        for (d, n, single, yearly) in [
            (3, 5, "0.862609", "4.579707"),
            (3, 10, "0.744094", "8.530203"),
            (3, 20, "0.553676", "14.877475"),
            (3, 30, "0.411987", "19.600441"),
            (7, 10, "0.508349", "7.023582"),
            (7, 20, "0.258419", "10.594014"),
        ] {
            assert_eq!(
                (
                    six(series(&growth(0, d), n, 1)),
                    six(series(&growth(0, d), 1, n))
                ),
                (single.to_owned(), yearly.to_owned()),
                "{d} % {n}"
            );
        }
        assert_eq!(six(series(&growth(0, 0), 1, 25)), "25.000000");
    }

    // NIST Handbook 135 and GSA P100, the same with escalation: UPV* = (1 + e) / (d - e) x (1 - ((1 + e) / (1 + d))^n), and n where e = d.
    #[test]
    fn factors_with_a_rise() {
        for (d, e, n, factor) in [
            (3, 1, 10, "8.991899"),
            (3, 1, 20, "16.382723"),
            (3, 1, 30, "22.457557"),
            (5, 3, 10, "9.010024"),
            (5, 3, 20, "16.443727"),
            (5, 3, 30, "22.576889"),
            (4, 4, 30, "30.000000"),
        ] {
            assert_eq!(
                six(series(&growth(e, d), 1, n)),
                factor,
                "d {d} e {e} n {n}"
            );
        }
    }

    #[test]
    fn a_cycle_is_the_sum_of_its_single_factors() {
        let growth = growth(1, 3);
        let sum = [7, 14, 21, 28]
            .iter()
            .try_fold(Exact::ZERO, |sum, n| sum.add(&series(&growth, *n, 1)?));
        assert_eq!(series(&growth, 7, 4), sum);
    }

    // GSA P100: E = e + I + e x I, and back e = (E - I) / (1 + I).
    #[test]
    fn rates_turn_into_one_another_by_inflation_or_not_at_all() {
        use crate::syntax::tree::RateKind::{Nominal, Real};
        let terms = LifeTerms {
            inflation: Some(percent(2)),
            ..LifeTerms::default()
        };
        let nominal = terms
            .in_kind(
                Nominal,
                Some(&Rate {
                    share: percent(3),
                    kind: Real,
                }),
            )
            .expect("not mixed")
            .expect("fits");
        assert_eq!(nominal, Exact::ratio(506, 10_000).expect("a ratio"));
        assert_eq!(
            terms.in_kind(
                Real,
                Some(&Rate {
                    share: nominal,
                    kind: Nominal
                })
            ),
            Ok(Ok(percent(3)))
        );
        assert_eq!(terms.in_kind(Nominal, None), Ok(Ok(percent(2))));
        let without = LifeTerms::default();
        assert_eq!(without.in_kind(Nominal, None), Err(crate::program::Mixed));
        assert_eq!(without.in_kind(Real, None), Ok(Ok(Exact::ZERO)));
    }
}
