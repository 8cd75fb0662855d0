//! Items by keys that the estimate itself is not cut by, such as the treatments of sash.

use super::{BidItem, items};
use crate::number::{Exact, NumError};
use crate::pricing::model::{CostLine, Cut, CutKind, CutRow, Estimate};
use crate::pricing::split::split_cents;
use crate::program::ResourceClass;

/// The total of an estimate as items of keys, each with how many of it there are. `nets` gives for a line its net amount under each key
/// and last that of the whole job; the cents of the line are split by them, largest remainder. What belongs to the whole job, charges
/// among it, is spread over the items as [`items`] does.
///
/// # Errors
///
/// When a number has too many digits.
pub fn items_by_key(
    estimate: &Estimate,
    keys: &[(String, usize)],
    nets: impl Fn(&CostLine) -> Result<Vec<Exact>, NumError>,
    rest: &str,
) -> Result<Vec<BidItem>, NumError> {
    let mut rows: Vec<CutRow> = keys.iter().map(|(key, n)| row(key, Some(*n))).collect();
    let mut whole = row("", None);
    for line in &estimate.lines {
        let parts = split_cents(line.cents, &nets(line)?)?;
        for (row, cents) in rows.iter_mut().zip(&parts) {
            put(row, line.class, *cents);
        }
        let under_keys: i128 = parts.iter().take(keys.len()).sum();
        put(&mut whole, line.class, line.cents - under_keys);
    }
    let lines: i128 = estimate.lines.iter().map(|line| line.cents).sum();
    whole.charges = estimate.totals.grand - lines;
    rows.push(whole);
    let cut = Cut {
        kind: CutKind::Split(0),
        by: String::new(),
        rows,
    };
    items(&cut, rest)
}

fn row(key: &str, rows: Option<usize>) -> CutRow {
    CutRow {
        key: key.to_owned(),
        whole_job: rows.is_none(),
        rows,
        hours: Exact::ZERO,
        labor: 0,
        materials: 0,
        hired: 0,
        charges: 0,
    }
}

fn put(row: &mut CutRow, class: ResourceClass, cents: i128) {
    if class == ResourceClass::Labor {
        row.labor += cents;
    } else if class.is_hired() {
        row.hired += cents;
    } else {
        row.materials += cents;
    }
}
