//! Tests of the unit list, reading and printing of units.

use super::*;

fn house() -> Nouns {
    let mut nouns = Nouns::new();
    for name in ["lite", "sash", "point"] {
        nouns.intern(name);
    }
    nouns
}

fn unit(text: &str) -> UnitExpr {
    parse_unit(text, &house(), Some("USD")).unwrap_or_else(|e| panic!("{text}: {e:?}"))
}

fn r(n: i64, d: i64) -> Exact {
    Exact::ratio(n, d).expect("non-zero")
}

fn decimal(text: &str) -> Exact {
    Exact::parse_plain(text).expect("a decimal")
}

#[test]
fn every_listed_unit_reads_by_each_spelling() {
    let mut seen = std::collections::HashSet::new();
    for listed in catalog::UNITS {
        assert!(listed.d > 0 && listed.n > 0, "{}", listed.name);
        for spelling in listed.aliases.iter().chain([&listed.name]) {
            assert!(seen.insert(*spelling), "{spelling} is listed twice");
            assert_eq!(unit(spelling).text(&house()), listed.name);
            assert_eq!(unit(spelling).dim(), &listed.kind.dim());
        }
        assert_eq!(unit(listed.many).text(&house()), listed.name);
    }
}

#[test]
fn ratios_match_the_published_ones() {
    // NIST Handbook 44 Appendix C; GNU units database: in, ft, lb, board foot, gallon.
    let same = |a: Exact, unit_a: &str, b: Exact, unit_b: &str| {
        assert_eq!(
            unit(unit_a).to_base(&a),
            unit(unit_b).to_base(&b),
            "{unit_a} {unit_b}"
        );
    };
    same(Exact::ONE, "in", decimal("25.4"), "mm");
    same(Exact::ONE, "ft", decimal("0.3048"), "m");
    same(Exact::ONE, "lb", decimal("0.45359237"), "kg");
    same(Exact::ONE, "bf", Exact::int(144), "cu in");
    same(Exact::ONE, "bf", decimal("0.002359737216"), "cu m");
    same(Exact::ONE, "gal", Exact::int(231), "cu in");
    same(Exact::ONE, "gal", decimal("3.785411784"), "L");
    same(Exact::ONE, "cu ft", Exact::int(1728), "cu in");
    // NIST Handbook 44: 1 oz avdp = 1/16 lb = 28.349 523 125 g.
    same(Exact::ONE, "oz", decimal("28.349523125"), "g");
    // Derived from the foot.
    same(Exact::ONE, "sq ft", decimal("0.09290304"), "sq m");
    same(Exact::ONE, "cu ft", decimal("0.028316846592"), "cu m");
    // Cyclopedia of Painting (1908), Estimating.
    same(Exact::ONE, "square", Exact::int(100), "sq ft");
    same(Exact::ONE, "sq yd", Exact::int(9), "sq ft");
    // From 25.4 mm to the inch.
    same(r(1, 64), "in", decimal("0.396875"), "mm");
    same(r(3, 32), "in", decimal("2.38125"), "mm");
    same(r(11, 8), "in", decimal("34.925"), "mm");
    same(r(7, 4), "in", decimal("44.45"), "mm");
    // 1 cu ft = 7.480519... gal.
    let gallons = unit("gal").from_base(&Exact::int(1728)).expect("exact");
    assert_eq!(gallons.to_decimal(6), ("7.480519".to_owned(), false));
    // 1 lb per cu ft = 16.018 463 37 kg per cu m.
    let density = unit("lb/cu ft").to_base(&Exact::ONE).expect("exact");
    let metric = unit("kg per cu m").from_base(&density).expect("exact");
    assert_eq!(metric.to_decimal(8), ("16.01846337".to_owned(), false));
    same(Exact::int(4), "qt", Exact::ONE, "gal");
    same(Exact::int(8), "pt", Exact::int(128), "fl oz");
    same(Exact::ONE, "week", Exact::int(7), "day");
    same(Exact::int(35), "%", decimal("0.35"), "");
}

#[test]
fn written_forms_read_and_print() {
    let cases = [
        ("in.", "in"),
        ("Inches", "in"),
        ("SQ. FT.", "sq ft"),
        ("sq  ft", "sq ft"),
        ("lb / cu ft", "lb per cu ft"),
        ("min per lite", "min per lite"),
        ("hours per sash per sq ft", "h per sash per sq ft"),
        ("$/bf", "USD per bf"),
        ("per lite", "per lite"),
        ("lites per h", "lite per h"),
        ("in × lites", "in × lite"),
        ("mL", "mL"),
        ("", ""),
    ];
    for (text, printed) in cases {
        assert_eq!(unit(text).text(&house()), printed, "{text}");
        assert_eq!(unit(printed), unit(text), "printing {text} reads back");
    }
    assert_eq!(
        unit("lite per h").text_after(&house(), &Exact::int(3)),
        "lites per h"
    );
}

#[test]
fn faults_name_the_word_and_its_place() {
    let fault = |text: &str| parse_unit(text, &house(), Some("USD")).expect_err(text);
    let wrong = fault("min per lihte");
    assert_eq!((wrong.kind, wrong.at), (UnitErrorKind::Unknown, 8));
    assert_eq!(wrong.suggestion.as_deref(), Some("lite"));
    assert_eq!(fault("inchs").suggestion.as_deref(), Some("inch"));
    // One slip for every three letters.
    assert_eq!(fault("gollan").suggestion.as_deref(), Some("gallon"));
    assert_eq!(fault("pownz").suggestion, None);
    // A short unit with a letter typed twice; other slips of short words could mean several units.
    for (typed, meant) in [("inn", "in"), ("hh", "h"), ("mmm", "mm")] {
        assert_eq!(fault(typed).suggestion.as_deref(), Some(meant), "{typed}");
    }
    assert_eq!(fault("im").suggestion, None);
    let euro = fault("EUR per bf");
    assert_eq!(
        (euro.kind, euro.suggestion.as_deref()),
        (UnitErrorKind::OtherCurrency, Some("USD"))
    );
    assert_eq!(fault("€").kind, UnitErrorKind::OtherCurrency);
    assert_eq!(fault("min per").kind, UnitErrorKind::Missing);
    assert_eq!(fault("min per per h").kind, UnitErrorKind::Missing);
    assert_eq!(fault("M").kind, UnitErrorKind::Unknown);
    assert_eq!(fault("min h").kind, UnitErrorKind::TooMany);
    assert_eq!(fault(&"in/".repeat(9)).kind, UnitErrorKind::TooMany);
    assert_eq!(fault("month").kind, UnitErrorKind::Unknown);
    assert!(parse_unit("EUR", &house(), None).is_ok());
}

#[test]
fn default_units_are_what_people_say() {
    let nouns = house();
    for text in [
        "in",
        "sq ft",
        "cu in",
        "lb per cu in",
        "lb",
        "h",
        "day",
        "USD",
        "lite",
        "min per lite",
        "USD per bf",
        "USD per h",
        "lite per h",
        "",
    ] {
        let dim = unit(text).dim().clone();
        assert_eq!(default_unit(&dim, &nouns, Some("USD")).text(&nouns), text);
    }
    let deep = Dim::length(60);
    assert_eq!(default_unit(&deep, &nouns, None).dim(), &deep);
}

#[test]
fn taken_words() {
    assert!(
        is_unit_word("square")
            && is_unit_word("USD")
            && is_unit_word("per")
            && is_unit_word("Feet")
    );
    assert!(!is_unit_word("lite") && !is_unit_word("usd"));
}
