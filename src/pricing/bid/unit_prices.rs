//! Unit prices in whole cents whose extension gives a bid to the cent.
//!
//! Each price starts as the nearest whole cent of its item's amount over its quantity. What the extensions then miss is made up
//! by moving prices, and of all ways to do so the one that moves the least money is taken. Where no whole-cent prices can give
//! the sum, a stated line carries the rest.

use num_integer::gcd;

/// Least moved money that is searched for; a bid that would need more says its rest on a line instead.
const FURTHEST: usize = 2_000_000;

/// An item of a bid: how many, and the cents that belong to it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Item {
    /// How many; whole and above zero.
    pub quantity: i128,
    /// Its amount in cents.
    pub cents: i128,
}

/// Prices of the items of a bid.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct UnitPrices {
    /// Cents for one of each item, in order.
    pub prices: Vec<i128>,
    /// The sum of the items in cents less that of the extensions: a line of its own where it is not zero.
    pub rest: i128,
}

/// Unit prices for items. Whole-cent prices give the sum exactly only where the greatest common divisor of the quantities
/// divides it. Items without a quantity above zero get no price; their cents stay in the rest.
pub fn unit_prices(items: &[Item]) -> UnitPrices {
    let mut prices: Vec<i128> = items
        .iter()
        .map(|i| {
            if i.quantity > 0 {
                nearest(i.cents, i.quantity)
            } else {
                0
            }
        })
        .collect();
    let rest = |prices: &[i128]| -> i128 {
        let extensions = items.iter().zip(prices).map(|(i, p)| i.quantity * p);
        items.iter().map(|i| i.cents).sum::<i128>() - extensions.sum::<i128>()
    };
    let missing = rest(&prices);
    if let Some(moves) = least_moves(items, missing) {
        for (price, by) in prices.iter_mut().zip(moves) {
            *price += by;
        }
    }
    let rest = rest(&prices);
    UnitPrices { prices, rest }
}

/// The nearest whole number to `cents / quantity`, halves away from zero.
fn nearest(cents: i128, quantity: i128) -> i128 {
    let half = if cents < 0 { -quantity } else { quantity };
    (2 * cents + half) / (2 * quantity)
}

/// For each item by how many cents its price moves, so that the extensions move by `missing` in all and as little as possible
/// up and down together. None where no whole-cent prices do it, or none near enough.
fn least_moves(items: &[Item], missing: i128) -> Option<Vec<i128>> {
    if missing == 0 {
        return Some(vec![0; items.len()]);
    }
    let quantities = items.iter().map(|i| i.quantity).filter(|q| *q > 0);
    let divisor = quantities.reduce(gcd).filter(|d| missing % d == 0)?;
    let gap = usize::try_from(missing.abs() / divisor).ok()?;
    let steps: Vec<Option<usize>> = items
        .iter()
        .map(|i| {
            usize::try_from(i.quantity / divisor)
                .ok()
                .filter(|s| *s > 0)
        })
        .collect();
    // What can be moved one way is a sum of whole quantities. Moving `gap + back` one way and `back` the other is cheapest for
    // the least `back` of which both are such sums.
    let largest = steps.iter().flatten().max()?;
    let limit = gap
        .checked_add(largest.checked_mul(*largest)?)?
        .min(FURTHEST);
    if gap > limit {
        return None;
    }
    let last = reachable(&steps, limit);
    let back = (0..=limit - gap).find(|b| last[*b].is_some() && last[gap + b].is_some())?;
    let mut moves = vec![0; items.len()];
    let sign = missing.signum();
    for (mut left, sign) in [(gap + back, sign), (back, -sign)] {
        while left > 0 {
            let item = last[left]?;
            moves[item] += sign;
            left -= steps[item]?;
        }
    }
    Some(moves)
}

/// For each amount up to `limit` the last item of one way to make it up of whole quantities; amount zero is made up of none.
fn reachable(steps: &[Option<usize>], limit: usize) -> Vec<Option<usize>> {
    let mut last = vec![None; limit + 1];
    last[0] = Some(0);
    for amount in 1..=limit {
        last[amount] = steps
            .iter()
            .position(|step| step.is_some_and(|s| s <= amount && last[amount - s].is_some()));
    }
    last
}

#[cfg(test)]
mod tests {
    use super::*;

    fn items(list: &[(i128, i128)]) -> Vec<Item> {
        let item = |(quantity, cents): &(i128, i128)| Item {
            quantity: *quantity,
            cents: *cents,
        };
        list.iter().map(item).collect()
    }

    fn extended(items: &[Item], found: &UnitPrices) -> i128 {
        items
            .iter()
            .zip(&found.prices)
            .map(|(i, p)| i.quantity * p)
            .sum()
    }

    /// Computed for this project with an independent script (check value 5.2): the nearest unit prices extend to a cent less.
    #[test]
    fn prices_that_miss_a_cent_are_moved_by_the_least_money() {
        let bid = items(&[(37, 5_575_267), (24, 2_547_266), (11, 1_349_010)]);
        let found = unit_prices(&bid);
        assert_eq!(found.prices, [150_681, 106_135, 122_646]);
        assert_eq!(extended(&bid, &found), 9_471_543);
        assert_eq!(found.rest, 0);
    }

    /// Check value 5.3: even quantities cannot extend to an odd number of cents.
    #[test]
    fn what_no_prices_can_give_stands_on_a_line() {
        let bid = items(&[(6, 1_500_000), (10, 2_331_725), (4, 1_000_000)]);
        let found = unit_prices(&bid);
        assert_eq!(extended(&bid, &found) + found.rest, 4_831_725);
        assert_ne!(found.rest, 0);
        assert!(found.rest.abs() <= 10, "{found:?}");
    }

    #[test]
    fn every_bid_foots_with_its_rest_and_moves_no_price_without_need() {
        let mut seed = 7_u64;
        let mut draw = |below: u64| {
            seed = seed
                .wrapping_mul(6_364_136_223_846_793_005)
                .wrapping_add(1_442_695_040_888_963_407);
            i128::from((seed >> 33) % below)
        };
        for _ in 0..300 {
            let count = 1 + draw(6);
            let bid: Vec<Item> = (0..count)
                .map(|_| Item {
                    quantity: draw(60),
                    cents: draw(9_000_000),
                })
                .collect();
            let found = unit_prices(&bid);
            let sum: i128 = bid.iter().map(|i| i.cents).sum();
            assert_eq!(extended(&bid, &found) + found.rest, sum);
            let divisor = bid
                .iter()
                .map(|i| i.quantity)
                .filter(|q| *q > 0)
                .reduce(gcd);
            let priced: i128 = bid.iter().filter(|i| i.quantity > 0).map(|i| i.cents).sum();
            if priced == sum && divisor.is_some_and(|d| sum % d == 0) {
                assert_eq!(found.rest, 0, "{bid:?}");
            }
        }
    }
}
