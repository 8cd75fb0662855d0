//! Changes, plans and their costs over the years, trials.

use super::{AbsentKind, Expr, Name, Remarks, Side, Signed, Text};
use crate::diagnostics::Span;
use crate::number::Exact;

/// What of a thing is changed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[allow(missing_docs)]
pub enum ChangePart {
    Value,
    Price,
    Waste,
    Yield,
}

/// A change of something in a lower layer.
#[derive(Debug, Clone)]
pub struct Change {
    /// Part of the thing.
    pub part: ChangePart,
    /// Its name.
    pub name: Name,
    /// The mark of the one row it holds for; none for all.
    pub at: Option<Text>,
    /// New value.
    pub to: Expr,
    /// Reason.
    pub because: Option<Text>,
    /// Who decided it, and when.
    pub by: Option<DecidedBy>,
    /// Pin.
    pub was: Option<Expr>,
    /// The whole line.
    pub span: Span,
}

/// Who decided a change, and on which day.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct DecidedBy {
    /// Who.
    pub who: Text,
    /// The day, as year, month and day.
    pub day: Text,
}

/// A plan mixed of two others: on each row of the main table the one whose cost is below a share of the other's, else the other.
#[derive(Debug, Clone)]
pub struct Pick {
    /// The plan taken where it costs less.
    pub plan: Text,
    /// Share of the other's cost.
    pub share: Exact,
    /// The plan it is weighed against.
    pub against: Text,
    /// The plan taken otherwise.
    pub otherwise: Text,
    /// The whole line.
    pub span: Span,
}

/// A line of a block on cost over the years.
#[derive(Debug, Clone)]
#[allow(missing_docs)]
#[allow(clippy::large_enum_variant)] // a sheet has few of them
pub enum LifeLine {
    Study {
        years: u32,
        span: Span,
    },
    Rate {
        what: LifeRate,
        rate: Exact,
        kind: Option<RateKind>,
        span: Span,
    },
    Cost {
        kind: LifeCostKind,
        name: Text,
        amount: LifeAmount,
        when: LifeWhen,
        rising: Option<(Exact, RateKind)>,
        remarks: Remarks,
        span: Span,
    },
}

/// Rates of a study over the years.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[allow(missing_docs)]
pub enum LifeRate {
    Discount,
    Escalation,
    Inflation,
}

/// With inflation left out, or with it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Serialize)]
#[serde(rename_all = "lowercase")]
#[allow(missing_docs)]
pub enum RateKind {
    Real,
    Nominal,
}

/// Costs over the years.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[allow(missing_docs)]
pub enum LifeCostKind {
    Upkeep,
    Replace,
    /// What is left in value at the end.
    Residual,
}

/// An amount in today's prices.
#[derive(Debug, Clone)]
#[allow(missing_docs)]
pub enum LifeAmount {
    /// A share of the first cost.
    Share(Exact),
    Sum(Expr),
}

/// When a cost falls due, in years from the first cost.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum LifeWhen {
    /// At the end of each year, the last one too.
    EachYear,
    /// Every so many years, while the study still runs on afterwards.
    Every(u32),
    /// Once.
    After(u32),
    /// At the end of the study.
    End,
}

/// A worked example.
#[derive(Debug, Clone)]
pub struct Trial {
    /// Title.
    pub name: Text,
    /// Settings for all rows and givens.
    pub with: Vec<Setting>,
    /// Rows: table (none for the main one), settings.
    pub rows: Vec<(Option<Name>, Vec<Setting>, Span)>,
    /// Changes that hold in the trial alone.
    pub changes: Vec<Change>,
    /// Expectations.
    pub expects: Vec<Expect>,
}

/// `name = value`
#[derive(Debug, Clone)]
pub struct Setting {
    /// Column or given.
    pub name: Name,
    /// Value, or missing in one of two ways.
    pub value: Result<Expr, AbsentKind>,
}

/// An expectation.
#[derive(Debug, Clone)]
pub struct Expect {
    /// What is looked at.
    pub target: ExpectTarget,
    /// Value, or a refusal with an optional code.
    pub outcome: Result<Expr, Option<String>>,
    /// How far what is found may be from the value, either way.
    pub within: Option<Signed>,
    /// Reason that a decision must give.
    pub because: Option<Text>,
    /// Mark of the row.
    pub at: Option<Text>,
    /// The whole line.
    pub span: Span,
}

/// What an expectation looks at.
#[derive(Debug, Clone)]
#[allow(missing_docs)]
pub enum ExpectTarget {
    Value(Name),
    Take(Name),
    /// A part's count, or one of its sizes; whether the rough one.
    Part(Name, Option<(Side, bool)>),
    /// What the plan of a resource costs, or the bound that is proved.
    Cut(Name, CutFigure),
    Require,
}

/// A figure of a cut plan.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[allow(missing_docs)]
pub enum CutFigure {
    Cost,
    Bound,
}
