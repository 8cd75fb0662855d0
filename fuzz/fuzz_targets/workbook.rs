//! Any bytes, taken for a survey file, are read or refused with a message: CSV in any encoding, and workbooks of all kinds.

#![no_main]

use libfuzzer_sys::fuzz_target;
use ovolo::check::{self, Checked, Finder, Options};
use ovolo::diagnostics::any_error;
use ovolo::survey::{Content, ReadOptions, SetAside, SourceFile, read};
use std::sync::LazyLock;

struct Base;

impl Finder for Base {
    fn find(&self, path: &str, _from: Option<&str>) -> Result<(String, String), String> {
        Ok((path.into(), include_str!("../../tests/cases/base.ovo").into()))
    }
}

static CHECKED: LazyLock<Option<Checked>> = LazyLock::new(|| {
    let (loaded, _) = check::load(&["base.ovo".to_string()], &Base);
    check::check(&loaded, Options::default()).0
});

fuzz_target!(|bytes: &[u8]| {
    let Some(checked) = CHECKED.as_ref() else { panic!("the base sheet is sound") };
    let program = &checked.program;
    // An odd number of bytes is read leniently: one reading for each execution.
    let lenient = bytes.len() % 2 == 1;
    let set_aside = if lenient { SetAside::AllUnreadable } else { SetAside::Nothing };
    let options = ReadOptions { set_aside, decimal_comma: lenient, keep_text: lenient, ..ReadOptions::default() };
    let file = SourceFile { name: "survey".into(), content: Content::Bytes(bytes.to_vec()) };
    match read(&program.tables[0].schema, &program.nouns, Some("USD"), vec![file], &options, None) {
        Ok(reading) => {
            assert!(!any_error(&reading.report.warnings));
            assert_eq!(reading.table.rows, reading.table.places.len());
        }
        Err(problems) => assert!(any_error(&problems), "refused without a word"),
    }
});
