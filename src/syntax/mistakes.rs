//! Plain words for what the grammar could not read: looks at the place where reading stopped and at the usual slips.

use crate::diagnostics::{Diagnostic, Span};

/// The message for a stretch of text that stopped being readable at byte `at` of the stretch.
pub fn explain(text: &str, span: Span, at: usize) -> Diagnostic {
    let piece = text.get(span.start as usize..span.end as usize).unwrap_or("");
    let mut at = at.min(piece.len());
    while !piece.is_char_boundary(at) {
        at -= 1;
    }
    let rest = &piece[at..];
    let before = piece[..at].trim_end();
    let word: String = rest.chars().take_while(|c| c.is_alphanumeric() || *c == '_').collect();
    let place = |len: usize| Span {
        start: span.start + u32::try_from(at).unwrap_or(0),
        end: span.start + u32::try_from((at + len.max(1)).min(piece.len().max(at))).unwrap_or(0),
        ..span
    };
    let d = |code, message: String, len: usize| Diagnostic::error(code, message).at(place(len), "");
    let last = before.chars().next_back();
    if let Some(slip) = symbol_slip(rest) {
        return d("OV-120", format!("`{}` is not written so here", slip.0), slip.0.len()).expected(slip.1).mend(format!("write {}", slip.2));
    }
    if rest.starts_with(',') && last.is_some_and(|c| c.is_ascii_digit()) && rest[1..].starts_with(|c: char| c.is_ascii_digit()) {
        return d("OV-121", "a comma stands in a number".into(), 1)
            .expected("a point before decimals, and no mark between thousands: 30.5, 1250");
    }
    if rest.is_empty() {
        let open = before.matches('(').count() > before.matches(')').count();
        return if open {
            d("OV-122", "a bracket is opened and never closed".into(), 1).expected("a closing )")
        } else {
            d("OV-123", "the statement stops too early".into(), 1).found(tail(before)).expected("a value, or the rest of the statement; lines that go on are indented deeper")
        };
    }
    if rest.starts_with(')') && before.matches('(').count() <= before.matches(')').count() {
        return d("OV-122", "this ) closes nothing".into(), 1).expected("as many ( as )");
    }
    if rest.starts_with('}') {
        return d("OV-122", "this } comes too early".into(), 1).found(tail(before)).expected("a value before the block ends");
    }
    if word.chars().next().is_some_and(|c| c.is_ascii_digit()) && last.is_some_and(|c| c.is_alphanumeric() || c == ')') {
        return d("OV-124", "a number stands here without an operator before it".into(), word.len())
            .found(format!("{} {word}", tail(before)))
            .expected("one of + - * / or a comparison between them");
    }
    if RESERVED.contains(&word.as_str()) {
        return d("OV-125", format!("the word `{word}` cannot stand here"), word.len())
            .found(format!("{} {word}", tail(before)))
            .expected("a value, or the rest of the statement")
            .note(format!("`{word}` has a meaning of its own in sheets and cannot name anything"));
    }
    let len = if word.is_empty() { rest.chars().next().map_or(1, char::len_utf8) } else { word.len() };
    let shown: String = if word.is_empty() { rest.chars().take(1).collect() } else { word };
    d("OV-101", format!("`{shown}` cannot be read here"), len)
        .found(format!("{} {shown}", tail(before)).trim().to_string())
        .expected("an operator, the end of the statement, or one of the words this statement knows")
}

const RESERVED: &[&str] = &[
    "if", "then", "else", "and", "or", "not", "is", "rounded", "per", "from", "at", "where", "weighted", "shared", "when", "for",
    "because", "interpolated", "otherwise", "to", "choose", "yes", "no", "unknown", "by", "of", "was",
];

/// Signs of other notations: what was written, what is meant, what to write.
fn symbol_slip(rest: &str) -> Option<(&'static str, &'static str, &'static str)> {
    const SLIPS: &[(&str, &str, &str)] = &[
        ("==", "a comparison uses the word `is`", "is"),
        ("!=", "a comparison uses the words `is not`", "is not"),
        ("<>", "a comparison uses the words `is not`", "is not"),
        ("≠", "a comparison uses the words `is not`", "is not"),
        ("=", "a comparison uses the word `is`; one `=` names a rule", "is"),
        ("&&", "conditions are joined by words", "and"),
        ("||", "conditions are joined by words", "or"),
        ("&", "conditions are joined by words", "and"),
        ("!", "a condition is turned round by a word", "not"),
        ("?", "a choice between two values is said in words", "if ... then ... else ..."),
        ("**", "a power is written with ^", "^"),
        ("'", "texts stand in double quotes; one quote mark is feet after a number", "\"...\""),
        ("$", "money is written with its currency after the number", "12.50 USD"),
        (";", "a statement ends with its line", "each statement on a line of its own"),
        ("[", "brackets are round", "( ... )"),
        ("]", "brackets are round", "( ... )"),
    ];
    SLIPS.iter().find(|(sign, ..)| rest.starts_with(sign)).copied()
}

/// The last few words before a place.
fn tail(before: &str) -> String {
    let words: Vec<_> = before.split_whitespace().collect();
    words[words.len().saturating_sub(3)..].join(" ")
}
