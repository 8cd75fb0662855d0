//! Passes to a clean survey: thirty openings in two hands, one as CSV in inches and one as a workbook in millimeters, with twenty slips.
//! All are told in one pass, each at its cell, and mending those cells alone makes the survey clean. Survey and slips are invented.

use super::run::{ovolo, text};
use calamine::{Data, Reader, Xlsx};
use rust_xlsxwriter::{ExcelDateTime, Format, Workbook};
use serde_json::Value;
use std::io::Cursor;
use std::path::Path;

const HERE: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/two-hands");

type Rows = Vec<Vec<String>>;

/// The cells of a file of the survey. None of them holds a quotation mark with a comma in it.
fn rows_of(name: &str) -> Rows {
    let text = std::fs::read_to_string(Path::new(HERE).join(name)).expect("it is there");
    let cell = |c: &str| match c.strip_prefix('"').and_then(|c| c.strip_suffix('"')) {
        Some(inner) => inner.replace("\"\"", "\""),
        None => c.to_owned(),
    };
    text.lines()
        .map(|line| line.split(',').map(cell).collect())
        .collect()
}

struct Slip {
    file: String,
    row: usize,
    heading: String,
    wrong: String,
    code: String,
}

fn slips() -> Vec<Slip> {
    let slip = |c: &Vec<String>| Slip {
        file: c[0].clone(),
        row: c[1].parse().expect("a row"),
        heading: c[2].clone(),
        wrong: c[3].clone(),
        code: c[4].clone(),
    };
    rows_of("slips.csv").iter().skip(1).map(slip).collect()
}

/// The file a workbook of the survey is made from.
fn kept_as(file: &str) -> String {
    file.replace(".xlsx", ".csv")
}

/// The column of a heading, counted from 0.
fn column_of(rows: &Rows, heading: &str) -> usize {
    let mut found = rows
        .iter()
        .take(2)
        .flat_map(|r| r.iter().position(|h| h == heading));
    found.next().expect("a column of that heading")
}

fn csv(rows: &Rows) -> String {
    let quoted = |c: &String| format!("\"{}\"", c.replace('"', "\"\""));
    let line = |r: &Vec<String>| r.iter().map(quoted).collect::<Vec<_>>().join(",") + "\n";
    rows.iter().map(line).collect()
}

/// As a spreadsheet program keeps it: numbers as numbers and days as days.
fn workbook(rows: &Rows) -> Vec<u8> {
    let mut book = Workbook::new();
    let day = Format::new().set_num_format("yyyy-mm-dd");
    let sheet = book.add_worksheet();
    sheet.set_name("South").expect("a name");
    for (row, cells) in (0..).zip(rows) {
        for (column, cell) in (0..).zip(cells) {
            if let Ok(number) = cell.parse::<f64>() {
                sheet.write_number(row, column, number).expect("written");
            } else if let Ok(date) = ExcelDateTime::parse_from_str(cell)
                && cell.len() == 10
            {
                let written = sheet.write_datetime_with_format(row, column, &date, &day);
                written.expect("written");
            } else if !cell.is_empty() {
                sheet.write_string(row, column, cell).expect("written");
            }
        }
    }
    book.save_to_buffer().expect("saved")
}

/// Writes the survey with these slips.
fn write(folder: &Path, slips: &[Slip]) {
    let job = std::fs::read(Path::new(HERE).join("job.ovo")).expect("it is there");
    std::fs::write(folder.join("job.ovo"), job).expect("written");
    for file in ["north.csv", "south.xlsx", "places.csv"] {
        let clean = rows_of(&kept_as(file));
        let mut rows = clean.clone();
        for slip in slips.iter().filter(|s| s.file == file) {
            rows[slip.row - 1][column_of(&clean, &slip.heading)] = slip.wrong.clone();
        }
        let bytes = match file.ends_with(".xlsx") {
            true => workbook(&rows),
            false => csv(&rows).into_bytes(),
        };
        std::fs::write(folder.join(file), bytes).expect("written");
    }
}

#[test]
fn twenty_slips_are_told_in_one_pass_each_at_its_cell() {
    let folder = tempfile::tempdir().expect("a folder");
    let at = folder.path();
    let slips = slips();
    assert_eq!(slips.len(), 20);
    write(at, &slips);
    let told = ovolo(at, &["survey", "job.ovo", "--json"]);
    assert_eq!(told.status.code(), Some(1), "{}", text(&told));
    let told: Value = serde_json::from_slice(&told.stdout).expect("JSON");
    let of_slips = |m: &&Value| m["code"] != "OV-735";
    let messages = told["messages"].as_array().expect("messages").iter();
    let messages: Vec<&Value> = messages.filter(of_slips).collect();

    // Nothing is told but the slips, each where it stands. An arch without a rise is told at the rise.
    assert_eq!(messages.len(), 20, "{messages:#?}");
    for slip in &slips {
        let heading = match slip.heading.as_str() {
            "Head" => "Rise",
            other => other,
        };
        let column = column_of(&rows_of(&kept_as(&slip.file)), heading) + 1;
        let here = |p: &Value| {
            p["file"] == slip.file.as_str() && p["row"] == slip.row && p["column"] == column
        };
        let found = messages.iter().filter(|m| m["code"] == slip.code.as_str());
        let places = found.flat_map(|m| m["places"].as_array().into_iter().flatten());
        let told = places.into_iter().any(here);
        assert!(told, "{} {} {}", slip.file, slip.row, slip.heading);
    }
    // Rows that are no openings are told as such, in one line for each file.
    let refused = ovolo(at, &["survey", "job.ovo", "--all-messages"]);
    for line in [
        "skipped: row 11, a total; row 19, a total",
        "skipped: row 10, a total; row 19, a note",
    ] {
        assert!(text(&refused).contains(line), "{}", text(&refused));
    }

    // Mending those cells alone makes it clean: passes to clean are one.
    write(at, &[]);
    let clean = ovolo(at, &["survey", "job.ovo"]);
    assert!(clean.status.success(), "{}", text(&clean));
    assert!(text(&clean).contains("30 rows of \"opening\" read."));
    let worked = ovolo(at, &["estimate", "job.ovo", "--quantities"]);
    assert!(worked.status.success(), "{}", text(&worked));
}

#[test]
fn marked_copies_of_both_hands_list_the_slips() {
    let folder = tempfile::tempdir().expect("a folder");
    let at = folder.path();
    let slips = slips();
    write(at, &slips);
    let marked = ovolo(at, &["survey", "job.ovo", "--marked", "marked.xlsx"]);
    assert_eq!(marked.status.code(), Some(1), "{}", text(&marked));
    for (file, copy) in [
        ("north.csv", "marked.xlsx"),
        ("south.xlsx", "marked-south.xlsx"),
        ("places.csv", "marked-places.xlsx"),
    ] {
        let bytes = std::fs::read(at.join(copy)).expect("a copy of each file");
        let mut book: Xlsx<_> = Xlsx::new(Cursor::new(bytes)).expect("a workbook");
        let list = book.worksheet_range("What to mend").expect("the list");
        let codes: Vec<String> = list
            .rows()
            .filter_map(|r| r.get(6).map(Data::to_string))
            .collect();
        for slip in slips.iter().filter(|s| s.file == file) {
            let wanted = slips
                .iter()
                .filter(|s| s.file == file && s.code == slip.code)
                .count();
            let listed = codes.iter().filter(|c| **c == slip.code).count();
            assert!(listed >= wanted, "{copy}: {} {codes:?}", slip.code);
        }
    }
}
