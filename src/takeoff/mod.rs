//! Take-off: what a version of the job uses, in base units, ready to be priced.
//!
//! Knows take lines, their sums by phase, by split column and by row, and the facts that travel with them (decisions, cautions,
//! what is unknown). Must not know prices, money or how anything is shown.
//!
//! ```
//! # fn worked() -> ovolo::session::Session {
//! #     include!(concat!(env!("CARGO_MANIFEST_DIR"), "/tests/docs/worked.rs"))
//! # }
//! use ovolo::eval::{Options, run};
//! use ovolo::takeoff::{parts, wanted_parts};
//!
//! let session = worked(); // a small job in memory: two stiles for each of two sashes
//! let job = session.run().expect("it is worked");
//! let (program, inputs) = (&job.job.checked.program, job.survey.inputs());
//! let version = &program.versions[0];
//! let nodes = wanted_parts(program, version);
//! let results = run(program, &inputs, &nodes, &Options::default()).expect("it runs");
//! let found = parts(program, version, &results, &inputs.tables);
//! assert_eq!(found.at.len(), 2);
//! assert!(found.unknown.is_empty());
//! ```

// A match over kinds lists them all, so that a new kind is noticed everywhere, and no conversion fails silently.
#![warn(
    clippy::wildcard_enum_match_arm,
    clippy::match_wildcard_for_single_variants
)]
#![warn(clippy::as_conversions)]

mod collect;
mod parts;
mod survey_notes;

pub(crate) use collect::splits;
pub use collect::{Wish, collect, wanted};
pub use parts::{PartAt, Parts, PlaceAt, SizeAt, parts, wanted_parts};
pub use survey_notes::{from_above, set_aside, survey_notes};

use std::sync::Arc;

use crate::eval::Amounts;
use crate::number::Exact;
use crate::program::{PhaseId, ResourceId};
use crate::survey::Unread;
use crate::table::Absence;

/// Everything a version uses.
#[derive(Debug, Clone, Default)]
pub struct Quantities {
    /// The columns the job is split by, in the order of its `split by`.
    pub splits: Vec<Split>,
    /// One for each take of the version, in its order.
    pub lines: Vec<TakeLine>,
    /// Whether what each row of the main table costs was asked for.
    pub by_row: bool,
    /// What is known besides amounts.
    pub facts: Arc<Facts>,
}

/// A column the job is split by.
#[derive(Debug, Clone, Default)]
pub struct Split {
    /// Name of the column.
    pub name: String,
    /// Its values, in order of first appearance.
    pub keys: Vec<String>,
    /// How many rows of the main table have each key.
    pub rows_in: Vec<usize>,
    /// For each row of the main table, the index of its key; filled when rows are asked for or rounded.
    pub key_of_row: Vec<u32>,
}

/// A take with its sums. All amounts are in base units of the resource's dimension.
#[derive(Debug, Clone)]
pub struct TakeLine {
    /// What is used.
    pub resource: ResourceId,
    /// What for.
    pub phase: PhaseId,
    /// In the whole job.
    pub total: Exact,
    /// For each split column, the sum of each key.
    pub by_key: Vec<Vec<Exact>>,
    /// For each row of the main table, where that was asked for or money is rounded so, and can be said; zero where unknown.
    pub by_row: Option<Amounts>,
    /// Rows that are not in the sums because something is unknown there: their marks, and why.
    pub left_out: Vec<(String, Absence)>,
    /// Whether a figure from memory goes into it.
    pub from_memory: bool,
}

/// What travels with the amounts of a version into its reports.
#[derive(Debug, Clone, Default)]
pub struct Facts {
    /// What a row of the main table is called, such as `opening`.
    pub row_word: String,
    /// The same for several, such as `openings`.
    pub rows_word: String,
    /// The mark of each row of the main table, when rows are asked for.
    pub marks: Vec<String>,
    /// How often each decision fell out each way.
    pub decided: Vec<DecisionCount>,
    /// Each decision on each row, when asked for.
    pub treatment: Vec<Treatment>,
    /// Cautions that hold somewhere.
    pub cautions: Vec<Caution>,
    /// What the survey reader has to say.
    pub survey: SurveyNotes,
}

/// How often a decision fell out one way.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct DecisionCount {
    /// Name of the decision.
    pub decision: String,
    /// What it is decided for: `openings`, `batches`, or `whole job`.
    pub per: String,
    /// Each label with its number of rows, in the order of the choice.
    pub labels: Vec<(String, usize)>,
    /// Rows where it is unknown.
    pub unknown: usize,
}

/// One decision on one row. Texts are shared: a survey may have many rows and few reasons.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Treatment {
    /// Mark of the row.
    pub mark: Arc<str>,
    /// The row of the main table that it is, or lies below; none for a group and the whole job.
    pub main_row: Option<usize>,
    /// Keys of the split columns on that row.
    pub keys: Arc<[Arc<str>]>,
    /// Name of the decision.
    pub decision: Arc<str>,
    /// Label; none where it is unknown.
    pub label: Option<Arc<str>>,
    /// Reason, with values put in.
    pub because: Arc<str>,
    /// Standard it rests on.
    pub rests_on: Option<Arc<str>>,
}

/// A caution that holds.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Caution {
    /// Its place in [`crate::program::Version::cautions`].
    pub caution: usize,
    /// Text, with values put in.
    pub text: String,
    /// On how many rows; none for one that always holds or is said for the job.
    pub rows: Option<usize>,
    /// What it is counted in: `openings`, or `opening` for one; `batches`; `whole job`.
    pub per: String,
    /// The marks of the first few rows.
    pub marks: Vec<String>,
}

/// What the survey reader assumed or set aside.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct SurveyNotes {
    /// Blanks that were read as a value.
    pub assumed: Vec<AssumedBlank>,
    /// Rows that were set aside.
    pub set_aside: Vec<SetAside>,
    /// What of its files was not read.
    pub unread: Vec<Unread>,
    /// Of tables whose rows or cells may come from the row above, which do.
    pub from_above: Vec<FromRowAbove>,
}

/// What of a table comes from the rows above.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct FromRowAbove {
    /// Table.
    pub table: String,
    /// Its rows.
    pub rows: usize,
    /// Those of them that no survey brought.
    pub made: usize,
    /// Columns that may read the row above, and on how many rows each has a value of its own.
    pub columns: Vec<(String, usize)>,
    /// Rows with values of their own and the columns, by their place in `columns`. Only where rows are wished for.
    pub own: Vec<(String, Vec<usize>)>,
}

/// Blanks of a column that were read as a value.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct AssumedBlank {
    /// Table.
    pub table: String,
    /// Column.
    pub column: String,
    /// The value, as text.
    pub value: String,
    /// On how many rows.
    pub rows: usize,
    /// Note in the sheet.
    pub note: Option<String>,
}

/// A row that was set aside.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SetAside {
    /// Its mark, or its place where it has none.
    pub mark: String,
    /// The mark of the row above it.
    pub above: Option<String>,
    /// Why.
    pub cause: String,
}
