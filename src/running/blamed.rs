//! The cells that a requirement blames where it does not hold.

use crate::diagnostics::CellPlace;
use crate::eval::{Groups, Inputs};
use crate::program::{Blamed, Grain, Program, RequireDef, TableId};
use crate::table::{Absence, ColumnData, Table, Values};
use std::collections::HashSet;

/// The cells of the columns that `def` blames, on these rows of its grain, `most` of them. Rows of a group that agree with more than half of it are
/// not blamed where others do not: the odd one is the slip.
pub(super) fn cells(
    program: &Program,
    inputs: &Inputs<'_>,
    def: &RequireDef,
    rows: &[usize],
    groups: Option<&Groups>,
    most: usize,
) -> Vec<CellPlace> {
    let mut out: Vec<CellPlace> = Vec::new();
    for row in rows {
        for blamed in &def.blames {
            let Blamed::Cells(table, column) = blamed else {
                continue;
            };
            let Some(data) = inputs.tables.get(table.index()) else {
                continue;
            };
            let column = usize::from(*column);
            let at = match (def.grain, groups) {
                (Grain::Group(_), Some(groups)) => odd_rows(data, column, &of_group(groups, *row)),
                (Grain::Table(own), _) => near_rows(program, inputs, own, *row, *table),
                _ => Vec::new(),
            };
            out.extend(at.into_iter().filter_map(|r| data.cell(r, column)));
        }
    }
    // A column that the file lacks has no cell; where another is blamed too, that one is enough.
    if out.iter().any(|place| place.column.is_some()) {
        out.retain(|place| place.column.is_some());
    }
    let mut seen = HashSet::new();
    out.retain(|place| seen.insert(place.clone()));
    out.truncate(most);
    out
}

/// The rows of a group.
pub(super) fn of_group(groups: &Groups, group: usize) -> Vec<usize> {
    let rows = groups.of_row.iter().enumerate();
    rows.filter(|(_, g)| crate::ids::at(**g) == group)
        .map(|(row, _)| row)
        .collect()
}

/// The row itself, the one above it, or those below it.
fn near_rows(
    program: &Program,
    inputs: &Inputs<'_>,
    own: TableId,
    row: usize,
    table: TableId,
) -> Vec<usize> {
    let parents = |t: TableId| inputs.tables.get(t.index())?.parent_rows.as_deref();
    let (mut at, mut up) = (own, row);
    loop {
        if at == table {
            return vec![up];
        }
        let above = parents(at).and_then(|rows| rows.get(up));
        let (Some(parent), Some(above)) = (program.tables[at].parent, above) else {
            break;
        };
        (at, up) = (parent, crate::ids::at(*above));
    }
    let below = parents(table).into_iter().flatten().enumerate();
    below
        .filter(|(_, above)| crate::ids::at(**above) == row)
        .map(|(below, _)| below)
        .collect()
}

/// The rows whose value is not that of more than half of them; all where no value is.
fn odd_rows(data: &Table, column: usize, rows: &[usize]) -> Vec<usize> {
    let Some(values) = data.columns.get(column) else {
        return rows.to_vec();
    };
    // What more than half say outlasts all others when each of theirs takes one of it away.
    let (mut said, mut lead) = (None, 0usize);
    for row in rows {
        match said {
            Some(held) if lead > 0 && is_same(values, held, *row) => lead += 1,
            _ if lead > 0 => lead -= 1,
            _ => (said, lead) = (Some(*row), 1),
        }
    }
    let odd: Vec<usize> = rows
        .iter()
        .copied()
        .filter(|row| said.is_none_or(|held| !is_same(values, held, *row)))
        .collect();
    match odd.len() * 2 < rows.len() && !odd.is_empty() {
        true => odd,
        false => rows.to_vec(),
    }
}

fn is_same(column: &ColumnData, a: usize, b: usize) -> bool {
    let absence = |row: usize| match &column.absent {
        Some(list) => list.get(row).copied().unwrap_or(Absence::Present),
        None => Absence::Present,
    };
    if absence(a) != Absence::Present || absence(b) != Absence::Present {
        return absence(a) == absence(b);
    }
    match &column.values {
        Values::Numbers(n) => n.get(a) == n.get(b),
        Values::Text { ids, .. } => ids.get(a) == ids.get(b),
        Values::Choice(v) => v.get(a) == v.get(b),
        Values::YesNo(v) => v.get(a) == v.get(b),
        Values::Date(v) => v.get(a) == v.get(b),
    }
}
