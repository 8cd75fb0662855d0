//! The week in which the work of a take on a row begins: crews work through an area in the order of the survey.

use super::gather::Got;
use super::papers::Made;
use crate::calendar::clock::date_of;
use crate::eval::Cell;
use crate::number::Exact;
use crate::program::{Grain, ResourceClass};
use crate::schedule::Activity;
use crate::takeoff;
use foldhash::HashMap;

/// Where there is no calendar, or the work is not in it.
const NONE: &str = "no date";

/// The Monday of the week in which each labor take begins on each row, and for the whole job.
pub(super) type Weeks = HashMap<(usize, Option<usize>), i32>;

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
                let amount = |node, row| match made.results.value(node, row) {
                    Cell::Number(n) if !n.is_zero() => Some(n),
                    Cell::Number(_)
                    | Cell::Truth(_)
                    | Cell::Label(_)
                    | Cell::Text(_)
                    | Cell::Absent(_)
                    | Cell::Fault(_) => None,
                };
                match take.plan.by_row {
                    Some(node) => {
                        for row in
                            0..crate::show::rows(made.tables, made.results, Grain::Table(main))
                        {
                            let area = areas
                                .and_then(|a| a.of_row.get(row))
                                .map(|a| crate::ids::at(*a));
                            if area.unwrap_or(whole) == phase.area
                                && let Some(n) = amount(node, row)
                            {
                                rows.push((Some(row), at, n));
                            }
                        }
                    }
                    None if phase.area == whole => {
                        rows.extend(amount(take.plan.total, 0).map(|n| (None, at, n)));
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
    let minutes: i64 = activity.weeks.iter().map(|w| w.1).sum();
    let mut weeks = activity.weeks.iter();
    let Some((mut monday, mut until)) = weeks.next().copied() else {
        return;
    };
    let mut done = Exact::ZERO;
    for (row, take, labor) in rows {
        // Person-time done before it, as a share of all, against crew time gone by the end of the week.
        let begins = done.mul(&Exact::int(minutes));
        while let (Ok(begins), Ok(end)) = (&begins, activity.labor.mul(&Exact::int(until)))
            && *begins >= end
            && let Some((next, more)) = weeks.next()
        {
            (monday, until) = (*next, until + more);
        }
        out.insert((take, row), monday);
        done = done.add(&labor).unwrap_or(done);
    }
}

impl Made<'_> {
    /// The week of a take on a row.
    pub(super) fn week(&self, take: usize, row: Option<usize>) -> Got {
        Got::Text(match self.monday(take, row) {
            Some(monday) => date_of(monday).to_string(),
            None => NONE.to_owned(),
        })
    }

    /// The Monday of that week.
    pub(super) fn monday(&self, take: usize, row: Option<usize>) -> Option<i32> {
        let weeks = self.weeks.get_or_init(|| weeks(self));
        weeks.get(&(take, row)).copied()
    }
}
