//! Blocks of rules and what stands in them.

use super::{CellText, Expr, Name, Remarks, Text, UnitText};
use crate::diagnostics::Span;

/// What a for-block is worked for.
#[derive(Debug, Clone)]
#[allow(missing_docs)]
pub enum GrainHead {
    Each(Name),
    Group { name: Name, of: Name, by: Vec<Name> },
    Job,
}

/// A block of rules.
#[derive(Debug, Clone)]
pub struct ForBlock {
    /// Its grain.
    pub head: GrainHead,
    /// Its lines.
    pub lines: Vec<ForLine>,
}

/// A line of a for-block.
#[derive(Debug, Clone)]
#[allow(missing_docs)]
#[allow(clippy::large_enum_variant)] // a sheet has few of them
pub enum ForLine {
    Rule(Rule),
    Take(Take),
    Decide(Decide),
    Require {
        condition: Expr,
        message: Text,
        span: Span,
    },
    Caution(Caution),
}

/// A named expression.
#[derive(Debug, Clone)]
pub struct Rule {
    /// Name.
    pub name: Name,
    /// Expression.
    pub value: Expr,
    /// Unit to show it in.
    pub shown: Option<UnitText>,
    /// May be summed.
    pub adds_up: bool,
    /// Kept from every reader outside the shop.
    pub private: bool,
    /// Source and note.
    pub remarks: Remarks,
    /// The whole line.
    pub span: Span,
}

/// A take-off line.
#[derive(Debug, Clone)]
pub struct Take {
    /// Resource.
    pub resource: Name,
    /// How much.
    pub amount: Expr,
    /// Phase.
    pub phase: Option<Text>,
    /// Only when.
    pub when: Option<Expr>,
    /// Split over the rows below by this.
    pub shared_by: Option<Expr>,
    /// Source and note.
    pub remarks: Remarks,
    /// The whole line.
    pub span: Span,
}

/// A decision.
#[derive(Debug, Clone)]
pub struct Decide {
    /// Name.
    pub name: Name,
    /// Declared choice, if named.
    pub of: Option<Name>,
    /// Whether the first line that holds counts.
    pub first_holds: bool,
    /// Its lines.
    pub body: DecideBody,
    /// Whether some of its lines could not be read.
    pub broken: bool,
    /// Heading.
    pub span: Span,
}

/// Lines or a table.
#[derive(Debug, Clone)]
#[allow(missing_docs)]
pub enum DecideBody {
    Lines(Vec<DecideLine>),
    /// The first row is the headings.
    Table(Vec<Vec<CellText>>),
}

/// A line of a decision; no condition means `otherwise`.
#[derive(Debug, Clone)]
pub struct DecideLine {
    /// Label.
    pub label: Name,
    /// When.
    pub when: Option<Expr>,
    /// Reason.
    pub because: Text,
    /// Standard it rests on.
    pub rests_on: Option<Text>,
    /// The whole line.
    pub span: Span,
}

/// A caution.
#[derive(Debug, Clone)]
pub struct Caution {
    /// Text.
    pub text: Text,
    /// Only when.
    pub when: Option<Expr>,
    /// The whole line.
    pub span: Span,
}
