//! Dimension strings: figures between oblique ticks. A string is cut at places along one line, so its figures add up to its whole;
//! what a repeated size leaves over is printed as a rest.

use super::{Anchor, Drawing, Point, Shape, Stroke};
use crate::number::{Exact, NumError};

/// Which way a string runs.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Along {
    /// From left to right; figures above the line.
    Level,
    /// From the foot up; figures read from the right, left of the line.
    Upright,
}

/// Height of figures in millimeters.
const FIGURE: (i64, i64) = (5, 2);
/// A figure narrower than this share of its own width is on the other side of the line.
const SIGN: (i64, i64) = (19, 10);

/// Lines on which figures stand, in tenths of a millimeter from the line of the string: above it, below it, further above, further below.
const LINES: [i64; 4] = [-9, 35, -44, 70];

/// A string: where its line is across its direction, on paper, and its cuts as places on paper with sizes in inches between them.
pub(super) struct Chain<'a> {
    pub(super) along: Along,
    pub(super) line: Exact,
    pub(super) cuts: &'a [Exact],
    pub(super) sizes: &'a [Exact],
    /// Sight size of the first lite, which the last one exceeds by a rest.
    pub(super) lite: Option<&'a Exact>,
}

/// Draws a string.
pub(super) fn chain(out: &mut Drawing, chain: &Chain<'_>) -> Result<(), NumError> {
    let (Some(first), Some(last)) = (chain.cuts.first(), chain.cuts.last()) else {
        return Ok(());
    };
    let at = |place: &Exact, off: &Exact| -> Result<Point, NumError> {
        let across = chain.line.add(off)?;
        Ok(match chain.along {
            Along::Level => Point::new(place.clone(), across),
            Along::Upright => Point::new(across, place.clone()),
        })
    };
    let pieces = pieces(chain)?;
    out.line(
        at(first, &Exact::ZERO)?,
        at(last, &Exact::ZERO)?,
        Stroke::Thin,
    );
    let tick = Exact::ratio(9, 10).unwrap_or(Exact::ONE);
    let ends = pieces.iter().map(|p| p.to);
    for cut in std::iter::once(first).chain(ends) {
        let (before, after) = (cut.sub(&tick)?, cut.add(&tick)?);
        let (from, to) = (at(&before, &tick)?, at(&after, &tick.neg())?);
        out.line(from, to, Stroke::Thin);
    }
    let usual = chain.sizes.iter().max().cloned();
    let size = Exact::ratio(FIGURE.0, FIGURE.1).unwrap_or(Exact::ONE);
    // What stands already on each line of figures: from, to.
    let mut taken: [Vec<(Exact, Exact)>; LINES.len()] = Default::default();
    for Piece {
        from,
        to,
        inches,
        text,
    } in pieces
    {
        let room = to.sub(from)?.abs();
        let signs = Exact::int(crate::ids::count(text.chars().count()));
        let wide = signs.mul(&Exact::ratio(SIGN.0, SIGN.1).unwrap_or(Exact::ONE))?;
        let narrow = wide > room && usual.as_ref() != Some(inches);
        let middle = from.add(to)?.div(&Exact::int(2))?;
        let half = wide.div(&Exact::int(2))?;
        let own = (middle.sub(&half)?, middle.add(&half)?);
        let free = |line: &usize| {
            let apart = |(a, b): &(Exact, Exact)| *b <= own.0 || *a >= own.1;
            taken.get(*line).is_some_and(|t| t.iter().all(apart))
        };
        // A narrow one stands beyond the line; none runs into another.
        let order = if narrow { [1, 0, 2, 3] } else { [0, 1, 2, 3] };
        let line = order.into_iter().find(free).unwrap_or(order[0]);
        if let Some(taken) = taken.get_mut(line) {
            taken.push(own);
        }
        let off = Exact::ratio(LINES[line], 10).unwrap_or(Exact::ONE);
        out.shapes.push(Shape::Text {
            at: at(&middle, &off)?,
            size: size.clone(),
            anchor: Anchor::Middle,
            turned: chain.along == Along::Upright,
            text,
        });
    }
    Ok(())
}

/// A stretch of a string between two ticks, with its figure.
struct Piece<'a> {
    from: &'a Exact,
    to: &'a Exact,
    inches: &'a Exact,
    text: String,
}

/// The stretches of a string. One too short for two ticks, under half a millimeter on paper, has its figure beside that of the stretch before it.
fn pieces<'a>(chain: &Chain<'a>) -> Result<Vec<Piece<'a>>, NumError> {
    let half = Exact::ratio(1, 2).unwrap_or(Exact::ONE);
    let mut out: Vec<Piece<'a>> = Vec::new();
    for (ends, inches) in chain.cuts.windows(2).zip(chain.sizes) {
        let [from, to] = ends else { continue };
        match out.last_mut() {
            Some(last) if to.sub(from)?.abs() < half => {
                last.to = to;
                last.text.push_str(&format!(" + {}", figure(inches)));
            }
            _ => out.push(Piece {
                from,
                to,
                inches,
                text: figure_with_rest(inches, chain.lite),
            }),
        }
    }
    Ok(out)
}

/// A size; that of a lite which holds the rest of the daylight with the rest by itself.
fn figure_with_rest(inches: &Exact, lite: Option<&Exact>) -> String {
    let most = Exact::ratio(1, 4).unwrap_or(Exact::ONE);
    let rest = lite.and_then(|lite| Some((lite, inches.sub(lite).ok()?)));
    match rest.filter(|(_, rest)| rest.signum() > 0 && *rest <= most) {
        Some((lite, rest)) => format!("{} + {}", figure(lite), figure(&rest)),
        None => figure(inches),
    }
}

/// Inches as they are read, 10 7/8; what was measured in whole millimeters as it was measured, 975 mm.
pub(super) fn figure(inches: &Exact) -> String {
    let millimeters = || {
        let mm = inches.mul(&Exact::ratio(127, 5)?).ok()?;
        Some(format!("{} mm", mm.to_i64()?))
    };
    inches
        .to_mixed(64)
        .or_else(millimeters)
        .unwrap_or_else(|| inches.to_decimal(3).0)
}
