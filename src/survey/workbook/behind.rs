//! What may be behind a blank cell of a workbook: a formula that was saved without its result, or a merged area.
//!
//! Finding out costs another pass over the tab, so it is done only when a blank turns up in a column that is read. Must not know what the
//! columns mean.

use std::collections::HashSet;

use calamine::{Data, DataRef, Dimensions, Range, Reader, Xlsb};

use crate::diagnostics::Diagnostic;
use crate::survey::raw::{RawCell, RawRow};

use super::archive::Bytes;
use super::sheet::Area;
use super::{Source, words};

/// What may be behind a blank cell.
#[derive(Default)]
pub(super) struct Found {
    /// Row and column, counted from 0, of formulas without a stored result, in order.
    pub(super) open: Vec<(u32, u32)>,
    /// In the order of their first columns and rows.
    pub(super) merged: Vec<Area>,
}

impl Found {
    /// For a tab that is read whole.
    pub(super) fn dense(
        range: &Range<Data>,
        formulas: &Range<String>,
        merged: &[Dimensions],
    ) -> Found {
        let origin = formulas.start().unwrap_or((0, 0));
        let place = |(row, column): (usize, usize)| {
            let row = origin.0.checked_add(u32::try_from(row).ok()?)?;
            Some((row, origin.1.checked_add(u32::try_from(column).ok()?)?))
        };
        let mut open: Vec<(u32, u32)> = formulas
            .used_cells()
            .filter(|(_, _, f)| !f.is_empty())
            .filter_map(|(r, c, _)| place((r, c)))
            .filter(|at| range.get_value(*at).is_none_or(|v| *v == Data::Empty))
            .collect();
        open.sort_unstable();
        let mut merged: Vec<Area> = merged
            .iter()
            .map(|m| Area {
                rows: (m.start.0, m.end.0),
                columns: (m.start.1, m.end.1),
            })
            .collect();
        merged.sort_unstable_by_key(|a| (a.columns.0, a.rows.0));
        Found { open, merged }
    }

    /// The area whose first column this is and that begins above.
    fn area(&self, row: u32, column: u32) -> Option<&Area> {
        let after = self
            .merged
            .partition_point(|a| (a.columns.0, a.rows.0) < (column, row));
        let area = self.merged.get(after.checked_sub(1)?)?;
        (area.columns.0 == column && area.rows.0 < row && area.rows.1 >= row).then_some(area)
    }
}

/// Looks behind blanks in the columns that the sheet asks for.
#[derive(Default)]
pub(super) struct Behind {
    /// `None` until it is looked for.
    pub(super) found: Option<Found>,
    /// The last row of the batch before, where a merged area may have its value.
    above: Option<RawRow>,
}

type Look<'l> = &'l mut dyn FnMut() -> Result<Found, Diagnostic>;

impl Behind {
    /// Puts what is found behind blanks of `rows` into them; `find` is called once, at the first blank.
    pub(super) fn look(
        &mut self,
        rows: &mut [RawRow],
        asked: &[usize],
        find: Look<'_>,
    ) -> Result<(), Diagnostic> {
        let blank = |row: &RawRow| {
            asked
                .iter()
                .any(|c| row.cells.get(*c).is_none_or(|v| *v == RawCell::Blank))
        };
        if !rows.iter().any(blank) {
            self.above = rows.last().cloned();
            return Ok(());
        }
        if self.found.is_none() {
            self.found = Some(find()?);
        }
        let Some(found) = &self.found else {
            return Ok(());
        };
        for i in 0..rows.len() {
            let (before, rest) = rows.split_at_mut(i);
            let Some(row) = rest.first_mut() else { break };
            for column in asked {
                if row.cells.get(*column).is_some_and(|v| *v != RawCell::Blank) {
                    continue;
                }
                let at = (row.row - 1, u32::try_from(*column).unwrap_or(u32::MAX));
                let cell = if found.open.binary_search(&at).is_ok() {
                    Some(RawCell::NoResult)
                } else {
                    found
                        .area(at.0, at.1)
                        .and_then(|a| covered(a, before, self.above.as_ref(), *column))
                };
                if let Some(cell) = cell {
                    if row.cells.len() <= *column {
                        row.cells.resize(column + 1, RawCell::Blank);
                    }
                    if let Some(slot) = row.cells.get_mut(*column) {
                        *slot = cell;
                    }
                }
            }
        }
        self.above = rows.last().cloned();
        Ok(())
    }
}

/// What a cell that a merged area covers stands for; its value is looked for in the rows before, which are in order.
fn covered(
    area: &Area,
    before: &[RawRow],
    above: Option<&RawRow>,
    column: usize,
) -> Option<RawCell> {
    let top = area.rows.0 + 1;
    let after = before.partition_point(|r| r.row <= top);
    let holder = match after.checked_sub(1) {
        Some(at) => before.get(at)?,
        None => above.filter(|r| r.row <= top)?,
    };
    let over = holder.cells.get(column).filter(|_| holder.row == top);
    // The last row of an earlier batch may itself be covered by the area, and then holds its value.
    let over = over.or_else(|| {
        above
            .and_then(|r| r.cells.get(column))
            .filter(|v| is_of(v, area))
    });
    let value = match over {
        Some(RawCell::Merged { value, .. }) => value.clone(),
        Some(v) if *v != RawCell::Blank => Box::new(v.clone()),
        _ => return None,
    };
    Some(RawCell::Merged {
        first: top,
        last: area.rows.1 + 1,
        value,
    })
}

fn is_of(cell: &RawCell, area: &Area) -> bool {
    matches!(cell, RawCell::Merged { first, last, .. } if (*first, *last) == (area.rows.0 + 1, area.rows.1 + 1))
}

pub(super) fn xlsb_behind(
    source: &Source<'_>,
    bytes: Bytes<'_>,
    tab: &str,
) -> Result<Found, Diagnostic> {
    source.guarded(|| {
        let mut book = Xlsb::new(bytes).map_err(words)?;
        let mut open = HashSet::new();
        let mut formulas = book.worksheet_cells_reader(tab).map_err(words)?;
        while let Some(cell) = formulas.next_formula().map_err(words)? {
            if !cell.get_value().is_empty() {
                open.insert(cell.get_position());
            }
        }
        drop(formulas);
        let mut reader = book.worksheet_cells_reader(tab).map_err(words)?;
        while let Some(cell) = reader.next_cell().map_err(words)? {
            if *cell.get_value() != DataRef::Empty {
                open.remove(&cell.get_position());
            }
        }
        let mut open: Vec<(u32, u32)> = open.into_iter().collect();
        open.sort_unstable();
        Ok(Found {
            open,
            merged: Vec::new(),
        })
    })
}
