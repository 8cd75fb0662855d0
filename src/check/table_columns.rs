//! Columns of lookup tables: keys, bands of keys and values.

use super::typed::*;
use crate::diagnostics::{Diagnostic, Place};
use crate::number::Exact;
use crate::program::{KeyCell, KeyColumn, NumTy, Scale, Ty, ValueColumn};
use crate::syntax::parse::{CellTree, ValueTree, parse_key_cell, parse_value_cell};
use crate::syntax::tree::CellText;
use crate::units::{UnitExpr, read_point};

impl<'a> Checker<'a> {
    pub(super) fn key_column(
        &mut self,
        column: &(String, Option<UnitExpr>),
        at: usize,
        body: &[Vec<CellText>],
        places: &[Place],
    ) -> Checks<KeyColumn> {
        let mut trees = Vec::new();
        for (row, place) in body.iter().zip(places) {
            match parse_key_cell(&row[at]) {
                Ok(t) => trees.push(t),
                Err(_) if column.1.is_none() => trees.push(CellTree::Text(row[at].text.clone())),
                Err(d) => return self.tell_at(d, place),
            }
        }
        let numeric = trees.iter().any(|t| {
            matches!(
                t,
                CellTree::Number(_)
                    | CellTree::FromTo(..)
                    | CellTree::Under(_)
                    | CellTree::UpTo(_)
                    | CellTree::Over(_)
                    | CellTree::AndOver(_)
            )
        });
        let truth = trees.iter().any(|t| matches!(t, CellTree::Truth(_)));
        let unit = column.1.clone().unwrap_or_else(UnitExpr::none);
        let ty = match (numeric, truth) {
            (true, _) => match trees.iter().find_map(scale_in) {
                Some(scale) => Ty::Point(scale),
                None => typed_number(&unit),
            },
            (_, true) => Ty::Truth,
            _ => Ty::Text,
        };
        let mut cells = Vec::new();
        for ((tree, row), place) in trees.into_iter().zip(body).zip(places) {
            let cell = match (&ty, tree) {
                (_, CellTree::Any) => KeyCell::Any,
                (Ty::Text, CellTree::Labels(l)) => KeyCell::Text(if l.len() == 1 {
                    l[0].text.clone()
                } else {
                    row[at].text.clone()
                }),
                (Ty::Text, CellTree::Text(t)) => KeyCell::Text(t),
                (Ty::Text, _) => KeyCell::Text(row[at].text.clone()),
                (Ty::Truth, CellTree::Truth(b)) => KeyCell::Truth(b),
                (Ty::Number(_) | Ty::Point(_), tree) => match self.band_in(&tree, &unit, &ty) {
                    Some((Some((a, true)), Some((b, true)))) if a == b => KeyCell::Number(a),
                    Some((low, high)) => {
                        if let (Some((l, _)), Some((h, _))) = (&low, &high)
                            && l >= h
                        {
                            let d = Diagnostic::error("OV-411", "this band is empty")
                                .at(row[at].span, "")
                                .found(row[at].text.clone())
                                .expected("the lower end first");
                            return self.tell_at(d, place);
                        }
                        KeyCell::Band { low, high }
                    }
                    None => {
                        let d = Diagnostic::error(
                            "OV-411",
                            format!("this cell does not fit `{}`", column.0),
                        )
                        .at(row[at].span, "")
                        .found(row[at].text.clone())
                        .expected(match &ty {
                            Ty::Point(scale) => format!("{} or a band of them", scale.words()),
                            Ty::Number(_) | Ty::Truth | Ty::Choice(_) | Ty::Text => {
                                "a number or a band in the heading's unit".to_string()
                            }
                        });
                        return self.tell_at(d, place);
                    }
                },
                _ => {
                    let d = Diagnostic::error(
                        "OV-411",
                        format!("this cell does not fit `{}`", column.0),
                    )
                    .at(row[at].span, "")
                    .found(row[at].text.clone());
                    return self.tell_at(d, place);
                }
            };
            cells.push(cell);
        }
        Ok(KeyColumn {
            name: column.0.clone(),
            ty,
            unit: column.1.clone(),
            cells,
        })
    }

    /// The band of a key cell; bare numbers are in the heading's unit.
    #[allow(clippy::type_complexity)]
    fn band_in(
        &mut self,
        tree: &CellTree,
        unit: &UnitExpr,
        ty: &Ty,
    ) -> Option<(Option<(Exact, bool)>, Option<(Exact, bool)>)> {
        let mut end = |s: &crate::syntax::tree::Signed| -> Option<Exact> {
            if let (Some(v), Ty::Number(_)) = (scale_one(s, unit), ty) {
                return Some(v);
            }
            let before = self.problems.len();
            let read = self.signed_like(s, ty, "OV-411").ok();
            self.problems.truncate(before);
            read
        };
        Some(match tree {
            CellTree::Number(a) => {
                let v = end(a)?;
                (Some((v.clone(), true)), Some((v, true)))
            }
            CellTree::FromTo(a, b) => (Some((end(a)?, true)), Some((end(b)?, false))),
            CellTree::Under(a) => (None, Some((end(a)?, false))),
            CellTree::UpTo(a) => (None, Some((end(a)?, true))),
            CellTree::Over(a) => (Some((end(a)?, false)), None),
            CellTree::AndOver(a) => (Some((end(a)?, true)), None),
            CellTree::Any
            | CellTree::Blank
            | CellTree::Truth(_)
            | CellTree::Text(_)
            | CellTree::Labels(_)
            | CellTree::Not(_) => return None,
        })
    }

    pub(super) fn value_column(
        &mut self,
        column: &(String, Option<UnitExpr>),
        at: usize,
        body: &[Vec<CellText>],
        places: &[Place],
    ) -> Checks<ValueColumn> {
        let mut trees = Vec::new();
        for (row, place) in body.iter().zip(places) {
            match parse_value_cell(&row[at]) {
                Ok(t) => trees.push(t),
                Err(d) => return self.tell_at(d, place),
            }
        }
        let all_numbers = trees.iter().all(|t| matches!(t, ValueTree::Number(_)));
        let scale = trees.iter().find_map(|t| match t {
            ValueTree::Number(s) => scale_of(s),
            ValueTree::Truth | ValueTree::Text(_) => None,
        });
        if let (Some(scale), None) = (scale, &column.1) {
            return self.point_column(&column.0, scale, &trees, places);
        }
        if column.1.is_some() || all_numbers {
            let unit = column.1.clone().unwrap_or_else(UnitExpr::none);
            let mut numbers = Vec::new();
            for ((tree, row), place) in trees.iter().zip(body).zip(places) {
                let value = match tree {
                    ValueTree::Number(s) => scale_one(s, &unit),
                    ValueTree::Truth | ValueTree::Text(_) => None,
                };
                match value {
                    Some(v) => numbers.push(v),
                    None => {
                        let d = Diagnostic::error(
                            "OV-411",
                            format!("this cell does not fit `{}`", column.0),
                        )
                        .at(row[at].span, "")
                        .found(row[at].text.clone());
                        let d = match unit.is_empty() {
                            true => d.expected("a bare number").mend(format!(
                                "write the unit once, in the heading, after its words: {} (UNIT)",
                                column.0
                            )),
                            false => d.expected(format!(
                                "a bare number, in {}",
                                unit.text(&self.program.nouns)
                            )),
                        };
                        return self.tell_at(d, place);
                    }
                }
            }
            return Ok(ValueColumn {
                name: column.0.clone(),
                ty: typed_number(&unit),
                numbers,
                texts: vec![],
            });
        }
        let texts = body
            .iter()
            .zip(&trees)
            .map(|(r, t)| {
                if let ValueTree::Text(t) = t {
                    t.clone()
                } else {
                    r[at].text.clone()
                }
            })
            .collect();
        Ok(ValueColumn {
            name: column.0.clone(),
            ty: Ty::Text,
            numbers: vec![],
            texts,
        })
    }

    /// A column of days, moments or temperatures.
    fn point_column(
        &mut self,
        name: &str,
        scale: Scale,
        trees: &[ValueTree],
        places: &[Place],
    ) -> Checks<ValueColumn> {
        let ty = Ty::Point(scale);
        let mut numbers = Vec::new();
        for (tree, place) in trees.iter().zip(places) {
            let before = self.problems.len();
            let read = match tree {
                ValueTree::Number(s) => self.signed_like(s, &ty, "OV-411").ok(),
                ValueTree::Truth | ValueTree::Text(_) => None,
            };
            self.problems.truncate(before);
            let Some(value) = read else {
                let d = Diagnostic::error("OV-411", format!("this cell does not fit `{name}`"))
                    .at(place.clone(), "")
                    .expected(scale.words());
                return self.fail(d);
            };
            numbers.push(value);
        }
        Ok(ValueColumn {
            name: name.to_owned(),
            ty,
            numbers,
            texts: vec![],
        })
    }
}

fn typed_number(unit: &UnitExpr) -> Ty {
    let dim = unit.dim().clone();
    let adds = if unit.is_percent() {
        crate::program::Adds::No(crate::program::WhyNot::Percent)
    } else {
        adds_by_dim(&dim)
    };
    Ty::Number(NumTy {
        dim,
        percent: unit.is_percent(),
        adds,
        real: false,
    })
}

/// The scale of a written point.
fn scale_of(s: &crate::syntax::tree::Signed) -> Option<Scale> {
    Some(read_point(s.quantity.point.as_ref()?)?.0)
}

/// The scale of the points of a key cell.
fn scale_in(tree: &CellTree) -> Option<Scale> {
    match tree {
        CellTree::Number(s)
        | CellTree::FromTo(s, _)
        | CellTree::Under(s)
        | CellTree::UpTo(s)
        | CellTree::Over(s)
        | CellTree::AndOver(s) => scale_of(s),
        CellTree::Any
        | CellTree::Blank
        | CellTree::Truth(_)
        | CellTree::Text(_)
        | CellTree::Labels(_)
        | CellTree::Not(_) => None,
    }
}

/// A bare number of a cell in the heading's unit; a number with its own unit stays as it is.
fn scale_one(s: &crate::syntax::tree::Signed, unit: &UnitExpr) -> Option<Exact> {
    let [(number, None)] = s.quantity.parts.as_slice() else {
        return None;
    };
    let value = unit.to_base(number).ok()?;
    Some(if s.negative { value.neg() } else { value })
}
