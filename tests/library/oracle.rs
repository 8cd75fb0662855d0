//! The engine against a slow and obvious evaluator of rows, on every sheet of the library over surveys made by chance,
//! and on the sheets of the benches. Programs made node by node are compared within the crate.

use crate::oracle_rows::Rows;
use ovolo::check::{self, Finder, load};
use ovolo::eval::{Inputs, Options, run};
use ovolo::number::Exact;
use ovolo::program::{NodeId, Program};
use ovolo::table::{
    Absence, ColumnData, ColumnKind, ColumnSpec, NumbersBuilder, OnMissing, RowPlace, Table, Texts,
    Values,
};
use std::path::{Path, PathBuf};

/// Chance from a seed (xorshift64*, Marsaglia 2003 and Vigna 2016).
struct Chance(u64);

impl Chance {
    fn below(&mut self, n: u64) -> u64 {
        self.0 ^= self.0 >> 12;
        self.0 ^= self.0 << 25;
        self.0 ^= self.0 >> 27;
        (self.0.wrapping_mul(0x2545_F491_4F6C_DD1D) >> 33) % n.max(1)
    }
}

/// Finds sheets in the package.
struct Files;

impl Finder for Files {
    fn find(&self, path: &str, from: Option<&str>) -> Result<(String, String), String> {
        let near = from
            .and_then(|from| Path::new(from).parent())
            .unwrap_or(Path::new(""));
        let path = near.join(path);
        let path = path
            .canonicalize()
            .map_err(|e| format!("{}: {e}", path.display()))?;
        let text = std::fs::read_to_string(&path).map_err(|e| e.to_string())?;
        Ok((path.display().to_string(), text))
    }
}

fn sheets_in(folder: &str, found: &mut Vec<PathBuf>) {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join(folder);
    let Ok(entries) = std::fs::read_dir(&folder) else {
        return;
    };
    for entry in entries.flatten() {
        let path = entry.path();
        match path.is_dir() {
            true => sheets_in(&path.display().to_string(), found),
            false if path.extension().is_some_and(|e| e == "ovo") => found.push(path),
            false => {}
        }
    }
}

/// A column that its schema allows, plausible or just at the edge, with gaps where gaps are allowed.
fn column(chance: &mut Chance, spec: &ColumnSpec, rows: usize) -> ColumnData {
    let values = match &spec.kind {
        ColumnKind::Text | ColumnKind::Lites => {
            let names: Vec<String> = (0..if spec.is_key { rows } else { 5.min(rows) })
                .map(|n| format!("T{n}"))
                .collect();
            let pool: Texts = names.iter().map(String::as_str).collect();
            let ids = (0..rows).map(|row| {
                if spec.is_key {
                    row as u32
                } else {
                    chance.below(pool.len() as u64) as u32
                }
            });
            Values::Text {
                ids: ids.collect(),
                pool,
            }
        }
        ColumnKind::YesNo => Values::YesNo((0..rows).map(|_| chance.below(2) == 0).collect()),
        ColumnKind::Choice(labels) => Values::Choice(
            (0..rows)
                .map(|_| chance.below(labels.len() as u64) as u16)
                .collect(),
        ),
        ColumnKind::Date => Values::Date((0..rows).map(|_| chance.below(30_000) as i32).collect()),
        ColumnKind::Moment | ColumnKind::Temperature => {
            let mut numbers = NumbersBuilder::default();
            for _ in 0..rows {
                numbers.push(
                    &Exact::ratio(chance.below(2_000_000) as i64, 24).expect("a denominator"),
                );
            }
            Values::Numbers(numbers.finish())
        }
        ColumnKind::Number {
            unit,
            whole,
            percent,
            limits,
            ..
        } => {
            let mut numbers = NumbersBuilder::default();
            for _ in 0..rows {
                let steps = if *whole { 1 } else { 16 };
                let mut value = Exact::ratio(chance.below(40 * steps) as i64, steps as i64)
                    .expect("a denominator");
                if *percent {
                    value = Exact::ratio(chance.below(101) as i64, 100).expect("a denominator");
                }
                let mut value = value.mul(unit.factor()).expect("fits");
                if let Some(limits) = limits {
                    value = Exact::min(&Exact::max(&value, &limits.low), &limits.high);
                }
                numbers.push(&value);
            }
            Values::Numbers(numbers.finish())
        }
    };
    let blank = spec.blank == OnMissing::Keep && !spec.is_key;
    let not_applicable = spec.not_applicable == OnMissing::Keep && !spec.is_key;
    let absent = (blank || not_applicable).then(|| {
        let absence = |chance: &mut Chance| match chance.below(6) {
            0 if blank => Absence::Blank,
            1 if not_applicable => Absence::NotApplicable,
            2 if blank && chance.below(4) == 0 => Absence::Unreadable,
            _ => Absence::Present,
        };
        (0..rows).map(|_| absence(chance)).collect()
    });
    ColumnData { values, absent }
}

fn tables(program: &Program, seed: u64, rows: usize) -> Vec<Table> {
    let mut chance = Chance(seed.wrapping_mul(0x9E37_79B9_7F4A_7C15) | 1);
    let mut tables: Vec<Table> = Vec::new();
    for info in &program.tables {
        let above = info
            .parent
            .and_then(|parent| tables.get(parent.index()))
            .map(|t| t.rows);
        let parent_rows = above.map(|above| {
            (0..rows)
                .map(|_| chance.below(above as u64) as u32)
                .collect()
        });
        let columns = info
            .schema
            .columns
            .iter()
            .map(|spec| column(&mut chance, spec, rows))
            .collect();
        let places = vec![RowPlace { source: 0, row: 1 }; rows];
        tables.push(Table {
            rows,
            columns,
            places,
            sources: Vec::new(),
            headings: Vec::new(),
            parent_rows,
            from_above: None,
        });
    }
    tables
}

/// Compares every node of a sheet; returns how many values were compared.
fn compare(sheet: &Path, seed: u64, rows: usize) -> usize {
    let (loaded, problems) = load(&[sheet.display().to_string()], &Files);
    assert!(problems.is_empty(), "{}: {problems:?}", sheet.display());
    let options = check::Options {
        alternates: true,
        trials: false,
    };
    let (checked, problems) = check::check(&loaded, options);
    let checked = checked.unwrap_or_else(|| panic!("{}: {problems:?}", sheet.display()));
    let program = &checked.program;
    let tables = tables(program, seed, rows);
    let tables: Vec<&Table> = tables.iter().collect();
    let wanted: Vec<NodeId> = program.nodes().ids().collect();
    let results = run(
        program,
        &Inputs {
            spans: &[],
            tables: tables.clone(),
        },
        &wanted,
        &Options::default(),
    )
    .unwrap_or_else(|error| panic!("{}: {error:?}", sheet.display()));
    let judge = Rows::new(program, &tables, &[]);
    let mut compared = 0;
    for id in wanted {
        let node = program.node(id);
        for row in 0..judge.row_count(node.grain) {
            let (found, expected) = (results.value(id, row), judge.value(id, row).cell());
            assert!(
                found == expected,
                "{} seed {seed}, {id:?} row {row}: {node:?}\nfound    {found:?}\nexpected {expected:?}",
                sheet.display()
            );
            compared += 1;
        }
    }
    compared
}

#[test]
fn every_sheet_of_the_library_agrees_with_the_slow_evaluator() {
    let mut sheets = Vec::new();
    for folder in ["sheets", "demo-data", "benches/support"] {
        sheets_in(folder, &mut sheets);
    }
    sheets.sort();
    let mut compared = 0;
    for (seed, sheet) in (1u64..).zip(&sheets) {
        compared += compare(sheet, seed, 7);
        compared += compare(sheet, seed + 1_000, 30);
    }
    assert!(
        compared > 100_000,
        "only {compared} values of {} sheets were compared",
        sheets.len()
    );
}
