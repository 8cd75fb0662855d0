//! Takes and parts that a later layer sends to another resource or phase, everywhere or on the rows where a condition holds.

use super::amend::LayeredAmend;
use super::takes::Line;
use super::typed::*;
use crate::diagnostics::{Diagnostic, Span};
use crate::program::{
    Adds, Grain, Kind, NodeId, NumTy, PartDef, PhaseId, Piece, RequireDef, ResourceId, TakeDef,
    Template, Ty,
};
use crate::syntax::tree::{AmendWhat, Expr, Layer, SendTo};
use crate::units::Dim;

/// A take, with its part if it is of one, on its way through the layers.
#[derive(Clone)]
struct Sent {
    take: TakeDef,
    part: Option<PartDef>,
}

/// One change that applies to a take: where it goes, and where it holds at the grain of the take.
struct Way<'a> {
    to: &'a SendTo,
    filter: Option<NodeId>,
    span: Span,
}

impl<'a> Checker<'a> {
    /// A line after all that later layers send elsewhere.
    pub(super) fn sent(
        &mut self,
        line: Line,
        grain: Grain,
        shared_by: Option<&'a Expr>,
    ) -> Checks<Line> {
        let ways = self.work.in_force_amends.clone();
        let sends = |a: &&LayeredAmend<'a>| matches!(a.amend.what, AmendWhat::Send { .. });
        let ways: Vec<LayeredAmend<'a>> = ways.iter().filter(sends).copied().collect();
        if ways.is_empty() {
            return Ok(line);
        }
        let take = match &line {
            Line::Take(take) => take,
            Line::Part(part) => &part.take,
            Line::Require(_) | Line::Caution(_) | Line::Several(_) => return Ok(line),
        };
        let name = &self.declared.resources[take.resource].tree.name.text;
        let phase = &self.program.phases[take.phase];
        for one in &ways {
            if let AmendWhat::Send { of_phase, .. } = &one.amend.what
                && one.amend.name.text == *name
                && of_phase.as_ref().is_none_or(|p| p.text == *phase)
            {
                self.work.sends_used.insert(one.amend.span);
            }
        }
        let (mut pieces, mut requires) = match line {
            Line::Take(take) => (vec![Sent { take, part: None }], vec![]),
            Line::Part(part) => {
                let part = *part;
                let sent = Sent {
                    take: part.take,
                    part: Some(part.def),
                };
                (vec![sent], part.requires)
            }
            other @ (Line::Require(_) | Line::Caution(_) | Line::Several(_)) => return Ok(other),
        };
        for layer in [Layer::Base, Layer::Shop, Layer::Job, Layer::Alternate] {
            for phases in [false, true] {
                let of_layer: Vec<LayeredAmend<'a>> = ways
                    .iter()
                    .filter(|w| w.layer == layer && (w.amend.what.word() == "phase") == phases)
                    .copied()
                    .collect();
                let mut next = Vec::new();
                for piece in pieces {
                    next.extend(self.sent_by(piece, &of_layer, grain, shared_by, &mut requires)?);
                }
                pieces = next;
            }
        }
        let mut lines: Vec<Line> = requires.into_iter().map(Line::Require).collect();
        for Sent { take, part } in pieces {
            lines.push(match part {
                None => Line::Take(take),
                Some(def) => Line::Part(Box::new(super::parts::Part {
                    def,
                    take,
                    requires: vec![],
                })),
            });
        }
        Ok(Line::Several(lines))
    }

    /// What becomes of one take under the changes of one layer.
    fn sent_by(
        &mut self,
        piece: Sent,
        ways: &[LayeredAmend<'a>],
        grain: Grain,
        shared_by: Option<&'a Expr>,
        requires: &mut Vec<RequireDef>,
    ) -> Checks<Vec<Sent>> {
        let ways = self.ways_of(&piece, ways, grain)?;
        let mut out = Vec::new();
        let mut rest = piece.clone();
        for (n, way) in ways.iter().enumerate() {
            let (resource, phase) = self.end_of(way, &piece)?;
            let Some(filter) = way.filter else {
                rest.take.resource = resource;
                rest.take.phase = phase;
                rest.take.sent.push(way.span);
                if let Some(part) = &mut rest.part {
                    (part.resource, part.phase) = (resource, phase);
                }
                continue;
            };
            for other in ways[..n].iter().filter_map(|w| Some((w.filter?, w.span))) {
                requires.push(self.not_both((filter, way.span), other, grain));
            }
            let mut sent = self.held_to(&piece, filter, way.span, grain, shared_by)?;
            sent.take.resource = resource;
            sent.take.phase = phase;
            sent.take.sent.push(way.span);
            if let Some(part) = &mut sent.part {
                (part.resource, part.phase) = (resource, phase);
            }
            out.push(sent);
            let others = self.node(Kind::Not(filter), Ty::Truth, way.span);
            rest = self.held_to(&rest, others, way.span, grain, shared_by)?;
        }
        out.insert(0, rest);
        Ok(out)
    }

    /// The changes that apply to a take and can be read at its grain. One for all comes last: those under a condition count more.
    fn ways_of(
        &mut self,
        piece: &Sent,
        ways: &[LayeredAmend<'a>],
        grain: Grain,
    ) -> Checks<Vec<Way<'a>>> {
        let mut out = Vec::new();
        let name = self.declared.resources[piece.take.resource]
            .tree
            .name
            .text
            .clone();
        let phase = self.program.phases[piece.take.phase].clone();
        for one in ways {
            let AmendWhat::Send {
                of_phase,
                filter,
                to,
            } = &one.amend.what
            else {
                continue;
            };
            if one.amend.name.text != name || of_phase.as_ref().is_some_and(|p| p.text != phase) {
                continue;
            }
            self.work.sends_used.insert(one.amend.span);
            let span = one.amend.span;
            let filter = match filter {
                None => None,
                Some(filter) if self.read_at(filter, grain) => {
                    let node = self.condition(filter, &Context::at(grain))?.node;
                    Some(self.brought_down(node, grain, filter.span))
                }
                Some(_) => {
                    self.work
                        .sends_stuck
                        .entry(span)
                        .or_default()
                        .push(piece.take.span);
                    continue;
                }
            };
            out.push(Way { to, filter, span });
        }
        out.sort_by_key(|w| w.filter.is_none());
        Ok(out)
    }

    /// Whether every name of a condition can be read at a grain.
    fn read_at(&self, filter: &Expr, grain: Grain) -> bool {
        super::grain::names_in(filter).into_iter().all(|name| {
            let Some(d) = self.def_for(name, grain) else {
                return true;
            };
            let from = self.declared.defs[d].grain;
            let is_key = match grain {
                Grain::Group(g) => {
                    let group = &self.program.groups[g];
                    from == Grain::Table(group.of) && group.key_names.iter().any(|key| key == name)
                }
                Grain::Const | Grain::Job | Grain::Table(_) => false,
            };
            from == grain || from == Grain::Const || is_key || self.reaches(grain, from)
        })
    }

    /// The resource and phase a change sends to.
    fn end_of(&mut self, way: &Way<'a>, piece: &Sent) -> Checks<(ResourceId, PhaseId)> {
        match way.to {
            SendTo::Phase(phase) => Ok((piece.take.resource, self.phase(phase)?)),
            SendTo::Resource(name) => {
                let to = self.resource_named(name)?;
                let (from, other) = (
                    self.declared.resources[piece.take.resource].tree,
                    self.declared.resources[to].tree,
                );
                let (a, b) = (self.unit(&from.unit)?, self.unit(&other.unit)?);
                if a.dim() != b.dim() {
                    let nouns = &self.program.nouns;
                    let words = |u: &crate::units::UnitExpr| crate::units::describe(u.dim(), nouns);
                    let (found, expected) = (words(&b), words(&a));
                    return self.fail(
                        Diagnostic::error(
                            "OV-365",
                            format!(
                                "`{}` is not counted in what `{}` is",
                                other.name.text, from.name.text
                            ),
                        )
                        .at(name.span, "")
                        .found(found)
                        .expected(expected),
                    );
                }
                Ok((to, piece.take.phase))
            }
        }
    }

    /// A take, and its part, on the rows where a condition holds.
    fn held_to(
        &mut self,
        piece: &Sent,
        condition: NodeId,
        span: Span,
        grain: Grain,
        shared_by: Option<&'a Expr>,
    ) -> Checks<Sent> {
        let ty = match self.program.node(piece.take.amount).ty.clone() {
            Ty::Number(n) => Ty::Number(NumTy {
                adds: Adds::Yes,
                ..n
            }),
            other @ (Ty::Truth | Ty::Choice(_) | Ty::Text | Ty::Point(_)) => other,
        };
        let amount = self.zero_unless(condition, piece.take.amount, ty, grain, span);
        let plan = self.take_plan(amount, grain, shared_by, piece.take.span)?;
        let part = piece.part.clone().map(|part| PartDef {
            count: self.zero_unless(condition, part.count, number(Dim::NONE), grain, span),
            ..part
        });
        Ok(Sent {
            take: TakeDef {
                amount,
                plan,
                ..piece.take.clone()
            },
            part,
        })
    }

    /// No row may fit two conditions of one layer.
    fn not_both(&mut self, a: (NodeId, Span), b: (NodeId, Span), grain: Grain) -> RequireDef {
        let both = self.node(Kind::And(a.0, b.0), Ty::Truth, a.1);
        let condition = self.node(Kind::Not(both), Ty::Truth, a.1);
        let condition = self.brought_down(condition, grain, a.1);
        let holds = self.holds_everywhere(condition, grain, a.1);
        let text = "two changes of one layer send the same take to different places here";
        RequireDef {
            condition,
            holds,
            grain,
            code: "OV-960",
            message: Template {
                pieces: vec![Piece::Text(text.to_owned())],
            },
            blames: Vec::new(),
            span: a.1,
        }
    }

    /// Tells of changes that send nothing, and of takes that stay because the condition can't be read where they are calculated.
    pub(super) fn tell_sends(&mut self) {
        for one in self.work.in_force_amends.clone() {
            let AmendWhat::Send { filter, .. } = &one.amend.what else {
                continue;
            };
            let name = &one.amend.name.text;
            let span = one.amend.span;
            if !self.work.sends_used.contains(&span) {
                self.problems.push(
                    Diagnostic::error(
                        "OV-601",
                        format!("no take or part of `{name}` fits this change"),
                    )
                    .at(span, "")
                    .mend("write the resource and the phase as the `take` or `part` line has them"),
                );
                continue;
            }
            let Some(stuck) = self.work.sends_stuck.get(&span) else {
                continue;
            };
            let mut d = Diagnostic::warning(
                "OV-515",
                format!("some takes of `{name}` stay where they are: the condition can't be read where they are calculated"),
            )
            .at(filter.as_ref().map_or(span, |f| f.span), "");
            for take in stuck.iter().take(5) {
                d = d.at(*take, "stays");
            }
            self.problems.push(d.mend(
                "that is right where the take is for a whole group or the job; else send a phase of it whole: change resource of ... for \"PHASE\" to ...",
            ));
        }
    }
}
