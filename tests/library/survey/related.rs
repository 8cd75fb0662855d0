//! A table below another: defects of openings.

use ovolo::diagnostics::Diagnostic;
use ovolo::survey::{ReadOptions, Reading, SetAside, read};
use ovolo::table::{ColumnKind, Schema};

use crate::survey::build::{codes, column, file, nouns, number, read_csv, schema, shown, span};

fn defects() -> Schema {
    Schema {
        name: "defect".into(),
        columns: vec![
            column("mark", ColumnKind::Text),
            column("member", ColumnKind::Text),
            column("rot", number("in")),
        ],
        key: None,
        parent: Some(("opening".into(), 0)),
        above: vec![],
        rows: None,
        span: span(),
    }
}

fn read_defects(text: &str, options: &ReadOptions<'_>) -> Result<Reading, Vec<Diagnostic>> {
    let above = read_csv("mark,kind,wide\nW1,pair,30\nW2,pair,30\nW3,pair,30\n").expect("clean");
    read(
        &defects(),
        &nouns(),
        None,
        vec![file("defects.csv", text)],
        options,
        Some((&schema(), &above.table)),
    )
}

#[test]
fn each_row_is_tied_to_the_row_above() {
    let reading = read_defects(
        "mark,member,rot\nW3,sill,2\nW1,rail,3\ndo.,stile,1\n",
        &ReadOptions::default(),
    )
    .expect("clean");
    assert_eq!(reading.table.parent_rows, Some(vec![2, 0, 0]));
    assert_eq!(
        shown(&reading.table, &defects(), "mark"),
        ["W3", "W1", "W1"]
    );
}

#[test]
fn orphans_are_refused_or_set_aside() {
    let text = "mark,member,rot\nW1,sill,2\nW11,rail,3\n,stile,1\n";
    let list = read_defects(text, &ReadOptions::default()).expect_err("an orphan");
    let found: Vec<_> = list.iter().map(|d| d.code).collect();
    assert_eq!(found, ["OV-706", "OV-730"]);
    assert_eq!(list[1].notes, ["Perhaps \"W1\" is meant."]);
    let options = ReadOptions {
        set_aside: SetAside::AllUnreadable,
        ..ReadOptions::default()
    };
    let reading = read_defects(text, &options).expect("the rest is clean");
    assert_eq!(
        (reading.table.parent_rows, reading.report.set_aside.len()),
        (Some(vec![0]), 2)
    );
}

#[test]
fn rows_below_one_set_aside_go_with_it() {
    let options = ReadOptions {
        parents_aside: vec!["W9".into()],
        ..ReadOptions::default()
    };
    let reading = read_defects("mark,member,rot\nW1,sill,2\nW9,rail,3\n", &options).expect("clean");
    assert_eq!(reading.table.parent_rows, Some(vec![0]));
    assert_eq!(reading.report.set_aside[0].causes[0].code, "OV-733");
    assert_eq!(
        codes(&read_defects("mark,member,rot\nW8,rail,3\n", &options)),
        ["OV-730 defects.csv, line 2, column 1 (mark)"]
    );
}
