//! Workbooks: XLSX, XLSM and XLSB streamed, XLS and ODS read whole. Only this folder knows the workbook reader and its binary numbers.
//!
//! Every call into the reader is guarded, so a malformed file ends in a message. Formulas without a stored result and merged areas are
//! looked for only when a blank turns up where a value is wanted, since that costs a second pass. Macros and links to other files are
//! never followed. Must not know columns or units.

mod behind;
mod repeats;
mod stored;

use std::collections::HashSet;
use std::io::Cursor;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::Arc;

use calamine::{Data, DataRef, Dimensions, Ods, Reader, SheetType, SheetVisible, Xls, Xlsb, Xlsx};
use rayon::prelude::*;

use crate::diagnostics::{Diagnostic, Place};

use super::archive;
use super::hidden::{self, Hidden};
use super::quiet;
use super::raw::{RawCell, RawRow};
use behind::{Behind, Found, xlsb_behind, xlsx_behind};
use repeats::ods_repeats;
pub(crate) use stored::as_double;
use stored::{Shown, lend, own_cell, shown};

/// Largest workbook file taken, in bytes.
pub(crate) const MAX_FILE: u64 = 256 << 20;
/// Columns a workbook can have.
const MAX_COLUMNS: usize = 16_384;
/// Rows handed on at a time.
pub(crate) const BATCH: usize = 16_384;

type Bytes = Cursor<Arc<[u8]>>;

enum Kind {
    Xlsx(Box<Xlsx<Bytes>>),
    Xlsb(Box<Xlsb<Bytes>>),
    Xls(Box<Xls<Bytes>>),
    Ods(Box<Ods<Bytes>>),
}

/// An open workbook.
pub(crate) struct Book {
    name: String,
    bytes: Arc<[u8]>,
    kind: Kind,
    tabs: Vec<Tab>,
}

/// A tab of a workbook.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Tab {
    pub(crate) name: String,
    pub(crate) hidden: bool,
}

/// Whether bytes begin as a workbook does: a zip archive or a compound file.
pub(crate) fn looks_like_workbook(start: &[u8]) -> bool {
    start.starts_with(b"PK\x03\x04")
        || start.starts_with(b"PK\x05\x06")
        || start.starts_with(b"\xd0\xcf\x11\xe0")
}

/// Calls into the reader; a panic inside becomes an error.
fn guarded<T>(name: &str, call: impl FnOnce() -> Result<T, String>) -> Result<T, Diagnostic> {
    let done = quiet::silently(|| catch_unwind(AssertUnwindSafe(call)));
    match done {
        Ok(Ok(value)) => Ok(value),
        Ok(Err(why)) if why.to_lowercase().contains("password") => Err(locked(name)),
        Ok(Err(why)) => Err(damaged(name, &why)),
        Err(_) => Err(damaged(name, "its parts contradict each other")),
    }
}

fn damaged(name: &str, why: &str) -> Diagnostic {
    Diagnostic::error("OV-012", "the workbook cannot be read")
        .at(Place::File(name.to_string()), "")
        .found(super::raw::cut(why))
        .expected("a whole XLSX, XLSM, XLSB, XLS or ODS workbook")
        .mend("Open it in a spreadsheet program and save it again as XLSX, or save the tab as CSV UTF-8.")
}

fn locked(name: &str) -> Diagnostic {
    Diagnostic::error("OV-016", "the workbook is locked with a password")
        .at(Place::File(name.to_string()), "")
        .expected("a workbook that opens without a password")
        .mend("Save a copy without the password.")
}

fn words(error: impl std::fmt::Display) -> String {
    error.to_string()
}

impl Book {
    /// Opens a workbook.
    /// Errors: OV-012 damaged or of another kind, OV-013 too large, OV-015 unpacks too large, OV-016 locked.
    pub(crate) fn open(name: &str, bytes: Vec<u8>) -> Result<Book, Diagnostic> {
        if bytes.len() as u64 > MAX_FILE {
            return Err(too_large(name));
        }
        let bytes: Arc<[u8]> = bytes.into();
        let cursor = || Cursor::new(bytes.clone());
        let kind = if bytes.starts_with(b"PK") {
            let contents = archive::contents(&bytes)
                .ok_or_else(|| damaged(name, "a zip archive that is cut off or broken"))?;
            if contents.is_bomb() {
                return Err(unpacks_too_large(name, &contents));
            }
            if let Some(part) = contents.liar(&bytes) {
                return Err(damaged(
                    name,
                    &format!(
                        "its part {} is broken or unpacks to more than it says",
                        part.name
                    ),
                ));
            }
            if let Some(problem) = ods_repeats(name, &bytes, &contents) {
                return Err(problem);
            }
            let has = |part: &str| contents.part(part).is_some();
            if has("xl/workbook.bin") {
                guarded(name, || {
                    Xlsb::new(cursor())
                        .map(|b| Kind::Xlsb(Box::new(b)))
                        .map_err(words)
                })?
            } else if has("content.xml") {
                guarded(name, || {
                    Ods::new(cursor())
                        .map(|b| Kind::Ods(Box::new(b)))
                        .map_err(words)
                })?
            } else if contents
                .parts
                .iter()
                .any(|p| p.name.to_lowercase().contains("workbook"))
            {
                guarded(name, || {
                    Xlsx::new(cursor())
                        .map(|b| Kind::Xlsx(Box::new(b)))
                        .map_err(words)
                })?
            } else {
                return Err(damaged(name, "a zip archive that holds no workbook"));
            }
        } else {
            // A locked XLSX is a compound file too; the XLSX reader tells it apart.
            match guarded(name, || {
                Xls::new(cursor())
                    .map(|b| Kind::Xls(Box::new(b)))
                    .map_err(words)
            }) {
                Ok(kind) => kind,
                Err(why) => {
                    match guarded(name, || Xlsx::new(cursor()).map(|_| ()).map_err(words)) {
                        Err(lock) if lock.code == "OV-016" => return Err(lock),
                        _ => return Err(why),
                    }
                }
            }
        };
        let mut book = Book {
            name: name.to_string(),
            bytes,
            kind,
            tabs: Vec::new(),
        };
        let sheets = match &book.kind {
            Kind::Xlsx(b) => b.sheets_metadata(),
            Kind::Xlsb(b) => b.sheets_metadata(),
            Kind::Xls(b) => b.sheets_metadata(),
            Kind::Ods(b) => b.sheets_metadata(),
        };
        let tabs = sheets
            .iter()
            .filter(|s| s.typ == SheetType::WorkSheet)
            .map(|s| Tab {
                name: s.name.clone(),
                hidden: s.visible != SheetVisible::Visible,
            })
            .collect();
        book.tabs = tabs;
        Ok(book)
    }

    /// A search for hidden rows and columns of a tab, to be run beside the reading. Only XLSX tells.
    pub(crate) fn hidden_search(&self, tab: &str) -> impl FnOnce() -> Hidden + Send + 'static {
        let index = match &self.kind {
            Kind::Xlsx(book) => book.sheets_metadata().iter().position(|s| s.name == tab),
            _ => None,
        };
        let bytes = self.bytes.clone();
        move || match (index, archive::contents(&bytes)) {
            (Some(index), Some(contents)) => hidden::find(&bytes, &contents, index),
            _ => Hidden::default(),
        }
    }

    /// The tabs that hold cells, in order.
    pub(crate) fn tabs(&self) -> &[Tab] {
        &self.tabs
    }

    /// The first rows of a tab that hold anything.
    pub(crate) fn head(&mut self, tab: &str, most: usize) -> Result<Vec<RawRow>, Diagnostic> {
        let mut rows = Vec::new();
        self.stream(tab, MAX_COLUMNS, &[], most, &mut |batch| {
            rows.extend(
                batch
                    .into_iter()
                    .filter(|r| r.cells.iter().any(|c| *c != RawCell::Blank)),
            );
            rows.len() < most
        })?;
        rows.truncate(most);
        Ok(rows)
    }

    /// Calls `sink` with the rows of a tab, in batches of up to `batch`, until it returns `false`.
    /// Cells beyond `width` are left out. Blanks in the columns `asked` are looked at twice: a formula without a result or a merged
    /// area may be behind them.
    pub(crate) fn stream(
        &mut self,
        tab: &str,
        width: usize,
        asked: &[usize],
        batch: usize,
        sink: &mut dyn FnMut(Vec<RawRow>) -> bool,
    ) -> Result<(), Diagnostic> {
        let name = self.name.clone();
        let mut behind = Behind::new(&name, tab, self.bytes.clone());
        match &mut self.kind {
            Kind::Xlsx(book) => {
                let mut reader =
                    guarded(&name, || book.worksheet_cells_reader(tab).map_err(words))?;
                let styles: Vec<Shown> = reader.styles().iter().map(|s| shown(Some(s))).collect();
                let plain = shown(None);
                let mut next = || {
                    let cell = reader.next_cell_with_style_id().map_err(words)?;
                    Ok(cell.map(|(cell, style)| loose(&cell, styles.get(style).unwrap_or(&plain))))
                };
                stream_cells(&name, &mut next, width, batch, &mut |mut rows| {
                    behind.look(&mut rows, asked, &mut xlsx_behind)?;
                    Ok(sink(rows))
                })
            }
            Kind::Xlsb(book) => {
                let mut reader =
                    guarded(&name, || book.worksheet_cells_reader(tab).map_err(words))?;
                let untold = Shown::default();
                let mut next = || {
                    Ok(reader
                        .next_cell()
                        .map_err(words)?
                        .map(|cell| loose(&cell, &untold)))
                };
                stream_cells(&name, &mut next, width, batch, &mut |mut rows| {
                    behind.look(&mut rows, asked, &mut xlsb_behind)?;
                    Ok(sink(rows))
                })
            }
            Kind::Xls(book) => {
                let range = guarded(&name, || book.worksheet_range(tab).map_err(words))?;
                let formulas = guarded(&name, || book.worksheet_formula(tab).map_err(words))?;
                let merged = guarded(&name, || book.merge_cells_by_sheet_name(tab).map_err(words))?;
                dense(
                    &range,
                    &formulas,
                    merged,
                    width,
                    asked,
                    batch,
                    &mut behind,
                    sink,
                )
            }
            Kind::Ods(book) => {
                let range = guarded(&name, || book.worksheet_range(tab).map_err(words))?;
                let formulas = guarded(&name, || book.worksheet_formula(tab).map_err(words))?;
                dense(
                    &range,
                    &formulas,
                    Vec::new(),
                    width,
                    asked,
                    batch,
                    &mut behind,
                    sink,
                )
            }
        }
    }
}

/// A file that is larger than is taken.
pub(crate) fn too_large(name: &str) -> Diagnostic {
    Diagnostic::error("OV-013", "the workbook is too large")
        .at(Place::File(name.to_string()), "")
        .expected(format!("at most {} MB", MAX_FILE >> 20))
        .mend("Save the tab as CSV UTF-8: a CSV file may be of any size.")
}

fn unpacks_too_large(name: &str, contents: &archive::Contents) -> Diagnostic {
    Diagnostic::error(
        "OV-015",
        "the workbook unpacks to far more than a survey needs",
    )
    .at(Place::File(name.to_string()), "")
    .found(format!(
        "{} MB packed, {} MB unpacked",
        contents.packed >> 20,
        contents.unpacked >> 20
    ))
    .expected(if contents.unpacked > archive::MAX_UNPACKED {
        format!("at most {} MB unpacked", archive::MAX_UNPACKED >> 20)
    } else {
        format!("at most {} times the packed size", archive::MAX_RATIO)
    })
    .mend("If the file is what it should be, save the tab as CSV UTF-8.")
}

/// A cell of an XLSX stream, not yet made ours: that part is done side by side.
struct Loose<'a> {
    row: u32,
    column: u32,
    value: DataRef<'a>,
    shown: Shown,
}

/// The next cell of a stream, `None` at its end, or what the reader has to say.
type Next<'n, 'a> = &'n mut dyn FnMut() -> Result<Option<Loose<'a>>, String>;

fn stream_cells(
    name: &str,
    next: Next<'_, '_>,
    width: usize,
    batch: usize,
    sink: &mut dyn FnMut(Vec<RawRow>) -> Result<bool, Diagnostic>,
) -> Result<(), Diagnostic> {
    let mut going = true;
    let mut last_row = None;
    let mut ahead: Option<Loose<'_>> = None;
    while going {
        let mut loose: Vec<Loose<'_>> = Vec::new();
        let mut rows = 0;
        let ended = guarded(name, || {
            loop {
                let cell = match ahead.take() {
                    Some(cell) => cell,
                    None => match next()? {
                        Some(cell) => cell,
                        None => return Ok(true),
                    },
                };
                // Cells that are there but empty stay: a formula without a result may be behind them.
                if cell.column as usize >= width {
                    continue;
                }
                if last_row != Some(cell.row) {
                    if last_row.is_some_and(|l| l > cell.row) {
                        return Err("rows that are out of order".to_string());
                    }
                    if rows == batch {
                        ahead = Some(cell);
                        return Ok(false);
                    }
                    rows += 1;
                    last_row = Some(cell.row);
                }
                loose.push(cell);
            }
        })?;
        let starts: Vec<usize> = (0..loose.len())
            .filter(|i| *i == 0 || loose[*i].row != loose[*i - 1].row)
            .chain([loose.len()])
            .collect();
        let rows: Vec<RawRow> = starts
            .par_windows(2)
            .with_min_len(256)
            .map(|w| own_row(&loose[w[0]..w[1]]))
            .collect();
        going = !ended;
        if !rows.is_empty() && !sink(rows)? {
            return Ok(());
        }
    }
    Ok(())
}

fn loose<'a>(cell: &calamine::Cell<DataRef<'a>>, shown: &Shown) -> Loose<'a> {
    let (row, column) = cell.get_position();
    Loose {
        row,
        column,
        value: cell.get_value().clone(),
        shown: shown.clone(),
    }
}

fn own_row(cells: &[Loose<'_>]) -> RawRow {
    let row = cells.first().map_or(0, |c| c.row) + 1;
    let last = cells.iter().map(|c| c.column as usize).max().unwrap_or(0);
    let mut own = vec![RawCell::Blank; last + 1];
    for cell in cells {
        own[cell.column as usize] = own_cell(&cell.value, &cell.shown);
    }
    RawRow { row, cells: own }
}

#[allow(clippy::too_many_arguments)]
fn dense(
    range: &calamine::Range<Data>,
    formulas: &calamine::Range<String>,
    merged: Vec<Dimensions>,
    width: usize,
    asked: &[usize],
    batch: usize,
    behind: &mut Behind,
    sink: &mut dyn FnMut(Vec<RawRow>) -> bool,
) -> Result<(), Diagnostic> {
    let Some((first_row, first_column)) = range.start() else {
        return Ok(());
    };
    let origin = formulas.start().unwrap_or((0, 0));
    let open: HashSet<(u32, u32)> = formulas
        .used_cells()
        .filter(|(_, _, f)| !f.is_empty())
        .filter_map(|(r, c, _)| {
            Some((
                origin.0 + u32::try_from(r).ok()?,
                origin.1 + u32::try_from(c).ok()?,
            ))
        })
        .filter(|at| range.get_value(*at).is_none_or(|v| *v == Data::Empty))
        .collect();
    let end = first_row + u32::try_from(range.height()).unwrap_or(0);
    let mut below: Vec<u32> = open.iter().map(|at| at.0).filter(|r| *r >= end).collect();
    below.sort_unstable();
    below.dedup();
    behind.found = Some(Found { open, merged });
    let mut rows = Vec::new();
    for (i, cells) in range.rows().enumerate() {
        let mut own = vec![RawCell::Blank; first_column as usize];
        own.extend(cells.iter().map(|c| own_cell(&lend(c), &Shown::default())));
        own.truncate(width);
        while own.last() == Some(&RawCell::Blank) {
            own.pop();
        }
        if !own.is_empty() {
            rows.push(RawRow {
                row: first_row + 1 + u32::try_from(i).unwrap_or(u32::MAX - first_row - 1),
                cells: own,
            });
        }
        if rows.len() == batch {
            behind.look(&mut rows, asked, &mut |_, _, _| Ok(Found::default()))?;
            if !sink(std::mem::take(&mut rows)) {
                return Ok(());
            }
        }
    }
    // Rows of nothing but formulas without a result lie outside the range of values.
    rows.extend(below.into_iter().map(|r| RawRow {
        row: r + 1,
        cells: Vec::new(),
    }));
    if !rows.is_empty() {
        behind.look(&mut rows, asked, &mut |_, _, _| Ok(Found::default()))?;
        sink(rows);
    }
    Ok(())
}
