//! Typed tables: what a survey should hold ([`schema`]) and what it held ([`mod@column`]).
//!
//! Knows units and exact numbers; knows nothing of files, workbooks or the language.

pub mod column;
pub mod schema;
pub mod texts;

pub use column::{Absence, ColumnData, Numbers, NumbersBuilder, RowPlace, Table, Values};
pub use schema::{ColumnKind, ColumnSpec, LabelSpec, Limits, OnMissing, Schema, SchemaValue};
pub use texts::Texts;
