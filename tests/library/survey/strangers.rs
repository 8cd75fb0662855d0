//! Survey files from strangers: made to break a reader, each read or refused in words. The files stand in `tests/survey/hostile`.

use std::path::Path;
use std::sync::atomic::AtomicBool;

use ovolo::diagnostics::Place;
use ovolo::survey::{RawOptions, RawTable, raw_rows};

use crate::survey::build::{codes, file};
use crate::survey::zip;

/// What reading a file without a sheet ends in: rows read, or codes with what was found.
fn outcome(name: &str, tab: Option<&str>) -> String {
    let path = Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("tests/survey/hostile")
        .join(name);
    let bytes = std::fs::read(path).expect("a file of the tests");
    let options = RawOptions {
        tab: tab.map(str::to_string),
        ..RawOptions::default()
    };
    match raw_rows(file(name, bytes), &options) {
        Ok(table) => format!("{} rows", table.rows.len()),
        Err(list) => list
            .iter()
            .map(|d| {
                let found = d.found.as_deref().unwrap_or("");
                match d.labels.first().map(|l| &l.place) {
                    Some(Place::Cell(cell)) => format!("{} {found}, {cell}", d.code),
                    _ => format!("{} {found}", d.code),
                }
            })
            .collect::<Vec<_>>()
            .join("; "),
    }
}

#[test]
fn each_is_read_or_refused_with_what_is_wrong() {
    let expected = [
        (
            "mut_ods_159.ods",
            "OV-012 ill-formed document: expected `</table:table-cell>`",
        ),
        ("mut_xls_123.xls", "3 rows"),
        (
            "mut_xls_16.xls",
            "OV-070 a cell outside the columns of a tab, mut_xls_16.xls, tab \"S\", cell CRXP65281",
        ),
        (
            "mut_xls_416.xls",
            "OV-070 a cell outside the columns of a tab, mut_xls_416.xls, tab \"S\", cell AVLH65536",
        ),
        (
            "ods_bad.ods",
            "OV-015 96048000 cells in 1 tabs; the last tab has 6003 rows of 16000 cells",
        ),
        ("ods_badcell.ods", "OV-012 ill-formed document"),
        (
            "ods_cut.ods",
            "OV-012 a part that ends before its elements do",
        ),
        ("ods_cut_in_cell.ods", "OV-012 syntax error: tag not closed"),
        ("ods_float.ods", "3 rows"),
        ("ods_good.ods", "1 rows"),
        ("ods_noend.ods", "OV-012 ill-formed document"),
        (
            "ods_tabs_many.ods",
            "OV-015 32000036 cells in 2 tabs; the last tab has 2000 rows of 16000 cells",
        ),
        ("ods_tagend.ods", "OV-012 ill-formed document"),
        (
            "ods_two.ods",
            "OV-012 an archive with two tables of contents",
        ),
        (
            "ss_neg.xlsx",
            "OV-070 the shared text number -1, ss_neg.xlsx, tab \"Sheet\", cell B2",
        ),
        (
            "styles_xf_60.xlsx",
            "OV-015 more than 131072 elements called xf",
        ),
        (
            "tabs_in_one_another.xls",
            "OV-012 tabs that lie in one another",
        ),
        (
            "wb_sheets_60.xlsx",
            "OV-015 more than 1024 elements called sheet",
        ),
    ];
    for (name, wanted) in expected {
        let found = outcome(name, None);
        assert!(found.starts_with(wanted), "{name}: {found}");
    }
}

/// An ODS workbook of a sound tab and one that cannot be read, with a cell put in.
fn two_tabs(cell: &str) -> Vec<u8> {
    let content = format!(
        "<office:document-content xmlns:office=\"o\" xmlns:table=\"t\" xmlns:text=\"x\"><office:body><office:spreadsheet>\
<table:table table:name=\"Notes\"><table:table-row><table:table-cell/>{cell}</table:table-row></table:table>\
<table:table table:name=\"West\"><table:table-row><table:table-cell office:value-type=\"string\"><text:p>mark</text:p></table:table-cell>\
</table:table-row><table:table-row><table:table-cell office:value-type=\"float\" office:value=\"1\"/></table:table-row></table:table>\
</office:spreadsheet></office:body></office:document-content>"
    );
    zip::archive(&[
        (
            "mimetype",
            b"application/vnd.oasis.opendocument.spreadsheet",
        ),
        ("META-INF/manifest.xml", b"<manifest/>"),
        ("content.xml", content.as_bytes()),
    ])
}

#[test]
fn a_tab_that_cannot_be_read_is_told_by_its_cell_and_only_where_it_is_asked_for() {
    let go = |cell: &str, tab: &str| {
        let options = RawOptions {
            tab: Some(tab.to_string()),
            ..RawOptions::default()
        };
        match raw_rows(file("w.ods", two_tabs(cell)), &options) {
            Ok(table) => vec![format!("{} rows", table.rows.len())],
            Err(list) => codes::<RawTable>(&Err(list)),
        }
    };
    for wrong in [
        "<table:table-cell office:value-type=\"float\" office:value=\"x1\"/>",
        "<table:table-cell table:number-columns-repeated=\"-2\"/>",
        "<table:shapes/>",
    ] {
        assert_eq!(
            go(wrong, "Notes"),
            ["OV-070 w.ods, tab \"Notes\", cell B1"],
            "{wrong}"
        );
        assert_eq!(go(wrong, "West"), ["1 rows"], "{wrong}");
    }
}

#[test]
fn runs_of_blanks_and_copies_of_long_texts_are_counted() {
    let blanks = "<table:table-cell office:value-type=\"string\"><text:p>a<text:s text:c=\"4000000000\"/></text:p></table:table-cell>";
    let long = format!(
        "<table:table-cell table:number-columns-repeated=\"16000\" office:value-type=\"string\"><text:p>{}</text:p></table:table-cell>",
        "long ".repeat(4000)
    );
    for cell in [blanks, &long] {
        let found = raw_rows(file("w.ods", two_tabs(cell)), &RawOptions::default());
        assert_eq!(codes(&found), ["OV-015 w.ods"]);
    }
}

#[test]
fn a_stop_ends_the_reading_of_a_workbook() {
    static STOP: AtomicBool = AtomicBool::new(true);
    let options = RawOptions {
        stop: Some(&STOP),
        ..RawOptions::default()
    };
    let found = raw_rows(file("w.ods", two_tabs("")), &options);
    let list = found.expect_err("stopped");
    assert_eq!(list[0].code, "OV-021");
}
