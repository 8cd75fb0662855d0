//! The estimate as a workbook: numbers as numbers, each text as text whatever it begins with, and the same bytes on every run.
//!
//! The only place of the reports that meets binary doubles, since a workbook stores nothing else.
//!
//! ```
//! # fn worked() -> ovolo::session::Session {
//! #     include!(concat!(env!("CARGO_MANIFEST_DIR"), "/tests/docs/worked.rs"))
//! # }
//! let session = worked(); // a small job in memory
//! let run = session.run().expect("it is worked");
//! let estimate = &run.worked.estimate;
//! let book = ovolo::report::workbook::write(estimate).expect("a workbook");
//! assert!(book.starts_with(b"PK"));
//! ```

use rust_xlsxwriter::{
    DocProperties, ExcelDateTime, Format, FormatAlign, FormatBorder, Workbook, Worksheet, XlsxError,
};
use unicode_width::UnicodeWidthStr;

use super::view::{Cell, Column, Side, View};
use super::{Face, basis, beside, views};
use crate::defuse::{starts_formula, workbook_text};
use crate::diagnostics::Diagnostic;
use crate::pricing::{CutKind, Estimate};

/// Row of the first table's title, counted from 0.
const FIRST_ROW: u32 = 2;
/// Widest column, in characters.
const WIDEST: usize = 40;
/// Height of a line of text, in points.
const LINE: u32 = 15;
/// Digits a workbook keeps of a number.
const MAX_DIGITS: usize = 15;

/// The workbook's bytes. Errors: OV-841 when a table does not fit into a workbook.
pub fn write(estimate: &Estimate) -> Result<Vec<u8>, Diagnostic> {
    let tabs = [
        (
            "Totals",
            vec![
                views::totals(estimate),
                views::charges(estimate),
                basis::decisions(estimate),
            ],
        ),
        (
            "Buy list",
            vec![views::buy_list(estimate), beside::cut_plans(estimate)],
        ),
        ("Cost", cost_views(estimate)),
        (
            "Openings",
            estimate
                .cut(CutKind::Opening)
                .map(|c| views::cut(estimate, c))
                .into_iter()
                .collect(),
        ),
        ("Treatment", vec![basis::treatment(estimate)]),
        (
            "Assumptions",
            vec![
                basis::unknown(estimate),
                basis::cautions(estimate),
                basis::givens(estimate),
                basis::assumed(estimate),
                basis::roundings(estimate),
                views::pay(estimate),
                basis::made_from(estimate),
            ],
        ),
    ];
    let tabs: Vec<(&str, Vec<View>)> = tabs
        .into_iter()
        .map(|(name, views)| (name, super::shown(estimate, views)))
        .collect();
    write_tabs(
        &estimate.title,
        estimate.version_name(),
        &Face::of(estimate),
        &tabs,
    )
}

/// Tables on tabs as a workbook's bytes. Errors: OV-841 when a table does not fit into a workbook.
pub(super) fn write_tabs(
    title: &str,
    version: &str,
    face: &Face,
    tabs: &[(&str, Vec<View>)],
) -> Result<Vec<u8>, Diagnostic> {
    build(title, version, face, tabs).map_err(|e| {
        Diagnostic::error("OV-841", "the workbook cannot be made")
            .found(e.to_string())
            .expected("tables of at most 1,048,576 rows")
            .note("Write the long table as CSV instead.")
    })
}

/// Every cut but that by row, and the lines.
fn cost_views(estimate: &Estimate) -> Vec<View> {
    let cuts = estimate.cuts.iter().filter(|c| c.kind != CutKind::Opening);
    cuts.map(|c| views::cut(estimate, c))
        .chain([views::cost_lines(estimate)])
        .collect()
}

/// A workbook with a title that is the same on every run. Errors: none in practice; its day is fixed.
pub(crate) fn begin_book(title: &str) -> Result<Workbook, XlsxError> {
    let mut book = Workbook::new();
    // The day of writing would make every file differ.
    let created = ExcelDateTime::from_ymd(2000, 1, 1)?;
    book.set_properties(
        &DocProperties::new()
            .set_title(workbook_text(title))
            .set_creation_datetime(&created),
    );
    Ok(book)
}

fn build(
    title: &str,
    version: &str,
    face: &Face,
    tabs: &[(&str, Vec<View>)],
) -> Result<Vec<u8>, XlsxError> {
    let mut book = begin_book(title)?;
    let looks = Looks::new();
    for (name, views) in tabs {
        let sheet = book.add_worksheet();
        sheet.set_name(*name)?;
        let head = [title, version].into_iter().filter(|s| !s.is_empty());
        let head = head.collect::<Vec<_>>().join(", ");
        sheet.write_string_with_format(0, 0, workbook_text(&head), &looks.title)?;
        let (mut row, mut widths) = (FIRST_ROW, Vec::new());
        let shown: Vec<&View> = views.iter().filter(|v| !v.is_empty()).collect();
        for view in &shown {
            row = place(sheet, view, row, &looks, &mut widths)? + 1;
        }
        let face = face.lines().join(" ");
        if !face.is_empty() {
            sentence(sheet, 1, &face, &looks, &widths)?;
        }
        match shown.as_slice() {
            [] => {
                sheet.write_string(FIRST_ROW, 0, "Not asked for, or nothing to show.")?;
            }
            [_] => {
                // One table: its headings stay in sight and are on every page.
                sheet.set_freeze_panes(FIRST_ROW + 2, 1)?;
                sheet.set_repeat_rows(FIRST_ROW + 1, FIRST_ROW + 1)?;
            }
            _ => {}
        }
        sheet.set_landscape();
        sheet.set_print_fit_to_pages(1, 0);
        sheet.set_margins(0.5, 0.5, 0.6, 0.6, 0.3, 0.3);
        sheet.set_footer("&L&A&RPage &P of &N");
        for (at, width) in widths.iter().enumerate() {
            let Ok(at) = u16::try_from(at) else { break };
            sheet.set_column_width(at, u16::try_from((*width + 2).min(WIDEST)).unwrap_or(40))?;
        }
    }
    book.save_to_buffer()
}

struct Looks {
    title: Format,
    section: Format,
    heading: Format,
    heading_right: Format,
    text: Format,
    /// Text of a row of sums.
    sum: Format,
    /// One long word, such as a hash: it may run on over the cells beside it.
    word: Format,
}

impl Looks {
    fn new() -> Looks {
        let heading = Format::new()
            .set_bold()
            .set_border_bottom(FormatBorder::Thin)
            .set_text_wrap()
            .set_align(FormatAlign::Bottom);
        Looks {
            title: Format::new().set_bold().set_font_size(14),
            section: Format::new().set_bold().set_font_size(12),
            heading_right: heading.clone().set_align(FormatAlign::Right),
            heading,
            text: Format::new().set_text_wrap().set_align(FormatAlign::Top),
            sum: Format::new().set_bold().set_border_top(FormatBorder::Thin),
            word: Format::new().set_align(FormatAlign::Top),
        }
    }

    /// The same for texts behind a number, which would run into it.
    fn set_in(&self) -> Looks {
        let inset = |format: &Format| format.clone().set_indent(1);
        Looks {
            title: self.title.clone(),
            section: self.section.clone(),
            heading: inset(&self.heading),
            heading_right: self.heading_right.clone(),
            text: inset(&self.text),
            sum: inset(&self.sum),
            word: inset(&self.word),
        }
    }

    fn number(cell: &Cell, total: bool) -> Format {
        let code = match cell {
            Cell::Money(_) => "#,##0.00",
            Cell::Number(_, 2) => "#,##0.00",
            Cell::Number(_, _) => "#,##0.0000",
            Cell::Count(_) => "#,##0",
            Cell::Price(_, _) => "#,##0.00####",
            // The cell holds more decimals than it shows; a whole amount shows none.
            Cell::Quantity(value, _) if value.is_integer() => "#,##0",
            Cell::Quantity(_, _) => "#,##0.00",
            Cell::Text(_) | Cell::Blank => "General",
        };
        let format = Format::new()
            .set_num_format(code)
            .set_align(FormatAlign::Top);
        if total {
            format.set_bold().set_border_top(FormatBorder::Thin)
        } else {
            format
        }
    }
}

/// A column of the workbook: of a table's column its numbers and texts, or its units.
fn spread(view: &View) -> Vec<(&Column, usize, bool)> {
    view.wide_columns()
        .flat_map(|(at, column)| {
            std::iter::once((column, at, false))
                .chain(column.with_unit.then_some((column, at, true)))
        })
        .collect()
}

/// Whether a column of texts stands right behind one of numbers.
fn behind_number(columns: &[(&Column, usize, bool)], to: u16) -> bool {
    let number = |(column, _, unit): &(&Column, usize, bool)| column.side == Side::Right && !unit;
    let at = usize::from(to);
    columns.get(at).is_some_and(|c| !number(c))
        && at
            .checked_sub(1)
            .and_then(|before| columns.get(before))
            .is_some_and(number)
}

/// Writes a table from `row` on; gives the row below it.
fn place(
    sheet: &mut Worksheet,
    view: &View,
    mut row: u32,
    looks: &Looks,
    widths: &mut Vec<usize>,
) -> Result<u32, XlsxError> {
    sheet.write_string_with_format(row, 0, workbook_text(&view.title), &looks.section)?;
    row += 1;
    let columns = spread(view);
    let behind = looks.set_in();
    if widths.len() < columns.len() {
        widths.resize(columns.len(), 0);
    }
    for (to, (column, _, unit)) in (0u16..).zip(&columns) {
        let heading = if *unit {
            format!("{} unit", column.heading)
        } else {
            column.full_heading()
        };
        let looks = if behind_number(&columns, to) {
            &behind
        } else {
            looks
        };
        let look = if column.side == Side::Right && !unit {
            &looks.heading_right
        } else {
            &looks.heading
        };
        sheet.write_string_with_format(row, to, workbook_text(&heading), look)?;
        widen(widths, to, &heading);
    }
    row += 1;
    for line in &view.rows {
        // Not every program finds the height of a row by itself.
        let shown = columns
            .iter()
            .filter(|(_, _, unit)| !unit)
            .filter_map(|(_, at, _)| line.cells.get(*at))
            .map(Cell::shown);
        let lines = shown
            .filter(|t| !is_long_word(t))
            .map(|t| t.width().div_ceil(WIDEST))
            .max()
            .unwrap_or(1);
        if lines > 1 {
            sheet.set_row_height(row, LINE * u32::try_from(lines).unwrap_or(1))?;
        }
        for (to, (_, at, unit)) in (0u16..).zip(&columns) {
            let Some(cell) = line.cells.get(*at) else {
                continue;
            };
            if *unit {
                write_text(
                    sheet,
                    row,
                    to,
                    cell.unit().unwrap_or(""),
                    line.total,
                    &behind,
                )?;
                widen(widths, to, cell.unit().unwrap_or(""));
            } else {
                write_cell(
                    sheet,
                    row,
                    to,
                    cell,
                    line.total,
                    if behind_number(&columns, to) {
                        &behind
                    } else {
                        looks
                    },
                )?;
                widen(
                    widths,
                    to,
                    &cell.plain_number().unwrap_or_else(|| cell.shown()),
                );
            }
        }
        row += 1;
    }
    let own = widths.get(..columns.len()).unwrap_or_default();
    for note in &view.notes {
        sentence(sheet, row, note, looks, own)?;
        row += 1;
    }
    Ok(row)
}

/// Least width of the columns that a sentence is spread over, in characters.
const SENTENCE: usize = 60;

/// Writes a sentence over the columns of a table, in as many lines as it needs: on one line it would make the page of a print as wide.
fn sentence(
    sheet: &mut Worksheet,
    row: u32,
    text: &str,
    looks: &Looks,
    widths: &[usize],
) -> Result<(), XlsxError> {
    let room: usize = widths.iter().map(|w| (w + 2).min(WIDEST)).sum();
    let last = widths.len().saturating_sub(1);
    let Some(last) = u16::try_from(last)
        .ok()
        .filter(|at| *at > 0 && room >= SENTENCE)
    else {
        sheet.write_string(row, 0, workbook_text(text))?;
        return Ok(());
    };
    sheet.merge_range(row, 0, row, last, &workbook_text(text), &looks.text)?;
    let lines = u32::try_from(text.width().div_ceil(room)).unwrap_or(1);
    if lines > 1 {
        sheet.set_row_height(row, LINE * lines)?;
    }
    Ok(())
}

fn widen(widths: &mut [usize], to: u16, text: &str) {
    if let Some(width) = widths
        .get_mut(usize::from(to))
        .filter(|_| !is_long_word(text))
    {
        *width = (*width).max(text.width());
    }
}

/// Whether a text can't be broken and would make a column of its own width.
fn is_long_word(text: &str) -> bool {
    text.len() > WIDEST && !text.contains(char::is_whitespace)
}

fn write_text(
    sheet: &mut Worksheet,
    row: u32,
    to: u16,
    text: &str,
    total: bool,
    looks: &Looks,
) -> Result<(), XlsxError> {
    let look = match () {
        () if total => &looks.sum,
        () if is_long_word(text) => &looks.word,
        () => &looks.text,
    };
    let text = workbook_text(text);
    if starts_formula(&text) {
        // Text it is already; this keeps it text when someone opens the cell to edit it.
        let quoted = look.clone().set_quote_prefix();
        sheet.write_string_with_format(row, to, text, &quoted)?;
    } else if !text.is_empty() {
        sheet.write_string_with_format(row, to, text, look)?;
    } else if total {
        sheet.write_blank(row, to, look)?;
    }
    Ok(())
}

fn write_cell(
    sheet: &mut Worksheet,
    row: u32,
    to: u16,
    cell: &Cell,
    total: bool,
    looks: &Looks,
) -> Result<(), XlsxError> {
    let Some(text) = cell.plain_number() else {
        return write_text(sheet, row, to, &cell.shown(), total, looks);
    };
    let digits = text.bytes().filter(u8::is_ascii_digit).count();
    match text.parse::<f64>() {
        Ok(number) if digits <= MAX_DIGITS => {
            sheet.write_number_with_format(row, to, number, &Looks::number(cell, total))?
        }
        // A double would change its last digits.
        _ => sheet.write_string_with_format(row, to, text, &looks.text)?,
    };
    Ok(())
}
