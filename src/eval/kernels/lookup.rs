//! Looking values up in a table: each key value is turned into the class of values the table cannot tell apart, and a
//! row of the table stands for each combination of classes. Straight lines between rows where asked for.

use super::{At, LIMIT, fault_of, row_by_row, with_faults};
use crate::eval::FaultKind;
use crate::eval::chunk::{
    Code, Data, Ints, PRESENT, Piece, Side, Single, States, common_scale, lcm, widest,
};
use crate::number::Exact;
use crate::program::{KeyCell, Lookup};
use foldhash::{HashMap, HashMapExt};
use std::borrow::Cow;

/// Combinations of classes up to this many are kept in a plain list.
const MOST_COMBINATIONS: usize = 1 << 16;
/// No row of the table.
const NONE: u32 = u32::MAX;

/// What the value of a key is matched against.
pub(in crate::eval) enum KeyTexts<'t> {
    /// Numbers.
    Numbers,
    /// Yes or no.
    Truths,
    /// Labels of a choice, by name.
    Labels(&'t [String]),
    /// Texts: how many there are in the class, and where a text of the table is in it.
    Texts(usize, &'t dyn Fn(&str) -> Option<u32>),
}

/// The values of the column that is looked up.
#[derive(Debug)]
pub(in crate::eval) enum LookedUp {
    Numbers(Vec<Exact>),
    Labels(Vec<u16>),
    Texts(Vec<u32>),
    Truths(Vec<bool>),
}

/// A lookup made ready for one node.
#[derive(Debug)]
pub(in crate::eval) struct Prepared {
    keys: Vec<KeyClasses>,
    rows: Rows,
    values: Ready,
    /// For interpolation: of each class, slope and start of its line.
    lines: Option<Vec<Option<(Exact, Exact)>>>,
}

#[derive(Debug)]
enum KeyClasses {
    /// Class 2k lies between points k-1 and k, class 2k+1 is point k.
    Numbers(Vec<Exact>),
    /// Class of each label, text or truth.
    Codes(Vec<u32>, usize),
}

/// The row of the table for each combination of classes.
#[derive(Debug)]
enum Rows {
    List(Vec<u32>),
    /// Rows that fit one combination only, and the other rows with the classes they cover.
    Sparse(HashMap<Vec<u32>, u32>, Vec<(u32, Vec<(u32, u32)>)>),
}

#[derive(Debug)]
enum Ready {
    Scaled { num: Vec<i64>, den: i64, most: u64 },
    Exact(Vec<Exact>),
    Labels(Vec<u16>),
    Texts(Vec<u32>),
    Truths(Vec<bool>),
}

impl KeyClasses {
    fn new(cells: &[KeyCell], texts: &KeyTexts<'_>) -> KeyClasses {
        match texts {
            KeyTexts::Numbers => {
                let mut points: Vec<Exact> = Vec::new();
                for cell in cells {
                    match cell {
                        KeyCell::Number(n) => points.push(n.clone()),
                        KeyCell::Band { low, high } => {
                            points.extend(low.iter().chain(high).map(|end| end.0.clone()))
                        }
                        KeyCell::Any | KeyCell::Text(_) | KeyCell::Truth(_) => {}
                    }
                }
                points.sort();
                points.dedup();
                KeyClasses::Numbers(points)
            }
            KeyTexts::Truths => KeyClasses::Codes(vec![0, 1], 2),
            KeyTexts::Labels(names) => {
                let count = u32::try_from(names.len()).unwrap_or(NONE);
                KeyClasses::Codes((0..count).collect(), names.len())
            }
            KeyTexts::Texts(pool, find) => {
                // Class 0 holds the texts that the table does not name.
                let mut class_of = vec![0; *pool];
                let mut classes = 1u32;
                for cell in cells {
                    if let KeyCell::Text(text) = cell
                        && let Some(slot) =
                            find(text).and_then(|id| class_of.get_mut(crate::ids::at(id)))
                        && *slot == 0
                    {
                        *slot = classes;
                        classes += 1;
                    }
                }
                KeyClasses::Codes(class_of, crate::ids::at(classes))
            }
        }
    }

    fn count(&self) -> usize {
        match self {
            KeyClasses::Numbers(points) => 2 * points.len() + 1,
            KeyClasses::Codes(_, count) => *count,
        }
    }

    /// First and last class that a cell covers; `None` when it covers none.
    fn covered(&self, cell: &KeyCell, texts: &KeyTexts<'_>) -> Option<(u32, u32)> {
        let last = u32::try_from(self.count()).ok()?.checked_sub(1)?;
        let one = |class: u32| (class <= last).then_some((class, class));
        match (self, cell) {
            (_, KeyCell::Any) => Some((0, last)),
            (KeyClasses::Numbers(points), KeyCell::Number(n)) => {
                one(u32::try_from(2 * points.binary_search(n).ok()? + 1).ok()?)
            }
            (KeyClasses::Numbers(points), KeyCell::Band { low, high }) => {
                let class =
                    |end: &Exact| u32::try_from(2 * points.binary_search(end).ok()? + 1).ok();
                let from = match low {
                    None => 0,
                    Some((end, inside)) => class(end)? + u32::from(!inside),
                };
                let to = match high {
                    None => last,
                    Some((end, inside)) => class(end)? - u32::from(!inside),
                };
                (from <= to).then_some((from, to))
            }
            (KeyClasses::Codes(..), KeyCell::Truth(t)) => one(u32::from(*t)),
            (KeyClasses::Codes(class_of, _), KeyCell::Text(text)) => match texts {
                KeyTexts::Labels(names) => {
                    one(u32::try_from(names.iter().position(|name| name == text)?).ok()?)
                }
                KeyTexts::Texts(_, find) => one(*class_of.get(crate::ids::at(find(text)?))?),
                KeyTexts::Numbers | KeyTexts::Truths => None,
            },
            _ => None,
        }
    }

    /// The class of each row's value.
    fn classes(&self, len: usize, data: &Data<'_>) -> Vec<u32> {
        match self {
            KeyClasses::Numbers(points) => {
                match data.ints().and_then(|x| number_classes(len, points, &x)) {
                    Some(classes) => classes,
                    None => (0..len)
                        .map(|row| class_of_number(points, &data.number(row)))
                        .collect(),
                }
            }
            KeyClasses::Codes(class_of, _) => {
                let class = |code: u32| class_of.get(crate::ids::at(code)).copied().unwrap_or(0);
                match data {
                    Data::Text(rows) => rows.iter().map(|id| class(*id)).collect(),
                    Data::Label(rows) => {
                        rows.iter().map(|label| class(u32::from(*label))).collect()
                    }
                    Data::Truth(_) | Data::One(Single::Truth(_)) => {
                        (0..len).map(|row| u32::from(data.truth(row))).collect()
                    }
                    Data::One(Single::Text(id)) => vec![class(*id); len],
                    other @ (Data::One(_)
                    | Data::Scaled { .. }
                    | Data::Ratios(_)
                    | Data::Exact(_)) => (0..len)
                        .map(|row| class(u32::from(other.label(row))))
                        .collect(),
                }
            }
        }
    }
}

fn class_of_number(points: &[Exact], value: &Exact) -> u32 {
    let class = match points.binary_search(value) {
        Ok(at) => 2 * at + 1,
        Err(at) => 2 * at,
    };
    u32::try_from(class).unwrap_or(NONE)
}

/// Classes of scaled numbers: the points are brought to the denominator of the stretch once.
fn number_classes(len: usize, points: &[Exact], value: &Ints<'_>) -> Option<Vec<u32>> {
    let Side::Rows(rows) = value.side else {
        let single = Exact::ratio(value.side.at(0), value.den)?;
        return Some(vec![class_of_number(points, &single); len]);
    };
    let mut floors = Vec::with_capacity(points.len());
    for point in points {
        let (n, d) = point.small()?;
        let top = i128::from(n) * i128::from(value.den);
        let floor = top.div_euclid(i128::from(d));
        // A point out of range is beyond every value, and is none.
        floors.push(match i64::try_from(floor) {
            Ok(floor) => (floor, top.rem_euclid(i128::from(d)) == 0),
            Err(_) if floor < 0 => (i64::MIN, false),
            Err(_) => (i64::MAX, false),
        });
    }
    let class = |v: i64| {
        let below = if floors.len() <= 12 {
            floors.iter().filter(|(floor, _)| *floor < v).count()
        } else {
            floors.partition_point(|(floor, _)| *floor < v)
        };
        let on = floors
            .get(below)
            .is_some_and(|(floor, whole)| *whole && *floor == v);
        crate::ids::row(2 * below + usize::from(on)) // a table of 2^31 rows does not fit memory
    };
    Some(rows.iter().map(|v| class(*v)).collect())
}

impl Prepared {
    /// Makes a lookup ready. `texts` says what each key is matched against.
    pub(in crate::eval) fn new(
        table: &Lookup,
        texts: &[KeyTexts<'_>],
        values: LookedUp,
        interpolated: bool,
    ) -> Prepared {
        let keys: Vec<KeyClasses> = table
            .keys
            .iter()
            .zip(texts)
            .map(|(key, texts)| KeyClasses::new(&key.cells, texts))
            .collect();
        let covered = |row: usize| -> Option<Vec<(u32, u32)>> {
            let cells = table.keys.iter().zip(&keys).zip(texts);
            cells
                .map(|((key, classes), texts)| classes.covered(key.cells.get(row)?, texts))
                .collect()
        };
        let rows: Vec<(u32, Vec<(u32, u32)>)> = (0u32..)
            .zip(0..table.rows)
            .filter_map(|(id, row)| Some((id, covered(row)?)))
            .collect();
        let lines = match (&values, keys.first()) {
            (LookedUp::Numbers(values), Some(KeyClasses::Numbers(points))) if interpolated => {
                Some(lines(points, &rows, values))
            }
            _ => None,
        };
        let values = match values {
            LookedUp::Numbers(values) => match common_scale(&values) {
                Some((num, den)) => Ready::Scaled {
                    most: widest(&num),
                    num,
                    den,
                },
                None => Ready::Exact(values),
            },
            LookedUp::Labels(labels) => Ready::Labels(labels),
            LookedUp::Texts(ids) => Ready::Texts(ids),
            LookedUp::Truths(truths) => Ready::Truths(truths),
        };
        Prepared {
            rows: Rows::new(&keys, rows),
            keys,
            values,
            lines,
        }
    }

    /// Looks up the keys of each row; a fault where no row of the table fits.
    pub(in crate::eval) fn look_up(&self, at: At<'_>, keys: &[&Piece<'_>]) -> Piece<'static> {
        let states = keys
            .iter()
            .fold(States::CLEAR, |so_far, key| so_far.both(&key.states));
        let classes: Vec<Vec<u32>> = self
            .keys
            .iter()
            .zip(keys)
            .map(|(classes, key)| classes.classes(at.len, &key.data))
            .collect();
        if let (Some(lines), [classes], [key]) = (&self.lines, classes.as_slice(), keys) {
            return interpolate(at, states, lines, classes, &key.data);
        }
        let found = self.rows.find(at.len, &self.keys, &classes);
        let missed: Vec<usize> = (0..at.len)
            .filter(|row| found[*row] == NONE && states.at(*row) == PRESENT)
            .collect();
        let states = miss(at, states, &missed);
        let pick = |row: &u32| {
            if *row == NONE {
                0
            } else {
                crate::ids::at(*row)
            }
        };
        let data = match &self.values {
            Ready::Scaled { num, den, most } => {
                let num = found
                    .iter()
                    .map(|row| num.get(pick(row)).copied().unwrap_or(0))
                    .collect();
                super::scaled(num, *den, *most)
            }
            Ready::Exact(values) => Data::of_exacts(
                found
                    .iter()
                    .map(|row| values.get(pick(row)).cloned().unwrap_or(Exact::ZERO))
                    .collect(),
            ),
            Ready::Labels(labels) => Data::Label(Cow::Owned(
                found
                    .iter()
                    .map(|row| labels.get(pick(row)).copied().unwrap_or(0))
                    .collect(),
            )),
            Ready::Texts(ids) => Data::Text(Cow::Owned(
                found
                    .iter()
                    .map(|row| ids.get(pick(row)).copied().unwrap_or(0))
                    .collect(),
            )),
            Ready::Truths(truths) => Data::Truth(Cow::Owned(
                found
                    .iter()
                    .map(|row| truths.get(pick(row)).copied().unwrap_or(false))
                    .collect(),
            )),
        };
        Piece { data, states }
    }
}

/// The states with a fault where no row of the table fits.
fn miss(at: At<'_>, states: States<'_>, missed: &[usize]) -> States<'static> {
    if missed.is_empty() {
        return states.into_owned();
    }
    let code = at.fault(FaultKind::NoLookupRow);
    let failed: Vec<(usize, Code)> = missed.iter().map(|row| (*row, code)).collect();
    with_faults(states, at.len, &failed)
}

impl Rows {
    fn new(keys: &[KeyClasses], rows: Vec<(u32, Vec<(u32, u32)>)>) -> Rows {
        let all = keys
            .iter()
            .try_fold(1usize, |all, key| all.checked_mul(key.count()));
        match all {
            Some(all) if all <= MOST_COMBINATIONS || keys.len() == 1 => {
                let mut list = vec![NONE; all];
                for (row, covered) in &rows {
                    fill(&mut list, keys, covered, 0, *row);
                }
                Rows::List(list)
            }
            _ => {
                let mut exact = HashMap::new();
                let mut wide = Vec::new();
                for (row, covered) in rows {
                    if covered.iter().all(|(from, to)| from == to) {
                        exact
                            .entry(covered.iter().map(|c| c.0).collect())
                            .or_insert(row);
                    } else {
                        wide.push((row, covered));
                    }
                }
                Rows::Sparse(exact, wide)
            }
        }
    }

    fn find(&self, len: usize, keys: &[KeyClasses], classes: &[Vec<u32>]) -> Vec<u32> {
        match (self, classes) {
            (Rows::List(list), [only]) => only
                .iter()
                .map(|class| row_of(list, crate::ids::at(*class)))
                .collect(),
            (Rows::List(list), _) => {
                let mut at = vec![0usize; len];
                for (key, classes) in keys.iter().zip(classes) {
                    let count = key.count();
                    for (at, class) in at.iter_mut().zip(classes) {
                        *at = *at * count + crate::ids::at(*class);
                    }
                }
                at.iter().map(|at| row_of(list, *at)).collect()
            }
            (Rows::Sparse(exact, wide), _) => (0..len)
                .map(|row| {
                    let wanted: Vec<u32> = classes.iter().map(|classes| classes[row]).collect();
                    let exact = exact.get(&wanted).copied().unwrap_or(NONE);
                    let fits = |covered: &[(u32, u32)]| {
                        covered
                            .iter()
                            .zip(&wanted)
                            .all(|((from, to), class)| (from..=to).contains(&class))
                    };
                    let first = wide
                        .iter()
                        .find(|(row, covered)| *row < exact && fits(covered));
                    first.map_or(exact, |(row, _)| *row)
                })
                .collect(),
        }
    }
}

fn row_of(list: &[u32], at: usize) -> u32 {
    list.get(at).copied().unwrap_or(NONE)
}

/// Writes a row of the table at every combination it covers that no earlier row has.
fn fill(list: &mut [u32], keys: &[KeyClasses], covered: &[(u32, u32)], so_far: usize, row: u32) {
    match (keys.split_first(), covered.split_first()) {
        (Some((key, keys)), Some(((from, to), covered))) => {
            for class in *from..=*to {
                fill(
                    list,
                    keys,
                    covered,
                    so_far * key.count() + crate::ids::at(class),
                    row,
                );
            }
        }
        _ => {
            if let Some(slot) = list.get_mut(so_far)
                && *slot == NONE
            {
                *slot = row;
            }
        }
    }
}

/// Slope and start of the line of each class; none outside the table.
fn lines(
    points: &[Exact],
    rows: &[(u32, Vec<(u32, u32)>)],
    values: &[Exact],
) -> Vec<Option<(Exact, Exact)>> {
    let mut at_point: Vec<Option<&Exact>> = vec![None; points.len()];
    for (row, covered) in rows {
        if let Some((class, _)) = covered.first()
            && let Some(slot) = at_point.get_mut(crate::ids::at(*class / 2))
            && slot.is_none()
        {
            *slot = values.get(crate::ids::at(*row));
        }
    }
    (0..=2 * points.len())
        .map(|class| {
            let at = class / 2;
            if class % 2 == 1 {
                return Some((Exact::ZERO, at_point.get(at).copied().flatten()?.clone()));
            }
            let before = at.checked_sub(1)?;
            let (x0, x1) = (points.get(before)?, points.get(at)?);
            let (y0, y1) = (
                at_point.get(before).copied().flatten()?,
                at_point.get(at).copied().flatten()?,
            );
            let slope = y1.sub(y0).ok()?.div(&x1.sub(x0).ok()?).ok()?;
            let start = y0.sub(&x0.mul(&slope).ok()?).ok()?;
            Some((slope, start))
        })
        .collect()
}

fn interpolate(
    at: At<'_>,
    states: States<'_>,
    lines: &[Option<(Exact, Exact)>],
    classes: &[u32],
    key: &Data<'_>,
) -> Piece<'static> {
    let line = |row: usize| {
        lines
            .get(crate::ids::at(classes[row]))
            .and_then(Option::as_ref)
    };
    let missed: Vec<usize> = (0..at.len)
        .filter(|row| states.at(*row) == PRESENT && line(*row).is_none())
        .collect();
    let states = miss(at, states, &missed);
    if let Some(x) = key.ints()
        && let Some(data) = interpolate_ints(at.len, lines, classes, &x)
    {
        return Piece { data, states };
    }
    row_by_row(at, states, |row| match line(row) {
        Some((slope, start)) => slope
            .mul(&key.number(row))
            .and_then(|y| y.add(start))
            .map_err(fault_of),
        None => Err(FaultKind::NoLookupRow),
    })
}

fn interpolate_ints(
    len: usize,
    lines: &[Option<(Exact, Exact)>],
    classes: &[u32],
    x: &Ints<'_>,
) -> Option<Data<'static>> {
    let slopes: Vec<Exact> = lines
        .iter()
        .map(|l| l.as_ref().map_or(Exact::ZERO, |l| l.0.clone()))
        .collect();
    let starts: Vec<Exact> = lines
        .iter()
        .map(|l| l.as_ref().map_or(Exact::ZERO, |l| l.1.clone()))
        .collect();
    let ((slope, slope_den), (start, start_den)) = (common_scale(&slopes)?, common_scale(&starts)?);
    let product_den = slope_den.checked_mul(x.den)?;
    let den = lcm(product_den, start_den)?;
    let (up, up_start) = (den / product_den, den / start_den);
    let most = widest(&slope)
        .checked_mul(up.unsigned_abs())?
        .checked_mul(x.most)?;
    let most = most
        .checked_add(widest(&start).checked_mul(up_start.unsigned_abs())?)
        .filter(|most| *most <= LIMIT)?;
    let num = (0..len).map(|row| {
        let class = crate::ids::at(classes[row]);
        match (slope.get(class), start.get(class)) {
            (Some(slope), Some(start)) => slope * up * x.side.at(row) + start * up_start,
            _ => 0,
        }
    });
    Some(super::scaled(num.collect(), den, most))
}
