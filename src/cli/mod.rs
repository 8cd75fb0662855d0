//! Command line: arguments, files, exit codes. The only part that opens files.

mod args;
pub mod exit;
mod files;
mod output;
mod proof;

use std::process::ExitCode;

/// Runs the command named by the arguments.
pub fn run() -> ExitCode {
    let args = match args::parse() {
        Ok(a) => a,
        Err(code) => return code,
    };
    let outcome = match &args.command {
        args::Command::Proof(a) => proof::run(a, &args.common),
    };
    outcome.unwrap_or_else(|code| code)
}
