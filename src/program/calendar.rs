//! What a job states about time: working days and hours, crews, waits, seasons, hire.

use super::version::{PhaseId, ResourceId};
use crate::diagnostics::Span;
use crate::number::Exact;

/// The `calendar` block of a job. Days are counted from 1970-01-01, minutes of a day from midnight.
#[derive(Debug, Clone, Default)]
pub struct CalendarTerms {
    /// Where the block is; none where the job has none.
    pub span: Option<Span>,
    /// The first day on which work may begin.
    pub starts: Option<i32>,
    /// The day on which all must be done.
    pub due: Option<i32>,
    /// Weekdays that are worked, Monday first; none where the job does not say.
    pub worked: Option<[bool; 7]>,
    /// Stretches of work in a day.
    pub hours: Vec<(i64, i64)>,
    /// Whether the federal holidays are kept.
    pub federal: bool,
    /// Days without work, first and last of each stretch.
    pub closed: Vec<(i32, i32)>,
    /// Index into `split by` of the column that parts the work into areas.
    pub area: usize,
    /// Crews.
    pub crews: Vec<CrewDef>,
    /// Phases worked in the shop, where no weather stops them.
    pub shop: Vec<PhaseId>,
    /// Phases of one area that may run at the same time.
    pub side_by_side: Vec<Vec<PhaseId>>,
    /// Waits between phases of one area.
    pub waits: Vec<WaitDef>,
    /// Parts of the year in which phases may be worked.
    pub seasons: Vec<SeasonDef>,
    /// Days expected to be lost to weather in each month, January first.
    pub lost: [u8; 12],
    /// Things hired.
    pub hires: Vec<HireDef>,
    /// How bills are written and paid.
    pub bill: Option<BillDef>,
}

/// Crews of one trade.
#[derive(Debug, Clone)]
pub struct CrewDef {
    /// Labor resource.
    pub resource: ResourceId,
    /// How many crews.
    pub crews: u32,
    /// How many people in each.
    pub hands: u32,
}

/// A wait from the end of one phase to the start of another, in one area.
#[derive(Debug, Clone)]
pub struct WaitDef {
    /// The phase that ends.
    pub after: PhaseId,
    /// The phase that starts.
    pub before: PhaseId,
    /// At least so long.
    pub least: Option<WaitTime>,
    /// At most so long.
    pub most: Option<WaitTime>,
    /// What is done where the wait turns out longer than that.
    pub or_else: Option<String>,
    /// Where.
    pub span: Span,
}

/// Length of a wait.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum WaitTime {
    /// Minutes on the wall clock.
    Elapsed(i64),
    /// Working days.
    WorkDays(i64),
}

/// A part of each year in which phases may be worked: month and day, both included.
#[derive(Debug, Clone)]
pub struct SeasonDef {
    /// The phases.
    pub phases: Vec<PhaseId>,
    /// First day.
    pub from: (i8, i8),
    /// Last day.
    pub to: (i8, i8),
    /// Whether the work of one area must lie in one season.
    pub whole: bool,
    /// Where.
    pub span: Span,
}

/// Something hired from the start of one phase to the end of another.
#[derive(Debug, Clone)]
pub struct HireDef {
    /// What.
    pub name: String,
    /// The resource whose price these rates are.
    pub resource: Option<ResourceId>,
    /// Phase at whose start it comes.
    pub from: PhaseId,
    /// Phase at whose end it goes.
    pub to: PhaseId,
    /// Currency for a day.
    pub day: Exact,
    /// Currency for a week.
    pub week: Option<Exact>,
    /// Currency for four weeks.
    pub four_weeks: Option<Exact>,
    /// Whether each area has its own.
    pub each_area: bool,
    /// Whom it is hired from.
    pub supplier: Option<String>,
    /// Where.
    pub span: Span,
}

/// Monthly bills.
#[derive(Debug, Clone)]
pub struct BillDef {
    /// Share that the owner keeps back, from 0 to 1.
    pub retain: Exact,
    /// Whether nothing more is kept once half of the sum is billed.
    pub until_half: bool,
    /// Months from a bill to its payment.
    pub later: u32,
}

/// A span of days that rules read: from the first day of one phase to the last of another, both counted.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SpanDef {
    /// The version that reads it.
    pub version: usize,
    /// Name of the phase that begins it.
    pub from: String,
    /// Name of the phase that ends it.
    pub to: String,
    /// Whether working days are counted, not days of the calendar.
    pub working: bool,
    /// Stands for it where there is no calendar.
    pub otherwise: super::NodeId,
    /// Where the formula and the names of its phases are first written.
    pub places: [Span; 3],
}

impl SpanDef {
    /// As it is written: `days from "Glazing" to "Painting"`.
    pub fn text(&self) -> String {
        let days = if self.working { "work days" } else { "days" };
        format!("{days} from \"{}\" to \"{}\"", self.from, self.to)
    }
}
