//! The library that a job is priced with: what it records, and what is said where the program has another.

use super::job::Job;
use crate::diagnostics::Diagnostic;
use crate::estimate::{self, Refused, Survey};
use crate::eval;
use crate::library;
use crate::number::{cents_grouped, group_thousands};
use crate::prices::PriceBook;
use crate::pricing::Estimate;
use crate::takeoff::Wish;

impl Job {
    fn uses_library(&self) -> bool {
        let sheets = &self.loaded.sheets;
        sheets.iter().any(|s| {
            let name = self.loaded.sources.name(s.file);
            name.starts_with(library::PREFIX)
        })
    }

    /// OV-095 where the job records another library than the program has, with the totals that move. They are calculated from `survey` and `book`.
    pub(super) fn other_library(
        &self,
        survey: &Survey,
        book: Option<&PriceBook>,
    ) -> Result<(), Refused> {
        let Some(term) = &self.checked.program.terms.library else {
            return Ok(());
        };
        let here = library::stamp();
        if term.named == here {
            return Ok(());
        }
        let mut problems = Vec::new();
        let d = Diagnostic::error("OV-095", "the job was priced with another library")
            .at(term.span, "recorded here")
            .found(format!("this program has \"{here}\""))
            .expected(format!("\"{}\"", term.named));
        let none = PriceBook::default();
        let wish = Wish {
            quantities: book.is_none(),
            ..Wish::default()
        };
        let worked = estimate::estimate(
            &self.checked.program,
            0,
            survey,
            book.unwrap_or(&none),
            wish,
            &[],
            &eval::Options::default(),
            self.origin(),
        );
        let d = match worked {
            Ok(worked) => {
                let now = totals(&worked.estimate);
                let d = moved(d, term.gave.as_deref(), &now);
                d.mend(format!(
                    "read what moved, then record this library in the job block: {}",
                    line(&here, &now)
                ))
            }
            Err(Refused::Stopped) => return Err(Refused::Stopped),
            Err(Refused::Messages(list)) => {
                problems = list;
                d.note("with this library the job is refused, so no totals can be compared")
                    .mend(format!("settle the other messages, and record this library in the job block: library \"{here}\""))
            }
        };
        problems.insert(0, d);
        Err(Refused::Messages(problems))
    }

    /// What an estimate of the job as decided says where the job records no library, or no totals of it (OV-096).
    pub fn unrecorded_library(&self, estimate: &Estimate) -> Option<Diagnostic> {
        let term = self.checked.program.terms.library.as_ref();
        let recorded = term.is_some_and(|t| t.gave.is_some());
        if recorded || !self.uses_library() || estimate.unpriced.is_some() {
            return None;
        }
        let message = match term {
            None => "the job does not record the library it is priced with",
            Some(_) => "the job does not record the totals that its library gave",
        };
        let d = Diagnostic::warning("OV-096", message);
        let d = match term {
            Some(t) => d.at(t.span, ""),
            None => d,
        };
        Some(
            d.note(
                "with them, another library is refused until you have seen which totals it moves",
            )
            .mend(format!(
                "in the job block: {}",
                line(&library::stamp(), &totals(estimate))
            )),
        )
    }
}

/// The line of the job block.
fn line(stamp: &str, totals: &[(String, String)]) -> String {
    let each: Vec<String> = totals.iter().map(|(n, v)| format!("{n} {v}")).collect();
    format!("library \"{stamp}\" gave \"{}\"", each.join("; "))
}

/// The headline of an estimate, each total with its name and its amount in words.
fn totals(estimate: &Estimate) -> Vec<(String, String)> {
    let mut all = Vec::new();
    for row in &estimate.headline {
        if let Some(net) = &row.net {
            let digits = group_thousands(&net.to_decimal(2).0);
            let amount = format!("{digits} {}", row.unit);
            all.push((row.class.word().to_owned(), amount.trim_end().to_owned()));
        }
    }
    if estimate.unpriced.is_none() {
        let money = |cents| format!("{} {}", cents_grouped(cents), estimate.currency);
        all.push(("cost".to_owned(), money(estimate.totals.direct)));
        all.push(("total".to_owned(), money(estimate.totals.grand)));
    }
    all
}

/// Adds a note for each total that is not what was recorded.
fn moved(d: Diagnostic, gave: Option<&str>, now: &[(String, String)]) -> Diagnostic {
    let Some(gave) = gave else {
        return d.note("the job records no totals, so its changes can't be shown: run the older program once and record its totals");
    };
    let before: Vec<(&str, &str)> = gave
        .split(';')
        .filter_map(|part| part.trim().split_once(' '))
        .collect();
    // A class counted in two units has two totals of one name, in order.
    let mut seen: Vec<&str> = Vec::new();
    let mut notes = Vec::new();
    for (name, amount) in now {
        let nth = seen.iter().filter(|s| **s == name.as_str()).count();
        seen.push(name);
        let old = before.iter().filter(|(n, _)| n == name).nth(nth);
        match old {
            Some((_, old)) if old == amount => {}
            Some((_, old)) => notes.push(format!("{name}: {old} before, {amount} now")),
            None => notes.push(format!("{name}: not recorded before, {amount} now")),
        }
    }
    if notes.is_empty() {
        return d.note("no total moves");
    }
    notes.push("what else was changed in the job since then is in these figures too".to_owned());
    notes.into_iter().fold(d, Diagnostic::note)
}
