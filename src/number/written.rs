//! Numbers as text of one kind, without their unit.

use super::{Exact, Rounding, group_thousands};

/// How finely values print.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Style {
    /// Inches print as fractions while they are whole in this part of an inch, or have no finite decimal and no finer part.
    pub inch_parts: i64,
    /// Most decimals of anything else; a value that needs more is cut and marked "≈".
    pub places: u32,
}

impl Default for Style {
    fn default() -> Style {
        Style {
            inch_parts: 64,
            places: 4,
        }
    }
}

/// What a number is, as far as its digits show it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Written {
    /// Inches: `30 1/2`.
    Inches,
    /// Money, two decimals at least and grouped thousands: `1,234.50`.
    Money,
    /// Anything else: `27.5`.
    Plain,
}

impl Written {
    /// A number as text. One shortened for printing starts with "≈".
    pub fn text(self, number: &Exact, style: Style) -> String {
        let fraction = match self {
            Written::Inches => number.to_inches(style.inch_parts),
            Written::Money | Written::Plain => None,
        };
        let (digits, exact) = match (fraction, self) {
            (Some(fraction), _) => (fraction, true),
            (None, Written::Money) => amount(number, style),
            (None, Written::Inches | Written::Plain) => number.to_decimal(style.places),
        };
        about(digits, exact)
    }
}

/// A decimal of at most so many places; one that was cut starts with "≈".
pub fn decimal(number: &Exact, places: u32) -> String {
    let (digits, exact) = number.to_decimal(places);
    about(digits, exact)
}

/// A text, with "≈" before it unless it says all.
pub fn about(text: String, exact: bool) -> String {
    match exact {
        true => text,
        false => format!("≈{text}"),
    }
}

fn amount(number: &Exact, style: Style) -> (String, bool) {
    let (digits, exact) = match number.terminates() {
        Some(0..=2) => (number.to_fixed(2, Rounding::HalfEven), true),
        _ => number.to_decimal(style.places.max(2)),
    };
    (group_thousands(&digits), exact)
}
