//! The forty rules of `support/sash.ovo` by two general expression engines, totals by wing.
//!
//! `cargo run --release -- [rhai|cel] SASH.csv [threads] [TOTAL]`
//!
//! Both read `rules.txt`, one expression a rule, parsed once and worked for each row. Rhai has 28-digit decimals; the Common
//! Expression Language has binary floating point only. With TOTAL, ovolo's for the same file, the difference is told in cents.

mod by_cel;
mod by_rhai;

use rust_decimal::Decimal;
use std::collections::BTreeMap;
use std::time::Instant;

/// One expression a rule, in order: `name = expression`.
const RULES: &str = include_str!("rules.txt");

/// The figures of the sheet, in inches, minutes and dollars.
const GIVENS: [(&str, &str); 23] = [
    ("stile_face", "2"),
    ("top_rail", "2"),
    ("bottom_rail", "3"),
    ("bar_face", "0.875"),
    ("point_gap", "4"),
    ("bead", "0.0625"),
    ("putty_weight", "0.07"),
    ("make_pace", "0.9"),
    ("mend_pace", "38"),
    ("strip_pace", "0.035"),
    ("paint_pace", "0.0125"),
    ("cover", "350"),
    ("joiner_rate", "64.50"),
    ("glazier_rate", "58.25"),
    ("painter_rate", "47.75"),
    ("pine_price", "11.80"),
    ("glass_price", "14.35"),
    ("point_price", "0.035"),
    ("putty_price", "7.90"),
    ("paint_price", "62.40"),
    ("waste", "0.35"),
    ("overhead", "0.125"),
    ("tax", "0.0625"),
];

/// Names and expressions of the rules.
fn rules() -> impl Iterator<Item = (&'static str, &'static str)> {
    RULES.lines().map(|line| line.split_once(" = ").expect("a rule has a name"))
}

/// One opening as its texts: wing, kind, the eight numbers in [`NUMBERS`], leaded.
struct Row<'r>(&'r csv::StringRecord);

/// Columns that are numbers, with their places in the file; the percent without its sign is a hundredth.
const NUMBERS: [(&str, usize); 7] =
    [("wide", 3), ("high", 4), ("across", 5), ("down", 6), ("thick", 7), ("rail_rot", 8), ("cracked", 9)];

impl<'r> Row<'r> {
    fn kind(&self) -> &'r str {
        &self.0[2]
    }

    fn leaded(&self) -> bool {
        &self.0[10] == "yes"
    }

    fn number(&self, at: usize) -> Decimal {
        match self.0[at].strip_suffix('%') {
            Some(percent) => percent.parse::<Decimal>().expect("a percent") / Decimal::ONE_HUNDRED,
            None => self.0[at].parse().expect("a number"),
        }
    }
}

/// What works one row to its line total.
trait Rules {
    fn line_total(&mut self, row: &Row) -> Decimal;
}

type Totals = BTreeMap<String, Decimal>;

fn part(rules: &mut dyn Rules, text: &[u8]) -> Totals {
    let mut wings = Totals::new();
    let mut reader = csv::ReaderBuilder::new().has_headers(false).from_reader(text);
    let mut record = csv::StringRecord::new();
    while reader.read_record(&mut record).expect("a sound file") {
        let total = rules.line_total(&Row(&record));
        *wings.entry(record[1].to_owned()).or_default() += total;
    }
    wings
}

/// File to totals, a part of the file on each thread.
fn all(make: fn() -> Box<dyn Rules>, text: &[u8], threads: usize) -> Totals {
    let mut rest = &text[text.iter().position(|b| *b == b'\n').map_or(text.len(), |at| at + 1)..];
    let size = rest.len() / threads;
    let mut parts = Vec::new();
    for _ in 1..threads {
        let end = size + rest[size..].iter().position(|b| *b == b'\n').map_or(rest.len() - size, |at| at + 1);
        let (one, more) = rest.split_at(end);
        parts.push(one);
        rest = more;
    }
    parts.push(rest);
    std::thread::scope(|scope| {
        let threads: Vec<_> = parts.into_iter().map(|text| scope.spawn(move || part(make().as_mut(), text))).collect();
        let mut wings = Totals::new();
        for (wing, total) in threads.into_iter().flat_map(|thread| thread.join().expect("no part fails")) {
            *wings.entry(wing).or_default() += total;
        }
        wings
    })
}

fn main() {
    let arguments: Vec<String> = std::env::args().collect();
    let [_, engine, survey, more @ ..] = arguments.as_slice() else {
        return eprintln!("which engine, rhai or cel, and which survey?");
    };
    let make: fn() -> Box<dyn Rules> = match engine.as_str() {
        "rhai" => || Box::new(by_rhai::Engine::new()),
        "cel" => || Box::new(by_cel::Engine::new()),
        other => return eprintln!("no engine is called {other}: rhai or cel"),
    };
    let threads = more.first().map_or(2, |n| n.parse().expect("a number of threads"));
    let start = Instant::now();
    let wings = all(make, &std::fs::read(survey).expect("the survey can be read"), threads);
    let took = start.elapsed();
    wings.iter().for_each(|(wing, total)| println!("{wing:6} {total:>16.2}"));
    let total: Decimal = wings.values().sum();
    println!("all    {total:>16.2} USD  {:.0} ms", took.as_secs_f64() * 1e3);
    if let Some(ours) = more.get(1) {
        let off = (total - ours.parse::<Decimal>().expect("an amount")) * Decimal::ONE_HUNDRED;
        println!("the engine's {ours}: {:+} cents", off.round());
    }
}
