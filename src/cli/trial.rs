//! `ovolo trial`: runs the worked examples of sheets.

use super::args::{Common, SheetArgs};
use super::several::{self, Told};
use super::{files::Disk, output};
use ovolo::check::{self, Options};
use ovolo::diagnostics::{any_error, render};
use ovolo::running::trial::run_all;
use std::process::ExitCode;

/// Runs all trials of each sheet and of those it uses.
pub fn run(args: &SheetArgs, common: &Common) -> Result<ExitCode, ExitCode> {
    let several = args.sheets.len() > 1;
    let told = several::each(&args.sheets, common, |path| look(path, several));
    if common.json {
        // What is refused has messages and no trials; what ran has trials with their failures in them.
        let value = if told.json.is_empty() && !told.messages.is_empty() {
            serde_json::json!({"schema": "ovolo-messages/1", "messages": told.messages})
        } else {
            let mut value = serde_json::json!({"schema": "ovolo-trials/1", "trials": told.json});
            if several && !told.messages.is_empty() {
                value["messages"] = told.messages.into();
            }
            value
        };
        output::json(&value);
    }
    Ok(told.code)
}

fn look(path: &str, several: bool) -> Told {
    let (loaded, mut problems) = check::load(&[path.to_string()], &Disk::default());
    let mut checked = None;
    if !any_error(&problems) {
        let (c, found) = check::check(
            &loaded,
            Options {
                alternates: false,
                trials: true,
            },
        );
        problems.extend(found);
        checked = c;
    }
    let Some(checked) = checked.filter(|_| !any_error(&problems)) else {
        return Told {
            sources: loaded.sources,
            problems,
            failures: vec![],
            result: None,
            json: vec![],
        };
    };
    let outcomes = run_all(&checked);
    let expects: usize = outcomes.iter().map(|o| o.expects).sum();
    let failed = outcomes.iter().filter(|o| !o.failures.is_empty()).count();
    let json = outcomes.iter().map(|o| {
        let failures = render::to_json(&o.failures, &loaded.sources);
        let mut value =
            serde_json::json!({"trial": o.name, "expectations": o.expects, "failures": failures});
        if several {
            value["sheet"] = path.into();
        }
        value
    });
    let json = json.collect();
    let end = match failed {
        0 => "all come out as expected".to_string(),
        1 => "1 trial comes out otherwise".to_string(),
        n => format!("{n} trials come out otherwise"),
    };
    let result = format!(
        "{}, {}: {end}.",
        output::many(outcomes.len(), "trial"),
        output::many(expects, "expectation")
    );
    let failures = outcomes.into_iter().flat_map(|o| o.failures).collect();
    Told {
        sources: loaded.sources,
        problems: vec![],
        failures,
        result: Some(result),
        json,
    }
}
