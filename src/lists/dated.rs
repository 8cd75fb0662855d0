//! Activities of the calendar, whole and week by week, as fields of a list's rows.

use super::gather::{Got, date};
use super::papers::Made;
use crate::number::Exact;
use crate::program::{Field, Grain};
use crate::schedule::Schedule;
use crate::takeoff;

impl Made<'_> {
    /// The group of rows that an area of the calendar is; none for the whole job.
    pub(super) fn area_of(&self, area: usize) -> Option<(Grain, usize)> {
        let split = self.program.terms.calendar.area;
        let splits = takeoff::splits(self.program, self.version);
        let group = splits.get(split)?.1;
        let count = self.results.groups(group)?.first_row.len();
        (area < count).then_some((Grain::Group(group), area))
    }

    #[expect(
        clippy::wildcard_enum_match_arm,
        reason = "the checker gives a list the fields of its rows alone; any other would be blank"
    )]
    pub(super) fn of_activity(
        &self,
        field: Field,
        plan: &Schedule,
        phase: usize,
        at: usize,
    ) -> Got {
        let Some(phase) = plan.phases.get(phase) else {
            return Got::Blank;
        };
        let Some(activity) = phase.activities.get(at) else {
            return Got::Blank;
        };
        match field {
            Field::Area => plan
                .areas
                .get(phase.area)
                .cloned()
                .map_or(Got::Blank, Got::Text),
            Field::Phase => Got::Text(phase.name.clone()),
            Field::Trade => Got::Text(self.called(activity.trade)),
            Field::Start => date(activity.start.day()),
            Field::Finish => date(activity.finish.last_day()),
            Field::Hours => Got::Number(activity.labor.clone()),
            Field::Hands => Got::Number(Exact::int(i64::from(activity.hands))),
            Field::Critical => Got::Text(match activity.total_float <= 0 {
                true => "yes".to_owned(),
                false => String::new(),
            }),
            _ => Got::Blank,
        }
    }

    #[expect(
        clippy::wildcard_enum_match_arm,
        reason = "the hours of a week are its own; all else is that of the activity"
    )]
    pub(super) fn of_week(
        &self,
        field: Field,
        plan: &Schedule,
        (phase, at): (usize, usize),
        monday: i32,
    ) -> Got {
        let found = plan.phases.get(phase).and_then(|p| p.activities.get(at));
        let Some(activity) = found else {
            return Got::Blank;
        };
        let days = |from: i32, to: i32| match activity.labor_between(from, to) {
            Ok(n) if n.is_zero() => Got::Blank,
            Ok(n) => Got::Number(n),
            Err(_) => Got::Unknown("too many digits".to_owned()),
        };
        match field {
            Field::Week => Got::Day(monday),
            Field::Hours => days(monday, monday + 7),
            Field::OnDay(day) => {
                let day = monday + i32::from(day);
                days(day, day + 1)
            }
            _ => self.of_activity(field, plan, phase, at),
        }
    }
}
