//! From results to quantities: unknown rows, shares, decisions, cautions, and what an alternate changes in the prices.

use std::collections::HashMap;

use ovolo::check::{self, Finder};
use ovolo::diagnostics::{Diagnostic, Sources, render};
use ovolo::eval;
use ovolo::number::{Exact, cents_text};
use ovolo::prices::{BookSource, PriceBook, read_book};
use ovolo::pricing::{CutKind, Estimate, PriceOrigin, estimate, price_warnings};
use ovolo::program::Program;
use ovolo::survey::{self, Content, ReadOptions, Reading, SourceFile};
use ovolo::takeoff::{Quantities, Wish, collect, survey_notes, wanted};

struct Shelf(HashMap<&'static str, &'static str>);

impl Finder for Shelf {
    fn find(&self, path: &str, _: Option<&str>) -> Result<(String, String), String> {
        self.0
            .get(path)
            .map(|text| (path.to_owned(), (*text).to_owned()))
            .ok_or_else(|| "not here".to_owned())
    }
}

const SHEET: &str = r#"sheet "Lower mill office" layer job

counted sash (sashes)
phases "Set-up", "Making", "Unused"
choice treatment one of retain, mend, renew

survey opening {
  mark    text key
  wing    text
  wide    length in in
  rot     percent optional
  leaded  yes or no optional
  thick   length in in   if blank 1 3/8 in   note "as most are"
}

given pace 2 h per sash   from 1 h per sash to 3 h per sash   source "shop log"
given idle 7 in
given pine_waste 20 %

resource joiner labor h
resource helper_hand labor h
resource pine stock bf   waste pine_waste   bought in boards of 5 bf   source "yard list"

for each opening {
  sashes = 1 sash
  volume = wide * 12 in * 1 in   adds up
  decide fate of treatment {
    retain when wide < 30 in   because "only {wide} wide in the {wing}"   rests on "Standard 2"
    mend otherwise             because "wide enough to mend"
  }
  take pine   volume                      for "Making"
  take joiner (rot if blank unknown) * 10 h   for "Making"
  take helper_hand sashes * pace          for "Making"
  caution "Lead at {mark}: test or treat as leaded"   when leaded if blank unknown
  caution "Glass cuts: gloves"            when fate is mend
}

for each batch of opening by wing {
  take joiner 3 h   for "Set-up"   shared by sashes
}

for the job {
  take joiner 4 h   for "Set-up"
}

caution "Codes come first"

job {
  survey opening from "survey.csv"
  prices from "prices.csv"
  money USD
  split by wing
}

pay joiner {
  wage       40 USD per h
  insurance  10 % of wage
}

alternate "Young pine" {
  change price of pine to 6 USD per bf   because "fresh sawn"
}

alternate "Let out" {
  change price of joiner to 90 USD per h   because "a firm's rate"
}
"#;

const SURVEY: &str = "\
mark,wing,wide,rot,leaded,thick
W1,East,24,10 %,yes,1 3/8
W2,West,36,,no,
W3,East,30,50 %,,1 3/4
W4,West,48,n/a,no,
";

struct Job {
    program: Program,
    sources: Sources,
    reading: Reading,
    book: PriceBook,
}

fn told(list: &[Diagnostic], sources: &Sources) -> String {
    render::render_all(list, sources, render::Style { color: false }, 50)
}

fn file(name: &str, text: &str) -> SourceFile<'static> {
    SourceFile {
        name: name.to_owned(),
        content: Content::Bytes(text.as_bytes().to_vec()),
    }
}

fn job(prices: &str) -> Job {
    let (loaded, problems) =
        check::load(&["job.ovo".to_owned()], &Shelf([("job.ovo", SHEET)].into()));
    assert!(problems.is_empty(), "{}", told(&problems, &loaded.sources));
    let (checked, problems) = check::check(
        &loaded,
        check::Options {
            alternates: true,
            trials: false,
        },
    );
    let program = checked
        .unwrap_or_else(|| panic!("{}", told(&problems, &loaded.sources)))
        .program;
    let sources = loaded.sources;
    let read = |text: &str| {
        survey::read(
            &program.tables[ovolo::program::TableId(0)].schema,
            &program.nouns,
            Some("USD"),
            vec![file("survey.csv", text)],
            &ReadOptions::default(),
            None,
        )
    };
    let reading =
        read(&SURVEY.replace("n/a", "")).unwrap_or_else(|f| panic!("{}", told(&f, &sources)));
    let book = read_book(
        &program,
        vec![BookSource {
            file: file("prices.csv", prices),
            tab: None,
        }],
    );
    let book = book.unwrap_or_else(|f| panic!("{}", told(&f, &sources)));
    Job {
        program,
        sources,
        reading,
        book,
    }
}

const PRICES: &str = "Resource,Unit,Price (USD),Source,Date\npine,bf,10.00,yard list,2026-02-01\nhelper_hand,h,30,,1/2/2026\nnails,lb,3,,\n";

const ALL: Wish = Wish {
    by_row: true,
    treatment: true,
    quantities: false,
};

impl Job {
    fn quantities(&self, version: usize, wish: Wish) -> Quantities {
        let version = &self.program.versions[version];
        let tables = vec![&self.reading.table];
        let nodes = wanted(&self.program, version, wish);
        let inputs = eval::Inputs {
            spans: &[],
            tables: tables.clone(),
        };
        let results =
            eval::run(&self.program, &inputs, &nodes, &eval::Options::default()).expect("runs");
        let notes = survey_notes(&self.program, version, &[&self.reading.report]);
        collect(&self.program, version, &results, &tables, notes, wish)
            .unwrap_or_else(|f| panic!("{}", told(&f, &self.sources)))
    }

    fn estimate(&self, version: usize) -> Estimate {
        let quantities = self.quantities(version, ALL);
        let done = estimate(
            &self.program,
            &self.program.versions[version],
            &quantities,
            &self.book,
        );
        done.unwrap_or_else(|f| panic!("{}", told(&f, &self.sources)))
    }
}

#[test]
fn a_total_says_which_rows_it_lacks() {
    let job = job(PRICES);
    let done = job.estimate(0);
    let left: Vec<_> = done
        .assumptions
        .left_out
        .iter()
        .map(|l| {
            (
                l.resource.as_str(),
                l.phase.as_str(),
                l.cause.as_str(),
                l.marks.join(" "),
            )
        })
        .collect();
    assert_eq!(left, [("joiner", "Making", "blank", "W2 W4".to_owned())]);
    // What is known: 10 % and 50 % of 10 h; and 3 h in each of two wings, 4 h of the job.
    let joiner: Vec<String> = done
        .lines
        .iter()
        .filter(|l| l.name == "joiner")
        .map(|l| format!("{} {}", l.quantity, l.phase.clone().unwrap_or_default()))
        .collect();
    assert_eq!(joiner, ["10 Set-up", "6 Making"]);
}

#[test]
fn what_nothing_shares_out_belongs_to_the_whole_job() {
    let done = job(PRICES).estimate(0);
    let hours = |kind| {
        let rows = &done.cut(kind).expect("a cut").rows;
        rows.iter()
            .map(|r| format!("{} {}", r.key, r.hours))
            .collect::<Vec<_>>()
    };
    // Each sash 2 h of a helper; set-up 3 h a wing over its two sashes; 1 h and 5 h for rot in the East.
    assert_eq!(
        hours(CutKind::Split(0)),
        ["East 13", "West 7", "whole job 4"]
    );
    assert_eq!(
        hours(CutKind::Opening),
        ["W1 9/2", "W2 7/2", "W3 17/2", "W4 7/2", "whole job 4"]
    );
    assert_eq!(hours(CutKind::Phase), ["Set-up 10", "Making 14"]);
}

#[test]
fn packs_and_waste_of_the_sheet_are_used() {
    let done = job(PRICES).estimate(0);
    let pine = &done.buys[0];
    // 138 in x 12 in x 1 in = 11.5 bf, and a fifth for waste: 13.8 bf, three boards of 5 bf.
    assert_eq!(
        (pine.net.clone(), pine.needed.clone(), pine.bought.clone()),
        (num("11.5"), num("13.8"), Exact::int(15))
    );
    assert_eq!(
        pine.packs
            .as_ref()
            .map(|p| format!("{} {}", p.count, p.word))
            .as_deref(),
        Some("3 boards")
    );
    assert_eq!(cents_text(pine.cents), "150.00");
    assert_eq!(
        pine.allowance.as_ref().and_then(|a| a.given.as_deref()),
        Some("pine_waste")
    );
}

fn num(text: &str) -> Exact {
    Exact::parse_plain(text).expect("a number")
}

#[test]
fn decisions_are_counted_and_reasoned() {
    let facts = job(PRICES).estimate(0).facts;
    let count = &facts.decided[0];
    assert_eq!(
        (count.decision.as_str(), count.per.as_str(), count.unknown),
        ("fate", "openings", 0)
    );
    assert_eq!(
        count.labels,
        [
            ("retain".to_owned(), 1),
            ("mend".to_owned(), 3),
            ("renew".to_owned(), 0)
        ]
    );
    let first = &facts.treatment[0];
    assert_eq!(
        (&*first.mark, first.label.as_deref(), &*first.because),
        ("W1", Some("retain"), "only 24 in wide in the East")
    );
    assert_eq!(
        (
            first.rests_on.as_deref(),
            first.keys.iter().map(|k| &**k).collect::<Vec<_>>()
        ),
        (Some("Standard 2"), vec!["East"])
    );
    assert_eq!(facts.treatment.len(), 4);
}

#[test]
fn a_caution_of_unknown_condition_is_said() {
    let facts = job(PRICES).estimate(0).facts;
    let said: Vec<_> = facts
        .cautions
        .iter()
        .map(|c| (c.text.as_str(), c.rows, c.marks.join(" ")))
        .collect();
    assert_eq!(
        said,
        [
            (
                "Lead at W1: test or treat as leaded",
                Some(1),
                "W1".to_owned()
            ),
            (
                "Lead at W3: test or treat as leaded",
                Some(1),
                "W3".to_owned()
            ),
            ("Glass cuts: gloves", Some(3), "W2 W3 W4".to_owned()),
            ("Codes come first", None, String::new()),
        ]
    );
}

#[test]
fn assumptions_list_what_is_used_and_nothing_else() {
    let job = job(PRICES);
    let done = job.estimate(0);
    let givens: Vec<_> = done
        .assumptions
        .givens
        .iter()
        .map(|g| (g.name.as_str(), g.value.as_str(), g.source.as_deref()))
        .collect();
    assert_eq!(
        givens,
        [
            ("pace", "2 h per sash", Some("shop log")),
            ("pine waste", "20 %", None)
        ]
    );
    assert_eq!(
        done.assumptions.givens[0].range,
        Some(("1 h per sash".to_owned(), "3 h per sash".to_owned()))
    );
    let blanks: Vec<_> = done
        .facts
        .survey
        .assumed
        .iter()
        .map(|b| {
            (
                b.column.as_str(),
                b.value.as_str(),
                b.rows,
                b.note.as_deref(),
            )
        })
        .collect();
    assert_eq!(blanks, [("thick", "1 3/8 in", 2, Some("as most are"))]);
    assert_eq!(done.assumptions.prices_without_source, ["helper hand"]);
    assert_eq!(done.assumptions.prices_without_date, ["helper hand"]);
    assert_eq!(
        done.assumptions.resources_without_source,
        ["joiner", "helper hand"]
    );
    let codes: Vec<_> = price_warnings(&job.program, &job.program.versions[0], &job.book)
        .iter()
        .map(|d| d.code)
        .collect();
    assert_eq!(codes, ["OV-810", "OV-802"]);
}

#[test]
fn a_change_of_price_stands_above_the_book_and_above_a_wage() {
    let job = job(PRICES);
    let price = |version: usize, name: &str| {
        let done = job.estimate(version);
        let line = done
            .lines
            .iter()
            .find(|l| l.name == name)
            .expect("a line")
            .clone();
        format!("{} per {}", line.price, line.per)
    };
    assert_eq!(
        [price(0, "pine"), price(1, "pine"), price(2, "pine")],
        ["10 per bf", "6 per bf", "10 per bf"]
    );
    assert_eq!(
        [price(0, "joiner"), price(1, "joiner"), price(2, "joiner")],
        ["44 per h", "44 per h", "90 per h"]
    );
    let changed = job.estimate(1);
    assert!(matches!(
        changed.buys[0].price.origin,
        PriceOrigin::Change(_)
    ));
    assert_eq!(changed.buys[0].price.note.as_deref(), Some("fresh sawn"));
    // Its pack is still the sheet's.
    assert_eq!(cents_text(changed.buys[0].cents), "90.00");
}

#[test]
fn a_wage_and_a_price_are_told() {
    let job = job(&format!("{PRICES}joiner,h,41,,\n"));
    let codes: Vec<_> = price_warnings(&job.program, &job.program.versions[0], &job.book)
        .iter()
        .map(|d| d.code)
        .collect();
    assert_eq!(codes, ["OV-810", "OV-802", "OV-825"]);
    assert_eq!(job.estimate(0).pay[0].rate, Exact::int(44));
}

#[test]
fn a_price_book_without_its_columns_is_refused() {
    let job = job(PRICES);
    let book = |text: &str| {
        read_book(
            &job.program,
            vec![BookSource {
                file: file("prices.csv", text),
                tab: None,
            }],
        )
    };
    let faults = book("Resource,Cost,Unit\npine,10,bf\n").expect_err("refused");
    assert_eq!(
        faults.iter().map(|d| d.code).collect::<Vec<_>>(),
        ["OV-800"]
    );
    assert_eq!(faults[0].found.as_deref(), Some("Resource, Cost, Unit"));
    assert!(book("").is_err());
    assert!(book("a,b\n1,2\n").is_err());
}

/// The same book as a workbook: numbers as numbers, dates as dates, and one price that a formula worked out.
#[test]
fn a_price_book_in_a_workbook_reads_as_its_text_does() {
    use rust_xlsxwriter::{ExcelDateTime, Format, Workbook};
    let mut book = Workbook::new();
    book.add_worksheet().set_name("Notes").expect("a name");
    let sheet = book.add_worksheet();
    sheet
        .write_string(0, 0, "Prices of the yard")
        .expect("written");
    for (column, heading) in (0u16..).zip(["Resource", "Unit", "Price (USD)", "Date", "Pack"]) {
        sheet.write_string(2, column, heading).expect("written");
    }
    sheet.write_string(3, 0, "pine").expect("written");
    sheet.write_string(3, 1, "board").expect("written");
    sheet.write_number(3, 2, 47.35).expect("written");
    let day = ExcelDateTime::from_ymd(2026, 2, 1).expect("a day");
    sheet
        .write_datetime_with_format(3, 3, &day, &Format::new().set_num_format("yyyy-mm-dd"))
        .expect("written");
    sheet.write_string(3, 4, "boards of 5").expect("written");
    sheet.write_string(4, 0, "helper_hand").expect("written");
    sheet.write_string(4, 1, "h").expect("written");
    sheet.write_number(4, 2, 3.0 * 4.1).expect("written"); // 12.299999999999999
    let bytes = book.save_to_buffer().expect("a workbook");
    let job = job(PRICES);
    let source = BookSource {
        file: SourceFile {
            name: "prices.xlsx".into(),
            content: Content::Bytes(bytes),
        },
        tab: None,
    };
    let read = read_book(&job.program, vec![source])
        .unwrap_or_else(|f| panic!("{}", told(&f, &job.sources)));
    let pine = read
        .entries
        .iter()
        .find(|e| e.resource.0 == 2)
        .expect("an entry");
    assert_eq!(
        (pine.price.to_string(), pine.per_base.clone()),
        (
            "47.35".to_owned(),
            num("47.35").div(&Exact::int(5 * 144)).expect("small")
        )
    );
    assert_eq!(
        (pine.date.as_deref(), pine.day),
        (Some("2026-02-01"), Some(20_485))
    );
    assert_eq!(
        pine.place.to_string(),
        "prices.xlsx, tab \"Sheet2\", cell C4 (Price (USD))"
    );
    assert_eq!(
        read.warnings
            .iter()
            .map(|d| (d.code, d.found.as_deref()))
            .collect::<Vec<_>>(),
        [("OV-809", Some("12.299999999999999"))]
    );
}

/// The caller tells faults before anything is added up; one that slips through is still caught.
#[test]
fn a_fault_never_becomes_an_amount() {
    let sheet = SHEET.replace(
        "take pine   volume ",
        "take pine   volume / (wide - 24 in) * 1 in ",
    );
    let sheet: &'static str = sheet.leak();
    let (loaded, _) = check::load(&["job.ovo".to_owned()], &Shelf([("job.ovo", sheet)].into()));
    let (checked, problems) = check::check(&loaded, check::Options::default());
    let program = checked
        .unwrap_or_else(|| panic!("{}", told(&problems, &loaded.sources)))
        .program;
    let job = Job {
        program,
        ..job(PRICES)
    };
    let version = &job.program.versions[0];
    let tables = vec![&job.reading.table];
    let inputs = eval::Inputs {
        spans: &[],
        tables: tables.clone(),
    };
    let results = eval::run(
        &job.program,
        &inputs,
        &wanted(&job.program, version, ALL),
        &eval::Options::default(),
    )
    .expect("runs");
    let faults = collect(
        &job.program,
        version,
        &results,
        &tables,
        Default::default(),
        ALL,
    )
    .expect_err("refused");
    assert!(faults.iter().all(|d| d.code == "OV-891") && !faults.is_empty());
}
