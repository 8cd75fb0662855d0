//! Wrong sheets and what is said of them.
//!
//! Each file under `tests/cases/<stage>/` holds many small cases:
//!
//! ```text
//! === name_of_the_case
//! # What is wrong, in one line.
//! given a = 2 in
//! --- survey.csv          further files, if the case needs them
//! mark,wide
//! --- args                the command line; `proof sheet.ovo` when left out
//! reckon sheet.ovo
//! --- expected            exit code, then standard output and standard error as they come
//! ...
//! ```
//!
//! The text above the first `---` is `sheet.ovo`. `base.ovo` of the cases folder lies beside it for cases that use it.
//! `UPDATE_EXPECT=1 cargo test --test golden` rewrites what is expected; a change there is a change of behaviour.

use ovolo::diagnostics::codes;
use std::collections::{BTreeMap, BTreeSet};
use std::fmt::Write as _;
use std::path::{Path, PathBuf};
use std::process::Command;

struct Case {
    name: String,
    /// Sections in the order written: `sheet.ovo` first, `expected` last.
    sections: Vec<(String, String)>,
}

impl Case {
    fn section(&self, name: &str) -> Option<&str> {
        self.sections.iter().find(|(n, _)| n == name).map(|(_, t)| t.as_str())
    }
}

fn cases_folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/cases")
}

fn read_cases(text: &str, file: &str) -> Vec<Case> {
    let mut cases: Vec<Case> = Vec::new();
    for line in text.lines() {
        if let Some(name) = line.strip_prefix("=== ") {
            cases.push(Case { name: name.trim().into(), sections: vec![("sheet.ovo".into(), String::new())] });
        } else {
            let case = cases.last_mut().unwrap_or_else(|| panic!("{file}: begins without a case"));
            match line.strip_prefix("--- ") {
                Some(name) => case.sections.push((name.trim().into(), String::new())),
                None => {
                    let section = case.sections.last_mut().unwrap_or_else(|| panic!("{file}: no section"));
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
        if name != "args" && name != "expected" {
            std::fs::write(folder.path().join(name), text).expect("a file of the case is written");
        }
    }
    let args = case.section("args").unwrap_or("proof sheet.ovo");
    let output = Command::new(env!("CARGO_BIN_EXE_ovolo"))
        .args(args.split_whitespace())
        .current_dir(folder.path())
        .env("NO_COLOR", "1")
        .output()
        .expect("the command runs");
    let text = [output.stdout, output.stderr].concat();
    let code = output.status.code().map_or("killed".to_string(), |c| c.to_string());
    format!("exit {code}\n{}", String::from_utf8(text).expect("output is UTF-8"))
}

#[test]
fn every_case_says_what_is_expected() {
    let update = std::env::var_os("UPDATE_EXPECT").is_some();
    let base = std::fs::read_to_string(cases_folder().join("base.ovo")).expect("the base sheet of the cases");
    let mut failures = String::new();
    let mut names = BTreeSet::new();
    for (path, text) in case_files() {
        let mut cases = read_cases(&text, &path);
        for case in &mut cases {
            let place = format!("{path}, {}", case.name);
            assert!(names.insert(case.name.clone()), "{place}: a name used twice");
            let sheet = case.section("sheet.ovo").unwrap_or_default();
            assert!(sheet.starts_with("# "), "{place}: the first line says what is wrong, as a comment");
            let got = run(case, &base);
            let want = case.section("expected").map(str::to_string);
            if want.as_deref() != Some(got.as_str()) {
                if update {
                    case.sections.retain(|(n, _)| n != "expected");
                    case.sections.push(("expected".into(), got));
                } else {
                    let _ = writeln!(failures, "{place}\n--- expected\n{}--- got\n{got}", want.unwrap_or("(nothing yet)\n".into()));
                }
            }
        }
        if update {
            std::fs::write(cases_folder().join(&path), write_cases(&cases)).expect("the case file is written");
        }
    }
    assert!(failures.is_empty(), "{failures}");
}

/// Files of cases by their path below the folder.
fn case_files() -> BTreeMap<String, String> {
    let mut files = BTreeMap::new();
    for stage in std::fs::read_dir(cases_folder()).expect("the cases folder").flatten() {
        if !stage.path().is_dir() {
            assert_eq!(stage.file_name(), "base.ovo", "a file that belongs to no case");
            continue;
        }
        for file in std::fs::read_dir(stage.path()).expect("a folder of cases").flatten() {
            let name = format!("{}/{}", stage.file_name().to_string_lossy(), file.file_name().to_string_lossy());
            assert!(name.ends_with(".txt"), "{name}: not a file of cases");
            files.insert(name.clone(), std::fs::read_to_string(file.path()).expect("text of cases"));
        }
    }
    files
}

#[test]
fn every_code_has_a_case() {
    let all: String = case_files().into_values().collect();
    let missing: Vec<_> = codes::all().map(|e| e.code).filter(|code| !all.contains(code)).collect();
    assert!(missing.is_empty(), "codes without a case: {missing:?}");
}
