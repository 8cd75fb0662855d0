//! The whole way from sheet text and survey to values, against an evaluator that shares nothing with it.
//!
//! `tests/oracle_fractions/` (Python, standard library only) makes sheets with a survey at random, reads its own text by the
//! description in `grammar/language.md`, and works every rule with Python's `fractions`. Here the engine checks the same sheet, reads
//! the same survey, runs it, and every value must be equal. A row that must fail has to fail, one that must be unknown has to be
//! unknown; what the language leaves open is not compared.
//!
//! The seed and the number of expressions come from OVOLO_ORACLE_SEED and
//! OVOLO_ORACLE_COUNT. The big run, about an hour on one core:
//!
//! ```text
//! OVOLO_ORACLE_COUNT=1000000 cargo test --release --test outside oracle_fractions -- --nocapture
//! ```

use crate::maker;
use crate::oracle_met::MetNodes;
use ovolo::check::{self, Finder, Options};
use ovolo::diagnostics::render::Style;
use ovolo::eval::{self, Cell, Inputs};
use ovolo::number::Exact;
use ovolo::program::{NodeId, Program};
use ovolo::survey::{self, Content, ReadOptions, SourceFile};
use ovolo::units::parse_unit;
use serde::Deserialize;
use std::collections::HashSet;

/// One line of the maker.
#[derive(Deserialize)]
struct Batch {
    sheet: String,
    survey: String,
    /// Name of the rule, unit of its values, one value for the job or one for each row.
    expect: Vec<(String, String, Vec<String>)>,
}

#[derive(Default)]
struct Tally {
    expressions: u64,
    values: u64,
    failed_rows: u64,
    unknown_rows: u64,
    open: u64,
    /// Kinds of node that the compared values were worked from.
    met: MetNodes,
}

struct OneSheet<'a>(&'a str);

impl Finder for OneSheet<'_> {
    fn find(&self, path: &str, _: Option<&str>) -> Result<(String, String), String> {
        match path {
            "generated.ovo" => Ok((path.to_string(), self.0.to_string())),
            _ => Err("there is no such file".to_string()),
        }
    }
}

/// A ratio `n/d` of any length.
fn ratio(text: &str) -> Option<Exact> {
    let (n, d) = text.split_once('/')?;
    let whole = |t: &str| {
        t.parse()
            .ok()
            .and_then(|n| Exact::from_big(num_rational::BigRational::from_integer(n)).ok())
    };
    whole(n)?.div(&whole(d)?).ok()
}

/// What a cell holds, in the maker's words; numbers in the unit given.
fn word(program: &Program, node: NodeId, unit: &str, cell: &Cell) -> Result<String, String> {
    Ok(match cell {
        Cell::Number(n) => {
            let unit = parse_unit(unit, &program.nouns, program.currency.as_deref())
                .map_err(|e| format!("{e:?}"))?;
            let n = unit.from_base(n).map_err(|e| e.to_string())?;
            let big = n.to_big();
            format!("{}/{}", big.numer(), big.denom())
        }
        Cell::Truth(true) => "yes".to_string(),
        Cell::Truth(false) => "no".to_string(),
        Cell::Absent(_) => "absent".to_string(),
        Cell::Fault(_) => "fault".to_string(),
        Cell::Text(text) => format!("={text}"),
        other => return Err(format!("{other:?} at {node:?}")),
    })
}

/// Kinds of node that the maker does not make, or that are worked before a run; the slow evaluator in Rust meets them.
const NOT_MADE: &[&str] = &[
    "label",
    "asked",
    "span",
    "group key",
    "decide, first that holds",
    "decide, exactly one",
    "line label",
    "lookup, interpolated",
    "round 05 up",
    "count of values",
    "real div",
    "any key",
    "a key number",
    "a key truth",
];

/// Notes the kinds of all nodes that some are worked from.
fn meet(program: &Program, mut nodes: Vec<NodeId>, met: &mut MetNodes) {
    let mut seen = HashSet::new();
    while let Some(id) = nodes.pop() {
        if seen.insert(id) {
            let node = program.node(id);
            met.add(program, node);
            nodes.extend(node.kind.children());
        }
    }
}

fn run(batch: &Batch, tally: &mut Tally) -> Result<Vec<String>, String> {
    let mut differences = Vec::new();
    let (loaded, mut problems) =
        check::load(&["generated.ovo".to_string()], &OneSheet(&batch.sheet));
    let (checked, found) = check::check(&loaded, Options::default());
    problems.extend(found);
    let errors: Vec<String> = problems
        .iter()
        .filter(|d| d.is_error())
        .take(3)
        .map(|d| ovolo::diagnostics::render::render(d, &loaded.sources, Style { color: false }))
        .collect();
    let Some(checked) = checked.filter(|_| errors.is_empty()) else {
        return Err(format!("the sheet is refused:\n{}", errors.join("\n")));
    };
    let program = &checked.program;
    let schema = &program.tables.first().ok_or("no table")?.schema;
    let file = SourceFile {
        name: "generated.csv".to_string(),
        content: Content::Bytes(batch.survey.clone().into_bytes()),
    };
    let reading = survey::read(
        schema,
        &program.nouns,
        program.currency.as_deref(),
        vec![file],
        &ReadOptions::default(),
        None,
    )
    .map_err(|list| {
        format!(
            "the survey is refused: {:?}",
            list.iter()
                .map(|d| (&d.code, &d.message, &d.found))
                .collect::<Vec<_>>()
        )
    })?;
    let values = &program.versions[0].values;
    let mut nodes = Vec::new();
    for (name, ..) in &batch.expect {
        let value = values
            .iter()
            .find(|v| v.name == *name)
            .ok_or_else(|| format!("no value {name}"))?;
        nodes.push(value.node);
    }
    let inputs = Inputs {
        spans: &[],
        tables: vec![&reading.table],
    };
    let options = eval::Options {
        threads: Some(1),
        ..eval::Options::default()
    };
    let results = eval::run(program, &inputs, &nodes, &options).map_err(|e| format!("{e:?}"))?;
    meet(program, nodes.clone(), &mut tally.met);
    for ((name, unit, expected), node) in batch.expect.iter().zip(&nodes) {
        tally.expressions += 1;
        for (row, expected) in expected.iter().enumerate() {
            if expected == "open" {
                tally.open += 1;
                continue;
            }
            tally.values += 1;
            match expected.as_str() {
                "fault" => tally.failed_rows += 1,
                "absent" => tally.unknown_rows += 1,
                _ => {}
            }
            let cell = results.value(*node, row);
            let found = word(program, *node, unit, &cell);
            let same = match (&found, ratio(expected)) {
                // Read back through the engine's own numbers too, so that both ways of writing are met.
                (Ok(found), Some(value)) => ratio(found) == Some(value) && found == expected,
                (Ok(found), None) => found == expected,
                (Err(_), _) => false,
            };
            if !same {
                let line = batch
                    .sheet
                    .lines()
                    .find(|l| l.trim_start().starts_with(&format!("{name} = ")))
                    .unwrap_or_default();
                differences.push(format!(
                    "row {}, in {unit}: found {found:?} ({cell:?}), expected {expected}\n{line}",
                    row + 1
                ));
                break;
            }
        }
    }
    Ok(differences)
}

#[test]
fn generated_sheets_agree_with_an_evaluator_in_fractions() {
    let mut tally = Tally::default();
    let count = ("OVOLO_ORACLE_COUNT", 20_000);
    let compared = maker::compare("oracle_fractions", count, 20, |batch: Batch| {
        run(&batch, &mut tally).unwrap_or_else(|why| vec![why])
    });
    println!(
        "seed {}: {} expressions, {} values compared ({} rows that fail, {} unknown), {} left open by the language, {} differences",
        compared.seed,
        tally.expressions,
        tally.values,
        tally.failed_rows,
        tally.unknown_rows,
        tally.open,
        compared.differences.len()
    );
    compared.must_agree();
    let count = compared.count;
    assert!(
        tally.expressions >= count,
        "{} of {count} expressions were made",
        tally.expressions
    );
    // A short run may miss what is seldom made.
    if count >= 20_000 {
        let mut missing = tally.met.missing();
        missing.retain(|word| !NOT_MADE.contains(word));
        assert!(missing.is_empty(), "no run has met {missing:?}");
    }
}
