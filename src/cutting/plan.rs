//! A plan as it is kept and followed: every section, strip and piece with its place on the stock.
//!
//! ```
//! # fn bars() -> (ovolo::cutting::model::Problem, ovolo::cutting::plan::Plan) {
//! #     include!(concat!(env!("CARGO_MANIFEST_DIR"), "/tests/docs/bars.rs"))
//! # }
//! let (problem, plan) = bars();
//! let bars: u32 = plan.cuts.iter().map(|cut| cut.times).sum();
//! assert_eq!((bars, plan.cost), (2, 10));
//! ```

use super::model::{Goods, Problem, Run};
use super::pattern::Pattern;
use super::task::Task;
use serde::{Deserialize, Serialize};

/// A piece in its strip.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PlacedPiece {
    /// Where it begins, counted along the strip from the end of the stock.
    pub at: i64,
    /// Index of the part.
    pub part: usize,
    /// Whether its width lies along the length of the stock.
    pub turned: bool,
}

/// A strip of a section.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PlacedStrip {
    /// Where it begins, across the pieces.
    pub at: i64,
    /// Its width.
    pub width: i64,
    /// Pieces in order.
    pub pieces: Vec<PlacedPiece>,
}

/// What the first cuts part.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PlacedSection {
    /// Where it begins, along the pieces.
    pub at: i64,
    /// Its size.
    pub size: i64,
    /// Strips in order.
    pub strips: Vec<PlacedStrip>,
}

/// How a piece of stock is cut, and how many are cut so.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PlannedCut {
    /// Index of the stock.
    pub stock: usize,
    /// How many.
    pub times: u32,
    /// Whether sections lie side by side across the width; otherwise they follow one another along the length.
    pub along: bool,
    /// Sections in order.
    pub sections: Vec<PlacedSection>,
}

/// A rectangle on the stock, from its end and its lower edge.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct Area {
    /// Along the length.
    pub x: i64,
    /// Across.
    pub y: i64,
    /// Size along the length.
    pub length: i64,
    /// Size across.
    pub width: i64,
}

/// Prices of one thickness and the bound they prove.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Proof {
    /// Thickness in units.
    pub thick: i64,
    /// Index and price of each part.
    pub prices: Vec<(usize, i64)>,
    /// What one unit of cost is in prices, before the worst pattern is taken into account.
    pub scale: i64,
    /// No plan costs less: the bound of the prices, rounded up to the next sum that costs can have.
    pub bound: i64,
}

/// A whole plan.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Plan {
    /// What is cut, in the order of the stock.
    pub cuts: Vec<PlannedCut>,
    /// Cost of the stock used.
    pub cost: i64,
    /// Cost of the greedy plan it was compared with.
    pub greedy: i64,
    /// Bounds by thickness.
    pub proofs: Vec<Proof>,
    /// Whether the search came to its end.
    pub finished: bool,
}

/// A plan with the problem it solves.
#[derive(Debug, Clone)]
pub struct Planned {
    /// What the stock is called.
    pub name: String,
    /// The problem.
    pub problem: Problem,
    /// Its plan.
    pub plan: Plan,
}

impl Plan {
    /// What no plan of these rules can do with less than.
    pub fn bound(&self) -> i64 {
        self.proofs.iter().map(|p| p.bound).sum()
    }

    /// Pieces of stock used.
    pub fn used(&self) -> u64 {
        self.cuts.iter().map(|c| u64::from(c.times)).sum()
    }
}

/// Gives every piece of a pattern its place.
pub(super) fn place(problem: &Problem, task: &Task, pattern: &Pattern, times: u32) -> PlannedCut {
    let rules = &problem.rules;
    let index = task.stocks[pattern.stock].index;
    let stock = &problem.stocks[index];
    let edge = match rules.goods {
        Goods::Glass => stock.trim,
        Goods::Linear | Goods::Boards => 0,
    };
    let (between, beside) = if pattern.along {
        (rules.rip, rules.crosscut)
    } else {
        (rules.crosscut, rules.rip)
    };
    let runs = if pattern.along {
        vec![Run {
            from: edge,
            length: stock.clear_width(rules.goods),
        }]
    } else {
        stock.runs(rules.crosscut)
    };
    let across = if pattern.along { stock.trim } else { edge };
    let mut at: Vec<i64> = runs.iter().map(|r| r.from).collect();
    let sections = (pattern.sections.iter())
        .map(|section| {
            let from = at[section.run];
            at[section.run] += section.size + between;
            let mut side = across;
            let strips = (section.strips.iter())
                .map(|strip| {
                    let y = side;
                    side += strip.width + beside;
                    let mut x = from;
                    let pieces = (strip.pieces.iter())
                        .map(|piece| {
                            let part = &task.parts[piece.part];
                            let at = x;
                            let long = if piece.turned == pattern.along {
                                part.length
                            } else {
                                part.width
                            };
                            x += long + between;
                            PlacedPiece {
                                at,
                                part: part.index,
                                turned: piece.turned,
                            }
                        })
                        .collect();
                    PlacedStrip {
                        at: y,
                        width: strip.width,
                        pieces,
                    }
                })
                .collect();
            PlacedSection {
                at: from,
                size: section.size,
                strips,
            }
        })
        .collect();
    PlannedCut {
        stock: index,
        times,
        along: pattern.along,
        sections,
    }
}

/// Where a rectangle lies on the stock, from its places along and across the pieces.
pub(super) fn area(cut: &PlannedCut, at: i64, side: i64, long: i64, wide: i64) -> Area {
    if cut.along {
        Area {
            x: side,
            y: at,
            length: wide,
            width: long,
        }
    } else {
        Area {
            x: at,
            y: side,
            length: long,
            width: wide,
        }
    }
}
