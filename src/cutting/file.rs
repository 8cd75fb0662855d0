//! A plan as a file: JSON with the hash of the problem it was made from.
//!
//! ```
//! # fn bars() -> (ovolo::cutting::model::Problem, ovolo::cutting::plan::Plan) {
//! #     include!(concat!(env!("CARGO_MANIFEST_DIR"), "/tests/docs/bars.rs"))
//! # }
//! use ovolo::cutting::file::{read, write};
//! let (problem, plan) = bars();
//! assert_eq!(read(&write(&problem, &plan), "bars.plan", &problem).expect("its plan"), plan);
//! ```

use super::model::Problem;
use super::plan::{Plan, PlannedCut, Proof};
use super::replay::replay;
use super::verify::verify;
use crate::diagnostics::{Diagnostic, Place};
use serde::{Deserialize, Serialize};

/// What the first field of a plan says.
const SCHEMA: &str = "ovolo-plan/1";

#[derive(Debug, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct Written {
    schema: String,
    made_from: String,
    finished: bool,
    cost: i64,
    greedy: i64,
    proofs: Vec<Proof>,
    cuts: Vec<PlannedCut>,
}

/// The text of a plan file.
pub fn write(problem: &Problem, plan: &Plan) -> String {
    let written = Written {
        schema: SCHEMA.to_string(),
        made_from: problem.hash(plan.finished),
        finished: plan.finished,
        cost: plan.cost,
        greedy: plan.greedy,
        proofs: plan.proofs.clone(),
        cuts: plan.cuts.clone(),
    };
    let text = serde_json::to_string_pretty(&written).unwrap_or_default();
    text + "\n"
}

/// Reads a plan for this problem and cuts it again. Errors: OV-855 for a file that is no plan, OV-959 for a plan made from other parts,
/// stock or settings, OV-843 for one whose word on its search was changed, OV-858 for one that cannot be cut.
pub fn read(text: &str, file: &str, problem: &Problem) -> Result<Plan, Vec<Diagnostic>> {
    let place = || Place::File(file.to_string());
    let written: Written = serde_json::from_str(text).map_err(|e| {
        let d = Diagnostic::error("OV-855", "this is not a cut plan")
            .at(place(), format!("line {}, column {}", e.line(), e.column()))
            .found(e.to_string().split(" at line ").next().unwrap_or_default())
            .expected("a file written by `ovolo cut -o`");
        vec![d]
    })?;
    if written.schema != SCHEMA {
        let d = Diagnostic::error("OV-855", "this cut plan is of another form")
            .at(place(), "schema")
            .found(written.schema)
            .expected(SCHEMA);
        return Err(vec![d]);
    }
    let hash = problem.hash(written.finished);
    if written.made_from == problem.hash(!written.finished) {
        let d = Diagnostic::error(
            "OV-843",
            "the plan's word on its search does not fit its hash",
        )
        .at(place(), "finished")
        .found(written.finished.to_string())
        .expected(format!("{}, as the plan was written", !written.finished))
        .mend("make the plan again with `ovolo cut`, and let it come to its end");
        return Err(vec![d]);
    }
    if written.made_from != hash {
        let d = Diagnostic::error(
            "OV-959",
            "the plan was made from other parts, stock or settings",
        )
        .at(place(), "made_from")
        .found(short(&written.made_from))
        .expected(format!(
            "{}, the hash of what is to be cut now",
            short(&hash)
        ))
        .mend("make the plan again with `ovolo cut`");
        return Err(vec![d]);
    }
    let plan = Plan {
        cuts: written.cuts,
        cost: written.cost,
        greedy: written.greedy,
        proofs: written.proofs,
        finished: written.finished,
    };
    let faults: Vec<Diagnostic> = (replay(problem, &plan).into_iter())
        .map(|fault| {
            Diagnostic::error("OV-858", "the plan cannot be cut")
                .at(place(), "")
                .found(fault)
                .expected("a plan as `ovolo cut` writes it")
        })
        .collect();
    if faults.is_empty() {
        Ok(plan)
    } else {
        Err(faults)
    }
}

/// Checks the bound of a plan again from its prices. Errors: OV-857 where they prove less than the plan says.
pub fn check_bound(problem: &Problem, plan: &Plan, file: &str) -> Result<(), Vec<Diagnostic>> {
    let mut faults = Vec::new();
    let mut thick: Vec<i64> = problem
        .parts
        .iter()
        .filter(|p| p.count > 0)
        .map(|p| p.thick)
        .collect();
    thick.sort_unstable();
    thick.dedup();
    let proved: Vec<i64> = plan.proofs.iter().map(|p| p.thick).collect();
    if proved.windows(2).any(|w| w[0] >= w[1]) || proved.iter().any(|t| !thick.contains(t)) {
        let d = Diagnostic::error(
            "OV-857",
            "the proofs of the plan do not belong to its thicknesses",
        )
        .at(Place::File(file.to_string()), "proofs")
        .expected("one proof for each thickness, in order");
        return Err(vec![d]);
    }
    for proof in &plan.proofs {
        let proves = verify(problem, proof).unwrap_or(0);
        if proves < proof.bound {
            let d = Diagnostic::error("OV-857", "the prices do not prove the bound of the plan")
                .at(Place::File(file.to_string()), "proofs")
                .found(format!("a bound of {}", proof.bound))
                .expected(format!("at most {proves}, which the prices prove"));
            faults.push(d);
        }
    }
    if faults.is_empty() {
        Ok(())
    } else {
        Err(faults)
    }
}

fn short(hash: &str) -> String {
    hash.chars().take(12).collect()
}
