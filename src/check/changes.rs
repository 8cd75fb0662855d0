//! Versions: the job as decided, each alternate, each trial. Layers and their changes.

use super::asked::answer_of;
use super::kept::Reader;
use super::typed::*;
use super::unknown::Known;
use crate::diagnostics::{Diagnostic, Place, Span};
use crate::number::Exact;
use crate::program::{Grain, Kind, Missing, Node, NumTy, Scale, Ty, ValueDef, ValueKind, Version};
use crate::syntax::tree::{self, ChangePart, Given, GivenValue, Layer};
use foldhash::{HashMap, HashMapExt};
use std::sync::Arc;

/// Definitions that need one another, one below the other.
const MOST_STAGES: usize = 4_000;
/// Expressions in one another from which on a definition is read in a turn of its own.
const DEEP: usize = 32;
/// Names shown of a circle of rules.
const MOST_NAMED: usize = 12;

impl<'a> Checker<'a> {
    /// Builds every version asked for.
    pub(super) fn run(&mut self, options: super::Options, points: &[super::Point]) {
        let base: Vec<LayeredChange<'a>> = self.changes.clone();
        self.job_terms_early();
        self.problems
            .extend(super::decided_on::days_of_decisions(self.loaded));
        self.build(None, &base, &[]);
        self.unused_helpers();
        if options.alternates {
            self.repeat = true;
            let (mixed, plain): (Vec<_>, Vec<_>) = self
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
            self.repeat = true;
            let trials = self.trials.clone();
            for (trial, layer) in trials {
                let below: Vec<LayeredChange<'a>> =
                    base.iter().filter(|c| c.layer <= layer).copied().collect();
                self.up_to = layer;
                self.trial(trial, &below);
                self.up_to = Layer::Alternate;
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
        self.in_force.clear();
        self.exceptions.clear();
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
            values: Vec::with_capacity(self.defs.len()),
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
        self.spans_of(&version);
        self.exceptions_of(&mut version);
        self.list_amends(&mut version);
        if self.need.is_none() {
            self.tell_sends();
        }
        self.life_of(&mut version);
        self.mark_used(&mut version, &defs);
        if self.program.versions.is_empty() && self.need.is_none() && self.pinned.is_empty() {
            self.private_of(&mut version);
            self.lists_of(&mut version);
            self.papers_of(&mut version);
        }
        // Trials and points of a study may well try out values that fail.
        if self.need.is_none() && self.pinned.is_empty() {
            self.tell_certain(&version, &defs);
        }
        self.program.versions.push(version);
        self.last.values = defs.iter().enumerate().map(|(at, d)| (*d, at)).collect();
        self.traces.push(std::mem::take(&mut self.trace));
        if self.repeat {
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
        for at in self.told_indexed..self.problems.len() {
            let told = &self.problems[at];
            let key = (told.code, place(told));
            self.told_at.entry(key).or_default().push(at);
        }
        self.told_indexed = self.problems.len();
        let there = self.told_at.get(&(d.code, place(d)));
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
                    .resources_by_name
                    .contains_key(change.name.text.as_str())
                {
                    of_resources.push(*c);
                } else {
                    self.unknown("OV-601", "resource", &change.name, Known::Resources);
                }
                continue;
            }
            let Some(list) = self.by_name.get(change.name.text.as_str()).cloned() else {
                if let Some(d) = self.other_way(&change.name) {
                    self.problems.push(d);
                } else if !self.broken.contains(change.name.text.as_str()) {
                    let what = "given, rule or decision";
                    self.unknown("OV-601", what, &change.name, Known::Changeable);
                }
                continue;
            };
            let def = list
                .iter()
                .copied()
                .find(|d| !matches!(self.defs[*d].kind, DefKind::Column { .. }));
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
                Some(d) if self.defs[d].layer > c.layer => self.problems.push(
                    Diagnostic::error(
                        "OV-605",
                        format!(
                            "`{}` belongs to a later layer than this change",
                            change.name.text
                        ),
                    )
                    .at(change.span, "")
                    .at(self.defs[d].name.span, "declared here")
                    .expected("changes go from base to shop to job to alternate"),
                ),
                Some(d) => self.in_force.entry(d).or_default().push(*c),
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

    /// For a trial: defines the values it names, and with them what they are worked from.
    fn define_needed(&mut self) {
        let Some(need) = &self.need else { return };
        let named = need.values.iter().filter_map(|name| self.by_name.get(name));
        let mut wanted: Vec<usize> = named.flatten().copied().collect();
        wanted.sort_unstable();
        for d in wanted {
            let stages = self.in_force.get(&d).map_or(0, Vec::len);
            // What is wrong is told by the definition itself.
            let _ = self.define(d, stages, self.defs[d].name.span);
        }
    }

    /// Marks the values that something that counts rests on. A given that was worked into a written number leaves no other trace.
    fn mark_used(&self, version: &mut Version, defs: &[usize]) {
        let mut used = vec![false; self.defs.len()];
        let decided = self.decides.keys().copied();
        let mut todo: Vec<usize> = self
            .reads
            .iter()
            .filter(|(reader, _)| !matches!(reader, Reader::Def(_)))
            .map(|(_, read)| *read)
            .chain(decided)
            .collect();
        let mut read_by: HashMap<usize, Vec<usize>> = HashMap::new();
        for (reader, read) in &self.reads {
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

    /// All named values of the version; gives the definition of each.
    fn values(&mut self, version: &mut Version) -> Vec<usize> {
        let mut done = Vec::new();
        // A trial names what it looks at and what that was worked from.
        let named: Vec<usize> = match self.need {
            None => (0..self.defs.len()).collect(),
            Some(_) => {
                let whole = |d: usize| self.in_force.get(&d).map_or(0, Vec::len);
                let worked = self.memo.keys().filter(|(d, stage)| *stage == whole(*d));
                let mut worked: Vec<usize> = worked.map(|(d, _)| *d).collect();
                worked.sort_unstable();
                worked
            }
        };
        for d in named {
            if let Some(value) = self.kept_value(d) {
                done.push(d);
                version.values.push(value);
                continue;
            }
            let def = self.defs[d].clone();
            let mut changes = self.in_force.get(&d).cloned().unwrap_or_default();
            let all_stages = changes.len();
            changes.retain(|c| c.change.at.is_none());
            let stages = self.last_stage(d);
            let Ok(typed) = self.define(d, stages, def.name.span) else {
                continue;
            };
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
                    if matches!(g.value, GivenValue::Unsaid) && !self.pinned.contains_key(&d) =>
                {
                    continue;
                }
                DefKind::Given(g) => {
                    let limits = self.limits_in_force(g);
                    let range = limits.as_ref().and_then(|l| {
                        let (low, high) = l.ends;
                        let ty = self.ty(&typed).clone();
                        let (Ty::Number(_) | Ty::Point(_)) = ty else {
                            self.problems.push(
                                Diagnostic::error("OV-316", "only a number has a range")
                                    .at(g.name.span, ""),
                            );
                            return None;
                        };
                        let low = self.signed_like(low, &ty, "OV-316").ok()?;
                        let high = self.signed_like(high, &ty, "OV-316").ok()?;
                        // What a trial or a study sets is its own affair.
                        if !self.pinned.contains_key(&d) {
                            self.refuse_outside(
                                &def,
                                (&ty, &typed),
                                changes.last(),
                                (&low, &high),
                                l,
                            );
                        }
                        Some((low, high))
                    });
                    let answer = answer_of(g, &changes);
                    let widened = limits.as_ref().is_some_and(|l| l.widened.is_some());
                    let is_changed = widened || !changes.is_empty() || self.pinned.contains_key(&d);
                    let varies = self.varies_of(g, &typed, (range.as_ref(), is_changed));
                    let kind = ValueKind::Given {
                        range,
                        varies,
                        answer,
                    };
                    (kind, Some(&g.remarks), None)
                }
                DefKind::Rule(r) => (ValueKind::Rule, Some(&r.remarks), r.shown.as_ref()),
                DefKind::Decide(_) => match self.decides.get(&d).cloned() {
                    Some(decide) => (ValueKind::Decide(decide), None, None),
                    None => continue,
                },
            };
            let unit = match (self.ty(&typed).clone(), shown) {
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
                (Ty::Number(n), None) => Some(self.unit_to_show(&def, typed.node, &n)),
                _ => None,
            };
            let last = changes.last();
            let mixed = stages > all_stages;
            done.push(d);
            version.values.push(Arc::new(ValueDef {
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
                because: match &self.mix {
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
            }));
        }
        done
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
            _ => crate::units::UnitExpr::none(),
        };
        let text = |v: &Exact| {
            if let Ty::Point(scale) = ty {
                return crate::units::point_text(*scale, v);
            }
            crate::units::format_quantity(
                v,
                &unit,
                &self.program.nouns,
                crate::units::Style::default(),
            )
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
                    _ => None,
                };
                if let Some(unit) = unit {
                    return unit;
                }
            }
            _ => {}
        }
        self.usual_unit(node, n)
    }

    /// The value of a definition after its first `stage` changes.
    pub(super) fn define(&mut self, def: usize, stage: usize, asked: Span) -> Checks<Typed> {
        if let Some(done) = self.memo.get(&(def, stage)) {
            return *done;
        }
        if self.deferred.is_some() {
            return Err(Poisoned);
        }
        if let Some(at) = self.open.iter().position(|o| *o == (def, stage)) {
            let mut path: Vec<String> = self.open[at..]
                .iter()
                .chain([&(def, stage)])
                .map(|(d, _)| format!("`{}`", self.defs[*d].name.text))
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
            for resource in &self.taking {
                let name = &self.resources[*resource].tree.name.text;
                d = d.note(format!("on the way, `taken of {name}` needs its takes"));
            }
            for (other, _) in &self.open[at..] {
                let span = self.defs[*other].name.span;
                if d.labels.len() < 6 {
                    d = d.at(span, "");
                }
            }
            return self
                .fail(d.mend("give one of them a value that does not come from the others"));
        }
        if self.open.len() > MOST_STAGES {
            return self.fail(
                Diagnostic::error("OV-220", "rules build on one another too deep")
                    .at(asked, "")
                    .expected(format!("at most {MOST_STAGES} levels")),
            );
        }
        if self.defining {
            if self.deep > DEEP {
                self.deferred = Some((def, stage));
                return Err(Poisoned);
            }
            return self.define_once(def, stage);
        }
        let (deep, outside) = (std::mem::replace(&mut self.deep, 0), self.open.len());
        self.defining = true;
        let result = self.define_in_turn(def, stage);
        self.defining = false;
        self.open.truncate(outside);
        self.deep = deep;
        self.problems.append(&mut self.said);
        result
    }

    /// Reads a definition and what it needs. Where definitions need one another too deep for the stack, the deepest is read first
    /// and those above it are begun anew; what was read stays read.
    fn define_in_turn(&mut self, def: usize, stage: usize) -> Checks<Typed> {
        let mut waiting = vec![(def, stage, self.open.len())];
        let mut result = Err(Poisoned);
        while let Some((def, stage, path)) = waiting.last().copied() {
            self.open.truncate(path);
            self.deep = 0;
            result = self.define_once(def, stage);
            match self.deferred.take() {
                // The way to it stays open, so that a circle is found across turns.
                Some((def, stage)) => waiting.push((def, stage, self.open.len())),
                None => {
                    waiting.pop();
                }
            }
        }
        result
    }

    fn define_once(&mut self, def: usize, stage: usize) -> Checks<Typed> {
        self.open.push((def, stage));
        let told = std::mem::take(&mut self.problems);
        self.deep += 1;
        let mut result = self.define_fresh(def, stage);
        self.deep -= 1;
        let own = std::mem::replace(&mut self.problems, told);
        if self.deferred.is_some() {
            self.forget_spoken_calls();
            return Err(Poisoned);
        }
        self.said.extend(own);
        if let Ok(typed) = result
            && stage == self.stage_of_pins(def)
            && let Some(pinned) = self.pinned_value(def, &typed)
        {
            result = Ok(pinned);
        }
        self.open.pop();
        self.memo.insert((def, stage), result);
        result
    }

    /// What is set from outside takes the place of the value below the alternate.
    fn stage_of_pins(&self, def: usize) -> usize {
        self.in_force.get(&def).map_or(0, |changes| {
            changes
                .iter()
                .filter(|c| c.layer < Layer::Alternate)
                .count()
        })
    }

    /// The stage at which every change is in.
    pub(super) fn last_stage(&self, def: usize) -> usize {
        let own = self.in_force.get(&def).map_or(0, Vec::len);
        if self.mix.as_ref().is_some_and(|m| m.has(def)) {
            own + super::mix::STAGES
        } else {
            own
        }
    }

    fn define_fresh(&mut self, d: usize, stage: usize) -> Checks<Typed> {
        let def = self.defs[d].clone();
        let cx = Context::at(def.grain);
        let own = self.in_force.get(&d).map_or(0, Vec::len);
        if stage > own {
            return self.mixed(d, own, stage - own, &def, &cx);
        }
        if stage > 0 {
            let change = self
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
        Ok(Typed {
            node,
            pending,
            whole,
            literal: false,
        })
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
            // Givens stay constants; everything else is worked at its own grain, with the additivity it had.
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
