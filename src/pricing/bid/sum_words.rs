//! A sum of money in words, as it is beside its figures on a bid.

use crate::number::{Exact, Style, Written};

/// The names of a currency's whole and its hundredth, for sums in English words.
const CURRENCIES: &[(&str, &str, &str)] = &[
    ("USD", "dollar", "dollars"),
    ("CAD", "Canadian dollar", "Canadian dollars"),
    ("AUD", "Australian dollar", "Australian dollars"),
    ("GBP", "pound sterling", "pounds sterling"),
    ("EUR", "euro", "euros"),
];

const SMALL: [&str; 20] = [
    "zero",
    "one",
    "two",
    "three",
    "four",
    "five",
    "six",
    "seven",
    "eight",
    "nine",
    "ten",
    "eleven",
    "twelve",
    "thirteen",
    "fourteen",
    "fifteen",
    "sixteen",
    "seventeen",
    "eighteen",
    "nineteen",
];

const TENS: [&str; 10] = [
    "", "", "twenty", "thirty", "forty", "fifty", "sixty", "seventy", "eighty", "ninety",
];

const GROUPS: [&str; 5] = ["", " thousand", " million", " billion", " trillion"];

/// Cents in words: `one hundred fifty-three thousand eighty and 00/100 dollars`. None for a currency without words here, and
/// beyond 999 trillion.
pub fn sum_in_words(cents: i128, currency: &str) -> Option<String> {
    let (_, one, many) = CURRENCIES.iter().find(|(code, ..)| *code == currency)?;
    let size = cents.unsigned_abs();
    let (whole, rest) = (size / 100, size % 100);
    let name = if whole == 1 && rest == 0 { one } else { many };
    let sign = if cents < 0 { "minus " } else { "" };
    Some(format!(
        "{sign}{} and {rest:02}/100 {name}",
        whole_in_words(whole)?
    ))
}

/// A share as a percent in words and figures: `ten percent (10 %)`; what is no whole percent to two places: `seven and 50/100 percent
/// (7.5 %)`. Figures alone for a share that needs more places or is not between 0 and 1.
pub fn percent_in_words(share: &Exact) -> String {
    let places = share.mul(&Exact::int(10_000)).ok();
    let places = places.filter(Exact::is_integer).and_then(|n| n.to_i64());
    let places = places.and_then(|n| u128::try_from(n).ok());
    let figures = Style::default();
    let percent = share.mul(&Exact::int(100)).unwrap_or(Exact::ZERO);
    let figures = format!("{} %", Written::Plain.text(&percent, figures));
    let words = places.filter(|n| *n <= 10_000).and_then(|n| {
        let whole = whole_in_words(n / 100)?;
        Some(match n % 100 {
            0 => format!("{whole} percent"),
            rest => format!("{whole} and {rest:02}/100 percent"),
        })
    });
    words.map_or_else(|| figures.clone(), |words| format!("{words} ({figures})"))
}

/// A whole number in American English words, without "and".
fn whole_in_words(number: u128) -> Option<String> {
    if number == 0 {
        return Some(SMALL[0].to_owned());
    }
    let mut left = number;
    let mut parts = Vec::new();
    for group in GROUPS {
        let three = usize::try_from(left % 1000).ok()?;
        left /= 1000;
        if three > 0 {
            parts.push(format!("{}{group}", hundreds(three)));
        }
    }
    parts.reverse();
    (left == 0).then(|| parts.join(" "))
}

/// A number from 1 to 999 in words.
fn hundreds(number: usize) -> String {
    let (hundred, rest) = (number / 100, number % 100);
    let tens = match rest {
        0 => String::new(),
        1..20 => SMALL[rest].to_owned(),
        _ if rest % 10 == 0 => TENS[rest / 10].to_owned(),
        _ => format!("{}-{}", TENS[rest / 10], SMALL[rest % 10]),
    };
    match (hundred, tens.is_empty()) {
        (0, _) => tens,
        (_, true) => format!("{} hundred", SMALL[hundred]),
        (_, false) => format!("{} hundred {tens}", SMALL[hundred]),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn percents_read_as_people_write_them() {
        let words = |n, of| percent_in_words(&Exact::ratio(n, of).expect("a share"));
        assert_eq!(words(1, 10), "ten percent (10 %)");
        assert_eq!(words(75, 1_000), "seven and 50/100 percent (7.5 %)");
        assert_eq!(words(0, 1), "zero percent (0 %)");
        assert_eq!(words(1, 1), "one hundred percent (100 %)");
        assert_eq!(words(12_345, 1_000_000), "1.2345 %");
    }

    /// The Uniform Commercial Code, 3-114, lets words prevail over figures, so both must say the same. Spelling: common practice, no source.
    #[test]
    fn sums_read_as_people_write_them() {
        let words = |cents| sum_in_words(cents, "USD").expect("has words");
        assert_eq!(
            words(15_308_000),
            "one hundred fifty-three thousand eighty and 00/100 dollars"
        );
        assert_eq!(
            words(9_471_543),
            "ninety-four thousand seven hundred fifteen and 43/100 dollars"
        );
        assert_eq!(words(100), "one and 00/100 dollar");
        assert_eq!(words(101), "one and 01/100 dollars");
        assert_eq!(words(0), "zero and 00/100 dollars");
        assert_eq!(
            words(-1_900_005),
            "minus nineteen thousand and 05/100 dollars"
        );
        assert_eq!(
            words(100_000_001_340),
            "one billion thirteen and 40/100 dollars"
        );
        assert_eq!(sum_in_words(1, "XTS"), None);
        assert_eq!(sum_in_words(i128::MAX, "USD"), None);
    }
}
