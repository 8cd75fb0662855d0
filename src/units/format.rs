//! Values as people say them: `30 1/2 in`, `27 min per lite`, `35 %`, `1,234.50 USD`, `12 lites`.
//!
//! Knows which units print as fractions. Must not know tables, columns or colors.

use crate::number::{Exact, Style};

use super::noun::Nouns;
use super::unit::UnitExpr;

/// A value in base units as text in `unit`. A value shortened for printing starts with "≈"; money has
/// two decimals at least and grouped thousands.
pub fn format_quantity(value: &Exact, unit: &UnitExpr, nouns: &Nouns, style: Style) -> String {
    let Ok(number) = unit.from_base(value) else {
        return "a number too long to print".to_owned();
    };
    let digits = unit.written().text(&number, style);
    let unit = unit.text_after(nouns, &number);
    if unit.is_empty() {
        digits
    } else {
        format!("{digits} {unit}")
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::parse_unit;

    #[test]
    fn values_print_as_people_say_them() {
        let mut nouns = Nouns::new();
        nouns.intern("lite");
        let cases = [
            ("30 1/2", "in", "30 1/2 in"),
            ("-3/8", "in", "-3/8 in"),
            ("12", "in", "12 in"),
            ("1/3", "in", "1/3 in"),
            ("205/24", "in", "8 13/24 in"),
            ("100/67", "in", "≈1.4925 in"),
            ("775", "mm", "775 mm"),
            ("2.5", "ft", "2.5 ft"),
            ("27", "min per lite", "27 min per lite"),
            ("35", "%", "35 %"),
            ("12.5", "%", "12.5 %"),
            ("1234.5", "USD", "1,234.50 USD"),
            ("0.125", "USD per bf", "0.125 USD per bf"),
            ("100/3", "USD", "≈33.3333 USD"),
            ("12", "lite", "12 lites"),
            ("1", "lite", "1 lite"),
            ("1.5", "h", "1.5 h"),
            ("3", "day", "3 days"),
            ("4", "per lite", "4 per lite"),
            ("0.35", "", "0.35"),
            ("0", "in", "0 in"),
        ];
        for (number, unit, text) in cases {
            let unit = parse_unit(unit, &nouns, Some("USD")).expect("a unit");
            let value = unit
                .to_base(&Exact::parse_plain(number).expect("a number"))
                .expect("small");
            assert_eq!(
                format_quantity(&value, &unit, &nouns, Style::default()),
                text
            );
        }
    }
}
