//! The README shows real output: each `console` block is run and compared. `[...]` stands for lines left out.

use std::path::Path;
use std::process::Command;

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
        let done = Command::new(env!("CARGO_BIN_EXE_ovolo"))
            .args(command.split(' '))
            .current_dir(at)
            .env("NO_COLOR", "1")
            .output()
            .expect("it runs");
        let printed = String::from_utf8_lossy(&done.stdout).to_string()
            + &String::from_utf8_lossy(&done.stderr);
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
