//! Where the rows of a table part from one page to the next.

use super::pages::Um;
use crate::paper::RowKind;
use std::ops::Range;

/// The row before which a page breaks, so that `from..` it fits. A heading of a group keeps its first row, a sum the row before it,
/// and no row stands alone where there is another place to break.
pub(super) fn break_before(
    kinds: &[RowKind],
    heights: &[Um],
    from: usize,
    left: Um,
    carried: Um,
) -> usize {
    let fit = |mut used: Um| {
        let fits = |height: &&Um| {
            used += **height;
            used <= left
        };
        from + heights.iter().skip(from).take_while(fits).count()
    };
    if fit(0) >= kinds.len() {
        return kinds.len();
    }
    let most = fit(carried);
    // A row that fits nowhere is where it must.
    let most = most.max(from + 1).min(kinds.len());
    let together = |at: usize| {
        let heads = at > 0 && matches!(kinds.get(at - 1), Some(RowKind::Group(_)));
        let sums = matches!(kinds.get(at), Some(RowKind::Subtotal(_) | RowKind::Total));
        heads || sums
    };
    let two_lines = |range: Range<usize>| {
        let rows = kinds.get(range).unwrap_or_default().iter();
        rows.filter(|k| **k == RowKind::Line).take(2).count() == 2
    };
    let candidates = || (from + 1..=most).rev().filter(|at| !together(*at));
    let good = |at: &usize| two_lines(from..*at) && two_lines(*at..kinds.len());
    candidates()
        .find(good)
        .or_else(|| candidates().next())
        .unwrap_or(most)
}

#[cfg(test)]
mod tests {
    use super::*;
    use RowKind::{Group, Line, Subtotal, Total};

    #[test]
    fn pages_break_where_nothing_is_left_alone() {
        let kinds = [
            Group(0),
            Line,
            Line,
            Subtotal(0),
            Group(0),
            Line,
            Line,
            Subtotal(0),
            Total,
        ];
        let heights = [10; 9];
        // Everything fits.
        assert_eq!(break_before(&kinds, &heights, 0, 90, 10), 9);
        // Not behind the heading of the second group, and not before its sum.
        assert_eq!(break_before(&kinds, &heights, 0, 60, 10), 4);
        assert_eq!(break_before(&kinds, &heights, 0, 85, 10), 4);
        assert_eq!(break_before(&kinds, &heights, 0, 50, 10), 4);
        assert_eq!(break_before(&kinds, &heights, 0, 40, 10), 2);
        // Where nothing else helps, a row moves.
        assert_eq!(break_before(&kinds, &heights, 0, 5, 10), 1);
        let plain = [Line; 10];
        assert_eq!(break_before(&plain, &heights_of(10), 0, 95, 0), 8);
        assert_eq!(break_before(&plain, &heights_of(10), 0, 50, 10), 4);
    }

    fn heights_of(n: usize) -> Vec<Um> {
        vec![10; n]
    }
}
