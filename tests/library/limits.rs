//! Sheets made to be too large get a message, and never the value of another thing.

use ovolo::check::{self, Finder, Options, load};

struct Only<'a>(&'a str);

impl Finder for Only<'_> {
    fn find(&self, path: &str, _from: Option<&str>) -> Result<(String, String), String> {
        Ok((path.to_string(), self.0.to_string()))
    }
}

#[test]
fn a_resource_too_many_is_a_message() {
    let sheet: String = (0..66_000)
        .map(|n| format!("resource r{n} other h\n"))
        .collect();
    let (loaded, _) = load(&["sheet.ovo".to_string()], &Only(&sheet));
    let (checked, problems) = check::check(
        &loaded,
        Options {
            alternates: true,
            trials: true,
        },
    );
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
