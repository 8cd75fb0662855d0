//! Cost over the years: the terms of a study, and the costs a version has later.

use super::node::NodeId;
use crate::diagnostics::Span;
use crate::number::{Exact, NumError};
use crate::syntax::tree::{LifeCostKind, LifeWhen, RateKind};

/// Longest study, in years.
pub const MOST_YEARS: u32 = 100;

/// A yearly rate, as a share.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Rate {
    /// 0.03 for 3 %.
    pub share: Exact,
    /// Whether inflation is in it.
    pub kind: RateKind,
}

/// What a study over the years states.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct LifeTerms {
    /// Length of the study.
    pub years: Option<u32>,
    /// Rate at which later sums count less.
    pub discount: Option<Rate>,
    /// Rate at which prices rise; none is no rise above inflation.
    pub escalation: Option<Rate>,
    /// General inflation, which turns real rates into nominal ones and back.
    pub inflation: Option<Exact>,
}

/// A cost of a version after the first.
#[derive(Debug, Clone)]
pub struct LifeCostDef {
    /// Name.
    pub name: String,
    /// What it is.
    pub kind: LifeCostKind,
    /// In today's prices.
    pub amount: LifeAmountDef,
    /// When.
    pub when: LifeWhen,
    /// Its own rise of prices.
    pub rising: Option<Rate>,
    /// Source.
    pub source: Option<String>,
    /// Note.
    pub note: Option<String>,
    /// Where.
    pub span: Span,
}

/// An amount in today's prices.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum LifeAmountDef {
    /// A share of the first cost.
    Share(Exact),
    /// A node of one value, in currency.
    Node(NodeId),
}

/// Two rates of different kinds, and no inflation to turn one into the other.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Mixed;

impl LifeTerms {
    /// A rate in the kind of the discount. `None` stands for no rise above inflation.
    /// By GSA P100: E = e + I + e x I, with E nominal, e real, I inflation.
    /// Errors: [`Mixed`] without an inflation to convert by; within it, a number too long.
    pub fn in_kind(
        &self,
        kind: RateKind,
        rate: Option<&Rate>,
    ) -> Result<Result<Exact, NumError>, Mixed> {
        let real_zero = Rate {
            share: Exact::ZERO,
            kind: RateKind::Real,
        };
        let rate = rate.unwrap_or(&real_zero);
        let Rate { share, kind: own } = rate;
        match (own, kind, &self.inflation) {
            (a, b, _) if *a == b => Ok(Ok(share.clone())),
            (_, RateKind::Nominal, Some(i)) => {
                Ok(share.mul(i).and_then(|ei| share.add(i)?.add(&ei)))
            }
            (_, RateKind::Real, Some(i)) => {
                Ok(share.sub(i).and_then(|d| d.div(&Exact::ONE.add(i)?)))
            }
            _ => Err(Mixed),
        }
    }
}
