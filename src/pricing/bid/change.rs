//! What a change order says: an issue of a job beside an earlier one, by opening, at the prices of the earlier one.

use crate::paper::Class;

/// An opening that was decided or surveyed otherwise.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ChangedOpening {
    /// Its mark.
    pub mark: String,
    /// All-in amount in the earlier issue, in cents; none for an opening that was not in it.
    pub was: Option<i128>,
    /// All-in amount now, at the earlier prices; none for an opening that was taken out.
    pub now: Option<i128>,
    /// What was decided or surveyed otherwise, and why.
    pub reasons: Vec<Reason>,
}

/// A reason of a change.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Reason {
    /// In words.
    pub text: String,
    /// Who may read it.
    pub class: Class,
}

/// Several openings together.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Together {
    /// How many.
    pub count: usize,
    /// All-in amounts in the earlier issue, in cents.
    pub was: i128,
    /// All-in amounts now, at the earlier prices.
    pub now: i128,
}

impl Together {
    /// What they add to the price, in cents.
    pub fn adds(&self) -> i128 {
        self.now - self.was
    }

    /// Puts one more with them.
    pub fn put(&mut self, was: i128, now: i128) {
        self.count += 1;
        self.was += was;
        self.now += now;
    }
}

impl ChangedOpening {
    /// What it adds to the price, in cents; below zero is a deduction.
    pub fn adds(&self) -> i128 {
        self.now.unwrap_or(0) - self.was.unwrap_or(0)
    }
}

/// A change order.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ChangeOrder {
    /// What was decided or surveyed otherwise, in the order of the survey, then openings that were taken out.
    pub lines: Vec<ChangedOpening>,
    /// Further openings that cost more or less because they share set-up, access or packs with these.
    pub shared: Together,
    /// Openings that cost what they did. What belongs to no opening is spread over all of them, as in the items of a bid.
    pub unchanged: Together,
    /// The price of the earlier issue, in cents.
    pub was: i128,
    /// The price now, at the earlier prices.
    pub now: i128,
    /// What the price book and rates moved the price by since then; not part of the change.
    pub prices_moved: i128,
    /// The day of the earlier issue, in days since 1970-01-01.
    pub since: Option<i32>,
    /// The last day of work in the earlier issue and now, where both have a calendar.
    pub finish: Option<(i32, i32)>,
    /// Currency code.
    pub currency: String,
    /// What a row is called.
    pub row_word: String,
}
