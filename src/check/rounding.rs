//! `rounded to`: the only place where a value without an end of digits becomes a number.
//!
//! Knows which expressions may be below a rounding. Must not know how they are calculated.

use super::certain::is_written;
use super::typed::*;
use crate::diagnostics::{Diagnostic, Span};
use crate::number::{Exact, Rounding};
use crate::program::{Kind, NodeId, NumTy, RealNode, Ty};
use crate::syntax::tree::{Expr, RoundWord};
use crate::units::{Dim, describe};

/// Operations in one irrational expression.
const MOST_PARTS: usize = 2_000;

impl<'a> Checker<'a> {
    /// `X rounded to Q`.
    pub(super) fn rounded(
        &mut self,
        e: &'a Expr,
        value: &'a Expr,
        word: RoundWord,
        step: &'a Expr,
        cx: &Context<'a>,
    ) -> Checks<Typed> {
        let mut inner = cx.clone();
        inner.real_ok = true;
        let v = self.settled(value, &inner, None);
        let s = self.settled(step, cx, None);
        let (v, s) = (v?, s?);
        let (n, m) = (
            self.as_number(&v, value.span)?,
            self.as_number(&s, step.span)?,
        );
        if n.dim != m.dim {
            let nouns = &self.program.nouns;
            let unit = crate::units::default_unit(&n.dim, nouns, self.program.currency.as_deref())
                .text(nouns);
            let d = Diagnostic::error(
                "OV-308",
                "the step of the rounding is of another kind than the value",
            )
            .at(step.span, describe(&m.dim, nouns))
            .at(value.span, describe(&n.dim, nouns))
            .expected(match unit.is_empty() {
                true => "a step that is a plain number, such as 1 or 0.01".to_string(),
                false => format!("a step in a unit such as {unit}"),
            });
            return self.fail(d);
        }
        // A step that a given brings may be in a branch not taken.
        if is_written(step)
            && self
                .program
                .constant(s.node)
                .is_some_and(|x| x.signum() <= 0)
        {
            return self.fail(
                Diagnostic::error("OV-308", "the step of a rounding must be above zero")
                    .at(step.span, ""),
            );
        }
        let mode = match word {
            RoundWord::Nearest => self.declared.ties,
            RoundWord::Mode(m) => m,
        };
        let ty = Ty::Number(NumTy {
            real: false,
            percent: n.percent,
            ..n.clone()
        });
        let node = self.rounded_node(v.node, s.node, mode, &ty, e.span, &mut 0)?;
        self.note_step(node, &s, step, cx);
        self.note_unreal(node, value, cx);
        // Whole things stay whole at steps that whole numbers are multiples of.
        let parts_of_one = self
            .program
            .constant(s.node)
            .and_then(|x| Exact::ONE.div(x).ok())
            .is_some_and(|x| x.is_integer());
        Ok(Typed {
            whole: s.whole || (v.whole && parts_of_one),
            ..self.plain(node)
        })
    }

    /// Rounds a node, irrational or not. Rounding goes into the branches of `if`, `choose`, `smaller` and `larger`: it keeps the order
    /// of values, so the outcome is the same.
    #[allow(clippy::too_many_arguments)]
    #[expect(
        clippy::wildcard_enum_match_arm,
        reason = "every other kind is irrational under its rounding"
    )]
    fn rounded_node(
        &mut self,
        value: NodeId,
        step: NodeId,
        mode: Rounding,
        ty: &Ty,
        span: Span,
        parts: &mut usize,
    ) -> Checks<NodeId> {
        self.one_more_part(parts, span)?;
        let node = self.program.node(value).clone();
        if !matches!(&node.ty, Ty::Number(n) if n.real) {
            return self.fold(Kind::Round { value, step, mode }, ty.clone(), span);
        }
        let mut each = |list: &[NodeId]| {
            list.iter()
                .map(|n| self.rounded_node(*n, step, mode, ty, span, parts))
                .collect::<Checks<Vec<_>>>()
        };
        let kind = match node.kind {
            Kind::Select {
                condition,
                then,
                otherwise,
            } => {
                let branches = each(&[then, otherwise])?;
                Kind::Select {
                    condition,
                    then: branches[0],
                    otherwise: branches[1],
                }
            }
            Kind::Choose {
                subject,
                arm_of,
                arms,
            } => Kind::Choose {
                subject,
                arm_of,
                arms: each(&arms)?,
            },
            Kind::Smaller(list) => Kind::Smaller(each(&list)?),
            Kind::Larger(list) => Kind::Larger(each(&list)?),
            _ => Kind::RoundReal {
                real: self.real_of(value, span, parts)?,
                step,
                mode,
            },
        };
        Ok(self.node(kind, ty.clone(), span))
    }

    /// The irrational expression a node stands for.
    pub(super) fn real(&mut self, id: NodeId, span: Span) -> Checks<RealNode> {
        self.real_of(id, span, &mut 0)
    }

    #[expect(
        clippy::wildcard_enum_match_arm,
        reason = "every other kind is exact, and a leaf"
    )]
    fn real_of(&mut self, id: NodeId, span: Span, parts: &mut usize) -> Checks<RealNode> {
        self.one_more_part(parts, span)?;
        let node = self.program.node(id).clone();
        if !matches!(&node.ty, Ty::Number(n) if n.real) {
            return Ok(RealNode::Leaf(id));
        }
        let mut part = |id: NodeId| self.real_of(id, span, parts).map(Box::new);
        Ok(match node.kind {
            Kind::Add(a, b) => RealNode::Add(part(a)?, part(b)?),
            Kind::Sub(a, b) => RealNode::Sub(part(a)?, part(b)?),
            Kind::Mul(a, b) => RealNode::Mul(part(a)?, part(b)?),
            Kind::Div(a, b) => RealNode::Div(part(a)?, part(b)?),
            Kind::Negate(a) => {
                let value = part(a)?;
                RealNode::Mul(Box::new(RealNode::Leaf(self.plain_number(-1, span))), value)
            }
            Kind::Power(a, n) => {
                let base = part(a)?;
                RealNode::Power(base, Box::new(RealNode::Leaf(self.plain_number(n, span))))
            }
            Kind::RoundReal { real, .. } => {
                *parts += size(&real);
                real
            }
            _ => {
                return self.fail(
                    Diagnostic::error("OV-313", "a value whose digits never end can't be used this way until it is rounded")
                        .at(node.span, "is not rounded")
                        .at(span, "")
                        .expected("sums, products, quotients, powers, roots and logarithms; `if`, `choose`, `smaller` or `larger` right below the rounding")
                        .mend("round it here, in brackets"),
                );
            }
        })
    }

    /// Counts what an irrational expression is made of: unlike other nodes it is kept once for each place it is at.
    fn one_more_part(&mut self, parts: &mut usize, span: Span) -> Checks<()> {
        *parts += 1;
        if *parts <= MOST_PARTS {
            return Ok(());
        }
        self.fail(
            Diagnostic::error(
                "OV-220",
                "a value without an end of digits is made of too many parts",
            )
            .at(span, "")
            .expected(format!(
                "at most {MOST_PARTS} operations before it is rounded"
            )),
        )
    }

    fn plain_number(&mut self, n: i32, span: Span) -> NodeId {
        self.constant(
            Kind::Number(Exact::int(i64::from(n))),
            number(Dim::NONE),
            span,
        )
    }
}

fn size(real: &RealNode) -> usize {
    match real {
        RealNode::Leaf(_) => 1,
        RealNode::Add(a, b)
        | RealNode::Sub(a, b)
        | RealNode::Mul(a, b)
        | RealNode::Div(a, b)
        | RealNode::Power(a, b) => 1 + size(a) + size(b),
        RealNode::Root(a, _) | RealNode::Ln(a) => 1 + size(a),
    }
}
