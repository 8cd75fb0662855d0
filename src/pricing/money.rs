//! The money of an estimate as decimals, in the job's currency with two places: what users of the library read. The fields beside
//! these hold the same amounts in whole cents.

use super::model::{BuyLine, ChargeLine, CostLine, CutRow, Estimate, HeadlineRow};
use crate::number::{Decimal, money};

impl Estimate {
    /// What the job comes to, with all charges and the final rounding.
    pub fn total(&self) -> Decimal {
        money(self.totals.grand)
    }

    /// All cost lines, without charges.
    pub fn cost(&self) -> Decimal {
        money(self.totals.direct)
    }
}

impl HeadlineRow {
    /// The cost lines of the class.
    pub fn amount(&self) -> Decimal {
        money(self.cents)
    }
}

impl BuyLine {
    /// What is bought, times its price.
    pub fn amount(&self) -> Decimal {
        money(self.cents)
    }
}

impl CostLine {
    /// What the line costs.
    pub fn amount(&self) -> Decimal {
        money(self.cents)
    }
}

impl ChargeLine {
    /// What is charged.
    pub fn amount(&self) -> Decimal {
        money(self.cents)
    }
}

impl CutRow {
    /// The cost lines under the key.
    pub fn amount(&self) -> Decimal {
        money(self.cents())
    }

    /// The cost lines under the key and their part of the charges.
    pub fn price_amount(&self) -> Decimal {
        money(self.price())
    }
}
