//! Sheets named on one command line, each looked at by itself: results one after another, the exit code of the worst.

use super::args::Common;
use super::{exit, output};
use ovolo::diagnostics::{Diagnostic, Sources, any_error, render};
use serde_json::Value;
use std::collections::HashSet;
use std::process::ExitCode;

/// What came of one sheet.
pub struct Told {
    pub sources: Sources,
    /// What checking it has to say.
    pub problems: Vec<Diagnostic>,
    /// What running it has to say; JSON has it in a place of its own.
    pub failures: Vec<Diagnostic>,
    /// A line for the terminal; none where the sheet is refused.
    pub result: Option<String>,
    /// What JSON has of it besides its messages.
    pub json: Vec<Value>,
}

/// What came of all of them.
pub struct All {
    /// Every message, each once.
    pub messages: Vec<Value>,
    /// What JSON has besides.
    pub json: Vec<Value>,
    pub code: ExitCode,
}

/// Looks at each sheet and prints what came of it, unless JSON is asked for: then nothing is printed. What a sheet that several use has
/// to say is said once.
pub fn each(sheets: &[String], common: &Common, look: impl Fn(&str) -> Told) -> All {
    let mut all = All {
        messages: Vec::new(),
        json: Vec::new(),
        code: ExitCode::from(exit::DONE),
    };
    let mut worst = exit::DONE;
    let mut seen: HashSet<String> = HashSet::new();
    let one = sheets.len() == 1;
    for sheet in sheets {
        let mut told = look(sheet);
        let refused = told.result.is_none();
        let file_only = refused
            && told
                .problems
                .iter()
                .filter(|d| d.is_error())
                .all(|d| d.code < "OV-010");
        worst = worst.max(match (file_only, refused || !told.failures.is_empty()) {
            (true, _) => exit::FILE,
            (_, true) => exit::REFUSED,
            _ => exit::DONE,
        });
        let (mut problems, mut failures) = (
            std::mem::take(&mut told.problems),
            std::mem::take(&mut told.failures),
        );
        // One sheet alone says nothing twice.
        if !one {
            let mut new = |d: &Diagnostic| seen.insert(json_of(d, &told.sources).to_string());
            problems.retain(&mut new);
            failures.retain(&mut new);
        }
        if common.json {
            let messages = problems.iter().map(|d| json_of(d, &told.sources));
            all.messages.extend(messages);
        }
        let mut new = problems;
        new.append(&mut failures);
        all.json.append(&mut told.json);
        if common.json {
            continue;
        }
        let again = refused && !any_error(&new);
        output::messages(&new, &told.sources, common);
        match (told.result, one) {
            (Some(result), true) => output::print(&format!("{result}\n")),
            (Some(result), false) => output::print(&format!("{sheet}: {result}\n")),
            (None, true) => {}
            (None, false) if again => {
                output::print(&format!("{sheet}: refused, see the messages above.\n"))
            }
            (None, false) => output::print(&format!("{sheet}: refused.\n")),
        }
    }
    all.code = ExitCode::from(worst);
    all
}

fn json_of(message: &Diagnostic, sources: &Sources) -> Value {
    render::to_json(std::slice::from_ref(message), sources)[0].take()
}
