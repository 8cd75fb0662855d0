//! What the benches share: surveys made from a fixed seed, and the sheets that read them.

#![allow(dead_code)] // each bench uses its part

use ovolo::check::{self, Checked, Finder, load};
use std::fmt::Write as _;
use std::path::PathBuf;

/// Forty rules for a sash: lengths, counts, rounding, money.
pub const SASH: &str = include_str!("sash.ovo");

/// About as many rules of another shape: texts, tables, optional values, groups, a table below another.
pub const PARTS: &str = include_str!("parts.ovo");

/// Chance from a seed (xorshift64*, Marsaglia 2003 and Vigna 2016).
pub struct Chance(u64);

impl Chance {
    pub fn new(seed: u64) -> Chance {
        Chance(seed.wrapping_mul(0x9E37_79B9_7F4A_7C15) | 1)
    }

    /// A number from `low` to `high`, both in.
    pub fn between(&mut self, low: u64, high: u64) -> u64 {
        self.0 ^= self.0 >> 12;
        self.0 ^= self.0 << 25;
        self.0 ^= self.0 >> 27;
        low + (self.0.wrapping_mul(0x2545_F491_4F6C_DD1D) >> 33) % (high - low + 1)
    }
}

/// A survey of `rows` openings for [`SASH`], as CSV. Sizes are on sixteenths, written as decimals.
pub fn sash_csv(rows: usize) -> String {
    let mut chance = Chance::new(7);
    let mut out =
        String::from("mark,wing,kind,wide,high,across,down,thick,rail_rot,cracked,leaded\n");
    for row in 0..rows {
        let wing = [
            "north", "east", "south", "west", "yard", "hall", "gym", "annex",
        ][chance.between(0, 7) as usize];
        let kind = chance.between(0, 2) as usize;
        let wide = [
            chance.between(20 * 16, 44 * 16),
            chance.between(40 * 16, 80 * 16),
            chance.between(24 * 16, 48 * 16),
        ][kind];
        let high = [
            chance.between(24 * 16, 60 * 16),
            chance.between(36 * 16, 72 * 16),
            chance.between(48 * 16, 110 * 16),
        ][kind];
        let sixteenths = |n: u64| -> String {
            let text = format!("{}.{:04}", n / 16, n % 16 * 625);
            text.trim_end_matches('0').trim_end_matches('.').to_owned()
        };
        let _ = writeln!(
            out,
            "W{row},{wing},{},{},{},{},{},{},{}%,{},{}",
            ["single", "pair", "hung"][kind],
            sixteenths(wide),
            sixteenths(high),
            chance.between(1, 3),
            chance.between(1, 4),
            ["1.375", "1.75", "2.25"][chance.between(0, 2) as usize],
            chance.between(0, 75),
            chance.between(0, 4),
            ["yes", "no"][chance.between(0, 1) as usize],
        );
    }
    out
}

/// A survey of `rows` openings for [`PARTS`].
pub fn parts_csv(rows: usize) -> String {
    let mut chance = Chance::new(11);
    let mut out = String::from("mark,wing,floor,wood,sill_high,panes,listed,painted\n");
    for row in 0..rows {
        let pick = |chance: &mut Chance, from: &[&'static str]| {
            from[chance.between(0, from.len() as u64 - 1) as usize]
        };
        let wing = pick(&mut chance, &["north", "east", "south", "west", "yard"]);
        let floor = chance.between(0, 3);
        let wood = pick(&mut chance, &["pine", "P", "oak", "fir", "unknown_wood"]);
        let sill = if chance.between(0, 7) == 0 {
            String::new()
        } else {
            (chance.between(12, 90) as f64 / 2.0).to_string()
        };
        let listed = pick(&mut chance, &["yes", "no", ""]);
        let painted = pick(&mut chance, &["none", "grey", "white", ""]);
        let _ = writeln!(
            out,
            "W{row},{wing},{floor},{wood},{sill},{},{listed},{painted}",
            chance.between(1, 24)
        );
    }
    out
}

/// The defects of `rows` openings for [`PARTS`]: none to five at each.
pub fn defects_csv(rows: usize) -> String {
    let mut chance = Chance::new(13);
    let mut out = String::from("mark,member,rot_long,rot_deep,wet\n");
    for row in 0..rows {
        for _ in 0..chance.between(0, 5) {
            let member = ["sill", "stile", "rail", "bar", "casing"][chance.between(0, 4) as usize];
            let long = chance.between(1, 240) as f64 / 8.0;
            let deep = if chance.between(0, 5) == 0 {
                String::new()
            } else {
                (chance.between(1, 40) as f64 / 16.0).to_string()
            };
            let wet = if chance.between(0, 4) == 0 {
                String::new()
            } else {
                format!("{}%", chance.between(8, 40))
            };
            let _ = writeln!(out, "W{row},{member},{long},{deep},{wet}");
        }
    }
    out
}

/// The file with a survey, made once.
pub fn file(name: &str, rows: usize, make: impl Fn(usize) -> String) -> PathBuf {
    let folder = PathBuf::from(env!("CARGO_TARGET_TMPDIR"));
    let path = folder.join(format!("{name}-{rows}.csv"));
    if !path.exists() {
        std::fs::write(&path, make(rows)).expect("the target folder can be written");
    }
    path
}

struct Text(String);

impl Finder for Text {
    fn find(&self, path: &str, _: Option<&str>) -> Result<(String, String), String> {
        Ok((path.to_owned(), self.0.clone()))
    }
}

/// A sheet, checked.
pub fn checked(sheet: &str) -> Checked {
    let (loaded, problems) = load(&["bench.ovo".to_owned()], &Text(sheet.to_owned()));
    assert!(problems.is_empty(), "{problems:?}");
    let (checked, problems) = check::check(&loaded, check::Options::default());
    checked.unwrap_or_else(|| panic!("{problems:?}"))
}

/// Most memory this process has held, in megabytes; `None` where the system does not tell.
pub fn peak_memory() -> Option<f64> {
    let status = std::fs::read_to_string("/proc/self/status").ok()?;
    let line = status.lines().find(|line| line.starts_with("VmHWM:"))?;
    let kilobytes: f64 = line.split_whitespace().nth(1)?.parse().ok()?;
    Some(kilobytes / 1024.0)
}

/// How long the threads of this process have been running, in all; `None` where the system does not tell.
pub fn cpu_time() -> Option<std::time::Duration> {
    let stat = std::fs::read_to_string("/proc/self/stat").ok()?;
    // The name in brackets may hold blanks; user and system time are the 12th and 13th fields after it.
    let fields: Vec<&str> = stat.rsplit_once(')')?.1.split_whitespace().collect();
    let ticks: u64 = fields.get(11)?.parse::<u64>().ok()? + fields.get(12)?.parse::<u64>().ok()?;
    Some(std::time::Duration::from_millis(ticks * 10))
}
