//! Papers as data: what one reader is handed, as a list of blocks that every writer draws.
//!
//! A table, a drawing or a text is worked out before it comes here, and whatever its reader may not see was refused by the checker
//! before anything ran. Writers (terminal, CSV, JSON, HTML, workbook, PDF) read these types and work no figure out.
//!
//! The rows of a table are whatever gives [`Rows`]: made one by one as they are written, or kept in a vector for those who look at them
//! again and again, as the PDF does to measure its columns.
//!
//! ```
//! use ovolo::paper::{Class, Reader};
//!
//! assert!(Reader::Owner.may_see(Class::AllIn));
//! assert!(!Reader::Owner.may_see(Class::Private));
//! ```

// A match over kinds lists them all, so that a new kind is noticed everywhere, and no conversion fails silently.
#![warn(
    clippy::wildcard_enum_match_arm,
    clippy::match_wildcard_for_single_variants
)]
#![warn(clippy::as_conversions)]

mod reader;

pub use reader::{Class, Reader};

use crate::drawing::Drawing;
use crate::number::{Exact, Style, Written};
use std::borrow::Cow;
use std::sync::Arc;

/// A paper for one reader.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Paper<R = Vec<Row>> {
    /// Name in the sheet, and of its files: `cut_list`.
    pub name: String,
    /// Title on the page.
    pub title: String,
    /// Whom it is for.
    pub reader: Reader,
    /// How far it has come.
    pub state: State,
    /// What is at the head and foot of every page.
    pub head: Head,
    /// What it holds, in order.
    pub blocks: Vec<Block<R>>,
}

/// How far a paper has come; printed on every page.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum State {
    /// Something in it is missing, unanswered, set aside or unknown, or the job is not issued.
    Draft,
    /// Complete and issued.
    Issued,
}

/// What the head and foot of every page say.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Head {
    /// Title of the job.
    pub job: String,
    /// The version of the job it was made for: "as decided", or the name of an alternate.
    pub version: String,
    /// Number of the issue, where it was issued.
    pub issue: Option<u32>,
    /// The day in the job's `issued`, as 2026-03-21.
    pub date: Option<String>,
    /// First eight characters of the hash over all that the run was made from.
    pub record: String,
    /// Name and version of the program.
    pub program: String,
    /// How cents are rounded, in words; papers without money don't say it.
    pub cents: String,
    /// Each reason why it is a draft, and what is set aside or unknown: on the first page, with a pointer on the others.
    pub doubts: Vec<String>,
}

/// One thing on a paper.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Block<R = Vec<Row>> {
    /// A heading, which never stands alone at the foot of a page.
    Heading(String),
    /// A paragraph.
    Text(String),
    /// A table.
    Table(Table<R>),
    /// A picture.
    Drawing(Picture),
    /// A photograph.
    Photograph(Photograph),
    /// Lines to sign on, kept together.
    Signs(Vec<Sign>),
    /// What follows begins a page.
    PageBreak,
}

/// A drawing with the words that go with it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Picture {
    /// The shapes.
    pub drawing: Drawing,
    /// Printed below it.
    pub caption: String,
    /// Says what it shows to readers who do not see it.
    pub alternative: String,
}

/// A photograph with the words below it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Photograph {
    /// The picture.
    pub image: Image,
    /// Printed below it, and read to those who do not see it.
    pub caption: String,
}

/// A picture of a file.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Image {
    /// What the file holds.
    pub kind: ImageKind,
    /// Width and height in pixels, above zero.
    pub size: (u32, u32),
    /// The bytes of the file.
    pub bytes: Arc<[u8]>,
}

/// Formats of pictures.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[allow(missing_docs)]
pub enum ImageKind {
    Jpeg,
    Png,
}

/// A line to sign on.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Sign {
    /// Who signs: "shop lead", "checker".
    pub who: String,
}

/// A table: rows in order, with groups and sums among them.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Table<R = Vec<Row>> {
    /// Name of its list, and of its CSV file.
    pub name: String,
    /// Title above it.
    pub title: String,
    /// Columns.
    pub columns: Vec<Column>,
    /// Rows, those of a group between its heading and its subtotal.
    pub rows: R,
    /// Sentences below it: what is not known of its rows, or why there are none.
    pub notes: Vec<String>,
    /// For each row the block that its own entry on the paper begins with; none where the paper holds no entries of its rows.
    pub entries: Vec<Option<usize>>,
    /// Lines that are counted in its sums and are not in it, because nobody asked for them.
    pub counted: usize,
}

/// A column of a table.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Column {
    /// Name in the sheet, or that of a JSON field: stable when the heading changes.
    pub name: String,
    /// Heading.
    pub heading: String,
    /// Unit of every number in it, as shown: "in", "bf", "USD".
    pub unit: Option<String>,
    /// How its numbers are written; a column of texts has none.
    pub numbers: Option<(Written, Style)>,
    /// Who may see it.
    pub class: Class,
}

/// Side on which the cells of a column stand.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Side {
    /// Texts.
    Left,
    /// Numbers.
    Right,
}

/// A row, with one cell for each column.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Row {
    /// What it is.
    pub kind: RowKind,
    /// Its cells; a group heading has its words in the first and blanks behind.
    pub cells: Vec<Cell>,
}

/// What a row is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum RowKind {
    /// Heading of a group; 0 is the outermost.
    Group(usize),
    /// A row of its own.
    Line,
    /// Sum of the lines of a group; 0 is the outermost.
    Subtotal(usize),
    /// Sum of all lines.
    Total,
}

/// A cell: what it is, exactly, and how it is printed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Cell {
    /// Exact value, in the unit of its column.
    pub value: Value,
    /// As printed; not yet made safe for any target.
    pub text: Arc<str>,
}

/// The value of a cell.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Value {
    /// Nothing.
    Blank,
    /// Words: a text, a label, yes or no.
    Text,
    /// A day, counted from 1970-01-01.
    Day(i32),
    /// A number in the unit of its column.
    Number(Exact),
    /// A box to tick, 5 mm or more on paper.
    Tick,
    /// Room to write in by hand.
    Room,
    /// Not known; the text says why: "not measured", "not applicable".
    Unknown,
}

/// The rows of a table.
pub trait Rows {
    /// All of them, in order.
    fn each(&self) -> Box<dyn Iterator<Item = Cow<'_, Row>> + '_>;

    /// How many of them are lines.
    fn lines(&self) -> usize;

    /// The sum of all lines, where the table has one.
    fn total(&self) -> Option<Cow<'_, Row>>;
}

impl Rows for Vec<Row> {
    fn each(&self) -> Box<dyn Iterator<Item = Cow<'_, Row>> + '_> {
        Box::new(self.iter().map(Cow::Borrowed))
    }

    fn lines(&self) -> usize {
        self.iter().filter(|r| r.kind == RowKind::Line).count()
    }

    fn total(&self) -> Option<Cow<'_, Row>> {
        let total = self.iter().rfind(|r| r.kind == RowKind::Total);
        total.map(Cow::Borrowed)
    }
}

impl<R: Rows> Paper<R> {
    /// The same with all its rows made.
    pub fn kept(&self) -> Paper {
        let kept =
            |block: &Block<R>| block.with_rows(|rows| rows.each().map(Cow::into_owned).collect());
        Paper {
            name: self.name.clone(),
            title: self.title.clone(),
            reader: self.reader,
            state: self.state,
            head: self.head.clone(),
            blocks: self.blocks.iter().map(kept).collect(),
        }
    }
}

impl<R> Block<R> {
    /// The same with other rows.
    pub fn with_rows<S>(&self, rows: impl FnOnce(&R) -> S) -> Block<S> {
        match self {
            Block::Heading(text) => Block::Heading(text.clone()),
            Block::Text(text) => Block::Text(text.clone()),
            Block::Table(table) => Block::Table(table.with_rows(rows)),
            Block::Drawing(picture) => Block::Drawing(picture.clone()),
            Block::Photograph(photograph) => Block::Photograph(photograph.clone()),
            Block::Signs(signs) => Block::Signs(signs.clone()),
            Block::PageBreak => Block::PageBreak,
        }
    }
}

impl<R> Paper<R> {
    /// How far it has come, as printed on every page.
    pub fn state_text(&self) -> &'static str {
        match (self.state, self.reader) {
            (State::Draft, Reader::Owner) => "DRAFT, NOT AN OFFER",
            (state, _) => state.text(),
        }
    }

    /// How its cents are rounded; nothing for a reader who sees no money.
    pub fn cents(&self) -> &str {
        match self.reader.may_see(Class::AllIn) {
            true => &self.head.cents,
            false => "",
        }
    }

    /// Its lists: tables without a name are filled in by hand, and no list.
    pub fn tables(&self) -> impl Iterator<Item = &Table<R>> {
        self.blocks.iter().filter_map(|block| match block {
            Block::Table(table) if !table.name.is_empty() => Some(table),
            Block::Table(_)
            | Block::Heading(_)
            | Block::Text(_)
            | Block::Drawing(_)
            | Block::Photograph(_)
            | Block::Signs(_)
            | Block::PageBreak => None,
        })
    }
}

impl State {
    /// As printed on every page.
    pub fn text(self) -> &'static str {
        match self {
            State::Draft => "DRAFT",
            State::Issued => "issued",
        }
    }
}

impl Column {
    /// Side its cells are on.
    pub fn side(&self) -> Side {
        match self.numbers {
            Some(_) => Side::Right,
            None => Side::Left,
        }
    }

    /// Its heading with its unit: "length (in)".
    pub fn title(&self) -> String {
        match &self.unit {
            Some(unit) => format!("{} ({unit})", self.heading),
            None => self.heading.clone(),
        }
    }
}

impl<R> Table<R> {
    /// Whether a column has a heading; what is filled in by hand has none.
    pub fn is_headed(&self) -> bool {
        self.columns.iter().any(|c| !c.heading.is_empty())
    }

    /// The same with other rows.
    pub fn with_rows<S>(&self, rows: impl FnOnce(&R) -> S) -> Table<S> {
        Table {
            name: self.name.clone(),
            title: self.title.clone(),
            columns: self.columns.clone(),
            rows: rows(&self.rows),
            notes: self.notes.clone(),
            entries: self.entries.clone(),
            counted: self.counted,
        }
    }
}

impl<R: Rows> Table<R> {
    /// The same with all its rows made.
    pub fn kept(&self) -> Table {
        self.with_rows(|rows| rows.each().map(Cow::into_owned).collect())
    }
}

impl Table {
    /// Whether it has nothing to show but sentences: on paper they are in place of its columns.
    pub fn says_only(&self) -> bool {
        self.rows.is_empty() && !self.notes.is_empty()
    }

    /// Its lines, without headings of groups and sums.
    pub fn lines(&self) -> impl Iterator<Item = &Row> {
        self.rows.iter().filter(|r| r.kind == RowKind::Line)
    }
}

impl Cell {
    /// Nothing.
    pub fn blank() -> Cell {
        Cell {
            value: Value::Blank,
            text: Arc::from(""),
        }
    }

    /// Words.
    pub fn words(text: impl Into<Arc<str>>) -> Cell {
        Cell {
            value: Value::Text,
            text: text.into(),
        }
    }

    /// A number as printed.
    pub fn number(value: Exact, text: impl Into<Arc<str>>) -> Cell {
        Cell {
            value: Value::Number(value),
            text: text.into(),
        }
    }
}
