//! Numbers to text and back: plain decimals, fractions, mixed numbers.
//!
//! Knows digits. Must not know units, grouping or money; the one place where a binary double is met.

use crate::ids;
use num_bigint::BigInt;
use num_rational::BigRational;
use num_traits::{One, ToPrimitive, Zero};

use super::exact::Exact;
use super::round::{Rounding, round_big};

/// Most digits a written number may have, all its parts together.
pub const MAX_DIGITS: usize = 40;

impl Exact {
    /// Reads `12`, `12.50`, `3/4` or `30 1/2`, with an optional leading `-` or U+2212.
    /// `None` for anything else (no exponent, no grouping, no `.5` or `5.`, no zero divisor),
    /// and for more than [`MAX_DIGITS`] digits.
    pub fn parse_plain(text: &str) -> Option<Exact> {
        let (negative, body) = match text
            .strip_prefix('-')
            .or_else(|| text.strip_prefix('\u{2212}'))
        {
            Some(rest) => (true, rest),
            None => (false, text),
        };
        if body.bytes().filter(u8::is_ascii_digit).count() > MAX_DIGITS {
            return None;
        }
        let value = match body.split_once(' ') {
            Some((whole, fraction)) => whole_number(whole)?.add(&parse_fraction(fraction)?).ok()?,
            None if body.contains('/') => parse_fraction(body)?,
            None => parse_decimal(body)?,
        };
        Some(if negative { value.neg() } else { value })
    }

    /// Decimal places needed to write the value in full, when it terminates.
    pub fn terminates(&self) -> Option<u32> {
        if let Some((_, d)) = self.small() {
            let twos = d.trailing_zeros();
            let mut rest = d >> twos;
            let mut fives = 0;
            while rest % 5 == 0 {
                rest /= 5;
                fives += 1;
            }
            return (rest == 1).then_some(twos.max(fives));
        }
        let mut rest = self.to_big().denom().clone();
        let twos = rest.trailing_zeros().unwrap_or(0);
        rest >>= twos;
        let five = BigInt::from(5);
        let mut fives = 0u64;
        while (&rest % &five).is_zero() {
            rest /= &five;
            fives += 1;
        }
        // Both are below the bit cap, so they fit u32.
        rest.is_one().then(|| u32::try_from(twos.max(fives)).ok())?
    }

    /// Decimal text without trailing zeros and never "-0". `true` when it is the whole value;
    /// `false` when it was cut to `max_places`, rounded half to even.
    pub fn to_decimal(&self, max_places: u32) -> (String, bool) {
        match self.terminates() {
            Some(places) if places <= max_places => {
                (self.to_fixed(places, Rounding::HalfEven), true)
            }
            _ => {
                let text = self.to_fixed(max_places, Rounding::HalfEven);
                let text = match text.contains('.') {
                    true => text.trim_end_matches('0').trim_end_matches('.').to_owned(),
                    false => text,
                };
                (if text == "-0" { "0".to_owned() } else { text }, false)
            }
        }
    }

    /// Decimal text with exactly `places` decimals, rounded by `mode`; never "-0.00".
    pub fn to_fixed(&self, places: u32, mode: Rounding) -> String {
        let places = places.min(MAX_PLACES);
        if let Some(text) = self.fixed_small(places, mode) {
            return text;
        }
        // Unbounded here: the scaled numerator may pass the bit cap that results must keep.
        let big = self.to_big();
        let scaled = BigRational::from_integer(BigInt::from(10).pow(places)) * big;
        let digits = round_big(&scaled, mode);
        let negative = digits < BigInt::zero();
        place_point(negative, digits.magnitude().to_string(), places)
    }

    fn fixed_small(&self, places: u32, mode: Rounding) -> Option<String> {
        let (n, d) = self.small()?;
        let n = n.checked_mul(10i64.checked_pow(places)?)?;
        let digits = Exact::ratio(n, d)?
            .round_to(&Exact::ONE, mode)
            .ok()?
            .to_i64()?;
        Some(place_point(
            digits < 0,
            digits.unsigned_abs().to_string(),
            places,
        ))
    }

    /// Mixed number in `den`-ths, reduced: "30 1/2", "-3/8", "12". `None` when `self * den` is not
    /// whole or `den` is not positive.
    pub fn to_mixed(&self, den: i64) -> Option<String> {
        if den <= 0 || !self.mul(&Exact::int(den)).ok()?.is_integer() {
            return None;
        }
        let sign = if self.signum() < 0 { "-" } else { "" };
        let size = self.abs();
        let whole = size.round_to(&Exact::ONE, Rounding::Down).ok()?;
        let part = size.sub(&whole).ok()?;
        Some(match (whole.is_zero(), part.is_zero()) {
            (_, true) => format!("{sign}{whole}"),
            (true, false) => format!("{sign}{part}"),
            (false, false) => format!("{sign}{whole} {part}"),
        })
    }

    /// Inches as people say them: a mixed number in parts of a tape up to `den`, or with a denominator up to `den` where decimals
    /// would have no end: "30 1/2", "8 13/24". `None` where decimals say it better.
    pub fn to_inches(&self, den: i64) -> Option<String> {
        if let Some(text) = self.to_mixed(den) {
            return Some(text);
        }
        let (_, parts) = self.small()?;
        (parts <= den && self.terminates().is_none()).then(|| self.to_mixed(parts))?
    }

    /// The decimal a binary double most shortly stands for. `None` when it is not finite or its
    /// digits pass the cap of a number.
    /// The flag is `true` when the decimal has at most 15 significant digits, so was typed as such;
    /// `false` means it was computed, by a formula or as 1/3.
    pub fn from_f64_shortest(x: f64) -> Option<(Exact, bool)> {
        if !x.is_finite() {
            return None;
        }
        // The standard formatter gives the shortest text that reads back as the same double.
        let text = format!("{:e}", x.abs());
        let (mantissa, exponent) = text.split_once('e')?;
        let exponent: i32 = exponent.parse().ok()?;
        let digits: String = mantissa.chars().filter(char::is_ascii_digit).collect();
        let places = i32::try_from(digits.len()).ok()? - 1 - exponent;
        let whole: i64 = digits.parse().ok()?;
        let value = Exact::int(whole)
            .div(&Exact::int(10).pow(places).ok()?)
            .ok()?;
        let value = if x < 0.0 { value.neg() } else { value };
        Some((value, digits.trim_end_matches('0').len() <= 15))
    }
}

/// More decimals than any report asks for; bounds the work of printing.
const MAX_PLACES: u32 = 4096;

fn place_point(negative: bool, digits: String, places: u32) -> String {
    let places = ids::at(places);
    let mut text = String::with_capacity(digits.len() + 3);
    if negative {
        text.push('-');
    }
    if digits.len() <= places {
        text.push('0');
    } else {
        text.push_str(&digits[..digits.len() - places]);
    }
    if places > 0 {
        text.push('.');
        for _ in digits.len()..places {
            text.push('0');
        }
        text.push_str(&digits[digits.len().saturating_sub(places)..]);
    }
    text
}

fn whole_number(text: &str) -> Option<Exact> {
    if text.is_empty() || !text.bytes().all(|b| b.is_ascii_digit()) {
        return None;
    }
    match text.parse::<i64>() {
        Ok(n) => Some(Exact::int(n)),
        Err(_) => Exact::from_big(BigRational::from_integer(text.parse().ok()?)).ok(),
    }
}

fn parse_fraction(text: &str) -> Option<Exact> {
    let (n, d) = text.split_once('/')?;
    whole_number(n)?.div(&whole_number(d)?).ok()
}

fn parse_decimal(text: &str) -> Option<Exact> {
    let Some((whole, part)) = text.split_once('.') else {
        return whole_number(text);
    };
    if whole.is_empty() || part.is_empty() {
        return None;
    }
    if !part.bytes().all(|b| b.is_ascii_digit()) {
        return None;
    }
    // Up to 18 digits fit 64 bits, and so does their power of ten.
    if whole.len() + part.len() <= 18 {
        let scale = 10i64.checked_pow(part.len().to_u32()?)?;
        let digits = whole_small(whole)?
            .checked_mul(scale)?
            .checked_add(whole_small(part)?)?;
        return Exact::ratio(digits, scale);
    }
    let scale = Exact::int(10).pow(part.len().to_i32()?).ok()?;
    whole_number(&format!("{whole}{part}"))?.div(&scale).ok()
}

fn whole_small(text: &str) -> Option<i64> {
    text.bytes()
        .all(|b| b.is_ascii_digit())
        .then(|| text.parse().ok())?
}

#[cfg(test)]
#[path = "text_tests.rs"]
mod tests;
