//! Parts: the kinds of physical pieces, what they take of their resource, and what must hold of them on every row.

use super::declare::Pen;
use super::typed::*;
use crate::diagnostics::{Diagnostic, Span};
use crate::number::Exact;
use crate::program::{
    Adds, Compare, Grain, Kind, Missing, Node, NodeId, NumTy, PartDef, PartPlaceDef, PartSizeDef,
    Piece, RequireDef, TakeDef, Template, Ty,
};
use crate::syntax::tree::{self, Expr, PartWord, Side};
use crate::units::{Dim, UnitExpr, default_unit};

/// A part with the line that takes its resource and what must hold of it.
#[derive(Debug, Clone)]
pub(super) struct Part {
    pub(super) def: PartDef,
    pub(super) take: TakeDef,
    pub(super) requires: Vec<RequireDef>,
}

impl<'a> Checker<'a> {
    /// Refuses two parts of one name, and notes which resources parts carry.
    pub(super) fn parts_declared(&mut self, pen: &Pen) {
        let mut names: foldhash::HashMap<&'a str, Span> = foldhash::HashMap::default();
        let parts: Vec<&'a tree::Part> = self
            .declared
            .blocks
            .iter()
            .flat_map(|b| b.lines)
            .filter_map(tree::ForLine::part)
            .collect();
        for part in parts {
            self.declared
                .write(pen)
                .carried
                .entry(&part.resource.text)
                .or_insert(part.span);
            if let Some(first) = names.insert(&part.name.text, part.name.span) {
                self.problems.push(
                    Diagnostic::error(
                        "OV-201",
                        format!("the part `{}` is declared twice", part.name.text),
                    )
                    .at(part.name.span, "the second")
                    .at(first, "the first")
                    .mend("give one another name"),
                );
            }
        }
    }

    /// Refuses a take of what parts carry, unless it says that it is besides them.
    pub(super) fn refuse_besides(&mut self, take: &'a tree::Take) -> Checks<()> {
        match self.declared.carried.get(take.resource.text.as_str()).copied() {
            Some(part) if !take.besides_parts => self.fail(
                Diagnostic::error(
                    "OV-443",
                    format!("parts already carry `{}`", take.resource.text),
                )
                .at(take.span, "")
                .at(part, "such as this part")
                .mend("take this line out, or end it with `besides parts` if it is for something that is no part"),
            ),
            _ => Ok(()),
        }
    }

    fn part_places(
        &mut self,
        part: &'a tree::Part,
        grain: Grain,
        cx: &Context<'a>,
    ) -> Vec<Checks<PartPlaceDef>> {
        part.places
            .iter()
            .map(|p| {
                let at = self.part_length(&p.at, cx);
                let each = p.each.as_ref().map(|e| self.part_length(e, cx));
                Ok(PartPlaceDef {
                    way: p.way,
                    at: self.brought_down(at?, grain, p.span),
                    each: each
                        .transpose()?
                        .map(|e| self.brought_down(e, grain, p.span)),
                })
            })
            .collect()
    }

    pub(super) fn part(
        &mut self,
        part: &'a tree::Part,
        grain: Grain,
        cx: &Context<'a>,
    ) -> Checks<Part> {
        let count = self.part_count(part, cx);
        let sizes: Vec<Checks<(Side, NodeId, NodeId)>> = part
            .sizes
            .iter()
            .map(|s| {
                let finished = self.part_length(&s.finished, cx);
                let rough = s.rough.as_ref().map(|r| self.part_length(r, cx));
                let finished = finished?;
                Ok((s.side, finished, rough.transpose()?.unwrap_or(finished)))
            })
            .collect();
        let when = part.when.as_ref().map(|w| self.condition(w, cx));
        let places = self.part_places(part, grain, cx);
        let said = self.part_said(part, grain, cx);
        let r = self.resource_named(&part.resource)?;
        let Some(phase) = &part.phase else {
            return self.fail(
                Diagnostic::error("OV-221", "this part does not say for which phase")
                    .at(part.span, "")
                    .mend("add `for \"...\"` with the phase"),
            );
        };
        let phase = self.phase(phase)?;
        let resource = self.declared.resources[r].tree;
        if self.reported.broken.contains(resource.name.text.as_str()) || part.broken {
            return Err(Poisoned);
        }
        let unit = self.unit(&resource.unit)?;
        self.makes(part, resource, &unit)?;
        let (count, when) = (count?, when.transpose()?.map(|w| w.node));
        let sizes: Vec<(Side, NodeId, NodeId)> = sizes.into_iter().collect::<Checks<_>>()?;
        let places = places.into_iter().collect::<Checks<_>>()?;
        let [member, treatment, profile, decayed] = said?;
        let when = when.map(|w| self.brought_down(w, grain, part.span));
        let amount = self.part_amount(count, &sizes, when, &unit, (grain, part.span));
        let plan = self.take_plan(amount, grain, None, part.span)?;
        let requires = self.part_requires(part, grain, (count, when), &sizes);
        let own = self.brought_down(count, grain, part.count.span);
        let count = match when {
            Some(w) => self.zero_unless(w, own, number(Dim::NONE), grain, part.span),
            None => own,
        };
        let standing = part.kept.then_some(own);
        let sizes: Vec<PartSizeDef> = sizes
            .iter()
            .zip(&part.sizes)
            .map(|((side, finished, rough), written)| PartSizeDef {
                side: *side,
                finished: self.brought_down(*finished, grain, written.span),
                rough: self.brought_down(*rough, grain, written.span),
            })
            .collect();
        let take = TakeDef {
            resource: r,
            phase,
            grain,
            amount,
            plan,
            note: part.remarks.note.clone(),
            part: None,
            sent: vec![],
            from_memory: false,
            span: part.span,
        };
        let def = PartDef {
            name: part.name.text.clone(),
            resource: r,
            phase,
            grain,
            count,
            standing,
            sizes,
            places,
            member,
            treatment,
            profile,
            decayed,
            note: part.remarks.note.clone(),
            span: part.span,
        };
        Ok(Part {
            def,
            take,
            requires,
        })
    }

    /// How many pieces: a plain number or a count of anything, whole.
    fn part_count(&mut self, part: &'a tree::Part, cx: &Context<'a>) -> Checks<NodeId> {
        let count = self.settled(&part.count, cx, None)?;
        let n = self.as_number(&count, part.count.span)?;
        if !(n.dim.is_none() || n.dim.as_count().is_some()) || n.percent {
            let found = self.words(&Ty::Number(n));
            return self.fail(
                Diagnostic::error("OV-444", "this is not a number of pieces")
                    .at(part.count.span, "")
                    .found(found)
                    .expected("a whole number, or a count such as lites"),
            );
        }
        if !count.whole {
            return self.fail(
                Diagnostic::error("OV-440", "this may come to part of a piece")
                    .at(part.count.span, "")
                    .expected("a number that is always whole")
                    .mend("name it as a rule that ends in `rounded to 1` or `rounded up to 1`, or make its columns `whole`"),
            );
        }
        if n.dim.is_none() {
            return Ok(count.node);
        }
        // Which noun is counted does not matter for pieces: divide it out.
        let one = self.number_node(Exact::ONE, n.dim, part.count.span);
        Ok(self.node(
            Kind::Div(count.node, one),
            number(Dim::NONE),
            part.count.span,
        ))
    }

    pub(super) fn part_length(&mut self, e: &'a Expr, cx: &Context<'a>) -> Checks<NodeId> {
        let value = self.settled(e, cx, None)?;
        let n = self.as_number(&value, e.span)?;
        if n.dim == Dim::length(1) {
            return Ok(value.node);
        }
        let found = self.words(&Ty::Number(n));
        self.fail(
            Diagnostic::error("OV-441", "sizes and places are lengths")
                .at(e.span, "")
                .found(found)
                .expected("a length, such as 30 1/2 in"),
        )
    }

    /// Member, treatment, profile, share with decay.
    fn part_said(
        &mut self,
        part: &'a tree::Part,
        grain: Grain,
        cx: &Context<'a>,
    ) -> Checks<[Option<NodeId>; 4]> {
        let mut out = [None; 4];
        let mut failed = false;
        for (word, e) in &part.said {
            let Ok(value) = self.settled(e, cx, None) else {
                failed = true;
                continue;
            };
            if *word == PartWord::Decayed {
                match self.ty(&value) {
                    Ty::Number(n) if n.percent => {
                        out[3] = Some(self.brought_down(value.node, grain, e.span));
                    }
                    ty @ (Ty::Number(_) | Ty::Truth | Ty::Choice(_) | Ty::Text | Ty::Point(_)) => {
                        let found = self.words(&ty.clone());
                        self.problems.push(
                            Diagnostic::error("OV-448", "the decay of a part is a share of it")
                                .at(e.span, "")
                                .found(found)
                                .expected("a percent, such as 30 %"),
                        );
                        failed = true;
                    }
                }
                continue;
            }
            if !matches!(self.ty(&value), Ty::Text | Ty::Choice(_)) {
                let found = self.words(&self.ty(&value).clone());
                self.problems.push(
                    Diagnostic::error("OV-445", "this names something, so it is a text or a label")
                        .at(e.span, "")
                        .found(found)
                        .expected("a text in quotes, or a column, rule or decision that is a text or a label"),
                );
                failed = true;
                continue;
            }
            let at = match word {
                PartWord::Member => 0,
                PartWord::Treatment => 1,
                PartWord::Profile => 2,
                PartWord::Decayed => continue,
            };
            out[at] = Some(self.brought_down(value.node, grain, e.span));
        }
        if failed { Err(Poisoned) } else { Ok(out) }
    }

    /// Refuses sizes that do not make the unit of the resource.
    fn makes(
        &mut self,
        part: &'a tree::Part,
        resource: &'a tree::Resource,
        unit: &UnitExpr,
    ) -> Checks<()> {
        let sides: Vec<Side> = part.sizes.iter().map(|s| s.side).collect();
        let has = |side: Side| sides.contains(&side);
        let (fits, expected) = match unit.dim() {
            dim if dim.as_count().is_some() => (sides.is_empty(), "no size: it is counted"),
            dim if *dim == Dim::length(1) => {
                (sides.len() == 1 && has(Side::Length), "`length` alone")
            }
            dim if *dim == Dim::length(2) => (
                sides.len() == 2 && !has(Side::Thickness),
                "two of `length`, `width` and `height`",
            ),
            dim if *dim == Dim::length(3) => (
                sides.len() == 3 && has(Side::Thickness),
                "`length`, `width` and `thickness`",
            ),
            _ => (false, ""),
        };
        if fits {
            return Ok(());
        }
        let nouns = &self.program.nouns;
        let (word, kind) = (unit.text(nouns), crate::units::describe(unit.dim(), nouns));
        let d = Diagnostic::error(
            "OV-442",
            format!(
                "these sizes do not make {word}, in which `{}` is counted",
                resource.name.text
            ),
        )
        .at(part.name.span, "")
        .at(resource.unit.span, kind)
        .found(match sides.is_empty() {
            true => "no size".to_owned(),
            false => sides
                .iter()
                .map(|s| format!("`{}`", s.word()))
                .collect::<Vec<_>>()
                .join(", "),
        });
        self.fail(match expected {
            "" => d.expected("a resource that is counted, or measured by length, area or volume"),
            expected => d.expected(expected),
        })
    }

    /// Count times rough sizes, zero where the part is not there.
    fn part_amount(
        &mut self,
        count: NodeId,
        sizes: &[(Side, NodeId, NodeId)],
        when: Option<NodeId>,
        unit: &UnitExpr,
        (grain, span): (Grain, Span),
    ) -> NodeId {
        let mut product = count;
        for (power, (_, _, rough)) in (1..).zip(sizes) {
            product = self.node(Kind::Mul(product, *rough), number(Dim::length(power)), span);
        }
        if sizes.is_empty() {
            let one = self.number_node(Exact::ONE, unit.dim().clone(), span);
            product = self.node(Kind::Mul(product, one), number(unit.dim().clone()), span);
        }
        let own = self.brought_down(product, grain, span);
        let ty = Ty::Number(NumTy {
            dim: unit.dim().clone(),
            percent: false,
            adds: Adds::Yes,
            real: false,
        });
        match when {
            Some(w) => self.zero_unless(w, own, ty, grain, span),
            None => own,
        }
    }

    /// That a part that is there has sizes above zero, is cut no smaller than it is finished, and is not counted below zero.
    fn part_requires(
        &mut self,
        part: &'a tree::Part,
        grain: Grain,
        (count, when): (NodeId, Option<NodeId>),
        sizes: &[(Side, NodeId, NodeId)],
    ) -> Vec<RequireDef> {
        let name = &part.name.text;
        let span = part.span;
        let zero = self.number_node(Exact::ZERO, Dim::NONE, span);
        let never = self.number_node(Exact::ZERO, Dim::length(1), span);
        let mut out = Vec::new();
        let at_least = self.compared_to(count, Compare::GreaterEq, zero, span);
        let at_least = self.if_there(when, at_least, span);
        let text = format!("the number of pieces of the part `{name}` is ");
        out.extend(self.part_requirement(at_least, grain, "OV-940", (text, count, span)));
        let some = self.compared_to(count, Compare::Greater, zero, span);
        let some = (self.kept.truths.get(&some) != Some(&true)).then_some(some);
        for ((side, finished, rough), written) in sizes.iter().zip(&part.sizes) {
            let (word, span) = (side.word(), written.span);
            let above = self.compared_to(*finished, Compare::Greater, never, span);
            let holds = self.if_there(some, above, span);
            let holds = self.if_there(when, holds, span);
            let text = format!("the {word} of the part `{name}` is ");
            out.extend(self.part_requirement(holds, grain, "OV-940", (text, *finished, span)));
            if rough != finished {
                let wide = self.compared_to(*rough, Compare::GreaterEq, *finished, span);
                let holds = self.if_there(some, wide, span);
                let holds = self.if_there(when, holds, span);
                let text =
                    format!("the part `{name}` is rough cut to less than its finished {word}: ");
                out.extend(self.part_requirement(holds, grain, "OV-941", (text, *rough, span)));
            }
        }
        out
    }

    fn compared_to(&mut self, left: NodeId, op: Compare, right: NodeId, span: Span) -> NodeId {
        self.node(Kind::Compare { op, left, right }, Ty::Truth, span)
    }

    /// What must hold where a part is there; what holds in any case stays as it is.
    fn if_there(&mut self, is_there: Option<NodeId>, holds: NodeId, span: Span) -> NodeId {
        let Some(condition) = is_there.filter(|_| self.kept.truths.get(&holds) != Some(&true))
        else {
            return holds;
        };
        let otherwise = self.program.intern(Node {
            kind: Kind::Truth(true),
            ty: Ty::Truth,
            grain: Grain::Const,
            missing: Missing::Never,
            span,
        });
        let kind = Kind::Select {
            condition,
            then: holds,
            otherwise,
        };
        self.node(kind, Ty::Truth, span)
    }

    /// Nothing where it is known to hold before any row is read.
    fn part_requirement(
        &mut self,
        condition: NodeId,
        grain: Grain,
        code: &'static str,
        (text, shown, span): (String, NodeId, Span),
    ) -> Option<RequireDef> {
        if self.kept.truths.get(&condition) == Some(&true) {
            return None;
        }
        let condition = self.brought_down(condition, grain, span);
        let holds = self.holds_everywhere(condition, grain, span);
        let shown = self.brought_down(shown, grain, span);
        let unit = match &self.program.node(shown).ty {
            Ty::Number(n) if !n.dim.is_none() => Some(default_unit(
                &n.dim,
                &self.program.nouns,
                self.program.currency.as_deref(),
            )),
            Ty::Number(_) | Ty::Truth | Ty::Choice(_) | Ty::Text | Ty::Point(_) => None,
        };
        Some(RequireDef {
            condition,
            holds,
            grain,
            code,
            message: Template {
                pieces: vec![
                    Piece::Text(text),
                    Piece::Value {
                        name: String::new(),
                        node: shown,
                        unit,
                    },
                ],
            },
            blames: Vec::new(),
            span,
        })
    }
}
