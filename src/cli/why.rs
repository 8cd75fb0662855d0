//! `ovolo why`: the tree behind a number.

use super::args::{AsideArgs, Common, WhyArgs};
use super::job::Job;
use super::{exit, output};
use ovolo::check::Options;
use ovolo::diagnostics::Diagnostic;
use ovolo::estimate::{self, Refused, Survey, Worked};
use ovolo::eval;
use ovolo::explain::{self, Explainer, Subject};
use ovolo::prices::PriceBook;
use ovolo::survey::ReadOptions;
use ovolo::takeoff::Wish;
use std::process::ExitCode;

/// Explains one number.
pub fn run(args: &WhyArgs, common: &Common) -> Result<ExitCode, ExitCode> {
    let mut job = Job::open(&args.job, Options { alternates: args.alternate.is_some(), trials: false }, common)?;
    let version = job.version(args.alternate.as_deref())?;
    let (survey, book, worked) = work(&mut job, version, &args.aside, common)?;
    let subject = Subject { loaded: &job.loaded, checked: &job.checked, version, survey: &survey, book: &book, estimate: &worked.estimate };
    let mut explainer = Explainer::new(subject);
    let sources = &job.loaded.sources;
    let told = |e| refused(e, &job, common);
    let target = explainer.find(&args.result, args.mark.as_deref()).map_err(told)?;
    let options = explain::Options { depth: args.depth.unwrap_or(target.usual_depth()), most: args.parts };
    let tree = explainer.explain(target, options).map_err(told)?;
    output::print(&if common.json {
        format!("{:#}\n", explain::json::tree(&tree, sources))
    } else {
        explain::text::draw(&tree, sources, output::width(common))
    });
    Ok(ExitCode::from(exit::DONE))
}

/// Reads survey, with its cells as written, and prices, and works one version.
fn work(job: &mut Job, version: usize, aside: &AsideArgs, common: &Common) -> Result<(Survey, PriceBook, Worked), ExitCode> {
    let survey = job.survey(aside, true, &ReadOptions::default());
    let prices = job.prices();
    let (survey, book) = match (survey, prices) {
        (Ok(s), Ok(p)) => (s, p),
        (s, p) => {
            let mut problems: Vec<Diagnostic> = s.err().unwrap_or_default();
            problems.extend(p.err().unwrap_or_default());
            return Err(output::refuse(&problems, &job.loaded.sources, common));
        }
    };
    let origin = job.origin();
    let worked = estimate::estimate(&job.checked.program, version, &survey, &book, Wish::default(), &[], &eval::Options::default(), origin);
    let with_picks = |w: Worked| {
        let tables = if w.picked.is_empty() { survey.tables } else { survey.with_picks(&job.checked.program, &w.picked) };
        (Survey { tables, reports: survey.reports, texts: survey.texts }, book, w)
    };
    worked.map(with_picks).map_err(|e| refused(e, job, common))
}

/// Prints why nothing came of it; gives the exit code.
fn refused(why: Refused, job: &Job, common: &Common) -> ExitCode {
    match why {
        Refused::Messages(list) => output::refuse(&list, &job.loaded.sources, common),
        Refused::Stopped => ExitCode::from(exit::STOPPED),
    }
}
