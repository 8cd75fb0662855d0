//! Ties a table to the one above it by its key, and finds marks used twice. Must not know files or units.

use std::collections::HashMap;

use crate::diagnostics::suggest::nearest;
use crate::table::{Table, Values};

/// Orphans for which a near mark is looked up: each look goes through all marks.
const MOST_LOOKS: usize = 20;

/// For each row of a table below another: the row above it, or the nearest mark there is, if any is near.
pub(crate) enum Tie {
    Row(u32),
    Orphan {
        near: Option<String>,
    },
    /// The row has no text to go by; that was told before.
    Unreadable,
}

/// Ties each of `rows` marks to the rows of the table above. `parent_key` is the key column there.
pub(crate) fn tie<'t>(marks: impl Iterator<Item = Option<&'t str>>, parent: &Table, parent_key: usize) -> Vec<Tie> {
    let Some(Values::Text { ids, pool }) = parent.columns.get(parent_key).map(|c| &c.values) else {
        return marks.map(|_| Tie::Unreadable).collect();
    };
    let mut rows: HashMap<&str, u32> = HashMap::with_capacity(pool.len());
    for (row, id) in ids.iter().enumerate() {
        if let (Some(text), Ok(row)) = (pool.get(*id), u32::try_from(row)) {
            rows.entry(text).or_insert(row);
        }
    }
    let mut looks = 0;
    marks
        .map(|mark| match mark {
            None => Tie::Unreadable,
            Some(mark) => match rows.get(mark) {
                Some(row) => Tie::Row(*row),
                None => {
                    looks += 1;
                    let near = if looks <= MOST_LOOKS { nearest(mark, pool.iter()) } else { None };
                    Tie::Orphan { near: near.map(str::to_string) }
                }
            },
        })
        .collect()
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
