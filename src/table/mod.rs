//! Typed tables: what a survey should hold ([`Schema`]) and what it held ([`Table`]).
//!
//! Knows units and exact numbers; knows nothing of files, workbooks or the language.
//!
//! ```
//! # fn worked() -> ovolo::session::Session {
//! #     include!(concat!(env!("CARGO_MANIFEST_DIR"), "/tests/docs/worked.rs"))
//! # }
//! let session = worked(); // a small job in memory
//! let run = session.run().expect("it is worked");
//! let openings = &run.survey.tables[0];
//! assert_eq!(openings.rows, 2);
//! assert_eq!(openings.columns[0].text(1), Some("A2"));
//! ```

// A match over kinds lists them all, so that a new kind is noticed everywhere, and no conversion fails silently.
#![warn(
    clippy::wildcard_enum_match_arm,
    clippy::match_wildcard_for_single_variants
)]
#![warn(clippy::as_conversions)]

pub(crate) mod column;
pub(crate) mod lites;
pub(crate) mod schema;
pub(crate) mod texts;

pub use column::{
    Absence, ColumnData, FromAbove, Numbers, NumbersBuilder, RowPlace, Table, Values,
};
pub use lites::{Lites, lites_text, read_lites};
pub use schema::{
    ColumnKind, ColumnSpec, LabelSpec, Limits, OnMissing, RowsMade, RowsSpec, Schema, SchemaValue,
};
pub use texts::Texts;
