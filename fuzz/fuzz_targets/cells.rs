//! Any text of a cell is a value or a refusal, in every kind of column; a value lies where its column allows.

#![no_main]

use libfuzzer_sys::fuzz_target;
use ovolo::number::Exact;
use ovolo::units::{CellContext, Nouns, parse_unit, read_quantity};

fuzz_target!(|text: &str| {
    let mut nouns = Nouns::new();
    nouns.intern("lite");
    let (least, most) = (Exact::int(1), Exact::int(100));
    for unit in ["in", "%", "USD", "lite", "min per lite", "h", ""] {
        let Ok(unit) = parse_unit(unit, &nouns, Some("USD")) else { continue };
        let mut context = CellContext::new(&unit, &nouns);
        context.currency = Some("USD");
        for round in 0..4 {
            context.decimal_comma = round & 1 != 0;
            context.quarters = round & 2 != 0;
            context.plausible = (round == 3).then_some((&least, &most));
            if let Err(refusal) = read_quantity(text, &context) {
                assert!(!refusal.expected.is_empty());
            }
        }
    }
});
