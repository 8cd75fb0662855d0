//! The printer of sheets on every sheet there is: tidied text reads as the same tree and is tidied to itself.

use crate::common::{Dice, tree};
use ovolo::diagnostics::FileId;
use ovolo::syntax::{parse_sheet, tidy};
use proptest::prelude::*;
use std::path::{Path, PathBuf};

fn files_below(folder: &Path, out: &mut Vec<PathBuf>) {
    for entry in std::fs::read_dir(folder).into_iter().flatten().flatten() {
        let path = entry.path();
        if path.is_dir() {
            files_below(&path, out);
        } else if path.extension().is_some_and(|e| e == "ovo") {
            out.push(path);
        }
    }
}

/// Every sheet of the repository, by path.
fn sheets() -> Vec<(String, String)> {
    let root = Path::new(env!("CARGO_MANIFEST_DIR"));
    let mut files = Vec::new();
    for folder in ["sheets", "demo-data", "tests/cases"] {
        files_below(&root.join(folder), &mut files);
    }

    files.sort();
    files
        .into_iter()
        .map(|p| {
            (
                p.display().to_string(),
                std::fs::read_to_string(&p).expect("a sheet is text"),
            )
        })
        .collect()
}

fn holds(name: &str, text: &str) {
    let once = tidy(text).unwrap_or_else(|d| panic!("{name}: {d:#?}"));
    assert_eq!(
        tree(&once),
        tree(text),
        "{name}: reads otherwise once tidied\n{once}"
    );
    let twice = tidy(&once).unwrap_or_else(|d| panic!("{name}: {d:#?}\n{once}"));
    assert_eq!(twice, once, "{name}: tidied twice is not the same");
}

/// The same sheet laid out otherwise: more blanks, other depths, lines broken at operators and commas, other line ends and
/// signs. No word, number or comment is touched.
fn disordered(text: &str, dice: &mut Dice) -> String {
    let mut out = String::from(["", "\u{feff}"][dice.roll(2)]);
    let line_end = ["\n", "\r\n"][dice.roll(2)];
    let step = 1 + dice.roll(4);
    for line in text.lines() {
        let code = line.trim_start();
        let depth = (line.len() - code.len()) * step;
        let is_row = line.contains(" | ");
        out.push_str(&" ".repeat(depth));
        let mut in_text = false;
        let chars = code.char_indices().peekable();
        for (i, c) in chars {
            let rest = &code[i..];
            if c == '#' && !in_text {
                out.push_str(rest);
                break;
            }
            if c == '"' && (in_text || !code[..i].ends_with(|c: char| c.is_ascii_digit())) {
                in_text = !in_text;
            }
            let broken = [
                " + ",
                " * ",
                " and ",
                " then ",
                " else ",
                " because ",
                " source ",
            ]
            .iter()
            .any(|w| rest.starts_with(w));
            match c {
                ' ' if in_text => out.push(' '),
                ' ' if (broken || code[..i].ends_with(',')) && !is_row && dice.roll(6) == 0 => {
                    out.push_str(line_end);
                    out.push_str(&" ".repeat(depth + 5 + dice.roll(9)));
                }
                ' ' => out.push_str(&" ".repeat(1 + dice.roll(3))),
                '*' if !in_text && dice.roll(2) == 0 => out.push('×'),
                _ => out.push(c),
            }
        }
        out.push_str(&" ".repeat(dice.roll(3)));
        out.push_str(line_end);
        if code.is_empty() && dice.roll(3) == 0 {
            out.push_str(line_end);
        }
    }
    out
}

#[test]
fn layout_does_not_matter() {
    let mut dice = Dice(0x5eed_0003);
    for (name, text) in sheets() {
        let tidied = tidy(&text).unwrap_or_else(|d| panic!("{name}: {d:#?}"));
        let other = disordered(&tidied, &mut dice);
        let again = tidy(&other).unwrap_or_else(|d| panic!("{name}: {d:#?}\n{other}"));
        assert_eq!(again, tidied, "{name}:\n{other}");
    }
}

#[test]
fn every_sheet_stays_itself() {
    for (name, text) in sheets() {
        holds(&name, &text);
    }
}

/// Formulas of every form, made at random.
fn formula() -> impl Strategy<Value = String> {
    let leaf = prop_oneof![
        Just("wide".to_string()),
        Just("n".to_string()),
        Just("a_1".to_string()),
        Just("30 1/2 in".to_string()),
        Just("2 ft 6 1/2 in".to_string()),
        Just("2'-6 1/2\"".to_string()),
        Just("1/2".to_string()),
        Just("12.50 USD per sq ft".to_string()),
        Just("35 %".to_string()),
        Just("½ in".to_string()),
        Just("\"a # b\"".to_string()),
        Just("yes".to_string()),
        Just("unknown".to_string()),
        (0..9999u32).prop_map(|n| n.to_string()),
    ];
    leaf.prop_recursive(5, 40, 4, |inner| {
        let two = (inner.clone(), inner.clone());
        let three = (inner.clone(), inner.clone(), inner.clone());
        prop_oneof![
            (
                two.clone(),
                prop::sample::select(vec![
                    " + ", "-", " * ", "/", " / ", " < ", ">=", " is ", " is not ", " and ",
                    " or ", "×", "÷", " − "
                ])
            )
                .prop_map(|((a, b), op)| format!("({a}{op}{b})")),
            inner.clone().prop_map(|a| format!("-({a})")),
            inner.clone().prop_map(|a| format!("not ({a} is known)")),
            inner.clone().prop_map(|a| format!("({a}) ^ -2")),
            inner.clone().prop_map(|a| format!("({a} is n/a)")),
            three
                .clone()
                .prop_map(|(a, b, c)| format!("(if {a} then {b} else {c})")),
            three.clone().prop_map(|(a, b, c)| format!(
                "choose k {{ single: {a}; pair, hung: ({b}) otherwise: {c} }}"
            )),
            two.clone().prop_map(|(a, b)| format!("smaller({a},{b})")),
            two.clone()
                .prop_map(|(a, b)| format!("({a} rounded half up to ({b}))")),
            two.clone()
                .prop_map(|(a, b)| format!("(({a}) if blank ({b}))")),
            two.clone()
                .prop_map(|(a, b)| format!("(sum of ({a}) where ({b}))")),
            two.clone()
                .prop_map(|(a, b)| format!("(({a}) shared by ({b}) in steps of 1/4 h)")),
            two.clone()
                .prop_map(|(a, b)| format!("(pace from steps at ({a}),({b}) interpolated)")),
            three.prop_map(|(a, b, c)| format!("({a} is between {b} and {c})")),
            inner.prop_map(|a| format!("(({a}) per sq ft)")),
        ]
    })
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 400, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn any_formula_stays_itself(a in formula(), b in formula(), comment in prop::option::of("[a-z ]{0,12}")) {
        let note = comment.map_or(String::new(), |c| format!(" # {c}"));
        let text = format!("for each opening {{\n a={a}{note}\n  rounded to 1 in{note}\n\n\n take joiner {b} for \"Making\"\n}}\n");
        prop_assume!(parse_sheet(FileId(0), &text).1.is_empty());
        holds("a formula", &text);
    }
}
