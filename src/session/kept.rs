//! What a session keeps between its runs: the survey as read, and the columns calculated from it.

use super::files::{JobFile, Stamp};
use crate::diagnostics::Diagnostic;
use crate::estimate::Survey;
use crate::eval::Memory;
use crate::program::{FileInput, Program};
use crate::survey::SetAside;
use crate::table::Schema;
use crate::units::Nouns;
use std::sync::{Arc, Mutex};

/// Kept from one run for the next.
#[derive(Default)]
pub struct Kept {
    /// Columns worked.
    pub memory: Mutex<Memory>,
    survey: Option<(Basis, KeptSurvey)>,
}

/// A survey as read, with what reading it left elsewhere.
#[derive(Clone)]
pub struct KeptSurvey {
    pub survey: Arc<Survey>,
    pub warnings: Vec<Diagnostic>,
    pub files: Vec<JobFile>,
}

/// What the reading of a survey depends on.
pub struct Basis {
    schemas: Vec<Schema>,
    nouns: Nouns,
    currency: Option<String>,
    aside: SetAside,
    /// For each file its state and how it is read.
    files: Vec<(usize, (Stamp, String), Reading)>,
}

type Reading = (Vec<String>, Option<u32>, Option<u8>, bool);

impl Basis {
    /// The basis of a job now; `None` where it is not known, as with a survey from standard input. `state` gives the state and the name
    /// of a file.
    pub fn of(
        program: &Program,
        aside: &SetAside,
        state: impl Fn(&FileInput) -> Option<(Stamp, String)>,
    ) -> Option<Basis> {
        let mut files = Vec::new();
        for input in &program.terms.surveys {
            for file in &input.files {
                let reading = (
                    file.tabs.clone(),
                    input.heading_row,
                    input.delimiter,
                    input.decimal_comma,
                );
                files.push((input.table.index(), state(file)?, reading));
            }
        }
        let schemas = program.tables.iter().map(|t| t.schema.clone()).collect();
        Some(Basis {
            schemas,
            nouns: program.nouns.clone(),
            currency: program.currency.clone(),
            aside: aside.clone(),
            files,
        })
    }

    fn same(&self, other: &Basis) -> bool {
        let schemas = self.schemas.len() == other.schemas.len()
            && self
                .schemas
                .iter()
                .zip(&other.schemas)
                .all(|(a, b)| a.reads_like(b));
        schemas
            && (&self.nouns, &self.currency, &self.aside, &self.files)
                == (&other.nouns, &other.currency, &other.aside, &other.files)
    }
}

impl Kept {
    /// The survey of an earlier run, if nothing it was read from has changed.
    pub fn survey(&self, now: Option<&Basis>) -> Option<KeptSurvey> {
        let (basis, survey) = self.survey.as_ref()?;
        basis.same(now?).then(|| survey.clone())
    }

    /// Forgets the survey if this file is among those it was read from.
    pub fn forget(&mut self, name: &str) {
        let reads = |basis: &Basis| basis.files.iter().any(|(_, (_, file), _)| file == name);
        if self.survey.as_ref().is_some_and(|(basis, _)| reads(basis)) {
            self.survey = None;
        }
    }

    /// Keeps a survey for later runs.
    pub fn keep(&mut self, basis: Option<Basis>, survey: KeptSurvey) {
        self.survey = basis.map(|basis| (basis, survey));
    }
}
