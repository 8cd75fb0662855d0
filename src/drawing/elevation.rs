//! The elevation of a window: its opening, each sash with its members, bars and head, seen from outside.
//!
//! Sizes come in inches and are drawn at one scale. Stiles run through, rails stand between them, bars between rails and stiles.
//! Decay is hatched only where its place was measured; a share is a gauge beside the drawing.

use super::dims::{Along, Chain, chain, figure};
use super::head::Head;
use super::marks::{self, Mark};
use super::{Anchor, Drawing, Fill, Point, Shape, Stroke};
use crate::number::{Exact, NumError};

/// A window, in inches.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Window {
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
pub struct Sash {
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
pub struct Member {
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
pub enum Lies {
    /// A stile or an upright bar.
    Upright,
    /// A rail or a level bar.
    Level,
}

/// A soft place on a member, in inches.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Soft {
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
const TALL: i64 = 140;
/// From one dimension string to the next, and from the drawing to the first.
const STRING: i64 = 8;
const FIRST: i64 = 8;
/// A row of the table of members, and a line of text.
const ROW: i64 = 9;
const LINE: i64 = 5;

/// The scale for a set of windows: the largest at which the largest of them fits beside its dimensions; one for all, so that they can
/// be compared by eye.
pub fn scale_for(windows: &[Window]) -> i64 {
    let fits = |scale: i64| {
        windows.iter().all(|w| {
            let paper = |inches: &Exact| inches.mul(&Exact::ratio(254, 10 * scale)?).ok();
            let within =
                |size: Option<Exact>, most: i64| size.is_some_and(|s| s <= Exact::int(most));
            within(paper(&w.width), PAGE - LEFT - RIGHT - GAP) && within(paper(&w.height), TALL)
        })
    };
    SCALES
        .into_iter()
        .find(|s| fits(*s))
        .unwrap_or(SCALES[SCALES.len() - 1])
}

/// Draws a window at a scale, 16 for 1 : 16.
///
/// # Errors
///
/// When a number has too many digits.
pub fn elevation(window: &Window, scale: i64) -> Result<Drawing, NumError> {
    let mm = Exact::ratio(254, 10 * scale.max(1)).unwrap_or(Exact::ONE);
    let (width, height) = (window.width.mul(&mm)?, window.height.mul(&mm)?);
    let (left, top) = (Exact::int(LEFT), Exact::int(4));
    let foot = top.add(&height)?;
    let strings = Exact::int(FIRST + 3 * STRING + 2);
    let below = foot.add(&strings)?;
    let rows: usize = window.sash.iter().map(|s| s.members.len()).sum();
    let table = i64::try_from(rows).unwrap_or(i64::MAX / 100) * ROW
        + i64::try_from(window.sash.len()).unwrap_or(0) * LINE
        + LINE;
    let bottom = Exact::max(&below, &Exact::int(table)).add(&Exact::int(1))?;
    let total = bottom.add(&Exact::int(16))?;
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
        left: left.clone(),
        foot,
    };
    pen.opening(window)?;
    for sash in &window.sash {
        pen.sash(sash)?;
    }
    pen.strings(window)?;
    let side = left.add(&width)?.add(&Exact::int(GAP))?;
    pen.table(window, &side)?;
    pen.bar(&bottom, scale)?;
    Ok(pen.out)
}

/// Marks that a set of windows uses, for the legend: treatments in order, then how decay is shown.
pub fn legend(windows: &[Window]) -> Vec<&'static str> {
    let members = || {
        windows
            .iter()
            .flat_map(|w| &w.sash)
            .flat_map(|s| &s.members)
    };
    let mut used: Vec<Mark> = members()
        .filter_map(|m| m.treatment.as_deref().map(Mark::of))
        .collect();
    used.sort_unstable();
    used.dedup();
    let mut out: Vec<&'static str> = used.into_iter().map(Mark::meaning).collect();
    if members().any(|m| m.decayed.as_ref().is_some_and(|d| !d.is_zero())) {
        out.push("black part of a bar: share of the member with decay; its place was not measured");
    }
    if members().any(|m| !m.soft.is_empty()) {
        out.push("hatched: decay whose place was measured");
    }
    out
}

/// Outline of a sash, in inches from its lower left corner.
struct Frame {
    left: Exact,
    right: Exact,
    head: Exact,
    in_left: Exact,
    in_right: Exact,
    in_foot: Exact,
    /// Lower edge of its top rail beside the stiles.
    in_head: Exact,
    /// Face of the top rail without its rise.
    rail: Exact,
    top: Head,
}

impl Frame {
    fn of(sash: &Sash) -> Result<Frame, NumError> {
        let mut out = Frame {
            left: Exact::ZERO,
            right: Exact::ZERO,
            head: Exact::ZERO,
            in_left: Exact::ZERO,
            in_right: Exact::ZERO,
            in_foot: Exact::ZERO,
            in_head: Exact::ZERO,
            rail: Exact::ZERO,
            top: Head::Square,
        };
        let (mut first_up, mut first_level) = (true, true);
        for member in &sash.members {
            let far = member.at.add(&member.face)?;
            match member.lies {
                Lies::Upright if member.count == 1 => {
                    if first_up || member.at < out.left {
                        (out.left, out.in_left) = (member.at.clone(), far.clone());
                    }
                    if first_up || far > out.right {
                        (out.right, out.in_right) = (far, member.at.clone());
                    }
                    first_up = false;
                }
                Lies::Level if member.count == 1 => {
                    if first_level || far < out.in_foot {
                        out.in_foot = far.clone();
                    }
                    if first_level || far > out.head {
                        out.head = far;
                        out.in_head = member.at.clone();
                        out.rail = member.face.sub(&member.head.rise())?;
                        out.top = member.head.clone();
                    }
                    first_level = false;
                }
                Lies::Upright | Lies::Level => {}
            }
        }
        Ok(out)
    }

    fn width(&self) -> Result<Exact, NumError> {
        self.right.sub(&self.left)
    }

    /// Height of the lower edge of its top rail at a place across.
    fn under_head(&self, across: &Exact) -> Result<Exact, NumError> {
        match self.top {
            Head::Square => Ok(self.in_head.clone()),
            Head::Arch(_) | Head::Point(_) => {
                let from_left = across.sub(&self.left)?;
                let spring = self.head.sub(&self.top.rise())?;
                let above = self.top.inside(&self.width()?, &self.rail, &from_left)?;
                spring.add(&above)
            }
        }
    }
}

impl Member {
    /// Places of each of its pieces.
    fn places(&self) -> Result<Vec<Exact>, NumError> {
        let mut out = vec![self.at.clone()];
        let each = self.each.clone().unwrap_or(Exact::ZERO);
        for _ in 1..self.count.min(64) {
            let last = out.last().cloned().unwrap_or(Exact::ZERO);
            out.push(last.add(&each)?);
        }
        Ok(out)
    }
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

    /// The opening, under the same head as its highest sash.
    fn opening(&mut self, window: &Window) -> Result<(), NumError> {
        let mut top = Head::Square;
        for sash in &window.sash {
            let frame = Frame::of(sash)?;
            if frame.top != Head::Square {
                top = frame.top;
            }
        }
        // One head over several leaves side by side is drawn by its leaves.
        let quarter = window.width.div(&Exact::int(4))?;
        if window.sash.iter().any(|s| s.across > quarter) {
            top = Head::Square;
        }
        self.outline(
            (&Exact::ZERO, &Exact::ZERO),
            (&window.width, &window.height),
            &top,
            (Stroke::Medium, Fill::Open),
        )
    }

    /// A box with a head, by its lower left corner and its size to the crown.
    fn outline(
        &mut self,
        (x, y): (&Exact, &Exact),
        (width, height): (&Exact, &Exact),
        head: &Head,
        (stroke, fill): (Stroke, Fill),
    ) -> Result<(), NumError> {
        let right = x.add(width)?;
        let crown = y.add(height)?;
        let spring = crown.sub(&head.rise())?;
        let corners = [
            self.point(x, &spring)?,
            self.point(x, y)?,
            self.point(&right, y)?,
            self.point(&right, &spring)?,
        ];
        let [a, b, c, d] = corners;
        let Some(curve) = head.curve(width)? else {
            self.out.shapes.push(Shape::Outline {
                points: vec![a, b, c, d],
                stroke,
                fill,
            });
            return Ok(());
        };
        // What lies behind a curved head is covered up to its spring; nothing stands higher behind it.
        if fill == Fill::Paper {
            self.out.shapes.push(Shape::Outline {
                points: vec![a.clone(), b.clone(), c.clone(), d.clone()],
                stroke: Stroke::None,
                fill,
            });
        }
        self.out.shapes.push(Shape::Line {
            points: vec![a.clone(), b, c, d.clone()],
            stroke,
        });
        match head {
            Head::Point(_) => {
                let middle = x.add(&width.div(&Exact::int(2))?)?;
                let peak = self.point(&middle, &crown)?;
                self.arc((&a, &peak), &curve, stroke)?;
                self.arc((&peak, &d), &curve, stroke)
            }
            Head::Square | Head::Arch(_) => self.arc((&a, &d), &curve, stroke),
        }
    }

    fn sash(&mut self, sash: &Sash) -> Result<(), NumError> {
        let frame = Frame::of(sash)?;
        let corner = (sash.across.add(&frame.left)?, sash.up.clone());
        self.outline(
            (&corner.0, &corner.1),
            (&frame.width()?, &frame.head),
            &frame.top,
            (Stroke::Medium, Fill::Paper),
        )?;
        self.daylight(sash, &frame)?;
        for member in &sash.members {
            match (member.count, member.lies) {
                (1, Lies::Upright) if member.at == frame.left || member.at == frame.in_right => {}
                (1, Lies::Level) if member.at.is_zero() || member.at == frame.in_head => {}
                (_, Lies::Upright) => self.uprights(sash, &frame, member)?,
                (_, Lies::Level) => self.levels(sash, &frame, member)?,
            }
        }
        for member in &sash.members {
            for soft in &member.soft {
                self.soft(sash, &frame, member, soft)?;
            }
        }
        Ok(())
    }

    /// The inner edges of stiles and rails, and where rails meet stiles.
    fn daylight(&mut self, sash: &Sash, frame: &Frame) -> Result<(), NumError> {
        let at = |x: &Exact, y: &Exact| -> Result<(Exact, Exact), NumError> {
            Ok((sash.across.add(x)?, sash.up.add(y)?))
        };
        let beside = frame.under_head(&frame.in_left)?;
        let spring = frame.head.sub(&frame.top.rise())?;
        // Shoulders: the rails end at the stiles.
        let (zero, head) = (Exact::ZERO, Exact::max(&spring, &beside));
        for x in [&frame.in_left, &frame.in_right] {
            let (from, to) = (at(x, &zero)?, at(x, &head)?);
            let (from, to) = (self.point(&from.0, &from.1)?, self.point(&to.0, &to.1)?);
            self.out.line(from, to, Stroke::Thin);
        }
        let (l, r) = (
            at(&frame.in_left, &frame.in_foot)?,
            at(&frame.in_right, &frame.in_foot)?,
        );
        let (l, r) = (self.point(&l.0, &l.1)?, self.point(&r.0, &r.1)?);
        self.out.line(l, r, Stroke::Thin);
        let (l, r) = (at(&frame.in_left, &beside)?, at(&frame.in_right, &beside)?);
        let (l, r) = (self.point(&l.0, &l.1)?, self.point(&r.0, &r.1)?);
        match (&frame.top, frame.top.curve(&frame.width()?)?) {
            (Head::Arch(_), Some(curve)) => {
                self.arc((&l, &r), &curve.sub(&frame.rail)?, Stroke::Thin)
            }
            (Head::Point(_), Some(curve)) => {
                let middle = frame.left.add(&frame.width()?.div(&Exact::int(2))?)?;
                let peak = at(&middle, &frame.under_head(&middle)?)?;
                let peak = self.point(&peak.0, &peak.1)?;
                let inner = curve.sub(&frame.rail)?;
                self.arc((&l, &peak), &inner, Stroke::Thin)?;
                self.arc((&peak, &r), &inner, Stroke::Thin)
            }
            (Head::Square | Head::Arch(_) | Head::Point(_), _) => {
                self.out.line(l, r, Stroke::Thin);
                Ok(())
            }
        }
    }

    /// A bar by its corners in the sash: two lines, or one solid bar where the gap between them would be under 0.7 mm.
    fn piece(
        &mut self,
        sash: &Sash,
        (x, y): (&Exact, &Exact),
        (width, height): (&Exact, &Exact),
    ) -> Result<(), NumError> {
        let thin = width.min(height).mul(&self.mm)?;
        let solid = thin < Exact::ratio(95, 100).unwrap_or(Exact::ONE);
        let fill = if solid { Fill::Solid } else { Fill::Paper };
        let stroke = if solid { Stroke::None } else { Stroke::Thin };
        let corner = self.point(&sash.across.add(x)?, &sash.up.add(&y.add(height)?)?)?;
        let (width, height) = (width.mul(&self.mm)?, height.mul(&self.mm)?);
        self.out.rect(&corner, &width, &height, stroke, fill);
        Ok(())
    }

    fn uprights(&mut self, sash: &Sash, frame: &Frame, member: &Member) -> Result<(), NumError> {
        let half = member.face.div(&Exact::int(2))?;
        for at in member.places()? {
            let head = frame.under_head(&at.add(&half)?)?;
            let height = head.sub(&frame.in_foot)?;
            self.piece(sash, (&at, &frame.in_foot), (&member.face, &height))?;
        }
        Ok(())
    }

    fn levels(&mut self, sash: &Sash, frame: &Frame, member: &Member) -> Result<(), NumError> {
        let width = frame.in_right.sub(&frame.in_left)?;
        for at in member.places()? {
            self.piece(sash, (&frame.in_left, &at), (&width, &member.face))?;
        }
        Ok(())
    }

    /// Decay where it was measured, hatched, at least 1.5 mm either way.
    fn soft(
        &mut self,
        sash: &Sash,
        frame: &Frame,
        member: &Member,
        soft: &Soft,
    ) -> Result<(), NumError> {
        let least = Exact::ratio(3, 2).unwrap_or(Exact::ONE).div(&self.mm)?;
        let (long, broad) = (
            Exact::max(&soft.long, &least),
            Exact::max(&Exact::min(&soft.broad, &member.face), &least),
        );
        let ((x, y), (width, height)) = match member.lies {
            Lies::Upright if member.at == frame.in_right => {
                let x = frame.right.sub(&broad)?;
                ((x, soft.from.clone()), (broad, long))
            }
            Lies::Upright => ((member.at.clone(), soft.from.clone()), (broad, long)),
            Lies::Level => ((soft.from.clone(), member.at.clone()), (long, broad)),
        };
        let corner = self.point(&sash.across.add(&x)?, &sash.up.add(&y.add(&height)?)?)?;
        let (width, height) = (width.mul(&self.mm)?, height.mul(&self.mm)?);
        self.out
            .rect(&corner, &width, &height, Stroke::Thin, Fill::Hatched);
        Ok(())
    }

    /// Dimension strings: parts, sash, opening; level ones below, upright ones at the left.
    fn strings(&mut self, window: &Window) -> Result<(), NumError> {
        let below = |at: i64| self.foot.add(&Exact::int(FIRST + at * STRING));
        let beside = |at: i64| self.left.sub(&Exact::int(FIRST + at * STRING));
        let (level, upright): (Vec<Exact>, Vec<Exact>) = (
            (0..4).map(below).collect::<Result<_, _>>()?,
            (0..4).map(beside).collect::<Result<_, _>>()?,
        );
        let lowest = window.sash.iter().map(|s| &s.up).min().cloned();
        let leftmost = window.sash.iter().map(|s| &s.across).min().cloned();
        let mut drawn: Option<Vec<Exact>> = None;
        for sash in window
            .sash
            .iter()
            .filter(|s| Some(&s.up) == lowest.as_ref())
        {
            let frame = Frame::of(sash)?;
            let cuts = cuts(sash, &frame, Lies::Upright)?;
            let lite = lite(sash, &frame.in_left, Lies::Upright)?;
            // Leaves that are alike are cut once.
            if drawn.as_ref() != Some(&cuts) {
                let line = if drawn.is_none() {
                    &level[0]
                } else {
                    &level[1]
                };
                self.chain(
                    Along::Level,
                    line,
                    &moved(&cuts, &sash.across)?,
                    lite.as_ref(),
                )?;
            }
            let whole = moved(&ends(&cuts), &sash.across)?;
            self.chain(Along::Level, &level[2], &whole, None)?;
            drawn.get_or_insert(cuts);
        }
        let column = || {
            let of = window.sash.iter();
            of.filter(|s| Some(&s.across) == leftmost.as_ref())
        };
        for (at, sash) in column().enumerate() {
            let frame = Frame::of(sash)?;
            let mut inches = moved(&cuts(sash, &frame, Lies::Level)?, &sash.up)?;
            let whole = ends(&inches);
            // Where meeting rails lie behind one another only the front one is cut.
            if let Some(above) = column().nth(at + 1) {
                inches.retain(|cut| *cut < above.up);
                inches.push(above.up.clone());
            }
            let lite = lite(sash, &frame.in_foot, Lies::Level)?;
            self.chain(Along::Upright, &upright[0], &inches, lite.as_ref())?;
            let string = if at % 2 == 0 {
                &upright[1]
            } else {
                &upright[2]
            };
            self.chain(Along::Upright, string, &whole, None)?;
        }
        let (width, height) = (window.width.clone(), window.height.clone());
        self.chain(Along::Level, &level[3], &[Exact::ZERO, width], None)?;
        self.chain(Along::Upright, &upright[3], &[Exact::ZERO, height], None)
    }

    fn chain(
        &mut self,
        along: Along,
        line: &Exact,
        inches: &[Exact],
        lite: Option<&Exact>,
    ) -> Result<(), NumError> {
        let place = |i: &Exact| match along {
            Along::Level => self.x(i),
            Along::Upright => self.y(i),
        };
        let cuts: Vec<Exact> = inches.iter().map(place).collect::<Result<_, _>>()?;
        let sizes: Vec<Exact> = inches
            .windows(2)
            .filter_map(|ends| match ends {
                [from, to] => Some(to.sub(from)),
                _ => None,
            })
            .collect::<Result<_, _>>()?;
        chain(
            &mut self.out,
            &Chain {
                along,
                line: line.clone(),
                cuts: &cuts,
                sizes: &sizes,
                lite,
            },
        )
    }

    /// Members one below the other: what becomes of each, its name, and how much of it has decay.
    fn table(&mut self, window: &Window, side: &Exact) -> Result<(), NumError> {
        let size = Exact::ratio(5, 2).unwrap_or(Exact::ONE);
        let mut y = Exact::int(LINE);
        let words = side.add(&Exact::int(marks::SIDE + 3))?;
        for sash in window.sash.iter().rev() {
            self.out.text(
                Point::new(side.clone(), y.clone()),
                size.clone(),
                Anchor::Start,
                &sash.mark,
            );
            y = y.add(&Exact::int(2))?;
            for member in &sash.members {
                let middle = y.add(&Exact::ratio(7, 2).unwrap_or(Exact::ONE))?;
                if let Some(treatment) = &member.treatment {
                    let center = Point::new(side.add(&Exact::int(3))?, middle);
                    Mark::of(treatment).draw(&mut self.out, &center)?;
                }
                let base = y.add(&Exact::int(3))?;
                self.out.text(
                    Point::new(words.clone(), base),
                    size.clone(),
                    Anchor::Start,
                    &member.name,
                );
                if let Some(share) = &member.decayed {
                    let bar = Point::new(
                        words.clone(),
                        y.add(&Exact::ratio(43, 10).unwrap_or(Exact::ONE))?,
                    );
                    let sizes = (Exact::int(15), Exact::ratio(22, 10).unwrap_or(Exact::ONE));
                    marks::gauge(&mut self.out, &bar, (&sizes.0, &sizes.1), share)?;
                    let percent = share.mul(&Exact::int(100))?;
                    let text = format!("{} %", percent.to_decimal(1).0);
                    let after = words.add(&Exact::int(17))?;
                    let base = y.add(&Exact::ratio(67, 10).unwrap_or(Exact::ONE))?;
                    self.out
                        .text(Point::new(after, base), size.clone(), Anchor::Start, text);
                }
                y = y.add(&Exact::int(ROW))?;
            }
            y = y.add(&Exact::int(LINE))?;
        }
        Ok(())
    }

    /// A bar scale in feet and one in meters, with the words of the scale.
    fn bar(&mut self, top: &Exact, scale: i64) -> Result<(), NumError> {
        let foot = self.mm.mul(&Exact::int(12))?;
        let tenth = Exact::ratio(100, scale.max(1)).unwrap_or(Exact::ONE);
        let size = Exact::ratio(5, 2).unwrap_or(Exact::ONE);
        let long = |unit: &Exact| -> Result<i64, NumError> {
            // At least 40 mm.
            let mut count = 1;
            while unit.mul(&Exact::int(count))? < Exact::int(40) && count < 200 {
                count += if count < 5 { 1 } else { 5 };
            }
            Ok(count)
        };
        let mut x = Exact::int(6);
        for (unit, name) in [(&foot, "ft"), (&tenth, "0 cm")] {
            let count = long(unit)?;
            let mut at = x.clone();
            for piece in 0..count.min(8) {
                let whole = unit
                    .mul(&Exact::int(count))?
                    .div(&Exact::int(count.min(8)))?;
                let fill = if piece % 2 == 0 {
                    Fill::Solid
                } else {
                    Fill::Paper
                };
                let corner = Point::new(at.clone(), top.add(&Exact::int(4))?);
                self.out
                    .rect(&corner, &whole, &Exact::int(1), Stroke::Thin, fill);
                at = at.add(&whole)?;
            }
            let base = top.add(&Exact::int(3))?;
            self.out.text(
                Point::new(x.clone(), base.clone()),
                size.clone(),
                Anchor::Middle,
                "0",
            );
            self.out.text(
                Point::new(at.clone(), base),
                size.clone(),
                Anchor::Middle,
                match name {
                    "ft" => format!("{count} ft"),
                    _ => format!("{count}{name}"),
                },
            );
            x = at.add(&Exact::int(14))?;
        }
        let inch = Exact::ratio(12, scale.max(1)).unwrap_or(Exact::ONE);
        let words = format!(
            "Seen from outside, 1:{scale} ({} in to 1 ft). Sizes in inches. Figured sizes govern: do not scale.",
            figure(&inch)
        );
        let base = top.add(&Exact::int(12))?;
        self.out
            .text(Point::new(Exact::int(6), base), size, Anchor::Start, words);
        Ok(())
    }
}

/// Where the members of a sash that lie one way begin and end, from its first edge to its last.
fn cuts(sash: &Sash, frame: &Frame, lies: Lies) -> Result<Vec<Exact>, NumError> {
    let mut out = match lies {
        Lies::Upright => vec![frame.left.clone(), frame.right.clone()],
        Lies::Level => vec![Exact::ZERO, frame.head.clone()],
    };
    for member in sash.members.iter().filter(|m| m.lies == lies) {
        for at in member.places()? {
            // Of an arched rail the crown of its inner edge is cut.
            let from = at.add(&member.head.rise())?;
            out.push(at.add(&member.face)?);
            out.push(from);
        }
    }
    out.sort();
    out.dedup();
    Ok(out)
}

/// Sight size of the first lite of a sash with bars, one way.
fn lite(sash: &Sash, inner: &Exact, lies: Lies) -> Result<Option<Exact>, NumError> {
    let mut bars = sash.members.iter();
    let bar = bars.find(|m| m.lies == lies && m.each.is_some());
    bar.map(|m| m.at.sub(inner)).transpose()
}

/// The first and the last.
fn ends(cuts: &[Exact]) -> Vec<Exact> {
    [cuts.first(), cuts.last()]
        .into_iter()
        .flatten()
        .cloned()
        .collect()
}

fn moved(cuts: &[Exact], by: &Exact) -> Result<Vec<Exact>, NumError> {
    cuts.iter().map(|c| c.add(by)).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn inches(n: i64, d: i64) -> Exact {
        Exact::ratio(n, d).expect("a ratio")
    }

    fn member(name: &str, lies: Lies, at: Exact, face: Exact) -> Member {
        Member {
            name: name.to_owned(),
            lies,
            at,
            each: None,
            count: 1,
            face,
            head: Head::Square,
            treatment: Some("retain".to_owned()),
            decayed: Some(Exact::ZERO),
            soft: Vec::new(),
        }
    }

    /// A sash of a width and height with stiles and rails of 2 in and bars of 7/8 in, lites rounded down to 1/16 in.
    fn sash(width: Exact, height: Exact, across: i64, up: i64, head: Head) -> Sash {
        let (two, bar) = (inches(2, 1), inches(7, 8));
        let sixteenth = inches(1, 16);
        let lite = |room: &Exact, count: i64| {
            let bars = bar.mul(&Exact::int(count - 1)).expect("small");
            let left = room.sub(&bars).expect("small").div(&Exact::int(count));
            left.expect("small")
                .round_to(&sixteenth, crate::number::Rounding::Down)
                .expect("small")
        };
        let four = inches(4, 1);
        let (day_w, day_h) = (
            width.sub(&four).expect("small"),
            height.sub(&four).expect("small"),
        );
        let rise = head.rise();
        let mut members = vec![
            member("left stile", Lies::Upright, Exact::ZERO, two.clone()),
            member(
                "right stile",
                Lies::Upright,
                width.sub(&two).expect("small"),
                two.clone(),
            ),
            Member {
                face: two.add(&rise).expect("small"),
                head,
                ..member(
                    "top rail",
                    Lies::Level,
                    height.sub(&two).and_then(|h| h.sub(&rise)).expect("small"),
                    two.clone(),
                )
            },
            member("bottom rail", Lies::Level, Exact::ZERO, two.clone()),
        ];
        for (lies, count, day) in [(Lies::Upright, across, &day_w), (Lies::Level, up, &day_h)] {
            if count > 1 {
                let lite = lite(day, count);
                members.push(Member {
                    each: Some(lite.add(&bar).expect("small")),
                    count: u64::try_from(count - 1).expect("small"),
                    ..member("bars", lies, two.add(&lite).expect("small"), bar.clone())
                });
            }
        }
        Sash {
            mark: "A-S".to_owned(),
            across: inches(1, 16),
            up: inches(1, 16),
            members,
        }
    }

    fn window(sash: Sash, width: Exact, height: Exact) -> Window {
        let eighth = inches(1, 8);
        Window {
            mark: "A".to_owned(),
            width: width.add(&eighth).expect("small"),
            height: height.add(&eighth).expect("small"),
            sash: vec![sash],
        }
    }

    /// Every corner of every shape, with text left out.
    fn corners(drawing: &Drawing) -> Vec<Point> {
        let each = drawing.shapes.iter().flat_map(|s| match s {
            Shape::Line { points, .. } | Shape::Outline { points, .. } => points.clone(),
            Shape::Arc { from, to, .. } => vec![from.clone(), to.clone()],
            Shape::Text { .. } => Vec::new(),
        });
        each.collect()
    }

    #[test]
    fn members_and_lites_add_up_to_the_sash_and_nothing_leaves_the_page() {
        for (w, h, across, up) in [
            (28, 30, 2, 2),
            (34, 60, 3, 4),
            (12, 12, 1, 1),
            (47, 95, 6, 5),
        ] {
            for head in [
                Head::Square,
                Head::Arch(inches(3, 1)),
                Head::Point(inches(w, 1)),
            ] {
                let (width, height) = (inches(4 * w + 1, 4), inches(h, 1));
                let one = sash(width.clone(), height.clone(), across, up, head);
                let frame = Frame::of(&one).expect("has a frame");
                for (lies, whole) in [(Lies::Upright, &width), (Lies::Level, &height)] {
                    let cuts = cuts(&one, &frame, lies).expect("cuts");
                    let mut sum = Exact::ZERO;
                    for two in cuts.windows(2) {
                        sum = sum
                            .add(&two[1].sub(&two[0]).expect("small"))
                            .expect("small");
                    }
                    assert_eq!(sum, *whole, "{w} by {h}, {lies:?}");
                }
                let window = window(one, width, height);
                let scale = scale_for(std::slice::from_ref(&window));
                let drawing = elevation(&window, scale).expect("draws");
                for point in corners(&drawing) {
                    assert!(
                        point.x.signum() >= 0 && point.x <= drawing.width,
                        "{point:?}"
                    );
                    assert!(
                        point.y.signum() >= 0 && point.y <= drawing.height,
                        "{point:?}"
                    );
                }
            }
        }
    }

    /// Papers of this project, 2.2: 38 3/4 = 2 x 2 + 3 lites + 2 bars of 7/8; lites of 10 7/8 leave a rest, which is figured by itself.
    #[test]
    fn what_lites_leave_over_is_a_figure_of_its_own() {
        let (width, height) = (inches(155, 4), inches(40, 1));
        let one = window(
            sash(width.clone(), height.clone(), 3, 2, Head::Square),
            width,
            height,
        );
        let drawing = elevation(&one, 16).expect("draws");
        let texts: Vec<&str> = drawing
            .shapes
            .iter()
            .filter_map(|s| match s {
                Shape::Text { text, .. } => Some(text.as_str()),
                _ => None,
            })
            .collect();
        // (38 3/4 - 4 - 1 3/4) / 3 = 11 exactly; upward (40 - 4 - 7/8) / 2 = 17 9/16 exactly.
        assert_eq!(texts.iter().filter(|t| **t == "11").count(), 3, "{texts:?}");
        assert_eq!(
            texts.iter().filter(|t| **t == "17 9/16").count(),
            2,
            "{texts:?}"
        );
        // (38 1/2 - 4 - 1 3/4) / 3 = 10 11/12, down to 10 7/8: the rest is 1/8.
        let width = inches(77, 2);
        let one = window(
            sash(width.clone(), inches(40, 1), 3, 2, Head::Square),
            width,
            inches(40, 1),
        );
        let drawing = elevation(&one, 16).expect("draws");
        assert!(
            drawing
                .shapes
                .iter()
                .any(|s| matches!(s, Shape::Text { text, .. } if text == "10 7/8 + 1/8"))
        );
    }

    /// Check values of this project: a segment 36 wide with a rise of 6 has a radius of 30. Geometry of the circle.
    #[test]
    fn an_arch_has_the_radius_of_its_chord_and_rise() {
        let head = Head::Arch(Exact::int(6));
        assert_eq!(head.curve(&Exact::int(36)), Ok(Some(Exact::int(30))));
        let round = Head::Arch(Exact::int(18));
        assert_eq!(round.curve(&Exact::int(36)), Ok(Some(Exact::int(18))));
    }

    /// A face of 2 in at 1:16 is 3.175 mm: drawn within 0.2 mm of size over scale (papers of this project, 6.5).
    #[test]
    fn faces_are_drawn_to_scale() {
        let (width, height) = (inches(30, 1), inches(40, 1));
        let one = window(
            sash(width.clone(), height.clone(), 1, 1, Head::Square),
            width,
            height,
        );
        let text = crate::drawing::svg(&elevation(&one, 16).expect("draws"));
        // The left stile begins 1/16 in from the jamb: 38 + 0.1 mm, and its inner edge stands 3.18 mm further.
        assert!(text.contains("points=\"41.27,"), "{text}");
    }

    #[test]
    fn bars_too_thin_for_two_lines_are_one_solid_bar() {
        let (width, height) = (inches(30, 1), inches(40, 1));
        let one = window(
            sash(width.clone(), height.clone(), 2, 2, Head::Square),
            width,
            height,
        );
        let solid = |scale| {
            let drawing = elevation(&one, scale).expect("draws");
            drawing.shapes.iter().any(|s| {
                matches!(
                    s,
                    Shape::Outline {
                        fill: Fill::Solid,
                        stroke: Stroke::None,
                        ..
                    }
                )
            })
        };
        // 7/8 in less one line: 1.14 mm at 1:16, 0.68 mm at 1:24, of which 0.7 is asked.
        assert!(!solid(16));
        assert!(solid(24));
    }
}
