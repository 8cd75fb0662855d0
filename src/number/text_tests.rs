//! Numbers to text and back.

use super::*;
use proptest::prelude::*;

fn number(text: &str) -> Exact {
    Exact::parse_plain(text).expect("a number")
}

#[test]
fn plain_texts_read() {
    for (text, n, d) in [
        ("12", 12, 1),
        ("12.50", 25, 2),
        ("0.0625", 1, 16),
        ("3/4", 3, 4),
        ("30 1/2", 61, 2),
        ("-30 1/2", -61, 2),
        ("\u{2212}5", -5, 1),
        ("007", 7, 1),
        ("8/4", 2, 1),
    ] {
        assert_eq!(Exact::parse_plain(text), Exact::ratio(n, d), "{text}");
    }
    let widest = "1234567890123456789012345678901234567890";
    assert_eq!(number(widest).to_string(), widest);
}

#[test]
fn other_texts_do_not() {
    let long = "1".repeat(41);
    for text in [
        "", "-", ".5", "5.", "+5", "1e3", "1,5", "1_0", " 5", "5 ", "1/0", "1/-2", "--5", "1.2.3",
        "30  1/2", "1/2/3", "٣", "30.5 1/2", &long,
    ] {
        assert_eq!(Exact::parse_plain(text), None, "{text:?}");
    }
}

#[test]
fn decimals_print_whole_or_cut() {
    assert_eq!(number("1/64").terminates(), Some(6));
    assert_eq!(number("1/3").terminates(), None);
    assert_eq!(number("12").terminates(), Some(0));
    let huge = Exact::int(2).pow(-100).expect("fits");
    assert_eq!(huge.terminates(), Some(100));
    for (value, places, text, whole) in [
        ("12.50", 4, "12.5", true),
        ("1/3", 4, "0.3333", false),
        ("2/3", 2, "0.67", false),
        ("1/64", 4, "0.0156", false),
        ("-1/3000", 2, "0", false),
        ("299/300", 1, "1", false),
        ("1000", 0, "1000", true),
        ("-0.05", 2, "-0.05", true),
    ] {
        assert_eq!(
            number(value).to_decimal(places),
            (text.to_owned(), whole),
            "{value}"
        );
    }
}

#[test]
fn fixed_places_never_show_minus_zero() {
    use Rounding::{Down, HalfEven, HalfUp};
    for (value, places, mode, text) in [
        ("12.5", 2, HalfUp, "12.50"),
        ("-0.004", 2, HalfUp, "0.00"),
        ("-0.004", 2, Down, "-0.01"),
        ("2.5", 0, HalfEven, "2"),
        ("1.015", 2, HalfUp, "1.02"),
        ("-0.999", 2, HalfUp, "-1.00"),
        ("0.05", 1, HalfUp, "0.1"),
    ] {
        assert_eq!(number(value).to_fixed(places, mode), text);
    }
    let big = Exact::int(10)
        .pow(30)
        .expect("fits")
        .div(&Exact::int(3))
        .expect("fits");
    assert_eq!(big.to_fixed(2, HalfUp), format!("{}.33", "3".repeat(30)));
    assert_eq!(
        big.neg().to_fixed(2, Down),
        format!("-{}.34", "3".repeat(30))
    );
}

#[test]
fn mixed_numbers_are_reduced() {
    for (value, den, text) in [
        ("30.5", 64, "30 1/2"),
        ("-3/8", 64, "-3/8"),
        ("-30 3/8", 8, "-30 3/8"),
        ("12", 64, "12"),
        ("0", 16, "0"),
    ] {
        assert_eq!(number(value).to_mixed(den).as_deref(), Some(text));
    }
    assert_eq!(number("1/3").to_mixed(64), None);
    assert_eq!(number("1/3").to_mixed(0), None);
}

#[test]
fn inches_are_parts_of_a_tape_or_ratios_without_a_decimal() {
    for (value, text) in [
        ("30.5", Some("30 1/2")),
        ("8 13/24", Some("8 13/24")),
        ("-14 2/3", Some("-14 2/3")),
        ("30.2", None),
        ("775/25.4", None),
        ("1/67", None),
    ] {
        let value = match value.split_once("/25.4") {
            Some((mm, _)) => number(mm).div(&number("25.4")).expect("fits"),
            None => number(value),
        };
        assert_eq!(value.to_inches(64).as_deref(), text);
    }
}

#[test]
fn doubles_give_back_what_was_typed() {
    for (x, text, typed) in [
        (0.1, "0.1", true),
        (30.125, "30.125", true),
        (0.07, "0.07", true),
        (1234567890.12345, "1234567890.12345", true),
        (-2.5e-7, "-0.00000025", true),
        (1e21, "1000000000000000000000", true),
        (0.0, "0", true),
        (-0.0, "0", true),
        (1.0 / 3.0, "0.3333333333333333", false),
        (0.1 + 0.2, "0.30000000000000004", false),
    ] {
        assert_eq!(
            Exact::from_f64_shortest(x),
            Some((number(text), typed)),
            "{x}"
        );
    }
    assert_eq!(Exact::from_f64_shortest(f64::NAN), None);
    assert_eq!(Exact::from_f64_shortest(f64::INFINITY), None);
    assert!(Exact::from_f64_shortest(f64::MAX).is_some());
    assert!(Exact::from_f64_shortest(f64::MIN_POSITIVE).is_some());
}

proptest! {
    #[test]
    fn typed_decimals_survive_a_double(digits in 1i64..1_000_000_000_000_000, places in 0i32..12) {
        let typed = Exact::int(digits).div(&Exact::int(10).pow(places).expect("fits")).expect("fits");
        let x: f64 = typed.to_decimal(20).0.parse().expect("a double");
        prop_assert_eq!(Exact::from_f64_shortest(x), Some((typed, true)));
    }

    #[test]
    fn decimals_read_back(digits in any::<i64>(), places in 0i32..20) {
        let value = Exact::int(digits).div(&Exact::int(10).pow(places).expect("fits")).expect("fits");
        let (text, whole) = value.to_decimal(20);
        prop_assert!(whole);
        prop_assert_eq!(Exact::parse_plain(&text), Some(value));
    }

    #[test]
    fn any_text_is_read_without_panic(text in "\\PC{0,30}") {
        let _ = Exact::parse_plain(&text);
    }
}
