//! Opens files, finds the tab, the heading row and what parts the cells, and sends the rows on to be read side by side.
//!
//! A file that cannot be read leaves its problems and the next one is opened. Must not know what cells mean.

use std::io::{Cursor, Read};
use std::sync::atomic::{AtomicBool, Ordering};

use rayon::prelude::*;

use crate::diagnostics::source::column_letters;
use crate::diagnostics::suggest::nearest;
use crate::diagnostics::{CellPlace, Diagnostic, Place, any_error};
use crate::table::{Schema, Table};
use crate::units::{UnitExpr, reads_as_unit};

use super::build::{Builder, Part, TabPlan};
use super::cells::CellSettings;
use super::csv::{Block, CsvSource, Piece};
use super::encoding::TextReader;
use super::heading::{self, HEAD_ROWS, HeadingRow, Mapping, Origin};
use super::marked::is_list;
use super::raw::{RawRow, RowView, cut};
use super::report::{MatchedColumn, TabReport};
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
    tabs_not_found: Vec<String>,
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
            Diagnostic::error("OV-017", "the file is not a table, whatever its name says")
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
                Some(b.len() as u64)
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
        for tab in std::mem::take(&mut self.tabs_not_found) {
            // A text file has no tabs; asking for one is only wrong where a workbook was read.
            if let Some(book) = &last_book {
                self.problems.push(
                    Diagnostic::error("OV-018", format!("no tab is called \"{tab}\""))
                        .at(Place::File(book.clone()), ""),
                );
            }
        }
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

    fn find_heading(&self, rows: &[RawRow]) -> Option<HeadingRow> {
        find_for(self.schema, &self.settings, self.options.heading_row, rows)
    }

    fn head_rows(&self) -> usize {
        self.options
            .heading_row
            .map_or(HEAD_ROWS, |r| (r as usize + 2).max(HEAD_ROWS))
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

    /// The tabs to read and their headings. Named tabs are read in the order named; else the one that holds the table.
    fn choose_tabs(&mut self, name: &str, book: &mut Book<'_>) -> Vec<(String, HeadingRow)> {
        let file = || Place::File(name.to_string());
        let most = self.head_rows();
        let tabs = book.tabs().to_vec();
        let mut chosen = Vec::new();
        if !self.options.tabs.is_empty() {
            for wanted in &self.options.tabs {
                let Some(tab) = tabs.iter().find(|t| {
                    t.name == *wanted || heading::plain(&t.name) == heading::plain(wanted)
                }) else {
                    continue;
                };
                self.tabs_not_found.retain(|t| t != wanted);
                if tab.hidden {
                    self.problems.push(
                        Diagnostic::warning(
                            "OV-026",
                            format!(
                                "the tab \"{}\" is hidden; it is read because it is named",
                                tab.name
                            ),
                        )
                        .at(file(), ""),
                    );
                }
                match book.head(&tab.name, most) {
                    Ok(rows) => match self.find_heading(&rows) {
                        Some(heading) => chosen.push((tab.name.clone(), heading)),
                        None => self
                            .problems
                            .push(self.no_heading(name, Some(&tab.name), &rows)),
                    },
                    Err(problem) => self.problems.push(problem),
                }
            }
            if chosen.is_empty() && !any_error(&self.problems) {
                let list: Vec<&str> = tabs.iter().map(|t| t.name.as_str()).collect();
                let wanted = self.options.tabs.first().map_or("", String::as_str);
                let near = nearest(wanted, list.iter().copied());
                let problem =
                    Diagnostic::error("OV-018", "the workbook has none of the tabs named")
                        .at(file(), "")
                        .found(format!("tabs {}", quoted(&list)))
                        .expected(quoted(
                            &self
                                .options
                                .tabs
                                .iter()
                                .map(String::as_str)
                                .collect::<Vec<_>>(),
                        ));
                self.problems.push(match near {
                    Some(near) => problem.note(format!("Perhaps \"{near}\" is meant.")),
                    None => problem,
                });
                self.tabs_not_found.clear();
            }
            return chosen;
        }
        let mut heads = Vec::new();
        for tab in tabs.iter().filter(|t| !t.hidden) {
            match book.head(&tab.name, most) {
                Ok(rows) if is_list(&rows) => {}
                Ok(rows) => {
                    if let Some(heading) = self.find_heading(&rows) {
                        chosen.push((tab.name.clone(), heading));
                    }
                    heads.push((tab.name.clone(), rows));
                }
                Err(problem) => {
                    self.problems.push(problem);
                    return Vec::new();
                }
            }
        }
        self.note_hidden_tabs(name, book, &tabs);
        if chosen.len() > 1 {
            let whole: Vec<_> = chosen
                .iter()
                .filter(|(tab, h)| !any_error(&self.map(h, name, Some(tab)).1))
                .cloned()
                .collect();
            if let [one] = whole.as_slice() {
                return vec![one.clone()];
            }
            let list: Vec<&str> = chosen.iter().map(|c| c.0.as_str()).collect();
            self.problems.push(
                Diagnostic::error("OV-019", "several tabs could hold the table")
                    .at(file(), "")
                    .found(format!("heading rows in {}", quoted(&list)))
                    .expected("the tabs to read, by name")
                    .mend(format!("Name them in the job: tab {}", quoted(&list))),
            );
            return Vec::new();
        }
        if chosen.is_empty() {
            match heads.first() {
                Some((tab, rows)) => self.problems.push(self.no_heading(name, Some(tab), rows)),
                None => self.problems.push(
                    Diagnostic::error("OV-010", "the workbook has no visible tab with cells")
                        .at(file(), ""),
                ),
            }
        }
        chosen
    }

    /// Hidden tabs are passed over, unless they are named; one that could hold the table is told of.
    fn note_hidden_tabs(&mut self, name: &str, book: &mut Book<'_>, tabs: &[workbook::Tab]) {
        let most = self.head_rows();
        let holds = |tab: &&workbook::Tab| {
            // A hidden tab that can't be read is no concern of the survey.
            book.head(&tab.name, most).is_ok_and(|rows| {
                let heading =
                    find_for(self.schema, &self.settings, self.options.heading_row, &rows);
                heading.is_some_and(|h| {
                    !any_error(&self.map(&h, name, Some(&tab.name)).1)
                        && rows.iter().any(|r| r.row > h.last)
                })
            })
        };
        let found: Vec<&str> = tabs
            .iter()
            .filter(|t| t.hidden)
            .filter(holds)
            .map(|t| t.name.as_str())
            .collect();
        if !found.is_empty() {
            self.problems.push(
                Diagnostic::warning("OV-032", "a hidden tab could hold a part of the table and is not read")
                    .at(Place::File(name.to_string()), "")
                    .found(format!("a heading row and rows below it in {}", quoted(&found)))
                    .note("A tab is hidden to keep an old copy, or by mistake. Look which it is; a tab that is named in the job is read."),
            );
        }
    }

    fn map(
        &self,
        heading: &HeadingRow,
        file: &str,
        tab: Option<&str>,
    ) -> (Mapping, Vec<Diagnostic>) {
        heading::map(
            self.schema,
            self.settings.nouns,
            self.settings.currency,
            heading,
            file,
            tab,
        )
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
                    .expected("one row at least: a form is worked once it is filled in"),
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

    fn no_heading(&self, file: &str, tab: Option<&str>, rows: &[RawRow]) -> Diagnostic {
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
fn find_for(
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
