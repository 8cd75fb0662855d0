//! Completions and the manual page, made from the arguments themselves.

use super::args::{self, ShellArgs};
use super::{exit, output};
use clap::ValueEnum;
use std::process::ExitCode;

/// Prints what a shell or `man` needs.
pub fn run(args: &ShellArgs) -> Result<ExitCode, ExitCode> {
    let mut command = args::command();
    let mut bytes = Vec::new();
    if args.what == "man" {
        // The exit codes have a section of their own there.
        command = command.after_help("");
        if clap_mangen::Man::new(command).render(&mut bytes).is_err() {
            return Err(ExitCode::from(exit::FAULT));
        }
        bytes.extend(b".SH \"EXIT STATUS\"\n");
        for (code, words) in exit::TABLE {
            bytes.extend(format!(".TP\n\\fB{code}\\fR\n{words}\n").bytes());
        }
    } else {
        let Ok(shell) = clap_complete::Shell::from_str(&args.what, true) else {
            output::complain(&format!(
                "There are no completions for {}. Known: bash, zsh, fish, elvish, powershell, man.",
                args.what
            ));
            return Err(ExitCode::from(exit::USAGE));
        };
        clap_complete::generate(shell, &mut command, "ovolo", &mut bytes);
    }
    output::print(&String::from_utf8_lossy(&bytes));
    Ok(ExitCode::from(exit::DONE))
}
