//! How many things of a kind sheets may declare: far more than any job has, few enough that what compares each with each stays quick.
//!
//! Sheets past a limit are refused before anything else is checked, so that no sheet can tie up the machine.

use super::load::Loaded;
use crate::diagnostics::{Diagnostic, Span};
use crate::syntax::tree::{
    ColumnType, DecideBody, Extend, Extension, ForBlock, ForLine, GivenValue, GrainHead, Statement,
    StatementKind, SurveyDef, TableDef,
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

/// Whether `extend` blocks are past their limit, which [`exceeded`] then tells: they are calculated before anything else is.
pub(super) fn extends_too_much<'a>(blocks: impl Iterator<Item = &'a Extend>) -> bool {
    blocks.map(lines_of).sum::<usize>() > EXTENSIONS
}

/// What the sheets have too much of.
pub(super) fn exceeded(loaded: &Loaded) -> Vec<Diagnostic> {
    let mut counts = Counts::new();
    for statement in loaded.sheets.iter().flat_map(|s| &s.tree.statements) {
        counts.statement(statement);
    }
    counts.too_much_work();
    counts.problems
}

/// Everything that is counted over all sheets.
struct Counts {
    surveys: Count,
    groups: Count,
    tables: Count,
    helpers: Count,
    charges: Count,
    job_lines: Count,
    calendar_lines: Count,
    trials: Count,
    changes: Count,
    amends: Count,
    extensions: Count,
    alternates: Count,
    lists: Count,
    papers: Count,
    /// What each alternate and each trial has to look at.
    work: usize,
    problems: Vec<Diagnostic>,
}

impl Counts {
    fn new() -> Counts {
        Counts {
            surveys: Count::new("surveys", SURVEYS),
            groups: Count::new("groups", GROUPS),
            tables: Count::new("tables", TABLES),
            helpers: Count::new("helpers", HELPERS),
            charges: Count::new("charges", CHARGES),
            job_lines: Count::new("lines of a job", JOB_LINES),
            calendar_lines: Count::new("lines of a calendar", CALENDAR_LINES),
            trials: Count::new("trials", TRIALS),
            changes: Count::new("changes", CHANGES),
            amends: Count::new(
                "changes of limits, packs, names, resources and phases",
                AMENDS,
            ),
            extensions: Count::new("lines of `extend` blocks", EXTENSIONS),
            alternates: Count::new("alternates", ALTERNATES),
            lists: Count::new("lists", LISTS),
            papers: Count::new("papers", LISTS),
            work: 0,
            problems: Vec::new(),
        }
    }

    /// What is limited in each statement by itself.
    fn one(&mut self, what: &'static str, most: usize, found: usize, span: Span) {
        Count::new(what, most).add(found, span, &mut self.problems);
    }

    fn statement(&mut self, statement: &Statement) {
        let span = statement.span;
        match &statement.kind {
            StatementKind::Survey(def) => self.survey(def, span),
            StatementKind::Rows(def) => self.surveys.add(1, def.table.span, &mut self.problems),
            StatementKind::Table(def) => {
                self.tables.add(1, span, &mut self.problems);
                self.one("headings", HEADINGS, headings(def), span);
            }
            StatementKind::Helper { .. } => self.helpers.add(1, span, &mut self.problems),
            StatementKind::For(block) => self.block(block, span),
            StatementKind::Given(given) => {
                self.work += 1;
                if let GivenValue::Label { labels, .. } = &given.value {
                    self.one("labels of one choice", LABELS, labels.len(), span);
                }
            }
            StatementKind::Choice { labels, .. } => {
                self.one("labels of one choice", LABELS, labels.len(), span)
            }
            StatementKind::Resource(_) => self.work += WEIGHT,
            StatementKind::Amend(_) => self.amends.add(1, span, &mut self.problems),
            StatementKind::Extend(block) => {
                self.extensions
                    .add(lines_of(block), span, &mut self.problems)
            }
            StatementKind::List(_) => self.lists.add(1, span, &mut self.problems),
            StatementKind::Paper(_) => self.papers.add(1, span, &mut self.problems),
            StatementKind::Change(_) => {
                self.work += WEIGHT;
                self.changes.add(1, span, &mut self.problems);
            }
            StatementKind::Alternate {
                changes: own,
                amends: of_it,
                ..
            } => {
                self.alternates.add(1, span, &mut self.problems);
                self.amends.add(of_it.len(), span, &mut self.problems);
                self.changes.add(own.len(), span, &mut self.problems);
            }
            StatementKind::Trial(trial) => {
                self.trials.add(1, span, &mut self.problems);
                self.changes
                    .add(trial.changes.len(), span, &mut self.problems);
                self.one(
                    "rows of a trial",
                    ROWS_OF_A_TRIAL,
                    trial.rows.len().max(trial.with.len()),
                    span,
                );
            }
            StatementKind::Job(lines) => self.job_lines.add(lines.len(), span, &mut self.problems),
            StatementKind::Calendar { lines, .. } => {
                self.calendar_lines
                    .add(lines.len(), span, &mut self.problems)
            }
            StatementKind::Cut { lines, .. } => {
                self.one("lines of a cut block", CUT_LINES, lines.len(), span)
            }
            StatementKind::Pay { lines, .. } => {
                self.charges.add(1, span, &mut self.problems);
                self.one("lines of a pay", LINES_OF_A_PAY, lines.len(), span);
            }
            StatementKind::Charge(_) | StatementKind::Allowance { .. } => {
                self.charges.add(1, span, &mut self.problems)
            }
            StatementKind::Life { lines, .. } => {
                self.job_lines.add(lines.len(), span, &mut self.problems)
            }
            // What is told apart by its name alone is found by it, and has as many as it has names.
            StatementKind::Use(_)
            | StatementKind::Counted(_)
            | StatementKind::Phases(_)
            | StatementKind::Caution(_)
            | StatementKind::Final { .. } => {}
        }
    }

    fn survey(&mut self, def: &SurveyDef, span: Span) {
        self.surveys.add(1, span, &mut self.problems);
        self.one("columns", COLUMNS, def.columns.len(), span);
        self.work += def.columns.len();
        for column in &def.columns {
            if let ColumnType::OneOf(labels) = &column.kind {
                let span = column.name.span;
                self.one("labels of one choice", LABELS, labels.len(), span);
            }
        }
    }

    fn block(&mut self, block: &ForBlock, span: Span) {
        if let GrainHead::Group { .. } = &block.head {
            self.groups.add(1, span, &mut self.problems);
        }
        self.work += block.lines.len();
        for line in &block.lines {
            if let ForLine::Decide(decide) = line {
                let lines = match &decide.body {
                    DecideBody::Lines(lines) => lines.len(),
                    DecideBody::Table(rows) => rows.len(),
                };
                let what = "lines of a decision";
                self.one(what, LINES_OF_A_DECISION, lines, decide.span);
            }
        }
    }

    /// Many alternates or trials over many rules.
    fn too_much_work(&mut self) {
        let kinds = [
            (&self.alternates, WORK_OF_ALTERNATES),
            (&self.trials, WORK_OF_TRIALS),
        ];
        for (count, most) in kinds {
            if count.so_far.saturating_mul(self.work) > most {
                self.problems.push(
                    Diagnostic::error(
                        "OV-220",
                        format!("there are too many {} for so many rules", count.what),
                    )
                    .found(count.so_far.to_string())
                    .expected(format!("at most {}", most / self.work)),
                );
            }
        }
    }
}

fn headings(def: &TableDef) -> usize {
    def.rows.first().map_or(0, Vec::len)
}
