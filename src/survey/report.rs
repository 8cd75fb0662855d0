//! What a reading found and did: plain data for the outputs. Must not know how any of it was found.

use std::collections::BTreeMap;

use serde::{Serialize, Serializer};

use crate::diagnostics::{CellPlace, Diagnostic, Sources, render};

use super::rows::SkipReason;

/// What was found in a survey and done to it.
#[derive(Debug, Clone, Serialize)]
pub struct Report {
    /// Name of the table.
    pub table: String,
    /// Rows in the table.
    pub rows: usize,
    /// Rows made, and rows that the survey brings, where rows can be made.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub made: Option<MadeRows>,
    /// Each tab or text file read.
    pub tabs: Vec<TabReport>,
    /// Each column of the sheet.
    pub columns: Vec<ColumnReport>,
    /// Rows left out by the user's wish.
    pub set_aside: Vec<SetAsideRow>,
    /// Rows left out of a tentative reading, as no mark puts them in their place: what their mark may be, or nothing.
    #[serde(skip)]
    pub unplaced: Vec<String>,
    /// Of a tentative reading: what does not fit the rows above, each at its cell. The warnings tell the same, each cause once.
    #[serde(skip)]
    pub misfits: Vec<Diagnostic>,
    /// Matters that did not stop the reading.
    #[serde(serialize_with = "as_messages")]
    pub warnings: Vec<Diagnostic>,
}

impl Report {
    /// The report of a table that the job names no file for.
    pub fn empty(table: &str) -> Report {
        Report {
            table: table.to_owned(),
            rows: 0,
            made: None,
            tabs: vec![],
            columns: vec![],
            set_aside: vec![],
            unplaced: vec![],
            misfits: vec![],
            warnings: vec![],
        }
    }
}

/// Rows of a table whose rows can be made.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub struct MadeRows {
    /// Rows made from the rows above.
    pub made: usize,
    /// Rows that the survey brings.
    pub brought: usize,
}

/// A tab of a workbook, or a text file.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct TabReport {
    /// File name as the user gave it.
    pub file: String,
    /// Tab of a workbook.
    pub tab: Option<String>,
    /// First and last row of the headings, 1-based.
    pub heading_rows: (u32, u32),
    /// Columns that the sheet asks for and the file has.
    pub columns: Vec<MatchedColumn>,
    /// Headings that nobody asked for.
    pub unasked: Vec<String>,
    /// Rows left out by the rules.
    pub skipped: Vec<SkippedRows>,
    /// Rows with data, those set aside included.
    pub rows: usize,
}

/// A column of the sheet found in a file.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct MatchedColumn {
    /// Name in the sheet.
    pub name: String,
    /// Heading in the file.
    pub heading: String,
    /// 1-based column of the file; `None` where the name of the tab or file stands in for it.
    pub column: Option<u32>,
    /// Unit that the heading names.
    pub unit: Option<String>,
}

/// Neighbouring rows left out for one reason.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct SkippedRows {
    /// First row.
    pub first: u32,
    /// Last row.
    pub last: u32,
    /// How many.
    pub count: u32,
    /// Why.
    pub reason: SkipReason,
}

/// What was done in one column.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct ColumnReport {
    /// Name in the sheet.
    pub name: String,
    /// Rows in the table.
    pub rows: usize,
    /// Cells read, those of rows set aside included.
    pub cells: usize,
    /// What was read although not written the plain way, and in how many of `cells`.
    pub normalised: BTreeMap<String, u64>,
    /// Blank cells for which the sheet gives a value.
    pub assumed_blank: u64,
    /// That value, if it was used.
    pub assumed_for_blank: Option<String>,
    /// Cells with "n/a" for which the sheet gives a value.
    pub assumed_not_applicable: u64,
    /// That value, if it was used.
    pub assumed_for_not_applicable: Option<String>,
    /// Rows whose value is that of the row above.
    #[serde(skip_serializing_if = "is_zero")]
    pub from_above: u64,
    /// Cells left blank.
    pub blank: u64,
    /// Cells left "n/a".
    pub not_applicable: u64,
}

/// A row left out of the table by the user's wish.
#[derive(Debug, Clone, Serialize)]
pub struct SetAsideRow {
    /// Its mark, or nothing.
    pub mark: String,
    /// The mark of the row above it.
    #[serde(skip)]
    pub above: Option<String>,
    /// Where it is.
    #[serde(serialize_with = "as_text")]
    pub place: CellPlace,
    /// What is wrong with it; nothing where it was named.
    #[serde(serialize_with = "as_messages")]
    pub causes: Vec<Diagnostic>,
}

fn as_text<S: Serializer>(place: &CellPlace, to: S) -> Result<S::Ok, S::Error> {
    to.collect_str(place)
}

fn as_messages<S: Serializer>(list: &[Diagnostic], to: S) -> Result<S::Ok, S::Error> {
    render::to_json(list, &Sources::default()).serialize(to)
}

#[allow(clippy::trivially_copy_pass_by_ref)] // serde hands on a reference
fn is_zero(count: &u64) -> bool {
    *count == 0
}
