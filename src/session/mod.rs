//! A job as a program holds it open: its files, its sheets, its survey and prices, and what it remembers between runs.
//!
//! Opens no files itself; it asks [`Files`] for them, so that a command, a server and an editor all use it alike.

// A new kind of anything must be met wherever kinds are told apart, and no conversion may fail without a word.
#![warn(
    clippy::wildcard_enum_match_arm,
    clippy::match_wildcard_for_single_variants
)]
#![warn(clippy::as_conversions)]

mod apply;
mod contradictions;
mod files;
mod inputs;
mod job;
mod kept;
mod library;
mod marked;
mod moved;
mod photographs;
mod plans;

pub use apply::{Ask, Change, Hooks, Refusal, Run, Session};
pub use files::{Files, JobFile, JobFiles, Role, STANDARD_INPUT, Stamp};
pub use inputs::Priced;
pub use job::{Job, Unopened};
pub use kept::Kept;
pub use moved::{Moved, MovedRow};
pub use plans::{Plans, read_plan};
