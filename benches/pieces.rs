//! Parts against takes of the same amounts: 6,000 openings, their sash made from the kind, 40 kinds of pieces at each sash.
//!
//! `cargo bench --bench pieces -- [openings] [kinds]`. A part costs what its take costs, and the checks of its sizes.

use ovolo::check::{self, Checked, Finder, load};
use ovolo::eval::{Inputs, Options, Results, run};
use ovolo::program::{NodeId, Program, TableId};
use ovolo::survey::{self, Above, Content, ReadOptions, SourceFile, complete};
use ovolo::table::Table;
use ovolo::takeoff::{Wish, parts, wanted, wanted_parts};
use std::fmt::Write as _;
use std::time::{Duration, Instant};

const HEAD: &str = r#"
survey opening {
  mark  text key
  kind  one of single, hung, pair
  wide  length in in
  high  length in in
}
survey sash of opening by mark {
  sash_mark  text key
  mark       text
  place      one of whole ("S"), upper ("U"), lower ("L"), left ("1"), right ("2")
  wide       length in in  else opening
  high       length in in  else opening
}
rows sash by place from kind {
  single: whole
  hung: upper, lower
  pair: left, right
}
resource pine  stock  bf  waste 20 %
phases "Making"
for each sash {
  sash_w = if place is one of left, right then wide / 2 else wide
  sash_h = if place is one of upper, lower then high / 2 else high
"#;

struct OneSheet(String);

impl Finder for OneSheet {
    fn find(&self, path: &str, _: Option<&str>) -> Result<(String, String), String> {
        Ok((path.to_owned(), self.0.clone()))
    }
}

fn main() {
    let numbers: Vec<usize> = std::env::args().filter_map(|a| a.parse().ok()).collect();
    let openings = numbers.first().copied().unwrap_or(6_000);
    let kinds = numbers.get(1).copied().unwrap_or(40);
    let (mut as_parts, mut as_takes) = (HEAD.to_owned(), HEAD.to_owned());
    for n in 0..kinds {
        let (count, long, wide) = (1 + n % 4, ["sash_h", "sash_w"][n % 2], 16 + n);
        let _ = write!(
            as_parts,
            "  part p{n}  {count} of pine for \"Making\" {{\n    length     {long}  rough {long} + 1 in\n    \
             width      {wide}/8 in  rough {wide}/8 in + 1/4 in\n    thickness  1 3/8 in  rough 1 5/8 in\n  }}\n"
        );
        let _ = writeln!(
            as_takes,
            "  take pine  {count} * ({long} + 1 in) * ({wide}/8 in + 1/4 in) * 1 5/8 in  for \"Making\""
        );
    }
    as_parts.push_str("}\n");
    as_takes.push_str("}\n");
    let mut survey = String::from("mark,kind,wide,high\n");
    for n in 0..openings {
        let kind = ["single", "hung", "pair"][n % 3];
        let _ = writeln!(survey, "W{n},{kind},{},{}", 24 + n % 37, 48 + n % 41);
    }
    let (taken, takes) = measure(&as_takes, &survey, false);
    let (made, with_parts) = measure(&as_parts, &survey, true);
    assert_eq!(taken, made, "the same amounts");
    println!(
        "{openings} openings, {kinds} kinds: takes {:.1} ms, parts {:.1} ms, {:.2} times",
        takes.as_secs_f64() * 1e3,
        with_parts.as_secs_f64() * 1e3,
        with_parts.as_secs_f64() / takes.as_secs_f64()
    );
}

/// The amounts, and the quickest of five runs of what an estimate needs.
fn measure(sheet: &str, openings: &str, list: bool) -> (Vec<String>, Duration) {
    let checked = checked(sheet);
    let program = &checked.program;
    let tables = tables(program, openings);
    let version = &program.versions[0];
    let mut nodes: Vec<NodeId> = wanted(program, version, Wish::default());
    nodes.extend(version.requires.iter().map(|r| r.holds));
    nodes.sort_unstable();
    nodes.dedup();
    if std::env::args().any(|a| a == "nodes") {
        println!(
            "{} nodes wanted, {} in all",
            nodes.len(),
            program.nodes().len()
        );
    }
    let inputs = Inputs {
        spans: &[],
        tables: tables.iter().collect(),
    };
    let options = Options::default();
    let once = || -> (Results, Duration) {
        let start = Instant::now();
        let results = run(program, &inputs, &nodes, &options).expect("runs");
        (results, start.elapsed())
    };
    let (results, mut quickest) = once();
    for _ in 0..4 {
        quickest = quickest.min(once().1);
    }
    if list {
        let wanted = wanted_parts(program, version);
        let start = Instant::now();
        let results = run(program, &inputs, &wanted, &options).expect("runs");
        let worked = start.elapsed();
        let found = parts(program, version, &results, &inputs.tables);
        println!(
            "a list of {} parts at their rows: {:.1} ms, {:.1} of them to work the sizes",
            found.at.len(),
            start.elapsed().as_secs_f64() * 1e3,
            worked.as_secs_f64() * 1e3
        );
    }
    let amounts = version.takes.iter();
    let amounts = amounts.map(|t| format!("{:?}", results.value(t.plan.total, 0)));
    (amounts.collect(), quickest)
}

fn checked(sheet: &str) -> Checked {
    let (loaded, problems) = load(&["job.ovo".to_owned()], &OneSheet(sheet.to_owned()));
    assert!(problems.is_empty(), "{problems:?}");
    let (checked, problems) = check::check(&loaded, check::Options::default());
    checked.unwrap_or_else(|| panic!("{problems:?}"))
}

fn tables(program: &Program, openings: &str) -> Vec<Table> {
    let schema = |table: u16| &program.tables[TableId(table)].schema;
    let file = SourceFile {
        name: "openings.csv".to_owned(),
        content: Content::Bytes(openings.as_bytes().to_vec()),
    };
    let options = ReadOptions::default();
    let openings = survey::read(schema(0), &program.nouns, None, vec![file], &options, None);
    let openings = openings.expect("reads").table;
    let above = Above {
        schema: schema(0),
        table: &openings,
        texts: None,
    };
    let sash = complete(
        schema(1),
        above,
        None,
        &ovolo::survey::ReadOptions::default(),
    )
    .expect("makes rows")
    .table;
    vec![openings, sash]
}
