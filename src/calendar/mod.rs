//! How long a job takes: activities over working days, crews, waits, seasons and hire.
//!
//! Everything is counted in whole minutes, so the same job gives the same dates on every machine. No clock is read: the
//! first day comes from the caller.
//!
//! * [`clock`]: working days and hours, holidays, seasons, lost days.
//! * [`holidays`]: the observed days of the United States federal holidays.
//! * [`Network`]: activities and waits; earliest and latest dates, floats, the critical path.
//! * [`fn@level`]: the same with crews that can be in one place only, and a bound on what any order could gain.
//! * [`hire`]: the least cost of a span of hire.
//!
//! ```
//! use ovolo::calendar::clock::{date_of, day_of};
//!
//! let first = date_of(0);
//! assert_eq!(day_of(first), 0);
//! ```

// A match over kinds lists them all, so that a new kind is noticed everywhere, and no conversion fails silently.
#![warn(
    clippy::wildcard_enum_match_arm,
    clippy::match_wildcard_for_single_variants
)]
#![warn(clippy::as_conversions)]

pub mod clock;
pub mod hire;
pub mod holidays;
pub(crate) mod level;
pub(crate) mod network;

pub use clock::{Clock, ClockFault, Instant, Season, Week};
pub use level::{Crew, Levelled, Order, level};
pub use network::{Activity, BrokenWait, Network, NetworkFault, Timed, Wait, WaitKind};
