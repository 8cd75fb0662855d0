//! `ovolo survey`: reads the survey and reports on its cells.

use super::args::{Common, SurveyArgs};
use super::job;
use super::written::Target;
use super::{exit, output};
use ovolo::diagnostics::Diagnostic;
use ovolo::session::Job;
use ovolo::survey::{ReadOptions, report_text};
use std::process::ExitCode;

/// Reads the survey of a job and reports.
pub fn run(args: &SurveyArgs, common: &Common) -> Result<ExitCode, ExitCode> {
    let mut job = job::open(&args.job, common)?;
    let read = ReadOptions::default();
    if let Some(file) = &args.marked {
        return marked(&mut job, file, &read, common);
    }
    let survey = job.survey_in_full(&job::set_aside(&args.aside), &read);
    let sources = &job.loaded.sources;
    match survey {
        Err(problems) => Err(output::refuse(&problems, sources, common)),
        Ok(s) => {
            if common.json {
                let value = serde_json::json!({"schema": "ovolo-survey/1", "tables": s.reports,
                    "messages": ovolo::diagnostics::render::to_json(&job.warnings, sources)});
                output::json(&value);
            } else {
                output::messages(&job.warnings, sources, common);
                let width = output::width(common);
                let text: Vec<String> = s.reports.iter().map(|r| report_text(r, width)).collect();
                output::print(&text.join("\n"));
            }
            Ok(ExitCode::from(exit::DONE))
        }
    }
}

/// Writes the marked copy of every table: the main one under the name given, others beside it with their table's name.
fn marked(
    job: &mut Job,
    file: &str,
    read: &ReadOptions<'_>,
    common: &Common,
) -> Result<ExitCode, ExitCode> {
    let tables = job.surveyed();
    let names: Vec<String> = tables
        .iter()
        .enumerate()
        .map(|(i, t)| {
            if i == 0 {
                file.to_string()
            } else {
                beside(file, t)
            }
        })
        .collect();
    let asked: Vec<&str> = names.iter().map(String::as_str).collect();
    let refuse = |list: &[Diagnostic], job: &Job| output::refuse(list, &job.loaded.sources, common);
    let targets = Target::all(&asked, &job.files).map_err(|list| refuse(&list, job))?;
    let copies = job.marked(read).map_err(|list| refuse(&list, job))?;
    for ((table, copy), target) in copies.iter().zip(&targets) {
        let line = target.write(&copy.bytes).map_err(|d| refuse(&[d], job))?;
        output::complain(&format!(
            "{line}: {} cells and rows of \"{table}\" marked",
            copy.marked
        ));
        if !copy.is_own {
            output::complain(&format!(
                "the survey of \"{table}\" is not one XLSX workbook, so the copy is a new one with the cells of the tabs that were read, without their look and without other tabs"
            ));
        }
    }
    let any = copies.iter().any(|(_, c)| c.marked > 0);
    Ok(ExitCode::from(if any { exit::REFUSED } else { exit::DONE }))
}

/// `a.xlsx` and `defect` give `a-defect.xlsx`.
fn beside(file: &str, table: &str) -> String {
    match file.rsplit_once('.') {
        Some((stem, end)) => format!("{stem}-{table}.{end}"),
        None => format!("{file}-{table}"),
    }
}
