//! From text to tree: cuts a sheet into statements by its lines, reads each with the grammar in `grammar/ovolo.pest`.
//!
//! Pure: no files. Never fails as a whole: what cannot be read is left out of the tree and told in a diagnostic.

pub mod lines;
pub mod mistakes;
pub mod parse;
pub mod tidy;
pub mod tree;

pub use parse::{parse_for_run, parse_sheet};
pub use tidy::tidy;
pub use tree::Sheet;
