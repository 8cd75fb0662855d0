//! Drawings as shapes: what is drawn, in exact millimeters on paper, before any file format.
//!
//! The writer rounds each coordinate once, to 1/100 mm. Drawings are black and white: what a shape means is said by hatching,
//! weight and words, so a copy without color loses nothing. The origin is the upper left corner; y grows downward.
//!
//! ```
//! use ovolo::drawing::{Drawing, Fill, Point, Stroke, svg};
//! use ovolo::number::Exact;
//!
//! let mm = Exact::int;
//! let mut pane = Drawing::new("A pane", mm(40), mm(60));
//! pane.rect(&Point::new(mm(5), mm(5)), &mm(30), &mm(50), Stroke::Thin, Fill::Open);
//! assert!(svg(&pane).contains("<title>A pane</title>"));
//! ```

// A match over kinds lists them all, so that a new kind is noticed everywhere, and no conversion fails silently.
#![warn(
    clippy::wildcard_enum_match_arm,
    clippy::match_wildcard_for_single_variants
)]
#![warn(clippy::as_conversions)]

pub(crate) mod charts;
mod dims;
pub(crate) mod elevation;
mod head;
mod marks;
mod svg;
pub(crate) mod wall;

pub use head::Head;
pub use marks::Mark;
pub use svg::{inline_svg, svg};

use crate::number::Exact;

/// A point on paper, in millimeters.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Point {
    /// From the left edge.
    pub x: Exact,
    /// From the upper edge.
    pub y: Exact,
}

impl Point {
    /// A point.
    pub fn new(x: Exact, y: Exact) -> Point {
        Point { x, y }
    }
}

/// Weight and pattern of a line.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Stroke {
    /// None: only what the outline holds is drawn.
    None,
    /// 0.25 mm, the least anywhere: sight lines, bars, dimensions.
    Thin,
    /// 0.50 mm: outer edges.
    Medium,
    /// 0.70 mm.
    Thick,
    /// 0.25 mm, dashed: what was not measured, or lies behind.
    Dashed,
}

impl Stroke {
    /// Hundredths of a millimeter.
    pub fn hundredths(self) -> u32 {
        match self {
            Stroke::None => 0,
            Stroke::Thin => 25,
            Stroke::Medium => 50,
            Stroke::Thick => 70,
            Stroke::Dashed => 25,
        }
    }
}

/// What the inside of an outline holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Fill {
    /// Nothing: what lies below shows.
    Open,
    /// The color of the paper: what lies below is covered.
    Paper,
    /// A light gray, with an outline wherever it means something.
    Gray,
    /// Black.
    Solid,
    /// Slanted lines, 1.5 mm apart.
    Hatched,
    /// Slanted lines both ways.
    Crossed,
}

/// Where a text is beside its point.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Anchor {
    /// Begins there.
    Start,
    /// Is centered there.
    Middle,
    /// Ends there.
    End,
}

/// A shape.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Shape {
    /// A straight line through points.
    Line {
        /// Corners in order.
        points: Vec<Point>,
        /// How it is drawn.
        stroke: Stroke,
    },
    /// A closed outline.
    Outline {
        /// Corners in order.
        points: Vec<Point>,
        /// How the outline is drawn.
        stroke: Stroke,
        /// What it holds.
        fill: Fill,
    },
    /// A circular arc.
    Arc {
        /// From here, clockwise as seen on paper.
        from: Point,
        /// To here.
        to: Point,
        /// Radius in millimeters.
        radius: Exact,
        /// Whether it is the longer way round.
        long: bool,
        /// How it is drawn.
        stroke: Stroke,
    },
    /// A line of text.
    Text {
        /// Its base line begins, is centered or ends here.
        at: Point,
        /// Height of a capital letter in millimeters.
        size: Exact,
        /// Which.
        anchor: Anchor,
        /// Read from the right: turned a quarter to the left around its point.
        turned: bool,
        /// The text.
        text: String,
    },
}

/// A drawing of a given size.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Drawing {
    /// What it shows, for readers who do not see it.
    pub title: String,
    /// Width in millimeters.
    pub width: Exact,
    /// Height in millimeters.
    pub height: Exact,
    /// Shapes from back to front.
    pub shapes: Vec<Shape>,
}

impl Drawing {
    /// An empty drawing.
    pub fn new(title: impl Into<String>, width: Exact, height: Exact) -> Drawing {
        Drawing {
            title: title.into(),
            width,
            height,
            shapes: Vec::new(),
        }
    }

    /// Adds a rectangle by its upper left corner and its size.
    pub fn rect(&mut self, at: &Point, width: &Exact, height: &Exact, stroke: Stroke, fill: Fill) {
        let right = at.x.add(width).unwrap_or_else(|_| at.x.clone());
        let lower = at.y.add(height).unwrap_or_else(|_| at.y.clone());
        self.shapes.push(Shape::Outline {
            points: vec![
                at.clone(),
                Point::new(right.clone(), at.y.clone()),
                Point::new(right, lower.clone()),
                Point::new(at.x.clone(), lower),
            ],
            stroke,
            fill,
        });
    }

    /// Adds a straight line.
    pub fn line(&mut self, from: Point, to: Point, stroke: Stroke) {
        self.shapes.push(Shape::Line {
            points: vec![from, to],
            stroke,
        });
    }

    /// Adds a text with capital letters of a height in millimeters.
    pub fn text(&mut self, at: Point, size: Exact, anchor: Anchor, text: impl Into<String>) {
        self.shapes.push(Shape::Text {
            at,
            size,
            anchor,
            turned: false,
            text: text.into(),
        });
    }
}
