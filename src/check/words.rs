//! Words for messages: numbers of things, and what other notations call our helpers.

/// Helpers of other notations, and what is written here.
const OTHER_HELPERS: &[(&[&str], &str)] = &[
    (
        &["max", "maximum"],
        "larger(a, b, ...) of values, `most of x` of rows",
    ),
    (
        &["min", "minimum"],
        "smaller(a, b, ...) of values, `least of x` of rows",
    ),
    (
        &["round", "mround"],
        "`x rounded to 1/16 in`, after the value",
    ),
    (
        &["ceil", "ceiling", "roundup"],
        "`x rounded up to 1 in`, after the value",
    ),
    (
        &["floor", "rounddown", "int", "trunc"],
        "`x rounded down to 1 in`, after the value",
    ),
    (&["sqrt"], "root(x, 2), under a `rounded`"),
    (&["pow", "exp"], "x ^ 2, or power(x, y) under a `rounded`"),
    (&["log"], "ln(x), under a `rounded`"),
    (&["sum", "total"], "`sum of x` in a block above the rows"),
    (&["count"], "`count of TABLE` in a block above the rows"),
    (&["average", "avg", "mean"], "`mean of x weighted by y`"),
    (
        &["most", "least"],
        "`most of x` or `least of x`, with a blank and `of`",
    ),
    (&["if", "iif"], "if CONDITION then VALUE else VALUE"),
    (&["vlookup", "lookup"], "VALUE from TABLE at KEY"),
];

/// What is written here for a helper of another notation.
pub(super) fn other_helper(name: &str) -> Option<&'static str> {
    let small = name.to_lowercase();
    OTHER_HELPERS
        .iter()
        .find(|(others, _)| others.contains(&small.as_str()))
        .map(|(_, ours)| *ours)
}

/// `1 value`, `2 values`.
pub(super) fn many(n: usize, word: &str) -> String {
    format!("{n} {word}{}", if n == 1 { "" } else { "s" })
}
