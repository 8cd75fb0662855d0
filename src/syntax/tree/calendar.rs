//! Lines of a `calendar` block.

use super::{Name, Quantity, Signed, Text};
use crate::diagnostics::Span;
use crate::number::Exact;

/// A day of a year without its year: month from 1 to 12, and a number as written.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct MonthDay {
    /// Month, 1 to 12.
    pub month: u8,
    /// Day of the month, or a count of days.
    pub number: u32,
    /// Where.
    pub span: Span,
}

/// A line of a `calendar` block.
#[derive(Debug, Clone)]
#[allow(missing_docs)]
pub enum CalendarLine {
    Starts(Quantity, Span),
    Due(Quantity, Span),
    /// Weekdays, Monday 0; two with `through` are a stretch.
    Worked {
        days: Vec<u8>,
        through: bool,
        span: Span,
    },
    /// Stretches of hour and minute.
    Hours(Vec<[(u32, u32); 2]>, Span),
    Federal(Span),
    Closed(Vec<(Quantity, Option<Quantity>)>),
    By(Name),
    Crew {
        resource: Name,
        crews: u32,
        hands: u32,
        span: Span,
    },
    Shop(Vec<Text>),
    SideBySide(Vec<Text>),
    Wait(WaitLine),
    Season(SeasonLine),
    Lost(Vec<MonthDay>),
    Hire(HireLine),
    Bill(BillLine),
}

/// Time between two phases.
#[derive(Debug, Clone)]
#[allow(missing_docs)]
pub struct WaitLine {
    pub after: Text,
    pub before: Text,
    pub least: Option<Quantity>,
    pub most: Option<Quantity>,
    pub or_else: Option<Text>,
    pub span: Span,
}

/// Phases that are worked between two days of the year only.
#[derive(Debug, Clone)]
#[allow(missing_docs)]
pub struct SeasonLine {
    pub phases: Vec<Text>,
    pub from: MonthDay,
    pub to: MonthDay,
    pub whole: bool,
    pub span: Span,
}

/// What is hired from one phase to another.
#[derive(Debug, Clone)]
#[allow(missing_docs)]
pub struct HireLine {
    /// A name, or a resource whose price the rates are.
    pub what: Hired,
    pub from: Text,
    pub to: Text,
    pub rates: Vec<(Signed, HireStep)>,
    pub each_area: bool,
    pub supplier: Option<Text>,
    pub span: Span,
}

/// When bills are sent and paid, and what is kept back.
#[derive(Debug, Clone)]
#[allow(missing_docs)]
pub struct BillLine {
    pub retain: Option<Exact>,
    pub until_half: bool,
    pub months: Option<u32>,
    pub span: Span,
}

/// What is hired.
#[derive(Debug, Clone)]
#[allow(missing_docs)]
pub enum Hired {
    Called(Text),
    Resource(Name),
}

/// What a rate of hire is for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[allow(missing_docs)]
pub enum HireStep {
    Day,
    Week,
    FourWeeks,
}
