//! The number of a written measurement: whole, decimal, fraction, or whole with a fraction.
//!
//! Knows points, commas, hyphens and slashes. Must not know units.

use crate::number::Exact;

use super::cell_text::{Kind, Normalised, Token, note};
use super::reading::{CellContext, Fault, RefusalKind, fault};

/// A number as it was written.
pub(super) struct Written {
    pub(super) value: Exact,
    /// In plain form with the decimal mark of the survey, for offering it again.
    pub(super) text: String,
    /// The whole number before a fraction.
    pub(super) whole: Option<Exact>,
    /// Above and below the line.
    pub(super) fraction: Option<(Exact, Exact)>,
}

/// Reads the number that starts `all` (its first token is one) and how many tokens it took.
pub(super) fn read_number(
    all: &[Token],
    context: &CellContext<'_>,
    normalised: &mut Vec<Normalised>,
) -> Result<(Written, usize), Fault> {
    if let Some((n, d)) = fraction_at(all) {
        return Ok((with_fraction(None, n, d)?, 3));
    }
    let Some(first) = digits(all.first()) else {
        return fault(RefusalKind::NotANumber, &[]);
    };
    let is_whole = first.bytes().all(|b| b.is_ascii_digit());
    // `30-1/2` with the hyphen close on both sides, or `30 1/2` with a blank.
    let hyphen = matches!(
        all.get(1),
        Some(Token {
            kind: Kind::Hyphen,
            spaced: false
        })
    );
    let rest = all.get(if hyphen { 2 } else { 1 }..).unwrap_or_default();
    let close = rest.first().is_some_and(|token| !token.spaced);
    if is_whole
        && close == hyphen
        && let Some((n, d)) = fraction_at(rest)
    {
        return Ok((
            with_fraction(Some(first), n, d)?,
            if hyphen { 5 } else { 4 },
        ));
    }
    let (value, text) = decimal(first, context, normalised)?;
    Ok((
        Written {
            value,
            text,
            whole: None,
            fraction: None,
        },
        1,
    ))
}

fn digits(token: Option<&Token>) -> Option<&str> {
    match token {
        Some(Token {
            kind: Kind::Number(text),
            ..
        }) => Some(text),
        _ => None,
    }
}

/// `n/d` written without blanks, at the start of `all`.
fn fraction_at(all: &[Token]) -> Option<(&str, &str)> {
    match all {
        [
            n,
            Token {
                kind: Kind::Slash,
                spaced: false,
            },
            d,
            ..,
        ] if !d.spaced => Some((digits(Some(n))?, digits(Some(d))?)),
        _ => None,
    }
}

fn with_fraction(whole: Option<&str>, n: &str, d: &str) -> Result<Written, Fault> {
    let read = |text: &str| match Exact::parse_plain(text) {
        Some(value) if value.is_integer() && !text.contains('.') => Ok(value),
        _ if text.len() > crate::number::MAX_DIGITS => fault(RefusalKind::TooManyDigits, &[]),
        _ => fault(RefusalKind::NotANumber, &[]),
    };
    let text = whole.map_or_else(|| format!("{n}/{d}"), |whole| format!("{whole} {n}/{d}"));
    let (n, d) = (read(n)?, read(d)?);
    let whole = whole.map(read).transpose()?;
    let Ok(part) = n.div(&d) else {
        return fault(RefusalKind::ZeroDivisor, &[]);
    };
    let Ok(value) = whole.as_ref().unwrap_or(&Exact::ZERO).add(&part) else {
        return fault(RefusalKind::TooManyDigits, &[]);
    };
    if whole.is_some() && n >= d {
        let choice = value.to_mixed(64).unwrap_or_else(|| text.clone());
        return fault(RefusalKind::ImproperFraction, &[choice]);
    }
    Ok(Written {
        value,
        text,
        whole,
        fraction: Some((n, d)),
    })
}

/// A whole or decimal number under the marks the survey declares.
fn decimal(
    raw: &str,
    context: &CellContext<'_>,
    normalised: &mut Vec<Normalised>,
) -> Result<(Exact, String), Fault> {
    let (point, group) = if context.decimal_comma {
        (',', '.')
    } else {
        ('.', ',')
    };
    if raw.starts_with(['.', ',']) || raw.ends_with(['.', ',']) {
        let plain = raw.trim_end_matches(['.', ',']);
        let choice = if plain.starts_with(['.', ',']) {
            format!("0{plain}")
        } else {
            plain.to_owned()
        };
        return fault(RefusalKind::LooseDecimal, &[choice]);
    }
    let (whole, part) = raw
        .split_once(point)
        .map_or((raw, None), |(whole, part)| (whole, Some(part)));
    let swapped: String = raw
        .chars()
        .map(|c| if c == group { point } else { c })
        .collect();
    let joined: String = whole.chars().filter(|c| *c != group).collect();
    if part.is_some_and(|part| !part.bytes().all(|b| b.is_ascii_digit())) {
        return fault(RefusalKind::NotANumber, &[]);
    }
    if whole.contains(group) {
        let mut runs = whole.split(group);
        let grouped =
            runs.next().is_some_and(|run| run.len() <= 3) && runs.all(|run| run.len() == 3);
        match (grouped, context.grouping || context.is_money()) {
            (true, true) => note(normalised, Normalised::GroupedDigits),
            (true, false) => {
                let joined = part.map_or_else(|| joined.clone(), |part| format!("{joined}.{part}"));
                return fault(RefusalKind::GroupedDigits, &[joined, swapped]);
            }
            (false, _) if part.is_none() && whole.matches(group).count() == 1 => {
                return fault(RefusalKind::DecimalComma, &[swapped]);
            }
            (false, _) => return fault(RefusalKind::NotANumber, &[]),
        }
    }
    if part.is_some() && context.decimal_comma {
        note(normalised, Normalised::DecimalComma);
    }
    let plain = part.map_or_else(|| joined.clone(), |part| format!("{joined}.{part}"));
    match Exact::parse_plain(&plain) {
        Some(value) => Ok((
            value,
            if context.decimal_comma {
                plain.replace('.', ",")
            } else {
                plain
            },
        )),
        None => fault(RefusalKind::TooManyDigits, &[]),
    }
}
