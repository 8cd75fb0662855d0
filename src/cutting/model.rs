//! What is to be cut, out of what, and by which rules. All sizes are whole numbers of one fine unit.
//!
//! ```
//! # fn bars() -> (ovolo::cutting::model::Problem, ovolo::cutting::plan::Plan) {
//! #     include!(concat!(env!("CARGO_MANIFEST_DIR"), "/tests/docs/bars.rs"))
//! # }
//! let (problem, _) = bars();
//! assert_eq!(problem.pieces(), 4);
//! ```

use serde::Serialize;
use sha2::{Digest, Sha256};

/// Parts in all that one plan may hold.
pub const MOST_PARTS: u64 = 100_000;
/// Different parts of one thickness; the work grows with their number times the longest stock.
pub const MOST_SIZES: usize = 600;
/// Longest size, in units.
pub const MOST_UNITS: i64 = 1 << 16;
/// Highest cost of one piece of stock.
pub const MOST_COST: i64 = 1 << 40;

/// What kind of goods is cut.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub enum Goods {
    /// Bars of one section: lengths only.
    Linear,
    /// Boards: crosscut, rip, chop; grain lengthwise.
    Boards,
    /// Sheets of glass: guillotine cuts.
    Glass,
}

/// A size of part and how many of it are needed.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Part {
    /// How it is called in lists; may be empty.
    pub mark: String,
    /// Length in units; width of a pane.
    pub length: i64,
    /// Width in units; height of a pane; 1 for linear goods.
    pub width: i64,
    /// Thickness in units; 0 where there is none.
    pub thick: i64,
    /// How many.
    pub count: u32,
    /// Rows of the job it is for, such as openings or sash, and how many for each; empty where it is of no job.
    pub rows: Vec<(String, u32)>,
}

impl Part {
    /// A part of these sides in units, without a mark, none of it yet.
    pub fn of_size(length: i64, width: i64, thick: i64) -> Part {
        Part {
            mark: String::new(),
            length,
            width,
            thick,
            count: 0,
            rows: Vec::new(),
        }
    }
}

/// A stretch that can be used, from one end of the stock.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Run {
    /// Where it begins.
    pub from: i64,
    /// Its length.
    pub length: i64,
}

/// A board, sheet or bar, or several alike.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Stock {
    /// How it is called in lists.
    pub mark: String,
    /// Whole length in units.
    pub length: i64,
    /// Whole width in units; 1 for linear goods.
    pub width: i64,
    /// Thickness in units; 0 where there is none.
    pub thick: i64,
    /// Trim at each end (boards) or each edge (glass), kerf included.
    pub trim: i64,
    /// Stretches over the full width that cannot be used, from and to, in order.
    pub bad: Vec<(i64, i64)>,
    /// What one costs.
    pub cost: i64,
    /// How many there are; without a number as many as needed can be bought.
    pub available: Option<u32>,
}

impl Stock {
    /// The stretches between trims and bad stretches. A bad stretch is at least as long as the kerf that takes it out.
    pub fn runs(&self, kerf: i64) -> Vec<Run> {
        let end = self.length - self.trim;
        let mut runs = Vec::new();
        let mut at = self.trim;
        for &(from, to) in &self.bad {
            let stop = from.min(end);
            if stop > at {
                runs.push(Run {
                    from: at,
                    length: stop - at,
                });
            }
            at = at.max(to.max(from + kerf));
        }
        if end > at {
            runs.push(Run {
                from: at,
                length: end - at,
            });
        }
        runs
    }

    /// Width that can be used: glass is trimmed on all edges, boards on their ends.
    pub fn clear_width(&self, goods: Goods) -> i64 {
        match goods {
            Goods::Glass => self.width - 2 * self.trim,
            Goods::Linear | Goods::Boards => self.width,
        }
    }
}

/// How the cuts are made.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
pub struct Rules {
    /// Kind of goods.
    pub goods: Goods,
    /// Kerf of cuts across the length.
    pub crosscut: i64,
    /// Kerf of cuts along the length.
    pub rip: i64,
    /// Stages of cuts: 1 for linear goods, 3 for boards, 2 or 3 for glass. A last trim to size is not counted.
    pub stages: u8,
    /// Whether panes may be turned.
    pub turn: bool,
    /// Least strip that can be snapped off; 0 where a saw takes any.
    pub least: i64,
    /// Least length and width of an offcut worth keeping.
    pub keep: (i64, i64),
}

/// Everything a plan depends on.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Problem {
    /// What one unit is, in words.
    pub unit: String,
    /// Whether costs are cents; otherwise they are of any unit.
    #[serde(skip_serializing_if = "std::ops::Not::not")]
    pub cents: bool,
    /// How the cuts are made.
    pub rules: Rules,
    /// Sizes and counts.
    pub parts: Vec<Part>,
    /// Stock on hand and to be bought.
    pub stocks: Vec<Stock>,
}

impl Problem {
    /// Parts in all.
    pub fn pieces(&self) -> u64 {
        self.parts.iter().map(|p| u64::from(p.count)).sum()
    }

    /// A hash of everything, and of whether the search for a plan came to its end: a plan holds for the problem it was made from and for
    /// no other, and an interrupted one does not become whole by a word in its file.
    pub fn hash(&self, finished: bool) -> String {
        let mut bytes = serde_json::to_vec(self).unwrap_or_default();
        if !finished {
            bytes.extend_from_slice(b"interrupted");
        }
        crate::library::hex(&Sha256::digest(bytes))
    }

    /// A size as people write it: units of `1/16 in` as inches and a fraction, others as a plain number.
    pub fn size(&self, units: i64) -> String {
        let parts = self
            .unit
            .strip_prefix("1/")
            .and_then(|u| u.strip_suffix(" in"));
        let Some(parts) = parts.and_then(|n| n.parse::<i64>().ok()).filter(|n| *n > 0) else {
            return units.to_string();
        };
        let (whole, mut top, mut bottom) = (units.abs() / parts, units.abs() % parts, parts);
        while top > 0 && top % 2 == 0 && bottom % 2 == 0 {
            (top, bottom) = (top / 2, bottom / 2);
        }
        let sign = if units < 0 { "-" } else { "" };
        match (whole, top) {
            (whole, 0) => format!("{sign}{whole}"),
            (0, top) => format!("{sign}{top}/{bottom}"),
            (whole, top) => format!("{sign}{whole} {top}/{bottom}"),
        }
    }

    /// A cost as people write it: cents with two places, others as a plain number.
    pub fn money(&self, cost: i64) -> String {
        if self.cents {
            format!("{}.{:02}", cost / 100, cost % 100)
        } else {
            cost.to_string()
        }
    }

    /// The unit that [`Problem::size`] writes sizes in.
    pub fn shown_unit(&self) -> &str {
        match self.unit.as_str() {
            unit if unit.ends_with(" in") => "in",
            "1" => "units",
            unit => unit,
        }
    }
}
