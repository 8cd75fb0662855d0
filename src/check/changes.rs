//! Versions: the job as decided, each alternate, each trial. Layers and their changes.

use super::typed::*;
use super::unknown::Known;
use crate::diagnostics::{Diagnostic, Place, Span};
use crate::program::{Grain, Kind, Node, Ty, Version};
use crate::syntax::tree::{self, ChangePart, Layer};
use foldhash::{HashMap, HashMapExt};

impl<'a> Checker<'a> {
    /// Builds every version asked for.
    pub(super) fn run(&mut self, options: super::Options, points: &[super::Point]) {
        let base: Vec<LayeredChange<'a>> = self.declared.changes.clone();
        self.job_terms_early();
        self.problems
            .extend(super::decided_on::days_of_decisions(self.loaded));
        self.build(None, &base, &[]);
        self.unused_helpers();
        if options.alternates {
            self.work.repeat = true;
            let (mixed, plain): (Vec<_>, Vec<_>) = self
                .declared
                .alternates
                .clone()
                .into_iter()
                .partition(|a| a.pick.is_some());
            for alternate in plain {
                self.build(
                    Some(alternate.name.text.clone()),
                    &base,
                    &alternate.layered(),
                );
                if let Some(version) = self.program.versions.last_mut() {
                    version.owner = alternate.owner.map(|t| t.text.clone());
                }
            }
            for alternate in mixed {
                self.mixed_plan(alternate, &base);
            }
        }
        self.points(&base, points);
        if options.trials {
            self.work.repeat = true;
            let trials = self.declared.trials.clone();
            for (trial, layer) in trials {
                let below: Vec<LayeredChange<'a>> =
                    base.iter().filter(|c| c.layer <= layer).copied().collect();
                self.work.up_to = layer;
                self.trial(trial, &below);
                self.work.up_to = Layer::Alternate;
            }
        }
        if options.alternates && options.trials {
            self.unread_givens();
        }
    }

    pub(super) fn finish(self) -> (super::Checked, Vec<Diagnostic>) {
        (
            super::Checked {
                program: self.program,
                traces: self.traces,
                trials: self.trial_defs,
                points: self.point_versions,
            },
            self.problems,
        )
    }

    /// Builds one version and adds it to the program.
    pub(super) fn build(
        &mut self,
        name: Option<String>,
        base: &[LayeredChange<'a>],
        alternate: &[LayeredChange<'a>],
    ) {
        let told = self.problems.len();
        self.work.in_force.clear();
        self.work.exceptions.clear();
        let mut all: Vec<LayeredChange<'a>> = base.to_vec();
        all.extend_from_slice(alternate);
        // Of one layer, what is decided for a row counts more than what is said of all.
        all.sort_by_key(|c| (c.layer, c.change.at.is_some()));
        let resource_changes = self.place_changes(&all);
        self.place_mix();
        self.place_amends(name.as_deref());
        self.forget_changed();
        self.fill_group_keys();
        let mut version = Version {
            name,
            values: Vec::with_capacity(self.declared.defs.len()),
            ..Version::default()
        };
        self.define_needed();
        self.resources_of(&mut version, &resource_changes);
        if self.program.versions.is_empty() {
            self.job_terms(&mut version);
        }
        self.lines_of(&mut version);
        if self.program.versions.is_empty() {
            self.calendar_terms(&version);
            self.cut_terms(&version);
        }
        let defs = self.values(&mut version);
        self.tell_open_decisions();
        self.spans_of(&version);
        self.exceptions_of(&mut version);
        self.list_amends(&mut version);
        if self.work.need.is_none() {
            self.tell_sends();
        }
        self.life_of(&mut version);
        self.mark_used(&mut version, &defs);
        self.mark_from_memory(&mut version, &defs);
        if self.program.versions.is_empty()
            && self.work.need.is_none()
            && self.work.pinned.is_empty()
        {
            self.private_of(&mut version);
            self.lists_of(&mut version);
            self.papers_of(&mut version);
        }
        // Trials and points of a study may well try out values that fail.
        if self.work.need.is_none() && self.work.pinned.is_empty() {
            self.tell_certain(&version, &defs);
        }
        self.program.versions.push(version);
        self.kept.last.values = defs.iter().enumerate().map(|(at, d)| (*d, at)).collect();
        self.traces.push(std::mem::take(&mut self.trace));
        if self.work.repeat {
            // What the job as decided says already, and what follows from it, is not said again for each version.
            let new = self.problems.split_off(told);
            for d in new {
                if d.is_error() && !self.is_told(&d) {
                    self.problems.push(d);
                }
            }
        }
    }

    /// Whether this very message is among those told so far.
    fn is_told(&mut self, d: &Diagnostic) -> bool {
        let place = |d: &Diagnostic| match d.place() {
            Some(Place::Sheet(span)) => Some(*span),
            _ => None,
        };
        for at in self.reported.indexed..self.problems.len() {
            let told = &self.problems[at];
            let key = (told.code, place(told));
            self.reported.at.entry(key).or_default().push(at);
        }
        self.reported.indexed = self.problems.len();
        let there = self.reported.at.get(&(d.code, place(d)));
        there.is_some_and(|there| there.iter().any(|at| self.problems.get(*at) == Some(d)))
    }

    /// Checks where changes land; gives those that change resources.
    fn place_changes(&mut self, changes: &[LayeredChange<'a>]) -> Vec<LayeredChange<'a>> {
        let mut of_resources = Vec::new();
        let mut seen: HashMap<(ChangePart, &str, Layer), Span> = HashMap::new();
        let mut of_rows: HashMap<(&str, &str), Span> = HashMap::new();
        for c in changes {
            let change = c.change;
            if let Some(mark) = &change.at {
                self.place_exception(c, mark, &mut of_rows);
                continue;
            }
            if let Some(first) = seen.insert((change.part, &change.name.text, c.layer), change.span)
            {
                if change.part == ChangePart::Value && self.is_asked(&change.name.text) {
                    self.tell_answered_twice(change, first);
                    continue;
                }
                self.problems.push(
                    Diagnostic::error(
                        "OV-603",
                        format!("`{}` is changed twice in one layer", change.name.text),
                    )
                    .at(change.span, "the second")
                    .at(first, "the first")
                    .mend("keep one of them"),
                );
                continue;
            }
            self.needs_reason(change);
            if change.part != ChangePart::Value {
                if self
                    .declared
                    .resources_by_name
                    .contains_key(change.name.text.as_str())
                {
                    of_resources.push(*c);
                } else {
                    self.unknown("OV-601", "resource", &change.name, Known::Resources);
                }
                continue;
            }
            let Some(list) = self
                .declared
                .by_name
                .get(change.name.text.as_str())
                .cloned()
            else {
                if let Some(d) = self.other_way(&change.name) {
                    self.problems.push(d);
                } else if !self.reported.broken.contains(change.name.text.as_str()) {
                    let what = "given, rule or decision";
                    self.unknown("OV-601", what, &change.name, Known::Changeable);
                }
                continue;
            };
            let def = list
                .iter()
                .copied()
                .find(|d| !matches!(self.declared.defs[*d].kind, DefKind::Column { .. }));
            match def {
                None => self.problems.push(
                    Diagnostic::error(
                        "OV-606",
                        format!(
                            "`{}` is a column of the survey and can't be changed by a sheet",
                            change.name.text
                        ),
                    )
                    .at(change.name.span, "")
                    .mend(format!(
                        "change a rule that reads it, or one row of it: change {} at \"MARK\" to ...",
                        change.name.text
                    )),
                ),
                Some(d) if self.declared.defs[d].layer > c.layer => self.problems.push(
                    Diagnostic::error(
                        "OV-605",
                        format!(
                            "`{}` belongs to a later layer than this change",
                            change.name.text
                        ),
                    )
                    .at(change.span, "")
                    .at(self.declared.defs[d].name.span, "declared here")
                    .expected("changes go from base to shop to job to alternate"),
                ),
                Some(d) => self.work.in_force.entry(d).or_default().push(*c),
            }
        }
        of_resources
    }

    /// Tells of a change that gives no reason.
    pub(super) fn needs_reason(&mut self, change: &tree::Change) {
        if change.because.is_none() {
            self.problems.push(
                Diagnostic::error(
                    "OV-604",
                    format!("this change of `{}` gives no reason", change.name.text),
                )
                .at(change.span, "")
                .mend("add `because \"...\"` at the end"),
            );
        }
    }

    /// For a trial: defines the values it names, and with them what they are calculated from.
    fn define_needed(&mut self) {
        let Some(need) = &self.work.need else { return };
        let named = need
            .values
            .iter()
            .filter_map(|name| self.declared.by_name.get(name));
        let mut wanted: Vec<usize> = named.flatten().copied().collect();
        wanted.sort_unstable();
        for d in wanted {
            let stages = self.work.in_force.get(&d).map_or(0, Vec::len);
            // What is wrong is reported by the definition itself.
            let _ = self.define(d, stages, self.declared.defs[d].name.span);
        }
    }

    /// The value a change puts in place of the one at stage `below`.
    pub(super) fn changed(
        &mut self,
        d: usize,
        change: LayeredChange<'a>,
        below: usize,
        def: &Def<'a>,
        cx: &Context<'a>,
    ) -> Checks<Typed> {
        if change.change.at.is_some() {
            return self.rows_changed(d, change.layer, below, def, cx);
        }
        let change = change.change;
        let before = self.define(d, below, change.name.span)?;
        let mut cx = cx.clone();
        cx.own = Some((d, below + 1));
        let wanted = if let Ty::Choice(c) = self.ty(&before) {
            Some(*c)
        } else {
            None
        };
        if let Some(was) = &change.was {
            let pin = self.settled(was, &cx, wanted)?;
            let same = self.brought_down(pin.node, self.grain_of(before.node), was.span)
                == before.node
                || pin.node == before.node
                || matches!((self.program.constant(pin.node), self.program.constant(before.node)), (Some(a), Some(b)) if a == b);
            if !same {
                let found = self.written_value(&before);
                self.problems.push(
                    Diagnostic::error(
                        "OV-602",
                        format!(
                            "`{}` is no longer what this change says it was",
                            change.name.text
                        ),
                    )
                    .at(was.span, "")
                    .at(def_span(def), "what it is now")
                    .found(found)
                    .mend(
                        "look whether the change still holds, then write the new value after `was`",
                    ),
                );
            }
        }
        let t = self.settled(&change.to, &cx, wanted)?;
        let (a, b) = (self.ty(&before).clone(), self.ty(&t).clone());
        let fits = match (&a, &b) {
            (Ty::Number(x), Ty::Number(y)) => x.dim == y.dim && x.percent == y.percent,
            _ => a == b,
        };
        if !fits {
            let (found, expected) = (self.words(&b), self.words(&a));
            return self.fail(
                Diagnostic::error(
                    "OV-311",
                    format!("a change keeps the kind of `{}`", change.name.text),
                )
                .at(change.to.span, found.clone())
                .at(def.name.span, expected.clone())
                .found(found)
                .expected(expected),
            );
        }
        let node = match self.program.node(t.node).clone() {
            // Givens stay constants; everything else is calculated at its own grain, with the additivity it had.
            n if def.grain == Grain::Const => {
                if n.grain != Grain::Const {
                    return self.fail(
                        Diagnostic::error("OV-501", "a given is the same everywhere")
                            .at(change.to.span, ""),
                    );
                }
                t.node
            }
            _ => {
                let node = self.brought_down(t.node, def.grain, change.to.span);
                match (&a, self.program.node(node).clone()) {
                    (Ty::Number(x), n) if n.ty != a => {
                        let ty = Ty::Number(x.clone());
                        self.program.intern(Node { ty, ..n })
                    }
                    _ => node,
                }
            }
        };
        if let DefKind::Decide(_) = def.kind {
            self.changed_reasons(d, (before.node, node), change, def)?;
        }
        Ok(Typed {
            node,
            pending: Pending::default(),
            whole: t.whole,
            literal: false,
        })
    }

    pub(super) fn written_value(&self, t: &Typed) -> String {
        let node = self.program.node(t.node);
        match (&node.kind, &node.ty) {
            (Kind::Number(v), Ty::Number(n)) => {
                let unit = if n.percent {
                    crate::units::parse_unit("%", &self.program.nouns, None)
                        .unwrap_or_else(|_| crate::units::UnitExpr::none())
                } else {
                    crate::units::default_unit(
                        &n.dim,
                        &self.program.nouns,
                        self.program.currency.as_deref(),
                    )
                };
                crate::units::format_quantity(
                    v,
                    &unit,
                    &self.program.nouns,
                    crate::units::Style::default(),
                )
            }
            (Kind::Number(v), Ty::Point(scale)) => crate::units::point_text(*scale, v),
            _ => self.loaded.sources.slice(node.span).to_string(),
        }
    }
}

pub(super) fn def_span(def: &Def<'_>) -> Span {
    match &def.kind {
        DefKind::Column { column, .. } => column.span,
        DefKind::Given(g) => g.name.span,
        DefKind::Rule(r) => r.span,
        DefKind::Decide(d) => d.span,
    }
}
