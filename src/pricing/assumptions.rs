//! What the figures rest on: givens in force, prices and resources without a source, roundings, and rows that are not in the totals.

use std::collections::HashSet;

use super::model::{
    AskedFact, AssumedFact, Assumptions, BuyLine, ChargeLine, CostLine, DecidedRow, Extension,
    GivenUsed, LeftOut, MayVary, PriceOrigin, PriceUsed,
};
use super::names;
use super::split::total;
use super::usage::Use;
use crate::eval::Cell;
use crate::number::{Decimal, Exact, NumError};
use crate::paper::{Class, Reader};
use crate::prices::{PriceAge, PriceBook, PriceVaries};
use crate::program::{
    AmendDef, Answer, Constants, ExceptionDef, NodeId, Program, ValueDef, ValueKind, Version,
    class_of_name,
};
use crate::show::{self, cell_text};
use crate::table::Absence;
use crate::takeoff::Quantities;
use crate::units::UnitExpr;

/// Gathers them.
pub(super) fn gather(
    program: &Program,
    version: &Version,
    quantities: &Quantities,
    book: &PriceBook,
    uses: &[Use],
    prices: &[PriceUsed],
) -> Assumptions {
    let today = program.day_of_issue(version);
    let mut out = Assumptions {
        unanswered: assumed_facts(program, version),
        asked: asked_facts(program, version),
        exceptions: exceptions(program, version),
        extensions: extensions(version),
        givens: givens(program, version),
        left_out: left_out(program, version, quantities),
        ..Assumptions::default()
    };
    for (used, price) in uses.iter().zip(prices) {
        let name = names::resource(version, used.resource);
        if version
            .resources
            .get(used.resource)
            .is_some_and(|r| r.source.is_none())
        {
            out.resources_without_source.push(name.clone());
        }
        let others = book
            .passed_over
            .iter()
            .filter(|e| e.resource == used.resource);
        out.passed_over
            .extend(others.map(|e| (name.clone(), e.supplier.clone().unwrap_or_default())));
        if let Some(varies) = &price.varies {
            out.prices_vary
                .push((name.clone(), price_may_vary(program, price, varies)));
        }
        if price.origin != PriceOrigin::Book {
            continue;
        }
        if price.source.is_none() {
            out.prices_without_source.push(name.clone());
        }
        match price.day {
            None => out.prices_without_date.push(name),
            Some(day) => {
                let age = today.and_then(|today| PriceAge::of(day, today));
                let date = price.date.clone().unwrap_or_default();
                out.old_prices.extend(age.map(|age| (name, date, age)));
            }
        }
    }
    out
}

/// `from 8.00 USD per bf to 12.00 USD per bf`
fn price_may_vary(program: &Program, price: &PriceUsed, varies: &PriceVaries) -> MayVary {
    let currency = program.currency.clone().unwrap_or_default();
    let amount = |value: &Decimal| format!("{value} {currency} per {}", price.per);
    MayVary {
        low: amount(&varies.low),
        high: amount(&varies.high),
        likely: varies.likely.as_ref().map(amount),
        group: varies.group.clone(),
    }
}

/// What rounding did to lines, to charges and to bought amounts, in currency.
pub(super) fn roundings(
    lines: &[CostLine],
    charges: &[ChargeLine],
    buys: &[BuyLine],
) -> Result<Vec<(String, Exact)>, NumError> {
    let gap = |cents: i128, exact: &Exact| Exact::from_cents(cents).sub(exact);
    let of_lines = lines
        .iter()
        .map(|l| gap(l.cents, &l.exact))
        .collect::<Result<Vec<_>, _>>()?;
    let of_charges = charges
        .iter()
        .map(|c| gap(c.cents, &c.exact))
        .collect::<Result<Vec<_>, _>>()?;
    let packs = buys.iter().filter(|b| b.packs.is_some());
    let of_packs = packs
        .map(|b| b.left_over.mul(&b.base_per_unit)?.mul(&b.price.per_base))
        .collect::<Result<Vec<_>, _>>()?;
    Ok(vec![
        (
            "whole packs: the price of what is left over".to_owned(),
            total(&of_packs)?,
        ),
        ("cost lines to the cent".to_owned(), total(&of_lines)?),
        (
            "charges to the cent, on bases in cents".to_owned(),
            total(&of_charges)?,
        ),
    ])
}

fn left_out(program: &Program, version: &Version, quantities: &Quantities) -> Vec<LeftOut> {
    let mut out: Vec<LeftOut> = Vec::new();
    for line in &quantities.lines {
        let (resource, phase) = (
            names::resource(version, line.resource),
            names::phase(program, line.phase),
        );
        for (mark, absence) in &line.left_out {
            let cause = cause(*absence);
            let same =
                |l: &&mut LeftOut| l.resource == resource && l.phase == phase && l.cause == cause;
            match out.iter_mut().find(same) {
                Some(one) => one.marks.push(mark.clone()),
                None => {
                    let (resource, phase) = (resource.clone(), phase.clone());
                    out.push(LeftOut {
                        resource,
                        phase,
                        cause: cause.to_owned(),
                        rows: 0,
                        marks: vec![mark.clone()],
                    });
                }
            }
        }
    }
    for one in &mut out {
        // Several takes of one resource and phase may lack the same row.
        let mut seen = HashSet::new();
        one.marks.retain(|mark| seen.insert(mark.clone()));
        one.rows = one.marks.len();
    }
    out
}

fn cause(absence: Absence) -> &'static str {
    match absence {
        Absence::Present => "unknown",
        Absence::Blank => "blank",
        Absence::NotApplicable => "not applicable",
        Absence::Unreadable => "unreadable",
    }
}

/// The facts that a version assumes because nobody has answered them.
pub fn assumed_facts(program: &Program, version: &Version) -> Vec<AssumedFact> {
    version
        .values
        .iter()
        .filter_map(|v| match &v.kind {
            ValueKind::Given {
                answer: Some(Answer::Assumed(because)),
                ..
            } => Some(AssumedFact {
                name: names::spoken(&v.name),
                value: value_text(program, v),
                because: because.clone(),
            }),
            ValueKind::Column { .. }
            | ValueKind::Given { .. }
            | ValueKind::Rule
            | ValueKind::Decide(_) => None,
        })
        .collect()
}

/// Every fact that the sheets ask for, as it is in a version.
fn asked_facts(program: &Program, version: &Version) -> Vec<AskedFact> {
    let stands = |v: &ValueDef| {
        let ValueKind::Given { answer, .. } = &v.kind else {
            return None;
        };
        let (answered, because) = match answer.as_ref()? {
            Answer::Given => (true, v.because.clone().unwrap_or_default()),
            Answer::Assumed(because) => (false, because.clone()),
            Answer::Missing => return None, // such a version is not run
        };
        Some(AskedFact {
            name: names::spoken(&v.name),
            value: value_text(program, v),
            answered,
            because,
            by: v.by.clone(),
            private: v.private,
        })
    };
    version.values.iter().filter_map(|v| stands(v)).collect()
}

fn exceptions(program: &Program, version: &Version) -> Vec<DecidedRow> {
    let one = |e: &ExceptionDef| {
        let of = version.values.iter().find(|v| v.name == e.name);
        let unit = of.and_then(|v| v.unit.as_ref());
        DecidedRow {
            name: names::spoken(&e.name),
            mark: e.mark.clone(),
            value: node_text(program, e.to, unit),
            because: e.because.clone(),
            by: e.by.clone(),
            layer: e.layer,
        }
    };
    version.exceptions.iter().map(one).collect()
}

fn extensions(version: &Version) -> Vec<Extension> {
    let one = |a: &AmendDef| Extension {
        what: a.what,
        name: a.name.clone(),
        because: a.because.clone(),
        by: a.by.clone(),
        layer: a.layer,
    };
    version.amends.iter().map(one).collect()
}

/// As [`assumed_facts`], those that a reader of papers may see, and how many more there are.
pub fn assumed_facts_for(
    program: &Program,
    version: &Version,
    reader: Reader,
) -> (Vec<AssumedFact>, usize) {
    let mut facts = assumed_facts(program, version);
    let all = facts.len();
    let hidden = |v: &ValueDef| {
        let class = match v.private {
            true => Class::Private,
            false => class_of_name(program, version, &v.name, v.node, Constants::AsWritten),
        };
        !reader.may_see(class)
    };
    let values = version.values.iter().filter(|v| hidden(v));
    let kept: HashSet<String> = values.map(|v| names::spoken(&v.name)).collect();
    facts.retain(|f| !kept.contains(&f.name));
    let more = all - facts.len();
    (facts, more)
}

fn givens(program: &Program, version: &Version) -> Vec<GivenUsed> {
    version
        .values
        .iter()
        .filter(|v| v.used)
        .filter_map(|v| {
            let ValueKind::Given { range, varies, .. } = &v.kind else {
                return None;
            };
            let number =
                |x: &Exact| cell_text(program, v.node, &Cell::Number(x.clone()), v.unit.as_ref());
            let range = range
                .as_ref()
                .map(|(low, high)| (number(low), number(high)));
            Some(GivenUsed {
                name: names::spoken(&v.name),
                value: value_text(program, v),
                range,
                varies: varies.as_ref().map(|one| MayVary {
                    low: number(&one.low),
                    high: number(&one.high),
                    likely: one.likely.as_ref().map(number),
                    group: one.group.clone(),
                }),
                private: v.private,
                layer: v.layer,
                source: v.source.clone(),
                note: v.note.clone(),
                because: v.because.clone(),
                by: v.by.clone(),
            })
        })
        .collect()
}

/// The value of a given, which is written unless a change made a rule of it.
fn value_text(program: &Program, v: &ValueDef) -> String {
    node_text(program, v.node, v.unit.as_ref())
}

fn node_text(program: &Program, node: NodeId, unit: Option<&UnitExpr>) -> String {
    match show::written(program, node) {
        Some(cell) => cell_text(program, node, &cell, unit),
        None => "worked out by a rule".to_owned(),
    }
}
