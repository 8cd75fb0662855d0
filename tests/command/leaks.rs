//! The leak test: a job whose private figures are unmistakable, and every output for every outside reader searched for each of them.
//!
//! `cargo test --test command leaks -- --nocapture` lists what was searched.

use super::outputs::ovolo;
use ovolo::paper::Reader;
use std::io::Read;
use std::path::Path;

/// What only the office may see.
const SECRETS: [(&str, &[&str]); 11] = [
    ("wage", &["37.4193", "37.42"]),
    ("burden", &["31.77", "49.31", "49.307"]),
    ("overhead", &["14.219", "14.22", "overhead"]),
    ("contingency", &["6.613", "contingency"]),
    ("profit", &["10.307", "10.31", "profit"]),
    ("permits", &["951.37"]),
    ("paces", &["41.37", "23.93"]),
    ("private given", &["7.713", "0.07713", "harrow", "house"]),
    ("private fact", &["vane", "broker"]),
    ("private column", &["dunmore", "4471"]),
    ("alternate, and who decided", &["kestrel", "tolliver"]),
];

/// Unit prices, and the suppliers: each may see its own name on its own order.
const PRICES: [&str; 6] = ["18.531", "18.53", "13.417", "13.42", "4.603", "list 77"];
const SUPPLIERS: [&str; 2] = ["quillmark", "ferncote"];

/// Hours of the job and of the crew's rows: for the crew alone.
const HOURS: [&str; 4] = ["11.03", "2.76", "8.71", "hours"];

/// The record of an earlier run, for papers that state what changed.
const EARLIER: &str = "--against earlier.json";

/// Every paper for an outside reader, as the program lists them: whom it is for, and its name.
fn outside(folder: &Path) -> Vec<(String, String)> {
    let list = said(folder, &format!("papers job.ovo --json {EARLIER}"));
    let list: serde_json::Value = serde_json::from_str(&list).expect("JSON");
    let papers = list["papers"].as_array().expect("papers").iter();
    let text =
        |paper: &serde_json::Value, key: &str| paper[key].as_str().expect("a text").to_owned();
    let all = papers.map(|paper| (text(paper, "for"), text(paper, "name")));
    all.filter(|(reader, _)| reader != Reader::Office.word())
        .collect()
}

pub(super) fn job() -> tempfile::TempDir {
    let folder = tempfile::tempdir().expect("a folder");
    let from = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/command/leaks");
    for name in [
        "job.ovo",
        "rules.ovo",
        "papers.ovo",
        "survey.csv",
        "prices.csv",
    ] {
        std::fs::copy(from.join(name), folder.path().join(name)).expect("a file of the job");
    }
    said(folder.path(), "estimate job.ovo --record earlier.json");
    folder
}

pub(super) fn said(folder: &Path, args: &str) -> String {
    let got = ovolo(folder, args);
    let told = String::from_utf8_lossy(&got.stderr).to_string();
    assert!(got.status.success(), "{args}: {told}");
    String::from_utf8(got.stdout).expect("text")
}

/// Every output of a paper: what it is called, and its text.
fn outputs(folder: &Path, paper: &str) -> Vec<(String, String)> {
    let mut all = vec![
        (
            "terminal".to_owned(),
            said(folder, &format!("papers job.ovo {paper} {EARLIER}")),
        ),
        (
            "JSON".to_owned(),
            said(folder, &format!("papers job.ovo {paper} --json {EARLIER}")),
        ),
    ];
    let lists = said(folder, &format!("papers job.ovo {paper} {EARLIER} --csv"));
    for list in lists.lines() {
        let text = said(
            folder,
            &format!("papers job.ovo {paper} {EARLIER} --csv {list}"),
        );
        all.push((format!("CSV of {list}"), text));
    }
    let book = format!("{paper}.xlsx");
    said(
        folder,
        &format!("papers job.ovo {paper} --workbook {book} {EARLIER}"),
    );
    for (part, text) in book_parts(&folder.join(&book)) {
        all.push((format!("workbook, {part}"), format!("{part}\n{text}")));
    }
    let to = format!("out-{paper}");
    said(
        folder,
        &format!("papers job.ovo {paper} --to {to} {EARLIER}"),
    );
    for entry in std::fs::read_dir(folder.join(&to)).expect("a folder") {
        let file = entry.expect("an entry").path();
        let name = file.file_name().expect("a name").to_string_lossy();
        // The texts of a PDF are packed; `tests/outside/pdf.rs` searches them with a reader of PDF.
        if name.ends_with(".pdf") {
            continue;
        }
        let bytes = std::fs::read(&file).expect("a file");
        all.push((
            format!("file {name}"),
            format!("{name}\n{}", String::from_utf8_lossy(&bytes)),
        ));
    }
    all
}

/// The parts of a workbook: tabs, hidden or not, with formulas and stored values; texts; names; comments; links; what it says of itself.
fn book_parts(file: &Path) -> Vec<(String, String)> {
    let file = std::fs::File::open(file).expect("a workbook");
    let mut archive = zip::ZipArchive::new(file).expect("an archive");
    let mut parts = Vec::new();
    for at in 0..archive.len() {
        let mut entry = archive.by_index(at).expect("an entry");
        let mut bytes = Vec::new();
        entry.read_to_end(&mut bytes).expect("readable");
        let name = entry.name().expect("a name").to_string();
        parts.push((name, String::from_utf8_lossy(&bytes).to_string()));
    }
    parts
}

/// What a reader may not see: kind and words.
pub(super) fn hidden(reader: &str, paper: &str) -> Vec<(&'static str, &'static str)> {
    let mut all: Vec<(&str, &str)> = Vec::new();
    for (kind, words) in SECRETS {
        all.extend(words.iter().map(|w| (kind, *w)));
    }
    all.extend(PRICES.map(|w| ("price", w)));
    let other = |name: &&str| !paper.contains(*name);
    all.extend(SUPPLIERS.into_iter().filter(other).map(|w| ("supplier", w)));
    if reader != "crew" {
        all.extend(HOURS.map(|w| ("hours", w)));
    }
    all
}

/// Whether a text has a word, or a number that is not a part of a longer one.
pub(super) fn holds(text: &str, word: &str) -> bool {
    let digit = |c: Option<char>| c.is_some_and(|c| c.is_ascii_digit());
    text.match_indices(word).any(|(at, _)| {
        let number = word.starts_with(|c: char| c.is_ascii_digit());
        let before = text[..at].chars().next_back();
        let after = text[at + word.len()..].chars().next();
        !number || !digit(before) && !digit(after)
    })
}

#[test]
fn no_output_for_an_outside_reader_holds_a_private_figure() {
    let folder = job();
    let papers = outside(folder.path());
    // Each reader outside has a paper, so that each row of the table of readers is tried.
    for reader in Reader::ALL.into_iter().filter(|r| *r != Reader::Office) {
        let word = reader.word();
        assert!(papers.iter().any(|(r, _)| r == word), "{word}: {papers:?}");
    }
    let (mut searched, mut leaks) = (0, Vec::new());
    for (reader, paper) in &papers {
        let hidden = hidden(reader, paper);
        for (what, text) in outputs(folder.path(), paper) {
            let text = text.to_lowercase();
            searched += 1;
            println!(
                "{paper}, for {reader}: {what}, {} bytes, {} words looked for",
                text.len(),
                hidden.len()
            );
            for (kind, word) in &hidden {
                if holds(&text, word) {
                    leaks.push(format!("{paper}, for {reader}: {what} holds {kind} {word}"));
                }
            }
        }
    }
    assert!(leaks.is_empty(), "{}", leaks.join("\n"));
    assert!(searched >= 4 * papers.len(), "{searched} outputs searched");
}

#[test]
fn what_an_issue_hands_over_holds_no_private_figure() {
    let folder = job();
    said(
        folder.path(),
        "papers job.ovo --issued 2024-03-01 --issue 1 --to issues",
    );
    let issue = folder.path().join("issues/issue-1");
    let list = std::fs::read(issue.join("issue.json")).expect("a list");
    let list: serde_json::Value = serde_json::from_slice(&list).expect("JSON");
    let papers = outside(folder.path()).into_iter();
    // The first issue has nothing to compare with.
    let due = papers.filter(|(_, name)| name != "changed").count();
    let (mut searched, mut leaks) = (0, Vec::new());
    for paper in list["papers"].as_array().expect("papers") {
        let text = |key: &str| paper[key].as_str().expect("a text");
        let (file, reader) = (text("file"), text("for"));
        assert_eq!(file.starts_with("office/"), reader == "office", "{file}");
        if reader == "office" || file.ends_with(".pdf") {
            continue;
        }
        let bytes = std::fs::read(issue.join(file)).expect("a paper");
        let all = format!("{file}\n{}", String::from_utf8_lossy(&bytes)).to_lowercase();
        searched += 1;
        println!("{file}, for {reader}: {} bytes", all.len());
        for (kind, word) in hidden(reader, text("paper")) {
            if holds(&all, word) {
                leaks.push(format!("{file} holds {kind} {word}"));
            }
        }
    }
    assert!(leaks.is_empty(), "{}", leaks.join("\n"));
    assert_eq!(searched, due);
    // Nothing else lies in what is handed over.
    let handed = std::fs::read_dir(issue.join("papers")).expect("a folder");
    let listed = |name: &str| {
        let papers = list["papers"].as_array().expect("papers");
        papers.iter().any(|p| p["file"] == format!("papers/{name}"))
    };
    for entry in handed.flatten() {
        let name = entry.file_name().to_string_lossy().to_string();
        assert!(listed(&name), "{name}");
    }
}

#[test]
fn the_workbook_of_the_office_has_what_others_may_not_see() {
    let folder = job();
    said(folder.path(), "papers job.ovo --workbook office.xlsx");
    let parts = book_parts(&folder.path().join("office.xlsx"));
    let all: String = parts
        .into_iter()
        .map(|(_, text)| text.to_lowercase())
        .collect();
    for word in ["overhead", "quillmark", "18.531", "profit", "dunmore"] {
        assert!(holds(&all, word), "{word}");
    }
}

#[test]
fn what_is_looked_for_is_there_to_be_found() {
    let folder = job();
    let office = said(folder.path(), "papers job.ovo office").to_lowercase();
    let office = office + &said(folder.path(), "estimate job.ovo --csv pay").to_lowercase();
    let office = office + &said(folder.path(), "estimate job.ovo --assumptions").to_lowercase();
    let office = office + &said(folder.path(), "weigh job.ovo").to_lowercase();
    let all = SECRETS.iter().flat_map(|(kind, words)| {
        let first = words.iter().find(|w| holds(&office, w));
        first.is_none().then_some(*kind)
    });
    assert_eq!(all.collect::<Vec<_>>(), Vec::<&str>::new(), "{office}");
    for name in SUPPLIERS {
        assert!(holds(&office, name), "{name}");
    }
    let crew = said(folder.path(), "papers job.ovo crew-front").to_lowercase();
    assert!(holds(&crew, "2.76") && holds(&crew, "hours"), "{crew}");
    // What an outside reader does hear: that something is open, and that a caution is kept back.
    let shop = said(folder.path(), "papers job.ovo shop");
    assert!(shop.contains("child place"), "{shop}");
    assert!(shop.contains("1 fact that the office keeps"), "{shop}");
    assert!(shop.contains("1 more caution"), "{shop}");
}
