//! Pages being filled from above.

use super::faces::{Face, Lacking};
use super::numbers::Awaited;
use super::pages::{Format, MM, Page, Part, Piece, Placed, Role, Um, What};
use super::wrap::{self, Type};
use crate::ids::count;

/// Height kept for the head of a page, and for its foot.
pub(super) const HEAD: Um = 12 * MM;
/// See [`HEAD`].
pub(super) const FOOT: Um = 11 * MM;

/// Pages being filled.
pub(super) struct Flow {
    /// Pages so far; the last one is being filled.
    pub(super) pages: Vec<Page>,
    /// Parts so far.
    pub(super) parts: Vec<Part>,
    /// Signs printed as codes so far.
    pub(super) lacking: Lacking,
    /// What could not be placed.
    pub(super) told: Vec<String>,
    /// How far the page is filled.
    pub(super) y: Um,
    /// Whether what comes next begins a page.
    pub(super) breaks: bool,
    /// Pages that begin because a page break is before them.
    pub(super) begun: Vec<usize>,
    /// Whether what is between two page breaks is set closer, to need fewer pages.
    pub(super) tight: bool,
    /// The first part of each block so far, where it has one.
    pub(super) begins: Vec<(usize, usize)>,
    /// Numbers of pages that are not known yet, in the order of their own pages.
    pub(super) awaited: Vec<Awaited>,
}

/// How far a flow had come, with what came after it.
pub(super) struct Stretch {
    pages: Vec<Page>,
    parts: Vec<Part>,
    begins: Vec<(usize, usize)>,
    awaited: Vec<Awaited>,
    begun: Vec<usize>,
    told: Vec<String>,
    lacking: Lacking,
    y: Um,
    breaks: bool,
}

/// How far a flow had come.
pub(super) struct Place {
    pages: usize,
    parts: usize,
    begun: usize,
    told: usize,
    lacking: Lacking,
    y: Um,
    breaks: bool,
}

impl Flow {
    /// No pages yet.
    pub(super) fn new(format: Format) -> Flow {
        let mut flow = Flow {
            pages: Vec::new(),
            parts: Vec::new(),
            lacking: Lacking::default(),
            told: Vec::new(),
            y: 0,
            breaks: false,
            begun: Vec::new(),
            tight: false,
            begins: Vec::new(),
            awaited: Vec::new(),
        };
        flow.new_page(format);
        flow
    }

    /// How far it has come. Nothing is placed on a page begun before it until the flow is put back or goes on for good.
    pub(super) fn here(&self) -> Place {
        Place {
            pages: self.pages.len(),
            parts: self.parts.len(),
            begun: self.begun.len(),
            told: self.told.len(),
            lacking: self.lacking.clone(),
            y: self.y,
            breaks: self.breaks,
        }
    }

    /// Goes back to a place and gives what came after it.
    pub(super) fn take_back(&mut self, place: &Place) -> Stretch {
        let begins = self.begins.partition_point(|(_, part)| *part < place.parts);
        let awaited = self.awaited.partition_point(|a| a.page < place.pages);
        Stretch {
            begins: self.begins.split_off(begins),
            awaited: self.awaited.split_off(awaited),
            pages: self.pages.split_off(place.pages),
            parts: self.parts.split_off(place.parts),
            begun: self.begun.split_off(place.begun),
            told: self.told.split_off(place.told),
            lacking: std::mem::replace(&mut self.lacking, place.lacking.clone()),
            y: std::mem::replace(&mut self.y, place.y),
            breaks: std::mem::replace(&mut self.breaks, place.breaks),
        }
    }

    /// Puts what was taken back where it was.
    pub(super) fn put_back(&mut self, stretch: Stretch) {
        self.pages.extend(stretch.pages);
        self.parts.extend(stretch.parts);
        self.begins.extend(stretch.begins);
        self.awaited.extend(stretch.awaited);
        self.begun.extend(stretch.begun);
        self.told.extend(stretch.told);
        self.lacking = stretch.lacking;
        self.y = stretch.y;
        self.breaks = stretch.breaks;
    }

    /// The type of the titles of tables.
    pub(super) fn title(&self) -> Type {
        match self.tight {
            true => STRONG,
            false => HEADING,
        }
    }

    /// How the page being filled lies.
    pub(super) fn format(&self) -> Format {
        self.pages.last().map_or(Format::Upright, |p| p.format)
    }

    /// Width of the page being filled.
    pub(super) fn width(&self) -> Um {
        self.format().net().0
    }

    /// Where the foot of a page begins.
    pub(super) fn bottom(&self) -> Um {
        self.format().net().1 - FOOT
    }

    /// Height that is left.
    pub(super) fn left(&self) -> Um {
        self.bottom() - self.y
    }

    /// Height between head and foot.
    pub(super) fn whole(&self) -> Um {
        self.bottom() - HEAD
    }

    /// Whether nothing but the head is on the page.
    pub(super) fn is_fresh(&self) -> bool {
        self.y == HEAD
    }

    /// Begins a page.
    pub(super) fn new_page(&mut self, format: Format) {
        self.pages.push(Page {
            format,
            placed: Vec::new(),
        });
        self.y = HEAD;
        if std::mem::take(&mut self.breaks) {
            self.begun.push(self.pages.len() - 1);
        }
    }

    /// Makes room for something of a height that is on a page of a format. What is higher than a page begins one.
    pub(super) fn need(&mut self, format: Format, height: Um) {
        if format != self.format() || self.breaks {
            match self.is_fresh() {
                // Nothing is here yet, so the page itself is turned.
                true => {
                    self.pages.pop();
                    self.new_page(format);
                }
                false => self.new_page(format),
            }
        }
        if height > self.left() && !self.is_fresh() {
            self.new_page(format);
        }
    }

    /// A gap as it is left here.
    pub(super) fn close(&self, height: Um) -> Um {
        if self.tight { height / 2 } else { height }
    }

    /// Leaves a gap, but none at the head of a page.
    pub(super) fn gap(&mut self, height: Um) {
        if !self.is_fresh() {
            self.y += self.close(height);
        }
    }

    /// A part of the paper.
    pub(super) fn part(&mut self, part: Part) -> usize {
        self.parts.push(part);
        self.parts.len() - 1
    }

    /// Places something.
    pub(super) fn place(&mut self, x: Um, y: Um, what: What, role: Role) {
        if let Some(page) = self.pages.last_mut() {
            page.placed.push(Placed { x, y, what, role });
        }
    }

    /// Places a line of text whose upper edge is at a height.
    pub(super) fn line(&mut self, text: &str, of: Type, (x, y): (Um, Um), role: Role) {
        if text.is_empty() {
            return;
        }
        let what = What::Text {
            text: text.to_owned(),
            face: of.face,
            capital: of.capital,
            width: of.width(text),
        };
        self.place(x, y + of.rise(), what, role);
    }

    /// Places a line across.
    pub(super) fn rule(&mut self, x: Um, right: Um, y: Um, weight: Um) {
        let what = What::Rule {
            right,
            down: 0,
            weight,
        };
        self.place(x, y, what, Role::Furniture);
    }

    /// A text over the width of the page, over as many pages as it needs; never a single line of several alone.
    pub(super) fn paragraph(
        &mut self,
        format: Format,
        text: &str,
        of: Type,
        part: usize,
        indent: Um,
    ) {
        let text = self.lacking.printable(text).into_owned();
        let lines = wrap::lines(&text, of, format.net().0 - indent);
        let role = Role::Of {
            part,
            piece: Piece::Whole,
        };
        let pitch = of.pitch();
        let first = count(lines.len().min(2));
        self.need(format, pitch * if lines.len() == 3 { 3 } else { first });
        for (at, line) in lines.iter().enumerate() {
            let after = lines.len() - at;
            // The last two lines stay together.
            let height = if after == 2 && at > 0 {
                2 * pitch
            } else {
                pitch
            };
            self.need(format, height);
            let y = self.y;
            self.line(line, of, (indent, y), role);
            self.y += pitch;
        }
    }

    /// The sentences below a table.
    pub(super) fn notes(&mut self, format: Format, notes: &[String]) {
        for note in notes {
            self.gap(MM);
            let part = self.part(Part::Text);
            self.paragraph(format, note, BODY, part, 0);
        }
        self.gap(2 * MM);
    }

    /// How high a text is.
    pub(super) fn height(&mut self, text: &str, of: Type, width: Um) -> Um {
        let mut unused = Lacking::default();
        let text = unused.printable(text);
        count(wrap::lines(&text, of, width).len()) * of.pitch()
    }
}

/// The type of texts and cells.
pub(super) const BODY: Type = Type {
    face: Face::Regular,
    capital: 2500,
};
/// The type of sums and headings of columns.
pub(super) const STRONG: Type = Type {
    face: Face::Bold,
    capital: 2500,
};
/// The type of cells for a reader at the wall: larger, and still a week of one wing on two pages.
pub(super) const LARGE: Type = Type {
    face: Face::Regular,
    capital: 2800,
};
/// The type of sums and headings of columns for a reader at the wall.
pub(super) const LARGE_STRONG: Type = Type {
    face: Face::Bold,
    capital: 2800,
};
/// The type of headings.
pub(super) const HEADING: Type = Type {
    face: Face::Bold,
    capital: 3500,
};
/// The type of the title.
pub(super) const TITLE: Type = Type {
    face: Face::Bold,
    capital: 5000,
};
