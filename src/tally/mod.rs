//! What is to be cut: the parts of a version and the stock on hand, as a problem that [`crate::cutting`] solves.
//!
//! ```
//! # fn worked() -> ovolo::session::Session {
//! #     include!(concat!(env!("CARGO_MANIFEST_DIR"), "/tests/docs/worked.rs"))
//! # }
//! use ovolo::cutting::instance;
//! use ovolo::eval::{Options, run};
//! use ovolo::takeoff::{parts, wanted_parts};
//!
//! let session = worked(); // a small job in memory: two stiles for each of two sashes
//! let job = session.run().expect("it is worked");
//! let (program, inputs) = (&job.job.checked.program, job.survey.inputs());
//! let version = &program.versions[0];
//! let nodes = wanted_parts(program, version);
//! let results = run(program, &inputs, &nodes, &Options::default()).expect("it runs");
//! let found = parts(program, version, &results, &inputs.tables);
//! let stock = r#"{"kind": "1d", "unit": "1/8 in", "stock": [{"length": 768, "cost": 900}]}"#;
//! let mut problem = instance::read(stock, "bars.json").expect("stock");
//! ovolo::tally::add_parts(&mut problem, "bars.json", version, &found, "pine").expect("whole eighths");
//! assert_eq!(problem.pieces(), 4);
//! ```

// A match over kinds lists them all, so that a new kind is noticed everywhere, and no conversion fails silently.
#![warn(
    clippy::wildcard_enum_match_arm,
    clippy::match_wildcard_for_single_variants
)]
#![warn(clippy::as_conversions)]

mod parts;
mod stock;

pub use parts::add_parts;
pub use stock::cut_problem;
