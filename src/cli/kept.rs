//! What a watch keeps between its runs: the survey as read, and the columns worked from it.

use ovolo::diagnostics::Diagnostic;
use ovolo::estimate::Survey;
use ovolo::eval::Memory;
use ovolo::pricing::OriginFile;
use ovolo::program::Program;
use ovolo::table::Schema;
use ovolo::units::Nouns;
use std::path::PathBuf;
use std::sync::{Arc, Mutex};
use std::time::SystemTime;

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
    pub origin: Vec<OriginFile>,
    pub files: Vec<PathBuf>,
}

/// What the reading of a survey depends on.
pub struct Basis {
    schemas: Vec<Schema>,
    nouns: Nouns,
    currency: Option<String>,
    /// For each file how it is read, when it was last saved, and its length.
    files: Vec<(usize, FileState, Reading)>,
}

type FileState = (PathBuf, SystemTime, u64);
type Reading = (Vec<String>, Option<u32>, Option<u8>, bool);

impl Basis {
    /// The basis of a job now; `None` where it can't be told, as with a survey from standard input. `place` finds the files.
    pub fn of(
        program: &Program,
        place: impl Fn(&ovolo::program::FileInput) -> PathBuf,
    ) -> Option<Basis> {
        let mut files = Vec::new();
        for input in &program.terms.surveys {
            for file in &input.files {
                let path = place(file);
                let about = std::fs::metadata(&path).ok()?;
                let reading = (
                    file.tabs.clone(),
                    input.heading_row,
                    input.delimiter,
                    input.decimal_comma,
                );
                files.push((
                    usize::from(input.table.0),
                    (path, about.modified().ok()?, about.len()),
                    reading,
                ));
            }
        }
        let schemas = program.tables.iter().map(|t| t.schema.clone()).collect();
        Some(Basis {
            schemas,
            nouns: program.nouns.clone(),
            currency: program.currency.clone(),
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
            && (&self.nouns, &self.currency, &self.files)
                == (&other.nouns, &other.currency, &other.files)
    }
}

impl Kept {
    /// The survey of an earlier run, if nothing it was read from has changed.
    pub fn survey(&self, now: Option<&Basis>) -> Option<KeptSurvey> {
        let (basis, survey) = self.survey.as_ref()?;
        basis.same(now?).then(|| survey.clone())
    }

    /// Keeps a survey for later runs.
    pub fn keep(&mut self, basis: Option<Basis>, survey: KeptSurvey) {
        self.survey = basis.map(|basis| (basis, survey));
    }
}
