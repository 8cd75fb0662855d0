//! A wall as a diagram: its openings in order and by floor, each a box with its mark. What lies between them was not measured, so
//! they are at equal distances.

use super::marks::Mark;
use super::{Anchor, Drawing, Fill, Point, Stroke};
use crate::number::{Exact, NumError};

/// A wall.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Wall {
    /// Its name.
    pub name: String,
    /// Its openings.
    pub openings: Vec<WallOpening>,
    /// Marks of openings whose size or place is not known.
    pub left_out: Vec<String>,
}

/// An opening of a wall.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct WallOpening {
    /// Its mark.
    pub mark: String,
    /// Its number along the wall, from the left.
    pub along: i64,
    /// Its floor.
    pub up: i64,
    /// Width in inches.
    pub width: Exact,
    /// Height in inches.
    pub height: Exact,
    /// What becomes of it, or another word below its mark.
    pub letter: Option<String>,
}

/// Ratios that walls are drawn at: 1/4 in and 1/8 in to the foot, and smaller halves.
const SCALES: [i64; 5] = [48, 96, 192, 384, 768];
/// Millimeters: net width of a page, room for the words of floors, between boxes, and most that a floor's boxes are tall.
const PAGE: i64 = 178;
const WORDS: i64 = 16;
const BETWEEN: i64 = 4;
const LEAST: i64 = 12;
const TALL: i64 = 60;

impl Wall {
    /// Openings of a floor in order along the wall; those of one number in the order they came.
    fn floor(&self, up: i64) -> Vec<&WallOpening> {
        let mut out: Vec<&WallOpening> = self.openings.iter().filter(|o| o.up == up).collect();
        out.sort_by_key(|o| o.along);
        out
    }

    fn floors(&self) -> Vec<i64> {
        let mut out: Vec<i64> = self.openings.iter().map(|o| o.up).collect();
        out.sort_unstable();
        out.dedup();
        out
    }

    /// The openings of a floor in lines that fit the page.
    fn lines(&self, up: i64, scale: i64) -> Result<Vec<Vec<&WallOpening>>, NumError> {
        let mut out: Vec<Vec<&WallOpening>> = Vec::new();
        let mut used = Exact::ZERO;
        let room = Exact::int(PAGE - WORDS);
        for opening in self.floor(up) {
            let wide = cell(opening, scale)?;
            used = used.add(&wide)?;
            match out.last_mut() {
                Some(line) if used <= room => line.push(opening),
                _ => {
                    used = wide;
                    out.push(vec![opening]);
                }
            }
        }
        Ok(out)
    }

    /// What the diagram shows, in words.
    pub(crate) fn words(&self) -> String {
        let mut text = format!(
            "{}, seen from outside, in their order and floor; the distances between them are not to scale.",
            match self.openings.len() {
                1 => "1 opening".to_owned(),
                n => format!("{n} openings"),
            }
        );
        let letters = self.openings.iter().filter_map(|o| o.letter.as_deref());
        let mut marks: Vec<Mark> = letters.map(Mark::of).collect();
        marks.sort_unstable();
        marks.dedup();
        marks.retain(|mark| *mark != Mark::Other);
        if !marks.is_empty() {
            let meanings: Vec<&str> = marks.into_iter().map(Mark::meaning).collect();
            text.push_str(&format!(" {}.", meanings.join("; ")));
        }
        if !self.left_out.is_empty() {
            text.push_str(&format!(
                " Not drawn, because a size or place is not known: {}.",
                self.left_out.join(", ")
            ));
        }
        text
    }
}

/// The scale for a set of walls: the largest at which the boxes of each floor fit beside one another; one for all of them.
pub(crate) fn scale_for<'a>(walls: impl Iterator<Item = &'a Wall> + Clone) -> i64 {
    let fits = |scale: i64| {
        walls.clone().all(|wall| {
            let one_line = |up: &i64| wall.lines(*up, scale).is_ok_and(|l| l.len() <= 1);
            let low = wall.openings.iter().all(|o| {
                let paper = paper(&o.height, scale);
                paper.is_ok_and(|p| p <= Exact::int(TALL))
            });
            low && wall.floors().iter().all(one_line)
        })
    };
    // What fits at no scale is drawn in several lines.
    SCALES.into_iter().find(|s| fits(*s)).unwrap_or(SCALES[1])
}

fn paper(inches: &Exact, scale: i64) -> Result<Exact, NumError> {
    inches.mul(&Exact::ratio(254, 10 * scale.max(1)).unwrap_or(Exact::ONE))
}

/// Width of an opening with the room that its mark needs.
fn cell(opening: &WallOpening, scale: i64) -> Result<Exact, NumError> {
    let box_width = paper(&opening.width, scale)?;
    let signs = i64::try_from(opening.mark.chars().count()).unwrap_or(40);
    let mark = Exact::int((signs * 27 / 10).clamp(LEAST, 60));
    Exact::max(&box_width, &mark).add(&Exact::int(BETWEEN))
}

/// Draws a wall at a scale.
///
/// # Errors
///
/// When a number has too many digits.
pub(crate) fn diagram(wall: &Wall, scale: i64) -> Result<Drawing, NumError> {
    let mut out = Drawing::new(
        format!("Diagram of {}: {} openings", wall.name, wall.openings.len()),
        Exact::int(PAGE),
        Exact::ZERO,
    );
    let mut y = Exact::int(2);
    let size = Exact::ratio(7, 2).unwrap_or(Exact::ONE);
    let small = Exact::ratio(5, 2).unwrap_or(Exact::ONE);
    for up in wall.floors().into_iter().rev() {
        for line in wall.lines(up, scale)? {
            let mut tallest = Exact::ZERO;
            for opening in &line {
                tallest = Exact::max(&tallest, &paper(&opening.height, scale)?);
            }
            let foot = y.add(&tallest)?;
            let base = foot.add(&Exact::int(1))?;
            out.line(
                Point::new(Exact::ZERO, base.clone()),
                Point::new(Exact::int(PAGE), base.clone()),
                if up <= 1 { Stroke::Thick } else { Stroke::Thin },
            );
            out.text(
                Point::new(Exact::ZERO, foot.clone()),
                small.clone(),
                Anchor::Start,
                floor_words(up),
            );
            let mut x = Exact::int(WORDS);
            for opening in line {
                let (width, height) = (
                    paper(&opening.width, scale)?,
                    paper(&opening.height, scale)?,
                );
                let room = cell(opening, scale)?;
                let middle = x.add(&room.sub(&Exact::int(BETWEEN))?.div(&Exact::int(2))?)?;
                let left = middle.sub(&width.div(&Exact::int(2))?)?;
                out.rect(
                    &Point::new(left, foot.sub(&height)?),
                    &width,
                    &height,
                    Stroke::Thick,
                    Fill::Open,
                );
                let below = base.add(&Exact::int(5))?;
                out.text(
                    Point::new(middle.clone(), below.clone()),
                    size.clone(),
                    Anchor::Middle,
                    &opening.mark,
                );
                if let Some(letter) = &opening.letter {
                    let center = Point::new(
                        middle,
                        below.add(&Exact::ratio(45, 10).unwrap_or(Exact::ONE))?,
                    );
                    match Mark::of(letter) {
                        Mark::Other => {
                            let at = Point::new(center.x, center.y.add(&Exact::int(1))?);
                            out.text(at, small.clone(), Anchor::Middle, letter);
                        }
                        mark @ (Mark::Retain
                        | Mark::Repair
                        | Mark::RepairWithNewWood
                        | Mark::ReplaceInKind) => mark.draw(&mut out, &center)?,
                    }
                }
                x = x.add(&room)?;
            }
            y = base.add(&Exact::int(16))?;
        }
    }
    let words = format!("Boxes 1:{scale}. Not to scale across.");
    out.text(
        Point::new(Exact::ZERO, y.add(&Exact::int(2))?),
        small,
        Anchor::Start,
        words,
    );
    out.height = y.add(&Exact::int(4))?;
    Ok(out)
}

fn floor_words(up: i64) -> String {
    match up {
        0 => "basement".to_owned(),
        1 => "ground".to_owned(),
        up => format!("floor {up}"),
    }
}
