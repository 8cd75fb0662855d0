//! A price book to be filled in: every resource with the unit and the pack it is bought in, and no price.

use super::{BOOK_COLUMNS, BookColumn, singular};
use crate::defuse::csv_cell;
use crate::program::{Program, ResourceClass, ResourceDef, ResourceId};
use crate::units::{Style, format_quantity};

/// The rows of the resources that are `wanted`, as CSV. Who sends one back filled in sends rows of a price book.
pub fn blank_book(program: &Program, wanted: impl Fn(ResourceId) -> bool) -> String {
    let headings: Vec<&str> = BOOK_COLUMNS.iter().map(|(_, heading)| *heading).collect();
    let mut out = headings.join(",") + "\n";
    let Some(version) = program.versions.first() else {
        return out;
    };
    for (id, def) in version.resources.entries() {
        if !wanted(id) {
            continue;
        }
        let cells = BOOK_COLUMNS.map(|(column, _)| match column {
            BookColumn::Resource => def.name.clone(),
            BookColumn::Unit => def.unit.text(&program.nouns),
            BookColumn::Pack => pack(program, def),
            BookColumn::Note => note(def),
            BookColumn::Price
            | BookColumn::Supplier
            | BookColumn::Chosen
            | BookColumn::Source
            | BookColumn::Date
            | BookColumn::Currency
            | BookColumn::Low
            | BookColumn::High
            | BookColumn::Likely
            | BookColumn::VariesWith
            | BookColumn::Spec => String::new(),
        });
        let cells: Vec<String> = cells.iter().map(|c| cell(c)).collect();
        out += &(cells.join(",") + "\n");
    }
    out
}

/// `box of 100 points`.
fn pack(program: &Program, def: &ResourceDef) -> String {
    let Some((word, holds)) = &def.pack else {
        return String::new();
    };
    let holds = format_quantity(holds, &def.unit, &program.nouns, Style::default());
    if holds.starts_with('≈') {
        return String::new(); // the sheet's own pack holds
    }
    format!("{} of {holds}", singular(word))
}

fn note(def: &ResourceDef) -> String {
    let called = def.called.clone().unwrap_or_default();
    match (def.class == ResourceClass::Labor, called.is_empty()) {
        (true, true) => "burdened rate".to_owned(),
        (true, false) => format!("{called}; burdened rate"),
        (false, _) => called,
    }
}

/// A cell of a price book as CSV.
pub(super) fn cell(text: &str) -> String {
    let cell = csv_cell(text);
    match cell.contains([',', '"', '\n']) {
        true => format!("\"{}\"", cell.replace('"', "\"\"")),
        false => cell,
    }
}
