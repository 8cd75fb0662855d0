//! One form for sheets: depth, blanks, columns and line breaks; words, numbers and comments stay as written.
//!
//! Every choice of layout is made from the tokens, the comments and the blank lines, never from how lines were broken
//! before; so a tidy sheet is tidied to itself.
//!
//! ```
//! let tidy = ovolo::syntax::tidy::tidy("given  a   2 in\n").expect("it is read");
//! assert_eq!(tidy, "given a  2 in\n");
//! ```

mod columns;
mod statement;

use super::lines::Item;
use super::parse::shape::{self, Shape};
use crate::diagnostics::{Diagnostic, FileId, Span};
use std::collections::BTreeMap;

/// Characters a line holds before it is broken.
const WIDTH: usize = 110;
/// Blanks per level of blocks.
const STEP: usize = 2;
/// Blanks by which a line that goes on is indented deeper than its statement.
const GO_ON: usize = 4;

/// The sheet in its one form.
///
/// # Errors
/// All messages of a sheet that can't be read; such a sheet is left alone.
pub fn tidy(text: &str) -> Result<String, Vec<Diagnostic>> {
    let file = FileId(0);
    let (items, shapes) = shape::shapes(file, text)?;
    let printer = Printer { text, shapes };
    let end = u32::try_from(text.len()).unwrap_or(u32::MAX);
    let mut out = String::new();
    for line in printer.block(&items, 0, 0, end, false) {
        out.push_str(line.trim_end());
        out.push('\n');
    }
    Ok(out)
}

/// What is between two statements.
#[derive(Default)]
struct Gap {
    /// A comment on the line of the statement before.
    trail: Option<String>,
    /// Lines: a comment, or nothing for a blank line.
    lines: Vec<Option<String>>,
}

/// One statement ready to be lined up with its neighbours, or lines that stand for themselves.
enum Entry<'a> {
    Statement {
        shape: &'a Shape,
        comment: Option<String>,
    },
    /// A row of a table.
    Row {
        cells: Vec<String>,
        comment: Option<String>,
    },
    Comment(String),
    Blank,
    /// Lines of a block, indented already.
    Done(Vec<String>),
}

struct Printer<'a> {
    text: &'a str,
    shapes: BTreeMap<u32, Shape>,
}

impl Printer<'_> {
    /// Lines of the items that are between two bytes of the sheet, at a depth of blocks. `is_table`: the items are rows.
    fn block(
        &self,
        items: &[Item],
        depth: usize,
        start: u32,
        end: u32,
        is_table: bool,
    ) -> Vec<String> {
        let mut entries = Vec::new();
        push_gap(
            &mut entries,
            self.gap(start, items.first().map_or(end, |i| i.span().start))
                .lines,
        );
        for (i, item) in items.iter().enumerate() {
            let span = item.span();
            let next = items.get(i + 1).map_or(end, |n| n.span().start);
            match item {
                Item::Line(_) => {
                    let gap = self.gap(span.end, next);
                    entries.push(match self.shapes.get(&span.start) {
                        Some(shape) if !is_table => Entry::Statement {
                            shape,
                            comment: gap.trail,
                        },
                        _ => Entry::Row {
                            cells: columns::cells(self.slice(span), !has_row(&entries)),
                            comment: gap.trail,
                        },
                    });
                    push_gap(&mut entries, gap.lines);
                }
                Item::Block { head, body, close } => {
                    let comment = self
                        .gap(
                            head.end,
                            body.first().map_or(close.start, |b| b.span().start),
                        )
                        .trail;
                    let mut lines = statement::heading(
                        self.text,
                        self.shapes.get(&head.start),
                        *head,
                        depth,
                        comment,
                    );
                    lines.extend(self.block(
                        body,
                        depth + 1,
                        head.end,
                        close.start,
                        self.holds_rows(*head),
                    ));
                    let gap = self.gap(close.end, next);
                    lines.push(statement::with_comment(
                        format!("{}}}", " ".repeat(depth * STEP)),
                        gap.trail.as_deref(),
                    ));
                    entries.push(Entry::Done(lines));
                    push_gap(&mut entries, gap.lines);
                }
            }
        }
        while matches!(entries.last(), Some(Entry::Blank)) {
            entries.pop();
        }
        columns::print(self.text, &entries, depth * STEP)
    }

    fn slice(&self, span: Span) -> &str {
        self.text
            .get(crate::ids::at(span.start)..crate::ids::at(span.end))
            .unwrap_or("")
    }

    /// Whether a heading opens a block of rows parted by `|`.
    fn holds_rows(&self, head: Span) -> bool {
        let text = self.slice(head);
        text.starts_with("table")
            || text.starts_with("extend table")
            || text.starts_with("decide") && text.ends_with("by")
    }

    /// The comments and blank lines between two places of the sheet. The first place ends a statement, a heading or a brace.
    fn gap(&self, from: u32, to: u32) -> Gap {
        let between = self
            .text
            .get(crate::ids::at(from)..crate::ids::at(to))
            .unwrap_or("");
        let mut gap = Gap::default();
        for (i, line) in between.split('\n').enumerate() {
            let comment = line.find('#').map(|at| line[at..].trim_end().to_string());
            if i == 0 && from > 0 {
                gap.trail = comment;
            } else if comment.is_some()
                || line
                    .trim_matches([' ', '\t', '\r', '\u{feff}', '\u{a0}'])
                    .is_empty()
            {
                gap.lines.push(comment);
            }
        }
        // What is left of the last line belongs to what follows.
        if gap.lines.last().is_some_and(Option::is_none) {
            gap.lines.pop();
        }
        gap
    }
}

fn has_row(entries: &[Entry<'_>]) -> bool {
    entries.iter().any(|e| matches!(e, Entry::Row { .. }))
}

/// Comments and blank lines, at most one blank between two things and none at the start of a block.
fn push_gap(entries: &mut Vec<Entry<'_>>, lines: Vec<Option<String>>) {
    for line in lines {
        match line {
            Some(comment) => entries.push(Entry::Comment(comment)),
            None if entries.is_empty() || matches!(entries.last(), Some(Entry::Blank)) => {}
            None => entries.push(Entry::Blank),
        }
    }
}
