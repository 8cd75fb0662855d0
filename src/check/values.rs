//! The values of a version, the units they are shown in, and what is used of them.

use super::asked::answer_of;
use super::changes::def_span;
use super::columns::below_zero;
use super::kept::Reader;
use super::typed::*;
use crate::diagnostics::Diagnostic;
use crate::number::Exact;
use crate::program::{Grain, NumTy, TakeDef, Ty, ValueDef, ValueKind, Version};
use crate::syntax::tree::{self, Given, GivenValue, Layer};
use crate::units::{Style, UnitExpr, format_quantity};
use foldhash::{HashMap, HashMapExt, HashSet, HashSetExt};
use std::sync::Arc;

impl<'a> Checker<'a> {
    /// Marks the values that something that counts rests on. A given that was folded into a written number leaves no other trace.
    pub(super) fn mark_used(&self, version: &mut Version, defs: &[usize]) {
        let mut used = vec![false; self.declared.defs.len()];
        let decided = self.kept.decides.keys().copied();
        let mut todo: Vec<usize> = self
            .kept
            .reads
            .iter()
            .filter(|(reader, _)| !matches!(reader, Reader::Def(_)))
            .map(|(_, read)| *read)
            .chain(decided)
            .collect();
        let mut read_by: HashMap<usize, Vec<usize>> = HashMap::new();
        for (reader, read) in &self.kept.reads {
            if let Reader::Def(reader) = reader {
                read_by.entry(*reader).or_default().push(*read);
            }
        }
        while let Some(def) = todo.pop() {
            if !std::mem::replace(&mut used[def], true) {
                todo.extend(read_by.get(&def).into_iter().flatten());
            }
        }
        for (value, def) in version.values.iter_mut().zip(defs) {
            if value.used != used[*def] {
                Arc::make_mut(value).used = used[*def];
            }
        }
    }

    /// Marks the takes that a figure from memory goes into: whatever their lines read, directly or through other names.
    pub(super) fn mark_from_memory(&self, version: &mut Version, defs: &[usize]) {
        let values = version.values.iter().zip(defs);
        let mut todo: Vec<Reader> = values
            .filter(|(value, _)| value.is_from_memory())
            .map(|(_, def)| Reader::Def(*def))
            .collect();
        let mut read_by: HashMap<usize, Vec<Reader>> = HashMap::new();
        for (reader, read) in &self.kept.reads {
            read_by.entry(*read).or_default().push(*reader);
        }
        let mut touched: HashSet<Reader> = HashSet::new();
        while let Some(reader) = todo.pop() {
            if touched.insert(reader)
                && let Reader::Def(def) = reader
            {
                todo.extend(read_by.get(&def).into_iter().flatten());
            }
        }
        let from_memory = |take: &TakeDef| {
            let line = self.kept.line_of_take.get(&take.span);
            line.is_some_and(|line| touched.contains(&Reader::Line(*line)))
        };
        for take in &mut version.takes {
            take.from_memory = from_memory(take);
        }
    }

    /// All named values of the version; gives the definition of each.
    pub(super) fn values(&mut self, version: &mut Version) -> Vec<usize> {
        let mut done = Vec::new();
        for d in self.named_defs() {
            if let Some(value) = self.kept_value(d) {
                done.push(d);
                version.values.push(value);
            } else if let Some(value) = self.value(d) {
                done.push(d);
                version.values.push(Arc::new(value));
            }
        }
        done
    }

    /// The definitions that a version names: all, or of a trial what it looks at and what that was calculated from.
    fn named_defs(&self) -> Vec<usize> {
        if self.work.need.is_none() {
            return (0..self.declared.defs.len()).collect();
        }
        let whole = |d: usize| self.work.in_force.get(&d).map_or(0, Vec::len);
        let worked = self
            .kept
            .memo
            .keys()
            .filter(|(d, stage)| *stage == whole(*d));
        let mut worked: Vec<usize> = worked.map(|(d, _)| *d).collect();
        worked.sort_unstable();
        worked
    }

    /// A named value with all its details; none if it has a fault or no value.
    fn value(&mut self, d: usize) -> Option<ValueDef> {
        let def = self.declared.defs[d].clone();
        let mut changes = self.work.in_force.get(&d).cloned().unwrap_or_default();
        let all_stages = changes.len();
        changes.retain(|c| c.change.at.is_none());
        let stages = self.last_stage(d);
        let typed = self.define(d, stages, def.name.span).ok()?;
        let (kind, remarks, shown) = match &def.kind {
            DefKind::Column {
                table,
                index,
                column,
            } => (
                ValueKind::Column {
                    table: *table,
                    column: *index,
                },
                Some(&column.remarks),
                None,
            ),
            DefKind::Given(g)
                if matches!(g.value, GivenValue::Unsaid) && !self.work.pinned.contains_key(&d) =>
            {
                return None;
            }
            DefKind::Given(g) => {
                let kind = self.given_kind(d, g, &typed, &changes);
                (kind, Some(&g.remarks), None)
            }
            DefKind::Rule(r) => (ValueKind::Rule, Some(&r.remarks), r.shown.as_ref()),
            DefKind::Decide(_) => {
                let decide = self.kept.decides.get(&d).cloned()?;
                (ValueKind::Decide(decide), None, None)
            }
        };
        let unit = self.value_unit(&def, &typed, shown);
        let last = changes.last();
        let mixed = stages > all_stages;
        Some(ValueDef {
            name: def.name.text.clone(),
            kind,
            node: typed.node,
            // A given that a mixed plan picks is one value a row.
            grain: if def.grain == Grain::Const {
                self.grain_of(typed.node)
            } else {
                def.grain
            },
            unit,
            span: last.map_or_else(|| def_span(&def), |c| c.change.span),
            layer: if mixed {
                Layer::Alternate
            } else {
                last.map_or(def.layer, |c| c.layer)
            },
            source: remarks.and_then(|r| r.source.clone()),
            note: remarks.and_then(|r| r.note.clone()),
            because: match &self.work.mix {
                Some(mix) if mixed => Some(mix.because()),
                _ => last.and_then(|c| c.change.because.as_ref().map(|t| t.text.clone())),
            },
            by: last.and_then(|c| {
                let by = c.change.by.as_ref()?;
                Some((by.who.text.clone(), by.day.text.clone()))
            }),
            private: super::private::is_private(&def.kind),
            replaced: if changes.is_empty() {
                vec![]
            } else {
                std::iter::once(def_span(&def))
                    .chain(changes[..changes.len() - 1].iter().map(|c| c.change.span))
                    .collect()
            },
            used: false,
        })
    }

    /// What is said of a given besides its value.
    fn given_kind(
        &mut self,
        d: usize,
        g: &'a Given,
        typed: &Typed,
        changes: &[LayeredChange<'a>],
    ) -> ValueKind {
        let def = self.declared.defs[d].clone();
        let limits = self.limits_in_force(g);
        let range = limits.as_ref().and_then(|l| {
            let (low, high) = l.ends;
            let ty = self.ty(typed).clone();
            let (Ty::Number(_) | Ty::Point(_)) = ty else {
                self.problems.push(
                    Diagnostic::error("OV-316", "only a number has a range").at(g.name.span, ""),
                );
                return None;
            };
            let low = self.signed_like(low, &ty, "OV-316").ok()?;
            let high = self.signed_like(high, &ty, "OV-316").ok()?;
            // What a trial or a study sets is its own affair.
            if !self.work.pinned.contains_key(&d) {
                self.refuse_outside(&def, (&ty, typed), changes.last(), (&low, &high), l);
            }
            Some((low, high))
        });
        if limits.is_none() && !self.work.pinned.contains_key(&d) {
            self.refuse_below_zero(&def, g, typed, changes.last());
        }
        let answer = answer_of(g, changes);
        let widened = limits.as_ref().is_some_and(|l| l.widened.is_some());
        let is_changed = widened || !changes.is_empty() || self.work.pinned.contains_key(&d);
        let varies = self.varies_of(g, typed, (range.as_ref(), is_changed));
        ValueKind::Given {
            range,
            varies,
            answer,
        }
    }

    /// The unit a value is shown in.
    fn value_unit(
        &mut self,
        def: &Def<'a>,
        typed: &Typed,
        shown: Option<&'a tree::UnitText>,
    ) -> Option<UnitExpr> {
        match (self.ty(typed).clone(), shown) {
            (Ty::Number(n), Some(text)) => match self.unit(text) {
                Ok(u) if *u.dim() == n.dim => Some(u),
                Ok(u) => {
                    let nouns = &self.program.nouns;
                    let d = Diagnostic::error(
                        "OV-310",
                        format!("`{}` can't be shown in `{}`", def.name.text, text.text),
                    )
                    .at(text.span, crate::units::describe(u.dim(), nouns))
                    .expected(format!(
                        "a unit of {}",
                        crate::units::describe(&n.dim, nouns)
                    ));
                    self.problems.push(d);
                    None
                }
                Err(Poisoned) => None,
            },
            (Ty::Number(n), None) => Some(self.unit_to_show(def, typed.node, &n)),
            (Ty::Truth | Ty::Text | Ty::Choice(_) | Ty::Point(_), _) => None,
        }
    }

    /// What a job is asked for is measured or counted, as a column of the survey is: nothing below zero without limits that reach there.
    fn refuse_below_zero(
        &mut self,
        def: &Def<'a>,
        given: &'a Given,
        typed: &Typed,
        change: Option<&LayeredChange<'a>>,
    ) {
        let (GivenValue::Asked(asked), Ty::Number(n)) = (&given.value, self.ty(typed).clone())
        else {
            return;
        };
        let Some(value) = self.program.constant(typed.node).cloned() else {
            return;
        };
        if value.signum() >= 0 {
            return;
        }
        let unit = self.unit_to_show(def, typed.node, &n);
        let found = format_quantity(&value, &unit, &self.program.nouns, Style::default());
        let name = &given.name;
        let said = match (change, &asked.unanswered) {
            (Some(c), _) => c.change.to.span,
            (None, Some((assumed, _))) => assumed.span,
            (None, None) => name.span,
        };
        let d =
            below_zero(&name.text, said, found).at(name.span, "no limits that reach below zero");
        self.problems.push(d);
    }

    /// A given lies in its own range, also where a change sets it.
    fn refuse_outside(
        &mut self,
        def: &Def<'a>,
        (ty, typed): (&Ty, &Typed),
        change: Option<&LayeredChange<'a>>,
        range: (&Exact, &Exact),
        limits: &super::amend::LimitsInForce<'a>,
    ) {
        let DefKind::Given(Given { name, .. }) = &def.kind else {
            return;
        };
        let (from, to) = limits.ends;
        let unit = match ty {
            Ty::Number(n) => self.unit_to_show(def, typed.node, n),
            Ty::Truth | Ty::Choice(_) | Ty::Text | Ty::Point(_) => crate::units::UnitExpr::none(),
        };
        let text = |v: &Exact| {
            if let Ty::Point(scale) = ty {
                return crate::units::point_text(*scale, v);
            }
            format_quantity(v, &unit, &self.program.nouns, Style::default())
        };
        let (low, high) = range;
        let stands = from.span.to(to.span);
        if low > high {
            self.problems.push(
                Diagnostic::error(
                    "OV-317",
                    format!("the range of `{}` runs backwards", name.text),
                )
                .at(stands, "")
                .found(format!("from {} to {}", text(low), text(high)))
                .expected(format!("from {} to {}", text(high), text(low))),
            );
            return;
        }
        let Some(value) = self
            .program
            .constant(typed.node)
            .filter(|v| *v < low || *v > high)
        else {
            return;
        };
        let d = Diagnostic::error(
            "OV-317",
            format!("the value of `{}` does not lie in its own range", name.text),
        );
        let d = match change {
            Some(c) => d.at(c.change.to.span, "").at(stands, "its range"),
            None => d.at(name.span, ""),
        };
        let d = d
            .found(text(value))
            .expected(format!("from {} to {}", text(low), text(high)));
        self.problems.push(match change {
            None if limits.widened.is_none() => d,
            _ => d.mend(format!("choose a value within, or widen the limits, with a reason: change limits of {} to between A and B because \"...\"", name.text)),
        });
    }

    /// The unit a value is shown in when none is said: the one it was written in, else the usual one of its kind.
    pub(super) fn unit_to_show(
        &mut self,
        def: &Def<'a>,
        node: crate::program::NodeId,
        n: &NumTy,
    ) -> crate::units::UnitExpr {
        match &def.kind {
            DefKind::Column { table, index, .. } => {
                if let crate::table::ColumnKind::Number { unit, .. } =
                    &self.program.tables[*table].schema.columns[usize::from(*index)].kind
                {
                    return unit.clone();
                }
            }
            DefKind::Given(g) => {
                let unit = match &g.value {
                    GivenValue::Quantity(s) => self.literal(&s.quantity).ok().map(|l| l.unit),
                    GivenValue::Asked(asked) => self.asked_unit(asked),
                    GivenValue::Unsaid
                    | GivenValue::Truth(_)
                    | GivenValue::Text(_)
                    | GivenValue::Label { .. }
                    | GivenValue::Of { .. } => None,
                };
                if let Some(unit) = unit {
                    return unit;
                }
            }
            DefKind::Rule(_) | DefKind::Decide(_) => {}
        }
        self.usual_unit(node, n)
    }
}
