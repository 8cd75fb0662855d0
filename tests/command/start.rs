//! `ovolo start`: a job on the shipped sheets, from an empty folder with the binary alone.

use super::run::{ovolo, text};
use calamine::{Data, Reader, Xlsx};
use std::io::Cursor;

/// The tables of a form's example as CSV: their headings and rows, in order.
fn example(form: &[u8]) -> Vec<String> {
    let mut book: Xlsx<_> = Xlsx::new(Cursor::new(form)).expect("the form is a workbook");
    let range = book.worksheet_range("Example").expect("it has an example");
    let filled = |row: &&[Data]| row.iter().filter(|c| **c != Data::Empty).count();
    let mut tables: Vec<String> = Vec::new();
    let mut inside = false;
    for row in range.rows() {
        match filled(&row) {
            0 => inside = false,
            1 => {}
            _ => {
                if !inside {
                    tables.push(String::new());
                }
                inside = true;
                let cells: Vec<String> = row
                    .iter()
                    .map(|c| format!("\"{}\"", c.to_string().replace('"', "\"\"")))
                    .collect();
                let table = tables.last_mut().expect("one was begun");
                table.push_str(&(cells.join(",") + "\n"));
            }
        }
    }
    tables
}

#[test]
fn a_job_on_the_shipped_sheets_begins_with_the_binary_alone() {
    let folder = tempfile::tempdir().expect("a folder");
    let at = folder.path();
    let day = ["--issued", "2026-03-21"];
    let made = ovolo(at, &[&["start", "mill"], &day[..]].concat());
    assert!(made.status.success(), "{}", text(&made));
    let read =
        |name: &str| std::fs::read_to_string(at.join("mill").join(name)).expect("it is made");

    // Sheets are in standard form, and every fact that is asked can be answered.
    for sheet in ["job.ovo", "site.ovo", "shop.ovo"] {
        let tidy = ovolo(&at.join("mill"), &["tidy", "--check", sheet]);
        assert!(tidy.status.success(), "{}", text(&tidy));
    }
    assert!(read("site.ovo").contains("# change build_year to"));
    assert!(read("shop.ovo").contains("because \"own log\" was"));
    assert!(read("job.ovo").contains(&format!("library \"{}\"", ovolo::library::stamp())));

    // A form that nobody filled in is refused as such, and a price that nobody gave is not zero.
    let empty = ovolo(at, &["estimate", "mill/job.ovo"]);
    assert_eq!(empty.status.code(), Some(1));
    assert!(
        text(&empty).contains("OV-705  no row of \"opening\""),
        "{}",
        text(&empty)
    );
    assert!(!text(&empty).contains("OV-706"), "{}", text(&empty));

    // The example stands for a filled form: the headings and choices of the form read as they are.
    let form = std::fs::read(at.join("mill/survey.xlsx")).expect("the form is made");
    let tables = example(&form);
    let mut job = read("job.ovo");
    for (name, table) in ["opening", "sash", "defect", "sash_defect"]
        .iter()
        .zip(&tables)
    {
        std::fs::write(at.join(format!("mill/{name}.csv")), table).expect("it is written");
        let line = job
            .lines()
            .find(|l| l.trim_start().starts_with(&format!("survey {name} ")))
            .expect("the job names every table")
            .to_owned();
        job = job.replace(&line, &format!("  survey {name} from \"{name}.csv\""));
    }
    std::fs::write(at.join("mill/job.ovo"), job).expect("it is written");
    let survey = ovolo(at, &["survey", "mill/job.ovo"]);
    assert!(survey.status.success(), "{}", text(&survey));
    let worked = ovolo(at, &["estimate", "mill/job.ovo", "--quantities"]);
    assert!(worked.status.success(), "{}", text(&worked));
    let priced = ovolo(at, &["estimate", "mill/job.ovo"]);
    assert_eq!(priced.status.code(), Some(1));
    assert!(text(&priced).contains("OV-820"), "{}", text(&priced));

    // What the form's example needs is listed and written to be filled in; a price a year old is to be asked again.
    let prices = ["prices", "mill/job.ovo", "--write", "ask.csv"];
    let listed = ovolo(at, &prices);
    assert!(listed.status.success(), "{}", text(&listed));
    assert!(text(&listed).contains("missing"), "{}", text(&listed));
    let ask = std::fs::read_to_string(at.join("ask.csv")).expect("it is written");
    assert!(ask.lines().count() > 5, "{ask}");
    let filled: Vec<String> = ask
        .lines()
        .map(|line| {
            let mut cells: Vec<&str> = line.splitn(8, ',').collect();
            if cells[0] != "resource" {
                cells[2] = "12.50";
                cells[7] = match cells[0] {
                    "glazier" => "2024-01-02,burdened rate,",
                    _ => "2026-02-01,,",
                };
            }
            cells.join(",")
        })
        .collect();
    std::fs::write(at.join("mill/prices.csv"), filled.join("\n")).expect("it is written");
    let listed = ovolo(at, &prices);
    assert!(
        text(&listed).contains("of 2024-01-02") && !text(&listed).contains("missing"),
        "{}",
        text(&listed)
    );
    let ask = std::fs::read_to_string(at.join("ask.csv")).expect("it is written");
    assert_eq!(ask.lines().count(), 2, "the old price alone: {ask}");

    // The same inputs give the same bytes.
    ovolo(at, &[&["start", "other/mill"], &day[..]].concat());
    let again = std::fs::read(at.join("other/mill/survey.xlsx")).expect("the form is made");
    assert_eq!(form, again);
}

#[test]
fn a_folder_with_files_is_refused_and_left_as_it_was() {
    let folder = tempfile::tempdir().expect("a folder");
    let at = folder.path();
    std::fs::create_dir(at.join("full")).expect("it is made");
    std::fs::write(at.join("full/notes.txt"), "mine").expect("it is written");
    std::fs::create_dir(at.join("empty")).expect("it is made");
    let small = |name: &str| ovolo(at, &["start", name, "--small"]);

    for (name, found) in [
        ("full", "a folder with files in it"),
        ("full/notes.txt", "a file"),
    ] {
        let made = small(name);
        assert_eq!(made.status.code(), Some(3));
        let said = text(&made);
        assert!(
            said.contains(&format!("OV-003  {name} can't be made")),
            "{said}"
        );
        assert!(said.contains(&format!("found     {found}")), "{said}");
    }
    let names = |of: &str| {
        let list = std::fs::read_dir(at.join(of)).expect("it is there");
        let mut names: Vec<_> = list.map(|e| e.expect("a name").file_name()).collect();
        names.sort();
        names
    };
    assert_eq!(names("full"), ["notes.txt"]);

    assert!(small("empty").status.success());
    assert_eq!(
        names("empty"),
        ["job.ovo", "prices.csv", "rules.ovo", "survey.csv"]
    );
    assert_eq!(names(""), ["empty", "full"]);
    assert!(ovolo(at, &["estimate", "empty/job.ovo"]).status.success());
}

#[test]
fn a_locked_form_is_told_of_once_for_all_its_tables() {
    let folder = tempfile::tempdir().expect("a folder");
    let at = folder.path();
    let made = ovolo(at, &["start", "mill", "--issued", "2026-03-21"]);
    assert!(made.status.success(), "{}", text(&made));
    // See tests/survey/data/README.md.
    let locked = include_bytes!("../survey/data/locked.xlsx");
    std::fs::write(at.join("mill/survey.xlsx"), locked).expect("it is written");
    let read = ovolo(at, &["survey", "mill/job.ovo"]);
    assert_eq!(read.status.code(), Some(1));
    let said = text(&read);
    assert_eq!(said.matches("OV-").count(), 1, "{said}");
    assert!(
        said.contains("OV-016  the workbook is locked with a password\n  at mill/survey.xlsx"),
        "{said}"
    );
    assert!(said.contains("Save a copy without the password."), "{said}");
}
