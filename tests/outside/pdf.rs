//! Papers as PDF, read back with the programs of poppler: `pdftotext`, `pdfinfo`, `pdftocairo`.

use super::run::{self, printed};
use ovolo::drawing::{Drawing, Fill, Point, Stroke};
use ovolo::number::Exact;
use ovolo::paper::{Block, Head, Paper, Picture, Reader, State};
use ovolo::report::pdf::{Sheet, pdf};
use std::path::Path;

#[path = "../command/one_way_out/job.rs"]
mod hostile_job;
use std::process::Command;

fn ran(program: &str, args: &[&str]) -> String {
    let done = Command::new(program)
        .args(args)
        .output()
        .unwrap_or_else(|e| panic!("{program} is needed: {e}"));
    let told = String::from_utf8_lossy(&done.stderr);
    assert!(done.status.success(), "{program} {args:?}: {told}");
    String::from_utf8(done.stdout).expect("text")
}

fn ovolo(folder: &Path, args: &[&str]) -> String {
    printed(&run::ovolo(folder, args))
}

/// The text of each page, in the order in which it was drawn.
fn pages(file: &Path) -> Vec<String> {
    let file = file.to_string_lossy();
    let text = ran("pdftotext", &["-raw", &file, "-"]);
    let mut pages: Vec<String> = text.split('\u{c}').map(str::to_owned).collect();
    // A form feed ends every page.
    pages.pop();
    pages
}

/// Texts are compared without blanks: lines of a cell are broken anywhere.
fn tight(text: &str) -> String {
    text.split_whitespace().collect()
}

fn copied(from: &Path, to: &Path) {
    std::fs::create_dir_all(to).expect("a folder");
    for entry in std::fs::read_dir(from).expect("a folder").flatten() {
        let target = to.join(entry.file_name());
        match entry.path().is_dir() {
            true => copied(&entry.path(), &target),
            false => drop(std::fs::copy(entry.path(), target).expect("a file")),
        }
    }
}

/// The demonstration with the shipped papers.
fn demo() -> (tempfile::TempDir, std::path::PathBuf) {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let folder = tempfile::tempdir().expect("a folder");
    copied(&root.join("sheets"), &folder.path().join("sheets"));
    let job = folder.path().join("demo-data/tallowgate-school");
    copied(&root.join("demo-data/tallowgate-school"), &job);
    let sheet = job.join("job.ovo");
    let text = std::fs::read_to_string(&sheet).expect("a job");
    let text = match text.contains("papers.ovo") {
        true => text,
        false => text.replace(
            "use \"shop.ovo\"",
            "use \"shop.ovo\"\nuse \"../../sheets/papers.ovo\"",
        ),
    };
    std::fs::write(&sheet, text).expect("a job");
    (folder, job)
}

/// Rows of every list of a paper, as printed.
fn rows(paper: &serde_json::Value) -> Vec<Vec<String>> {
    let lists = paper["lists"].as_array().expect("lists").iter();
    let rows = lists.flat_map(|l| l["rows"].as_array().expect("rows"));
    rows.map(|row| {
        let cells = row["cells"].as_array().expect("cells").iter();
        cells
            .map(|c| tight(c["text"].as_str().expect("a text")))
            .collect()
    })
    .collect()
}

#[test]
fn every_cell_of_the_demonstration_is_on_its_paper() {
    let (_folder, job) = demo();
    ovolo(&job, &["papers", "job.ovo", "--to", "out"]);
    let read = |args: &[&str]| -> serde_json::Value {
        serde_json::from_str(&ovolo(&job, args)).expect("JSON")
    };
    let all = read(&["papers", "job.ovo", "--json"]);
    let mut seen = 0;
    for named in all["papers"].as_array().expect("papers") {
        // Lines come with a paper that is asked for by name.
        let name = named["name"].as_str().expect("a name");
        let own = read(&["papers", "job.ovo", name, "--json"]);
        let papers = own["papers"].as_array().expect("papers");
        let paper = papers
            .iter()
            .find(|p| p["name"] == name)
            .expect("the paper");
        let pages = pages(&job.join(format!("out/{name}.pdf")));
        let text = tight(&pages.concat());
        for row in rows(paper) {
            // A row is drawn cell by cell.
            let printed =
                |cell: &String| match (paper["for"] == "crew", cell.parse::<jiff::civil::Date>()) {
                    (true, Ok(day)) => tight(&day.strftime("%a, %b %-d").to_string()),
                    _ => cell.clone(),
                };
            let whole: String = row.iter().map(printed).collect();
            assert!(text.contains(&whole), "{name} lacks the row {row:?}");
            seen += row.len();
        }
        for (at, page) in pages.iter().enumerate() {
            let foot = format!("page {} of {}", at + 1, pages.len());
            assert!(page.contains(&foot), "{name}: {foot}");
            let record = paper["record"].as_str().expect("a record");
            assert!(page.contains(&format!("record {record}")), "{name}: {page}");
            assert!(page.contains("for "), "{name}: {page}");
        }
    }
    assert!(seen > 5_000, "only {seen} cells");
}

/// The paper for the authority and the record of the demonstration, in a folder.
fn entries() -> (tempfile::TempDir, [std::path::PathBuf; 2]) {
    let (folder, job) = demo();
    let files = ["treatment_schedule", "record"].map(|name| {
        ovolo(&job, &["papers", "handover.ovo", name, "--to", "out"]);
        job.join(format!("out/{name}.pdf"))
    });
    (folder, files)
}

/// The list of openings says where each entry is: at its number, poppler finds the heading of the entry.
#[test]
fn a_list_of_openings_has_the_page_of_each_entry() {
    let (_folder, files) = entries();
    for file in files {
        let place = file.to_string_lossy();
        let text = ran("pdftotext", &["-layout", &place, "-"]);
        let pages: Vec<&str> = text.split('\u{c}').collect();
        // Lines of the list begin with a mark and end with a number, below a heading that ends with "Page"; an entry begins with its mark and
        // a colon.
        let heads = |page: &str, mark: &str| {
            let words = format!("{mark}: ");
            page.lines().any(|line| line.starts_with(&words))
        };
        let mut found = 0;
        let is_list = |page: &&&str| page.lines().any(|l| l.ends_with(" Page"));
        for line in pages.iter().filter(is_list).flat_map(|page| page.lines()) {
            let mut words = line.split_whitespace();
            let (Some(mark), Some(last)) = (words.next(), words.next_back()) else {
                continue;
            };
            let Ok(number) = last.parse::<usize>() else {
                continue;
            };
            let begins: Vec<usize> = (1..)
                .zip(&pages)
                .filter(|(_, page)| heads(page, mark))
                .map(|(at, _)| at)
                .collect();
            if begins.is_empty() || line.starts_with(' ') {
                continue;
            }
            // Pages that go on with an entry repeat its heading.
            assert_eq!(begins.first(), Some(&number), "{place}: {line}");
            found += 1;
        }
        assert_eq!(found, 61, "{place}");
    }
}

/// Words of drawings too stay on what may be printed on: 178 mm from 20 mm on, or 252 mm in the middle of a page that lies.
#[test]
fn no_word_leaves_what_may_be_printed_on() {
    let (_folder, files) = entries();
    let number = |line: &str, name: &str| -> f64 {
        let after = line.split(&format!("{name}=\"")).nth(1);
        let text = after.and_then(|rest| rest.split('"').next());
        text.and_then(|n| n.parse().ok()).expect("a number")
    };
    for file in files {
        let place = file.to_string_lossy();
        let text = ran("pdftotext", &["-bbox", &place, "-"]);
        let (mut from, mut to, mut seen) = (0.0, 0.0, 0);
        for line in text.lines() {
            if line.contains("<page ") {
                let (width, height) = (number(line, "width"), number(line, "height"));
                let mm = 72.0 / 25.4;
                let upright = width < height;
                let net = if upright { 178.0 } else { 252.0 } * mm;
                from = if upright {
                    20.0 * mm
                } else {
                    (width - net) / 2.0
                };
                to = from + net;
            } else if line.contains("<word ") {
                let (left, right) = (number(line, "xMin"), number(line, "xMax"));
                assert!(left > from - 1.0 && right < to + 1.0, "{place}: {line}");
                seen += 1;
            }
        }
        assert!(seen > 5_000, "only {seen} words");
    }
}

#[test]
fn no_paper_of_the_demonstration_holds_what_its_reader_may_not_see() {
    let (_folder, job) = demo();
    // Wages that no hours can come to.
    let sheet = job.join("job.ovo");
    let text = std::fs::read_to_string(&sheet).expect("the job");
    let mut dear = text.clone();
    for (wage, other) in [("36.50 USD", "93650.17 USD"), ("29.75 USD", "92975.13 USD")] {
        assert!(text.contains(wage), "the demonstration pays {wage}");
        dear = dear.replace(wage, other);
    }
    std::fs::write(&sheet, dear).expect("written");
    ovolo(&job, &["papers", "job.ovo", "--to", "out"]);
    let mut searched = 0;
    for entry in std::fs::read_dir(job.join("out"))
        .expect("a folder")
        .flatten()
    {
        let file = entry.path();
        let name = entry.file_name().to_string_lossy().to_lowercase();
        if !name.ends_with(".pdf") || name.contains("office") {
            continue;
        }
        let place = file.to_string_lossy();
        let mut text = pages(&file).concat().to_lowercase();
        text.push_str(&ran("pdfinfo", &[&place]).to_lowercase());
        text.push_str(&ran("pdfinfo", &["-meta", &place]).to_lowercase());
        text.push_str(&ran("pdfinfo", &["-struct-text", &place]).to_lowercase());
        // Wages of the job sheet, its charges, and a supplier on the papers of others.
        for word in [
            "650.17",
            "975.13",
            "overhead",
            "profit",
            "contingency",
            "mark-up",
        ] {
            assert!(!text.contains(word), "{name} holds {word}");
        }
        if !name.contains("hire") {
            assert!(!text.contains("hire yard"), "{name} holds a supplier");
        }
        searched += 1;
    }
    assert!(searched > 10, "only {searched} papers");
}

#[test]
fn a_draft_says_so_on_every_page_and_both_sheets_hold_the_same_pages() {
    let (_folder, job) = demo();
    let draft = [
        "papers",
        "job.ovo",
        "window_schedule",
        "--set-aside",
        "N1",
        "--to",
    ];
    for more in [&["letter"][..], &["a4", "--a4"], &["again"]] {
        ovolo(&job, &[&draft, more].concat());
    }
    let file = |folder: &str| job.join(folder).join("window_schedule.pdf");
    let letter = pages(&file("letter"));
    assert!(letter.len() > 2);
    for (at, page) in letter.iter().enumerate() {
        assert!(page.contains("DRAFT"), "{page}");
        assert_eq!(page.contains("set aside: see page 1"), at > 0, "{page}");
        assert_eq!(page.contains("were set aside"), at == 0, "{page}");
    }
    assert_eq!(letter, pages(&file("a4")));
    let bytes = |folder: &str| std::fs::read(file(folder)).expect("a file");
    assert_eq!(bytes("letter"), bytes("again"));
    let size = |folder: &str| ran("pdfinfo", &[&file(folder).to_string_lossy()]);
    assert!(
        size("letter").contains("792 x 612 pts (letter)"),
        "{}",
        size("letter")
    );
    assert!(size("a4").contains("(A4)"), "{}", size("a4"));
    let info = size("a4");
    for line in ["Tagged:          yes", "window schedule"] {
        let held = info.to_lowercase().contains(&line.to_lowercase());
        assert!(held, "{info}");
    }
    // PDF/A asks for a date: it is the day of the job, never the clock's.
    let dated = ran("pdfinfo", &["-isodates", &file("a4").to_string_lossy()]);
    assert!(
        dated.contains("CreationDate:    2024-03-25T00:00:00"),
        "{dated}"
    );
}

#[test]
fn a_reader_who_does_not_see_is_given_headings_tables_and_words_for_drawings() {
    let (_folder, job) = demo();
    ovolo(&job, &["papers", "job.ovo", "shop_papers", "--to", "out"]);
    let file = job.join("out/shop_papers.pdf");
    let structure = ran("pdfinfo", &["-struct-text", &file.to_string_lossy()]);
    for kind in [
        "H1", "Table", "Caption", "THead", "TH", "TBody", "TR", "TD", "P",
    ] {
        let tag = structure.lines().any(|l| {
            l.trim().trim_end_matches(':') == kind || l.trim().starts_with(&format!("{kind} "))
        });
        assert!(tag, "no {kind}");
    }
    // Furniture is no part of what is read: not the foot, not the headings repeated on each page.
    assert!(!structure.contains("page 2 of"));
    assert!(!structure.contains("brought forward"));
}

/// Drawings keep their scale: 100 mm in a drawing are 100 mm on paper, to 1/100 mm.
#[test]
fn a_millimeter_of_a_drawing_is_a_millimeter_on_paper() {
    let mut drawing = Drawing::new("bar", Exact::int(120), Exact::int(30));
    let at = |x: i64, y: i64| Point::new(Exact::int(x), Exact::int(y));
    drawing.rect(
        &at(10, 10),
        &Exact::int(100),
        &Exact::int(5),
        Stroke::Thin,
        Fill::Open,
    );
    let paper = Paper {
        name: "bar".to_owned(),
        title: "Bar".to_owned(),
        reader: Reader::Review,
        state: State::Issued,
        head: Head::default(),
        blocks: vec![Block::Drawing(Picture {
            drawing,
            caption: "bar scale".to_owned(),
            alternative: "a bar of 100 mm".to_owned(),
        })],
    };
    let folder = tempfile::tempdir().expect("a folder");
    let (file, svg) = (folder.path().join("bar.pdf"), folder.path().join("bar.svg"));
    let made = pdf(&paper, Sheet::A4).expect("a file");
    std::fs::write(&file, made.bytes).expect("a file");
    ran(
        "pdftocairo",
        &["-svg", &file.to_string_lossy(), &svg.to_string_lossy()],
    );
    let text = std::fs::read_to_string(&svg).expect("a picture");
    // The path of the bar is the one of five places: M L L L Z, then M again.
    let mut widths = Vec::new();
    for path in text.split("<path ").skip(1) {
        let Some(d) = path.split(" d=\"").nth(1).and_then(|d| d.split('"').next()) else {
            continue;
        };
        if d.contains('C') || d.matches('L').count() < 3 {
            continue;
        }
        let numbers: Vec<f64> = d
            .split_whitespace()
            .filter_map(|n| n.parse().ok())
            .collect();
        let xs: Vec<f64> = numbers.iter().copied().step_by(2).collect();
        let least = xs.iter().copied().fold(f64::INFINITY, f64::min);
        let most = xs.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        widths.push((most - least) * 25.4 / 72.0);
    }
    assert!(
        widths.iter().any(|w| (w - 100.0).abs() < 0.01),
        "{widths:?}"
    );
    let structure = ran("pdfinfo", &["-struct", &file.to_string_lossy()]);
    assert!(structure.contains("Figure"), "{structure}");
}

/// The job of the leak test, whose private figures are unmistakable.
#[test]
fn no_pdf_of_the_job_of_secrets_holds_one() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let folder = tempfile::tempdir().expect("a folder");
    copied(&root.join("tests/command/leaks"), folder.path());
    ovolo(folder.path(), &["papers", "job.ovo", "--to", "out"]);
    let mut searched = 0;
    for entry in std::fs::read_dir(folder.path().join("out"))
        .expect("a folder")
        .flatten()
    {
        let name = entry.file_name().to_string_lossy().to_string();
        if !name.ends_with(".pdf") {
            continue;
        }
        let place = entry.path().to_string_lossy().to_string();
        let mut text = pages(&entry.path()).concat().to_lowercase();
        text.push_str(&ran("pdfinfo", &["-meta", &place]).to_lowercase());
        text.push_str(&ran("pdfinfo", &["-struct-text", &place]).to_lowercase());
        let office = text.contains("for the office only");
        let secrets = [
            "37.4193", "31.77", "14.219", "10.307", "951.37", "41.37", "18.531", "13.417",
            "kestrel", "tolliver", "broker", "dunmore",
        ];
        if !office {
            for secret in secrets {
                assert!(!text.contains(secret), "{name} holds {secret}");
            }
            searched += 1;
        }
    }
    assert!(searched >= 8, "only {searched} papers");
}

/// What a reader of PDF finds in the papers of a job full of hidden signs and markup: text, what is known of the file, tags, bookmarks.
#[test]
fn no_pdf_of_the_hostile_job_holds_a_hidden_sign() {
    let folder = tempfile::tempdir().expect("a folder");
    hostile_job::job(folder.path());
    ovolo(folder.path(), &["cut", "job.ovo"]);
    ovolo(folder.path(), &["papers", "job.ovo", "--to", "out"]);
    let out = folder.path().join("out");
    let (mut searched, mut all) = (0, String::new());
    for entry in std::fs::read_dir(out).expect("a folder").flatten() {
        let place = entry.path().to_string_lossy().to_string();
        if !place.ends_with(".pdf") {
            continue;
        }
        for (program, args) in [
            ("pdftotext", vec![&*place, "-"]),
            ("pdfinfo", vec![&*place]),
            ("pdfinfo", vec!["-meta", &place]),
            ("pdfinfo", vec!["-js", &place]),
            ("pdftohtml", vec!["-xml", "-i", "-stdout", &place]),
        ] {
            // Pages end in form feeds.
            let text = ran(program, &args).replace('\u{c}', "\n");
            let hidden: Vec<char> = text
                .chars()
                .filter(|c| ovolo::defuse::is_hidden(*c))
                .collect();
            assert!(hidden.is_empty(), "{program} {args:?}: {hidden:?}");
            all.push_str(&text);
        }
        searched += 1;
    }
    assert!(searched >= 9, "only {searched} papers");
    // Wood of the job, a heading of a list, a sign of the sheet that is markup: all as they were written, and nothing but text.
    for text in ["=pine<script>", "=Why", "=Bid<script>alert(1)</script>"] {
        assert!(all.contains(text), "{text}");
    }
}
