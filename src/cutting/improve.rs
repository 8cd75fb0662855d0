//! Seeded search around a plan: some of its stock is cut anew, and what is no worse is kept. It stops by rounds.

use super::dive::{Left, Seeded, Style, dive};
use super::pattern::{Cut, Pattern};
use super::task::Task;
use super::tighten::tighten;
use rayon::prelude::*;
use std::collections::{HashMap, HashSet};

/// Tries that are made side by side in one round; the same for any number of threads.
const TRIES: u64 = 8;
/// Pieces of stock cut anew in one try, at most.
const MOST_ANEW: usize = 14;
/// Rounds in which a plan is sought that costs no more and has fewer patterns, or larger offcuts.
const SETTLING: u64 = 6;
/// Patterns of the pool, and of earlier gains, that a try begins with.
const FROM_POOL: usize = 300;
const FROM_GAINS: usize = 200;

/// Whether a plan is so near the bound, within a thousandth, that no further search is worth its time.
pub(super) fn near(cost: i64, bound: i64) -> bool {
    cost - bound <= bound / 1000
}

/// What the plan costs.
pub(super) fn cost(task: &Task, cuts: &[Cut]) -> i64 {
    cuts.iter()
        .map(|c| task.stocks[c.pattern.stock].cost * i64::from(c.times))
        .sum()
}

/// Part of the stock that the parts take up, in thousandths.
fn filled(task: &Task, pattern: &Pattern) -> i64 {
    let stock = &task.stocks[pattern.stock];
    let area: i64 = pattern
        .pieces()
        .map(|p| task.parts[p.part].length * task.parts[p.part].width)
        .sum();
    area * 1000 / (stock.runs.iter().sum::<i64>() * stock.width).max(1)
}

/// Sum of squares of what is filled: higher where the waste gathers on few pieces, in larger offcuts.
fn gathered<'a>(task: &Task, list: impl Iterator<Item = &'a Pattern>) -> i64 {
    list.map(|p| filled(task, p).pow(2)).sum()
}

/// How good a plan is; less is better: cost, different patterns, waste that is spread.
type Rank = (i64, usize, i64);

/// What the search works with.
pub(super) struct Search<'a> {
    pub(super) task: &'a Task,
    pub(super) pool: &'a [Pattern],
    pub(super) bound: i64,
    pub(super) seed: u64,
}

/// Which pieces of stock are cut anew first.
#[derive(Clone, Copy, PartialEq, Eq)]
enum First {
    /// Those with the most waste.
    Empty,
    /// Those whose pattern is cut the least often.
    Rare,
}

/// Pieces of stock taken out of a plan, by index, and what takes their place.
type Swap = (Vec<usize>, Vec<Pattern>);

impl Search<'_> {
    fn rank(&self, plan: &[Pattern]) -> Rank {
        let different: HashSet<&Pattern> = plan.iter().collect();
        let cost = plan.iter().map(|p| self.task.stocks[p.stock].cost).sum();
        (cost, different.len(), -gathered(self.task, plan.iter()))
    }

    /// What a swap saves, and by how much it gathers the waste.
    fn gain(&self, plan: &[Pattern], swap: &Swap) -> (i64, i64) {
        let cost = |p: &Pattern| self.task.stocks[p.stock].cost;
        let old = || swap.0.iter().map(|&i| &plan[i]);
        let saved = old().map(cost).sum::<i64>() - swap.1.iter().map(cost).sum::<i64>();
        (
            saved,
            gathered(self.task, swap.1.iter()) - gathered(self.task, old()),
        )
    }

    /// Searches for so many rounds, or until the plan costs no more than the bound or `go_on` says no. The plan, and whether it came to its end.
    pub(super) fn run(
        &mut self,
        cuts: Vec<Cut>,
        rounds: u64,
        go_on: &dyn Fn(u64) -> bool,
    ) -> (Vec<Cut>, bool) {
        let mut plan: Vec<Pattern> = (cuts.into_iter())
            .flat_map(|c| std::iter::repeat_n(order(self.task, c.pattern), crate::ids::at(c.times)))
            .collect();
        let mut best = (self.rank(&plan), plan.clone());
        let mut gains: Vec<Pattern> = Vec::new();
        let mut ended = true;
        for round in 0..rounds {
            if near(best.0.0, self.bound) {
                break;
            }
            if !go_on(round) {
                ended = false;
                break;
            }
            let found: Vec<Option<Swap>> = (0..TRIES)
                .into_par_iter()
                .map(|t| self.attempt(&plan, &gains, First::Empty, round * TRIES + t))
                .collect();
            let swap = found
                .into_iter()
                .flatten()
                .max_by_key(|s| self.gain(&plan, s));
            let Some(swap) = swap.filter(|s| self.gain(&plan, s) > (0, 0)) else {
                continue;
            };
            gains.extend(swap.1.iter().cloned());
            plan = swapped(&plan, &swap);
            let rank = self.rank(&plan);
            if rank < best.0 {
                best = (rank, plan.clone());
            }
        }
        let (mut rank, mut plan) = best;
        for round in 0..SETTLING.min(rounds) {
            if !ended || !go_on(rounds) {
                ended = false;
                break;
            }
            let found: Vec<Option<Swap>> = (0..TRIES)
                .into_par_iter()
                .map(|t| {
                    let number = (rounds + round) * TRIES + t;
                    self.attempt(&plan, &gains, First::Rare, number)
                })
                .collect();
            let plans = found.iter().flatten().map(|s| swapped(&plan, s));
            let ranked = plans.map(|p| (self.rank(&p), p)).min_by_key(|p| p.0);
            if let Some(better) = ranked.filter(|p| p.0 < rank) {
                (rank, plan) = better;
            }
        }
        (gather(plan), ended)
    }

    /// Takes some pieces of stock out of the plan and cuts their parts anew, for no more than they cost.
    fn attempt(
        &self,
        plan: &[Pattern],
        gains: &[Pattern],
        first: First,
        number: u64,
    ) -> Option<Swap> {
        let task = self.task;
        let mut random = Seeded::new(self.seed.wrapping_add(17 + number));
        let most = plan.len().min(MOST_ANEW);
        let count = (3 + random.below(most.saturating_sub(2).max(1))).min(plan.len());
        let mut times: HashMap<&Pattern, i64> = HashMap::new();
        if first == First::Rare {
            plan.iter().for_each(|p| *times.entry(p).or_default() += 1);
        }
        let rate = |p: &Pattern| match first {
            First::Empty => filled(task, p),
            First::Rare => 200 * times.get(p).copied().unwrap_or(0),
        };
        let mut order: Vec<(i64, usize)> = (0..plan.len())
            .map(|i| (rate(&plan[i]) + crate::ids::count(random.below(400)), i))
            .collect();
        order.sort_unstable();
        let mut out: Vec<usize> = order[..count].iter().map(|o| o.1).collect();
        out.sort_unstable();
        let mut left = Left::all(task);
        for (i, pattern) in plan.iter().enumerate() {
            if out.binary_search(&i).is_err() {
                left.take(pattern, 1);
            }
        }
        let spent: i64 = out.iter().map(|&i| task.stocks[plan[i].stock].cost).sum();
        let mut near: Vec<Pattern> = out.iter().map(|&i| plan[i].clone()).collect();
        near.extend(gains.iter().rev().take(FROM_GAINS).cloned());
        let from = FROM_POOL.min(self.pool.len());
        near.extend((0..from).map(|_| self.pool[random.below(self.pool.len())].clone()));
        let style = Style {
            pricing: 6,
            by_chance: random.below(3) > 0,
            most: spent,
        };
        let cuts = dive(task, (&left, &near), style, &mut random, &|| true)?;
        let new = (cuts.into_iter())
            .flat_map(|c| {
                std::iter::repeat_n(self::order(task, c.pattern), crate::ids::at(c.times))
            })
            .collect();
        Some((out, new))
    }
}

/// A plan with a swap made.
fn swapped(plan: &[Pattern], (out, new): &Swap) -> Vec<Pattern> {
    let kept = (0..plan.len()).filter(|i| out.binary_search(i).is_err());
    kept.map(|i| &plan[i]).chain(new).cloned().collect()
}

/// The same pattern, as tight as its parts allow, with its sections, strips and pieces in one order, the largest first, so that equal patterns are seen to be equal.
fn order(task: &Task, mut pattern: Pattern) -> Pattern {
    tighten(task, &mut pattern);
    let area = |part: usize| task.parts[part].length * task.parts[part].width;
    for section in &mut pattern.sections {
        for strip in &mut section.strips {
            strip
                .pieces
                .sort_by_key(|p| (std::cmp::Reverse(area(p.part)), *p));
        }
        section
            .strips
            .sort_by(|a, b| b.width.cmp(&a.width).then_with(|| a.cmp(b)));
    }
    pattern.sections.sort_by(|a, b| {
        (a.run.cmp(&b.run))
            .then(b.size.cmp(&a.size))
            .then_with(|| a.cmp(b))
    });
    pattern
}

/// Equal patterns as one with its number.
fn gather(mut plan: Vec<Pattern>) -> Vec<Cut> {
    plan.sort_unstable();
    let mut cuts: Vec<Cut> = Vec::new();
    for pattern in plan {
        match cuts.last_mut() {
            Some(c) if c.pattern == pattern => c.times += 1,
            _ => cuts.push(Cut { pattern, times: 1 }),
        }
    }
    cuts
}
