//! Small jobs built by hand for the tests of money: no sheets, no surveys.
#![allow(missing_docs, unreachable_pub, clippy::field_reassign_with_default)]

use std::sync::Arc;

use ovolo::diagnostics::{CellPlace, Diagnostic, FileId, Span};
use ovolo::eval::Amounts;
use ovolo::number::Exact;
use ovolo::prices::{BOOK_COLUMNS, BookCell, BookRow, PriceBook, read_prices};
use ovolo::pricing::{Estimate, estimate};
use ovolo::program::{PhaseId, Program, ResourceClass, ResourceDef, ResourceId, Version};
use ovolo::syntax::tree::AllowanceKind;
use ovolo::takeoff::{Facts, Quantities, Split, TakeLine};
use ovolo::units::parse_unit;

pub fn span() -> Span {
    Span {
        file: FileId(0),
        start: 0,
        end: 0,
    }
}

pub fn num(text: &str) -> Exact {
    Exact::parse_plain(text).unwrap_or_else(|| panic!("{text} is no number"))
}

/// A job with phases and a noun `point`, in USD.
pub fn job(phases: &[&str]) -> Program {
    let mut program = Program::default();
    program.currency = Some("USD".into());
    program.nouns.intern("point");
    program.terms.title = "Lower mill office".into();
    for phase in phases {
        program
            .phases
            .push((*phase).to_owned())
            .expect("few phases");
    }
    program.versions = vec![Version::default()];
    program
}

/// Adds a resource: name, class, unit, waste in percent, pack.
pub fn resource(
    program: &mut Program,
    name: &str,
    class: ResourceClass,
    unit: &str,
    waste: Option<&str>,
    pack: Option<(&str, &str)>,
) -> ResourceId {
    let unit = parse_unit(unit, &program.nouns, Some("USD")).expect("a unit");
    let pack =
        pack.map(|(word, holds)| (word.to_owned(), unit.to_base(&num(holds)).expect("small")));
    let share = |percent: &str| num(percent).div(&Exact::int(100)).expect("small");
    let list = &mut program.versions[0].resources;
    let added = list.push(ResourceDef {
        name: name.into(),
        called: None,
        class,
        unit,
        allowance: waste.map(|w| (AllowanceKind::Waste, share(w), None)),
        pack,
        source: None,
        note: None,
        span: span(),
    });
    added.expect("few resources")
}

/// Quantities over rows with the wings given, marks A1, A2 ...
pub fn rows(wings: &[&str]) -> Quantities {
    let mut keys: Vec<String> = Vec::new();
    let mut key_of_row = Vec::new();
    for wing in wings {
        let at = keys.iter().position(|k| k == wing).unwrap_or_else(|| {
            keys.push((*wing).to_owned());
            keys.len() - 1
        });
        key_of_row.push(u32::try_from(at).expect("few"));
    }
    let marks = (1..=wings.len()).map(|n| format!("A{n}")).collect();
    let rows_in = (0..keys.len())
        .map(|k| key_of_row.iter().filter(|at| **at as usize == k).count())
        .collect();
    let facts = Facts {
        row_word: "opening".into(),
        rows_word: "openings".into(),
        marks,
        ..Facts::default()
    };
    Quantities {
        splits: vec![Split {
            name: "wing".into(),
            keys,
            rows_in,
            key_of_row,
        }],
        lines: Vec::new(),
        by_row: true,
        facts: Arc::new(facts),
    }
}

/// Adds a take in the resource's unit: an amount for each row, and one that belongs to no row.
pub fn take(
    program: &Program,
    quantities: &mut Quantities,
    resource: ResourceId,
    phase: u16,
    by_row: &[Exact],
    rest: &Exact,
) {
    let unit = &program.versions[0].resources[resource].unit;
    let base = |x: &Exact| unit.to_base(x).expect("small");
    let by_row: Vec<Exact> = by_row.iter().map(base).collect();
    let add = |a: Exact, b: &Exact| a.add(b).expect("small");
    let by_key = quantities
        .splits
        .iter()
        .map(|split| {
            let mut sums = vec![Exact::ZERO; split.keys.len()];
            for (x, key) in by_row.iter().zip(&split.key_of_row) {
                sums[*key as usize] = add(sums[*key as usize].clone(), x);
            }
            sums
        })
        .collect();
    let total = by_row.iter().fold(base(rest), add);
    quantities.lines.push(TakeLine {
        resource,
        phase: PhaseId(phase),
        total,
        by_key,
        by_row: Some(Amounts::of_numbers(by_row)),
        left_out: Vec::new(),
        from_memory: false,
    });
}

/// A book row: cells in the order of the columns, missing ones blank.
pub fn book_row(line: u32, cells: &[&str]) -> BookRow {
    let cell = |at: usize| {
        let place = CellPlace {
            file: "prices.csv".into(),
            tab: None,
            row: line,
            column: Some(u32::try_from(at + 1).expect("few")),
            heading: Some(BOOK_COLUMNS[at].1.to_owned()),
        };
        BookCell {
            text: cells.get(at).copied().unwrap_or("").to_owned(),
            place,
            fault: None,
        }
    };
    BookRow {
        cells: (0..BOOK_COLUMNS.len()).map(cell).collect(),
    }
}

pub fn book(program: &Program, rows: &[&[&str]]) -> Result<PriceBook, Vec<Diagnostic>> {
    let rows: Vec<BookRow> = rows
        .iter()
        .zip(2..)
        .map(|(cells, line)| book_row(line, cells))
        .collect();
    read_prices(program, &rows)
}

pub fn price(
    program: &Program,
    quantities: &Quantities,
    prices: &[&[&str]],
) -> Result<Estimate, Vec<Diagnostic>> {
    let book = book(program, prices)?;
    estimate(program, &program.versions[0], quantities, &book)
}

/// Text of every message, for comparing.
pub fn told(list: &[Diagnostic]) -> String {
    use ovolo::diagnostics::{Sources, render};
    render::render_all(
        list,
        &Sources::default(),
        render::Style { color: false },
        50,
    )
}

/// A small job that uses everything once: two trades, stock with waste, points in boxes, glass, putty, a sundry.
#[expect(clippy::too_many_lines, reason = "a job that uses everything once")]
pub fn small_job() -> (Program, Quantities) {
    use ResourceClass::{Glass, Labor, Other, Points, Putty, Stock};
    let mut program = job(&["Removal", "Making", "Glazing"]);
    let joiner = resource(&mut program, "joiner", Labor, "h", None, None);
    let glazier = resource(&mut program, "glazier", Labor, "h", None, None);
    let pine = resource(&mut program, "heart_pine", Stock, "bf", Some("35"), None);
    let glass = resource(
        &mut program,
        "old_glass",
        Glass,
        "sq ft",
        Some("10"),
        Some(("sheets", "6")),
    );
    let points = resource(
        &mut program,
        "glazing_point",
        Points,
        "point",
        None,
        Some(("boxes", "100")),
    );
    let putty = resource(
        &mut program,
        "putty",
        Putty,
        "lb",
        None,
        Some(("tubs", "5")),
    );
    let paper = resource(&mut program, "sandpaper", Other, "sq ft", None, None);
    let mut q = rows(&["East", "East", "West", "North"]);
    let list = |texts: &[&str]| texts.iter().map(|t| num(t)).collect::<Vec<_>>();
    take(
        &program,
        &mut q,
        joiner,
        0,
        &list(&["0.5", "0.5", "0.75", "1"]),
        &num("2"),
    );
    take(
        &program,
        &mut q,
        joiner,
        1,
        &list(&["1 1/3", "2 2/3", "0", "3"]),
        &Exact::ZERO,
    );
    take(
        &program,
        &mut q,
        glazier,
        2,
        &list(&["0.9", "0.9", "1.35", "0.45"]),
        &Exact::ZERO,
    );
    take(
        &program,
        &mut q,
        pine,
        1,
        &list(&["3 1/3", "4", "0", "12.125"]),
        &Exact::ZERO,
    );
    take(
        &program,
        &mut q,
        glass,
        2,
        &list(&["6", "6", "9.5", "3"]),
        &Exact::ZERO,
    );
    take(
        &program,
        &mut q,
        points,
        2,
        &list(&["48", "48", "70", "26"]),
        &Exact::ZERO,
    );
    take(
        &program,
        &mut q,
        putty,
        2,
        &list(&["1.1", "1.1", "1.7", "0.6"]),
        &Exact::ZERO,
    );
    take(
        &program,
        &mut q,
        paper,
        1,
        &list(&["1", "1", "1", "1"]),
        &num("3"),
    );
    (program, q)
}

/// Prices that fit [`small_job`].
pub const SMALL_PRICES: &[&[&str]] = &[
    &["joiner", "h", "61.37"],
    &["glazier", "h", "58.00"],
    &[
        "heart_pine",
        "bf",
        "11.85",
        "",
        "Two rivers salvage",
        "",
        "quote 118",
        "2026-05-04",
    ],
    &[
        "old_glass",
        "sheet",
        "54.30",
        "",
        "",
        "",
        "counter price",
        "2026-03-01",
    ],
    &["glazing_point", "box", "7.15", "", "", "", "", "2024-02-01"],
    &["putty", "tub", "31.99"],
    &["sandpaper", "sq ft", "0.415"],
];
