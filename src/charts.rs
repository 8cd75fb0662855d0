//! The figures of estimates, comparisons and studies as charts: for the pages of the office and for papers.
//!
//! Works no figure out that is not in what it is given.
//!
//! ```
//! # fn worked() -> ovolo::session::Session {
//! #     include!(concat!(env!("CARGO_MANIFEST_DIR"), "/tests/docs/worked.rs"))
//! # }
//! let session = worked(); // a small job in memory
//! let run = session.run().expect("it is worked");
//! let estimate = &run.worked.estimate;
//! let charts = ovolo::charts::of_estimate(estimate).expect("they are drawn");
//! assert!(charts.iter().any(|chart| !chart.shapes.is_empty()));
//! ```

// A match over kinds lists them all, so that a new kind is noticed everywhere, and no conversion fails silently.
#![warn(
    clippy::wildcard_enum_match_arm,
    clippy::match_wildcard_for_single_variants
)]
#![warn(clippy::as_conversions)]

use crate::diagnostics::Diagnostic;
use crate::drawing::Drawing;
use crate::drawing::charts::{Bar, Bars, Lines, Piece, Series, bars, lines};
use crate::number::{Exact, NumError, cents_grouped};
use crate::pricing::{Comparison, Cut, CutKind, Estimate, spoken};
use crate::study::{Life, LifePlan, Ranked};
use crate::syntax::tree::LifeWhen;

/// Givens drawn in a chart of what moves the total.
const MOST_RANKED: usize = 15;

/// The charts of an estimate: cost by phase, cost by each column of `split by`, and how the price is made up of cost and charges. For the
/// office: they show charges. Nothing for amounts without money. Errors: OV-824.
pub fn of_estimate(estimate: &Estimate) -> Result<Vec<Drawing>, Diagnostic> {
    if estimate.unpriced.is_some() || estimate.totals.grand == 0 {
        return Ok(Vec::new());
    }
    let cuts = estimate
        .cuts
        .iter()
        .filter(|c| matches!(c.kind, CutKind::Phase | CutKind::Split(_)));
    let mut all: Vec<Result<Drawing, NumError>> = cuts.map(|c| by_key(estimate, c)).collect();
    all.push(price_build_up(estimate));
    drawn(all)
}

/// The versions of a comparison side by side. Errors: OV-824.
pub fn of_comparison(comparison: &Comparison) -> Result<Vec<Drawing>, Diagnostic> {
    let Some(totals) = comparison.totals() else {
        return Ok(Vec::new());
    };
    let each = comparison.versions.iter().zip(totals);
    let each = each.map(|(name, cents)| (name.clone(), *cents)).collect();
    let title = format!("Total of each version, in {}", comparison.currency);
    drawn([amounts(title, each)])
}

/// Amounts in cents, each as a bar from zero.
///
/// # Errors
///
/// When a place has too many digits.
pub fn amounts(title: String, each: Vec<(String, i128)>) -> Result<Drawing, NumError> {
    let bar = |(name, cents): (String, i128)| {
        Bar::stacked(name, &[Exact::from_i128(cents)], cents_grouped(cents))
    };
    bars(&Bars {
        title,
        legend: Vec::new(),
        bars: each.into_iter().map(bar).collect::<Result<_, _>>()?,
    })
}

/// The givens whose ranges move the total most, each as a bar from the least to the greatest total less the total as it is.
/// Errors: OV-824.
pub fn of_rank(as_is: i128, ranked: &[Ranked], currency: &str) -> Result<Vec<Drawing>, Diagnostic> {
    let moved = ranked.iter().filter_map(|r| {
        let (low, high) = (r.low.as_ref().ok()?, r.high.as_ref().ok()?);
        r.effect
            .filter(|e| *e != 0)
            .map(|effect| (r, *low, *high, effect))
    });
    let list: Vec<Bar> = moved
        .take(MOST_RANKED)
        .map(|(one, low, high, effect)| Bar {
            name: spoken(&one.subject.name),
            pieces: [(low, 0), (high, 1)]
                .map(|(end, series)| Piece {
                    from: Exact::ZERO,
                    to: Exact::from_i128(end - as_is),
                    series,
                })
                .to_vec(),
            value: cents_grouped(effect),
        })
        .collect();
    if list.is_empty() {
        return Ok(Vec::new());
    }
    drawn([bars(&Bars {
        title: format!(
            "What moves the total of {} {currency} most",
            cents_grouped(as_is)
        ),
        legend: vec!["at its low end".to_owned(), "at its high end".to_owned()],
        bars: list,
    })])
}

/// What each plan has cost by the end of each year, in prices of today: neither discounted nor risen. Errors: OV-824.
pub fn of_life(life: &Life, currency: &str) -> Result<Vec<Drawing>, Diagnostic> {
    let series = life.plans.iter().map(|plan| {
        let values = yearly(plan, life.years)?;
        let last = values
            .last()
            .map_or(Ok(0), |v| v.to_cents(crate::number::Rounding::HalfUp))?;
        Ok(Series {
            name: plan.name.clone(),
            values,
            last: cents_grouped(last),
        })
    });
    drawn([series.collect::<Result<_, NumError>>().and_then(|series| {
        lines(&Lines {
            title: format!("Cost by the end of each year, in {currency} of today, not discounted"),
            steps: (0..=life.years).map(|y| y.to_string()).collect(),
            series,
        })
    })])
}

/// First cost and all later costs up to the end of each year from 0, in currency.
fn yearly(plan: &LifePlan, years: u32) -> Result<Vec<Exact>, NumError> {
    let mut sum = Exact::from_i128(plan.first).div(&Exact::int(100))?;
    let mut out = vec![sum.clone()];
    for year in 1..=years {
        for row in &plan.rows {
            let due = match row.when {
                LifeWhen::EachYear => true,
                LifeWhen::Every(n) => year % n.max(1) == 0 && year < years,
                LifeWhen::After(n) => year == n,
                LifeWhen::End => year == years,
            };
            if due {
                sum = sum.add(&row.amount)?;
            }
        }
        out.push(sum.clone());
    }
    Ok(out)
}

/// What each value of a breakdown comes to, with what it is made of: for the office alone.
///
/// # Errors
///
/// When a sum has too many digits.
pub fn by_key(estimate: &Estimate, cut: &Cut) -> Result<Drawing, NumError> {
    let mut legend = vec!["labor", "materials"];
    let hired = cut.rows.iter().any(|r| r.hired != 0);
    if hired {
        legend.push("hired");
    }
    legend.push("charges");
    let bar = |row: &crate::pricing::CutRow| {
        let mut parts = vec![row.labor, row.materials];
        if hired {
            parts.push(row.hired);
        }
        parts.push(row.charges);
        let parts: Vec<Exact> = parts.into_iter().map(Exact::from_i128).collect();
        Bar::stacked(row.key.clone(), &parts, cents_grouped(row.price()))
    };
    bars(&Bars {
        title: format!("Price by {}, in {}", cut.by, estimate.currency),
        legend: legend.into_iter().map(str::to_owned).collect(),
        bars: cut.rows.iter().map(bar).collect::<Result<_, _>>()?,
    })
}

/// From cost to price: each bar begins where the one above it ends. For the office alone.
///
/// # Errors
///
/// When a place has too many digits.
pub fn price_build_up(estimate: &Estimate) -> Result<Drawing, NumError> {
    let totals = &estimate.totals;
    let mut steps = vec![
        ("labor".to_owned(), totals.labor),
        ("materials".to_owned(), totals.materials),
        ("hired".to_owned(), totals.hired),
    ];
    steps.extend(estimate.charges.iter().map(|c| (c.name.clone(), c.cents)));
    steps.extend(
        estimate
            .final_rounding
            .iter()
            .map(|f| ("final rounding".to_owned(), f.cents)),
    );
    let mut end = 0;
    let mut list: Vec<Bar> = Vec::new();
    for (name, cents) in steps.into_iter().filter(|(_, cents)| *cents != 0) {
        list.push(step(name, end, end + cents, cents));
        end += cents;
    }
    list.push(step("total".to_owned(), 0, totals.grand, totals.grand));
    bars(&Bars {
        title: format!("From cost to price, in {}", estimate.currency),
        legend: Vec::new(),
        bars: list,
    })
}

fn step(name: String, from: i128, to: i128, cents: i128) -> Bar {
    Bar {
        name,
        pieces: vec![Piece {
            from: Exact::from_i128(from),
            to: Exact::from_i128(to),
            series: 0,
        }],
        value: cents_grouped(cents),
    }
}

fn drawn(
    list: impl IntoIterator<Item = Result<Drawing, NumError>>,
) -> Result<Vec<Drawing>, Diagnostic> {
    list.into_iter().collect::<Result<_, _>>().map_err(|e| {
        Diagnostic::error("OV-824", "a chart cannot be drawn")
            .found(e.to_string())
            .expected("amounts whose sums can be written exactly")
    })
}
