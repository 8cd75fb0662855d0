//! Issues of papers: made whole or not at all, and made again from their own copies.

use super::handover::PIXEL;
use super::outputs::{ovolo, started};
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

const PAPERS: &str = "
list windows for each opening {
  column mark
  column treatment
}
paper shop_windows for shop {
  list windows
}
paper office_windows for office {
  list windows
}
paper pictures for archive {
  each opening sorted by mark {
    heading \"{mark}\"
    photograph mark
  }
}
";

/// A job with papers in a folder below another, whose rules stand beside it.
fn job() -> tempfile::TempDir {
    let folder = started();
    let at = folder.path();
    std::fs::create_dir(at.join("site")).expect("a folder");
    for name in ["job.ovo", "survey.csv", "prices.csv"] {
        std::fs::rename(at.join(name), at.join("site").join(name)).expect("moved");
    }
    let place = at.join("site/job.ovo");
    let text = std::fs::read_to_string(&place).expect("the job");
    let text = text.replace("\"rules.ovo\"", "\"../rules.ovo\"");
    let text = text.replace(
        "  money USD\n",
        "  money USD\n  issued 2026-03-21\n  photographs from \"../photos\"\n",
    );
    std::fs::write(&place, text + PAPERS).expect("the job with papers");
    std::fs::create_dir(at.join("photos")).expect("a folder");
    std::fs::write(at.join("photos/A1.png"), PIXEL).expect("a photograph");
    folder
}

/// Every file below a folder by its path, with its bytes.
fn files(folder: &Path) -> BTreeMap<PathBuf, Vec<u8>> {
    let mut found = BTreeMap::new();
    let mut todo = vec![folder.to_path_buf()];
    while let Some(at) = todo.pop() {
        for entry in std::fs::read_dir(&at).expect("a folder").flatten() {
            let path = entry.path();
            if path.is_dir() {
                todo.push(path);
            } else {
                let own = path.strip_prefix(folder).expect("below").to_path_buf();
                found.insert(own, std::fs::read(&path).expect("a file"));
            }
        }
    }
    found
}

fn done(folder: &Path, args: &str) -> String {
    let got = ovolo(folder, args);
    let told = String::from_utf8_lossy(&got.stderr).to_string();
    assert!(got.status.success(), "{args}: {told}");
    String::from_utf8_lossy(&got.stdout).to_string()
}

#[test]
fn an_issue_is_made_again_from_its_own_copies() {
    let folder = job();
    let at = folder.path();
    done(at, "papers site/job.ovo --issue 1 --to out");
    let first = files(&at.join("out/issue-1"));
    let names: Vec<String> = first.keys().map(|p| p.display().to_string()).collect();
    let expected = [
        "issue.json",
        "office/inputs/photos/A1.png",
        "office/inputs/rules.ovo",
        "office/inputs/site/job.ovo",
        "office/inputs/site/prices.csv",
        "office/inputs/site/survey.csv",
        "office/office_windows.html",
        "office/record.json",
        "papers/pictures.html",
        "papers/shop_windows.html",
    ];
    let html = |n: &&String| !n.ends_with(".pdf");
    assert_eq!(names.iter().filter(html).collect::<Vec<_>>(), expected);
    // The originals are gone; the issue is whole in itself.
    for name in [
        "rules.ovo",
        "site/survey.csv",
        "site/prices.csv",
        "photos/A1.png",
    ] {
        std::fs::remove_file(at.join(name)).expect("gone");
    }
    let list: serde_json::Value =
        serde_json::from_slice(&first[Path::new("issue.json")]).expect("a list");
    assert_eq!(list["issue"], 1);
    assert_eq!(list["date"], "2026-03-21");
    let job = list["made_with"]["job"].as_str().expect("a job");
    done(
        at,
        &format!("papers out/issue-1/{job} --issue 1 --to again"),
    );
    let again = files(&at.join("again/issue-1"));
    for (name, bytes) in &first {
        let made = ["issue.json", "record.json"];
        if made.iter().all(|n| !name.ends_with(n)) {
            assert_eq!(again.get(name), Some(bytes), "{}", name.display());
        }
    }
    for entry in list["papers"]
        .as_array()
        .into_iter()
        .chain(list["inputs"].as_array())
        .flatten()
    {
        let name = entry["file"].as_str().expect("a file");
        let hash = sha256(&first[Path::new(name)]);
        assert_eq!(entry["sha256"], hash.as_str(), "{name}");
    }
    let page = String::from_utf8_lossy(&first[Path::new("papers/shop_windows.html")]).to_string();
    assert!(page.contains("2026-03-21") && page.contains("issue 1"));
}

fn sha256(bytes: &[u8]) -> String {
    use sha2::{Digest, Sha256};
    let hash = Sha256::digest(bytes);
    hash.iter().map(|b| format!("{b:02x}")).collect()
}

#[test]
fn an_issue_says_what_changed_since_the_last() {
    let folder = job();
    let at = folder.path();
    done(at, "papers site/job.ovo --issue 1 --to out");
    assert!(!at.join("out/issue-1/office/changes.txt").exists());
    let book = at.join("site/prices.csv");
    let text = std::fs::read_to_string(&book).expect("prices");
    std::fs::write(&book, text.replace("18.50", "21.75")).expect("a price");
    done(at, "papers site/job.ovo --issue 4 --to out");
    let read = |name: &str| std::fs::read_to_string(at.join("out/issue-4").join(name));
    let changes = read("office/changes.txt").expect("changes");
    for words in [
        "since issue 1",
        "price of old_glass",
        "21.75 USD",
        "prices.csv",
    ] {
        assert!(changes.contains(words), "{words}: {changes}");
    }
    let list: serde_json::Value =
        serde_json::from_str(&read("issue.json").expect("a list")).expect("JSON");
    assert_eq!(list["after_issue"], 1);
    // Nothing that is handed over says what the office changed.
    let shop = read("papers/shop_windows.html").expect("a page");
    assert!(!shop.contains("21.75"));
}

#[test]
fn an_issue_that_is_refused_leaves_nothing() {
    let folder = job();
    let at = folder.path();
    done(at, "papers site/job.ovo --issue 1 --to out");
    let before = files(at);
    for (args, code) in [
        ("papers site/job.ovo --issue 1 --to out", "OV-080"),
        ("papers site/job.ovo --issue 2 --to rules.ovo", "OV-003"),
        (
            "papers site/job.ovo --issue 2 --to out/issue-1/issue.json/x",
            "OV-003",
        ),
        ("papers site/job.ovo --issue 0 --to out", "0 is not in"),
        ("papers site/job.ovo --issue two --to out", "invalid"),
    ] {
        let got = ovolo(at, args);
        let told = String::from_utf8_lossy(&got.stderr).to_string();
        assert!(
            !got.status.success() && told.contains(code),
            "{args}: {told}"
        );
        assert_eq!(files(at), before, "{args}");
    }
    // What a killed run left is cleared by the next, and a folder that is still being written is not.
    let left = at.join("out/.ovolo-tmp-folder-left");
    let busy = at.join("out/.ovolo-tmp-folder-busy");
    for place in [&left, &busy] {
        std::fs::create_dir(place).expect("a folder");
        std::fs::write(place.join("lock"), "").expect("a lock");
    }
    let lock = std::fs::File::open(busy.join("lock")).expect("a lock");
    lock.lock().expect("held");
    done(at, "papers site/job.ovo --issue 2 --to out");
    assert!(!left.exists() && busy.exists());
}
