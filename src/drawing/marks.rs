//! Marks on elevations: what becomes of a member as a letter in a shape, and how much of it has decay as a gauge.
//! Shape and letter differ from mark to mark, so either alone tells them apart on a black and white copy.

use super::{Anchor, Drawing, Fill, Point, Shape, Stroke};
use crate::number::{Exact, NumError};

/// What becomes of a member.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
#[allow(missing_docs)]
pub enum Mark {
    Retain,
    Repair,
    RepairWithNewWood,
    ReplaceInKind,
    /// Some other word of a sheet.
    Other,
}

/// Side of a mark, millimeters.
pub(super) const SIDE: i64 = 5;

impl Mark {
    /// The mark of a treatment, by its word in a sheet: `repair_with_new_wood`, or the same with blanks.
    pub fn of(treatment: &str) -> Mark {
        match treatment.replace('_', " ").as_str() {
            "retain" => Mark::Retain,
            "repair" => Mark::Repair,
            "repair with new wood" => Mark::RepairWithNewWood,
            "replace in kind" => Mark::ReplaceInKind,
            _ => Mark::Other,
        }
    }

    /// Its letter.
    pub fn letter(self) -> &'static str {
        match self {
            Mark::Retain => "K",
            Mark::Repair => "R",
            Mark::RepairWithNewWood => "S",
            Mark::ReplaceInKind => "N",
            Mark::Other => "?",
        }
    }

    /// What it means, for a legend.
    pub fn meaning(self) -> &'static str {
        match self {
            Mark::Retain => "K in a circle: retain",
            Mark::Repair => "R in a square: repair",
            Mark::RepairWithNewWood => "S in a diamond: repair with new wood let in",
            Mark::ReplaceInKind => "N in a double square: replace in kind",
            Mark::Other => "? in a dashed square: another treatment, see the table",
        }
    }

    /// Draws the mark around its center.
    pub(super) fn draw(self, out: &mut Drawing, center: &Point) -> Result<(), NumError> {
        let half = Exact::ratio(SIDE, 2).unwrap_or(Exact::ONE);
        let corner = |dx: i64, dy: i64, size: &Exact| -> Result<Point, NumError> {
            Ok(Point::new(
                center.x.add(&size.mul(&Exact::int(dx))?)?,
                center.y.add(&size.mul(&Exact::int(dy))?)?,
            ))
        };
        let square = |size: &Exact| -> Result<Vec<Point>, NumError> {
            let corners = [(-1, -1), (1, -1), (1, 1), (-1, 1)];
            corners.iter().map(|(x, y)| corner(*x, *y, size)).collect()
        };
        let mut outline = |points: Vec<Point>, stroke: Stroke| {
            out.shapes.push(Shape::Outline {
                points,
                stroke,
                fill: Fill::Paper,
            });
        };
        match self {
            Mark::Repair => outline(square(&half)?, Stroke::Thin),
            Mark::Other => outline(square(&half)?, Stroke::Dashed),
            Mark::ReplaceInKind => {
                // A clear gap of 0.7 mm between the two lines.
                let outer = half.add(&Exact::ratio(95, 100).unwrap_or(Exact::ONE))?;
                outline(square(&outer)?, Stroke::Thin);
                outline(square(&half)?, Stroke::Thin);
            }
            Mark::RepairWithNewWood => {
                let reach = half.mul(&Exact::ratio(13, 10).unwrap_or(Exact::ONE))?;
                let corners = [(0, -1), (1, 0), (0, 1), (-1, 0)];
                let points: Result<Vec<Point>, NumError> = corners
                    .iter()
                    .map(|(x, y)| corner(*x, *y, &reach))
                    .collect();
                outline(points?, Stroke::Thin);
            }
            Mark::Retain => {
                let (left, right) = (corner(-1, 0, &half)?, corner(1, 0, &half)?);
                for (from, to) in [(left.clone(), right.clone()), (right, left)] {
                    out.shapes.push(Shape::Arc {
                        from,
                        to,
                        radius: half.clone(),
                        long: false,
                        stroke: Stroke::Thin,
                    });
                }
            }
        }
        let size = Exact::ratio(25, 10).unwrap_or(Exact::ONE);
        let base = center
            .y
            .add(&Exact::ratio(125, 100).unwrap_or(Exact::ONE))?;
        out.text(
            Point::new(center.x.clone(), base),
            size,
            Anchor::Middle,
            self.letter(),
        );
        Ok(())
    }
}

/// A gauge: a bar of full length for the whole member, filled from its left end by a share of it.
pub(super) fn gauge(
    out: &mut Drawing,
    at: &Point,
    (width, height): (&Exact, &Exact),
    share: &Exact,
) -> Result<(), NumError> {
    out.rect(at, width, height, Stroke::Thin, Fill::Paper);
    let filled = width.mul(&Exact::min(&Exact::max(share, &Exact::ZERO), &Exact::ONE))?;
    if !filled.is_zero() {
        out.rect(at, &filled, height, Stroke::Thin, Fill::Solid);
    }
    Ok(())
}
