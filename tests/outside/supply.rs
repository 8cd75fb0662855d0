//! What this project is built from: licenses that may be used, sources that may be drawn on, crates that stand in the tree in two versions.
//!
//! Advisories are not looked up: their database is fetched over the network on every run, which a build of this project never needs.
//! `cargo audit` reads Cargo.lock where a network is there.

use serde_json::Value;
use std::collections::BTreeMap;
use std::process::Command;

/// Licenses under which a program may be passed on with a notice alone.
const LICENSES: &[&str] = &[
    "Apache-2.0",
    "Apache-2.0 WITH LLVM-exception",
    "BSD-2-Clause",
    "BSD-3-Clause",
    "BSL-1.0",
    "CC0-1.0",
    "ISC",
    "MIT",
    "MIT-0",
    "Unicode-3.0",
    "Unlicense",
    "Zlib",
];

/// The only place crates come from.
const REGISTRY: &str = "registry+https://github.com/rust-lang/crates.io-index";

/// Crates that others need in several versions; none is named by this project itself.
const TWICE: &[&str] = &[
    "getrandom",
    "hashbrown",
    "miniz_oxide",
    "quick-error",
    "rand",
    "rand_chacha",
    "rand_core",
    "syn",
    "thiserror",
    "thiserror-impl",
];

fn packages() -> Vec<Value> {
    let got = Command::new(env!("CARGO"))
        .args(["metadata", "--format-version", "1", "--locked", "--offline"])
        .args(["--filter-platform", "x86_64-unknown-linux-gnu"])
        .current_dir(env!("CARGO_MANIFEST_DIR"))
        .output()
        .expect("this test needs cargo");
    assert!(
        got.status.success(),
        "{}",
        String::from_utf8_lossy(&got.stderr)
    );
    let mut value: Value = serde_json::from_slice(&got.stdout).expect("JSON");
    let list = value["packages"].take();
    serde_json::from_value(list).expect("a list")
}

/// Whether an expression of SPDX leaves a choice among our licenses: each part joined by AND must.
fn allowed(expression: &str) -> bool {
    let plain = expression.replace(['(', ')'], "").replace('/', " OR ");
    plain.split(" AND ").all(|part| {
        part.split(" OR ")
            .any(|license| LICENSES.contains(&license.trim()))
    })
}

#[test]
fn every_crate_may_be_used_and_comes_from_the_registry() {
    let mut wrong = Vec::new();
    let mut versions: BTreeMap<String, Vec<String>> = BTreeMap::new();
    for package in packages() {
        let text = |field: &str| package[field].as_str().unwrap_or_default().to_owned();
        let name = text("name");
        versions
            .entry(name.clone())
            .or_default()
            .push(text("version"));
        if name == env!("CARGO_PKG_NAME") {
            continue;
        }
        if !allowed(&text("license")) {
            wrong.push(format!("{name}: license {:?}", text("license")));
        }
        if text("source") != REGISTRY {
            wrong.push(format!("{name}: source {:?}", text("source")));
        }
    }
    assert!(versions.len() > 20, "{versions:?}");
    versions.retain(|name, found| found.len() > 1 && !TWICE.contains(&name.as_str()));
    wrong.extend(
        versions
            .iter()
            .map(|(name, found)| format!("{name}: {}", found.join(", "))),
    );
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn expressions_are_read_as_meant() {
    assert!(allowed("MIT OR GPL-3.0-only") && allowed("(MIT OR Apache-2.0) AND Unicode-3.0"));
    assert!(!allowed("GPL-3.0-only") && !allowed("MIT AND GPL-3.0-only") && !allowed(""));
}
