//! Heading rows: where they are found, what they may say, and what is refused.

use ovolo::survey::ReadOptions;

use crate::survey::build::{codes, read_csv, read_with, schema, shown};

#[test]
fn headings_are_compared_without_case_blanks_and_line_breaks() {
    let reading =
        read_csv("\"Opening\nNo.\",KIND,\" Width :\",Rail Rot\nW1,pair,30,5\n").expect("clean");
    assert_eq!(shown(&reading.table, &schema(), "rail_rot"), ["5 %"]);
    let tab = &reading.report.tabs[0];
    let found: Vec<_> = tab
        .columns
        .iter()
        .map(|c| format!("{} {}", c.name, c.column.unwrap_or(0)))
        .collect();
    assert_eq!(found, ["mark 1", "kind 2", "wide 3", "rail_rot 4"]);
}

#[test]
fn a_unit_in_the_heading_is_the_unit_of_bare_numbers() {
    for heading in ["Width (mm)", "\"Width, mm\"", "Width [mm]", "wide (mm)"] {
        let reading = read_csv(&format!(
            "mark,kind,{heading}\nW1,pair,762\nW2,pair,30 in\n"
        ))
        .expect("clean");
        assert_eq!(
            shown(&reading.table, &schema(), "wide"),
            ["30 in", "30 in"],
            "{heading}"
        );
        assert_eq!(
            reading.report.tabs[0].columns[2].unit.as_deref(),
            Some("mm")
        );
    }
}

#[test]
fn a_unit_of_another_kind_in_the_heading_is_refused() {
    assert_eq!(
        codes(&read_csv("mark,kind,Width (lb)\nW1,pair,30\n")),
        ["OV-704 survey.csv, line 1, column 3 (Width (lb))"]
    );
    assert_eq!(
        codes(&read_csv("mark,kind,Width (clear)\nW1,pair,30\n")),
        ["OV-704 survey.csv, line 1, column 3 (Width (clear))"]
    );
}

#[test]
fn two_rows_make_one_heading_where_they_name_more_together() {
    let reading = read_csv("mark,kind,Width,across\n,,(mm),\nW1,pair,762,2\n").expect("clean");
    assert_eq!(shown(&reading.table, &schema(), "wide"), ["30 in"]);
    assert_eq!(reading.report.tabs[0].heading_rows, (1, 2));
    let reading = read_csv("mark,Rail,,kind\n,Rot,wide,\nW1,5,30,pair\n").expect("clean");
    assert_eq!(shown(&reading.table, &schema(), "rail_rot"), ["5 %"]);
    assert_eq!(shown(&reading.table, &schema(), "wide"), ["30 in"]);
}

#[test]
fn the_heading_row_may_be_told() {
    let text = "mark,kind,wide\nW1,pair,30\nmark,kind,Width\nW2,hung,40\n";
    let options = ReadOptions {
        heading_row: Some(3),
        ..ReadOptions::default()
    };
    let reading = read_with(text, &options).expect("clean");
    assert_eq!(shown(&reading.table, &schema(), "mark"), ["W2"]);
    let options = ReadOptions {
        heading_row: Some(2),
        ..ReadOptions::default()
    };
    assert_eq!(
        codes(&read_with(text, &options)),
        ["OV-700 survey.csv, line 2"]
    );
}

#[test]
fn no_heading_row_is_told_with_the_likeliest_row() {
    let list = read_csv("a,b,c\n1,2,3\n").expect_err("no heading");
    assert_eq!(list.len(), 1);
    assert_eq!(
        (list[0].code, list[0].found.as_deref()),
        ("OV-700", Some("row 1: a | b | c"))
    );
}

#[test]
fn missing_double_and_nearly_right_headings_are_refused() {
    assert_eq!(
        codes(&read_csv("mark,wide,cracked\nW1,30,1\n")),
        ["OV-701 survey.csv, line 1"]
    );
    assert_eq!(
        codes(&read_csv("mark,kind,wide,Width\nW1,pair,30,31\n")),
        ["OV-702 survey.csv, line 1, column 3 (wide)"]
    );
    assert_eq!(
        codes(&read_csv("mark,kind,wide,Rail rott\nW1,pair,30,5\n")),
        ["OV-703 survey.csv, line 1, column 4 (Rail rott)"]
    );
    assert_eq!(
        codes(&read_csv("mark,kind,wide,Crackd\nW1,pair,30,5\n")),
        ["OV-703 survey.csv, line 1, column 4 (Crackd)"]
    );
    assert_eq!(
        codes(&read_csv("mark,kind,wide,sill\nW1,pair,30,5\n")),
        ["read"]
    );
}

#[test]
fn the_cells_are_parted_by_what_the_heading_row_shows() {
    for (between, text) in [
        (
            "semicolons",
            "Notes, all in inches;;\nmark;kind;wide\nW1;pair;30 1/2\n",
        ),
        ("tabs", "mark\tkind\twide\nW1\tpair\t30 1/2\n"),
        ("commas", "mark,kind,wide\nW1,pair,30 1/2\n"),
    ] {
        let reading = read_csv(text).expect(between);
        assert_eq!(
            shown(&reading.table, &schema(), "wide"),
            ["30 1/2 in"],
            "{between}"
        );
    }
    let options = ReadOptions {
        delimiter: Some(b';'),
        ..ReadOptions::default()
    };
    assert_eq!(
        codes(&read_with("mark,kind,wide\nW1,pair,30\n", &options)),
        ["OV-700 survey.csv, line 1"]
    );
}
