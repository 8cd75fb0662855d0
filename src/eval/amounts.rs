//! Amounts by row, added up over columns and turned into cents stretch by stretch with the kernels of a run.
//!
//! Must not know what the amounts are of.

use super::chunk::{Data, Faults, PRESENT, Piece, ROWS, Single, States, give_back};
use super::column::Column;
use super::kernels::{At, arith, round};
use crate::number::{Exact, NumError, Rounding};
use crate::program::NodeId;
use std::sync::Arc;

/// For each row of a table, the sum of one or more columns. A missing value counts as zero. The columns are shared, not copied.
#[derive(Debug, Clone)]
pub struct Amounts {
    rows: usize,
    columns: Vec<Column>,
}

impl Amounts {
    /// The amounts of one column over `rows` rows. A column of one row has that value on every row.
    pub fn of_column(rows: usize, column: &Column) -> Amounts {
        Amounts {
            rows,
            columns: vec![column.for_reading(None, Arc::default())],
        }
    }

    /// These amounts, one a row.
    pub fn of_numbers(numbers: Vec<Exact>) -> Amounts {
        let rows = numbers.len();
        let column = Column::of_whole(rows, &Piece::clear(Data::of_exacts(numbers)));
        Amounts {
            rows,
            columns: vec![column],
        }
    }

    /// Adds other amounts of the same rows.
    pub fn join(&mut self, more: &Amounts) {
        self.columns.extend(more.columns.iter().cloned());
    }

    /// Each row's amount. Errors: [`NumError::TooManyDigits`].
    pub fn numbers(&self) -> Result<Vec<Exact>, NumError> {
        let mut out = Vec::with_capacity(self.rows);
        self.each_stretch(|_, piece, len| {
            out.extend((0..len).map(|row| piece.data.number(row)));
            piece
        })?;
        Ok(out)
    }

    /// The sum of all rows. Errors: [`NumError::TooManyDigits`].
    pub fn total(&self) -> Result<Exact, NumError> {
        let mut total = Ok(Exact::ZERO);
        self.each_stretch(|_, piece, len| {
            let sum = super::rollup::sum_of_all(len, &piece.data);
            total = total.clone().and_then(|so_far| so_far.add(&sum?));
            piece
        })?;
        total
    }

    /// Each row's amount times `price`, rounded to whole cents. Errors: [`NumError::TooManyDigits`].
    pub fn cents(&self, price: &Exact, ties: Rounding) -> Result<Vec<i128>, NumError> {
        let one = |value| Piece::clear(Data::One(Single::Number(value)));
        let (price, cent) = (one(price.clone()), one(Exact::CENT));
        let mut out = Vec::with_capacity(self.rows);
        let mut beyond = None;
        self.each_stretch(|at, amounts, len| {
            let money = arith::mul(at, &amounts, &price);
            give_back(amounts);
            let rounded = round::round(at, &money, &cent, ties);
            give_back(money);
            match rounded.data.ints() {
                Some(ints) if 100 % ints.den == 0 => {
                    let cents = i128::from(100 / ints.den);
                    out.extend((0..len).map(|row| i128::from(ints.side.at(row)) * cents));
                }
                _ => {
                    for row in 0..len {
                        match rounded.data.number(row).to_cents(ties) {
                            Ok(cents) => out.push(cents),
                            Err(e) => beyond = Some(e),
                        }
                    }
                }
            }
            rounded
        })?;
        match beyond {
            Some(e) => Err(e),
            None => Ok(out),
        }
    }

    /// Calls `work` with the sums of each stretch of rows and their number; what it gives back must have no fault.
    fn each_stretch<'s>(
        &'s self,
        mut work: impl FnMut(At<'_>, Piece<'s>, usize) -> Piece<'s>,
    ) -> Result<(), NumError> {
        let faults = Faults::default();
        for index in 0..self.rows.div_ceil(ROWS) {
            let len = (self.rows - index * ROWS).min(ROWS);
            // Faults have no node here: any at all is an error.
            let at = At {
                faults: &faults,
                node: NodeId(0),
                len,
            };
            let mut sum: Option<Piece<'_>> = None;
            for column in &self.columns {
                let piece = zero_where_missing(self.piece(column, index), len);
                sum = Some(match sum {
                    None => piece,
                    Some(so_far) => {
                        let both = arith::add(at, &so_far, &piece);
                        give_back(so_far);
                        give_back(piece);
                        both
                    }
                });
            }
            let sum = sum.unwrap_or_else(|| Piece::clear(Data::One(Single::Number(Exact::ZERO))));
            let done = work(at, sum, len);
            if !matches!(done.states, States::All(PRESENT)) {
                return Err(NumError::TooManyDigits);
            }
            give_back(done);
        }
        Ok(())
    }

    fn piece(&self, column: &Column, index: usize) -> Piece<'static> {
        match column.len() == 1 {
            true => column.piece(0).into_one(),
            false => column.piece(index),
        }
    }
}

fn zero_where_missing(piece: Piece<'static>, len: usize) -> Piece<'static> {
    match &piece.states {
        States::All(PRESENT) => piece,
        States::All(_) => Piece::clear(Data::One(Single::Number(Exact::ZERO))),
        States::Rows(codes) => {
            let number = |row: usize| match codes[row] {
                PRESENT => piece.data.number(row),
                _ => Exact::ZERO,
            };
            Piece::clear(Data::of_exacts((0..len).map(number).collect()))
        }
    }
}
