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
