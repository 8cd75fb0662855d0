//! Cells and rows of the survey that are not what they were.

use super::{ChangeKind, Changed, change};
use crate::explain::kept::{KeptCell, KeptRow, KeptTable};
use crate::program::{Program, TableId};
use crate::show::absence_word;
use crate::table::ColumnKind;
use crate::units::{Style, format_quantity, point_text};

/// Cells reported one by one; more are reported opening by opening, and more openings than this as one.
const MOST_CELLS: usize = 200;

/// A cell that changed.
pub(in crate::explain) struct Edit {
    pub(in crate::explain) table: TableId,
    pub(in crate::explain) row: usize,
    pub(in crate::explain) column: usize,
    pub(in crate::explain) cell: KeptCell,
    pub(in crate::explain) mark: String,
    pub(in crate::explain) told: Changed,
}

pub(in crate::explain) fn cell_changes(
    program: &Program,
    old: &[KeptTable],
    now: &[KeptTable],
) -> Vec<Edit> {
    let mut out = Vec::new();
    for ((table, info), (before, after)) in program.tables.entries().zip(old.iter().zip(now)) {
        let names = before.by_name();
        for new in &after.rows {
            let known = names.get(new.name.as_str());
            let Some((row, then)) = known.and_then(|&row| Some((row, before.rows.get(row)?)))
            else {
                continue;
            };
            for (column, (a, b)) in then
                .cells
                .iter()
                .zip(&new.cells)
                .enumerate()
                .filter(|(_, (a, b))| a != b)
            {
                let Some(spec) = info.schema.columns.get(column) else {
                    continue;
                };
                let text = |cell: &KeptCell| kept_text(program, &spec.kind, cell);
                let told = change(
                    ChangeKind::Cell,
                    format!("{} {}", new.name, spec.name),
                    text(a),
                    text(b),
                );
                out.push(Edit {
                    table,
                    row,
                    column,
                    cell: b.clone(),
                    mark: new.name.clone(),
                    told,
                });
            }
        }
    }
    out
}

pub(in crate::explain) fn kept_text(
    program: &Program,
    kind: &ColumnKind,
    cell: &KeptCell,
) -> String {
    match (cell, kind) {
        (Err(why), _) => absence_word(*why).to_owned(),
        (Ok(text), ColumnKind::Number { unit, .. }) => match crate::explain::kept::ratio(text) {
            Some(n) => format_quantity(&n, unit, &program.nouns, Style::default()),
            None => text.clone(),
        },
        (Ok(text), ColumnKind::Date | ColumnKind::Moment | ColumnKind::Temperature) => {
            let value = crate::explain::kept::ratio(text).zip(kind.scale());
            value.map_or_else(|| text.clone(), |(n, scale)| point_text(scale, &n))
        }
        (Ok(text), _) => text.clone(),
    }
}

/// Cells one by one while they are few, else row by row, else all at once.
pub(in crate::explain) fn grouped(edits: Vec<Edit>) -> Vec<Vec<Edit>> {
    if edits.len() <= MOST_CELLS {
        return edits.into_iter().map(|e| vec![e]).collect();
    }
    let mut groups: Vec<Vec<Edit>> = Vec::new();
    for edit in edits {
        match groups.last_mut() {
            Some(group)
                if group
                    .first()
                    .is_some_and(|g| g.table == edit.table && g.mark == edit.mark) =>
            {
                group.push(edit)
            }
            _ => groups.push(vec![edit]),
        }
    }
    if groups.len() <= MOST_CELLS {
        groups
    } else {
        vec![groups.into_iter().flatten().collect()]
    }
}

pub(in crate::explain) fn told_cells(group: Vec<Edit>) -> Vec<Changed> {
    if group.len() <= MOST_CELLS {
        return group.into_iter().map(|e| e.told).collect();
    }
    vec![change(
        ChangeKind::Cell,
        format!("{} cells of the survey", group.len()),
        "",
        "",
    )]
}

/// Rows of the record that are no more, or rows that it has not; those of tables above come first.
pub(in crate::explain) fn row_changes(
    program: &Program,
    old: &[KeptTable],
    now: &[KeptTable],
    out: bool,
) -> Vec<(TableId, KeptRow)> {
    let (from, other) = if out { (old, now) } else { (now, old) };
    let mut rows = Vec::new();
    for (table, (a, b)) in program.tables.ids().zip(from.iter().zip(other)) {
        let there = b.by_name();
        let gone = (a.rows.iter()).filter(|r| !there.contains_key(r.name.as_str()));
        rows.extend(gone.map(|r| (table, r.clone())));
    }
    rows
}

/// Takes a row out with all below it, or puts one in with all below it. False when it went or came with the one above it.
pub(in crate::explain) fn move_row(
    program: &Program,
    tables: &mut [KeptTable],
    now: &[KeptTable],
    table: TableId,
    row: &KeptRow,
    out: bool,
) -> bool {
    let there = tables
        .get(table.index())
        .is_some_and(|t| t.rows.iter().any(|r| r.name == row.name));
    if there != out {
        return false;
    }
    if let Some(t) = tables.get_mut(table.index()) {
        match out {
            true => t.rows.retain(|r| r.name != row.name),
            false => t.rows.push(row.clone()),
        }
    }
    let key = program.tables[table].schema.key;
    let key = key.and_then(|k| row.cells.get(k)).cloned();
    let Some(Ok(key)) = key else { return true };
    for (below, info) in program.tables.entries() {
        let Some((_, tie)) = info
            .schema
            .parent
            .as_ref()
            .filter(|_| info.parent == Some(table))
        else {
            continue;
        };
        let belongs = |r: &&KeptRow| r.cells.get(*tie).and_then(|c| c.as_ref().ok()) == Some(&key);
        let list = if out {
            tables.get(below.index())
        } else {
            now.get(below.index())
        };
        let rows: Vec<KeptRow> = list
            .into_iter()
            .flat_map(|t| &t.rows)
            .filter(belongs)
            .cloned()
            .collect();
        for r in rows {
            move_row(program, tables, now, below, &r, out);
        }
    }
    true
}
