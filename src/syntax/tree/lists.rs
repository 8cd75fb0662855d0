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
    /// One paper for each value of these together; one in all where there is none.
    pub each: Vec<Name>,
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
    List(Name, ListShape),
    Draw(Draw),
    /// A photograph by the name of the text that holds its number.
    Photograph(Name),
    /// The offer: sum, days, what it rests on.
    Offer(Span),
    /// The offer of a change order: the earlier sum, what changes add, the new sum.
    OfferOfChanges(Span),
    /// Lines for each row of a table or group.
    Each(PaperEach),
    /// Cautions: all of them, or only those that hold at some rows of the paper.
    Cautions {
        of_rows: Option<Span>,
        /// Only those of this kind, where not all.
        kind: Option<super::CautionKind>,
    },
    /// Boxes to tick: what is above them, the columns of a box for each, if any, and what the boxes are for.
    Boxes(Text, Vec<Text>, Vec<Text>),
    /// Lines to write on, each behind its words.
    Rooms(Vec<Text>),
    Signs(Vec<Text>),
    PageBreak,
}

/// `each opening where ... sorted by ... { }` in a paper.
#[derive(Debug, Clone)]
pub struct PaperEach {
    /// A table or group.
    pub what: Name,
    /// Rows it holds, where not all.
    pub filter: Option<Expr>,
    /// Order, each with whether it runs downward.
    pub sorted: Vec<(Name, bool)>,
    /// What is printed for each of them.
    pub lines: Vec<PaperLine>,
}

/// What a paper draws.
#[derive(Debug, Clone)]
pub enum Draw {
    /// Amounts of money as bars.
    Chart(Chart, Span),
    /// The bars of the calendar.
    Calendar,
    /// The cut plans, piece by piece.
    Cuts,
    /// Rows below the one of the block, in its opening, from their parts.
    Sash(Box<DrawSash>),
    /// The openings of a wall as a diagram.
    Wall(Box<DrawWall>),
}

/// Amounts of money that a paper draws as bars.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Chart {
    /// What each phase comes to.
    Phases,
    /// What each area comes to.
    Areas,
    /// How cost and charges make up the price.
    Charges,
    /// The base bid and the bid with each alternate.
    Alternates,
    /// The givens that move the total most.
    Effects,
    /// What each plan has cost by the end of each year.
    Years,
}

impl Chart {
    /// The chart that a word of a sheet asks for.
    pub fn named(word: &str) -> Option<Chart> {
        Some(match word {
            "phases" => Chart::Phases,
            "areas" => Chart::Areas,
            "charges" => Chart::Charges,
            "alternates" => Chart::Alternates,
            "effects" => Chart::Effects,
            "years" => Chart::Years,
            _ => return None,
        })
    }
}

/// How a paper shows a list.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ListShape {
    /// As rows below one another.
    Table,
    /// Each line as a tag to cut out.
    Tags,
}

/// `draw sash at across, up within wide, high soft ...`.
#[derive(Debug, Clone)]
pub struct DrawSash {
    /// The table of the sash.
    pub table: Name,
    /// Lower left corner of each: from the left, from the foot.
    pub at: [Expr; 2],
    /// Width and height of the opening.
    pub within: [Expr; 2],
    /// Soft places on members.
    pub soft: Option<Soft>,
}

/// `draw opening along place up floor within wide, high lettered condition`.
#[derive(Debug, Clone)]
pub struct DrawWall {
    /// The table of the openings.
    pub table: Name,
    /// Order along the wall.
    pub along: Name,
    /// Floor.
    pub up: Name,
    /// Width and height of each.
    pub within: [Expr; 2],
    /// What is written below the mark.
    pub letter: Option<Name>,
}

/// `soft sash_defect on member from offset for rot_long by rot_broad`.
#[derive(Debug, Clone)]
pub struct Soft {
    /// Table of the soft places.
    pub table: Name,
    /// The member each is on.
    pub on: Name,
    /// From the left or the foot; where it is blank the place is not drawn.
    pub from: Name,
    /// Length.
    pub long: Name,
    /// Breadth.
    pub broad: Name,
}
