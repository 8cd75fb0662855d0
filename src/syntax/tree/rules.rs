//! Blocks of rules and what is in them.

use super::{CellText, Expr, Name, Remarks, Text, UnitText};
use crate::diagnostics::Span;

/// What a for-block is calculated for.
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
    Part(Box<Part>),
    Decide(Decide),
    Require {
        condition: Expr,
        message: Text,
        /// Columns whose cells are wrong where it does not hold.
        blames: Vec<Name>,
        span: Span,
    },
    Caution(Caution),
}

impl ForLine {
    /// The part that it declares.
    pub fn part(&self) -> Option<&Part> {
        match self {
            ForLine::Part(part) => Some(part),
            ForLine::Rule(_)
            | ForLine::Take(_)
            | ForLine::Decide(_)
            | ForLine::Require { .. }
            | ForLine::Caution(_) => None,
        }
    }
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
    /// Says that it is besides the parts of its resource.
    pub besides_parts: bool,
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

/// What a caution is besides.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum CautionKind {
    /// Something for whoever does the work or reads the figures.
    Plain,
    /// Something that an offer rests on.
    Condition,
    /// Something that an offer does not hold.
    Exclusion,
}

/// Who does the work that a caution is about.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Whose {
    /// The shop.
    Shop,
    /// The crew at the wall.
    Crew,
}

/// A caution.
#[derive(Debug, Clone)]
pub struct Caution {
    /// Text.
    pub text: Text,
    /// What it is besides.
    pub kind: CautionKind,
    /// Who of those who do the work is warned; both where it says nothing.
    pub whose: Option<Whose>,
    /// Phases of the work it is about; none where it is about all of it.
    pub phases: Vec<Text>,
    /// Only when.
    pub when: Option<Expr>,
    /// The whole line.
    pub span: Span,
}

/// One kind of physical piece at each row.
#[derive(Debug, Clone)]
pub struct Part {
    /// Name.
    pub name: Name,
    /// How many.
    pub count: Expr,
    /// What it is made of.
    pub resource: Name,
    /// Phase.
    pub phase: Option<Text>,
    /// Only when.
    pub when: Option<Expr>,
    /// Whether, where the condition does not hold, the piece is there all the same and is kept.
    pub kept: bool,
    /// Its sizes in the order written.
    pub sizes: Vec<PartSize>,
    /// Its place.
    pub places: Vec<PartPlace>,
    /// Member, treatment, profile, share with decay.
    pub said: Vec<(PartWord, Expr)>,
    /// Source and note.
    pub remarks: Remarks,
    /// Whether a line of it could not be read.
    pub broken: bool,
    /// Heading.
    pub span: Span,
}

/// `length stile_h rough stile_h + 1 in`.
#[derive(Debug, Clone)]
pub struct PartSize {
    /// Which size.
    pub side: Side,
    /// Finished size.
    pub finished: Expr,
    /// Rough size, where it differs.
    pub rough: Option<Expr>,
    /// The whole line.
    pub span: Span,
}

/// `across 4 in each 9 in`.
#[derive(Debug, Clone)]
pub struct PartPlace {
    /// Which way.
    pub way: Way,
    /// The first one.
    pub at: Expr,
    /// From one to the next.
    pub each: Option<Expr>,
    /// The whole line.
    pub span: Span,
}

/// A size of a part.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, serde::Serialize)]
#[serde(rename_all = "lowercase")]
#[allow(missing_docs)]
pub enum Side {
    Length,
    Width,
    Height,
    Thickness,
}

impl Side {
    /// Its word in a sheet.
    pub fn word(self) -> &'static str {
        match self {
            Side::Length => "length",
            Side::Width => "width",
            Side::Height => "height",
            Side::Thickness => "thickness",
        }
    }
}

/// How a part is placed: along its member from and to, or by its lower left corner; and how far its upper edge rises.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, serde::Serialize)]
#[serde(rename_all = "lowercase")]
#[allow(missing_docs)]
pub enum Way {
    From,
    To,
    Across,
    Up,
    /// Rise of a round or segmental upper edge.
    Arch,
    /// Rise of an upper edge that comes to a point.
    Point,
}

/// What else is said of a part.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
#[allow(missing_docs)]
pub enum PartWord {
    Member,
    Treatment,
    Profile,
    /// Share of it with decay.
    Decayed,
}
