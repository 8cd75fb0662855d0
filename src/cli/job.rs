//! Opens a job from files on disk for a command, and says what is refused.

use super::args::{AsideArgs, Common};
use super::files::Disk;
use super::progress::Progress;
use super::{exit, output};
use ovolo::check::Options;
use ovolo::estimate::{Refused, Survey};
use ovolo::paper::Reader;
use ovolo::prices::PriceBook;
use ovolo::pricing;
use ovolo::report::Face;
use ovolo::session::{Job, Priced};
use ovolo::survey::{ReadOptions, SetAside};
use std::process::ExitCode;
use std::sync::Arc;

/// How a command checks a job that it runs.
pub const TO_RUN: Options = Options {
    alternates: true,
    trials: false,
};

/// Reads and checks the sheets of a job. What is refused is printed.
pub fn open(path: &str, common: &Common) -> Result<Job, ExitCode> {
    Job::open(
        path,
        TO_RUN,
        common.issued.as_deref(),
        Arc::new(Disk::default()),
    )
    .map_err(|no| output::refuse(&no.problems, &no.sources, common))
}

/// The version of an alternate by name; 0 when none is asked for.
pub fn version(job: &Job, name: Option<&str>, common: &Common) -> Result<usize, ExitCode> {
    job.version(name).map_err(|why| {
        output::messages(&[why], &job.loaded.sources, common);
        ExitCode::from(exit::USAGE)
    })
}

/// Survey and prices, the latter only where anything is priced; what is refused in either is printed.
pub fn inputs(
    job: &mut Job,
    aside: &AsideArgs,
    progress: &Progress,
    priced: Priced,
    common: &Common,
) -> Result<(Arc<Survey>, PriceBook), ExitCode> {
    let reading = |done: u64, of: Option<u64>| progress.tell("reading", done, of);
    let read = ReadOptions {
        stop: Some(progress.stop()),
        progress: Some(&reading),
        ..ReadOptions::default()
    };
    job.inputs(&set_aside(aside), &read, priced, None)
        .map_err(|why| {
            progress.end();
            refused(why, job, common)
        })
}

/// What every output of a version says on its face.
pub fn face(job: &Job, version: usize, survey: &Survey) -> Face {
    let program = &job.checked.program;
    let assumed = program
        .versions
        .get(version)
        .map_or_else(Vec::new, |v| pricing::assumed_facts(program, v));
    Face {
        aside: survey.set_aside(),
        assumed,
        unpriced: None,
    }
}

/// What the papers of a reader say on their face: facts that the reader may not see are counted, not named.
pub fn face_for(job: &Job, survey: &Survey, reader: Reader) -> (Face, usize) {
    let program = &job.checked.program;
    let (assumed, more) = program.versions.first().map_or_else(Default::default, |v| {
        pricing::assumed_facts_for(program, v, reader)
    });
    let face = Face {
        aside: survey.set_aside(),
        assumed,
        unpriced: None,
    };
    (face, more)
}

/// Rows to leave out, as asked for.
pub fn set_aside(aside: &AsideArgs) -> SetAside {
    match (aside.set_aside_unreadable, aside.set_aside.is_empty()) {
        (true, _) => SetAside::AllUnreadable,
        (_, false) => SetAside::Marks(aside.set_aside.clone()),
        _ => SetAside::Nothing,
    }
}

/// Prints why nothing came of it; gives the exit code.
pub fn refused(why: Refused, job: &Job, common: &Common) -> ExitCode {
    match why {
        Refused::Messages(list) => output::refuse(&list, &job.loaded.sources, common),
        Refused::Stopped => ExitCode::from(exit::STOPPED),
    }
}
