//! Signs of other notations, quote marks, brackets, commas in numbers.

use super::hyphen::joined_by_hyphen;
use super::{Stop, is_name, is_number, last_word, word_at};
use crate::diagnostics::Diagnostic;

/// Signs, what they mean elsewhere, and what is written here.
const SIGNS: &[(&str, &str, &str)] = &[
    ("==", "a comparison uses the word `is`", "is"),
    ("!=", "a comparison uses the words `is not`", "is not"),
    ("<>", "a comparison uses the words `is not`", "is not"),
    ("≠", "a comparison uses the words `is not`", "is not"),
    ("=<", "at most is written <=", "<="),
    ("=>", "at least is written >=", ">="),
    ("&&", "conditions are joined by words", "and"),
    ("||", "conditions are joined by words", "or"),
    ("&", "conditions are joined by words", "and"),
    ("!", "a condition is turned round by a word", "not"),
    ("**", "a power is written with ^", "^"),
    (
        "²",
        "a power is written with ^, a unit of area with sq",
        "^ 2",
    ),
    ("–", "a minus is a hyphen with a blank on both sides", "-"),
    ("—", "a minus is a hyphen with a blank on both sides", "-"),
    (
        "³",
        "a power is written with ^, a unit of volume with cu",
        "^ 3",
    ),
];

/// `2 ft 6-1/2 in` and dashes of a typesetter: a hyphen inside a measure.
pub(super) fn joining_hyphen(stop: &Stop<'_>) -> Option<Diagnostic> {
    let sign = stop
        .rest()
        .chars()
        .next()
        .filter(|c| "-‐‑–—−".contains(*c))?;
    let one = joined_by_hyphen(&stop.piece[..stop.at], &stop.rest()[sign.len_utf8()..])?;
    Some(
        stop.tell("OV-137", format!("`{sign}` can't be read inside a measure"))
            .expected("a blank inside a measure, and blanks around a minus")
            .mend(format!("write {one} for one measure; for a difference put a blank on both sides of the hyphen")),
    )
}

/// `//`, `--`, `/*` and the like where a comment was meant.
pub(super) fn foreign_comment(stop: &Stop<'_>) -> Option<Diagnostic> {
    // `x // note`: the first stroke was read as a division.
    let back = usize::from(stop.before().ends_with('/') && stop.rest().starts_with(['/', '*']));
    let start = stop.before().len().min(stop.at) - back;
    let from = if back > 0 {
        &stop.piece[start..]
    } else {
        stop.rest()
    };
    let sign = ["//", "/*", "--", "%%"]
        .into_iter()
        .find(|s| from.starts_with(s))?;
    let start = if back > 0 { start } else { stop.at };
    Some(
        stop.tell_at(
            "OV-120",
            format!("`{sign}` does not begin a comment"),
            start,
            sign.len(),
        )
        .expected("# before a comment")
        .mend("write # instead"),
    )
}

/// Curly quotes, and single quotes around a text.
pub(super) fn quote_marks(stop: &Stop<'_>) -> Option<Diagnostic> {
    let first = stop.rest().chars().next()?;
    let curly = "“”„«»‘’‚".contains(first);
    let after_number = stop.last_char().is_some_and(|c| c.is_ascii_digit());
    if !(curly || first == '\'' || first == '`') || after_number {
        return None;
    }
    let kind = if curly {
        "curly quotes"
    } else {
        "single quotes"
    };
    let d = stop
        .tell("OV-127", format!("{kind} do not hold a text"))
        .expected("straight double quotes: \"...\"");
    let inner: String = stop
        .rest()
        .chars()
        .skip(1)
        .take_while(|c| !"“”„«»‘’‚'`\"\n".contains(*c))
        .collect();
    let closed = stop.rest().chars().skip(1).any(|c| "”“»’'`".contains(c));
    Some(if closed && !inner.trim().is_empty() {
        d.mend(format!("write \"{inner}\""))
    } else {
        d
    })
}

/// `$12` and `12 $`.
pub(super) fn money_sign(stop: &Stop<'_>) -> Option<Diagnostic> {
    let (sign, code) = [('$', "USD"), ('€', "EUR"), ('£', "GBP"), ('¥', "JPY")]
        .into_iter()
        .find(|(s, _)| stop.rest().starts_with(*s))?;
    Some(
        stop.tell("OV-120", format!("`{sign}` is not written in sheets"))
            .expected(format!(
                "money with its currency after the number: 12.50 {code}"
            )),
    )
}

/// `1,250` and `30,5`.
pub(super) fn comma_in_number(stop: &Stop<'_>) -> Option<Diagnostic> {
    let after = stop.rest().strip_prefix(',')?;
    if !stop.last_char().is_some_and(|c| c.is_ascii_digit())
        || !after.starts_with(|c: char| c.is_ascii_digit())
    {
        return None;
    }
    Some(
        stop.tell("OV-121", "there is a comma in a number")
            .found(format!("{},{}", stop.last(), word_at(after)))
            .expected("a point before decimals, and no mark between thousands: 30.5, 1250"),
    )
}

/// `=` or `:` where something else belongs, and the other way round.
pub(super) fn equals_or_colon(stop: &Stop<'_>) -> Option<Diagnostic> {
    let rest = stop.rest();
    let sign = rest.chars().next().filter(|c| *c == '=' || *c == ':')?;
    if rest.starts_with("==") || rest.starts_with("=<") || rest.starts_with("=>") {
        return None;
    }
    let code = "OV-120";
    let here = |what: &str| stop.tell(code, format!("`{sign}` does not stand {what}"));
    match stop.form.name {
        "given" | "allowance" | "charge" | "pay line" | "resource" | "column" | "choice"
        | "counted" | "phases" | "use" | "sheet" | "job line" | "final" => {
            Some(here("here").found(stop.found()).expected(stop.form.pattern))
        }
        "change" => Some(
            here("in `change`")
                .expected("the word `to` before the new value")
                .mend("write `to` instead"),
        ),
        "helper" if sign == '=' && !stop.before().contains(')') => {
            Some(here("among the names of a helper").expected(
                "names separated by commas; their values are given where the helper is used",
            ))
        }
        "with" | "row" | "expect" | "helper" if sign == ':' => Some(
            here("before this value")
                .expected("=")
                .mend("write = instead"),
        ),
        // `choose k { single = 1 sash }`: the last { is still open and a label is before the sign.
        _ if sign == '=' && stop.in_choose() && stop.ends_label() => {
            // `choose k { single = 1 sash }`
            Some(
                here("after a label of `choose`")
                    .expected("a colon between the label and its value")
                    .mend("write : instead"),
            )
        }
        _ if sign == '=' && stop.has_formula() => {
            // `a = 1 b = 2`: two rules on a line rather than a comparison.
            let last = stop.last();
            let head = stop.before()[..stop.before().len() - last.len()].trim_end();
            if stop.is_form(&["rule"]) && is_name(last) && is_number(last_word(head)) {
                return None;
            }
            if stop.is_form(&["with", "row"]) {
                return None;
            }
            Some(
                here("inside a formula")
                    .expected("the word `is` for a comparison; one = names a rule")
                    .mend("write `is` if the two are compared"),
            )
        }
        _ if sign == ':' && stop.last_but_one() == "choose" => {
            Some(here("after `choose`").expected(format!(
                "choose {} {{ LABEL: VALUE   LABEL: VALUE }}",
                stop.last()
            )))
        }
        _ => None,
    }
}

/// Operators of other notations.
pub(super) fn foreign_sign(stop: &Stop<'_>) -> Option<Diagnostic> {
    foreign_operator(stop)
        .or_else(|| sign_out_of_place(stop))
        .or_else(|| broken_number(stop))
}

/// Signs of the list, an operator in two halves among them.
fn foreign_operator(stop: &Stop<'_>) -> Option<Diagnostic> {
    // `x ** 2` and `a <> b`: the first half was read as an operator of its own.
    let split = match (stop.last_char(), stop.rest().chars().next()) {
        (Some('*'), Some('*')) | (Some('<'), Some('>')) => 1,
        _ => 0,
    };
    let start = if split > 0 {
        stop.before().len() - 1
    } else {
        stop.at
    };
    let from: String = stop.piece[start..]
        .chars()
        .filter(|c| !c.is_whitespace())
        .take(3)
        .collect();
    let (sign, meaning, write) = SIGNS.iter().find(|(sign, ..)| from.starts_with(sign))?;
    let len = stop.at - start + sign.len() - split;
    Some(
        stop.tell_at(
            "OV-120",
            format!("`{sign}` is not written so here"),
            start,
            len,
        )
        .expected(*meaning)
        .mend(format!("write `{write}`")),
    )
}

/// Signs that other notations have, or that are where they cannot.
fn sign_out_of_place(stop: &Stop<'_>) -> Option<Diagnostic> {
    let rest = stop.rest();
    let before = stop.before();
    if before.ends_with('^')
        || stop.rest().starts_with('.')
            && before[..before.len() - stop.last().len()]
                .trim_end()
                .ends_with('^')
    {
        return Some(stop.tell("OV-107", "a power is a whole number").found(stop.found()).expected(
            "a written number such as 2 after the ^; for other powers power(x, 1.5) of a plain number, and only under a `rounded`",
        ));
    }
    if rest.starts_with('?') {
        return Some(
            stop.tell("OV-120", "`?` is not written in sheets")
                .expected("a choice between two values in words: if ... then ... else ..."),
        );
    }
    if rest.starts_with(';') {
        return Some(
            stop.tell("OV-120", "`;` does not end a statement")
                .expected("each statement on a line of its own, with nothing after it"),
        );
    }
    if rest.starts_with(['[', ']']) {
        return Some(
            stop.tell(
                "OV-120",
                format!("`{}` is not written in sheets", stop.shown()),
            )
            .expected("round brackets: ( ... )"),
        );
    }
    if rest.starts_with('%') {
        return Some(
            stop.tell("OV-120", "`%` can only follow a number")
                .expected("35 % for a share; there is no sign for the rest of a division"),
        );
    }
    if rest.starts_with('.')
        && stop.last_char().is_some_and(char::is_alphanumeric)
        && rest[1..].starts_with(char::is_alphabetic)
    {
        return Some(
            stop.tell("OV-120", "a point does not join names")
                .found(format!("{}.{}", stop.last(), word_at(&rest[1..])))
                .expected("a column or a rule by its own name; a name is known wherever its block can reach it"),
        );
    }
    None
}

/// Numbers and inch marks that break off.
fn broken_number(stop: &Stop<'_>) -> Option<Diagnostic> {
    let rest = stop.rest();
    if rest.starts_with('.')
        && !stop.piece[..stop.at].ends_with(char::is_alphanumeric)
        && rest[1..].starts_with(|c: char| c.is_ascii_digit())
    {
        let number = word_at(&rest[1..]);
        return Some(
            stop.tell("OV-109", "a number begins with a digit")
                .found(format!(".{number}"))
                .expected(format!("0.{number}"))
                .mend(format!("write 0.{number}")),
        );
    }
    if rest.starts_with('"')
        && stop.wants("an operator")
        && stop
            .last_char()
            .is_some_and(|c| c == ')' || c.is_alphabetic())
        && word_at(&rest[1..]).is_empty()
    {
        return Some(
            stop.tell("OV-120", "an inch mark must directly follow a number")
                .expected("6 1/2\" or 6 1/2 in"),
        );
    }
    if rest.starts_with('/')
        && is_number(word_at(rest[1..].trim_start()))
        && stop.last_char().is_some_and(|c| c.is_ascii_digit())
    {
        return Some(
            stop.tell("OV-109", "this fraction has two strokes or a blank in it")
                .expected("digits, a stroke and digits without blanks: 30 1/2"),
        );
    }
    None
}

/// Brackets and braces that do not pair.
pub(super) fn bracket(stop: &Stop<'_>) -> Option<Diagnostic> {
    let before = stop.masked_before();
    let open = |a: char, b: char| {
        crate::ids::count(before.matches(a).count()) - crate::ids::count(before.matches(b).count())
    };
    let rest = stop.rest();
    let code = "OV-122";
    if rest.is_empty() {
        if open('{', '}') > 0 {
            let at = before.rfind('{')?;
            return Some(
                stop.tell_at(code, "this { of `choose` is never closed", at, 1)
                    .expected("} after the last arm"),
            );
        }
        if open('(', ')') > 0 {
            let at = unclosed(before)?;
            return Some(
                stop.tell_at(code, "this bracket is never closed", at, 1)
                    .expected("a closing )"),
            );
        }
        return None;
    }
    if rest.starts_with(')') {
        return Some(if open('(', ')') <= 0 {
            stop.tell(code, "this ) closes nothing")
                .expected("as many ( as )")
        } else {
            stop.tell(code, "this ) comes too early")
                .found(stop.found())
                .expected("a value before the bracket closes")
        });
    }
    if rest.starts_with('}') {
        return Some(if open('{', '}') <= 0 {
            stop.tell(code, "this } closes nothing")
                .expected("each statement on a line of its own, and the } that closes a block alone on its line")
        } else if open('(', ')') > 0 {
            stop.tell_at(code, "this bracket is never closed", unclosed(before)?, 1)
                .expected("a closing )")
        } else {
            stop.tell(code, "this } comes too early")
                .found(stop.found())
                .expected("a value before it")
        });
    }
    if rest.starts_with('{') && !stop.wants("{") {
        return Some(
            stop.tell(code, "this { opens nothing")
                .found(stop.found())
                .expected("{ only at the end of a block's heading, or after `choose NAME`"),
        );
    }
    None
}

/// The innermost round bracket still open.
fn unclosed(text: &str) -> Option<usize> {
    let mut open = Vec::new();
    for (i, c) in text.char_indices() {
        match c {
            '(' => open.push(i),
            ')' => {
                open.pop();
            }
            _ => {}
        }
    }
    open.pop()
}
