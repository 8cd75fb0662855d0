//! Pairs of the grammar to the tree. The only module that names pest.

#![expect(
    clippy::wildcard_enum_match_arm,
    reason = "rules of the grammar are over four hundred; what may stand in one is said in the grammar, once"
)]

mod blocks;
mod calendar;
mod cells;
mod columns;
mod cut;
mod expr;
mod extend;
mod job;
mod life;
mod lists;
mod nodes;
mod parts;
mod quantities;
pub(super) mod shape;
mod statements;
mod trials;
mod words;

pub(crate) use cells::{CellTree, ValueTree, parse_heading, parse_key_cell, parse_value_cell};

use super::lines::{self, Item};
use super::mistakes;
use super::tree::{Name, Sheet, Text, UnitText};
use crate::diagnostics::suggest::nearest;
use crate::diagnostics::{Diagnostic, FileId, Place, Span};
use pest::Parser;
use pest::iterators::Pair;
use rayon::prelude::*;
use std::collections::BTreeMap;

/// The generated parser, in a module of its own so that its undocumented items stay its own.
#[allow(missing_docs, unreachable_pub)]
mod generated {
    #[derive(pest_derive::Parser)]
    #[grammar = "../grammar/ovolo.pest"]
    pub struct Grammar;
}
use generated::{Grammar, Rule};

type Node<'a> = Pair<'a, Rule>;

/// Brackets are at most this deep in one statement.
const MOST_BRACKETS: usize = 64;
/// Operators and `if`s of one statement.
const MOST_OPERATORS: usize = 250;
/// Bytes of one statement.
const MOST_BYTES: usize = 16_384;
/// Statements at the top of a sheet that are read together, others beside them.
const SIDE_BY_SIDE: usize = 32;
/// Bytes of one sheet.
const MOST_SHEET_BYTES: usize = 4 << 20;

/// Reads a sheet. What could not be read is missing from the tree and reported in the list.
pub fn parse_sheet(file: FileId, text: &str) -> (Sheet, Vec<Diagnostic>) {
    let (sheet, problems, ..) = read_sheet(file, text, For::Proof);
    (sheet, problems)
}

/// The same without its trials, which are left unread: a run needs none, and they are a good part of many sheets.
pub fn parse_for_run(file: FileId, text: &str) -> (Sheet, Vec<Diagnostic>) {
    let (sheet, problems, ..) = read_sheet(file, text, For::Run);
    (sheet, problems)
}

/// What a sheet is read for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum For {
    Proof,
    /// Trials are left unread.
    Run,
    /// The shapes of statements are wanted too.
    Printing,
}

/// Reads a sheet; gives the shapes of its statements too where they are asked for.
fn read_sheet(
    file: FileId,
    text: &str,
    purpose: For,
) -> (
    Sheet,
    Vec<Diagnostic>,
    Vec<Item>,
    BTreeMap<u32, shape::Shape>,
) {
    if text.len() > MOST_SHEET_BYTES {
        let d = Diagnostic::error("OV-106", "the sheet is too long")
            .found(format!("{} bytes", text.len()))
            .expected(format!("at most {MOST_SHEET_BYTES} bytes"));
        return (Sheet::default(), vec![d], Vec::new(), BTreeMap::new());
    }
    let (items, mut problems) = lines::cut(file, text);
    let plain = lines::without_comments(text);
    let left_open: Vec<u32> = problems
        .iter()
        .filter(|d| d.code == "OV-103")
        .filter_map(|d| match d.place() {
            Some(Place::Sheet(s)) => Some(s.start),
            _ => None,
        })
        .collect();
    let read = |(at, items): (usize, &[Item])| {
        let mut reader = Reader::new(file, &plain, purpose, &left_open);
        reader.begun = at > 0;
        let mut sheet = Sheet::default();
        for item in items {
            reader.top(item, &mut sheet);
        }
        sheet.broken = reader.broken;
        (sheet, reader.problems, reader.shapes)
    };
    // Most sheets are so short that only their neighbours are worth another thread.
    let parts: Vec<_> = if items.len() <= 2 * SIDE_BY_SIDE {
        vec![read((0, &items))]
    } else {
        items
            .par_chunks(SIDE_BY_SIDE)
            .enumerate()
            .map(read)
            .collect()
    };
    let mut sheet = Sheet::default();
    let mut shapes = BTreeMap::new();
    for (part, told, shaped) in parts {
        sheet.title = sheet.title.or(part.title);
        sheet.layer = sheet.layer.or(part.layer);
        sheet.statements.extend(part.statements);
        sheet.broken.extend(part.broken);
        problems.extend(told);
        shapes.extend(shaped.unwrap_or_default());
    }
    problems.sort_by_key(|d| {
        d.labels.first().map(|l| match &l.place {
            Place::Sheet(s) => s.start,
            _ => 0,
        })
    });
    (sheet, problems, items, shapes)
}

struct Reader<'a> {
    file: FileId,
    text: &'a str,
    /// Where texts are left open, in order.
    left_open: &'a [u32],
    problems: Vec<Diagnostic>,
    purpose: For,
    /// Statements are before those read here.
    begun: bool,
    /// Shapes of the statements read so far, where a printer asks for them.
    shapes: Option<BTreeMap<u32, shape::Shape>>,
    broken: Vec<String>,
}

impl<'a> Reader<'a> {
    fn new(file: FileId, text: &'a str, purpose: For, left_open: &'a [u32]) -> Reader<'a> {
        let shapes = (purpose == For::Printing).then(BTreeMap::new);
        Reader {
            file,
            text,
            left_open,
            problems: Vec::new(),
            purpose,
            begun: false,
            shapes,
            broken: Vec::new(),
        }
    }

    /// Reads a stretch by a rule; tells what is wrong and gives nothing when it can't.
    fn read(&mut self, rule: Rule, span: Span) -> Option<Node<'a>> {
        let piece = self
            .text
            .get(crate::ids::at(span.start)..crate::ids::at(span.end))?;
        if !self.guard(piece, span) {
            self.remember_broken(piece);
            return None;
        }
        match Grammar::parse(rule, piece) {
            Ok(mut pairs) => {
                let node = pairs.next();
                if let (Some(shapes), Some(node)) = (&mut self.shapes, &node) {
                    shapes.insert(span.start, shape::shape(rule, node, piece, span.start));
                }
                node
            }
            // A text left open spoils its statement and is reported already.
            Err(_) if self.text_left_open(span) => {
                self.remember_broken(piece);
                None
            }
            Err(error) => {
                let at = match error.location {
                    pest::error::InputLocation::Pos(p)
                    | pest::error::InputLocation::Span((p, _)) => p,
                };
                let wanted = match &error.variant {
                    pest::error::ErrorVariant::ParsingError { positives, .. } => {
                        words::wanted(positives)
                    }
                    pest::error::ErrorVariant::CustomError { .. } => Vec::new(),
                };
                self.problems.push(mistakes::explain(
                    self.text,
                    span,
                    at,
                    words::form(rule, self.first_word(span)),
                    wanted,
                ));
                self.remember_broken(piece);
                None
            }
        }
    }

    fn text_left_open(&self, span: Span) -> bool {
        let next = self.left_open.partition_point(|at| *at < span.start);
        self.left_open.get(next).is_some_and(|at| *at < span.end)
    }

    /// Keeps the name an unreadable statement would have declared.
    fn remember_broken(&mut self, piece: &str) {
        let mut words = piece
            .split(|c: char| !(c.is_alphanumeric() || c == '_'))
            .filter(|w| !w.is_empty());
        let first = words.next().unwrap_or("");
        let declares = [
            "given",
            "resource",
            "helper",
            "survey",
            "rows",
            "table",
            "choice",
            "decide",
            "charge",
            "allowance",
            "pay",
            "counted",
            "for",
            "list",
            "paper",
        ];
        if !declares.contains(&first) {
            self.broken.push(first.to_string());
        }
        // A slip in the word that declares leaves the name behind it as it was.
        let declared = declares.contains(&first) || nearest(first, declares).is_some();
        let name = words
            .find(|w| !matches!(*w, "each" | "the"))
            .filter(|_| declared);
        self.broken.extend(name.map(str::to_string));
    }

    /// Refuses what would nest or grow without end, before the grammar sees it.
    fn guard(&mut self, piece: &str, span: Span) -> bool {
        // A short statement can hold too much of nothing but brackets.
        if piece.len() <= MOST_OPERATORS
            && piece.bytes().filter(|b| matches!(b, b'(' | b'{')).count() <= MOST_BRACKETS
        {
            return true;
        }
        let mut depth = 0usize;
        let mut deepest = 0usize;
        let mut operators = 0usize;
        let mut in_text = false;
        for (i, c) in piece.char_indices() {
            match c {
                '"' if in_text || !lines::is_inch_mark(piece, i) => in_text = !in_text,
                '\n' => in_text = false,
                _ if in_text => {}
                '(' | '{' => {
                    depth += 1;
                    deepest = deepest.max(depth);
                }
                ')' | '}' => depth = depth.saturating_sub(1),
                '+' | '*' | '/' | '-' | '^' | '<' | '>' | '×' | '÷' | '−' => operators += 1,
                _ => {}
            }
        }
        operators += piece
            .split_whitespace()
            .filter(|w| {
                matches!(
                    *w,
                    "if" | "not" | "and" | "or" | "is" | "per" | "rounded" | "of" | "at" | "shared"
                )
            })
            .count();
        let (what, found, most) = if deepest > MOST_BRACKETS {
            ("brackets are nested too deeply", deepest, MOST_BRACKETS)
        } else if operators > MOST_OPERATORS {
            (
                "this statement has too many operators",
                operators,
                MOST_OPERATORS,
            )
        } else if piece.len() > MOST_BYTES {
            ("this statement is too long", piece.len(), MOST_BYTES)
        } else {
            return true;
        };
        self.problems.push(
            Diagnostic::error("OV-106", what)
                .at(
                    Span {
                        end: span.end.min(span.start + 60),
                        ..span
                    },
                    "",
                )
                .found(found.to_string())
                .expected(format!("at most {most}"))
                .mend("name a part of it as a rule of its own"),
        );
        false
    }

    /// Place of a node read from a piece that starts at `base`.
    fn span(&self, node: &Node<'a>, base: u32) -> Span {
        let s = node.as_span();
        let add = |n: usize| base + crate::diagnostics::offset(n);
        // Rules may end after trailing blanks: point at what was written only.
        let trimmed = s.as_str().trim_end();
        Span {
            file: self.file,
            start: add(s.start()),
            end: add(s.start() + trimmed.len()),
        }
    }

    fn name(&self, node: &Node<'a>, base: u32) -> Name {
        Name {
            text: node.as_str().trim().to_string(),
            span: self.span(node, base),
        }
    }

    /// The text inside the quotes.
    fn text(&self, node: &Node<'a>, base: u32) -> Text {
        match node.clone().into_inner().next() {
            Some(body) => Text {
                text: body.as_str().to_string(),
                span: self.span(&body, base),
            },
            None => Text {
                text: String::new(),
                span: self.span(node, base),
            },
        }
    }

    fn texts(&self, node: Node<'a>, base: u32) -> Vec<Text> {
        node.into_inner()
            .filter(|n| n.as_rule() == Rule::text)
            .map(|n| self.text(&n, base))
            .collect()
    }

    fn names(&self, node: Node<'a>, base: u32) -> Vec<Name> {
        node.into_inner()
            .filter(|n| n.as_rule() == Rule::name)
            .map(|n| self.name(&n, base))
            .collect()
    }

    fn unit(&self, node: Node<'a>, base: u32) -> UnitText {
        let span = self.span(&node, base);
        let atoms: Vec<String> = node
            .into_inner()
            .filter(|n| n.as_rule() == Rule::unit_atom)
            .map(|n| n.as_str().split_whitespace().collect::<Vec<_>>().join(" "))
            .collect();
        UnitText {
            text: atoms.join(" per "),
            span,
        }
    }

    /// The items of a block that can be read.
    fn each<T>(&mut self, body: &[Item], read: impl Fn(&mut Self, &Item) -> Option<T>) -> Vec<T> {
        let mut out = Vec::with_capacity(body.len());
        out.extend(body.iter().filter_map(|item| read(self, item)));
        out
    }

    fn piece(&self, span: Span) -> &'a str {
        self.text
            .get(crate::ids::at(span.start)..crate::ids::at(span.end))
            .unwrap_or("")
    }

    /// A block where only a line is allowed.
    fn misplaced(&mut self, item: &Item, expected: &str) {
        let word = self.first_word(item.span());
        self.problems.push(
            Diagnostic::error("OV-102", format!("no `{word}` block belongs here"))
                .at(item.span(), "")
                .expected(expected),
        );
    }

    /// A heading that opens no block.
    fn no_block(&mut self, word: &str, span: Span) {
        let d = Diagnostic::error(
            "OV-110",
            format!("the heading of this `{word}` block does not end in {{"),
        )
        .at(span, "");
        self.problems.push(match self.piece(span).find('{') {
            Some(_) => d
                .found("a block on one line")
                .expected("{ at the end of the heading's line, the block's lines below it, and a line that is } where it ends"),
            None => d.expected("{ at the end of the heading's line, and a line that is } where the block ends"),
        });
    }

    /// A line that begins with a word this block does not know.
    fn unknown_start(&mut self, span: Span, known: &[&str], place: &str) {
        self.problems
            .push(mistakes::start::explain(self.text, span, known, place));
        self.remember_broken(self.piece(span));
    }

    fn first_word(&self, span: Span) -> &'a str {
        let piece = self
            .text
            .get(crate::ids::at(span.start)..crate::ids::at(span.end))
            .unwrap_or("");
        let end = piece
            .find(|c: char| !(c.is_alphanumeric() || c == '_'))
            .unwrap_or(piece.len());
        &piece[..end]
    }
}

#[cfg(test)]
mod tests {
    use super::mistakes::RESERVED;

    #[test]
    fn reserved_words_are_those_of_the_grammar() {
        let grammar = include_str!("../../../grammar/ovolo.pest");
        let (_, rule) = grammar.split_once("\nreserved = ").expect("the rule");
        let (rule, _) = rule.split_once('}').expect("its end");
        let mut words: Vec<&str> = rule.split('"').skip(1).step_by(2).collect();
        let mut reserved = RESERVED.to_vec();
        words.sort_unstable();
        reserved.sort_unstable();
        assert_eq!(words, reserved);
    }
}
