//! The command as a user runs it, and what it says.

use std::path::Path;
use std::process::{Command, Output};

pub(super) fn ovolo(folder: &Path, args: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_ovolo"))
        .args(args)
        .current_dir(folder)
        .env("NO_COLOR", "1")
        .output()
        .expect("the command runs")
}

pub(super) fn text(output: &Output) -> String {
    String::from_utf8_lossy(&[output.stdout.as_slice(), &output.stderr].concat()).into_owned()
}
