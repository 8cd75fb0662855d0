//! Text without quotes to lines and cells: most surveys have no quote, and then every line is a record.
//!
//! Gives the same records as a reader of RFC 4180 does. Must not know what a cell means.

use std::ops::Range;

/// Whether [`lines`] reads a text rightly: it holds no quote, and lines end in a line feed, with or without a carriage return before it.
pub(crate) fn fits(text: &str, delimiter: u8) -> bool {
    let bytes = text.as_bytes();
    let feed_follows = |at: usize| bytes.get(at + 1) == Some(&b'\n');
    delimiter.is_ascii()
        && !matches!(delimiter, b'"' | b'\r' | b'\n')
        && !text.starts_with('\u{feff}')
        && memchr::memchr(b'"', bytes).is_none()
        && memchr::memchr_iter(b'\r', bytes).all(feed_follows)
}

/// Calls `each` with the number of every line that is not empty, counted from 0, and the ranges of its cells, until it returns `false`.
pub(crate) fn lines(text: &str, delimiter: u8, mut each: impl FnMut(u32, &[Range<usize>]) -> bool) {
    let bytes = text.as_bytes();
    let mut cells: Vec<Range<usize>> = Vec::new();
    let (mut start, mut line) = (0, 0u32);
    // Takes the cell that ends here; whether to go on.
    let mut cut = |at: usize| -> bool {
        if bytes.get(at) == Some(&delimiter) {
            cells.push(start..at);
            start = at + 1;
            return true;
        }
        let end = match bytes.get(start..at) {
            Some([.., b'\r']) => at - 1,
            Some(_) | None => at,
        };
        let empty = cells.is_empty() && start == end;
        cells.push(start..end);
        let goes_on = empty || each(line, &cells);
        cells.clear();
        start = at + 1;
        line = line.saturating_add(1);
        goes_on
    };
    for at in memchr::memchr2_iter(delimiter, b'\n', bytes) {
        if !cut(at) {
            return;
        }
    }
    // The last line may lack its line feed.
    cut(bytes.len());
}

#[cfg(test)]
#[expect(
    clippy::as_conversions,
    reason = "the numbers of these tests are small"
)]
mod tests {
    use super::{fits, lines};

    type Row = (u32, Vec<String>);

    fn ours(text: &str, delimiter: u8) -> Vec<Row> {
        let mut rows = Vec::new();
        lines(text, delimiter, |line, cells| {
            rows.push((
                line,
                cells
                    .iter()
                    .map(|cell| text[cell.clone()].to_owned())
                    .collect(),
            ));
            true
        });
        rows
    }

    /// The csv crate numbers a record by the line on which the search for it began.
    fn theirs(text: &str, delimiter: u8) -> Vec<Row> {
        let mut reader = csv::ReaderBuilder::new()
            .has_headers(false)
            .flexible(true)
            .delimiter(delimiter)
            .from_reader(text.as_bytes());
        let mut rows = Vec::new();
        for record in reader.records() {
            let record = record.expect("text is UTF-8");
            let before = record.position().expect("a place").byte() as usize;
            let blank = text[before..]
                .bytes()
                .take_while(|b| matches!(b, b'\r' | b'\n'))
                .count();
            let line = text[..before + blank]
                .bytes()
                .filter(|b| *b == b'\n')
                .count() as u32;
            rows.push((line, record.iter().map(str::to_owned).collect()));
        }
        rows
    }

    #[test]
    fn lines_are_cut_as_a_full_reader_cuts_them() {
        let pieces = [
            "a",
            "W12",
            ",",
            ",",
            "\n",
            "\r\n",
            ";",
            " ",
            "½",
            "größe ",
            "\t",
            "0.375",
            "\n\n",
            "1234567890",
        ];
        let mut state = 1u64;
        for _ in 0..4_000 {
            let mut text = String::new();
            for _ in 0..state % 23 {
                state = state
                    .wrapping_mul(6_364_136_223_846_793_005)
                    .wrapping_add(1_442_695_040_888_963_407);
                text.push_str(pieces[(state >> 33) as usize % pieces.len()]);
            }
            state = state.wrapping_add(1);
            for delimiter in *b",;\t" {
                assert!(fits(&text, delimiter));
                assert_eq!(ours(&text, delimiter), theirs(&text, delimiter), "{text:?}");
            }
        }
    }

    #[test]
    fn quotes_and_lone_carriage_returns_are_left_to_the_full_reader() {
        for text in ["a,\"b\"\n", "a\rb\n", "a\r", "a\r\r\n", "\u{feff}a\n"] {
            assert!(!fits(text, b','), "{text:?}");
        }
        assert!(!fits("a\n", b'"') && !fits("a\n", 0xbd) && fits("a\r\nb", b','));
    }

    #[test]
    fn the_caller_ends_it() {
        let mut count = 0;
        lines("a\nb\nc\nd\ne\n", b',', |_, _| {
            count += 1;
            count < 2
        });
        assert_eq!(count, 2);
    }
}
