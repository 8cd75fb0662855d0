//! Price books as files: finds the columns of a book in a CSV file or a workbook and hands its cells on as text with their places.

use super::read::read_prices;
use super::{BOOK_COLUMNS, BookCell, BookColumn, BookRow, PriceBook};
use crate::diagnostics::{CellPlace, Diagnostic, Place};
use crate::program::Program;
use crate::survey::{CellRef, RawOptions, RawRow, RawTable, SourceFile, raw_rows};
use crate::units::{UnitErrorKind, parse_unit};

/// A file of the price book and the tabs to read in it; the first that holds prices when none is named.
pub struct BookSource<'a> {
    /// The file.
    pub file: SourceFile<'a>,
    /// Tabs of a workbook. Several tabs are several sources: a file is read once.
    pub tab: Option<String>,
}

/// Reads the files of a price book, one after the other, as one book.
/// Errors: every fault found in any of them: of files (OV-0xx, OV-7xx), of headings (OV-800), of rows (OV-801 to OV-808).
pub fn read_book(
    program: &Program,
    sources: Vec<BookSource<'_>>,
) -> Result<PriceBook, Vec<Diagnostic>> {
    let (mut rows, mut faults, mut warnings) = (Vec::new(), Vec::new(), Vec::new());
    for source in sources {
        let wanted = BOOK_COLUMNS
            .iter()
            .map(|(_, heading)| vec![(*heading).to_owned()])
            .collect();
        let options = RawOptions {
            wanted,
            least: 2,
            tab: source.tab,
            ..RawOptions::default()
        };
        match raw_rows(source.file, &options) {
            Ok(mut table) => {
                warnings.append(&mut table.warnings);
                faults.extend(lacking(&table));
                let price = table.columns.get(BookColumn::Price.place());
                let price = price.copied().flatten();
                faults.extend(price.and_then(|at| in_other_money(&table, at, program)));
                warnings.extend(worked_out(&table));
                warnings.extend(unasked(&table));
                faults.extend(table.rows.iter().filter_map(|row| ragged(&table, row)));
                rows.extend(table.rows.iter().map(|row| book_row(&table, row)));
            }
            Err(list) => faults.extend(list),
        }
    }
    if !faults.is_empty() {
        return Err(faults);
    }
    let mut book = read_prices(program, &rows)
        .map_err(|list| [std::mem::take(&mut warnings), list].concat())?;
    warnings.append(&mut book.warnings);
    book.warnings = warnings;
    Ok(book)
}

fn lacking(table: &RawTable) -> Option<Diagnostic> {
    let needed = [BookColumn::Resource, BookColumn::Unit, BookColumn::Price];
    let missing: Vec<&str> = BOOK_COLUMNS
        .iter()
        .filter(|(column, _)| {
            needed.contains(column)
                && table
                    .columns
                    .get(column.place())
                    .copied()
                    .flatten()
                    .is_none()
        })
        .map(|(_, heading)| *heading)
        .collect();
    if missing.is_empty() {
        return None;
    }
    let found: Vec<&str> = table
        .headings
        .iter()
        .map(String::as_str)
        .filter(|h| !h.is_empty())
        .collect();
    Some(
        Diagnostic::error("OV-800", format!("the price book has no column headed {}", missing.join(", nor ")))
            .at(Place::File(table.file.clone()), "")
            .found(found.join(", "))
            .expected("the headings resource, unit and price; and if wished pack, supplier, chosen, source, date, note, currency, low, high, likely, varies with, spec"),
    )
}

/// A price column whose heading names another money than the job's.
pub(super) fn in_other_money(
    table: &RawTable,
    column: usize,
    program: &Program,
) -> Option<Diagnostic> {
    let (unit, currency) = (table.heading_unit(column)?, program.currency.as_deref()?);
    let other = parse_unit(unit, &program.nouns, Some(currency))
        .is_err_and(|e| e.kind == UnitErrorKind::OtherCurrency);
    other.then(|| {
        Diagnostic::error("OV-811", "the prices are in another money than the job")
            .at(table.place(table.heading_rows.1, column), "")
            .found(unit)
            .expected(currency)
            .note("Nothing is exchanged: a rate of the day belongs in the price book.")
    })
}

/// Prices that a workbook worked out in binary: their last digits are its own.
fn worked_out(table: &RawTable) -> Vec<Diagnostic> {
    let Some(column) = table
        .columns
        .get(BookColumn::Price.place())
        .copied()
        .flatten()
    else {
        return Vec::new();
    };
    let cells = table
        .rows
        .iter()
        .filter_map(|row| Some((row.row, row.cells.get(column)?.view())));
    cells
        .filter_map(|(row, cell)| match cell {
            CellRef::Number(number) if !number.as_typed => Some(
                Diagnostic::warning(
                    "OV-809",
                    "a price was worked out by the workbook and is not exact",
                )
                .at(table.place(row, column), "")
                .found(cell.shown())
                .expected("a price as typed, of at most 15 digits"),
            ),
            CellRef::Blank
            | CellRef::Text(_)
            | CellRef::Number(_)
            | CellRef::Bool(_)
            | CellRef::Date(_)
            | CellRef::Error(_)
            | CellRef::NoResult
            | CellRef::Merged(..) => None,
        })
        .collect()
}

/// Headings that no column of a price book has.
fn unasked(table: &RawTable) -> Option<Diagnostic> {
    let read = |at: usize| table.columns.contains(&Some(at));
    let mut others = table
        .headings
        .iter()
        .enumerate()
        .filter(|(at, h)| !h.is_empty() && !read(*at));
    let first = others.clone().next()?;
    let names: Vec<&str> = others.by_ref().map(|(_, h)| h.as_str()).take(12).collect();
    Some(
        Diagnostic::warning("OV-870", "columns of the price book are not read")
            .at(table.place(table.heading_rows.1, first.0), "")
            .found(names.join(", "))
            .expected(BOOK_COLUMNS.map(|c| c.1).join(", "))
            .note("A column under any other heading changes nothing."),
    )
}

/// A row with cells beyond its headings: a comma too many has shifted them, as in a survey.
fn ragged(table: &RawTable, row: &RawRow) -> Option<Diagnostic> {
    let width = table.headings.len();
    let beyond = row.cells.iter().skip(width).any(|c| !c.view().is_blank());
    let place = CellPlace {
        column: None,
        heading: None,
        ..table.place(row.row, 0)
    };
    beyond.then(|| {
        Diagnostic::error("OV-024", "this row has more cells than the heading row")
            .at(place, "")
            .found(format!("{} cells", row.cells.len()))
            .expected(format!("{width} cells, as in the heading row"))
            .note("A comma or quote inside a cell needs the whole cell in quotes; a lost one shifts every cell behind it.")
    })
}

/// Why a cell says nothing that could be trusted, with the codes of a survey's cells.
pub(super) fn mistrust(
    column: BookColumn,
    cell: CellRef<'_>,
) -> Option<(&'static str, &'static str)> {
    let in_price = matches!(
        column,
        BookColumn::Price | BookColumn::Low | BookColumn::High | BookColumn::Likely
    );
    match cell {
        CellRef::Error(_) => Some(("OV-721", "holds an error of the workbook")),
        CellRef::NoResult => Some(("OV-722", "is a formula that was saved without its result")),
        CellRef::Merged(..) => Some(("OV-726", "is covered by a merged area")),
        CellRef::Date(_) if in_price => Some(("OV-720", "was turned into a date by the workbook")),
        CellRef::Bool(_) if in_price => Some(("OV-803", "is true or false, not an amount")),
        CellRef::Blank
        | CellRef::Text(_)
        | CellRef::Number(_)
        | CellRef::Bool(_)
        | CellRef::Date(_) => None,
    }
}

fn book_row(table: &RawTable, row: &RawRow) -> BookRow {
    let cell = |(column, _): &(BookColumn, &str)| {
        let at = table.columns.get(column.place()).copied().flatten();
        let text = at
            .and_then(|at| row.cells.get(at))
            .map_or(String::new(), |c| c.view().shown());
        // A column the file lacks is pointed at by its row.
        let place = match at {
            Some(at) => table.place(row.row, at),
            None => crate::diagnostics::CellPlace {
                file: table.file.clone(),
                tab: table.tab.clone(),
                row: row.row,
                column: None,
                heading: None,
            },
        };
        let fault = at
            .and_then(|at| row.cells.get(at))
            .and_then(|c| mistrust(*column, c.view()));
        BookCell { text, place, fault }
    };
    BookRow {
        cells: BOOK_COLUMNS.iter().map(cell).collect(),
    }
}
