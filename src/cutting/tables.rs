//! The most that can be cut out of each stock when every part has a value: exact, by dynamic programs over strips, sections and runs.
//!
//! Counts are not limited to what is needed, so the result bounds every plan. Sizes are shifted by a kerf, so that `n` pieces take the sum
//! of their lengths and kerfs within the length and one kerf; a leftover no longer than the kerf becomes dust.

use super::pattern::{Pattern, Piece, Section, Strip};
use super::task::{Item, Way};
use rayon::prelude::*;

/// Stands for what cannot be had; sums of a few of them do not overflow.
const NONE: i64 = i64::MIN / 4;

/// Best values over the sizes 0, 1, 2 …
#[derive(Debug, Clone, Default)]
pub(super) struct Line {
    /// With exactly this size used up, or, where any leftover is allowed, at most this size.
    exact: Vec<i64>,
    /// With a leftover that can be taken off; empty where any can.
    best: Vec<i64>,
}

impl Line {
    fn start(size: usize, least: usize) -> Line {
        let mut exact = vec![if least > 0 { NONE } else { 0 }; size + 1];
        exact[0] = 0;
        Line {
            exact,
            best: Vec::new(),
        }
    }

    fn add(&mut self, step: usize, value: i64) {
        if value <= 0 {
            return;
        }
        for x in step..self.exact.len() {
            let with = self.exact[x - step] + value;
            if with > self.exact[x] {
                self.exact[x] = with;
            }
        }
    }

    /// Works out what can be had when the leftover must be dust (up to the kerf) or wide enough to be snapped.
    fn settle(&mut self, kerf: usize, least: usize) {
        if least == 0 {
            return;
        }
        let mut most = Vec::with_capacity(self.exact.len());
        let mut high = 0;
        for &v in &self.exact {
            high = high.max(v);
            most.push(high);
        }
        self.best = (0..self.exact.len())
            .map(|x| {
                let dust = self.exact[x.saturating_sub(kerf)..=x].iter().max();
                let snapped = x.checked_sub(kerf + least).map_or(0, |y| most[y]);
                snapped.max(dust.copied().unwrap_or(0)).max(0)
            })
            .collect();
    }

    pub(super) fn value(&self, x: usize) -> i64 {
        *if self.best.is_empty() {
            &self.exact
        } else {
            &self.best
        }
        .get(x)
        .unwrap_or(&0)
    }

    /// Steps that reach the value at `x`, each an index into `steps`.
    fn trace(&self, mut x: usize, kerf: usize, least: usize, steps: &[(usize, i64)]) -> Vec<usize> {
        let target = self.value(x);
        let mut taken = Vec::new();
        if target <= 0 {
            return taken;
        }
        if !self.best.is_empty() {
            let fits =
                |y: &usize| self.exact[*y] == target && (x - y <= kerf || x - y >= kerf + least);
            match (0..=x).rev().find(fits) {
                Some(y) => x = y,
                None => return taken,
            }
        }
        while self.exact[x] > 0 {
            if self.best.is_empty() && self.exact[x - 1] == self.exact[x] {
                x -= 1;
                continue;
            }
            let step = steps.iter().position(|&(step, value)| {
                value > 0 && step <= x && self.exact[x - step] + value == self.exact[x]
            });
            let Some(i) = step else { break };
            taken.push(i);
            x -= steps[i].0;
        }
        taken
    }
}

/// Values of strips, sections and runs under one set of prices, for one direction of the first cuts.
#[derive(Debug)]
pub(super) struct Tables<'a> {
    way: &'a Way,
    values: &'a [i64],
    /// Of each level.
    strips: Vec<Line>,
    /// Of each width of stock, over the size of a section.
    sections: Vec<Vec<i64>>,
    /// Of each width of stock.
    runs: Vec<Line>,
    /// Of each width of stock: sizes of sections that are worth cutting.
    sizes: Vec<Vec<usize>>,
}

impl<'a> Tables<'a> {
    /// Works out the tables; `values` has one value, not negative, for each part.
    pub(super) fn new(way: &'a Way, values: &'a [i64]) -> Tables<'a> {
        let mut tables = Tables {
            way,
            values,
            strips: strips(way, values),
            sections: Vec::new(),
            runs: Vec::new(),
            sizes: Vec::new(),
        };
        if way.stages > 1 {
            tables.find_sections();
        }
        if way.stages > 2 {
            let found: Vec<(Line, Vec<usize>)> = (0..way.widths.len())
                .into_par_iter()
                .map(|w| tables.find_runs(w))
                .collect();
            (tables.runs, tables.sizes) = found.into_iter().unzip();
        }
        tables
    }

    /// Values of strips that run through a section of this size, by level; those no better than a narrower one are left out.
    fn across(&self, size: usize) -> Vec<(usize, usize, i64)> {
        let way = self.way;
        let mut list = Vec::with_capacity(way.levels.len());
        let mut high = 0;
        for (i, &level) in way.levels.iter().enumerate() {
            let value = self.strips[i].value(size + way.kerf_len);
            if value > high || (way.least > 0 && value > 0) {
                list.push((i, level + way.kerf_wid, value));
                high = high.max(value);
            }
        }
        list
    }

    fn section_line(&self, across: &[(usize, usize, i64)]) -> Line {
        let way = self.way;
        let widest = way.widths.last().copied().unwrap_or(0);
        let mut line = Line::start(widest + way.kerf_wid, way.least);
        for &(_, step, value) in across {
            line.add(step, value);
        }
        line.settle(way.kerf_wid, way.least);
        line
    }

    fn find_sections(&mut self) {
        let way = self.way;
        let mut wanted: Vec<usize> = if way.stages == 2 {
            way.stocks
                .iter()
                .flat_map(|s| s.1.iter().copied())
                .collect()
        } else {
            (1..=way.longest).collect()
        };
        wanted.sort_unstable();
        wanted.dedup();
        if way.stages > 2 && way.least == 0 {
            // Only where some strip becomes better is a new size of section worth a look.
            wanted.retain(|&size| {
                let x = size + way.kerf_len;
                self.strips
                    .iter()
                    .any(|line| line.value(x) > line.value(x - 1))
            });
        }
        let this = &*self;
        let found: Vec<Vec<i64>> = wanted
            .par_iter()
            .map(|&size| {
                let line = this.section_line(&this.across(size));
                way.widths
                    .iter()
                    .map(|&w| line.value(w + way.kerf_wid))
                    .collect()
            })
            .collect();
        self.sections = (0..way.widths.len())
            .map(|w| {
                let mut list = vec![0; way.longest + 1];
                for (&size, values) in wanted.iter().zip(&found) {
                    list[size] = values[w];
                }
                list
            })
            .collect();
    }

    fn find_runs(&self, w: usize) -> (Line, Vec<usize>) {
        let way = self.way;
        let kerf = way.kerf_len;
        let longest = (way.stocks.iter().filter(|s| s.0 == w))
            .flat_map(|s| s.1.iter().copied())
            .max()
            .unwrap_or(0);
        let mut line = Line::start(longest + kerf, way.least);
        let mut sizes: Vec<usize> = Vec::new();
        for x in 1..=longest + kerf {
            let mut high = if way.least > 0 {
                NONE
            } else {
                line.exact[x - 1]
            };
            for &size in &sizes {
                let with = line.exact[x - size - kerf] + self.sections[w][size];
                high = high.max(with);
            }
            if x > kerf && self.sections[w][x - kerf] > high.max(0) {
                high = self.sections[w][x - kerf];
                sizes.push(x - kerf);
            }
            line.exact[x] = high;
        }
        line.settle(kerf, way.least);
        (line, sizes)
    }

    /// The most that one piece of a stock can be worth.
    pub(super) fn value(&self, stock: usize) -> i64 {
        let (w, runs) = &self.way.stocks[stock];
        runs.iter().map(|&run| self.run_value(*w, run)).sum()
    }

    fn run_value(&self, w: usize, run: usize) -> i64 {
        match self.way.stages {
            1 => self
                .strips
                .last()
                .map_or(0, |l| l.value(run + self.way.kerf_len)),
            2 => self.sections[w][run],
            _ => self.runs[w].value(run + self.way.kerf_len),
        }
    }

    /// Sizes of the sections that reach the value of a run.
    pub(super) fn section_sizes(&self, w: usize, run: usize) -> Vec<usize> {
        let way = self.way;
        if way.stages < 3 {
            return vec![run];
        }
        let steps: Vec<(usize, i64)> = (self.sizes[w].iter())
            .map(|&size| (size + way.kerf_len, self.sections[w][size]))
            .collect();
        self.runs[w]
            .trace(run + way.kerf_len, way.kerf_len, way.least, &steps)
            .into_iter()
            .map(|i| self.sizes[w][i])
            .collect()
    }

    /// A pattern of the highest value.
    pub(super) fn pattern(&self, stock: usize) -> Pattern {
        let way = self.way;
        let (w, runs) = &way.stocks[stock];
        let mut sections = Vec::new();
        for (run, &length) in runs.iter().enumerate() {
            for size in self.section_sizes(*w, length) {
                let strips = self.section(size, way.widths[*w]);
                if !strips.is_empty() {
                    sections.push(Section {
                        run,
                        size: crate::ids::count(size),
                        strips,
                    });
                }
            }
        }
        Pattern {
            stock,
            along: way.along,
            sections,
        }
    }

    fn section(&self, size: usize, width: usize) -> Vec<Strip> {
        let way = self.way;
        if way.stages == 1 {
            return vec![self.strip(way.levels.len() - 1, size)];
        }
        let across = self.across(size);
        let line = self.section_line(&across);
        let steps: Vec<(usize, i64)> = across.iter().map(|a| (a.1, a.2)).collect();
        line.trace(width + way.kerf_wid, way.kerf_wid, way.least, &steps)
            .into_iter()
            .map(|i| self.strip(across[i].0, size))
            .collect()
    }

    fn strip(&self, level: usize, size: usize) -> Strip {
        let way = self.way;
        let width = way.levels[level];
        let fitting: Vec<&Item> = way.items.iter().filter(|i| way.fits(i, width)).collect();
        let steps: Vec<(usize, i64)> = (fitting.iter())
            .map(|i| (i.len + way.kerf_len, self.values[i.part]))
            .collect();
        let pieces = self.strips[level]
            .trace(size + way.kerf_len, way.kerf_len, way.least, &steps)
            .into_iter()
            .map(|i| Piece {
                part: fitting[i].part,
                turned: fitting[i].turned,
            })
            .collect();
        Strip {
            width: crate::ids::count(width),
            pieces,
        }
    }
}

/// A line for each level. Levels ascend, and what fits well inside a narrow strip fits in all wider ones.
fn strips(way: &Way, values: &[i64]) -> Vec<Line> {
    let size = way.longest + way.kerf_len;
    let mut inside = Line::start(size, way.least);
    let mut order: Vec<&Item> = way.items.iter().collect();
    order.sort_by_key(|i| i.wid);
    let mut next = 0;
    let mut lines = Vec::with_capacity(way.levels.len());
    for &level in &way.levels {
        while next < order.len() && order[next].wid + way.least.max(1) <= level {
            inside.add(order[next].len + way.kerf_len, values[order[next].part]);
            next += 1;
        }
        let mut line = inside.clone();
        for item in order.iter().filter(|i| i.wid == level) {
            line.add(item.len + way.kerf_len, values[item.part]);
        }
        line.settle(way.kerf_len, way.least);
        lines.push(line);
    }
    lines
}
