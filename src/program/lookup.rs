//! Lookup tables, read and checked: keys and values in base units.

use super::node::Ty;
use crate::diagnostics::Span;
use crate::number::Exact;
use crate::units::UnitExpr;

/// A lookup table.
#[derive(Debug, Clone)]
pub struct Lookup {
    /// Name.
    pub name: String,
    /// Key columns; row i of the table is cell i of each.
    pub keys: Vec<KeyColumn>,
    /// Value columns.
    pub values: Vec<ValueColumn>,
    /// Number of rows.
    pub rows: usize,
    /// Where the sheet declares it.
    pub span: Span,
    /// For each row: a line of the sheet or of the CSV file, for `why`.
    pub places: Vec<crate::diagnostics::Place>,
}

/// A key column.
#[derive(Debug, Clone)]
pub struct KeyColumn {
    /// Name.
    pub name: String,
    /// Type a key must have; texts also fit labels of a choice by name.
    pub ty: Ty,
    /// Unit of its heading, in which its numbers are shown.
    pub unit: Option<UnitExpr>,
    /// Its cells.
    pub cells: Vec<KeyCell>,
}

/// A key cell. Bands are half open unless said.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum KeyCell {
    /// Any value.
    Any,
    /// Exactly this number.
    Number(Exact),
    /// From (in or not) to (in or not); an open end is `None`.
    Band {
        /// Lower end and whether it is in.
        low: Option<(Exact, bool)>,
        /// Upper end and whether it is in.
        high: Option<(Exact, bool)>,
    },
    /// A text, or the label of a choice by name.
    Text(String),
    /// Yes or no.
    Truth(bool),
}

/// A value column.
#[derive(Debug, Clone)]
pub struct ValueColumn {
    /// Name.
    pub name: String,
    /// Type.
    pub ty: Ty,
    /// Numbers, for a number column.
    pub numbers: Vec<Exact>,
    /// Texts, for a text column.
    pub texts: Vec<String>,
}
