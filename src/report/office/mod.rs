//! Papers as a workbook: one tab a list, and for the office the cost, with live sums, extensions and charges.
//!
//! A formula stands only where a spreadsheet's arithmetic gives our cents: its stored result is ours, and a spreadsheet that recalculates
//! gets the same. Elsewhere the cell is a value, its note says why, and it is counted. Nothing is hidden: no tab, row, name or comment.
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
//! let papers: Vec<_> = papers.iter().map(|paper| paper.kept()).collect(); // all rows made
//! use ovolo::report::office::{tabs, write};
//! let tabs = tabs(&papers); // one for each list
//! let book = write("Two sashes", &tabs, None).expect("a workbook");
//! assert!(book.bytes.starts_with(b"PK"));
//! ```

mod buys;
mod cost;

use super::workbook::begin_book;
use crate::defuse::{is_hidden, starts_formula, workbook_text};
use crate::diagnostics::Diagnostic;
use crate::number::{Exact, Rounding, Written};
use crate::paper::{Cell, Column, Paper, Row, RowKind, Side, Table, Value};
use crate::pricing::{ChargeBases, Estimate};
use rust_xlsxwriter::utility::row_col_to_cell;
use rust_xlsxwriter::{Format, FormatAlign, FormatBorder, Formula, Workbook, Worksheet, XlsxError};
use unicode_width::UnicodeWidthStr;

/// Widest column, in characters.
const WIDEST: usize = 40;
/// Longest name of a tab.
const LONGEST: usize = 31;
/// Digits a workbook keeps of a number.
const MAX_DIGITS: usize = 15;

/// A tab to be written.
pub struct Tab<'a> {
    /// What its name is made of.
    pub name: String,
    /// Lines above the table: job, paper, whom it is for.
    pub head: Vec<String>,
    /// The list.
    pub table: &'a Table,
}

/// A workbook, and how many of its amounts are live.
pub struct Book {
    /// The file.
    pub bytes: Vec<u8>,
    /// Cells that are formulas.
    pub formulas: usize,
    /// Amounts that are values because a spreadsheet would give another cent.
    pub values: usize,
}

/// The tabs of papers: one for each list of each.
pub fn tabs(papers: &[Paper]) -> Vec<Tab<'_>> {
    let of = papers.iter().flat_map(|paper| {
        paper.tables().map(move |table| {
            let head = super::papers::head_lines(paper).into_iter();
            let mut lines = vec![format!("{}: {}", paper.title, table.title)];
            lines.extend(head);
            lines.push(paper.state_text().to_owned());
            lines.extend(paper.head.doubts.iter().cloned());
            let name = match papers.len() {
                1 => table.title.clone(),
                _ => format!("{} {}", paper.title, table.title),
            };
            Tab {
                name,
                head: lines,
                table,
            }
        })
    });
    of.collect()
}

/// The workbook. `cost` is for the office alone. Errors: OV-841 when a table does not fit into a workbook.
pub fn write(
    title: &str,
    tabs: &[Tab<'_>],
    cost: Option<(&Estimate, &[ChargeBases])>,
) -> Result<Book, Diagnostic> {
    build(title, tabs, cost).map_err(|e| {
        Diagnostic::error("OV-841", "the workbook cannot be made")
            .found(e.to_string())
            .expected("tables of at most 1,048,576 rows")
            .note("Write the long table as CSV instead.")
    })
}

fn build(
    title: &str,
    tabs: &[Tab<'_>],
    cost: Option<(&Estimate, &[ChargeBases])>,
) -> Result<Book, XlsxError> {
    let mut writer = Writer {
        book: begin_book(title)?,
        names: Vec::new(),
        formulas: 0,
        values: 0,
    };
    if let Some((estimate, bases)) = cost {
        cost::place(&mut writer, estimate, bases)?;
        buys::place(&mut writer, estimate)?;
    }
    for tab in tabs {
        writer.tab(tab)?;
    }
    if writer.names.is_empty() {
        let sheet = writer.sheet("Nothing")?;
        sheet.write_string(0, 0, "No list was asked for.")?;
    }
    Ok(Book {
        bytes: writer.book.save_to_buffer()?,
        formulas: writer.formulas,
        values: writer.values,
    })
}

/// What fits of a name, without a word that would be cut; a single word is cut.
fn whole_words(name: &str, most: usize) -> String {
    let fits: String = name.chars().take(most).collect();
    let next = name.chars().nth(most);
    let whole = match next.is_none_or(char::is_whitespace) {
        true => fits.as_str(),
        false => fits
            .rsplit_once(' ')
            .map_or(fits.as_str(), |(words, _)| words),
    };
    let end = whole.trim_end_matches([',', ';', '.', ' ']);
    end.to_owned()
}

struct Writer {
    book: Workbook,
    names: Vec<String>,
    formulas: usize,
    values: usize,
}

struct Looks {
    title: Format,
    heading: Format,
    heading_right: Format,
    heading_behind: Format,
    group: Format,
    text: Format,
    /// A text behind a number, which ends where the text begins.
    behind: Format,
    sum: Format,
    room: Format,
}

/// How the numbers of a column look.
struct Numbers {
    line: Format,
    sum: Format,
    /// What no fraction shows: the format of the column would show another size.
    line_decimal: Format,
    sum_decimal: Format,
    inches: bool,
}

impl Numbers {
    fn of(column: &Column) -> Numbers {
        let code = code(column);
        Numbers {
            line: Looks::number(code, false),
            sum: Looks::number(code, true),
            line_decimal: Looks::number("0.0###", false),
            sum_decimal: Looks::number("0.0###", true),
            inches: code == INCHES,
        }
    }

    fn look(&self, n: &Exact, sum: bool) -> &Format {
        let decimal = self.inches && n.to_inches(64).is_none();
        match (decimal, sum) {
            (true, true) => &self.sum_decimal,
            (true, false) => &self.line_decimal,
            (false, true) => &self.sum,
            (false, false) => &self.line,
        }
    }
}

impl Looks {
    fn new() -> Looks {
        let heading = Format::new()
            .set_bold()
            .set_text_wrap()
            .set_border_bottom(FormatBorder::Thin);
        Looks {
            title: Format::new().set_bold().set_font_size(14),
            heading_right: heading.clone().set_align(FormatAlign::Right),
            heading_behind: heading.clone().set_indent(1),
            heading,
            group: Format::new().set_bold(),
            text: Format::new().set_text_wrap().set_align(FormatAlign::Top),
            behind: Format::new()
                .set_text_wrap()
                .set_align(FormatAlign::Left)
                .set_align(FormatAlign::Top)
                .set_indent(1),
            sum: Format::new().set_bold().set_border_top(FormatBorder::Thin),
            room: Format::new().set_border(FormatBorder::Hair),
        }
    }

    fn number(code: &str, sum: bool) -> Format {
        let format = Format::new()
            .set_num_format(code)
            .set_align(FormatAlign::Top);
        match sum {
            true => format.set_bold().set_border_top(FormatBorder::Thin),
            false => format,
        }
    }
}

/// Inches as fractions, to a 64th.
const INCHES: &str = "# ??/??";

/// How the numbers of a column are shown.
fn code(column: &Column) -> &'static str {
    match column.numbers {
        Some((Written::Inches, _)) => INCHES,
        Some((Written::Money, _)) => "#,##0.00##",
        Some((Written::Plain, _)) | None => "General",
    }
}

impl Writer {
    /// A tab with a name that a workbook allows and no other tab has.
    fn sheet(&mut self, name: &str) -> Result<&mut Worksheet, XlsxError> {
        let allowed = |c: char| !"[]:*?/\\'\t\n\r".contains(c) && !is_hidden(c);
        let plain: String = name.chars().filter(|c| allowed(*c)).collect();
        let short = |most: usize| whole_words(plain.trim(), most);
        let mut own = short(LONGEST);
        let mut number = 1;
        let taken = |own: &str, names: &[String]| {
            own.is_empty() || names.iter().any(|n| n.to_lowercase() == own.to_lowercase())
        };
        while taken(&own, &self.names) {
            number += 1;
            own = format!("{} {number}", short(LONGEST - 6));
        }
        self.names.push(own.clone());
        let sheet = self.book.add_worksheet();
        sheet.set_name(own)?;
        sheet.set_print_fit_to_pages(1, 0);
        sheet.set_margins(0.8, 0.5, 0.6, 0.6, 0.3, 0.3);
        sheet.set_footer("&L&A&RPage &P of &N");
        Ok(sheet)
    }

    fn tab(&mut self, tab: &Tab<'_>) -> Result<(), XlsxError> {
        let looks = Looks::new();
        let (mut formulas, mut values) = (0, 0);
        let sheet = self.sheet(&tab.name)?;
        let mut row = 0;
        for (at, line) in tab.head.iter().enumerate() {
            match at {
                0 => sheet.write_string_with_format(row, 0, workbook_text(line), &looks.title)?,
                _ => sheet.write_string(row, 0, workbook_text(line))?,
            };
            row += 1;
        }
        row += 1;
        let heads = row;
        let mut widths: Vec<usize> = Vec::new();
        for (to, column) in (0u16..).zip(&tab.table.columns) {
            let heading = column.title();
            let look = match column.side() {
                Side::Right => &looks.heading_right,
                Side::Left if behind_number(&tab.table.columns, to) => &looks.heading_behind,
                Side::Left => &looks.heading,
            };
            sheet.write_string_with_format(row, to, workbook_text(&heading), look)?;
            widths.push(heading.width());
        }
        row += 1;
        let first = row;
        let mut starts = [first; 8];
        let numbers: Vec<Numbers> = tab.table.columns.iter().map(Numbers::of).collect();
        for line in &tab.table.rows {
            match line.kind {
                RowKind::Group(level) => {
                    let words = line.cells.first().map_or("", |c| &*c.text);
                    write_text(sheet, (row, 0), words, &looks.group)?;
                    starts.iter_mut().skip(level).for_each(|s| *s = row + 1);
                }
                RowKind::Line => {
                    let placed =
                        place_line(sheet, row, (&tab.table.columns, &numbers), line, &looks)?;
                    formulas += placed.formulas;
                    values += placed.values;
                }
                RowKind::Subtotal(level) => {
                    let from = starts.get(level).copied().unwrap_or(first);
                    let sums = sums_above(tab.table, row - first, from - first);
                    formulas += place_sums(sheet, (row, first), (&looks, &numbers), line, &sums)?;
                }
                RowKind::Total => {
                    let sums = sums_above(tab.table, row - first, 0);
                    formulas += place_sums(sheet, (row, first), (&looks, &numbers), line, &sums)?;
                }
            }
            for (width, cell) in widths.iter_mut().zip(&line.cells) {
                let group = matches!(line.kind, RowKind::Group(_));
                *width = (*width).max(if group { 0 } else { cell.text.width() });
            }
            row += 1;
        }
        for note in &tab.table.notes {
            sheet.write_string(row, 0, workbook_text(note))?;
            row += 1;
        }
        sheet.set_freeze_panes(heads + 1, 0)?;
        sheet.set_repeat_rows(heads, heads)?;
        if tab.table.columns.len() > 6 {
            sheet.set_landscape();
        }
        for (at, width) in (0u16..).zip(&mut widths) {
            *width = (*width + 2).clamp(6, WIDEST);
            sheet.set_column_width(at, u16::try_from(*width).unwrap_or(40))?;
        }
        // Not every program makes a row as high as its text.
        for (at, line) in (first..).zip(&tab.table.rows) {
            let cells = line.cells.iter().zip(&widths);
            let lines = cells.map(|(cell, width)| lines_of(&cell.text, *width - 1));
            let lines = lines.max().unwrap_or(1);
            if lines > 1 && line.kind == RowKind::Line {
                sheet
                    .set_row_height(at, LINE * u32::try_from(lines).unwrap_or(1).min(MOST_LINES))?;
            }
        }
        self.formulas += formulas;
        self.values += values;
        Ok(())
    }
}

/// Stretches of lines from one row of a table up to another: what a sum below them adds, and no sum among it.
fn sums_above(table: &Table, to: u32, from: u32) -> Vec<(u32, u32)> {
    let mut out: Vec<(u32, u32)> = Vec::new();
    for (at, row) in (0u32..).zip(&table.rows) {
        if at < from || at >= to || row.kind != RowKind::Line {
            continue;
        }
        match out.last_mut() {
            Some((_, end)) if *end + 1 == at => *end = at,
            _ => out.push((at, at)),
        }
    }
    out
}

/// Height of a line of text in points, and the most lines that a row may be high.
const LINE: u32 = 15;
const MOST_LINES: u32 = 27;

/// Lines of a text that is broken between words, as wide as so many signs.
fn lines_of(text: &str, width: usize) -> usize {
    let (mut lines, mut used) = (1, 0);
    for word in text.split_whitespace() {
        let own = word.width();
        if used > 0 && used + 1 + own > width {
            lines += 1;
            used = 0;
        }
        used += own + usize::from(used > 0);
        lines += used.saturating_sub(1) / width.max(1);
        used = used.min(width);
    }
    lines
}

/// Most rows that are printed on one page, however small.
const ONE_PAGE: u32 = 90;

/// Keeps a tab that nearly fits on one page, so that no sum stands alone on the next.
fn fit(sheet: &mut Worksheet, rows: u32) {
    if rows <= ONE_PAGE {
        sheet.set_print_fit_to_pages(1, 1);
    }
}

/// Most stretches that one sum names.
const MOST_STRETCHES: usize = 200;

/// Writes a row of sums; how many are formulas.
fn place_sums(
    sheet: &mut Worksheet,
    (row, first): (u32, u32),
    (looks, numbers): (&Looks, &[Numbers]),
    line: &Row,
    of: &[(u32, u32)],
) -> Result<usize, XlsxError> {
    let mut formulas = 0;
    for (to, (numbers, cell)) in (0u16..).zip(numbers.iter().zip(&line.cells)) {
        match &cell.value {
            Value::Number(n) if !of.is_empty() && of.len() <= MOST_STRETCHES && whole_cents(n) => {
                let stretch = |(a, b): &(u32, u32)| range(first + a, first + b, to);
                let ranges: Vec<String> = of.iter().map(stretch).collect();
                let text = format!("=ROUND(SUM({}),2)", ranges.join(","));
                put_formula(sheet, (row, to), &text, n, &numbers.sum)?;
                formulas += 1;
            }
            Value::Blank
            | Value::Text
            | Value::Day(_)
            | Value::Number(_)
            | Value::Tick
            | Value::Room
            | Value::Unknown => place_cell(sheet, (row, to), (looks, numbers), cell, true)?,
        }
    }
    Ok(formulas)
}

/// `D5:D9`, or `D5`.
fn range(from: u32, to: u32, column: u16) -> String {
    match from == to {
        true => row_col_to_cell(from, column),
        false => format!(
            "{}:{}",
            row_col_to_cell(from, column),
            row_col_to_cell(to, column)
        ),
    }
}

fn put_formula(
    sheet: &mut Worksheet,
    (row, column): (u32, u16),
    text: &str,
    result: &Exact,
    look: &Format,
) -> Result<(), XlsxError> {
    let formula = Formula::new(text).set_result(result.to_decimal(9).0);
    sheet.write_formula_with_format(row, column, formula, look)?;
    Ok(())
}

struct Placed {
    formulas: usize,
    values: usize,
}

/// Writes a line; a cost is its amount times its price where a spreadsheet gets the same cents.
fn place_line(
    sheet: &mut Worksheet,
    row: u32,
    (columns, numbers): (&[Column], &[Numbers]),
    line: &Row,
    looks: &Looks,
) -> Result<Placed, XlsxError> {
    let mut placed = Placed {
        formulas: 0,
        values: 0,
    };
    let number = |name: &str| {
        let at = columns.iter().position(|c| c.name == name)?;
        match &line.cells.get(at)?.value {
            Value::Number(n) => Some((u16::try_from(at).ok()?, n)),
            Value::Blank
            | Value::Text
            | Value::Day(_)
            | Value::Tick
            | Value::Room
            | Value::Unknown => None,
        }
    };
    let factors = number("bought").zip(number("price"));
    let places = columns.iter().zip(numbers).zip(&line.cells);
    for (to, ((column, numbers), cell)) in (0u16..).zip(places) {
        if let (Value::Number(cost), "cost", Some(((a, bought), (b, price)))) =
            (&cell.value, column.name.as_str(), factors)
        {
            let look = Looks::number("#,##0.00", false);
            let product = bought.mul(price).ok();
            match product.filter(|p| rounds_to(p, cost)) {
                Some(_) => {
                    let (a, b) = (row_col_to_cell(row, a), row_col_to_cell(row, b));
                    let text = format!("=ROUND({a}*{b},2)");
                    put_formula(sheet, (row, to), &text, cost, &look)?;
                    placed.formulas += 1;
                }
                None => {
                    place_cell(sheet, (row, to), (looks, numbers), cell, false)?;
                    placed.values += 1;
                }
            }
            continue;
        }
        match cell.value {
            Value::Tick => {
                sheet.write_string_with_format(row, to, "\u{2610}", &looks.text)?;
            }
            Value::Room => {
                sheet.write_blank(row, to, &looks.room)?;
            }
            Value::Text | Value::Day(_) | Value::Unknown if behind_number(columns, to) => {
                write_text(sheet, (row, to), &cell.text, &looks.behind)?;
            }
            Value::Blank | Value::Text | Value::Day(_) | Value::Number(_) | Value::Unknown => {
                place_cell(sheet, (row, to), (looks, numbers), cell, false)?
            }
        }
    }
    Ok(placed)
}

/// Whether the column before one is at the right, and this one at the left.
fn behind_number(columns: &[Column], to: u16) -> bool {
    let side = |at: usize| columns.get(at).map(Column::side);
    let before = usize::from(to).checked_sub(1).and_then(side);
    before == Some(Side::Right) && side(usize::from(to)) == Some(Side::Left)
}

fn place_cell(
    sheet: &mut Worksheet,
    at: (u32, u16),
    (looks, numbers): (&Looks, &Numbers),
    cell: &Cell,
    sum: bool,
) -> Result<(), XlsxError> {
    let words = if sum { &looks.sum } else { &looks.text };
    match &cell.value {
        Value::Number(n) => put_number(sheet, at, n, numbers.look(n, sum)),
        _ if cell.text.is_empty() && sum => {
            sheet.write_blank(at.0, at.1, words)?;
            Ok(())
        }
        Value::Blank | Value::Text | Value::Day(_) | Value::Tick | Value::Room | Value::Unknown => {
            write_text(sheet, at, &cell.text, words)
        }
    }
}

fn put_number(
    sheet: &mut Worksheet,
    (row, to): (u32, u16),
    n: &Exact,
    look: &Format,
) -> Result<(), XlsxError> {
    let text = n.to_decimal(9).0;
    let digits = text.bytes().filter(u8::is_ascii_digit).count();
    match text.parse::<f64>() {
        Ok(number) if digits <= MAX_DIGITS => {
            sheet.write_number_with_format(row, to, number, look)?
        }
        // A double would change its last digits.
        _ => sheet.write_string_with_format(row, to, text, look)?,
    };
    Ok(())
}

fn write_text(
    sheet: &mut Worksheet,
    (row, to): (u32, u16),
    text: &str,
    look: &Format,
) -> Result<(), XlsxError> {
    let text = workbook_text(text);
    if text.is_empty() {
        return Ok(());
    }
    match starts_formula(&text) {
        // Text it is already; this keeps it text when someone opens the cell to edit it.
        true => sheet.write_string_with_format(row, to, text, &look.clone().set_quote_prefix())?,
        false => sheet.write_string_with_format(row, to, text, look)?,
    };
    Ok(())
}

/// Whether an amount has no more than two decimals, so that sums of doubles, rounded to two, are exact.
fn whole_cents(n: &Exact) -> bool {
    n.mul(&Exact::int(100)).is_ok_and(|c| c.is_integer())
}

/// Whether a spreadsheet that rounds `exact` to two decimals gets `wanted`: it is not so close to half a cent that doubles, or the rule for
/// ties, could matter.
fn rounds_to(exact: &Exact, wanted: &Exact) -> bool {
    let near = |exact: &Exact| -> Option<bool> {
        let cents = exact.mul(&Exact::int(100)).ok()?;
        let rounded = cents.round_to(&Exact::ONE, Rounding::HalfEven).ok()?;
        let off = cents.sub(&rounded).ok()?;
        let off = if off < Exact::ZERO { off.neg() } else { off };
        let far_from_half = off < Exact::ratio(4_999, 10_000)?;
        let large = Exact::int(100_000_000_000);
        let small = rounded < large && rounded.neg() < large;
        Some(far_from_half && small && rounded == wanted.mul(&Exact::int(100)).ok()?)
    };
    near(exact).unwrap_or(false)
}
