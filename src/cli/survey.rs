//! `ovolo survey`: reads the survey and reports on its cells.

use super::args::{Common, SurveyArgs};
use super::job::Job;
use super::{exit, output};
use ovolo::check::Options;
use ovolo::survey::{ReadOptions, report_text};
use std::process::ExitCode;

/// Reads the survey of a job and reports.
pub fn run(args: &SurveyArgs, common: &Common) -> Result<ExitCode, ExitCode> {
    let mut job = Job::open(&args.job, Options::default(), common)?;
    let read = ReadOptions::default();
    let survey = job.survey(&args.aside, false, &read);
    let sources = &job.loaded.sources;
    match survey {
        Err(problems) => Err(output::refuse(&problems, sources, common)),
        Ok(s) => {
            if common.json {
                let value = serde_json::json!({"schema": "ovolo-survey/1", "tables": s.reports,
                    "messages": ovolo::diagnostics::render::to_json(&job.warnings, sources)});
                output::print(&format!("{value:#}\n"));
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
