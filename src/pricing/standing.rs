//! How the price book stands to a job: what has no price, what is old, what nothing uses. Must not know files.

use super::model::Estimate;
use super::names;
use crate::prices::PriceBook;
use crate::program::{ResourceId, Version};

/// Days for which a price may stand.
const PRICE_LIFE: i32 = 366;

/// Whether a price of a day is too old on another, or of a later day. Days since 1970-01-01.
pub(in crate::pricing) fn is_stale(day: i32, today: i32) -> bool {
    today - PRICE_LIFE > day || day > today
}

/// A resource that wants a price.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Wanting {
    /// Which.
    pub resource: ResourceId,
    /// What it is called.
    pub name: String,
    /// What is wrong with its price.
    pub why: Want,
}

/// What is wrong with a price.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Want {
    /// There is none.
    Missing,
    /// Its day, as written, is more than a year before the job's, or after it.
    Old(String),
    /// It has no day that can be read.
    Undated,
    /// There is a price, and nothing in the job uses it.
    Unused,
}

/// Goes through the resources of a version. `taken_off` is its estimate of quantities alone, which names what needs a price; `today` is the
/// day of the job in days since 1970-01-01, without which no price is called old.
pub fn standing(
    version: &Version,
    taken_off: &Estimate,
    book: &PriceBook,
    today: Option<i32>,
) -> Vec<Wanting> {
    let needed = taken_off.unpriced.as_deref().unwrap_or_default();
    let mut out = Vec::new();
    for resource in version.resources.ids() {
        let name = names::resource(version, resource);
        let why = match (needed.contains(&name), book.entry(resource)) {
            (true, None) => Some(Want::Missing),
            (false, Some(_)) => Some(Want::Unused),
            (false, None) => None,
            (true, Some(entry)) => match (entry.day, today) {
                (None, _) => Some(Want::Undated),
                (Some(day), Some(today)) if is_stale(day, today) => {
                    Some(Want::Old(entry.date.clone().unwrap_or_default()))
                }
                _ => None,
            },
        };
        out.extend(why.map(|why| Wanting {
            resource,
            name,
            why,
        }));
    }
    out
}
