//! A change order: an issue of a job compared with an earlier one by opening, at the prices of the earlier one, with reasons.
//!
//! Both are worked whole: the earlier one from its record, the job as it stands at the record's prices. What prices moved meanwhile is
//! told apart, since a change order is priced at what was bid.

use super::Subject;
use super::against::{cell_changes, fitted, overlaid, unworkable, version_of, worked_tables};
use super::record::{Record, book_of, kept};
use crate::check::{self, Options};
use crate::estimate::{Refused, Survey, estimate};
use crate::eval;
use crate::number::cents_text;
use crate::prices::PriceBook;
use crate::pricing::{CutKind, Estimate, Origin, spoken};
use crate::program::Program;
use crate::report::{Cell, Column, View};
use crate::takeoff::{Treatment, Wish};
use serde_json::{Value, json};
use std::collections::{HashMap, HashSet};

/// Name and version of the form as JSON.
pub const SCHEMA: &str = "ovolo-change-order/1";

/// One opening.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Line {
    /// Its mark.
    pub mark: String,
    /// All-in amount in the earlier issue, in cents; none for an opening that was not in it.
    pub was: Option<i128>,
    /// All-in amount now, at the earlier prices; none for an opening that was taken out.
    pub now: Option<i128>,
    /// What was decided otherwise, and why.
    pub reasons: Vec<String>,
}

impl Line {
    /// What it adds to the price, in cents; below zero is a deduction.
    pub fn adds(&self) -> i128 {
        self.now.unwrap_or(0) - self.was.unwrap_or(0)
    }
}

/// A change order.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ChangeOrder {
    /// What was decided or surveyed otherwise, in the order of the survey, then openings that were taken out.
    pub lines: Vec<Line>,
    /// How many further openings cost more or less because they share set-up, access or packs with these, and what they add in all.
    pub shared: (usize, i128),
    /// What is added to the whole job, in cents.
    pub whole_job: i128,
    /// The price of the earlier issue, in cents.
    pub was: i128,
    /// The price now, at the earlier prices.
    pub now: i128,
    /// What the price book and rates moved the price by since then; not part of the change.
    pub prices_moved: i128,
    /// Currency code.
    pub currency: String,
    /// What a row is called.
    pub row_word: String,
}

/// Compares a job with an earlier issue. The subject must be the alternate the record was made of.
///
/// # Errors
///
/// OV-923 where the earlier issue cannot be worked again; what the job is refused for at the earlier prices.
pub fn change_order(subject: &Subject<'_>, record: &Record) -> Result<ChangeOrder, Refused> {
    let then = earlier(record)?;
    let program = &subject.checked.program;
    let book = book_of(subject.version(), &overlaid(subject, record));
    let now = work(program, subject.version, subject.survey, &book)?;
    let mut reasons = decided(&then, &now);
    let tables = kept(program, subject);
    for edit in cell_changes(program, &fitted(subject, record), &tables) {
        if let Some(mark) = opening_of(&now.facts.marks, &edit.mark) {
            let told = format!(
                "{}: {}, was {}",
                edit.told.name, edit.told.now, edit.told.was
            );
            reasons.entry(mark.to_owned()).or_default().push(told);
        }
    }
    let (lines, shared, whole_job) = lines(&then, &now, reasons);
    Ok(ChangeOrder {
        lines,
        shared,
        whole_job,
        was: then.totals.grand,
        now: now.totals.grand,
        prices_moved: subject.estimate.totals.grand - now.totals.grand,
        currency: now.currency.clone(),
        row_word: now.facts.row_word.clone(),
    })
}

/// The earlier issue, worked again by row from its own sheets, survey and prices.
fn earlier(record: &Record) -> Result<Estimate, Refused> {
    let sheets = record.sheets().map_err(unworkable)?;
    let options = Options {
        alternates: record.alternate.is_some(),
        trials: false,
    };
    let (checked, problems) = check::check(&sheets, options);
    let checked = checked.ok_or_else(|| unworkable(problems))?;
    let survey = worked_tables(&checked.program, record)?;
    let (at, version) = version_of(&checked.program, record.alternate.as_deref())
        .ok_or_else(|| unworkable(Vec::new()))?;
    let book = book_of(version, &record.prices);
    work(&checked.program, at, &survey, &book).map_err(|e| match e {
        Refused::Messages(list) => unworkable(list),
        Refused::Stopped => Refused::Stopped,
    })
}

fn work(
    program: &Program,
    version: usize,
    survey: &Survey,
    book: &PriceBook,
) -> Result<Estimate, Refused> {
    let wish = Wish {
        by_row: true,
        treatment: true,
        ..Wish::default()
    };
    let options = eval::Options::default();
    let done = estimate(
        program,
        version,
        survey,
        book,
        wish,
        &[],
        &options,
        Origin::default(),
    )?;
    Ok(done.estimate)
}

/// The price of each opening, and of the whole job under no mark.
fn prices(estimate: &Estimate) -> Vec<(Option<&str>, i128)> {
    let rows = estimate.cut(CutKind::Opening).map_or(&[][..], |c| &c.rows);
    let mark = |r: &crate::pricing::CutRow| (!r.whole_job).then_some(());
    rows.iter()
        .map(|r| (mark(r).map(|()| r.key.as_str()), r.price()))
        .collect()
}

/// Openings with a reason, the others together, and the whole job.
fn lines(
    then: &Estimate,
    now: &Estimate,
    mut reasons: HashMap<String, Vec<String>>,
) -> (Vec<Line>, (usize, i128), i128) {
    let (was, is) = (prices(then), prices(now));
    let earlier: HashMap<Option<&str>, i128> = was.iter().copied().collect();
    let known: HashSet<Option<&str>> = is.iter().map(|(mark, _)| *mark).collect();
    let gone = was.iter().filter(|(mark, _)| !known.contains(mark));
    let kept = is
        .iter()
        .map(|(mark, cents)| (*mark, earlier.get(mark).copied(), Some(*cents)));
    let (mut lines, mut shared, mut whole_job) = (Vec::new(), (0, 0), 0);
    for (mark, was, now) in kept.chain(gone.map(|(mark, cents)| (*mark, Some(*cents), None))) {
        let adds = now.unwrap_or(0) - was.unwrap_or(0);
        let Some(mark) = mark else {
            whole_job += adds;
            continue;
        };
        let reasons = reasons.remove(mark).unwrap_or_default();
        if !reasons.is_empty() || was.is_some() != now.is_some() {
            lines.push(Line {
                mark: mark.to_owned(),
                was,
                now,
                reasons,
            });
        } else if adds != 0 {
            shared = (shared.0 + 1, shared.1 + adds);
        }
    }
    (lines, shared, whole_job)
}

/// The opening that a row is, or whose mark its own begins with: `N5` for `N5-L` and `N5, 3`.
fn opening_of<'m>(marks: &'m [String], row: &str) -> Option<&'m str> {
    let begins = |mark: &&String| {
        row.strip_prefix(mark.as_str())
            .is_some_and(|rest| rest.is_empty() || rest.starts_with('-') || rest.starts_with(", "))
    };
    marks
        .iter()
        .filter(begins)
        .max_by_key(|m| m.len())
        .map(String::as_str)
}

/// By opening, each decision on it or on what lies below it that is not what it was: `N5-L, sash treatment: repair, was retain: "…"`.
fn decided(then: &Estimate, now: &Estimate) -> HashMap<String, Vec<String>> {
    let key = |t: &Treatment| (t.mark.clone(), t.decision.clone());
    let before: HashMap<_, _> = then.facts.treatment.iter().map(|t| (key(t), t)).collect();
    let mut out: HashMap<String, Vec<String>> = HashMap::new();
    for one in &now.facts.treatment {
        let Some(mark) = one.main_row.and_then(|row| now.facts.marks.get(row)) else {
            continue;
        };
        let Some(old) = before.get(&key(one)).filter(|old| old.label != one.label) else {
            continue;
        };
        let word = |t: &Treatment| t.label.as_deref().map_or("unknown".to_owned(), spoken);
        out.entry(mark.clone()).or_default().push(format!(
            "{}, {}: {}, was {}: \"{}\"",
            one.mark,
            spoken(&one.decision),
            word(one),
            word(old),
            one.because
        ));
    }
    out
}

/// As a table.
pub fn view(order: &ChangeOrder) -> View {
    let columns = vec![
        Column::text(order.row_word.clone()),
        Column::number("was"),
        Column::number("now"),
        Column::number("add or deduct"),
        Column::text("what changed"),
    ];
    let title = format!(
        "Changes by {}, in {}, all-in, at the earlier prices",
        order.row_word, order.currency
    );
    let mut view = View::new("change-order", title, columns);
    let money = |cents: Option<i128>| cents.map_or(Cell::Blank, Cell::Money);
    for line in &order.lines {
        let said = match (line.was, line.now) {
            (None, _) => "new in the survey".to_owned(),
            (_, None) => "no longer in the survey".to_owned(),
            _ => line.reasons.join("; "),
        };
        let adds = Cell::Money(line.adds());
        view.row(vec![
            Cell::text(line.mark.clone()),
            money(line.was),
            money(line.now),
            adds,
            Cell::text(said),
        ]);
    }
    let (count, adds) = order.shared;
    let others = match count {
        1 => "1 other",
        _ => "others",
    };
    for (name, said, cents) in [
        (
            others,
            format!("{count} that share set-up, access or whole packs with these"),
            adds,
        ),
        (
            "whole job",
            "what belongs to no one of them".to_owned(),
            order.whole_job,
        ),
    ] {
        if cents != 0 {
            view.row(vec![
                Cell::text(name),
                Cell::Blank,
                Cell::Blank,
                Cell::Money(cents),
                Cell::text(said),
            ]);
        }
    }
    view.total(vec![
        Cell::text("in all"),
        Cell::Money(order.was),
        Cell::Money(order.now),
        Cell::Money(order.now - order.was),
        Cell::Blank,
    ]);
    if order.was == order.now && order.lines.is_empty() {
        view.notes.push("Nothing changed.".to_owned());
    }
    if order.prices_moved != 0 {
        view.notes.push(format!(
            "Prices and rates moved the whole by {} {} since then. That is not in these figures.",
            crate::number::cents_grouped(order.prices_moved),
            order.currency
        ));
    }
    view
}

/// As JSON.
pub fn json(order: &ChangeOrder) -> Value {
    let money = |cents: Option<i128>| cents.map_or(Value::Null, |c| json!(cents_text(c)));
    let line = |l: &Line| json!({"mark": l.mark, "was": money(l.was), "now": money(l.now), "adds": cents_text(l.adds()), "reasons": l.reasons});
    json!({
        "schema": SCHEMA,
        "currency": order.currency,
        "lines": order.lines.iter().map(line).collect::<Value>(),
        "shared": {"openings": order.shared.0, "adds": cents_text(order.shared.1)},
        "whole_job": cents_text(order.whole_job),
        "was": cents_text(order.was),
        "now": cents_text(order.now),
        "adds": cents_text(order.now - order.was),
        "prices_moved": cents_text(order.prices_moved),
    })
}
