//! Faults that are certain before a row is read: a divisor, a key, a step or a root that comes to the same value on every row.
//!
//! Such a fault is noted where it is written, and told only if something that counts needs it on every row: what is in a branch
//! that may not be taken is left to the run. Knows nodes; must not know rows.

use super::changes::def_span;
use super::typed::*;
use crate::diagnostics::{Diagnostic, Severity, Span};
use crate::number::Exact;
use crate::program::{KeyCell, Kind, Lookup, Next, NodeId, RealNode, Ty, Version};
use crate::syntax::tree::{BinaryOp, Expr, ExprKind};
use crate::units::{Style, format_quantity};
use foldhash::HashSet;
use std::collections::BTreeSet;

/// A fault noted at its node.
#[derive(Debug, Clone)]
pub(super) struct Certain {
    message: Diagnostic,
    place: Span,
    /// Only written numbers are there: a slip of the pen, whatever becomes of the value.
    written: bool,
    /// In a branch that may not be taken.
    in_branch: bool,
}

/// Whether only written numbers are in an expression.
#[expect(
    clippy::wildcard_enum_match_arm,
    reason = "only a written number is one; a formula is worked out"
)]
pub(super) fn is_written(e: &Expr) -> bool {
    match &e.kind {
        ExprKind::Quantity(_) => true,
        ExprKind::Negate(a) | ExprKind::Power { base: a, .. } | ExprKind::Per { value: a, .. } => {
            is_written(a)
        }
        ExprKind::Binary {
            op: BinaryOp::Add | BinaryOp::Sub | BinaryOp::Mul | BinaryOp::Div,
            left,
            right,
            ..
        } => is_written(left) && is_written(right),
        _ => false,
    }
}

impl<'a> Checker<'a> {
    /// The node that a value is read from, whatever the block it is read in.
    fn read_from(&self, mut node: NodeId) -> NodeId {
        while let Kind::Down(of) = &self.program.node(node).kind {
            node = *of;
        }
        node
    }

    /// The number that a node is on every row: a written one, also where it is read through a rule of a block.
    fn same_everywhere(&self, node: NodeId) -> Option<&Exact> {
        self.program.constant(self.read_from(node))
    }

    /// Notes that the divisor `by` of `node` is zero on every row, if it is.
    pub(super) fn note_zero(&mut self, node: NodeId, by: &Typed, e: &'a Expr, cx: &Context<'a>) {
        if !self.same_everywhere(by.node).is_some_and(Exact::is_zero) {
            return;
        }
        let (text, zero) = (self.short(e.span), self.in_own_unit(by, e, cx));
        let d = Diagnostic::error("OV-901", "this divides by zero for any survey")
            .at(e.span, format!("comes to {zero}"));
        let d = if is_written(e) {
            d.mend("divide by another value")
        } else {
            d.mend(format!("give `{text}` another value, or write `if {text} is {zero} then ... else ...` around the division"))
        };
        self.note_certain(node, d, e, cx);
    }

    /// Notes that the step of a rounding is not above zero, if it is the same everywhere.
    pub(super) fn note_step(&mut self, node: NodeId, step: &Typed, e: &'a Expr, cx: &Context<'a>) {
        if self
            .same_everywhere(step.node)
            .is_none_or(|s| s.signum() > 0)
        {
            return;
        }
        let (text, value) = (self.short(e.span), self.in_own_unit(step, e, cx));
        let d = Diagnostic::error(
            "OV-905",
            "this rounds to a step that is not above zero for any survey",
        )
        .at(e.span, format!("comes to {value}"))
        .expected("a step above zero")
        .mend(format!(
            "give `{text}` another value, or round only where it is above zero"
        ));
        self.note_certain(node, d, e, cx);
    }

    /// Notes that a rounding has no real number to round, if what is wrong is the same everywhere.
    pub(super) fn note_unreal(&mut self, node: NodeId, e: &'a Expr, cx: &Context<'a>) {
        let Kind::RoundReal { real, .. } = &self.program.node(node).kind else {
            return;
        };
        let Some((code, message, of)) = self.unreal(real) else {
            return;
        };
        let number = Typed {
            node: of,
            pending: Pending::default(),
            whole: false,
            literal: false,
        };
        let d = Diagnostic::error(code, format!("{message} for any survey"))
            .at(e.span, "")
            .found(self.written_value(&number))
            .mend("give what goes in another value, or ask first whether it is above zero");
        self.note_certain(node, d, e, cx);
    }

    /// What is wrong with an irrational expression on every row, and the value it is wrong with.
    fn unreal(&self, real: &RealNode) -> Option<(&'static str, &'static str, NodeId)> {
        let leaf = |r: &RealNode| {
            if let RealNode::Leaf(n) = r {
                self.same_everywhere(*n).map(|x| (*n, x.signum()))
            } else {
                None
            }
        };
        match real {
            RealNode::Leaf(_) => None,
            RealNode::Root(a, degree) => match (
                leaf(a),
                self.program.constant(*degree).and_then(Exact::to_i64),
            ) {
                (Some((n, -1)), Some(d)) if d % 2 == 0 => {
                    Some(("OV-907", "this takes a root of a value below zero", n))
                }
                _ => self.unreal(a),
            },
            RealNode::Ln(a) => match leaf(a) {
                Some((n, -1 | 0)) => Some((
                    "OV-907",
                    "this takes the logarithm of a value that is not above zero",
                    n,
                )),
                _ => self.unreal(a),
            },
            RealNode::Div(a, b) => match leaf(b) {
                Some((n, 0)) => Some(("OV-901", "this divides by zero", n)),
                _ => self.unreal(a).or_else(|| self.unreal(b)),
            },
            RealNode::Add(a, b)
            | RealNode::Sub(a, b)
            | RealNode::Mul(a, b)
            | RealNode::Power(a, b) => self.unreal(a).or_else(|| self.unreal(b)),
        }
    }

    /// Notes that no row of a table fits keys that are the same everywhere, if none does.
    #[expect(
        clippy::wildcard_enum_match_arm,
        reason = "a key that is a formula is told by its value"
    )]
    pub(super) fn note_no_row(
        &mut self,
        node: NodeId,
        lookup: &Lookup,
        keys: &'a [Expr],
        e: &'a Expr,
        cx: &Context<'a>,
    ) {
        let Kind::Lookup {
            keys: nodes,
            interpolated,
            ..
        } = &self.program.node(node).kind
        else {
            return;
        };
        let known: Option<Vec<&Kind>> = nodes
            .iter()
            .map(|n| Some(&self.program.node(*n).kind).filter(|k| is_value(k)))
            .collect();
        let Some(known) = known else { return };
        let found = if *interpolated {
            between_ends(&known, lookup)
        } else {
            has_row(&known, lookup)
        };
        if found {
            return;
        }
        let mut values = Vec::new();
        for (key, node) in keys.iter().zip(nodes.clone()) {
            let typed = Typed {
                node,
                pending: Pending::default(),
                whole: false,
                literal: false,
            };
            values.push(match key.kind {
                ExprKind::Quantity(_) | ExprKind::Text(_) | ExprKind::Truth(_) => {
                    self.short(key.span)
                }
                _ => format!(
                    "{}   ({})",
                    self.in_own_unit(&typed, key, cx),
                    self.short(key.span)
                ),
            });
        }
        let place = keys.first().map_or(e.span, |k| k.span);
        let d = Diagnostic::error(
            "OV-902",
            format!("no row of the table `{}` fits any survey", lookup.name),
        )
        .at(place, "")
        .at(lookup.span, "declared here")
        .found(values.join("\n"))
        .mend("add a row for it, or look up another key");
        self.note_certain(node, d, e, cx);
    }

    /// A value in the unit its given is written in; otherwise in the usual one of its kind.
    #[expect(
        clippy::wildcard_enum_match_arm,
        reason = "only a written quantity has a unit of its own"
    )]
    fn in_own_unit(&mut self, value: &Typed, e: &Expr, cx: &Context<'a>) -> String {
        let node = self.read_from(value.node);
        let value = &Typed { node, ..*value };
        let given = match &e.kind {
            ExprKind::Name(name) if !cx.params.contains_key(name.as_str()) => {
                self.def_for(name, cx.grain)
            }
            _ => None,
        };
        if let (Some(d), Some(number), Ty::Number(n)) = (
            given,
            self.program.constant(value.node).cloned(),
            self.ty(value).clone(),
        ) {
            let def = self.declared.defs[d].clone();
            let unit = self.unit_to_show(&def, node, &n);
            return format_quantity(&number, &unit, &self.program.nouns, Style::default());
        }
        self.written_value(value)
    }

    fn note_certain(
        &mut self,
        node: NodeId,
        mut message: Diagnostic,
        e: &'a Expr,
        cx: &Context<'a>,
    ) {
        if let ExprKind::Name(name) = &e.kind
            && let Some(d) = self
                .def_for(name, cx.grain)
                .filter(|_| !cx.params.contains_key(name.as_str()))
        {
            let set = self
                .work
                .in_force
                .get(&d)
                .and_then(|l| l.last())
                .map_or_else(|| def_span(&self.declared.defs[d]), |c| c.change.span);
            message = message.at(set, "set here");
        }
        if let Some(call) = cx.call {
            message = message.at(call, "called here");
        }
        // Equal expressions are one node: a place where it is always worked is reported before one where it may not be.
        if cx.in_branch && self.kept.certain.contains_key(&node)
            || self.kept.certain.get(&node).is_some_and(|c| !c.in_branch)
        {
            return;
        }
        self.kept.certain.insert(
            node,
            Certain {
                message,
                place: e.span,
                written: is_written(e),
                in_branch: cx.in_branch,
            },
        );
    }

    /// Tells the noted faults that a version meets on every row. One that only a value read by nothing meets is a caution.
    pub(super) fn tell_certain(&mut self, version: &Version, defs: &[usize]) {
        if self.kept.certain.is_empty() {
            return;
        }
        let read: HashSet<usize> = self.kept.reads.iter().map(|(_, d)| *d).collect();
        let takes = version.takes.iter().map(|t| t.amount);
        let asked = version
            .requires
            .iter()
            .map(|r| r.condition)
            .chain(version.cautions.iter().filter_map(|c| c.when));
        let counting = self.needed_always(takes.chain(asked));
        let unread = version
            .values
            .iter()
            .zip(defs)
            .filter(|(_, d)| !read.contains(d))
            .map(|(v, _)| v.node);
        let idle = self.needed_always(unread);
        for (nodes, severity) in [(counting, Severity::Error), (idle, Severity::Warning)] {
            for id in nodes {
                // Told once, by the version that meets it first, as the graver of the two.
                let Some(Certain {
                    mut message,
                    place,
                    written,
                    ..
                }) = self.kept.certain.remove(&id)
                else {
                    continue;
                };
                message.severity = if written { Severity::Error } else { severity };
                if !self.reported.certain.insert((message.code, place)) {
                    continue;
                }
                if let (Some(name), Severity::Error) = (&version.name, message.severity) {
                    message = message.note(format!("in the alternate \"{name}\""));
                }
                self.problems.push(message);
            }
        }
    }

    /// The nodes that are calculated on every row on which one of these is: those in no branch that may not be taken.
    #[expect(
        clippy::wildcard_enum_match_arm,
        reason = "every other kind needs all its children"
    )]
    fn needed_always(&self, roots: impl Iterator<Item = NodeId>) -> BTreeSet<NodeId> {
        let worked = self.program.walk(roots, |_, node| match &node.kind {
            Kind::Select { condition, .. } => Next::from_slice(&[*condition]),
            Kind::Choose { subject, .. } => Next::from_slice(&[*subject]),
            // One side may settle it, whatever the other lacks.
            Kind::And(..) | Kind::Or(..) => Next::new(),
            Kind::DecideLine { lines, .. } => {
                lines.first().copied().flatten().into_iter().collect()
            }
            Kind::IfAbsent { value, .. } => Next::from_slice(&[*value]),
            Kind::Up {
                filter: Some(filter),
                ..
            } => Next::from_slice(&[*filter]),
            kind => kind.children(),
        });
        worked.map(|(id, _)| id).collect()
    }
}

fn is_value(kind: &Kind) -> bool {
    matches!(kind, Kind::Number(_) | Kind::Text(_) | Kind::Truth(_))
}

fn has_row(keys: &[&Kind], lookup: &Lookup) -> bool {
    let fits = |cell: &KeyCell, key: &Kind| match (cell, key) {
        (KeyCell::Number(n), Kind::Number(k)) => n == k,
        (KeyCell::Band { low, high }, Kind::Number(k)) => {
            low.as_ref()
                .is_none_or(|(l, within)| k > l || (*within && k == l))
                && high
                    .as_ref()
                    .is_none_or(|(h, within)| k < h || (*within && k == h))
        }
        (KeyCell::Text(t), Kind::Text(k)) => t.eq_ignore_ascii_case(k),
        (KeyCell::Truth(t), Kind::Truth(k)) => t == k,
        (KeyCell::Any, _) => true,
        _ => false,
    };
    (0..lookup.rows).any(|row| {
        lookup
            .keys
            .iter()
            .zip(keys)
            .all(|(column, key)| fits(&column.cells[row], key))
    })
}

/// Whether the one key of a table that is interpolated lies between its ends.
fn between_ends(keys: &[&Kind], lookup: &Lookup) -> bool {
    let ([Kind::Number(key)], [column]) = (keys, lookup.keys.as_slice()) else {
        return true;
    };
    let points = || {
        column.cells.iter().filter_map(|c| {
            if let KeyCell::Number(n) = c {
                Some(n)
            } else {
                None
            }
        })
    };
    points().any(|p| p <= key) && points().any(|p| p >= key)
}

/// Codes and places of the faults that were reported.
pub(super) type Told = HashSet<(&'static str, Span)>;
