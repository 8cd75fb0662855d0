//! Days on which decisions were made: each is in the calendar, and none lies after the day of the job.

use super::load::Loaded;
use crate::diagnostics::Diagnostic;
use crate::syntax::tree::{DecidedBy, GivenValue, JobLine, StatementKind};
use crate::units::{point_text, read_point};

/// A message (OV-659) for each day that is not in the calendar, and a warning for each after the day of the job.
#[expect(
    clippy::wildcard_enum_match_arm,
    reason = "statements of one kind are looked for; all others are read elsewhere"
)]
pub(super) fn days_of_decisions(loaded: &Loaded) -> Vec<Diagnostic> {
    let statements = || loaded.sheets.iter().flat_map(|s| &s.tree.statements);
    let mut decided: Vec<&DecidedBy> = Vec::new();
    let mut issued = None;
    for statement in statements() {
        match &statement.kind {
            StatementKind::Change(change) => decided.extend(&change.by),
            StatementKind::Amend(amend) => decided.extend(&amend.by),
            StatementKind::Extend(block) => decided.extend(&block.by),
            StatementKind::Alternate {
                changes, amends, ..
            } => {
                decided.extend(changes.iter().filter_map(|c| c.by.as_ref()));
                decided.extend(amends.iter().filter_map(|a| a.by.as_ref()));
            }
            StatementKind::Trial(trial) => {
                decided.extend(trial.changes.iter().filter_map(|c| c.by.as_ref()));
            }
            StatementKind::Job(lines) => {
                for line in lines {
                    if let JobLine::Issued(given) = line
                        && let GivenValue::Quantity(day) = &given.value
                    {
                        issued = day.quantity.point.as_deref().and_then(read_point);
                    }
                }
            }
            _ => {}
        }
    }
    let mut told = Vec::new();
    for by in decided {
        let Some((_, day)) = read_point(&by.day.text) else {
            told.push(
                Diagnostic::error("OV-659", "there is no such day")
                    .at(by.day.span, "")
                    .found(by.day.text.clone())
                    .expected("a day of the calendar as year-month-day, such as 2026-03-21"),
            );
            continue;
        };
        if let Some((scale, issued)) = &issued
            && day > *issued
        {
            told.push(
                Diagnostic::warning("OV-659", "this was decided after the day of the job")
                    .at(by.day.span, "")
                    .found(by.day.text.clone())
                    .expected(format!(
                        "a day up to {}, on which the job is issued",
                        point_text(*scale, issued)
                    ))
                    .mend("correct the day, or the `issued` of the job"),
            );
        }
    }
    told
}
