//! Cents, money as decimals, and splitting an amount into parts that add up to it.
//!
//! Money is read and written as [`Decimal`], counted in whole cents, and worked out as [`Exact`]. Must not know prices, taxes
//! or which currency: that is a unit.

use std::fmt;

use num_traits::ToPrimitive;
pub use rust_decimal::Decimal;

use super::exact::{Exact, NumError};
use super::round::Rounding;

/// The longest amount in cents: of 24 digits, so that the sum of any job's amounts fits a [`Decimal`] of 28.
const MOST_CENTS: u128 = 10u128.pow(24);

impl Exact {
    /// An amount in cents, in currency.
    pub fn from_cents(cents: i128) -> Exact {
        // A hundredth of a whole number of up to 128 bits is within the cap of a number.
        Exact::from_i128(cents)
            .mul(&Exact::CENT)
            .unwrap_or(Exact::ZERO)
    }

    /// The value as a decimal; `None` when it has more digits than a decimal holds, or no end of them.
    pub fn decimal(&self) -> Option<Decimal> {
        let (text, whole) = self.to_decimal(Decimal::MAX_SCALE);
        Decimal::from_str_exact(&text).ok().filter(|_| whole)
    }

    /// An amount of money as whole cents, rounded by `mode`.
    /// Errors: [`NumError::TooManyDigits`] beyond 24 digits.
    pub fn to_cents(&self, mode: Rounding) -> Result<i128, NumError> {
        let cents = self.mul(&Exact::int(100))?.round_to(&Exact::ONE, mode)?;
        let cents = match cents.small() {
            Some((n, _)) => i128::from(n),
            None => cents
                .to_big()
                .numer()
                .to_i128()
                .ok_or(NumError::TooManyDigits)?,
        };
        match cents.unsigned_abs() <= MOST_CENTS {
            true => Ok(cents),
            false => Err(NumError::TooManyDigits),
        }
    }
}

impl From<Decimal> for Exact {
    fn from(decimal: Decimal) -> Exact {
        let scale = 10i128.pow(decimal.scale()); // at most 28
        // Both parts are far below the cap of a number.
        Exact::from_i128(decimal.mantissa())
            .div(&Exact::from_i128(scale))
            .unwrap_or(Exact::ZERO)
    }
}

/// Cents as currency with two decimals. A sum of cents stays within a decimal, see [`Exact::to_cents`].
pub fn money(cents: i128) -> Decimal {
    Decimal::try_from_i128_with_scale(cents, 2).unwrap_or(match cents < 0 {
        true => Decimal::MIN,
        false => Decimal::MAX,
    })
}

/// Cents as plain text: "1234.50", "-0.05", never "-0.00".
pub fn cents_text(cents: i128) -> String {
    money(cents).to_string()
}

/// Cents with the thousands grouped: "1,234.50".
pub fn cents_grouped(cents: i128) -> String {
    group_thousands(&cents_text(cents))
}

/// Groups the whole part of a plain decimal text: "-1234.5" gives "-1,234.5".
pub fn group_thousands(text: &str) -> String {
    let (sign, body) = text
        .strip_prefix('-')
        .map_or(("", text), |rest| ("-", rest));
    let (whole, part) = body
        .split_once('.')
        .map_or((body, None), |(w, p)| (w, Some(p)));
    let mut grouped = String::with_capacity(text.len() + text.len() / 3);
    grouped.push_str(sign);
    for (at, digit) in whole.chars().enumerate() {
        if at > 0 && (whole.len() - at) % 3 == 0 {
            grouped.push(',');
        }
        grouped.push(digit);
    }
    if let Some(part) = part {
        grouped.push('.');
        grouped.push_str(part);
    }
    grouped
}

/// Reads a plain amount, digits with an optional point and an optional leading minus.
/// `None` for any other text, and for more digits than a 28-digit decimal holds: nothing is rounded.
pub fn parse_money(text: &str) -> Option<Decimal> {
    // The decimal reader also takes exponents and underscores, which are not amounts.
    Exact::parse_plain(text).filter(|_| !text.contains(['/', ' ']))?;
    Decimal::from_str_exact(&text.replace('\u{2212}', "-")).ok()
}

/// Why an amount cannot be split.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum SplitError {
    /// No weights, or all of them zero: nothing says who takes what.
    NoWeight,
    /// A weight below zero, by its place in the list.
    NegativeWeight(usize),
    /// The total is not a whole number of steps, so no parts in steps can add up to it.
    NotWholeSteps,
    /// Arithmetic failed: a step that is not positive, or too many digits.
    Number(NumError),
}

impl fmt::Display for SplitError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            SplitError::NoWeight => {
                f.write_str("every share is zero, so nothing says how to split")
            }
            SplitError::NegativeWeight(at) => write!(f, "share {} is below zero", at + 1),
            SplitError::NotWholeSteps => f.write_str("the amount is not a whole number of steps"),
            SplitError::Number(error) => error.fmt(f),
        }
    }
}

impl std::error::Error for SplitError {}

impl From<NumError> for SplitError {
    fn from(error: NumError) -> SplitError {
        SplitError::Number(error)
    }
}

/// Splits `total` in proportion to `weights` into parts that are multiples of `step` and add to the
/// total exactly (largest remainder, Hare quota). Equal remainders go first in order. `total` and
/// `step` share a unit; a negative total splits as the positive one, negated. Errors: [`SplitError`].
pub fn largest_remainder(
    total: &Exact,
    step: &Exact,
    weights: &[Exact],
) -> Result<Vec<Exact>, SplitError> {
    if step.signum() <= 0 {
        return Err(NumError::DivideByZero.into());
    }
    let mut sum = Exact::ZERO;
    for (at, weight) in weights.iter().enumerate() {
        if weight.signum() < 0 {
            return Err(SplitError::NegativeWeight(at));
        }
        sum = sum.add(weight)?;
    }
    if sum.is_zero() {
        return Err(SplitError::NoWeight);
    }
    let steps = total.abs().div(step)?;
    if !steps.is_integer() {
        return Err(SplitError::NotWholeSteps);
    }
    let (mut parts, mut rests) = (
        Vec::with_capacity(weights.len()),
        Vec::with_capacity(weights.len()),
    );
    let mut left = steps.clone();
    for weight in weights {
        let quota = steps.mul(weight)?.div(&sum)?;
        let whole = quota.round_to(&Exact::ONE, Rounding::Down)?;
        left = left.sub(&whole)?;
        rests.push(quota.sub(&whole)?);
        parts.push(whole);
    }
    // Each remainder is under one, so fewer steps are left than there are parts.
    let extra = left.to_i64().and_then(|n| usize::try_from(n).ok());
    let extra = extra.ok_or(NumError::TooManyDigits)?;
    for at in greatest(&rests, extra) {
        parts[at] = parts[at].add(&Exact::ONE)?;
    }
    let signed = if total.signum() < 0 {
        step.neg()
    } else {
        step.clone()
    };
    parts.iter().map(|part| Ok(part.mul(&signed)?)).collect()
}

/// The places of the greatest remainders, so many of them. Equal ones go first in order.
pub fn greatest(rests: &[Exact], count: usize) -> Vec<usize> {
    let mut order: Vec<usize> = (0..rests.len()).collect();
    order.sort_by(|a, b| rests[*b].cmp(&rests[*a])); // stable: ties keep their order
    order.truncate(count);
    order
}

#[cfg(test)]
mod tests {
    use super::*;

    fn money(text: &str) -> Exact {
        parse_money(text).expect("an amount").into()
    }

    fn split(total: &str, step: &str, weights: &[i64]) -> Vec<String> {
        let weights: Vec<Exact> = weights.iter().copied().map(Exact::int).collect();
        let parts = largest_remainder(&money(total), &money(step), &weights).expect("splits");
        let sum = parts
            .iter()
            .try_fold(Exact::ZERO, |sum, part| sum.add(part))
            .expect("adds");
        assert_eq!(sum, money(total));
        parts.iter().map(|part| part.to_decimal(2).0).collect()
    }

    #[test]
    fn parts_add_to_the_whole() {
        // Computed by the largest-remainder method; the amounts are invented.
        assert_eq!(
            split("250.00", "0.01", &[3, 7, 11]),
            ["35.72", "83.33", "130.95"]
        );
        assert_eq!(
            split("100.00", "0.01", &[1, 1, 1]),
            ["33.34", "33.33", "33.33"]
        );
        assert_eq!(
            split("-100.00", "0.01", &[1, 1, 1]),
            ["-33.34", "-33.33", "-33.33"]
        );
        // Hare quota, ten seats: the textbook example of the method.
        assert_eq!(
            split("10", "1", &[47000, 16000, 15900, 12000, 6000, 3100]),
            ["5", "2", "1", "1", "1", "0"]
        );
        assert_eq!(split("5", "0.25", &[0, 1, 0]), ["0", "5", "0"]);
    }

    #[test]
    fn splits_that_cannot_be() {
        let split = |total, step, weights: &[Exact]| largest_remainder(&total, &step, weights);
        let cent = money("0.01");
        assert_eq!(
            split(Exact::ONE, cent.clone(), &[]),
            Err(SplitError::NoWeight)
        );
        assert_eq!(
            split(Exact::ONE, cent.clone(), &[Exact::ZERO]),
            Err(SplitError::NoWeight)
        );
        assert_eq!(
            split(money("0.005"), cent.clone(), &[Exact::ONE]),
            Err(SplitError::NotWholeSteps)
        );
        assert_eq!(
            split(Exact::ONE, cent, &[Exact::ONE, Exact::int(-1)]),
            Err(SplitError::NegativeWeight(1))
        );
        let no_step = split(Exact::ONE, Exact::ZERO, &[Exact::ONE]);
        assert_eq!(no_step, Err(SplitError::Number(NumError::DivideByZero)));
    }

    #[test]
    fn cents_round_once_and_print() {
        // Streamlined sales tax rule: 12.50 at 7 %, 19.95 at 6.25 %.
        let tax = |price: &str, rate: &str| {
            money(price)
                .mul(&money(rate))
                .expect("small")
                .to_cents(Rounding::HalfUp)
        };
        assert_eq!(tax("12.50", "0.07"), Ok(88));
        assert_eq!(tax("19.95", "0.0625"), Ok(125));
        assert_eq!(money("-0.004").to_cents(Rounding::HalfUp), Ok(0));
        assert_eq!(
            Exact::int(10)
                .pow(30)
                .expect("fits")
                .to_cents(Rounding::HalfUp),
            Err(NumError::TooManyDigits)
        );
        assert_eq!(cents_text(0), "0.00");
        assert_eq!(cents_text(-5), "-0.05");
        assert_eq!(cents_text(123_450), "1234.50");
        assert_eq!(cents_grouped(-123_450), "-1,234.50");
        assert_eq!(cents_grouped(99_999), "999.99");
        assert_eq!(
            cents_grouped(-1_234_567_890_123_456_789_012_345_678),
            "-12,345,678,901,234,567,890,123,456.78"
        );
        let most = Exact::from_cents(10i128.pow(24));
        assert_eq!(most.to_cents(Rounding::HalfUp), Ok(10i128.pow(24)));
        let more = most.add(&Exact::CENT).expect("fits");
        assert_eq!(
            more.to_cents(Rounding::HalfUp),
            Err(NumError::TooManyDigits)
        );
    }

    #[test]
    fn amounts_read_exactly_or_not_at_all() {
        assert_eq!(money("30.10"), Exact::ratio(301, 10).expect("not zero"));
        assert_eq!(money("\u{2212}0.05"), Exact::from_cents(-5));
        let long = "12345678901234567.89";
        assert_eq!(Some(money(long)), Exact::parse_plain(long));
        assert_eq!(money(long).decimal(), parse_money(long));
        assert_eq!(Exact::ratio(1, 3).and_then(|third| third.decimal()), None);
        for text in [
            "1e3",
            "1_000",
            ".5",
            "5.",
            "+5",
            "1,000",
            " 1",
            "",
            "1/2",
            "30 1/2",
            "0.12345678901234567890123456789",
        ] {
            assert_eq!(parse_money(text), None, "{text}");
        }
    }
}
