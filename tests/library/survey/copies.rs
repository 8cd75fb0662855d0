//! The marked copy and the report on the terminal.

use ovolo::survey::{RawOptions, ReadOptions, SetAside, marked_copy, raw_rows, report_text};

use crate::survey::build::{file, nouns, read_with, schema};

const TEXT: &str = "Survey,,,\nmark,kind,wide,wing\nW1,pair,30,=1+1\nW2,piar,2'6,East\nW3,pair,40,East\n,pair,30,East\n";

#[test]
fn a_marked_copy_holds_every_cell_and_lists_every_fault() {
    let copy = |name: &str| {
        marked_copy(
            &schema(),
            &nouns(),
            None,
            vec![file(name, TEXT)],
            &ReadOptions::default(),
            None,
        )
        .expect("a copy")
    };
    let marked = copy("a/survey.csv");
    assert_eq!(marked.marked, 3);
    assert_eq!(
        copy("a/survey.csv").bytes,
        marked.bytes,
        "the same survey gives the same bytes"
    );
    let options = RawOptions {
        tab: Some("survey".into()),
        wanted: vec![vec!["mark".into()]],
        least: 1,
        ..RawOptions::default()
    };
    let table = raw_rows(file("m.xlsx", marked.bytes.clone()), &options).expect("a workbook");
    let cells: Vec<Vec<String>> = table
        .rows
        .iter()
        .map(|r| r.cells.iter().map(|c| c.view().shown()).collect())
        .collect();
    assert_eq!(table.rows[0].row, 3, "rows stay where the messages say");
    assert_eq!(cells[0], ["W1", "pair", "30", "=1+1"]);
    assert_eq!(cells[1], ["W2", "piar", "2'6", "East"]);
    let list = raw_rows(
        file("m.xlsx", marked.bytes),
        &RawOptions {
            tab: Some("What to mend".into()),
            ..RawOptions::default()
        },
    )
    .expect("a list");
    let told: Vec<String> = list
        .rows
        .iter()
        .map(|r| {
            format!(
                "{} {} {}",
                r.cells[0].view().shown(),
                r.cells[1].view().shown(),
                r.cells[6].view().shown()
            )
        })
        .collect();
    assert_eq!(
        told,
        [
            "a/survey.csv, cell B4 W2 OV-724",
            "a/survey.csv, cell C4 W2 OV-713",
            "a/survey.csv, cell A6  OV-706",
        ]
    );
}

#[test]
fn a_clean_survey_has_nothing_marked_and_a_broken_file_no_copy() {
    let clean = marked_copy(
        &schema(),
        &nouns(),
        None,
        vec![file("s.csv", "mark,kind,wide\nW1,pair,30\n")],
        &ReadOptions::default(),
        None,
    );
    assert_eq!(clean.expect("a copy").marked, 0);
    let broken = marked_copy(
        &schema(),
        &nouns(),
        None,
        vec![file("s.csv", "")],
        &ReadOptions::default(),
        None,
    );
    assert_eq!(broken.expect_err("no copy")[0].code, "OV-010");
}

#[test]
fn the_report_fits_the_window_and_says_what_was_done() {
    let options = ReadOptions {
        set_aside: SetAside::AllUnreadable,
        ..ReadOptions::default()
    };
    let report = read_with(format!("{TEXT}Total openings,,4,\n"), &options)
        .expect("the rest is clean")
        .report;
    for width in [60, 80, 120] {
        let text = report_text(&report, width);
        assert!(
            text.lines()
                .all(|l| unicode_width::UnicodeWidthStr::width(l) <= width),
            "{width}\n{text}"
        );
    }
    let text = report_text(&report, 100);
    assert!(
        text.starts_with("2 rows of \"opening\" read; 2 set aside.\n"),
        "{text}"
    );
    for words in [
        "row 1 skipped: above the headings",
        "row 7 skipped: a total",
        "2 of 2: blank, taken as 0 %",
        "OV-724",
    ] {
        assert!(text.contains(words), "{words}\n{text}");
    }
    let json = serde_json::to_value(&report).expect("plain data");
    assert_eq!(json["set_aside"][0]["causes"][0]["code"], "OV-724");
    assert_eq!(json["tabs"][0]["skipped"][0]["reason"], "above_heading");
}

#[test]
fn a_survey_of_more_rows_than_a_workbook_holds_gets_no_marked_copy() {
    let text = format!(
        "mark,kind,wide\nW1,pair,30\n{}W2,piar,30\n",
        "\n".repeat(1 << 20)
    );
    let copy = marked_copy(
        &schema(),
        &nouns(),
        None,
        vec![file("s.csv", text)],
        &ReadOptions::default(),
        None,
    );
    assert_eq!(copy.expect_err("no copy")[0].code, "OV-028");
}

#[test]
fn a_marked_copy_is_made_whatever_the_file_is_called() {
    // The last of 31 letters, the most a tab's name may have, is a sign that no name may end in.
    for name in [
        "survey of the windows at schoo' final.csv",
        "''''.csv",
        "[a]:*?.csv",
        "History.csv",
        "é漢👷👷👷👷👷👷👷👷👷👷👷👷👷👷👷👷👷👷👷👷👷👷👷👷👷👷👷👷👷👷👷👷.csv",
    ] {
        let copy = marked_copy(
            &schema(),
            &nouns(),
            None,
            vec![file(name, TEXT)],
            &ReadOptions::default(),
            None,
        );
        assert_eq!(copy.map(|c| c.marked).map_err(|d| (name, d)), Ok(3));
    }
}
