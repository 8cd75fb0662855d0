//! Files on disk.

use ovolo::check::Finder;
use ovolo::diagnostics::suggest::nearest;
use ovolo::session::{Files, STANDARD_INPUT, Stamp};
use std::collections::HashMap;
use std::io::Read;
use std::path::{Path, PathBuf};
use std::sync::{Mutex, MutexGuard, PoisonError};
use std::time::UNIX_EPOCH;

/// Largest sheet or table text read, in bytes.
const MOST_TEXT: u64 = 16 << 20;

/// Names of a folder looked at for one that was meant.
const MOST_NAMES: usize = 2_000;

/// Name and text of a file, or what is wrong with it.
type Found = Result<(String, String), String>;

/// Finds sheets on disk, relative to the sheet that asks. `-` is standard input.
#[derive(Default)]
pub struct Disk {
    /// Files found, with the names they were found by first: a link to a sheet is that sheet.
    names: Mutex<HashMap<PathBuf, String>>,
    /// What was found at each place: many sheets use the same one.
    found: Mutex<HashMap<PathBuf, Found>>,
}

/// The place of a file that a sheet names; none for the sheet that a command names.
fn beside(path: &str, sheet: Option<&str>) -> PathBuf {
    let folder = sheet
        .filter(|sheet| *sheet != STANDARD_INPUT)
        .and_then(|sheet| Path::new(sheet).parent());
    tidy_path(&folder.unwrap_or(Path::new("")).join(path))
}

fn lock<T>(held: &Mutex<T>) -> MutexGuard<'_, T> {
    held.lock().unwrap_or_else(PoisonError::into_inner)
}

/// Takes `.` and `a/..` out of a path without asking the disk.
fn tidy_path(path: &Path) -> PathBuf {
    use std::path::Component;
    let mut out = PathBuf::new();
    for part in path.components() {
        match part {
            Component::CurDir => {}
            Component::ParentDir => {
                let can_pop = matches!(out.components().next_back(), Some(Component::Normal(_)));
                if can_pop {
                    out.pop();
                } else {
                    out.push("..");
                }
            }
            other @ (Component::Prefix(_) | Component::RootDir | Component::Normal(_)) => {
                out.push(other)
            }
        }
    }
    out
}

/// What is wrong with a file, in words.
#[expect(
    clippy::wildcard_enum_match_arm,
    reason = "the system has its own words for every other kind"
)]
pub fn why(path: &Path, e: &std::io::Error) -> String {
    use std::io::ErrorKind;
    if path.is_dir() {
        return format!("{} is a folder", path.display());
    }
    match e.kind() {
        ErrorKind::NotFound => match near_name(path) {
            Some(near) => format!("there is no file {}; did you mean {near}?", path.display()),
            None => format!("there is no file {}", path.display()),
        },
        ErrorKind::PermissionDenied => format!("{} may not be read", path.display()),
        _ => format!("{}: {e}", path.display()),
    }
}

/// A file of the same folder with nearly this name.
fn near_name(path: &Path) -> Option<String> {
    let wanted = path.file_stem()?.to_str()?;
    let folder = path
        .parent()
        .filter(|p| !p.as_os_str().is_empty())
        .unwrap_or(Path::new("."));
    let entries = std::fs::read_dir(folder).ok()?.take(MOST_NAMES).flatten();
    let files: Vec<PathBuf> = entries
        .map(|e| PathBuf::from(e.file_name()))
        .filter(|f| f.extension() == path.extension())
        .collect();
    let mut stems: Vec<&str> = files
        .iter()
        .filter_map(|f| f.file_stem()?.to_str())
        .collect();
    stems.sort_unstable();
    let near = nearest(wanted, stems)?;
    files
        .iter()
        .find(|f| f.file_stem().is_some_and(|s| s == near))
        .map(|f| f.display().to_string())
}

/// Opens an ordinary file. A pipe is refused before it is opened, since that would wait for someone to write.
fn open(path: &Path) -> Result<std::fs::File, String> {
    let meta = std::fs::metadata(path).map_err(|e| why(path, &e))?;
    if !meta.is_file() && !meta.is_dir() {
        return Err(format!(
            "{} is a pipe, a device or the like; standard input is written \"-\"",
            path.display()
        ));
    }
    if meta.is_dir() {
        return Err(format!("{} is a folder", path.display()));
    }
    std::fs::File::open(path).map_err(|e| why(path, &e))
}

/// A whole file, refused in words when it is a folder, missing or too large.
pub fn read_file(path: &Path, most: u64) -> Result<Vec<u8>, String> {
    let file = open(path)?;
    let mut bytes = Vec::new();
    file.take(most + 1)
        .read_to_end(&mut bytes)
        .map_err(|e| why(path, &e))?;
    if u64::try_from(bytes.len()).map_or(true, |n| n > most) {
        return Err(format!("{} is larger than {most} bytes", path.display()));
    }
    Ok(bytes)
}

fn text(bytes: Vec<u8>, name: &str) -> Result<String, String> {
    if bytes.starts_with(&[0xff, 0xfe]) || bytes.starts_with(&[0xfe, 0xff]) {
        return Err(format!(
            "{name} is a text in UTF-16, and sheets are UTF-8: save it again with the encoding UTF-8"
        ));
    }
    if bytes.contains(&0) {
        return Err(format!("{name} is not a text"));
    }
    String::from_utf8(bytes).map_err(|e| {
        format!(
            "{name} is not UTF-8 text: byte {} can't be read",
            e.utf8_error().valid_up_to()
        )
    })
}

impl Finder for Disk {
    fn find(&self, path: &str, from: Option<&str>) -> Result<(String, String), String> {
        if path == "-" && from.is_none() {
            let mut bytes = Vec::new();
            std::io::stdin()
                .lock()
                .take(MOST_TEXT)
                .read_to_end(&mut bytes)
                .map_err(|e| e.to_string())?;
            return Ok((STANDARD_INPUT.into(), text(bytes, STANDARD_INPUT)?));
        }
        let place = beside(path, from);
        if let Some(found) = lock(&self.found).get(&place) {
            return found.clone();
        }
        let found = self.read(&place, place.display().to_string());
        lock(&self.found).insert(place, found.clone());
        found
    }
}

impl Files for Disk {
    fn name(&self, path: &str, from: &str) -> String {
        beside(path, Some(from)).display().to_string()
    }

    fn open(&self, name: &str) -> Result<Box<dyn Read + Send>, String> {
        if name == STANDARD_INPUT {
            return Ok(Box::new(std::io::stdin()));
        }
        let file = open(Path::new(name))?;
        Ok(Box::new(std::io::BufReader::with_capacity(1 << 16, file)))
    }

    fn stamp(&self, name: &str) -> Option<Stamp> {
        let about = std::fs::metadata(name).ok()?;
        let saved = about.modified().ok()?.duration_since(UNIX_EPOCH).ok()?;
        Some((saved.as_nanos(), about.len()))
    }

    fn refresh(&self) {
        lock(&self.found).clear();
    }
}

impl Disk {
    fn read(&self, place: &Path, name: String) -> Found {
        let bytes = read_file(place, MOST_TEXT)?;
        let text = text(bytes, &name)?;
        let real = place.canonicalize().unwrap_or_else(|_| place.to_path_buf());
        let name = lock(&self.names).entry(real).or_insert(name).clone();
        Ok((name, text))
    }
}

#[cfg(test)]
mod tests {
    use super::{near_name, text};

    #[test]
    fn a_text_in_utf_16_is_told_as_such() {
        let told = text(vec![0xff, 0xfe, b'a', 0], "job.ovo").expect_err("refused");
        assert!(told.contains("UTF-16") && told.contains("UTF-8"), "{told}");
        assert_eq!(text(b"a = 1".to_vec(), "job.ovo").as_deref(), Ok("a = 1"));
    }

    #[test]
    fn only_files_of_the_same_kind_are_near() {
        let folder = tempfile::tempdir().expect("a folder");
        for name in ["rules.ovo", "rulse.csv"] {
            std::fs::write(folder.path().join(name), "").expect("a file");
        }
        assert_eq!(
            near_name(&folder.path().join("rulse.ovo")).as_deref(),
            Some("rules.ovo")
        );
        assert_eq!(near_name(&folder.path().join("job.ovo")), None);
    }
}
