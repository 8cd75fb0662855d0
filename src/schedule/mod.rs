//! How long the job takes: the labor of a take-off laid out over the job's calendar.
//!
//! Activities are the phases of each area (a wing, an elevation), one for each trade that works in them. Phases of an area follow
//! one another in their order unless the calendar says that they may run side by side. Knows the job's terms and its
//! quantities; must not know prices or how anything is shown.
//!
//! ```
//! # fn worked() -> ovolo::session::Session {
//! #     include!(concat!(env!("CARGO_MANIFEST_DIR"), "/tests/docs/worked.rs"))
//! # }
//! let session = worked(); // a small job in memory
//! let run = session.run().expect("it is worked");
//! let plan = run.worked.estimate.schedule.as_ref().expect("the job has a calendar");
//! assert!(plan.start < plan.finish);
//! ```

// A match over kinds lists them all, so that a new kind is noticed everywhere, and no conversion fails silently.
#![warn(
    clippy::wildcard_enum_match_arm,
    clippy::match_wildcard_for_single_variants
)]
#![warn(clippy::as_conversions)]

mod build;
pub(crate) mod cash;
mod chart;
mod plan;

pub use build::{no_start, rates_of, schedule};
pub use chart::{bars, bars_by_page};
pub use plan::{Activity, Broken, Hired, Phase, Schedule, SpanDays, Week};
