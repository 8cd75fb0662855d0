//! The characters of a written measurement, made plain and cut into tokens.
//!
//! Knows no-break spaces, prime marks, Unicode fractions and full-width digits. Must not know units
//! or what a token means.

use crate::number::{FOOT_MARKS, INCH_MARKS, fraction_of};

/// Something read as if it had been typed plainly; kept so that a survey report can say so.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Normalised {
    /// A fraction typed as one character, or with the fraction slash.
    UnicodeFraction,
    /// Prime or curly marks for feet and inches, or two single marks for inches.
    PrimeMarks,
    /// A no-break or otherwise special space, or an invisible character.
    NoBreakSpace,
    /// Digits or marks of double width.
    FullWidthDigits,
    /// A typographic minus or hyphen.
    Dash,
    /// A unit other than the column's own.
    OtherUnit,
    /// A percent sign in a column of plain numbers.
    PercentSign,
    /// Thousands grouped by a mark.
    GroupedDigits,
    /// A comma as the decimal mark, as declared.
    DecimalComma,
    /// A currency sign for the job's currency.
    CurrencySign,
}

/// A token and whether a blank is before it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Token {
    pub(super) kind: Kind,
    pub(super) spaced: bool,
}

#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum Kind {
    /// Digits with any points and commas among them, as written.
    Number(String),
    Slash,
    Hyphen,
    Foot,
    Inch,
    /// Letters, dots and raised powers.
    Word(String),
    /// Any other character.
    Mark(char),
}

/// The text in plain characters, trimmed, and what was changed to get there.
pub(super) fn plain(text: &str) -> (String, Vec<Normalised>) {
    let mut out = String::with_capacity(text.len());
    let mut changes = Vec::new();
    for c in text.chars() {
        let change = match c {
            ' '..='~' => {
                out.push(c);
                continue;
            }
            '\t' | '\r' | '\n' => {
                out.push(' ');
                continue;
            }
            '\u{200B}'..='\u{200F}' | '\u{2060}' | '\u{FEFF}' | '\u{00AD}' => {
                Normalised::NoBreakSpace
            }
            '\u{FF01}'..='\u{FF5E}' => {
                // The full-width forms are in ASCII order.
                out.extend(char::from_u32(u32::from(c) - 0xFEE0));
                Normalised::FullWidthDigits
            }
            _ if FOOT_MARKS.contains(&c) => {
                out.push('\'');
                Normalised::PrimeMarks
            }
            _ if INCH_MARKS.contains(&c) => {
                out.push('"');
                Normalised::PrimeMarks
            }
            '\u{2212}' | '\u{2010}' | '\u{2011}' | '\u{2012}' | '\u{2013}' => {
                out.push('-');
                Normalised::Dash
            }
            '\u{2044}' | '\u{2215}' => {
                out.push('/');
                Normalised::UnicodeFraction
            }
            _ if c.is_whitespace() => {
                out.push(' ');
                Normalised::NoBreakSpace
            }
            _ => match fraction_of(c) {
                Some(fraction) => {
                    if out.ends_with(|last: char| last.is_ascii_digit()) {
                        out.push(' ');
                    }
                    out.push_str(fraction);
                    out.push(' '); // so that digits behind it cannot join it
                    Normalised::UnicodeFraction
                }
                None => {
                    out.push(c);
                    continue;
                }
            },
        };
        note(&mut changes, change);
    }
    if out.contains("''") {
        out = out.replace("''", "\"");
        note(&mut changes, Normalised::PrimeMarks);
    }
    (out.trim().to_owned(), changes)
}

/// Adds a change once.
pub(super) fn note(changes: &mut Vec<Normalised>, change: Normalised) {
    if !changes.contains(&change) {
        changes.push(change);
    }
}

/// Cuts plain text into tokens. Every character ends up in one token or is a blank.
pub(super) fn tokens(text: &str) -> Vec<Token> {
    let chars: Vec<char> = text.chars().collect();
    let digit = |at: usize| chars.get(at).is_some_and(char::is_ascii_digit);
    let mut all = Vec::new();
    let (mut at, mut spaced) = (0, false);
    while let Some(&c) = chars.get(at) {
        if c == ' ' {
            (at, spaced) = (at + 1, true);
            continue;
        }
        let start = at;
        let kind = if digit(at) || (matches!(c, '.' | ',') && digit(at + 1)) {
            while digit(at)
                || (chars.get(at).is_some_and(|c| matches!(c, '.' | ','))
                    && (digit(at + 1) || at > start))
            {
                at += 1;
            }
            Kind::Number(chars[start..at].iter().collect())
        } else if c.is_alphabetic() {
            while chars
                .get(at)
                .is_some_and(|c| c.is_alphabetic() || matches!(c, '.' | '_' | '²' | '³'))
            {
                at += 1;
            }
            Kind::Word(chars[start..at].iter().collect())
        } else {
            at += 1;
            match c {
                '/' => Kind::Slash,
                '-' => Kind::Hyphen,
                '\'' => Kind::Foot,
                '"' => Kind::Inch,
                other => Kind::Mark(other),
            }
        };
        all.push(Token { kind, spaced });
        spaced = false;
    }
    all
}
