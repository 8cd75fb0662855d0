//! Rows: what is skipped, what is repeated, what is refused, and how each is reported.

use ovolo::survey::{ReadOptions, Reading, SetAside};

use crate::survey::build::{codes, lines, read_csv, read_with, schema, shown, where_is};

const HEAD: &str = "mark,wing,kind,wide,across,rail rot,cracked,leaded,seen,price\n";

fn skipped(reading: &Reading) -> Vec<String> {
    reading.report.tabs[0]
        .skipped
        .iter()
        .map(|s| format!("{}-{} {}", s.first, s.last, s.reason.words()))
        .collect()
}

#[test]
fn notes_totals_and_repeated_headings_are_skipped_and_reported() {
    let text = format!(
        "Survey of the sash,,,,,,,,,\nby three hands,,,,,,,,,\n\n{HEAD}\
W1,East,pair,30,,,,,,\n\
,,,,,,,,,\n\
,,,,,,,,,\n\
{HEAD}\
W2,East,hung,40,,,,,,\n\
Subtotal East,,,70,,,,,,\n\
W3,West,hung,50,,,,,,\n\
Total openings,,3,,,,,,,\n\
Note: widths between stops,,,,,,,,,\n\
Widths were taken at the sill,,,,,,,,,\n"
    );
    let reading = read_csv(&text).expect("clean");
    assert_eq!(shown(&reading.table, &schema(), "mark"), ["W1", "W2", "W3"]);
    assert_eq!(
        skipped(&reading),
        [
            "1-2 above the headings",
            "6-7 blank",
            "8-8 the headings repeated",
            "10-10 a total",
            "12-12 a total",
            "13-14 a note, nothing that the sheet reads"
        ]
    );
    assert_eq!(reading.report.tabs[0].heading_rows, (4, 4));
    assert_eq!(
        reading.table.cell(2, 3).expect("a cell").to_string(),
        "survey.csv, line 11, column 4 (wide)"
    );
}

#[test]
fn a_note_beside_the_columns_read_is_skipped() {
    let reading =
        read_csv("remark,mark,kind,wide\n,W1,pair,30\nchecked by two,,,\n").expect("clean");
    assert_eq!(
        skipped(&reading),
        ["3-3 a note, nothing that the sheet reads"]
    );
    assert_eq!(reading.report.tabs[0].unasked, ["remark"]);
}

#[test]
fn a_row_without_a_mark_is_refused_and_so_is_a_mark_alone() {
    let result = read_csv(&format!(
        "{HEAD}W1,East,pair,30,,,,,,\n,East,pair,31,,,,,,\nW3,,,,,,,,,\n"
    ));
    assert_eq!(
        codes(&result),
        [
            "OV-706 survey.csv, line 3, column 1 (mark)",
            "OV-708 survey.csv, line 4"
        ]
    );
}

#[test]
fn a_total_word_in_a_full_row_is_a_mark() {
    let reading = read_csv(&format!(
        "{HEAD}W1,East,pair,30,,,,,,\nTotal,East,pair,31,,,,,,\n"
    ))
    .expect("clean");
    assert_eq!(shown(&reading.table, &schema(), "mark"), ["W1", "Total"]);
}

#[test]
fn a_row_with_a_measure_and_no_mark_is_no_total() {
    let result = read_csv(&format!(
        "{HEAD}W1,Total Care,pair,30,,,,,,\n,Total Care,pair,31,,,,,,\n,Total,,,,,,,,\nTotal,,,61,,,,,,\n"
    ));
    assert_eq!(
        codes(&result),
        ["OV-706 survey.csv, line 3, column 1 (mark)"]
    );
}

#[test]
fn ditto_marks_repeat_the_cell_above() {
    let text = format!(
        "{HEAD}W1,East,pair,30,2,35,1,no,1970-01-02,5\n\
W2,\"\"\"\",ditto,″,do.,same,〃,Ditto,\" \"\" \",same\n\
W3,West,hung,40,,,,,,\n\
W4,〃,same,〃,〃,〃,〃,〃,〃,〃\n"
    );
    let reading = read_csv(&text).expect("clean");
    assert_eq!(
        lines(&reading.table, &schema()),
        [
            "W1 | East | pair | 30 in | 2 | 35 % | 1 lite | no | 1 | 5.00 USD",
            "W2 | East | pair | 30 in | 2 | 35 % | 1 lite | no | 1 | 5.00 USD",
            "W3 | West | hung | 40 in | - | 0 % | 0 lites | yes | - | -",
            "W4 | West | hung | 40 in | - | 0 % | 0 lites | yes | - | -",
        ]
    );
    let wing = &reading.report.columns[1];
    assert_eq!(
        wing.normalised.get("ditto marks, read as the cell above"),
        Some(&2)
    );
}

#[test]
fn a_ditto_in_the_first_row_or_below_a_fault_is_refused() {
    let result = read_csv(&format!(
        "{HEAD}W1,ditto,pair,30,,,,,,\nW2,East,pair,wide,,,,,,\nW3,East,pair,〃,,,,,,\n"
    ));
    assert_eq!(
        codes(&result),
        [
            "OV-712 survey.csv, line 3, column 4 (wide)",
            "OV-709 survey.csv, line 2, column 2 (wing)",
            "OV-729 survey.csv, line 4, column 4 (wide)",
        ]
    );
}

#[test]
fn a_ditto_reaches_over_the_end_of_a_block() {
    let mut text = HEAD.to_string();
    for i in 0..60_000 {
        let wing = if i % 30_000 == 0 {
            if i == 0 { "East" } else { "West" }
        } else {
            "do."
        };
        text.push_str(&format!("W{i},{wing},pair,30,,,,,,\n"));
    }
    let reading = read_csv(&text).expect("clean");
    let wings = shown(&reading.table, &schema(), "wing");
    assert!(
        wings[..30_000].iter().all(|w| w == "East") && wings[30_000..].iter().all(|w| w == "West")
    );
}

#[test]
fn one_mark_for_two_rows_is_refused_with_both_places() {
    let result = read_csv(&format!(
        "{HEAD}W1,East,pair,30,,,,,,\nW1,East,pair,31,,,,,,\n"
    ));
    let list = result.expect_err("a repeated mark");
    assert_eq!(
        (list[0].code, where_is(&list[0])),
        ("OV-707", "survey.csv, line 3, column 1 (mark)".into())
    );
    assert_eq!(list[0].labels.len(), 2);
}

#[test]
fn ragged_rows_are_refused_with_both_counts() {
    let result = read_csv(&format!(
        "{HEAD}W1,East,pair,30\nW2,East,pair,30,,,,,,,,,\nW3,East,pair,30,,,,,,,,x\n"
    ));
    assert_eq!(
        codes(&result),
        ["OV-024 survey.csv, line 2", "OV-024 survey.csv, line 4"]
    );
    let list = result.expect_err("ragged");
    assert_eq!(list[0].found.as_deref(), Some("4 cells"));
    assert_eq!(
        list[0].expected.as_deref(),
        Some("10 cells, as in the heading row")
    );
}

#[test]
fn every_problem_comes_out_at_once_and_one_cause_once() {
    let mut text = HEAD.to_string();
    for i in 0..800 {
        text.push_str(&format!(
            "W{i},East,,{},,,,,,\n",
            if i == 400 { "2'6" } else { "30" }
        ));
    }
    let list = read_csv(&text).expect_err("blank kinds");
    assert_eq!(list.len(), 2);
    assert_eq!(
        (list[0].code, list[0].rows, list[0].marks.join(" ")),
        ("OV-710", 800, "W0 W1 W2".into())
    );
    assert_eq!((list[1].code, list[1].rows), ("OV-713", 1));
}

#[test]
fn rows_are_set_aside_by_mark_or_all_that_cannot_be_read() {
    let text = format!(
        "{HEAD}W1,East,pair,30,,,,,,\nW2,West,pair,wide,,,,,,\nW3,do.,pair,31,,,,,,\n,East,pair,31,,,,,,\n"
    );
    let all = ReadOptions {
        set_aside: SetAside::AllUnreadable,
        ..ReadOptions::default()
    };
    let reading = read_with(text.clone(), &all).expect("the rest is clean");
    assert_eq!(shown(&reading.table, &schema(), "mark"), ["W1", "W3"]);
    assert_eq!(shown(&reading.table, &schema(), "wing"), ["East", "West"]);
    let aside: Vec<_> = reading
        .report
        .set_aside
        .iter()
        .map(|r| format!("{} {}", r.mark, r.causes[0].code))
        .collect();
    assert_eq!(aside, ["W2 OV-712", " OV-706"]);
    assert_eq!((reading.table.rows, reading.report.rows), (2, 2));

    let one = ReadOptions {
        set_aside: SetAside::Marks(vec!["W2".into()]),
        ..ReadOptions::default()
    };
    assert_eq!(
        codes(&read_with(text.clone(), &one)),
        ["OV-706 survey.csv, line 5, column 1 (mark)"]
    );
    let wrong = ReadOptions {
        set_aside: SetAside::Marks(vec!["W22".into()]),
        ..ReadOptions::default()
    };
    let told = read_with(text, &wrong);
    let told = told.map_or_else(|list| list, |reading| reading.report.warnings);
    assert!(
        told.iter()
            .any(|d| d.code == "OV-732" && !d.is_error() && d.found.is_some())
    );
}

#[test]
fn what_was_normalised_or_assumed_is_counted_per_column() {
    let text = format!(
        "{HEAD}W1,East,pair,775 mm,,,,,,\nW2,East,pair,775 mm,,5,,no,,\nW3,East,pair,30½,,,,,,\n"
    );
    let report = read_csv(&text).expect("clean").report;
    let wide = &report.columns[3];
    assert_eq!(
        wide.normalised
            .iter()
            .map(|(k, v)| format!("{v} {k}"))
            .collect::<Vec<_>>(),
        ["1 fractions typed as one character", "2 written in mm"]
    );
    let leaded = &report.columns[7];
    assert_eq!(
        (leaded.assumed_blank, leaded.assumed_for_blank.as_deref()),
        (2, Some("yes"))
    );
    let rot = &report.columns[5];
    assert_eq!(
        (rot.assumed_blank, rot.assumed_for_blank.as_deref()),
        (2, Some("0 %"))
    );
}

#[test]
fn cells_are_kept_as_written_when_asked() {
    let options = ReadOptions {
        keep_text: true,
        ..ReadOptions::default()
    };
    let reading = read_with(
        format!("{HEAD}W1,East,pair,2'-6 1/2\",,,,,,\nW2,do.,P,30½,,,,,,\n"),
        &options,
    )
    .expect("clean");
    let texts = reading.texts.expect("kept");
    assert_eq!(
        (
            texts.get(0, 0),
            texts.get(1, 1),
            texts.get(1, 2),
            texts.get(1, 3)
        ),
        (Some("W1"), Some("do."), Some("P"), Some("30½"))
    );
    assert_eq!(texts.get(2, 0), None);
}
