//! From the linear program to whole patterns: take what it uses most, work it out again for what is left, and so on.

#![expect(
    clippy::as_conversions,
    reason = "floats only suggest prices here; what is believed is proved in whole numbers"
)]

use super::fill;
use super::master::{penalty, scale};
use super::pattern::{Cut, Pattern};
use super::simplex::{Column, Simplex};
use super::tables::Tables;
use super::task::Task;
use std::collections::HashSet;

/// A stream of numbers from a seed; the same on every machine.
#[derive(Debug, Clone)]
pub(super) struct Seeded(u64);

impl Seeded {
    pub(super) fn new(seed: u64) -> Seeded {
        Seeded(seed.wrapping_mul(0x9E37_79B9_7F4A_7C15) ^ 0x5DEE_CE66_D1CE_4E5B)
    }

    /// A number below `n`.
    pub(super) fn below(&mut self, n: usize) -> usize {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        crate::ids::length((z ^ (z >> 31)) % crate::ids::long(n.max(1)))
    }
}

/// What is still to be cut, and the stock that is still there.
#[derive(Debug, Clone)]
pub(super) struct Left {
    pub(super) need: Vec<u32>,
    pub(super) stock: Vec<Option<u32>>,
}

impl Left {
    pub(super) fn all(task: &Task) -> Left {
        Left {
            need: task.parts.iter().map(|p| p.need).collect(),
            stock: task.stocks.iter().map(|s| s.available).collect(),
        }
    }

    pub(super) fn done(&self) -> bool {
        self.need.iter().all(|&n| n == 0)
    }

    /// How often a pattern can be cut without making more than is needed.
    fn times(&self, pattern: &Pattern) -> u32 {
        let parts = pattern
            .counts()
            .iter()
            .map(|&(p, n)| self.need[p] / n)
            .min()
            .unwrap_or(0);
        parts.min(self.stock[pattern.stock].unwrap_or(u32::MAX))
    }

    pub(super) fn take(&mut self, pattern: &Pattern, times: u32) {
        for (p, n) in pattern.counts() {
            self.need[p] -= n * times;
        }
        if let Some(n) = &mut self.stock[pattern.stock] {
            *n -= times;
        }
    }
}

/// The program over a pool of patterns for what is left.
struct Node<'a> {
    task: &'a Task,
    left: &'a Left,
    lp: Simplex,
    own: usize,
    pool: Vec<Pattern>,
    seen: HashSet<Pattern>,
    /// Row of each part that is still needed.
    rows: Vec<Option<usize>>,
    /// Row of each stock of which there are only so many.
    limited: Vec<Option<usize>>,
}

impl<'a> Node<'a> {
    fn new(task: &'a Task, left: &'a Left) -> Node<'a> {
        let mut next = 0;
        let mut row = |there: bool| {
            next += usize::from(there);
            there.then(|| next - 1)
        };
        let rows: Vec<Option<usize>> = left.need.iter().map(|&n| row(n > 0)).collect();
        let limited: Vec<Option<usize>> = left
            .stock
            .iter()
            .map(|s| row(s.is_some_and(|s| s > 0)))
            .collect();
        let positive = |n: u32| (n > 0).then_some(f64::from(n));
        let needs: Vec<f64> = left.need.iter().filter_map(|&n| positive(n)).collect();
        let limit: Vec<f64> = left
            .stock
            .iter()
            .flatten()
            .filter_map(|&n| positive(n))
            .collect();
        let lp = Simplex::new(&needs, &limit, penalty(task));
        Node {
            task,
            left,
            own: lp.own(needs.len()),
            lp,
            pool: Vec::new(),
            seen: HashSet::new(),
            rows,
            limited,
        }
    }

    fn add(&mut self, mut pattern: Pattern) -> bool {
        if self.left.stock[pattern.stock] == Some(0) {
            return false;
        }
        pattern.keep_only(&self.left.need);
        if pattern.sections.is_empty() || !self.seen.insert(pattern.clone()) {
            return false;
        }
        let mut rows: Vec<(usize, f64)> = (pattern.counts().iter())
            .filter_map(|&(p, n)| Some((self.rows[p]?, f64::from(n))))
            .collect();
        rows.extend(self.limited[pattern.stock].map(|row| (row, 1.0)));
        self.lp.add(Column {
            cost: self.task.stocks[pattern.stock].cost as f64,
            rows,
        });
        self.pool.push(pattern);
        true
    }

    /// Prices once and adds patterns that would improve the cost; whether there were any.
    fn price(&mut self) -> bool {
        let duals = self.lp.prices();
        let scale = scale(self.task) as f64;
        let prices: Vec<i64> = (self.rows.iter())
            .map(|row| row.map_or(0, |row| (duals[row].max(0.0) * scale) as i64))
            .collect();
        let task = self.task;
        let mut found = Vec::new();
        for way in &task.ways {
            let tables = Tables::new(way, &prices);
            for s in 0..task.stocks.len() {
                if self.left.stock[s] == Some(0) {
                    continue;
                }
                let rent = self.limited[s].map_or(0.0, |row| duals[row].min(0.0));
                let cost = (task.stocks[s].cost as f64 - rent) * scale;
                let good = |v: i64| v as f64 > cost + 1e-6 * (scale + cost);
                if good(tables.value(s)) {
                    let rough = tables.pattern(s);
                    let pattern = fill::refill(task, &rough, &self.left.need, &prices);
                    let value: i64 = pattern.pieces().map(|p| prices[p.part]).sum();
                    if good(value) {
                        found.push(pattern);
                    }
                }
            }
        }
        let mut any = false;
        for pattern in found {
            any |= self.add(pattern);
        }
        any
    }
}

/// How a dive goes.
#[derive(Debug, Clone, Copy)]
pub(super) struct Style {
    /// Rounds of pricing at each step.
    pub(super) pricing: usize,
    /// Whether to choose by chance among what is used most.
    pub(super) by_chance: bool,
    /// Give up when the cost comes to more than this.
    pub(super) most: i64,
}

/// A plan for what is left, or `None` when it costs too much, some part finds no place, or `go_on` says no.
pub(super) fn dive(
    task: &Task,
    (start, pool): (&Left, &[Pattern]),
    style: Style,
    random: &mut Seeded,
    go_on: &(dyn Fn() -> bool + Sync),
) -> Option<Vec<Cut>> {
    let mut left = start.clone();
    let mut cuts: Vec<Cut> = Vec::new();
    let mut pool: Vec<Pattern> = pool.to_vec();
    let mut spent = 0;
    while !left.done() {
        let now = left.clone();
        let mut node = Node::new(task, &now);
        for pattern in pool.drain(..) {
            node.add(pattern);
        }
        node.lp.solve(20_000);
        for _ in 0..style.pricing {
            if !go_on() {
                return None;
            }
            if !node.price() {
                break;
            }
            node.lp.solve(20_000);
        }
        if spent as f64 + node.lp.cost() > style.most as f64 + 0.001 {
            return None;
        }
        let shares: Vec<(usize, f64)> = (node.lp.shares().into_iter())
            .filter(|s| s.0 >= node.own)
            .map(|(c, x)| (c - node.own, x))
            .collect();
        let chosen = choose(&shares, style, random);
        if chosen.is_empty() {
            return None;
        }
        let mut any = false;
        for (c, x) in chosen {
            let pattern = &node.pool[c];
            let times = left.times(pattern).min((x + 1e-4).floor().max(1.0) as u32);
            if times > 0 {
                left.take(pattern, times);
                spent += task.stocks[pattern.stock].cost * i64::from(times);
                cuts.push(Cut {
                    pattern: pattern.clone(),
                    times,
                });
                any = true;
            }
        }
        if !any || spent > style.most {
            return None;
        }
        pool = node.pool;
    }
    Some(cuts)
}

/// Columns to take now, the most used first: all that are used at least once, or else the one that is used most.
fn choose(shares: &[(usize, f64)], style: Style, random: &mut Seeded) -> Vec<(usize, f64)> {
    let mut list = shares.to_vec();
    list.sort_by(|a, b| b.1.total_cmp(&a.1).then(a.0.cmp(&b.0)));
    let whole: Vec<(usize, f64)> = list.iter().copied().filter(|s| s.1 >= 0.98).collect();
    if !whole.is_empty() {
        return whole;
    }
    let among = if style.by_chance {
        list.len().min(3)
    } else {
        1
    };
    if list.is_empty() {
        return Vec::new();
    }
    vec![list[random.below(among)]]
}
