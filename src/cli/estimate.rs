//! `ovolo estimate`: the main job.

use super::args::{Common, EstimateArgs};
use super::job;
use super::progress::Progress;
use super::written::{FileKind, Target};
use super::{exit, output};
use ovolo::defuse;
use ovolo::diagnostics::Diagnostic;
use ovolo::estimate::{self, Survey, Worked};
use ovolo::explain;
use ovolo::prices::PriceBook;
use ovolo::pricing::Estimate;
use ovolo::report::{self, terminal};
use ovolo::session::Job;
use ovolo::takeoff::{Wish, wanted_parts};
use std::mem::ManuallyDrop;
use std::process::ExitCode;
use std::sync::Arc;

/// A file that can be asked for.
enum Output {
    Workbook,
    Page,
    Record,
}

impl Output {
    fn kind(&self) -> FileKind {
        match self {
            Output::Workbook => FileKind::Workbook,
            Output::Page => FileKind::Page,
            Output::Record => FileKind::Record,
        }
    }
}

/// Works a job and prints or writes what is asked for.
pub fn run(args: &EstimateArgs, common: &Common) -> Result<ExitCode, ExitCode> {
    // The process ends with the command, so freeing its memory would only take time.
    let mut job = ManuallyDrop::new(job::open(&args.job, common)?);
    let version = job::version(&job, args.alternate.as_deref(), common)?;
    if args.in_force {
        output::messages(&job.warnings, &job.loaded.sources, common);
        return super::in_force::print(&job, version, args.csv.is_some(), common);
    }
    let outputs: Vec<(Output, &str)> = [
        (Output::Workbook, &args.workbook),
        (Output::Page, &args.page),
        (Output::Record, &args.record),
    ]
    .into_iter()
    .filter_map(|(output, file)| Some((output, file.as_deref()?)))
    .collect();
    // One of them may go to standard output, in place of the report.
    let (printed, written): (Vec<_>, Vec<_>) = outputs.into_iter().partition(|o| o.1 == "-");
    if let Some(why) = wrong_output(&printed, args, common) {
        output::complain(why);
        return Err(ExitCode::from(exit::USAGE));
    }
    let asked: Vec<(&str, FileKind)> = written.iter().map(|o| (o.1, o.0.kind())).collect();
    let targets = Target::of_kinds(&asked, &job.files)
        .map_err(|list| output::refuse(&list, &job.loaded.sources, common))?;
    let held = ManuallyDrop::new(work(&mut job, version, args, common)?);
    let (survey, book, worked) = &*held;
    let estimate = &worked.estimate;
    if let Some(name) = &args.csv {
        output::beside(&job.warnings, &job.loaded.sources, common);
        return csv(estimate, name);
    }
    let refuse = |d: Diagnostic| output::refuse(&[d], &job.loaded.sources, common);
    let subject = job.subject(version, survey, book, worked);
    let program = job.origin().program;
    let record = || explain::record::Saved {
        subject: &subject,
        program: &program,
    };
    let mut done = Vec::new();
    for (output, target) in written.iter().zip(&targets) {
        let line = match output.0 {
            Output::Workbook => {
                let bytes = report::workbook::write(estimate).map_err(refuse)?;
                target.write(&bytes)
            }
            Output::Page => target.write(report::page::write(estimate).map_err(refuse)?.as_bytes()),
            Output::Record => target.write_with(|out| defuse::json(out, &record())),
        };
        done.push(line.map_err(refuse)?);
    }
    if let Some((output, _)) = printed.first() {
        output::messages(&job.warnings, &job.loaded.sources, common);
        match output {
            Output::Record => output::json(&record()),
            Output::Page | Output::Workbook => {
                output::print(&report::page::write(estimate).map_err(refuse)?);
            }
        }
    } else if common.json {
        output::json(&report::json::Document {
            estimate,
            openings: args.openings,
            treatment: args.treatment,
            messages: ovolo::diagnostics::render::to_json(&job.warnings, &job.loaded.sources),
        });
    } else {
        report_to_terminal(&job, estimate, args, common);
    }
    for line in done {
        output::complain(&line);
    }
    Ok(ExitCode::from(exit::DONE))
}

fn report_to_terminal(job: &Job, estimate: &Estimate, args: &EstimateArgs, common: &Common) {
    output::messages(&job.warnings, &job.loaded.sources, common);
    let options = terminal::Options {
        openings: args.openings,
        treatment: args.treatment,
        assumptions: args.assumptions,
        lines: args.lines,
    };
    let width = output::width(common);
    output::print(&terminal::report(estimate, &options, width));
    let papers = job.checked.program.versions.first().map(|v| &v.papers);
    let names = papers.into_iter().flatten().map(|p| p.name.as_str());
    let names: Vec<&str> = names.collect();
    if !names.is_empty() {
        let line = format!("Papers (ovolo papers {}): {}.", args.job, names.join(", "));
        output::print(&format!("\n{}", terminal::paragraphs(&[line], width)));
    }
}

/// What is wrong with what is asked of standard output, if anything is.
fn wrong_output(
    printed: &[(Output, &str)],
    args: &EstimateArgs,
    common: &Common,
) -> Option<&'static str> {
    let (first, _) = printed.first()?;
    if matches!(first, Output::Workbook)
        || printed.len() > 1 && args.workbook.as_deref() == Some("-")
    {
        return Some("A workbook can't be printed. Name a file: --workbook estimate.xlsx");
    }
    (printed.len() > 1 || common.json || args.csv.is_some()).then_some(
        "Standard output takes one form at a time: --page -, --record -, --json or --csv.",
    )
}

/// Reads survey and prices and works one version; what is refused is printed.
fn work(
    job: &mut Job,
    version: usize,
    args: &EstimateArgs,
    common: &Common,
) -> Result<(Arc<Survey>, PriceBook, Worked), ExitCode> {
    let progress = Progress::begin();
    let all = args.workbook.is_some() || args.page.is_some();
    // Of single tables only those by row need amounts by row; no name asks for the names of all.
    let table = |wanted: fn(&str) -> bool| {
        args.csv
            .as_deref()
            .is_some_and(|name| name.is_empty() || wanted(name))
    };
    let wish = Wish {
        by_row: args.openings || all || table(|name| name.starts_with("by-")),
        treatment: args.treatment || all || table(|name| name == "treatment"),
        quantities: args.quantities,
    };
    let priced = job.priced(version, wish);
    let (survey, prices) = job::inputs(job, &args.aside, &progress, priced, common)?;
    let origin = job.origin();
    let working = progress.working();
    let options = progress.options(Some(&working));
    let program = &job.checked.program;
    let planned = program.terms.cuts.iter().any(|c| c.plan.is_some());
    let more = match program.versions.get(version) {
        Some(def) if planned => wanted_parts(program, def),
        _ => Vec::new(),
    };
    let outcome = estimate::estimate(
        program, version, &survey, &prices, wish, &more, &options, origin,
    );
    progress.end();
    let mut worked = outcome.map_err(|why| job::refused(why, job, common))?;
    if !args.quantities {
        let put = job.put_plans(version, &survey, &mut worked, false);
        put.map_err(|list| output::refuse(&list, &job.loaded.sources, common))?;
    }
    job.warnings.extend(worked.warnings.iter().cloned());
    if version == 0 {
        let unrecorded = job.unrecorded_library(&worked.estimate);
        job.warnings.extend(unrecorded);
    }
    Ok((survey, prices, worked))
}

fn csv(estimate: &ovolo::pricing::Estimate, name: &str) -> Result<ExitCode, ExitCode> {
    let names = || {
        report::all_views(estimate)
            .into_iter()
            .filter(|v| !v.is_empty())
            .map(|v| v.name)
            .collect()
    };
    output::table(name, names, |out| {
        report::csv::table(estimate, name).map(|text| out(&text))
    })
}
