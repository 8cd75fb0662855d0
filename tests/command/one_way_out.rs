//! Whatever stands in a survey, a sheet, a price book, a path or an argument, nothing of it steers a terminal, turns the direction of
//! reading, runs as a formula or acts as markup in any output.

use calamine::{Data, Reader, Xlsx};
use std::io::Cursor;
use std::path::Path;
use std::process::Command;

/// Signs that steer a terminal, hidden ones, and one that turns the direction of reading.
const HARM: &str = "\u{1b}[2J\u{7}\u{9b}31m\u{202e}\u{2067}\u{2028}\u{7f}";

fn put(folder: &Path, name: &str, text: &str) {
    std::fs::write(folder.join(name), text).expect("a file of the job");
}

/// A field of CSV.
fn field(text: &str) -> String {
    format!("\"{}\"", text.replace('"', "\"\""))
}

/// A job in which each text from outside that a file can hold does harm; sheets refuse hidden signs, so theirs are formulas and markup.
fn job(folder: &Path) {
    let rules = r#"sheet "=Job<script>alert(1)</script>" layer job
counted sash
phases "=Work<b>"
survey opening {
  mark  text  key      headed "Mark"
  wing  text           headed "Wing"
  note  text           headed "Note"
  wide  length in in   if blank 30 in   headed "Width"   note "=blank<i>"
}
given pace  2 h   from 1 h to 3 h   source "=cmd|'/c calc'!A1"   note "<img src=x>"
resource joiner  labor  h    called "@joiner<u>"
for each opening {
  decide fate {
    keep  when wide < 40 in  because "=because {note}"
    mend  otherwise          because "<b>{note}</b>"
  }
  take joiner  pace   for "=Work<b>"
  caution "=caution {note}" when wide > 1 in
}
for each hall of opening by wing, note {
  many = count of opening
  decide order {
    first  when many > 1 opening  because "=first"
    later  otherwise                          because "-later"
  }
}
job {
  survey opening from "survey.csv"
  prices from "prices.csv"
  money USD
  split by wing, note
}
charge extra  10 % of labor
alternate "=All<new>" {
  change pace to 3 h because "=slow<er>"
}
"#;
    put(folder, "job.ovo", rules);
    let mut survey = format!(
        "Mark,Wing,Note,Width,{}\n",
        field(&format!("=odd<th>{HARM}"))
    );
    for (mark, wing, note) in [
        ("=1+1", "@wing", "<script>alert(1)</script>"),
        ("+A2", "-wing", "=HYPERLINK(\"x\")"),
        ("<td>", "＝wide", "plain"),
    ] {
        let cells = [mark, wing, note].map(|text| field(&format!("{text}{HARM}")));
        survey.push_str(&format!("{},,x\n", cells.join(",")));
    }
    put(folder, "survey.csv", &survey);
    let prices = format!(
        "resource,unit,price,supplier,source,date,note\njoiner,h,40.00,{0},{0},2020-01-01,{0}\n",
        field(&format!("=supplier<p>{HARM}"))
    );
    put(folder, "prices.csv", &prices);
}

/// What a command says on both ways out.
fn said(folder: &Path, args: &[&str]) -> String {
    let got = Command::new(env!("CARGO_BIN_EXE_ovolo"))
        .args(args)
        .current_dir(folder)
        .output()
        .expect("it runs");
    assert!(
        got.status.code().is_some_and(|c| c != 70),
        "{args:?}: a fault of the program"
    );
    format!(
        "{}{}",
        String::from_utf8_lossy(&got.stdout),
        String::from_utf8_lossy(&got.stderr)
    )
}

/// Signs in a text that no output may have.
fn harm(text: &str) -> Vec<char> {
    text.chars()
        .filter(|c| ovolo::defuse::is_hidden(*c) || *c == '\r')
        .collect()
}

#[test]
fn no_command_prints_what_could_do_harm() {
    let folder = tempfile::tempdir().expect("a folder");
    let at = folder.path();
    job(at);
    let mark = format!("=1+1{HARM}");
    let odd = format!("no{HARM}<b>");
    let mut commands: Vec<Vec<&str>> = vec![
        vec!["estimate", "job.ovo"],
        vec![
            "estimate",
            "job.ovo",
            "--openings",
            "--treatment",
            "--assumptions",
            "--lines",
        ],
        vec!["estimate", "job.ovo", "--json", "--openings", "--treatment"],
        vec!["estimate", "job.ovo", "--in-force"],
        vec!["estimate", "job.ovo", "--in-force", "--csv"],
        vec!["estimate", "job.ovo", "--set-aside", &mark],
        vec!["estimate", "job.ovo", "--record", "record.json"],
        vec!["survey", "job.ovo"],
        vec!["survey", "job.ovo", "--json"],
        vec!["survey", "job.ovo", "--marked", "marked.xlsx"],
        vec!["weigh", "job.ovo"],
        vec!["weigh", "job.ovo", "--json"],
        vec!["weigh", "job.ovo", "--rank"],
        vec!["weigh", "job.ovo", "--over", "pace"],
        vec!["why", "job.ovo"],
        vec!["why", "job.ovo", "fate", &mark],
        vec!["why", "job.ovo", "fate", &mark, "--json"],
        vec!["why", "job.ovo", "fate", &odd],
        vec!["why", "job.ovo", "--against", "record.json"],
        vec!["proof", "job.ovo"],
        vec!["trial", "job.ovo"],
        vec!["tidy", "job.ovo"],
    ];
    // Each command with an argument and a path of the worst kind.
    for command in [
        "estimate", "survey", "weigh", "why", "proof", "trial", "tidy", "code", "start", "shell",
    ] {
        commands.push(vec![command, &odd]);
        commands.push(vec![command, "--json", &odd]);
        commands.push(vec![command, "job.ovo", "--no-such", &odd]);
    }
    for flag in [
        "--alternate",
        "--csv",
        "--page",
        "--workbook",
        "--record",
        "--set-aside",
    ] {
        commands.push(vec!["estimate", "job.ovo", flag, &odd]);
    }
    for flag in [
        "--flip",
        "--over",
        "--of",
        "--discount",
        "--csv",
        "--page",
        "--workbook",
    ] {
        commands.push(vec!["weigh", "job.ovo", flag, &odd]);
    }
    let tables = said(at, &["estimate", "job.ovo", "--csv"]);
    for table in tables.lines() {
        commands.push(vec!["estimate", "job.ovo", "--csv", table]);
    }
    for args in &commands {
        let text = said(at, args);
        assert!(harm(&text).is_empty(), "{args:?}: {text:?}");
    }
    for table in tables.lines() {
        let text = said(at, &["estimate", "job.ovo", "--csv", table]);
        let (out, _) = text.split_once("OV-").unwrap_or((&text, ""));
        let mut reader = csv::ReaderBuilder::new()
            .has_headers(false)
            .flexible(true)
            .from_reader(out.as_bytes());
        for cell in reader
            .records()
            .flatten()
            .flat_map(|r| r.iter().map(str::to_owned).collect::<Vec<_>>())
        {
            let number = cell.parse::<f64>().is_ok();
            assert!(
                number || !ovolo::defuse::starts_formula(&cell),
                "{table}: {cell:?}"
            );
        }
    }
}

#[test]
fn no_file_holds_what_could_do_harm() {
    let folder = tempfile::tempdir().expect("a folder");
    let at = folder.path();
    job(at);
    let text = said(
        at,
        &[
            "estimate",
            "job.ovo",
            "--page",
            "p.html",
            "--workbook",
            "w.xlsx",
            "--record",
            "r.json",
        ],
    );
    assert!(text.contains("Written"), "{text}");
    let read = |name: &str| std::fs::read(at.join(name)).expect("a file that was written");
    let page = String::from_utf8(read("p.html")).expect("text");
    assert!(harm(&page).is_empty());
    for tag in page.split('<').skip(1) {
        let name = tag
            .split(['>', ' '])
            .next()
            .unwrap_or_default()
            .trim_start_matches('/');
        let known = [
            "!doctype", "html", "head", "meta", "title", "style", "body", "h1", "h2", "p", "table",
            "thead", "tbody", "tr", "th", "td", "figure", "svg", "defs", "pattern", "path", "text",
            "polygon", "polyline",
        ];
        assert!(known.contains(&name), "<{tag}");
    }
    let record = String::from_utf8(read("r.json")).expect("text");
    assert!(harm(&record).is_empty());
    // JSON alters nothing: the marks come back whole.
    assert!(
        record.contains("=1+1\\u001b[2J\\u0007\\u009b31m\\u202e"),
        "{record}"
    );
    let mut book: Xlsx<_> = Xlsx::new(Cursor::new(read("w.xlsx"))).expect("a workbook");
    for name in book.sheet_names() {
        let formulas = book.worksheet_formula(&name).expect("a tab");
        assert!(formulas.is_empty(), "{name}");
        let cells = book.worksheet_range(&name).expect("a tab");
        for (_, _, cell) in cells.used_cells() {
            if let Data::String(text) = cell {
                assert!(harm(text).is_empty(), "{name}: {text:?}");
            }
        }
    }
}

#[test]
fn a_marked_copy_keeps_the_text_of_every_cell() {
    let folder = tempfile::tempdir().expect("a folder");
    let at = folder.path();
    job(at);
    let survey = std::fs::read_to_string(at.join("survey.csv")).expect("the survey");
    put(at, "survey.csv", &survey.replace(",,x\n", ",wide,x\n"));
    said(at, &["survey", "job.ovo", "--marked", "m.xlsx"]);
    let bytes = std::fs::read(at.join("m.xlsx")).expect("the marked copy");
    let mut book: Xlsx<_> = Xlsx::new(Cursor::new(bytes)).expect("a workbook");
    let mut texts = Vec::new();
    for name in book.sheet_names() {
        let formulas = book.worksheet_formula(&name).expect("a tab");
        assert!(formulas.is_empty(), "{name}");
        let cells = book.worksheet_range(&name).expect("a tab");
        texts.extend(cells.used_cells().map(|(_, _, c)| c.to_string()));
    }
    for start in ["=1+1", "+A2", "@wing", "=HYPERLINK(\"x\")", "＝wide"] {
        assert!(
            texts.iter().any(|t| t.starts_with(start)),
            "{start}: {texts:?}"
        );
    }
}
