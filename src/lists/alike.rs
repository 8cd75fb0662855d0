//! Lines that differ in nothing but what they are for, put together.

use super::gather::{Got, Joined, Line, Stands};
use super::papers::Made;
use crate::program::{Field, Grain, ListColumnDef, ListDef, ListKey, ListOver, ListShows, PhaseId};
use foldhash::HashMap;

/// Between the marks or names of one line.
const BETWEEN: &str = ", ";

/// Whether lines of a list are put together.
pub(super) fn is_joined(list: &ListDef) -> bool {
    list.columns.iter().any(|c| joins(list, c))
}

/// A row with its cells.
struct Whole {
    joined: Joined,
    groups: Box<[Got]>,
    each: Box<[Got]>,
}

/// Members of a row that differ in nothing but their name are on one line, and so do lines of a list with a column `marks`. The
/// first of them keeps its place, and what adds up is added. Such a list keeps the cells of all its lines: a line holds marks and sums of
/// several rows. Every other list keeps none.
pub(super) fn together<'a>(made: &Made<'_>, list: &ListDef, lines: Vec<Line<'a>>) -> Vec<Line<'a>> {
    let Some(names) = list.columns.iter().position(|c| joins(list, c)) else {
        return lines;
    };
    let lines = lines.into_iter().map(|l| whole(made, list, l));
    let lines: Vec<Whole> = lines.collect();
    let added = |at: usize| list.columns.get(at).is_some_and(|c| c.total);
    let of_rows = members_of_rows(list, &lines, names);
    let mut out = joined(lines, names, &added, |_| true);
    for line in &mut out {
        all_members(&mut line.joined, names, &of_rows);
    }
    // In the entry of a window its sash that are alike are on one line; a list of the whole job keeps each by itself.
    let marks = list.columns.iter().position(|c| shows(c, Field::Mark));
    let out = match (list.over, marks) {
        (ListOver::Members, Some(marks)) => joined(out, marks, &added, |l| !l.each.is_empty()),
        _ => out,
    };
    let lines = out.into_iter().map(|whole| Line {
        stands: Stands::Together(whole.joined),
        groups: whole.groups,
        sorts: Box::default(),
        each: whole.each,
    });
    lines.collect()
}

fn whole(made: &Made<'_>, list: &ListDef, line: Line<'_>) -> Whole {
    let columns = 0..list.columns.len();
    Whole {
        joined: Joined {
            cells: columns.map(|at| made.got(list, &line, at)).collect(),
            rows: made.rows_of(&line),
            phases: made.phases_of(&line),
        },
        groups: line.groups,
        each: line.each,
    }
}

/// Lines that differ in one column alone as one line, with the texts of that column beside one another.
fn joined(
    lines: Vec<Whole>,
    names: usize,
    added: &impl Fn(usize) -> bool,
    may: impl Fn(&Whole) -> bool,
) -> Vec<Whole> {
    let mut out: Vec<Whole> = Vec::with_capacity(lines.len());
    let mut known: HashMap<String, usize> = HashMap::default();
    for line in lines {
        if !may(&line) {
            out.push(line);
            continue;
        }
        let mut key = String::new();
        let cells = line.joined.cells.iter().enumerate();
        let told = cells.filter(|(at, _)| *at != names && !added(*at));
        let told = told.map(|(_, cell)| cell).chain(&line.each);
        told.chain(&line.groups).for_each(|got| sign(got, &mut key));
        let first = known.get(&key).and_then(|at| out.get_mut(*at));
        match first.filter(|first| adds_up(&first.joined, &line.joined, added)) {
            Some(first) => put(&mut first.joined, line.joined, (names, added)),
            None => {
                known.insert(key, out.len());
                out.push(line);
            }
        }
    }
    out
}

/// So many members of a row are named one by one; more that make up all of it are called so.
const NAMED: usize = 3;

/// The names of each row's members, where a list has all of them.
fn members_of_rows(
    list: &ListDef,
    lines: &[Whole],
    names: usize,
) -> HashMap<(Grain, usize), Vec<String>> {
    let mut out: HashMap<(Grain, usize), Vec<String>> = HashMap::default();
    if list.over != ListOver::Members || !list.filter.is_empty() {
        return out;
    }
    for line in lines {
        if let ([row], Some(Got::Text(name))) =
            (line.joined.rows.as_slice(), line.joined.cells.get(names))
        {
            let known = out.entry(*row).or_default();
            if !known.contains(name) {
                known.push(name.clone());
            }
        }
    }
    out
}

fn all_members(line: &mut Joined, names: usize, of_rows: &HashMap<(Grain, usize), Vec<String>>) {
    let Some((first, more)) = line.rows.split_first() else {
        return;
    };
    let all = of_rows.get(first).map_or(0, Vec::len);
    let Some(Got::Text(text)) = line.cells.get_mut(names) else {
        return;
    };
    if more.iter().all(|row| row == first) && all > NAMED && text.split(BETWEEN).count() == all {
        *text = "all members".to_owned();
    }
}

/// Whether the texts of a column are written beside one another.
fn joins(list: &ListDef, column: &ListColumnDef) -> bool {
    let members = list.over == ListOver::Members;
    shows(column, Field::Marks) || (members && shows(column, Field::Member))
}

fn shows(column: &ListColumnDef, field: Field) -> bool {
    matches!(&column.shows, ListShows::Key(ListKey::Own(own)) if *own == field)
}

/// What two lines have alike exactly when their cells are: no text can pass for two.
fn sign(got: &Got, key: &mut String) {
    let (kind, text) = match got {
        Got::Blank => ('b', String::new()),
        Got::Tick => ('t', String::new()),
        Got::Room => ('r', String::new()),
        Got::Text(text) => ('w', text.clone()),
        Got::Unknown(why) => ('u', why.clone()),
        Got::Number(n) => ('n', n.to_string()),
        Got::Day(day) => ('d', day.to_string()),
    };
    key.push_str(&format!("{kind}{}:{text}", text.len()));
}

/// Whether what is to be added are numbers that have a sum.
fn adds_up(first: &Joined, line: &Joined, added: &impl Fn(usize) -> bool) -> bool {
    let mut cells = first.cells.iter().zip(&line.cells).enumerate();
    cells.all(|(at, (a, b))| match (a, b) {
        (Got::Number(a), Got::Number(b)) => !added(at) || a.add(b).is_ok(),
        _ => !added(at),
    })
}

fn put(first: &mut Joined, line: Joined, (names, added): (usize, &impl Fn(usize) -> bool)) {
    for (at, (cell, more)) in first.cells.iter_mut().zip(line.cells).enumerate() {
        match (cell, more) {
            (Got::Text(text), Got::Text(more))
                if at == names && !text.split(BETWEEN).any(|one| one == more) =>
            {
                text.push_str(BETWEEN);
                text.push_str(&more);
            }
            (Got::Number(sum), Got::Number(more)) if added(at) => {
                if let Ok(both) = sum.add(&more) {
                    *sum = both;
                }
            }
            _ => {}
        }
    }
    first.rows.extend(line.rows);
    let more = line.phases.into_iter();
    let more: Vec<PhaseId> = more.filter(|p| !first.phases.contains(p)).collect();
    first.phases.extend(more);
}
