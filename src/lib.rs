//! ovolo: an estimating engine for people who repair and reproduce historic wooden windows.
//!
//! A job is opened by a [`session::Session`], which asks for its files through [`session::Files`] and gives every figure that a change moves.
//! What comes of it is a [`session::Run`]: the checked program, the survey, the prices and the estimate, with money as decimals.
//! The library itself opens no files and prints nothing.
//!
//! ```
//! use ovolo::session::{Ask, Files, Session, Stamp};
//!
//! /// Files of the working folder; shipped sheets come from the program itself.
//! struct Folder;
//!
//! impl ovolo::check::Finder for Folder {
//!     fn find(&self, path: &str, from: Option<&str>) -> Result<(String, String), String> {
//!         if let Some(shipped) = ovolo::library::find(path, from) {
//!             return shipped;
//!         }
//!         let name = self.name(path, from.unwrap_or(""));
//!         let text = std::fs::read_to_string(&name).map_err(|e| e.to_string())?;
//!         Ok((name, text))
//!     }
//! }
//!
//! impl Files for Folder {
//!     fn name(&self, path: &str, from: &str) -> String {
//!         let folder = std::path::Path::new(from).parent();
//!         folder.map_or(path.into(), |f| f.join(path).display().to_string())
//!     }
//!     fn open(&self, name: &str) -> Result<Box<dyn std::io::Read + Send>, String> {
//!         Ok(Box::new(std::fs::File::open(name).map_err(|e| e.to_string())?))
//!     }
//!     fn stamp(&self, _: &str) -> Option<Stamp> {
//!         None
//!     }
//! }
//!
//! let ask = Ask { job: "demo-data/tallowgate-school/job.ovo".into(), ..Ask::default() };
//! let mut session = Session::new(ask, std::sync::Arc::new(Folder));
//! let moved = session.apply(&[], &Default::default()).map_err(|no| format!("{:?}", no.problems))?;
//! assert!(moved.iter().any(|figure| figure.name == "total"));
//! let run = session.run().ok_or("the job was worked")?;
//! assert_eq!(run.worked.estimate.total().to_string(), "154660.00");
//! # Ok::<(), String>(())
//! ```

#![warn(unreachable_pub)]

pub mod calendar;
pub mod charts;
pub mod check;
pub mod cutting;
pub mod defuse;
pub mod diagnostics;
pub mod drawing;
pub mod estimate;
pub mod eval;
pub mod explain;
pub mod ids;
pub mod library;
pub mod lists;
pub mod number;
pub mod paper;
pub mod prices;
pub mod pricing;
pub mod program;
pub mod report;
pub mod running;
pub mod schedule;
pub mod session;
pub mod show;
pub mod start;
pub mod study;
pub mod survey;
pub mod syntax;
pub mod table;
pub mod takeoff;
pub mod tally;
pub mod units;

// The tests' evaluator of rows is written against the public interface and is also used by tests within the crate.
#[cfg(test)]
extern crate self as ovolo;
