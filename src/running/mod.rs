//! What running a program shows: rows that fail, requirements that do not hold, trials that come out otherwise.
//!
//! Turns the evaluator's faults into messages that name the rule, the row and the cell. Knows no files and no money.
//!
//! ```
//! use ovolo::check::{Options, check, load};
//! use ovolo::session::Texts;
//!
//! let sheet = "survey opening {\n  mark  text  key\n  wide  length in in\n}\n\
//!     for each opening {\n  half = wide / 2\n}\n\
//!     trial \"a half\" {\n  with mark = \"A9\", wide = 30 in\n  expect half = 15 in\n}\n";
//! let files = Texts::from([("sheet.ovo", sheet)]);
//! let (loaded, _) = load(&["sheet.ovo".to_string()], &files);
//! let (checked, problems) = check(&loaded, Options { trials: true, ..Options::default() });
//! let outcomes = ovolo::running::trial::run_all(&checked.unwrap_or_else(|| panic!("{problems:?}")));
//! assert_eq!(outcomes[0].name, "a half");
//! assert!(outcomes[0].failures.is_empty());
//! ```

// A match over kinds lists them all, so that a new kind is noticed everywhere, and no conversion fails silently.
#![warn(
    clippy::wildcard_enum_match_arm,
    clippy::match_wildcard_for_single_variants
)]
#![warn(clippy::as_conversions)]

mod below_zero;
mod blamed;
mod doubts;
mod exceptions;
mod faults;
mod spellings;
pub mod trial;
mod trial_cuts;

pub use below_zero::below_zero;
pub use exceptions::{exceptions, pinned_nodes};
pub use faults::{Telling, fault_at, faults, table_of};
pub use spellings::spellings;
