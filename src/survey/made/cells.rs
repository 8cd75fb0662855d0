//! Single cells of a table as read.

use crate::table::{Absence, ColumnData, Table, Values};

/// Whether a cell of a table is there.
pub(in crate::survey) fn absence(table: &Table, column: usize, row: usize) -> Absence {
    let column = table.columns.get(column);
    let absent = column.and_then(|c| c.absent.as_ref()?.get(row).copied());
    absent.unwrap_or(Absence::Present)
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
