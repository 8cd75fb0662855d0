//! Why a total is not what it was: the difference between a saved run and the job now, split among what changed, so that the parts add to
//! the whole.
//!
//! The order is stated and kept: the program itself, rules one by one where they can be, then charges, allowances, pay, the final
//! rounding and values decided for one row, the rest of the sheets, givens, cells of the survey, openings taken out and added, prices. Each part is calculated with everything before it new and everything after it old. Where the job can't be
//! calculated at some point on the way, that change and the next are reported as one.
//!
//! ```
//! # fn worked() -> ovolo::session::Session {
//! #     include!(concat!(env!("CARGO_MANIFEST_DIR"), "/tests/docs/worked.rs"))
//! # }
//! let session = worked(); // a small job in memory
//! let run = session.run().expect("it is worked");
//! let subject = run.job.subject(0, &run.survey, &run.book, &run.worked);
//! let text = ovolo::defuse::json_text(&ovolo::explain::record::Saved { subject: &subject, program: "ovolo" });
//! let record = ovolo::explain::record::Record::read("record.json", &text).expect("a record");
//! let difference = ovolo::explain::against::against(&subject, &record).expect("it is worked again");
//! assert!(difference.parts.is_empty(), "nothing has changed");
//! ```

mod cells;
mod rules;
mod terms;
mod walk;

pub(super) use self::cells::cell_changes;
use self::cells::{grouped, move_row, row_changes, told_cells};
use self::rules::{
    copy, file_name, given_spans, given_text, kind_of, names, pin, put_rule, rules_of, spans_of,
    written,
};
use self::walk::Walk;
use super::Subject;
use super::kept::KeptTable;
use super::record::{Figures, KeptPrice, MadeFrom, Record, book_of, kept, kept_prices};
use super::sheets::{squeezed, squeezed_rest};
use crate::check::{self, Checked, Loaded, Options, Pin, Point};
use crate::diagnostics::{Diagnostic, FileId, Span};
use crate::estimate::{Basis, Refused, Survey, estimate, estimate_each};
use crate::eval;
use crate::number::{Exact, NumError};
use crate::prices::PriceBook;
use crate::pricing::Origin;
use crate::program::{Program, ValueDef, ValueKind, Version};
use crate::survey::Report;
use crate::syntax::tree::Rule;
use crate::takeoff::Wish;

/// What kind of thing changed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
#[allow(missing_docs)]
pub enum ChangeKind {
    Program,
    Rule,
    Charge,
    Allowance,
    Pay,
    Final,
    Exception,
    Sheets,
    Given,
    Cell,
    Row,
    Price,
}

impl ChangeKind {
    /// Its word.
    pub fn word(self) -> &'static str {
        match self {
            ChangeKind::Program => "program",
            ChangeKind::Rule => "rule",
            ChangeKind::Charge => "charge",
            ChangeKind::Allowance => "allowance",
            ChangeKind::Pay => "pay",
            ChangeKind::Final => "rounding",
            ChangeKind::Exception => "exception",
            ChangeKind::Sheets => "sheets",
            ChangeKind::Given => "given",
            ChangeKind::Cell => "cell",
            ChangeKind::Row => "row",
            ChangeKind::Price => "price",
        }
    }

    /// Its word for several.
    pub fn words(self) -> &'static str {
        match self {
            ChangeKind::Program => "programs",
            ChangeKind::Rule => "rules",
            ChangeKind::Charge => "charges",
            ChangeKind::Allowance => "allowances",
            ChangeKind::Pay => "pay blocks",
            ChangeKind::Final => "roundings",
            ChangeKind::Exception => "exceptions",
            ChangeKind::Sheets => "places in sheets",
            ChangeKind::Given => "givens",
            ChangeKind::Cell => "cells",
            ChangeKind::Row => "rows",
            ChangeKind::Price => "prices",
        }
    }
}

/// One thing that changed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Changed {
    /// What kind.
    pub kind: ChangeKind,
    /// Its name: a rule, a given, a mark and a column, a resource.
    pub name: String,
    /// What it was.
    pub was: String,
    /// What it is.
    pub now: String,
}

/// A part of the difference.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Part {
    /// What changed: one thing, or several that can't be calculated one without the other.
    pub changed: Vec<Changed>,
    /// What the figures were before it.
    pub before: Figures,
    /// What they are after it.
    pub after: Figures,
}

/// The whole difference and its parts.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Difference {
    /// Program the record was made with.
    pub program: String,
    /// Figures of the record.
    pub was: Figures,
    /// Figures now.
    pub now: Figures,
    /// Parts in order; each begins where the one before it ends.
    pub parts: Vec<Part>,
    /// What changed and moved no figure.
    pub idle: Vec<Changed>,
    /// Names of the files that hold other bytes than then, that are new, or that the job no longer reads. Empty for records of earlier versions.
    pub files: Vec<String>,
}

impl Part {
    /// What it does to an amount: of labor, stock, glass, points or putty by its place. Errors: [`NumError::TooManyDigits`].
    pub fn amount(&self, class: usize) -> Result<Exact, NumError> {
        match (
            self.after.amounts.get(class),
            self.before.amounts.get(class),
        ) {
            (Some(after), Some(before)) => after.sub(before),
            _ => Ok(Exact::ZERO),
        }
    }

    /// What it does to the total, in cents.
    pub fn total(&self) -> i128 {
        self.after.total - self.before.total
    }
}

/// Splits the difference between a record and a job as it stands. The subject must be the alternate the record was made of.
/// Errors: OV-923 where the record can't be calculated again.
pub fn against(subject: &Subject<'_>, record: &Record) -> Result<Difference, Refused> {
    let mut old = record.sheets().map_err(unworkable)?;
    let alternates = Options {
        alternates: record.alternate.is_some(),
        trials: false,
    };
    let (checked, problems) = check::check(&old, alternates);
    let Some(checked) = checked else {
        return Err(unworkable(problems));
    };
    let mut walk = Walk {
        record,
        parts: Vec::new(),
        at: record.figures.clone(),
        pending: Vec::new(),
        idle: Vec::new(),
    };
    let first = worked_old(&checked, record).map_err(|e| match e {
        Refused::Messages(list) => unworkable(list),
        Refused::Stopped => Refused::Stopped,
    })?;
    walk.step(
        vec![change(
            ChangeKind::Program,
            "the program itself",
            &record.program,
            "this one",
        )],
        Some(first),
    );
    let rest = walk.rules(subject, &mut old, &checked);
    let tables = fitted(subject, record);
    let book = overlaid(subject, record);
    walk.givens(subject, (&old, &checked), rest, &tables, &book)?;
    walk.survey(subject, tables, &book);
    walk.prices(subject);
    let now = Figures::of(subject.estimate);
    walk.end(now.clone());
    Ok(Difference {
        program: record.program.clone(),
        was: record.figures.clone(),
        now,
        parts: walk.parts,
        idle: walk.idle,
        files: files_changed(record, &subject.estimate.origin),
    })
}

/// Names of files whose bytes differ between a record and what a job is made from now.
fn files_changed(record: &Record, now: &Origin) -> Vec<String> {
    if record.made_from.is_empty() {
        return vec![];
    }
    let then = |role: &str, name: &str| {
        let of = |f: &&MadeFrom| f.role == role && f.name == name;
        record.made_from.iter().find(of).map(|f| f.sha256.as_str())
    };
    let is = |f: &&MadeFrom| {
        !now.files
            .iter()
            .any(|n| n.role == f.role && n.name == f.name)
    };
    let changed = now
        .files
        .iter()
        .filter(|f| f.role != "record" && then(&f.role, &f.name) != Some(f.sha256.as_str()))
        .map(|f| f.name.clone());
    let gone = record.made_from.iter().filter(is).map(|f| f.name.clone());
    changed.chain(gone).collect()
}

pub(super) fn unworkable(mut list: Vec<Diagnostic>) -> Refused {
    let head = Diagnostic::error(
        "OV-923",
        "the earlier run can't be calculated again from its record",
    )
    .note("What follows refers to the sheets in the record, with the line numbers of that time.");
    list.insert(0, head);
    Refused::Messages(list)
}

fn change(
    kind: ChangeKind,
    name: impl Into<String>,
    was: impl Into<String>,
    now: impl Into<String>,
) -> Changed {
    Changed {
        kind,
        name: name.into(),
        was: was.into(),
        now: now.into(),
    }
}

/// The version of a program with a name.
pub(super) fn version_of<'p>(
    program: &'p Program,
    name: Option<&str>,
) -> Option<(usize, &'p Version)> {
    program
        .versions
        .iter()
        .enumerate()
        .find(|(_, v)| v.name.as_deref() == name)
}

fn worked(
    program: &Program,
    version: usize,
    survey: &Survey,
    book: &PriceBook,
) -> Result<Figures, Refused> {
    let done = estimate(
        program,
        version,
        survey,
        book,
        Wish::default(),
        &[],
        &eval::Options::default(),
        Origin::default(),
    )?;
    Ok(Figures::of(&done.estimate))
}

/// The record calculated again from its own sheets, survey and prices.
fn worked_old(checked: &Checked, record: &Record) -> Result<Figures, Refused> {
    let program = &checked.program;
    let Some((at, version)) = version_of(program, record.alternate.as_deref()) else {
        return Err(unfit("no such alternate".to_owned()));
    };
    let survey = worked_tables(program, record)?;
    worked(program, at, &survey, &book_of(version, &record.prices))
}

fn unfit(words: String) -> Refused {
    Refused::Messages(vec![
        Diagnostic::error("OV-923", "the survey of the record does not fit its sheets")
            .found(words),
    ])
}

/// The survey of a record as its own sheets read it. Errors: OV-923.
pub(super) fn worked_tables(program: &Program, record: &Record) -> Result<Survey, Refused> {
    let tables: Vec<KeptTable> = program
        .tables
        .iter()
        .map(|info| {
            record
                .survey
                .iter()
                .find(|t| t.name == info.schema.name)
                .map_or_else(KeptTable::default, |t| {
                    t.fitted(&info.schema, &KeptTable::default())
                })
        })
        .collect();
    survey_of(program, &tables).map_err(unfit)
}

/// A survey of kept tables. Errors in words.
fn survey_of(program: &Program, tables: &[KeptTable]) -> Result<Survey, String> {
    let mut survey = Survey::default();
    for (info, table) in program.tables.iter().zip(tables) {
        let above = info
            .parent
            .and_then(|p| Some((&program.tables.get(p)?.schema, tables.get(p.index())?)));
        survey.tables.push(table.table(&info.schema, above)?);
        survey.reports.push(Report::empty(&info.schema.name));
        survey.texts.push(None);
    }
    Ok(survey)
}

/// The tables of the record with the columns of the sheets now.
pub(super) fn fitted(subject: &Subject<'_>, record: &Record) -> Vec<KeptTable> {
    let now = kept(&subject.checked.program, subject);
    let fit = |(info, now): (&crate::program::TableInfo, &KeptTable)| {
        record
            .survey
            .iter()
            .find(|t| t.name == info.schema.name)
            .map_or_else(|| now.clone(), |t| t.fitted(&info.schema, now))
    };
    subject
        .checked
        .program
        .tables
        .iter()
        .zip(&now)
        .map(fit)
        .collect()
}

/// The prices of the record; what it has no price for has the one it has now.
pub(super) fn overlaid(subject: &Subject<'_>, record: &Record) -> Vec<KeptPrice> {
    let mut prices = record.prices.clone();
    for price in kept_prices(subject.version(), subject.book) {
        if !prices.iter().any(|p| p.resource == price.resource) {
            prices.push(price);
        }
    }
    prices
}
