//! Whole columns of a node, kept packed: each stretch in the narrowest integers that hold it.
//!
//! Knows how to pack, unpack and read rows. Must not know what the node means.

use super::chunk::{
    Code, Data, FIRST_FAULT, PRESENT, Piece, ROWS, Ratios, Side, Single, States, absence, lcm,
};
use super::results::Cell;
use super::{Fault, chunk};
use crate::number::Exact;
use crate::table::{Absence, Texts};
use std::borrow::Cow;
use std::sync::{Arc, OnceLock};

/// Integers in the narrowest form that holds them.
#[derive(Debug, Clone)]
enum Packed {
    Same(i64),
    One(Box<[i8]>),
    Two(Box<[i16]>),
    Four(Box<[i32]>),
    Eight(Box<[i64]>),
}

/// What the integers of a stretch stand for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Meaning {
    /// Numerators over this denominator.
    Number(i64),
    Truth,
    Label,
    Text,
}

#[derive(Debug, Clone)]
enum Stored {
    Ints(Meaning, Packed),
    /// Numerators and denominators.
    Ratios(Packed, Packed),
    Exact(Box<[Exact]>),
    SameExact(Exact),
}

/// A packed stretch.
#[derive(Debug, Clone)]
pub(super) struct Kept {
    values: Stored,
    states: Packed,
}

/// The values of a node on every row of its grain, with what is missing and what failed.
#[derive(Debug, Clone)]
pub struct Column {
    len: usize,
    kept: Arc<[Kept]>,
    texts: Option<Arc<Texts>>,
    faults: Arc<Vec<Fault>>,
    /// The whole column unpacked, for reading rows in any order; made when first asked for.
    whole: OnceLock<Piece<'static>>,
}

impl Packed {
    #[expect(
        clippy::as_conversions,
        reason = "the whole range was measured: every value fits"
    )]
    fn new<T: Copy + Into<i64>>(rows: &[T]) -> Packed {
        // Joined bits tell the width of numbers that are all above zero without comparing any.
        let first: i64 = rows.first().map_or(0, |n| (*n).into());
        let (any, all) = rows.iter().fold((first, first), |(any, all), n| {
            (any | (*n).into(), all & (*n).into())
        });
        if any == all {
            return Packed::Same(first);
        }
        let (low, high) = match any >= 0 {
            true => (0, any),
            false => rows.iter().fold((first, first), |(low, high), n| {
                (low.min((*n).into()), high.max((*n).into()))
            }),
        };
        if low >= i64::from(i8::MIN) && high <= i64::from(i8::MAX) {
            Packed::One(rows.iter().map(|n| (*n).into() as i8).collect())
        } else if low >= i64::from(i16::MIN) && high <= i64::from(i16::MAX) {
            Packed::Two(rows.iter().map(|n| (*n).into() as i16).collect())
        } else if low >= i64::from(i32::MIN) && high <= i64::from(i32::MAX) {
            Packed::Four(rows.iter().map(|n| (*n).into() as i32).collect())
        } else {
            Packed::Eight(rows.iter().map(|n| (*n).into()).collect())
        }
    }

    fn at(&self, row: usize) -> i64 {
        match self {
            Packed::Same(n) => *n,
            Packed::One(rows) => i64::from(rows[row]),
            Packed::Two(rows) => i64::from(rows[row]),
            Packed::Four(rows) => i64::from(rows[row]),
            Packed::Eight(rows) => rows[row],
        }
    }

    /// All values, each passed through `f`.
    fn unpack<T: Clone>(&self, len: usize, f: impl Fn(i64) -> T) -> Vec<T> {
        match self {
            Packed::Same(n) => vec![f(*n); len],
            Packed::One(rows) => rows.iter().map(|n| f(i64::from(*n))).collect(),
            Packed::Two(rows) => rows.iter().map(|n| f(i64::from(*n))).collect(),
            Packed::Four(rows) => rows.iter().map(|n| f(i64::from(*n))).collect(),
            Packed::Eight(rows) => rows.iter().map(|n| f(*n)).collect(),
        }
    }

    fn bytes(&self) -> usize {
        match self {
            Packed::Same(_) => 0,
            Packed::One(rows) => rows.len(),
            Packed::Two(rows) => rows.len() * 2,
            Packed::Four(rows) => rows.len() * 4,
            Packed::Eight(rows) => rows.len() * 8,
        }
    }
}

impl Stored {
    fn new(data: &Data<'_>) -> Stored {
        match data {
            Data::One(Single::Number(n)) => match n.small() {
                Some((num, den)) => Stored::Ints(Meaning::Number(den), Packed::Same(num)),
                None => Stored::SameExact(n.clone()),
            },
            Data::One(Single::Truth(t)) => {
                Stored::Ints(Meaning::Truth, Packed::Same(i64::from(*t)))
            }
            Data::One(Single::Label(l)) => {
                Stored::Ints(Meaning::Label, Packed::Same(i64::from(*l)))
            }
            Data::One(Single::Text(t)) => Stored::Ints(Meaning::Text, Packed::Same(i64::from(*t))),
            Data::Scaled { num, den, .. } => Stored::Ints(Meaning::Number(*den), Packed::new(num)),
            Data::Ratios(ratios) => {
                Stored::Ratios(Packed::new(&ratios.num), Packed::new(&ratios.den))
            }
            Data::Exact(rows) => Stored::Exact(rows.to_vec().into_boxed_slice()),
            Data::Truth(rows) => Stored::Ints(Meaning::Truth, Packed::new(rows)),
            Data::Label(rows) => Stored::Ints(Meaning::Label, Packed::new(rows)),
            Data::Text(rows) => Stored::Ints(Meaning::Text, Packed::new(rows)),
        }
    }
}

impl Kept {
    /// Packs a stretch.
    pub(super) fn new(piece: &Piece<'_>) -> Kept {
        let values = Stored::new(&piece.data);
        let states = match &piece.states {
            States::All(code) => Packed::Same(i64::from(*code)),
            States::Rows(rows) => Packed::new(rows),
        };
        Kept { values, states }
    }

    /// The stretch as it was, of `len` rows.
    #[expect(
        clippy::as_conversions,
        reason = "the casts bring back what was packed from the same type"
    )]
    fn unpack(&self, len: usize) -> Piece<'static> {
        let data = match &self.values {
            Stored::SameExact(n) => Data::One(Single::Number(n.clone())),
            Stored::Ratios(num, den) => {
                Data::Ratios(Ratios::new(num.unpack(len, |n| n), den.unpack(len, |d| d)))
            }
            Stored::Exact(rows) => Data::Exact(Cow::Owned(rows.to_vec())),
            // The casts bring back what was packed from the same type.
            Stored::Ints(Meaning::Number(den), Packed::Same(n)) => Data::One(Single::Number(
                Exact::ratio(*n, *den).unwrap_or(Exact::ZERO),
            )),
            Stored::Ints(Meaning::Number(den), ints) => Data::scaled(ints.unpack(len, |n| n), *den),
            Stored::Ints(Meaning::Truth, Packed::Same(n)) => Data::One(Single::Truth(*n != 0)),
            Stored::Ints(Meaning::Truth, ints) => {
                Data::Truth(Cow::Owned(ints.unpack(len, |n| n != 0)))
            }
            Stored::Ints(Meaning::Label, Packed::Same(n)) => Data::One(Single::Label(*n as u16)),
            Stored::Ints(Meaning::Label, ints) => {
                Data::Label(Cow::Owned(ints.unpack(len, |n| n as u16)))
            }
            Stored::Ints(Meaning::Text, Packed::Same(n)) => Data::One(Single::Text(*n as u32)),
            Stored::Ints(Meaning::Text, ints) => {
                Data::Text(Cow::Owned(ints.unpack(len, |n| n as u32)))
            }
        };
        let states = match &self.states {
            Packed::Same(code) => States::All(*code as Code),
            ints @ (Packed::One(_) | Packed::Two(_) | Packed::Four(_) | Packed::Eight(_)) => {
                States::Rows(Cow::Owned(ints.unpack(len, |code| code as Code)))
            }
        };
        Piece { data, states }
    }

    fn bytes(&self) -> usize {
        let values = match &self.values {
            Stored::Ints(_, ints) => ints.bytes(),
            Stored::Ratios(num, den) => num.bytes() + den.bytes(),
            Stored::Exact(rows) => rows.len() * size_of::<Exact>(),
            Stored::SameExact(_) => 0,
        };
        size_of::<Kept>() + values + self.states.bytes()
    }
}

impl Column {
    /// A column of packed stretches of [`ROWS`] rows each but the last.
    pub(super) fn new(len: usize, kept: Vec<Kept>) -> Column {
        Column {
            len,
            kept: kept.into(),
            texts: None,
            faults: Arc::default(),
            whole: OnceLock::new(),
        }
    }

    /// A column of one piece that covers every row.
    pub(super) fn of_whole(len: usize, piece: &Piece<'_>) -> Column {
        let kept = (0..len.div_ceil(ROWS))
            .map(|c| Kept::new(&part(piece, c * ROWS, ((c + 1) * ROWS).min(len))))
            .collect();
        Column::new(len, kept)
    }

    /// The same column with what is needed to read it from outside.
    pub(super) fn for_reading(&self, texts: Option<Arc<Texts>>, faults: Arc<Vec<Fault>>) -> Column {
        Column {
            len: self.len,
            kept: Arc::clone(&self.kept),
            texts,
            faults,
            whole: OnceLock::new(),
        }
    }

    /// A stretch.
    pub(super) fn piece(&self, index: usize) -> Piece<'static> {
        let len = (self.len - (index * ROWS).min(self.len)).min(ROWS);
        self.kept.get(index).map_or_else(
            || Piece::clear(Data::One(Single::Truth(false))),
            |kept| kept.unpack(len),
        )
    }

    /// Every row in one piece.
    pub(super) fn whole(&self) -> &Piece<'static> {
        self.whole.get_or_init(|| match self.kept.len() {
            1 => self.piece(0),
            count => join(
                self.len,
                (0..count).map(|index| self.piece(index)).collect(),
            ),
        })
    }

    #[expect(
        clippy::as_conversions,
        reason = "the casts bring back what was packed from the same type"
    )]
    fn code(&self, row: usize) -> Code {
        self.kept
            .get(row / ROWS)
            .map_or(PRESENT, |kept| kept.states.at(row % ROWS) as Code)
    }

    /// Number of rows.
    pub fn len(&self) -> usize {
        self.len
    }

    /// Whether there is no row.
    pub fn is_empty(&self) -> bool {
        self.len == 0
    }

    /// The value of a row in base units, or why there is none; blank beyond the end.
    #[expect(
        clippy::as_conversions,
        reason = "the casts bring back what was packed from the same type"
    )]
    pub fn get(&self, row: usize) -> Cell {
        if row >= self.len {
            return Cell::Absent(Absence::Blank);
        }
        if let Err(why) = self.state(row) {
            return why;
        }
        let Some(kept) = self.kept.get(row / ROWS) else {
            return Cell::Absent(Absence::Blank);
        };
        let row = row % ROWS;
        match &kept.values {
            Stored::Ratios(num, den) => {
                Cell::Number(Exact::ratio(num.at(row), den.at(row)).unwrap_or(Exact::ZERO))
            }
            Stored::Exact(rows) => Cell::Number(rows[row].clone()),
            Stored::SameExact(n) => Cell::Number(n.clone()),
            // The casts bring back what was packed from the same type.
            Stored::Ints(meaning, ints) => match meaning {
                Meaning::Number(den) => {
                    Cell::Number(Exact::ratio(ints.at(row), *den).unwrap_or(Exact::ZERO))
                }
                Meaning::Truth => Cell::Truth(ints.at(row) != 0),
                Meaning::Label => Cell::Label(ints.at(row) as u16),
                Meaning::Text => {
                    let id = ints.at(row) as u32;
                    Cell::Text(
                        self.texts
                            .as_ref()
                            .and_then(|texts| texts.get(id))
                            .unwrap_or("")
                            .to_owned(),
                    )
                }
            },
        }
    }

    /// `Ok` when the row has a value; otherwise [`Cell::Absent`] or [`Cell::Fault`].
    pub fn state(&self, row: usize) -> Result<(), Cell> {
        match self.code(row) {
            PRESENT => Ok(()),
            code => Err(match absence(code) {
                Some(absence) => Cell::Absent(absence),
                None => match self.faults.get(crate::ids::at(code - FIRST_FAULT)) {
                    Some(fault) => Cell::Fault(*fault),
                    None => Cell::Absent(Absence::Blank),
                },
            }),
        }
    }

    /// Whether any row has no value.
    pub fn any_missing(&self) -> bool {
        self.kept
            .iter()
            .any(|kept| !matches!(kept.states, Packed::Same(0)))
    }

    /// The rows that have no value, in order, and why: [`Cell::Absent`] or [`Cell::Fault`].
    pub fn missing(&self) -> impl Iterator<Item = (usize, Cell)> + '_ {
        self.kept
            .iter()
            .enumerate()
            .filter(|(_, kept)| !matches!(kept.states, Packed::Same(0)))
            .flat_map(|(index, _)| {
                (index * ROWS..((index + 1) * ROWS).min(self.len))
                    .filter_map(|row| Some((row, self.state(row).err()?)))
            })
    }

    /// Bytes held, about.
    pub fn bytes(&self) -> usize {
        self.kept.iter().map(Kept::bytes).sum()
    }
}

/// Rows `from..to` of a piece.
fn part<'p>(piece: &'p Piece<'_>, from: usize, to: usize) -> Piece<'p> {
    let data = match &piece.data {
        Data::One(single) => Data::One(single.clone()),
        Data::Scaled { num, den, most } => Data::Scaled {
            num: Cow::Borrowed(&num[from..to]),
            den: *den,
            most: *most,
        },
        Data::Ratios(ratios) => Data::Ratios(ratios.part(from..to)),
        Data::Exact(rows) => Data::Exact(Cow::Borrowed(&rows[from..to])),
        Data::Truth(rows) => Data::Truth(Cow::Borrowed(&rows[from..to])),
        Data::Label(rows) => Data::Label(Cow::Borrowed(&rows[from..to])),
        Data::Text(rows) => Data::Text(Cow::Borrowed(&rows[from..to])),
    };
    let states = match &piece.states {
        States::All(code) => States::All(*code),
        States::Rows(rows) => States::Rows(Cow::Borrowed(&rows[from..to])),
    };
    Piece { data, states }
}

/// Pieces end to end.
fn join(len: usize, pieces: Vec<Piece<'static>>) -> Piece<'static> {
    let lens: Vec<usize> = (0..pieces.len())
        .map(|index| (len - index * ROWS).min(ROWS))
        .collect();
    let each = || pieces.iter().zip(lens.iter().copied());
    fn gather<T>(
        each: impl Iterator<Item = (usize, usize)>,
        value: impl Fn(usize, usize) -> T,
    ) -> Vec<T> {
        each.flat_map(|(piece, len)| (0..len).map(move |row| (piece, row)))
            .map(|(piece, row)| value(piece, row))
            .collect()
    }
    let rows = || lens.iter().copied().enumerate();
    let states = States::of_rows(gather(rows(), |piece, row| pieces[piece].states.at(row)));
    let data = match pieces.first().map(|piece| &piece.data) {
        None => Data::One(Single::Truth(false)),
        Some(Data::Truth(_) | Data::One(Single::Truth(_))) => {
            Data::Truth(Cow::Owned(gather(rows(), |piece, row| {
                pieces[piece].data.truth(row)
            })))
        }
        Some(Data::Label(_) | Data::One(Single::Label(_))) => {
            Data::Label(Cow::Owned(gather(rows(), |piece, row| {
                pieces[piece].data.label(row)
            })))
        }
        Some(Data::Text(_) | Data::One(Single::Text(_))) => {
            Data::Text(Cow::Owned(gather(rows(), |piece, row| {
                pieces[piece].data.text(row)
            })))
        }
        Some(
            Data::Scaled { .. } | Data::Ratios(_) | Data::Exact(_) | Data::One(Single::Number(_)),
        ) => {
            let scale = each().try_fold(1i64, |den, (piece, _)| lcm(den, piece.data.ints()?.den));
            let scaled = scale.and_then(|den| {
                let mut num = Vec::with_capacity(len);
                for (piece, len) in each() {
                    let ints = piece.data.ints()?;
                    let factor = den / ints.den;
                    ints.side
                        .most()
                        .checked_mul(factor.unsigned_abs())
                        .filter(|most| *most <= i64::MAX.unsigned_abs())?;
                    match ints.side {
                        Side::One(n) => num.extend(std::iter::repeat_n(n * factor, len)),
                        Side::Rows(rows) => num.extend(rows.iter().map(|n| n * factor)),
                    }
                }
                Some(chunk::Data::scaled(num, den))
            });
            scaled.unwrap_or_else(|| {
                Data::Exact(Cow::Owned(gather(rows(), |piece, row| {
                    pieces[piece].data.number(row)
                })))
            })
        }
    };
    Piece { data, states }
}
