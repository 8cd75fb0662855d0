//! One statement as lines: blanks between tokens, line breaks at the loosest place, arms of `choose` below one another.

#![expect(
    clippy::indexing_slicing,
    reason = "places of words and entries are counted in the very lists they stand in"
)]

use super::super::parse::shape::{NEVER, Part, Shape, Token};
use super::{GO_ON, STEP, WIDTH};
use crate::diagnostics::Span;
use unicode_width::UnicodeWidthStr;

/// Arms of a `choose` that are on one line.
const MOST_ARMS: usize = 3;

/// A token as it is printed, with the comments that are at it inside its statement.
pub(super) struct Word {
    pub(super) text: String,
    pub(super) token: Token,
    /// Comment lines above it.
    pub(super) above: Vec<String>,
    /// A comment at the end of its line.
    pub(super) trail: Option<String>,
}

/// The tokens of a statement as printed.
pub(super) fn words(text: &str, shape: &Shape) -> Vec<Word> {
    let mut words: Vec<Word> = Vec::new();
    let mut end = shape.tokens.first().map_or(0, |t| t.start);
    for token in &shape.tokens {
        let between = text
            .get(crate::ids::at(end)..crate::ids::at(token.start))
            .unwrap_or("");
        let mut above = Vec::new();
        for (i, line) in between.split('\n').enumerate() {
            if let Some(at) = line.find('#') {
                let comment = line[at..].trim_end().to_string();
                match words.last_mut() {
                    Some(w) if i == 0 => w.trail = Some(comment),
                    _ => above.push(comment),
                }
            }
        }
        end = token.end;
        if token.part == Part::Nothing {
            // A dropped sign leaves its comments to the token before it.
            if let Some(last) = words.last_mut() {
                last.trail = last.trail.take().or(above.pop());
            }
            continue;
        }
        let raw = text
            .get(crate::ids::at(token.start)..crate::ids::at(token.end))
            .unwrap_or("");
        let text = if token.verbatim {
            number_blanks(raw)
        } else {
            plain_signs(raw)
        };
        words.push(Word {
            text,
            token: *token,
            above,
            trail: None,
        });
    }
    words
}

/// A text is kept; in a number, one blank stands for several.
fn number_blanks(raw: &str) -> String {
    if raw.starts_with('"') {
        raw.to_string()
    } else {
        raw.split_whitespace().collect::<Vec<_>>().join(" ")
    }
}

fn plain_signs(raw: &str) -> String {
    raw.replace('−', "-")
        .replace('×', "*")
        .replace('÷', "/")
        .replace('≤', "<=")
        .replace('≥', ">=")
}

/// Blanks before a word on its line.
pub(super) fn blanks(word: &Word) -> usize {
    match (word.token.glued, word.token.part, word.token.slot) {
        (true, ..) => 0,
        (_, Part::Arm, _) => 3,
        (_, _, Some(_)) if word.text != "=" => 2,
        // A clause of its own: `headed`, `note`, `because`.
        _ if word.token.level == 0 => 2,
        _ => 1,
    }
}

/// Words on one line; the first has no blanks before it.
pub(super) fn joined(words: &[Word]) -> String {
    let mut out = String::new();
    let mut after_open = true;
    for word in words {
        if !out.is_empty() {
            let n = if after_open && word.token.part == Part::Arm {
                1
            } else {
                blanks(word)
            };
            out.push_str(&" ".repeat(n));
        }
        out.push_str(&word.text);
        after_open = word.token.part == Part::Open;
    }
    out
}

/// Whether a statement is on one line at this indentation.
pub(super) fn fits(words: &[Word], indent: usize) -> bool {
    !has_comments(words) && !many_arms(words) && indent + joined(words).width() <= WIDTH
}

/// Whether comments are inside a statement.
pub(super) fn has_comments(words: &[Word]) -> bool {
    let inside = words.len().saturating_sub(1);
    words.iter().take(inside).any(|w| w.trail.is_some())
        || words.iter().any(|w| !w.above.is_empty())
}

fn many_arms(words: &[Word]) -> bool {
    let mut open: Vec<usize> = Vec::new();
    for word in words {
        match word.token.part {
            Part::Open => open.push(0),
            Part::Arm => {
                if let Some(n) = open.last_mut() {
                    *n += 1;
                }
            }
            Part::Close if open.pop().is_some_and(|n| n > MOST_ARMS) => return true,
            Part::Plain | Part::ArmValue | Part::Close | Part::Nothing => {}
        }
    }
    false
}

/// A line with the comment that ends it.
pub(super) fn with_comment(line: String, comment: Option<&str>) -> String {
    match comment {
        Some(c) => format!("{line}  {c}"),
        None => line,
    }
}

/// Lines of a statement that begins with `lead`, text printed already at the start of its first line.
/// `indent` is the indentation of the statement.
pub(super) fn lay(words: &[Word], lead: &str, indent: usize) -> Vec<String> {
    let column = if lead.is_empty() {
        indent
    } else {
        lead.width()
    };
    if fits(words, column) {
        let start = if lead.is_empty() {
            " ".repeat(indent)
        } else {
            lead.to_string()
        };
        let line = format!("{start}{}", joined(words));
        return vec![with_comment(
            line,
            words.last().and_then(|w| w.trail.as_deref()),
        )];
    }
    let mut lines = Vec::new();
    let mut lead = lead.to_string();
    let mut from = 0;
    // Each `choose` at this level stands open: its arms below one another.
    while let Some(open) = words[from..]
        .iter()
        .position(|w| w.token.part == Part::Open)
        .map(|i| from + i)
    {
        let close = matching(words, open);
        lines.extend(fill(&words[from..=open], &lead, indent, from > 0));
        let arms = arms(&words[open + 1..close]);
        let widest = arms.iter().filter_map(|a| head_width(a)).max().unwrap_or(0);
        for arm in arms {
            lines.extend(lay_arm(arm, widest, indent + STEP));
        }
        if let Some(end) = words.get(close) {
            lines.extend(
                end.above
                    .iter()
                    .map(|c| format!("{}{c}", " ".repeat(indent + STEP))),
            );
        }
        from = close;
        lead = String::new();
    }
    if from == 0 || from < words.len() {
        let rest = &words[from..];
        let is_close = rest.first().is_some_and(|w| w.token.part == Part::Close);
        lines.extend(fill(rest, &lead, indent, is_close));
    }
    lines
}

/// The `}` of the `choose` whose `{` is at `open`.
fn matching(words: &[Word], open: usize) -> usize {
    let mut depth = 0;
    for (i, word) in words.iter().enumerate().skip(open) {
        match word.token.part {
            Part::Open => depth += 1,
            Part::Close => {
                depth -= 1;
                if depth == 0 {
                    return i;
                }
            }
            Part::Plain | Part::Arm | Part::ArmValue | Part::Nothing => {}
        }
    }
    words.len()
}

/// The arms of one `choose`, without those of others in it.
fn arms(words: &[Word]) -> Vec<&[Word]> {
    let mut depth = 0;
    let mut starts = Vec::new();
    for (i, word) in words.iter().enumerate() {
        match word.token.part {
            Part::Open => depth += 1,
            Part::Close => depth -= 1,
            Part::Arm if depth == 0 => starts.push(i),
            Part::Plain | Part::Arm | Part::ArmValue | Part::Nothing => {}
        }
    }
    starts
        .iter()
        .enumerate()
        .map(|(n, &start)| &words[start..starts.get(n + 1).copied().unwrap_or(words.len())])
        .collect()
}

/// Words of an arm before its value.
fn head_len(arm: &[Word]) -> usize {
    arm.iter()
        .position(|w| w.token.part == Part::ArmValue)
        .unwrap_or(arm.len())
}

/// Width of the labels of an arm, if they are short enough to line up.
fn head_width(arm: &[Word]) -> Option<usize> {
    Some(joined(&arm[..head_len(arm)]).width()).filter(|w| *w <= 32)
}

fn lay_arm(arm: &[Word], widest: usize, indent: usize) -> Vec<String> {
    let mut lines: Vec<String> = arm
        .first()
        .map(|w| {
            w.above
                .iter()
                .map(|c| format!("{}{c}", " ".repeat(indent)))
                .collect()
        })
        .unwrap_or_default();
    let (head, value) = arm.split_at(head_len(arm));
    let inside = arm[..arm.len().saturating_sub(1)]
        .iter()
        .any(|w| w.trail.is_some())
        || arm.iter().skip(1).any(|w| !w.above.is_empty());
    if head.iter().any(|w| w.trail.is_some())
        || inside && value.first().is_some_and(|w| !w.above.is_empty())
    {
        // Comments inside the labels: no lining up, every comment where it is.
        lines.extend(fill(arm, "", indent, true));
        return lines;
    }
    let labels = joined(head);
    let pad = (widest + 1).saturating_sub(labels.width()).max(1);
    let lead = format!("{}{labels}{}", " ".repeat(indent), " ".repeat(pad));
    lines.extend(lay(value, &lead, indent));
    lines
}

/// Puts words on lines, broken where they hold together least. With `skip_above` the comments above the first word are
/// printed already.
pub(super) fn fill(words: &[Word], lead: &str, indent: usize, skip_above: bool) -> Vec<String> {
    let mut lines: Vec<String> = Vec::new();
    let go_on = " ".repeat(indent + GO_ON);
    let mut line = if lead.is_empty() {
        " ".repeat(indent)
    } else {
        lead.to_string()
    };
    let mut from = 0;
    while from < words.len() {
        if !(skip_above && from == 0) {
            lines.extend(words[from].above.iter().map(|c| format!("{go_on}{c}")));
        }
        // The furthest this line could reach.
        let forced = (from + 1..words.len())
            .find(|&k| words[k - 1].trail.is_some() || !words[k].above.is_empty())
            .unwrap_or(words.len());
        let room = |to: usize| line.width() + joined(&words[from..to]).width() <= WIDTH;
        let reach = (from + 1..=forced)
            .take_while(|&to| room(to))
            .last()
            .unwrap_or(from + 1);
        let to = if reach == forced {
            forced
        } else {
            let breakable = |k: &usize| words[*k].token.level != NEVER;
            let inside = (from + 1..=reach)
                .filter(breakable)
                .min_by_key(|&k| (words[k].token.level, usize::MAX - k));
            inside
                .or_else(|| (reach + 1..forced).find(breakable))
                .unwrap_or(forced)
        };
        line.push_str(&joined(&words[from..to]));
        lines.push(with_comment(
            std::mem::replace(&mut line, go_on.clone()),
            words[to - 1].trail.as_deref(),
        ));
        from = to;
    }
    lines
}

/// The lines of a block's heading with its `{`.
pub(super) fn heading(
    text: &str,
    shape: Option<&Shape>,
    head: Span,
    depth: usize,
    comment: Option<String>,
) -> Vec<String> {
    let mut words = shape.map(|s| words(text, s)).unwrap_or_default();
    // A comment may be between the last word and the brace.
    let last_end = words.last().map_or(head.start, |w| w.token.end);
    let between = text
        .get(crate::ids::at(last_end)..crate::ids::at(head.end))
        .unwrap_or("");
    if let (Some(at), Some(last)) = (between.find('#'), words.last_mut()) {
        last.trail = Some(
            between[at..]
                .lines()
                .next()
                .unwrap_or("")
                .trim_end()
                .to_string(),
        );
    }
    let token = Token {
        start: head.end,
        end: head.end,
        verbatim: false,
        glued: false,
        level: NEVER,
        slot: None,
        part: Part::Plain,
    };
    words.push(Word {
        text: "{".into(),
        token,
        above: Vec::new(),
        trail: comment,
    });
    for word in &mut words {
        word.token.slot = None;
    }
    lay(&words, "", depth * STEP)
}
