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
        same(
            &name,
            source.priced.pieces.iter().map(|p| p.cents).sum(),
            source.priced.cents,
        );
        for piece in &source.priced.pieces {
            for keys in piece.by_key.iter().chain(&piece.by_row) {
                same(&name, keys.iter().sum(), piece.cents);
            }
        }
    }
    for line in lines {
        same(
            &|| format!("the cost of {} by phase", line.name),
            line.by_phase.iter().map(|(_, c)| c).sum(),
            line.cents,
        );
    }
    same(
        &|| "the list of cost lines".to_owned(),
        lines.iter().map(|l| l.cents).sum(),
        totals.direct,
    );
    for cut in cuts {
        let name = |part: &str| format!("the {part} by {}", cut.by);
        same(
            &|| name("labor"),
            cut.rows.iter().map(|r| r.labor).sum(),
            totals.labor,
        );
        same(
            &|| name("materials"),
            cut.rows.iter().map(|r| r.materials).sum(),
            totals.materials,
        );
        same(
            &|| name("hired"),
            cut.rows.iter().map(|r| r.hired).sum(),
            totals.hired,
        );
        same(
            &|| name("cost"),
            cut.rows.iter().map(CutRow::cents).sum(),
            totals.direct,
        );
        same(
            &|| name("price"),
            cut.rows.iter().map(CutRow::price).sum(),
            totals.grand,
        );
    }
    same(
        &|| "the list of charges".to_owned(),
        charges.iter().map(|c| c.cents).sum(),
        totals.charges,
    );
    same(
        &|| "the grand total".to_owned(),
        totals.direct + totals.charges + last.map_or(0, |f| f.cents),
        totals.grand,
    );
    if faults.is_empty() {
        Ok(checked)
    } else {
        Err(faults)
    }
}

#[cfg(test)]
mod tests {
    use super::super::model::CutKind;
    use super::*;
    use crate::number::Exact;

    #[test]
    fn a_cent_too_many_anywhere_is_found() {
        let totals = |grand| Totals {
            labor: 70,
            materials: 30,
            hired: 0,
            direct: 100,
            charges: 20,
            grand,
            exact: Exact::ZERO,
            gap: Exact::ZERO,
        };
        let row = |labor, charges| CutRow {
            key: "a".into(),
            whole_job: false,
            rows: None,
            hours: Exact::ZERO,
            labor,
            materials: 30,
            hired: 0,
            charges,
        };
        let cut = |labor, charges| Cut {
            kind: CutKind::Phase,
            by: "phase".into(),
            rows: vec![row(labor, charges)],
        };
        let charge = ChargeLine {
            name: "bond".into(),
            kind: super::super::ChargeKind::Sum,
            allowance: false,
            share: None,
            of: String::new(),
            base: None,
            exact: Exact::ZERO,
            cents: 20,
            source: None,
            note: None,
        };
        let line = CostLine {
            resource: crate::program::ResourceId(0),
            name: "joiner".into(),
            class: crate::program::ResourceClass::Labor,
            phase: None,
            quantity: Exact::ZERO,
            unit: "h".into(),
            price: Exact::ZERO,
            per: "h".into(),
            exact: Exact::ZERO,
            cents: 100,
            by_phase: vec![("a".into(), 100)],
        };
        let told = |cut: Cut, grand: i128| {
            let charges = std::slice::from_ref(&charge);
            check(
                &[],
                std::slice::from_ref(&line),
                &[cut],
                charges,
                None,
                &totals(grand),
            )
            .map_err(|list| list.iter().map(|d| d.code).collect::<Vec<_>>())
        };
        assert_eq!(told(cut(70, 20), 120), Ok(9));
        assert_eq!(told(cut(71, 20), 120), Err(vec!["OV-890"; 3])); // labor, cost and price by phase
        assert_eq!(told(cut(70, 19), 120), Err(vec!["OV-890"]));
        assert_eq!(told(cut(70, 20), 121), Err(vec!["OV-890"; 2])); // the price by phase, and the grand total
    }
}
