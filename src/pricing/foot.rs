//! The proof, on every run, that the pieces of each line, every cut and the grand total add up to the cent.

use super::cuts::Source;
use super::fault::does_not_foot;
use super::model::{ChargeLine, CostLine, Cut, CutRow, FinalLine, Totals};
use crate::diagnostics::Diagnostic;

/// Adds everything up again. Gives how many sums were found equal. Errors: OV-890 for each that is not.
pub(super) fn check(
    sources: &[Source<'_>],
    lines: &[CostLine],
    cuts: &[Cut],
    charges: &[ChargeLine],
    last: Option<&FinalLine>,
    totals: &Totals,
) -> Result<usize, Vec<Diagnostic>> {
    let (mut checked, mut faults) = (0, Vec::new());
    let mut same = |what: &dyn Fn() -> String, sum: i128, should: i128| {
        checked += 1;
        if sum != should {
            faults.push(does_not_foot(&what(), sum, should));
        }
    };
    for source in sources {
        let name = || format!("the cost of {}", source.name);
        same(&name, source.priced.pieces.iter().map(|p| p.cents).sum(), source.priced.cents);
        for piece in &source.priced.pieces {
            for keys in piece.by_key.iter().chain(&piece.by_row) {
                same(&name, keys.iter().sum(), piece.cents);
            }
        }
    }
    for line in lines {
        same(&|| format!("the cost of {} by phase", line.name), line.by_phase.iter().map(|(_, c)| c).sum(), line.cents);
    }
    same(&|| "the list of cost lines".to_owned(), lines.iter().map(|l| l.cents).sum(), totals.direct);
    for cut in cuts {
        let name = |part: &str| format!("the {part} by {}", cut.by);
        same(&|| name("labor"), cut.rows.iter().map(|r| r.labor).sum(), totals.labor);
        same(&|| name("materials"), cut.rows.iter().map(|r| r.materials).sum(), totals.materials);
        same(&|| name("cost"), cut.rows.iter().map(CutRow::cents).sum(), totals.direct);
        same(&|| name("price"), cut.rows.iter().map(CutRow::price).sum(), totals.grand);
    }
    same(&|| "the list of charges".to_owned(), charges.iter().map(|c| c.cents).sum(), totals.charges);
    same(&|| "the grand total".to_owned(), totals.direct + totals.charges + last.map_or(0, |f| f.cents), totals.grand);
    if faults.is_empty() { Ok(checked) } else { Err(faults) }
}
