//! The one grammar of written measurements, for survey cells: `30 1/2`, `2'-6 1/2"`, `775 mm`, `35 %`.
//!
//! Knows which texts have one meaning and which have two; the second kind is refused with the
//! readings offered. Must not know rows, headings or what is done with blanks.

use crate::number::{Exact, NumError};

use super::catalog;
use super::cell_text::{Kind, Normalised, Token, note, plain, tokens};
use super::dimension::{Dim, describe};
use super::number_text::{Written, read_number};
use super::reading::{CellContext, Fault, MAX_CELL, Reading, Refusal, RefusalKind, fault};
use super::unit::{UnitErrorKind, UnitExpr, parse_unit};

/// Reads one cell. Errors: [`Refusal`], whenever the text has no meaning or more than one.
pub fn read_quantity(text: &str, context: &CellContext<'_>) -> Result<Reading, Refusal> {
    if let Some(value) = bare_number(text, context) {
        return Ok(Reading::Value {
            value,
            unit: None,
            normalised: Vec::new(),
        });
    }
    read(text, context).map_err(|(code, mut choices)| {
        // Advice that would be refused in its turn is none.
        choices.retain(|choice| read(choice, context).is_ok());
        Refusal {
            code,
            found: text.chars().take(60).collect(),
            choices,
            expected: expected(context),
        }
    })
}

/// The common cases of `30.5` and `30 1/2`, without cutting tokens. Takes only what the grammar
/// would read the same way; a survey of a million cells is mostly these.
fn bare_number(text: &str, context: &CellContext<'_>) -> Option<Exact> {
    let plain = !context.decimal_comma && !context.default_unit.is_percent();
    if !plain
        || !text
            .bytes()
            .all(|b| b.is_ascii_digit() || matches!(b, b'.' | b' ' | b'/'))
    {
        return None;
    }
    let small = |text: &str| text.parse::<u16>().ok();
    let usual = match (text.split_once(' '), text.split_once('/')) {
        (None, None) => true,
        (Some((_, fraction)), Some(_)) => fraction
            .split_once('/')
            .is_some_and(|(n, d)| small(n).is_some() && small(n) < small(d)),
        _ => false,
    };
    context
        .default_unit
        .to_base(&usual.then(|| Exact::parse_plain(text))??)
        .ok()
}

fn expected(context: &CellContext<'_>) -> String {
    let unit = context
        .default_unit
        .text_after(context.nouns, &Exact::int(12));
    let kind = match context.default_unit.is_percent() {
        true => "a percent".to_owned(),
        false => describe(context.dim, context.nouns),
    };
    if unit.is_empty() {
        format!("{kind}, such as 12")
    } else {
        format!("{kind}, such as 12 {unit}")
    }
}

/// One number of a cell with the unit behind it.
struct Part {
    written: Written,
    /// Unit words as written, empty when there are none.
    unit: String,
    /// A hyphen is before it.
    hyphen: bool,
    /// A blank is before that hyphen and none behind it, as before a negative number.
    like_a_sign: bool,
}

fn read(text: &str, context: &CellContext<'_>) -> Result<Reading, Fault> {
    if text.chars().nth(MAX_CELL).is_some() {
        return fault(RefusalKind::TooLong, &[]);
    }
    let (text, mut normalised) = plain(text);
    let all = tokens(&text);
    refuse_what_is_no_number(&all)?;
    let (negative, prefix, start) = opening(&all, context, &mut normalised);
    let parts = parts(&all[start..], context, &mut normalised)?;
    let (value, unit) = match parts.as_slice() {
        [part] => single(part, prefix, context, &mut normalised)?,
        several => compound(several, prefix.as_deref(), context)?,
    };
    if unit.as_ref().is_some_and(|unit| !unit.is_percent()) {
        note(&mut normalised, Normalised::OtherUnit);
    }
    let value = if negative { value.neg() } else { value };
    Ok(Reading::Value {
        value,
        unit,
        normalised,
    })
}

fn refuse_what_is_no_number(all: &[Token]) -> Result<(), Fault> {
    let is_ditto = |token: &Token| matches!(token.kind, Kind::Inch | Kind::Mark('〃'));
    if all.is_empty() {
        return fault(RefusalKind::Empty, &[]);
    }
    if all.iter().all(is_ditto) {
        return fault(RefusalKind::DittoMark, &[]);
    }
    let first_number = all
        .iter()
        .position(|token| matches!(token.kind, Kind::Number(_)))
        .unwrap_or(all.len());
    let in_front = |token: &Token| {
        all.iter()
            .take(first_number)
            .any(|t| std::ptr::eq(t, token))
    };
    let doubted = |token: &Token| match &token.kind {
        Kind::Mark(c) => matches!(c, '~' | '?' | '+' | '±' | '≈' | '<' | '>' | '≤' | '≥'),
        Kind::Word(word) => {
            let word = word.trim_end_matches('.').to_lowercase();
            // Behind a number a lone c may be cents.
            matches!(word.as_str(), "about" | "approx" | "circa")
                || matches!(word.as_str(), "ca" | "c") && in_front(token)
        }
        Kind::Number(_) | Kind::Slash | Kind::Hyphen | Kind::Foot | Kind::Inch => false,
    };
    if all.iter().any(doubted) {
        let sure = |token: &Token| !doubted(token);
        let ends = all.iter().position(sure).zip(all.iter().rposition(sure));
        // A sign between two numbers joins them in some way; without it they would be another number.
        let kept = ends
            .and_then(|(first, last)| all.get(first..=last))
            .filter(|kept| kept.iter().all(sure));
        let number: Vec<String> = kept
            .map(|kept| written(kept).trim().to_owned())
            .into_iter()
            .collect();
        return fault(RefusalKind::Doubtful, &number);
    }
    if !all
        .iter()
        .any(|token| matches!(token.kind, Kind::Number(_)))
    {
        return fault(RefusalKind::NotANumber, &[]);
    }
    Ok(())
}

/// The sign and currency before the first number, and where the number starts.
fn opening(
    all: &[Token],
    context: &CellContext<'_>,
    normalised: &mut Vec<Normalised>,
) -> (bool, Option<String>, usize) {
    let (mut negative, mut prefix) = (false, None);
    let mut at = 0;
    while let Some(token) = all.get(at) {
        match &token.kind {
            Kind::Hyphen if !negative => negative = true,
            Kind::Mark(c) if catalog::is_sign(*c) && prefix.is_none() => {
                if context.currency.is_some() {
                    note(normalised, Normalised::CurrencySign);
                }
                prefix = Some(c.to_string());
            }
            Kind::Word(code) if catalog::currency(code).is_some() && prefix.is_none() => {
                prefix = Some(code.clone())
            }
            Kind::Number(_)
            | Kind::Slash
            | Kind::Hyphen
            | Kind::Foot
            | Kind::Inch
            | Kind::Word(_)
            | Kind::Mark(_) => break,
        }
        at += 1;
    }
    (negative, prefix, at)
}

/// Cuts the tokens into numbers with their units.
fn parts(
    all: &[Token],
    context: &CellContext<'_>,
    normalised: &mut Vec<Normalised>,
) -> Result<Vec<Part>, Fault> {
    let mut parts: Vec<Part> = Vec::new();
    let (mut at, mut hyphen, mut like_a_sign) = (0, false, false);
    while at < all.len() {
        match all[at].kind {
            Kind::Number(_) => {
                like_a_sign &= !all[at].spaced;
                let (number, used) = read_number(&all[at..], context, normalised)?;
                at += used;
                let (unit, used) = unit_words(&all[at..]);
                at += used;
                parts.push(Part {
                    written: number,
                    unit,
                    hyphen,
                    like_a_sign,
                });
                (hyphen, like_a_sign) = (false, false);
            }
            Kind::Hyphen if !parts.is_empty() && !hyphen => {
                (hyphen, like_a_sign) = (true, all[at].spaced);
                at += 1;
            }
            _ if !parts.is_empty()
                && matches!(all.get(at + 1).map(|t| &t.kind), Some(Kind::Number(_))) =>
            {
                // Whatever joins them ("x", "/", "or"), two numbers are no measurement.
                let last = written(&all[at + 1..]);
                let first = parts
                    .last()
                    .map(|part| part.written.text.clone())
                    .unwrap_or_default();
                return fault(RefusalKind::TwoNumbers, &[first, last]);
            }
            Kind::Slash
            | Kind::Hyphen
            | Kind::Foot
            | Kind::Inch
            | Kind::Word(_)
            | Kind::Mark(_) => return fault(RefusalKind::NotANumber, &[]),
        }
    }
    if hyphen || parts.is_empty() {
        return fault(RefusalKind::NotANumber, &[]);
    }
    Ok(parts)
}

/// Words that join two numbers rather than name a unit.
fn is_joint(token: &Token) -> bool {
    match &token.kind {
        Kind::Word(word) => matches!(
            word.to_lowercase().as_str(),
            "x" | "by" | "or" | "to" | "and"
        ),
        Kind::Slash | Kind::Mark(_) => true,
        Kind::Number(_) | Kind::Hyphen | Kind::Foot | Kind::Inch => false,
    }
}

/// The unit behind a number, as one text, and how many tokens it took.
fn unit_words(all: &[Token]) -> (String, usize) {
    match all.first().map(|token| &token.kind) {
        Some(Kind::Foot) => return ("ft".to_owned(), 1),
        Some(Kind::Inch) => return ("in".to_owned(), 1),
        _ => {}
    }
    let mut used = 0;
    while let Some(token) = all.get(used) {
        let number_next = matches!(all.get(used + 1).map(|t| &t.kind), Some(Kind::Number(_)));
        let stops = matches!(
            token.kind,
            Kind::Number(_) | Kind::Hyphen | Kind::Foot | Kind::Inch
        );
        if stops || (number_next && is_joint(token)) {
            break;
        }
        used += 1;
    }
    (written(&all[..used]).trim().to_owned(), used)
}

/// Tokens as text again.
fn written(all: &[Token]) -> String {
    let mut text = String::new();
    for token in all {
        if token.spaced && !text.is_empty() {
            text.push(' ');
        }
        match &token.kind {
            Kind::Number(word) | Kind::Word(word) => text.push_str(word),
            Kind::Slash => text.push('/'),
            Kind::Hyphen => text.push('-'),
            Kind::Foot => text.push('\''),
            Kind::Inch => text.push('"'),
            Kind::Mark(c) => text.push(*c),
        }
    }
    text
}

fn read_unit(words: &str, number: &Written, context: &CellContext<'_>) -> Result<UnitExpr, Fault> {
    parse_unit(words, context.nouns, context.currency).map_err(|error| {
        let code = match error.kind {
            UnitErrorKind::OtherCurrency => RefusalKind::OtherCurrency,
            UnitErrorKind::Unknown | UnitErrorKind::Missing | UnitErrorKind::TooMany => {
                RefusalKind::UnknownUnit
            }
        };
        let mended = error
            .suggestion
            .filter(|_| code == RefusalKind::UnknownUnit);
        (
            code,
            mended
                .map(|unit| format!("{} {}", number.text, words.replace(&error.found, &unit)))
                .into_iter()
                .collect(),
        )
    })
}

/// A number with one unit, or none.
fn single(
    part: &Part,
    prefix: Option<String>,
    context: &CellContext<'_>,
    normalised: &mut Vec<Normalised>,
) -> Result<(Exact, Option<UnitExpr>), Fault> {
    let number = &part.written;
    if prefix.is_none() && part.unit.is_empty() {
        refuse_two_meanings(number, context)?;
        return Ok((in_base(context.default_unit, number)?, None));
    }
    let words = match prefix {
        Some(prefix) => format!("{prefix} {}", part.unit),
        None => part.unit.clone(),
    };
    let unit = read_unit(&words, number, context)?;
    if unit.dim() != context.dim {
        return fault(RefusalKind::OtherDimension, &[]);
    }
    if unit.is_percent() && !context.default_unit.is_percent() {
        note(normalised, Normalised::PercentSign);
    }
    let value = in_base(&unit, number)?;
    Ok((value, (unit != *context.default_unit).then_some(unit)))
}

/// Bare numbers that people write for two different things.
fn refuse_two_meanings(number: &Written, context: &CellContext<'_>) -> Result<(), Fault> {
    if context.default_unit.is_percent() && number.value.signum() != 0 && number.value < Exact::ONE
    {
        let times = number
            .value
            .mul(&Exact::int(100))
            .unwrap_or_default()
            .to_decimal(6)
            .0;
        let times = if context.decimal_comma {
            times.replace('.', ",")
        } else {
            times
        };
        return fault(
            RefusalKind::PercentOrFraction,
            &[format!("{} %", number.text), format!("{times} %")],
        );
    }
    let Some((n, d)) = &number.fraction else {
        return Ok(());
    };
    let length = *context.dim == Dim::length(1);
    let mut choices = vec![
        number
            .value
            .to_mixed(64)
            .unwrap_or_else(|| number.text.clone()),
    ];
    if !context.default_unit.is_empty() {
        choices[0].push(' ');
        choices[0].push_str(
            &context
                .default_unit
                .text_after(context.nouns, &number.value),
        );
    }
    if length && number.whole.is_none() && *d < Exact::int(12) {
        choices.push(format!("{n} ft {d} in"));
    }
    if number.whole.is_none() && n >= d {
        let in_quarters = context.quarters && *d == Exact::int(4);
        return if in_quarters {
            Ok(())
        } else {
            fault(RefusalKind::ImproperFraction, &choices)
        };
    }
    let value = in_base(context.default_unit, number)?;
    let outside = context
        .plausible
        .is_some_and(|(least, most)| value < *least || value > *most);
    if outside && length && number.whole.is_none() {
        return fault(RefusalKind::SlashPair, &choices);
    }
    Ok(())
}

fn in_base(unit: &UnitExpr, number: &Written) -> Result<Exact, Fault> {
    unit.to_base(&number.value)
        .or(fault(RefusalKind::TooManyDigits, &[]))
}

/// Several numbers: feet and inches, pounds and ounces, hours and minutes; anything else is refused.
fn compound(
    parts: &[Part],
    prefix: Option<&str>,
    context: &CellContext<'_>,
) -> Result<(Exact, Option<UnitExpr>), Fault> {
    let texts: Vec<String> = parts
        .iter()
        .map(|part| {
            format!("{} {}", part.written.text, part.unit)
                .trim()
                .to_owned()
        })
        .collect();
    if let [first, second] = parts
        && first.unit.is_empty()
        && first.written.fraction.is_none()
        && first.written.value.is_integer()
        && second.hyphen
        && second.written.whole.is_none()
        && second.written.fraction.as_ref().is_some_and(|(n, d)| n < d)
    {
        let (whole, part) = (&first.written.text, &texts[1]);
        return fault(
            RefusalKind::HyphenPair,
            &[format!("{whole} {part}"), whole.clone(), part.clone()],
        );
    }
    if let ([first, second], true) = (parts, *context.dim == Dim::length(1)) {
        let (feet, inches) = (&first.written.text, &second.written.text);
        if first.unit == "ft" && second.unit.is_empty() {
            let choices = [format!("{feet} ft {inches} in"), format!("{feet} ft")];
            return fault(RefusalKind::MissingInchMark, &choices);
        }
        if first.unit.is_empty() && second.hyphen && second.unit.is_empty() {
            return fault(
                RefusalKind::HyphenPair,
                &[
                    format!("{feet} ft {inches} in"),
                    feet.clone(),
                    inches.clone(),
                ],
            );
        }
    }
    let mut read = Vec::with_capacity(parts.len());
    for part in parts.iter().filter(|part| !part.unit.is_empty()) {
        read.push((
            part.written.value.clone(),
            read_unit(&part.unit, &part.written, context)?,
        ));
    }
    if prefix.is_some() || read.len() < parts.len() {
        return fault(RefusalKind::TwoNumbers, &texts);
    }
    if read.iter().any(|(_, unit)| unit.dim() != context.dim) {
        return fault(RefusalKind::OtherDimension, &texts);
    }
    if parts.iter().any(|part| part.like_a_sign) {
        return fault(RefusalKind::HyphenPair, &joined_or_less(parts, &read));
    }
    match sum_of_parts(&read) {
        Ok(value) => Ok((
            value,
            read.pop()
                .map(|(_, unit)| unit)
                .filter(|unit| unit != context.default_unit),
        )),
        Err(RefusalKind::PartTooLarge) => fault(RefusalKind::PartTooLarge, &[]),
        Err(code) => fault(code, &texts),
    }
}

/// What `5 ft -3 in` may mean: 5 ft 3 in, or three inches less than five feet.
fn joined_or_less(parts: &[Part], read: &[(Exact, UnitExpr)]) -> Vec<String> {
    let text = |part: &Part| format!("{} {}", part.written.text, part.unit);
    let joined: Vec<String> = parts.iter().map(text).collect();
    let mut choices = vec![joined.join(" ")];
    let less = |sum: &Exact, (part, (number, unit)): (&Part, &(Exact, UnitExpr))| {
        let value = unit.to_base(number).ok()?;
        let signed = if part.like_a_sign { value.neg() } else { value };
        sum.add(&signed).ok()
    };
    let sum = parts
        .iter()
        .zip(read)
        .try_fold(Exact::ZERO, |sum, both| less(&sum, both));
    if let (Some(sum), Some((_, unit)), Some(last)) = (sum, read.last(), parts.last())
        && let Some(number) = unit.from_base(&sum).ok().and_then(|n| n.to_mixed(64))
    {
        choices.push(format!("{number} {}", last.unit));
    }
    choices
}

/// The value, in base units, of a number written in falling units of one dimension: 2 ft 6 1/2 in.
/// All but the last are whole, and each part is less than one of the unit before it.
/// Errors: [`RefusalKind::TwoNumbers`], [`RefusalKind::PartTooLarge`], [`RefusalKind::TooManyDigits`].
pub fn sum_of_parts(parts: &[(Exact, UnitExpr)]) -> Result<Exact, RefusalKind> {
    let too_long = |_: NumError| RefusalKind::TooManyDigits;
    let mut sum = Exact::ZERO;
    for (at, (number, unit)) in parts.iter().enumerate() {
        let value = unit.to_base(number).map_err(too_long)?;
        if let Some((_, larger)) = at.checked_sub(1).and_then(|before| parts.get(before)) {
            if larger.dim() != unit.dim()
                || unit.dim().is_none()
                || larger.factor() <= unit.factor()
            {
                return Err(RefusalKind::TwoNumbers);
            }
            if value >= *larger.factor() {
                return Err(RefusalKind::PartTooLarge);
            }
        }
        if at + 1 < parts.len() && !number.is_integer() {
            return Err(RefusalKind::TwoNumbers);
        }
        sum = sum.add(&value).map_err(too_long)?;
    }
    Ok(sum)
}

#[cfg(test)]
#[path = "quantity_tests.rs"]
mod tests;
