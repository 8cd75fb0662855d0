//! Reports of an estimate: they fit their width, escape what they are given, and say the same numbers in every form.

use std::io::Cursor;
use std::sync::Arc;

use crate::money_support::*;
use calamine::{Data, Reader, Xlsx};
use ovolo::number::{Exact, Rounding};
use ovolo::pricing::{CutKind, Estimate, compare};
use ovolo::program::{ChargeAmountDef, ChargeBase, ChargeDef, Program, ResourceClass};
use ovolo::report::{Cell, View, all_views, csv, json, page, terminal, weigh, workbook};
use ovolo::syntax::tree::ShareKind;
use ovolo::takeoff::{AssumedBlank, Caution, DecisionCount, SetAside, Treatment};
use unicode_width::UnicodeWidthStr;

const ALL: terminal::Options = terminal::Options {
    openings: true,
    treatment: true,
    assumptions: true,
    lines: true,
};

/// Texts that a survey may hold and that mean something to a workbook, a browser or a terminal.
const NASTY: [&str; 6] = [
    "=2+3",
    "+1",
    "-1",
    "@sum",
    "<script>alert(1)</script>&\"'",
    "a\u{1b}[31mred\tb\nc",
];

/// The small job with charges, facts of every kind, and nasty names wherever a user may put one.
fn full() -> (Program, Estimate) {
    let (mut program, mut quantities) = small_job();
    program.terms.title = NASTY[4].into();
    program.versions[0].resources[ovolo::program::ResourceId(2)].called = Some(NASTY[0].into());
    let all = ChargeAmountDef::Share {
        share: num("0.1"),
        kind: ShareKind::MarkUp,
        bases: vec![ChargeBase::AllSoFar],
        basis: None,
    };
    let def = ChargeDef {
        name: "profit".into(),
        amount: all,
        allowance: false,
        source: None,
        note: Some(NASTY[3].into()),
        span: span(),
    };
    program.terms.charges.push(def);
    program.terms.final_rounding = Some((Rounding::Down, Exact::int(10), span()));
    quantities.splits[0].keys[1] = NASTY[2].into();
    let facts = Arc::get_mut(&mut quantities.facts).expect("not shared yet");
    for (mark, nasty) in facts.marks.iter_mut().zip(NASTY) {
        *mark = nasty.into();
    }
    let labels = vec![("retain".to_owned(), 3), ("mend".to_owned(), 1)];
    facts.decided.push(DecisionCount {
        decision: "sash_fate".into(),
        per: "openings".into(),
        labels,
        unknown: 0,
    });
    for mark in &facts.marks {
        facts.treatment.push(Treatment {
            mark: mark.as_str().into(),
            main_row: None,
            keys: vec!["East".into()].into(),
            decision: "sash_fate".into(),
            label: Some("mend".into()),
            because: "sound wood outweighs decay by far, and the joints of the lower rail hold"
                .into(),
            rests_on: Some("Standard 6: repair before replacing".into()),
        });
    }
    facts.cautions.push(Caution {
        caution: 0,
        text: NASTY[5].into(),
        rows: Some(4),
        per: "openings".into(),
        marks: facts.marks.clone(),
    });
    facts.survey.assumed.push(AssumedBlank {
        table: "opening".into(),
        column: "leaded".into(),
        value: "yes".into(),
        rows: 1,
        note: None,
    });
    facts.survey.set_aside.push(SetAside {
        above: None,
        mark: NASTY[1].into(),
        cause: "two numbers in a cell".into(),
    });
    quantities.lines[0]
        .left_out
        .push((NASTY[0].into(), ovolo::table::Absence::Blank));
    let done =
        price(&program, &quantities, SMALL_PRICES).unwrap_or_else(|f| panic!("{}", told(&f)));
    (program, done)
}

#[test]
fn terminal_tables_fit_their_width() {
    let (_, done) = full();
    for width in [80, 100, 132, 200] {
        for line in terminal::report(&done, &ALL, width).lines() {
            assert!(line.width() <= width, "{} > {width}: {line}", line.width());
            assert!(!line.chars().any(char::is_control), "{line:?}");
            assert_eq!(line.trim_end(), line);
        }
    }
    let mut versions = Vec::new();
    let (program, done) = full();
    for name in [
        "as decided",
        "All mended",
        "Modern glass",
        "A glazing firm from out of town",
        "Storms",
    ] {
        let version = ovolo::program::Version {
            name: Some(name.into()),
            ..program.versions[0].clone()
        };
        versions.push((
            version,
            Estimate {
                version: Some(name.into()),
                ..done.clone()
            },
        ));
    }
    let versions: Vec<_> = versions.iter().map(|(v, e)| (v, e.clone())).collect();
    let shown = weigh::report(&compare(&versions), 80);
    assert!(shown.lines().all(|l| l.width() <= 80), "{shown}");
    assert_eq!(shown.matches("as decided").count(), 2, "{shown}");
}

#[test]
fn the_usual_report_reads_so() {
    let (mut program, quantities) = small_job();
    program.terms.title = "Lower mill office".into();
    let done = price(&program, &quantities, SMALL_PRICES).expect("priced");
    let shown = terminal::report(&done, &terminal::Options::default(), 80);
    let expected = "\
Lower mill office — as decided

Totals (USD)
totals                      net   as bought      cost
─────────────────────────────────────────────────────
labor                   15.35 h                929.90
stock                  19.46 bf    26.27 bf    311.28
glass                24.5 sq ft    30 sq ft    271.50
points               192 points  200 points     14.30
putty                    4.5 lb        5 lb     31.99
other                                            2.91
─────────────────────────────────────────────────────
cost before charges                          1,561.88
total                                        1,561.88
";
    assert!(shown.starts_with(expected), "{shown}");
    assert!(
        !shown.contains("Cost by opening") && !shown.contains("Treatment"),
        "{shown}"
    );
}

#[test]
fn no_form_prints_a_negative_zero() {
    let mut view = View::new(
        "t",
        "T",
        vec![
            ovolo::report::Column::number("a"),
            ovolo::report::Column::quantity("b"),
        ],
    );
    let tiny = Exact::ratio(-1, 1_000_000_000).expect("a ratio");
    view.row(vec![
        Cell::Number(tiny.clone(), 2),
        Cell::Quantity(tiny.clone(), "bf".into()),
    ]);
    view.row(vec![Cell::Money(0), Cell::Price(tiny, "bf".into())]);
    for text in [
        terminal::draw(&view, 80),
        csv::write(&view, &ovolo::report::Face::default()),
    ] {
        assert!(!text.contains("-0"), "{text}");
    }
    let (_, done) = full();
    let all = format!(
        "{}{}{}",
        terminal::report(&done, &ALL, 80),
        page::write(&done).expect("draws"),
        json::estimate(&done)
    );
    assert!(!all.contains("-0.00") && !all.contains("\"-0\""), "{all}");
}

#[test]
fn csv_of_every_table_reads_back_with_its_numbers_and_runs_nothing() {
    let (_, done) = full();
    for view in all_views(&done) {
        let text = csv::table(&done, &view.name).expect("a table of this name");
        let mut reader = ::csv::Reader::from_reader(text.as_bytes());
        let columns = reader.headers().expect("headings").len();
        let records: Vec<::csv::StringRecord> = reader
            .records()
            .collect::<Result<_, _>>()
            .unwrap_or_else(|e| panic!("{}: {e}", view.name));
        assert_eq!(records.len(), view.rows.len(), "{}", view.name);
        for (record, row) in records.iter().zip(&view.rows) {
            assert_eq!(record.len(), columns);
            let numbers = view
                .wide_columns()
                .filter_map(|(at, _)| row.cells[at].plain_number());
            let missing: Vec<String> = numbers
                .filter(|n| !record.iter().any(|field| field == n))
                .collect();
            assert!(
                missing.is_empty(),
                "{}: {missing:?} in {record:?}",
                view.name
            );
            for field in record {
                let runs = field.starts_with(['=', '+', '@', '\t', '\r'])
                    || (field.starts_with('-') && field.parse::<f64>().is_err());
                assert!(!runs, "{}: {field:?}", view.name);
            }
        }
    }
    let refused = csv::table(&done, "buylist").expect_err("no such table");
    assert_eq!(
        (refused.code, refused.notes),
        ("OV-840", vec!["Did you mean buy-list?".to_owned()])
    );
}

#[test]
fn the_page_holds_every_text_and_none_of_its_markup() {
    let (_, done) = full();
    let html = page::write(&done).expect("draws");
    assert_eq!(html, page::write(&done).expect("draws"));
    let allowed = [
        "!doctype", "html", "/html", "head", "/head", "meta", "title", "/title", "style", "/style",
        "body", "/body", "h1", "/h1", "h2", "/h2", "p", "/p", "table", "/table", "thead", "/thead",
        "tbody", "/tbody", "tr", "/tr", "th", "/th", "figure", "/figure", "svg", "/svg", "/defs",
        "/pattern", "/text", "defs", "pattern", "path", "text", "polygon", "polyline", "td", "/td",
    ];
    for tag in html.split('<').skip(1) {
        let name = tag.split(['>', ' ', '\n']).next().unwrap_or("");
        assert!(allowed.contains(&name), "<{name}");
    }
    assert!(html.contains("&lt;script&gt;alert(1)&lt;/script&gt;&amp;&quot;&#39;"));
    assert!(html.contains("sound wood outweighs decay") && html.contains("Standard 6"));
    assert!(!html.contains("http://") && !html.contains("https://"));
}

fn tab(book: &mut Xlsx<Cursor<Vec<u8>>>, name: &str) -> Vec<Vec<Data>> {
    let range = book
        .worksheet_range(name)
        .unwrap_or_else(|e| panic!("{name}: {e}"));
    range.rows().map(<[Data]>::to_vec).collect()
}

#[test]
fn the_workbook_reads_back_equal_and_is_the_same_each_time() {
    let (_, done) = full();
    let bytes = workbook::write(&done).unwrap_or_else(|d| panic!("{}", told(&[d])));
    assert_eq!(bytes, workbook::write(&done).expect("a workbook"));
    let mut book = Xlsx::new(Cursor::new(bytes)).expect("a workbook");
    assert_eq!(
        book.sheet_names(),
        [
            "Totals",
            "Buy list",
            "Cost",
            "Openings",
            "Treatment",
            "Assumptions"
        ]
    );
    for name in book.sheet_names() {
        let formulas = book.worksheet_formula(&name).expect("a tab");
        assert!(
            formulas.used_cells().next().is_none(),
            "{name} has a formula"
        );
    }
    let rows = tab(&mut book, "Openings");
    let cut = done.cut(CutKind::Opening).expect("rows were asked for");
    for one in &cut.rows {
        let row = rows
            .iter()
            .find(|r| r[0] == Data::String(one.key.clone()))
            .unwrap_or_else(|| panic!("{:?}", one.key));
        let cents = |cell: &Data| match cell {
            Data::Float(x) => format!("{x:.2}"),
            other => panic!("{other:?}"),
        };
        assert_eq!(cents(&row[4]), ovolo::number::cents_text(one.cents()));
    }
    // Every amount of the buy list stands as a number, its unit in a column of its own.
    let rows = tab(&mut book, "Buy list");
    let at = |heading: &str| {
        rows.iter()
            .find_map(|r| r.iter().position(|c| *c == Data::String(heading.into())))
            .expect("a heading")
    };
    for buy in &done.buys {
        let row = rows
            .iter()
            .find(|r| r[0] == Data::String(buy.name.clone()))
            .expect("a row");
        let needed: f64 = buy.needed.to_decimal(6).0.parse().expect("a number");
        assert_eq!(row[at("needed")], Data::Float(needed), "{}", buy.name);
        assert_eq!(row[at("needed unit")], Data::String(buy.unit.clone()));
        let amount: f64 = ovolo::number::cents_text(buy.cents)
            .parse()
            .expect("a number");
        assert_eq!(row[at("amount (USD)")], Data::Float(amount));
    }
    let rows = tab(&mut book, "Treatment");
    assert!(
        rows.iter()
            .any(|r| r.contains(&Data::String("Standard 6: repair before replacing".into())))
    );
}

#[test]
fn long_numbers_keep_their_digits_in_a_workbook() {
    let mut program = job(&["Making"]);
    let board = resource(
        &mut program,
        "board",
        ResourceClass::Stock,
        "bf",
        None,
        None,
    );
    let mut quantities = rows(&["East"]);
    take(
        &program,
        &mut quantities,
        board,
        0,
        &[Exact::ONE],
        &Exact::ZERO,
    );
    let done = price(
        &program,
        &quantities,
        &[&["board", "bf", "1234567890123456.78"]],
    )
    .expect("priced");
    let mut book =
        Xlsx::new(Cursor::new(workbook::write(&done).expect("a workbook"))).expect("a workbook");
    let rows = tab(&mut book, "Buy list");
    assert!(
        rows.iter()
            .flatten()
            .any(|c| *c == Data::String("1234567890123456.78".into()))
    );
}

#[test]
#[ignore = "writes a million rows: cargo test --release --test reports -- --ignored"]
fn a_table_longer_than_a_workbook_holds_is_refused() {
    let mut program = job(&["Making"]);
    let board = resource(
        &mut program,
        "board",
        ResourceClass::Stock,
        "bf",
        None,
        None,
    );
    let mut quantities = rows(&["East"]);
    take(
        &program,
        &mut quantities,
        board,
        0,
        &[Exact::ONE],
        &Exact::ZERO,
    );
    let mut done = price(&program, &quantities, &[&["board", "bf", "1"]]).expect("priced");
    let one = Caution {
        caution: 0,
        text: "wet methods".into(),
        rows: None,
        per: "whole job".into(),
        marks: Vec::new(),
    };
    Arc::make_mut(&mut done.facts).cautions = vec![one; 1 << 20];
    assert_eq!(workbook::write(&done).expect_err("too long").code, "OV-841");
}

#[test]
fn json_has_its_schema_and_the_same_numbers() {
    let (_, done) = full();
    let value = json::estimate(&done);
    assert_eq!(value, json::estimate(&done));
    assert_eq!(value["schema"], "ovolo-estimate/3");
    assert_eq!(
        value["totals"]["total"],
        ovolo::number::cents_text(done.totals.grand)
    );
    let cents = |text: &serde_json::Value| {
        text.as_str()
            .and_then(|t| t.replace('.', "").parse::<i128>().ok())
            .expect("an amount")
    };
    for cut in value["cuts"].as_array().expect("cuts") {
        let sum: i128 = cut["rows"]
            .as_array()
            .expect("rows")
            .iter()
            .map(|r| cents(&r["cost"]))
            .sum();
        assert_eq!(sum, cents(&value["totals"]["cost"]), "{}", cut["by"]);
    }
    // 467/24 bf does not end, so its ratio is given too.
    assert_eq!(
        value["buy_list"][0]["net"],
        serde_json::json!({"number": "19.458333333333", "ratio": "467/24", "unit": "bf"})
    );
    // No bare number anywhere: no reader can cut a digit.
    fn bare(value: &serde_json::Value) -> usize {
        match value {
            serde_json::Value::Number(_) => 1,
            serde_json::Value::Array(list) => list.iter().map(bare).sum(),
            serde_json::Value::Object(map) => map.values().map(bare).sum(),
            _ => 0,
        }
    }
    assert_eq!(bare(&value), 0);
    let (program, done) = full();
    let side = json::comparison(&compare(&[
        (&program.versions[0], done.clone()),
        (&program.versions[0], done),
    ]));
    assert_eq!(
        (
            side["schema"].as_str(),
            side["versions"].as_array().map(Vec::len),
            bare(&side)
        ),
        (Some("ovolo-comparison/1"), Some(2), 0)
    );
}

#[test]
fn a_comparison_says_what_to_add_and_where() {
    let (program, quantities) = small_job();
    let base = price(&program, &quantities, SMALL_PRICES).expect("priced");
    let mut prices: Vec<&[&str]> = SMALL_PRICES.to_vec();
    prices[3] = &["old_glass", "sheet", "20.00"];
    let cheaper = Estimate {
        version: Some("Modern glass".into()),
        ..price(&program, &quantities, &prices).expect("priced")
    };
    let modern = ovolo::program::Version {
        name: Some("Modern glass".into()),
        ..program.versions[0].clone()
    };
    let side = compare(&[(&program.versions[0], base), (&modern, cheaper)]);
    // 5 sheets at 34.30 less.
    assert!(
        weigh::report(&side, 80)
            .contains("Deduct alternate \"Modern glass\": deduct 171.50 USD.\n"),
        "{}",
        weigh::report(&side, 80)
    );
    // By glass: 6, 6, 9.5 and 3 of 24.5 sq ft.
    let differ: Vec<(String, i128)> = side
        .openings
        .iter()
        .map(|o| (o.mark.clone(), o.cents[1] - o.cents[0]))
        .collect();
    assert_eq!(
        differ,
        [
            ("A3".into(), -6650),
            ("A1".into(), -4200),
            ("A2".into(), -4200),
            ("A4".into(), -2100)
        ]
    );
    assert_eq!(
        weigh::table(&side, "rows", &ovolo::report::Face::default())
            .expect("a table")
            .lines()
            .count(),
        5
    );
}
