//! `ovolo weigh`: alternates side by side, and studies of what they turn on.

use super::args::{Common, WeighArgs};
use super::job::Job;
use super::progress::Progress;
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
    let progress = Progress::begin();
    let (survey, book) = job.inputs(&args.aside, &progress, common)?;
    if args.flip.is_some() || args.rank || !args.over.is_empty() {
        return super::study::run(args, &job, (&survey, &book), &progress, common);
    }
    let program = &job.checked.program;
    let versions: Vec<usize> = (0..program.versions.len()).collect();
    let basis = Basis { program, survey: &survey, book: &book, origin: job.origin() };
    let wish = Wish { by_row: true, treatment: false };
    let working = |done: u64, of: u64| progress.tell("working", done, Some(of));
    let options = eval::Options { stop: Some(progress.stop()), progress: Some(&working), ..eval::Options::default() };
    let worked = estimate::estimate_all(&basis, &versions, wish, &[], &options);
    progress.end();
    let worked = worked.map_err(|refused| refuse(refused, &job, common))?;
    let pairs: Vec<_> = program.versions.iter().zip(worked.estimates).collect();
    let comparison = pricing::compare(&pairs);
    job.warnings.extend(worked.warnings);
    if let Some(name) = &args.csv {
        return output::table(name, &weigh::names(&comparison), || weigh::table(&comparison, name));
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
pub fn refuse(refused: Refused, job: &Job, common: &Common) -> ExitCode {
    match refused {
        Refused::Messages(list) => output::refuse(&list, &job.loaded.sources, common),
        Refused::Stopped => ExitCode::from(exit::STOPPED),
    }
}
