//! The one function that works a version of a job from its survey and prices, stage after stage.
//!
//! Opens no files; the caller reads them.

use crate::diagnostics::{Diagnostic, any_error};
use crate::eval::{self, Inputs, Results, RunError};
use crate::prices::PriceBook;
use crate::pricing::{self, Estimate, Origin};
use crate::program::{NodeId, Program};
use crate::running;
use crate::survey::{RawTexts, Report};
use crate::table::Table;
use crate::takeoff::{self, Wish};

/// The survey of a job as read, one entry for each table of the program.
#[derive(Debug, Default)]
pub struct Survey {
    /// The tables.
    pub tables: Vec<Table>,
    /// What reading them found.
    pub reports: Vec<Report>,
    /// Cells as written, where they were kept.
    pub texts: Vec<Option<RawTexts>>,
}

impl Survey {
    /// The tables as the evaluator takes them.
    pub fn inputs(&self) -> Inputs<'_> {
        Inputs { tables: self.tables.iter().collect() }
    }
}

/// A version, worked.
#[derive(Debug)]
pub struct Worked {
    /// Its estimate.
    pub estimate: Estimate,
    /// Columns of the nodes that were wanted.
    pub results: Results,
    /// What should be heard though it runs.
    pub warnings: Vec<Diagnostic>,
}

/// Why a version gave no estimate.
#[derive(Debug)]
pub enum Refused {
    /// What the user wrote or supplied.
    Messages(Vec<Diagnostic>),
    /// Stopped from outside.
    Stopped,
}

/// Works one version: runs its rules over the survey, adds up, prices. `more` are further nodes to keep the columns of.
/// Errors: rows that fail, requirements that do not hold, prices that lack; all of them.
pub fn estimate(
    program: &Program,
    version: usize,
    survey: &Survey,
    book: &PriceBook,
    wish: Wish,
    more: &[NodeId],
    options: &eval::Options<'_>,
    origin: Origin,
) -> Result<Worked, Refused> {
    let Some(v) = program.versions.get(version) else { return Err(Refused::Messages(vec![])) };
    let inputs = survey.inputs();
    let amounts = takeoff::wanted(program, v, wish);
    let mut wanted = amounts.clone();
    wanted.extend(v.requires.iter().map(|r| r.holds));
    wanted.extend_from_slice(more);
    let results = eval::run(program, &inputs, &wanted, options).map_err(run_error)?;
    let faults = running::faults(program, v, &inputs, &results, &amounts).map_err(run_error)?;
    if any_error(&faults) {
        return Err(Refused::Messages(faults));
    }
    let reports: Vec<&Report> = survey.reports.iter().collect();
    let notes = takeoff::survey_notes(program, v, &reports);
    let quantities = takeoff::collect(program, v, &results, &inputs.tables, notes, wish).map_err(Refused::Messages)?;
    let mut estimate = pricing::estimate(program, v, &quantities, book).map_err(Refused::Messages)?;
    estimate.origin = origin;
    let warnings = pricing::price_warnings(program, v, book);
    Ok(Worked { estimate, results, warnings })
}

/// A run that could not be made, as messages.
pub fn run_error(e: RunError) -> Refused {
    match e {
        RunError::Stopped => Refused::Stopped,
        other => Refused::Messages(vec![Diagnostic::error("OV-913", format!("the rules can't be run over this survey: {other:?}"))]),
    }
}
