//! Choosing between operands by row: conditions, choices, decisions, and what stands in for a missing value.
//!
//! Every operand is calculated on every row; what an operand lacks, or failed at, counts only on rows that take it.

use super::{At, align, fill};
use crate::eval::FaultKind;
use crate::eval::chunk::{Code, Data, PRESENT, Piece, Side, Single, States, lcm};
use crate::program::AbsentKind;
use std::borrow::Cow;

/// No operand is taken on this row.
const NONE: u16 = u16::MAX;

/// `then` where the condition holds, `otherwise` where it does not.
pub(in crate::eval) fn select(
    at: At<'_>,
    condition: &Piece<'_>,
    then: &Piece<'_>,
    otherwise: &Piece<'_>,
) -> Piece<'static> {
    if let (Data::Truth(test), States::All(PRESENT)) = (&condition.data, &condition.states)
        && let (States::All(PRESENT), States::All(PRESENT)) = (&then.states, &otherwise.states)
        && let (Some(x), Some(y)) = (then.data.ints(), otherwise.data.ints())
        && let Some(by) = align(&x, &y)
    {
        let (fa, fb) = (by.fa, by.fb);
        let num = match (x.side, y.side) {
            (Side::Rows(x), Side::Rows(y)) => fill(
                test.iter()
                    .zip(x)
                    .zip(y)
                    .map(|((t, x), y)| if *t { x * fa } else { y * fb }),
            ),
            (Side::Rows(x), Side::One(y)) => {
                let y = y * fb;
                fill(test.iter().zip(x).map(|(t, x)| if *t { x * fa } else { y }))
            }
            (Side::One(x), Side::Rows(y)) => {
                let x = x * fa;
                fill(test.iter().zip(y).map(|(t, y)| if *t { x } else { y * fb }))
            }
            (Side::One(x), Side::One(y)) => {
                let (x, y) = (x * fa, y * fb);
                fill(test.iter().map(|t| if *t { x } else { y }))
            }
        };
        return Piece::clear(super::scaled(num, by.den, by.most_a.max(by.most_b)));
    }
    let take = (0..at.len)
        .map(|row| u16::from(!condition.data.truth(row)))
        .collect();
    pick(at, &condition.states, take, &[then, otherwise])
}

/// The arm of the subject's label.
pub(in crate::eval) fn choose(
    at: At<'_>,
    subject: &Piece<'_>,
    arm_of: &[u16],
    arms: &[&Piece<'_>],
) -> Piece<'static> {
    let arm = |label: u16| arm_of.get(usize::from(label)).copied().unwrap_or(NONE);
    let take = match &subject.data {
        Data::Label(rows) => rows.iter().map(|label| arm(*label)).collect(),
        other @ (Data::One(_)
        | Data::Scaled { .. }
        | Data::Ratios(_)
        | Data::Exact(_)
        | Data::Truth(_)
        | Data::Text(_)) => (0..at.len).map(|row| arm(other.label(row))).collect(),
    };
    pick(at, &subject.states, take, arms)
}

/// The value itself, or `instead` where it is missing in the way asked for.
pub(in crate::eval) fn if_absent(
    at: At<'_>,
    value: &Piece<'_>,
    which: AbsentKind,
    instead: &Piece<'_>,
) -> Piece<'static> {
    let asked: Code = match which {
        AbsentKind::Blank => 1,
        AbsentKind::NotApplicable => 2,
    };
    if let (States::Rows(states), States::All(PRESENT)) = (&value.states, &instead.states)
        && let (Some(x), Some(y)) = (value.data.ints(), instead.data.ints())
        && let Some(by) = align(&x, &y)
    {
        let number = |(row, code): (usize, &Code)| {
            if *code == asked {
                y.side.at(row) * by.fb
            } else {
                x.side.at(row) * by.fa
            }
        };
        let num = fill(states.iter().enumerate().map(number));
        let states = States::of_rows(
            states
                .iter()
                .map(|code| if *code == asked { PRESENT } else { *code })
                .collect(),
        );
        return Piece {
            data: super::scaled(num, by.den, by.most_a.max(by.most_b)),
            states,
        };
    }
    let take = (0..at.len)
        .map(|row| u16::from(value.states.at(row) == asked))
        .collect();
    pick(at, &States::CLEAR, take, &[value, instead])
}

/// The operand that each row takes, where `states` lets it; a row that takes none has no decision.
fn pick(
    at: At<'_>,
    states: &States<'_>,
    take: Vec<u16>,
    operands: &[&Piece<'_>],
) -> Piece<'static> {
    let lost = take.iter().any(|t| usize::from(*t) >= operands.len());
    let clear = !lost && matches!(states, States::All(PRESENT));
    let states = if clear
        && operands
            .iter()
            .all(|o| matches!(o.states, States::All(PRESENT)))
    {
        States::CLEAR
    } else {
        let undecided = if lost {
            at.fault(FaultKind::NoDecision)
        } else {
            PRESENT
        };
        let codes = take.iter().enumerate().map(|(row, take)| {
            match (states.at(row), operands.get(usize::from(*take))) {
                (PRESENT, Some(operand)) => operand.states.at(row),
                (PRESENT, None) => undecided,
                (code, _) => code,
            }
        });
        States::of_rows(codes.collect())
    };
    Piece {
        data: pick_data(at.len, &take, operands),
        states,
    }
}

fn pick_data(len: usize, take: &[u16], operands: &[&Piece<'_>]) -> Data<'static> {
    let Some(first) = operands.first() else {
        return Data::One(Single::Truth(false));
    };
    let taken = |row: usize| {
        take.get(row)
            .and_then(|t| operands.get(usize::from(*t)))
            .map_or(&first.data, |o| &o.data)
    };
    match &first.data {
        Data::Truth(_) | Data::One(Single::Truth(_)) => Data::Truth(Cow::Owned(
            (0..len).map(|row| taken(row).truth(row)).collect(),
        )),
        Data::Label(_) | Data::One(Single::Label(_)) => Data::Label(Cow::Owned(
            (0..len).map(|row| taken(row).label(row)).collect(),
        )),
        Data::Text(_) | Data::One(Single::Text(_)) => Data::Text(Cow::Owned(
            (0..len).map(|row| taken(row).text(row)).collect(),
        )),
        Data::Scaled { .. } | Data::Ratios(_) | Data::Exact(_) | Data::One(Single::Number(_)) => {
            pick_numbers(len, take, operands).unwrap_or_else(|| {
                Data::of_exacts((0..len).map(|row| taken(row).number(row)).collect())
            })
        }
    }
}

/// Numbers of several operands over one denominator, when it fits.
fn pick_numbers(len: usize, take: &[u16], operands: &[&Piece<'_>]) -> Option<Data<'static>> {
    let ints = operands
        .iter()
        .map(|o| o.data.ints())
        .collect::<Option<Vec<_>>>()?;
    let den = ints.iter().try_fold(1i64, |den, x| lcm(den, x.den))?;
    let mut most = 0;
    let mut sides = Vec::with_capacity(ints.len());
    for x in &ints {
        let factor = den / x.den;
        let fits = |m: u64| {
            m.checked_mul(factor.unsigned_abs())
                .filter(|m| *m <= super::LIMIT)
        };
        most = most.max(fits(x.most).or_else(|| fits(x.side.most()))?);
        sides.push((x.side, factor));
    }
    let constants = sides.iter().map(|(side, factor)| match side {
        Side::One(n) => Some(n * factor),
        Side::Rows(_) => None,
    });
    if let Some(constants) = constants.collect::<Option<Vec<i64>>>() {
        let of = |take: &u16| constants.get(usize::from(*take)).copied().unwrap_or(0);
        return Some(super::scaled(fill(take.iter().map(of)), den, most));
    }
    let first = *sides.first()?;
    let num = (0..len).map(|row| {
        let (side, factor) = take
            .get(row)
            .and_then(|t| sides.get(usize::from(*t)))
            .copied()
            .unwrap_or(first);
        side.at(row) * factor
    });
    Some(super::scaled(fill(num), den, most))
}

/// The index of the line of a decision that holds on each row. `lines` holds its conditions, `None` for `otherwise`.
pub(in crate::eval) fn decide(
    at: At<'_>,
    lines: &[Option<&Piece<'_>>],
    first_holds: bool,
) -> Piece<'static> {
    if let Some(labels) = decide_clear(at.len, lines, first_holds) {
        return Piece::clear(Data::Label(Cow::Owned(labels)));
    }
    let mut labels = Vec::with_capacity(at.len);
    let mut codes = Vec::with_capacity(at.len);
    for row in 0..at.len {
        match if first_holds {
            first_line(at, lines, row)
        } else {
            only_line(at, lines, row)
        } {
            Ok(line) => {
                labels.push(line);
                codes.push(PRESENT);
            }
            Err(code) => {
                labels.push(0);
                codes.push(code);
            }
        }
    }
    Piece {
        data: Data::Label(Cow::Owned(labels)),
        states: States::of_rows(codes),
    }
}

/// Decides line by line where every condition is known; `None` when one is not, or a row is not decided.
fn decide_clear(len: usize, lines: &[Option<&Piece<'_>>], first_holds: bool) -> Option<Vec<u16>> {
    let mut found = vec![NONE; len];
    let mut otherwise = NONE;
    let mut twice = false;
    for (index, line) in (0u16..).zip(lines) {
        match line {
            None if first_holds => found
                .iter_mut()
                .for_each(|found| *found = (*found).min(index)),
            None => otherwise = otherwise.min(index),
            Some(condition) => {
                let (Data::Truth(holds), States::All(PRESENT)) =
                    (&condition.data, &condition.states)
                else {
                    return None;
                };
                for (found, holds) in found.iter_mut().zip(holds.iter()) {
                    twice |= *holds & (*found != NONE);
                    *found = if *holds { (*found).min(index) } else { *found };
                }
            }
        }
    }
    if twice && !first_holds {
        return None;
    }
    let mut undecided = false;
    for found in &mut found {
        *found = if *found == NONE { otherwise } else { *found };
        undecided |= *found == NONE;
    }
    (!undecided).then_some(found)
}

/// The first line that holds; a condition that is unknown before it leaves the row unknown.
fn first_line(at: At<'_>, lines: &[Option<&Piece<'_>>], row: usize) -> Result<u16, Code> {
    for (index, line) in (0u16..).zip(lines) {
        match line {
            None => return Ok(index),
            Some(condition) => match condition.states.at(row) {
                PRESENT if condition.data.truth(row) => return Ok(index),
                PRESENT => {}
                code => return Err(code),
            },
        }
    }
    Err(at.fault(FaultKind::NoDecision))
}

/// The one line that holds; every condition must be known.
fn only_line(at: At<'_>, lines: &[Option<&Piece<'_>>], row: usize) -> Result<u16, Code> {
    let mut state = PRESENT;
    let mut found = None;
    let mut second = None;
    let mut otherwise = None;
    for (index, line) in (0u16..).zip(lines) {
        match line {
            None => otherwise = otherwise.or(Some(index)),
            Some(condition) => {
                let code = condition.states.at(row);
                state = crate::eval::chunk::strict(state, code);
                if code == PRESENT && condition.data.truth(row) {
                    if found.is_none() {
                        found = Some(index);
                    } else if second.is_none() {
                        second = Some(index);
                    }
                }
            }
        }
    }
    match (state, found, second) {
        (PRESENT, Some(one), Some(two)) => Err(at.fault(FaultKind::TwoDecisions(one, two))),
        (PRESENT, Some(line), None) => Ok(line),
        (PRESENT, None, _) => otherwise.ok_or_else(|| at.fault(FaultKind::NoDecision)),
        (code, _, _) => Err(code),
    }
}

/// The label of each line taken.
pub(in crate::eval) fn line_label(at: At<'_>, line: &Piece<'_>, labels: &[u16]) -> Piece<'static> {
    let label = |line: u16| labels.get(usize::from(line)).copied().unwrap_or(0);
    let rows = match &line.data {
        Data::Label(rows) => rows.iter().map(|l| label(*l)).collect(),
        other @ (Data::One(_)
        | Data::Scaled { .. }
        | Data::Ratios(_)
        | Data::Exact(_)
        | Data::Truth(_)
        | Data::Text(_)) => (0..at.len).map(|row| label(other.label(row))).collect(),
    };
    Piece {
        data: Data::Label(Cow::Owned(rows)),
        states: line.states.clone().into_owned(),
    }
}
