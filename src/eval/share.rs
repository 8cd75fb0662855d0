//! Going down by parts: an amount of a coarser row split over its rows in proportion to a weight.
//!
//! The parts of a coarser row always add up to its amount. A row whose weight is missing takes no part.

use super::FaultKind;
use super::chunk::{Code, Data, PRESENT, Piece, Side, States, common_scale, strict, widest};
use super::grain::RowMap;
use super::kernels::arith::ratios;
use super::kernels::{At, LIMIT, fault_of, row_by_row, scaled};
use super::rollup::Accounts;
use crate::number::{Exact, NumError, SplitError, largest_remainder};

/// Parts of a stretch without steps: weight × whole ÷ sum of weights. `whole` and `sums` are of the coarser grain.
pub(super) fn share(
    at: At<'_>,
    whole: &Piece<'_>,
    sums: &Piece<'_>,
    weight: &Piece<'_>,
    accounts: &Accounts<'_>,
) -> Piece<'static> {
    let factors: Vec<(Code, Code, Result<Exact, FaultKind>)> = (0..accounts.count())
        .map(|account| {
            let coarse = accounts.coarse(account);
            let (whole_state, sum_state) = (whole.states.at(coarse), sums.states.at(coarse));
            let factor = match strict(whole_state, sum_state) {
                PRESENT => factor(&whole.data.number(coarse), &sums.data.number(coarse)),
                _ => Ok(Exact::ZERO),
            };
            (whole_state, sum_state, factor)
        })
        .collect();
    let states = (0..at.len).map(|row| {
        let (whole_state, sum_state, factor) = &factors[accounts.of(row)];
        match (
            strict(strict(*whole_state, weight.states.at(row)), *sum_state),
            factor,
        ) {
            (PRESENT, Err(kind)) => at.fault(*kind),
            (code, _) => code,
        }
    });
    let states = States::of_rows(states.collect());
    let factors: Vec<Exact> = factors
        .into_iter()
        .map(|f| f.2.unwrap_or_default())
        .collect();
    if let (Some((by, by_den)), Some(x)) = (common_scale(&factors), weight.data.ints())
        && let Some(den) = x.den.checked_mul(by_den)
        && let Some(most) = widest(&by)
            .checked_mul(x.side.most())
            .filter(|most| *most <= LIMIT)
    {
        let num = match x.side {
            Side::One(n) => (0..at.len).map(|row| n * by[accounts.of(row)]).collect(),
            Side::Rows(rows) => rows
                .iter()
                .enumerate()
                .map(|(row, n)| n * by[accounts.of(row)])
                .collect(),
        };
        return Piece {
            data: scaled(num, den, most),
            states,
        };
    }
    let small = factors
        .iter()
        .map(Exact::small)
        .collect::<Option<Vec<(i64, i64)>>>();
    if let (Some(by), Some(x)) = (small, weight.data.fractions())
        && let Some(most) = by
            .iter()
            .map(|by| by.0.unsigned_abs())
            .max()
            .unwrap_or(0)
            .checked_mul(x.most)
        && let Some(most_den) = by
            .iter()
            .map(|by| by.1.unsigned_abs())
            .max()
            .unwrap_or(1)
            .checked_mul(x.most_den)
        && let Some(data) = ratios(at.len, most, most_den, |row| {
            let by = by[accounts.of(row)];
            (x.num.at(row) * by.0, x.den.at(row) * by.1)
        })
    {
        return Piece { data, states };
    }
    row_by_row(at, states, |row| {
        weight
            .data
            .number(row)
            .mul(&factors[accounts.of(row)])
            .map_err(fault_of)
    })
}

fn factor(whole: &Exact, sum: &Exact) -> Result<Exact, FaultKind> {
    match (whole.is_zero(), sum.is_zero()) {
        (true, _) => Ok(Exact::ZERO),
        (false, true) => Err(FaultKind::ZeroWeights),
        (false, false) => whole.div(sum).map_err(fault_of),
    }
}

/// Parts of all rows in multiples of `step`, by largest remainder within each coarser row.
pub(super) fn share_in_steps(
    at: At<'_>,
    whole: &Piece<'_>,
    sums: &Piece<'_>,
    weight: &Piece<'_>,
    (map, coarse): (&RowMap<'_>, usize),
    step: &Exact,
) -> Piece<'static> {
    let mut codes = Vec::with_capacity(at.len);
    let mut rows_of: Vec<Vec<usize>> = vec![Vec::new(); coarse];
    for row in 0..at.len {
        let coarse = map.row(row);
        let code = strict(
            strict(whole.states.at(coarse), weight.states.at(row)),
            sums.states.at(coarse),
        );
        if let (PRESENT, Some(rows)) = (code, rows_of.get_mut(coarse)) {
            rows.push(row);
        }
        codes.push(code);
    }
    let mut parts = vec![Exact::ZERO; at.len];
    for (coarse, rows) in rows_of
        .into_iter()
        .enumerate()
        .filter(|(_, rows)| !rows.is_empty())
    {
        let weights: Vec<Exact> = rows.iter().map(|row| weight.data.number(*row)).collect();
        match split(
            &whole.data.number(coarse),
            &sums.data.number(coarse),
            step,
            &weights,
        ) {
            Ok(split) => rows
                .into_iter()
                .zip(split)
                .for_each(|(row, part)| parts[row] = part),
            Err(kind) => {
                let code = at.fault(kind);
                rows.into_iter().for_each(|row| codes[row] = code);
            }
        }
    }
    Piece {
        data: Data::of_exacts(parts),
        states: States::of_rows(codes),
    }
}

fn split(
    whole: &Exact,
    sum: &Exact,
    step: &Exact,
    weights: &[Exact],
) -> Result<Vec<Exact>, FaultKind> {
    if step.signum() <= 0 {
        return Err(FaultKind::NotPositiveStep);
    }
    if whole.is_zero() {
        return Ok(vec![Exact::ZERO; weights.len()]);
    }
    if sum.is_zero() {
        return Err(FaultKind::ZeroWeights);
    }
    if let Some(parts) = split_ints(whole, step, weights) {
        return Ok(parts);
    }
    largest_remainder(whole, step, weights).map_err(|error| match error {
        SplitError::NoWeight => FaultKind::ZeroWeights,
        SplitError::NegativeWeight(_) => FaultKind::NegativeWeight,
        SplitError::NotWholeSteps => FaultKind::NotMultipleOfStep,
        SplitError::Number(NumError::DivideByZero) => FaultKind::NotPositiveStep,
        SplitError::Number(error) => fault_of(error),
    })
}

/// The same with whole numbers, for weights that share a denominator; `None` when they do not, or the amount is not
/// a whole number of steps.
fn split_ints(whole: &Exact, step: &Exact, weights: &[Exact]) -> Option<Vec<Exact>> {
    let steps = i128::from(whole.abs().div(step).ok()?.to_i64()?);
    let (weights, _) = common_scale(weights)?;
    let sum: i128 = weights.iter().map(|w| i128::from(*w)).sum();
    if sum <= 0 || weights.iter().any(|w| *w < 0) {
        return None;
    }
    // Both factors fit 64 bits, so their product fits 128.
    let quotas: Vec<(i128, i128)> = weights
        .iter()
        .map(|w| (steps * i128::from(*w) / sum, steps * i128::from(*w) % sum))
        .collect();
    let given: i128 = quotas.iter().map(|q| q.0).sum();
    let extra = usize::try_from(steps - given).ok()?;
    let mut order: Vec<usize> = (0..quotas.len()).collect();
    order.sort_by(|a, b| quotas[*b].1.cmp(&quotas[*a].1)); // stable: ties keep their order
    let mut counts: Vec<i128> = quotas.iter().map(|q| q.0).collect();
    for at in order.into_iter().take(extra) {
        counts[at] += 1;
    }
    let signed = if whole.signum() < 0 {
        step.neg()
    } else {
        step.clone()
    };
    counts
        .into_iter()
        .map(|count| Exact::from_i128(count).mul(&signed).ok())
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn whole_number_split_agrees_with_the_exact_one() {
        let lists: [&[i64]; 4] = [
            &[3, 7, 11],
            &[1, 1, 1],
            &[0, 5, 0, 5],
            &[47_000, 16_000, 15_900, 12_000, 6_000, 3_100],
        ];
        for weights in lists {
            let weights: Vec<Exact> = weights
                .iter()
                .map(|w| Exact::ratio(*w, 8).expect("8 is not zero"))
                .collect();
            for whole in [-250, 1, 10, 100, 9_999] {
                let (whole, step) = (
                    Exact::int(whole),
                    Exact::ratio(1, 100).expect("100 is not zero"),
                );
                let expected =
                    largest_remainder(&whole, &step, &weights).expect("a whole number of steps");
                assert_eq!(split_ints(&whole, &step, &weights), Some(expected));
            }
        }
    }
}
