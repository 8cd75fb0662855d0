//! Which row of a coarser grain a row belongs to, and how rows are named.
//!
//! Knows tables, their parents and groups. Must not know rules or what they are calculated to.

use super::builder::Builder;
use crate::ids;
use crate::program::{Grain, GroupId, Program, TableId};

/// Whether a value at `to` can be read at `from`.
pub(super) fn reaches(program: &Program, from: Grain, to: Grain) -> bool {
    match (from, to) {
        (a, b) if a == b => false,
        (Grain::Const, _) => false,
        (_, Grain::Const | Grain::Job) => true,
        (Grain::Table(t), Grain::Table(above)) => above_of(program, t).any(|a| a == above),
        (Grain::Table(t), Grain::Group(g)) => {
            let of = program.groups.get(g).map(|g| g.of);
            of == Some(t) || above_of(program, t).any(|a| Some(a) == of)
        }
        _ => false,
    }
}

/// The tables above a table, nearest first.
fn above_of(program: &Program, table: TableId) -> impl Iterator<Item = TableId> + '_ {
    let parent = |t: &TableId| program.tables.get(*t).and_then(|t| t.parent);
    // Checked programs have no circle of tables; the bound keeps that from mattering here.
    std::iter::successors(parent(&table), move |t| parent(t)).take(program.tables.len())
}

impl Builder<'_> {
    /// The row of a coarser grain that a row belongs to; 0 for the job. `None` when it is not known (yet).
    pub(super) fn row_up(&self, from: Grain, row: usize, to: Grain) -> Option<usize> {
        match (from, to) {
            (a, b) if a == b => Some(row),
            (_, Grain::Job | Grain::Const) => Some(0),
            (Grain::Table(t), _) => {
                if let Grain::Group(g) = to
                    && self.program().groups.get(g)?.of == t
                {
                    return self.results.groups(g)?.of_row.get(row).map(|r| ids::at(*r));
                }
                let parent = self.program().tables.get(t)?.parent?;
                let table = self.subject.survey.tables.get(t.index())?;
                let above = ids::at(*table.parent_rows.as_ref()?.get(row)?);
                self.row_up(Grain::Table(parent), above, to)
            }
            _ => None,
        }
    }

    /// How many rows a grain has.
    pub(super) fn rows(&self, grain: Grain) -> usize {
        match grain {
            Grain::Const | Grain::Job => 1,
            Grain::Table(t) => self
                .subject
                .survey
                .tables
                .get(t.index())
                .map_or(0, |t| t.rows),
            Grain::Group(g) => self.results.groups(g).map_or(0, |g| g.first_row.len()),
        }
    }

    /// How a row is named: its mark, its place below the mark above it, the keys of its group. None for the job.
    pub(super) fn mark(&mut self, grain: Grain, row: usize) -> Option<String> {
        match grain {
            Grain::Const | Grain::Job => None,
            Grain::Table(t) => Some(self.row_mark(t, row)),
            Grain::Group(g) => {
                let group = self.program().groups.get(g)?;
                let keys = group.keys.clone();
                let first = self
                    .results
                    .groups(g)
                    .and_then(|g| g.first_row.get(row))
                    .map(|r| ids::at(*r));
                let Some(first) = first else {
                    self.want_groups(g);
                    return None;
                };
                let texts: Vec<String> = keys
                    .iter()
                    .map(|key| self.shown(*key, first, None))
                    .collect();
                Some(texts.join(", "))
            }
        }
    }

    /// Groups come with any value calculated for them; their keys are needed to name them.
    pub(super) fn want_groups(&mut self, group: GroupId) {
        let nodes = self.program().nodes();
        let any = nodes.id_of(|n| n.grain == Grain::Group(group));
        self.missing.extend(any);
        let keys = self.program().groups.get(group).map(|g| g.keys.clone());
        self.missing.extend(keys.unwrap_or_default());
    }

    fn row_mark(&self, id: TableId, row: usize) -> String {
        let at = id.index();
        let by_line = || {
            let place = self
                .subject
                .survey
                .tables
                .get(at)
                .and_then(|t| t.places.get(row));
            place.map_or_else(|| format!("row {}", row + 1), |p| format!("line {}", p.row))
        };
        let (Some(info), Some(table)) = (
            self.program().tables.get(id),
            self.subject.survey.tables.get(at),
        ) else {
            return by_line();
        };
        let key = info.schema.key.and_then(|k| table.columns.get(k));
        if let Some(key) = key {
            return key.text(row).map_or_else(by_line, str::to_owned);
        }
        let above = table.parent_rows.as_ref().and_then(|p| p.get(row));
        match (info.parent, above) {
            (Some(parent), Some(above)) => {
                format!("{}, {}", self.row_mark(parent, ids::at(*above)), by_line())
            }
            _ => by_line(),
        }
    }

    /// The row of a grain that a user names: a mark, the keys of a group, or the mark of a row in the group.
    pub(super) fn row_named(&mut self, grain: Grain, name: &str) -> Option<usize> {
        let same = |a: &str| a.trim().eq_ignore_ascii_case(name.trim());
        match grain {
            Grain::Const | Grain::Job => None,
            Grain::Table(t) => (0..self.rows(grain)).find(|row| same(&self.row_mark(t, *row))),
            Grain::Group(g) => {
                if self.results.groups(g).is_none() {
                    self.want_groups(g);
                    return None;
                }
                let by_keys = (0..self.rows(grain))
                    .find(|row| self.mark(grain, *row).is_some_and(|m| same(&m)));
                by_keys.or_else(|| {
                    let of = self.program().groups.get(g)?.of;
                    let member = self.row_named(Grain::Table(of), name)?;
                    self.row_up(Grain::Table(of), member, grain)
                })
            }
        }
    }
}
