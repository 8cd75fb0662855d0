//! Sheets made to be too large get a message, and never the value of another thing.

use ovolo::check::{self, Finder, Options, load};

struct Only<'a>(&'a str);

impl Finder for Only<'_> {
    fn find(&self, path: &str, _from: Option<&str>) -> Result<(String, String), String> {
        Ok((path.to_string(), self.0.to_string()))
    }
}

/// The first are told with what was meant, as long as that is worth its time; all are told.
#[test]
fn thousands_of_unknown_names_are_all_told() {
    let mut sheet = String::new();
    let head = "survey opening {\n  mark text key\n}\n";
    for n in 0..2_000 {
        sheet.push_str(&format!(
            "  known_{n:04} = 1 in\n  rule_{n:04} = knwon_{n:04}\n"
        ));
    }
    let sheet = format!("{head}for each opening {{\n{sheet}}}\n");
    let (loaded, _) = load(&["sheet.ovo".to_string()], &Only(&sheet));
    let (_, problems) = check::check(&loaded, ALL);
    let unknown: Vec<_> = problems.iter().filter(|d| d.code == "OV-202").collect();
    assert_eq!(unknown.len(), 2_000);
    assert_eq!(
        unknown[0].mend.as_deref(),
        Some("did you mean `known_0000`?")
    );
    assert_eq!(unknown[1_999].mend, None);
}

const ALL: Options = Options {
    alternates: true,
    trials: true,
};

#[test]
fn a_resource_too_many_is_a_message() {
    let sheet: String = (0..66_000)
        .map(|n| format!("resource r{n} other h\n"))
        .collect();
    let (loaded, _) = load(&["sheet.ovo".to_string()], &Only(&sheet));
    let (checked, problems) = check::check(&loaded, ALL);
    let said: Vec<_> = problems
        .iter()
        .filter(|d| d.code == "OV-220")
        .map(|d| (d.message.as_str(), d.expected.as_deref()))
        .collect();
    assert!(checked.is_none());
    assert_eq!(
        said,
        [("there are too many resources", Some("at most 65535"))]
    );
}

fn told(sheet: &str) -> Vec<(&'static str, String, Option<String>)> {
    let (loaded, problems) = load(&["sheet.ovo".to_string()], &Only(sheet));
    let (_, more) = check::check(&loaded, ALL);
    problems
        .into_iter()
        .chain(more)
        .map(|d| (d.code, d.message, d.expected))
        .collect()
}

fn repeated(count: usize, line: impl Fn(usize) -> String) -> String {
    (0..count).map(line).collect()
}

/// Blank lines and comments are not counted. What is past the limit costs one message, however many faults it holds.
#[test]
fn a_sheet_of_too_many_lines_is_one_message() {
    let most = 70_000;
    let head = "# a comment\n\n".repeat(most);
    assert_eq!(told(&format!("{head}given a 1 in\n")), []);
    for line in ["?\n", "a \"\n"] {
        let said = told(&line.repeat(most + 2));
        assert_eq!(said.len(), 1, "{line}");
        let (code, message, expected) = &said[0];
        assert_eq!(
            (*code, message.as_str()),
            ("OV-106", "the sheet has too many lines")
        );
        let expected = expected.as_deref().unwrap_or_default();
        assert_eq!(expected, "at most 70000, besides blank lines and comments");
    }
}

/// What is compared each with each has a limit of its own, and a sheet past one is told nothing else.
#[test]
#[expect(clippy::too_many_lines, reason = "a table of cases")]
fn too_many_things_of_a_kind_are_one_message() {
    let survey = "survey opening {\n  mark text key\n  wide length in in\n}\n";
    let trial = |n| format!("trial \"t{n}\" {{\n  with mark = \"a\"\n  expect b{n} = 1\n}}\n");
    let cases = [
        (
            "surveys",
            500,
            repeated(501, |n| format!("survey s{n} {{\n  mark text key\n}}\n")),
        ),
        (
            "columns",
            2_000,
            format!(
                "survey s {{\n  mark text key\n{}}}\n",
                repeated(2_000, |n| format!("  c{n} length in in\n"))
            ),
        ),
        (
            "groups",
            2_000,
            format!(
                "{survey}{}",
                repeated(2_001, |n| format!(
                    "for each g{n} of opening by mark {{\n}}\n"
                ))
            ),
        ),
        (
            "lines of a decision",
            500,
            format!(
                "{survey}for each opening {{\n  decide d {{\n{}  }}\n}}\n",
                repeated(501, |n| format!(
                    "    a{n} when wide > {n} in because \"x\"\n"
                ))
            ),
        ),
        (
            "helpers",
            20_000,
            repeated(20_001, |n| format!("helper h{n}(a) = a\n")),
        ),
        (
            "charges",
            2_000,
            repeated(2_001, |n| format!("charge c{n} 1 % of all\n")),
        ),
        (
            "alternates",
            1_000,
            repeated(1_001, |n| format!("alternate \"a{n}\" {{\n}}\n")),
        ),
        (
            "trials",
            5_000,
            format!("{survey}{}", repeated(5_001, trial)),
        ),
        (
            "changes",
            50_000,
            format!(
                "given a 1 in\n{}",
                repeated(50_001, |_| "change a to 2 in because \"x\"\n".into())
            ),
        ),
        (
            "lines of `extend` blocks",
            2_000,
            repeated(2_001, |n| {
                format!("extend survey s{n} because \"x\" {{\n  c{n} text\n}}\n")
            }),
        ),
        (
            "lists",
            2_000,
            format!(
                "{survey}{}",
                repeated(2_001, |n| format!(
                    "list l{n} for each opening {{\n  column mark\n}}\n"
                ))
            ),
        ),
        (
            "papers",
            2_000,
            repeated(2_001, |n| {
                format!("paper p{n} for shop {{\n  list no{n}\n}}\n")
            }),
        ),
        (
            "labels of one choice",
            1_000,
            format!(
                "choice c one of {}\n",
                repeated(1_001, |n| format!("{}l{n}", if n == 0 { "" } else { ", " }))
            ),
        ),
    ];
    for (what, most, sheet) in cases {
        let expected = (
            "OV-220",
            format!("there are too many {what}"),
            Some(format!("at most {most}")),
        );
        assert_eq!(told(&sheet), [expected]);
    }
}

/// Alternates and trials each cost a look at every rule: their product has a limit too.
#[test]
fn too_many_alternates_for_so_many_rules_are_refused() {
    let givens = repeated(4_100, |n| format!("given a{n} 1 in\n"));
    let alternates = repeated(500, |n| format!("alternate \"x{n}\" {{\n}}\n"));
    let message = "there are too many alternates for so many rules".to_string();
    assert_eq!(
        told(&format!("{givens}{alternates}")),
        [("OV-220", message, Some("at most 487".into()))]
    );
}

/// Rows with bands in two keys are compared each with each.
#[test]
fn a_table_of_too_many_rows_with_bands_in_two_keys_is_refused() {
    let rows = |count| {
        let rows = repeated(count, |n| {
            format!("  {n} to {m} | {n} to {m} | {n}\n", m = n + 1)
        });
        format!("table t by a, b {{\n  a | b | c\n{rows}}}\n")
    };
    assert_eq!(told(&rows(1_000)), []);
    let said = told(&rows(5_000));
    assert_eq!(said.len(), 1);
    assert_eq!(
        (said[0].0, said[0].2.as_deref()),
        ("OV-410", Some("at most 2000 such rows in all tables"))
    );
}

/// Each fault of thousands is told; a name or a list that is very long is cut in messages.
#[test]
fn messages_of_thousands_of_faults_stay_short() {
    let labels = repeated(900, |n| {
        format!("{}label_{n}", if n == 0 { "" } else { ", " })
    });
    let rules = repeated(3_000, |n| format!("  a{n} = kind is no_label_{n}\n"));
    let sheet = format!(
        "survey opening {{\n  mark text key\n  kind one of {labels}\n}}\nfor each opening {{\n{rules}}}\n"
    );
    let said = told(&sheet);
    assert_eq!(said.iter().filter(|d| d.0 == "OV-211").count(), 3_000);
    let longest = said
        .iter()
        .filter_map(|d| d.2.as_ref())
        .map(String::len)
        .max();
    assert_eq!(longest, Some(401));
}
