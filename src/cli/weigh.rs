//! `ovolo weigh`: alternates side by side.

use super::args::{Common, WeighArgs};
use super::job::Job;
use super::{exit, output};
use ovolo::check::Options;
use ovolo::estimate::{self, Basis, Refused};
use ovolo::eval;
use ovolo::pricing;
use ovolo::report::{json, weigh};
use ovolo::takeoff::Wish;
use std::process::ExitCode;

/// Works every version of a job in one run and prints them side by side.
pub fn run(args: &WeighArgs, common: &Common) -> Result<ExitCode, ExitCode> {
    let mut job = Job::open(&args.job, Options { alternates: true, trials: false }, common)?;
    let (survey, book) = job.inputs(&args.aside, common)?;
    let program = &job.checked.program;
    let versions: Vec<usize> = (0..program.versions.len()).collect();
    let basis = Basis { program, survey: &survey, book: &book, origin: job.origin() };
    let wish = Wish { by_row: true, treatment: false };
    let worked = estimate::estimate_all(&basis, &versions, wish, &[], &eval::Options::default()).map_err(|refused| refuse(refused, &job, common))?;
    let pairs: Vec<_> = program.versions.iter().zip(worked.estimates).collect();
    let comparison = pricing::compare(&pairs);
    job.warnings.extend(worked.warnings);
    if let Some(name) = &args.csv {
        return csv(name, &weigh::names(&comparison), || weigh::table(&comparison, name));
    }
    if common.json {
        let mut value = json::comparison(&comparison);
        value["messages"] = ovolo::diagnostics::render::to_json(&job.warnings, &job.loaded.sources);
        output::print(&format!("{value:#}\n"));
    } else {
        output::messages(&job.warnings, &job.loaded.sources, common);
        output::print(&weigh::report(&comparison, output::width(common)));
    }
    Ok(ExitCode::from(exit::DONE))
}

/// What a run was refused for, printed.
fn refuse(refused: Refused, job: &Job, common: &Common) -> ExitCode {
    match refused {
        Refused::Messages(list) => output::refuse(&list, &job.loaded.sources, common),
        Refused::Stopped => ExitCode::from(exit::STOPPED),
    }
}

/// One table as CSV, or the names of the tables when none is named.
fn csv(name: &str, names: &[String], table: impl FnOnce() -> Result<String, ovolo::diagnostics::Diagnostic>) -> Result<ExitCode, ExitCode> {
    if name.is_empty() {
        output::print(&names.iter().map(|n| format!("{n}\n")).collect::<String>());
        return Ok(ExitCode::from(exit::DONE));
    }
    match table() {
        Ok(text) => output::print(&text),
        Err(d) => {
            output::complain(&format!("{}: {}", d.code, d.message));
            if let Some(e) = d.expected {
                output::complain(&format!("expected: {e}"));
            }
            return Err(ExitCode::from(exit::USAGE));
        }
    }
    Ok(ExitCode::from(exit::DONE))
}
