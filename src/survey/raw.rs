//! Cells and rows as a file holds them, before anybody asks what they mean.
//!
//! Every reader of files ends here and everything that gives meaning starts here. Must not know columns, units or
//! schemas.

use std::borrow::Cow;
use std::sync::Arc;

use crate::number::Exact;

/// Longest text of one cell that is kept, in characters: the limit of a workbook cell.
pub(crate) const MAX_CELL: usize = 32_767;

/// A number as a workbook stores it.
#[derive(Debug, Clone, PartialEq)]
pub struct NumberCell {
    /// The shortest decimal that reads back as the stored number.
    pub value: Exact,
    /// Whether it was typed as such; otherwise it was worked out and its last digits were cut by the workbook.
    pub as_typed: bool,
    /// Whether the cell shows it as a percent; `None` where the file format does not tell.
    pub percent: Option<bool>,
    /// What the cell shows before and behind the number, such as a unit or a currency sign; `None` where it shows the number alone.
    pub around: Option<Arc<(String, String)>>,
}

impl NumberCell {
    /// The number with what the cell shows around it, such as `32 mm`.
    pub fn printed(&self) -> String {
        let number = number_text(&self.value);
        self.around
            .as_ref()
            .map_or_else(|| number.clone(), |a| format!("{}{number}{}", a.0, a.1))
    }
}

/// A date or time as a workbook stores it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct DateCell {
    /// Days since 1970-01-01; `None` for a time of day or a length of time.
    pub days: Option<i32>,
    /// How it reads, such as `2026-06-01`.
    pub text: String,
}

/// A cell of a file.
#[derive(Debug, Clone, PartialEq)]
pub enum RawCell {
    /// Nothing in it.
    Blank,
    /// Text, as written.
    Text(String),
    /// A number of a workbook. Numbers of a CSV file are text.
    Number(NumberCell),
    /// True or false.
    Bool(bool),
    /// A date or time.
    Date(DateCell),
    /// An error such as `#N/A`.
    Error(String),
    /// A formula that was saved without its result.
    NoResult,
    /// Covered by a merged area whose one value is in its first row.
    Merged {
        /// First row of the area, 1-based.
        first: u32,
        /// Last row of the area.
        last: u32,
        /// The value of the area.
        value: Box<RawCell>,
    },
}

/// A look at a cell that costs nothing to pass on.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum CellRef<'a> {
    /// Nothing in it.
    Blank,
    /// Text, as written.
    Text(&'a str),
    /// A number of a workbook.
    Number(&'a NumberCell),
    /// True or false.
    Bool(bool),
    /// A date or time.
    Date(&'a DateCell),
    /// An error such as `#N/A`.
    Error(&'a str),
    /// A formula that was saved without its result.
    NoResult,
    /// Covered by a merged area: its first and last row, and its value.
    Merged(u32, u32, &'a RawCell),
}

impl RawCell {
    /// A look at it; blank text is blank.
    pub fn view(&self) -> CellRef<'_> {
        match self {
            RawCell::Blank => CellRef::Blank,
            RawCell::Text(t) => CellRef::text(t),
            RawCell::Number(n) => CellRef::Number(n),
            RawCell::Bool(b) => CellRef::Bool(*b),
            RawCell::Date(d) => CellRef::Date(d),
            RawCell::Error(e) => CellRef::Error(e),
            RawCell::NoResult => CellRef::NoResult,
            RawCell::Merged { first, last, value } => CellRef::Merged(*first, *last, value),
        }
    }
}

impl<'a> CellRef<'a> {
    /// Trimmed text, or blank when nothing is left.
    pub fn text(text: &'a str) -> CellRef<'a> {
        let trimmed = trim(text);
        if trimmed.is_empty() {
            CellRef::Blank
        } else {
            CellRef::Text(trimmed)
        }
    }

    /// Whether nothing is in it.
    pub fn is_blank(&self) -> bool {
        matches!(self, CellRef::Blank)
    }

    /// What a reader of the file sees; empty for a blank cell.
    pub fn shown(&self) -> String {
        self.words().into_owned()
    }

    /// As [`CellRef::shown`], without copying a text.
    pub fn words(&self) -> Cow<'a, str> {
        match *self {
            CellRef::Blank => Cow::Borrowed(""),
            CellRef::Text(t) | CellRef::Error(t) => Cow::Borrowed(t),
            CellRef::Number(n) => Cow::Owned(n.printed()),
            CellRef::Bool(true) => Cow::Borrowed("TRUE"),
            CellRef::Bool(false) => Cow::Borrowed("FALSE"),
            CellRef::Date(d) => Cow::Borrowed(&d.text),
            CellRef::NoResult => Cow::Borrowed("a formula without its result"),
            CellRef::Merged(_, _, value) => Cow::Owned(value.view().shown()),
        }
    }
}

/// A stored number as plain decimal text.
pub(crate) fn number_text(value: &Exact) -> String {
    value.to_decimal(40).0
}

/// Cuts blanks off both ends: those of ASCII and Unicode, marks of byte order and blanks of no width.
pub(crate) fn trim(text: &str) -> &str {
    let bytes = text.as_bytes();
    match (bytes.first(), bytes.last()) {
        // Most cells begin and end in plain print: nothing to look for.
        (Some(a), Some(b)) if a.is_ascii_graphic() && b.is_ascii_graphic() => text,
        _ => text.trim_matches(|c: char| {
            c.is_whitespace() || matches!(c, '\u{feff}' | '\u{200b}' | '\u{2060}')
        }),
    }
}

/// A row of some file, with cells numbered from 0.
pub(crate) trait RowView {
    /// 1-based row, or line of a text file.
    fn row(&self) -> u32;
    /// Number of cells, blanks at the end included.
    fn width(&self) -> usize;
    /// A cell; blank beyond the end.
    fn get(&self, column: usize) -> CellRef<'_>;
}

/// A row that owns its cells.
#[derive(Debug, Clone, PartialEq)]
pub struct RawRow {
    /// 1-based row, or line of a text file.
    pub row: u32,
    /// Cells from column A on; blanks at the end are left out.
    pub cells: Vec<RawCell>,
}

impl RowView for RawRow {
    fn row(&self) -> u32 {
        self.row
    }

    fn width(&self) -> usize {
        self.cells.len()
    }

    fn get(&self, column: usize) -> CellRef<'_> {
        self.cells.get(column).map_or(CellRef::Blank, RawCell::view)
    }
}

/// Shortens a cell's text for a message.
pub(crate) fn cut(text: &str) -> String {
    const MOST: usize = 80;
    let one_line: String = text
        .chars()
        .map(|c| if c.is_control() { ' ' } else { c })
        .take(MOST + 1)
        .collect();
    if one_line.chars().count() > MOST {
        let count = text.chars().count();
        format!(
            "{} ... ({count} characters)",
            one_line.chars().take(MOST - 20).collect::<String>()
        )
    } else {
        one_line
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn text_is_trimmed_of_every_kind_of_blank() {
        assert_eq!(
            CellRef::text("\u{a0} 30 1/2\u{2009}"),
            CellRef::Text("30 1/2")
        );
        assert_eq!(CellRef::text("\u{feff}Mark"), CellRef::Text("Mark"));
        assert_eq!(CellRef::text(" \u{3000}\t"), CellRef::Blank);
    }

    #[test]
    fn a_long_cell_is_cut_with_its_length() {
        let text = "x".repeat(1_000_000);
        assert!(cut(&text).ends_with("(1000000 characters)"));
        assert_eq!(cut("a\nb"), "a b");
    }
}
