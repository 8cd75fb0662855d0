//! What several tests need.

#![allow(dead_code)] // each test takes what it needs

use ovolo::diagnostics::FileId;
use ovolo::syntax::parse_sheet;

/// The tree of a sheet without its places, in a form to compare. Blanks in table cells do not count.
pub fn tree(text: &str) -> String {
    let (sheet, problems) = parse_sheet(FileId(0), text);
    assert!(
        problems.is_empty(),
        "{:?}\n{text}\n{text:?}",
        problems.iter().map(|d| &d.message).collect::<Vec<_>>()
    );
    let mut out = String::new();
    let debug = format!("{sheet:?}");
    let mut rest = debug.as_str();
    while let Some(at) = rest.find("Span {") {
        out.push_str(&rest[..at]);
        rest = rest[at..].find('}').map_or("", |end| &rest[at + end + 1..]);
    }
    out.push_str(rest);
    let mut parts = out.split("CellText { text: ");
    let mut plain = parts.next().unwrap_or("").to_string();
    for part in parts {
        let (cell, after) = part.split_once(", span").unwrap_or((part, ""));
        plain.push_str(
            &cell
                .replace("\\u{a0}", " ")
                .replace("\\t", " ")
                .replace("\\u{feff}", " ")
                .replace(['−', '-'], "-")
                .split_whitespace()
                .collect::<String>(),
        );
        plain.push_str(after);
    }
    plain
}

/// Random numbers from a seed, the same on every machine.
pub struct Dice(pub u64);

impl Dice {
    /// A number below `sides`.
    pub fn roll(&mut self, sides: usize) -> usize {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        usize::try_from(self.0 >> 33).unwrap_or(0) % sides.max(1)
    }
}
