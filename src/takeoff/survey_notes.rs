//! What the survey reader assumed or set aside, as reports show it.

use super::{AssumedBlank, SetAside, SurveyNotes};
use crate::program::{Program, TableId, ValueKind, Version};
use crate::survey::{Report, unread};

/// The notes of the survey's reports, in the order of the program's tables.
pub fn survey_notes(program: &Program, version: &Version, reports: &[&Report]) -> SurveyNotes {
    let mut notes = SurveyNotes::default();
    for (table, report) in program.tables.ids().zip(reports) {
        for column in &report.columns {
            let note = note_of(program, version, table, &column.name);
            let mut add = |rows: u64, value: &Option<String>, word: &str| {
                if let (1.., Some(value)) = (rows, value) {
                    let column = if word.is_empty() {
                        column.name.clone()
                    } else {
                        format!("{} ({word})", column.name)
                    };
                    let rows = usize::try_from(rows).unwrap_or(usize::MAX);
                    notes.assumed.push(AssumedBlank {
                        table: report.table.clone(),
                        column,
                        value: value.clone(),
                        rows,
                        note: note.clone(),
                    });
                }
            };
            add(column.assumed_blank, &column.assumed_for_blank, "");
            add(
                column.assumed_not_applicable,
                &column.assumed_for_not_applicable,
                "n/a",
            );
        }
        notes.unread.extend(unread(report));
    }
    notes.set_aside = set_aside(reports);
    notes
}

/// The rows that were set aside, of all tables.
pub fn set_aside(reports: &[&Report]) -> Vec<SetAside> {
    let rows = reports.iter().flat_map(|r| &r.set_aside);
    rows.map(|row| {
        let mark = if row.mark.is_empty() {
            row.place.to_string()
        } else {
            row.mark.clone()
        };
        let cause = row
            .causes
            .first()
            .map_or_else(|| "named by the user".to_owned(), |d| d.message.clone());
        let more = row.causes.len().saturating_sub(1);
        let cause = if more > 0 {
            format!("{cause} (and {more} more)")
        } else {
            cause
        };
        SetAside { mark, cause }
    })
    .collect()
}

fn note_of(program: &Program, version: &Version, table: TableId, name: &str) -> Option<String> {
    let schema = &program.tables.get(table)?.schema;
    let wanted = schema.columns.iter().position(|c| c.name == name)?;
    let is_it = |kind: &ValueKind| matches!(kind, ValueKind::Column { table: t, column } if *t == table && usize::from(*column) == wanted);
    let value = version.values.iter().find(|v| is_it(&v.kind))?;
    value.note.clone().or_else(|| value.source.clone())
}
