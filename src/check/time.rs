//! Sums and differences with days, moments and temperatures: what two points are apart, and a point so much later.
//! Must not know how points are written.

use super::operators::Parts;
use super::typed::*;
use crate::diagnostics::{Diagnostic, Span};
use crate::number::{Exact, Rounding};
use crate::program::{Kind, Scale, Ty};
use crate::units::{Base, Dim, describe};

impl<'a> Checker<'a> {
    /// A sum or difference in which a point stands; `None` where none does.
    pub(super) fn point_sum(&mut self, p: &Parts<'a>, adds: bool) -> Option<Checks<Typed>> {
        let (l, r) = (self.ty(&p.l).clone(), self.ty(&p.r).clone());
        Some(match (&l, &r, adds) {
            (Ty::Point(a), Ty::Point(b), false) if a == b => self.apart(p, *a),
            (Ty::Point(a), Ty::Number(_), _) => self.later(p, *a, (p.r, p.right.span), adds),
            (Ty::Number(_), Ty::Point(a), true) => self.later(p, *a, (p.l, p.left.span), adds),
            (Ty::Point(a), Ty::Point(b), _) => {
                let d = Diagnostic::error(
                    "OV-361",
                    if adds {
                        "two points on a scale have no sum".to_owned()
                    } else {
                        format!("{} and {} have no difference", a.words(), b.words())
                    },
                )
                .at(p.op_span, "")
                .at(p.left.span, a.words())
                .at(p.right.span, b.words());
                self.fail(with_way_across(d, *a, *b))
            }
            (Ty::Number(n), Ty::Point(a), _) => {
                let found = describe(&n.dim, &self.program.nouns);
                self.fail(
                    Diagnostic::error(
                        "OV-361",
                        format!("{} can't be taken from a quantity", a.words()),
                    )
                    .at(p.op_span, "")
                    .at(p.left.span, found)
                    .at(p.right.span, a.words())
                    .mend("write the later point first, then what is taken from it"),
                )
            }
            _ => return None,
        })
    }

    fn apart(&mut self, p: &Parts<'a>, scale: Scale) -> Checks<Typed> {
        let node = self.fold(
            Kind::Sub(p.l.node, p.r.node),
            number(scale.step()),
            p.e.span,
        )?;
        Ok(Typed {
            whole: scale == Scale::Day,
            ..self.plain(node)
        })
    }

    /// A point and a step from it.
    fn later(
        &mut self,
        p: &Parts<'a>,
        scale: Scale,
        (step, step_span): (Typed, Span),
        adds: bool,
    ) -> Checks<Typed> {
        let n = self.as_number(&step, step_span)?;
        let verb = if adds { "added to" } else { "taken from" };
        if n.dim != scale.step() || n.percent {
            let found = self.words(&Ty::Number(n.clone()));
            let expected = describe(&scale.step(), &self.program.nouns);
            let d = Diagnostic::error(
                "OV-362",
                format!("{found} can't be {verb} {}", scale.words()),
            )
            .at(step_span, found.clone())
            .found(found)
            .expected(expected);
            let d = if n.dim == Dim::base(Base::Work) {
                d.note("how many calendar days the working days take hangs on a calendar: give calendar days, such as 14 day")
            } else if n.dim == Dim::base(Base::Labor) {
                d.note("an hour of a person's work is not an hour on the clock: write `clock h` for that, or `day`")
            } else {
                d
            };
            return self.fail(d);
        }
        if scale == Scale::Day && !step.whole {
            let text = self.short(step_span);
            return self.fail(
                Diagnostic::error("OV-363", "a date goes on by whole days, and this may be a part of one")
                    .at(step_span, "")
                    .mend(format!(
                        "round it: ({text} rounded up to 1 day); or count hours from the start of the day: midnight(...) + {text}"
                    )),
            );
        }
        let kind = if adds {
            Kind::Add(p.l.node, p.r.node)
        } else {
            Kind::Sub(p.l.node, p.r.node)
        };
        let node = self.fold(kind, Ty::Point(scale), p.e.span)?;
        Ok(Typed {
            whole: scale == Scale::Day,
            ..self.plain(node)
        })
    }

    /// `day_of(m)`, the day of a moment, and `midnight(d)`, the moment a day begins.
    pub(super) fn across(
        &mut self,
        name: &str,
        value: Typed,
        at: Span,
        span: Span,
    ) -> Checks<Typed> {
        let (from, to) = if name == "day_of" {
            (Scale::Moment, Scale::Day)
        } else {
            (Scale::Day, Scale::Moment)
        };
        if *self.ty(&value) != Ty::Point(from) {
            let found = self.words(&self.ty(&value).clone());
            return self.fail(
                Diagnostic::error("OV-361", format!("`{name}` takes {}", from.words()))
                    .at(at, found.clone())
                    .found(found)
                    .expected(from.words()),
            );
        }
        let time = Dim::base(Base::Time);
        let kind = match to {
            Scale::Day => Kind::Round {
                value: value.node,
                step: self.number_node(Exact::ONE, time, span),
                mode: Rounding::Down,
            },
            Scale::Moment | Scale::Temperature => {
                Kind::Add(value.node, self.number_node(Exact::ZERO, time, span))
            }
        };
        let node = self.fold(kind, Ty::Point(to), span)?;
        Ok(Typed {
            whole: to == Scale::Day,
            ..self.plain(node)
        })
    }
}

/// The mend where a day meets a moment.
pub(super) fn with_way_across(d: Diagnostic, a: Scale, b: Scale) -> Diagnostic {
    match (a, b) {
        (Scale::Day, Scale::Moment) | (Scale::Moment, Scale::Day) => {
            d.mend("day_of(MOMENT) is its day; midnight(DATE) is the moment it begins")
        }
        _ => d,
    }
}
