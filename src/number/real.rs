//! Roots, powers and logarithms, correctly rounded to a stated step.
//!
//! Knows how to enclose an irrational value between two binary fractions and to narrow the
//! enclosure until its rounding is certain (Ziv's strategy). Must not know why a rule wants a
//! power. A `Real` is never a result: only [`round`] turns one into an [`Exact`].

use num_bigint::BigInt;
use num_integer::Integer;
use num_rational::BigRational;
use num_traits::{One, Signed, ToPrimitive, Zero};

use super::elementary::{exp_bounds, ln_bounds};
use super::exact::{Exact, NumError};
use super::powers::{exact_log, exact_power, exact_root};
use super::round::{Rounding, round_big};

/// A value that may be irrational, as an expression. The caller bounds its depth.
#[derive(Debug, Clone, PartialEq)]
pub enum Real {
    /// An exact value.
    Rat(Exact),
    /// Sum.
    Add(Box<Real>, Box<Real>),
    /// Difference.
    Sub(Box<Real>, Box<Real>),
    /// Product.
    Mul(Box<Real>, Box<Real>),
    /// Quotient.
    Div(Box<Real>, Box<Real>),
    /// First to the power of second.
    Power(Box<Real>, Box<Real>),
    /// Root of this degree; an odd root of a negative value is negative.
    Root(Box<Real>, u32),
    /// Natural logarithm.
    Ln(Box<Real>),
    /// e to this power.
    Exp(Box<Real>),
}

/// Bits below the step to which a value is narrowed before one that still touches a multiple, or a
/// tie between two multiples, is taken to be that point.
const MOST_BITS: u64 = 1200;
/// Bits below the step of the first try; enough for all but one value in 2^60.
const FIRST_BITS: u64 = 64;
/// Degree up to which a root is taken on whole numbers rather than by logarithm.
const WHOLE_ROOT: u32 = 64;
/// Most bits of an enclosure above the point: a little more than a result may have.
const MOST_WHOLE_BITS: u64 = super::exact::MAX_BITS + 64;

/// The multiple of `step` that `mode` chooses for the true value, as if it were known in full. A
/// value that `MOST_BITS` bits cannot tell from a multiple or a tie is taken as that point.
/// Errors: [`NumError`] for division by zero, a logarithm of zero or less, a root or fractional
/// power of a negative value, a step that is not positive, or a result with too many digits.
pub fn round(value: &Real, step: &Exact, mode: Rounding) -> Result<Exact, NumError> {
    if step.signum() <= 0 {
        return Err(NumError::DivideByZero);
    }
    let value = simplify(value)?;
    if let Real::Rat(exact) = &value {
        return exact.round_to(step, mode);
    }
    let step_big = step.to_big();
    let below = step_big
        .denom()
        .bits()
        .saturating_sub(step_big.numer().bits())
        + 1;
    let most = MOST_BITS + below;
    let point = BigRational::new(BigInt::one(), BigInt::one() << MOST_BITS);
    let mut bits = FIRST_BITS + below;
    loop {
        match enclose(&value, bits) {
            Ok(range) => {
                let (low, high) = (
                    range.steps(&range.low, &step_big),
                    range.steps(&range.high, &step_big),
                );
                let chosen = round_big(&low, mode);
                if chosen == round_big(&high, mode) {
                    return Exact::from_big(chosen.into())?.mul(step);
                }
                if &high - &low <= point {
                    // Multiples and ties are the multiples of half a step.
                    let halves = round_big(&(low + high), Rounding::HalfEven);
                    let nearest = BigRational::new(halves, BigInt::from(2));
                    return Exact::from_big(round_big(&nearest, mode).into())?.mul(step);
                }
                // A large value loses as many bits as it has above the point, twice over in a power.
                if bits > most + 2 * MOST_WHOLE_BITS {
                    return Err(NumError::TooManyDigits);
                }
            }
            Err(Fault::Number(error)) => return Err(error),
            Err(Fault::NearZero(error)) if bits >= most => return Err(error),
            Err(Fault::NearZero(_)) => {}
        }
        bits *= 2;
    }
}

/// Replaces every part whose value is rational by that value.
fn simplify(value: &Real) -> Result<Real, NumError> {
    use Real::{Add, Div, Exp, Ln, Mul, Power, Rat, Root, Sub};
    let pair = |a: &Real, b: &Real| Ok::<_, NumError>((simplify(a)?, simplify(b)?));
    let simple = match value {
        Rat(exact) => Rat(exact.clone()),
        Add(a, b) => match pair(a, b)? {
            (Rat(a), Rat(b)) => Rat(a.add(&b)?),
            (a, b) => Add(Box::new(a), Box::new(b)),
        },
        Sub(a, b) => match pair(a, b)? {
            (Rat(a), Rat(b)) => Rat(a.sub(&b)?),
            (a, b) => Sub(Box::new(a), Box::new(b)),
        },
        Mul(a, b) => match pair(a, b)? {
            (Rat(a), Rat(b)) => Rat(a.mul(&b)?),
            (a, b) => Mul(Box::new(a), Box::new(b)),
        },
        Div(a, b) => match pair(a, b)? {
            (Rat(a), Rat(b)) => Rat(a.div(&b)?),
            (_, Rat(b)) if b.is_zero() => return Err(NumError::DivideByZero),
            (a, b) => match log_quotient(&a, &b) {
                Some((x, base)) => match exact_log(x, base) {
                    Some(power) => Rat(power),
                    None => Div(Box::new(a), Box::new(b)),
                },
                None => Div(Box::new(a), Box::new(b)),
            },
        },
        Power(base, power) => simplify_power(pair(base, power)?)?,
        Root(inner, degree) => match simplify(inner)? {
            _ if *degree == 0 => return Err(NumError::DivideByZero),
            Rat(x) if x.signum() < 0 && degree % 2 == 0 => return Err(NumError::RootOfNegative),
            Rat(x) => match exact_root(&x, *degree) {
                Some(root) => Rat(root),
                None => Root(Box::new(Rat(x)), *degree),
            },
            inner @ (Add(..) | Sub(..) | Mul(..) | Div(..) | Power(..) | Root(..) | Ln(_)
            | Exp(_)) => Root(Box::new(inner), *degree),
        },
        Ln(inner) => match simplify(inner)? {
            Rat(x) if x.signum() <= 0 => return Err(NumError::LogOfNonPositive),
            Rat(x) if x == Exact::ONE => Rat(Exact::ZERO),
            Exp(x) => *x,
            inner @ (Rat(_) | Add(..) | Sub(..) | Mul(..) | Div(..) | Power(..) | Root(..)
            | Ln(_)) => Ln(Box::new(inner)),
        },
        Exp(inner) => match simplify(inner)? {
            Rat(x) if x.is_zero() => Rat(Exact::ONE),
            Ln(x) if matches!(*x, Rat(_)) => *x,
            inner @ (Rat(_) | Add(..) | Sub(..) | Mul(..) | Div(..) | Power(..) | Root(..)
            | Ln(_) | Exp(_)) => Exp(Box::new(inner)),
        },
    };
    Ok(simple)
}

fn simplify_power((base, power): (Real, Real)) -> Result<Real, NumError> {
    if let (Real::Rat(x), Real::Rat(y)) = (&base, &power) {
        match exact_power(x, y) {
            Ok(Some(value)) => return Ok(Real::Rat(value)),
            // Too long to write in full, yet its rounding may be short: enclose it.
            Ok(None) | Err(NumError::TooManyDigits) => {}
            Err(error) => return Err(error),
        }
    }
    // n^(ln r / ln b) is r^(ln n / ln b): rational when n is a power of b, as on a learning curve.
    if let (Real::Rat(n), Real::Div(a, b)) = (&base, &power)
        && n.signum() > 0
        && let Some((r, b)) = log_quotient(a, b)
        && let Some(times) = exact_log(n, b)
        && let Ok(Some(value)) = exact_power(r, &times)
    {
        return Ok(Real::Rat(value));
    }
    Ok(Real::Power(Box::new(base), Box::new(power)))
}

/// `x` and `base` of `ln x / ln base`, both exact.
fn log_quotient<'a>(a: &'a Real, b: &'a Real) -> Option<(&'a Exact, &'a Exact)> {
    match (a, b) {
        (Real::Ln(x), Real::Ln(base)) => match (&**x, &**base) {
            (Real::Rat(x), Real::Rat(base)) => Some((x, base)),
            _ => None,
        },
        _ => None,
    }
}

/// The true value lies between `low` and `high`, both in units of 2^-bits.
struct Range {
    low: BigInt,
    high: BigInt,
    bits: u64,
}

enum Fault {
    Number(NumError),
    /// The enclosure touches zero, where the operation has no value; the error to give if it stays so.
    NearZero(NumError),
}

impl From<NumError> for Fault {
    fn from(error: NumError) -> Fault {
        Fault::Number(error)
    }
}

impl Range {
    fn of(exact: &Exact, bits: u64) -> Range {
        let big = exact.to_big();
        let scaled = big.numer() << bits;
        Range {
            low: scaled.div_floor(big.denom()),
            high: scaled.div_ceil(big.denom()),
            bits,
        }
    }

    fn steps(&self, end: &BigInt, step: &BigRational) -> BigRational {
        BigRational::new(end * step.denom(), step.numer() << self.bits)
    }

    fn touches_zero(&self) -> bool {
        !self.low.is_positive() && !self.high.is_negative()
    }

    fn negated(self) -> Range {
        Range {
            low: -self.high,
            high: -self.low,
            bits: self.bits,
        }
    }

    /// Refuses an enclosure of values too large for any result.
    fn bounded(self) -> Result<Range, Fault> {
        let most = MOST_WHOLE_BITS + self.bits;
        if self.low.bits() > most || self.high.bits() > most {
            return Err(NumError::TooManyDigits.into());
        }
        Ok(self)
    }

    fn times(&self, other: &Range) -> Result<Range, Fault> {
        let ends = [
            &self.low * &other.low,
            &self.low * &other.high,
            &self.high * &other.low,
            &self.high * &other.high,
        ];
        self.around(&ends, &(BigInt::one() << self.bits))?.bounded()
    }

    fn over(&self, other: &Range) -> Result<Range, Fault> {
        if other.touches_zero() {
            return Err(Fault::NearZero(NumError::DivideByZero));
        }
        let (low, high) = (&self.low << self.bits, &self.high << self.bits);
        let floor = [
            low.div_floor(&other.low),
            low.div_floor(&other.high),
            high.div_floor(&other.low),
            high.div_floor(&other.high),
        ];
        // A floor is at most one below its quotient.
        self.around(&floor, &BigInt::one())
            .map(|range| Range {
                high: range.high + 1,
                ..range
            })?
            .bounded()
    }

    /// From the least to the greatest of `ends / scale`, rounded outward.
    fn around(&self, ends: &[BigInt; 4], scale: &BigInt) -> Result<Range, Fault> {
        let [a, b, c, d] = ends;
        let low = a.min(b).min(c.min(d)).div_floor(scale);
        let high = a.max(b).max(c.max(d)).div_ceil(scale);
        Ok(Range {
            low,
            high,
            bits: self.bits,
        })
    }

    fn ln(&self) -> Result<Range, Fault> {
        if !self.high.is_positive() {
            return Err(NumError::LogOfNonPositive.into());
        }
        if !self.low.is_positive() {
            return Err(Fault::NearZero(NumError::LogOfNonPositive));
        }
        Ok(self.by_ends(ln_bounds))
    }

    fn exp(&self) -> Result<Range, Fault> {
        // 2^bits passes any result once the exponent passes bits * ln 2; ln 2 is below 1.
        if self.high > BigInt::from(MOST_WHOLE_BITS) << self.bits {
            return Err(NumError::TooManyDigits.into());
        }
        self.by_ends(exp_bounds).bounded()
    }

    /// A growing function, from its bounds at both ends.
    fn by_ends(&self, bounds: fn(&BigInt, u64) -> (BigInt, BigInt)) -> Range {
        let (low, mut high) = bounds(&self.low, self.bits);
        if self.high != self.low {
            high = bounds(&self.high, self.bits).1;
        }
        Range {
            low,
            high,
            bits: self.bits,
        }
    }

    fn root(&self, degree: u32) -> Result<Range, Fault> {
        if self.high.is_negative() {
            return Err(NumError::RootOfNegative.into());
        }
        let scale = self.bits * u64::from(degree - 1);
        let root_of = |end: BigInt| -> BigInt {
            let scaled: BigInt = end << scale;
            scaled.nth_root(degree)
        };
        let low = match (self.low.is_negative(), degree % 2) {
            (false, _) => root_of(self.low.clone()),
            // The value may lie below zero, and its odd root then farther below.
            (true, 1) => -BigInt::one() - root_of(-&self.low),
            (true, _) => BigInt::zero(),
        };
        Ok(Range {
            low,
            high: root_of(self.high.clone()) + 1,
            bits: self.bits,
        })
    }

    fn whole_power(&self, power: u32) -> Result<Range, Fault> {
        let mut product = Range::of(&Exact::ONE, self.bits);
        let mut square = Range {
            low: self.low.clone(),
            high: self.high.clone(),
            bits: self.bits,
        };
        let mut left = power;
        loop {
            if left & 1 == 1 {
                product = product.times(&square)?;
            }
            left >>= 1;
            if left == 0 {
                return Ok(product);
            }
            square = square.times(&square)?;
        }
    }
}

/// Encloses the value with `bits` bits below the point.
fn enclose(value: &Real, bits: u64) -> Result<Range, Fault> {
    match value {
        Real::Rat(exact) => Ok(Range::of(exact, bits)),
        Real::Add(a, b) => {
            let (a, b) = (enclose(a, bits)?, enclose(b, bits)?);
            Ok(Range {
                low: a.low + b.low,
                high: a.high + b.high,
                bits,
            })
        }
        Real::Sub(a, b) => {
            let (a, b) = (enclose(a, bits)?, enclose(b, bits)?);
            Ok(Range {
                low: a.low - b.high,
                high: a.high - b.low,
                bits,
            })
        }
        Real::Mul(a, b) => enclose(a, bits)?.times(&enclose(b, bits)?),
        Real::Div(a, b) => match &**b {
            // However small, an exact divisor is known not to be zero.
            Real::Rat(b) => enclose(a, bits)?.times(&Range::of(&Exact::ONE.div(b)?, bits)),
            b @ (Real::Add(..)
            | Real::Sub(..)
            | Real::Mul(..)
            | Real::Div(..)
            | Real::Power(..)
            | Real::Root(..)
            | Real::Ln(_)
            | Real::Exp(_)) => enclose(a, bits)?.over(&enclose(b, bits)?),
        },
        Real::Power(base, power) => enclose_power(base, power, bits),
        Real::Root(inner_value, degree) => {
            let inner = enclose(inner_value, bits)?;
            let below_zero = inner.high.is_negative()
                || matches!(&**inner_value, Real::Rat(x) if x.signum() < 0);
            let flip = degree % 2 == 1 && below_zero;
            let size = if flip { inner.negated() } else { inner };
            let root = if *degree <= WHOLE_ROOT {
                size.root(*degree)?
            } else {
                ln(inner_value, &size)?
                    .over(&Range::of(&Exact::int(i64::from(*degree)), bits))?
                    .exp()?
            };
            Ok(if flip { root.negated() } else { root })
        }
        Real::Ln(inner) => ln(inner, &enclose(inner, bits)?),
        Real::Exp(inner) => enclose(inner, bits)?.exp(),
    }
}

fn enclose_power(base: &Real, power: &Real, bits: u64) -> Result<Range, Fault> {
    let range = enclose(base, bits)?;
    if let Real::Rat(power) = power
        && let Some(whole) = power.to_i64().and_then(|whole| whole.to_i32())
    {
        let size = range.whole_power(whole.unsigned_abs())?;
        return if whole < 0 {
            Range::of(&Exact::ONE, bits).over(&size)
        } else {
            Ok(size)
        };
    }
    if range.high.is_negative() {
        let whole = matches!(power, Real::Rat(power) if power.is_integer());
        return Err(if whole {
            NumError::TooManyDigits
        } else {
            NumError::RootOfNegative
        }
        .into());
    }
    if !range.low.is_positive() && !matches!(base, Real::Rat(base) if base.signum() > 0) {
        return Err(Fault::NearZero(NumError::RootOfNegative));
    }
    ln(base, &range)?.times(&enclose(power, bits)?)?.exp()
}

/// The logarithm of the size of `value`, which `range` encloses.
fn ln(value: &Real, range: &Range) -> Result<Range, Fault> {
    match value {
        // An exact value too small for these bits is above zero all the same: ln(n/d) = ln n - ln d.
        Real::Rat(exact)
            if !exact.is_zero() && !range.low.is_positive() && !range.high.is_negative() =>
        {
            let big = exact.abs().to_big();
            let whole = |n: &BigInt| {
                Range {
                    low: n << range.bits,
                    high: n << range.bits,
                    bits: range.bits,
                }
                .ln()
            };
            let (n, d) = (whole(big.numer())?, whole(big.denom())?);
            Ok(Range {
                low: n.low - d.high,
                high: n.high - d.low,
                bits: range.bits,
            })
        }
        Real::Rat(_)
        | Real::Add(..)
        | Real::Sub(..)
        | Real::Mul(..)
        | Real::Div(..)
        | Real::Power(..)
        | Real::Root(..)
        | Real::Ln(_)
        | Real::Exp(_) => range.ln(),
    }
}

#[cfg(test)]
#[path = "real_tests.rs"]
mod tests;
