//! The closed list of units and currency codes, with their exact ratios to the base units.
//!
//! Data only. There is no month and no year: neither is a fixed number of days.

use foldhash::{HashMap, HashMapExt};
use std::sync::LazyLock;

use super::dimension::{Base, Dim};

/// What a listed unit measures.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Kind {
    /// Length to a power: 1, 2 or 3.
    Length(i8),
    Mass,
    Labor,
    Time,
    Work,
    Temperature,
    Number,
}

impl Kind {
    pub(super) fn dim(self) -> Dim {
        match self {
            Kind::Length(power) => Dim::length(power),
            Kind::Mass => Dim::base(Base::Mass),
            Kind::Labor => Dim::base(Base::Labor),
            Kind::Time => Dim::base(Base::Time),
            Kind::Work => Dim::base(Base::Work),
            Kind::Temperature => Dim::base(Base::Temperature),
            Kind::Number => Dim::NONE,
        }
    }
}

/// One listed unit: `n / d` base units make one of it.
#[derive(Debug, PartialEq, Eq)]
pub(super) struct UnitDef {
    /// How it prints after 1.
    pub(super) name: &'static str,
    /// How it prints after any other number.
    pub(super) many: &'static str,
    /// Other spellings taken, lower case, without dots.
    pub(super) aliases: &'static [&'static str],
    pub(super) kind: Kind,
    pub(super) n: i64,
    pub(super) d: i64,
}

const fn unit(
    name: &'static str,
    aliases: &'static [&'static str],
    kind: Kind,
    n: i64,
    d: i64,
) -> UnitDef {
    UnitDef {
        name,
        many: name,
        aliases,
        kind,
        n,
        d,
    }
}

const fn word(
    name: &'static str,
    many: &'static str,
    aliases: &'static [&'static str],
    kind: Kind,
    n: i64,
    d: i64,
) -> UnitDef {
    UnitDef {
        name,
        many,
        aliases,
        kind,
        n,
        d,
    }
}

/// Base units: inch, square inch, cubic inch, pound, minute of one person, day, working day, step of one degree Fahrenheit.
/// Ratios: 1 in = 25.4 mm, 1 lb = 0.453 592 37 kg, 1 gal = 231 cu in, 1 bf = 144 cu in
/// (NIST Handbook 44, Appendix C); 1 cm = 50/127 in, so 1 sq cm = 2500/16129 sq in and
/// 1 cu cm = 125000/2048383 cu in.
#[rustfmt::skip]
pub(super) static UNITS: &[UnitDef] = &[
    unit("in", &["inch", "inches"], Kind::Length(1), 1, 1),
    unit("ft", &["foot", "feet"], Kind::Length(1), 12, 1),
    unit("yd", &["yard", "yards"], Kind::Length(1), 36, 1),
    unit("mi", &["mile", "miles"], Kind::Length(1), 63360, 1),
    unit("mm", &["millimeter", "millimeters", "millimetre", "millimetres"], Kind::Length(1), 5, 127),
    unit("cm", &["centimeter", "centimeters", "centimetre", "centimetres"], Kind::Length(1), 50, 127),
    unit("m", &["meter", "meters", "metre", "metres"], Kind::Length(1), 5000, 127),
    unit("sq in", &["square inch", "square inches", "in²"], Kind::Length(2), 1, 1),
    unit("sq ft", &["square foot", "square feet", "ft²"], Kind::Length(2), 144, 1),
    unit("sq yd", &["square yard", "square yards", "yd²"], Kind::Length(2), 1296, 1),
    unit("sq mm", &["mm²"], Kind::Length(2), 25, 16129),
    unit("sq cm", &["cm²"], Kind::Length(2), 2500, 16129),
    unit("sq m", &["square meter", "square meters", "square metre", "square metres", "m²"], Kind::Length(2), 25_000_000, 16129),
    word("square", "squares", &[], Kind::Length(2), 14400, 1),
    unit("cu in", &["cubic inch", "cubic inches", "in³"], Kind::Length(3), 1, 1),
    unit("cu ft", &["cubic foot", "cubic feet", "ft³"], Kind::Length(3), 1728, 1),
    unit("cu yd", &["cubic yard", "cubic yards", "yd³"], Kind::Length(3), 46656, 1),
    unit("cu cm", &["cm³"], Kind::Length(3), 125_000, 2_048_383),
    unit("cu m", &["cubic meter", "cubic meters", "cubic metre", "cubic metres", "m³"], Kind::Length(3), 125_000_000_000, 2_048_383),
    unit("bf", &["board foot", "board feet"], Kind::Length(3), 144, 1),
    unit("gal", &["gallon", "gallons"], Kind::Length(3), 231, 1),
    unit("qt", &["quart", "quarts"], Kind::Length(3), 231, 4),
    unit("pt", &["pint", "pints"], Kind::Length(3), 231, 8),
    unit("fl oz", &["fluid ounce", "fluid ounces"], Kind::Length(3), 231, 128),
    unit("L", &["l", "liter", "liters", "litre", "litres"], Kind::Length(3), 125_000_000, 2_048_383),
    unit("mL", &["milliliter", "milliliters", "millilitre", "millilitres"], Kind::Length(3), 125_000, 2_048_383),
    unit("lb", &["lbs", "pound", "pounds"], Kind::Mass, 1, 1),
    unit("oz", &["ounce", "ounces"], Kind::Mass, 1, 16),
    word("ton", "tons", &[], Kind::Mass, 2000, 1),
    unit("g", &["gram", "grams"], Kind::Mass, 100_000, 45_359_237),
    unit("kg", &["kilogram", "kilograms"], Kind::Mass, 100_000_000, 45_359_237),
    unit("min", &["mins", "minute", "minutes"], Kind::Labor, 1, 1),
    unit("h", &["hr", "hrs", "hour", "hours"], Kind::Labor, 60, 1),
    word("day", "days", &[], Kind::Time, 1, 1),
    word("week", "weeks", &[], Kind::Time, 7, 1),
    unit("clock h", &["clock hr", "clock hrs", "clock hour", "clock hours"], Kind::Time, 1, 24),
    unit("clock min", &["clock mins", "clock minute", "clock minutes"], Kind::Time, 1, 1440),
    word("work day", "work days", &[], Kind::Work, 1, 1),
    word("F step", "F steps", &["f step", "f steps"], Kind::Temperature, 1, 1),
    word("C step", "C steps", &["c step", "c steps"], Kind::Temperature, 9, 5),
    unit("%", &["percent", "pct"], Kind::Number, 1, 100),
];

/// Currency codes taken, from ISO 4217. A job uses one of them.
pub const CURRENCIES: &[&str] = &[
    "AUD", "BRL", "CAD", "CHF", "CNY", "CZK", "DKK", "EUR", "GBP", "HKD", "HUF", "ILS", "INR",
    "ISK", "JPY", "KRW", "MXN", "NOK", "NZD", "PLN", "RON", "SEK", "SGD", "TRY", "USD", "ZAR",
];

/// Signs written for currencies, with the codes each may stand for, the plainest first.
const SIGNS: &[(char, &[&str])] = &[
    ('$', &["USD", "AUD", "CAD", "HKD", "MXN", "NZD", "SGD"]),
    ('€', &["EUR"]),
    ('£', &["GBP"]),
    ('¥', &["JPY", "CNY"]),
    ('₹', &["INR"]),
];

/// Whether a character is a currency sign of the list.
pub(super) fn is_sign(c: char) -> bool {
    SIGNS.iter().any(|(sign, _)| *sign == c)
}

/// The code a currency sign stands for: the job's when it fits, else the plainest.
pub(super) fn code_of_sign(c: char, job: Option<&str>) -> Option<&'static str> {
    let (_, codes) = SIGNS.iter().find(|(sign, _)| *sign == c)?;
    let fits = codes.iter().find(|code| Some(**code) == job);
    fits.or(codes.first()).copied()
}

/// The listed currency of this code, in capitals as ISO 4217 writes it.
pub(super) fn currency(code: &str) -> Option<&'static str> {
    CURRENCIES.iter().find(|known| **known == code).copied()
}

/// The unit of a spelling of one word or two, dots dropped. Capitals are taken in spellings of two
/// letters or more; single letters must be as listed, since M is a thousand to a sawmill.
pub(super) fn find(words: &str) -> Option<&'static UnitDef> {
    if let Some(unit) = BY_SPELLING.get(words) {
        return Some(unit);
    }
    if words.chars().filter(|c| c.is_alphabetic()).count() < 2 {
        return None;
    }
    BY_LOWER_SPELLING
        .get(words.to_lowercase().as_str())
        .copied()
}

/// Units by every spelling as listed; the first unit that has it.
static BY_SPELLING: LazyLock<HashMap<&'static str, &'static UnitDef>> = LazyLock::new(|| {
    let mut map = HashMap::new();
    for unit in UNITS {
        for word in unit.aliases.iter().chain([&unit.name, &unit.many]) {
            map.entry(*word).or_insert(unit);
        }
    }
    map
});

/// The same with names in lower case, for words of two letters or more.
static BY_LOWER_SPELLING: LazyLock<HashMap<String, &'static UnitDef>> = LazyLock::new(|| {
    let mut map = HashMap::new();
    for unit in UNITS {
        map.entry(unit.name.to_lowercase()).or_insert(unit);
        for word in unit.aliases.iter().chain([&unit.name, &unit.many]) {
            map.entry((*word).to_owned()).or_insert(unit);
        }
    }
    map
});
