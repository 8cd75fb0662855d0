//! Opens files, finds the tab, the heading row and what parts the cells, and sends the rows on to be read side by side.
//!
//! A file that cannot be read leaves its problems and the next one is opened. Must not know what cells mean.

use std::io::{Cursor, Read};
use std::sync::atomic::{AtomicBool, Ordering};

use rayon::prelude::*;

use crate::diagnostics::source::column_letters;
use crate::diagnostics::{CellPlace, Diagnostic, Place, any_error};
use crate::table::{Schema, Table};
use crate::units::{UnitExpr, reads_as_unit};

use super::build::Builder;
use super::cells::CellSettings;
use super::csv::{Block, CsvSource, Piece};
use super::encoding::TextReader;
use super::heading::{self, HEAD_ROWS, HeadingRow, Mapping, Origin};
use super::part::{Part, TabPlan};
use super::raw::{RawRow, RowView, cut};
use super::report::{MatchedColumn, TabReport};
use super::tabs::OtherTabs;
use super::workbook::{self, Book, Hidden};
use super::{Content, ReadOptions, SourceFile};

/// Rows of a workbook read by one thread at a time.
const ROWS_APIECE: usize = 1024;

/// A survey while its files are read.
pub(crate) struct Gathering<'a> {
    pub(crate) schema: &'a Schema,
    pub(crate) settings: CellSettings<'a>,
    pub(crate) options: &'a ReadOptions<'a>,
    /// The table above with its schema.
    pub(crate) parent: Option<(&'a Schema, &'a Table)>,
    pub(crate) builder: Builder<'a>,
    /// Problems of files and headings; those of cells are with the builder.
    pub(crate) problems: Vec<Diagnostic>,
    /// One for each tab or text file read.
    pub(crate) tabs: Vec<TabReport>,
    pub(crate) headings: Vec<Vec<Option<(u32, String)>>>,
    /// For each, what parts the cells of a text file.
    pub(crate) delimiters: Vec<Option<u8>>,
    /// Named tabs that no workbook had so far.
    pub(super) tabs_not_found: Vec<String>,
    /// Tabs that could be meant by one that is not there.
    pub(super) others: OtherTabs,
    bytes_before: u64,
    pub(crate) stopped: bool,
}

/// What a file turned out to be.
pub(crate) enum Opened<'s> {
    Book(Book<'s>),
    Text(CsvSource<'s>),
}

/// Looks at the first bytes and opens the file as what it is, whatever its name says.
pub(crate) fn open<'s>(
    name: &str,
    content: Content<'s>,
    stop: Option<&'s AtomicBool>,
) -> Result<Opened<'s>, Diagnostic> {
    let failed = |e: std::io::Error| {
        Diagnostic::error("OV-020", "the file could not be read")
            .at(Place::File(name.to_string()), "")
            .found(e.to_string())
    };
    let (start, content) = match content {
        Content::Bytes(bytes) => (
            bytes.get(..1024.min(bytes.len())).unwrap_or(&[]).to_vec(),
            Content::Bytes(bytes),
        ),
        Content::Stream(mut stream) => {
            let mut start = Vec::new();
            (&mut stream)
                .take(1024)
                .read_to_end(&mut start)
                .map_err(failed)?;
            let whole = Cursor::new(start.clone()).chain(stream);
            (start, Content::Stream(Box::new(whole)))
        }
    };
    if start.iter().all(u8::is_ascii_whitespace) && start.len() < 1024 {
        return Err(Diagnostic::error("OV-010", "the file is empty")
            .at(Place::File(name.to_string()), "")
            .expected("a heading row and rows below it"));
    }
    if workbook::looks_like_workbook(&start) {
        let bytes = match content {
            Content::Bytes(bytes) => bytes,
            Content::Stream(stream) => {
                let mut bytes = Vec::new();
                stream
                    .take(workbook::MAX_FILE + 1)
                    .read_to_end(&mut bytes)
                    .map_err(failed)?;
                bytes
            }
        };
        return Book::open(name, bytes, stop).map(Opened::Book);
    }
    if let Some(kind) = other_kind(&start) {
        return Err(
            Diagnostic::error("OV-017", "the file is not a table, despite its name")
                .at(Place::File(name.to_string()), "")
                .found(kind)
                .expected("a CSV file or a workbook")
                .mend("Open it in a spreadsheet program and save it as XLSX or as CSV UTF-8."),
        );
    }
    let source: Box<dyn Read + Send + 's> = match content {
        Content::Bytes(bytes) => Box::new(Cursor::new(bytes)),
        Content::Stream(stream) => stream,
    };
    CsvSource::open(name, TextReader::new(name, source)).map(Opened::Text)
}

fn other_kind(start: &[u8]) -> Option<&'static str> {
    let text = String::from_utf8_lossy(start)
        .trim_start_matches('\u{feff}')
        .trim_start()
        .to_lowercase();
    [
        ("<!doctype html", "a web page"),
        ("<html", "a web page"),
        ("<table", "a web page"),
        ("<?xml", "an XML file"),
        ("%pdf-", "a PDF file"),
        ("{\\rtf", "a rich text file"),
    ]
    .into_iter()
    .find(|(mark, _)| text.starts_with(mark))
    .map(|(_, kind)| kind)
}

impl<'a> Gathering<'a> {
    /// `parent` is the table above with its schema.
    pub(crate) fn new(
        schema: &'a Schema,
        settings: CellSettings<'a>,
        options: &'a ReadOptions<'a>,
        parent: Option<(&'a Schema, &'a Table)>,
    ) -> Self {
        Gathering {
            schema,
            settings,
            options,
            parent,
            builder: Builder::new(schema, options.keep_text, parent),
            problems: Vec::new(),
            tabs: Vec::new(),
            headings: Vec::new(),
            delimiters: Vec::new(),
            tabs_not_found: options.tabs.clone(),
            others: OtherTabs::default(),
            bytes_before: 0,
            stopped: false,
        }
    }

    /// Reads all files in order.
    pub(crate) fn files(&mut self, files: Vec<SourceFile<'_>>) {
        let mut last_book = None;
        for file in files {
            if self.stopped {
                break;
            }
            let total = if let Content::Bytes(b) = &file.content {
                Some(crate::ids::long(b.len()))
            } else {
                None
            };
            match open(&file.name, file.content, self.options.stop) {
                Ok(Opened::Book(book)) => {
                    last_book = Some(file.name.clone());
                    self.workbook(&file.name, book, total);
                }
                Ok(Opened::Text(source)) => self.text(&file.name, source, total),
                Err(problem) => self.problems.push(problem),
            }
            self.stopped |= self.problems.iter().any(|p| p.code == "OV-021");
            self.bytes_before += total.unwrap_or(0);
        }
        self.problems.retain(|p| p.code != "OV-021");
        if self.stopped {
            self.problems.push(Diagnostic::error(
                "OV-021",
                "the reading was stopped before its end",
            ));
        }
        self.tell_missing_tabs(last_book.as_deref());
    }

    fn going_on(&mut self, done: u64, total: Option<u64>) -> bool {
        if let Some(progress) = self.options.progress {
            progress(
                self.bytes_before + done,
                total.map(|t| t + self.bytes_before),
            );
        }
        self.stopped |= self.options.stop.is_some_and(|s| s.load(Ordering::Relaxed));
        !self.stopped
    }

    pub(super) fn find_heading(&self, rows: &[RawRow]) -> Option<HeadingRow> {
        find_for(self.schema, &self.settings, self.options.heading_row, rows)
    }

    pub(super) fn head_rows(&self) -> usize {
        self.options
            .heading_row
            .map_or(HEAD_ROWS, |r| (crate::ids::at(r) + 2).max(HEAD_ROWS))
    }

    fn text(&mut self, name: &str, mut source: CsvSource<'_>, total: Option<u64>) {
        let most = self.head_rows();
        let candidates = self
            .options
            .delimiter
            .map_or_else(|| b",;\t".to_vec(), |d| vec![d]);
        let mut best: Option<(u8, HeadingRow)> = None;
        for delimiter in candidates {
            if best
                .as_ref()
                .is_some_and(|b| !source.may_hold(delimiter, b.1.hits))
            {
                continue;
            }
            let found = self.find_heading(&source.head(delimiter, most));
            if let Some(found) = found.filter(|f| best.as_ref().is_none_or(|b| f.hits > b.1.hits)) {
                best = Some((delimiter, found));
            }
        }
        let Some((delimiter, heading)) = best else {
            let rows = source.head(self.options.delimiter.unwrap_or(b','), most);
            self.problems.append(&mut source.take_problems());
            self.problems.push(self.no_heading(name, None, &rows));
            return;
        };
        source.set_delimiter(delimiter);
        let Some((mapping, index)) = self.begin(name, None, &heading, Some(delimiter)) else {
            return;
        };
        let plan = TabPlan::new(
            self.schema,
            &mapping,
            self.settings,
            index,
            true,
            self.options.keep_text,
        );
        let (mut blocks, mut parts) = (self.next_blocks(&mut source), Vec::new());
        while !blocks.is_empty() {
            // While the blocks at hand are read on all threads, the next ones are fetched and those before put in place.
            let builder = &mut self.builder;
            let (read, next) = rayon::join(
                || {
                    let pieces: Vec<Piece<'_>> = blocks.iter().flat_map(Block::pieces).collect();
                    pieces
                        .par_iter()
                        .map(|piece| read_piece(&plan, piece))
                        .collect::<Vec<Part>>()
                },
                || {
                    let next = fetch(&mut source);
                    parts.drain(..).for_each(|part| builder.add(&plan, part));
                    next
                },
            );
            parts = read;
            let done = source.bytes_done();
            blocks = self.unpack(next);
            if !self.going_on(done, total) {
                break;
            }
        }
        parts
            .into_iter()
            .for_each(|part| self.builder.add(&plan, part));
        self.problems.append(&mut source.take_problems());
        self.end(&mapping);
    }

    fn next_blocks(&mut self, source: &mut CsvSource<'_>) -> Vec<Block> {
        let fetched = fetch(source);
        self.unpack(fetched)
    }

    fn unpack(&mut self, (blocks, problem): (Vec<Block>, Option<Diagnostic>)) -> Vec<Block> {
        self.problems.extend(problem);
        blocks
    }

    fn workbook(&mut self, name: &str, mut book: Book<'_>, total: Option<u64>) {
        for (tab, heading) in self.choose_tabs(name, &mut book) {
            let Some((mapping, index)) = self.begin(name, Some(&tab), &heading, None) else {
                return;
            };
            let plan = TabPlan::new(
                self.schema,
                &mapping,
                self.settings,
                index,
                false,
                self.options.keep_text,
            );
            let asked: Vec<usize> = mapping
                .origins
                .iter()
                .filter_map(|o| {
                    if let Origin::Cells(c, _) = o {
                        Some(*c)
                    } else {
                        None
                    }
                })
                .collect();
            let done = book.stream(
                &tab,
                mapping.shown.len(),
                &asked,
                workbook::BATCH,
                &mut |rows| {
                    let parts: Vec<Part> = rows
                        .par_chunks(ROWS_APIECE)
                        .map(|rows| read_rows(&plan, rows))
                        .collect();
                    for part in parts {
                        self.builder.add(&plan, part);
                    }
                    self.going_on(0, total)
                },
            );
            let hidden = book.hidden(&tab);
            self.problems.extend(done.err());
            self.note_hidden(name, &tab, &hidden, &mapping);
            self.end(&mapping);
            if self.stopped {
                return;
            }
        }
        self.going_on(total.unwrap_or(0), total);
    }

    fn note_hidden(&mut self, file: &str, tab: &str, hidden: &Hidden, mapping: &Mapping) {
        let asked = |c: u32| mapping.headings.iter().flatten().any(|h| h.0 == c);
        let rows = hidden
            .rows
            .iter()
            .filter(|r| r.1 > mapping.last_row)
            .map(|(a, b)| ranged(&a.to_string(), &b.to_string(), "row"));
        let columns = hidden
            .columns
            .iter()
            .filter(|c| (c.0..=c.1.min(c.0.saturating_add(16_384))).any(asked))
            .map(|(a, b)| ranged(&column_letters(*a), &column_letters(*b), "column"));
        let list: Vec<String> = rows.chain(columns).collect();
        if list.is_empty() {
            return;
        }
        let mut found = list.iter().take(12).cloned().collect::<Vec<_>>().join(", ");
        if list.len() > 12 {
            found.push_str(&format!(" and {} more runs", list.len() - 12));
        }
        let place = CellPlace {
            file: file.to_string(),
            tab: Some(tab.to_string()),
            row: hidden
                .rows
                .iter()
                .map(|r| r.0)
                .find(|r| *r > mapping.last_row)
                .unwrap_or(mapping.last_row),
            column: None,
            heading: None,
        };
        self.problems.push(
            Diagnostic::warning("OV-031", "hidden rows or columns of the workbook are read like the others")
                .at(place, "")
                .found(found)
                .note("A filter that was left on hides rows. Show all rows and check that they belong to the survey."),
        );
    }

    pub(super) fn map(
        &self,
        heading: &HeadingRow,
        file: &str,
        tab: Option<&str>,
    ) -> (Mapping, Vec<Diagnostic>) {
        let asked = heading::Asked {
            schema: self.schema,
            nouns: self.settings.nouns,
            currency: self.settings.currency,
            file,
            tab,
        };
        heading::map(asked, heading)
    }

    /// Notes a new tab or file; its columns and its number. `None` when there are more than can be numbered.
    fn begin(
        &mut self,
        file: &str,
        tab: Option<&str>,
        heading: &HeadingRow,
        delimiter: Option<u8>,
    ) -> Option<(Mapping, u16)> {
        let index = u16::try_from(self.tabs.len()).ok()?;
        let (mapping, mut problems) = self.map(heading, file, tab);
        self.problems.append(&mut problems);
        self.builder.begin_source();
        self.headings.push(mapping.headings.clone());
        self.delimiters.push(delimiter);
        self.tabs.push(self.tab_report(file, tab, &mapping));
        Some((mapping, index))
    }

    fn end(&mut self, mapping: &Mapping) {
        let rows = self.builder.rows_of_source();
        let Some(tab) = self.tabs.last_mut() else {
            return;
        };
        tab.rows = rows;
        if rows == 0 && !self.stopped && !any_error(&self.problems) {
            let place = CellPlace {
                file: tab.file.clone(),
                tab: tab.tab.clone(),
                row: mapping.last_row,
                column: None,
                heading: None,
            };
            let name = &self.schema.name;
            let message = format!("no row of \"{name}\" below the headings");
            self.problems.push(match &self.schema.parent {
                // A form has a tab for every table, and not every building fills all of them.
                Some((above, _)) => Diagnostic::warning("OV-705", message)
                    .at(place, "the heading row")
                    .note(format!("every {above} counts as having none")),
                None => Diagnostic::error("OV-705", message)
                    .at(place, "the heading row")
                    .expected("at least one row: fill in the form before you run the job"),
            });
        }
    }

    fn tab_report(&self, file: &str, tab: Option<&str>, mapping: &Mapping) -> TabReport {
        let unit_text = |unit: &UnitExpr| unit.text(self.settings.nouns);
        let columns = self
            .schema
            .columns
            .iter()
            .zip(&mapping.origins)
            .zip(&mapping.headings);
        TabReport {
            file: file.to_string(),
            tab: tab.map(str::to_string),
            heading_rows: (mapping.first_row, mapping.last_row),
            columns: columns
                .filter_map(|((spec, origin), heading)| {
                    let (unit, heading, column) = match (origin, heading) {
                        (Origin::Cells(_, unit), Some((column, heading))) => {
                            (unit.as_ref().map(unit_text), heading.clone(), Some(*column))
                        }
                        (Origin::Fixed(text), _) => (None, format!("always \"{text}\""), None),
                        _ => return None,
                    };
                    Some(MatchedColumn {
                        name: spec.name.clone(),
                        heading,
                        column,
                        unit,
                    })
                })
                .collect(),
            unasked: mapping.unasked.clone(),
            skipped: Vec::new(),
            rows: 0,
        }
    }

    pub(super) fn no_heading(&self, file: &str, tab: Option<&str>, rows: &[RawRow]) -> Diagnostic {
        let wanted: Vec<&str> = self
            .schema
            .columns
            .iter()
            .map(|c| c.headings.first().unwrap_or(&c.name).as_str())
            .collect();
        no_heading(file, tab, rows, self.options.heading_row, &wanted)
    }
}

/// No row names the wanted columns.
pub(crate) fn no_heading(
    file: &str,
    tab: Option<&str>,
    rows: &[RawRow],
    told: Option<u32>,
    wanted: &[&str],
) -> Diagnostic {
    let row = told.or(rows.first().map(|r| r.row)).unwrap_or(1);
    let place = CellPlace {
        file: file.to_string(),
        tab: tab.map(str::to_string),
        row,
        column: None,
        heading: None,
    };
    let fullest = rows
        .iter()
        .filter(|r| told.is_none_or(|t| t == r.row))
        .max_by_key(|r| {
            let filled = (0..r.width()).filter(|c| !r.get(*c).is_blank()).count();
            (filled, std::cmp::Reverse(r.row))
        });
    let problem = match told {
        Some(row) => Diagnostic::error("OV-700", format!("row {row} is no heading row")),
        None => Diagnostic::error(
            "OV-700",
            format!("no heading row among the first {} rows", rows.len().max(1)),
        ),
    };
    let problem = problem
        .at(place, "")
        .expected(format!("a row with headings such as {}", quoted(wanted)));
    match fullest {
        Some(r) => {
            let cells: Vec<String> = (0..r.width())
                .map(|c| cut(&r.get(c).shown()))
                .filter(|t| !t.is_empty())
                .take(12)
                .collect();
            problem.found(format!("row {}: {}", r.row, cells.join(" | ")))
        }
        None => problem.found("nothing"),
    }
}

/// The heading row that names the columns of a schema.
pub(super) fn find_for(
    schema: &Schema,
    settings: &CellSettings<'_>,
    told: Option<u32>,
    rows: &[RawRow],
) -> Option<HeadingRow> {
    let names = heading::Names::new(schema);
    heading::find(
        rows,
        told,
        schema.columns.len(),
        &|text| names.name_of(text).map(|n| n.0),
        &|text| !text.is_empty() && reads_as_unit(text, settings.nouns, settings.currency),
    )
}

/// Names in quotes, the first dozen.
pub(crate) fn quoted(list: &[&str]) -> String {
    let mut shown: Vec<String> = list
        .iter()
        .take(12)
        .map(|t| format!("\"{}\"", cut(t)))
        .collect();
    if list.len() > 12 {
        shown.push(format!("{} more", list.len() - 12));
    }
    shown.join(", ")
}

fn ranged(first: &str, last: &str, what: &str) -> String {
    if first == last {
        format!("{what} {first}")
    } else {
        format!("{what}s {first} to {last}")
    }
}

/// As many blocks as keep all threads busy, and the problem that ended them.
fn fetch(source: &mut CsvSource<'_>) -> (Vec<Block>, Option<Diagnostic>) {
    let mut blocks = Vec::new();
    for _ in 0..rayon::current_num_threads() * 2 {
        match source.next_block() {
            Ok(Some(block)) => blocks.push(block),
            Ok(None) => break,
            Err(problem) => return (blocks, Some(problem)),
        }
    }
    (blocks, None)
}

fn read_piece(plan: &TabPlan<'_>, piece: &Piece<'_>) -> Part {
    let mut part = plan.begin();
    piece.rows(|record| {
        plan.read_row(&mut part, record);
        true
    });
    part
}

fn read_rows(plan: &TabPlan<'_>, rows: &[RawRow]) -> Part {
    let mut part = plan.begin();
    for row in rows {
        plan.read_row(&mut part, row);
    }
    part
}
