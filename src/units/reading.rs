//! What a cell's column says of it, and what reading the cell gives: a value or a refusal.
//!
//! Plain data. Must not know how text is read.

use crate::number::Exact;

use super::cell_text::Normalised;
use super::dimension::{Base, Dim};
use super::noun::Nouns;
use super::unit::UnitExpr;

/// Longest cell text read, in characters.
pub const MAX_CELL: usize = 200;

/// What the column of a cell says about it.
#[derive(Debug, Clone, Copy)]
pub struct CellContext<'a> {
    /// What the column measures.
    pub dim: &'a Dim,
    /// The unit of a bare number: the column's or its heading's.
    pub default_unit: &'a UnitExpr,
    /// The nouns of the job.
    pub nouns: &'a Nouns,
    /// The job's currency code.
    pub currency: Option<&'a str>,
    /// The survey declares the comma as its decimal mark.
    pub decimal_comma: bool,
    /// The survey declares that thousands are grouped.
    pub grouping: bool,
    /// The column holds thicknesses in quarters of an inch: 8/4 is a number.
    pub quarters: bool,
    /// Least and greatest plausible value, in base units.
    pub plausible: Option<(&'a Exact, &'a Exact)>,
}

impl<'a> CellContext<'a> {
    /// A column of this unit, with nothing declared.
    pub fn new(default_unit: &'a UnitExpr, nouns: &'a Nouns) -> CellContext<'a> {
        CellContext {
            dim: default_unit.dim(),
            default_unit,
            nouns,
            currency: None,
            decimal_comma: false,
            grouping: false,
            quarters: false,
            plausible: None,
        }
    }

    /// Whether amounts of money are expected, where grouped thousands are usual.
    pub(super) fn is_money(&self) -> bool {
        self.dim.exponent(Base::Money) > 0
    }
}

/// A cell that was read.
#[derive(Debug, Clone, PartialEq)]
pub enum Reading {
    /// A value.
    Value {
        /// In base units.
        value: Exact,
        /// The unit the cell wrote, when it is not the column's own; the last one of `2 ft 6 in`.
        unit: Option<UnitExpr>,
        /// What was read as if typed plainly, each once.
        normalised: Vec<Normalised>,
    },
}

/// Why a cell was refused.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum RefusalKind {
    /// Nothing but blanks.
    Empty,
    /// More than [`MAX_CELL`] characters.
    TooLong,
    /// More digits than a number may have.
    TooManyDigits,
    /// A lone ditto mark.
    DittoMark,
    /// Not a number at all, or not one of the forms taken.
    NotANumber,
    /// Marked as a guess: `~30`, `30?`, `30+`.
    Doubtful,
    /// More than one number.
    TwoNumbers,
    /// Feet followed by a number without an inch mark: `2'6`.
    MissingInchMark,
    /// Two numbers with a hyphen: `2-6`.
    HyphenPair,
    /// A fraction out of the plausible range, perhaps feet and inches: `2/8`.
    SlashPair,
    /// A fraction of one or more: `8/4` in a column that is not in quarters.
    ImproperFraction,
    /// A fraction with zero below the line.
    ZeroDivisor,
    /// A comma where a point may be meant, or the other way round.
    DecimalComma,
    /// A grouped number where grouping is not declared.
    GroupedDigits,
    /// A point without a digit on each side: `.5`, `5.`.
    LooseDecimal,
    /// A bare number under one in a percent column.
    PercentOrFraction,
    /// A unit that is not known.
    UnknownUnit,
    /// A currency that is not the job's.
    OtherCurrency,
    /// A unit of another dimension than the column's.
    OtherDimension,
    /// The smaller unit of a pair holds a larger one: `2 ft 14 in`.
    PartTooLarge,
}

/// A cell that was refused: what was found, what it may mean, what was expected.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Refusal {
    /// Why.
    pub code: RefusalKind,
    /// The text found, cut to a readable length.
    pub found: String,
    /// Ways to write the likely meanings; empty when none is likely.
    pub choices: Vec<String>,
    /// What the column takes: "a length, such as 12 in".
    pub expected: String,
}

/// A refusal before the cell's text and column are put beside it.
pub(super) type Fault = (RefusalKind, Vec<String>);

pub(super) fn fault<T>(code: RefusalKind, choices: &[String]) -> Result<T, Fault> {
    Err((code, choices.to_vec()))
}
