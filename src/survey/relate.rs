//! Ties a table to the one above it by its key, and finds marks used twice. Must not know files or units.

use crate::diagnostics::suggest::nearest;
use crate::table::{Table, Texts, Values};

use super::intern::Pool;

/// Rows without a row above for which a near mark is looked up: each look goes through all marks.
const MOST_LOOKS: usize = 20;
/// A table below mostly has the order of the one above, with some marks left out: from the last one on, so many
/// are looked at before all are.
const NEXT_ONES: usize = 16;
/// No row, or no text.
const NONE: u32 = u32::MAX;

/// The marks of a table that hangs below another, tied while they come in.
#[derive(Debug)]
pub(crate) struct Ties<'a> {
    /// Different marks above.
    above: &'a Texts,
    /// For each, the first row that has it.
    first_row: Vec<u32>,
    /// For each, the number that it has below.
    below: Vec<u32>,
    /// Of the marks above; made when one is not among the next ones.
    index: Option<Pool>,
    /// Number of the last mark found.
    last: u32,
    /// How many marks from there on are looked at next; fewer while they are looked at in vain.
    next_ones: usize,
    /// For each different mark below, the row above that has it.
    rows: Vec<u32>,
}

impl<'a> Ties<'a> {
    /// Ties to `parent` by its column `key`; `None` where that holds no texts.
    pub(crate) fn new(parent: &'a Table, key: usize) -> Option<Ties<'a>> {
        let Values::Text { ids, pool } = &parent.columns.get(key)?.values else {
            return None;
        };
        let mut first_row = vec![NONE; pool.len()];
        for (id, row) in ids.iter().zip(0..) {
            if let Some(first @ &mut NONE) = first_row.get_mut(crate::ids::at(*id)) {
                *first = row;
            }
        }
        Some(Ties {
            above: pool,
            first_row,
            below: vec![NONE; pool.len()],
            index: None,
            last: 0,
            next_ones: NEXT_ONES,
            rows: Vec::new(),
        })
    }

    /// Number of a mark in `below`, the pool of all marks that came before; added if it is new.
    pub(crate) fn intern(&mut self, mark: &str, below: &mut Pool) -> u32 {
        let Some(above) = self.find(mark) else {
            let id = below.intern(mark);
            self.add(id, NONE);
            return id;
        };
        self.last = above;
        match self.below.get_mut(crate::ids::at(above)) {
            Some(known @ &mut NONE) => {
                // Whether it is new is known from the mark above, so nobody looks for the text.
                let id = below.add(mark);
                *known = id;
                let row = self
                    .first_row
                    .get(crate::ids::at(above))
                    .copied()
                    .unwrap_or(NONE);
                self.add(id, row);
                id
            }
            Some(known) => *known,
            None => NONE,
        }
    }

    fn add(&mut self, id: u32, row: u32) {
        if self.rows.len() == crate::ids::at(id) {
            self.rows.push(row);
        }
    }

    fn find(&mut self, mark: &str) -> Option<u32> {
        let near = (self.last..)
            .take(self.next_ones)
            .find(|id| self.above.get(*id) == Some(mark));
        self.next_ones = if near.is_some() {
            NEXT_ONES
        } else {
            (self.next_ones / 2).max(2)
        };
        near.or_else(|| {
            self.index
                .get_or_insert_with(|| Pool::of(self.above))
                .find(mark)
        })
    }

    /// The row above of each row, 0 where there is none, and the rows that have none. `marks` are numbers of marks below, `None` where
    /// there is no mark to go by, which was reported before; `texts` are the marks below.
    pub(crate) fn rows(
        &self,
        marks: impl Iterator<Item = Option<u32>>,
        texts: &Texts,
    ) -> (Vec<u32>, Vec<Orphan>) {
        let (mut rows, mut orphans) = (Vec::with_capacity(marks.size_hint().0), Vec::new());
        for (row, mark) in marks.enumerate() {
            let found = mark
                .and_then(|mark| self.rows.get(crate::ids::at(mark)).copied())
                .unwrap_or(NONE);
            rows.push(if found == NONE { 0 } else { found });
            if let (Some(mark), NONE) = (mark.and_then(|mark| texts.get(mark)), found) {
                let near = if orphans.len() < MOST_LOOKS {
                    nearest(mark, self.above.iter())
                } else {
                    None
                };
                orphans.push(Orphan {
                    row,
                    near: near.map(str::to_string),
                });
            }
        }
        (rows, orphans)
    }
}

/// A row whose mark no row above has.
pub(crate) struct Orphan {
    pub(crate) row: usize,
    /// The nearest mark there is, if any is near.
    pub(crate) near: Option<String>,
}

/// Rows whose mark was in an earlier row already: the earlier row and the later one. Marks come as numbers below `count`, equal for equal
/// texts.
pub(crate) fn repeats(
    marks: impl Iterator<Item = Option<u32>> + Clone,
    count: usize,
) -> Vec<(usize, usize)> {
    let mut met = vec![false; count];
    let mut new = |mark: u32| {
        met.get_mut(crate::ids::at(mark))
            .is_none_or(|met| !std::mem::replace(met, true))
    };
    if marks.clone().flatten().all(&mut new) {
        return Vec::new();
    }
    let mut first: Vec<Option<usize>> = vec![None; count];
    let mut found = Vec::new();
    for (row, mark) in marks.enumerate() {
        match mark.and_then(|mark| first.get_mut(crate::ids::at(mark))) {
            Some(Some(earlier)) => found.push((*earlier, row)),
            Some(slot) => *slot = Some(row),
            None => {}
        }
    }
    found
}

#[cfg(test)]
#[expect(
    clippy::as_conversions,
    reason = "the numbers of these tests are small"
)]
mod tests {
    use super::{NEXT_ONES, Ties, repeats};
    use crate::survey::intern::Pool;
    use crate::table::{ColumnData, Table, Texts, Values};

    #[test]
    fn every_later_row_of_a_mark_points_to_the_first() {
        let marks = [Some(0), Some(1), None, Some(0), None, Some(0)];
        assert_eq!(repeats(marks.into_iter(), 2), [(0, 3), (0, 5)]);
        assert_eq!(repeats([Some(1), None, Some(0), None].into_iter(), 2), []);
    }

    /// In order, with gaps, backwards, again and unknown: always the row of that text above.
    #[test]
    fn marks_are_tied_in_any_order() {
        let all: Vec<String> = (0..200).map(|n| format!("W{n}")).collect();
        let pool: Texts = all.iter().map(String::as_str).collect();
        let ids: Vec<u32> = (0..200).rev().collect();
        let columns = vec![ColumnData {
            values: Values::Text { ids, pool },
            absent: None,
        }];
        let parent = Table {
            rows: 200,
            columns,
            places: vec![],
            sources: vec![],
            headings: vec![],
            parent_rows: None,
            from_above: None,
        };
        let in_order: Vec<usize> = (0..200).collect();
        let gaps: Vec<usize> = (0..200).step_by(NEXT_ONES + 3).chain(0..200).collect();
        let backwards: Vec<usize> = (0..200).rev().chain(0..200).collect();
        let mixed: Vec<usize> = (0..600).map(|n| n * 89 % 230).collect();
        for order in [in_order, gaps, backwards, mixed] {
            let mut ties = Ties::new(&parent, 0).expect("a column of texts");
            let mut below = Pool::default();
            let marks: Vec<String> = order.iter().map(|n| format!("W{n}")).collect();
            let ids: Vec<u32> = marks
                .iter()
                .map(|mark| ties.intern(mark, &mut below))
                .collect();
            assert!(
                ids.iter()
                    .zip(&marks)
                    .all(|(id, mark)| below.get(*id) == Some(mark))
            );
            let different: std::collections::HashSet<&String> = marks.iter().collect();
            assert_eq!(below.texts().len(), different.len());
            let (rows, orphans) = ties.rows(ids.iter().map(|id| Some(*id)), below.texts());
            let expected: Vec<u32> = order
                .iter()
                .map(|n| if *n < 200 { 199 - *n as u32 } else { 0 })
                .collect();
            assert_eq!(rows, expected);
            let without: Vec<usize> = order
                .iter()
                .enumerate()
                .filter(|(_, n)| **n >= 200)
                .map(|(row, _)| row)
                .collect();
            assert_eq!(
                orphans.iter().map(|orphan| orphan.row).collect::<Vec<_>>(),
                without
            );
        }
    }
}
