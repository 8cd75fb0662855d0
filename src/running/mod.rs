//! What running a program shows: rows that fail, requirements that do not hold, trials that come out otherwise.
//!
//! Turns the evaluator's faults into messages that name the rule, the row and the cell. Knows no files and no money.

// A new kind of anything must be met wherever kinds are told apart, and no conversion may fail without a word.
#![warn(
    clippy::wildcard_enum_match_arm,
    clippy::match_wildcard_for_single_variants
)]
#![warn(clippy::as_conversions)]

mod below_zero;
mod blamed;
mod doubts;
mod exceptions;
mod faults;
mod spellings;
pub mod trial;
mod trial_cuts;

pub use below_zero::below_zero;
pub use exceptions::{exceptions, pinned_nodes};
pub use faults::{Telling, fault_at, faults, table_of};
pub use spellings::spellings;
