//! The workbook of lists and cost, worked again by LibreOffice: every figure is ours, and an edit moves what rests on it.
//!
//! Needs `soffice`. Stored results are taken out first, so that what is compared is what LibreOffice works out.

use super::run::{self, printed};
use std::collections::BTreeMap;
use std::io::{Read, Write};
use std::path::{Path, PathBuf};
use std::process::Command;

/// Parts of a workbook by name.
type Parts = BTreeMap<String, Vec<u8>>;

fn here(path: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join(path)
}

fn ovolo(folder: &Path, args: &[&str]) -> String {
    printed(&run::ovolo(folder, args))
}

fn unpacked(file: &Path) -> Parts {
    let file = std::fs::File::open(file).expect("a workbook");
    let mut archive = zip::ZipArchive::new(file).expect("an archive");
    let mut parts = Parts::new();
    for at in 0..archive.len() {
        let mut entry = archive.by_index(at).expect("an entry");
        let mut bytes = Vec::new();
        entry.read_to_end(&mut bytes).expect("readable");
        let name = entry.name().expect("a name").to_string();
        parts.insert(name, bytes);
    }
    parts
}

fn packed(parts: &Parts, file: &Path) {
    let file = std::fs::File::create(file).expect("a file");
    let mut archive = zip::ZipWriter::new(file);
    for (name, bytes) in parts {
        let options = zip::write::SimpleFileOptions::default();
        archive.start_file(name, options).expect("an entry");
        archive.write_all(bytes).expect("written");
    }
    archive.finish().expect("whole");
}

/// Names of the tabs in order, with the part that holds each.
fn tabs(parts: &Parts) -> Vec<(String, String)> {
    let text = String::from_utf8_lossy(&parts["xl/workbook.xml"]).to_string();
    let names = text.split("<sheet name=\"").skip(1);
    let names = names.filter_map(|rest| rest.split('"').next());
    names
        .enumerate()
        .map(|(at, name)| {
            (
                name.replace("&amp;", "&"),
                format!("xl/worksheets/sheet{}.xml", at + 1),
            )
        })
        .collect()
}

/// The formulas of a tab: cell and stored result.
fn formulas(sheet: &str) -> Vec<(String, f64)> {
    let cells = sheet.split("<c r=\"").skip(1);
    let of = cells.filter_map(|cell| {
        let cell = cell.split("</c>").next()?;
        let name = cell.split('"').next()?;
        cell.contains("<f>").then_some(())?;
        let value = cell.split("<v>").nth(1)?.split("</v>").next()?;
        Some((name.to_owned(), value.parse().ok()?))
    });
    of.collect()
}

/// The same without stored results.
fn emptied(sheet: &str) -> String {
    let mut out = String::new();
    for (at, piece) in sheet.split("</f><v>").enumerate() {
        match (at, piece.split_once("</v>")) {
            (0, _) | (_, None) => out.push_str(piece),
            (_, Some((_, rest))) => {
                out.push_str("</f>");
                out.push_str(rest);
            }
        }
    }
    out
}

/// Row and column of `H12`, from 0.
fn place(cell: &str) -> (usize, usize) {
    let letters = cell.chars().take_while(char::is_ascii_alphabetic);
    let column = letters.fold(0, |n, c| n * 26 + (c as usize - 'A' as usize + 1));
    let row: String = cell.chars().skip_while(char::is_ascii_alphabetic).collect();
    (row.parse::<usize>().expect("a row") - 1, column - 1)
}

/// What LibreOffice works out: for each tab its cells.
fn worked(parts: &Parts, folder: &Path) -> BTreeMap<String, Vec<Vec<String>>> {
    let file = folder.join("book.xlsx");
    packed(parts, &file);
    let to = folder.join("csv");
    std::fs::create_dir_all(&to).expect("a folder");
    let profile = format!(
        "-env:UserInstallation=file://{}",
        folder.join("profile").display()
    );
    let filter = "csv:Text - txt - csv (StarCalc):44,34,76,1,,0,false,false,false,false,false,-1";
    let got = Command::new("soffice")
        .args([&profile, "--headless", "--convert-to", filter, "--outdir"])
        .args([&to, &file])
        .output()
        .expect("LibreOffice runs");
    assert!(
        got.status.success(),
        "{}",
        String::from_utf8_lossy(&got.stderr)
    );
    let names = tabs(parts).into_iter().map(|(name, _)| name);
    names
        .map(|name| {
            let file = to.join(format!("book-{name}.csv"));
            let mut reader = csv::ReaderBuilder::new()
                .has_headers(false)
                .flexible(true)
                .from_path(&file)
                .unwrap_or_else(|e| panic!("{}: {e}", file.display()));
            let rows = reader.records().map(|r| r.expect("a record"));
            let rows = rows.map(|r| r.iter().map(str::to_owned).collect());
            (name, rows.collect())
        })
        .collect()
}

fn number(grid: &[Vec<String>], cell: &str) -> f64 {
    let (row, column) = place(cell);
    let text = grid
        .get(row)
        .and_then(|r| r.get(column))
        .cloned()
        .unwrap_or_default();
    text.parse()
        .unwrap_or_else(|_| panic!("{cell} holds {text:?}"))
}

/// The jobs: one made of private figures, and the demonstration with the shipped papers.
fn jobs() -> (tempfile::TempDir, Vec<PathBuf>) {
    let folder = tempfile::tempdir().expect("a folder");
    let small = folder.path().join("small");
    std::fs::create_dir(&small).expect("a folder");
    for entry in std::fs::read_dir(here("tests/command/leaks"))
        .expect("a folder")
        .flatten()
    {
        std::fs::copy(entry.path(), small.join(entry.file_name())).expect("copied");
    }
    let demo = folder.path().join("demo");
    std::fs::create_dir(&demo).expect("a folder");
    let school = here("demo-data/tallowgate-school");
    let job = format!(
        "sheet \"Papers of the school\" layer job\nuse \"{}\"\nuse \"{}\"\nuse \"{}\"\n",
        school.join("job.ovo").display(),
        here("sheets/papers.ovo").display(),
        here("sheets/bid.ovo").display()
    );
    std::fs::write(demo.join("job.ovo"), job).expect("a job");
    (folder, vec![small, demo])
}

#[test]
fn libreoffice_works_out_our_figures() {
    let (_folder, jobs) = jobs();
    for job in jobs {
        let told = ovolo(&job, &["papers", "job.ovo", "--workbook", "office.xlsx"]);
        println!("{told}");
        let mut parts = unpacked(&job.join("office.xlsx"));
        let mut stored = Vec::new();
        for (name, part) in tabs(&parts) {
            let sheet = String::from_utf8_lossy(&parts[&part]).to_string();
            let own = formulas(&sheet);
            // None is passed over, on any tab.
            assert_eq!(own.len(), sheet.matches("<f>").count(), "{name}");
            println!("{name}: {} formulas", own.len());
            stored.extend(own.into_iter().map(|(c, v)| (name.clone(), c, v)));
            parts.insert(part, emptied(&sheet).into_bytes());
        }
        assert!(stored.len() > 20, "{} formulas", stored.len());
        let got = worked(&parts, &job);
        for (tab, cell, ours) in stored {
            let theirs = number(&got[&tab], &cell);
            assert!(
                (theirs - ours).abs() < 0.000_001,
                "{tab} {cell}: {theirs}, ours {ours}"
            );
        }
    }
}

#[test]
fn an_edited_quantity_moves_the_total() {
    let (_folder, jobs) = jobs();
    let job = &jobs[0];
    ovolo(job, &["papers", "job.ovo", "--workbook", "office.xlsx"]);
    let mut parts = unpacked(&job.join("office.xlsx"));
    let (_, part) = tabs(&parts)
        .into_iter()
        .find(|(n, _)| n == "Cost")
        .expect("a tab");
    let sheet = String::from_utf8_lossy(&parts[&part]).to_string();
    let (total, before) = formulas(&sheet).pop().expect("a total");
    let first = "<c r=\"D5\"";
    let (head, rest) = sheet.split_once(first).expect("a quantity");
    let (look, rest) = rest.split_once("<v>").expect("a value");
    let (quantity, rest) = rest.split_once("</v>").expect("a value");
    let more: f64 = quantity.parse::<f64>().expect("a number") + 10.0;
    let edited = format!("{head}{first}{look}<v>{more}</v>{rest}");
    parts.insert(part, emptied(&edited).into_bytes());
    let got = worked(&parts, job);
    let after = number(&got["Cost"], &total);
    assert!(after > before + 100.0, "{before} before, {after} after");
}

#[test]
fn an_edited_purchase_moves_the_total() {
    let (_folder, jobs) = jobs();
    for job in &jobs {
        ovolo(job, &["papers", "job.ovo", "--workbook", "office.xlsx"]);
        let parts = unpacked(&job.join("office.xlsx"));
        let part = |name: &str| {
            let mut tabs = tabs(&parts).into_iter();
            tabs.find(|(n, _)| n == name).expect("a tab").1
        };
        let sheet = |name: &str| String::from_utf8_lossy(&parts[&part(name)]).to_string();
        let (total, before) = formulas(&sheet("Cost")).pop().expect("a total");
        // What goes in, and the price: both ten times.
        for column in ["C", "K"] {
            let first = format!("<c r=\"{column}5\"");
            let buys = sheet("Buy list");
            let (head, rest) = buys.split_once(&first).expect("a cell");
            let (look, rest) = rest.split_once("<v>").expect("a value");
            let (value, rest) = rest.split_once("</v>").expect("a value");
            let more = value.parse::<f64>().expect("a number") * 10.0;
            let edited = format!("{head}{first}{look}<v>{more}</v>{rest}");
            let mut parts = parts.clone();
            parts.insert(part("Buy list"), emptied(&edited).into_bytes());
            parts.insert(part("Cost"), emptied(&sheet("Cost")).into_bytes());
            let got = worked(&parts, job);
            let after = number(&got["Cost"], &total);
            assert!(
                after > before + 1.0,
                "{column}: {before} before, {after} after"
            );
        }
    }
}

#[test]
fn nothing_is_hidden_in_a_workbook() {
    let (_folder, jobs) = jobs();
    let job = &jobs[0];
    for paper in ["shop", "orders-quillmark", "crew-front", "offer", "kept"] {
        ovolo(job, &["papers", "job.ovo", paper, "--workbook", "one.xlsx"]);
        let parts = unpacked(&job.join("one.xlsx"));
        for (name, bytes) in &parts {
            let text = String::from_utf8_lossy(bytes).to_lowercase();
            let hidden = [
                "state=\"hidden\"",
                "veryhidden",
                "hidden=\"1\"",
                "<definedname name=\"_",
                "comment",
            ];
            for word in hidden.iter().take(3).chain(hidden.iter().skip(4)) {
                assert!(!text.contains(word), "{paper}: {name} holds {word}");
            }
        }
        let books = tabs(&parts);
        assert!(books.iter().all(|(n, _)| n != "Cost"), "{paper}: {books:?}");
    }
}
