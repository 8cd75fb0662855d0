//! Trials: each becomes a version with its givens, and small tables with its rows.

use super::typed::*;
use super::unknown::Known;
use crate::diagnostics::{Diagnostic, Span};
use crate::number::Exact;
use crate::program::{CutTerms, DecideDef, Grain, Kind, Missing, Node, NodeId, TableId, Ty};
use crate::syntax::tree::{self, AbsentKind, CutFigure, ExpectTarget};
use crate::table::SchemaValue;
use crate::units::UnitExpr;

/// A trial, ready to run.
#[derive(Debug, Clone)]
pub struct TrialDef {
    /// Title.
    pub name: String,
    /// Where.
    pub span: Span,
    /// Its version in the program.
    pub version: usize,
    /// Rows of each table, in the order of the program's tables.
    pub tables: Vec<TrialTable>,
    /// Expectations.
    pub expects: Vec<TrialExpect>,
}

/// Rows of a table in a trial: for each row the columns that are set.
#[derive(Debug, Clone, Default)]
pub struct TrialTable {
    /// Column and value (or the kind of its absence).
    pub rows: Vec<Vec<(u16, Result<SchemaValue, AbsentKind>)>>,
}

/// An expectation.
#[derive(Debug, Clone)]
pub struct TrialExpect {
    /// Nodes looked at: one for a value, the sums of its take lines for a resource, all conditions for `require`.
    pub nodes: Vec<NodeId>,
    /// The plan looked at instead of nodes.
    pub cut: Option<(CutExpect, CutFigure)>,
    /// What is expected.
    pub outcome: TrialOutcome,
    /// How far what is found may be from the value, either way, in base units.
    pub within: Option<Exact>,
    /// The reason that the decision must give on the row, and the decision.
    pub because: Option<(String, DecideDef)>,
    /// Unit the expected value is written in, for what is found too.
    pub unit: Option<UnitExpr>,
    /// Mark of the row.
    pub at: Option<String>,
    /// How the target was written.
    pub target: String,
    /// Span of the rule looked at, for showing its parts.
    pub rule: Option<Span>,
    /// Where.
    pub span: Span,
}

/// The plan that a trial expects a figure of.
#[derive(Debug, Clone)]
pub struct CutExpect {
    /// Place of the block in the terms of the job.
    pub block: usize,
    /// What one base unit of the resource costs, in currency.
    pub price: Exact,
}

/// What is expected.
#[derive(Debug, Clone)]
pub enum TrialOutcome {
    /// This constant.
    Value(NodeId),
    /// A refusal, perhaps of this code.
    Refused(Option<String>),
    /// A requirement does not hold.
    RequireFails,
}

/// What a trial looks at.
fn needed(trial: &tree::Trial) -> Need<'_> {
    let mut need = Need::default();
    for e in &trial.expects {
        match &e.target {
            ExpectTarget::Value(n) => need.values.insert(&n.text),
            ExpectTarget::Take(n) => need.takes.insert(&n.text),
            ExpectTarget::Part(n, _) => need.parts.insert(&n.text),
            ExpectTarget::Cut(n, _) => need.cuts.insert(&n.text),
            ExpectTarget::Require => std::mem::replace(&mut need.requires, true),
        };
    }
    need
}

/// A definition and what a trial sets it to.
type SettingOf<'a> = (usize, &'a tree::Setting);

/// A `row` line of a trial.
struct OwnRow<'a> {
    /// None where no survey has the name.
    table: Option<TableId>,
    settings: Vec<SettingOf<'a>>,
    line: Span,
}

impl<'a> Checker<'a> {
    pub(super) fn trial(&mut self, trial: &'a tree::Trial, base: &[LayeredChange<'a>]) {
        let told = self.problems.len();
        // Columns set for all rows, and givens, which override like a change of the last layer.
        let mut overrides: Vec<SettingOf<'a>> = Vec::new();
        let mut shared: Vec<SettingOf<'a>> = Vec::new();
        for s in &trial.with {
            match self.setting_def(s, None) {
                Some(d) if matches!(self.declared.defs[d].kind, DefKind::Column { .. }) => {
                    shared.push((d, s))
                }
                Some(d) => overrides.push((d, s)),
                None => {}
            }
        }
        let mut own: Vec<OwnRow<'a>> = Vec::new();
        for (table, settings, line) in &trial.rows {
            let table = match table {
                None => self.program.main_table(),
                Some(name) => {
                    let id = self.declared.tables.get(name.text.as_str()).copied();
                    if id.is_none() {
                        self.unknown("OV-209", "survey", name, Known::Surveys);
                    }
                    id
                }
            };
            let settings = settings
                .iter()
                .filter_map(|s| self.setting_def(s, table).map(|d| (d, s)))
                .collect();
            own.push(OwnRow {
                table,
                settings,
                line: *line,
            });
        }
        let with: Vec<SettingOf<'a>> = shared.iter().chain(&overrides).copied().collect();
        self.refuse_set_twice(&with);
        for row in &own {
            self.refuse_set_twice(&row.settings);
        }
        if self.problems.len() > told {
            return;
        }
        let version = self.program.versions.len();
        self.trial_version(trial, base, &overrides);
        // A trial without a row of the main table has one all the same, but nobody has a board on hand that is not said.
        let main = self.program.main_table();
        let on_hand = |c: &CutTerms| c.on_hand.as_ref().is_some_and(|o| Some(o.table) == main);
        let of_stock = trial
            .expects
            .iter()
            .any(|e| matches!(e.target, ExpectTarget::Cut(..)))
            && self.program.terms.cuts.iter().any(on_hand);
        if !of_stock && own.iter().all(|row| row.table != main) {
            let row = OwnRow {
                table: main,
                settings: vec![],
                line: trial.name.span,
            };
            own.insert(0, row);
        }
        let tables = self.trial_tables(&own, &shared);
        let expects = trial
            .expects
            .iter()
            .filter_map(|e| self.expectation(e, version))
            .collect();
        self.trial_defs.push(TrialDef {
            name: trial.name.text.clone(),
            span: trial.name.span,
            version,
            tables,
            expects,
        });
    }

    /// The version that a trial runs, with its givens and changes over those of the job.
    fn trial_version(
        &mut self,
        trial: &'a tree::Trial,
        base: &[LayeredChange<'a>],
        overrides: &[SettingOf<'a>],
    ) {
        self.trial_overrides(overrides);
        self.work.need = Some(needed(trial));
        let base = self.of_rows_in(trial, base);
        let own_changes: Vec<LayeredChange<'a>> = trial
            .changes
            .iter()
            .map(|change| LayeredChange {
                layer: tree::Layer::Alternate,
                change,
            })
            .collect();
        self.build_trial(&base, &own_changes, overrides);
        self.work.need = None;
    }

    /// The rows of each table, with the columns that are set for all rows and those set for each.
    fn trial_tables(&mut self, own: &[OwnRow<'a>], shared: &[SettingOf<'a>]) -> Vec<TrialTable> {
        let mut tables: Vec<TrialTable> = vec![TrialTable::default(); self.program.tables.len()];
        let mut places: Vec<Vec<Span>> = vec![vec![]; tables.len()];
        for OwnRow {
            table,
            settings,
            line,
        } in own
        {
            let Some(t) = *table else { continue };
            let mut row = Vec::new();
            let tie = self.program.tables[t].schema.parent.as_ref().map(|p| p.1);
            let mut place = *line;
            let of_table: Vec<SettingOf<'a>> = shared
                .iter()
                .filter(|(d, _)| self.declared.defs[*d].grain == Grain::Table(t))
                .chain(settings)
                .copied()
                .collect();
            for (d, s) in &of_table {
                let Some(index) = self.set_column(*d, s, t) else {
                    continue;
                };
                if tie == Some(usize::from(index)) {
                    place = s.value.as_ref().map_or(s.name.span, |e| e.span);
                }
                if let Some(value) = self.setting_value(*d, s) {
                    row.retain(|(i, _)| *i != index);
                    row.push((index, value));
                }
            }
            tables[t.index()].rows.push(row);
            places[t.index()].push(place);
        }
        self.refuse_marks_twice(&tables, &places);
        self.refuse_orphans(&tables, &places);
        tables
    }

    /// The column of a table that a line of a trial sets.
    fn set_column(&mut self, d: usize, s: &tree::Setting, t: TableId) -> Option<u16> {
        let DefKind::Column { index, .. } = self.declared.defs[d].kind else {
            self.problems.push(
                Diagnostic::error(
                    "OV-607",
                    format!(
                        "`{}` is no column and can't be set for one row",
                        s.name.text
                    ),
                )
                .at(s.name.span, "")
                .mend("set givens with `with`"),
            );
            return None;
        };
        if self.declared.defs[d].grain != Grain::Table(t) {
            let (here, there) = (
                self.program.tables[t].schema.name.clone(),
                self.name_of_grain(self.declared.defs[d].grain),
            );
            self.problems.push(
                Diagnostic::error(
                    "OV-607",
                    format!("`{}` is no column of `{here}`", s.name.text),
                )
                .at(s.name.span, format!("a column {there}"))
                .mend(format!(
                    "write `row of {}`",
                    there.trim_start_matches("for each ")
                )),
            );
            return None;
        }
        Some(index)
    }

    /// Refuses a name that one `with` or `row` line sets more than once.
    fn refuse_set_twice(&mut self, settings: &[SettingOf<'a>]) {
        for (at, (d, later)) in settings.iter().enumerate() {
            if let Some((_, first)) = settings.iter().take(at).find(|(e, _)| e == d) {
                self.problems.push(
                    Diagnostic::error(
                        "OV-671",
                        format!("`{}` is set twice in one row of a trial", later.name.text),
                    )
                    .at(later.name.span, "set again here")
                    .at(first.name.span, "the first time")
                    .mend("Keep the one that is meant."),
                );
            }
        }
    }

    /// Refuses two rows of a table with one mark, as a survey with them is refused.
    fn refuse_marks_twice(&mut self, tables: &[TrialTable], places: &[Vec<Span>]) {
        for (t, (table, places)) in self.program.tables.ids().zip(tables.iter().zip(places)) {
            let Some(key) = self.program.tables[t].schema.key else {
                continue;
            };
            let mut met: Vec<(&str, Span)> = Vec::new();
            for (row, place) in table.rows.iter().zip(places) {
                let set = row.iter().find(|(c, _)| usize::from(*c) == key);
                let Some((_, Ok(SchemaValue::Text(mark)))) = set else {
                    continue;
                };
                if let Some((_, first)) = met.iter().find(|(m, _)| m == mark) {
                    self.problems.push(
                        Diagnostic::error(
                            "OV-670",
                            format!("two rows of the trial have the mark \"{mark}\""),
                        )
                        .at(*place, "the second")
                        .at(*first, "the first")
                        .mend("Give each row a mark of its own."),
                    );
                } else {
                    met.push((mark, *place));
                }
            }
        }
    }

    /// Refuses rows of a table below another that belong to no row of the trial, or to one of several without saying which.
    fn refuse_orphans(&mut self, tables: &[TrialTable], places: &[Vec<Span>]) {
        let text = |row: &[(u16, Result<SchemaValue, AbsentKind>)], column: Option<usize>| {
            let set = row.iter().find(|(c, _)| Some(usize::from(*c)) == column);
            set.and_then(|(_, v)| {
                if let Ok(SchemaValue::Text(t)) = v {
                    Some(t.clone())
                } else {
                    None
                }
            })
        };
        for (t, places) in places.iter().enumerate() {
            let crate::program::TableInfo { schema, parent, .. } =
                &self.program.tables.as_slice()[t];
            let (Some(parent), Some((above, column))) = (*parent, schema.parent.clone()) else {
                continue;
            };
            // Which rows a table has that makes its own is known when the trial runs.
            if self.has_made_rows(parent) {
                continue;
            }
            let key = self.program.tables[parent].schema.key;
            let marks: Vec<Option<String>> = tables[parent.index()]
                .rows
                .iter()
                .map(|row| text(row, key))
                .collect();
            let known: Vec<String> = marks.iter().flatten().map(|m| format!("\"{m}\"")).collect();
            let (name, tie) = (schema.name.clone(), schema.columns[column].name.clone());
            for (row, place) in tables[t].rows.iter().zip(places) {
                let own = text(row, Some(column));
                // With one row above, rows below need not name it, and it needs no mark.
                let fits = match &own {
                    None => marks.len() == 1,
                    Some(_) => marks.contains(&own) || marks == [None],
                };
                if fits {
                    continue;
                }
                let d = match &own {
                    Some(mark) => Diagnostic::error(
                        "OV-610",
                        format!("this row of `{name}` belongs to no `{above}` of the trial"),
                    )
                    .at(*place, "")
                    .found(format!("\"{mark}\"")),
                    None => Diagnostic::error(
                        "OV-610",
                        format!("this row of `{name}` does not say to which `{above}` it belongs"),
                    )
                    .at(*place, "")
                    .mend(format!("add {tie} = \"...\"")),
                };
                self.problems.push(match known.is_empty() {
                    true => d.expected(format!("a mark set by a `row` line of `{above}`")),
                    false => d.expected(known.join(", ")),
                });
            }
        }
    }

    fn setting_def(&mut self, s: &'a tree::Setting, table: Option<TableId>) -> Option<usize> {
        let list = self
            .declared
            .by_name
            .get(s.name.text.as_str())
            .cloned()
            .unwrap_or_default();
        let wanted = table
            .or_else(|| self.program.main_table())
            .map(Grain::Table);
        let found = list
            .iter()
            .copied()
            .find(|d| Some(self.declared.defs[*d].grain) == wanted)
            .or_else(|| list.first().copied());
        match found {
            None => {
                self.unknown(
                    "OV-607",
                    "column or given",
                    &s.name,
                    Known::ColumnsAndGivens,
                );
                None
            }
            Some(d)
                if matches!(
                    self.declared.defs[d].kind,
                    DefKind::Column { .. } | DefKind::Given(_)
                ) =>
            {
                Some(d)
            }
            Some(_) => {
                self.problems.push(
                    Diagnostic::error(
                        "OV-607",
                        format!(
                            "`{}` is calculated and can't be set in a trial",
                            s.name.text
                        ),
                    )
                    .at(s.name.span, "")
                    .expected("a column or a given; use `expect` for what a rule calculates"),
                );
                None
            }
        }
    }

    /// A constant of the kind a definition has.
    fn setting_value(
        &mut self,
        d: usize,
        s: &'a tree::Setting,
    ) -> Option<Result<SchemaValue, AbsentKind>> {
        let e = match &s.value {
            Err(kind) => return Some(Err(*kind)),
            Ok(e) => e,
        };
        let t = self.define(d, 0, s.name.span).ok()?;
        let ty = self.ty(&t).clone();
        let wanted = if let Ty::Choice(c) = &ty {
            Some(*c)
        } else {
            None
        };
        let v = self.settled(e, &Context::at(Grain::Const), wanted).ok()?;
        let fits = match (&ty, self.ty(&v)) {
            (Ty::Number(a), Ty::Number(b)) => a.dim == b.dim && a.percent == b.percent,
            (a, b) => a == b,
        };
        if !fits {
            let (found, expected) = (self.words(&self.ty(&v).clone()), self.words(&ty));
            self.problems.push(
                Diagnostic::error(
                    "OV-608",
                    format!("this value does not fit `{}`", s.name.text),
                )
                .at(e.span, found.clone())
                .found(found)
                .expected(expected),
            );
            return None;
        }
        if let (DefKind::Column { table, index, .. }, Some(value)) =
            (&self.declared.defs[d].kind, self.program.constant(v.node))
        {
            let spec = &self.program.tables[*table].schema.columns[usize::from(*index)];
            if let Some(d) = self.outside(spec, value, e.span) {
                self.problems.push(d);
                return None;
            }
        }
        let value = self.program.node(v.node).kind.value();
        if value.is_none() {
            self.problems.push(
                Diagnostic::error("OV-608", "a trial sets written values")
                    .at(e.span, "")
                    .expected("a number, a text, yes, no or a label"),
            );
        }
        value.map(Ok)
    }

    /// Checks the values given for givens before the version is built on them.
    fn trial_overrides(&mut self, overrides: &[(usize, &'a tree::Setting)]) {
        for (_, s) in overrides {
            if s.value.is_err() {
                self.problems.push(
                    Diagnostic::error("OV-608", "a given is never blank").at(s.name.span, ""),
                );
            }
        }
    }

    fn build_trial(
        &mut self,
        base: &[LayeredChange<'a>],
        own: &[LayeredChange<'a>],
        overrides: &[(usize, &'a tree::Setting)],
    ) {
        self.work.pinned.clear();
        for (d, s) in overrides {
            // The kind is checked against the given as declared.
            self.kept.memo.clear();
            self.work.in_force.clear();
            if let Some(Ok(value)) = self.setting_value(*d, s) {
                self.work.pinned.insert(*d, (value, s.name.span));
            }
        }
        self.build(Some(String::new()), base, own);
        self.work.pinned.clear();
    }

    /// The value a trial pins a given to.
    pub(super) fn pinned_value(&mut self, d: usize, like: &Typed) -> Option<Typed> {
        let (value, span) = self.work.pinned.get(&d).cloned()?;
        let ty = self.ty(like).clone();
        let whole = matches!(&value, SchemaValue::Number(n) if n.is_integer());
        let node = self.program.intern(Node {
            kind: Kind::from(value),
            ty,
            grain: Grain::Const,
            missing: Missing::Never,
            span,
        });
        Some(Typed {
            node,
            pending: Pending::default(),
            whole,
            literal: false,
        })
    }
}

/// Values that a trial sets givens to, by definition.
pub(super) type Pinned = foldhash::HashMap<usize, (SchemaValue, Span)>;
