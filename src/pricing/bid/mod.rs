//! A bid: the total of an estimate as items that an owner may see, alternates as sums to add or deduct, unit prices.
//!
//! Works from finished estimates only. All amounts are all-in: what belongs to the whole job, charges and the rounding of the
//! final figure are spread over the items, so no overhead, profit or price of a supplier can be derived from them.
//!
//! ```
//! # fn worked() -> ovolo::session::Session {
//! #     include!(concat!(env!("CARGO_MANIFEST_DIR"), "/tests/docs/worked.rs"))
//! # }
//! let session = worked(); // a small job in memory
//! let run = session.run().expect("it is worked");
//! let estimate = &run.worked.estimate;
//! use ovolo::pricing::bid::items;
//! let by_phase = &estimate.cuts[0];
//! let items = items(by_phase, "whole job").expect("few digits");
//! let sum: i128 = items.iter().map(|item| item.cents).sum();
//! assert_eq!(sum, by_phase.rows.iter().map(|row| row.price()).sum::<i128>());
//! ```

mod change;
mod keyed;
mod offer;
mod sum_words;
mod unit_prices;

pub use change::{ChangeOrder, ChangedOpening, Reason, Together};
pub use keyed::items_by_key;
pub use offer::{Obstacle, obstacles};
pub use sum_words::{percent_in_words, sum_in_words};
pub use unit_prices::{Item, UnitPrices, unit_prices};

use super::model::{Cut, Estimate};
use super::split::split_cents;
use crate::number::{Exact, NumError};

/// An item of the base bid.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct BidItem {
    /// What it is: a phase, an elevation, a kind of window.
    pub name: String,
    /// How many rows of the main table it counts, for items by a column of the survey.
    pub quantity: Option<usize>,
    /// All-in amount in cents.
    pub cents: i128,
}

/// An alternate of a bid.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct BidAlternate {
    /// Its number, from 1.
    pub number: usize,
    /// Its name.
    pub name: String,
    /// What it adds to the base bid, in cents; below zero is a deduction.
    pub adds: i128,
    /// Days later than the base bid it is done, where both have a calendar; below zero is sooner.
    pub days: Option<i64>,
}

/// The total of an estimate as the items of one of its cuts. What belongs to no key is spread over the items by their direct cost,
/// largest remainder, ties to the first; where no item has a cost it stands as an item `rest` gives the name of.
///
/// # Errors
///
/// When a number has too many digits.
pub fn items(cut: &Cut, rest: &str) -> Result<Vec<BidItem>, NumError> {
    let (whole, keyed): (Vec<_>, Vec<_>) = cut.rows.iter().partition(|r| r.whole_job);
    let loose: i128 = whole.iter().map(|r| r.price()).sum();
    let weights: Vec<Exact> = keyed
        .iter()
        .map(|r| Exact::from_i128(r.cents().max(0)))
        .collect();
    let parts = split_cents(loose, &weights)?;
    let left = loose - parts.iter().sum::<i128>();
    let mut items: Vec<BidItem> = keyed
        .iter()
        .zip(parts)
        .map(|(row, part)| BidItem {
            name: row.key.clone(),
            quantity: row.rows,
            cents: row.price() + part,
        })
        .collect();
    if left != 0 {
        items.push(BidItem {
            name: rest.to_owned(),
            quantity: None,
            cents: left,
        });
    }
    Ok(items)
}

/// Alternates beside the base bid, numbered in their order.
pub fn alternates(base: &Estimate, others: &[&Estimate]) -> Vec<BidAlternate> {
    let end = |e: &Estimate| e.schedule.as_ref().map(|s| s.finish.day());
    others
        .iter()
        .enumerate()
        .map(|(at, other)| BidAlternate {
            number: at + 1,
            name: other.version_name().to_owned(),
            adds: other.totals.grand - base.totals.grand,
            days: end(other)
                .zip(end(base))
                .map(|(theirs, ours)| i64::from(theirs) - i64::from(ours)),
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::pricing::{CutKind, CutRow};

    fn row(key: &str, whole_job: bool, labor: i128, charges: i128) -> CutRow {
        CutRow {
            key: key.to_owned(),
            whole_job,
            rows: None,
            hours: Exact::ZERO,
            labor,
            materials: 0,
            hired: 0,
            charges,
        }
    }

    /// Check value 5.1, computed with an independent script: three items and 24,662.33 of whole-job cost, overhead and profit.
    #[test]
    fn what_belongs_to_the_whole_job_is_spread_by_direct_cost() {
        let cut = Cut {
            kind: CutKind::Phase,
            by: "phase".to_owned(),
            rows: vec![
                row("A", false, 4_123_560, 0),
                row("B", false, 1_884_000, 0),
                row("C", false, 997_750, 0),
                row("whole job", true, 825_000, 939_637 + 701_596),
            ],
        };
        let found = items(&cut, "General conditions").expect("spreads");
        let cents: Vec<i128> = found.iter().map(|i| i.cents).collect();
        assert_eq!(cents, [5_575_267, 2_547_266, 1_349_010]);
        assert_eq!(cents.iter().sum::<i128>(), 9_471_543);
    }

    #[test]
    fn a_job_of_whole_job_costs_alone_has_one_item() {
        let cut = Cut {
            kind: CutKind::Phase,
            by: "phase".to_owned(),
            rows: vec![row("A", false, 0, 0), row("whole job", true, 500, 0)],
        };
        let found = items(&cut, "General conditions").expect("spreads");
        assert_eq!(
            found.last().map(|i| (i.name.as_str(), i.cents)),
            Some(("General conditions", 500))
        );
    }
}
