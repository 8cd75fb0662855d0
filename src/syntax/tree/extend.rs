//! What a later layer adds to a sheet that it does not edit, and what it changes of a thing besides its value.

use super::{
    CellText, Column, DecidedBy, Expr, LabelDef, Name, Quantity, RowsLine, Signed, Text, UnitText,
};
use crate::diagnostics::Span;

/// `extend survey opening because "..." { ... }`
#[derive(Debug, Clone)]
pub struct Extend {
    /// What is extended.
    pub name: Name,
    /// What is added or changed.
    pub more: Extension,
    /// Reason.
    pub because: Option<Text>,
    /// Who decided it, and when.
    pub by: Option<DecidedBy>,
    /// Whether a line of it could not be read.
    pub broken: bool,
    /// Heading.
    pub span: Span,
}

/// What an `extend` block adds or changes.
#[derive(Debug, Clone)]
#[allow(missing_docs)]
pub enum Extension {
    Survey {
        added: Vec<Column>,
        columns: Vec<ColumnMore>,
    },
    /// Spellings of labels that are there, and labels that are not.
    Choice(Vec<LabelDef>),
    Rows(Vec<RowsLine>),
    Table(Vec<RowEdit>),
}

impl Extension {
    /// Its word in a sheet.
    pub fn word(&self) -> &'static str {
        match self {
            Extension::Survey { .. } => "survey",
            Extension::Choice(_) => "choice",
            Extension::Rows(_) => "rows",
            Extension::Table(_) => "table",
        }
    }
}

/// `wide in cm between 15 cm and 4 m headed "Width" was between 12 in and 8 ft`
#[derive(Debug, Clone)]
pub struct ColumnMore {
    /// The column.
    pub name: Name,
    /// Further headings.
    pub headed: Vec<Text>,
    /// The unit of a bare number in a cell.
    pub unit: Option<UnitText>,
    /// Plausible range in place of the one it had.
    pub between: Option<(Signed, Signed)>,
    /// The range it had.
    pub was: Option<(Signed, Signed)>,
    /// The whole line.
    pub span: Span,
}

/// A row of a lookup table that is added, changed or taken out.
#[derive(Debug, Clone)]
pub struct RowEdit {
    /// What is done.
    pub what: RowEditKind,
    /// Its cells, in the order of the headings; of a row taken out at least its keys.
    pub cells: Vec<CellText>,
    /// For each cell what it was, where the line says so.
    pub was: Vec<Option<String>>,
    /// The whole line.
    pub span: Span,
}

/// What is done to a row.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[allow(missing_docs)]
pub enum RowEditKind {
    Add,
    Change,
    TakeOut,
}

/// `change limits of ...`, `change packs of ...`, `change name of ...`, `change resource of ...`, `change phase of ...`
#[derive(Debug, Clone)]
pub struct Amend {
    /// The given or resource.
    pub name: Name,
    /// What of it.
    pub what: AmendWhat,
    /// Reason.
    pub because: Option<Text>,
    /// Who decided it, and when.
    pub by: Option<DecidedBy>,
    /// The whole line.
    pub span: Span,
}

/// What of a thing is changed.
#[derive(Debug, Clone)]
#[allow(missing_docs)]
pub enum AmendWhat {
    Limits {
        to: (Signed, Signed),
        was: Option<(Signed, Signed)>,
    },
    Packs {
        to: (Name, Quantity),
        was: Option<(Name, Quantity)>,
    },
    Called {
        to: Text,
        was: Option<Text>,
    },
    /// Takes and parts of a resource, all or those of a phase, everywhere or where a condition holds, go to another resource or phase.
    Send {
        of_phase: Option<Text>,
        filter: Option<Expr>,
        to: SendTo,
    },
}

/// Where takes and parts are sent.
#[derive(Debug, Clone)]
#[allow(missing_docs)]
pub enum SendTo {
    Resource(Name),
    Phase(Text),
}

impl AmendWhat {
    /// Its word in a sheet.
    pub fn word(&self) -> &'static str {
        match self {
            AmendWhat::Limits { .. } => "limits",
            AmendWhat::Packs { .. } => "packs",
            AmendWhat::Called { .. } => "name",
            AmendWhat::Send {
                to: SendTo::Resource(_),
                ..
            } => "resource",
            AmendWhat::Send {
                to: SendTo::Phase(_),
                ..
            } => "phase",
        }
    }
}
