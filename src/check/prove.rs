//! Proof that exactly one line of a decision holds, by trying all combinations of the values that its conditions look at. Where all
//! values are columns of the survey a combination found is a real opening; where some are calculated from others it may not exist, and the
//! finding is "not sure".

use super::combinations::{Combinations, Value, Variable, column_of};
use crate::diagnostics::Sources;
use crate::program::{ChoiceId, Kind, Next, NodeId, Program, Ty};
use crate::syntax::tree::AbsentKind;
use crate::table::ColumnKind;
use crate::units::{Style, UnitExpr, default_unit, format_quantity, parse_unit, point_text};

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

/// Tries all combinations of cells. One finding of each kind at the most, beside lines that never count; of gaps one that holds no
/// added label, if there is one.
pub(super) fn prove(
    program: &Program,
    sources: &Sources,
    lines: &[Option<NodeId>],
    first_holds: bool,
    added: &dyn Fn(ChoiceId, u16) -> bool,
) -> Vec<Finding> {
    let Some(mut all) = Combinations::of(program, lines) else {
        return vec![Finding::TooMany];
    };
    let mut seen = Seen {
        counted: vec![false; lines.len()],
        gap: None,
        overlap: None,
    };
    let mut holding = Vec::new();
    for combination in 0..all.total {
        all.go_to(combination);
        if !all.holding(&mut holding) {
            // A line that might hold counts as reachable.
            seen.counted.iter_mut().for_each(|c| *c = true);
            continue;
        }
        match holding.as_slice() {
            [] => {
                let new = added_in(program, &all.variables, &all.values, added);
                let is_better = match &seen.gap {
                    None => true,
                    Some((_, old)) => old.is_some() && new.is_none(),
                };
                if is_better {
                    seen.gap = Some((witness(program, sources, &all.variables, &all.values), new));
                }
            }
            [first, rest @ ..] => {
                seen.counted[*first] = true;
                if !first_holds {
                    rest.iter().for_each(|i| seen.counted[*i] = true);
                    if let (Some(second), None) = (rest.first(), &seen.overlap) {
                        let witness = witness(program, sources, &all.variables, &all.values);
                        seen.overlap = Some((*first, *second, witness));
                    }
                }
            }
        }
    }
    findings(program, sources, lines, &all.variables, seen)
}

/// What was met among the combinations tried.
struct Seen {
    /// Lines that counted.
    counted: Vec<bool>,
    gap: Option<(String, Option<AddedAt>)>,
    overlap: Option<(usize, usize, String)>,
}

fn findings(
    program: &Program,
    sources: &Sources,
    lines: &[Option<NodeId>],
    variables: &[Variable],
    seen: Seen,
) -> Vec<Finding> {
    let sure = variables.iter().all(|v| v.free);
    let mut findings = Vec::new();
    if let Some((said, at)) = seen.gap {
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
    if let Some((first, second, witness)) = seen.overlap {
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
        seen.counted
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
#[expect(
    clippy::wildcard_enum_match_arm,
    reason = "only these kinds hold a constant that a proof may look at"
)]
fn has_constant(program: &Program, node: NodeId) -> bool {
    let mut parts = program.walk([node], |_, node| match node.kind {
        Kind::And(..) | Kind::Or(..) | Kind::Not(_) => node.kind.children(),
        _ => Next::new(),
    });
    parts.any(|(_, node)| match &node.kind {
        Kind::Truth(_) => true,
        Kind::LabelIn(a, _) => matches!(program.node(*a).kind, Kind::Label(_)),
        Kind::Compare { left, right, .. } => {
            program.constant(*left).is_some() && program.constant(*right).is_some()
        }
        _ => false,
    })
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
                        Ty::Number(_) | Ty::Truth | Ty::Text | Ty::Point(_) => String::new(),
                    };
                    format!("{name} is {label}")
                }
                Value::Truth(true) => format!("{name} is yes"),
                Value::Truth(false) => format!("{name} is no"),
                Value::Absent(AbsentKind::Blank) => format!("{name} is blank"),
                Value::Absent(AbsentKind::NotApplicable) => format!("{name} is n/a"),
                Value::Unknown => format!("{name} is unknown"),
            }
        })
        .collect();
    if parts.is_empty() {
        "always".into()
    } else {
        parts.join(" and ")
    }
}
