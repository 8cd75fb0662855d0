//! From a problem to a plan: greedy, then patterns by price, then a search around the best plan.
//!
//! ```
//! # fn bars() -> (ovolo::cutting::model::Problem, ovolo::cutting::plan::Plan) {
//! #     include!(concat!(env!("CARGO_MANIFEST_DIR"), "/tests/docs/bars.rs"))
//! # }
//! let (problem, plan) = bars(); // `solve` made the plan
//! assert!(plan.cost <= plan.greedy);
//! ```

use super::bound::{Yield, prove};
use super::complete::complete;
use super::dive::{Left, Seeded, Style, dive};
use super::improve;
use super::master;
use super::model::Problem;
use super::pattern::Cut;
use super::plan::{Plan, Proof, place};
use super::task::{Task, tasks};
use super::{greedy, model::MOST_SIZES};
use rayon::prelude::*;

/// What the search reports to and asks whether to go on.
pub trait Watch: Sync {
    /// Says how far the search is, in steps done and steps in all; `false` ends it with the best plan so far.
    fn go_on(&self, done: u64, of: u64) -> bool;
}

/// How long the search goes on.
#[derive(Debug, Clone, Copy)]
pub struct Effort {
    /// Rounds of the search around the plan, for each thickness.
    pub rounds: u64,
    /// Where its choices begin.
    pub seed: u64,
}

impl Effort {
    /// What is usual.
    pub const USUAL: Effort = Effort {
        rounds: 30,
        seed: 1,
    };
}

/// Why there is no plan.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum NoPlan {
    /// These parts find no place on the stock there is: indexes of parts.
    NoPlace(Vec<usize>),
    /// More different parts of one thickness than the search is made for.
    TooMany(usize),
}

/// Makes a plan.
pub fn solve(problem: &Problem, effort: Effort, watch: &dyn Watch) -> Result<Plan, NoPlan> {
    let list = tasks(problem);
    if let Some(t) = list.iter().find(|t| t.parts.len() > MOST_SIZES) {
        return Err(NoPlan::TooMany(t.parts.len()));
    }
    let mut plan = Plan {
        cuts: Vec::new(),
        cost: 0,
        greedy: 0,
        proofs: Vec::new(),
        finished: true,
    };
    let mut lost = Vec::new();
    let of = crate::ids::long(list.len());
    for (i, task) in list.iter().enumerate() {
        let part = Part {
            watch,
            index: crate::ids::long(i),
            of,
        };
        match solve_task(task, effort, &part) {
            Ok(found) => {
                plan.greedy += found.greedy;
                plan.cost += improve::cost(task, &found.cuts);
                plan.finished &= found.finished;
                let mut cuts = found.cuts;
                cuts.sort_by_key(|c| {
                    (
                        task.stocks[c.pattern.stock].index,
                        std::cmp::Reverse(c.times),
                    )
                });
                plan.cuts.extend(
                    cuts.iter()
                        .map(|c| place(problem, task, &c.pattern, c.times)),
                );
                plan.proofs.push(Proof {
                    thick: task
                        .parts
                        .first()
                        .map_or(0, |p| problem.parts[p.index].thick),
                    prices: task
                        .parts
                        .iter()
                        .zip(&found.prices)
                        .map(|(p, &price)| (p.index, price))
                        .collect(),
                    scale: master::scale(task),
                    bound: found.bound,
                });
            }
            Err(parts) => lost.extend(parts.into_iter().map(|p| task.parts[p].index)),
        }
    }
    if lost.is_empty() {
        Ok(plan)
    } else {
        Err(NoPlan::NoPlace(lost))
    }
}

/// A share of the progress.
struct Part<'a> {
    watch: &'a dyn Watch,
    index: u64,
    of: u64,
}

impl Part<'_> {
    fn go_on(&self, done: u64, of: u64) -> bool {
        self.watch
            .go_on(self.index * 1000 + done * 1000 / of.max(1), self.of * 1000)
    }
}

struct Found {
    cuts: Vec<Cut>,
    greedy: i64,
    prices: Vec<i64>,
    bound: i64,
    finished: bool,
}

fn solve_task(task: &Task, effort: Effort, watch: &Part<'_>) -> Result<Found, Vec<usize>> {
    let first = greedy::greedy(task);
    let greedy = first
        .as_ref()
        .map_or(i64::MAX, |cuts| improve::cost(task, cuts));
    let need: Vec<u32> = task.parts.iter().map(|p| p.need).collect();
    let priced = master::generate(task, &need, &|| watch.go_on(0, 1));
    let bound = bound(task, &priced.prices);
    let mut best = first;
    let mut finished = priced.finished;
    let spent = |best: &Result<Vec<Cut>, Vec<usize>>| {
        best.as_ref().map_or(i64::MAX, |c| improve::cost(task, c))
    };
    // A straight dive, then a few by chance, side by side.
    for round in 0..4 {
        if improve::near(spent(&best), bound) || !finished {
            break;
        }
        finished &= watch.go_on(round + 1, 100);
        let tries = if round == 0 { 1 } else { 8 };
        let plans: Vec<Option<Vec<Cut>>> = (0..tries)
            .into_par_iter()
            .map(|t| {
                let most = spent(&best).saturating_sub(1);
                let style = Style {
                    pricing: 4,
                    by_chance: round > 0,
                    most,
                };
                let mut random = Seeded::new(effort.seed + round * 8 + t);
                let all = Left::all(task);
                dive(task, (&all, &priced.pool), style, &mut random, &|| {
                    watch.go_on(round + 1, 100)
                })
            })
            .collect();
        finished &= watch.go_on(round + 1, 100);
        for plan in plans.into_iter().flatten() {
            if improve::cost(task, &plan) < spent(&best) {
                best = Ok(plan);
            }
        }
    }
    if spent(&best) > bound
        && let Some(stock) = task.stocks.first()
        && let Some(plan) = complete(task, bound / stock.cost.max(1))
        && improve::cost(task, &plan) < spent(&best)
    {
        best = Ok(plan);
    }
    let cuts = best?;
    let mut search = improve::Search {
        task,
        pool: &priced.pool,
        bound,
        seed: effort.seed,
    };
    let (cuts, ended) = search.run(cuts, effort.rounds, &|done| {
        finished && watch.go_on(5 + done * 95 / effort.rounds.max(1), 100)
    });
    let greedy = if greedy == i64::MAX {
        improve::cost(task, &cuts)
    } else {
        greedy
    };
    Ok(Found {
        cuts,
        greedy,
        prices: priced.prices,
        bound,
        finished: finished && ended,
    })
}

/// The bound that the prices prove, with the values of the solver's own tables.
fn bound(task: &Task, prices: &[i64]) -> i64 {
    let (values, _) = master::best_patterns(task, prices, |_, _| false);
    let worth = task
        .parts
        .iter()
        .zip(prices)
        .map(|(p, &price)| i128::from(p.need) * i128::from(price))
        .sum();
    let stocks: Vec<Yield> = (task.stocks.iter().zip(values))
        .map(|(s, value)| Yield {
            cost: s.cost,
            available: s.available,
            value,
        })
        .collect();
    prove(worth, &stocks, master::scale(task))
}
