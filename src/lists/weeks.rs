//! The weeks in which the work of a take on a row is done: crews work through an area in the order of the survey.

use super::gather::Got;
use super::papers::Made;
use crate::number::{Exact, NumError};
use crate::program::{Grain, ResourceClass};
use crate::schedule::Activity;
use crate::takeoff;
use foldhash::HashMap;

/// Where there is no calendar, or the work is not in it.
const NONE: &str = "no date";

/// The Mondays of the weeks in which each labor take is worked on each row, and for the whole job, with its person-time in each.
pub(super) type Weeks = HashMap<(usize, Option<usize>), Vec<(i32, Exact)>>;

/// Lays the rows of each activity out over its weeks, by their person-time.
pub(super) fn weeks(made: &Made<'_>) -> Weeks {
    let mut out = Weeks::default();
    let (Some(plan), Some(main)) = (made.estimate.schedule.as_deref(), made.program.main_table())
    else {
        return out;
    };
    let split = made.program.terms.calendar.area;
    let group = takeoff::splits(made.program, made.version)
        .get(split)
        .map(|s| s.1);
    let areas = group.and_then(|g| made.results.groups(g));
    let whole = plan.areas.len().saturating_sub(1);
    for phase in &plan.phases {
        for activity in &phase.activities {
            let mut rows: Vec<(Option<usize>, usize, Exact)> = Vec::new();
            for (at, take) in made.version.takes.iter().enumerate() {
                let labor = made.version.resources[take.resource].class == ResourceClass::Labor;
                if !labor || take.phase != phase.phase || take.resource != activity.trade {
                    continue;
                }
                match take.plan.by_row {
                    Some(node) => {
                        for row in
                            0..crate::show::rows(made.tables, made.results, Grain::Table(main))
                        {
                            let area = areas
                                .and_then(|a| a.of_row.get(row))
                                .map(|a| crate::ids::at(*a));
                            if area.unwrap_or(whole) == phase.area
                                && let Some(n) = made.results.nonzero(node, row)
                            {
                                rows.push((Some(row), at, n));
                            }
                        }
                    }
                    None if phase.area == whole => {
                        rows.extend(
                            made.results
                                .nonzero(take.plan.total, 0)
                                .map(|n| (None, at, n)),
                        );
                    }
                    None => {}
                }
            }
            rows.sort_by_key(|(row, at, _)| (row.is_none(), *row, *at));
            lay(activity, rows, &mut out);
        }
    }
    out
}

fn lay(activity: &Activity, rows: Vec<(Option<usize>, usize, Exact)>, out: &mut Weeks) {
    // Person-time done by the end of each week.
    let mondays = activity.mondays().into_iter();
    let mut ends = mondays.scan(Exact::ZERO, |end, monday| {
        let more = activity.labor_between(monday, monday + 7);
        *end = end.add(&more.ok()?).ok()?;
        Some((monday, end.clone()))
    });
    let Some((mut monday, mut end)) = ends.next() else {
        return;
    };
    let mut done = Exact::ZERO;
    for (row, take, labor) in rows {
        let Ok(until) = done.add(&labor) else {
            return;
        };
        let mut portions = Vec::new();
        while until > end
            && let Some(next) = ends.next()
        {
            if end > done {
                portions.extend(end.sub(&done).ok().map(|n| (monday, n)));
                done = end;
            }
            (monday, end) = next;
        }
        portions.extend(until.sub(&done).ok().map(|n| (monday, n)));
        out.insert((take, row), portions);
        done = until;
    }
}

impl Made<'_> {
    /// The weeks of a take on a row, with its person-time in each; none where there is no calendar, or the work is not in it.
    pub(super) fn weeks_of(&self, take: usize, row: Option<usize>) -> &[(i32, Exact)] {
        let weeks = self.weeks.get_or_init(|| weeks(self));
        weeks.get(&(take, row)).map_or(&[], Vec::as_slice)
    }

    /// All person-time that lies in a week.
    pub(super) fn laid_in_weeks(&self) -> Result<Exact, NumError> {
        let weeks = self.weeks.get_or_init(|| weeks(self));
        let mut portions = weeks.values().flatten();
        portions.try_fold(Exact::ZERO, |sum, (_, n)| sum.add(n))
    }

    /// The week in which a take on a row begins.
    pub(super) fn monday(&self, take: usize, row: Option<usize>) -> Option<i32> {
        self.weeks_of(take, row).first().map(|w| w.0)
    }
}

/// A week by its Monday.
pub(super) fn week(monday: Option<i32>) -> Got {
    monday.map_or_else(|| Got::Text(NONE.to_owned()), Got::Day)
}
