//! Least and greatest values by account.

use super::accounts::Accounts;
use crate::eval::chunk::{Data, Piece};
use crate::number::Exact;
use std::ops::Range;

/// Least or greatest values by account, where there are any.
#[derive(Debug)]
pub(super) enum Extremes {
    Scaled { num: Vec<Option<i64>>, den: i64 },
    Exact(Vec<Option<Exact>>),
}

impl Extremes {
    /// Those of some accounts of another stretch as well; `row` is the place of each here.
    pub(super) fn add(
        &mut self,
        part: &Extremes,
        accounts: Range<usize>,
        row: impl Fn(usize) -> usize,
        least: bool,
    ) {
        if let (
            Extremes::Scaled { num, den },
            Extremes::Scaled {
                num: more,
                den: more_den,
            },
        ) = (&mut *self, part)
            && den == more_den
        {
            for account in accounts {
                more[account]
                    .into_iter()
                    .for_each(|n| keep_extreme(&mut num[row(account)], n, least));
            }
            return;
        }
        let mut here = std::mem::replace(self, Extremes::Exact(Vec::new())).into_exact();
        for account in accounts {
            part.get(account)
                .into_iter()
                .for_each(|value| keep_extreme(&mut here[row(account)], value, least));
        }
        *self = Extremes::Exact(here);
    }

    fn get(&self, account: usize) -> Option<Exact> {
        match self {
            Extremes::Scaled { num, den } => Exact::ratio(num[account]?, *den),
            Extremes::Exact(values) => values[account].clone(),
        }
    }

    fn into_exact(self) -> Vec<Option<Exact>> {
        match self {
            Extremes::Exact(values) => values,
            Extremes::Scaled { num, den } => {
                num.into_iter().map(|n| Exact::ratio(n?, den)).collect()
            }
        }
    }

    /// Rows without a value, and the values, with zero for those.
    pub(super) fn finish(self) -> (Vec<usize>, Data<'static>) {
        fn without<T>(values: &[Option<T>]) -> Vec<usize> {
            values
                .iter()
                .enumerate()
                .filter(|(_, value)| value.is_none())
                .map(|(row, _)| row)
                .collect()
        }
        if let Extremes::Scaled { num, den } = &self
            && let Some(data) = Data::reduced(num.iter().map(|n| n.unwrap_or(0)).collect(), *den)
        {
            return (without(num), data);
        }
        let values = self.into_exact();
        (
            without(&values),
            Data::of_exacts(values.into_iter().map(Option::unwrap_or_default).collect()),
        )
    }
}

pub(super) fn extremes(
    len: usize,
    of: &Piece<'_>,
    taken: Option<&[bool]>,
    accounts: &Accounts<'_>,
    least: bool,
) -> Extremes {
    if let Some(x) = of.data.ints() {
        let mut num: Vec<Option<i64>> = vec![None; accounts.count()];
        accounts.each_taken(len, taken, |row, account| {
            keep_extreme(&mut num[account], x.side.at(row), least)
        });
        return Extremes::Scaled { num, den: x.den };
    }
    let mut best: Vec<Option<Exact>> = vec![None; accounts.count()];
    accounts.each_taken(len, taken, |row, account| {
        keep_extreme(&mut best[account], of.data.number(row), least)
    });
    Extremes::Exact(best)
}

fn keep_extreme<T: Ord>(slot: &mut Option<T>, value: T, least: bool) {
    let better = slot.as_ref().is_none_or(|so_far| {
        if least {
            value < *so_far
        } else {
            value > *so_far
        }
    });
    if better {
        *slot = Some(value);
    }
}
