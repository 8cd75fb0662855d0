//! The calendar of a job as tables and as a drawing of bars.
//!
//! ```
//! # fn worked() -> ovolo::session::Session {
//! #     include!(concat!(env!("CARGO_MANIFEST_DIR"), "/tests/docs/worked.rs"))
//! # }
//! let session = worked(); // a small job in memory
//! let run = session.run().expect("it is worked");
//! let estimate = &run.worked.estimate;
//! let plan = estimate.schedule.as_ref().expect("the job has a calendar");
//! let lines = ovolo::report::calendar::summary(plan);
//! assert!(lines[0].starts_with("Work starts on Monday, 2026-03-02"));
//! ```

use super::view::{Cell, Column, View};
use crate::calendar::Instant;
use crate::calendar::clock::date_of;
use crate::calendar::hire::Cover;
use crate::number::{Exact, cents_grouped};
use crate::schedule::{Phase, Schedule};
use crate::study::CashMonth;

/// Minutes of an hour.
const HOUR: i64 = 60;

/// All tables of a calendar, in order.
pub fn views(plan: &Schedule) -> Vec<View> {
    let mut views = vec![activities(plan), weeks(plan)];
    views.extend(
        [hire(plan), broken(plan)]
            .into_iter()
            .filter(|v| !v.is_empty()),
    );
    views
}

/// The calendar in sentences: first and last day, what no order could beat, the critical path, what was assumed.
pub fn summary(plan: &Schedule) -> Vec<String> {
    let mut lines = vec![format!(
        "Work starts on {} and ends on {}.",
        day(plan.start.day()),
        day(plan.finish.last_day())
    )];
    if let Some(due) = plan.due {
        let spare = due - plan.finish.last_day();
        lines.push(if spare < 0 {
            format!("It is due on {}: {} late.", day(due), calendar_days(-spare))
        } else {
            format!(
                "It is due on {}: {} to spare.",
                day(due),
                calendar_days(spare)
            )
        });
    }
    lines.push(bound(plan));
    lines.push(format!(
        "Critical path: {}.",
        critical(plan).join(", then ")
    ));
    if !plan.assumed.is_empty() {
        lines.push(format!("Assumed: {}.", plan.assumed.join("; ")));
    }
    lines
}

fn bound(plan: &Schedule) -> String {
    let (end, least) = (plan.finish.last_day(), plan.bound.last_day());
    if plan.finish == plan.bound {
        return "With these crews no other order can end sooner.".to_owned();
    }
    format!(
        "Work is placed by one rule: of what could start, what must end first goes first. No order with these crews can end before {}, \
         {} sooner.",
        day(least),
        calendar_days(end - least)
    )
}

fn calendar_days(many: i32) -> String {
    let word = if many == 1 { "day" } else { "days" };
    format!("{many} calendar {word}")
}

/// The phases that any delay would move the end of the job by, in order of time.
fn critical(plan: &Schedule) -> Vec<String> {
    let mut found: Vec<&Phase> = plan.phases.iter().filter(|p| p.is_critical()).collect();
    found.sort_by_key(|p| (p.start(), p.finish()));
    found
        .iter()
        .map(|p| format!("{} {}", area(plan, p.area), p.name))
        .collect()
}

fn area(plan: &Schedule, at: usize) -> &str {
    plan.areas.get(at).map_or("", String::as_str)
}

fn activities(plan: &Schedule) -> View {
    let columns = vec![
        Column::text(plan.area_word.clone()),
        Column::text("phase"),
        Column::number("hours"),
        Column::text("start").narrow(),
        Column::text("finish").narrow(),
        Column::text("starts").wide(),
        Column::text("ends").wide(),
        Column::number("crew days"),
        Column::number("float, days"),
        Column::text("critical"),
    ];
    let mut view = View::new("calendar", "Calendar", columns);
    let mut last = usize::MAX;
    for phase in &plan.phases {
        let labor: Exact = phase
            .activities
            .iter()
            .fold(Exact::ZERO, |sum, a| sum.add(&a.labor).unwrap_or(sum));
        let longest =
            phase
                .activities
                .iter()
                .map(|a| days(a.work, a.day))
                .fold(
                    Exact::ZERO,
                    |most, days| if days > most { days } else { most },
                );
        let (float, per_day) = phase.float();
        let first = last != phase.area;
        last = phase.area;
        view.row(vec![
            if first {
                Cell::text(area(plan, phase.area))
            } else {
                Cell::Blank
            },
            Cell::text(phase.name.clone()),
            Cell::Number(hours(&labor), 2),
            Cell::text(date_of(phase.start().day()).to_string()),
            Cell::text(date_of(phase.finish().last_day()).to_string()),
            Cell::text(moment(phase.start())),
            Cell::text(moment(phase.finish())),
            Cell::Number(longest, 1),
            Cell::Number(days(float, per_day), 1),
            Cell::maybe(phase.is_critical().then_some("yes")),
        ]);
    }
    view.notes.push(
        "Crew days are those of the trade with the most work in the phase. Float is how many working days it may be late without moving \
         the end of the job or taking a crew from other work."
            .to_owned(),
    );
    view
}

fn weeks(plan: &Schedule) -> View {
    let mut columns = vec![Column::text("week of")];
    columns.extend(plan.trades.iter().map(|t| Column::number(t.clone())));
    columns.push(Column::number("all"));
    let mut view = View::new("calendar-weeks", "Crew hours by week", columns);
    let mut sums = vec![0_i64; plan.trades.len()];
    for week in &plan.weeks {
        let mut cells = vec![Cell::text(date_of(week.monday).to_string())];
        cells.extend(week.minutes.iter().map(|m| crew_hours(*m)));
        cells.push(crew_hours(week.minutes.iter().sum()));
        view.row(cells);
        sums.iter_mut()
            .zip(&week.minutes)
            .for_each(|(s, m)| *s += m);
    }
    let mut cells = vec![Cell::text("all weeks")];
    cells.extend(sums.iter().map(|m| crew_hours(*m)));
    cells.push(crew_hours(sums.iter().sum()));
    view.total(cells);
    view.notes.push(
        "Hours of whole crews, counted in whole minutes: a crew of two that finishes in the same minute books two."
            .to_owned(),
    );
    view
}

fn crew_hours(minutes: i64) -> Cell {
    if minutes == 0 {
        return Cell::Blank;
    }
    Cell::Number(days(minutes, HOUR), 1)
}

fn hire(plan: &Schedule) -> View {
    let columns = vec![
        Column::text("hire"),
        Column::text("for"),
        Column::text("on"),
        Column::text("off"),
        Column::number("days"),
        Column::text("charged as"),
        Column::number("cost"),
    ];
    let mut view = View::new("calendar-hire", "Hire by the calendar", columns);
    let mut sum = 0_i128;
    for hired in &plan.hires {
        sum += i128::from(hired.cover.cost);
        view.row(vec![
            Cell::text(hired.name.clone()),
            Cell::text(hired.area.map_or("whole job", |at| area(plan, at))),
            Cell::text(date_of(hired.from).to_string()),
            Cell::text(date_of(hired.to).to_string()),
            Cell::Count(crate::ids::length(hired.days)),
            Cell::text(charged(&hired.cover)),
            Cell::Money(i128::from(hired.cover.cost)),
        ]);
    }
    if !plan.hires.is_empty() {
        let mut cells = vec![Cell::Blank; 6];
        cells.insert(0, Cell::text("all hire"));
        cells.truncate(6);
        cells.push(Cell::Money(sum));
        view.total(cells);
    }
    view
}

fn charged(cover: &Cover) -> String {
    let part = |many: u64, one: &str, several: &str| match many {
        0 => None,
        1 => Some(format!("1 {one}")),
        n => Some(format!("{n} {several}")),
    };
    [
        part(cover.four_weeks, "four-week span", "four-week spans"),
        part(cover.weeks, "week", "weeks"),
        part(cover.days, "day", "days"),
    ]
    .into_iter()
    .flatten()
    .collect::<Vec<_>>()
    .join(", ")
}

fn broken(plan: &Schedule) -> View {
    let columns = vec![
        Column::text("what could not be kept"),
        Column::text("what to do"),
    ];
    let mut view = View::new("calendar-not-kept", "What could not be kept", columns);
    for b in &plan.broken {
        view.row(vec![Cell::text(b.what.clone()), Cell::text(b.mend.clone())]);
    }
    view
}

fn hours(labor: &Exact) -> Exact {
    labor
        .div(&Exact::from(HOUR))
        .unwrap_or_else(|_| labor.clone())
}

fn days(minutes: i64, per_day: i64) -> Exact {
    Exact::from(minutes)
        .div(&Exact::from(per_day.max(1)))
        .unwrap_or(Exact::ZERO)
}

fn day(at: i32) -> String {
    let date = date_of(at);
    format!("{:?}, {date}", date.weekday())
}

fn moment(at: Instant) -> String {
    let minute = at.minute_of_day();
    format!(
        "{} {:02}:{:02}",
        date_of(at.day()),
        minute / HOUR,
        minute % HOUR
    )
}

/// What is laid out, billed and received month by month.
pub fn cash(months: &[CashMonth], currency: &str) -> View {
    let columns = vec![
        Column::text("month"),
        Column::money("cost", currency),
        Column::money("billed", currency),
        Column::money("before receipts", currency),
        Column::money("received", currency),
        Column::money("balance", currency),
    ];
    let mut view = View::new("calendar-cash", "Cash by month", columns);
    for m in months {
        let a = &m.account;
        view.row(vec![
            Cell::text(format!("{}-{:02}", m.year, m.month)),
            Cell::Money(a.cost),
            Cell::Money(a.billed),
            Cell::Money(a.before),
            Cell::Money(a.received),
            Cell::Money(a.after),
        ]);
    }
    let sum = |of: fn(&CashMonth) -> i128| Cell::Money(months.iter().map(of).sum());
    view.total(vec![
        Cell::text("all months"),
        sum(|m| m.account.cost),
        sum(|m| m.account.billed),
        Cell::Blank,
        sum(|m| m.account.received),
        Cell::Blank,
    ]);
    if let Some(deepest) = months.iter().min_by_key(|m| m.account.before) {
        view.notes.push(format!(
            "Deepest in {}-{:02}: {}.",
            deepest.year,
            deepest.month,
            cents_grouped(deepest.account.before)
        ));
    }
    view
}
