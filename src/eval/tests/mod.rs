//! The engine against a slow and obvious evaluator, on programs and tables made by chance from fixed seeds.

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
