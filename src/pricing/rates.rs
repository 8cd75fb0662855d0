//! The price in force for each resource: a change in a sheet, a wage build-up, or the price book.
//!
//! A change of the job sheet or of an alternate stands above a pay block; a pay block stands above changes of lower layers and above the
//! price book; any change stands above the price book.

use super::fault::too_long;
use super::model::{PayBuild, PayBuildLine, PriceOrigin, PriceUsed};
use super::names;
use super::usage::Use;
use crate::diagnostics::Diagnostic;
use crate::number::{Exact, NumError};
use crate::prices::PriceBook;
use crate::program::{PayDef, PriceChange, Program, ResourceDef, ResourceId, Version};
use crate::syntax::tree::Layer;
use crate::units::Base;

/// Where prices come from.
pub(super) struct Rates<'a> {
    pub(super) program: &'a Program,
    pub(super) version: &'a Version,
    pub(super) book: &'a PriceBook,
}

impl<'a> Rates<'a> {
    /// The prices of what is used, in that order. Errors: one message that names every resource without a price.
    pub(super) fn all(&self, uses: &[Use]) -> Result<Vec<PriceUsed>, Vec<Diagnostic>> {
        let (mut prices, mut faults, mut missing) = (Vec::new(), Vec::new(), Vec::new());
        for used in uses {
            let Some(def) = self.version.resources.get(used.resource) else {
                continue;
            };
            match self.price(used.resource, def) {
                Ok(Some(price)) => prices.push(price),
                Ok(None) => missing.push(def),
                Err(e) => faults.push(too_long(&format!("the price of {}", def.name), e)),
            }
        }
        if !missing.is_empty() {
            faults.push(self.unpriced(&missing));
        }
        if faults.is_empty() {
            Ok(prices)
        } else {
            Err(faults)
        }
    }

    /// A price of nothing, for amounts that no price is worked on.
    pub(super) fn none(&self) -> PriceUsed {
        PriceUsed {
            amount: Exact::ZERO,
            per: String::new(),
            per_base: Exact::ZERO,
            origin: PriceOrigin::Book,
            supplier: None,
            source: None,
            date: None,
            day: None,
            note: None,
        }
    }

    /// Names of what is used and has no price from sheets or book.
    pub(super) fn missing(&self, uses: &[Use]) -> Vec<String> {
        let defs = uses.iter().filter_map(|used| {
            let def = self.version.resources.get(used.resource)?;
            Some((used.resource, def))
        });
        defs.filter(|(id, def)| matches!(self.price(*id, def), Ok(None)))
            .map(|(id, _)| names::resource(self.version, id))
            .collect()
    }

    fn unpriced(&self, missing: &[&ResourceDef]) -> Diagnostic {
        let nouns = &self.program.nouns;
        let each: Vec<String> = missing
            .iter()
            .map(|r| format!("{} (per {})", r.name, r.unit.text(nouns)))
            .collect();
        let message = match missing {
            [one] => format!("{} is used and has no price", one.name),
            _ => format!("{} resources are used and have no price", missing.len()),
        };
        let book = match self.program.terms.prices.is_empty() {
            true => {
                "The job sheet names no price book: write prices from \"prices.csv\" in its job block."
            }
            false => "Add a row for each to the price book; write 0 for what costs nothing.",
        };
        let mut d = Diagnostic::error("OV-820", message)
            .found(format!("no price for {}", names::list(&each)))
            .expected("a row of the price book, a pay block or a change of its price")
            .note(book)
            .note("`ovolo estimate JOB --quantities` takes off amounts without any price.");
        for resource in missing {
            d = d.at(resource.span, "");
        }
        d
    }

    fn change(&self, id: ResourceId) -> Option<&'a PriceChange> {
        // The highest layer counts; within a layer the checker allows one.
        self.version
            .price_changes
            .iter()
            .filter(|c| c.resource == id)
            .max_by_key(|c| c.layer)
    }

    fn pay(&self, id: ResourceId) -> Option<&'a PayDef> {
        self.program.terms.pays.iter().find(|p| p.resource == id)
    }

    fn price(&self, id: ResourceId, def: &ResourceDef) -> Result<Option<PriceUsed>, NumError> {
        let change = self.change(id);
        let pay = self.pay(id);
        let plain = |per_base: &Exact, origin: PriceOrigin| -> Result<PriceUsed, NumError> {
            Ok(PriceUsed {
                amount: per_base.mul(def.unit.factor())?,
                per: def.unit.text(&self.program.nouns),
                per_base: per_base.clone(),
                origin,
                supplier: None,
                source: None,
                date: None,
                day: None,
                note: None,
            })
        };
        if let Some(change) = change.filter(|c| c.layer >= Layer::Job || pay.is_none()) {
            let note = change.because.clone();
            return Ok(Some(PriceUsed {
                note,
                ..plain(&change.price, PriceOrigin::Change(change.layer))?
            }));
        }
        if let Some(pay) = pay {
            return Ok(Some(plain(&pay.rate, PriceOrigin::Pay)?));
        }
        Ok(self.book.entry(id).map(|entry| PriceUsed {
            amount: entry.price.into(),
            per: entry.unit.clone(),
            per_base: entry.per_base.clone(),
            origin: PriceOrigin::Book,
            supplier: entry.supplier.clone(),
            source: entry.source.clone(),
            date: entry.date.clone(),
            day: entry.day,
            note: entry.note.clone(),
        }))
    }

    /// Labor resources with a pay block and a row in the price book.
    pub(super) fn warnings(&self) -> Vec<Diagnostic> {
        let double = self
            .program
            .terms
            .pays
            .iter()
            .filter_map(|pay| Some((pay, self.book.entry(pay.resource)?)));
        double
            .map(|(pay, entry)| {
                let name = names::resource(self.version, pay.resource);
                Diagnostic::warning("OV-825", format!("{name} has a pay block and a price in the price book; the pay block is used"))
                    .at(pay.span, "")
                    .at(entry.place.clone(), "")
            })
            .collect()
    }
}

/// How the rates of the pay blocks are made up, currency an hour.
pub(super) fn pay_builds(program: &Program, version: &Version) -> Result<Vec<PayBuild>, NumError> {
    let hour = Exact::int(60); // the base unit of person-time is the minute
    program
        .terms
        .pays
        .iter()
        .map(|pay| {
            let lines = pay.lines.iter().map(|line| {
                let share = line.share.as_ref().map(|(share, of)| {
                    let of: Vec<String> = of.iter().map(|name| names::spoken(name)).collect();
                    (share.clone(), names::list(&of))
                });
                let rate = line.rate.mul(&hour)?;
                Ok(PayBuildLine {
                    name: names::spoken(&line.name),
                    share,
                    rate,
                    source: line.source.clone(),
                    note: line.note.clone(),
                })
            });
            let lines = lines.collect::<Result<_, NumError>>()?;
            Ok(PayBuild {
                name: names::resource(version, pay.resource),
                lines,
                rate: pay.rate.mul(&hour)?,
            })
        })
        .collect()
}

/// Whether a resource is counted in person-time, so that its amount can be shown in hours.
pub(super) fn is_person_time(def: &ResourceDef) -> bool {
    def.unit.dim().factors() == [(Base::Labor, 1)]
}
