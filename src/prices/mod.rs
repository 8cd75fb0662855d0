//! The price book: what each resource costs per unit, how it is bought, from whom and when.
//!
//! Knows resources, units and the columns of a price book. Must not know files, quantities or totals.
//!
//! Columns: resource, unit, price; and optionally pack, supplier, chosen, source, date, note, currency, low, high, likely, varies with. The unit is that of the price: a unit of the
//! resource's own kind (`bf`, `sq ft`), a price with its unit (`USD per bf`), or the word of a pack (`box`), whose size is then known
//! from the `pack` column or from the sheet. `low` and `high` say what the price may turn out to be. Where a resource is listed more than once, one row must say yes under `chosen`.
//!
//! ```
//! # fn worked() -> ovolo::session::Session {
//! #     include!(concat!(env!("CARGO_MANIFEST_DIR"), "/tests/docs/worked.rs"))
//! # }
//! let session = worked(); // a small job in memory
//! let run = session.run().expect("it is worked");
//! let resources = &run.job.checked.program.versions[0].resources;
//! let pine = resources.id_of(|r| r.name == "pine").expect("a resource");
//! let entry = run.book.entry(pine).expect("a price");
//! assert_eq!((entry.price.to_string().as_str(), entry.unit.as_str()), ("9", "bf"));
//! ```

// A match over kinds lists them all, so that a new kind is noticed everywhere, and no conversion fails silently.
#![warn(
    clippy::wildcard_enum_match_arm,
    clippy::match_wildcard_for_single_variants
)]
#![warn(clippy::as_conversions)]

mod age;
mod blank;
mod file;
mod pack;
mod read;
mod returned;

pub use age::PriceAge;
pub use blank::blank_book;
pub use file::{BookSource, read_book};
pub use pack::{Pack, singular};
pub use read::read_prices;
pub use returned::{Ordered, Returned, read_order};

/// Whether what stands under "supplier" says that the shop has it itself, so that nobody is sent an order.
pub fn is_own(supplier: &str) -> bool {
    let words = supplier.trim().to_lowercase();
    words == "own" || words == "own shop"
}

use crate::diagnostics::{CellPlace, Diagnostic};
use crate::number::{Decimal, Exact};
use crate::program::ResourceId;

/// Columns of a price book, in the order of [`BookRow::cells`].
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[allow(missing_docs)]
pub enum BookColumn {
    Resource,
    Unit,
    Price,
    Pack,
    Supplier,
    Chosen,
    Source,
    Date,
    Note,
    Currency,
    Low,
    High,
    Likely,
    VariesWith,
    Spec,
}

impl BookColumn {
    /// Its place in [`BookRow::cells`].
    #[expect(
        clippy::as_conversions,
        reason = "the columns are numbered from 0 in their order"
    )]
    fn place(self) -> usize {
        self as usize
    }
}

/// Every column of a price book with its heading.
pub const BOOK_COLUMNS: [(BookColumn, &str); 15] = [
    (BookColumn::Resource, "resource"),
    (BookColumn::Unit, "unit"),
    (BookColumn::Price, "price"),
    (BookColumn::Pack, "pack"),
    (BookColumn::Supplier, "supplier"),
    (BookColumn::Chosen, "chosen"),
    (BookColumn::Source, "source"),
    (BookColumn::Date, "date"),
    (BookColumn::Note, "note"),
    (BookColumn::Currency, "currency"),
    (BookColumn::Low, "low"),
    (BookColumn::High, "high"),
    (BookColumn::Likely, "likely"),
    (BookColumn::VariesWith, "varies with"),
    (BookColumn::Spec, "spec"),
];

/// A cell of a price book: its trimmed text (numbers of a workbook as plain decimals) and where it is.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct BookCell {
    /// Text; empty for a blank cell.
    pub text: String,
    /// Where it is.
    pub place: CellPlace,
    /// Why a cell of a workbook has no text that could be trusted: the code and words of a survey's cells.
    pub fault: Option<(&'static str, &'static str)>,
}

/// A row of a price book: one cell for each of [`BOOK_COLUMNS`].
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct BookRow {
    /// Cells in the order of [`BOOK_COLUMNS`].
    pub cells: Vec<BookCell>,
}

/// A price book as read: one entry at most for each resource.
#[derive(Debug, Clone, Default)]
pub struct PriceBook {
    /// Entries in the order of the sheets' resources.
    pub entries: Vec<PriceEntry>,
    /// Rows of other suppliers that were not chosen.
    pub passed_over: Vec<PriceEntry>,
    /// What the reader has to say without stopping.
    pub warnings: Vec<Diagnostic>,
}

/// A price.
#[derive(Debug, Clone)]
pub struct PriceEntry {
    /// Resource.
    pub resource: ResourceId,
    /// Price as written, in currency for one of `unit`.
    pub price: Decimal,
    /// What the price is for, as written: `bf`, `box`.
    pub unit: String,
    /// Price for one base unit of the resource's dimension.
    pub per_base: Exact,
    /// Pack the book names; it takes the place of the sheet's.
    pub pack: Option<Pack>,
    /// Supplier.
    pub supplier: Option<String>,
    /// Source.
    pub source: Option<String>,
    /// Date as written.
    pub date: Option<String>,
    /// The date as days since 1970-01-01, when it could be read.
    pub day: Option<i32>,
    /// Note.
    pub note: Option<String>,
    /// What a buyer must say besides the name: color, grade, mesh. Orders show it.
    pub spec: Option<String>,
    /// What the price may turn out to be.
    pub varies: Option<PriceVaries>,
    /// Cell of the price.
    pub place: CellPlace,
}

/// What a price may turn out to be, in currency for one of the unit of the price. Nothing is drawn from it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PriceVaries {
    /// The least.
    pub low: Decimal,
    /// The most.
    pub high: Decimal,
    /// The likeliest; without it, each price is as likely as any other.
    pub likely: Option<Decimal>,
    /// Prices and givens of one group rise and fall together.
    pub group: Option<String>,
}

impl PriceBook {
    /// The entry of a resource.
    pub fn entry(&self, resource: ResourceId) -> Option<&PriceEntry> {
        self.entries.iter().find(|e| e.resource == resource)
    }
}
