//! Cut plans as a process: what is refused, what an interrupt leaves, threads, the papers of the shop, jobs that change.

use super::cut_jobs::{change, job, ovolo, planned};
use std::path::Path;
use std::process::{Command, Stdio};
use std::time::Duration;

/// Each line of the bad input of a cut plan, in a job: what is changed, the code, what the message names.
#[test]
#[expect(clippy::too_many_lines, reason = "a table of cases")]
fn what_cannot_be_cut_is_refused_at_its_place() {
    let cases = [
        (
            "openings.csv",
            "A2,34,66",
            "A2,134,66",
            "OV-956",
            "the nearest, of stock without a mark, is 96 x 6",
        ),
        (
            "job.ovo",
            "width      2 1/4 in",
            "width      9 in",
            "OV-956",
            "rail 1 is larger than any stock",
        ),
        (
            "job.ovo",
            "thickness  1 1/4 in",
            "thickness  1 3/4 in",
            "OV-955",
            "a thickness there is stock of: 1 1/4",
        ),
        (
            "job.ovo",
            "crosscut kerf  1/8 in\n  rip",
            "crosscut kerf  0 in\n  rip",
            "OV-672",
            "more than 0",
        ),
        (
            "job.ovo",
            "rip kerf       1/8 in",
            "rip kerf       -1/8 in",
            "OV-672",
            "more than 0",
        ),
        (
            "job.ovo",
            "may turn",
            "may turn\n  crosscut kerf 1/8 in",
            "OV-672",
            "for glass: edge trim",
        ),
        (
            "job.ovo",
            "may turn",
            "may turn\n  rip kerf 1/8 in",
            "OV-672",
            "for glass: edge trim",
        ),
        (
            "bad.csv",
            "B1,31,36",
            "B1,31,86",
            "OV-953",
            "does not lie on its board",
        ),
        (
            "bad.csv",
            "nails",
            "nails\nB1,33,40,check",
            "OV-953",
            "write one stretch from 31 to 40",
        ),
        ("boards.csv", "B2,", "B1,", "OV-707", "B1"),
        (
            "job.ovo",
            "may turn",
            "may turn\n  edge trim 14 in",
            "OV-958",
            "14 off each side of 31 x 27 1/2",
        ),
        (
            "job.ovo",
            "rip kerf       1/8 in",
            "rip kerf       1/8 in\n  end trim 18 in",
            "OV-958",
            "B2",
        ),
        (
            "job.ovo",
            "part rail 2 of",
            "part rail 100000 of",
            "OV-957",
            "200000 parts",
        ),
    ];
    for (file, from, to, code, said) in cases {
        let folder = job();
        let at = folder.path();
        change(at, file, from, to);
        let (exit, out, err) = ovolo(at, "cut job.ovo");
        assert_eq!(exit, Some(1), "{to}: {out}{err}");
        let told = err.split_whitespace().collect::<Vec<_>>().join(" ");
        assert!(told.contains(code), "{to}: {err}");
        assert!(told.contains(said), "{to}: {err}");
        assert!(
            !at.join("pine.json").exists(),
            "{to}: all blocks are looked at before one is planned"
        );
    }
}

#[test]
fn a_plan_of_another_resource_is_refused_with_the_command_that_mends_it() {
    let folder = planned();
    let at = folder.path();
    std::fs::copy(at.join("glass.json"), at.join("pine.json")).expect("a copy");
    let (code, _, err) = ovolo(at, "estimate job.ovo");
    assert_eq!(code, Some(1), "{err}");
    assert!(err.contains("OV-959"), "{err}");
    assert!(err.contains("ovolo cut job.ovo --resource pine"), "{err}");
}

#[test]
fn the_plans_of_a_job_are_the_same_bytes_on_any_number_of_threads() {
    let folder = job();
    let at = folder.path();
    let plans = |threads: &str| -> Vec<Vec<u8>> {
        let status = Command::new(env!("CARGO_BIN_EXE_ovolo"))
            .args(["cut", "job.ovo"])
            .current_dir(at)
            .env("RAYON_NUM_THREADS", threads)
            .stdout(Stdio::null())
            .stderr(Stdio::null())
            .status()
            .expect("the command runs");
        assert!(status.success());
        ["pine.json", "glass.json", "molding.json"]
            .iter()
            .map(|name| std::fs::read(at.join(name)).expect("a plan"))
            .collect()
    };
    let one = plans("1");
    assert_eq!(one, plans("2"));
    assert_eq!(one, plans("4"));
}

/// The best plan so far is written with its bound, cut again and proved, and no job takes it.
#[cfg(unix)]
#[test]
fn an_interrupt_gives_the_best_plan_so_far_marked_unfinished() {
    let folder = tempfile::tempdir().expect("a folder");
    let at = folder.path();
    let problem =
        Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/library/cut_plans/glass-perfect-6.json");
    std::fs::copy(problem, at.join("glass.json")).expect("a copy");
    let child = Command::new(env!("CARGO_BIN_EXE_ovolo"))
        .args("cut --instance glass.json --rounds 100000 -o plan.json --json".split_whitespace())
        .current_dir(at)
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .expect("the command runs");
    std::thread::sleep(Duration::from_secs(2));
    let killed = Command::new("kill")
        .args(["-INT", &child.id().to_string()])
        .status();
    assert!(killed.expect("kill runs").success());
    let output = child.wait_with_output().expect("it ends");
    let told = String::from_utf8_lossy(&output.stderr).into_owned();
    assert_eq!(output.status.code(), Some(130), "{told}");
    let said: serde_json::Value = serde_json::from_slice(&output.stdout).expect("JSON");
    assert_eq!(said["finished"], false);
    let sum = |field: &str| said[field].as_i64().expect("a sum");
    assert!(0 < sum("bound") && sum("bound") <= sum("cost"), "{said}");
    assert!(sum("cost") <= sum("greedy"), "{said}");
    let plan = std::fs::read_to_string(at.join("plan.json")).expect("the plan");
    assert!(plan.contains("\"finished\": false"), "{plan}");
    let (code, out, err) = ovolo(
        at,
        "cut --instance glass.json --check plan.json --page page.html",
    );
    assert_eq!(code, Some(130), "{err}");
    assert!(out.contains("UNFINISHED"), "{out}");
    let page = std::fs::read_to_string(at.join("page.html")).expect("the page");
    assert!(page.contains("UNFINISHED"), "{page}");
}

const PAPERS: &str = r#"
list picked for each pick {
  column mark
  column pieces  total
}
paper stock_on_hand for shop {
  titled "Stock on hand"
  list picked
}
paper plans for shop {
  titled "Cut plans"
  draw cuts
}
paper changed for owner {
  titled "Change order"
  offer of changes
}
"#;

/// A job with papers, planned and bid.
pub(super) fn bid() -> tempfile::TempDir {
    let folder = planned();
    let at = folder.path();
    let sheet = std::fs::read_to_string(at.join("job.ovo")).expect("the job");
    std::fs::write(at.join("job.ovo"), sheet + PAPERS).expect("it is written");
    let (code, out, err) = ovolo(at, "estimate job.ovo --record bid.json");
    assert_eq!(code, Some(0), "{out}{err}");
    folder
}

#[test]
fn the_papers_of_the_shop_draw_every_piece_and_list_its_cuts() {
    let folder = bid();
    let at = folder.path();
    let (code, out, err) = ovolo(at, "papers job.ovo plans");
    assert_eq!(code, Some(0), "{err}");
    let said = out.split_whitespace().collect::<Vec<_>>().join(" ");
    for text in [
        "Pine",
        "1. B1, 80 x 5 x 1 1/4 in",
        "30 long, from 0",
        "2 1/4 wide, from 2 3/8",
        "1: A1, rail 1, 30 x 2 1/4",
        "Glass",
        "1: A1, pane 1, 26 x 30, turned",
        "Molding",
        "Scored and snapped, without a kerf.",
    ] {
        assert!(said.contains(text), "{text}: {out}");
    }
    let (code, out, err) = ovolo(at, "papers job.ovo plans --csv plans/cuts");
    assert_eq!(code, Some(0), "{err}");
    assert!(out.contains("pine 1,\"30 long, from 0\""), "{out}");
    let (code, _, err) = ovolo(at, "papers job.ovo plans --to out");
    assert_eq!(code, Some(0), "{err}");
    let page = std::fs::read_to_string(at.join("out/plans.html")).expect("the page");
    // Two sheets of 36 in are cut alike; everything else is a piece of its own.
    assert_eq!(page.matches("<svg").count(), 8, "{page}");
    // Shops see no money.
    assert!(!page.contains("USD"), "{page}");
    let pdf = std::fs::read(at.join("out/plans.pdf")).expect("the PDF");
    assert!(pdf.starts_with(b"%PDF"), "a PDF");
}

/// A changed opening outgrows the plans: what shows them is refused, what does not is made and says so.
#[test]
fn a_change_order_does_not_wait_for_new_cut_plans() {
    let folder = bid();
    let at = folder.path();
    change(at, "openings.csv", "A2,34,66", "A2,35,66");
    let (code, out, err) = ovolo(at, "papers job.ovo changed --against bid.json");
    assert_eq!(code, Some(0), "{err}");
    assert!(out.contains("Change order"), "{out}");
    assert_eq!(err.matches("OV-959").count(), 2, "{err}");
    assert!(err.contains("ovolo cut job.ovo --resource glass"), "{err}");
    for paper in ["stock_on_hand", "plans"] {
        let (code, out, err) = ovolo(at, &format!("papers job.ovo {paper}"));
        assert_eq!((code, out.as_str()), (Some(1), ""), "{err}");
        assert!(err.contains("OV-959"), "{err}");
    }
}
