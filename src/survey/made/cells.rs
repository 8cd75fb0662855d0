//! Single cells of a table as read.

use crate::survey::columns::Column;
use crate::table::{Absence, ColumnData, Table, Values};

/// Whether a cell of a table is there.
pub(in crate::survey) fn absence(table: &Table, column: usize, row: usize) -> Absence {
    let column = table.columns.get(column);
    column.map_or(Absence::Present, |c| c.absence(row))
}

/// Adds a cell of a table to a growing column.
pub(super) fn push_cell(to: &mut Column, table: &Table, column: usize, row: usize) {
    match table.columns.get(column) {
        Some(from) => to.push_from(from, row),
        None => to.push_missing(Absence::Unreadable),
    }
}

/// Cells left blank and cells left "n/a".
pub(super) fn missing(data: &ColumnData) -> (u64, u64) {
    let of = |why: Absence| {
        let absent = data.absent.iter().flatten();
        crate::ids::long(absent.filter(|a| **a == why).count())
    };
    (of(Absence::Blank), of(Absence::NotApplicable))
}

pub(super) fn label_or_number(table: &Table, column: usize, row: usize) -> Option<u16> {
    match &table.columns.get(column)?.values {
        Values::Choice(labels) => labels.get(row).copied(),
        Values::Numbers(numbers) => {
            let value = numbers.get(row);
            let (n, _) = value.small().filter(|(_, d)| *d == 1)?;
            u16::try_from(n).ok()
        }
        Values::Text { .. } | Values::YesNo(_) | Values::Date(_) => None,
    }
}
