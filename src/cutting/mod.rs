//! Cut plans: parts out of boards, sheets and bars, with a bound that is proved.
//!
//! The solver suggests, in floating point where that is fast. What is believed is worked out in whole numbers: [`bound`] from prices
//! written into the plan, checked again by [`verify`], and [`replay`] cut by cut from the plan itself. Neither check uses anything of the
//! solver.
//!
//! ```
//! use ovolo::cutting::solve::{Effort, Watch, solve};
//! use ovolo::cutting::{instance, replay, verify};
//!
//! struct ToTheEnd;
//! impl Watch for ToTheEnd {
//!     fn go_on(&self, _done: u64, _of: u64) -> bool {
//!         true
//!     }
//! }
//!
//! let file = r#"{"kind": "1d", "unit": "in", "kerf": 0,
//!     "stock": [{"length": 96, "cost": 5}], "parts": [{"length": 40, "count": 4}]}"#;
//! let problem = instance::read(file, "bars.json").expect("a problem");
//! let plan = solve(&problem, Effort::USUAL, &ToTheEnd).expect("a plan");
//! assert_eq!(plan.cost, 10);
//! assert!(replay::replay(&problem, &plan).is_empty());
//! assert_eq!(verify::verify(&problem, &plan.proofs[0]), Some(10));
//! ```

// A match over kinds lists them all, so that a new kind is noticed everywhere, and no conversion fails silently.
#![warn(
    clippy::wildcard_enum_match_arm,
    clippy::match_wildcard_for_single_variants
)]
#![warn(clippy::as_conversions)]

mod any_cuts;
pub mod bound;
pub mod check;
mod complete;
mod dive;
pub mod file;
mod fill;
mod greedy;
mod improve;
pub mod instance;
mod master;
pub mod model;
pub(crate) mod offcuts;
pub mod one_sheet;
mod pattern;
pub mod plan;
pub mod replay;
mod simplex;
pub mod solve;
mod tables;
mod task;
mod tighten;
pub mod verify;
pub mod words;
