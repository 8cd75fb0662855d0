//! What stands around the drawing: dimension strings, the members with what becomes of each, the bar scale.

use super::frame::Frame;
use super::{BESIDE, FIRST, LINE, Lies, PAGE, Pen, RIGHT, ROW, STRING, Sash, Window};
use crate::drawing::dims::{Along, Chain, chain, figure};
use crate::drawing::marks::{self, Mark};
use crate::drawing::{Anchor, Fill, Point, Stroke};
use crate::number::{Exact, NumError, Rounding};

/// The room that the bar scale needs beside the drawing: its width, the width of its words, and its height.
pub(super) const NOTES: i64 = 79;
/// See [`NOTES`].
pub(super) const NOTES_HIGH: i64 = 24;

/// The sash of a window in as many columns as fit beside it: from the head down, from left to right.
pub(super) fn columns<'a>(window: &'a Window, side: &Exact) -> Vec<Vec<&'a Sash>> {
    let mut order: Vec<&Sash> = window.sash.iter().collect();
    order.sort_by(|a, b| b.up.cmp(&a.up).then_with(|| a.across.cmp(&b.across)));
    let room = Exact::int(PAGE)
        .sub(side)
        .and_then(|r| r.div(&Exact::int(RIGHT)));
    let room = room.and_then(|r| r.round_to(&Exact::ONE, Rounding::Down));
    let fit = room
        .ok()
        .and_then(|n| n.to_i64())
        .and_then(|n| usize::try_from(n).ok());
    let each = order.len().div_ceil(fit.unwrap_or(1).max(1)).max(1);
    order.chunks(each).map(<[&Sash]>::to_vec).collect()
}

/// How high the columns are, in millimeters.
pub(super) fn height(columns: &[Vec<&Sash>]) -> i64 {
    let of = |column: &Vec<&Sash>| {
        let rows = column.iter().map(|s| s.members.len()).sum::<usize>();
        let count = |n: usize| i64::try_from(n).unwrap_or(i64::MAX / 1000);
        LINE + count(rows) * ROW + count(column.len()) * (LINE + 2)
    };
    columns.iter().map(of).max().unwrap_or(0)
}

/// The sash that stand lowest in a window.
fn lowest(window: &Window) -> impl Iterator<Item = &Sash> {
    let lowest = window.sash.iter().map(|s| &s.up).min();
    window.sash.iter().filter(move |s| Some(&s.up) == lowest)
}

/// The lowest sash with where their upright members begin and end; leaves that are cut alike once. Each has a string of its own.
pub(super) fn level_parts(window: &Window) -> Result<Vec<(&Sash, Vec<Exact>)>, NumError> {
    let mut out: Vec<(&Sash, Vec<Exact>)> = Vec::new();
    for sash in lowest(window) {
        let cuts = cuts(sash, &Frame::of(sash)?, Lies::Upright)?;
        if out.iter().all(|(_, known)| *known != cuts) {
            out.push((sash, cuts));
        }
    }
    Ok(out)
}

impl Pen {
    /// Dimension strings: parts, sash, opening; level ones below, upright ones at the left.
    pub(super) fn strings(&mut self, window: &Window) -> Result<(), NumError> {
        let below = |at: i64| self.foot.add(&Exact::int(FIRST + at * STRING));
        let beside = |at: i64| self.left.sub(&Exact::int(FIRST + at * BESIDE));
        let parts = level_parts(window)?;
        let unlike = crate::ids::count(parts.len());
        let level: Vec<Exact> = (0..unlike + 2).map(below).collect::<Result<_, _>>()?;
        let upright: Vec<Exact> = (0..4).map(beside).collect::<Result<_, _>>()?;
        let [.., sash_line, opening_line] = level.as_slice() else {
            return Ok(());
        };
        let leftmost = window.sash.iter().map(|s| &s.across).min().cloned();
        for ((sash, cuts), line) in parts.iter().zip(&level) {
            let lite = lite(sash, &Frame::of(sash)?.in_left, Lies::Upright)?;
            let cuts = moved(cuts, &sash.across)?;
            self.chain(Along::Level, line, &cuts, lite.as_ref())?;
        }
        for sash in lowest(window) {
            let cuts = cuts(sash, &Frame::of(sash)?, Lies::Upright)?;
            let whole = moved(&ends(&cuts), &sash.across)?;
            self.chain(Along::Level, sash_line, &whole, None)?;
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
        self.chain(Along::Level, opening_line, &[Exact::ZERO, width], None)?;
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
    pub(super) fn table(&mut self, columns: &[Vec<&Sash>], side: &Exact) -> Result<(), NumError> {
        let mut x = side.clone();
        for column in columns {
            let mut y = Exact::int(LINE);
            for sash in column {
                y = self.members_of(sash, &x, y)?.add(&Exact::int(LINE))?;
            }
            x = x.add(&Exact::int(RIGHT))?;
        }
        Ok(())
    }

    /// The members of a sash from a height down; gives the height below them.
    fn members_of(&mut self, sash: &Sash, side: &Exact, top: Exact) -> Result<Exact, NumError> {
        let size = Exact::ratio(5, 2).unwrap_or(Exact::ONE);
        let words = side.add(&Exact::int(marks::SIDE + 3))?;
        self.out.text(
            Point::new(side.clone(), top.clone()),
            size.clone(),
            Anchor::Start,
            &sash.mark,
        );
        let mut y = top.add(&Exact::int(2))?;
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
        Ok(y)
    }

    /// A bar scale in feet and one in meters, with the words of the scale; the one below the other where they are beside the drawing.
    pub(super) fn notes(&mut self, at: &Point, scale: i64, stacked: bool) -> Result<(), NumError> {
        let foot = self.mm.mul(&Exact::int(12))?;
        let tenth = Exact::ratio(100, scale.max(1)).unwrap_or(Exact::ONE);
        let size = Exact::ratio(5, 2).unwrap_or(Exact::ONE);
        let mut bar = at.clone();
        for (unit, name) in [(&foot, " ft"), (&tenth, "0 cm")] {
            let end = self.scale_bar(&bar, unit, name)?;
            match stacked {
                true => bar.y = bar.y.add(&Exact::int(7))?,
                false => bar.x = end.add(&Exact::int(14))?,
            }
        }
        let inch = Exact::ratio(12, scale.max(1)).unwrap_or(Exact::ONE);
        let seen = format!(
            "Seen from outside, 1:{scale} ({} in to 1 ft).",
            figure(&inch)
        );
        let govern = "Sizes in inches. Figured sizes govern: do not scale.";
        let (lines, first) = match stacked {
            true => (vec![seen, govern.to_owned()], 18),
            false => (vec![format!("{seen} {govern}")], 12),
        };
        let mut base = at.y.add(&Exact::int(first))?;
        for line in lines {
            let at = Point::new(at.x.clone(), base.clone());
            self.out.text(at, size.clone(), Anchor::Start, line);
            base = base.add(&Exact::ratio(9, 2).unwrap_or(Exact::ONE))?;
        }
        Ok(())
    }

    /// A bar of as many units as make 40 mm; gives where it ends.
    fn scale_bar(&mut self, at: &Point, unit: &Exact, name: &str) -> Result<Exact, NumError> {
        let size = Exact::ratio(5, 2).unwrap_or(Exact::ONE);
        let mut count = 1;
        while unit.mul(&Exact::int(count))? < Exact::int(40) && count < 200 {
            count += if count < 5 { 1 } else { 5 };
        }
        let pieces = count.min(8);
        let piece = unit.mul(&Exact::int(count))?.div(&Exact::int(pieces))?;
        let mut x = at.x.clone();
        for nth in 0..pieces {
            let fill = if nth % 2 == 0 {
                Fill::Solid
            } else {
                Fill::Paper
            };
            let corner = Point::new(x.clone(), at.y.add(&Exact::int(4))?);
            self.out
                .rect(&corner, &piece, &Exact::int(1), Stroke::Thin, fill);
            x = x.add(&piece)?;
        }
        let base = at.y.add(&Exact::int(3))?;
        let mut label = |x: &Exact, text: String| {
            let at = Point::new(x.clone(), base.clone());
            self.out.text(at, size.clone(), Anchor::Middle, text);
        };
        label(&at.x, "0".to_owned());
        label(&x, format!("{count}{name}"));
        Ok(x)
    }
}

/// Where the members of a sash that lie one way begin and end, from its first edge to its last.
pub(super) fn cuts(sash: &Sash, frame: &Frame, lies: Lies) -> Result<Vec<Exact>, NumError> {
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
