//! Files that commands write, and what they print: nothing that is read is written over, and a failure is told.

use super::run;
use std::path::Path;
use std::process::{Command, Output, Stdio};

pub(super) fn ovolo(folder: &Path, args: &str) -> Output {
    run::ovolo(folder, args.split_whitespace())
}

/// A folder with the job of `ovolo start` in it.
pub(super) fn started() -> tempfile::TempDir {
    let folder = tempfile::tempdir().expect("a folder");
    assert!(ovolo(folder.path(), "start --small .").status.success());
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

#[test]
fn exit_codes_are_one_table() {
    let folder = tempfile::tempdir().expect("a folder");
    let said = |args: &str| {
        let got = ovolo(folder.path(), args);
        assert_eq!(got.status.code(), Some(0), "{args}");
        String::from_utf8_lossy(&got.stdout).to_string()
    };
    let help = said("help");
    assert_eq!(help, said("--help"));
    let (_, table) = help.split_once("Exit codes:\n").expect("a table");
    let readme = Path::new(env!("CARGO_MANIFEST_DIR")).join("README.md");
    let readme = std::fs::read_to_string(readme).expect("README");
    let manual = said("shell man");
    let (_, status) = manual.split_once("EXIT STATUS").expect("a section");
    let lines: Vec<&str> = table.lines().filter(|l| !l.trim().is_empty()).collect();
    assert_eq!(lines.len(), 6, "{table}");
    for line in lines {
        assert!(readme.contains(line.trim_end()), "README lacks {line}");
        let (code, words) = line.trim().split_once("  ").expect("code and words");
        assert!(
            status.contains(&format!("\\fB{code}\\fR\n{words}")),
            "{line}"
        );
    }
    assert_eq!(said("help estimate"), said("estimate --help"));
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

    /// The line of a survey that holds its headings.
    fn heading(survey: &str) -> &str {
        let mut lines = survey.lines();
        lines.find(|l| l.starts_with("Mark,")).expect("a heading")
    }

    /// Names in a folder of files that are not finished.
    fn unfinished(at: &Path) -> Vec<String> {
        let names = std::fs::read_dir(at).expect("a folder").flatten();
        names
            .map(|e| e.file_name().to_string_lossy().to_string())
            .filter(|n| n.starts_with(".ovolo-tmp-"))
            .collect()
    }

    #[test]
    fn signals_leave_nothing_and_the_next_write_removes_what_a_kill_left() {
        let folder = started();
        let at = folder.path();
        // Rows enough that writing the record takes a while.
        let survey = std::fs::read_to_string(at.join("survey.csv")).expect("the survey");
        let mut lines = survey.lines();
        let head: Vec<&str> = lines
            .by_ref()
            .take_while(|l| !l.starts_with("Mark,"))
            .collect();
        let head = format!("{}\n{}", head.join("\n"), heading(&survey));
        let (_, cells) = lines.next().and_then(|r| r.split_once(',')).expect("a row");
        let rows: String = (0..4_000).map(|n| format!("Z{n},{cells}\n")).collect();
        std::fs::write(at.join("survey.csv"), format!("{head}\n{rows}")).expect("the survey");
        let mut met = 0;
        for signal in ["TERM", "HUP", "INT", "KILL"] {
            let mut child = Command::new(env!("CARGO_BIN_EXE_ovolo"))
                .args(["estimate", "job.ovo", "--record", "r.json"])
                .current_dir(at)
                .stdout(Stdio::null())
                .stderr(Stdio::null())
                .spawn()
                .expect("it runs");
            // The signal comes while the file is being written, as far as that can be hit.
            while unfinished(at).is_empty() && child.try_wait().expect("a state").is_none() {
                std::thread::yield_now();
            }
            met += unfinished(at).len();
            let pid = child.id().to_string();
            let _ = Command::new("kill").args(["-s", signal, &pid]).status();
            let status = child.wait().expect("it ends");
            if signal != "KILL" {
                assert_eq!(unfinished(at), Vec::<String>::new(), "{signal}");
                assert!(matches!(status.code(), Some(0 | 130)), "{signal}: {status}");
            }
        }
        assert!(met > 0, "no file was seen while it was written");
        // What a kill leaves goes with the next write; a file in use, a link and a folder of that name stay.
        std::fs::write(at.join(".ovolo-tmp-left"), "half").expect("a file");
        std::fs::write(at.join(".tmp-other"), "not ours").expect("a file");
        std::fs::create_dir(at.join(".ovolo-tmp-folder")).expect("a folder");
        symlink("job.ovo", at.join(".ovolo-tmp-link")).expect("a link");
        let busy = std::fs::File::create(at.join(".ovolo-tmp-busy")).expect("a file");
        busy.lock().expect("a lock");
        assert!(ovolo(at, "estimate job.ovo --page p.html").status.success());
        let mut left = unfinished(at);
        left.sort();
        assert_eq!(
            left,
            [".ovolo-tmp-busy", ".ovolo-tmp-folder", ".ovolo-tmp-link"]
        );
        assert!(at.join(".tmp-other").exists() && at.join("job.ovo").exists());
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
