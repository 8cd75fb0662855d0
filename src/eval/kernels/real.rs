//! Irrational expressions, rounded correctly to their step.
//!
//! Such a rounding costs a thousand times what a sum does, so each distinct set of operands is calculated once a run.

use super::{At, fault_of, row_by_row};
use crate::eval::chunk::{Piece, States};
use crate::eval::{FaultKind, NotReal};
use crate::number::{Exact, Real, Rounding, round};
use crate::program::{NodeId, RealNode};
use foldhash::HashMap;
use std::sync::Mutex;

/// Results by operands, for one node.
pub(in crate::eval) type Worked = Mutex<HashMap<Vec<Exact>, Result<Exact, FaultKind>>>;

/// `real` rounded to multiples of the step. `leaves` are the operands in the order of the node's children, the step last.
pub(in crate::eval) fn round_real(
    at: At<'_>,
    real: &RealNode,
    nodes: &[NodeId],
    leaves: &[&Piece<'_>],
    mode: Rounding,
    worked: &Worked,
) -> Piece<'static> {
    let states = leaves
        .iter()
        .fold(States::CLEAR, |so_far, leaf| so_far.both(&leaf.states));
    row_by_row(at, states.into_owned(), |row| {
        let operands: Vec<Exact> = leaves.iter().map(|leaf| leaf.data.number(row)).collect();
        if let Some(known) = lock(worked).get(&operands) {
            return known.clone();
        }
        let result = work(real, nodes, &operands, mode);
        lock(worked).insert(operands, result.clone());
        result
    })
}

/// A lock that a panic elsewhere cannot take away; the map is whole between calls.
fn lock(
    worked: &Worked,
) -> std::sync::MutexGuard<'_, HashMap<Vec<Exact>, Result<Exact, FaultKind>>> {
    worked
        .lock()
        .unwrap_or_else(std::sync::PoisonError::into_inner)
}

fn work(
    real: &RealNode,
    nodes: &[NodeId],
    operands: &[Exact],
    mode: Rounding,
) -> Result<Exact, FaultKind> {
    let step = operands.last().cloned().unwrap_or(Exact::ZERO);
    if step.signum() <= 0 {
        return Err(FaultKind::NotPositiveStep);
    }
    let value = build(real, &|node| {
        nodes
            .iter()
            .position(|n| *n == node)
            .and_then(|at| operands.get(at))
            .cloned()
            .unwrap_or(Exact::ZERO)
    })?;
    round(&value, &step, mode).map_err(fault_of)
}

fn build(real: &RealNode, operand: &dyn Fn(NodeId) -> Exact) -> Result<Real, FaultKind> {
    let part = |r: &RealNode| build(r, operand).map(Box::new);
    Ok(match real {
        RealNode::Leaf(node) => Real::Rat(operand(*node)),
        RealNode::Add(a, b) => Real::Add(part(a)?, part(b)?),
        RealNode::Sub(a, b) => Real::Sub(part(a)?, part(b)?),
        RealNode::Mul(a, b) => Real::Mul(part(a)?, part(b)?),
        RealNode::Div(a, b) => Real::Div(part(a)?, part(b)?),
        RealNode::Power(a, b) => Real::Power(part(a)?, part(b)?),
        RealNode::Root(a, degree) => {
            let degree = operand(*degree)
                .to_i64()
                .and_then(|n| u32::try_from(n).ok())
                .filter(|n| *n > 0);
            Real::Root(
                part(a)?,
                degree.ok_or(FaultKind::NotReal(NotReal::RootDegree))?,
            )
        }
        RealNode::Ln(a) => Real::Ln(part(a)?),
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::number::NumError;

    #[test]
    fn a_zero_divisor_and_a_bad_degree_are_told_apart() {
        let (a, step) = (NodeId(0), NodeId(1));
        let root = RealNode::Root(Box::new(RealNode::Leaf(a)), a);
        let half = Exact::ratio(1, 2).expect("2 is not zero");
        let nodes = [a, a, step];
        let degree = work(
            &root,
            &nodes,
            &[half.clone(), half, Exact::ONE],
            Rounding::HalfUp,
        );
        assert_eq!(degree, Err(FaultKind::NotReal(NotReal::RootDegree)));
        let ratio = RealNode::Div(Box::new(RealNode::Leaf(a)), Box::new(RealNode::Leaf(a)));
        let zero = work(
            &ratio,
            &nodes,
            &[Exact::ZERO, Exact::ZERO, Exact::ONE],
            Rounding::HalfUp,
        );
        assert_eq!(zero, Err(fault_of(NumError::DivideByZero)));
    }
}
