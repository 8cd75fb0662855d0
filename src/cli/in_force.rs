//! `ovolo estimate --in-force`: every given and rule with its layer, source and what it replaced.

use super::args::Common;
use super::{exit, output};
use ovolo::diagnostics::render::place_text;
use ovolo::program::ValueKind;
use ovolo::report::{Cell, Column, Face, View, csv, terminal};
use ovolo::session::Job;
use std::process::ExitCode;

/// Prints the list.
pub fn print(
    job: &Job,
    version: usize,
    as_csv: bool,
    common: &Common,
) -> Result<ExitCode, ExitCode> {
    let sources = &job.loaded.sources;
    let v = &job.checked.program.versions[version];
    let mut rows = Vec::new();
    for value in &v.values {
        let kind = match value.kind {
            ValueKind::Column { .. } => continue,
            ValueKind::Given { .. } => "given",
            ValueKind::Rule => "rule",
            ValueKind::Decide(_) => "decision",
        };
        let written = sources
            .slice(value.span)
            .split_whitespace()
            .collect::<Vec<_>>()
            .join(" ");
        let text = match (kind, value.replaced.is_empty()) {
            ("given", true) => shown(job, value),
            _ => written,
        };
        let replaced: Vec<String> = value
            .replaced
            .iter()
            .map(|s| place_text(&(*s).into(), sources))
            .collect();
        let layer = format!("{:?}", value.layer).to_lowercase();
        let why = match (&value.because, &value.by) {
            (Some(because), Some((who, day))) => format!("{because} (by {who}, {day})"),
            (Some(because), None) => because.clone(),
            (None, _) => value.source.clone().unwrap_or_default(),
        };
        rows.push((
            value.name.clone(),
            kind,
            layer,
            text,
            why,
            place_text(&value.span.into(), sources),
            replaced.join("; "),
        ));
    }
    for one in &v.exceptions {
        let value = v.values.iter().find(|value| value.name == one.name);
        let why = match &one.by {
            Some((who, day)) => format!("{} (by {who}, {day})", one.because),
            None => one.because.clone(),
        };
        let written = sources
            .slice(one.span)
            .split_whitespace()
            .collect::<Vec<_>>();
        rows.push((
            format!("{} at {}", one.name, one.mark),
            "exception",
            format!("{:?}", one.layer).to_lowercase(),
            written.join(" "),
            why,
            place_text(&one.span.into(), sources),
            value.map_or_else(String::new, |v| place_text(&v.span.into(), sources)),
        ));
    }
    for one in &v.amends {
        let why = match &one.by {
            Some((who, day)) => format!("{} (by {who}, {day})", one.because),
            None => one.because.clone(),
        };
        let written = sources.slice(one.span).split_whitespace();
        rows.push((
            format!("{} of {}", one.what, one.name),
            "extension",
            format!("{:?}", one.layer).to_lowercase(),
            written.collect::<Vec<_>>().join(" "),
            why,
            place_text(&one.span.into(), sources),
            String::new(),
        ));
    }
    if common.json {
        let list: Vec<_> = rows
            .iter()
            .map(|(name, kind, layer, text, why, place, replaced)| {
                serde_json::json!({"name": name, "kind": kind, "layer": layer, "written": text, "source": why, "place": place, "replaces": replaced})
            })
            .collect();
        output::json(&serde_json::json!({"schema": "ovolo-in-force/1", "values": list}));
        return Ok(ExitCode::from(exit::DONE));
    }
    // A window has room for what is in force; where it stands and why is in the other forms, and in the sheet.
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
    for (name, kind, layer, text, why, place, replaced) in rows {
        let cut = !as_csv && text.chars().count() > 60;
        let short: String = if cut {
            text.chars().take(57).chain("...".chars()).collect()
        } else {
            text
        };
        view.row(
            [name, kind.into(), layer, short, why, place, replaced]
                .map(Cell::text)
                .to_vec(),
        );
    }
    output::print(&if as_csv {
        csv::write(&view, &Face::default())
    } else {
        terminal::draw(&view, output::width(common))
    });
    Ok(ExitCode::from(exit::DONE))
}

#[expect(
    clippy::wildcard_enum_match_arm,
    reason = "what is not a written value is shown as it is written"
)]
fn shown(job: &Job, value: &ovolo::program::ValueDef) -> String {
    use ovolo::program::Kind;
    let program = &job.checked.program;
    let node = program.node(value.node);
    let cell = match &node.kind {
        Kind::Number(n) => ovolo::eval::Cell::Number(n.clone()),
        Kind::Truth(b) => ovolo::eval::Cell::Truth(*b),
        Kind::Label(l) => ovolo::eval::Cell::Label(*l),
        Kind::Text(t) => ovolo::eval::Cell::Text(t.clone()),
        _ => return job.loaded.sources.slice(value.span).to_string(),
    };
    ovolo::show::cell_text(program, value.node, &cell, value.unit.as_ref())
}
