//! Lists and papers of whole jobs: they add up to the job, and bad input is told in words.

use super::handover::{JOB, copy};
use super::leaks::said;
use super::outputs::{ovolo, started};
use std::path::Path;

const PAPERS: &str = "
list windows for each opening {
  titled \"Windows\"
  column mark
  column treatment
  tick \"Seen\"
  sorted by mark
}
list none_of_them for each opening {
  titled \"None\"
  column mark
  where wide < 1 in
}
paper schedule for schedule {
  titled \"Schedule\"
  list windows
}
paper empty for schedule {
  list none_of_them
}
";

/// The small job with papers of its own, and another survey where one is given.
fn small(survey: Option<&str>) -> tempfile::TempDir {
    let folder = started();
    let place = folder.path().join("job.ovo");
    let text = std::fs::read_to_string(&place).expect("the job");
    std::fs::write(&place, text + PAPERS).expect("a job with papers");
    if let Some(survey) = survey {
        std::fs::write(folder.path().join("survey.csv"), survey).expect("a survey");
    }
    folder
}

/// Hundredths of the totals in a column of the lists of a paper, all parts together.
fn total(folder: &Path, paper: &str, column: &str) -> i64 {
    let text = said(folder, &format!("papers {JOB} {paper} --json"));
    let json: serde_json::Value = serde_json::from_str(&text).expect("JSON");
    let list = |value: &serde_json::Value| value.as_array().cloned().unwrap_or_default();
    let mut sum = 0;
    for table in list(&json["papers"]).iter().flat_map(|p| list(&p["lists"])) {
        let columns = list(&table["columns"]);
        let Some(at) = columns.iter().position(|c| c["name"] == column) else {
            continue;
        };
        for row in list(&table["rows"]).iter().filter(|r| r["kind"] == "line") {
            let text = row["cells"][at]["number"].as_str().expect("a number");
            let (whole, part) = text.split_once('.').unwrap_or((text, ""));
            let digits = format!("{whole}{part:0<2}");
            sum += digits.parse::<i64>().expect("hundredths");
        }
    }
    sum
}

fn refused(folder: &Path, args: &str) -> String {
    let got = ovolo(folder, args);
    assert!(!got.status.success(), "{args} was done");
    String::from_utf8_lossy(&got.stderr).to_string()
}

#[test]
fn crew_sheets_hold_the_hours_of_the_job_and_orders_all_that_is_bought() {
    let folder = copy();
    let job = said(folder.path(), &format!("estimate {JOB} --csv totals"));
    let labor = job.lines().find(|l| l.starts_with("labor")).expect("labor");
    assert!(labor.contains("1775.98"), "{labor}");
    assert_eq!(total(folder.path(), "crew_sheets", "hours"), 177_598);
    assert_eq!(total(folder.path(), "crew_dates", "hours"), 177_598);
    // Every line of the buy list stands on one order, and on no second, but for what the shop has itself.
    let bought = said(folder.path(), &format!("estimate {JOB} --csv buy-list"));
    let orders = said(folder.path(), &format!("papers {JOB} orders --json"));
    let orders: serde_json::Value = serde_json::from_str(&orders).expect("JSON");
    let mut lines = 0;
    for paper in orders["papers"].as_array().expect("papers") {
        let lists = paper["lists"].as_array().expect("lists").iter();
        let goods = lists.filter(|l| l["name"] == "order_list" || l["name"] == "hire_list");
        lines += goods
            .map(|l| l["lines"].as_u64().expect("a count"))
            .sum::<u64>();
    }
    let goods = bought
        .lines()
        .skip(1)
        .filter(|l| !l.starts_with("materials") && !l.contains(",own,"));
    assert_eq!(usize::try_from(lines), Ok(goods.count()));
}

/// Common practice, no source: what is hired is ordered with the days on which it comes and goes, and once; waste is called for when the work
/// that makes it is done; nobody sends an order to themselves.
#[test]
fn what_is_hired_stands_on_the_order_of_its_yard_with_its_days() {
    let folder = copy();
    let names = said(folder.path(), &format!("papers {JOB} orders --names"));
    assert!(
        !names.contains("no_supplier") && !names.contains("orders-own"),
        "{names}"
    );
    let yard = said(folder.path(), &format!("papers {JOB} orders-hire_yard"));
    let lift: Vec<&str> = yard.lines().filter(|l| l.contains("Lift")).collect();
    assert_eq!(lift.len(), 1, "{yard}");
    let words: Vec<&str> = lift[0].split_whitespace().collect();
    assert!(
        words.ends_with(&["2024-05-17", "2024-07-23", "68"]),
        "{yard}"
    );
    // Leaded waste is made until the last sash is stripped.
    let waste = said(
        folder.path(),
        &format!("papers {JOB} orders-waste_yard --csv orders-waste_yard/order_list"),
    );
    assert!(waste.contains("2024-07-30"), "{waste}");
    assert!(!waste.contains("2024-05-06"), "{waste}");
    // The glass house is told the panes, without what they cost.
    let glass = said(folder.path(), &format!("papers {JOB} orders-glass_house"));
    assert!(
        glass.contains("Panes to be cut from it") && glass.contains("M-13-1, M-13-2"),
        "{glass}"
    );
}

/// Common practice, no source: names that are typed are not broken, and a page of a terminal holds the papers of a job.
#[test]
fn the_papers_of_a_job_stand_in_a_short_table_with_whole_names() {
    let folder = copy();
    let table = said(folder.path(), &format!("papers {JOB}"));
    assert!(
        table
            .lines()
            .all(|l| unicode_width::UnicodeWidthStr::width(l) <= 80),
        "{table}"
    );
    assert!(table.lines().count() < 45, "{table}");
    for name in [
        "treatment_schedule ",
        "shop_papers ",
        "own_stock ",
        "crew_sheets ",
    ] {
        assert!(
            table.lines().any(|l| l.starts_with(name)),
            "{name}: {table}"
        );
    }
    let names = said(folder.path(), &format!("papers {JOB} crew_sheets --names"));
    assert_eq!(names.lines().count(), 43, "{names}");
    assert!(names.contains("crew_sheets-hall-20240527\n"), "{names}");
}

#[test]
fn a_crew_sheet_is_of_one_wing_and_week_and_names_what_holds_there() {
    let folder = copy();
    let sheet = said(
        folder.path(),
        &format!("papers {JOB} crew_sheets-hall-20240610"),
    );
    for word in [
        "Before starting",
        "[ ]  Photographs taken",
        "Making",
        "H1",
        "End of the day",
    ] {
        assert!(sheet.contains(word), "{word}: {sheet}");
    }
    // Openings of other wings, and what holds only there.
    for word in ["N5", "M-01", "S3-S", "North range"] {
        assert!(!sheet.contains(word), "{word}: {sheet}");
    }
}

/// Common practice, no source: a foreman is handed one sheet, printed on both sides.
#[test]
fn every_crew_sheet_is_one_sheet_of_paper_with_room_to_write() {
    let folder = copy();
    let told = said(folder.path(), &format!("papers {JOB} crew_sheets --to out"));
    let pages: Vec<&str> = told
        .lines()
        .filter_map(|l| l.split(".pdf, ").nth(1))
        .filter_map(|l| l.split(' ').next())
        .collect();
    assert_eq!(pages.len(), 43, "{told}");
    assert!(pages.iter().all(|n| matches!(*n, "1" | "2")), "{told}");
    let sheet = said(
        folder.path(),
        &format!("papers {JOB} crew_sheets-hall-20240527"),
    );
    for blank in ["Foreman", "Date", "Crew", "Weather", "Hours worked, total"] {
        assert!(
            sheet.contains(&format!("{blank}: ____")),
            "{blank}: {sheet}"
        );
    }
    // Work that is alike stands on one line with its openings, in the order of the phases.
    assert!(sheet.contains("H1, H2, H3, H4, H5"), "{sheet}");
    let place = |phase: &str| sheet.find(&format!("\n{phase}  ")).expect(phase);
    assert!(place("Records") < place("Protection") && place("Protection") < place("Removal"));
}

#[test]
fn every_line_of_an_order_says_how_much() {
    let folder = copy();
    let text = said(folder.path(), &format!("papers {JOB} orders --json"));
    let json: serde_json::Value = serde_json::from_str(&text).expect("JSON");
    let (mut lines, mut debris) = (0, String::new());
    for paper in json["papers"].as_array().expect("papers") {
        let list = &paper["lists"][0];
        let columns = list["columns"].as_array().expect("columns");
        let at = columns.iter().position(|c| c["name"] == "order");
        let at = at.expect("a column of what is ordered");
        let rows = list["rows"].as_array().expect("rows");
        for row in rows.iter().filter(|r| r["kind"] == "line") {
            assert!(row["cells"][at]["number"].is_string(), "{row}");
            lines += 1;
            if row["cells"][0]["text"] == "Debris without lead, hauled and tipped" {
                debris = format!(
                    "{} {}",
                    row["cells"][at]["text"],
                    row["cells"][at + 1]["text"]
                );
            }
        }
    }
    assert!(lines > 25, "{lines}");
    // Debris is bought by the pound, without packs.
    assert_eq!(debris, r#""912" "lb""#);
    let told = said(folder.path(), &format!("papers {JOB} orders-waste_yard"));
    assert!(told.contains("Deliver to: the shop"), "{told}");
}

/// United inches as the trade has them, width and height together (common practice, no source).
#[test]
fn the_glass_list_has_united_inches_strength_and_spare_panes() {
    let folder = copy();
    let text = said(folder.path(), &format!("papers {JOB} shop_papers --json"));
    let json: serde_json::Value = serde_json::from_str(&text).expect("JSON");
    let lists = json["papers"][0]["lists"].as_array().expect("lists");
    let list = |name: &str| lists.iter().find(|l| l["name"] == name).expect("a list");
    let eighths = |cell: &serde_json::Value| {
        let text = cell["number"].as_str().expect("a number");
        (text.parse::<f64>().expect("a decimal") * 10_000.0).round()
    };
    let glass = list("glass_list");
    let rows = glass["rows"].as_array().expect("rows");
    let mut panes = 0;
    for row in rows.iter().filter(|r| r["kind"] == "line") {
        let cells = &row["cells"];
        let sum = eighths(&cells[0]) + eighths(&cells[1]);
        assert!((sum - eighths(&cells[2])).abs() < 0.5, "{row}");
        // Carpentry reference: single strength to about 24 in wide.
        let strength = cells[3]["text"].as_str().expect("a strength");
        assert_eq!(
            strength.starts_with("double"),
            eighths(&cells[0]) > 240_000.0,
            "{row}"
        );
        panes += cells[4]["number"]
            .as_str()
            .expect("panes")
            .parse::<u32>()
            .expect("a count");
    }
    assert_eq!(panes, 81);
    // What may break is the panes that are set again times the breakage of the sheets: 8 % of old panes in the library, 10 % in this job.
    let spare = list("spare_list")["rows"].as_array().expect("rows").clone();
    let total = spare
        .iter()
        .find(|r| r["kind"] == "total")
        .expect("a total");
    assert_eq!(total["cells"][2]["text"], "273");
    assert_eq!(total["cells"][3]["text"], "27.12");
}

#[test]
fn a_shop_changes_a_shipped_paper_in_its_layer() {
    let folder = copy();
    let shop = folder.path().join("demo-data/tallowgate-school/shop.ovo");
    let text = std::fs::read_to_string(&shop).expect("the sheet of the shop");
    let own = "\nlist tag_list for each sash {\n  titled \"Our tags\"\n  column sash_mark  headed \"No.\"\n}\n";
    std::fs::write(&shop, format!("{text}{own}")).expect("changed");
    let tags = said(folder.path(), &format!("papers {JOB} tags"));
    assert!(
        tags.contains("Our tags") && !tags.contains("Fate"),
        "{tags}"
    );
    assert!(
        tags.contains("with its face to the inside of the room"),
        "{tags}"
    );
}

#[test]
fn stock_on_hand_is_picked_as_the_plan_has_it() {
    let folder = copy();
    let told = said(folder.path(), &format!("papers {JOB} own_stock"));
    assert!(told.contains("A-01") && told.contains("G-19"), "{told}");
    let by_plan = said(folder.path(), &format!("estimate {JOB} --json"));
    let json: serde_json::Value = serde_json::from_str(&by_plan).expect("JSON");
    let plans = json["cut_plans"].as_array().expect("plans");
    let of = |p: &serde_json::Value| p["by_plan"]["on_hand"].as_i64().unwrap_or(0);
    let on_hand: i64 = plans.iter().map(of).sum();
    assert!(on_hand > 0, "{plans:?}");
    assert_eq!(total(folder.path(), "own_stock", "pieces"), on_hand * 100);
}

#[test]
fn a_list_without_rows_says_so() {
    let folder = small(None);
    let told = said(folder.path(), "papers job.ovo empty");
    assert!(told.contains("There are no rows."), "{told}");
    let csv = said(
        folder.path(),
        "papers job.ovo empty --csv empty/none_of_them",
    );
    assert_eq!(csv.lines().count(), 1, "{csv}");
    said(folder.path(), "papers job.ovo empty --to out");
    let page = std::fs::read_to_string(folder.path().join("out/empty.html")).expect("a page");
    assert!(page.contains("There are no rows."), "{page}");
}

#[test]
fn three_thousand_openings_with_long_marks_and_texts_from_right_to_left() {
    let hebrew = "\u{5d7}\u{5dc}\u{5d5}\u{5df} ".repeat(60);
    let mut survey =
        "Mark,Wing,Kind,Width,Height,Lites across,Lites high,Cracked,Lead\n".to_owned();
    for n in 0..3_000 {
        let mark = match n % 3 {
            0 => format!("{:0>300}", n),
            1 => format!("{n} {hebrew}"),
            _ => format!("W{n}"),
        };
        survey.push_str(&format!("{},Front,DH,32 1/4,62,2,2,1,yes\n", mark.trim()));
    }
    let folder = small(Some(&survey));
    let csv = said(
        folder.path(),
        "papers job.ovo schedule --csv schedule/windows",
    );
    assert_eq!(csv.lines().count(), 3_001);
    said(folder.path(), "papers job.ovo schedule --to out");
    let page = std::fs::read_to_string(folder.path().join("out/schedule.html")).expect("a page");
    assert_eq!(page.matches("<tr><td dir=\"auto\"").count(), 3_000);
    let told = said(folder.path(), "papers job.ovo schedule");
    let widest = told
        .lines()
        .map(unicode_width::UnicodeWidthStr::width)
        .max();
    assert!(widest <= Some(80), "{widest:?}");
    said(folder.path(), "papers job.ovo --workbook office.xlsx");
}

#[test]
fn what_cannot_be_written_is_refused_before_anything_is() {
    let folder = small(None);
    let at = folder.path();
    std::fs::write(at.join("taken"), "a file").expect("a file");
    std::fs::create_dir(at.join("folder")).expect("a folder");
    for (args, why) in [
        ("papers job.ovo --to taken", "OV-003"),
        ("papers job.ovo --to survey.csv", "OV-003"),
        ("papers job.ovo --workbook folder", "OV-003"),
        (
            "papers job.ovo --workbook survey.csv",
            "a survey of this job",
        ),
        ("papers job.ovo --workbook job.ovo", "a sheet of this job"),
        (
            "papers job.ovo schedule --workbook prices.csv",
            "a price book of this job",
        ),
        ("papers job.ovo nothing --to out", "one of schedule, empty"),
    ] {
        let told = refused(at, args);
        assert!(told.contains(why), "{args}: {told}");
    }
    assert_eq!(std::fs::read(at.join("taken")).expect("a file"), b"a file");
    assert!(!at.join("out").exists());
}

#[test]
fn a_job_without_papers_says_that_none_is_declared() {
    let folder = started();
    let told = refused(folder.path(), "papers job.ovo --csv windows");
    assert!(
        told.contains("OV-840") && told.contains("no sheet of this job declares one"),
        "{told}"
    );
    let told = refused(folder.path(), "papers job.ovo windows");
    assert!(
        told.contains("OV-665") && told.contains("it declares none"),
        "{told}"
    );
}

/// Common practice, no source: one tag is tied on the sash, one stays in its opening, and the register has each once.
#[test]
fn every_sash_has_two_tags_and_a_line_in_the_register() {
    let folder = copy();
    said(folder.path(), &format!("papers {JOB} tags --to out"));
    let page = std::fs::read_to_string(folder.path().join("out/tags.html")).expect("a page");
    let register = said(folder.path(), &format!("papers {JOB} --csv tags/tag_list"));
    let marks: Vec<&str> = register
        .lines()
        .skip(1)
        .filter_map(|line| line.split(',').next())
        .collect();
    assert_eq!(marks.len(), 114, "{register}");
    for mark in marks {
        let found = page.matches(&format!(">{mark}<")).count();
        assert_eq!(found, 3, "{mark}");
    }
}

/// The lists of the window schedule and the shop papers against one another and against the survey; the counts are those of the demonstration's survey.
#[test]
fn the_window_schedule_has_every_opening_and_templates_and_batches_what_is_made() {
    let folder = copy();
    let lines = |paper: &str, list: &str| -> Vec<Vec<String>> {
        let text = said(folder.path(), &format!("papers {JOB} {paper} --json"));
        let json: serde_json::Value = serde_json::from_str(&text).expect("JSON");
        let lists = json["papers"][0]["lists"].as_array().expect("lists");
        let list = lists.iter().find(|l| l["name"] == list).expect("the list");
        let rows = list["rows"].as_array().expect("rows").iter();
        let cells = |r: &serde_json::Value| -> Vec<String> {
            let cells = r["cells"].as_array().expect("cells").iter();
            cells
                .map(|c| c["text"].as_str().unwrap_or_default().to_owned())
                .collect()
        };
        rows.filter(|r| r["kind"] == "line").map(cells).collect()
    };
    let count = |rows: &[Vec<String>], at: usize| -> u32 {
        rows.iter()
            .map(|r| r[at].parse::<u32>().expect("a count"))
            .sum()
    };
    let windows = lines("window_schedule", "window_list");
    let marks: std::collections::BTreeSet<&str> = windows.iter().map(|r| r[0].as_str()).collect();
    assert_eq!((windows.len(), marks.len()), (61, 61));
    // A treatment of sill and frame, and what is known of lead, stand at each.
    assert!(
        windows
            .iter()
            .all(|r| r[9..12].iter().all(|c| !c.is_empty()))
    );

    let templates = lines("shop_papers", "template_list");
    let batches = lines("shop_papers", "batch_cards");
    let cut = lines("shop_papers", "cut_list");
    // Members with a molding are those cut from sash stock: 2 in rough.
    let molded: Vec<Vec<String>> = cut.into_iter().filter(|r| r[5] == "2").collect();
    assert_eq!(count(&templates, 1), count(&molded, 2));
    assert_eq!(count(&batches, 3), count(&molded, 2));
    // Ten sash are made new; a new rail let into an old sash is of no batch's sash.
    assert!(count(&batches, 2) >= 10, "{batches:?}");
}
