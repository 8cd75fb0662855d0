//! The command `ovolo`: reads arguments and hands them to a command.

// A binary has no public face; items are `pub` for the modules beside them.
#![allow(unreachable_pub)]

mod cli;

use std::panic::{AssertUnwindSafe, catch_unwind};
use std::process::ExitCode;

/// Sheets may nest as deep as their guards allow; debug builds need more stack for that than a main thread has.
const STACK: usize = 64 << 20;

fn main() -> ExitCode {
    // Run on the first thread: memory costs more on others.
    let outcome = catch_unwind(AssertUnwindSafe(|| stacker::grow(STACK, cli::run)));
    outcome.unwrap_or(ExitCode::from(cli::exit::FAULT))
}
