//! One thickness of a problem, ready for the solver.

use super::model::{Goods, Problem, Rules};

/// A part of the task.
#[derive(Debug, Clone)]
pub(super) struct TaskPart {
    /// Index in the problem.
    pub(super) index: usize,
    /// Length in units.
    pub(super) length: i64,
    /// Width in units.
    pub(super) width: i64,
    /// How many are needed.
    pub(super) need: u32,
}

/// A stock of the task.
#[derive(Debug, Clone)]
pub(super) struct TaskStock {
    /// Index in the problem.
    pub(super) index: usize,
    /// Lengths of its clear runs.
    pub(super) runs: Vec<i64>,
    /// Clear width.
    pub(super) width: i64,
    /// Cost of one.
    pub(super) cost: i64,
    /// How many there are at most.
    pub(super) available: Option<u32>,
}

/// Parts of one thickness and the stock they can be cut from.
#[derive(Debug, Clone)]
pub(super) struct Task {
    /// Parts.
    pub(super) parts: Vec<TaskPart>,
    /// Stock.
    pub(super) stocks: Vec<TaskStock>,
    /// Ways of making the first cuts.
    pub(super) ways: Vec<Way>,
}

/// A part laid one way round.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Item {
    /// Size along the strip.
    pub(super) len: usize,
    /// Size across the strip.
    pub(super) wid: usize,
    /// Index of the part in the task.
    pub(super) part: usize,
    /// Whether it is turned against the stock.
    pub(super) turned: bool,
}

/// All sizes seen along one direction of the first cuts.
#[derive(Debug, Clone)]
pub(super) struct Way {
    /// See [`super::pattern::Pattern::along`].
    pub(super) along: bool,
    /// Stages of cuts.
    pub(super) stages: u8,
    /// Kerf between sections and between pieces.
    pub(super) kerf_len: usize,
    /// Kerf between strips.
    pub(super) kerf_wid: usize,
    /// Least strip that can be snapped off.
    pub(super) least: usize,
    /// Parts as they can lie, the longest first.
    pub(super) items: Vec<Item>,
    /// Widths a strip may have, ascending.
    pub(super) levels: Vec<usize>,
    /// Of each stock: index into `widths`, and lengths of its runs.
    pub(super) stocks: Vec<(usize, Vec<usize>)>,
    /// Different widths of stock, ascending.
    pub(super) widths: Vec<usize>,
    /// Longest run.
    pub(super) longest: usize,
}

impl Way {
    /// Whether an item may lie in a strip of this width: as wide, or narrower by no less than the least strip.
    pub(super) fn fits(&self, item: &Item, level: usize) -> bool {
        item.wid == level || item.wid + self.least.max(1) <= level
    }

    fn new(rules: &Rules, parts: &[TaskPart], stocks: &[TaskStock], along: bool) -> Way {
        let size = crate::ids::size;
        let mut items = Vec::new();
        for (part, p) in parts.iter().enumerate() {
            let lying = [(p.length, p.width, false), (p.width, p.length, true)];
            let ways = if rules.turn && p.length != p.width {
                2
            } else {
                1
            };
            for &(l, w, turned) in &lying[..ways] {
                let (len, wid) = if along { (w, l) } else { (l, w) };
                items.push(Item {
                    len: size(len),
                    wid: size(wid),
                    part,
                    turned,
                });
            }
        }
        let seen = |s: &TaskStock| -> (usize, Vec<usize>) {
            if along {
                let run = s.runs.first().copied().unwrap_or(0);
                (size(run), vec![size(s.width)])
            } else {
                (size(s.width), s.runs.iter().map(|&r| size(r)).collect())
            }
        };
        let seen: Vec<(usize, Vec<usize>)> = stocks.iter().map(seen).collect();
        let mut widths: Vec<usize> = seen.iter().map(|s| s.0).collect();
        widths.sort_unstable();
        widths.dedup();
        let longest = seen
            .iter()
            .flat_map(|s| s.1.iter().copied())
            .max()
            .unwrap_or(0);
        let widest = widths.last().copied().unwrap_or(0);
        items.retain(|i: &Item| i.len <= longest && i.wid <= widest);
        items.sort_by_key(|i| (std::cmp::Reverse(i.len), i.wid, i.part, i.turned));
        let least = size(rules.least);
        let mut levels: Vec<usize> = items.iter().map(|i| i.wid).collect();
        if least > 0 {
            levels.extend(items.iter().map(|i| i.wid + least));
        }
        levels.retain(|&u| u <= widest);
        levels.sort_unstable();
        levels.dedup();
        let (kerf_len, kerf_wid) = if along {
            (size(rules.rip), size(rules.crosscut))
        } else {
            (size(rules.crosscut), size(rules.rip))
        };
        let stocks = seen
            .into_iter()
            .map(|(w, runs)| (widths.partition_point(|&x| x < w), runs))
            .collect();
        Way {
            along,
            stages: rules.stages,
            kerf_len,
            kerf_wid,
            least,
            items,
            levels,
            stocks,
            widths,
            longest,
        }
    }
}

/// The tasks of a problem, one for each thickness that has parts, in order of thickness.
pub(super) fn tasks(problem: &Problem) -> Vec<Task> {
    let mut thick: Vec<i64> = problem.parts.iter().map(|p| p.thick).collect();
    thick.sort_unstable();
    thick.dedup();
    thick.into_iter().map(|t| task(problem, t)).collect()
}

fn task(problem: &Problem, thick: i64) -> Task {
    let rules = problem.rules;
    let parts: Vec<TaskPart> = (problem.parts.iter().enumerate())
        .filter(|(_, p)| p.thick == thick && p.count > 0)
        .map(|(index, p)| TaskPart {
            index,
            length: p.length,
            width: p.width,
            need: p.count,
        })
        .collect();
    let stocks: Vec<TaskStock> = (problem.stocks.iter().enumerate())
        .filter(|(_, s)| s.thick == thick && s.available != Some(0))
        .map(|(index, s)| TaskStock {
            index,
            runs: s.runs(rules.crosscut).iter().map(|r| r.length).collect(),
            width: s.clear_width(rules.goods),
            cost: s.cost,
            available: s.available,
        })
        .collect();
    let both: &[bool] = match rules.goods {
        Goods::Glass => &[false, true],
        Goods::Linear | Goods::Boards => &[false],
    };
    let ways = both
        .iter()
        .map(|&along| Way::new(&rules, &parts, &stocks, along))
        .collect();
    Task {
        parts,
        stocks,
        ways,
    }
}
