//! How the price book stands to a job: what has no price, what is old, what nothing uses. Must not know files.

use super::model::Estimate;
use super::names;
use crate::prices::{PriceAge, PriceBook};
use crate::program::{ResourceId, Version};

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
    /// It is of another time than the job; its day, as written.
    OfAnotherTime(PriceAge, String),
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
                (Some(day), Some(today)) => PriceAge::of(day, today)
                    .map(|age| Want::OfAnotherTime(age, entry.date.clone().unwrap_or_default())),
                (Some(_), None) => None,
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
