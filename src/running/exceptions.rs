//! What is decided for single rows, held against the survey: rows that are not there, values that are no longer what they were.

use std::collections::HashMap;

use crate::diagnostics::{Diagnostic, suggest};
use crate::eval::{Inputs, Results};
use crate::program::{ExceptionDef, NodeId, Program, TableId, Version};
use crate::show::cell_text;

/// The nodes whose columns [`exceptions`] needs: of changes with a pin, what they replace and the pin.
pub fn pinned_nodes(version: &Version) -> Vec<NodeId> {
    let pinned = version.exceptions.iter().filter_map(|e| Some((e, e.was?)));
    pinned
        .flat_map(|(e, (was, _))| e.replaced.iter().map(|r| r.1).chain([was]))
        .collect()
}

/// A message for each change of a row that no table has, save the rows that were set `aside`, and for each whose pin does not fit.
pub fn exceptions(
    program: &Program,
    version: &Version,
    inputs: &Inputs<'_>,
    results: &Results,
    aside: &[String],
) -> Vec<Diagnostic> {
    let mut marks: HashMap<TableId, HashMap<&str, usize>> = HashMap::new();
    for table in version
        .exceptions
        .iter()
        .flat_map(|e| &e.replaced)
        .map(|r| r.0)
    {
        marks
            .entry(table)
            .or_insert_with(|| rows_by_mark(program, inputs, table));
    }
    let mut told = Vec::new();
    for one in &version.exceptions {
        let found = one.replaced.iter().find_map(|(table, before)| {
            let row = marks.get(table)?.get(one.mark.as_str())?;
            Some((*row, *before))
        });
        match found {
            None if aside.contains(&one.mark) => {}
            None => {
                let known = one
                    .replaced
                    .iter()
                    .filter_map(|(table, _)| marks.get(table));
                let near = suggest::nearest(&one.mark, known.flat_map(|m| m.keys().copied()));
                let d = Diagnostic::error(
                    "OV-653",
                    format!("no row of the survey is marked \"{}\"", one.mark),
                )
                .at(one.mark_span, "");
                told.push(match near {
                    Some(near) => d.mend(format!("did you mean \"{near}\"?")),
                    None => d.mend("write the mark as the survey has it, or take the change out"),
                });
            }
            Some((row, before)) => told.extend(misfit(program, version, results, one, row, before)),
        }
    }
    told
}

fn rows_by_mark<'t>(
    program: &Program,
    inputs: &Inputs<'t>,
    table: TableId,
) -> HashMap<&'t str, usize> {
    let key = program.tables.get(table).and_then(|t| t.schema.key);
    let data: Option<&'t crate::table::Table> = inputs.tables.get(table.index()).copied();
    let (Some(key), Some(data)) = (key, data) else {
        return HashMap::new();
    };
    let Some(column) = data.columns.get(key) else {
        return HashMap::new();
    };
    (0..data.rows)
        .filter_map(|row| Some((column.text(row)?, row)))
        .collect()
}

/// What to say where a row's value is not what the change says it was.
fn misfit(
    program: &Program,
    version: &Version,
    results: &Results,
    one: &ExceptionDef,
    row: usize,
    before: NodeId,
) -> Option<Diagnostic> {
    let (was, place) = one.was?;
    let (found, pinned) = (results.value(before, row), results.value(was, 0));
    if found == pinned {
        return None;
    }
    let value = version.values.iter().find(|v| v.name == one.name);
    let unit = value.and_then(|v| v.unit.as_ref());
    Some(
        Diagnostic::error(
            "OV-602",
            format!(
                "`{}` of \"{}\" is no longer what this change says it was",
                one.name, one.mark
            ),
        )
        .at(place, "")
        .found(cell_text(program, before, &found, unit))
        .expected(cell_text(program, was, &pinned, unit))
        .mend("look whether the change still holds, then write the new value after `was`"),
    )
}
