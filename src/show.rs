//! Values of a run as text: a cell of a result in its unit, and texts of a sheet with values put in.
//!
//! ```
//! # fn worked() -> ovolo::session::Session {
//! #     include!(concat!(env!("CARGO_MANIFEST_DIR"), "/tests/docs/worked.rs"))
//! # }
//! use ovolo::eval::Cell;
//! use ovolo::number::Exact;
//!
//! let session = worked(); // a small job in memory
//! let run = session.run().expect("it is worked");
//! let program = &run.job.checked.program;
//! let mut values = program.versions[0].values.iter();
//! let area = values.find(|v| v.name == "area").expect("a rule").node;
//! let cell = Cell::Number(Exact::int(1800)); // base units: square inches
//! assert_eq!(ovolo::show::cell_text(program, area, &cell, None), "12.5 sq ft");
//! ```

// A match over kinds lists them all, so that a new kind is noticed everywhere, and no conversion fails silently.
#![warn(
    clippy::wildcard_enum_match_arm,
    clippy::match_wildcard_for_single_variants
)]
#![warn(clippy::as_conversions)]

use crate::eval::{Cell, Results};
use crate::ids;
use crate::number::Exact;
use crate::program::{Grain, NodeId, Piece, Program, TableId, Template, Ty};
use crate::table::{Absence, Table};
use crate::units::{Dim, Style, UnitExpr, default_unit, format_quantity, parse_unit, point_text};

/// A value of a node as people say it. Without a unit a number is shown in the plainest one of its dimension.
pub fn cell_text(program: &Program, node: NodeId, cell: &Cell, unit: Option<&UnitExpr>) -> String {
    let node = program.node(node);
    match cell {
        Cell::Number(value) => {
            if let Ty::Point(scale) = node.ty {
                return point_text(scale, value);
            }
            let unit = unit
                .cloned()
                .unwrap_or_else(|| plain_unit(program, &node.ty, value));
            format_quantity(value, &unit, &program.nouns, Style::default())
        }
        Cell::Truth(true) => "yes".to_owned(),
        Cell::Truth(false) => "no".to_owned(),
        Cell::Label(at) => match &node.ty {
            Ty::Choice(choice) => {
                let labels = program.choices.get(*choice).map(|c| &c.labels);
                labels
                    .and_then(|l| l.get(usize::from(*at)))
                    .cloned()
                    .unwrap_or_default()
            }
            Ty::Number(_) | Ty::Truth | Ty::Text | Ty::Point(_) => format!("line {}", at + 1),
        },
        Cell::Text(text) => text.clone(),
        Cell::Absent(absence) => absence_word(*absence).to_owned(),
        Cell::Fault(_) => "failed".to_owned(),
    }
}

/// The value of a node that is written as it is, and not worked out.
pub fn written(program: &Program, node: NodeId) -> Option<Cell> {
    program.node(node).kind.value().map(Cell::from)
}

/// Areas below this print in square inches: a quarter of a square foot.
const SMALL_AREA: i64 = 36;

fn plain_unit(program: &Program, ty: &Ty, value: &Exact) -> UnitExpr {
    let small = || !value.is_zero() && value.abs() < Exact::int(SMALL_AREA);
    match ty {
        // The percent sign and square inches are in the closed list.
        Ty::Number(n) if n.percent => {
            parse_unit("%", &program.nouns, None).unwrap_or_else(|_| UnitExpr::none())
        }
        Ty::Number(n) if n.dim == Dim::length(2) && small() => {
            parse_unit("sq in", &program.nouns, None).unwrap_or_else(|_| UnitExpr::none())
        }
        Ty::Number(n) => default_unit(&n.dim, &program.nouns, program.currency.as_deref()),
        Ty::Truth | Ty::Choice(_) | Ty::Text | Ty::Point(_) => UnitExpr::none(),
    }
}

/// The word of a missing value.
pub fn absence_word(absence: Absence) -> &'static str {
    match absence {
        Absence::Present => "known",
        Absence::Blank => "blank",
        Absence::NotApplicable => "n/a",
        Absence::Unreadable => "unreadable",
    }
}

/// How many rows a grain has.
pub fn rows(tables: &[&Table], results: &Results, grain: Grain) -> usize {
    match grain {
        Grain::Table(id) => tables.get(id.index()).map_or(0, |t| t.rows),
        Grain::Group(id) => results.groups(id).map_or(0, |g| g.first_row.len()),
        Grain::Job | Grain::Const => 1,
    }
}

/// How a row is called: its mark, behind the mark of the row it belongs to; the keys of its group, whose nodes must have been wanted.
/// `None` for the job.
pub fn row_name(
    program: &Program,
    tables: &[&Table],
    results: &Results,
    grain: Grain,
    row: usize,
) -> Option<String> {
    match grain {
        Grain::Table(id) => Some(table_row(program, tables, id, row)),
        Grain::Group(id) => {
            let first = results
                .groups(id)
                .and_then(|g| g.first_row.get(row))
                .map_or(row, |first| ids::at(*first));
            let keys = program.groups.get(id).map(|g| &g.keys);
            let key = |node: &NodeId| cell_text(program, *node, &results.value(*node, first), None);
            let texts: Vec<String> = keys.into_iter().flatten().map(key).collect();
            Some(texts.join(", "))
        }
        Grain::Job | Grain::Const => None,
    }
}

fn table_row(program: &Program, tables: &[&Table], id: TableId, row: usize) -> String {
    let by_line = |table: Option<&&Table>| {
        let place = table.and_then(|t| t.places.get(row));
        place.map_or_else(|| format!("row {}", row + 1), |p| format!("line {}", p.row))
    };
    let (Some(info), Some(table)) = (program.tables.get(id), tables.get(id.index())) else {
        return by_line(None);
    };
    let key = info.schema.key.and_then(|k| table.columns.get(k));
    let own = key
        .and_then(|k| k.text(row))
        .map_or_else(|| by_line(Some(table)), str::to_owned);
    let above = table.parent_rows.as_ref().and_then(|p| p.get(row));
    match (info.parent, above) {
        (Some(parent), Some(above)) => {
            let above = table_row(program, tables, parent, ids::at(*above));
            // A row that is made has the mark above in its own.
            let says_above = own.strip_prefix(&*above);
            match says_above.is_some_and(|rest| rest.starts_with('-')) {
                true => own,
                false => format!("{above}, {own}"),
            }
        }
        _ => own,
    }
}

/// A text of a sheet with the values of a row put in. Its nodes must have been wanted.
pub fn template_text(
    program: &Program,
    template: &Template,
    results: &Results,
    row: usize,
) -> String {
    let piece = |piece: &Piece| match piece {
        Piece::Text(text) => text.clone(),
        Piece::Value { node, unit, .. } => {
            cell_text(program, *node, &results.value(*node, row), unit.as_ref())
        }
    };
    template.pieces.iter().map(piece).collect()
}
