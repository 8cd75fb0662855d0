//! The files of a job: where they come from, and the one list of them.
//!
//! Knows which lines of a sheet name a file. Must not open a file itself: it asks [`Files`].

use crate::check::{Finder, Loaded, SHEETS, is_named};
use crate::library;
use crate::pricing::{Origin, OriginFile};
use crate::syntax::tree::{CutLine, JobLine, StatementKind};
use sha2::{Digest, Sha256};
use std::io::Read;
use std::sync::{Arc, Mutex, PoisonError};

/// Where the files of a job come from: a disk, an archive, the buffers of an editor.
pub trait Files: Finder + Send + Sync {
    /// The name of a file that the sheet `from` calls `path`: the same for the same file, whether it exists or not.
    fn name(&self, path: &str, from: &str) -> String;

    /// Opens a file by its name. Errors in words: what is wrong with the file.
    fn open(&self, name: &str) -> Result<Box<dyn Read + Send>, String>;

    /// Something that differs when the file may have changed; `None` where that can't be said, as with standard input.
    fn stamp(&self, name: &str) -> Option<Stamp>;

    /// Forgets texts read so far, so that the next look sees the files as they are then.
    fn refresh(&self) {}
}

/// A state of a file: for a file on disk when it was last saved, in nanoseconds, and its length.
pub type Stamp = (u128, u64);

/// The name that stands for standard input.
pub const STANDARD_INPUT: &str = "standard input";

/// What a job reads a file as.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Role {
    /// Rules.
    Sheet,
    /// The shipped sheets, all together.
    Library,
    /// A lookup table of a sheet, in a CSV file.
    Table,
    /// A survey.
    Survey,
    /// A price book.
    Prices,
    /// The record of an earlier run.
    Record,
    /// A problem to be cut.
    Problem,
    /// A cut plan.
    Plan,
    /// A photograph that a paper places.
    Photograph,
}

impl Role {
    /// Its word in lists.
    pub fn word(self) -> &'static str {
        match self {
            Role::Sheet => "sheet",
            Role::Library => "library",
            Role::Table => "table",
            Role::Survey => "survey",
            Role::Prices => "prices",
            Role::Record => "record",
            Role::Problem => "problem",
            Role::Plan => "plan",
            Role::Photograph => "photograph",
        }
    }

    /// Its word with an article, for sentences.
    pub fn a_word(self) -> &'static str {
        match self {
            Role::Sheet => "a sheet",
            Role::Library => "the library",
            Role::Table => "a table",
            Role::Survey => "a survey",
            Role::Prices => "a price book",
            Role::Record => "the record",
            Role::Problem => "the problem",
            Role::Plan => "the plan",
            Role::Photograph => "a photograph",
        }
    }
}

/// A file that a job reads, or would read if it were there.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct JobFile {
    /// What it is read as.
    pub role: Role,
    /// Its name, as [`Files`] gives it.
    pub name: String,
    /// SHA-256 of its bytes in hexadecimal; `None` until it has been read to its end.
    pub sha256: Option<String>,
}

/// Every file of a job, each once for each role, in the order in which they are read. Copies share one list.
#[derive(Debug, Clone, Default)]
pub struct JobFiles {
    list: Arc<Mutex<Vec<JobFile>>>,
}

impl JobFiles {
    /// The files that sheets name, found or not. Sheets with faults count as far as they could be read. `first` is the job sheet as asked
    /// for, which is in the list also when it could not be opened.
    pub fn of(loaded: &Loaded, first: &str, files: &dyn Files) -> JobFiles {
        let list = JobFiles::default();
        for (name, text) in loaded.sources.iter() {
            if name.starts_with(library::PREFIX) {
                list.put(Role::Library, library::PREFIX, Some(library::hash()));
            } else {
                list.read(Role::Sheet, name, text.as_bytes());
            }
        }
        if loaded.sheets.is_empty() {
            list.add(Role::Sheet, &files.name(first, ""));
        }
        let mut later: Vec<(Role, String)> = Vec::new();
        for sheet in &loaded.sheets {
            let from = loaded.sources.name(sheet.file);
            if from.starts_with(library::PREFIX) {
                continue;
            }
            for statement in &sheet.tree.statements {
                match &statement.kind {
                    // A sheet that was found is in the list under its first name.
                    StatementKind::Use(path)
                        if is_named(&path.text, SHEETS)
                            && !path.text.starts_with(library::PREFIX)
                            && files.find(&path.text, Some(from)).is_err() =>
                    {
                        list.add(Role::Sheet, &files.name(&path.text, from));
                    }
                    StatementKind::Table(table) => {
                        let Some(path) = &table.from else { continue };
                        match loaded.tables.get(&(sheet.file, path.text.clone())) {
                            Some(Ok((name, text))) => {
                                list.read(Role::Table, name, text.as_bytes());
                            }
                            Some(Err(_)) | None => {
                                list.add(Role::Table, &files.name(&path.text, from));
                            }
                        }
                    }
                    StatementKind::Cut { lines, .. } => {
                        for line in lines {
                            if let CutLine::Plan(path) = line {
                                later.push((Role::Plan, files.name(&path.text, from)));
                            }
                        }
                    }
                    StatementKind::Job(lines) => later.extend(named(lines, from, files)),
                    StatementKind::Use(_)
                    | StatementKind::Counted(_)
                    | StatementKind::Phases(_)
                    | StatementKind::Choice { .. }
                    | StatementKind::Given(_)
                    | StatementKind::Resource(_)
                    | StatementKind::Helper { .. }
                    | StatementKind::Survey(_)
                    | StatementKind::Rows(_)
                    | StatementKind::For(_)
                    | StatementKind::Caution(_)
                    | StatementKind::Change(_)
                    | StatementKind::Amend(_)
                    | StatementKind::Extend(_)
                    | StatementKind::Alternate { .. }
                    | StatementKind::Calendar { .. }
                    | StatementKind::Life { .. }
                    | StatementKind::List(_)
                    | StatementKind::Paper(_)
                    | StatementKind::Trial(_)
                    | StatementKind::Pay { .. }
                    | StatementKind::Charge(_)
                    | StatementKind::Allowance { .. }
                    | StatementKind::Final { .. } => {}
                }
            }
        }
        for (role, name) in later {
            list.add(role, &name);
        }
        list
    }

    /// All of them.
    pub fn list(&self) -> Vec<JobFile> {
        let list = self.list.lock().unwrap_or_else(PoisonError::into_inner);
        list.clone()
    }

    /// What an estimate is made from: every file read so far, and the program.
    pub fn origin(&self) -> Origin {
        let read = |f: JobFile| {
            Some(OriginFile {
                role: f.role.word().to_owned(),
                name: f.name,
                sha256: f.sha256?,
            })
        };
        Origin {
            program: format!("ovolo {}", env!("CARGO_PKG_VERSION")),
            files: self.list().into_iter().filter_map(read).collect(),
        }
    }

    /// Adds a file that is not read yet; one that is in the list already stays as it is.
    pub fn add(&self, role: Role, name: &str) {
        self.put(role, name, None);
    }

    /// Adds a file with the bytes it holds.
    pub fn read(&self, role: Role, name: &str, bytes: &[u8]) {
        self.put(role, name, Some(library::hex(&Sha256::digest(bytes))));
    }

    /// Takes over what another list knows of the files read as `role`.
    pub(super) fn take(&self, role: Role, known: Vec<JobFile>) {
        for file in known.into_iter().filter(|f| f.role == role) {
            self.put(role, &file.name, file.sha256);
        }
    }

    fn put(&self, role: Role, name: &str, sha256: Option<String>) {
        let mut list = self.list.lock().unwrap_or_else(PoisonError::into_inner);
        match list.iter_mut().find(|f| f.role == role && f.name == name) {
            Some(known) => known.sha256 = sha256.or(known.sha256.take()),
            None => list.push(JobFile {
                role,
                name: name.to_owned(),
                sha256,
            }),
        }
    }

    /// A stream that puts the hash of what is read through it into the list, once it is read to its end.
    pub fn hashed(
        &self,
        role: Role,
        name: &str,
        inner: Box<dyn Read + Send>,
    ) -> Box<dyn Read + Send> {
        Box::new(Hashed {
            inner,
            hash: Sha256::new(),
            files: self.clone(),
            role,
            name: name.to_owned(),
        })
    }
}

/// The files that a job block names.
fn named<'a>(
    lines: &'a [JobLine],
    from: &'a str,
    files: &'a dyn Files,
) -> impl Iterator<Item = (Role, String)> + 'a {
    lines.iter().flat_map(move |line| {
        let (role, paths) = match line {
            JobLine::Survey { files, .. } => (Role::Survey, files.as_slice()),
            JobLine::Prices { files, .. } => (Role::Prices, files.as_slice()),
            JobLine::Money(_)
            | JobLine::Ties(..)
            | JobLine::SplitBy(_)
            | JobLine::Round(..)
            | JobLine::Library { .. }
            | JobLine::Photographs(_)
            | JobLine::Excludes(_)
            | JobLine::Issued(_) => (Role::Prices, [].as_slice()),
        };
        paths
            .iter()
            .map(move |path| (role, data_name(&path.text, from, files)))
    })
}

/// The name of a survey or a price book that a sheet calls `path`.
pub(super) fn data_name(path: &str, from: &str, files: &dyn Files) -> String {
    if path == "-" {
        STANDARD_INPUT.to_owned()
    } else {
        files.name(path, from)
    }
}

struct Hashed {
    inner: Box<dyn Read + Send>,
    hash: Sha256,
    files: JobFiles,
    role: Role,
    name: String,
}

impl Read for Hashed {
    fn read(&mut self, buffer: &mut [u8]) -> std::io::Result<usize> {
        let n = self.inner.read(buffer)?;
        if n > 0 {
            self.hash.update(&buffer[..n]);
        } else if !buffer.is_empty() {
            let sha256 = library::hex(&self.hash.clone().finalize());
            self.files.put(self.role, &self.name, Some(sha256));
        }
        Ok(n)
    }
}
