//! Rules that need one another thousands deep are checked, told of and run on the stack of a usual thread: no caller of the
//! library has to ask for more.

use ovolo::check::{self, Checked, Finder, Options};
use ovolo::diagnostics::Diagnostic;
use ovolo::running::trial;
use std::fmt::Write as _;

/// One sheet, by any name.
struct Only(String);

impl Finder for Only {
    fn find(&self, path: &str, _from: Option<&str>) -> Result<(String, String), String> {
        Ok((path.to_string(), self.0.clone()))
    }
}

const HEAD: &str = "survey opening {\n  mark text key\n  wide length in in\n  kind one of single, pair\n  sound yes or no\n}\n";

fn checked(rules: &str, tail: &str) -> (Option<Checked>, Vec<Diagnostic>) {
    let text = format!("{HEAD}for each opening {{\n{rules}}}\n{tail}");
    let (loaded, problems) = check::load(&["sheet.ovo".to_string()], &Only(text));
    assert!(problems.is_empty(), "{problems:?}");
    check::check(
        &loaded,
        Options {
            alternates: true,
            trials: true,
        },
    )
}

/// `r0` to `r{n}`, each worked from the one before it, the last written first so that none is known when it is read.
fn chain(n: usize, first: &str, each: impl Fn(usize) -> String) -> String {
    let mut rules = String::new();
    for i in (1..=n).rev() {
        let _ = writeln!(rules, "  r{i} = {}", each(i - 1));
    }
    let _ = writeln!(rules, "  r0 = {first}");
    rules
}

#[test]
fn two_thousand_rules_on_one_another_are_checked_and_run() {
    let rules = chain(2_000, "wide", |below| format!("r{below} + 1 in"));
    let (done, problems) = checked(
        &rules,
        "trial \"deep\" {\n  with wide = 30 in\n  expect r2000 = 2030 in\n}\n",
    );
    assert!(problems.is_empty(), "{problems:?}");
    let outcomes = trial::run_all(&done.expect("a sound sheet"));
    assert!(
        outcomes
            .iter()
            .all(|o| o.expects == 1 && o.failures.is_empty()),
        "{outcomes:?}"
    );
}

#[test]
fn long_formulas_on_one_another_are_checked() {
    // Each stands 240 operators deep, with the rule below it in the deepest place.
    let long = " + 1 in".repeat(240);
    let (done, problems) = checked(&chain(60, "wide", |below| format!("r{below}{long}")), "");
    assert!(done.is_some(), "{problems:?}");
}

#[test]
fn conditions_on_one_another_are_proved() {
    let mut rules = chain(800, "wide > 3 ft", |below| {
        format!("r{below} and (sound or kind is pair)")
    });
    rules += "  decide fate of treatment {\n    keep when r800 because \"sound\"\n    renew when not r800 because \"gone\"\n  }\n";
    let (done, problems) = checked(&rules, "choice treatment one of keep, renew\n");
    assert!(done.is_some() && problems.is_empty(), "{problems:?}");
}

#[test]
fn defaults_and_branches_on_one_another_are_checked() {
    let rules = chain(600, "wide", |below| {
        format!("if kind is pair then r{below} / 2 else smaller(r{below}, 40 in)")
    });
    let (done, problems) = checked(&rules, "");
    assert!(done.is_some(), "{problems:?}");
    let rules = chain(300, "yes", |below| format!("r{below} and r{below}"));
    let (done, problems) = checked(
        &format!("{rules}  x = if r300 then wide else 2 * wide\n"),
        "",
    );
    assert!(done.is_some(), "{problems:?}");
}

#[test]
fn a_circle_of_two_thousand_rules_is_told_once() {
    let rules = chain(2_000, "r2000", |below| format!("r{below} + 1 in"));
    let (done, problems) = checked(&rules, "");
    assert!(done.is_none());
    assert_eq!(
        problems.iter().map(|d| d.code).collect::<Vec<_>>(),
        ["OV-205"],
        "{problems:?}"
    );
    assert!(
        problems[0]
            .found
            .as_ref()
            .is_some_and(|f| f.len() < 300 && f.contains("...")),
        "{problems:?}"
    );
}

#[test]
fn faults_below_a_deep_chain_are_told_once() {
    let rules = chain(200, "wide + 3", |below| format!("r{below} + 1 in"));
    let (done, problems) = checked(&rules, "");
    assert!(done.is_none());
    assert_eq!(
        problems.iter().map(|d| d.code).collect::<Vec<_>>(),
        ["OV-301"],
        "{problems:?}"
    );
}

#[test]
fn more_levels_than_the_limit_are_refused() {
    let (done, problems) = checked(
        &chain(4_100, "wide", |below| format!("r{below} + 1 in")),
        "",
    );
    assert!(done.is_none());
    assert!(
        problems.iter().all(|d| d.code == "OV-220"),
        "{:?}",
        problems.first()
    );
}

#[test]
fn formulas_as_deep_as_the_guards_allow_are_checked() {
    let deep = |n: usize, open: &str, inside: &str, close: &str| {
        format!("{}{inside}{}", open.repeat(n), close.repeat(n))
    };
    let formulas = [
        format!("wide{}", " + 1 in".repeat(249)),
        format!("{}wide", "- ".repeat(249)),
        format!("{}sound", "not ".repeat(249)),
        format!("sound{}", " and sound".repeat(249)),
        deep(120, "if kind is pair then 1 in else ", "wide", ""),
        deep(62, "smaller(1 in, ", "wide", ")"),
        deep(62, "(1 in + ", "wide", ")"),
        deep(62, "(if sound then 1 in else ", "wide", ")"),
        deep(62, "choose kind { single: 1 in   pair: ", "wide", " }"),
        deep(62, "(", "wide rounded up to 1 in", ") rounded up to 1 in"),
        deep(62, "twice(", "wide", ") / 2"),
        format!("wide{}", " if blank 1 in".repeat(60)),
    ];
    for formula in formulas {
        let (done, problems) = checked(&format!("  a = {formula}\n"), "helper twice(x) = 2 * x\n");
        assert!(done.is_some(), "{formula}\n{problems:?}");
    }
}

#[test]
fn helpers_as_deep_as_the_limit_are_checked_and_deeper_ones_refused() {
    let helpers = |n: usize, long: usize| {
        let mut text = String::from("helper h0(x) = x\n");
        for i in 1..=n {
            let _ = writeln!(
                text,
                "helper h{i}(x) = h{}(x){}",
                i - 1,
                " + x".repeat(long)
            );
        }
        text
    };
    let (done, problems) = checked("  a = h5(wide)\n", &helpers(5, 75));
    assert!(done.is_some(), "{problems:?}");
    let (_, problems) = checked("  a = h9(wide)\n", &helpers(9, 75));
    assert_eq!(
        problems.iter().map(|d| d.code).collect::<Vec<_>>(),
        ["OV-220"],
        "{problems:?}"
    );
}

#[test]
fn what_stands_deeper_in_one_formula_is_refused() {
    for deep in ["sum of ", "any of ", "- ", "not "] {
        let (_, problems) = {
            let text = format!(
                "{HEAD}for the job {{\n  a = {}wide\n}}\n",
                deep.repeat(2_000)
            );
            let (loaded, problems) = check::load(&["sheet.ovo".to_string()], &Only(text));
            let (_, more) = check::check(&loaded, Options::default());
            ((), [problems, more].concat())
        };
        assert_eq!(
            problems.iter().map(|d| d.code).collect::<Vec<_>>(),
            ["OV-106"],
            "{deep}"
        );
    }
}
