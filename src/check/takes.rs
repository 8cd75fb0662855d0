//! Take-off lines, requirements, cautions and resources of a version.

use super::typed::*;
use super::unknown::Known;
use crate::diagnostics::suggest::{listed, nearest};
use crate::diagnostics::{Diagnostic, Span};
use crate::number::Exact;
use crate::program::{
    Adds, AggregateKind, CautionDef, Grain, Grouping, Kind, Missing, Node, NodeId, NumTy, PhaseId,
    RequireDef, ResourceId, TakeDef, TakePlan, Ty, Version, WhyNot,
};
use crate::syntax::tree::{self, ForLine};
use crate::units::{Dim, UnitExpr};

/// A line of a block that declares no value.
#[derive(Debug, Clone)]
pub(super) enum Line {
    Take(TakeDef),
    Require(RequireDef),
    Caution(CautionDef),
    Part(Box<super::parts::Part>),
    /// What a line became where later layers send some of it elsewhere.
    Several(Vec<Line>),
}

impl<'a> Checker<'a> {
    /// Takes, requirements and cautions of all blocks. Lines that the version before had in common are taken from it.
    pub(super) fn lines_of(&mut self, version: &mut Version) {
        let mut number = 0;
        // What is asked of one resource may be sent there from another.
        let sending = self
            .work
            .in_force_amends
            .iter()
            .any(|a| a.amend.what.word() == "resource")
            && self
                .work
                .need
                .as_ref()
                .is_some_and(|n| !n.takes.is_empty() || !n.cuts.is_empty());
        for b in 0..self.declared.blocks.len() {
            let (grain, lines) = (self.declared.blocks[b].grain, self.declared.blocks[b].lines);
            for line in lines {
                let needed = match (&self.work.need, line) {
                    (_, ForLine::Rule(_) | ForLine::Decide(_)) => false,
                    (None, _) => true,
                    (Some(n), ForLine::Take(take)) => {
                        n.takes.contains(take.resource.text.as_str()) || sending
                    }
                    (Some(n), ForLine::Part(part)) => {
                        sending
                            || n.takes.contains(part.resource.text.as_str())
                            || n.cuts.contains(part.resource.text.as_str())
                            || n.parts.contains(part.name.text.as_str())
                            || n.requires
                    }
                    (Some(n), ForLine::Require { .. }) => n.requires,
                    (Some(_), _) => false,
                };
                number += 1;
                if needed {
                    self.add_line(number, version, |checker| checker.line(line, grain));
                }
            }
        }
        if self.work.need.is_some() {
            return;
        }
        for i in 0..self.declared.cautions.len() {
            number += 1;
            let caution = self.declared.cautions[i];
            self.add_line(number, version, |checker| {
                checker.caution(caution, Grain::Const).map(Line::Caution)
            });
        }
    }

    fn add_line(
        &mut self,
        number: usize,
        version: &mut Version,
        work: impl FnOnce(&mut Self) -> Checks<Line>,
    ) {
        let done = match self.kept.lines.get(&number) {
            Some(done) => done.clone(),
            None => {
                self.reading.line = Some(number);
                let done = work(self);
                self.reading.line = None;
                self.kept.lines.insert(number, done.clone());
                done
            }
        };
        if let Ok(line) = done {
            let before = version.takes.len();
            put_line(version, line);
            for take in version.takes.iter().skip(before) {
                self.kept.line_of_take.insert(take.span, number);
            }
        }
    }

    pub(super) fn line(&mut self, line: &'a ForLine, grain: Grain) -> Checks<Line> {
        let cx = Context::at(grain);
        match line {
            ForLine::Take(take) => {
                let line = Line::Take(self.take(take, grain, &cx)?);
                self.sent(line, grain, take.shared_by.as_ref())
            }
            ForLine::Part(part) => {
                let line = Line::Part(Box::new(self.part(part, grain, &cx)?));
                self.sent(line, grain, None)
            }
            ForLine::Require {
                condition,
                message,
                blames,
                span,
            } => {
                let c = self.condition(condition, &cx);
                let message = self.template(message, &cx)?;
                let blames = self.blamed(blames, grain);
                let condition = self.brought_down(c?.node, grain, *span);
                let holds = self.holds_everywhere(condition, grain, *span);
                Ok(Line::Require(RequireDef {
                    condition,
                    holds,
                    grain,
                    code: "OV-910",
                    message,
                    blames,
                    span: *span,
                }))
            }
            ForLine::Caution(c) => self.caution(c, grain).map(Line::Caution),
            ForLine::Rule(_) | ForLine::Decide(_) => Err(Poisoned),
        }
    }

    /// Whether a condition holds on every row: one value for the job.
    pub(super) fn holds_everywhere(
        &mut self,
        condition: NodeId,
        grain: Grain,
        span: Span,
    ) -> NodeId {
        if matches!(grain, Grain::Job | Grain::Const) {
            return condition;
        }
        self.program.intern(Node {
            kind: Kind::Up {
                kind: AggregateKind::All,
                of: condition,
                weight: None,
                filter: None,
            },
            ty: Ty::Truth,
            grain: Grain::Job,
            missing: Missing::Never,
            span,
        })
    }

    fn caution(&mut self, c: &'a tree::Caution, grain: Grain) -> Checks<CautionDef> {
        let cx = Context::at(grain);
        let when = c.when.as_ref().map(|w| self.condition(w, &cx)).transpose();
        let phases: Vec<Checks<PhaseId>> = c.phases.iter().map(|p| self.phase(p)).collect();
        let text = self.template(&c.text, &cx)?;
        let phases = phases.into_iter().collect::<Checks<Vec<PhaseId>>>()?;
        let when = when?.map(|w| self.brought_down(w.node, grain, c.span));
        let per_row = !matches!(grain, Grain::Job | Grain::Const);
        let count = when.filter(|_| per_row).map(|w| {
            self.program.intern(Node {
                kind: Kind::Count {
                    of: grain,
                    filter: Some(w),
                },
                ty: number(Dim::NONE),
                grain: Grain::Job,
                missing: Missing::Never,
                span: c.span,
            })
        });
        Ok(CautionDef {
            when,
            count,
            grain,
            text,
            kind: c.kind,
            whose: c.whose,
            phases,
            span: c.span,
        })
    }

    fn take(&mut self, take: &'a tree::Take, grain: Grain, cx: &Context<'a>) -> Checks<TakeDef> {
        let amount = self.settled(&take.amount, cx, None);
        let when = take.when.as_ref().map(|w| {
            let mut with = cx.clone();
            with.known.clear();
            self.condition(w, &with)
        });
        let r = self.resource_named(&take.resource)?;
        self.refuse_besides(take)?;
        let Some(phase) = &take.phase else {
            return self.fail(
                Diagnostic::error("OV-221", "this take does not say for which phase")
                    .at(take.span, "")
                    .mend("add `for \"...\"` with the phase"),
            );
        };
        let (amount, when) = (amount?, when.transpose()?);
        let resource = self.declared.resources[r].tree;
        if self.reported.broken.contains(resource.name.text.as_str()) {
            return Err(Poisoned);
        }
        let unit = self.unit(&resource.unit)?;
        let n = self.as_number(&amount, take.amount.span)?;
        if n.dim != *unit.dim() {
            let d = self.other_than_counted(take, resource, &unit, &n, grain);
            return self.fail(d);
        }
        if let Adds::No(why @ (WhyNot::Fact | WhyNot::Rate | WhyNot::Percent | WhyNot::Ratio)) =
            n.adds
            && self.grain_of(amount.node) != Grain::Const
        {
            let d = Diagnostic::error("OV-506", "this amount can't be added up over the rows")
                .at(take.amount.span, "")
                .note(super::number_type::why_not(why));
            return self.fail(if why == WhyNot::Fact {
                d.mend("take it in the block in which it is calculated, with `shared by ...`")
            } else {
                d
            });
        }
        if unit.dim().as_count().is_some() && !amount.whole {
            let word = unit.text(&self.program.nouns);
            return self.fail(
                Diagnostic::error("OV-318", format!("this may take part of a {word}"))
                    .at(take.amount.span, "")
                    .mend(format!(
                        "say how it becomes whole: ... rounded up to 1 {word}"
                    )),
            );
        }
        let span = take.span;
        let own = self.brought_down(amount.node, grain, take.amount.span);
        let node = match when {
            None => own,
            Some(w) => {
                let condition = self.brought_down(w.node, grain, span);
                let ty = Ty::Number(NumTy {
                    adds: Adds::Yes,
                    ..n
                });
                self.zero_unless(condition, own, ty, grain, span)
            }
        };
        let plan = self.take_plan(node, grain, take.shared_by.as_ref(), take.span)?;
        let phase = self.phase(phase)?;
        Ok(TakeDef {
            resource: r,
            phase,
            grain,
            amount: node,
            plan,
            note: take.remarks.note.clone(),
            part: None,
            sent: vec![],
            from_memory: false,
            span,
        })
    }

    /// An amount in another unit than its resource is counted in.
    fn other_than_counted(
        &self,
        take: &tree::Take,
        resource: &tree::Resource,
        unit: &UnitExpr,
        n: &NumTy,
        grain: Grain,
    ) -> Diagnostic {
        let nouns = &self.program.nouns;
        let (found, expected) = (
            crate::units::describe(&n.dim, nouns),
            crate::units::describe(unit.dim(), nouns),
        );
        let mut d = Diagnostic::error(
            "OV-309",
            format!(
                "`{}` is counted in {}, and this is {found}",
                resource.name.text,
                unit.text(nouns)
            ),
        )
        .at(take.amount.span, found.clone())
        .at(resource.unit.span, expected.clone())
        .found(found)
        .expected(expected);
        if let Some((crate::units::Base::Noun(noun), power)) =
            n.dim.single_factor_quotient(unit.dim())
        {
            let word = nouns.plural_name(noun);
            d = match self.mend_row_count(grain, noun, take.amount.span) {
                Some(mend) if power < 0 => d.mend(mend),
                _ if power > 0 => d.note(format!("one factor is too many: a count of {word}")),
                _ => d.note(format!("one factor is missing: a count of {word}")),
            };
        }
        d
    }

    /// A number where a condition holds, zero elsewhere.
    pub(super) fn zero_unless(
        &mut self,
        condition: NodeId,
        value: NodeId,
        ty: Ty,
        grain: Grain,
        span: Span,
    ) -> NodeId {
        let dim = match &ty {
            Ty::Number(n) => n.dim.clone(),
            Ty::Truth | Ty::Choice(_) | Ty::Text | Ty::Point(_) => Dim::NONE,
        };
        let zero = self.number_node(Exact::ZERO, dim, span);
        let missing = self.missing_of(&[value, condition]).min(Missing::Partly);
        self.program.intern(Node {
            kind: Kind::Select {
                condition,
                then: value,
                otherwise: zero,
            },
            ty,
            grain,
            missing,
            span,
        })
    }

    /// A resource that is declared.
    pub(super) fn resource_named(&mut self, name: &'a tree::Name) -> Checks<ResourceId> {
        let found = self
            .declared
            .resources_by_name
            .get(name.text.as_str())
            .copied();
        if found.is_none() {
            self.unknown("OV-203", "resource", name, Known::Resources);
        }
        found.ok_or(Poisoned)
    }

    /// Where the sheets list their phases, a take is for one of them.
    pub(super) fn phase(&mut self, name: &tree::Text) -> Checks<PhaseId> {
        if self.declared.phases_listed && !self.kept.phases_by_name.contains_key(&name.text) {
            let d = Diagnostic::error(
                "OV-225",
                format!("\"{}\" is not one of the phases", name.text),
            )
            .at(name.span, "");
            let add = "write it in a `phases` line, of this sheet or another";
            let phases = &self.program.phases;
            if !self.may_suggest(phases.len()) {
                return self.fail(d.mend(add));
            }
            let lower = name.text.to_lowercase();
            let same = phases.iter().find(|p| p.to_lowercase() == lower);
            let near = same
                .map(String::as_str)
                .or_else(|| nearest(&name.text, phases.iter().map(String::as_str)));
            let d = d.expected(listed(phases));
            return self.fail(match near {
                Some(near) => d.mend(format!("did you mean \"{near}\"?")),
                None => d.mend(add),
            });
        }
        self.add_phase(name)
    }

    /// Nodes that add a take up: in all, by row of the main table, by each column of `split by`.
    pub(super) fn take_plan(
        &mut self,
        node: NodeId,
        grain: Grain,
        shared_by: Option<&'a tree::Expr>,
        span: Span,
    ) -> Checks<TakePlan> {
        let total = if grain == Grain::Job {
            node
        } else {
            self.summed(node, Grain::Job, span)
        };
        let main = self.program.main_table();
        let mut by_row = None;
        match (grain, main) {
            (Grain::Table(t), Some(m)) if t == m => by_row = Some(node),
            (Grain::Table(_), Some(m)) if self.reaches(grain, Grain::Table(m)) => {
                by_row = Some(self.summed(node, Grain::Table(m), span))
            }
            _ => {}
        }
        if let Some(weight) = shared_by {
            let Some(m) = main.filter(|m| self.reaches(Grain::Table(*m), grain)) else {
                return self.fail(
                    Diagnostic::error("OV-505", "a take of each row has nothing to be shared out")
                        .at(weight.span, "")
                        .expected("`shared by` on a take of a group or of the job"),
                );
            };
            let fine = Grain::Table(m);
            let w = self.settled(weight, &Context::at(fine), None)?;
            self.as_number(&w, weight.span)?;
            let weight_node = self.brought_down(w.node, fine, weight.span);
            by_row = Some(self.share(node, weight_node, None, fine, span));
        }
        let mut by_group = Vec::new();
        for g in self.kept.splits.clone() {
            let sum = by_row.map(|row| self.summed(row, Grain::Group(g), span));
            if let Some(s) = sum {
                by_group.push((g, s));
            }
        }
        let least = (matches!(grain, Grain::Table(_) | Grain::Group(_)) && self.may_sink(node))
            .then(|| self.least(node, span));
        Ok(TakePlan {
            total,
            least,
            by_row,
            by_group,
        })
    }

    /// Whether a node may come out below zero: something is taken away in it, or it reads what may be below zero.
    #[expect(
        clippy::wildcard_enum_match_arm,
        reason = "only these kinds are known to be zero or more from their form"
    )]
    fn may_sink(&mut self, node: NodeId) -> bool {
        // Nodes below, each with whether what it holds was looked at.
        let mut todo = vec![(node, false)];
        while let Some((id, opened)) = todo.pop() {
            if self.kept.sinks.contains_key(&id) {
                continue;
            }
            let kind = &self.program.node(id).kind;
            let takes_away = match kind {
                Kind::Sub(..) | Kind::Negate(_) => true,
                Kind::Number(n) => n.signum() < 0,
                Kind::Column { table, column } => {
                    let columns = &self.program.tables[*table].schema.columns;
                    let spec = columns.get(usize::from(*column));
                    spec.is_some_and(|spec| spec.kind.reaches_below_zero())
                }
                Kind::Lookup { table, column, .. } => {
                    let values = &self.program.lookups[*table].values;
                    let values = values.get(usize::from(*column));
                    values.is_some_and(|v| v.numbers.iter().any(|n| n.signum() < 0))
                }
                Kind::RoundReal { real, .. } => real.takes_away(),
                _ => false,
            };
            let mut below = kind.children();
            if let Kind::GroupKey { group, key } = kind {
                let keys = &self.program.groups[*group].keys;
                below.extend(keys.get(usize::from(*key)).copied());
            }
            if takes_away || opened || below.is_empty() {
                let sinks = takes_away
                    || below
                        .iter()
                        .any(|b| self.kept.sinks.get(b).copied().unwrap_or(false));
                self.kept.sinks.insert(id, sinks);
            } else {
                todo.push((id, true));
                todo.extend(below.iter().map(|b| (*b, false)));
            }
        }
        self.kept.sinks.get(&node).copied().unwrap_or(false)
    }

    fn least(&mut self, node: NodeId, span: Span) -> NodeId {
        let ty = self.program.node(node).ty.clone();
        let kind = Kind::Up {
            kind: AggregateKind::Least,
            of: node,
            weight: None,
            filter: None,
        };
        self.program.intern(Node {
            kind,
            ty,
            grain: Grain::Job,
            missing: Missing::Never,
            span,
        })
    }

    pub(super) fn summed(&mut self, node: NodeId, grain: Grain, span: Span) -> NodeId {
        let ty = match self.program.node(node).ty.clone() {
            Ty::Number(n) => Ty::Number(NumTy {
                adds: Adds::Yes,
                ..n
            }),
            other @ (Ty::Truth | Ty::Choice(_) | Ty::Text | Ty::Point(_)) => other,
        };
        let kind = Kind::Up {
            kind: AggregateKind::Sum,
            of: node,
            weight: None,
            filter: None,
        };
        self.program.intern(Node {
            kind,
            ty,
            grain,
            missing: Missing::Never,
            span,
        })
    }

    /// Makes the groupings of `split by`.
    pub(super) fn split_groups(&mut self, names: &'a [tree::Name]) -> Vec<String> {
        let Some(main) = self.program.main_table() else {
            return vec![];
        };
        let mut done = Vec::new();
        for name in names {
            let def = self.declared.by_name.get(name.text.as_str()).and_then(|l| {
                l.iter()
                    .copied()
                    .find(|d| self.declared.defs[*d].grain == Grain::Table(main))
            });
            if def.is_none() {
                let names: Vec<&'a str> = self
                    .declared
                    .defs
                    .iter()
                    .filter(|d| d.grain == Grain::Table(main))
                    .map(|d| d.name.text.as_str())
                    .collect();
                self.unknown("OV-214", "column or rule", name, Known::These(names));
                continue;
            }
            let noun = self.program.nouns.intern(&format!("by_{}", name.text));
            let added = self.program.groups.push(Grouping {
                name: format!("by_{}", name.text),
                of: main,
                keys: vec![],
                key_names: vec![name.text.clone()],
                noun,
            });
            if let Ok(id) = self.room(added, "groups", name.span) {
                self.kept.splits.push(id);
                done.push(name.text.clone());
            }
        }
        done
    }
}

/// Adds a line to the version it belongs to.
fn put_line(version: &mut Version, line: Line) {
    match line {
        Line::Take(take) => version.takes.push(take),
        Line::Require(require) => version.requires.push(require),
        Line::Caution(caution) => version.cautions.push(caution),
        Line::Part(part) => {
            let part = *part;
            version.takes.push(TakeDef {
                part: Some(version.parts.len()),
                ..part.take
            });
            version.requires.extend(part.requires);
            version.parts.push(part.def);
        }
        Line::Several(lines) => lines.into_iter().for_each(|line| put_line(version, line)),
    }
}
