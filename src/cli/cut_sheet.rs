//! `ovolo cut --instance` with one sheet: the most that it can yield.

use super::args::{Common, CutArgs};
use super::cut::{head_of_file, page, set_stages};
use super::written::Target;
use super::{exit, output};
use ovolo::cutting::one_sheet::{self, OneSheet, Yielded};
use ovolo::cutting::replay::replay;
use ovolo::cutting::{model, words};
use ovolo::diagnostics::{Diagnostic, Place, Sources};
use ovolo::drawing::svg;
use ovolo::lists::cuts as shop;
use ovolo::report::{cuts, terminal};
use ovolo::session::{JobFiles, Role};
use std::process::ExitCode;

/// Cuts the sheet, and prints and writes what is asked for.
pub fn run(text: &str, name: &str, args: &CutArgs, common: &Common) -> Result<ExitCode, ExitCode> {
    let refuse = |list: Vec<Diagnostic>| output::refuse(&list, &Sources::default(), common);
    if args.job.is_some() || args.output.is_some() || args.check.is_some() {
        output::complain(
            "The file asks what one sheet yields: no job goes with it, and no plan is written or checked.",
        );
        return Err(ExitCode::from(exit::USAGE));
    }
    let mut asked = one_sheet::read(text, name).map_err(refuse)?;
    if let Some(stages) = args.stages {
        set_stages(&mut asked.problem, stages)?;
    }
    let inputs = JobFiles::default();
    inputs.add(Role::Problem, name);
    let wanted: Vec<&str> = [args.svg.as_deref(), args.page.as_deref()]
        .into_iter()
        .flatten()
        .collect();
    let targets = Target::all(&wanted, &inputs).map_err(refuse)?;
    let found = cut(&asked, name).map_err(|d| refuse(vec![d]))?;
    let mut outputs = Vec::new();
    if args.svg.is_some() {
        let title = cuts::yield_gap(&asked, &found);
        let drawing = shop::drawing(&found.problem, &found.plan, &title);
        outputs.push(svg(&drawing).into_bytes());
    }
    if let Some(file) = &args.page {
        let head = head_of_file(name, &found.problem);
        let said = cuts::yield_gap(&asked, &found);
        let paper = shop::yield_paper(&found.problem, &found.plan, said, head);
        outputs.push(page(file, &paper).map_err(|d| refuse(vec![d]))?);
    }
    for (target, bytes) in targets.iter().zip(outputs) {
        let line = target.write(&bytes).map_err(|d| refuse(vec![d]))?;
        output::complain(&line);
    }
    let views = cuts::yield_views(&asked, &found);
    if let Some(table) = &args.csv {
        let names = || views.iter().map(|v| v.name.clone()).collect();
        return output::table(table, names, |out| {
            cuts::pick(&views, table).map(|text| out(&text))
        });
    }
    if common.json {
        output::json(&serde_json::json!({
            "schema": "ovolo-yield/1",
            "worth": found.value,
            "one_size_alone": found.greedy,
            "bound": found.bound,
            "panes": found.problem.pieces(),
            "cuts": found.plan.cuts,
        }));
    } else {
        let width = output::width(common);
        let shown = views.iter().filter(|v| !v.is_empty());
        let text: Vec<String> = shown.map(|v| terminal::draw(v, width)).collect();
        output::print(&text.join("\n"));
    }
    Ok(ExitCode::from(exit::DONE))
}

/// The sheet as it is best cut, cut again by code that shares nothing with the search.
fn cut(asked: &OneSheet, name: &str) -> Result<Yielded, Diagnostic> {
    let place = || Place::File(name.to_string());
    let found = one_sheet::most(asked).ok_or_else(|| {
        Diagnostic::error("OV-957", "too many sizes to look at on this sheet")
            .at(place(), "sheet")
            .found(stock(&asked.problem))
            .expected("a sheet whose panes end at fewer places")
            .mend("write all sizes in a coarser unit, panes rounded up and the sheet rounded down")
    })?;
    match replay(&found.problem, &found.plan).into_iter().next() {
        None => Ok(found),
        Some(fault) => Err(Diagnostic::error(
            "OV-858",
            "the sheet cannot be cut as it was planned",
        )
        .at(place(), "")
        .found(fault)),
    }
}

fn stock(problem: &model::Problem) -> String {
    words::stock_name(problem, 0)
}
