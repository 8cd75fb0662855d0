//! Holidays.
//!
//! ```
//! use ovolo::calendar::clock::day_of;
//! use ovolo::calendar::holidays::federal;
//! let day = |text: &str| day_of(text.parse().expect("a date"));
//! // In 2026, July 4 is a Saturday and is observed on the Friday before.
//! assert!(federal(day("2026-07-01"), day("2026-07-31")).contains(&day("2026-07-03")));
//! ```

use super::clock::{date_of, day_of};
use jiff::civil::{Date, Weekday};
use std::collections::BTreeSet;

/// The days on which the legal public holidays of 5 U.S.C. 6103 are observed, from one day to another, both included, as days
/// since 1970-01-01.
///
/// A holiday on a Saturday is observed on the Friday before and one on a Sunday on the Monday after, so a year's list may hold
/// a day of the year before. Inauguration Day, kept in and around Washington alone, is left out.
pub fn federal(from: i32, to: i32) -> BTreeSet<i32> {
    let years = date_of(from).year()..=date_of(to).year().saturating_add(1);
    years
        .flat_map(named)
        .map(|date| day_of(observed(date)))
        .filter(|day| (from..=to).contains(day))
        .collect()
}

/// The holidays of a year on their own dates.
fn named(year: i16) -> Vec<Date> {
    let mut days: Vec<Date> = [(1, 1), (7, 4), (11, 11), (12, 25)]
        .into_iter()
        .filter_map(|(month, day)| Date::new(year, month, day).ok())
        .collect();
    if year >= 2021 {
        days.extend(Date::new(year, 6, 19));
    }
    let weekdays = [
        (1, 3, Weekday::Monday),
        (2, 3, Weekday::Monday),
        (5, -1, Weekday::Monday),
        (9, 1, Weekday::Monday),
        (10, 2, Weekday::Monday),
        (11, 4, Weekday::Thursday),
    ];
    days.extend(weekdays.into_iter().filter_map(|(month, nth, weekday)| {
        Date::new(year, month, 1)
            .and_then(|first| first.nth_weekday_of_month(nth, weekday))
            .ok()
    }));
    days
}

/// The weekday on which a holiday is kept.
pub fn observed(date: Date) -> Date {
    let moved = match date.weekday() {
        Weekday::Saturday => date.yesterday(),
        Weekday::Sunday => date.tomorrow(),
        Weekday::Monday
        | Weekday::Tuesday
        | Weekday::Wednesday
        | Weekday::Thursday
        | Weekday::Friday => Ok(date),
    };
    moved.unwrap_or(date)
}
