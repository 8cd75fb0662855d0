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
use super::{Face, all_views, papers};
use crate::defuse::csv_cell;
use crate::diagnostics::Diagnostic;
use crate::diagnostics::suggest::nearest;
use crate::paper::{RowKind, Rows, Table};
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
    Err(no_table(&names, name))
}

/// Says that no table has a name.
pub fn no_table(names: &[&str], name: &str) -> Diagnostic {
    let mut d = Diagnostic::error("OV-840", "there is no table of this name")
        .found(name)
        .expected(names.join(", "));
    if let Some(near) = nearest(name, names.iter().copied()) {
        d = d.note(format!("Did you mean {near}?"));
    }
    d
}

/// A table as CSV text. Sums below a table are its last rows, as on the page. A table has no head where it could say that rows of the survey
/// were set aside or facts assumed, so then every record says it.
pub fn write(view: &View, face: &Face) -> String {
    let view = view.footed(Some(PLACES));
    let records = Records::of(&view, face);
    let mut out = records.headings();
    for row in &view.rows {
        out.push_str(&records.record(&row.cells));
    }
    out
}

/// The lines of tables of one form as CSV, a stretch of text at a time.
pub fn write_lines<'a, R: Rows + 'a>(
    tables: impl IntoIterator<Item = &'a Table<R>>,
    face: &Face,
    out: &mut dyn FnMut(&str),
) {
    let mut tables = tables.into_iter().peekable();
    let Some(form) = tables.peek().map(|table| papers::headings(table)) else {
        return;
    };
    let records = Records::of(&form, face);
    let mut text = records.headings();
    for row in tables.flat_map(|table| table.rows.each()) {
        if row.kind == RowKind::Line {
            text.push_str(&records.record(&papers::plain_cells(&row)));
        }
        if text.len() > AT_ONCE {
            out(&text);
            text.clear();
        }
    }
    out(&text);
}

/// Letters that are written at once.
const AT_ONCE: usize = 1 << 16;

/// Writes the records of a table.
struct Records<'a> {
    view: &'a View,
    /// What is behind every record, with its headings.
    last: Vec<(&'static str, String)>,
}

impl<'a> Records<'a> {
    fn of(view: &'a View, face: &Face) -> Records<'a> {
        Records {
            view,
            last: face.columns(),
        }
    }

    fn headings(&self) -> String {
        let headings = self.view.wide_columns().flat_map(|(_, c)| {
            let unit = c.with_unit.then(|| format!("{} unit", c.heading));
            std::iter::once(c.full_heading())
                .chain(unit)
                .map(|heading| csv_cell(&heading))
        });
        let last = self.last.iter().map(|(heading, _)| (*heading).to_owned());
        line(headings.chain(last))
    }

    fn record(&self, cells: &[Cell]) -> String {
        let cells = self
            .view
            .wide_columns()
            .filter_map(|(at, column)| Some((column, cells.get(at)?)))
            .flat_map(|(column, cell)| {
                let unit = column
                    .with_unit
                    .then(|| csv_cell(cell.unit().unwrap_or("")));
                std::iter::once(plain(cell)).chain(unit)
            });
        line(cells.chain(self.last.iter().map(|(_, value)| csv_cell(value))))
    }
}

fn plain(cell: &Cell) -> String {
    cell.plain_number()
        .unwrap_or_else(|| csv_cell(&cell.shown()))
}

/// One record by RFC 4180, ended by a line feed.
fn line(cells: impl Iterator<Item = String>) -> String {
    let mut out = String::new();
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
    out
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
