//! `ovolo estimate --in-force`: every given and rule with its layer, source and what it replaced.

use super::args::Common;
use super::{exit, output};
use ovolo::diagnostics::render::place_text;
use ovolo::diagnostics::{Sources, Span};
use ovolo::program::{AmendDef, ExceptionDef, ValueDef, ValueKind};
use ovolo::report::{Cell, Column, Face, View, csv, terminal};
use ovolo::session::Job;
use ovolo::syntax::tree::Layer;
use std::process::ExitCode;
use std::sync::Arc;

/// A line of the list, as text.
struct Line {
    name: String,
    kind: &'static str,
    layer: String,
    written: String,
    /// Its source or the reason for it.
    why: String,
    place: String,
    replaced: String,
}

/// Prints the list.
pub fn print(
    job: &Job,
    version: usize,
    as_csv: bool,
    common: &Common,
) -> Result<ExitCode, ExitCode> {
    let version = &job.checked.program.versions[version];
    let mut lines: Vec<Line> = version
        .values
        .iter()
        .filter_map(|value| of_value(job, value))
        .collect();
    lines.extend(version.exceptions.iter().map(|one| {
        let value = version.values.iter().find(|value| value.name == one.name);
        of_exception(&job.loaded.sources, one, value)
    }));
    lines.extend(
        version
            .amends
            .iter()
            .map(|one| of_amend(&job.loaded.sources, one)),
    );
    if common.json {
        let list: Vec<_> = lines
            .iter()
            .map(|l| {
                serde_json::json!({"name": l.name, "kind": l.kind, "layer": l.layer, "written": l.written, "source": l.why, "place": l.place, "replaces": l.replaced})
            })
            .collect();
        output::json(&serde_json::json!({"schema": "ovolo-in-force/1", "values": list}));
        return Ok(ExitCode::from(exit::DONE));
    }
    let view = view(lines, as_csv);
    output::print(&if as_csv {
        csv::write(&view, &Face::default())
    } else {
        terminal::draw(&view, output::width(common))
    });
    Ok(ExitCode::from(exit::DONE))
}

/// A given, rule or decision; none for a column.
fn of_value(job: &Job, value: &ValueDef) -> Option<Line> {
    let sources = &job.loaded.sources;
    let kind = match value.kind {
        ValueKind::Column { .. } => return None,
        ValueKind::Given { .. } => "given",
        ValueKind::Rule => "rule",
        ValueKind::Decide(_) => "decision",
    };
    let written = match (kind, value.replaced.is_empty()) {
        ("given", true) => shown(job, value),
        _ => written(sources, value.span),
    };
    let replaced: Vec<String> = value
        .replaced
        .iter()
        .map(|s| place_text(&(*s).into(), sources))
        .collect();
    Some(Line {
        name: value.name.clone(),
        kind,
        layer: layer(value.layer),
        written,
        why: match &value.because {
            Some(because) => reason(because, value.by.as_ref()),
            None => value.source.clone().unwrap_or_default(),
        },
        place: place_text(&value.span.into(), sources),
        replaced: replaced.join("; "),
    })
}

/// A value decided for one row; `value` is what holds for the others.
fn of_exception(sources: &Sources, one: &ExceptionDef, value: Option<&Arc<ValueDef>>) -> Line {
    Line {
        name: format!("{} at {}", one.name, one.mark),
        kind: "exception",
        layer: layer(one.layer),
        written: written(sources, one.span),
        why: reason(&one.because, one.by.as_ref()),
        place: place_text(&one.span.into(), sources),
        replaced: value.map_or_else(String::new, |v| place_text(&v.span.into(), sources)),
    }
}

fn of_amend(sources: &Sources, one: &AmendDef) -> Line {
    Line {
        name: format!("{} of {}", one.what, one.name),
        kind: "extension",
        layer: layer(one.layer),
        written: written(sources, one.span),
        why: reason(&one.because, one.by.as_ref()),
        place: place_text(&one.span.into(), sources),
        replaced: String::new(),
    }
}

fn layer(layer: Layer) -> String {
    format!("{layer:?}").to_lowercase()
}

/// What a sheet says, on one line.
fn written(sources: &Sources, span: Span) -> String {
    let words = sources.slice(span).split_whitespace();
    words.collect::<Vec<_>>().join(" ")
}

fn reason(because: &str, by: Option<&(String, String)>) -> String {
    match by {
        Some((who, day)) => format!("{because} (by {who}, {day})"),
        None => because.to_owned(),
    }
}

/// A terminal has room for what is in force only. Its place and reason are in the other forms, and in the sheet.
fn view(lines: Vec<Line>, as_csv: bool) -> View {
    let columns = vec![
        Column::text("name"),
        Column::text("kind").wide(),
        Column::text("layer"),
        Column::text("value or rule"),
        Column::text("source or reason").wide(),
        Column::text("place").wide(),
        Column::text("replaces"),
    ];
    let mut view = View::new("in_force", "In force", columns);
    for line in lines {
        let cut = !as_csv && line.written.chars().count() > 60;
        let short: String = if cut {
            line.written.chars().take(57).chain("...".chars()).collect()
        } else {
            line.written
        };
        let cells = [
            line.name,
            line.kind.into(),
            line.layer,
            short,
            line.why,
            line.place,
            line.replaced,
        ];
        view.row(cells.map(Cell::text).to_vec());
    }
    view
}

fn shown(job: &Job, value: &ovolo::program::ValueDef) -> String {
    let program = &job.checked.program;
    let Some(cell) = ovolo::show::written(program, value.node) else {
        return job.loaded.sources.slice(value.span).to_string();
    };
    ovolo::show::cell_text(program, value.node, &cell, value.unit.as_ref())
}
