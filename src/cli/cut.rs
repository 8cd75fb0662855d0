//! `ovolo cut`: a cut plan, with a bound that is proved.

use super::args::{AsideArgs, Common, CutArgs};
use super::progress::Progress;
use super::written::Target;
use super::{exit, output};
use super::{files, job};
use ovolo::cutting::check::{Whereabouts, check};
use ovolo::cutting::model::Problem;
use ovolo::cutting::plan::Plan;
use ovolo::cutting::solve::{Effort, NoPlan, Watch, solve};
use ovolo::cutting::{file, instance, words};
use ovolo::diagnostics::{Diagnostic, Place, Sources};
use ovolo::drawing::svg;
use ovolo::estimate;
use ovolo::estimate::{Survey, Worked};
use ovolo::lists::cuts as shop;
use ovolo::paper::{Head, Paper};
use ovolo::prices::PriceBook;
use ovolo::report::pdf::Sheet;
use ovolo::report::{cuts, papers, terminal};
use ovolo::session::{Job, JobFiles, Role};
use ovolo::table::Table;
use ovolo::takeoff::{Parts, Wish, parts, wanted_parts};
use ovolo::tally::add_parts;
use std::path::Path;
use std::process::ExitCode;
use std::sync::atomic::Ordering;

/// Largest file with a problem or a plan.
const MOST_BYTES: u64 = 64 << 20;

/// A problem to be planned, and what it came from.
pub struct Asked<'a> {
    /// The problem.
    pub problem: &'a Problem,
    /// The file that the problem comes from.
    pub name: &'a str,
    /// What the plan is of.
    pub title: &'a str,
    /// Where the problem is stated.
    pub place: Place,
    /// The texts that messages show.
    pub sources: &'a Sources,
    /// Where the plan goes.
    pub output: Option<&'a str>,
    /// Files that must not be written over.
    pub inputs: &'a JobFiles,
    /// How long the search goes on.
    pub effort: Effort,
    /// What is on every page for the shop.
    pub head: Head,
}

/// Makes plans, or checks one.
pub fn run(args: &CutArgs, common: &Common) -> Result<ExitCode, ExitCode> {
    let Some(instance) = &args.instance else {
        return super::cut_job::run(args, common);
    };
    let refuse = |list: Vec<Diagnostic>| output::refuse(&list, &Sources::default(), common);
    let text = read(instance, common)?;
    if instance::asks_for_yield(&text) {
        return super::cut_sheet::run(&text, instance, args, common);
    }
    let mut problem = instance::read(&text, instance).map_err(refuse)?;
    if let Some(job) = &args.job {
        let Some(resource) = &args.resource else {
            output::complain(
                "With --instance and a job, name the resource that is cut: --resource",
            );
            return Err(ExitCode::from(exit::USAGE));
        };
        if !problem.parts.is_empty() {
            output::complain(
                "The file has parts of its own; with a job it holds stock and settings only.",
            );
            return Err(ExitCode::from(exit::USAGE));
        }
        from_job(&mut problem, instance, job, resource, args, common)?;
    }
    let inputs = JobFiles::default();
    inputs.add(Role::Problem, instance);
    let effort = Effort {
        rounds: args.rounds.unwrap_or(Effort::USUAL.rounds),
        seed: args.seed.unwrap_or(Effort::USUAL.seed),
    };
    if let Some(stages) = args.stages {
        set_stages(&mut problem, stages)?;
    }
    let sources = Sources::default();
    let asked = Asked {
        problem: &problem,
        name: instance,
        title: instance,
        place: Place::File(instance.clone()),
        sources: &sources,
        output: args.output.as_deref(),
        inputs: &inputs,
        effort,
        head: head_of_file(instance, &problem),
    };
    finish(&asked, args, common)
}

/// Sets the stages of a plan of glass.
pub fn set_stages(problem: &mut Problem, stages: u8) -> Result<(), ExitCode> {
    if problem.rules.goods != ovolo::cutting::model::Goods::Glass {
        output::complain("--stages is for glass; bars and boards have their own");
        return Err(ExitCode::from(exit::USAGE));
    }
    problem.rules.stages = stages;
    Ok(())
}

/// Plans one problem, or checks the plan that is named, and prints and writes what is asked for.
pub fn finish(ask: &Asked<'_>, args: &CutArgs, common: &Common) -> Result<ExitCode, ExitCode> {
    let refuse = |list: Vec<Diagnostic>| output::refuse(&list, ask.sources, common);
    let problem = ask.problem;
    let asked: Vec<&str> = [ask.output, args.svg.as_deref(), args.page.as_deref()]
        .into_iter()
        .flatten()
        .collect();
    if let Some(plan) = &args.check {
        ask.inputs.add(Role::Plan, plan);
    }
    let targets = Target::all(&asked, ask.inputs).map_err(refuse)?;
    let plan = match &args.check {
        Some(name) => {
            let plan = file::read(&read(name, common)?, name, problem).map_err(refuse)?;
            file::check_bound(problem, &plan, name).map_err(refuse)?;
            plan
        }
        None => make(ask, common)?,
    };
    let views = cuts::views(problem, &plan);
    let mut outputs = Vec::new();
    if ask.output.is_some() {
        outputs.push(file::write(problem, &plan).into_bytes());
    }
    if args.svg.is_some() {
        let drawing = shop::drawing(problem, &plan, &cuts::gap(problem, &plan));
        outputs.push(svg(&drawing).into_bytes());
    }
    if let Some(file) = &args.page {
        let paper = shop::paper(problem, &plan, ask.title, ask.head.clone());
        outputs.push(page(file, &paper).map_err(|d| refuse(vec![d]))?);
    }
    for (target, bytes) in targets.iter().zip(outputs) {
        let line = target.write(&bytes).map_err(|d| refuse(vec![d]))?;
        output::complain(&line);
    }
    if let Some(name) = &args.csv {
        let names = || views.iter().map(|v| v.name.clone()).collect();
        return output::table(name, names, |out| {
            cuts::table(problem, &plan, name).map(|text| out(&text))
        });
    }
    if common.json {
        output::json(&json(problem, &plan));
    } else {
        let width = output::width(common);
        let shown = views.iter().filter(|v| !v.is_empty());
        let text: Vec<String> = shown.map(|v| terminal::draw(v, width)).collect();
        output::print(&text.join("\n"));
    }
    Ok(ExitCode::from(if plan.finished {
        exit::DONE
    } else {
        exit::STOPPED
    }))
}

/// What is on the pages of a plan that is of no job.
pub(super) fn head_of_file(name: &str, problem: &Problem) -> Head {
    Head {
        job: name.to_owned(),
        version: "from a file".to_owned(),
        record: problem.hash(true).chars().take(8).collect(),
        program: format!("ovolo {}", env!("CARGO_PKG_VERSION")),
        ..Head::default()
    }
}

/// A paper as a file: PDF where its name says so, otherwise a page for the browser.
pub(super) fn page(file: &str, paper: &Paper) -> Result<Vec<u8>, Diagnostic> {
    match file.to_lowercase().ends_with(".pdf") {
        true => Ok(super::papers::pdf(paper, Sheet::Letter)?.bytes),
        false => Ok(papers::html(paper).into_bytes()),
    }
}

fn read(name: &str, common: &Common) -> Result<String, ExitCode> {
    let bytes = files::read_file(Path::new(name), MOST_BYTES).map_err(|why| {
        let d = Diagnostic::error("OV-002", format!("{name} can't be opened"))
            .at(Place::File(name.to_string()), "")
            .found(why);
        output::refuse(&[d], &Sources::default(), common)
    })?;
    Ok(String::from_utf8_lossy(&bytes).into_owned())
}

/// Works a version of a job for its parts; what is refused is printed.
pub(super) fn work_parts(
    job: &Job,
    number: usize,
    (survey, prices): (&Survey, &PriceBook),
    wish: Wish,
    progress: Progress,
    common: &Common,
) -> Result<(Worked, Parts), ExitCode> {
    let program = &job.checked.program;
    let Some(version) = program.versions.get(number) else {
        return Err(ExitCode::from(exit::FAULT));
    };
    let options = progress.options(None);
    let wanted = wanted_parts(program, version);
    let origin = job.origin();
    let worked = estimate::estimate(
        program, number, survey, prices, wish, &wanted, &options, origin,
    );
    progress.end();
    let worked = worked.map_err(|why| job::refused(why, job, common))?;
    let tables: Vec<&Table> = survey.tables.iter().collect();
    let parts = parts(program, version, &worked.results, &tables);
    Ok((worked, parts))
}

/// Adds the parts of a job and looks the whole over again.
fn from_job(
    problem: &mut Problem,
    instance: &str,
    name: &str,
    resource: &str,
    args: &CutArgs,
    common: &Common,
) -> Result<(), ExitCode> {
    let mut job = job::open(name, common)?;
    let progress = Progress::begin();
    let number = job::version(&job, args.alternate.as_deref(), common)?;
    let wish = Wish {
        quantities: true,
        ..Wish::default()
    };
    let priced = job.priced(number, wish);
    let (survey, prices) = job::inputs(&mut job, &AsideArgs::default(), &progress, priced, common)?;
    let program = &job.checked.program;
    let Some(version) = program.versions.get(number) else {
        return Err(ExitCode::from(exit::FAULT));
    };
    let (_, parts) = work_parts(&job, number, (&*survey, &prices), wish, progress, common)?;
    let refuse = |list: Vec<Diagnostic>| output::refuse(&list, &job.loaded.sources, common);
    output::beside(&job.warnings, &job.loaded.sources, common);
    add_parts(problem, instance, version, &parts, resource).map_err(refuse)?;
    let place = |text: String| (Place::File(name.to_string()), text);
    let at = Whereabouts {
        parts: (problem.parts.iter())
            .map(|p| {
                place(format!(
                    "{} of {}",
                    p.mark,
                    p.rows.first().map_or("", |r| &r.0)
                ))
            })
            .collect(),
        stocks: Vec::new(),
        rules: Some((Place::File(instance.to_owned()), String::new())),
    };
    let faults = check(problem, &at);
    if faults.is_empty() {
        Ok(())
    } else {
        Err(refuse(faults))
    }
}

fn make(ask: &Asked<'_>, common: &Common) -> Result<Plan, ExitCode> {
    let progress = Progress::begin();
    let problem = ask.problem;
    let solved = solve(problem, ask.effort, &Reporter(&progress));
    progress.end();
    let refuse = |list: Vec<Diagnostic>| output::refuse(&list, ask.sources, common);
    let plan = solved.map_err(|why| refuse(vec![told(problem, &why, &ask.place)]))?;
    // Nothing is shown or written that the checks do not confirm.
    let text = file::write(problem, &plan);
    let plan = file::read(&text, ask.name, problem).map_err(refuse)?;
    file::check_bound(problem, &plan, ask.name).map_err(refuse)?;
    Ok(plan)
}

struct Reporter<'a>(&'a Progress);

impl Watch for Reporter<'_> {
    fn go_on(&self, done: u64, of: u64) -> bool {
        self.0.tell("planning cuts", done, Some(of));
        !self.0.stop().load(Ordering::SeqCst)
    }
}

fn told(problem: &Problem, why: &NoPlan, place: &Place) -> Diagnostic {
    match why {
        NoPlan::NoPlace(parts) => {
            let names: Vec<String> = parts
                .iter()
                .take(5)
                .map(|&p| words::name(problem, p))
                .collect();
            let more = parts.len().saturating_sub(names.len());
            let more = if more > 0 {
                format!(" and {more} more")
            } else {
                String::new()
            };
            Diagnostic::error("OV-856", "there is not enough stock for all parts")
                .at(place.clone(), "")
                .found(format!("no place for {}{more}", names.join(", ")))
                .expected("stock for every part")
                .mend("add stock that can be bought, which has no number of pieces")
        }
        NoPlan::TooMany(sizes) => {
            Diagnostic::error("OV-957", "too many different parts for one plan")
                .at(place.clone(), "")
                .found(format!("{sizes} different parts of one thickness"))
                .expected(format!("at most {}", ovolo::cutting::model::MOST_SIZES))
                .mend("cut the job in several plans, for example by wing")
        }
    }
}

fn json(problem: &Problem, plan: &Plan) -> serde_json::Value {
    serde_json::json!({
        "schema": "ovolo-cuts/1",
        "made_from": problem.hash(plan.finished),
        "finished": plan.finished,
        "cost": plan.cost,
        "greedy": plan.greedy,
        "bound": plan.bound(),
        "scope": words::scope(problem),
        "used": plan.used(),
        "patterns": plan.cuts.len(),
        "cuts": plan.cuts,
    })
}
