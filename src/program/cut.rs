//! What a job states about cutting one resource.

use super::TableId;
use super::terms::FileInput;
use super::version::ResourceId;
use crate::diagnostics::Span;
use crate::number::Exact;

/// A `cut` block of a job. Sizes are whole numbers of a unit.
#[derive(Debug, Clone)]
pub struct CutTerms {
    /// What is cut.
    pub resource: ResourceId,
    /// Its name.
    pub name: String,
    /// Where the block is.
    pub span: Span,
    /// Kind of goods.
    pub goods: CutGoods,
    /// Units in an inch.
    pub per_inch: i64,
    /// Kerf of cuts across.
    pub crosscut: i64,
    /// Kerf of cuts along.
    pub rip: i64,
    /// Trim at each end, or at each edge of glass.
    pub trim: i64,
    /// Least strip that can be snapped off.
    pub least: i64,
    /// Least offcut worth keeping; none keeps what the smallest part could be cut from.
    pub keep: Option<(i64, i64)>,
    /// Stages of cuts; none is the usual number of the goods.
    pub stages: Option<u8>,
    /// Whether panes may be turned.
    pub may_turn: bool,
    /// Spares as a share of the parts, rounded up for each size.
    pub spares: Exact,
    /// Rounds of the search.
    pub rounds: Option<u32>,
    /// Where the choices of the search begin.
    pub seed: Option<u32>,
    /// Stock on hand.
    pub on_hand: Option<OnHand>,
    /// Sizes that can be bought.
    pub buy: Vec<BuySize>,
    /// The plan that the job uses.
    pub plan: Option<FileInput>,
}

/// What is cut, as its class and unit say.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum CutGoods {
    /// Sold by length.
    Bars,
    /// Sold by volume.
    Boards,
    /// Sold by area.
    Sheets,
}

/// Stock on hand.
#[derive(Debug, Clone)]
pub struct OnHand {
    /// The survey of it.
    pub table: TableId,
    /// What it is worth, in currency for one base unit of the resource.
    pub worth: Exact,
    /// Column of the mark.
    pub mark: usize,
    /// Columns of length, width and thickness; width and height of a pane; length of a bar.
    pub sides: Vec<usize>,
    /// The survey of bad stretches with its columns of where they begin and end.
    pub bad: Option<(TableId, [usize; 2])>,
    /// Where it is stated.
    pub span: Span,
}

/// A size that can be bought: length, width and thickness in units.
#[derive(Debug, Clone)]
pub struct BuySize {
    /// Sides; 1 wide for bars, 0 thick for all but boards.
    pub sides: [i64; 3],
    /// Where it is stated.
    pub span: Span,
}
