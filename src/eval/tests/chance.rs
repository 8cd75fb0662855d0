//! Numbers, texts and columns by chance.

use super::maker::TEXTS;
use crate::number::Exact;
use crate::program::{Adds, NumTy, Scale, Ty};
use crate::table::{Absence, ColumnData, Numbers, NumbersBuilder, Texts, Values};
use crate::units::Dim;

/// Chance from a seed (xorshift64*, Marsaglia 2003 and Vigna 2016).
pub(super) struct Chance(u64);

impl Chance {
    pub(super) fn new(seed: u64) -> Chance {
        Chance(seed.wrapping_mul(0x9E37_79B9_7F4A_7C15) | 1)
    }

    pub(super) fn next(&mut self) -> u64 {
        self.0 ^= self.0 >> 12;
        self.0 ^= self.0 << 25;
        self.0 ^= self.0 >> 27;
        self.0.wrapping_mul(0x2545_F491_4F6C_DD1D)
    }

    /// A number below `n`.
    pub(super) fn below(&mut self, n: usize) -> usize {
        ((self.next() >> 33) as usize) % n.max(1)
    }

    pub(super) fn one_in(&mut self, n: usize) -> bool {
        self.below(n) == 0
    }

    pub(super) fn pick<T: Clone>(&mut self, from: &[T]) -> T {
        from[self.below(from.len())].clone()
    }

    pub(super) fn between(&mut self, low: i64, high: i64) -> i64 {
        low + self.below((high - low + 1) as usize) as i64
    }
}

pub(super) fn exact(n: i64, d: i64) -> Exact {
    Exact::ratio(n, d).expect("a denominator above zero")
}

pub(super) fn number() -> Ty {
    Ty::Number(NumTy {
        dim: Dim::NONE,
        percent: false,
        adds: Adds::Yes,
        real: false,
    })
}

pub(super) fn a_number(chance: &mut Chance) -> Exact {
    match chance.below(12) {
        0 => Exact::ZERO,
        1..=4 => Exact::int(chance.between(-6, 12)),
        5..=7 => exact(chance.between(-40, 700), 16),
        8 => exact(chance.between(1, 100), 100),
        9 => exact(chance.between(-9, 9), chance.between(1, 7)),
        10 => exact(chance.between(1, i64::MAX / 2), chance.between(1, 1 << 30)),
        _ => Exact::int(i64::MAX)
            .mul(&Exact::int(chance.between(-5, 5)))
            .expect("fits"),
    }
}

pub(super) fn numbers(chance: &mut Chance, rows: usize, shape: usize) -> Values {
    let mut values = Vec::new();
    for _ in 0..rows {
        values.push(match shape {
            0 => exact(chance.between(16, 1600), 16),
            1 => Exact::int(chance.between(0, 6)),
            2 => exact(chance.between(0, 100), 100),
            3 => Exact::int(chance.between(-1_000_000, 1_000_000)),
            4 => exact(chance.between(1, i64::MAX / 4), chance.between(1, 9)),
            _ => a_number(chance),
        });
    }
    if chance.one_in(6) {
        return Values::Numbers(Numbers::Exact(values));
    }
    let mut builder = NumbersBuilder::default();
    values.iter().for_each(|v| builder.push(v));
    Values::Numbers(builder.finish())
}

/// A column of a type; numbers of one of six shapes.
pub(super) fn column(
    chance: &mut Chance,
    rows: usize,
    ty: &Ty,
    shape: usize,
    gaps: bool,
) -> ColumnData {
    let values = match ty {
        Ty::Number(_) => numbers(chance, rows, shape),
        Ty::Truth => Values::YesNo((0..rows).map(|_| chance.one_in(2)).collect()),
        Ty::Choice(_) => Values::Choice((0..rows).map(|_| chance.below(4) as u16).collect()),
        Ty::Point(Scale::Day) => Values::Date(
            (0..rows)
                .map(|_| chance.between(-3, 20_000) as i32)
                .collect(),
        ),
        Ty::Point(_) => numbers(chance, rows, shape),
        Ty::Text => {
            let first = chance.below(TEXTS.len() - 2);
            let pool: Texts = TEXTS[first..].iter().copied().collect();
            Values::Text {
                ids: (0..rows).map(|_| chance.below(pool.len()) as u32).collect(),
                pool,
            }
        }
    };
    let absent = gaps.then(|| {
        let kinds = [Absence::Blank, Absence::NotApplicable, Absence::Unreadable];
        (0..rows)
            .map(|_| {
                if chance.one_in(5) {
                    chance.pick(&kinds)
                } else {
                    Absence::Present
                }
            })
            .collect()
    });
    ColumnData { values, absent }
}
