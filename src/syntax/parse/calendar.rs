//! Lines of a `calendar` block.

use super::super::lines::Item;
use super::super::tree::*;
use super::{Node, Reader, Rule};
use crate::diagnostics::{Diagnostic, Span};

/// First words of lines in a `calendar` block.
const CALENDAR_WORDS: &[&str] = &[
    "starts", "due", "worked", "hours", "holidays", "closed", "by", "crew", "in", "side", "wait",
    "season", "lost", "hire", "bill",
];
const WEEKDAYS: [&str; 7] = [
    "monday",
    "tuesday",
    "wednesday",
    "thursday",
    "friday",
    "saturday",
    "sunday",
];
const MONTHS: [&str; 12] = [
    "january",
    "february",
    "march",
    "april",
    "may",
    "june",
    "july",
    "august",
    "september",
    "october",
    "november",
    "december",
];

/// What a line holds, sorted by what it is; the order within each kind is that of the line.
#[derive(Default)]
struct Parts<'a> {
    names: Vec<Name>,
    texts: Vec<Text>,
    quantities: Vec<Quantity>,
    digits: Vec<u32>,
    month_days: Vec<MonthDay>,
    rest: Vec<Node<'a>>,
}

impl<'a> Reader<'a> {
    pub(super) fn calendar_line(&mut self, item: &Item) -> Option<CalendarLine> {
        let span = item.span();
        let (Item::Line(_), true) = (item, CALENDAR_WORDS.contains(&self.first_word(span))) else {
            self.unknown_start(span, CALENDAR_WORDS, "in a `calendar` block");
            return None;
        };
        let line = self.read(Rule::calendar_line, span)?;
        let read = self.calendar_parts_of(line, span);
        if read.is_none() {
            // The grammar gives each line its parts; one that lacks any is reported, not left out.
            self.problems.push(
                Diagnostic::error("OV-101", "this line of the calendar cannot be read")
                    .at(span, ""),
            );
        }
        read
    }

    fn calendar_parts_of(&mut self, line: Node<'a>, span: Span) -> Option<CalendarLine> {
        let line = line.into_inner().next()?;
        let (rule, text) = (line.as_rule(), line.as_str());
        let mut parts = self.calendar_parts(line, span.start);
        let name = parts.names.pop();
        let texts = parts.texts.into_iter();
        let mut quantities = parts.quantities.into_iter();
        let mut month_days = parts.month_days.into_iter();
        Some(match rule {
            Rule::cal_day if text.starts_with("due") => CalendarLine::Due(quantities.next()?, span),
            Rule::cal_day => CalendarLine::Starts(quantities.next()?, span),
            Rule::cal_worked => CalendarLine::Worked {
                days: (parts.rest.iter())
                    .filter(|n| n.as_rule() == Rule::weekday)
                    .map(weekday)
                    .collect::<Option<_>>()?,
                through: text.contains(" to "),
                span,
            },
            Rule::cal_hours => {
                let spans = parts.rest.into_iter();
                let spans = spans.filter(|n| n.as_rule() == Rule::clock_span);
                CalendarLine::Hours(spans.map(hours).collect::<Option<_>>()?, span)
            }
            Rule::cal_federal => CalendarLine::Federal(span),
            Rule::cal_closed => CalendarLine::Closed(
                parts
                    .rest
                    .into_iter()
                    .filter(|n| n.as_rule() == Rule::day_span)
                    .map(|node| {
                        let mut days = self.calendar_parts(node, span.start).quantities.into_iter();
                        Some((days.next()?, days.next()))
                    })
                    .collect::<Option<_>>()?,
            ),
            Rule::cal_by => CalendarLine::By(name?),
            Rule::cal_crew => CalendarLine::Crew {
                resource: name?,
                crews: parts.digits.first().copied()?,
                hands: parts.digits.get(1).copied()?,
                span,
            },
            Rule::cal_shop => CalendarLine::Shop(texts.collect()),
            Rule::cal_side => CalendarLine::SideBySide(texts.collect()),
            Rule::cal_wait => self.wait(texts, parts.rest, span)?,
            Rule::cal_season => CalendarLine::Season(SeasonLine {
                phases: texts.collect(),
                from: month_days.next()?,
                to: month_days.next()?,
                whole: parts.rest.iter().any(|n| n.as_rule() == Rule::whole_word),
                span,
            }),
            Rule::cal_lost => CalendarLine::Lost(month_days.collect()),
            Rule::cal_hire => self.hire(name, texts, parts.rest, span)?,
            Rule::cal_bill => {
                let share = parts.rest.iter().find(|n| n.as_rule() == Rule::percent);
                let share = share.and_then(|n| n.clone().into_inner().next());
                CalendarLine::Bill(BillLine {
                    retain: share.map(|n| self.percent(&n, span.start)),
                    until_half: parts.rest.iter().any(|n| n.as_rule() == Rule::until_half),
                    months: parts.digits.first().copied(),
                    span,
                })
            }
            _ => return None,
        })
    }

    fn wait(
        &mut self,
        mut texts: impl Iterator<Item = Text>,
        rest: Vec<Node<'a>>,
        span: Span,
    ) -> Option<CalendarLine> {
        let (after, before) = (texts.next()?, texts.next()?);
        let (mut least, mut most) = (None, None);
        for node in rest.into_iter().filter(|n| n.as_rule() == Rule::wait_limit) {
            let word = node.clone().into_inner().next()?;
            let at_most = word.as_str().ends_with("most");
            let limit = self.calendar_parts(node, span.start).quantities.pop();
            *(if at_most { &mut most } else { &mut least }) = limit;
        }
        Some(CalendarLine::Wait(WaitLine {
            after,
            before,
            least,
            most,
            or_else: texts.next(),
            span,
        }))
    }

    fn hire(
        &mut self,
        name: Option<Name>,
        mut texts: impl Iterator<Item = Text>,
        rest: Vec<Node<'a>>,
        span: Span,
    ) -> Option<CalendarLine> {
        let each_area = rest.iter().any(|n| n.as_rule() == Rule::each_area);
        let supplier = rest.iter().find(|n| n.as_rule() == Rule::hire_from);
        let supplier =
            supplier.and_then(|n| self.calendar_parts(n.clone(), span.start).texts.pop());
        let rates = rest.into_iter().filter(|n| n.as_rule() == Rule::hire_rate);
        let what = match name {
            Some(name) => Hired::Resource(name),
            None => Hired::Called(texts.next()?),
        };
        Some(CalendarLine::Hire(HireLine {
            what,
            from: texts.next()?,
            to: texts.next()?,
            rates: rates
                .map(|n| self.hire_rate(n, span.start))
                .collect::<Option<_>>()?,
            each_area,
            supplier,
            span,
        }))
    }

    fn calendar_parts(&mut self, node: Node<'a>, base: u32) -> Parts<'a> {
        let mut parts = Parts::default();
        for p in node.into_inner() {
            match p.as_rule() {
                Rule::name => parts.names.push(self.name(&p, base)),
                Rule::text => parts.texts.push(self.text(&p, base)),
                Rule::texts => parts.texts.extend(self.texts(p, base)),
                Rule::quantity => parts.quantities.push(self.quantity(p, base)),
                Rule::digits => parts.digits.push(number(p.as_str())),
                Rule::month_day => {
                    let span = self.span(&p, base);
                    parts.month_days.extend(month_day(p, span));
                }
                _ => parts.rest.push(p),
            }
        }
        parts
    }

    fn hire_rate(&mut self, node: Node<'a>, base: u32) -> Option<(Signed, HireStep)> {
        let (mut rate, mut step) = (None, HireStep::Day);
        for p in node.into_inner() {
            match p.as_rule() {
                Rule::signed => rate = self.signed(p, base),
                Rule::hire_step => {
                    step = match p.as_str() {
                        "day" => HireStep::Day,
                        "week" => HireStep::Week,
                        _ => HireStep::FourWeeks,
                    }
                }
                _ => {}
            }
        }
        Some((rate?, step))
    }
}

/// A number too long for any calendar reads as the greatest there is, which the checker refuses.
fn number(digits: &str) -> u32 {
    digits.parse().unwrap_or(u32::MAX)
}

fn weekday(node: &Node<'_>) -> Option<u8> {
    let at = WEEKDAYS.iter().position(|day| *day == node.as_str())?;
    u8::try_from(at).ok()
}

fn hours(node: Node<'_>) -> Option<[(u32, u32); 2]> {
    let mut times = node
        .into_inner()
        .filter(|p| p.as_rule() == Rule::clock_time)
        .filter_map(|p| {
            let (hour, minute) = p.as_str().split_once(':')?;
            Some((number(hour), number(minute)))
        });
    Some([times.next()?, times.next()?])
}

fn month_day(node: Node<'_>, span: Span) -> Option<MonthDay> {
    let (mut month, mut day) = (None, None);
    for p in node.into_inner() {
        match p.as_rule() {
            Rule::month => month = MONTHS.iter().position(|m| *m == p.as_str()),
            Rule::digits => day = Some(number(p.as_str())),
            _ => {}
        }
    }
    Some(MonthDay {
        month: u8::try_from(month? + 1).ok()?,
        number: day?,
        span,
    })
}
