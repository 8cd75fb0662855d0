//! Imports go one way: a module names only modules of rows above its own. The table is the one in DEVELOPERS.md.

use std::collections::BTreeSet;
use std::path::{Path, PathBuf};

/// From the ground up; a module may name those of earlier rows.
const ROWS: &[&[&str]] = &[
    &["ids"],
    &["calendar", "defuse", "library", "number"],
    &["diagnostics"],
    &["drawing", "units", "syntax", "cutting"],
    &["paper", "table"],
    &["program", "survey"],
    &["check", "eval", "prices"],
    &["show"],
    &["takeoff"],
    &["tally"],
    &["running"],
    &["schedule"],
    &["pricing"],
    &["estimate"],
    &["study"],
    &["charts"],
    &["lists"],
    &["report"],
    &["explain"],
    &["session"],
    &["start"],
];

fn files(at: &Path, out: &mut Vec<PathBuf>) {
    if at.is_file() {
        out.push(at.to_path_buf());
    } else if let Ok(list) = std::fs::read_dir(at) {
        for entry in list.flatten() {
            files(&entry.path(), out);
        }
    }
}

/// Names after `crate::` in a text, outside comments and test modules.
fn named(text: &str) -> BTreeSet<String> {
    let body = text.split("#[cfg(test)]").next().unwrap_or("");
    body.lines()
        .filter(|l| !l.trim_start().starts_with("//"))
        .flat_map(|l| {
            l.match_indices("crate::").map(|(i, m)| {
                l[i + m.len()..]
                    .chars()
                    .take_while(|c| c.is_ascii_lowercase() || *c == '_')
                    .collect::<String>()
            })
        })
        .filter(|n| !n.is_empty())
        .collect()
}

#[test]
fn modules_name_only_modules_below_them() {
    let source = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
    let listed: BTreeSet<&str> = ROWS.iter().flat_map(|r| r.iter().copied()).collect();
    let mut wrong = Vec::new();
    for entry in std::fs::read_dir(&source).expect("src is there").flatten() {
        let name = entry
            .file_name()
            .to_string_lossy()
            .trim_end_matches(".rs")
            .to_string();
        if ["main", "lib", "cli"].contains(&name.as_str()) {
            continue;
        }
        let Some(row) = ROWS.iter().position(|r| r.contains(&name.as_str())) else {
            wrong.push(format!("{name} has no row in the table"));
            continue;
        };
        let below: BTreeSet<&str> = ROWS[..row].iter().flat_map(|r| r.iter().copied()).collect();
        let mut list = Vec::new();
        files(&entry.path(), &mut list);
        for file in list
            .iter()
            .filter(|f| f.extension().is_some_and(|e| e == "rs"))
        {
            let text = std::fs::read_to_string(file).expect("a source file");
            for other in named(&text) {
                if other != name
                    && listed.contains(other.as_str())
                    && !below.contains(other.as_str())
                {
                    wrong.push(format!(
                        "{} names {other}",
                        file.strip_prefix(&source).unwrap_or(file).display()
                    ));
                }
            }
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn the_command_uses_the_library_from_outside_and_each_outer_crate_has_one_home() {
    let source = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
    let homes: &[(&str, &[&str])] = &[
        ("pest", &["syntax"]),
        ("calamine", &["survey"]),
        ("comfy_table", &["report", "survey"]),
        ("krilla", &["report"]),
        ("skrifa", &["report"]),
        ("clap", &["cli"]),
        ("rust_decimal", &["number"]),
        ("num_rational", &["number"]),
    ];
    let mut list = Vec::new();
    files(&source, &mut list);
    let mut wrong = Vec::new();
    for file in list {
        let text = std::fs::read_to_string(&file).unwrap_or_default();
        let place = file.strip_prefix(&source).unwrap_or(&file).to_path_buf();
        let module = place
            .components()
            .next()
            .map(|c| c.as_os_str().to_string_lossy().to_string())
            .unwrap_or_default();
        for (name, allowed) in homes {
            let uses = text
                .lines()
                .any(|l| !l.trim_start().starts_with("//") && l.contains(&format!("{name}::")));
            if uses && !allowed.contains(&module.as_str()) {
                wrong.push(format!("{} names {name}", place.display()));
            }
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn there_is_one_way_out() {
    // What prints or makes files, and the only places that may: the writer of each kind, and a bar of progress, which shows fixed words.
    let ways: &[(&str, &[&str])] = &[
        ("println!", &[]),
        ("print!", &[]),
        ("eprintln!", &[]),
        ("eprint!", &[]),
        ("dbg!", &[]),
        ("stdout().lock", &["cli/output.rs"]),
        ("stderr().lock", &["cli/output.rs"]),
        ("io::stdout()", &["cli/output.rs"]),
        ("io::stderr()", &["cli/output.rs", "cli/progress.rs"]),
        ("ProgressDrawTarget", &["cli/progress.rs"]),
        ("e.print()", &[]),
        ("fs::write", &[]),
        // A folder is made whole beside its place, and moved there.
        ("File::create", &["cli/folder.rs"]),
        ("OpenOptions", &[]),
        ("tempfile::", &["cli/folder.rs", "cli/written.rs"]),
        (
            "create_dir",
            &["cli/folder.rs", "cli/library.rs", "cli/papers.rs"],
        ),
        ("fs::rename", &["cli/folder.rs"]),
    ];
    let source = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
    let mut list = Vec::new();
    files(&source, &mut list);
    let mut wrong = Vec::new();
    let mut met = BTreeSet::new();
    for file in list {
        let place = file.strip_prefix(&source).unwrap_or(&file);
        let place = place.to_string_lossy().replace('\\', "/");
        if place.contains("/tests/") || place.ends_with("tests.rs") {
            continue;
        }
        let text = std::fs::read_to_string(&file).unwrap_or_default();
        let body = text.split("#[cfg(test)]\nmod").next().unwrap_or("");
        for line in body.lines().filter(|l| !l.trim_start().starts_with("//")) {
            for (way, allowed) in ways.iter().filter(|(way, _)| line.contains(way)) {
                match allowed.contains(&place.as_str()) {
                    true => drop(met.insert(*way)),
                    false => wrong.push(format!("{place}: {}", line.trim())),
                }
            }
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
    // Where a name changes, this test must change with it.
    let used = ways.iter().filter(|(_, allowed)| !allowed.is_empty());
    let unmet: Vec<&str> = used.map(|w| w.0).filter(|w| !met.contains(w)).collect();
    assert!(unmet.is_empty(), "nowhere used: {unmet:?}");
}

/// A conversion that fails is an error or can't be: never a zero that counts. What can't fail is converted in `src/ids.rs`.
#[test]
fn no_conversion_that_fails_becomes_zero() {
    let source = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
    let mut list = Vec::new();
    files(&source, &mut list);
    let converts = [
        "try_from(",
        "try_into()",
        ".to_i64()",
        ".to_u64()",
        ".to_i128()",
        ".to_usize()",
        ".parse()",
        ".parse::<",
    ];
    let mut wrong = Vec::new();
    for file in list
        .iter()
        .filter(|f| f.extension().is_some_and(|e| e == "rs"))
    {
        let text = std::fs::read_to_string(file).expect("a source file");
        let body = text.split("#[cfg(test)]").next().unwrap_or("");
        // A statement at a time, without its line breaks.
        for statement in body.split([';', '{', '}']) {
            let flat: String = statement.split_whitespace().collect();
            for zero in [".unwrap_or(0)", ".unwrap_or_default()"] {
                for (at, _) in flat.match_indices(zero) {
                    // What the zero stands in for ends just before it, unless a closure or another value came between.
                    let before = &flat[..at];
                    let own = before
                        .rfind([',', '='])
                        .map_or(before, |from| &before[from..]);
                    if converts.iter().any(|c| own.contains(c)) {
                        wrong.push(format!(
                            "{}: {}",
                            file.display(),
                            &flat[..flat.len().min(120)]
                        ));
                    }
                }
            }
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

/// Each direct dependency has its reason in DEVELOPERS.md, and nothing else has.
#[test]
fn every_crate_has_its_reason() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let read = |name: &str| std::fs::read_to_string(root.join(name)).expect("it is there");
    let manifest = read("Cargo.toml");
    let mut named = BTreeSet::new();
    for section in manifest
        .split("\n[")
        .filter(|s| s.contains("dependencies]"))
    {
        let lines = section.lines().skip(1);
        named.extend(lines.filter_map(|l| Some(l.split_once(" = ")?.0.trim().to_owned())));
    }
    let page = read("DEVELOPERS.md");
    let table = page.split("## Crates").nth(1).expect("a chapter");
    let table = table.split("\n## ").next().unwrap_or_default();
    let mut told = BTreeSet::new();
    for line in table.lines().filter(|l| l.starts_with("| `")) {
        let cell = line.split('|').nth(1).unwrap_or_default();
        told.extend(cell.split('`').skip(1).step_by(2).map(str::to_owned));
    }
    assert_eq!(named, told);
}

#[test]
fn every_public_module_has_an_example_that_runs() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
    let (mut left, mut seen) = (vec![(root.clone(), root.join("lib.rs"))], 0);
    while let Some((folder, file)) = left.pop() {
        let text = std::fs::read_to_string(&file).expect("a module");
        let head = text.lines().take_while(|line| line.starts_with("//!"));
        let fences: Vec<&str> = head.filter(|line| line.starts_with("//! ```")).collect();
        assert!(fences.contains(&"//! ```"), "{} has none", file.display());
        seen += 1;
        let names = text
            .lines()
            .filter_map(|line| line.strip_prefix("pub mod "));
        for name in names.filter_map(|name| name.strip_suffix(';')) {
            let below = folder.join(name);
            let files = [folder.join(format!("{name}.rs")), below.join("mod.rs")];
            let file = files.into_iter().find(|file| file.is_file());
            left.push((below, file.expect("the file of a module")));
        }
    }
    assert!(seen >= 70, "{seen}");
}
