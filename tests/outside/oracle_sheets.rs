//! Whole jobs, small, against an evaluator that shares nothing with the engine.
//!
//! `tests/oracle_sheets/` (Python, standard library only) makes jobs at random: sheets of three layers with alternates, a survey with rows
//! made and brought, prices, and works them itself from what it made, never from the text: every value of every row, the reasons of decisions,
//! what is bought, each cost line, each charge. Here the engine works the same files as a session does, and all must be equal.
//!
//! The seed and the number of jobs come from OVOLO_ORACLE_SEED and OVOLO_ORACLE_JOBS. A run fails as well when a kind of statement
//! exists that none of its jobs had.

use crate::maker;
use crate::oracle_statements::MetStatements;
use ovolo::check::Finder;
use ovolo::diagnostics::Diagnostic;
use ovolo::diagnostics::FileId;
use ovolo::diagnostics::render::{Style, render};
use ovolo::eval::{self, Cell, Inputs};
use ovolo::number::Exact;
use ovolo::pricing::{CutKind, CutRow};
use ovolo::program::{Grain, Piece, Program, Ty, ValueDef, ValueKind};
use ovolo::session::{Ask, Files, Run, Session, Stamp};
use ovolo::syntax::parse_sheet;
use ovolo::table::Values;
use ovolo::takeoff::Wish;
use ovolo::units::parse_unit;
use serde::Deserialize;
use std::collections::BTreeMap;
use std::io::Read;
use std::sync::Arc;

/// A job and what it must come to.
#[derive(Deserialize)]
struct Made {
    files: BTreeMap<String, String>,
    versions: Vec<Version>,
}

/// Values for each row: its mark, or the number of its group, and what stands there.
type OfRows = Vec<(String, String)>;

#[derive(Deserialize)]
struct Version {
    alternate: Option<String>,
    /// Name, unit, rows.
    values: Vec<(String, String, OfRows)>,
    reasons: Vec<(String, OfRows)>,
    /// Resource, net, needed, bought, in its unit.
    bought: Vec<(String, String, String, String)>,
    /// Resource, phase, quantity, exact money, cents.
    lines: Vec<(String, Option<String>, String, String, i128)>,
    /// Cents of all lines in each phase and of each wing; those of no wing have no name.
    by_phase: Vec<(String, i128)>,
    by_wing: Vec<(String, i128)>,
    by_opening: Vec<(String, i128)>,
    /// The charges in each phase, of each wing and of each opening, with the final rounding.
    spread: [Vec<(String, i128)>; 3],
    charges: Vec<(String, i128)>,
    grand: i128,
}

#[derive(Default)]
struct Tally {
    jobs: u64,
    versions: u64,
    values: u64,
    amounts: u64,
    met: MetStatements,
}

struct Texts(BTreeMap<String, String>);

impl Finder for Texts {
    fn find(&self, path: &str, _: Option<&str>) -> Result<(String, String), String> {
        let text = self.0.get(path).ok_or("there is no such file")?;
        Ok((path.to_owned(), text.clone()))
    }
}

impl Files for Texts {
    fn name(&self, path: &str, _: &str) -> String {
        path.to_owned()
    }

    fn open(&self, name: &str) -> Result<Box<dyn Read + Send>, String> {
        let text = self.0.get(name).ok_or("there is no such file")?;
        Ok(Box::new(std::io::Cursor::new(text.clone().into_bytes())))
    }

    fn stamp(&self, _: &str) -> Option<Stamp> {
        None
    }
}

fn fraction(value: &Exact) -> String {
    let big = value.to_big();
    format!("{}/{}", big.numer(), big.denom())
}

/// What a cell holds, in the maker's words.
fn word(program: &Program, ty: &Ty, unit: &str, cell: &Cell) -> String {
    match (cell, ty) {
        (Cell::Number(n), _) if unit.is_empty() => fraction(n),
        (Cell::Number(n), _) => {
            let unit = parse_unit(unit, &program.nouns, program.currency.as_deref());
            let n = unit.expect("a unit of the maker").from_base(n);
            fraction(&n.expect("small"))
        }
        (Cell::Truth(truth), _) => if *truth { "yes" } else { "no" }.to_owned(),
        (Cell::Label(label), Ty::Choice(choice)) => {
            let labels = &program.choices[*choice].labels;
            format!("={}", labels[usize::from(*label)])
        }
        (Cell::Text(text), _) => format!("={text}"),
        (Cell::Absent(_), _) => "absent".to_owned(),
        (other, _) => format!("{other:?}"),
    }
}

/// The marks of the rows of a grain, in order.
fn marks(run: &Run, grain: Grain, rows: usize) -> Vec<String> {
    let Grain::Table(table) = grain else {
        return match grain {
            Grain::Group(_) => (0..rows).map(|at| at.to_string()).collect(),
            _ => vec![String::new()],
        };
    };
    let key = run.job.checked.program.tables[table].schema.key;
    let columns = &run.survey.tables[table.index()].columns;
    match &columns[key.expect("a key")].values {
        Values::Text { ids, pool } => ids
            .iter()
            .map(|id| pool.get(*id).expect("a mark").to_owned())
            .collect(),
        other => panic!("{other:?} is no column of marks"),
    }
}

fn told(problems: &[Diagnostic], sources: &ovolo::diagnostics::Sources) -> String {
    let errors = problems.iter().filter(|d| d.is_error()).take(3);
    let texts: Vec<String> = errors
        .map(|d| render(d, sources, Style { color: false }))
        .collect();
    texts.join("\n")
}

/// Works one version and notes what differs.
fn compare(made: &Made, version: &Version, tally: &mut Tally) -> Result<(), String> {
    let ask = Ask {
        job: "job.ovo".to_owned(),
        alternate: version.alternate.clone(),
        wish: Wish {
            by_row: true,
            ..Wish::default()
        },
        ..Ask::default()
    };
    let mut session = Session::new(ask, Arc::new(Texts(made.files.clone())));
    if let Err(refusal) = session.apply(&[], &ovolo::session::Hooks::default()) {
        return Err(told(&refusal.problems, &refusal.sources));
    }
    let run = session.run().ok_or("no run")?;
    let mut differences = Vec::new();
    values(run, version, tally, &mut differences)?;
    money(run, version, tally, &mut differences);
    match differences.is_empty() {
        true => Ok(()),
        false => Err(differences.join("\n")),
    }
}

fn values(
    run: &Run,
    version: &Version,
    tally: &mut Tally,
    differences: &mut Vec<String>,
) -> Result<(), String> {
    let program = &run.job.checked.program;
    let of = &program.versions[run.version].values;
    let named = |name: &str| -> Result<&Arc<ValueDef>, String> {
        let found = of.iter().find(|v| v.name == *name);
        found.ok_or_else(|| format!("there is no value {name}"))
    };
    let mut nodes = Vec::new();
    for (name, ..) in &version.values {
        let value = named(name)?;
        nodes.push(value.node);
        if let ValueKind::Decide(decide) = &value.kind {
            nodes.push(decide.line);
        }
    }
    let tables = run.survey.with_picks(program, &run.worked.picked);
    let inputs = Inputs {
        tables: tables.iter().collect(),
        spans: &[],
    };
    let results = eval::run(program, &inputs, &nodes, &eval::Options::default());
    let results = results.map_err(|e| match e {
        eval::RunError::Unrelated(node) => format!("unrelated: {:?}", program.node(node)),
        other => format!("{other:?}"),
    })?;
    for (name, unit, rows) in &version.values {
        let value = named(name)?;
        let marks = marks(run, value.grain, rows.len());
        if marks.len() != rows.len() {
            differences.push(format!(
                "{name}: {} rows, expected {}",
                marks.len(),
                rows.len()
            ));
        }
        for (mark, expected) in rows {
            tally.values += 1;
            let Some(row) = marks.iter().position(|m| m == mark) else {
                differences.push(format!("{name}: there is no row {mark}"));
                continue;
            };
            let cell = results.value(value.node, row);
            let found = word(program, &program.node(value.node).ty, unit, &cell);
            if found != *expected {
                differences.push(format!("{name} at {mark}: {found}, expected {expected}"));
            }
        }
    }
    for (name, rows) in &version.reasons {
        let value = named(name)?;
        let ValueKind::Decide(decide) = &value.kind else {
            return Err(format!("{name} is no decision"));
        };
        let marks = marks(run, value.grain, rows.len());
        for (mark, expected) in rows {
            tally.values += 1;
            let row = marks.iter().position(|m| m == mark).unwrap_or_default();
            let found = match results.value(decide.line, row) {
                Cell::Label(line) => {
                    let pieces = &decide.lines[usize::from(line)].because.pieces;
                    let text = pieces.iter().map(|piece| match piece {
                        Piece::Text(text) => text.clone(),
                        Piece::Value { name, .. } => format!("{{{name}}}"),
                    });
                    text.collect()
                }
                other => format!("{other:?}"),
            };
            if found != *expected {
                differences.push(format!(
                    "why {name} at {mark}: {found:?}, expected {expected:?}"
                ));
            }
        }
    }
    Ok(())
}

fn money(run: &Run, version: &Version, tally: &mut Tally, differences: &mut Vec<String>) {
    let estimate = &run.worked.estimate;
    let resources = &run.job.checked.program.versions[run.version].resources;
    let mut bought: Vec<_> = estimate
        .buys
        .iter()
        .filter(|b| b.net != Exact::ZERO)
        .map(|b| {
            let name = resources[b.resource].name.clone();
            (
                name,
                fraction(&b.net),
                fraction(&b.needed),
                fraction(&b.bought),
            )
        })
        .collect();
    let mut lines: Vec<_> = estimate
        .lines
        .iter()
        .filter(|l| l.quantity != Exact::ZERO)
        .map(|l| {
            let name = resources[l.resource].name.clone();
            let (quantity, exact) = (fraction(&l.quantity), fraction(&l.exact));
            (name, l.phase.clone(), quantity, exact, l.cents)
        })
        .collect();
    let charges: Vec<_> = estimate
        .charges
        .iter()
        .map(|c| (c.name.clone(), c.cents))
        .collect();
    let (mut wanted_bought, mut wanted_lines) = (version.bought.clone(), version.lines.clone());
    bought.sort();
    lines.sort();
    wanted_bought.sort();
    wanted_lines.sort();
    tally.amounts += 3 * bought.len() as u64 + 3 * lines.len() as u64 + charges.len() as u64 + 1;
    differences.extend(unlike("bought", &bought, &wanted_bought));
    differences.extend(unlike("line", &lines, &wanted_lines));
    if charges
        .iter()
        .map(|c| c.1)
        .ne(version.charges.iter().map(|c| c.1))
    {
        differences.push(format!(
            "charges {charges:?}, expected {:?}",
            version.charges
        ));
    }
    let [in_phases, of_wings, of_openings] = &version.spread;
    for (kind, wanted, wanted_charges) in [
        (CutKind::Phase, &version.by_phase, in_phases),
        (CutKind::Split(0), &version.by_wing, of_wings),
        (CutKind::Opening, &version.by_opening, of_openings),
    ] {
        let sums = |cents: fn(&CutRow) -> i128| -> Vec<(String, i128)> {
            let cuts = estimate.cuts.iter().filter(|c| c.kind == kind);
            let rows = cuts.flat_map(|c| &c.rows).filter(|row| cents(row) != 0);
            // What belongs to the whole job has no name.
            let key = |row: &CutRow| match row.whole_job {
                true => String::new(),
                false => row.key.clone(),
            };
            let mut sums: Vec<_> = rows.map(|row| (key(row), cents(row))).collect();
            sums.sort();
            sums
        };
        let (found, charged) = (sums(CutRow::cents), sums(|row| row.charges));
        tally.amounts += (found.len() + charged.len()) as u64;
        differences.extend(unlike(&format!("{kind:?}"), &found, wanted));
        differences.extend(unlike(
            &format!("charges {kind:?}"),
            &charged,
            wanted_charges,
        ));
    }
    let grand = estimate.totals.grand;
    if grand != version.grand {
        differences.push(format!("total {grand}, expected {}", version.grand));
    }
}

/// What only one of two lists has.
fn unlike<T: PartialEq + std::fmt::Debug>(what: &str, found: &[T], wanted: &[T]) -> Vec<String> {
    let wrong = found.iter().filter(|x| !wanted.contains(x));
    let lacking = wanted.iter().filter(|x| !found.contains(x));
    let wrong = wrong.map(|x| format!("{what} {x:?} is not expected"));
    wrong
        .chain(lacking.map(|x| format!("{what} {x:?} is expected")))
        .collect()
}

#[test]
fn made_jobs_come_to_what_an_evaluator_of_its_own_says() {
    let mut tally = Tally::default();
    let count = ("OVOLO_ORACLE_JOBS", 300);
    let compared = maker::compare("oracle_sheets", count, 5, |made: Made| {
        tally.jobs += 1;
        for (name, text) in made.files.iter().filter(|(name, _)| name.ends_with(".ovo")) {
            let (sheet, problems) = parse_sheet(FileId(0), text);
            assert!(problems.is_empty(), "{name}: {problems:?}");
            tally.met.add(&sheet);
        }
        let mut differences = Vec::new();
        for version in &made.versions {
            tally.versions += 1;
            if let Err(why) = compare(&made, version, &mut tally) {
                let of = version.alternate.as_deref().unwrap_or("as decided");
                differences.push(format!("job {} ({of}):\n{why}", tally.jobs - 1));
            }
        }
        differences
    });
    println!(
        "seed {}: {} jobs, {} versions, {} values and reasons, {} amounts compared, {} differences",
        compared.seed,
        tally.jobs,
        tally.versions,
        tally.values,
        tally.amounts,
        compared.differences.len()
    );
    compared.must_agree();
    // A short run may miss what is seldom made.
    if compared.count >= 300 {
        let missing = tally.met.missing();
        assert!(missing.is_empty(), "no job had {missing:?}");
    }
}
