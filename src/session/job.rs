//! A job whose sheets are sound: its program, its files, and the messages met so far.

use super::files::{Files, JobFiles};
use crate::check::{self, Checked, Loaded, Options};
use crate::diagnostics::suggest::nearest;
use crate::diagnostics::{Diagnostic, Place, Sources, any_error};
use crate::estimate::{Survey, Worked};
use crate::explain::Subject;
use crate::prices::PriceBook;
use crate::pricing::Origin;
use std::sync::Arc;

/// A job whose sheets are sound.
pub struct Job {
    /// Its sheets.
    pub loaded: Loaded,
    /// What checking made of them.
    pub checked: Checked,
    /// What should be heard though it runs.
    pub warnings: Vec<Diagnostic>,
    /// Every file it reads.
    pub files: JobFiles,
    pub(super) from: Arc<dyn Files>,
}

/// A job that cannot be opened.
pub struct Unopened {
    /// Why.
    pub problems: Vec<Diagnostic>,
    /// The sheets as far as they were found.
    pub sources: Sources,
    /// The files it would read.
    pub files: JobFiles,
}

impl Job {
    /// Reads and checks the sheets of a job. `issued` is a day, as sheets write it, that takes the place of the job's own. Errors: everything that is wrong with them, and OV-222 for a sheet that names no survey.
    pub fn open(
        path: &str,
        options: Options,
        issued: Option<&str>,
        from: Arc<dyn Files>,
    ) -> Result<Job, Box<Unopened>> {
        let (mut loaded, mut problems) = check::load_for_run(&[path.to_string()], &*from);
        if let Some(day) = issued {
            loaded.issue(day);
        }
        let files = JobFiles::of(&loaded, path, &*from);
        let refuse = |problems, loaded: Loaded, files| {
            Box::new(Unopened {
                problems,
                sources: loaded.sources,
                files,
            })
        };
        if any_error(&problems) && problems.iter().any(|d| d.code == "OV-001") {
            return Err(refuse(problems, loaded, files));
        }
        let (checked, found) = check::check(&loaded, options);
        problems.extend(found);
        if checked
            .as_ref()
            .is_some_and(|c| c.program.terms.surveys.is_empty())
        {
            problems.push(
                Diagnostic::error("OV-222", "this sheet is not a job: it names no survey")
                    .at(Place::File(path.to_string()), "")
                    .expected("a job block with a line such as: survey opening from \"survey.csv\"")
                    .note("`ovolo proof` and `ovolo trial` work on any sheet"),
            );
        }
        let Some(checked) = checked.filter(|_| !any_error(&problems)) else {
            return Err(refuse(problems, loaded, files));
        };
        Ok(Job {
            loaded,
            checked,
            warnings: problems,
            files,
            from,
        })
    }

    /// What the estimate is made from, so far.
    pub fn origin(&self) -> Origin {
        self.files.origin()
    }

    /// A version worked, as explanations and records take it.
    pub fn subject<'a>(
        &'a self,
        version: usize,
        survey: &'a Survey,
        book: &'a PriceBook,
        worked: &'a Worked,
    ) -> Subject<'a> {
        let (estimate, picked) = (&worked.estimate, &worked.picked);
        Subject {
            loaded: &self.loaded,
            checked: &self.checked,
            version,
            survey,
            book,
            estimate,
            picked,
        }
    }

    /// The version of an alternate by name; 0 when none is asked for. Errors: OV-680.
    pub fn version(&self, name: Option<&str>) -> Result<usize, Diagnostic> {
        let Some(name) = name else { return Ok(0) };
        let versions = &self.checked.program.versions;
        versions
            .iter()
            .position(|v| v.name.as_deref() == Some(name))
            .ok_or_else(|| {
                let known: Vec<&str> = versions.iter().filter_map(|v| v.name.as_deref()).collect();
                let d = Diagnostic::error("OV-680", "the job has no alternate of this name")
                    .found(format!("\"{name}\""));
                let d = match known.is_empty() {
                    true => d.expected("the job as decided: this job has no alternates"),
                    false => d.expected(format!("one of \"{}\"", known.join("\", \""))),
                };
                match nearest(name, known) {
                    Some(near) => d.note(format!("Did you mean \"{near}\"?")),
                    None => d,
                }
            })
    }
}
