//! Runs a checked program over columns: every node that is wanted, and what it needs, once.
//!
//! Knows how to work nodes over stretches of rows, how rows of one grain belong to rows of another, and how to keep
//! what is asked for. Must not know units, names of rules, messages, files or reports.
//!
//! Numbers are exact: scaled integers over a common denominator wherever they fit, ratios otherwise, stretch by stretch.
//! A failed row is a value like any other ([`Fault`]); it counts only where a wanted node has it.
//!
//! ```
//! # fn worked() -> ovolo::session::Session {
//! #     include!(concat!(env!("CARGO_MANIFEST_DIR"), "/tests/docs/worked.rs"))
//! # }
//! use ovolo::eval::{Cell, Options, run};
//! use ovolo::number::Exact;
//!
//! let session = worked(); // a small job in memory
//! let job = session.run().expect("it is worked");
//! let program = &job.job.checked.program;
//! let mut values = program.versions[0].values.iter();
//! let area = values.find(|v| v.name == "area").expect("a rule").node;
//! let results = run(program, &job.survey.inputs(), &[area], &Options::default()).expect("it runs");
//! assert_eq!(results.value(area, 0), Cell::Number(Exact::int(30 * 60)));
//! ```

// A match over kinds lists them all, so that a new kind is noticed everywhere, and no conversion fails silently.
#![warn(
    clippy::wildcard_enum_match_arm,
    clippy::match_wildcard_for_single_variants
)]
#![warn(clippy::as_conversions)]

mod amounts;
mod chunk;
mod column;
mod grain;
mod kernels;
mod memory;
mod pipeline;
mod results;
mod rollup;
mod schedule;
mod share;
mod texts;

pub use amounts::Amounts;
pub use column::Column;
pub use grain::Groups;
pub use memory::Memory;
pub use results::{Cell, Results};

use crate::number::Exact;
use crate::program::{NodeId, Program, TableId};
use crate::table::Table;
use std::sync::atomic::AtomicBool;
use std::sync::{Mutex, PoisonError};

/// What a program is run on.
#[derive(Debug)]
pub struct Inputs<'a> {
    /// The tables of the survey, in the order of [`TableId`].
    pub tables: Vec<&'a Table>,
    /// Values of the program's spans of the calendar, in their order; one that is not here is what stands for it without a calendar.
    pub spans: &'a [Option<Exact>],
}

/// The value of a span, where the calendar gives it one.
fn span_of(spans: &[Option<Exact>], span: u32) -> Option<&Exact> {
    spans.get(usize::try_from(span).ok()?)?.as_ref()
}

/// How to run.
#[derive(Default)]
pub struct Options<'a> {
    /// How many threads to use; as many as the machine has when not said. Results never depend on it.
    pub threads: Option<usize>,
    /// Set from elsewhere to end the run early with [`RunError::Stopped`].
    pub stop: Option<&'a AtomicBool>,
    /// Told now and then how many rows are done, of how many; rows count once for each pass over them.
    pub progress: Option<&'a (dyn Fn(u64, u64) + Sync)>,
    /// What earlier runs left, for this one to use and to add to.
    pub memory: Option<&'a Mutex<Memory>>,
}

/// Why a run gave no results.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum RunError {
    /// [`Options::stop`] was set.
    Stopped,
    /// A table, or the groups of one, has more rows than can be numbered with 32 bits.
    TooLarge,
    /// The tables given are not those the program was checked for.
    WrongInputs {
        /// Which table.
        table: TableId,
        /// What does not fit.
        found: WrongInput,
    },
    /// A node reads rows of a grain that its own grain has no rows in; a checked program has no such node.
    Unrelated(NodeId),
    /// The threads could not be started.
    NoThreads,
}

/// How a table differs from what the program was checked for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum WrongInput {
    /// It is not there.
    Missing,
    /// This column is not there, is of another kind, or has another number of rows than the table.
    Column(u16),
    /// Rows do not say which row of the table above they belong to, or name one that is not there.
    Parents,
}

/// A row that has no value because an operation failed on it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Fault {
    /// What failed.
    pub kind: FaultKind,
    /// The node that failed; its span is in the program.
    pub node: NodeId,
}

/// What can fail on a row.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum FaultKind {
    /// The divisor is zero, or zero is raised to a negative power.
    DivideByZero,
    /// No row of the lookup table fits.
    NoLookupRow,
    /// No line of the decision holds.
    NoDecision,
    /// These two lines of the decision hold, and perhaps more.
    TwoDecisions(u16, u16),
    /// A step to round to that is zero or below.
    NotPositiveStep,
    /// A result with more digits than the engine allows.
    TooManyDigits,
    /// A result that is no real number.
    NotReal(NotReal),
    /// Least, most or mean over no row.
    EmptyGroup,
    /// Weights that add up to zero, so that nothing says how to share or weigh.
    ZeroWeights,
    /// An amount to share in steps that is not a whole number of them.
    NotMultipleOfStep,
    /// An amount shared by a weight below zero.
    NegativeWeight,
}

/// Why an irrational operation has no result.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum NotReal {
    /// A logarithm of zero or of a value below it.
    LogOfNonPositive,
    /// An even root or a fractional power of a value below zero.
    RootOfNegative,
    /// A root whose degree is not a whole number of at least 1.
    RootDegree,
}

/// Works the wanted nodes and what they need.
///
/// With a memory only what it does not hold from earlier runs is calculated, and what this run works is left in it. The results are the same;
/// the first such run takes longer and more space, since it keeps every column.
/// Errors: [`RunError`], and the memory is as it was; a row that fails is not an error but a [`Fault`] in the results.
pub fn run(
    program: &Program,
    inputs: &Inputs<'_>,
    wanted: &[NodeId],
    options: &Options<'_>,
) -> Result<Results, RunError> {
    // A run that panicked left the memory as it was: it is added to at the end.
    let mut memory = options
        .memory
        .map(|m| m.lock().unwrap_or_else(PoisonError::into_inner));
    pipeline::run(program, inputs, wanted, options, memory.as_deref_mut())
}

#[cfg(test)]
mod tests;
