//! An issue of the papers: a folder of its own with the papers, copies of all they were made from, and a list of both with hashes.
//!
//! `papers/` is handed over; `office/` is not. The folder gets its name when it is whole.

use super::args::{AsideArgs, Common};
use super::files;
use super::folder::{self, put_bytes, put_file};
use super::papers::{Chosen, MadeFile, made};
use ovolo::defuse;
use ovolo::diagnostics::{Diagnostic, Place};
use ovolo::explain::Subject;
use ovolo::explain::against;
use ovolo::explain::difference::{self, Figure};
use ovolo::explain::record::{Record, Saved};
use ovolo::library;
use ovolo::paper::Reader;
use ovolo::pricing::Estimate;
use ovolo::report::pdf::Sheet;
use ovolo::report::terminal;
use ovolo::session::{Job, Role, STANDARD_INPUT};
use serde_json::{Value, json};
use sha2::{Digest, Sha256};
use std::path::{Component, Path, PathBuf};

/// Number of the form of an issue's list.
const SCHEMA: &str = "ovolo-issue/1";
/// Largest file copied, in bytes.
const MOST_FILE: u64 = 1 << 30;
/// Columns of what changed, as text.
const WIDTH: usize = 110;

/// An issue that may be made.
pub struct Issue {
    number: u32,
    /// The folder of all issues, as the user named it.
    folder: PathBuf,
    /// The issue before this one.
    last: Option<u32>,
}

/// What an issue is made of.
pub struct Contents<'a> {
    pub job: &'a Job,
    pub subject: &'a Subject<'a>,
    pub papers: &'a [Chosen<'a>],
    /// The record of the issue before, where there was one.
    pub last: Option<&'a Result<Record, Diagnostic>>,
    pub sheet: Sheet,
    pub aside: &'a AsideArgs,
    pub common: &'a Common,
}

fn folder_name(number: u32) -> String {
    format!("issue-{number}")
}

impl Issue {
    /// Looks whether an issue of this number can be made there. Errors: OV-003 for a place where no folder can be, OV-080 and OV-081 for
    /// the number.
    pub fn new(number: u32, folder: &str, job: &Job) -> Result<Issue, Diagnostic> {
        let place = Path::new(folder);
        let at = |d: Diagnostic, path: &Path| d.at(Place::File(path.display().to_string()), "");
        if let Ok(meta) = std::fs::metadata(place)
            && !meta.is_dir()
        {
            let input = job.files.list().into_iter().find(|f| f.name == folder);
            let found = match input {
                Some(file) => format!("{} of this job", file.role.a_word()),
                None => "a file".to_owned(),
            };
            let d = Diagnostic::error("OV-003", format!("{folder} can't hold issues"));
            return Err(at(
                d.found(found)
                    .expected("a folder, or a name that is not taken"),
                place,
            ));
        }
        if let Some(d) = not_copied(job) {
            return Err(d);
        }
        let last = numbers(place).into_iter().max();
        let own = place.join(folder_name(number));
        let next = last.map_or(1, |n| n.saturating_add(1));
        let mend = format!("write --issue {next}");
        if std::fs::symlink_metadata(&own).is_ok() {
            let d = Diagnostic::error("OV-080", format!("issue {number} is there already"));
            let d = d.note("An issue that was handed over is never written again.");
            return Err(at(d.mend(mend), &own));
        }
        match last {
            Some(last) if last > number => Err(at(
                Diagnostic::error(
                    "OV-081",
                    format!("issue {number} would come after issue {last}"),
                )
                .expected(format!("a number above {last}"))
                .mend(mend),
                place,
            )),
            last => Ok(Issue {
                number,
                folder: place.to_path_buf(),
                last,
            }),
        }
    }

    /// Its number.
    pub fn number(&self) -> u32 {
        self.number
    }

    /// Writes the issue whole or not at all; sentences that say so, and what could not be said of the issue before.
    pub fn write(
        &self,
        of: &Contents<'_>,
    ) -> Result<(Vec<String>, Vec<Diagnostic>), Vec<Diagnostic>> {
        let head = of.papers.first().map(|p| &p.head);
        let Some(head) = head else {
            return Err(vec![
                Diagnostic::error("OV-665", "the job has no paper to issue")
                    .expected("a paper that a sheet of the job declares"),
            ]);
        };
        if head.date.is_none() {
            return Err(vec![
                Diagnostic::error("OV-085", "an issue needs its day")
                    .expected("a line of the job such as: issued 2026-03-21")
                    .mend("write the day into the job block, or give --issued DAY"),
            ]);
        }
        let mut warnings = Vec::new();
        let inputs = inputs(of.job)?;
        let mut files = Vec::new();
        for paper in of.papers {
            for file in made(paper, of.sheet).map_err(|d| vec![d])? {
                files.push((paper, file));
            }
        }
        let changes = self.changes(of, &mut warnings)?;
        let failed = |e: std::io::Error| {
            let own = self.folder.join(folder_name(self.number));
            vec![
                Diagnostic::error("OV-003", format!("{} can't be made", own.display()))
                    .at(Place::File(own.display().to_string()), "")
                    .found(e.to_string()),
            ]
        };
        let told = self
            .put(of, &files, &inputs, changes.as_deref())
            .map_err(failed)?;
        Ok((told, warnings))
    }

    fn put(
        &self,
        of: &Contents<'_>,
        files: &[(&Chosen<'_>, MadeFile)],
        inputs: &[Input],
        changes: Option<&str>,
    ) -> std::io::Result<Vec<String>> {
        let own = self.folder.join(folder_name(self.number));
        let mut told = folder::write_whole(&own, |temp| {
            let mut told = Vec::new();
            let list = fill(temp, self, of, (files, inputs), changes, &mut told)?;
            put_file(&temp.join("issue.json"), |out| defuse::json(out, &list))?;
            Ok(told)
        })?;
        told.insert(0, format!("Issue {} made: {}", self.number, own.display()));
        Ok(told)
    }

    /// The record of the issue before, where there was one. Errors: why it can't be read.
    pub fn last_record(&self) -> Option<Result<Record, Diagnostic>> {
        let (file, name) = self.last_file()?;
        let bytes = files::read_file(&file, MOST_FILE);
        let bytes = bytes.map_err(|why| Diagnostic::error("OV-002", why));
        Some(bytes.and_then(|bytes| Record::read(&name, &String::from_utf8_lossy(&bytes))))
    }

    /// Where the record of the issue before should be, and its name.
    fn last_file(&self) -> Option<(PathBuf, String)> {
        let folder = self.folder.join(folder_name(self.last?));
        let file = folder.join("office/record.json");
        let name = file.display().to_string();
        Some((file, name))
    }

    /// What changed since the issue before, in words; none for the first.
    fn changes(
        &self,
        of: &Contents<'_>,
        warnings: &mut Vec<Diagnostic>,
    ) -> Result<Option<String>, Vec<Diagnostic>> {
        let (Some(last), Some(record), Some((_, name))) = (self.last, of.last, self.last_file())
        else {
            return Ok(None);
        };
        let record = match record {
            Ok(record) => record,
            Err(d) => {
                warnings.push(
                    Diagnostic::warning(
                        "OV-082",
                        format!("the changes since issue {last} can't be shown"),
                    )
                    .at(Place::File(name), "")
                    .found(d.found.as_ref().unwrap_or(&d.message).clone())
                    .expected(format!("the record of issue {last}")),
                );
                return Ok(Some(format!(
                    "The changes since issue {last} can't be shown: its record can't be read.\n"
                )));
            }
        };
        let difference = against::against(of.subject, record).map_err(|why| match why {
            ovolo::estimate::Refused::Messages(list) => list,
            ovolo::estimate::Refused::Stopped => Vec::new(),
        })?;
        let figure = Figure::named("total").or_else(|| Figure::all().next());
        let Some(figure) = figure else {
            return Ok(None);
        };
        let estimate: &Estimate = of.subject.estimate;
        let [parts, figures] = difference::views(&difference, figure, estimate);
        let text = format!(
            "Issue {}: what changed since issue {last}\n\n{}\n{}",
            self.number,
            terminal::draw(&parts, WIDTH),
            terminal::draw(&figures, WIDTH)
        );
        Ok(Some(defuse::terminal(&text).into_owned()))
    }
}

/// Numbers of the issues in a folder.
fn numbers(folder: &Path) -> Vec<u32> {
    let folder = match folder.as_os_str().is_empty() {
        true => Path::new("."),
        false => folder,
    };
    let Ok(entries) = std::fs::read_dir(folder) else {
        return Vec::new();
    };
    let number = |name: &str| name.strip_prefix("issue-")?.parse().ok();
    let names = entries.flatten().map(|e| e.file_name());
    names.filter_map(|n| number(n.to_str()?)).collect()
}

/// A file to be copied.
struct Input {
    role: Role,
    /// As the job names it.
    name: String,
    /// Its place below the folder of copies.
    place: PathBuf,
    bytes: Vec<u8>,
}

/// The files of a job, read again. Errors: OV-003 for one that is no file or is not what the papers were made from.
fn inputs(job: &Job) -> Result<Vec<Input>, Vec<Diagnostic>> {
    let (mut found, mut problems) = (Vec::new(), Vec::new());
    for file in job.files.list() {
        if file.role == Role::Library {
            continue;
        }
        let changed = |found: String| {
            Diagnostic::error(
                "OV-003",
                format!("{} can't be copied into the issue", file.name),
            )
            .at(Place::File(file.name.clone()), "")
            .found(found)
            .expected("the file that the papers were made from")
        };
        match files::read_file(Path::new(&file.name), MOST_FILE) {
            Err(why) => problems.push(changed(why)),
            Ok(bytes) if file.sha256.as_deref().is_some_and(|h| h != hash(&bytes)) => {
                problems.push(changed("it has changed since it was read".to_owned()));
            }
            Ok(bytes) => found.push(Input {
                role: file.role,
                place: whole(Path::new(&file.name)),
                name: file.name,
                bytes,
            }),
        }
    }
    if !problems.is_empty() {
        return Err(problems);
    }
    let common = found.iter().fold(None, |common: Option<PathBuf>, input| {
        let own = input.place.parent().unwrap_or(&input.place);
        Some(match common {
            None => own.to_path_buf(),
            Some(common) => {
                let both = common.components().zip(own.components());
                both.take_while(|(a, b)| a == b).map(|(a, _)| a).collect()
            }
        })
    });
    for input in &mut found {
        let below = common
            .as_ref()
            .and_then(|c| input.place.strip_prefix(c).ok());
        let plain = below.unwrap_or(&input.place).components();
        input.place = plain
            .filter(|c| matches!(c, Component::Normal(_)))
            .collect();
    }
    // Sheets that come with the program, to be read; the program has its own.
    for (name, text) in job.loaded.sources.iter() {
        if let Some(own) = name.strip_prefix(library::PREFIX) {
            found.push(Input {
                role: Role::Library,
                name: name.to_owned(),
                place: Path::new("library").join(own),
                bytes: text.as_bytes().to_vec(),
            });
        }
    }
    Ok(found)
}

/// A path from the root, without asking the disk what its links lead to: sheets name each other by what is in paths.
fn whole(path: &Path) -> PathBuf {
    let path = std::path::absolute(path).unwrap_or_else(|_| path.to_path_buf());
    let mut out = PathBuf::new();
    for part in path.components() {
        match part {
            Component::ParentDir => {
                out.pop();
            }
            other @ (Component::Prefix(_)
            | Component::RootDir
            | Component::CurDir
            | Component::Normal(_)) => out.push(other),
        }
    }
    out
}

/// What keeps an issue from being made again from its copies alone: standard input, and files that a sheet names from the root.
fn not_copied(job: &Job) -> Option<Diagnostic> {
    let files = job.files.list();
    let from_root = |name: &str| Path::new(name).is_absolute();
    // Where the command names the job from the root, all that is beside it has such a name.
    let job_from_root = files.first().is_some_and(|f| from_root(&f.name));
    let wrong = |name: &str| name == STANDARD_INPUT || from_root(name) && !job_from_root;
    let names: Vec<String> = files.into_iter().map(|f| f.name).collect();
    // Its pictures are read later, and named from the same place as the folder.
    let folder = job.checked.program.terms.photographs.as_ref();
    let folder = folder.map(|(folder, _)| folder.clone());
    let all = names.into_iter().filter(|n| wrong(n));
    let names: Vec<String> = all.chain(folder.filter(|f| from_root(f))).collect();
    (!names.is_empty()).then(|| {
        Diagnostic::error("OV-083", "an issue of this job could not be made again")
            .found(names.join(", "))
            .expected("files whose names begin at the sheet that names them")
            .note("An issue holds a copy of every file, and its job reads the copies.")
    })
}

/// Fills the folder; gives its list.
fn fill(
    at: &Path,
    issue: &Issue,
    of: &Contents<'_>,
    (files, inputs): (&[(&Chosen<'_>, MadeFile)], &[Input]),
    changes: Option<&str>,
    told: &mut Vec<String>,
) -> std::io::Result<Value> {
    let mut papers = Vec::new();
    for (paper, file) in files {
        let folder = match paper.reader {
            Reader::Office => "office",
            Reader::Owner
            | Reader::Review
            | Reader::Schedule
            | Reader::Shop
            | Reader::Order
            | Reader::Crew
            | Reader::Tag
            | Reader::Archive => "papers",
        };
        let place = Path::new(folder).join(&file.name);
        put_bytes(&at.join(&place), &file.bytes)?;
        told.push(format!("{}, {}", place.display(), file.words));
        papers.push(
            json!({"file": slashed(&place), "paper": paper.name, "for": paper.reader.word(),
            "state": paper.state_text(), "sha256": hash(&file.bytes)}),
        );
    }
    let mut copies = Vec::new();
    for input in inputs {
        let place = Path::new("office/inputs").join(&input.place);
        put_bytes(&at.join(&place), &input.bytes)?;
        copies.push(
            json!({"role": input.role.word(), "name": input.name, "file": slashed(&place),
            "sha256": hash(&input.bytes)}),
        );
    }
    let program = of.job.origin().program;
    let record = Saved {
        subject: of.subject,
        program: &program,
    };
    put_file(&at.join("office/record.json"), |out| {
        defuse::json(out, &record)
    })?;
    if let Some(text) = changes {
        put_bytes(&at.join("office/changes.txt"), text.as_bytes())?;
    }
    let job = inputs.iter().find(|i| i.role == Role::Sheet);
    let job = job.map(|i| slashed(&Path::new("office/inputs").join(&i.place)));
    let head = of.papers.first().map(|p| &p.head);
    Ok(json!({
        "schema": SCHEMA,
        "issue": issue.number,
        "date": head.and_then(|h| h.date.clone()),
        "title": of.subject.estimate.title,
        "record": head.map(|h| h.record.clone()),
        "program": program,
        "library": library::stamp(),
        "after_issue": issue.last,
        "made_with": {"job": job, "issued": of.common.issued, "set_aside": of.aside.set_aside,
            "set_aside_unreadable": of.aside.set_aside_unreadable},
        "papers": papers,
        "inputs": copies,
    }))
}

fn slashed(path: &Path) -> String {
    let parts: Vec<_> = path
        .components()
        .map(|c| c.as_os_str().to_string_lossy())
        .collect();
    parts.join("/")
}

fn hash(bytes: &[u8]) -> String {
    library::hex(&Sha256::digest(bytes))
}
