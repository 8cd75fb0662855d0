//! `ovolo start`: a new job folder, ready to run.

use super::args::{Common, StartArgs};
use super::written::Target;
use super::{exit, output};
use ovolo::diagnostics::Sources;
use ovolo::session::JobFiles;
use std::path::Path;
use std::process::ExitCode;

/// The files of a first job; the repository keeps them as a job that its tests run.
const FILES: &[(&str, &str)] = &[
    ("rules.ovo", include_str!("../../sheets/start/rules.ovo")),
    ("job.ovo", include_str!("../../sheets/start/job.ovo")),
    ("survey.csv", include_str!("../../sheets/start/survey.csv")),
    ("prices.csv", include_str!("../../sheets/start/prices.csv")),
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
    std::fs::create_dir_all(folder)
        .map_err(|e| fail(format!("{} can't be made: {e}", folder.display())))?;
    for (name, text) in FILES {
        let path = folder.join(name);
        let target = Target::new(&path.display().to_string(), &JobFiles::default());
        target
            .and_then(|t| t.write(text.as_bytes()))
            .map_err(|d| output::refuse(&[d], &Sources::default(), common))?;
    }
    let shown = folder.display();
    output::print(&format!(
        "Made {shown} with a small job, ready to run:\n  rules.ovo   rules, paces and one worked example\n  survey.csv  five openings\n  prices.csv  prices\n  job.ovo     ties them together\n\n\
         Next: ovolo estimate {shown}/job.ovo\n"
    ));
    Ok(ExitCode::from(exit::DONE))
}
