//! Bar and line charts. Every bar and point carries its value as text, and fills and dashes tell series apart without color.
//!
//! Values may be in any unit, one for a whole chart; the caller writes them as text.

use super::{Anchor, Drawing, Fill, Point, Shape, Stroke};
use crate::number::{Exact, NumError};

/// One piece of a bar.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Piece {
    /// Where it begins on the scale.
    pub from: Exact,
    /// Where it ends; before `from` for what lowers a sum.
    pub to: Exact,
    /// Its place in [`Bars::legend`].
    pub series: usize,
}

/// A bar with its name on the left and its value on the right.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Bar {
    /// Name.
    pub name: String,
    /// Pieces, from left to right.
    pub pieces: Vec<Piece>,
    /// Value as it is printed.
    pub value: String,
}

/// A chart of horizontal bars.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Bars {
    /// What it shows.
    pub title: String,
    /// Names of the series; fills follow their order, at most [`FILLS`] of them.
    pub legend: Vec<String>,
    /// From top to bottom.
    pub bars: Vec<Bar>,
}

/// How many series can be told apart.
pub(crate) const FILLS: usize = 5;

const FILL: [Fill; FILLS] = [
    Fill::Gray,
    Fill::Hatched,
    Fill::Paper,
    Fill::Crossed,
    Fill::Solid,
];

/// Millimeters: the net width of a page, of the names, of the values, and the heights of a row, a bar and a text.
const WIDTH: i64 = 178;
const NAMES: i64 = 52;
const VALUES: i64 = 30;
const ROW: i64 = 7;
const BAR: i64 = 4;

/// A chart in words, for readers who do not see it: its title, and each name with its value.
fn told<'a>(title: &str, each: impl Iterator<Item = (&'a str, &'a str)>) -> String {
    let values: Vec<String> = each
        .map(|(name, value)| format!("{name} {value}"))
        .collect();
    format!("{title}: {}", values.join("; "))
}

impl Bar {
    /// A bar whose pieces follow one another from zero.
    ///
    /// # Errors
    ///
    /// When a sum has too many digits.
    pub(crate) fn stacked(
        name: impl Into<String>,
        parts: &[Exact],
        value: impl Into<String>,
    ) -> Result<Bar, NumError> {
        let mut pieces = Vec::with_capacity(parts.len());
        let mut end = Exact::ZERO;
        for (series, part) in parts.iter().enumerate() {
            let to = end.add(part)?;
            pieces.push(Piece {
                from: end,
                to: to.clone(),
                series,
            });
            end = to;
        }
        Ok(Bar {
            name: name.into(),
            pieces,
            value: value.into(),
        })
    }
}

/// The chart as shapes, 178 mm wide, with the zero line of its scale.
///
/// # Errors
///
/// When a place has too many digits.
pub(crate) fn bars(chart: &Bars) -> Result<Drawing, NumError> {
    let legend = i64::from(chart.legend.len() > 1) * 8;
    let rows = i64::try_from(chart.bars.len()).unwrap_or(i64::MAX / 100);
    let top = 10 + legend;
    let mut drawing = Drawing::new(
        told(
            &chart.title,
            chart.bars.iter().map(|b| (&*b.name, &*b.value)),
        ),
        mm(WIDTH),
        mm(top + rows * ROW + 2),
    );
    drawing.text(
        Point::new(mm(0), mm(4)),
        size(35),
        Anchor::Start,
        chart.title.clone(),
    );
    if legend > 0 {
        draw_legend(&mut drawing, &chart.legend);
    }
    let ends = chart
        .bars
        .iter()
        .flat_map(|b| &b.pieces)
        .flat_map(|p| [&p.from, &p.to]);
    let scale = Scale::over(ends, NAMES + 2, WIDTH - VALUES - 2)?;
    for (at, bar) in (0_i64..).zip(&chart.bars) {
        let upper = top + at * ROW;
        let base = mm(upper + BAR);
        drawing.text(
            Point::new(mm(0), base.clone()),
            size(25),
            Anchor::Start,
            bar.name.clone(),
        );
        for piece in &bar.pieces {
            let (a, b) = (scale.place(&piece.from)?, scale.place(&piece.to)?);
            let (left, right) = if a <= b { (a, b) } else { (b, a) };
            let width = right.sub(&left)?;
            if !width.is_zero() {
                let fill = FILL
                    .get(piece.series % FILLS)
                    .copied()
                    .unwrap_or(Fill::Open);
                drawing.rect(
                    &Point::new(left, mm(upper)),
                    &width,
                    &mm(BAR),
                    Stroke::Thin,
                    fill,
                );
            }
        }
        drawing.text(
            Point::new(mm(WIDTH), base),
            size(25),
            Anchor::End,
            bar.value.clone(),
        );
    }
    let zero = scale.place(&Exact::ZERO)?;
    drawing.line(
        Point::new(zero.clone(), mm(top - 1)),
        Point::new(zero, mm(top + rows * ROW)),
        Stroke::Medium,
    );
    Ok(drawing)
}

fn draw_legend(drawing: &mut Drawing, names: &[String]) {
    let each = WIDTH / i64::try_from(names.len()).unwrap_or(1).max(1);
    for ((at, name), fill) in (0_i64..).zip(names).zip(FILL.iter().cycle()) {
        let corner = Point::new(mm(at * each), mm(8));
        drawing.rect(&corner, &mm(5), &mm(BAR), Stroke::Thin, *fill);
        drawing.text(
            Point::new(mm(at * each + 7), mm(8 + BAR)),
            size(25),
            Anchor::Start,
            name.clone(),
        );
    }
}

/// A line of a chart over years or other steps.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Series {
    /// Name, printed at its end.
    pub name: String,
    /// Its value at each step.
    pub values: Vec<Exact>,
    /// The last value as it is printed.
    pub last: String,
}

/// Lines over the same steps.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Lines {
    /// What it shows.
    pub title: String,
    /// Name of each step, printed below where there is room.
    pub steps: Vec<String>,
    /// At most four lines can be told apart.
    pub series: Vec<Series>,
}

/// Height of the field of a line chart, in millimeters.
const FIELD: i64 = 70;

/// The chart as shapes, 178 mm wide.
///
/// # Errors
///
/// When a place has too many digits.
pub(crate) fn lines(chart: &Lines) -> Result<Drawing, NumError> {
    const STROKES: [Stroke; 4] = [Stroke::Thick, Stroke::Dashed, Stroke::Medium, Stroke::Thin];
    let (left, right, top) = (4, WIDTH - 60, 10);
    let mut drawing = Drawing::new(
        told(
            &chart.title,
            chart.series.iter().map(|s| (&*s.name, &*s.last)),
        ),
        mm(WIDTH),
        mm(top + FIELD + 10),
    );
    drawing.text(
        Point::new(mm(0), mm(4)),
        size(35),
        Anchor::Start,
        chart.title.clone(),
    );
    let values = chart.series.iter().flat_map(|s| &s.values);
    let up = Scale::over(values, 0, FIELD)?;
    let last = (crate::ids::count(chart.steps.len()) - 1).max(1);
    let across = |at: i64| {
        let share = Exact::ratio(at, last).unwrap_or(Exact::ZERO);
        mm(left).add(&share.mul(&mm(right - left))?)
    };
    let down = |value: &Exact| mm(top + FIELD).sub(&up.place(value)?);
    let zero = down(&Exact::ZERO)?;
    drawing.line(
        Point::new(mm(left), zero.clone()),
        Point::new(mm(right), zero),
        Stroke::Thin,
    );
    let every = (last / 10).max(1);
    for (at, name) in (0_i64..)
        .zip(&chart.steps)
        .filter(|(at, _)| at % every == 0)
    {
        drawing.text(
            Point::new(across(at)?, mm(top + FIELD + 5)),
            size(25),
            Anchor::Middle,
            name.clone(),
        );
    }
    let mut ends: Vec<(Exact, String)> = Vec::new();
    for (series, stroke) in chart.series.iter().zip(STROKES.iter().cycle()) {
        let points = (0_i64..)
            .zip(&series.values)
            .map(|(at, v)| Ok(Point::new(across(at)?, down(v)?)));
        let points = points.collect::<Result<Vec<_>, NumError>>()?;
        if let Some(end) = points.last() {
            ends.push((end.y.clone(), format!("{}: {}", series.name, series.last)));
        }
        drawing.shapes.push(Shape::Line {
            points,
            stroke: *stroke,
        });
    }
    // Names at the ends of lines that meet would print over one another: each keeps 4 mm below the one before it.
    ends.sort();
    let mut free = mm(0);
    for (y, text) in ends {
        let at = if y < free { free } else { y };
        free = at.add(&mm(4))?;
        drawing.text(Point::new(mm(right + 2), at), size(25), Anchor::Start, text);
    }
    Ok(drawing)
}

/// Values to millimeters along one axis; zero is always on it.
struct Scale {
    least: Exact,
    start: Exact,
    each: Exact,
}

impl Scale {
    fn over<'a>(
        values: impl Iterator<Item = &'a Exact>,
        start: i64,
        end: i64,
    ) -> Result<Scale, NumError> {
        let (mut least, mut most) = (Exact::ZERO, Exact::ZERO);
        for value in values {
            if *value < least {
                least = value.clone();
            }
            if *value > most {
                most = value.clone();
            }
        }
        let span = most.sub(&least)?;
        let each = if span.is_zero() {
            Exact::ZERO
        } else {
            mm(end - start).div(&span)?
        };
        Ok(Scale {
            least,
            start: mm(start),
            each,
        })
    }

    fn place(&self, value: &Exact) -> Result<Exact, NumError> {
        self.start.add(&value.sub(&self.least)?.mul(&self.each)?)
    }
}

fn mm(whole: i64) -> Exact {
    Exact::int(whole)
}

/// Tenths of a millimeter.
fn size(tenths: i64) -> Exact {
    Exact::ratio(tenths, 10).unwrap_or(Exact::ONE)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn ends(drawing: &Drawing) -> (Exact, Exact) {
        let mut most = (Exact::ZERO, Exact::ZERO);
        for shape in &drawing.shapes {
            let points: Vec<&Point> = match shape {
                Shape::Line { points, .. } | Shape::Outline { points, .. } => {
                    points.iter().collect()
                }
                Shape::Arc { from, to, .. } => vec![from, to],
                Shape::Text { at, .. } => vec![at],
            };
            for point in points {
                assert!(
                    point.x >= Exact::ZERO && point.y >= Exact::ZERO,
                    "{shape:?}"
                );
                most = (most.0.max(point.x.clone()), most.1.max(point.y.clone()));
            }
        }
        most
    }

    #[test]
    fn bars_are_as_long_as_their_values_and_stay_on_the_paper() {
        let int = Exact::int;
        let chart = Bars {
            title: "Cost by phase".to_owned(),
            legend: vec!["labor".to_owned(), "materials".to_owned()],
            bars: vec![
                Bar::stacked("Glazing", &[int(30), int(10)], "40.00").expect("adds"),
                Bar::stacked("Painting", &[int(20), int(0)], "20.00").expect("adds"),
                Bar::stacked("Credit", &[int(-10)], "-10.00").expect("adds"),
            ],
        };
        let drawing = bars(&chart).expect("draws");
        let widths: Vec<Exact> = drawing
            .shapes
            .iter()
            .filter_map(|s| match s {
                Shape::Outline { points, .. } => points[1].x.sub(&points[0].x).ok(),
                Shape::Line { .. } | Shape::Arc { .. } | Shape::Text { .. } => None,
            })
            .skip(2)
            .collect();
        assert_eq!(widths.len(), 4, "a piece of no length is not drawn");
        assert_eq!(widths[0], widths[1].mul(&int(3)).expect("short"));
        assert_eq!(widths[2], widths[1].mul(&int(2)).expect("short"));
        assert_eq!(widths[3], widths[1]);
        let (x, y) = ends(&drawing);
        assert!(x <= drawing.width && y <= drawing.height);
    }

    #[test]
    fn lines_name_their_ends_apart_and_stay_on_the_paper() {
        let series = |name: &str, to: i64| Series {
            name: name.to_owned(),
            values: (0..=30).map(|y| Exact::int(1000 + y * to)).collect(),
            last: "1.00".to_owned(),
        };
        let chart = Lines {
            title: "Cost over the years".to_owned(),
            steps: (2024..=2054).map(|y| y.to_string()).collect(),
            series: vec![
                series("repaired", 40),
                series("replaced", 41),
                series("as decided", 40),
            ],
        };
        let drawing = lines(&chart).expect("draws");
        let (x, y) = ends(&drawing);
        assert!(x <= drawing.width && y <= drawing.height);
        let mut names: Vec<&Exact> = drawing
            .shapes
            .iter()
            .filter_map(|s| match s {
                Shape::Text { at, text, .. } if text.contains(':') => Some(&at.y),
                Shape::Text { .. }
                | Shape::Line { .. }
                | Shape::Outline { .. }
                | Shape::Arc { .. } => None,
            })
            .collect();
        names.sort();
        assert!(
            names
                .windows(2)
                .all(|w| w[1].sub(w[0]).expect("short") >= Exact::int(4))
        );
    }

    #[test]
    fn a_chart_of_nothing_is_drawn() {
        let empty = Bars {
            title: "Nothing".to_owned(),
            legend: vec![],
            bars: vec![],
        };
        assert!(bars(&empty).is_ok());
        let empty = Lines {
            title: "Nothing".to_owned(),
            steps: vec![],
            series: vec![],
        };
        assert!(lines(&empty).is_ok());
    }
}
