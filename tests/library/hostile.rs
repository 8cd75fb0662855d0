//! Texts no one would write: reading and tidying never panic, whatever they are given, and guards stop at once.

use crate::common::{Dice, tree};
use ovolo::diagnostics::FileId;
use ovolo::syntax::{parse_sheet, tidy};

/// Pieces that mean something to the grammar, and a few that never should.
const PIECES: &[&str] = &[
    "for each opening {\n",
    "}\n",
    "{",
    "}",
    "(",
    ")",
    "\"",
    "#",
    "\n",
    "\n  ",
    "\n      ",
    "\r\n",
    "\t",
    "\u{feff}",
    "\u{a0}",
    "=",
    ":",
    ";",
    ",",
    "|",
    "if ",
    " then ",
    " else ",
    "choose k { ",
    "otherwise: ",
    "sum of ",
    " where ",
    " rounded up to ",
    " per ",
    " is ",
    " not ",
    " n/a ",
    "blank",
    "decide d by {\n",
    "table t by k {\n",
    "trial \"t\" {\n",
    "with a = ",
    "expect take ",
    "survey s {\n",
    "job {\n",
    "pay p {\n",
    "alternate \"x\" {\n",
    "30 1/2 in",
    "2'-6 1/2\"",
    "½",
    "1/0",
    "9999999999999999999999999999999999999999999",
    "35 %",
    "0.",
    ".5",
    "1e9",
    "−",
    "×",
    "÷",
    "≤",
    "²",
    "′",
    "″",
    "in",
    "sq ft",
    "USD",
    "é",
    "漢",
    "👷",
    "\u{0}",
    "\u{202e}",
    "_",
    "a",
    "b",
    "  ",
    "given g ",
    "resource r labor h",
    "take r ",
    " for \"P\"",
    "^ -",
    "^",
];

const SEEDS: &[&str] = &[
    "for each opening {\n  w = if kind is pair then wide / 2 else wide\n  a = choose kind { single: 1 sash   pair, hung: 2 sash }\n}\n",
    "survey opening {\n  mark text key headed \"Mark\"\n  wide length in in between 12 in and 8 ft\n}\n",
    "table t by pane {\n  pane (sq in) | pace (min per lite)\n  0 to 144 | 18\n}\n",
    "trial \"x\" {\n  with kind = pair, wide = 60 in\n  expect w = 30 in at \"A\"\n}\n",
    "given a 2'-6 1/2\" from 1 in to 3 in source \"log\" # note\nchange a to 3 in because \"b\" was 2 in\n",
    "job {\n  survey opening from \"s.csv\" tab \"T\" heading row 2\n  ties half up\n}\ncharge o 12 % of labor, materials\n",
];

fn mutated(dice: &mut Dice) -> String {
    let seed = SEEDS[dice.roll(SEEDS.len())];
    let mut chars: Vec<char> = if dice.roll(4) == 0 {
        Vec::new()
    } else {
        seed.chars().collect()
    };
    for _ in 0..1 + dice.roll(3) {
        let at = dice.roll(chars.len() + 1);
        match dice.roll(4) {
            0 if !chars.is_empty() => {
                let end = (at + 1 + dice.roll(12)).min(chars.len());
                chars.drain(at.min(end)..end);
            }
            1 if !chars.is_empty() => {
                let end = (at + dice.roll(20)).min(chars.len());
                let copy: Vec<char> = chars[at.min(end)..end].to_vec();
                let to = dice.roll(chars.len() + 1);
                chars.splice(to..to, copy);
            }
            _ => {
                let piece = PIECES[dice.roll(PIECES.len())];
                chars.splice(at..at, piece.chars());
            }
        }
    }
    chars.into_iter().collect()
}

#[test]
fn twenty_thousand_broken_texts_are_read_or_refused() {
    let mut dice = Dice(0x0ddba11);
    let mut readable = 0;
    for _ in 0..20_000 {
        let text = mutated(&mut dice);
        let (_, problems) = parse_sheet(FileId(0), &text);
        for d in &problems {
            assert!(
                d.code.starts_with("OV-1")
                    && !d.message.is_empty()
                    && (d.expected.is_some() || d.mend.is_some() || d.found.is_some()),
                "{d:?}\n{text}"
            );
        }
        match tidy(&text) {
            Ok(tidied) => {
                readable += 1;
                assert_eq!(
                    tree(&tidied),
                    tree(&text),
                    "reads otherwise once tidied:\n{text}\n---\n{tidied}"
                );
                assert_eq!(
                    tidy(&tidied).as_deref(),
                    Ok(tidied.as_str()),
                    "tidied twice is not the same:\n{text}\n---\n{tidied}"
                );
            }
            Err(refused) => assert!(!refused.is_empty() && !problems.is_empty(), "{text}"),
        }
    }
    assert!(
        readable > 2_000,
        "only {readable} texts could be read: the test looks at refusals only"
    );
}

/// The codes of a text's messages.
fn codes(text: &str) -> Vec<&'static str> {
    parse_sheet(FileId(0), text)
        .1
        .iter()
        .map(|d| d.code)
        .collect()
}

#[test]
fn guards_stop_at_once() {
    let rule = |formula: &str| format!("for each opening {{\n  a = {formula}\n}}\n");
    assert_eq!(
        codes(&rule(&format!("{}1{}", "(".repeat(64), ")".repeat(64)))),
        Vec::<&str>::new()
    );
    assert_eq!(
        codes(&rule(&format!("{}1{}", "(".repeat(65), ")".repeat(65)))),
        ["OV-106"]
    );
    assert_eq!(codes(&rule(&"(".repeat(1_000_000))), ["OV-106"]);
    assert_eq!(codes(&rule(&"choose k { a: ".repeat(5_000))), ["OV-106"]);
    assert_eq!(
        codes(&rule(&format!("1{}", " + 1".repeat(250)))),
        Vec::<&str>::new()
    );
    assert_eq!(
        codes(&rule(&format!("1{}", " + 1".repeat(251)))),
        ["OV-106"]
    );
    assert_eq!(codes(&rule(&"not ".repeat(100_000))), ["OV-106"]);
    assert_eq!(codes(&rule(&"-".repeat(100_000))), ["OV-106"]);
    assert_eq!(codes(&rule(&"if a then ".repeat(10_000))), ["OV-106"]);
    assert_eq!(codes(&rule(&"9".repeat(41))), ["OV-108"]);
    assert_eq!(codes(&rule(&"9".repeat(1_000_000))), ["OV-106"]);
    assert_eq!(codes(&rule("2 ^ 1000 ^ 1000")), ["OV-101"]);
    assert_eq!(codes(&rule("2 ^ 99999999999999999999")), ["OV-107"]);
    assert_eq!(
        codes(&format!(
            "{}{}",
            "for each opening {\n".repeat(100_000),
            "}\n".repeat(100_000)
        )),
        ["OV-106"]
    );
    assert_eq!(codes(&"# a comment\n".repeat(500_000)), ["OV-106"]);
    assert_eq!(
        codes(&format!("counted {}\n", vec!["bead"; 4_000].join(", "))),
        ["OV-106"]
    );
}
