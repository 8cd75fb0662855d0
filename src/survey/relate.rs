//! Ties a table to the one above it by its key, and finds marks used twice. Must not know files or units.

use crate::diagnostics::suggest::nearest;
use crate::table::{Table, Texts, Values};

use super::intern::Pool;

/// Orphans for which a near mark is looked up: each look goes through all marks.
const MOST_LOOKS: usize = 20;

/// Rows of a table tied to those of the table above it.
pub(crate) struct Ties {
    /// For each row the row above it; 0 where there is none.
    pub(crate) rows: Vec<u32>,
    pub(crate) orphans: Vec<Orphan>,
}

/// A row whose mark no row above has.
pub(crate) struct Orphan {
    pub(crate) row: usize,
    /// The nearest mark there is, if any is near.
    pub(crate) near: Option<String>,
}

/// Ties rows to those of the table above. `marks` are numbers of `texts`, `None` where there is no text to go by, which was told before;
/// `parent_key` is the key column above.
pub(crate) fn tie(marks: impl Iterator<Item = Option<u32>>, texts: &Texts, parent: &Table, parent_key: usize) -> Ties {
    let Some(Values::Text { ids, pool }) = parent.columns.get(parent_key).map(|c| &c.values) else {
        return Ties { rows: marks.map(|_| 0).collect(), orphans: Vec::new() };
    };
    let mut first_row: Vec<Option<u32>> = vec![None; pool.len()];
    for (id, row) in ids.iter().zip(0..) {
        if let Some(first @ None) = first_row.get_mut(*id as usize) {
            *first = Some(row);
        }
    }
    // Each different text is looked for once.
    let index = Pool::of(pool);
    let above: Vec<Option<u32>> = texts.iter().map(|text| *first_row.get(index.find(text)? as usize)?).collect();
    let mut ties = Ties { rows: Vec::new(), orphans: Vec::new() };
    for (row, mark) in marks.enumerate() {
        let found = mark.and_then(|mark| *above.get(mark as usize)?);
        ties.rows.push(found.unwrap_or(0));
        if let (Some(mark), None) = (mark.and_then(|mark| texts.get(mark)), found) {
            let near = if ties.orphans.len() < MOST_LOOKS { nearest(mark, pool.iter()) } else { None };
            ties.orphans.push(Orphan { row, near: near.map(str::to_string) });
        }
    }
    ties
}

/// Rows whose mark stood in an earlier row already: the earlier row and the later one. Marks come as numbers, equal for equal texts.
pub(crate) fn repeats(marks: impl Iterator<Item = Option<u32>>) -> Vec<(usize, usize)> {
    let mut first: Vec<Option<usize>> = Vec::new();
    let mut found = Vec::new();
    for (row, mark) in marks.enumerate() {
        let Some(mark) = mark.map(|m| m as usize) else { continue };
        if first.len() <= mark {
            first.resize(mark + 1, None);
        }
        match first.get_mut(mark) {
            Some(Some(earlier)) => found.push((*earlier, row)),
            Some(slot) => *slot = Some(row),
            None => {}
        }
    }
    found
}

#[cfg(test)]
mod tests {
    use super::repeats;

    #[test]
    fn every_later_row_of_a_mark_points_to_the_first() {
        let marks = [Some(0), Some(1), None, Some(0), None, Some(0)];
        assert_eq!(repeats(marks.into_iter()), [(0, 3), (0, 5)]);
    }
}
