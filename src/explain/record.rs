//! A run as it is saved, schema `ovolo-record/1`: the sheets, the survey as read, the prices and what came of them.
//!
//! Everything a later run needs to be compared with, exact, in one text. Must not know how runs are compared.

use super::Subject;
use super::kept::{KeptCell, KeptRow, KeptTable, ratio};
use crate::check::{self, Finder, Loaded};
use crate::diagnostics::{CellPlace, Diagnostic, Place, any_error};
use crate::number::{Exact, cents_text, parse_money};
use crate::prices::{Pack, PriceBook, PriceEntry};
use crate::pricing::{Estimate, class};
use crate::program::{Program, ResourceClass, ResourceId, Version};
use crate::table::Absence;
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
    pub(super) job: String,
    pub(super) texts: HashMap<String, String>,
    pub(super) survey: Vec<KeptTable>,
    pub(super) prices: Vec<KeptPrice>,
    pub(super) figures: Figures,
}

/// A price of the book.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct KeptPrice {
    pub(super) resource: String,
    pub(super) price: Exact,
    pub(super) unit: String,
    pub(super) per_base: Exact,
    pub(super) pack: Option<Pack>,
}

/// Writes a run down. `job` is the name of the job sheet among the sheets; `program` that of this program with its version.
pub fn save(subject: &Subject<'_>, program: &str) -> Value {
    let loaded = subject.loaded;
    let checked = &subject.checked.program;
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
        .map(|(c, n)| (class(*c).to_owned(), json!(n.to_string())))
        .collect();
    json!({
        "schema": SCHEMA,
        "program": program,
        "alternate": subject.version().name,
        "job": job,
        "totals": {"total": cents_text(figures.total), "cost": cents_text(figures.cost), "amounts": amounts},
        "sheets": texts.iter().map(|(name, text)| json!({"name": name, "text": text})).collect::<Value>(),
        "survey": kept(checked, subject).iter().map(table_json).collect::<Value>(),
        "prices": kept_prices(subject.version(), subject.book).iter().map(price_json).collect::<Value>(),
    })
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
    let name = |id: ResourceId| {
        version
            .resources
            .get(usize::from(id.0))
            .map(|r| r.name.clone())
    };
    let entry = |e: &PriceEntry| {
        Some(KeptPrice {
            resource: name(e.resource)?,
            price: e.price.clone(),
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
        let at = version
            .resources
            .iter()
            .position(|r| r.name == kept.resource)?;
        Some(PriceEntry {
            resource: ResourceId(u16::try_from(at).ok()?),
            price: kept.price.clone(),
            unit: kept.unit.clone(),
            per_base: kept.per_base.clone(),
            pack: kept.pack.clone(),
            supplier: None,
            source: None,
            date: None,
            day: None,
            note: None,
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

fn table_json(table: &KeptTable) -> Value {
    let cell = |c: &KeptCell| match c {
        Ok(text) => json!(text),
        Err(why) => json!({"absent": why}),
    };
    let rows: Value = table
        .rows
        .iter()
        .map(|r| json!({"row": r.name, "cells": r.cells.iter().map(cell).collect::<Value>()}))
        .collect();
    json!({"table": table.name, "columns": table.columns, "rows": rows})
}

fn price_json(price: &KeptPrice) -> Value {
    let pack = price
        .pack
        .as_ref()
        .map(|p| json!({"word": p.word, "holds": p.holds.to_string()}));
    json!({"resource": price.resource, "price": price.price.to_string(), "unit": price.unit, "per_base": price.per_base.to_string(), "pack": pack})
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
        let value: Value = serde_json::from_str(text).map_err(|e| wrong(&e.to_string()))?;
        match value.get("schema").and_then(Value::as_str) {
            Some(SCHEMA) => {}
            Some(other) => return Err(wrong(other)),
            None => return Err(wrong("no `schema`")),
        }
        read(&value).map_err(|lacks| wrong(&format!("`{lacks}` is missing or can't be read")))
    }

    /// The sheets of the record, loaded again from its texts. Errors: what is wrong with them now.
    pub(super) fn sheets(&self) -> Result<Loaded, Vec<Diagnostic>> {
        let (loaded, problems) =
            check::load_for_run(std::slice::from_ref(&self.job), &Texts(&self.texts));
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

fn text(value: &Value, field: Lacks) -> Result<String, Lacks> {
    value
        .get(field)
        .and_then(Value::as_str)
        .map(str::to_owned)
        .ok_or(field)
}

fn list(value: &Value, field: Lacks) -> Result<&Vec<Value>, Lacks> {
    value.get(field).and_then(Value::as_array).ok_or(field)
}

fn exact(value: &Value, field: Lacks) -> Result<Exact, Lacks> {
    ratio(&text(value, field)?).ok_or(field)
}

fn cents(value: &Value, field: Lacks) -> Result<i128, Lacks> {
    let amount = parse_money(&text(value, field)?).ok_or(field)?;
    amount
        .to_cents(crate::number::Rounding::HalfUp)
        .map_err(|_| field)
}

fn read(value: &Value) -> Result<Record, Lacks> {
    let totals = value.get("totals").ok_or("totals")?;
    let amounts = totals.get("amounts").ok_or("amounts")?;
    let mut of_class = CLASSES.map(|_| Exact::ZERO);
    for (slot, of) in of_class.iter_mut().zip(CLASSES) {
        *slot = exact(amounts, class(of))?;
    }
    let texts = list(value, "sheets")?
        .iter()
        .map(|s| Ok((text(s, "name")?, text(s, "text")?)))
        .collect::<Result<_, Lacks>>()?;
    Ok(Record {
        program: text(value, "program")?,
        alternate: value
            .get("alternate")
            .and_then(Value::as_str)
            .map(str::to_owned),
        job: text(value, "job")?,
        texts,
        survey: list(value, "survey")?
            .iter()
            .map(table)
            .collect::<Result<_, _>>()?,
        prices: list(value, "prices")?
            .iter()
            .map(price)
            .collect::<Result<_, _>>()?,
        figures: Figures {
            total: cents(totals, "total")?,
            cost: cents(totals, "cost")?,
            amounts: of_class,
        },
    })
}

fn table(value: &Value) -> Result<KeptTable, Lacks> {
    let columns: Vec<String> = list(value, "columns")?
        .iter()
        .map(|c| c.as_str().map(str::to_owned).ok_or("columns"))
        .collect::<Result<_, _>>()?;
    let rows = list(value, "rows")?.iter().map(|row| {
        let cells: Vec<KeptCell> = list(row, "cells")?
            .iter()
            .map(cell)
            .collect::<Result<_, _>>()?;
        if cells.len() == columns.len() {
            Ok(KeptRow {
                name: text(row, "row")?,
                cells,
            })
        } else {
            Err("cells")
        }
    });
    Ok(KeptTable {
        name: text(value, "table")?,
        rows: rows.collect::<Result<_, _>>()?,
        columns,
    })
}

fn cell(value: &Value) -> Result<KeptCell, Lacks> {
    match (value.as_str(), value.get("absent").and_then(Value::as_str)) {
        (Some(text), _) => Ok(Ok(text.to_owned())),
        (None, Some("blank")) => Ok(Err(Absence::Blank)),
        (None, Some("not_applicable")) => Ok(Err(Absence::NotApplicable)),
        (None, Some("unreadable")) => Ok(Err(Absence::Unreadable)),
        _ => Err("cells"),
    }
}

fn price(value: &Value) -> Result<KeptPrice, Lacks> {
    let pack = match value.get("pack").filter(|p| !p.is_null()) {
        Some(pack) => Some(Pack {
            word: text(pack, "word")?,
            holds: exact(pack, "holds")?,
        }),
        None => None,
    };
    Ok(KeptPrice {
        resource: text(value, "resource")?,
        price: exact(value, "price")?,
        unit: text(value, "unit")?,
        per_base: exact(value, "per_base")?,
        pack,
    })
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
