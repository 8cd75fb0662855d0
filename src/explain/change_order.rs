//! A change order: an issue of a job compared with an earlier one by opening, at the prices of the earlier one, with reasons.
//!
//! Both are worked whole: the earlier one from its record, the job as it stands at the record's prices. What prices moved meanwhile is
//! told apart, since a change order is priced at what was bid.

use super::Subject;
use super::against::{overlaid, unworkable, version_of, worked_tables};
use super::record::{Record, book_of};
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

/// One opening, or what belongs to the whole job.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Line {
    /// Its mark; none for the whole job.
    pub mark: Option<String>,
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
    /// What differs, in the order of the survey, openings that were taken out after the others and the whole job last.
    pub lines: Vec<Line>,
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
    Ok(ChangeOrder {
        lines: lines(&then, &now),
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

fn lines(then: &Estimate, now: &Estimate) -> Vec<Line> {
    let (was, is) = (prices(then), prices(now));
    let earlier: HashMap<Option<&str>, i128> = was.iter().copied().collect();
    let known: HashSet<Option<&str>> = is.iter().map(|(mark, _)| *mark).collect();
    let mut reasons = reasons(then, now);
    let mut line = |mark: Option<&str>, was: Option<i128>, now: Option<i128>| Line {
        mark: mark.map(str::to_owned),
        was,
        now,
        reasons: mark.and_then(|m| reasons.remove(m)).unwrap_or_default(),
    };
    let mut all: Vec<Line> = Vec::new();
    for (mark, cents) in &is {
        all.push(line(*mark, earlier.get(mark).copied(), Some(*cents)));
    }
    for (mark, cents) in was.iter().filter(|(mark, _)| !known.contains(mark)) {
        all.push(line(*mark, Some(*cents), None));
    }
    all.sort_by_key(|l| (l.mark.is_none(), l.now.is_none())); // stable: in the order of the survey
    all.retain(|l| l.adds() != 0 || !l.reasons.is_empty() || l.was.is_some() != l.now.is_some());
    all
}

/// By opening, each decision on it or on what lies below it that is not what it was: `N5-L, sash treatment: repair, was retain: "…"`.
fn reasons(then: &Estimate, now: &Estimate) -> HashMap<String, Vec<String>> {
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
        Column::text("what changed").wide(),
    ];
    let title = format!(
        "Changes by {}, in {}, all-in, at the earlier prices",
        order.row_word, order.currency
    );
    let mut view = View::new("change-order", title, columns);
    let money = |cents: Option<i128>| cents.map_or(Cell::Blank, Cell::Money);
    for line in &order.lines {
        let said = match (line.was, line.now, line.reasons.is_empty()) {
            (None, ..) => "new in the survey".to_owned(),
            (_, None, _) => "no longer in the survey".to_owned(),
            (_, _, false) => line.reasons.join("; "),
            _ if line.mark.is_none() => "what belongs to the whole job".to_owned(),
            _ => "other quantities of the same work".to_owned(),
        };
        view.row(vec![
            Cell::text(line.mark.as_deref().unwrap_or("whole job")),
            money(line.was),
            money(line.now),
            Cell::Money(line.adds()),
            Cell::text(said),
        ]);
    }
    view.total(vec![
        Cell::text("in all"),
        Cell::Money(order.was),
        Cell::Money(order.now),
        Cell::Money(order.now - order.was),
        Cell::Blank,
    ]);
    if order.lines.is_empty() {
        view.notes.push("Nothing changed.".to_owned());
    } else {
        view.notes.push(
            "Openings that are as they were are not listed; was and now are of the whole price."
                .to_owned(),
        );
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
        "was": cents_text(order.was),
        "now": cents_text(order.now),
        "adds": cents_text(order.now - order.was),
        "prices_moved": cents_text(order.prices_moved),
    })
}
