//! The cutting problem of a `cut` block: parts of the job, stock on hand, stock to buy.

use super::parts::add_parts;
use crate::cutting::check::{Whereabouts, accept};
use crate::cutting::model::{Goods, Part, Problem, Rules, Stock};
use crate::diagnostics::{Diagnostic, Place};
use crate::ids;
use crate::number::{Exact, Rounding};
use crate::program::{CutGoods, CutTerms, OnHand, Program, Version};
use crate::table::{Absence, Numbers, Table, Values};
use crate::takeoff::Parts;

/// The size of a piece that is not known or cannot be counted, which is refused.
const UNKNOWN: i64 = 0;

/// The problem that a block states for one version. `price` is what one base unit of the resource costs, in currency; `file` is the job
/// sheet. Errors: all that keeps it from being cut, by place.
pub fn cut_problem(
    program: &Program,
    version: &Version,
    terms: &CutTerms,
    tables: &[&Table],
    parts: &Parts,
    price: &Exact,
    file: &str,
) -> Result<Problem, Vec<Diagnostic>> {
    let goods = match terms.goods {
        CutGoods::Bars => Goods::Linear,
        CutGoods::Boards => Goods::Boards,
        CutGoods::Sheets => Goods::Glass,
    };
    let usual = match goods {
        Goods::Linear => 1,
        Goods::Boards => 3,
        Goods::Glass => 2,
    };
    let mut problem = Problem {
        unit: format!("1/{} in", terms.per_inch),
        cents: true,
        rules: Rules {
            goods,
            crosscut: terms.crosscut,
            rip: terms.rip,
            stages: terms.stages.unwrap_or(usual),
            turn: terms.may_turn,
            least: terms.least,
            keep: terms.keep.unwrap_or((0, 0)),
        },
        parts: Vec::new(),
        stocks: Vec::new(),
    };
    let mut at = Whereabouts {
        rules: Some((Place::Sheet(terms.span), String::new())),
        ..Whereabouts::default()
    };
    let mut faults = Vec::new();
    if let Some(on_hand) = &terms.on_hand {
        add_on_hand(
            program,
            terms,
            on_hand,
            tables,
            (&mut problem, &mut at),
            &mut faults,
        );
    }
    for size in &terms.buy {
        let [length, width, thick] = size.sides;
        let place = || (Place::Sheet(size.span), String::new());
        problem.stocks.push(Stock {
            mark: String::new(),
            length,
            width,
            thick,
            trim: terms.trim,
            bad: Vec::new(),
            cost: cost(size.sides, price, terms).unwrap_or_else(|| too_dear(place(), &mut faults)),
            available: None,
        });
        at.stocks.push(place());
    }
    if let Err(list) = add_parts(&mut problem, file, version, parts, &terms.name) {
        faults.extend(list);
    }
    add_spares(&mut problem.parts, &terms.spares);
    at.parts = (problem.parts.iter())
        .map(|p| {
            let first = p.rows.first().map_or("", |r| &r.0);
            (Place::Sheet(terms.span), format!("{} of {first}", p.mark))
        })
        .collect();
    accept(problem, &at, faults)
}

/// Spares of each size, rounded up to whole pieces.
fn add_spares(parts: &mut [Part], share: &Exact) {
    for part in parts.iter_mut().filter(|_| share.signum() > 0) {
        let spares = share.mul(&Exact::int(i64::from(part.count))).ok();
        let spares = spares
            .and_then(|s| s.round_to(&Exact::ONE, Rounding::Up).ok())
            .and_then(|s| s.to_i64())
            .and_then(|n| u32::try_from(n).ok())
            // More than any plan may hold, which is refused.
            .unwrap_or(u32::MAX);
        if spares > 0 {
            part.count = part.count.saturating_add(spares);
            part.rows.push(("spare".to_owned(), spares));
        }
    }
}

/// Whole cents for a piece of stock of these sides, half a cent up.
fn cost(sides: [i64; 3], per_base: &Exact, terms: &CutTerms) -> Option<i64> {
    let count = match terms.goods {
        CutGoods::Bars => 1,
        CutGoods::Sheets => 2,
        CutGoods::Boards => 3,
    };
    let mut cents = per_base.mul(&Exact::int(100)).ok()?;
    for side in sides.iter().take(count) {
        cents = cents.mul(&Exact::ratio(*side, terms.per_inch)?).ok()?;
    }
    cents.round_to(&Exact::ONE, Rounding::HalfUp).ok()?.to_i64()
}

fn too_dear(place: (Place, String), faults: &mut Vec<Diagnostic>) -> i64 {
    let d =
        Diagnostic::error("OV-951", "the cost of this stock is out of range").at(place.0, place.1);
    faults.push(d);
    0
}

/// A number of a survey in units; whole units only where `exact`, otherwise down or up.
fn units(table: &Table, column: usize, row: usize, per_inch: i64, way: Rounding) -> Option<Exact> {
    let data = table.columns.get(column)?;
    let there = data
        .absent
        .as_ref()
        .and_then(|a| a.get(row))
        .is_none_or(|a| *a == Absence::Present);
    let Values::Numbers(numbers) = &data.values else {
        return None;
    };
    let numbers: &Numbers = numbers;
    let units = numbers.get(row).mul(&Exact::int(per_inch)).ok()?;
    there.then_some(units)?.round_to(&Exact::ONE, way).ok()
}

fn add_on_hand(
    program: &Program,
    terms: &CutTerms,
    on_hand: &OnHand,
    tables: &[&Table],
    (problem, at): (&mut Problem, &mut Whereabouts),
    faults: &mut Vec<Diagnostic>,
) {
    let Some(table) = tables.get(on_hand.table.index()) else {
        return;
    };
    let bad = bad_stretches(on_hand, tables, terms.per_inch, table.rows);
    for (row, bad) in (0..table.rows).zip(bad) {
        let cell = |column: usize| table.cell(row, column).map(Place::Cell);
        let mut sides = [1, 1, 0];
        for (side, &column) in sides.iter_mut().zip(&on_hand.sides) {
            // Stock counts down to whole units: what is left over of one cannot be measured off.
            let size = units(table, column, row, terms.per_inch, Rounding::Down);
            let size = size.and_then(|n| n.to_i64());
            *side = size.unwrap_or(UNKNOWN);
            if *side == UNKNOWN {
                let name = &program.tables[on_hand.table].schema.columns[column].name;
                let d = Diagnostic::error("OV-951", format!("`{name}` of this stock is not known"))
                    .expected("a length above 0 for every piece of stock on hand");
                faults.push(match cell(column) {
                    Some(place) => d.at(place, ""),
                    None => d,
                });
            }
        }
        let mark = table
            .columns
            .get(on_hand.mark)
            .and_then(|c| c.text(row))
            .unwrap_or_default()
            .to_owned();
        let place = (
            cell(on_hand.mark).unwrap_or(Place::Sheet(on_hand.span)),
            mark.clone(),
        );
        problem.stocks.push(Stock {
            mark,
            length: sides[0],
            width: sides[1],
            thick: sides[2],
            trim: terms.trim,
            bad,
            cost: cost(sides, &on_hand.worth, terms)
                .unwrap_or_else(|| too_dear(place.clone(), faults)),
            available: Some(1),
        });
        at.stocks.push(place);
    }
}

/// For each board its bad stretches in order along it, out to whole units.
fn bad_stretches(
    on_hand: &OnHand,
    tables: &[&Table],
    per_inch: i64,
    rows: usize,
) -> Vec<Vec<(i64, i64)>> {
    let mut of_rows = vec![Vec::new(); rows];
    let Some((table, [from, to])) = &on_hand.bad else {
        return of_rows;
    };
    let Some(table) = tables.get(table.index()) else {
        return of_rows;
    };
    let above = table.parent_rows.as_deref().unwrap_or_default();
    for (row, board) in above.iter().enumerate() {
        let end = |column, way| {
            units(table, column, row, per_inch, way)
                .and_then(|n| n.to_i64())
                .unwrap_or(-1)
        };
        if let Some(list) = of_rows.get_mut(ids::at(*board)) {
            list.push((end(*from, Rounding::Down), end(*to, Rounding::Up)));
        }
    }
    for list in &mut of_rows {
        list.sort_unstable();
    }
    of_rows
}
