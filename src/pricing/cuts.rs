//! The cost cut up by phase, split column, trade, class, resource and row, with the charges that belong to each part.
//!
//! A charge follows its base: a tax on materials goes where the materials are. What has no base, such as a fixed sum or the rounding of the
//! final figure, belongs to the whole job. So every cut adds to the cost of the lines, and to the final figure too.

use super::lines::{Piece, Priced};
use super::model::{Cut, CutKind, CutRow};
use super::names;
use super::split::{Grouped, split_cents, total};
use super::usage::PhaseUse;
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

impl Source<'_> {
    /// Its place among the trades and the word for it: labor by resource, materials as one, and what is hired as one.
    pub(super) fn trade(&self) -> (usize, String) {
        if self.class == ResourceClass::Labor {
            (self.resource.index(), self.name.clone())
        } else if self.class.is_hired() {
            (usize::MAX, "hired".to_owned())
        } else {
            (usize::MAX - 1, "materials".to_owned())
        }
    }
}

/// A charge to be spread over the keys of a cut in proportion to its base.
pub(super) struct Spread {
    pub(super) cents: i128,
    /// For each line, whether it is in the base.
    pub(super) of_lines: Vec<bool>,
    /// The earlier charges in the base, by place.
    pub(super) of_charges: Vec<usize>,
}

/// What is cut up.
pub(super) struct Cutter<'a> {
    pub(super) program: &'a Program,
    pub(super) quantities: &'a Quantities,
    pub(super) sources: &'a [Source<'a>],
    /// Charges in order, and the final rounding last.
    pub(super) charges: Vec<Spread>,
}

/// Sums under one key.
#[derive(Clone)]
struct Tally {
    used: bool,
    hours: Exact,
    labor: i128,
    materials: i128,
    hired: i128,
    /// For each charge, the lines in its base.
    bases: Vec<i128>,
}

impl Cutter<'_> {
    /// Every cut. The cut by row is there when rows were asked for.
    pub(super) fn all(&self) -> Result<Vec<Cut>, NumError> {
        let mut cuts = vec![self.by_phase()?];
        for at in 0..self.quantities.splits.len() {
            cuts.extend(self.by_split(at)?);
        }
        let class = |s: &Source<'_>| {
            let place = ResourceClass::ALL.iter().position(|c| *c == s.class);
            (
                place.unwrap_or(ResourceClass::ALL.len()),
                s.class.word().to_owned(),
            )
        };
        cuts.push(self.by_line(CutKind::Trade, "trade", |s| s.trade())?);
        cuts.push(self.by_line(CutKind::Class, "class", class)?);
        cuts.push(self.by_line(CutKind::Resource, "resource", |s| {
            (s.resource.index(), s.name.clone())
        })?);
        cuts.extend(self.by_row()?);
        Ok(cuts)
    }

    /// One tally for each key, and one for the whole job.
    fn tallies(&self, keys: usize) -> Vec<Tally> {
        let none = Tally {
            used: false,
            hours: Exact::ZERO,
            labor: 0,
            materials: 0,
            hired: 0,
            bases: vec![0; self.charges.len()],
        };
        vec![none; keys + 1]
    }

    fn add(
        &self,
        tally: &mut Tally,
        line: usize,
        cents: i128,
        net: &Exact,
    ) -> Result<(), NumError> {
        let Some(source) = self.sources.get(line) else {
            return Ok(());
        };
        tally.used |= cents != 0 || !net.is_zero();
        if source.class == ResourceClass::Labor {
            tally.labor += cents;
        } else if source.class.is_hired() {
            tally.hired += cents;
        } else {
            tally.materials += cents;
        }
        for (base, charge) in tally.bases.iter_mut().zip(&self.charges) {
            if charge.of_lines.get(line) == Some(&true) {
                *base += cents;
            }
        }
        if let (ResourceClass::Labor, Some(hours), false) =
            (source.class, &source.hours, net.is_zero())
        {
            tally.hours = tally.hours.add(&net.mul(hours)?)?;
        }
        Ok(())
    }

    /// Adds cents and net amounts to tallies. The last tally is the whole job's, and so is the last of the cents.
    fn add_all(
        &self,
        tallies: &mut [Tally],
        line: usize,
        cents: &[i128],
        nets: &[Exact],
        whole: &Exact,
    ) -> Result<(), NumError> {
        let (Some((rest_tally, tallies)), Some((rest_cents, cents))) =
            (tallies.split_last_mut(), cents.split_last())
        else {
            return Ok(());
        };
        for (at, tally) in tallies.iter_mut().enumerate() {
            self.add(
                tally,
                line,
                cents.get(at).copied().unwrap_or(0),
                nets.get(at).unwrap_or(&Exact::ZERO),
            )?;
        }
        self.add(rest_tally, line, *rest_cents, &whole.sub(&total(nets)?)?)
    }

    pub(super) fn each_piece(
        &self,
        mut each: impl FnMut(usize, &PhaseUse, &Piece) -> Result<(), NumError>,
    ) -> Result<(), NumError> {
        for (line, source) in self.sources.iter().enumerate() {
            for (phase, piece) in source.phases.iter().zip(&source.priced.pieces) {
                each(line, phase, piece)?;
            }
        }
        Ok(())
    }

    /// The charges under each key, in cents, and last those of the whole job. Where keys are `grouped` they add up to those of their group.
    fn spread(&self, tallies: &[Tally], grouped: Option<&Grouped>) -> Result<Vec<i128>, NumError> {
        let mut sums = vec![0; tallies.len()];
        let mut parts: Vec<Vec<i128>> = Vec::new();
        for (at, charge) in self.charges.iter().enumerate() {
            let base = |key: usize, tally: &Tally| {
                let earlier: i128 = charge
                    .of_charges
                    .iter()
                    .filter_map(|c| parts.get(*c)?.get(key))
                    .sum();
                Exact::from_i128(tally.bases.get(at).copied().unwrap_or(0) + earlier)
            };
            let weights: Vec<Exact> = tallies
                .iter()
                .enumerate()
                .map(|(key, tally)| base(key, tally))
                .collect();
            let mut part = match grouped {
                Some(grouped) => grouped.split(charge.cents, &weights)?,
                None => split_cents(charge.cents, &weights)?,
            };
            // Without a base it belongs to the whole job.
            let rest = charge.cents - part.iter().sum::<i128>();
            part.iter_mut().rev().take(1).for_each(|last| *last += rest);
            sums.iter_mut()
                .zip(&part)
                .for_each(|(sum, cents)| *sum += cents);
            parts.push(part);
        }
        Ok(sums)
    }

    /// The cut with its charges; the row of the whole job is there when anything is in it.
    fn cut(
        &self,
        kind: CutKind,
        by: &str,
        keys: &[String],
        tallies: Vec<Tally>,
    ) -> Result<Cut, NumError> {
        let rows_of = self
            .quantities
            .splits
            .first()
            .filter(|_| kind == CutKind::Opening);
        let grouped = rows_of.map(|split| Grouped::new(&split.key_of_row, split.keys.len()));
        let charges = self.spread(&tallies, grouped.as_ref())?;
        let all = tallies.into_iter().zip(charges).enumerate();
        let rows = all.filter_map(|(at, (tally, charges))| {
            let key = keys.get(at);
            let empty = !tally.used && charges == 0;
            // A phase may be declared and not used, and the whole job may own nothing; a wing or a row is shown whatever it costs.
            if empty && (key.is_none() || kind == CutKind::Phase) {
                return None;
            }
            let Tally {
                hours,
                labor,
                materials,
                hired,
                ..
            } = tally;
            let whole_job = key.is_none();
            let key = key.cloned().unwrap_or_else(|| "whole job".to_owned());
            Some(CutRow {
                key,
                whole_job,
                rows: None,
                hours,
                labor,
                materials,
                hired,
                charges,
            })
        });
        Ok(Cut {
            kind,
            by: by.to_owned(),
            rows: rows.collect(),
        })
    }

    fn by_phase(&self) -> Result<Cut, NumError> {
        let keys = &self.program.phases;
        let mut tallies = self.tallies(keys.len());
        self.each_piece(
            |line, phase, piece| match tallies.get_mut(phase.phase.index()) {
                Some(tally) => self.add(tally, line, piece.cents, &phase.total),
                None => Ok(()),
            },
        )?;
        self.cut(CutKind::Phase, "phase", keys, tallies)
    }

    fn by_split(&self, at: usize) -> Result<Option<Cut>, NumError> {
        let Some(split) = self.quantities.splits.get(at) else {
            return Ok(None);
        };
        let mut tallies = self.tallies(split.keys.len());
        self.each_piece(|line, phase, piece| {
            let (Some(cents), Some(nets)) = (piece.by_key.get(at), phase.by_key.get(at)) else {
                return Ok(());
            };
            self.add_all(&mut tallies, line, cents, nets, &phase.total)
        })?;
        let mut cut = self.cut(
            CutKind::Split(at),
            &names::spoken(&split.name),
            &split.keys,
            tallies,
        )?;
        for (row, count) in cut.rows.iter_mut().zip(&split.rows_in) {
            row.rows = Some(*count);
        }
        Ok(Some(cut))
    }

    /// A cut in which each line belongs to one key; keys in order of their first number.
    fn by_line(
        &self,
        kind: CutKind,
        by: &str,
        key: impl Fn(&Source<'_>) -> (usize, String),
    ) -> Result<Cut, NumError> {
        let mut keys: Vec<(usize, String)> = Vec::new();
        for one in self.sources.iter().map(&key) {
            if !keys.contains(&one) {
                keys.push(one);
            }
        }
        keys.sort();
        let mut tallies = self.tallies(keys.len());
        for (line, source) in self.sources.iter().enumerate() {
            let own = key(source);
            if let Some(tally) = keys
                .iter()
                .position(|k| *k == own)
                .and_then(|at| tallies.get_mut(at))
            {
                self.add(
                    tally,
                    line,
                    source.priced.cents,
                    &total(source.phases.iter().map(|p| &p.total))?,
                )?;
            }
        }
        let keys: Vec<String> = keys.into_iter().map(|(_, name)| name).collect();
        self.cut(kind, by, &keys, tallies)
    }

    fn by_row(&self) -> Result<Option<Cut>, NumError> {
        if !self.quantities.by_row {
            return Ok(None);
        }
        let facts = &self.quantities.facts;
        let mut tallies = self.tallies(facts.marks.len());
        self.each_piece(|line, phase, piece| match (&piece.by_row, &phase.by_row) {
            (Some(cents), Some(nets)) => {
                self.add_all(&mut tallies, line, cents, &nets.numbers()?, &phase.total)
            }
            _ => self.add_all(&mut tallies, line, &[piece.cents], &[], &phase.total),
        })?;
        self.cut(
            CutKind::Opening,
            &names::spoken(&facts.row_word),
            &facts.marks,
            tallies,
        )
        .map(Some)
    }
}
