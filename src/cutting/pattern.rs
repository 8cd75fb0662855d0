//! A plan: which stock is cut, how often, and into what.

/// A part in its place.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Piece {
    /// Index of the part.
    pub part: usize,
    /// Whether its width lies along the length of the stock.
    pub turned: bool,
}

/// A strip of a section; its pieces lie one after the other.
#[derive(Debug, Clone, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Strip {
    /// Size across the pieces.
    pub width: i64,
    /// Pieces in order.
    pub pieces: Vec<Piece>,
}

/// What the first cuts part: its strips lie side by side.
#[derive(Debug, Clone, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Section {
    /// Index of the clear run it lies in.
    pub run: usize,
    /// Size along the run.
    pub size: i64,
    /// Strips in order.
    pub strips: Vec<Strip>,
}

/// How one piece of stock is cut.
#[derive(Debug, Clone, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Pattern {
    /// Index of the stock.
    pub stock: usize,
    /// Whether sections lie side by side across the width, parted by cuts along the length. Without it they follow one another along the
    /// length.
    pub along: bool,
    /// Sections in order.
    pub sections: Vec<Section>,
}

impl Pattern {
    /// Pieces in order.
    pub fn pieces(&self) -> impl Iterator<Item = Piece> + '_ {
        self.sections
            .iter()
            .flat_map(|s| s.strips.iter())
            .flat_map(|s| s.pieces.iter().copied())
    }

    /// How many of each part, in order of part.
    pub fn counts(&self) -> Vec<(usize, u32)> {
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
    pub fn keep_only(&mut self, left: &[u32]) {
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
pub struct Cut {
    /// How one is cut.
    pub pattern: Pattern,
    /// How many.
    pub times: u32,
}
