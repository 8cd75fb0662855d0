//! Sums carried over the break of a page.

use crate::number::{Exact, Rounding};
use crate::paper::{Row, RowKind, Table, Value};
use crate::units::{Nouns, Style, UnitExpr, format_quantity};

/// How the numbers of a column are written.
type Writes = fn(&Exact) -> Option<String>;

/// The ways in which lists write the numbers of a column.
const WAYS: [Writes; 5] = [
    |n| n.is_integer().then(|| n.to_decimal(0).0),
    |n| Some(n.to_fixed(2, Rounding::HalfEven)),
    |n| n.to_mixed(64),
    |n| {
        let style = Style {
            places: 2,
            ..Style::default()
        };
        Some(format_quantity(
            n,
            &UnitExpr::none(),
            &Nouns::default(),
            style,
        ))
    },
    |n| Some(n.to_decimal(4).0),
];

/// A column whose lines add up to what its table says.
#[derive(Debug, Clone)]
struct Summed {
    column: usize,
    writes: Writes,
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
        let of = |s: &Summed| Some((s.column, (s.writes)(s.before.get(row)?)?));
        self.columns.iter().filter_map(of).collect()
    }
}

fn number(row: &Row, column: usize) -> Option<(&Exact, &str)> {
    let cell = row.cells.get(column)?;
    match &cell.value {
        Value::Number(n) => Some((n, &cell.text)),
        _ => None,
    }
}

fn summed(table: &Table, total: &Row, column: usize) -> Option<Summed> {
    let (whole, _) = number(total, column)?;
    let mut before = Vec::with_capacity(table.rows.len());
    let mut sum = Exact::ZERO;
    for row in &table.rows {
        before.push(sum.clone());
        if row.kind == RowKind::Line
            && let Some((n, _)) = number(row, column)
        {
            sum = sum.add(n).ok()?;
        }
    }
    // A mean or a greatest value is no sum, and nothing of it is carried.
    if sum != *whole {
        return None;
    }
    let fits = |writes: &&Writes| {
        let mut numbers = table.rows.iter().filter_map(|r| number(r, column));
        numbers.all(|(n, text)| writes(n).as_deref() == Some(text))
    };
    Some(Summed {
        column,
        writes: *WAYS.iter().find(fits)?,
        before,
    })
}
