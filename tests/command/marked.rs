//! `ovolo survey --marked`: the surveyor's own workbook comes back with its marks, and nothing else of it has changed.

use super::run::{ovolo, text};
use rust_xlsxwriter::{Format, Formula, Workbook};
use std::collections::BTreeMap;
use std::io::{Cursor, Read, Write};

const JOB: &str = r#"
sheet "marked" layer job
counted lite
survey opening {
  mark     text          key   headed "No."
  kind     one of single, pair   headed "Type"
  wide     length in in  between 12 in and 96 in   headed "W"
  lites    count of lite   headed "Lites"
  cracked  count of lite   headed "Cracked"
}
survey defect of opening by opening {
  opening  text   headed "No."
  long     length in in   headed "Long"
}
resource glazier labor h
for each opening {
  require cracked <= lites  else "{mark} has {lites}, but {cracked} cracked are noted"
  take glazier  0.5 h   for "Glazing"
}
for each defect {
  take glazier  long / (10 in per h)   for "Mending"
}
job {
  survey opening from "survey.xlsm"  tab "Windows"
  survey defect from "survey.xlsm"  tab "Places"
  money USD
}
"#;

/// A workbook with macros as a surveyor keeps it. `slips` are the five cells that are wrong.
fn workbook(slips: bool) -> Vec<u8> {
    let pick = |wrong: &'static str, right: &'static str| if slips { wrong } else { right };
    let mut book = Workbook::new();
    let bold = Format::new().set_bold();
    let sheet = book.add_worksheet();
    sheet.set_name("Windows").expect("a name");
    sheet
        .merge_range(0, 0, 0, 4, "North side, seen in March", &bold)
        .expect("merged");
    let rows = [
        ["No.", "Type", "W", "Lites", "Cracked"],
        ["N1", "pair", "30 1/2", "12", pick("25", "2")],
        ["N2", pick("piar", "pair"), "30", "4", "0"],
        ["N3", "single", pick("2'6", "30"), "4", "0"],
    ];
    for (row, cells) in (1..).zip(rows) {
        for (column, cell) in (0..).zip(cells) {
            sheet.write_string(row, column, cell).expect("written");
        }
    }
    sheet
        .write_formula(2, 6, Formula::new("1+1").set_result("2"))
        .expect("written");
    sheet.set_row_hidden(3).expect("hidden");
    sheet.set_column_width(0, 14).expect("a width");
    sheet.set_landscape();
    let places = book.add_worksheet();
    places.set_name("Places").expect("a name");
    for (row, (mark, long)) in (0..).zip([
        ("No.", "Long"),
        ("N1", pick("long", "12")),
        (pick("N9", "N3"), "10"),
    ]) {
        places.write_string(row, 0, mark).expect("written");
        places.write_string(row, 1, long).expect("written");
    }
    let diary = book.add_worksheet();
    diary.set_name("Diary").expect("a name");
    diary.write_string(0, 0, "=1+1").expect("written");
    with_macros(&book.save_to_buffer().expect("saved"))
}

/// The workbook as one with macros: a part more, and the types that say so.
fn with_macros(bytes: &[u8]) -> Vec<u8> {
    let mut old = zip::ZipArchive::new(Cursor::new(bytes)).expect("an archive");
    let mut new = zip::ZipWriter::new(Cursor::new(Vec::new()));
    let options = zip::write::SimpleFileOptions::default();
    for at in 0..old.len() {
        let mut part = old.by_index(at).expect("a part");
        let name = part.name().expect("a name").into_owned();
        let mut content = Vec::new();
        part.read_to_end(&mut content).expect("read");
        if name == "[Content_Types].xml" {
            let types = String::from_utf8(content).expect("text");
            content = types
                .replace(
                    "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet.main+xml",
                    "application/vnd.ms-excel.sheet.macroEnabled.main+xml",
                )
                .replace(
                    "<Default Extension=\"xml\"",
                    "<Default Extension=\"bin\" ContentType=\"application/vnd.ms-office.vbaProject\"/><Default Extension=\"xml\"",
                )
                .into_bytes();
        }
        new.start_file(name, options).expect("begun");
        new.write_all(&content).expect("written");
    }
    new.start_file("xl/vbaProject.bin", options).expect("begun");
    new.write_all(b"\xd0\xcf\x11\xe0 macros, not looked into")
        .expect("written");
    new.finish().expect("an archive").into_inner()
}

fn parts(bytes: &[u8]) -> BTreeMap<String, Vec<u8>> {
    let mut archive = zip::ZipArchive::new(Cursor::new(bytes)).expect("an archive");
    (0..archive.len())
        .map(|at| {
            let mut part = archive.by_index(at).expect("a part");
            let mut content = Vec::new();
            part.read_to_end(&mut content).expect("read");
            (part.name().expect("a name").into_owned(), content)
        })
        .collect()
}

/// A job in a folder of its own over this workbook.
fn job(bytes: &[u8]) -> tempfile::TempDir {
    let folder = tempfile::tempdir().expect("a folder");
    std::fs::write(folder.path().join("job.ovo"), JOB).expect("written");
    std::fs::write(folder.path().join("survey.xlsm"), bytes).expect("written");
    folder
}

#[test]
fn two_tables_of_a_workbook_with_macros_give_one_copy_of_it() {
    let original = workbook(true);
    let folder = job(&original);
    let at = folder.path();
    let survey = ovolo(at, &["survey", "job.ovo"]);
    assert_eq!(survey.status.code(), Some(1));
    // A copy keeps the macros, so its name says so, and it never replaces the survey.
    for (name, expected) in [
        ("m.xlsx", ".xlsm"),
        ("m", "a name without an ending"),
        ("survey.xlsm", "a survey of this job"),
    ] {
        let refused = ovolo(at, &["survey", "job.ovo", "--marked", name]);
        let said = text(&refused);
        assert_eq!(refused.status.code(), Some(3), "{said}");
        assert!(said.contains("OV-003") && said.contains(expected), "{said}");
        assert!(!at.join("m.xlsx").exists());
    }
    let done = ovolo(at, &["survey", "job.ovo", "--marked", "m.xlsm"]);
    assert_eq!(
        text(&done),
        "Written: m.xlsm, a copy of survey.xlsm: 6 cells marked\n"
    );
    let copy = std::fs::read(at.join("m.xlsm")).expect("the copy");
    let (before, after) = (parts(&original), parts(&copy));
    let changed: Vec<&str> = before
        .iter()
        .filter(|(name, content)| after.get(*name) != Some(content))
        .map(|(name, _)| name.as_str())
        .collect();
    assert_eq!(
        changed,
        [
            "[Content_Types].xml",
            "xl/_rels/workbook.xml.rels",
            "xl/styles.xml",
            "xl/workbook.xml",
            "xl/worksheets/sheet1.xml",
            "xl/worksheets/sheet2.xml",
        ]
    );
    let added: Vec<&str> = after
        .keys()
        .filter(|name| !before.contains_key(*name))
        .map(String::as_str)
        .collect();
    assert_eq!(
        added,
        [
            "xl/comments1.xml",
            "xl/comments2.xml",
            "xl/drawings/vmlDrawing1.vml",
            "xl/drawings/vmlDrawing2.vml",
            "xl/worksheets/_rels/sheet1.xml.rels",
            "xl/worksheets/_rels/sheet2.xml.rels",
            "xl/worksheets/ovolo1.xml",
        ]
    );
    let comments = String::from_utf8_lossy(&after["xl/comments2.xml"]).into_owned();
    for said in [
        "N1 has 12 lites, but 25 lites cracked are noted",
        "&quot;Type&quot; has no such choice",
        "Write what is meant: 2 ft 6 in, or 2 ft.",
    ] {
        assert!(comments.contains(said), "{said}: {comments}");
    }
    // Reading the copy gives what reading the original gave.
    std::fs::write(at.join("survey.xlsm"), &copy).expect("written");
    assert_eq!(
        text(&ovolo(at, &["survey", "job.ovo"])),
        text(&survey),
        "the same messages at the same cells"
    );
}

#[test]
fn a_copy_whose_cells_are_mended_reads_clean() {
    let folder = job(&workbook(true));
    let at = folder.path();
    ovolo(at, &["survey", "job.ovo", "--marked", "m.xlsm"]);
    let copy = std::fs::read(at.join("m.xlsm")).expect("the copy");
    // The surveyor types over the texts of the bad cells; the shared texts of a clean workbook are theirs.
    let clean = workbook(false);
    let texts = parts(&clean)
        .remove("xl/sharedStrings.xml")
        .expect("shared texts");
    let mut mended = zip::ZipWriter::new(Cursor::new(Vec::new()));
    let sheets = parts(&clean);
    for (name, content) in parts(&copy) {
        let content = match name.as_str() {
            "xl/sharedStrings.xml" => texts.clone(),
            "xl/worksheets/sheet1.xml" | "xl/worksheets/sheet2.xml" => {
                with_texts_of(&content, &sheets[&name])
            }
            _ => content,
        };
        mended
            .start_file(name, zip::write::SimpleFileOptions::default())
            .expect("begun");
        mended.write_all(&content).expect("written");
    }
    let mended = mended.finish().expect("an archive").into_inner();
    std::fs::write(at.join("survey.xlsm"), mended).expect("written");
    let read = ovolo(at, &["survey", "job.ovo"]);
    assert!(read.status.success(), "{}", text(&read));
    let said = text(&read);
    assert!(
        said.contains("3 rows of \"opening\" read.") && said.contains("2 rows of \"defect\" read."),
        "{said}"
    );
}

/// A tab with the values that the cells of another have, in order.
fn with_texts_of(marked: &[u8], clean: &[u8]) -> Vec<u8> {
    let clean = String::from_utf8_lossy(clean).into_owned();
    let mut values = clean.split("<v>").skip(1).map(|v| {
        let end = v.find("</v>").expect("a value ends");
        &v[..end]
    });
    let marked = String::from_utf8_lossy(marked).into_owned();
    let mut pieces = marked.split("<v>");
    let mut out = pieces.next().expect("a start").to_string();
    for piece in pieces {
        let end = piece.find("</v>").expect("a value ends");
        out.push_str("<v>");
        out.push_str(values.next().expect("as many values"));
        out.push_str(&piece[end..]);
    }
    out.into_bytes()
}

const SASHES: &str = r#"
sheet "sashes" layer job
survey opening {
  mark  text          key   headed "No."
  kind  one of hung, single   headed "Type"
}
survey sash of opening by opening {
  name     text  key   headed "Sash"
  opening  text        headed "No."
  place    one of whole ("S"), upper ("U"), lower ("L")   headed "Place"
}
rows sash by place from kind {
  single: whole
  hung: upper, lower
}
survey soft of sash by sash {
  sash  text   headed "Sash"
  long  length in in   headed "Long"
}
resource joiner labor h
for each soft {
  take joiner  long / (10 in per h)   for "Mending"
}
job {
  survey opening from "openings.csv"
  survey sash from "sashes.csv"
  survey soft from "soft.csv"
  money USD
}
"#;

#[test]
fn a_sash_that_its_opening_has_not_is_marked_and_what_lies_on_it_is_not() {
    let folder = tempfile::tempdir().expect("a folder");
    let at = folder.path();
    for (name, content) in [
        ("job.ovo", SASHES),
        ("openings.csv", "No.,Type\nN1,single\nN2,hung\n"),
        (
            "sashes.csv",
            "Sash,No.,Place\nA,N1,upper\nB,N2,upper\nC,N2,upper\n",
        ),
        ("soft.csv", "Sash,Long\nA,3\nB,4\nC,5\nD,6\n"),
    ] {
        std::fs::write(at.join(name), content).expect("written");
    }
    let said = text(&ovolo(at, &["survey", "job.ovo"]));
    let codes: Vec<&str> = said.lines().filter_map(|l| l.strip_prefix("OV-")).collect();
    assert_eq!(
        codes,
        [
            "740  its opening has no such sash",
            "741  two rows of \"sash\" describe the same one",
            "730  no sash has this mark",
        ],
        "{said}"
    );
    assert!(
        said.contains("The \"Type\" of the opening is single."),
        "{said}"
    );

    let out = ovolo(at, &["survey", "job.ovo", "--marked", "m.xlsx"]);
    assert!(
        text(&out).contains("m-sashes.xlsx, a copy of sashes.csv: 2 cells marked"),
        "{}",
        text(&out)
    );
    assert!(
        text(&out).contains("m-soft.xlsx, a copy of soft.csv: 1 cell marked"),
        "{}",
        text(&out)
    );
}
