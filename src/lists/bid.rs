//! Rows of the lists of a bid: items with their unit prices, alternates, months.

use super::by_label;
use super::gather::{Got, cents};
use super::papers::Made;
use crate::number::Exact;
use crate::paper::Class;
use crate::pricing::CutKind;
use crate::pricing::bid::{self, BidAlternate, BidItem, ChangedOpening, Item, Together};
use crate::program::{Field, ItemBy};

/// What an item is called that belongs to no phase and no area.
const REST: &str = "General conditions";

/// A row of a list of the bid.
pub(super) enum BidRow {
    /// An item with its unit price in cents, if it is counted.
    Item(BidItem, Option<i128>),
    /// What the extensions of whole-cent unit prices leave of the sum.
    Rest(i128),
    /// An alternate with what the owner reads of it.
    Alternate(BidAlternate, String),
    /// A month: name, billed, received.
    Month(String, i128, i128),
    /// An opening that changed since an earlier issue.
    Change(ChangedOpening),
    /// What did not change by itself: its name, what it is, its amounts.
    Others(&'static str, String, Together),
}

impl BidRow {
    /// What is in a field.
    pub(super) fn field(&self, field: Field) -> Got {
        let count = |n: i64| Got::Number(Exact::int(n));
        match (self, field) {
            (BidRow::Item(item, _), Field::Item) => Got::Text(item.name.clone()),
            (BidRow::Item(item, _), Field::AllInAmount) => cents(item.cents),
            (BidRow::Item(item, _), Field::Quantity) => {
                let quantity = item.quantity.and_then(|n| i64::try_from(n).ok());
                quantity.map_or(Got::Blank, count)
            }
            (BidRow::Item(_, Some(price)), Field::UnitPrice) => cents(*price),
            (BidRow::Item(item, Some(price)), Field::Extension) => {
                let quantity = item.quantity.and_then(|n| i128::try_from(n).ok());
                quantity.map_or(Got::Blank, |q| cents(q * price))
            }
            (BidRow::Rest(_), Field::Item) => {
                Got::Text("Rest of the sum, in no unit price".to_owned())
            }
            (BidRow::Rest(rest), Field::Extension) => cents(*rest),
            (BidRow::Alternate(alternate, _), Field::Number) => {
                i64::try_from(alternate.number).map_or(Got::Blank, count)
            }
            (BidRow::Alternate(alternate, _), Field::Alternate) => {
                Got::Text(alternate.name.clone())
            }
            (BidRow::Alternate(_, owner), Field::Change) => Got::Text(owner.clone()),
            (BidRow::Alternate(alternate, _), Field::AddOrDeduct) => {
                let word = match alternate.adds {
                    0 => "no change",
                    n if n < 0 => "deduct",
                    _ => "add",
                };
                Got::Text(word.to_owned())
            }
            (BidRow::Alternate(alternate, _), Field::Adds) => cents(alternate.adds.abs()),
            (BidRow::Alternate(alternate, _), Field::DaysLater) => {
                alternate.days.map_or(Got::Blank, count)
            }
            (BidRow::Change(line), Field::Mark) => Got::Text(line.mark.clone()),
            (BidRow::Change(line), Field::Was) => line.was.map_or(Got::Blank, cents),
            (BidRow::Change(line), Field::Now) => line.now.map_or(Got::Blank, cents),
            (BidRow::Change(line), Field::Adds) => cents(line.adds()),
            (BidRow::Change(line), Field::Reason) => Got::Text(reasons(line)),
            (BidRow::Others(name, ..), Field::Mark) => Got::Text((*name).to_owned()),
            (BidRow::Others(.., sums), Field::Was) => cents(sums.was),
            (BidRow::Others(.., sums), Field::Now) => cents(sums.now),
            (BidRow::Others(.., sums), Field::Adds) => cents(sums.adds()),
            (BidRow::Others(_, what, _), Field::Reason) => Got::Text(what.clone()),
            (BidRow::Month(name, ..), Field::Month) => Got::Text(name.clone()),
            (BidRow::Month(_, billed, _), Field::Billed) => cents(*billed),
            (BidRow::Month(_, _, received), Field::Received) => cents(*received),
            _ => Got::Blank,
        }
    }
}

/// The items of the base bid; their amounts add up to the sum, and so do the extensions of their unit prices with the rest.
pub(super) fn items_of(made: &Made<'_>, by: ItemBy) -> Vec<BidRow> {
    let estimate = made.estimate;
    if estimate.unpriced.is_some() {
        return Vec::new();
    }
    let by_cut = |kind| bid::items(estimate.cut(kind)?, REST).ok();
    let items = match by {
        ItemBy::Phase => by_cut(CutKind::Phase),
        ItemBy::Area => by_cut(CutKind::Split(0)),
        ItemBy::Label(label) => by_label::items(made, label, REST).ok(),
    };
    let Some(items) = items else {
        return Vec::new();
    };
    let quantity = |item: &BidItem| {
        item.quantity
            .map_or(0, |n| i128::from(crate::ids::count(n)))
    };
    let counted: Vec<Item> = items
        .iter()
        .map(|item| Item {
            quantity: quantity(item),
            cents: item.cents,
        })
        .collect();
    let prices = bid::unit_prices(&counted);
    let any = counted.iter().any(|i| i.quantity > 0);
    let mut out: Vec<BidRow> = items
        .into_iter()
        .zip(prices.prices)
        .map(|(item, price)| {
            let price = (quantity(&item) > 0).then_some(price);
            BidRow::Item(item, price)
        })
        .collect();
    if any && prices.rest != 0 {
        out.push(BidRow::Rest(prices.rest));
    }
    out
}

/// The alternates that a bid offers: those with words for the owner.
pub(super) fn alternates_of(made: &Made<'_>) -> Vec<BidRow> {
    let owner = |name: &str| {
        let mut versions = made.program.versions.iter();
        let version = versions.find(|v| v.name.as_deref() == Some(name))?;
        version.owner.clone()
    };
    let asked = made.others.iter();
    let asked: Vec<_> = asked
        .filter_map(|e| Some((owner(e.version_name())?, e)))
        .collect();
    let estimates: Vec<_> = asked.iter().map(|(_, e)| *e).collect();
    let found = bid::alternates(made.estimate, &estimates);
    let both = found.into_iter().zip(asked);
    both.map(|(alternate, (words, _))| BidRow::Alternate(alternate, words))
        .collect()
}

/// Why an opening changed, as far as any reader may know.
fn reasons(line: &ChangedOpening) -> String {
    match (line.was, line.now) {
        (None, _) => return "new in the survey".to_owned(),
        (_, None) => return "no longer in the survey".to_owned(),
        _ => {}
    }
    let open = line.reasons.iter().filter(|r| r.class == Class::Open);
    let mut said: Vec<&str> = open.map(|r| r.text.as_str()).collect();
    if said.len() < line.reasons.len() {
        said.push("for a reason that the office keeps: ask there");
    }
    said.join("; ")
}

/// The openings that changed since an earlier issue, and the others together; their amounts add up to both sums.
pub(super) fn changes_of(made: &Made<'_>) -> Vec<BidRow> {
    let Some(order) = made.change else {
        return Vec::new();
    };
    let mut out: Vec<BidRow> = order.lines.iter().cloned().map(BidRow::Change).collect();
    let (shared, same) = (order.shared, order.unchanged);
    let others = [
        (
            "others",
            shared,
            "share set-up, access or whole packs with what changed",
        ),
        ("unchanged", same, "as before"),
    ];
    for (name, sums, what) in others.into_iter().filter(|(_, sums, _)| sums.count > 0) {
        let what = format!("{}: {what}", sums.count);
        out.push(BidRow::Others(name, what, sums));
    }
    out
}

/// Months in which money is billed or received, for a job whose calendar says how it bills.
pub(super) fn months_of(made: &Made<'_>) -> Vec<BidRow> {
    let terms = &made.program.terms.calendar;
    let (Some(plan), Some(bill)) = (made.estimate.schedule.as_deref(), &terms.bill) else {
        return Vec::new();
    };
    let months = crate::study::cash(made.program, made.estimate, plan, bill);
    let months = months.unwrap_or_default().into_iter();
    let row = |m: crate::study::CashMonth| {
        let name = format!("{}-{:02}", m.year, m.month);
        BidRow::Month(name, m.account.billed, m.account.received)
    };
    months.map(row).collect()
}
