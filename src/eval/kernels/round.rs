//! Rounding to a step, and a quotient rounded at once so that no ratio is ever stored.

use super::arith::zero_divisors;
use super::{At, LIMIT, fault_of, fill, row_by_row, scaled, with_faults};
use crate::eval::FaultKind;
use crate::eval::chunk::{Code, Data, Ints, PRESENT, Piece, Side, States};
use crate::number::{Exact, NumError, Rounding, gcd};
use crate::program::NodeId;

/// Counts up to this are divided by with a reciprocal each.
const MOST_COUNT: i64 = 64;

/// `value` rounded to multiples of `step`; a fault on rows where the step is not above zero.
pub(in crate::eval) fn round(
    at: At<'_>,
    value: &Piece<'_>,
    step: &Piece<'_>,
    mode: Rounding,
) -> Piece<'static> {
    let states = value.states.both(&step.states);
    let states = step_faults(at, &step.data, states);
    if let (Some(x), Some(s)) = (value.data.ints(), step.data.ints())
        && let Some(data) = round_ints(at.len, &x, &s, mode)
    {
        return Piece { data, states };
    }
    // A ratio is a quotient of whole numbers.
    if let (Data::Ratios(_), Some(x), Some(s)) =
        (&value.data, value.data.fractions(), step.data.ints())
    {
        let (num, den) = (
            Ints {
                side: x.num,
                den: 1,
                most: x.most,
            },
            Ints {
                side: x.den,
                den: 1,
                most: x.most_den,
            },
        );
        if let Some(data) = quotient_ints(at.len, &num, &den, &s, mode) {
            return Piece { data, states };
        }
    }
    row_by_row(at, states, |row| {
        round_row(&value.data.number(row), &step.data.number(row), mode)
    })
}

/// `a / b` rounded to multiples of `step`; `quotient` is the node of the division, for its faults.
pub(in crate::eval) fn round_quotient(
    at: At<'_>,
    quotient: NodeId,
    (a, b): (&Piece<'_>, &Piece<'_>),
    step: &Piece<'_>,
    mode: Rounding,
) -> Piece<'static> {
    let inner = At {
        node: quotient,
        ..at
    };
    let divided = a.states.both(&b.states);
    let failed = zero_divisors(inner, &b.data, &divided);
    let divided = with_faults(divided, at.len, &failed);
    let states = step_faults(at, &step.data, divided.both(&step.states));
    if let (Some(x), Some(y), Some(s)) = (a.data.ints(), b.data.ints(), step.data.ints())
        && let Some(data) = quotient_ints(at.len, &x, &y, &s, mode)
    {
        return Piece { data, states };
    }
    // Too many digits is reported at the node where it arises, so the division is calculated as its own node first.
    let value = row_by_row(inner, divided, |row| {
        a.data
            .number(row)
            .div(&b.data.number(row))
            .map_err(fault_of)
    });
    round(at, &value, step, mode)
}

fn round_row(value: &Exact, step: &Exact, mode: Rounding) -> Result<Exact, FaultKind> {
    value.round_to(step, mode).map_err(|error| match error {
        NumError::DivideByZero => FaultKind::NotPositiveStep,
        other @ (NumError::TooManyDigits
        | NumError::NotExact
        | NumError::LogOfNonPositive
        | NumError::RootOfNegative) => fault_of(other),
    })
}

/// The states with a fault where the operands are there and the step is not above zero.
fn step_faults(at: At<'_>, step: &Data<'_>, states: States<'_>) -> States<'static> {
    let bad = |row: usize| match step {
        Data::Scaled { num, .. } => num[row] <= 0,
        other @ (Data::One(_)
        | Data::Ratios(_)
        | Data::Exact(_)
        | Data::Truth(_)
        | Data::Label(_)
        | Data::Text(_)) => other.number(row).signum() <= 0,
    };
    let rows: Vec<usize> = match step {
        Data::One(_) if !bad(0) => Vec::new(),
        Data::One(_)
        | Data::Scaled { .. }
        | Data::Ratios(_)
        | Data::Exact(_)
        | Data::Truth(_)
        | Data::Label(_)
        | Data::Text(_) => (0..at.len)
            .filter(|row| states.at(*row) == PRESENT && bad(*row))
            .collect(),
    };
    let failed: Vec<(usize, Code)> = match rows.is_empty() {
        true => Vec::new(),
        false => {
            let code = at.fault(FaultKind::NotPositiveStep);
            rows.into_iter().map(|row| (row, code)).collect()
        }
    };
    with_faults(states, at.len, &failed)
}

fn round_ints(
    len: usize,
    value: &Ints<'_>,
    step: &Ints<'_>,
    mode: Rounding,
) -> Option<Data<'static>> {
    // x / d in steps of n / c is (x * c) / (d * n)
    let Side::One(n) = step.side else {
        return round_any(len, value, None, step, mode);
    };
    if n <= 0 {
        return None;
    }
    let (up, down) = reduced(step.den, value.den)?;
    let g = gcd(up, n);
    let (up, n_left) = (up / g, n / g);
    let divisor = down.checked_mul(n_left)?;
    let within = |most: u64| {
        most.checked_mul(up.unsigned_abs())
            .filter(|most| *most <= LIMIT)
    };
    let most_up = within(value.most).or_else(|| within(value.side.most()))?;
    // A multiple is at most one step further out than the value.
    let most_steps = most_up / divisor.unsigned_abs() + 1;
    let most = most_steps
        .checked_mul(n.unsigned_abs())
        .filter(|most| *most <= LIMIT)?;
    let by = Divisor::new(divisor, most_up)?;
    let num = match value.side {
        Side::One(x) => vec![n * steps(&by, x * up, mode); len],
        Side::Rows(rows) => round_rows(rows, up, &by, n, mode),
    };
    Some(scaled(num, step.den, most))
}

/// One loop for each mode, so that the mode is not asked on every row.
fn round_rows(rows: &[i64], up: i64, by: &Divisor, n: i64, mode: Rounding) -> Vec<i64> {
    #[inline(always)]
    fn each(rows: &[i64], up: i64, by: &Divisor, n: i64, mode: Rounding) -> Vec<i64> {
        fill(rows.iter().map(|x| n * steps(by, x * up, mode)))
    }
    match mode {
        Rounding::Up => each(rows, up, by, n, Rounding::Up),
        Rounding::Down => each(rows, up, by, n, Rounding::Down),
        Rounding::HalfUp => each(rows, up, by, n, Rounding::HalfUp),
        Rounding::HalfEven => each(rows, up, by, n, Rounding::HalfEven),
        other @ (Rounding::TowardZero
        | Rounding::AwayFromZero
        | Rounding::HalfDown
        | Rounding::Up05) => each(rows, up, by, n, other),
    }
}

/// How many steps a value of `x / divisor` steps has once rounded.
#[inline(always)]
fn steps(by: &Divisor, x: i64, mode: Rounding) -> i64 {
    let (floor, rest) = by.floor(x);
    floor + i64::from((rest != 0) & goes_up(mode, floor, rest, by.value.cast_signed()))
}

/// Whether the multiple above the floor is taken; `rest` of `divisor` is what the floor leaves, and is not zero.
#[inline(always)]
fn goes_up(mode: Rounding, floor: i64, rest: i64, divisor: i64) -> bool {
    let other = divisor - rest;
    let negative = floor < 0;
    match mode {
        Rounding::Up => true,
        Rounding::Down => false,
        Rounding::TowardZero => negative,
        Rounding::AwayFromZero => !negative,
        Rounding::HalfUp => (rest > other) | ((rest == other) & !negative),
        Rounding::HalfDown => (rest > other) | ((rest == other) & negative),
        Rounding::HalfEven => (rest > other) | ((rest == other) & (floor & 1 != 0)),
        Rounding::Up05 => {
            let toward_zero = if negative { floor + 1 } else { floor };
            (toward_zero % 5 == 0) != negative
        }
    }
}

/// Rounds quotients, or values to a step that differs by row: a division by a different number on each row.
fn quotient_ints(
    len: usize,
    a: &Ints<'_>,
    b: &Ints<'_>,
    step: &Ints<'_>,
    mode: Rounding,
) -> Option<Data<'static>> {
    round_any(len, a, Some(b), step, mode)
}

/// `a / b` (or `a`) in multiples of `step`: (x / da) / (y / db) in steps of n / c is (x * db * c) / (da * y * n).
fn round_any(
    len: usize,
    a: &Ints<'_>,
    b: Option<&Ints<'_>>,
    step: &Ints<'_>,
    mode: Rounding,
) -> Option<Data<'static>> {
    let one = Ints {
        side: Side::One(1),
        den: 1,
        most: 1,
    };
    let b = b.unwrap_or(&one);
    let (up, down) = reduced(b.den.checked_mul(step.den)?, a.den)?;
    let within = |most: u64, by: u64| most.checked_mul(by).filter(|most| *most <= LIMIT);
    let (most_b, most_step) = (b.side.most(), step.side.most());
    let most =
        within(a.most, up.unsigned_abs()).or_else(|| within(a.side.most(), up.unsigned_abs()))?;
    within(within(most_b, most_step)?, down.unsigned_abs())?;
    let most_up = most;
    // A multiple is at most one step further out than the value, and the divisor is at least 1 in size.
    let most = within(most.checked_add(1)?, most_step)?;
    if let (Side::Rows(rows), Side::Rows(divisors), Side::One(n)) = (a.side, b.side, step.side)
        && let Some(num) = small_quotients(rows, divisors, (up, n * down, n), most_up, mode)
    {
        return Some(scaled(num, step.den, most));
    }
    let num = (0..len)
        .map(|row| {
            let (x, y, n) = (a.side.at(row), b.side.at(row), step.side.at(row));
            // Rows that are faults already are given any value.
            if y == 0 || n <= 0 {
                return 0;
            }
            let (top, bottom) = if y < 0 {
                (-x * up, -y * n * down)
            } else {
                (x * up, y * n * down)
            };
            let (mut floor, mut rest) = (top / bottom, top % bottom);
            if rest < 0 {
                floor -= 1;
                rest += bottom;
            }
            n * (floor + i64::from(rest != 0 && goes_up(mode, floor, rest, bottom)))
        })
        .collect();
    Some(scaled(num, step.den, most))
}

/// Quotients by small counts, each count with its reciprocal; `None` when the divisors are no small counts.
fn small_quotients(
    rows: &[i64],
    divisors: &[i64],
    (up, down, n): (i64, i64, i64),
    most_up: u64,
    mode: Rounding,
) -> Option<Vec<i64>> {
    let (low, high) = divisors.iter().fold((0, 0), |(low, high): (i64, i64), y| {
        (low.min(*y), high.max(*y))
    });
    if low < 0 || high > MOST_COUNT || down <= 0 {
        return None;
    }
    // Rows with a divisor of zero are faults already and are given any value.
    let by = (0..=high)
        .map(|y| Divisor::new(y.max(1).checked_mul(down)?, most_up))
        .collect::<Option<Vec<Divisor>>>()?;
    let pairs = rows.iter().zip(divisors);
    Some(match mode {
        Rounding::Down => {
            fill(pairs.map(|(x, y)| n * steps(&by[crate::ids::size(*y)], x * up, Rounding::Down)))
        }
        Rounding::Up => {
            fill(pairs.map(|(x, y)| n * steps(&by[crate::ids::size(*y)], x * up, Rounding::Up)))
        }
        mode @ (Rounding::TowardZero
        | Rounding::AwayFromZero
        | Rounding::HalfUp
        | Rounding::HalfDown
        | Rounding::HalfEven
        | Rounding::Up05) => {
            fill(pairs.map(|(x, y)| n * steps(&by[crate::ids::size(*y)], x * up, mode)))
        }
    })
}

/// A fraction in lowest terms; both are above zero.
fn reduced(up: i64, down: i64) -> Option<(i64, i64)> {
    let g = gcd(up, down);
    Some((up.checked_div(g)?, down.checked_div(g)?))
}

/// A divisor that many rows share: divides by multiplying with its reciprocal, without a branch.
#[derive(Debug, Clone, Copy)]
struct Divisor {
    value: u64,
    /// The greatest whole number below 2^64 that is not above 2^64 / value.
    reciprocal: u64,
    /// A multiple of the value that lifts every dividend above zero, and which multiple it is.
    lift: u64,
    lift_steps: i64,
}

impl Divisor {
    /// For dividends up to `most` either way; `None` when they are too large for lifting. `value` must be above zero.
    fn new(value: i64, most: u64) -> Option<Divisor> {
        let value = value.unsigned_abs();
        if most > LIMIT / 4 || value > LIMIT / 4 {
            return None;
        }
        let reciprocal = u64::try_from((1u128 << 64) / u128::from(value)).unwrap_or(u64::MAX);
        let lift_steps = most.div_ceil(value);
        Some(Divisor {
            value,
            reciprocal,
            lift: lift_steps * value,
            lift_steps: i64::try_from(lift_steps).ok()?,
        })
    }

    /// The greatest whole number not above `x / value`, and what it leaves.
    /// The product with the reciprocal falls short by one at most, as the dividend is below 2^64.
    #[inline(always)]
    #[expect(clippy::as_conversions, reason = "the upper half of 128 bits has 64")]
    fn floor(&self, x: i64) -> (i64, i64) {
        let lifted = self.lift.wrapping_add_signed(x);
        let short = ((u128::from(lifted) * u128::from(self.reciprocal)) >> 64) as u64;
        let left = lifted - short * self.value;
        let more = u64::from(left >= self.value);
        // Both are far below 2^63.
        (
            (short + more).cast_signed() - self.lift_steps,
            (left - more * self.value).cast_signed(),
        )
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_reciprocal_divides_as_the_machine_does() {
        let top = i64::MAX / 4;
        let edges = [
            0,
            1,
            2,
            3,
            5,
            15,
            16,
            17,
            144,
            999_999_937,
            top / 2,
            top / 2 + 1,
            top - 1,
            top,
        ];
        for d in edges.into_iter().filter(|d| *d > 0) {
            for most in [top, 1_000_000_000] {
                let by = Divisor::new(d, most.unsigned_abs()).expect("small enough");
                for x in edges
                    .into_iter()
                    .flat_map(|x| [x, -x, x / 3, -(x / 7)])
                    .filter(|x| x.abs() <= most)
                {
                    assert_eq!(by.floor(x), (x.div_euclid(d), x.rem_euclid(d)), "{x} / {d}");
                }
            }
        }
        assert!(Divisor::new(3, LIMIT / 2).is_none());
    }

    #[test]
    fn every_mode_agrees_with_the_exact_number() {
        let modes = [
            Rounding::Up,
            Rounding::Down,
            Rounding::TowardZero,
            Rounding::AwayFromZero,
            Rounding::HalfUp,
            Rounding::HalfDown,
            Rounding::HalfEven,
            Rounding::Up05,
        ];
        let values: Vec<i64> = (-60..=60).collect();
        for mode in modes {
            for (n, c) in [(1, 1), (1, 16), (3, 4), (5, 1), (10, 3)] {
                let value = Ints {
                    side: Side::Rows(&values),
                    den: 8,
                    most: 60,
                };
                let step = Ints {
                    side: Side::One(n),
                    den: c,
                    most: n.unsigned_abs(),
                };
                let data =
                    round_ints(values.len(), &value, &step, mode).expect("small numbers fit");
                let by_row =
                    round_any(values.len(), &value, None, &step, mode).expect("small numbers fit");
                for (row, x) in values.iter().enumerate() {
                    let exact = Exact::ratio(*x, 8).expect("8 is not zero");
                    let step = Exact::ratio(n, c).expect("not zero");
                    assert_eq!(
                        Ok(data.number(row)),
                        exact.round_to(&step, mode),
                        "{x}/8 to {n}/{c} {mode:?}"
                    );
                    assert_eq!(
                        Ok(by_row.number(row)),
                        exact.round_to(&step, mode),
                        "{x}/8 to {n}/{c} {mode:?}"
                    );
                }
            }
        }
    }
}
