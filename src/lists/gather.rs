//! The rows of a list with what stands in them, before order and sums.

use super::answers::{self, Given};
use super::bid::{self, BidRow};
use super::papers::Made;
use super::weeks;
use crate::calendar::clock::date_of;
use crate::eval::Cell;
use crate::ids;
use crate::number::Exact;
use crate::prices::is_own;
use crate::pricing::StockPick;
use crate::program::{
    DecideDef, Field, Grain, ListDef, ListKey, ListOver, ListShows, NodeId, PartDef, Program,
    ResourceClass, ResourceId, Ty, ValueKind,
};
use crate::schedule::Schedule;
use crate::show::{cell_text, row_name, rows, template_text};
use crate::syntax::tree::Side;
use crate::takeoff::PartAt;
use crate::units::{Dim, UnitExpr};
use foldhash::HashMap;

/// What stands in a cell, before it is printed. Numbers are in base units where their column has a unit.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Got {
    Blank,
    Text(String),
    Number(Exact),
    /// A day, counted from 1970-01-01.
    Day(i32),
    Unknown(String),
    Tick,
    Room,
}

impl Got {
    /// As the name of a group or of a paper.
    pub(super) fn words(&self) -> String {
        match self {
            Got::Text(text) | Got::Unknown(text) => text.clone(),
            Got::Number(n) => n.to_decimal(4).0,
            Got::Day(day) => date_of(*day).to_string(),
            Got::Blank | Got::Tick | Got::Room => "none".to_owned(),
        }
    }
}

/// Work of more steps names the first of them, so that a week of a wing can be taken in at a glance.
const MOST_NOTES: usize = 4;

/// A row of a list.
pub(super) struct Line {
    /// One for each column.
    pub(super) cells: Vec<Got>,
    /// One for each group.
    pub(super) groups: Vec<Got>,
    /// One for each key of the order.
    pub(super) sorts: Vec<Got>,
    /// What the paper is parted by.
    pub(super) each: Vec<Got>,
    /// The rows it stands at; none where it stands for the whole job.
    pub(super) rows: Vec<(Grain, usize)>,
}

/// Where a row stands.
enum At<'a> {
    Row(Grain, usize),
    Part(&'a PartAt, Grain),
    /// A member of a row, made or kept.
    Member(&'a PartAt, Grain),
    /// A take, its row in the main table where it has one, and the amount in base units.
    Take(usize, Option<usize>, Exact),
    /// Takes of one trade in one phase on one row in one week.
    Work(Work),
    Purchase(usize),
    Activity(&'a Schedule, usize, usize),
    /// An activity in the week of a Monday.
    Week(&'a Schedule, (usize, usize), i32),
    Hire(&'a Schedule, usize),
    /// A piece of stock on hand that a cut plan uses.
    Pick(ResourceId, &'a StockPick),
    /// Something of the bid.
    Bid(BidRow),
    /// A treatment decided by hand.
    Answer(Given),
}

/// What one trade does in one phase on a row, or for the whole job, in one week.
struct Work {
    takes: Vec<usize>,
    row: Option<usize>,
    labor: Exact,
    monday: Option<i32>,
}

/// What orders hold of what is bought and hired.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(super) enum Ordered {
    /// All that others supply.
    All,
    /// That without what is hired by the calendar: the order lists hires, and one thing is not ordered twice.
    HiresApart,
}

/// What the rows of a list are parted by.
#[derive(Clone, Copy)]
pub(super) enum By<'a> {
    /// Nothing.
    Nothing,
    /// Values together.
    Keys(&'a [ListKey]),
    /// Values together, of what is ordered.
    Ordered(&'a [ListKey], Ordered),
    /// The row they belong to.
    Row(Grain),
}

/// The rows of a list over the rows of a grain, one after another, with what adds up and nothing else.
pub(super) fn each_sum<'a>(
    made: &'a Made<'_>,
    list: &'a ListDef,
    grain: Grain,
) -> impl Iterator<Item = Line> + 'a {
    let places = (0..rows(made.tables, made.results, grain)).map(move |row| At::Row(grain, row));
    let held = places.filter(|at| made.holds(&list.filter, at));
    held.map(|at| Line {
        cells: list
            .columns
            .iter()
            .map(|c| match c.total {
                true => made.shown(&c.shows, &at),
                false => Got::Blank,
            })
            .collect(),
        groups: Vec::new(),
        sorts: Vec::new(),
        each: Vec::new(),
        rows: Vec::new(),
    })
}

/// The rows of a list.
pub(super) fn lines(made: &Made<'_>, list: &ListDef, by: By<'_>) -> Vec<Line> {
    let mut out = Vec::new();
    for at in places(made, list.over) {
        if !made.holds(&list.filter, &at) {
            continue;
        }
        if let By::Ordered(_, ordered) = by
            && !made.is_ordered(&at, ordered)
        {
            continue;
        }
        let cells = list.columns.iter().map(|c| made.shown(&c.shows, &at));
        out.push(Line {
            cells: cells.collect(),
            groups: list.groups.iter().map(|(k, _)| made.key(k, &at)).collect(),
            sorts: list.sorts.iter().map(|(k, ..)| made.key(k, &at)).collect(),
            each: match by {
                By::Nothing => Vec::new(),
                By::Keys(keys) | By::Ordered(keys, _) => {
                    keys.iter().map(|key| made.key(key, &at)).collect()
                }
                By::Row(grain) => vec![made.owner(&at, grain).map_or(Got::Blank, row_number)],
            },
            rows: made.stands(&at).into_iter().collect(),
        });
    }
    out
}

fn places<'a>(made: &'a Made<'_>, over: ListOver) -> Vec<At<'a>> {
    let of_class = |id: ResourceId, class: Option<ResourceClass>| {
        class.is_none_or(|c| made.version.resources[id].class == c)
    };
    match over {
        ListOver::Rows(grain) => {
            let count = rows(made.tables, made.results, grain);
            (0..count).map(|row| At::Row(grain, row)).collect()
        }
        ListOver::Parts(class) => {
            let parts = made.parts.at.iter().filter_map(|at| {
                let part = made.version.parts.get(at.part)?;
                of_class(part.resource, class).then_some(At::Part(at, part.grain))
            });
            parts.collect()
        }
        ListOver::Members => {
            let members = made.members().into_iter();
            members.map(|(at, grain)| At::Member(at, grain)).collect()
        }
        ListOver::Answers => answers::given(made).into_iter().map(At::Answer).collect(),
        ListOver::Takes(class) => {
            let mut out = Vec::new();
            for (at, take) in made.version.takes.iter().enumerate() {
                if of_class(take.resource, class) {
                    take_rows(made, at, &mut out);
                }
            }
            out
        }
        ListOver::Work => work(made),
        ListOver::Purchases(class) => {
            let buys = made.estimate.buys.iter().enumerate();
            let of = buys.filter(|(_, b)| class.is_none_or(|c| b.class == c));
            of.map(|(at, _)| At::Purchase(at)).collect()
        }
        ListOver::Activities => {
            let Some(plan) = made.estimate.schedule.as_deref() else {
                return Vec::new();
            };
            let phases = plan.phases.iter().enumerate();
            phases
                .flat_map(|(p, phase)| {
                    (0..phase.activities.len()).map(move |a| At::Activity(plan, p, a))
                })
                .collect()
        }
        ListOver::Weeks => {
            let plan = made.estimate.schedule.as_deref();
            let phases = plan.iter().flat_map(|plan| {
                let phases = plan.phases.iter().enumerate();
                phases.map(move |(p, phase)| (*plan, p, phase))
            });
            let activities = phases.flat_map(|(plan, p, phase)| {
                let each = phase.activities.iter().enumerate();
                each.map(move |(a, activity)| (plan, (p, a), activity))
            });
            activities
                .flat_map(|(plan, at, activity)| {
                    let mondays = activity.mondays().into_iter();
                    mondays.map(move |monday| At::Week(plan, at, monday))
                })
                .collect()
        }
        ListOver::Hires => {
            let Some(plan) = made.estimate.schedule.as_deref() else {
                return Vec::new();
            };
            (0..plan.hires.len()).map(|h| At::Hire(plan, h)).collect()
        }
        ListOver::Picks => {
            let plans = made.estimate.cut_plans.iter();
            plans
                .flat_map(|c| {
                    let resource = made.version.resources.id_of(|r| r.name == c.name);
                    let picks = c.plan.iter().flat_map(|p| &p.picks);
                    picks.filter_map(move |pick| Some(At::Pick(resource?, pick)))
                })
                .collect()
        }
        ListOver::Items(by) => bid_rows(bid::items_of(made, by)),
        ListOver::Alternates => bid_rows(bid::alternates_of(made)),
        ListOver::Months => bid_rows(bid::months_of(made)),
        ListOver::Changes => bid_rows(bid::changes_of(made)),
    }
}

/// Labor takes of one trade in one phase, row and week put together, in the order of the sheets; what runs over several weeks has its
/// part in each.
fn work<'a>(made: &'a Made<'_>) -> Vec<At<'a>> {
    let mut all = Vec::new();
    for (at, take) in made.version.takes.iter().enumerate() {
        if made.version.resources[take.resource].class == ResourceClass::Labor {
            take_rows(made, at, &mut all);
        }
    }
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
    out.into_iter().map(At::Work).collect()
}

/// The rows of the main table on which a take takes something; one row for the job where it can't be said by row.
fn take_rows(made: &Made<'_>, at: usize, out: &mut Vec<At<'_>>) {
    let Some(take) = made.version.takes.get(at) else {
        return;
    };
    let number = |node: NodeId, row: usize| match made.results.value(node, row) {
        Cell::Number(n) => n,
        Cell::Truth(_) | Cell::Label(_) | Cell::Text(_) | Cell::Absent(_) | Cell::Fault(_) => {
            Exact::ZERO
        }
    };
    let main = made.program.main_table();
    match take.plan.by_row.zip(main) {
        Some((node, main)) => {
            for row in 0..rows(made.tables, made.results, Grain::Table(main)) {
                let amount = number(node, row);
                if !amount.is_zero() {
                    out.push(At::Take(at, Some(row), amount));
                }
            }
        }
        None => {
            let amount = number(take.plan.total, 0);
            if !amount.is_zero() {
                out.push(At::Take(at, None, amount));
            }
        }
    }
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

impl Made<'_> {
    fn holds(&self, filter: &[(Grain, NodeId)], at: &At<'_>) -> bool {
        if filter.is_empty() {
            return true;
        }
        matches!(self.value(filter, at), Some((_, Cell::Truth(true))))
    }

    /// Whether others are asked to supply it, and in this list.
    fn is_ordered(&self, at: &At<'_>, ordered: Ordered) -> bool {
        let from = match at {
            At::Purchase(_) | At::Part(..) | At::Hire(..) => self.field(Field::Supplier, at),
            At::Row(..)
            | At::Member(..)
            | At::Take(..)
            | At::Work(_)
            | At::Activity(..)
            | At::Week(..)
            | At::Pick(..)
            | At::Bid(_)
            | At::Answer(_) => return true,
        };
        let hired = |at: &usize| {
            let buy = self.estimate.buys.get(*at);
            let plan = self.estimate.schedule.as_deref();
            let mut hires = plan.iter().flat_map(|p| &p.hires);
            buy.is_some_and(|b| hires.any(|h| h.resource == Some(b.resource)))
        };
        let twice = ordered == Ordered::HiresApart && matches!(at, At::Purchase(at) if hired(at));
        !twice && !matches!(from, Got::Text(name) if is_own(&name))
    }

    /// The value of a formula where a row stands; none where the row stands for the whole job.
    fn value(&self, nodes: &[(Grain, NodeId)], at: &At<'_>) -> Option<(NodeId, Cell)> {
        let (grain, row) = self.stands(at)?;
        let (_, node) = nodes.iter().find(|(g, _)| *g == grain)?;
        Some((*node, self.results.value(*node, row)))
    }

    fn key(&self, key: &ListKey, at: &At<'_>) -> Got {
        match key {
            ListKey::Own(field) => self.field(*field, at),
            ListKey::Formula(nodes) => match self.value(nodes, at) {
                None => Got::Text("whole job".to_owned()),
                Some((node, cell)) => self.got(node, cell),
            },
        }
    }

    /// The value of a key at a row of a grain.
    pub(super) fn key_of_row(&self, key: &ListKey, grain: Grain, row: usize) -> Got {
        self.key(key, &At::Row(grain, row))
    }

    fn got(&self, node: NodeId, cell: Cell) -> Got {
        let point = matches!(self.program.node(node).ty, crate::program::Ty::Point(_));
        match cell {
            Cell::Number(n) if !point => Got::Number(n),
            Cell::Absent(crate::table::Absence::Blank) => Got::Unknown("not noted".to_owned()),
            Cell::Absent(_) | Cell::Fault(_) => {
                Got::Unknown(cell_text(self.program, node, &cell, None))
            }
            Cell::Number(_) | Cell::Truth(_) | Cell::Label(_) | Cell::Text(_) => {
                Got::Text(paper_text(self.program, node, &cell, None))
            }
        }
    }

    fn shown(&self, shows: &ListShows, at: &At<'_>) -> Got {
        let (id, basis) = match shows {
            // A value of a row is nothing for the whole job.
            ListShows::Key(ListKey::Formula(_)) if self.stands(at).is_none() => return Got::Blank,
            ListShows::Key(key) => return self.key(key, at),
            ListShows::Tick => return Got::Tick,
            ListShows::Room => return Got::Room,
            ListShows::Reason(id) => (id, false),
            ListShows::Basis(id) => (id, true),
        };
        let At::Row(_, row) = at else {
            return Got::Blank;
        };
        let value = self.version.values.get(id.index());
        let Some(ValueKind::Decide(decide)) = value.map(|v| &v.kind) else {
            return Got::Blank;
        };
        self.line_of(decide, *row, basis)
    }

    fn field(&self, field: Field, at: &At<'_>) -> Got {
        match at {
            At::Row(grain, row) => match field == Field::Marks {
                true => self.name_of(*grain, *row),
                false => Got::Blank,
            },
            At::Part(part, _) | At::Member(part, _) => self.of_part(field, part),
            At::Take(take, row, amount) => self.of_take(field, *take, *row, amount),
            At::Work(work) => self.of_work(field, work),
            At::Purchase(buy) => self.of_purchase(field, *buy),
            At::Activity(plan, phase, activity) => self.of_activity(field, plan, *phase, *activity),
            At::Week(plan, (phase, at), monday) => {
                self.of_week(field, plan, (*phase, *at), *monday)
            }
            At::Hire(plan, hire) => self.of_hire(field, plan, *hire),
            At::Pick(resource, pick) => self.of_pick(field, *resource, pick),
            At::Bid(row) => row.field(field),
            At::Answer(given) => of_answer(field, given),
        }
    }

    /// The key of a row.
    fn name_of(&self, grain: Grain, row: usize) -> Got {
        let name = row_name(self.program, self.tables, self.results, grain, row);
        Got::Text(name.unwrap_or_default())
    }

    pub(super) fn called(&self, id: ResourceId) -> String {
        let def = &self.version.resources[id];
        let called = def.called.clone();
        called.unwrap_or_else(|| def.name.replace('_', " "))
    }

    #[expect(
        clippy::wildcard_enum_match_arm,
        reason = "the checker gives a list the fields of its rows alone; any other would be blank"
    )]
    fn of_part(&self, field: Field, at: &PartAt) -> Got {
        let Some(def) = self.version.parts.get(at.part) else {
            return Got::Blank;
        };
        let size = |side: Side| at.size(side);
        let words = |text: &Option<std::sync::Arc<str>>| {
            let text = text.as_ref().map(|t| t.replace('_', " "));
            text.map_or(Got::Blank, Got::Text)
        };
        match field {
            Field::Mark | Field::Marks => Got::Text(at.key.to_string()),
            Field::Part => Got::Text(def.name.replace('_', " ")),
            Field::Resource => Got::Text(self.called(def.resource)),
            Field::Phase => Got::Text(self.program.phases[def.phase].clone()),
            Field::Note => def.note.clone().map_or(Got::Blank, Got::Text),
            Field::Supplier => self.supplier_of(def.resource),
            Field::Pieces => {
                i64::try_from(at.count).map_or(Got::Blank, |n| Got::Number(Exact::int(n)))
            }
            Field::Size(side) => size(side).map_or(Got::Blank, |s| Got::Number(s.finished.clone())),
            Field::Rough(side) => size(side).map_or(Got::Blank, |s| Got::Number(s.rough.clone())),
            Field::Member => words(&at.member),
            Field::Decayed => at.decayed.clone().map_or(Got::Blank, Got::Number),
            Field::Reason | Field::Basis => self.member_reason(def, at.row, field),
            Field::Treatment => words(&at.treatment),
            Field::Profile => words(&at.profile),
            _ => Got::Blank,
        }
    }

    /// Why a member is treated as it is, or what that rests on.
    fn member_reason(&self, def: &PartDef, row: usize, field: Field) -> Got {
        let decide = def
            .treatment
            .and_then(|node| super::decision(self.version, node));
        let Some(decide) = decide else {
            return Got::Blank;
        };
        self.line_of(decide, row, field == Field::Basis)
    }

    /// The reason of the line of a decision that holds at a row, or what it rests on.
    fn line_of(&self, decide: &DecideDef, row: usize, basis: bool) -> Got {
        let line = match self.results.value(decide.line, row) {
            Cell::Label(line) => decide.lines.get(usize::from(line)),
            Cell::Number(_) | Cell::Truth(_) | Cell::Text(_) | Cell::Absent(_) | Cell::Fault(_) => {
                None
            }
        };
        match (line, basis) {
            (None, _) => Got::Unknown("unknown".to_owned()),
            (Some(line), true) => line.rests_on.clone().map_or(Got::Blank, Got::Text),
            (Some(line), false) => Got::Text(template_text(
                self.program,
                &line.because,
                self.results,
                row,
            )),
        }
    }

    /// The row of a coarser grain that a row belongs to.
    fn owner(&self, at: &At<'_>, of: Grain) -> Option<usize> {
        self.row_above(self.stands(at)?, of)
    }

    /// The row that something stands at; none where it stands for the whole job.
    fn stands(&self, at: &At<'_>) -> Option<(Grain, usize)> {
        match at {
            At::Row(grain, row) => Some((*grain, *row)),
            At::Part(part, grain) | At::Member(part, grain) => Some((*grain, part.row)),
            At::Take(_, row, _) | At::Work(Work { row, .. }) => {
                Some((Grain::Table(self.program.main_table()?), (*row)?))
            }
            At::Activity(plan, phase, _) | At::Week(plan, (phase, _), _) => {
                self.area_of(plan.phases.get(*phase)?.area)
            }
            At::Purchase(_) | At::Hire(..) | At::Pick(..) | At::Bid(_) | At::Answer(_) => None,
        }
    }

    /// The row of a coarser grain that a row of another belongs to.
    pub(super) fn row_above(&self, (grain, row): (Grain, usize), of: Grain) -> Option<usize> {
        if grain == of {
            return Some(row);
        }
        let Grain::Table(table) = grain else {
            return None;
        };
        if let Grain::Group(group) = of
            && self.program.groups.get(group)?.of == table
        {
            let groups = self.results.groups(group)?;
            return groups.of_row.get(row).map(|g| ids::at(*g));
        }
        let parent = self.program.tables.get(table)?.parent?;
        let rows = self.tables.get(table.index())?.parent_rows.as_ref()?;
        let above = ids::at(*rows.get(row)?);
        self.row_above((Grain::Table(parent), above), of)
    }

    #[expect(
        clippy::wildcard_enum_match_arm,
        reason = "the checker gives a list the fields of its rows alone; any other would be blank"
    )]
    fn of_take(&self, field: Field, at: usize, row: Option<usize>, amount: &Exact) -> Got {
        let Some(take) = self.version.takes.get(at) else {
            return Got::Blank;
        };
        let unit = &self.version.resources[take.resource].unit;
        match field {
            Field::Mark | Field::Marks => match (row, self.program.main_table()) {
                (Some(row), Some(main)) => self.name_of(Grain::Table(main), row),
                _ => Got::Text("whole job".to_owned()),
            },
            Field::Resource => Got::Text(self.called(take.resource)),
            Field::Phase => Got::Text(self.program.phases[take.phase].clone()),
            Field::Note => take.note.clone().map_or(Got::Blank, Got::Text),
            Field::Week => weeks::week(self.monday(at, row)),
            Field::Amount => unit.from_base(amount).map_or(Got::Blank, Got::Number),
            Field::Hours => Got::Number(amount.clone()),
            Field::Unit => Got::Text(unit.text(&self.program.nouns)),
            _ => Got::Blank,
        }
    }

    fn of_work(&self, field: Field, work: &Work) -> Got {
        let Some(first) = work.takes.first() else {
            return Got::Blank;
        };
        if field == Field::Week {
            return weeks::week(work.monday);
        }
        if field != Field::Note {
            return self.of_take(field, *first, work.row, &work.labor);
        }
        let mut notes: Vec<&str> = Vec::new();
        for take in work
            .takes
            .iter()
            .filter_map(|at| self.version.takes.get(*at))
        {
            notes.extend(take.note.as_deref().filter(|n| !notes.contains(n)));
        }
        if notes.len() > MOST_NOTES {
            notes.truncate(MOST_NOTES - 1);
            notes.push("and what follows");
        }
        Got::Text(notes.join("; "))
    }
}

#[expect(
    clippy::wildcard_enum_match_arm,
    reason = "the checker gives a list the fields of its rows alone; any other would be blank"
)]
fn of_answer(field: Field, given: &Given) -> Got {
    let text = match field {
        Field::Mark => &given.mark,
        Field::Member => &given.member,
        Field::Proposed => &given.proposed,
        Field::Treatment => &given.treatment,
        Field::Reason => &given.reason,
        Field::DecidedBy => &given.by,
        Field::DecidedOn => &given.on,
        _ => return Got::Blank,
    };
    Got::Text(text.clone())
}

pub(super) fn date(day: i32) -> Got {
    Got::Day(day)
}

fn bid_rows<'a>(rows: Vec<BidRow>) -> Vec<At<'a>> {
    rows.into_iter().map(At::Bid).collect()
}

pub(super) fn cents(cents: i128) -> Got {
    let hundred = Exact::int(100);
    Exact::from_i128(cents)
        .div(&hundred)
        .map_or(Got::Blank, Got::Number)
}

/// A value as it stands on paper: labels are names of a sheet, and on paper they are words.
pub(super) fn paper_text(
    program: &Program,
    node: NodeId,
    cell: &Cell,
    unit: Option<&UnitExpr>,
) -> String {
    let text = cell_text(program, node, cell, unit);
    match cell {
        Cell::Label(_) => text.replace('_', " "),
        Cell::Number(n) => {
            let length =
                matches!(&program.node(node).ty, Ty::Number(ty) if ty.dim == Dim::length(1));
            let metric = length && text.starts_with('≈') && text.ends_with(" in");
            let metric = metric.then(|| super::table::in_millimeters(n)).flatten();
            metric.unwrap_or(text)
        }
        Cell::Truth(_) | Cell::Text(_) | Cell::Absent(_) | Cell::Fault(_) => text,
    }
}

/// A row as what rows of a list are parted by.
pub(super) fn row_number(row: usize) -> Got {
    i64::try_from(row).map_or(Got::Blank, |n| Got::Number(Exact::int(n)))
}
