//! The README shows real output: each `console` block is run and compared. `[...]` stands for lines left out.

use super::run;
use std::path::Path;

#[test]
fn what_the_readme_shows_is_what_is_printed() {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let readme = std::fs::read_to_string(root.join("README.md")).expect("the README is there");
    let mut shown = 0;
    for block in readme.split("```console\n").skip(1) {
        let block = block.split("```").next().unwrap_or("");
        let mut lines = block.lines();
        let command = lines
            .next()
            .and_then(|l| l.strip_prefix("$ ovolo "))
            .expect("a block begins with its command");
        // `start` makes a folder: it is run elsewhere.
        let folder = tempfile::tempdir().expect("a folder");
        let starts = command.starts_with("start ");
        let at = if starts { folder.path() } else { root };
        let printed = run::text(&run::ovolo(at, command.split(' ')));
        let printed: Vec<&str> = printed.trim_end().lines().map(str::trim_end).collect();
        let mut from = 0;
        let mut anywhere = false;
        for line in lines {
            if line == "[...]" {
                anywhere = true;
                continue;
            }
            let found = if anywhere {
                printed.iter().skip(from).position(|p| *p == line)
            } else {
                (printed.get(from) == Some(&line)).then_some(0)
            };
            match found {
                Some(i) => from += i + 1,
                None => panic!(
                    "`ovolo {command}` does not print, after line {from}:\n{line}\nbut\n{}",
                    printed.get(from).unwrap_or(&"nothing more")
                ),
            }
            anywhere = false;
        }
        assert!(
            anywhere || from == printed.len(),
            "`ovolo {command}` prints more than is shown"
        );
        shown += 1;
    }
    assert!(shown >= 6, "only {shown} blocks");
}

/// The sheets of the library by name, such as `kinds` and `checks/lead`, with their texts.
fn sheets() -> std::collections::BTreeMap<String, String> {
    let here = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("sheets");
    let mut out = std::collections::BTreeMap::new();
    for (folder, before) in [(here.clone(), ""), (here.join("checks"), "checks/")] {
        for file in std::fs::read_dir(folder).expect("the sheets").flatten() {
            let name = file.file_name().to_string_lossy().into_owned();
            if let Some(stem) = name.strip_suffix(".ovo") {
                let text = std::fs::read_to_string(file.path()).expect("a sheet");
                out.insert(format!("{before}{stem}"), text);
            }
        }
    }
    out
}

fn between(text: &str, sign: char) -> Vec<&str> {
    text.split(sign).skip(1).step_by(2).collect()
}

fn page_of_the_library() -> String {
    let page = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("sheets/README.md");
    std::fs::read_to_string(page).expect("the page")
}

#[test]
fn what_covers_each_step_stands_in_the_sheets() {
    let (sheets, page) = (sheets(), page_of_the_library());
    let table = page
        .split("| step of the work | sheet")
        .nth(1)
        .expect("the table");
    let rows: Vec<&str> = table
        .lines()
        .skip(2)
        .take_while(|l| l.starts_with('|'))
        .collect();
    assert!(rows.len() >= 18, "{}", rows.len());
    for row in rows {
        let cells: Vec<&str> = row.trim_matches('|').split(" | ").collect();
        let [_, of, trials, sources] = cells.as_slice() else {
            panic!("four cells: {row}");
        };
        let mut read = String::new();
        for part in of.split(';') {
            let mut names = between(part, '`').into_iter();
            let sheet = names.next().expect("a sheet");
            let text = sheets
                .get(sheet)
                .unwrap_or_else(|| panic!("no sheet {sheet}"));
            for name in names {
                let mut words = text.split(|c: char| !c.is_alphanumeric() && c != '_');
                assert!(words.any(|w| w == name), "{sheet} has no {name}");
            }
            read.push_str(text);
        }
        let named = between(trials, '"');
        assert!(!named.is_empty(), "no trial: {row}");
        for trial in named {
            let line = format!("trial \"{trial}\" {{");
            assert!(
                sheets.values().any(|t| t.contains(&line)),
                "no trial {trial}"
            );
        }
        for source in sources.split(';').map(str::trim).filter(|s| *s != "marked") {
            assert!(read.contains(source), "{of} does not name {source}");
        }
        let is_marked = ["common practice", "from memory"]
            .iter()
            .any(|m| read.contains(m));
        assert!(
            !sources.contains("marked") || is_marked,
            "nothing is marked: {row}"
        );
    }
}

#[test]
fn sheets_are_short_and_headed_and_the_map_is_theirs() {
    let (sheets, page) = (sheets(), page_of_the_library());
    let map = page
        .split("```reads\n")
        .nth(1)
        .and_then(|m| m.split("```").next());
    let mut map: std::collections::BTreeMap<&str, Vec<&str>> = map
        .expect("the map")
        .lines()
        .filter_map(|l| l.split_once(' '))
        .map(|(name, reads)| (name, reads.trim().split(", ").collect()))
        .collect();
    for (name, text) in sheets
        .iter()
        .filter(|(name, _)| !name.starts_with("checks/"))
    {
        assert!(
            text.lines().count() <= 200,
            "{name} has {} lines",
            text.lines().count()
        );
        assert!(
            text.starts_with("# "),
            "{name} does not begin with what it decides"
        );
        let uses = text
            .lines()
            .filter_map(|l| l.strip_prefix("use \"")?.strip_suffix(".ovo\""));
        let uses: Vec<&str> = uses.collect();
        assert_eq!(
            map.remove(name.as_str()).unwrap_or_default(),
            uses,
            "{name}"
        );
        assert!(
            page.contains(&format!("`{name}.ovo`")),
            "the page does not name {name}"
        );
    }
    assert!(map.is_empty(), "{map:?}");
}
