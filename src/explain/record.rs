//! A run as it is saved, schema `ovolo-record/1`: the sheets, the survey as read, the prices and what came of them.
//!
//! Everything a later run needs to be compared with, exact, in one text. Must not know how runs are compared.
//!
//! ```
//! # fn worked() -> ovolo::session::Session {
//! #     include!(concat!(env!("CARGO_MANIFEST_DIR"), "/tests/docs/worked.rs"))
//! # }
//! let session = worked(); // a small job in memory
//! let run = session.run().expect("it is worked");
//! let subject = run.job.subject(0, &run.survey, &run.book, &run.worked);
//! let text = ovolo::defuse::json_text(&ovolo::explain::record::Saved { subject: &subject, program: "ovolo" });
//! let record = ovolo::explain::record::Record::read("record.json", &text).expect("a record");
//! assert_eq!(record.program, "ovolo");
//! ```

use super::Subject;
use super::kept::{KeptCell, KeptRow, KeptTable, ratio};
use crate::check::{self, Finder, Loaded};
use crate::diagnostics::{CellPlace, Diagnostic, Place, any_error};
use crate::number::{Decimal, Exact, cents_text, parse_money};
use crate::prices::{Pack, PriceBook, PriceEntry};
use crate::pricing::Estimate;
use crate::program::{Program, ResourceClass, ResourceId, Version};
use crate::table::{Absence, Schema, Table};
use serde::Deserialize;
use serde::ser::{Serialize, SerializeMap, Serializer};
use serde_json::{Map, Value, json};
use std::collections::HashMap;

/// Name and version of the form.
pub const SCHEMA: &str = "ovolo-record/1";

/// The classes of the headline that have an amount.
pub(super) const CLASSES: [ResourceClass; 5] = [
    ResourceClass::Labor,
    ResourceClass::Stock,
    ResourceClass::Glass,
    ResourceClass::Points,
    ResourceClass::Putty,
];

/// What is compared of two runs.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Figures {
    /// The final figure, in cents.
    pub total: i128,
    /// Cost before charges, in cents.
    pub cost: i128,
    /// Net amounts of labor, stock, glass, points and putty, each in the unit of its headline.
    pub amounts: [Exact; 5],
}

impl Figures {
    /// Those of an estimate.
    pub fn of(estimate: &Estimate) -> Figures {
        let amount = |of: ResourceClass| {
            let row = estimate.headline.iter().find(|r| r.class == of);
            row.and_then(|r| r.net.clone()).unwrap_or_default()
        };
        Figures {
            total: estimate.totals.grand,
            cost: estimate.totals.direct,
            amounts: CLASSES.map(amount),
        }
    }
}

/// A saved run.
#[derive(Debug, Clone)]
pub struct Record {
    /// Program it was made with.
    pub program: String,
    /// Alternate it was made of; none for the job as decided.
    pub alternate: Option<String>,
    /// The files it was made from; none in records of earlier versions.
    pub made_from: Vec<MadeFrom>,
    pub(super) job: String,
    /// The day that the command line gave.
    issued: Option<String>,
    pub(super) texts: HashMap<String, String>,
    pub(super) survey: Vec<KeptTable>,
    pub(super) prices: Vec<KeptPrice>,
    pub(super) figures: Figures,
}

/// A price of the book.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct KeptPrice {
    pub(super) resource: String,
    pub(super) price: Decimal,
    pub(super) unit: String,
    pub(super) per_base: Exact,
    pub(super) pack: Option<Pack>,
}

/// A run as it is written down, row by row, by [`crate::defuse::json`]. `program` is the name of this program with its version.
pub struct Saved<'a> {
    /// The run.
    pub subject: &'a Subject<'a>,
    /// The program it was made with.
    pub program: &'a str,
}

impl Serialize for Saved<'_> {
    fn serialize<S: Serializer>(&self, out: S) -> Result<S::Ok, S::Error> {
        let subject = self.subject;
        let loaded = subject.loaded;
        let mut texts: Vec<(&str, &str)> = loaded.sources.iter().collect();
        let mut tables: Vec<(&str, &str)> = loaded
            .tables
            .values()
            .filter_map(|t| t.as_ref().ok())
            .map(|(n, t)| (n.as_str(), t.as_str()))
            .collect();
        tables.sort_unstable();
        texts.extend(tables);
        texts.dedup();
        // What is used comes before what uses it, so the job sheet is last.
        let job = loaded
            .sheets
            .last()
            .map_or("", |s| loaded.sources.name(s.file));
        let figures = Figures::of(subject.estimate);
        let amounts: Map<String, Value> = CLASSES
            .iter()
            .zip(&figures.amounts)
            .map(|(c, n)| (c.word().to_owned(), json!(n.to_string())))
            .collect();
        let totals = json!({"total": cents_text(figures.total), "cost": cents_text(figures.cost), "amounts": amounts});
        let sheets: Value = texts
            .iter()
            .map(|(name, text)| json!({"name": name, "text": text}))
            .collect();
        let files = subject.estimate.origin.files.iter();
        let files: Value = files
            .map(|f| json!({"role": f.role, "name": f.name, "sha256": f.sha256}))
            .collect();
        let prices: Value = kept_prices(subject.version(), subject.book)
            .iter()
            .map(price_json)
            .collect();
        let survey: Vec<SavedTable<'_>> = subject
            .checked
            .program
            .tables
            .iter()
            .zip(&subject.survey.tables)
            .map(|(info, table)| SavedTable(&info.schema, table))
            .collect();
        let mut map = out.serialize_map(None)?;
        map.serialize_entry("schema", SCHEMA)?;
        map.serialize_entry("program", self.program)?;
        map.serialize_entry("alternate", &subject.version().name)?;
        map.serialize_entry("job", job)?;
        map.serialize_entry("issued", &loaded.issued)?;
        map.serialize_entry("totals", &totals)?;
        map.serialize_entry("made_from", &files)?;
        map.serialize_entry("sheets", &sheets)?;
        map.serialize_entry("survey", &survey)?;
        map.serialize_entry("prices", &prices)?;
        map.end()
    }
}

struct SavedTable<'a>(&'a Schema, &'a Table);

impl Serialize for SavedTable<'_> {
    fn serialize<S: Serializer>(&self, out: S) -> Result<S::Ok, S::Error> {
        let columns: Vec<&str> = self.0.columns.iter().map(|c| c.name.as_str()).collect();
        let mut map = out.serialize_map(Some(3))?;
        map.serialize_entry("table", &self.0.name)?;
        map.serialize_entry("columns", &columns)?;
        map.serialize_entry("rows", &SavedRows(self.0, self.1))?;
        map.end()
    }
}

struct SavedRows<'a>(&'a Schema, &'a Table);

impl Serialize for SavedRows<'_> {
    fn serialize<S: Serializer>(&self, out: S) -> Result<S::Ok, S::Error> {
        out.collect_seq(KeptTable::rows_of(self.0, self.1).map(|row| {
            let cells: Value = row.cells.iter().map(cell_json).collect();
            json!({"row": row.name, "cells": cells})
        }))
    }
}

fn cell_json(cell: &KeptCell) -> Value {
    match cell {
        Ok(text) => json!(text),
        Err(why) => json!({"absent": why}),
    }
}

/// The tables of a survey.
pub(super) fn kept(program: &Program, subject: &Subject<'_>) -> Vec<KeptTable> {
    program
        .tables
        .iter()
        .zip(&subject.survey.tables)
        .map(|(info, table)| KeptTable::of(&info.schema, table))
        .collect()
}

/// The prices of a book.
pub(super) fn kept_prices(version: &Version, book: &PriceBook) -> Vec<KeptPrice> {
    let name = |id: ResourceId| version.resources.get(id).map(|r| r.name.clone());
    let entry = |e: &PriceEntry| {
        Some(KeptPrice {
            resource: name(e.resource)?,
            price: e.price,
            unit: e.unit.clone(),
            per_base: e.per_base.clone(),
            pack: e.pack.clone(),
        })
    };
    book.entries.iter().filter_map(entry).collect()
}

/// A book of kept prices, for the resources a version has.
pub(super) fn book_of(version: &Version, prices: &[KeptPrice]) -> PriceBook {
    let entry = |kept: &KeptPrice| {
        Some(PriceEntry {
            resource: version.resources.id_of(|r| r.name == kept.resource)?,
            price: kept.price,
            unit: kept.unit.clone(),
            per_base: kept.per_base.clone(),
            pack: kept.pack.clone(),
            supplier: None,
            source: None,
            date: None,
            day: None,
            note: None,
            spec: None,
            varies: None,
            place: CellPlace {
                file: "record".to_owned(),
                tab: None,
                row: 1,
                column: None,
                heading: None,
            },
        })
    };
    PriceBook {
        entries: prices.iter().filter_map(entry).collect(),
        ..PriceBook::default()
    }
}

fn price_json(price: &KeptPrice) -> Value {
    let pack = price
        .pack
        .as_ref()
        .map(|p| json!({"word": p.word, "holds": p.holds.to_string()}));
    json!({"resource": price.resource, "price": Exact::from(price.price).to_string(), "unit": price.unit, "per_base": price.per_base.to_string(), "pack": pack})
}

impl Record {
    /// Reads a record. Errors: OV-922 for what is no record, or one of a later form.
    pub fn read(name: &str, text: &str) -> Result<Record, Diagnostic> {
        let wrong = |found: &str| {
            Diagnostic::error("OV-922", "this file is no record of an earlier run")
                .at(Place::File(name.to_owned()), "")
                .found(found)
                .expected(format!(
                    "a file written by `ovolo estimate JOB --record FILE`, form {SCHEMA}"
                ))
        };
        let head: Head = serde_json::from_str(text).map_err(|e| wrong(&e.to_string()))?;
        match head.schema.as_deref() {
            Some(SCHEMA) => {}
            Some(other) => return Err(wrong(other)),
            None => return Err(wrong("no `schema`")),
        }
        let file: RecordFile = serde_json::from_str(text).map_err(|e| wrong(&e.to_string()))?;
        file.record()
            .map_err(|lacks| wrong(&format!("`{lacks}` can't be read")))
    }

    /// The sheets of the record, loaded again from its texts. Errors: what is wrong with them now.
    pub(super) fn sheets(&self) -> Result<Loaded, Vec<Diagnostic>> {
        let (mut loaded, problems) =
            check::load_for_run(std::slice::from_ref(&self.job), &Texts(&self.texts));
        if let Some(day) = &self.issued {
            loaded.issue(day);
        }
        if any_error(&problems) {
            Err(problems)
        } else {
            Ok(loaded)
        }
    }
}

/// Finds sheets among the texts of a record, by the names they had.
struct Texts<'a>(&'a HashMap<String, String>);

impl Finder for Texts<'_> {
    fn find(&self, path: &str, from: Option<&str>) -> Result<(String, String), String> {
        let name = from.map_or_else(|| path.to_owned(), |sheet| beside(path, sheet));
        match self.0.get(&name) {
            Some(text) => Ok((name, text.clone())),
            None => Err(format!("the record does not hold {name}")),
        }
    }
}

/// A path written in a sheet, beside that sheet; `a/..` is taken out without asking any disk.
fn beside(path: &str, sheet: &str) -> String {
    if path.starts_with('/') || sheet == "standard input" {
        return path.to_owned();
    }
    let mut parts: Vec<&str> = sheet.split('/').collect();
    parts.pop();
    for part in path.split('/') {
        match part {
            "." | "" => {}
            ".." if parts
                .last()
                .is_some_and(|last| !last.is_empty() && *last != "..") =>
            {
                parts.pop();
            }
            other => parts.push(other),
        }
    }
    parts.join("/")
}

type Lacks = &'static str;

/// What says which form a file has.
#[derive(Deserialize)]
struct Head {
    schema: Option<String>,
}

/// A record as it is in its file. Nothing is between the text and these fields, so that a large record takes no more room than it needs.
#[derive(Deserialize)]
struct RecordFile {
    program: String,
    alternate: Option<String>,
    job: String,
    #[serde(default)]
    issued: Option<String>,
    totals: TotalsFile,
    #[serde(default)]
    made_from: Vec<MadeFrom>,
    sheets: Vec<SheetFile>,
    survey: Vec<TableFile>,
    prices: Vec<PriceFile>,
}

/// A file that a run was made from.
#[derive(Debug, Clone, PartialEq, Eq, Deserialize)]
pub struct MadeFrom {
    /// What it was read as.
    pub role: String,
    /// Its name then.
    pub name: String,
    /// SHA-256 of its bytes in hexadecimal.
    pub sha256: String,
}

#[derive(Deserialize)]
struct TotalsFile {
    total: String,
    cost: String,
    amounts: HashMap<String, String>,
}

#[derive(Deserialize)]
struct SheetFile {
    name: String,
    text: String,
}

#[derive(Deserialize)]
struct TableFile {
    table: String,
    columns: Vec<String>,
    rows: Vec<RowFile>,
}

#[derive(Deserialize)]
struct RowFile {
    row: String,
    cells: Vec<CellFile>,
}

#[derive(Deserialize)]
#[serde(untagged)]
enum CellFile {
    Text(String),
    Absent { absent: AbsentFile },
}

#[derive(Deserialize)]
#[serde(rename_all = "snake_case")]
enum AbsentFile {
    Blank,
    NotApplicable,
    Unreadable,
}

#[derive(Deserialize)]
struct PriceFile {
    resource: String,
    price: String,
    unit: String,
    per_base: String,
    pack: Option<PackFile>,
}

#[derive(Deserialize)]
struct PackFile {
    word: String,
    holds: String,
}

fn exact(text: &str, field: Lacks) -> Result<Exact, Lacks> {
    ratio(text).ok_or(field)
}

fn cents(text: &str, field: Lacks) -> Result<i128, Lacks> {
    let amount = parse_money(text).ok_or(field)?;
    Exact::from(amount)
        .to_cents(crate::number::Rounding::HalfUp)
        .map_err(|_| field)
}

impl RecordFile {
    fn record(self) -> Result<Record, Lacks> {
        let mut amounts = CLASSES.map(|_| Exact::ZERO);
        for (slot, of) in amounts.iter_mut().zip(CLASSES) {
            let text = self.totals.amounts.get(of.word()).ok_or("amounts")?;
            *slot = exact(text, "amounts")?;
        }
        let survey = self.survey.into_iter().map(TableFile::table);
        let prices = self.prices.into_iter().map(PriceFile::price);
        Ok(Record {
            program: self.program,
            alternate: self.alternate,
            job: self.job,
            issued: self.issued,
            made_from: self.made_from,
            texts: self.sheets.into_iter().map(|s| (s.name, s.text)).collect(),
            survey: survey.collect::<Result<_, _>>()?,
            prices: prices.collect::<Result<_, _>>()?,
            figures: Figures {
                total: cents(&self.totals.total, "total")?,
                cost: cents(&self.totals.cost, "cost")?,
                amounts,
            },
        })
    }
}

impl TableFile {
    fn table(self) -> Result<KeptTable, Lacks> {
        let width = self.columns.len();
        let rows = self.rows.into_iter().map(|row| {
            let cells: Vec<KeptCell> = row.cells.into_iter().map(CellFile::cell).collect();
            if cells.len() == width {
                Ok(KeptRow {
                    name: row.row,
                    cells,
                })
            } else {
                Err("cells")
            }
        });
        Ok(KeptTable {
            name: self.table,
            rows: rows.collect::<Result<_, _>>()?,
            columns: self.columns,
        })
    }
}

impl CellFile {
    fn cell(self) -> KeptCell {
        match self {
            CellFile::Text(text) => Ok(text),
            CellFile::Absent { absent } => Err(match absent {
                AbsentFile::Blank => Absence::Blank,
                AbsentFile::NotApplicable => Absence::NotApplicable,
                AbsentFile::Unreadable => Absence::Unreadable,
            }),
        }
    }
}

impl PriceFile {
    fn price(self) -> Result<KeptPrice, Lacks> {
        let pack = match self.pack {
            Some(pack) => Some(Pack {
                holds: exact(&pack.holds, "holds")?,
                word: pack.word,
            }),
            None => None,
        };
        Ok(KeptPrice {
            price: exact(&self.price, "price")?.decimal().ok_or("price")?,
            per_base: exact(&self.per_base, "per_base")?,
            resource: self.resource,
            unit: self.unit,
            pack,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::beside;

    #[test]
    fn sheets_are_found_beside_one_another() {
        assert_eq!(
            beside("../../sheets/a.ovo", "demo/x/job.ovo"),
            "sheets/a.ovo"
        );
        assert_eq!(beside("b.ovo", "job.ovo"), "b.ovo");
        assert_eq!(beside("../s/a.ovo", "../x/job.ovo"), "../s/a.ovo");
        assert_eq!(beside("../../s/a.ovo", "x/job.ovo"), "../s/a.ovo");
        assert_eq!(beside("../a.ovo", "/home/x/job.ovo"), "/home/a.ovo");
    }
}
