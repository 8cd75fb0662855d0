//! A sum of money in words, as it stands beside its figures on a bid.

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
