//! Progress of long runs on a terminal.

use super::signals;
use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};
use ovolo::eval::Options;
use std::io::IsTerminal;
use std::sync::Mutex;
use std::sync::atomic::AtomicBool;
use std::time::{Duration, Instant};

/// A run shorter than this shows nothing.
const PATIENCE: Duration = Duration::from_millis(700);

/// What long work is told of and can be stopped by.
pub struct Progress {
    began: Instant,
    bar: Mutex<Option<ProgressBar>>,
    shown: bool,
}

impl Progress {
    /// The work begins; from now on it looks for a stop.
    pub fn begin() -> Progress {
        signals::look(true);
        Progress {
            began: Instant::now(),
            bar: Mutex::new(None),
            shown: std::io::stderr().is_terminal(),
        }
    }

    /// Set when the work should end.
    pub fn stop(&self) -> &'static AtomicBool {
        signals::stop()
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

    /// Tells how much of a calculation is done.
    pub fn working(&self) -> impl Fn(u64, u64) + Sync + '_ {
        |done, of| self.tell("working", done, Some(of))
    }

    /// Options of a calculation that ends when the user stops it, and says how far it is where it is given `working`.
    pub fn options<'a>(&self, working: Option<&'a (dyn Fn(u64, u64) + Sync)>) -> Options<'a> {
        Options {
            stop: Some(self.stop()),
            progress: working,
            ..Options::default()
        }
    }

    /// The work is done: takes the bar away before anything is printed.
    pub fn end(&self) {
        signals::look(false);
        if let Ok(slot) = self.bar.lock()
            && let Some(bar) = slot.as_ref()
        {
            bar.finish_and_clear();
        }
    }
}
