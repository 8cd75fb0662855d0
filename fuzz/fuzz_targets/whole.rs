//! The whole way: any sheet over any survey is refused in words or works out, the same on one thread and on two.
//!
//! The text is a sheet, a line `---`, and a survey in CSV for its first table.

#![no_main]

use libfuzzer_sys::fuzz_target;
use ovolo::check::{self, Finder, Options};
use ovolo::diagnostics::any_error;
use ovolo::eval::{self, Inputs};
use ovolo::program::NodeId;
use ovolo::survey::{Content, ReadOptions, SetAside, SourceFile, read};

/// The sheet itself, the base sheet of the cases, and nothing else.
struct Two<'a>(&'a str);

impl Finder for Two<'_> {
    fn find(&self, path: &str, _from: Option<&str>) -> Result<(String, String), String> {
        match path {
            "sheet.ovo" => Ok((path.into(), self.0.into())),
            "base.ovo" => Ok((path.into(), include_str!("../../tests/cases/base.ovo").into())),
            _ => Err(format!("there is no file {path}")),
        }
    }
}

fuzz_target!(|text: &str| {
    let Some((sheet, survey)) = text.split_once("\n---\n") else { return };
    let (loaded, problems) = check::load(&["sheet.ovo".to_string()], &Two(sheet));
    let (checked, _) = check::check(&loaded, Options { alternates: true, trials: false });
    let Some(checked) = checked.filter(|_| !any_error(&problems)) else { return };
    let program = &checked.program;
    let Some(first) = program.tables.first().filter(|_| program.tables.len() == 1) else { return };
    let options = ReadOptions { set_aside: SetAside::AllUnreadable, ..ReadOptions::default() };
    let file = SourceFile { name: "survey.csv".into(), content: Content::Bytes(survey.as_bytes().to_vec()) };
    let Ok(reading) = read(&first.schema, &program.nouns, program.currency.as_deref(), vec![file], &options, None) else { return };
    let wanted: Vec<NodeId> = program
        .versions
        .iter()
        .flat_map(|v| v.values.iter().map(|v| v.node).chain(v.takes.iter().map(|t| t.plan.total)).chain(v.requires.iter().map(|r| r.condition)))
        .collect();
    let inputs = Inputs { tables: vec![&reading.table] };
    let run = |threads| eval::run(program, &inputs, &wanted, &eval::Options { threads: Some(threads), ..eval::Options::default() });
    let (one, two) = (run(1), run(2));
    assert_eq!(one.is_ok(), two.is_ok());
    if let (Ok(one), Ok(two)) = (one, two) {
        for node in &wanted {
            for row in 0..reading.table.rows.max(1) {
                assert_eq!(one.value(*node, row), two.value(*node, row), "{node:?} on row {row}");
            }
        }
    }
});
