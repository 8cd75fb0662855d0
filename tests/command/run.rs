//! The command as a user runs it, and what it says.

use std::ffi::OsStr;
use std::path::Path;
use std::process::{Command, Output};

pub(super) fn ovolo(folder: &Path, args: impl IntoIterator<Item: AsRef<OsStr>>) -> Output {
    Command::new(env!("CARGO_BIN_EXE_ovolo"))
        .args(args)
        .current_dir(folder)
        .env("NO_COLOR", "1")
        .output()
        .expect("the command runs")
}

/// What it prints and what it tells, one after the other.
pub(super) fn text(output: &Output) -> String {
    let both = [output.stdout.as_slice(), &output.stderr].concat();
    String::from_utf8(both).expect("output is UTF-8")
}

/// What it prints where it must be done.
pub(super) fn printed(output: &Output) -> String {
    let told = String::from_utf8_lossy(&output.stderr);
    assert!(output.status.success(), "{told}");
    String::from_utf8(output.stdout.clone()).expect("output is UTF-8")
}
