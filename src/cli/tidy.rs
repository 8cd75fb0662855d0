//! `ovolo tidy`: sheets in their one form.

use super::args::{Common, TidyArgs};
use super::files::Disk;
use super::written::Target;
use super::{exit, output};
use ovolo::check::Finder;
use ovolo::diagnostics::Sources;
use ovolo::session::JobFiles;
use ovolo::syntax::tidy::tidy;
use std::process::ExitCode;

/// Prints, checks or rewrites sheets.
pub fn run(args: &TidyArgs, common: &Common) -> Result<ExitCode, ExitCode> {
    let mut code = exit::DONE;
    for path in &args.sheets {
        let (name, text) = match Disk::default().find(path, None) {
            Ok(found) => found,
            Err(why) => {
                output::complain(&format!("OV-001  this sheet can't be opened: {why}"));
                code = exit::FILE;
                continue;
            }
        };
        let tidied = match tidy(&text) {
            Ok(t) => t,
            Err(problems) => {
                let mut sources = Sources::default();
                sources.add(&name, &text);
                output::messages(&problems, &sources, common);
                code = code.max(exit::REFUSED);
                continue;
            }
        };
        if args.check {
            if tidied != text {
                output::print(&format!("{name} is not tidy\n"));
                code = code.max(exit::REFUSED);
            }
        } else if args.in_place && path != "-" {
            if tidied != text {
                // The sheet itself is the target: nothing else is read.
                let written = Target::new(path, &JobFiles::default())
                    .and_then(|t| t.write(tidied.as_bytes()));
                if let Err(d) = written {
                    code = exit::FILE;
                    output::messages(&[d], &Sources::default(), common);
                }
            }
        } else {
            output::print(&tidied);
        }
    }
    Ok(ExitCode::from(code))
}
