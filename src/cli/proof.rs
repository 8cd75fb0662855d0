//! `ovolo proof`: checks sheets.

use super::args::{Common, SheetArgs};
use super::several::{self, Told};
use super::{files::Disk, output};
use ovolo::check::{self, Options};
use ovolo::diagnostics::any_error;
use std::process::ExitCode;

/// Checks each sheet with all it uses, and says what it holds.
pub fn run(args: &SheetArgs, common: &Common) -> Result<ExitCode, ExitCode> {
    let told = several::each(&args.sheets, common, |path| {
        let (mut loaded, mut problems) = check::load(&[path.to_string()], &Disk::default());
        if let Some(day) = &common.issued {
            loaded.issue(day);
        }
        let mut checked = None;
        if !problems.iter().any(|d| d.code == "OV-001") {
            let (c, found) = check::check(
                &loaded,
                Options {
                    alternates: true,
                    trials: true,
                },
            );
            problems.extend(found);
            problems.extend(check::site_facts(&loaded));
            checked = c;
        }
        let checked = checked.filter(|_| !any_error(&problems));
        let result = checked.map(|checked| {
            let base = &checked.program.versions[0];
            if !checked.program.terms.surveys.is_empty() {
                problems.extend(check::still_asked(base));
            }
            let counts = [
                output::many(loaded.sheets.len(), "sheet"),
                output::many(base.values.len(), "value"),
                output::many(base.takes.len(), "take-off line"),
                output::many(
                    checked.program.versions.len() - 1 - checked.trials.len(),
                    "alternate",
                ),
                output::many(checked.trials.len(), "trial"),
            ];
            // A decision that could not be proved is reported above and must not be called proved here.
            let proved = if problems.iter().any(|d| d.code == "OV-408") {
                "units and grain hold; the decisions named in the notes are checked on every row"
            } else {
                "units, grain and decisions hold"
            };
            format!("Sound: {}; {proved}.", counts.join(", "))
        });
        Told {
            sources: loaded.sources,
            problems,
            failures: vec![],
            result,
            json: vec![],
        }
    });
    if common.json {
        output::json(&serde_json::json!({"schema": "ovolo-messages/1", "messages": told.messages}));
    }
    Ok(told.code)
}
