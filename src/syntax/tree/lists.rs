//! Lists and papers.

use super::{Expr, Name, Text, UnitText};
use crate::diagnostics::Span;

/// What is printed for each row of something.
#[derive(Debug, Clone)]
pub struct List {
    /// Name.
    pub name: Name,
    /// What it has a row for.
    pub over: ListOver,
    /// Its lines.
    pub lines: Vec<ListLine>,
    /// Whether a line of it could not be read.
    pub broken: bool,
    /// Heading.
    pub span: Span,
}

/// What a list has a row for.
#[derive(Debug, Clone)]
pub enum ListOver {
    /// `for each part of stock`, `for each opening`.
    Each {
        /// A table, a group, or one of the words such as `part`.
        what: Name,
        /// Class of resources.
        of: Option<Name>,
    },
    /// `for the job`.
    Job,
}

/// A line of a list.
#[derive(Debug, Clone)]
#[allow(missing_docs)]
#[allow(clippy::large_enum_variant)] // a sheet has few of them
pub enum ListLine {
    Titled(Text),
    Column(ListColumn),
    /// Boxes to tick.
    Tick(Text),
    /// Room to write in.
    Room(Text),
    Where(Expr),
    Grouped(Vec<Name>),
    /// Each with whether it runs downward.
    Sorted(Vec<(Name, bool)>),
}

/// A column.
#[derive(Debug, Clone)]
pub struct ListColumn {
    /// What it shows.
    pub value: ListValue,
    /// Heading.
    pub headed: Option<Text>,
    /// Unit to show it in.
    pub shown: Option<UnitText>,
    /// Whether its sums are printed.
    pub total: Option<Span>,
    /// Kept from every reader outside the office.
    pub private: bool,
    /// The whole line.
    pub span: Span,
}

/// What a column shows.
#[derive(Debug, Clone)]
pub enum ListValue {
    /// A name or a formula.
    Formula(Expr),
    /// The reason of a decision.
    Reason(Name),
    /// The standard that a decision rests on.
    Basis(Name),
}

/// What one reader is handed.
#[derive(Debug, Clone)]
pub struct Paper {
    /// Name.
    pub name: Name,
    /// Whom it is for.
    pub reader: Name,
    /// One paper for each value of this.
    pub each: Option<Name>,
    /// Its lines.
    pub lines: Vec<PaperLine>,
    /// Whether a line of it could not be read.
    pub broken: bool,
    /// Heading.
    pub span: Span,
}

/// A line of a paper.
#[derive(Debug, Clone)]
#[allow(missing_docs)]
pub enum PaperLine {
    Titled(Text),
    Heading(Text),
    Text(Text),
    List(Name),
    Cautions,
    Signs(Vec<Text>),
    PageBreak,
}
