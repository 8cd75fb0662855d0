//! `ovolo proof`: checks sheets.

use super::args::{Common, SheetArgs};
use super::{exit, files::Disk, output};
use ovolo::check::{self, Options};
use ovolo::diagnostics::any_error;
use std::process::ExitCode;

/// Checks the sheets together and says what they hold.
pub fn run(args: &SheetArgs, common: &Common) -> Result<ExitCode, ExitCode> {
    let disk = Disk::default();
    let (loaded, mut problems) = check::load(&args.sheets, &disk);
    let checked = if problems.iter().any(|d| d.code == "OV-001") {
        None
    } else {
        let (checked, found) = check::check(&loaded, Options { alternates: true, trials: true });
        problems.extend(found);
        checked
    };
    if any_error(&problems) {
        return Err(output::refuse(&problems, &loaded.sources, common));
    }
    let Some(checked) = checked else { return Err(output::refuse(&problems, &loaded.sources, common)) };
    if common.json {
        let value =
            serde_json::json!({"schema": "ovolo-messages/1", "messages": ovolo::diagnostics::render::to_json(&problems, &loaded.sources)});
        output::print(&format!("{value:#}\n"));
        return Ok(ExitCode::from(exit::DONE));
    }
    output::messages(&problems, &loaded.sources, common);
    let base = &checked.program.versions[0];
    let counts = [
        output::many(loaded.sheets.len(), "sheet"),
        output::many(base.values.len(), "value"),
        output::many(base.takes.len(), "take-off line"),
        output::many(checked.program.versions.len() - 1 - checked.trials.len(), "alternate"),
        output::many(checked.trials.len(), "trial"),
    ];
    // A decision that could not be proved is told above and must not be called proved here.
    let proved = if problems.iter().any(|d| d.code == "OV-408") {
        "units and grain hold; the decisions named in the notes are checked on every row"
    } else {
        "units, grain and decisions hold"
    };
    output::print(&format!("Sound: {}; {proved}.\n", counts.join(", ")));
    Ok(ExitCode::from(exit::DONE))
}
