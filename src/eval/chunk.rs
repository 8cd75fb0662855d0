//! A stretch of rows of one node: its values and, where some are missing or failed, a state for each row.
//!
//! Knows representations: one value for all rows, scaled integers, exact numbers, small codes. Must not know what a node
//! means, nor dimensions, nor where rows come from.

use super::{Fault, FaultKind};
use crate::number::{Exact, gcd};
use crate::program::NodeId;
use crate::table::Absence;
use foldhash::HashMap;
use std::borrow::Cow;
use std::ops::Range;
use std::sync::Mutex;

/// Rows calculated at a time: small enough for the columns of a sheet to stay in the near caches. Tests use few, so that small
/// tables have many stretches.
pub(super) const ROWS: usize = if cfg!(test) { 8 } else { 4096 };

/// State of a row: 0 present, 1 to 3 an [`Absence`], [`FIRST_FAULT`] and above a fault of the run.
pub(super) type Code = u32;
/// The value is there.
pub(super) const PRESENT: Code = 0;
/// The first code that stands for a fault.
pub(super) const FIRST_FAULT: Code = 16;

/// A common denominator above this is not sought: the products of such numbers would not fit anyway.
const WIDEST_DEN: i64 = 1 << 40;

/// One value that stands for every row.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub(super) enum Single {
    Number(Exact),
    Truth(bool),
    Label(u16),
    /// Index into the texts of the node's class.
    Text(u32),
}

/// Values of a stretch.
#[derive(Debug, Clone)]
pub(super) enum Data<'a> {
    /// The same on every row.
    One(Single),
    /// Row i is `num[i] / den`; no numerator is beyond `most` either way.
    Scaled {
        num: Cow<'a, [i64]>,
        den: i64,
        most: u64,
    },
    /// Where no common denominator fits, but each row's fits 64 bits.
    Ratios(Ratios<'a>),
    /// Where that does not fit either.
    Exact(Cow<'a, [Exact]>),
    Truth(Cow<'a, [bool]>),
    Label(Cow<'a, [u16]>),
    Text(Cow<'a, [u32]>),
}

/// Row i is `num[i] / den[i]`, not always in lowest terms; denominators are above zero.
#[derive(Debug, Clone)]
pub(super) struct Ratios<'a> {
    pub(super) num: Cow<'a, [i64]>,
    pub(super) den: Cow<'a, [i64]>,
    /// No numerator is beyond this either way.
    pub(super) most: u64,
    /// No denominator is beyond this.
    pub(super) most_den: u64,
}

/// States of a stretch.
#[derive(Debug, Clone)]
pub(super) enum States<'a> {
    /// The same on every row.
    All(Code),
    /// One a row.
    Rows(Cow<'a, [Code]>),
}

/// Values and states of a stretch of one node. At rows that are not present the value is a placeholder.
#[derive(Debug, Clone)]
pub(super) struct Piece<'a> {
    pub(super) data: Data<'a>,
    pub(super) states: States<'a>,
}

/// A constant or a slice of integers.
#[derive(Debug, Clone, Copy)]
pub(super) enum Side<'a> {
    One(i64),
    Rows(&'a [i64]),
}

/// Numbers seen as integers over one denominator.
#[derive(Debug, Clone, Copy)]
pub(super) struct Ints<'a> {
    pub(super) side: Side<'a>,
    /// Above zero.
    pub(super) den: i64,
    /// No numerator is beyond this either way.
    pub(super) most: u64,
}

/// Numbers seen as integers over integers; denominators are above zero.
#[derive(Debug, Clone, Copy)]
pub(super) struct Fractions<'a> {
    pub(super) num: Side<'a>,
    pub(super) den: Side<'a>,
    /// No numerator is beyond this either way.
    pub(super) most: u64,
    /// No denominator is beyond this.
    pub(super) most_den: u64,
}

impl Side<'_> {
    #[inline]
    pub(super) fn at(&self, row: usize) -> i64 {
        match self {
            Side::One(n) => *n,
            Side::Rows(rows) => rows[row],
        }
    }

    /// The greatest size among the numerators.
    pub(super) fn most(&self) -> u64 {
        match self {
            Side::One(n) => n.unsigned_abs(),
            Side::Rows(rows) => widest(rows),
        }
    }
}

/// A bound of the sizes in a slice that costs less than the greatest of them, and is below twice that.
pub(super) fn bound(rows: &[i64]) -> u64 {
    // Joining bits needs no comparison of 64-bit numbers, which the basic instruction set cannot do for several values at once.
    let all = rows.iter().fold(0, |all, n| all | n);
    if all >= 0 {
        all.unsigned_abs()
    } else {
        widest(rows)
    }
}

thread_local! {
    /// Room that freed stretches of this thread leave for new ones.
    static SPARE: std::cell::RefCell<Vec<Vec<i64>>> = const { std::cell::RefCell::new(Vec::new()) };
}

/// Stretches of which the room is kept on a thread.
const MOST_SPARE: usize = 64;

/// An empty list with room, if there is any.
pub(super) fn spare() -> Vec<i64> {
    SPARE.with_borrow_mut(Vec::pop).unwrap_or_default()
}

/// Takes the room of a stretch that is no longer used.
pub(super) fn give_back(piece: Piece<'_>) {
    if let Data::Scaled {
        num: Cow::Owned(mut room),
        ..
    } = piece.data
    {
        room.clear();
        SPARE.with_borrow_mut(|spare| {
            if spare.len() < MOST_SPARE {
                spare.push(room);
            }
        });
    }
}

/// The greatest size in a slice.
pub(super) fn widest(rows: &[i64]) -> u64 {
    let (low, high) = rows
        .iter()
        .fold((0i64, 0i64), |(low, high), n| (low.min(*n), high.max(*n)));
    low.unsigned_abs().max(high.unsigned_abs())
}

impl Data<'_> {
    /// The numbers as integers over one denominator, when they are kept so.
    pub(super) fn ints(&self) -> Option<Ints<'_>> {
        match self {
            Data::One(Single::Number(n)) => {
                let (num, den) = n.small()?;
                Some(Ints {
                    side: Side::One(num),
                    den,
                    most: num.unsigned_abs(),
                })
            }
            Data::Scaled { num, den, most } => Some(Ints {
                side: Side::Rows(num),
                den: *den,
                most: *most,
            }),
            Data::One(Single::Truth(_) | Single::Label(_) | Single::Text(_))
            | Data::Ratios(_)
            | Data::Exact(_)
            | Data::Truth(_)
            | Data::Label(_)
            | Data::Text(_) => None,
        }
    }

    /// The numbers as integers over integers, when they are kept so.
    pub(super) fn fractions(&self) -> Option<Fractions<'_>> {
        match self {
            Data::Ratios(Ratios {
                num,
                den,
                most,
                most_den,
            }) => Some(Fractions {
                num: Side::Rows(num),
                den: Side::Rows(den),
                most: *most,
                most_den: *most_den,
            }),
            other @ (Data::One(_)
            | Data::Scaled { .. }
            | Data::Exact(_)
            | Data::Truth(_)
            | Data::Label(_)
            | Data::Text(_)) => {
                let ints = other.ints()?;
                Some(Fractions {
                    num: ints.side,
                    den: Side::One(ints.den),
                    most: ints.most,
                    most_den: ints.den.unsigned_abs(),
                })
            }
        }
    }

    /// The number of a row. A stretch in which no row has a value is kept as one `no`, and its number, which nothing reads, is zero.
    pub(super) fn number(&self, row: usize) -> Exact {
        match self {
            Data::One(Single::Number(n)) => n.clone(),
            Data::Scaled { num, den, .. } => Exact::ratio(num[row], *den).unwrap_or(Exact::ZERO),
            Data::Ratios(Ratios { num, den, .. }) => {
                Exact::ratio(num[row], den[row]).unwrap_or(Exact::ZERO)
            }
            Data::Exact(rows) => rows[row].clone(),
            Data::One(Single::Truth(_) | Single::Label(_) | Single::Text(_)) => Exact::ZERO,
            Data::Truth(_) | Data::Label(_) | Data::Text(_) => Exact::ZERO,
        }
    }

    /// The truth of a row, as [`Data::number`].
    #[inline]
    pub(super) fn truth(&self, row: usize) -> bool {
        match self {
            Data::One(Single::Truth(t)) => *t,
            Data::Truth(rows) => rows[row],
            Data::One(Single::Number(_) | Single::Label(_) | Single::Text(_)) => false,
            Data::Scaled { .. }
            | Data::Ratios(_)
            | Data::Exact(_)
            | Data::Label(_)
            | Data::Text(_) => false,
        }
    }

    /// The label of a row, as [`Data::number`].
    #[inline]
    pub(super) fn label(&self, row: usize) -> u16 {
        match self {
            Data::One(Single::Label(l)) => *l,
            Data::Label(rows) => rows[row],
            Data::One(Single::Number(_) | Single::Truth(_) | Single::Text(_)) => 0,
            Data::Scaled { .. }
            | Data::Ratios(_)
            | Data::Exact(_)
            | Data::Truth(_)
            | Data::Text(_) => 0,
        }
    }

    /// The text index of a row, as [`Data::number`].
    #[inline]
    pub(super) fn text(&self, row: usize) -> u32 {
        match self {
            Data::One(Single::Text(t)) => *t,
            Data::Text(rows) => rows[row],
            Data::One(Single::Number(_) | Single::Truth(_) | Single::Label(_)) => 0,
            Data::Scaled { .. }
            | Data::Ratios(_)
            | Data::Exact(_)
            | Data::Truth(_)
            | Data::Label(_) => 0,
        }
    }

    /// The value of a row by itself.
    pub(super) fn single(&self, row: usize) -> Single {
        match self {
            Data::One(single) => single.clone(),
            Data::Scaled { .. } | Data::Ratios(_) | Data::Exact(_) => {
                Single::Number(self.number(row))
            }
            Data::Truth(rows) => Single::Truth(rows[row]),
            Data::Label(rows) => Single::Label(rows[row]),
            Data::Text(rows) => Single::Text(rows[row]),
        }
    }

    /// Whether one value stands for every row.
    pub(super) fn is_one(&self) -> bool {
        matches!(self, Data::One(_))
    }
}

impl Ratios<'_> {
    /// Row i is `num[i] / den[i]`.
    pub(super) fn new(num: Vec<i64>, den: Vec<i64>) -> Ratios<'static> {
        let (most, most_den) = (widest(&num), widest(&den));
        Ratios {
            num: Cow::Owned(num),
            den: Cow::Owned(den),
            most,
            most_den,
        }
    }

    /// The numbers of some rows.
    pub(super) fn part(&self, rows: Range<usize>) -> Ratios<'_> {
        Ratios {
            num: Cow::Borrowed(&self.num[rows.clone()]),
            den: Cow::Borrowed(&self.den[rows]),
            most: self.most,
            most_den: self.most_den,
        }
    }

    /// The numbers of these rows, in this order.
    pub(super) fn take(&self, rows: impl Iterator<Item = usize> + Clone) -> Ratios<'static> {
        Ratios {
            num: rows.clone().map(|row| self.num[row]).collect(),
            den: rows.map(|row| self.den[row]).collect(),
            most: self.most,
            most_den: self.most_den,
        }
    }
}

impl States<'_> {
    /// Every value is there.
    pub(super) const CLEAR: States<'static> = States::All(PRESENT);

    #[inline]
    pub(super) fn at(&self, row: usize) -> Code {
        match self {
            States::All(code) => *code,
            States::Rows(rows) => rows[row],
        }
    }

    /// States in one form, `All` when all rows agree.
    pub(super) fn of_rows(rows: Vec<Code>) -> States<'static> {
        match rows.first() {
            Some(first) if rows.iter().any(|code| code != first) => States::Rows(Cow::Owned(rows)),
            first => States::All(first.copied().unwrap_or(PRESENT)),
        }
    }

    /// One code a row, to be changed.
    pub(super) fn to_rows(&self, len: usize) -> Vec<Code> {
        match self {
            States::All(code) => vec![*code; len],
            States::Rows(rows) => rows.to_vec(),
        }
    }

    /// The state of a strict operation on both.
    pub(super) fn both<'b>(&self, other: &States<'b>) -> States<'b> {
        match (self, other) {
            (States::All(PRESENT), _) => other.clone(),
            (States::All(a), States::All(b)) => States::All(strict(*a, *b)),
            (States::All(a), States::Rows(b)) => {
                States::of_rows(b.iter().map(|b| strict(*a, *b)).collect())
            }
            (States::Rows(a), States::All(b)) => {
                States::of_rows(a.iter().map(|a| strict(*a, *b)).collect())
            }
            (States::Rows(a), States::Rows(b)) => States::of_rows(
                a.iter()
                    .zip(b.iter())
                    .map(|(a, b)| strict(*a, *b))
                    .collect(),
            ),
        }
    }

    /// The same states, owned.
    pub(super) fn into_owned(self) -> States<'static> {
        match self {
            States::All(code) => States::All(code),
            States::Rows(rows) => States::Rows(Cow::Owned(rows.into_owned())),
        }
    }
}

/// State of an operation that needs both operands: a fault of either, left first, else the absence of either, left first.
#[inline]
pub(super) fn strict(a: Code, b: Code) -> Code {
    if a >= FIRST_FAULT {
        a
    } else if b >= FIRST_FAULT {
        b
    } else if a != PRESENT {
        a
    } else {
        b
    }
}

/// The absence a code stands for; `None` for a fault.
pub(super) fn absence(code: Code) -> Option<Absence> {
    match code {
        0 => Some(Absence::Present),
        1 => Some(Absence::Blank),
        2 => Some(Absence::NotApplicable),
        3 => Some(Absence::Unreadable),
        _ => None,
    }
}

impl<'a> Piece<'a> {
    /// Values that are all there.
    pub(super) fn clear(data: Data<'a>) -> Piece<'a> {
        Piece {
            data,
            states: States::CLEAR,
        }
    }

    /// A piece that borrows from this one.
    pub(super) fn borrow(&self) -> Piece<'_> {
        let data = match &self.data {
            Data::One(single) => Data::One(single.clone()),
            Data::Scaled { num, den, most } => Data::Scaled {
                num: Cow::Borrowed(num),
                den: *den,
                most: *most,
            },
            Data::Ratios(ratios) => Data::Ratios(ratios.part(0..ratios.num.len())),
            Data::Exact(rows) => Data::Exact(Cow::Borrowed(rows)),
            Data::Truth(rows) => Data::Truth(Cow::Borrowed(rows)),
            Data::Label(rows) => Data::Label(Cow::Borrowed(rows)),
            Data::Text(rows) => Data::Text(Cow::Borrowed(rows)),
        };
        let states = match &self.states {
            States::All(code) => States::All(*code),
            States::Rows(rows) => States::Rows(Cow::Borrowed(rows)),
        };
        Piece { data, states }
    }

    /// Whether one value and one state stand for every row.
    pub(super) fn is_one(&self) -> bool {
        self.data.is_one() && matches!(self.states, States::All(_))
    }

    /// A piece of one row as a value for any number of rows.
    pub(super) fn into_one(self) -> Piece<'static> {
        Piece {
            states: States::All(self.states.at(0)),
            data: Data::One(self.data.single(0)),
        }
    }
}

impl Data<'_> {
    /// Scaled integers with their true extent.
    pub(super) fn scaled(num: Vec<i64>, den: i64) -> Data<'static> {
        let most = widest(&num);
        Data::Scaled {
            num: Cow::Owned(num),
            den,
            most,
        }
    }

    /// Scaled numbers over the least denominator there is for them; `None` when they do not fit.
    pub(super) fn reduced(mut num: Vec<i64>, den: i64) -> Option<Data<'static>> {
        let mut common = den;
        for n in &num {
            if common == 1 {
                break;
            }
            if *n % common != 0 {
                common = gcd(common, *n);
            }
        }
        if common != 1 {
            num.iter_mut().for_each(|n| *n /= common);
        }
        // The least value has no opposite; kernels rely on every numerator having one.
        (den / common <= WIDEST_DEN && !num.contains(&i64::MIN))
            .then(|| Data::scaled(num, den / common))
    }

    /// Numbers in the leanest form: scaled where a common denominator fits.
    pub(super) fn of_exacts(rows: Vec<Exact>) -> Data<'static> {
        match common_scale(&rows) {
            Some((num, den)) => Data::scaled(num, den),
            None => Data::Exact(Cow::Owned(rows)),
        }
    }
}

/// The least common denominator of the values and their numerators over it, when both fit.
pub(super) fn common_scale(rows: &[Exact]) -> Option<(Vec<i64>, i64)> {
    let mut den = 1i64;
    for value in rows {
        let (_, d) = value.small()?;
        if den % d != 0 {
            den = lcm(den, d).filter(|den| *den <= WIDEST_DEN)?;
        }
    }
    let num = rows
        .iter()
        .map(|value| value.small().and_then(|(n, d)| n.checked_mul(den / d)))
        .collect::<Option<Vec<_>>>()?;
    // The least value has no opposite; kernels rely on every numerator having one.
    (!num.contains(&i64::MIN)).then_some((num, den))
}

/// Least common multiple of two denominators, when it fits.
pub(super) fn lcm(a: i64, b: i64) -> Option<i64> {
    a.checked_mul(b / gcd(a, b))
}

/// The faults of a run, each kind at each node under one code.
#[derive(Debug, Default)]
pub(super) struct Faults {
    known: Mutex<(Vec<Fault>, HashMap<Fault, Code>)>,
}

impl Faults {
    /// The code of a fault.
    pub(super) fn code(&self, kind: FaultKind, node: NodeId) -> Code {
        let fault = Fault { kind, node };
        // A thread that panicked while holding the lock left the list whole: each change is one push and one insert.
        let mut known = self
            .known
            .lock()
            .unwrap_or_else(std::sync::PoisonError::into_inner);
        if let Some(code) = known.1.get(&fault) {
            return *code;
        }
        let code = FIRST_FAULT + Code::try_from(known.0.len()).unwrap_or(Code::MAX - FIRST_FAULT);
        known.0.push(fault);
        known.1.insert(fault, code);
        code
    }

    /// The faults in order of their codes.
    pub(super) fn list(&self) -> Vec<Fault> {
        self.known
            .lock()
            .unwrap_or_else(std::sync::PoisonError::into_inner)
            .0
            .clone()
    }

    /// Starts from the faults of an earlier run, so that its codes keep their meaning.
    pub(super) fn from_list(list: Vec<Fault>) -> Faults {
        let index = list
            .iter()
            .zip(FIRST_FAULT..)
            .map(|(fault, code)| (*fault, code))
            .collect();
        Faults {
            known: Mutex::new((list, index)),
        }
    }
}
