//! Speed by stage: read and type the survey, compute, roll up. See `README.md` for commands and figures.
//!
//! `cargo bench --bench speed -- [sash|parts] [rows] [threads] [repeats] [read]`; with `read` the survey is read and no more

mod support;

use ovolo::eval::{Cell, Inputs, Memory, Options, Results, run};
use ovolo::program::{Grain, NodeId, Program};
use ovolo::survey::{Content, ReadOptions, SourceFile, read};
use ovolo::table::Table;
use std::path::PathBuf;
use std::sync::Mutex;
use std::time::{Duration, Instant};

fn main() {
    let arguments: Vec<usize> = std::env::args().filter_map(|a| a.parse().ok()).collect();
    let sizes = arguments
        .first()
        .map_or(vec![1_000, 100_000, 1_000_000], |rows| vec![*rows]);
    let threads = arguments.get(1).copied();
    let repeats = arguments.get(2).copied().unwrap_or(5);
    let named = |name: &str| std::env::args().any(|a| a == name);
    let all = !named("sash") && !named("parts");
    println!("        rows  check ms   read ms   sums ms   kept ms    again ms     B/row  peak MB");
    for rows in sizes {
        if all || named("sash") {
            let files = [support::file("sash", rows, support::sash_csv)];
            measure("sash", support::SASH, &files, rows, threads, repeats);
        }
        if all || named("parts") {
            let files = [
                support::file("parts", rows, support::parts_csv),
                support::file("defects", rows, support::defects_csv),
            ];
            measure("parts", support::PARTS, &files, rows, threads, repeats);
        }
    }
}

fn measure(
    name: &str,
    sheet: &str,
    files: &[PathBuf],
    rows: usize,
    threads: Option<usize>,
    repeats: usize,
) {
    let (checked, checking) = timed(|| support::checked(sheet));
    let program = &checked.program;
    let (tables, reading) = best(repeats, || surveys(program, files));
    if std::env::args().any(|a| a == "read") {
        return println!(
            "{name:5}{rows:>8}  {:>8.2}  {:>8.1}",
            checking.as_secs_f64() * 1e3,
            reading.as_secs_f64() * 1e3
        );
    }
    let version = &program.versions[0];
    let fine = |grain: Grain| matches!(grain, Grain::Table(_));
    let nodes = |of: fn(bool) -> bool| -> Vec<NodeId> {
        version
            .values
            .iter()
            .filter(|v| of(fine(v.grain)))
            .map(|v| v.node)
            .collect()
    };
    let (sums, columns) = (nodes(|fine| !fine), nodes(|fine| fine));
    let options = Options {
        threads,
        ..Options::default()
    };
    let inputs = Inputs {
        spans: &[],
        tables: tables.iter().collect(),
    };
    let work =
        |wanted: &[NodeId]| -> Results { run(program, &inputs, wanted, &options).expect("runs") };
    let (results, adding) = best(repeats, || work(&sums));
    let peak = support::peak_memory();
    let (kept, keeping) = best(repeats, || work(&columns));
    let bytes: usize = columns
        .iter()
        .filter_map(|id| kept.column(*id))
        .map(|c| c.bytes())
        .sum();
    // The same job once a given has changed: what does not read it is remembered.
    let changed = support::checked(
        &sheet
            .replace("62.40 USD per gal", "64 USD per gal")
            .replace("0.65 USD per cu in", "0.7 USD per cu in"),
    );
    let memory = Mutex::new(Memory::new());
    let remembering = Options {
        threads,
        memory: Some(&memory),
        ..Options::default()
    };
    let remember = |program: &Program| {
        run(program, &inputs, &sums, &remembering).expect("runs");
    };
    remember(program);
    let ((), again) = timed(|| remember(&changed.program));
    let ms = |d: Duration| d.as_secs_f64() * 1e3;
    println!(
        "{name:5}{rows:>8}  {:>8.2}  {:>8.1}  {:>8.1}  {:>8.1}  {:>9.1}  {:>8.1}  {:.0}",
        ms(checking),
        ms(reading),
        ms(adding),
        ms(keeping),
        ms(again),
        bytes as f64 / rows as f64,
        peak.unwrap_or(0.0)
    );
    for value in version.values.iter().filter(|v| v.grain == Grain::Job) {
        if let Cell::Number(n) = results.value(value.node, 0) {
            println!("      {} {}", value.name, n.to_decimal(4).0);
        }
    }
}

/// Reads the surveys of a program, a table below another last.
fn surveys(program: &Program, files: &[PathBuf]) -> Vec<Table> {
    let mut tables: Vec<Table> = Vec::new();
    for (info, path) in program.tables.iter().zip(files) {
        let file = std::fs::File::open(path).expect("the survey was just made");
        let source = SourceFile {
            name: path.display().to_string(),
            content: Content::Stream(Box::new(file)),
        };
        let above = info
            .parent
            .map(|above| (&program.tables[above].schema, &tables[above.index()]));
        let reading = read(
            &info.schema,
            &program.nouns,
            Some("USD"),
            vec![source],
            &ReadOptions::default(),
            above,
        );
        let table = reading
            .unwrap_or_else(|problems| panic!("{:?}", &problems[..problems.len().min(3)]))
            .table;
        tables.push(table);
    }
    tables
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

/// The last value of several and the shortest time; no two values are held at once.
fn best<T>(repeats: usize, work: impl Fn() -> T) -> (T, Duration) {
    let mut best = timed(&work);
    for _ in 1..repeats {
        let shortest = best.1;
        drop(best);
        best = timed(&work);
        best.1 = best.1.min(shortest);
    }
    best
}
