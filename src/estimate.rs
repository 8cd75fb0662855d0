//! Works versions of a job from its survey and prices, stage after stage: one alone, or several in one run.
//!
//! Opens no files; the caller reads them.
//!
//! ```
//! # fn worked() -> ovolo::session::Session {
//! #     include!(concat!(env!("CARGO_MANIFEST_DIR"), "/tests/docs/worked.rs"))
//! # }
//! let session = worked(); // a small job in memory
//! let run = session.run().expect("it is worked");
//! let estimate = &run.worked.estimate;
//! assert_eq!(estimate.total().to_string(), "218.50");
//! ```

// A match over kinds lists them all, so that a new kind is noticed everywhere, and no conversion fails silently.
#![warn(
    clippy::wildcard_enum_match_arm,
    clippy::match_wildcard_for_single_variants
)]
#![warn(clippy::as_conversions)]

use crate::calendar::clock::date_of;
use crate::diagnostics::{Diagnostic, any_error};
use crate::eval::{self, Inputs, Results, RunError};
use crate::number::Exact;
use crate::prices::PriceBook;
use crate::pricing::{self, Estimate, Origin, Picked};
use crate::program::{AS_DECIDED, NodeId, PickDef, Program, ResourceClass, TakeDef, Version};
use crate::running::{self, Telling};
use crate::schedule::{self, SpanDays};
use crate::show::cell_text;
use crate::survey::{RawTexts, Report};
use crate::table::{ColumnData, Table, Values};
use crate::takeoff::{self, Quantities, SetAside, Wish};
use std::collections::HashMap;
use std::sync::Arc;

/// The survey of a job as read, one entry for each table of the program.
#[derive(Debug, Default)]
pub struct Survey {
    /// The tables.
    pub tables: Vec<Table>,
    /// What reading them found.
    pub reports: Vec<Report>,
    /// Cells as written, where they were kept.
    pub texts: Vec<Option<RawTexts>>,
}

impl Survey {
    /// The tables as the evaluator takes them.
    pub fn inputs(&self) -> Inputs<'_> {
        Inputs {
            tables: self.tables.iter().collect(),
            spans: &[],
        }
    }

    /// The rows that were set aside, of all tables.
    pub fn set_aside(&self) -> Vec<SetAside> {
        takeoff::set_aside(&self.reports.iter().collect::<Vec<_>>())
    }

    /// The tables with a column for each mixed plan of the program, in their order, as its nodes read them. A plan that is not among those
    /// `picked` has one of no meaning.
    pub fn with_picks(&self, program: &Program, picked: &[Picked]) -> Vec<Table> {
        let mut tables = self.tables.clone();
        for (at, version) in program.versions.iter().enumerate() {
            let Some(def) = &version.pick else { continue };
            let Some(table) = tables.get_mut(def.table.index()) else {
                continue;
            };
            let taken = picked.iter().find(|p| p.version == at);
            let truths = (0..table.rows)
                .map(|row| taken.and_then(|p| p.rows.get(row)).is_some_and(|r| r.first))
                .collect();
            table.columns.push(ColumnData {
                values: Values::YesNo(truths),
                absent: None,
            });
        }
        tables
    }
}

/// A version, worked.
#[derive(Debug)]
pub struct Worked {
    /// Its estimate.
    pub estimate: Estimate,
    /// What was picked, for a mixed plan.
    pub picked: Vec<Picked>,
    /// Columns of the nodes that were wanted.
    pub results: Results,
    /// What should be heard though it runs.
    pub warnings: Vec<Diagnostic>,
}

/// Several versions, calculated together.
#[derive(Debug)]
pub struct WorkedAll {
    /// Their estimates, in the order asked for.
    pub estimates: Vec<Estimate>,
    /// What mixed plans picked.
    pub picked: Vec<Picked>,
    /// Columns of the nodes that were wanted; where there are mixed plans, of theirs.
    pub results: Results,
    /// What should be heard though they run.
    pub warnings: Vec<Diagnostic>,
}

/// What came of several versions, each for itself.
#[derive(Debug)]
pub struct Outcomes {
    /// For each version asked for, its estimate or what it is refused for.
    pub each: Vec<Outcome>,
    /// As in [`WorkedAll`].
    pub picked: Vec<Picked>,
    /// As in [`WorkedAll`].
    pub results: Results,
}

/// What came of one version.
pub type Outcome = Result<Estimate, Vec<Diagnostic>>;

/// What versions are calculated from.
#[derive(Clone)]
pub struct Basis<'a> {
    /// The checked job.
    pub program: &'a Program,
    /// Its survey.
    pub survey: &'a Survey,
    /// Its prices.
    pub book: &'a PriceBook,
    /// Files and program it is made from.
    pub origin: Origin,
}

/// Why a version gave no estimate.
#[derive(Debug)]
pub enum Refused {
    /// What the user wrote or supplied.
    Messages(Vec<Diagnostic>),
    /// Stopped from outside.
    Stopped,
}

/// Works one version: runs its rules over the survey, adds up, prices. `more` are further nodes to keep the columns of.
/// Errors: rows that fail, requirements that do not hold, prices that lack; all of them.
#[allow(clippy::too_many_arguments)] // one stage each; a struct of them would only rename the list
pub fn estimate(
    program: &Program,
    version: usize,
    survey: &Survey,
    book: &PriceBook,
    wish: Wish,
    more: &[NodeId],
    options: &eval::Options<'_>,
    origin: Origin,
) -> Result<Worked, Refused> {
    let basis = Basis {
        program,
        survey,
        book,
        origin,
    };
    let WorkedAll {
        estimates,
        picked,
        results,
        warnings,
    } = estimate_all(&basis, &[version], wish, more, options)?;
    let one = estimates.into_iter().next();
    one.map(|estimate| Worked {
        estimate,
        picked,
        results,
        warnings,
    })
    .ok_or(Refused::Messages(vec![]))
}

/// Works several versions in one run, so that what they share is calculated once.
/// Errors: as [`estimate`], with the alternate named where it is not the job as decided that is refused.
pub fn estimate_all(
    basis: &Basis<'_>,
    versions: &[usize],
    wish: Wish,
    more: &[NodeId],
    options: &eval::Options<'_>,
) -> Result<WorkedAll, Refused> {
    let Outcomes {
        each,
        picked,
        results,
    } = estimate_each(basis, versions, wish, more, options)?;
    let (mut estimates, mut faults) = (Vec::new(), Vec::new());
    for (at, outcome) in versions.iter().zip(each) {
        match (outcome, basis.program.versions.get(*at)) {
            (Ok(estimate), _) => estimates.push(estimate),
            (Err(found), Some(version)) => tell(&mut faults, version, found),
            (Err(found), None) => faults.extend(found),
        }
    }
    if !faults.is_empty() {
        return Err(Refused::Messages(faults));
    }
    let first = versions
        .first()
        .and_then(|v| basis.program.versions.get(*v));
    let mut warnings = first.map_or_else(Vec::new, |v| {
        pricing::price_warnings(basis.program, v, basis.book)
    });
    for version in versions
        .iter()
        .filter_map(|v| basis.program.versions.get(*v))
        .filter(|v| v.pick.is_none())
    {
        // Where plans are picked from others, the results are of the plan picked, and its parts were reported with it.
        let found = running::below_zero(basis.program, version, &basis.survey.inputs(), &results)
            .map_err(run_error)?;
        tell(&mut warnings, version, found);
    }
    for (estimate, version) in estimates.iter().zip(
        versions
            .iter()
            .filter_map(|v| basis.program.versions.get(*v)),
    ) {
        tell(
            &mut warnings,
            version,
            pricing::rounded_away(basis.program, estimate)
                .into_iter()
                .collect(),
        );
    }
    for (estimate, at) in estimates.iter().zip(versions) {
        if let Some(version) = basis.program.versions.get(*at) {
            tell(
                &mut warnings,
                version,
                other_days(basis.program, version, estimate),
            );
        }
    }
    Ok(WorkedAll {
        estimates,
        picked,
        results,
        warnings,
    })
}

/// That a hired resource is taken for other days than the calendar hires it for.
fn other_days(program: &Program, version: &Version, estimate: &Estimate) -> Vec<Diagnostic> {
    let hires = estimate.schedule.iter().flat_map(|plan| &plan.hires);
    let mut told = Vec::new();
    for hired in hires {
        let Some(id) = hired.resource else { continue };
        let buy = estimate.buys.iter().find(|buy| buy.resource == id);
        let taken = buy.map_or(Ok(Exact::ZERO), |buy| buy.net.mul(&buy.base_per_unit));
        let days = i64::try_from(hired.days).map_or(Exact::ZERO, Exact::from);
        let def = program
            .terms
            .calendar
            .hires
            .iter()
            .find(|h| h.resource == Some(id));
        let (Ok(taken), Some(def)) = (taken, def) else {
            continue;
        };
        if taken == days {
            continue;
        }
        let name = version.resources.get(id).map_or("", |r| r.name.as_str());
        let taken = taken.to_decimal(2).0;
        told.push(
            Diagnostic::warning("OV-678", format!("`{name}` is taken for other days than the calendar hires it for"))
                .at(def.span, "")
                .found(format!("days taken: {taken}; days by the calendar: {}", hired.days))
                .mend(format!(
                    "take {name} for `days from ... to ... if no calendar ...`, or write its name in double quotes in the calendar"
                )),
        );
    }
    told
}

/// As [`estimate_all`], where a version that is refused does not stop the others. Mixed plans need the cost of the plans they pick from:
/// those are calculated first, with prices even where amounts alone are asked for, and the mixed ones in a second run.
/// Errors: only where the rules can't be run over the survey at all.
pub fn estimate_each(
    basis: &Basis<'_>,
    versions: &[usize],
    wish: Wish,
    more: &[NodeId],
    options: &eval::Options<'_>,
) -> Result<Outcomes, Refused> {
    let pick_of = |v: &usize| basis.program.versions.get(*v).and_then(|v| v.pick.as_ref());
    let (mixed, mut plain): (Vec<usize>, Vec<usize>) =
        versions.iter().copied().partition(|v| pick_of(v).is_some());
    let tables: Vec<&Table> = basis.survey.tables.iter().collect();
    if mixed.is_empty() {
        let (each, results) = run(basis, &tables, &plain, wish, more, options)?;
        return Ok(Outcomes {
            each,
            picked: vec![],
            results,
        });
    }
    for plan in mixed.iter().filter_map(pick_of).flat_map(|p| p.plans) {
        if !plain.contains(&plan) {
            plain.push(plan);
        }
    }
    let (first, _) = run(
        basis,
        &tables,
        &plain,
        Wish {
            by_row: true,
            // A row is picked by what it costs, whatever is asked for.
            quantities: false,
            ..wish
        },
        &[],
        options,
    )?;
    let mut outcomes: HashMap<usize, Outcome> = plain.into_iter().zip(first).collect();
    let mut picked = Vec::new();
    let mut workable = Vec::new();
    for version in mixed {
        match pick_of(&version).map(|p| pick(basis.program, version, p, &outcomes)) {
            Some(Ok(found)) => {
                picked.push(found);
                workable.push(version);
            }
            Some(Err(found)) => {
                outcomes.insert(version, Err(found));
            }
            None => {}
        }
    }
    let extended = basis.survey.with_picks(basis.program, &picked);
    let (second, results) = run(
        basis,
        &extended.iter().collect::<Vec<_>>(),
        &workable,
        wish,
        more,
        options,
    )?;
    outcomes.extend(workable.into_iter().zip(second));
    let each = versions
        .iter()
        .map(|v| outcomes.get(v).cloned().unwrap_or_else(|| Err(vec![])))
        .collect();
    Ok(Outcomes {
        each,
        picked,
        results,
    })
}

/// Which rows take the first plan of a mixed one. Errors: those of a plan that is refused.
fn pick(
    program: &Program,
    version: usize,
    def: &PickDef,
    outcomes: &HashMap<usize, Outcome>,
) -> Result<Picked, Vec<Diagnostic>> {
    let plan = |at: usize| {
        outcomes
            .get(&at)
            .ok_or_else(Vec::new)?
            .as_ref()
            .map_err(Clone::clone)
    };
    let [a, b] = [plan(def.plans[0])?, plan(def.plans[1])?];
    let name = |at: usize| {
        program
            .versions
            .get(at)
            .and_then(|v| v.name.clone())
            .unwrap_or_else(|| AS_DECIDED.to_owned())
    };
    let rows = pricing::pick_rows(a, b, &def.share).map_err(|e| {
        vec![
            Diagnostic::error(
                "OV-823",
                format!("a share of the cost of a plan can't be worked out: {e}"),
            )
            .at(def.span, ""),
        ]
    })?;
    Ok(Picked {
        version,
        name: name(version),
        plans: def.plans.map(name),
        share: def.share.clone(),
        rows,
    })
}

/// Days of the spans of the calendar that versions read, each from the labor of its own version; none for a version whose labor or
/// calendar fails, which is reported when it is calculated.
fn spans(
    basis: &Basis<'_>,
    tables: &[&Table],
    versions: &[usize],
    options: &eval::Options<'_>,
) -> Result<Vec<Option<Exact>>, Refused> {
    let program = basis.program;
    if program.terms.calendar.span.is_none() || program.spans.is_empty() {
        return Ok(vec![]);
    }
    let wish = Wish::default();
    let labor: Vec<(usize, Version)> = versions
        .iter()
        .filter(|at| program.spans.iter().any(|s| s.version == **at))
        .filter_map(|at| Some((*at, labor_of(program.versions.get(*at)?))))
        .collect();
    let amounts: Vec<Vec<NodeId>> = labor
        .iter()
        .map(|(_, version)| takeoff::wanted(program, version, wish))
        .collect();
    let mut wanted: Vec<NodeId> = amounts.iter().flatten().copied().collect();
    let plans = labor.iter().flat_map(|(_, version)| &version.takes);
    wanted.extend(plans.filter_map(|take| take.plan.least));
    wanted.sort_unstable();
    wanted.dedup();
    let inputs = Inputs {
        tables: tables.to_vec(),
        spans: &[],
    };
    let results = eval::run(program, &inputs, &wanted, options).map_err(run_error)?;
    let mut values = vec![None; program.spans.len()];
    for ((at, version), amounts) in labor.iter().zip(&amounts) {
        let faults = running::faults(
            program,
            version,
            &inputs,
            &results,
            amounts,
            Telling::Together,
        )
        .map_err(run_error)?;
        if any_error(&faults) {
            continue;
        }
        let notes = takeoff::survey_notes(program, version, &[]);
        let quantities = takeoff::collect(program, version, &results, tables, notes, wish);
        let planned = quantities.and_then(|q| schedule::schedule(program, version, &q));
        let Ok(planned) = planned else { continue };
        for (value, days) in values.iter_mut().zip(planned.span_values(program, *at)) {
            *value = value.take().or(days);
        }
    }
    Ok(values)
}

/// A version with its labor alone.
fn labor_of(version: &Version) -> Version {
    let is_labor = |take: &TakeDef| {
        let def = version.resources.get(take.resource);
        def.is_some_and(|r| r.class == ResourceClass::Labor)
    };
    Version {
        takes: version
            .takes
            .iter()
            .filter(|t| is_labor(t))
            .cloned()
            .collect(),
        parts: vec![],
        requires: vec![],
        cautions: vec![],
        values: vec![],
        ..version.clone()
    }
}

/// Runs the rules of versions over tables, adds up, prices.
fn run(
    basis: &Basis<'_>,
    tables: &[&Table],
    versions: &[usize],
    wish: Wish,
    more: &[NodeId],
    options: &eval::Options<'_>,
) -> Result<(Vec<Outcome>, Results), Refused> {
    let Basis {
        program, survey, ..
    } = basis;
    let spans = spans(basis, tables, versions, options)?;
    let inputs = Inputs {
        tables: tables.to_vec(),
        spans: &spans,
    };
    let numbers = versions;
    let versions: Vec<&Version> = versions
        .iter()
        .filter_map(|v| program.versions.get(*v))
        .collect();
    let amounts: Vec<Vec<NodeId>> = versions
        .iter()
        .map(|v| takeoff::wanted(program, v, wish))
        .collect();
    let mut wanted = more.to_vec();
    wanted.extend(amounts.iter().flatten());
    wanted.extend(versions.iter().flat_map(|v| &v.requires).map(|r| r.holds));
    wanted.extend(
        versions
            .iter()
            .flat_map(|v| &v.takes)
            .filter_map(|t| t.plan.least),
    );
    wanted.extend(versions.iter().flat_map(|v| running::pinned_nodes(v)));
    let read = program
        .spans
        .iter()
        .filter(|s| numbers.contains(&s.version));
    wanted.extend(read.map(|s| s.otherwise));
    wanted.sort_unstable();
    wanted.dedup();
    let results = eval::run(program, &inputs, &wanted, options).map_err(run_error)?;
    let reports: Vec<&Report> = survey.reports.iter().collect();
    let aside: Vec<String> = survey.set_aside().into_iter().map(|s| s.mark).collect();
    let mut outcomes = Vec::new();
    for ((version, amounts), at) in versions.iter().zip(&amounts).zip(numbers) {
        if let Some(unanswered) = crate::check::unanswered(version) {
            outcomes.push(Err(vec![unanswered]));
            continue;
        }
        let mut faults = running::exceptions(program, version, &inputs, &results, &aside);
        faults.extend(
            running::faults(
                program,
                version,
                &inputs,
                &results,
                amounts,
                Telling::Together,
            )
            .map_err(run_error)?,
        );
        if any_error(&faults) {
            outcomes.push(Err(faults));
            continue;
        }
        let mut notes = takeoff::survey_notes(program, version, &reports);
        notes.from_above = takeoff::from_above(program, &inputs.tables, wish.by_row);
        let quantities = takeoff::collect(program, version, &results, &inputs.tables, notes, wish);
        let estimate = quantities.and_then(|q| priced(basis, version, &q, wish));
        outcomes.push(estimate.map(|mut estimate| {
            estimate.assumptions.spans = span_notes(program, *at, &results, &estimate);
            estimate
        }));
    }
    Ok((outcomes, results))
}

/// Each span of the calendar that a version reads, with its days or with what stands for them.
fn span_notes(
    program: &Program,
    version: usize,
    results: &Results,
    estimate: &Estimate,
) -> Vec<(String, String)> {
    let read = program.spans.iter().enumerate();
    let read = read.filter(|(_, def)| def.version == version);
    read.map(|(at, def)| {
        let plan = estimate.schedule.as_ref();
        let note = match plan.and_then(|p| p.spans.get(at)) {
            Some(SpanDays {
                ends: Some((first, last)),
                days,
            }) => format!(
                "{days}, by the calendar: {} to {}",
                date_of(*first),
                date_of(*last)
            ),
            Some(SpanDays { ends: None, .. }) => {
                "0, by the calendar: one of the phases has no work".to_owned()
            }
            None => {
                let stated = results.value(def.otherwise, 0);
                let stated = cell_text(program, def.otherwise, &stated, None);
                format!("{stated} as stated: the job has no calendar")
            }
        };
        (def.text(), note)
    })
    .collect()
}

/// Quantities priced, and laid out in time where the job has a calendar.
fn priced(basis: &Basis<'_>, version: &Version, quantities: &Quantities, wish: Wish) -> Outcome {
    let program = basis.program;
    let estimate = match wish.quantities {
        true => pricing::quantities_only(program, version, quantities)?,
        false => pricing::estimate(program, version, quantities, basis.book)?,
    };
    let schedule = match program.terms.calendar.span {
        Some(_) => Some(Arc::new(schedule::schedule(program, version, quantities)?)),
        None => None,
    };
    Ok(Estimate {
        schedule,
        origin: basis.origin.clone(),
        ..estimate
    })
}

/// Adds what a version is refused for; what another version said already is not said again.
fn tell(faults: &mut Vec<Diagnostic>, version: &Version, found: Vec<Diagnostic>) {
    for d in found {
        if faults.iter().any(|told| {
            told.code == d.code && told.message == d.message && told.place() == d.place()
        }) {
            continue;
        }
        faults.push(match &version.name {
            Some(name) => d.note(format!("in the alternate \"{name}\"")),
            None => d,
        });
    }
}

/// A run that could not be made, as messages.
pub fn run_error(e: RunError) -> Refused {
    match e {
        RunError::Stopped => Refused::Stopped,
        other @ (RunError::TooLarge
        | RunError::WrongInputs { .. }
        | RunError::Unrelated(_)
        | RunError::NoThreads) => Refused::Messages(vec![Diagnostic::error(
            "OV-913",
            format!("the rules can't be run over this survey: {other:?}"),
        )]),
    }
}
