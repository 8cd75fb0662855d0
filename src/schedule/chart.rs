//! The calendar as a chart of bars by week.

use super::{Phase, Schedule};
use crate::calendar::Instant;
use crate::calendar::clock::date_of;
use crate::drawing::{Anchor, Drawing, Fill, Point, Stroke};
use crate::number::Exact;

/// Width of the drawing, of its labels, and height of one bar's line, in millimeters.
const WIDTH: i64 = 178;
const LABELS: i64 = 54;
const LINE: i64 = 5;
/// Height of a capital letter in tenths of a millimeter.
const LETTER: i64 = 25;

/// Phases that a page holds.
const PAGE: usize = 34;

/// The phases of each area as bars over the weeks: critical ones solid, others hatched.
pub fn bars(plan: &Schedule) -> Drawing {
    chart(plan, &plan.phases)
}

/// The same in drawings that each fit a page, all over the same weeks.
pub fn bars_by_page(plan: &Schedule) -> Vec<Drawing> {
    let pages = plan.phases.chunks(PAGE);
    pages.map(|phases| chart(plan, phases)).collect()
}

fn chart(plan: &Schedule, phases: &[Phase]) -> Drawing {
    let first = plan.start.day() - (plan.start.day() + 3).rem_euclid(7);
    let ends = plan
        .phases
        .iter()
        .map(|p| p.finish().last_day())
        .max()
        .unwrap_or(first);
    let weeks = (ends - first).div_euclid(7) + 1;
    let rows = crate::ids::count(phases.len());
    let height = (rows + 4) * LINE;
    let mut drawing = Drawing::new(
        format!(
            "Bars of the calendar: {} phases over {weeks} weeks",
            phases.len()
        ),
        Exact::from(WIDTH),
        Exact::from(height),
    );
    let minutes = i64::from(weeks) * 7 * crate::calendar::clock::DAY;
    // Where a minute is: the weeks share what the labels leave.
    let x = |at: Instant| {
        let since = Exact::from(at.0 - Instant::at_day(first).0);
        let scaled = since
            .mul(&Exact::from(WIDTH - LABELS - 4))
            .and_then(|s| s.div(&Exact::from(minutes)));
        scaled
            .and_then(|s| s.add(&Exact::from(LABELS)))
            .unwrap_or(Exact::ZERO)
    };
    let letter = Exact::ratio(LETTER, 10).unwrap_or(Exact::ONE);
    let point = |x: Exact, y: i64| Point::new(x, Exact::from(y));
    let every = (weeks / 10) + 1;
    for week in 0..=weeks {
        let monday = first + week * 7;
        let at = x(Instant::at_day(monday));
        drawing.line(
            point(at.clone(), LINE * 2),
            point(at.clone(), height - LINE),
            Stroke::Thin,
        );
        if week % every == 0 && week < weeks {
            let date = date_of(monday);
            let label = format!("{:02}-{:02}", date.month(), date.day());
            drawing.text(
                point(at, LINE * 2 - 1),
                letter.clone(),
                Anchor::Start,
                label,
            );
        }
    }
    drawing.text(
        point(Exact::ONE, LINE * 2 - 1),
        letter.clone(),
        Anchor::Start,
        format!("weeks from {}", date_of(first)),
    );
    let mut y = LINE * 2;
    for phase in phases {
        let label = format!(
            "{}: {}",
            plan.areas.get(phase.area).map_or("", String::as_str),
            phase.name
        );
        drawing.text(
            point(Exact::ONE, y + LINE - 1),
            letter.clone(),
            Anchor::Start,
            shortened(&label),
        );
        let (start, finish) = (x(phase.start()), x(phase.finish()));
        let width = finish.sub(&start).unwrap_or(Exact::ONE);
        let fill = if phase.is_critical() {
            Fill::Solid
        } else {
            Fill::Hatched
        };
        drawing.rect(
            &point(start, y + 1),
            &width,
            &Exact::from(LINE - 2),
            Stroke::Thin,
            fill,
        );
        y += LINE;
    }
    let legend = "Solid: critical, any delay moves the end. Hatched: may be late by its float.";
    drawing.text(point(Exact::ONE, height - 1), letter, Anchor::Start, legend);
    drawing
}

/// What fits into the room for labels.
fn shortened(label: &str) -> String {
    const MOST: usize = 27;
    if label.chars().count() <= MOST {
        return label.to_owned();
    }
    let mut text: String = label.chars().take(MOST - 1).collect();
    text.push('…');
    text
}
