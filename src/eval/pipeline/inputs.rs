//! What a run is given: whether it fits the program, and rows of its columns as pieces.

use crate::eval::chunk::{Code, Data, PRESENT, Piece, Single, States, bound};
use crate::eval::kernels::LIMIT;
use crate::eval::{RunError, WrongInput};
use crate::number::Exact;
use crate::program::{Kind, NodeId, Program, Scale, TableId, Ty};
use crate::table::{Absence, Numbers, Table, Values};
use std::borrow::Cow;

/// Everything that a program reads must be there and of the right kind and size.
pub(super) fn check_inputs(
    program: &Program,
    tables: &[&Table],
    needed: &[NodeId],
) -> Result<(), RunError> {
    let wrong = |table: TableId, found| Err(RunError::WrongInputs { table, found });
    for (id, info) in program.tables.entries() {
        let Some(table) = tables.get(id.index()) else {
            return wrong(id, WrongInput::Missing);
        };
        if u32::try_from(table.rows).is_err() {
            return Err(RunError::TooLarge);
        }
        if let Some(parent) = info.parent {
            let rows = tables.get(parent.index()).map_or(0, |t| t.rows);
            let good = table.parent_rows.as_ref().is_some_and(|parents| {
                parents.len() == table.rows && parents.iter().all(|row| crate::ids::at(*row) < rows)
            });
            if !good {
                return wrong(id, WrongInput::Parents);
            }
        }
    }
    for id in needed {
        let node = program.node(*id);
        if let Kind::Column { table, column } = &node.kind {
            let Some(input) = tables.get(table.index()) else {
                return wrong(*table, WrongInput::Missing);
            };
            let fits = input.columns.get(usize::from(*column)).is_some_and(|data| {
                let (kind, len) = match (&data.values, &node.ty) {
                    (Values::Numbers(n), Ty::Number(_) | Ty::Point(_)) => (true, n.len()),
                    (Values::Text { ids, .. }, Ty::Text) => (true, ids.len()),
                    (Values::Choice(labels), Ty::Choice(_)) => (true, labels.len()),
                    (Values::YesNo(truths), Ty::Truth) => (true, truths.len()),
                    (Values::Date(days), Ty::Point(Scale::Day)) => (true, days.len()),
                    _ => (false, 0),
                };
                kind && len == input.rows
                    && data
                        .absent
                        .as_ref()
                        .is_none_or(|absent| absent.len() == input.rows)
            });
            if !fits {
                return wrong(*table, WrongInput::Column(*column));
            }
        }
    }
    Ok(())
}

/// The state of a row of an input column.
pub(super) fn code(absence: Absence) -> Code {
    match absence {
        Absence::Present => PRESENT,
        Absence::Blank => 1,
        Absence::NotApplicable => 2,
        Absence::Unreadable => 3,
    }
}

/// A value to be where there is none.
pub(super) fn placeholder(ty: &Ty) -> Single {
    match ty {
        Ty::Number(_) | Ty::Point(_) => Single::Number(Exact::ZERO),
        Ty::Truth => Single::Truth(false),
        Ty::Choice(_) => Single::Label(0),
        Ty::Text => Single::Text(0),
    }
}

/// Rows of an input column. Numerators without an opposite, which kernels rely on, are made exact numbers.
pub(super) fn read_values<'t>(
    values: &'t Values,
    range: std::ops::Range<usize>,
    numbers: Option<&[u32]>,
) -> Data<'t> {
    match values {
        Values::Numbers(Numbers::Scaled { num, den }) => {
            let num = &num[range.clone()];
            match bound(num) {
                most if most <= LIMIT => Data::Scaled {
                    num: Cow::Borrowed(num),
                    den: *den,
                    most,
                },
                _ => Data::Exact(
                    num.iter()
                        .map(|n| Exact::ratio(*n, *den).unwrap_or(Exact::ZERO))
                        .collect(),
                ),
            }
        }
        Values::Numbers(Numbers::Exact(rows)) => Data::Exact(Cow::Borrowed(&rows[range])),
        Values::Text { ids, .. } => match numbers {
            None => Data::Text(Cow::Borrowed(&ids[range])),
            Some(numbers) => Data::Text(
                ids[range]
                    .iter()
                    .map(|id| numbers.get(crate::ids::at(*id)).copied().unwrap_or(0))
                    .collect(),
            ),
        },
        Values::Choice(labels) => Data::Label(Cow::Borrowed(&labels[range])),
        Values::YesNo(truths) => Data::Truth(Cow::Borrowed(&truths[range])),
        Values::Date(days) => {
            Data::scaled(days[range].iter().map(|day| i64::from(*day)).collect(), 1)
        }
    }
}

/// The values of a coarser column at these rows.
pub(super) fn take_rows(whole: &Piece<'_>, rows: &[u32]) -> Piece<'static> {
    let rows = || rows.iter().map(|row| crate::ids::at(*row));
    let data = match &whole.data {
        Data::One(single) => Data::One(single.clone()),
        Data::Scaled { num, den, most } => Data::Scaled {
            num: rows().map(|row| num[row]).collect(),
            den: *den,
            most: *most,
        },
        Data::Ratios(all) => Data::Ratios(all.take(rows())),
        Data::Exact(all) => Data::Exact(rows().map(|row| all[row].clone()).collect()),
        Data::Truth(all) => Data::Truth(rows().map(|row| all[row]).collect()),
        Data::Label(all) => Data::Label(rows().map(|row| all[row]).collect()),
        Data::Text(all) => Data::Text(rows().map(|row| all[row]).collect()),
    };
    let states = match &whole.states {
        States::All(code) => States::All(*code),
        States::Rows(all) => States::of_rows(rows().map(|row| all[row]).collect()),
    };
    Piece { data, states }
}

/// The same piece, owned.
pub(super) fn own(piece: &Piece<'_>) -> Piece<'static> {
    let data = match &piece.data {
        Data::One(single) => Data::One(single.clone()),
        Data::Scaled { num, den, most } => Data::Scaled {
            num: Cow::Owned(num.to_vec()),
            den: *den,
            most: *most,
        },
        Data::Ratios(ratios) => Data::Ratios(ratios.take(0..ratios.num.len())),
        Data::Exact(rows) => Data::Exact(Cow::Owned(rows.to_vec())),
        Data::Truth(rows) => Data::Truth(Cow::Owned(rows.to_vec())),
        Data::Label(rows) => Data::Label(Cow::Owned(rows.to_vec())),
        Data::Text(rows) => Data::Text(Cow::Owned(rows.to_vec())),
    };
    Piece {
        data,
        states: piece.states.clone().into_owned(),
    }
}
