//! What is bought, hired and picked, as fields of a list's rows.

use super::gather::{Got, cents, date};
use super::papers::Made;
use crate::number::Exact;
use crate::pricing::{BuyLine, StockPick};
use crate::program::{Field, ResourceId};
use crate::schedule::Schedule;
use crate::syntax::tree::Side;

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
            Field::NeedBy => self.need_by(buy.resource),
            Field::Supplier => supplier(Some(buy)),
            Field::Price => Got::Number(buy.price.amount.clone()),
            Field::Per => Got::Text(buy.price.per.clone()),
            Field::Cost => cents(buy.cents),
            Field::PricedOn => text(&buy.price.date),
            Field::Source => text(&buy.price.source),
            _ => Got::Blank,
        }
    }

    /// The day on which the first phase that takes it begins, or its hire.
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
        let first = of.map(|p| p.start().day()).min();
        first.map_or(Got::Blank, date)
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
            Field::Supplier => {
                let buys = &self.estimate.buys;
                supplier(buys.iter().find(|b| Some(b.resource) == hire.resource))
            }
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

/// Whoever sells it, by the price book.
fn supplier(buy: Option<&BuyLine>) -> Got {
    let named = buy.and_then(|b| b.price.supplier.as_ref());
    Got::Text(match named.filter(|name| !name.is_empty()) {
        Some(name) => name.clone(),
        None => "no supplier named".to_owned(),
    })
}

#[expect(
    clippy::wildcard_enum_match_arm,
    reason = "the checker gives a list the fields of its rows alone; any other would be blank"
)]
pub(super) fn of_pick(field: Field, resource: &str, pick: &StockPick) -> Got {
    let [length, width, thickness] = &pick.sides;
    let size = |side: &Option<Exact>| side.clone().map_or(Got::Blank, Got::Number);
    match field {
        Field::Resource => Got::Text(resource.replace('_', " ")),
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
