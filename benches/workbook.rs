//! A survey in a workbook against the workbook reader alone, in processor time. See `README.md`.
//!
//! `cargo bench --bench workbook -- [rows]`

mod support;

use calamine::{DataRef, Reader, Xlsx};
use ovolo::survey::{Content, ReadOptions, SourceFile, read};
use rust_xlsxwriter::Workbook;
use std::io::Cursor;
use std::time::Duration;

const SHEET: &str = r#"sheet "Bench"
survey opening {
  mark text key
  wing text
  kind one of single, pair, hung
  a length in in
  b length in in
  c length in in
  d length in in
  e length in in
  across number whole
  tiers number whole
  rot percent
  cracked number
  leaded yes or no
  note1 text optional
  note2 text optional
}
"#;

/// A workbook of so many rows of 15 cells, a tenth of them blank.
fn workbook(rows: u32) -> Vec<u8> {
    let mut book = Workbook::new();
    let sheet = book.add_worksheet();
    let heads = [
        "mark", "wing", "kind", "a", "b", "c", "d", "e", "across", "tiers", "rot", "cracked",
        "leaded", "note1", "note2",
    ];
    for (column, head) in (0..).zip(heads) {
        sheet.write_string(0, column, head).expect("written");
    }
    let mut chance = support::Chance::new(11);
    for row in 1..=rows {
        let texts = [
            (0, format!("W{row}")),
            (1, format!("wing {}", row % 7)),
            (2, ["single", "pair", "hung"][row as usize % 3].to_string()),
            (12, "yes".to_string()),
            (13, format!("seen {}", row % 50)),
        ];
        for (column, text) in texts {
            sheet.write_string(row, column, text).expect("written");
        }
        for column in 3..8 {
            let sixteenths = chance.between(20 * 16, 90 * 16) as f64;
            sheet
                .write_number(row, column, sixteenths / 16.0)
                .expect("written");
        }
        for column in [8, 9, 11] {
            let count = chance.between(1, 6) as f64;
            sheet.write_number(row, column, count).expect("written");
        }
        sheet.write_string(row, 10, "12 %").expect("written");
    }
    book.save_to_buffer().expect("saved")
}

/// Processor time of the quickest of five.
fn quickest(mut work: impl FnMut()) -> Duration {
    let mut best = Duration::MAX;
    for _ in 0..5 {
        let before = support::cpu_time().expect("a system that tells");
        work();
        best = best.min(support::cpu_time().expect("a system that tells") - before);
    }
    best
}

fn main() {
    let rows = std::env::args()
        .filter_map(|a| a.parse().ok())
        .next()
        .unwrap_or(100_000);
    let bytes = workbook(rows);
    let checked = support::checked(SHEET);
    let program = &checked.program;
    let alone = quickest(|| {
        let mut book = Xlsx::new(Cursor::new(bytes.clone())).expect("a workbook");
        let name = book.sheet_names()[0].clone();
        let mut cells = book.worksheet_cells_reader(&name).expect("a tab");
        let mut filled = 0;
        while let Some(cell) = cells.next_cell().expect("cells") {
            filled += usize::from(*cell.get_value() != DataRef::Empty);
        }
        assert_eq!(filled, 14 * rows as usize + 15);
    });
    let ours = quickest(|| {
        let file = SourceFile {
            name: "w.xlsx".to_string(),
            content: Content::Bytes(bytes.clone()),
        };
        let main = program.main_table().expect("a survey");
        let schema = &program.tables[main].schema;
        let reading = read(
            schema,
            &program.nouns,
            None,
            vec![file],
            &ReadOptions::default(),
            None,
        );
        assert_eq!(reading.expect("read").table.rows, rows as usize);
    });
    println!(
        "{rows} rows of 15 cells, {} MB: reader alone {:.2} s, survey {:.2} s, {:.2} times; peak {:.0} MB",
        bytes.len() >> 20,
        alone.as_secs_f64(),
        ours.as_secs_f64(),
        ours.as_secs_f64() / alone.as_secs_f64(),
        support::peak_memory().unwrap_or(0.0)
    );
}
