//! Cost lines and their pieces: rounded to the cent once, then split over phases, split columns and rows so that every part adds up.
//!
//! A labor line stands for one resource in one phase; a material line for one resource, since it is bought once. The cents of a line
//! go to its phases, those of a phase to the keys of each split column and to "whole job", and those of the first split column to its
//! rows, each time by largest remainder, ties to the first in order. Where the job rounds money each opening, what is not
//! bought in packs is rounded for each row and for the rest, and everything above is their sum: a pack cannot be bought in parts.

use super::split::{Grouped, split_cents, total};
use super::usage::PhaseUse;
use crate::ids;
use crate::number::{Exact, NumError, Rounding};
use crate::syntax::tree::MoneyGrain;
use crate::takeoff::Split;

/// How money is rounded.
pub(super) struct MoneyRule {
    pub(super) ties: Rounding,
    pub(super) grain: MoneyGrain,
    /// Whether the cents of each row are to be kept.
    pub(super) by_row: bool,
}

/// The cents of a line and of its parts.
pub(super) struct Priced {
    pub(super) cents: i128,
    pub(super) pieces: Vec<Piece>,
}

/// The part of a line in one phase, in cents.
pub(super) struct Piece {
    pub(super) cents: i128,
    /// For each split column, the cents of each key and, last, of the whole job.
    pub(super) by_key: Vec<Vec<i128>>,
    /// For each row and, last, what cannot be said by row; when rows were asked for.
    pub(super) by_row: Option<Vec<i128>>,
}

/// Prices one line. `phases` are those it covers, `exact` what it costs before rounding.
pub(super) fn price_line(
    rule: &MoneyRule,
    exact: &Exact,
    in_packs: bool,
    phases: &[&PhaseUse],
    splits: &[Split],
) -> Result<Priced, NumError> {
    if rule.grain == MoneyGrain::Opening && !in_packs {
        return by_opening(rule, exact, phases, splits);
    }
    let cents = exact.to_cents(rule.ties)?;
    let weights: Vec<Exact> = phases.iter().map(|p| p.total.clone()).collect();
    let parts = split_cents(cents, &weights)?;
    let pieces = phases
        .iter()
        .zip(parts)
        .map(|(phase, cents)| piece(rule, phase, cents, splits))
        .collect::<Result<_, _>>()?;
    Ok(Priced { cents, pieces })
}

/// The amounts of the keys and, last, of what is under no key.
fn with_rest(amounts: &[Exact], whole: &Exact) -> Result<Vec<Exact>, NumError> {
    let rest = whole.sub(&total(amounts)?)?;
    Ok(amounts.iter().cloned().chain([rest]).collect())
}

fn piece(
    rule: &MoneyRule,
    phase: &PhaseUse,
    cents: i128,
    splits: &[Split],
) -> Result<Piece, NumError> {
    let by_key = phase
        .by_key
        .iter()
        .map(|amounts| split_cents(cents, &with_rest(amounts, &phase.total)?))
        .collect::<Result<Vec<_>, _>>()?;
    let by_row = match phase.by_row.as_ref().filter(|_| rule.by_row) {
        None => None,
        Some(rows) => {
            let rows = rows.numbers()?;
            Some(match (splits.first(), by_key.first()) {
                (Some(split), Some(keys)) => {
                    Grouped::new(&split.key_of_row, split.keys.len()).split_keys(keys, &rows)?
                }
                _ => split_cents(cents, &with_rest(&rows, &phase.total)?)?,
            })
        }
    };
    Ok(Piece {
        cents,
        by_key,
        by_row,
    })
}

fn by_opening(
    rule: &MoneyRule,
    exact: &Exact,
    phases: &[&PhaseUse],
    splits: &[Split],
) -> Result<Priced, NumError> {
    let whole = total(phases.iter().map(|p| &p.total))?;
    let each = if whole.is_zero() {
        Exact::ZERO
    } else {
        exact.div(&whole)?
    };
    let pieces = phases
        .iter()
        .map(|phase| rounded_rows(rule, phase, &each, splits))
        .collect::<Result<Vec<_>, _>>()?;
    Ok(Priced {
        cents: pieces.iter().map(|p| p.cents).sum(),
        pieces,
    })
}

/// The part of a line in one phase, each row and what belongs to no row rounded by themselves.
fn rounded_rows(
    rule: &MoneyRule,
    phase: &PhaseUse,
    each: &Exact,
    splits: &[Split],
) -> Result<Piece, NumError> {
    let (mut cents, in_rows) = match &phase.by_row {
        Some(rows) => (rows.cents(each, rule.ties)?, rows.total()?),
        None => (Vec::new(), Exact::ZERO),
    };
    let rest = phase.total.sub(&in_rows)?.mul(each)?.to_cents(rule.ties)?;
    let by_key = splits.iter().map(|split| {
        let mut keys = vec![0; split.keys.len() + 1];
        for (cents, key) in cents.iter().zip(&split.key_of_row) {
            keys[ids::at(*key)] += cents;
        }
        keys[split.keys.len()] += rest;
        keys
    });
    let by_key = by_key.collect();
    cents.push(rest);
    Ok(Piece {
        cents: cents.iter().sum(),
        by_key,
        by_row: Some(cents).filter(|_| rule.by_row && phase.by_row.is_some()),
    })
}
