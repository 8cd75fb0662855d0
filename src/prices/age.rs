//! Whether a price is too old for the job, or dated after it.

use super::PriceEntry;
use crate::diagnostics::Diagnostic;

/// Days for which a price may stand. Common practice, no source: price lists are renewed within the year.
const PRICE_LIFE: i32 = 366;

/// Prices named in one message.
const MOST_NAMED: usize = 8;

/// How the date of a price does not fit the day of the job.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum PriceAge {
    /// More than a year before the day of the job.
    Old,
    /// After the day of the job.
    Later,
}

impl PriceAge {
    /// How a price of one day does not fit `today`; none where it does. Both in days since 1970-01-01.
    pub fn of(day: i32, today: i32) -> Option<PriceAge> {
        if day > today {
            Some(PriceAge::Later)
        } else if today.saturating_sub(PRICE_LIFE) > day {
            Some(PriceAge::Old)
        } else {
            None
        }
    }

    /// In words.
    pub fn words(self) -> &'static str {
        match self {
            PriceAge::Old => "more than a year before the day of the job",
            PriceAge::Later => "after the day of the job",
        }
    }
}

/// One note for the prices that are old and one for those that are later than the job.
pub(super) fn of_another_time(
    entries: &[PriceEntry],
    today: i32,
    name: impl Fn(&PriceEntry) -> String,
) -> Vec<Diagnostic> {
    let told = |age: PriceAge| {
        let dated = |e: &&PriceEntry| e.day.and_then(|day| PriceAge::of(day, today)) == Some(age);
        let of_age: Vec<&PriceEntry> = entries.iter().filter(dated).collect();
        let first = of_age.first()?;
        let message = match of_age.len() {
            1 => format!("a price of the book is dated {}", age.words()),
            n => format!("{n} prices of the book are dated {}", age.words()),
        };
        let named = of_age.iter().take(MOST_NAMED).map(|e| {
            let date = e.date.as_deref().unwrap_or_default();
            format!("{} ({date})", name(e))
        });
        let mut found = named.collect::<Vec<_>>().join(", ");
        if let Some(more) = of_age.len().checked_sub(MOST_NAMED).filter(|n| *n > 0) {
            found.push_str(&format!(" and {more} more"));
        }
        let d = Diagnostic::warning("OV-848", message)
            .at(first.place.clone(), "")
            .found(found)
            .expected("prices dated within the year before the day of the job");
        Some(d.mend("ask the supplier for a new price and write its date, or correct the date"))
    };
    [PriceAge::Old, PriceAge::Later]
        .into_iter()
        .filter_map(told)
        .collect()
}
