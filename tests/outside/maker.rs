//! Makers in Python (standard library only), whose lines are compared with the engine as they come.

use serde::de::DeserializeOwned;
use std::io::{BufRead, BufReader};
use std::process::{Command, Stdio};

/// How a run of a maker ended.
pub(super) struct Compared {
    pub(super) seed: u64,
    pub(super) count: u64,
    pub(super) differences: Vec<String>,
    /// It made all that it was asked for.
    is_whole: bool,
}

/// Runs the maker in a folder below `tests`, with the seed of OVOLO_ORACLE_SEED and the count of another variable, until it has
/// made all or there are `most` differences.
pub(super) fn compare<T: DeserializeOwned>(
    folder: &str,
    (variable, usual): (&str, u64),
    most: usize,
    mut differences_of: impl FnMut(T) -> Vec<String>,
) -> Compared {
    let (seed, count) = (setting("OVOLO_ORACLE_SEED", 1), setting(variable, usual));
    let started = Command::new("python3")
        .arg(format!("{}/tests/{folder}", env!("CARGO_MANIFEST_DIR")))
        .args([seed.to_string(), count.to_string()])
        .stdout(Stdio::piped())
        .spawn();
    let mut python = started.expect("this test needs python3");
    let lines = BufReader::new(python.stdout.take().expect("its output was asked for")).lines();
    let mut differences = Vec::new();
    for line in lines {
        let line = line.expect("the maker writes text");
        let made = serde_json::from_str(&line).expect("the maker writes what it made");
        differences.extend(differences_of(made));
        if differences.len() >= most {
            let _ = python.kill();
            break;
        }
    }
    let ended = python.wait().expect("the maker was started");
    Compared {
        seed,
        count,
        differences,
        is_whole: ended.success(),
    }
}

impl Compared {
    /// No difference, and nothing left out.
    pub(super) fn must_agree(&self) {
        assert!(
            self.differences.is_empty(),
            "{}",
            self.differences.join("\n\n")
        );
        assert!(self.is_whole, "the maker ended early");
    }
}

fn setting(name: &str, otherwise: u64) -> u64 {
    std::env::var(name)
        .ok()
        .and_then(|v| v.parse().ok())
        .unwrap_or(otherwise)
}
