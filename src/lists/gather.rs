//! The rows of a list with what stands in them, before order and sums.

use super::answers::{self, Given};
use super::bid::{self, BidRow};
use super::papers::Made;
use crate::calendar::clock::date_of;
use crate::eval::Cell;
use crate::number::Exact;
use crate::program::{
    DecideDef, Field, Grain, ListDef, ListKey, ListOver, ListShows, NodeId, PartDef, Program,
    ResourceClass, ResourceId, ValueKind,
};
use crate::schedule::Schedule;
use crate::show::{cell_text, rows, template_text};
use crate::syntax::tree::Side;
use crate::takeoff::PartAt;
use crate::units::UnitExpr;

/// What stands in a cell, before it is printed. Numbers are in base units where their column has a unit.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Got {
    Blank,
    Text(String),
    Number(Exact),
    Unknown(String),
    Tick,
    Room,
}

/// A row of a list.
pub(super) struct Line {
    /// One for each column.
    pub(super) cells: Vec<Got>,
    /// One for each group.
    pub(super) groups: Vec<Got>,
    /// One for each key of the order.
    pub(super) sorts: Vec<Got>,
    /// What the paper is parted by.
    pub(super) each: Option<Got>,
}

/// Where a row stands.
enum At<'a> {
    Row(Grain, usize),
    Part(&'a PartAt, Grain),
    /// A member of a row, made or kept.
    Member(&'a PartAt, Grain),
    /// A take, its row in the main table where it has one, and the amount in base units.
    Take(usize, Option<usize>, Exact),
    Purchase(usize),
    Activity(&'a Schedule, usize, usize),
    Hire(&'a Schedule, usize),
    /// Something of the bid.
    Bid(BidRow),
    /// A treatment decided by hand.
    Answer(Given),
}

/// What the rows of a list are parted by.
#[derive(Clone, Copy)]
pub(super) enum By<'a> {
    /// Nothing.
    Nothing,
    /// A value.
    Key(&'a ListKey),
    /// The row they belong to.
    Row(Grain),
}

/// The rows of a list.
pub(super) fn lines(made: &Made<'_>, list: &ListDef, by: By<'_>) -> Vec<Line> {
    let mut out = Vec::new();
    for at in places(made, list.over) {
        if !made.holds(&list.filter, &at) {
            continue;
        }
        let cells = list.columns.iter().map(|c| made.shown(&c.shows, &at));
        out.push(Line {
            cells: cells.collect(),
            groups: list.groups.iter().map(|(k, _)| made.key(k, &at)).collect(),
            sorts: list.sorts.iter().map(|(k, ..)| made.key(k, &at)).collect(),
            each: match by {
                By::Nothing => None,
                By::Key(key) => Some(made.key(key, &at)),
                By::Row(grain) => Some(made.owner(&at, grain).map_or(Got::Blank, row_number)),
            },
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
        ListOver::Hires => {
            let Some(plan) = made.estimate.schedule.as_deref() else {
                return Vec::new();
            };
            (0..plan.hires.len()).map(|h| At::Hire(plan, h)).collect()
        }
        ListOver::Items(by) => bid_rows(bid::items_of(made, by)),
        ListOver::Alternates => bid_rows(bid::alternates_of(made)),
        ListOver::Months => bid_rows(bid::months_of(made)),
        ListOver::Changes => bid_rows(bid::changes_of(made)),
    }
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

    /// The value of a formula where a row stands; none where the row stands for the whole job.
    fn value(&self, nodes: &[(Grain, NodeId)], at: &At<'_>) -> Option<(NodeId, Cell)> {
        let (grain, row) = match at {
            At::Row(grain, row) => (*grain, *row),
            At::Part(part, grain) | At::Member(part, grain) => (*grain, part.row),
            At::Take(_, row, _) => (Grain::Table(self.program.main_table()?), (*row)?),
            At::Purchase(_) | At::Activity(..) | At::Hire(..) | At::Bid(_) | At::Answer(_) => {
                return None;
            }
        };
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
            At::Row(..) => Got::Blank,
            At::Part(part, _) | At::Member(part, _) => self.of_part(field, part),
            At::Take(take, row, amount) => self.of_take(field, *take, *row, amount),
            At::Purchase(buy) => self.of_purchase(field, *buy),
            At::Activity(plan, phase, activity) => self.of_activity(field, plan, *phase, *activity),
            At::Hire(plan, hire) => of_hire(field, plan, *hire),
            At::Bid(row) => row.field(field),
            At::Answer(given) => of_answer(field, given),
        }
    }

    fn called(&self, id: ResourceId) -> String {
        let def = &self.version.resources[id];
        let called = def.called.clone();
        called.unwrap_or_else(|| def.name.replace('_', " "))
    }

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
            Field::Mark => Got::Text(at.key.to_string()),
            Field::Part => Got::Text(def.name.replace('_', " ")),
            Field::Resource => Got::Text(self.called(def.resource)),
            Field::Phase => Got::Text(self.program.phases[def.phase].clone()),
            Field::Note => def.note.clone().map_or(Got::Blank, Got::Text),
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
            _ => None,
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
        let (grain, row) = match at {
            At::Row(grain, row) => (*grain, *row),
            At::Part(part, grain) | At::Member(part, grain) => (*grain, part.row),
            At::Take(_, row, _) => (Grain::Table(self.program.main_table()?), (*row)?),
            At::Purchase(_) | At::Activity(..) | At::Hire(..) | At::Bid(_) | At::Answer(_) => {
                return None;
            }
        };
        self.row_above((grain, row), of)
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
            return groups.of_row.get(row).map(|g| *g as usize);
        }
        let parent = self.program.tables.get(table)?.parent?;
        let rows = self.tables.get(table.index())?.parent_rows.as_ref()?;
        let above = *rows.get(row)? as usize;
        self.row_above((Grain::Table(parent), above), of)
    }

    fn of_take(&self, field: Field, at: usize, row: Option<usize>, amount: &Exact) -> Got {
        let Some(take) = self.version.takes.get(at) else {
            return Got::Blank;
        };
        let unit = &self.version.resources[take.resource].unit;
        match field {
            Field::Mark => Got::Text(match (row, self.program.main_table()) {
                (Some(row), Some(main)) => crate::show::row_name(
                    self.program,
                    self.tables,
                    self.results,
                    Grain::Table(main),
                    row,
                )
                .unwrap_or_default(),
                _ => "whole job".to_owned(),
            }),
            Field::Resource => Got::Text(self.called(take.resource)),
            Field::Phase => Got::Text(self.program.phases[take.phase].clone()),
            Field::Note => take.note.clone().map_or(Got::Blank, Got::Text),
            Field::Amount => unit.from_base(amount).map_or(Got::Blank, Got::Number),
            Field::Hours => Got::Number(amount.clone()),
            Field::Unit => Got::Text(unit.text(&self.program.nouns)),
            _ => Got::Blank,
        }
    }

    fn of_purchase(&self, field: Field, at: usize) -> Got {
        let Some(buy) = self.estimate.buys.get(at) else {
            return Got::Blank;
        };
        let text = |t: &Option<String>| t.clone().map_or(Got::Blank, Got::Text);
        match field {
            Field::Resource => Got::Text(buy.name.clone()),
            Field::Unit => Got::Text(buy.unit.clone()),
            Field::Bought => Got::Number(buy.bought.clone()),
            Field::Packs => buy
                .packs
                .as_ref()
                .map_or(Got::Blank, |p| Got::Number(p.count.clone())),
            Field::Pack => buy
                .packs
                .as_ref()
                .map_or(Got::Blank, |p| Got::Text(p.word.clone())),
            Field::PackSize => {
                let stated = buy.packs.as_ref().filter(|p| p.stated);
                stated.map_or(Got::Blank, |p| Got::Number(p.holds.clone()))
            }
            Field::NeedBy => self.need_by(buy.resource),
            Field::Supplier => match &buy.price.supplier {
                Some(name) if !name.is_empty() => Got::Text(name.clone()),
                _ => Got::Text("no supplier named".to_owned()),
            },
            Field::Price => Got::Number(buy.price.amount.clone()),
            Field::Per => Got::Text(buy.price.per.clone()),
            Field::Cost => cents(buy.cents),
            Field::PricedOn => text(&buy.price.date),
            Field::Source => text(&buy.price.source),
            _ => Got::Blank,
        }
    }

    /// The day on which the first phase that takes it begins.
    fn need_by(&self, resource: ResourceId) -> Got {
        let Some(plan) = self.estimate.schedule.as_deref() else {
            return Got::Blank;
        };
        let takes = || self.version.takes.iter().filter(|t| t.resource == resource);
        let phases = plan.phases.iter();
        let of = phases.filter(|p| takes().any(|t| t.phase == p.phase));
        let first = of.map(|p| p.start().day()).min();
        first.map_or(Got::Blank, date)
    }

    fn of_activity(&self, field: Field, plan: &Schedule, phase: usize, at: usize) -> Got {
        let Some(phase) = plan.phases.get(phase) else {
            return Got::Blank;
        };
        let Some(activity) = phase.activities.get(at) else {
            return Got::Blank;
        };
        match field {
            Field::Area => plan
                .areas
                .get(phase.area)
                .cloned()
                .map_or(Got::Blank, Got::Text),
            Field::Phase => Got::Text(phase.name.clone()),
            Field::Trade => Got::Text(self.called(activity.trade)),
            Field::Start => date(activity.start.day()),
            Field::Finish => date(activity.finish.last_day()),
            Field::Hours => Got::Number(activity.labor.clone()),
            Field::Hands => Got::Number(Exact::int(i64::from(activity.hands))),
            Field::Critical => Got::Text(match activity.total_float <= 0 {
                true => "yes".to_owned(),
                false => String::new(),
            }),
            _ => Got::Blank,
        }
    }
}

fn of_hire(field: Field, plan: &Schedule, at: usize) -> Got {
    let Some(hire) = plan.hires.get(at) else {
        return Got::Blank;
    };
    match field {
        Field::Hire => Got::Text(hire.name.clone()),
        Field::Area => Got::Text(match hire.area.and_then(|a| plan.areas.get(a)) {
            Some(area) => area.clone(),
            None => "whole job".to_owned(),
        }),
        Field::On => date(hire.from),
        Field::Off => date(hire.to),
        Field::Days => i64::try_from(hire.days).map_or(Got::Blank, |n| Got::Number(Exact::int(n))),
        Field::Cost => cents(i128::from(hire.cover.cost)),
        _ => Got::Blank,
    }
}

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

fn date(day: i32) -> Got {
    Got::Text(date_of(day).to_string())
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
        _ => text,
    }
}

/// A row as what rows of a list are parted by.
pub(super) fn row_number(row: usize) -> Got {
    i64::try_from(row).map_or(Got::Blank, |n| Got::Number(Exact::int(n)))
}
