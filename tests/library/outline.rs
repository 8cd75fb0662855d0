//! What is sound stays known when something else is broken.

use ovolo::check::{self, Finder, Loaded, Named, Options, Outline, load, outline};
use std::collections::HashSet;

const ALL: Options = Options {
    alternates: true,
    trials: true,
};

struct Only<'a>(&'a str);

impl Finder for Only<'_> {
    fn find(&self, path: &str, _from: Option<&str>) -> Result<(String, String), String> {
        Ok((path.to_string(), self.0.to_string()))
    }
}

fn looked(sheet: &str) -> (Loaded, Outline, Vec<String>) {
    let (loaded, mut problems) = load(&["sheet.ovo".to_string()], &Only(sheet));
    let (outline, more) = outline(&loaded, ALL);
    problems.extend(more);
    let errors = problems.iter().filter(|d| d.is_error());
    let errors = errors
        .map(|d| format!("{} {}", d.code, d.message))
        .collect();
    (loaded, outline, errors)
}

/// Everything that is said of a name but its place, which moves with the text before it.
fn said<'a>(named: &Named<'a>) -> (&'a str, &'static str, String, String, String) {
    let (is_a, unit, per) = (&named.is_a, &named.unit, &named.per);
    let own = (is_a.clone(), unit.clone(), per.clone());
    (named.name, named.sort, own.0, own.1, own.2)
}

fn words(text: &str) -> impl Iterator<Item = &str> {
    text.split(|c: char| !c.is_alphanumeric() && c != '_')
}

/// The names that rest on `broken`, by the words of their rules.
fn resting_on<'a>(rules: &[(&'a str, &'a str)], broken: &'a str) -> HashSet<&'a str> {
    let mut found = HashSet::from([broken]);
    loop {
        let more: Vec<&str> = rules
            .iter()
            .filter(|(name, text)| !found.contains(name) && words(text).any(|w| found.contains(w)))
            .map(|(name, _)| *name)
            .collect();
        if more.is_empty() {
            return found;
        }
        found.extend(more);
    }
}

const SASH: &str = include_str!("../../benches/support/sash.ovo");

/// Every rule of a sheet broken in turn, once in its meaning and once in its form: only what rests on it is lost.
#[test]
fn a_broken_rule_takes_nothing_from_others() {
    // The decision and the table stand on several lines; they are left whole, and what the decision reads is told here.
    let rule = |line: &'static str| {
        let (name, text) = line.strip_prefix("  ")?.split_once('=')?;
        let name = name.trim();
        (!name.contains(' ') && !name.contains('{')).then_some((name, text))
    };
    let mut rules: Vec<(&str, &str)> = SASH.lines().filter_map(rule).collect();
    assert!(rules.len() > 35, "{}", rules.len());
    rules.push(("fate", "rail_rot cracked"));
    let (_, sound, wrong) = looked(SASH);
    assert_eq!(wrong, [""; 0]);
    let all: Vec<_> = sound.names().map(|n| said(&n)).collect();
    for (broken, _) in &rules[..rules.len() - 1] {
        let lost = resting_on(&rules, broken);
        for bad in ["= no_such_name + 1", "= = 1 in"] {
            let lines = SASH.lines().map(|line| match rule(line) {
                Some((name, _)) if name == *broken => format!("  {name} {bad}\n"),
                _ => format!("{line}\n"),
            });
            let sheet: String = lines.collect();
            let (_, outline, wrong) = looked(&sheet);
            assert!(!wrong.is_empty(), "{broken} {bad}");
            let left: Vec<_> = outline.names().map(|n| said(&n)).collect();
            let expected: Vec<_> = all
                .iter()
                .filter(|n| !lost.contains(n.0))
                .cloned()
                .collect();
            assert_eq!(left, expected, "{broken} {bad}");
        }
    }
}

/// Statements of other kinds, each broken: the rules beside them stay.
#[test]
fn other_broken_statements_leave_the_rules() {
    let sheet = "counted lite, point\nresource glazier labor h\n\
        survey opening {\n  mark text key\n  wide length in in\n  lites count of lite\n}\n\
        given pace 5 min per lite\n\
        for each opening {\n  long = wide * 2\n  time = lites * pace\n  take glazier time for \"Glazing\"\n}\n\
        for the job {\n  all = sum of time\n}\n";
    let (_, outline, wrong) = looked(sheet);
    assert_eq!(wrong, [""; 0]);
    let all: Vec<_> = outline.names().map(|n| said(&n)).collect();
    for bad in [
        "given pace 5 min per\n",
        "given other 5 min per unknown\n",
        "resource glazier labor bushel\n",
        "for each building {\n  x = 1\n}\n",
        "for each opening {\n  take nobody 1 h for \"Glazing\"\n  require long > 1 h else \"no\"\n}\n",
        "for each opening {\n  decide fate of nothing {\n    keep when wide > 1 in because \"x\"\n  }\n}\n",
        "table glass by pane {\n  pane (bushel) | pace (min)\n  0 to 1 | 2\n}\n",
        "alternate \"Other\" {\n  change nothing to 1 in because \"x\"\n}\n",
        "trial \"none\" {\n  with nothing = 1\n}\n",
        "%%%\n",
    ] {
        let (_, outline, wrong) = looked(&format!("{sheet}{bad}"));
        assert!(!wrong.is_empty(), "{bad}");
        let left: HashSet<_> = outline.names().map(|n| said(&n)).collect();
        let lost: Vec<_> = all.iter().filter(|n| !left.contains(n)).collect();
        assert!(lost.is_empty(), "{bad}: {lost:?}");
    }
}

#[test]
fn an_expression_is_known_by_its_place() {
    let sheet = "survey opening {\n  mark text key\n  wide length in in\n}\n\
        for each opening {\n  bad = no_such_name\n  area = (wide + 2 in) * wide\n}\n";
    let (loaded, outline, wrong) = looked(sheet);
    assert!(!wrong.is_empty());
    let file = outline.names().last().expect("a name").place.file;
    let byte = |text: &str| u32::try_from(sheet.find(text).expect("there")).expect("short");
    let at = |byte: u32| outline.at(file, byte).expect("an expression");
    let sum = at(byte("+ 2 in"));
    assert_eq!(
        (sum.is_a.as_str(), sum.per.as_str()),
        ("a length", "for each opening")
    );
    assert_eq!(loaded.sources.slice(sum.place), "(wide + 2 in)");
    let area = at(byte("* wide"));
    assert_eq!(area.is_a, "an area");
    assert_eq!(outline.at(file, byte("no_such_name")), None);
}

/// Only a sound sheet has a program that can be run.
#[test]
fn a_broken_sheet_has_an_outline_and_no_program() {
    let sheet = "given a 1 in\nfor the job {\n  b = a + 1 h\n}\n";
    let (loaded, outline, wrong) = looked(sheet);
    assert!(!wrong.is_empty());
    assert_eq!(outline.names().map(|n| n.name).collect::<Vec<_>>(), ["a"]);
    let (checked, _) = check::check(&loaded, Options::default());
    assert!(checked.is_none());
}
