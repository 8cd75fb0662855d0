//! Sums carried over the break of a page.

use crate::number::{Exact, Style, Written};
use crate::paper::{Row, RowKind, Table, Value};

/// A column whose lines add up to what its table says.
#[derive(Debug, Clone)]
struct Summed {
    column: usize,
    numbers: (Written, Style),
    /// Sum of the lines before each row.
    before: Vec<Exact>,
}

/// The columns of a table that are added up, with their sums so far.
#[derive(Debug, Clone, Default)]
pub(super) struct Carried {
    columns: Vec<Summed>,
}

impl Carried {
    /// Finds the columns whose last total is the sum of their lines.
    pub(super) fn of(table: &Table) -> Carried {
        let Some(total) = table.rows.iter().rfind(|r| r.kind == RowKind::Total) else {
            return Carried::default();
        };
        let columns = (0..table.columns.len()).filter_map(|c| summed(table, total, c));
        Carried {
            columns: columns.collect(),
        }
    }

    /// Whether no column is added up.
    pub(super) fn is_empty(&self) -> bool {
        self.columns.is_empty()
    }

    /// The sums of all lines before a row, by column.
    pub(super) fn before(&self, row: usize) -> Vec<(usize, String)> {
        let of = |s: &Summed| {
            let (written, style) = s.numbers;
            Some((s.column, written.text(s.before.get(row)?, style)))
        };
        self.columns.iter().filter_map(of).collect()
    }
}

fn number(row: &Row, column: usize) -> Option<&Exact> {
    match &row.cells.get(column)?.value {
        Value::Number(n) => Some(n),
        Value::Blank | Value::Text | Value::Day(_) | Value::Tick | Value::Room | Value::Unknown => {
            None
        }
    }
}

fn summed(table: &Table, total: &Row, column: usize) -> Option<Summed> {
    let numbers = table.columns.get(column)?.numbers?;
    let whole = number(total, column)?;
    let mut before = Vec::with_capacity(table.rows.len());
    let mut sum = Exact::ZERO;
    for row in &table.rows {
        before.push(sum.clone());
        if row.kind == RowKind::Line
            && let Some(n) = number(row, column)
        {
            sum = sum.add(n).ok()?;
        }
    }
    // A mean or a greatest value is no sum, and nothing of it is carried.
    (sum == *whole).then_some(Summed {
        column,
        numbers,
        before,
    })
}
