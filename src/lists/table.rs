//! Rows in order, with groups and sums, as a table of a paper. Sums of printed numbers are those printed: what is rounded is split
//! over the rows by largest remainder, once for each group.

use super::gather::{self, Got, Line};
use super::papers::Made;
use super::rows::TOTAL;
use crate::calendar::clock::date_of;
use crate::number::{Exact, Rounding, Style, Written, largest_remainder};
use crate::paper::{Cell, Class, Column, Reader, Row, RowKind, Table};
use crate::program::{Field, FieldKind, ListColumnDef, ListDef, ListKey, ListOver, ListShows};
use crate::units::UnitExpr;
use std::cmp::Ordering;

/// Puts rows in order: by what the paper is parted by, by groups, by the order asked for, and otherwise as they came.
pub(super) fn order(list: &ListDef, phases: &[String], lines: &mut [Line<'_>]) {
    lines.sort_by(|a, b| {
        let each = a.each.iter().zip(&b.each).map(|(a, b)| compare(a, b));
        let groups = a.groups.iter().zip(&b.groups).zip(&list.groups);
        let groups = groups.map(|((a, b), (key, _))| compare_keys(key, phases, a, b));
        let sorts = std::iter::once_with(|| by_keys(&list.sorts, phases, &a.sorts, &b.sorts));
        let mut keys = each.chain(groups).chain(sorts);
        keys.find(|o| *o != Ordering::Equal)
            .unwrap_or(Ordering::Equal)
    });
    lines
        .iter_mut()
        .for_each(|line| line.sorts = Box::default());
}

/// Order by the first key that differs, each upward or downward.
pub(super) fn by_keys(
    sorts: &[(ListKey, bool, Class)],
    phases: &[String],
    a: &[Got],
    b: &[Got],
) -> Ordering {
    let each = sorts.iter().zip(a.iter().zip(b));
    let mut each = each.map(|((key, down, _), (a, b))| match down {
        true => compare_keys(key, phases, b, a),
        false => compare_keys(key, phases, a, b),
    });
    each.find(|o| *o != Ordering::Equal)
        .unwrap_or(Ordering::Equal)
}

/// Phases are in the order in which the work goes through them, all else by size or letters.
fn compare_keys(key: &ListKey, phases: &[String], a: &Got, b: &Got) -> Ordering {
    let place = |got: &Got| match got {
        Got::Text(text) => phases.iter().position(|p| p == text),
        Got::Blank | Got::Number(_) | Got::Day(_) | Got::Unknown(_) | Got::Tick | Got::Room => None,
    };
    match (key, place(a), place(b)) {
        (ListKey::Own(Field::Phase), Some(a), Some(b)) => a.cmp(&b),
        _ => compare(a, b),
    }
}

/// Whether what one paper is parted by comes before what another is parted by.
pub(super) fn before(a: &[Got], b: &[Got]) -> bool {
    let mut each = a.iter().zip(b).map(|(a, b)| compare(a, b));
    let first = each.find(|o| *o != Ordering::Equal);
    first == Some(Ordering::Less)
}

/// Numbers by size, texts as people number things: N2 before N10.
pub(super) fn compare(a: &Got, b: &Got) -> Ordering {
    match (a, b) {
        (Got::Number(a), Got::Number(b)) => a.cmp(b),
        (Got::Day(a), Got::Day(b)) => a.cmp(b),
        (Got::Text(a), Got::Text(b)) => natural(a, b),
        _ => rank(a).cmp(&rank(b)),
    }
}

fn rank(got: &Got) -> u8 {
    match got {
        Got::Number(_) | Got::Day(_) => 0,
        Got::Text(_) => 1,
        Got::Tick | Got::Room => 2,
        Got::Blank | Got::Unknown(_) => 3,
    }
}

pub(super) fn natural(a: &str, b: &str) -> Ordering {
    let (mut left, mut right) = (a.chars().peekable(), b.chars().peekable());
    loop {
        match (left.peek().copied(), right.peek().copied()) {
            (None, None) => return a.cmp(b),
            (None, _) => return Ordering::Less,
            (_, None) => return Ordering::Greater,
            (Some(x), Some(y)) if x.is_ascii_digit() && y.is_ascii_digit() => {
                let number = |from: &mut std::iter::Peekable<std::str::Chars<'_>>| {
                    let mut digits = String::new();
                    while let Some(d) = from.next_if(char::is_ascii_digit) {
                        digits.push(d);
                    }
                    let plain = digits.trim_start_matches('0').to_owned();
                    (plain.len(), plain)
                };
                match number(&mut left).cmp(&number(&mut right)) {
                    Ordering::Equal => {}
                    other @ (Ordering::Less | Ordering::Greater) => return other,
                }
            }
            (Some(x), Some(y)) if x == y => {
                left.next();
                right.next();
            }
            (Some(x), Some(y)) => return x.cmp(&y),
        }
    }
}

/// For each totaled column what is printed on each row: rounded so that rows add up to their group, groups to the paper, papers to
/// the list.
pub(super) fn printed(
    made: &Made<'_>,
    list: &ListDef,
    lines: &[Line<'_>],
) -> Vec<Option<Vec<Exact>>> {
    let columns = list.columns.iter().enumerate();
    let of = columns.map(|(at, column)| {
        let each = || lines.iter().map(|line| exact(made, list, line, at));
        column
            .total
            .then(|| printed_column(each().collect(), lines))
    });
    of.collect()
}

/// The value of a totaled column on a row, in the unit of the column; nothing where it is not known.
pub(super) fn exact(made: &Made<'_>, list: &ListDef, line: &Line<'_>, at: usize) -> Exact {
    let column = list.columns.get(at);
    column.map_or(Exact::ZERO, |c| added(made.got(list, line, at), c))
}

/// What a cell adds to the sum of its column.
fn added(got: Got, column: &ListColumnDef) -> Exact {
    let Got::Number(n) = got else {
        return Exact::ZERO;
    };
    in_unit(&n, column).unwrap_or(Exact::ZERO)
}

/// The step to which totaled columns are printed.
pub(super) fn cent() -> Exact {
    Exact::ratio(1, 100).unwrap_or(Exact::ONE)
}

/// Whether a value needs no rounding to be printed.
pub(super) fn in_cents(n: &Exact) -> bool {
    n.div(&cent()).is_ok_and(|steps| steps.is_integer())
}

fn printed_column(exact: Vec<Exact>, lines: &[Line<'_>]) -> Vec<Exact> {
    let cent = cent();
    if exact.iter().all(in_cents) {
        return exact;
    }
    let mut out = exact.clone();
    let total = sum(&exact).round_to(&cent, Rounding::HalfEven);
    if let Ok(total) = total {
        apportion(
            lines,
            &exact,
            0,
            (0, lines.len()),
            (&total, &cent),
            &mut out,
        );
    }
    out
}

/// Splits a rounded sum over the groups of a stretch of rows, and each group's share over its own.
fn apportion(
    lines: &[Line<'_>],
    exact: &[Exact],
    level: usize,
    (from, to): (usize, usize),
    (total, step): (&Exact, &Exact),
    out: &mut [Exact],
) {
    let depth = lines.first().map_or(0, |l| l.groups.len() + 1);
    let ends = match level < depth {
        true => stretches(lines, level, from, to),
        false => (from..to).map(|at| (at, at + 1)).collect(),
    };
    let sums: Vec<Exact> = ends
        .iter()
        .map(|(a, b)| sum(exact.get(*a..*b).unwrap_or_default()))
        .collect();
    let Ok(shares) = largest_remainder(total, step, &sums) else {
        return;
    };
    for ((a, b), share) in ends.into_iter().zip(shares) {
        match level < depth {
            true => apportion(lines, exact, level + 1, (a, b), (&share, step), out),
            false => {
                if let Some(slot) = out.get_mut(a) {
                    *slot = share;
                }
            }
        }
    }
}

/// Level 0 is what the paper is parted by; the others are the groups.
pub(super) fn level_key<'a>(line: &'a Line<'_>, level: usize) -> &'a [Got] {
    match level {
        0 => &line.each,
        _ => line.groups.get(level - 1).map_or(&[], std::slice::from_ref),
    }
}

/// Stretches of rows with one key at a level.
pub(super) fn stretches(
    lines: &[Line<'_>],
    level: usize,
    from: usize,
    to: usize,
) -> Vec<(usize, usize)> {
    let mut out: Vec<(usize, usize)> = Vec::new();
    for at in from..to {
        let key = |at: usize| lines.get(at).map(|l| level_key(l, level));
        match out.last_mut() {
            Some((start, end)) if key(*start) == key(at) => {
                *end = at + 1;
            }
            _ => out.push((at, at + 1)),
        }
    }
    out
}

pub(super) fn sum(values: &[Exact]) -> Exact {
    let add = |sum: Exact, n: &Exact| sum.add(n);
    values
        .iter()
        .try_fold(Exact::ZERO, add)
        .unwrap_or(Exact::ZERO)
}

pub(super) fn in_unit(n: &Exact, column: &ListColumnDef) -> Option<Exact> {
    match (&column.unit, &column.shows) {
        // Money of an estimate is in currency already, and so is its unit.
        (Some(unit), ListShows::Key(_)) => unit.from_base(n).ok(),
        _ => Some(n.clone()),
    }
}

/// How days are written.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(super) enum Days {
    /// `2024-05-20`
    Dated,
    /// `Mon, May 20`, as a crew speaks of them.
    Spoken,
}

impl Days {
    pub(super) fn of(reader: Reader) -> Days {
        match reader {
            Reader::Crew => Days::Spoken,
            Reader::Owner
            | Reader::Review
            | Reader::Schedule
            | Reader::Shop
            | Reader::Order
            | Reader::Tag
            | Reader::Archive
            | Reader::Office => Days::Dated,
        }
    }

    /// A value as words.
    pub(super) fn words(self, got: &Got) -> String {
        match got {
            Got::Day(day) => self.text(*day),
            Got::Blank
            | Got::Text(_)
            | Got::Number(_)
            | Got::Unknown(_)
            | Got::Tick
            | Got::Room => got.words(),
        }
    }

    pub(super) fn text(self, day: i32) -> String {
        let date = date_of(day);
        match self {
            Days::Dated => date.to_string(),
            Days::Spoken => date.strftime("%a, %b %-d").to_string(),
        }
    }
}

/// A list without rows.
pub(super) fn empty(made: &Made<'_>, list: &ListDef) -> Table {
    Table {
        name: list.name.clone(),
        title: list.title.clone(),
        columns: list.columns.iter().map(|c| column(made, c)).collect(),
        rows: Vec::new(),
        notes: vec![match list.over == ListOver::Answers {
            true => "None yet.".to_owned(),
            false => "There are no rows.".to_owned(),
        }],
        entries: Vec::new(),
        counted: 0,
    }
}

/// The sums of a list whose lines nobody asked for: each line is counted and not kept.
pub(super) fn sums(made: &Made<'_>, list: &ListDef) -> Table {
    let mut counted = 0;
    let mut sums = vec![(Exact::ZERO, true); list.columns.len()];
    for at in gather::held(made, list) {
        counted += 1;
        for (column, (sum, whole)) in list.columns.iter().zip(&mut sums) {
            if !column.total {
                continue;
            }
            let value = added(made.shown(&column.shows, &at), column);
            *whole &= in_cents(&value);
            if let Ok(more) = sum.add(&value) {
                *sum = more;
            }
        }
    }
    let columns = list.columns.iter().zip(&sums).enumerate();
    let cells = columns.map(|(at, (column, (sum, whole)))| match column.total {
        true => {
            let rounded = sum.round_to(&cent(), Rounding::HalfEven);
            let sum = match (whole, rounded) {
                (false, Ok(rounded)) => rounded,
                _ => sum.clone(),
            };
            let text = number_text(&sum, column);
            Cell::number(sum, text)
        }
        false if at == 0 => Cell::words(TOTAL),
        false => Cell::blank(),
    });
    let row = Row {
        kind: RowKind::Total,
        cells: cells.collect(),
    };
    let empty = empty(made, list);
    match counted {
        0 => empty,
        _ => Table {
            counted,
            rows: list
                .columns
                .iter()
                .any(|c| c.total)
                .then_some(row)
                .into_iter()
                .collect(),
            notes: Vec::new(),
            ..empty
        },
    }
}

fn column(made: &Made<'_>, column: &ListColumnDef) -> Column {
    let number = column.unit.is_some() || is_plain_number(column);
    let numbers = number.then(|| (written(column), style(column)));
    let unit = column.unit.as_ref().map(|u| u.text(&made.program.nouns));
    Column {
        name: stable_name(column),
        heading: column.heading.clone(),
        unit: unit.filter(|u| !u.is_empty()),
        numbers,
        class: column.class,
    }
}

/// The name in the sheet, or for a formula one made of its heading: what a column is made of is not for its reader.
fn stable_name(column: &ListColumnDef) -> String {
    let plain = |c: char| c.is_alphanumeric() || c == '_' || c == ' ';
    match column.name.chars().all(plain) {
        true => column.name.clone(),
        false => super::papers::file_word(&column.heading),
    }
}

fn is_plain_number(column: &ListColumnDef) -> bool {
    let ListShows::Key(ListKey::Own(field)) = &column.shows else {
        return false;
    };
    match field.kind() {
        FieldKind::Count | FieldKind::Plain | FieldKind::Length | FieldKind::Share => true,
        FieldKind::Hours | FieldKind::Money => true,
        FieldKind::Text => false,
    }
}

/// Decimals of a millimeter that a size is printed with.
const OF_A_MILLIMETER: u32 = 2;

/// A number in the unit of its column, without the unit. A size that no rule shows but that is exact in millimeters, as those taken
/// in millimeters are, is in millimeters: the nearest fraction would be another size.
pub(super) fn number_text(n: &Exact, column: &ListColumnDef) -> String {
    let (written, style) = (written(column), style(column));
    let metric = match written {
        Written::Inches if n.to_inches(style.inch_parts).is_some() => None,
        Written::Inches if is_rough(column) => next_sixteenth(n),
        Written::Inches => in_millimeters(n),
        Written::Money | Written::Plain => None,
    };
    metric.unwrap_or_else(|| written.text(n, style))
}

/// See [`number_text`]. Beside it is the nearest mark of a rule in inches.
pub(super) fn in_millimeters(n: &Exact) -> Option<String> {
    let inch = Exact::ratio(254, 10)?;
    let (digits, exact) = n.mul(&inch).ok()?.to_decimal(OF_A_MILLIMETER);
    let near = n.round_to(&Exact::ratio(1, 32)?, Rounding::HalfEven).ok()?;
    let near = Written::Inches.text(&near, Style::default());
    exact.then(|| format!("{digits} mm (\u{2248} {near})"))
}

/// A rough size is a least one: the next sixteenth holds it.
fn next_sixteenth(n: &Exact) -> Option<String> {
    let up = n.round_to(&Exact::ratio(1, 16)?, Rounding::Up).ok()?;
    Some(format!(
        "\u{2248} {}",
        Written::Inches.text(&up, Style::default())
    ))
}

fn is_rough(column: &ListColumnDef) -> bool {
    matches!(column.shows, ListShows::Key(ListKey::Own(Field::Rough(_))))
}

fn written(column: &ListColumnDef) -> Written {
    let unit = column.unit.as_ref();
    unit.map_or(Written::Plain, UnitExpr::written)
}

/// Sums are of what is printed to two decimals.
fn style(column: &ListColumnDef) -> Style {
    let usual = Style::default();
    Style {
        places: if column.total { 2 } else { usual.places },
        ..usual
    }
}
