//! A job held open: changes go in, every value that moved comes out.
//!
//! Knows what a job was calculated to before and now. Must not know where files are, what a change means to a user, or how anything is shown.

use super::files::{Files, JobFile, JobFiles, Stamp};
use super::job::{Job, Unopened};
use super::kept::Kept;
use super::moved::{Moved, moved};
use crate::check::{Finder, Options};
use crate::diagnostics::{Diagnostic, Sources};
use crate::estimate::{self, Refused, Survey, Worked};
use crate::eval;
use crate::ids;
use crate::prices::PriceBook;
use crate::program::NodeId;
use crate::survey::{ReadOptions, SetAside};
use crate::takeoff::Wish;
use std::collections::HashMap;
use std::io::{Cursor, Read};
use std::sync::atomic::AtomicBool;
use std::sync::{Arc, Mutex, PoisonError};

/// What a session works, the same each time.
#[derive(Debug, Clone, Default)]
pub struct Ask {
    /// The job sheet.
    pub job: String,
    /// An alternate; the job as decided when none is named.
    pub alternate: Option<String>,
    /// A day, as sheets write it, instead of the one that the job says.
    pub issued: Option<String>,
    /// Rows to leave out.
    pub aside: SetAside,
    /// What is wanted besides totals.
    pub wish: Wish,
}

/// A change to the files of a job.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Change {
    /// A file of this name was saved, made or deleted: what is remembered of it no longer holds.
    Saved(String),
    /// From now on the file of this name holds this text, whatever is saved, as in an editor before saving.
    Text(String, String),
    /// The file of this name is again what is saved.
    Reverted(String),
}

/// A job that was calculated.
pub struct Run {
    /// The job.
    pub job: Job,
    /// The version worked: an index into the program's.
    pub version: usize,
    /// Its survey.
    pub survey: Arc<Survey>,
    /// Its prices.
    pub book: PriceBook,
    /// What came of it.
    pub worked: Worked,
}

/// Why changes gave no new figures.
pub struct Refusal {
    /// What is wrong; empty where the run was stopped from outside.
    pub problems: Vec<Diagnostic>,
    /// The sheets that the messages point into.
    pub sources: Sources,
}

/// How a run can be stopped and what it tells while it goes on.
#[derive(Default)]
pub struct Hooks<'a> {
    /// Set from elsewhere to end the run early.
    pub stop: Option<&'a AtomicBool>,
    /// Told how many bytes of the survey are read, of how many where that is known.
    pub reading: Option<&'a (dyn Fn(u64, Option<u64>) + Sync)>,
    /// Told how many rows are calculated, of how many.
    pub working: Option<&'a (dyn Fn(u64, u64) + Sync)>,
}

/// A job held open between changes.
///
/// ```
/// use ovolo::session::{Ask, Change, Session, Texts};
///
/// let job = "sheet \"Job\"\nuse \"rules.ovo\"\njob {\n  survey opening from \"survey.csv\"\n  prices from \"prices.csv\"\n  money USD\n}\n";
/// let rules = "sheet \"Rules\"\ncounted sash\nsurvey opening {\n  mark  text  key  headed \"Mark\"\n}\ngiven pace  2 h\nresource joiner  labor  h\nfor each opening {\n  take joiner  pace  for \"Work\"\n}\n";
/// let files = Texts::from([
///     ("job.ovo", job),
///     ("rules.ovo", rules),
///     ("survey.csv", "Mark\nA1\nA2\n"),
///     ("prices.csv", "resource,unit,price\njoiner,h,40.00\n"),
/// ]);
/// let ask = Ask { job: "job.ovo".into(), ..Ask::default() };
/// let mut session = Session::new(ask, std::sync::Arc::new(files));
/// session.apply(&[], &Default::default()).map_err(|no| format!("{:?}", no.problems))?;
/// let rules = rules.replace("2 h", "3 h");
/// let moved = session
///     .apply(&[Change::Text("rules.ovo".into(), rules)], &Default::default())
///     .map_err(|no| format!("{:?}", no.problems))?;
/// let labor = moved.iter().find(|m| m.name == "labor").ok_or("hours move")?;
/// assert_eq!(labor.rows[0].after.as_deref(), Some("6 h"));
/// # Ok::<(), String>(())
/// ```
pub struct Session {
    ask: Ask,
    files: Arc<Overlaid>,
    kept: Kept,
    last: Option<Run>,
    list: JobFiles,
}

impl Session {
    /// A session in which nothing has been calculated yet.
    pub fn new(ask: Ask, files: Arc<dyn Files>) -> Session {
        let list = JobFiles::default();
        let files = Arc::new(Overlaid {
            below: files,
            texts: Mutex::default(),
        });
        Session {
            ask,
            files,
            kept: Kept::default(),
            last: None,
            list,
        }
    }

    /// Takes changes in and works the job again, of it only what depends on them. Gives every value that is not what it was in the last
    /// run that came to an end; all of them the first time. With no changes it looks at all files anew.
    /// Errors: what is wrong with the job as it now is; the run before stays the one that later ones are compared with.
    pub fn apply(
        &mut self,
        changes: &[Change],
        hooks: &Hooks<'_>,
    ) -> Result<Vec<Moved>, Box<Refusal>> {
        for change in changes {
            let mut texts = self.files.texts();
            match change {
                Change::Saved(name) => self.kept.forget(name),
                Change::Text(name, text) => {
                    let text: Arc<str> = text.as_str().into();
                    texts.insert(name.clone(), text);
                    self.kept.forget(name);
                }
                Change::Reverted(name) => {
                    texts.remove(name);
                    self.kept.forget(name);
                }
            }
        }
        self.files.below.refresh();
        let run = self.work(hooks)?;
        let moved = moved(self.last.as_ref(), &run);
        self.last = Some(run);
        Ok(moved)
    }

    /// The last run that came to an end.
    pub fn run(&self) -> Option<&Run> {
        self.last.as_ref()
    }

    /// The files that the last changes led to, whether they could be calculated or not.
    pub fn files(&self) -> Vec<JobFile> {
        self.list.list()
    }

    fn work(&mut self, hooks: &Hooks<'_>) -> Result<Run, Box<Refusal>> {
        let files: Arc<dyn Files> = self.files.clone();
        let to_run = Options {
            alternates: true,
            trials: false,
        };
        let mut job =
            Job::open(&self.ask.job, to_run, self.ask.issued.as_deref(), files).map_err(|no| {
                let Unopened {
                    problems,
                    sources,
                    files,
                } = *no;
                self.list = files;
                Box::new(Refusal { problems, sources })
            })?;
        self.list = job.files.clone();
        let version = match job.version(self.ask.alternate.as_deref()) {
            Ok(version) => version,
            Err(d) => return Err(refusal(job, Refused::Messages(vec![d]))),
        };
        let read = ReadOptions {
            stop: hooks.stop,
            progress: hooks.reading,
            ..ReadOptions::default()
        };
        let priced = job.priced(version, self.ask.wish);
        let (survey, book) = match job.inputs(&self.ask.aside, &read, priced, Some(&mut self.kept))
        {
            Ok(both) => both,
            Err(why) => return Err(refusal(job, why)),
        };
        let values = job.checked.program.versions.get(version);
        let more: Vec<NodeId> = values
            .into_iter()
            .flat_map(|v| &v.values)
            .map(|v| v.node)
            .chain(
                job.checked
                    .program
                    .groups
                    .iter()
                    .flat_map(|g| g.keys.clone()),
            )
            .collect();
        let options = eval::Options {
            stop: hooks.stop,
            progress: hooks.working,
            memory: Some(&self.kept.memory),
            ..eval::Options::default()
        };
        let worked = estimate::estimate(
            &job.checked.program,
            version,
            &survey,
            &book,
            self.ask.wish,
            &more,
            &options,
            job.origin(),
        );
        match worked {
            Ok(worked) => {
                job.warnings.extend(worked.warnings.iter().cloned());
                Ok(Run {
                    job,
                    version,
                    survey,
                    book,
                    worked,
                })
            }
            Err(why) => Err(refusal(job, why)),
        }
    }
}

fn refusal(job: Job, why: Refused) -> Box<Refusal> {
    let problems = match why {
        Refused::Messages(list) => list,
        Refused::Stopped => vec![],
    };
    Box::new(Refusal {
        problems,
        sources: job.loaded.sources,
    })
}

/// Files with the texts of some of them replaced.
struct Overlaid {
    below: Arc<dyn Files>,
    texts: Mutex<HashMap<String, Arc<str>>>,
}

impl Overlaid {
    fn texts(&self) -> std::sync::MutexGuard<'_, HashMap<String, Arc<str>>> {
        self.texts.lock().unwrap_or_else(PoisonError::into_inner)
    }

    fn text(&self, name: &str) -> Option<Arc<str>> {
        self.texts().get(name).cloned()
    }
}

impl Finder for Overlaid {
    fn find(&self, path: &str, from: Option<&str>) -> Result<(String, String), String> {
        let name = self.below.name(path, from.unwrap_or_default());
        match self.text(&name) {
            Some(text) => Ok((name, text.to_string())),
            None => self.below.find(path, from),
        }
    }
}

impl Files for Overlaid {
    fn name(&self, path: &str, from: &str) -> String {
        self.below.name(path, from)
    }

    fn open(&self, name: &str) -> Result<Box<dyn Read + Send>, String> {
        match self.text(name) {
            Some(text) => Ok(Box::new(Cursor::new(text.as_bytes().to_vec()))),
            None => self.below.open(name),
        }
    }

    fn stamp(&self, name: &str) -> Option<Stamp> {
        // A text put in is forgotten by name when it changes.
        match self.text(name) {
            Some(text) => Some((0, ids::long(text.len()))),
            None => self.below.stamp(name),
        }
    }
}
