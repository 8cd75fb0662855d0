//! Lines whose first word no statement of their block begins with.

use super::{is_name, word_at};
use crate::diagnostics::suggest::nearest;
use crate::diagnostics::{Diagnostic, Span};
use crate::syntax::lines::{TOP_WORDS, begins_statement};

/// Words of other notations for statements of ours.
const OTHER_WORDS: &[(&str, &str)] = &[
    ("import", "use"),
    ("include", "use"),
    (
        "let",
        "given (for a figure), or NAME = FORMULA in a `for` block",
    ),
    ("const", "given"),
    ("var", "given"),
    ("param", "given"),
    ("assume", "given"),
    ("function", "helper"),
    ("fn", "helper"),
    ("def", "helper"),
    ("assert", "require"),
    ("check", "require"),
    ("ensure", "require"),
    ("warn", "caution"),
    ("warning", "caution"),
    ("test", "trial"),
    ("example", "trial"),
    ("material", "resource"),
    ("enum", "choice"),
    ("override", "change"),
    ("set", "change"),
    ("option", "alternate"),
    ("units", "counted"),
    ("unit", "counted"),
    ("foreach", "for each"),
    (
        "each",
        "for each (for rules of each row), or counted (for a noun to count in)",
    ),
    ("loop", "for each"),
    ("currency", "money"),
    ("rounding", "round money each line"),
    ("file", "survey TABLE from \"FILE\""),
    ("tax", "charge"),
    ("fee", "charge"),
];

/// Makes a message at the word that is wrong.
type Tell<'a> = &'a dyn Fn(&'static str, String) -> Diagnostic;

/// The message for a line that starts with none of `known`, the words of its block; `place` says which block, as in
/// "in a trial". A block whose lines are rules knows `take`.
pub(crate) fn explain(text: &str, span: Span, known: &[&str], place: &str) -> Diagnostic {
    let piece = text
        .get(crate::ids::at(span.start)..crate::ids::at(span.end))
        .unwrap_or("");
    let word = word_at(piece);
    let rest = piece[word.len()..].trim_start();
    let holds_rules = known.contains(&"take");
    let list = if holds_rules {
        format!("NAME = FORMULA, {}", known.join(", "))
    } else {
        known.join(", ")
    };
    let shown = if word.is_empty() {
        piece.chars().take(1).collect::<String>()
    } else {
        word.to_string()
    };
    let len = crate::diagnostics::offset(shown.len());
    let at = |code, message: String| {
        Diagnostic::error(code, message).at(
            Span {
                end: span.start + len,
                ..span
            },
            "",
        )
    };
    if let Some(d) = comment_or_brace(piece, &at) {
        return d;
    }
    if let Some(d) = holds_rules
        .then(|| broken_rule(word, rest, known, &at))
        .flatten()
    {
        return d;
    }
    if word.starts_with(|c: char| c.is_ascii_digit()) && rest.starts_with('=') {
        return at("OV-131", "a name cannot begin with a digit".into())
            .found(word)
            .expected("letters, digits and _, beginning with a letter");
    }
    let small = word.to_lowercase();
    if small != word && known.contains(&small.as_str()) {
        return at(
            "OV-128",
            format!("`{word}` is not read: words of the language are written small"),
        )
        .mend(format!("write `{small}`"));
    }
    if !holds_rules && known.contains(&"for") && is_name(word) && rest.starts_with('=') {
        return at("OV-102", format!("the rule `{word}` is outside a block")).expected(
            "rules inside `for each TABLE {`, `for each GROUP of TABLE by KEY {` or `for the job {`; a fixed figure is `given NAME VALUE`",
        );
    }
    if word == "for" && rest.starts_with('"') {
        return at(
            "OV-102",
            "`for` with a phase does not begin a statement: it goes on with a `take`".into(),
        )
        .mend("indent this line deeper than the line it goes on with");
    }
    if let Some(home) = home(word) {
        return at("OV-102", format!("`{word}` does not belong {place}"))
            .expected(format!("`{word}` {home}"));
    }
    let d = at(
        "OV-102",
        format!("`{shown}` does not begin a statement {place}"),
    );
    if let Some((_, ours)) = OTHER_WORDS.iter().find(|(w, _)| *w == small) {
        return d.expected(format!("{ours}, if that is meant"));
    }
    match nearest(word, known.iter().copied()) {
        Some(near) => d.mend(format!("did you mean `{near}`?")),
        None => d.expected(format!("a line that begins with {list}")),
    }
}

/// A comment as other notations write it, and a brace that opens nothing.
fn comment_or_brace(piece: &str, at: Tell<'_>) -> Option<Diagnostic> {
    if let Some(sign) = ["//", "/*", "--"]
        .into_iter()
        .find(|s| piece.starts_with(s))
    {
        let d = at("OV-120", format!("`{sign}` does not begin a comment"))
            .expected("# before a comment")
            .mend("write # instead");
        return Some(d);
    }
    piece.starts_with('{').then(|| {
        at("OV-104", "this { opens nothing".into())
            .expected("{ only at the end of a block's heading")
    })
}

/// A rule whose name or sign is written as other notations write it.
fn broken_rule(word: &str, rest: &str, known: &[&str], at: Tell<'_>) -> Option<Diagnostic> {
    if !is_name(word) {
        return None;
    }
    if rest.starts_with(':') {
        let d = at(
            "OV-120",
            format!(
                "a rule is named with =, not with {}",
                &rest[..1 + usize::from(rest.starts_with(":="))]
            ),
        )
        .expected(format!("{word} = FORMULA"))
        .mend("write = instead");
        return Some(d);
    }
    let one_word = |fault: &str, found: String, tail: &str| {
        at("OV-131", fault.into())
            .found(found)
            .expected(format!("{word}_{tail}"))
            .mend(format!("write {word}_{tail}"))
    };
    if let Some(after) = rest.strip_prefix('-')
        && word_end_is(after, '=')
    {
        let tail = word_at(after.trim_start());
        let found = format!("{word}-{tail}");
        return Some(one_word("a name cannot hold a hyphen", found, tail));
    }
    if word_end_is(rest, '=') && !known.contains(&word) && !begins_statement(word) && word != "let"
    {
        let tail = word_at(rest);
        let found = format!("{word} {tail}");
        return Some(one_word("a name cannot contain a space", found, tail));
    }
    None
}

/// Where a word of the language is.
fn home(word: &str) -> Option<&'static str> {
    match word {
        "take" | "part" | "require" | "decide" => Some("only inside a `for` block"),
        "with" | "expect" | "row" => Some("only inside a `trial` block"),
        "prices" | "money" | "ties" | "split" | "round" => {
            Some("only inside the `job` block of a job sheet")
        }
        "caution" => Some("only at the top of a sheet or inside a `for` block"),
        "change" => Some("only at the top of a sheet or inside an `alternate` block"),
        w if TOP_WORDS.contains(&w) => Some("only at the top of a sheet, outside all blocks"),
        _ => None,
    }
}

/// Whether a text is one word followed by this sign.
fn word_end_is(text: &str, sign: char) -> bool {
    let text = text.trim_start();
    let word = word_at(text);
    is_name(word) && text[word.len()..].trim_start().starts_with(sign)
}
