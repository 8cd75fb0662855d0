//! SIGINT, SIGTERM and SIGHUP: work that looks for a stop ends in order, all else ends at once, and neither leaves a half-written file.

use super::exit;
use std::path::PathBuf;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Mutex, MutexGuard, PoisonError};

/// Set by the first signal while work looks for it.
static STOP: AtomicBool = AtomicBool::new(false);

/// Whether work is going on that looks at [`STOP`] now and then.
static LOOKING: AtomicBool = AtomicBool::new(false);

/// The file or folder being written beside its place. Who holds the lock may make, move or remove it.
static UNFINISHED: Mutex<Option<PathBuf>> = Mutex::new(None);

/// Handles signals from now on; to be called once, before anything else.
pub fn install() {
    // Where no handler can be set, signals end the process as they always did, and the next write removes what is left.
    let _ = ctrlc::set_handler(|| {
        if LOOKING.load(Ordering::SeqCst) && !STOP.swap(true, Ordering::SeqCst) {
            return;
        }
        let unfinished = unfinished();
        if let Some(file) = unfinished.as_deref() {
            let _ = match file.is_dir() {
                true => std::fs::remove_dir_all(file),
                false => std::fs::remove_file(file),
            };
        }
        // The lock is held to the end, so that no new file is made.
        std::process::exit(i32::from(exit::STOPPED));
    });
}

/// The file being written.
pub fn unfinished() -> MutexGuard<'static, Option<PathBuf>> {
    UNFINISHED.lock().unwrap_or_else(PoisonError::into_inner)
}

/// Says whether work that looks for a stop begins or ends.
pub fn look(begins: bool) {
    LOOKING.store(begins, Ordering::SeqCst);
}

/// Whether the user asked to stop.
pub fn stopped() -> bool {
    STOP.load(Ordering::SeqCst)
}

/// Set when the work should end.
pub fn stop() -> &'static AtomicBool {
    &STOP
}
