//! Conditions: orders, equality, membership, presence, and, or, not.

use super::{At, align, zip_truth};
use crate::eval::chunk::{Code, Data, FIRST_FAULT, PRESENT, Piece, Side, Single, States, strict};
use crate::program::{Compare, PresenceTest};
use std::borrow::Cow;

/// Orders two columns of numbers; days and moments are numbers of days.
pub(in crate::eval) fn compare(
    at: At<'_>,
    op: Compare,
    a: &Piece<'_>,
    b: &Piece<'_>,
) -> Piece<'static> {
    let states = a.states.both(&b.states).into_owned();
    Piece {
        data: truth(numbers(at.len, op, &a.data, &b.data)),
        states,
    }
}

fn numbers(len: usize, op: Compare, a: &Data<'_>, b: &Data<'_>) -> Vec<bool> {
    if let (Some(x), Some(y)) = (a.ints(), b.ints())
        && let Some(by) = align(&x, &y)
    {
        // The factors of a constant are folded in, so that the loop over rows is one comparison.
        let scaled = |side, factor| match side {
            Side::One(n) => (Side::One(n * factor), 1),
            rows @ Side::Rows(_) => (rows, factor),
        };
        let ((x, fx), (y, fy)) = (scaled(x.side, by.fa), scaled(y.side, by.fb));
        return match op {
            Compare::Less => zip_truth(len, x, y, |x, y| x * fx < y * fy),
            Compare::LessEq => zip_truth(len, x, y, |x, y| x * fx <= y * fy),
            Compare::Greater => zip_truth(len, x, y, |x, y| x * fx > y * fy),
            Compare::GreaterEq => zip_truth(len, x, y, |x, y| x * fx >= y * fy),
            Compare::Same => zip_truth(len, x, y, |x, y| x * fx == y * fy),
            Compare::NotSame => zip_truth(len, x, y, |x, y| x * fx != y * fy),
        };
    }
    (0..len)
        .map(|row| op.holds(a.number(row).cmp(&b.number(row))))
        .collect()
}

/// Whether two labels of one choice, two texts of one class, or two truths are the same.
pub(in crate::eval) fn same(at: At<'_>, a: &Piece<'_>, b: &Piece<'_>) -> Piece<'static> {
    let states = a.states.both(&b.states).into_owned();
    let truths = match (&a.data, &b.data) {
        (Data::Label(x), Data::One(Single::Label(y))) => x.iter().map(|x| x == y).collect(),
        (Data::Text(x), Data::One(Single::Text(y))) => x.iter().map(|x| x == y).collect(),
        (Data::Label(_) | Data::One(Single::Label(_)), _) => (0..at.len)
            .map(|row| a.data.label(row) == b.data.label(row))
            .collect(),
        (Data::Text(_) | Data::One(Single::Text(_)), _) => (0..at.len)
            .map(|row| a.data.text(row) == b.data.text(row))
            .collect(),
        (Data::Truth(_) | Data::One(Single::Truth(_)), _) => (0..at.len)
            .map(|row| a.data.truth(row) == b.data.truth(row))
            .collect(),
        _ => numbers(at.len, Compare::Same, &a.data, &b.data),
    };
    Piece {
        data: truth(truths),
        states,
    }
}

/// Whether a label is among some.
pub(in crate::eval) fn label_in(at: At<'_>, subject: &Piece<'_>, labels: &[u16]) -> Piece<'static> {
    let truths = match (&subject.data, labels) {
        (Data::Label(rows), [only]) => rows.iter().map(|label| label == only).collect(),
        (Data::Label(rows), _) if labels.iter().all(|label| *label < 64) => {
            let among = labels.iter().fold(0u64, |among, label| among | 1 << label);
            rows.iter()
                .map(|label| *label < 64 && among >> label & 1 == 1)
                .collect()
        }
        (other, _) => (0..at.len)
            .map(|row| labels.contains(&other.label(row)))
            .collect(),
    };
    Piece {
        data: truth(truths),
        states: subject.states.clone().into_owned(),
    }
}

/// The opposite.
pub(in crate::eval) fn not(at: At<'_>, a: &Piece<'_>) -> Piece<'static> {
    let truths = match &a.data {
        Data::Truth(rows) => rows.iter().map(|t| !t).collect(),
        other @ (Data::One(_)
        | Data::Scaled { .. }
        | Data::Ratios(_)
        | Data::Exact(_)
        | Data::Label(_)
        | Data::Text(_)) => (0..at.len).map(|row| !other.truth(row)).collect(),
    };
    Piece {
        data: truth(truths),
        states: a.states.clone().into_owned(),
    }
}

/// False as soon as one side is false, whatever the other lacks.
pub(in crate::eval) fn and(at: At<'_>, a: &Piece<'_>, b: &Piece<'_>) -> Piece<'static> {
    either(at, a, b, false)
}

/// True as soon as one side is true, whatever the other lacks.
pub(in crate::eval) fn or(at: At<'_>, a: &Piece<'_>, b: &Piece<'_>) -> Piece<'static> {
    either(at, a, b, true)
}

/// `deciding` on one side settles the result.
fn either(at: At<'_>, a: &Piece<'_>, b: &Piece<'_>, deciding: bool) -> Piece<'static> {
    if let (States::All(PRESENT), States::All(PRESENT)) = (&a.states, &b.states) {
        let join = |x: bool, y: bool| if deciding { x | y } else { x & y };
        let truths = match (&a.data, &b.data) {
            (Data::Truth(x), Data::Truth(y)) => {
                x.iter().zip(y.iter()).map(|(x, y)| join(*x, *y)).collect()
            }
            (x, y) => (0..at.len)
                .map(|row| join(x.truth(row), y.truth(row)))
                .collect(),
        };
        return Piece::clear(truth(truths));
    }
    let mut truths = Vec::with_capacity(at.len);
    let mut codes = Vec::with_capacity(at.len);
    for row in 0..at.len {
        let (x, y) = (a.states.at(row), b.states.at(row));
        let settled = (x == PRESENT && a.data.truth(row) == deciding)
            || (y == PRESENT && b.data.truth(row) == deciding);
        truths.push(settled == deciding);
        codes.push(if settled { PRESENT } else { strict(x, y) });
    }
    Piece {
        data: truth(truths),
        states: States::of_rows(codes),
    }
}

/// Asks whether a value is there; a fault stays a fault.
pub(in crate::eval) fn presence(
    at: At<'_>,
    value: &Piece<'_>,
    test: PresenceTest,
) -> Piece<'static> {
    let asked: Code = match test {
        PresenceTest::Known => PRESENT,
        PresenceTest::Blank => 1,
        PresenceTest::NotApplicable => 2,
    };
    let fault = |code: Code| if code >= FIRST_FAULT { code } else { PRESENT };
    match &value.states {
        States::All(code) => Piece {
            data: Data::One(Single::Truth(*code == asked)),
            states: States::All(fault(*code)),
        },
        States::Rows(rows) => Piece {
            data: truth(
                rows.iter()
                    .take(at.len)
                    .map(|code| *code == asked)
                    .collect(),
            ),
            states: States::of_rows(rows.iter().map(|code| fault(*code)).collect()),
        },
    }
}

fn truth(rows: Vec<bool>) -> Data<'static> {
    Data::Truth(Cow::Owned(rows))
}
