//! Values of a run as text: a cell of a result in its unit, and texts of a sheet with values put in.

use crate::eval::{Cell, Results};
use crate::program::{NodeId, Piece, Program, Template, Ty};
use crate::survey::dates;
use crate::table::Absence;
use crate::units::{Style, UnitExpr, default_unit, format_quantity, parse_unit};

/// A value of a node as people say it. Without a unit a number is shown in the plainest one of its dimension.
pub fn cell_text(program: &Program, node: NodeId, cell: &Cell, unit: Option<&UnitExpr>) -> String {
    let node = program.node(node);
    match cell {
        Cell::Number(value) => {
            let unit = unit
                .cloned()
                .unwrap_or_else(|| plain_unit(program, &node.ty));
            format_quantity(value, &unit, &program.nouns, Style::default())
        }
        Cell::Truth(true) => "yes".to_owned(),
        Cell::Truth(false) => "no".to_owned(),
        Cell::Label(at) => match &node.ty {
            Ty::Choice(choice) => {
                let labels = program
                    .choices
                    .get(usize::from(choice.0))
                    .map(|c| &c.labels);
                labels
                    .and_then(|l| l.get(usize::from(*at)))
                    .cloned()
                    .unwrap_or_default()
            }
            Ty::Number(_) | Ty::Truth | Ty::Text | Ty::Date => format!("line {}", at + 1),
        },
        Cell::Text(text) => text.clone(),
        Cell::Date(day) => dates::to_text(*day),
        Cell::Absent(absence) => absence_word(*absence).to_owned(),
        Cell::Fault(_) => "failed".to_owned(),
    }
}

fn plain_unit(program: &Program, ty: &Ty) -> UnitExpr {
    match ty {
        // The percent sign is in the closed list.
        Ty::Number(n) if n.percent => {
            parse_unit("%", &program.nouns, None).unwrap_or_else(|_| UnitExpr::none())
        }
        Ty::Number(n) => default_unit(&n.dim, &program.nouns, program.currency.as_deref()),
        Ty::Truth | Ty::Choice(_) | Ty::Text | Ty::Date => UnitExpr::none(),
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

/// A text of a sheet with the values of a row put in. Its nodes must have been wanted.
pub fn template_text(
    program: &Program,
    template: &Template,
    results: &Results,
    row: usize,
) -> String {
    let piece = |piece: &Piece| match piece {
        Piece::Text(text) => text.clone(),
        Piece::Value { node, unit } => {
            cell_text(program, *node, &results.value(*node, row), unit.as_ref())
        }
    };
    template.pieces.iter().map(piece).collect()
}
