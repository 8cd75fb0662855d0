//! Hyphens that the bench reads as part of a measure and arithmetic as a minus.

use crate::number::{FOOT_MARKS, INCH_MARKS, fraction_of};

/// The one measure that a hyphen with no blank on either side may mean: a whole number and a fraction, or feet and inches.
pub(crate) fn joined_by_hyphen(before: &str, after: &str) -> Option<String> {
    let fraction = fraction_at(after);
    let digits = before.len() - before.trim_end_matches(|c: char| c.is_ascii_digit()).len();
    let (head, whole) = before.split_at(before.len() - digits);
    let part = |c: char| {
        c.is_alphanumeric()
            || matches!(c, '_' | '.' | '/')
            || FOOT_MARKS.contains(&c)
            || INCH_MARKS.contains(&c)
    };
    if digits > 0 && !fraction.is_empty() && !head.ends_with(part) {
        return Some(format!("{whole} {fraction}"));
    }
    let number = &after[..after
        .find(|c: char| !c.is_ascii_digit())
        .unwrap_or(after.len())];
    let feet = ["ft", "foot", "feet"]
        .into_iter()
        .find_map(|word| before.strip_suffix(word))
        .or_else(|| before.strip_suffix(FOOT_MARKS))?;
    let feet = feet.trim_end_matches(' ');
    let digits = feet.len() - feet.trim_end_matches(|c: char| c.is_ascii_digit()).len();
    let (head, whole) = feet.split_at(feet.len() - digits);
    if digits == 0 || number.is_empty() || head.ends_with(part) {
        return None;
    }
    // What comes after the inches: a further fraction, with a blank or a second hyphen.
    let rest = &after[number.len()..];
    let further = fraction_at(rest.trim_start_matches([' ', '-']));
    Some(match (fraction, further) {
        ("", "") => format!("{whole} ft {number} in"),
        ("", further) => format!("{whole} ft {number} {further} in"),
        (fraction, _) => format!("{whole} ft {fraction} in"),
    })
}

/// The day that digits joined by hyphens may mean, in its written form: `2026-3-21`.
pub(crate) fn looks_like_day(before: &str, after: &str) -> Option<String> {
    let run = |text: &str| {
        text.find(|c: char| !c.is_ascii_digit())
            .unwrap_or(text.len())
    };
    let year = before.len() - before.trim_end_matches(|c: char| c.is_ascii_digit()).len();
    let (head, year) = before.split_at(before.len() - year);
    let (month, rest) = after.split_at(run(after));
    let rest = rest.strip_prefix('-')?;
    let day = &rest[..run(rest)];
    let joined = head.ends_with(|c: char| c.is_alphanumeric() || "_./'\"".contains(c));
    if year.len() != 4 || joined || !(1..=2).contains(&month.len()) || !(1..=2).contains(&day.len())
    {
        return None;
    }
    Some(format!("{year}-{month:0>2}-{day:0>2}"))
}

/// The fraction a text begins with; empty if it begins with none.
fn fraction_at(text: &str) -> &str {
    let run = |text: &str| {
        text.find(|c: char| !c.is_ascii_digit())
            .unwrap_or(text.len())
    };
    let above = run(text);
    match text[above..].strip_prefix('/') {
        Some(below) if above > 0 && run(below) > 0 => &text[..above + 1 + run(below)],
        _ => match text.chars().next() {
            Some(c) if fraction_of(c).is_some() => &text[..c.len_utf8()],
            _ => "",
        },
    }
}

#[cfg(test)]
mod tests {
    use super::joined_by_hyphen;

    #[test]
    fn a_hyphen_joins_only_parts_of_one_measure() {
        let one = |text: &str| {
            let (before, after) = text
                .split_once('~')
                .expect("a mark where the hyphen stands");
            joined_by_hyphen(before, after)
        };
        assert_eq!(one("wide * 30~1/2 in").as_deref(), Some("30 1/2"));
        assert_eq!(one("2~½ in").as_deref(), Some("2 ½"));
        assert_eq!(one("2 ft~6 in").as_deref(), Some("2 ft 6 in"));
        assert_eq!(one("2'~6-1/2\"").as_deref(), Some("2 ft 6 1/2 in"));
        assert_eq!(one("2 ft 6~1/2 in").as_deref(), Some("6 1/2"));
        for plain in [
            "30 ~1/2 in",
            "30~ 1/2 in",
            "wide~1/2 in",
            "h1~1/2 in",
            "1/2~1/4",
            "30~2",
            "30.5~1/2",
            "2 in~1/2 in",
            "left~6 in",
            "10~",
        ] {
            assert_eq!(one(plain), None, "{plain}");
        }
    }
}
