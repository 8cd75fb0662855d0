//! `ovolo code`: the page of a message code.

use super::args::{CodeArgs, Common};
use super::{exit, output};
use ovolo::diagnostics::codes;
use std::process::ExitCode;

/// Prints one page, or the list of codes.
pub fn run(args: &CodeArgs, common: &Common) -> Result<ExitCode, ExitCode> {
    let Some(wanted) = &args.code else {
        if common.json {
            let list: Vec<_> = codes::ENTRIES
                .iter()
                .map(|e| serde_json::json!({"code": e.code, "title": e.title()}))
                .collect();
            output::json(&serde_json::json!({"schema": "ovolo-codes/1", "codes": list}));
        } else {
            let lines = codes::ENTRIES
                .iter()
                .map(|e| format!("{}  {}\n", e.code, e.title()));
            output::print(&lines.collect::<String>());
        }
        return Ok(ExitCode::from(exit::DONE));
    };
    match codes::find(wanted) {
        Some(e) if common.json => {
            output::json(
                &serde_json::json!({"schema": "ovolo-codes/1", "code": e.code, "title": e.title(), "page": e.page()}),
            );
        }
        Some(e) => output::print(&format!("{}  {}\n\n{}\n", e.code, e.title(), e.page())),
        None => {
            output::complain(&format!(
                "There is no code {wanted}. `ovolo code` lists them all."
            ));
            return Err(ExitCode::from(exit::USAGE));
        }
    }
    Ok(ExitCode::from(exit::DONE))
}
