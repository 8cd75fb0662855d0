//! Which rows of a table are data. The rules, in order; every row that is left out is reported with its reason:
//!
//! 1. A row with nothing in it is blank.
//! 2. A row whose filled cells all repeat the headings above them (two at least) is a repeated heading.
//! 3. A row whose first filled cell begins with a word of summing up (total, subtotal, sum, average, count, carried forward …) is a total, unless
//!    the mark and every other cell that may not be blank are filled, and there is such a cell besides the mark. Without a mark it is no total
//!    either when a number that may not be blank is filled: "Total Care" may be a wing, and its row an opening whose mark was forgotten.
//! 4. A row without a mark, with nothing in any column the sheet reads, is a note.
//! 5. A row with text in the mark column alone is a note when the text begins with a word such as "note", "key" or "*", or has four words or
//!    more, and the sheet wants more than a mark. Any other row with a mark alone is a fault: a lone mark may be an opening nobody measured.
//! 6. A row with one text alone that begins with such a word and a colon ("Note: ...") is a note, wherever the text stands.
//! 7. Any other row without a mark that has anything in a column the sheet reads is a fault, never skipped.
//!
//! Each row is judged by itself, so rows can be read side by side in any order. Must not know units or values.

use serde::Serialize;

use crate::table::{ColumnKind, OnMissing, Schema};

use super::heading::{Mapping, Origin, plain};
use super::raw::{CellRef, RowView};

/// Why a row was left out.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum SkipReason {
    /// Above the heading row.
    AboveHeading,
    /// Nothing in it.
    Blank,
    /// The headings again.
    RepeatedHeading,
    /// A total or subtotal.
    Total,
    /// A note: no mark and nothing that the sheet reads, or words alone.
    Note,
}

impl SkipReason {
    /// In words, after "skipped: ".
    pub fn words(self) -> &'static str {
        match self {
            SkipReason::AboveHeading => "above the headings",
            SkipReason::Blank => "blank",
            SkipReason::RepeatedHeading => "the headings repeated",
            SkipReason::Total => "a total",
            SkipReason::Note => "a note, nothing that the sheet reads",
        }
    }
}

/// What a row is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum RowKind {
    Data,
    Skip(SkipReason),
    /// Data without a mark.
    NoMark,
    /// A mark without data.
    MarkOnly,
}

/// What the rules need to know of a table.
pub(crate) struct RowRules {
    /// File column of the mark.
    mark: Option<usize>,
    /// File columns of the other columns that the sheet reads.
    others: Vec<usize>,
    /// Those of them that may not be blank.
    required: Vec<usize>,
    /// Those of these that hold numbers.
    measures: Vec<usize>,
    /// Bare headings of the file.
    headings: Vec<String>,
}

impl RowRules {
    pub(crate) fn new(schema: &Schema, mapping: &Mapping) -> Self {
        let mark = schema.key.or(schema.parent.as_ref().map(|p| p.1));
        let mut rules = RowRules {
            mark: None,
            others: Vec::new(),
            required: Vec::new(),
            measures: Vec::new(),
            headings: mapping.shown.iter().map(|h| plain(h)).collect(),
        };
        for (i, (spec, origin)) in schema.columns.iter().zip(&mapping.origins).enumerate() {
            let Origin::Cells(at, _) = origin else {
                continue;
            };
            if Some(i) == mark {
                rules.mark = Some(*at);
            } else {
                rules.others.push(*at);
                if spec.blank == OnMissing::Refuse {
                    rules.required.push(*at);
                    if matches!(spec.kind, ColumnKind::Number { .. }) {
                        rules.measures.push(*at);
                    }
                }
            }
        }
        rules
    }

    /// Applies the rules to a row.
    pub(crate) fn judge(&self, row: &impl RowView) -> RowKind {
        let mark = self.mark.map_or(CellRef::Blank, |m| row.get(m));
        let any_other = self.others.iter().any(|c| !row.get(*c).is_blank());
        let mut filled = (0..row.width()).filter(|c| !row.get(*c).is_blank());
        let Some(first) = filled.next() else {
            return RowKind::Skip(SkipReason::Blank);
        };
        let is_total = matches!(row.get(first), CellRef::Text(text) if sums_up(text));
        if any_other && !mark.is_blank() && !is_total && !self.suspect(mark) {
            return RowKind::Data;
        }
        let rest = filled.count();
        if rest > 0 && self.repeats_headings(row) {
            return RowKind::Skip(SkipReason::RepeatedHeading);
        }
        let wants_more = !self.required.is_empty();
        let lacks = mark.is_blank() && self.mark.is_some()
            || self.required.iter().any(|c| row.get(*c).is_blank());
        let forgotten = self.mark.is_some()
            && mark.is_blank()
            && self.measures.iter().any(|c| !row.get(*c).is_blank());
        if is_total && (lacks || !wants_more) && !forgotten {
            return RowKind::Skip(SkipReason::Total);
        }
        match (self.mark, mark) {
            (None, _) if any_other => RowKind::Data,
            (Some(_), CellRef::Blank)
                if rest == 0 && wants_more && begins_as_note(row.get(first)) =>
            {
                RowKind::Skip(SkipReason::Note)
            }
            (_, CellRef::Blank) if any_other => RowKind::NoMark,
            (_, CellRef::Blank) => RowKind::Skip(SkipReason::Note),
            (_, CellRef::Text(text)) if !any_other && rest == 0 && wants_more && is_note(text) => {
                RowKind::Skip(SkipReason::Note)
            }
            _ if !any_other && wants_more => RowKind::MarkOnly,
            _ => RowKind::Data,
        }
    }

    /// Whether a mark looks like the first cell of a total or of a repeated heading.
    fn suspect(&self, mark: CellRef<'_>) -> bool {
        let CellRef::Text(text) = mark else {
            return false;
        };
        sums_up(text)
            || self
                .mark
                .and_then(|m| self.headings.get(m))
                .is_some_and(|h| same_heading(text, h))
    }

    fn repeats_headings(&self, row: &impl RowView) -> bool {
        (0..row.width()).all(|c| match row.get(c) {
            CellRef::Blank => true,
            CellRef::Text(t) => self.headings.get(c).is_some_and(|h| same_heading(t, h)),
            CellRef::Number(_)
            | CellRef::Bool(_)
            | CellRef::Date(_)
            | CellRef::Error(_)
            | CellRef::NoResult
            | CellRef::Merged(..) => false,
        })
    }
}

fn same_heading(text: &str, bare: &str) -> bool {
    // The first letter rules out nearly every cell without building anything.
    let first = |t: &str| {
        t.chars()
            .find(|c| !c.is_whitespace())
            .and_then(|c| c.to_lowercase().next())
    };
    first(text) == bare.chars().next() && plain(text) == bare
}

const SUMS: [&str; 13] = [
    "total",
    "totals",
    "subtotal",
    "subtotals",
    "sub-total",
    "sub total",
    "grand total",
    "sum",
    "average",
    "mean",
    "count",
    "carried forward",
    "brought forward",
];

fn sums_up(text: &str) -> bool {
    // One look at the first letter spares a million marks the rest.
    if !matches!(
        text.as_bytes().first(),
        Some(
            b't' | b's'
                | b'g'
                | b'a'
                | b'm'
                | b'c'
                | b'b'
                | b'T'
                | b'S'
                | b'G'
                | b'A'
                | b'M'
                | b'C'
                | b'B'
        )
    ) {
        return false;
    }
    begins_with_any(text, &SUMS)
}

const NOTES: [&str; 10] = [
    "note", "notes", "n.b", "nb", "key", "legend", "remark", "remarks", "source", "sources",
];

fn is_note(text: &str) -> bool {
    text.starts_with(['*', '†', '‡'])
        || begins_with_any(text, &NOTES)
        || text.split_whitespace().count() >= 4
}

/// A text that says itself that it is a note: a word of [`NOTES`] with a colon.
fn begins_as_note(cell: CellRef<'_>) -> bool {
    let CellRef::Text(text) = cell else {
        return false;
    };
    text.split_once(':').is_some_and(|(word, said)| {
        !said.is_empty() && NOTES.iter().any(|n| n.eq_ignore_ascii_case(word.trim()))
    })
}

/// Whether the text begins with one of these as a whole word, in any case.
fn begins_with_any(text: &str, words: &[&str]) -> bool {
    let bytes = text.as_bytes();
    words.iter().any(|w| {
        bytes
            .get(..w.len())
            .is_some_and(|start| start.eq_ignore_ascii_case(w.as_bytes()))
            && text.get(w.len()..).is_some_and(|rest| {
                !rest.starts_with(|c: char| c.is_alphanumeric() || c == '-' || c == '_')
            })
    })
}
