//! The bound that prices prove, in whole numbers.
//!
//! Give every part a price of at least nothing. A piece of stock yields at most the value `v` of its best pattern. With `r` at least as
//! large as `v / cost` of every stock that can be bought without limit, `v <= r * cost + over` holds for each stock, where `over` is
//! what a limited stock exceeds by and nothing for the others. All parts together are worth no more than the stock used yields, so
//!
//! ```text
//! cost of any plan >= (worth of all parts - sum of available * over) / r
//! ```
//!
//! Costs are whole, so a plan's cost is a multiple of their greatest common divisor, and the bound is rounded up to one.

/// A bound that any plan keeps, for one that nothing better is known of.
const NO_BOUND: i64 = 0;

/// What the bound needs to know of a stock.
#[derive(Debug, Clone, Copy)]
pub struct Yield {
    /// Cost of one.
    pub cost: i64,
    /// How many there are at most.
    pub available: Option<u32>,
    /// Value of the best pattern, or more.
    pub value: i64,
}

/// The bound from the worth of all parts, what each stock can yield, and the scale of the prices.
pub fn prove(worth: i128, stocks: &[Yield], scale: i64) -> i64 {
    let (mut top, mut bottom) = (i128::from(scale.max(1)), 1i128);
    for s in stocks
        .iter()
        .filter(|s| s.available.is_none() && s.value > 0)
    {
        if s.cost <= 0 {
            return 0;
        }
        if i128::from(s.value) * bottom > top * i128::from(s.cost) {
            (top, bottom) = (i128::from(s.value), i128::from(s.cost));
        }
    }
    let mut sum = worth * bottom;
    for s in stocks {
        if let Some(n) = s.available {
            sum -= i128::from(n) * (i128::from(s.value) * bottom - top * i128::from(s.cost)).max(0);
        }
    }
    if sum <= 0 {
        return NO_BOUND;
    }
    let step = stocks
        .iter()
        .fold(0, |g, s| num_integer::gcd(g, i128::from(s.cost)))
        .max(1);
    let times = (sum + top * step - 1) / (top * step);
    i64::try_from(times * step).unwrap_or(NO_BOUND)
}

#[cfg(test)]
mod tests {
    use super::{Yield, prove};

    #[test]
    fn bounds_by_hand() {
        let bar = Yield {
            cost: 1,
            available: None,
            value: 10,
        };
        // 47 in prices of tenths: 4.7 bars, so 5.
        assert_eq!(prove(47, &[bar], 10), 5);
        // The best pattern overshoots by a fifth: 47 / 12 is just under 4.
        assert_eq!(prove(47, &[Yield { value: 12, ..bar }], 10), 4);
        // One bar on hand at no cost takes its value of 10 away.
        let hand = Yield {
            cost: 0,
            available: Some(1),
            value: 10,
        };
        assert_eq!(prove(47, &[bar, hand], 10), 4);
        // Costs of 4 and 6 add up to even sums only.
        let dear = [Yield { cost: 4, ..bar }, Yield { cost: 6, ..bar }];
        assert_eq!(prove(47, &dear, 10), 6);
        assert_eq!(prove(47, &[Yield { cost: 0, ..bar }], 10), 0);
    }
}
