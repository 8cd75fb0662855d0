//! What is to be cut: the parts of a version and the stock on hand, as a problem that [`crate::cutting`] solves.

// A new kind of anything must be met wherever kinds are told apart, and no conversion may fail without a word.
#![warn(
    clippy::wildcard_enum_match_arm,
    clippy::match_wildcard_for_single_variants
)]
#![warn(clippy::as_conversions)]

mod parts;
mod stock;

pub use parts::add_parts;
pub use stock::cut_problem;
