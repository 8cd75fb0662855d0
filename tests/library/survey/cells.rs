//! One dirty cell at a time: what it is read as, or the code and the words of its refusal.

use ovolo::survey::ReadOptions;

use crate::survey::build::{read_with, schema, shown};

/// Reads one cell of one column in an otherwise clean row; the value as text, or code, found and the last note.
fn cell(name: &str, text: &str, options: &ReadOptions<'_>) -> String {
    let order = [
        "mark", "kind", "wide", "across", "rail_rot", "cracked", "leaded", "seen", "price", "wing",
    ];
    let clean = ["W1", "pair", "30", "", "", "", "", "", "", ""];
    let quoted = format!("\"{}\"", text.replace('"', "\"\""));
    let row: Vec<&str> = order
        .iter()
        .zip(clean)
        .map(|(n, c)| if *n == name { quoted.as_str() } else { c })
        .collect();
    match read_with(format!("{}\n{}\n", order.join(","), row.join(",")), options) {
        Ok(reading) => shown(&reading.table, &schema(), name)[0].clone(),
        Err(list) => {
            let d = &list[0];
            let choice = d
                .notes
                .iter()
                .find(|n| n.starts_with("Write what") || n.starts_with("Perhaps"));
            [Some(d.code), choice.map(String::as_str)]
                .into_iter()
                .flatten()
                .collect::<Vec<_>>()
                .join(" ")
        }
    }
}

fn check(rows: &[(&str, &str, &str)]) {
    let wrong: Vec<String> = rows
        .iter()
        .map(|(name, text, expected)| {
            (
                name,
                text,
                expected,
                cell(name, text, &ReadOptions::default()),
            )
        })
        .filter(|(_, _, expected, found)| *expected != found)
        .map(|(name, text, expected, found)| format!("{name}, {text}: {found}\n    not {expected}"))
        .collect();
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn lengths() {
    check(&[
        ("wide", "30", "30 in"),
        ("wide", " 30 1/2 ", "30 1/2 in"),
        ("wide", "30-1/2", "30 1/2 in"),
        ("wide", "30.5", "30 1/2 in"),
        ("wide", "30½", "30 1/2 in"),
        ("wide", "2'-6 1/2\"", "30 1/2 in"),
        ("wide", "2′ 6 1⁄2″", "30 1/2 in"),
        ("wide", "2 ft 6 1/2 in", "30 1/2 in"),
        ("wide", "775 mm", "≈30.5118 in"),
        ("wide", "３０", "30 in"),
        ("wide", "30\u{a0}1/2", "30 1/2 in"),
        (
            "wide",
            "2'6",
            "OV-713 Write what is meant: 2 ft 6 in, or 2 ft.",
        ),
        ("wide", "30 x 40", "OV-714 Write what is meant: 30, or 40."),
        ("wide", "30 or 32", "OV-714 Write what is meant: 30, or 32."),
        ("wide", "30,5", "OV-715 Write what is meant: 30.5."),
        ("wide", "5 lb", "OV-716"),
        ("wide", "30 cubits", "OV-716"),
        ("wide", "~30", "OV-713 Write what is meant: 30."),
        ("wide", "wide", "OV-712"),
        ("wide", "6", "OV-717"),
        ("wide", "97", "OV-717"),
        ("wide", "12", "12 in"),
        ("wide", "96", "96 in"),
        ("wide", "", "OV-710"),
        ("wide", "n/a", "OV-711"),
        ("wide", "\"", "OV-709"),
        ("wide", "#N/A", "OV-721"),
        ("wide", "#REF!", "OV-721"),
    ]);
}

#[test]
fn counts_percents_and_money() {
    check(&[
        ("across", "3", "3"),
        ("across", "3.0", "3"),
        ("across", "2.5", "OV-718"),
        ("across", "", "-"),
        ("cracked", "2", "2 lites"),
        ("cracked", "2 lites", "2 lites"),
        ("cracked", "1/2", "OV-718"),
        ("cracked", "", "0 lites"),
        ("rail_rot", "35", "35 %"),
        ("rail_rot", "35 %", "35 %"),
        ("rail_rot", "35%", "35 %"),
        ("rail_rot", "0", "0 %"),
        ("rail_rot", "0.35 %", "0.35 %"),
        (
            "rail_rot",
            "0.35",
            "OV-719 Write what is meant: 0.35 %, or 35 %.",
        ),
        ("rail_rot", "1", "1 %"),
        ("rail_rot", "", "0 %"),
        ("price", "1234.50", "1,234.50 USD"),
        ("price", "$1,234.50", "1,234.50 USD"),
        ("price", "1234.50 EUR", "OV-716"),
    ]);
}

#[test]
fn words_choices_and_days() {
    check(&[
        ("kind", "pair", "pair"),
        ("kind", "PAIR", "pair"),
        ("kind", " Double ", "pair"),
        ("kind", "dh", "hung"),
        ("kind", "piar", "OV-724 Perhaps \"pair\" is meant."),
        ("kind", "", "OV-710"),
        ("leaded", "Yes", "yes"),
        ("leaded", "x", "yes"),
        ("leaded", "N", "no"),
        ("leaded", "0", "no"),
        ("leaded", "", "yes"),
        ("leaded", "N/A", "n/a"),
        ("leaded", "maybe", "OV-723"),
        ("seen", "1970-01-02", "1"),
        ("seen", "2 January 1970", "1"),
        (
            "seen",
            "1/2/1970",
            "OV-725 Write what is meant: 1970-01-02, or 1970-02-01.",
        ),
        ("seen", "soon", "OV-725"),
        ("mark", "", "OV-706"),
        ("mark", "ditto", "OV-709"),
        ("mark", "W\n1", "W 1"),
        ("wing", "n/a", "n/a"),
        ("wing", "=HYPERLINK(\"x\")", "=HYPERLINK(\"x\")"),
        ("wing", "#N/A", "OV-721"),
    ]);
}

#[test]
fn decimal_commas_are_read_when_declared() {
    let options = ReadOptions {
        decimal_comma: true,
        ..ReadOptions::default()
    };
    assert_eq!(cell("wide", "30,5", &options), "30 1/2 in");
}

#[test]
fn a_million_characters_in_a_cell_are_refused_in_a_few_words() {
    let text = "x".repeat(1_000_000);
    check(&[("wing", &text, "OV-728"), ("wide", &text, "OV-728")]);
}
