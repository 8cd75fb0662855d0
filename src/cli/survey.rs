//! `ovolo survey`: reads the survey and reports on its cells.

use super::args::{Common, SurveyArgs};
use super::job;
use super::written::{FileKind, Target};
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

/// Writes the marked copy of each file of the survey: the first under the name given, others beside it with their own names.
fn marked(
    job: &mut Job,
    file: &str,
    read: &ReadOptions<'_>,
    common: &Common,
) -> Result<ExitCode, ExitCode> {
    let originals = job.survey_files();
    let mut names: Vec<String> = Vec::new();
    for (i, original) in originals.iter().enumerate() {
        let name = match i {
            0 => file.to_string(),
            _ => beside(file, original),
        };
        names.push(match names.contains(&name) {
            true => beside(&name, &(i + 1).to_string()),
            false => name,
        });
    }
    let asked: Vec<&str> = names.iter().map(String::as_str).collect();
    let refuse = |list: &[Diagnostic], job: &Job| output::refuse(list, &job.loaded.sources, common);
    let targets = Target::all(&asked, &job.files).map_err(|list| refuse(&list, job))?;
    let copies = job.marked(read).map_err(|list| refuse(&list, job))?;
    let misnamed: Vec<Diagnostic> = copies
        .iter()
        .zip(&names)
        .filter_map(|(copy, name)| match copy.has_macros {
            true => FileKind::MacroCopy.unlike(name),
            false => FileKind::Copy.unlike(name),
        })
        .collect();
    if !misnamed.is_empty() {
        return Err(refuse(&misnamed, job));
    }
    for (copy, target) in copies.iter().zip(&targets) {
        let line = target.write(&copy.bytes).map_err(|d| refuse(&[d], job))?;
        let marks = match copy.marked {
            0 => "nothing marked".to_string(),
            1 => "1 cell marked".to_string(),
            many => format!("{many} cells marked"),
        };
        output::complain(&format!("{line}, a copy of {}: {marks}", copy.file));
        if let Some(lost) = &copy.lost {
            output::complain(lost);
        }
    }
    let any = copies.iter().any(|c| c.is_refused);
    Ok(ExitCode::from(if any { exit::REFUSED } else { exit::DONE }))
}

/// `a.xlsx` and `data/north.ods` give `a-north.xlsx`.
fn beside(file: &str, other: &str) -> String {
    let name = other.rsplit(['/', '\\']).next().unwrap_or(other);
    let (stem, own) = name.rsplit_once('.').unwrap_or((name, ""));
    match file.rsplit_once('.') {
        Some((start, _)) if own.eq_ignore_ascii_case("xlsm") => format!("{start}-{stem}.{own}"),
        Some((start, end)) => format!("{start}-{stem}.{end}"),
        None => format!("{file}-{stem}"),
    }
}
