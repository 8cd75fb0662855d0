//! Rows on which nothing can be said of what adds up others, as a cell that goes into it could not be read.
//!
//! A sum leaves out what is missing. Where it is missing because nobody could read it, a rule that fails on the sum may hold once the cell is
//! mended. What reads no sum needs no such care: a value that hangs on an unreadable cell is missing itself.

use crate::eval::{Groups, Inputs};
use crate::program::{Grain, Kind, NodeId, Program, TableId};
use crate::table::Absence;
use std::collections::{HashMap, HashSet};

/// The cells of a survey that could not be read, by the topmost row that theirs belongs to.
pub(super) struct Doubts {
    /// For each column, the topmost rows below which, or on which, one of its cells could not be read.
    of_column: HashMap<(TableId, usize), HashSet<usize>>,
    /// For each table, the topmost row of each row.
    tops: Vec<Vec<usize>>,
}

impl Doubts {
    /// None for a survey that was read whole.
    pub(super) fn of(program: &Program, inputs: &Inputs<'_>) -> Doubts {
        let mut doubts = Doubts {
            of_column: HashMap::new(),
            tops: Vec::new(),
        };
        let any = inputs.tables.iter().any(|t| {
            let mut absent = t.columns.iter().filter_map(|c| c.absent.as_ref());
            absent.any(|list| list.contains(&Absence::Unreadable))
        });
        if !any {
            return doubts;
        }
        for (table, data) in program.tables.ids().zip(&inputs.tables) {
            let tops: Vec<usize> = (0..data.rows)
                .map(|row| top_of(program, inputs, table, row))
                .collect();
            for (column, values) in data.columns.iter().enumerate() {
                let unread = values.absent.iter().flatten().zip(&tops);
                let at: HashSet<usize> = unread
                    .filter(|(absence, _)| **absence == Absence::Unreadable)
                    .map(|(_, top)| *top)
                    .collect();
                if !at.is_empty() {
                    doubts.of_column.insert((table, column), at);
                }
            }
            doubts.tops.push(tops);
        }
        doubts
    }

    /// Whether a value on a row of its grain adds up what could not be read whole.
    pub(super) fn is_open(
        &self,
        program: &Program,
        node: NodeId,
        (grain, row): (Grain, usize),
        groups: Option<&Groups>,
    ) -> bool {
        if self.of_column.is_empty() {
            return false;
        }
        let read = columns_added_up(program, node);
        let at: HashSet<usize> = read
            .iter()
            .filter_map(|column| self.of_column.get(column))
            .flatten()
            .copied()
            .collect();
        if at.is_empty() {
            return false;
        }
        let top = |table: TableId, row: usize| self.tops.get(table.index())?.get(row).copied();
        match grain {
            Grain::Table(table) => top(table, row).is_none_or(|top| at.contains(&top)),
            Grain::Group(group) => {
                let (Some(groups), Some(def)) = (groups, program.groups.get(group)) else {
                    return true;
                };
                let mut rows = groups.of_row.iter().enumerate();
                rows.any(|(of, g)| {
                    crate::ids::at(*g) == row && top(def.of, of).is_none_or(|top| at.contains(&top))
                })
            }
            Grain::Const | Grain::Job => true,
        }
    }
}

fn top_of(program: &Program, inputs: &Inputs<'_>, mut table: TableId, mut row: usize) -> usize {
    while let Some(parent) = program.tables[table].parent {
        let rows = inputs.tables.get(table.index());
        let above = rows.and_then(|t| t.parent_rows.as_ref()?.get(row));
        let Some(above) = above else { break };
        (table, row) = (parent, crate::ids::at(*above));
    }
    row
}

/// The columns that a node reads, and those that say which rows are made; nothing where it adds nothing up.
#[expect(
    clippy::wildcard_enum_match_arm,
    reason = "every other kind reads no column itself; its children are walked"
)]
fn columns_added_up(program: &Program, node: NodeId) -> HashSet<(TableId, usize)> {
    let (mut columns, mut adds_up) = (HashSet::new(), false);
    for (_, node) in program.below([node]) {
        match &node.kind {
            Kind::Column { table, column } => {
                columns.insert((*table, usize::from(*column)));
            }
            Kind::Up { .. } | Kind::Count { .. } => adds_up = true,
            _ => {}
        }
        let made = match node.grain {
            Grain::Table(table) => program.tables.get(table),
            Grain::Const | Grain::Job | Grain::Group(_) => None,
        };
        if let Some((parent, rows)) = made.and_then(|t| Some((t.parent?, t.schema.rows.as_ref()?)))
        {
            columns.insert((parent, rows.from));
        }
    }
    match adds_up {
        true => columns,
        false => HashSet::new(),
    }
}
