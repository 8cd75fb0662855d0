//! Cut plans: greedy, plan, bound, gap, time and memory for instance files and for problems made from a seed.
//!
//! `cargo bench --bench cuts` runs the made ones; with paths it runs those files: `cargo bench --bench cuts -- a.json b.json`. With
//! `--write FOLDER` it writes the made ones as instance files, which `table.py` measures as whole processes.

mod generate;

use ovolo::cutting::instance;
use ovolo::cutting::model::{Goods, Problem};
use ovolo::cutting::one_sheet::{self, OneSheet};
use ovolo::cutting::replay::replay;
use ovolo::cutting::solve::{Effort, Watch, solve};
use ovolo::cutting::verify::verify;
use std::time::Instant;

struct Quiet;

impl Watch for Quiet {
    fn go_on(&self, _: u64, _: u64) -> bool {
        true
    }
}

/// The made problems, each with its name.
fn made() -> [(&'static str, Problem); 6] {
    [
        ("linear 600", generate::linear(600, 1)),
        ("linear 6,000", generate::linear(6000, 2)),
        ("boards 600 on 60", generate::boards(600, 60, 1)),
        ("boards 6,000 on 400", generate::boards(6000, 400, 3)),
        ("glass 1,100 and 80 on hand", generate::glass(1100, 80, 4)),
        ("glass 12,000", generate::glass(12000, 0, 4)),
    ]
}

fn main() {
    let mut args: Vec<String> = std::env::args().skip(1).collect();
    if let Some(at) = args.iter().position(|a| a == "--write") {
        let folder = args.get(at + 1).expect("a folder after --write");
        std::fs::create_dir_all(folder).expect("the folder can be made");
        for (name, problem) in made() {
            let file = format!("{folder}/{}.json", name.replace(',', "").replace(' ', "-"));
            std::fs::write(file, generate::text(&problem)).expect("the file can be written");
        }
        return;
    }
    args.retain(|a| !a.starts_with("--"));
    let files = args;
    println!("| case | stages | greedy | plan | bound | gap | s | MB so far | faults |");
    println!("|---|---|---|---|---|---|---|---|---|");
    for file in &files {
        let text = std::fs::read_to_string(file).expect("an instance file");
        let name = file.rsplit('/').next().unwrap_or(file);
        if instance::asks_for_yield(&text) {
            let asked = one_sheet::read(&text, file).unwrap_or_else(|e| panic!("{e:?}"));
            one(name, asked);
            continue;
        }
        let problem = instance::read(&text, file).unwrap_or_else(|e| panic!("{e:?}"));
        both(name, problem);
    }
    if files.is_empty() {
        for (name, problem) in made() {
            both(name, problem);
        }
    }
}

/// One sheet, panes fixed and turned, in two and in three stages. The plan is a yield, and the bound lies above it.
fn one(name: &str, mut asked: OneSheet) {
    for (turn, way) in [(false, ""), (true, ", turned")] {
        for stages in [2, 3] {
            let began = Instant::now();
            (asked.problem.rules.turn, asked.problem.rules.stages) = (turn, stages);
            let found = one_sheet::most(&asked).expect("few sizes");
            let seconds = began.elapsed().as_secs_f64();
            let faults = replay(&found.problem, &found.plan);
            let gap = (found.bound - found.value) as f64 * 100.0 / found.bound.max(1) as f64;
            println!(
                "| {name}{way} | {stages} | {} | {} | {} | {gap:.2} % | {seconds:.2} | {} | {} |",
                found.greedy,
                found.value,
                found.bound,
                peak(),
                faults.join("; ")
            );
        }
    }
}

/// Glass in two and in three stages, all else as it is.
fn both(name: &str, mut problem: Problem) {
    let stages: &[u8] = match problem.rules.goods {
        Goods::Glass => &[2, 3],
        Goods::Linear => &[1],
        Goods::Boards => &[3],
    };
    for &n in stages {
        problem.rules.stages = n;
        run(name, &problem);
    }
}

fn run(name: &str, problem: &Problem) {
    let began = Instant::now();
    let plan = solve(problem, Effort::USUAL, &Quiet).expect("a plan");
    let seconds = began.elapsed().as_secs_f64();
    let mut faults = replay(problem, &plan);
    for proof in &plan.proofs {
        if verify(problem, proof) != Some(proof.bound) {
            faults.push("the bound is not proved".to_string());
        }
    }
    if plan.cost > plan.greedy {
        faults.push("greedy is better".to_string());
    }
    let gap = (plan.cost - plan.bound()) as f64 * 100.0 / plan.bound().max(1) as f64;
    println!(
        "| {name} | {} | {} | {} | {} | {gap:.2} % | {seconds:.1} | {} | {} |",
        problem.rules.stages,
        plan.greedy,
        plan.cost,
        plan.bound(),
        peak(),
        faults.join("; ")
    );
}

/// The most memory the process has held, in megabytes, where the system says.
fn peak() -> String {
    let status = std::fs::read_to_string("/proc/self/status").unwrap_or_default();
    let line = status.lines().find_map(|l| l.strip_prefix("VmHWM:"));
    let kilobytes = line.and_then(|l| l.trim().trim_end_matches(" kB").parse::<u64>().ok());
    kilobytes.map_or("?".to_string(), |k| (k / 1024).to_string())
}
