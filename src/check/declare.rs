//! Collects what the sheets declare: nouns, choices, tables, givens, resources, helpers, blocks, changes.

use super::load::Loaded;
use super::typed::*;
use crate::diagnostics::{Diagnostic, Span};
use crate::ids::Full;
use crate::program::{ChoiceDef, ChoiceId, PhaseId, Program, Scale, TableInfo};
use crate::syntax::tree::{self, GivenValue, GrainHead, Layer, StatementKind};
use crate::table::Schema;
use foldhash::{HashMap, HashMapExt, HashSet};
use std::sync::LazyLock;

/// Bytes of sheets that make one node or somewhat less than one.
const BYTES_OF_A_NODE: usize = 32;

/// The day `issued` where no job says it.
pub(super) static UNSAID: LazyLock<tree::Given> = LazyLock::new(|| tree::Given {
    value: GivenValue::Unsaid,
    ..tree::JobLine::issued(None, Span::default())
});

/// Reads all declarations.
pub(super) fn declare(loaded: &Loaded) -> Checker<'_> {
    let broken = loaded
        .sheets
        .iter()
        .flat_map(|s| s.tree.broken.iter().map(String::as_str))
        .collect();
    let mut checker = Checker {
        loaded,
        program: Program::default(),
        problems: Vec::new(),
        declared: Sealed::default(),
        work: Work {
            in_force: HashMap::new(),
            up_to: Layer::Alternate,
            in_force_amends: Vec::new(),
            sends_used: HashSet::default(),
            sends_stuck: HashMap::new(),
            exceptions: HashMap::new(),
            decided: HashMap::new(),
            gaps: std::collections::BTreeMap::new(),
            pinned: HashMap::default(),
            need: None,
            mix: None,
            repeat: false,
        },
        kept: Kept::default(),
        reading: Reading::default(),
        reported: Reported {
            broken,
            pairs_left: super::table_rows::MOST_PAIRS,
            ..Reported::default()
        },
        traces: Vec::new(),
        trace: Trace::default(),
        trial_defs: Vec::new(),
        point_versions: Vec::new(),
    };
    let bytes: usize = loaded.sources.iter().map(|(_, text)| text.len()).sum();
    checker.program.reserve(bytes / BYTES_OF_A_NODE);
    let pen = Pen(());
    checker.nouns_and_terms(&pen);
    checker.choices_and_tables(&pen);
    checker.named_values(&pen);
    checker
}

/// Lets its holder write declarations. The only one is made and dropped in [`declare`].
pub(super) struct Pen(());

impl<'a> Checker<'a> {
    pub(super) fn statements(
        &self,
    ) -> impl Iterator<Item = (Layer, &'a tree::Statement)> + use<'a> {
        let loaded: &'a Loaded = self.loaded;
        loaded
            .sheets
            .iter()
            .flat_map(|s| s.tree.statements.iter().map(|st| (s.layer, st)))
    }

    /// Nouns, currency and tie rule come first: literals need them.
    #[expect(
        clippy::wildcard_enum_match_arm,
        reason = "statements of one kind are looked for; all others are read elsewhere"
    )]
    fn nouns_and_terms(&mut self, pen: &Pen) {
        // Sheets that are used apart and together may each declare a noun; one sheet declares it once.
        let mut counted: HashMap<(crate::diagnostics::FileId, &'a str), Span> = HashMap::new();
        for (_, st) in self.statements() {
            match &st.kind {
                StatementKind::Counted(list) => {
                    for (name, plural) in list {
                        if self.refuse_unit_word(name) {
                            continue;
                        }
                        if let Some(first) =
                            counted.insert((name.span.file, name.text.as_str()), name.span)
                        {
                            self.problems.push(
                                Diagnostic::error(
                                    "OV-201",
                                    format!("the counted noun `{}` is declared twice", name.text),
                                )
                                .at(name.span, "the second")
                                .at(first, "the first")
                                .mend("take one out"),
                            );
                        }
                        match plural {
                            Some(p) => self.program.nouns.intern_with_plural(&name.text, p),
                            None => self.program.nouns.intern(&name.text),
                        };
                    }
                }
                StatementKind::Survey(def) if !self.refuse_unit_word(&def.name) => {
                    self.program.nouns.intern(&def.name.text);
                }
                StatementKind::For(block) => {
                    if let GrainHead::Group { name, .. } = &block.head
                        && !self.refuse_unit_word(name)
                    {
                        self.program.nouns.intern(&name.text);
                    }
                }
                StatementKind::Job(lines) => {
                    for line in lines {
                        match line {
                            tree::JobLine::Money(code) => {
                                if crate::units::CURRENCIES.contains(&code.text.as_str()) {
                                    self.program.currency = Some(code.text.clone());
                                } else {
                                    self.problems.push(
                                        Diagnostic::error(
                                            "OV-314",
                                            format!(
                                                "`{}` is not a currency ovolo knows",
                                                code.text
                                            ),
                                        )
                                        .at(code.span, "")
                                        .expected(format!(
                                            "one of {}",
                                            crate::units::CURRENCIES.join(" ")
                                        )),
                                    );
                                }
                            }
                            tree::JobLine::Ties(mode) => self.declared.write(pen).ties = *mode,
                            tree::JobLine::Survey { .. }
                            | tree::JobLine::Prices { .. }
                            | tree::JobLine::SplitBy(_)
                            | tree::JobLine::Round(..)
                            | tree::JobLine::Library { .. }
                            | tree::JobLine::Photographs(_)
                            | tree::JobLine::Excludes(_)
                            | tree::JobLine::Issued(_) => {}
                        }
                    }
                }
                _ => {}
            }
        }
    }

    /// Whether one of the sheets is a job.
    pub(super) fn is_job(&self) -> bool {
        self.statements()
            .any(|(_, st)| matches!(st.kind, StatementKind::Job(_)))
    }

    /// The day of a job is a day, not an hour of one nor a temperature.
    pub(super) fn refuse_other_point(&mut self, given: &'a tree::Given) {
        if let GivenValue::Quantity(day) = &given.value
            && let Ok(literal) = self.signed(day)
            && literal.scale != Some(Scale::Day)
        {
            self.problems.push(
                Diagnostic::error("OV-160", "`issued` names a day")
                    .at(day.span, "")
                    .expected("year-month-day without blanks: issued 2026-03-21"),
            );
        }
    }

    fn refuse_unit_word(&mut self, name: &tree::Name) -> bool {
        let taken = crate::units::is_unit_word(&name.text);
        if taken {
            self.problems.push(
                Diagnostic::error(
                    "OV-216",
                    format!(
                        "`{}` is a unit and cannot name something counted",
                        name.text
                    ),
                )
                .at(name.span, "")
                .mend("take another word"),
            );
        }
        taken
    }

    fn choices_and_tables(&mut self, pen: &Pen) {
        for (_, st) in self.statements() {
            if let StatementKind::Choice { name, labels } = &st.kind {
                if self.declared.choices.contains_key(name.text.as_str()) {
                    self.twice("choice", name);
                    continue;
                }
                if let Ok(id) = self.new_choice(pen, &name.text, labels) {
                    self.declared.write(pen).choices.insert(&name.text, id);
                }
            }
            if let StatementKind::Phases(list) = &st.kind {
                self.declared.write(pen).phases_listed = true;
                let mut own: HashMap<&str, Span> = HashMap::new();
                for phase in list {
                    if let Some(first) = own.insert(phase.text.as_str(), phase.span) {
                        self.problems.push(
                            Diagnostic::error(
                                "OV-201",
                                format!("the phase \"{}\" is twice in this list", phase.text),
                            )
                            .at(phase.span, "the second")
                            .at(first, "the first")
                            .mend("take one out"),
                        );
                    }
                    self.add_phase(phase).ok();
                }
            }
        }
        let surveys: Vec<&'a tree::SurveyDef> = self
            .statements()
            .filter_map(|(_, s)| {
                if let StatementKind::Survey(d) = &s.kind {
                    Some(d)
                } else {
                    None
                }
            })
            .collect();
        for def in &surveys {
            if self.declared.tables.contains_key(def.name.text.as_str()) {
                self.twice("survey", &def.name);
                continue;
            }
            let noun = self.program.nouns.intern(&def.name.text);
            let schema = Schema {
                name: def.name.text.clone(),
                columns: vec![],
                key: None,
                parent: None,
                above: vec![],
                rows: None,
                span: def.name.span,
            };
            let added = self.program.tables.push(TableInfo {
                schema,
                parent: None,
                noun,
            });
            match self.room(added, "surveys", def.name.span) {
                Ok(id) => self.declared.write(pen).tables.insert(&def.name.text, id),
                Err(Poisoned) => continue,
            };
        }
        for def in surveys {
            if let Some(id) = self.declared.tables.get(def.name.text.as_str()).copied()
                && self.program.tables[id].schema.span == def.name.span
            {
                self.survey(pen, id, def);
            }
        }
        self.rows_and_above();
    }

    /// A closed choice, refusing labels given twice.
    pub(super) fn new_choice(
        &mut self,
        pen: &Pen,
        name: &str,
        labels: &'a [tree::LabelDef],
    ) -> Checks<ChoiceId> {
        let mut seen: HashMap<String, &tree::LabelDef> = HashMap::new();
        for l in labels {
            for word in std::iter::once(&l.name.text).chain(&l.spellings) {
                let Some(first) = seen
                    .insert(word.to_lowercase(), l)
                    .filter(|first| first.name.span != l.name.span)
                else {
                    continue;
                };
                let d = if first.name.text == l.name.text {
                    Diagnostic::error(
                        "OV-211",
                        format!("the label `{}` is twice in one choice", l.name.text),
                    )
                    .at(l.name.span, "the second")
                    .at(first.name.span, "the first")
                    .mend("take one out")
                } else {
                    Diagnostic::error(
                        "OV-211",
                        format!("\"{word}\" is a spelling of two labels of one choice"),
                    )
                    .at(l.name.span, "here")
                    .at(first.name.span, "and here")
                    .mend("keep it with one of them")
                };
                self.problems.push(d);
            }
        }
        let choice = ChoiceDef {
            name: name.to_string(),
            labels: labels.iter().map(|l| l.name.text.clone()).collect(),
        };
        self.add_choice(pen, choice, labels.first().ok_or(Poisoned)?.name.span)
    }

    /// Adds a choice whose labels names may mean.
    pub(super) fn add_choice(
        &mut self,
        pen: &Pen,
        choice: ChoiceDef,
        span: Span,
    ) -> Checks<ChoiceId> {
        let labels = choice.labels.clone();
        if labels.len() > usize::from(u16::MAX) {
            let full = Full {
                most: usize::from(u16::MAX),
            };
            return self.room(Err(full), "labels of one choice", span);
        }
        let added = self.program.choices.push(choice);
        let id = self.room(added, "choices", span)?;
        for (at, label) in (0..).zip(labels) {
            let owner = self
                .declared
                .write(pen)
                .label_owners
                .entry(label)
                .or_insert((id, at, false));
            owner.2 |= owner.0 != id;
        }
        Ok(id)
    }

    /// The phase of this name, added where there is none.
    pub(super) fn add_phase(&mut self, phase: &tree::Text) -> Checks<PhaseId> {
        if let Some(id) = self.kept.phases_by_name.get(&phase.text) {
            return Ok(*id);
        }
        let added = self.program.phases.push(phase.text.clone());
        let id = self.room(added, "phases", phase.span)?;
        self.kept.phases_by_name.insert(phase.text.clone(), id);
        Ok(id)
    }

    /// The id a list gave, or one message for all that it has no room for.
    pub(super) fn room<I>(
        &mut self,
        added: Result<I, Full>,
        what: &'static str,
        span: Span,
    ) -> Checks<I> {
        added.map_err(|Full { most }| {
            if self.reported.full.insert(what) {
                self.problems.push(
                    Diagnostic::error("OV-220", format!("there are too many {what}"))
                        .at(span, "one too many")
                        .expected(format!("at most {most}")),
                );
            }
            Poisoned
        })
    }

    /// A value declared somewhere that failed is known to be named; a thing named twice.
    pub(super) fn twice(&mut self, what: &str, name: &tree::Name) {
        self.problems.push(
            Diagnostic::error(
                "OV-201",
                format!("the {what} `{}` is declared twice", name.text),
            )
            .at(name.span, "the second")
            .mend("give it another name"),
        );
    }
}

/// Names of the functions of the language.
pub(super) const BUILT_IN: &[&str] = &[
    "smaller", "larger", "abs", "root", "power", "ln", "day_of", "midnight",
];
