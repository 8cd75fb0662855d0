//! `ovolo cut JOB`: a plan for each `cut` block of a job.

use super::args::{AsideArgs, Common, CutArgs};
use super::cut::{Asked, finish, set_stages, work_parts};
use super::files::Disk;
use super::progress::Progress;
use super::{exit, job, output};
use ovolo::cutting::solve::Effort;
use ovolo::diagnostics::{Diagnostic, Place};
use ovolo::paper::Reader;
use ovolo::program::CutTerms;
use ovolo::session::{Files, Job, JobFiles, Priced, Role};
use ovolo::table::Table;
use ovolo::takeoff::Wish;
use ovolo::tally::cut_problem;
use std::process::ExitCode;

/// Plans each block, or the one that is named.
pub fn run(args: &CutArgs, common: &Common) -> Result<ExitCode, ExitCode> {
    let name = args.job.as_deref().unwrap_or_default();
    let mut job = job::open(name, common)?;
    let number = job::version(&job, args.alternate.as_deref(), common)?;
    let blocks = blocks(&job, name, args, common)?;
    let progress = Progress::begin();
    let (survey, prices) = job::inputs(
        &mut job,
        &AsideArgs::default(),
        &progress,
        Priced::Yes,
        common,
    )?;
    let program = &job.checked.program;
    let Some(version) = program.versions.get(number) else {
        return Err(ExitCode::from(exit::FAULT));
    };
    let inputs = (&*survey, &prices);
    let wish = Wish::default();
    let (worked, parts) = work_parts(&job, number, inputs, wish, progress, common)?;
    output::beside(&job.warnings, &job.loaded.sources, common);
    let refuse = |list: Vec<Diagnostic>| output::refuse(&list, &job.loaded.sources, common);
    let tables: Vec<&Table> = survey.tables.iter().collect();
    // Every block is looked at before one is planned.
    let (mut problems, mut faults) = (Vec::new(), Vec::new());
    for terms in &blocks {
        let sheet = job.loaded.sources.name(terms.span.file);
        let Some(price) = Job::cut_price(terms, &worked) else {
            output::complain(&format!("No {} is bought: nothing is cut.", terms.name));
            continue;
        };
        match cut_problem(program, version, terms, &tables, &parts, &price, sheet) {
            Ok(problem) => problems.push((terms, sheet, problem)),
            Err(list) => faults.extend(list),
        }
    }
    if !faults.is_empty() {
        return Err(refuse(faults));
    }
    let mut done = ExitCode::from(exit::DONE);
    for (terms, sheet, mut problem) in problems {
        if let Some(stages) = args.stages {
            set_stages(&mut problem, stages)?;
        }
        let own = terms.plan.as_ref().filter(|_| args.check.is_none());
        let own = own.map(|p| Disk::default().name(&p.path, sheet));
        let written = args.output.as_deref().or(own.as_deref());
        let number = |asked: Option<u64>, said: Option<u32>, usual| {
            asked.or(said.map(u64::from)).unwrap_or(usual)
        };
        if blocks.len() > 1 {
            output::print(&format!("{}\n\n", terms.name));
        }
        let ask = Asked {
            problem: &problem,
            name: sheet,
            title: &terms.name,
            place: Place::Sheet(terms.span),
            sources: &job.loaded.sources,
            output: written,
            inputs: &guarded(&job, written),
            effort: Effort {
                rounds: number(args.rounds, terms.rounds, Effort::USUAL.rounds),
                seed: number(args.seed, terms.seed, Effort::USUAL.seed),
            },
            head: super::papers::head(&job, &worked, &survey, Reader::Shop),
        };
        let code = finish(&ask, args, common)?;
        if code != ExitCode::from(exit::DONE) {
            done = code;
        }
    }
    Ok(done)
}

/// Every file of the job but the plan that is about to be written.
fn guarded(job: &Job, written: Option<&str>) -> JobFiles {
    let files = JobFiles::default();
    for file in job.files.list() {
        if file.role != Role::Plan || written != Some(file.name.as_str()) {
            files.add(file.role, &file.name);
        }
    }
    files
}

/// The blocks to plan.
fn blocks(
    job: &Job,
    name: &str,
    args: &CutArgs,
    common: &Common,
) -> Result<Vec<CutTerms>, ExitCode> {
    let all = &job.checked.program.terms.cuts;
    let wanted = |c: &&CutTerms| args.resource.as_ref().is_none_or(|r| *r == c.name);
    let found: Vec<CutTerms> = all.iter().filter(wanted).cloned().collect();
    if found.is_empty() {
        let names: Vec<&str> = all.iter().map(|c| c.name.as_str()).collect();
        let d = Diagnostic::error("OV-835", "the job does not say how this is cut")
            .at(Place::File(name.to_owned()), "")
            .found(args.resource.as_deref().unwrap_or("no cut block"))
            .expected(if names.is_empty() {
                "a block `cut RESOURCE { ... }` in the job sheet".to_owned()
            } else {
                names.join(", ")
            })
            .mend("add the block, or give stock and settings as a file: --instance FILE.json");
        return Err(output::refuse(&[d], &job.loaded.sources, common));
    }
    let single = args.output.is_some()
        || args.svg.is_some()
        || args.page.is_some()
        || args.check.is_some()
        || args.csv.is_some()
        || common.json;
    if found.len() > 1 && single {
        output::complain("The job cuts several resources; name one: --resource NAME");
        return Err(ExitCode::from(exit::USAGE));
    }
    Ok(found)
}
