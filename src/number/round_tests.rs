//! Rounding against published tables, and against a second, plain implementation.

use super::*;
use num_rational::BigRational;
use num_traits::One;
use proptest::prelude::*;

use Rounding::{AwayFromZero, Down, HalfDown, HalfEven, HalfUp, TowardZero, Up, Up05};

const MODES: [Rounding; 8] = [
    Up,
    Down,
    TowardZero,
    AwayFromZero,
    HalfUp,
    HalfDown,
    HalfEven,
    Up05,
];

fn number(text: &str) -> Exact {
    Exact::parse_plain(text).expect("a number")
}

fn rounded(value: &str, step: &str, mode: Rounding) -> Exact {
    number(value).round_to(&number(step), mode).expect("rounds")
}

#[test]
fn the_published_table_of_modes() {
    // Rounding table of a public language's documentation, after IEEE 754-2008 section 4.3.
    let values = ["7.5", "4.5", "-1.1", "-4.5", "-7.5"];
    let rows = [
        (HalfUp, [8, 5, -1, -5, -8]),
        (HalfEven, [8, 4, -1, -4, -8]),
        (Down, [7, 4, -2, -5, -8]),
        // The rest by the definitions of IEEE 754-2008 and the General Decimal Arithmetic specification.
        (Up, [8, 5, -1, -4, -7]),
        (TowardZero, [7, 4, -1, -4, -7]),
        (AwayFromZero, [8, 5, -2, -5, -8]),
        (HalfDown, [7, 4, -1, -4, -7]),
        (Up05, [7, 4, -1, -4, -7]),
    ];
    for (mode, wanted) in rows {
        for (value, wanted) in values.iter().zip(wanted) {
            assert_eq!(
                rounded(value, "1", mode),
                Exact::int(wanted),
                "{value} {mode:?}"
            );
        }
    }
}

#[test]
fn zero_five_up_looks_at_the_last_digit() {
    // General Decimal Arithmetic specification, definition of 05-up.
    for (value, wanted) in [
        ("0.1", 1),
        ("5.1", 6),
        ("-5.1", -6),
        ("10.9", 11),
        ("4.9", 4),
        ("-0.1", -1),
        ("5", 5),
        ("-9.9", -9),
    ] {
        assert_eq!(rounded(value, "1", Up05), Exact::int(wanted), "{value}");
    }
}

#[test]
fn decimal_test_corpus_rows() {
    // decTest quax093, quax094, quax096, quax060 (General Decimal Arithmetic test cases), half-up.
    for (value, step, places, text) in [
        ("1.2345", "0.01", 2, "1.23"),
        ("1.2355", "0.01", 2, "1.24"),
        ("9.9999", "0.01", 2, "10.00"),
        ("2.17", "0.001", 3, "2.170"),
    ] {
        assert_eq!(rounded(value, step, HalfUp).to_fixed(places, HalfUp), text);
    }
    // decTest divx007, divx008.
    assert_eq!(number("1/3").to_fixed(9, HalfUp), "0.333333333");
    assert_eq!(number("2/3").to_fixed(9, HalfUp), "0.666666667");
}

#[test]
fn fractions_of_an_inch() {
    // Nearest sixteenth and next eighth, by arithmetic.
    assert_eq!(rounded("0.3", "1/16", HalfUp), number("5/16"));
    assert_eq!(rounded("0.7", "1/16", HalfUp), number("11/16"));
    assert_eq!(rounded("1/3", "1/16", HalfUp), number("5/16"));
    assert_eq!(rounded("8 13/24", "1/16", HalfUp), number("8 9/16"));
    assert_eq!(rounded("8 13/24", "1/8", Up), number("8 5/8"));
    assert_eq!(rounded("8 13/24", "1/8", Down), number("8 1/2"));
}

#[test]
fn thirds_do_not_buy_one_too_many() {
    let pieces = number("1306/6").mul(&Exact::int(45)).expect("small");
    assert_eq!(pieces.round_to(&Exact::ONE, Up), Ok(Exact::int(9795)));
}

#[test]
fn a_step_must_be_above_zero() {
    assert_eq!(
        Exact::ONE.round_to(&Exact::ZERO, Up),
        Err(NumError::DivideByZero)
    );
    assert_eq!(
        Exact::ONE.round_to(&Exact::int(-1), Up),
        Err(NumError::DivideByZero)
    );
}

/// Rounds by trying the two multiples around the value: slow, and shares nothing with the engine.
fn plainly(value: &BigRational, step: &BigRational, mode: Rounding) -> BigRational {
    let below = (value / step).floor() * step;
    if below == *value {
        return below;
    }
    let above = &below + step;
    let (to_below, to_above) = (value - &below, &above - value);
    let zero = BigRational::from_integer(0.into());
    let (inner, outer) = if *value < zero {
        (&above, &below)
    } else {
        (&below, &above)
    };
    let nearest = |tie: &BigRational| match to_below.cmp(&to_above) {
        std::cmp::Ordering::Less => below.clone(),
        std::cmp::Ordering::Greater => above.clone(),
        std::cmp::Ordering::Equal => tie.clone(),
    };
    let count = |multiple: &BigRational| (multiple / step).to_integer();
    match mode {
        Up => above,
        Down => below,
        TowardZero => inner.clone(),
        AwayFromZero => outer.clone(),
        HalfUp => nearest(outer),
        HalfDown => nearest(inner),
        HalfEven => nearest(if count(&below) % 2 == BigInt::zero() {
            &below
        } else {
            &above
        }),
        Up05 => (if count(inner) % 5 == BigInt::zero() {
            outer
        } else {
            inner
        })
        .clone(),
    }
}

fn any_exact() -> impl Strategy<Value = Exact> {
    prop_oneof![
        (-5000i64..5000, 1i64..130).prop_map(|(n, d)| Exact::ratio(n, d).expect("non-zero")),
        (any::<i64>(), 1i64..i64::MAX).prop_map(|(n, d)| Exact::ratio(n, d).expect("non-zero")),
        (any::<i128>(), any::<i64>().prop_filter("zero", |d| *d != 0))
            .prop_map(|(n, d)| Exact::from_i128(n).div(&Exact::int(d)).expect("non-zero")),
    ]
}

proptest! {
    #[test]
    fn rounding_agrees_with_the_plain_way(value in any_exact(), n in 1i64..300, d in 1i64..300) {
        let step = Exact::ratio(n, d).expect("non-zero");
        for mode in MODES {
            let wanted = plainly(&value.to_big(), &step.to_big(), mode);
            prop_assert_eq!(value.round_to(&step, mode).expect("rounds").to_big(), wanted);
        }
    }

    #[test]
    fn arithmetic_agrees_with_big_rationals(a in any_exact(), b in any_exact()) {
        let (big_a, big_b) = (a.to_big(), b.to_big());
        prop_assert_eq!(a.add(&b).expect("fits").to_big(), &big_a + &big_b);
        prop_assert_eq!(a.sub(&b).expect("fits").to_big(), &big_a - &big_b);
        prop_assert_eq!(a.mul(&b).expect("fits").to_big(), &big_a * &big_b);
        if !b.is_zero() {
            prop_assert_eq!(a.div(&b).expect("fits").to_big(), &big_a / &big_b);
        }
        prop_assert_eq!(a.cmp(&b), big_a.cmp(&big_b));
        prop_assert_eq!(a.neg().to_big(), -&big_a);
        prop_assert_eq!(a.pow(3).expect("fits").to_big(), big_a.pow(3));
        // One form for each value: the same number reached another way is equal and inline alike.
        let back = a.add(&b).and_then(|sum| sum.sub(&b)).expect("fits");
        prop_assert_eq!(back.small(), a.small());
        prop_assert!(a.to_big().denom() >= &BigInt::one());
    }
}
