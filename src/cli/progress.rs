//! Progress of long runs on a terminal, and a clean stop on interrupt.

use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};
use std::io::IsTerminal;
use std::sync::Mutex;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::{Duration, Instant};

/// Whether the user asked to stop.
pub fn stopped() -> bool {
    STOP.load(Ordering::SeqCst)
}

/// A run shorter than this shows nothing.
const PATIENCE: Duration = Duration::from_millis(700);

/// Set by the first interrupt; the process has one handler, however many runs it makes.
static STOP: AtomicBool = AtomicBool::new(false);

/// What long work is told of and can be stopped by.
pub struct Progress {
    began: Instant,
    bar: Mutex<Option<ProgressBar>>,
    shown: bool,
}

impl Progress {
    /// Watches for an interrupt from now on. A second interrupt ends the process at once.
    pub fn begin() -> Progress {
        // A handler that is there already (when watching) stays.
        let _ = ctrlc::set_handler(|| {
            if STOP.swap(true, Ordering::SeqCst) {
                std::process::exit(i32::from(super::exit::STOPPED));
            }
        });
        Progress {
            began: Instant::now(),
            bar: Mutex::new(None),
            shown: std::io::stderr().is_terminal(),
        }
    }

    /// Set when the work should end.
    pub fn stop(&self) -> &'static AtomicBool {
        &STOP
    }

    /// Tells how far the work is.
    pub fn tell(&self, what: &'static str, done: u64, of: Option<u64>) {
        if !self.shown || self.began.elapsed() < PATIENCE {
            return;
        }
        let Ok(mut slot) = self.bar.lock() else {
            return;
        };
        let bar = slot.get_or_insert_with(|| {
            let bar = ProgressBar::with_draw_target(of, ProgressDrawTarget::stderr());
            if let Ok(style) = ProgressStyle::with_template("{msg} {bar:30} {percent}% {elapsed}") {
                bar.set_style(style);
            }
            bar
        });
        bar.set_message(what);
        if let Some(n) = of {
            bar.set_length(n);
        }
        bar.set_position(done);
    }

    /// Takes the bar away before anything is printed.
    pub fn end(&self) {
        if let Ok(slot) = self.bar.lock()
            && let Some(bar) = slot.as_ref()
        {
            bar.finish_and_clear();
        }
    }
}
