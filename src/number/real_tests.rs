//! Tests of correctly rounded powers, roots and logarithms.

use super::*;

fn r(n: i64, d: i64) -> Exact {
    Exact::ratio(n, d).expect("non-zero")
}

fn rat(n: i64, d: i64) -> Box<Real> {
    Box::new(Real::Rat(r(n, d)))
}

fn ln(n: i64, d: i64) -> Box<Real> {
    Box::new(Real::Ln(rat(n, d)))
}

fn power(base: Exact, exponent: Real) -> Real {
    Real::Power(Box::new(Real::Rat(base)), Box::new(exponent))
}

fn shown(value: &Real, places: u32) -> String {
    let step = Exact::int(10)
        .pow(-i32::try_from(places).expect("few places"))
        .expect("a step");
    round(value, &step, Rounding::HalfEven)
        .expect("a value")
        .to_fixed(places, Rounding::HalfEven)
}

/// log2 of a learning rate in percent.
fn slope(percent: i64) -> Real {
    Real::Div(ln(percent, 100), ln(2, 1))
}

fn unit_cost(n: i64, percent: i64) -> Real {
    Real::Mul(rat(100, 1), Box::new(power(Exact::int(n), slope(percent))))
}

#[test]
fn learning_curve_slopes() {
    // b = log2 r; Wright 1936, by definition of the curve.
    assert_eq!(shown(&slope(80), 6), "-0.321928");
    assert_eq!(shown(&slope(90), 6), "-0.152003");
    assert_eq!(shown(&slope(75), 6), "-0.415037");
}

#[test]
fn learning_curve_totals() {
    // Wright 1936, average of the first n: total is n times the average.
    for (percent, n, total) in [
        (80, 2, "160.000"),
        (80, 4, "256.000"),
        (90, 2, "180.000"),
        (90, 4, "324.000"),
        (90, 8, "583.200"),
    ] {
        let value = Real::Mul(rat(n, 1), Box::new(unit_cost(n, percent)));
        assert_eq!(shown(&value, 3), total);
    }
    // Crawford, the n-th unit, by definition: totals are sums of units.
    let totals = [
        (80, 2, "180.000"),
        (80, 4, "314.210"),
        (80, 8, "534.591"),
        (80, 10, "631.537"),
        (90, 2, "190.000"),
        (90, 4, "355.621"),
        (90, 8, "657.373"),
    ];
    for (percent, n, total) in totals {
        let sum = (1..=n).fold(Real::Rat(Exact::ZERO), |sum, unit| {
            Real::Add(Box::new(sum), Box::new(unit_cost(unit, percent)))
        });
        assert_eq!(shown(&sum, 3), total);
    }
}

#[test]
fn a_power_of_two_on_the_curve_is_exact() {
    let Ok(Real::Rat(fourth)) = simplify(&power(Exact::int(4), slope(80))) else {
        panic!("4^(ln 0.8 / ln 2) is 0.64");
    };
    assert_eq!(fourth, r(64, 100));
    // Rounding down must not lose a unit to a value just below.
    assert_eq!(
        round(&unit_cost(4, 80), &Exact::ONE, Rounding::Down),
        Ok(Exact::int(64))
    );
}

#[test]
fn present_worth_factors() {
    // NIST Handbook 135: SPV = 1/(1+d)^n, UPV = (1 - (1+d)^-n)/d.
    let single =
        |percent: i64, years: i64| power(r(100 + percent, 100), Real::Rat(Exact::int(-years)));
    for (percent, years, spv, upv) in [
        (3, 5, "0.862609", "4.579707"),
        (3, 10, "0.744094", "8.530203"),
        (3, 20, "0.553676", "14.877475"),
        (3, 30, "0.411987", "19.600441"),
        (7, 10, "0.508349", "7.023582"),
        (7, 20, "0.258419", "10.594014"),
    ] {
        assert_eq!(shown(&single(percent, years), 6), spv);
        let whole = Real::Sub(rat(1, 1), Box::new(single(percent, years)));
        assert_eq!(
            shown(&Real::Div(Box::new(whole), rat(percent, 100)), 6),
            upv
        );
    }
}

#[test]
fn constants_to_fifty_places() {
    // Digits from memory of the published constants; recomputed with an independent program.
    let root_two = Real::Root(rat(2, 1), 2);
    assert_eq!(
        shown(&root_two, 50),
        "1.41421356237309504880168872420969807856967187537695"
    );
    assert_eq!(
        shown(&Real::Exp(rat(1, 1)), 50),
        "2.71828182845904523536028747135266249775724709369996"
    );
    assert_eq!(
        shown(&Real::Ln(rat(2, 1)), 50),
        "0.69314718055994530941723212145817656807550013436026"
    );
    assert_eq!(
        shown(&Real::Ln(rat(10, 1)), 40),
        "2.3025850929940456840179914546843642076011"
    );
}

#[test]
fn hidden_exact_values_are_taken_as_such() {
    let root = |n| Box::new(Real::Root(rat(n, 1), 2));
    let two = Real::Mul(root(2), root(2));
    for mode in [Rounding::Up, Rounding::Down] {
        assert_eq!(round(&two, &r(1, 100), mode), Ok(Exact::int(2)));
    }
    // sqrt 2 * sqrt 2 / 4 is the tie 1/2 on whole steps.
    let tie = Real::Div(Box::new(two), rat(4, 1));
    assert_eq!(
        round(&tie, &Exact::ONE, Rounding::HalfEven),
        Ok(Exact::ZERO)
    );
    assert_eq!(round(&tie, &Exact::ONE, Rounding::HalfUp), Ok(Exact::ONE));
    assert_eq!(
        simplify(&power(r(8, 27), Real::Rat(r(-2, 3)))),
        Ok(Real::Rat(r(9, 4)))
    );
    assert_eq!(
        simplify(&Real::Div(ln(4, 1), ln(8, 1))),
        Ok(Real::Rat(r(2, 3)))
    );
    assert_eq!(
        simplify(&Real::Root(rat(-27, 8), 3)),
        Ok(Real::Rat(r(-3, 2)))
    );
    assert_eq!(shown(&Real::Root(rat(-2, 1), 3), 6), "-1.259921");
}

#[test]
fn values_without_a_result_are_refused_at_once() {
    let fault = |value: Real| round(&value, &r(1, 100), Rounding::HalfUp).expect_err("no value");
    assert_eq!(fault(*ln(0, 1)), NumError::LogOfNonPositive);
    assert_eq!(fault(*ln(-1, 1)), NumError::LogOfNonPositive);
    assert_eq!(
        fault(power(Exact::int(-2), Real::Rat(r(1, 3)))),
        NumError::RootOfNegative
    );
    assert_eq!(fault(Real::Root(rat(-2, 1), 4)), NumError::RootOfNegative);
    assert_eq!(fault(Real::Root(rat(2, 1), 0)), NumError::DivideByZero);
    assert_eq!(
        fault(power(Exact::ZERO, Real::Rat(r(-1, 2)))),
        NumError::DivideByZero
    );
    assert_eq!(
        fault(power(Exact::int(10), Real::Rat(Exact::int(i64::MAX)))),
        NumError::TooManyDigits
    );
    assert_eq!(
        fault(power(Exact::int(10), Real::Rat(r(i64::MAX, 2)))),
        NumError::TooManyDigits
    );
    assert_eq!(fault(Real::Exp(rat(i64::MAX, 1))), NumError::TooManyDigits);
    let zero = Real::Sub(
        Box::new(Real::Root(rat(8, 1), 2)),
        Box::new(Real::Mul(rat(2, 1), Box::new(Real::Root(rat(2, 1), 2)))),
    );
    assert_eq!(
        fault(Real::Div(rat(1, 1), Box::new(zero))),
        NumError::DivideByZero
    );
    assert_eq!(
        round(&Real::Rat(Exact::ONE), &Exact::ZERO, Rounding::Up),
        Err(NumError::DivideByZero)
    );
    // A vanishing value rounds; so does a power too long to write in full.
    assert_eq!(shown(&Real::Exp(rat(i64::MIN + 1, 1)), 2), "0.00");
    assert_eq!(
        shown(&power(r(21, 20), Real::Rat(Exact::int(-3000))), 2),
        "0.00"
    );
}

#[test]
fn large_values_keep_every_digit() {
    // e^(2632/3) to 60 places, its last digits from an independent decimal program at 1,500 digits.
    let step = Exact::int(10).pow(-60).expect("a step");
    let text = round(&Real::Exp(rat(2632, 3)), &step, Rounding::HalfEven)
        .expect("a value")
        .to_fixed(60, Rounding::HalfEven);
    assert!(
        text.starts_with("1049603950066027315447146195499037746649075920988404"),
        "{text}"
    );
    assert!(
        text.ends_with("024128559534323355847496003652745904693063622822961708588095"),
        "{text}"
    );
}

#[test]
fn tiny_values_keep_their_sign_and_are_not_taken_for_zero() {
    let tiny = Exact::int(10).pow(-389).expect("fits");
    let step = r(1, 10_000);
    // General Decimal Arithmetic, ln.decTest case lnx766.
    assert_eq!(
        round(
            &Real::Ln(Box::new(Real::Rat(tiny.clone()))),
            &step,
            Rounding::HalfEven
        ),
        Ok(r(-8_957_056, 10_000))
    );
    let below = Real::Rat(tiny.neg().mul(&Exact::int(2)).expect("fits"));
    for degree in [3, 65] {
        let root = Real::Root(Box::new(below.clone()), degree);
        assert_eq!(
            round(&root, &Exact::ONE, Rounding::Down),
            Ok(Exact::int(-1))
        );
        assert_eq!(round(&root, &Exact::ONE, Rounding::Up), Ok(Exact::ZERO));
    }
    // ln 2 over 10^-389, in units of 10^389: ln 2 by definition, digits from memory.
    let large = Real::Div(ln(2, 1), Box::new(Real::Rat(tiny.clone())));
    let step = Exact::ONE
        .div(&tiny)
        .and_then(|s| s.div(&Exact::int(1_000_000)))
        .expect("fits");
    let steps = round(&large, &step, Rounding::HalfEven).and_then(|v| v.div(&step));
    assert_eq!(steps, Ok(Exact::int(693_147)));
}
