//! Studies as tables: where two alternates cost the same, totals over one or two figures, givens ranked.
//!
//! ```
//! # fn worked() -> ovolo::session::Session {
//! #     include!(concat!(env!("CARGO_MANIFEST_DIR"), "/tests/docs/worked.rs"))
//! # }
//! let session = worked(); // a small job in memory
//! let run = session.run().expect("it is worked");
//! let study = ovolo::study::Study {
//!     loaded: &run.job.loaded,
//!     program: &run.job.checked.program,
//!     survey: &run.survey,
//!     book: &run.book,
//!     options: &Default::default(),
//! };
//! let (total, ranked) = ovolo::study::rank(&study, None).map_err(|_| "no total").expect("a total");
//! let total = total.expect("a sum");
//! let table = ovolo::report::study::rank(study.program, "as decided", &Ok(total), &ranked);
//! assert!(table.text(80).contains("pace"));
//! ```

use super::page::{Page, figures};
use super::view::{Cell, Column, View};
use super::workbook::write_tabs as workbook_of;
use super::{Face, csv as comma, terminal};
use crate::diagnostics::Diagnostic;
use crate::drawing::Drawing;
use crate::number::{cents_grouped, cents_text};
use crate::program::Program;
use crate::study::{Flip, Grid, Ranked, Segment, Side, Subject, Total};
use serde_json::{Value, json};

/// Name and version of the form of a study as JSON.
pub const SCHEMA: &str = "ovolo-study/1";

/// A table with its title, notes and rows, ready to be shown.
#[derive(Debug, Clone)]
pub struct StudyTable {
    view: View,
}

impl StudyTable {
    pub(super) fn new(view: View) -> StudyTable {
        StudyTable { view }
    }

    /// For a terminal.
    pub fn text(&self, width: usize) -> String {
        terminal::draw(&self.view, width)
    }

    /// Name of the table.
    pub fn name(&self) -> &str {
        &self.view.name
    }
}

/// One of several tables as CSV. Errors: OV-840 for the name of another table.
pub fn csv(tables: &[StudyTable], name: &str, face: &Face) -> Result<String, Diagnostic> {
    let views: Vec<View> = tables.iter().map(|t| t.view.clone()).collect();
    comma::pick(&views, name, face)
}

/// Tables and their charts as a page for printing. The same study gives the same bytes.
pub fn page(tables: &[StudyTable], title: &str, face: &Face, drawings: &[Drawing]) -> String {
    let lines = face.lines();
    let page = Page {
        title,
        subtitle: tables.first().map_or("", |t| &t.view.title),
        face: &lines,
    };
    page.write(
        tables.iter().map(|t| &t.view).filter(|v| !v.is_empty()),
        &figures(drawings),
    )
}

/// Tables as a workbook, each on a tab of its own. Errors: OV-841 when a table does not fit into a workbook.
pub fn workbook(tables: &[StudyTable], title: &str, face: &Face) -> Result<Vec<u8>, Diagnostic> {
    let tabs: Vec<(&str, Vec<View>)> = tables
        .iter()
        .map(|t| (t.view.name.as_str(), vec![t.view.clone()]))
        .collect();
    workbook_of(title, "", face, &tabs)
}

/// Tables as JSON: headings, rows of plain texts, notes.
pub fn json(tables: &[StudyTable]) -> Value {
    let cell = |c: &Cell| match c {
        Cell::Blank => Value::Null,
        Cell::Money(cents) => json!(cents_text(*cents)),
        other @ (Cell::Text(_)
        | Cell::Number(..)
        | Cell::Count(_)
        | Cell::Quantity(..)
        | Cell::Price(..)) => json!(other.plain_number().unwrap_or_else(|| other.shown())),
    };
    let table = |t: &StudyTable| {
        let headings: Vec<&str> = t.view.columns.iter().map(|c| c.heading.as_str()).collect();
        let rows: Value = t
            .view
            .rows
            .iter()
            .map(|r| r.cells.iter().map(cell).collect::<Value>())
            .collect();
        json!({"table": t.view.name, "title": t.view.title, "headings": headings, "rows": rows, "notes": t.view.notes})
    };
    json!({"schema": SCHEMA, "tables": tables.iter().map(table).collect::<Value>()})
}

fn money(total: Option<i128>) -> Cell {
    total.map_or_else(|| Cell::text("refused"), Cell::Money)
}

fn of(total: &Total) -> Cell {
    money(total.as_ref().ok().copied())
}

/// What a total is refused for, once each.
fn reasons<'a>(totals: impl IntoIterator<Item = &'a Total>) -> Vec<String> {
    let mut out: Vec<String> = Vec::new();
    for d in totals
        .into_iter()
        .filter_map(|t| t.as_ref().err())
        .flatten()
    {
        let line = format!("Refused: {} {}.", d.code, d.message.trim_end_matches('.'));
        if !out.contains(&line) {
            out.push(line);
        }
    }
    out
}

/// Where two alternates cost the same.
pub fn flip(program: &Program, flip: &Flip) -> StudyTable {
    let names = flip
        .ask
        .pair
        .each_ref()
        .map(|n| n.as_deref().unwrap_or("as decided"));
    let text = |at: &crate::number::Exact| flip.ask.subject.text(program, at);
    let columns = vec![
        Column::text("from"),
        Column::text("to"),
        Column::text("costs less"),
        Column::number(format!("{} at from", names[0])),
        Column::number(format!("{} at from", names[1])),
        Column::number(format!("{} at to", names[0])),
        Column::number(format!("{} at to", names[1])),
    ];
    let title = format!(
        "{} and {} over {}",
        names[0],
        names[1],
        flip.ask.subject.title()
    );
    let mut view = View::new("flip", title, columns);
    for one in &flip.segments {
        let less = match one.side {
            Side::First => names[0],
            Side::Second => names[1],
            Side::Same => "the same",
            Side::Refused => "refused",
        };
        let (a, b) = (&one.from.1, &one.to.1);
        view.row(vec![
            Cell::text(text(&one.from.0)),
            Cell::text(text(&one.to.0)),
            Cell::text(less),
            money(a[0]),
            money(a[1]),
            money(b[0]),
            money(b[1]),
        ]);
    }
    let currency = program.currency.as_deref().unwrap_or("");
    view.notes = flip_notes(flip, names, &text, currency);
    StudyTable::new(view)
}

fn flip_notes(
    flip: &Flip,
    names: [&str; 2],
    text: &dyn Fn(&crate::number::Exact) -> String,
    currency: &str,
) -> Vec<String> {
    let title = flip.ask.subject.title();
    let (low, high) = (text(&flip.ask.low), text(&flip.ask.high));
    let mut notes = Vec::new();
    if flip.is_flat() {
        notes.push(format!(
            "The difference does not depend on {title} between {low} and {high}."
        ));
    }
    if let [only] = flip.segments.as_slice()
        && let (Side::First | Side::Second, Some((least, most))) = (only.side, only.differences)
    {
        let less = names[usize::from(only.side == Side::Second)];
        let (a, b) = (least.abs().min(most.abs()), least.abs().max(most.abs()));
        let by = if a == b {
            format!("by {} {currency}", cents_grouped(a))
        } else {
            format!("by {} to {} {currency}", cents_grouped(a), cents_grouped(b))
        };
        notes.push(format!(
            "They never cost the same between {low} and {high}: {less} costs less throughout, {by}."
        ));
    }
    notes.extend(flip.segments.windows(2).filter_map(|w| match w {
        [before, after] => Some(change_line(before, after, names, text)),
        _ => None,
    }));
    notes.extend(
        flip.segments
            .iter()
            .filter(|s| s.side == Side::Same)
            .map(|s| {
                format!(
                    "They cost the same from {} to {}, {} {currency}.",
                    text(&s.from.0),
                    text(&s.to.0),
                    s.from.1[0].map_or_else(String::new, cents_grouped)
                )
            }),
    );
    let step = text(&flip.step);
    notes.push(format!(
        "{} values were tried. Each change of side lies within {step}{}. Two changes that cancel each other between neighboring values are not seen.",
        flip.looked_at,
        if flip.wavers() { " where they are few; where the side wavers, to the values shown" } else { "" }
    ));
    let refused: Vec<Total> = flip
        .segments
        .iter()
        .filter(|s| !s.refused.is_empty())
        .map(|s| Err(s.refused.clone()))
        .collect();
    notes.extend(reasons(&refused));
    notes
}

fn change_line(
    before: &Segment,
    after: &Segment,
    names: [&str; 2],
    text: &dyn Fn(&crate::number::Exact) -> String,
) -> String {
    let phrase = |side: Side| match side {
        Side::First => format!("{} costs less", names[0]),
        Side::Second => format!("{} costs less", names[1]),
        Side::Same => "both cost the same".to_owned(),
        Side::Refused => "one of them can't be calculated".to_owned(),
    };
    format!(
        "Up to {} {}; from {} on {}.",
        text(&before.to.0),
        phrase(before.side),
        text(&after.from.0),
        phrase(after.side)
    )
}

/// Givens in the order of what their ranges do to the total.
pub fn rank(program: &Program, version: &str, as_is: &Total, ranked: &[Ranked]) -> StudyTable {
    let columns = [
        Column::text("given"),
        Column::text("low"),
        Column::text("as it is").wide(),
        Column::text("high"),
    ]
    .into_iter();
    let columns = columns
        .chain(["at low", "at high", "moves by"].map(Column::number))
        .collect();
    let mut view = View::new(
        "rank",
        format!("What each range does to the total, {version}"),
        columns,
    );
    for one in ranked {
        let (low, high) = (
            one.subject.text(program, &one.ends.0),
            one.subject.text(program, &one.ends.1),
        );
        view.row(vec![
            Cell::text(one.subject.name.clone()),
            Cell::text(low),
            Cell::text(if one.set {
                "set by the alternate".to_owned()
            } else {
                as_it_is(program, &one.subject)
            }),
            Cell::text(high),
            of(&one.low),
            of(&one.high),
            one.effect.map_or(Cell::Blank, Cell::Money),
        ]);
    }
    if let Ok(total) = as_is {
        view.notes.push(format!(
            "The total as it is: {} {}.",
            cents_grouped(*total),
            program.currency.as_deref().unwrap_or("")
        ));
    }
    view.notes
        .push("One given at a time, the others as they are.".to_owned());
    view.notes.extend(reasons(
        ranked.iter().flat_map(|r| [&r.low, &r.high]).chain([as_is]),
    ));
    StudyTable::new(view)
}

fn as_it_is(program: &Program, subject: &Subject) -> String {
    match &subject.kind {
        crate::study::SubjectKind::Number { value, .. } => subject.text(program, value),
        crate::study::SubjectKind::Few(_) | crate::study::SubjectKind::Price { .. } => {
            String::new()
        }
    }
}

/// Totals over the values of one figure for each version, or of two for one version.
pub fn over(grid: &Grid, rows: &Subject, columns: Option<&Subject>, version: &str) -> StudyTable {
    let title = match columns {
        Some(other) => format!(
            "Total over {} (down) and {} (across), {version}",
            rows.title(),
            other.title()
        ),
        None => format!("Total over {}", rows.title()),
    };
    let heads = std::iter::once(Column::text(rows.title()))
        .chain(grid.columns.iter().map(|c| Column::number(c.clone())))
        .collect();
    let mut view = View::new("over", title, heads);
    for (head, totals) in grid.rows.iter().zip(&grid.totals) {
        view.row(
            std::iter::once(Cell::text(head.clone()))
                .chain(totals.iter().map(of))
                .collect(),
        );
    }
    view.notes = reasons(grid.totals.iter().flatten());
    StudyTable::new(view)
}
