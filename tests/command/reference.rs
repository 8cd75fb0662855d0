//! The reference of the language runs: every block of `grammar/language.md` is checked, its trials come out, its wrong
//! examples are refused with their codes, and its table of cells reads as it says.

use super::run;
use ovolo::number::Exact;
use ovolo::units::{CellContext, Nouns, Reading, parse_unit, read_quantity};
use std::path::{Path, PathBuf};

struct Block {
    /// The words after the fence's marks.
    words: Vec<String>,
    text: String,
    line: usize,
}

fn page() -> String {
    std::fs::read_to_string(Path::new(env!("CARGO_MANIFEST_DIR")).join("grammar/language.md"))
        .expect("the reference")
}

fn blocks(page: &str) -> Vec<Block> {
    let mut blocks: Vec<Block> = Vec::new();
    let mut open = false;
    for (i, line) in page.lines().enumerate() {
        match line.strip_prefix("```") {
            Some(words) if !open => {
                open = true;
                blocks.push(Block {
                    words: words.split_whitespace().map(str::to_string).collect(),
                    text: String::new(),
                    line: i + 1,
                });
            }
            Some(_) => open = false,
            None if open => {
                if let Some(block) = blocks.last_mut() {
                    block.text.push_str(line);
                    block.text.push('\n');
                }
            }
            None => {}
        }
    }
    assert!(!open, "a fence is never closed");
    blocks
}

/// A block as a whole sheet.
fn whole(place: &str, text: &str) -> String {
    match place {
        "more" => format!("use \"sash.ovo\"\n{text}"),
        "for" => {
            let inner: String = text.lines().map(|l| format!("  {l}\n")).collect();
            format!("use \"sash.ovo\"\nfor each opening {{\n{inner}}}\n")
        }
        _ => text.to_string(),
    }
}

fn ovolo(folder: &Path, args: &[&str]) -> (bool, String) {
    let output = run::ovolo(folder, args);
    (output.status.success(), run::text(&output))
}

#[test]
fn every_block_is_what_it_says() {
    let folder = tempfile::tempdir().expect("a folder");
    let path = |name: &str| -> PathBuf { folder.path().join(name) };
    let (mut sound, mut wrong, mut failures) = (0, 0, Vec::new());
    let blocks = blocks(&page());
    for block in &blocks {
        let words: Vec<&str> = block.words.iter().map(String::as_str).collect();
        if let [.., "file", name] = words.as_slice() {
            std::fs::write(path(name), &block.text).expect("a file of the reference");
        }
    }
    for block in blocks {
        let words: Vec<&str> = block.words.iter().map(String::as_str).collect();
        let place = format!("line {}:\n{}", block.line, block.text);
        match words.as_slice() {
            ["ovo", "wrong", rest @ ..] => {
                let kind = rest
                    .first()
                    .copied()
                    .filter(|w| !w.starts_with("OV-"))
                    .unwrap_or("");
                let codes: Vec<&str> = rest
                    .iter()
                    .copied()
                    .filter(|w| w.starts_with("OV-"))
                    .collect();
                std::fs::write(path("sheet.ovo"), whole(kind, &block.text)).expect("a sheet");
                let (ok, said) = ovolo(folder.path(), &["proof", "sheet.ovo"]);
                let found: Vec<&str> = said
                    .lines()
                    .filter(|l| l.starts_with("OV-"))
                    .map(|l| &l[..6])
                    .collect();
                if ok || found != codes {
                    failures.push(format!("{place}\n{said}"));
                }
                wrong += 1;
            }
            ["console"] => {
                let (command, wanted) = block.text.split_once('\n').unwrap_or_default();
                let args = command.strip_prefix("$ ovolo ").unwrap_or_default();
                let args: Vec<&str> = args.split_whitespace().collect();
                let (ok, said) = ovolo(folder.path(), &args);
                if !ok || said.trim_end() != wanted.trim_end() {
                    failures.push(format!("{place}\n{said}"));
                }
            }
            ["ovo", rest @ ..] => {
                std::fs::write(
                    path("sheet.ovo"),
                    whole(rest.first().copied().unwrap_or(""), &block.text),
                )
                .expect("a sheet");
                for command in ["proof", "trial"] {
                    let (ok, said) = ovolo(folder.path(), &[command, "sheet.ovo"]);
                    if !ok || said.contains("OV-") {
                        failures.push(format!("{place}\n{command}: {said}"));
                    }
                }
                sound += 1;
            }
            ["json", "cut"] => {
                std::fs::write(path("cut.json"), &block.text).expect("a problem to be cut");
                let (ok, said) = ovolo(folder.path(), &["cut", "--instance", "cut.json"]);
                if !ok || said.contains("OV-") {
                    failures.push(format!("{place}\n{said}"));
                }
            }
            ["csv", "file", _] => {}
            _ => panic!("{place}: this fence says nothing of what it holds"),
        }
    }
    assert!(failures.is_empty(), "{}", failures.join("\n"));
    assert!(
        sound >= 12 && wrong >= 8,
        "{sound} sound blocks, {wrong} wrong ones: the page was not read"
    );
}

#[test]
fn every_cell_reads_as_the_table_says() {
    let page = page();
    let table = page
        .split("| cell | column | read as |")
        .nth(1)
        .expect("the table of cells");
    let mut rows = 0;
    let mut nouns = Nouns::new();
    nouns.intern("lite");
    for line in table.lines().skip(2).take_while(|l| l.starts_with('|')) {
        let cells: Vec<&str> = line.trim_matches('|').split('|').map(str::trim).collect();
        let [cell, column, said] = cells.as_slice() else {
            panic!("{line}: three cells")
        };
        let (cell, column) = (cell.trim_matches('`'), column.trim_matches('`'));
        let unit = parse_unit(column, &nouns, Some("USD")).expect("a unit");
        let mut context = CellContext::new(&unit, &nouns);
        context.currency = Some("USD");
        match (read_quantity(cell, &context), said.strip_prefix("refused")) {
            (Ok(Reading::Value { value, .. }), None) => {
                let wanted = Exact::parse_plain(said.trim_matches('`')).expect("a number");
                assert_eq!(unit.from_base(&value), Ok(wanted), "{line}");
            }
            (Err(refusal), Some(rest)) => {
                let choices: Vec<&str> = rest
                    .split('(')
                    .next()
                    .unwrap_or("")
                    .split('`')
                    .skip(1)
                    .step_by(2)
                    .collect();
                assert_eq!(refusal.choices, choices, "{line}");
            }
            (got, _) => panic!("{line}: {got:?}"),
        }
        rows += 1;
    }
    assert!(rows > 20, "{rows} rows: the table was not read");
}

#[test]
fn every_statement_is_found_through_the_list_of_statements() {
    let page = page();
    let grammar =
        std::fs::read_to_string(Path::new(env!("CARGO_MANIFEST_DIR")).join("grammar/ovolo.pest"))
            .expect("the grammar");
    let quoted = |text: &str| text.split('"').nth(1).map(str::to_string);
    let mut words: Vec<String> = grammar
        .split("SOI ~ ")
        .skip(1)
        .filter(|rest| rest.starts_with('"'))
        .filter_map(quoted)
        .collect();
    // Lines of the job and of a study begin with words of their own.
    for rule in [
        "job_survey",
        "job_prices",
        "job_money",
        "job_ties",
        "job_split",
        "job_round",
        "life_study",
        "life_residual",
    ] {
        words.extend(
            grammar
                .lines()
                .find(|l| l.starts_with(&format!("{rule} ")))
                .and_then(quoted),
        );
    }
    for rule in ["life_rate_word", "life_cost_word"] {
        let line = grammar
            .lines()
            .find(|l| l.starts_with(&format!("{rule} ")))
            .expect("a rule of the grammar");
        words.extend(line.split('"').skip(1).step_by(2).map(str::to_string));
    }
    words.sort();
    words.dedup();
    assert!(words.len() > 38, "{words:?}");
    let chapters: Vec<(&str, &str)> = page
        .split("\n## ")
        .skip(1)
        .filter_map(|c| c.split_once(". "))
        .collect();
    let list = page
        .split("| first word | what it does | chapter |")
        .nth(1)
        .expect("the list of statements");
    let rows: Vec<Vec<&str>> = list
        .lines()
        .skip(2)
        .take_while(|l| l.starts_with('|'))
        .map(|l| l.trim_matches('|').split('|').collect())
        .collect();
    for word in words {
        let row = rows
            .iter()
            .find(|r| r[0].contains(&format!("`{word}`")) || r[0].contains(&format!("`{word} ")));
        let row = row.unwrap_or_else(|| panic!("`{word}` is not in the list of statements"));
        let told = row[2].split(',').any(|number| {
            let chapter = chapters
                .iter()
                .find(|(n, _)| *n == number.trim())
                .unwrap_or_else(|| panic!("chapter {number} of `{word}`"));
            chapter.1.contains(&format!("`{word}"))
                || chapter.1.contains(&format!("\n{word} "))
                || chapter.1.contains(&format!("\n  {word} "))
        });
        assert!(told, "`{word}` is not told of where the list says: {row:?}");
    }
}
