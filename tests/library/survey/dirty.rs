//! A survey of 60 openings by three hands, with every common slip in it: the messages and the report in full, as a user sees them.
//!
//! The expected texts lie beside the survey. `OVOLO_UPDATE=1 cargo test --test survey dirty` writes them anew; read the difference before committing it.

use ovolo::diagnostics::Sources;
use ovolo::diagnostics::render::{Style, render_all};
use ovolo::survey::{ReadOptions, SetAside, report_text};

use crate::survey::build::read_with;

fn data(name: &str) -> String {
    format!("{}/tests/survey/data/{name}", env!("CARGO_MANIFEST_DIR"))
}

fn compare(name: &str, found: &str) {
    if std::env::var_os("OVOLO_UPDATE").is_some() {
        std::fs::write(data(name), found).expect("written");
    }
    let expected = std::fs::read_to_string(data(name)).unwrap_or_default();
    assert_eq!(found, expected, "{name}");
}

#[test]
fn every_problem_of_a_dirty_survey_comes_out_together() {
    let list = read_with(
        std::fs::read(data("dirty.csv")).expect("a file"),
        &ReadOptions::default(),
    )
    .expect_err("a dirty survey");
    compare(
        "dirty-messages.txt",
        &render_all(
            &list,
            &Sources::default(),
            Style { color: false },
            usize::MAX,
        ),
    );
}

#[test]
fn a_dirty_survey_is_reported_with_the_rows_set_aside() {
    let aside = ["W41"].map(String::from).to_vec();
    let by_name = ReadOptions {
        set_aside: SetAside::Marks(aside),
        ..ReadOptions::default()
    };
    let named = read_with(std::fs::read(data("dirty.csv")).expect("a file"), &by_name)
        .expect_err("other rows are dirty too");
    assert!(
        !named.iter().any(|d| d.code == "OV-707"),
        "both rows of the mark used twice are set aside"
    );
    // The mark used twice stops the run whatever is set aside, so it is mended first.
    let text = std::fs::read_to_string(data("dirty.csv")).expect("a file");
    let at = text.rfind("\nW41,").expect("the second W41");
    let mended = format!("{}\nW42,{}", &text[..at], &text[at + 5..]);
    let options = ReadOptions {
        set_aside: SetAside::AllUnreadable,
        ..ReadOptions::default()
    };
    let reading = read_with(mended, &options).expect("the rest is clean");
    compare("dirty-report.txt", &report_text(&reading.report, 100));
}
