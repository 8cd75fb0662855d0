//! Going up: sums, counts, extremes, means and conditions over the rows that belong to each coarser row.
//!
//! Each stretch is added up by itself and the parts are put together in order of rows, so the result never depends on
//! how many threads did the work. Must not know which grains are rolled up, only the map between their rows.

mod accounts;
mod extremes;

pub(super) use accounts::Accounts;
use accounts::Rows;
use extremes::{Extremes, extremes};

use super::FaultKind;
use super::chunk::{Code, Data, PRESENT, Piece, ROWS, Side, Single, States, absence, lcm};
use super::kernels::{At, fault_of};
use crate::number::{Exact, NumError};
use crate::program::AggregateKind;
use crate::table::Absence;
use std::borrow::Cow;
use std::ops::Range;

/// What is rolled up.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Job {
    /// As the language has it.
    Up(AggregateKind),
    /// How many rows.
    Count,
    /// The sum of the weights of a share; none may be below zero.
    Weights,
}

/// The operands of a stretch.
pub(super) struct Operands<'p> {
    pub(super) of: Option<&'p Piece<'p>>,
    pub(super) weight: Option<&'p Piece<'p>>,
    pub(super) filter: Option<&'p Piece<'p>>,
}

/// Sums by account.
#[derive(Debug)]
enum Sums {
    Scaled { num: Vec<i128>, den: i64 },
    Exact(Vec<Result<Exact, NumError>>),
}

/// One stretch, rolled up.
#[derive(Debug)]
pub(super) struct Part {
    rows: Rows,
    sums: Option<Sums>,
    weights: Option<Sums>,
    /// Least or greatest values.
    extremes: Option<Extremes>,
    /// Rows that count.
    counts: Vec<u32>,
    /// Rows among them that hold.
    holding: Vec<u32>,
    /// First fault by account.
    faults: Vec<(u32, Code)>,
    left_out: Vec<(u32, Absence)>,
}

/// Which rows of a stretch count, and the accounts' faults.
struct Taking {
    /// `None` when every row counts.
    taken: Option<Vec<bool>>,
    faults: Vec<(u32, Code)>,
    left_out: Vec<(u32, Absence)>,
}

fn taking(
    job: Job,
    of: Option<&Piece<'_>>,
    filter: Option<&Piece<'_>>,
    accounts: &Accounts<'_>,
    first_row: u32,
    at: At<'_>,
) -> Taking {
    let negative =
        |row: usize| job == Job::Weights && of.is_some_and(|of| is_negative(&of.data, row));
    let any_negative = job == Job::Weights && (0..at.len).any(negative);
    if filter.is_none()
        && of.is_none_or(|of| matches!(of.states, States::All(PRESENT)))
        && !any_negative
    {
        return Taking {
            taken: None,
            faults: Vec::new(),
            left_out: Vec::new(),
        };
    }
    let state = |piece: Option<&Piece<'_>>, row: usize| piece.map_or(PRESENT, |p| p.states.at(row));
    let mut faulty = vec![false; accounts.count()];
    let mut out = Taking {
        taken: None,
        faults: Vec::new(),
        left_out: Vec::new(),
    };
    let mut taken = vec![false; at.len];
    for (row, number) in (0..at.len).zip(first_row..) {
        let asked = state(filter, row);
        if asked == PRESENT && filter.is_some_and(|f| !f.data.truth(row)) {
            continue;
        }
        let operand = state(of, row);
        let code = match asked {
            PRESENT if operand == PRESENT && negative(row) => at.fault(FaultKind::NegativeWeight),
            PRESENT => operand,
            code => code,
        };
        match absence(code) {
            None => {
                let account = accounts.of(row);
                if !std::mem::replace(&mut faulty[account], true) {
                    out.faults.push((crate::ids::row(account), code)); // accounts are numbered by 32 bits
                }
            }
            Some(Absence::Present) => taken[row] = true,
            Some(absence) => out.left_out.push((number, absence)),
        }
    }
    out.taken = Some(taken);
    out
}

fn is_negative(data: &Data<'_>, row: usize) -> bool {
    match data {
        Data::Scaled { num, .. } => num[row] < 0,
        other @ (Data::One(_)
        | Data::Ratios(_)
        | Data::Exact(_)
        | Data::Truth(_)
        | Data::Label(_)
        | Data::Text(_)) => other.number(row).signum() < 0,
    }
}

impl Part {
    /// Rolls up a stretch whose first row is `first_row`.
    pub(super) fn new(
        job: Job,
        operands: &Operands<'_>,
        accounts: &Accounts<'_>,
        first_row: u32,
        at: At<'_>,
    ) -> Part {
        // The products of a weighted mean come first: they are missing, or fail, where either operand does.
        let product = match (job, operands.of, operands.weight) {
            (Job::Up(AggregateKind::Mean), Some(of), Some(weight)) => {
                Some(super::kernels::arith::mul(at, of, weight))
            }
            _ => None,
        };
        let Taking {
            taken,
            faults,
            left_out,
        } = taking(
            job,
            product.as_ref().or(operands.of),
            operands.filter,
            accounts,
            first_row,
            at,
        );
        let taken = taken.as_deref();
        let mut part = Part {
            rows: accounts.rows.clone(),
            sums: None,
            weights: None,
            extremes: None,
            counts: Vec::new(),
            holding: Vec::new(),
            faults,
            left_out,
        };
        match (job, operands.of) {
            (Job::Count, _) | (Job::Up(AggregateKind::Count), _) | (_, None) => {
                part.counts = count(at.len, taken, accounts, |_| true)
            }
            (Job::Up(AggregateKind::Sum) | Job::Weights, Some(of)) => {
                part.sums = Some(sum(at.len, &of.data, taken, accounts));
                if job == Job::Weights {
                    part.counts = count(at.len, taken, accounts, |_| true);
                }
            }
            (Job::Up(AggregateKind::Mean), Some(of)) => {
                part.counts = count(at.len, taken, accounts, |_| true);
                let values = product.as_ref().map_or(&of.data, |product| &product.data);
                part.sums = Some(sum(at.len, values, taken, accounts));
                part.weights = operands
                    .weight
                    .map(|weight| sum(at.len, &weight.data, taken, accounts));
            }
            (Job::Up(AggregateKind::Least), Some(of)) => {
                part.extremes = Some(extremes(at.len, of, taken, accounts, true))
            }
            (Job::Up(AggregateKind::Most), Some(of)) => {
                part.extremes = Some(extremes(at.len, of, taken, accounts, false))
            }
            (Job::Up(AggregateKind::Any | AggregateKind::All), Some(of)) => {
                part.counts = count(at.len, taken, accounts, |_| true);
                part.holding = match &of.data {
                    Data::Truth(holds) => count(at.len, taken, accounts, |row| holds[row]),
                    other @ (Data::One(_)
                    | Data::Scaled { .. }
                    | Data::Ratios(_)
                    | Data::Exact(_)
                    | Data::Label(_)
                    | Data::Text(_)) => count(at.len, taken, accounts, |row| other.truth(row)),
                };
            }
        }
        part
    }

    /// The stretches of coarser rows that this part has accounts in.
    fn stretches(&self) -> Range<usize> {
        match self.rows.count() {
            0 => 0..0,
            count => self.rows.row(0) / ROWS..self.rows.row(count - 1) / ROWS + 1,
        }
    }
}

/// Rows by account that are taken and hold.
fn count(
    len: usize,
    taken: Option<&[bool]>,
    accounts: &Accounts<'_>,
    holds: impl Fn(usize) -> bool,
) -> Vec<u32> {
    let mut counts = vec![0u32; accounts.count()];
    accounts.each_taken(len, taken, |row, account| {
        counts[account] += u32::from(holds(row))
    });
    counts
}

fn sum(len: usize, data: &Data<'_>, taken: Option<&[bool]>, accounts: &Accounts<'_>) -> Sums {
    if let Some(x) = data.ints() {
        let mut num = vec![0i128; accounts.count()];
        // 64 bits hold the sum of a stretch unless its numbers are very large.
        let within_64 = x
            .most
            .checked_mul(crate::ids::long(len))
            .is_some_and(|most| most <= i64::MAX.unsigned_abs());
        match (x.side, &accounts.of_row, taken) {
            (Side::Rows(rows), None, None) if !accounts.own => {
                num[0] = match within_64 {
                    true => i128::from(rows.iter().sum::<i64>()),
                    false => rows.iter().map(|n| i128::from(*n)).sum(),
                };
            }
            (Side::Rows(rows), Some(of_row), None) if within_64 => {
                let mut small = vec![0i64; accounts.count()];
                for (n, account) in rows.iter().zip(of_row.iter()) {
                    small[crate::ids::at(*account)] += n;
                }
                num = small.into_iter().map(i128::from).collect();
            }
            (side, ..) => accounts.each_taken(len, taken, |row, account| {
                num[account] += i128::from(side.at(row))
            }),
        }
        return Sums::Scaled { num, den: x.den };
    }
    let mut sums: Vec<Result<Exact, NumError>> = vec![Ok(Exact::ZERO); accounts.count()];
    accounts.each_taken(len, taken, |row, account| {
        let slot = &mut sums[account];
        *slot = slot
            .clone()
            .and_then(|so_far| so_far.add(&data.number(row)));
    });
    Sums::Exact(sums)
}

/// The sum of the rows of a stretch.
pub(super) fn sum_of_all(len: usize, data: &Data<'_>) -> Result<Exact, NumError> {
    let whole = Accounts {
        of_row: None,
        own: false,
        rows: Rows::First(1),
    };
    sum(len, data, None, &whole).get(0)
}

/// The rows left out of a roll-up because they are missing, with why.
pub(super) type LeftOut = Vec<(u32, Absence)>;

/// For each stretch of `coarse` rows, the parts that have accounts in it, in order.
pub(super) fn by_stretch(parts: &[Part], coarse: usize) -> Vec<Vec<&Part>> {
    let mut found: Vec<Vec<&Part>> = vec![Vec::new(); coarse.div_ceil(ROWS)];
    for part in parts {
        found
            .get_mut(part.stretches())
            .into_iter()
            .flatten()
            .for_each(|list| list.push(part));
    }
    found
}

/// The rows that were left out of a roll-up.
pub(super) fn left_out(parts: &[Part]) -> LeftOut {
    parts
        .iter()
        .flat_map(|part| &part.left_out)
        .copied()
        .collect()
}

/// Puts the parts of a stretch of coarser rows together, the first of them `start`.
pub(super) fn join(job: Job, parts: &[&Part], start: usize, at: At<'_>) -> Piece<'static> {
    let mut joined = Joined {
        codes: vec![PRESENT; at.len],
        sums: Totals::default(),
        weights: Totals::default(),
        extremes: None,
        counts: vec![0; at.len],
        holding: vec![0; at.len],
    };
    for part in parts {
        joined.add(job, part, start, at.len);
    }
    joined.finish(job, at)
}

/// What the parts come to, row by row.
struct Joined {
    codes: Vec<Code>,
    sums: Totals,
    weights: Totals,
    extremes: Option<Extremes>,
    counts: Vec<u64>,
    /// How many rows hold.
    holding: Vec<u64>,
}

impl Joined {
    fn add(&mut self, job: Job, part: &Part, start: usize, len: usize) {
        let accounts = part.rows.within(&(start..start + len));
        let row = |account: usize| part.rows.row(account) - start;
        for (account, code) in part
            .faults
            .iter()
            .filter(|fault| accounts.contains(&crate::ids::at(fault.0)))
        {
            let slot = &mut self.codes[row(crate::ids::at(*account))];
            if *slot == PRESENT {
                *slot = *code;
            }
        }
        for (to, from) in [
            (&mut self.counts, &part.counts),
            (&mut self.holding, &part.holding),
        ] {
            for (account, n) in accounts.clone().zip(from.iter().skip(accounts.start)) {
                to[row(account)] += u64::from(*n);
            }
        }
        if let Some(part) = &part.sums {
            self.sums.add(part, accounts.clone(), row, len);
        }
        if let Some(part) = &part.weights {
            self.weights.add(part, accounts.clone(), row, len);
        }
        if let Some(part) = &part.extremes {
            let den = if let Extremes::Scaled { den, .. } = part {
                *den
            } else {
                1
            };
            let so_far = self.extremes.get_or_insert_with(|| Extremes::Scaled {
                num: vec![None; len],
                den,
            });
            so_far.add(part, accounts, row, job == Job::Up(AggregateKind::Least));
        }
    }

    fn finish(self, job: Job, at: At<'_>) -> Piece<'static> {
        let faulty = |failed: Vec<(usize, Code)>, mut codes: Vec<Code>| {
            for (row, code) in failed {
                if codes[row] == PRESENT {
                    codes[row] = code;
                }
            }
            States::of_rows(codes)
        };
        let truths = |truths: Vec<bool>, codes: Vec<Code>| Piece {
            data: Data::Truth(Cow::Owned(truths)),
            states: States::of_rows(codes),
        };
        match job {
            Job::Count | Job::Up(AggregateKind::Count) => {
                let counts = self.counts.iter();
                let counts = counts.map(|n| i64::try_from(*n).unwrap_or(i64::MAX));
                Piece {
                    data: Data::scaled(counts.collect(), 1),
                    states: States::of_rows(self.codes),
                }
            }
            Job::Up(AggregateKind::Any) => {
                truths(self.holding.iter().map(|n| *n > 0).collect(), self.codes)
            }
            Job::Up(AggregateKind::All) => {
                let both = self.holding.iter().zip(&self.counts);
                truths(both.map(|(n, all)| n == all).collect(), self.codes)
            }
            Job::Up(AggregateKind::Sum) | Job::Weights => {
                let (data, failed) = self.sums.finish(at);
                Piece {
                    data,
                    states: faulty(failed, self.codes),
                }
            }
            Job::Up(AggregateKind::Least | AggregateKind::Most) => {
                let (none, data) = self
                    .extremes
                    .unwrap_or_else(|| Extremes::Exact(vec![None; at.len]))
                    .finish();
                let none = none
                    .into_iter()
                    .filter(|row| self.codes[*row] == PRESENT)
                    .map(|row| (row, at.fault(FaultKind::EmptyGroup)))
                    .collect();
                Piece {
                    data,
                    states: faulty(none, self.codes),
                }
            }
            Job::Up(AggregateKind::Mean) => {
                mean(at, self.sums, self.weights, &self.counts, self.codes)
            }
        }
    }
}

fn mean(
    at: At<'_>,
    sums: Totals,
    weights: Totals,
    counts: &[u64],
    mut codes: Vec<Code>,
) -> Piece<'static> {
    let weighted = weights.0.is_some();
    let mut values = Vec::with_capacity(at.len);
    for row in 0..at.len {
        let value = match codes[row] {
            PRESENT if counts[row] == 0 => Err(FaultKind::EmptyGroup),
            PRESENT => {
                let all = match weighted {
                    true => weights.get(row),
                    false => Ok(Exact::int(i64::try_from(counts[row]).unwrap_or(i64::MAX))),
                };
                match all {
                    Ok(all) if all.is_zero() => Err(FaultKind::ZeroWeights),
                    all => all
                        .and_then(|all| sums.get(row)?.div(&all))
                        .map_err(fault_of),
                }
            }
            _ => Ok(Exact::ZERO),
        };
        values.push(value.unwrap_or_else(|kind| {
            codes[row] = at.fault(kind);
            Exact::ZERO
        }));
    }
    Piece {
        data: Data::of_exacts(values),
        states: States::of_rows(codes),
    }
}

/// Sums over all parts so far; `None` before the first.
#[derive(Default)]
struct Totals(Option<Sums>);

impl Totals {
    /// Adds some accounts of a part; `row` is the place of each among `len` rows.
    fn add(
        &mut self,
        part: &Sums,
        accounts: Range<usize>,
        row: impl Fn(usize) -> usize,
        len: usize,
    ) {
        let so_far = self.0.get_or_insert_with(|| Sums::Scaled {
            num: vec![0; len],
            den: 1,
        });
        if let (
            Sums::Scaled { num, den },
            Sums::Scaled {
                num: more,
                den: more_den,
            },
        ) = (&mut *so_far, part)
            && let Some(wide) = lcm(*den, *more_den)
        {
            let (up, more_up) = (i128::from(wide / *den), i128::from(wide / more_den));
            let fits = (up == 1 || num.iter().all(|n| n.checked_mul(up).is_some()))
                && accounts.clone().all(|account| {
                    let so_far = num[row(account)].checked_mul(up);
                    so_far
                        .zip(more[account].checked_mul(more_up))
                        .and_then(|(a, b)| a.checked_add(b))
                        .is_some()
                });
            if fits {
                if up != 1 {
                    num.iter_mut().for_each(|n| *n *= up);
                    *den = wide;
                }
                for account in accounts {
                    num[row(account)] += more[account] * more_up;
                }
                return;
            }
        }
        let mut sums: Vec<Result<Exact, NumError>> =
            match std::mem::replace(so_far, Sums::Exact(Vec::new())) {
                Sums::Exact(sums) => sums,
                scaled @ Sums::Scaled { .. } => (0..len).map(|row| scaled.get(row)).collect(),
            };
        for account in accounts {
            let slot = &mut sums[row(account)];
            *slot = slot
                .clone()
                .and_then(|so_far| so_far.add(&part.get(account)?));
        }
        *so_far = Sums::Exact(sums);
    }

    fn get(&self, row: usize) -> Result<Exact, NumError> {
        self.0
            .as_ref()
            .map_or(Ok(Exact::ZERO), |sums| sums.get(row))
    }

    fn finish(self, at: At<'_>) -> (Data<'static>, Vec<(usize, Code)>) {
        match &self.0 {
            None => return (Data::One(Single::Number(Exact::ZERO)), Vec::new()),
            Some(Sums::Scaled { num, den }) => {
                if let Ok(num) = num
                    .iter()
                    .map(|n| i64::try_from(*n))
                    .collect::<Result<Vec<i64>, _>>()
                    && let Some(data) = Data::reduced(num, *den)
                {
                    return (data, Vec::new());
                }
            }
            Some(Sums::Exact(_)) => {}
        }
        let mut failed = Vec::new();
        let values = (0..at.len).map(|row| {
            self.get(row).unwrap_or_else(|error| {
                failed.push((row, at.fault(fault_of(error))));
                Exact::ZERO
            })
        });
        let values = values.collect();
        (Data::of_exacts(values), failed)
    }
}

impl Sums {
    fn get(&self, account: usize) -> Result<Exact, NumError> {
        match self {
            Sums::Exact(sums) => sums[account].clone(),
            Sums::Scaled { num, den } => Exact::from_i128(num[account]).div(&Exact::int(*den)),
        }
    }
}
