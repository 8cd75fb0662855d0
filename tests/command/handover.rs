//! The papers that leave the house: the bid, the treatment schedule and the record of the demonstration.

use super::outputs::ovolo;
use serde_json::Value;
use std::path::Path;

pub(super) const JOB: &str = "demo-data/tallowgate-school/handover.ovo";

fn root() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

/// What a command says as JSON, its messages aside.
pub(super) fn json(folder: &Path, args: &str) -> Value {
    let got = ovolo(folder, &format!("{args} --json"));
    let text = String::from_utf8(got.stdout).expect("text");
    serde_json::from_str(&text).unwrap_or_else(|e| panic!("{args}: {e}: {text}"))
}

pub(super) fn paper(folder: &Path, name: &str, more: &str) -> Value {
    json(folder, &format!("papers {JOB} {name} {more}"))["papers"][0].clone()
}

pub(super) fn list<'a>(paper: &'a Value, name: &str) -> &'a Value {
    let lists = paper["lists"].as_array().expect("lists");
    let found = lists.iter().find(|l| l["name"] == name);
    found.unwrap_or_else(|| panic!("no list {name}"))
}

/// Cells of a column in the rows of a kind.
pub(super) fn cells(list: &Value, column: &str, kind: &str) -> Vec<String> {
    let columns = list["columns"].as_array().expect("columns");
    let at = columns.iter().position(|c| c["name"] == column);
    let at = at.unwrap_or_else(|| panic!("no column {column}"));
    let rows = list["rows"].as_array().expect("rows");
    let of = rows.iter().filter(|r| r["kind"] == kind);
    of.map(|r| r["cells"][at]["text"].as_str().expect("text").to_owned())
        .collect()
}

fn cents(text: &str) -> i64 {
    text.replace([',', '.'], "").parse().expect("cents")
}

/// The demonstration and the sheets it stands on, in a folder of their own.
pub(super) fn copy() -> tempfile::TempDir {
    let folder = tempfile::tempdir().expect("a folder");
    for part in ["demo-data/tallowgate-school", "sheets", "sheets/reference"] {
        let to = folder.path().join(part);
        std::fs::create_dir_all(&to).expect("a folder");
        for entry in std::fs::read_dir(root().join(part))
            .expect("is there")
            .flatten()
        {
            if entry.path().is_file() {
                std::fs::copy(entry.path(), to.join(entry.file_name())).expect("copies");
            }
        }
    }
    folder
}

/// Takes the cut plans out of the job: they were made for all openings as they are, and are stale once anything is otherwise.
pub(super) fn without_plans(folder: &Path) {
    for resource in ["boards", "panes"] {
        let line = format!("plan \"{resource}-plan.json\"");
        let job = folder.join("demo-data/tallowgate-school/job.ovo");
        let text = std::fs::read_to_string(&job).expect("is there");
        let kept: Vec<&str> = text
            .lines()
            .filter(|l| l.split_whitespace().collect::<Vec<_>>().join(" ") != line)
            .collect();
        std::fs::write(&job, kept.join("\n")).expect("writes");
    }
}

pub(super) fn change(folder: &Path, file: &str, from: &str, to: &str) {
    let path = folder.join("demo-data/tallowgate-school").join(file);
    let text = std::fs::read_to_string(&path).expect("is there");
    assert!(text.contains(from), "{file} has {from}");
    std::fs::write(&path, text.replace(from, to)).expect("writes");
}

/// Papers of this project, check 6.1: items, extensions and months each add up to the sum; alternates are the differences of totals.
#[test]
fn every_amount_of_a_bid_adds_up() {
    let bid = paper(root(), "bid", "");
    assert_eq!(bid["state"], "issued", "{}", bid["doubts"]);
    let weighed = json(root(), "weigh demo-data/tallowgate-school/job.ovo");
    let versions = weighed["versions"].as_array().expect("versions");
    let rows = weighed["rows"].as_array().expect("rows");
    let totals = rows.iter().find(|r| r["what"] == "total").expect("totals");
    let total = |name: &str| {
        let at = versions.iter().position(|v| v == name);
        let at = at.unwrap_or_else(|| panic!("no version {name}"));
        cents(totals["values"][at].as_str().expect("money"))
    };
    let sum = total("as decided");
    for (name, column) in [
        ("bid_items", "amount"),
        ("bid_unit_prices", "extension"),
        ("bid_sash_prices", "extension"),
        ("bid_months", "billed"),
    ] {
        let list = list(&bid, name);
        let lines: i64 = cells(list, column, "line").iter().map(|c| cents(c)).sum();
        assert_eq!(lines, sum, "{name} {column}");
        assert_eq!(
            cells(list, column, "total")
                .iter()
                .map(|c| cents(c))
                .sum::<i64>(),
            sum
        );
    }
    // The office sees when it is paid; all of it is in the end.
    let summary = paper(root(), "bid_summary", "");
    let received = cells(list(&summary, "bid_cash"), "received", "total");
    assert_eq!(received.iter().map(|c| cents(c)).sum::<i64>(), sum);
    let alternates = list(&bid, "bid_alternates");
    let names = cells(alternates, "alternate", "line");
    assert_eq!(names, ["Modern glass", "Storms outside"]);
    let ways = cells(alternates, "add_or_deduct", "line");
    let adds = cells(alternates, "adds", "line");
    for ((name, way), adds) in names.iter().zip(ways).zip(adds) {
        let by = total(name) - sum;
        assert_eq!(way, if by < 0 { "deduct" } else { "add" }, "{name}");
        assert_eq!(cents(&adds), by.abs(), "{name}");
    }
    // Unit prices in whole cents, times their openings, are the extensions.
    let prices = list(&bid, "bid_unit_prices");
    let counted = cells(prices, "quantity", "line");
    for ((openings, each), extension) in counted
        .iter()
        .zip(cells(prices, "unit_price", "line"))
        .zip(cells(prices, "extension", "line"))
        .filter(|((openings, _), _)| !openings.is_empty())
    {
        let openings: i64 = openings.parse().expect("a count");
        assert_eq!(openings * cents(&each), cents(&extension));
    }
}

/// Papers of this project, check 6.3 and 6.10: an entry for each opening; every member has a treatment, a reason and what it rests on.
#[test]
fn the_treatment_schedule_has_every_opening_and_every_member() {
    let schedule = paper(root(), "treatment_schedule", "");
    let lists = schedule["lists"].as_array().expect("lists");
    let members: Vec<&Value> = lists
        .iter()
        .filter(|l| l["name"] == "member_list")
        .collect();
    assert_eq!(members.len(), 61);
    let mut kinds = std::collections::BTreeMap::new();
    for list in &members {
        for column in ["treatment", "reason", "basis"] {
            assert!(cells(list, column, "line").iter().all(|c| !c.is_empty()));
        }
        for treatment in cells(list, "treatment", "line") {
            *kinds.entry(treatment).or_insert(0) += 1;
        }
    }
    let known = [
        "repair",
        "repair with new wood",
        "replace in kind",
        "retain",
    ];
    assert_eq!(kinds.keys().collect::<Vec<_>>(), known);
    // As CSV all entries are one list under one heading.
    let csv = ovolo(
        root(),
        &format!("papers {JOB} --csv treatment_schedule/member_list"),
    );
    let csv = String::from_utf8(csv.stdout).expect("text");
    let lines: usize = members.iter().map(|l| cells(l, "mark", "line").len()).sum();
    assert_eq!(
        csv.lines().filter(|l| l.contains("Rehabilitation")).count(),
        lines
    );
    let counts = list(&schedule, "treatment_counts");
    let count =
        |column: &str| -> i64 { cells(counts, column, "line")[0].parse().expect("a count") };
    let each = [
        "all_retained",
        "all_repaired",
        "all_with_new",
        "all_replaced",
    ];
    assert_eq!(
        each.iter().map(|c| count(c)).sum::<i64>(),
        count("all_sash")
    );
    // N5-L is the sash that is made new: its bottom rail is past repair whole.
    let n5 = members
        .iter()
        .find(|l| cells(l, "mark", "line").contains(&"N5-L".to_owned()));
    let n5 = n5.expect("N5 has an entry");
    let rails: Vec<String> = cells(n5, "mark", "line")
        .into_iter()
        .zip(cells(n5, "member", "line"))
        .zip(cells(n5, "treatment", "line"))
        .filter(|((mark, member), _)| mark == "N5-L" && member == "bottom rail")
        .map(|(_, treatment)| treatment)
        .collect();
    assert_eq!(rails, ["replace in kind"]);
}

/// Papers of this project, check 6.8 and 6.6: marks are explained, and only measured places are hatched.
#[test]
fn drawings_hatch_measured_places_alone_and_explain_their_marks() {
    let folder = tempfile::tempdir().expect("a folder");
    let to = folder.path().display().to_string();
    let got = ovolo(
        root(),
        &format!("papers {JOB} treatment_schedule --to {to}"),
    );
    let file = folder.path().join("treatment_schedule.html");
    let page = std::fs::read_to_string(&file)
        .unwrap_or_else(|_| panic!("{}", String::from_utf8_lossy(&got.stderr)));
    let figures: Vec<&str> = page.split("<figure>").skip(1).collect();
    let elevations: Vec<&&str> = figures
        .iter()
        .filter(|f| f.contains("<title>Elevation of"))
        .collect();
    assert_eq!(elevations.len(), 61);
    let mut hatched = 0;
    for figure in elevations {
        let drawn = figure.contains("fill=\"url(#hatched)\"");
        hatched += usize::from(drawn);
        assert!(
            figure.contains("Seen from outside, 1:24"),
            "one scale for the set"
        );
    }
    // Those whose list of soft places has one that was measured from an edge.
    let measured = |entry: &&str| {
        let list = entry.split("Soft places of sash</h2>").nth(1).unwrap_or("");
        let mut rows = list.split("</table>").next().unwrap_or("").split("<tr>");
        let offset = "class=\"n\">not noted";
        rows.any(|r| r.contains("<td") && !r.contains(offset) && !r.contains("muntins"))
    };
    let entries = page.split("<title>Elevation of").skip(1);
    assert_eq!(hatched, entries.filter(measured).count());
    assert!(hatched > 5, "{hatched} elevations have measured places");
    let key = page.split("<title>Key to the elevations: ").nth(1);
    let key = key.and_then(|k| k.split('<').next()).expect("a key");
    for mark in [
        "K in a circle",
        "R in a square",
        "S in a diamond",
        "N in a double",
        "hatched",
    ] {
        assert_eq!(key.matches(mark).count(), 1, "{key}");
    }
    // Every wall has its diagram.
    let walls = figures
        .iter()
        .filter(|f| f.contains("<title>Diagram of"))
        .count();
    assert_eq!(walls, 8);
}

/// Design of this project, section 10: a bid with an old price or a row set aside is a draft without a place to sign, until the job
/// excludes it by name.
#[test]
fn a_bid_that_lacks_something_is_no_offer() {
    let folder = copy();
    without_plans(folder.path());
    let bid = paper(folder.path(), "bid", "--set-aside N5");
    assert_eq!(bid["state"], "DRAFT, NOT AN OFFER");
    assert!(
        bid["doubts"].to_string().contains("N5"),
        "{}",
        bid["doubts"]
    );
    let shown = ovolo(folder.path(), &format!("papers {JOB} bid --set-aside N5"));
    let shown = String::from_utf8_lossy(&shown.stdout).into_owned();
    assert!(!shown.contains("offered by"), "nothing to sign: {shown}");
    change(
        folder.path(),
        "job.ovo",
        "issued 2024-03-25",
        "issued 2024-03-25\n  excludes \"N5\"",
    );
    let offered = paper(folder.path(), "bid", "--set-aside N5");
    assert_eq!(offered["state"], "issued", "{}", offered["doubts"]);
    assert!(
        offered["doubts"].to_string().contains("N5"),
        "{}",
        offered["doubts"]
    );
    change(
        folder.path(),
        "job.ovo",
        "issued 2024-03-25",
        "issued 2026-03-25",
    );
    let old = paper(folder.path(), "bid", "");
    assert_eq!(old["state"], "DRAFT, NOT AN OFFER");
    assert!(
        old["doubts"].to_string().contains("more than a year old"),
        "{}",
        old["doubts"]
    );
    for private in [
        "overhead",
        "contingency",
        "profit",
        "Hire yard",
        "Yard at the lock",
    ] {
        assert!(!old.to_string().contains(private), "{private}");
    }
}

/// A picture of one pixel: PNG, W3C recommendation, section 11.
pub(super) const PIXEL: [u8; 67] = [
    0x89, 0x50, 0x4e, 0x47, 0x0d, 0x0a, 0x1a, 0x0a, 0, 0, 0, 0x0d, 0x49, 0x48, 0x44, 0x52, 0, 0, 0,
    1, 0, 0, 0, 1, 8, 0, 0, 0, 0, 0x3a, 0x7e, 0x9b, 0x55, 0, 0, 0, 0x0a, 0x49, 0x44, 0x41, 0x54,
    0x78, 0x9c, 0x63, 0x60, 0, 0, 0, 2, 0, 1, 0x48, 0xaf, 0xa4, 0x71, 0, 0, 0, 0, 0x49, 0x45, 0x4e,
    0x44, 0xae, 0x42, 0x60, 0x82,
];

#[test]
fn photographs_are_placed_by_number_and_missing_ones_are_named() {
    let folder = copy();
    change(
        folder.path(),
        "job.ovo",
        "issued 2024-03-25",
        "issued 2024-03-25\n  photographs from \"photos\"",
    );
    let photos = folder.path().join("demo-data/tallowgate-school/photos");
    std::fs::create_dir(&photos).expect("a folder");
    std::fs::write(photos.join("105.png"), PIXEL).expect("writes");
    std::fs::write(photos.join("106.jpg"), "no picture").expect("writes");
    let got = ovolo(folder.path(), &format!("papers {JOB} record --to out"));
    let page = std::fs::read_to_string(folder.path().join("out/record.html"))
        .unwrap_or_else(|_| panic!("{}", String::from_utf8_lossy(&got.stderr)));
    assert_eq!(page.matches("src=\"data:image/png;base64,").count(), 1);
    assert!(page.contains("Photo 106: neither a JPEG nor a PNG picture."));
    assert!(page.contains("Photo 107: not in the folder photos."));
    assert!(
        folder
            .path()
            .join("out/record.pdf")
            .metadata()
            .expect("a PDF")
            .len()
            > 10_000
    );
}

/// Issue of this project: exclusions and conditions stand apart in a bid, the crew's cautions are in the crew's papers, and the owner's
/// charts show what the lists say while the office's show what prices are made of.
#[test]
fn a_bid_has_its_terms_apart_and_charts_of_prices_alone() {
    let folder = tempfile::tempdir().expect("a folder");
    let to = folder.path().display().to_string();
    let page = |name: &str| {
        ovolo(root(), &format!("papers {JOB} {name} --to {to}"));
        std::fs::read_to_string(folder.path().join(format!("{name}.html"))).expect("a page")
    };
    let (bid, summary) = (page("bid"), page("bid_summary"));
    let part = |from: &str, end: &str| -> String {
        let from = bid
            .split(&format!(">{from}</h2>"))
            .nth(1)
            .expect("a heading");
        from.split(&format!(">{end}</h2>"))
            .next()
            .expect("an end")
            .to_owned()
    };
    let (excluded, conditions) = (part("Exclusions", "Conditions"), part("Conditions", "Time"));
    assert!(excluded.contains("stone and brick") && !excluded.contains("HOLD"));
    assert!(conditions.contains("HOLD") && conditions.contains("Asbestos"));
    for crew in ["Oily rags", "Ladders", "cut-proof", "Not probed"] {
        assert!(!bid.contains(crew), "{crew}");
    }
    let charts = |page: &str| -> Vec<String> {
        let all = page
            .split("<svg")
            .skip(1)
            .filter(|f| f.contains(", in USD: "));
        all.map(|f| f.split("</svg>").next().unwrap_or("").to_owned())
            .collect()
    };
    let drawn = charts(&bid);
    assert_eq!(drawn.len(), 3, "phases, areas, alternates");
    for (chart, list, column) in [
        (0, "bid_items", "amount"),
        (1, "bid_unit_prices", "extension"),
    ] {
        let table = paper(root(), "bid", "");
        for amount in cells(self::list(&table, list), column, "line") {
            assert!(
                drawn[chart].contains(&format!(">{amount}<")),
                "{list} {amount}"
            );
        }
    }
    for word in [
        "labor",
        "materials",
        "overhead",
        "profit",
        "From cost to price",
    ] {
        assert!(drawn.iter().all(|f| !f.contains(word)), "{word}");
        assert!(charts(&summary).iter().any(|f| f.contains(word)), "{word}");
    }
}
