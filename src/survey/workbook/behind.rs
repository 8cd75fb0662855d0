//! What may stand behind a blank cell of a workbook: a formula that was saved without its result, or a merged area.
//!
//! Finding out costs another pass over the tab, so it is done only when a blank turns up in a column that is read. Must not know what the
//! columns mean.

use std::collections::HashSet;
use std::io::Cursor;
use std::sync::Arc;

use calamine::{DataRef, Dimensions, Reader, Xlsb, Xlsx};

use crate::diagnostics::Diagnostic;
use crate::survey::raw::{RawCell, RawRow};

use super::{guarded, words};

/// What may stand behind a blank cell.
#[derive(Default)]
pub(super) struct Found {
    /// Row and column, counted from 0, of formulas without a stored result.
    pub(super) open: HashSet<(u32, u32)>,
    pub(super) merged: Vec<Dimensions>,
}

/// Looks behind blanks in the columns that the sheet asks for.
pub(super) struct Behind {
    name: String,
    tab: String,
    bytes: Arc<[u8]>,
    pub(super) found: Option<Found>,
    /// The last row of the batch before, where a merged area may have its value.
    above: Option<RawRow>,
}

type Look<'l> = &'l mut dyn FnMut(&str, Arc<[u8]>, &str) -> Result<Found, Diagnostic>;

impl Behind {
    /// For a tab of the workbook whose bytes these are.
    pub(super) fn new(name: &str, tab: &str, bytes: Arc<[u8]>) -> Behind {
        Behind {
            name: name.to_string(),
            tab: tab.to_string(),
            bytes,
            found: None,
            above: None,
        }
    }

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
            self.found = Some(find(&self.name, self.bytes.clone(), &self.tab)?);
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
                let cell = if found.open.contains(&at) {
                    Some(RawCell::NoResult)
                } else {
                    let area = found
                        .merged
                        .iter()
                        .find(|m| m.contains(at.0, at.1) && m.start.1 == at.1 && m.start.0 < at.0);
                    area.and_then(|m| {
                        let top = m.start.0 + 1;
                        let holder = before
                            .iter()
                            .rev()
                            .chain(&self.above)
                            .find(|r| r.row <= top)?;
                        let over = if holder.row == top {
                            holder.cells.get(*column)
                        } else {
                            None
                        };
                        let value = match over {
                            Some(RawCell::Merged { value, .. }) => value.clone(),
                            Some(v) if *v != RawCell::Blank => Box::new(v.clone()),
                            _ => return None,
                        };
                        Some(RawCell::Merged {
                            first: m.start.0 + 1,
                            last: m.end.0 + 1,
                            value,
                        })
                    })
                };
                if let Some(cell) = cell {
                    if row.cells.len() <= *column {
                        row.cells.resize(column + 1, RawCell::Blank);
                    }
                    row.cells[*column] = cell;
                }
            }
        }
        self.above = rows.last().cloned();
        Ok(())
    }
}

pub(super) fn xlsx_behind(name: &str, bytes: Arc<[u8]>, tab: &str) -> Result<Found, Diagnostic> {
    guarded(name, || {
        let mut book = Xlsx::new(Cursor::new(bytes)).map_err(words)?;
        let merged = book.merge_cells_by_sheet_name(tab).map_err(words)?;
        let mut reader = book.worksheet_cells_reader(tab).map_err(words)?;
        let mut open = HashSet::new();
        while let Some(cell) = reader.next_cell_with_formula_metadata().map_err(words)? {
            if cell.formula.is_some() && cell.value == DataRef::Empty {
                open.insert(cell.pos);
            }
        }
        Ok(Found { open, merged })
    })
}

pub(super) fn xlsb_behind(name: &str, bytes: Arc<[u8]>, tab: &str) -> Result<Found, Diagnostic> {
    guarded(name, || {
        let mut book = Xlsb::new(Cursor::new(bytes)).map_err(words)?;
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
        Ok(Found {
            open,
            merged: Vec::new(),
        })
    })
}
