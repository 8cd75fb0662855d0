//! Files that commands write, and what they print: nothing that is read is written over, and a failure is told.

use std::path::Path;
use std::process::{Command, Output, Stdio};

fn ovolo(folder: &Path, args: &str) -> Output {
    Command::new(env!("CARGO_BIN_EXE_ovolo"))
        .args(args.split_whitespace())
        .current_dir(folder)
        .env("NO_COLOR", "1")
        .output()
        .expect("it runs")
}

/// A folder with the job of `ovolo start` in it.
fn started() -> tempfile::TempDir {
    let folder = tempfile::tempdir().expect("a folder");
    assert!(ovolo(folder.path(), "start .").status.success());
    folder
}

fn refused(folder: &Path, args: &str, why: &str) {
    let got = ovolo(folder, args);
    let text = String::from_utf8_lossy(&got.stderr).to_string();
    assert_eq!(got.status.code(), Some(3), "{args}: {text}");
    assert!(
        text.contains("OV-003") && text.contains(why),
        "{args}: {text}"
    );
    assert!(!text.contains("Written"), "{args}: {text}");
}

#[test]
fn no_input_of_the_job_is_written_over() {
    let folder = started();
    let at = folder.path();
    let names = ["job.ovo", "rules.ovo", "survey.csv", "prices.csv"];
    let read = |n: &str| std::fs::read(at.join(n)).expect("a file of the job");
    let before: Vec<Vec<u8>> = names.iter().map(|n| read(n)).collect();
    for (args, why) in [
        (
            "estimate job.ovo --workbook survey.csv",
            "a survey of this job",
        ),
        ("estimate job.ovo --page job.ovo", "a sheet of this job"),
        ("estimate job.ovo --page ./rules.ovo", "a sheet of this job"),
        (
            "estimate job.ovo --record prices.csv",
            "a price book of this job",
        ),
        ("survey job.ovo --marked survey.csv", "a survey of this job"),
        (
            "survey job.ovo --marked prices.csv",
            "a price book of this job",
        ),
        (
            "estimate job.ovo --page x.html --workbook x.html",
            "the same file as",
        ),
        (
            "estimate job.ovo --page x.html --workbook ./x.html",
            "the same file as",
        ),
        ("estimate job.ovo --page .", "a folder"),
        (
            "estimate job.ovo --page nowhere/x.html",
            "there is no file nowhere",
        ),
    ] {
        refused(at, args, why);
    }
    assert_eq!(before, names.iter().map(|n| read(n)).collect::<Vec<_>>());
    assert!(!at.join("x.html").exists());
}

/// The job of `ovolo start` with a lookup table in a CSV file of its own.
fn with_table() -> tempfile::TempDir {
    let folder = started();
    let at = folder.path();
    let rules = std::fs::read_to_string(at.join("rules.ovo")).expect("the rules");
    let rules = format!("{rules}\ntable weight_of from \"glass.csv\" by thickness\n");
    std::fs::write(at.join("rules.ovo"), rules).expect("the rules");
    let table = "thickness (in),weight (lb per sq ft)\n1/8,1.64\n3/32,1.22\n";
    std::fs::write(at.join("glass.csv"), table).expect("the table");
    folder
}

#[test]
fn a_table_in_a_file_is_a_file_of_the_job_like_any_other() {
    let folder = with_table();
    let at = folder.path();
    for args in [
        "estimate job.ovo --page glass.csv",
        "estimate job.ovo --workbook ./glass.csv",
        "estimate job.ovo --record glass.csv",
        "survey job.ovo --marked glass.csv",
    ] {
        refused(at, args, "a table of this job");
    }
    let text = std::fs::read_to_string(at.join("glass.csv")).expect("the table");
    assert!(text.starts_with("thickness"), "{text}");
    let made = ovolo(at, "estimate job.ovo --csv made-from");
    let made = String::from_utf8_lossy(&made.stdout).to_string();
    assert!(made.contains("\ntable,glass.csv,"), "{made}");
}

#[cfg(unix)]
mod unix {
    use super::*;
    use std::os::unix::fs::{MetadataExt, PermissionsExt, symlink};

    fn mode(path: &Path) -> u32 {
        std::fs::metadata(path).expect("a file").mode() & 0o777
    }

    #[test]
    fn a_link_stands_for_its_file_and_a_second_name_for_the_first() {
        let folder = started();
        let at = folder.path();
        symlink("survey.csv", at.join("link.csv")).expect("a link");
        std::fs::hard_link(at.join("prices.csv"), at.join("twin.csv")).expect("a second name");
        symlink("ring", at.join("ring")).expect("a link");
        refused(
            at,
            "estimate job.ovo --page link.csv",
            "a survey of this job",
        );
        refused(
            at,
            "estimate job.ovo --page twin.csv",
            "a price book of this job",
        );
        refused(at, "estimate job.ovo --page ring", "a ring of links");
        std::fs::write(at.join("real.html"), "old").expect("a file");
        symlink("real.html", at.join("page.html")).expect("a link");
        refused(
            at,
            "estimate job.ovo --page page.html --record real.html",
            "the same file as",
        );
        assert!(
            ovolo(at, "estimate job.ovo --page page.html")
                .status
                .success()
        );
        assert!(
            std::fs::symlink_metadata(at.join("page.html"))
                .expect("the link")
                .is_symlink()
        );
        assert!(
            std::fs::read_to_string(at.join("real.html"))
                .expect("the page")
                .contains("<html")
        );
        // A link to a file that is not there yet makes that file.
        symlink("new.html", at.join("to-new.html")).expect("a link");
        assert!(
            ovolo(at, "estimate job.ovo --page to-new.html")
                .status
                .success()
        );
        assert!(at.join("new.html").is_file());
    }

    #[test]
    fn what_is_no_ordinary_file_or_may_only_be_read_stays() {
        let folder = started();
        let at = folder.path();
        let made = Command::new("mkfifo")
            .arg(at.join("pipe"))
            .status()
            .is_ok_and(|s| s.success());
        if made {
            refused(
                at,
                "estimate job.ovo --page pipe",
                "a pipe, a device or the like",
            );
        }
        std::fs::write(at.join("kept.html"), "kept").expect("a file");
        std::fs::set_permissions(at.join("kept.html"), std::fs::Permissions::from_mode(0o444))
            .expect("a mode");
        refused(
            at,
            "estimate job.ovo --page kept.html",
            "a file that may only be read",
        );
        assert_eq!(
            std::fs::read_to_string(at.join("kept.html")).expect("the file"),
            "kept"
        );
    }

    #[test]
    fn a_new_file_has_the_users_mode_and_an_old_one_keeps_its_own() {
        let folder = started();
        let at = folder.path();
        // What the system gives to any new file under the mask of this run.
        std::fs::write(at.join("plain"), "").expect("a file");
        let usual = mode(&at.join("plain"));
        for name in ["job.ovo", "rules.ovo", "survey.csv", "prices.csv"] {
            assert_eq!(mode(&at.join(name)), usual, "{name}");
        }
        assert!(
            ovolo(
                at,
                "estimate job.ovo --workbook a.xlsx --page a.html --record a.json"
            )
            .status
            .success()
        );
        for name in ["a.xlsx", "a.html", "a.json"] {
            assert_eq!(mode(&at.join(name)), usual, "{name}");
        }
        std::fs::set_permissions(at.join("a.html"), std::fs::Permissions::from_mode(0o640))
            .expect("a mode");
        assert!(ovolo(at, "estimate job.ovo --page a.html").status.success());
        assert_eq!(mode(&at.join("a.html")), 0o640);
    }

    #[test]
    fn tidy_keeps_a_link_and_the_mode() {
        let folder = tempfile::tempdir().expect("a folder");
        let at = folder.path();
        std::fs::write(at.join("real.ovo"), "given   a   2 in\n").expect("a sheet");
        std::fs::set_permissions(at.join("real.ovo"), std::fs::Permissions::from_mode(0o604))
            .expect("a mode");
        symlink("real.ovo", at.join("link.ovo")).expect("a link");
        assert!(ovolo(at, "tidy --in-place link.ovo").status.success());
        assert!(
            std::fs::symlink_metadata(at.join("link.ovo"))
                .expect("the link")
                .is_symlink()
        );
        assert_eq!(
            std::fs::read_to_string(at.join("real.ovo")).expect("the sheet"),
            "given a  2 in\n"
        );
        assert_eq!(mode(&at.join("real.ovo")), 0o604);
    }

    #[test]
    fn what_is_printed_and_does_not_arrive_is_told() {
        // The device that is always full is only ever standard output here, never a file that is named.
        let Ok(full) = std::fs::OpenOptions::new().write(true).open("/dev/full") else {
            return;
        };
        let folder = started();
        let record = ovolo(folder.path(), "estimate job.ovo --record a.json");
        assert!(record.status.success());
        for args in [
            "estimate job.ovo",
            "estimate job.ovo --json",
            "estimate job.ovo --csv totals",
            "weigh job.ovo",
            "survey job.ovo",
            "why job.ovo total",
            "trial rules.ovo",
            "proof job.ovo",
            "tidy job.ovo",
            "code",
            "--help",
            "estimate --help",
        ] {
            let got = Command::new(env!("CARGO_BIN_EXE_ovolo"))
                .args(args.split_whitespace())
                .current_dir(folder.path())
                .stdout(Stdio::from(full.try_clone().expect("the device")))
                .stderr(Stdio::piped())
                .output()
                .expect("it runs");
            let text = String::from_utf8_lossy(&got.stderr).to_string();
            assert_eq!(got.status.code(), Some(3), "{args}: {text}");
            assert!(
                text.contains("OV-003  standard output can't be written"),
                "{args}: {text}"
            );
        }
    }

    #[test]
    fn a_closed_pipe_is_no_fault() {
        let folder = started();
        let mut child = Command::new(env!("CARGO_BIN_EXE_ovolo"))
            .args(["estimate", "job.ovo"])
            .current_dir(folder.path())
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()
            .expect("it runs");
        drop(child.stdout.take());
        let got = child.wait_with_output().expect("it ends");
        assert_eq!(got.status.code(), Some(0));
        assert!(!String::from_utf8_lossy(&got.stderr).contains("standard output"));
    }
}
