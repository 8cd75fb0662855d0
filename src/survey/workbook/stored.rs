//! A stored cell to one of ours. The only place where binary numbers are met. Must not know rows or tabs.

use std::sync::Arc;

use calamine::{Data, DataRef, ExcelDateTime, Style};

use crate::number::Exact;
use crate::survey::raw::{DateCell, NumberCell, RawCell, number_text};
use crate::units::dates;

/// How a style shows a number.
#[derive(Debug, Clone, Default, PartialEq)]
pub(super) struct Shown {
    /// As a percent; `None` where the file format does not tell.
    pub(super) percent: Option<bool>,
    /// Words and signs before and behind it.
    pub(super) around: Option<Arc<(String, String)>>,
}

/// How a style of an XLSX workbook shows a number.
pub(super) fn shown(style: Option<&Style>) -> Shown {
    match style.and_then(|s| s.number_format.as_ref()) {
        Some(format) => shown_by(&format.format_code),
        None => Shown {
            percent: Some(false),
            around: None,
        },
    }
}

/// By its format code, of which the first section is for numbers above zero (ECMA-376 part 1, 18.8.31).
fn shown_by(code: &str) -> Shown {
    let (mut before, mut behind) = (String::new(), String::new());
    let (mut percent, mut number) = (false, false);
    let mut chars = code.chars();
    while let Some(c) = chars.next() {
        let to = if number { &mut behind } else { &mut before };
        match c {
            ';' => break,
            '"' => to.extend(chars.by_ref().take_while(|c| *c != '"')),
            '\\' => to.extend(chars.next()),
            // Room as wide as a character, or filled with it.
            '_' | '*' => {
                chars.next();
            }
            '[' => {
                // A currency is [$sign-locale]; others are colors and conditions.
                let inside: String = chars.by_ref().take_while(|c| *c != ']').collect();
                to.extend(
                    inside
                        .strip_prefix('$')
                        .map(|sign| sign.split('-').next().unwrap_or("")),
                );
            }
            '0'..='9' | '#' | '?' => {
                number = true;
                // What is between digits, as in telephone numbers, is nobody's unit.
                behind.clear();
            }
            '%' => percent = true,
            ' ' => to.push(' '),
            c if CURRENCY_SIGNS.contains(&c) => to.push(c),
            _ => {}
        }
    }
    let bare = before.trim().is_empty() && behind.trim().is_empty();
    let around = (number && !percent && !bare).then(|| {
        Arc::new((
            before.trim_start().to_string(),
            behind.trim_end().to_string(),
        ))
    });
    Shown {
        percent: Some(percent),
        around,
    }
}

/// Signs that are in a format without quotes.
const CURRENCY_SIGNS: [char; 5] = ['$', '€', '£', '¥', '₹'];

/// One of our cells.
pub(super) fn own_cell(value: &DataRef<'_>, shown: &Shown) -> RawCell {
    match value {
        DataRef::Empty => RawCell::Blank,
        DataRef::Int(i) => RawCell::Number(cell(Exact::int(*i), true, shown)),
        DataRef::Float(x) => number(*x, shown),
        DataRef::String(s) => text(s),
        DataRef::SharedString(s) => text(s),
        DataRef::Bool(b) => RawCell::Bool(*b),
        DataRef::DateTime(d) => RawCell::Date(date(d)),
        DataRef::DateTimeIso(s) => {
            let day = s.get(..10).unwrap_or(s);
            RawCell::Date(DateCell {
                days: dates::read(day).ok(),
                text: s.clone(),
            })
        }
        DataRef::DurationIso(s) => RawCell::Date(DateCell {
            days: None,
            text: s.clone(),
        }),
        DataRef::Error(e) => RawCell::Error(e.to_string()),
    }
}

fn text(s: &str) -> RawCell {
    if s.is_empty() {
        RawCell::Blank
    } else {
        RawCell::Text(s.to_string())
    }
}

fn cell(value: Exact, as_typed: bool, shown: &Shown) -> NumberCell {
    NumberCell {
        value,
        as_typed,
        percent: shown.percent,
        around: shown.around.clone(),
    }
}

fn number(x: f64, shown: &Shown) -> RawCell {
    match short_decimal(x)
        .map(|value| (value, true))
        .or_else(|| Exact::from_f64_shortest(x))
    {
        Some((value, as_typed)) => RawCell::Number(cell(value, as_typed, shown)),
        None => RawCell::Error("a number too large or too small to be a measure".to_string()),
    }
}

/// The short way for most numbers of a survey: the first of 0 to 6 places at which the decimal reads back as the same double.
/// Below 2^53 such a decimal is the shortest there is, since fewer places were tried before it.
#[expect(
    clippy::as_conversions,
    reason = "a whole number of 15 digits at most is held by both"
)]
fn short_decimal(x: f64) -> Option<Exact> {
    const MOST: f64 = 999_999_999_999_999.0;
    let mut power = 1.0;
    for den in [1, 10, 100, 1000, 10_000, 100_000, 1_000_000] {
        let scaled = (x * power).round();
        if scaled.abs() > MOST {
            return None;
        }
        if scaled / power == x {
            // Within 15 digits, so it fits.
            return Exact::ratio(scaled as i64, den);
        }
        power *= 10.0;
    }
    None
}

/// The double nearest to a number that came from one.
pub(crate) fn as_double(value: &Exact) -> f64 {
    number_text(value).parse().unwrap_or(0.0)
}

fn date(d: &ExcelDateTime) -> DateCell {
    if d.is_duration() {
        let minutes = (d.as_f64() * 1440.0).round();
        return DateCell {
            days: None,
            text: format!("{minutes} minutes as a length of time"),
        };
    }
    let (year, month, day, hour, minute, second, _) = d.to_ymd_hms_milli();
    let clock = format!("{hour:02}:{minute:02}:{second:02}");
    if d.as_f64() < 1.0 {
        return DateCell {
            days: None,
            text: format!("{clock} as a time of day"),
        };
    }
    let day_text = format!("{year:04}-{month:02}-{day:02}");
    let text = if (hour, minute, second) == (0, 0, 0) {
        day_text
    } else {
        format!("{day_text} {clock}")
    };
    DateCell {
        days: dates::days(i32::from(year), i32::from(month), i32::from(day)),
        text,
    }
}

/// The same cell without its own text, so that one way serves streamed and whole tabs.
pub(super) fn lend(value: &Data) -> DataRef<'_> {
    match value {
        Data::Int(i) => DataRef::Int(*i),
        Data::Float(x) => DataRef::Float(*x),
        Data::String(s) => DataRef::SharedString(s),
        Data::Bool(b) => DataRef::Bool(*b),
        Data::DateTime(d) => DataRef::DateTime(*d),
        Data::DateTimeIso(s) => DataRef::DateTimeIso(s.clone()),
        Data::DurationIso(s) => DataRef::DurationIso(s.clone()),
        Data::Error(e) => DataRef::Error(e.clone()),
        Data::Empty => DataRef::Empty,
    }
}

#[cfg(test)]
#[expect(
    clippy::as_conversions,
    reason = "the numbers of these tests are small"
)]
mod tests {
    use super::{Shown, as_double, number, short_decimal, shown_by};
    use crate::number::Exact;
    use crate::survey::raw::RawCell;

    #[test]
    fn the_short_way_gives_what_the_long_way_gives() {
        let mut seed = 1u64;
        let mut short = 0;
        for _ in 0..100_000 {
            seed = seed
                .wrapping_mul(6_364_136_223_846_793_005)
                .wrapping_add(1_442_695_040_888_963_407);
            let places = (seed >> 60) % 9;
            let x = ((seed >> 20) % 100_000_000) as f64 / 10f64.powi(places as i32);
            let long = Exact::from_f64_shortest(x);
            if let Some(value) = short_decimal(x) {
                short += 1;
                assert_eq!(Some((value.clone(), true)), long, "{x}");
                assert_eq!(as_double(&value), x);
            }
        }
        assert!(short > 50_000);
    }

    #[test]
    #[allow(clippy::excessive_precision)]
    fn numbers_that_are_none_are_errors_and_computed_ones_are_marked() {
        assert!(matches!(
            number(f64::NAN, &Shown::default()),
            RawCell::Error(_)
        ));
        assert!(matches!(
            number(f64::INFINITY, &Shown::default()),
            RawCell::Error(_)
        ));
        assert!(matches!(number(1.0 / 3.0, &Shown::default()), RawCell::Number(n) if !n.as_typed));
        // Some programs store 7 % so; it is the same double as 0.07.
        assert_eq!(
            number(0.07000000000000001, &Shown::default()),
            number(0.07, &Shown::default())
        );
        assert!(
            matches!(number(-30.125, &Shown::default()), RawCell::Number(n) if n.as_typed && Some(n.value.clone()) == Exact::ratio(-241, 8))
        );
    }

    #[test]
    fn a_format_tells_what_stands_around_a_number() {
        let cases = [
            ("General", None),
            ("0.00", None),
            ("#,##0.00_);[Red](#,##0.00)", None),
            ("# ?/8", None),
            ("0%", None),
            ("0\" mm\"", Some(("", " mm"))),
            ("0.0 \"ft\"", Some(("", " ft"))),
            ("0\\m\\m", Some(("", "mm"))),
            ("[$€-407] #,##0.00", Some(("€ ", ""))),
            ("#,##0.00 [$€]", Some(("", " €"))),
            ("\"$\"#,##0.00", Some(("$", ""))),
            ("_($* #,##0.00_);_($* (#,##0.00)", Some(("$", ""))),
            ("000\\-0000", None),
        ];
        for (code, expected) in cases {
            let around = shown_by(code).around;
            assert_eq!(
                around.as_ref().map(|a| (a.0.as_str(), a.1.as_str())),
                expected,
                "{code}"
            );
        }
        assert_eq!(
            (shown_by("0.0%").percent, shown_by("0\"%\"").percent),
            (Some(true), Some(false))
        );
    }
}
