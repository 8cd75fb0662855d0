//! Where two alternates cost the same as a figure runs through its range.
//!
//! A total is a step function: packs are whole and cents are rounded, so that the two may be equal over a stretch, or pass one another
//! between two values without ever being equal. So the range is cut into steps of a stated size and every change of side found is
//! bracketed between two neighbouring steps, both of which were calculated. Changes are looked for between the values of a grid: two that
//! lie closer together than its values and undo one another are not seen.

use super::subject::Subject;
use super::{Study, Total, at};
use crate::diagnostics::Diagnostic;
use crate::estimate::Refused;
use crate::number::{Exact, Rounding};
use std::collections::BTreeMap;

/// Values the range is first looked at.
const GRID: u64 = 24;
/// Values put into a stretch where the side changes, each time it is looked at closer.
const CLOSER: u64 = 8;
/// Changes that are followed to the last step; what wavers more than that is left as coarse as it is.
const MOST_CHANGES: usize = 8;
/// Steps a range may be cut into.
const MOST_STEPS: i64 = 1 << 40;

/// What is asked.
#[derive(Debug, Clone)]
pub struct FlipAsk {
    /// What is varied.
    pub subject: Subject,
    /// Lower end, in base units.
    pub low: Exact,
    /// Upper end.
    pub high: Exact,
    /// Size of a step, in base units; chosen when not said.
    pub step: Option<Exact>,
    /// The two versions; none for the job as decided.
    pub pair: [Option<String>; 2],
}

/// Which of the two costs less.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Side {
    /// The first.
    First,
    /// Neither.
    Same,
    /// The second.
    Second,
    /// One of them can't be calculated here.
    Refused,
}

/// A stretch of values on which one side costs less at every value looked at.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Segment {
    /// Which side.
    pub side: Side,
    /// First value, in base units, with the totals of both there in cents.
    pub from: (Exact, [Option<i128>; 2]),
    /// Last value, with the same.
    pub to: (Exact, [Option<i128>; 2]),
    /// The least and the greatest difference looked at, second less first, in cents.
    pub differences: Option<(i128, i128)>,
    /// Why a side can't be calculated, where it can't.
    pub refused: Vec<Diagnostic>,
}

/// The answer.
#[derive(Debug, Clone)]
pub struct Flip {
    /// What was asked.
    pub ask: FlipAsk,
    /// Size of a step, in base units.
    pub step: Exact,
    /// Stretches from low to high; between two of them lies a change of side.
    pub segments: Vec<Segment>,
    /// How many values were looked at.
    pub looked_at: usize,
}

impl Flip {
    /// Whether some change of side is bracketed no closer than a grid value, because there are too many of them.
    pub fn wavers(&self) -> bool {
        self.segments
            .windows(2)
            .any(|w| matches!(w, [a, b] if b.from.0.sub(&a.to.0).is_ok_and(|gap| gap > self.step)))
    }

    /// Whether the difference is one and the same at every value.
    pub fn is_flat(&self) -> bool {
        let mut all = self.segments.iter().filter_map(|s| s.differences);
        let first = all.next();
        self.segments.iter().all(|s| s.side != Side::Refused)
            && first.is_some_and(|(low, high)| low == high && all.all(|d| d == (low, high)))
    }
}

/// Looks for the changes of side.
/// Errors: OV-621 for a range that holds no step; else as [`Study::totals`].
pub fn flip(study: &Study<'_>, ask: &FlipAsk) -> Result<Flip, Refused> {
    let too_long = |_| Refused::Messages(vec![no_range(study, ask)]);
    let step = ask
        .step
        .clone()
        .map_or_else(|| chosen_step(ask), Ok)
        .map_err(too_long)?;
    let width = ask.high.sub(&ask.low).map_err(too_long)?;
    let count = width
        .div(&step)
        .and_then(|n| n.round_to(&Exact::ONE, Rounding::Up))
        .map_err(too_long)?;
    let count = count
        .to_i64()
        .filter(|n| (1..=MOST_STEPS).contains(n))
        .and_then(|n| u64::try_from(n).ok());
    let Some(last) = count else {
        return Err(Refused::Messages(vec![no_range(study, ask)]));
    };
    let mut search = Search {
        study,
        ask,
        step: &step,
        last,
        seen: BTreeMap::new(),
    };
    search.look(&between(0, last, GRID).chain([0, last]).collect::<Vec<_>>())?;
    loop {
        let gaps = search.changes();
        let more: Vec<u64> = gaps
            .iter()
            .take(MOST_CHANGES)
            .flat_map(|(a, b)| between(*a, *b, CLOSER))
            .collect();
        if more.is_empty() {
            break;
        }
        search.look(&more)?;
    }
    let segments = search.segments();
    Ok(Flip {
        ask: ask.clone(),
        looked_at: search.seen.len(),
        segments,
        step,
    })
}

fn no_range(study: &Study<'_>, ask: &FlipAsk) -> Diagnostic {
    let text = |x: &Exact| ask.subject.text(study.program, x);
    Diagnostic::error(
        "OV-621",
        format!(
            "there is no range of `{}` to look through",
            ask.subject.title()
        ),
    )
    .found(format!("from {} to {}", text(&ask.low), text(&ask.high)))
    .expected("a lower end, a higher one, and steps above zero that fit between them")
}

/// Steps of a power of ten in the unit, at least ten thousand of them; single things for a count.
fn chosen_step(ask: &FlipAsk) -> Result<Exact, crate::number::NumError> {
    if ask.subject.whole() {
        return Ok(Exact::ONE);
    }
    let factor = ask
        .subject
        .unit()
        .map_or(Exact::ONE, |u| u.factor().clone());
    let wanted = ask
        .high
        .sub(&ask.low)?
        .div(&factor)?
        .div(&Exact::int(10_000))?;
    let (ten, mut step) = (Exact::int(10), Exact::ONE);
    if wanted.signum() > 0 {
        while step > wanted {
            step = step.div(&ten)?;
        }
        while step.mul(&ten)? <= wanted {
            step = step.mul(&ten)?;
        }
    }
    step.mul(&factor)
}

/// Up to `most` whole numbers between two, evenly spaced, neither of them included.
fn between(a: u64, b: u64, most: u64) -> impl Iterator<Item = u64> {
    let room = b.saturating_sub(a).saturating_sub(1);
    let count = room.min(most);
    // In wide arithmetic: steps times places may pass 64 bits. The place itself is at most the room.
    let place = move |i: u64| {
        a + u64::try_from(u128::from(room + 1) * u128::from(i) / u128::from(count + 1))
            .unwrap_or(room)
    };
    (1..=count).map(place)
}

struct Search<'a> {
    study: &'a Study<'a>,
    ask: &'a FlipAsk,
    step: &'a Exact,
    last: u64,
    seen: BTreeMap<u64, [Total; 2]>,
}

impl Search<'_> {
    fn value(&self, at: u64) -> Exact {
        let far = i64::try_from(at)
            .ok()
            .and_then(|n| self.step.mul(&Exact::int(n)).ok())
            .and_then(|d| self.ask.low.add(&d).ok());
        far.filter(|_| at < self.last)
            .unwrap_or_else(|| self.ask.high.clone())
    }

    /// Works both versions at further steps.
    fn look(&mut self, steps: &[u64]) -> Result<(), Refused> {
        let mut steps: Vec<u64> = steps
            .iter()
            .copied()
            .filter(|s| !self.seen.contains_key(s))
            .collect();
        steps.sort_unstable();
        steps.dedup();
        let points: Vec<_> = steps
            .iter()
            .flat_map(|s| {
                let pin = [self.ask.subject.pin(&self.value(*s))];
                self.ask
                    .pair
                    .each_ref()
                    .map(|name| at(name.as_deref(), &pin))
            })
            .collect();
        let mut totals = self.study.totals(&points)?.into_iter();
        for step in steps {
            if let (Some(a), Some(b)) = (totals.next(), totals.next()) {
                self.seen.insert(step, [a, b]);
            }
        }
        Ok(())
    }

    /// Neighbours among the values looked at that lie on different sides and are not neighbours in steps.
    fn changes(&self) -> Vec<(u64, u64)> {
        let all: Vec<(u64, Side)> = self
            .seen
            .iter()
            .map(|(at, pair)| (*at, side(pair)))
            .collect();
        all.windows(2)
            .filter(|&w| matches!(w, [a, b] if a.1 != b.1 && b.0 - a.0 > 1))
            .map(|w| (w[0].0, w[1].0))
            .collect()
    }

    fn segments(&self) -> Vec<Segment> {
        let mut out: Vec<Segment> = Vec::new();
        for (step, pair) in &self.seen {
            let here = (
                self.value(*step),
                pair.each_ref().map(|t| t.as_ref().ok().copied()),
            );
            let difference = match here.1 {
                [Some(a), Some(b)] => Some(b - a),
                _ => None,
            };
            match out.last_mut().filter(|s| s.side == side(pair)) {
                Some(segment) => {
                    segment.to = here;
                    segment.differences = segment
                        .differences
                        .zip(difference)
                        .map(|((low, high), d)| (low.min(d), high.max(d)));
                }
                None => out.push(Segment {
                    side: side(pair),
                    from: here.clone(),
                    to: here,
                    differences: difference.map(|d| (d, d)),
                    refused: pair
                        .iter()
                        .filter_map(|t| t.as_ref().err())
                        .flatten()
                        .cloned()
                        .collect(),
                }),
            }
        }
        out
    }
}

fn side(pair: &[Total; 2]) -> Side {
    match pair {
        [Ok(a), Ok(b)] if a < b => Side::First,
        [Ok(a), Ok(b)] if a > b => Side::Second,
        [Ok(_), Ok(_)] => Side::Same,
        _ => Side::Refused,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn places_between_are_even_and_leave_the_ends_out() {
        assert_eq!(between(0, 10, 4).collect::<Vec<_>>(), [2, 4, 6, 8]);
        assert_eq!(between(3, 5, 8).collect::<Vec<_>>(), [4]);
        assert_eq!(between(3, 4, 8).count(), 0);
        assert_eq!(between(0, u64::MAX, 1).collect::<Vec<_>>(), [u64::MAX / 2]);
    }
}
