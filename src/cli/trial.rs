//! `ovolo trial`: runs the worked examples of sheets.

use super::args::{Common, SheetArgs};
use super::{exit, files::Disk, output};
use ovolo::check::{self, Options};
use ovolo::diagnostics::{Diagnostic, any_error, render};
use ovolo::running::trial::run_all;
use std::process::ExitCode;

/// Runs all trials of the sheets and of those they use.
pub fn run(args: &SheetArgs, common: &Common) -> Result<ExitCode, ExitCode> {
    let disk = Disk::default();
    let (loaded, mut problems) = check::load(&args.sheets, &disk);
    let mut checked = None;
    if !any_error(&problems) {
        let (c, found) = check::check(&loaded, Options { alternates: false, trials: true });
        problems.extend(found);
        checked = c;
    }
    let Some(checked) = checked.filter(|_| !any_error(&problems)) else {
        return Err(output::refuse(&problems, &loaded.sources, common));
    };
    let outcomes = run_all(&checked);
    let failures: Vec<Diagnostic> = outcomes.iter().flat_map(|o| o.failures.iter().cloned()).collect();
    let expects: usize = outcomes.iter().map(|o| o.expects).sum();
    let failed = outcomes.iter().filter(|o| !o.failures.is_empty()).count();
    let code = ExitCode::from(if failures.is_empty() { exit::DONE } else { exit::REFUSED });
    if common.json {
        let list: Vec<_> = outcomes
            .iter()
            .map(|o| serde_json::json!({"trial": o.name, "expectations": o.expects, "failures": render::to_json(&o.failures, &loaded.sources)}))
            .collect();
        output::print(&format!("{:#}\n", serde_json::json!({"schema": "ovolo-trials/1", "trials": list})));
        return Ok(code);
    }
    output::messages(&failures, &loaded.sources, common);
    let end = match failed {
        0 => "all come out as expected".to_string(),
        1 => "1 trial comes out otherwise".to_string(),
        n => format!("{n} trials come out otherwise"),
    };
    output::print(&format!("{}, {}: {end}.\n", output::many(outcomes.len(), "trial"), output::many(expects, "expectation")));
    Ok(code)
}
