//! A job of a user's own on the shipped sheets, made from the reference alone: own columns, profile, phase, crew and glass, a pace beyond its
//! limits, windows decided by hand, shutters as a sheet of their own. No line of the library is edited.

use super::run::{self, text};
use std::path::Path;

fn ovolo(args: &[&str]) -> (bool, String) {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/own-job");
    let output = run::ovolo(&folder, args);
    (output.status.success(), text(&output))
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

#[test]
fn the_json_of_an_estimate_holds_what_was_answered_decided_and_extended() {
    let (sound, text) = ovolo(&["estimate", "job.ovo", "--json", "--openings"]);
    assert!(sound, "{text}");
    let value: serde_json::Value = serde_json::from_str(&text).expect("JSON");
    let basis = &value["assumptions"];
    let named = |list: &str, name: &str| {
        let items = basis[list].as_array().expect("a list");
        let found = items.iter().find(|one| one["name"] == name);
        found
            .unwrap_or_else(|| panic!("no {name} in {list}"))
            .clone()
    };
    let year = named("facts_asked", "build year");
    assert_eq!(year["answered"], true);
    assert_eq!(
        year["by"],
        serde_json::json!({"who": "the owner", "day": "2026-03-01"})
    );
    let assisted = named("facts_asked", "hud assisted");
    assert_eq!(assisted["answered"], false);
    assert_ne!(assisted["because"], "");
    let putty = named("exceptions", "putty bad");
    assert_eq!(
        (&putty["mark"], &putty["value"]),
        (&"M2".into(), &"100 %".into())
    );
    let limits = named("extensions", "takeout_pace");
    assert_eq!(limits["what"], "limits");
    let sash = &basis["values_of_the_row_above"][0];
    assert_eq!(sash["table"], "sash");
    assert_eq!(sash["rows"], sash["made"]);
}

#[test]
fn the_json_tells_the_values_of_a_sash_from_those_of_its_opening() {
    let (sound, text) = ovolo(&[
        "estimate",
        "../../demo-data/tallowgate-school/job.ovo",
        "--json",
        "--openings",
    ]);
    assert!(sound, "{text}");
    let value: serde_json::Value = serde_json::from_str(&text).expect("JSON");
    let sash = &value["assumptions"]["values_of_the_row_above"][0];
    let rows = sash["own_values"].as_array().expect("a list");
    let own = |mark: &str| {
        let row = rows.iter().find(|r| r["mark"] == mark);
        row.map_or(serde_json::Value::Null, |r| r["columns"].clone())
    };
    assert_eq!(
        own("S17-L"),
        serde_json::json!(["lites_across", "lites_up"])
    );
    assert_eq!(own("N5-L").as_array().map(Vec::len), Some(10));
    assert_eq!(own("N5-U"), serde_json::Value::Null);
}
