//! Bounds for e^x and ln x on binary fractions.
//!
//! Knows two series and their errors. Must not know what is rounded, or to what.

use num_bigint::BigInt;
use num_traits::{One, Signed, ToPrimitive, Zero};

/// Bits carried beyond those asked for. Each step below errs by a few units of the last carried
/// bit; with under 2^13 steps, and the doublings of `exp`, the sum stays far below 2^-32 units of
/// the last bit asked for, and one whole unit is given as the bound.
const GUARD: u64 = 64;
/// The exponent is divided by 2^HALVINGS before the series, and the series squared as often.
const HALVINGS: u64 = 8;

/// Bounds of ln x below and above, `x` positive, all in units of 2^-bits.
pub(super) fn ln_bounds(x: &BigInt, bits: u64) -> (BigInt, BigInt) {
    let work = bits + GUARD;
    // x = m * 2^shift with m in 3/4 .. 3/2, so that z = (m-1)/(m+1) is at most 1/5.
    let length = x.bits();
    let mut shift = length.cast_signed() - bits.cast_signed() - 1;
    let mut m = if length > work {
        x >> (length - 1 - work)
    } else {
        x << (work + 1 - length)
    };
    let one = BigInt::one() << work;
    if &m * 2u8 > &one * 3u8 {
        m >>= 1u8;
        shift += 1;
    }
    let z = ((&m - &one) << work) / (&m + &one);
    let value = (atanh_series(&z, work) << 1u8) + ln_two(work) * shift;
    let near: BigInt = value >> GUARD;
    (&near - 1, near + 2)
}

/// Bounds of e^x below and above, all in units of 2^-bits. The caller keeps `x` within thousands.
pub(super) fn exp_bounds(x: &BigInt, bits: u64) -> (BigInt, BigInt) {
    // x is about turns * ln 2; 94548/65536 is 1/ln 2 to five places, and any near number serves.
    // One less keeps the rest positive.
    let turns: BigInt = ((x * 94_548) >> (bits + 16)) - 1;
    let Some(turns) = turns.to_i64().filter(|t| *t > -bits.cast_signed() - 8) else {
        return (BigInt::zero(), BigInt::one()); // below the last bit
    };
    let work = bits + GUARD + turns.max(0).unsigned_abs();
    let rest = (x << (work - bits)) - ln_two(work) * turns;
    let small: BigInt = rest >> HALVINGS;
    let mut term = BigInt::one() << work;
    let mut sum = term.clone();
    let mut n = 1u32;
    while !term.is_zero() {
        term = ((term * &small) >> work) / n;
        sum += &term;
        n += 1;
    }
    for _ in 0..HALVINGS {
        sum = (&sum * &sum) >> work;
    }
    let down = (work - bits).cast_signed() - turns;
    let near: BigInt = sum >> down.unsigned_abs(); // down is at least GUARD
    (
        if near.is_positive() {
            &near - 1
        } else {
            BigInt::zero()
        },
        near + 2,
    )
}

/// ln 2 = 2 atanh(1/3), in units of 2^-work.
fn ln_two(work: u64) -> BigInt {
    atanh_series(&((BigInt::one() << work) / 3), work) << 1u8
}

/// z + z^3/3 + z^5/5 + ..., in units of 2^-work.
fn atanh_series(z: &BigInt, work: u64) -> BigInt {
    // Shifts round down, so a negative power would never reach zero: sum for the size.
    let square: BigInt = (z * z) >> work;
    let mut power = z.abs();
    let mut sum = power.clone();
    let mut n = 3u32;
    while !power.is_zero() {
        power = (power * &square) >> work;
        sum += &power / n;
        n += 2;
    }
    if z.is_negative() { -sum } else { sum }
}
