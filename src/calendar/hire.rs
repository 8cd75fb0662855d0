//! What a span of hire costs.
//!
//! ```
//! use ovolo::calendar::hire::{Rates, least_cover};
//! let rates = Rates { day: 100, week: Some(350), four_weeks: None };
//! // Five days by the day would cost 500.
//! assert_eq!(least_cover(5, rates).cost, 350);
//! ```

/// Rates of hire in cents.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Rates {
    /// For a day.
    pub day: u64,
    /// For seven days, where there is such a rate.
    pub week: Option<u64>,
    /// For twenty-eight days, where there is such a rate.
    pub four_weeks: Option<u64>,
}

/// Days, weeks and four-week spans charged, and what they cost in cents.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Cover {
    /// Days charged by the day.
    pub days: u64,
    /// Weeks charged.
    pub weeks: u64,
    /// Spans of four weeks charged.
    pub four_weeks: u64,
    /// Cost in cents.
    pub cost: u64,
}

/// The cheapest charges that cover `days` calendar days. Of equal costs the one with the longest spans.
///
/// Fewer than four weeks beside the whole four-week spans, and fewer than seven days beside the weeks, are always enough: more
/// would be cheaper as the longer span or dearer than another cover that is looked at.
pub fn least_cover(days: u64, rates: Rates) -> Cover {
    let mut best: Option<Cover> = None;
    let most_fours = if rates.four_weeks.is_some() {
        days.div_ceil(28)
    } else {
        0
    };
    for four_weeks in (0..=most_fours).rev() {
        let left = days.saturating_sub(four_weeks * 28);
        let most_weeks = if rates.week.is_some() {
            left.div_ceil(7)
        } else {
            0
        };
        for weeks in (0..=most_weeks).rev() {
            let single = left.saturating_sub(weeks * 7);
            let cost = four_weeks * rates.four_weeks.unwrap_or(0)
                + weeks * rates.week.unwrap_or(0)
                + single * rates.day;
            if best.is_none_or(|b| cost < b.cost) {
                best = Some(Cover {
                    days: single,
                    weeks,
                    four_weeks,
                    cost,
                });
            }
        }
    }
    best.unwrap_or(Cover {
        days,
        weeks: 0,
        four_weeks: 0,
        cost: days * rates.day,
    })
}
