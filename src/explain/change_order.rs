//! A change order: an issue of a job compared with an earlier one by opening, at the prices of the earlier one, with reasons.
//!
//! Both are calculated whole: the earlier one from its record, the job as it is at the record's prices. What prices moved meanwhile is
//! told apart, since a change order is priced at what was bid.
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
//! let order = ovolo::explain::change_order::change_order(&subject, &record).expect("it is worked again");
//! assert!(order.lines.is_empty(), "no opening has changed");
//! ```

use super::Subject;
use super::against::{cell_changes, fitted, overlaid, unworkable, version_of, worked_tables};
use super::record::{Record, book_of, kept};
use crate::check::{self, Checked, Options};
use crate::estimate::{Refused, Survey, estimate};
use crate::eval;
use crate::number::{NumError, cents_text};
use crate::paper::Class;
use crate::prices::PriceBook;
use crate::pricing::bid::{self, ChangeOrder, ChangedOpening, Reason, Together};
use crate::pricing::{CutKind, Estimate, Origin, spoken, too_long};
use crate::program::{
    ChargeAmountDef, ChargeBase, PayDef, Program, ResourceId, ValueKind, Version, class_of_reasons,
    shows_private,
};
use crate::report::{Cell, Column, View};
use crate::table::ColumnKind;
use crate::takeoff::{Treatment, Wish};
use crate::units::Base;
use serde_json::{Value, json};
use std::collections::{HashMap, HashSet};

/// Name and version of the form as JSON.
pub const SCHEMA: &str = "ovolo-change-order/1";

/// Compares a job with an earlier issue. The subject must be the alternate the record was made of.
///
/// # Errors
///
/// OV-923 where the earlier issue cannot be calculated again; what the job is refused for at the earlier prices.
pub fn change_order(subject: &Subject<'_>, record: &Record) -> Result<ChangeOrder, Refused> {
    let then = earlier(record)?;
    let program = &subject.checked.program;
    let book = book_of(subject.version(), &overlaid(subject, record));
    let as_bid = at_rates_of(program, subject.version(), &then);
    let now = work(&as_bid, subject.version, subject.survey, &book)?;
    let version = subject.version();
    let mut reasons = decided((program, version), &then.estimate, &now);
    let tables = kept(program, subject);
    for edit in cell_changes(program, &fitted(subject, record), &tables) {
        if let Some(mark) = opening_of(&now.facts.marks, &edit.mark) {
            let told = format!(
                "{}: {}, was {}",
                edit.told.name, edit.told.now, edit.told.was
            );
            let column = program.tables.get(edit.table);
            let column = column.and_then(|t| t.schema.columns.get(edit.column));
            let class = match column {
                Some(column) => class_of_column(version, &column.name, &column.kind),
                None => Class::Private,
            };
            let reason = Reason { text: told, class };
            reasons.entry(mark.to_owned()).or_default().push(reason);
        }
    }
    let last = |e: &Estimate| e.schedule.as_deref().map(|plan| plan.finish.last_day());
    let finish = last(&then.estimate).zip(last(&now));
    let sorted = sorted(&then.estimate, &now, reasons);
    let sorted =
        sorted.map_err(|e| Refused::Messages(vec![too_long("the price of an opening", e)]))?;
    Ok(ChangeOrder {
        lines: sorted.lines,
        shared: sorted.shared,
        unchanged: sorted.unchanged,
        since: then.since,
        finish,
        was: then.estimate.totals.grand,
        now: now.totals.grand,
        prices_moved: subject.estimate.totals.grand - now.totals.grand,
        currency: now.currency.clone(),
        row_word: now.facts.row_word.clone(),
    })
}

/// Who may read what a column of the survey held.
fn class_of_column(version: &Version, name: &str, kind: &ColumnKind) -> Class {
    let counts = |base| kind.unit().is_some_and(|u| u.dim().exponent(base) != 0);
    match shows_private(version, name) || counts(Base::Money) || counts(Base::Labor) {
        true => Class::Private,
        false => Class::Open,
    }
}

/// An earlier issue, calculated again by row.
struct Then {
    checked: Checked,
    version: usize,
    estimate: Estimate,
    /// Its day.
    since: Option<i32>,
}

/// The job with the wages, charges and final rounding of an earlier issue: a change is priced at what was bid.
fn at_rates_of(program: &Program, version: &Version, then: &Then) -> Program {
    let theirs = &then.checked.program;
    let mut out = program.clone();
    let Some(old) = theirs.versions.get(then.version) else {
        return out;
    };
    let ours = |id: ResourceId| {
        let name = &old.resources.get(id)?.name;
        version.resources.id_of(|r| r.name == *name)
    };
    for pay in &theirs.terms.pays {
        let Some(resource) = ours(pay.resource) else {
            continue;
        };
        let pay = PayDef {
            resource,
            ..pay.clone()
        };
        match out.terms.pays.iter_mut().find(|p| p.resource == resource) {
            Some(known) => *known = pay,
            None => out.terms.pays.push(pay),
        }
    }
    let mut charges = theirs.terms.charges.clone();
    for charge in &mut charges {
        if let ChargeAmountDef::Share { bases, .. } = &mut charge.amount {
            let kept = bases.iter().filter_map(|base| match base {
                ChargeBase::Resource(id) => ours(*id).map(ChargeBase::Resource),
                other @ (ChargeBase::Class(_) | ChargeBase::Charge(_) | ChargeBase::AllSoFar) => {
                    Some(*other)
                }
            });
            *bases = kept.collect();
        }
    }
    out.terms.charges = charges;
    out.terms.final_rounding = theirs.terms.final_rounding.clone();
    out
}

/// The earlier issue, calculated again by row from its own sheets, survey and prices.
fn earlier(record: &Record) -> Result<Then, Refused> {
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
    let since = checked.program.day_of_issue(version);
    let worked = work(&checked.program, at, &survey, &book).map_err(|e| match e {
        Refused::Messages(list) => unworkable(list),
        Refused::Stopped => Refused::Stopped,
    });
    Ok(Then {
        estimate: worked?,
        checked,
        version: at,
        since,
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

/// The price of each opening, with its share of what belongs to none; that share alone would tell a fixed charge.
fn prices(estimate: &Estimate) -> Result<Vec<(String, i128)>, NumError> {
    let Some(cut) = estimate.cut(CutKind::Opening) else {
        return Ok(Vec::new());
    };
    let items = bid::items(cut, "whole job")?;
    Ok(items.into_iter().map(|i| (i.name, i.cents)).collect())
}

/// Openings with a reason, and the others together.
#[derive(Default)]
struct Sorted {
    lines: Vec<ChangedOpening>,
    shared: Together,
    unchanged: Together,
}

fn sorted(
    then: &Estimate,
    now: &Estimate,
    mut reasons: HashMap<String, Vec<Reason>>,
) -> Result<Sorted, NumError> {
    let (was, is) = (prices(then)?, prices(now)?);
    let earlier: HashMap<&str, i128> = was.iter().map(|(m, c)| (m.as_str(), *c)).collect();
    let known: HashSet<&str> = is.iter().map(|(mark, _)| mark.as_str()).collect();
    let gone = was
        .iter()
        .filter(|(mark, _)| !known.contains(mark.as_str()));
    let kept = is
        .iter()
        .map(|(mark, cents)| (mark, earlier.get(mark.as_str()).copied(), Some(*cents)));
    let mut out = Sorted::default();
    for (mark, was, now) in kept.chain(gone.map(|(mark, cents)| (mark, Some(*cents), None))) {
        let both = (was.unwrap_or(0), now.unwrap_or(0));
        let reasons = reasons.remove(mark).unwrap_or_default();
        if !reasons.is_empty() || was.is_some() != now.is_some() {
            out.lines.push(ChangedOpening {
                mark: mark.clone(),
                was,
                now,
                reasons,
            });
        } else if both.0 != both.1 {
            out.shared.put(both.0, both.1);
        } else {
            out.unchanged.put(both.0, both.1);
        }
    }
    Ok(out)
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
fn decided(
    (program, version): (&Program, &Version),
    then: &Estimate,
    now: &Estimate,
) -> HashMap<String, Vec<Reason>> {
    let mut classes: HashMap<&str, Class> = HashMap::new();
    for value in &version.values {
        if let ValueKind::Decide(decide) = &value.kind {
            let class = match shows_private(version, &value.name) {
                true => Class::Private,
                false => class_of_reasons(program, version, decide),
            };
            classes.insert(&value.name, class);
        }
    }
    let key = |t: &Treatment| (t.mark.clone(), t.decision.clone());
    let before: HashMap<_, _> = then.facts.treatment.iter().map(|t| (key(t), t)).collect();
    let mut out: HashMap<String, Vec<Reason>> = HashMap::new();
    for one in &now.facts.treatment {
        let Some(mark) = one.main_row.and_then(|row| now.facts.marks.get(row)) else {
            continue;
        };
        let Some(old) = before.get(&key(one)).filter(|old| old.label != one.label) else {
            continue;
        };
        let word = |t: &Treatment| t.label.as_deref().map_or("unknown".to_owned(), spoken);
        out.entry(mark.clone()).or_default().push(Reason {
            text: format!(
                "{}, {}: {}, was {}: \"{}\"",
                one.mark,
                spoken(&one.decision),
                word(one),
                word(old),
                one.because
            ),
            class: classes
                .get(&*one.decision)
                .copied()
                .unwrap_or(Class::Private),
        });
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
            _ => {
                let each = line.reasons.iter().map(|r| r.text.as_str());
                each.collect::<Vec<_>>().join("; ")
            }
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
    let (count, adds) = (order.shared.count, order.shared.adds());
    let others = match count {
        1 => "1 other",
        _ => "others",
    };
    if adds != 0 {
        let said = format!("{count} that share set-up, access or whole packs with these");
        view.row(vec![
            Cell::text(others),
            Cell::Blank,
            Cell::Blank,
            Cell::Money(adds),
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
    let line = |l: &ChangedOpening| {
        let reasons: Vec<&str> = l.reasons.iter().map(|r| r.text.as_str()).collect();
        json!({"mark": l.mark, "was": money(l.was), "now": money(l.now), "adds": cents_text(l.adds()), "reasons": reasons})
    };
    json!({
        "schema": SCHEMA,
        "currency": order.currency,
        "lines": order.lines.iter().map(line).collect::<Value>(),
        "shared": {"openings": order.shared.count, "adds": cents_text(order.shared.adds())},
        "was": cents_text(order.was),
        "now": cents_text(order.now),
        "adds": cents_text(order.now - order.was),
        "prices_moved": cents_text(order.prices_moved),
    })
}
