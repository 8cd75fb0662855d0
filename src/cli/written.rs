//! Files that a command writes: never over an input of the job, never over one another, never over what is no ordinary file.
//!
//! Every target is looked at before any work is done, so a long run does not end in a refusal.

use super::{files, signals};
use ovolo::diagnostics::{Diagnostic, Place};
use ovolo::session::{JobFile, JobFiles};
use std::ffi::OsString;
use std::fs::Metadata;
#[cfg(unix)]
use std::fs::Permissions;
use std::io::Write;
use std::path::{Path, PathBuf};
use tempfile::NamedTempFile;

/// Links followed from one to the next before they are taken for a ring.
const MOST_LINKS: usize = 32;

/// A file to be written.
pub struct Target {
    /// As the user named it.
    shown: String,
    /// The file itself, behind any links.
    place: PathBuf,
}

/// What a file that is written holds.
#[derive(Clone, Copy)]
pub enum FileKind {
    Workbook,
    Page,
    Record,
    Table,
    Sheet,
    Drawing,
    /// A copy of a workbook, with or without its macros.
    Copy,
    MacroCopy,
}

/// Endings by which other programs know what a file is.
const ENDINGS: &[&str] = &[
    "csv", "htm", "html", "json", "ods", "ovo", "pdf", "svg", "tsv", "xls", "xlsb", "xlsm", "xlsx",
];

impl FileKind {
    /// The endings a name may have, the usual one first, and what the file is in words.
    fn endings(self) -> (&'static [&'static str], &'static str) {
        match self {
            FileKind::Workbook => (&["xlsx"], "a workbook"),
            FileKind::Page => (&["html", "htm"], "a page"),
            FileKind::Record => (&["json"], "a record"),
            FileKind::Table => (&["csv"], "a table of text"),
            FileKind::Sheet => (&["ovo"], "a sheet"),
            FileKind::Drawing => (&["svg"], "a drawing"),
            FileKind::Copy => (&["xlsx"], "a copy of the survey as a workbook"),
            FileKind::MacroCopy => (&["xlsm"], "a copy of the survey that keeps its macros"),
        }
    }

    /// Whether spreadsheet programs open the file under its usual ending alone.
    fn is_bound(self) -> bool {
        matches!(self, FileKind::Copy | FileKind::MacroCopy)
    }

    /// Refuses a name that says the file is of another kind. Errors: OV-003.
    pub fn unlike(self, file: &str) -> Option<Diagnostic> {
        let ending = Path::new(file).extension();
        let ending = ending.map(|e| e.to_string_lossy().to_lowercase());
        let (own, words) = self.endings();
        let other = match ending.as_deref() {
            Some(ending) => {
                !own.contains(&ending) && (self.is_bound() || ENDINGS.contains(&ending))
            }
            None => self.is_bound(),
        };
        let usual = own.first()?;
        other.then(|| {
            Diagnostic::error("OV-003", format!("{file} can't be written"))
                .at(Place::File(file.to_string()), "")
                .found(match ending {
                    Some(ending) => format!("a name that ends in .{ending}"),
                    None => "a name without an ending".to_string(),
                })
                .expected(format!(".{usual}: what is written is {words}"))
        })
    }
}

impl Target {
    /// Looks whether a file can be written there. `inputs` are the files of the job.
    pub fn new(file: &str, inputs: &JobFiles) -> Result<Target, Diagnostic> {
        let refused = |found: String, expected: &str| {
            Diagnostic::error("OV-003", format!("{file} can't be written"))
                .at(Place::File(file.to_string()), "")
                .found(found)
                .expected(expected)
        };
        if file == "-" {
            return Err(refused(
                "standard output".into(),
                "the name of a file; a page or a record alone can be printed",
            ));
        }
        let place = behind_links(Path::new(file))
            .map_err(|why| refused(why, "a place in a folder that is there"))?;
        if let Ok(meta) = std::fs::symlink_metadata(&place) {
            if meta.is_dir() {
                return Err(refused("a folder".into(), "the name of a file"));
            }
            if !meta.is_file() {
                return Err(refused(
                    "a pipe, a device or the like".into(),
                    "an ordinary file, or a name that is not taken",
                ));
            }
            let inputs = inputs.list();
            let input = |f: &&JobFile| same_file(&place, &meta, Path::new(&f.name));
            if let Some(input) = inputs.iter().find(input) {
                return Err(refused(
                    format!("{} of this job", input.role.a_word()),
                    "a file that the job does not read",
                ));
            }
            if meta.permissions().readonly() {
                return Err(refused(
                    "a file that may only be read".into(),
                    "a file that may be written, or a name that is not taken",
                ));
            }
        }
        Ok(Target {
            shown: file.to_string(),
            place,
        })
    }

    /// Looks at all targets of a command.
    pub fn all(asked: &[&str], inputs: &JobFiles) -> Result<Vec<Target>, Vec<Diagnostic>> {
        let mut targets: Vec<Target> = Vec::new();
        let mut problems = Vec::new();
        for file in asked {
            match Target::new(file, inputs) {
                Ok(target) => match targets.iter().find(|t| t.place == target.place) {
                    Some(earlier) => problems.push(
                        Diagnostic::error("OV-003", format!("{file} can't be written"))
                            .at(Place::File((*file).to_string()), "")
                            .found(format!(
                                "the same file as {}, which this command writes too",
                                earlier.shown
                            ))
                            .expected("a file of its own for each output"),
                    ),
                    None => targets.push(target),
                },
                Err(d) => problems.push(d),
            }
        }
        if problems.is_empty() {
            Ok(targets)
        } else {
            Err(problems)
        }
    }

    /// As [`Target::all`], each file with the kind it will be of: one whose name says that it is of another kind is refused.
    pub fn of_kinds(
        asked: &[(&str, FileKind)],
        inputs: &JobFiles,
    ) -> Result<Vec<Target>, Vec<Diagnostic>> {
        let mut problems: Vec<Diagnostic> = asked
            .iter()
            .filter_map(|(f, kind)| kind.unlike(f))
            .collect();
        let names: Vec<&str> = asked.iter().map(|(file, _)| *file).collect();
        match Target::all(&names, inputs) {
            Ok(targets) if problems.is_empty() => Ok(targets),
            Ok(_) => Err(problems),
            Err(list) => {
                problems.extend(list);
                Err(problems)
            }
        }
    }

    /// Writes the file whole or not at all; the sentence that says so.
    pub fn write(&self, bytes: &[u8]) -> Result<String, Diagnostic> {
        self.write_with(|out| out.write_all(bytes))
    }

    /// As [`Target::write`], bit by bit.
    pub fn write_with(
        &self,
        fill: impl FnOnce(&mut dyn Write) -> std::io::Result<()>,
    ) -> Result<String, Diagnostic> {
        write_whole(&self.place, fill)
            .map(|()| format!("Written: {}", self.shown))
            .map_err(|why| {
                Diagnostic::error("OV-003", format!("{} can't be written", self.shown))
                    .at(Place::File(self.shown.clone()), "")
                    .found(why)
            })
    }
}

/// Where a path leads when its links are followed; the file itself need not be there.
fn behind_links(path: &Path) -> Result<PathBuf, String> {
    let mut at = path.to_path_buf();
    for _ in 0..MOST_LINKS {
        let folder = at
            .parent()
            .filter(|p| !p.as_os_str().is_empty())
            .unwrap_or_else(|| Path::new("."));
        let folder = folder.canonicalize().map_err(|e| files::why(folder, &e))?;
        // A path such as `..` or `/` has no name and can only be a folder.
        let Some(name) = at.file_name().map(OsString::from) else {
            return at.canonicalize().map_err(|e| files::why(&at, &e));
        };
        at = folder.join(name);
        match std::fs::read_link(&at) {
            Ok(next) => at = folder.join(next),
            Err(_) => return Ok(at),
        }
    }
    Err("a ring of links".into())
}

#[cfg(unix)]
fn same_file(_: &Path, meta: &Metadata, input: &Path) -> bool {
    use std::os::unix::fs::MetadataExt;
    // A second name of one file counts as that file.
    std::fs::metadata(input)
        .is_ok_and(|other| other.dev() == meta.dev() && other.ino() == meta.ino())
}

#[cfg(not(unix))]
fn same_file(place: &Path, _: &Metadata, input: &Path) -> bool {
    input
        .canonicalize()
        .is_ok_and(|other| place.canonicalize().is_ok_and(|p| p == other))
}

/// How files are called while they are written.
const UNFINISHED: &str = ".ovolo-tmp-";

/// Names of a folder looked at for files that were left unfinished.
const MOST_NAMES: usize = 100_000;

/// Puts the bytes beside the old file first, then in its place. An old file's mode is kept, and its owner where the system lets us.
fn write_whole(
    place: &Path,
    fill: impl FnOnce(&mut dyn Write) -> std::io::Result<()>,
) -> Result<(), String> {
    let folder = place
        .parent()
        .filter(|p| !p.as_os_str().is_empty())
        .unwrap_or_else(|| Path::new("."));
    sweep(folder);
    let old = std::fs::metadata(place).ok();
    let file = beside(folder).map_err(|e| e.to_string())?;
    let filled = fill_up(&file, fill, old.as_ref());
    // From here on a signal waits until the file has its name or is gone.
    let mut unfinished = signals::unfinished();
    *unfinished = None;
    match filled {
        Ok(()) => file
            .persist(place)
            .map(|_| ())
            .map_err(|e| e.error.to_string()),
        Err(e) => Err(e.to_string()),
    }
}

fn fill_up(
    file: &NamedTempFile,
    fill: impl FnOnce(&mut dyn Write) -> std::io::Result<()>,
    old: Option<&Metadata>,
) -> std::io::Result<()> {
    let mut out = std::io::BufWriter::with_capacity(1 << 16, file.as_file());
    fill(&mut out)?;
    out.flush()?;
    drop(out);
    if let Some(meta) = old {
        keep_owner(file.path(), meta);
        file.as_file().set_permissions(meta.permissions())?;
    }
    file.as_file().sync_all()
}

/// A new file in the folder with the mode that new files of this user have, locked for as long as it is being written.
fn beside(folder: &Path) -> std::io::Result<NamedTempFile> {
    loop {
        let mut unfinished = signals::unfinished();
        let file = builder().tempfile_in(folder)?;
        *unfinished = Some(file.path().to_path_buf());
        drop(unfinished);
        // Where files can't be locked, none are: then nobody takes this one for left either.
        let _ = file.as_file().lock();
        // Someone else's sweep may have come between.
        if file.path().exists() {
            return Ok(file);
        }
    }
}

#[cfg(unix)]
fn builder() -> tempfile::Builder<'static, 'static> {
    use std::os::unix::fs::PermissionsExt;
    let mut builder = tempfile::Builder::new();
    // The system takes the bits of the user's mask away from these.
    builder.prefix(UNFINISHED);
    builder.permissions(Permissions::from_mode(0o666));
    builder
}

#[cfg(not(unix))]
fn builder() -> tempfile::Builder<'static, 'static> {
    let mut builder = tempfile::Builder::new();
    builder.prefix(UNFINISHED);
    builder
}

/// Removes what a run that was killed left in the folder: files of our name that nobody is writing.
fn sweep(folder: &Path) {
    let Ok(entries) = std::fs::read_dir(folder) else {
        return;
    };
    for entry in entries.take(MOST_NAMES).flatten() {
        let ours = entry.file_name().to_string_lossy().starts_with(UNFINISHED);
        // A link is not followed.
        if !ours || !entry.file_type().is_ok_and(|t| t.is_file()) {
            continue;
        }
        let free = std::fs::File::open(entry.path()).is_ok_and(|f| f.try_lock().is_ok());
        if free {
            let _ = std::fs::remove_file(entry.path());
        }
    }
}

#[cfg(unix)]
fn keep_owner(file: &Path, old: &Metadata) {
    use std::os::unix::fs::MetadataExt;
    // Only a privileged user may give files away; for others the new owner is the one who writes.
    let _ = std::os::unix::fs::chown(file, Some(old.uid()), Some(old.gid()));
}

#[cfg(not(unix))]
fn keep_owner(_: &Path, _: &Metadata) {}
