//! Any text of a cell is a value or a refusal, in every kind of column; what a refusal offers can be read where it is offered.
//!
//! The first byte says which column and how it is declared, the rest is the cell: an execution is one cell read once or twice.

#![no_main]

use libfuzzer_sys::fuzz_target;
use ovolo::number::Exact;
use ovolo::units::{CellContext, MAX_CELL, Nouns, Reading, UnitExpr, parse_unit, read_quantity};
use std::sync::LazyLock;

const UNITS: [&str; 8] = [
    "in",
    "%",
    "USD",
    "lite",
    "min per lite",
    "h",
    "",
    "USD per sq ft",
];

struct Columns {
    nouns: Nouns,
    units: Vec<UnitExpr>,
    least: Exact,
    most: Exact,
}

static COLUMNS: LazyLock<Columns> = LazyLock::new(|| {
    let mut nouns = Nouns::new();
    nouns.intern("lite");
    let units = UNITS
        .iter()
        .filter_map(|unit| parse_unit(unit, &nouns, Some("USD")).ok())
        .collect();
    Columns {
        nouns,
        units,
        least: Exact::int(1),
        most: Exact::int(100),
    }
});

fuzz_target!(|bytes: &[u8]| {
    let columns = &*COLUMNS;
    assert_eq!(columns.units.len(), UNITS.len());
    let Some((how, rest)) = bytes.split_first() else {
        return;
    };
    let Some(text) = rest.utf8_chunks().next().map(|chunk| chunk.valid()) else {
        return;
    };
    let mut context = CellContext::new(&columns.units[usize::from(how & 7)], &columns.nouns);
    context.currency = Some("USD");
    context.decimal_comma = how & 8 != 0;
    context.quarters = how & 16 != 0;
    context.grouping = how & 32 != 0;
    context.plausible = (how & 64 != 0).then_some((&columns.least, &columns.most));
    match read_quantity(text, &context) {
        // Common numbers are read by a short way; a blank in front makes them go the long one.
        Ok(Reading::Value { value, .. }) if text.len() < MAX_CELL => {
            let long = read_quantity(&format!(" {text}"), &context)
                .map(|Reading::Value { value, .. }| value);
            assert_eq!(long.as_ref(), Ok(&value), "with a blank in front");
        }
        Ok(_) => {}
        Err(refusal) => {
            assert!(!refusal.expected.is_empty());
            for choice in &refusal.choices {
                let read = read_quantity(choice, &context);
                assert!(
                    read.is_ok(),
                    "`{choice}` is offered for `{text}` and refused: {read:?}"
                );
            }
        }
    }
});
