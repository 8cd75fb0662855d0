//! `ovolo why`: the tree behind a number, and why a number is not what it was.

use super::args::{AsideArgs, Common, WhyArgs};
use super::job::{self, refused};
use super::{exit, output, record};
use ovolo::diagnostics::Diagnostic;
use ovolo::estimate::{self, Survey, Worked};
use ovolo::eval;
use ovolo::explain::change_order;
use ovolo::explain::difference::{self, Figure};
use ovolo::explain::{self, Explainer, against};
use ovolo::prices::PriceBook;
use ovolo::pricing::bid::ChangeOrder;
use ovolo::report::{Face, csv, terminal};
use ovolo::session::{Job, Priced};
use ovolo::survey::ReadOptions;
use ovolo::takeoff::Wish;
use std::process::ExitCode;

/// Explains one number.
pub fn run(args: &WhyArgs, common: &Common) -> Result<ExitCode, ExitCode> {
    if let Some(file) = &args.against {
        return compare(args, file, common);
    }
    let mut job = job::open(&args.job, common)?;
    let version = job::version(&job, args.alternate.as_deref(), common)?;
    let name = args.result.as_deref().unwrap_or("total");
    // What a sheet works out by name needs no price.
    let named = |v: &ovolo::program::Version| v.values.iter().any(|v| v.name == name);
    let value = job.checked.program.versions.get(version).is_some_and(named);
    let wish = Wish {
        quantities: value,
        ..Wish::default()
    };
    let (survey, book, worked) = work(&mut job, version, &args.aside, (true, wish), common)?;
    let subject = job.subject(version, &survey, &book, &worked);
    let mut explainer = Explainer::new(subject);
    let sources = &job.loaded.sources;
    let told = |e| refused(e, &job, common);
    let target = explainer.find(name, args.mark.as_deref()).map_err(told)?;
    let options = explain::Options {
        depth: args.depth.unwrap_or(target.usual_depth()),
        most: args.parts,
    };
    let tree = explainer.explain(target, options).map_err(told)?;
    let faults = explainer.faults(target).map_err(told)?;
    let face = job::face(&job, version, &survey);
    if common.json {
        let mut value = explain::json::tree(&tree, sources);
        face.add_to(&mut value);
        if !faults.is_empty() {
            value["messages"] = ovolo::diagnostics::render::to_json(&faults, sources);
        }
        output::json(&value);
    } else {
        aside_only(&job, common);
        output::print(&face.head());
        output::print(&explain::text::draw(&tree, sources, output::width(common)));
        output::messages(&faults, sources, common);
    }
    Ok(ExitCode::from(if faults.is_empty() {
        exit::DONE
    } else {
        exit::REFUSED
    }))
}

/// Says what changed since a record was written, and what each change does.
fn compare(args: &WhyArgs, file: &str, common: &Common) -> Result<ExitCode, ExitCode> {
    let usage = |words: String| {
        output::complain(&words);
        ExitCode::from(exit::USAGE)
    };
    let name = args.result.as_deref().unwrap_or("total");
    let figure = Figure::named(name).ok_or_else(|| {
        let known: Vec<&str> = Figure::all().map(Figure::name).collect();
        usage(format!(
            "Of {name} no record is kept. Known are {}.",
            known.join(", ")
        ))
    })?;
    let earlier = record::read(file, common)?;
    if args.alternate.is_some() {
        earlier.must_be_of(args.alternate.as_deref())?;
    }
    let record = &earlier.record;
    let mut job = job::open(&args.job, common)?;
    let version = job::version(&job, record.alternate.as_deref(), common)?;
    earlier.note(&mut job);
    let (survey, book, worked) = work(
        &mut job,
        version,
        &args.aside,
        (false, Wish::default()),
        common,
    )?;
    let subject = job.subject(version, &survey, &book, &worked);
    if args.openings {
        let order = change_order::change_order(&subject, record);
        let order = order.map_err(|e| refused(e, &job, common))?;
        return by_opening(
            &order,
            args,
            (&job, &job::face(&job, version, &survey)),
            common,
        );
    }
    let difference = against::against(&subject, record).map_err(|e| refused(e, &job, common))?;
    let [parts, figures] = difference::views(&difference, figure, &worked.estimate);
    let face = job::face(&job, version, &survey);
    if !common.json {
        aside_only(&job, common);
    }
    if common.json {
        let mut value = difference::json(&difference);
        face.add_to(&mut value);
        output::json(&value);
    } else if args.csv {
        output::print(&csv::write(&parts, &face));
    } else {
        let width = output::width(common);
        output::print(&format!(
            "{}{}\n{}",
            face.head(),
            terminal::draw(&parts, width),
            terminal::draw(&figures, width)
        ));
    }
    Ok(ExitCode::from(exit::DONE))
}

/// Prints a change order.
fn by_opening(
    order: &ChangeOrder,
    args: &WhyArgs,
    (job, face): (&Job, &Face),
    common: &Common,
) -> Result<ExitCode, ExitCode> {
    if common.json {
        let mut value = change_order::json(order);
        face.add_to(&mut value);
        output::json(&value);
        return Ok(ExitCode::from(exit::DONE));
    }
    aside_only(job, common);
    let view = change_order::view(order);
    output::print(&match args.csv {
        true => csv::write(&view, face),
        false => format!(
            "{}{}",
            face.head(),
            terminal::draw(&view, output::width(common))
        ),
    });
    Ok(ExitCode::from(exit::DONE))
}

/// Of the matters that did not stop the run, that rows are in no figure; the others are reported by the run that is explained.
fn aside_only(job: &Job, common: &Common) {
    let told: Vec<Diagnostic> = job
        .warnings
        .iter()
        .filter(|d| d.code == "OV-734")
        .cloned()
        .collect();
    output::messages(&told, &job.loaded.sources, common);
}

/// Reads survey and prices, and works one version.
fn work(
    job: &mut Job,
    version: usize,
    aside: &AsideArgs,
    (keep_text, wish): (bool, Wish),
    common: &Common,
) -> Result<(Survey, PriceBook, Worked), ExitCode> {
    let survey = job.survey(&job::set_aside(aside), keep_text, &ReadOptions::default());
    let prices = match job.priced(version, wish) {
        Priced::No => Ok(PriceBook::default()),
        Priced::Yes => job.prices(),
    };
    let (survey, book) = match (survey, prices) {
        (Ok(s), Ok(p)) => (s, p),
        (s, p) => {
            let mut problems: Vec<Diagnostic> = s.err().unwrap_or_default();
            problems.extend(p.err().unwrap_or_default());
            return Err(output::refuse(&problems, &job.loaded.sources, common));
        }
    };
    let origin = job.origin();
    let worked = estimate::estimate(
        &job.checked.program,
        version,
        &survey,
        &book,
        wish,
        &[],
        &eval::Options::default(),
        origin,
    );
    let worked = worked.map_err(|e| refused(e, job, common))?;
    Ok((survey, book, worked))
}
