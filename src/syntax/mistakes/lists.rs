//! Slips of names, lists, column types, and two statements on one line.

use super::{RESERVED, Stop, is_name, is_number, last_word, word_at};
use crate::diagnostics::Diagnostic;
use crate::syntax::lines::begins_statement;

/// `If` or `AND`: the words of the language are written small.
pub(super) fn capital_word(stop: &Stop<'_>) -> Option<Diagnostic> {
    let capital = |w: &str| {
        let small = w.to_lowercase();
        (small != w
            && (RESERVED.contains(&small.as_str())
                || ["sum", "count", "least", "most", "mean"].contains(&small.as_str())))
        .then_some(small)
    };
    let tell = |d: Diagnostic, small: String| d.mend(format!("write `{small}`"));
    if let Some(small) = capital(stop.word()) {
        return Some(tell(
            stop.tell(
                "OV-128",
                format!(
                    "`{}` is not read: words of the language are written small",
                    stop.word()
                ),
            ),
            small,
        ));
    }
    // `If x then`: the capital word was read as a name.
    let small =
        capital(stop.last()).filter(|_| !stop.word().is_empty() || stop.rest().starts_with('('))?;
    Some(tell(
        stop.tell_last(
            "OV-128",
            format!(
                "`{}` is not read: words of the language are written small",
                stop.last()
            ),
        ),
        small,
    ))
}

/// A word of a column or a given that this could be a slip of.
fn near_word(word: &str) -> Option<&'static str> {
    crate::diagnostics::suggest::nearest(
        word,
        [
            "optional", "headed", "between", "whole", "source", "note", "key", "quarters", "adds",
            "if", "may",
        ],
    )
}

/// First words of types of columns.
const COLUMN_TYPES: [&str; 12] = [
    "text", "length", "area", "volume", "mass", "labor", "time", "money", "number", "percent",
    "date", "count",
];

/// Words other notations use for the types of columns.
const TYPES: &[(&[&str], &str)] = &[
    (&["string", "str", "name", "words"], "text"),
    (&["integer", "int", "whole"], "number whole"),
    (&["decimal", "float", "real", "numeric", "double"], "number"),
    (
        &["boolean", "bool", "flag", "true", "false", "yn", "y"],
        "yes or no",
    ),
    (
        &["enum", "choice", "category", "list"],
        "one of LABEL, LABEL   or   of CHOICE",
    ),
    (&["percentage", "pct"], "percent"),
    (&["weight"], "mass in lb"),
    (
        &[
            "size",
            "width",
            "height",
            "dimension",
            "distance",
            "inches",
            "feet",
            "inch",
            "mm",
            "in",
            "ft",
        ],
        "length in in",
    ),
    (&["hours", "minutes"], "labor in h"),
    (&["days"], "time in day"),
    (&["price", "currency", "cost"], "money in USD"),
    (&["quantity", "qty"], "count of NOUN   or   number"),
];

/// A column without a type, or with one from elsewhere, or a quantity without its unit.
pub(super) fn column_type(stop: &Stop<'_>) -> Option<Diagnostic> {
    if !stop.is_form(&["column"]) {
        return None;
    }
    let before = stop.before();
    let words: Vec<_> = before.split_whitespace().collect();
    let measures = ["length", "area", "volume", "mass", "labor", "time", "money"];
    match words.as_slice() {
        [_, kind] if measures.contains(kind) => {
            let word = stop.word();
            let expected = format!("{kind} in UNIT, such as {kind} in {}", unit_of(kind));
            Some(
                if word.is_empty()
                    || !is_name(word)
                    || ["between", "headed", "key", "optional", "note", "source"].contains(&word)
                {
                    stop.tell_last("OV-133", format!("the unit is missing after `{kind}`"))
                        .expected(expected)
                } else {
                    stop.tell("OV-126", format!("`in` is missing before `{word}`"))
                        .found(stop.found())
                        .expected(expected)
                },
            )
        }
        [name] => {
            let word = stop.word();
            if word == "one" || word == "of" || word == "count" || word == "yes" {
                return None;
            }
            let types = "text, length in UNIT (or area, volume, mass, labor, time, money), number, count of NOUN, percent, yes or no, date, one of LABELS, of CHOICE";
            if word.is_empty() {
                return Some(
                    stop.tell_last("OV-132", format!("the column `{name}` has no type"))
                        .expected(types),
                );
            }
            let d = stop.tell("OV-132", format!("`{word}` is not a type of column"));
            // `stile face length in in`: a name of two words, with its type behind it.
            let behind = word_at(stop.rest()[word.len()..].trim_start());
            if is_name(word) && (COLUMN_TYPES.contains(&behind) || behind == "one") {
                return Some(
                    stop.tell("OV-131", "a name cannot contain a space")
                        .found(format!("{name} {word}"))
                        .expected(format!("{name}_{word}"))
                        .mend(format!("write {name}_{word}")),
                );
            }
            Some(
                match TYPES
                    .iter()
                    .find(|(others, _)| others.contains(&word.to_lowercase().as_str()))
                {
                    Some((_, ours)) => d.expected(*ours),
                    None => match crate::diagnostics::suggest::nearest(word, COLUMN_TYPES) {
                        Some(near) => d.expected(types).mend(format!("did you mean `{near}`?")),
                        None => d.expected(types),
                    },
                },
            )
        }
        [_, "one", "of"] if stop.rest().starts_with('"') => {
            let label: String = stop.rest()[1..].chars().take_while(|c| *c != '"').collect();
            let d = stop
                .tell("OV-127", "a label is a name, without quotes")
                .expected("one of LABEL (\"SPELLING\"), LABEL, ...");
            Some(if is_name(&label) && label == word_at(&label) {
                d.mend(format!("write {label}"))
            } else {
                d
            })
        }
        [_, "yes"] if stop.rest().starts_with('/') => Some(
            stop.tell("OV-126", "`or` is missing after `yes`")
                .expected("yes or no")
                .mend("write `yes or no`"),
        ),
        [_, "number"] if !stop.rest().is_empty() && stop.word() == "per" => Some(
            stop.tell("OV-126", "`in` is missing before `per`")
                .expected("number in UNIT per UNIT, such as number in min per lite"),
        ),
        _ => None,
    }
}

fn unit_of(kind: &str) -> &'static str {
    match kind {
        "length" => "in",
        "area" => "sq ft",
        "volume" => "cu in",
        "mass" => "lb",
        "labor" => "h",
        "time" => "day",
        _ => "USD",
    }
}

/// A second statement on the same line.
pub(super) fn two_statements(stop: &Stop<'_>) -> Option<Diagnostic> {
    let tell = |start: usize, len: usize| {
        Some(
            stop.tell_at(
                "OV-129",
                "a second statement begins on this line",
                start,
                len,
            )
            .expected("each statement on a line of its own"),
        )
    };
    let word = stop.word();
    let before_stop_on_line = !stop.piece[..stop.at]
        .trim_end_matches([' ', '\t'])
        .ends_with('\n');
    let equals =
        |text: &str| text.trim_start().starts_with('=') && !text.trim_start().starts_with("==");
    // `2 take joiner`: the word was read as a unit.
    if begins_statement(stop.last()) && is_number(stop.last_but_one()) && is_name(word) {
        return tell(stop.before().len() - stop.last().len(), stop.last().len());
    }
    if stop.is_form(&["rule", "take"])
        && !stop.in_choose()
        && is_name(word)
        && equals(&stop.rest()[word.len()..])
    {
        if before_stop_on_line {
            return tell(stop.at, word.len());
        }
        return Some(indented(stop, word));
    }
    // `a = 1 b = 2`: the second name was read as a unit.
    if stop.is_form(&["rule", "take"])
        && !stop.in_choose()
        && equals(stop.rest())
        && is_name(stop.last())
    {
        return tell(stop.before().len() - stop.last().len(), stop.last().len());
    }
    if begins_statement(word)
        && stop.before().split_whitespace().count() > 1
        && stop.value_or_end_before()
    {
        if before_stop_on_line {
            return tell(stop.at, word.len());
        }
        return Some(indented(stop, word));
    }
    None
}

fn indented(stop: &Stop<'_>, word: &str) -> Diagnostic {
    stop.tell("OV-129", format!("`{word}` looks like a new statement, but its line is indented deeper than the one before"))
        .expected("statements of one block begin at the same depth; a deeper line continues the one above it")
}

/// A comma that is missing, or one too many.
pub(super) fn comma(stop: &Stop<'_>) -> Option<Diagnostic> {
    let rest = stop.rest();
    if let Some(after) = rest.strip_prefix(',') {
        let next = word_at(after.trim_start());
        if stop.in_choose() && is_name(next) {
            return Some(
                stop.tell("OV-135", "there is a comma between the arms of `choose`")
                    .expected("arms side by side: single: 1 sash   pair: 2 sash; a comma joins labels of one arm")
                    .mend("take the comma out"),
            );
        }
        if after.trim().is_empty() {
            return Some(
                stop.tell("OV-135", "a comma ends the statement")
                    .expected("something after the comma, or no comma"),
            );
        }
        return Some(
            stop.due(
                stop.tell("OV-135", "a comma does not belong here")
                    .found(stop.found()),
            ),
        );
    }
    let word = stop.word();
    let lists = match stop.form.name {
        "phases" => rest.starts_with('"'),
        "counted" | "choice" => is_name(word),
        "with" | "row" => {
            is_name(word) && (stop.rest()[word.len()..].trim_start().starts_with('='))
        }
        "column" | "given" => {
            let before = stop.masked_before();
            rest.starts_with('"') && before.ends_with('"') && before.contains("headed")
                || is_name(word)
                    && is_name(stop.last())
                    && before.contains("one of")
                    && near_word(word).is_none()
        }
        "block heading" => {
            is_name(word)
                && stop.before().split_whitespace().any(|w| w == "by")
                && is_name(stop.last())
        }
        _ => false,
    };
    // `with a = 1 b = 2`: the second name was read as a unit.
    let swallowed = stop.is_form(&["with", "row"])
        && rest.starts_with('=')
        && is_name(stop.last())
        && is_number(stop.last_but_one());
    if swallowed {
        return Some(
            stop.tell_last(
                "OV-135",
                format!("a comma is missing before `{}`", stop.last()),
            )
            .expected("commas between settings: kind = pair, wide = 60 in"),
        );
    }
    lists.then(|| {
        stop.tell(
            "OV-135",
            format!("a comma is missing before `{}`", stop.shown()),
        )
        .found(stop.found())
        .expected(stop.form.pattern)
    })
}

/// `wide - 2 * stile face`, `given stile face 2 in`: one name in two words, or two names with nothing between them.
pub(super) fn name_of_two_words(stop: &Stop<'_>) -> Option<Diagnostic> {
    let words = stop.before().split_whitespace().count();
    let declared = stop.form.name == "given" && words == 3 && is_number(stop.word());
    let (first, second) = match declared {
        true => (stop.last_but_one(), stop.last()),
        false => (stop.last(), stop.word()),
    };
    let in_formula = stop.wanted.contains(&"an operator") && !is_number(stop.last_but_one());
    if !(is_name(first) && is_name(second) && (declared || in_formula)) {
        return None;
    }
    let joined = format!("{first}_{second}");
    let d = stop
        .tell("OV-131", "a name cannot contain a space")
        .found(format!("{first} {second}"));
    Some(match declared {
        true => d.expected(joined.clone()).mend(format!("write {joined}")),
        false => d
            .expected("an operator between two names, or one name without a space")
            .mend(format!("if one name is meant, write {joined}")),
    })
}

/// A name with a hyphen or a blank in it, or one that begins with a digit.
pub(super) fn name_form(stop: &Stop<'_>) -> Option<Diagnostic> {
    let rest = stop.rest();
    let words = stop.before().split_whitespace().count();
    let names_first = stop.is_form(&[
        "given",
        "resource",
        "helper",
        "choice",
        "counted",
        "column",
        "charge",
        "allowance",
        "block heading",
    ]);
    let at_name = words == 1 && names_first
        || words == 2 && stop.form.name == "block heading" && stop.before().ends_with("each")
        || words == 0;
    let rule = "letters, digits and _, beginning with a letter";
    if at_name && is_number(stop.word()) {
        return Some(
            stop.tell("OV-131", "a name cannot begin with a digit")
                .found(stop.shown())
                .expected(rule),
        );
    }
    // `given bar-face`: the stop is after the hyphen, which was read as a minus.
    if names_first
        && words == 2
        && stop.before().ends_with('-')
        && is_name(stop.word())
        && !stop.piece[..stop.at].ends_with(' ')
    {
        let before = &stop.before()[..stop.before().len() - 1];
        if before.ends_with(|c: char| c.is_alphanumeric() || c == '_') {
            return Some(hyphen(stop, before, stop.rest()));
        }
    }
    if at_name && RESERVED.contains(&stop.word()) {
        return None;
    }
    if rest.starts_with('-')
        && words <= 2
        && names_first
        && rest[1..].starts_with(char::is_alphabetic)
    {
        return Some(hyphen(stop, stop.before(), &rest[1..]));
    }
    None
}

fn hyphen(stop: &Stop<'_>, before: &str, after: &str) -> Diagnostic {
    let (a, b) = (last_word(before), word_at(after));
    stop.tell_at(
        "OV-131",
        "a name cannot hold a hyphen",
        before.len() - a.len(),
        a.len() + 1 + b.len(),
    )
    .found(format!("{a}-{b}"))
    .expected(format!("{a}_{b}"))
    .mend(format!("write {a}_{b}"))
}

/// `3 4` and `x 2`.
pub(super) fn number_without_operator(stop: &Stop<'_>) -> Option<Diagnostic> {
    let word = stop.word();
    let after_value = stop
        .last_char()
        .is_some_and(|c| c.is_alphanumeric() || ")'\"′″’”".contains(c));
    if !is_number(word) || !after_value {
        return None;
    }
    let d = stop
        .tell("OV-124", "there is no operator before this number")
        .found(stop.found());
    let feet = stop.last_char().is_some_and(|c| "'′’".contains(c));
    Some(if feet {
        d.expected("inches after feet with their mark: 2'-6 1/2\"")
    } else if stop.has_formula() && stop.wants("an operator") {
        d.expected("one of + - * / or a comparison between them")
    } else {
        stop.due(d)
    })
}

/// A word with a meaning of its own where a name or a value belongs.
pub(super) fn reserved_word(stop: &Stop<'_>) -> Option<Diagnostic> {
    let word = stop.word();
    if !RESERVED.contains(&word) {
        return None;
    }
    let d = if stop.wants("a value") && stop.before().is_empty() || stop.wanted == ["a name"] {
        stop.tell(
            "OV-125",
            format!("`{word}` cannot be a name: it has a meaning of its own in sheets"),
        )
        .expected("another name")
    } else if stop.wanted == ["a value"] {
        stop.due(stop.tell("OV-123", format!("a value is missing before `{word}`")))
    } else {
        stop.due(stop.tell("OV-125", format!("the word `{word}` does not belong here")))
    };
    let d = match word {
        "rounded" if stop.has_formula() => d.mend(
            "put brackets around a rounding inside a formula or a condition: (X rounded to Q)",
        ),
        _ => d,
    };
    Some(d.found(stop.found()))
}

impl Stop<'_> {
    /// Whether what was read could end a statement: it ends in a word, a closing bracket, a text or a measure.
    fn value_or_end_before(&self) -> bool {
        self.last_char()
            .is_some_and(|c| c.is_alphanumeric() || ")}\"%'_".contains(c))
    }
}
