//! Papers as PDF: laid out as data first, then written.
//!
//! Layout counts in whole micrometers and works no figure out. The same paper gives the same bytes; no clock is read.
//!
//! ```
//! # fn worked() -> ovolo::session::Session {
//! #     include!(concat!(env!("CARGO_MANIFEST_DIR"), "/tests/docs/worked.rs"))
//! # }
//! use ovolo::lists::{Made, papers, wanted};
//! let session = worked(); // a small job in memory, with a paper of its windows
//! let run = session.run().expect("it is worked");
//! let (program, tables) = (&run.job.checked.program, run.survey.inputs().tables);
//! let version = &program.versions[0];
//! let nodes = wanted(program, version);
//! let results = ovolo::eval::run(program, &run.survey.inputs(), &nodes, &Default::default()).expect("it runs");
//! let made = Made::new(program, version, &tables, &results, &run.worked.estimate);
//! let papers = papers(&made, None, &|_| ovolo::paper::Head::default()).expect("they add up");
//! let papers: Vec<_> = papers.iter().map(|paper| paper.kept()).collect(); // all rows made
//! use ovolo::report::pdf::{Format, Sheet, pdf};
//! let file = pdf(&papers[0], Sheet::Letter).expect("it is written");
//! assert_eq!(file.pages, 1);
//! assert!(file.bytes.starts_with(b"%PDF"));
//! ```

mod breaks;
mod carried;
mod columns;
mod faces;
mod flow;
mod furniture;
mod layout;
mod numbers;
mod pages;
mod rows;
mod shapes;
mod wrap;
mod write;

pub use faces::{Face, Lacking};
pub use layout::lay_out;
pub use pages::{Format, Laid, MM, Page, Part, Piece, Placed, Role, Sheet, Um, What};

use crate::paper::Paper;

/// A paper as a file.
#[derive(Debug, Clone)]
pub struct Pdf {
    /// The file.
    pub bytes: Vec<u8>,
    /// How many pages it has.
    pub pages: usize,
    /// What could not be placed on them, in sentences.
    pub told: Vec<String>,
}

/// Why a file could not be written.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PdfError(pub String);

/// A paper as a PDF file for one sheet: titled, tagged for readers who do not see it, in the rules of PDF/UA-1.
/// Errors: [`PdfError`] when the writer refuses what was laid out.
pub fn pdf(paper: &Paper, sheet: Sheet) -> Result<Pdf, PdfError> {
    let laid = lay_out(paper);
    let bytes = write::write(paper, &laid, sheet)?;
    Ok(Pdf {
        bytes,
        pages: laid.pages.len(),
        told: laid.told,
    })
}
