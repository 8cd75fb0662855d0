//! Exact numbers: the one numeric type of the engine, its rounding, its text forms, its cents.
//!
//! Knows arithmetic and digits. Must not know units, sheets, surveys or money's currency.
//! This is the only module that may name the big-number and decimal crates.

mod exact;
mod round;
mod text;

pub use exact::{Exact, MAX_BITS, NumError};
pub use round::Rounding;
pub use text::MAX_DIGITS;
