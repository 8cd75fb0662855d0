//! Bad input to the papers that leave the house: each is said in words on the paper, and none stops it.

use super::handover::{JOB, change, copy, paper};
use super::leaks::{job, said};
use super::outputs::ovolo;

/// A sum in a currency that has no words here is printed in figures, and the paper says so.
#[test]
fn another_currency_has_figures_and_no_words() {
    let folder = job();
    let at = folder.path();
    for file in ["job.ovo", "prices.csv"] {
        let text = std::fs::read_to_string(at.join(file)).expect("is there");
        std::fs::write(at.join(file), text.replace("USD", "CHF")).expect("writes");
    }
    let shown = said(at, "papers job.ovo offer");
    assert!(
        shown.contains("Base bid: 2,658.11 CHF. The sum has no words in this"),
        "{shown}"
    );
    assert!(!shown.contains("dollars"), "{shown}");
}

/// A picture file that says it is 20,000 pixels wide: the header of a PNG, W3C recommendation, section 11.2.2.
fn huge() -> Vec<u8> {
    let mut out = vec![
        0x89, 0x50, 0x4e, 0x47, 0x0d, 0x0a, 0x1a, 0x0a, 0, 0, 0, 0x0d,
    ];
    out.extend(b"IHDR");
    out.extend(20_000u32.to_be_bytes());
    out.extend(10u32.to_be_bytes());
    out.extend([8, 2, 0, 0, 0, 0, 0, 0, 0]);
    out
}

#[test]
fn photographs_that_are_huge_or_cannot_be_read_are_named() {
    let folder = copy();
    change(
        folder.path(),
        "job.ovo",
        "issued 2024-03-25",
        "issued 2024-03-25\n  photographs from \"photos\"",
    );
    let photos = folder.path().join("demo-data/tallowgate-school/photos");
    std::fs::create_dir(&photos).expect("a folder");
    std::fs::write(photos.join("105.png"), huge()).expect("writes");
    std::fs::write(photos.join("106.jpg"), vec![0xff; 8_000_001]).expect("writes");
    std::fs::write(photos.join("107.jpg"), b"").expect("writes");
    let schedule = paper(folder.path(), "treatment_schedule", "");
    let got = ovolo(folder.path(), &format!("papers {JOB} treatment_schedule"));
    let shown = String::from_utf8_lossy(&got.stdout).replace('\n', " ");
    assert_eq!(schedule["name"], "treatment_schedule");
    for said in [
        "Photo 105: 20000 by 10 pixels: at most 12000 either way can be placed.",
        "Photo 106: larger than 8 MB: save it smaller.",
        "Photo 107: neither a JPEG nor a PNG picture.",
        "Photo 108: not in the folder photos.",
    ] {
        assert!(shown.contains(said), "{said}");
    }
}

/// A job of more openings than anyone surveys: its papers are made, each opening once.
#[test]
fn three_thousand_openings_are_no_trouble() {
    let folder = job();
    let at = folder.path();
    let mut rows = String::from("Mark,Wing,Width,Height,Cracked,Remark\n");
    for n in 0..3_000 {
        rows.push_str(&format!("A{n},Front,32 1/4,62,1,\n"));
    }
    std::fs::write(at.join("survey.csv"), rows).expect("writes");
    said(at, "papers job.ovo schedule --to out");
    let page = std::fs::read_to_string(at.join("out/schedule.html")).expect("a page");
    for mark in ["A0", "A1499", "A2999"] {
        assert_eq!(page.matches(&format!(">{mark}<")).count(), 1, "{mark}");
    }
    assert!(at.join("out/schedule.pdf").metadata().expect("a PDF").len() > 100_000);
}

/// An arch without its rise is asked for at its cell, and no paper guesses one.
#[test]
fn an_arch_without_a_rise_is_asked_for() {
    let folder = copy();
    change(
        folder.path(),
        "survey.csv",
        "single,segmental,6,",
        "single,segmental,,",
    );
    let got = ovolo(
        folder.path(),
        &format!("papers {JOB} treatment_schedule --to out"),
    );
    let told = String::from_utf8_lossy(&got.stderr).into_owned();
    assert_eq!(got.status.code(), Some(1), "{told}");
    for said in [
        "N18 has a segmental head without a rise: measure it from the spring to the crown",
        "survey.csv, line 23, column 10 (Rise (in))",
    ] {
        assert!(told.contains(said), "{told}");
    }
    assert!(!folder.path().join("out").exists(), "nothing is written");
}
