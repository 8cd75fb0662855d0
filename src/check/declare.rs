//! Collects what the sheets declare: nouns, choices, tables, givens, resources, helpers, blocks, changes.

use super::load::Loaded;
use super::number_type;
use super::typed::*;
use super::unknown::Known;
use crate::diagnostics::{Diagnostic, Span};
use crate::ids::{ById, Full};
use crate::number::{Exact, Rounding};
use crate::program::{
    ChoiceDef, ChoiceId, Grain, Grouping, PhaseId, Program, Scale, TableId, TableInfo, Ty,
};
use crate::syntax::tree::{
    self, ColumnType, ColumnValue, GivenValue, GrainHead, Layer, StatementKind,
};
use crate::table::{ColumnKind, ColumnSpec, LabelSpec, Limits, OnMissing, Schema, SchemaValue};
use crate::units::{Dim, Style, UnitExpr, format_quantity, parse_unit, read_point};
use foldhash::{HashMap, HashMapExt, HashSet};
use std::cell::Cell;
use std::sync::LazyLock;

/// A written quantity in base units.
#[derive(Debug, Clone)]
/// A written number, or a point.
pub(super) struct Literal {
    pub(super) scale: Option<Scale>,
    pub(super) value: Exact,
    pub(super) unit: UnitExpr,
    pub(super) percent: bool,
}

impl Literal {
    pub(super) fn dim(&self) -> &Dim {
        self.unit.dim()
    }

    /// The type of a value so written.
    pub(super) fn ty(&self) -> Ty {
        match self.scale {
            Some(scale) => Ty::Point(scale),
            None => number_type::written(self.dim(), self.percent),
        }
    }

    /// Whether it may stand where a value of this type is due.
    fn fits(&self, ty: &Ty) -> bool {
        match (self.scale, ty) {
            (Some(scale), Ty::Point(wanted)) => scale == *wanted,
            (None, Ty::Number(wanted)) => {
                *self.dim() == wanted.dim && self.percent == wanted.percent
            }
            _ => false,
        }
    }
}

/// Bytes of sheets that make one node or somewhat less than one.
const BYTES_OF_A_NODE: usize = 32;

/// The day `issued` where no job says it.
static UNSAID: LazyLock<tree::Given> = LazyLock::new(|| tree::Given {
    value: GivenValue::Unsaid,
    ..tree::JobLine::issued(None, Span::default())
});

/// Reads all declarations.
pub(super) fn declare(loaded: &Loaded) -> Checker<'_> {
    let mut checker = Checker {
        loaded,
        program: Program::default(),
        problems: Vec::new(),
        told_at: HashMap::new(),
        told_indexed: 0,
        defs: Vec::new(),
        by_name: HashMap::new(),
        helpers: HashMap::new(),
        helpers_used: HashSet::default(),
        lookups: HashMap::new(),
        broken: loaded
            .sheets
            .iter()
            .flat_map(|s| s.tree.broken.iter().map(String::as_str))
            .collect(),
        choices: HashMap::new(),
        tables: HashMap::new(),
        groups: HashMap::new(),
        resources: ById::new(),
        resources_by_name: HashMap::new(),
        phases_by_name: HashMap::new(),
        label_owners: HashMap::new(),
        compared: Cell::new(0),
        pairs_left: super::table_rows::MOST_PAIRS,
        full: HashSet::default(),
        carried: HashMap::new(),
        phases_listed: false,
        blocks: Vec::new(),
        cautions: Vec::new(),
        changes: Vec::new(),
        amends: Vec::new(),
        alternates: Vec::new(),
        trials: Vec::new(),
        ties: Rounding::HalfUp,
        traces: Vec::new(),
        trial_defs: Vec::new(),
        point_versions: Vec::new(),
        mix: None,
        splits: Vec::new(),
        in_force: HashMap::new(),
        up_to: Layer::Alternate,
        in_force_amends: Vec::new(),
        taking: Vec::new(),
        taken: 0,
        sends_used: HashSet::default(),
        sends_stuck: HashMap::new(),
        exceptions: HashMap::new(),
        decided: HashMap::new(),
        memo: HashMap::new(),
        calls: HashMap::new(),
        calls_spoke: false,
        calls_worked: 0,
        too_many: false,
        reads: HashSet::default(),
        lines: HashMap::new(),
        span_readers: HashSet::default(),
        line: None,
        last: super::kept::Last::default(),
        sinks: HashMap::new(),
        decides: HashMap::new(),
        open: Vec::new(),
        deferred: None,
        defining: false,
        said: Vec::new(),
        deep: 0,
        unsaid_told: false,
        truths: HashMap::new(),
        trace: Trace::default(),
        pinned: HashMap::default(),
        unit_cache: HashMap::new(),
        need: None,
        certain: HashMap::new(),
        certain_told: HashSet::default(),
        repeat: false,
    };
    let bytes: usize = loaded.sources.iter().map(|(_, text)| text.len()).sum();
    checker.program.reserve(bytes / BYTES_OF_A_NODE);
    checker.nouns_and_terms();
    checker.choices_and_tables();
    checker.named_values();
    checker
}

impl<'a> Checker<'a> {
    fn statements(&self) -> impl Iterator<Item = (Layer, &'a tree::Statement)> + use<'a> {
        let loaded: &'a Loaded = self.loaded;
        loaded
            .sheets
            .iter()
            .flat_map(|s| s.tree.statements.iter().map(|st| (s.layer, st)))
    }

    /// Nouns, currency and tie rule come first: literals need them.
    fn nouns_and_terms(&mut self) {
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
                            tree::JobLine::Ties(mode, _) => self.ties = *mode,
                            _ => {}
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
    fn refuse_other_point(&mut self, given: &'a tree::Given) {
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

    fn choices_and_tables(&mut self) {
        for (_, st) in self.statements() {
            if let StatementKind::Choice { name, labels } = &st.kind {
                if self.choices.contains_key(name.text.as_str()) {
                    self.twice("choice", name);
                    continue;
                }
                if let Ok(id) = self.new_choice(&name.text, labels) {
                    self.choices.insert(&name.text, id);
                }
            }
            if let StatementKind::Phases(list) = &st.kind {
                self.phases_listed = true;
                let mut own: HashMap<&str, Span> = HashMap::new();
                for phase in list {
                    if let Some(first) = own.insert(phase.text.as_str(), phase.span) {
                        self.problems.push(
                            Diagnostic::error(
                                "OV-201",
                                format!("the phase \"{}\" stands twice in this list", phase.text),
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
            if self.tables.contains_key(def.name.text.as_str()) {
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
                Ok(id) => self.tables.insert(&def.name.text, id),
                Err(Poisoned) => continue,
            };
        }
        for def in surveys {
            if let Some(id) = self.tables.get(def.name.text.as_str()).copied()
                && self.program.tables[id].schema.span == def.name.span
            {
                self.survey(id, def);
            }
        }
        self.rows_and_above();
    }

    /// A closed choice, refusing labels given twice.
    pub(super) fn new_choice(
        &mut self,
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
                        format!("the label `{}` stands twice in one choice", l.name.text),
                    )
                    .at(l.name.span, "the second")
                    .at(first.name.span, "the first")
                    .mend("take one out")
                } else {
                    Diagnostic::error(
                        "OV-211",
                        format!("\"{word}\" stands for two labels of one choice"),
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
        self.add_choice(choice, labels.first().ok_or(Poisoned)?.name.span)
    }

    /// Adds a choice whose labels names may mean.
    pub(super) fn add_choice(&mut self, choice: ChoiceDef, span: Span) -> Checks<ChoiceId> {
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
            let owner = self.label_owners.entry(label).or_insert((id, at, false));
            owner.2 |= owner.0 != id;
        }
        Ok(id)
    }

    /// The phase of this name, added where there is none.
    pub(super) fn add_phase(&mut self, phase: &tree::Text) -> Checks<PhaseId> {
        if let Some(id) = self.phases_by_name.get(&phase.text) {
            return Ok(*id);
        }
        let added = self.program.phases.push(phase.text.clone());
        let id = self.room(added, "phases", phase.span)?;
        self.phases_by_name.insert(phase.text.clone(), id);
        Ok(id)
    }

    fn survey(&mut self, id: TableId, def: &'a tree::SurveyDef) {
        let mut columns = Vec::new();
        let mut key = None;
        for column in &def.columns {
            let at = columns.len();
            if columns
                .iter()
                .any(|c: &ColumnSpec| c.name == column.name.text)
            {
                self.twice("column", &column.name);
                continue;
            }
            let Ok((kind, choice)) = self.column_kind(column) else {
                self.broken.insert(&column.name.text);
                continue;
            };
            if column.key {
                if !matches!(kind, ColumnKind::Text) {
                    self.problems.push(
                        Diagnostic::error("OV-218", "a key column is text")
                            .at(column.span, "")
                            .mend(format!("{} text key", column.name.text)),
                    );
                }
                if let Some(first) = key.replace(at) {
                    let first: &ColumnSpec = &columns[first];
                    self.problems.push(
                        Diagnostic::error("OV-218", "a survey has one key column")
                            .at(column.span, "a second one")
                            .at(first.span, "the first"),
                    );
                }
            }
            let blank = self.on_missing(column, &kind, column.if_blank.as_ref(), column.optional);
            let na = self.on_missing(column, &kind, column.if_na.as_ref(), column.may_be_na);
            for (value, said) in [(&blank, &column.if_blank), (&na, &column.if_na)] {
                self.refuse_beyond(&kind, value, said.as_ref(), column.between.as_ref());
            }
            columns.push(ColumnSpec {
                name: column.name.text.clone(),
                kind,
                headings: column.headed.iter().map(|t| t.text.clone()).collect(),
                blank,
                not_applicable: na,
                is_key: column.key,
                span: column.span,
            });
            let index = u16::try_from(at).unwrap_or(u16::MAX);
            self.defs.push(Def {
                name: &column.name,
                kind: DefKind::Column {
                    table: id,
                    index,
                    column,
                },
                grain: Grain::Table(id),
                layer: Layer::Base,
                choice,
            });
        }
        let mut parent_column = None;
        let mut parent = None;
        if let Some((above, by)) = &def.parent {
            match self
                .tables
                .get(above.text.as_str())
                .copied()
                .filter(|t| *t != id)
            {
                Some(t) => {
                    parent = Some(t);
                    match columns.iter().position(|c| c.name == by.text) {
                        Some(i) => parent_column = Some((above.text.clone(), i)),
                        None => self.unknown(
                            "OV-214",
                            "column",
                            by,
                            Known::these(def.columns.iter().map(|c| c.name.text.as_str())),
                        ),
                    }
                }
                None => self.unknown("OV-209", "survey", above, Known::Surveys),
            }
        } else if key.is_none() && !def.broken {
            self.problems.push(
                Diagnostic::error(
                    "OV-218",
                    format!("the survey `{}` has no key column", def.name.text),
                )
                .at(def.name.span, "")
                .expected("one text column marked `key`, by which rows are named: mark text key"),
            );
        }
        self.refuse_shared_headings(def);
        let info = &mut self.program.tables[id];
        info.parent = parent;
        info.schema.columns = columns;
        info.schema.key = key;
        info.schema.parent = parent_column;
    }

    /// A heading says which column it is of: two columns can't share one.
    fn refuse_shared_headings(&mut self, def: &'a tree::SurveyDef) {
        let mut seen: HashMap<String, &'a tree::Column> = HashMap::new();
        for column in &def.columns {
            let own = std::iter::once((column.name.text.as_str(), column.name.span));
            for (heading, span) in
                own.chain(column.headed.iter().map(|t| (t.text.as_str(), t.span)))
            {
                // As headings of a survey are compared: without blanks, capitals and signs at the end.
                let bare: String = heading
                    .chars()
                    .filter(|c| !c.is_whitespace() && *c != '_')
                    .flat_map(char::to_lowercase)
                    .collect();
                let Some(first) = seen
                    .insert(bare.trim_end_matches(['.', ':', '*']).to_string(), column)
                    .filter(|first| first.span != column.span)
                else {
                    continue;
                };
                if first.name.text == column.name.text {
                    continue;
                }
                self.problems.push(
                    Diagnostic::error(
                        "OV-201",
                        format!("the heading \"{heading}\" belongs to two columns"),
                    )
                    .at(span, format!("of `{}`", column.name.text))
                    .at(first.span, format!("of `{}` as well", first.name.text))
                    .mend("keep it with one of them"),
                );
            }
        }
    }

    /// The kind of value that a type says, and its choice. A choice written in place gets the name given here.
    pub(super) fn kind_of_type(
        &mut self,
        name: &str,
        written: &'a ColumnType,
        whole: bool,
        quarters: bool,
    ) -> Checks<(ColumnKind, Option<ChoiceId>)> {
        let numeric = |dim: &Dim, unit: UnitExpr, whole, percent| ColumnKind::Number {
            dim: dim.clone(),
            unit,
            whole,
            percent,
            quarters,
            limits: None,
        };
        Ok(match written {
            ColumnType::Text => (ColumnKind::Text, None),
            ColumnType::Date => (ColumnKind::Date, None),
            ColumnType::Lites => (ColumnKind::Lites, None),
            ColumnType::Moment => (ColumnKind::Moment, None),
            ColumnType::Temperature => (ColumnKind::Temperature, None),
            ColumnType::YesNo => (ColumnKind::YesNo, None),
            ColumnType::Percent => {
                let unit = parse_unit("%", &self.program.nouns, None).map_err(|_| Poisoned)?;
                (numeric(&Dim::NONE, unit, whole, true), None)
            }
            ColumnType::Number(None) => (numeric(&Dim::NONE, UnitExpr::none(), whole, false), None),
            ColumnType::Number(Some(text)) => {
                let unit = self.unit(text)?;
                (numeric(&unit.dim().clone(), unit, whole, false), None)
            }
            ColumnType::Measure(word, text) => {
                use crate::units::Base;
                let wanted = match word.text.as_str() {
                    "length" => Dim::length(1),
                    "area" => Dim::length(2),
                    "volume" => Dim::length(3),
                    "mass" => Dim::base(Base::Mass),
                    "labor" => Dim::base(Base::Labor),
                    "time" => Dim::base(Base::Time),
                    _ => Dim::base(Base::Money),
                };
                let unit = self.unit(text)?;
                if *unit.dim() != wanted {
                    let found = crate::units::describe(unit.dim(), &self.program.nouns);
                    return self.fail(
                        Diagnostic::error(
                            "OV-316",
                            format!("`{}` is not a unit of {}", text.text, word.text),
                        )
                        .at(text.span, "")
                        .found(found)
                        .expected(crate::units::describe(&wanted, &self.program.nouns)),
                    );
                }
                (numeric(&wanted, unit, whole, false), None)
            }
            ColumnType::Count(noun) => match self.program.nouns.find(&noun.text) {
                Some(n) => (numeric(&Dim::noun(n), UnitExpr::noun(n), true, false), None),
                None => {
                    self.unknown("OV-310", "counted noun", noun, Known::Nouns);
                    return Err(Poisoned);
                }
            },
            ColumnType::OneOf(labels) => {
                let id = self.new_choice(name, labels)?;
                (ColumnKind::Choice(label_specs(labels)), Some(id))
            }
            ColumnType::Of(name) => {
                let Some(id) = self.choices.get(name.text.as_str()).copied() else {
                    self.unknown("OV-210", "choice", name, Known::Choices);
                    return Err(Poisoned);
                };
                let labels = self.statements().find_map(|(_, s)| match &s.kind {
                    StatementKind::Choice { name: n, labels } if n.text == name.text => {
                        Some(labels)
                    }
                    _ => None,
                });
                (
                    ColumnKind::Choice(labels.map(|l| label_specs(l)).unwrap_or_default()),
                    Some(id),
                )
            }
        })
    }

    fn column_kind(&mut self, column: &'a tree::Column) -> Checks<(ColumnKind, Option<ChoiceId>)> {
        let (mut kind, choice) = self.kind_of_type(
            &column.name.text,
            &column.kind,
            column.whole,
            column.quarters,
        )?;
        if let Some((low, high)) = &column.between {
            match &mut kind {
                ColumnKind::Number {
                    dim,
                    limits,
                    percent,
                    ..
                } => {
                    let dim = dim.clone();
                    let percent = *percent;
                    let low = self.signed_of(low, &dim, percent, "OV-316")?;
                    let high = self.signed_of(high, &dim, percent, "OV-316")?;
                    if low > high {
                        return self.fail(
                            Diagnostic::error("OV-316", "the lower limit is above the upper one")
                                .at(column.span, "")
                                .mend("change their order"),
                        );
                    }
                    *limits = Some(Limits { low, high });
                }
                _ => {
                    return self.fail(
                        Diagnostic::error("OV-316", "only a number can stand between limits")
                            .at(column.span, ""),
                    );
                }
            }
        }
        if (column.whole || column.quarters || column.adds_up)
            && !matches!(kind, ColumnKind::Number { .. })
        {
            return self.fail(
                Diagnostic::error(
                    "OV-316",
                    "`whole`, `quarters` and `adds up` belong to numbers",
                )
                .at(column.span, ""),
            );
        }
        Ok((kind, choice))
    }

    /// What stands for a missing cell keeps to the limits that cells keep to.
    fn refuse_beyond(
        &mut self,
        kind: &ColumnKind,
        value: &OnMissing,
        said: Option<&ColumnValue>,
        between: Option<&(tree::Signed, tree::Signed)>,
    ) {
        let (
            ColumnKind::Number {
                limits: Some(limits),
                unit,
                ..
            },
            OnMissing::Value(SchemaValue::Number(n)),
            Some(ColumnValue::Quantity(said)),
        ) = (kind, value, said)
        else {
            return;
        };
        if *n >= limits.low && *n <= limits.high {
            return;
        }
        let text = |v: &Exact| format_quantity(v, unit, &self.program.nouns, Style::default());
        let d = Diagnostic::error(
            "OV-316",
            "the value for a missing cell lies outside the column's own limits",
        )
        .at(said.span, "")
        .at(
            between.map_or(said.span, |(low, high)| low.span.to(high.span)),
            "the limits",
        )
        .found(text(n))
        .expected(format!(
            "between {} and {}",
            text(&limits.low),
            text(&limits.high)
        ));
        self.problems.push(d);
    }

    fn on_missing(
        &mut self,
        column: &'a tree::Column,
        kind: &ColumnKind,
        value: Option<&'a ColumnValue>,
        keeps: bool,
    ) -> OnMissing {
        let Some(value) = value else {
            return if keeps && !column.key {
                OnMissing::Keep
            } else {
                OnMissing::Refuse
            };
        };
        if keeps {
            self.problems.push(
                Diagnostic::error(
                    "OV-219",
                    "a cell that is missing has either a value or stays missing",
                )
                .at(column.span, "")
                .mend("keep `if ...` or keep `optional` / `may be n/a`"),
            );
        }
        let span = match value {
            ColumnValue::Quantity(s) => s.span,
            ColumnValue::Truth(_, s) => *s,
            ColumnValue::Text(t) => t.span,
            ColumnValue::Label(n) => n.span,
        };
        let found = match (kind, value) {
            (ColumnKind::Number { dim, percent, .. }, ColumnValue::Quantity(s)) => {
                return self
                    .signed_of(s, dim, *percent, "OV-316")
                    .map_or(OnMissing::Refuse, |v| {
                        OnMissing::Value(SchemaValue::Number(v))
                    });
            }
            (
                ColumnKind::Date | ColumnKind::Moment | ColumnKind::Temperature,
                ColumnValue::Quantity(s),
            ) => {
                let ty = Ty::Point(kind.scale().unwrap_or(Scale::Day));
                return self
                    .signed_like(s, &ty, "OV-316")
                    .map_or(OnMissing::Refuse, |v| {
                        OnMissing::Value(SchemaValue::Number(v))
                    });
            }
            (ColumnKind::YesNo, ColumnValue::Truth(b, _)) => {
                return OnMissing::Value(SchemaValue::YesNo(*b));
            }
            (ColumnKind::Text, ColumnValue::Text(t)) => {
                return OnMissing::Value(SchemaValue::Text(t.text.clone()));
            }
            (ColumnKind::Choice(labels), ColumnValue::Label(n)) => {
                match labels.iter().position(|l| l.label == n.text) {
                    Some(i) => {
                        return OnMissing::Value(SchemaValue::Choice(crate::ids::place(i)));
                    }
                    None => {
                        self.unknown(
                            "OV-211",
                            "label",
                            n,
                            Known::these(labels.iter().map(|l| l.label.as_str())),
                        );
                        return OnMissing::Refuse;
                    }
                }
            }
            (_, ColumnValue::Quantity(_)) => "a number",
            (_, ColumnValue::Truth(..)) => "yes or no",
            (_, ColumnValue::Text(_)) => "a text",
            (_, ColumnValue::Label(_)) => "a label",
        };
        self.problems.push(
            Diagnostic::error("OV-316", "this value does not fit its column")
                .at(span, "")
                .found(found)
                .expected(kind_words(kind, self)),
        );
        OnMissing::Refuse
    }

    fn named_values(&mut self) {
        let mut resources: HashSet<&str> = HashSet::default();
        let mut named: HashSet<&str> = HashSet::default();
        for (layer, st) in self.statements() {
            match &st.kind {
                StatementKind::Given(given) => {
                    let choice = match &given.value {
                        GivenValue::Label { label, labels } => {
                            if !labels.iter().any(|l| l.name.text == label.text) {
                                self.unknown(
                                    "OV-211",
                                    "label",
                                    label,
                                    Known::these(labels.iter().map(|l| l.name.text.as_str())),
                                );
                            }
                            self.new_choice(&given.name.text, labels).ok()
                        }
                        GivenValue::Of { choice, .. } => {
                            let id = self.choices.get(choice.text.as_str()).copied();
                            if id.is_none() {
                                self.unknown("OV-210", "choice", choice, Known::Choices);
                            }
                            id
                        }
                        GivenValue::Asked(asked) => {
                            match self.kind_of_type(&given.name.text, &asked.kind, false, false) {
                                Ok((_, choice)) => choice,
                                Err(Poisoned) => {
                                    self.broken.insert(&given.name.text);
                                    continue;
                                }
                            }
                        }
                        _ => None,
                    };
                    self.defs.push(Def {
                        name: &given.name,
                        kind: DefKind::Given(given),
                        grain: Grain::Const,
                        layer,
                        choice,
                    });
                }
                StatementKind::Job(lines) => {
                    for line in lines {
                        if let tree::JobLine::Issued(given) = line {
                            self.refuse_other_point(given);
                            self.defs.push(Def {
                                name: &given.name,
                                kind: DefKind::Given(given),
                                grain: Grain::Const,
                                layer,
                                choice: None,
                            });
                        }
                    }
                }
                StatementKind::Resource(r) => {
                    if !resources.insert(r.name.text.as_str()) {
                        self.twice("resource", &r.name);
                    } else {
                        let added = self.resources.push(DeclaredResource { tree: r });
                        match self.room(added, "resources", r.name.span) {
                            Ok(id) => {
                                self.resources_by_name.insert(&r.name.text, id);
                            }
                            Err(Poisoned) => {
                                self.broken.insert(&r.name.text);
                            }
                        }
                    }
                }
                StatementKind::Helper { name, params, body } => {
                    let def = HelperDef { name, params, body };
                    if BUILT_IN.contains(&name.text.as_str())
                        || self.helpers.insert(&name.text, def).is_some()
                    {
                        self.twice("helper", name);
                    }
                    for (i, p) in params.iter().enumerate() {
                        if params[..i].iter().any(|q| q.text == p.text) {
                            self.twice("parameter", p);
                        }
                    }
                }
                StatementKind::Caution(c) => self.cautions.push(c),
                StatementKind::Change(change) => self.changes.push(LayeredChange { layer, change }),
                StatementKind::Amend(amend) => {
                    self.amends
                        .push(super::amend::LayeredAmend { layer, amend });
                }
                StatementKind::Alternate {
                    name,
                    owner,
                    changes,
                    amends,
                    pick,
                } => {
                    if !named.insert(name.text.as_str()) {
                        self.problems.push(
                            Diagnostic::error(
                                "OV-611",
                                format!("there are two alternates \"{}\"", name.text),
                            )
                            .at(name.span, ""),
                        );
                    } else {
                        self.alternates.push(Alternate {
                            name,
                            owner: owner.as_ref(),
                            changes,
                            amends,
                            pick: pick.as_ref(),
                        });
                    }
                }
                StatementKind::Trial(t) => self.trials.push((t, layer)),
                _ => {}
            }
        }
        let tables: Vec<&'a tree::TableDef> = self
            .statements()
            .filter_map(|(_, s)| {
                if let StatementKind::Table(t) = &s.kind {
                    Some(t)
                } else {
                    None
                }
            })
            .collect();
        for table in tables {
            self.lookup_table(table);
        }
        self.tables_extended();
        for (layer, st) in self.statements() {
            if let StatementKind::For(block) = &st.kind {
                self.block(layer, block);
            }
        }
        // The day may be read by any sheet; only a job says it.
        let reads_day = |(_, text): (&str, &str)| text.contains("issued");
        if !self.defs.iter().any(|def| def.name.text == "issued")
            && self.loaded.sources.iter().any(reads_day)
        {
            let given: &'a tree::Given = &UNSAID;
            self.defs.push(Def {
                name: &given.name,
                kind: DefKind::Given(given),
                grain: Grain::Const,
                layer: Layer::Base,
                choice: None,
            });
        }
        self.parts_declared();
        // Columns of several tables may share a name; any other name is declared once.
        for i in 0..self.defs.len() {
            let def = self.defs[i].clone();
            let list = self.by_name.entry(&def.name.text).or_default();
            let clash = list.iter().copied().find(|j| {
                let other = &self.defs[*j];
                !(matches!(other.kind, DefKind::Column { .. })
                    && matches!(def.kind, DefKind::Column { .. })
                    && other.grain != def.grain)
            });
            match clash {
                Some(j) => {
                    let first = self.defs[j].name.span;
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
        self.group_keys();
    }

    fn block(&mut self, layer: Layer, block: &'a tree::ForBlock) {
        let grain = match &block.head {
            GrainHead::Job => Some(Grain::Job),
            GrainHead::Each(name) => match (
                self.tables.get(name.text.as_str()),
                self.groups.get(name.text.as_str()),
            ) {
                (Some(t), _) => Some(Grain::Table(*t)),
                (_, Some(g)) => Some(Grain::Group(*g)),
                _ => {
                    self.unknown("OV-209", "survey or group", name, Known::SurveysAndGroups);
                    None
                }
            },
            GrainHead::Group { name, of, by } => match self.tables.get(of.text.as_str()).copied() {
                None => {
                    self.unknown("OV-209", "survey", of, Known::Surveys);
                    None
                }
                Some(table) => {
                    let key_names: Vec<String> = by.iter().map(|n| n.text.clone()).collect();
                    match self.groups.get(name.text.as_str()).copied() {
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
                        None if self.tables.contains_key(name.text.as_str()) => {
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
                                self.groups.insert(&name.text, g);
                            }
                            group.map(Grain::Group)
                        }
                    }
                }
            },
        };
        let Some(grain) = grain else {
            for line in &block.lines {
                match line {
                    tree::ForLine::Rule(r) => self.broken.insert(&r.name.text),
                    tree::ForLine::Decide(d) => self.broken.insert(&d.name.text),
                    _ => false,
                };
            }
            return;
        };
        for line in &block.lines {
            match line {
                tree::ForLine::Rule(rule) => self.defs.push(Def {
                    name: &rule.name,
                    kind: DefKind::Rule(rule),
                    grain,
                    layer,
                    choice: None,
                }),
                tree::ForLine::Decide(d) => {
                    let choice = self.decide_choice(d);
                    self.defs.push(Def {
                        name: &d.name,
                        kind: DefKind::Decide(d),
                        grain,
                        layer,
                        choice,
                    });
                }
                _ => {}
            }
        }
        self.blocks.push(Block {
            grain,
            lines: &block.lines,
        });
    }

    /// The id a list gave, or one message for all that it has no room for.
    pub(super) fn room<I>(
        &mut self,
        added: Result<I, Full>,
        what: &'static str,
        span: Span,
    ) -> Checks<I> {
        added.map_err(|Full { most }| {
            if self.full.insert(what) {
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

    /// A unit as written in a sheet.
    pub(super) fn unit(&mut self, text: &tree::UnitText) -> Checks<UnitExpr> {
        if let Some(unit) = self.unit_cache.get(&text.text) {
            return Ok(unit.clone());
        }
        match parse_unit(
            &text.text,
            &self.program.nouns,
            self.program.currency.as_deref(),
        ) {
            Ok(unit) => {
                self.unit_cache.insert(text.text.clone(), unit.clone());
                if self.program.currency.is_none()
                    && let Some(code) = crate::units::CURRENCIES
                        .iter()
                        .find(|c| text.text.split(' ').any(|w| w == **c))
                {
                    self.program.currency = Some((*code).to_string());
                }
                Ok(unit)
            }
            Err(e) => {
                let currency = crate::units::CURRENCIES.contains(&e.found.as_str());
                if currency && let Some(job) = self.program.currency.clone() {
                    return self.fail(
                        Diagnostic::error("OV-314", "a job has one currency")
                            .at(text.span, "")
                            .found(e.found)
                            .expected(job),
                    );
                }
                let d = Diagnostic::error(
                    "OV-310",
                    format!(
                        "`{}` is not a unit",
                        if e.found.is_empty() {
                            &text.text
                        } else {
                            &e.found
                        }
                    ),
                )
                .at(text.span, "")
                .expected("one of the units of the language, or a noun declared with `counted`");
                let step =
                    "a rounding names its step: `to 1` for whole ones, `to 0.01` for two places";
                self.fail(match (e.suggestion, e.found.as_str()) {
                    (Some(s), _) => d.mend(format!("did you mean `{s}`?")),
                    (None, "place" | "places" | "decimal" | "decimals" | "digit" | "digits") => d.mend(step),
                    (None, "each" | "ea" | "piece" | "pieces" | "pc" | "pcs") => d.mend(
                        "things are counted in a noun of their own: `counted hinge`, and then `2 hinge`",
                    ),
                    (None, name) if self.by_name.contains_key(name) => {
                        d.mend(format!("to multiply by `{name}`, write `* {name}`"))
                    }
                    (None, _) => d,
                })
            }
        }
    }

    /// A written quantity in base units with its unit; parts must be of one dimension and ever smaller.
    pub(super) fn literal(&mut self, q: &tree::Quantity) -> Checks<Literal> {
        if let Some(text) = &q.point {
            return self.point_literal(text, q.span);
        }
        let mut whole: Option<Literal> = None;
        let mut last_factor: Option<Exact> = None;
        for (number, unit) in &q.parts {
            let unit = match unit {
                Some(u) => self.unit(u)?,
                None => UnitExpr::none(),
            };
            let Ok(value) = unit.to_base(number) else {
                return self.fail(
                    Diagnostic::error("OV-108", "this number has too many digits").at(q.span, ""),
                );
            };
            whole = Some(match whole {
                None => Literal {
                    scale: None,
                    value,
                    percent: unit.is_percent(),
                    unit: unit.clone(),
                },
                Some(first) => {
                    let smaller = last_factor.as_ref().is_some_and(|f| unit.factor() < f);
                    if unit.dim() != first.dim() || !smaller {
                        return self.fail(
                            Diagnostic::error("OV-315", "these parts do not make one quantity")
                                .at(q.span, "")
                                .expected(
                                    "parts of the same kind, the greater unit first: 2 ft 6 1/2 in",
                                ),
                        );
                    }
                    let sum = first.value.add(&value).map_err(|_| Poisoned)?;
                    Literal {
                        scale: None,
                        value: sum,
                        unit: unit.clone(),
                        percent: false,
                    }
                }
            });
            last_factor = Some(unit.factor().clone());
        }
        whole.ok_or(Poisoned)
    }

    fn point_literal(&mut self, text: &str, span: Span) -> Checks<Literal> {
        let Some((scale, value)) = read_point(text) else {
            return self.fail(
                Diagnostic::error("OV-360", "there is no such day, hour or temperature")
                    .at(span, "")
                    .found(text.to_owned())
                    .expected(
                        "year-month-day, 2026-03-21; with an hour from 00:00 to 23:59, 2026-03-21 16:00",
                    ),
            );
        };
        Ok(Literal {
            scale: Some(scale),
            value,
            percent: false,
            unit: UnitExpr::none(),
        })
    }

    /// A written quantity with a minus before it; `span` is that of both.
    pub(super) fn negative_literal(&mut self, q: &tree::Quantity, span: Span) -> Checks<Literal> {
        let Some(text) = &q.point else {
            let mut literal = self.literal(q)?;
            literal.value = literal.value.neg();
            return Ok(literal);
        };
        match read_point(text) {
            // The sign belongs to the degrees as written: -5 °C is not 5 °C turned round in Fahrenheit.
            Some((Scale::Temperature, _)) => self.point_literal(&format!("-{text}"), span),
            Some((Scale::Day | Scale::Moment, _)) => self.fail(
                Diagnostic::error("OV-360", "a day has no sign")
                    .at(span, "")
                    .mend("take the minus out"),
            ),
            None => self.point_literal(text, span),
        }
    }

    pub(super) fn signed(&mut self, s: &tree::Signed) -> Checks<Literal> {
        match s.negative {
            true => self.negative_literal(&s.quantity, s.span),
            false => self.literal(&s.quantity),
        }
    }

    /// A written quantity that must have a dimension.
    pub(super) fn signed_of(
        &mut self,
        s: &tree::Signed,
        dim: &Dim,
        percent: bool,
        code: &'static str,
    ) -> Checks<Exact> {
        self.signed_like(s, &number_type::written(dim, percent), code)
    }

    /// A written quantity or point that stands for a value of this type.
    pub(super) fn signed_like(
        &mut self,
        s: &tree::Signed,
        ty: &Ty,
        code: &'static str,
    ) -> Checks<Exact> {
        let literal = self.signed(s)?;
        if !literal.fits(ty) {
            let d = Diagnostic::error(
                code,
                "this value is of another kind than what it stands for",
            )
            .at(s.span, "")
            .found(self.words(&literal.ty()))
            .expected(self.words(ty));
            return self.fail(d);
        }
        Ok(literal.value)
    }
}

/// Names of the functions of the language.
pub(super) const BUILT_IN: &[&str] = &[
    "smaller", "larger", "abs", "root", "power", "ln", "day_of", "midnight",
];

fn label_specs(labels: &[tree::LabelDef]) -> Vec<LabelSpec> {
    labels
        .iter()
        .map(|l| LabelSpec {
            label: l.name.text.clone(),
            spellings: l.spellings.clone(),
        })
        .collect()
}

fn kind_words(kind: &ColumnKind, checker: &Checker<'_>) -> String {
    match kind {
        ColumnKind::Text => "a text".into(),
        ColumnKind::Lites => "nothing: a lite pattern has no default".into(),
        ColumnKind::YesNo => "yes or no".into(),
        ColumnKind::Date => "a date, such as 2026-03-21".into(),
        ColumnKind::Moment => "a moment, such as 2026-03-21 16:00".into(),
        ColumnKind::Temperature => "a temperature, such as 70 °F".into(),
        ColumnKind::Choice(labels) => format!(
            "one of {}",
            labels
                .iter()
                .map(|l| l.label.as_str())
                .collect::<Vec<_>>()
                .join(", ")
        ),
        ColumnKind::Number { percent: true, .. } => "a percent".into(),
        ColumnKind::Number { dim, .. } => crate::units::describe(dim, &checker.program.nouns),
    }
}
