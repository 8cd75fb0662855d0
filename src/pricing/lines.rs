//! Cost lines and their pieces: rounded to the cent once, then split over phases, split columns and rows so that every part adds up.
//!
//! A labor line stands for one resource in one phase; a material line for one resource, since it is bought once. The cents of a line
//! go to its phases, those of a phase to the keys of each split column and to "whole job", and those of the first split column to its
//! rows, each time by largest remainder, ties to the first in order. Where the job rounds money each opening, what is not
//! bought in packs is rounded for each row and for the rest, and everything above is their sum: a pack cannot be bought in parts.

use super::split::{Grouped, split_cents, total};
use super::usage::PhaseUse;
use crate::number::{Exact, NumError, Rounding};
use crate::syntax::tree::MoneyGrain;
use crate::takeoff::Split;

/// How money is rounded.
pub(super) struct MoneyRule {
    pub(super) ties: Rounding,
    pub(super) grain: MoneyGrain,
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
        .map(|(phase, cents)| piece(phase, cents, splits))
        .collect::<Result<_, _>>()?;
    Ok(Priced { cents, pieces })
}

/// The amounts of the keys and, last, of what stands under no key.
fn with_rest(amounts: &[Exact], whole: &Exact) -> Result<Vec<Exact>, NumError> {
    let rest = whole.sub(&total(amounts)?)?;
    Ok(amounts.iter().cloned().chain([rest]).collect())
}

fn piece(phase: &PhaseUse, cents: i128, splits: &[Split]) -> Result<Piece, NumError> {
    let by_key = phase
        .by_key
        .iter()
        .map(|amounts| split_cents(cents, &with_rest(amounts, &phase.total)?))
        .collect::<Result<Vec<_>, _>>()?;
    let by_row = match (&phase.by_row, splits.first(), by_key.first()) {
        (None, _, _) => None,
        (Some(rows), None, _) | (Some(rows), _, None) => {
            Some(split_cents(cents, &with_rest(rows, &phase.total)?)?)
        }
        (Some(rows), Some(split), Some(keys)) => {
            Some(Grouped::new(&split.key_of_row, split.keys.len()).split_keys(keys, rows)?)
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
    let mut pieces = Vec::new();
    for phase in phases {
        let none = Vec::new();
        let rows = phase.by_row.as_ref().unwrap_or(&none);
        let rounded = |amount: &Exact| amount.mul(&each)?.to_cents(rule.ties);
        let cents = with_rest(rows, &phase.total)?
            .iter()
            .map(rounded)
            .collect::<Result<Vec<i128>, _>>()?;
        let by_key = splits.iter().map(|split| {
            let mut keys = vec![0; split.keys.len() + 1];
            for (row, part) in cents.iter().enumerate() {
                let key = split
                    .key_of_row
                    .get(row)
                    .filter(|_| row < rows.len())
                    .map_or(split.keys.len(), |k| *k as usize);
                keys[key.min(split.keys.len())] += part;
            }
            keys
        });
        pieces.push(Piece {
            cents: cents.iter().sum(),
            by_key: by_key.collect(),
            by_row: phase.by_row.as_ref().map(|_| cents.clone()),
        });
    }
    Ok(Priced {
        cents: pieces.iter().map(|p| p.cents).sum(),
        pieces,
    })
}
