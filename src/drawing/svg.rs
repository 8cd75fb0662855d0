//! A drawing as SVG, sized in millimeters.

use super::{Anchor, Drawing, Fill, Point, Shape, Stroke};
use crate::defuse::html;
use crate::number::{Exact, Rounding};
use std::fmt::Write as _;

/// Height of a capital letter of the usual sans-serif faces, as hundredths of the font's size.
const CAPITAL: i64 = 72;

/// The drawing as a complete SVG document. The same drawing gives the same bytes.
pub fn svg(drawing: &Drawing) -> String {
    element(drawing, " xmlns=\"http://www.w3.org/2000/svg\"")
}

/// The drawing as an element of an HTML page.
pub fn inline_svg(drawing: &Drawing) -> String {
    element(drawing, "")
}

fn element(drawing: &Drawing, namespace: &str) -> String {
    let (width, height) = (mm(&drawing.width), mm(&drawing.height));
    let mut out = format!(
        "<svg{namespace} width=\"{width}mm\" height=\"{height}mm\" viewBox=\"0 0 {width} {height}\" \
         role=\"img\" font-family=\"sans-serif\" stroke-linejoin=\"miter\">\n<title>{}</title>\n{PATTERNS}",
        html(&drawing.title)
    );
    for shape in &drawing.shapes {
        shape_svg(shape, &mut out);
    }
    out.push_str("</svg>\n");
    out
}

const PATTERNS: &str = "<defs>\
<pattern id=\"hatched\" width=\"1.5\" height=\"1.5\" patternUnits=\"userSpaceOnUse\" patternTransform=\"rotate(45)\">\
<path d=\"M0 0V1.5\" stroke=\"black\" stroke-width=\"0.36\"/></pattern>\
<pattern id=\"crossed\" width=\"1.5\" height=\"1.5\" patternUnits=\"userSpaceOnUse\" patternTransform=\"rotate(45)\">\
<path d=\"M0 0V1.5M0 0H1.5\" stroke=\"black\" stroke-width=\"0.36\"/></pattern></defs>\n";

fn shape_svg(shape: &Shape, out: &mut String) {
    // Writing to a string cannot fail.
    let _ = match shape {
        Shape::Line { points, stroke } => writeln!(
            out,
            "<polyline points=\"{}\" fill=\"none\" {}/>",
            corners(points),
            stroked(*stroke)
        ),
        Shape::Outline {
            points,
            stroke,
            fill,
        } => writeln!(
            out,
            "<polygon points=\"{}\" fill=\"{}\" {}/>",
            corners(points),
            filled(*fill),
            stroked(*stroke)
        ),
        Shape::Arc {
            from,
            to,
            radius,
            long,
            stroke,
        } => writeln!(
            out,
            "<path d=\"M{} {}A{r} {r} 0 {} 1 {} {}\" fill=\"none\" {}/>",
            mm(&from.x),
            mm(&from.y),
            u8::from(*long),
            mm(&to.x),
            mm(&to.y),
            stroked(*stroke),
            r = mm(radius),
        ),
        Shape::Text {
            at,
            size,
            anchor,
            turned,
            text,
        } => {
            let font = Exact::ratio(100, CAPITAL)
                .and_then(|scale| size.mul(&scale).ok())
                .unwrap_or_else(|| size.clone());
            let anchor = match anchor {
                Anchor::Start => "start",
                Anchor::Middle => "middle",
                Anchor::End => "end",
            };
            writeln!(
                out,
                "<text x=\"{}\" y=\"{}\"{} font-size=\"{}\" text-anchor=\"{anchor}\">{}</text>",
                mm(&at.x),
                mm(&at.y),
                match turned {
                    true => format!(" transform=\"rotate(-90 {} {})\"", mm(&at.x), mm(&at.y)),
                    false => String::new(),
                },
                mm(&font),
                html(text)
            )
        }
    };
}

fn corners(points: &[Point]) -> String {
    let each: Vec<String> = points
        .iter()
        .map(|p| format!("{},{}", mm(&p.x), mm(&p.y)))
        .collect();
    each.join(" ")
}

fn stroked(stroke: Stroke) -> String {
    let dash = match stroke {
        Stroke::Dashed => " stroke-dasharray=\"1.5 1\"",
        Stroke::None => return "stroke=\"none\"".to_owned(),
        Stroke::Thin | Stroke::Medium | Stroke::Thick => "",
    };
    format!(
        "stroke=\"black\" stroke-width=\"0.{:02}\"{dash}",
        stroke.hundredths()
    )
}

fn filled(fill: Fill) -> &'static str {
    match fill {
        Fill::Open => "none",
        Fill::Paper => "white",
        Fill::Gray => "#d9d9d9",
        Fill::Solid => "black",
        Fill::Hatched => "url(#hatched)",
        Fill::Crossed => "url(#crossed)",
    }
}

/// Millimeters with at most two decimals.
fn mm(value: &Exact) -> String {
    let step = Exact::ratio(1, 100).unwrap_or(Exact::ONE);
    let rounded = value
        .round_to(&step, Rounding::HalfUp)
        .unwrap_or(Exact::ZERO);
    rounded.to_decimal(2).0
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn coordinates_are_rounded_once_and_text_is_data() {
        let third = Exact::ratio(10, 3).expect("a ratio");
        let mut drawing = Drawing::new("A <b> & \u{7}", Exact::from(20), Exact::from(10));
        drawing.rect(
            &Point::new(third.clone(), Exact::ZERO),
            &third,
            &Exact::from(5),
            Stroke::Medium,
            Fill::Hatched,
        );
        drawing.text(
            Point::new(Exact::ONE, Exact::ONE),
            Exact::from(2),
            Anchor::End,
            "\"<script>\"",
        );
        let text = svg(&drawing);
        assert!(
            text.contains("points=\"3.33,0 6.67,0 6.67,5 3.33,5\""),
            "{text}"
        );
        assert!(
            text.contains("<title>A &lt;b&gt; &amp; \u{fffd}</title>"),
            "{text}"
        );
        assert!(text.contains("&quot;&lt;script&gt;&quot;"), "{text}");
    }
}
