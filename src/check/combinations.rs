//! All combinations of the values that conditions look at.
//!
//! Every value that conditions compare with constants is cut into cells: the constants themselves and the intervals between
//! them, labels, yes and no, blank and n/a. Within a cell no condition changes, so trying one member of each combination of
//! cells tries them all.

use crate::number::Exact;
use crate::program::{Kind, Next, NodeId, Program, Ty};
use crate::syntax::tree::{AbsentKind, PresenceTest};
use crate::table::{ColumnKind, OnMissing};
use foldhash::HashMap;
use std::collections::{BTreeMap, BTreeSet};

/// Combinations tried before giving up.
const MOST_COMBINATIONS: usize = 100_000;

#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum Value {
    Number(Exact),
    Label(u16),
    Truth(bool),
    Absent(AbsentKind),
    /// Depends on what is unknown; the decision is unknown too.
    Unknown,
}

/// A value that conditions look at, with its cells.
pub(super) struct Variable {
    pub(super) node: NodeId,
    pub(super) cells: Vec<Value>,
    /// A column of the survey: every cell is a possible opening.
    pub(super) free: bool,
}

/// Moves on to a combination, as on a counter of turning wheels: the first value moves on, and the next where it has gone round.
/// Gives the last value that moved.
fn turn(combination: usize, variables: &[Variable], values: &mut [Value]) -> usize {
    let mut turned = combination;
    let mut last = 0;
    for (at, (v, value)) in variables.iter().zip(values).enumerate() {
        let cells = v.cells.len();
        if let Some(cell) = v.cells.get(turned % cells) {
            value.clone_from(cell);
        }
        last = at;
        if !turned.is_multiple_of(cells) {
            break;
        }
        turned /= cells;
    }
    last
}

/// The conditions of a decision's lines, calculated for one combination of cells after another.
pub(super) struct Combinations<'p> {
    pub(super) variables: Vec<Variable>,
    /// How many there are.
    pub(super) total: usize,
    /// The combination at hand: the values of the variables, then what is calculated from them.
    pub(super) values: Vec<Value>,
    works: Vec<Work<'p>>,
    /// What is calculated again when the values up to each variable have moved.
    after: Vec<Vec<usize>>,
    /// The slot of each line's condition; none for `otherwise`, and none within for one that is not followed.
    lines: Vec<Option<Option<usize>>>,
}

impl<'p> Combinations<'p> {
    /// None where there are too many.
    pub(super) fn of(program: &'p Program, lines: &[Option<NodeId>]) -> Option<Combinations<'p>> {
        let breaks = collect(program, lines.iter().flatten().copied());
        let steps = steps(program, lines.iter().flatten().copied(), &breaks);
        let variables: Vec<Variable> = breaks
            .into_iter()
            .map(|(node, points)| variable(program, node, points))
            .collect();
        let total = variables.iter().try_fold(1usize, |n, v| {
            n.checked_mul(v.cells.len())
                .filter(|n| *n <= MOST_COMBINATIONS)
        })?;
        let (works, slots) = works(program, &variables, &steps);
        let mut values: Vec<Value> = variables
            .iter()
            .map(|v| v.cells.first().cloned().unwrap_or(Value::Unknown))
            .collect();
        values.resize(variables.len() + works.len(), Value::Unknown);
        let after = (0..variables.len())
            .map(|last| worked_from(last, variables.len(), &works))
            .collect();
        let lines = lines
            .iter()
            .map(|line| line.map(|node| slots.get(&node).copied()))
            .collect();
        Some(Combinations {
            variables,
            total,
            values,
            works,
            after,
            lines,
        })
    }

    /// Moves on to a combination: they are gone through in order, from 0.
    pub(super) fn go_to(&mut self, combination: usize) {
        let count = self.variables.len();
        if combination == 0 {
            for (at, work) in self.works.iter().enumerate() {
                self.values[count + at] = eval(work, &self.values);
            }
            return;
        }
        let last = turn(combination, &self.variables, &mut self.values);
        for at in &self.after[last] {
            self.values[count + at] = eval(&self.works[*at], &self.values);
        }
    }

    /// Finds the lines that hold. Gives whether that is known of all.
    pub(super) fn holding(&self, holding: &mut Vec<usize>) -> bool {
        holding.clear();
        let mut known = true;
        for (i, line) in self.lines.iter().enumerate() {
            match line {
                None => {
                    if holding.is_empty() && known {
                        holding.push(i);
                    }
                }
                Some(slot) => match slot.map(|slot| &self.values[slot]) {
                    Some(Value::Truth(true)) => holding.push(i),
                    Some(Value::Truth(false)) => {}
                    _ => known = false,
                },
            }
        }
        known
    }
}

/// The value below `if blank` with constants, which the proof can follow.
fn stripped(program: &Program, mut node: NodeId) -> NodeId {
    while let Kind::IfAbsent { value, instead, .. } = &program.node(node).kind
        && is_constant(program, *instead)
    {
        node = *value;
    }
    node
}

fn is_constant(program: &Program, node: NodeId) -> bool {
    matches!(
        program.node(node).kind,
        Kind::Number(_) | Kind::Label(_) | Kind::Truth(_) | Kind::Unknown
    )
}

/// Finds the values conditions look at, and the constants they are compared with.
#[expect(
    clippy::wildcard_enum_match_arm,
    reason = "a proof takes what it can't follow as a variable of its own, which proves less and nothing false"
)]
fn collect(
    program: &Program,
    conditions: impl Iterator<Item = NodeId>,
) -> BTreeMap<NodeId, Vec<Exact>> {
    let mut breaks: BTreeMap<NodeId, Vec<Exact>> = BTreeMap::new();
    let parts = program.walk(conditions, |_, node| match node.kind {
        Kind::And(..) | Kind::Or(..) | Kind::Not(_) => node.kind.children(),
        _ => Next::new(),
    });
    for (node, found) in parts {
        match &found.kind {
            Kind::Truth(_) | Kind::And(..) | Kind::Or(..) | Kind::Not(_) => {}
            Kind::LabelIn(a, _) | Kind::Presence { value: a, .. } => {
                breaks.entry(stripped(program, *a)).or_default();
            }
            Kind::Compare { left, right, .. } => {
                match (program.constant(*left), program.constant(*right)) {
                    (None, Some(c)) => breaks
                        .entry(stripped(program, *left))
                        .or_default()
                        .push(c.clone()),
                    (Some(c), None) => breaks
                        .entry(stripped(program, *right))
                        .or_default()
                        .push(c.clone()),
                    (Some(_), Some(_)) => {}
                    (None, None) => {
                        breaks.entry(node).or_default();
                    }
                }
            }
            Kind::IfAbsent { .. } => {
                breaks.entry(stripped(program, node)).or_default();
            }
            _ => {
                breaks.entry(node).or_default();
            }
        }
    }
    breaks
}

/// The nodes that conditions are calculated from down to the values they look at, children before parents.
#[expect(
    clippy::wildcard_enum_match_arm,
    reason = "these kinds alone are worked here; all others are looked at"
)]
fn steps(
    program: &Program,
    conditions: impl Iterator<Item = NodeId>,
    leaves: &BTreeMap<NodeId, Vec<Exact>>,
) -> BTreeSet<NodeId> {
    let steps = program.walk(conditions, |id, node| match node.kind {
        _ if leaves.contains_key(&id) => Next::new(),
        Kind::And(..)
        | Kind::Or(..)
        | Kind::Not(_)
        | Kind::LabelIn(..)
        | Kind::Presence { .. }
        | Kind::IfAbsent { .. }
        | Kind::Compare { .. } => node.kind.children(),
        _ => Next::new(),
    });
    steps.map(|(id, _)| id).collect()
}

/// A node that is calculated for each combination. Values are in slots, those of the variables first, then those calculated in order.
struct Work<'p> {
    kind: &'p Kind,
    /// Slots of its children; none for one that is not followed.
    parts: Vec<Option<usize>>,
}

/// The works, and the slots of all values.
fn works<'p>(
    program: &'p Program,
    variables: &[Variable],
    steps: &BTreeSet<NodeId>,
) -> (Vec<Work<'p>>, HashMap<NodeId, usize>) {
    let mut slots: HashMap<NodeId, usize> = variables
        .iter()
        .enumerate()
        .map(|(at, v)| (v.node, at))
        .collect();
    let mut works = Vec::new();
    for node in steps.iter().copied() {
        if slots.contains_key(&node) {
            continue;
        }
        let kind = &program.node(node).kind;
        let parts = kind
            .children()
            .iter()
            .map(|child| slots.get(child).copied())
            .collect();
        slots.insert(node, variables.len() + works.len());
        works.push(Work { kind, parts });
    }
    (works, slots)
}

/// The works that hang on one of the variables up to `last`, children before parents.
fn worked_from(last: usize, variables: usize, works: &[Work<'_>]) -> Vec<usize> {
    let mut reached = vec![false; variables + works.len()];
    reached[..=last].fill(true);
    let mut out = Vec::new();
    for (at, work) in works.iter().enumerate() {
        if work.parts.iter().flatten().any(|slot| reached[*slot]) {
            reached[variables + at] = true;
            out.push(at);
        }
    }
    out
}

#[expect(
    clippy::wildcard_enum_match_arm,
    reason = "only these kinds are a column or stand on one"
)]
pub(super) fn column_of(program: &Program, node: NodeId) -> Option<&crate::table::ColumnSpec> {
    match &program.node(node).kind {
        Kind::Column { table, column } => program
            .tables
            .get(*table)?
            .schema
            .columns
            .get(usize::from(*column)),
        Kind::Down(inner) => column_of(program, *inner),
        // A column with cells that are decided for single rows.
        Kind::Choose { subject, arms, .. } if marks_rows(program, *subject) => {
            column_of(program, *arms.last()?)
        }
        _ => None,
    }
}

/// Whether a node says which row a value is decided for.
fn marks_rows(program: &Program, node: NodeId) -> bool {
    matches!(program.node(node).kind, Kind::Lookup { table, .. }
        if program.lookups.get(table).is_some_and(|l| l.name == super::exceptions::BY_MARK))
}

fn variable(program: &Program, node: NodeId, mut points: Vec<Exact>) -> Variable {
    let column = column_of(program, node);
    let mut cells = match &program.node(node).ty {
        Ty::Truth => vec![Value::Truth(true), Value::Truth(false)],
        Ty::Choice(c) => (0..program.choices[*c].labels.len())
            .map(|i| Value::Label(crate::ids::place(i)))
            .collect(),
        Ty::Number(_) | Ty::Point(_) => {
            points.sort();
            points.dedup();
            number_cells(column.map(|c| &c.kind), &points)
        }
        Ty::Text => vec![Value::Unknown],
    };
    if let Some(c) = column {
        if c.blank == OnMissing::Keep {
            cells.push(Value::Absent(AbsentKind::Blank));
        }
        if c.not_applicable == OnMissing::Keep {
            cells.push(Value::Absent(AbsentKind::NotApplicable));
        }
    }
    Variable {
        node,
        cells,
        free: column.is_some(),
    }
}

/// One member of each cell. Columns of quantities hold nothing below zero unless their limits say so.
fn number_cells(kind: Option<&ColumnKind>, points: &[Exact]) -> Vec<Value> {
    let (low, high, step) = match kind {
        Some(ColumnKind::Number {
            limits,
            whole,
            unit,
            ..
        }) => (
            Some(limits.as_ref().map_or(Exact::ZERO, |l| l.low.clone())),
            limits.as_ref().map(|l| l.high.clone()),
            whole.then(|| unit.factor().clone()),
        ),
        // Days are whole; moments and temperatures lie close together.
        Some(ColumnKind::Date) => (None, None, Some(Exact::ONE)),
        _ => (None, None, None),
    };
    let one = step
        .clone()
        .unwrap_or_else(|| kind.map_or(Exact::ONE, unit_of));
    let inside =
        |x: &Exact| low.as_ref().is_none_or(|l| x >= l) && high.as_ref().is_none_or(|h| x <= h);
    let mut members: Vec<Exact> = Vec::new();
    let ends: Vec<Exact> = points
        .iter()
        .chain(low.iter())
        .chain(high.iter())
        .cloned()
        .collect();
    let mut ends = ends;
    ends.sort();
    ends.dedup();
    let mut push = |x: Exact| {
        let fits = step
            .as_ref()
            .is_none_or(|s| x.div(s).is_ok_and(|q| q.is_integer()));
        if inside(&x) && fits {
            members.push(x);
        }
    };
    if let Some(first) = ends.first() {
        push(first.sub(&one).unwrap_or(Exact::ZERO));
    } else {
        push(Exact::ZERO);
    }
    for (i, end) in ends.iter().enumerate() {
        push(end.clone());
        let Some(next) = ends.get(i + 1) else {
            push(end.add(&one).unwrap_or(Exact::ZERO));
            continue;
        };
        match &step {
            // The first whole value after the end, if it comes before the next.
            Some(s) => {
                let up = end
                    .add(s)
                    .and_then(|x| x.round_to(s, crate::number::Rounding::Down));
                if let Ok(x) = up
                    && x > *end
                    && x < *next
                {
                    push(x);
                }
            }
            None => {
                // A round number between them reads better than the middle.
                let round = end
                    .add(&one)
                    .and_then(|x| x.round_to(&one, crate::number::Rounding::Down));
                let middle = end.add(next).and_then(|s| s.div(&Exact::int(2)));
                match (round, middle) {
                    (Ok(r), _) if r > *end && r < *next => push(r),
                    (_, Ok(m)) => push(m),
                    _ => {}
                }
            }
        }
    }
    members.into_iter().map(Value::Number).collect()
}

fn unit_of(kind: &ColumnKind) -> Exact {
    kind.unit().map_or(Exact::ONE, |u| u.factor().clone())
}

/// The value of a node whose parts are calculated.
#[expect(
    clippy::wildcard_enum_match_arm,
    reason = "what a proof can't follow is unknown, which proves less and nothing false"
)]
fn eval(work: &Work<'_>, values: &[Value]) -> Value {
    let part = |at: usize| {
        work.parts
            .get(at)
            .copied()
            .flatten()
            .map_or(&Value::Unknown, |slot| &values[slot])
    };
    match work.kind {
        Kind::Number(n) => Value::Number(n.clone()),
        Kind::Truth(b) => Value::Truth(*b),
        Kind::Label(l) => Value::Label(*l),
        Kind::Not(_) => match part(0) {
            Value::Truth(b) => Value::Truth(!b),
            Value::Number(_) | Value::Label(_) | Value::Absent(_) | Value::Unknown => {
                Value::Unknown
            }
        },
        Kind::And(..) => match (part(0), part(1)) {
            (Value::Truth(false), _) | (_, Value::Truth(false)) => Value::Truth(false),
            (Value::Truth(true), Value::Truth(true)) => Value::Truth(true),
            _ => Value::Unknown,
        },
        Kind::Or(..) => match (part(0), part(1)) {
            (Value::Truth(true), _) | (_, Value::Truth(true)) => Value::Truth(true),
            (Value::Truth(false), Value::Truth(false)) => Value::Truth(false),
            _ => Value::Unknown,
        },
        Kind::LabelIn(_, set) => match part(0) {
            Value::Label(l) => Value::Truth(set.contains(l)),
            Value::Number(_) | Value::Truth(_) | Value::Absent(_) | Value::Unknown => {
                Value::Unknown
            }
        },
        Kind::Presence { test, .. } => match (part(0), test) {
            (Value::Unknown, _) => Value::Unknown,
            (Value::Absent(AbsentKind::Blank), PresenceTest::Blank)
            | (Value::Absent(AbsentKind::NotApplicable), PresenceTest::NotApplicable) => {
                Value::Truth(true)
            }
            (Value::Absent(_), _) => Value::Truth(false),
            (_, test) => Value::Truth(*test == PresenceTest::Known),
        },
        Kind::IfAbsent { which, .. } => match part(0) {
            Value::Absent(k) if k == which => part(1).clone(),
            other @ (Value::Number(_)
            | Value::Label(_)
            | Value::Truth(_)
            | Value::Absent(_)
            | Value::Unknown) => other.clone(),
        },
        Kind::Compare { op, .. } => match (part(0), part(1)) {
            (Value::Number(a), Value::Number(b)) => Value::Truth(op.holds(a.cmp(b))),
            _ => Value::Unknown,
        },
        _ => Value::Unknown,
    }
}
