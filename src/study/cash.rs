//! What is billed and received month by month: the price of each phase follows the work of its crews.

use crate::diagnostics::Diagnostic;
use crate::number::{Exact, SplitError, largest_remainder};
use crate::pricing::{CutKind, CutRow, Estimate};
use crate::program::{BillDef, PhaseId, Program};
use crate::schedule::Schedule;
use crate::schedule::cash::{Month, cash_flow};

/// One month of the job, with its year and number.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct CashMonth {
    /// Year.
    pub year: i16,
    /// Month, 1 to 12.
    pub month: i8,
    /// Its account.
    pub account: Month,
}

/// Cash month by month, for a job that says how it bills.
///
/// The cost of a phase and its price with charges fall into months in proportion to the minutes its crews work in them, by largest
/// remainder; what belongs to no phase, or to one without labor, follows the whole job. Bills add up to the price to the cent.
///
/// # Errors
///
/// When a number has too many digits.
pub fn cash(
    program: &Program,
    estimate: &Estimate,
    plan: &Schedule,
    bill: &BillDef,
) -> Result<Vec<CashMonth>, Diagnostic> {
    let phases = estimate
        .cut(CutKind::Phase)
        .map_or(&[][..], |c| c.rows.as_slice());
    let failed = |e: &dyn std::fmt::Display| {
        Diagnostic::error(
            "OV-823",
            format!("the months of the job cannot be worked out: {e}"),
        )
    };
    let by_month =
        |money: fn(&CutRow) -> i128| spread(program, plan, phases, money).map_err(|e| failed(&e));
    let costs = by_month(CutRow::cents)?;
    let bills = by_month(CutRow::price)?;
    let half = bill.until_half.then_some(estimate.totals.grand / 2);
    let later = crate::ids::length(bill.later.into());
    let flow = cash_flow(&costs, &bills, &bill.retain, half, later).map_err(|e| failed(&e))?;
    let mut at = plan.months.keys().next().copied().unwrap_or((1970, 1));
    let months = flow.into_iter().map(|account| {
        let (year, month) = at;
        at = if month == 12 {
            (year + 1, 1)
        } else {
            (year, month + 1)
        };
        CashMonth {
            year,
            month,
            account,
        }
    });
    Ok(months.collect())
}

/// An amount of each phase spread over the months from the first to the last of the plan.
fn spread(
    program: &Program,
    plan: &Schedule,
    phases: &[CutRow],
    money: fn(&CutRow) -> i128,
) -> Result<Vec<i128>, SplitError> {
    let keys: Vec<(i16, i8)> = match (plan.months.keys().next(), plan.months.keys().last()) {
        (Some(first), Some(last)) => {
            let number = |(year, month): &(i16, i8)| i32::from(*year) * 12 + i32::from(*month) - 1;
            (number(first)..=number(last))
                .filter_map(|n| {
                    let year = i16::try_from(n.div_euclid(12)).ok()?;
                    Some((year, i8::try_from(n.rem_euclid(12) + 1).ok()?))
                })
                .collect()
        }
        _ => return Ok(Vec::new()),
    };
    let mut months = vec![0_i128; keys.len()];
    for row in phases {
        let named = |phase: &PhaseId| {
            !row.whole_job && phase_name(program, *phase) == Some(row.key.as_str())
        };
        let weights = |only: &dyn Fn(&PhaseId) -> bool| -> Vec<Exact> {
            keys.iter()
                .map(|key| {
                    let month = plan.months.get(key);
                    let minutes = month.into_iter().flatten().filter(|(p, _)| only(p));
                    Exact::from(minutes.map(|(_, m)| *m).sum::<i64>())
                })
                .collect()
        };
        let mut own = weights(&named);
        if own.iter().all(Exact::is_zero) {
            own = weights(&|_| true);
        }
        let parts = largest_remainder(&Exact::from_i128(money(row)), &Exact::ONE, &own)?;
        for (month, part) in months.iter_mut().zip(parts) {
            *month += part.to_i64().map_or(0, i128::from);
        }
    }
    Ok(months)
}

fn phase_name(program: &Program, phase: PhaseId) -> Option<&str> {
    program.phases.get(phase).map(String::as_str)
}
