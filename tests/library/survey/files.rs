//! Whole files: encodings, empty and foreign files, several files in one survey, stopping.

use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};

use ovolo::survey::{Content, RawOptions, ReadOptions, SourceFile, raw_rows, read};

use crate::survey::build::{codes, file, marked_copy, nouns, read_csv, read_with, schema, shown};

const TEXT: &str = "mark,kind,wide,wing\nW1,pair,30½,Größe\n";

#[test]
fn every_encoding_gives_the_same_table() {
    let utf16 = |le: bool| -> Vec<u8> {
        let units = std::iter::once(0xfeff).chain(TEXT.encode_utf16());
        units
            .flat_map(|u: u16| if le { u.to_le_bytes() } else { u.to_be_bytes() })
            .collect()
    };
    let windows: Vec<u8> = TEXT
        .chars()
        .map(|c| u8::try_from(u32::from(c)).expect("Latin"))
        .collect();
    for bytes in [
        TEXT.into(),
        format!("\u{feff}{TEXT}").into_bytes(),
        utf16(true),
        utf16(false),
        windows,
    ] {
        let reading = read_with(bytes, &ReadOptions::default()).expect("clean");
        assert_eq!(shown(&reading.table, &schema(), "wing"), ["Größe"]);
        assert_eq!(shown(&reading.table, &schema(), "wide"), ["30 1/2 in"]);
    }
}

#[test]
fn files_that_are_no_tables_are_refused_in_words() {
    let cases: [(&[u8], &str); 9] = [
        (b"", "OV-010 survey.csv"),
        (b" \n\n", "OV-010 survey.csv"),
        (b"mark,kind\n\0\0", "OV-011 survey.csv, line 2"),
        (b"PK\x03\x04 and nothing", "OV-012 survey.csv"),
        (b"\xd0\xcf\x11\xe0 and nothing", "OV-012 survey.csv"),
        (b"<html><table>", "OV-017 survey.csv"),
        (b"%PDF-1.7", "OV-017 survey.csv"),
        (
            b"mark,kind,wide\nW1,pair,\"30\n",
            "OV-022 survey.csv, line 2",
        ),
        (
            b"mark,kind,wide\nW1,\"pair\"x,30\n",
            "OV-023 survey.csv, line 2",
        ),
    ];
    for (bytes, expected) in cases {
        let found = codes(&read_with(bytes, &ReadOptions::default()));
        assert_eq!(
            found.first().map(String::as_str),
            Some(expected),
            "{:?}",
            String::from_utf8_lossy(bytes)
        );
    }
    assert_eq!(
        codes(&read_csv("mark,kind,wide\n")),
        ["OV-705 survey.csv, line 1"]
    );
}

#[test]
fn several_files_make_one_survey_and_may_name_the_wing() {
    let mut schema = schema();
    schema.columns[1].headings = vec!["file name".into()];
    let files = vec![
        file("east.csv", "mark,kind,wide\nW1,pair,30\n"),
        file("west.csv", "wide;kind;mark\n40;hung;W2\n"),
    ];
    let reading = read(
        &schema,
        &nouns(),
        None,
        files,
        &ReadOptions::default(),
        None,
    )
    .expect("clean");
    assert_eq!(
        shown(&reading.table, &schema, "wing"),
        ["east.csv", "west.csv"]
    );
    assert_eq!(
        reading.table.cell(1, 3).expect("a cell").to_string(),
        "west.csv, line 2, column 1 (wide)"
    );
    let files = vec![
        file("a.csv", "mark,kind,wide\nW1,pair,30\n"),
        file("b.csv", "mark,kind,wide\nW1,pair,ditto\n"),
    ];
    let result = read(
        &schema,
        &nouns(),
        None,
        files,
        &ReadOptions::default(),
        None,
    );
    assert_eq!(
        codes(&result),
        [
            "OV-709 b.csv, line 2, column 3 (wide)",
            "OV-707 b.csv, line 2, column 1 (mark)"
        ]
    );
}

#[test]
fn a_stream_is_read_in_blocks_with_progress_and_can_be_stopped() {
    let mut text = String::from("mark,kind,wide,wing\n");
    for i in 0..300_000 {
        text.push_str(&format!("W{i},pair,30.25,East wing\n"));
    }
    let seen = AtomicU64::new(0);
    let note = |done: u64, _: Option<u64>| seen.store(done, Ordering::Relaxed);
    let options = ReadOptions {
        progress: Some(&note),
        ..ReadOptions::default()
    };
    let stream = || SourceFile {
        name: "big.csv".into(),
        content: Content::Stream(Box::new(text.as_bytes())),
    };
    let reading = read(&schema(), &nouns(), None, vec![stream()], &options, None).expect("clean");
    assert_eq!(
        (reading.table.rows, seen.load(Ordering::Relaxed)),
        (300_000, text.len() as u64)
    );
    assert_eq!(reading.table.places[299_999].row, 300_001);
    let stop = AtomicBool::new(true);
    let options = ReadOptions {
        stop: Some(&stop),
        ..ReadOptions::default()
    };
    assert_eq!(
        codes(&read(
            &schema(),
            &nouns(),
            None,
            vec![stream()],
            &options,
            None
        )),
        ["OV-021 "]
    );
}

#[test]
fn a_raw_table_gives_cells_below_its_headings() {
    let options = RawOptions {
        wanted: vec![
            vec!["resource".into()],
            vec!["price".into(), "unit price".into()],
            vec!["note".into()],
        ],
        least: 2,
        ..RawOptions::default()
    };
    let table = raw_rows(
        file(
            "prices.csv",
            "Prices of May\n\nResource;Unit Price (USD)\nglass;\"6,40\"\n;\nputty;3\n",
        ),
        &options,
    )
    .expect("clean");
    assert_eq!(
        (table.heading_rows, &table.columns),
        ((3, 3), &vec![Some(0), Some(1), None])
    );
    let rows: Vec<_> = table
        .rows
        .iter()
        .map(|r| {
            (
                r.row,
                r.cells.iter().map(|c| c.view().shown()).collect::<Vec<_>>(),
            )
        })
        .collect();
    assert_eq!(
        rows,
        [
            (4, vec!["glass".to_string(), "6,40".into()]),
            (6, vec!["putty".to_string(), "3".into()])
        ]
    );
    assert_eq!(
        table.place(4, 1).to_string(),
        "prices.csv, line 4, column 2 (Unit Price (USD))"
    );
    let missing = raw_rows(file("prices.csv", "a,b\n1,2\n"), &options).expect_err("no heading");
    assert_eq!(missing[0].code, "OV-700");
    let any = raw_rows(
        file("t.csv", "species;density (lb per cu ft)\npine;35\n"),
        &RawOptions::default(),
    )
    .expect("clean");
    assert_eq!(any.headings, ["species", "density (lb per cu ft)"]);
}

/// Cells, marks and ends of lines thrown together: a table or messages, never a panic, and every message has a code with a page.
#[test]
fn text_thrown_together_ends_in_a_table_or_in_messages() {
    let bits = [
        "mark",
        "kind",
        "wide",
        "wing",
        ",",
        ";",
        "\t",
        "\n",
        "\r\n",
        "\r",
        "\"",
        "\"\"",
        "W1",
        "30",
        "½",
        "2'-6",
        "pair",
        "ditto",
        "total",
        "n/a",
        " ",
        "\u{a0}",
        "\u{feff}",
        "#N/A",
        "-",
        ".",
        "1/0",
        "(mm)",
        "note",
        "9999999999999999999999",
        "²",
        "\u{202e}",
        "e",
        "%",
        "$",
        "0x",
        "=",
    ];
    let mut seed = 7u64;
    let mut next = || {
        seed = seed
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        (seed >> 33) as usize
    };
    for _ in 0..3_000 {
        let mut text = if next() % 2 == 0 {
            "mark,kind,wide\n".to_string()
        } else {
            String::new()
        };
        for _ in 0..next() % 60 {
            text.push_str(bits[next() % bits.len()]);
        }
        if let Err(list) = read_csv(&text) {
            assert!(
                list.iter()
                    .all(|d| ovolo::diagnostics::codes::find(d.code).is_some()),
                "{text:?}"
            );
        }
    }
}

/// A file on a stick that is drawn out: some bytes, then nothing more.
struct BreaksOff(Vec<u8>);

impl std::io::Read for BreaksOff {
    fn read(&mut self, into: &mut [u8]) -> std::io::Result<usize> {
        if self.0.is_empty() {
            return Err(std::io::Error::other("the stick was drawn out"));
        }
        let n = into.len().min(self.0.len());
        into[..n].copy_from_slice(&self.0[..n]);
        self.0.drain(..n);
        Ok(n)
    }
}

#[test]
fn a_file_that_breaks_off_while_it_is_read_is_told() {
    let long = format!("mark,kind,wide\n{}", "W1,pair,30\n".repeat(20_000));
    for bytes in ["", "mark,kind,wide\nW1,pair,30\n", &long] {
        let content = || Content::Stream(Box::new(BreaksOff(bytes.as_bytes().to_vec())));
        let source = || {
            vec![SourceFile {
                name: "stick.csv".into(),
                content: content(),
            }]
        };
        let read = read(
            &schema(),
            &nouns(),
            None,
            source(),
            &ReadOptions::default(),
            None,
        );
        assert!(
            codes(&read).contains(&"OV-020 stick.csv".to_string()),
            "{:?}",
            codes(&read)
        );
        let told = read
            .expect_err("broken off")
            .into_iter()
            .find(|d| d.code == "OV-020")
            .and_then(|d| d.found);
        assert_eq!(told.as_deref(), Some("the stick was drawn out"));
        let copy = marked_copy(source());
        assert_eq!(copy.expect_err("no copy")[0].code, "OV-020");
    }
}

#[test]
fn a_workbook_beyond_the_size_limit_is_refused_unread() {
    // Pages of zeros that are never touched take no memory.
    let mut bytes = vec![0; (256 << 20) + 1];
    bytes[..4].copy_from_slice(b"PK\x03\x04");
    assert_eq!(
        codes(&read_with(bytes, &ReadOptions::default())),
        ["OV-013 survey.csv"]
    );
}
