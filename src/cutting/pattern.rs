//! A plan: which stock is cut, how often, and into what.

/// A part in its place.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub(super) struct Piece {
    /// Index of the part.
    pub(super) part: usize,
    /// Whether its width lies along the length of the stock.
    pub(super) turned: bool,
}

/// A strip of a section; its pieces lie one after the other.
#[derive(Debug, Clone, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub(super) struct Strip {
    /// Size across the pieces.
    pub(super) width: i64,
    /// Pieces in order.
    pub(super) pieces: Vec<Piece>,
}

/// What the first cuts part: its strips lie side by side.
#[derive(Debug, Clone, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub(super) struct Section {
    /// Index of the clear run it lies in.
    pub(super) run: usize,
    /// Size along the run.
    pub(super) size: i64,
    /// Strips in order.
    pub(super) strips: Vec<Strip>,
}

/// How one piece of stock is cut.
#[derive(Debug, Clone, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub(super) struct Pattern {
    /// Index of the stock.
    pub(super) stock: usize,
    /// Whether sections lie side by side across the width, parted by cuts along the length. Without it they follow one another along the
    /// length.
    pub(super) along: bool,
    /// Sections in order.
    pub(super) sections: Vec<Section>,
}

impl Pattern {
    /// Pieces in order.
    pub(super) fn pieces(&self) -> impl Iterator<Item = Piece> + '_ {
        self.sections
            .iter()
            .flat_map(|s| s.strips.iter())
            .flat_map(|s| s.pieces.iter().copied())
    }

    /// How many of each part, in order of part.
    pub(super) fn counts(&self) -> Vec<(usize, u32)> {
        let mut list: Vec<usize> = self.pieces().map(|p| p.part).collect();
        list.sort_unstable();
        let mut counts: Vec<(usize, u32)> = Vec::new();
        for part in list {
            match counts.last_mut() {
                Some((last, n)) if *last == part => *n += 1,
                _ => counts.push((part, 1)),
            }
        }
        counts
    }

    /// Leaves out pieces that are no longer needed, and strips and sections left empty.
    pub(super) fn keep_only(&mut self, left: &[u32]) {
        let mut room = left.to_vec();
        for section in &mut self.sections {
            for strip in &mut section.strips {
                strip.pieces.retain(|p| {
                    let fits = room[p.part] > 0;
                    if fits {
                        room[p.part] -= 1;
                    }
                    fits
                });
            }
            section.strips.retain(|s| !s.pieces.is_empty());
        }
        self.sections.retain(|s| !s.strips.is_empty());
    }
}

/// A pattern and how many pieces of stock are cut by it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Cut {
    /// How one is cut.
    pub(super) pattern: Pattern,
    /// How many.
    pub(super) times: u32,
}
