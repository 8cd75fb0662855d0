//! What `estimate` would refuse of a survey, found while the survey is read: rows whose cells contradict one another, and values that fail.

use super::job::Job;
use crate::diagnostics::{Diagnostic, Place, Span, any_error};
use crate::estimate::{Refused, Survey, run_error};
use crate::eval;
use crate::program::{Grain, Kind, NodeId, TableId};
use crate::running::{self, Telling};
use crate::survey::{self, ReadOptions, SetAside};
use crate::takeoff::{self, Wish};
use std::collections::HashSet;

/// Marks shown of the rows of one message.
const MOST_MARKS: usize = 3;

impl Job {
    /// Reads the survey, and works the rules over it as far as it can be read: cells that cannot be read are reported with the contradictions
    /// of all others.
    /// Errors: everything that is wrong with the survey.
    pub fn survey_in_full(
        &mut self,
        aside: &SetAside,
        read: &ReadOptions<'_>,
    ) -> Result<Survey, Vec<Diagnostic>> {
        let told = self.warnings.len();
        let (survey, mut problems) = self.tables(aside, false, &tentative(read));
        problems.extend(self.contradictions(&survey, Telling::Together));
        if any_error(&problems) {
            // What is said of a survey that can't be read whole is no news of the survey.
            self.warnings.truncate(told);
            let left_out = survey.reports.iter().flat_map(survey::unread);
            let rows = left_out.filter(|unread| !unread.skipped.is_empty());
            problems.extend(rows.map(|unread| unread.message()));
            return Err(problems);
        }
        self.note_of_all(&survey);
        Ok(survey)
    }

    /// Requirements that do not hold, and values that fail where a cell of the survey is at fault. What is said of a row whose rows below
    /// it could not all be read is left out: it may come from what is missing.
    pub(super) fn contradictions(&self, survey: &Survey, telling: Telling) -> Vec<Diagnostic> {
        let lacking: HashSet<&str> = survey
            .reports
            .iter()
            .flat_map(|r| &r.set_aside)
            .filter_map(|r| r.above.as_deref())
            .collect();
        let mut partial = HashSet::new();
        for (table, report) in self.checked.program.tables.ids().zip(&survey.reports) {
            if !report.unplaced.is_empty() {
                partial.insert(table);
            }
        }
        if lacking.is_empty() {
            return self.of_rows(survey, telling, &partial);
        }
        let mut apart = self.of_rows(survey, Telling::Apart, &partial);
        let own = self.requirements_of_one_row();
        apart.retain(|d| {
            let of_own = matches!(d.place(), Some(Place::Sheet(span)) if own.contains(span));
            of_own || !d.marks.iter().any(|m| lacking.contains(m.as_str()))
        });
        match telling {
            Telling::Apart => apart,
            Telling::Together => together(apart),
        }
    }

    /// Places of the requirements that look at no other row than their own.
    fn requirements_of_one_row(&self) -> HashSet<Span> {
        let program = &self.checked.program;
        let requires = program.versions.first().map(|v| v.requires.iter());
        let alone = |condition: NodeId| {
            !program.below([condition]).any(|(_, node)| {
                matches!(
                    node.kind,
                    Kind::Up { .. } | Kind::Count { .. } | Kind::Share { .. }
                )
            })
        };
        let requires = requires.into_iter().flatten();
        requires
            .filter(|r| alone(r.condition))
            .map(|r| r.span)
            .collect()
    }

    /// Whether a node adds up or counts rows of one of these tables.
    #[expect(
        clippy::wildcard_enum_match_arm,
        reason = "no other kind adds anything up"
    )]
    fn adds_up(&self, node: NodeId, of: &HashSet<TableId>) -> bool {
        let program = &self.checked.program;
        let is_of = |grain: Grain| matches!(grain, Grain::Table(t) if of.contains(&t));
        program.below([node]).any(|(_, node)| match &node.kind {
            Kind::Up { of, .. } => is_of(program.node(*of).grain),
            Kind::Count { of, .. } => is_of(*of),
            _ => false,
        })
    }

    /// What is said of rows where all that a rule reads is there: what adds up rows of a table that some are missing from is left out.
    fn of_rows(
        &self,
        survey: &Survey,
        telling: Telling,
        partial: &HashSet<TableId>,
    ) -> Vec<Diagnostic> {
        let program = &self.checked.program;
        let Some(version) = program.versions.first() else {
            return Vec::new();
        };
        let wish = Wish {
            quantities: true,
            ..Wish::default()
        };
        let mut version = version.clone();
        let mut shown = takeoff::wanted(program, &version, wish);
        if !partial.is_empty() {
            version
                .requires
                .retain(|r| !self.adds_up(r.condition, partial));
            shown.retain(|node| !self.adds_up(*node, partial));
        }
        let mut wanted = shown.clone();
        wanted.extend(version.requires.iter().map(|r| r.holds));
        let inputs = survey.inputs();
        let found =
            eval::run(program, &inputs, &wanted, &eval::Options::default()).and_then(|results| {
                running::faults(program, &version, &inputs, &results, &shown, telling)
            });
        let found = found.unwrap_or_else(|e| match run_error(e) {
            Refused::Messages(list) => list,
            Refused::Stopped => Vec::new(),
        });
        // What must hold is reported wherever it is; of other faults, those that come from a cell.
        let is_told = |d: &Diagnostic| {
            let of_a_cell = d.labels.iter().any(|l| matches!(l.place, Place::Cell(_)));
            d.is_error() && (of_a_cell || d.code == "OV-910")
        };
        found.into_iter().filter(is_told).collect()
    }
}

/// Reading as far as it goes, to find what else is wrong.
pub(super) fn tentative<'o>(read: &ReadOptions<'o>) -> ReadOptions<'o> {
    ReadOptions {
        tentative: true,
        ..read.clone()
    }
}

/// One message for each cause, with the rows it is met on.
fn together(apart: Vec<Diagnostic>) -> Vec<Diagnostic> {
    let mut out: Vec<Diagnostic> = Vec::new();
    for d in apart {
        let same = out
            .iter_mut()
            .find(|o| o.code == d.code && o.place() == d.place());
        match same {
            Some(first) => {
                first.rows += d.rows;
                let left = MOST_MARKS.saturating_sub(first.marks.len());
                first.marks.extend(d.marks.into_iter().take(left));
            }
            None => out.push(d),
        }
    }
    out
}
