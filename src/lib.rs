//! ovolo: an estimating engine for people who repair and reproduce historic wooden windows.

#![warn(unreachable_pub)]

pub mod calendar;
pub mod check;
pub mod cutting;
pub mod defuse;
pub mod diagnostics;
pub mod drawing;
pub mod estimate;
pub mod eval;
pub mod explain;
pub mod ids;
pub mod library;
pub mod lists;
pub mod number;
pub mod paper;
pub mod prices;
pub mod pricing;
pub mod program;
pub mod report;
pub mod running;
pub mod schedule;
pub mod session;
pub mod show;
pub mod start;
pub mod study;
pub mod survey;
pub mod syntax;
pub mod table;
pub mod takeoff;
pub mod tally;
pub mod units;

// The tests' evaluator of rows is written against the public interface and is also used by tests within the crate.
#[cfg(test)]
extern crate self as ovolo;
