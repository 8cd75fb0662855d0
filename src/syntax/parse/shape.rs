//! What a printer of sheets needs to know of each statement: its tokens, and where they hold together, may part or line up.
//!
//! Read off the grammar's pairs, so the printer itself needs to know no rule.

use super::{Node, Rule, lines};
use crate::diagnostics::{Diagnostic, FileId};
use std::collections::BTreeMap;

/// Statements of one kind that are below one another are lined up.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(in crate::syntax) enum Kind {
    /// Lines whose parts have nothing to line up with.
    Other,
    Column,
    Given,
    Resource,
    Rule,
    Take,
    PartLine,
    DecideLine,
    Change,
    Expect,
    Pay,
    Charge,
    ListLine,
}

/// A place where a line may not be broken.
pub(in crate::syntax) const NEVER: u16 = u16::MAX;

/// What a token is for the layout.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(in crate::syntax) enum Part {
    Plain,
    /// The `{` of a `choose`.
    Open,
    /// First token of an arm.
    Arm,
    /// First token of an arm's value.
    ArmValue,
    /// The `}` of a `choose`.
    Close,
    /// A `;` between arms, which is not printed.
    Nothing,
}

/// A stretch of text without blanks that matter.
#[derive(Debug, Clone, Copy)]
pub(in crate::syntax) struct Token {
    /// First byte in the sheet.
    pub(in crate::syntax) start: u32,
    /// Byte after the last.
    pub(in crate::syntax) end: u32,
    /// A text or a number, kept as written; other tokens may be written with other signs.
    pub(in crate::syntax) verbatim: bool,
    /// No blank before it.
    pub(in crate::syntax) glued: bool,
    /// How tightly it holds to the token before: a line is broken where this is least.
    pub(in crate::syntax) level: u16,
    /// Begins this column of lined-up statements.
    pub(in crate::syntax) slot: Option<u8>,
    /// Its part in a `choose`.
    pub(in crate::syntax) part: Part,
}

/// A statement or heading as tokens.
#[derive(Debug, Clone)]
pub(in crate::syntax) struct Shape {
    pub(in crate::syntax) kind: Kind,
    pub(in crate::syntax) tokens: Vec<Token>,
}

/// The items of a readable sheet, and the shape of each statement and heading by the byte it begins at.
/// Rows of tables have none.
#[allow(clippy::type_complexity)]
pub(in crate::syntax) fn shapes(
    file: FileId,
    text: &str,
) -> Result<(Vec<lines::Item>, BTreeMap<u32, Shape>), Vec<Diagnostic>> {
    let (_, problems, items, shapes) = super::read_sheet(file, text, super::For::Printing);
    if problems.is_empty() {
        Ok((items, shapes))
    } else {
        Err(problems)
    }
}

/// The shape of a cell of a table; none if it can't be read as one.
pub(in crate::syntax) fn cell_shape(text: &str, heading: bool) -> Option<Shape> {
    let rule = if heading {
        Rule::heading_cell
    } else {
        Rule::key_cell
    };
    Some(shape(rule, &super::cells::read(rule, text)?, text, 0))
}

/// The shape of a statement read by `rule` from `piece`, which begins at byte `base` of the sheet.
pub(super) fn shape(rule: Rule, node: &Node<'_>, piece: &str, base: u32) -> Shape {
    let mut marks = Marks {
        atoms: BTreeMap::new(),
        notes: BTreeMap::new(),
        piece,
    };
    marks.walk(node, Rule::EOI, 0);
    let kind = match rule {
        Rule::column_line => Kind::Column,
        Rule::given_line => Kind::Given,
        Rule::resource_line => Kind::Resource,
        Rule::rule_line => Kind::Rule,
        Rule::take_line => Kind::Take,
        Rule::part_line => Kind::PartLine,
        Rule::decide_line => Kind::DecideLine,
        Rule::change_line | Rule::amend_line => Kind::Change,
        Rule::expect_line => Kind::Expect,
        Rule::pay_line => Kind::Pay,
        Rule::charge_line | Rule::allowance_line => Kind::Charge,
        Rule::list_line => Kind::ListLine,
        _ => Kind::Other,
    };
    let mut tokens = marks.tokens(base);
    // Columns line up only where they come in order; a line that puts them otherwise is left as it is.
    let mut last = 0;
    for token in &mut tokens {
        match token.slot {
            Some(slot) if slot > last => last = slot,
            _ => token.slot = None,
        }
    }
    Shape { kind, tokens }
}

/// What the pairs say of a place.
#[derive(Debug, Clone, Copy)]
struct Note {
    level: u16,
    slot: Option<u8>,
    part: Part,
    /// Glued to the token before.
    glued: bool,
    /// The next token is glued to it.
    glues: bool,
}

const NO_NOTE: Note = Note {
    level: NEVER,
    slot: None,
    part: Part::Plain,
    glued: false,
    glues: false,
};

struct Marks<'a> {
    /// Stretches that are one token: byte of the piece to its end, and whether they are kept as written.
    atoms: BTreeMap<usize, (usize, bool)>,
    notes: BTreeMap<usize, Note>,
    piece: &'a str,
}

impl Marks<'_> {
    fn note(&mut self, at: usize) -> &mut Note {
        self.notes.entry(at).or_insert(NO_NOTE)
    }

    fn level(&mut self, at: usize, level: u16) {
        let note = self.note(at);
        note.level = note.level.min(level);
    }

    fn walk(&mut self, node: &Node<'_>, parent: Rule, depth: u16) {
        let rule = node.as_rule();
        let (start, text) = (node.as_span().start(), node.as_str().trim_end());
        if let Some(level) = level_of(rule, parent, text) {
            self.level(start, level + 10 * depth);
        }
        if let Some(slot) = slot_of(rule, parent, text) {
            self.note(start).slot.get_or_insert(slot);
        }
        match rule {
            Rule::text | Rule::number | Rule::feet_inches | Rule::inch_mark => {
                self.atoms.insert(start, (start + text.len(), true));
                self.note(start).glued |= rule == Rule::inch_mark;
                return;
            }
            Rule::minus => self.note(start).glues = true,
            Rule::open_bracket | Rule::call => self.note(start).glued = true,
            Rule::open_brace => self.note(start).part = Part::Open,
            Rule::close_brace => self.note(start).part = Part::Close,
            Rule::arm => {
                self.note(start).part = Part::Arm;
                self.level(start, 10 * depth);
            }
            _ => {}
        }
        // Lists: a line may be broken before everything after the first.
        let deeper =
            depth + u16::from(matches!(rule, Rule::call | Rule::chosen) || rule == Rule::bracketed);
        let mut inner = node.clone().into_inner().peekable();
        if inner.peek().is_none() && rule != Rule::EOI {
            let mut from = 0;
            for word in text.split_whitespace() {
                let at = from + text[from..].find(word).unwrap_or(0);
                self.atoms
                    .insert(start + at, (start + at + word.len(), false));
                from = at + word.len();
            }
            return;
        }
        let mut first = true;
        let mut named = false;
        for part in inner {
            let at = part.as_span().start();
            if list_item(part.as_rule(), rule) {
                if !first {
                    self.level(at, list_level(rule) + 10 * deeper);
                }
                first = false;
            }
            // The class of a resource is its second name.
            if rule == Rule::resource_line && part.as_rule() == Rule::name {
                if named {
                    self.note(at).slot = Some(1);
                }
                named = true;
            }
            if rule == Rule::arm && part.as_rule() == Rule::expr {
                self.note(at).part = Part::ArmValue;
            }
            self.walk(&part, rule, deeper);
        }
    }

    /// The piece as tokens: what the pairs marked, and the words and signs between.
    fn tokens(&self, base: u32) -> Vec<Token> {
        let add = |n: usize| base + crate::diagnostics::offset(n);
        let mut out: Vec<Token> = Vec::new();
        let mut at = 0;
        let mut glue_next = false;
        while let Some(c) = self.piece[at..].chars().next() {
            let rest = &self.piece[at..];
            if c.is_whitespace() || c == '\u{feff}' {
                at += c.len_utf8();
                continue;
            }
            let (end, verbatim) = self.atoms.get(&at).copied().unwrap_or_else(|| {
                let word = rest
                    .find(|c: char| !(c.is_alphanumeric() || c == '_'))
                    .unwrap_or(rest.len());
                let sign = if rest.starts_with("<=") || rest.starts_with(">=") {
                    2
                } else {
                    c.len_utf8()
                };
                (at + word.max(sign), false)
            });
            let note = self.notes.get(&at).copied().unwrap_or(NO_NOTE);
            let text = &self.piece[at..end];
            let glued = glue_next || note.glued || matches!(text, "," | ")" | ":" | ";");
            glue_next = note.glues || text == "(";
            let part = if text == ";" {
                Part::Nothing
            } else {
                note.part
            };
            let level = if glued { NEVER } else { note.level };
            out.push(Token {
                start: add(at),
                end: add(end),
                verbatim,
                glued,
                level,
                slot: note.slot,
                part,
            });
            at = end;
        }
        out
    }
}

/// Whether a pair is one of the things of a list.
fn list_item(rule: Rule, parent: Rule) -> bool {
    matches!(
        (parent, rule),
        (Rule::texts, Rule::text)
            | (Rule::list_sorted, Rule::sort_key)
            | (Rule::names | Rule::labels | Rule::cell_labels, Rule::name)
            | (Rule::settings, Rule::setting)
            | (Rule::label_specs, Rule::label_spec)
            | (Rule::counted_line, Rule::counted)
            | (Rule::bases, Rule::base)
            | (Rule::call, Rule::expr)
            | (Rule::lookup, Rule::atom)
    )
}

fn list_level(list: Rule) -> u16 {
    if list == Rule::texts { 2 } else { 1 }
}

/// How tightly what begins here holds to what is before it; none where no line is broken.
fn level_of(rule: Rule, parent: Rule, text: &str) -> Option<u16> {
    Some(match rule {
        Rule::given_range
        | Rule::varies
        | Rule::remark
        | Rule::unanswered
        | Rule::private
        | Rule::decided_by
        | Rule::at_mark
        | Rule::resource_more
        | Rule::column_more
        | Rule::rule_more
        | Rule::take_more
        | Rule::part_more
        | Rule::kw_rough
        | Rule::column_headed
        | Rule::column_shown
        | Rule::column_total
        | Rule::rests_on
        | Rule::kw_because
        | Rule::kw_was
        | Rule::charge_by => 0,
        Rule::kw_when | Rule::kw_otherwise
            if matches!(parent, Rule::decide_line | Rule::caution_line) =>
        {
            0
        }
        Rule::kw_to
            if matches!(
                parent,
                Rule::change_line
                    | Rule::amend_limits
                    | Rule::amend_packs
                    | Rule::amend_name
                    | Rule::amend_send
            ) =>
        {
            0
        }
        Rule::extend_more | Rule::send_phase => 0,
        Rule::kw_where if parent == Rule::amend_send => 0,
        Rule::kw_where | Rule::kw_otherwise if parent == Rule::pick_line => 0,
        Rule::life_when | Rule::life_rising | Rule::wait_limit | Rule::hire_rate => 0,
        Rule::kw_else | Rule::kw_blames if parent == Rule::require_line => 0,
        Rule::kw_at if matches!(parent, Rule::expect_value | Rule::expect_refusal) => 0,
        Rule::job_survey_more => 0,
        Rule::rounding | Rule::charge_kind => 1,
        Rule::kw_else => 2,
        Rule::kw_then => 3,
        Rule::kw_or | Rule::kw_where => 4,
        Rule::kw_and => 5,
        Rule::relation | Rule::is_test | Rule::kw_weighted => 6,
        Rule::op if matches!(text, "*" | "/" | "×" | "÷") => 8,
        Rule::op | Rule::kw_at | Rule::absent_suffix | Rule::shared_suffix => 7,
        _ => return None,
    })
}

/// The column that begins here, in statements that line up.
fn slot_of(rule: Rule, parent: Rule, text: &str) -> Option<u8> {
    Some(match (parent, rule) {
        (Rule::column_line, Rule::column_type) => 1,
        (Rule::column_line, Rule::column_more) => 2,
        (Rule::given_line, Rule::given_value | Rule::asked) => 1,
        (Rule::given_line, Rule::given_range) => 2,
        (Rule::given_line, Rule::remark) => {
            if text.starts_with("source") {
                3
            } else {
                4
            }
        }
        (Rule::resource_line, Rule::unit) => 2,
        (Rule::resource_line, Rule::resource_more) => 3,
        (Rule::rule_line, Rule::equals) => 1,
        (Rule::rule_line, Rule::rule_more) => 2,
        (Rule::take_line, Rule::expr) => 1,
        (Rule::part_size | Rule::part_place | Rule::part_said, Rule::expr) => 1,
        (Rule::part_size, Rule::kw_rough) | (Rule::part_place, Rule::kw_each) => 2,
        (Rule::take_line, Rule::take_more) => match text.split_whitespace().next() {
            Some("for") => 2,
            Some("when") => 3,
            Some("shared") => 4,
            _ => 5,
        },
        (Rule::list_column, Rule::sum | Rule::list_reason) => 1,
        (Rule::list_column, Rule::column_headed) => 2,
        (Rule::list_column, Rule::column_shown) => 3,
        (Rule::list_column, Rule::column_total) => 4,
        (Rule::list_column, Rule::private) => 5,
        (Rule::decide_line, Rule::kw_when | Rule::kw_otherwise) => 1,
        (Rule::decide_line | Rule::change_line, Rule::kw_because) => 2,
        (Rule::decide_line, Rule::rests_on) => 3,
        (Rule::change_line, Rule::kw_to) => 1,
        (Rule::change_line, Rule::kw_was) => 3,
        (Rule::expect_value, Rule::equals) => 1,
        (Rule::expect_value | Rule::expect_refusal, Rule::kw_at) => 2,
        (Rule::pay_line | Rule::charge_line, Rule::percent | Rule::signed | Rule::charge_share)
        | (Rule::allowance_line, Rule::signed) => 1,
        (Rule::pay_line | Rule::charge_line | Rule::allowance_line, Rule::remark) => 2,
        _ => return None,
    })
}
