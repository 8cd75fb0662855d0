//! What a name stands for at each stage of the changes.

use super::typed::*;
use crate::diagnostics::{Diagnostic, Span};
use crate::program::{Grain, Kind, Missing, Node, NumTy, Scale, Ty};
use crate::syntax::tree::{self, GivenValue, Layer};

/// Definitions that need one another, one below the other.
const MOST_STAGES: usize = 4_000;
/// Expressions in one another from which on a definition is read in a turn of its own.
const DEEP: usize = 32;
/// Names shown of a circle of rules.
const MOST_NAMED: usize = 12;

impl<'a> Checker<'a> {
    /// The value of a definition after its first `stage` changes.
    pub(super) fn define(&mut self, def: usize, stage: usize, asked: Span) -> Checks<Typed> {
        if let Some(done) = self.kept.memo.get(&(def, stage)) {
            return *done;
        }
        if self.reading.deferred.is_some() {
            return Err(Poisoned);
        }
        if let Some(at) = self.reading.open.iter().position(|o| *o == (def, stage)) {
            let mut path: Vec<String> = self.reading.open[at..]
                .iter()
                .chain([&(def, stage)])
                .map(|(d, _)| format!("`{}`", self.declared.defs[*d].name.text))
                .collect();
            if path.len() > MOST_NAMED {
                path.splice(
                    MOST_NAMED / 2..path.len() - MOST_NAMED / 2,
                    ["...".to_string()],
                );
            }
            let mut d = Diagnostic::error("OV-205", "these rules need one another in a circle")
                .at(asked, "comes back here")
                .found(path.join(" needs "));
            for resource in &self.reading.taking {
                let name = &self.declared.resources[*resource].tree.name.text;
                d = d.note(format!("on the way, `taken of {name}` needs its takes"));
            }
            for (other, _) in &self.reading.open[at..] {
                let span = self.declared.defs[*other].name.span;
                if d.labels.len() < 6 {
                    d = d.at(span, "");
                }
            }
            return self
                .fail(d.mend("give one of them a value that does not come from the others"));
        }
        if self.reading.open.len() > MOST_STAGES {
            return self.fail(
                Diagnostic::error("OV-220", "rules build on one another too deep")
                    .at(asked, "")
                    .expected(format!("at most {MOST_STAGES} levels")),
            );
        }
        if self.reading.defining {
            if self.reading.deep > DEEP {
                self.reading.deferred = Some((def, stage));
                return Err(Poisoned);
            }
            return self.define_once(def, stage);
        }
        let (deep, outside) = (
            std::mem::replace(&mut self.reading.deep, 0),
            self.reading.open.len(),
        );
        self.reading.defining = true;
        let result = self.define_in_turn(def, stage);
        self.reading.defining = false;
        self.reading.open.truncate(outside);
        self.reading.deep = deep;
        self.problems.append(&mut self.reading.said);
        result
    }

    /// Reads a definition and what it needs. Where definitions need one another too deep for the stack, the deepest is read first
    /// and those above it are begun anew; what was read stays read.
    fn define_in_turn(&mut self, def: usize, stage: usize) -> Checks<Typed> {
        let mut waiting = vec![(def, stage, self.reading.open.len())];
        let mut result = Err(Poisoned);
        while let Some((def, stage, path)) = waiting.last().copied() {
            self.reading.open.truncate(path);
            self.reading.deep = 0;
            result = self.define_once(def, stage);
            match self.reading.deferred.take() {
                // The way to it stays open, so that a circle is found across turns.
                Some((def, stage)) => waiting.push((def, stage, self.reading.open.len())),
                None => {
                    waiting.pop();
                }
            }
        }
        result
    }

    fn define_once(&mut self, def: usize, stage: usize) -> Checks<Typed> {
        self.reading.open.push((def, stage));
        let told = std::mem::take(&mut self.problems);
        self.reading.deep += 1;
        let mut result = self.define_fresh(def, stage);
        self.reading.deep -= 1;
        let own = std::mem::replace(&mut self.problems, told);
        if self.reading.deferred.is_some() {
            self.forget_spoken_calls();
            return Err(Poisoned);
        }
        self.reading.said.extend(own);
        if let Ok(typed) = result
            && stage == self.stage_of_pins(def)
            && let Some(pinned) = self.pinned_value(def, &typed)
        {
            result = Ok(pinned);
        }
        self.reading.open.pop();
        self.kept.memo.insert((def, stage), result);
        result
    }

    /// What is set from outside takes the place of the value below the alternate.
    fn stage_of_pins(&self, def: usize) -> usize {
        self.work.in_force.get(&def).map_or(0, |changes| {
            changes
                .iter()
                .filter(|c| c.layer < Layer::Alternate)
                .count()
        })
    }

    /// The stage at which every change is in.
    pub(super) fn last_stage(&self, def: usize) -> usize {
        let own = self.work.in_force.get(&def).map_or(0, Vec::len);
        if self.work.mix.as_ref().is_some_and(|m| m.has(def)) {
            own + super::mix::STAGES
        } else {
            own
        }
    }

    fn define_fresh(&mut self, d: usize, stage: usize) -> Checks<Typed> {
        let def = self.declared.defs[d].clone();
        let cx = Context::at(def.grain);
        let own = self.work.in_force.get(&d).map_or(0, Vec::len);
        if stage > own {
            return self.mixed(d, own, stage - own, &def, &cx);
        }
        if stage > 0 {
            let change = self
                .work
                .in_force
                .get(&d)
                .and_then(|l| l.get(stage - 1))
                .copied()
                .ok_or(Poisoned)?;
            return self.changed(d, change, stage - 1, &def, &cx);
        }
        match &def.kind {
            DefKind::Column {
                table,
                index,
                column,
            } => self.column_value(*table, *index, column, def.choice),
            DefKind::Given(g) => match &g.value {
                GivenValue::Unsaid => {
                    Ok(self.constant_value(Kind::Unknown, Ty::Point(Scale::Day), g.name.span))
                }
                GivenValue::Quantity(s) => {
                    let l = self.signed(s)?;
                    let ty = l.ty();
                    let whole = l.value.is_integer();
                    Ok(Typed {
                        whole,
                        ..self.constant_value(Kind::Number(l.value), ty, g.name.span)
                    })
                }
                GivenValue::Truth(b) => {
                    Ok(self.constant_value(Kind::Truth(*b), Ty::Truth, g.name.span))
                }
                GivenValue::Text(t) => {
                    Ok(self.constant_value(Kind::Text(t.text.clone()), Ty::Text, g.name.span))
                }
                GivenValue::Asked(asked) => self.asked_value(d, asked, &def),
                GivenValue::Label { label, .. } | GivenValue::Of { label, .. } => {
                    let choice = def.choice.ok_or(Poisoned)?;
                    let i = self.label_of(choice, label)?;
                    Ok(self.constant_value(Kind::Label(i), Ty::Choice(choice), g.name.span))
                }
            },
            DefKind::Rule(rule) => {
                let t = self.settled(&rule.value, &cx, None)?;
                let mut node = self.brought_down(t.node, def.grain, rule.value.span);
                if rule.adds_up
                    && let Ty::Number(n) = self.program.node(node).ty.clone()
                {
                    // The author's word: the same value, typed as adding up.
                    let inner = self.program.node(node).clone();
                    let ty = Ty::Number(NumTy {
                        adds: crate::program::Adds::Yes,
                        ..n
                    });
                    node = self.program.intern(Node { ty, ..inner });
                }
                Ok(Typed {
                    node,
                    pending: Pending::default(),
                    whole: t.whole,
                    literal: false,
                })
            }
            DefKind::Decide(decide) => self.decide(d, decide, &def, &cx),
        }
    }

    fn constant_value(&mut self, kind: Kind, ty: Ty, span: Span) -> Typed {
        let node = self.program.intern(Node {
            kind,
            ty,
            grain: Grain::Const,
            missing: Missing::Never,
            span,
        });
        Typed {
            node,
            pending: Pending::default(),
            whole: false,
            literal: false,
        }
    }

    fn column_value(
        &mut self,
        table: crate::program::TableId,
        index: u16,
        column: &tree::Column,
        choice: Option<crate::program::ChoiceId>,
    ) -> Checks<Typed> {
        use crate::table::{ColumnKind, OnMissing};
        let spec = &self.program.tables[table].schema.columns[usize::from(index)];
        let pending = Pending {
            blank: spec.blank == OnMissing::Keep,
            na: spec.not_applicable == OnMissing::Keep,
        };
        let (ty, whole) = match &spec.kind {
            ColumnKind::Text | ColumnKind::Lites => (Ty::Text, false),
            ColumnKind::YesNo => (Ty::Truth, false),
            ColumnKind::Date | ColumnKind::Moment | ColumnKind::Temperature => (
                Ty::Point(spec.kind.scale().ok_or(Poisoned)?),
                spec.kind == ColumnKind::Date,
            ),
            ColumnKind::Choice(_) => (Ty::Choice(choice.ok_or(Poisoned)?), false),
            ColumnKind::Number {
                dim,
                unit,
                whole,
                percent,
                ..
            } => {
                use crate::program::{Adds, WhyNot};
                let adds = match () {
                    () if column.adds_up => Adds::Yes,
                    () if *percent => Adds::No(WhyNot::Percent),
                    () => adds_by_dim(dim),
                };
                let whole = *whole && unit.factor().is_integer();
                (
                    Ty::Number(NumTy {
                        dim: dim.clone(),
                        percent: *percent,
                        adds,
                        real: false,
                    }),
                    whole,
                )
            }
        };
        let missing = if pending.any() {
            Missing::Unhandled
        } else {
            Missing::Never
        };
        let kind = Kind::Column {
            table,
            column: index,
        };
        let node = self.program.intern(Node {
            kind,
            ty,
            grain: Grain::Table(table),
            missing,
            span: column.name.span,
        });
        let own = Typed {
            node,
            pending,
            whole,
            literal: false,
        };
        self.as_decided_above(table, index, own, column.name.span)
    }
}
