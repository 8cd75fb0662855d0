//! The row of a lookup table that fitted.

use super::builder::{Builder, Here};
use super::tree::{Tree, What};
use crate::diagnostics::{Place, Span};
use crate::eval::Cell;
use crate::ids;
use crate::number::Exact;
use crate::program::{ChoiceDef, KeyCell, Kind, Lookup, Ty};
use crate::syntax::tree::Name;

impl Builder<'_> {
    pub(super) fn looked_up(
        &mut self,
        span: Span,
        value: &Name,
        table: &Name,
        interpolated: bool,
        here: Here<'_>,
    ) -> Tree {
        let mut tree = self.of_span(
            What::Lookup,
            format!("{} from {}", value.text, table.text),
            span,
            here,
        );
        let Some(node) = self.node_at(span) else {
            return tree;
        };
        let Kind::Lookup {
            table: id, keys, ..
        } = &self.program().node(node).kind
        else {
            return tree;
        };
        let Some(lookup) = self.program().lookups.get(*id) else {
            return tree;
        };
        let mut found = Vec::new();
        for (key, column) in keys.iter().zip(&lookup.keys) {
            let text = self.shown(*key, here.row, None);
            tree.fact("at", format!("{} {text}", column.name));
            let choice = match &self.program().node(*key).ty {
                Ty::Choice(c) => self.program().choices.get(*c),
                Ty::Number(_) | Ty::Truth | Ty::Text | Ty::Point(_) => None,
            };
            found.push((self.cell(*key, here.row), choice));
        }
        if interpolated {
            let Some((Cell::Number(at), _)) = found.first() else {
                return tree;
            };
            for row in around(lookup, at) {
                let text = self.row_text(lookup, row);
                tree.fact("between", text);
            }
            tree.place = Some(lookup.span.into());
            return tree;
        }
        if let Some(row) = fitting(lookup, &found) {
            let text = self.row_text(lookup, row);
            tree.fact("row", text);
            tree.place = lookup.places.get(row).cloned();
        }
        tree
    }

    /// A row of a table as it is written; its line for one in a file.
    fn row_text(&self, lookup: &Lookup, row: usize) -> String {
        match lookup.places.get(row) {
            Some(Place::Sheet(span)) => {
                // The place is the row's first cell; the row is the rest of its line.
                let whole = self.sources().text(span.file);
                let line = whole
                    .get(ids::at(span.start)..)
                    .and_then(|rest| rest.lines().next())
                    .unwrap_or("");
                line.split('#')
                    .next()
                    .unwrap_or("")
                    .split_whitespace()
                    .collect::<Vec<_>>()
                    .join(" ")
            }
            Some(Place::Cell(cell)) => cell.to_string(),
            Some(Place::File(name)) => name.clone(),
            None => format!("row {}", row + 1),
        }
    }
}

/// The first row that fits every key.
fn fitting(lookup: &Lookup, keys: &[(Cell, Option<&ChoiceDef>)]) -> Option<usize> {
    (0..lookup.rows).find(|row| {
        lookup
            .keys
            .iter()
            .zip(keys)
            .all(|(column, (cell, choice))| {
                column
                    .cells
                    .get(*row)
                    .is_some_and(|key| fits(key, cell, *choice))
            })
    })
}

fn fits(key: &KeyCell, cell: &Cell, choice: Option<&ChoiceDef>) -> bool {
    match (key, cell) {
        (KeyCell::Any, Cell::Absent(_) | Cell::Fault(_)) => false,
        (KeyCell::Any, _) => true,
        (KeyCell::Number(a), Cell::Number(b)) => a == b,
        (KeyCell::Band { low, high }, Cell::Number(x)) => {
            let above = low
                .as_ref()
                .is_none_or(|(end, included)| x > end || (*included && x == end));
            let below = high
                .as_ref()
                .is_none_or(|(end, included)| x < end || (*included && x == end));
            above && below
        }
        (KeyCell::Text(a), Cell::Text(b)) => a == b,
        (KeyCell::Text(a), Cell::Label(at)) => {
            choice.and_then(|c| c.labels.get(usize::from(*at))) == Some(a)
        }
        (KeyCell::Truth(a), Cell::Truth(b)) => a == b,
        _ => false,
    }
}

/// The rows whose key is next below and next above; one row where it is met exactly.
fn around(lookup: &Lookup, at: &Exact) -> Vec<usize> {
    let Some(column) = lookup.keys.first() else {
        return vec![];
    };
    let points = || {
        column.cells.iter().enumerate().filter_map(|(row, c)| {
            if let KeyCell::Number(n) = c {
                Some((row, n))
            } else {
                None
            }
        })
    };
    let below = points()
        .filter(|(_, n)| *n <= at)
        .max_by(|a, b| a.1.cmp(b.1));
    let above = points()
        .filter(|(_, n)| *n >= at)
        .min_by(|a, b| a.1.cmp(b.1));
    let mut rows: Vec<usize> = [below, above]
        .into_iter()
        .flatten()
        .map(|(row, _)| row)
        .collect();
    rows.dedup();
    rows
}
