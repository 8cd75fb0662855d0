//! Entries of a paper: where the rows of its lists have pages of their own.

use super::rows::ListRows;
use crate::paper::{Block, Table};
use crate::program::Grain;
use foldhash::HashMap;

/// A row of a grain.
type At = (Grain, usize);

/// The blocks of a paper, and what is known of its entries while they are put together.
#[derive(Default)]
pub(super) struct Blocks<'a> {
    pub(super) all: Vec<Block<ListRows<'a>>>,
    /// The block that the entry of a row begins with; the first, where it has several.
    begins: HashMap<At, usize>,
    /// The blocks of tables that may have entries.
    listed: Vec<usize>,
}

impl<'a> Blocks<'a> {
    /// Notes that the entry of a row began at a place.
    pub(super) fn entered(&mut self, row: At, from: usize) {
        let own = self.all.get(from..).unwrap_or_default();
        let first = own
            .iter()
            .position(|block| !matches!(block, Block::PageBreak));
        if let Some(first) = first {
            self.begins.entry(row).or_insert(from + first);
        }
    }

    /// Puts a table whose lines may have entries.
    pub(super) fn listed(&mut self, table: Table<ListRows<'a>>) {
        self.listed.push(self.all.len());
        self.all.push(Block::Table(table));
    }

    /// The blocks, with the entry of each row of a table, in a paper that holds entries of its rows.
    pub(super) fn done(mut self) -> Vec<Block<ListRows<'a>>> {
        if self.begins.is_empty() {
            self.listed.clear();
        }
        for at in self.listed {
            let Some(Block::Table(table)) = self.all.get_mut(at) else {
                continue;
            };
            let entry = |row: Option<At>| self.begins.get(&row?).copied();
            let entries: Vec<Option<usize>> = table.rows.at().map(entry).collect();
            if entries.iter().any(Option::is_some) {
                table.entries = entries;
            }
        }
        // Lists without a row for it are left out, and then nothing follows their page break.
        while matches!(self.all.last(), Some(Block::PageBreak)) {
            self.all.pop();
        }
        self.all
    }
}
