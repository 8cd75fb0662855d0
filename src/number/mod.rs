//! Exact numbers: the one numeric type of the engine, its rounding, its text forms, its cents.
//!
//! Knows arithmetic and digits. Must not know units, sheets, surveys or money's currency.
//! This is the only module that may name the big-number and decimal crates.
//!
//! ```
//! use ovolo::number::Exact;
//!
//! let third = Exact::ratio(1, 3).ok_or("three is not zero")?;
//! assert_eq!(third.mul(&Exact::int(3)).map_err(|_| "short enough")?, Exact::ONE);
//! # Ok::<(), &str>(())
//! ```

// A match over kinds lists them all, so that a new kind is noticed everywhere, and no conversion fails silently.
#![warn(
    clippy::wildcard_enum_match_arm,
    clippy::match_wildcard_for_single_variants
)]
#![warn(clippy::as_conversions)]

mod elementary;
mod exact;
mod money;
mod powers;
mod real;
mod round;
mod signs;
mod text;
mod written;

pub use exact::{Exact, MAX_BITS, NumError, gcd};
pub use money::{
    Decimal, SplitError, cents_grouped, cents_text, greatest, group_thousands, largest_remainder,
    money, parse_money,
};
pub use real::{Real, round};
pub use round::Rounding;
pub use signs::{FOOT_MARKS, FRACTIONS, INCH_MARKS, fraction_of};
pub use text::MAX_DIGITS;
pub use written::{Style, Written, about, decimal};
