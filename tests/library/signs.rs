//! One table of fractions and marks for sheets and for cells: each is read alike in both.

use ovolo::check::{self, Finder, Options};
use ovolo::number::{Exact, FOOT_MARKS, FRACTIONS, INCH_MARKS};
use ovolo::program::Kind;
use ovolo::units::{CellContext, Nouns, Reading, parse_unit, read_quantity};

struct Only(String);

impl Finder for Only {
    fn find(&self, path: &str, _from: Option<&str>) -> Result<(String, String), String> {
        Ok((path.to_string(), self.0.clone()))
    }
}

/// A measure in inches as a sheet reads it.
fn in_sheet(text: &str) -> Result<Exact, String> {
    let (loaded, told) = check::load(&["s.ovo".to_string()], &Only(format!("given g {text}\n")));
    let (checked, more) = check::check(&loaded, Options::default());
    let checked = checked.filter(|_| told.is_empty());
    let checked = checked.ok_or_else(|| format!("{text}: {told:?} {more:?}"))?;
    let version = &checked.program.versions[0];
    let given = version.values.iter().find(|v| v.name == "g");
    match &checked.program.node(given.expect("the given").node).kind {
        Kind::Number(n) => Ok(n.clone()),
        other => Err(format!("{text}: {other:?}")),
    }
}

/// The same as a cell reads it.
fn in_cell(text: &str) -> Result<Exact, String> {
    let nouns = Nouns::default();
    let unit = parse_unit("in", &nouns, None).expect("inches");
    match read_quantity(text, &CellContext::new(&unit, &nouns)) {
        Ok(Reading::Value { value, .. }) => Ok(value),
        other => Err(format!("{text}: {other:?}")),
    }
}

#[test]
fn fractions_are_read_alike_in_sheets_and_cells() {
    for (sign, written) in FRACTIONS {
        let part = Exact::parse_plain(written).expect("a fraction");
        let whole = Exact::from(3).add(&part).expect("small");
        for (text, value) in [
            (format!("{sign} in"), &part),
            (format!("3{sign} in"), &whole),
            (format!("3 {sign} in"), &whole),
            (format!("3{sign}\""), &whole),
        ] {
            assert_eq!(in_sheet(&text).as_ref(), Ok(value), "{text}");
            assert_eq!(in_cell(&text).as_ref(), Ok(value), "{text}");
        }
    }
}

#[test]
fn marks_of_feet_and_inches_are_read_alike_in_sheets_and_cells() {
    let inches = |n: i64| Exact::from(n);
    let twice = FOOT_MARKS.map(|mark| format!("{mark}{mark}"));
    let inch_marks: Vec<String> = INCH_MARKS
        .iter()
        .map(char::to_string)
        .chain(twice)
        .collect();
    for inch in &inch_marks {
        let text = format!("7{inch}");
        assert_eq!(in_sheet(&text), Ok(inches(7)), "{text}");
        assert_eq!(in_cell(&text), Ok(inches(7)), "{text}");
    }
    for foot in FOOT_MARKS {
        let text = format!("3{foot}");
        assert_eq!(in_sheet(&text), Ok(inches(36)), "{text}");
        assert_eq!(in_cell(&text), Ok(inches(36)), "{text}");
        for inch in &inch_marks {
            for between in ["", " ", "-"] {
                let text = format!("3{foot}{between}2{inch}");
                assert_eq!(in_sheet(&text), Ok(inches(38)), "{text}");
                assert_eq!(in_cell(&text), Ok(inches(38)), "{text}");
            }
        }
    }
}
