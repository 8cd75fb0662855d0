//! Checks loaded sheets and builds the program: names, dimensions, missing values, choices, grain, layers.
//!
//! Every fault is reported, follow-ons are not: what failed to check is poisoned and passes silently through whatever uses it.
//! Reads no survey; only the CSV files of lookup tables, which are part of the sheets.
//!
//! ```
//! use ovolo::check::{Options, check, load};
//! use ovolo::session::Texts;
//!
//! let sheet = "survey opening {\n  mark  text  key\n  wide  length in in\n}\nfor each opening {\n  bad = wide + 1 h\n}\n";
//! let files = Texts::from([("sheet.ovo", sheet)]);
//! let (loaded, problems) = load(&["sheet.ovo".to_string()], &files);
//! assert!(problems.is_empty());
//! let (checked, problems) = check(&loaded, Options::default());
//! assert!(checked.is_none());
//! assert_eq!(problems.len(), 1);
//! ```

// A match over kinds lists them all, so that a new kind is noticed everywhere, and no conversion fails silently.
#![warn(
    clippy::wildcard_enum_match_arm,
    clippy::match_wildcard_for_single_variants
)]
#![warn(clippy::as_conversions)]

mod added;
mod amend;
mod asked;
mod blames;
mod calendar;
mod calls;
mod certain;
mod changes;
mod choose;
mod columns;
mod combinations;
mod cut;
mod decide;
mod decided_on;
mod declare;
mod declared;
mod defined;
mod exceptions;
mod expects;
mod expr;
mod extend;
mod grain;
mod job;
mod kept;
mod library;
mod life;
mod limits;
mod lists;
mod literals;
pub mod load;
mod lookup;
mod meant;
mod missing;
mod mix;
mod names;
mod number_type;
mod operators;
mod outline;
mod papers;
mod parts;
mod points;
mod private;
mod prove;
mod resources;
mod rounding;
mod rows;
mod sends;
mod shares;
mod spans;
mod table_columns;
mod table_edits;
mod table_rows;
mod taken;
mod takes;
mod text;
mod time;
mod trials;
mod typed;
mod unknown;
mod unused;
mod values;
mod varies;
mod words;

use crate::diagnostics::{Diagnostic, Span};
use crate::program::{NodeId, Program};
pub use asked::{site_facts, still_asked, unanswered};
use foldhash::HashMap;
pub use load::{Finder, Loaded, LoadedSheet, SHEETS, is_named, load, load_for_run, misnamed};
pub use outline::{Meaning, Named, Outline, outline};
pub use points::{Pin, Point, Written, read_quantity};
pub use trials::{CutExpect, TrialDef, TrialExpect, TrialOutcome, TrialTable};
use typed::Trace;

/// What checking gives besides messages.
#[derive(Debug, Default)]
pub struct Checked {
    /// The program.
    pub program: Program,
    traces: Vec<Trace>,
    /// Trials, when asked for. Their versions follow those of the program's alternates.
    pub trials: Vec<TrialDef>,
    /// Versions of the points asked for, in their order.
    pub points: Vec<usize>,
}

impl Checked {
    /// Which node each expression of the sheets (outside helpers) became in a version.
    pub fn nodes_of(&self, version: usize) -> HashMap<Span, NodeId> {
        let traces = self.traces.get(..=version).unwrap_or(&[]);
        let whole = traces.iter().rposition(|trace| !trace.goes_on).unwrap_or(0);
        traces[whole..]
            .iter()
            .flat_map(|trace| trace.nodes.iter().copied())
            .collect()
    }
}

/// What to check besides the job as decided.
#[derive(Debug, Clone, Copy, Default)]
pub struct Options {
    /// Build a version for each alternate.
    pub alternates: bool,
    /// Build the trials of the sheets.
    pub trials: bool,
}

/// Checks sheets. The program is there only when no message is an error; [`outline`] shows what is sound of the others.
pub fn check(loaded: &Loaded, options: Options) -> (Option<Checked>, Vec<Diagnostic>) {
    check_points(loaded, options, &[])
}

/// As [`check`], with a further version for each point.
pub fn check_points(
    loaded: &Loaded,
    options: Options,
    points: &[Point],
) -> (Option<Checked>, Vec<Diagnostic>) {
    let exceeded = limits::exceeded(loaded);
    if !exceeded.is_empty() {
        return (None, exceeded);
    }
    let (outline, problems) = outline::look(loaded, options, points);
    (outline.sound(&problems), problems)
}
