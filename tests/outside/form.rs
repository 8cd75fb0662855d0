//! The survey form and its marked copy, opened and saved again by LibreOffice: what is read of them stays the same.
//!
//! Needs `soffice`.

use super::run::{ovolo, text};
use std::collections::BTreeMap;
use std::io::{Read, Write};
use std::path::Path;
use std::process::Command;

fn parts(file: &Path) -> BTreeMap<String, Vec<u8>> {
    let file = std::fs::File::open(file).expect("a workbook");
    let mut archive = zip::ZipArchive::new(file).expect("an archive");
    let mut parts = BTreeMap::new();
    for at in 0..archive.len() {
        let mut entry = archive.by_index(at).expect("an entry");
        let mut bytes = Vec::new();
        entry.read_to_end(&mut bytes).expect("readable");
        let name = entry.name().expect("a name").to_string();
        parts.insert(name, bytes);
    }
    parts
}

/// Types into blank cells of the first tab, and leaves all else of the form as it is.
fn fill_in(form: &Path, cells: &[(&str, &str)]) {
    let mut parts = parts(form);
    let sheet = parts.get_mut("xl/worksheets/sheet1.xml").expect("a tab");
    let mut xml = String::from_utf8(sheet.clone()).expect("text");
    for (cell, said) in cells {
        let start = format!("<c r=\"{cell}\"");
        let at = xml.find(&start).expect("the form has the cell") + start.len();
        let end = at + xml[at..].find("/>").expect("it is blank");
        let said = said.replace('"', "&quot;");
        xml.replace_range(
            end..end + 2,
            &format!(" t=\"inlineStr\"><is><t>{said}</t></is></c>"),
        );
    }
    *sheet = xml.into_bytes();
    let file = std::fs::File::create(form).expect("a file");
    let mut archive = zip::ZipWriter::new(file);
    for (name, bytes) in parts {
        let options = zip::write::SimpleFileOptions::default();
        archive.start_file(name, options).expect("an entry");
        archive.write_all(&bytes).expect("written");
    }
    archive.finish().expect("whole");
}

/// Opens a workbook in LibreOffice and saves it as another kind.
fn saved_again(file: &Path, kind: &str) -> Vec<u8> {
    let folder = tempfile::tempdir().expect("a folder");
    let home = format!(
        "-env:UserInstallation=file://{}/home",
        folder.path().display()
    );
    let done = Command::new("soffice")
        .args([
            home.as_str(),
            "--headless",
            "--convert-to",
            kind,
            "--outdir",
        ])
        .arg(folder.path())
        .arg(file)
        .output()
        .expect("soffice runs");
    let ending = kind.split(':').next().unwrap_or(kind);
    let name = file.with_extension(ending);
    let name = name.file_name().expect("a name");
    std::fs::read(folder.path().join(name)).unwrap_or_else(|e| panic!("{e}: {}", text(&done)))
}

/// What `survey` says, without the rows of a form that nobody filled in: an ODS workbook does not keep them.
fn told(folder: &Path) -> String {
    let said = text(&ovolo(folder, &["survey", "mill/job.ovo"]));
    let lines = said
        .lines()
        .filter(|line| !line.ends_with("skipped: blank"));
    lines
        .collect::<Vec<_>>()
        .join("\n")
        .replace(".ods", ".xlsx")
}

const FILLED: &[(&str, &str)] = &[
    ("A4", "N1"),
    ("B4", "North"),
    ("E4", "1"),
    ("F4", "Hall"),
    ("G4", "hung"),
    ("J4", "30 1/2"),
    ("K4", "5'-0 1/4\""),
    ("L4", "3"),
    ("M4", "2"),
    ("N4", "6/1"),
    ("R4", "10"),
    ("V4", "5 %"),
    ("X4", "0"),
    ("AC4", "25"),
    ("AH4", "peeling"),
    ("A5", "N2"),
    ("B5", "North"),
    ("E5", "1"),
    ("F5", "Shop"),
    ("G5", "casement"),
    ("H5", "segmental"),
    ("I5", "6"),
    ("J5", "775 mm"),
    ("K5", "48"),
    ("L5", "2"),
    ("M5", "2"),
    ("R5", "0"),
    ("V5", "0"),
    ("X5", "2.5"),
    ("AC5", "40 %"),
    ("AH5", "good"),
    ("AR5", "2026-03-02"),
];

#[test]
fn a_form_and_its_marked_copy_read_the_same_when_another_program_saved_them() {
    let folder = tempfile::tempdir().expect("a folder");
    let at = folder.path();
    let made = ovolo(at, &["start", "mill", "--issued", "2026-03-21"]);
    assert!(made.status.success(), "{}", text(&made));
    let form = at.join("mill/survey.xlsx");
    fill_in(&form, FILLED);
    let before = told(at);
    assert!(before.contains("2 rows of \"opening\" read."), "{before}");
    let filled = std::fs::read(&form).expect("the form");
    let as_xlsx = saved_again(&form, "xlsx:Calc MS Excel 2007 XML");
    let as_ods = saved_again(&form, "ods");
    std::fs::write(&form, as_xlsx).expect("written");
    assert_eq!(told(at), before);
    let job = at.join("mill/job.ovo");
    let sheet = std::fs::read_to_string(&job).expect("the job");
    std::fs::write(&job, sheet.replace("survey.xlsx", "survey.ods")).expect("written");
    std::fs::write(at.join("mill/survey.ods"), as_ods).expect("written");
    assert_eq!(told(at), before);
    std::fs::write(&job, sheet).expect("written");

    // With slips: the marked copy, saved again, is refused for the same cells, and its list and comments are no survey.
    std::fs::write(&form, filled).expect("written");
    fill_in(
        &form,
        &[
            ("A6", "N3"),
            ("B6", "North"),
            ("E6", "2"),
            ("G6", "casemnt"),
            ("J6", "30 kg"),
            ("K6", "48"),
        ],
    );
    let slips = told(at);
    assert!(
        slips.contains("OV-724") && slips.contains("OV-716"),
        "{slips}"
    );
    let marked = ovolo(at, &["survey", "mill/job.ovo", "--marked", "marked.xlsx"]);
    assert_eq!(marked.status.code(), Some(1), "{}", text(&marked));
    let copy = at.join("marked.xlsx");
    let again = saved_again(&copy, "xlsx:Calc MS Excel 2007 XML");
    std::fs::copy(&copy, &form).expect("copied");
    assert_eq!(told(at), slips);
    std::fs::write(&form, again).expect("written");
    assert_eq!(told(at), slips);
}
