//! What `estimate` would refuse of a survey, found while the survey is read: rows whose cells contradict one another, and values that fail.

use super::job::Job;
use crate::diagnostics::{Diagnostic, Place};
use crate::estimate::{Refused, Survey, run_error};
use crate::survey::{ReadOptions, SetAside};
use crate::takeoff::{self, Wish};
use crate::{eval, running};

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
            Ok(survey) => match self.contradictions(&survey) {
                found if found.is_empty() => Ok(survey),
                found => Err(found),
            },
            Err(mut problems) => {
                let told = self.warnings.len();
                if let Ok(rest) = self.survey(&SetAside::AllUnreadable, false, read) {
                    problems.extend(self.contradictions(&rest));
                }
                // What is said of a survey without its faulty rows is no news of the survey.
                self.warnings.truncate(told);
                Err(problems)
            }
        }
    }

    /// Requirements that do not hold and values that fail, where a cell of the survey is at fault.
    fn contradictions(&self, survey: &Survey) -> Vec<Diagnostic> {
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
        let found = eval::run(program, &inputs, &wanted, &eval::Options::default())
            .and_then(|results| running::faults(program, version, &inputs, &results, &shown));
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
