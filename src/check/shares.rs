//! Which plain numbers are shares of something, so that they are shown as percents.

use super::typed::*;
use crate::number::Exact;
use crate::program::{AggregateKind, Grain, Kind, NodeId, NumTy, Program, Ty};
use crate::units::{Dim, UnitExpr, default_unit, parse_unit};
use foldhash::{HashSet, HashSetExt};

impl Checker<'_> {
    /// The unit in which a number is shown where neither a sheet nor a column says one.
    pub(super) fn usual_unit(&self, node: NodeId, n: &NumTy) -> UnitExpr {
        let nouns = &self.program.nouns;
        if (n.percent || is_share(&self.program, node))
            && let Ok(unit) = parse_unit("%", nouns, None)
        {
            return unit;
        }
        default_unit(&n.dim, nouns, self.program.currency.as_deref())
    }
}

/// Whether a value is a part of a whole: a quantity over another of its kind that differs from row to row, and what is made of such
/// shares alone. A quantity over a written one (`wide / 1 in`) is a number of times, not a share.
fn is_share(program: &Program, node: NodeId) -> bool {
    let mut left = vec![node];
    let mut seen = HashSet::new();
    let mut found = false;
    while let Some(id) = left.pop() {
        if !seen.insert(id) {
            continue;
        }
        let node = program.node(id);
        let Ty::Number(n) = &node.ty else {
            return false;
        };
        if n.dim != Dim::NONE {
            return false;
        }
        if n.percent {
            found = true;
            continue;
        }
        match &node.kind {
            Kind::Div(a, b) => {
                if dim_of(program, *a) == Dim::NONE || program.node(*b).grain == Grain::Const {
                    return false;
                }
                found = true;
            }
            Kind::Number(value) if *value >= Exact::ZERO && *value <= Exact::ONE => {}
            // 1 + waste is a factor.
            Kind::Add(a, b) if !is_written(program, *a) && !is_written(program, *b) => {
                left.extend([*a, *b]);
            }
            Kind::Sub(a, b) | Kind::Mul(a, b) => left.extend([*a, *b]),
            Kind::Abs(a) | Kind::Down(a) => left.push(*a),
            Kind::Round { value, .. } => left.push(*value),
            Kind::Smaller(list) | Kind::Larger(list) => left.extend(list),
            Kind::Select {
                then, otherwise, ..
            } => left.extend([*then, *otherwise]),
            Kind::Choose { arms, .. } => left.extend(arms),
            Kind::IfAbsent { value, instead, .. } => left.extend([*value, *instead]),
            Kind::Up { kind, of, .. } if *kind != AggregateKind::Sum => left.push(*of),
            Kind::Number(_)
            | Kind::Add(..)
            | Kind::Truth(_)
            | Kind::Label(_)
            | Kind::Text(_)
            | Kind::Unknown
            | Kind::Asked(_)
            | Kind::Span { .. }
            | Kind::Column { .. }
            | Kind::GroupKey { .. }
            | Kind::Negate(_)
            | Kind::Power(..)
            | Kind::RoundReal { .. }
            | Kind::Compare { .. }
            | Kind::Same(..)
            | Kind::LabelIn(..)
            | Kind::And(..)
            | Kind::Or(..)
            | Kind::Not(_)
            | Kind::DecideLine { .. }
            | Kind::LineLabel { .. }
            | Kind::Lookup { .. }
            | Kind::Presence { .. }
            | Kind::Up { .. }
            | Kind::Count { .. }
            | Kind::Share { .. } => return false,
        }
    }
    found
}

fn is_written(program: &Program, id: NodeId) -> bool {
    matches!(program.node(id).kind, Kind::Number(_))
}

fn dim_of(program: &Program, id: NodeId) -> Dim {
    match &program.node(id).ty {
        Ty::Number(n) => n.dim.clone(),
        Ty::Truth | Ty::Choice(_) | Ty::Text | Ty::Point(_) => Dim::NONE,
    }
}
