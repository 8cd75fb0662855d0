//! Text tables: finds out what parts the cells, and cuts the text into blocks of whole records that can be read side by side.
//!
//! Follows RFC 4180: a quote opens a cell only as its first character, a doubled quote inside is one quote, line breaks inside
//! are data. Everything else is a fault that is reported with its line, since a lone inch or ditto mark at the start of a cell would
//! otherwise swallow the rows below it. Must not know columns or units.

use std::ops::Range;

use crate::diagnostics::{CellPlace, Diagnostic};

use super::encoding::{TextReader, lines};
use super::raw::{CellRef, RawCell, RawRow, RowView};
use super::unquoted;

/// Bytes of one block.
const BLOCK: usize = 1 << 20;
/// Bytes of one piece of a block.
const PIECE: usize = 1 << 18;
/// Longest record; a longer one is a quote that never closes.
const MAX_RECORD: usize = 8 << 20;

/// Whole records, and the line the first one starts on.
pub(crate) struct Block {
    pub(crate) text: String,
    pub(crate) first_line: u32,
    pub(crate) delimiter: u8,
}

impl Block {
    /// Pieces of whole records, small enough that no thread waits long for the last one.
    pub(crate) fn pieces(&self) -> Vec<Piece<'_>> {
        let mut piece = Piece {
            text: &self.text,
            first_line: self.first_line,
            delimiter: self.delimiter,
        };
        let mut pieces = Vec::new();
        // A line feed may be data where there is a quote.
        if memchr::memchr(b'"', self.text.as_bytes()).is_none() {
            while let Some(end) = piece
                .text
                .as_bytes()
                .get(PIECE..)
                .and_then(|rest| memchr::memchr(b'\n', rest))
            {
                let Some((text, rest)) = piece.text.split_at_checked(PIECE + end + 1) else {
                    break;
                };
                pieces.push(Piece { text, ..piece });
                piece = Piece {
                    text: rest,
                    first_line: piece.first_line.saturating_add(lines(text.as_bytes())),
                    ..piece
                };
            }
        }
        pieces.push(piece);
        pieces
    }

    /// Calls `each` with every record, until it returns `false`.
    pub(crate) fn rows(&self, each: impl FnMut(&Record<'_>) -> bool) {
        Piece {
            text: &self.text,
            first_line: self.first_line,
            delimiter: self.delimiter,
        }
        .rows(each);
    }
}

/// A piece of a block.
#[derive(Clone, Copy)]
pub(crate) struct Piece<'b> {
    text: &'b str,
    first_line: u32,
    delimiter: u8,
}

impl Piece<'_> {
    /// Calls `each` with every record, until it returns `false`.
    pub(crate) fn rows(&self, mut each: impl FnMut(&Record<'_>) -> bool) {
        let line = |line: u64| {
            self.first_line
                .saturating_add(u32::try_from(line).unwrap_or(u32::MAX))
        };
        if unquoted::fits(self.text, self.delimiter) {
            return unquoted::lines(self.text, self.delimiter, |at, cells| {
                each(&Record {
                    line: line(u64::from(at)),
                    text: self.text,
                    cells,
                })
            });
        }
        let mut cells = Vec::new();
        records(self.text, self.delimiter, None, |at, record| {
            cells.clear();
            cells.extend((0..record.len()).filter_map(|cell| record.range(cell)));
            each(&Record {
                line: line(at),
                text: record.as_slice(),
                cells: &cells,
            })
        });
    }
}

/// Calls `each` with every record and the number of lines before it, until it returns `false`. Lines that begin with `comment`
/// are no records.
pub(crate) fn records(
    text: &str,
    delimiter: u8,
    comment: Option<u8>,
    mut each: impl FnMut(u64, &csv::StringRecord) -> bool,
) {
    let mut reader = csv::ReaderBuilder::new()
        .has_headers(false)
        .flexible(true)
        .delimiter(delimiter)
        .comment(comment)
        .from_reader(text.as_bytes());
    let mut record = csv::StringRecord::new();
    // The text is valid UTF-8 and rows may differ in width, so reading from memory cannot fail.
    while reader.read_record(&mut record).unwrap_or(false) {
        let (line, byte) = record.position().map_or((1, 0), |p| (p.line(), p.byte()));
        // A record's position is that of the lines before it that are blank or a comment: step over them.
        let start = usize::try_from(byte).ok();
        let start = start.and_then(|b| text.as_bytes().get(b..)).unwrap_or(&[]);
        if !each(line - 1 + lines_without_record(start, comment), &record) {
            return;
        }
    }
}

/// How many lines are before the next record.
fn lines_without_record(mut text: &[u8], comment: Option<u8>) -> u64 {
    let mut found = 0;
    loop {
        let skipped = match text.first() {
            Some(b'\n') => {
                found += 1;
                1
            }
            Some(b'\r') => 1,
            first if first.is_some() && first == comment.as_ref() => {
                memchr::memchr(b'\n', text).unwrap_or(text.len())
            }
            _ => return found,
        };
        text = text.get(skipped..).unwrap_or(&[]);
    }
}

/// A record: the line it starts on, and its cells as ranges of a text.
pub(crate) struct Record<'t> {
    line: u32,
    text: &'t str,
    cells: &'t [Range<usize>],
}

impl RowView for Record<'_> {
    fn row(&self) -> u32 {
        self.line
    }

    fn width(&self) -> usize {
        self.cells.len()
    }

    fn get(&self, column: usize) -> CellRef<'_> {
        self.cells
            .get(column)
            .and_then(|cell| self.text.get(cell.clone()))
            .map_or(CellRef::Blank, CellRef::text)
    }
}

/// A text file being cut into blocks.
pub(crate) struct CsvSource<'a> {
    name: String,
    reader: TextReader<'a>,
    delimiter: u8,
    rest: String,
    line: u32,
    ended: bool,
    problems: Vec<Diagnostic>,
    broken_quotes: usize,
}

impl<'a> CsvSource<'a> {
    /// Reads the first block, so that [`CsvSource::head`] has something to show.
    pub(crate) fn open(name: &str, reader: TextReader<'a>) -> Result<Self, Diagnostic> {
        let mut source = CsvSource {
            name: name.to_string(),
            reader,
            delimiter: b',',
            rest: String::new(),
            line: 1,
            ended: false,
            problems: Vec::new(),
            broken_quotes: 0,
        };
        // Twice, so that the end of a small file is known.
        source.fill()?;
        source.fill()?;
        Ok(source)
    }

    /// Whether two rows parted by `delimiter` may hold so many cells.
    pub(crate) fn may_hold(&self, delimiter: u8, cells: usize) -> bool {
        memchr::memchr_iter(delimiter, self.rest.as_bytes())
            .take(cells)
            .count()
            + 2
            >= cells
    }

    /// The first rows if cells were parted by `delimiter`.
    pub(crate) fn head(&self, delimiter: u8, most: usize) -> Vec<RawRow> {
        let scan = scan(self.rest.as_bytes(), delimiter, self.ended);
        let text = self.rest.get(..scan.boundary).unwrap_or("").to_string();
        let block = Block {
            text,
            first_line: self.line,
            delimiter,
        };
        let mut rows = Vec::new();
        block.rows(|record| {
            rows.push(own(record));
            rows.len() < most
        });
        rows
    }

    /// Decides what parts the cells. Called once, before the first block.
    pub(crate) fn set_delimiter(&mut self, delimiter: u8) {
        self.delimiter = delimiter;
    }

    /// Bytes read so far.
    pub(crate) fn bytes_done(&self) -> u64 {
        self.reader.bytes_done()
    }

    /// Faults and notes met so far, reported once.
    pub(crate) fn take_problems(&mut self) -> Vec<Diagnostic> {
        let mut list = self.reader.take_notes();
        list.append(&mut self.problems);
        if self.broken_quotes > MOST_BROKEN_QUOTES {
            if let Some(last) = list.iter_mut().rev().find(|d| d.code == "OV-023") {
                last.notes.push(format!(
                    "The same on {} more lines.",
                    self.broken_quotes - MOST_BROKEN_QUOTES
                ));
            }
            self.broken_quotes = 0;
        }
        list
    }

    /// The next whole records; `None` at the end.
    /// Errors: those of [`TextReader::next_block`], and OV-022 for a quote that never closes.
    pub(crate) fn next_block(&mut self) -> Result<Option<Block>, Diagnostic> {
        let next = self.cut_block();
        if next.is_err() {
            // Nothing can be trusted behind the fault.
            self.ended = true;
            self.rest.clear();
        }
        next
    }

    fn cut_block(&mut self) -> Result<Option<Block>, Diagnostic> {
        loop {
            let scan = scan(self.rest.as_bytes(), self.delimiter, self.ended);
            if scan.boundary > 0 {
                let rest = self.rest.split_off(scan.boundary);
                let text = std::mem::replace(&mut self.rest, rest);
                let first_line = self.line;
                self.line = self.line.saturating_add(scan.lines);
                for line in scan.broken_quotes {
                    self.report_broken_quote(first_line.saturating_add(line));
                }
                return Ok(Some(Block {
                    text,
                    first_line,
                    delimiter: self.delimiter,
                }));
            }
            if let (Some(line), true) =
                (scan.open_quote, self.ended || self.rest.len() > MAX_RECORD)
            {
                return Err(self.unclosed(self.line.saturating_add(line)));
            }
            if self.ended {
                return Ok(None);
            }
            self.fill()?;
        }
    }

    fn fill(&mut self) -> Result<(), Diagnostic> {
        match self.reader.next_block(BLOCK)? {
            Some(text) if self.rest.is_empty() => self.rest = text,
            Some(text) => self.rest.push_str(&text),
            None => self.ended = true,
        }
        Ok(())
    }

    fn cell(&self, line: u32) -> CellPlace {
        CellPlace {
            file: self.name.clone(),
            tab: None,
            row: line,
            column: None,
            heading: None,
        }
    }

    fn report_broken_quote(&mut self, line: u32) {
        self.broken_quotes += 1;
        if self.broken_quotes <= MOST_BROKEN_QUOTES {
            self.problems.push(
                Diagnostic::error("OV-023", "a quote opens or closes in the wrong place")
                    .at(self.cell(line), "")
                    .expected("a cell that begins with a quote ends with one, and quotes inside are doubled")
                    .note("A lone ditto or inch mark that begins a cell is written as four quotes: \"\"\"\"; or write the word ditto."),
            );
        }
    }

    fn unclosed(&self, line: u32) -> Diagnostic {
        Diagnostic::error("OV-022", "a quote opens here and never closes")
            .at(self.cell(line), "the cell begins with a quote")
            .expected("a cell that begins with a quote ends with one, and quotes inside are doubled")
            .note("A lone ditto or inch mark that begins a cell is written as four quotes: \"\"\"\"; or write the word ditto.")
    }
}

/// Lines with a broken quote that are shown one by one.
const MOST_BROKEN_QUOTES: usize = 5;

/// Copies a record.
pub(crate) fn own(record: &Record<'_>) -> RawRow {
    let own = |cell| match record.get(cell) {
        CellRef::Text(text) => RawCell::Text(text.to_string()),
        CellRef::Blank
        | CellRef::Number(_)
        | CellRef::Bool(_)
        | CellRef::Date(_)
        | CellRef::Error(_)
        | CellRef::NoResult
        | CellRef::Merged(..) => RawCell::Blank,
    };
    let mut cells: Vec<RawCell> = (0..record.width()).map(own).collect();
    while cells.last() == Some(&RawCell::Blank) {
        cells.pop();
    }
    RawRow {
        row: record.row(),
        cells,
    }
}

struct Scan {
    /// Bytes up to the end of the last whole record.
    boundary: usize,
    /// Line feeds before `boundary`.
    lines: u32,
    /// Line, counted from 0, of a quote still open at the end.
    open_quote: Option<u32>,
    /// Lines, counted from 0, where text follows a closing quote or a cell swallowed others, before `boundary`.
    broken_quotes: Vec<u32>,
}

fn scan(bytes: &[u8], delimiter: u8, ended: bool) -> Scan {
    #[derive(PartialEq, Clone, Copy)]
    enum At {
        Start,
        Plain,
        Quoted,
        Closing,
    }
    let mut found = Scan {
        boundary: 0,
        lines: 0,
        open_quote: None,
        broken_quotes: Vec::new(),
    };
    // Without a quote every line is a record.
    if memchr::memchr(b'"', bytes).is_none() {
        found.boundary = if ended {
            bytes.len()
        } else {
            memchr::memrchr(b'\n', bytes).map_or(0, |at| at + 1)
        };
        found.lines = lines(bytes.get(..found.boundary).unwrap_or(bytes));
        return found;
    }
    let (mut at, mut line, mut opened, mut inside) = (At::Start, 0u32, 0u32, 0);
    let mut kept = 0;
    for (i, &b) in bytes.iter().enumerate() {
        if at == At::Closing && (b == delimiter || b == b'\n' || b == b'\r') {
            let within = bytes.get(inside..i.saturating_sub(1)).unwrap_or_default();
            found
                .broken_quotes
                .extend(swallowed(within, delimiter).then_some(opened));
        }
        match (at, b) {
            (At::Quoted, b'"') => at = At::Closing,
            (At::Quoted, b'\n') => line += 1,
            (At::Quoted, _) => {}
            (At::Closing, b'"') => at = At::Quoted,
            (At::Start, b'"') => (at, opened, inside) = (At::Quoted, line, i + 1),
            (_, b'\n') => {
                at = At::Start;
                line += 1;
                found.boundary = i + 1;
                found.lines = line;
                kept = found.broken_quotes.len();
            }
            (_, b) if b == delimiter => at = At::Start,
            (_, b'\r') => at = At::Plain,
            (At::Closing, _) => {
                found.broken_quotes.push(line);
                at = At::Plain;
            }
            (At::Start | At::Plain, _) => at = At::Plain,
        }
    }
    if at == At::Quoted {
        found.open_quote = Some(opened);
    }
    if ended && at != At::Quoted && found.boundary < bytes.len() {
        found.boundary = bytes.len();
        found.lines = line;
        kept = found.broken_quotes.len();
    }
    found.broken_quotes.truncate(kept);
    found
}

/// Whether a quoted cell is what lies between two lone marks, each a whole cell: it begins and ends where a cell or a line ends.
fn swallowed(inside: &[u8], delimiter: u8) -> bool {
    let part = |b: &u8| *b == delimiter || *b == b'\n' || *b == b'\r';
    inside.len() > 1 && inside.first().is_some_and(part) && inside.last().is_some_and(part)
}

#[cfg(test)]
#[expect(
    clippy::as_conversions,
    reason = "the numbers of these tests are small"
)]
mod tests {
    use super::*;

    type Row = (u32, Vec<String>);

    fn all(bytes: &[u8]) -> (Vec<Row>, Vec<(&'static str, String)>) {
        let mut source = match CsvSource::open("t.csv", TextReader::new("t.csv", Box::new(bytes))) {
            Ok(s) => s,
            Err(d) => return (Vec::new(), vec![(d.code, String::new())]),
        };
        let mut rows = Vec::new();
        let mut faults = Vec::new();
        loop {
            match source.next_block() {
                Ok(Some(block)) => block.rows(|record| {
                    rows.push((
                        record.line,
                        record
                            .cells
                            .iter()
                            .map(|cell| record.text[cell.clone()].to_string())
                            .collect(),
                    ));
                    true
                }),
                Ok(None) => break,
                Err(d) => {
                    faults.push((
                        d.code,
                        crate::diagnostics::render::place_text(
                            &d.labels[0].place,
                            &Default::default(),
                        ),
                    ));
                    break;
                }
            }
        }
        for d in source.take_problems() {
            faults.push((
                d.code,
                crate::diagnostics::render::place_text(&d.labels[0].place, &Default::default()),
            ));
        }
        (rows, faults)
    }

    fn row(line: u32, cells: &[&str]) -> Row {
        (line, cells.iter().map(|c| (*c).to_string()).collect())
    }

    /// RFC 4180 section 2, items 1, 2, 5, 6 and 7.
    #[test]
    fn records_are_read_as_the_standard_says() {
        let text = b"a,b\r\n\"x, y\",\"line 1\r\nline 2\"\r\n\"say \"\"so\"\"\", c \nlast,row";
        assert_eq!(
            all(text),
            (
                vec![
                    row(1, &["a", "b"]),
                    row(2, &["x, y", "line 1\r\nline 2"]),
                    row(4, &["say \"so\"", " c "]),
                    row(5, &["last", "row"])
                ],
                vec![]
            )
        );
    }

    #[test]
    fn inch_marks_inside_a_cell_are_data() {
        assert_eq!(
            all(b"W1,2'-6 1/2\",30\"\n"),
            (vec![row(1, &["W1", "2'-6 1/2\"", "30\""])], vec![])
        );
    }

    #[test]
    fn a_lone_mark_at_the_start_of_a_cell_is_told_with_its_line() {
        let (_, faults) = all(b"Mark,Wing,Note\nW1,East,a\nW2,\",b\nW3,\",c\n");
        assert_eq!(faults, [("OV-023", "t.csv, line 3".to_string())]);
        let (_, faults) = all(b"Mark,Wing\nW1,East\nW2,\"\nW3,\"\nW4,West\n");
        assert_eq!(faults, [("OV-023", "t.csv, line 3".to_string())]);
        let (_, faults) = all(b"Mark,Wing,Note\nW2,\",b\nW3,\"x,c\n");
        assert_eq!(faults, [("OV-023", "t.csv, line 3".to_string())]);
        let (rows, faults) = all(b"a,\",\",\"\nb\"\n");
        assert_eq!((rows, faults), (vec![row(1, &["a", ",", "\nb"])], vec![]));
        let (_, faults) = all(b"Mark,Wing\nW1,East\nW2,\"\nW3,West\n");
        assert_eq!(faults, [("OV-022", "t.csv, line 3".to_string())]);
    }

    #[test]
    fn blank_lines_are_left_out_but_counted() {
        assert_eq!(
            all(b"\n\na\n\r\n\nb\n"),
            (vec![row(3, &["a"]), row(6, &["b"])], vec![])
        );
    }

    #[test]
    fn lines_are_counted_across_blocks() {
        let text: String = (1..=200_000).map(|i| format!("{i},\"a\nb\"\n")).collect();
        let (rows, faults) = all(text.as_bytes());
        assert!(faults.is_empty());
        assert_eq!(rows.len(), 200_000);
        assert!(
            rows.iter()
                .enumerate()
                .all(|(i, r)| r.0 as usize == 2 * i + 1 && r.1[0] == (i + 1).to_string())
        );
    }
}
