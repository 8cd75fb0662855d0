//! Points on a scale: a day, a moment, a temperature. Two of them have a distance; they have no sum, and no part of them can be taken.
//!
//! Knows how points are written and printed. Must not know tables, columns or formulas.

use super::dates;
use super::dimension::{Base, Dim};
use crate::number::{Exact, Rounding, about, decimal};

/// What a point is a point of.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Scale {
    /// A day; its value is the whole days since 1970-01-01.
    Day,
    /// A day with an hour; its value is the days since 1970-01-01 00:00.
    Moment,
    /// A temperature; its value is degrees Fahrenheit.
    Temperature,
}

impl Scale {
    /// What the distance of two such points measures.
    pub fn step(self) -> Dim {
        match self {
            Scale::Day | Scale::Moment => Dim::base(Base::Time),
            Scale::Temperature => Dim::base(Base::Temperature),
        }
    }

    /// What it is, in words.
    pub fn words(self) -> &'static str {
        match self {
            Scale::Day => "a date",
            Scale::Moment => "a moment",
            Scale::Temperature => "a temperature",
        }
    }
}

/// A point as it is written in a sheet: `2026-03-21`, `2026-03-21 16:00`, `70 °F`. `None` where there is no such day, hour or scale.
pub fn read_point(text: &str) -> Option<(Scale, Exact)> {
    if let Some((number, degree)) = text.split_once(|c: char| c == '°' || c.is_alphabetic()) {
        let degrees = Exact::parse_plain(number.trim())?;
        let fahrenheit = match degree.trim_start_matches(['°', 'e', 'g', ' ']) {
            "F" => degrees,
            "C" => degrees
                .mul(&Exact::ratio(9, 5)?)
                .ok()?
                .add(&Exact::int(32))
                .ok()?,
            _ => return None,
        };
        return Some((Scale::Temperature, fahrenheit));
    }
    let mut words = text.split_whitespace();
    let day = i64::from(dates::standard(words.next()?)?);
    let Some(hour) = words.next() else {
        return Some((Scale::Day, Exact::int(day)));
    };
    let (hour, minute) = hour.split_once(':')?;
    let (hour, minute): (i64, i64) = (hour.parse().ok()?, minute.parse().ok()?);
    if words.next().is_some() || !(0..24).contains(&hour) || !(0..60).contains(&minute) {
        return None;
    }
    let minutes = Exact::ratio(hour * 60 + minute, 1440)?;
    Some((Scale::Moment, Exact::int(day).add(&minutes).ok()?))
}

/// The value of a day as columns of days hold it; `None` for part of a day, or one beyond 32 bits.
pub fn whole_days(value: &Exact) -> Option<i32> {
    i32::try_from(value.to_i64()?).ok()
}

/// A point as text: `2026-03-21`, `2026-03-21 16:00`, `70 °F`. A moment that is no whole minute is shown to the minute before and
/// begins with "≈".
pub fn point_text(scale: Scale, value: &Exact) -> String {
    let whole = |value: &Exact| value.round_to(&Exact::ONE, Rounding::Down).ok();
    match scale {
        Scale::Temperature => {
            format!("{} °F", decimal(value, 4))
        }
        Scale::Day | Scale::Moment => {
            let Some(day) = whole(value) else {
                return "a day too far away to print".to_owned();
            };
            let Some(date) = day
                .to_i64()
                .and_then(|d| i32::try_from(d).ok())
                .and_then(dates::text)
            else {
                return "a day too far away to print".to_owned();
            };
            if scale == Scale::Day {
                return date;
            }
            let minutes = value.sub(&day).and_then(|part| part.mul(&Exact::int(1440)));
            let Ok(minutes) = minutes else {
                return date;
            };
            let Some(shown) = whole(&minutes).and_then(|m| m.to_i64()) else {
                return date;
            };
            let text = format!("{date} {:02}:{:02}", shown / 60, shown % 60);
            about(text, minutes.is_integer())
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn points_are_read_and_printed_alike() {
        for text in [
            "2026-03-21",
            "2000-02-29",
            "2026-03-21 16:05",
            "1969-12-31 23:59",
            "70 °F",
            "-4 °F",
        ] {
            let (point, value) = read_point(text).expect(text);
            assert_eq!(point_text(point, &value), text);
        }
        for text in [
            "2026-02-30",
            "2026-3-21",
            "2026-03-21 24:00",
            "2026-03-21 12:60",
            "70 °K",
        ] {
            assert_eq!(read_point(text), None, "{text}");
        }
        assert_eq!(read_point("20 °C").map(|p| p.1), Some(Exact::int(68)));
        let third = Exact::ratio(1, 3 * 1440).expect("not zero");
        assert_eq!(point_text(Scale::Moment, &third), "≈1970-01-01 00:00");
    }
}
