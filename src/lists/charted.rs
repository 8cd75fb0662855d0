//! Charts of a paper: amounts of the estimate as bars. Whoever is not of the office sees all-in amounts, never what they are made of.

use super::bid::{self, BidRow};
use super::papers::Made;
use crate::charts;
use crate::diagnostics::Diagnostic;
use crate::drawing::Drawing;
use crate::number::NumError;
use crate::paper::{Class, Reader};
use crate::pricing::CutKind;
use crate::program::ItemBy;
use crate::study::{Life, Ranked};
use crate::syntax::tree::Chart;

/// Studies that charts show. Each takes far longer than an estimate, so it is made only for a paper that draws it.
#[derive(Debug, Default)]
pub struct Studies {
    /// The total as it is, in cents, and the givens that move it, the strongest first.
    pub effects: Option<(i128, Vec<Ranked>)>,
    /// What each plan costs over the years.
    pub years: Option<Life>,
}

/// The chart, or in a sentence why there is none.
pub(super) fn drawn(made: &Made<'_>, chart: Chart, reader: Reader) -> Result<Drawing, String> {
    let estimate = made.estimate;
    if estimate.unpriced.is_some() {
        return Err("No chart: prices are missing.".to_owned());
    }
    match chart {
        Chart::Phases => priced(made, (ItemBy::Phase, CutKind::Phase), "phase", reader),
        Chart::Areas => priced(made, (ItemBy::Area, CutKind::Split(0)), "area", reader),
        Chart::Charges => said(charts::price_build_up(estimate)),
        Chart::Alternates => {
            let total = estimate.totals.grand;
            let mut bars = vec![("Base bid".to_owned(), total)];
            for row in bid::alternates_of(made) {
                if let BidRow::Alternate(one, _) = row {
                    let name = format!("with {}, {}", one.number, one.name);
                    bars.push((name, total + one.adds));
                }
            }
            if bars.len() == 1 {
                return Err("This bid has no alternates.".to_owned());
            }
            let title = format!("The bid with each alternate, in {}", estimate.currency);
            said(charts::amounts(title, bars))
        }
        Chart::Effects => {
            let none = || "No chart: no given with a range moves the total.".to_owned();
            let (total, ranked) = made.studies.effects.as_ref().ok_or_else(none)?;
            studied(charts::of_rank(*total, ranked, &estimate.currency))?.ok_or_else(none)
        }
        Chart::Years => {
            let none = || "No chart: the job does not say over how many years.".to_owned();
            let life = made.studies.years.as_ref().ok_or_else(none)?;
            studied(charts::of_life(life, &estimate.currency))?.ok_or_else(none)
        }
    }
}

/// The one chart of a study, where it has one.
fn studied(drawings: Result<Vec<Drawing>, Diagnostic>) -> Result<Option<Drawing>, String> {
    let drawings = drawings.map_err(|_| "A chart is not drawn: too many digits.".to_owned())?;
    Ok(drawings.into_iter().next())
}

fn said(drawing: Result<Drawing, NumError>) -> Result<Drawing, String> {
    drawing.map_err(|e| format!("A chart is not drawn: {e}."))
}

/// What the phases or areas come to: for the office with what each is made of.
fn priced(
    made: &Made<'_>,
    (by, kind): (ItemBy, CutKind),
    word: &str,
    reader: Reader,
) -> Result<Drawing, String> {
    let estimate = made.estimate;
    let inside = reader.may_see(Class::Private);
    if let (true, Some(cut)) = (inside, estimate.cut(kind)) {
        return said(charts::by_key(estimate, cut));
    }
    let named = |row| match row {
        // As its list extends it, so that both say the same.
        BidRow::Item(item, price) => {
            let quantity = item.quantity.and_then(|n| i128::try_from(n).ok());
            let extension = price.zip(quantity).map(|(price, n)| price * n);
            let cents = match by {
                ItemBy::Phase => item.cents,
                ItemBy::Area | ItemBy::Label(_) => extension.unwrap_or(item.cents),
            };
            Some((item.name, cents))
        }
        BidRow::Rest(rest) => Some(("in no unit price".to_owned(), rest)),
        BidRow::Alternate(..) | BidRow::Month(..) | BidRow::Change(_) | BidRow::Others(..) => None,
    };
    let rows: Vec<(String, i128)> = bid::items_of(made, by)
        .into_iter()
        .filter_map(named)
        .collect();
    match rows.is_empty() {
        true => Err(format!("No chart: the price is not split by {word}.")),
        false => {
            let title = format!("Price by {word}, in {}", estimate.currency);
            said(charts::amounts(title, rows))
        }
    }
}
