//! Rows that fail, and requirements that do not hold, as messages with the place in the sheet and the cell in the survey.

use super::blamed;
use super::doubts::Doubts;
use crate::diagnostics::Diagnostic;
use crate::eval::{self, Cell, Fault, FaultKind, Inputs, NotReal, Results, RunError};
use crate::program::{
    Blamed, Grain, Grouping, Kind, Next, Node, NodeId, Piece, Program, RequireDef, TableId, Version,
};
use crate::show::{cell_text, template_text};
use crate::table::Table;
use std::collections::{BTreeMap, BTreeSet};

/// Marks named in one message.
const MOST_MARKS: usize = 3;
/// Cells pointed at in one message.
const MOST_CELLS: usize = 3;
/// Groups of rows that are reported one by one.
const MOST_GROUPS: usize = 20;

/// Rows that are reported one by one, where each is.
const MOST_APART: usize = 20_000;

/// How one cause that is met on many rows is reported.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Telling {
    /// In one message, with a count and the first marks.
    Together,
    /// In a message for each row, as a marked copy needs them.
    Apart,
}

impl Telling {
    /// The rows of each message.
    fn groups(self, rows: &BTreeSet<usize>) -> Vec<Vec<usize>> {
        match self {
            Telling::Together => vec![rows.iter().copied().collect()],
            Telling::Apart => rows.iter().take(MOST_APART).map(|r| vec![*r]).collect(),
        }
    }
}

/// What stops the run: requirements of the version that do not hold, and faults among the columns of `shown`.
/// Faults are traced to the rows they come from by a second run over the nodes below.
pub fn faults(
    program: &Program,
    version: &Version,
    inputs: &Inputs<'_>,
    results: &Results,
    shown: &[NodeId],
    telling: Telling,
) -> Result<Vec<Diagnostic>, RunError> {
    let mut out = requirements(program, version, inputs, results, telling)?;
    out.extend(traced(program, version, inputs, results, shown, telling)?);
    Ok(out)
}

/// Why a value fails on a row; nothing where it does not.
pub fn fault_at(
    program: &Program,
    version: &Version,
    inputs: &Inputs<'_>,
    results: &Results,
    node: NodeId,
    row: usize,
) -> Result<Vec<Diagnostic>, RunError> {
    let Cell::Fault(fault) = results.value(node, row) else {
        return Ok(vec![]);
    };
    let own = table_of(program.node(node).grain);
    if own.is_some() && own == table_of(program.node(fault.node).grain) {
        let rows = BTreeSet::from([row]);
        let telling = Telling::Together;
        return fault_messages(program, version, inputs, &fault, own, &rows, telling);
    }
    traced(
        program,
        version,
        inputs,
        results,
        &[node],
        Telling::Together,
    )
}

/// Faults among the columns of `shown`, traced to the rows they come from.
fn traced(
    program: &Program,
    version: &Version,
    inputs: &Inputs<'_>,
    results: &Results,
    shown: &[NodeId],
    telling: Telling,
) -> Result<Vec<Diagnostic>, RunError> {
    let mut out = Vec::new();
    let faulty: Vec<NodeId> = shown
        .iter()
        .copied()
        .filter(|n| {
            results
                .column(*n)
                .is_some_and(|c| c.missing().any(|(_, cell)| matches!(cell, Cell::Fault(_))))
        })
        .collect();
    if faulty.is_empty() {
        return Ok(out);
    }
    let wanted = nodes_per_row(program, faulty.iter().copied());
    let below = eval::run(program, inputs, &wanted, &eval::Options::default())?;
    let doubts = Doubts::of(program, inputs);
    let mut found: BTreeMap<(NodeId, FaultOrder), FaultRows> = BTreeMap::new();
    for node in &wanted {
        let Some(column) = below.column(*node) else {
            continue;
        };
        let grain = program.node(*node).grain;
        for (row, cell) in column.missing() {
            if let Cell::Fault(f) = cell {
                if doubts.is_open(program, *node, (grain, row), None) {
                    continue;
                }
                let entry = found.entry((f.node, order(f.kind))).or_insert_with(|| {
                    (f.kind, table_of(program.node(*node).grain), BTreeSet::new())
                });
                entry.2.insert(row);
            }
        }
    }
    // A fault that arises at the coarse grain itself, such as a mean over nothing.
    for node in &faulty {
        let Some(column) = results.column(*node) else {
            continue;
        };
        for (row, cell) in column.missing() {
            if let Cell::Fault(f) = cell
                && !found.keys().any(|(n, _)| *n == f.node)
            {
                found
                    .entry((f.node, order(f.kind)))
                    .or_insert_with(|| (f.kind, None, BTreeSet::new()))
                    .2
                    .insert(row);
            }
        }
    }
    for ((node, _), (kind, table, rows)) in found {
        let fault = Fault { kind, node };
        out.extend(fault_messages(
            program, version, inputs, &fault, table, &rows, telling,
        )?);
    }
    Ok(out)
}

/// A kind of fault, the table it was met in, and its rows.
type FaultRows = (FaultKind, Option<TableId>, BTreeSet<usize>);

/// A sortable stand-in: faults of one node and kind are reported together.
type FaultOrder = (u8, u16, u16);

fn order(kind: FaultKind) -> FaultOrder {
    match kind {
        FaultKind::TwoDecisions(a, b) => (3, a, b),
        FaultKind::DivideByZero => (0, 0, 0),
        FaultKind::NoLookupRow => (1, 0, 0),
        FaultKind::NoDecision => (2, 0, 0),
        FaultKind::NotPositiveStep
        | FaultKind::TooManyDigits
        | FaultKind::NotReal(_)
        | FaultKind::EmptyGroup
        | FaultKind::ZeroWeights
        | FaultKind::NotMultipleOfStep
        | FaultKind::NegativeWeight => (4, 0, 0),
    }
}

/// The nodes at table grain that these are calculated from, each row by itself. In ascending order.
fn nodes_per_row(program: &Program, roots: impl IntoIterator<Item = NodeId>) -> Vec<NodeId> {
    let is_per_row = |node: &Node| {
        matches!(node.grain, Grain::Table(_)) && !matches!(node.kind, Kind::Share { .. })
    };
    let walk = program.walk(roots, |_, node| match is_per_row(node) {
        true => Next::new(),
        false => node.kind.children(),
    });
    let mut found: Vec<NodeId> = walk
        .filter(|(_, node)| is_per_row(node))
        .map(|(id, _)| id)
        .collect();
    found.sort_unstable();
    found
}

/// The table of a grain, when it is one.
pub fn table_of(grain: Grain) -> Option<TableId> {
    match grain {
        Grain::Table(t) => Some(t),
        Grain::Const | Grain::Job | Grain::Group(_) => None,
    }
}

fn requirements(
    program: &Program,
    version: &Version,
    inputs: &Inputs<'_>,
    results: &Results,
    telling: Telling,
) -> Result<Vec<Diagnostic>, RunError> {
    let broken: Vec<_> = version
        .requires
        .iter()
        .filter(|r| !matches!(results.value(r.holds, 0), Cell::Truth(true)))
        .collect();
    if broken.is_empty() {
        return Ok(vec![]);
    }
    let mut wanted: Vec<NodeId> = broken.iter().map(|r| r.condition).collect();
    for r in &broken {
        wanted.extend(r.message.pieces.iter().filter_map(|p| {
            if let Piece::Value { node, .. } = p {
                Some(*node)
            } else {
                None
            }
        }));
    }
    let rows = eval::run(program, inputs, &wanted, &eval::Options::default())?;
    let doubts = Doubts::of(program, inputs);
    let mut out = Vec::new();
    for r in broken {
        let Some(column) = rows.column(r.condition) else {
            continue;
        };
        let groups = match r.grain {
            Grain::Group(g) => rows.groups(g),
            Grain::Const | Grain::Job | Grain::Table(_) => None,
        };
        let all_failing: BTreeSet<usize> = (0..column.len())
            .filter(|i| matches!(column.get(*i), Cell::Truth(false)))
            .collect();
        let told = |row: &usize| !doubts.is_open(program, r.condition, (r.grain, *row), groups);
        let failing: BTreeSet<usize> = all_failing.iter().copied().filter(told).collect();
        if all_failing.is_empty() {
            // The condition itself failed; the fault is reported by its own message.
            let kinds: BTreeMap<NodeId, (FaultKind, BTreeSet<usize>)> =
                column
                    .missing()
                    .fold(BTreeMap::new(), |mut m, (row, cell)| {
                        if let Cell::Fault(f) = cell {
                            m.entry(f.node)
                                .or_insert_with(|| (f.kind, BTreeSet::new()))
                                .1
                                .insert(row);
                        }
                        m
                    });
            for (node, (kind, rows)) in kinds {
                let (fault, table) = (Fault { kind, node }, table_of(r.grain));
                out.extend(fault_messages(
                    program, version, inputs, &fault, table, &rows, telling,
                )?);
            }
            continue;
        }
        if failing.is_empty() {
            continue;
        }
        for group in groups_told(telling, r.grain, &failing) {
            out.extend(broken_on(program, inputs, &rows, r, &group, telling));
        }
    }
    Ok(out)
}

/// The rows of each message. Each group of rows has cells of its own, so the first groups are reported one by one.
fn groups_told(telling: Telling, grain: Grain, failing: &BTreeSet<usize>) -> Vec<Vec<usize>> {
    if telling == Telling::Apart || !matches!(grain, Grain::Group(_)) {
        return telling.groups(failing);
    }
    let all: Vec<usize> = failing.iter().copied().collect();
    let (first, rest) = all.split_at(all.len().min(MOST_GROUPS));
    let mut told: Vec<Vec<usize>> = first.iter().map(|g| vec![*g]).collect();
    if !rest.is_empty() {
        told.push(rest.to_vec());
    }
    told
}

/// The message of a requirement that does not hold on these rows of its grain.
fn broken_on(
    program: &Program,
    inputs: &Inputs<'_>,
    results: &Results,
    def: &RequireDef,
    group: &[usize],
    telling: Telling,
) -> Option<Diagnostic> {
    let first = *group.first()?;
    let said = template_text(program, &def.message, results, first);
    let mut d = Diagnostic::error(def.code, said).at(def.span, "required here");
    let groups = match def.grain {
        Grain::Group(g) => results.groups(g),
        Grain::Const | Grain::Job | Grain::Table(_) => None,
    };
    let most = match telling {
        Telling::Together => MOST_CELLS,
        Telling::Apart => MOST_APART,
    };
    let blamed = blamed::cells(program, inputs, def, group, groups, most);
    let is_blamed = !def.blames.is_empty();
    for place in blamed {
        d = d.at(place, "");
    }
    for line in &def.blames {
        if let Blamed::Line(span) = line {
            d = d.at(*span, "said here");
        }
    }
    match def.grain {
        Grain::Table(t) => {
            if !is_blamed {
                for place in cells_under(program, def.condition, inputs, t, first) {
                    d = d.at(place.0, place.1);
                }
            }
            d = d.on_rows(
                group.len(),
                marks(program, inputs, t, group.iter().copied()),
            );
        }
        Grain::Group(g) => {
            let (grouping, groups) = (program.groups.get(g)?, groups?);
            let rows: Vec<usize> = group
                .iter()
                .flat_map(|at| blamed::of_group(groups, *at))
                .collect();
            if !is_blamed {
                d = at_keys(program, inputs, grouping, &rows, d);
            }
            let marked = marks(program, inputs, grouping.of, rows.iter().copied());
            d = d.on_rows(rows.len(), marked);
        }
        Grain::Const | Grain::Job => {}
    }
    Some(d)
}

/// Adds the cells that put the rows of a group together.
fn at_keys(
    program: &Program,
    inputs: &Inputs<'_>,
    grouping: &Grouping,
    rows: &[usize],
    mut d: Diagnostic,
) -> Diagnostic {
    let data = inputs.tables.get(grouping.of.index());
    for row in rows.iter().take(MOST_CELLS) {
        for key in &grouping.keys {
            let Kind::Column { column, .. } = program.node(*key).kind else {
                continue;
            };
            if let Some(place) = data.and_then(|t| t.cell(*row, usize::from(column))) {
                d = d.at(place, "");
            }
        }
    }
    d
}

/// The code and the sentence of a fault.
fn worded(kind: FaultKind, name: &str) -> (&'static str, String) {
    match kind {
        FaultKind::DivideByZero => ("OV-901", format!("{name} divides by zero")),
        FaultKind::NoLookupRow => (
            "OV-902",
            format!("{name} finds no row of the table that fits"),
        ),
        FaultKind::NoDecision => ("OV-903", format!("{name}: no line of the decision holds")),
        FaultKind::TwoDecisions(..) => (
            "OV-904",
            format!("{name}: two lines of the decision hold at once"),
        ),
        FaultKind::NotPositiveStep => (
            "OV-905",
            format!("{name} rounds to a step that is not above zero"),
        ),
        FaultKind::TooManyDigits => (
            "OV-906",
            format!("{name} grows too long to be kept exactly"),
        ),
        FaultKind::NotReal(NotReal::LogOfNonPositive) => (
            "OV-907",
            format!("{name} takes the logarithm of a value that is not above zero"),
        ),
        FaultKind::NotReal(_) => (
            "OV-907",
            format!("{name} takes a root or a power that has no real result"),
        ),
        FaultKind::EmptyGroup => (
            "OV-908",
            format!("{name} looks for a least, most or mean over no row"),
        ),
        FaultKind::ZeroWeights => (
            "OV-909",
            format!("{name} is shared out by weights that are all zero"),
        ),
        FaultKind::NegativeWeight => (
            "OV-909",
            format!("{name} is shared out by a weight below zero"),
        ),
        FaultKind::NotMultipleOfStep => (
            "OV-912",
            format!("{name} is not a whole number of the steps it is shared out in"),
        ),
    }
}

/// How a fault is mended, where that can be said of all of its kind.
fn mend(kind: FaultKind) -> Option<&'static str> {
    match kind {
        FaultKind::DivideByZero => {
            Some("write `if ... is 0 ... then ... else ...` around it, or correct the cell")
        }
        FaultKind::NoLookupRow => {
            Some("add a row to the table for it, or a rule for what lies outside")
        }
        FaultKind::NoDecision => Some("add a line for it, or end with `otherwise`"),
        FaultKind::TwoDecisions(..) => {
            Some("narrow one of them, or write `first that holds` on the heading")
        }
        FaultKind::NotPositiveStep
        | FaultKind::TooManyDigits
        | FaultKind::NotReal(_)
        | FaultKind::EmptyGroup
        | FaultKind::ZeroWeights
        | FaultKind::NotMultipleOfStep
        | FaultKind::NegativeWeight => None,
    }
}

#[expect(
    clippy::wildcard_enum_match_arm,
    reason = "every other kind looked at its children"
)]
fn fault_messages(
    program: &Program,
    version: &Version,
    inputs: &Inputs<'_>,
    fault: &Fault,
    table: Option<TableId>,
    rows: &BTreeSet<usize>,
    telling: Telling,
) -> Result<Vec<Diagnostic>, RunError> {
    let node = program.node(fault.node);
    let rule = version.values.iter().find(|v| {
        v.span.file == node.span.file
            && v.span.start <= node.span.start
            && node.span.end <= v.span.end
    });
    let name = rule
        .map(|v| format!("`{}`", v.name))
        .unwrap_or_else(|| "this".into());
    // What is shown is what the failing operation looked at.
    let looked_at: Vec<NodeId> = match &node.kind {
        Kind::Div(_, b) => vec![*b],
        Kind::Lookup { keys, .. } => keys.clone(),
        Kind::Round { step, .. } => vec![*step],
        other => other.children().into_vec(),
    };
    let (code, message) = worded(fault.kind, &name);
    let mut d = Diagnostic::error(code, message).at(node.span, "");
    if let FaultKind::TwoDecisions(a, b) = fault.kind
        && let Some(decide) = rule.and_then(|v| {
            if let crate::program::ValueKind::Decide(d) = &v.kind {
                Some(d)
            } else {
                None
            }
        })
    {
        for line in [a, b] {
            if let Some(l) = decide.lines.get(usize::from(line)) {
                d = d.at(l.span, "holds");
            }
        }
    }
    if let Some(mend) = mend(fault.kind) {
        d = d.mend(mend);
    }
    let Some(t) = table else { return Ok(vec![d]) };
    let values = eval::run(program, inputs, &looked_at, &eval::Options::default())?;
    // A key is reported as its table has it.
    let unit_of = |at: usize| {
        let Kind::Lookup { table, .. } = &node.kind else {
            return None;
        };
        let lookup = program.lookups.get(*table)?;
        lookup.keys.get(at)?.unit.as_ref()
    };
    let of_rows = |group: Vec<usize>| {
        let mut d = d.clone();
        let Some(first) = group.first().copied() else {
            return d;
        };
        let found: Vec<String> = looked_at
            .iter()
            .enumerate()
            .filter(|(_, n)| !matches!(program.node(**n).kind, Kind::Number(_)))
            .map(|(at, n)| cell_text(program, *n, &values.value(*n, first), unit_of(at)))
            .collect();
        if !found.is_empty() && found.len() <= 4 {
            d = d.found(format!(
                "{} on {}",
                found.join(", "),
                marks(program, inputs, t, [first]).join("")
            ));
        }
        let mut places = Vec::new();
        for n in &looked_at {
            places.extend(cells_under(program, *n, inputs, t, first));
        }
        places.dedup();
        for (place, text) in places.into_iter().take(MOST_CELLS) {
            d = d.at(place, text);
        }
        d.on_rows(
            group.len(),
            marks(program, inputs, t, group.iter().copied()),
        )
    };
    Ok(telling.groups(rows).into_iter().map(of_rows).collect())
}

/// Marks of the first few rows.
pub(super) fn marks(
    program: &Program,
    inputs: &Inputs<'_>,
    table: TableId,
    rows: impl IntoIterator<Item = usize>,
) -> Vec<String> {
    rows.into_iter()
        .take(MOST_MARKS)
        .map(|r| mark(program, inputs, table, r))
        .collect()
}

fn mark(program: &Program, inputs: &Inputs<'_>, table: TableId, row: usize) -> String {
    let key = program.tables[table].schema.key;
    let data: Option<&&Table> = inputs.tables.get(table.index());
    let by_key = key
        .and_then(|k| data?.columns.get(k))
        .and_then(|c| c.text(row))
        .map(str::to_owned);
    by_key
        .or_else(|| {
            data.and_then(|d| d.places.get(row))
                .map(|p| format!("row {}", p.row))
        })
        .unwrap_or_else(|| format!("row {}", row + 1))
}

/// Cells of the survey that a node reads on a row.
#[expect(
    clippy::wildcard_enum_match_arm,
    reason = "every other kind reads what its children read"
)]
fn cells_under(
    program: &Program,
    node: NodeId,
    inputs: &Inputs<'_>,
    table: TableId,
    row: usize,
) -> Vec<(crate::diagnostics::CellPlace, String)> {
    let below = program.walk([node], |_, n| match n.kind {
        Kind::Up { .. } | Kind::Count { .. } => Next::new(),
        _ => n.kind.children(),
    });
    let columns: BTreeSet<(u16, NodeId)> = below
        .filter_map(|(id, n)| match n.kind {
            Kind::Column { table: t, column } if t == table => Some((column, id)),
            _ => None,
        })
        .collect();
    let Some(data) = inputs.tables.get(table.index()) else {
        return vec![];
    };
    columns
        .into_iter()
        .take(MOST_CELLS)
        .filter_map(|(c, _)| data.cell(row, usize::from(c)).map(|p| (p, String::new())))
        .collect()
}
