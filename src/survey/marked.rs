//! A copy of the survey for the surveyor: every cell as it was, the bad ones colored and with a comment, and a first tab that lists them.
//!
//! Text of a survey is written as text, so none of it becomes a formula, and the same survey gives the same bytes. Must not know the rules
//! of rows and cells: it reads the survey once more and asks for all its faults.

use std::collections::{BTreeMap, HashSet};
use std::io::Read;

use rust_xlsxwriter::{
    Color, DocProperties, ExcelDateTime, Format, FormatBorder, Note, Workbook, Worksheet, XlsxError,
};

use crate::diagnostics::{Diagnostic, Place};
use crate::table::{Schema, Table};
use crate::units::Nouns;

use super::cells::CellSettings;
use super::csv::own;
use super::faults::{Fault, Faults};
use super::finish::finish;
use super::gather::{Gathering, Opened, open};
use super::raw::{CellRef, MAX_CELL, RawRow, RowView, cut};
use super::report::TabReport;
use super::workbook::{self, BATCH, Comments, List, MAX_FILE};
use super::{Content, ReadOptions, SetAside, SourceFile};

/// Rows and columns that a tab can hold.
const MAX_ROWS: u32 = 1_048_576;
const MAX_COLUMNS: usize = 16_384;

/// A marked copy.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Marked {
    /// An XLSX workbook, or an XLSM one where the survey was one.
    pub bytes: Vec<u8>,
    /// Cells and rows marked.
    pub marked: usize,
    /// Whether it is the survey's own workbook with all that it had; otherwise a new one with the cells of the tabs read.
    pub is_own: bool,
}

/// Writes a marked copy of a survey. Takes what [`super::read`] takes; rows are never set aside in it, and where nothing is wrong nothing is marked.
/// Errors: a file that cannot be opened or read at all, or one with more rows than a workbook holds (OV-028).
pub fn marked_copy(
    schema: &Schema,
    nouns: &Nouns,
    currency: Option<&str>,
    files: Vec<SourceFile<'_>>,
    options: &ReadOptions<'_>,
    parent: Option<(&Schema, &Table)>,
) -> Result<Marked, Vec<Diagnostic>> {
    let mut held = Vec::new();
    for file in files {
        held.push((file.name.clone(), hold(file).map_err(|d| vec![d])?));
    }
    let again = || {
        held.iter().map(|(name, bytes)| SourceFile {
            name: name.clone(),
            content: Content::Bytes(bytes.clone()),
        })
    };
    let options = ReadOptions {
        set_aside: SetAside::Nothing,
        keep_text: false,
        ..options.clone()
    };
    let settings = CellSettings {
        nouns,
        currency,
        decimal_comma: options.decimal_comma,
    };
    let mut gathering = Gathering::new(schema, settings, &options, parent);
    gathering.files(again().collect());
    let headings = gathering.headings.clone();
    let delimiters = gathering.delimiters.clone();
    let done = finish(gathering);
    if done.tabs.is_empty() {
        return Err(done.reading.err().unwrap_or_default());
    }
    let copy = Copy {
        schema,
        tabs: &done.tabs,
        headings: &headings,
        faults: &done.faults,
    };
    if let Some(own) = copy.own_workbook(&held, &done.file_problems) {
        return Ok(own);
    }
    copy.write(&held, &delimiters, &done.file_problems)
}

fn hold(file: SourceFile<'_>) -> Result<Vec<u8>, Diagnostic> {
    match file.content {
        Content::Bytes(bytes) => Ok(bytes),
        Content::Stream(stream) => {
            let mut bytes = Vec::new();
            stream
                .take(MAX_FILE + 1)
                .read_to_end(&mut bytes)
                .map_err(|e| {
                    Diagnostic::error("OV-020", "the file could not be read")
                        .at(Place::File(file.name.clone()), "")
                        .found(e.to_string())
                })?;
            if bytes.len() as u64 > MAX_FILE {
                Err(workbook::too_large(&file.name))
            } else {
                Ok(bytes)
            }
        }
    }
}

/// The tab that lists what is wrong, and its headings with their widths in letters. None of them alone is a heading of a survey.
const LIST_NAME: &str = "What to mend";
const LIST_HEADINGS: [(&str, u32); 7] = [
    ("where", 22),
    ("mark", 10),
    ("what is wrong", 34),
    ("found", 18),
    ("expected", 30),
    ("how to mend it", 40),
    ("code", 9),
];

struct Copy<'c> {
    schema: &'c Schema,
    tabs: &'c [TabReport],
    headings: &'c [Vec<Option<(u32, String)>>],
    faults: &'c Faults,
}

struct Formats {
    bad: Format,
    bold: Format,
    wrap: Format,
}

impl Copy<'_> {
    fn write(
        &self,
        held: &[(String, Vec<u8>)],
        delimiters: &[Option<u8>],
        problems: &[Diagnostic],
    ) -> Result<Marked, Vec<Diagnostic>> {
        let mut book = Workbook::new();
        let written = ExcelDateTime::from_ymd(2000, 1, 1)
            .map(|d| DocProperties::new().set_creation_datetime(&d));
        book.set_properties(&written.map_err(|e| vec![failed(&e)])?);
        let formats = Formats {
            bad: Format::new()
                .set_background_color(Color::RGB(0xFF_C7_CE))
                .set_border(FormatBorder::Thin),
            bold: Format::new().set_bold(),
            wrap: Format::new().set_text_wrap(),
        };
        self.write_list(book.add_worksheet(), problems, &formats)
            .map_err(|e| vec![failed(&e)])?;
        let mut names: HashSet<String> = HashSet::from(["what to mend".to_string()]);
        let mut marked = 0;
        for (index, tab) in self.tabs.iter().enumerate() {
            let comments = self.comments(index);
            marked += comments.len();
            let sheet = book.add_worksheet();
            sheet
                .set_name(tab_name(tab, &mut names))
                .map_err(|e| vec![failed(&e)])?;
            sheet
                .set_freeze_panes(tab.heading_rows.1.min(MAX_ROWS - 1), 0)
                .map_err(|e| vec![failed(&e)])?;
            let Some((_, bytes)) = held.iter().find(|(name, _)| *name == tab.file) else {
                continue;
            };
            let mut problem = None;
            let mut put = |row: &RawRow| {
                if problem.is_none() {
                    problem = write_row(sheet, row, &comments, &formats, tab).err();
                }
                problem.is_none()
            };
            each_row(
                tab,
                bytes,
                delimiters.get(index).copied().flatten(),
                &mut put,
            )
            .map_err(|d| vec![d])?;
            if let Some(problem) = problem {
                return Err(vec![problem]);
            }
            for ((row, column), text) in &comments {
                let note = Note::new(text)
                    .add_author_prefix(false)
                    .set_width(360)
                    .set_height(120);
                if let (true, Ok(column)) = (*row < MAX_ROWS, u16::try_from(*column)) {
                    sheet
                        .insert_note(*row, column, &note)
                        .map_err(|e| vec![failed(&e)])?;
                }
            }
        }
        let bytes = book.save_to_buffer().map_err(|e| vec![failed(&e)])?;
        Ok(Marked {
            bytes,
            marked,
            is_own: false,
        })
    }

    /// The survey's own workbook with its marks, where it is one XLSX or XLSM file. `None` where it is another, or where a part of it is of
    /// so unusual a make that it cannot be changed.
    fn own_workbook(&self, held: &[(String, Vec<u8>)], problems: &[Diagnostic]) -> Option<Marked> {
        let [(_, bytes)] = held else {
            return None;
        };
        let tabs: Vec<(String, Comments)> = self
            .tabs
            .iter()
            .enumerate()
            .map(|(index, tab)| Some((tab.tab.clone()?, self.comments(index))))
            .collect::<Option<_>>()?;
        let marked = tabs.iter().map(|t| t.1.len()).sum();
        let list = List {
            name: LIST_NAME,
            headings: LIST_HEADINGS.to_vec(),
            rows: self.list(problems),
        };
        let bytes = workbook::marked(bytes, &tabs, &list).ok()?;
        Some(Marked {
            bytes,
            marked,
            is_own: true,
        })
    }

    /// Comments of one tab by row and column, counted from 0. A fault of a row goes to its mark.
    fn comments(&self, source: usize) -> BTreeMap<(u32, u32), String> {
        let mut comments: BTreeMap<(u32, u32), String> = BTreeMap::new();
        for fault in self
            .faults
            .iter()
            .filter(|f| usize::from(f.source) == source)
        {
            let text = comments
                .entry((fault.row.saturating_sub(1), self.column_of(fault)))
                .or_default();
            if !text.is_empty() {
                text.push_str("\n\n");
            }
            text.push_str(&comment(&self.in_their_words(fault)));
        }
        comments
    }

    fn column_of(&self, fault: &Fault) -> u32 {
        let headings = self.headings.get(usize::from(fault.source));
        let at = |column: usize| {
            headings
                .and_then(|h| h.get(column)?.as_ref())
                .map(|h| h.0 - 1)
        };
        fault.column.and_then(at).or_else(|| at(0)).unwrap_or(0)
    }

    fn write_list(
        &self,
        sheet: &mut Worksheet,
        problems: &[Diagnostic],
        formats: &Formats,
    ) -> Result<(), XlsxError> {
        sheet.set_name(LIST_NAME)?;
        for (column, (heading, width)) in (0..).zip(LIST_HEADINGS) {
            sheet.write_string_with_format(0, column, heading, &formats.bold)?;
            sheet.set_column_width(column, width)?;
        }
        sheet.set_freeze_panes(1, 0)?;
        for (row, texts) in (1..MAX_ROWS).zip(self.list(problems)) {
            for (column, text) in (0..).zip(&texts) {
                sheet.write_string_with_format(row, column, text, &formats.wrap)?;
            }
        }
        Ok(())
    }

    /// Rows of the list, under [`LIST_HEADINGS`].
    fn list(&self, problems: &[Diagnostic]) -> Vec<Vec<String>> {
        let whole_files = problems.iter().map(|d| {
            let place = match d.place() {
                Some(Place::Cell(c)) => c.to_string(),
                Some(Place::File(f)) => f.clone(),
                _ => String::new(),
            };
            (place, String::new(), d.clone())
        });
        let cells = self
            .faults
            .iter()
            .map(|f| (self.place_text(f), f.mark.clone(), self.in_their_words(f)));
        let mut seen = HashSet::new();
        whole_files
            .chain(cells)
            .filter(|(place, _, d)| seen.insert((place.clone(), d.code)))
            .map(|(place, mark, d)| {
                let mend: Vec<String> = d.notes.iter().chain(&d.mend).cloned().collect();
                [
                    place,
                    mark,
                    d.message,
                    d.found.unwrap_or_default(),
                    d.expected.unwrap_or_default(),
                    mend.join("\n"),
                    d.code.to_string(),
                ]
                .iter()
                .map(|text| clip(text).to_string())
                .collect()
            })
            .collect()
    }

    /// A fault that names the column as the surveyor's heading does.
    fn in_their_words(&self, fault: &Fault) -> Diagnostic {
        let mut d = fault.diagnostic.clone();
        let headings = self.headings.get(usize::from(fault.source));
        let heading = fault.column.and_then(|c| headings?.get(c)?.as_ref());
        let name = fault.column.and_then(|c| self.schema.columns.get(c));
        if let (Some((_, heading)), Some(column)) = (heading, name) {
            let (ours, theirs) = (format!("\"{}\"", column.name), format!("\"{heading}\""));
            d.message = d.message.replace(&ours, &theirs);
        }
        d
    }

    fn place_text(&self, fault: &Fault) -> String {
        let tab = self.tabs.get(usize::from(fault.source));
        let name = tab.map_or("", |t| t.tab.as_deref().unwrap_or(&t.file));
        match fault.column {
            Some(_) => {
                let letters = crate::diagnostics::source::column_letters(self.column_of(fault) + 1);
                format!("{name}, cell {letters}{}", fault.row)
            }
            None => format!("{name}, row {}", fault.row),
        }
    }
}

fn comment(d: &Diagnostic) -> String {
    let mut text = d.message.clone();
    if let Some(expected) = &d.expected {
        text.push_str(&format!("\nExpected: {expected}"));
    }
    for note in d.notes.iter().chain(&d.mend) {
        text.push_str(&format!("\n{note}"));
    }
    clip(&text).to_string()
}

/// Cuts a text to what a cell can hold.
fn clip(text: &str) -> &str {
    text.char_indices()
        .nth(MAX_CELL)
        .map_or(text, |(end, _)| &text[..end])
}

fn write_row(
    sheet: &mut Worksheet,
    row: &RawRow,
    comments: &BTreeMap<(u32, u32), String>,
    formats: &Formats,
    tab: &TabReport,
) -> Result<(), Diagnostic> {
    let at = row.row.saturating_sub(1);
    if at >= MAX_ROWS {
        return Err(Diagnostic::error(
            "OV-028",
            "the survey has more rows than a workbook can hold, so it cannot be marked",
        )
        .at(Place::File(tab.file.clone()), "")
        .expected(format!("at most {MAX_ROWS} rows"))
        .mend("Work from the messages, or split the survey."));
    }
    let last = comments
        .range((at, 0)..=(at, u32::MAX))
        .next_back()
        .map_or(0, |((_, c), _)| *c as usize + 1);
    for column in 0..row.width().max(last).min(MAX_COLUMNS) {
        let format = match comments.contains_key(&(at, u32::try_from(column).unwrap_or(u32::MAX))) {
            true => Some(&formats.bad),
            false if at + 1 >= tab.heading_rows.0 && at < tab.heading_rows.1 => Some(&formats.bold),
            false => None,
        };
        write_cell(
            sheet,
            at,
            u16::try_from(column).unwrap_or(u16::MAX),
            row.get(column),
            format,
        )
        .map_err(|e| failed(&e))?;
    }
    Ok(())
}

fn write_cell(
    sheet: &mut Worksheet,
    row: u32,
    column: u16,
    cell: CellRef<'_>,
    format: Option<&Format>,
) -> Result<(), XlsxError> {
    let plain = Format::default();
    let format = format.unwrap_or(&plain);
    match cell {
        CellRef::Blank | CellRef::NoResult | CellRef::Merged(..) => {
            sheet.write_blank(row, column, format)?
        }
        CellRef::Number(n) if n.as_typed => {
            let format = if n.percent == Some(true) {
                &format.clone().set_num_format("0.##%")
            } else {
                format
            };
            sheet.write_number_with_format(row, column, workbook::as_double(&n.value), format)?
        }
        CellRef::Number(n) => {
            sheet.write_number_with_format(row, column, workbook::as_double(&n.value), format)?
        }
        CellRef::Bool(b) => sheet.write_boolean_with_format(row, column, b, format)?,
        other => sheet.write_string_with_format(row, column, clip(&other.shown()), format)?,
    };
    Ok(())
}

/// Calls `put` with every row of a tab or text file until it returns `false`.
fn each_row(
    tab: &TabReport,
    bytes: &[u8],
    delimiter: Option<u8>,
    put: &mut dyn FnMut(&RawRow) -> bool,
) -> Result<(), Diagnostic> {
    match open(&tab.file, Content::Bytes(bytes.to_vec()), None)? {
        Opened::Book(mut book) => {
            let name = tab.tab.as_deref().unwrap_or("");
            book.stream(name, MAX_COLUMNS, &[], BATCH, &mut |rows| {
                rows.iter().all(&mut *put)
            })
        }
        Opened::Text(mut source) => {
            source.set_delimiter(delimiter.unwrap_or(b','));
            let mut going = true;
            while going {
                // A fault that ends the reading was told already; the rows before it are marked all the same.
                let Ok(Some(block)) = source.next_block() else {
                    break;
                };
                block.rows(|record| {
                    going = put(&own(record));
                    going
                });
            }
            Ok(())
        }
    }
}

fn failed(error: &XlsxError) -> Diagnostic {
    Diagnostic::error("OV-029", "the marked copy could not be written")
        .found(cut(&error.to_string()))
}

/// The start of a text that takes at most so many units of UTF-16, in which workbooks count.
fn cut_to(text: &str, most: usize) -> &str {
    let mut units = 0;
    let end = text.char_indices().find(|(_, c)| {
        units += c.len_utf16();
        units > most
    });
    end.map_or(text, |(at, _)| &text[..at])
}

/// A name that a tab may have and no other tab has.
fn tab_name(tab: &TabReport, taken: &mut HashSet<String>) -> String {
    let raw = tab.tab.clone().unwrap_or_else(|| {
        let file = tab.file.rsplit(['/', '\\']).next().unwrap_or(&tab.file);
        file.rsplit_once('.').map_or(file, |f| f.0).to_string()
    });
    let clean: String = raw
        .chars()
        .map(|c| {
            if matches!(c, '[' | ']' | ':' | '*' | '?' | '/' | '\\') || c.is_control() {
                ' '
            } else {
                c
            }
        })
        .collect();
    // A name that is cut may end in a sign that no name may end in.
    let trim = |name: &str| name.trim_matches(['\'', ' ']).to_string();
    let clean = trim(&clean);
    let clean = if clean.is_empty() { "Survey" } else { &clean };
    let mut name = trim(cut_to(clean, 31));
    let mut number = 2;
    while !taken.insert(name.to_lowercase()) {
        let start = cut_to(clean, 25);
        name = format!("{start} ({number})");
        number += 1;
    }
    name
}
