//! Written measures: their units and their values in base units.

use super::number_type;
use super::typed::*;
use crate::diagnostics::{Diagnostic, Span};
use crate::number::Exact;
use crate::program::{Scale, Ty};
use crate::syntax::tree::{self};
use crate::units::{Dim, UnitExpr, parse_unit, read_point};

impl<'a> Checker<'a> {
    /// A unit as written in a sheet.
    pub(super) fn unit(&mut self, text: &tree::UnitText) -> Checks<UnitExpr> {
        if let Some(unit) = self.kept.unit_cache.get(&text.text) {
            return Ok(unit.clone());
        }
        match parse_unit(
            &text.text,
            &self.program.nouns,
            self.program.currency.as_deref(),
        ) {
            Ok(unit) => {
                self.kept.unit_cache.insert(text.text.clone(), unit.clone());
                if self.program.currency.is_none()
                    && let Some(code) = crate::units::CURRENCIES
                        .iter()
                        .find(|c| text.text.split(' ').any(|w| w == **c))
                {
                    self.program.currency = Some((*code).to_string());
                }
                Ok(unit)
            }
            Err(e) => {
                let currency = crate::units::CURRENCIES.contains(&e.found.as_str());
                if currency && let Some(job) = self.program.currency.clone() {
                    return self.fail(
                        Diagnostic::error("OV-314", "a job has one currency")
                            .at(text.span, "")
                            .found(e.found)
                            .expected(job),
                    );
                }
                let d = Diagnostic::error(
                    "OV-310",
                    format!(
                        "`{}` is not a unit",
                        if e.found.is_empty() {
                            &text.text
                        } else {
                            &e.found
                        }
                    ),
                )
                .at(text.span, "")
                .expected("one of the units of the language, or a noun declared with `counted`");
                let step =
                    "a rounding names its step: `to 1` for whole ones, `to 0.01` for two places";
                self.fail(match (e.suggestion, e.found.as_str()) {
                    (Some(s), _) => d.mend(format!("did you mean `{s}`?")),
                    (None, "place" | "places" | "decimal" | "decimals" | "digit" | "digits") => d.mend(step),
                    (None, "each" | "ea" | "piece" | "pieces" | "pc" | "pcs") => d.mend(
                        "things are counted in a noun of their own: `counted hinge`, and then `2 hinge`",
                    ),
                    (None, name) if self.declared.by_name.contains_key(name) => {
                        d.mend(format!("to multiply by `{name}`, write `* {name}`"))
                    }
                    (None, _) => d,
                })
            }
        }
    }

    /// A written quantity in base units with its unit; parts must be of one dimension and ever smaller.
    pub(super) fn literal(&mut self, q: &tree::Quantity) -> Checks<Literal> {
        if let Some(text) = &q.point {
            return self.point_literal(text, q.span);
        }
        let mut whole: Option<Literal> = None;
        let mut last_factor: Option<Exact> = None;
        for (number, unit) in &q.parts {
            let unit = match unit {
                Some(u) => self.unit(u)?,
                None => UnitExpr::none(),
            };
            let Ok(value) = unit.to_base(number) else {
                return self.fail(
                    Diagnostic::error("OV-108", "this number has too many digits").at(q.span, ""),
                );
            };
            whole = Some(match whole {
                None => Literal {
                    scale: None,
                    value,
                    percent: unit.is_percent(),
                    unit: unit.clone(),
                },
                Some(first) => {
                    let smaller = last_factor.as_ref().is_some_and(|f| unit.factor() < f);
                    if unit.dim() != first.dim() || !smaller {
                        return self.fail(
                            Diagnostic::error("OV-315", "these parts do not make one quantity")
                                .at(q.span, "")
                                .expected(
                                    "parts of the same kind, the greater unit first: 2 ft 6 1/2 in",
                                ),
                        );
                    }
                    let sum = first.value.add(&value).map_err(|_| Poisoned)?;
                    Literal {
                        scale: None,
                        value: sum,
                        unit: unit.clone(),
                        percent: false,
                    }
                }
            });
            last_factor = Some(unit.factor().clone());
        }
        whole.ok_or(Poisoned)
    }

    fn point_literal(&mut self, text: &str, span: Span) -> Checks<Literal> {
        let Some((scale, value)) = read_point(text) else {
            return self.fail(
                Diagnostic::error("OV-360", "there is no such day, hour or temperature")
                    .at(span, "")
                    .found(text.to_owned())
                    .expected(
                        "year-month-day, 2026-03-21; with an hour from 00:00 to 23:59, 2026-03-21 16:00",
                    ),
            );
        };
        Ok(Literal {
            scale: Some(scale),
            value,
            percent: false,
            unit: UnitExpr::none(),
        })
    }

    /// A written quantity with a minus before it; `span` is that of both.
    pub(super) fn negative_literal(&mut self, q: &tree::Quantity, span: Span) -> Checks<Literal> {
        let Some(text) = &q.point else {
            let mut literal = self.literal(q)?;
            literal.value = literal.value.neg();
            return Ok(literal);
        };
        match read_point(text) {
            // The sign belongs to the degrees as written: -5 °C is not 5 °C turned round in Fahrenheit.
            Some((Scale::Temperature, _)) => self.point_literal(&format!("-{text}"), span),
            Some((Scale::Day | Scale::Moment, _)) => self.fail(
                Diagnostic::error("OV-360", "a day has no sign")
                    .at(span, "")
                    .mend("take the minus out"),
            ),
            None => self.point_literal(text, span),
        }
    }

    pub(super) fn signed(&mut self, s: &tree::Signed) -> Checks<Literal> {
        match s.negative {
            true => self.negative_literal(&s.quantity, s.span),
            false => self.literal(&s.quantity),
        }
    }

    /// A written quantity that must have a dimension.
    pub(super) fn signed_of(
        &mut self,
        s: &tree::Signed,
        dim: &Dim,
        percent: bool,
        code: &'static str,
    ) -> Checks<Exact> {
        self.signed_like(s, &number_type::written(dim, percent), code)
    }

    /// A written quantity or point that stands for a value of this type.
    pub(super) fn signed_like(
        &mut self,
        s: &tree::Signed,
        ty: &Ty,
        code: &'static str,
    ) -> Checks<Exact> {
        let literal = self.signed(s)?;
        if !literal.fits(ty) {
            let d = Diagnostic::error(code, "this value is of the wrong kind")
                .at(s.span, "")
                .found(self.words(&literal.ty()))
                .expected(self.words(ty));
            return self.fail(d);
        }
        Ok(literal.value)
    }
}

/// A written quantity in base units.
#[derive(Debug, Clone)]
/// A written number, or a point.
pub(super) struct Literal {
    pub(super) scale: Option<Scale>,
    pub(super) value: Exact,
    pub(super) unit: UnitExpr,
    pub(super) percent: bool,
}

impl Literal {
    pub(super) fn dim(&self) -> &Dim {
        self.unit.dim()
    }

    /// The type of a value so written.
    pub(super) fn ty(&self) -> Ty {
        match self.scale {
            Some(scale) => Ty::Point(scale),
            None => number_type::written(self.dim(), self.percent),
        }
    }

    /// Whether it may be where a value of this type is due.
    pub(super) fn fits(&self, ty: &Ty) -> bool {
        match (self.scale, ty) {
            (Some(scale), Ty::Point(wanted)) => scale == *wanted,
            (None, Ty::Number(wanted)) => {
                *self.dim() == wanted.dim && self.percent == wanted.percent
            }
            _ => false,
        }
    }
}
