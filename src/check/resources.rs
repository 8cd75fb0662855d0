//! Resources as the layers leave them: unit, allowance, price and packs.

use super::typed::*;
use super::unknown::Known;
use crate::diagnostics::{Diagnostic, Span};
use crate::number::Exact;
use crate::program::{Grain, NumTy, PriceChange, ResourceClass, ResourceDef, Ty, Version};
use crate::syntax::tree::{self, AllowanceKind, AllowanceValue, ChangePart};
use crate::units::{Dim, UnitExpr};

impl<'a> Checker<'a> {
    pub(super) fn resources_of(&mut self, version: &mut Version, changes: &[LayeredChange<'a>]) {
        for id in self.declared.resources.ids() {
            let r = self.declared.resources[id].tree;
            let class = ResourceClass::named(&r.class.text);
            if class.is_none() {
                self.unknown(
                    "OV-215",
                    "class of resource",
                    &r.class,
                    Known::these(ResourceClass::ALL.map(ResourceClass::word)),
                );
            }
            let unit = self.resource_unit(r, class);
            let mut allowance = r
                .allowance
                .as_ref()
                .and_then(|(kind, value, span)| self.allowance(*kind, value, *span));
            for change in changes.iter().filter(|c| c.change.name.text == r.name.text) {
                match self.resource_changed(r, &unit, change) {
                    Some(ResourceChange::Price(price)) => {
                        version.price_changes.push(PriceChange {
                            resource: id,
                            price,
                            layer: change.layer,
                            because: change.change.because.as_ref().map(|t| t.text.clone()),
                            span: change.change.span,
                        });
                    }
                    Some(ResourceChange::Allowance(changed)) => allowance = changed,
                    None => {}
                }
            }
            let pack = self
                .packs_in_force(r)
                .and_then(|(word, q)| self.pack(r, &unit, word, q));
            let added = version.resources.push(ResourceDef {
                name: r.name.text.clone(),
                called: self.called_in_force(r),
                class: class.unwrap_or(ResourceClass::Other),
                unit,
                allowance,
                pack,
                source: r.remarks.source.clone(),
                note: r.remarks.note.clone(),
                span: r.name.span,
            });
            debug_assert_eq!(added, Ok(id));
        }
    }

    /// The unit a resource is counted in.
    fn resource_unit(&mut self, r: &'a tree::Resource, class: Option<ResourceClass>) -> UnitExpr {
        let unit = self.unit(&r.unit).unwrap_or_else(|Poisoned| {
            self.reported.broken.insert(&r.name.text);
            UnitExpr::none()
        });
        if class == Some(ResourceClass::Labor)
            && *unit.dim() != Dim::base(crate::units::Base::Labor)
            && !unit.is_empty()
        {
            self.problems.push(
                Diagnostic::error(
                    "OV-309",
                    format!("labor such as `{}` is counted in person-time", r.name.text),
                )
                .at(r.unit.span, "")
                .expected("h or min"),
            );
        }
        unit
    }

    /// What a later layer makes of a resource's price or allowance.
    fn resource_changed(
        &mut self,
        r: &'a tree::Resource,
        unit: &UnitExpr,
        c: &LayeredChange<'a>,
    ) -> Option<ResourceChange> {
        let cx = Context::at(Grain::Const);
        let t = self.settled(&c.change.to, &cx, None).ok()?;
        let Some(value) = self.program.constant(t.node).cloned() else {
            self.problems.push(
                Diagnostic::error("OV-311", "this must be a written value or a given")
                    .at(c.change.to.span, ""),
            );
            return None;
        };
        let Ty::Number(n) = self.ty(&t).clone() else {
            return None;
        };
        let kind = match c.change.part {
            ChangePart::Price => {
                let fits = self.is_price(r, unit, &n, c);
                return fits.then_some(ResourceChange::Price(value));
            }
            ChangePart::Yield => AllowanceKind::Yield,
            ChangePart::Waste | ChangePart::Value => AllowanceKind::Waste,
        };
        if !n.percent {
            self.problems.push(
                Diagnostic::error("OV-311", "waste and yield are percents")
                    .at(c.change.to.span, "")
                    .expected("a percent, such as 20 %"),
            );
            return None;
        }
        let percent = AllowanceValue::Percent(value);
        Some(ResourceChange::Allowance(self.allowance(
            kind,
            &percent,
            c.change.span,
        )))
    }

    /// Whether a changed price is money for what the resource is counted in; one of another kind is reported.
    fn is_price(
        &mut self,
        r: &'a tree::Resource,
        unit: &UnitExpr,
        n: &NumTy,
        c: &LayeredChange<'a>,
    ) -> bool {
        let nouns = &self.program.nouns;
        let wanted = Dim::base(crate::units::Base::Money).div(unit.dim());
        let currency = self.program.currency.as_deref();
        if wanted.as_ref() == Some(&n.dim) {
            return true;
        }
        let d = Diagnostic::error(
            "OV-311",
            format!(
                "a price of `{}` is money per {}",
                r.name.text,
                unit.text(nouns)
            ),
        )
        .at(c.change.to.span, crate::units::describe(&n.dim, nouns))
        .expected(format!(
            "{} per {}",
            currency.unwrap_or("USD"),
            unit.text(nouns)
        ));
        self.problems.push(d);
        false
    }

    /// The word and the size of the packs a resource is bought in.
    fn pack(
        &mut self,
        r: &'a tree::Resource,
        unit: &UnitExpr,
        word: &tree::Name,
        q: &'a tree::Quantity,
    ) -> Option<(String, Exact)> {
        let l = self.literal(q).ok()?;
        let nouns = &self.program.nouns;
        let d = if l.dim() != unit.dim() {
            Diagnostic::error(
                "OV-309",
                format!(
                    "a pack of `{}` holds another kind of thing than it is counted in",
                    r.name.text
                ),
            )
            .at(q.span, crate::units::describe(l.dim(), nouns))
            .expected(crate::units::describe(unit.dim(), nouns))
        } else if l.scale.is_none() && l.value.signum() > 0 {
            return Some((word.text.clone(), l.value));
        } else {
            Diagnostic::error(
                "OV-309",
                format!("a pack of `{}` holds nothing", r.name.text),
            )
            .at(q.span, "")
            .expected("a quantity above zero")
        };
        self.problems.push(d);
        None
    }

    fn allowance(
        &mut self,
        kind: AllowanceKind,
        value: &AllowanceValue,
        span: Span,
    ) -> Option<(AllowanceKind, Exact, Option<String>)> {
        let (share, given) = match value {
            AllowanceValue::Percent(p) => (p.clone(), None),
            AllowanceValue::Given(name) => {
                let t = self
                    .named(&name.text, name.span, &Context::at(Grain::Const))
                    .ok()?;
                match (self.ty(&t).clone(), self.program.constant(t.node).cloned()) {
                    (Ty::Number(n), Some(v)) if n.percent => (v, Some(name.text.clone())),
                    _ => {
                        self.problems.push(
                            Diagnostic::error("OV-311", "waste and yield are percents")
                                .at(name.span, "")
                                .expected("a percent, or a given that is one"),
                        );
                        return None;
                    }
                }
            }
        };
        let fits = match kind {
            AllowanceKind::Waste => share.signum() >= 0,
            AllowanceKind::Yield => share.signum() > 0 && share <= Exact::ONE,
        };
        if !fits {
            let expected = if kind == AllowanceKind::Waste {
                "waste of 0 % or more"
            } else {
                "a yield above 0 % and up to 100 %"
            };
            self.problems.push(
                Diagnostic::error("OV-309", "this waste or yield is out of range")
                    .at(span, "")
                    .expected(expected),
            );
            return None;
        }
        Some((kind, share, given))
    }
}

/// What a later layer says of a resource.
enum ResourceChange {
    /// A price in base units.
    Price(Exact),
    Allowance(Option<(AllowanceKind, Exact, Option<String>)>),
}
