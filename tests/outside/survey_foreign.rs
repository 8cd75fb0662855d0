//! Files that we did not make: the CSV spectrum set and the sample workbooks of general-purpose packages.
//!
//! They are not kept here. `OVOLO_CORPORA` names a folder that holds them; `.ci/outside` fetches them from Debian:
//! `csv-spectrum/` (csv-spectrum 1.0.0 or later, BSD-2) and `workbooks/` (any XLSX, XLSM, XLSB, XLS or ODS, such as those of
//! r-cran-readxl 1.4.2). Where they are missing these tests fail.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use ovolo::survey::{Content, RawOptions, RawTable, SourceFile, raw_rows};

fn corpora(part: &str) -> PathBuf {
    let root = std::env::var_os("OVOLO_CORPORA")
        .expect("OVOLO_CORPORA names a folder of third-party files; `.ci/outside` fetches them");
    let path = Path::new(&root).join(part);
    assert!(path.is_dir(), "{} is not a folder", path.display());
    path
}

fn files(root: &Path, found: &mut Vec<PathBuf>) {
    let mut list: Vec<_> = std::fs::read_dir(root)
        .expect("a folder")
        .flatten()
        .map(|e| e.path())
        .collect();
    list.sort();
    for path in list {
        if path.is_dir() {
            files(&path, found)
        } else {
            found.push(path)
        }
    }
}

fn read(
    path: &Path,
    options: &RawOptions,
) -> Result<RawTable, Vec<ovolo::diagnostics::Diagnostic>> {
    let name = path
        .file_name()
        .map(|n| n.to_string_lossy().into_owned())
        .unwrap_or_default();
    raw_rows(
        SourceFile {
            name,
            content: Content::Bytes(std::fs::read(path).expect("a file")),
        },
        options,
    )
}

/// Each CSV file of the set gives what its JSON twin says. Blanks at the ends of cells are data to RFC 4180, but not to a survey, so both sides are
/// compared trimmed.
#[test]
fn the_csv_spectrum_reads_as_it_says() {
    let root = corpora("csv-spectrum");
    let mut list = Vec::new();
    files(&root, &mut list);
    let mut seen = 0;
    for path in list
        .iter()
        .filter(|p| p.extension().is_some_and(|e| e == "csv"))
    {
        let name = path.file_stem().expect("a name").to_string_lossy();
        let twin = list
            .iter()
            .find(|p| {
                p.file_name()
                    .is_some_and(|f| f.to_string_lossy() == format!("{name}.json"))
            })
            .expect("a twin");
        let json = std::fs::read_to_string(twin).expect("a file");
        let table = read(
            path,
            &RawOptions {
                delimiter: Some(b','),
                ..RawOptions::default()
            },
        )
        .expect("a clean file");
        if name == "location_coordinates" {
            // A slip of the set: this twin is no list and tells of another phone number, so only the shape is compared.
            assert_eq!(
                (
                    table.headings.len(),
                    table.rows.len(),
                    table.rows[0].cells.len()
                ),
                (4, 1, 4)
            );
            seen += 1;
            continue;
        }
        let expected: Vec<BTreeMap<String, String>> =
            serde_json::from_str(&json).expect("rows of texts");
        let expected: Vec<BTreeMap<String, String>> = expected
            .into_iter()
            .map(|row| {
                row.into_iter()
                    .map(|(k, v)| (k, v.trim().to_string()))
                    .collect()
            })
            .collect();
        let found: Vec<BTreeMap<String, String>> = table
            .rows
            .iter()
            .map(|row| {
                let text = |i: usize| {
                    row.cells
                        .get(i)
                        .map(|c| c.view().shown())
                        .unwrap_or_default()
                };
                table
                    .headings
                    .iter()
                    .enumerate()
                    .map(|(i, h)| (h.clone(), text(i)))
                    .collect()
            })
            .collect();
        assert_eq!(found, expected, "{name}");
        println!("{name}: {} rows as expected", found.len());
        seen += 1;
    }
    assert!(seen >= 11, "the set has 11 or more files, found {seen}");
}

/// Every workbook gives rows or a message of ours.
#[test]
fn foreign_workbooks_end_in_rows_or_a_message() {
    let root = corpora("workbooks");
    let mut list = Vec::new();
    files(&root, &mut list);
    let kinds = ["xlsx", "xlsm", "xlsb", "xls", "ods"];
    let mut seen = 0;
    for path in list.iter().filter(|p| {
        p.extension()
            .is_some_and(|e| kinds.contains(&e.to_string_lossy().to_lowercase().as_str()))
    }) {
        let name = path.file_name().expect("a name").to_string_lossy();
        match read(path, &RawOptions::default()) {
            Ok(table) => {
                println!(
                    "{name}: tab {:?}, headings in row {}, {} rows",
                    table.tab,
                    table.heading_rows.0,
                    table.rows.len()
                );
                assert!(
                    table.rows.iter().all(|r| r.row > table.heading_rows.1),
                    "{name}"
                );
                // Sample workbooks of readxl whose layout is known from its documentation.
                match name.as_ref() {
                    "deaths.xls" | "deaths.xlsx" => {
                        let wanted = vec![
                            vec!["Name".into()],
                            vec!["Profession".into()],
                            vec!["Age".into()],
                        ];
                        let table = read(
                            path,
                            &RawOptions {
                                wanted,
                                least: 3,
                                ..RawOptions::default()
                            },
                        )
                        .expect("a heading row");
                        assert_eq!(table.heading_rows, (5, 5), "{name}");
                    }
                    "geometry.xls" | "geometry.xlsx" => {
                        assert_eq!(table.headings, ["", "B3", "C3", "D3"], "{name}")
                    }
                    _ => {}
                }
            }
            Err(problems) => {
                println!(
                    "{name}: {} {}: {}",
                    problems[0].code,
                    problems[0].message,
                    problems[0].found.as_deref().unwrap_or("")
                );
                assert!(problems.iter().all(|d| d.code.starts_with("OV-")), "{name}");
            }
        }
        seen += 1;
    }
    assert!(seen > 0, "no workbook in {}", root.display());
}
