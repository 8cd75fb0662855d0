//! A difference between two runs as tables and as JSON, schema `ovolo-against/1`.
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
//! assert_eq!(ovolo::explain::difference::json(&difference)["schema"], "ovolo-against/1");
//! ```

use super::against::{ChangeKind, Changed, Difference, Part};
use super::record::{CLASSES, Figures};
use crate::number::{Exact, cents_text};
use crate::pricing::Estimate;
use crate::report::{Cell, Column, View};
use serde_json::{Map, Value, json};

/// Name and version of the form.
pub const SCHEMA: &str = "ovolo-against/1";

/// A figure whose difference is split.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Figure {
    /// The final figure.
    Total,
    /// Cost before charges.
    Cost,
    /// The net amount of a class, by its place in the headline.
    Amount(usize),
}

impl Figure {
    /// Every figure.
    pub fn all() -> impl Iterator<Item = Figure> {
        [Figure::Total, Figure::Cost]
            .into_iter()
            .chain((0..CLASSES.len()).map(Figure::Amount))
    }

    /// Its name: `total`, `cost`, `labor`, `stock`, `glass`, `points`, `putty`.
    pub fn name(self) -> &'static str {
        match self {
            Figure::Total => "total",
            Figure::Cost => "cost",
            Figure::Amount(at) => CLASSES.get(at).map_or("", |c| c.word()),
        }
    }

    /// The figure of a name.
    pub fn named(name: &str) -> Option<Figure> {
        Figure::all().find(|f| f.name() == name)
    }

    fn cell(self, figures: &Figures, estimate: &Estimate) -> Cell {
        match self {
            Figure::Total => Cell::Money(figures.total),
            Figure::Cost => Cell::Money(figures.cost),
            Figure::Amount(at) => figures.amounts.get(at).map_or(Cell::Blank, |n| {
                Cell::Quantity(n.clone(), unit(at, estimate))
            }),
        }
    }

    /// What lies between two of its values; none where it grows too long.
    fn between(self, before: &Figures, after: &Figures) -> Option<Exact> {
        let money = |a: i128, b: i128| Some(Exact::from_cents(b - a));
        match self {
            Figure::Total => money(before.total, after.total),
            Figure::Cost => money(before.cost, after.cost),
            Figure::Amount(at) => after.amounts.get(at)?.sub(before.amounts.get(at)?).ok(),
        }
    }

    /// A difference; below zero where it is less now.
    fn difference(self, before: &Figures, after: &Figures, estimate: &Estimate) -> Cell {
        match (self, self.between(before, after)) {
            (Figure::Total, _) => Cell::Money(after.total - before.total),
            (Figure::Cost, _) => Cell::Money(after.cost - before.cost),
            (Figure::Amount(at), Some(value)) => Cell::Quantity(value, unit(at, estimate)),
            (Figure::Amount(_), None) => Cell::text("too long to print"),
        }
    }
}

/// The unit of a class in the headline.
fn unit(at: usize, estimate: &Estimate) -> String {
    let row = CLASSES
        .get(at)
        .and_then(|c| estimate.headline.iter().find(|r| r.class == *c));
    row.map_or_else(String::new, |r| r.unit.clone())
}

/// The parts of one figure's difference, and every figure then and now. `estimate` is that of the job now.
pub fn views(difference: &Difference, figure: Figure, estimate: &Estimate) -> [View; 2] {
    let touches = |p: &&Part| {
        figure
            .between(&p.before, &p.after)
            .is_none_or(|d| !d.is_zero())
    };
    let columns = vec![
        Column::text("what"),
        Column::text("which"),
        Column::text("was"),
        Column::text("now"),
        Column::quantity("difference"),
    ];
    let mut parts = View::new(
        "changes",
        format!("Why the {} is not what it was", figure.name()),
        columns,
    );
    for part in difference.parts.iter().filter(touches) {
        for (at, changed) in part.changed.iter().enumerate() {
            let amount = if at == 0 {
                figure.difference(&part.before, &part.after, estimate)
            } else {
                Cell::text("with it")
            };
            parts.row(vec![
                Cell::text(changed.kind.word()),
                Cell::text(changed.name.clone()),
                Cell::text(changed.was.clone()),
                Cell::text(changed.now.clone()),
                amount,
            ]);
        }
    }
    let whole = figure.difference(&difference.was, &difference.now, estimate);
    parts.total(vec![
        Cell::text("in all"),
        Cell::Blank,
        Cell::Blank,
        Cell::Blank,
        whole,
    ]);
    if difference.parts.is_empty() {
        parts.notes.push(nothing_moved(&difference.idle));
    }
    let idle = difference.parts.len() - difference.parts.iter().filter(touches).count();
    match idle {
        0 => {}
        1 => parts.notes.push(format!(
            "One further change does not touch the {}.",
            figure.name()
        )),
        _ => parts.notes.push(format!(
            "{idle} further changes do not touch the {}.",
            figure.name()
        )),
    }
    parts.notes.push(
        "In this order: the program, rules, charges, the rest of the sheets, givens, cells, rows, prices; each is calculated with everything above it new and everything below it old."
            .to_owned(),
    );
    let columns = vec![
        Column::text("figure"),
        Column::quantity("was"),
        Column::quantity("now"),
        Column::quantity("difference"),
    ];
    let mut figures = View::new("figures", "Then and now", columns);
    for one in Figure::all() {
        figures.row(vec![
            Cell::text(one.name()),
            one.cell(&difference.was, estimate),
            one.cell(&difference.now, estimate),
            one.difference(&difference.was, &difference.now, estimate),
        ]);
    }
    if !difference.files.is_empty() {
        let list = difference.files.join(", ");
        figures
            .notes
            .push(format!("Files that are not what they were: {list}."));
    }
    [parts, figures]
}

fn changed_json(c: &Changed) -> Value {
    json!({"kind": c.kind.word(), "name": c.name, "was": c.was, "now": c.now})
}

/// What changed though no figure moved: `2 cells and 1 given changed, no figure moved.`
fn nothing_moved(idle: &[Changed]) -> String {
    let mut kinds: Vec<ChangeKind> = idle.iter().map(|c| c.kind).collect();
    kinds.sort_unstable();
    kinds.dedup();
    let counts: Vec<String> = kinds
        .into_iter()
        .map(
            |kind| match idle.iter().filter(|c| c.kind == kind).count() {
                1 => format!("1 {}", kind.word()),
                n => format!("{n} {}", kind.words()),
            },
        )
        .collect();
    match counts.as_slice() {
        [] => "Nothing changed, and no figure moved.".to_owned(),
        [one] => format!("{one} changed, no figure moved."),
        [most @ .., last] => format!("{} and {last} changed, no figure moved.", most.join(", ")),
    }
}

/// As JSON. The same difference gives the same bytes.
pub fn json(difference: &Difference) -> Value {
    let figures = |f: &Figures| {
        let amounts: Map<String, Value> = CLASSES
            .iter()
            .zip(&f.amounts)
            .map(|(c, n)| (c.word().to_owned(), json!(n.to_string())))
            .collect();
        json!({"total": cents_text(f.total), "cost": cents_text(f.cost), "amounts": amounts})
    };
    let part = |p: &Part| {
        let changed: Value = p.changed.iter().map(changed_json).collect();
        let amounts: Map<String, Value> = CLASSES
            .iter()
            .enumerate()
            .map(|(at, c)| {
                (
                    c.word().to_owned(),
                    p.amount(at).map_or(Value::Null, |n| json!(n.to_string())),
                )
            })
            .collect();
        json!({"changed": changed, "total": cents_text(p.total()), "cost": cents_text(p.after.cost - p.before.cost), "amounts": amounts})
    };
    json!({
        "schema": SCHEMA,
        "record_program": difference.program,
        "was": figures(&difference.was),
        "now": figures(&difference.now),
        "parts": difference.parts.iter().map(part).collect::<Value>(),
        "files": difference.files,
        "moved_no_figure": difference.idle.iter().map(changed_json).collect::<Value>(),
    })
}
