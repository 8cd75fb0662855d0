//! `ovolo prices`: the prices of a job that are missing, old or not used, and the rows to fill in.

use super::args::{Common, PricesArgs};
use super::job;
use super::progress::Progress;
use super::written::Target;
use super::{exit, output};
use ovolo::estimate;
use ovolo::eval;
use ovolo::prices::blank_book;
use ovolo::pricing::{Want, standing};
use ovolo::report::{Cell, Column, View, json, terminal};
use ovolo::takeoff::Wish;
use std::process::ExitCode;

/// Takes off quantities, holds the price book against them, and says what is wrong with it.
pub fn run(args: &PricesArgs, common: &Common) -> Result<ExitCode, ExitCode> {
    let mut job = job::open(&args.job, common)?;
    let asked: Vec<&str> = args.write.as_deref().into_iter().collect();
    let progress = Progress::begin();
    let (survey, book) = job::inputs(&mut job, &args.aside, &progress, true, common)?;
    let targets = Target::all(&asked, &job.files)
        .map_err(|list| output::refuse(&list, &job.loaded.sources, common))?;
    let versions = &job.checked.program.versions;
    let today = versions
        .first()
        .and_then(|v| job.checked.program.day_of_issue(v));
    let wish = Wish {
        quantities: true,
        ..Wish::default()
    };
    let options = eval::Options {
        stop: Some(progress.stop()),
        ..eval::Options::default()
    };
    let program = &job.checked.program;
    let (origin, more) = (job.origin(), []);
    let worked = estimate::estimate(program, 0, &survey, &book, wish, &more, &options, origin);
    progress.end();
    let worked = worked.map_err(|why| job::refused(why, &job, common))?;
    let Some(version) = program.versions.first() else {
        return Ok(ExitCode::from(exit::DONE));
    };
    let found = standing(version, &worked.estimate, &book, today);
    let mut view = View::new(
        "prices",
        "Prices to see to",
        vec![Column::text("resource"), Column::text("its price")],
    );
    for one in &found {
        let said = match &one.why {
            Want::Missing => "missing".to_owned(),
            Want::Old(date) => {
                format!("of {date}: more than a year before the day of the job, or after it")
            }
            Want::Undated => "has no date".to_owned(),
            Want::Unused => "not used by this job".to_owned(),
        };
        view.row(vec![Cell::text(one.name.clone()), Cell::text(said)]);
    }
    if found.is_empty() {
        view.notes
            .push("Nothing: every price the job needs is there and dated.".to_owned());
    }
    if today.is_none() {
        view.notes.push(
            "The job has no day, so no price is called old: write `issued DAY` in its job block."
                .to_owned(),
        );
    }
    if common.json {
        output::json(&json::views("ovolo-prices/1", &[view]));
    } else {
        output::messages(&job.warnings, &job.loaded.sources, common);
        output::print(&terminal::draw(&view, output::width(common)));
    }
    let wanting = |id| {
        found
            .iter()
            .any(|w| w.resource == id && w.why != Want::Unused)
    };
    for target in targets {
        let rows = blank_book(program, wanting);
        let line = target.write(rows.as_bytes());
        let line = line.map_err(|d| output::refuse(&[d], &job.loaded.sources, common))?;
        output::complain(&line);
    }
    Ok(ExitCode::from(exit::DONE))
}
