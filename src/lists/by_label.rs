//! Items of the bid by a label of rows: what the sash of each treatment come to, and beside them all that is no work on a sash.

use super::gather::paper_text;
use super::papers::Made;
use crate::eval::Cell;
use crate::number::{Exact, NumError};
use crate::pricing::CostLine;
use crate::pricing::bid::{self, BidItem};
use crate::program::{Grain, NodeId, TableId, TakeDef, Version};
use crate::show::rows;
use std::collections::BTreeMap;

/// What must be worked to tell the amounts of takes by rows of every grain.
pub(super) fn wanted(version: &Version, label: NodeId, nodes: &mut Vec<NodeId>) {
    nodes.push(label);
    nodes.extend(version.takes.iter().map(|take| take.amount));
}

/// The keys of items by a label.
struct Labeled<'a> {
    made: &'a Made<'a>,
    grain: Grain,
    /// The key of each row; none where its label is not known.
    key_of_row: Vec<Option<usize>>,
    /// Name of each key, and how many rows have it; last, where there is one, what is no work on a row.
    keys: Vec<(String, usize)>,
    /// The key of what is done on rows of the main table and on none of these.
    others: Option<usize>,
}

/// The items of the base bid by a label of rows; their amounts add up to the sum.
///
/// # Errors
///
/// When a number has too many digits.
pub(super) fn items(made: &Made<'_>, label: NodeId, rest: &str) -> Result<Vec<BidItem>, NumError> {
    let labeled = Labeled::of(made, label);
    let by_take = made.version.takes.iter().map(|take| labeled.nets(take));
    let by_take: Vec<Vec<Exact>> = by_take.collect::<Result<_, _>>()?;
    let nets = |line: &CostLine| {
        let mut sums = vec![Exact::ZERO; labeled.keys.len() + 1];
        for (take, own) in made.version.takes.iter().zip(&by_take) {
            let phase = &made.program.phases[take.phase];
            if take.resource != line.resource || line.phase.as_ref().is_some_and(|p| p != phase) {
                continue;
            }
            for (sum, net) in sums.iter_mut().zip(own) {
                *sum = sum.add(net)?;
            }
        }
        Ok(sums)
    };
    bid::items_by_key(made.estimate, &labeled.keys, nets, rest)
}

impl<'a> Labeled<'a> {
    fn of(made: &'a Made<'_>, label: NodeId) -> Labeled<'a> {
        let grain = made.program.node(label).grain;
        let cell = |row: usize| match made.results.value(label, row) {
            cell @ Cell::Label(n) => Some((n, cell)),
            Cell::Number(_) | Cell::Truth(_) | Cell::Text(_) | Cell::Absent(_) | Cell::Fault(_) => {
                None
            }
        };
        let labels: Vec<_> = (0..rows(made.tables, made.results, grain))
            .map(cell)
            .collect();
        let mut found: BTreeMap<_, (String, usize)> = BTreeMap::new();
        let table = name_of(made, grain);
        for (n, cell) in labels.iter().flatten() {
            let words = || paper_text(made.program, label, cell, None);
            let own = found
                .entry(*n)
                .or_insert_with(|| (format!("{table}, {}", words()), 0));
            own.1 += 1;
        }
        let order: Vec<_> = found.keys().copied().collect();
        let place = |(n, _): &(_, Cell)| order.iter().position(|known| known == n);
        let key_of_row = labels
            .iter()
            .map(|one| one.as_ref().and_then(place))
            .collect();
        let mut keys: Vec<(String, usize)> = found.into_values().collect();
        let main = made.program.main_table().map(Grain::Table);
        let other = main.filter(|main| *main != grain);
        let others = other.map(|main| {
            let count = rows(made.tables, made.results, main);
            keys.push((format!("{}, all other work", name_of(made, main)), count));
            keys.len() - 1
        });
        Labeled {
            made,
            grain,
            key_of_row,
            keys,
            others,
        }
    }

    /// The amount of a take under each key, and last for the whole job.
    fn nets(&self, take: &TakeDef) -> Result<Vec<Exact>, NumError> {
        let made = self.made;
        let number = |node: NodeId, row: usize| match made.results.value(node, row) {
            Cell::Number(n) => n,
            Cell::Truth(_) | Cell::Label(_) | Cell::Text(_) | Cell::Absent(_) | Cell::Fault(_) => {
                Exact::ZERO
            }
        };
        let mut sums = vec![Exact::ZERO; self.keys.len() + 1];
        let last = self.keys.len();
        let main = made.program.main_table().map(Grain::Table);
        let (node, grain) = match (below(made, take.grain, self.grain), take.plan.by_row) {
            (true, _) => (take.amount, take.grain),
            (false, Some(by_row)) if main == Some(self.grain) => (by_row, self.grain),
            (false, by_row) => {
                let key = by_row.and(self.others).unwrap_or(last);
                if let Some(sum) = sums.get_mut(key) {
                    *sum = number(take.plan.total, 0);
                }
                return Ok(sums);
            }
        };
        for row in 0..rows(made.tables, made.results, grain) {
            let of = made.row_above((grain, row), self.grain);
            let key = of.and_then(|of| self.key_of_row.get(of).copied().flatten());
            let key = key.or(self.others).unwrap_or(last);
            if let Some(sum) = sums.get_mut(key) {
                *sum = sum.add(&number(node, row))?;
            }
        }
        Ok(sums)
    }
}

/// Whether rows of a grain belong each to one of another.
fn below(made: &Made<'_>, grain: Grain, of: Grain) -> bool {
    let (Grain::Table(table), Grain::Table(above)) = (grain, of) else {
        return false;
    };
    let parent = |table: &TableId| made.program.tables.get(*table)?.parent;
    std::iter::successors(Some(table), parent).any(|t| t == above)
}

fn name_of(made: &Made<'_>, grain: Grain) -> String {
    let table = match grain {
        Grain::Table(table) => made.program.tables.get(table),
        Grain::Const | Grain::Job | Grain::Group(_) => None,
    };
    table.map_or_else(String::new, |t| t.schema.name.replace('_', " "))
}
