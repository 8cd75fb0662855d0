//! Bars of one length, filled one after another so that all waste together stays within what the bound allows. Where the parts leave next
//! to no waste, this finds a plan that a search by prices misses.

use super::pattern::{Cut, Pattern, Piece, Section, Strip};
use super::task::Task;

/// Parts beyond which the search is not tried.
const MOST_PIECES: u32 = 300;
/// Places tried before the search gives up.
const MOST_STEPS: u64 = 3_000_000;

/// A plan of so many bars, if the search finds one.
pub(super) fn complete(task: &Task, bars: i64) -> Option<Vec<Cut>> {
    let way = task.ways.first()?;
    let [(_, runs)] = way.stocks.as_slice() else {
        return None;
    };
    let [run] = runs.as_slice() else {
        return None;
    };
    let pieces: u32 = task.parts.iter().map(|p| p.need).sum();
    if way.stages != 1 || pieces > MOST_PIECES || task.stocks[0].available.is_some() {
        return None;
    }
    let room = run + way.kerf_len;
    let items: Vec<(usize, usize)> = way
        .items
        .iter()
        .map(|i| (i.len + way.kerf_len, i.part))
        .collect();
    let left: Vec<u32> = items.iter().map(|i| task.parts[i.1].need).collect();
    let total: usize = items
        .iter()
        .zip(&left)
        .map(|(i, &n)| i.0 * crate::ids::at(n))
        .sum();
    let slack = (usize::try_from(bars).ok()? * room).checked_sub(total)?;
    let mut search = Search {
        items,
        left,
        pieces,
        room,
        steps: 0,
        bars: vec![Vec::new()],
    };
    if !search.fill(0, room, slack) {
        return None;
    }
    let cut = |pieces: &Vec<usize>| {
        let pieces = pieces
            .iter()
            .map(|&part| Piece {
                part,
                turned: false,
            })
            .collect();
        let strip = Strip {
            width: way.levels.last().map_or(1, |&w| crate::ids::count(w)),
            pieces,
        };
        let section = Section {
            run: 0,
            size: crate::ids::count(*run),
            strips: vec![strip],
        };
        Cut {
            pattern: Pattern {
                stock: 0,
                along: false,
                sections: vec![section],
            },
            times: 1,
        }
    };
    Some(
        search
            .bars
            .iter()
            .filter(|b| !b.is_empty())
            .map(cut)
            .collect(),
    )
}

struct Search {
    /// Length with kerf, and part; the longest first.
    items: Vec<(usize, usize)>,
    left: Vec<u32>,
    pieces: u32,
    room: usize,
    steps: u64,
    bars: Vec<Vec<usize>>,
}

impl Search {
    /// Goes on with the bar in work, from this item on. Each bar begins with the longest part left, which has to lie somewhere.
    fn fill(&mut self, from: usize, room: usize, slack: usize) -> bool {
        if self.pieces == 0 {
            return true;
        }
        let empty = room == self.room;
        for i in from..self.items.len() {
            let (step, part) = self.items[i];
            if self.left[i] == 0 || step > room {
                continue;
            }
            self.steps += 1;
            if self.steps > MOST_STEPS {
                return false;
            }
            self.left[i] -= 1;
            self.pieces -= 1;
            self.put(Some(part));
            if self.fill(i, room - step, slack) {
                return true;
            }
            self.put(None);
            self.left[i] += 1;
            self.pieces += 1;
            if empty {
                return false;
            }
        }
        if empty || room > slack {
            return false;
        }
        self.bars.push(Vec::new());
        if self.fill(0, self.room, slack - room) {
            return true;
        }
        self.bars.pop();
        false
    }

    fn put(&mut self, part: Option<usize>) {
        if let Some(bar) = self.bars.last_mut() {
            match part {
                Some(part) => bar.push(part),
                None => {
                    bar.pop();
                }
            }
        }
    }
}
