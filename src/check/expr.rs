//! Checks expressions: each form to its node, with its type and whether it may be missing.

use super::certain::is_written;
use super::literals::Literal;
use super::number_type as num;
use super::typed::*;
use crate::diagnostics::{Diagnostic, Span};
use crate::program::{
    Adds, ChoiceId, Compare, Grain, Kind, Missing, Node, NodeId, NumTy, Ty, WhyNot,
};
use crate::syntax::tree::{Expr, ExprKind, Name, PresenceTest, Quantity, UnitText};

/// Nodes of one program; a sheet that grows beyond this is refused.
const MOST_NODES: usize = 400_000;
/// Expressions in one another, with the helpers they call; more would not fit on the stack of a thread.
const MOST_LEVELS: usize = 400;

impl<'a> Checker<'a> {
    /// Checks an expression. `wanted` is the choice a bare label would belong to.
    pub(super) fn expr(
        &mut self,
        e: &'a Expr,
        cx: &Context<'a>,
        wanted: Option<ChoiceId>,
    ) -> Checks<Typed> {
        if self.program.nodes().len() > MOST_NODES {
            return self.too_many(e, cx);
        }
        if self.reading.deep >= MOST_LEVELS {
            return self.too_deep(e, cx);
        }
        self.reading.deep += 1;
        let typed = self.expr_kind(e, cx, wanted);
        self.reading.deep -= 1;
        let typed = typed?;
        if cx.in_helper.is_empty() {
            self.trace.record(e.span, typed.node);
        }
        Ok(typed)
    }

    fn too_deep(&mut self, e: &Expr, cx: &Context<'a>) -> Checks<Typed> {
        self.fail(
            Diagnostic::error("OV-220", "helpers and formulas are nested too deeply")
                .at(cx.call.unwrap_or(e.span), "")
                .expected(format!("at most {MOST_LEVELS} levels"))
                .mend("name a part as a rule of its own"),
        )
    }

    /// Said once: nothing more is read then.
    fn too_many(&mut self, e: &Expr, cx: &Context<'a>) -> Checks<Typed> {
        if !std::mem::replace(&mut self.reported.too_many, true) {
            self.say_once(
                Diagnostic::error("OV-220", "the sheets make too many different expressions")
                    .at(cx.call.unwrap_or(e.span), "")
                    .expected(format!("at most {MOST_NODES}")),
            );
        }
        Err(Poisoned)
    }

    /// Tells what is not said again when a definition is read anew.
    pub(super) fn say_once(&mut self, d: Diagnostic) {
        if self.reading.defining {
            self.reading.said.push(d)
        } else {
            self.problems.push(d)
        }
    }

    /// As [`Self::expr`], refusing a value that still needs `if blank` or a rounding.
    pub(super) fn settled(
        &mut self,
        e: &'a Expr,
        cx: &Context<'a>,
        wanted: Option<ChoiceId>,
    ) -> Checks<Typed> {
        let t = self.expr(e, cx, wanted)?;
        self.ready(t, e, cx)
    }

    fn ready(&mut self, t: Typed, e: &Expr, cx: &Context<'a>) -> Checks<Typed> {
        self.handled(&t, e.span)?;
        if let Ty::Number(n) = self.ty(&t)
            && n.real
            && !cx.real_ok
        {
            return self.fail(irrational(e.span));
        }
        Ok(t)
    }

    // A formula may nest as deep as its guards allow. What calls itself for the parts is kept apart from what works with them,
    // so that each level takes little of the stack.

    fn expr_kind(
        &mut self,
        e: &'a Expr,
        cx: &Context<'a>,
        wanted: Option<ChoiceId>,
    ) -> Checks<Typed> {
        match &e.kind {
            ExprKind::Quantity(_) | ExprKind::Text(_) | ExprKind::Truth(_) | ExprKind::Unknown => {
                self.written(e)
            }
            ExprKind::Name(name) => self.name(name, e.span, cx, wanted),
            ExprKind::Negate(inner) => self.negate(e, inner, cx),
            ExprKind::Not(inner) => self.condition(inner, cx).map(|t| self.turned(e, t)),
            ExprKind::Binary {
                op,
                op_span,
                left,
                right,
            } => self.binary(e, *op, *op_span, left, right, cx),
            ExprKind::Power { base, exponent } => self
                .settled(base, cx, None)
                .and_then(|t| self.raised(e, base, t, *exponent, cx)),
            ExprKind::Rounded { value, word, step } => self.rounded(e, value, *word, step, cx),
            ExprKind::If {
                condition,
                then,
                otherwise,
            } => self.branches(e, condition, then, otherwise, cx, wanted),
            ExprKind::Choose { subject, arms } => self.choose(e, subject, arms, cx, wanted),
            ExprKind::Call { name, args } => self.call(e, name, args, cx, wanted),
            ExprKind::Aggregate {
                kind,
                of,
                weight,
                filter,
            } => self.aggregate(e, *kind, of, weight.as_deref(), filter.as_deref(), cx),
            ExprKind::Taken(resource) => self.taken(e, resource, cx),
            ExprKind::Lookup {
                value,
                table,
                keys,
                interpolated,
            } => self.lookup(e, value, table, keys, *interpolated, cx),
            ExprKind::Per { value, unit } => self
                .settled(value, cx, None)
                .and_then(|t| self.rate(e, value, t, unit)),
            ExprKind::IfAbsent {
                value,
                which,
                instead,
            } => self.if_absent(e, value, *which, instead, cx, wanted),
            ExprKind::CalendarSpan {
                working,
                from,
                to,
                otherwise,
            } => {
                let written = super::spans::Written {
                    working: *working,
                    ends: [from, to],
                    otherwise,
                };
                self.calendar_span(e, written, cx)
            }
            ExprKind::SharedBy {
                value,
                weight,
                step,
            } => self.shared_by(e, value, weight, step.as_ref(), cx),
            ExprKind::Presence {
                value,
                test,
                negated,
            } => self
                .expr(value, cx, None)
                .map(|t| self.presence(e, value, t, (*test, *negated), cx)),
            ExprKind::IsOneOf {
                value,
                labels,
                negated,
            } => self
                .settled(value, cx, None)
                .and_then(|t| self.is_one_of(e, value, t, (labels, *negated), cx)),
            ExprKind::Between {
                value,
                low,
                high,
                negated,
            } => {
                let parts = [value, low, high].map(|part| self.settled(part, cx, None));
                self.between(e, [value, low, high], parts, *negated)
            }
        }
    }

    #[expect(
        clippy::wildcard_enum_match_arm,
        reason = "what no minus stands before is refused here, whatever it is"
    )]
    fn written(&mut self, e: &'a Expr) -> Checks<Typed> {
        match &e.kind {
            ExprKind::Quantity(q) => {
                let l = self.literal(q)?;
                Ok(self.number_written(l, e.span))
            }
            ExprKind::Text(t) => {
                let node = self.constant(Kind::Text(t.text.clone()), Ty::Text, e.span);
                Ok(self.plain(node))
            }
            ExprKind::Truth(b) => {
                let node = self.constant(Kind::Truth(*b), Ty::Truth, e.span);
                Ok(self.plain(node))
            }
            _ => self.fail(
                Diagnostic::error("OV-420", "`unknown` can only follow `if blank` or `if n/a`")
                    .at(e.span, "")
                    .mend("write `x if blank unknown`"),
            ),
        }
    }

    fn negate(&mut self, e: &'a Expr, inner: &'a Expr, cx: &Context<'a>) -> Checks<Typed> {
        match written_point(inner) {
            Some(q) => self.negative_point(q, e.span),
            None => self
                .settled(inner, cx, None)
                .and_then(|t| self.negated(e, inner, t)),
        }
    }

    fn negative_point(&mut self, q: &Quantity, span: Span) -> Checks<Typed> {
        let literal = self.negative_literal(q, span)?;
        Ok(self.number_written(literal, span))
    }

    fn number_written(&mut self, l: Literal, span: Span) -> Typed {
        let (ty, whole) = (l.ty(), l.value.is_integer());
        let literal = l.scale.is_none() && l.dim().is_none() && !l.percent;
        let node = self.constant(Kind::Number(l.value), ty, span);
        Typed {
            node,
            pending: Pending::default(),
            whole,
            literal,
        }
    }

    fn negated(&mut self, e: &Expr, inner: &Expr, t: Typed) -> Checks<Typed> {
        let n = self.as_number(&t, inner.span)?;
        let node = self.fold(Kind::Negate(t.node), Ty::Number(n), e.span)?;
        Ok(Typed {
            whole: t.whole,
            literal: t.literal,
            ..self.plain(node)
        })
    }

    fn turned(&mut self, e: &Expr, t: Typed) -> Typed {
        let node = self.node(Kind::Not(t.node), Ty::Truth, e.span);
        self.plain(node)
    }

    /// A test, turned round by `is not`.
    fn test(&mut self, kind: Kind, negated: bool, span: Span) -> Typed {
        let mut node = self.node(kind, Ty::Truth, span);
        if negated {
            node = self.node(Kind::Not(node), Ty::Truth, span);
        }
        self.plain(node)
    }

    fn raised(
        &mut self,
        e: &Expr,
        base: &'a Expr,
        t: Typed,
        exponent: i32,
        cx: &Context<'a>,
    ) -> Checks<Typed> {
        let n = self.as_number(&t, base.span)?;
        let Some(dim) = n.dim.pow(exponent) else {
            return self.fail(
                Diagnostic::error("OV-307", "this power has no sensible unit").at(e.span, ""),
            );
        };
        let adds = if matches!(n.adds, Adds::No(WhyNot::Fact)) {
            n.adds
        } else {
            adds_by_dim(&dim)
        };
        let ty = Ty::Number(NumTy {
            dim,
            percent: false,
            adds,
            real: n.real,
        });
        let node = self.fold(Kind::Power(t.node, exponent), ty, e.span)?;
        if exponent < 0 {
            self.note_zero(node, &t, base, cx);
        }
        Ok(Typed {
            whole: t.whole && exponent >= 0,
            ..self.plain(node)
        })
    }

    fn rate(&mut self, e: &Expr, value: &Expr, t: Typed, unit: &UnitText) -> Checks<Typed> {
        let n = self.as_number(&t, value.span)?;
        let unit = self.unit(unit)?;
        let per = NumTy {
            dim: unit.dim().clone(),
            percent: false,
            adds: Adds::Yes,
            real: false,
        };
        let Some(ty) = num::quotient(&n, &per, false) else {
            return self.fail(
                Diagnostic::error("OV-307", "this rate has no sensible unit").at(e.span, ""),
            );
        };
        let divisor = self.constant(
            Kind::Number(unit.factor().clone()),
            number(unit.dim().clone()),
            e.span,
        );
        let node = self.fold(Kind::Div(t.node, divisor), Ty::Number(ty), e.span)?;
        Ok(self.plain(node))
    }

    fn presence(
        &mut self,
        e: &Expr,
        value: &Expr,
        t: Typed,
        (test, negated): (PresenceTest, bool),
        cx: &Context<'a>,
    ) -> Typed {
        self.tell_settled_presence(e, value, &t, test, negated, cx);
        self.test(
            Kind::Presence {
                value: t.node,
                test,
            },
            negated,
            e.span,
        )
    }

    fn is_one_of(
        &mut self,
        e: &Expr,
        value: &Expr,
        t: Typed,
        (labels, negated): (&'a [Name], bool),
        cx: &Context<'a>,
    ) -> Checks<Typed> {
        let Ty::Choice(c) = *self.ty(&t) else {
            let found = self.words(&self.ty(&t).clone());
            return self.fail(
                Diagnostic::error("OV-312", "`is one of` asks about a choice")
                    .at(value.span, "")
                    .found(found),
            );
        };
        let mut set = Vec::new();
        for (i, label) in labels.iter().enumerate() {
            self.refuse_value_as_label(e, c, &labels[..i], label, cx)?;
            set.push(self.label_of(c, label)?);
        }
        set.sort_unstable();
        Ok(self.test(Kind::LabelIn(t.node, set), negated, e.span))
    }

    fn between(
        &mut self,
        e: &Expr,
        [value, low, high]: [&Expr; 3],
        parts: [Checks<Typed>; 3],
        negated: bool,
    ) -> Checks<Typed> {
        let (v, l, h) = (parts[0]?, parts[1]?, parts[2]?);
        self.same_kind(&v, value.span, &l, low.span, value.span, "compare")?;
        self.same_kind(&v, value.span, &h, high.span, value.span, "compare")?;
        if is_written(low)
            && is_written(high)
            && let (Some(a), Some(b)) =
                (self.program.constant(l.node), self.program.constant(h.node))
            && a > b
        {
            let text = |e: &Expr| self.loaded.sources.slice(e.span);
            let mend = format!("write between {} and {}", text(high), text(low));
            self.problems.push(
                Diagnostic::warning(
                    "OV-316",
                    "nothing lies between these: the lower end comes first",
                )
                .at(low.span.to(high.span), "")
                .mend(mend),
            );
        }
        let from = self.node(
            Kind::Compare {
                op: Compare::GreaterEq,
                left: v.node,
                right: l.node,
            },
            Ty::Truth,
            e.span,
        );
        let to = self.node(
            Kind::Compare {
                op: Compare::LessEq,
                left: v.node,
                right: h.node,
            },
            Ty::Truth,
            e.span,
        );
        Ok(self.test(Kind::And(from, to), negated, e.span))
    }

    /// A condition: yes or no.
    pub(super) fn condition(&mut self, e: &'a Expr, cx: &Context<'a>) -> Checks<Typed> {
        let t = self.settled(e, cx, None)?;
        self.truth(t, e)
    }

    pub(super) fn truth(&mut self, t: Typed, e: &Expr) -> Checks<Typed> {
        if *self.ty(&t) == Ty::Truth {
            return Ok(t);
        }
        let found = self.words(&self.ty(&t).clone());
        self.fail(
            Diagnostic::error("OV-305", "a condition is expected here")
                .at(e.span, "")
                .found(found)
                .expected("yes or no, such as a comparison"),
        )
    }

    pub(super) fn as_number(&mut self, t: &Typed, span: Span) -> Checks<NumTy> {
        match self.ty(t) {
            Ty::Number(n) => Ok(n.clone()),
            other @ (Ty::Truth | Ty::Choice(_) | Ty::Text | Ty::Point(_)) => {
                let found = self.words(&other.clone());
                self.fail(
                    Diagnostic::error("OV-304", "a number is expected here")
                        .at(span, "")
                        .found(found)
                        .expected("a number"),
                )
            }
        }
    }

    /// The type of one of several values; tells which differ.
    pub(super) fn joined_type(&mut self, list: &[(Typed, Span)]) -> Checks<Ty> {
        let Some(((first, first_span), rest)) = list.split_first() else {
            return Err(Poisoned);
        };
        let a = self.ty(first).clone();
        for (other, span) in rest {
            let b = self.ty(other).clone();
            let fits = match (&a, &b) {
                (Ty::Number(x), Ty::Number(y)) => x.dim == y.dim,
                _ => a == b,
            };
            if !fits {
                let (wa, wb) = (self.words(&a), self.words(&b));
                return self.fail(
                    Diagnostic::error("OV-306", "the branches give different kinds of thing")
                        .at(*span, wb.clone())
                        .at(*first_span, wa.clone())
                        .found(format!("{wa} and {wb}"))
                        .expected("the same kind in every branch"),
                );
            }
        }
        Ok(match a {
            Ty::Number(n) => {
                let tys: Vec<(NumTy, bool)> = list
                    .iter()
                    .filter_map(|(t, _)| match self.ty(t) {
                        Ty::Number(n) => Some((n.clone(), self.is_constant(t))),
                        Ty::Truth | Ty::Choice(_) | Ty::Text | Ty::Point(_) => None,
                    })
                    .collect();
                let adds = num::joined(tys.iter().map(|(n, c)| (n.adds, *c)));
                Ty::Number(NumTy {
                    percent: tys.iter().all(|(n, _)| n.percent),
                    adds,
                    real: tys.iter().any(|(n, _)| n.real),
                    dim: n.dim,
                })
            }
            other @ (Ty::Truth | Ty::Choice(_) | Ty::Text | Ty::Point(_)) => other,
        })
    }

    pub(super) fn plain(&self, node: NodeId) -> Typed {
        Typed {
            node,
            pending: Pending::default(),
            whole: false,
            literal: false,
        }
    }

    pub(super) fn constant(&mut self, kind: Kind, ty: Ty, span: Span) -> NodeId {
        self.program.intern(Node {
            kind,
            ty,
            grain: Grain::Const,
            missing: Missing::Never,
            span,
        })
    }

    pub(super) fn short(&self, span: Span) -> String {
        let text = self
            .loaded
            .sources
            .slice(span)
            .split_whitespace()
            .collect::<Vec<_>>()
            .join(" ");
        if text.chars().count() > 40 {
            format!("{}...", text.chars().take(37).collect::<String>())
        } else {
            text
        }
    }
}

pub(super) fn irrational(span: Span) -> Diagnostic {
    Diagnostic::error(
        "OV-313",
        "this value can't be written exactly; say how it is rounded",
    )
    .at(span, "")
    .mend("put it in brackets and add `rounded to ...` with a step")
}

/// A day, moment or temperature as written.
#[expect(
    clippy::wildcard_enum_match_arm,
    reason = "only a written day, moment or temperature is one"
)]
fn written_point(e: &Expr) -> Option<&Quantity> {
    match &e.kind {
        ExprKind::Quantity(q) if q.point.is_some() => Some(q),
        _ => None,
    }
}
