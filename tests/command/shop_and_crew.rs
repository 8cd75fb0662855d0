//! Papers of the shop and the crew: holds are whole, pieces carry the marks of their sash, hours lie in their week.

use super::handover::{JOB, copy};
use super::leaks::said;
use serde_json::Value;
use std::collections::BTreeMap;
use std::path::Path;

fn json(folder: &Path, args: &str) -> Value {
    serde_json::from_str(&said(folder, args)).expect("JSON")
}

fn list(value: &Value) -> &[Value] {
    value.as_array().map_or(&[], Vec::as_slice)
}

/// The lines of a list on the papers that are asked for, each as the texts of its cells by column, with the name of its paper.
fn lines(papers: &Value, name: &str) -> Vec<(String, BTreeMap<String, Value>)> {
    let mut out = Vec::new();
    for paper in list(&papers["papers"]) {
        let own = paper["name"].as_str().expect("a name");
        for table in list(&paper["lists"]).iter().filter(|t| t["name"] == name) {
            for row in list(&table["rows"]).iter().filter(|r| r["kind"] == "line") {
                let columns = list(&table["columns"]).iter();
                let cells = columns.zip(list(&row["cells"])).map(|(column, cell)| {
                    let name = column["name"].as_str().expect("a name").to_owned();
                    (name, cell.clone())
                });
                out.push((own.to_owned(), cells.collect()));
            }
        }
    }
    out
}

/// Hundredths of a cell's number; none where it is blank.
fn hundredths(cell: &Value) -> i64 {
    let Some(text) = cell["number"].as_str() else {
        return 0;
    };
    let (whole, part) = text.split_once('.').unwrap_or((text, ""));
    let part: String = part.chars().chain("00".chars()).take(2).collect();
    format!("{whole}{part}").parse().expect("hundredths")
}

/// Marks in a cell such as `N5-L, N11-U`.
fn marks(cell: &Value) -> Vec<String> {
    let text = cell["text"].as_str().expect("marks");
    text.split(", ").map(str::to_owned).collect()
}

/// Common practice, no source: what a hold stops is read whole and first. The sash are those that the treatment schedule replaces.
#[test]
fn a_hold_names_every_sash_on_the_first_page() {
    let folder = copy();
    let shop = json(folder.path(), &format!("papers {JOB} shop_papers --json"));
    let held = lines(&shop, "hold_list");
    let held: Vec<String> = held
        .iter()
        .flat_map(|(_, row)| marks(&row["marks"]))
        .collect();
    let replaced = lines(&shop, "sash_list").into_iter();
    let replaced = replaced.filter(|(_, row)| row["sash_treatment"]["text"] == "replace in kind");
    let mut replaced: Vec<String> = replaced
        .flat_map(|(_, row)| marks(&row["sash_mark"]))
        .collect();
    let mut sorted = held.clone();
    sorted.sort();
    replaced.sort();
    assert_eq!(sorted, replaced);
    assert_eq!(held.len(), 10);
    let text = said(folder.path(), &format!("papers {JOB} shop_papers"));
    let (hold, schedule) = (text.find("HOLD"), text.find("Sash schedule"));
    assert!(hold < schedule, "{text}");
    // The caution of the same hold, and all others, leave nobody out.
    assert!(!text.contains("and others"), "{text}");
    let hold = text
        .split("a sash to be replaced stays")
        .nth(1)
        .expect("the caution");
    let names: String = hold.chars().take_while(|c| *c != ')').collect();
    for mark in &held {
        assert!(names.contains(mark.as_str()), "{mark}: {names}");
    }
}

/// Common practice, no source: panes that may have to be safety glass are kept apart from those that may be cut.
#[test]
fn panes_on_hold_stand_apart_on_the_glass_list_and_before_the_cut_plans() {
    let folder = copy();
    let shop = json(folder.path(), &format!("papers {JOB} shop_papers --json"));
    let held = lines(&shop, "hold_panes");
    let pieces: i64 = held.iter().map(|(_, row)| hundredths(&row["pieces"])).sum();
    assert_eq!(pieces, 3_000);
    let tables = list(&shop["papers"][0]["lists"]).iter();
    let glass = tables.clone().find(|t| t["name"] == "glass_list");
    let glass = glass.expect("the glass list");
    let groups = list(&glass["rows"]).iter().filter(|r| r["kind"] == "group");
    let groups: Vec<&str> = groups
        .filter_map(|r| r["cells"][0]["text"].as_str())
        .collect();
    assert_eq!(
        groups,
        [
            "Old-style drawn glass",
            "HOLD: safety glazing needed, the authority must agree first",
            "HOLD: safety glazing not settled, ask first",
            "May be cut"
        ]
    );
    // On the order they stand apart too: with the panes that may be cut they are all panes of the glass list.
    let order = json(
        folder.path(),
        &format!("papers {JOB} orders-glass_house --json"),
    );
    let panes = |of: &Value, name: &str| -> i64 {
        lines(of, name)
            .iter()
            .map(|(_, row)| hundredths(&row["pieces"]))
            .sum()
    };
    assert_eq!(panes(&order, "order_hold"), 3_000);
    let all = panes(&shop, "glass_list");
    assert_eq!(panes(&order, "pane_sizes") + 3_000, all);
    let marked = |name: &str| -> Vec<String> {
        let rows = lines(&order, name);
        rows.iter()
            .flat_map(|(_, row)| marks(&row["marks"]))
            .collect()
    };
    let held = marked("order_hold");
    assert!(held.contains(&"H6-1".to_owned()), "{held:?}");
    assert!(marked("pane_sizes").iter().all(|mark| !held.contains(mark)));
    let plans = said(folder.path(), &format!("papers {JOB} cut_plans"));
    let (hold, cut) = (plans.find("HOLD"), plans.find("Stock to fetch"));
    assert!(hold.is_some() && hold < cut, "{plans}");
}

/// Common practice, no source: a piece is marked as it is cut, so every one on the plans says what it is for, as often as the cut list
/// asks for it; and what no plan cuts is said.
#[test]
fn every_piece_of_the_cut_plans_carries_the_mark_of_its_sash() {
    let folder = copy();
    let shop = json(folder.path(), &format!("papers {JOB} shop_papers --json"));
    let mut asked: BTreeMap<String, i64> = BTreeMap::new();
    for name in ["box_list", "box_panes"] {
        for (_, row) in lines(&shop, name) {
            let mark = row["mark"]["text"].as_str().expect("a mark");
            *asked.entry(mark.to_owned()).or_default() += hundredths(&row["pieces"]) / 100;
        }
    }
    let plans = json(folder.path(), &format!("papers {JOB} cut_plans --json"));
    let mut told: BTreeMap<String, i64> = BTreeMap::new();
    for (_, row) in lines(&plans, "cuts") {
        let pieces = row.get("parts").or(row.get("last")).expect("the last cuts");
        for piece in pieces["text"].as_str().expect("pieces").split("; ") {
            let (_, words) = piece.split_once(": ").expect("a number and what it is");
            for mark in words
                .split(", ")
                .take_while(|w| !w.starts_with(char::is_lowercase))
            {
                let (mark, n) = match mark.split_once(" (") {
                    Some((mark, n)) => (mark, n.trim_end_matches(')').parse().expect("a count")),
                    None => (mark, 1),
                };
                *told.entry(mark.to_owned()).or_default() += n;
            }
        }
    }
    // Frames and sills have no plan.
    asked.retain(|mark, _| {
        mark.contains('-') && !mark.starts_with("M-") || mark.matches('-').count() > 1
    });
    assert_eq!(told, asked);
    let text = said(folder.path(), &format!("papers {JOB} cut_plans"));
    let words: String = text.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(
        words.contains("No plan, cut by the sizes of the cut list: White oak, clear, 10/4, 9 pieces; Heart pine, reclaimed, 5/4, 12 pieces."),
        "{text}"
    );
}

/// Common practice, no source: the hours on a sheet are those of its week, so that no week holds more than its crews can work; the
/// week of the whole job and the sheets of its wings say the same.
#[test]
fn hours_on_a_crew_sheet_lie_in_its_week() {
    let folder = copy();
    let sheets = json(folder.path(), &format!("papers {JOB} crew_sheets --json"));
    let weeks = json(folder.path(), &format!("papers {JOB} crew_weeks --json"));
    let by_week = |rows: Vec<(String, BTreeMap<String, Value>)>| {
        let mut sums: BTreeMap<String, i64> = BTreeMap::new();
        for (paper, row) in rows {
            let week = paper.rsplit('-').next().expect("a week").to_owned();
            *sums.entry(week).or_default() += hundredths(&row["hours"]);
        }
        sums
    };
    let of_sheets = by_week(lines(&sheets, "crew_work"));
    let of_weeks = by_week(lines(&weeks, "crew_week"));
    let all: i64 = of_sheets.values().sum();
    assert_eq!(all, 177_598);
    assert_eq!(of_weeks.values().sum::<i64>(), all);
    for (week, hours) in &of_sheets {
        let other = of_weeks.get(week).expect("the week of the job");
        // Each splits the same exact hours over other lines, to the cent of an hour by largest remainder.
        assert!((hours - other).abs() <= 1, "{week}: {hours} and {other}");
        // Ten people, eight hours, five days.
        assert!(*hours <= 40_000, "{week}: {hours}");
    }
    // The days of a line are its hours.
    let days = ["monday", "tuesday", "wednesday", "thursday", "friday"];
    for (_, row) in lines(&weeks, "crew_week") {
        let sum: i64 = days.iter().map(|d| hundredths(&row[*d])).sum();
        assert!((sum - hundredths(&row["hours"])).abs() <= 5, "{row:?}");
    }
}

/// Common practice, no source: a crew speaks of days by their weekday and ticks the end of each; files keep dates that sort.
#[test]
fn a_crew_reads_weekdays_and_has_a_box_for_each() {
    let folder = copy();
    let name = "crew_sheets-hall-20240610";
    let sheet = said(folder.path(), &format!("papers {JOB} {name}"));
    assert!(sheet.contains("Crew sheet: Hall, Mon, Jun 10"), "{sheet}");
    assert!(
        sheet.contains("Tools in, openings closed, fire watch kept  [ ]  [ ]  [ ]  [ ]  [ ]"),
        "{sheet}"
    );
    let dates = said(folder.path(), &format!("papers {JOB} crew_dates-hall"));
    assert!(dates.contains("Wed, May 29"), "{dates}");
    let csv = said(
        folder.path(),
        &format!("papers {JOB} crew_dates-hall --csv crew_dates-hall/crew_dates"),
    );
    assert!(csv.contains("2024-05-29"), "{csv}");
}

/// A reading in millimeters has its inches beside it. M-06 was taken as 1650 mm, that is 64.9606 in.
#[test]
fn a_reading_in_millimeters_has_its_inches_beside_it() {
    let folder = copy();
    let shop = said(folder.path(), &format!("papers {JOB} shop_papers"));
    assert!(shop.contains("1650 mm (\u{2248} 64 31/32)"), "{shop}");
    // Joints and fits are told before anything is cut.
    for words in [
        "loose tenon of white oak",
        "Into each",
        "Cope",
        "waterproof wood glue",
    ] {
        assert!(shop.contains(words), "{words}: {shop}");
    }
}

/// By hand: a soft place 9 7/8 long takes a dutchman 1 in longer at each end. What nobody probed is named, not sized.
#[test]
fn wood_let_into_old_sash_is_listed_with_its_length() {
    let folder = copy();
    let shop = json(folder.path(), &format!("papers {JOB} shop_papers --json"));
    let pieces = lines(&shop, "let_in_list");
    assert!(pieces.len() > 50, "{}", pieces.len());
    for (_, row) in &pieces {
        if row["mend_by"]["text"] == "dutchman" {
            let soft = hundredths(&row["rot_long"]);
            assert!(
                (hundredths(&row["let_long"]) - soft - 200).abs() <= 1,
                "{row:?}"
            );
        }
    }
    let unprobed = lines(&shop, "unprobed_sash");
    let unprobed: Vec<String> = unprobed
        .iter()
        .flat_map(|(_, row)| marks(&row["marks"]))
        .collect();
    assert!(!unprobed.is_empty());
    // A sash that repair with new wood is decided for has its pieces here, its new members in the cut list, or is named as not probed.
    let cut: Vec<String> = lines(&shop, "box_list")
        .iter()
        .flat_map(|(_, row)| marks(&row["mark"]))
        .collect();
    let let_in: Vec<String> = pieces
        .iter()
        .flat_map(|(_, row)| marks(&row["sash_mark"]))
        .collect();
    for (_, row) in lines(&shop, "sash_list") {
        if row["sash_treatment"]["text"] == "repair with new wood" {
            let mark = &marks(&row["sash_mark"])[0];
            let told = [&cut, &let_in, &unprobed].iter().any(|l| l.contains(mark));
            assert!(told, "{mark}");
        }
    }
}

/// Common practice, no source: whoever takes a sash out closes its opening the same day, so removal is the work of one trade.
#[test]
fn no_opening_waits_for_another_trade_to_be_closed() {
    let folder = copy();
    let sheets = json(folder.path(), &format!("papers {JOB} crew_sheets --json"));
    let work = lines(&sheets, "crew_work");
    let removal: Vec<_> = work
        .iter()
        .filter(|(_, row)| row["phase"]["text"] == "Removal")
        .collect();
    assert!(!removal.is_empty());
    let mut closed = 0;
    for (paper, row) in removal {
        assert_eq!(row["resource"]["text"], "Joiner", "{paper}: {row:?}");
        let what = row["note"]["text"].as_str().expect("what is done");
        closed += usize::from(what.contains("closing the opening"));
    }
    assert!(closed > 0);
}

/// A paper of the shop or the crew warns of the work that stands on it, and of nothing else.
#[test]
fn cautions_are_those_of_the_work_on_a_paper() {
    let folder = copy();
    let at = folder.path();
    let shop = said(at, &format!("papers {JOB} shop_papers --width 200"));
    for (words, own) in [
        ("Glass: cut-proof gloves", true),
        ("Safety glazing: needed", true),
        ("Lead in air", true),
        ("Ladders: 1 ft out", false),
        ("Lifts, scaffolds", false),
        ("Upper floor", false),
        ("Weights drop", false),
        ("Not in this estimate", false),
        ("Prices are of", false),
    ] {
        assert_eq!(shop.contains(words), own, "{words}: {shop}");
    }
    // What no sheet of a crew says of its week is not warned of, and each week has what is said of it.
    let about = [
        ("Weights drop", vec!["Removal", "Mending", "Reinstalling"]),
        ("Tall or wide sash", vec!["Removal", "Reinstalling"]),
        ("Heat cracks old glass", vec!["Stripping"]),
        ("Oily rags", vec!["Mending", "Glazing", "Painting"]),
    ];
    let papers = json(at, &format!("papers {JOB} crew_sheets --json"));
    let mut phases: BTreeMap<String, Vec<String>> = BTreeMap::new();
    for (paper, cells) in lines(&papers, "crew_work") {
        let phase = cells["phase"]["text"].as_str().expect("a phase");
        phases.entry(paper).or_default().push(phase.to_owned());
    }
    said(at, &format!("papers {JOB} crew_sheets --to out"));
    let mut met = BTreeMap::new();
    for (paper, own) in &phases {
        let page = std::fs::read_to_string(at.join(format!("out/{paper}.html"))).expect("a page");
        for (words, of) in &about {
            let work = own.iter().any(|phase| of.contains(&phase.as_str()));
            assert!(work || !page.contains(words), "{paper}: {words}");
            *met.entry(*words).or_insert(0) += usize::from(page.contains(words));
        }
    }
    assert!(met.values().all(|n| *n > 0), "{met:?}");
    // Those who do not do the work read everything.
    let estimate = said(at, &format!("estimate {JOB} --assumptions --width 200"));
    assert!(estimate.contains("Weights drop") && estimate.contains("Not in this estimate"));
}
