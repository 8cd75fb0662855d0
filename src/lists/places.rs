//! Where the rows of a list are, one after another: rows of tables, parts, takes, purchases, days, items of the bid.

use super::answers::{self, Given};
use super::bid::{self, BidRow};
use super::papers::Made;
use crate::number::Exact;
use crate::pricing::StockPick;
use crate::program::{Grain, ListOver, ResourceClass, ResourceId};
use crate::schedule::Schedule;
use crate::show::rows;
use crate::takeoff::PartAt;
use foldhash::HashMap;

/// Where a row is. There may be a million of them, so what is large is boxed.
pub(super) enum At<'a> {
    Row(Grain, usize),
    Part(&'a PartAt, Grain),
    /// A member of a row, made or kept.
    Member(&'a PartAt, Grain),
    /// A take, its row in the main table where it has one, and the amount in base units.
    Take(usize, Option<usize>, Exact),
    /// Takes of one trade in one phase on one row in one week.
    Work(Box<Work>),
    Purchase(usize),
    Activity(&'a Schedule, usize, usize),
    /// An activity in the week of a Monday.
    Week(&'a Schedule, (usize, usize), i32),
    Hire(&'a Schedule, usize),
    /// A piece of stock on hand that a cut plan uses.
    Pick(ResourceId, &'a StockPick),
    /// Something of the bid.
    Bid(Box<BidRow>),
    /// A treatment decided by hand.
    Answer(Box<Given>),
}

/// What one trade does in one phase on a row, or for the whole job, in one week.
pub(super) struct Work {
    pub(super) takes: Vec<usize>,
    pub(super) row: Option<usize>,
    pub(super) labor: Exact,
    pub(super) monday: Option<i32>,
}

/// All that a list may have a row for, before its filter.
pub(super) fn places<'a>(
    made: &'a Made<'_>,
    over: ListOver,
) -> Box<dyn Iterator<Item = At<'a>> + 'a> {
    let of_class = |id: ResourceId, class: Option<ResourceClass>| {
        class.is_none_or(|c| made.version.resources[id].class == c)
    };
    let plan = made.estimate.schedule.as_deref();
    match over {
        ListOver::Rows(grain) => {
            let count = rows(made.tables, made.results, grain);
            Box::new((0..count).map(move |row| At::Row(grain, row)))
        }
        ListOver::Parts(class) => Box::new(made.parts.at.iter().filter_map(move |at| {
            let part = made.version.parts.get(at.part)?;
            of_class(part.resource, class).then_some(At::Part(at, part.grain))
        })),
        ListOver::Members => {
            let members = made.members().into_iter();
            Box::new(members.map(|(at, grain)| At::Member(at, grain)))
        }
        ListOver::Answers => {
            let given = answers::given(made).into_iter();
            Box::new(given.map(|given| At::Answer(Box::new(given))))
        }
        ListOver::Takes(class) => {
            let takes = made.version.takes.iter().enumerate();
            let of = takes.filter(move |(_, take)| of_class(take.resource, class));
            Box::new(of.flat_map(|(at, _)| take_rows(made, at)))
        }
        ListOver::Work => Box::new(work(made).into_iter()),
        ListOver::Purchases(class) => {
            let buys = made.estimate.buys.iter().enumerate();
            let of = buys.filter(move |(_, b)| class.is_none_or(|c| b.class == c));
            Box::new(of.map(|(at, _)| At::Purchase(at)))
        }
        ListOver::Activities => {
            let phases = plan.into_iter().flat_map(|plan| {
                let phases = plan.phases.iter().enumerate();
                phases.map(move |(p, phase)| (plan, p, phase.activities.len()))
            });
            Box::new(
                phases
                    .flat_map(|(plan, p, count)| (0..count).map(move |a| At::Activity(plan, p, a))),
            )
        }
        ListOver::Weeks => Box::new(plan.into_iter().flat_map(weeks)),
        ListOver::Hires => Box::new(
            plan.into_iter()
                .flat_map(|plan| (0..plan.hires.len()).map(move |h| At::Hire(plan, h))),
        ),
        ListOver::Picks => Box::new(made.estimate.cut_plans.iter().flat_map(|c| {
            let resource = made.version.resources.id_of(|r| r.name == c.name);
            let picks = c.plan.iter().flat_map(|p| &p.picks);
            picks.filter_map(move |pick| Some(At::Pick(resource?, pick)))
        })),
        ListOver::Items(by) => bid_rows(bid::items_of(made, by)),
        ListOver::Alternates => bid_rows(bid::alternates_of(made)),
        ListOver::Months => bid_rows(bid::months_of(made)),
        ListOver::Changes => bid_rows(bid::changes_of(made)),
    }
}

/// Each activity in each of its weeks.
fn weeks(plan: &Schedule) -> impl Iterator<Item = At<'_>> {
    let phases = plan.phases.iter().enumerate();
    let activities = phases.flat_map(|(p, phase)| {
        let each = phase.activities.iter().enumerate();
        each.map(move |(a, activity)| ((p, a), activity))
    });
    activities.flat_map(move |(at, activity)| {
        let mondays = activity.mondays().into_iter();
        mondays.map(move |monday| At::Week(plan, at, monday))
    })
}

/// Labor takes of one trade in one phase, row and week put together, in the order of the sheets; what runs over several weeks has its
/// part in each.
fn work<'a>(made: &'a Made<'_>) -> Vec<At<'a>> {
    let takes = made.version.takes.iter().enumerate();
    let labor = takes
        .filter(|(_, take)| made.version.resources[take.resource].class == ResourceClass::Labor);
    let all = labor.flat_map(|(at, _)| take_rows(made, at));
    let mut out: Vec<Work> = Vec::new();
    let mut known = HashMap::default();
    for at in all {
        let At::Take(at, row, amount) = at else {
            continue;
        };
        let take = &made.version.takes[at];
        let weeks = made.weeks_of(at, row).iter().cloned();
        let mut weeks: Vec<(Option<i32>, Exact)> = weeks.map(|(m, n)| (Some(m), n)).collect();
        if weeks.is_empty() {
            weeks.push((None, amount));
        }
        for (monday, labor) in weeks {
            let key = (row, take.phase, take.resource, monday);
            let first = known.get(&key).and_then(|n: &usize| out.get_mut(*n));
            if let Some(work) = first
                && let Ok(more) = work.labor.add(&labor)
            {
                work.takes.push(at);
                work.labor = more;
                continue;
            }
            known.insert(key, out.len());
            out.push(Work {
                takes: vec![at],
                row,
                labor,
                monday,
            });
        }
    }
    out.into_iter()
        .map(|work| At::Work(Box::new(work)))
        .collect()
}

/// The rows of the main table on which a take takes something; one row for the job where it can't be said by row.
fn take_rows<'a>(made: &'a Made<'_>, at: usize) -> impl Iterator<Item = At<'a>> + 'a {
    let plan = made.version.takes.get(at).map(|take| &take.plan);
    let by_row = plan
        .and_then(|plan| plan.by_row)
        .zip(made.program.main_table());
    let node = by_row.map(|(node, _)| node).or(plan.map(|plan| plan.total));
    let count = match by_row {
        Some((_, main)) => rows(made.tables, made.results, Grain::Table(main)),
        None => 1,
    };
    (0..count).filter_map(move |row| {
        let amount = made.results.nonzero(node?, row)?;
        Some(At::Take(at, by_row.map(|_| row), amount))
    })
}

impl Made<'_> {
    /// Members of rows, made or kept, in the order of the sheets.
    pub(super) fn members(&self) -> Vec<(&PartAt, Grain)> {
        let members = self.parts.at.iter().chain(&self.parts.kept);
        let named = members.filter_map(|at| {
            let part = self.version.parts.get(at.part)?;
            // Goods that go with a member, such as cords, are no member: nothing becomes of them.
            let said = at.member.is_some() && at.treatment.is_some();
            said.then_some((at, part.grain))
        });
        let mut out: Vec<(&PartAt, Grain)> = named.collect();
        out.sort_by_key(|(at, _)| (at.part, at.row));
        out
    }
}

fn bid_rows<'a>(rows: Vec<BidRow>) -> Box<dyn Iterator<Item = At<'a>> + 'a> {
    Box::new(rows.into_iter().map(|row| At::Bid(Box::new(row))))
}
