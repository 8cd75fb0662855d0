//! The example of a survey form: a few rows of each table, calculated from what its columns may hold.

use super::wording;
use crate::defuse;
use crate::number::{Exact, Rounding};
use crate::program::{Program, TableId};
use crate::table::{ColumnKind, ColumnSpec, OnMissing, RowsMade};

/// Rows of the main table; a table below has one row less than the table it hangs from.
const ROWS: usize = 3;

/// A table of the example.
pub(super) struct Example {
    /// Name of the table.
    pub(super) name: String,
    /// Title of its tab.
    pub(super) tab: String,
    /// Headings.
    pub(super) headings: Vec<String>,
    /// Cells as a surveyor writes them.
    pub(super) rows: Vec<Vec<String>>,
}

impl Example {
    /// The table as CSV.
    pub(super) fn csv(&self) -> String {
        let line = |cells: &[String]| {
            let cells: Vec<String> = cells
                .iter()
                .map(|c| format!("\"{}\"", c.replace('"', "\"\"")))
                .collect();
            cells.join(",") + "\n"
        };
        let rows: String = self.rows.iter().map(|r| line(r)).collect();
        line(&self.headings) + &rows
    }
}

/// The example of every table that a surveyor fills in.
pub(super) fn tables(program: &Program) -> Vec<Example> {
    program.tables.ids().map(|t| table(program, t)).collect()
}

fn table(program: &Program, id: TableId) -> Example {
    let info = &program.tables[id];
    let schema = &info.schema;
    let depth = std::iter::successors(info.parent, |p| program.tables[*p].parent).count();
    let cell = |row: usize, at: usize, column: &ColumnSpec| match &schema.parent {
        Some((_, key)) if *key == at => info
            .parent
            .map(|p| mark(program, p, row))
            .unwrap_or_default(),
        _ if schema.rows.as_ref().is_some_and(|r| r.place == at) => place(program, id, row),
        _ if schema.key == Some(at) => mark(program, id, row),
        _ => cell(program, row, column),
    };
    let rows = 0..ROWS.saturating_sub(depth).max(1);
    Example {
        name: schema.name.clone(),
        tab: wording::tab(program, id),
        headings: schema
            .columns
            .iter()
            .map(|c| wording::heading(program, c))
            .collect(),
        rows: rows
            .map(|row| {
                let columns = schema.columns.iter().enumerate();
                columns
                    .map(|(at, c)| defuse::line(&cell(row, at, c)))
                    .collect()
            })
            .collect(),
    }
}

/// The mark of an example row: `O1` of openings, `S2` of sash.
fn mark(program: &Program, table: TableId, row: usize) -> String {
    let name = &program.tables[table].schema.name;
    let first = name.chars().next().unwrap_or('r').to_uppercase();
    format!("{first}{}", row + 1)
}

/// Which of the rows of the row above an example row is: its first.
fn place(program: &Program, id: TableId, row: usize) -> String {
    let info = &program.tables[id];
    let first = || {
        let rows = info.schema.rows.as_ref()?;
        let RowsMade::Labels(made, _) = &rows.made else {
            return Some("1".to_owned());
        };
        let above = &program.tables[info.parent?].schema;
        let kinds = wording::choices(above.columns.get(rows.from)?).len();
        let label = *made.get(row % kinds.max(1))?.first()?;
        let column = info.schema.columns.get(rows.place)?;
        wording::choices(column).get(usize::from(label)).cloned()
    };
    first().unwrap_or_default()
}

/// What is in a cell that must be filled in; the others show that they may stay blank.
fn cell(program: &Program, row: usize, column: &ColumnSpec) -> String {
    if column.blank != OnMissing::Refuse {
        return String::new();
    }
    let choices = wording::choices(column);
    match &column.kind {
        ColumnKind::Text => "North".to_owned(),
        ColumnKind::Lites => "6".to_owned(),
        ColumnKind::Date => "2026-03-21".to_owned(),
        ColumnKind::Moment => "2026-03-21 14:30".to_owned(),
        ColumnKind::Temperature => "55 F".to_owned(),
        ColumnKind::YesNo | ColumnKind::Choice(_) => {
            let at = row % choices.len().max(1);
            choices.get(at).cloned().unwrap_or_default()
        }
        ColumnKind::Number {
            unit,
            percent,
            whole,
            limits,
            ..
        } => {
            let share = match (percent, row) {
                (true, 0) => Exact::ratio(1, 20),
                (true, 1) => Exact::ratio(1, 5),
                (true, _) => Exact::ratio(3, 5),
                (false, _) => Exact::ratio(1, 7),
            };
            let between = limits.as_ref().zip(share).and_then(|(l, share)| {
                let value = l
                    .low
                    .add(&l.high.sub(&l.low).ok()?.mul(&share).ok()?)
                    .ok()?;
                let step = match (percent, whole) {
                    (true, _) => Exact::ratio(1, 100)?,
                    (_, true) => unit.factor().clone(),
                    _ => unit.factor().mul(&Exact::ratio(1, 4)?).ok()?,
                };
                value.round_to(&step, Rounding::Down).ok()
            });
            wording::number(
                program,
                column,
                &between.unwrap_or_else(|| unit.factor().clone()),
            )
        }
    }
}
