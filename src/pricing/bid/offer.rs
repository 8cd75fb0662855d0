//! What keeps a bid from being an offer.

use super::Estimate;
use crate::prices::PriceAge;
use crate::pricing::model::BuyLine;
use std::collections::BTreeSet;

/// Something that must be settled, or named as an exclusion, before a bid is an offer.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub enum Obstacle {
    /// A resource that nothing gives a price for.
    NoPrice(String),
    /// A price without a date that can be read.
    UndatedPrice(String),
    /// A price of another time than the day of issue.
    StalePrice {
        /// Resource.
        resource: String,
        /// How.
        age: PriceAge,
        /// The date as written.
        date: String,
    },
    /// A fact that the job has not answered.
    Unanswered(String),
    /// A row of the survey that is set aside.
    SetAside(String),
    /// Rows that are in no total, because a value of theirs is not known.
    Unknown {
        /// Resource that lacks them.
        resource: String,
        /// Marks, as far as they are kept.
        marks: Vec<String>,
    },
    /// The job does not say on which day it is issued.
    NotIssued,
}

impl Obstacle {
    /// What a job must name as an exclusion to offer all the same: a resource, a fact, a mark. None where nothing but an answer helps.
    pub fn subject(&self) -> Option<&str> {
        match self {
            Obstacle::NoPrice(name)
            | Obstacle::UndatedPrice(name)
            | Obstacle::Unanswered(name)
            | Obstacle::SetAside(name) => Some(name),
            Obstacle::StalePrice { resource, .. } | Obstacle::Unknown { resource, .. } => {
                Some(resource)
            }
            Obstacle::NotIssued => None,
        }
    }
}

/// Everything that keeps the estimate from being an offer, each once, sorted by kind and name. `issued` is the day of issue in days
/// since 1970-01-01; `excluded` are the subjects that the job names as exclusions.
pub fn obstacles(estimate: &Estimate, issued: Option<i32>, excluded: &[String]) -> Vec<Obstacle> {
    let assumptions = &estimate.assumptions;
    let mut found: BTreeSet<Obstacle> = BTreeSet::new();
    found.extend(
        estimate
            .unpriced
            .iter()
            .flatten()
            .cloned()
            .map(Obstacle::NoPrice),
    );
    found.extend(
        assumptions
            .prices_without_date
            .iter()
            .cloned()
            .map(Obstacle::UndatedPrice),
    );
    found.extend(
        assumptions
            .unanswered
            .iter()
            .map(|f| Obstacle::Unanswered(f.name.clone())),
    );
    let aside = estimate.facts.survey.set_aside.iter();
    // What goes with a row set aside, among it the rows made below it, is settled with that row.
    let gone: BTreeSet<&str> = aside.clone().map(|row| row.mark.as_str()).collect();
    let with_another = |above: &str| {
        let made_below = above.rsplit_once('-').map(|(of, _)| of);
        gone.contains(above) || made_below.is_some_and(|of| gone.contains(of))
    };
    let first = aside.filter(|row| !row.above.as_deref().is_some_and(with_another));
    found.extend(first.map(|row| Obstacle::SetAside(row.mark.clone())));
    found.extend(assumptions.left_out.iter().map(|out| Obstacle::Unknown {
        resource: out.resource.clone(),
        marks: out.marks.clone(),
    }));
    match issued {
        None => drop(found.insert(Obstacle::NotIssued)),
        Some(today) => {
            let aged = |b: &BuyLine| PriceAge::of(b.price.day?, today);
            let stale = estimate.buys.iter().filter_map(|b| Some((b, aged(b)?)));
            found.extend(stale.map(|(buy, age)| Obstacle::StalePrice {
                resource: buy.name.clone(),
                age,
                date: buy.price.date.clone().unwrap_or_default(),
            }));
        }
    }
    let named = |o: &Obstacle| o.subject().is_some_and(|s| excluded.iter().any(|e| e == s));
    found.into_iter().filter(|o| !named(o)).collect()
}
