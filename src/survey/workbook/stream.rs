//! Cells of a tab to rows of ours, in batches that stay small whatever the tab holds. Must not know which file format they come from.

use calamine::{Data, DataRef, Range};
use rayon::prelude::*;

use crate::diagnostics::Diagnostic;
use crate::diagnostics::source::column_letters;
use crate::survey::raw::{RawCell, RawRow};

use super::behind::{Behind, Found};
use super::stored::{Shown, lend, own_cell};
use super::{Source, too_full};

/// Bytes that the cells of a batch may take before it is handed on.
const BATCH_BYTES: usize = 48 << 20;
/// Bytes that the cells of one row may take.
const ROW_BYTES: usize = 256 << 20;

/// A cell of a stream, not yet made ours: that part is done side by side.
pub(super) struct Loose<'a> {
    row: u32,
    column: u32,
    value: DataRef<'a>,
    shown: Shown,
}

impl Loose<'_> {
    /// About the bytes that it takes as one of ours.
    fn size(&self) -> usize {
        let text = match &self.value {
            DataRef::String(s) | DataRef::DateTimeIso(s) | DataRef::DurationIso(s) => s.len(),
            DataRef::SharedString(s) => s.len(),
            DataRef::Int(_)
            | DataRef::Float(_)
            | DataRef::Bool(_)
            | DataRef::DateTime(_)
            | DataRef::Error(_)
            | DataRef::Empty => 0,
        };
        size_of::<Loose<'_>>() + size_of::<RawCell>() + text
    }
}

/// The next cell of a stream, `None` at its end, or what the reader has to say.
type Next<'n, 'a> = &'n mut dyn FnMut() -> Result<Option<Loose<'a>>, String>;

pub(super) fn stream_cells(
    source: &Source<'_>,
    tab: &str,
    next: Next<'_, '_>,
    width: usize,
    batch: usize,
    sink: &mut dyn FnMut(Vec<RawRow>) -> Result<bool, Diagnostic>,
) -> Result<(), Diagnostic> {
    let mut going = true;
    let mut last: Option<(u32, u32)> = None;
    let mut ahead: Option<Loose<'_>> = None;
    while going {
        let mut loose: Vec<Loose<'_>> = Vec::new();
        let (mut rows, mut bytes, mut row_starts) = (0, 0usize, 0usize);
        let mut too_long = false;
        let ended = source.guarded(|| {
            loop {
                let cell = match ahead.take() {
                    Some(cell) => cell,
                    None => match next()? {
                        Some(cell) => cell,
                        None => return Ok(true),
                    },
                };
                // Cells that are there but empty stay: a formula without a result may be behind them.
                if crate::ids::at(cell.column) >= width {
                    continue;
                }
                if rows == 0 || last.is_none_or(|l| l.0 != cell.row) {
                    if last.is_some_and(|l| l.0 > cell.row) {
                        return Err("rows that are out of order".to_string());
                    }
                    if rows == batch || bytes > BATCH_BYTES {
                        ahead = Some(cell);
                        return Ok(false);
                    }
                    rows += 1;
                    // A row holds a cell of ours for each column up to its last.
                    row_starts = bytes;
                }
                bytes = bytes.max(row_starts + crate::ids::at(cell.column) * size_of::<RawCell>());
                bytes += cell.size();
                if bytes - row_starts > ROW_BYTES {
                    too_long = true;
                    return Ok(true);
                }
                last = Some((cell.row, cell.column));
                loose.push(cell);
            }
        });
        let ended = ended.map_err(|problem| after(problem, tab, last))?;
        if too_long {
            let row = last.map_or(0, |l| l.0 + 1);
            let found = format!("tab \"{tab}\", row {row}: more than {} MB", ROW_BYTES >> 20);
            return Err(too_full(&source.name, &found));
        }
        let by_row: Vec<&[Loose<'_>]> = loose.chunk_by(|a, b| a.row == b.row).collect();
        let rows: Vec<RawRow> = by_row
            .into_par_iter()
            .with_min_len(256)
            .map(own_row)
            .collect();
        going = !ended;
        if !rows.is_empty() && !sink(rows)? {
            return Ok(());
        }
    }
    Ok(())
}

/// A fault within a tab names the last cell that could be read.
fn after(problem: Diagnostic, tab: &str, last: Option<(u32, u32)>) -> Diagnostic {
    if problem.code != "OV-012" {
        return problem;
    }
    let place = match last {
        Some((row, column)) => format!("{}{}", column_letters(column.saturating_add(1)), row + 1),
        None => {
            return problem.note(format!(
                "The fault lies in the tab \"{tab}\", in its first cell or before it."
            ));
        }
    };
    problem.note(format!(
        "The fault lies in the tab \"{tab}\", behind cell {place}."
    ))
}

pub(super) fn loose<'a>(cell: &calamine::Cell<DataRef<'a>>, shown: &Shown) -> Loose<'a> {
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
    let last = cells
        .iter()
        .map(|c| crate::ids::at(c.column))
        .max()
        .unwrap_or(0);
    let mut own = vec![RawCell::Blank; last + 1];
    for cell in cells {
        if let Some(slot) = own.get_mut(crate::ids::at(cell.column)) {
            *slot = own_cell(&cell.value, &cell.shown);
        }
    }
    RawRow { row, cells: own }
}

pub(super) fn dense(
    range: &Range<Data>,
    width: usize,
    asked: &[usize],
    batch: usize,
    behind: &mut Behind,
    sink: &mut dyn FnMut(Vec<RawRow>) -> bool,
) -> Result<(), Diagnostic> {
    let Some((first_row, first_column)) = range.start() else {
        return Ok(());
    };
    let end = first_row.saturating_add(crate::ids::row(range.height()));
    let open = behind.found.iter().flat_map(|f| &f.open);
    let mut below: Vec<u32> = open.map(|at| at.0).filter(|r| *r >= end).collect();
    below.dedup();
    let (mut rows, mut bytes) = (Vec::new(), 0usize);
    for (i, cells) in range.rows().enumerate() {
        let mut own = vec![RawCell::Blank; crate::ids::at(first_column)];
        own.extend(cells.iter().map(|c| own_cell(&lend(c), &Shown::default())));
        own.truncate(width);
        while own.last() == Some(&RawCell::Blank) {
            own.pop();
        }
        if !own.is_empty() {
            bytes += own.len() * size_of::<RawCell>();
            rows.push(RawRow {
                row: first_row + 1 + u32::try_from(i).unwrap_or(u32::MAX - first_row - 1),
                cells: own,
            });
        }
        if rows.len() == batch || bytes > BATCH_BYTES {
            bytes = 0;
            behind.look(&mut rows, asked, &mut || Ok(Found::default()))?;
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
        behind.look(&mut rows, asked, &mut || Ok(Found::default()))?;
        sink(rows);
    }
    Ok(())
}
