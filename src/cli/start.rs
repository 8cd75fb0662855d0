//! `ovolo start`: a new job folder.

use super::args::{Common, StartArgs};
use super::written::Target;
use super::{exit, output};
use ovolo::diagnostics::Sources;
use ovolo::session::JobFiles;
use ovolo::start::{self, StartFile};
use std::path::Path;
use std::process::ExitCode;

/// The files of the small example; the repository keeps them as a job that its tests run.
const SMALL: &[(&str, &str, &str)] = &[
    (
        "rules.ovo",
        "rules, paces and one worked example",
        include_str!("../../sheets/start/rules.ovo"),
    ),
    (
        "survey.csv",
        "five openings",
        include_str!("../../sheets/start/survey.csv"),
    ),
    (
        "prices.csv",
        "prices",
        include_str!("../../sheets/start/prices.csv"),
    ),
    (
        "job.ovo",
        "ties them together",
        include_str!("../../sheets/start/job.ovo"),
    ),
];

/// Makes the folder. Refuses one that holds anything.
pub fn run(args: &StartArgs, common: &Common) -> Result<ExitCode, ExitCode> {
    let folder = Path::new(&args.folder);
    let fail = |why: String| {
        output::complain(&why);
        ExitCode::from(exit::FILE)
    };
    if folder.is_file() {
        return Err(fail(format!(
            "{} is a file; name a folder that does not exist yet",
            folder.display()
        )));
    }
    if std::fs::read_dir(folder).is_ok_and(|mut d| d.next().is_some()) {
        return Err(fail(format!(
            "{} is not empty; name a new folder",
            folder.display()
        )));
    }
    let files = files(args, folder, common)?;
    std::fs::create_dir_all(folder)
        .map_err(|e| fail(format!("{} can't be made: {e}", folder.display())))?;
    for file in &files {
        let path = folder.join(file.name);
        let target = Target::new(&path.display().to_string(), &JobFiles::default());
        target
            .and_then(|t| t.write(&file.bytes))
            .map_err(|d| output::refuse(&[d], &Sources::default(), common))?;
    }
    let shown = folder.display();
    let wide = files.iter().map(|f| f.name.len()).max().unwrap_or(0);
    let list: String = files
        .iter()
        .map(|f| format!("  {:wide$}  {}\n", f.name, f.about))
        .collect();
    output::print(&match args.small {
        true => format!(
            "Made {shown} with a small job, ready to run:\n{list}\nNext: ovolo estimate {shown}/job.ovo\n"
        ),
        false => format!(
            "Made {shown}, a job on the shipped sheets:\n{list}\nFill in survey.xlsx. Next: ovolo survey {shown}/job.ovo\n"
        ),
    });
    Ok(ExitCode::from(exit::DONE))
}

fn files(args: &StartArgs, folder: &Path, common: &Common) -> Result<Vec<StartFile>, ExitCode> {
    if args.small {
        let file = |(name, about, text): &(&'static str, &'static str, &'static str)| StartFile {
            name,
            about,
            bytes: text.as_bytes().to_vec(),
        };
        return Ok(SMALL.iter().map(file).collect());
    }
    let title = folder.file_name().map(|n| n.to_string_lossy().into_owned());
    let title = title.unwrap_or_else(|| "New job".to_owned());
    start::files(&title, common.issued.as_deref())
        .map_err(|(problems, sources)| output::refuse(&problems, &sources, common))
}
