//! The elevation of a window: its opening, each sash with its members, bars and head, seen from outside.
//!
//! Sizes come in inches and are drawn at one scale. Stiles run through, rails are between them, bars between rails and stiles.
//! Decay is hatched only where its place was measured; a share is a gauge beside the drawing.

mod beside;
mod frame;
mod key;
mod leaves;
#[cfg(test)]
mod tests;

pub(crate) use key::key;

use super::head::Head;
use super::{Drawing, Point, Shape, Stroke};
use crate::number::{Exact, NumError};

/// A window, in inches.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Window {
    /// Its mark.
    pub mark: String,
    /// Clear between the jambs.
    pub width: Exact,
    /// Clear from sill to head, to the crown of an arch.
    pub height: Exact,
    /// Its sash.
    pub sash: Vec<Sash>,
}

/// A sash, in inches.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Sash {
    /// Its mark.
    pub mark: String,
    /// Of its lower left corner from the left jamb.
    pub across: Exact,
    /// Of its lower left corner from the sill.
    pub up: Exact,
    /// Its members.
    pub members: Vec<Member>,
}

/// Members of one kind in a sash, in inches from its lower left corner.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Member {
    /// Name: "left stile".
    pub name: String,
    /// How it lies.
    pub lies: Lies,
    /// From the left edge of an upright one, from the foot of a level one.
    pub at: Exact,
    /// From one to the next.
    pub each: Option<Exact>,
    /// How many.
    pub count: u64,
    /// Breadth of its face. Of an arched one with its rise.
    pub face: Exact,
    /// Its upper edge.
    pub head: Head,
    /// What becomes of it.
    pub treatment: Option<String>,
    /// Share of it with decay, where one was judged.
    pub decayed: Option<Exact>,
    /// Soft places whose place was measured.
    pub soft: Vec<Soft>,
}

/// How a member lies.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Lies {
    /// A stile or an upright bar.
    Upright,
    /// A rail or a level bar.
    Level,
}

/// A soft place on a member, in inches.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Soft {
    /// Its number in the survey.
    pub item: String,
    /// From the foot of an upright member, from the left edge of the sash on a level one.
    pub from: Exact,
    /// Length along the member.
    pub long: Exact,
    /// Breadth across it.
    pub broad: Exact,
}

/// Ratios that elevations are drawn at: 3 in, 1 1/2 in, 1 in, 3/4 in, 1/2 in, 3/8 in and 1/4 in to the foot, and smaller halves of them.
const SCALES: [i64; 10] = [4, 8, 12, 16, 24, 32, 48, 64, 96, 192];

/// Millimeters: of a page between its margins; for dimensions at the left; for the table of members at the right; between both.
const PAGE: i64 = 178;
const LEFT: i64 = 38;
const RIGHT: i64 = 38;
const GAP: i64 = 5;
/// Height left for the opening itself.
const TALL: i64 = 93;
/// From one dimension string to the next, and from the drawing to the first.
const STRING: i64 = 7;
/// The same at the left, where a figure with a rest is on a line of its own between two strings.
const BESIDE: i64 = 8;
const FIRST: i64 = 8;
/// A row of the table of members, and a line of text.
const ROW: i64 = 8;
const LINE: i64 = 5;

/// The scale for a set of windows: the largest at which the largest of them fits beside its dimensions; one for all, so that they can
/// be compared by eye.
pub(crate) fn scale_for<'a>(windows: impl Iterator<Item = &'a Window>) -> i64 {
    let fits = |w: &Window, scale: i64| {
        let paper = |inches: &Exact| inches.mul(&Exact::ratio(254, 10 * scale)?).ok();
        let within = |size: Option<Exact>, most: i64| size.is_some_and(|s| s <= Exact::int(most));
        within(paper(&w.width), PAGE - LEFT - RIGHT - GAP) && within(paper(&w.height), TALL)
    };
    // What fits at a scale fits at every smaller one.
    let mut at = 0;
    for window in windows {
        while at + 1 < SCALES.len() && !fits(window, SCALES[at]) {
            at += 1;
        }
    }
    SCALES[at]
}

/// Draws a window at a scale, 16 for 1 : 16.
///
/// # Errors
///
/// When a number has too many digits.
pub(crate) fn elevation(window: &Window, scale: i64) -> Result<Drawing, NumError> {
    let mm = Exact::ratio(254, 10 * scale.max(1)).unwrap_or(Exact::ONE);
    let (width, height) = (window.width.mul(&mm)?, window.height.mul(&mm)?);
    let (left, top) = (Exact::int(LEFT), Exact::int(4));
    let foot = top.add(&height)?;
    let strings = crate::ids::count(beside::level_parts(window)?.len()) + 1;
    let strings = Exact::int(FIRST + strings * STRING + 2);
    let below = foot.add(&strings)?;
    let side = left.add(&width)?.add(&Exact::int(GAP))?;
    let columns = beside::columns(window, &side);
    let table = Exact::int(beside::height(&columns));
    // The bar scale is right of the strings if there is room, else below them.
    let beside_strings = side.add(&Exact::int(beside::NOTES))? <= Exact::int(PAGE);
    let (notes, total) = match beside_strings {
        true => {
            let under = table.add(&Exact::int(beside::NOTES_HIGH))?;
            let total = Exact::max(&below, &under);
            let top = total.sub(&Exact::int(beside::NOTES_HIGH))?;
            (Point::new(side.clone(), top), total)
        }
        false => {
            let top = Exact::max(&below, &table).add(&Exact::int(1))?;
            let total = top.add(&Exact::int(14))?;
            (Point::new(Exact::int(6), top), total)
        }
    };
    let mut pen = Pen {
        out: Drawing::new(
            format!(
                "Elevation of {}, seen from outside, 1 to {scale}",
                window.mark
            ),
            Exact::int(PAGE),
            total,
        ),
        mm,
        left,
        foot,
    };
    let frames = frame::frames(window)?;
    pen.opening(window, &frames)?;
    for (sash, frame) in window.sash.iter().zip(&frames) {
        pen.sash(sash, frame)?;
    }
    pen.strings(window)?;
    pen.table(&columns, &side)?;
    pen.notes(&notes, scale, beside_strings)?;
    Ok(pen.out)
}

struct Pen {
    out: Drawing,
    /// Millimeters on paper for an inch.
    mm: Exact,
    left: Exact,
    foot: Exact,
}

impl Pen {
    fn x(&self, inches: &Exact) -> Result<Exact, NumError> {
        self.left.add(&inches.mul(&self.mm)?)
    }

    fn y(&self, inches: &Exact) -> Result<Exact, NumError> {
        self.foot.sub(&inches.mul(&self.mm)?)
    }

    fn point(&self, x: &Exact, y: &Exact) -> Result<Point, NumError> {
        Ok(Point::new(self.x(x)?, self.y(y)?))
    }

    fn arc(
        &mut self,
        (from, to): (&Point, &Point),
        radius: &Exact,
        stroke: Stroke,
    ) -> Result<(), NumError> {
        self.out.shapes.push(Shape::Arc {
            from: from.clone(),
            to: to.clone(),
            radius: radius.mul(&self.mm)?,
            long: false,
            stroke,
        });
        Ok(())
    }
}
