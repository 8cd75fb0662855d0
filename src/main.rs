//! The command `ovolo`: reads arguments and hands them to a command.

// A binary has no public face; items are `pub` for the modules beside them.
#![allow(unreachable_pub)]

mod cli;

use std::process::ExitCode;

/// Sheets may nest as deep as their guards allow; debug builds need more stack for that than a main thread has.
const STACK: usize = 64 << 20;

fn main() -> ExitCode {
    let worker = std::thread::Builder::new().stack_size(STACK).spawn(cli::run);
    match worker.map(std::thread::JoinHandle::join) {
        Ok(Ok(code)) => code,
        _ => ExitCode::from(cli::exit::FAULT),
    }
}
