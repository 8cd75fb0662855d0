//! Which row of a coarser grain each row belongs to, and the grouping of rows by keys.
//!
//! Knows grains, parent rows and keys. Must not know what is rolled up or shared along them.

use super::RunError;
use super::chunk::{Code, Data, PRESENT, Piece, ROWS, Single, States};
use crate::number::Exact;
use crate::program::{Grain, GroupId, Program, TableId};
use crate::table::Table;
use foldhash::{HashMap, HashMapExt};
use std::borrow::Cow;
use std::sync::{Arc, Mutex, PoisonError};

/// The groups of a table's rows, in the order in which they first appear.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Groups {
    /// For each row of the table, its group.
    pub of_row: Vec<u32>,
    /// For each group, its first row.
    pub first_row: Vec<u32>,
}

/// From the rows of a grain to the rows of a coarser one.
#[derive(Debug, Clone)]
pub(super) enum RowMap<'a> {
    /// Each row to itself.
    Same,
    /// Every row to the only one.
    All,
    Table(&'a [u32]),
    Rows(Arc<Vec<u32>>),
}

impl RowMap<'_> {
    /// The coarser rows of a stretch; `None` when they are all the only one, or the rows themselves.
    pub(super) fn stretch(&self, index: usize, len: usize) -> Option<&[u32]> {
        let rows: &[u32] = match self {
            RowMap::Same | RowMap::All => return None,
            RowMap::Table(rows) => rows,
            RowMap::Rows(rows) => rows,
        };
        rows.get(index * ROWS..index * ROWS + len)
    }

    /// The coarser row of a row; 0 beyond the end.
    pub(super) fn row(&self, row: usize) -> usize {
        u32::try_from(row)
            .ok()
            .and_then(|row| self.at(row))
            .map_or(0, crate::ids::at)
    }

    fn at(&self, row: u32) -> Option<u32> {
        match self {
            RowMap::Same => Some(row),
            RowMap::All => Some(0),
            RowMap::Table(rows) => rows.get(crate::ids::at(row)).copied(),
            RowMap::Rows(rows) => rows.get(crate::ids::at(row)).copied(),
        }
    }
}

/// The rows of every grain of a run and the ways between them.
#[derive(Debug)]
pub(super) struct Grains<'a> {
    program: &'a Program,
    tables: &'a [&'a Table],
    groups: Vec<Option<Arc<Groups>>>,
    composed: Mutex<HashMap<(Grain, Grain), RowMap<'a>>>,
}

impl<'a> Grains<'a> {
    pub(super) fn new(program: &'a Program, tables: &'a [&'a Table]) -> Grains<'a> {
        Grains {
            program,
            tables,
            groups: vec![None; program.groups.len()],
            composed: Mutex::default(),
        }
    }

    /// The tables.
    pub(super) fn tables(&self) -> &'a [&'a Table] {
        self.tables
    }

    /// Takes in the groups of a grouping.
    pub(super) fn set_groups(&mut self, group: GroupId, groups: Arc<Groups>) {
        if let Some(slot) = self.groups.get_mut(group.index()) {
            *slot = Some(groups);
        }
    }

    /// The groups of a grouping, once made.
    pub(super) fn groups(&self, group: GroupId) -> Option<&Arc<Groups>> {
        self.groups.get(group.index()).and_then(Option::as_ref)
    }

    /// All groupings, made or not.
    pub(super) fn into_groups(self) -> Vec<Option<Arc<Groups>>> {
        self.groups
    }

    /// Number of rows of a grain; 1 for the job and for constants.
    pub(super) fn rows(&self, grain: Grain) -> usize {
        match grain {
            Grain::Const | Grain::Job => 1,
            Grain::Table(table) => self.tables.get(table.index()).map_or(0, |t| t.rows),
            Grain::Group(group) => self.groups(group).map_or(0, |g| g.first_row.len()),
        }
    }

    /// The way from a grain to a coarser one; its groups must have been made. `None` when there is none.
    pub(super) fn map(&self, from: Grain, to: Grain) -> Option<RowMap<'a>> {
        match (from, to) {
            (from, to) if from == to => return Some(RowMap::Same),
            (_, Grain::Job | Grain::Const) => return Some(RowMap::All),
            (Grain::Table(table), Grain::Table(_)) if self.parent(table)? == to => {
                return Some(RowMap::Table(
                    self.tables.get(table.index())?.parent_rows.as_deref()?,
                ));
            }
            _ => {}
        }
        if let Some(known) = self.known().get(&(from, to)) {
            return Some(known.clone());
        }
        let made = self.compose(from, to)?;
        self.known().insert((from, to), made.clone());
        Some(made)
    }

    fn known(&self) -> std::sync::MutexGuard<'_, HashMap<(Grain, Grain), RowMap<'a>>> {
        self.composed.lock().unwrap_or_else(PoisonError::into_inner)
    }

    fn parent(&self, table: TableId) -> Option<Grain> {
        self.program.tables.get(table)?.parent.map(Grain::Table)
    }

    fn compose(&self, from: Grain, to: Grain) -> Option<RowMap<'a>> {
        let rows = match (from, to) {
            (Grain::Table(table), Grain::Group(group))
                if self.program.groups.get(group)?.of == table =>
            {
                self.groups(group)?.of_row.clone()
            }
            (Grain::Table(table), _) => {
                let parent = self.parent(table)?;
                let (first, second) = (self.map(from, parent)?, self.map(parent, to)?);
                let rows = u32::try_from(self.rows(from)).ok()?;
                (0..rows)
                    .map(|row| second.at(first.at(row)?))
                    .collect::<Option<Vec<_>>>()?
            }
            // Groups lie within coarser groups when those are made by some of the same keys.
            (Grain::Group(fine), Grain::Group(coarse)) => {
                let (fine_by, coarse_by) = (
                    self.program.groups.get(fine)?,
                    self.program.groups.get(coarse)?,
                );
                if fine_by.of != coarse_by.of
                    || !coarse_by.keys.iter().all(|key| fine_by.keys.contains(key))
                {
                    return None;
                }
                let (fine, coarse) = (self.groups(fine)?, self.groups(coarse)?);
                fine.first_row
                    .iter()
                    .map(|row| coarse.of_row.get(crate::ids::at(*row)).copied())
                    .collect::<Option<Vec<_>>>()?
            }
            _ => return None,
        };
        Some(RowMap::Rows(Arc::new(rows)))
    }
}

/// The groups of one stretch, numbered as they appear in it.
#[derive(Debug)]
pub(super) struct StretchGroups {
    of_row: Vec<u32>,
    /// Key values of each group's first row, with their states.
    keys: Vec<Vec<(Code, Single)>>,
    /// Row within the stretch.
    first_row: Vec<u32>,
}

/// Groups the rows of a stretch by its key pieces.
pub(super) fn group_stretch(keys: &[&Piece<'_>], len: usize) -> StretchGroups {
    let mut of_row = vec![0u32; len];
    let mut count = usize::from(len > 0);
    for key in keys.iter().filter(|key| !key.is_one()) {
        count = refine(&mut of_row, count, key);
    }
    let mut first_row = vec![u32::MAX; count];
    for (row, group) in (0u32..).zip(&of_row) {
        if let Some(first @ &mut u32::MAX) = first_row.get_mut(crate::ids::at(*group)) {
            *first = row;
        }
    }
    let values = |row: &u32| {
        keys.iter()
            .map(|key| {
                (
                    key.states.at(crate::ids::at(*row)),
                    key.data.single(crate::ids::at(*row)),
                )
            })
            .collect()
    };
    StretchGroups {
        keys: first_row.iter().map(values).collect(),
        of_row,
        first_row,
    }
}

/// Combinations of groups and codes up to this many are numbered by a list.
const MOST_SMALL: usize = 1 << 14;

/// Splits groups by one more key; returns their new number. Numbers follow first appearance.
fn refine(of_row: &mut [u32], count: usize, key: &Piece<'_>) -> usize {
    if let States::All(_) = key.states {
        let small = match &key.data {
            Data::Text(codes) => refine_small(of_row, count, codes, |code| crate::ids::at(*code)),
            Data::Label(codes) => refine_small(of_row, count, codes, |code| usize::from(*code)),
            Data::Truth(codes) => refine_small(of_row, count, codes, |code| usize::from(*code)),
            Data::One(_) | Data::Scaled { .. } | Data::Ratios(_) | Data::Exact(_) => None,
        };
        if let Some(count) = small {
            return count;
        }
    }
    // Rows that are equal have equal codes within a stretch: scaled numbers share a denominator.
    let mut values: HashMap<Exact, u64> = HashMap::new();
    let mut code = |row: usize| -> u64 {
        match &key.data {
            Data::One(_) => 0,
            Data::Scaled { num, .. } => num[row].cast_unsigned(), // any one-to-one code will do
            Data::Ratios(_) | Data::Exact(_) => {
                let next = crate::ids::long(values.len());
                *values.entry(key.data.number(row)).or_insert(next)
            }
            Data::Truth(rows) => u64::from(rows[row]),
            Data::Label(rows) => u64::from(rows[row]),
            Data::Text(rows) => u64::from(rows[row]),
        }
    };
    let codes: Vec<(Code, u64)> = (0..of_row.len())
        .map(|row| match key.states.at(row) {
            PRESENT => (PRESENT, code(row)),
            absent => (absent, 0),
        })
        .collect();
    let mut numbers: HashMap<(u32, Code, u64), u32> = HashMap::default();
    for (group, (state, code)) in of_row.iter_mut().zip(&codes) {
        let next = crate::ids::row(numbers.len()); // at most one for each row of a stretch
        *group = *numbers.entry((*group, *state, *code)).or_insert(next);
    }
    numbers.len()
}

/// The same for small codes, by a list instead of a map; `None`, and nothing done, when the codes are not small.
fn refine_small<T>(
    of_row: &mut [u32],
    count: usize,
    codes: &[T],
    code: impl Fn(&T) -> usize,
) -> Option<usize> {
    let codes_to = codes.iter().map(&code).max()? + 1;
    let mut numbers = vec![
        u32::MAX;
        codes_to
            .checked_mul(count)
            .filter(|span| *span <= MOST_SMALL)?
    ];
    let mut next = 0;
    for (group, each) in of_row.iter_mut().zip(codes) {
        let slot = &mut numbers[code(each) * count + crate::ids::at(*group)];
        if *slot == u32::MAX {
            *slot = next;
            next += 1;
        }
        *group = *slot;
    }
    Some(crate::ids::at(next))
}

/// Joins the groups of the stretches: the grouping, and a piece with the values of each key.
/// Errors: [`RunError::TooLarge`].
pub(super) fn join_groups(
    stretches: Vec<StretchGroups>,
    key_count: usize,
) -> Result<(Groups, Vec<Piece<'static>>), RunError> {
    let mut numbers: HashMap<Vec<(Code, Option<Single>)>, u32> = HashMap::new();
    let mut groups = Groups {
        of_row: Vec::new(),
        first_row: Vec::new(),
    };
    let mut keys: Vec<Vec<(Code, Single)>> = vec![Vec::new(); key_count];
    for (index, stretch) in stretches.into_iter().enumerate() {
        let mut number_of = Vec::with_capacity(stretch.keys.len());
        for (values, first) in stretch.keys.into_iter().zip(&stretch.first_row) {
            let next = u32::try_from(groups.first_row.len()).map_err(|_| RunError::TooLarge)?;
            let key = values
                .iter()
                .map(|(state, value)| (*state, (*state == PRESENT).then(|| value.clone())))
                .collect();
            let number = *numbers.entry(key).or_insert(next);
            if number == next {
                groups
                    .first_row
                    .push(u32::try_from(index * ROWS).map_err(|_| RunError::TooLarge)? + first);
                for (column, value) in keys.iter_mut().zip(values) {
                    column.push(value);
                }
            }
            number_of.push(number);
        }
        groups.of_row.extend(
            stretch
                .of_row
                .iter()
                .map(|local| number_of[crate::ids::at(*local)]),
        );
    }
    Ok((groups, keys.into_iter().map(piece_of).collect()))
}

/// A piece of single values, all of one type.
fn piece_of(rows: Vec<(Code, Single)>) -> Piece<'static> {
    let states = States::of_rows(rows.iter().map(|row| row.0).collect());
    let values = rows.into_iter().map(|row| row.1);
    let data = match values.clone().next() {
        None => Data::One(Single::Truth(false)),
        Some(Single::Number(_)) => Data::of_exacts(
            values
                .map(|v| match v {
                    Single::Number(n) => n,
                    Single::Truth(_) | Single::Label(_) | Single::Text(_) => Exact::ZERO,
                })
                .collect(),
        ),
        Some(Single::Truth(_)) => Data::Truth(Cow::Owned(
            values.map(|v| v == Single::Truth(true)).collect(),
        )),
        Some(Single::Label(_)) => Data::Label(Cow::Owned(
            values
                .map(|v| match v {
                    Single::Label(l) => l,
                    Single::Number(_) | Single::Truth(_) | Single::Text(_) => 0,
                })
                .collect(),
        )),
        Some(Single::Text(_)) => Data::Text(Cow::Owned(
            values
                .map(|v| match v {
                    Single::Text(t) => t,
                    Single::Number(_) | Single::Truth(_) | Single::Label(_) => 0,
                })
                .collect(),
        )),
    };
    Piece { data, states }
}
