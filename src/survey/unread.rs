//! What of the files of a survey is not read: columns they lack, headings nobody asked for, rows left out as totals or notes.
//!
//! Each may be meant and each may be a slip, so every run says it in a few words; the report has all of it.

use serde::Serialize;

use super::report::{Report, SkippedRows, TabReport};
use super::rows::SkipReason;
use crate::diagnostics::{CellPlace, Diagnostic};

/// Names and runs of rows reported one by one.
const MOST: usize = 8;
/// Letters at the beginning of two words by which they are akin.
const AKIN: usize = 4;

/// What is not read of one tab or text file.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Unread {
    /// File name as the user gave it.
    pub file: String,
    /// Tab of a workbook.
    pub tab: Option<String>,
    /// Last row of the headings.
    #[serde(skip)]
    heading_row: u32,
    /// Columns of the sheet that are under no heading.
    pub missing: Vec<Lacking>,
    /// Headings that the sheet does not ask for.
    pub unasked: Vec<String>,
    /// Rows skipped as totals or notes.
    pub skipped: Vec<SkippedRows>,
}

/// A column that the file lacks.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Lacking {
    /// Name in the sheet.
    pub column: String,
    /// What its rows are taken as; left blank when none.
    pub taken_as: Option<String>,
}

/// What is not read of the files of a survey; only those of which something is not.
pub fn unread(report: &Report) -> Vec<Unread> {
    report
        .tabs
        .iter()
        .map(|tab| of_tab(report, tab))
        .filter(|u| !u.is_empty())
        .collect()
}

fn of_tab(report: &Report, tab: &TabReport) -> Unread {
    let lacks = |name: &str| !tab.columns.iter().any(|c| c.name == name);
    let missing = report.columns.iter().filter(|c| lacks(&c.name));
    let told = |s: &&SkippedRows| matches!(s.reason, SkipReason::Total | SkipReason::Note);
    Unread {
        file: tab.file.clone(),
        tab: tab.tab.clone(),
        heading_row: tab.heading_rows.1,
        missing: missing
            .map(|c| Lacking {
                column: c.name.clone(),
                taken_as: c.assumed_for_blank.clone(),
            })
            .collect(),
        unasked: tab.unasked.clone(),
        skipped: tab.skipped.iter().filter(told).cloned().collect(),
    }
}

impl Unread {
    fn is_empty(&self) -> bool {
        self.missing.is_empty() && self.unasked.is_empty() && self.skipped.is_empty()
    }

    /// `no column for cracked, taken as 0 lites`, one for each column that is lacking.
    pub fn missing_words(&self) -> Vec<String> {
        let taken = |l: &Lacking| {
            l.taken_as
                .as_ref()
                .map_or_else(|| ", left blank".to_owned(), |v| format!(", taken as {v}"))
        };
        self.missing
            .iter()
            .map(|l| format!("{}{}", l.column, taken(l)))
            .collect()
    }

    /// `rows 9 to 10, a total`, one for each run.
    pub fn skipped_words(&self) -> Vec<String> {
        let rows = |s: &SkippedRows| {
            if s.first == s.last {
                format!("row {}", s.first)
            } else {
                format!("rows {} to {}", s.first, s.last)
            }
        };
        let reason = |s: &SkippedRows| {
            if s.reason == SkipReason::Total {
                "a total"
            } else {
                "a note"
            }
        };
        self.skipped
            .iter()
            .map(|s| format!("{}, {}", rows(s), reason(s)))
            .collect()
    }

    /// The same as a message (OV-735).
    pub fn message(&self) -> Diagnostic {
        let place = CellPlace {
            file: self.file.clone(),
            tab: self.tab.clone(),
            row: self.heading_row,
            column: None,
            heading: None,
        };
        let mut d = Diagnostic::warning("OV-735", "not all of the survey is read")
            .at(place, "the heading row");
        for words in self.missing_words().iter().take(MOST) {
            d = d.note(format!("no column for {words}"));
        }
        if let Some(more @ 1..) = self.missing.len().checked_sub(MOST) {
            d = d.note(format!("and no column for {more} more"));
        }
        if !self.unasked.is_empty() {
            d = d.note(format!("headings not asked for: {}", some(&self.unasked)));
        }
        if !self.skipped.is_empty() {
            d = d.note(format!(
                "skipped: {}",
                self.skipped_words()
                    .into_iter()
                    .take(MOST)
                    .collect::<Vec<_>>()
                    .join("; ")
            ));
        }
        if let Some(more @ 1..) = self.skipped.len().checked_sub(MOST) {
            d = d.note(format!("and {more} more runs of rows skipped"));
        }
        match self.akin() {
            Some((heading, column)) => {
                d.mend(format!("If \"{heading}\" is {column}, write that heading, or add it to the column's `headed` list in the sheet."))
            }
            None => d,
        }
    }

    /// A heading nobody asked for and a column that is lacking which share the beginning of a word.
    fn akin(&self) -> Option<(&str, &str)> {
        let begins = |text: &str| -> Vec<String> {
            let words = text.split(|c: char| !c.is_alphanumeric());
            words
                .filter(|w| w.chars().count() >= AKIN)
                .map(|w| w.chars().take(AKIN).flat_map(char::to_lowercase).collect())
                .collect()
        };
        self.missing.iter().find_map(|lacking| {
            let wanted = begins(&lacking.column);
            let heading = self
                .unasked
                .iter()
                .find(|h| begins(h).iter().any(|b| wanted.contains(b)))?;
            Some((heading.as_str(), lacking.column.as_str()))
        })
    }
}

/// The first of a list, and how many more.
fn some(list: &[String]) -> String {
    let shown = list
        .iter()
        .take(MOST)
        .cloned()
        .collect::<Vec<_>>()
        .join(", ");
    match list.len().saturating_sub(MOST) {
        0 => shown,
        more => format!("{shown} and {more} more"),
    }
}
