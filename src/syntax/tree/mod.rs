//! The tree of a sheet as written. Numbers stay exact as written; units stay text until names are known.
//!
//! ```
//! use ovolo::diagnostics::FileId;
//! use ovolo::syntax::tree::StatementKind;
//!
//! let (sheet, problems) = ovolo::syntax::parse_sheet(FileId(0), "given a  2 in\n");
//! assert!(problems.is_empty());
//! assert!(matches!(&sheet.statements[0].kind, StatementKind::Given(given) if given.name.text == "a"));
//! ```

mod calendar;
mod cut;
mod declared;
mod expr;
mod extend;
mod job;
mod lists;
mod plans;
mod rules;

pub use calendar::{
    BillLine, CalendarLine, HireLine, HireStep, Hired, MonthDay, SeasonLine, WaitLine,
};
pub use cut::{CutCount, CutLine, CutSize};
pub use declared::{
    AllowanceKind, AllowanceValue, Asked, CellText, Column, ColumnType, ColumnValue, Given,
    GivenValue, LabelDef, Resource, RowsDef, RowsLine, SurveyDef, TableDef, Varies,
};
pub use expr::{AbsentKind, AggregateKind, Arm, BinaryOp, Expr, ExprKind, PresenceTest, RoundWord};
pub use extend::{Amend, AmendWhat, ColumnMore, Extend, Extension, RowEdit, RowEditKind, SendTo};
pub use job::{
    Bases, Charge, ChargeAmount, JobLine, MoneyGrain, PayAmount, PayLine, ShareKind, TaxBasis,
};
pub use lists::{
    Chart, Draw, DrawSash, DrawWall, List, ListColumn, ListLine, ListOver, ListShape, ListValue,
    Paper, PaperEach, PaperLine, Soft,
};
pub use plans::{
    Change, ChangePart, CutFigure, DecidedBy, Expect, ExpectTarget, LifeAmount, LifeCostKind,
    LifeLine, LifeRate, LifeWhen, Pick, RateKind, Setting, Trial,
};
pub use rules::{
    Caution, CautionKind, Decide, DecideBody, DecideLine, ForBlock, ForLine, GrainHead, Part,
    PartPlace, PartSize, PartWord, Rule, Side, Take, Way, Whose,
};

use crate::diagnostics::Span;
use crate::number::Exact;

/// A name with its place.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Name {
    /// As written.
    pub text: String,
    /// Where.
    pub span: Span,
}

/// A quoted text with its place (inside the quotes).
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Text {
    /// Without the quotes.
    pub text: String,
    /// Where.
    pub span: Span,
}

/// A unit as written: atoms joined by `per`.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct UnitText {
    /// For example `min per lite`.
    pub text: String,
    /// Where.
    pub span: Span,
}

/// A written number, with its unit if it has one. `2 ft 6 1/2 in` has two parts.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Quantity {
    /// Number and unit of each part; the unit `%` marks a percent.
    pub parts: Vec<(Exact, Option<UnitText>)>,
    /// A day, moment or temperature as written, which has no parts: `2026-03-21 16:00`, `70 °F`.
    pub point: Option<String>,
    /// The whole.
    pub span: Span,
}

/// `source "…"` and `note "…"`.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Remarks {
    /// Where the figure comes from.
    pub source: Option<String>,
    /// Anything else.
    pub note: Option<String>,
}

/// Order of layers.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, serde::Serialize)]
#[serde(rename_all = "lowercase")]
#[allow(missing_docs)]
pub enum Layer {
    Base,
    Shop,
    Job,
    Alternate,
}

/// A sheet.
#[derive(Debug, Clone, Default)]
pub struct Sheet {
    /// Title and layer.
    pub title: Option<Text>,
    /// Layer named on the title line.
    pub layer: Option<(Layer, Span)>,
    /// Its statements in the order written.
    pub statements: Vec<Statement>,
    /// Names that lines which could not be read would have declared: no message is due where they are used.
    pub broken: Vec<String>,
}

/// A statement at the top of a sheet.
#[derive(Debug, Clone)]
pub struct Statement {
    /// The statement, or the heading of the block.
    pub span: Span,
    /// What it is.
    pub kind: StatementKind,
}

/// Statements.
#[derive(Debug, Clone)]
#[allow(missing_docs)]
#[allow(clippy::large_enum_variant)] // a sheet has few statements
pub enum StatementKind {
    Use(Text),
    Counted(Vec<(Name, Option<String>)>),
    Phases(Vec<Text>),
    Choice {
        name: Name,
        labels: Vec<LabelDef>,
    },
    Given(Given),
    Resource(Resource),
    Helper {
        name: Name,
        params: Vec<Name>,
        body: Expr,
    },
    Survey(SurveyDef),
    Rows(RowsDef),
    Table(TableDef),
    For(ForBlock),
    Caution(Caution),
    Change(Change),
    Amend(Amend),
    Extend(Extend),
    Alternate {
        name: Text,
        /// What a bid says of it; an alternate without is for the office alone.
        owner: Option<Text>,
        changes: Vec<Change>,
        amends: Vec<Amend>,
        pick: Option<Pick>,
    },
    Calendar {
        lines: Vec<CalendarLine>,
        head: Span,
    },
    Cut {
        of: Name,
        lines: Vec<CutLine>,
    },
    Life {
        of: Option<Text>,
        lines: Vec<LifeLine>,
    },
    List(List),
    Paper(Paper),
    Trial(Trial),
    Job(Vec<JobLine>),
    Pay {
        name: Name,
        lines: Vec<PayLine>,
    },
    Charge(Charge),
    Allowance {
        name: Name,
        amount: Signed,
        remarks: Remarks,
    },
    Final {
        word: RoundWord,
        step: Quantity,
    },
}

/// A quantity with a sign.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Signed {
    /// Whether a minus is before it.
    pub negative: bool,
    /// The quantity.
    pub quantity: Quantity,
    /// The whole.
    pub span: Span,
}
