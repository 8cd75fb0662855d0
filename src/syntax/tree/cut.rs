//! Lines of a `cut` block.

use super::{Name, Quantity, Signed, Text};
use crate::diagnostics::Span;
use crate::number::Exact;

/// A line of a `cut` block.
#[derive(Debug, Clone)]
#[allow(missing_docs)]
pub enum CutLine {
    Size(CutSize, Signed, Span),
    /// Least length and width of an offcut worth keeping.
    Keep(Vec<Quantity>, Span),
    /// The sides of a stock size that can be bought.
    Buy(Vec<Quantity>, Span),
    OnHand {
        table: Name,
        worth: Signed,
        span: Span,
    },
    Count(CutCount, u32, Span),
    MayTurn(Span),
    Spares(Exact, Span),
    Plan(Text),
}

/// Sizes that a `cut` block states.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[allow(missing_docs)]
pub enum CutSize {
    Unit,
    Crosscut,
    Rip,
    EndTrim,
    EdgeTrim,
    LeastStrip,
}

/// Whole numbers that a `cut` block states.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[allow(missing_docs)]
pub enum CutCount {
    Stages,
    Rounds,
    Seed,
}
