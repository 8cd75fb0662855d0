//! The offer at the head of a bid: the sum in words and figures, when it is done, what the prices rest on, and what is in it as an
//! allowance. Everything in it is all-in.

use super::papers::Made;
use crate::calendar::clock::date_of;
use crate::number::cents_grouped;
use crate::paper::{Block, Reader};
use crate::pricing::bid::{self, Obstacle};

/// Whether nothing keeps the bid from being an offer.
pub(super) fn stands(made: &Made<'_>) -> bool {
    obstacles(made).is_empty()
}

/// What keeps the bid from being an offer besides rows set aside and facts without an answer, which every paper says; prices are counted,
/// not named.
pub(super) fn doubts(made: &Made<'_>) -> Vec<String> {
    let found = obstacles(made);
    let mut out = Vec::new();
    let prices = found.iter().filter(|o| {
        matches!(
            o,
            Obstacle::NoPrice(_) | Obstacle::UndatedPrice(_) | Obstacle::StalePrice { .. }
        )
    });
    match prices.count() {
        0 => {}
        1 => out.push("One price is missing, undated, or more than a year old.".to_owned()),
        n => out.push(format!(
            "{n} prices are missing, undated, or more than a year old."
        )),
    }
    let mut unknown: Vec<&String> = Vec::new();
    for obstacle in &found {
        if let Obstacle::Unknown { marks, .. } = obstacle {
            unknown.extend(
                marks
                    .iter()
                    .filter(|m| !unknown.contains(m))
                    .collect::<Vec<_>>(),
            );
        }
    }
    if !unknown.is_empty() {
        let list: Vec<&str> = unknown.iter().map(|m| m.as_str()).collect();
        out.push(format!(
            "Not wholly in this bid, because a value of the survey is not known: {}.",
            list.join(", ")
        ));
    }
    out
}

fn obstacles(made: &Made<'_>) -> Vec<Obstacle> {
    let issued = made.program.day_of_issue(made.version);
    bid::obstacles(made.estimate, issued, &made.program.terms.excluded)
}

/// The blocks of the offer; for the office also how much of it rests on figures from memory.
pub(super) fn blocks(made: &Made<'_>, reader: Reader) -> Vec<Block> {
    let estimate = made.estimate;
    let mut out = Vec::new();
    let mut say = |text: String| out.push(Block::Text(text));
    if estimate.unpriced.is_some() {
        say("No sum: prices are missing.".to_owned());
        return out;
    }
    let sum = estimate.totals.grand;
    let figures = format!("{} {}", cents_grouped(sum), estimate.currency);
    say(match bid::sum_in_words(sum, &estimate.currency) {
        Some(words) => format!("Base bid: {words} ({figures})."),
        None => format!("Base bid: {figures}. The sum has no words in this currency."),
    });
    match &estimate.schedule {
        Some(plan) => {
            let (first, last) = (plan.start.day(), plan.finish.last_day());
            let mut text = format!(
                "Time for completion: {} calendar days from the notice to proceed, first and last day included; for example, begun on {} the work is complete on {}.",
                last - first + 1,
                date_of(first),
                date_of(last)
            );
            if let Some(due) = plan.due {
                text.push_str(&format!(" It must be complete by {}.", date_of(due)));
            }
            say(text);
        }
        None => say("No time for completion is offered: the job has no calendar.".to_owned()),
    }
    let dates = estimate.buys.iter().filter_map(|b| b.price.day);
    let (oldest, newest) = (dates.clone().min(), dates.max());
    if let (Some(oldest), Some(newest)) = (oldest, newest) {
        say(match oldest == newest {
            true => format!("Prices are of {}.", date_of(oldest)),
            false => format!("Prices are of {} to {}.", date_of(oldest), date_of(newest)),
        });
    }
    billing(made).into_iter().for_each(&mut say);
    for allowance in estimate.charges.iter().filter(|c| c.allowance) {
        let name = allowance.name.replace('_', " ");
        let note = allowance
            .note
            .as_ref()
            .map_or_else(String::new, |n| format!(": {n}"));
        say(format!(
            "Allowance in the base bid, {name}{note}: {} {}, settled at its actual cost.",
            cents_grouped(allowance.cents),
            estimate.currency
        ));
    }
    for excluded in &made.program.terms.excluded {
        say(format!("Not in this bid: {excluded}."));
    }
    let office = reader == Reader::Office;
    let words = || estimate.assumptions.from_memory.words(&estimate.currency);
    if let Some(words) = office.then(words).flatten() {
        say(format!(
            "Of the cost before charges, {words} has a figure from memory, or one without a source, in its amount or its price."
        ));
    }
    out
}

/// When bills are sent and paid, and what is kept back of them.
fn billing(made: &Made<'_>) -> Option<String> {
    let bill = made.program.terms.calendar.bill.as_ref()?;
    let paid = match bill.later {
        0 => "in the same month".to_owned(),
        1 => "1 month later".to_owned(),
        n => format!("{n} months later"),
    };
    let mut text = format!("Bills are sent monthly and paid {paid}.");
    if !bill.retain.is_zero() {
        let percent = bid::percent_in_words(&bill.retain);
        text.push_str(&format!(" Retainage is {percent} of each bill"));
        text.push_str(match bill.until_half {
            true => " until half of the sum is billed, and none after that.",
            false => ".",
        });
    }
    Some(text)
}

/// The blocks of the offer of a change order: both sums, and when the work ends.
pub(super) fn of_changes(made: &Made<'_>) -> Vec<Block> {
    let Some(order) = made.change else {
        return Vec::new();
    };
    let money = |cents: i128| format!("{} {}", cents_grouped(cents), order.currency);
    let earlier = match order.since {
        Some(day) => format!("the issue of {}", date_of(day)),
        None => "the earlier issue".to_owned(),
    };
    let mut out = Vec::new();
    let mut say = |text: String| out.push(Block::Text(text));
    say(format!("Sum of {earlier}: {}.", money(order.was)));
    let adds = order.now - order.was;
    say(match adds {
        0 => "The changes below leave it as it is.".to_owned(),
        n if n < 0 => format!("The changes below deduct {}.", money(-n)),
        n => format!("The changes below add {}.", money(n)),
    });
    say(match bid::sum_in_words(order.now, &order.currency) {
        Some(words) => format!("New sum: {words} ({}).", money(order.now)),
        None => format!(
            "New sum: {}. The sum has no words in this currency.",
            money(order.now)
        ),
    });
    say(format!(
        "Every amount is all-in, at the prices, rates and charges of {earlier}."
    ));
    if let Some((was, now)) = order.finish {
        let days = |n: i32| match n {
            1 => "1 calendar day".to_owned(),
            n => format!("{n} calendar days"),
        };
        let then = date_of(was);
        say(match now - was {
            0 => format!("The work is complete on {then}, as before."),
            n if n < 0 => format!(
                "The work is complete on {}, {} sooner than {then}.",
                date_of(now),
                days(-n)
            ),
            n => format!(
                "The work is complete on {}, {} later than {then}.",
                date_of(now),
                days(n)
            ),
        });
    }
    out
}
