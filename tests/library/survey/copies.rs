//! The marked copy and the report on the terminal.

use ovolo::survey::{RawOptions, ReadOptions, SetAside, raw_rows, report_text};

use ::zip as zip_crate;
use rust_xlsxwriter::{Format, Formula, Note, Workbook};

use crate::survey::build::{codes, file, marked_copy, nouns, read_with, schema};

const TEXT: &str = "Survey,,,\nmark,kind,wide,wing\nW1,pair,30,=1+1\nW2,piar,2'6,East\nW3,pair,40,East\n,pair,30,East\n";

#[test]
fn a_marked_copy_holds_every_cell_and_lists_every_fault() {
    let copy = |name: &str| marked_copy(vec![file(name, TEXT)]).expect("a copy");
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
    let clean = marked_copy(vec![file("s.csv", "mark,kind,wide\nW1,pair,30\n")]);
    assert_eq!(clean.expect("a copy").marked, 0);
    let broken = marked_copy(vec![file("s.csv", "")]);
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
    let copy = marked_copy(vec![file("s.csv", text)]);
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
        let copy = marked_copy(vec![file(name, TEXT)]);
        assert_eq!(copy.map(|c| c.marked).map_err(|d| (name, d)), Ok(3));
    }
}

/// Parts of a zip archive as they lie in it, packed.
fn packed_parts(bytes: &[u8]) -> Vec<(String, Vec<u8>)> {
    let mut archive = zip_crate::ZipArchive::new(std::io::Cursor::new(bytes)).expect("an archive");
    (0..archive.len())
        .map(|at| {
            let mut part = archive.by_index_raw(at).expect("a part");
            let mut packed = Vec::new();
            std::io::Read::read_to_end(&mut part, &mut packed).expect("read");
            (part.name().expect("a name").into_owned(), packed)
        })
        .collect()
}

/// A workbook as a surveyor keeps it: a note above, a merged area, a hidden row, a formula, a comment, another tab.
fn surveyors_workbook() -> Vec<u8> {
    let mut book = Workbook::new();
    let bold = Format::new().set_bold();
    let sheet = book.add_worksheet();
    sheet.set_name("West & East").expect("a name");
    sheet.write_string(0, 0, "Seen in March").expect("written");
    for (column, heading) in (0..).zip(["mark", "kind", "wide", "wing"]) {
        sheet
            .write_string_with_format(1, column, heading, &bold)
            .expect("written");
    }
    let rows = [
        ("W1", "pair", 30.0),
        ("W2", "piar", 31.5),
        ("W4", "pair", 400.0),
    ];
    for (row, (mark, kind, wide)) in [2, 3, 7].into_iter().zip(rows) {
        sheet.write_string(row, 0, mark).expect("written");
        sheet
            .write_string_with_format(row, 1, kind, &bold)
            .expect("written");
        sheet.write_number(row, 2, wide).expect("written");
    }
    // A row without a mark, whose first cell is not there at all.
    sheet.write_string(8, 1, "single").expect("written");
    sheet.write_number(8, 2, 30).expect("written");
    sheet
        .write_formula(2, 5, Formula::new("C3*2").set_result("60"))
        .expect("written");
    sheet
        .merge_range(2, 3, 3, 3, "East", &bold)
        .expect("merged");
    sheet.set_row_hidden(7).expect("hidden");
    sheet
        .insert_note(3, 1, &Note::new("looked twice"))
        .expect("a note");
    let notes = book.add_worksheet();
    notes.set_name("Notes").expect("a name");
    notes.write_string(0, 0, "=1+1").expect("written");
    book.save_to_buffer().expect("saved")
}

#[test]
fn the_marked_copy_of_a_workbook_is_the_workbook_with_marks() {
    let original = surveyors_workbook();
    let read_it = |bytes: Vec<u8>| {
        let copy = |bytes| {
            let files = vec![file("s.xlsx", bytes)];
            marked_copy(files)
        };
        copy(bytes).expect("a copy")
    };
    let marked = read_it(original.clone());
    assert_eq!(marked.lost, None);
    assert_eq!(marked.marked, 3);
    let (before, after) = (packed_parts(&original), packed_parts(&marked.bytes));
    let changed: Vec<&str> = before
        .iter()
        .filter(|part| !after.contains(part))
        .map(|part| part.0.as_str())
        .collect();
    assert_eq!(
        changed,
        [
            "[Content_Types].xml",
            "xl/_rels/workbook.xml.rels",
            "xl/styles.xml",
            "xl/workbook.xml",
            "xl/worksheets/sheet1.xml",
            "xl/drawings/vmlDrawing1.vml",
            "xl/comments1.xml",
        ]
    );
    assert!(
        before
            .iter()
            .any(|p| p.0 == "xl/worksheets/sheet2.xml" && after.contains(p))
    );
    // Reading the copy gives what reading the original gave: the same faults at the same cells, and so the same marks again.
    let codes_of = |bytes: Vec<u8>| {
        let files = vec![file("s.xlsx", bytes)];
        let read = ovolo::survey::read(
            &schema(),
            &nouns(),
            None,
            files,
            &ReadOptions::default(),
            None,
        );
        codes(&read)
    };
    let told = codes_of(original.clone());
    assert_eq!(told, codes_of(marked.bytes.clone()));
    assert_eq!(told.len(), 4, "{told:?}");
    assert_eq!(
        read_it(original).bytes,
        marked.bytes,
        "the same bytes again"
    );
    let again = read_it(marked.bytes.clone());
    assert_eq!(codes_of(again.bytes), told);
    let comments =
        String::from_utf8_lossy(&unpacked(&marked.bytes, "xl/comments1.xml")).into_owned();
    assert!(
        comments.contains("looked twice")
            && comments.contains("no such choice")
            && !comments.contains("OV-"),
        "{comments}"
    );
}

fn unpacked(bytes: &[u8], name: &str) -> Vec<u8> {
    let mut archive = zip_crate::ZipArchive::new(std::io::Cursor::new(bytes)).expect("an archive");
    let mut content = Vec::new();
    let mut part = archive.by_name(name).expect("a part");
    std::io::Read::read_to_end(&mut part, &mut content).expect("read");
    content
}
