//! What is wrong, where, and how to mend it: plain data, built by every stage and drawn only by [`render`].
//!
//! Nothing here knows the language, units or surveys; it knows places in texts and in tables.
//!
//! ```
//! use ovolo::diagnostics::Diagnostic;
//!
//! let d = Diagnostic::error("OV-133", "the unit is missing after `2`").expected("a unit");
//! assert!(d.is_error());
//! assert!(ovolo::diagnostics::codes::find(d.code).is_some());
//! ```

// A match over kinds lists them all, so that a new kind is noticed everywhere, and no conversion fails silently.
#![warn(
    clippy::wildcard_enum_match_arm,
    clippy::match_wildcard_for_single_variants
)]
#![warn(clippy::as_conversions)]

pub mod codes;
pub mod render;
pub(crate) mod source;
pub mod suggest;

use serde::Serialize;
pub use source::{CellPlace, FileId, Place, Sources, Span, offset};

/// How grave a message is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Severity {
    /// Nothing is run or written.
    Error,
    /// The run goes on; the matter is shown on its results.
    Warning,
}

/// A place with a few words under it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Label {
    /// Where it points.
    pub place: Place,
    /// What is there; may be empty.
    pub text: String,
}

/// One message for a person. Built with [`Diagnostic::error`] or [`Diagnostic::warning`] and the methods that add to it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Diagnostic {
    /// Stable code such as `OV-301`; every code has an entry in [`codes`].
    pub code: &'static str,
    /// Error or warning.
    pub severity: Severity,
    /// One sentence that states the problem.
    pub message: String,
    /// Places; the first is the main one.
    pub labels: Vec<Label>,
    /// What was found, in the user's words.
    pub found: Option<String>,
    /// What would have been accepted.
    pub expected: Option<String>,
    /// Further facts, each a sentence.
    pub notes: Vec<String>,
    /// What to write instead; only when it is provably right.
    pub mend: Option<String>,
    /// For a fault met on several rows: how many.
    pub rows: usize,
    /// The marks of the first few rows it was met on.
    pub marks: Vec<String>,
}

impl Diagnostic {
    fn new(code: &'static str, severity: Severity, message: impl Into<String>) -> Self {
        Diagnostic {
            code,
            severity,
            message: bounded(message.into()),
            labels: Vec::new(),
            found: None,
            expected: None,
            notes: Vec::new(),
            mend: None,
            rows: 0,
            marks: Vec::new(),
        }
    }

    /// A message that stops the run.
    pub fn error(code: &'static str, message: impl Into<String>) -> Self {
        Self::new(code, Severity::Error, message)
    }

    /// A message that lets the run go on.
    pub fn warning(code: &'static str, message: impl Into<String>) -> Self {
        Self::new(code, Severity::Warning, message)
    }

    /// Adds a place; the first one added is the main one.
    pub fn at(mut self, place: impl Into<Place>, text: impl Into<String>) -> Self {
        self.labels.push(Label {
            place: place.into(),
            text: bounded(text.into()),
        });
        self
    }

    /// Says what was found.
    pub fn found(mut self, text: impl Into<String>) -> Self {
        self.found = Some(bounded(text.into()));
        self
    }

    /// Says what would have been accepted.
    pub fn expected(mut self, text: impl Into<String>) -> Self {
        self.expected = Some(bounded(text.into()));
        self
    }

    /// Adds a further fact.
    pub fn note(mut self, text: impl Into<String>) -> Self {
        self.notes.push(bounded(text.into()));
        self
    }

    /// Says how to mend it.
    pub fn mend(mut self, text: impl Into<String>) -> Self {
        self.mend = Some(bounded(text.into()));
        self
    }

    /// Says on how many rows it was met, and the first marks.
    pub fn on_rows(mut self, rows: usize, marks: Vec<String>) -> Self {
        self.rows = rows;
        self.marks = marks;
        self
    }

    /// The main place, if there is one.
    pub fn place(&self) -> Option<&Place> {
        self.labels.first().map(|l| &l.place)
    }

    /// Whether it stops the run.
    pub fn is_error(&self) -> bool {
        self.severity == Severity::Error
    }
}

/// Bytes of one part of a message: names and lists from outside may be as long as a sheet, and are in thousands of messages.
const MOST_BYTES: usize = 2_000;

/// A text cut where nobody would read on.
fn bounded(mut text: String) -> String {
    if text.len() > MOST_BYTES {
        let mut end = MOST_BYTES;
        while !text.is_char_boundary(end) {
            end -= 1;
        }
        text.truncate(end);
        text.push_str(" ...");
        text.shrink_to_fit();
    }
    text
}

/// Whether any message of the list stops the run.
pub fn any_error(list: &[Diagnostic]) -> bool {
    list.iter().any(Diagnostic::is_error)
}
