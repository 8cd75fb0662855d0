//! Values that may be missing: what a rule says to do then, and what conditions around it say already.

use super::typed::*;
use crate::diagnostics::{Diagnostic, Span};
use crate::program::{ChoiceId, Grain, Kind, Missing, Node, Ty};
use crate::syntax::tree::{AbsentKind, BinaryOp, Expr, ExprKind, PresenceTest};

impl<'a> Checker<'a> {
    pub(super) fn handled(&mut self, t: &Typed, span: Span) -> Checks<()> {
        if !t.pending.any() {
            return Ok(());
        }
        let (how, what) = match (t.pending.blank, t.pending.na) {
            (true, true) => ("if blank ... if n/a ...", "blank or n/a"),
            (true, false) => ("if blank ...", "blank"),
            _ => ("if n/a ...", "n/a"),
        };
        let text = self.loaded.sources.slice(span).to_string();
        self.fail(
            Diagnostic::error(
                "OV-401",
                format!("`{text}` may be {what}, and this rule does not say what to do then"),
            )
            .at(span, "")
            .mend(format!(
                "write `{text} {how}` with a value, or with `unknown` to let it stay unknown"
            )),
        )
    }

    /// Tells of a question that has one answer on every row: whether a value that is never missing is blank.
    #[expect(
        clippy::wildcard_enum_match_arm,
        reason = "what settled the question is looked for; for any other the mend is the same"
    )]
    pub(super) fn tell_settled_presence(
        &mut self,
        e: &Expr,
        value: &Expr,
        t: &Typed,
        test: PresenceTest,
        negated: bool,
        cx: &Context<'a>,
    ) {
        let asked = match test {
            PresenceTest::Blank => t.pending.blank,
            PresenceTest::NotApplicable => t.pending.na,
            PresenceTest::Known => t.pending.any(),
        };
        let node = self.program.node(t.node);
        if asked || node.missing == Missing::Partly || !cx.in_helper.is_empty() {
            return;
        }
        let text = self.short(value.span);
        let (message, holds) = match test {
            PresenceTest::Blank => (format!("`{text}` is never blank here"), negated),
            PresenceTest::NotApplicable => (format!("`{text}` is never n/a here"), negated),
            PresenceTest::Known => (format!("`{text}` is always known here"), !negated),
        };
        let d = Diagnostic::warning("OV-419", message)
            .at(e.span, if holds { "always holds" } else { "never holds" });
        let d = match &node.kind {
            Kind::Column { .. } if node.missing == Missing::Never => d
                .note("fill its column, or say in the sheet what a blank cell means")
                .mend("take the question out, or mark the column `optional`"),
            _ => d.mend("take the question out"),
        };
        self.problems.push(d);
    }

    pub(super) fn if_absent(
        &mut self,
        e: &'a Expr,
        value: &'a Expr,
        which: AbsentKind,
        instead: &'a Expr,
        cx: &Context<'a>,
        wanted: Option<ChoiceId>,
    ) -> Checks<Typed> {
        let v = self.expr(value, cx, wanted)?;
        if self.program.node(v.node).missing == Missing::Never && cx.in_helper.is_empty() {
            self.problems.push(
                Diagnostic::warning(
                    "OV-402",
                    format!("`{}` is never missing here", self.short(value.span)),
                )
                .at(value.span, "")
                .mend("take the `if blank` or `if n/a` out, or mark its column `optional`"),
            );
        }
        let mut pending = v.pending;
        match which {
            AbsentKind::Blank => pending.blank = false,
            AbsentKind::NotApplicable => pending.na = false,
        }
        let (ty, instead_node, missing) = if instead.kind == ExprKind::Unknown {
            let ty = self.ty(&v).clone();
            let node = self.program.intern(Node {
                kind: Kind::Unknown,
                ty: ty.clone(),
                grain: Grain::Const,
                missing: Missing::Partly,
                span: instead.span,
            });
            (ty, self.plain(node), Missing::Partly)
        } else {
            let own = if let Ty::Choice(c) = self.ty(&v) {
                Some(*c)
            } else {
                wanted
            };
            let i = self.settled(instead, &cx.branch(), own)?;
            let ty = self.joined_type(&[(v, value.span), (i, instead.span)])?;
            let missing = self.program.node(i.node).missing;
            (ty, i, missing)
        };
        let grain = self.grain_over(&[v.node, instead_node.node]);
        let was_partly = self.program.node(v.node).missing == Missing::Partly;
        let missing = if pending.any() {
            Missing::Unhandled
        } else if was_partly {
            Missing::Partly
        } else {
            missing
        };
        let unknown = instead.kind == ExprKind::Unknown;
        let kind = Kind::IfAbsent {
            value: v.node,
            which,
            instead: instead_node.node,
        };
        let node = self.program.intern(Node {
            kind,
            ty,
            grain,
            missing,
            span: e.span,
        });
        Ok(Typed {
            node,
            pending,
            whole: v.whole && (unknown || instead_node.whole),
            literal: false,
        })
    }
}

/// Names known to be there when a condition is true (or false).
#[expect(
    clippy::wildcard_enum_match_arm,
    reason = "only a question about presence narrows; any other condition says nothing of it"
)]
pub(super) fn narrowing(e: &Expr, truth: bool) -> Vec<(String, Pending)> {
    let all = Pending {
        blank: true,
        na: true,
    };
    match &e.kind {
        ExprKind::Not(inner) => narrowing(inner, !truth),
        ExprKind::Binary {
            op: BinaryOp::And,
            left,
            right,
            ..
        } if truth => {
            let mut v = narrowing(left, true);
            v.extend(narrowing(right, true));
            v
        }
        ExprKind::Binary {
            op: BinaryOp::Or,
            left,
            right,
            ..
        } if !truth => {
            let mut v = narrowing(left, false);
            v.extend(narrowing(right, false));
            v
        }
        ExprKind::Presence {
            value,
            test,
            negated,
        } => {
            let ExprKind::Name(name) = &value.kind else {
                return vec![];
            };
            let holds = truth != *negated;
            match (test, holds) {
                (PresenceTest::Known, true) => vec![(name.clone(), all)],
                (PresenceTest::Blank, false) => vec![(
                    name.clone(),
                    Pending {
                        blank: true,
                        na: false,
                    },
                )],
                (PresenceTest::NotApplicable, false) => vec![(
                    name.clone(),
                    Pending {
                        blank: false,
                        na: true,
                    },
                )],
                (PresenceTest::Blank, true) => vec![(
                    name.clone(),
                    Pending {
                        blank: false,
                        na: true,
                    },
                )],
                _ => vec![],
            }
        }
        _ => vec![],
    }
}
