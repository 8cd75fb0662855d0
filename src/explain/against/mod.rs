//! Why a total is not what it was: the difference between a saved run and the job now, split among what changed, so that the parts add to
//! the whole.
//!
//! The order is stated and kept: the program itself, rules one by one where they can be, then charges, allowances, pay and the final
//! rounding, the rest of the sheets, givens, cells of the survey, openings taken out and added, prices. Each part is worked with everything before it new and everything after it old. Where the job can't be
//! worked at some point on the way, that change and the next are told as one.

mod cells;
mod rules;
mod terms;

pub(super) use self::cells::cell_changes;
use self::cells::{grouped, move_row, row_changes, told_cells};
use self::rules::{
    copy, file_name, given_spans, given_text, kind_of, names, pin, put_rule, rules_of, spans_of,
    written,
};
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
    /// What changed: one thing, or several that can't be worked one without the other.
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
/// Errors: OV-923 where the record can't be worked again.
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
        "the earlier run can't be worked again from its record",
    )
    .note("What follows is said of the sheets in the record; their lines are those they had then.");
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

/// The record worked again from its own sheets, survey and prices.
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

/// The way from the record to now.
struct Walk<'a> {
    record: &'a Record,
    parts: Vec<Part>,
    at: Figures,
    /// Changes made that could not be worked yet.
    pending: Vec<Changed>,
    /// Changes that moved no figure.
    idle: Vec<Changed>,
}

impl Walk<'_> {
    /// A step to a state with these figures; none where it can't be worked, so that it is told with the next one.
    fn step(&mut self, changed: Vec<Changed>, figures: Option<Figures>) {
        self.pending.extend(changed);
        let Some(figures) = figures else { return };
        let changed = std::mem::take(&mut self.pending);
        if figures != self.at {
            let before = std::mem::replace(&mut self.at, figures.clone());
            self.parts.push(Part {
                changed,
                before,
                after: figures,
            });
        } else {
            // That the program is the same is no change.
            let real = |c: &Changed| c.kind != ChangeKind::Program;
            self.idle.extend(changed.into_iter().filter(real));
        }
    }

    /// The last step: whatever is still between here and now.
    fn end(&mut self, now: Figures) {
        if self.at != now {
            let changed = match self.pending.is_empty() {
                true => vec![change(ChangeKind::Row, "the order of the rows", "", "")],
                false => vec![],
            };
            self.step(changed, Some(now));
        }
    }

    /// Rules that stand in both, and what is charged, put one by one into the sheets of the record.
    fn rules(&mut self, subject: &Subject<'_>, old: &mut Loaded, was: &Checked) -> Rest {
        let mut rest = Rest::default();
        let name = self.record.alternate.as_deref();
        let Some((_, before)) = version_of(&was.program, name) else {
            return rest;
        };
        let mut changed: Vec<(String, Rule, Changed)> = Vec::new();
        for (head, rule) in rules_of(subject.loaded) {
            let now = squeezed(&subject.loaded.sources, rule.span);
            let Some((_, other)) = rules_of(old)
                .into_iter()
                .find(|(h, r)| *h == head && r.name.text == rule.name.text)
            else {
                continue;
            };
            let then = squeezed(&old.sources, other.span);
            let plain = before
                .values
                .iter()
                .any(|v| v.name == rule.name.text && v.replaced.is_empty());
            if then != now && plain {
                rest.told_then.push(other.span);
                rest.told_now.push(rule.span);
                changed.push((
                    head,
                    rule.clone(),
                    change(ChangeKind::Rule, rule.name.text.clone(), then, now),
                ));
            }
        }
        let edits = terms::edits(old, subject.loaded);
        for (head, rule, told) in changed {
            self.put(old, &mut rest, told, |sheets| {
                put_rule(sheets, &head, &rule)
            });
        }
        for edit in edits {
            rest.told_then.extend(edit.then);
            rest.told_now.extend(edit.now);
            self.put(old, &mut rest, edit.told.clone(), |sheets| {
                edit.make(sheets)
            });
        }
        rest
    }

    /// Makes a change in the sheets of the record. One that can't be worked there is left for the rest of the sheets.
    fn put(
        &mut self,
        old: &mut Loaded,
        rest: &mut Rest,
        told: Changed,
        make: impl FnOnce(&mut Loaded),
    ) {
        let kept = copy(old);
        make(old);
        let (checked, _) = check::check(
            old,
            Options {
                alternates: self.record.alternate.is_some(),
                trials: false,
            },
        );
        match checked
            .as_ref()
            .and_then(|c| worked_old(c, self.record).ok())
        {
            Some(figures) => self.step(vec![told], Some(figures)),
            None => {
                *old = kept;
                rest.left.push(told);
            }
        }
    }

    /// The rest of the sheets, then the givens: versions of the program now, with givens as they were.
    fn givens(
        &mut self,
        subject: &Subject<'_>,
        (old, was): (&Loaded, &Checked),
        mut rest: Rest,
        tables: &[KeptTable],
        prices: &[KeptPrice],
    ) -> Result<(), Refused> {
        let program = &subject.checked.program;
        let name = self.record.alternate.as_deref();
        let (Some((_, before)), now) = (version_of(&was.program, name), subject.version()) else {
            return Ok(());
        };
        let mut pins: Vec<(Pin, Changed)> = Vec::new();
        for value in now
            .values
            .iter()
            .filter(|v| matches!(v.kind, ValueKind::Given { .. }))
        {
            let Some(then) = before
                .values
                .iter()
                .find(|v| v.name == value.name && matches!(v.kind, ValueKind::Given { .. }))
            else {
                continue;
            };
            if let Some(pin) = pin(&was.program, then, program, value) {
                let told = change(
                    ChangeKind::Given,
                    value.name.clone(),
                    given_text(&was.program, then),
                    given_text(program, value),
                );
                pins.push((
                    Pin::Given {
                        name: value.name.clone(),
                        value: pin,
                    },
                    told,
                ));
            }
        }
        let point = |from: usize| Point {
            alternate: name.map(str::to_owned),
            pins: pins.iter().skip(from).map(|(p, _)| p.clone()).collect(),
        };
        let points: Vec<Point> = (0..=pins.len()).map(point).collect();
        let (checked, problems) = check::check_points(subject.loaded, Options::default(), &points);
        let Some(checked) = checked else {
            return Err(Refused::Messages(problems));
        };
        let outcomes = match survey_of(&checked.program, tables) {
            Ok(survey) => {
                let book = book_of(now, prices);
                let basis = Basis {
                    program: &checked.program,
                    survey: &survey,
                    book: &book,
                    origin: Origin::default(),
                };
                estimate_each(
                    &basis,
                    &checked.points,
                    Wish::default(),
                    &[],
                    &eval::Options::default(),
                )?
                .each
            }
            // The survey of the record does not fit the new sheets: it is told with the first change of the survey that mends it.
            Err(words) => checked
                .points
                .iter()
                .map(|_| Err(vec![Diagnostic::error("OV-923", words.clone())]))
                .collect(),
        };
        let mut outcomes = outcomes
            .into_iter()
            .map(|o| o.ok().map(|e| Figures::of(&e)));
        for (_, told) in &pins {
            rest.told_then.extend(given_spans(old, &told.name));
            rest.told_now
                .extend(given_spans(subject.loaded, &told.name));
        }
        let mut sheets = std::mem::take(&mut rest.left);
        sheets.extend(self.sheet_changes(subject, old, was, rest));
        self.step(sheets, outcomes.next().flatten());
        for ((_, told), figures) in pins.into_iter().zip(outcomes) {
            self.step(vec![told], figures);
        }
        Ok(())
    }

    /// What else changed in the sheets, by name where it has one.
    fn sheet_changes(
        &self,
        subject: &Subject<'_>,
        old: &Loaded,
        was: &Checked,
        mut rest: Rest,
    ) -> Vec<Changed> {
        let name = self.record.alternate.as_deref();
        let (Some((_, before)), now) = (version_of(&was.program, name), subject.version()) else {
            return vec![];
        };
        let own = |v: &ValueDef, other: &Version| {
            !matches!(v.kind, ValueKind::Column { .. })
                && !other.values.iter().any(|o| o.name == v.name)
        };
        let mut told: Vec<Changed> = Vec::new();
        for value in now.values.iter().filter(|v| own(v, before)) {
            told.push(change(
                kind_of(value),
                value.name.clone(),
                "",
                written(subject.loaded, value),
            ));
            rest.told_now.extend(spans_of(subject.loaded, &value.name));
        }
        for value in before.values.iter().filter(|v| own(v, now)) {
            told.push(change(
                kind_of(value),
                value.name.clone(),
                written(old, value),
                "",
            ));
            rest.told_then.extend(spans_of(old, &value.name));
        }
        let mut gone: Vec<(&str, FileId)> = names(old);
        for (name, file) in names(subject.loaded) {
            let same = gone.iter().position(|(n, _)| *n == name).or_else(|| {
                gone.iter()
                    .position(|(n, _)| file_name(n) == file_name(name))
            });
            let Some((_, then)) = same.map(|at| gone.remove(at)) else {
                told.push(change(ChangeKind::Sheets, file_name(name), "", "there"));
                continue;
            };
            if squeezed_rest(&old.sources, then, &rest.told_then)
                != squeezed_rest(&subject.loaded.sources, file, &rest.told_now)
            {
                told.push(change(
                    ChangeKind::Sheets,
                    format!("the rest of {}", file_name(name)),
                    "",
                    "",
                ));
            }
        }
        told.extend(
            gone.into_iter()
                .map(|(name, _)| change(ChangeKind::Sheets, file_name(name), "there", "")),
        );
        let mut tables: Vec<&(String, String)> = subject
            .loaded
            .tables
            .values()
            .filter_map(|t| t.as_ref().ok())
            .collect();
        tables.sort_unstable();
        for (name, text) in tables {
            if !self
                .record
                .texts
                .iter()
                .any(|(n, t)| file_name(n) == file_name(name) && t == text)
            {
                told.push(change(
                    ChangeKind::Sheets,
                    format!("the table {}", file_name(name)),
                    "",
                    "",
                ));
            }
        }
        told
    }

    /// Cells, then rows taken out, then rows added.
    fn survey(&mut self, subject: &Subject<'_>, mut tables: Vec<KeptTable>, prices: &[KeptPrice]) {
        let program = &subject.checked.program;
        let book = book_of(subject.version(), prices);
        let now = kept(program, subject);
        let figures = |tables: &[KeptTable]| {
            survey_of(program, tables)
                .ok()
                .and_then(|s| worked(program, subject.version, &s, &book).ok())
        };
        for group in grouped(cell_changes(program, &tables, &now)) {
            for edit in &group {
                if let Some(cell) = tables
                    .get_mut(edit.table.index())
                    .and_then(|t| t.rows.get_mut(edit.row))
                    .and_then(|r| r.cells.get_mut(edit.column))
                {
                    *cell = edit.cell.clone();
                }
            }
            let told = told_cells(group);
            self.step(told, figures(&tables));
        }
        for out in [true, false] {
            for (table, row) in row_changes(program, &tables, &now, out) {
                let word = &program.tables[table].schema.name;
                let told = change(
                    ChangeKind::Row,
                    format!("{word} {}", row.name),
                    if out { "there" } else { "" },
                    if out { "" } else { "there" },
                );
                // Rows below it went or came with it.
                let moved = move_row(program, &mut tables, &now, table, &row, out);
                if moved {
                    self.step(vec![told], figures(&tables));
                }
            }
        }
        // The survey as it stands: the order of its rows is all that can still differ.
        let order = tables.iter().zip(&now).any(|(a, b)| a.rows != b.rows);
        let last = worked(program, subject.version, subject.survey, &book).ok();
        self.step(
            if order {
                vec![change(ChangeKind::Row, "the order of the rows", "", "")]
            } else {
                vec![]
            },
            last,
        );
    }

    /// Prices of the book, one by one; the last state is the job as it stands.
    fn prices(&mut self, subject: &Subject<'_>) {
        let program = &subject.checked.program;
        let now = kept_prices(subject.version(), subject.book);
        let mut prices = overlaid(subject, self.record);
        let text = |p: Option<&KeptPrice>| p.map_or_else(String::new, |p| price_text(program, p));
        let names: Vec<String> = prices.iter().map(|p| p.resource.clone()).collect();
        for name in names {
            let new = now.iter().find(|p| p.resource == name);
            let old = prices.iter().find(|p| p.resource == name);
            if new == old {
                continue;
            }
            let told = change(
                ChangeKind::Price,
                format!("price of {name}"),
                text(old),
                text(new),
            );
            prices.retain(|p| p.resource != name);
            prices.extend(new.cloned());
            let book = book_of(subject.version(), &prices);
            self.step(
                vec![told],
                worked(program, subject.version, subject.survey, &book).ok(),
            );
        }
    }
}

/// What is still to be told of the sheets.
#[derive(Default)]
struct Rest {
    /// Rules that need something else of the new sheets.
    left: Vec<Changed>,
    /// Stretches of the old sheets that are told by name.
    told_then: Vec<Span>,
    /// Stretches of the new sheets that are told by name.
    told_now: Vec<Span>,
}

fn price_text(program: &Program, price: &KeptPrice) -> String {
    let (digits, _) = Exact::from(price.price).to_decimal(6);
    let currency = program.currency.as_deref().unwrap_or("");
    let pack = price
        .pack
        .as_ref()
        .map_or_else(String::new, |p| format!(", in {}", p.word));
    format!("{digits} {currency} per {}{pack}", price.unit)
}
