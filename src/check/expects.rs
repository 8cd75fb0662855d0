//! What a trial expects.

use super::trials::{CutExpect, TrialExpect, TrialOutcome};
use super::typed::*;
use super::unknown::Known;
use crate::diagnostics::{Diagnostic, Span};
use crate::number::Exact;
use crate::program::{DecideDef, Grain, NodeId, Ty, ValueKind};
use crate::syntax::tree::{self, CutFigure, ExpectTarget, Expr, ExprKind};
use crate::units::{Base, Dim, UnitExpr};

/// What a trial looks at.
struct Target {
    nodes: Vec<NodeId>,
    ty: Ty,
    /// What it is called in messages.
    called: String,
    /// Place of the rule.
    rule: Option<Span>,
    cut: Option<(CutExpect, CutFigure)>,
}

impl Target {
    fn of(nodes: Vec<NodeId>, ty: Ty, called: String) -> Target {
        Target {
            nodes,
            ty,
            called,
            rule: None,
            cut: None,
        }
    }
}

impl<'a> Checker<'a> {
    /// The unit of a written quantity, with or without a sign.
    #[expect(
        clippy::wildcard_enum_match_arm,
        reason = "only a written quantity has a unit of its own"
    )]
    fn written_unit(&mut self, e: &Expr) -> Option<UnitExpr> {
        match &e.kind {
            ExprKind::Quantity(q) => self.literal(q).ok().map(|l| l.unit),
            ExprKind::Negate(a) => self.written_unit(a),
            _ => None,
        }
    }

    /// The node of a part's count or of one of its sizes.
    fn expected_part(
        &mut self,
        name: &'a tree::Name,
        size: Option<(tree::Side, bool)>,
        version: usize,
    ) -> Option<(Vec<NodeId>, Ty, String)> {
        let parts = &self.program.versions[version].parts;
        let Some(part) = parts.iter().find(|p| p.name == name.text) else {
            let names: Vec<String> = parts.iter().map(|p| p.name.clone()).collect();
            let names = Known::these(names.iter().map(String::as_str));
            self.unknown("OV-610", "part", name, names);
            return None;
        };
        let Some((side, rough)) = size else {
            let target = format!("part {}", name.text);
            // A part of which some is sent elsewhere counts in all places.
            let counts = parts.iter().filter(|p| p.name == name.text);
            let counts = counts.map(|p| p.count).collect();
            return Some((counts, number(Dim::NONE), target));
        };
        let found = part.sizes.iter().find(|s| s.side == side);
        let Some(found) = found.map(|s| if rough { s.rough } else { s.finished }) else {
            let has: Vec<&str> = part.sizes.iter().map(|s| s.side.word()).collect();
            let d = Diagnostic::error(
                "OV-610",
                format!("the part `{}` has no {}", name.text, side.word()),
            )
            .at(name.span, "")
            .expected(has.join(", "));
            self.problems.push(d);
            return None;
        };
        let rough = if rough { "rough " } else { "" };
        Some((
            vec![found],
            number(Dim::length(1)),
            format!("part {} {rough}{}", name.text, side.word()),
        ))
    }

    /// The block of the plan that is expected, and the price that the trial or a layer says: a trial reads no price book.
    fn cut_expected(&mut self, name: &'a tree::Name, version: usize) -> Option<CutExpect> {
        let cuts = &self.program.terms.cuts;
        let Some(block) = cuts.iter().position(|c| c.name == name.text) else {
            let names: Vec<&str> = cuts.iter().map(|c| c.name.as_str()).collect();
            let d = Diagnostic::error(
                "OV-974",
                format!("no cut block says how `{}` is cut", name.text),
            )
            .at(name.span, "")
            .expected(if names.is_empty() {
                "a block `cut RESOURCE { ... }` in the job sheet".to_owned()
            } else {
                names.join(", ")
            });
            self.problems.push(d);
            return None;
        };
        let resource = cuts.get(block)?.resource;
        let changed = &self.program.versions[version].price_changes;
        let of_it = changed.iter().filter(|c| c.resource == resource);
        let price = of_it.max_by_key(|c| c.layer);
        let Some(price) = price.map(|c| c.price.clone()) else {
            let d = Diagnostic::error(
                "OV-975",
                format!("the trial does not say what `{}` costs", name.text),
            )
            .at(name.span, "")
            .expected("a price: a trial reads no price book")
            .mend(format!(
                "add to the trial: change price of {} to ... because \"...\"",
                name.text
            ));
            self.problems.push(d);
            return None;
        };
        Some(CutExpect { block, price })
    }

    /// The decision whose reason is expected.
    fn decision_asked(&mut self, e: &tree::Expect, version: usize, at: Span) -> Option<DecideDef> {
        let decide = match &e.target {
            ExpectTarget::Value(name) => {
                let values = &self.program.versions[version].values;
                values.iter().find_map(|v| match &v.kind {
                    ValueKind::Decide(decide) if v.name == name.text => Some(decide.clone()),
                    ValueKind::Column { .. }
                    | ValueKind::Given { .. }
                    | ValueKind::Rule
                    | ValueKind::Decide(_) => None,
                })
            }
            ExpectTarget::Take(_)
            | ExpectTarget::Part(..)
            | ExpectTarget::Cut(..)
            | ExpectTarget::Require => None,
        };
        if decide.is_none() {
            self.problems.push(
                Diagnostic::error("OV-608", "only a decision gives a reason")
                    .at(at, "")
                    .mend("take `because` out, or expect a decision"),
            );
        }
        decide
    }

    pub(super) fn expectation(
        &mut self,
        e: &'a tree::Expect,
        version: usize,
    ) -> Option<TrialExpect> {
        let Target {
            nodes,
            ty,
            called: target,
            rule,
            cut,
        } = self.target(e, version)?;
        let mut unit = None;
        let outcome = match (&e.outcome, &e.target) {
            (Err(_), ExpectTarget::Require) => TrialOutcome::RequireFails,
            (Err(code), _) => TrialOutcome::Refused(code.clone()),
            (Ok(expr), _) => {
                let (node, written) = self.outcome(expr, &ty, &target)?;
                unit = written;
                TrialOutcome::Value(node)
            }
        };
        let within = match &e.within {
            Some(within) => Some(self.tolerance(within, &ty)?),
            None => None,
        };
        let because = match &e.because {
            Some(text) => Some((
                text.text.clone(),
                self.decision_asked(e, version, text.span)?,
            )),
            None => None,
        };
        Some(TrialExpect {
            within,
            because,
            nodes,
            cut,
            outcome,
            unit,
            at: e.at.as_ref().map(|t| t.text.clone()),
            target,
            rule,
            span: e.span,
        })
    }

    /// What a trial looks at.
    fn target(&mut self, e: &'a tree::Expect, version: usize) -> Option<Target> {
        match &e.target {
            ExpectTarget::Require => {
                let requires = &self.program.versions[version].requires;
                let nodes = requires.iter().map(|r| r.condition).collect();
                Some(Target::of(nodes, Ty::Truth, "require".to_string()))
            }
            ExpectTarget::Value(name) => {
                let found = self.program.versions[version]
                    .values
                    .iter()
                    .find(|v| v.name == name.text)
                    .map(|v| (v.node, v.span));
                let Some((node, span)) = found else {
                    if !self.declared.by_name.contains_key(name.text.as_str())
                        && !self.reported.broken.contains(name.text.as_str())
                    {
                        self.unknown("OV-610", "rule", name, Known::Values);
                    }
                    return None;
                };
                let ty = self.program.node(node).ty.clone();
                Some(Target {
                    rule: Some(span),
                    ..Target::of(vec![node], ty, name.text.clone())
                })
            }
            ExpectTarget::Part(name, size) => {
                let (nodes, ty, called) = self.expected_part(name, *size, version)?;
                Some(Target::of(nodes, ty, called))
            }
            ExpectTarget::Cut(name, figure) => {
                let cut = self.cut_expected(name, version)?;
                let word = match figure {
                    CutFigure::Cost => "cost",
                    CutFigure::Bound => "bound",
                };
                let money = number(Dim::base(Base::Money));
                Some(Target {
                    cut: Some((cut, *figure)),
                    ..Target::of(Vec::new(), money, format!("cut {} {word}", name.text))
                })
            }
            ExpectTarget::Take(name) => {
                let v = &self.program.versions[version];
                let Some(r) = self
                    .declared
                    .resources_by_name
                    .get(name.text.as_str())
                    .copied()
                else {
                    self.unknown("OV-203", "resource", name, Known::Resources);
                    return None;
                };
                let takes = v.takes.iter().filter(|t| t.resource == r);
                let nodes = if e.at.is_some() {
                    takes.filter_map(|t| t.plan.by_row).collect()
                } else {
                    takes.map(|t| t.plan.total).collect()
                };
                let ty = number(v.resources[r].unit.dim().clone());
                Some(Target::of(nodes, ty, format!("take {}", name.text)))
            }
        }
    }

    /// The value a trial expects, and the unit it is written in.
    fn outcome(
        &mut self,
        expr: &'a Expr,
        ty: &Ty,
        target: &str,
    ) -> Option<(NodeId, Option<UnitExpr>)> {
        let wanted = if let Ty::Choice(c) = ty {
            Some(*c)
        } else {
            None
        };
        let t = self
            .settled(expr, &Context::at(Grain::Const), wanted)
            .ok()?;
        let fits = match (ty, self.ty(&t)) {
            (Ty::Number(a), Ty::Number(b)) => a.dim == b.dim,
            (a, b) => a == b,
        };
        if !fits {
            let (found, expected) = (self.words(&self.ty(&t).clone()), self.words(ty));
            self.problems.push(
                Diagnostic::error("OV-608", format!("`{target}` is never of this kind"))
                    .at(expr.span, found.clone())
                    .found(found)
                    .expected(expected),
            );
            return None;
        }
        let unit = match ty {
            Ty::Number(n) => self.written_unit(expr).filter(|u| *u.dim() == n.dim),
            Ty::Truth | Ty::Text | Ty::Choice(_) | Ty::Point(_) => None,
        };
        Some((t.node, unit))
    }

    /// How far a value may be from the one expected.
    fn tolerance(&mut self, within: &tree::Signed, ty: &Ty) -> Option<Exact> {
        match ty {
            Ty::Number(n) => self.signed_of(within, &n.dim, n.percent, "OV-608").ok(),
            Ty::Point(scale) => self.signed_of(within, &scale.step(), false, "OV-608").ok(),
            Ty::Truth | Ty::Text | Ty::Choice(_) => {
                self.problems.push(
                    Diagnostic::error("OV-608", "only a number or a point in time has a tolerance")
                        .at(within.span, "")
                        .mend("take `within` out"),
                );
                None
            }
        }
    }
}
