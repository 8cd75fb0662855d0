//! Numbers of pages on pages, which are known when all pages are: room is kept for them, and they are put in at the end.

use super::flow::Flow;
use super::pages::{Placed, Role, Um, What};
use super::wrap::Type;
use crate::number::{Style, Written};
use crate::paper::{Cell, Class, Column, Row, Table};
use std::borrow::Cow;
use std::collections::HashMap;

/// The widest number that room is kept for.
const WIDEST: &str = "00000";

/// A number that is not known yet.
pub(super) struct Awaited {
    /// The page it is on.
    pub(super) page: usize,
    /// What is behind it there.
    before: usize,
    /// Its right edge.
    right: Um,
    /// The upper edge of its line.
    y: Um,
    of: Type,
    role: Role,
    /// The block whose page it is.
    block: usize,
}

impl Flow {
    /// Keeps the place of the number of the page on which a block begins. `right` is its right edge, `y` the upper edge of its line.
    pub(super) fn await_page(&mut self, block: usize, of: Type, (right, y): (Um, Um), role: Role) {
        self.awaited.push(Awaited {
            page: self.pages.len().saturating_sub(1),
            before: self.pages.last().map_or(0, |p| p.placed.len()),
            right,
            y,
            of,
            role,
            block,
        });
    }

    /// The block that a part is of.
    pub(super) fn block_of(&self, part: usize) -> Option<usize> {
        let before = self.begins.partition_point(|(_, first)| *first <= part);
        let last = before.checked_sub(1)?;
        self.begins.get(last).map(|(block, _)| *block)
    }

    /// Puts in the numbers of pages, now that there are no more to come.
    pub(super) fn number(&mut self) {
        let mut pages: HashMap<usize, usize> = HashMap::new();
        for (at, page) in self.pages.iter().enumerate() {
            for placed in &page.placed {
                if let Role::Of { part, .. } = placed.role {
                    pages.entry(part).or_insert(at);
                }
            }
        }
        // From the last, so that those before it are where they stood.
        for one in std::mem::take(&mut self.awaited).into_iter().rev() {
            let begins = self.begins.binary_search_by_key(&one.block, |(b, _)| *b);
            let part = begins.ok().and_then(|at| self.begins.get(at));
            let (Some(number), Some(page)) = (
                part.and_then(|(_, part)| pages.get(part)),
                self.pages.get_mut(one.page),
            ) else {
                continue;
            };
            let text = (number + 1).to_string();
            let width = one.of.width(&text);
            let placed = Placed {
                x: one.right - width,
                y: one.y + one.of.rise(),
                what: What::Text {
                    text,
                    face: one.of.face,
                    capital: one.of.capital,
                    width,
                },
                role: one.role,
            };
            page.placed.insert(one.before, placed);
        }
    }
}

/// A table with room for the page of each row's own entry, where it has any.
pub(super) fn paged(table: &Table) -> Cow<'_, Table> {
    if table.entries.is_empty() {
        return Cow::Borrowed(table);
    }
    let mut out = table.clone();
    out.columns.push(Column {
        name: String::new(),
        heading: "Page".to_owned(),
        unit: None,
        numbers: Some((Written::Plain, Style::default())),
        class: Class::Open,
    });
    let each = out.rows.iter_mut().enumerate();
    each.for_each(|(at, row)| room(row, entry(table, at).is_some()));
    Cow::Owned(out)
}

fn room(row: &mut Row, has: bool) {
    row.cells.push(match has {
        true => Cell::words(WIDEST),
        false => Cell::blank(),
    });
}

/// The block that a row's own entry begins with.
pub(super) fn entry(table: &Table, row: usize) -> Option<usize> {
    table.entries.get(row).copied().flatten()
}
