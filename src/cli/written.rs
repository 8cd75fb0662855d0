//! Files that a command writes: never over an input of the job, never over one another, never over what is no ordinary file.
//!
//! Every target is looked at before any work is done, so a long run does not end in a refusal.

use super::files;
use ovolo::diagnostics::{Diagnostic, Place};
use ovolo::session::{JobFile, JobFiles};
use std::ffi::OsString;
use std::fs::{Metadata, Permissions};
use std::path::{Path, PathBuf};

/// Links followed from one to the next before they are taken for a ring.
const MOST_LINKS: usize = 32;

/// A file to be written.
pub struct Target {
    /// As the user named it.
    shown: String,
    /// The file itself, behind any links.
    place: PathBuf,
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

    /// Writes the file whole or not at all; the sentence that says so.
    pub fn write(&self, bytes: &[u8]) -> Result<String, Diagnostic> {
        write_whole(&self.place, bytes)
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

/// Puts the bytes beside the old file first, then in its place. An old file's mode is kept, and its owner where the system lets us.
fn write_whole(place: &Path, bytes: &[u8]) -> Result<(), String> {
    use std::io::Write;
    let folder = place
        .parent()
        .filter(|p| !p.as_os_str().is_empty())
        .unwrap_or_else(|| Path::new("."));
    let old = std::fs::metadata(place).ok();
    let mut file = beside(folder).map_err(|e| e.to_string())?;
    file.write_all(bytes).map_err(|e| e.to_string())?;
    if let Some(meta) = old {
        keep_owner(file.path(), &meta);
        file.as_file()
            .set_permissions(meta.permissions())
            .map_err(|e| e.to_string())?;
    }
    file.as_file().sync_all().map_err(|e| e.to_string())?;
    file.persist(place)
        .map(|_| ())
        .map_err(|e| e.error.to_string())
}

/// A new file in the folder with the mode that new files of this user have.
#[cfg(unix)]
fn beside(folder: &Path) -> std::io::Result<tempfile::NamedTempFile> {
    use std::os::unix::fs::PermissionsExt;
    // The system takes the bits of the user's mask away from these.
    tempfile::Builder::new()
        .permissions(Permissions::from_mode(0o666))
        .tempfile_in(folder)
}

#[cfg(not(unix))]
fn beside(folder: &Path) -> std::io::Result<tempfile::NamedTempFile> {
    tempfile::NamedTempFile::new_in(folder)
}

#[cfg(unix)]
fn keep_owner(file: &Path, old: &Metadata) {
    use std::os::unix::fs::MetadataExt;
    // Only a privileged user may give files away; for others the new owner is the one who writes.
    let _ = std::os::unix::fs::chown(file, Some(old.uid()), Some(old.gid()));
}

#[cfg(not(unix))]
fn keep_owner(_: &Path, _: &Metadata) {}
