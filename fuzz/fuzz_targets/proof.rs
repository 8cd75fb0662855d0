//! Any sheet is checked to its end, and the trials of a sound one run.

#![no_main]

use libfuzzer_sys::fuzz_target;
use ovolo::check::{self, Finder, Options};
use ovolo::diagnostics::any_error;
use ovolo::running::trial::run_all;

/// The sheet itself, the base sheet of the cases, and nothing else.
struct Two<'a>(&'a str);

impl Finder for Two<'_> {
    fn find(&self, path: &str, _from: Option<&str>) -> Result<(String, String), String> {
        match path {
            "sheet.ovo" => Ok((path.into(), self.0.into())),
            "base.ovo" => Ok((
                path.into(),
                include_str!("../../tests/cases/base.ovo").into(),
            )),
            _ => Err(format!("there is no file {path}")),
        }
    }
}

/// As the command does: rules may build on one another as deep as their guard allows.
const STACK: usize = 64 << 20;

fn proof(text: &str) {
    let (loaded, problems) = check::load(&["sheet.ovo".to_string()], &Two(text));
    let (checked, found) = check::check(
        &loaded,
        Options {
            alternates: true,
            trials: true,
        },
    );
    assert!(checked.is_some() || any_error(&found));
    if let Some(checked) = checked.filter(|_| !any_error(&problems)) {
        let _ = run_all(&checked);
    }
}

fuzz_target!(|text: &str| {
    let held = std::thread::scope(|scope| {
        std::thread::Builder::new()
            .stack_size(STACK)
            .spawn_scoped(scope, || proof(text))
            .map(|t| t.join().is_ok())
    });
    assert!(held.is_ok_and(|h| h), "the proof of this sheet panicked");
});
