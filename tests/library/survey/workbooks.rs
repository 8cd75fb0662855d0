//! Workbooks: made here cell by cell, then read; a CSV twin gives the same table.

use ovolo::survey::{RawOptions, ReadOptions, Reading, SetAside, raw_rows, read};
use rust_xlsxwriter::{ExcelDateTime, Format, Formula, Workbook, Worksheet};

use crate::survey::build::{codes, file, lines, nouns, read_csv, schema, shown};
use crate::survey::zip;

const HEAD: [&str; 10] = [
    "mark", "wing", "kind", "wide", "across", "rail rot", "cracked", "leaded", "seen", "price",
];

/// Writes the headings in row 1 and lets `fill` write the rest.
fn book(fill: impl FnOnce(&mut Worksheet)) -> Vec<u8> {
    let mut book = Workbook::new();
    let sheet = book.add_worksheet();
    sheet.set_name("West").expect("a name");
    for (column, heading) in HEAD.iter().enumerate() {
        sheet
            .write_string(0, column as u16, *heading)
            .expect("written");
    }
    fill(sheet);
    book.save_to_buffer().expect("saved")
}

fn row(sheet: &mut Worksheet, row: u32, mark: &str, kind: &str) {
    sheet.write_string(row, 0, mark).expect("written");
    sheet.write_string(row, 2, kind).expect("written");
}

fn read_book(
    bytes: Vec<u8>,
    options: &ReadOptions<'_>,
) -> Result<Reading, Vec<ovolo::diagnostics::Diagnostic>> {
    read(
        &schema(),
        &nouns(),
        Some("USD"),
        vec![file("w.xlsx", bytes)],
        options,
        None,
    )
}

fn plain(bytes: Vec<u8>) -> Result<Reading, Vec<ovolo::diagnostics::Diagnostic>> {
    read_book(bytes, &ReadOptions::default())
}

#[test]
fn a_workbook_and_its_csv_twin_give_the_same_table() {
    let bytes = book(|sheet| {
        let percent = Format::new().set_num_format("0%");
        let day = Format::new().set_num_format("yyyy-mm-dd");
        row(sheet, 1, "W1", "pair");
        sheet.write_string(1, 1, "East").expect("written");
        sheet.write_number(1, 3, 30.125).expect("written");
        sheet.write_number(1, 4, 2).expect("written");
        sheet
            .write_number_with_format(1, 5, 0.07, &percent)
            .expect("written");
        sheet.write_number(1, 6, 1).expect("written");
        sheet.write_boolean(1, 7, true).expect("written");
        let date = ExcelDateTime::from_ymd(2026, 6, 1).expect("a day");
        sheet
            .write_datetime_with_format(1, 8, &date, &day)
            .expect("written");
        sheet.write_number(1, 9, 1234.1).expect("written");
        row(sheet, 2, "W2", "hung");
        sheet.write_string(2, 1, "ditto").expect("written");
        sheet.write_string(2, 3, "2'-6 1/2\"").expect("written");
        sheet.write_number(2, 5, 35).expect("written");
        sheet.write_string(2, 7, "n/a").expect("written");
    });
    let from_book = plain(bytes).expect("clean");
    let text = "mark,wing,kind,wide,across,rail rot,cracked,leaded,seen,price\n\
W1,East,pair,30.125,2,7,1,true,2026-06-01,1234.10\nW2,ditto,hung,\"2'-6 1/2\"\"\",,35,,n/a,,\n";
    let from_text = read_csv(text).expect("clean");
    assert_eq!(
        lines(&from_book.table, &schema()),
        lines(&from_text.table, &schema())
    );
    assert_eq!(
        lines(&from_book.table, &schema())[0],
        "W1 | East | pair | 30 1/8 in | 2 | 7 % | 1 lite | yes | 20605 | 1,234.10 USD"
    );
    assert_eq!(
        from_book.table.cell(1, 3).expect("a cell").to_string(),
        "w.xlsx, tab \"West\", cell D3 (wide)"
    );
}

#[test]
fn cells_that_a_workbook_changed_or_broke_have_their_own_codes() {
    let bytes = book(|sheet| {
        let day = Format::new().set_num_format("d-mmm");
        let date = ExcelDateTime::from_ymd(2026, 3, 8).expect("a day");
        row(sheet, 1, "W1", "pair");
        sheet
            .write_datetime_with_format(1, 3, &date, &day)
            .expect("written");
        row(sheet, 2, "W2", "pair");
        sheet
            .write_formula(2, 3, Formula::new("=NA()").set_result("#N/A"))
            .expect("written");
        row(sheet, 3, "W3", "pair");
        sheet
            .write_formula(3, 3, Formula::new("=15*2").set_result("30"))
            .expect("written");
        sheet.write_number(3, 5, 0.35).expect("written");
        row(sheet, 4, "W4", "pair");
        sheet.write_boolean(4, 3, true).expect("written");
        // One is no share written by mistake: it is read as 1 %.
        sheet.write_number(4, 5, 1).expect("written");
        row(sheet, 5, "W5", "pair");
        sheet.write_number(5, 3, 30.3).expect("written");
        sheet.write_number(5, 4, 2.5).expect("written");
    });
    assert_eq!(
        codes(&plain(bytes)),
        [
            "OV-720 w.xlsx, tab \"West\", cell D2 (wide)",
            "OV-721 w.xlsx, tab \"West\", cell D3 (wide)",
            "OV-719 w.xlsx, tab \"West\", cell F4 (rail rot)",
            "OV-712 w.xlsx, tab \"West\", cell D5 (wide)",
            "OV-718 w.xlsx, tab \"West\", cell E6 (across)",
        ]
    );
}

/// Files of `tests/survey/data`, written by other programs (see the README there).
fn sample(name: &str) -> Vec<u8> {
    std::fs::read(format!(
        "{}/tests/survey/data/{name}",
        env!("CARGO_MANIFEST_DIR")
    ))
    .expect("a sample file")
}

#[test]
fn a_formula_without_its_result_is_no_blank() {
    assert_eq!(
        codes(&plain(sample("unstored-formulas.xlsx"))),
        [
            "OV-722 w.xlsx, tab \"West\", cell G5 (cracked)",
            "OV-722 w.xlsx, tab \"West\", cell D6 (wide)",
            "OV-722 w.xlsx, tab \"West\", cell A7 (mark)",
            "OV-722 w.xlsx, tab \"West\", cell B7 (wing)",
            "OV-722 w.xlsx, tab \"West\", cell C7 (kind)",
        ]
    );
}

#[test]
fn formats_of_several_programs_give_the_same_table() {
    let expected = [
        "W1 | East | pair | 30 1/8 in | 2 | 7 % | 1 lite | yes | 20605 | 1,234.10 USD",
        "W2 | East | hung | 30 1/2 in | 3 | 35 % | 2 lites | n/a | 20605 | 12.50 USD",
        "W3 | East | pair | ≈30.5118 in | - | 0 % | 0 lites | yes | - | -",
    ];
    // The first was saved without the result of its one formula.
    assert_eq!(
        codes(&plain(sample("plain.xlsx"))),
        [
            "OV-031 w.xlsx, tab \"West\", row 6",
            "OV-722 w.xlsx, tab \"West\", cell J5 (price)"
        ]
    );
    for name in ["plain.ods", "plain.xls"] {
        // These two do not say that F4 is shown as a percent, so 0.07 could be two percentages.
        let list = plain(sample(name)).expect_err("a doubtful percent");
        assert_eq!(
            (list.len(), list[0].code, list[0].marks.join(" ")),
            (1, "OV-719", "W1".into()),
            "{name}"
        );
        let mut schema = schema();
        schema.columns[5] =
            crate::survey::build::column("rail_rot", crate::survey::build::number(""));
        schema.columns[5].blank = ovolo::table::OnMissing::Value(
            ovolo::table::SchemaValue::Number(ovolo::number::Exact::ZERO),
        );
        let reading = read(
            &schema,
            &nouns(),
            Some("USD"),
            vec![file("w", sample(name))],
            &ReadOptions::default(),
            None,
        )
        .expect("clean");
        let rot = ["0.07", "35", "0"];
        let found: Vec<String> = lines(&reading.table, &schema)
            .into_iter()
            .zip(rot)
            .zip(["7 %", "35 %", "0 %"])
            .map(|((line, bare), percent)| {
                line.replacen(&format!(" | {bare} | "), &format!(" | {percent} | "), 1)
            })
            .collect();
        assert_eq!(found, expected, "{name}");
    }
}

#[test]
fn hidden_rows_are_read_and_told() {
    let bytes = book(|sheet| {
        for r in 1..=6 {
            row(sheet, r, &format!("W{r}"), "pair");
            sheet.write_number(r, 3, 30).expect("written");
        }
        sheet.set_row_hidden(2).expect("hidden");
        sheet.set_row_hidden(3).expect("hidden");
        sheet.set_column_hidden(3).expect("hidden");
        sheet.set_column_hidden(12).expect("hidden");
    });
    let reading = plain(bytes).expect("clean");
    assert_eq!((reading.table.rows, reading.report.warnings.len()), (6, 1));
    let d = &reading.report.warnings[0];
    assert_eq!(
        (d.code, d.found.as_deref()),
        ("OV-031", Some("rows 3 to 4, column D"))
    );
}

#[test]
fn merged_cells_name_wings_but_not_measures() {
    let merged = |column: u16, text: &str| {
        book(|sheet| {
            for r in 1..=3 {
                row(sheet, r, &format!("W{r}"), "pair");
                if column != 3 {
                    sheet.write_number(r, 3, 30).expect("written");
                }
            }
            sheet
                .merge_range(1, column, 3, column, text, &Format::new())
                .expect("merged");
        })
    };
    let reading = plain(merged(1, "East")).expect("clean");
    assert_eq!(
        shown(&reading.table, &schema(), "wing"),
        ["East", "East", "East"]
    );
    assert_eq!(
        reading.report.columns[1]
            .normalised
            .get("merged cells, read as their one value in every row"),
        Some(&2)
    );
    let list = plain(merged(3, "30")).expect_err("a merged measure");
    assert_eq!((list.len(), list[0].code, list[0].rows), (1, "OV-726", 2));
    assert_eq!(
        list[0].found.as_deref(),
        Some("rows 2 to 4 share the one value 30")
    );
}

#[test]
fn computed_numbers_are_kept_and_noted() {
    let bytes = book(|sheet| {
        row(sheet, 1, "W1", "pair");
        sheet.write_number(1, 3, 91.0 / 3.0).expect("written");
        row(sheet, 2, "W2", "pair");
        sheet.write_number(2, 3, 30.1).expect("written");
    });
    let reading = plain(bytes).expect("clean");
    assert_eq!(
        reading.report.columns[3]
            .normalised
            .get("worked out by the workbook and cut to about 16 digits"),
        Some(&1)
    );
    assert_eq!(
        shown(&reading.table, &schema(), "wide"),
        ["≈30.3333 in", "30.1 in"]
    );
}

fn two_tabs(hide_second: bool) -> Vec<u8> {
    let mut book = Workbook::new();
    for (i, name) in ["East", "West"].iter().enumerate() {
        let sheet = book.add_worksheet();
        sheet.set_name(*name).expect("a name");
        for (column, text) in ["mark", "kind", "wide"].iter().enumerate() {
            sheet
                .write_string(3, column as u16 + 1, *text)
                .expect("written");
        }
        sheet
            .write_string(4, 1, format!("{name} 1"))
            .expect("written");
        sheet.write_string(4, 2, "pair").expect("written");
        sheet.write_number(4, 3, 30).expect("written");
        sheet.set_hidden(i == 1 && hide_second);
    }
    book.save_to_buffer().expect("saved")
}

#[test]
fn tabs_are_read_by_name_or_when_only_one_will_do() {
    let mut schema = schema();
    schema.columns[1].headings = vec!["tab name".into()];
    let go = |bytes: Vec<u8>, tabs: &[&str]| {
        let options = ReadOptions {
            tabs: tabs.iter().map(|t| (*t).to_string()).collect(),
            ..ReadOptions::default()
        };
        read(
            &schema,
            &nouns(),
            None,
            vec![file("w.xlsx", bytes)],
            &options,
            None,
        )
    };
    assert_eq!(codes(&go(two_tabs(false), &[])), ["OV-019 w.xlsx"]);
    let both = go(two_tabs(false), &["West", "east"]).expect("clean");
    assert_eq!(shown(&both.table, &schema, "mark"), ["West 1", "East 1"]);
    assert_eq!(shown(&both.table, &schema, "wing"), ["West", "East"]);
    let one = go(two_tabs(true), &[]).expect("clean");
    assert_eq!(shown(&one.table, &schema, "wing"), ["East"]);
    assert_eq!(
        one.table.cell(0, 2).expect("a cell").to_string(),
        "w.xlsx, tab \"East\", cell C5 (kind)"
    );
    let told: Vec<_> = one
        .report
        .warnings
        .iter()
        .map(|d| (d.code, d.found.clone().unwrap_or_default()))
        .collect();
    assert_eq!(
        told,
        [(
            "OV-032",
            "a heading row and rows below it in \"West\"".to_string()
        )]
    );
    let hidden = go(two_tabs(true), &["West"]).expect("clean");
    assert_eq!(hidden.report.warnings[0].code, "OV-026");
    // A tab that was renamed is told with the one that is most likely meant: by its name, or by its headings.
    let missing = |tab: &str| {
        let list = go(two_tabs(false), &[tab]).expect_err("there is no such tab");
        assert_eq!(list.len(), 1);
        assert_eq!(list[0].code, "OV-018");
        assert_eq!(list[0].found.as_deref(), Some("tabs \"East\", \"West\""));
        list[0].notes.join(" ")
    };
    assert_eq!(missing("Est"), "Perhaps \"East\" is meant.");
    assert_eq!(
        missing("Ground floor"),
        "Perhaps \"East\" is meant: its headings fit the table."
    );
    assert_eq!(
        codes(&go(two_tabs(false), &["East", "North"])),
        ["OV-018 w.xlsx"]
    );
}

#[test]
fn notes_totals_and_blank_rows_of_a_workbook_are_skipped() {
    let bytes = book(|sheet| {
        row(sheet, 1, "W1", "pair");
        sheet.write_number(1, 3, 30).expect("written");
        sheet
            .write_blank(2, 3, &Format::new().set_bold())
            .expect("written");
        row(sheet, 4, "W2", "pair");
        sheet.write_number(4, 3, 30).expect("written");
        sheet.write_string(5, 0, "Total openings").expect("written");
        sheet.write_number(5, 3, 2).expect("written");
    });
    let reading = plain(bytes).expect("clean");
    let skipped: Vec<_> = reading.report.tabs[0]
        .skipped
        .iter()
        .map(|s| format!("{}-{} {}", s.first, s.last, s.reason.words()))
        .collect();
    assert_eq!(skipped, ["3-3 blank", "6-6 a total"]);
}

#[test]
fn cut_or_changed_workbooks_end_in_a_message() {
    let whole = book(|sheet| {
        row(sheet, 1, "W1", "pair");
        sheet.write_number(1, 3, 30).expect("written");
    });
    for length in (0..whole.len()).step_by(97) {
        let found = codes(&plain(whole[..length].to_vec()));
        assert!(
            found.len() == 1 && found[0].ends_with("w.xlsx"),
            "{length}: {found:?}"
        );
    }
    // Single bytes changed all over the file: a message or a right answer, never a panic.
    for at in (0..whole.len()).step_by(13) {
        let mut bytes = whole.clone();
        bytes[at] ^= 0x55;
        let _ = codes(&plain(bytes));
    }
}

#[test]
fn a_wide_or_far_cell_does_not_fill_the_memory() {
    let bytes = book(|sheet| {
        row(sheet, 1, "W1", "pair");
        sheet.write_number(1, 3, 30).expect("written");
        sheet.write_string(1, 16_383, "far right").expect("written");
        sheet
            .write_string(1_048_575, 16_383, "far corner")
            .expect("written");
    });
    let reading = plain(bytes).expect("clean");
    assert_eq!(reading.table.rows, 1);
}

#[test]
fn formulas_in_text_stay_text() {
    let bytes = book(|sheet| {
        row(sheet, 1, "=1+1", "pair");
        sheet.write_number(1, 3, 30).expect("written");
        sheet
            .write_string(1, 1, "&lt;b&gt; &amp;")
            .expect("written");
    });
    let reading = plain(bytes).expect("clean");
    assert_eq!(shown(&reading.table, &schema(), "mark"), ["=1+1"]);
    assert_eq!(
        shown(&reading.table, &schema(), "wing"),
        ["&lt;b&gt; &amp;"]
    );
}

#[test]
fn rows_of_a_workbook_can_be_set_aside() {
    let bytes = book(|sheet| {
        row(sheet, 1, "W1", "pair");
        sheet.write_number(1, 3, 30).expect("written");
        row(sheet, 2, "W2", "pair");
        sheet.write_string(2, 3, "?").expect("written");
    });
    let options = ReadOptions {
        set_aside: SetAside::AllUnreadable,
        ..ReadOptions::default()
    };
    let reading = read_book(bytes, &options).expect("the rest is clean");
    assert_eq!(
        reading.report.set_aside[0].place.to_string(),
        "w.xlsx, tab \"West\", row 3"
    );
}

#[test]
fn a_raw_table_is_read_from_a_workbook() {
    let options = RawOptions {
        wanted: vec![vec!["wide".into()]],
        least: 1,
        ..RawOptions::default()
    };
    let table = raw_rows(file("w.xlsx", two_tabs(false)), &options).expect("clean");
    assert_eq!(
        (table.tab.as_deref(), &table.columns[..], table.rows.len()),
        (Some("East"), &[Some(3)][..], 1)
    );
    let other = RawOptions {
        tab: Some("West".into()),
        ..options
    };
    let table = raw_rows(file("w.xlsx", two_tabs(false)), &other).expect("clean");
    assert_eq!(table.rows[0].cells[1].view().shown(), "West 1");
}

#[test]
fn an_archive_that_lies_about_its_size_is_refused() {
    let mut bytes = book(|sheet| {
        for r in 1..=30_000u32 {
            sheet
                .write_string(r, 0, format!("W{}", u64::from(r) * 7_919 % 1_000_003))
                .expect("written");
            sheet
                .write_number(r, 3, f64::from(r * 7_919 % 100_003))
                .expect("written");
        }
    });
    // In the table of contents the size when unpacked stands 24 bytes behind the mark of an entry (zip format, central directory).
    let entries: Vec<usize> = (0..bytes.len() - 4)
        .filter(|i| &bytes[*i..i + 4] == b"PK\x01\x02")
        .collect();
    for at in entries {
        let size = u32::from_le_bytes([
            bytes[at + 24],
            bytes[at + 25],
            bytes[at + 26],
            bytes[at + 27],
        ]);
        bytes[at + 24..at + 28].copy_from_slice(&(size / 2).to_le_bytes());
    }
    let list = plain(bytes).expect_err("a lie");
    let found = list[0].found.as_deref().unwrap_or("");
    assert!(
        list[0].code == "OV-012" && found.contains("unpacks to more than it says"),
        "{found}"
    );
}

#[test]
fn a_bomb_that_owns_up_is_refused_before_it_is_unpacked() {
    let mut bytes = zip::archive(&[
        ("xl/workbook.xml", b"<workbook/>"),
        ("xl/worksheets/sheet1.xml", b"<worksheet/>"),
    ]);
    let at = (0..bytes.len() - 4)
        .rfind(|i| &bytes[*i..i + 4] == b"PK\x01\x02")
        .expect("an entry");
    bytes[at + 24..at + 28].copy_from_slice(&(3u32 << 30).to_le_bytes());
    assert_eq!(codes(&plain(bytes)), ["OV-015 w.xlsx"]);
}

#[test]
fn an_ods_of_billions_of_repeated_cells_is_refused() {
    let content = |columns: u32, rows: u32| {
        format!(
            "<?xml version=\"1.0\"?><office:document-content xmlns:office=\"urn:oasis:names:tc:opendocument:xmlns:office:1.0\" \
xmlns:table=\"urn:oasis:names:tc:opendocument:xmlns:table:1.0\" xmlns:text=\"urn:oasis:names:tc:opendocument:xmlns:text:1.0\"><office:body>\
<office:spreadsheet><table:table table:name=\"A\"><table:table-row table:number-rows-repeated=\"{rows}\"><table:table-cell \
table:number-columns-repeated=\"{columns}\" office:value-type=\"string\"><text:p>mark</text:p></table:table-cell></table:table-row></table:table>\
</office:spreadsheet></office:body></office:document-content>"
        )
    };
    let book = |content: &str| {
        zip::archive(&[
            (
                "mimetype",
                b"application/vnd.oasis.opendocument.spreadsheet",
            ),
            ("META-INF/manifest.xml", b"<manifest/>"),
            ("content.xml", content.as_bytes()),
        ])
    };
    assert_eq!(
        codes(&plain(book(&content(16_384, 1_048_576)))),
        ["OV-015 w.xlsx"]
    );
    assert_eq!(
        codes(&plain(book(&content(3, 10)))),
        ["OV-700 w.xlsx, tab \"A\", row 1"]
    );
}

/// A compound file as a spreadsheet program writes one for a workbook with a password: a stream named EncryptedPackage. Laid out by
/// [MS-CFB] version 3: a header, one sector of allocations, one of the directory, one of data.
fn locked() -> Vec<u8> {
    const END: u32 = 0xffff_fffe;
    const FREE: u32 = 0xffff_ffff;
    let words = |list: &[u32]| {
        list.iter()
            .flat_map(|w| w.to_le_bytes())
            .collect::<Vec<u8>>()
    };
    let mut header = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1".to_vec();
    header.extend([0; 16]);
    // Versions, byte order, sizes of sectors as powers of two, reserved.
    for half in [0x3e_u16, 3, 0xfffe, 9, 6, 0, 0, 0] {
        header.extend(half.to_le_bytes());
    }
    // Directory sectors (none in version 3), allocation sectors, first of the directory, transactions, least size of a stream in
    // sectors of its own, and no small or further allocation sectors.
    header.extend(words(&[0, 1, 1, 0, 4096, END, 0, END, 0, 0]));
    header.extend(words(&[FREE; 108]));
    let mut allocations = words(&[0xffff_fffd, END, END]);
    allocations.extend(words(&[FREE; 125]));
    let entry = |name: &str, kind: u8, child: u32, start: u32, size: u32| {
        let mut bytes: Vec<u8> = name.encode_utf16().flat_map(u16::to_le_bytes).collect();
        let length = u16::try_from(bytes.len() + 2).expect("a short name");
        bytes.resize(64, 0);
        bytes.extend(length.to_le_bytes());
        bytes.extend([kind, 1]);
        bytes.extend(words(&[FREE, FREE, child]));
        bytes.extend([0; 36]);
        bytes.extend(words(&[start, size, 0]));
        bytes
    };
    let mut directory = entry("Root Entry", 5, 1, 2, 512);
    directory.extend(entry("EncryptedPackage", 2, FREE, 0, 64));
    directory.extend([0; 256]);
    let bytes = [header, allocations, directory, vec![0; 512]].concat();
    assert_eq!(bytes.len(), 2048);
    bytes
}

#[test]
fn a_workbook_locked_with_a_password_is_told_apart_from_a_damaged_one() {
    assert_eq!(codes(&plain(locked())), ["OV-016 w.xlsx"]);
    let mut damaged = locked();
    damaged[1024 + 128] = b'X';
    assert_eq!(codes(&plain(damaged)), ["OV-012 w.xlsx"]);
    // As other programs lock them; see tests/survey/data/README.md.
    for bytes in [
        &include_bytes!("../../survey/data/locked.xlsx")[..],
        include_bytes!("../../survey/data/locked.xls"),
        include_bytes!("../../survey/data/locked.ods"),
    ] {
        assert_eq!(codes(&plain(bytes.to_vec())), ["OV-016 w.xlsx"]);
    }
}

#[test]
fn a_hidden_tab_that_could_hold_a_part_of_the_table_is_told() {
    let with_hidden = |rows: u32| {
        let mut book = Workbook::new();
        for (name, hidden) in [("West", false), ("Old", true)] {
            let sheet = book.add_worksheet();
            sheet.set_name(name).expect("a name");
            for (column, heading) in HEAD.iter().enumerate() {
                sheet
                    .write_string(0, column as u16, *heading)
                    .expect("written");
            }
            for at in 1..=if hidden { rows } else { 1 } {
                row(sheet, at, &format!("{name}{at}"), "pair");
                sheet.write_number(at, 3, 30).expect("written");
            }
            sheet.set_hidden(hidden);
        }
        plain(book.save_to_buffer().expect("saved")).expect("clean")
    };
    let told = |reading: &Reading| {
        reading
            .report
            .warnings
            .iter()
            .map(|d| d.code)
            .collect::<Vec<_>>()
    };
    let reading = with_hidden(1);
    assert_eq!((reading.table.rows, told(&reading)), (1, vec!["OV-032"]));
    // Headings with nothing below them hold nothing.
    assert_eq!(told(&with_hidden(0)), Vec::<&str>::new());
}

#[test]
fn a_unit_that_a_cell_shows_is_the_unit_of_its_number() {
    let with = |format: &str, number: f64, column: u16| {
        book(|sheet| {
            row(sheet, 1, "W1", "pair");
            sheet.write_number(1, 3, 30).expect("written");
            sheet
                .write_number_with_format(1, column, number, &Format::new().set_num_format(format))
                .expect("written");
        })
    };
    let wide = |format: &str, number: f64| {
        shown(
            &plain(with(format, number, 3)).expect("clean").table,
            &schema(),
            "wide",
        )
        .remove(0)
    };
    assert_eq!(wide("0\" mm\"", 762.0), "30 in");
    assert_eq!(wide("0.0 \"ft\"", 2.5), "30 in");
    assert_eq!(wide("0.00", 30.0), "30 in");
    assert_eq!(
        codes(&plain(with("0.0 \"h\"", 30.0, 3))),
        ["OV-716 w.xlsx, tab \"West\", cell D2 (wide)"]
    );
}
