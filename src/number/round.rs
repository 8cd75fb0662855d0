//! Rounding to a step: the eight modes of the field, on exact values.
//!
//! Knows directions and ties. Must not know which mode a job prefers or what a step means.

use num_bigint::BigInt;
use num_integer::Integer;
use num_rational::BigRational;
use num_traits::{Signed, Zero};

use super::exact::{Exact, NumError};

/// How a value goes to a multiple of a step. The IEEE 754-2008 section 4.3 name follows where there is one;
/// the others are from the General Decimal Arithmetic specification.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Hash)]
pub enum Rounding {
    /// Toward plus infinity (roundTowardPositive, "ceiling").
    Up,
    /// Toward minus infinity (roundTowardNegative, "floor").
    Down,
    /// Toward zero (roundTowardZero).
    TowardZero,
    /// Away from zero.
    AwayFromZero,
    /// To the nearest, ties away from zero (roundTiesToAway).
    #[default]
    HalfUp,
    /// To the nearest, ties toward zero.
    HalfDown,
    /// To the nearest, ties to the even multiple (roundTiesToEven).
    HalfEven,
    /// Toward zero, unless the last digit would be 0 or 5: then away from zero ("05-up").
    Up05,
}

/// What a rounding decision needs to know of `value / step = whole + part`, `0 <= part < 1`.
struct Place {
    negative: bool,
    /// Part compared with one half.
    half: std::cmp::Ordering,
    exact: bool,
    /// Floor is odd.
    odd: bool,
    /// The multiple toward zero ends in 0 or 5.
    five: bool,
}

/// Whether the multiple above the floor is taken.
fn goes_up(mode: Rounding, at: &Place) -> bool {
    use std::cmp::Ordering::{Equal, Greater};
    if at.exact {
        return false;
    }
    match mode {
        Rounding::Up => true,
        Rounding::Down => false,
        Rounding::TowardZero => at.negative,
        Rounding::AwayFromZero => !at.negative,
        Rounding::HalfUp => at.half == Greater || (at.half == Equal && !at.negative),
        Rounding::HalfDown => at.half == Greater || (at.half == Equal && at.negative),
        Rounding::HalfEven => at.half == Greater || (at.half == Equal && at.odd),
        Rounding::Up05 => at.five != at.negative,
    }
}

impl Exact {
    /// The multiple of `step` that `mode` chooses; `step` is in the value's own unit and above zero.
    /// Errors: [`NumError::DivideByZero`] when the step is zero or negative, [`NumError::TooManyDigits`].
    pub fn round_to(&self, step: &Exact, mode: Rounding) -> Result<Exact, NumError> {
        self.steps(step, mode)?.mul(step)
    }

    /// How many steps the rounded value has: `round_to` divided by `step`, a whole number.
    /// Errors as [`Exact::round_to`].
    pub fn steps(&self, step: &Exact, mode: Rounding) -> Result<Exact, NumError> {
        if step.signum() <= 0 {
            return Err(NumError::DivideByZero);
        }
        let quotient = self.div(step)?;
        if let Some((n, d)) = quotient.small() {
            return Ok(round_small(n, d, mode));
        }
        Exact::from_big(round_big(&quotient.to_big(), mode).into())
    }
}

/// Rounds to a whole number, whatever its size; printing needs it past the bit cap of results.
pub(super) fn round_big(value: &BigRational, mode: Rounding) -> BigInt {
    let (floor, rest) = value.numer().div_mod_floor(value.denom());
    let exact = rest.is_zero();
    let negative = value.is_negative();
    let toward_zero = if negative && !exact {
        &floor + 1
    } else {
        floor.clone()
    };
    let at = Place {
        negative,
        half: (rest * 2u8).cmp(value.denom()),
        exact,
        odd: floor.is_odd(),
        five: (toward_zero % 5u8).is_zero(),
    };
    if goes_up(mode, &at) { floor + 1 } else { floor }
}

fn round_small(n: i64, d: i64, mode: Rounding) -> Exact {
    if d == 1 {
        return Exact::int(n);
    }
    let floor = n.div_euclid(d);
    let rest = n.rem_euclid(d);
    let toward_zero = if n < 0 { floor + 1 } else { floor };
    let at = Place {
        negative: n < 0,
        half: rest.cmp(&(d - rest)),
        exact: false,
        odd: floor % 2 != 0,
        five: toward_zero % 5 == 0,
    };
    // d is at least 2, so the floor is far from the ends of the range.
    Exact::int(if goes_up(mode, &at) { floor + 1 } else { floor })
}

#[cfg(test)]
#[path = "round_tests.rs"]
mod tests;
