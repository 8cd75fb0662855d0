//! Working time: which minutes of which days count.
//!
//! ```
//! use ovolo::calendar::clock::{Week, date_of, day_of};
//! let day = day_of("2024-02-29".parse().expect("a date"));
//! assert_eq!(date_of(day + 1).to_string(), "2024-03-01");
//! assert_eq!(Week::usual().day_minutes(), 480);
//! ```

use crate::ids::{self, count};
use jiff::civil::Date;
use std::collections::BTreeSet;
use std::sync::Arc;

/// Minutes of a day.
pub const DAY: i64 = 24 * 60;
/// Days before the first day of a job that are laid out: what is late may have had to start before it.
const DAYS_BEFORE: i32 = 5 * 366;
/// Days after the first day of a job that are laid out.
const DAYS_AFTER: i32 = 30 * 366;

/// A minute, counted from 1970-01-01 00:00. No time zone: the clock on the wall of the site.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub struct Instant(pub i64);

impl Instant {
    /// The first minute of a day, given in days since 1970-01-01.
    pub fn at_day(day: i32) -> Instant {
        Instant(i64::from(day) * DAY)
    }

    /// Days since 1970-01-01 of the day that holds this minute.
    pub fn day(self) -> i32 {
        i32::try_from(self.0.div_euclid(DAY)).unwrap_or(i32::MAX)
    }

    /// Minutes since midnight, from 0 to 1439.
    pub fn minute_of_day(self) -> i64 {
        self.0.rem_euclid(DAY)
    }

    /// The day on which something that ends at this minute ends: midnight belongs to the day before.
    pub fn last_day(self) -> i32 {
        Instant(self.0 - 1).day()
    }
}

/// Days since 1970-01-01 as a date of the proleptic Gregorian calendar.
pub fn date_of(day: i32) -> Date {
    let epoch = jiff::civil::date(1970, 1, 1);
    epoch
        .checked_add(jiff::Span::new().days(day))
        .unwrap_or(if day > 0 { Date::MAX } else { Date::MIN })
}

/// A date as days since 1970-01-01.
pub fn day_of(date: Date) -> i32 {
    let epoch = jiff::civil::date(1970, 1, 1);
    epoch.until(date).map_or(0, |span| span.get_days())
}

/// Which weekdays are worked and from when to when, in minutes since midnight.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Week {
    /// Monday first.
    pub days: [bool; 7],
    /// Stretches of work in one day, in order, none overlapping: minutes since midnight, the end not in it.
    pub hours: Vec<(i64, i64)>,
}

impl Week {
    /// Monday to Friday, 8:00 to 16:00.
    pub fn usual() -> Week {
        Week {
            days: [true, true, true, true, true, false, false],
            hours: vec![(8 * 60, 16 * 60)],
        }
    }

    /// Every minute of every day.
    pub fn always() -> Week {
        Week {
            days: [true; 7],
            hours: vec![(0, DAY)],
        }
    }

    /// Minutes worked in one day.
    pub fn day_minutes(&self) -> i64 {
        self.hours.iter().map(|(from, to)| to - from).sum()
    }
}

/// A part of each year in which some work may be done: from a day of a month to another, both included.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Season {
    /// Month and day of the first day.
    pub from: (i8, i8),
    /// Month and day of the last day; before `from` when the season runs over the new year.
    pub to: (i8, i8),
    /// Whether work begun before the season's end may be finished in the next one.
    pub may_split: bool,
}

impl Season {
    /// Whether a day lies in the season.
    pub fn holds(&self, day: i32) -> bool {
        let date = date_of(day);
        let at = (date.month(), date.day());
        if self.from <= self.to {
            self.from <= at && at <= self.to
        } else {
            at >= self.from || at <= self.to
        }
    }
}

/// Why there is no working time.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum ClockFault {
    /// No weekday is worked, or the day has no minutes.
    NoHours,
    /// Holidays, seasons and lost days leave no day in the years looked at.
    NoDays,
    /// The work does not end within thirty years.
    TooLong,
    /// Work that may not be split is longer than any one season: minutes of work, and the most that a season holds.
    SeasonTooShort {
        /// Minutes of work.
        work: i64,
        /// Minutes of the longest season.
        season: i64,
    },
}

/// Working time laid out: turns minutes of work into dates and back.
#[derive(Debug, Clone)]
pub struct Clock {
    /// Working days in order, as days since 1970-01-01.
    days: Arc<[i32]>,
    hours: Vec<(i64, i64)>,
    per_day: i64,
    /// For a season that may not be split: index into `days` of the first day of each season.
    seasons: Vec<usize>,
}

impl Clock {
    /// Lays out the working time around `first`, the job's first day in days since 1970-01-01.
    ///
    /// `off` holds holidays; `lost` gives the days expected to be lost in each month, January first, spread evenly over the
    /// working days of the month.
    ///
    /// # Errors
    ///
    /// When no working time is left.
    pub fn new(
        week: &Week,
        off: &BTreeSet<i32>,
        season: Option<&Season>,
        lost: &[u8; 12],
        first: i32,
    ) -> Result<Clock, ClockFault> {
        let per_day = week.day_minutes();
        if per_day <= 0 || !week.days.contains(&true) {
            return Err(ClockFault::NoHours);
        }
        let worked = |day: i32| {
            let weekday = ids::at((day + 3).rem_euclid(7).unsigned_abs());
            week.days.get(weekday).copied().unwrap_or(false) && !off.contains(&day)
        };
        let mut days: Vec<i32> = (first - DAYS_BEFORE..first + DAYS_AFTER)
            .filter(|day| worked(*day))
            .collect();
        if lost.iter().any(|n| *n > 0) {
            days = without_lost(&days, lost);
        }
        let mut seasons = Vec::new();
        if let Some(season) = season {
            days.retain(|day| season.holds(*day));
            if !season.may_split {
                seasons = season_starts(&days);
            }
        }
        if days.last().is_none_or(|last| *last < first) {
            return Err(ClockFault::NoDays);
        }
        Ok(Clock {
            days: days.into(),
            hours: week.hours.clone(),
            per_day,
            seasons,
        })
    }

    /// A clock on which every minute counts that counts on any of these.
    pub fn union(clocks: &[&Clock]) -> Clock {
        let mut all = clocks.iter().map(|c| &c.days);
        let mut days = all.next().map_or_else(|| Arc::from([]), Arc::clone);
        for more in all.filter(|d| !d.is_empty()) {
            if !Arc::ptr_eq(&days, more) && days != *more {
                days = merged(&days, more).into();
            }
        }
        let mut stretches: Vec<(i64, i64)> = clocks
            .iter()
            .flat_map(|c| c.hours.iter().copied())
            .collect();
        stretches.sort_unstable();
        let mut hours: Vec<(i64, i64)> = Vec::new();
        for (from, to) in stretches {
            match hours.last_mut() {
                Some(last) if from <= last.1 => last.1 = last.1.max(to),
                _ => hours.push((from, to)),
            }
        }
        Clock {
            days,
            per_day: hours.iter().map(|(from, to)| to - from).sum(),
            hours,
            seasons: Vec::new(),
        }
    }

    /// Minutes of work in one working day.
    pub fn day_minutes(&self) -> i64 {
        self.per_day
    }

    /// Whether a day is worked.
    pub fn works_on(&self, day: i32) -> bool {
        self.days.binary_search(&day).is_ok()
    }

    /// Minutes of work before an instant, counted from the first day laid out.
    pub fn work_before(&self, at: Instant) -> i64 {
        let (index, on_it) = match self.days.binary_search(&at.day()) {
            Ok(index) => (index, true),
            Err(index) => (index, false),
        };
        let whole = count(index) * self.per_day;
        if !on_it {
            return whole;
        }
        let minute = at.minute_of_day();
        whole
            + self
                .hours
                .iter()
                .map(|(from, to)| (minute.min(*to) - from).max(0))
                .sum::<i64>()
    }

    /// The instant at which work begins when so many minutes of work lie before it.
    ///
    /// # Errors
    ///
    /// When it lies outside the years laid out.
    pub fn begins(&self, work: i64) -> Result<Instant, ClockFault> {
        self.place(work, work.div_euclid(self.per_day), false)
    }

    /// The instant at which so many minutes of work are done: the end of a day rather than the start of the next.
    ///
    /// # Errors
    ///
    /// When it lies outside the years laid out.
    pub fn ends(&self, work: i64) -> Result<Instant, ClockFault> {
        self.place(work, (work - 1).div_euclid(self.per_day), true)
    }

    fn place(&self, work: i64, day: i64, at_end: bool) -> Result<Instant, ClockFault> {
        let date = usize::try_from(day)
            .ok()
            .and_then(|day| self.days.get(day))
            .ok_or(ClockFault::TooLong)?;
        let mut left = work - day * self.per_day;
        for (from, to) in &self.hours {
            let length = to - from;
            if left < length || (at_end && left == length) {
                return Ok(Instant(i64::from(*date) * DAY + from + left));
            }
            left -= length;
        }
        Err(ClockFault::TooLong)
    }

    /// Start and end of `work` minutes of work that may begin at `from` at the earliest, in minutes of work.
    ///
    /// # Errors
    ///
    /// When the work does not fit into the years laid out, or into any one season.
    pub fn run_from(&self, from: Instant, work: i64) -> Result<(i64, i64), ClockFault> {
        let start = self.work_before(from);
        if self.seasons.is_empty() || work == 0 {
            return Ok((start, start + work));
        }
        let mut at = start;
        for (index, first) in self.seasons.iter().enumerate() {
            let (begin, end) = self.season(index, *first);
            if end <= at {
                continue;
            }
            at = at.max(begin);
            if at + work <= end {
                return Ok((at, at + work));
            }
        }
        Err(self.too_short(work))
    }

    /// Start and end of `work` minutes of work that must end by `by` at the latest, in minutes of work.
    ///
    /// # Errors
    ///
    /// As for [`Clock::run_from`].
    pub fn run_until(&self, by: Instant, work: i64) -> Result<(i64, i64), ClockFault> {
        let end = self.work_before(by);
        if self.seasons.is_empty() || work == 0 {
            return Ok((end - work, end));
        }
        let mut at = end;
        for (index, first) in self.seasons.iter().enumerate().rev() {
            let (begin, last) = self.season(index, *first);
            if begin >= at {
                continue;
            }
            at = at.min(last);
            if at - work >= begin {
                return Ok((at - work, at));
            }
        }
        Err(self.too_short(work))
    }

    fn season(&self, index: usize, first: usize) -> (i64, i64) {
        let next = self
            .seasons
            .get(index + 1)
            .copied()
            .unwrap_or(self.days.len());
        (count(first) * self.per_day, count(next) * self.per_day)
    }

    fn too_short(&self, work: i64) -> ClockFault {
        let longest = (0..self.seasons.len())
            .zip(&self.seasons)
            .map(|(index, first)| {
                let (begin, end) = self.season(index, *first);
                end - begin
            })
            .max()
            .unwrap_or(0);
        if work > longest {
            ClockFault::SeasonTooShort {
                work,
                season: longest,
            }
        } else {
            ClockFault::TooLong
        }
    }

    /// Working days from an instant to another, with the minutes of work on each.
    pub fn days_between(
        &self,
        from: Instant,
        to: Instant,
    ) -> impl Iterator<Item = (i32, i64)> + '_ {
        let first = self.days.partition_point(|day| *day < from.day());
        self.days
            .get(first..)
            .unwrap_or_default()
            .iter()
            .take_while(move |day| Instant::at_day(**day) < to)
            .map(move |day| {
                let begin = Instant::at_day(*day).max(from);
                let end = Instant::at_day(*day + 1).min(to);
                (*day, self.work_before(end) - self.work_before(begin))
            })
            .filter(|(_, minutes)| *minutes > 0)
    }
}

/// Days that are in either list, ascending as both are.
fn merged(a: &[i32], b: &[i32]) -> Vec<i32> {
    let mut days = Vec::with_capacity(a.len() + b.len());
    let (mut i, mut j) = (0, 0);
    while let (Some(&x), Some(&y)) = (a.get(i), b.get(j)) {
        days.push(x.min(y));
        i += usize::from(x <= y);
        j += usize::from(y <= x);
    }
    days.extend_from_slice(&a[i..]);
    days.extend_from_slice(&b[j..]);
    days
}

/// Takes the lost days out of each month, spread evenly over its working days.
fn without_lost(days: &[i32], lost: &[u8; 12]) -> Vec<i32> {
    let month_of = |day: &i32| {
        let date = date_of(*day);
        (date.year(), date.month())
    };
    let mut kept = Vec::with_capacity(days.len());
    for month in days.chunk_by(|a, b| month_of(a) == month_of(b)) {
        let number = month.first().map_or(1, |day| date_of(*day).month());
        let index = usize::from(number.unsigned_abs()).saturating_sub(1);
        let worked = month.len();
        let gone = usize::from(lost.get(index).copied().unwrap_or(0)).min(worked);
        kept.extend(
            month
                .iter()
                .enumerate()
                .filter(|(i, _)| (i + 1) * gone / worked == i * gone / worked)
                .map(|(_, day)| *day),
        );
    }
    kept
}

/// Index of the first day of each season: working days parted by more than six weeks.
fn season_starts(days: &[i32]) -> Vec<usize> {
    const GAP: i32 = 42;
    let mut starts: Vec<usize> = days.first().map(|_| 0).into_iter().collect();
    starts.extend(
        days.windows(2)
            .enumerate()
            .filter(|(_, pair)| matches!(pair, [a, b] if b - a > GAP))
            .map(|(i, _)| i + 1),
    );
    starts
}
