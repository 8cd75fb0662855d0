//! Commands that are stopped while they write: nothing unfinished stays, and what has its name is whole.

#![cfg(unix)]

use super::cut_plans::bid;
use super::handover::{JOB, copy, without_plans};
use super::outputs::ovolo;
use std::collections::BTreeMap;
use std::path::Path;
use std::process::{Command, Stdio};

/// Every file below a folder with its bytes, by its path from there.
fn below(at: &Path, from: &Path, out: &mut BTreeMap<String, Vec<u8>>) {
    for entry in std::fs::read_dir(at).into_iter().flatten().flatten() {
        let path = entry.path();
        if path.is_dir() {
            below(&path, from, out);
        } else if let (Ok(name), Ok(bytes)) = (path.strip_prefix(from), std::fs::read(&path)) {
            out.insert(name.display().to_string(), bytes);
        }
    }
}

fn tree(at: &Path) -> BTreeMap<String, Vec<u8>> {
    let mut out = BTreeMap::new();
    below(at, at, &mut out);
    out
}

/// Folders that commands make.
const FOLDERS: [&str; 3] = ["papers", "issues", "mill-office"];

/// Whether something unfinished stands in one of the folders that commands write to.
fn unfinished(at: &Path) -> bool {
    [".", "demo-data/tallowgate-school", "issues"]
        .iter()
        .any(|folder| {
            let entries = std::fs::read_dir(at.join(folder)).into_iter().flatten();
            let names = entries.flatten().map(|e| e.file_name());
            names
                .map(|n| n.to_string_lossy().into_owned())
                .any(|n| n.starts_with(".ovolo-tmp-"))
        })
}

/// Runs a command and sends a signal as soon as it writes; whether it was met while writing.
fn struck(at: &Path, args: &str, signal: &str) -> bool {
    let mut child = Command::new(env!("CARGO_BIN_EXE_ovolo"))
        .args(args.split_whitespace())
        .current_dir(at)
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .spawn()
        .expect("it runs");
    while !unfinished(at) && child.try_wait().expect("a state").is_none() {
        std::thread::sleep(std::time::Duration::from_micros(100));
    }
    let met = unfinished(at);
    let pid = child.id().to_string();
    let _ = Command::new("kill").args(["-s", signal, &pid]).status();
    let status = child.wait().expect("it ends");
    assert!(
        matches!(status.code(), Some(0 | 130)),
        "{args}, {signal}: {status}"
    );
    met
}

/// Runs each command to its end, then strikes it with each signal; how often one was met while it wrote.
fn strike_each(at: &Path, commands: &[&str]) -> usize {
    let before = tree(at);
    let mut met = 0;
    for args in commands {
        let got = ovolo(at, args);
        let told = String::from_utf8_lossy(&got.stderr);
        assert!(got.status.success(), "{args}: {told}");
        let whole = tree(at);
        let clear = || {
            for name in whole.keys().filter(|name| !before.contains_key(*name)) {
                // After a signal it may not be there.
                let _ = std::fs::remove_file(at.join(name));
            }
            for folder in FOLDERS {
                let _ = std::fs::remove_dir_all(at.join(folder));
            }
        };
        assert!(whole.len() > before.len(), "{args} wrote nothing");
        for signal in ["INT", "TERM"] {
            clear();
            met += usize::from(struck(at, args, signal));
            for (name, bytes) in tree(at) {
                let expected = whole.get(&name);
                assert!(expected.is_some(), "{args}, {signal}: {name} stays");
                assert!(
                    expected == Some(&bytes),
                    "{args}, {signal}: {name} is not whole"
                );
            }
        }
        clear();
        assert_eq!(tree(at).len(), before.len(), "{args}");
    }
    met
}

#[test]
fn papers_plans_and_folders_are_whole_or_not_there() {
    let folder = bid();
    let at = folder.path();
    let problem = "tests/library/cut_plans/glass-perfect-6.json";
    let problem = Path::new(env!("CARGO_MANIFEST_DIR")).join(problem);
    std::fs::copy(problem, at.join("sheets.json")).expect("a copy");
    let met = strike_each(
        at,
        &[
            "papers job.ovo --to papers",
            "papers job.ovo --issue 1 --issued 2026-03-21 --against bid.json --to issues",
            "cut --instance sheets.json --rounds 1 -o plan.json --svg plan.svg --page plan.pdf",
            "start mill-office --small",
        ],
    );
    assert!(met > 0, "no command was met while it wrote");
}

#[test]
fn what_is_sent_out_to_be_filled_in_is_whole_or_not_there() {
    let folder = copy();
    let at = folder.path();
    without_plans(at);
    let school = "demo-data/tallowgate-school";
    let filled = ovolo(at, &format!("answers {JOB} --form filled.csv"));
    assert!(filled.status.success());
    let met = strike_each(
        at,
        &[
            &format!("prices {JOB} --write fill-in.csv"),
            &format!("survey {JOB} --marked marked.xlsx"),
            &format!("answers {JOB} --form form.csv"),
            &format!("answers {JOB} --read filled.csv --to {school}/answers.ovo"),
        ],
    );
    assert!(met > 0, "no command was met while it wrote");
}
