//! What `estimate` would refuse of a survey, found while the survey is read: rows whose cells contradict one another, and values that fail.

use super::job::Job;
use crate::diagnostics::{Diagnostic, Place, Span};
use crate::estimate::{Refused, Survey, run_error};
use crate::eval;
use crate::program::{Kind, NodeId};
use crate::running::{self, Telling};
use crate::survey::{ReadOptions, SetAside};
use crate::takeoff::{self, Wish};
use std::collections::HashSet;

/// Marks shown of the rows of one message.
const MOST_MARKS: usize = 3;

impl Job {
    /// Reads the survey, and works the rules over it as far as it can be read: rows with cells that cannot be read are told with the
    /// contradictions of all other rows.
    /// Errors: everything that is wrong with the survey.
    pub fn survey_in_full(
        &mut self,
        aside: &SetAside,
        read: &ReadOptions<'_>,
    ) -> Result<Survey, Vec<Diagnostic>> {
        match self.survey(aside, false, read) {
            Ok(survey) => match self.contradictions(&survey, Telling::Together) {
                found if found.is_empty() => Ok(survey),
                found => Err(found),
            },
            Err(mut problems) => {
                let told = self.warnings.len();
                if let Ok(rest) = self.survey(&SetAside::AllUnreadable, false, read) {
                    problems.extend(self.contradictions(&rest, Telling::Together));
                }
                // What is said of a survey without its faulty rows is no news of the survey.
                self.warnings.truncate(told);
                Err(problems)
            }
        }
    }

    /// Requirements that do not hold and values that fail, where a cell of the survey is at fault. What is said of a row whose rows below
    /// it could not all be read is left out: it may come from what is missing.
    pub(super) fn contradictions(&self, survey: &Survey, telling: Telling) -> Vec<Diagnostic> {
        let lacking: HashSet<&str> = survey
            .reports
            .iter()
            .flat_map(|r| &r.set_aside)
            .filter_map(|r| r.above.as_deref())
            .collect();
        if lacking.is_empty() {
            return self.of_rows(survey, telling);
        }
        let mut apart = self.of_rows(survey, Telling::Apart);
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
            let (mut todo, mut seen) = (vec![condition], HashSet::new());
            while let Some(node) = todo.pop() {
                match &program.node(node).kind {
                    Kind::Up { .. } | Kind::Count { .. } => return false,
                    other if seen.insert(node) => todo.extend(other.children()),
                    _ => {}
                }
            }
            true
        };
        let requires = requires.into_iter().flatten();
        requires
            .filter(|r| alone(r.condition))
            .map(|r| r.span)
            .collect()
    }

    fn of_rows(&self, survey: &Survey, telling: Telling) -> Vec<Diagnostic> {
        let program = &self.checked.program;
        let Some(version) = program.versions.first() else {
            return Vec::new();
        };
        let wish = Wish {
            quantities: true,
            ..Wish::default()
        };
        let shown = takeoff::wanted(program, version, wish);
        let mut wanted = shown.clone();
        wanted.extend(version.requires.iter().map(|r| r.holds));
        let inputs = survey.inputs();
        let found =
            eval::run(program, &inputs, &wanted, &eval::Options::default()).and_then(|results| {
                running::faults(program, version, &inputs, &results, &shown, telling)
            });
        let found = found.unwrap_or_else(|e| match run_error(e) {
            Refused::Messages(list) => list,
            Refused::Stopped => Vec::new(),
        });
        let of_a_cell = |d: &Diagnostic| {
            d.is_error() && d.labels.iter().any(|l| matches!(l.place, Place::Cell(_)))
        };
        found.into_iter().filter(of_a_cell).collect()
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
