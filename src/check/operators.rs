//! Operators: sums, products, comparisons, and what is worked out before running.

use super::expr::irrational;
use super::missing::narrowing;
use super::number_type as num;
use super::time::with_way_across;
use super::typed::*;
use crate::diagnostics::{Diagnostic, Span};
use crate::number::{Exact, NumError};
use crate::program::{Compare, Grain, Kind, NodeId, NumTy, Ty};
use crate::syntax::tree::{BinaryOp, Expr, ExprKind, Name};
use crate::units::{Base, Dim, describe};

/// An operator with its sides, as written and as checked.
pub(super) struct Parts<'a> {
    pub(super) e: &'a Expr,
    pub(super) op_span: Span,
    pub(super) left: &'a Expr,
    pub(super) right: &'a Expr,
    pub(super) l: Typed,
    pub(super) r: Typed,
}

impl<'a> Checker<'a> {
    pub(super) fn binary(
        &mut self,
        e: &'a Expr,
        op: BinaryOp,
        op_span: Span,
        left: &'a Expr,
        right: &'a Expr,
        cx: &Context<'a>,
    ) -> Checks<Typed> {
        match op {
            BinaryOp::And | BinaryOp::Or => {
                let l = self.condition(left, cx);
                let r = self.after(left, op, right, cx);
                if op == BinaryOp::Or && r.is_err() {
                    self.mend_labels(left, right);
                }
                let (l, r) = (l?, r?);
                let kind = if op == BinaryOp::And {
                    Kind::And(l.node, r.node)
                } else {
                    Kind::Or(l.node, r.node)
                };
                let node = self.node(kind, Ty::Truth, e.span);
                Ok(self.plain(node))
            }
            BinaryOp::Is | BinaryOp::IsNot => {
                self.is(e, op == BinaryOp::IsNot, op_span, left, right, cx)
            }
            BinaryOp::Add | BinaryOp::Sub => {
                let parts = self.parts(e, op_span, left, right, cx)?;
                self.added(&parts, op == BinaryOp::Add)
            }
            BinaryOp::Mul | BinaryOp::Div => {
                let parts = self.parts(e, op_span, left, right, cx)?;
                self.multiplied(&parts, op == BinaryOp::Mul, cx)
            }
            BinaryOp::Less => self.compared(e, Compare::Less, op_span, left, right, cx),
            BinaryOp::LessEq => self.compared(e, Compare::LessEq, op_span, left, right, cx),
            BinaryOp::Greater => self.compared(e, Compare::Greater, op_span, left, right, cx),
            BinaryOp::GreaterEq => self.compared(e, Compare::GreaterEq, op_span, left, right, cx),
        }
    }

    /// Both sides of an operator, each reported where it is wrong.
    fn parts(
        &mut self,
        e: &'a Expr,
        op_span: Span,
        left: &'a Expr,
        right: &'a Expr,
        cx: &Context<'a>,
    ) -> Checks<Parts<'a>> {
        let l = self.settled(left, cx, None);
        let r = self.settled(right, cx, None);
        Ok(Parts {
            e,
            op_span,
            left,
            right,
            l: l?,
            r: r?,
        })
    }

    /// The second of two conditions, knowing what the first says.
    fn after(
        &mut self,
        left: &'a Expr,
        op: BinaryOp,
        right: &'a Expr,
        cx: &Context<'a>,
    ) -> Checks<Typed> {
        let mut after = Box::new(cx.branch());
        after.known.extend(narrowing(left, op == BinaryOp::And));
        self.condition(right, &after)
    }

    fn compared(
        &mut self,
        e: &'a Expr,
        op: Compare,
        op_span: Span,
        left: &'a Expr,
        right: &'a Expr,
        cx: &Context<'a>,
    ) -> Checks<Typed> {
        let p = self.parts(e, op_span, left, right, cx)?;
        self.same_kind(&p.l, p.left.span, &p.r, p.right.span, p.op_span, "compare")?;
        let node = self.node(
            Kind::Compare {
                op,
                left: p.l.node,
                right: p.r.node,
            },
            Ty::Truth,
            p.e.span,
        );
        Ok(self.plain(node))
    }

    fn added(&mut self, p: &Parts<'a>, sum: bool) -> Checks<Typed> {
        let (l, r) = (p.l, p.r);
        if let Some(sum) = self.point_sum(p, sum) {
            return sum;
        }
        let (a, b) = (
            self.as_number(&l, p.left.span),
            self.as_number(&r, p.right.span),
        );
        let (a, b) = (a?, b?);
        let percent = match (a.percent, b.percent) {
            (true, true) => true,
            (false, false) => false,
            (true, false) if r.literal => false,
            (false, true) if l.literal => false,
            _ => return self.percent_and_quantity(p.e.span, sum, p.left, p.right, &a),
        };
        let verb = if sum { "add" } else { "subtract" };
        self.same_kind(&l, p.left.span, &r, p.right.span, p.op_span, verb)?;
        let adds = num::joined([
            (a.adds, self.is_constant(&l)),
            (b.adds, self.is_constant(&r)),
        ]);
        let kind = if sum {
            Kind::Add(l.node, r.node)
        } else {
            Kind::Sub(l.node, r.node)
        };
        let node = self.fold(
            kind,
            Ty::Number(NumTy {
                dim: a.dim,
                percent,
                adds,
                real: a.real || b.real,
            }),
            p.e.span,
        )?;
        Ok(Typed {
            whole: l.whole && r.whole,
            literal: l.literal && r.literal,
            ..self.plain(node)
        })
    }

    fn multiplied(&mut self, p: &Parts<'a>, multiplies: bool, cx: &Context<'a>) -> Checks<Typed> {
        let (l, r) = (p.l, p.r);
        let (a, b) = (
            self.as_number(&l, p.left.span),
            self.as_number(&r, p.right.span),
        );
        let (a, b) = (a?, b?);
        let ty = if multiplies {
            num::product(&a, &b)
        } else {
            num::quotient(&a, &b, self.is_constant(&r))
        };
        let Some(ty) = ty else {
            return self
                .fail(Diagnostic::error("OV-307", "this has no sensible unit").at(p.e.span, ""));
        };
        // A written zero is a slip wherever it is; a zero that a given or a helper's value brings may be in a branch not taken.
        let written = matches!(p.right.kind, ExprKind::Quantity(_));
        if !multiplies && written && self.program.constant(r.node).is_some_and(Exact::is_zero) {
            return self.fail(
                Diagnostic::error("OV-901", "this divides by zero").at(p.right.span, "is zero"),
            );
        }
        let kind = if multiplies {
            Kind::Mul(l.node, r.node)
        } else {
            Kind::Div(l.node, r.node)
        };
        let node = self.fold(kind, Ty::Number(ty), p.e.span)?;
        if !multiplies {
            self.note_zero(node, &r, p.right, cx);
        }
        let whole = multiplies && l.whole && r.whole;
        Ok(Typed {
            whole,
            literal: l.literal && r.literal,
            ..self.plain(node)
        })
    }

    #[expect(
        clippy::wildcard_enum_match_arm,
        reason = "what is not written is compared on each row"
    )]
    pub(super) fn is(
        &mut self,
        e: &'a Expr,
        negated: bool,
        op_span: Span,
        left: &'a Expr,
        right: &'a Expr,
        cx: &Context<'a>,
    ) -> Checks<Typed> {
        let l = self.settled(left, cx, None)?;
        let wanted = if let Ty::Choice(c) = self.ty(&l) {
            Some(*c)
        } else {
            None
        };
        if let (Some(c), ExprKind::Name(n)) = (wanted, &right.kind)
            && self.def_for(n, cx.grain).is_none()
            && !cx.params.contains_key(n.as_str())
            && !self.reported.broken.contains(n.as_str())
        {
            let label = Name {
                text: n.clone(),
                span: right.span,
            };
            let i = self.label_of(c, &label)?;
            let mut node = self.node(Kind::LabelIn(l.node, vec![i]), Ty::Truth, e.span);
            if negated {
                node = self.node(Kind::Not(node), Ty::Truth, e.span);
            }
            return Ok(self.plain(node));
        }
        let r = self.settled(right, cx, wanted)?;
        let (a, b) = (self.ty(&l).clone(), self.ty(&r).clone());
        let node = match (&a, &b) {
            (Ty::Number(_) | Ty::Point(_), Ty::Number(_) | Ty::Point(_)) => {
                self.same_kind(&l, left.span, &r, right.span, op_span, "compare")?;
                let op = if negated {
                    Compare::NotSame
                } else {
                    Compare::Same
                };
                let node = self.node(
                    Kind::Compare {
                        op,
                        left: l.node,
                        right: r.node,
                    },
                    Ty::Truth,
                    e.span,
                );
                return Ok(self.plain(node));
            }
            (Ty::Choice(x), Ty::Choice(y)) if x == y => match &self.program.node(r.node).kind {
                Kind::Label(i) => Kind::LabelIn(l.node, vec![*i]),
                _ => Kind::Same(l.node, r.node),
            },
            (Ty::Text, Ty::Text) | (Ty::Truth, Ty::Truth) => Kind::Same(l.node, r.node),
            _ => {
                let (wa, wb) = (self.words(&a), self.words(&b));
                let d = Diagnostic::error(
                    "OV-312",
                    "these two are of different kinds; nothing to compare",
                )
                .at(op_span, "")
                .at(left.span, wa.clone())
                .at(right.span, wb.clone())
                .found(format!("{wa} and {wb}"));
                let quoted = self
                    .choice_of(&l)
                    .and_then(|c| self.mend_quoted_label(c, right));
                return self.fail(match quoted {
                    Some(mend) => d.mend(mend),
                    None => d,
                });
            }
        };
        let mut node = self.node(node, Ty::Truth, e.span);
        if negated {
            node = self.node(Kind::Not(node), Ty::Truth, e.span);
        }
        Ok(self.plain(node))
    }

    pub(super) fn is_constant(&self, t: &Typed) -> bool {
        self.grain_of(t.node) == Grain::Const
    }

    fn percent_and_quantity(
        &mut self,
        span: Span,
        adds: bool,
        left: &Expr,
        right: &Expr,
        left_ty: &NumTy,
    ) -> Checks<Typed> {
        let (l, r) = (
            self.loaded.sources.slice(left.span).to_string(),
            self.loaded.sources.slice(right.span).to_string(),
        );
        let sign = if adds { "+" } else { "-" };
        let (quantity, percent) = if left_ty.percent { (r, l) } else { (l, r) };
        self.fail(
            Diagnostic::error(
                "OV-302",
                "a percent can't be added to a quantity: a percent of what?",
            )
            .at(span, "")
            .note(format!(
                "a share more or less: {quantity} * (1 {sign} {percent})"
            ))
            .note(format!(
                "a share of something else: {quantity} {sign} {percent} * X, with what X is"
            )),
        )
    }

    /// Whether two values may be added or compared; tells how they differ.
    pub(super) fn same_kind(
        &mut self,
        l: &Typed,
        l_span: Span,
        r: &Typed,
        r_span: Span,
        op_span: Span,
        verb: &str,
    ) -> Checks<()> {
        let (a, b) = (self.ty(l).clone(), self.ty(r).clone());
        match (&a, &b) {
            (Ty::Number(x), Ty::Number(y)) if x.dim == y.dim => {
                if verb == "compare" && (x.real || y.real) {
                    return self.fail(irrational(if x.real { l_span } else { r_span }));
                }
                Ok(())
            }
            (Ty::Point(a), Ty::Point(b)) if a == b => Ok(()),
            (Ty::Number(x), Ty::Number(y)) => {
                let d = self.dimension_clash(x, l_span, y, r_span, op_span, verb, r, l);
                self.fail(d)
            }
            _ => {
                let (wa, wb) = (self.words(&a), self.words(&b));
                let d = Diagnostic::error(
                    "OV-312",
                    format!("these two are of different kinds; nothing to {verb}"),
                )
                .at(op_span, "")
                .at(l_span, wa.clone())
                .at(r_span, wb.clone())
                .found(format!("{wa} and {wb}"))
                .expected("two values of one kind");
                self.fail(match (&a, &b) {
                    (Ty::Point(a), Ty::Point(b)) => with_way_across(d, *a, *b),
                    _ => d,
                })
            }
        }
    }

    #[allow(clippy::too_many_arguments)]
    fn dimension_clash(
        &self,
        x: &NumTy,
        l_span: Span,
        y: &NumTy,
        r_span: Span,
        op_span: Span,
        verb: &str,
        r: &Typed,
        l: &Typed,
    ) -> Diagnostic {
        let nouns = &self.program.nouns;
        let (wx, wy) = (describe(&x.dim, nouns), describe(&y.dim, nouns));
        let times = [Base::Labor, Base::Time, Base::Work].map(Dim::base);
        let two_times = times.contains(&x.dim) && times.contains(&y.dim);
        let working = [&x.dim, &y.dim].contains(&&times[2]);
        let (code, message) = if two_times {
            ("OV-303", format!("{wx} and {wy} do not {verb}"))
        } else {
            ("OV-301", format!("{wx} and {wy} do not {verb}"))
        };
        let mut d = Diagnostic::error(code, message)
            .at(op_span, "")
            .at(l_span, wx.clone())
            .at(r_span, wy.clone())
            .found(format!(
                "{wx}   ({})\n{wy}   ({})",
                self.short(l_span),
                self.short(r_span)
            ))
            .expected("the same kind on both sides");
        if two_times && working {
            return d.note("a working day is neither a day on the calendar nor a person's day: how many days it takes hangs on who works when");
        }
        if two_times {
            return d.note("two people for one day are two days of work: multiply or divide by how many people there are");
        }
        if let Some(one) = self
            .one_measure(l_span, l)
            .or_else(|| self.one_measure(r_span, r))
        {
            return d.mend(format!(
                "a whole number and a fraction are written with a blank: {one}"
            ));
        }
        if let Some(mend) = self
            .mend_unit(r, r_span, &x.dim)
            .or_else(|| self.mend_unit(l, l_span, &y.dim))
        {
            return d.mend(mend);
        }
        if let Some((base, power)) = x.dim.single_factor_quotient(&y.dim) {
            let word = match base {
                Base::Noun(n) => format!("a count of {}", nouns.plural_name(n)),
                Base::Length => "a length".into(),
                Base::Mass => "a weight".into(),
                Base::Labor => "person-time".into(),
                Base::Time => "calendar time".into(),
                Base::Work => "working days".into(),
                Base::Temperature => "steps of temperature".into(),
                Base::Money => "money".into(),
            };
            let (side, do_what) = if power > 0 {
                (r_span, "multiply")
            } else {
                (r_span, "divide")
            };
            d = d.note(format!(
                "one factor is missing: {do_what} `{}` by {word}",
                self.short(side)
            ));
        }
        d
    }

    /// `30 - 1/2 in` where 30 1/2 in was meant: a bare whole number, a hyphen and a fraction.
    fn one_measure(&self, span: Span, t: &Typed) -> Option<String> {
        let whole = self.loaded.sources.slice(span);
        if !t.literal || whole.is_empty() || !whole.bytes().all(|b| b.is_ascii_digit()) {
            return None;
        }
        let after = self
            .loaded
            .sources
            .text(span.file)
            .get(crate::ids::at(span.end)..)?;
        let fraction = after.trim_start().strip_prefix('-')?.trim_start();
        let end = fraction
            .find(|c: char| !(c.is_ascii_digit() || c == '/'))
            .unwrap_or(fraction.len());
        fraction[..end]
            .split_once('/')
            .filter(|(n, d)| !n.is_empty() && !d.is_empty())?;
        Some(format!("{whole} {}", &fraction[..end]))
    }

    /// Whether a condition is settled before running, because only written values and givens are in it.
    #[expect(
        clippy::wildcard_enum_match_arm,
        reason = "what is not written may have been settled before"
    )]
    pub(super) fn constant_truth(&self, node: NodeId) -> Option<bool> {
        match self.program.node(node).kind {
            Kind::Truth(b) => Some(b),
            _ => self.kept.truths.get(&node).copied(),
        }
    }

    /// As [`Self::constant_truth`], of a node about to be made from others that were looked at when they were made.
    #[expect(
        clippy::wildcard_enum_match_arm,
        reason = "only these kinds are settled by constants"
    )]
    pub(super) fn settled_truth(&self, kind: &Kind) -> Option<bool> {
        match kind {
            Kind::Not(a) => self.constant_truth(*a).map(|b| !b),
            Kind::And(a, b) => Some(self.constant_truth(*a)? && self.constant_truth(*b)?),
            Kind::Or(a, b) => Some(self.constant_truth(*a)? || self.constant_truth(*b)?),
            Kind::LabelIn(a, set) => match &self.program.node(*a).kind {
                Kind::Label(l) => Some(set.contains(l)),
                _ => None,
            },
            Kind::Compare { op, left, right } => {
                let (a, b) = (
                    self.program.constant(*left)?,
                    self.program.constant(*right)?,
                );
                Some(op.holds(a.cmp(b)))
            }
            _ => None,
        }
    }

    /// A node, calculated at once when all its children are written numbers.
    #[expect(
        clippy::wildcard_enum_match_arm,
        reason = "only what rests on written values is worked out here; all else is worked on each row"
    )]
    pub(super) fn fold(&mut self, kind: Kind, ty: Ty, span: Span) -> Checks<NodeId> {
        let c = |n: &NodeId| self.program.constant(*n);
        let is_real = matches!(&ty, Ty::Number(n) if n.real);
        let folded: Option<Result<Exact, NumError>> = match &kind {
            _ if is_real => None,
            Kind::Negate(a) => c(a).map(|a| Ok(a.neg())),
            Kind::Abs(a) => c(a).map(|a| Ok(a.abs())),
            Kind::Add(a, b) => c(a).zip(c(b)).map(|(a, b)| a.add(b)),
            Kind::Sub(a, b) => c(a).zip(c(b)).map(|(a, b)| a.sub(b)),
            Kind::Mul(a, b) => c(a).zip(c(b)).map(|(a, b)| a.mul(b)),
            Kind::Div(a, b) => c(a).zip(c(b)).map(|(a, b)| a.div(b)),
            Kind::Power(a, n) => c(a).map(|a| a.pow(*n)),
            Kind::Round { value, step, mode } => {
                c(value).zip(c(step)).map(|(v, s)| v.round_to(s, *mode))
            }
            Kind::Smaller(v) => v
                .iter()
                .map(c)
                .collect::<Option<Vec<_>>>()
                .and_then(|v| v.into_iter().min().cloned())
                .map(Ok),
            Kind::Larger(v) => v
                .iter()
                .map(c)
                .collect::<Option<Vec<_>>>()
                .and_then(|v| v.into_iter().max().cloned())
                .map(Ok),
            _ => None,
        };
        match folded {
            None => Ok(self.node(kind, ty, span)),
            Some(Ok(value)) => Ok(self.constant(Kind::Number(value), ty, span)),
            // Refused while running, on the rows that need it.
            Some(Err(NumError::DivideByZero)) => Ok(self.node(kind, ty, span)),
            Some(Err(_)) => self.fail(
                Diagnostic::error("OV-108", "this number grows too long to be kept exactly")
                    .at(span, "")
                    .mend("round it where the rule may be rounded"),
            ),
        }
    }
}
