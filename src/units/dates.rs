//! Days of the calendar: text to a count of days and back. Must not know cells or workbooks.
//!
//! Read are `2026-06-01`, `2026/6/1`, and any order with the month's name. `6/1/2026` has two readings and is refused.

const MONTHS: [&str; 12] = [
    "january",
    "february",
    "march",
    "april",
    "may",
    "june",
    "july",
    "august",
    "september",
    "october",
    "november",
    "december",
];

/// Days since 1970-01-01. Errors: the readings on offer, none where it is no date at all.
pub(crate) fn read(text: &str) -> Result<i32, Vec<String>> {
    if let Some(days) = standard(text) {
        return Ok(days);
    }
    let parts: Vec<&str> = text
        .split(|c: char| matches!(c, '-' | '/' | '.' | ',') || c.is_whitespace())
        .filter(|p| !p.is_empty())
        .collect();
    let [a, b, c] = parts.as_slice() else {
        return Err(Vec::new());
    };
    let number = |t: &str| {
        (t.len() <= 4 && t.bytes().all(|b| b.is_ascii_digit()))
            .then(|| t.parse::<i32>().ok())
            .flatten()
    };
    let day_number = |t: &str| number(t.trim_end_matches(['s', 't', 'n', 'd', 'r', 'h']));
    let found = match (number(a), number(b), number(c)) {
        (Some(y), Some(m), Some(d)) if a.len() == 4 => days(y, m, d),
        (Some(x), Some(y), Some(year)) if c.len() == 4 => {
            let offer = [(x, y), (y, x)]
                .into_iter()
                .filter_map(|(m, d)| days(year, m, d))
                .map(to_text)
                .collect::<Vec<_>>();
            return Err(offer);
        }
        (_, _, Some(year)) if c.len() == 4 => match (month(a), month(b)) {
            (Some(m), None) => day_number(b).and_then(|d| days(year, m, d)),
            (None, Some(m)) => day_number(a).and_then(|d| days(year, m, d)),
            _ => None,
        },
        (Some(year), None, Some(d)) if a.len() == 4 => month(b).and_then(|m| days(year, m, d)),
        _ => None,
    };
    found.ok_or_else(Vec::new)
}

/// `2026-06-01`, as most programs write it: nothing is cut up for it.
pub(super) fn standard(text: &str) -> Option<i32> {
    let [y0, y1, y2, y3, b'-', m0, m1, b'-', d0, d1] = text.as_bytes() else {
        return None;
    };
    let number = |digits: &[&u8]| {
        digits.iter().try_fold(0, |sum, d| {
            d.is_ascii_digit().then(|| sum * 10 + i32::from(**d - b'0'))
        })
    };
    days(
        number(&[y0, y1, y2, y3])?,
        number(&[m0, m1])?,
        number(&[d0, d1])?,
    )
}

fn month(text: &str) -> Option<i32> {
    let lower = text.to_lowercase();
    let at = MONTHS
        .iter()
        .position(|m| lower.len() >= 3 && m.starts_with(&lower))?;
    i32::try_from(at + 1).ok()
}

/// Days since 1970-01-01 of a day of the Gregorian calendar; `None` where there is no such day.
pub(crate) fn days(year: i32, month: i32, day: i32) -> Option<i32> {
    let leap = year % 4 == 0 && (year % 100 != 0 || year % 400 == 0);
    let lengths = [
        31,
        if leap { 29 } else { 28 },
        31,
        30,
        31,
        30,
        31,
        31,
        30,
        31,
        30,
        31,
    ];
    let length = *lengths.get(usize::try_from(month - 1).ok()?)?;
    if !(1..=9999).contains(&year) || !(1..=length).contains(&day) {
        return None;
    }
    // Years are counted from March, so that the leap day comes last.
    let (y, m) = if month > 2 {
        (year, month - 3)
    } else {
        (year - 1, month + 9)
    };
    let century_days = y * 365 + y.div_euclid(4) - y.div_euclid(100) + y.div_euclid(400);
    Some(century_days + (153 * m + 2) / 5 + day - 1 - 719_468)
}

/// `2026-06-01`; `None` outside the years 1 to 9999.
pub(crate) fn text(days: i32) -> Option<String> {
    let first = self::days(1, 1, 1)?;
    let last = self::days(9999, 12, 31)?;
    (first..=last).contains(&days).then(|| to_text(days))
}

/// `2026-06-01`, of a day that was read.
pub(crate) fn to_text(days: i32) -> String {
    let z = days + 719_468;
    let era = z.div_euclid(146_097);
    let rest = z.rem_euclid(146_097);
    let year_of_era = (rest - rest / 1460 + rest / 36_524 - rest / 146_096) / 365;
    let day_of_year = rest - (365 * year_of_era + year_of_era / 4 - year_of_era / 100);
    let m = (5 * day_of_year + 2) / 153;
    let day = day_of_year - (153 * m + 2) / 5 + 1;
    let month = if m < 10 { m + 3 } else { m - 9 };
    let year = year_of_era + era * 400 + i32::from(month <= 2);
    format!("{year:04}-{month:02}-{day:02}")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn days_and_text_agree_over_four_centuries() {
        assert_eq!(days(1970, 1, 1), Some(0));
        // 2000-03-01 is 11017 days after 1970-01-01 (30 years of 365 days, 8 leap days, 59 days).
        assert_eq!(days(2000, 3, 1), Some(30 * 365 + 8 - 1 + 31 + 29));
        for d in -150_000..150_000 {
            assert_eq!(read(&to_text(d)), Ok(d));
        }
    }

    #[test]
    fn a_day_is_read_only_when_it_can_mean_one_thing() {
        let june = days(2026, 6, 1).ok_or(Vec::new());
        for text in [
            "2026-06-01",
            "2026/6/1",
            "1 June 2026",
            "June 1, 2026",
            "1-Jun-2026",
            "Jun 1st, 2026",
            "2026 Jun 1",
        ] {
            assert_eq!(read(text), june, "{text}");
        }
        assert_eq!(
            read("6/1/2026"),
            Err(vec!["2026-06-01".to_string(), "2026-01-06".to_string()])
        );
        assert_eq!(read("13/1/2026"), Err(vec!["2026-01-13".to_string()]));
        for text in [
            "2026-02-29",
            "2026-13-01",
            "soon",
            "1 2",
            "1 Juin 2026",
            "99999-1-1",
            "",
        ] {
            assert_eq!(read(text), Err(vec![]), "{text}");
        }
    }
}
