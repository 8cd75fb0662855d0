//! Studies of a job: its total at many values of a given, where two alternates cost the same, which givens matter most, and what an
//! alternate costs over the years.
//!
//! Every value looked at is a version of its own in one program, calculated in one run. Opens no files and shows nothing.
//!
//! ```
//! # fn worked() -> ovolo::session::Session {
//! #     include!(concat!(env!("CARGO_MANIFEST_DIR"), "/tests/docs/worked.rs"))
//! # }
//! use ovolo::study::{Study, rank};
//!
//! let session = worked(); // a small job in memory
//! let run = session.run().expect("it is worked");
//! let study = Study {
//!     loaded: &run.job.loaded,
//!     program: &run.job.checked.program,
//!     survey: &run.survey,
//!     book: &run.book,
//!     options: &Default::default(),
//! };
//! let (total, ranked) = rank(&study, None).map_err(|_| "no total").expect("a total");
//! assert_eq!(total.expect("a sum"), 218_50);
//! // The pace may be 1 h to 4 h: two sashes at 40.00 USD an hour.
//! assert_eq!(ranked[0].effect, Some(240_00));
//! ```

// A match over kinds lists them all, so that a new kind is noticed everywhere, and no conversion fails silently.
#![warn(
    clippy::wildcard_enum_match_arm,
    clippy::match_wildcard_for_single_variants
)]
#![warn(clippy::as_conversions)]

mod cash;
mod flip;
mod life;
mod rank;
mod subject;

pub use cash::{CashMonth, cash};
pub use flip::{Flip, FlipAsk, Segment, Side, flip};
pub use life::{Life, LifeAsk, LifePlan, LifeRow, Payback, life, life_nodes, series};
pub use rank::{Axis, Grid, Ranked, grid, rank, rank_some};
pub use subject::{Subject, SubjectKind, find};

use crate::check::{self, Loaded, Options, Pin, Point};
use crate::diagnostics::Diagnostic;
use crate::estimate::{Basis, Refused, Survey, estimate_each};
use crate::eval;
use crate::prices::PriceBook;
use crate::pricing::Origin;
use crate::program::{Program, Version};
use crate::takeoff::Wish;

/// The job that is studied.
#[derive(Clone, Copy)]
pub struct Study<'a> {
    /// Its sheets.
    pub loaded: &'a Loaded,
    /// Its program, with the alternates.
    pub program: &'a Program,
    /// Its survey.
    pub survey: &'a Survey,
    /// Its prices.
    pub book: &'a PriceBook,
    /// How to run.
    pub options: &'a eval::Options<'a>,
}

/// Total of a point in cents, or why it has none.
pub type Total = Result<i128, Vec<Diagnostic>>;

impl Study<'_> {
    /// The total of each point: all of them are checked into one program and calculated in one run.
    /// Errors: what is wrong with the sheets at some point, or the run itself.
    pub fn totals(&self, points: &[Point]) -> Result<Vec<Total>, Refused> {
        let (checked, problems) = check::check_points(self.loaded, Options::default(), points);
        let Some(checked) = checked else {
            return Err(Refused::Messages(problems));
        };
        let basis = Basis {
            program: &checked.program,
            survey: self.survey,
            book: self.book,
            origin: Origin::default(),
        };
        let outcomes = estimate_each(&basis, &checked.points, Wish::default(), &[], self.options)?;
        Ok(outcomes
            .each
            .into_iter()
            .map(|o| o.map(|e| e.totals.grand))
            .collect())
    }

    /// The versions a study can be made of: all but mixed plans, whose picks would have to be made anew at every value.
    pub fn versions(&self) -> impl Iterator<Item = &Version> {
        self.program.versions.iter().filter(|v| v.pick.is_none())
    }
}

/// A point with one figure set.
fn at(alternate: Option<&str>, pins: &[Pin]) -> Point {
    Point {
        alternate: alternate.map(str::to_owned),
        pins: pins.to_vec(),
    }
}
