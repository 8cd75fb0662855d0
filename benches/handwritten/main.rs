//! The rules of the benches written by hand over 28-digit decimals, on as many threads: what a careful programmer would
//! write for these jobs alone. Their totals are compared with the engine's, to the cent.
//!
//! `cargo bench --bench handwritten -- [sash|parts] [rows] [threads]`

#[path = "../support/mod.rs"]
mod support;

mod parts;
mod sash;

use std::time::Instant;

fn main() {
    let arguments: Vec<usize> = std::env::args().filter_map(|a| a.parse().ok()).collect();
    let rows = arguments.first().copied().unwrap_or(1_000_000);
    let threads = arguments
        .get(1)
        .copied()
        .unwrap_or_else(|| std::thread::available_parallelism().map_or(1, usize::from));
    let named = |name: &str| std::env::args().any(|a| a == name);
    let all = !named("sash") && !named("parts");
    if all || named("sash") {
        let path = support::file("sash", rows, support::sash_csv);
        measure("sash", rows, threads, || {
            sash::run(&std::fs::read(&path).expect("just made"), threads)
        });
    }
    if all || named("parts") {
        let openings = support::file("parts", rows, support::parts_csv);
        let defects = support::file("defects", rows, support::defects_csv);
        let read = |path| std::fs::read(path).expect("just made");
        measure("parts", rows, threads, || {
            parts::run(&read(&openings), &read(&defects), threads)
        });
    }
}

/// Prints the quickest of three runs, file to totals, and what they give.
fn measure(name: &str, rows: usize, threads: usize, work: impl Fn() -> Vec<String>) {
    let mut best = (f64::MAX, f64::MAX);
    let mut lines = Vec::new();
    for _ in 0..3 {
        let cpu = support::cpu_time();
        let start = Instant::now();
        lines = work();
        let used = support::cpu_time()
            .zip(cpu)
            .map_or(0.0, |(after, before)| (after - before).as_secs_f64());
        best = (best.0.min(start.elapsed().as_secs_f64()), best.1.min(used));
    }
    println!(
        "{name}: {rows} rows, {threads} threads: {:.1} ms, {:.0} ms of processor; peak {:.0} MB",
        best.0 * 1e3,
        best.1 * 1e3,
        support::peak_memory().unwrap_or(0.0)
    );
    lines.iter().for_each(|line| println!("  {line}"));
}

/// Works a text in as many parts as there are threads, cut at line ends; the results are in order.
fn in_parts<'t, T: Send>(
    text: &'t [u8],
    threads: usize,
    work: impl Fn(&'t [u8]) -> T + Sync,
) -> Vec<T> {
    let mut cuts = vec![0];
    for part in 1..threads {
        let near = text.len() * part / threads;
        cuts.push(
            text[near..]
                .iter()
                .position(|b| *b == b'\n')
                .map_or(text.len(), |at| near + at + 1),
        );
    }
    cuts.push(text.len());
    let work = &work;
    std::thread::scope(|scope| {
        let threads: Vec<_> = cuts
            .windows(2)
            .map(|cut| scope.spawn(move || work(&text[cut[0]..cut[1]])))
            .collect();
        threads
            .into_iter()
            .map(|thread| thread.join().expect("no part fails"))
            .collect()
    })
}
