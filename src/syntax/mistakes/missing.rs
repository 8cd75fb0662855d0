//! Words that are missing, or are where another word belongs.

use super::{Stop, is_name, is_number, last_word, word_at};
use crate::diagnostics::Diagnostic;

/// `3 man-hours`, `20 labor minutes`: hours and minutes are always a person's.
pub(super) fn hours_of_a_person(stop: &Stop<'_>) -> Option<Diagnostic> {
    let whose = stop.last();
    let unit = word_at(stop.rest().trim_start_matches(['-', ' ']));
    let ours = match unit {
        "h" | "hr" | "hrs" | "hour" | "hours" => "h",
        "min" | "mins" | "minute" | "minutes" => "min",
        _ => return None,
    };
    ["man", "person", "labor", "labour", "worker", "crew"]
        .contains(&whose)
        .then(|| {
            stop.tell_last("OV-126", format!("`{whose}` is not the word for this"))
                .found(format!("{whose} {unit}"))
                .expected(format!("`{ours}`, which is always of one person's work"))
        })
}

const AGGREGATES: &[&str] = &["sum", "count", "least", "most", "mean", "any", "all"];

/// A word of another notation or of plain speech, and the word of the sheets: forms it is looked for in (`formula` for all
/// that hold formulas), the word, what to write.
const OTHER_WORDS: &[(&str, &str, &str)] = &[
    ("formula", "elif", "else if"),
    ("formula", "elseif", "else if"),
    ("formula", "elsif", "else if"),
    ("formula", "round", "rounded"),
    ("formula", "rounding", "rounded"),
    ("formula", "unless", "when not"),
    ("formula", "otherwise", "else"),
    ("formula", "except", "and not"),
    ("formula", "equals", "is"),
    ("formula", "xor", "is not"),
    ("decide line", "if", "when"),
    ("decide line", "else", "otherwise"),
    ("decide line", "reason", "because"),
    ("take", "if", "when"),
    ("caution", "if", "when"),
    ("charge", "markup", "mark-up on"),
    ("charge", "markup_on", "mark-up on"),
    ("final", "round", "rounded"),
    ("change", "as", "to"),
    ("change", "into", "to"),
    ("expect", "is", "="),
    ("expect", "to", "="),
    ("with", "is", "="),
    ("row", "is", "="),
    ("with", "and", ","),
    ("row", "and", ","),
    ("column", "required", ""),
    ("column", "unique", "key"),
    ("column", "heading", "headed"),
    ("column", "header", "headed"),
    ("column", "default", "if blank"),
    ("column", "integer", "whole"),
    ("given", "between", "from"),
    ("given", "range", "from"),
    ("given", "comment", "note"),
    ("block heading", "every", "each"),
    ("block heading", "all", "each"),
    ("block heading", "in", "of"),
    ("choice", "or", ","),
    ("choice", "and", ","),
    ("counted", "and", ","),
    ("phases", "and", ","),
    ("job line", "currency", "money"),
];

/// A word that says the right thing in the wrong words.
pub(super) fn other_word(stop: &Stop<'_>) -> Option<Diagnostic> {
    base_of_charge(stop)
        .or_else(|| second_comparison(stop))
        .or_else(|| rounding_word(stop))
        .or_else(|| aggregate_word(stop))
        .or_else(|| formula_in_given(stop))
        .or_else(|| word_of_one_place(stop))
        .or_else(|| listed_word(stop))
}

/// `mark-up of` and `margin of`.
fn base_of_charge(stop: &Stop<'_>) -> Option<Diagnostic> {
    for way in ["mark-up", "margin"] {
        if stop.form.name == "charge"
            && let Some(base) = stop
                .rest()
                .strip_prefix(way)
                .and_then(|r| r.trim_start().strip_prefix("of "))
        {
            return Some(
                stop.tell("OV-126", format!("a {way} is `on` a base, not `of` it"))
                    .expected(format!("{way} on BASE"))
                    .mend(format!("write {way} on {}", base.trim())),
            );
        }
    }
    None
}

/// `wide > 3 ft and < 5 ft`: the second comparison lacks what it compares.
fn second_comparison(stop: &Stop<'_>) -> Option<Diagnostic> {
    let last = stop.last();
    if stop.has_formula()
        && matches!(last, "and" | "or")
        && let Some(sign) = ["<=", ">=", "<", ">"]
            .into_iter()
            .find(|s| stop.rest().starts_with(s))
    {
        let first = stop.masked_before();
        let at = first.find(['<', '>']);
        let subject = at
            .map(|at| last_word(first[..at].trim_end()))
            .filter(|w| is_name(w));
        let subject = subject.unwrap_or("NAME");
        return Some(
            stop.tell(
                "OV-126",
                format!("what is compared is missing before `{sign}`"),
            )
            .expected(format!(
                "repeat it, {last} {subject} {sign} ..., or: {subject} is between LOW and HIGH"
            )),
        );
    }
    None
}

/// `given a wide`, `given a 2 in * b`: a formula where a figure belongs.
fn formula_in_given(stop: &Stop<'_>) -> Option<Diagnostic> {
    let last = stop.last();
    let operator = stop
        .rest()
        .starts_with(['+', '-', '*', '/', '^', '(', '<', '>']);
    let name_alone =
        stop.rest().is_empty() && stop.before().split_whitespace().count() == 3 && is_name(last);
    if stop.form.name == "given" && (operator || name_alone) {
        return Some(stop.tell_last("OV-136", "a given is a written figure, not a formula").found(stop.found()).expected(
            "a number with its unit, yes, no, or LABEL one of LABELS; what is worked out is a rule: NAME = FORMULA in a `for` block",
        ));
    }
    None
}

/// Words that are wrong in one place of one statement only.
fn word_of_one_place(stop: &Stop<'_>) -> Option<Diagnostic> {
    let (word, last) = (stop.word(), stop.last());
    if stop.form.name == "block heading" && word == "from" && stop.before().contains(" by ") {
        return Some(
            stop.tell("OV-126", "`from` comes before `by`")
                .expected("table NAME from \"FILE.csv\" by KEY, ..."),
        );
    }
    if stop.form.name == "take" && last == "take" && is_number(word) {
        return Some(
            stop.tell("OV-126", "the resource is missing before its amount")
                .expected(stop.form.pattern),
        );
    }
    if last == "choose" && stop.rest().starts_with('{') {
        return Some(
            stop.tell_last("OV-123", "what to choose by is missing after `choose`")
                .expected("choose NAME { LABEL: VALUE   LABEL: VALUE }"),
        );
    }
    if stop.is_form(&["column"]) && word == "to" && stop.before().contains("between") {
        return Some(
            stop.tell("OV-126", "`to` is not the word for this")
                .expected("`and`: between 12 in and 8 ft"),
        );
    }
    if word == "else" && stop.in_choose() {
        return Some(
            stop.tell("OV-126", "`else` is not the word for this")
                .expected("`otherwise`: choose kind { single: 1 sash   otherwise: 2 sash }"),
        );
    }
    None
}

/// A word of the list of other words.
fn listed_word(stop: &Stop<'_>) -> Option<Diagnostic> {
    let (word, last) = (stop.word(), stop.last());
    let formula = stop.has_formula();
    let fits = |form: &str| form == stop.form.name || form == "formula" && formula;
    // In `a elif b` the word may have been read as a unit or a name already.
    let (at_stop, row) = match OTHER_WORDS.iter().find(|(f, w, _)| fits(f) && *w == word) {
        Some(row) => (true, row),
        None => (
            false,
            OTHER_WORDS
                .iter()
                .take(6)
                .find(|(f, w, _)| fits(f) && *w == last && !word.is_empty())?,
        ),
    };
    let tell = |m: String| {
        if at_stop {
            stop.tell("OV-126", m)
        } else {
            stop.tell_last("OV-126", m)
        }
    };
    Some(match row.2 {
        "" => tell(format!("`{}` is not a word of the language", row.1))
            .expected("nothing: a column is required unless it is `optional` or has `if blank`"),
        write => stop.with_form(
            tell(format!("`{}` is not the word for this", row.1)).expected(format!("`{write}`")),
        ),
    })
}

/// `rounded to nearest` and the like.
fn rounding_word(stop: &Stop<'_>) -> Option<Diagnostic> {
    let before = stop.before();
    if !before.contains("rounded") {
        return None;
    }
    const NEAREST: &str =
        "`rounded to` alone is to the nearest; `rounded up to` and `rounded down to` go one way";
    if ["nearest", "next", "the", "closest"].contains(&stop.last()) {
        return Some(
            stop.tell_last("OV-126", format!("`{}` is not said here", stop.last()))
                .expected(NEAREST)
                .mend("take it out"),
        );
    }
    let word = stop.word();
    let near = match word {
        "nearest" | "next" | "the" | "closest" | "off" => {
            return Some(
                stop.tell("OV-126", format!("`{word}` is not said here"))
                    .expected(NEAREST),
            );
        }
        "upwards" | "upward" | "ceiling" => "rounded up to",
        "downwards" | "downward" | "floor" => "rounded down to",
        _ => return None,
    };
    Some(
        stop.tell("OV-126", format!("`{word}` is not the word for this"))
            .expected(format!("`{near}`")),
    )
}

/// `total of` for `sum of`.
fn aggregate_word(stop: &Stop<'_>) -> Option<Diagnostic> {
    if !stop.has_formula() {
        return None;
    }
    if stop.word() == "by" && stop.before().contains("mean of") {
        return Some(
            stop.tell("OV-126", "`weighted` is missing before `by`")
                .expected("mean of VALUE weighted by WEIGHT"),
        );
    }
    if stop.word() != "of" {
        return None;
    }
    let ours = match stop.last() {
        "total" | "totals" | "add" => "sum of",
        "max" | "maximum" | "largest" | "greatest" | "highest" => "most of",
        "min" | "minimum" | "smallest" | "lowest" => "least of",
        "average" | "avg" => "mean of VALUE weighted by WEIGHT",
        "number" => "count of",
        _ => return None,
    };
    Some(
        stop.tell_last(
            "OV-126",
            format!("`{}` is not the word for this", stop.last()),
        )
        .expected(format!("`{ours}`")),
    )
}

/// `waste 35` where a percent is needed.
pub(super) fn percent_sign(stop: &Stop<'_>) -> Option<Diagnostic> {
    let last = stop.last();
    if is_number(stop.word()) && matches!(last, "waste" | "yield") {
        let share = stop.word();
        return Some(
            stop.tell("OV-134", "this share lacks its percent sign")
                .expected(format!("{share} %"))
                .mend(format!("write {share} %")),
        );
    }
    let needs = is_number(last) && matches!(stop.last_but_one(), "waste" | "yield")
        || is_number(last)
            && stop.is_form(&["charge", "pay line"])
            && matches!(stop.word(), "of" | "mark" | "margin");
    if !needs {
        return None;
    }
    Some(
        stop.tell_last("OV-134", "this share lacks its percent sign")
            .expected(format!("{last} %"))
            .mend(format!("write {last} %")),
    )
}

/// A text without its quotes.
pub(super) fn quotes(stop: &Stop<'_>) -> Option<Diagnostic> {
    let text_only = stop.wanted == ["a text in double quotes"];
    if !text_only || stop.rest().is_empty() || stop.rest().starts_with('"') {
        return None;
    }
    let d = stop.tell(
        "OV-127",
        format!(
            "a text needs double quotes, and `{}` has none",
            stop.shown()
        ),
    );
    // The text ends where the words do: only when nothing but words follows is the mend certain.
    let rest = stop.rest().trim_end();
    let plain = rest
        .chars()
        .all(|c| c.is_alphanumeric() || " ._/-".contains(c))
        && rest
            .split_whitespace()
            .all(|w| !super::RESERVED.contains(&w));
    let known = ["source", "note", "headed", "tab", "layer"]
        .iter()
        .any(|w| rest.split_whitespace().any(|x| x == *w));
    Some(if plain && !known {
        d.mend(format!("write \"{rest}\""))
    } else {
        stop.with_form(d.expected("\"...\""))
    })
}

/// A word the form needs.
pub(super) fn word(stop: &Stop<'_>) -> Option<Diagnostic> {
    let missing = missing_word(stop)?;
    let (code, rest) = ("OV-126", stop.rest());
    let lacks = format!(
        "{} is missing",
        missing
            .word
            .split(" or ")
            .map(|w| format!("`{w}`"))
            .collect::<Vec<_>>()
            .join(" or ")
    );
    let d = if rest.is_empty() {
        let last = last_piece(stop.before());
        stop.tell_at(
            code,
            format!("{lacks} after `{last}`"),
            stop.before().len() - last.len(),
            last.len(),
        )
    } else {
        stop.tell(code, format!("{lacks} before `{}`", stop.shown()))
    };
    Some(
        d.found(stop.found()).expected(
            missing
                .expected
                .unwrap_or_else(|| stop.form.pattern.to_string()),
        ),
    )
}

struct Missing {
    word: &'static str,
    /// How it should read; the statement's form when there is nothing nearer.
    expected: Option<String>,
}

fn just(word: &'static str) -> Option<Missing> {
    Some(Missing {
        word,
        expected: None,
    })
}

fn near(word: &'static str, expected: impl Into<String>) -> Option<Missing> {
    Some(Missing {
        word,
        expected: Some(expected.into()),
    })
}

fn missing_word(stop: &Stop<'_>) -> Option<Missing> {
    missing_in_statement(stop).or_else(|| {
        stop.has_formula()
            .then(|| missing_in_formula(stop))
            .flatten()
    })
}

fn missing_in_statement(stop: &Stop<'_>) -> Option<Missing> {
    let (rest, word, last, earlier) = (stop.rest(), stop.word(), stop.last(), stop.last_but_one());
    let before = stop.before();
    let said = |w: &str| stop.says(w);
    let text_follows = rest.starts_with('"');
    match stop.form.name {
        "take" if text_follows && !said("for") => {
            return near("for", format!("for {}", first_text(rest)));
        }
        "require" if (text_follows || rest.is_empty()) && !said("else") && stop.wants("`else`") => {
            return just("else");
        }
        "decide line"
            if (text_follows || rest.is_empty()) && !said("because") && stop.wants("`because`") =>
        {
            return just("because");
        }
        "decide line" if before.split_whitespace().count() == 1 && word == "because" => {
            return just("when or otherwise");
        }
        "decide line" if before.split_whitespace().count() == 1 && stop.value_follows() => {
            return just("when");
        }
        "change" if !said("to") && stop.value_follows() => return just("to"),
        "change" if text_follows && !said("because") => return just("because"),
        "choice" if before.split_whitespace().count() == 2 && is_name(word) => {
            return just("one of");
        }
        "choice" | "column" | "given" if last == "one" && is_name(word) => {
            return near("of", format!("one of {word}"));
        }
        "column" if last == "count" && is_name(word) => {
            return near("of", format!("count of {word}"));
        }
        "resource" if last == "bought" && is_name(word) => {
            return near(
                "in",
                "bought in PACKS of QUANTITY, such as bought in boxes of 100 point",
            );
        }
        "resource" if earlier == "in" && said("bought") && is_number(word) => {
            return near("of", format!("bought in {last} of {word} ..."));
        }
        "use" | "sheet" => {}
        "expect" if !said("=") && !rest.is_empty() && stop.value_follows() => return just("="),
        "helper" if !before.contains('=') && before.ends_with(')') && stop.value_follows() => {
            return just("=");
        }
        "final" if !said("rounded") => return just("rounded"),
        "charge" | "pay line" if before.ends_with('%') && is_name(word) => {
            // `30 % on labor`: the base is what comes after the word that was taken for `of`.
            let base = match word {
                "on" => word_at(rest[word.len()..].trim_start()),
                _ => word,
            };
            let base = if base.is_empty() { "BASE" } else { base };
            return near(
                "of",
                format!(
                    "{} % of {base}",
                    last_piece(before.trim_end_matches([' ', '%']))
                ),
            );
        }
        "block heading" => return missing_in_heading(stop),
        "job line" => return missing_in_job_line(stop),
        _ => {}
    }
    None
}

fn missing_in_job_line(stop: &Stop<'_>) -> Option<Missing> {
    let word = stop.word();
    match (word_at(stop.before()), stop.last()) {
        ("survey" | "prices", _) if stop.rest().starts_with('"') && !stop.says("from") => {
            just("from")
        }
        ("ties", "ties") if matches!(word, "up" | "down" | "even") => {
            near("half", format!("ties half {word}"))
        }
        ("split", "split") if is_name(word) => near("by", format!("split by {word}")),
        ("round", "round") if word == "each" => near("money", "round money each line"),
        ("round", "money") if matches!(word, "line" | "opening") => {
            near("each", format!("round money each {word}"))
        }
        _ => None,
    }
}

fn missing_in_formula(stop: &Stop<'_>) -> Option<Missing> {
    let (rest, word, last, earlier) = (stop.rest(), stop.word(), stop.last(), stop.last_but_one());
    let before = stop.before();
    let said = |w: &str| stop.says(w);
    if AGGREGATES.contains(&last) && (is_name(word) || rest.starts_with('(')) {
        return near(
            "of",
            format!("{last} of {}", if word.is_empty() { "(...)" } else { word }),
        );
    }
    if matches!(last, "rounded" | "up" | "down" | "even" | "zero")
        && said("rounded")
        && word != "to"
        && stop.value_follows()
    {
        return near(
            "to",
            format!("{} to {}", rounding_words(before), value_text(rest)),
        );
    }
    if matches!(last, "shared" | "weighted") && is_name(word) {
        return near("by", format!("{last} by {word}"));
    }
    if matches!(word, "between" | "blank" | "known") && stop.wants("an operator") && last != "is" {
        return near("is", format!("{last} is {word}"));
    }
    if word == "one" && rest[3..].trim_start().starts_with("of") && stop.wants("an operator") {
        return near("is", format!("{last} is one of ..."));
    }
    if word == "in"
        && stop.wants("an operator")
        && is_name(last)
        && rest[2..].trim_start().starts_with(is_label_start)
    {
        return near("is one of", format!("{last} is one of ..."));
    }
    if stop.wants(":") && stop.in_choose() && stop.value_follows() {
        return near(":", format!("{last}: {}", value_text(rest)));
    }
    if stop.wants("(") && stop.form.name == "helper" {
        return just("(");
    }
    if stop.wants("`then`") && (stop.value_follows() || word == "else") {
        return just("then").map(|m| Missing {
            expected: Some("if CONDITION then VALUE else VALUE".into()),
            ..m
        });
    }
    if stop.wants("`else`") && rest.is_empty() && said("then") {
        return near(
            "else",
            "if CONDITION then VALUE else VALUE; every `if` says both values",
        );
    }
    if stop.wants("`at`") && earlier == "from" && stop.value_follows() {
        return near("at", "VALUE from TABLE at KEY");
    }
    None
}

fn is_label_start(c: char) -> bool {
    c.is_alphabetic() || c == '('
}

fn missing_in_heading(stop: &Stop<'_>) -> Option<Missing> {
    let (rest, word, before) = (stop.rest(), stop.word(), stop.before());
    let words: Vec<_> = before.split_whitespace().collect();
    match words.as_slice() {
        ["for"] if word == "job" => near("the", "for the job {"),
        ["for"] if is_name(word) => near(
            "each",
            "for each TABLE {   or   for each GROUP of TABLE by KEY {",
        ),
        ["for", "each", _] if word == "by" => near("of TABLE", "for each GROUP of TABLE by KEY {"),
        ["for", "each", _, "of", _] if rest.is_empty() => {
            near("by", "for each GROUP of TABLE by KEY {")
        }
        ["survey", _, "of", _] if rest.is_empty() => {
            near("by", "survey TABLE of TABLE_ABOVE by COLUMN {")
        }
        ["table", _] if rest.is_empty() => near("by", "table NAME by KEY {"),
        ["table", _, "from", ..] if rest.is_empty() => {
            near("by", "table NAME from \"FILE.csv\" by KEY")
        }
        ["decide", _, "first"] => near("that holds", "decide NAME first that holds {"),
        ["decide", _, "first", "that"] => near("holds", "decide NAME first that holds {"),
        _ => None,
    }
}

/// `rounded up` of `... rounded up`.
fn rounding_words(before: &str) -> &str {
    before.rfind("rounded").map_or("rounded", |i| &before[i..])
}

/// The first few words of what follows.
fn value_text(rest: &str) -> String {
    rest.split_whitespace()
        .take(2)
        .collect::<Vec<_>>()
        .join(" ")
}

fn first_text(rest: &str) -> &str {
    match rest[1..].find('"') {
        Some(i) => &rest[..i + 2],
        None => rest,
    }
}

/// The last word or sign.
fn last_piece(before: &str) -> &str {
    let start = before
        .char_indices()
        .rev()
        .find(|(_, c)| !(c.is_alphanumeric() || "_/.".contains(*c)))
        .map_or(0, |(i, c)| i + c.len_utf8());
    match &before[start..] {
        "" => &before[before.char_indices().next_back().map_or(0, |(i, _)| i)..],
        word => word,
    }
}

/// The statement ends where more is needed.
pub(super) fn ends_early(stop: &Stop<'_>) -> Option<Diagnostic> {
    if !stop.rest().is_empty() {
        return None;
    }
    let last = last_piece(stop.before());
    let code = if stop.wanted == ["a unit"] {
        "OV-133"
    } else {
        "OV-123"
    };
    let message = match stop.wanted.as_slice() {
        ["a unit"] => format!("the unit is missing after `{last}`"),
        ["a value"] => format!("a value is missing after `{last}`"),
        ["a text in double quotes"] => format!("a text is missing after `{last}`"),
        _ => format!("the statement stops too early, after `{last}`"),
    };
    let d = stop.tell_at(code, message, stop.before().len() - last.len(), last.len());
    let d = stop.due(d);
    Some(
        if stop.has_formula() && (stop.wants("an operator") || stop.wanted == ["a value"]) {
            d.note("a line that goes on must be indented deeper than the one it began on")
        } else {
            d
        },
    )
}
