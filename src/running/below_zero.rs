//! Take lines that fall below zero on some rows and are above it in all: mostly a slip that takes the work of one opening from another's.

use crate::diagnostics::Diagnostic;
use crate::eval::{self, Cell, Inputs, Results, RunError};
use crate::program::{Program, Version};
use crate::show::cell_text;

use super::faults::marks;
use super::table_of;

/// A note (OV-826) for each take of a version that adds up to more than zero and is negative on some rows. A line that is below
/// zero in all is a credit and meant. Errors: as of any run.
pub fn below_zero(
    program: &Program,
    version: &Version,
    inputs: &Inputs<'_>,
    results: &Results,
) -> Result<Vec<Diagnostic>, RunError> {
    let sign = |node| {
        if let Cell::Number(n) = results.value(node, 0) {
            n.signum()
        } else {
            0
        }
    };
    let mut out = Vec::new();
    for take in &version.takes {
        let sinks = take.plan.least.is_some_and(|least| sign(least) < 0);
        if !sinks || sign(take.plan.total) <= 0 {
            continue;
        }
        // Only now are the amounts of single rows wanted.
        let rows = eval::run(program, inputs, &[take.amount], &eval::Options::default())?;
        let Some(column) = rows.column(take.amount) else {
            continue;
        };
        let below: Vec<usize> = (0..column.len())
            .filter(|r| matches!(column.get(*r), Cell::Number(n) if n.signum() < 0))
            .collect();
        let Some(first) = below.first() else { continue };
        let resource = version
            .resources
            .get(take.resource)
            .map_or("", |r| r.name.as_str());
        let unit = version.resources.get(take.resource).map(|r| &r.unit);
        let names = match table_of(take.grain) {
            Some(table) => marks(program, inputs, table, below.iter().copied()),
            None => below
                .iter()
                .take(3)
                .map(|r| format!("group {}", r + 1))
                .collect(),
        };
        out.push(
            Diagnostic::warning(
                "OV-826",
                format!("this line takes a negative amount of {resource} on some rows, which lowers the total"),
            )
            .at(take.span, "")
            .found(format!(
                "{} on {}",
                cell_text(program, take.amount, &column.get(*first), unit),
                names.first().map_or("", String::as_str)
            ))
            .on_rows(below.len(), names)
            .mend("if it is not meant, let it end at nothing: larger(0 ..., the amount), or give it a condition with `when`"),
        );
    }
    Ok(out)
}
