//! Charts of a paper: amounts of the estimate as bars. Whoever is not of the office sees all-in amounts, never what they are made of.

use super::bid::{self, BidRow};
use super::papers::Made;
use crate::charts;
use crate::drawing::Drawing;
use crate::number::NumError;
use crate::paper::{Class, Reader};
use crate::pricing::CutKind;
use crate::program::ItemBy;
use crate::syntax::tree::Chart;

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
    }
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
