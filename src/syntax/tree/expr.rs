//! Expressions.

use super::{Name, Quantity, Text, UnitText};
use crate::diagnostics::Span;
use crate::number::Rounding;

/// An expression.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Expr {
    /// Where.
    pub span: Span,
    /// What.
    pub kind: ExprKind,
}

/// Two-sided operators.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[allow(missing_docs)]
pub enum BinaryOp {
    Add,
    Sub,
    Mul,
    Div,
    Less,
    LessEq,
    Greater,
    GreaterEq,
    Is,
    IsNot,
    And,
    Or,
}

/// Ways to go up a grain.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[allow(missing_docs)]
pub enum AggregateKind {
    Sum,
    Count,
    Least,
    Most,
    Mean,
    Any,
    All,
}

/// The two ways a cell may lack a value that a sheet can speak of.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[allow(missing_docs)]
pub enum AbsentKind {
    Blank,
    NotApplicable,
}

/// What `is …` asks about presence.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[allow(missing_docs)]
pub enum PresenceTest {
    Blank,
    NotApplicable,
    Known,
}

/// How a rounding is said: a mode, or the job's tie rule.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum RoundWord {
    /// To the nearest, ties by the job's rule.
    Nearest,
    /// As said.
    Mode(Rounding),
}

/// Kinds of expression.
#[derive(Debug, Clone, PartialEq, Eq)]
#[allow(missing_docs)]
pub enum ExprKind {
    Quantity(Quantity),
    Text(Text),
    Truth(bool),
    Unknown,
    Name(String),
    Negate(Box<Expr>),
    Not(Box<Expr>),
    Binary {
        op: BinaryOp,
        op_span: Span,
        left: Box<Expr>,
        right: Box<Expr>,
    },
    /// `left ^ exponent`
    Power {
        base: Box<Expr>,
        exponent: i32,
    },
    Rounded {
        value: Box<Expr>,
        word: RoundWord,
        step: Box<Expr>,
    },
    If {
        condition: Box<Expr>,
        then: Box<Expr>,
        otherwise: Box<Expr>,
    },
    Choose {
        subject: Box<Expr>,
        arms: Vec<Arm>,
    },
    Call {
        name: Name,
        args: Vec<Expr>,
    },
    Aggregate {
        kind: AggregateKind,
        of: Box<Expr>,
        weight: Option<Box<Expr>>,
        filter: Option<Box<Expr>>,
    },
    /// `taken of putty`
    Taken(Name),
    Lookup {
        value: Name,
        table: Name,
        keys: Vec<Expr>,
        interpolated: bool,
    },
    Per {
        value: Box<Expr>,
        unit: UnitText,
    },
    IfAbsent {
        value: Box<Expr>,
        which: AbsentKind,
        instead: Box<Expr>,
    },
    /// Days from the start of one phase to the end of another, both counted; `otherwise` where there is no calendar.
    CalendarSpan {
        working: bool,
        from: Text,
        to: Text,
        otherwise: Box<Expr>,
    },
    SharedBy {
        value: Box<Expr>,
        weight: Box<Expr>,
        step: Option<Quantity>,
    },
    Presence {
        value: Box<Expr>,
        test: PresenceTest,
        negated: bool,
    },
    IsOneOf {
        value: Box<Expr>,
        labels: Vec<Name>,
        negated: bool,
    },
    Between {
        value: Box<Expr>,
        low: Box<Expr>,
        high: Box<Expr>,
        negated: bool,
    },
}

impl Expr {
    /// The expressions directly within this one, in the order written.
    pub fn children(&self) -> Vec<&Expr> {
        match &self.kind {
            ExprKind::Quantity(_)
            | ExprKind::Text(_)
            | ExprKind::Truth(_)
            | ExprKind::Unknown
            | ExprKind::Name(_)
            | ExprKind::Taken(_) => vec![],
            ExprKind::Negate(a)
            | ExprKind::Not(a)
            | ExprKind::Power { base: a, .. }
            | ExprKind::Per { value: a, .. }
            | ExprKind::Presence { value: a, .. }
            | ExprKind::IsOneOf { value: a, .. }
            | ExprKind::CalendarSpan { otherwise: a, .. } => vec![a],
            ExprKind::Binary {
                left: a, right: b, ..
            }
            | ExprKind::Rounded {
                value: a, step: b, ..
            }
            | ExprKind::IfAbsent {
                value: a,
                instead: b,
                ..
            }
            | ExprKind::SharedBy {
                value: a,
                weight: b,
                ..
            } => vec![a, b],
            ExprKind::If {
                condition: a,
                then: b,
                otherwise: c,
            }
            | ExprKind::Between {
                value: a,
                low: b,
                high: c,
                ..
            } => vec![a, b, c],
            ExprKind::Choose { subject, arms } => {
                let arms = arms.iter().map(|arm| &arm.value);
                std::iter::once(&**subject).chain(arms).collect()
            }
            ExprKind::Call { args: list, .. } | ExprKind::Lookup { keys: list, .. } => {
                list.iter().collect()
            }
            ExprKind::Aggregate {
                of, weight, filter, ..
            } => [Some(of), weight.as_ref(), filter.as_ref()]
                .into_iter()
                .flatten()
                .map(|e| &**e)
                .collect(),
        }
    }

    /// Visits this expression and those within it, in the order written; `visit` says whether to go into one.
    pub fn walk<'e>(&'e self, visit: &mut impl FnMut(&'e Expr) -> bool) {
        let mut left = vec![self];
        while let Some(e) = left.pop() {
            if visit(e) {
                left.extend(e.children().into_iter().rev());
            }
        }
    }
}

/// One arm of `choose`; no labels means `otherwise`.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Arm {
    /// Labels before the colon; empty for `otherwise`.
    pub labels: Vec<Name>,
    /// Value.
    pub value: Expr,
    /// Labels and colon.
    pub span: Span,
}
