//! Splitting cents so that the parts add to the whole: largest remainder, ties to the first in order.
//!
//! Unlike [`crate::number::largest_remainder`] a share may be below zero, as a credit is: its part is then below zero too.

use crate::ids;
use crate::number::{Exact, NumError, Rounding, greatest};

/// Cents in proportion to `weights`. All zero where the weights add up to nothing.
pub(super) fn split_cents(cents: i128, weights: &[Exact]) -> Result<Vec<i128>, NumError> {
    let sum = total(weights)?;
    if sum.is_zero() || cents == 0 {
        return Ok(vec![0; weights.len()]);
    }
    let each = Exact::from_cents(cents).div(&sum)?;
    let (mut parts, mut rests) = (
        Vec::with_capacity(weights.len()),
        Vec::with_capacity(weights.len()),
    );
    let mut left = cents;
    for weight in weights {
        let quota = weight.mul(&each)?;
        let floor = quota.to_cents(Rounding::Down)?;
        rests.push(quota.mul(&Exact::int(100))?.sub(&Exact::from_i128(floor))?);
        parts.push(floor);
        left -= floor;
    }
    // Every remainder is under one cent, so fewer cents are left than there are parts with a remainder.
    let extra = usize::try_from(left).map_err(|_| NumError::TooManyDigits)?;
    for at in greatest(&rests, extra) {
        parts[at] += 1;
    }
    Ok(parts)
}

/// Which rows are under which key.
pub(super) struct Grouped {
    members: Vec<Vec<usize>>,
}

impl Grouped {
    /// `key_of_row` holds the key of each row, of `keys` in all.
    pub(super) fn new(key_of_row: &[u32], keys: usize) -> Grouped {
        let mut members = vec![Vec::new(); keys];
        for (row, key) in key_of_row.iter().enumerate() {
            if let Some(list) = members.get_mut(ids::at(*key)) {
                list.push(row);
            }
        }
        Grouped { members }
    }

    /// The cents of each key over its rows. The last of `keys` belongs to none, and stays whole as the last part.
    pub(super) fn split_keys(
        &self,
        keys: &[i128],
        weights: &[Exact],
    ) -> Result<Vec<i128>, NumError> {
        let mut parts = vec![0; weights.len() + 1];
        for (list, cents) in self.members.iter().zip(keys) {
            let own: Vec<Exact> = list
                .iter()
                .map(|row| weights.get(*row).cloned().unwrap_or_default())
                .collect();
            for (row, part) in list.iter().zip(split_cents(*cents, &own)?) {
                if let Some(place) = parts.get_mut(*row) {
                    *place = part;
                }
            }
        }
        if let (Some(last), Some(rest)) = (parts.last_mut(), keys.last()) {
            *last = *rest;
        }
        Ok(parts)
    }

    /// Cents over the keys first, then over the rows of each; the last weight and the last part belong to no row.
    pub(super) fn split(&self, cents: i128, weights: &[Exact]) -> Result<Vec<i128>, NumError> {
        let Some((rest, rows)) = weights.split_last() else {
            return Ok(Vec::new());
        };
        let sums = self
            .members
            .iter()
            .map(|list| total(list.iter().filter_map(|row| rows.get(*row))));
        let sums = sums
            .chain([Ok(rest.clone())])
            .collect::<Result<Vec<_>, _>>()?;
        self.split_keys(&split_cents(cents, &sums)?, rows)
    }
}

/// The sum of exact values.
pub(super) fn total<'a>(values: impl IntoIterator<Item = &'a Exact>) -> Result<Exact, NumError> {
    values
        .into_iter()
        .try_fold(Exact::ZERO, |sum, x| sum.add(x))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::number::largest_remainder;

    fn ints(list: &[i64]) -> Vec<Exact> {
        list.iter().map(|n| Exact::int(*n)).collect()
    }

    #[test]
    fn agrees_with_the_largest_remainder_rule_and_takes_credits() {
        assert_eq!(
            split_cents(25_000, &ints(&[3, 7, 11])),
            Ok(vec![3572, 8333, 13095])
        );
        assert_eq!(
            split_cents(10_000, &ints(&[1, 1, 1])),
            Ok(vec![3334, 3333, 3333])
        );
        assert_eq!(split_cents(100, &ints(&[3, 0, -1])), Ok(vec![150, 0, -50]));
        assert_eq!(
            split_cents(-1, &ints(&[-1, -1])).map(|p| p.iter().sum()),
            Ok(-1)
        );
        assert_eq!(split_cents(5, &ints(&[2, -2])), Ok(vec![0, 0]));
        for cents in [1i64, 7, 99, 12_345] {
            let weights = ints(&[5, 3, 0, 8, 1]);
            let by_rule =
                largest_remainder(&Exact::int(cents), &Exact::ONE, &weights).expect("splits");
            let by_rule: Vec<i128> = by_rule
                .iter()
                .map(|p| i128::from(p.to_i64().expect("whole")))
                .collect();
            assert_eq!(split_cents(i128::from(cents), &weights), Ok(by_rule));
        }
    }
}
