//! x
pub mod number;
pub mod units;
