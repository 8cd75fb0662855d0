//! `ovolo start`: a new job folder.

use super::args::{Common, StartArgs};
use super::folder::{self, put_bytes};
use super::{exit, output};
use ovolo::diagnostics::{Diagnostic, Place, Sources};
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

fn refused(folder: &Path) -> Diagnostic {
    let shown = folder.display().to_string();
    Diagnostic::error("OV-003", format!("{shown} can't be made")).at(Place::File(shown), "")
}

/// Refuses a place where no new job can be.
fn free(folder: &Path) -> Result<(), Diagnostic> {
    let found = match std::fs::metadata(folder) {
        Err(_) => return Ok(()),
        Ok(meta) if !meta.is_dir() => "a file",
        Ok(_) if std::fs::read_dir(folder).is_ok_and(|mut d| d.next().is_some()) => {
            "a folder with files in it"
        }
        Ok(_) => return Ok(()),
    };
    Err(refused(folder)
        .found(found)
        .expected("a folder that is new or empty; a job is never written over another"))
}

/// Makes the folder. Refuses one that holds anything.
pub fn run(args: &StartArgs, common: &Common) -> Result<ExitCode, ExitCode> {
    let folder = Path::new(&args.folder);
    let fail = |d: Diagnostic| output::refuse(&[d], &Sources::default(), common);
    free(folder).map_err(fail)?;
    let files = files(args, folder, common)?;
    folder::write_whole(folder, |temp| {
        files
            .iter()
            .try_for_each(|file| put_bytes(&temp.join(file.name), &file.bytes))
    })
    .map_err(|e| fail(refused(folder).found(e.to_string())))?;
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
        false => {
            let day = match common.issued {
                Some(_) => "",
                None => " In job.ovo take the # off `issued` and write the day of the job.",
            };
            format!(
                "Made {shown}, a job on the shipped sheets:\n{list}\nFill in survey.xlsx.{day} Next: ovolo survey {shown}/job.ovo\n"
            )
        }
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
