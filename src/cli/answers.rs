//! `ovolo answers`: the reviewer is asked about each treatment, and the answers become a sheet of changes.

use super::args::{AnswersArgs, Common};
use super::progress::Progress;
use super::written::{FileKind, Target};
use super::{exit, files, job, output};
use ovolo::diagnostics::Diagnostic;
use ovolo::estimate;
use ovolo::lists::{self, Made};
use ovolo::session::Priced;
use ovolo::survey::{Content, SourceFile};
use ovolo::takeoff::Wish;
use std::path::Path;
use std::process::ExitCode;

/// Largest form read, in bytes.
const MOST_FORM: u64 = 1 << 28;

/// Writes the form, or reads one that was filled in.
pub fn run(args: &AnswersArgs, common: &Common) -> Result<ExitCode, ExitCode> {
    let mut job = job::open(&args.job, common)?;
    let form = args.form.as_deref().map(|file| (file, FileKind::Table));
    let sheet = args.to.as_deref().map(|file| (file, FileKind::Sheet));
    let asked: Vec<(&str, FileKind)> = form.into_iter().chain(sheet).collect();
    let filled = args
        .read
        .as_deref()
        .map(|file| -> Result<SourceFile<'_>, ExitCode> {
            let bytes = files::read_file(Path::new(file), MOST_FORM).map_err(|why| {
                output::complain(&why);
                ExitCode::from(exit::FILE)
            })?;
            Ok(SourceFile {
                name: file.to_owned(),
                content: Content::Bytes(bytes),
            })
        });
    let filled: Option<SourceFile<'_>> = filled.transpose()?;
    let progress = Progress::begin();
    let (survey, book) = job::inputs(&mut job, &args.aside, &progress, Priced::No, common)?;
    let refuse = |list: Vec<Diagnostic>| output::refuse(&list, &job.loaded.sources, common);
    let targets = Target::of_kinds(&asked, &job.files).map_err(refuse)?;
    let options = progress.options(None);
    let wish = Wish {
        quantities: true,
        ..Wish::default()
    };
    let program = &job.checked.program;
    let Some(version) = program.versions.first() else {
        return Ok(ExitCode::from(exit::DONE));
    };
    let wanted = lists::wanted(program, version);
    let origin = job.origin();
    let worked = estimate::estimate(program, 0, &survey, &book, wish, &wanted, &options, origin);
    progress.end();
    let worked = worked.map_err(|why| job::refused(why, &job, common))?;
    let tables: Vec<_> = survey.tables.iter().collect();
    let made = Made::new(program, version, &tables, &worked.results, &worked.estimate);
    let questions = lists::questions(&made);
    let (text, told) = match filled {
        None => (
            lists::form(&worked.estimate.title, &questions),
            format!("{} treatments to answer", questions.len()),
        ),
        Some(file) => {
            let answers = lists::read(&made, &questions, file).map_err(refuse)?;
            let told = format!(
                "{} agreed, {} decided otherwise, {} still open; the job takes them with a line such as: use \"{}\"",
                answers.agreed,
                answers.otherwise,
                answers.open,
                args.to.as_deref().unwrap_or_default()
            );
            (answers.sheet, told)
        }
    };
    output::beside(&job.warnings, &job.loaded.sources, common);
    for target in targets {
        let line = target.write(text.as_bytes()).map_err(|d| refuse(vec![d]))?;
        output::print(&format!("{line}, {told}\n"));
    }
    Ok(ExitCode::from(exit::DONE))
}
