//! An order goes out as a paper and comes back, filled in by the supplier as CSV or as a workbook, as rows of a price book.

use super::run::{ovolo, text};
use calamine::{Data, DataType, Reader, Xlsx};
use rust_xlsxwriter::Workbook;
use std::io::Cursor;

const JOB: &str = concat!(
    env!("CARGO_MANIFEST_DIR"),
    "/demo-data/tallowgate-school/handover.ovo"
);

/// What the price book of the demonstration says of the glass.
const SPEC: &str = "single strength, 3/32 in; slight waves, no seeds over 1/8 in";

#[test]
fn an_order_that_was_filled_in_comes_back_as_rows_of_a_price_book() {
    let folder = tempfile::tempdir().expect("a folder");
    let at = folder.path();
    let sent = ovolo(
        at,
        &["papers", JOB, "--csv", "orders-glass_house/order_list"],
    );
    assert!(sent.status.success(), "{}", text(&sent));
    let sent = String::from_utf8(sent.stdout).expect("text");
    let lines: Vec<&str> = sent.lines().collect();
    assert!(
        lines[0].ends_with(",Price each,Priced on,Lead time,Remarks"),
        "{sent}"
    );
    assert_eq!(lines.len(), 2, "{sent}");
    assert!(lines[1].contains(SPEC), "{sent}");

    // The supplier writes into the last four cells.
    let cells = lines[1].strip_suffix(",,,,").expect("four blanks");
    let filled = format!(
        "{}\n{cells},117.25,2024-03-20,2 weeks,hand drawn\n",
        lines[0]
    );
    std::fs::write(at.join("back.csv"), filled).expect("written");
    let asked = ["prices", JOB, "--from", "back.csv", "--write", "rows.csv"];
    let read = ovolo(at, &asked);
    assert!(read.status.success(), "{}", text(&read));
    let rows = std::fs::read_to_string(at.join("rows.csv")).expect("it is written");
    let row = "old_glass,sheet,117.25,sheet of 6 sq ft,Glass house,,\"order filled in, back.csv\",2024-03-20,lead time 2 weeks,,,,,,\"single strength, 3/32 in; slight waves, no seeds over 1/8 in\"";
    assert_eq!(rows.lines().nth(1), Some(row), "{rows}");

    // The same order as a workbook, with its title above and places to sign below.
    let sent = [
        "papers",
        JOB,
        "orders-glass_house",
        "--workbook",
        "order.xlsx",
    ];
    let sent = ovolo(at, &sent);
    assert!(sent.status.success(), "{}", text(&sent));
    let bytes = std::fs::read(at.join("order.xlsx")).expect("it is written");
    let mut book: Xlsx<_> = Xlsx::new(Cursor::new(bytes)).expect("a workbook");
    let name = book.sheet_names().first().cloned().expect("a tab");
    let range = book.worksheet_range(&name).expect("it is read");
    let mut back = Workbook::new();
    let sheet = back.add_worksheet();
    let mut price_cell = None;
    for (row, cells) in (0..).zip(range.rows()) {
        for (column, cell) in (0..).zip(cells) {
            match cell {
                Data::Float(number) => sheet.write_number(row, column, *number),
                Data::Empty => continue,
                other => sheet.write_string(row, column, other.to_string()),
            }
            .expect("written");
            if cell.get_string() == Some("Price each") {
                price_cell = Some((row + 1, column));
            }
        }
    }
    let (row, column) = price_cell.expect("a heading of the price");
    sheet.write_number(row, column, 117.25).expect("written");
    sheet
        .write_string(row, column + 1, "2024-03-20")
        .expect("written");
    sheet.write_string(row + 2, 0, "buyer").expect("written");
    back.save(at.join("back.xlsx")).expect("saved");
    let read = ovolo(
        at,
        &["prices", JOB, "--from", "back.xlsx", "--write", "more.csv"],
    );
    assert!(read.status.success(), "{}", text(&read));
    let rows = std::fs::read_to_string(at.join("more.csv")).expect("it is written");
    assert!(
        rows.contains("old_glass,sheet,117.25,sheet of 6 sq ft,"),
        "{rows}"
    );
}
