//! Tests of the library, from outside it.

// The fuzz targets ask `libfuzzer_sys` for their macro; here it makes a plain function of them.
extern crate self as libfuzzer_sys;
pub(crate) use fuzz_targets::fuzzer_mutate;

mod common;
mod cuts;
mod demo_support;
mod money_support;

mod again;
mod calendar;
mod codes;
mod deep_sheets;
mod entries;
mod fuzz_targets;
mod hostile;
mod layering;
mod limits;
mod money;
mod oracle;
mod oracle_rows;
mod outline;
mod papers;
mod parts;
mod pdf;
mod reports;
mod signs;
mod survey;
mod takeoff;
mod tidy;
mod whole_job;
mod why;
