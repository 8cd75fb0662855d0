//! Names in formulas: which value or label one means, and whether it can be read from where it is.

use super::typed::*;
use crate::diagnostics::suggest::listed;
use crate::diagnostics::{Diagnostic, Span};
use crate::program::{Adds, ChoiceId, Grain, Kind, Node, NumTy, Ty, WhyNot};
use crate::syntax::tree::{Expr, GivenValue, Name};

impl<'a> Checker<'a> {
    pub(super) fn name(
        &mut self,
        name: &'a str,
        span: Span,
        cx: &Context<'a>,
        wanted: Option<ChoiceId>,
    ) -> Checks<Typed> {
        if let Some(t) = cx.params.get(name) {
            return Ok(*t);
        }
        if let Some(choice) = wanted
            && let Some(i) = self.program.choices[choice]
                .labels
                .iter()
                .position(|l| l == name)
        {
            return Ok(self.label_node(choice, crate::ids::place(i), span));
        }
        if let Some(def) = self.def_for(name, cx.grain) {
            return self.read(def, span, cx);
        }
        if self.reported.broken.contains(name) {
            return Err(Poisoned);
        }
        let owner = self.declared.label_owners.get(name).copied();
        if let Some((choice, label, false)) = owner {
            return Ok(self.label_node(choice, label, span));
        }
        if owner.is_some() {
            return self.fail(
                Diagnostic::error(
                    "OV-211",
                    format!(
                        "`{name}` is a label of several choices, and it is unclear which one is meant"
                    ),
                )
                .at(span, "")
                .mend("compare it with a value of its choice, or use `decide ... of CHOICE`"),
            );
        }
        if let Some(c) = wanted {
            // Where one of a few labels belongs, any other name would be of another kind.
            let labels = &self.program.choices[c].labels;
            let d = Diagnostic::error(
                "OV-211",
                format!("`{name}` is not one of the labels that can be used here"),
            )
            .at(span, "")
            .expected(listed(labels));
            let near = self.near(name, labels.len(), labels.iter().map(String::as_str));
            return self.fail(match near {
                Some(n) => d.mend(format!("did you mean `{n}`?")),
                None => d,
            });
        }
        let d =
            Diagnostic::error("OV-202", format!("there is nothing named `{name}`")).at(span, "");
        let known = self.declared.by_name.keys().chain(cx.params.keys());
        let near = self.near(name, self.declared.by_name.len(), known.copied());
        let resource = self.declared.resources_by_name.contains_key(name);
        let d = match near {
            // A name of another sort is reported as what it is, before a name that is merely near.
            _ if self.declared.lookups.contains_key(name) => d.mend(format!(
                "it is a table, read by a key: COLUMN from {name} at KEY"
            )),
            None if name == "whole" => {
                d.mend("a rounding names its step: `to 1` for whole ones, `to 0.01` for two places")
            }
            Some(n) => d.mend(format!("did you mean `{n}`?")),
            None if resource => d.mend(format!(
                "it is a resource; how much of it is taken is read as: taken of {name}"
            )),
            None if self.declared.helpers.contains_key(name) => {
                d.mend(format!("a helper is written with its values: {name}(...)"))
            }
            None => d.expected("a column, a given, a rule or a decision of these sheets"),
        };
        self.fail(d)
    }

    /// The definition a name means at a grain: its own first, then coarser, then finer.
    pub(super) fn def_for(&self, name: &str, grain: Grain) -> Option<usize> {
        let list = self.declared.by_name.get(name)?;
        let rank = |d: &usize| {
            let g = self.declared.defs[*d].grain;
            if g == grain {
                0
            } else if self.reaches(grain, g) {
                1
            } else {
                2
            }
        };
        list.iter().copied().min_by_key(rank)
    }

    /// Tells once that a job's rules read its day, where neither its block nor the command line says one.
    fn note_unsaid(&mut self, def: usize, span: Span) {
        let unsaid = match &self.declared.defs[def].kind {
            DefKind::Given(given) => matches!(given.value, GivenValue::Unsaid),
            DefKind::Column { .. } | DefKind::Rule(_) | DefKind::Decide(_) => false,
        };
        if !unsaid || self.work.pinned.contains_key(&def) || !self.is_job() {
            return;
        }
        if !std::mem::replace(&mut self.reported.unsaid, true) {
            self.say_once(
                Diagnostic::error("OV-660", "this reads the day of the job, and the job says none")
                    .at(span, "read here")
                    .mend("write `issued 2026-03-21` in the job block, or give it with --issued 2026-03-21"),
            );
        }
    }

    /// Reads a named value at the context's grain.
    pub(super) fn read(&mut self, def: usize, span: Span, cx: &Context<'a>) -> Checks<Typed> {
        self.kept.reads.insert((self.reader(), def));
        self.note_unsaid(def, span);
        let stages = self.last_stage(def);
        let stage = match cx.own {
            Some((own, stage)) if own == def => stage - 1,
            _ => stages,
        };
        // In a group's block its keys are read as the group's own.
        if let Grain::Group(g) = cx.grain {
            let group = &self.program.groups[g];
            if let Grain::Table(t) = self.declared.defs[def].grain
                && t == group.of
                && let Some(k) = group
                    .key_names
                    .iter()
                    .position(|n| *n == self.declared.defs[def].name.text)
            {
                let typed = self.define(def, stage, span)?;
                let ty = match self.ty(&typed).clone() {
                    Ty::Number(n) => Ty::Number(NumTy {
                        adds: Adds::No(WhyNot::Fact),
                        ..n
                    }),
                    other @ (Ty::Truth | Ty::Choice(_) | Ty::Text | Ty::Point(_)) => other,
                };
                let key = crate::ids::place(k);
                let missing = self.program.node(typed.node).missing;
                let node = self.program.intern(Node {
                    kind: Kind::GroupKey { group: g, key },
                    ty,
                    grain: cx.grain,
                    missing,
                    span,
                });
                return Ok(Typed { node, ..typed });
            }
        }
        let typed = self.define(def, stage, span)?;
        let from = self.grain_of(typed.node);
        let mut typed = if from == cx.grain || from == Grain::Const {
            typed
        } else if self.reaches(cx.grain, from) {
            let ty = match self.ty(&typed).clone() {
                Ty::Number(n) => Ty::Number(NumTy {
                    adds: Adds::No(WhyNot::Fact),
                    ..n
                }),
                other @ (Ty::Truth | Ty::Choice(_) | Ty::Text | Ty::Point(_)) => other,
            };
            let missing = self.program.node(typed.node).missing;
            let node = self.program.intern(Node {
                kind: Kind::Down(typed.node),
                ty,
                grain: cx.grain,
                missing,
                span,
            });
            Typed { node, ..typed }
        } else {
            let d = self.not_worked_here(def, &typed, from, span, cx);
            return self.fail(d);
        };
        for (known, what) in &cx.known {
            if *known == self.declared.defs[def].name.text {
                typed.pending.blank &= !what.blank;
                typed.pending.na &= !what.na;
            }
        }
        Ok(typed)
    }

    /// A value of other rows than those it is read for.
    fn not_worked_here(
        &self,
        def: usize,
        typed: &Typed,
        from: Grain,
        span: Span,
        cx: &Context<'a>,
    ) -> Diagnostic {
        let name = self.declared.defs[def].name.text.clone();
        let (is, here) = (self.name_of_grain(from), self.name_of_grain(cx.grain));
        if cx.grain == Grain::Const {
            Diagnostic::error("OV-501", format!("`{name}` is calculated {is}, and one value for all is needed here"))
                .at(span, "")
                .at(self.declared.defs[def].name.span, format!("calculated {is}"))
                .expected("written values and givens; what differs from row to row is a rule in a `for` block")
        } else if self.reaches(from, cx.grain) {
            let d = Diagnostic::error(
                "OV-501",
                format!("`{name}` is calculated {is}, and here one value is needed {here}"),
            )
            .at(span, "")
            .at(
                self.declared.defs[def].name.span,
                format!("calculated {is}"),
            );
            match self.ty(typed) {
                Ty::Number(n) if n.adds == Adds::Yes => d.mend(format!(
                    "write `sum of {name}`, `least of {name}` or `most of {name}`"
                )),
                Ty::Number(_) => d.mend(format!(
                    "write `least of {name}`, `most of {name}` or `mean of {name} weighted by ...`"
                )),
                Ty::Truth => d.mend(format!("write `any of {name}` or `all of {name}`")),
                Ty::Choice(_) | Ty::Text | Ty::Point(_) => d.mend(
                    "bring it up with `count of ... where ...`, or make it a key of the group",
                ),
            }
        } else {
            Diagnostic::error(
                "OV-504",
                format!("`{name}` is calculated {is}; it can't be read {here}"),
            )
            .at(span, "")
            .note("neither holds rows of the other")
        }
    }

    /// The index of a label.
    pub(super) fn label_of(&mut self, choice: ChoiceId, label: &Name) -> Checks<u16> {
        let def = &self.program.choices[choice];
        match def.labels.iter().position(|l| *l == label.text) {
            Some(i) => Ok(crate::ids::place(i)),
            None => {
                let (labels, name) = (&def.labels, &def.name);
                let d = Diagnostic::error(
                    "OV-211",
                    format!("`{}` is not one of the labels of `{name}`", label.text),
                )
                .at(label.span, "")
                .expected(listed(labels));
                let known = labels.iter().map(String::as_str);
                let near = self.near(&label.text, labels.len(), known);
                self.fail(match near {
                    Some(n) => d.mend(format!("did you mean `{n}`?")),
                    None => d,
                })
            }
        }
    }

    pub(super) fn label_node(&mut self, choice: ChoiceId, index: u16, span: Span) -> Typed {
        let node = self.constant(Kind::Label(index), Ty::Choice(choice), span);
        self.plain(node)
    }

    /// `is one of pair, hung or leaded`, where the last is a value and no label: the list went on too far.
    pub(super) fn refuse_value_as_label(
        &mut self,
        e: &Expr,
        choice: ChoiceId,
        before: &[Name],
        label: &Name,
        cx: &Context<'a>,
    ) -> Checks<()> {
        let Some(last) = before.last() else {
            return Ok(());
        };
        let is_label = self.program.choices[choice].labels.contains(&label.text);
        if is_label
            || !(cx.params.contains_key(label.text.as_str())
                || self.def_for(&label.text, cx.grain).is_some())
        {
            return Ok(());
        }
        let list = self
            .loaded
            .sources
            .slice(Span {
                end: last.span.end,
                ..e.span
            })
            .to_string();
        let joint = self
            .loaded
            .sources
            .slice(Span {
                start: last.span.end,
                end: label.span.start,
                ..e.span
            })
            .trim()
            .to_string();
        let mend = match joint.as_str() {
            "," => format!(
                "where the comma belongs to a list of values around it, put the question in brackets: ({list})"
            ),
            word => format!(
                "put the question in brackets: ({list}) {word} {}",
                label.text
            ),
        };
        let labels = listed(&self.program.choices[choice].labels);
        self.fail(
            Diagnostic::error(
                "OV-211",
                format!(
                    "the list after `is one of` goes on to `{}`, which is a value and no label",
                    label.text
                ),
            )
            .at(label.span, "")
            .expected(labels)
            .mend(mend),
        )
    }
}
