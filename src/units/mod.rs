//! Dimensions, units and the one grammar of written measurements.
//!
//! Knows inches, hours, lites and dollars, and how people write them. Must not know sheets, rows,
//! files or the rules of any job. Values inside the engine are exact numbers in base units:
//! inch, pound, minute of one person, calendar day, one unit of the job's currency, one of a noun.
//!
//! ```
//! use ovolo::units::{CellContext, Nouns, Reading, Style};
//! use ovolo::units::{format_quantity, parse_unit, read_quantity};
//!
//! let nouns = Nouns::default();
//! let inch = parse_unit("in", &nouns, None).expect("a unit");
//! let Ok(Reading::Value { value, .. }) =
//!     read_quantity("2'-6 1/2\"", &CellContext::new(&inch, &nouns))
//! else {
//!     panic!("a length");
//! };
//! assert_eq!(format_quantity(&value, &inch, &nouns, Style::default()), "30 1/2 in");
//! ```

// A match over kinds lists them all, so that a new kind is noticed everywhere, and no conversion fails silently.
#![warn(
    clippy::wildcard_enum_match_arm,
    clippy::match_wildcard_for_single_variants
)]
#![warn(clippy::as_conversions)]

mod catalog;
mod cell_text;
pub(crate) mod dates;
mod dimension;
mod format;
mod noun;
mod number_text;
mod point;
mod quantity_text;
mod reading;
mod unit;

pub use crate::number::Style;
pub use cell_text::Normalised;
pub use dimension::{Base, Dim, MAX_EXPONENT, describe};
pub use format::format_quantity;
pub use noun::{Noun, Nouns};
pub use point::{Scale, point_text, read_point, whole_days};
pub use quantity_text::{read_quantity, sum_of_parts};
pub use reading::{CellContext, MAX_CELL, Reading, Refusal, RefusalKind};
pub use unit::{
    CURRENCIES, UnitError, UnitErrorKind, UnitExpr, default_unit, is_unit_word, parse_unit,
    reads_as_unit,
};
