//! Folders that a command writes whole or not at all: filled under a temporary name, then renamed.

use super::signals;
use std::io::Write;
use std::path::Path;
use tempfile::TempDir;

/// How folders are called while they are written.
const UNFINISHED: &str = ".ovolo-tmp-folder-";
/// Held while a folder is being written.
const LOCK: &str = "lock";

/// Makes a folder and gives it its name when `fill` has filled it. A folder that is there stays the same folder, since a shell may stand
/// in it, and gets its files when all are written. Errors: of `fill`, or why the folder can't be made; then nothing is left.
pub fn write_whole<T>(
    own: &Path,
    fill: impl FnOnce(&Path) -> std::io::Result<T>,
) -> std::io::Result<T> {
    let there = own.is_dir();
    let parent = match own.parent() {
        _ if there => own,
        Some(parent) if !parent.as_os_str().is_empty() => parent,
        _ => Path::new("."),
    };
    std::fs::create_dir_all(parent)?;
    sweep(parent);
    let mut unfinished = signals::unfinished();
    let temp = begin(parent)?;
    *unfinished = Some(temp.path().to_path_buf());
    let lock = std::fs::File::create(temp.path().join(LOCK))?;
    drop(unfinished);
    let _ = lock.lock();
    let filled = fill(temp.path())?;
    // From here on a signal waits until the folder has its name or is gone.
    let mut unfinished = signals::unfinished();
    *unfinished = None;
    std::fs::remove_file(temp.path().join(LOCK))?;
    if there {
        for entry in std::fs::read_dir(temp.path())? {
            let entry = entry?;
            std::fs::rename(entry.path(), own.join(entry.file_name()))?;
        }
    } else {
        std::fs::rename(temp.path(), own)?;
        // It has another name now, and nothing is left to remove.
        let _ = temp.keep();
    }
    drop(unfinished);
    Ok(filled)
}

/// A file in a folder being filled, and the folders above it.
pub fn put_file(
    place: &Path,
    fill: impl FnOnce(&mut dyn Write) -> std::io::Result<()>,
) -> std::io::Result<()> {
    // No new name comes into the folder while a signal removes it.
    let unfinished = signals::unfinished();
    if let Some(folder) = place.parent() {
        std::fs::create_dir_all(folder)?;
    }
    let file = std::fs::File::create_new(place)?;
    drop(unfinished);
    let mut out = std::io::BufWriter::with_capacity(1 << 16, &file);
    fill(&mut out)?;
    out.flush()?;
    drop(out);
    file.sync_all()
}

/// As [`put_file`], from bytes.
pub fn put_bytes(place: &Path, bytes: &[u8]) -> std::io::Result<()> {
    put_file(place, |out| out.write_all(bytes))
}

/// A temporary folder with the mode that folders of this user have.
fn begin(parent: &Path) -> std::io::Result<TempDir> {
    let mut builder = tempfile::Builder::new();
    builder.prefix(UNFINISHED);
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        // The system takes the bits of the user's mask away from these.
        builder.permissions(std::fs::Permissions::from_mode(0o777));
    }
    builder.tempdir_in(parent)
}

/// Removes folders that a run that was killed left behind: of our name, and with a lock that nobody holds.
fn sweep(folder: &Path) {
    let Ok(entries) = std::fs::read_dir(folder) else {
        return;
    };
    for entry in entries.flatten() {
        let ours = entry.file_name().to_string_lossy().starts_with(UNFINISHED);
        if !ours || !entry.file_type().is_ok_and(|t| t.is_dir()) {
            continue;
        }
        let lock = std::fs::File::open(entry.path().join(LOCK));
        if lock.is_ok_and(|f| f.try_lock().is_ok()) {
            let _ = std::fs::remove_dir_all(entry.path());
        }
    }
}
