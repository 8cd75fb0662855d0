//! Command line: arguments, files, exit codes. The only part that opens files.

// A match over kinds lists them all, so that a new kind is noticed everywhere, and no conversion fails silently.
#![warn(
    clippy::wildcard_enum_match_arm,
    clippy::match_wildcard_for_single_variants
)]
#![warn(clippy::as_conversions)]

mod answers;
mod args;
mod calendar;
mod code;
mod cut;
mod cut_job;
mod cut_sheet;
mod estimate;
pub mod exit;
mod files;
mod folder;
mod in_force;
mod issue;
mod job;
mod library;
mod output;
mod papers;
mod prices;
mod progress;
mod proof;
mod record;
mod several;
mod shell;
mod signals;
mod start;
mod study;
mod survey;
mod tidy;
mod trial;
mod watch;
mod weigh;
mod why;
mod written;

use args::Command;
use std::process::ExitCode;

/// Runs the command named by the arguments.
pub fn run() -> ExitCode {
    signals::install();
    let code = match args::parse() {
        Ok(a) => {
            // The first thread works as well, rather than wait for two others. Where that can't be, the usual threads do.
            let _ = rayon::ThreadPoolBuilder::new()
                .use_current_thread()
                .build_global();
            command(&a)
        }
        Err(code) => code,
    };
    output::end(code)
}

fn command(args: &args::Args) -> ExitCode {
    let common = &args.common;
    let outcome = match &args.command {
        Command::Start(a) => start::run(a, common),
        Command::Tidy(a) => tidy::run(a, common),
        Command::Proof(a) => proof::run(a, common),
        Command::Trial(a) => trial::run(a, common),
        Command::Survey(a) => survey::run(a, common),
        Command::Estimate(a) if a.watch => watch::run(a, common),
        Command::Estimate(a) => estimate::run(a, common),
        Command::Calendar(a) => calendar::run(a, common),
        Command::Papers(a) => papers::run(a, common),
        Command::Answers(a) => answers::run(a, common),
        Command::Prices(a) => prices::run(a, common),
        Command::Weigh(a) => weigh::run(a, common),
        Command::Why(a) => why::run(a, common),
        Command::Library(a) => library::run(a, common),
        Command::Cut(a) => cut::run(a, common),
        Command::Code(a) => code::run(a, common),
        Command::Shell(a) => shell::run(a),
    };
    outcome.unwrap_or_else(|code| code)
}
