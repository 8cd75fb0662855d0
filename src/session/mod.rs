//! A job as a program holds it open: its files, its sheets, its survey and prices, and what it remembers between runs.
//!
//! Opens no files itself; it asks [`Files`] for them, so that a command, a server and an editor all use it alike.
//!
//! ```
//! use ovolo::session::{Ask, Session, Texts};
//!
//! let job = "sheet \"Job\" layer job\nsurvey opening {\n  mark  text  key\n}\nresource joiner  labor  h\n\
//!     for each opening {\n  take joiner  2 h  for \"Work\"\n}\n\
//!     job {\n  survey opening from \"survey.csv\"\n  prices from \"prices.csv\"\n  money USD\n}\n";
//! let files = Texts::from([
//!     ("job.ovo", job),
//!     ("survey.csv", "mark\nA1\nA2\n"),
//!     ("prices.csv", "resource,unit,price\njoiner,h,40.00\n"),
//! ]);
//! let ask = Ask { job: "job.ovo".into(), ..Ask::default() };
//! let mut session = Session::new(ask, std::sync::Arc::new(files));
//! let moved = session.apply(&[], &Default::default()).map_err(|no| format!("{:?}", no.problems))?;
//! assert!(moved.iter().any(|figure| figure.name == "total"));
//! # Ok::<(), String>(())
//! ```

// A match over kinds lists them all, so that a new kind is noticed everywhere, and no conversion fails silently.
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
mod texts;

pub use apply::{Ask, Change, Hooks, Refusal, Run, Session};
pub use files::{Files, JobFile, JobFiles, Role, STANDARD_INPUT, Stamp};
pub use inputs::Priced;
pub use job::{Job, Unopened};
pub use kept::Kept;
pub use moved::{Moved, MovedRow};
pub use plans::{Plans, read_plan};
pub use texts::Texts;
