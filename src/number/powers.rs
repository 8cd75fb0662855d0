//! Powers, roots and logarithms that come out rational, found exactly or not at all.
//!
//! Knows perfect powers. Must not know rounding.

use num_bigint::BigInt;
use num_rational::BigRational;
use num_traits::{Signed, ToPrimitive};

use super::exact::{Exact, NumError};

/// Prime degrees tried when looking for a perfect power; a higher one just finds no shortcut.
const PRIMES: [u32; 18] = [
    2, 3, 5, 7, 11, 13, 17, 19, 23, 29, 31, 37, 41, 43, 47, 53, 59, 61,
];

/// The root of this degree, when it is rational.
pub(super) fn exact_root(x: &Exact, degree: u32) -> Option<Exact> {
    if degree == 0 || (x.signum() < 0 && degree.is_multiple_of(2)) {
        return None;
    }
    let big = x.to_big();
    let root_of = |n: &BigInt| {
        let root = n.abs().nth_root(degree);
        (root.pow(degree) == n.abs()).then_some(if n.is_negative() { -root } else { root })
    };
    Exact::from_big(BigRational::new(
        root_of(big.numer())?,
        root_of(big.denom())?,
    ))
    .ok()
}

/// `x` to the power `y` when that is rational; `None` when it is not.
/// Errors: zero to a negative power, a fractional power of a negative number, too many digits.
pub(super) fn exact_power(x: &Exact, y: &Exact) -> Result<Option<Exact>, NumError> {
    if x.is_zero() {
        return match y.signum() {
            -1 => Err(NumError::DivideByZero),
            0 => Ok(Some(Exact::ONE)),
            _ => Ok(Some(Exact::ZERO)),
        };
    }
    if *x == Exact::ONE {
        return Ok(Some(Exact::ONE));
    }
    if y.is_integer() && *x == Exact::int(-1) {
        let even = y.div(&Exact::int(2))?.is_integer();
        return Ok(Some(if even { Exact::ONE } else { x.clone() }));
    }
    if y.is_integer() {
        let whole = y
            .to_i64()
            .and_then(|whole| whole.to_i32())
            .ok_or(NumError::TooManyDigits)?;
        return x.pow(whole).map(Some);
    }
    if x.signum() < 0 {
        return Err(NumError::RootOfNegative);
    }
    let Some((n, d)) = y.small() else {
        return Ok(None);
    };
    let (Some(n), Some(degree)) = (n.to_i32(), d.to_u32()) else {
        return Ok(None);
    };
    match exact_root(x, degree) {
        Some(root) => root.pow(n).map(Some),
        None => Ok(None),
    }
}

/// The power of `base` that `x` is, when rational: 2/3 for 4 on base 8. Both above zero, else `None`.
pub(super) fn exact_log(x: &Exact, base: &Exact) -> Option<Exact> {
    if x.signum() <= 0 || base.signum() <= 0 || *base == Exact::ONE {
        return None;
    }
    if *x == Exact::ONE {
        return Some(Exact::ZERO);
    }
    let ((x_root, x_times), (base_root, base_times)) = (least_root(x), least_root(base));
    let power = Exact::ratio(x_times, base_times)?;
    if x_root == base_root {
        Some(power)
    } else if x_root.mul(&base_root) == Ok(Exact::ONE) {
        Some(power.neg())
    } else {
        None
    }
}

/// The value written as a power of something that is itself no perfect power.
fn least_root(x: &Exact) -> (Exact, i64) {
    let (mut root, mut times) = (x.clone(), 1i64);
    for prime in PRIMES {
        // A root other than 1 has a part of at least 2, so the value a part of at least 2^prime.
        let big = root.to_big();
        if u64::from(prime) >= big.numer().bits().max(big.denom().bits()) {
            break;
        }
        while let Some(smaller) = exact_root(&root, prime) {
            if smaller == root {
                return (root, times);
            }
            root = smaller;
            times = times.saturating_mul(i64::from(prime));
        }
    }
    (root, times)
}
