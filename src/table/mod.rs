//! Typed tables: what a survey should hold ([`schema`]) and what it held ([`mod@column`]).
//!
//! Knows units and exact numbers; knows nothing of files, workbooks or the language.

pub mod column;
pub mod lites;
pub mod schema;
pub mod texts;

pub use column::{
    Absence, ColumnData, FromAbove, Numbers, NumbersBuilder, RowPlace, Table, Values,
};
pub use lites::{Lites, lites_text, read_lites};
pub use schema::{
    ColumnKind, ColumnSpec, LabelSpec, Limits, OnMissing, RowsMade, RowsSpec, Schema, SchemaValue,
};
pub use texts::Texts;
