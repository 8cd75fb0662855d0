//! Tests that need outside programs or files. Plain `cargo test` leaves them out; `.ci/run` runs them.

mod decimal_corpus;
mod form;
mod maker;
mod office;
mod oracle_fractions;
#[path = "../library/oracle_met.rs"]
mod oracle_met;
mod oracle_sheets;
mod oracle_statements;
mod pdf;
#[path = "../command/run.rs"]
mod run;
mod supply;
mod survey_foreign;
mod three_openings;
