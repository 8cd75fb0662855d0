//! Entries of a paper: where the rows of its lists have pages of their own.

use super::gather::Line;
use crate::paper::{Block, RowKind, Table};
use crate::program::Grain;
use foldhash::HashMap;

/// A row of a grain.
type At = (Grain, usize);

/// The blocks of a paper, and what is known of its entries while they are put together.
#[derive(Default)]
pub(super) struct Blocks {
    pub(super) all: Vec<Block>,
    /// The block that the entry of a row begins with; the first, where it has several.
    begins: HashMap<At, usize>,
    /// Tables that may have entries: the block of each, and the row that each of its lines stands at, where it is one.
    listed: Vec<(usize, Vec<Option<At>>)>,
}

impl Blocks {
    /// Notes that the entry of a row began at a place.
    pub(super) fn entered(&mut self, row: At, from: usize) {
        let own = self.all.get(from..).unwrap_or_default();
        let first = own.iter().position(|block| *block != Block::PageBreak);
        if let Some(first) = first {
            self.begins.entry(row).or_insert(from + first);
        }
    }

    /// Puts a table whose lines may have entries.
    pub(super) fn listed(&mut self, table: Table, lines: &[Line]) {
        let row = |line: &Line| match line.rows.as_slice() {
            [one] => Some(*one),
            _ => None,
        };
        self.listed
            .push((self.all.len(), lines.iter().map(row).collect()));
        self.all.push(Block::Table(table));
    }

    /// The blocks, with the entry of each row of a table, in a paper that holds entries of its rows.
    pub(super) fn done(mut self) -> Vec<Block> {
        for (at, rows) in self.listed {
            let entry = |row: &Option<At>| self.begins.get(&(*row)?).copied();
            let own: Vec<Option<usize>> = rows.iter().map(entry).collect();
            let Some(Block::Table(table)) = self.all.get_mut(at) else {
                continue;
            };
            if own.iter().all(Option::is_none) {
                continue;
            }
            let mut own = own.into_iter();
            let each = table.rows.iter().map(|row| match row.kind {
                RowKind::Line => own.next().flatten(),
                RowKind::Group(_) | RowKind::Subtotal(_) | RowKind::Total => None,
            });
            table.entries = each.collect();
        }
        // Lists without a row for it are left out, and then nothing follows their page break.
        while self.all.last() == Some(&Block::PageBreak) {
            self.all.pop();
        }
        self.all
    }
}
