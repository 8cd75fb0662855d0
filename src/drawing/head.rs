//! Heads of windows: square, arched, pointed.

use crate::number::{Exact, NumError, Rounding};

/// The upper edge of a sash or an opening.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Head {
    /// Straight.
    Square,
    /// A part of a circle with this rise; half a circle where it is half the width.
    Arch(Exact),
    /// Two parts of circles that meet at this height above their spring.
    Point(Exact),
}

impl Head {
    /// Its rise, zero for a square one.
    pub fn rise(&self) -> Exact {
        match self {
            Head::Square => Exact::ZERO,
            Head::Arch(rise) | Head::Point(rise) => rise.clone(),
        }
    }

    /// Radius of its outer edge over a width: `(c² / 4 + r²) / (2 r)` for an arch of chord c and rise r; `(c² / 4 + r²) / c` for each
    /// side of a point. None for a square head. Source: geometry of the circle.
    ///
    /// # Errors
    ///
    /// When a number has too many digits.
    pub fn curve(&self, width: &Exact) -> Result<Option<Exact>, NumError> {
        let rise = self.rise();
        if rise.is_zero() || width.is_zero() {
            return Ok(None);
        }
        let squares = width
            .mul(width)?
            .div(&Exact::int(4))?
            .add(&rise.mul(&rise)?)?;
        Ok(match self {
            Head::Square => None,
            Head::Arch(_) => Some(squares.div(&rise.mul(&Exact::int(2))?)?),
            Head::Point(_) => Some(squares.div(width)?),
        })
    }

    /// Height above the spring of an inner edge `face` inside the outer one, at a place from the left. Zero where the inner edge runs
    /// below the spring. Exact to a thousandth of an inch, which is far below what a drawing shows.
    pub(super) fn inside(
        &self,
        width: &Exact,
        face: &Exact,
        from_left: &Exact,
    ) -> Result<Exact, NumError> {
        let Some(curve) = self.curve(width)? else {
            return Ok(face.neg());
        };
        let inner = curve.sub(face)?;
        let half = width.div(&Exact::int(2))?;
        let (center, level) = match self {
            Head::Square | Head::Arch(_) => (half.clone(), self.rise().sub(&curve)?),
            // Each side of a point has its center on the spring, on the other side.
            Head::Point(_) if *from_left <= half => (curve.clone(), Exact::ZERO),
            Head::Point(_) => (width.sub(&curve)?, Exact::ZERO),
        };
        let off = from_left.sub(&center)?;
        let square = inner.mul(&inner)?.sub(&off.mul(&off)?)?;
        level.add(&root(&square)?)
    }
}

/// Square root of a number of square inches, rounded down to a ten-thousandth of an inch; zero below zero.
fn root(square: &Exact) -> Result<Exact, NumError> {
    let fine = square.mul(&Exact::int(100_000_000))?;
    let whole = fine.round_to(&Exact::ONE, Rounding::Down)?;
    let whole = whole.to_i64().ok_or(NumError::TooManyDigits)?;
    let root = whole.max(0).isqrt();
    Ok(Exact::ratio(root, 10_000).unwrap_or(Exact::ZERO))
}
