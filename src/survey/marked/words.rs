//! Problems in the words of the person who filled in the survey: headings as they wrote them, no word of sheets.

use crate::diagnostics::source::column_letters;
use crate::diagnostics::{CellPlace, Diagnostic, Place};
use crate::table::Schema;

use super::super::faults::Fault;
use super::super::raw::MAX_CELL;
use super::super::report::TabReport;
use super::cells_of;

/// A fault as a problem at its cell that names the column as the surveyor's heading does.
pub(super) fn of_fault(
    fault: &Fault,
    schema: &Schema,
    tabs: &[TabReport],
    headings: &[Vec<Option<(u32, String)>>],
) -> Diagnostic {
    let tab = tabs.get(usize::from(fault.source));
    let heading = fault
        .column
        .and_then(|c| headings.get(usize::from(fault.source))?.get(c)?.clone());
    let mut d = fault.diagnostic.clone();
    if let (Some((_, heading)), Some(column)) =
        (&heading, fault.column.and_then(|c| schema.columns.get(c)))
    {
        let (ours, theirs) = (format!("\"{}\"", column.name), format!("\"{heading}\""));
        d.message = d.message.replace(&ours, &theirs);
    }
    let cell = CellPlace {
        file: tab.map(|t| t.file.clone()).unwrap_or_default(),
        tab: tab.and_then(|t| t.tab.clone()),
        row: fault.row,
        column: heading.as_ref().map(|h| h.0),
        heading: heading.map(|h| h.1),
    };
    // A place that the fault already had, such as the first of two equal marks, is named in words: nothing is wrong with that cell.
    d.notes.extend(cells_of(&fault.diagnostic).map(|c| {
        let (letters, tab) = (column_letters(c.column.unwrap_or(1)), c.tab.as_deref());
        format!(
            "The first is in {}, cell {letters}{}.",
            tab.unwrap_or(&c.file),
            c.row
        )
    }));
    d.labels.clear();
    d.at(cell, "").on_rows(1, vec![fault.mark.clone()])
}

/// Further facts and the mend, without those that only the writer of the sheets can use.
fn advice(d: &Diagnostic) -> Vec<String> {
    let for_rules = d.labels.iter().any(|l| matches!(l.place, Place::Sheet(_)));
    let mend = d.mend.iter().filter(|_| !for_rules);
    d.notes
        .iter()
        .chain(mend)
        .filter_map(|said| {
            let kept: Vec<&str> = said
                .split_inclusive(". ")
                .filter(|sentence| !sentence.contains('`'))
                .map(str::trim_end)
                .collect();
            (!kept.is_empty()).then(|| kept.join(" "))
        })
        .collect()
}

/// The comment at a cell.
pub(super) fn comment(d: &Diagnostic) -> String {
    let mut text = d.message.clone();
    if let Some(expected) = &d.expected {
        text.push_str(&format!("\nExpected: {expected}"));
    }
    for said in advice(d) {
        text.push_str(&format!("\n{said}"));
    }
    clip(&text).to_string()
}

/// The cells of a problem, or its row, by the names of its tab.
pub(super) fn place(d: &Diagnostic, file: &str) -> String {
    let cells: Vec<&CellPlace> = cells_of(d).filter(|c| c.file == file).collect();
    let Some(first) = cells.first() else {
        return file.to_string();
    };
    let tab = first.tab.as_deref().unwrap_or(file);
    let names: Vec<String> = cells
        .iter()
        .filter_map(|c| Some(format!("{}{}", column_letters(c.column?), c.row)))
        .collect();
    match names.as_slice() {
        [] => format!("{tab}, row {}", first.row),
        [one] => format!("{tab}, cell {one}"),
        many => format!("{tab}, cells {}", many.join(", ")),
    }
}

/// A row of the list.
pub(super) fn line(d: &Diagnostic, place: String) -> Vec<String> {
    [
        place,
        d.marks.first().cloned().unwrap_or_default(),
        d.message.clone(),
        d.found.clone().unwrap_or_default(),
        d.expected.clone().unwrap_or_default(),
        advice(d).join("\n"),
        d.code.to_string(),
    ]
    .iter()
    .map(|text| clip(text).to_string())
    .collect()
}

/// Cuts a text to what a cell can hold.
pub(super) fn clip(text: &str) -> &str {
    text.char_indices()
        .nth(MAX_CELL)
        .map_or(text, |(end, _)| &text[..end])
}
