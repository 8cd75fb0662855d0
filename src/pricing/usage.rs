//! Take lines gathered by resource and phase, with the refusals that belong to amounts and not to prices.

use super::fault::too_long;
use super::names;
use crate::diagnostics::Diagnostic;
use crate::eval::Amounts;
use crate::number::{Exact, NumError};
use crate::program::{PhaseId, Program, ResourceId, Version};
use crate::takeoff::{Quantities, TakeLine};
use crate::units::{Style, format_quantity};

/// A resource that is used. Amounts are net, in base units.
pub(super) struct Use {
    pub(super) resource: ResourceId,
    pub(super) total: Exact,
    /// In the order of phases.
    pub(super) phases: Vec<PhaseUse>,
}

/// A resource in one phase.
pub(super) struct PhaseUse {
    pub(super) phase: PhaseId,
    pub(super) total: Exact,
    /// For each split column, the amount of each key.
    pub(super) by_key: Vec<Vec<Exact>>,
    /// For each row, where that is known and needed.
    pub(super) by_row: Option<Amounts>,
}

/// Adds `more` to `sums`, place by place.
fn add_all(sums: &mut Vec<Exact>, more: &[Exact]) -> Result<(), NumError> {
    if sums.len() < more.len() {
        sums.resize(more.len(), Exact::ZERO);
    }
    for (sum, x) in sums.iter_mut().zip(more) {
        if !x.is_zero() {
            *sum = sum.add(x)?;
        }
    }
    Ok(())
}

impl PhaseUse {
    fn add(&mut self, line: &TakeLine) -> Result<(), NumError> {
        self.total = self.total.add(&line.total)?;
        for (sums, more) in self.by_key.iter_mut().zip(&line.by_key) {
            add_all(sums, more)?;
        }
        if let Some(more) = &line.by_row {
            match &mut self.by_row {
                Some(sums) => sums.join(more),
                none => *none = Some(more.clone()),
            }
        }
        Ok(())
    }
}

/// What is used, in the order of the version's resources; what adds up to nothing is left out.
pub(super) fn gather(
    program: &Program,
    version: &Version,
    quantities: &Quantities,
) -> Result<Vec<Use>, Vec<Diagnostic>> {
    let (mut uses, mut faults) = (Vec::new(), Vec::new());
    for id in version.resources.ids() {
        match gather_one(program, quantities, id) {
            Ok(used) if used.total.is_zero() && used.phases.iter().all(|p| p.total.is_zero()) => {}
            Ok(used) => {
                faults.extend(refuse(program, version, &used));
                uses.push(used);
            }
            Err(e) => faults.push(too_long(
                &format!("the amount of {}", names::resource(version, id)),
                e,
            )),
        }
    }
    if faults.is_empty() {
        Ok(uses)
    } else {
        Err(faults)
    }
}

fn gather_one(program: &Program, quantities: &Quantities, id: ResourceId) -> Result<Use, NumError> {
    let mut used = Use {
        resource: id,
        total: Exact::ZERO,
        phases: Vec::new(),
    };
    for phase in program.phases.ids() {
        let mut sum: Option<PhaseUse> = None;
        for line in quantities
            .lines
            .iter()
            .filter(|l| l.resource == id && l.phase == phase)
        {
            let by_key = quantities
                .splits
                .iter()
                .map(|s| vec![Exact::ZERO; s.keys.len()])
                .collect();
            sum.get_or_insert(PhaseUse {
                phase,
                total: Exact::ZERO,
                by_key,
                by_row: None,
            })
            .add(line)?;
        }
        if let Some(sum) = sum {
            used.total = used.total.add(&sum.total)?;
            used.phases.push(sum);
        }
    }
    Ok(used)
}

fn refuse(program: &Program, version: &Version, used: &Use) -> Option<Diagnostic> {
    let def = version.resources.get(used.resource)?;
    let amount = format_quantity(&used.total, &def.unit, &program.nouns, Style::default());
    let at_takes = |mut d: Diagnostic| {
        for take in version.takes.iter().filter(|t| t.resource == used.resource) {
            d = d.at(take.span, "");
        }
        d
    };
    if used.total.signum() < 0 {
        let d = Diagnostic::error(
            "OV-822",
            format!("the amount of {} used is negative", def.name),
        )
        .found(amount)
        .expected("zero or more over the whole job");
        return Some(at_takes(d));
    }
    let noun = def.unit.dim().as_count()?;
    if used.total.is_integer() {
        return None;
    }
    let one = program.nouns.name(noun);
    let d = Diagnostic::error("OV-821", format!("the job would use part of a {one}"))
        .found(format!("{amount} of {}", def.name))
        .expected("a whole number")
        .note(format!(
            "Say where it is rounded: end an amount with \"rounded up to 1 {one}\"."
        ));
    Some(at_takes(d))
}
