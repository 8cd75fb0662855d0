//! How many things of a kind sheets may declare: far more than any job has, few enough that what compares each with each stays quick.
//!
//! Sheets past a limit are refused before anything else is checked, so that no sheet can tie up the machine.

use super::load::Loaded;
use crate::diagnostics::{Diagnostic, Span};
use crate::syntax::tree::{
    ColumnType, DecideBody, Extend, Extension, ForLine, GivenValue, GrainHead, StatementKind,
    TableDef,
};

const SURVEYS: usize = 500;
const COLUMNS: usize = 2_000;
const LABELS: usize = 1_000;
const GROUPS: usize = 2_000;
const TABLES: usize = 5_000;
const HEADINGS: usize = 200;
const HELPERS: usize = 20_000;
const LINES_OF_A_DECISION: usize = 500;
const LINES_OF_A_PAY: usize = 500;
const CHARGES: usize = 2_000;
const JOB_LINES: usize = 2_000;
const CUT_LINES: usize = 500;
const CALENDAR_LINES: usize = 5_000;
const TRIALS: usize = 5_000;
const ROWS_OF_A_TRIAL: usize = 2_000;
const CHANGES: usize = 50_000;
const AMENDS: usize = 500;
const EXTENSIONS: usize = 2_000;
const ALTERNATES: usize = 1_000;
const LISTS: usize = 2_000;
/// Each alternate holds every value, and each trial is built over every one of them, if only by a glance.
const WORK_OF_ALTERNATES: usize = 2_000_000;
const WORK_OF_TRIALS: usize = 20_000_000;
/// A resource or a change is as much work as so many values.
const WEIGHT: usize = 10;

/// What was counted of one kind.
struct Count {
    what: &'static str,
    most: usize,
    so_far: usize,
}

impl Count {
    const fn new(what: &'static str, most: usize) -> Count {
        Count {
            what,
            most,
            so_far: 0,
        }
    }

    /// Counts more of them; tells once that there are too many.
    fn add(&mut self, more: usize, span: Span, problems: &mut Vec<Diagnostic>) {
        let within = self.so_far <= self.most;
        self.so_far += more;
        if within && self.so_far > self.most {
            problems.push(
                Diagnostic::error("OV-220", format!("there are too many {}", self.what))
                    .at(span, "one too many")
                    .expected(format!("at most {}", self.most)),
            );
        }
    }
}

/// Lines of an `extend` block; the block itself is one at least.
fn lines_of(block: &Extend) -> usize {
    let lines = match &block.more {
        Extension::Survey { added, columns } => added.len() + columns.len(),
        Extension::Choice(labels) => labels.len(),
        Extension::Rows(lines) => lines.len(),
        Extension::Table(edits) => edits.len(),
    };
    lines.max(1)
}

/// Whether `extend` blocks are past their limit, which [`exceeded`] then tells: they are worked before anything else is.
pub(super) fn extends_too_much<'a>(blocks: impl Iterator<Item = &'a Extend>) -> bool {
    blocks.map(lines_of).sum::<usize>() > EXTENSIONS
}

/// What the sheets have too much of.
pub(super) fn exceeded(loaded: &Loaded) -> Vec<Diagnostic> {
    let mut problems = Vec::new();
    let problems = &mut problems;
    let mut surveys = Count::new("surveys", SURVEYS);
    let mut groups = Count::new("groups", GROUPS);
    let mut tables = Count::new("tables", TABLES);
    let mut helpers = Count::new("helpers", HELPERS);
    let mut charges = Count::new("charges", CHARGES);
    let mut job_lines = Count::new("lines of a job", JOB_LINES);
    let mut calendar_lines = Count::new("lines of a calendar", CALENDAR_LINES);
    let mut trials = Count::new("trials", TRIALS);
    let mut changes = Count::new("changes", CHANGES);
    let mut amends = Count::new(
        "changes of limits, packs, names, resources and phases",
        AMENDS,
    );
    let mut extensions = Count::new("lines of `extend` blocks", EXTENSIONS);
    let mut alternates = Count::new("alternates", ALTERNATES);
    let mut lists = Count::new("lists", LISTS);
    let mut papers = Count::new("papers", LISTS);
    let mut work = 0;
    let statements = loaded.sheets.iter().flat_map(|s| &s.tree.statements);
    for statement in statements {
        let span = statement.span;
        match &statement.kind {
            StatementKind::Survey(def) => {
                surveys.add(1, span, problems);
                Count::new("columns", COLUMNS).add(def.columns.len(), span, problems);
                work += def.columns.len();
                for column in &def.columns {
                    if let ColumnType::OneOf(labels) = &column.kind {
                        Count::new("labels of one choice", LABELS).add(
                            labels.len(),
                            column.name.span,
                            problems,
                        );
                    }
                }
            }
            StatementKind::Rows(def) => surveys.add(1, def.table.span, problems),
            StatementKind::Table(def) => {
                tables.add(1, span, problems);
                Count::new("headings", HEADINGS).add(headings(def), span, problems);
            }
            StatementKind::Helper { .. } => helpers.add(1, span, problems),
            StatementKind::For(block) => {
                if let GrainHead::Group { .. } = &block.head {
                    groups.add(1, span, problems);
                }
                for line in &block.lines {
                    work += 1;
                    if let ForLine::Decide(decide) = line {
                        let lines = match &decide.body {
                            DecideBody::Lines(lines) => lines.len(),
                            DecideBody::Table(rows) => rows.len(),
                        };
                        let mut lines_of = Count::new("lines of a decision", LINES_OF_A_DECISION);
                        lines_of.add(lines, decide.span, problems);
                    }
                }
            }
            StatementKind::Given(given) => {
                work += 1;
                if let GivenValue::Label { labels, .. } = &given.value {
                    let mut of_one = Count::new("labels of one choice", LABELS);
                    of_one.add(labels.len(), span, problems);
                }
            }
            StatementKind::Choice { labels, .. } => {
                Count::new("labels of one choice", LABELS).add(labels.len(), span, problems)
            }
            StatementKind::Resource(_) => work += WEIGHT,
            StatementKind::Amend(_) => amends.add(1, span, problems),
            StatementKind::Extend(block) => extensions.add(lines_of(block), span, problems),
            StatementKind::List(_) => lists.add(1, span, problems),
            StatementKind::Paper(_) => papers.add(1, span, problems),
            StatementKind::Change(_) => {
                work += WEIGHT;
                changes.add(1, span, problems);
            }
            StatementKind::Alternate {
                changes: own,
                amends: of_it,
                ..
            } => {
                alternates.add(1, span, problems);
                amends.add(of_it.len(), span, problems);
                changes.add(own.len(), span, problems);
            }
            StatementKind::Trial(trial) => {
                trials.add(1, span, problems);
                changes.add(trial.changes.len(), span, problems);
                Count::new("rows of a trial", ROWS_OF_A_TRIAL).add(
                    trial.rows.len().max(trial.with.len()),
                    span,
                    problems,
                );
            }
            StatementKind::Job(lines) => job_lines.add(lines.len(), span, problems),
            StatementKind::Calendar { lines, .. } => {
                calendar_lines.add(lines.len(), span, problems)
            }
            StatementKind::Cut { lines, .. } => {
                Count::new("lines of a cut block", CUT_LINES).add(lines.len(), span, problems)
            }
            StatementKind::Pay { lines, .. } => {
                charges.add(1, span, problems);
                Count::new("lines of a pay", LINES_OF_A_PAY).add(lines.len(), span, problems);
            }
            StatementKind::Charge(_) | StatementKind::Allowance { .. } => {
                charges.add(1, span, problems)
            }
            StatementKind::Life { lines, .. } => job_lines.add(lines.len(), span, problems),
            // What is told apart by its name alone is found by it, and has as many as it has names.
            StatementKind::Use(_)
            | StatementKind::Counted(_)
            | StatementKind::Phases(_)
            | StatementKind::Caution(_)
            | StatementKind::Final { .. } => {}
        }
    }
    let kinds = [(&alternates, WORK_OF_ALTERNATES), (&trials, WORK_OF_TRIALS)];
    for (count, most) in kinds {
        if count.so_far.saturating_mul(work) > most {
            problems.push(
                Diagnostic::error(
                    "OV-220",
                    format!("there are too many {} for so many rules", count.what),
                )
                .found(count.so_far.to_string())
                .expected(format!("at most {}", most / work)),
            );
        }
    }
    std::mem::take(problems)
}

fn headings(def: &TableDef) -> usize {
    def.rows.first().map_or(0, Vec::len)
}
