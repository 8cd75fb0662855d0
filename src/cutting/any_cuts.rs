//! The most that one sheet yields by cuts from edge to edge in any number of stages: a plain dynamic program over sizes, which names nothing
//! of the solver.
//!
//! Sizes count one kerf, so that two pieces and the kerf between them take the sum of their sizes. A cut may as well be made where pieces
//! laid side by side end (N. Christofides and C. Whitlock, "An algorithm for two-dimensional cutting problems", Operations Research 25,
//! 1977), so only such sizes are looked at, and only one of a cut and its mirror image.

/// Most sizes looked at, and most cuts tried.
const MOST_SIZES: usize = 1 << 22;
const MOST_CUTS: u64 = 1 << 32;

/// A pane as it lies: size along, size across, value; sizes with one kerf.
pub(super) type Lying = (usize, usize, i64);

/// The most that a sheet of this size, with one kerf, yields; `None` where there are too many sizes to look at.
pub(super) fn most((long, wide): (usize, usize), panes: &[Lying]) -> Option<i64> {
    let columns = Ends::new(long, panes.iter().map(|p| p.0));
    let rows = Ends::new(wide, panes.iter().map(|p| p.1));
    let (n, m) = (columns.ends.len(), rows.ends.len());
    let sizes = n.checked_mul(m).filter(|&s| s <= MOST_SIZES)?;
    if crate::ids::long(sizes) * crate::ids::long(n + m) / 4 > MOST_CUTS {
        return None;
    }
    let mut value = vec![0i64; sizes];
    for (a, &x) in columns.ends.iter().enumerate() {
        for (b, &y) in rows.ends.iter().enumerate() {
            let fits = panes.iter().filter(|p| p.0 <= x && p.1 <= y);
            let mut high = fits.map(|p| p.2).max().unwrap_or(0);
            for c in columns.halves(x) {
                let rest = columns.below[x - columns.ends[c]];
                high = high.max(value[c * m + b] + value[rest * m + b]);
            }
            for c in rows.halves(y) {
                let rest = rows.below[y - rows.ends[c]];
                high = high.max(value[a * m + c] + value[a * m + rest]);
            }
            value[a * m + b] = high;
        }
    }
    value.last().copied()
}

/// Where pieces laid side by side can end.
struct Ends {
    /// Ascending, from 0 to the last within the whole.
    ends: Vec<usize>,
    /// Of each size, the place of the last end within it.
    below: Vec<usize>,
}

impl Ends {
    fn new(whole: usize, pieces: impl Iterator<Item = usize>) -> Ends {
        let pieces: Vec<usize> = pieces.filter(|&p| p > 0).collect();
        let mut ends = vec![0];
        let mut is_end = vec![false; whole + 1];
        let mut below = vec![0; whole + 1];
        is_end[0] = true;
        for x in 1..=whole {
            is_end[x] = pieces.iter().any(|&p| p <= x && is_end[x - p]);
            if is_end[x] {
                ends.push(x);
            }
            below[x] = ends.len() - 1;
        }
        Ends { ends, below }
    }

    /// Places of the ends up to half a size, without 0.
    fn halves(&self, size: usize) -> std::ops::RangeInclusive<usize> {
        1..=self.below[size / 2]
    }
}

#[cfg(test)]
mod tests {
    use super::most;

    #[test]
    fn yields_by_hand() {
        // Two of 4 x 6 beside one of 2 x 6, and nothing left of 10 x 6.
        let panes = [(4, 6, 24), (2, 6, 12)];
        assert_eq!(most((10, 6), &panes), Some(60));
        // A sheet 9 x 6 holds four panes of 2 x 6 and a strip of no use.
        assert_eq!(most((9, 6), &panes), Some(48));
        assert_eq!(most((1, 6), &panes), Some(0));
        // Four panes of 3 x 2 around a square of 1 cannot be cut from edge to edge out of 5 x 5; two rows of one, or three panes across, can.
        assert_eq!(most((5, 5), &[(3, 2, 6), (2, 3, 6)]), Some(18));
        assert_eq!(most((1 << 16, 1 << 16), &[(1, 1, 1)]), None);
    }
}
