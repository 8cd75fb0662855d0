//! What is bought, hired and picked, as fields of a list's rows.

use super::gather::{Got, cents, date};
use super::papers::Made;
use crate::number::Exact;
use crate::pricing::StockPick;
use crate::program::{Field, ResourceClass, ResourceId};
use crate::schedule::Schedule;
use crate::syntax::tree::Side;
use crate::units::{Base, UnitExpr};

impl Made<'_> {
    #[expect(
        clippy::wildcard_enum_match_arm,
        reason = "the checker gives a list the fields of its rows alone; any other would be blank"
    )]
    pub(super) fn of_purchase(&self, field: Field, at: usize) -> Got {
        let Some(buy) = self.estimate.buys.get(at) else {
            return Got::Blank;
        };
        let text = |t: &Option<String>| t.clone().map_or(Got::Blank, Got::Text);
        match field {
            Field::Resource => Got::Text(buy.name.clone()),
            Field::Item => Got::Text(self.version.resources[buy.resource].name.clone()),
            Field::Order => Got::Number(match &buy.packs {
                Some(packs) => packs.count.clone(),
                None => buy.bought.clone(),
            }),
            Field::OrderedIn => Got::Text(match &buy.packs {
                Some(packs) => packs.word.clone(),
                None => buy.unit.clone(),
            }),
            Field::Unit => Got::Text(buy.unit.clone()),
            Field::Bought => Got::Number(buy.bought.clone()),
            Field::Packs => buy
                .packs
                .as_ref()
                .map_or(Got::Blank, |p| Got::Number(p.count.clone())),
            Field::Pack => buy
                .packs
                .as_ref()
                .map_or(Got::Blank, |p| Got::Text(p.word.clone())),
            Field::PackSize => {
                let stated = buy.packs.as_ref().filter(|p| p.stated);
                stated.map_or(Got::Blank, |p| Got::Number(p.holds.clone()))
            }
            Field::Spec => text(&buy.price.spec),
            Field::NeedBy => self.need_by(buy.resource),
            Field::Supplier => supplier(buy.price.supplier.as_ref()),
            Field::Price => Got::Number(buy.price.amount.clone()),
            Field::Per => Got::Text(buy.price.per.clone()),
            Field::Cost => cents(buy.cents),
            Field::PricedOn => text(&buy.price.date),
            Field::Source => text(&buy.price.source),
            _ => Got::Blank,
        }
    }

    /// Who supplies a resource.
    pub(super) fn supplier_of(&self, resource: ResourceId) -> Got {
        let mut buys = self.estimate.buys.iter();
        let buy = buys.find(|b| b.resource == resource);
        supplier(buy.and_then(|b| b.price.supplier.as_ref()))
    }

    /// What a buyer says of a resource besides its name.
    fn spec_of(&self, resource: ResourceId) -> Got {
        let mut buys = self.estimate.buys.iter();
        let buy = buys.find(|b| b.resource == resource);
        let spec = buy.and_then(|b| b.price.spec.clone());
        spec.map_or(Got::Blank, Got::Text)
    }

    /// The day on which the first phase that takes it begins, or its hire. What is disposed of leaves at the end of the last phase that
    /// makes any.
    fn need_by(&self, resource: ResourceId) -> Got {
        let Some(plan) = self.estimate.schedule.as_deref() else {
            return Got::Blank;
        };
        let hires = plan.hires.iter().filter(|h| h.resource == Some(resource));
        if let Some(first) = hires.map(|h| h.from).min() {
            return date(first);
        }
        let takes = || self.version.takes.iter().filter(|t| t.resource == resource);
        let phases = plan.phases.iter();
        let of = phases.filter(|p| takes().any(|t| t.phase == p.phase));
        let leaves = self.version.resources[resource].class == ResourceClass::Disposal;
        let day = match leaves {
            true => of.map(|p| p.finish().last_day()).max(),
            false => of.map(|p| p.start().day()).min(),
        };
        day.map_or(Got::Blank, date)
    }

    #[expect(
        clippy::wildcard_enum_match_arm,
        reason = "the checker gives a list the fields of its rows alone; any other would be blank"
    )]
    pub(super) fn of_hire(&self, field: Field, plan: &Schedule, at: usize) -> Got {
        let Some(hire) = plan.hires.get(at) else {
            return Got::Blank;
        };
        match field {
            Field::Hire => Got::Text(hire.name.clone()),
            Field::Area => Got::Text(match hire.area.and_then(|a| plan.areas.get(a)) {
                Some(area) => area.clone(),
                None => "whole job".to_owned(),
            }),
            Field::Supplier => match (&hire.supplier, hire.resource) {
                (None, Some(resource)) => self.supplier_of(resource),
                (named, _) => supplier(named.as_ref()),
            },
            Field::On => date(hire.from),
            Field::Off => date(hire.to),
            Field::Days => {
                i64::try_from(hire.days).map_or(Got::Blank, |n| Got::Number(Exact::int(n)))
            }
            Field::Cost => cents(i128::from(hire.cover.cost)),
            _ => Got::Blank,
        }
    }
}

impl Made<'_> {
    #[expect(
        clippy::wildcard_enum_match_arm,
        reason = "the checker gives a list the fields of its rows alone; any other would be blank"
    )]
    pub(super) fn of_pick(&self, field: Field, resource: ResourceId, pick: &StockPick) -> Got {
        let [length, width, thickness] = &pick.sides;
        let size = |side: &Option<Exact>| side.clone().map_or(Got::Blank, Got::Number);
        match field {
            Field::Resource => Got::Text(self.called(resource)),
            Field::Spec => self.spec_of(resource),
            Field::Mark => Got::Text(pick.mark.clone()),
            Field::Pieces => {
                i64::try_from(pick.count).map_or(Got::Blank, |n| Got::Number(Exact::int(n)))
            }
            Field::Size(Side::Length) => size(length),
            Field::Size(Side::Width) => size(width),
            Field::Size(Side::Thickness) => size(thickness),
            Field::Part => Got::Text(pick.parts.join(", ")),
            _ => Got::Blank,
        }
    }
}

/// Who supplies it, in the words of the price book or the calendar.
fn supplier(named: Option<&String>) -> Got {
    Got::Text(match named.filter(|name| !name.is_empty()) {
        Some(name) => name.clone(),
        None => "no supplier named".to_owned(),
    })
}

/// For each resource, a sentence that warns of buying picked stock twice: how much is picked, and how much is still bought.
pub(super) fn picked_beside_bought(made: &Made<'_>) -> Vec<String> {
    let estimate = made.estimate;
    let plans = estimate.cut_plans.iter().filter(|c| c.plan.is_some());
    let told = plans.filter_map(|c| {
        let id = made.version.resources.id_of(|r| r.name == c.name)?;
        let def = &made.version.resources[id];
        let picks = c.plan.iter().flat_map(|p| &p.picks);
        let mut amounts = picks.map(|pick| picked_amount(pick, &def.unit));
        let picked = amounts.try_fold(Exact::ZERO, |sum, n| sum.add(&n?).ok())?;
        let buy = estimate.buys.iter().find(|b| b.resource == id)?;
        let text = |n: &Exact| format!("{} {}", n.to_decimal(2).0, buy.unit);
        (!picked.is_zero()).then(|| {
            format!(
                "{}: {} are picked here, and the order of {} does not allow for them. Settle with the office how much less is bought.",
                made.called(id),
                text(&picked),
                text(&buy.bought)
            )
        })
    });
    told.collect()
}

/// The amount of picked stock in the unit it is bought in; none if its sizes do not give it.
fn picked_amount(pick: &StockPick, unit: &UnitExpr) -> Option<Exact> {
    let sides: Vec<&Exact> = pick.sides.iter().flatten().collect();
    let told =
        i64::try_from(sides.len()).ok() == Some(i64::from(unit.dim().exponent(Base::Length)));
    let count = Exact::from_i128(i128::from(pick.count));
    let all = sides
        .iter()
        .try_fold(count, |all, side| all.mul(side))
        .ok()?;
    unit.from_base(&all).ok().filter(|_| told)
}
