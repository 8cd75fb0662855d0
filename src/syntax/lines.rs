//! Cuts a sheet into statements and blocks by its lines.
//!
//! A line indented deeper than the one a statement began on continues it; a closing bracket may be at the statement's own
//! depth. A heading that begins with one of `BLOCK_WORDS` and ends in `{` opens a block, closed by a line that is `}`.

use crate::defuse::is_hidden;
use crate::diagnostics::{Diagnostic, FileId, Span};
use crate::number::fraction_of;
use std::borrow::Cow;

/// First words of headings that open a block.
const BLOCK_WORDS: &[&str] = &[
    "survey",
    "rows",
    "for",
    "table",
    "decide",
    "part",
    "each",
    "extend",
    "alternate",
    "trial",
    "job",
    "pay",
    "life",
    "calendar",
    "list",
    "paper",
    "cut",
];
/// First words of statements at the top of a sheet.
pub(super) const TOP_WORDS: &[&str] = &[
    "sheet",
    "use",
    "counted",
    "phases",
    "choice",
    "given",
    "resource",
    "helper",
    "survey",
    "rows",
    "table",
    "for",
    "caution",
    "change",
    "extend",
    "alternate",
    "trial",
    "job",
    "pay",
    "charge",
    "allowance",
    "final",
    "life",
    "calendar",
    "list",
    "paper",
    "cut",
];
/// First words of statements that are in blocks.
const INNER_WORDS: &[&str] = &["take", "part", "decide", "require", "expect"];

/// Whether a word begins a statement wherever it is; `for`, `job` and `final` are within statements too.
pub(super) fn begins_statement(word: &str) -> bool {
    let is_top = TOP_WORDS.contains(&word) && !matches!(word, "for" | "job" | "final");
    is_top || INNER_WORDS.contains(&word)
}

/// Lines of one sheet, besides blank ones and comments.
pub(super) const MOST_LINES: usize = 70_000;
/// Blocks nest only this deep (`for` holding `decide`).
const MOST_DEPTH: usize = 8;

/// A statement, or a block with what is in it.
#[derive(Debug, Clone)]
pub(crate) enum Item {
    /// One statement.
    Line(Span),
    /// A block: its heading without the brace, and its items.
    Block {
        /// Heading.
        head: Span,
        /// What is between the braces.
        body: Vec<Item>,
        /// The brace that closes it; empty where the sheet ended first.
        close: Span,
    },
}

impl Item {
    /// The statement or the heading.
    pub(crate) fn span(&self) -> Span {
        match self {
            Item::Line(s) | Item::Block { head: s, .. } => *s,
        }
    }
}

/// A physical line: byte range of its text without indentation, comment and line end.
#[derive(Clone, Copy)]
struct Line {
    start: usize,
    end: usize,
    indent: usize,
}

/// Whether a quote at `at` closes a measure such as `6 1/2"` rather than opening a text.
pub(super) fn is_inch_mark(text: &str, at: usize) -> bool {
    text.get(..at)
        .and_then(|t| t.chars().next_back())
        .is_some_and(|c| c.is_ascii_digit() || fraction_of(c).is_some())
}

/// End of the code of a line: before a comment, outside texts. Also says whether a text was left open, and where it began.
fn code_end(line: &str) -> (usize, Option<usize>) {
    let mut open: Option<usize> = None;
    for i in memchr::memchr2_iter(b'"', b'#', line.as_bytes()) {
        match (line.as_bytes().get(i), open) {
            (Some(b'"'), Some(_)) => open = None,
            (Some(b'"'), None) if !is_inch_mark(line, i) => open = Some(i),
            (Some(b'#'), None) => return (i, None),
            _ => {}
        }
    }
    (line.len(), open)
}

/// The text with its comments turned to blanks, byte for byte.
pub(super) fn without_comments(text: &str) -> Cow<'_, str> {
    if !text.contains('#') {
        return Cow::Borrowed(text);
    }
    let mut out = String::with_capacity(text.len());
    for line in text.split_inclusive('\n') {
        let content = line.trim_end_matches(['\n', '\r']);
        let code = if content.contains('#') {
            code_end(content).0
        } else {
            content.len()
        };
        out.push_str(&line[..code]);
        out.extend(std::iter::repeat_n(' ', content.len() - code));
        out.push_str(&line[content.len()..]);
    }
    Cow::Owned(out)
}

/// The lines that hold more than blanks and comments; none where there are too many of them, or of lines that are wrong.
fn physical_lines(file: FileId, text: &str, problems: &mut Vec<Diagnostic>) -> Vec<Line> {
    let mut lines = Vec::new();
    let mut at = 0;
    for raw in text.split_inclusive('\n') {
        if lines.len() > MOST_LINES || problems.len() > MOST_LINES {
            *problems = vec![
                Diagnostic::error("OV-106", "the sheet has too many lines")
                    .at(span(file, at, at), "one too many")
                    .expected(format!(
                        "at most {MOST_LINES}, besides blank lines and comments"
                    ))
                    .mend("put rows of a table into a CSV file"),
            ];
            return Vec::new();
        }
        let content = raw.trim_end_matches(['\n', '\r']);
        // Plain print hides nothing, and nearly every line is that.
        let print = content.bytes().all(|b| matches!(b, b' '..=b'~' | b'\t'));
        if !print
            && let Some((i, c)) = content
                .char_indices()
                .find(|(_, c)| *c == '\r' || is_hidden(*c))
        {
            problems.push(
                Diagnostic::error("OV-115", "there is an invisible character here")
                    .at(span(file, at + i, at + i + c.len_utf8()), "")
                    .found(format!("U+{:04X}", u32::from(c)))
                    .expected("plain text; type the line afresh rather than pasting it"),
            );
        }
        let (end, open) = code_end(content);
        if let Some(quote) = open {
            problems.push(
                Diagnostic::error(
                    "OV-103",
                    "a text is opened with \" and never closed on its line",
                )
                .at(span(file, at + quote, at + content.len()), "")
                .expected("a closing \" on the same line"),
            );
        }
        let code = &content[..end];
        let trimmed = code.trim_start_matches([' ', '\t', '\u{feff}', '\u{a0}']);
        let lead = code.len() - trimmed.len();
        let trimmed_end = trimmed.trim_end();
        if !trimmed_end.is_empty() {
            let indent = code[..lead]
                .chars()
                .map(|c| {
                    if c == '\t' {
                        4
                    } else {
                        usize::from(c != '\u{feff}')
                    }
                })
                .sum();
            lines.push(Line {
                start: at + lead,
                end: at + lead + trimmed_end.len(),
                indent,
            });
        }
        at += raw.len();
    }
    lines
}

fn span(file: FileId, start: usize, end: usize) -> Span {
    let clamp = |n: usize| u32::try_from(n).unwrap_or(u32::MAX);
    Span {
        file,
        start: clamp(start),
        end: clamp(end),
    }
}

/// Brackets still open after a stretch, outside texts and comments.
pub(super) fn open_brackets(text: &str) -> i64 {
    let mut depth = 0;
    for line in text.lines() {
        let (end, _) = code_end(line);
        let mut in_text = false;
        for (i, c) in line[..end].char_indices() {
            match c {
                '"' if in_text || !is_inch_mark(line, i) => in_text = !in_text,
                '(' | '{' if !in_text => depth += 1,
                ')' | '}' if !in_text => depth -= 1,
                _ => {}
            }
        }
    }
    depth
}

/// Whether a text begins as the heading of a block does.
fn has_block_word(text: &str) -> bool {
    BLOCK_WORDS.iter().any(|w| {
        text.strip_prefix(w)
            .is_some_and(|rest| !rest.starts_with(|c: char| c.is_alphanumeric() || c == '_'))
    }) && !text
        .split_whitespace()
        .nth(1)
        .is_some_and(|w| w.starts_with('='))
}

fn opens_block(text: &str) -> bool {
    text.ends_with('{') && has_block_word(text)
}

/// A heading without its `{` at the line's end, reported so that the block below it can still be read.
fn no_brace(head: Span, text: &str, found: &str) -> Diagnostic {
    let word: String = text.chars().take_while(|c| c.is_alphanumeric()).collect();
    Diagnostic::error("OV-110", format!("the heading of this `{word}` block does not end in {{"))
        .at(head, "")
        .found(found)
        .expected("{ at the end of the heading's line, the block's lines below it, and a line that is } where it ends")
}

/// The items of a sheet, and what is wrong with its braces and quotes.
pub(crate) fn cut(file: FileId, text: &str) -> (Vec<Item>, Vec<Diagnostic>) {
    let mut problems = Vec::new();
    let lines = physical_lines(file, text, &mut problems);
    let mut cutter = Cutter {
        file,
        text,
        lines,
        stack: vec![(span(file, 0, 0), Vec::new())],
        problems,
    };
    let mut i = 0;
    while let Some(first) = cutter.lines.get(i).copied() {
        i += 1;
        if cutter.text_of(&first).starts_with('}') {
            cutter.close(&first);
            continue;
        }
        let (end, after) = cutter.statement_end(&first, i);
        let (head, after) = cutter.heading(&first, end, i, after);
        i = after;
        match head {
            Some(head) if cutter.stack.len() > MOST_DEPTH => {
                cutter.problems.push(
                    Diagnostic::error("OV-105", "blocks are nested too deeply")
                        .at(head, "")
                        .expected(format!("at most {MOST_DEPTH} levels")),
                );
                return (cutter.stack.swap_remove(0).1, cutter.problems);
            }
            Some(head) => cutter.stack.push((head, Vec::new())),
            None => {
                if let Some(top) = cutter.stack.last_mut() {
                    top.1.push(Item::Line(span(file, first.start, end)));
                }
            }
        }
    }
    cutter.close_what_is_open();
    (cutter.stack.swap_remove(0).1, cutter.problems)
}

/// A sheet that is being cut into items.
struct Cutter<'a> {
    file: FileId,
    text: &'a str,
    lines: Vec<Line>,
    /// Open blocks: heading and items so far; the bottom one is the sheet itself.
    stack: Vec<(Span, Vec<Item>)>,
    problems: Vec<Diagnostic>,
}

impl<'a> Cutter<'a> {
    fn text_of(&self, line: &Line) -> &'a str {
        &self.text[line.start..line.end]
    }

    /// A line that begins with }.
    fn close(&mut self, line: &Line) {
        let brace = span(self.file, line.start, line.start + 1);
        if line.end > line.start + 1 {
            self.problems.push(
                Diagnostic::error("OV-104", "there is text after the } that closes a block")
                    .at(span(self.file, line.start, line.end), "")
                    .expected("} alone on its line"),
            );
        }
        if self.stack.len() < 2 {
            self.problems.push(
                Diagnostic::error("OV-104", "this } closes nothing")
                    .at(brace, "")
                    .expected("as many { as }"),
            );
        } else {
            self.put_block(brace);
        }
    }

    /// The innermost open block becomes an item of the one around it.
    fn put_block(&mut self, close: Span) {
        if let (Some((head, body)), Some(outer)) = (self.stack.pop(), self.stack.last_mut()) {
            outer.1.push(Item::Block { head, body, close });
        }
    }

    /// Where the statement that begins with `first` ends: its last byte, and the number of the line after it.
    fn statement_end(&self, first: &Line, mut i: usize) -> (usize, usize) {
        let text = self.text;
        let mut end = first.end;
        // Brackets open up to `counted`, which each line that may close one brings up to its beginning.
        let (mut depth, mut counted) = (0, first.start);
        while !opens_block(&text[first.start..end]) {
            let Some(next) = self.lines.get(i) else { break };
            let mut closes =
                next.indent == first.indent && self.text_of(next).starts_with(['}', ')']);
            if closes {
                depth += open_brackets(&text[counted..end]);
                counted = end;
                closes = depth > 0;
            }
            if next.indent <= first.indent && !closes {
                break;
            }
            end = next.end;
            i += 1;
        }
        (end, i)
    }

    /// The heading, if the statement opens a block, and the number of the line where reading goes on.
    /// `below` is the line under `first`, `after` the one under the statement.
    fn heading(
        &mut self,
        first: &Line,
        end: usize,
        below: usize,
        after: usize,
    ) -> (Option<Span>, usize) {
        let whole = &self.text[first.start..end];
        if opens_block(whole) {
            let name_end = first.start + whole[..whole.len() - 1].trim_end().len();
            return (Some(span(self.file, first.start, name_end)), after);
        }
        if !(has_block_word(whole) && (self.stack.len() == 1 || whole.starts_with("decide"))) {
            return (None, after);
        }
        // The heading may lack its brace: what is indented below it is then its body.
        let line = self.text_of(first);
        let name_len = line
            .find(['{', ':'])
            .map_or(line.len(), |b| line[..b].trim_end().len());
        let heading = span(self.file, first.start, first.start + name_len);
        let brace_below = self
            .lines
            .get(below)
            .is_some_and(|next| self.text_of(next) == "{");
        if brace_below {
            self.problems
                .push(no_brace(heading, whole, "{ on a line of its own"));
            return (Some(heading), below + 1);
        }
        let from_file = whole.starts_with("table") && line.contains(" from ");
        if after > below && !from_file {
            self.problems.push(no_brace(heading, whole, line));
            return (Some(heading), below);
        }
        (None, after)
    }

    /// Blocks that the end of the file leaves open.
    fn close_what_is_open(&mut self) {
        let close = span(self.file, self.text.len(), self.text.len());
        while self.stack.len() > 1 {
            let Some(&(head, _)) = self.stack.last() else {
                return;
            };
            // A heading without its brace has been reported together with what should close it.
            let told = self
                .problems
                .iter()
                .any(|d| d.code == "OV-110" && d.place() == Some(&head.into()));
            if !told {
                self.problems.push(
                    Diagnostic::error("OV-104", "this block is opened with { and never closed")
                        .at(head, "opened here")
                        .expected("a line that is } where the block ends"),
                );
            }
            self.put_block(close);
        }
    }
}

#[cfg(test)]
#[expect(
    clippy::as_conversions,
    reason = "the numbers of these tests are small"
)]
mod tests {
    use super::*;

    fn shape(text: &str) -> (Vec<String>, Vec<&'static str>) {
        fn walk(items: &[Item], text: &str, depth: usize, out: &mut Vec<String>) {
            for item in items {
                let s = item.span();
                let words: Vec<_> = text[s.start as usize..s.end as usize]
                    .split_whitespace()
                    .collect();
                out.push(format!("{}{}", ">".repeat(depth), words.join(" ")));
                if let Item::Block { body, .. } = item {
                    walk(body, text, depth + 1, out);
                }
            }
        }
        let (items, problems) = cut(FileId(0), text);
        let mut out = Vec::new();
        walk(&items, text, 0, &mut out);
        (out, problems.iter().map(|d| d.code).collect())
    }

    #[test]
    fn deeper_lines_continue_and_braces_nest() {
        let text = "sheet \"a # b\"  # note\nfor each opening {\n  a = 1 +\n    2\n  b = choose k {\n    x: 1\n  }\n  decide d {\n    y when a > 6 1/2\" because \"z\"\n  }\n}\n";
        assert_eq!(
            shape(text),
            (
                vec![
                    "sheet \"a # b\"".into(),
                    "for each opening".into(),
                    ">a = 1 + 2".into(),
                    ">b = choose k { x: 1 }".into(),
                    ">decide d".into(),
                    ">>y when a > 6 1/2\" because \"z\"".into(),
                ],
                vec![]
            )
        );
    }

    #[test]
    fn unbalanced_braces_and_quotes_are_told() {
        assert_eq!(
            shape("}\nfor each opening {\n a = \"x\n").1,
            vec!["OV-103", "OV-104", "OV-104"]
        );
    }

    #[test]
    fn a_heading_without_its_brace_still_opens_its_block() {
        let expected = vec![
            "for each opening".to_string(),
            ">a = 1".into(),
            "given b 1".into(),
        ];
        assert_eq!(
            shape("for each opening\n  a = 1\n}\ngiven b 1\n"),
            (expected.clone(), vec!["OV-110"])
        );
        assert_eq!(
            shape("for each opening\n{\n  a = 1\n}\ngiven b 1\n"),
            (expected, vec!["OV-110"])
        );
        assert_eq!(
            shape("table t from \"t.csv\"\n  by k\n").1,
            Vec::<&str>::new()
        );
    }
}
