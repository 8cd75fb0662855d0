//! The bodies of the fuzz targets, built without the fuzzer and run over every sheet of the cases: they compile on a stable
//! compiler, and their seeds hold.

/// Stands in for the fuzzer's entry point.
#[macro_export]
macro_rules! fuzz_target {
    (|$text:ident: $kind:ty| $body:block) => {
        pub(crate) fn run($text: $kind) {
            $body
        }
    };
}

/// Stands in for the fuzzer's way to change an input.
#[macro_export]
macro_rules! fuzz_mutator {
    (|$data:ident: $bytes:ty, $size:ident: $is:ty, $most:ident: $at_most:ty, $seed:ident: $number:ty| $body:block) => {
        pub(crate) fn change($data: $bytes, $size: $is, $most: $at_most, $seed: $number) -> usize {
            $body
        }
    };
}

/// What the fuzzer does to plain bytes: here it turns one over.
pub(crate) fn fuzzer_mutate(data: &mut [u8], size: usize, _most: usize) -> usize {
    if let Some(byte) = data[..size].first_mut() {
        *byte = !*byte;
    }
    size
}

#[allow(unused_attributes, unused_imports)]
#[path = "../../fuzz/fuzz_targets/cells.rs"]
mod cells;
#[allow(unused_attributes, unused_imports)]
#[path = "../../fuzz/fuzz_targets/parse.rs"]
mod parse;
#[allow(unused_attributes, unused_imports)]
#[path = "../../fuzz/fuzz_targets/proof.rs"]
mod proof;
#[allow(unused_attributes, unused_imports)]
#[path = "../../fuzz/fuzz_targets/tidy.rs"]
mod tidy;

#[allow(unused_attributes, unused_imports)]
#[path = "../../fuzz/fuzz_targets/whole.rs"]
mod whole;
#[allow(unused_attributes, unused_imports)]
#[path = "../../fuzz/fuzz_targets/workbook.rs"]
mod workbook;

use crate::common::Dice;
use std::path::Path;

/// The sheets of the cases, without their expected messages.
fn seeds() -> Vec<String> {
    let mut seeds = Vec::new();
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/cases");
    for stage in std::fs::read_dir(folder)
        .expect("the cases")
        .flatten()
        .filter(|s| s.path().is_dir())
    {
        for file in std::fs::read_dir(stage.path()).expect("a stage").flatten() {
            let text = std::fs::read_to_string(file.path()).expect("cases are text");
            for case in text.split("=== ").skip(1) {
                let sheet = case.split("\n--- ").next().unwrap_or("");
                seeds.push(
                    sheet
                        .split_once('\n')
                        .map_or(String::new(), |(_, rest)| format!("{rest}\n")),
                );
            }
        }
    }
    seeds
}

#[test]
fn seeds_hold() {
    let seeds = seeds();
    assert!(
        seeds.len() > 200,
        "{} seeds: the cases were not read",
        seeds.len()
    );
    for seed in &seeds {
        parse::run(seed);
        tidy::run(seed);
        proof::run(seed);
        whole::run(&format!("{seed}\n---\nmark\nA\n"));
        for line in seed.lines() {
            cells::run(line.as_bytes());
            line.split_whitespace()
                .for_each(|word| cells::run(word.as_bytes()));
        }
    }
}

/// A seed with a few words put in from others, taken out or doubled.
fn mixed(seed: &str, words: &[&str], dice: &mut Dice) -> String {
    let mut pieces: Vec<&str> = seed.split_inclusive([' ', '\n']).collect();
    for _ in 0..1 + dice.roll(3) {
        let at = dice.roll(pieces.len());
        match dice.roll(3) {
            0 if !pieces.is_empty() => {
                pieces.remove(at);
            }
            1 if !pieces.is_empty() => pieces[at] = words[dice.roll(words.len())],
            _ => pieces.insert(at, words[dice.roll(words.len())]),
        }
    }
    pieces.concat()
}

#[test]
fn mixed_seeds_hold() {
    let seeds = seeds();
    // The long chain of rules says nothing new when a word of it changes.
    let short: Vec<&String> = seeds.iter().filter(|s| s.len() < 2_000).collect();
    let words: Vec<&str> = short
        .iter()
        .flat_map(|s| s.split_inclusive([' ', '\n']))
        .collect();
    let mut dice = Dice(0x0c0ffee);
    for _ in 0..500 {
        let text = mixed(short[dice.roll(short.len())], &words, &mut dice);
        parse::run(&text);
        tidy::run(&text);
        proof::run(&text);
    }
}

/// Files made to break a reader, as they are and with their structure changed.
#[test]
fn changed_workbooks_hold() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/survey/hostile");
    let mut files: Vec<_> = std::fs::read_dir(folder)
        .expect("the files")
        .flatten()
        .map(|file| std::fs::read(file.path()).unwrap_or_default())
        .filter(|bytes| !bytes.is_empty() && bytes.len() <= 4_096)
        .collect();
    files.sort();
    assert!(files.len() > 3, "{} files", files.len());
    for (seed, bytes) in (0..).zip(&files) {
        workbook::run(bytes);
        let mut changed = bytes.clone();
        changed.resize(16_384, 0);
        let size = workbook::change(&mut changed, bytes.len(), 16_384, seed);
        workbook::run(&changed[..size]);
    }
}
