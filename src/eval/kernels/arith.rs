//! Sum, difference, product, quotient, power, sign, smaller and larger.

use super::{Aligned, At, LIMIT, align, fault_of, map, row_by_row, scaled, with_faults, zip};
use crate::eval::FaultKind;
use crate::eval::chunk::{Code, Data, Ints, PRESENT, Piece, Ratios, Side, Single, States, lcm};
use crate::number::{Exact, gcd};
use std::borrow::Cow;

/// The least common multiple of the divisors of a stretch is sought only up to this.
const MOST_DIVISOR: i64 = 1 << 20;

/// `a + b`.
pub(in crate::eval) fn add(at: At<'_>, a: &Piece<'_>, b: &Piece<'_>) -> Piece<'static> {
    sum(at, a, b, false)
}

/// `a - b`.
pub(in crate::eval) fn sub(at: At<'_>, a: &Piece<'_>, b: &Piece<'_>) -> Piece<'static> {
    sum(at, a, b, true)
}

fn sum(at: At<'_>, a: &Piece<'_>, b: &Piece<'_>, minus: bool) -> Piece<'static> {
    let states = a.states.both(&b.states);
    if let (Some(x), Some(y)) = (a.data.ints(), b.data.ints())
        && let Some(data) = sum_ints(at.len, &x, &y, minus)
    {
        return Piece {
            data,
            states: states.into_owned(),
        };
    }
    if let Some(data) = sum_fractions(at.len, &a.data, &b.data, minus) {
        return Piece {
            data,
            states: states.into_owned(),
        };
    }
    row_by_row(at, states, |row| {
        let (x, y) = (a.data.number(row), b.data.number(row));
        if minus { x.sub(&y) } else { x.add(&y) }.map_err(fault_of)
    })
}

fn sum_ints(len: usize, a: &Ints<'_>, b: &Ints<'_>, minus: bool) -> Option<Data<'static>> {
    let aligned = align(a, b)?;
    let Aligned { den, fa, fb, .. } = aligned;
    let within = |a: u64, b: u64| a.checked_add(b).filter(|most| *most <= LIMIT);
    let most = within(aligned.most_a, aligned.most_b).or_else(|| {
        within(
            a.side.most().checked_mul(fa.unsigned_abs())?,
            b.side.most().checked_mul(fb.unsigned_abs())?,
        )
    })?;
    let num = match (fa, fb, minus) {
        (1, 1, false) => zip(len, a.side, b.side, |x, y| x + y),
        (1, 1, true) => zip(len, a.side, b.side, |x, y| x - y),
        (_, _, false) => zip(len, a.side, b.side, |x, y| x * fa + y * fb),
        (_, _, true) => zip(len, a.side, b.side, |x, y| x * fa - y * fb),
    };
    Some(scaled(num, den, most))
}

fn sum_fractions(len: usize, a: &Data<'_>, b: &Data<'_>, minus: bool) -> Option<Data<'static>> {
    let (a, b) = (a.fractions()?, b.fractions()?);
    let crossed = a
        .most
        .checked_mul(b.most_den)?
        .checked_add(b.most.checked_mul(a.most_den)?)?;
    ratios(len, crossed, a.most_den.checked_mul(b.most_den)?, |row| {
        let (da, db) = (a.den.at(row), b.den.at(row));
        let (x, y) = (a.num.at(row) * db, b.num.at(row) * da);
        (if minus { x - y } else { x + y }, da * db)
    })
}

/// `a * b`.
pub(in crate::eval) fn mul(at: At<'_>, a: &Piece<'_>, b: &Piece<'_>) -> Piece<'static> {
    let states = a.states.both(&b.states);
    if let (Some(x), Some(y)) = (a.data.ints(), b.data.ints())
        && let Some(data) = mul_ints(at.len, &x, &y)
    {
        return Piece {
            data,
            states: states.into_owned(),
        };
    }
    if let Some(data) = mul_fractions(at.len, &a.data, &b.data) {
        return Piece {
            data,
            states: states.into_owned(),
        };
    }
    row_by_row(at, states, |row| {
        a.data
            .number(row)
            .mul(&b.data.number(row))
            .map_err(fault_of)
    })
}

fn mul_ints(len: usize, a: &Ints<'_>, b: &Ints<'_>) -> Option<Data<'static>> {
    let (a, b) = (cancel(*a, b.den), cancel(*b, a.den));
    let (a, b) = ((a.0, b.1), (b.0, a.1)); // each with the denominator that the other's constant did not cancel
    let den = a.1.checked_mul(b.1)?;
    let (a, b) = (a.0, b.0);
    let within = |a: u64, b: u64| a.checked_mul(b).filter(|most| *most <= LIMIT);
    let most = within(a.most, b.most).or_else(|| within(a.side.most(), b.side.most()))?;
    Some(scaled(zip(len, a.side, b.side, |x, y| x * y), den, most))
}

fn mul_fractions(len: usize, a: &Data<'_>, b: &Data<'_>) -> Option<Data<'static>> {
    let (a, b) = (a.fractions()?, b.fractions()?);
    ratios(
        len,
        a.most.checked_mul(b.most)?,
        a.most_den.checked_mul(b.most_den)?,
        |row| (a.num.at(row) * b.num.at(row), a.den.at(row) * b.den.at(row)),
    )
}

/// A constant freed of what it shares with the other's denominator: the numbers, and what is left of that denominator.
fn cancel<'a>(ints: Ints<'a>, other_den: i64) -> (Ints<'a>, i64) {
    match ints.side {
        Side::One(n) if n != 0 => {
            let g = gcd(n, other_den);
            (
                Ints {
                    side: Side::One(n / g),
                    most: (n / g).unsigned_abs(),
                    ..ints
                },
                other_den / g,
            )
        }
        Side::One(_) | Side::Rows(_) => (ints, other_den),
    }
}

/// `a / b`; a fault on rows where `b` is zero.
pub(in crate::eval) fn div(at: At<'_>, a: &Piece<'_>, b: &Piece<'_>) -> Piece<'static> {
    let states = a.states.both(&b.states);
    if let Data::One(Single::Number(divisor)) = &b.data
        && let Ok(inverse) = Exact::ONE.div(divisor)
    {
        let inverse = Piece {
            data: Data::One(Single::Number(inverse)),
            states: b.states.clone(),
        };
        return mul(at, a, &inverse);
    }
    let failed = zero_divisors(at, &b.data, &states);
    let states = with_faults(states, at.len, &failed);
    if let (Some(x), Some(y)) = (a.data.ints(), b.data.ints())
        && let Some(data) = div_ints(at.len, &x, &y)
    {
        return Piece { data, states };
    }
    if let Some(data) = div_fractions(at.len, &a.data, &b.data) {
        return Piece { data, states };
    }
    row_by_row(at, states, |row| {
        a.data
            .number(row)
            .div(&b.data.number(row))
            .map_err(fault_of)
    })
}

/// The rows that have their operands and a divisor of zero.
pub(super) fn zero_divisors(
    at: At<'_>,
    divisor: &Data<'_>,
    states: &States<'_>,
) -> Vec<(usize, Code)> {
    let zero = |row: usize| match divisor {
        Data::Scaled { num, .. } => num[row] == 0,
        Data::Ratios(ratios) => ratios.num[row] == 0,
        Data::Exact(rows) => rows[row].is_zero(),
        Data::One(Single::Number(n)) => n.is_zero(),
        Data::One(_) | Data::Truth(_) | Data::Label(_) | Data::Text(_) => false,
    };
    let rows: Vec<usize> = (0..at.len)
        .filter(|row| zero(*row) && states.at(*row) == PRESENT)
        .collect();
    if rows.is_empty() {
        return Vec::new();
    }
    let code = at.fault(FaultKind::DivideByZero);
    rows.into_iter().map(|row| (row, code)).collect()
}

/// Quotients over one denominator: most divisors of a survey are small counts, whose common multiple is small too.
fn div_ints(len: usize, a: &Ints<'_>, b: &Ints<'_>) -> Option<Data<'static>> {
    let Side::Rows(divisors) = b.side else {
        return None;
    };
    let multiple = common_multiple(divisors)?;
    // (x / da) / (y / db) = x * (db * multiple / y) / (da * multiple)
    let g = gcd(b.den, a.den);
    let (up, down) = (b.den / g, a.den / g);
    let den = down.checked_mul(multiple)?;
    let factor = up.checked_mul(multiple)?;
    let within = |most: u64| {
        most.checked_mul(factor.unsigned_abs())
            .filter(|most| *most <= LIMIT)
    };
    let most = within(a.most).or_else(|| within(a.side.most()))?;
    let num = if multiple == 1 {
        zip(len, a.side, b.side, |x, y| x * up * y.signum())
    } else {
        zip(len, a.side, b.side, |x, y| {
            if y == 0 { 0 } else { x * up * (multiple / y) }
        })
    };
    Some(scaled(num, den, most))
}

/// Rows with a divisor of zero are faults already and are given any value.
fn div_fractions(len: usize, a: &Data<'_>, b: &Data<'_>) -> Option<Data<'static>> {
    let (a, b) = (a.fractions()?, b.fractions()?);
    ratios(
        len,
        a.most.checked_mul(b.most_den)?,
        a.most_den.checked_mul(b.most)?,
        |row| {
            let (n, d) = (a.num.at(row) * b.den.at(row), a.den.at(row) * b.num.at(row));
            if d < 0 { (-n, -d) } else { (n, d.max(1)) }
        },
    )
}

/// Ratios whose parts are known to be within `most` and `most_den`, when those fit.
pub(in crate::eval) fn ratios(
    len: usize,
    most: u64,
    most_den: u64,
    row: impl Fn(usize) -> (i64, i64),
) -> Option<Data<'static>> {
    if most > LIMIT || most_den > LIMIT {
        return None;
    }
    let (num, den): (Vec<i64>, Vec<i64>) = (0..len).map(row).unzip();
    Some(Data::Ratios(Ratios {
        num: Cow::Owned(num),
        den: Cow::Owned(den),
        most,
        most_den: most_den.max(1),
    }))
}

/// The least common multiple of the sizes of the values that are not zero, when it is small.
fn common_multiple(values: &[i64]) -> Option<i64> {
    let mut multiple = 1i64;
    let mut last = 1i64;
    for value in values {
        if *value != last && *value != 0 {
            last = *value;
            if multiple % value != 0 {
                multiple = lcm(multiple, value.checked_abs()?).filter(|m| *m <= MOST_DIVISOR)?;
            }
        }
    }
    Some(multiple)
}

/// `-a`.
pub(in crate::eval) fn negate(at: At<'_>, a: &Piece<'_>) -> Piece<'static> {
    one_side(at, a, |n| -n, Exact::neg)
}

/// The size of `a`.
pub(in crate::eval) fn abs(at: At<'_>, a: &Piece<'_>) -> Piece<'static> {
    one_side(at, a, i64::abs, Exact::abs)
}

fn one_side(
    at: At<'_>,
    a: &Piece<'_>,
    ints: impl Fn(i64) -> i64,
    exact: impl Fn(&Exact) -> Exact,
) -> Piece<'static> {
    let states = a.states.clone().into_owned();
    match a.data.ints() {
        Some(x) => Piece {
            data: scaled(map(at.len, x.side, ints), x.den, x.most),
            states,
        },
        None => row_by_row(at, states, |row| Ok(exact(&a.data.number(row)))),
    }
}

/// `a ^ exponent`.
pub(in crate::eval) fn power(at: At<'_>, a: &Piece<'_>, exponent: i32) -> Piece<'static> {
    if let (Some(x), Ok(times)) = (a.data.ints(), u32::try_from(exponent))
        && let Some(den) = x.den.checked_pow(times)
        && let Some(most) = x
            .most
            .checked_pow(times)
            .or_else(|| x.side.most().checked_pow(times))
        && most <= LIMIT
    {
        let num = map(at.len, x.side, |n| n.pow(times));
        return Piece {
            data: scaled(num, den, most.max(1)),
            states: a.states.clone().into_owned(),
        };
    }
    row_by_row(at, a.states.clone(), |row| {
        a.data.number(row).pow(exponent).map_err(fault_of)
    })
}

/// The least of several.
pub(in crate::eval) fn smaller(at: At<'_>, operands: &[&Piece<'_>]) -> Piece<'static> {
    fold(at, operands, std::cmp::min, |a, b| a.min(b))
}

/// The greatest of several.
pub(in crate::eval) fn larger(at: At<'_>, operands: &[&Piece<'_>]) -> Piece<'static> {
    fold(at, operands, std::cmp::max, |a, b| a.max(b))
}

fn fold(
    at: At<'_>,
    operands: &[&Piece<'_>],
    ints: impl Fn(i64, i64) -> i64 + Copy,
    exact: impl Fn(&Exact, &Exact) -> Exact + Copy,
) -> Piece<'static> {
    let Some((first, rest)) = operands.split_first() else {
        return Piece::clear(Data::One(Single::Number(Exact::ZERO)));
    };
    let mut so_far = Piece {
        data: own(at.len, &first.data),
        states: first.states.clone().into_owned(),
    };
    for next in rest {
        let states = so_far.states.both(&next.states).into_owned();
        let aligned = so_far
            .data
            .ints()
            .zip(next.data.ints())
            .and_then(|(x, y)| align(&x, &y).map(|by| (x, y, by)));
        so_far = match aligned {
            Some((x, y, by)) => {
                let num = zip(at.len, x.side, y.side, |x, y| ints(x * by.fa, y * by.fb));
                Piece {
                    data: scaled(num, by.den, by.most_a.max(by.most_b)),
                    states,
                }
            }
            None => {
                let (x, y) = (&so_far.data, &next.data);
                row_by_row(at, states, |row| Ok(exact(&x.number(row), &y.number(row))))
            }
        };
    }
    so_far
}

/// The numbers of a piece, owned.
fn own(len: usize, data: &Data<'_>) -> Data<'static> {
    match data {
        Data::One(single) => Data::One(single.clone()),
        Data::Scaled { num, den, most } => scaled(num.to_vec(), *den, *most),
        other @ (Data::Ratios(_)
        | Data::Exact(_)
        | Data::Truth(_)
        | Data::Label(_)
        | Data::Text(_)) => Data::of_exacts((0..len).map(|row| other.number(row)).collect()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::eval::chunk::Faults;
    use crate::eval::kernels::round::round;
    use crate::number::Rounding;
    use crate::program::NodeId;

    /// Ratios whose common denominator does not fit give what exact numbers give, row by row.
    #[test]
    fn ratios_agree_with_exact_numbers() {
        let primes = [1_000_003, 1_000_033, 999_983, 1_000_037, 7, 1];
        let num: Vec<i64> = (0..6).map(|row| (row - 2) * 123_457).collect();
        let by_den = Ratios {
            num: Cow::Borrowed(&num),
            den: Cow::Borrowed(&primes),
            most: 3 * 123_457,
            most_den: 1_000_037,
        };
        let by_den = Piece::clear(Data::Ratios(by_den));
        let whole = Piece::clear(Data::scaled(vec![5, -3, 0, 8, 21, -50], 100));
        let one = Piece::clear(Data::One(Single::Number(
            Exact::ratio(-7, 3).expect("3 is not zero"),
        )));
        let step = Piece::clear(Data::One(Single::Number(
            Exact::ratio(1, 100).expect("100 is not zero"),
        )));
        let faults = Faults::default();
        let at = At {
            faults: &faults,
            node: NodeId(0),
            len: 6,
        };
        type Kernel = fn(At<'_>, &Piece<'_>, &Piece<'_>) -> Piece<'static>;
        type Operation = fn(&Exact, &Exact) -> Result<Exact, crate::number::NumError>;
        let kernels: [(Kernel, Operation); 4] = [
            (add, Exact::add),
            (sub, Exact::sub),
            (mul, Exact::mul),
            (div, Exact::div),
        ];
        for (a, b) in [
            (&by_den, &whole),
            (&whole, &by_den),
            (&by_den, &one),
            (&one, &by_den),
        ] {
            for (kernel, exact) in kernels {
                let found = kernel(at, a, b);
                assert!(matches!(found.data, Data::Ratios(_)));
                let rounded = round(at, &found, &step, Rounding::HalfUp);
                assert!(matches!(rounded.data, Data::Scaled { .. }));
                for row in 0..6 {
                    match exact(&a.data.number(row), &b.data.number(row)) {
                        Ok(expected) => {
                            assert_eq!(found.data.number(row), expected);
                            let cents = expected.round_to(&step.data.number(0), Rounding::HalfUp);
                            assert_eq!(Ok(rounded.data.number(row)), cents);
                        }
                        Err(_) => {
                            assert_eq!(found.states.at(row), at.fault(FaultKind::DivideByZero))
                        }
                    }
                }
            }
        }
    }
}
