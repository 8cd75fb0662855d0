//! The outline of a sash, from its members, and the curve of the head over one or several of them.

use super::{Lies, Member, Sash, Window};
use crate::drawing::Head;
use crate::number::{Exact, NumError};

/// Outline of a sash, in inches from its lower left corner.
pub(super) struct Frame {
    pub(super) left: Exact,
    pub(super) right: Exact,
    pub(super) head: Exact,
    pub(super) in_left: Exact,
    pub(super) in_right: Exact,
    pub(super) in_foot: Exact,
    /// Lower edge of its top rail beside the stiles.
    pub(super) in_head: Exact,
    /// Face of the top rail without its rise.
    pub(super) rail: Exact,
    pub(super) top: Head,
    /// Where the curve of its head begins, and how wide it is: as wide as all leaves that are under it.
    pub(super) chord: (Exact, Exact),
}

impl Frame {
    pub(super) fn of(sash: &Sash) -> Result<Frame, NumError> {
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
            chord: (Exact::ZERO, Exact::ZERO),
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
        out.chord = (out.left.clone(), out.width()?);
        Ok(out)
    }

    pub(super) fn width(&self) -> Result<Exact, NumError> {
        self.right.sub(&self.left)
    }

    /// Height at which the curve of its head begins.
    pub(super) fn spring(&self) -> Result<Exact, NumError> {
        self.head.sub(&self.top.rise())
    }

    /// Radius of the outer edge of its head; none where it is straight.
    pub(super) fn curve(&self) -> Result<Option<Exact>, NumError> {
        self.top.curve(&self.chord.1)
    }

    /// Where a point has its peak, if it is over this leaf.
    pub(super) fn peak(&self) -> Result<Option<Exact>, NumError> {
        let middle = self.chord.0.add(&self.chord.1.div(&Exact::int(2))?)?;
        let here = middle > self.left && middle < self.right;
        Ok((here && matches!(self.top, Head::Point(_))).then_some(middle))
    }

    /// Height of the outer edge of its head at a place across.
    pub(super) fn over_head(&self, across: &Exact) -> Result<Exact, NumError> {
        let from_left = across.sub(&self.chord.0)?;
        let beside = from_left.signum() <= 0 || from_left >= self.chord.1;
        let spring = self.spring()?;
        match (&self.top, beside) {
            (Head::Square, _) => Ok(self.head.clone()),
            (Head::Arch(_) | Head::Point(_), true) => Ok(spring),
            (Head::Arch(_) | Head::Point(_), false) => {
                spring.add(&self.top.inside(&self.chord.1, &Exact::ZERO, &from_left)?)
            }
        }
    }

    /// Height of the lower edge of its top rail at a place across.
    pub(super) fn under_head(&self, across: &Exact) -> Result<Exact, NumError> {
        match self.top {
            Head::Square => Ok(self.in_head.clone()),
            Head::Arch(_) | Head::Point(_) => {
                let from_left = across.sub(&self.chord.0)?;
                let above = self.top.inside(&self.chord.1, &self.rail, &from_left)?;
                self.spring()?.add(&above)
            }
        }
    }
}

/// The frames of the sash of a window, in their order. Leaves side by side with the same curved head are under one curve.
pub(super) fn frames(window: &Window) -> Result<Vec<Frame>, NumError> {
    let mut out: Vec<Frame> = window
        .sash
        .iter()
        .map(Frame::of)
        .collect::<Result<_, _>>()?;
    let mut chords = Vec::with_capacity(out.len());
    for (sash, frame) in window.sash.iter().zip(&out) {
        let crown = sash.up.add(&frame.head)?;
        let (mut first, mut last) = (None, None);
        for (other, its) in window.sash.iter().zip(&out) {
            if its.top != frame.top || other.up.add(&its.head)? != crown {
                continue;
            }
            let (from, to) = (other.across.add(&its.left)?, other.across.add(&its.right)?);
            first = Some(first.map_or(from.clone(), |f: Exact| Exact::min(&f, &from)));
            last = Some(last.map_or(to.clone(), |l: Exact| Exact::max(&l, &to)));
        }
        let (from, to) = (
            first.unwrap_or_else(|| sash.across.clone()),
            last.unwrap_or_else(|| sash.across.clone()),
        );
        chords.push((from.sub(&sash.across)?, to.sub(&from)?));
    }
    for (frame, chord) in out.iter_mut().zip(chords) {
        frame.chord = chord;
    }
    Ok(out)
}

impl Member {
    /// Places of each of its pieces.
    pub(super) fn places(&self) -> Result<Vec<Exact>, NumError> {
        let mut out = vec![self.at.clone()];
        let each = self.each.clone().unwrap_or(Exact::ZERO);
        for _ in 1..self.count.min(64) {
            let last = out.last().cloned().unwrap_or(Exact::ZERO);
            out.push(last.add(&each)?);
        }
        Ok(out)
    }
}
