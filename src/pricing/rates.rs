//! The price in force for each resource: a change in a sheet, a wage build-up, or the price book.
//!
//! A change of the job sheet or of an alternate is above a pay block; a pay block is above changes of lower layers and above the
//! price book; any change is above the price book.

use super::fault::too_long;
use super::model::{PayBuild, PayBuildLine, PriceOrigin, PriceUsed};
use super::names;
use super::usage::Use;
use crate::calendar::hire::least_cover;
use crate::diagnostics::Diagnostic;
use crate::number::{Exact, NumError, Rounding};
use crate::prices::PriceBook;
use crate::program::{HireDef, PayDef, PriceChange, Program, ResourceDef, ResourceId, Version};
use crate::schedule::rates_of;
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
            match self.price(used, def) {
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
            spec: None,
            varies: None,
        }
    }

    /// Names of what is used and has no price from sheets or book.
    pub(super) fn missing(&self, uses: &[Use]) -> Vec<String> {
        let defs = uses.iter().filter_map(|used| {
            let def = self.version.resources.get(used.resource)?;
            Some((used, def))
        });
        defs.filter(|(used, def)| matches!(self.price(used, def), Ok(None)))
            .map(|(used, _)| names::resource(self.version, used.resource))
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
            .note("`ovolo estimate JOB --quantities` takes off amounts without any price, except for a mixed plan, which picks rows by their cost.");
        for resource in missing {
            d = d.at(resource.span, "");
        }
        let passed = self.book.passed_over.iter().filter(|entry| {
            let def = self.version.resources.get(entry.resource);
            def.is_some_and(|def| missing.iter().any(|m| m.name == def.name))
        });
        for entry in passed {
            d = d.at(
                entry.place.clone(),
                "this price is not used: it says no under \"chosen\"",
            );
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

    fn hire(&self, id: ResourceId) -> Option<&'a HireDef> {
        let hires = &self.program.terms.calendar.hires;
        hires.iter().find(|hire| hire.resource == Some(id))
    }

    /// What a day of hire comes to where all days taken are covered by the cheapest rates, and which those are.
    fn cover(&self, hire: &HireDef, days: &Exact) -> Result<(Exact, String), NumError> {
        let rates = rates_of(hire)?;
        let whole = days.round_to(&Exact::ONE, Rounding::Up)?.to_i64();
        let whole = whole.ok_or(NumError::TooManyDigits)?.max(0).unsigned_abs();
        if whole == 0 {
            return Ok((hire.day.clone(), "nothing hired".to_owned()));
        }
        let cover = least_cover(whole, rates);
        let cost = Exact::from_i128(i128::from(cover.cost)).div(&Exact::int(100))?;
        let parts = [
            (cover.four_weeks, "times four weeks", "times four weeks"),
            (cover.weeks, "week", "weeks"),
            (cover.days, "day", "days"),
        ];
        let parts: Vec<String> = parts
            .iter()
            .filter(|(n, ..)| *n > 0)
            .map(|(n, one, more)| format!("{n} {}", if *n == 1 { one } else { more }))
            .collect();
        let note = format!(
            "{} for {whole} days, the cheapest cover",
            names::list(&parts)
        );
        Ok((cost.div(days)?, note))
    }

    fn price(&self, used: &Use, def: &ResourceDef) -> Result<Option<PriceUsed>, NumError> {
        let id = used.resource;
        let change = self.change(id);
        let pay = self.pay(id);
        // What the goods must be does not change with who says their price.
        let entry = self.book.entry(id);
        let spec = entry.and_then(|entry| entry.spec.clone());
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
                spec: spec.clone(),
                varies: None,
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
        if let Some(hire) = self.hire(id) {
            let (price, note) = self.cover(hire, &used.total)?;
            return Ok(Some(PriceUsed {
                note: Some(note),
                supplier: hire.supplier.clone(),
                ..plain(&price, PriceOrigin::Hire)?
            }));
        }
        Ok(entry.map(|entry| PriceUsed {
            amount: entry.price.into(),
            per: entry.unit.clone(),
            per_base: entry.per_base.clone(),
            origin: PriceOrigin::Book,
            supplier: entry.supplier.clone(),
            source: entry.source.clone(),
            date: entry.date.clone(),
            day: entry.day,
            note: entry.note.clone(),
            spec,
            varies: entry.varies.clone(),
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
        let hired = self.program.terms.calendar.hires.iter().filter_map(|hire| {
            let id = hire.resource?;
            Some((id, hire, self.book.entry(id)?))
        });
        let hired = hired.map(|(id, hire, entry)| {
            let name = names::resource(self.version, id);
            Diagnostic::warning("OV-842", format!("{name} has rates of hire in the calendar and a price in the price book; the rates are used"))
                .at(hire.span, "")
                .at(entry.place.clone(), "")
        });
        double
            .map(|(pay, entry)| {
                let name = names::resource(self.version, pay.resource);
                Diagnostic::warning("OV-825", format!("{name} has a pay block and a price in the price book; the pay block is used"))
                    .at(pay.span, "")
                    .at(entry.place.clone(), "")
            })
            .chain(hired)
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
