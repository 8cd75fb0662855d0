//! The opening and its sash: outlines, inner edges, bars and soft places.

use super::frame::Frame;
use super::{Lies, Member, Pen, Sash, Soft, Window};
use crate::drawing::{Fill, Head, Point, Shape, Stroke};
use crate::number::{Exact, NumError};

impl Pen {
    /// The opening, under the same head as its highest sash.
    pub(super) fn opening(&mut self, window: &Window, frames: &[Frame]) -> Result<(), NumError> {
        let curved = frames.iter().find(|f| f.top != Head::Square);
        let zero = Exact::ZERO;
        let frame = Frame {
            left: zero.clone(),
            right: window.width.clone(),
            head: window.height.clone(),
            in_left: zero.clone(),
            in_right: window.width.clone(),
            in_foot: zero.clone(),
            in_head: window.height.clone(),
            rail: zero.clone(),
            top: curved.map_or(Head::Square, |f| f.top.clone()),
            chord: (zero.clone(), window.width.clone()),
        };
        self.outline((&zero, &zero), &frame, Fill::Open)
    }

    /// The outer edge of a sash or of the opening, by the place of its lower left corner.
    fn outline(
        &mut self,
        (across, up): (&Exact, &Exact),
        frame: &Frame,
        fill: Fill,
    ) -> Result<(), NumError> {
        let stroke = Stroke::Medium;
        let at = |x: &Exact, y: &Exact| self.point(&across.add(x)?, &up.add(y)?);
        let (left, right) = (&frame.left, &frame.right);
        let (from, to) = (frame.over_head(left)?, frame.over_head(right)?);
        let corners = [
            at(left, &from)?,
            at(left, &Exact::ZERO)?,
            at(right, &Exact::ZERO)?,
            at(right, &to)?,
        ];
        let peak = match frame.peak()? {
            Some(x) => Some(at(&x, &frame.over_head(&x)?)?),
            None => None,
        };
        let Some(curve) = frame.curve()? else {
            self.out.shapes.push(Shape::Outline {
                points: corners.to_vec(),
                stroke,
                fill,
            });
            return Ok(());
        };
        // What lies behind a curved head is covered up to its spring; nothing stands higher behind it.
        if fill == Fill::Paper {
            self.out.shapes.push(Shape::Outline {
                points: corners.to_vec(),
                stroke: Stroke::None,
                fill,
            });
        }
        self.out.shapes.push(Shape::Line {
            points: corners.to_vec(),
            stroke,
        });
        let [a, _, _, d] = corners;
        self.head((&a, peak.as_ref(), &d), &curve, stroke)
    }

    /// One arc, or two that meet at a peak.
    fn head(
        &mut self,
        (from, peak, to): (&Point, Option<&Point>, &Point),
        radius: &Exact,
        stroke: Stroke,
    ) -> Result<(), NumError> {
        match peak {
            Some(peak) => {
                self.arc((from, peak), radius, stroke)?;
                self.arc((peak, to), radius, stroke)
            }
            None => self.arc((from, to), radius, stroke),
        }
    }

    pub(super) fn sash(&mut self, sash: &Sash, frame: &Frame) -> Result<(), NumError> {
        self.outline((&sash.across, &sash.up), frame, Fill::Paper)?;
        self.daylight(sash, frame)?;
        for member in &sash.members {
            match (member.count, member.lies) {
                (1, Lies::Upright) if member.at == frame.left || member.at == frame.in_right => {}
                (1, Lies::Level) if member.at.is_zero() || member.at == frame.in_head => {}
                (_, Lies::Upright) => self.uprights(sash, frame, member)?,
                (_, Lies::Level) => self.levels(sash, frame, member)?,
            }
        }
        for member in &sash.members {
            for soft in &member.soft {
                self.soft(sash, frame, member, soft)?;
            }
        }
        Ok(())
    }

    /// The inner edges of stiles and rails, and where rails meet stiles.
    fn daylight(&mut self, sash: &Sash, frame: &Frame) -> Result<(), NumError> {
        let (left, right) = (&frame.in_left, &frame.in_right);
        let (under_left, under_right) = (frame.under_head(left)?, frame.under_head(right)?);
        let spring = frame.spring()?;
        let peak = match frame.peak()? {
            Some(x) => Some((frame.under_head(&x)?, x)),
            None => None,
        };
        let at = |x: &Exact, y: &Exact| self.point(&sash.across.add(x)?, &sash.up.add(y)?);
        // Shoulders: the rails end at the stiles.
        let mut shoulders = Vec::new();
        for (x, under) in [(left, &under_left), (right, &under_right)] {
            shoulders.push((at(x, &Exact::ZERO)?, at(x, &Exact::max(&spring, under))?));
        }
        let foot = (at(left, &frame.in_foot)?, at(right, &frame.in_foot)?);
        let top = (at(left, &under_left)?, at(right, &under_right)?);
        let peak = match peak {
            Some((y, x)) => Some(at(&x, &y)?),
            None => None,
        };
        for (from, to) in shoulders.into_iter().chain([foot]) {
            self.out.line(from, to, Stroke::Thin);
        }
        match frame.curve()? {
            Some(curve) => {
                let inner = curve.sub(&frame.rail)?;
                self.head((&top.0, peak.as_ref(), &top.1), &inner, Stroke::Thin)
            }
            None => {
                self.out.line(top.0, top.1, Stroke::Thin);
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
}
