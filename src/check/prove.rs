//! Proof that exactly one line of a decision holds.
//!
//! Every value that conditions compare with constants is cut into cells: the constants themselves and the intervals between
//! them, labels, yes and no, blank and n/a. Within a cell no condition changes, so trying one member of each combination of
//! cells tries them all. Where all values are columns of the survey a combination found is a real opening; where some are
//! worked from others it may not exist, and the finding is "not sure".

use crate::diagnostics::Sources;
use crate::number::Exact;
use crate::program::{ChoiceId, Kind, NodeId, Program, Ty};
use crate::syntax::tree::{AbsentKind, PresenceTest};
use crate::table::{ColumnKind, OnMissing};
use crate::units::{Style, UnitExpr, default_unit, format_quantity, parse_unit, point_text};
use foldhash::HashMap;
use std::collections::{BTreeMap, BTreeSet};

/// Combinations tried before giving up.
const MOST_COMBINATIONS: usize = 100_000;

/// What the proof found.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum Finding {
    /// No line holds.
    Gap {
        witness: String,
        sure: bool,
        /// The label in it that a later layer added, and what it is the label of: "kind is triple".
        added: Option<(ChoiceId, u16, String)>,
    },
    /// Two lines hold.
    Overlap {
        first: usize,
        second: usize,
        witness: String,
        sure: bool,
    },
    /// The line never counts.
    Never { line: usize },
    /// Too many combinations.
    TooMany,
}

#[derive(Debug, Clone, PartialEq, Eq)]
enum Value {
    Number(Exact),
    Label(u16),
    Truth(bool),
    Absent(AbsentKind),
    /// Depends on what is unknown; the decision is unknown too.
    Unknown,
}

/// A value that conditions look at, with its cells.
struct Variable {
    node: NodeId,
    cells: Vec<Value>,
    /// A column of the survey: every cell is a possible opening.
    free: bool,
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

/// Tries all combinations of cells. One finding of each kind at the most, beside lines that never count; of gaps one that holds no
/// added label, if there is one.
pub(super) fn prove(
    program: &Program,
    sources: &Sources,
    lines: &[Option<NodeId>],
    first_holds: bool,
    added: &dyn Fn(ChoiceId, u16) -> bool,
) -> Vec<Finding> {
    let breaks = collect(program, lines.iter().flatten().copied());
    let steps = steps(program, lines.iter().flatten().copied(), &breaks);
    let variables: Vec<Variable> = breaks
        .into_iter()
        .map(|(node, points)| variable(program, node, points))
        .collect();
    let total = variables.iter().try_fold(1usize, |n, v| {
        n.checked_mul(v.cells.len())
            .filter(|n| *n <= MOST_COMBINATIONS)
    });
    let Some(total) = total else {
        return vec![Finding::TooMany];
    };
    let sure = variables.iter().all(|v| v.free);
    let mut counted = vec![false; lines.len()];
    let mut gap: Option<(String, Option<AddedAt>)> = None;
    let mut overlap: Option<(usize, usize, String)> = None;
    let (works, slots) = works(program, &variables, &steps);
    let lines_at: Vec<Option<Option<usize>>> = lines
        .iter()
        .map(|line| line.map(|node| slots.get(&node).copied()))
        .collect();
    let mut values: Vec<Value> = variables
        .iter()
        .map(|v| v.cells.first().cloned().unwrap_or(Value::Unknown))
        .collect();
    values.resize(variables.len() + works.len(), Value::Unknown);
    // What is worked again when the values up to each one have moved.
    let after: Vec<Vec<usize>> = (0..variables.len())
        .map(|last| worked_from(last, variables.len(), &works))
        .collect();
    let all: Vec<usize> = (0..works.len()).collect();
    let mut holding = Vec::new();
    for combination in 0..total {
        let due = match combination {
            0 => &all,
            _ => &after[turn(combination, &variables, &mut values)],
        };
        for work in due {
            values[variables.len() + work] = eval(&works[*work], &values);
        }
        holding.clear();
        let mut unknown = false;
        for (i, line) in lines_at.iter().enumerate() {
            match line {
                None => {
                    if holding.is_empty() && !unknown {
                        holding.push(i);
                    }
                }
                Some(slot) => match slot.map(|slot| &values[slot]) {
                    Some(Value::Truth(true)) => holding.push(i),
                    Some(Value::Truth(false)) => {}
                    _ => unknown = true,
                },
            }
        }
        if unknown {
            // A line that might hold counts as reachable.
            counted.iter_mut().for_each(|c| *c = true);
            continue;
        }
        match holding.as_slice() {
            [] => {
                let new = added_in(program, &variables, &values, added);
                let is_better = match &gap {
                    None => true,
                    Some((_, old)) => old.is_some() && new.is_none(),
                };
                if is_better {
                    gap = Some((witness(program, sources, &variables, &values), new));
                }
            }
            [first, rest @ ..] => {
                counted[*first] = true;
                if !first_holds {
                    rest.iter().for_each(|i| counted[*i] = true);
                    if let (Some(second), None) = (rest.first(), &overlap) {
                        overlap = Some((
                            *first,
                            *second,
                            witness(program, sources, &variables, &values),
                        ));
                    }
                }
            }
        }
    }
    let mut findings = Vec::new();
    if let Some((said, at)) = gap {
        let added = at.map(|(at, choice, label)| {
            let value = [Value::Label(label)];
            let text = witness(program, sources, &variables[at..=at], &value);
            (choice, label, text)
        });
        findings.push(Finding::Gap {
            witness: said,
            sure,
            added,
        });
    }
    if let Some((first, second, witness)) = overlap {
        findings.push(Finding::Overlap {
            first,
            second,
            witness,
            sure,
        });
    }
    // A line that a given switches off is meant to wait there.
    let switched = |line: usize| lines[line].is_some_and(|n| has_constant(program, n));
    findings.extend(
        counted
            .iter()
            .enumerate()
            .filter(|(i, c)| !**c && !switched(*i))
            .map(|(line, _)| Finding::Never { line }),
    );
    findings
}

/// The place of a value among those tried, its choice and its label.
type AddedAt = (usize, ChoiceId, u16);

/// The first value that is a label which a later layer added.
fn added_in(
    program: &Program,
    variables: &[Variable],
    values: &[Value],
    added: &dyn Fn(ChoiceId, u16) -> bool,
) -> Option<AddedAt> {
    variables
        .iter()
        .zip(values)
        .enumerate()
        .find_map(|(at, (v, value))| match (&program.node(v.node).ty, value) {
            (Ty::Choice(choice), Value::Label(label)) if added(*choice, *label) => {
                Some((at, *choice, *label))
            }
            _ => None,
        })
}

/// Whether part of a condition is settled before running.
fn has_constant(program: &Program, node: NodeId) -> bool {
    let mut todo = vec![node];
    let mut seen = BTreeSet::new();
    while let Some(node) = todo.pop() {
        if !seen.insert(node) {
            continue;
        }
        let settled = match &program.node(node).kind {
            Kind::Truth(_) => true,
            Kind::And(..) | Kind::Or(..) | Kind::Not(_) => {
                todo.extend(program.node(node).kind.children());
                false
            }
            Kind::LabelIn(a, _) => matches!(program.node(*a).kind, Kind::Label(_)),
            Kind::Compare { left, right, .. } => {
                program.constant(*left).is_some() && program.constant(*right).is_some()
            }
            _ => false,
        };
        if settled {
            return true;
        }
    }
    false
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
fn collect(
    program: &Program,
    conditions: impl Iterator<Item = NodeId>,
) -> BTreeMap<NodeId, Vec<Exact>> {
    let mut breaks: BTreeMap<NodeId, Vec<Exact>> = BTreeMap::new();
    let mut todo: Vec<NodeId> = conditions.collect();
    let mut seen = BTreeSet::new();
    while let Some(node) = todo.pop() {
        if !seen.insert(node) {
            continue;
        }
        match &program.node(node).kind {
            Kind::Truth(_) => {}
            Kind::And(..) | Kind::Or(..) | Kind::Not(_) => {
                todo.extend(program.node(node).kind.children())
            }
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

/// The nodes that conditions are worked from down to the values they look at, children before parents.
fn steps(
    program: &Program,
    conditions: impl Iterator<Item = NodeId>,
    leaves: &BTreeMap<NodeId, Vec<Exact>>,
) -> BTreeSet<NodeId> {
    let mut todo: Vec<NodeId> = conditions.collect();
    let mut steps = BTreeSet::new();
    while let Some(node) = todo.pop() {
        let followed = matches!(
            program.node(node).kind,
            Kind::And(..)
                | Kind::Or(..)
                | Kind::Not(_)
                | Kind::LabelIn(..)
                | Kind::Presence { .. }
                | Kind::IfAbsent { .. }
                | Kind::Compare { .. }
        );
        if steps.insert(node) && followed && !leaves.contains_key(&node) {
            todo.extend(program.node(node).kind.children());
        }
    }
    steps
}

/// A node that is worked for each combination. Values stand in slots, those of the variables first, then those worked in order.
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

fn column_of(program: &Program, node: NodeId) -> Option<&crate::table::ColumnSpec> {
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
        _ => vec![Value::Unknown],
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
    match kind {
        ColumnKind::Number { unit, .. } => unit.factor().clone(),
        _ => Exact::ONE,
    }
}

/// The value of a node whose parts are worked.
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
            _ => Value::Unknown,
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
            _ => Value::Unknown,
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
            other => other.clone(),
        },
        Kind::Compare { op, .. } => match (part(0), part(1)) {
            (Value::Number(a), Value::Number(b)) => Value::Truth(op.holds(a.cmp(b))),
            _ => Value::Unknown,
        },
        _ => Value::Unknown,
    }
}

fn witness(
    program: &Program,
    sources: &Sources,
    variables: &[Variable],
    values: &[Value],
) -> String {
    let parts: Vec<String> = variables
        .iter()
        .zip(values)
        .map(|(v, value)| {
            let node = program.node(v.node);
            let column = column_of(program, v.node);
            let name = column.map_or_else(
                || {
                    sources
                        .slice(node.span)
                        .split_whitespace()
                        .collect::<Vec<_>>()
                        .join(" ")
                },
                |c| c.name.clone(),
            );
            match value {
                Value::Number(n) => {
                    if let Ty::Point(scale) = node.ty {
                        return format!("{name} is {}", point_text(scale, n));
                    }
                    let unit = match (column.map(|c| &c.kind), &node.ty) {
                        (Some(ColumnKind::Number { unit, .. }), _) => unit.clone(),
                        (_, Ty::Number(t)) if t.percent => parse_unit("%", &program.nouns, None)
                            .unwrap_or_else(|_| UnitExpr::none()),
                        (_, Ty::Number(t)) => {
                            default_unit(&t.dim, &program.nouns, program.currency.as_deref())
                        }
                        _ => UnitExpr::none(),
                    };
                    format!(
                        "{name} is {}",
                        format_quantity(n, &unit, &program.nouns, Style::default())
                    )
                }
                Value::Label(l) => {
                    let label = match &node.ty {
                        Ty::Choice(c) => program.choices[*c]
                            .labels
                            .get(usize::from(*l))
                            .cloned()
                            .unwrap_or_default(),
                        _ => String::new(),
                    };
                    format!("{name} is {label}")
                }
                Value::Truth(true) => format!("{name} is yes"),
                Value::Truth(false) => format!("{name} is no"),
                Value::Absent(AbsentKind::Blank) => format!("{name} is blank"),
                Value::Absent(AbsentKind::NotApplicable) => format!("{name} is n/a"),
                _ => format!("{name} is unknown"),
            }
        })
        .collect();
    if parts.is_empty() {
        "always".into()
    } else {
        parts.join(" and ")
    }
}
