//! Any text is read or refused; every message points into the text.

#![no_main]

use libfuzzer_sys::fuzz_target;
use ovolo::diagnostics::{Place, Sources, render};
use ovolo::syntax::parse_sheet;

fuzz_target!(|text: &str| {
    let mut sources = Sources::default();
    let file = sources.add("sheet.ovo", text);
    let (_, problems) = parse_sheet(file, text);
    for d in &problems {
        for label in &d.labels {
            if let Place::Sheet(span) = &label.place {
                assert!(
                    span.start <= span.end && span.end as usize <= text.len(),
                    "{d:?}"
                );
            }
        }
    }
    let _ = render::render_all(&problems, &sources, render::Style { color: false }, 20);
});
