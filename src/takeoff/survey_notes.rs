//! What the survey reader assumed or set aside, as reports show it.

use super::{AssumedBlank, FromRowAbove, SetAside, SurveyNotes};
use crate::program::{Program, TableId, ValueKind, Version};
use crate::survey::{Report, unread};
use crate::table::{Absence, FromAbove, Table};

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
                    let rows = crate::ids::length(rows);
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

/// Which rows and values of tables come from the rows above, `by_row` also which row has a value of its own where.
pub fn from_above(program: &Program, tables: &[&Table], by_row: bool) -> Vec<FromRowAbove> {
    let each = program.tables.iter().zip(tables);
    each.filter_map(|(info, table)| {
        let above = table.from_above.as_ref()?;
        let schema = &info.schema;
        let reads: Vec<usize> = (0..schema.columns.len())
            .filter(|c| schema.above(*c).is_some())
            .collect();
        let own = |row: usize| -> Vec<usize> {
            let columns = reads.iter().enumerate();
            let own = columns.filter(|(_, c)| is_own(table, above, row, **c));
            own.map(|(at, _)| at).collect()
        };
        let mut notes = FromRowAbove {
            table: schema.name.clone(),
            rows: table.rows,
            made: above.made.iter().filter(|made| **made).count(),
            columns: reads
                .iter()
                .map(|c| (schema.columns[*c].name.clone(), 0))
                .collect(),
            own: Vec::new(),
        };
        let key = schema.key.and_then(|k| table.columns.get(k));
        for row in 0..table.rows {
            let own = own(row);
            for at in &own {
                notes.columns[*at].1 += 1;
            }
            if by_row && !own.is_empty() {
                let mark = key.and_then(|k| k.text(row)).unwrap_or_default();
                notes.own.push((mark.to_owned(), own));
            }
        }
        Some(notes)
    })
    .collect()
}

fn is_own(table: &Table, above: &FromAbove, row: usize, column: usize) -> bool {
    let absent = table.columns.get(column).and_then(|c| c.absent.as_ref());
    let is_there = absent.is_none_or(|a| a.get(row) == Some(&Absence::Present));
    is_there && !above.is_taken(row, column)
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
        SetAside {
            mark,
            above: row.above.clone(),
            cause,
        }
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
