//! A new workbook with the cells of a survey, for files that cannot be marked in place. Must not know what is wrong with a cell.

use std::collections::{BTreeMap, HashSet};

use rust_xlsxwriter::{
    Color, DocProperties, ExcelDateTime, Format, FormatBorder, Note, Workbook, Worksheet, XlsxError,
};

use crate::defuse::{is_hidden, workbook_text};
use crate::diagnostics::{Diagnostic, Place};

use super::super::Content;
use super::super::csv::own;
use super::super::gather::{Opened, open};
use super::super::raw::{CellRef, RawRow, RowView, cut};
use super::super::report::TabReport;
use super::super::workbook::{self, BATCH, Comments};
use super::words::clip;
use super::{Copy, LIST_HEADINGS, LIST_NAME, Marked};

/// Rows and columns that a tab can hold.
const MAX_ROWS: u32 = 1_048_576;
const MAX_COLUMNS: usize = 16_384;

struct Formats {
    bad: Format,
    bold: Format,
    wrap: Format,
}

impl Copy<'_> {
    /// A new workbook: the list, and each tab that was read. `lost` says what of the file it does not have.
    pub(super) fn fresh(&self, lost: String) -> Result<Marked, Vec<Diagnostic>> {
        self.written(lost).map_err(|problem| vec![problem])
    }

    fn written(&self, lost: String) -> Result<Marked, Diagnostic> {
        let mut book = Workbook::new();
        let written = ExcelDateTime::from_ymd(2000, 1, 1)
            .map(|d| DocProperties::new().set_creation_datetime(&d));
        book.set_properties(&written.map_err(|e| failed(&e))?);
        let formats = Formats {
            bad: Format::new()
                .set_background_color(Color::RGB(0xFF_C7_CE))
                .set_border(FormatBorder::Thin),
            bold: Format::new().set_bold(),
            wrap: Format::new().set_text_wrap(),
        };
        self.write_list(book.add_worksheet(), &formats)
            .map_err(|e| failed(&e))?;
        let mut names: HashSet<String> = HashSet::from([LIST_NAME.to_lowercase()]);
        let all = self.comments();
        let none = Comments::new();
        let mut tabs: Vec<&TabReport> = Vec::new();
        for (tab, delimiter) in &self.tabs {
            // Two tables may come from one tab.
            if tabs.iter().any(|t| t.tab == tab.tab) {
                continue;
            }
            tabs.push(tab);
            let comments = all.get(&tab.tab.as_deref()).unwrap_or(&none);
            let sheet = book.add_worksheet();
            self.write_tab(sheet, tab, *delimiter, comments, &formats, &mut names)?;
        }
        Ok(Marked {
            file: self.original.name.clone(),
            bytes: book.save_to_buffer().map_err(|e| failed(&e))?,
            marked: all.values().map(BTreeMap::len).sum(),
            is_refused: self.is_refused(),
            has_macros: false,
            lost: Some(lost),
        })
    }

    fn write_tab(
        &self,
        sheet: &mut Worksheet,
        tab: &TabReport,
        delimiter: Option<u8>,
        comments: &Comments,
        formats: &Formats,
        names: &mut HashSet<String>,
    ) -> Result<(), Diagnostic> {
        sheet
            .set_name(tab_name(tab, names))
            .map_err(|e| failed(&e))?;
        sheet
            .set_freeze_panes(tab.heading_rows.1.min(MAX_ROWS - 1), 0)
            .map_err(|e| failed(&e))?;
        let mut problem = None;
        let mut put = |row: &RawRow| {
            if problem.is_none() {
                problem = write_row(sheet, row, comments, formats, tab).err();
            }
            problem.is_none()
        };
        each_row(tab, &self.original.bytes, delimiter, &mut put)?;
        if let Some(problem) = problem {
            return Err(problem);
        }
        for ((row, column), text) in comments {
            let note = Note::new(workbook_text(text))
                .add_author_prefix(false)
                .set_width(360)
                .set_height(120);
            if let (true, Ok(column)) = (*row < MAX_ROWS, u16::try_from(*column)) {
                sheet
                    .insert_note(*row, column, &note)
                    .map_err(|e| failed(&e))?;
            }
        }
        Ok(())
    }

    fn write_list(&self, sheet: &mut Worksheet, formats: &Formats) -> Result<(), XlsxError> {
        sheet.set_name(LIST_NAME)?;
        for (column, (heading, width)) in (0..).zip(LIST_HEADINGS) {
            sheet.write_string_with_format(0, column, heading, &formats.bold)?;
            sheet.set_column_width(column, width)?;
        }
        sheet.set_freeze_panes(1, 0)?;
        sheet.set_landscape().set_print_fit_to_pages(1, 0);
        sheet.set_repeat_rows(0, 0)?;
        for (row, texts) in (1..MAX_ROWS).zip(self.list()) {
            for (column, text) in (0..).zip(&texts) {
                sheet.write_string_with_format(row, column, workbook_text(text), &formats.wrap)?;
            }
        }
        Ok(())
    }
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
        .map_or(0, |((_, c), _)| crate::ids::at(*c) + 1);
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
        other @ (CellRef::Text(_) | CellRef::Date(_) | CellRef::Error(_)) => {
            sheet.write_string_with_format(row, column, clip(&other.shown()), format)?
        }
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
                // A fault that ends the reading was reported already; the rows before it are marked all the same.
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
            if matches!(
                c,
                '[' | ']' | ':' | '*' | '?' | '/' | '\\' | '\t' | '\n' | '\r'
            ) || is_hidden(c)
            {
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
