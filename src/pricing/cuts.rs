//! The cost cut up by phase, split column, trade, class, resource and row, and the proof on every run that each cut adds to the same total.

use super::fault::does_not_foot;
use super::lines::{Piece, Priced};
use super::model::{ChargeLine, CostLine, Cut, CutKind, CutRow, FinalLine, Totals};
use super::names::{self, CLASSES};
use super::split::total;
use super::usage::PhaseUse;
use crate::diagnostics::Diagnostic;
use crate::number::{Exact, NumError};
use crate::program::{Program, ResourceClass, ResourceId};
use crate::takeoff::Quantities;

/// What a priced line contributes to the cuts.
pub(super) struct Source<'a> {
    pub(super) resource: ResourceId,
    pub(super) class: ResourceClass,
    pub(super) name: String,
    pub(super) phases: Vec<&'a PhaseUse>,
    pub(super) priced: Priced,
    /// Hours for one base unit of net amount; none for what is not person-time.
    pub(super) hours: Option<Exact>,
}

#[derive(Clone, Default)]
struct Tally {
    used: bool,
    hours: Exact,
    labor: i128,
    materials: i128,
}

impl Tally {
    fn add(&mut self, source: &Source<'_>, cents: i128, net: &Exact) -> Result<(), NumError> {
        self.used |= cents != 0 || !net.is_zero();
        match source.class {
            ResourceClass::Labor => self.labor += cents,
            _ => self.materials += cents,
        }
        if let (ResourceClass::Labor, Some(hours)) = (source.class, &source.hours) {
            self.hours = self.hours.add(&net.mul(hours)?)?;
        }
        Ok(())
    }

    fn row(self, key: impl Into<String>) -> CutRow {
        CutRow { key: key.into(), whole_job: false, rows: None, hours: self.hours, labor: self.labor, materials: self.materials }
    }
}

/// Every cut of the lines. The cut by row is there when rows were asked for.
pub(super) fn cut_all(program: &Program, quantities: &Quantities, sources: &[Source<'_>]) -> Result<Vec<Cut>, NumError> {
    let mut cuts = vec![by_phase(program, sources)?];
    for (at, split) in quantities.splits.iter().enumerate() {
        let mut tallies = vec![Tally::default(); split.keys.len() + 1];
        each_piece(sources, |source, phase, piece| {
            let (Some(cents), Some(nets)) = (piece.by_key.get(at), phase.by_key.get(at)) else { return Ok(()) };
            spread(&mut tallies, source, cents, nets, &phase.total)
        })?;
        let mut rows = keyed(tallies, &split.keys);
        for (row, count) in rows.iter_mut().zip(&split.rows_in) {
            row.rows = Some(*count);
        }
        cuts.push(Cut { kind: CutKind::Split(at), by: names::spoken(&split.name), rows });
    }
    cuts.push(by_trade(sources)?);
    cuts.push(by_class(sources)?);
    cuts.push(by_resource(sources)?);
    if let Some(openings) = by_opening(quantities, sources)? {
        cuts.push(openings);
    }
    Ok(cuts)
}

fn each_piece<'a>(
    sources: &'a [Source<'a>],
    mut each: impl FnMut(&Source<'a>, &PhaseUse, &Piece) -> Result<(), NumError>,
) -> Result<(), NumError> {
    for source in sources {
        for (phase, piece) in source.phases.iter().zip(&source.priced.pieces) {
            each(source, phase, piece)?;
        }
    }
    Ok(())
}

/// Adds cents and net amounts to tallies. The last tally is the whole job's, and so is the last of the cents.
fn spread(tallies: &mut [Tally], source: &Source<'_>, cents: &[i128], nets: &[Exact], whole: &Exact) -> Result<(), NumError> {
    let (Some((rest_tally, tallies)), Some((rest_cents, cents))) = (tallies.split_last_mut(), cents.split_last()) else { return Ok(()) };
    let zero = Exact::ZERO;
    for (at, tally) in tallies.iter_mut().enumerate() {
        tally.add(source, cents.get(at).copied().unwrap_or(0), nets.get(at).unwrap_or(&zero))?;
    }
    rest_tally.add(source, *rest_cents, &whole.sub(&total(nets)?)?)
}

/// Rows for the keys, and one for the whole job where something is in it.
fn keyed(mut tallies: Vec<Tally>, keys: &[String]) -> Vec<CutRow> {
    let rest = tallies.pop().unwrap_or_default();
    let mut rows: Vec<CutRow> = tallies.into_iter().zip(keys).map(|(tally, key)| tally.row(key)).collect();
    if rest.used {
        rows.push(CutRow { whole_job: true, ..rest.row("whole job") });
    }
    rows
}

fn by_phase(program: &Program, sources: &[Source<'_>]) -> Result<Cut, NumError> {
    let mut tallies = vec![Tally::default(); program.phases.len()];
    each_piece(sources, |source, phase, piece| match tallies.get_mut(usize::from(phase.phase.0)) {
        Some(tally) => tally.add(source, piece.cents, &phase.total),
        None => Ok(()),
    })?;
    let rows = tallies.into_iter().zip(&program.phases).filter(|(t, _)| t.used).map(|(t, name)| t.row(name));
    Ok(Cut { kind: CutKind::Phase, by: "phase".to_owned(), rows: rows.collect() })
}

/// The sum of a whole line.
fn whole(source: &Source<'_>) -> Result<Tally, NumError> {
    let mut tally = Tally::default();
    tally.add(source, source.priced.cents, &total(source.phases.iter().map(|p| &p.total))?)?;
    Ok(tally)
}

/// Sums lines by a key, keys in order of first appearance.
fn by_name<'a>(sources: &'a [Source<'a>], key: impl Fn(&'a Source<'a>) -> (usize, &'a str)) -> Result<Vec<CutRow>, NumError> {
    let mut sums: Vec<((usize, &str), Tally)> = Vec::new();
    for source in sources {
        let key = key(source);
        let one = whole(source)?;
        match sums.iter_mut().find(|(k, _)| *k == key) {
            None => sums.push((key, one)),
            Some((_, sum)) => {
                sum.hours = sum.hours.add(&one.hours)?;
                sum.labor += one.labor;
                sum.materials += one.materials;
            }
        }
    }
    Ok(sums.into_iter().map(|((_, name), tally)| tally.row(name)).collect())
}

fn by_trade(sources: &[Source<'_>]) -> Result<Cut, NumError> {
    let mut rows = by_name(sources, |s| match s.class {
        ResourceClass::Labor => (usize::from(s.resource.0), s.name.as_str()),
        _ => (usize::MAX, "materials"),
    })?;
    rows.sort_by_key(|row| row.labor == 0 && row.hours.is_zero()); // stable: materials last
    Ok(Cut { kind: CutKind::Trade, by: "trade".to_owned(), rows })
}

fn by_class(sources: &[Source<'_>]) -> Result<Cut, NumError> {
    let place = |class: ResourceClass| CLASSES.iter().position(|(c, _)| *c == class).unwrap_or(CLASSES.len());
    let rows = by_name(sources, |s| (place(s.class), names::class(s.class)))?;
    let mut rows: Vec<(usize, CutRow)> =
        rows.into_iter().map(|r| (CLASSES.iter().position(|(_, word)| *word == r.key).unwrap_or(CLASSES.len()), r)).collect();
    rows.sort_by_key(|(at, _)| *at);
    Ok(Cut { kind: CutKind::Class, by: "class".to_owned(), rows: rows.into_iter().map(|(_, r)| r).collect() })
}

fn by_resource(sources: &[Source<'_>]) -> Result<Cut, NumError> {
    let rows = by_name(sources, |s| (usize::from(s.resource.0), s.name.as_str()))?;
    Ok(Cut { kind: CutKind::Resource, by: "resource".to_owned(), rows })
}

fn by_opening(quantities: &Quantities, sources: &[Source<'_>]) -> Result<Option<Cut>, NumError> {
    let marks = &quantities.facts.marks;
    if !sources.iter().any(|s| s.phases.iter().any(|p| p.by_row.is_some())) {
        return Ok(None);
    }
    let mut tallies = vec![Tally::default(); marks.len() + 1];
    each_piece(sources, |source, phase, piece| match (&piece.by_row, &phase.by_row) {
        (Some(cents), Some(nets)) => spread(&mut tallies, source, cents, nets, &phase.total),
        _ => spread(&mut tallies, source, &[piece.cents], &[], &phase.total),
    })?;
    let by = names::spoken(&quantities.facts.row_word);
    Ok(Some(Cut { kind: CutKind::Opening, by, rows: keyed(tallies, marks) }))
}

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
    }
    same(&|| "the list of charges".to_owned(), charges.iter().map(|c| c.cents).sum(), totals.charges);
    same(&|| "the grand total".to_owned(), totals.direct + totals.charges + last.map_or(0, |f| f.cents), totals.grand);
    if faults.is_empty() { Ok(checked) } else { Err(faults) }
}
