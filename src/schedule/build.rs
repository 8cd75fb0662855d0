//! From terms and quantities to a schedule.

mod broken;

use super::plan::{Activity, Hired, Phase, Schedule, SpanDays, Week};
use crate::calendar::clock::{DAY, date_of};
use crate::calendar::hire::{Rates, least_cover};
use crate::calendar::{
    self, Clock, ClockFault, Crew, Instant, Levelled, Network, NetworkFault, Order, Season, Wait,
    WaitKind,
};
use crate::diagnostics::{Diagnostic, Span};
use crate::ids;
use crate::number::NumError;
use crate::number::{Exact, Rounding};
use crate::program::{
    CalendarTerms, CrewDef, HireDef, PhaseId, Program, ResourceClass, ResourceDef, ResourceId,
    Version, WaitDef, WaitTime,
};
use crate::takeoff::Quantities;
use std::collections::{BTreeMap, BTreeSet};

/// Days around the start of a job for which holidays are laid out.
const HOLIDAYS: i32 = 31 * 366;

/// Lays the labor of a version out in time.
///
/// # Errors
///
/// All that keeps the work from having dates: no first day, no working time, waits in a circle.
pub fn schedule(
    program: &Program,
    version: &Version,
    quantities: &Quantities,
) -> Result<Schedule, Vec<Diagnostic>> {
    let terms = &program.terms.calendar;
    let (Some(span), Some(first)) = (terms.span, terms.starts) else {
        return Err(vec![no_start(program)]);
    };
    let works = works(version, terms, quantities);
    let mut laid = Laid {
        program,
        terms,
        network: Network::default(),
        clocks: BTreeMap::new(),
        crews: Vec::new(),
        hands: BTreeMap::new(),
        needs: Vec::new(),
        names: BTreeMap::new(),
        assumed: Vec::new(),
        first,
    };
    laid.assume();
    for work in &works {
        laid.activity(work, version).map_err(|d| vec![d])?;
    }
    let waits = laid.waits(&works, areas(terms, quantities));
    let start = Instant::at_day(first);
    let levelled = calendar::level(
        &laid.network,
        &laid.crews,
        &laid.needs,
        start,
        Order::LateFinish,
    );
    let told = |fault| vec![laid.fault(&fault, &works, span)];
    let levelled = levelled.map_err(told)?;
    let mut plan = laid.plan(&works, &levelled, &waits, quantities);
    plan.warnings.extend(laid.starts_on_a_day_off(&works, span));
    Ok(plan)
}

/// That a job has no calendar, or that its calendar has no first day.
pub fn no_start(program: &Program) -> Diagnostic {
    let d = match program.terms.calendar.span {
        Some(span) => {
            Diagnostic::error("OV-647", "the calendar does not say when work starts").at(span, "")
        }
        None => Diagnostic::error("OV-647", "this job has no calendar"),
    };
    d.expected("calendar {\n  starts 2026-03-02\n}")
}

/// What one trade does in one phase of one area.
struct Work {
    area: usize,
    phase: PhaseId,
    trade: ResourceId,
    labor: Exact,
}

/// How many areas there are; the whole job comes after them.
fn areas(terms: &CalendarTerms, quantities: &Quantities) -> usize {
    let split = quantities.splits.get(terms.area);
    split.map_or(0, |s| s.keys.len())
}

/// Labor above zero, by area, phase and trade. What no area holds belongs to the whole job, the last area.
fn works(version: &Version, terms: &CalendarTerms, quantities: &Quantities) -> Vec<Work> {
    let areas = areas(terms, quantities);
    let mut sums: BTreeMap<(usize, PhaseId, ResourceId), Exact> = BTreeMap::new();
    for line in &quantities.lines {
        let class = resource(version, line.resource).map(|r| r.class);
        if class != Some(ResourceClass::Labor) {
            continue;
        }
        let mut rest = line.total.clone();
        let by_area = line.by_key.get(terms.area).into_iter().flatten();
        for (area, amount) in by_area.enumerate() {
            rest = rest.sub(amount).unwrap_or(rest);
            add(&mut sums, (area, line.phase, line.resource), amount);
        }
        add(&mut sums, (areas, line.phase, line.resource), &rest);
    }
    let mut works: Vec<Work> = sums
        .into_iter()
        .filter(|(_, labor)| labor.signum() > 0)
        .map(|((area, phase, trade), labor)| Work {
            area,
            phase,
            trade,
            labor,
        })
        .collect();
    works.sort_by_key(|w| (w.area, w.phase, w.trade));
    works
}

pub(super) fn monday_of(day: i32) -> i32 {
    day - (day + 3).rem_euclid(7)
}

fn add<K: Ord>(sums: &mut BTreeMap<K, Exact>, key: K, amount: &Exact) {
    let sum = sums.entry(key).or_insert(Exact::ZERO);
    *sum = sum.add(amount).unwrap_or_else(|_| sum.clone());
}

fn resource(version: &Version, id: ResourceId) -> Option<&ResourceDef> {
    version.resources.get(id)
}

/// What a resource is called.
fn label(resource: &ResourceDef) -> String {
    let called = resource.called.clone();
    called.unwrap_or_else(|| resource.name.replace('_', " "))
}

/// A job on its way to dates.
struct Laid<'a> {
    program: &'a Program,
    terms: &'a CalendarTerms,
    network: Network,
    /// Clocks by whether they are the shop's and by their season.
    clocks: BTreeMap<(bool, Option<usize>), usize>,
    crews: Vec<Crew>,
    /// For each trade the kind of its crews and the people in one.
    hands: BTreeMap<ResourceId, (usize, u32)>,
    needs: Vec<Vec<(usize, u32)>>,
    names: BTreeMap<ResourceId, String>,
    assumed: Vec<String>,
    first: i32,
}

impl Laid<'_> {
    fn assume(&mut self) {
        if self.terms.worked.is_none() {
            self.assumed.push("worked Monday to Friday".to_owned());
        }
        if self.terms.hours.is_empty() {
            self.assumed.push("hours 8:00 to 16:00".to_owned());
        }
        if !self.terms.federal && self.terms.closed.is_empty() {
            self.assumed.push("no holidays".to_owned());
        }
    }

    fn activity(&mut self, work: &Work, version: &Version) -> Result<(), Diagnostic> {
        let clock = self.clock(work.phase)?;
        let name = resource(version, work.trade).map_or_else(String::new, label);
        let (kind, hands) = self.crew(work.trade, &name);
        let minutes = work
            .labor
            .div(&Exact::from(i64::from(hands)))
            .ok()
            .and_then(|m| m.round_to(&Exact::ONE, Rounding::Up).ok())
            .and_then(|m| m.to_i64())
            .unwrap_or(i64::MAX / 4);
        self.network.activities.push(calendar::Activity {
            clock,
            work: minutes,
            not_before: None,
        });
        self.needs.push(vec![(kind, 1)]);
        Ok(())
    }

    fn crew(&mut self, trade: ResourceId, name: &str) -> (usize, u32) {
        if let Some(known) = self.hands.get(&trade) {
            return *known;
        }
        let listed: Option<&CrewDef> = self.terms.crews.iter().find(|c| c.resource == trade);
        let (crews, hands) = listed.map_or((1, 1), |c| (c.crews, c.hands));
        if listed.is_none() {
            self.assumed.push(format!("{name}: one crew of one"));
        }
        let kind = self.crews.len();
        self.crews.push(Crew { count: crews });
        self.hands.insert(trade, (kind, hands));
        self.names.insert(trade, name.to_owned());
        (kind, hands)
    }

    /// The clock of a phase: the shop's or the site's, within its season.
    fn clock(&mut self, phase: PhaseId) -> Result<usize, Diagnostic> {
        let shop = self.terms.shop.contains(&phase);
        let season = self
            .terms
            .seasons
            .iter()
            .position(|s| s.phases.contains(&phase));
        if let Some(known) = self.clocks.get(&(shop, season)) {
            return Ok(*known);
        }
        let (week, off) = (self.week(), self.days_off());
        let lost = if shop { [0; 12] } else { self.terms.lost };
        let def = season.and_then(|at| self.terms.seasons.get(at));
        let open = def.map(|s| Season {
            from: s.from,
            to: s.to,
            may_split: !s.whole,
        });
        let made = Clock::new(&week, &off, open.as_ref(), &lost, self.first);
        let clock = made.map_err(|fault| {
            let at = def.map_or(self.terms.span, |s| Some(s.span));
            clock_fault(&fault, at, &self.phase_name(phase))
        })?;
        let index = self.network.clocks.len();
        self.network.clocks.push(clock);
        self.clocks.insert((shop, season), index);
        Ok(index)
    }

    fn week(&self) -> calendar::Week {
        let mut week = calendar::Week::usual();
        if let Some(days) = self.terms.worked {
            week.days = days;
        }
        if !self.terms.hours.is_empty() {
            week.hours.clone_from(&self.terms.hours);
        }
        week
    }

    fn days_off(&self) -> BTreeSet<i32> {
        let mut off: BTreeSet<i32> = BTreeSet::new();
        if self.terms.federal {
            off = calendar::holidays::federal(self.first - HOLIDAYS / 5, self.first + HOLIDAYS);
        }
        for (from, to) in &self.terms.closed {
            off.extend((*from).max(self.first - HOLIDAYS)..=(*to).min(self.first + HOLIDAYS));
        }
        off
    }

    fn phase_name(&self, phase: PhaseId) -> String {
        self.program.phases.get(phase).cloned().unwrap_or_default()
    }

    fn side_by_side(&self, a: PhaseId, b: PhaseId) -> bool {
        let together = |group: &Vec<PhaseId>| group.contains(&a) && group.contains(&b);
        self.terms.side_by_side.iter().any(together)
    }

    /// Ties phases of each area to one another. Work of the whole job comes before the later phases of every area, such as the
    /// submittals and templates that all of them need; in a phase after all of the areas' it closes the job and waits for them.
    /// Gives the waits that have a greatest length, each with the wait that states it.
    fn waits(&mut self, works: &[Work], whole: usize) -> Vec<(usize, usize, usize)> {
        let of_areas = works.iter().filter(|w| w.area < whole);
        let last = of_areas.map(|w| w.phase).max();
        let closes = |w: &Work| w.area == whole && last.is_some_and(|last| w.phase > last);
        let tied = |earlier: &Work, later: &Work| {
            earlier.area == later.area || closes(later) || earlier.area == whole && !closes(earlier)
        };
        let mut stated = Vec::new();
        for (i, later) in works.iter().enumerate() {
            for (j, earlier) in works.iter().enumerate() {
                if !tied(earlier, later) {
                    continue;
                }
                let in_order =
                    earlier.phase < later.phase && !self.side_by_side(earlier.phase, later.phase);
                let of_pair: Vec<(usize, &WaitDef)> = (self.terms.waits.iter().enumerate())
                    .filter(|(_, w)| w.after == earlier.phase && w.before == later.phase)
                    .collect();
                if in_order && of_pair.is_empty() {
                    self.network.waits.push(wait(j, i, None));
                }
                for (at, def) in of_pair {
                    let per_day = self.day_minutes(i);
                    self.network
                        .waits
                        .push(wait(j, i, def.least.map(|l| minutes(l, per_day))));
                    if def.most.is_some() && earlier.area == later.area {
                        stated.push((at, j, i));
                    }
                }
            }
        }
        stated
    }

    fn day_minutes(&self, activity: usize) -> i64 {
        let clock = self.network.activities.get(activity).map(|a| a.clock);
        clock
            .and_then(|c| self.network.clocks.get(c))
            .map_or(DAY, Clock::day_minutes)
    }

    fn fault(&self, fault: &NetworkFault, works: &[Work], span: Span) -> Diagnostic {
        let name = |i: &usize| {
            works
                .get(*i)
                .map_or(String::new(), |w| self.phase_name(w.phase))
        };
        match fault {
            NetworkFault::Circle(ring) => {
                let mut path: Vec<String> = ring.iter().map(name).collect();
                path.dedup();
                path.extend(path.first().cloned());
                let mut d = Diagnostic::error("OV-645", "these phases wait for one another")
                    .found(path.join(", then "))
                    .expected("waits that lead from an earlier phase to a later one, or phases that run `side by side`");
                for w in &self.terms.waits {
                    d = d.at(w.span, "");
                }
                if self.terms.waits.is_empty() {
                    d.at(span, "")
                } else {
                    d
                }
            }
            NetworkFault::Clock { activity, fault } => {
                let phase = works.get(*activity).map(|w| w.phase);
                let season =
                    phase.and_then(|p| self.terms.seasons.iter().find(|s| s.phases.contains(&p)));
                clock_fault(
                    fault,
                    Some(season.map_or(span, |s| s.span)),
                    &name(activity),
                )
            }
            NetworkFault::Unknown => {
                Diagnostic::error("OV-913", "a phase of the calendar is not there").at(span, "")
            }
        }
    }

    fn starts_on_a_day_off(&self, works: &[Work], span: Span) -> Option<Diagnostic> {
        let clock = self.network.clocks.first()?;
        if works.is_empty() || clock.works_on(self.first) {
            return None;
        }
        let next = clock
            .begins(clock.work_before(Instant::at_day(self.first)))
            .ok()?;
        Some(
            Diagnostic::warning("OV-649", "the calendar starts on a day without work")
                .at(span, "")
                .found(date_of(self.first).to_string())
                .note(format!("work begins on {}", date_of(next.day()))),
        )
    }

    fn plan(
        &self,
        works: &[Work],
        levelled: &Levelled,
        stated: &[(usize, usize, usize)],
        quantities: &Quantities,
    ) -> Schedule {
        let split = quantities.splits.get(self.terms.area);
        let mut areas: Vec<String> = split.map(|s| s.keys.clone()).unwrap_or_default();
        areas.push("whole job".to_owned());
        let phases = self.phases(works, levelled);
        let start = phases
            .iter()
            .map(Phase::start)
            .min()
            .unwrap_or(Instant::at_day(self.first));
        let mut plan = Schedule {
            area_word: split.map_or_else(|| "job".to_owned(), |s| s.name.clone()),
            areas,
            start,
            finish: levelled.finish,
            due: self.terms.due,
            bound: levelled.bound,
            weeks: Vec::new(),
            months: BTreeMap::new(),
            trades: Vec::new(),
            hires: Vec::new(),
            spans: Vec::new(),
            broken: Vec::new(),
            warnings: Vec::new(),
            assumed: self.assumed.clone(),
            phases,
        };
        self.weeks(works, levelled, &mut plan);
        for hire in &self.terms.hires {
            self.hire(hire, &mut plan);
        }
        plan.spans = self.spans(&plan);
        self.broken(works, levelled, stated, &mut plan);
        plan
    }

    fn phases(&self, works: &[Work], levelled: &Levelled) -> Vec<Phase> {
        let mut phases: Vec<Phase> = Vec::new();
        for (i, work) in works.iter().enumerate() {
            let Some(timed) = levelled.timed.get(i) else {
                continue;
            };
            let activity = Activity {
                trade: work.trade,
                labor: work.labor.clone(),
                hands: self.hands.get(&work.trade).map_or(1, |h| h.1),
                work: self.network.activities.get(i).map_or(0, |a| a.work),
                day: self.day_minutes(i),
                start: timed.start,
                finish: timed.finish,
                total_float: timed.total_float,
                days: self.days_of(i, levelled),
            };
            match phases.last_mut() {
                Some(last) if last.area == work.area && last.phase == work.phase => {
                    last.activities.push(activity);
                }
                _ => phases.push(Phase {
                    area: work.area,
                    phase: work.phase,
                    name: self.phase_name(work.phase),
                    activities: vec![activity],
                }),
            }
        }
        phases
    }

    fn days_of(&self, activity: usize, levelled: &Levelled) -> Vec<(i32, i64)> {
        let found = self.network.activities.get(activity);
        let clock = found.and_then(|a| self.network.clocks.get(a.clock));
        match clock.zip(levelled.placed.get(activity)) {
            Some((clock, (from, to))) => clock.days_between(*from, *to).collect(),
            None => Vec::new(),
        }
    }

    fn weeks(&self, works: &[Work], levelled: &Levelled, plan: &mut Schedule) {
        let trades: Vec<ResourceId> = self.hands.keys().copied().collect();
        let mut weeks: BTreeMap<i32, Vec<i64>> = BTreeMap::new();
        for (i, work) in works.iter().enumerate() {
            let Some(trade) = trades.iter().position(|t| *t == work.trade) else {
                continue;
            };
            let hands = self.hands.get(&work.trade).map_or(1, |h| i64::from(h.1));
            for (day, minutes) in self.days_of(i, levelled) {
                let monday = monday_of(day);
                let week = weeks.entry(monday).or_insert_with(|| vec![0; trades.len()]);
                if let Some(sum) = week.get_mut(trade) {
                    *sum += minutes * hands;
                }
                let date = date_of(day);
                let month = plan.months.entry((date.year(), date.month())).or_default();
                *month.entry(work.phase).or_insert(0) += minutes;
            }
        }
        plan.weeks = weeks
            .into_iter()
            .map(|(monday, minutes)| Week { monday, minutes })
            .collect();
        plan.trades = trades
            .iter()
            .map(|t| self.names.get(t).cloned().unwrap_or_default())
            .collect();
    }

    fn hire(&self, hire: &HireDef, plan: &mut Schedule) {
        let areas: Vec<Option<usize>> = if hire.each_area {
            (0..plan.areas.len()).map(Some).collect()
        } else {
            vec![None]
        };
        let Ok(rates) = rates_of(hire) else {
            return;
        };
        for area in areas {
            let Some((from, to)) = plan.between(hire.from, hire.to, area) else {
                continue;
            };
            let days = days_of(from, to);
            plan.hires.push(Hired {
                name: hire.name.clone(),
                resource: hire.resource,
                supplier: hire.supplier.clone(),
                area,
                from,
                to,
                days,
                cover: least_cover(days, rates),
            });
        }
    }

    /// Days of the spans that rules read. Working days are those of the week and its holidays, whatever season or weather.
    fn spans(&self, plan: &Schedule) -> Vec<SpanDays> {
        let phase = |name: &String| self.program.phases.id_of(|p| p == name);
        let working = |from: i32, to: i32| {
            let clock = Clock::new(&self.week(), &self.days_off(), None, &[0; 12], self.first);
            let days = (from..=to).filter(|day| clock.as_ref().is_ok_and(|c| c.works_on(*day)));
            days.count()
        };
        let spans = self.program.spans.iter().map(|def| {
            let ends = phase(&def.from)
                .zip(phase(&def.to))
                .and_then(|(from, to)| plan.between(from, to, None));
            let days = match ends {
                None => 0,
                Some((from, to)) if def.working => ids::long(working(from, to)),
                Some((from, to)) => days_of(from, to),
            };
            SpanDays { ends, days }
        });
        spans.collect()
    }
}

/// Calendar days from one to another that is no earlier, both counted.
fn days_of(from: i32, to: i32) -> u64 {
    u64::from(to.abs_diff(from)) + 1
}

/// The rates of a line of hire, in cents. Errors: a rate that no count of cents holds, which the checker refuses.
pub fn rates_of(hire: &HireDef) -> Result<Rates, NumError> {
    let cents = |money: &Exact| {
        let cents = money.mul(&Exact::from(100))?.to_i64();
        let cents = cents.and_then(|c| u64::try_from(c).ok());
        cents.ok_or(NumError::TooManyDigits)
    };
    Ok(Rates {
        day: cents(&hire.day)?,
        week: hire.week.as_ref().map(cents).transpose()?,
        four_weeks: hire.four_weeks.as_ref().map(cents).transpose()?,
    })
}

impl Schedule {
    /// The values of a version's spans as the evaluator takes them; those of other versions are none.
    pub fn span_values(&self, program: &Program, version: usize) -> Vec<Option<Exact>> {
        let values = program.spans.iter().zip(&self.spans);
        values
            .map(|(def, span)| {
                let days = i64::try_from(span.days).ok()?;
                // Base units: a day of the calendar, a working day.
                (def.version == version).then(|| Exact::from(days))
            })
            .collect()
    }

    /// First day of one phase and last day of another, in an area or in the whole job; none where either has no work.
    pub fn between(&self, from: PhaseId, to: PhaseId, area: Option<usize>) -> Option<(i32, i32)> {
        let of = |phase: PhaseId| {
            self.phases
                .iter()
                .filter(move |p| p.phase == phase && area.is_none_or(|a| p.area == a))
        };
        let first = of(from).map(|p| p.start().day()).min()?;
        let last = of(to).map(|p| p.finish().last_day()).max()?;
        (first <= last).then_some((first, last))
    }
}

fn wait(after: usize, before: usize, least: Option<(WaitKind, i64)>) -> Wait {
    let (kind, least) = least.unwrap_or((WaitKind::Elapsed, 0));
    Wait {
        after,
        before,
        kind,
        least,
        most: None,
    }
}

fn minutes(time: WaitTime, per_day: i64) -> (WaitKind, i64) {
    match time {
        WaitTime::Elapsed(minutes) => (WaitKind::Elapsed, minutes),
        WaitTime::WorkDays(days) => (WaitKind::Working, days.saturating_mul(per_day)),
    }
}

fn hours(minutes: i64) -> String {
    if minutes % DAY == 0 {
        format!("{} days", minutes / DAY)
    } else {
        format!("{} hours", minutes / 60)
    }
}

fn clock_fault(fault: &ClockFault, at: Option<Span>, phase: &str) -> Diagnostic {
    let d = match fault {
        ClockFault::NoHours => Diagnostic::error("OV-643", "no day of the week is worked")
            .expected("`worked monday to friday` and hours such as `hours 8:00 to 16:00`"),
        ClockFault::NoDays => {
            Diagnostic::error("OV-643", format!("no day is left for \"{phase}\""))
                .found("every working day is a holiday, closed, lost, or out of season")
                .expected("at least one working day")
        }
        ClockFault::TooLong => Diagnostic::error(
            "OV-648",
            format!("\"{phase}\" does not end within thirty years"),
        )
        .mend("check the hours of its takes, or add crews"),
        ClockFault::SeasonTooShort { work, season } => Diagnostic::error(
            "OV-648",
            format!("\"{phase}\" of one area is longer than its season"),
        )
        .found(format!("{} hours of work", work / 60))
        .expected(format!("at most {} hours, the longest season", season / 60))
        .mend("take out `whole`, or add people to the crew"),
    };
    match at {
        Some(span) => d.at(span, ""),
        None => d,
    }
}
