//! Whatever stands in a survey, a sheet, a price book, a path or an argument, nothing of it steers a terminal, turns the direction of
//! reading, runs as a formula or acts as markup in any output of any command.
//!
//! The commands and their options are those that the program itself lists for a shell: one without a run here fails the test.

mod checks;
mod job;
mod runs;

use checks::{csv_is_harmless, file_is_harmless, harm};
use job::{HARM, job, mark};
use runs::{Out, RUNS, words};
use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};
use std::process::{Command, Output, Stdio};

fn ran(folder: &Path, args: &[String]) -> Output {
    let got = Command::new(env!("CARGO_BIN_EXE_ovolo"))
        .args(args)
        .current_dir(folder)
        .output()
        .expect("it runs");
    assert!(
        got.status.code().is_some_and(|c| c != 70),
        "{args:?}: a fault of the program"
    );
    for (way, bytes) in [("output", &got.stdout), ("messages", &got.stderr)] {
        let text = String::from_utf8_lossy(bytes);
        assert!(harm(&text).is_empty(), "{args:?}, {way}: {text:?}");
    }
    got
}

/// Every command with its options: whether each takes a value. From the program's own list for a shell.
fn listed() -> BTreeMap<String, BTreeMap<String, bool>> {
    let got = Command::new(env!("CARGO_BIN_EXE_ovolo"))
        .args(["shell", "fish"])
        .output()
        .expect("it runs");
    let text = String::from_utf8(got.stdout).expect("text");
    let mut out: BTreeMap<String, BTreeMap<String, bool>> = BTreeMap::new();
    let after = |line: &str, what: &str| -> Option<String> {
        let (_, rest) = line.split_once(what)?;
        let end = rest.find([' ', '"', '\''])?;
        Some(rest[..end].to_owned())
    };
    for line in text.lines().filter(|l| l.starts_with("complete ")) {
        let option = after(line, " -l ").filter(|o| !["help", "version"].contains(&&**o));
        if let Some(command) = after(line, "needs_command\" -f -a \"") {
            out.entry(command).or_default();
        } else if let Some(command) = after(line, "using_subcommand ")
            && let Some(option) = option
        {
            let valued = line.ends_with(" -r");
            out.entry(command).or_default().insert(option, valued);
        }
    }
    // Not listed, since nobody types it by hand.
    out.entry("shell".to_owned()).or_default();
    assert!(out.len() > 15 && out["estimate"].len() > 10, "{text}");
    out
}

/// Options that every command has; `--watch` has a test of its own, since it never ends.
const EVERYWHERE: [&str; 4] = ["json", "all-messages", "issued", "width"];

#[test]
fn every_command_and_option_has_a_run_here() {
    let mut missing = Vec::new();
    for (command, options) in listed() {
        let runs: Vec<Vec<String>> = RUNS
            .iter()
            .map(|run| words(run.args))
            .filter(|args| args[0] == command)
            .collect();
        if runs.is_empty() {
            missing.push(command.clone());
        }
        let elsewhere = |o: &&String| EVERYWHERE.contains(&o.as_str()) || *o == "watch";
        for option in options.keys().filter(|o| !elsewhere(o)) {
            let option = format!("--{option}");
            if !runs.iter().flatten().any(|word| *word == option) {
                missing.push(format!("{command} {option}"));
            }
        }
    }
    assert!(
        missing.is_empty(),
        "give each a run in runs.rs: {missing:?}"
    );
}

/// Every file below a folder.
fn files(folder: &Path) -> BTreeSet<PathBuf> {
    let mut found = BTreeSet::new();
    let mut todo = vec![folder.to_path_buf()];
    while let Some(at) = todo.pop() {
        for entry in std::fs::read_dir(&at).expect("a folder").flatten() {
            match entry.path().is_dir() {
                true => todo.push(entry.path()),
                false => drop(found.insert(entry.path())),
            }
        }
    }
    found
}

#[test]
fn nothing_that_a_command_prints_or_writes_does_harm() {
    let folder = tempfile::tempdir().expect("a folder");
    let at = folder.path();
    job(at);
    let before = files(at);
    let inputs: BTreeSet<Vec<u8>> = before
        .iter()
        .map(|f| std::fs::read(f).expect("a file"))
        .collect();
    let mut all = String::new();
    for run in RUNS {
        let args = words(run.args);
        let got = ran(at, &args);
        let text = String::from_utf8(got.stdout).expect("text");
        let told = String::from_utf8_lossy(&got.stderr);
        assert_eq!(got.status.code(), Some(run.code), "{args:?}: {text}{told}");
        match run.out {
            Out::Words => {}
            Out::Csv => csv_is_harmless(&text, run.args),
            // A name alone lists the names; each of them is printed too.
            Out::Tables => {
                assert!(text.lines().count() > 0, "{args:?} names no table");
                for table in text.lines() {
                    let mut args = args.clone();
                    args.push(table.to_owned());
                    let got = ran(at, &args);
                    let text = String::from_utf8(got.stdout).expect("text");
                    assert!(got.status.success(), "{args:?}: {text}");
                    csv_is_harmless(&text, table);
                    all.push_str(&text);
                }
            }
        }
        all.push_str(&text);
        all.push_str(&told);
        // A person reads one form, a program the other.
        if run.out == Out::Words && !run.args.contains("--json") {
            let mut args = args;
            args.push("--json".to_owned());
            let got = ran(at, &args);
            let text = String::from_utf8(got.stdout).expect("text");
            if text.starts_with(['{', '[']) {
                let whole: Result<serde_json::Value, _> = serde_json::from_str(&text);
                assert!(whole.is_ok(), "{args:?}: {text}");
            }
        }
    }
    let written: Vec<PathBuf> = files(at).difference(&before).cloned().collect();
    let mut kinds = BTreeSet::new();
    for file in &written {
        let bytes = std::fs::read(file).expect("a file");
        let kind = file.extension().unwrap_or_default().to_string_lossy();
        kinds.insert(kind.to_string());
        let name = file.strip_prefix(at).expect("below").to_string_lossy();
        assert!(harm(&name).is_empty(), "{name:?}");
        // A copy of an input is the user's own file, byte for byte.
        if !inputs.contains(&bytes) {
            file_is_harmless(&name, &kind, &bytes, &mut all);
        }
    }
    for kind in ["csv", "html", "json", "pdf", "svg", "txt", "xlsx"] {
        assert!(kinds.contains(kind), "no {kind} was written: {written:?}");
    }
    // The wings "@wing" and "-wing" are one as the name of a file: each has its paper.
    assert!(at.join("out/crew-wing_2j_31m.pdf").exists());
    assert!(at.join("out/crew-wing_2j_31m_2.pdf").exists());
    every_text_was_met(&all);
}

/// A text that is never printed anywhere would be no test.
fn every_text_was_met(all: &str) {
    let sheets = [job::RULES, job::PAPERS, job::JOB].concat();
    let texts: BTreeSet<&str> = sheets
        .lines()
        .filter(|line| !line.starts_with("use ") && !line.contains(" from \""))
        .flat_map(|line| line.split('"').skip(1).step_by(2))
        .filter(|text| !text.contains('{') && text.starts_with(['=', '+', '-', '@', '<']))
        .collect();
    assert!(texts.len() > 60, "{texts:?}");
    let met = |text: &&&str| {
        let page = ovolo::defuse::html(text);
        all.contains(**text) || all.contains(&page)
    };
    let unmet: Vec<&&str> = texts.iter().filter(|t| !met(t)).collect();
    assert!(unmet.is_empty(), "printed nowhere: {unmet:?}");
    // JSON alters nothing: the marks come back whole.
    let mark = "=1+1\\u001b[2J\\u0007\\u009b31m\\u202e";
    assert!(all.contains(mark));
}

#[test]
fn arguments_and_paths_of_the_worst_kind_do_no_harm() {
    let folder = tempfile::tempdir().expect("a folder");
    let at = folder.path();
    job(at);
    let odd = format!("no{HARM}<b>");
    let formula = format!("={HARM}");
    for (command, options) in listed() {
        for odd in [&odd, &formula] {
            for args in [
                vec![&*command, odd],
                vec![&*command, odd, odd],
                vec![&*command, "--json", odd],
                vec![&*command, "job.ovo", odd],
                vec![&*command, "job.ovo", "fate", odd],
                vec![&*command, "job.ovo", "--no-such", odd],
            ] {
                let args: Vec<String> = args.into_iter().map(str::to_owned).collect();
                ran(at, &args);
            }
        }
        for (option, _) in options.iter().filter(|(_, valued)| **valued) {
            let option = format!("--{option}");
            // What is written there belongs to the user; what is said of it is ours.
            let args = [&*command, "job.ovo", &option, &odd].map(str::to_owned);
            ran(at, &args);
        }
    }
}

/// A run that never ends by itself says what any run says.
#[test]
fn watching_prints_nothing_that_does_harm() {
    let folder = tempfile::tempdir().expect("a folder");
    let at = folder.path();
    job(at);
    let (out, err) = (at.join("watch.out"), at.join("watch.err"));
    let file = |path: &Path| Stdio::from(std::fs::File::create(path).expect("a file"));
    let mut child = Command::new(env!("CARGO_BIN_EXE_ovolo"))
        .args(["estimate", "job.ovo", "--watch", "--assumptions"])
        .current_dir(at)
        .stdout(file(&out))
        .stderr(file(&err))
        .spawn()
        .expect("it runs");
    let read = |path: &Path| std::fs::read_to_string(path).unwrap_or_default();
    let mut tries = 0;
    while !read(&out).contains("Totals") && tries < 600 {
        std::thread::sleep(std::time::Duration::from_millis(100));
        tries += 1;
    }
    child.kill().expect("it stops");
    child.wait().expect("it ends");
    let text = read(&out) + &read(&err);
    assert!(text.contains("=nobody<b>"), "{text}");
    assert!(harm(&text).is_empty(), "{text:?}");
}

/// Marked copies keep the text of every cell of the user's own file, and run none of it.
#[test]
fn a_marked_copy_keeps_the_text_of_every_cell() {
    let folder = tempfile::tempdir().expect("a folder");
    let at = folder.path();
    job(at);
    let args = words("survey faulty.ovo --marked m.xlsx");
    let got = ran(at, &args);
    assert!(at.join("m.xlsx").exists(), "{got:?}");
    let bytes = std::fs::read(at.join("m.xlsx")).expect("the marked copy");
    let texts: Vec<String> = checks::cells(&bytes).into_iter().map(|c| c.1).collect();
    for start in [
        "=1+1",
        "+A2",
        "<td>",
        "@wing",
        "=HYPERLINK(\"x\")",
        "＝wide",
    ] {
        assert!(
            texts.iter().any(|t| t.starts_with(start)),
            "{start}: {texts:?}"
        );
    }
    let own = mark("=1+1");
    assert!(texts.iter().any(|t| t.contains(&own[..4])), "{texts:?}");
}
