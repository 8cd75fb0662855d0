//! The reviewer's answers: asked with a form, read back as a sheet, shown in the next issue.

use super::handover::{JOB, cells, change, copy, list, paper, without_plans};
use super::leaks::said;

/// Answers a row of the form: by mark and member, with answer, name, day, reason.
fn answer(form: &str, mark: &str, member: &str, cells: &str) -> String {
    let begins = format!("{mark},{member},");
    let (mut out, mut found) = (String::new(), 0);
    for line in form.lines() {
        match line.strip_suffix(",,,,").filter(|l| l.starts_with(&begins)) {
            Some(asked) => {
                out.push_str(&format!("{asked},{cells}\n"));
                found += 1;
            }
            None => out.push_str(&format!("{line}\n")),
        }
    }
    assert_eq!(found, 1, "{mark}, {member} in {form}");
    out
}

#[test]
fn answers_come_back_as_a_sheet_and_stand_in_the_next_issue() {
    let folder = copy();
    let at = folder.path();
    without_plans(at);
    said(at, &format!("answers {JOB} --form form.csv"));
    let form = std::fs::read_to_string(at.join("form.csv")).expect("a form");
    let asked = form.lines().count() - 3;
    let form = answer(
        &form,
        "H1",
        "sill",
        "agreed,R. Marsh,2024-03-20,the old nails are saved",
    );
    let form = answer(
        &form,
        "H1-1",
        "right stile",
        "K,R. Marsh,2024-03-20,\"sound \"\"enough\"\" under {the} paint\"",
    );
    let form = answer(
        &form,
        "H1-2",
        "top rail",
        "repair,R. Marsh,2024-03-21,the joint is sound",
    );
    std::fs::write(at.join("filled.csv"), form).expect("writes");
    let sheet = "demo-data/tallowgate-school/answers.ovo";
    let told = said(at, &format!("answers {JOB} --read filled.csv --to {sheet}"));
    assert!(
        told.contains(&format!(
            "1 agreed, 2 decided otherwise, {} still open",
            asked - 3
        )),
        "{told}"
    );
    let text = std::fs::read_to_string(at.join(sheet)).expect("a sheet");
    assert!(text.contains("change right_stile_treatment at \"H1-1\" to retain because \"sound 'enough' under (the) paint\" by \"R. Marsh\" on 2024-03-20 was repair_with_new_wood\n"), "{text}");
    change(
        at,
        "handover.ovo",
        "use \"job.ovo\"",
        "use \"job.ovo\"\nuse \"answers.ovo\"",
    );
    let schedule = paper(at, "treatment_schedule", "");
    let received = list(&schedule, "answers_received");
    let row = |column: &str| cells(received, column, "line");
    assert_eq!(row("mark"), ["H1", "H1-1", "H1-2"]);
    assert_eq!(row("member"), ["sill", "right stile", "top rail"]);
    assert_eq!(row("proposed"), ["repair with new wood"; 3]);
    assert_eq!(
        row("treatment"),
        ["repair with new wood", "retain", "repair"]
    );
    assert_eq!(row("decided_by"), ["R. Marsh"; 3]);
    assert_eq!(
        row("decided_on"),
        ["2024-03-20", "2024-03-20", "2024-03-21"]
    );
    assert!(
        row("reason")[0].starts_with("agreed on condition, the old nails are saved: 60 % decayed"),
        "{received}"
    );
    // Each stands with its member too.
    let all = schedule.to_string();
    assert!(all.contains("the joint is sound (by R. Marsh, 2024-03-21)"));
    // What was answered is not asked again, and what was agreed to must still be what is proposed.
    said(at, &format!("answers {JOB} --form again.csv"));
    let again = std::fs::read_to_string(at.join("again.csv")).expect("a form");
    assert_eq!(again.lines().count() - 3, asked - 3);
    change(
        at,
        "answers.ovo",
        "by \"R. Marsh\" on 2024-03-21 was repair_with_new_wood",
        "by \"R. Marsh\" on 2024-03-21 was retain",
    );
    let got = super::outputs::ovolo(at, &format!("papers {JOB} treatment_schedule"));
    assert_eq!(
        got.status.code(),
        Some(1),
        "{}",
        String::from_utf8_lossy(&got.stderr)
    );
}
