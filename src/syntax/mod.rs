//! From text to tree: cuts a sheet into statements by its lines, reads each with the grammar in `grammar/ovolo.pest`.
//!
//! Pure: no files. Never fails as a whole: what cannot be read is left out of the tree and reported in a diagnostic.
//!
//! ```
//! use ovolo::diagnostics::Sources;
//!
//! let text = "given pace  2 h\n";
//! let file = Sources::default().add("rules.ovo", text);
//! let (sheet, problems) = ovolo::syntax::parse_sheet(file, text);
//! assert_eq!((sheet.statements.len(), problems.len()), (1, 0));
//! ```

// A match over kinds lists them all, so that a new kind is noticed everywhere, and no conversion fails silently.
#![warn(
    clippy::wildcard_enum_match_arm,
    clippy::match_wildcard_for_single_variants
)]
#![warn(clippy::as_conversions)]
// What comes from outside is never where a list is thought to end.
#![warn(clippy::indexing_slicing)]

pub(crate) mod lines;
pub(crate) mod mistakes;
pub(crate) mod parse;
pub mod tidy;
pub mod tree;

pub use parse::{parse_for_run, parse_sheet};
pub use tidy::tidy;
pub use tree::Sheet;
