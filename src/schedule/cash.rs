//! What an owner keeps back of each bill, and how deep a contractor's pocket must be.

use crate::number::{Exact, NumError, Rounding};

/// What is kept and paid of one bill, in cents.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Kept {
    /// Kept of this and all earlier bills together.
    pub to_date: i128,
    /// Paid of this bill.
    pub paid: i128,
}

/// What is kept of a row of bills in cents: a share of all that was billed so far, rounded half up to the cent once, so that
/// no cent drifts. Above `limit` of cents billed nothing more is kept.
///
/// # Errors
///
/// When a number has too many digits.
pub(crate) fn retain(
    bills: &[i128],
    share: &Exact,
    limit: Option<i128>,
) -> Result<Vec<Kept>, NumError> {
    let (mut billed, mut before) = (0_i128, 0_i128);
    let mut kept = Vec::with_capacity(bills.len());
    for bill in bills {
        billed += bill;
        let base = limit.map_or(billed, |limit| billed.min(limit));
        let exact = Exact::from_i128(base).mul(share)?;
        let exact = exact.div(&Exact::from(100))?;
        let to_date = exact.to_cents(Rounding::HalfUp)?;
        kept.push(Kept {
            to_date,
            paid: bill - (to_date - before),
        });
        before = to_date;
    }
    Ok(kept)
}

/// One month of a contractor's account, in cents.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Month {
    /// Laid out in the month.
    pub cost: i128,
    /// Billed at its end.
    pub billed: i128,
    /// Balance before anything is received.
    pub before: i128,
    /// Received at its end.
    pub received: i128,
    /// Balance at its end.
    pub after: i128,
}

/// Month by month what is laid out and received: bills are paid `later` months after they are written, less what is kept, which is
/// paid in the month after the last of them.
///
/// # Errors
///
/// When a number has too many digits.
pub(crate) fn cash_flow(
    costs: &[i128],
    bills: &[i128],
    share: &Exact,
    limit: Option<i128>,
    later: usize,
) -> Result<Vec<Month>, NumError> {
    let kept = retain(bills, share, limit)?;
    let held = kept.last().map_or(0, |k| k.to_date);
    let months = costs
        .len()
        .max(bills.len() + later + usize::from(held != 0));
    let mut balance = 0_i128;
    let mut flow = Vec::with_capacity(months);
    for month in 0..months {
        let cost = costs.get(month).copied().unwrap_or(0);
        let paid = month.checked_sub(later).and_then(|m| kept.get(m));
        let last = month + 1 == months;
        let received = paid.map_or(0, |k| k.paid) + if last { held } else { 0 };
        let before = balance - cost;
        balance = before + received;
        flow.push(Month {
            cost,
            billed: bills.get(month).copied().unwrap_or(0),
            before,
            received,
            after: balance,
        });
    }
    Ok(flow)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn tenth() -> Exact {
        Exact::ratio(1, 10).expect("a ratio")
    }

    #[test]
    fn what_is_kept_follows_the_running_total() {
        // Recomputed; the ceiling of ten percent is that of FAR 32.103 (from memory).
        let bills = [1_843_765, 3_190_210, 2_765_555, 2_200_470];
        let kept = retain(&bills, &tenth(), None).expect("cents");
        let to_date: Vec<i128> = kept.iter().map(|k| k.to_date).collect();
        let paid: Vec<i128> = kept.iter().map(|k| k.paid).collect();
        assert_eq!(to_date, [184_377, 503_398, 779_953, 1_000_000]);
        assert_eq!(paid, [1_659_388, 2_871_189, 2_489_000, 1_980_423]);
    }

    #[test]
    fn nothing_more_is_kept_after_half() {
        let kept = retain(
            &[1_800_000, 2_600_000, 3_100_000, 2_500_000],
            &tenth(),
            Some(5_000_000),
        );
        let to_date: Vec<i128> = kept.expect("cents").iter().map(|k| k.to_date).collect();
        assert_eq!(to_date, [180_000, 440_000, 500_000, 500_000]);
    }

    #[test]
    fn the_deepest_point_lies_before_a_receipt() {
        // Costs billed at 1.2 times at the end of the month, paid a month later less a tenth; the rest in month six. Recomputed.
        let costs = [2_000_000, 3_000_000, 2_500_000, 1_000_000];
        let bills = costs.map(|c| c * 12 / 10);
        let flow = cash_flow(&costs, &bills, &tenth(), None, 1).expect("cents");
        let before: Vec<i128> = flow.iter().map(|m| m.before).collect();
        assert_eq!(
            before,
            [
                -2_000_000, -5_000_000, -5_340_000, -3_100_000, -400_000, 680_000
            ]
        );
        assert_eq!(flow.last().map(|m| m.after), Some(1_700_000));
    }
}
