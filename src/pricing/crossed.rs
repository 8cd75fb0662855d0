//! The cost of the lines cut three ways at once: by phase, by a column of `split by`, and by trade. Charges stay with the cuts by one
//! thing: spread over so many places they would be cents of nothing.

use super::cuts::{Cutter, Source};
use super::fault::does_not_foot;
use super::model::{CrossRow, Crossed, Cut, CutKind};
use super::names;
use super::split::total;
use crate::diagnostics::Diagnostic;
use crate::ids::Id;
use crate::number::{Exact, NumError};
use crate::program::PhaseId;
use std::collections::BTreeMap;

/// Hours and cents by phase, key and trade.
type Places = BTreeMap<(usize, usize, (usize, String)), (Exact, i128)>;

/// One for each column of `split by`.
pub(super) fn all(cutter: &Cutter<'_>) -> Result<Vec<Crossed>, NumError> {
    let splits = cutter.quantities.splits.iter().enumerate();
    splits
        .map(|(at, split)| {
            let places = places(cutter, at, split.keys.len())?;
            let rows = places.into_iter().map(|((phase, key, (_, trade)), sums)| {
                let (hours, cents) = sums;
                CrossRow {
                    phase: <PhaseId as Id>::at(phase)
                        .and_then(|id| cutter.program.phases.get(id))
                        .cloned()
                        .unwrap_or_default(),
                    key: split.keys.get(key).cloned(),
                    trade,
                    hours,
                    cents,
                }
            });
            Ok(Crossed {
                by: names::spoken(&split.name),
                split: at,
                rows: rows.collect(),
            })
        })
        .collect()
}

fn places(cutter: &Cutter<'_>, at: usize, keys: usize) -> Result<Places, NumError> {
    let mut places = Places::new();
    cutter.each_piece(|line, phase, piece| {
        let Some(source) = cutter.sources.get(line) else {
            return Ok(());
        };
        let (Some(cents), Some(nets)) = (piece.by_key.get(at), phase.by_key.get(at)) else {
            return Ok(());
        };
        let rest = phase.total.sub(&total(nets)?)?;
        for key in 0..=keys {
            let net = match nets.get(key) {
                Some(net) if key < keys => net,
                _ => &rest,
            };
            let cents = cents.get(key).copied().unwrap_or(0);
            let hours = hours(source, net)?;
            if cents == 0 && hours.is_zero() {
                continue;
            }
            let own = (phase.phase.index(), key, source.trade());
            let sums = places.entry(own).or_insert((Exact::ZERO, 0));
            *sums = (sums.0.add(&hours)?, sums.1 + cents);
        }
        Ok(())
    })?;
    Ok(places)
}

fn hours(source: &Source<'_>, net: &Exact) -> Result<Exact, NumError> {
    match &source.hours {
        Some(hours) if !net.is_zero() => net.mul(hours),
        _ => Ok(Exact::ZERO),
    }
}

/// That each crossed cut adds up to the cut by phase, by its column and by trade, in cents and in hours. Errors: OV-890.
pub(super) fn check(crossed: &[Crossed], cuts: &[Cut]) -> Result<usize, Vec<Diagnostic>> {
    let (mut checked, mut faults) = (0, Vec::new());
    for one in crossed {
        for kind in [CutKind::Phase, CutKind::Split(one.split), CutKind::Trade] {
            let Some(cut) = cuts.iter().find(|c| c.kind == kind) else {
                continue;
            };
            for row in &cut.rows {
                let of = one.rows.iter().filter(|r| match kind {
                    CutKind::Phase => !row.whole_job && r.phase == row.key,
                    CutKind::Trade => !row.whole_job && r.trade == row.key,
                    CutKind::Split(_) | CutKind::Class | CutKind::Resource | CutKind::Opening => {
                        r.key.as_ref() == Some(&row.key).filter(|_| !row.whole_job)
                    }
                });
                let (mut cents, mut hours) = (0, Exact::ZERO);
                for part in of {
                    cents += part.cents;
                    hours = hours.add(&part.hours).unwrap_or(hours);
                }
                checked += 1;
                // What belongs to the whole job is by phase and trade all the same.
                let should = row.cents();
                if cents != should || hours != row.hours {
                    let what = format!("{} by phase, {} and trade", row.key, one.by);
                    faults.push(does_not_foot(&what, cents, should));
                }
            }
        }
    }
    match faults.is_empty() {
        true => Ok(checked),
        false => Err(faults),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::pricing::model::{CrossRow, CutRow};

    fn row(key: &str, whole_job: bool, hours: i64, labor: i128) -> CutRow {
        CutRow {
            key: key.to_owned(),
            whole_job,
            rows: None,
            hours: Exact::int(hours),
            labor,
            materials: 0,
            hired: 0,
            charges: 0,
        }
    }

    fn part(phase: &str, key: Option<&str>, hours: i64, cents: i128) -> CrossRow {
        CrossRow {
            phase: phase.to_owned(),
            key: key.map(str::to_owned),
            trade: "glazier".to_owned(),
            hours: Exact::int(hours),
            cents,
        }
    }

    #[test]
    fn every_sum_is_counted_and_a_cent_too_many_is_found() {
        let cut = |kind, rows| Cut {
            kind,
            by: String::new(),
            rows,
        };
        let cuts = [
            cut(
                CutKind::Phase,
                vec![row("Making", false, 3, 300), row("Glazing", false, 2, 150)],
            ),
            cut(
                CutKind::Split(0),
                vec![row("North", false, 4, 400), row("whole job", true, 1, 50)],
            ),
            cut(CutKind::Trade, vec![row("glazier", false, 5, 450)]),
        ];
        let mut crossed = [Crossed {
            by: "wing".to_owned(),
            split: 0,
            rows: vec![
                part("Making", Some("North"), 3, 300),
                part("Glazing", Some("North"), 1, 100),
                part("Glazing", None, 1, 50),
            ],
        }];
        assert_eq!(check(&crossed, &cuts).ok(), Some(5));
        crossed[0].rows[2].cents += 1;
        let faults = check(&crossed, &cuts).expect_err("a cent too many");
        // Of its phase, of the whole job and of its trade.
        assert_eq!(faults.len(), 3);
        crossed[0].rows[2].cents -= 1;
        crossed[0].rows[2].hours = Exact::int(2);
        assert_eq!(check(&crossed, &cuts).map_err(|f| f.len()), Err(3));
    }
}
