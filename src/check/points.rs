//! Points of a study: versions with givens or prices set from outside, as a trial sets them, beside the job's own versions.

use super::typed::*;
use crate::diagnostics::{FileId, Span};
use crate::number::Exact;
use crate::program::{PriceChange, Program};
use crate::syntax::parse_sheet;
use crate::syntax::tree::{GivenValue, Layer, StatementKind};
use crate::table::SchemaValue;
use crate::units::{UnitExpr, parse_unit};

/// A version of the job with some of its figures set.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Point {
    /// Name of the alternate; none for the job as decided.
    pub alternate: Option<String>,
    /// What is set. Where the alternate itself changes a given, that change stays: it is the alternate's point.
    pub pins: Vec<Pin>,
}

/// A figure that is set.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Pin {
    /// A given, in base units.
    Given {
        /// Its name.
        name: String,
        /// Its value, of the kind it has.
        value: SchemaValue,
    },
    /// The price of a resource.
    Price {
        /// The resource.
        resource: String,
        /// Currency for one base unit of it.
        per_base: Exact,
    },
}

/// A quantity written outside a sheet, such as `18 min per lite`.
#[derive(Debug, Clone)]
pub struct Written {
    /// In base units; as written where `unit` is empty.
    pub value: Exact,
    /// Unit of its last part.
    pub unit: UnitExpr,
}

/// Reads a quantity as a given would be written. `None` when it is none.
pub fn read_quantity(program: &Program, text: &str) -> Option<Written> {
    let (sheet, problems) = parse_sheet(FileId(0), &format!("given it {text}\n"));
    let [statement] = sheet.statements.as_slice() else {
        return None;
    };
    let StatementKind::Given(given) = &statement.kind else {
        return None;
    };
    let GivenValue::Quantity(signed) = &given.value else {
        return None;
    };
    if !problems.is_empty() || given.range.is_some() || signed.quantity.point.is_some() {
        return None;
    }
    let (mut value, mut unit) = (Exact::ZERO, UnitExpr::none());
    for (at, (number, text)) in signed.quantity.parts.iter().enumerate() {
        let of_part = match text {
            Some(t) => parse_unit(&t.text, &program.nouns, program.currency.as_deref()).ok()?,
            None => UnitExpr::none(),
        };
        if at > 0 && of_part.dim() != unit.dim() {
            return None;
        }
        value = value.add(&of_part.to_base(number).ok()?).ok()?;
        unit = of_part;
    }
    Some(Written {
        value: if signed.negative { value.neg() } else { value },
        unit,
    })
}

impl<'a> Checker<'a> {
    /// Builds the version of each point after those of the job. A point of an alternate that does not exist, or
    /// of a mixed plan, whose picks need costs first, builds nothing.
    pub(super) fn points(&mut self, base: &[LayeredChange<'a>], points: &[Point]) {
        for point in points {
            let alternate: Vec<LayeredChange<'a>> = match &point.alternate {
                None => vec![],
                Some(name) => match self
                    .declared
                    .alternates
                    .iter()
                    .find(|a| a.name.text == *name && a.pick.is_none())
                {
                    Some(alternate) => alternate.layered(),
                    None => continue,
                },
            };
            self.work.repeat = true;
            self.work.pinned.clear();
            for pin in &point.pins {
                if let Pin::Given { name, value } = pin
                    && let Some(d) = self.given(name)
                {
                    let span = self.declared.defs[d].name.span;
                    self.work.pinned.insert(d, (value.clone(), span));
                }
            }
            self.point_versions.push(self.program.versions.len());
            self.build(point.alternate.clone(), base, &alternate);
            self.work.pinned.clear();
            for pin in &point.pins {
                if let Pin::Price { resource, per_base } = pin {
                    self.set_price(resource, per_base);
                }
            }
        }
    }

    fn given(&self, name: &str) -> Option<usize> {
        let list = self.declared.by_name.get(name)?;
        list.iter()
            .copied()
            .find(|d| matches!(self.declared.defs[*d].kind, DefKind::Given(_)))
    }

    /// Sets the price of a resource in the version built last, unless the alternate sets it.
    fn set_price(&mut self, name: &str, per_base: &Exact) {
        let Some(resource) = self.declared.resources_by_name.get(name).copied() else {
            return;
        };
        let span: Span = self.declared.resources[resource].tree.name.span;
        let Some(version) = self.program.versions.last_mut() else {
            return;
        };
        if version
            .price_changes
            .iter()
            .any(|c| c.resource == resource && c.layer == Layer::Alternate)
        {
            return;
        }
        version.price_changes.retain(|c| c.resource != resource);
        version.price_changes.push(PriceChange {
            resource,
            price: per_base.clone(),
            layer: Layer::Alternate,
            because: None,
            span,
        });
    }
}
