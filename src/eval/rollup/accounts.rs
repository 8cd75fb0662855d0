//! The coarser rows that the rows of a stretch belong to, each with an account of its own.

use crate::eval::chunk::ROWS;
use crate::eval::grain::RowMap;
use std::borrow::Cow;
use std::ops::Range;
use std::sync::Arc;

/// Up to so many coarser rows, a stretch keeps an account for each; beyond, only for those it meets.
const MOST_ACCOUNTS: usize = if cfg!(test) { 4 } else { 512 };

/// The coarser rows that the rows of a stretch belong to, numbered within it.
pub(in crate::eval) struct Accounts<'p> {
    /// Account of each row; `None` when there is one account, or each row has its own.
    pub(super) of_row: Option<Cow<'p, [u32]>>,
    pub(super) own: bool,
    pub(super) rows: Rows,
}

/// Coarser rows of the accounts of a stretch, ascending.
#[derive(Debug, Clone)]
pub(super) enum Rows {
    /// So many, each account with the row of its number.
    First(usize),
    These(Arc<[u32]>),
}

impl<'p> Accounts<'p> {
    /// Accounts for stretch `index` of `len` rows, over `coarse` coarser rows.
    pub(in crate::eval) fn new(
        map: &'p RowMap<'_>,
        index: usize,
        len: usize,
        coarse: usize,
    ) -> Accounts<'p> {
        match map.stretch(index, len) {
            None if matches!(map, RowMap::All) => Accounts {
                of_row: None,
                own: false,
                rows: Rows::First(1),
            },
            None => {
                let start = u32::try_from(index * ROWS).unwrap_or(u32::MAX);
                Accounts {
                    of_row: None,
                    own: true,
                    rows: Rows::These((start..).take(len).collect()),
                }
            }
            Some(rows) if coarse <= MOST_ACCOUNTS => Accounts {
                of_row: Some(Cow::Borrowed(rows)),
                own: false,
                rows: Rows::First(coarse),
            },
            Some(rows) => {
                let mut met = rows.to_vec();
                // Mostly the finer rows are in the order of the coarser ones.
                let sorted = rows.is_sorted();
                if !sorted {
                    met.sort_unstable();
                }
                met.dedup();
                let of_row: Vec<u32> = match sorted {
                    true => {
                        let mut account = 0;
                        let count = |row: &u32| {
                            account += u32::from(met[crate::ids::at(account)] != *row);
                            account
                        };
                        rows.iter().map(count).collect()
                    }
                    // There are no more accounts than rows in a stretch.
                    false => rows
                        .iter()
                        .map(|row| crate::ids::row(met.partition_point(|met| met < row)))
                        .collect(),
                };
                Accounts {
                    of_row: Some(Cow::Owned(of_row)),
                    own: false,
                    rows: Rows::These(met.into()),
                }
            }
        }
    }

    /// Calls `f` with each of `len` rows and its account.
    #[inline]
    pub(super) fn each(&self, len: usize, mut f: impl FnMut(usize, usize)) {
        match &self.of_row {
            Some(rows) => rows
                .iter()
                .enumerate()
                .for_each(|(row, account)| f(row, crate::ids::at(*account))),
            None if self.own => (0..len).for_each(|row| f(row, row)),
            None => (0..len).for_each(|row| f(row, 0)),
        }
    }

    /// The same with the rows that are taken; all are where `taken` is not said.
    #[inline]
    pub(super) fn each_taken(
        &self,
        len: usize,
        taken: Option<&[bool]>,
        mut f: impl FnMut(usize, usize),
    ) {
        match taken {
            None => self.each(len, f),
            Some(taken) => self.each(len, |row, account| {
                if taken[row] {
                    f(row, account);
                }
            }),
        }
    }

    /// Account of a row.
    #[inline]
    pub(in crate::eval) fn of(&self, row: usize) -> usize {
        match &self.of_row {
            Some(rows) => crate::ids::at(rows[row]),
            None if self.own => row,
            None => 0,
        }
    }

    /// Number of accounts.
    pub(in crate::eval) fn count(&self) -> usize {
        self.rows.count()
    }

    /// Coarser row of an account.
    pub(in crate::eval) fn coarse(&self, account: usize) -> usize {
        self.rows.row(account)
    }
}

impl Rows {
    pub(super) fn count(&self) -> usize {
        match self {
            Rows::First(count) => *count,
            Rows::These(rows) => rows.len(),
        }
    }

    pub(super) fn row(&self, account: usize) -> usize {
        match self {
            Rows::First(_) => account,
            Rows::These(rows) => crate::ids::at(rows[account]),
        }
    }

    /// The accounts of these coarser rows.
    pub(super) fn within(&self, rows: &Range<usize>) -> Range<usize> {
        match self {
            Rows::First(count) => rows.start.min(*count)..rows.end.min(*count),
            Rows::These(all) => {
                let before = |end: usize| all.partition_point(|row| crate::ids::at(*row) < end);
                before(rows.start)..before(rows.end)
            }
        }
    }
}
