//! Days of a price book: `2026-05-31` and nothing that could be read two ways.

/// Days since 1970-01-01 of a date written year-month-day; `None` for any other text or a day that does not exist.
pub fn day_number(text: &str) -> Option<i32> {
    let mut parts = text.trim().split('-');
    let mut next = |digits: usize| -> Option<i32> {
        let part = parts.next()?;
        let plain = part.len() == digits && part.bytes().all(|b| b.is_ascii_digit());
        plain.then(|| part.parse().ok())?
    };
    let (year, month, day) = (next(4)?, next(2)?, next(2)?);
    if parts.next().is_some() || !(1..=12).contains(&month) || !(1..=days_in(year, month)).contains(&day) {
        return None;
    }
    // Years begin in March, so the leap day is the last of its year.
    let (year, month) = if month > 2 { (year, month - 3) } else { (year - 1, month + 9) };
    let before_year = year * 365 + year.div_euclid(4) - year.div_euclid(100) + year.div_euclid(400);
    Some(before_year + (153 * month + 2) / 5 + day - 1 - 719_468)
}

fn days_in(year: i32, month: i32) -> i32 {
    let leap = year % 4 == 0 && (year % 100 != 0 || year % 400 == 0);
    match month {
        2 if leap => 29,
        2 => 28,
        4 | 6 | 9 | 11 => 30,
        _ => 31,
    }
}

#[cfg(test)]
mod tests {
    use super::day_number;

    #[test]
    fn days_are_counted_through_leap_years() {
        assert_eq!(day_number("1970-01-01"), Some(0));
        assert_eq!(day_number("1970-03-01"), Some(59));
        assert_eq!(day_number("2000-02-29"), Some(11_016));
        assert_eq!(day_number("2000-03-01"), Some(11_017));
        assert_eq!(day_number("1969-12-31"), Some(-1));
        for text in ["2026-02-29", "1900-02-29", "2026-13-01", "2026-1-1", "1/5/2026", "2026-05-31-1", "", "2026-05"] {
            assert_eq!(day_number(text), None, "{text}");
        }
    }
}
