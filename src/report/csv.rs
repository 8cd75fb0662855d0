//! One table as CSV: plain numbers, units in columns of their own, and no text that a workbook would run as a formula.
//!
//! ```
//! # fn worked() -> ovolo::session::Session {
//! #     include!(concat!(env!("CARGO_MANIFEST_DIR"), "/tests/docs/worked.rs"))
//! # }
//! let session = worked(); // a small job in memory
//! let run = session.run().expect("it is worked");
//! let estimate = &run.worked.estimate;
//! let no = ovolo::report::csv::table(estimate, "buylist").expect_err("there is no such table");
//! assert!(no.notes.iter().any(|note| note == "Did you mean buy-list?"));
//! ```

use super::view::{Cell, View};
use super::{Face, all_views};
use crate::defuse::csv_cell;
use crate::diagnostics::Diagnostic;
use crate::diagnostics::suggest::nearest;
use crate::pricing::Estimate;

/// Decimals of a number that has more.
const PLACES: u32 = 6;

/// The table of an estimate by its name, such as `buy-list`. Errors: OV-840 for a name that no table has.
pub fn table(estimate: &Estimate, name: &str) -> Result<String, Diagnostic> {
    pick(&all_views(estimate), name, &Face::of(estimate))
}

/// One of several tables by its name, with the face that all of them have.
pub fn pick(views: &[View], name: &str, face: &Face) -> Result<String, Diagnostic> {
    if let Some(view) = views.iter().find(|v| v.name == name) {
        return Ok(write(view, face));
    }
    let names: Vec<&str> = views.iter().map(|v| v.name.as_str()).collect();
    let mut d = Diagnostic::error("OV-840", "there is no table of this name")
        .found(name)
        .expected(names.join(", "));
    if let Some(near) = nearest(name, names) {
        d = d.note(format!("Did you mean {near}?"));
    }
    Err(d)
}

/// A table as CSV text. Sums below a table are its last rows, as on the page. A table has no head where it could say that rows of the survey
/// were set aside or facts assumed, so then every record says it.
pub fn write(view: &View, face: &Face) -> String {
    let view = view.footed(Some(PLACES));
    let mut out = String::new();
    let last = face.columns();
    let headings = view.wide_columns().flat_map(|(_, c)| {
        let unit = c.with_unit.then(|| format!("{} unit", c.heading));
        std::iter::once(c.full_heading())
            .chain(unit)
            .map(|heading| csv_cell(&heading))
    });
    line(
        &mut out,
        headings.chain(last.iter().map(|(heading, _)| (*heading).to_owned())),
    );
    for row in &view.rows {
        let cells = view
            .wide_columns()
            .filter_map(|(at, column)| Some((column, row.cells.get(at)?)))
            .flat_map(|(column, cell)| {
                let unit = column
                    .with_unit
                    .then(|| csv_cell(cell.unit().unwrap_or("")));
                std::iter::once(plain(cell)).chain(unit)
            });
        line(
            &mut out,
            cells.chain(last.iter().map(|(_, value)| csv_cell(value))),
        );
    }
    out
}

fn plain(cell: &Cell) -> String {
    cell.plain_number()
        .unwrap_or_else(|| csv_cell(&cell.shown()))
}

/// One record by RFC 4180, ended by a line feed.
fn line(out: &mut String, cells: impl Iterator<Item = String>) {
    for (at, cell) in cells.enumerate() {
        if at > 0 {
            out.push(',');
        }
        if cell.contains([',', '"', '\n', '\r']) || cell.starts_with(' ') || cell.ends_with(' ') {
            out.push('"');
            out.push_str(&cell.replace('"', "\"\""));
            out.push('"');
        } else {
            out.push_str(&cell);
        }
    }
    out.push('\n');
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::number::Exact;
    use crate::pricing::AssumedFact;
    use crate::report::Column;
    use crate::takeoff::SetAside;

    #[test]
    fn texts_are_quoted_and_defused_and_numbers_are_not() {
        let mut view = View::new(
            "t",
            "T",
            vec![
                Column::text("mark"),
                Column::quantity("net"),
                Column::number("cost"),
            ],
        );
        view.row(vec![
            Cell::text("=HYPERLINK(\"x\")"),
            Cell::Quantity(Exact::int(-3), "@bf".into()),
            Cell::Money(-5),
        ]);
        view.row(vec![Cell::text("a, b\nc"), Cell::Blank, Cell::Money(0)]);
        view.row(vec![Cell::text("-12"), Cell::Blank, Cell::Blank]);
        let expected = "mark,net,net unit,cost\n\"'=HYPERLINK(\"\"x\"\")\",-3,'@bf,-0.05\n\"a, b\nc\",,,0.00\n'-12,,,\n";
        assert_eq!(write(&view, &Face::default()), expected);
        let row = SetAside {
            above: None,
            mark: "N5".into(),
            cause: "unreadable".into(),
        };
        let fact = AssumedFact {
            name: "child place".into(),
            value: "yes".into(),
            because: "untold".into(),
        };
        let said = write(
            &view,
            &Face {
                aside: vec![row.clone(), row],
                assumed: vec![fact],
                unpriced: None,
            },
        );
        assert!(
            said.starts_with("mark,net,net unit,cost,rows set aside,facts assumed\n")
                && said.ends_with("'-12,,,,2,child place = yes\n"),
            "{said}"
        );
        // What a reader of CSV makes of it.
        let mut reader = csv::Reader::from_reader(expected.as_bytes());
        let first = reader
            .records()
            .next()
            .expect("a record")
            .expect("readable");
        assert_eq!(&first[0], "'=HYPERLINK(\"x\")");
    }
}
