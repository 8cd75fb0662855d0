//! What the columns of a survey are: kinds, units, limits, headings, and what a blank means.

use crate::diagnostics::Span;
use crate::number::Exact;
use crate::units::{Dim, Scale, UnitExpr};

/// A table to be read.
#[derive(Debug, Clone)]
pub struct Schema {
    /// Name of the table, such as `opening`.
    pub name: String,
    /// Columns in the order of the sheet.
    pub columns: Vec<ColumnSpec>,
    /// Index of the key column. A table below another may lack one.
    pub key: Option<usize>,
    /// For a table below another: the other's name, and which column here holds its key.
    pub parent: Option<(String, usize)>,
    /// For a table below another: for each column, the column of the table above that a blank reads. Empty where none does.
    pub above: Vec<Option<usize>>,
    /// How rows that the survey does not bring are made.
    pub rows: Option<RowsSpec>,
    /// Where the sheet declares it.
    pub span: Span,
}

/// Rows made from a choice or a count of the row above. Each has a key of its own: the mark of the row above and its code.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct RowsSpec {
    /// The column above that they are made from.
    pub from: usize,
    /// The column here that says which of the rows each is.
    pub place: usize,
    /// What is made.
    pub made: RowsMade,
    /// Whether a survey that brings rows must bring every one.
    pub all_surveyed: bool,
    /// In a schema that a file is read by, the key column, which rows may leave blank.
    pub key: Option<usize>,
}

impl RowsSpec {
    /// The mark of a made row: that of the row above and the code of its place, `N5-L`. `place` is a label or a number.
    pub fn mark(&self, above: &str, place: u16) -> String {
        let code = match &self.made {
            RowsMade::Labels(_, codes) => codes.get(usize::from(place)).cloned(),
            RowsMade::Count => Some(place.to_string()),
        };
        let code = code.unwrap_or_default();
        match above.is_empty() {
            true => code,
            false => format!("{above}-{code}"),
        }
    }
}

/// Which rows are made.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum RowsMade {
    /// For each label of the choice above, labels of the place in their order; and the code of each label of the place.
    Labels(Vec<Vec<u16>>, Vec<String>),
    /// As many as the number above says, numbered from 1.
    Count,
}

/// A column.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ColumnSpec {
    /// Name in the sheet.
    pub name: String,
    /// What it holds.
    pub kind: ColumnKind,
    /// Headings accepted besides the name, compared without case, blanks and line breaks.
    pub headings: Vec<String>,
    /// What a blank cell means.
    pub blank: OnMissing,
    /// What "n/a" means.
    pub not_applicable: OnMissing,
    /// Whether values must be unique, present, and name the row.
    pub is_key: bool,
    /// Where the sheet declares it.
    pub span: Span,
}

impl Schema {
    /// Whether a survey is read in the same way by both: all but where they are declared.
    pub fn reads_like(&self, other: &Schema) -> bool {
        let Schema {
            name,
            columns,
            key,
            parent,
            above,
            rows,
            span: _,
        } = self;
        let columns_alike = || {
            columns.len() == other.columns.len()
                && columns
                    .iter()
                    .zip(&other.columns)
                    .all(|(a, b)| a.reads_like(b))
        };
        (name, key, parent, above, rows)
            == (
                &other.name,
                &other.key,
                &other.parent,
                &other.above,
                &other.rows,
            )
            && columns_alike()
    }

    /// The column of the table above that a blank of a column reads.
    pub fn above(&self, column: usize) -> Option<usize> {
        self.above.get(column).copied().flatten()
    }

    /// The place among a table's columns of the one that says which cells of a column are those of the row above.
    pub fn is_above(&self, column: usize) -> Option<usize> {
        self.above(column)?;
        let before = self.above.iter().take(column).flatten().count();
        Some(self.columns.len() + before)
    }

    /// Whether cells of the table may come from the table above.
    pub fn is_completed(&self) -> bool {
        self.rows.is_some() || self.above.iter().any(Option::is_some)
    }
}

impl ColumnKind {
    /// Whether a value is refused for its sign: a number holds nothing below zero unless its limits reach there. Proofs rest on it.
    pub fn is_below_zero(&self, value: &Exact) -> bool {
        matches!(self, ColumnKind::Number { limits: None, .. }) && value.signum() < 0
    }

    /// Whether its limits allow something below zero.
    pub fn reaches_below_zero(&self) -> bool {
        matches!(self, ColumnKind::Number { limits: Some(limits), .. } if limits.low.signum() < 0)
    }

    /// The unit of a column that holds numbers.
    pub fn unit(&self) -> Option<&UnitExpr> {
        match self {
            ColumnKind::Number { unit, .. } => Some(unit),
            ColumnKind::Text
            | ColumnKind::Lites
            | ColumnKind::YesNo
            | ColumnKind::Choice(_)
            | ColumnKind::Date
            | ColumnKind::Moment
            | ColumnKind::Temperature => None,
        }
    }

    /// The scale of a column that holds points.
    pub fn scale(&self) -> Option<Scale> {
        match self {
            ColumnKind::Date => Some(Scale::Day),
            ColumnKind::Moment => Some(Scale::Moment),
            ColumnKind::Temperature => Some(Scale::Temperature),
            ColumnKind::Text
            | ColumnKind::Lites
            | ColumnKind::Number { .. }
            | ColumnKind::YesNo
            | ColumnKind::Choice(_) => None,
        }
    }
}

impl ColumnSpec {
    fn reads_like(&self, other: &ColumnSpec) -> bool {
        let span = self.span;
        *self
            == ColumnSpec {
                span,
                ..other.clone()
            }
    }
}

/// What a column holds.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum ColumnKind {
    /// Free text, trimmed.
    Text,
    /// Lites of the sash of an opening, kept as a text such as `6` or `6/1`, the upper first.
    Lites,
    /// A quantity, kept in base units.
    Number {
        /// Its dimension.
        dim: Dim,
        /// Unit of a bare number, unless the heading names another of the same dimension.
        unit: UnitExpr,
        /// Whole multiples of `unit` only (always so for counts).
        whole: bool,
        /// A percent column: a bare 35 means 35 %.
        percent: bool,
        /// `8/4` is a thickness in quarters.
        quarters: bool,
        /// Plausible range in base units, both ends in.
        limits: Option<Limits>,
    },
    /// Yes or no.
    YesNo,
    /// One of these.
    Choice(Vec<LabelSpec>),
    /// A day, kept as days since 1970-01-01.
    Date,
    /// A day with an hour, kept as a number of days since 1970-01-01 00:00.
    Moment,
    /// A temperature, kept in degrees Fahrenheit.
    Temperature,
}

/// Lowest and highest value, base units, both allowed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Limits {
    /// Lowest.
    pub low: Exact,
    /// Highest.
    pub high: Exact,
}

impl Limits {
    /// Whether they allow a value.
    pub fn hold(&self, value: &Exact) -> bool {
        *value >= self.low && *value <= self.high
    }
}

/// A label of a choice with the spellings a survey may use besides it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct LabelSpec {
    /// The label.
    pub label: String,
    /// Further spellings.
    pub spellings: Vec<String>,
}

/// What a missing cell means.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum OnMissing {
    /// It is an error.
    Refuse,
    /// It stays missing.
    Keep,
    /// It is this value, and counted as assumed.
    Value(SchemaValue),
}

/// One value of a column: written in a sheet for a missing cell, set by a trial or a study, or taken from a row.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum SchemaValue {
    /// Base units; of a day, the days since 1970-01-01.
    Number(Exact),
    /// Text.
    Text(String),
    /// Yes or no.
    YesNo(bool),
    /// Index of the label.
    Choice(u16),
}

impl SchemaValue {
    /// The value as words, its number as `number` writes it. `None` for a label that the column hasn't.
    pub fn words(
        &self,
        kind: &ColumnKind,
        number: impl FnOnce(&Exact) -> String,
    ) -> Option<String> {
        match (self, kind) {
            (SchemaValue::Number(n), _) => Some(number(n)),
            (SchemaValue::Text(text), _) => Some(text.clone()),
            (SchemaValue::YesNo(yes), _) => Some(if *yes { "yes" } else { "no" }.to_owned()),
            (SchemaValue::Choice(at), ColumnKind::Choice(labels)) => {
                labels.get(usize::from(*at)).map(|l| l.label.clone())
            }
            (SchemaValue::Choice(_), _) => None,
        }
    }
}
