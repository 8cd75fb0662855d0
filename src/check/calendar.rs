//! The `calendar` block of a job: days, crews, waits, seasons and hire, checked before anything runs.

use super::typed::*;
use super::unknown::Known;
use crate::diagnostics::{Diagnostic, Span};
use crate::number::Exact;
use crate::program::{
    BillDef, CalendarTerms, CrewDef, HireDef, PhaseId, ResourceClass, ResourceId, Scale, SeasonDef,
    Version, WaitDef, WaitTime,
};
use crate::syntax::tree::{
    BillLine, CalendarLine, HireLine, HireStep, Hired, MonthDay, Name, Quantity, SeasonLine,
    Signed, StatementKind, Text, WaitLine,
};
use crate::units::{Base, Dim};

/// Days of the longest month of each number, January first.
const MONTH_DAYS: [u32; 12] = [31, 29, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31];
/// Most crews of one trade, and most people in one.
const MOST_HANDS: u32 = 1_000;

impl<'a> Checker<'a> {
    /// Reads the calendar, once, with the first version's resources.
    #[expect(
        clippy::wildcard_enum_match_arm,
        reason = "statements of one kind are looked for; all others are read elsewhere"
    )]
    pub(super) fn calendar_terms(&mut self, version: &Version) {
        let blocks: Vec<(&'a [CalendarLine], Span)> = self
            .all_statements()
            .filter_map(|st| match &st.kind {
                StatementKind::Calendar { lines, head } => Some((lines.as_slice(), *head)),
                _ => None,
            })
            .collect();
        let mut terms = CalendarTerms::default();
        for (lines, head) in blocks {
            if let Some(first) = terms.span {
                self.problems.push(
                    Diagnostic::error("OV-213", "there are two calendar blocks")
                        .at(head, "the second")
                        .at(first, "the first")
                        .mend("put the lines of both into one block"),
                );
                continue;
            }
            terms.span = Some(head);
            for line in lines {
                self.calendar_line(line, &mut terms, version);
            }
        }
        self.program.terms.calendar = terms;
    }

    fn calendar_line(
        &mut self,
        line: &'a CalendarLine,
        terms: &mut CalendarTerms,
        version: &Version,
    ) {
        match line {
            CalendarLine::Starts(day, span) => {
                let day = self.calendar_day(day);
                self.once(terms.starts.is_some(), *span);
                terms.starts = day.or(terms.starts);
            }
            CalendarLine::Due(day, span) => {
                let day = self.calendar_day(day);
                self.once(terms.due.is_some(), *span);
                terms.due = day.or(terms.due);
            }
            CalendarLine::Worked {
                days,
                through,
                span,
            } => {
                self.once(terms.worked.is_some(), *span);
                terms.worked = Some(weekdays(days, *through));
            }
            CalendarLine::Hours(stretches, span) => {
                self.once(!terms.hours.is_empty(), *span);
                terms.hours = self.calendar_hours(stretches, *span);
            }
            CalendarLine::Federal(span) => {
                self.once(terms.federal, *span);
                terms.federal = true;
            }
            CalendarLine::Closed(stretches) => self.closed_days(stretches, terms),
            CalendarLine::By(name) => self.area_column(name, terms),
            CalendarLine::Crew {
                resource,
                crews,
                hands,
                span,
            } => {
                self.calendar_crew(resource, [*crews, *hands], *span, terms, version);
            }
            CalendarLine::Shop(phases) => terms.shop.extend(self.phases(phases)),
            CalendarLine::SideBySide(phases) => {
                let phases = self.phases(phases);
                terms.side_by_side.push(phases);
            }
            CalendarLine::Wait(wait) => self.wait_line(wait, terms),
            CalendarLine::Season(season) => self.season_line(season, terms),
            CalendarLine::Lost(months) => self.lost_days(months, terms),
            CalendarLine::Hire(hire) => self.hire_line(hire, terms, version),
            CalendarLine::Bill(bill) => self.bill_line(bill, terms),
        }
    }

    fn calendar_problem(
        &mut self,
        code: &'static str,
        title: impl Into<String>,
        span: Span,
        expected: impl Into<String>,
    ) {
        self.problems.push(
            Diagnostic::error(code, title)
                .at(span, "")
                .expected(expected),
        );
    }

    fn once(&mut self, said: bool, span: Span) {
        if said {
            self.problems.push(
                Diagnostic::error("OV-640", "the calendar says this twice")
                    .at(span, "the second")
                    .mend("keep one of the lines"),
            );
        }
    }

    /// A written day, in days since 1970-01-01.
    fn calendar_day(&mut self, written: &Quantity) -> Option<i32> {
        let literal = self.literal(written).ok()?;
        let day = (literal.scale == Some(Scale::Day))
            .then(|| literal.value.to_i64())
            .flatten()
            .and_then(|day| i32::try_from(day).ok());
        if day.is_none() {
            self.calendar_problem(
                "OV-641",
                "this is not a day",
                written.span,
                "year-month-day, such as 2026-03-02",
            );
        }
        day
    }

    fn calendar_hours(&mut self, stretches: &[[(u32, u32); 2]], span: Span) -> Vec<(i64, i64)> {
        let minutes = |(hour, minute): (u32, u32)| i64::from(hour) * 60 + i64::from(minute);
        let mut hours: Vec<(i64, i64)> = Vec::new();
        for [from, to] in stretches {
            let valid = |(hour, minute): &(u32, u32)| {
                *minute < 60 && (*hour < 24 || (*hour, *minute) == (24, 0))
            };
            let (begin, end) = (minutes(*from), minutes(*to));
            let in_order = hours.last().is_none_or(|last| last.1 <= begin);
            if !valid(from) || !valid(to) || begin >= end || !in_order {
                self.calendar_problem("OV-641", "these are not hours of a day in order", span, "hours from 0:00 to 24:00, the earlier first, such as 7:30 to 12:00, 12:30 to 16:00");
                return Vec::new();
            }
            hours.push((begin, end));
        }
        hours
    }

    fn closed_days(
        &mut self,
        stretches: &[(Quantity, Option<Quantity>)],
        terms: &mut CalendarTerms,
    ) {
        for (from, to) in stretches {
            let first = self.calendar_day(from);
            let last = to.as_ref().map_or(first, |to| self.calendar_day(to));
            let (Some(first), Some(last)) = (first, last) else {
                continue;
            };
            if last < first {
                self.calendar_problem(
                    "OV-641",
                    "this stretch ends before it begins",
                    from.span,
                    "the earlier day first",
                );
            }
            terms.closed.push((first, last));
        }
    }

    /// The column of `split by` whose values are the areas of the calendar.
    fn area_column(&mut self, name: &'a Name, terms: &mut CalendarTerms) {
        let split_by = &self.program.terms.split_by;
        if let Some(at) = split_by.iter().position(|s| *s == name.text) {
            terms.area = at;
            return;
        }
        let known = split_by.clone();
        self.unknown(
            "OV-203",
            "column of `split by`",
            name,
            Known::these(known.iter().map(String::as_str)),
        );
    }

    fn season_line(&mut self, line: &'a SeasonLine, terms: &mut CalendarTerms) {
        let ends = self.month_day(&line.from).zip(self.month_day(&line.to));
        let phases = self.phases(&line.phases);
        let again = terms
            .seasons
            .iter()
            .any(|s| s.phases.iter().any(|p| phases.contains(p)));
        self.once(again, line.span);
        if let Some((from, to)) = ends {
            terms.seasons.push(SeasonDef {
                phases,
                from,
                to,
                whole: line.whole,
                span: line.span,
            });
        }
    }

    fn lost_days(&mut self, months: &[MonthDay], terms: &mut CalendarTerms) {
        for m in months {
            let most = days_of(m.month);
            let slot = terms.lost.get_mut(usize::from(m.month) - 1);
            match (u8::try_from(m.number), slot) {
                (Ok(days), Some(slot)) if m.number <= most => *slot = days,
                _ => {
                    self.calendar_problem(
                        "OV-641",
                        "a month does not have so many days",
                        m.span,
                        format!("0 to {most} lost days"),
                    );
                }
            }
        }
    }

    fn bill_line(&mut self, line: &BillLine, terms: &mut CalendarTerms) {
        self.once(terms.bill.is_some(), line.span);
        let retain = line.retain.clone().unwrap_or(Exact::ZERO);
        let later = line.months.unwrap_or(1);
        if retain > Exact::ONE || later > 24 {
            self.calendar_problem(
                "OV-641",
                "bills cannot be kept or paid so",
                line.span,
                "0 to 100 % kept, paid after 0 to 24 months",
            );
            return;
        }
        terms.bill = Some(BillDef {
            retain,
            until_half: line.until_half,
            later,
        });
    }

    fn calendar_crew(
        &mut self,
        resource: &'a Name,
        [crews, hands]: [u32; 2],
        span: Span,
        terms: &mut CalendarTerms,
        version: &Version,
    ) {
        let Some(id) = self.resource(resource, version) else {
            return;
        };
        let class = version.resources.iter().find(|r| r.name == resource.text);
        if class.is_some_and(|r| r.class != ResourceClass::Labor) {
            self.calendar_problem(
                "OV-642",
                format!("`{}` is not labor and has no crew", resource.text),
                resource.span,
                "a resource of class labor",
            );
            return;
        }
        if !(1..=MOST_HANDS).contains(&crews) || !(1..=MOST_HANDS).contains(&hands) {
            self.calendar_problem(
                "OV-642",
                "a crew of nobody does no work",
                span,
                format!("1 to {MOST_HANDS} crews of 1 to {MOST_HANDS} people"),
            );
            return;
        }
        self.once(terms.crews.iter().any(|c| c.resource == id), span);
        terms.crews.push(CrewDef {
            resource: id,
            crews,
            hands,
        });
    }

    fn wait_line(&mut self, line: &'a WaitLine, terms: &mut CalendarTerms) {
        let ends = self
            .phase_named(&line.after)
            .zip(self.phase_named(&line.before));
        let least = line.least.as_ref().map(|q| self.wait_time(q));
        let most = line.most.as_ref().map(|q| self.wait_time(q));
        let Some((after, before)) = ends else { return };
        let wait = WaitDef {
            after,
            before,
            least: least.flatten(),
            most: most.flatten(),
            or_else: line.or_else.as_ref().map(|t| t.text.clone()),
            span: line.span,
        };
        let impossible = match (wait.least, wait.most) {
            (Some(WaitTime::Elapsed(least)), Some(WaitTime::Elapsed(most)))
            | (Some(WaitTime::WorkDays(least)), Some(WaitTime::WorkDays(most))) => most < least,
            (Some(_), Some(_)) => {
                self.calendar_problem(
                    "OV-644",
                    "the least and the greatest wait are counted in different ways",
                    wait.span,
                    "both in working days, or both in days and hours of the calendar",
                );
                return;
            }
            (None, _) | (_, None) => false,
        };
        if impossible {
            self.calendar_problem(
                "OV-644",
                "the greatest wait is shorter than the least",
                wait.span,
                "at most a time that is no shorter than `at least`",
            );
            return;
        }
        terms.waits.push(wait);
    }

    fn wait_time(&mut self, written: &Quantity) -> Option<WaitTime> {
        let literal = self.literal(written).ok()?;
        let whole = |value: &Exact| value.to_i64().filter(|n| *n >= 0);
        let found = if literal.scale.is_some() {
            None
        } else if *literal.dim() == Dim::base(Base::Time) {
            let minutes = literal.value.mul(&Exact::from(24 * 60)).ok();
            minutes.as_ref().and_then(whole).map(WaitTime::Elapsed)
        } else if *literal.dim() == Dim::base(Base::Work) {
            whole(&literal.value).map(WaitTime::WorkDays)
        } else {
            None
        };
        if found.is_none() {
            self.calendar_problem(
                "OV-644",
                "a wait is a time on the calendar, in whole minutes",
                written.span,
                "such as 7 day, 24 clock h or 2 work day",
            );
        }
        found
    }

    fn month_day(&mut self, day: &MonthDay) -> Option<(i8, i8)> {
        let most = days_of(day.month);
        if !(1..=most).contains(&day.number) {
            self.calendar_problem(
                "OV-641",
                "the month has no such day",
                day.span,
                format!("1 to {most}"),
            );
            return None;
        }
        i8::try_from(day.month)
            .ok()
            .zip(i8::try_from(day.number).ok())
    }

    fn hire_line(&mut self, line: &'a HireLine, terms: &mut CalendarTerms, version: &Version) {
        let ends = self.phase_named(&line.from).zip(self.phase_named(&line.to));
        let rates = self.hire_rates(&line.rates, line.span);
        let Ok((name, resource)) = self.hired(&line.what, line.each_area, version) else {
            return;
        };
        self.once(
            resource.is_some() && terms.hires.iter().any(|h| h.resource == resource),
            line.span,
        );
        if let (Some((from, to)), Some([day, week, four_weeks])) = (ends, rates) {
            terms.hires.push(HireDef {
                name,
                resource,
                from,
                to,
                day: day.unwrap_or(Exact::ZERO),
                week,
                four_weeks,
                each_area: line.each_area,
                supplier: line.supplier.as_ref().map(|s| s.text.clone()),
                span: line.span,
            });
        }
    }

    /// What is hired, and its resource where the rates are to be its price.
    fn hired(
        &mut self,
        what: &'a Hired,
        each_area: bool,
        version: &Version,
    ) -> Checks<(String, Option<ResourceId>)> {
        let name = match what {
            Hired::Called(text) => return Ok((text.text.clone(), None)),
            Hired::Resource(name) => name,
        };
        let id = self.resource(name, version).ok_or(Poisoned)?;
        let def = version.resources.get(id).ok_or(Poisoned)?;
        if *def.unit.dim() != Dim::base(Base::Time) || each_area {
            return self.fail(
                Diagnostic::error(
                    "OV-677",
                    format!("the rates of this line can't be the price of `{}`", name.text),
                )
                .at(name.span, "")
                .found(if each_area {
                    "hire for each area".to_owned()
                } else {
                    format!("a resource counted in {}", def.unit.text(&self.program.nouns))
                })
                .expected("a resource counted in days, hired once for the job; or a name in double quotes"),
            );
        }
        let called = def.called.clone();
        Ok((
            called.unwrap_or_else(|| name.text.replace('_', " ")),
            Some(id),
        ))
    }

    fn hire_rates(
        &mut self,
        rates: &[(Signed, HireStep)],
        span: Span,
    ) -> Option<[Option<Exact>; 3]> {
        let mut found = [None, None, None];
        for (rate, step) in rates {
            let value = self
                .signed_of(rate, &Dim::base(Base::Money), false, "OV-319")
                .ok()?;
            let at = match step {
                HireStep::Day => 0,
                HireStep::Week => 1,
                HireStep::FourWeeks => 2,
            };
            let cents = value
                .mul(&Exact::from(100))
                .ok()
                .filter(|c| c.is_integer() && c.signum() >= 0 && c.to_i64().is_some());
            if cents.is_none() {
                self.calendar_problem(
                    "OV-319",
                    "a rate of hire is whole cents, zero or more",
                    rate.span,
                    "an amount such as 100 USD or 87.50 USD",
                );
                return None;
            }
            let slot = found.get_mut(at)?;
            let said = slot.replace(value).is_some();
            self.once(said, rate.span);
        }
        if found.first().is_none_or(Option::is_none) {
            self.calendar_problem("OV-640", "hire needs a rate for a day", span, "such as 100 USD each day, with `each week` and `each four weeks` where there are such rates");
            return None;
        }
        Some(found)
    }

    fn phases(&mut self, names: &'a [Text]) -> Vec<PhaseId> {
        names
            .iter()
            .filter_map(|name| self.phase_named(name))
            .collect()
    }

    /// A phase by its name.
    pub(super) fn phase_named(&mut self, name: &Text) -> Option<PhaseId> {
        let at = self.program.phases.id_of(|p| *p == name.text);
        if at.is_none() {
            let known: Vec<String> = self
                .program
                .phases
                .iter()
                .map(|p| format!("\"{p}\""))
                .collect();
            self.problems.push(
                Diagnostic::error("OV-203", format!("there is no phase \"{}\"", name.text))
                    .at(name.span, "")
                    .expected(known.join(", ")),
            );
        }
        at
    }
}

fn days_of(month: u8) -> u32 {
    let days = MONTH_DAYS.get(usize::from(month) - 1);
    days.copied().unwrap_or(0)
}

fn weekdays(days: &[u8], through: bool) -> [bool; 7] {
    let mut worked = [false; 7];
    let mut set = |day: u8| {
        if let Some(slot) = worked.get_mut(usize::from(day % 7)) {
            *slot = true;
        }
    };
    match (days, through) {
        ([from, to], true) => {
            let long = (7 + *to - *from) % 7;
            (0..=long).for_each(|n| set(*from + n));
        }
        _ => days.iter().copied().for_each(&mut set),
    }
    worked
}
