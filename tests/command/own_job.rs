//! A job of a user's own on the shipped sheets, made from the reference alone: own columns, profile, phase, crew and glass, a pace beyond its
//! limits, windows decided by hand, shutters as a sheet of their own. No line of the library is edited.

use std::path::Path;
use std::process::Command;

fn ovolo(args: &[&str]) -> (bool, String) {
    let output = Command::new(env!("CARGO_BIN_EXE_ovolo"))
        .args(args)
        .current_dir(Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/own-job"))
        .env("NO_COLOR", "1")
        .output()
        .expect("the command runs");
    let text = [output.stdout, output.stderr].concat();
    let text = String::from_utf8(text).expect("output is UTF-8");
    (output.status.success(), text)
}

/// The line of a report that begins with a word.
fn line<'t>(text: &'t str, start: &str) -> &'t str {
    let found = text.lines().find(|l| l.trim_start().starts_with(start));
    found.unwrap_or_else(|| panic!("no line begins with {start}:\n{text}"))
}

#[test]
fn a_job_of_ones_own_needs_no_line_of_the_library_edited() {
    let (sound, text) = ovolo(&["proof", "job.ovo"]);
    assert!(sound, "{text}");
    let (sound, text) = ovolo(&["trial", "job.ovo"]);
    assert!(sound, "{text}");
    let (sound, text) = ovolo(&["estimate", "job.ovo"]);
    assert!(sound, "{text}");
    for own in ["Bat watch", "wheel", "Laminated glass", "Strap hinge"] {
        assert!(
            text.to_lowercase().contains(&own.to_lowercase()),
            "no {own} in:\n{text}"
        );
    }
}

#[test]
fn what_is_extended_and_decided_stands_in_force_with_its_reason() {
    let (sound, text) = ovolo(&["estimate", "job.ovo", "--in-force", "--json"]);
    assert!(sound, "{text}");
    for reason in [
        "the form of the mill house",
        "the mill has a profile of its own",
        "the mill's own glazier works in the wheel wing (by R. Marsh, 2026-03-02)",
        "the noise of the weir",
        "putty of red lead",
        "another supplier",
        "the wheel shook it to pieces (by R. Marsh, 2026-03-02)",
        "counted again from the photograph",
        "it fell out under the brush",
    ] {
        assert!(text.contains(reason), "{reason}");
    }
    let (sound, text) = ovolo(&["why", "job.ovo", "sash_treatment", "W2-U"]);
    assert!(sound, "{text}");
    assert!(
        line(&text, "| because").contains("the wheel shook it to pieces"),
        "{text}"
    );
}
