//! Words of reports: rounding rules, layers, where prices come from.

use crate::number::{Exact, Rounding};
use crate::pricing::{
    Allowance, ChargeKind, ChargeLine, Estimate, PriceOrigin, PriceUsed, percent,
};
use crate::syntax::tree::{AllowanceKind, Layer};

use super::view::price_text;

/// A rounding as sheets write it.
pub(crate) fn rounding(mode: Rounding) -> &'static str {
    match mode {
        Rounding::Up => "up",
        Rounding::Down => "down",
        Rounding::TowardZero => "toward zero",
        Rounding::AwayFromZero => "away from zero",
        Rounding::HalfUp => "half up",
        Rounding::HalfDown => "half down",
        Rounding::HalfEven => "half even",
        Rounding::Up05 => "toward zero unless to 0 or 5",
    }
}

/// The same in words for whoever is handed a paper with cents.
pub(super) fn cents(mode: Rounding) -> &'static str {
    match mode {
        Rounding::Up => "cents are rounded up",
        Rounding::Down => "cents are rounded down",
        Rounding::TowardZero => "cents are rounded toward zero",
        Rounding::AwayFromZero => "cents are rounded away from zero",
        Rounding::HalfUp => "half cents are rounded up",
        Rounding::HalfDown => "half cents are rounded down",
        Rounding::HalfEven => "half cents are rounded to the even cent",
        Rounding::Up05 => "cents are rounded toward zero unless to 0 or 5",
    }
}

/// A layer as sheets write it.
pub(crate) fn layer(layer: Layer) -> &'static str {
    match layer {
        Layer::Base => "base",
        Layer::Shop => "shop",
        Layer::Job => "job",
        Layer::Alternate => "alternate",
    }
}

/// Waste or yield: `35 % waste`.
pub(crate) fn allowance(allowance: &Allowance) -> String {
    let word = match allowance.kind {
        AllowanceKind::Waste => "waste",
        AllowanceKind::Yield => "yield",
    };
    format!("{} {word}", percent(&allowance.share))
}

/// What the estimate was made from, in one sentence.
pub(super) fn made_from(estimate: &Estimate) -> String {
    let files = |role: &str, one: &str, more: &str| match estimate
        .origin
        .files
        .iter()
        .filter(|f| f.role == role)
        .count()
    {
        0 => None,
        1 => Some(format!("1 {one}")),
        n => Some(format!("{n} {more}")),
    };
    let parts = [
        files("sheet", "sheet", "sheets"),
        files("survey", "survey file", "survey files"),
        files("prices", "price file", "price files"),
        Some(estimate.origin.program.clone()).filter(|program| !program.is_empty()),
    ];
    format!(
        "Made from {}.",
        parts.into_iter().flatten().collect::<Vec<_>>().join(", ")
    )
}

/// What was checked before anything is shown.
pub(super) fn checked(estimate: &Estimate) -> String {
    let sums = estimate.sums_checked;
    format!(
        "Ties are rounded {}. {sums} sums were added up again and found equal.",
        rounding(estimate.ties)
    )
}

/// Where a price comes from: a supplier, a pay block, a change.
pub(super) fn price_origin(price: &PriceUsed) -> String {
    match price.origin {
        PriceOrigin::Book => price.supplier.clone().unwrap_or_default(),
        PriceOrigin::Pay => "pay block".to_owned(),
        PriceOrigin::Hire => match &price.supplier {
            Some(from) => format!("{from}, rates of hire"),
            None => "rates of hire".to_owned(),
        },
        PriceOrigin::Change(at) => format!("changed in {}", layer(at)),
    }
}

/// How a charge is made: `12 % of labor and materials`.
pub(crate) fn charge(line: &ChargeLine) -> String {
    let share = line.share.as_ref().map(percent).unwrap_or_default();
    match line.kind {
        ChargeKind::Sum if line.allowance => "allowance".to_owned(),
        ChargeKind::Sum => "fixed sum".to_owned(),
        ChargeKind::Share => format!("{share} of {}", line.of),
        ChargeKind::MarkUp => format!("{share} mark-up on {}", line.of),
        ChargeKind::Margin => format!("{share} margin on {}", line.of),
        ChargeKind::TaxByItem => format!("{share} of {}, by item", line.of),
        ChargeKind::TaxByInvoice => format!("{share} of {}, by invoice", line.of),
    }
}

/// A money amount with its sign always written: `+0.03`, `-1.20`, `0`; at most six decimals.
pub(super) fn signed(value: &Exact) -> String {
    let text = price_text(value);
    match value.signum() {
        0 => "0".to_owned(),
        1 => format!("+{text}"),
        _ => text,
    }
}

/// A few marks of many: `A1, A2, A3 and 9 more`.
pub fn some_marks(marks: &[impl AsRef<str>], all: usize, most: usize) -> String {
    let shown: Vec<&str> = marks.iter().take(most).map(AsRef::as_ref).collect();
    let shown = shown.join(", ");
    match all.saturating_sub(marks.len().min(most)) {
        0 => shown,
        more => format!("{shown} and {more} more"),
    }
}
