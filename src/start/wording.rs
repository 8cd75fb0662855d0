//! Words about the columns of a survey, for the person who fills them in.

use crate::number::Exact;
use crate::program::{Program, TableId, ValueKind};
use crate::table::{ColumnKind, ColumnSpec, OnMissing, Schema, SchemaValue};
use crate::units::{Style, format_quantity, point_text};

/// The name of a table's tab: `Openings`, `Sash defects`.
pub(super) fn tab(program: &Program, table: TableId) -> String {
    let info = &program.tables[table];
    let name = program.nouns.plural_name(info.noun).replace('_', " ");
    let mut letters = name.chars();
    let first = letters.next().map(|c| c.to_uppercase().to_string());
    // A workbook allows a tab 31 signs.
    first
        .unwrap_or_default()
        .chars()
        .chain(letters)
        .take(31)
        .collect()
}

/// The heading of a column with its unit.
pub(super) fn heading(program: &Program, column: &ColumnSpec) -> String {
    let name = column
        .headings
        .first()
        .cloned()
        .unwrap_or_else(|| column.name.replace('_', " "));
    match &column.kind {
        ColumnKind::Number { percent: true, .. } => format!("{name} (%)"),
        ColumnKind::Number {
            unit,
            dim,
            quarters: false,
            ..
        } if dim.as_count().is_none() && !unit.is_empty() => {
            format!("{name} ({})", unit.text(&program.nouns))
        }
        ColumnKind::Text
        | ColumnKind::Lites
        | ColumnKind::Number { .. }
        | ColumnKind::YesNo
        | ColumnKind::Choice(_)
        | ColumnKind::Date
        | ColumnKind::Moment
        | ColumnKind::Temperature => name,
    }
}

/// The spellings that a drop-down offers; empty for a column without one.
pub(super) fn choices(column: &ColumnSpec) -> Vec<String> {
    match &column.kind {
        ColumnKind::YesNo => vec!["yes".to_owned(), "no".to_owned()],
        ColumnKind::Choice(labels) => labels
            .iter()
            .map(|l| {
                let spoken = l.spellings.first().filter(|_| l.label.contains('_'));
                spoken.cloned().unwrap_or_else(|| l.label.replace('_', " "))
            })
            .collect(),
        ColumnKind::Text
        | ColumnKind::Lites
        | ColumnKind::Number { .. }
        | ColumnKind::Date
        | ColumnKind::Moment
        | ColumnKind::Temperature => Vec::new(),
    }
}

/// What a cell may hold, and what a blank means, in a sentence or two.
pub(super) fn may_hold(program: &Program, schema: &Schema, at: usize) -> String {
    let Some(column) = schema.columns.get(at) else {
        return String::new();
    };
    let mut said = vec![kind(program, column)];
    if column.is_key && column.blank == OnMissing::Refuse {
        said.push("A name of its own for each row.".to_owned());
    }
    match (&column.blank, schema.above(at)) {
        (_, Some(_)) => said.push("Blank: as in the row above it belongs to.".to_owned()),
        (OnMissing::Refuse, None) => said.push("Always filled in.".to_owned()),
        (OnMissing::Keep, None) => said.push("May stay blank.".to_owned()),
        (OnMissing::Value(value), None) => {
            said.push(format!("Blank: {}.", value_text(program, column, value)));
        }
    }
    if let OnMissing::Value(value) = &column.not_applicable {
        said.push(format!("n/a: {}.", value_text(program, column, value)));
    }
    said.join(" ")
}

/// The note that a sheet gives a column.
pub(super) fn note(program: &Program, table: TableId, at: usize) -> Option<String> {
    let version = program.versions.first()?;
    let of = |kind: &ValueKind| matches!(kind, ValueKind::Column { table: t, column } if *t == table && usize::from(*column) == at);
    version.values.iter().find(|v| of(&v.kind))?.note.clone()
}

fn kind(program: &Program, column: &ColumnSpec) -> String {
    match &column.kind {
        ColumnKind::Text => "Text.".to_owned(),
        ColumnKind::Lites => "Lites of a sash, such as 6, or 6/1 for six over one.".to_owned(),
        ColumnKind::YesNo => "yes or no.".to_owned(),
        ColumnKind::Choice(_) => format!("One of: {}.", choices(column).join(", ")),
        ColumnKind::Date => "A day, such as 2026-03-21.".to_owned(),
        ColumnKind::Moment => "A day and an hour, such as 2026-03-21 14:30.".to_owned(),
        ColumnKind::Temperature => "A temperature, such as 55 F.".to_owned(),
        ColumnKind::Number {
            unit,
            whole,
            percent,
            quarters,
            limits,
            ..
        } => {
            let what = match (whole, percent, quarters) {
                (_, true, _) => "A percent".to_owned(),
                (_, _, true) => "Inches, or quarters such as 8/4".to_owned(),
                (true, ..) => "A whole number".to_owned(),
                _ if unit.text(&program.nouns) == "in" => {
                    "Inches such as 30 1/2, or feet and inches such as 2'-6 1/2\"".to_owned()
                }
                _ => format!("A number in {}", unit.text(&program.nouns)),
            };
            match limits {
                Some(l) => format!(
                    "{what}, from {} to {}.",
                    number(program, column, &l.low),
                    number(program, column, &l.high)
                ),
                None => format!("{what}."),
            }
        }
    }
}

/// A number of a column in its unit.
pub(super) fn number(program: &Program, column: &ColumnSpec, value: &Exact) -> String {
    match &column.kind {
        ColumnKind::Number { unit, .. } => {
            format_quantity(value, unit, &program.nouns, Style::default())
        }
        other @ (ColumnKind::Text
        | ColumnKind::Lites
        | ColumnKind::YesNo
        | ColumnKind::Choice(_)
        | ColumnKind::Date
        | ColumnKind::Moment
        | ColumnKind::Temperature) => other
            .scale()
            .map_or_else(|| value.to_string(), |scale| point_text(scale, value)),
    }
}

fn value_text(program: &Program, column: &ColumnSpec, value: &SchemaValue) -> String {
    let words = value.words(&column.kind, |n| number(program, column, n));
    words.unwrap_or_default()
}
