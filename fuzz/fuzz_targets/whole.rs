//! The whole way: any sheet over any survey is refused in words or works out, the same each time.
//!
//! The text is a sheet and, each after a line `---`, a survey in CSV for each of its tables.

#![no_main]

use libfuzzer_sys::fuzz_target;
use ovolo::check::{self, Finder, Options};
use ovolo::diagnostics::any_error;
use ovolo::eval::{self, Inputs};
use ovolo::program::{NodeId, Program};
use ovolo::survey::{Content, ReadOptions, SetAside, SourceFile, read};
use ovolo::table::Table;

/// The sheet itself, the base sheet of the cases, and nothing else.
struct Two<'a>(&'a str);

impl Finder for Two<'_> {
    fn find(&self, path: &str, _from: Option<&str>) -> Result<(String, String), String> {
        match path {
            "sheet.ovo" => Ok((path.into(), self.0.into())),
            "base.ovo" => Ok((
                path.into(),
                include_str!("../../tests/cases/base.ovo").into(),
            )),
            _ => Err(format!("there is no file {path}")),
        }
    }
}

/// The surveys of a program's tables in order, where there is a sound one for each.
fn surveys<'t>(program: &Program, mut texts: impl Iterator<Item = &'t str>) -> Option<Vec<Table>> {
    let options = ReadOptions {
        set_aside: SetAside::AllUnreadable,
        ..ReadOptions::default()
    };
    let mut tables: Vec<Table> = Vec::new();
    for info in &program.tables {
        let bytes = texts.next()?.as_bytes().to_vec();
        let file = SourceFile {
            name: "survey.csv".into(),
            content: Content::Bytes(bytes),
        };
        let parent = info.parent.map(|parent| usize::from(parent.0));
        let parent = parent
            .and_then(|at| Some((&program.tables.as_slice().get(at)?.schema, tables.get(at)?)));
        let reading = read(
            &info.schema,
            &program.nouns,
            program.currency.as_deref(),
            vec![file],
            &options,
            parent,
        );
        tables.push(reading.ok()?.table);
    }
    Some(tables)
}

fuzz_target!(|text: &str| {
    let mut parts = text.split("\n---\n");
    let Some(sheet) = parts.next() else { return };
    let (loaded, problems) = check::load(&["sheet.ovo".to_string()], &Two(sheet));
    let (checked, _) = check::check(
        &loaded,
        Options {
            alternates: true,
            trials: false,
        },
    );
    let Some(checked) = checked.filter(|_| !any_error(&problems)) else {
        return;
    };
    let program = &checked.program;
    let Some(tables) = surveys(program, parts) else {
        return;
    };
    let wanted: Vec<NodeId> = program
        .versions
        .iter()
        .flat_map(|v| {
            v.values
                .iter()
                .map(|v| v.node)
                .chain(v.takes.iter().map(|t| t.plan.total))
                .chain(v.requires.iter().map(|r| r.condition))
        })
        .collect();
    let inputs = Inputs {
        spans: &[],
        tables: tables.iter().collect(),
    };
    let options = eval::Options {
        threads: Some(1),
        ..eval::Options::default()
    };
    let one = eval::run(program, &inputs, &wanted, &options);
    // A second time for one text in eight. A survey of this length is one stretch, which a second thread would not share.
    if !text.len().is_multiple_of(8) {
        return;
    }
    let two = eval::run(program, &inputs, &wanted, &options);
    assert_eq!(one.is_ok(), two.is_ok());
    if let (Ok(one), Ok(two)) = (one, two) {
        let rows = tables
            .iter()
            .map(|table| table.rows)
            .max()
            .unwrap_or_default()
            .max(1);
        for node in &wanted {
            for row in 0..rows {
                assert_eq!(
                    one.value(*node, row),
                    two.value(*node, row),
                    "{node:?} on row {row}"
                );
            }
        }
    }
});
