//! Texts that part rows into groups or are compared, and differ only in case or blanks: two to the engine, mostly one to the surveyor.

use std::collections::{BTreeMap, HashMap};

use crate::diagnostics::{Diagnostic, Place};
use crate::program::{Kind, Program, TableId};
use crate::table::{ColumnKind, Table, Values};

/// Spellings of one text that are reported with their places.
const MOST: usize = 4;

/// A spelling met in a table: how often, and on which row first.
struct Met<'a> {
    text: &'a str,
    count: usize,
    first: usize,
}

/// A note (OV-736) for each text that is written in several ways in a column that is a key of a group or compared.
/// `tables` are in the order of the program's tables.
pub fn spellings(program: &Program, tables: &[&Table]) -> Vec<Diagnostic> {
    let mut out = Vec::new();
    for ((table, column), written) in asked(program) {
        let info = &program.tables[table];
        let Some(read) = tables.get(table.index()) else {
            continue;
        };
        let Some(spec) = info
            .schema
            .columns
            .get(column)
            .filter(|s| matches!(s.kind, ColumnKind::Text))
        else {
            continue;
        };
        for met in several_ways(read, column, &written) {
            let mut d = Diagnostic::warning(
                "OV-736",
                format!(
                    "texts of \"{}\" differ only in case or blanks and count as different",
                    spec.name
                ),
            );
            for one in met.iter().take(MOST) {
                if let Some(cell) = read.cell(one.first, column) {
                    let times = if one.count == 1 {
                        "on 1 row".to_owned()
                    } else {
                        format!("on {} rows, here first", one.count)
                    };
                    d = d.at(Place::Cell(cell), format!("\"{}\" {times}", one.text));
                }
            }
            let all: Vec<String> = met.iter().map(|m| format!("\"{}\"", m.text)).collect();
            // Compared with a text of the sheet, one spelling in the survey is enough.
            d = d.found(all.join(", "));
            let same: Vec<&str> = written
                .iter()
                .map(String::as_str)
                .filter(|w| met.iter().any(|m| folded(m.text) == folded(w)))
                .collect();
            if let [first, ..] = same.as_slice() {
                d = d.note(format!("The sheet compares it with \"{first}\"."));
            }
            let mend = "Write them alike in the survey, or make the column `one of` its few values in the sheet: a choice takes any case.";
            out.push(d.mend(mend));
        }
    }
    out
}

/// The columns of tables whose text matters as it is written, with the texts of sheets that they are compared with.
fn asked(program: &Program) -> BTreeMap<(TableId, usize), Vec<String>> {
    let mut found: BTreeMap<(TableId, usize), Vec<String>> = BTreeMap::new();
    let column = |kind: &Kind| {
        let Kind::Column { table, column } = kind else {
            return None;
        };
        Some((*table, usize::from(*column)))
    };
    for key in program.groups.iter().flat_map(|g| &g.keys) {
        found.extend(column(&program.node(*key).kind).map(|c| (c, Vec::new())));
    }
    for node in program.nodes() {
        let Kind::Same(a, b) = &node.kind else {
            continue;
        };
        let sides = [&program.node(*a).kind, &program.node(*b).kind];
        for (one, other) in [(sides[0], sides[1]), (sides[1], sides[0])] {
            let Some(at) = column(one) else { continue };
            let written = found.entry(at).or_default();
            if let Kind::Text(text) = other {
                written.push(text.clone());
            }
        }
    }
    found
}

/// Texts of a column that are the same but for case and blanks, each list in the order of the rows.
fn several_ways<'a>(table: &'a Table, column: usize, written: &[String]) -> Vec<Vec<Met<'a>>> {
    let Some(Values::Text { ids, pool }) = table.columns.get(column).map(|c| &c.values) else {
        return Vec::new();
    };
    let mut by_form: HashMap<String, Vec<u32>> = HashMap::new();
    for id in 0..crate::ids::row(pool.len()) {
        if let Some(text) = pool.get(id).filter(|t| !t.is_empty()) {
            by_form.entry(folded(text)).or_default().push(id);
        }
    }
    let odd = |id: &u32| {
        pool.get(*id)
            .is_some_and(|t| written.iter().any(|w| w != t && folded(w) == folded(t)))
    };
    by_form.retain(|_, ids| ids.len() > 1 || ids.iter().any(odd));
    if by_form.is_empty() {
        return Vec::new();
    }
    let mut rows: HashMap<u32, (usize, usize)> = HashMap::new();
    for (row, id) in ids.iter().enumerate() {
        rows.entry(*id).or_insert((0, row)).0 += 1;
    }
    let met = |id: &u32| {
        Some(Met {
            text: pool.get(*id)?,
            count: rows.get(id)?.0,
            first: rows.get(id)?.1,
        })
    };
    let mut lists: Vec<Vec<Met<'a>>> = by_form
        .values()
        .map(|ids| ids.iter().filter_map(met).collect())
        .collect();
    lists.retain(|l: &Vec<Met<'a>>| !l.is_empty());
    for list in &mut lists {
        list.sort_by_key(|m| m.first);
    }
    lists.sort_by_key(|l| l.first().map(|m| m.first));
    lists
}

/// A text without case and with its blanks taken together.
fn folded(text: &str) -> String {
    text.split_whitespace()
        .flat_map(|w| w.chars().flat_map(char::to_lowercase))
        .collect()
}
