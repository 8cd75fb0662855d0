//! Operations on stretches of rows, one file for each family.
//!
//! A kernel knows values, states and the node it works for (to name it in faults). It must not know the rows' grain, nor
//! which nodes gave its operands. Each one has two ways: integers over one denominator while they provably fit, and
//! exact numbers row by row otherwise; both give the same values.

pub(super) mod arith;
pub(super) mod choose;
pub(super) mod compare;
pub(super) mod lookup;
pub(super) mod real;
pub(super) mod round;

use super::chunk::{Code, Data, Faults, Ints, PRESENT, Piece, Side, States};
use super::{FaultKind, NotReal};
use crate::number::{Exact, NumError};
use crate::program::NodeId;
use std::borrow::Cow;

/// Greatest numerator a scaled column may have, so that it always has an opposite.
pub(super) const LIMIT: u64 = i64::MAX.unsigned_abs();

/// Where a kernel works: for which node, on how many rows.
#[derive(Clone, Copy)]
pub(super) struct At<'r> {
    pub(super) faults: &'r Faults,
    pub(super) node: NodeId,
    pub(super) len: usize,
}

impl At<'_> {
    /// The code of a fault of this node.
    pub(super) fn fault(&self, kind: FaultKind) -> Code {
        self.faults.code(kind, self.node)
    }
}

/// What an arithmetic error is on a row.
pub(super) fn fault_of(error: NumError) -> FaultKind {
    match error {
        NumError::DivideByZero => FaultKind::DivideByZero,
        NumError::TooManyDigits | NumError::NotExact => FaultKind::TooManyDigits,
        NumError::LogOfNonPositive => FaultKind::NotReal(NotReal::LogOfNonPositive),
        NumError::RootOfNegative => FaultKind::NotReal(NotReal::RootOfNegative),
    }
}

/// The slow way: works each row that has its operands by itself.
pub(super) fn row_by_row(
    at: At<'_>,
    states: States<'_>,
    work: impl Fn(usize) -> Result<Exact, FaultKind>,
) -> Piece<'static> {
    let mut values = Vec::with_capacity(at.len);
    let mut failed: Vec<(usize, Code)> = Vec::new();
    for row in 0..at.len {
        let value = match states.at(row) {
            PRESENT => work(row).unwrap_or_else(|kind| {
                failed.push((row, at.fault(kind)));
                Exact::ZERO
            }),
            _ => Exact::ZERO,
        };
        values.push(value);
    }
    Piece {
        data: Data::of_exacts(values),
        states: with_faults(states, at.len, &failed),
    }
}

/// The states with faults put in at some rows.
pub(super) fn with_faults(
    states: States<'_>,
    len: usize,
    failed: &[(usize, Code)],
) -> States<'static> {
    if failed.is_empty() {
        return states.into_owned();
    }
    let mut rows = states.to_rows(len);
    for (row, code) in failed {
        rows[*row] = *code;
    }
    States::of_rows(rows)
}

/// A list of these numbers, in room left by an earlier one.
#[inline]
pub(super) fn fill(numbers: impl Iterator<Item = i64>) -> Vec<i64> {
    let mut out = super::chunk::spare();
    out.extend(numbers);
    out
}

/// Applies `f` to the rows of both sides.
#[inline]
pub(super) fn zip(len: usize, a: Side<'_>, b: Side<'_>, f: impl Fn(i64, i64) -> i64) -> Vec<i64> {
    match (a, b) {
        (Side::Rows(a), Side::Rows(b)) => fill(a.iter().zip(b).map(|(a, b)| f(*a, *b))),
        (Side::Rows(a), Side::One(b)) => fill(a.iter().map(|a| f(*a, b))),
        (Side::One(a), Side::Rows(b)) => fill(b.iter().map(|b| f(a, *b))),
        (Side::One(a), Side::One(b)) => vec![f(a, b); len],
    }
}

/// Applies a test to the rows of both sides.
#[inline]
pub(super) fn zip_truth(
    len: usize,
    a: Side<'_>,
    b: Side<'_>,
    f: impl Fn(i64, i64) -> bool,
) -> Vec<bool> {
    match (a, b) {
        (Side::Rows(a), Side::Rows(b)) => a.iter().zip(b).map(|(a, b)| f(*a, *b)).collect(),
        (Side::Rows(a), Side::One(b)) => a.iter().map(|a| f(*a, b)).collect(),
        (Side::One(a), Side::Rows(b)) => b.iter().map(|b| f(a, *b)).collect(),
        (Side::One(a), Side::One(b)) => vec![f(a, b); len],
    }
}

/// Applies `f` to the rows of a side.
#[inline]
pub(super) fn map(len: usize, a: Side<'_>, f: impl Fn(i64) -> i64) -> Vec<i64> {
    match a {
        Side::Rows(a) => fill(a.iter().map(|a| f(*a))),
        Side::One(a) => vec![f(a); len],
    }
}

/// Scaled numbers whose numerators are known to be within `most`.
pub(super) fn scaled(num: Vec<i64>, den: i64, most: u64) -> Data<'static> {
    Data::Scaled {
        num: Cow::Owned(num),
        den,
        most,
    }
}

/// Both over their least common denominator: the factors, the denominator, and the extents there; `None` when that
/// does not fit. Tries the known extents first and looks at the rows only when they are too wide.
pub(super) fn align(a: &Ints<'_>, b: &Ints<'_>) -> Option<Aligned> {
    let den = super::chunk::lcm(a.den, b.den)?;
    let (fa, fb) = (den / a.den, den / b.den);
    let fits = |most: u64, factor: i64| {
        most.checked_mul(factor.unsigned_abs())
            .filter(|most| *most <= LIMIT)
    };
    let most_a = fits(a.most, fa).or_else(|| fits(a.side.most(), fa))?;
    let most_b = fits(b.most, fb).or_else(|| fits(b.side.most(), fb))?;
    Some(Aligned {
        den,
        fa,
        fb,
        most_a,
        most_b,
    })
}

/// Two columns of numbers over one denominator.
pub(super) struct Aligned {
    pub(super) den: i64,
    pub(super) fa: i64,
    pub(super) fb: i64,
    pub(super) most_a: u64,
    pub(super) most_b: u64,
}
