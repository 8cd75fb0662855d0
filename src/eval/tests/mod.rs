//! The engine against a slow and obvious evaluator, on programs and tables made by chance from fixed seeds.

#![expect(
    clippy::as_conversions,
    reason = "numbers made by chance here are small"
)]
#![expect(
    clippy::wildcard_enum_match_arm,
    reason = "the slow evaluator ends the test at what it can't work, and a list of kinds met says that it works all"
)]

mod chance;
mod generated;
mod lookups;
mod maker;
#[allow(unreachable_pub)] // also a module of the integration tests
#[path = "../../../tests/library/oracle_met.rs"]
mod met;
#[allow(unreachable_pub)] // also a module of the integration tests
#[path = "../../../tests/library/oracle_rows.rs"]
mod rows;
