//! Dimensions, units and the one grammar of written measurements.
//!
//! Knows inches, hours, lites and dollars, and how people write them. Must not know sheets, rows,
//! files or the rules of any job. Values inside the engine are exact numbers in base units:
//! inch, pound, minute of one person, calendar day, one unit of the job's currency, one of a noun.

mod catalog;
mod dimension;
mod noun;
mod unit;

pub use dimension::{Base, Dim, MAX_EXPONENT, describe};
pub use noun::{Noun, Nouns};
pub use unit::{CURRENCIES, UnitError, UnitErrorKind, UnitExpr, default_unit, is_unit_word, parse_unit};
