//! Activities and the waits between them: earliest and latest dates, floats, the critical path.

use super::clock::{Clock, ClockFault, Instant};

/// One piece of work.
#[derive(Debug, Clone)]
pub struct Activity {
    /// Index of its clock.
    pub clock: usize,
    /// Minutes of work on that clock.
    pub work: i64,
    /// It does not start before this.
    pub not_before: Option<Instant>,
}

/// How a wait is counted.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum WaitKind {
    /// Minutes on the wall clock: nights, weekends and holidays count, as drying and curing do.
    Elapsed,
    /// Minutes of work on the clock of the activity that waits.
    Working,
}

/// One activity starts after another has ended.
#[derive(Debug, Clone)]
pub struct Wait {
    /// The activity that ends.
    pub after: usize,
    /// The activity that starts.
    pub before: usize,
    /// How minutes are counted.
    pub kind: WaitKind,
    /// At least so many minutes between.
    pub least: i64,
    /// At most so many minutes between, if it matters.
    pub most: Option<i64>,
}

/// Activities, waits and clocks.
#[derive(Debug, Clone, Default)]
pub struct Network {
    /// The clocks that activities work by.
    pub clocks: Vec<Clock>,
    /// The activities.
    pub activities: Vec<Activity>,
    /// Who waits for whom.
    pub waits: Vec<Wait>,
}

/// Why a network has no dates.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum NetworkFault {
    /// Activities that wait for one another, in order.
    Circle(Vec<usize>),
    /// An activity that has no working time.
    Clock {
        /// The activity.
        activity: usize,
        /// What is wrong.
        fault: ClockFault,
    },
    /// A wait or an activity names something that is not there.
    Unknown,
}

/// Dates of one activity. Floats are minutes of work on its own clock.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Timed {
    /// The earliest start.
    pub start: Instant,
    /// The earliest end.
    pub finish: Instant,
    /// The latest start that does not move the end of the job.
    pub late_start: Instant,
    /// The latest end that does not move the end of the job.
    pub late_finish: Instant,
    /// How much later it may start without moving the end of the job; below zero where a deadline can't be kept.
    pub total_float: i64,
    /// How much later it may start without moving any other activity.
    pub free_float: i64,
}

impl Timed {}

/// Waits as lists by activity.
#[derive(Debug, Clone)]
pub(super) struct Ties<'a> {
    pub(super) before: Vec<Vec<&'a Wait>>,
    pub(super) after: Vec<Vec<&'a Wait>>,
    /// Every activity behind those it waits for; among equals the first in the list comes first.
    pub(super) order: Vec<usize>,
}

impl Network {
    /// The clock of an activity.
    pub(super) fn clock(&self, activity: usize) -> Result<(&Activity, &Clock), NetworkFault> {
        let found = self.activities.get(activity).ok_or(NetworkFault::Unknown)?;
        let clock = self.clocks.get(found.clock).ok_or(NetworkFault::Unknown)?;
        Ok((found, clock))
    }

    /// Sorts activities behind those they wait for.
    pub(super) fn ties(&self) -> Result<Ties<'_>, NetworkFault> {
        let many = self.activities.len();
        let mut before: Vec<Vec<&Wait>> = vec![Vec::new(); many];
        let mut after: Vec<Vec<&Wait>> = vec![Vec::new(); many];
        for wait in &self.waits {
            before
                .get_mut(wait.before)
                .ok_or(NetworkFault::Unknown)?
                .push(wait);
            after
                .get_mut(wait.after)
                .ok_or(NetworkFault::Unknown)?
                .push(wait);
        }
        let mut open: Vec<usize> = before.iter().map(Vec::len).collect();
        let mut ready: std::collections::BTreeSet<usize> =
            (0..many).filter(|i| open.get(*i) == Some(&0)).collect();
        let mut order = Vec::with_capacity(many);
        while let Some(next) = ready.pop_first() {
            order.push(next);
            for wait in after.get(next).into_iter().flatten() {
                if let Some(left) = open.get_mut(wait.before) {
                    *left -= 1;
                    if *left == 0 {
                        ready.insert(wait.before);
                    }
                }
            }
        }
        if order.len() < many {
            return Err(NetworkFault::Circle(circle(&before, &open)));
        }
        Ok(Ties {
            before,
            after,
            order,
        })
    }

    /// When an activity may start by the waits before it, given when the others end.
    pub(super) fn earliest(
        &self,
        activity: usize,
        waits: &[&Wait],
        finish_of: impl Fn(usize) -> Option<Instant>,
        first: Instant,
    ) -> Result<Instant, NetworkFault> {
        let (own, clock) = self.clock(activity)?;
        let mut at = own.not_before.map_or(first, |n| n.max(first));
        for wait in waits {
            let Some(end) = finish_of(wait.after) else {
                continue;
            };
            let from = match wait.kind {
                WaitKind::Elapsed => Instant(end.0 + wait.least),
                WaitKind::Working => clock
                    .begins(clock.work_before(end) + wait.least)
                    .map_err(|fault| NetworkFault::Clock { activity, fault })?,
            };
            at = at.max(from);
        }
        Ok(at)
    }

    /// Start and end of an activity that may start at an instant, in minutes of work and as instants.
    pub(super) fn run(
        &self,
        activity: usize,
        from: Instant,
    ) -> Result<(Instant, Instant), NetworkFault> {
        let (own, clock) = self.clock(activity)?;
        let told = |fault| NetworkFault::Clock { activity, fault };
        if own.work == 0 {
            return Ok((from, from));
        }
        let (start, end) = clock.run_from(from, own.work).map_err(told)?;
        Ok((
            clock.begins(start).map_err(told)?,
            clock.ends(end).map_err(told)?,
        ))
    }

    /// Earliest and latest dates of every activity from `first` on, and the end of the job.
    ///
    /// With a deadline, latest dates are counted back from it instead of from the end of the job, and floats may be below zero.
    ///
    /// # Errors
    ///
    /// When activities wait for one another in a circle, or one finds no working time.
    pub fn dates(
        &self,
        first: Instant,
        deadline: Option<Instant>,
    ) -> Result<(Vec<Timed>, Instant), NetworkFault> {
        let ties = self.ties()?;
        let mut early: Vec<Option<(Instant, Instant)>> = vec![None; self.activities.len()];
        for &i in &ties.order {
            let waits = ties.before.get(i).map_or(&[][..], Vec::as_slice);
            let finish_of = |j: usize| early.get(j).copied().flatten().map(|(_, end)| end);
            let from = self.earliest(i, waits, finish_of, first)?;
            let run = self.run(i, from)?;
            if let Some(slot) = early.get_mut(i) {
                *slot = Some(run);
            }
        }
        let early: Vec<(Instant, Instant)> = early.into_iter().flatten().collect();
        let end = early.iter().map(|(_, end)| *end).max().unwrap_or(first);
        let by = deadline.unwrap_or(end);
        let late = self.latest(&ties, by)?;
        let timed = (0..early.len())
            .map(|i| self.timed(i, &ties, &early, &late, end))
            .collect::<Result<Vec<_>, _>>()?;
        Ok((timed, end))
    }

    fn latest(
        &self,
        ties: &Ties<'_>,
        by: Instant,
    ) -> Result<Vec<(Instant, Instant)>, NetworkFault> {
        let mut late = vec![(by, by); self.activities.len()];
        for &i in ties.order.iter().rev() {
            let (own, clock) = self.clock(i)?;
            let mut end = by;
            for wait in ties.after.get(i).into_iter().flatten() {
                let start = late.get(wait.before).map_or(by, |l| l.0);
                end = end.min(self.back(wait, start)?);
            }
            let told = |fault| NetworkFault::Clock { activity: i, fault };
            let run = if own.work == 0 {
                (end, end)
            } else {
                let (from, to) = clock.run_until(end, own.work).map_err(told)?;
                (
                    clock.begins(from).map_err(told)?,
                    clock.ends(to).map_err(told)?,
                )
            };
            if let Some(slot) = late.get_mut(i) {
                *slot = run;
            }
        }
        Ok(late)
    }

    /// The latest end of the activity waited for, when the one that waits starts at an instant.
    fn back(&self, wait: &Wait, start: Instant) -> Result<Instant, NetworkFault> {
        let (_, clock) = self.clock(wait.before)?;
        match wait.kind {
            WaitKind::Elapsed => Ok(Instant(start.0 - wait.least)),
            WaitKind::Working => {
                clock
                    .begins(clock.work_before(start) - wait.least)
                    .map_err(|fault| NetworkFault::Clock {
                        activity: wait.before,
                        fault,
                    })
            }
        }
    }

    fn timed(
        &self,
        i: usize,
        ties: &Ties<'_>,
        early: &[(Instant, Instant)],
        late: &[(Instant, Instant)],
        end: Instant,
    ) -> Result<Timed, NetworkFault> {
        let (_, clock) = self.clock(i)?;
        let (start, finish) = early.get(i).copied().ok_or(NetworkFault::Unknown)?;
        let (late_start, late_finish) = late.get(i).copied().ok_or(NetworkFault::Unknown)?;
        let mut free_until = end;
        for wait in ties.after.get(i).into_iter().flatten() {
            let next = early.get(wait.before).map_or(end, |e| e.0);
            free_until = free_until.min(self.back(wait, next)?);
        }
        Ok(Timed {
            start,
            finish,
            late_start,
            late_finish,
            total_float: clock.work_before(late_finish) - clock.work_before(finish),
            free_float: (clock.work_before(free_until) - clock.work_before(finish)).max(0),
        })
    }
}

/// One circle among the activities that were never ready.
fn circle(before: &[Vec<&Wait>], open: &[usize]) -> Vec<usize> {
    let stuck = |i: &usize| open.get(*i).is_some_and(|n| *n > 0);
    let Some(start) = (0..open.len()).find(|i| stuck(i)) else {
        return Vec::new();
    };
    let mut path = vec![start];
    let mut at = start;
    loop {
        let Some(next) = before
            .get(at)
            .into_iter()
            .flatten()
            .map(|wait| wait.after)
            .find(|i| stuck(i))
        else {
            return path;
        };
        if let Some(first) = path.iter().position(|i| *i == next) {
            let mut ring = path.split_off(first);
            ring.reverse();
            return ring;
        }
        path.push(next);
        at = next;
    }
}

/// A wait that turned out longer than it may be.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct BrokenWait {
    /// Index of the wait.
    pub wait: usize,
    /// Minutes that lie between, counted as the wait counts them.
    pub found: i64,
    /// The earliest end of the activity before that would keep the wait, all else as it is.
    pub keeps: Instant,
}

impl Network {
    /// Those of some waits that are longer than they may be, given when each activity starts and ends.
    ///
    /// # Errors
    ///
    /// When a wait names an activity that is not there.
    pub fn broken_waits(
        &self,
        waits: &[Wait],
        placed: &[(Instant, Instant)],
    ) -> Result<Vec<BrokenWait>, NetworkFault> {
        let mut broken = Vec::new();
        for (at, wait) in waits.iter().enumerate() {
            let Some(most) = wait.most else { continue };
            let (_, clock) = self.clock(wait.before)?;
            let (_, end) = placed.get(wait.after).ok_or(NetworkFault::Unknown)?;
            let (start, _) = placed.get(wait.before).ok_or(NetworkFault::Unknown)?;
            let (found, keeps) = match wait.kind {
                WaitKind::Elapsed => (start.0 - end.0, Instant(start.0 - most)),
                WaitKind::Working => {
                    let begun = clock.work_before(*start);
                    let keeps = clock.begins(begun - most);
                    let activity = wait.before;
                    let told = |fault| NetworkFault::Clock { activity, fault };
                    (begun - clock.work_before(*end), keeps.map_err(told)?)
                }
            };
            if found > most {
                broken.push(BrokenWait {
                    wait: at,
                    found,
                    keeps,
                });
            }
        }
        Ok(broken)
    }
}
