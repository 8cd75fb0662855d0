//! `ovolo calendar`: how long a job takes, in what order, and when each crew is where.

use super::args::{CalendarArgs, Common};
use super::job;
use super::progress::Progress;
use super::written::{FileKind, Target};
use super::{exit, output};
use ovolo::diagnostics::render;
use ovolo::drawing::svg;
use ovolo::estimate::{self, Worked};
use ovolo::report::{View, calendar, csv, json, terminal};
use ovolo::schedule::Schedule;
use ovolo::session::Priced;
use ovolo::study;
use ovolo::takeoff::Wish;
use std::process::ExitCode;

/// Works a job and prints its calendar, or writes its bars as a drawing.
pub fn run(args: &CalendarArgs, common: &Common) -> Result<ExitCode, ExitCode> {
    let mut job = job::open(&args.job, common)?;
    let version = job::version(&job, args.alternate.as_deref(), common)?;
    let refuse = |list: &[_]| output::refuse(list, &job.loaded.sources, common);
    let asked = args.bars.as_deref().map(|file| (file, FileKind::Drawing));
    let asked: Vec<(&str, FileKind)> = asked.into_iter().collect();
    let targets = Target::of_kinds(&asked, &job.files).map_err(|list| refuse(&list))?;
    if job.checked.program.terms.calendar.starts.is_none() {
        return Err(refuse(&[ovolo::schedule::no_start(&job.checked.program)]));
    }
    let progress = Progress::begin();
    let (survey, book) = job::inputs(&mut job, &args.aside, &progress, Priced::Yes, common)?;
    let options = progress.options(None);
    let worked = estimate::estimate(
        &job.checked.program,
        version,
        &survey,
        &book,
        Wish::default(),
        &[],
        &options,
        job.origin(),
    );
    progress.end();
    let worked = worked.map_err(|why| job::refused(why, &job, common))?;
    job.warnings.extend(worked.warnings.iter().cloned());
    let Some(plan) = &worked.estimate.schedule else {
        return Ok(ExitCode::from(exit::DONE));
    };
    job.warnings.extend(plan.warnings.iter().cloned());
    let refuse = |d| output::refuse(&[d], &job.loaded.sources, common);
    let views = tables(&job.checked.program, &worked, plan).map_err(refuse)?;
    for target in targets {
        let drawing = svg(&ovolo::schedule::bars(plan));
        target.write(drawing.as_bytes()).map_err(refuse)?;
    }
    let face = job::face(&job, version, &survey);
    if let Some(name) = &args.csv {
        output::beside(&job.warnings, &job.loaded.sources, common);
        let names = || views.iter().map(|v| v.name.clone()).collect();
        return output::table(name, names, |out| {
            csv::pick(&views, name, &face).map(|text| out(&text))
        });
    }
    if common.json {
        let mut value = json::views("ovolo-calendar/1", &views);
        value["sentences"] = calendar::summary(plan).into();
        value["messages"] = render::to_json(&job.warnings, &job.loaded.sources);
        face.add_to(&mut value);
        output::json(&value);
        return Ok(ExitCode::from(exit::DONE));
    }
    output::messages(&job.warnings, &job.loaded.sources, common);
    output::print(&face.head());
    let width = output::width(common);
    let mut text = terminal::paragraphs(&calendar::summary(plan), width);
    for view in &views {
        text.push('\n');
        text.push_str(&terminal::draw(view, width));
    }
    output::print(&text);
    Ok(ExitCode::from(exit::DONE))
}

fn tables(
    program: &ovolo::program::Program,
    worked: &Worked,
    plan: &Schedule,
) -> Result<Vec<View>, ovolo::diagnostics::Diagnostic> {
    let mut views = calendar::views(plan);
    if let Some(bill) = &program.terms.calendar.bill {
        let months = study::cash(program, &worked.estimate, plan, bill)?;
        views.push(calendar::cash(&months, &worked.estimate.currency));
    }
    Ok(views)
}
