//! A job laid out in time.

use super::build::monday_of;
use crate::calendar::Instant;
use crate::calendar::hire::Cover;
use crate::diagnostics::Diagnostic;
use crate::number::{Exact, NumError};
use crate::program::{PhaseId, ResourceId};
use std::collections::BTreeMap;

/// A job laid out in time.
#[derive(Debug, Clone)]
pub struct Schedule {
    /// What areas are called, such as `wing`; `job` where there are none.
    pub area_word: String,
    /// Areas in the order of the reports.
    pub areas: Vec<String>,
    /// The work, by area and phase, in the order of areas and phases.
    pub phases: Vec<Phase>,
    /// The first minute of work.
    pub start: Instant,
    /// The last minute of work.
    pub finish: Instant,
    /// The day on which all must be done, as the job says.
    pub due: Option<i32>,
    /// No order of the same work with the same crews ends before this.
    pub bound: Instant,
    /// Hours of each trade by week, weeks in order.
    pub weeks: Vec<Week>,
    /// Crew minutes of each phase in each month of a year, in order.
    pub months: BTreeMap<(i16, i8), BTreeMap<PhaseId, i64>>,
    /// Names of the trades, in the order of [`Week::minutes`].
    pub trades: Vec<String>,
    /// What is hired, from when to when.
    pub hires: Vec<Hired>,
    /// The spans that rules read, in the order of the program's.
    pub spans: Vec<SpanDays>,
    /// What could not be kept.
    pub broken: Vec<Broken>,
    /// What should be heard though the work has dates.
    pub warnings: Vec<Diagnostic>,
    /// What was assumed because the calendar does not say it.
    pub assumed: Vec<String>,
}

/// One phase in one area.
#[derive(Debug, Clone)]
pub struct Phase {
    /// Index into [`Schedule::areas`].
    pub area: usize,
    /// The phase.
    pub phase: PhaseId,
    /// Its name.
    pub name: String,
    /// Its trades.
    pub activities: Vec<Activity>,
}

/// What one trade does in one phase of one area.
#[derive(Debug, Clone)]
pub struct Activity {
    /// The labor resource.
    pub trade: ResourceId,
    /// Person-time in minutes.
    pub labor: Exact,
    /// People in the crew.
    pub hands: u32,
    /// Minutes of work of the crew, rounded up to whole ones.
    pub work: i64,
    /// Minutes that the crew works in a day.
    pub day: i64,
    /// When the crew begins.
    pub start: Instant,
    /// When it is done.
    pub finish: Instant,
    /// Minutes of work by which it may be late without moving the end of the job or taking a crew from other work.
    pub total_float: i64,
    /// Days on which it is worked, in order, counted from 1970-01-01, with the minutes of its crew on each.
    pub days: Vec<(i32, i64)>,
}

impl Activity {
    /// Mondays of the weeks it lies in, in order.
    pub fn mondays(&self) -> Vec<i32> {
        let mut mondays: Vec<i32> = self.days.iter().map(|(day, _)| monday_of(*day)).collect();
        mondays.dedup();
        mondays
    }

    /// Person-time from one day up to another: the share of its crew's minutes that lies there.
    pub fn labor_between(&self, from: i32, to: i32) -> Result<Exact, NumError> {
        let within = self.days.iter().filter(|(day, _)| (from..to).contains(day));
        let within: i64 = within.map(|(_, minutes)| minutes).sum();
        if within == 0 {
            return Ok(Exact::ZERO);
        }
        let all: i64 = self.days.iter().map(|(_, minutes)| minutes).sum();
        self.labor.mul(&Exact::int(within))?.div(&Exact::int(all))
    }
}

impl Phase {
    /// When the first trade begins.
    pub fn start(&self) -> Instant {
        let starts = self.activities.iter().map(|a| a.start);
        starts.min().unwrap_or(Instant(0))
    }

    /// When the last trade is done.
    pub fn finish(&self) -> Instant {
        let ends = self.activities.iter().map(|a| a.finish);
        ends.max().unwrap_or(Instant(0))
    }

    /// The least float of its trades, in minutes of work, and the minutes of a working day.
    pub fn float(&self) -> (i64, i64) {
        let floats = self.activities.iter().map(|a| (a.total_float, a.day));
        floats.min().unwrap_or((0, 1))
    }

    /// Whether any delay of it moves the end of the job.
    pub fn is_critical(&self) -> bool {
        self.float().0 <= 0
    }
}

/// Work of one week.
#[derive(Debug, Clone)]
pub struct Week {
    /// Its Monday, in days since 1970-01-01.
    pub monday: i32,
    /// Person-minutes of each trade.
    pub minutes: Vec<i64>,
}

/// Days of a span that rules read.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct SpanDays {
    /// First and last day; none where one of its phases has no work, and the span has no days.
    pub ends: Option<(i32, i32)>,
    /// Days, calendar or working as its rule asks.
    pub days: u64,
}

/// Something hired.
#[derive(Debug, Clone)]
pub struct Hired {
    /// What.
    pub name: String,
    /// The resource whose price it is, where there is one.
    pub resource: Option<ResourceId>,
    /// Whom it is hired from.
    pub supplier: Option<String>,
    /// Area it is hired for; none where it is for the whole job.
    pub area: Option<usize>,
    /// First day.
    pub from: i32,
    /// Last day.
    pub to: i32,
    /// Calendar days, both ends counted.
    pub days: u64,
    /// The cheapest charges.
    pub cover: Cover,
}

/// Something the calendar asks for that could not be kept.
#[derive(Debug, Clone)]
pub struct Broken {
    /// What it is, as a sentence.
    pub what: String,
    /// What to do about it.
    pub mend: String,
}
