//! Change orders: two issues of a job compared, for the owner.

use super::leaks::{hidden, holds, job, said};
use super::outputs::ovolo;
use serde_json::Value;

fn cents(text: &str) -> i64 {
    text.replace([',', '.'], "").parse().expect("cents")
}

fn change(folder: &std::path::Path, file: &str, from: &str, to: &str) {
    let path = folder.join(file);
    let text = std::fs::read_to_string(&path).expect("is there");
    assert!(text.contains(from), "{file} has {from}");
    std::fs::write(&path, text.replace(from, to)).expect("writes");
}

/// A job of many secrets with its record, and what changed since: a survey cell, a private remark, a decision, the wage.
fn changed() -> tempfile::TempDir {
    let folder = job();
    let at = folder.path();
    said(at, "estimate job.ovo --record bid.json");
    change(
        at,
        "survey.csv",
        "B1,Rear,24,30,3,alarm code 4471",
        "B1,Rear,24,30,30,alarm code 4472",
    );
    change(
        at,
        "survey.csv",
        "A1,Front,32 1/4,62,1,key under the Dunmore stone",
        "A1,Front,32 1/4,62,1,key with Dunmore",
    );
    change(at, "job.ovo", "wage    37.4193", "wage    38.4193");
    let decided = "change treatment at \"A2\" to reglaze because \"opened up: no putty left\" by \"R. Marsh\" on 2026-03-20\n\nalternate ";
    change(at, "job.ovo", "alternate ", decided);
    folder
}

/// Papers of this project, check 6.1, for a change order: the earlier sum and the changes are the new sum, to the cent.
#[test]
fn the_earlier_sum_and_the_changes_are_the_new_sum() {
    let folder = changed();
    let at = folder.path();
    let text = said(at, "papers job.ovo changed --against bid.json --json");
    let value: Value = serde_json::from_str(&text).expect("JSON");
    let list = &value["papers"][0]["lists"][0];
    let columns = list["columns"].as_array().expect("columns");
    let cells = |column: &str, kind: &str| -> Vec<String> {
        let at = columns
            .iter()
            .position(|c| c["name"] == column)
            .expect("a column");
        let rows = list["rows"].as_array().expect("rows").iter();
        let of = rows.filter(|r| r["kind"] == kind);
        of.map(|r| r["cells"][at]["text"].as_str().expect("text").to_owned())
            .collect()
    };
    let record: Value =
        serde_json::from_str(&std::fs::read_to_string(at.join("bid.json")).expect("a record"))
            .expect("JSON");
    let bid = cents(record["totals"]["total"].as_str().expect("a total"));
    let sum = |column: &str| -> i64 {
        let lines: i64 = cells(column, "line")
            .iter()
            .filter(|c| !c.is_empty())
            .map(|c| cents(c))
            .sum();
        assert_eq!(lines, cents(&cells(column, "total")[0]), "{column}");
        lines
    };
    let (was, now, adds) = (sum("amount_before"), sum("amount_now"), sum("adds"));
    assert_eq!(was, bid);
    assert_eq!(was + adds, now);
    assert!(adds > 0, "{adds}");
    let shown = said(at, "papers job.ovo changed --against bid.json");
    let why = said(at, "why job.ovo --against bid.json --openings --json");
    let why: Value = serde_json::from_str(&why).expect("JSON");
    assert_eq!(cents(why["adds"].as_str().expect("money")), adds);
    // Dearer hours since the bid are in neither.
    assert_ne!(why["prices_moved"], "0.00");
    let marks = cells("mark", "line");
    let reasons = cells("reason", "line");
    let reason = |mark: &str| {
        let at = marks
            .iter()
            .position(|m| m == mark)
            .unwrap_or_else(|| panic!("no {mark}: {shown}"));
        reasons[at].as_str()
    };
    assert!(reason("A2").contains("reglaze, was spot putty"), "{shown}");
    assert!(reason("A2").contains("by R. Marsh, 2026-03-20"), "{shown}");
    assert_eq!(
        reason("B1"),
        "B1 cracked: 30 lites, was 3 lites; for a reason that the office keeps: ask there"
    );
    assert_eq!(
        reason("A1"),
        "for a reason that the office keeps: ask there"
    );
    assert!(shown.contains("New sum:"), "{shown}");
    assert!(shown.contains("Sum of the issue of 2026-03-21:"), "{shown}");
}

#[test]
fn a_change_order_holds_no_private_figure() {
    let folder = changed();
    let at = folder.path();
    let with = "papers job.ovo changed --against bid.json";
    let mut texts = vec![
        said(at, with),
        said(at, &format!("{with} --json")),
        said(at, "papers job.ovo --against bid.json --csv changed/moved"),
    ];
    said(at, &format!("{with} --to out"));
    let page = at.join("out/changed.html");
    texts.push(std::fs::read_to_string(page).expect("a page"));
    for text in texts {
        let text = text.to_lowercase();
        for (kind, word) in hidden("owner", "changed")
            .into_iter()
            .chain([("private column", "4472")])
        {
            assert!(!holds(&text, word), "{kind} {word}: {text}");
        }
    }
}

#[test]
fn a_change_order_is_made_beside_an_earlier_issue_alone() {
    let folder = changed();
    let at = folder.path();
    let plain = said(at, "papers job.ovo");
    assert!(!plain.contains("changed"), "{plain}");
    let got = ovolo(at, "papers job.ovo changed");
    let told = String::from_utf8_lossy(&got.stderr);
    assert!(
        told.contains("`changed` states what changed since an earlier issue"),
        "{told}"
    );
    assert!(told.contains("--against RECORD"), "{told}");
    let args = [
        "estimate",
        "job.ovo",
        "--alternate",
        "Kestrel plan",
        "--record",
        "other.json",
    ];
    let run = |args: &[&str]| {
        let program = std::process::Command::new(env!("CARGO_BIN_EXE_ovolo"));
        let mut program = program;
        program.current_dir(at).args(args).output().expect("runs")
    };
    assert!(run(&args).status.success());
    let got = run(&["papers", "job.ovo", "changed", "--against", "other.json"]);
    let told = String::from_utf8_lossy(&got.stderr);
    assert!(
        told.contains("other.json is a record of the alternate \"Kestrel plan\"."),
        "{told}"
    );
}

/// The second issue of a job compares itself with the first.
#[test]
fn the_second_issue_states_what_changed() {
    let folder = job();
    let at = folder.path();
    let first = said(at, "papers job.ovo --issue 1 --to out");
    assert!(!first.contains("changed.html"), "{first}");
    change(at, "survey.csv", "B1,Rear,24,30,3", "B1,Rear,24,30,4");
    let second = said(at, "papers job.ovo --issue 2 --to out");
    assert!(
        second.contains("papers/changed.html, for the owner"),
        "{second}"
    );
    let page = std::fs::read_to_string(at.join("out/issue-2/papers/changed.html")).expect("a page");
    assert!(page.contains("B1 cracked: 4 lites, was 3 lites"), "{page}");
    // It is answered by its number, which is that of the issue; an order has its supplier in its number too.
    assert!(page.contains(" no. 2</h1>"), "{page}");
    let folder = at.join("out/issue-2/papers");
    let names = std::fs::read_dir(folder).expect("a folder").flatten();
    let names: Vec<_> = names.map(|f| f.path()).collect();
    let is_order = |p: &&std::path::PathBuf| {
        let page = std::fs::read_to_string(p).unwrap_or_default();
        page.contains(" no. 2-") && page.contains("for the supplier")
    };
    assert!(names.iter().any(|p| is_order(&p)), "{names:?}");
}
