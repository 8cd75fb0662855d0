//! Cut plans that trials expect figures of.

use crate::check::{CutExpect, TrialDef};
use crate::cutting::plan::Plan;
use crate::cutting::replay::replay;
use crate::cutting::solve::{Effort, NoPlan, Watch, solve};
use crate::cutting::verify::verify;
use crate::diagnostics::Diagnostic;
use crate::eval::Results;
use crate::number::Exact;
use crate::program::Program;
use crate::syntax::tree::CutFigure;
use crate::table::Table;
use crate::takeoff::parts;
use crate::tally::cut_problem;

/// The plans of one trial, each made once.
#[derive(Default)]
pub(super) struct Plans(Vec<(usize, Result<Plan, String>)>);

/// A trial is small: nobody waits for it, and nobody stops it.
struct ToTheEnd;

impl Watch for ToTheEnd {
    fn go_on(&self, _: u64, _: u64) -> bool {
        true
    }
}

impl Plans {
    /// A figure of a plan, in currency. Errors in words: why there is no plan.
    pub(super) fn figure(
        &mut self,
        program: &Program,
        trial: &TrialDef,
        (results, tables): (&Results, &[&Table]),
        (expect, figure): (&CutExpect, CutFigure),
    ) -> Result<Exact, String> {
        let at = match self.0.iter().position(|(block, _)| *block == expect.block) {
            Some(at) => at,
            None => {
                let made = plan(program, trial, (results, tables), expect);
                self.0.push((expect.block, made));
                self.0.len() - 1
            }
        };
        let Some((_, made)) = self.0.get(at) else {
            return Err("there is no plan".to_owned());
        };
        let plan = made.as_ref().map_err(String::clone)?;
        let cents = match figure {
            CutFigure::Cost => plan.cost,
            CutFigure::Bound => plan.bound(),
        };
        Exact::ratio(cents, 100).ok_or_else(|| "it is out of range".to_owned())
    }
}

/// Makes a plan as `ovolo cut` does, and checks it as `ovolo cut` does.
fn plan(
    program: &Program,
    trial: &TrialDef,
    (results, tables): (&Results, &[&Table]),
    expect: &CutExpect,
) -> Result<Plan, String> {
    let words = |list: Vec<Diagnostic>| {
        list.first().map_or_else(String::new, |d| {
            let found = d.found.as_ref().map(|f| format!(": {f}"));
            format!("{}: {}{}", d.code, d.message, found.unwrap_or_default())
        })
    };
    let (Some(terms), Some(version)) = (
        program.terms.cuts.get(expect.block),
        program.versions.get(trial.version),
    ) else {
        return Err("there is no cut block".to_owned());
    };
    let found = parts(program, version, results, tables);
    let problem = cut_problem(
        program,
        version,
        terms,
        tables,
        &found,
        &expect.price,
        &trial.name,
    )
    .map_err(words)?;
    let effort = Effort {
        rounds: terms.rounds.map_or(Effort::USUAL.rounds, u64::from),
        seed: terms.seed.map_or(Effort::USUAL.seed, u64::from),
    };
    let plan = solve(&problem, effort, &ToTheEnd).map_err(|why| match why {
        NoPlan::NoPlace(_) => "there is not enough stock for all parts".to_owned(),
        NoPlan::TooMany(_) => "there are too many different parts for one plan".to_owned(),
    })?;
    if let Some(fault) = replay(&problem, &plan).first() {
        return Err(format!("the plan cannot be cut: {fault}"));
    }
    match plan
        .proofs
        .iter()
        .all(|p| verify(&problem, p) >= Some(p.bound))
    {
        true => Ok(plan),
        false => Err("the bound of the plan is not proved".to_owned()),
    }
}
