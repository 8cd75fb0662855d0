//! Patterns that hold no more of a part than is still needed: by value, strip after strip. Good, not proved best; the bound does not rest
//! on them.

use super::pattern::{Pattern, Piece, Section, Strip};
use super::task::{Item, Task, Way};

/// The best fill of a strip with counts limited, for every size, as items are added one after another.
struct Limited<'a> {
    items: Vec<&'a Item>,
    kerf: usize,
    /// After so many items: the best value at each size, and how many of the last item it holds.
    layers: Vec<Vec<(i64, u32)>>,
}

impl<'a> Limited<'a> {
    fn new(
        items: Vec<&'a Item>,
        kerf: usize,
        size: usize,
        least: usize,
        left: &[u32],
        values: &[i64],
    ) -> Self {
        let none = i64::MIN / 4;
        let mut last = vec![(if least > 0 { none } else { 0 }, 0); size + kerf + 1];
        last[0].0 = 0;
        let mut layers = Vec::with_capacity(items.len() + 1);
        layers.push(last);
        for item in &items {
            let before: &Vec<(i64, u32)> = &layers[layers.len() - 1];
            let step = item.len + kerf;
            let value = values[item.part];
            let mut now: Vec<(i64, u32)> = before.iter().map(|b| (b.0, 0)).collect();
            if value > 0 {
                for x in step..now.len() {
                    let most = crate::ids::at(left[item.part]).min(x / step);
                    for n in 1..=most {
                        let with = before[x - n * step].0 + value * crate::ids::count(n);
                        if with > now[x].0 {
                            now[x] = (with, crate::ids::row(n));
                        }
                    }
                }
            }
            layers.push(now);
        }
        Limited {
            items,
            kerf,
            layers,
        }
    }

    /// The best value with the first `count` items, and the shifted size that has it.
    fn best(&self, count: usize, least: usize) -> (i64, usize) {
        let layer = &self.layers[count];
        let end = layer.len() - 1;
        if least == 0 {
            return (layer[end].0, end);
        }
        (0..=end)
            .filter(|y| end - y <= self.kerf || end - y >= self.kerf + least)
            .map(|y| (layer[y].0, y))
            .max()
            .unwrap_or((0, 0))
    }

    fn pieces(&self, count: usize, mut x: usize) -> Vec<Piece> {
        let mut pieces = Vec::new();
        for i in (0..count).rev() {
            let n = self.layers[i + 1][x].1;
            let item = self.items[i];
            for _ in 0..n {
                pieces.push(Piece {
                    part: item.part,
                    turned: item.turned,
                });
            }
            x -= crate::ids::at(n) * (item.len + self.kerf);
        }
        pieces
    }
}

/// A strip of this level and size with the most value.
fn strip(way: &Way, level: usize, size: usize, left: &[u32], values: &[i64]) -> (i64, Strip) {
    let items = way
        .items
        .iter()
        .filter(|i| left[i.part] > 0 && way.fits(i, level))
        .collect();
    let limited = Limited::new(items, way.kerf_len, size, way.least, left, values);
    let count = limited.items.len();
    let (_, at) = limited.best(count, way.least);
    let mut pieces = limited.pieces(count, at);
    // A part that may lie both ways is limited each way; both ways together may hold too many.
    let mut room = left.to_vec();
    pieces.retain(|p| {
        let fits = room[p.part] > 0;
        room[p.part] -= u32::from(fits);
        fits
    });
    let value = pieces.iter().map(|p| values[p.part]).sum();
    let strip = Strip {
        width: crate::ids::count(level),
        pieces,
    };
    (value, strip)
}

/// Values of strips by level.
fn by_level(
    way: &Way,
    widest: usize,
    size: usize,
    left: &[u32],
    values: &[i64],
) -> Vec<(usize, i64)> {
    let levels = way.levels.iter().copied().filter(|&l| l <= widest);
    if way.least > 0 {
        return levels
            .map(|l| (l, strip(way, l, size, left, values).0))
            .collect();
    }
    let mut items: Vec<&Item> = way
        .items
        .iter()
        .filter(|i| left[i.part] > 0 && i.wid <= widest)
        .collect();
    items.sort_by_key(|i| i.wid);
    let limited = Limited::new(items, way.kerf_len, size, 0, left, values);
    levels
        .map(|l| {
            let count = limited.items.partition_point(|i| i.wid <= l);
            (l, limited.best(count, 0).0)
        })
        .collect()
}

/// The widest strip of the best mix of strips for this width; the mix may use a part more often than there is need.
fn next_strip(way: &Way, width: usize, size: usize, left: &[u32], values: &[i64]) -> Option<usize> {
    let list = by_level(way, width, size, left, values);
    let none = i64::MIN / 4;
    let mut best = vec![(if way.least > 0 { none } else { 0 }, 0usize); width + way.kerf_wid + 1];
    best[0].0 = 0;
    for &(level, value) in list.iter().filter(|l| l.1 > 0) {
        let step = level + way.kerf_wid;
        for x in step..best.len() {
            let with = best[x - step].0 + value;
            if with > best[x].0 {
                best[x] = (with, level.max(best[x - step].1));
            }
        }
    }
    let end = best.len() - 1;
    let fits = |y: &usize| {
        way.least == 0 || end - y <= way.kerf_wid || end - y >= way.kerf_wid + way.least
    };
    let found = (0..=end)
        .rev()
        .filter(fits)
        .map(|y| best[y])
        .max_by_key(|b| b.0)?;
    (found.0 > 0 && found.1 > 0).then_some(found.1)
}

fn take(strip: &Strip, left: &mut [u32]) {
    for piece in &strip.pieces {
        left[piece.part] -= 1;
    }
}

/// Fills a section: first strips of the widths given, then what else fits beside them.
fn section(
    way: &Way,
    size: usize,
    width: usize,
    levels: &[usize],
    left: &mut [u32],
    values: &[i64],
) -> Vec<Strip> {
    let mut strips = Vec::new();
    let mut room = width + way.kerf_wid;
    let mut wanted = levels.iter().copied();
    loop {
        let level = match wanted.next() {
            Some(level) => level,
            None => {
                if way.stages == 1 && !strips.is_empty() || room <= way.kerf_wid {
                    break;
                }
                match next_strip(way, room - way.kerf_wid, size, left, values) {
                    Some(level) => level,
                    None => break,
                }
            }
        };
        if level + way.kerf_wid > room {
            continue;
        }
        let (value, mut found) = strip(way, level, size, left, values);
        if value <= 0 {
            continue;
        }
        if way.least == 0 {
            let wide = |p: &Piece| {
                way.items
                    .iter()
                    .find(|i| i.part == p.part && i.turned == p.turned)
                    .map_or(0, |i| i.wid)
            };
            found.width = crate::ids::count(found.pieces.iter().map(wide).max().unwrap_or(level));
        }
        take(&found, left);
        room -= crate::ids::size(found.width) + way.kerf_wid;
        strips.push(found);
    }
    strips
}

/// A pattern with the sections and strips of another, filled with what is still needed, and with more where there is room.
pub(super) fn refill(task: &Task, old: &Pattern, left: &[u32], values: &[i64]) -> Pattern {
    let Some(way) = task.ways.iter().find(|w| w.along == old.along) else {
        return old.clone();
    };
    let mut left = left.to_vec();
    let (w, runs) = &way.stocks[old.stock];
    let width = way.widths[*w];
    let mut sections = Vec::new();
    for (run, &length) in runs.iter().enumerate() {
        let mut room = length + way.kerf_len;
        let mut sizes: Vec<(usize, Vec<usize>)> = (old.sections.iter())
            .filter(|s| s.run == run)
            .map(|s| {
                (
                    crate::ids::size(s.size),
                    s.strips.iter().map(|t| crate::ids::size(t.width)).collect(),
                )
            })
            .collect();
        sizes.push((0, Vec::new()));
        for (size, levels) in sizes {
            let rest = size == 0;
            let size = if rest {
                room.saturating_sub(way.kerf_len)
            } else {
                size
            };
            if size == 0 || size + way.kerf_len > room || (rest && way.stages < 3 && room < length)
            {
                continue;
            }
            if way.least > 0 && rest && room < length + way.kerf_len && !levels.is_empty() {
                continue;
            }
            let strips = section(way, size, width, &levels, &mut left, values);
            if strips.is_empty() {
                continue;
            }
            let size = if way.stages == 3 && way.least == 0 {
                used(way, &strips)
            } else {
                size
            };
            room -= size + way.kerf_len;
            sections.push(Section {
                run,
                size: crate::ids::count(size),
                strips,
            });
        }
    }
    Pattern {
        stock: old.stock,
        along: old.along,
        sections,
    }
}

/// Size of the longest strip.
fn used(way: &Way, strips: &[Strip]) -> usize {
    let long = |p: &Piece| {
        way.items
            .iter()
            .find(|i| i.part == p.part && i.turned == p.turned)
            .map_or(0, |i| i.len)
    };
    let strip = |s: &Strip| {
        s.pieces
            .iter()
            .map(|p| long(p) + way.kerf_len)
            .sum::<usize>()
            .saturating_sub(way.kerf_len)
    };
    strips.iter().map(strip).max().unwrap_or(0)
}
