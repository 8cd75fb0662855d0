//! The key: each mark that a set of windows uses, drawn once with what it means.

use super::{PAGE, ROW, Window};
use crate::drawing::marks::{self, Mark};
use crate::drawing::{Anchor, Drawing, Fill, Point, Stroke};
use crate::number::{Exact, NumError};

/// What one line of the key shows.
enum Sign {
    Mark(Mark),
    Share,
    Hatched,
}

impl Sign {
    fn meaning(&self) -> &'static str {
        match self {
            Sign::Mark(mark) => mark.meaning(),
            Sign::Share => "black part of a bar: share of the member decayed",
            Sign::Hatched => "hatched: decay, its place measured",
        }
    }

    fn draw(&self, out: &mut Drawing, center: &Point) -> Result<(), NumError> {
        let half = Exact::ratio(5, 2).unwrap_or(Exact::ONE);
        let corner = Point::new(center.x.sub(&half)?, center.y.sub(&Exact::ONE)?);
        let (width, height) = (Exact::int(5), Exact::int(2));
        match self {
            Sign::Mark(mark) => mark.draw(out, center)?,
            Sign::Share => marks::gauge(
                out,
                &corner,
                (&width, &height),
                &Exact::ratio(2, 5).unwrap_or(Exact::ONE),
            )?,
            Sign::Hatched => out.rect(&corner, &width, &height, Stroke::Thin, Fill::Hatched),
        }
        Ok(())
    }
}

/// The signs that windows use: treatments in order, then how decay is shown.
fn used<'a>(windows: impl Iterator<Item = &'a Window>) -> Vec<Sign> {
    let mut treatments: Vec<Mark> = Vec::new();
    let (mut share, mut hatched) = (false, false);
    for member in windows.flat_map(|w| &w.sash).flat_map(|s| &s.members) {
        treatments.extend(member.treatment.as_deref().map(Mark::of));
        treatments.sort_unstable();
        treatments.dedup();
        share |= member.decayed.is_some();
        hatched |= !member.soft.is_empty();
    }
    let mut out: Vec<Sign> = treatments.into_iter().map(Sign::Mark).collect();
    out.extend(share.then_some(Sign::Share));
    out.extend(hatched.then_some(Sign::Hatched));
    out
}

/// The key to the drawings of a set of windows, in two columns; none where they use no marks. Its title says all of it.
///
/// # Errors
///
/// When a number has too many digits.
pub(crate) fn key<'a>(
    windows: impl Iterator<Item = &'a Window>,
) -> Result<Option<Drawing>, NumError> {
    let signs = used(windows);
    if signs.is_empty() {
        return Ok(None);
    }
    let said: Vec<&str> = signs.iter().map(Sign::meaning).collect();
    let lines = crate::ids::count(signs.len().div_ceil(2));
    let title = format!("Key to the elevations: {}", said.join("; "));
    let mut out = Drawing::new(title, Exact::int(PAGE), Exact::int(lines * ROW + 1));
    for (at, sign) in (0_i64..).zip(&signs) {
        let x = at / lines * (PAGE / 2);
        let y = at % lines * ROW + ROW / 2;
        sign.draw(&mut out, &Point::new(Exact::int(x + 5), Exact::int(y)))?;
        let base = Exact::int(y).add(&Exact::ratio(5, 4).unwrap_or(Exact::ONE))?;
        let size = Exact::ratio(5, 2).unwrap_or(Exact::ONE);
        let text = Point::new(Exact::int(x + 12), base);
        out.text(text, size, Anchor::Start, sign.meaning());
    }
    Ok(Some(out))
}
