//! The shipped sheets, reached by name from the program alone.

use super::run::{ovolo, printed};
use std::path::Path;

#[test]
fn a_job_on_the_library_gives_the_figures_of_the_same_sheets_on_disk() {
    let demo = Path::new(env!("CARGO_MANIFEST_DIR")).join("demo-data/tallowgate-school");
    let folder = tempfile::tempdir().expect("a folder");
    for entry in std::fs::read_dir(&demo)
        .expect("the demonstration")
        .flatten()
    {
        let name = entry.file_name();
        let to = folder.path().join(&name);
        match std::fs::read_to_string(entry.path()) {
            Ok(text) => std::fs::write(to, text.replace("\"../../sheets/", "\"library:")),
            Err(_) => std::fs::copy(entry.path(), to).map(|_| ()),
        }
        .expect("a copy");
    }
    let csv = |at: &Path| printed(&ovolo(at, &["estimate", "job.ovo", "--csv", "cost-lines"]));
    assert_eq!(csv(folder.path()), csv(&demo));
    let files = printed(&ovolo(
        folder.path(),
        &["estimate", "job.ovo", "--csv", "made-from"],
    ));
    assert!(
        files.lines().any(|l| l.starts_with("library,library:,")),
        "{files}"
    );
    assert!(!files.contains("library:sizes.ovo"), "{files}");
}

#[test]
fn the_library_is_listed_printed_and_copied() {
    let folder = tempfile::tempdir().expect("a folder");
    let at = folder.path();
    assert!(printed(&ovolo(at, &["library"])).contains("condition.ovo"));
    let text = printed(&ovolo(at, &["library", "condition.ovo"]));
    let sheets = Path::new(env!("CARGO_MANIFEST_DIR")).join("sheets");
    let on_disk = std::fs::read_to_string(sheets.join("condition.ovo")).expect("the sheet");
    assert_eq!(text, on_disk);
    printed(&ovolo(at, &["library", "--copy", "mine"]));
    printed(&ovolo(at, &["proof", "mine/whole-job.ovo"]));
    let again = ovolo(at, &["library", "--copy", "mine"]);
    let said = String::from_utf8_lossy(&again.stderr);
    assert!(
        said.contains("OV-003  mine/access.ovo can't be written"),
        "{said}"
    );
    assert!(said.contains("; nothing was copied"), "{said}");
    let none = ovolo(at, &["library", "conditions.ovo"]);
    assert_eq!(none.status.code(), Some(2));
}
