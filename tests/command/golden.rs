//! Wrong sheets and what is said of them.
//!
//! Each file under `tests/cases/<stage>/` holds many small cases:
//!
//! ```text
//! === name_of_the_case
//! # What is wrong, in one line.
//! given a = 2 in
//! --- survey.csv          further files, if the case needs them; a name may lead into a folder
//! mark,wide
//! --- args                the command line; `proof sheet.ovo` when left out
//! estimate sheet.ovo
//! --- only messages       leaves out standard output, where a report would bury them
//! --- expected            exit code, then standard output and standard error as they come
//! ...
//! ```
//!
//! The text above the first `---` is `sheet.ovo`. `base.ovo` of the cases folder lies beside it for cases that use it.
//! `UPDATE_EXPECT=1 cargo test --test command golden` rewrites what is expected; a change there is a change of behavior.

use super::run;
use ovolo::diagnostics::codes;
use rayon::prelude::*;
use std::collections::{BTreeMap, BTreeSet};
use std::fmt::Write as _;
use std::path::{Path, PathBuf};

/// Stands for the library of the program in what is expected.
const HERE: &str = "9.9.9 012345abcdef";

struct Case {
    name: String,
    /// Sections in the order written: `sheet.ovo` first, `expected` last.
    sections: Vec<(String, String)>,
}

impl Case {
    fn section(&self, name: &str) -> Option<&str> {
        self.sections
            .iter()
            .find(|(n, _)| n == name)
            .map(|(_, t)| t.as_str())
    }
}

fn cases_folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/cases")
}

fn read_cases(text: &str, file: &str) -> Vec<Case> {
    let mut cases: Vec<Case> = Vec::new();
    for line in text.lines() {
        if let Some(name) = line.strip_prefix("=== ") {
            cases.push(Case {
                name: name.trim().into(),
                sections: vec![("sheet.ovo".into(), String::new())],
            });
        } else {
            let case = cases
                .last_mut()
                .unwrap_or_else(|| panic!("{file}: begins without a case"));
            match line.strip_prefix("--- ") {
                Some(name) => case.sections.push((name.trim().into(), String::new())),
                None => {
                    let section = case
                        .sections
                        .last_mut()
                        .unwrap_or_else(|| panic!("{file}: no section"));
                    section.1.push_str(line);
                    section.1.push('\n');
                }
            }
        }
    }
    cases
}

fn write_cases(cases: &[Case]) -> String {
    let mut out = String::new();
    for case in cases {
        let _ = writeln!(out, "=== {}", case.name);
        for (i, (name, text)) in case.sections.iter().enumerate() {
            if i > 0 {
                let _ = writeln!(out, "--- {name}");
            }
            out.push_str(text);
        }
    }
    out
}

/// Runs the command in a folder that holds the case's files. Paths in messages are relative, so they need no treatment.
fn run(case: &Case, base: &str) -> String {
    let folder = tempfile::tempdir().expect("a folder for the case");
    std::fs::write(folder.path().join("base.ovo"), base).expect("the base sheet is written");
    for (name, text) in &case.sections {
        if !["args", "expected", "only messages"].contains(&name.as_str()) {
            let place = folder.path().join(name);
            if let Some(folder) = place.parent() {
                std::fs::create_dir_all(folder).expect("a folder of the case is made");
            }
            std::fs::write(place, text).expect("a file of the case is written");
        }
    }
    let args = case.section("args").unwrap_or("proof sheet.ovo");
    let output = run::ovolo(folder.path(), args.split_whitespace());
    let text = if case.section("only messages").is_some() {
        output.stderr
    } else {
        [output.stdout, output.stderr].concat()
    };
    let code = output
        .status
        .code()
        .map_or("killed".to_string(), |c| c.to_string());
    // The library of the program changes with its sheets; a name of the same length stands for it.
    let text = String::from_utf8(text)
        .expect("output is UTF-8")
        .replace(&ovolo::library::stamp(), HERE);
    format!("exit {code}\n{text}")
}

#[test]
fn every_case_says_what_is_expected() {
    let update = std::env::var_os("UPDATE_EXPECT").is_some();
    let base = std::fs::read_to_string(cases_folder().join("base.ovo"))
        .expect("the base sheet of the cases");
    let mut failures = String::new();
    let mut names = BTreeSet::new();
    for (path, text) in case_files() {
        let mut cases = read_cases(&text, &path);
        let outputs: Vec<String> = cases.par_iter().map(|case| run(case, &base)).collect();
        for (case, got) in cases.iter_mut().zip(outputs) {
            let place = format!("{path}, {}", case.name);
            assert!(
                names.insert(case.name.clone()),
                "{place}: a name used twice"
            );
            let sheet = case.section("sheet.ovo").unwrap_or_default();
            assert!(
                sheet.starts_with("# "),
                "{place}: the first line says what is wrong, as a comment"
            );
            let want = case.section("expected").map(str::to_string);
            if want.as_deref() != Some(got.as_str()) {
                if update {
                    case.sections.retain(|(n, _)| n != "expected");
                    case.sections.push(("expected".into(), got));
                } else {
                    let _ = writeln!(
                        failures,
                        "{place}\n--- expected\n{}--- got\n{got}",
                        want.unwrap_or("(nothing yet)\n".into())
                    );
                }
            }
        }
        if update {
            std::fs::write(cases_folder().join(&path), write_cases(&cases))
                .expect("the case file is written");
        }
    }
    assert!(failures.is_empty(), "{failures}");
}

/// Files of cases by their path below the folder.
fn case_files() -> BTreeMap<String, String> {
    let mut files = BTreeMap::new();
    for stage in std::fs::read_dir(cases_folder())
        .expect("the cases folder")
        .flatten()
    {
        if !stage.path().is_dir() {
            assert_eq!(
                stage.file_name(),
                "base.ovo",
                "a file that belongs to no case"
            );
            continue;
        }
        for file in std::fs::read_dir(stage.path())
            .expect("a folder of cases")
            .flatten()
        {
            let name = format!(
                "{}/{}",
                stage.file_name().to_string_lossy(),
                file.file_name().to_string_lossy()
            );
            assert!(name.ends_with(".txt"), "{name}: not a file of cases");
            files.insert(
                name.clone(),
                std::fs::read_to_string(file.path()).expect("text of cases"),
            );
        }
    }
    files
}

/// Codes that no small text can bring about, and why.
const BEYOND_TESTS: &[(&str, &str)] = &[
    (
        "OV-029",
        "a fault of the library that writes workbooks; names, sizes and texts that it refuses are mended or told before",
    ),
    (
        "OV-828",
        "a fault of the program itself: parts, purchases and activities are counted from what the estimate was made of",
    ),
];

/// Texts of all tests: those of this folder, and the test modules of the sources.
fn texts_of_tests() -> String {
    fn below(folder: &Path, out: &mut String) {
        for entry in std::fs::read_dir(folder).expect("a folder").flatten() {
            let path = entry.path();
            if path.is_dir() {
                below(&path, out);
                continue;
            }
            let Ok(text) = std::fs::read_to_string(&path) else {
                continue;
            };
            let name = path
                .file_name()
                .map(|n| n.to_string_lossy().to_string())
                .unwrap_or_default();
            let is_source = path.components().any(|c| c.as_os_str() == "src");
            // Of a source file only what stands in its test module; of this file nothing, since it lists codes.
            match (is_source, name.contains("test"), text.find("#[cfg(test)]")) {
                (true, false, None) => {}
                (true, false, Some(at)) => out.push_str(&text[at..]),
                _ if name == "golden.rs" => {}
                _ => out.push_str(&text),
            }
        }
    }
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let mut out = String::new();
    below(&root.join("tests"), &mut out);
    below(&root.join("src"), &mut out);
    out
}

#[test]
fn every_code_has_a_case() {
    let all = texts_of_tests();
    let beyond = |code: &str| BEYOND_TESTS.iter().any(|(c, _)| *c == code);
    let missing: Vec<_> = codes::ENTRIES
        .iter()
        .map(|e| e.code)
        .filter(|code| !all.contains(code) && !beyond(code))
        .collect();
    assert!(missing.is_empty(), "codes without a case: {missing:?}");
    let needless: Vec<_> = BEYOND_TESTS
        .iter()
        .filter(|(c, _)| all.contains(c) || codes::find(c).is_none())
        .collect();
    assert!(
        needless.is_empty(),
        "listed as beyond tests, and are not: {needless:?}"
    );
}

#[test]
fn every_code_in_use_has_a_page() {
    fn below(folder: &Path, used: &mut BTreeSet<String>) {
        for entry in std::fs::read_dir(folder).expect("a folder").flatten() {
            let path = entry.path();
            if path.is_dir() {
                below(&path, used);
            } else if let Ok(text) = std::fs::read_to_string(&path) {
                let code = text.split("#[cfg(test)]").next().unwrap_or("");
                for part in code.split("\"OV-").skip(1) {
                    let digits: String = part.chars().take_while(char::is_ascii_digit).collect();
                    if digits.len() == 3 && part[3..].starts_with('"') {
                        used.insert(format!("OV-{digits}"));
                    }
                }
            }
        }
    }
    let mut used = BTreeSet::new();
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
    below(&root, &mut used);
    let missing: Vec<_> = used.iter().filter(|c| codes::find(c).is_none()).collect();
    assert!(missing.is_empty(), "codes without a page: {missing:?}");
}

/// `cargo test --test command -- --ignored --nocapture counts`
#[test]
#[ignore = "prints how many cases each code has"]
fn counts_of_cases() {
    let cases: Vec<Case> = case_files()
        .iter()
        .flat_map(|(path, text)| read_cases(text, path))
        .collect();
    let told = |case: &Case, code: &str| {
        case.section("expected")
            .is_some_and(|text| text.lines().any(|l| l.starts_with(code)))
    };
    for entry in codes::ENTRIES {
        println!(
            "{}  {:>3}  {}",
            entry.code,
            cases.iter().filter(|case| told(case, entry.code)).count(),
            entry.title()
        );
    }
    println!("{} cases", cases.len());
}

/// A survey for each table of the base sheet.
const BASE_SURVEYS: [&str; 2] = [
    "mark,wing,kind,wide,high,across,thick,rot,cracked,leaded\nA,East,single,30 in,60 in,3,1 3/8 in,5 %,2,yes\nB,East,pair,5 ft,6 ft,4,,60 %,,no\n",
    "mark,long,deep\nA,4 in,1/2 in\nB,1 ft,\n",
];

#[test]
#[ignore = "writes fuzz/corpus"]
fn write_fuzz_seeds() {
    let corpus = Path::new(env!("CARGO_MANIFEST_DIR")).join("fuzz/corpus");
    for (path, text) in case_files() {
        for case in read_cases(&text, &path) {
            for target in ["parse", "tidy", "proof"] {
                let folder = corpus.join(target);
                std::fs::create_dir_all(&folder).expect("a folder of seeds");
                std::fs::write(
                    folder.join(&case.name),
                    case.section("sheet.ovo").unwrap_or_default(),
                )
                .expect("a seed");
            }
            let folder = corpus.join("whole");
            std::fs::create_dir_all(&folder).expect("a folder of seeds");
            let sheet = case.section("sheet.ovo").unwrap_or_default();
            let surveys = match case.section("survey.csv") {
                Some(own) => [own, case.section("defects.csv").unwrap_or_default()],
                None => BASE_SURVEYS,
            };
            std::fs::write(
                folder.join(&case.name),
                [&[sheet], &surveys[..]].concat().join("\n---\n"),
            )
            .expect("a seed");
        }
    }
    let cells = corpus.join("cells");
    std::fs::create_dir_all(&cells).expect("a folder of seeds");
    let page =
        std::fs::read_to_string(Path::new(env!("CARGO_MANIFEST_DIR")).join("grammar/language.md"))
            .expect("the reference");
    let table = page
        .split("| cell | column | read as |")
        .nth(1)
        .expect("the table of cells");
    for (i, line) in table
        .lines()
        .skip(2)
        .take_while(|l| l.starts_with('|'))
        .enumerate()
    {
        let cell = line.split('`').nth(1).unwrap_or_default();
        // The first byte is the column and what it declares.
        for how in (0..128u8).step_by(13) {
            std::fs::write(
                cells.join(format!("cell_{i}_{how}")),
                [&[how], cell.as_bytes()].concat(),
            )
            .expect("a seed");
        }
    }
}
