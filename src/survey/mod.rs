//! Surveys as they really come: CSV files and workbooks from several hands, read into a typed table.
//!
//! The way through: `gather` opens files and finds the heading rows, `build` reads rows and cells, `finish` sets rows aside, ties a
//! table to the one above it and says what was done. Nothing is guessed and nothing is left out in silence: see the rules at the top of
//! `heading`, `rows` and `cells`. Must not know the language of sheets, nor what a survey is for. Opens no files itself.
//!
//! ```
//! # fn worked() -> ovolo::session::Session {
//! #     include!(concat!(env!("CARGO_MANIFEST_DIR"), "/tests/docs/worked.rs"))
//! # }
//! use ovolo::survey::{Content, ReadOptions, SourceFile, read};
//!
//! let session = worked(); // a small job in memory
//! let program = &session.run().expect("it is worked").job.checked.program;
//! let file = SourceFile {
//!     name: "north.csv".to_string(),
//!     content: Content::Bytes(b"mark,wide,high\nN1,2'-6\",60\n".to_vec()),
//! };
//! let main = program.main_table().expect("a survey");
//! let schema = &program.tables[main].schema;
//! let reading = read(schema, &program.nouns, None, vec![file], &ReadOptions::default(), None);
//! assert_eq!(reading.expect("it is sound").table.rows, 1);
//! ```

// A match over kinds lists them all, so that a new kind is noticed everywhere, and no conversion fails silently.
#![warn(
    clippy::wildcard_enum_match_arm,
    clippy::match_wildcard_for_single_variants
)]
#![warn(clippy::as_conversions)]
// What comes from outside is never where a list is thought to end.
#![warn(clippy::indexing_slicing)]
// A message for a person is a large value; it is made once per fault, so its size costs nothing that could be measured.
#![allow(clippy::result_large_err)]

mod alike;
mod build;
mod cells;
mod columns;
mod csv;
mod encoding;
mod faults;
mod finish;
mod gather;
mod heading;
mod intern;
mod made;
mod marked;
mod part;
mod quiet;
mod raw;
mod raw_table;
mod relate;
mod report;
mod report_text;
mod rows;
mod seen;
mod tabs;
mod unquoted;
mod unread;
mod workbook;

use std::io::Read;
use std::sync::atomic::AtomicBool;

use crate::diagnostics::Diagnostic;
use crate::table::{ColumnData, ColumnKind, Numbers, Schema, Table, Texts, Values};
use crate::units::Nouns;

pub(crate) use columns::Column;
pub(crate) use csv::records;
pub use made::{Above, complete};
pub use marked::{Looked, Marked, Original, look, marked_copies};
pub use raw::{CellRef, DateCell, NumberCell, RawCell, RawRow};
pub use raw_table::{RawOptions, RawTable, raw_rows};
pub use report::{
    ColumnReport, MadeRows, MatchedColumn, Report, SetAsideRow, SkippedRows, TabReport,
};
pub use report_text::report_text;
pub use rows::SkipReason;
pub use unread::{Lacking, Unread, unread};

/// A file to read, already opened by the caller.
pub struct SourceFile<'a> {
    /// Name as the user gave it, for messages.
    pub name: String,
    /// What is in it.
    pub content: Content<'a>,
}

/// Content of a file.
pub enum Content<'a> {
    /// All of it.
    Bytes(Vec<u8>),
    /// Read as needed: a CSV file is never held whole. A workbook is.
    Stream(Box<dyn Read + Send + 'a>),
}

/// Rows to leave out of the table by the user's wish; each is reported.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub enum SetAside {
    /// None: any fault stops the run.
    #[default]
    Nothing,
    /// The rows of these marks, faulty or not. A mark that no row has is reported in a warning (OV-732); who reads all tables of a job refuses
    /// when it is in none.
    Marks(Vec<String>),
    /// Every row with a fault. A mark used twice still stops the run.
    AllUnreadable,
}

/// Called with bytes done and, if known, bytes in all.
pub type Progress<'a> = dyn Fn(u64, Option<u64>) + Sync + 'a;

/// How to read.
#[derive(Default, Clone)]
pub struct ReadOptions<'a> {
    /// Tabs of a workbook to read, in this order; empty for the one tab that holds the table.
    pub tabs: Vec<String>,
    /// 1-based row of the headings, when it is not to be looked for.
    pub heading_row: Option<u32>,
    /// What parts the cells of a CSV file, when it is not to be found out: comma, semicolon or tab.
    pub delimiter: Option<u8>,
    /// `30,5` is thirty and a half.
    pub decimal_comma: bool,
    /// Rows to leave out.
    pub set_aside: SetAside,
    /// Marks set aside in the table above: rows below them go with them.
    pub parents_aside: Vec<String>,
    /// Marks set aside in the table above a table above whose rows are made: its made rows bear them.
    pub grandparents_aside: Vec<String>,
    /// Marks of the table above whose rows could not be read and are not in it: no fault of the rows below them.
    pub parents_unread: Vec<String>,
    /// Read on past what stops a run, to find more: a heading that is nearly one is read as that one, only rows that no mark puts in their place
    /// are left out, and errors stand among the warnings of the report. For telling problems, never for a run.
    pub tentative: bool,
    /// Keep every cell as written, for explanations.
    pub keep_text: bool,
    /// Told how far the reading is.
    pub progress: Option<&'a Progress<'a>>,
    /// Set by the caller to stop the reading.
    pub stop: Option<&'a AtomicBool>,
}

/// Cells as they were written.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct RawTexts {
    /// For each column of the schema, an index for each row, and the texts it points into.
    columns: Vec<(Vec<u32>, Texts)>,
}

impl RawTexts {
    /// What was in the cell of a row and a column of the schema; empty for a blank one.
    pub fn get(&self, row: usize, column: usize) -> Option<&str> {
        let (ids, pool) = self.columns.get(column)?;
        pool.get(*ids.get(row)?)
    }
}

/// A survey that was read.
#[derive(Debug, Clone)]
pub struct Reading {
    /// The values.
    pub table: Table,
    /// What was found and done.
    pub report: Report,
    /// Cells as written, if asked for.
    pub texts: Option<RawTexts>,
}

/// Reads a survey from one or more files.
///
/// `parent` is the table that this one hangs below, with its schema; needed when `schema.parent` is set, and then
/// [`Table::parent_rows`] is filled; a table whose rows or cells may come from there is to be completed with [`complete`]. Errors: every problem of every file, warnings among them; nothing may run. A reading may still carry
/// warnings in its report.
pub fn read(
    schema: &Schema,
    nouns: &Nouns,
    currency: Option<&str>,
    files: Vec<SourceFile<'_>>,
    options: &ReadOptions<'_>,
    parent: Option<(&Schema, &Table)>,
) -> Result<Reading, Vec<Diagnostic>> {
    let settings = cells::CellSettings {
        nouns,
        currency,
        decimal_comma: options.decimal_comma,
    };
    let completed = schema.is_completed().then(|| made::reading_schema(schema));
    let as_read = completed.as_ref().unwrap_or(schema);
    let mut gathering = gather::Gathering::new(as_read, settings, options, parent);
    gathering.files(files);
    finish::finish(gathering).reading
}

/// A table without rows.
pub fn empty_table(schema: &Schema) -> Table {
    Table {
        rows: 0,
        columns: schema
            .columns
            .iter()
            .map(|c| empty_column(&c.kind))
            .collect(),
        places: vec![],
        sources: vec![],
        headings: vec![],
        parent_rows: Some(vec![]),
        from_above: None,
    }
}

fn empty_column(kind: &ColumnKind) -> ColumnData {
    let values = match kind {
        ColumnKind::Text | ColumnKind::Lites => Values::Text {
            ids: vec![],
            pool: Texts::default(),
        },
        ColumnKind::YesNo => Values::YesNo(vec![]),
        ColumnKind::Choice(_) => Values::Choice(vec![]),
        ColumnKind::Date => Values::Date(vec![]),
        ColumnKind::Number { .. } | ColumnKind::Moment | ColumnKind::Temperature => {
            Values::Numbers(Numbers::Scaled {
                num: vec![],
                den: 1,
            })
        }
    };
    ColumnData {
        values,
        absent: None,
    }
}
