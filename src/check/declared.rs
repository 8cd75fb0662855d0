//! Values, helpers, changes and blocks by their names, each declared once.

use super::declare::{BUILT_IN, Pen, UNSAID};
use super::typed::*;
use super::unknown::Known;
use crate::diagnostics::Diagnostic;
use crate::program::{ChoiceId, Grain, Grouping};
use crate::syntax::tree::{self, GivenValue, GrainHead, Layer, StatementKind};
use foldhash::{HashMap, HashMapExt, HashSet};

impl<'a> Checker<'a> {
    #[expect(
        clippy::wildcard_enum_match_arm,
        reason = "statements of one kind are looked for; all others are read elsewhere"
    )]
    pub(super) fn named_values(&mut self, pen: &Pen) {
        let mut taken = Taken::default();
        for (layer, st) in self.statements() {
            match &st.kind {
                StatementKind::Given(given) => match self.given_choice(pen, given) {
                    Ok(choice) => self.given_declared(pen, given, layer, choice),
                    Err(Poisoned) => {
                        self.reported.broken.insert(&given.name.text);
                    }
                },
                StatementKind::Job(lines) => {
                    for line in lines {
                        if let tree::JobLine::Issued(given) = line {
                            self.refuse_other_point(given);
                            self.given_declared(pen, given, layer, None);
                        }
                    }
                }
                StatementKind::Resource(r) => self.resource_declared(pen, r, &mut taken),
                StatementKind::Helper { name, params, body } => {
                    self.helper_declared(pen, HelperDef { name, params, body });
                }
                StatementKind::Caution(c) => self.declared.write(pen).cautions.push(c),
                StatementKind::Change(change) => self
                    .declared
                    .write(pen)
                    .changes
                    .push(LayeredChange { layer, change }),
                StatementKind::Amend(amend) => {
                    self.declared
                        .write(pen)
                        .amends
                        .push(super::amend::LayeredAmend { layer, amend });
                }
                StatementKind::Alternate {
                    name,
                    owner,
                    changes,
                    amends,
                    pick,
                } => {
                    let alternate = Alternate {
                        name,
                        owner: owner.as_ref(),
                        changes,
                        amends,
                        pick: pick.as_ref(),
                    };
                    self.alternate_declared(pen, alternate, &mut taken);
                }
                StatementKind::Trial(t) => self.declared.write(pen).trials.push((t, layer)),
                _ => {}
            }
        }
        for (_, st) in self.statements() {
            if let StatementKind::Table(table) = &st.kind {
                self.lookup_table(pen, table);
            }
        }
        self.tables_extended();
        for (layer, st) in self.statements() {
            if let StatementKind::For(block) = &st.kind {
                self.block(pen, layer, block);
            }
        }
        self.day_unsaid(pen);
        self.parts_declared(pen);
        self.names_once(pen);
        self.group_keys();
    }

    fn given_declared(
        &mut self,
        pen: &Pen,
        given: &'a tree::Given,
        layer: Layer,
        choice: Option<ChoiceId>,
    ) {
        self.declared.write(pen).defs.push(Def {
            name: &given.name,
            kind: DefKind::Given(given),
            grain: Grain::Const,
            layer,
            choice,
        });
    }

    fn resource_declared(&mut self, pen: &Pen, r: &'a tree::Resource, taken: &mut Taken<'a>) {
        if !taken.resources.insert(&r.name.text) {
            self.twice("resource", &r.name);
            return;
        }
        let added = self
            .declared
            .write(pen)
            .resources
            .push(DeclaredResource { tree: r });
        match self.room(added, "resources", r.name.span) {
            Ok(id) => {
                self.declared
                    .write(pen)
                    .resources_by_name
                    .insert(&r.name.text, id);
            }
            Err(Poisoned) => {
                self.reported.broken.insert(&r.name.text);
            }
        }
    }

    fn alternate_declared(&mut self, pen: &Pen, alternate: Alternate<'a>, taken: &mut Taken<'a>) {
        let name = alternate.name;
        if taken.alternates.insert(&name.text) {
            self.declared.write(pen).alternates.push(alternate);
            return;
        }
        self.problems.push(
            Diagnostic::error(
                "OV-611",
                format!("there are two alternates \"{}\"", name.text),
            )
            .at(name.span, ""),
        );
    }

    /// The choice a given's label is of.
    fn given_choice(&mut self, pen: &Pen, given: &'a tree::Given) -> Checks<Option<ChoiceId>> {
        Ok(match &given.value {
            GivenValue::Label { label, labels } => {
                if !labels.iter().any(|l| l.name.text == label.text) {
                    self.unknown(
                        "OV-211",
                        "label",
                        label,
                        Known::these(labels.iter().map(|l| l.name.text.as_str())),
                    );
                }
                self.new_choice(pen, &given.name.text, labels).ok()
            }
            GivenValue::Of { choice, .. } => {
                let id = self.declared.choices.get(choice.text.as_str()).copied();
                if id.is_none() {
                    self.unknown("OV-210", "choice", choice, Known::Choices);
                }
                id
            }
            GivenValue::Asked(asked) => {
                self.kind_of_type(pen, &given.name.text, &asked.kind, false, false)?
                    .1
            }
            GivenValue::Quantity(_)
            | GivenValue::Truth(_)
            | GivenValue::Text(_)
            | GivenValue::Unsaid => None,
        })
    }

    fn helper_declared(&mut self, pen: &Pen, def: HelperDef<'a>) {
        let (name, params) = (def.name, def.params);
        if BUILT_IN.contains(&name.text.as_str())
            || self
                .declared
                .write(pen)
                .helpers
                .insert(&name.text, def)
                .is_some()
        {
            self.twice("helper", name);
        }
        let mut seen = HashSet::default();
        for param in params {
            if !seen.insert(param.text.as_str()) {
                self.twice("parameter", param);
            }
        }
    }

    /// Declares the day of issue where a sheet reads it and no job says it.
    fn day_unsaid(&mut self, pen: &Pen) {
        let reads_day = |(_, text): (&str, &str)| text.contains("issued");
        if !self
            .declared
            .defs
            .iter()
            .any(|def| def.name.text == "issued")
            && self.loaded.sources.iter().any(reads_day)
        {
            let given: &'a tree::Given = &UNSAID;
            self.declared.write(pen).defs.push(Def {
                name: &given.name,
                kind: DefKind::Given(given),
                grain: Grain::Const,
                layer: Layer::Base,
                choice: None,
            });
        }
    }

    /// Finds each definition by its name, which is declared once; columns of several tables may share theirs.
    fn names_once(&mut self, pen: &Pen) {
        let mut by_name: HashMap<&'a str, Vec<usize>> = HashMap::new();
        for (i, def) in self.declared.defs.iter().enumerate() {
            let list = by_name.entry(&def.name.text).or_default();
            let clash = list
                .iter()
                .filter_map(|j| self.declared.defs.get(*j))
                .find(|other| {
                    !(matches!(other.kind, DefKind::Column { .. })
                        && matches!(def.kind, DefKind::Column { .. })
                        && other.grain != def.grain)
                });
            match clash {
                Some(other) => {
                    let first = other.name.span;
                    self.problems.push(
                        Diagnostic::error("OV-201", format!("`{}` is declared twice", def.name.text))
                            .at(def.name.span, "here")
                            .at(first, "and here")
                            .mend("give one another name; to replace a value of a lower layer, write `change ... to ...`"),
                    );
                }
                None => list.push(i),
            }
        }
        self.declared.write(pen).by_name = by_name;
    }

    pub(super) fn block(&mut self, pen: &Pen, layer: Layer, block: &'a tree::ForBlock) {
        let grain = match &block.head {
            GrainHead::Job => Some(Grain::Job),
            GrainHead::Each(name) => match (
                self.declared.tables.get(name.text.as_str()),
                self.declared.groups.get(name.text.as_str()),
            ) {
                (Some(t), _) => Some(Grain::Table(*t)),
                (_, Some(g)) => Some(Grain::Group(*g)),
                _ => {
                    self.unknown("OV-209", "survey or group", name, Known::SurveysAndGroups);
                    None
                }
            },
            GrainHead::Group { name, of, by } => self.group_grain(pen, name, of, by),
        };
        let Some(grain) = grain else {
            for line in &block.lines {
                match line {
                    tree::ForLine::Rule(r) => self.reported.broken.insert(&r.name.text),
                    tree::ForLine::Decide(d) => self.reported.broken.insert(&d.name.text),
                    tree::ForLine::Take(_)
                    | tree::ForLine::Part(_)
                    | tree::ForLine::Require { .. }
                    | tree::ForLine::Caution(_) => false,
                };
            }
            return;
        };
        for line in &block.lines {
            match line {
                tree::ForLine::Rule(rule) => self.declared.write(pen).defs.push(Def {
                    name: &rule.name,
                    kind: DefKind::Rule(rule),
                    grain,
                    layer,
                    choice: None,
                }),
                tree::ForLine::Decide(d) => {
                    let choice = self.decide_choice(pen, d);
                    self.declared.write(pen).defs.push(Def {
                        name: &d.name,
                        kind: DefKind::Decide(d),
                        grain,
                        layer,
                        choice,
                    });
                }
                tree::ForLine::Take(_)
                | tree::ForLine::Part(_)
                | tree::ForLine::Require { .. }
                | tree::ForLine::Caution(_) => {}
            }
        }
        self.declared.write(pen).blocks.push(Block {
            grain,
            lines: &block.lines,
        });
    }

    /// The group of this name, made where there is none.
    fn group_grain(
        &mut self,
        pen: &Pen,
        name: &'a tree::Name,
        of: &'a tree::Name,
        by: &'a [tree::Name],
    ) -> Option<Grain> {
        match self.declared.tables.get(of.text.as_str()).copied() {
            None => {
                self.unknown("OV-209", "survey", of, Known::Surveys);
                None
            }
            Some(table) => {
                let key_names: Vec<String> = by.iter().map(|n| n.text.clone()).collect();
                match self.declared.groups.get(name.text.as_str()).copied() {
                    Some(g) => {
                        let known = &self.program.groups[g];
                        if known.of != table || known.key_names != key_names {
                            let d = Diagnostic::error(
                                "OV-507",
                                format!("the group `{}` was made with other keys", name.text),
                            )
                            .at(name.span, "")
                            .found(key_names.join(", "))
                            .expected(known.key_names.join(", "))
                            .mend("use the same keys, or give this group another name");
                            self.problems.push(d);
                        }
                        Some(Grain::Group(g))
                    }
                    None if self.declared.tables.contains_key(name.text.as_str()) => {
                        self.twice("group", name);
                        None
                    }
                    None => {
                        let noun = self.program.nouns.intern(&name.text);
                        let added = self.program.groups.push(Grouping {
                            name: name.text.clone(),
                            of: table,
                            keys: vec![],
                            key_names,
                            noun,
                        });
                        let group = self.room(added, "groups", name.span).ok();
                        if let Some(g) = group {
                            self.declared.write(pen).groups.insert(&name.text, g);
                        }
                        group.map(Grain::Group)
                    }
                }
            }
        }
    }
}

/// Names that only their own kind of statement shares.
#[derive(Default)]
struct Taken<'a> {
    resources: HashSet<&'a str>,
    alternates: HashSet<&'a str>,
}
