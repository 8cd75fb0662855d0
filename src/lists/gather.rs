//! The rows of a list with what is in them, before order and sums.

use super::answers::Given;
use super::papers::Made;
use super::places::{At, Work, places};
use super::weeks;
use crate::calendar::clock::date_of;
use crate::eval::Cell;
use crate::ids;
use crate::number::Exact;
use crate::prices::is_own;
use crate::program::{
    DecideDef, Field, Grain, ListDef, ListKey, ListShows, NodeId, PartDef, PhaseId, Program,
    ResourceId, Ty, ValueKind,
};
use crate::show::{cell_text, row_name, template_text};
use crate::syntax::tree::Side;
use crate::takeoff::PartAt;
use crate::units::{Dim, UnitExpr};

/// What is in a cell, before it is printed. Numbers are in base units where their column has a unit.
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

/// A row of a list: where it is and by what it is ordered. Its cells are made when a writer asks for them.
pub(super) struct Line<'a> {
    pub(super) stands: Stands<'a>,
    /// One for each group.
    pub(super) groups: Box<[Got]>,
    /// One for each key of the order, until the rows are in order.
    pub(super) sorts: Box<[Got]>,
    /// What the paper is parted by.
    pub(super) each: Box<[Got]>,
}

/// Where a row of a list is.
pub(super) enum Stands<'a> {
    /// At a place of its own.
    At(At<'a>),
    /// At those of all that was put together in it. Its cells are kept: they are sums and marks of several.
    Together(Joined),
}

/// A row that several lines were put together in.
pub(super) struct Joined {
    /// One for each column.
    pub(super) cells: Vec<Got>,
    /// The rows it is at; none where it stands for the whole job.
    pub(super) rows: Vec<(Grain, usize)>,
    /// The phases of its work, where it is work.
    pub(super) phases: Vec<PhaseId>,
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

/// What a list has a row for.
pub(super) fn held<'a>(made: &'a Made<'_>, list: &'a ListDef) -> impl Iterator<Item = At<'a>> + 'a {
    places(made, list.over).filter(|at| made.holds(&list.filter, at))
}

/// The rows of a list.
pub(super) fn lines<'a>(made: &'a Made<'_>, list: &'a ListDef, by: By<'_>) -> Vec<Line<'a>> {
    let listed = held(made, list).filter(|at| match by {
        By::Ordered(_, ordered) => made.is_ordered(at, ordered),
        By::Nothing | By::Keys(_) | By::Row(_) => true,
    });
    let lines = listed.map(|at| Line {
        groups: list.groups.iter().map(|(k, _)| made.key(k, &at)).collect(),
        sorts: list.sorts.iter().map(|(k, ..)| made.key(k, &at)).collect(),
        each: match by {
            By::Nothing => Box::default(),
            By::Keys(keys) | By::Ordered(keys, _) => {
                keys.iter().map(|key| made.key(key, &at)).collect()
            }
            By::Row(grain) => Box::new([made.owner(&at, grain).map_or(Got::Blank, row_number)]),
        },
        stands: Stands::At(at),
    });
    lines.collect()
}

impl Made<'_> {
    /// What is in a column of a row.
    pub(super) fn got(&self, list: &ListDef, line: &Line<'_>, column: usize) -> Got {
        match (&line.stands, list.columns.get(column)) {
            (Stands::At(at), Some(column)) => self.shown(&column.shows, at),
            (Stands::Together(joined), _) => {
                let cell = joined.cells.get(column);
                cell.cloned().unwrap_or(Got::Blank)
            }
            (Stands::At(_), None) => Got::Blank,
        }
    }

    /// The rows that a row of a list is at; none where it stands for the whole job.
    pub(super) fn rows_of(&self, line: &Line<'_>) -> Vec<(Grain, usize)> {
        match &line.stands {
            Stands::At(at) => self.stands(at).into_iter().collect(),
            Stands::Together(joined) => joined.rows.clone(),
        }
    }

    /// The phases of the work in a row of a list; none where it is no work.
    pub(super) fn phases_of(&self, line: &Line<'_>) -> Vec<PhaseId> {
        match &line.stands {
            Stands::At(at) => self.phase_at(at).into_iter().collect(),
            Stands::Together(joined) => joined.phases.clone(),
        }
    }

    fn phase_at(&self, at: &At<'_>) -> Option<PhaseId> {
        let of_take = |take: usize| self.version.takes.get(take).map(|take| take.phase);
        match at {
            At::Part(part, _) => self.version.parts.get(part.part).map(|part| part.phase),
            At::Take(take, ..) => of_take(*take),
            At::Work(work) => of_take(*work.takes.first()?),
            At::Activity(plan, phase, _) | At::Week(plan, (phase, _), _) => {
                plan.phases.get(*phase).map(|phase| phase.phase)
            }
            At::Row(..)
            | At::Member(..)
            | At::Purchase(_)
            | At::Hire(..)
            | At::Pick(..)
            | At::Bid(_)
            | At::Answer(_) => None,
        }
    }

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

    /// The value of a formula where a row is; none where the row stands for the whole job.
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
                Some((node, cell)) => self.got_of(node, cell),
            },
        }
    }

    /// The value of a key at a row of a grain.
    pub(super) fn key_of_row(&self, key: &ListKey, grain: Grain, row: usize) -> Got {
        self.key(key, &At::Row(grain, row))
    }

    fn got_of(&self, node: NodeId, cell: Cell) -> Got {
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

    pub(super) fn shown(&self, shows: &ListShows, at: &At<'_>) -> Got {
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

    /// The row that something is at; none where it stands for the whole job.
    fn stands(&self, at: &At<'_>) -> Option<(Grain, usize)> {
        match at {
            At::Row(grain, row) => Some((*grain, *row)),
            At::Part(part, grain) | At::Member(part, grain) => Some((*grain, part.row)),
            At::Take(_, row, _) => Some((Grain::Table(self.program.main_table()?), (*row)?)),
            At::Work(work) => Some((Grain::Table(self.program.main_table()?), work.row?)),
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

pub(super) fn cents(cents: i128) -> Got {
    let hundred = Exact::int(100);
    Exact::from_i128(cents)
        .div(&hundred)
        .map_or(Got::Blank, Got::Number)
}

/// A value as it is on paper: labels are names of a sheet, and on paper they are words.
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
