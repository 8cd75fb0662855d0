//! Plans weighed on a small job whose figures can be worked by hand: side by side, mixed, flips, tables, ranks, and over the years.
//!
//! Three openings: A (4 lites, 10 % rot), B (6 lites, 60 %) and C (12 lites, 90 %). Labor costs 60 USD an hour, so a minute is a dollar.
//! Mending takes `pace` a lite, new work 4 h; pins are 6 a lite and 30 more for new work, in boxes of 100 at 10 USD.

use super::run;
use serde_json::Value;
use std::path::Path;
use tempfile::TempDir;

const SHEET: &str = r#"sheet "Three openings" layer job
counted lite, point
phases "Work"
survey opening {
  mark   text           key
  lites  count of lite
  rot    percent
}
job {
  survey opening from "survey.csv"
  prices from "prices.csv"
  money USD
}
given pace       30 min per lite   from 10 min per lite to 60 min per lite
given new_time   4 h               from 2 h to 8 h
given rot_limit  50 %              from 20 % to 80 %
given care       no
resource hand  labor   h
resource pin   points  point  bought in boxes of 100 point
for each opening {
  decide fate first that holds {
    renew  when rot > rot_limit  because "gone"
    mend   otherwise             because "sound enough"
  }
  mend_time = pace * lites
  take hand  if fate is renew then new_time else mend_time  for "Work"
  take hand  1 h                                            for "Work"  when care
  take pin   lites * (6 point per lite)                     for "Work"
  take pin   30 point                                       for "Work"  when fate is renew
  require pace < 55 min per lite  else "nobody is so slow"
}
alternate "All mended" {
  change fate to mend   because "asked for"
}
alternate "All new" {
  change fate to renew  because "asked for"
}
alternate "Practised" {
  change pace to 20 min per lite  because "the second campaign"
}
"#;

fn job(more: &str) -> TempDir {
    let folder = tempfile::tempdir().expect("a folder");
    let write = |name: &str, text: &str| {
        std::fs::write(folder.path().join(name), text).expect("a file is written")
    };
    write("job.ovo", &format!("{SHEET}{more}"));
    write("survey.csv", "mark,lites,rot\nA,4,10\nB,6,60\nC,12,90\n");
    write(
        "prices.csv",
        "resource,unit,price,pack\nhand,h,60,\npin,point,0.10,100\n",
    );
    folder
}

fn ovolo(folder: &Path, args: &[&str]) -> (i32, String) {
    let output = run::ovolo(folder, args);
    (output.status.code().unwrap_or(-1), run::text(&output))
}

/// One table of `weigh`: its rows as texts, and its notes joined.
fn table(more: &str, args: &[&str]) -> (Vec<Vec<String>>, String) {
    let folder = job(more);
    let (code, text) = ovolo(
        folder.path(),
        &[&["weigh", "job.ovo", "--json"], args].concat(),
    );
    assert_eq!(code, 0, "{text}");
    let value: Value = serde_json::from_str(&text).expect("JSON");
    let first = &value["tables"][0];
    let cell = |c: &Value| c.as_str().unwrap_or("").to_owned();
    let rows = first["rows"]
        .as_array()
        .expect("rows")
        .iter()
        .map(|r| r.as_array().expect("cells").iter().map(cell).collect())
        .collect();
    let notes: Vec<String> = first["notes"]
        .as_array()
        .expect("notes")
        .iter()
        .map(cell)
        .collect();
    (rows, notes.join("\n"))
}

fn csv(more: &str, args: &[&str]) -> String {
    let folder = job(more);
    let (code, text) = ovolo(folder.path(), &[&["weigh", "job.ovo"], args].concat());
    assert_eq!(code, 0, "{text}");
    text
}

/// The row of a comparison.
fn line<'t>(text: &'t str, what: &str) -> &'t str {
    text.lines()
        .find(|l| l.starts_with(what))
        .unwrap_or_else(|| panic!("no row {what} in\n{text}"))
}

#[test]
fn alternates_stand_side_by_side_as_bids_state_them() {
    let text = csv("", &["--csv", "versions"]);
    // 120 + 240 + 240 and two boxes; 11 h and two boxes; 12 h and three; 80 + 240 + 240 and two.
    assert_eq!(
        line(&text, "total"),
        "total,USD,620.00,680.00,750.00,580.00"
    );
    assert_eq!(
        line(&text, "difference"),
        "difference,USD,0.00,60.00,130.00,-40.00"
    );
    let shown = csv("", &[]);
    for sentence in [
        "Add alternate \"All mended\": add 60.00 USD.",
        "Deduct alternate \"Practised\": deduct 40.00 USD.",
    ] {
        assert!(shown.contains(sentence), "{shown}");
    }
}

#[test]
fn one_version_alone_costs_what_it_costs_beside_the_others() {
    let folder = job("");
    for (name, total) in [
        ("All mended", "680.00"),
        ("All new", "750.00"),
        ("Practised", "580.00"),
    ] {
        let (_, text) = ovolo(
            folder.path(),
            &["estimate", "job.ovo", "--alternate", name, "--json"],
        );
        let value: Value = serde_json::from_str(&text).expect("JSON");
        assert_eq!(value["totals"]["total"], total, "{name}");
    }
}

const MIXED: &str = r#"alternate "Mixed" {
  pick "All mended" where cost less than 80 % of "All new" otherwise "All new"
}
"#;

/// What alternates have in common with those before them is checked once. Here each stands alone and after all others.
#[test]
fn an_alternate_comes_to_the_same_whatever_alternates_stand_before_it() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let folder = tempfile::tempdir().expect("a folder");
    let demo = folder.path().join("demo-data/tallowgate-school");
    for (from, to) in [
        ("demo-data/tallowgate-school", demo.clone()),
        ("sheets", folder.path().join("sheets")),
    ] {
        copy(&root.join(from), &to);
    }
    let whole = std::fs::read_to_string(demo.join("job.ovo")).expect("the job");
    let (head, rest) = whole.split_once("\nalternate ").expect("alternates");
    let blocks: Vec<String> = rest
        .split("\nalternate ")
        .map(|block| format!("\nalternate {block}"))
        .collect();
    let names: Vec<&str> = blocks
        .iter()
        .filter_map(|block| block.split('"').nth(1))
        .collect();
    assert_eq!((blocks.len(), names.len()), (5, 5), "{names:?}");
    for (at, name) in names.iter().enumerate() {
        // Alone, where it stands when it is last, then after every other one.
        let mut others = blocks.clone();
        let own = others.remove(at);
        let others = others.concat();
        let alone = "\n".repeat(others.matches('\n').count());
        let told = [alone, others].map(|before| {
            std::fs::write(demo.join("job.ovo"), format!("{head}{before}{own}")).expect("a job");
            let run = |args: &[&str]| {
                let (code, text) = ovolo(&demo, args);
                assert_eq!(code, 0, "{name}: {text}");
                text
            };
            let figures = run(&[
                "estimate",
                "job.ovo",
                "--alternate",
                name,
                "--csv",
                "totals",
            ]);
            let lines = run(&[
                "estimate",
                "job.ovo",
                "--alternate",
                name,
                "--csv",
                "by-opening",
            ]);
            let why = run(&["why", "job.ovo", "glazier", "S5", "--alternate", name]);
            [figures, lines, why]
        });
        for (alone, after) in told[0].iter().zip(&told[1]) {
            let differ = alone.lines().zip(after.lines()).find(|(a, b)| a != b);
            assert!(alone == after, "{name}: {differ:?}");
        }
    }
}

fn copy(from: &Path, to: &Path) {
    std::fs::create_dir_all(to).expect("a folder");
    for entry in std::fs::read_dir(from).expect("a folder to copy").flatten() {
        let (path, to) = (entry.path(), to.join(entry.file_name()));
        if path.is_dir() {
            copy(&path, &to);
        } else {
            std::fs::copy(&path, &to).expect("a copy");
        }
    }
}

#[test]
fn a_mixed_plan_is_worked_anew_and_not_pieced_together() {
    let text = csv(MIXED, &["--csv", "picked"]);
    let rows: Vec<&str> = text.lines().skip(1).collect();
    assert_eq!(
        rows,
        [
            "Mixed,A,All mended,123.64,All new,247.30,All mended",
            "Mixed,B,All mended,185.45,All new,248.92,All mended",
            "Mixed,C,All mended,370.91,All new,253.78,All new",
        ]
    );
    // 2 h + 3 h + 4 h, and 162 pins in two boxes; the parts taken above add to 562.87.
    assert!(line(&csv(MIXED, &["--csv", "versions"]), "total").ends_with(",560.00"));
    let folder = job(MIXED);
    let (_, alone) = ovolo(
        folder.path(),
        &["estimate", "job.ovo", "--alternate", "Mixed", "--json"],
    );
    let value: Value = serde_json::from_str(&alone).expect("JSON");
    assert_eq!(value["totals"]["total"], "560.00");
    let (code, why) = ovolo(
        folder.path(),
        &["why", "job.ovo", "fate", "C", "--alternate", "Mixed"],
    );
    assert!(code == 0 && why.contains("renew"), "{why}");
}

#[test]
fn a_given_is_picked_where_it_is_read_row_by_row() {
    let more = r#"alternate "Mixed" {
  pick "Practised" where cost less than 90 % of "as decided" otherwise "as decided"
}
"#;
    // Only A is mended, at 20 min a lite; B and C cost the same in both plans.
    assert!(line(&csv(more, &["--csv", "versions"]), "total").ends_with(",580.00"));
    let text = csv(more, &["--csv", "picked"]);
    let taken: Vec<&str> = text
        .lines()
        .skip(1)
        .filter_map(|l| l.rsplit(',').next())
        .collect();
    assert_eq!(taken, ["Practised", "as decided", "as decided"]);
}

#[test]
fn a_flip_is_bracketed_by_values_that_were_worked() {
    // 22 p + 20 = 750 at 33.1818: the cents are equal at 33.182 alone, and from 55 on the requirement refuses.
    let (rows, notes) = table(
        "",
        &["--flip", "pace", "--of", "All mended", "--with", "All new"],
    );
    let short: Vec<[&str; 3]> = rows
        .iter()
        .map(|r| [r[0].as_str(), r[1].as_str(), r[2].as_str()])
        .collect();
    assert_eq!(
        short,
        [
            ["10 min per lite", "33.181 min per lite", "All mended"],
            ["33.182 min per lite", "33.182 min per lite", "the same"],
            ["33.183 min per lite", "54.999 min per lite", "All new"],
            ["55 min per lite", "60 min per lite", "refused"],
        ]
    );
    assert_eq!(
        (rows[0][5].as_str(), rows[0][6].as_str()),
        ("749.98", "750.00")
    );
    assert_eq!(
        (rows[2][3].as_str(), rows[2][4].as_str()),
        ("750.03", "750.00")
    );
    assert!(notes.contains("OV-910 nobody is so slow"), "{notes}");
}

#[test]
fn a_flip_may_be_exact_or_nowhere() {
    // 120 + 120 t = 660 at 4.5 h.
    let (rows, notes) = table("", &["--flip", "new_time", "--of", "All mended"]);
    assert_eq!(
        (rows.len(), rows[1][0].as_str(), rows[1][1].as_str()),
        (3, "4.5 h", "4.5 h")
    );
    assert!(
        notes.contains("They cost the same from 4.5 h to 4.5 h, 680.00 USD."),
        "{notes}"
    );
    let (rows, notes) = table("", &["--flip", "rot_limit", "--with", "All mended"]);
    assert_eq!(rows.len(), 1);
    assert!(
        notes.contains("They never cost the same between 20 % and 80 %: as decided costs less throughout, by 60.00 to 120.00 USD."),
        "{notes}"
    );
    let (_, notes) = table(
        "",
        &[
            "--flip",
            "rot_limit",
            "--of",
            "All new",
            "--with",
            "All mended",
        ],
    );
    assert!(
        notes.contains("The difference does not depend on rot_limit"),
        "{notes}"
    );
}

#[test]
fn a_price_flips_too_and_a_step_may_be_told() {
    // 10 h and two boxes against 12 h and three: never the same above zero.
    let (rows, _) = table(
        "",
        &[
            "--flip",
            "price of hand",
            "--between",
            "30",
            "--and",
            "90 USD per h",
            "--within",
            "5",
            "--with",
            "All new",
        ],
    );
    assert_eq!(
        (
            rows.len(),
            rows[0][0].as_str(),
            rows[0][1].as_str(),
            rows[0][2].as_str()
        ),
        (1, "30.00 USD per h", "90.00 USD per h", "as decided")
    );
    assert_eq!(
        (rows[0][3].as_str(), rows[0][4].as_str()),
        ("320.00", "390.00")
    );
}

#[test]
fn an_alternate_keeps_the_given_it_changes() {
    let (rows, _) = table(
        "",
        &[
            "--over",
            "pace",
            "--steps",
            "2",
            "--between",
            "10",
            "--and",
            "50",
        ],
    );
    let practised: Vec<&str> = rows.iter().map(|r| r[4].as_str()).collect();
    assert_eq!(practised, ["580.00", "580.00", "580.00"]);
    let decided: Vec<&str> = rows.iter().map(|r| r[1].as_str()).collect();
    assert_eq!(decided, ["540.00", "620.00", "700.00"]);
}

#[test]
fn a_table_stands_over_two_givens() {
    let (rows, _) = table("", &["--over", "new_time,care", "--steps", "2"]);
    let texts: Vec<Vec<&str>> = rows
        .iter()
        .map(|r| r.iter().map(String::as_str).collect())
        .collect();
    assert_eq!(
        texts,
        [
            ["2 h", "380.00", "560.00"],
            ["5 h", "740.00", "920.00"],
            ["8 h", "1100.00", "1280.00"]
        ]
    );
}

#[test]
fn givens_are_ranked_by_what_their_range_does() {
    let (rows, notes) = table("", &["--rank"]);
    let short: Vec<[&str; 4]> = rows
        .iter()
        .map(|r| [r[0].as_str(), r[4].as_str(), r[5].as_str(), r[6].as_str()])
        .collect();
    assert_eq!(
        short,
        [
            ["pace", "540.00", "refused", ""],
            ["new_time", "380.00", "1100.00", "720.00"],
            ["rot_limit", "620.00", "560.00", "60.00"],
        ]
    );
    assert!(notes.contains("The total as it is: 620.00 USD."), "{notes}");
}

const LIFE: &str = r#"life {
  study       20 years
  discount     3 % real
  escalation   1 % real
  upkeep "Oil"  100 USD each year
}
life of "as decided" {
  upkeep  "Repaint"  500 USD every 7 years  source "the shop's own books"  note "two coats"
  replace "Sash"     10 % of first cost after 20 years  rising 3 % real
}
life of "All new" {
  residual "Worth left"  20 % of first cost
}
"#;

// NIST Handbook 135, formulas; the factors UPV* at 3 % and 1 % over 20 years = 16.382723 and SPV at 3 %, 20 years = 0.553676.
#[test]
fn present_worth_adds_first_cost_upkeep_replacement_and_residual() {
    let text = csv(LIFE, &["--life", "--csv", "life-costs"]);
    assert_eq!(
        line(&text, "as decided,Oil"),
        "as decided,Oil,each year,100,20,1638.27,"
    );
    // At 7 and 14 years; a third time would fall beyond the study. ((1.01/1.03)^7 + (1.01/1.03)^14) x 500.
    let growth: f64 = 1.01 / 1.03;
    let repaint = 500.0 * (growth.powi(7) + growth.powi(14));
    assert_eq!(
        line(&text, "as decided,Repaint"),
        format!(
            "as decided,Repaint,every 7 years,500,2,{repaint:.2},two coats; source: the shop's own books"
        )
    );
    // Rising as fast as it is discounted: 10 % of 620 as it stands.
    assert_eq!(
        line(&text, "as decided,Sash"),
        "as decided,Sash,after 20 years,62,1,62.00,"
    );
    let residual = -150.0 * growth.powi(20);
    assert_eq!(
        line(&text, "All new,Worth left"),
        format!("All new,Worth left,at the end,150,1,{residual:.2},")
    );
    let plans = csv(LIFE, &["--life", "--csv", "life"]);
    let worth: f64 = 620.0 + 1638.27 + (repaint * 100.0).round() / 100.0 + 62.0;
    assert!(
        line(&plans, "as decided").ends_with(&format!("{worth:.2},0.00")),
        "{plans}"
    );
    let without_rise = csv(
        LIFE,
        &["--life", "--escalation", "0 % real", "--csv", "life-costs"],
    );
    // UPV at 3 % over 20 years = 14.877475.
    assert_eq!(
        line(&without_rise, "All new,Oil"),
        "All new,Oil,each year,100,20,1487.75,"
    );
}

#[test]
fn simple_payback_is_told_as_secondary() {
    let (_, notes) = table(LIFE, &["--life"]);
    // 60 more at first, 500 / 7 a year less of upkeep: 0.84 years.
    assert!(
        notes.contains("Secondary")
            && notes.contains("All mended 0.8 years")
            && notes.contains("Practised none, it costs no more at first"),
        "{notes}"
    );
}

#[test]
fn rates_of_two_kinds_are_refused_or_turned_by_inflation() {
    let folder = job(LIFE);
    let (code, text) = ovolo(
        folder.path(),
        &["weigh", "job.ovo", "--discount", "5 % nominal"],
    );
    assert!(code == 1 && text.contains("OV-630"), "{text}");
    // 3 % real with 2 % inflation is 5.06 % nominal: the same worth, whichever is stated.
    let with = LIFE.replace("  study ", "  inflation 2 %\n  study ");
    let nominal = csv(&with, &["--discount", "5.06 % nominal", "--csv", "life"]);
    assert_eq!(nominal, csv(&with, &["--life", "--csv", "life"]));
}

/// The `<svg>` drawings of a page.
fn charts(page: &str) -> Vec<&str> {
    let ends = page.match_indices("<svg").map(|(at, _)| &page[at..]);
    ends.map(|rest| rest.split("</svg>").next().unwrap_or_default())
        .collect()
}

/// A paper for the office draws what `weigh` draws, and says in words what each bar and line comes to.
#[test]
fn a_paper_draws_the_charts_of_studies() {
    let paper = "paper studies for office {\n  titled \"Studies\"\n  draw chart of effects\n  draw chart of years\n}\n";
    let folder = job(&format!("{LIFE}\n{paper}"));
    let at = folder.path();
    let (code, text) = ovolo(at, &["papers", "job.ovo", "--to", "out"]);
    assert_eq!(code, 0, "{text}");
    let page = std::fs::read_to_string(at.join("out/studies.html")).expect("a page");
    let drawn = charts(&page);
    assert_eq!(drawn.len(), 2);
    for (study, drawn) in ["--rank", "--life"].into_iter().zip(drawn) {
        let (code, text) = ovolo(at, &["weigh", "job.ovo", study, "--page", "w.html"]);
        assert_eq!(code, 0, "{text}");
        let page = std::fs::read_to_string(at.join("w.html")).expect("a page");
        assert_eq!(charts(&page), [drawn], "{study}");
        let title = drawn.split("<title>").nth(1).expect("a title");
        let title = title.split("</title>").next().expect("a title");
        let (_, values) = title.split_once(": ").expect("values");
        for value in values.split("; ") {
            // Name and value stand in the drawing too, each as a text or both as one.
            let (name, value) = value.rsplit_once(' ').expect("a name and a value");
            assert!(drawn.matches(name).count() > 1, "{name} in {drawn}");
            assert!(drawn.matches(value).count() > 1, "{value} in {drawn}");
        }
    }
    // A job without years says so in place of the chart.
    let folder = job(paper);
    let (_, text) = ovolo(folder.path(), &["papers", "job.ovo", "studies"]);
    assert!(
        text.contains("the job does not say over how many years"),
        "{text}"
    );
}

#[test]
fn what_is_weighed_goes_to_a_page_with_charts_and_to_a_workbook() {
    use calamine::{Reader, Xlsx};
    let folder = job(LIFE);
    for (args, chart, values) in [
        (
            &[][..],
            "Total of each version, in USD",
            &["620.00", "680.00", "750.00", "580.00"][..],
        ),
        (
            &["--rank"],
            "What moves the total of 620.00 USD most",
            &["at its low end", "at its high end"],
        ),
        (
            &["--life"],
            "Cost by the end of each year, in USD of today, not discounted",
            &["All mended:", "As decided:"],
        ),
    ] {
        let files = [
            "weigh",
            "job.ovo",
            "--page",
            "w.html",
            "--workbook",
            "w.xlsx",
        ];
        let (code, text) = ovolo(folder.path(), &[&files, args].concat());
        assert_eq!(code, 0, "{text}");
        assert!(
            text.contains("Written: w.html") && text.contains("Written: w.xlsx"),
            "{text}"
        );
        let page = std::fs::read_to_string(folder.path().join("w.html")).expect("a page");
        let drawn = charts(&page);
        assert_eq!(drawn.len(), 1, "{args:?}");
        assert!(
            drawn[0].contains(&format!("<title>{chart}: ")),
            "{}",
            drawn[0]
        );
        for value in values {
            assert!(
                drawn[0].to_lowercase().contains(&value.to_lowercase()),
                "{value} in {}",
                drawn[0]
            );
        }
        let bytes = std::fs::read(folder.path().join("w.xlsx")).expect("a workbook");
        let book: Xlsx<_> = Xlsx::new(std::io::Cursor::new(bytes)).expect("a workbook");
        let first = if args.is_empty() {
            "versions"
        } else {
            &args[0][2..]
        };
        assert_eq!(book.sheet_names().first().map(String::as_str), Some(first));
    }
    let (code, text) = ovolo(folder.path(), &["weigh", "job.ovo", "--page", "survey.csv"]);
    assert!(code != 0 && text.contains("a survey of this job"), "{text}");
}

#[test]
fn the_page_of_an_estimate_draws_what_it_adds_up() {
    let folder = job("");
    let (code, text) = ovolo(folder.path(), &["estimate", "job.ovo", "--page", "e.html"]);
    assert_eq!(code, 0, "{text}");
    let page = std::fs::read_to_string(folder.path().join("e.html")).expect("a page");
    let drawn = charts(&page);
    assert!(
        drawn.iter().any(|c| c.contains("Price by phase, in USD")),
        "{drawn:?}"
    );
    let build_up = drawn.last().expect("charts");
    assert!(
        build_up.contains("From cost to price") && build_up.contains(">620.00<"),
        "{build_up}"
    );
    let (code, _) = ovolo(
        folder.path(),
        &["estimate", "job.ovo", "--quantities", "--page", "q.html"],
    );
    assert_eq!(code, 0);
    let page = std::fs::read_to_string(folder.path().join("q.html")).expect("a page");
    assert!(
        charts(&page).is_empty(),
        "money is not drawn where none is worked out"
    );
}

#[test]
fn a_change_order_is_priced_as_the_bid_was_and_gives_reasons() {
    let folder = job("");
    let at = folder.path();
    let write =
        |name: &str, text: &str| std::fs::write(at.join(name), text).expect("a file is written");
    let (code, text) = ovolo(at, &["estimate", "job.ovo", "--record", "bid.json"]);
    assert_eq!(code, 0, "{text}");
    let changed = "change fate at \"B\" to mend because \"the reviewer asked\" by \"the reviewer\" on 2024-03-28\n";
    write("job.ovo", &format!("{SHEET}{changed}"));
    // A has 2 lites more, D is new; labor has become dearer, which is no part of the change.
    write(
        "survey.csv",
        "mark,lites,rot\nA,6,10\nB,6,60\nC,12,90\nD,2,0\n",
    );
    write(
        "prices.csv",
        "resource,unit,price,pack\nhand,h,66,\npin,point,0.10,100\n",
    );
    let order = ["why", "job.ovo", "--against", "bid.json", "--openings"];
    let (code, text) = ovolo(at, &[&order[..], &["--json"]].concat());
    assert_eq!(code, 0, "{text}");
    let value: Value = serde_json::from_str(&text).expect("JSON");
    let mark = |m: &str| {
        let lines = value["lines"].as_array().expect("lines");
        lines
            .iter()
            .find(|l| l["mark"] == m)
            .unwrap_or_else(|| panic!("no {m} in {text}"))
    };
    // Two boxes of pins then and now: 24 + 36 + 30 + 72 + 30 points, and 36 + 36 + 72 + 30 + 12.
    assert_eq!(
        (value["was"].as_str(), value["now"].as_str()),
        (Some("620.00"), Some("680.00"))
    );
    assert_eq!(value["adds"], "60.00");
    let labor = (180 + 180 + 240 + 60) / 10;
    assert_eq!(value["prices_moved"], format!("{labor}.00"));
    assert!(
        mark("A")["reasons"][0]
            .as_str()
            .is_some_and(|r| r.contains("lites: 6 lites, was 4 lites")),
        "{text}"
    );
    let reason = mark("B")["reasons"][0].as_str().unwrap_or_default();
    assert!(
        reason.starts_with("B, fate: mend, was renew: \"the reviewer asked"),
        "{reason}"
    );
    assert_eq!(mark("D")["was"], Value::Null);
    let sum: i64 = value["lines"]
        .as_array()
        .expect("lines")
        .iter()
        .map(|l| &l["adds"])
        .chain([&value["shared"]["adds"]])
        .map(|v| {
            v.as_str()
                .expect("money")
                .replace('.', "")
                .parse::<i64>()
                .expect("cents")
        })
        .sum();
    assert_eq!(sum, 6_000);
    let (_, text) = ovolo(at, &order);
    assert!(
        text.contains("new in the survey")
            && text.contains("Prices and rates moved the whole by 66.00 USD"),
        "{text}"
    );
}

#[test]
fn what_cannot_be_asked_is_said_in_words() {
    let folder = job(MIXED);
    for (args, said) in [
        (&["--flip", "pase"][..], "Did you mean pace?"),
        (&["--flip", "care"], "Try --over care."),
        (&["--flip", "price of hand"], "states no range"),
        (
            &["--flip", "pace", "--with", "All nwe"],
            "There is no alternate \"All nwe\"",
        ),
        (&["--flip", "pace", "--with", "Mixed"], "is a mixed plan"),
        (
            &["--flip", "pace", "--between", "1 lite", "--and", "2"],
            "another kind of thing",
        ),
        (
            &["--flip", "pace", "--of", "All new", "--with", "All new"],
            "between two versions",
        ),
        (&["--discount", "3 %"], "is no rate"),
        (&["--over", "pace,pace"], "two different ones"),
    ] {
        let (code, text) = ovolo(folder.path(), &[&["weigh", "job.ovo"], args].concat());
        assert!(code == 2 && text.contains(said), "{args:?}: {code} {text}");
    }
}
