//! Conditional values: `if` and `choose`.

use super::missing::narrowing;
use super::typed::*;
use crate::diagnostics::{Diagnostic, Span};
use crate::program::{ChoiceId, Grain, Kind, Missing, Node, Ty};
use crate::syntax::tree::Expr;

impl<'a> Checker<'a> {
    pub(super) fn branches(
        &mut self,
        e: &'a Expr,
        condition: &'a Expr,
        then: &'a Expr,
        otherwise: &'a Expr,
        cx: &Context<'a>,
        wanted: Option<ChoiceId>,
    ) -> Checks<Typed> {
        let c = self.condition(condition, cx);
        let inside = Box::new([true, false].map(|truth| {
            let mut inside = cx.branch();
            inside.known.extend(narrowing(condition, truth));
            inside
        }));
        let t = self.settled(then, &inside[0], wanted);
        let o = self.settled(otherwise, &inside[1], wanted);
        self.selected(e, c?, [(t?, then.span), (o?, otherwise.span)])
    }

    fn selected(
        &mut self,
        e: &Expr,
        c: Typed,
        [(t, t_span), (o, o_span)]: [(Typed, Span); 2],
    ) -> Checks<Typed> {
        let ty = self.joined_type(&[(t, t_span), (o, o_span)])?;
        if let Some(truth) = self.constant_truth(c.node) {
            let taken = if truth { t } else { o };
            if *self.ty(&taken) == ty {
                return Ok(Typed {
                    pending: Pending::default(),
                    literal: false,
                    ..taken
                });
            }
        }
        let node = self.node(
            Kind::Select {
                condition: c.node,
                then: t.node,
                otherwise: o.node,
            },
            ty,
            e.span,
        );
        Ok(Typed {
            whole: t.whole && o.whole,
            ..self.plain(node)
        })
    }

    pub(super) fn choose(
        &mut self,
        e: &'a Expr,
        subject: &'a Expr,
        arms: &'a [crate::syntax::tree::Arm],
        cx: &Context<'a>,
        wanted: Option<ChoiceId>,
    ) -> Checks<Typed> {
        let s = self.settled(subject, cx, None);
        let branch = cx.branch();
        let values: Vec<Checks<Typed>> = arms
            .iter()
            .map(|a| self.settled(&a.value, &branch, wanted))
            .collect();
        let s = s?;
        let Ty::Choice(c) = *self.ty(&s) else {
            let found = self.words(&self.ty(&s).clone());
            return self.fail(
                Diagnostic::error("OV-312", "`choose` needs a choice")
                    .at(subject.span, "")
                    .found(found)
                    .expected("a column or decision with a closed set of labels; use `if` for anything else"),
            );
        };
        let labels = self.program.choices[c].labels.clone();
        let (mut arm_of, ok) = self.arms_by_label(c, labels.len(), arms);
        let lacking: Vec<&str> = labels
            .iter()
            .zip(&arm_of)
            .filter(|(_, a)| a.is_none())
            .map(|(l, _)| l.as_str())
            .collect();
        let mut values = values;
        let mut spans: Vec<Span> = arms.iter().map(|a| a.value.span).collect();
        if !lacking.is_empty() && ok {
            let lacking: Vec<String> = lacking.into_iter().map(str::to_owned).collect();
            let Some(first) = values
                .iter()
                .flatten()
                .next()
                .filter(|_| self.answered_later(c, &lacking))
                .copied()
            else {
                return self.fail(self.lacking(c, &lacking, subject.span));
            };
            // The change that a later layer makes of this value says what holds there.
            let ty = self.ty(&first).clone();
            let unknown = self.program.intern(Node {
                kind: Kind::Unknown,
                ty,
                grain: Grain::Const,
                missing: Missing::Partly,
                span: subject.span,
            });
            values.push(Ok(Typed {
                whole: first.whole,
                ..self.plain(unknown)
            }));
            spans.push(subject.span);
            let rest = u16::try_from(values.len() - 1).unwrap_or(u16::MAX);
            arm_of
                .iter_mut()
                .filter(|a| a.is_none())
                .for_each(|a| *a = Some(rest));
        }
        if !ok {
            return Err(Poisoned);
        }
        let values = values.into_iter().collect::<Checks<Vec<Typed>>>()?;
        let list: Vec<(Typed, Span)> = values.iter().copied().zip(spans).collect();
        let ty = self.joined_type(&list)?;
        let kind = Kind::Choose {
            subject: s.node,
            arm_of: arm_of.into_iter().map(|a| a.unwrap_or(0)).collect(),
            arms: values.iter().map(|v| v.node).collect(),
        };
        let node = self.node(kind, ty, e.span);
        Ok(Typed {
            whole: values.iter().all(|v| v.whole),
            ..self.plain(node)
        })
    }

    /// Which arm each label takes, and whether every arm is sound.
    fn arms_by_label(
        &mut self,
        c: ChoiceId,
        labels: usize,
        arms: &'a [crate::syntax::tree::Arm],
    ) -> (Vec<Option<u16>>, bool) {
        let mut arm_of: Vec<Option<u16>> = vec![None; labels];
        let mut ok = true;
        for (i, arm) in arms.iter().enumerate() {
            let arm_index = u16::try_from(i).unwrap_or(u16::MAX);
            if arm.labels.is_empty() {
                if arm_of.iter().all(Option::is_some) {
                    self.problems.push(
                        Diagnostic::warning(
                            "OV-404",
                            "this `otherwise` never counts: every label has its line",
                        )
                        .at(arm.span, "")
                        .mend("take it out"),
                    );
                }
                for slot in arm_of.iter_mut().filter(|s| s.is_none()) {
                    *slot = Some(arm_index);
                }
                if i + 1 < arms.len() {
                    ok = false;
                    self.problems.push(
                        Diagnostic::error("OV-404", "`otherwise` comes last")
                            .at(arm.span, "")
                            .mend("move it below the other labels"),
                    );
                }
                continue;
            }
            for label in &arm.labels {
                match self.label_of(c, label) {
                    Ok(l) => {
                        let slot = arm_of.get_mut(usize::from(l));
                        if slot.is_some_and(|slot| slot.replace(arm_index).is_some()) {
                            ok = false;
                            self.problems.push(
                                Diagnostic::error(
                                    "OV-404",
                                    format!("the label `{}` has two values", label.text),
                                )
                                .at(label.span, "the second")
                                .mend("keep one"),
                            );
                        }
                    }
                    Err(Poisoned) => ok = false,
                }
            }
        }
        (arm_of, ok)
    }
}
