//! Places: a stretch of a sheet's text, a cell of a table, or a file as a whole.

use crate::ids;
use crate::ids::ById;
use std::sync::OnceLock;

crate::ids::ids! {
    /// A sheet of [`Sources`].
    #[derive(Default)]
    FileId(u16);
}

/// Bytes `start..end` of a sheet's text.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Span {
    /// Which sheet.
    pub file: FileId,
    /// First byte.
    pub start: u32,
    /// Byte after the last.
    pub end: u32,
}

/// A length or place in a text as spans hold it. Sheets are at most 4 MB, so none is beyond 32 bits; one that were would lie past the
/// end of its text, not at its start.
pub fn offset(bytes: usize) -> u32 {
    u32::try_from(bytes).unwrap_or(u32::MAX)
}

impl Span {
    /// The stretch from the start of `self` to the end of `other`.
    pub fn to(self, other: Span) -> Span {
        Span {
            file: self.file,
            start: self.start.min(other.start),
            end: self.end.max(other.end),
        }
    }
}

/// A cell of a survey, price book or table file.
#[derive(Debug, Clone, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct CellPlace {
    /// File name as the user gave it.
    pub file: String,
    /// Tab of a workbook.
    pub tab: Option<String>,
    /// 1-based row in a workbook, or line in a CSV file (the line the record starts on).
    pub row: u32,
    /// 1-based column; `None` for the whole row.
    pub column: Option<u32>,
    /// Heading of the column, when known.
    pub heading: Option<String>,
}

impl std::fmt::Display for CellPlace {
    /// `west.xlsx, tab "West", cell D12 (Width)` or `survey.csv, line 12, column 4 (Width)`.
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{}", self.file)?;
        match (&self.tab, self.column) {
            (Some(tab), Some(c)) => {
                write!(f, ", tab \"{tab}\", cell {}{}", column_letters(c), self.row)?
            }
            (Some(tab), None) => write!(f, ", tab \"{tab}\", row {}", self.row)?,
            (None, Some(c)) => write!(f, ", line {}, column {c}", self.row)?,
            (None, None) => write!(f, ", line {}", self.row)?,
        }
        match &self.heading {
            Some(h) => write!(f, " ({h})"),
            None => Ok(()),
        }
    }
}

/// `1` is A, `27` is AA, as workbooks name columns.
pub(crate) fn column_letters(mut column: u32) -> String {
    let mut letters = Vec::new();
    while column > 0 {
        let rest = (column - 1) % 26;
        letters.extend(char::from_u32(u32::from('A') + rest));
        column = (column - 1) / 26;
    }
    letters.iter().rev().collect()
}

/// Where a message points.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Place {
    /// Text of a sheet.
    Sheet(Span),
    /// A cell.
    Cell(CellPlace),
    /// A file or folder as a whole.
    File(String),
}

impl From<Span> for Place {
    fn from(span: Span) -> Self {
        Place::Sheet(span)
    }
}

impl From<CellPlace> for Place {
    fn from(cell: CellPlace) -> Self {
        Place::Cell(cell)
    }
}

/// A text with its name.
#[derive(Debug, Clone)]
struct Source {
    name: String,
    text: String,
    /// Where its lines begin, found once: messages by the thousand may point into one text.
    lines: OnceLock<Vec<usize>>,
}

impl Source {
    fn lines(&self) -> &[usize] {
        self.lines.get_or_init(|| {
            let breaks = memchr::memchr_iter(b'\n', self.text.as_bytes()).map(|at| at + 1);
            std::iter::once(0).chain(breaks).collect()
        })
    }
}

/// The texts that spans point into.
#[derive(Debug, Clone, Default)]
pub struct Sources {
    files: ById<FileId, Source>,
}

impl Sources {
    /// Adds a text under the name shown in messages.
    pub fn add(&mut self, name: impl Into<String>, text: impl Into<String>) -> FileId {
        let added = self.files.push(Source {
            name: name.into(),
            text: text.into(),
            lines: OnceLock::new(),
        });
        added.expect("a job names far fewer sheets than can be told apart")
    }

    /// Name of a text.
    pub fn name(&self, file: FileId) -> &str {
        self.files.get(file).map_or("", |f| f.name.as_str())
    }

    /// A whole text.
    pub fn text(&self, file: FileId) -> &str {
        self.files.get(file).map_or("", |f| f.text.as_str())
    }

    /// The text under a span; empty when the span does not fit.
    pub fn slice(&self, span: Span) -> &str {
        self.text(span.file)
            .get(ids::at(span.start)..ids::at(span.end))
            .unwrap_or("")
    }

    /// All texts with their names, in order of reading.
    pub fn iter(&self) -> impl Iterator<Item = (&str, &str)> {
        self.files
            .iter()
            .map(|f| (f.name.as_str(), f.text.as_str()))
    }

    /// 1-based line and column (in characters) of a byte offset, clamped to the text.
    pub fn line_column(&self, file: FileId, offset: u32) -> (usize, usize) {
        let Some(source) = self.files.get(file) else {
            return (1, 1);
        };
        let text = source.text.as_str();
        let mut end = ids::at(offset).min(text.len());
        while !text.is_char_boundary(end) {
            end -= 1;
        }
        let lines = source.lines();
        let line = lines.partition_point(|start| *start <= end);
        let start = lines.get(line.saturating_sub(1)).copied().unwrap_or(0);
        (line, text.get(start..end).unwrap_or("").chars().count() + 1)
    }
}

#[cfg(test)]
mod tests {
    use super::Sources;

    #[test]
    fn places_are_lines_and_columns() {
        let mut sources = Sources::default();
        let file = sources.add("a.ovo", "ab\n½c\n\nd");
        let at = |offset| sources.line_column(file, offset);
        assert_eq!([at(0), at(2), at(3)], [(1, 1), (1, 3), (2, 1)]);
        // Inside a character, behind it, on an empty line, at and past the end.
        assert_eq!([at(4), at(5), at(7)], [(2, 1), (2, 2), (3, 1)]);
        assert_eq!([at(8), at(9), at(99)], [(4, 1), (4, 2), (4, 2)]);
    }
}
