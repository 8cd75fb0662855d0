//! Plain words for what the grammar could not read: looks at the place where reading stopped and at the usual slips.
//!
//! Knows words and signs, not the grammar's rules: what a statement looks like comes in as a [`Form`].

mod hyphen;
mod lists;
pub(crate) mod measure;
mod missing;
mod signs;
pub(crate) mod start;

use crate::diagnostics::{Diagnostic, Span};
pub(crate) use hyphen::{joined_by_hyphen, looks_like_day};

/// How a statement is written, for messages.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) struct Form {
    /// What it is called, such as `given`; also what the slips go by.
    pub name: &'static str,
    /// The statement with its parts in capitals.
    pub pattern: &'static str,
}

/// Where reading stopped, and what would have let it go on.
pub(crate) struct Stop<'a> {
    /// The statement's text.
    piece: &'a str,
    /// The same, with the insides of texts and comments blanked out.
    masked: String,
    /// Where it is in the sheet.
    span: Span,
    /// Byte of the piece where nothing fitted any more.
    at: usize,
    form: Form,
    /// What the grammar would have taken here, in words, such as `` `then` `` or `a value`.
    wanted: Vec<&'static str>,
}

/// Words that cannot name anything: those that are `reserved` in the grammar.
pub(in crate::syntax) const RESERVED: &[&str] = &[
    "if",
    "then",
    "else",
    "and",
    "or",
    "not",
    "is",
    "rounded",
    "per",
    "from",
    "at",
    "where",
    "weighted",
    "shared",
    "when",
    "for",
    "because",
    "interpolated",
    "otherwise",
    "to",
    "choose",
    "yes",
    "no",
    "unknown",
    "by",
    "of",
    "was",
];

/// The message for a statement that stopped being readable at byte `at` of its text.
pub(crate) fn explain(
    text: &str,
    span: Span,
    at: usize,
    form: Form,
    wanted: Vec<&'static str>,
) -> Diagnostic {
    let piece = text
        .get(crate::ids::at(span.start)..crate::ids::at(span.end))
        .unwrap_or("");
    let mut at = at.min(piece.len());
    while !piece.is_char_boundary(at) {
        at -= 1;
    }
    // The grammar stops at the blanks before what it can't read; the eye stops at the thing itself.
    at += piece[at..].len() - piece[at..].trim_start().len();
    let stop = Stop {
        piece,
        masked: masked(piece),
        span,
        at,
        form,
        wanted,
    };
    // The order matters: a plain sign of another notation first, what only seems to be missing last.
    const SLIPS: &[fn(&Stop<'_>) -> Option<Diagnostic>] = &[
        signs::joining_hyphen,
        signs::foreign_comment,
        signs::quote_marks,
        signs::money_sign,
        signs::comma_in_number,
        lists::capital_word,
        signs::equals_or_colon,
        measure::raised_power,
        measure::rate_of_many,
        measure::slash_between_units,
        signs::foreign_sign,
        lists::column_type,
        missing::hours_of_a_person,
        missing::other_word,
        missing::percent_sign,
        missing::quotes,
        missing::word,
        lists::two_statements,
        lists::comma,
        signs::bracket,
        lists::name_form,
        missing::ends_early,
        lists::name_of_two_words,
        lists::number_without_operator,
        lists::reserved_word,
    ];
    SLIPS
        .iter()
        .find_map(|slip| slip(&stop))
        .unwrap_or_else(|| unreadable(&stop))
}

fn unreadable(stop: &Stop<'_>) -> Diagnostic {
    let shown = stop.shown();
    let d = stop.due(
        stop.tell("OV-101", format!("`{shown}` cannot be read here"))
            .found(stop.found()),
    );
    let words = stop
        .form
        .pattern
        .split(|c: char| !c.is_alphabetic())
        .filter(|w| w.len() > 2 && w.chars().all(char::is_lowercase));
    match crate::diagnostics::suggest::nearest(stop.word(), words) {
        Some(near) if stop.word().len() > 3 => d.mend(format!("did you mean `{near}`?")),
        _ => d,
    }
}

impl<'a> Stop<'a> {
    /// What stands from the stop on.
    fn rest(&self) -> &'a str {
        &self.piece[self.at..]
    }

    /// What was read, without blanks at its end.
    fn before(&self) -> &'a str {
        self.piece[..self.at].trim_end()
    }

    /// What was read, with the insides of texts blanked out.
    fn masked_before(&self) -> &str {
        self.masked[..self.at].trim_end()
    }

    /// Whether a `{` of a `choose` is still open.
    fn in_choose(&self) -> bool {
        let before = self.masked_before();
        before.matches('{').count() > before.matches('}').count()
    }

    /// Whether what was read ends in the first word after a `{` or a `,`.
    fn ends_label(&self) -> bool {
        let before = self.before();
        is_name(self.last())
            && before[..before.len() - self.last().len()]
                .trim_end()
                .ends_with(['{', ','])
    }

    /// The word at the stop; empty when a sign is there.
    fn word(&self) -> &'a str {
        word_at(self.rest())
    }

    /// The word or sign at the stop; empty at the end.
    fn shown(&self) -> &'a str {
        let rest = self.rest();
        match self.word() {
            "" if rest.starts_with('"') => {
                let end = rest[1..].find(['"', '\n']).map_or(rest.len(), |i| i + 2);
                rest[..end].trim_end()
            }
            "" => &rest[..rest.chars().next().map_or(0, char::len_utf8)],
            word => word,
        }
    }

    /// The word that ends what was read; empty when a sign ends it.
    fn last(&self) -> &'a str {
        last_word(self.before())
    }

    /// The word before [`Stop::last`].
    fn last_but_one(&self) -> &'a str {
        let before = self.before();
        last_word(before[..before.len() - self.last().len()].trim_end())
    }

    /// Whether this word is before the place where reading stopped.
    fn says(&self, word: &str) -> bool {
        self.before().split_whitespace().any(|w| w == word)
    }

    /// The last sign or letter read.
    fn last_char(&self) -> Option<char> {
        self.before().chars().next_back()
    }

    /// Whether the grammar would have taken this, as [`Stop::wanted`] names it.
    fn wants(&self, what: &str) -> bool {
        self.wanted.contains(&what)
    }

    fn is_form(&self, names: &[&str]) -> bool {
        names.contains(&self.form.name)
    }

    /// Whether formulas are in this statement.
    fn has_formula(&self) -> bool {
        self.is_form(&[
            "rule",
            "take",
            "require",
            "decide line",
            "helper",
            "change",
            "caution",
            "with",
            "row",
            "expect",
            "formula",
        ])
    }

    /// Whether a value may begin at the stop.
    fn value_follows(&self) -> bool {
        let rest = self.rest();
        let word = self.word();
        rest.starts_with('(')
            || rest.starts_with('"')
            || !word.is_empty() && !RESERVED.contains(&word)
    }

    /// A message at the stop, under what is there.
    fn tell(&self, code: &'static str, message: impl Into<String>) -> Diagnostic {
        self.tell_at(code, message, self.at, self.shown().len())
    }

    /// A message under `len` bytes of the statement from byte `start`.
    fn tell_at(
        &self,
        code: &'static str,
        message: impl Into<String>,
        start: usize,
        len: usize,
    ) -> Diagnostic {
        let add = |n: usize| self.span.start + crate::diagnostics::offset(n.min(self.piece.len()));
        Diagnostic::error(code, message).at(
            Span {
                start: add(start),
                end: add(start + len),
                ..self.span
            },
            "",
        )
    }

    /// A message under the last word read.
    fn tell_last(&self, code: &'static str, message: impl Into<String>) -> Diagnostic {
        let len = self.last().len();
        self.tell_at(code, message, self.before().len() - len, len)
    }

    /// The last words read and the one at the stop.
    fn found(&self) -> String {
        let words: Vec<_> = self.before().split_whitespace().collect();
        let tail: Vec<_> = words
            .iter()
            .skip(words.len().saturating_sub(3))
            .copied()
            .collect();
        let tail = tail.join(" ");
        format!("{tail} {}", self.shown()).trim().to_string()
    }

    /// Adds what could be at the stop, and how the whole statement goes.
    fn due(&self, d: Diagnostic) -> Diagnostic {
        match self.wanted.as_slice() {
            [] => d.expected(self.form.pattern),
            [one] => self.with_form(d.expected(*one)),
            [most @ .., last] => {
                self.with_form(d.expected(format!("{} or {last}", most.join(", "))))
            }
        }
    }

    /// Adds how the whole statement goes; a rule is a formula, and its form says nothing about that.
    fn with_form(&self, d: Diagnostic) -> Diagnostic {
        if self.is_form(&["rule", "formula"]) {
            d
        } else {
            d.note(format!("the form is {}", self.form.pattern))
        }
    }
}

/// A statement with the insides of its texts turned to blanks, byte for byte.
fn masked(piece: &str) -> String {
    let mut out = String::with_capacity(piece.len());
    let mut in_text = false;
    for (i, c) in piece.char_indices() {
        if c == '"' && (in_text || !super::lines::is_inch_mark(piece, i)) {
            in_text = !in_text;
            out.push(c);
        } else if c == '\n' {
            in_text = false;
            out.push(c);
        } else if in_text {
            out.extend(std::iter::repeat_n(' ', c.len_utf8()));
        } else {
            out.push(c);
        }
    }
    out
}

/// The letters, digits and `_` a text begins with.
fn word_at(text: &str) -> &str {
    let end = text
        .find(|c: char| !(c.is_alphanumeric() || c == '_'))
        .unwrap_or(text.len());
    &text[..end]
}

/// The letters, digits and `_` a text ends with.
fn last_word(text: &str) -> &str {
    let start = text
        .char_indices()
        .rev()
        .find(|(_, c)| !(c.is_alphanumeric() || *c == '_'))
        .map_or(0, |(i, c)| i + c.len_utf8());
    &text[start..]
}

fn is_number(word: &str) -> bool {
    word.starts_with(|c: char| c.is_ascii_digit())
}

/// Whether a word could name something.
fn is_name(word: &str) -> bool {
    word.starts_with(|c: char| c.is_alphabetic() || c == '_') && !RESERVED.contains(&word)
}
