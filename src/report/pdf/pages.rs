//! Laid-out pages as data: what is where, in whole micrometers, before any file is written.

use super::faces::{Face, Lacking};

/// Micrometers.
pub type Um = i64;

/// A millimeter.
pub const MM: Um = 1000;

/// The sheet a paper is printed on. Both hold the same pages: what is laid out fits the smaller of each side.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Sheet {
    /// US letter, 215.9 × 279.4 mm.
    Letter,
    /// A4, 210 × 297 mm.
    A4,
}

/// How a page lies.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Format {
    /// The short side on top.
    Upright,
    /// The long side on top, which is the filing edge, for tables and drawings wider than an upright page.
    Turned,
    /// Two sheets side by side (tabloid or A3), for drawings larger than a page.
    Double,
}

impl Format {
    /// Width and height of what may be printed on, the same for letter and A4.
    pub fn net(self) -> (Um, Um) {
        match self {
            Format::Upright => (178 * MM, 252 * MM),
            Format::Turned => (252 * MM, 178 * MM),
            Format::Double => (388 * MM, 247 * MM),
        }
    }

    /// Width and height of the page.
    pub fn page(self, sheet: Sheet) -> (Um, Um) {
        let (short, long) = match sheet {
            Sheet::Letter => (215_900, 279_400),
            Sheet::A4 => (210_000, 297_000),
        };
        match self {
            Format::Upright => (short, long),
            Format::Turned => (long, short),
            Format::Double => (2 * short, long),
        }
    }

    /// Where the upper left corner of what may be printed on lies on the page: 20 mm from the filing edge, and in the middle of what
    /// is left the other way, 12 mm or more from every edge.
    pub fn corner(self, sheet: Sheet) -> (Um, Um) {
        let ((page_w, page_h), (w, h)) = (self.page(sheet), self.net());
        match self {
            Format::Upright | Format::Double => (20 * MM, (page_h - h) * 12 / 27),
            Format::Turned => ((page_w - w) / 2, 20 * MM),
        }
    }
}

/// A paper laid out.
#[derive(Debug, Clone)]
pub struct Laid {
    /// Its pages.
    pub pages: Vec<Page>,
    /// What each part of the paper is, in the order of reading; the `part` of a [`Role`] counts in it.
    pub parts: Vec<Part>,
    /// Signs that were printed as codes.
    pub lacking: Lacking,
    /// What could not be placed, in sentences.
    pub told: Vec<String>,
}

/// A page.
#[derive(Debug, Clone)]
pub struct Page {
    /// How it lies.
    pub format: Format,
    /// What is on it, from back to front.
    pub placed: Vec<Placed>,
}

/// Something on a page. Places count from the upper left corner of what may be printed on; y grows downward.
#[derive(Debug, Clone)]
pub struct Placed {
    /// From the left.
    pub x: Um,
    /// From above; of a text, its base line.
    pub y: Um,
    /// What it is.
    pub what: What,
    /// What it belongs to.
    pub role: Role,
}

/// What is drawn.
#[derive(Debug, Clone)]
pub enum What {
    /// A line of text.
    Text {
        /// The text; every sign is one of the face.
        text: String,
        /// The face.
        face: Face,
        /// Height of its capital letters.
        capital: Um,
        /// Its width.
        width: Um,
    },
    /// A straight line.
    Rule {
        /// How far it goes to the right.
        right: Um,
        /// How far it goes down.
        down: Um,
        /// Its weight.
        weight: Um,
    },
    /// An open box.
    Frame {
        /// Its width.
        width: Um,
        /// Its height.
        height: Um,
        /// Weight of its lines.
        weight: Um,
    },
    /// A drawing of the paper.
    Drawing {
        /// Which of its blocks.
        block: usize,
        /// Its width.
        width: Um,
        /// Its height.
        height: Um,
    },
    /// A photograph by its place among the blocks of the paper.
    Photograph {
        /// Which of its blocks.
        block: usize,
        /// Its width.
        width: Um,
        /// Its height.
        height: Um,
    },
}

/// What something on a page belongs to, for readers who do not see it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Role {
    /// Repeats on pages or separates: left out when the paper is read aloud.
    Furniture,
    /// Of a part of the paper.
    Of {
        /// Which.
        part: usize,
        /// Which piece of it.
        piece: Piece,
    },
}

/// A piece of a part of a paper.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Piece {
    /// All of it.
    Whole,
    /// The title of a table, the caption of a drawing.
    Caption,
    /// The heading of a column.
    Head(usize),
    /// A cell, by row and column.
    Cell(usize, usize),
}

/// A part of a paper as it is read aloud.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Part {
    /// The title.
    Title(String),
    /// A heading.
    Heading(String),
    /// A paragraph.
    Text,
    /// A table with so many columns; the rows that are headings of groups or sums begin with a heading cell.
    Table {
        /// Its title.
        title: String,
        /// How many columns.
        columns: usize,
        /// Rows whose first cell heads them: groups, which reach over all columns, and sums.
        headed: Vec<(usize, bool)>,
    },
    /// A drawing, and what it shows in words.
    Figure(String),
}
