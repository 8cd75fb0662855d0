//! Speed by stage: read and type the survey, compute, roll up. See `README.md` for commands and figures.
//!
//! `cargo bench --bench speed -- [rows] [threads] [repeats]`

mod support;

use ovolo::eval::{Cell, Inputs, Options, Results, run};
use ovolo::program::{Grain, NodeId, Program, TableId};
use ovolo::survey::{Content, ReadOptions, SourceFile, read};
use ovolo::table::Table;
use std::time::{Duration, Instant};

fn main() {
    let arguments: Vec<usize> = std::env::args().filter_map(|a| a.parse().ok()).collect();
    let sizes = arguments.first().map_or(vec![1_000, 100_000, 1_000_000], |rows| vec![*rows]);
    let threads = arguments.get(1).copied();
    let repeats = arguments.get(2).copied().unwrap_or(5);
    println!("{:>9}  {:>8}  {:>8}  {:>8}  {:>9}  {:>8}  peak MB", "rows", "check ms", "read ms", "sums ms", "kept ms", "B/row");
    for rows in sizes {
        let path = support::file("sash", rows, support::sash_csv);
        let (checked, checking) = timed(|| support::checked(support::SASH));
        let program = &checked.program;
        let (table, reading) = timed(|| survey(program, &path));
        let version = &program.versions[0];
        let nodes = |coarse: bool| -> Vec<NodeId> {
            let values = version.values.iter();
            values.filter(|v| matches!(v.grain, Grain::Table(_)) != coarse).map(|v| v.node).collect()
        };
        let options = Options { threads, ..Options::default() };
        let inputs = Inputs { tables: vec![&table] };
        let work = |wanted: &[NodeId]| -> Results { run(program, &inputs, wanted, &options).expect("runs") };
        let (results, sums) = best(repeats, || work(&nodes(true)));
        let peak = support::peak_memory();
        let (kept, keeping) = best(repeats, || work(&nodes(false)));
        let bytes: usize = nodes(false).iter().filter_map(|id| kept.column(*id)).map(|c| c.bytes()).sum();
        let ms = |d: Duration| d.as_secs_f64() * 1e3;
        println!(
            "{rows:>9}  {:>8.2}  {:>8.1}  {:>8.1}  {:>9.1}  {:>8.1}  {:.0}",
            ms(checking),
            ms(reading),
            ms(sums),
            ms(keeping),
            bytes as f64 / rows as f64,
            peak.unwrap_or(0.0)
        );
        for value in version.values.iter().filter(|v| v.grain == Grain::Job) {
            if let Cell::Number(n) = results.value(value.node, 0) {
                println!("           {} {}", value.name, n.to_decimal(4).0);
            }
        }
    }
}

fn survey(program: &Program, path: &std::path::Path) -> Table {
    let info = &program.tables[usize::from(TableId(0).0)];
    let file = std::fs::File::open(path).expect("the survey was just made");
    let source = SourceFile { name: "survey.csv".into(), content: Content::Stream(Box::new(file)) };
    let reading = read(&info.schema, &program.nouns, Some("USD"), vec![source], &ReadOptions::default(), None);
    reading.unwrap_or_else(|problems| panic!("{problems:?}")).table
}

/// The time of a piece of work. With `CPU_TIME` set, the time its threads were running instead, in steps of 10 ms: the
/// better figure on a machine that others use too.
fn timed<T>(work: impl FnOnce() -> T) -> (T, Duration) {
    let cpu = std::env::var_os("CPU_TIME").and_then(|_| support::cpu_time());
    let start = Instant::now();
    let value = work();
    match (cpu, support::cpu_time()) {
        (Some(before), Some(after)) => (value, after - before),
        _ => (value, start.elapsed()),
    }
}

/// The quickest of several.
fn best<T>(repeats: usize, work: impl Fn() -> T) -> (T, Duration) {
    let mut quickest = timed(&work);
    for _ in 1..repeats {
        let next = timed(&work);
        if next.1 < quickest.1 {
            quickest = next;
        }
    }
    quickest
}
