//! Crews that can be in one place only: activities placed one after another by a stated rule, and what any order must take.
//!
//! The rule is serial placing: of the activities whose waits are met, the one with the earliest latest end is placed next, at
//! the first time at which its crews are free for all of it. It does not promise the shortest job; [`Levelled::bound`] says
//! what no order can beat.

use super::clock::{Clock, Instant};
use super::network::{Network, NetworkFault, Ties, Timed, Wait, WaitKind};

/// A kind of crew.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Crew {
    /// How many such crews there are.
    pub count: u32,
}

/// What is placed first among the activities that could be.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Order {
    /// The one that must end first.
    LateFinish,
    /// The one that must start first.
    LateStart,
    /// The shortest.
    Shortest,
}

/// Dates with crews in mind.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Levelled {
    /// Start and end of each activity.
    pub placed: Vec<(Instant, Instant)>,
    /// The end of the job.
    pub finish: Instant,
    /// No order of the same activities can end before this.
    pub bound: Instant,
    /// Dates and floats with the crews as they were given out: what may slip without taking a crew from another.
    pub timed: Vec<Timed>,
}

/// Places activities so that no more crews work at a time than there are.
///
/// `needs` lists for each activity how many crews of each kind it holds from start to end. A need above the count is cut to it.
///
/// # Errors
///
/// As for [`Network::dates`].
pub fn level(
    network: &Network,
    crews: &[Crew],
    needs: &[Vec<(usize, u32)>],
    first: Instant,
    order: Order,
) -> Result<Levelled, NetworkFault> {
    let (timed, longest) = network.dates(first, None)?;
    let ties = network.ties()?;
    let mut state = Placing {
        network,
        crews,
        needs,
        ties: &ties,
        placed: vec![None; network.activities.len()],
        busy: vec![Vec::new(); crews.len()],
    };
    let mut open: Vec<usize> = ties.before.iter().map(Vec::len).collect();
    let mut ready: Vec<usize> = (0..open.len())
        .filter(|i| open.get(*i) == Some(&0))
        .collect();
    while let Some(at) = (0..ready.len()).min_by_key(|at| {
        let i = ready.get(*at).copied().unwrap_or(usize::MAX);
        (rank(network, &timed, i, order), i)
    }) {
        let i = ready.swap_remove(at);
        state.place(i, first)?;
        for wait in ties.after.get(i).into_iter().flatten() {
            if let Some(left) = open.get_mut(wait.before) {
                *left -= 1;
                if *left == 0 {
                    ready.push(wait.before);
                }
            }
        }
    }
    let bound = bound(network, crews, needs, &timed, longest)?;
    let handed_on = state.handed_on();
    let placed: Vec<(Instant, Instant)> = state.placed.into_iter().flatten().collect();
    let finish = placed.iter().map(|p| p.1).max().unwrap_or(first);
    let mut fixed = Network {
        clocks: network.clocks.clone(),
        activities: network.activities.clone(),
        waits: network.waits.clone(),
    };
    for (activity, (start, _)) in fixed.activities.iter_mut().zip(&placed) {
        activity.not_before = Some(*start);
    }
    fixed.waits.extend(handed_on);
    let (timed, _) = fixed.dates(first, Some(finish))?;
    Ok(Levelled {
        finish,
        placed,
        bound,
        timed,
    })
}

fn rank(network: &Network, timed: &[Timed], i: usize, order: Order) -> i64 {
    match order {
        Order::LateFinish => timed.get(i).map_or(i64::MAX, |t| t.late_finish.0),
        Order::LateStart => timed.get(i).map_or(i64::MAX, |t| t.late_start.0),
        Order::Shortest => network.activities.get(i).map_or(i64::MAX, |a| a.work),
    }
}

struct Placing<'a> {
    network: &'a Network,
    crews: &'a [Crew],
    needs: &'a [Vec<(usize, u32)>],
    ties: &'a Ties<'a>,
    placed: Vec<Option<(Instant, Instant)>>,
    /// For each kind of crew who holds how many, from when to when.
    busy: Vec<Vec<(Instant, Instant, u32, usize)>>,
}

impl Placing<'_> {
    fn place(&mut self, i: usize, first: Instant) -> Result<(), NetworkFault> {
        let waits = self.ties.before.get(i).map_or(&[][..], Vec::as_slice);
        let finish_of = |j: usize| self.placed.get(j).copied().flatten().map(|p| p.1);
        let from = self.network.earliest(i, waits, finish_of, first)?;
        let mut run = self.network.run(i, from)?;
        // Each time a crew is missing, try again when the first of those that hold it is done.
        while let Some(free_at) = self.missing(i, run) {
            run = self.network.run(i, free_at)?;
        }
        for (kind, many) in self.needs_of(i) {
            if let Some(busy) = self.busy.get_mut(kind) {
                busy.push((run.0, run.1, many, i));
            }
        }
        if let Some(slot) = self.placed.get_mut(i) {
            *slot = Some(run);
        }
        Ok(())
    }

    /// The crews that an activity needs, at most as many as there are.
    fn needs_of(&self, i: usize) -> Vec<(usize, u32)> {
        let list = self.needs.get(i).map_or(&[][..], Vec::as_slice);
        list.iter()
            .filter_map(|(kind, many)| {
                let there = self.crews.get(*kind)?.count;
                Some((*kind, (*many).min(there)))
            })
            .collect()
    }

    /// Waits for crews: each crew goes from one activity to the next that it works on.
    fn handed_on(&self) -> Vec<Wait> {
        let mut waits = Vec::new();
        for (kind, busy) in self.busy.iter().enumerate() {
            let there = self.crews.get(kind).map_or(0, |c| c.count);
            let mut runs = busy.clone();
            runs.sort_unstable();
            // Who each crew worked for last, and until when.
            let mut crews: Vec<(Instant, Option<usize>)> =
                (0..there).map(|_| (Instant(i64::MIN), None)).collect();
            for (from, to, many, i) in runs {
                for _ in 0..many {
                    let free = crews
                        .iter_mut()
                        .filter(|(until, _)| *until <= from)
                        .max_by_key(|(until, _)| *until);
                    let Some(crew) = free else { continue };
                    if let Some(after) = crew.1.filter(|after| *after != i) {
                        waits.push(Wait {
                            after,
                            before: i,
                            kind: WaitKind::Elapsed,
                            least: 0,
                            most: None,
                        });
                    }
                    *crew = (to, Some(i));
                }
            }
        }
        waits
    }

    /// When to try again, if a crew is missing at some time of the run.
    fn missing(&self, i: usize, run: (Instant, Instant)) -> Option<Instant> {
        if run.0 == run.1 {
            return None;
        }
        let mut again: Option<Instant> = None;
        for (kind, many) in self.needs_of(i) {
            let there = self.crews.get(kind).map_or(0, |c| c.count);
            let over: Vec<&(Instant, Instant, u32, usize)> = self
                .busy
                .get(kind)
                .into_iter()
                .flatten()
                .filter(|(from, to, _, _)| *from < run.1 && run.0 < *to)
                .collect();
            // Use changes only where one of them starts, or at the start of the run.
            let times = over.iter().map(|b| b.0.max(run.0));
            for time in times {
                let held: Vec<&&(Instant, Instant, u32, usize)> = over
                    .iter()
                    .filter(|(from, to, _, _)| *from <= time && time < *to)
                    .collect();
                let used: u32 = held.iter().map(|b| b.2).sum();
                if used + many > there {
                    let next = held.iter().map(|b| b.1).min();
                    again = again.max(next);
                }
            }
        }
        again
    }
}

/// The later of the longest chain of waits and the work of each kind of crew shared among all of them.
fn bound(
    network: &Network,
    crews: &[Crew],
    needs: &[Vec<(usize, u32)>],
    timed: &[Timed],
    longest: Instant,
) -> Result<Instant, NetworkFault> {
    let mut bound = longest;
    for (kind, crew) in crews.iter().enumerate() {
        let mut work = 0_i64;
        let mut users: Vec<usize> = Vec::new();
        for (i, list) in needs.iter().enumerate() {
            let many: u32 = list
                .iter()
                .filter(|(k, _)| *k == kind)
                .map(|(_, n)| *n)
                .sum();
            let Some(activity) = network.activities.get(i) else {
                continue;
            };
            if many > 0 && activity.work > 0 {
                work += activity.work * i64::from(many.min(crew.count));
                users.push(i);
            }
        }
        if work == 0 || crew.count == 0 {
            continue;
        }
        let share = (work + i64::from(crew.count) - 1).div_euclid(i64::from(crew.count));
        let starts = users
            .iter()
            .filter_map(|i| Some(timed.get(*i)?.start))
            .min();
        let Some(start) = starts else { continue };
        let mut clocks = Vec::new();
        for i in &users {
            clocks.push(network.clock(*i)?.1);
        }
        // A minute in which any of them may be worked is a minute that the crew could use.
        let any = Clock::union(&clocks);
        let end =
            any.ends(any.work_before(start) + share)
                .map_err(|fault| NetworkFault::Clock {
                    activity: users.first().copied().unwrap_or(0),
                    fault,
                })?;
        bound = bound.max(end);
    }
    Ok(bound)
}
