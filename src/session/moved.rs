//! What moved between two runs of a job: named values row by row, and the figures of its estimate.

use super::apply::Run;
use crate::eval::Cell;
use crate::number::cents_grouped;
use crate::pricing::Estimate;
use crate::program::{Grain, ValueDef, Version};
use crate::show;
use crate::table::Table;
use std::collections::{HashMap, HashSet};

/// A value or a figure that is not what it was.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Moved {
    /// Its name: a column, given, rule or decision; a class such as `labor`, a resource, a charge, `cost` or `total`.
    pub name: String,
    /// Whether it is a figure of the estimate rather than a named value.
    pub figure: bool,
    /// On which rows it moved, in the order of the rows now; rows that are gone come last.
    pub rows: Vec<MovedRow>,
}

/// What a value was and is on a row.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct MovedRow {
    /// The mark of the row, or the keys of the group; none for the job.
    pub at: Option<String>,
    /// What it was; none where the value or the row is new.
    pub before: Option<String>,
    /// What it is; none where the value or the row is gone.
    pub after: Option<String>,
}

/// Everything that moved, figures first. Without an earlier run all of it is new.
pub(super) fn moved(before: Option<&Run>, now: &Run) -> Vec<Moved> {
    let mut out = figures(before.map(|run| &run.worked.estimate), &now.worked.estimate);
    let was: HashMap<&str, &ValueDef> = before
        .and_then(version)
        .into_iter()
        .flat_map(|v| &v.values)
        .map(|v| (v.name.as_str(), &**v))
        .collect();
    let mut is = HashSet::new();
    let mut names = Names::default();
    for value in version(now).into_iter().flat_map(|v| &v.values) {
        is.insert(value.name.as_str());
        let earlier = before.zip(was.get(value.name.as_str()).copied());
        let rows = match earlier {
            Some((run, then)) if then.grain_word() != value.grain_word() => {
                let mut rows = all_rows(now, value, true, &mut names);
                rows.extend(all_rows(run, then, false, &mut names));
                rows
            }
            Some((run, then)) => rows_between((run, then), (now, value), &mut names),
            None => all_rows(now, value, true, &mut names),
        };
        put(&mut out, &value.name, rows);
    }
    if let Some(run) = before {
        for then in was.values().filter(|v| !is.contains(v.name.as_str())) {
            let rows = all_rows(run, then, false, &mut names);
            put(&mut out, &then.name, rows);
        }
    }
    out
}

fn put(out: &mut Vec<Moved>, name: &str, rows: Vec<MovedRow>) {
    if !rows.is_empty() {
        out.push(Moved {
            name: name.to_owned(),
            figure: false,
            rows,
        });
    }
}

fn version(run: &Run) -> Option<&Version> {
    run.job.checked.program.versions.get(run.version)
}

impl ValueDef {
    /// The kind of its grain, without its number: numbers of grains differ between programs.
    fn grain_word(&self) -> &'static str {
        match self.grain {
            Grain::Const | Grain::Job => "job",
            Grain::Table(_) => "table",
            Grain::Group(_) => "group",
        }
    }
}

fn tables(run: &Run) -> Vec<&Table> {
    run.survey.tables.iter().collect()
}

/// Names of rows, by run and grain.
#[derive(Default)]
struct Names(HashMap<(*const Run, Grain), std::rc::Rc<Vec<Option<String>>>>);

impl Names {
    fn of(&mut self, run: &Run, grain: Grain) -> std::rc::Rc<Vec<Option<String>>> {
        let make = || {
            let (program, tables) = (&run.job.checked.program, tables(run));
            let results = &run.worked.results;
            (0..show::rows(&tables, results, grain))
                .map(|row| show::row_name(program, &tables, results, grain, row))
                .collect()
        };
        let known = self.0.entry((std::ptr::from_ref(run), grain));
        known.or_insert_with(|| std::rc::Rc::new(make())).clone()
    }
}

fn text(run: &Run, value: &ValueDef, cell: &Cell) -> String {
    show::cell_text(
        &run.job.checked.program,
        value.node,
        cell,
        value.unit.as_ref(),
    )
}

fn all_rows(run: &Run, value: &ValueDef, new: bool, names: &mut Names) -> Vec<MovedRow> {
    let rows = names.of(run, value.grain);
    let row = |(row, at): (usize, &Option<String>)| {
        let shown = Some(text(run, value, &run.worked.results.value(value.node, row)));
        let (before, after) = if new { (None, shown) } else { (shown, None) };
        MovedRow {
            at: at.clone(),
            before,
            after,
        }
    };
    rows.iter().enumerate().map(row).collect()
}

fn rows_between(
    (run, then): (&Run, &ValueDef),
    (now, value): (&Run, &ValueDef),
    names: &mut Names,
) -> Vec<MovedRow> {
    let (old, new) = (names.of(run, then.grain), names.of(now, value.grain));
    let aligned = old == new;
    let mut place: HashMap<&Option<String>, usize> = HashMap::new();
    if !aligned {
        place.extend(old.iter().enumerate().map(|(row, name)| (name, row)));
    }
    let mut out = Vec::new();
    for (row, at) in new.iter().enumerate() {
        let was = if aligned { Some(row) } else { place.remove(at) };
        let after = now.worked.results.value(value.node, row);
        let before = was.map(|was| run.worked.results.value(then.node, was));
        // Numbers of labels and of faults belong to one program: those are compared by their words.
        let same = match (&before, &after) {
            (Some(Cell::Label(_)), Cell::Label(_)) => false,
            (Some(before), after) => before == after,
            (None, _) => false,
        };
        if same {
            continue;
        }
        let before = before.map(|cell| text(run, then, &cell));
        let after = Some(text(now, value, &after));
        if before != after || was.is_none() {
            out.push(MovedRow {
                at: at.clone(),
                before,
                after,
            });
        }
    }
    if !aligned {
        let mut gone: Vec<usize> = place.into_values().collect();
        gone.sort_unstable();
        out.extend(gone.into_iter().map(|row| MovedRow {
            at: old.get(row).cloned().flatten(),
            before: Some(text(run, then, &run.worked.results.value(then.node, row))),
            after: None,
        }));
    }
    out
}

/// Figures of two estimates that differ: classes, resources, charges, cost, total.
fn figures(before: Option<&Estimate>, now: &Estimate) -> Vec<Moved> {
    let was: HashMap<String, String> = before.into_iter().flat_map(list).collect();
    let mut gone: Vec<(String, String)> = before.into_iter().flat_map(list).collect();
    let mut out = Vec::new();
    let mut push = |name: String, before: Option<String>, after: Option<String>| {
        if before != after {
            let at = None;
            out.push(Moved {
                name,
                figure: true,
                rows: vec![MovedRow { at, before, after }],
            });
        }
    };
    for (name, after) in list(now) {
        gone.retain(|(other, _)| *other != name);
        let before = was.get(&name).cloned();
        push(name, before, Some(after));
    }
    for (name, before) in gone {
        push(name, Some(before), None);
    }
    out
}

fn list(estimate: &Estimate) -> Vec<(String, String)> {
    let money = |cents: i128| format!("{} {}", cents_grouped(cents), estimate.currency);
    let classes = estimate.headline.iter().filter_map(|row| {
        let amount = row.net.as_ref()?;
        Some((
            row.class.word().to_owned(),
            format!("{} {}", amount.to_decimal(2).0, row.unit),
        ))
    });
    let mut out: Vec<(String, String)> = classes.collect();
    out.extend(estimate.lines.iter().map(|line| {
        let name = match &line.phase {
            Some(phase) => format!("{}, {phase}", line.name),
            None => line.name.clone(),
        };
        (name, money(line.cents))
    }));
    out.extend(
        estimate
            .charges
            .iter()
            .map(|c| (c.name.clone(), money(c.cents))),
    );
    out.push(("cost".to_owned(), money(estimate.totals.direct)));
    out.push(("total".to_owned(), money(estimate.totals.grand)));
    out
}
