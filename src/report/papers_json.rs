//! Papers as JSON, written row by row. Its form is `grammar/papers.schema.json`.
//!
//! ```
//! # fn worked() -> ovolo::session::Session {
//! #     include!(concat!(env!("CARGO_MANIFEST_DIR"), "/tests/docs/worked.rs"))
//! # }
//! use ovolo::lists::{Made, papers, wanted};
//! let session = worked(); // a small job in memory, with a paper of its windows
//! let run = session.run().expect("it is worked");
//! let (program, tables) = (&run.job.checked.program, run.survey.inputs().tables);
//! let version = &program.versions[0];
//! let nodes = wanted(program, version);
//! let results = ovolo::eval::run(program, &run.survey.inputs(), &nodes, &Default::default()).expect("it runs");
//! let made = Made::new(program, version, &tables, &results, &run.worked.estimate);
//! let papers = papers(&made, None, &|_| ovolo::paper::Head::default()).expect("they add up");
//! use ovolo::report::papers_json::{Document, SCHEMA};
//! let document = Document { papers: &papers, lines: false, messages: serde_json::json!([]) };
//! let text = ovolo::defuse::json_text(&document);
//! assert!(text.contains(SCHEMA));
//! ```

use crate::calendar::clock::date_of;
use crate::number::decimal;
use crate::paper::{Cell, Column, Paper, Row, RowKind, Rows, Table, Value};
use serde::ser::{Serialize, SerializeMap, Serializer};
use serde_json::json;
use std::borrow::Cow;

/// Name and version of the form.
pub const SCHEMA: &str = "ovolo-papers/2";
/// Decimals of a number that has more.
const PLACES: u32 = 12;

/// Papers as a document: every list with its columns, sums and number of lines, and its lines where they are asked for.
pub struct Document<'a, R> {
    /// The papers.
    pub papers: &'a [Paper<R>],
    /// Whether the lines of lists are in it.
    pub lines: bool,
    /// What was reported while they were made.
    pub messages: serde_json::Value,
}

impl<R: Rows> Serialize for Document<'_, R> {
    fn serialize<S: Serializer>(&self, out: S) -> Result<S::Ok, S::Error> {
        let mut map = out.serialize_map(Some(3))?;
        map.serialize_entry("schema", SCHEMA)?;
        let papers = self.papers.iter().map(|p| OnePaper(p, self.lines));
        map.serialize_entry("papers", &Each(papers))?;
        map.serialize_entry("messages", &self.messages)?;
        map.end()
    }
}

/// Items written one by one.
struct Each<I>(I);

impl<I: Iterator<Item: Serialize> + Clone> Serialize for Each<I> {
    fn serialize<S: Serializer>(&self, out: S) -> Result<S::Ok, S::Error> {
        out.collect_seq(self.0.clone())
    }
}

struct OnePaper<'a, R>(&'a Paper<R>, bool);

impl<R: Rows> Serialize for OnePaper<'_, R> {
    fn serialize<S: Serializer>(&self, out: S) -> Result<S::Ok, S::Error> {
        let paper = self.0;
        let mut map = out.serialize_map(None)?;
        map.serialize_entry("name", &paper.name)?;
        map.serialize_entry("title", &paper.title)?;
        map.serialize_entry("for", paper.reader.word())?;
        map.serialize_entry("state", paper.state_text())?;
        map.serialize_entry("job", &paper.head.job)?;
        map.serialize_entry("version", &paper.head.version)?;
        map.serialize_entry("issue", &paper.head.issue)?;
        map.serialize_entry("date", &paper.head.date)?;
        map.serialize_entry("record", &paper.head.record)?;
        map.serialize_entry("doubts", &paper.head.doubts)?;
        let lists = paper.tables().map(|t| OneTable(t, self.1));
        let lists: Vec<OneTable<'_, R>> = lists.collect();
        map.serialize_entry("lists", &lists)?;
        map.end()
    }
}

struct OneTable<'a, R>(&'a Table<R>, bool);

impl<R: Rows> Serialize for OneTable<'_, R> {
    fn serialize<S: Serializer>(&self, out: S) -> Result<S::Ok, S::Error> {
        let OneTable(table, lines) = self;
        let mut map = out.serialize_map(None)?;
        map.serialize_entry("name", &table.name)?;
        map.serialize_entry("title", &table.title)?;
        map.serialize_entry("columns", &Each(table.columns.iter().map(column)))?;
        map.serialize_entry("lines", &(table.rows.lines() + table.counted))?;
        map.serialize_entry("notes", &table.notes)?;
        map.serialize_entry("rows", &RowsOf(&table.rows, *lines))?;
        map.end()
    }
}

/// The rows of a table, or its sum alone.
struct RowsOf<'a, R>(&'a R, bool);

impl<R: Rows> Serialize for RowsOf<'_, R> {
    fn serialize<S: Serializer>(&self, out: S) -> Result<S::Ok, S::Error> {
        let RowsOf(rows, lines) = self;
        match lines {
            true => out.collect_seq(rows.each().map(OneRow)),
            false => out.collect_seq(rows.total().map(OneRow)),
        }
    }
}

fn column(column: &Column) -> serde_json::Value {
    json!({"name": column.name, "heading": column.heading, "unit": column.unit})
}

struct OneRow<'a>(Cow<'a, Row>);

impl Serialize for OneRow<'_> {
    fn serialize<S: Serializer>(&self, out: S) -> Result<S::Ok, S::Error> {
        let kind = match self.0.kind {
            RowKind::Group(_) => "group",
            RowKind::Line => "line",
            RowKind::Subtotal(_) => "subtotal",
            RowKind::Total => "total",
        };
        let mut map = out.serialize_map(Some(2))?;
        map.serialize_entry("kind", kind)?;
        map.serialize_entry("cells", &Each(self.0.cells.iter().map(cell)))?;
        map.end()
    }
}

fn cell(cell: &Cell) -> serde_json::Value {
    match &cell.value {
        Value::Day(day) => json!({"text": date_of(*day).to_string()}),
        Value::Number(n) => json!({"text": &*cell.text, "number": decimal(n, PLACES)}),
        Value::Blank | Value::Text | Value::Tick | Value::Room | Value::Unknown => {
            json!({"text": &*cell.text})
        }
    }
}
