//! Column generation: patterns and prices of the linear program over all patterns.

#![expect(
    clippy::as_conversions,
    reason = "floats only suggest prices here; what is believed is proved in whole numbers"
)]

use super::pattern::Pattern;
use super::simplex::{Column, Simplex};
use super::tables::Tables;
use super::task::Task;
use rayon::prelude::*;
use std::collections::HashSet;

/// Rounds of pricing after which the best prices so far must do.
const MOST_ROUNDS: usize = 400;
/// For so many parts one more pattern of each stock is sought in a round, of parts that the others leave out: with hundreds of sizes one
/// pattern at a time does not get far.
const PARTS_A_PATTERN: usize = 100;
/// Steps of the linear program in one round.
const MOST_STEPS: usize = 20_000;

/// What column generation found.
#[derive(Debug, Clone)]
pub(super) struct Master {
    /// Patterns worth combining, none twice.
    pub(super) pool: Vec<Pattern>,
    /// Price of each part in `scale`ths of a unit of cost: the ones with the best bound.
    pub(super) prices: Vec<i64>,
    /// Whether it came to its end.
    pub(super) finished: bool,
}

/// Parts of a unit of cost in which prices are worked out: as fine as 64-bit sums allow.
pub(super) fn scale(task: &Task) -> i64 {
    let dearest = task.stocks.iter().map(|s| s.cost).max().unwrap_or(0).max(1);
    let mut scale = 1;
    while scale < 1 << 36 && dearest * scale * 4 < 1 << 50 {
        scale *= 2;
    }
    scale
}

/// Price of a part that nothing covers, well above what the dearest stock can come to.
pub(super) fn penalty(task: &Task) -> f64 {
    4.0 + 4.0 * task.stocks.iter().map(|s| s.cost).max().unwrap_or(0) as f64
}

/// The bound that prices give, roughly: exact working is left to the proof.
fn rough_bound(task: &Task, need: &[u32], prices: &[i64], values: &[i64], scale: f64) -> f64 {
    let worth: f64 = need
        .iter()
        .zip(prices)
        .map(|(&n, &p)| n as f64 * p as f64)
        .sum();
    let mut over = scale;
    for (s, &v) in task.stocks.iter().zip(values) {
        if s.available.is_none() && s.cost > 0 {
            over = over.max(v as f64 / s.cost as f64);
        }
    }
    let mut less = 0.0;
    for (s, &v) in task.stocks.iter().zip(values) {
        if let Some(n) = s.available {
            less += f64::from(n) * (v as f64 - over * s.cost as f64).max(0.0);
        }
    }
    (worth - less) / over
}

/// Best value of each stock and a pattern that has it, over all ways of cutting.
pub(super) fn best_patterns(
    task: &Task,
    prices: &[i64],
    wanted: impl Fn(usize, i64) -> bool + Sync,
) -> (Vec<i64>, Vec<Pattern>) {
    let tables: Vec<Tables<'_>> = task.ways.iter().map(|w| Tables::new(w, prices)).collect();
    let found: Vec<(i64, Vec<Pattern>)> = (0..task.stocks.len())
        .into_par_iter()
        .map(|s| {
            let values: Vec<i64> = tables.iter().map(|t| t.value(s)).collect();
            let high = values.iter().copied().max().unwrap_or(0);
            let mut list = Vec::new();
            for (t, &v) in tables.iter().zip(&values) {
                if wanted(s, v) {
                    list.push(t.pattern(s));
                }
            }
            (high, list)
        })
        .collect();
    let values = found.iter().map(|f| f.0).collect();
    (values, found.into_iter().flat_map(|f| f.1).collect())
}

/// The row of the linear program that limits each stock; none where there is any number of it.
fn limited(task: &Task) -> Vec<Option<usize>> {
    let mut rows = 0..;
    task.stocks
        .iter()
        .map(|s| s.available.and_then(|_| rows.next()))
        .collect()
}

pub(super) fn generate(task: &Task, need: &[u32], go_on: &(dyn Fn() -> bool + Sync)) -> Master {
    let mut finished = false;
    let limited = limited(task);
    let limit: Vec<f64> = task
        .stocks
        .iter()
        .filter_map(|s| s.available)
        .map(f64::from)
        .collect();
    let needs: Vec<f64> = need.iter().map(|&n| f64::from(n)).collect();
    let mut lp = Simplex::new(&needs, &limit, penalty(task));
    let parts = need.len();
    let scale = scale(task);
    let mut pool: Vec<Pattern> = Vec::new();
    let mut seen: HashSet<Pattern> = HashSet::new();
    let mut best = (f64::NEG_INFINITY, vec![0; parts]);
    for round in 0..MOST_ROUNDS {
        finished = round + 1 == MOST_ROUNDS;
        lp.solve(MOST_STEPS);
        let duals = lp.prices();
        let prices: Vec<i64> = duals[..parts]
            .iter()
            .map(|&p| (p.max(0.0) * scale as f64) as i64)
            .collect();
        let rent: Vec<f64> = limited
            .iter()
            .map(|l| l.map_or(0.0, |i| duals[parts + i].min(0.0)))
            .collect();
        let worth = |s: usize, v: i64| {
            let cost = task.stocks[s].cost as f64 - rent[s];
            v as f64 / scale as f64 > cost + 1e-6 * (1.0 + cost)
        };
        let (values, mut patterns) = best_patterns(task, &prices, worth);
        let mut others = prices.clone();
        let mut from = 0;
        for _ in 0..parts / PARTS_A_PATTERN {
            for piece in patterns[from..].iter().flat_map(Pattern::pieces) {
                others[piece.part] = 0;
            }
            from = patterns.len();
            patterns.extend(best_patterns(task, &others, worth).1);
            if patterns.len() == from {
                break;
            }
        }
        let bound = rough_bound(task, need, &prices, &values, scale as f64);
        if bound > best.0 {
            best = (bound, prices);
        }
        let mut added = false;
        for pattern in patterns {
            if seen.insert(pattern.clone()) {
                let mut rows: Vec<(usize, f64)> = pattern
                    .counts()
                    .iter()
                    .map(|&(p, n)| (p, f64::from(n)))
                    .collect();
                if let Some(i) = limited[pattern.stock] {
                    rows.push((parts + i, 1.0));
                }
                lp.add(Column {
                    cost: task.stocks[pattern.stock].cost as f64,
                    rows,
                });
                pool.push(pattern);
                added = true;
            }
        }
        let cost = lp.cost();
        if !added || best.0 >= cost - 1e-7 * (1.0 + cost) {
            finished = true;
            break;
        }
        if !go_on() {
            break;
        }
    }
    Master {
        pool,
        prices: best.1,
        finished,
    }
}
