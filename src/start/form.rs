//! The survey form: a workbook to fill in on screen or on paper, read back as it is.

use super::example::{self, Example};
use super::wording;
use crate::defuse::workbook_text;
use crate::diagnostics::Diagnostic;
use crate::program::{Program, TableId};
use crate::report::workbook::begin_book;
use crate::table::ColumnKind;
use rust_xlsxwriter::{
    DataValidation, DataValidationErrorStyle, Format, FormatAlign, FormatBorder, Formula, Note,
    Worksheet, XlsxError,
};

/// Row of the headings, counted from 0.
const HEADINGS: u32 = 2;
/// Rows with borders, to be written on: pages of the main table, and one page of each other.
const ROWS: (u32, u32) = (75, 25);
/// Size at which the tables print, in percent: as many columns a page as can still be written in.
const SCALE: u16 = 72;
/// Rows that drop-downs reach.
const MOST_ROWS: u32 = 2_000;
/// Height of a row to be written on, in points.
const HIGH: f64 = 24.0;
/// Signs that a prompt of a drop-down holds.
const MOST_PROMPT: usize = 250;
/// Gray of headings and lines.
const GRAY: u32 = 0x00D9_D9D9;

struct Looks {
    title: Format,
    text: Format,
    heading: Format,
    cell: Format,
    sample: Format,
}

/// The form of a job called `title`: a tab for each table, what its cells may hold, the choices, and an example.
/// Errors: OV-841 when it doesn't fit into a workbook.
pub(super) fn write(title: &str, program: &Program) -> Result<Vec<u8>, Diagnostic> {
    build(title, program).map_err(|e| {
        Diagnostic::error("OV-841", "the survey form cannot be made").found(e.to_string())
    })
}

fn build(title: &str, program: &Program) -> Result<Vec<u8>, XlsxError> {
    let mut book = begin_book(title)?;
    let wrapped = Format::new().set_text_wrap().set_align(FormatAlign::Top);
    let lined = |f: Format| {
        f.set_border(FormatBorder::Thin)
            .set_border_color(0x0080_8080_u32)
    };
    let looks = Looks {
        title: Format::new().set_bold().set_font_size(14),
        heading: lined(wrapped.clone()).set_bold().set_background_color(GRAY),
        // Text, so that no workbook turns 1/2 or 3-4 into a day.
        cell: lined(wrapped.clone()).set_num_format("@"),
        sample: lined(wrapped.clone()).set_font_color(0x0060_6060_u32),
        text: wrapped,
    };
    let mut lists = Vec::new();
    for id in program.tables.ids() {
        let sheet = book.add_worksheet();
        table(sheet, title, program, id, &looks, &mut lists)?;
    }
    what_to_write(book.add_worksheet(), program, &looks)?;
    choices(book.add_worksheet(), &lists, &looks)?;
    examples(book.add_worksheet(), program, &looks)?;
    book.save_to_buffer()
}

fn at(column: usize) -> u16 {
    u16::try_from(column).unwrap_or(u16::MAX)
}

fn print_set_up(sheet: &mut Worksheet) -> Result<(), XlsxError> {
    sheet.set_landscape();
    sheet.set_paper_size(1);
    sheet.set_margins(0.4, 0.4, 0.5, 0.6, 0.3, 0.3);
    sheet.set_footer("&L&A&RPage &P of &N");
    sheet.set_print_gridlines(false);
    Ok(())
}

/// Width of a column to be written in, in characters.
fn width(kind: &ColumnKind, heading: &str) -> f64 {
    let longest = heading.split(' ').map(str::len).max().unwrap_or(0);
    let least = match kind {
        ColumnKind::Text => 13,
        ColumnKind::Choice(_) => 12,
        ColumnKind::Date | ColumnKind::Moment => 12,
        ColumnKind::Lites
        | ColumnKind::Number { .. }
        | ColumnKind::YesNo
        | ColumnKind::Temperature => 9,
    };
    let chars = u32::try_from(longest.max(least) + 1).unwrap_or(20);
    f64::from(chars.min(30))
}

/// A drop-down's list: its title and its entries.
type List = (String, Vec<String>);

fn table(
    sheet: &mut Worksheet,
    title: &str,
    program: &Program,
    id: TableId,
    looks: &Looks,
    lists: &mut Vec<List>,
) -> Result<(), XlsxError> {
    let schema = &program.tables[id].schema;
    let rows = if schema.parent.is_none() {
        ROWS.0
    } else {
        ROWS.1
    };
    let tab = wording::tab(program, id);
    sheet.set_name(&tab)?;
    sheet.write_string_with_format(
        0,
        0,
        workbook_text(&format!("{tab}: {title}")),
        &looks.title,
    )?;
    sheet.write_string(
        1,
        0,
        "One row for each. The tab \"What to write\" says what a cell may hold.",
    )?;
    for (column, spec) in schema.columns.iter().enumerate() {
        let heading = wording::heading(program, spec);
        let holds = wording::may_hold(program, schema, column);
        let note = wording::note(program, id, column);
        let told = [Some(holds), note]
            .into_iter()
            .flatten()
            .collect::<Vec<_>>()
            .join(" ");
        sheet.write_string_with_format(HEADINGS, at(column), &heading, &looks.heading)?;
        let wide = width(&spec.kind, &heading);
        sheet.set_column_width(at(column), wide)?;
        let note = Note::new(&told)
            .add_author_prefix(false)
            .set_author("ovolo")
            .set_width(260)
            .set_height(120);
        sheet.insert_note(HEADINGS, at(column), &note)?;
        let list = wording::choices(spec);
        let rule = if list.is_empty() {
            DataValidation::new()
        } else {
            let known = lists.iter().position(|(_, l)| *l == list);
            let place = known.unwrap_or_else(|| {
                lists.push((heading.clone(), list.clone()));
                lists.len() - 1
            });
            let letters =
                crate::diagnostics::source::column_letters(u32::try_from(place + 1).unwrap_or(1));
            let range = format!("=Choices!${letters}$2:${letters}${}", list.len() + 1);
            // What the list lacks is asked about, not refused: the survey knows more spellings.
            DataValidation::new()
                .allow_list_formula(Formula::new(range))
                .set_error_style(DataValidationErrorStyle::Warning)
                .set_error_message("This is not in the list. Keep it anyway?")?
        };
        let prompt: String = told.chars().take(MOST_PROMPT).collect();
        let short: String = heading.chars().take(32).collect();
        let rule = rule.set_input_title(short)?.set_input_message(prompt)?;
        sheet.add_data_validation(
            HEADINGS + 1,
            at(column),
            HEADINGS + MOST_ROWS,
            at(column),
            &rule,
        )?;
        for row in 1..=rows {
            sheet.write_blank(HEADINGS + row, at(column), &looks.cell)?;
        }
    }
    sheet.set_row_height(HEADINGS, 48)?;
    for row in 1..=rows {
        sheet.set_row_height(HEADINGS + row, HIGH)?;
    }
    sheet.set_freeze_panes(HEADINGS + 1, 1)?;
    sheet.set_repeat_rows(HEADINGS, HEADINGS)?;
    sheet.set_repeat_columns(0, 0)?;
    sheet.set_print_scale(SCALE);
    print_set_up(sheet)
}

/// The tab that says what each cell may hold.
fn what_to_write(sheet: &mut Worksheet, program: &Program, looks: &Looks) -> Result<(), XlsxError> {
    sheet.set_name("What to write")?;
    let mut row = 0;
    for id in program.tables.ids() {
        let schema = &program.tables[id].schema;
        sheet.write_string_with_format(row, 0, wording::tab(program, id), &looks.title)?;
        row += 1;
        for (column, text) in ["Heading", "A cell may hold", "Note"]
            .into_iter()
            .enumerate()
        {
            sheet.write_string_with_format(row, at(column), text, &looks.heading)?;
        }
        row += 1;
        for (column, spec) in schema.columns.iter().enumerate() {
            let note = wording::note(program, id, column).unwrap_or_default();
            let told = [
                wording::heading(program, spec),
                wording::may_hold(program, schema, column),
                note,
            ];
            // A workbook written without being opened has no heights of its own, and not every program finds them.
            let lines = told
                .iter()
                .zip([26, 56, 52])
                .map(|(t, wide)| t.len().div_ceil(wide))
                .max();
            let lines = u32::try_from(lines.unwrap_or(1).max(1)).unwrap_or(1);
            sheet.set_row_height(row, f64::from(15 * lines))?;
            for (column, text) in told.iter().enumerate() {
                sheet.write_string_with_format(
                    row,
                    at(column),
                    workbook_text(text),
                    &looks.sample,
                )?;
            }
            row += 1;
        }
        row += 1;
    }
    for (column, wide) in [26, 56, 52].into_iter().enumerate() {
        sheet.set_column_width(at(column), wide)?;
    }
    print_set_up(sheet)?;
    sheet.set_print_fit_to_pages(1, 0);
    Ok(())
}

/// The tab that the drop-downs read.
fn choices(sheet: &mut Worksheet, lists: &[List], looks: &Looks) -> Result<(), XlsxError> {
    sheet.set_name("Choices")?;
    for (column, (heading, list)) in lists.iter().enumerate() {
        sheet.write_string_with_format(0, at(column), heading, &looks.heading)?;
        sheet.set_column_width(at(column), 22)?;
        for (row, text) in (1..).zip(list) {
            sheet.write_string_with_format(row, at(column), workbook_text(text), &looks.text)?;
        }
    }
    print_set_up(sheet)
}

/// The tab with the example, which no job names and so no job reads.
fn examples(sheet: &mut Worksheet, program: &Program, looks: &Looks) -> Result<(), XlsxError> {
    sheet.set_name("Example")?;
    sheet.write_string_with_format(0, 0, "An example, never read", &looks.title)?;
    let mut row = 2;
    for Example {
        tab,
        headings,
        rows,
        ..
    } in example::tables(program)
    {
        sheet.write_string_with_format(row, 0, tab, &looks.title)?;
        row += 1;
        sheet.set_row_height(row, 48)?;
        for (column, heading) in headings.iter().enumerate() {
            sheet.write_string_with_format(row, at(column), heading, &looks.heading)?;
            sheet.set_column_width(at(column), 14)?;
        }
        for cells in &rows {
            row += 1;
            sheet.set_row_height(row, HIGH)?;
            for (column, cell) in cells.iter().enumerate() {
                sheet.write_string_with_format(
                    row,
                    at(column),
                    workbook_text(cell),
                    &looks.sample,
                )?;
            }
        }
        row += 2;
    }
    sheet.set_freeze_panes(0, 1)?;
    sheet.set_print_scale(SCALE);
    sheet.set_repeat_columns(0, 0)?;
    print_set_up(sheet)
}
