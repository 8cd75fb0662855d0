//! Every code that the engine can print has a page, and every page belongs to a code that is used.

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::Path;

/// Codes in the sources outside the pages themselves, with the files they stand in.
fn used(folder: &Path, found: &mut BTreeMap<String, BTreeSet<String>>) {
    let entries = fs::read_dir(folder).expect("the sources are beside the manifest");
    for entry in entries {
        let path = entry.expect("a readable folder").path();
        if path.is_dir() {
            if !path.ends_with("diagnostics/codes") {
                used(&path, found);
            }
        } else if path.extension().is_some_and(|e| e == "rs") {
            let text = fs::read_to_string(&path).expect("sources are text");
            for (at, _) in text.match_indices("\"OV-") {
                let code: String = text[at + 1..].chars().take(6).collect();
                let whole = code.len() == 6
                    && code[3..].bytes().all(|b| b.is_ascii_digit())
                    && text[at + 7..].starts_with('"');
                if whole {
                    found
                        .entry(code)
                        .or_default()
                        .insert(path.display().to_string());
                }
            }
        }
    }
}

#[test]
fn codes_and_pages_belong_together() {
    let mut found = BTreeMap::new();
    used(
        &Path::new(env!("CARGO_MANIFEST_DIR")).join("src"),
        &mut found,
    );
    assert!(
        found.len() > 100,
        "the search finds the codes: {}",
        found.len()
    );
    let paged: BTreeSet<&str> = ovolo::diagnostics::codes::ENTRIES
        .iter()
        .map(|e| e.code)
        .collect();
    let without: Vec<_> = found
        .iter()
        .filter(|(code, _)| !paged.contains(code.as_str()))
        .collect();
    assert!(without.is_empty(), "codes without a page: {without:?}");
    let pages = Path::new(env!("CARGO_MANIFEST_DIR")).join("src/diagnostics/codes");
    let texts = fs::read_dir(pages).expect("the pages are beside their list");
    let texts = texts.map(|entry| entry.expect("a readable folder").file_name());
    let unlisted: Vec<_> = texts
        .filter_map(|name| name.to_str()?.strip_suffix(".txt").map(str::to_string))
        .filter(|code| !paged.contains(code.as_str()))
        .collect();
    assert!(
        unlisted.is_empty(),
        "pages that no list names: {unlisted:?}"
    );
    let idle: Vec<_> = paged
        .iter()
        .filter(|code| !found.contains_key(**code))
        .collect();
    assert!(
        idle.is_empty(),
        "pages of codes that nothing prints: {idle:?}"
    );
}

#[test]
fn pages_say_what_to_write_instead() {
    for entry in ovolo::diagnostics::codes::ENTRIES {
        let (wrong, right) = (
            entry.page().contains("\n  wrong   "),
            entry.page().contains("\n  right   "),
        );
        assert!(
            right || !wrong,
            "{} shows what is wrong and not what is right",
            entry.code
        );
        assert!(
            !entry.page().ends_with(char::is_whitespace),
            "{} ends with blanks",
            entry.code
        );
    }
}
