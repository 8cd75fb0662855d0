//! Rules of number types: dimension, percent, additivity of the results of arithmetic.

use super::typed::adds_by_dim;
use crate::program::{Adds, NumTy, Ty, WhyNot};
use crate::units::Dim;

/// Type of a product; none when the dimension grows without end.
pub(super) fn product(a: &NumTy, b: &NumTy) -> Option<NumTy> {
    let dim = a.dim.mul(&b.dim)?;
    let by_dim = adds_by_dim(&dim);
    let adds = match (a.adds, b.adds) {
        _ if dim.is_rate() => Adds::No(WhyNot::Rate),
        (Adds::Yes, _) | (_, Adds::Yes) => Adds::Yes,
        (Adds::No(WhyNot::Fact), _) | (_, Adds::No(WhyNot::Fact)) => Adds::No(WhyNot::Fact),
        _ => by_dim,
    };
    Some(NumTy {
        percent: a.percent && b.percent,
        adds,
        real: a.real || b.real,
        dim,
    })
}

/// Type of a quotient. `by_constant` says the divisor is the same everywhere.
pub(super) fn quotient(a: &NumTy, b: &NumTy, by_constant: bool) -> Option<NumTy> {
    let dim = a.dim.div(&b.dim)?;
    let adds = match (a.adds, b.adds) {
        _ if dim.is_rate() => Adds::No(WhyNot::Rate),
        (Adds::Yes, _) if by_constant => Adds::Yes,
        (Adds::Yes, Adds::Yes) => Adds::No(WhyNot::Ratio),
        (Adds::Yes, Adds::No(_)) => Adds::Yes,
        (Adds::No(WhyNot::Fact), _) => Adds::No(WhyNot::Fact),
        _ => adds_by_dim(&dim),
    };
    Some(NumTy {
        percent: a.percent && b.dim == Dim::NONE && !b.percent,
        adds,
        real: a.real || b.real,
        dim,
    })
}

/// Additivity where one of several values is taken, or two are added. Constants follow the others.
pub(super) fn joined(list: impl IntoIterator<Item = (Adds, bool)>) -> Adds {
    let mut all_constant = None;
    let mut result: Option<Adds> = None;
    for (adds, constant) in list {
        if constant {
            all_constant = Some(all_constant.unwrap_or(adds));
            continue;
        }
        result = Some(match (result, adds) {
            (None | Some(Adds::Yes), a) => a,
            (Some(no), _) => no,
        });
    }
    result.or(all_constant).unwrap_or(Adds::No(WhyNot::Plain))
}

/// Why something can't be summed, in words.
pub(super) fn why_not(why: WhyNot) -> &'static str {
    match why {
        WhyNot::Size => "it is a size: sizes of several rows added together measure nothing",
        WhyNot::Rate => "it is a rate",
        WhyNot::Percent => "it is a percent",
        WhyNot::Fact => {
            "it is a fact of a coarser block, the same for many rows: it would be counted once for each"
        }
        WhyNot::Plain => "it is a plain number, not a count of anything",
        WhyNot::Duration => "it is calendar time: durations side by side do not add",
        WhyNot::Ratio => "it is a ratio of two totals",
    }
}

/// The type of a written number.
pub(super) fn written(dim: &Dim, percent: bool) -> Ty {
    Ty::Number(NumTy {
        adds: if percent {
            Adds::No(WhyNot::Percent)
        } else {
            adds_by_dim(dim)
        },
        dim: dim.clone(),
        percent,
        real: false,
    })
}
