//! Drawings on a PDF page.

use super::faces::Face;
use super::layout::micrometers;
use super::pages::Um;
use super::write::{Pen, points};
use crate::drawing::{Anchor, Drawing, Fill, Point, Shape, Stroke};
use krilla::geom::{Path, PathBuilder, Transform};
use krilla::paint::FillRule;

/// From one line of a hatch to the next, straight across.
const PITCH: Um = 1500;
/// The same along the edge of the drawing: pitch × √2.
const STEP: Um = 2121;
/// Weight of a hatch's lines.
const HATCH: Um = 250;

/// Draws a drawing whose upper left corner is at a place of the page.
pub(super) fn draw(pen: &mut Pen<'_, '_>, drawing: &Drawing, corner: (Um, Um)) {
    for shape in &drawing.shapes {
        match shape {
            Shape::Line { points, stroke } => {
                if let Some(path) = path(points, corner, false) {
                    pen.stroke(&path, weight(*stroke), dashed(*stroke));
                }
            }
            Shape::Outline {
                points,
                stroke,
                fill,
            } => outline(pen, points, *stroke, *fill, corner),
            Shape::Arc {
                from,
                to,
                radius,
                long,
                stroke,
            } => {
                let ends = (place(from, corner), place(to, corner));
                if let Some(path) = arc(ends, micrometers(radius), *long) {
                    pen.stroke(&path, weight(*stroke), dashed(*stroke));
                }
            }
            Shape::Text {
                at,
                size,
                anchor,
                turned,
                text,
            } => {
                let capital = micrometers(size);
                let text = super::faces::Lacking::default()
                    .printable(text)
                    .replace('\n', " ");
                let width = Face::Regular.width(&text, capital);
                let (x, y) = place(at, corner);
                let begin = match anchor {
                    Anchor::Start => x,
                    Anchor::Middle => x - width / 2,
                    Anchor::End => x - width,
                };
                if *turned {
                    // A quarter to the left around its point: (x, y) goes to (a + y - b, b - x + a).
                    let (a, b) = (points(x), points(y));
                    let turn = Transform::from_row(0.0, -1.0, 1.0, 0.0, a - b, a + b);
                    pen.surface.push_transform(&turn);
                    pen.text(&text, Face::Regular, capital, (begin, y));
                    pen.surface.pop();
                } else {
                    pen.text(&text, Face::Regular, capital, (begin, y));
                }
            }
        }
    }
}

fn outline(pen: &mut Pen<'_, '_>, corners: &[Point], stroke: Stroke, fill: Fill, corner: (Um, Um)) {
    let Some(path) = path(corners, corner, true) else {
        return;
    };
    match fill {
        Fill::Open => {}
        Fill::Paper => pen.fill(&path, 255),
        Fill::Gray => pen.fill(&path, 217),
        Fill::Solid => pen.fill(&path, 0),
        Fill::Hatched => hatch(pen, &path, corners, corner, false),
        Fill::Crossed => hatch(pen, &path, corners, corner, true),
    }
    if stroke != Stroke::None {
        pen.stroke(&path, weight(stroke), dashed(stroke));
    }
}

fn hatch(pen: &mut Pen<'_, '_>, inside: &Path, corners: &[Point], corner: (Um, Um), both: bool) {
    let places: Vec<(Um, Um)> = corners.iter().map(|p| place(p, corner)).collect();
    let xs = || places.iter().map(|p| p.0);
    let ys = || places.iter().map(|p| p.1);
    let (Some(left), Some(right), Some(top), Some(bottom)) =
        (xs().min(), xs().max(), ys().min(), ys().max())
    else {
        return;
    };
    // A drawing larger than a page was refused before; this bounds the work all the same.
    if right - left > 1_000 * PITCH || bottom - top > 1_000 * PITCH {
        return;
    }
    let mut lines = PathBuilder::new();
    let height = bottom - top;
    let mut line = |x1: Um, y1: Um, x2: Um, y2: Um| {
        lines.move_to(points(x1), points(y1));
        lines.line_to(points(x2), points(y2));
    };
    // Every hatch of a drawing lies on one net, so that pieces side by side read as one.
    let mut sum = ((left + top - corner.0 - corner.1) / STEP) * STEP + corner.0 + corner.1;
    while sum <= right + bottom {
        line(sum - top, top, sum - bottom, bottom);
        sum += STEP;
    }
    if both {
        let mut difference =
            ((left - bottom - corner.0 + corner.1) / STEP) * STEP + corner.0 - corner.1;
        while difference <= right - top {
            line(difference + top, top, difference + top + height, bottom);
            difference += STEP;
        }
    }
    if let Some(lines) = lines.finish() {
        pen.surface.push_clip_path(inside, &FillRule::NonZero);
        pen.stroke(&lines, HATCH, false);
        pen.surface.pop();
    }
}

fn weight(stroke: Stroke) -> Um {
    Um::from(stroke.hundredths()) * 10
}

fn dashed(stroke: Stroke) -> bool {
    stroke == Stroke::Dashed
}

fn place(point: &Point, corner: (Um, Um)) -> (Um, Um) {
    let add = |a: Um, b: Um| a.saturating_add(b);
    (
        add(micrometers(&point.x), corner.0),
        add(micrometers(&point.y), corner.1),
    )
}

fn path(corners: &[Point], corner: (Um, Um), closed: bool) -> Option<Path> {
    let mut builder = PathBuilder::new();
    for (at, point) in corners.iter().enumerate() {
        let (x, y) = place(point, corner);
        match at {
            0 => builder.move_to(points(x), points(y)),
            _ => builder.line_to(points(x), points(y)),
        }
    }
    if closed {
        builder.close();
    }
    builder.finish()
}

#[expect(
    clippy::as_conversions,
    reason = "a float that is no i64 gives the nearest one"
)]
fn nearest(at: f64) -> Um {
    at.round() as Um
}

#[expect(
    clippy::as_conversions,
    reason = "a paper is far smaller than the 2^53 micrometers that a float holds"
)]
fn float(um: Um) -> f64 {
    um as f64
}

/// A circular arc clockwise from one place to another, as curves of less than a quarter turn each.
fn arc(((x0, y0), (x1, y1)): ((Um, Um), (Um, Um)), radius: Um, long: bool) -> Option<Path> {
    let (ax, ay, bx, by) = (float(x0), float(y0), float(x1), float(y1));
    let (dx, dy) = (bx - ax, by - ay);
    let chord = (dx * dx + dy * dy).sqrt();
    if chord == 0.0 {
        return None;
    }
    // A radius too small to reach is taken as half the way, as SVG does.
    let r = float(radius).max(chord / 2.0);
    let away = (r * r - chord * chord / 4.0).max(0.0).sqrt() / chord;
    let away = if long { -away } else { away };
    let center = ((ax + bx) / 2.0 - dy * away, (ay + by) / 2.0 + dx * away);
    let from = ((ax - center.0) / r, (ay - center.1) / r);
    let to = ((bx - center.0) / r, (by - center.1) / r);
    let middle = middle(from, to, long);
    let halves = [(from, middle), (middle, to)];
    let quarters = halves.into_iter().flat_map(|(a, b)| {
        let between = self::middle(a, b, false);
        [(a, between), (between, b)]
    });
    let mut builder = PathBuilder::new();
    builder.move_to(points(x0), points(y0));
    for (a, b) in quarters {
        // Handles of the curve: 4/3 · tan of a quarter of the angle, by roots alone, which every machine rounds alike.
        let (cos, sin) = (a.0 * b.0 + a.1 * b.1, a.0 * b.1 - a.1 * b.0);
        let half = sin / (1.0 + cos);
        let handle = 4.0 / 3.0 * half / (1.0 + (1.0 + half * half).sqrt());
        let at = |unit: (f64, f64), along: f64| {
            let x = center.0 + r * (unit.0 - along * unit.1);
            let y = center.1 + r * (unit.1 + along * unit.0);
            (points(nearest(x)), points(nearest(y)))
        };
        let (c1, c2, end) = (at(a, handle), at(b, -handle), at(b, 0.0));
        builder.cubic_to(c1.0, c1.1, c2.0, c2.1, end.0, end.1);
    }
    builder.finish()
}

/// The direction halfway, clockwise, between two of them.
fn middle(a: (f64, f64), b: (f64, f64), long: bool) -> (f64, f64) {
    let (x, y) = (a.0 + b.0, a.1 + b.1);
    let length = (x * x + y * y).sqrt();
    if length < 1e-9 {
        // Half a turn: a quarter turn onward.
        return (-a.1, a.0);
    }
    let sign = if long { -1.0 } else { 1.0 };
    (sign * x / length, sign * y / length)
}
