//! Papers laid out for PDF: what stands where, before any file is written.

use super::papers::sample;
use ovolo::drawing::{Anchor, Drawing, Fill, Point, Stroke};
use ovolo::number::{Exact, Rounding, Style, Written, cents_grouped, group_thousands};
use ovolo::paper::{
    Block, Cell, Class, Column, Paper, Picture, Reader, Row, RowKind, Sign, Table, Value,
};
use ovolo::report::pdf::{
    Format, Laid, MM, Page, Piece, Placed, Role, Sheet, Um, What, lay_out, pdf,
};
use std::sync::Arc;

fn column(name: &str, numbers: Option<(Written, Style)>) -> Column {
    Column {
        name: name.to_owned(),
        heading: name.to_owned(),
        unit: None,
        numbers,
        class: Class::Open,
    }
}

fn cents(n: i64) -> Cell {
    let value = Exact::ratio(n, 100).expect("a ratio");
    Cell::number(value, cents_grouped(i128::from(n)))
}

fn row(kind: RowKind, cells: Vec<Cell>) -> Row {
    Row { kind, cells }
}

/// Lines in groups of seven, with amounts, their sums and a total.
pub(super) fn long_table(lines: i64) -> Table {
    let mut rows = Vec::new();
    let (mut group, mut total) = (0, 0);
    for n in 0..lines {
        if n % 7 == 0 {
            let cells = vec![
                Cell::words(format!("wall {n}")),
                Cell::blank(),
                Cell::blank(),
            ];
            rows.push(row(RowKind::Group(0), cells));
        }
        let amount = (n * 37) % 1_000 + 1;
        group += amount;
        total += amount;
        let what = match n % 5 {
            0 => "a lower rail with its tenons, let in at both ends, where the old one was soft",
            _ => "stile",
        };
        let cells = vec![
            Cell::words(format!("N{n}")),
            Cell::words(what),
            cents(amount),
        ];
        rows.push(row(RowKind::Line, cells));
        if n % 7 == 6 || n + 1 == lines {
            let cells = vec![Cell::words("wall"), Cell::blank(), cents(group)];
            rows.push(row(RowKind::Subtotal(0), cells));
            group = 0;
        }
    }
    if lines > 0 {
        let cells = vec![Cell::words("all"), Cell::blank(), cents(total)];
        rows.push(row(RowKind::Total, cells));
    }
    Table {
        name: "long".to_owned(),
        title: "A long list".to_owned(),
        columns: vec![
            column("mark", None),
            column("part", None),
            column("amount", Some((Written::Money, Style::default()))),
        ],
        rows,
        notes: Vec::new(),
        entries: Vec::new(),
        counted: 0,
    }
}

fn paper_of(blocks: Vec<Block>) -> Paper {
    Paper { blocks, ..sample() }
}

pub(super) fn texts(page: &Page) -> Vec<(&Placed, &str)> {
    let text = |p: &'_ Placed| match &p.what {
        What::Text { text, .. } => Some(text.clone()),
        _ => None,
    };
    page.placed
        .iter()
        .filter(|p| text(p).is_some())
        .map(|p| match &p.what {
            What::Text { text, .. } => (p, text.as_str()),
            _ => (p, ""),
        })
        .collect()
}

fn words(laid: &Laid) -> Vec<String> {
    let pages = laid.pages.iter();
    pages
        .flat_map(|p| {
            texts(p)
                .into_iter()
                .map(|t| t.1.to_owned())
                .collect::<Vec<_>>()
        })
        .collect()
}

/// Everything lies on what may be printed on, no line of text on another, and head and foot are where they should be.
fn sound(laid: &Laid) {
    let many = laid.pages.len();
    for (at, page) in laid.pages.iter().enumerate() {
        let (width, height) = page.format.net();
        for placed in &page.placed {
            let (right, top, bottom) = match &placed.what {
                What::Text { capital, width, .. } => {
                    (placed.x + width, placed.y - capital, placed.y)
                }
                What::Rule { right, down, .. } => (placed.x + right, placed.y, placed.y + down),
                What::Frame { width, height, .. }
                | What::Drawing { width, height, .. }
                | What::Photograph { width, height, .. } => {
                    (placed.x + width, placed.y, placed.y + height)
                }
            };
            assert!(
                placed.x >= 0 && right <= width && top >= 0 && bottom <= height,
                "page {}: {placed:?}",
                at + 1
            );
        }
        let number = format!("page {} of {many}", at + 1);
        let found = texts(page).iter().filter(|t| t.1 == number).count();
        assert_eq!(found, 1, "{number}");
        apart(page);
    }
}

/// No text overlaps another.
fn apart(page: &Page) {
    let mut boxes: Vec<(Um, Um, Um, Um, &str)> = Vec::new();
    for (placed, text) in texts(page) {
        if let What::Text { capital, width, .. } = placed.what {
            boxes.push((
                placed.y - capital,
                placed.y,
                placed.x,
                placed.x + width,
                text,
            ));
        }
    }
    boxes.sort();
    for (at, a) in boxes.iter().enumerate() {
        for b in boxes.iter().skip(at + 1).take_while(|b| b.0 < a.1) {
            assert!(a.3 <= b.2 || b.3 <= a.2, "{a:?} over {b:?}");
        }
    }
}

/// Rows of a table that begin on each page, by kind.
fn kinds_by_page(laid: &Laid, table: &Table) -> Vec<Vec<RowKind>> {
    let of_page = |page: &Page| {
        let mut rows: Vec<usize> = page
            .placed
            .iter()
            .filter_map(|p| match p.role {
                Role::Of {
                    piece: Piece::Cell(row, _),
                    ..
                } => Some(row),
                _ => None,
            })
            .collect();
        rows.sort_unstable();
        rows.dedup();
        rows.into_iter().map(|r| table.rows[r].kind).collect()
    };
    laid.pages.iter().map(of_page).collect()
}

#[test]
fn a_long_list_keeps_its_groups_and_carries_its_sums() {
    let table = long_table(3_000);
    let laid = lay_out(&paper_of(vec![Block::Table(table.clone())]));
    assert!(laid.pages.len() > 60, "{}", laid.pages.len());
    sound(&laid);
    for kinds in kinds_by_page(&laid, &table) {
        assert!(
            !matches!(kinds.last(), Some(RowKind::Group(_))),
            "{kinds:?}"
        );
        assert!(
            !matches!(kinds.first(), Some(RowKind::Subtotal(_) | RowKind::Total)),
            "{kinds:?}"
        );
        let lines = kinds.iter().filter(|k| **k == RowKind::Line).count();
        assert!(lines >= 2, "{kinds:?}");
    }
    // What is carried is the sum of all lines so far, and the next page brings the same forward.
    let mut sum = Exact::ZERO;
    let mut seen = vec![false; table.rows.len()];
    let after = |page: &Page, label: &str| {
        let list = texts(page);
        let at = list.iter().find(|t| t.1 == label)?.0.y;
        list.iter()
            .find(|t| t.0.y == at && t.1 != label)
            .map(|t| t.1.to_owned())
    };
    for (at, page) in laid.pages.iter().enumerate() {
        if at > 0 {
            let expected = group_thousands(&sum.to_fixed(2, Rounding::HalfEven));
            assert_eq!(
                after(page, "brought forward"),
                Some(expected),
                "page {}",
                at + 1
            );
        }
        for placed in &page.placed {
            if let Role::Of {
                piece: Piece::Cell(row, _),
                ..
            } = placed.role
                && !std::mem::replace(&mut seen[row], true)
                && table.rows[row].kind == RowKind::Line
                && let Value::Number(n) = &table.rows[row].cells[2].value
            {
                sum = sum.add(n).expect("a sum");
            }
        }
        if at + 1 < laid.pages.len() {
            let expected = group_thousands(&sum.to_fixed(2, Rounding::HalfEven));
            assert_eq!(
                after(page, "carried forward"),
                Some(expected),
                "page {}",
                at + 1
            );
        }
    }
    assert!(seen.iter().all(|s| *s));
}

#[test]
fn a_page_says_which_group_it_goes_on_with() {
    let table = long_table(300);
    let laid = lay_out(&paper_of(vec![Block::Table(table.clone())]));
    let mut goes_on = 0;
    for page in laid.pages.iter().skip(1) {
        let first = page.placed.iter().find_map(|p| match p.role {
            Role::Of {
                piece: Piece::Cell(row, _),
                ..
            } => Some(row),
            _ => None,
        });
        let first = first.expect("a row");
        let continued: Vec<String> = texts(page)
            .iter()
            .filter(|t| t.1.ends_with(", continued"))
            .map(|t| t.1.to_owned())
            .collect();
        let heads = |r: &&Row| matches!(r.kind, RowKind::Group(_));
        let group = table.rows[..first].iter().rfind(heads).expect("a group");
        let expected = match table.rows[first].kind {
            RowKind::Line => vec![format!("{}, continued", group.cells[0].text)],
            _ => Vec::new(),
        };
        goes_on += expected.len();
        assert_eq!(continued, expected);
    }
    assert!(goes_on > 2);
}

#[test]
fn a_longer_paper_says_on_its_first_page_what_stands_where() {
    let named = |title: &str, lines: i64| Table {
        title: title.to_owned(),
        ..long_table(lines)
    };
    let mut paper = paper_of(vec![
        Block::Table(named("Sash", 90)),
        Block::PageBreak,
        Block::Heading("Glass".to_owned()),
        Block::Table(named("Glass", 60)),
        Block::Table(named("Templates", 90)),
    ]);
    let laid = lay_out(&paper);
    sound(&laid);
    assert!(laid.pages.len() > 4);
    let list = texts(&laid.pages[0]);
    assert!(list.iter().any(|t| t.1 == "Contents"));
    for title in ["Sash", "Glass", "Templates"] {
        let line = list.iter().find(|t| t.1 == title).expect("a line").0.y;
        let number = list.iter().find(|t| t.0.y == line && t.1 != title);
        let page: usize = number.expect("a number").1.parse().expect("a page");
        let holds = |page: &Page| {
            let own = |t: &(&Placed, &str)| t.1 == title && t.0.x == 0;
            texts(page).iter().any(own)
        };
        let stands = laid.pages.iter().position(holds).expect("the table");
        assert_eq!(page, stands + 1, "{title}");
    }
    paper.blocks.truncate(1);
    let short = lay_out(&paper);
    assert!(!words(&short).iter().any(|w| w == "Contents"));
}

#[test]
fn a_mean_is_not_carried() {
    let mut table = long_table(200);
    if let Some(total) = table.rows.last_mut() {
        total.cells[2] = cents(12);
    }
    let laid = lay_out(&paper_of(vec![Block::Table(table)]));
    assert!(laid.pages.len() > 2);
    assert!(!words(&laid).iter().any(|w| w == "carried forward"));
}

#[test]
fn the_words_of_a_sum_begin_with_the_table_also_in_a_column_of_numbers() {
    let group = "Old-style drawn glass";
    let line = || {
        row(
            RowKind::Line,
            vec![
                cents(775),
                Cell::words("N5-L, N11-U, N11-L, S3-S"),
                cents(100),
            ],
        )
    };
    let words = |kind| row(kind, vec![Cell::words(group), Cell::blank(), cents(200)]);
    let number = Some((Written::Plain, Style::default()));
    let table = Table {
        columns: vec![
            column("W", number),
            column("for", None),
            column("panes", number),
        ],
        rows: vec![
            words(RowKind::Group(0)),
            line(),
            line(),
            words(RowKind::Subtotal(0)),
        ],
        ..long_table(0)
    };
    let laid = lay_out(&paper_of(vec![Block::Table(table)]));
    sound(&laid);
    let placed = texts(&laid.pages[0]);
    let at: Vec<Um> = placed
        .iter()
        .filter(|t| t.1 == group)
        .map(|t| t.0.x)
        .collect();
    assert_eq!(at, [0, 0]);
}

#[test]
fn long_words_long_cells_and_many_columns_stay_on_the_page() {
    let long = "W".repeat(300);
    let tall = "soft at the lower end, ".repeat(600);
    let mut table = long_table(4);
    table.title = long.clone();
    table.columns[0].heading = long.clone();
    for (row, text) in table.rows.iter_mut().zip([&long, &tall, &long, &tall]) {
        row.cells[0] = Cell::words(text.as_str());
        row.cells[1] = Cell::words(text.as_str());
    }
    table.notes.push(long.clone());
    let many = Table {
        name: "many".to_owned(),
        title: "Many columns".to_owned(),
        columns: (0..40)
            .map(|n| column(&format!("heading {n}"), None))
            .collect(),
        rows: (0..3)
            .map(|r| {
                let cells = (0..40).map(|n| Cell::words(format!("cell-{r}-{n}")));
                row(RowKind::Line, cells.collect())
            })
            .collect(),
        notes: Vec::new(),
        entries: Vec::new(),
        counted: 0,
    };
    let mut paper = paper_of(vec![
        Block::Heading(long.clone()),
        Block::Text(tall.clone()),
        Block::Table(table),
        Block::Table(many),
        Block::Signs(vec![Sign { who: long.clone() }; 3]),
    ]);
    paper.title = long.clone();
    paper.head.job = long;
    paper.head.doubts = vec![tall; 3];
    for reader in [Reader::Shop, Reader::Crew] {
        paper.reader = reader;
        let laid = lay_out(&paper);
        sound(&laid);
        let all = words(&laid);
        for r in 0..3 {
            for n in 0..40 {
                let cell = format!("cell-{r}-{n}");
                assert!(all.contains(&cell), "{cell}");
            }
        }
        assert!(pdf(&paper, Sheet::A4).is_ok());
    }
}

#[test]
fn an_empty_table_says_why_in_place_of_its_columns() {
    let mut table = long_table(0);
    table.notes.push("There are no rows.".to_owned());
    let laid = lay_out(&paper_of(vec![Block::Table(table)]));
    sound(&laid);
    let all = words(&laid);
    for (text, printed) in [
        ("A long list", true),
        ("There are no rows.", true),
        ("mark", false),
        ("amount", false),
    ] {
        assert_eq!(all.iter().any(|w| w == text), printed, "{text}");
    }
    assert_eq!(laid.pages.len(), 1);
}

#[test]
fn no_heading_stands_alone_at_a_foot() {
    // Texts of every length push the heading over the foot of the page.
    for lines in 0..70 {
        let mut blocks: Vec<Block> = (0..lines)
            .map(|n| Block::Text(format!("line {n}")))
            .collect();
        blocks.push(Block::Heading("What follows".to_owned()));
        blocks.push(Block::Table(long_table(30)));
        let laid = lay_out(&paper_of(blocks));
        sound(&laid);
        let page = laid
            .pages
            .iter()
            .find(|p| texts(p).iter().any(|t| t.1 == "What follows"))
            .expect("the heading");
        let list = texts(page);
        for text in ["A long list", "N0", "N1"] {
            assert!(list.iter().any(|t| t.1 == text), "{text} after {lines}");
        }
    }
}

#[test]
fn signs_stay_together_with_what_is_signed() {
    let signs = ["shop lead", "checker", "owner"].map(|who| Sign {
        who: who.to_owned(),
    });
    let holds = |page: &Page, text: &str| texts(page).iter().any(|t| t.1.starts_with(text));
    for lines in 2..60 {
        let mut blocks = vec![
            Block::Table(long_table(lines)),
            Block::Text("remarks".to_owned()),
        ];
        blocks.push(Block::Signs(signs.to_vec()));
        let laid = lay_out(&paper_of(blocks));
        sound(&laid);
        let signed = |p: &&Page| holds(p, "shop lead, date");
        let page = laid.pages.iter().find(signed).expect("the signs");
        assert!(holds(page, "owner, date") && holds(page, "remarks"));
        // The last lines of the table with its total stand above them.
        assert!(holds(page, "all"), "{lines} lines");
    }
    for lines in 20..60 {
        let line = |n| Block::Text(format!("line {n}"));
        let mut blocks: Vec<Block> = (0..lines).map(line).collect();
        blocks.push(Block::Signs(signs.to_vec()));
        let laid = lay_out(&paper_of(blocks));
        let page = laid.pages.iter().find(|p| holds(p, "shop lead, date"));
        let page = page.expect("the signs");
        assert!(holds(page, "owner, date") && holds(page, "line "));
    }
}

/// A page in the midst of an entry says in its head which one it goes on with.
#[test]
fn a_page_in_the_midst_of_an_entry_names_it() {
    let entry = |name: &str| {
        [
            Block::Heading(name.to_owned()),
            Block::Table(long_table(45)),
            Block::PageBreak,
        ]
    };
    let laid = lay_out(&paper_of(
        [entry("first window"), entry("second window")].concat(),
    ));
    let starts = |page: &Page, name: &str| texts(page).iter().any(|t| t.1 == name);
    let mut last = "";
    for page in &laid.pages {
        for name in ["first window", "second window"]
            .into_iter()
            .filter(|n| starts(page, n))
        {
            last = name;
        }
        let began = starts(page, last);
        let named = texts(page)
            .iter()
            .any(|t| t.1.starts_with(&format!("{last}, continued")));
        assert!(last.is_empty() || began != named, "{last}");
    }
    assert_eq!(last, "second window");
}

#[test]
fn every_page_says_what_it_is_of() {
    let mut paper = paper_of(vec![Block::Table(long_table(100))]);
    paper.head.issue = Some(3);
    paper.head.date = Some("2026-03-21".to_owned());
    paper.head.record = "0a1b2c3d".to_owned();
    paper.head.program = "ovolo 0.0.0".to_owned();
    paper.head.cents = "half cents are rounded up".to_owned();
    paper.head.version = "as decided".to_owned();
    paper.head.doubts = vec!["2 openings are set aside".to_owned()];
    let laid = lay_out(&paper);
    assert!(laid.pages.len() > 2);
    for (at, page) in laid.pages.iter().enumerate() {
        let all = texts(page)
            .iter()
            .map(|t| t.1)
            .collect::<Vec<_>>()
            .join("\n");
        for text in [
            "An invented house",
            "Shop papers \u{b7} for the shop \u{b7} as decided \u{b7} issue 3 \u{b7} 2026-03-21",
            "DRAFT",
            "record 0a1b2c3d \u{b7} ovolo 0.0.0",
        ] {
            assert!(all.contains(text), "{text} on page {}", at + 1);
        }
        assert_eq!(all.contains("2 openings are set aside"), at == 0);
        let pointer = "1 thing is doubtful or set aside: see page 1";
        assert_eq!(all.contains(pointer), at > 0);
        // The shop sees no money, so how cents are rounded would tell it nothing.
        assert!(!all.contains("half cents"));
    }
    paper.reader = ovolo::paper::Reader::Owner;
    let laid = lay_out(&paper);
    let foot = "record 0a1b2c3d \u{b7} ovolo 0.0.0 \u{b7} half cents are rounded up";
    for page in &laid.pages {
        assert!(texts(page).iter().any(|t| t.1 == foot));
    }
}

fn picture(width: i64, height: i64) -> Block {
    let mut drawing = Drawing::new("A sash", Exact::int(width), Exact::int(height));
    let corner = Point::new(Exact::ZERO, Exact::ZERO);
    drawing.rect(
        &corner,
        &Exact::int(width),
        &Exact::int(height),
        Stroke::Medium,
        Fill::Hatched,
    );
    let at = Point::new(Exact::int(5), Exact::int(5));
    drawing.text(at, Exact::int(3), Anchor::Start, "N1 \u{5d0}");
    Block::Drawing(Picture {
        drawing,
        caption: "N1 from outside".to_owned(),
        alternative: "A sash of four lites".to_owned(),
    })
}

#[test]
fn a_drawing_is_never_scaled_and_one_larger_than_any_page_is_told() {
    let cases = [
        (91, 135, Some(Format::Upright)),
        (178, 200, Some(Format::Upright)),
        (240, 120, Some(Format::Turned)),
        (380, 200, Some(Format::Double)),
        (400, 100, None),
        (100, 300, None),
    ];
    for (width, height, format) in cases {
        let paper = paper_of(vec![
            Block::Text("before".to_owned()),
            picture(width, height),
        ]);
        let laid = lay_out(&paper);
        sound(&laid);
        let place = laid.pages.iter().find_map(|page| {
            let of = |p: &Placed| match p.what {
                What::Drawing { width, height, .. } => Some((page.format, width, height)),
                _ => None,
            };
            page.placed.iter().find_map(of)
        });
        let expected = format.map(|f| (f, width * MM, height * MM));
        assert_eq!(place, expected);
        assert_eq!(laid.told.is_empty(), format.is_some());
        if format.is_none() {
            let all = words(&laid).join(" ");
            assert!(
                all.contains(&format!("{width} mm wide and {height} mm high")),
                "{all}"
            );
        }
        assert!(pdf(&paper, Sheet::Letter).is_ok());
    }
}

#[test]
fn pages_fit_letter_and_a4_alike() {
    for format in [Format::Upright, Format::Turned, Format::Double] {
        for sheet in [Sheet::Letter, Sheet::A4] {
            let (page, net, corner) = (format.page(sheet), format.net(), format.corner(sheet));
            let right = page.0 - corner.0 - net.0;
            let lower = page.1 - corner.1 - net.1;
            for margin in [corner.0, corner.1, right, lower] {
                assert!(margin >= 11_900, "{format:?} {sheet:?} {margin}");
            }
            // The filing edge: left, or above on a page that lies.
            let filing = match format {
                Format::Upright | Format::Double => corner.0,
                Format::Turned => corner.1,
            };
            assert_eq!(filing, 20 * MM);
        }
    }
}

#[test]
fn signs_that_the_type_lacks_are_listed_and_nothing_stops_the_paper() {
    let mut paper = sample();
    paper.blocks.push(Block::Text(
        "\u{5e9}\u{5dc}\u{5d5}\u{5dd} \u{202e}abc\u{202c} q\u{300} \u{1f600} \u{0}\u{7f}\u{ad}\u{feff}\r\nnext"
            .to_owned(),
    ));
    paper.title = "\u{4e2d}".to_owned();
    if let Some(Block::Table(table)) = paper.blocks.get_mut(1) {
        table.rows[1].cells[0] = Cell::words("e\u{301}");
    }
    let laid = lay_out(&paper);
    sound(&laid);
    let all = words(&laid).join(" ");
    assert!(all.contains("[U+4E2D]") && all.contains("[U+05E9]") && all.contains('\u{e9}'));
    assert!(all.contains("printed as their Unicode numbers in brackets"));
    assert!(laid.lacking.0.contains_key(&'\u{1f600}'));
    assert!(pdf(&paper, Sheet::Letter).is_ok());
}

#[test]
fn the_same_paper_gives_the_same_bytes() {
    let mut paper = paper_of(vec![Block::Table(long_table(60)), picture(90, 100)]);
    if let Some(Block::Table(table)) = paper.blocks.first_mut() {
        for row in &mut table.rows {
            row.cells.push(Cell {
                value: Value::Tick,
                text: Arc::from(""),
            });
            row.cells.push(Cell {
                value: Value::Room,
                text: Arc::from(""),
            });
        }
        table.columns.push(column("done", None));
        table.columns.push(column("by", None));
    }
    sound(&lay_out(&paper));
    let first = pdf(&paper, Sheet::Letter).expect("a file");
    let second = pdf(&paper, Sheet::Letter).expect("a file");
    assert_eq!(first.bytes, second.bytes);
    // XMP specification, part 3, and ISO 19005-2: what the file claims to be stands in clear text.
    let claims = |paper: &Paper, words: &str| {
        let file = pdf(paper, Sheet::Letter).expect("a file");
        file.bytes
            .windows(words.len())
            .any(|w| w == words.as_bytes())
    };
    let archival = "<pdfaid:part>2</pdfaid:part>";
    assert!(claims(&paper, "<pdfuaid:part>1</pdfuaid:part>"));
    // A file for the archive has the day of its job.
    assert!(!claims(&paper, archival));
    let mut dated = paper.clone();
    dated.head.date = Some("2026-03-21".to_owned());
    assert!(claims(&dated, archival));
    assert_eq!(first.pages, lay_out(&paper).pages.len());
    // A box on every line and sum, none on the heading of a group.
    let laid = lay_out(&paper);
    let boxes = laid.pages.iter().flat_map(|p| &p.placed).filter(|p| {
        matches!(p.what, What::Frame { width, height, .. } if width == 5 * MM && height == 5 * MM)
    });
    assert_eq!(boxes.count(), 60 + 9 + 1);
}
