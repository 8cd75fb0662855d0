//! Tables without a sheet behind them, such as price books and tables of reference: cells as they are below a heading row.
//!
//! Shares the opening of files and the finding of headings with surveys. Must not know what the cells mean.

use crate::diagnostics::{CellPlace, Diagnostic, Place, any_error};

use super::SourceFile;
use super::csv::{CsvSource, own};
use super::gather::{Opened, no_heading, open};
use super::heading::{self, HEAD_ROWS, HeadingRow, PlainNames, split_unit};
use super::raw::{RawCell, RawRow};
use super::workbook::{BATCH, Book};
use std::sync::atomic::AtomicBool;

/// How to read a raw table.
#[derive(Debug, Clone, Default)]
pub struct RawOptions {
    /// For each wanted column the headings it may have; a unit in brackets behind a heading is allowed. When empty, the first row that holds
    /// anything is the heading row.
    pub wanted: Vec<Vec<String>>,
    /// How many of the wanted columns a heading row names at the least; at least one.
    pub least: usize,
    /// Tab of a workbook; otherwise the first visible one with a heading row.
    pub tab: Option<String>,
    /// 1-based row of the headings, when it is not to be looked for.
    pub heading_row: Option<u32>,
    /// What parts the cells of a CSV file, when it is not to be found out.
    pub delimiter: Option<u8>,
    /// Set by the caller to stop the reading.
    pub stop: Option<&'static AtomicBool>,
}

/// Cells below a heading row.
#[derive(Debug, Clone, PartialEq)]
pub struct RawTable {
    /// File name as the user gave it.
    pub file: String,
    /// Tab of a workbook.
    pub tab: Option<String>,
    /// First and last row of the headings, 1-based.
    pub heading_rows: (u32, u32),
    /// Headings of the file; empty texts where there are none.
    pub headings: Vec<String>,
    /// For each wanted column, where it is in `headings`.
    pub columns: Vec<Option<usize>>,
    /// Rows below the headings that hold anything.
    pub rows: Vec<RawRow>,
    /// Matters that did not stop the reading.
    pub warnings: Vec<Diagnostic>,
}

impl RawTable {
    /// The unit written in a heading, as in `Price (USD)`.
    pub fn heading_unit(&self, column: usize) -> Option<&str> {
        Some(split_unit(self.headings.get(column)?)?.1)
    }

    /// The place of a cell, its column counted from 0.
    pub fn place(&self, row: u32, column: usize) -> CellPlace {
        CellPlace {
            file: self.file.clone(),
            tab: self.tab.clone(),
            row,
            column: u32::try_from(column + 1).ok(),
            heading: self.headings.get(column).filter(|h| !h.is_empty()).cloned(),
        }
    }
}

/// Reads a raw table. Errors: every problem of the file; two columns with one wanted heading is one (OV-702).
pub fn raw_rows(file: SourceFile<'_>, options: &RawOptions) -> Result<RawTable, Vec<Diagnostic>> {
    let (table, problems) =
        match open(&file.name, file.content, options.stop).map_err(|p| vec![p])? {
            Opened::Text(source) => text(&file.name, source, options)?,
            Opened::Book(book) => workbook(&file.name, book, options)?,
        };
    if any_error(&problems) {
        Err(problems)
    } else {
        Ok(RawTable {
            warnings: problems,
            ..table
        })
    }
}

/// The wanted columns by their headings.
struct Wanted {
    names: PlainNames,
    count: usize,
}

impl Wanted {
    fn new(options: &RawOptions) -> Wanted {
        let mut names = PlainNames::default();
        for (at, accepted) in options.wanted.iter().enumerate() {
            for name in accepted {
                names.add(name, at);
            }
        }
        Wanted {
            names,
            count: options.wanted.len(),
        }
    }

    fn name_of(&self, heading: &str) -> Option<usize> {
        self.names
            .get(heading)
            .or_else(|| self.names.get(split_unit(heading)?.0))
    }
}

fn find(options: &RawOptions, wanted: &Wanted, rows: &[RawRow]) -> Option<HeadingRow> {
    if options.wanted.is_empty() {
        let row = rows
            .iter()
            .find(|r| options.heading_row.is_none_or(|t| t == r.row) && !r.cells.is_empty())?;
        return heading::find(
            std::slice::from_ref(row),
            Some(row.row),
            1,
            &|_| Some(0),
            &|_| false,
        );
    }
    heading::find(
        rows,
        options.heading_row,
        options.least.max(1),
        &|t| wanted.name_of(t),
        &|_| false,
    )
    .filter(|h| h.hits >= options.least)
}

fn missing(
    name: &str,
    tab: Option<&str>,
    rows: &[RawRow],
    options: &RawOptions,
) -> Vec<Diagnostic> {
    let wanted: Vec<&str> = options
        .wanted
        .iter()
        .filter_map(|w| w.first())
        .map(String::as_str)
        .collect();
    vec![no_heading(name, tab, rows, options.heading_row, &wanted)]
}

fn begin(
    name: &str,
    tab: Option<&str>,
    heading: &HeadingRow,
    wanted: &Wanted,
) -> (RawTable, Vec<Diagnostic>) {
    let mut table = RawTable {
        file: name.to_string(),
        tab: tab.map(str::to_string),
        heading_rows: (heading.first, heading.last),
        headings: heading.shown(),
        columns: vec![None; wanted.count],
        rows: Vec::new(),
        warnings: Vec::new(),
    };
    let mut problems = Vec::new();
    for (at, forms) in heading.forms.iter().enumerate() {
        let Some(wanted) = forms.iter().find_map(|f| wanted.name_of(f)) else {
            continue;
        };
        match table.columns.get(wanted).copied().flatten() {
            Some(first) => problems.push(
                Diagnostic::error(
                    "OV-702",
                    format!(
                        "two columns are both \"{}\"",
                        heading.shown().get(at).map_or("", String::as_str)
                    ),
                )
                .at(table.place(heading.last, first), "the first")
                .at(table.place(heading.last, at), "the second")
                .expected("one column for each name"),
            ),
            None => {
                if let Some(column) = table.columns.get_mut(wanted) {
                    *column = Some(at);
                }
            }
        }
    }
    (table, problems)
}

fn text(
    name: &str,
    mut source: CsvSource<'_>,
    options: &RawOptions,
) -> Result<(RawTable, Vec<Diagnostic>), Vec<Diagnostic>> {
    let candidates = options
        .delimiter
        .map_or_else(|| b",;\t".to_vec(), |d| vec![d]);
    let wanted = Wanted::new(options);
    let most = options
        .heading_row
        .map_or(HEAD_ROWS, |r| (crate::ids::at(r) + 2).max(HEAD_ROWS));
    let mut best: Option<(u8, HeadingRow)> = None;
    for delimiter in candidates {
        if best
            .as_ref()
            .is_some_and(|b| !source.may_hold(delimiter, b.1.hits))
        {
            continue;
        }
        if let Some(found) = find(options, &wanted, &source.head(delimiter, most)) {
            let better = |b: &HeadingRow| (found.hits, found.forms.len()) > (b.hits, b.forms.len());
            if best.as_ref().is_none_or(|b| better(&b.1)) {
                best = Some((delimiter, found));
            }
        }
    }
    let Some((delimiter, heading)) = best else {
        let rows = source.head(options.delimiter.unwrap_or(b','), most);
        return Err(missing(name, None, &rows, options));
    };
    source.set_delimiter(delimiter);
    let (mut table, mut problems) = begin(name, None, &heading, &wanted);
    loop {
        match source.next_block() {
            Ok(Some(block)) => block.rows(|record| {
                let own = own(record);
                if own.row > heading.last && !own.cells.is_empty() {
                    table.rows.push(own);
                }
                true
            }),
            Ok(None) => break,
            Err(problem) => {
                problems.push(problem);
                break;
            }
        }
    }
    problems.append(&mut source.take_problems());
    Ok((table, problems))
}

fn workbook(
    name: &str,
    mut book: Book<'_>,
    options: &RawOptions,
) -> Result<(RawTable, Vec<Diagnostic>), Vec<Diagnostic>> {
    let tabs: Vec<_> = book
        .tabs()
        .iter()
        .filter(|t| {
            options
                .tab
                .as_ref()
                .map_or(!t.hidden, |wanted| t.name == *wanted)
        })
        .map(|t| t.name.clone())
        .collect();
    if tabs.is_empty() {
        let d = Diagnostic::error("OV-018", "the workbook has no such tab")
            .at(Place::File(name.to_string()), "");
        return Err(vec![match &options.tab {
            Some(tab) => d.expected(format!("a tab \"{tab}\"")),
            None => d.expected("a visible tab with cells"),
        }]);
    }
    let most = options
        .heading_row
        .map_or(HEAD_ROWS, |r| (crate::ids::at(r) + 2).max(HEAD_ROWS));
    let wanted = Wanted::new(options);
    let mut first_head = None;
    for tab in &tabs {
        let rows = book.head(tab, most).map_err(|p| vec![p])?;
        let Some(heading) = find(options, &wanted, &rows) else {
            first_head.get_or_insert((tab.clone(), rows));
            continue;
        };
        let (mut table, mut problems) = begin(name, Some(tab), &heading, &wanted);
        let asked: Vec<usize> = (0..heading.forms.len()).collect();
        let done =
            book.stream(tab, heading.forms.len(), &asked, BATCH, &mut |rows| {
                table.rows.extend(rows.into_iter().filter(|r| {
                    r.row > heading.last && r.cells.iter().any(|c| *c != RawCell::Blank)
                }));
                true
            });
        problems.extend(done.err());
        return Ok((table, problems));
    }
    let (tab, rows) = first_head.unwrap_or_default();
    Err(missing(name, Some(&tab), &rows, options))
}
