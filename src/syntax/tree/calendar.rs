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
    Closed(Vec<(Quantity, Option<Quantity>)>, Span),
    By(Name),
    Crew {
        resource: Name,
        crews: u32,
        hands: u32,
        span: Span,
    },
    Shop(Vec<Text>),
    SideBySide(Vec<Text>, Span),
    Wait {
        after: Text,
        before: Text,
        least: Option<Quantity>,
        most: Option<Quantity>,
        or_else: Option<Text>,
        span: Span,
    },
    Season {
        phases: Vec<Text>,
        from: MonthDay,
        to: MonthDay,
        whole: bool,
        span: Span,
    },
    Lost(Vec<MonthDay>, Span),
    Hire {
        /// A name, or a resource whose price the rates are.
        what: Hired,
        from: Text,
        to: Text,
        rates: Vec<(Signed, HireStep)>,
        each_area: bool,
        span: Span,
    },
    Bill {
        retain: Option<Exact>,
        until_half: bool,
        months: Option<u32>,
        span: Span,
    },
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
