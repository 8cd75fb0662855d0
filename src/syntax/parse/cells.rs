//! Cells of decision tables and lookup tables, in sheets and in CSV files.

use super::{Grammar, Node, Reader, Rule};
use crate::diagnostics::{Diagnostic, FileId, Span};
use crate::syntax::tree::{CellText, Name, Signed, UnitText};
use pest::Parser;

/// A key cell.
#[derive(Debug, Clone)]
#[allow(missing_docs)]
pub(crate) enum CellTree {
    Any,
    Blank,
    Truth(bool),
    Text(String),
    Labels(Vec<Name>),
    Not(Name),
    Number(Signed),
    FromTo(Signed, Signed),
    Under(Signed),
    UpTo(Signed),
    Over(Signed),
    AndOver(Signed),
}

/// A heading: words and a unit.
#[derive(Debug, Clone)]
pub(crate) struct HeadingTree {
    /// Words joined with `_`, in lower case.
    pub name: String,
    /// Unit in brackets.
    pub unit: Option<UnitText>,
}

/// A value cell.
#[derive(Debug, Clone)]
#[allow(missing_docs)]
pub(crate) enum ValueTree {
    Number(Signed),
    Truth,
    Text(String),
}

/// A reader over the text of one cell; its messages point at the whole cell.
fn reader(text: &str) -> Reader<'_> {
    Reader::new(FileId(0), text, super::For::Proof, &[])
}

/// A cell by a rule; what is wrong with one that can't be read is not asked.
pub(super) fn read(rule: Rule, text: &str) -> Option<Node<'_>> {
    Grammar::parse(rule, text).ok()?.next()
}

fn at_cell(mut d: Diagnostic, span: Span) -> Diagnostic {
    d.labels.clear();
    d.at(span, "")
}

fn with_span(mut s: Signed, span: Span) -> Signed {
    s.span = span;
    s.quantity.span = span;
    for (_, unit) in &mut s.quantity.parts {
        if let Some(u) = unit {
            u.span = span;
        }
    }
    s
}

/// Reads a key cell: a number, a band, labels, yes or no, a text in quotes, `any`, `blank`.
pub(crate) fn parse_key_cell(cell: &CellText) -> Result<CellTree, Diagnostic> {
    let bad = || {
        Diagnostic::error("OV-411", "this cell can't be read").at(cell.span, "").found(cell.text.clone()).expected(
            "a number, `A to B`, `under A`, `up to A`, `A and over`, `over A`, labels, yes, no, a text in quotes, `any` or `blank`",
        )
    };
    let Some(inner) = read(Rule::key_cell, &cell.text).and_then(|node| node.into_inner().next())
    else {
        return Err(bad());
    };
    let mut r = reader(&cell.text);
    let name = |p: &Node<'_>| Name {
        text: p.as_str().trim().to_string(),
        span: cell.span,
    };
    let rule = inner.as_rule();
    let tree = match rule {
        Rule::cell_any => Some(CellTree::Any),
        Rule::cell_blank => Some(CellTree::Blank),
        Rule::truth => Some(CellTree::Truth(inner.as_str() == "yes")),
        Rule::text => inner
            .into_inner()
            .next()
            .map(|b| CellTree::Text(b.as_str().to_string())),
        Rule::cell_labels => Some(CellTree::Labels(
            inner
                .into_inner()
                .filter(|p| p.as_rule() == Rule::name)
                .map(|p| name(&p))
                .collect(),
        )),
        Rule::cell_not => inner
            .into_inner()
            .find(|p| p.as_rule() == Rule::name)
            .map(|p| CellTree::Not(name(&p))),
        Rule::signed => r
            .signed(inner, 0)
            .map(|s| CellTree::Number(with_span(s, cell.span))),
        _ => {
            let signed = inner.into_inner().filter(|p| p.as_rule() == Rule::signed);
            let mut ends = signed
                .filter_map(|p| r.signed(p, 0))
                .map(|s| with_span(s, cell.span));
            match (rule, ends.next(), ends.next()) {
                (Rule::cell_from_to, Some(a), Some(b)) => Some(CellTree::FromTo(a, b)),
                (Rule::cell_under, Some(a), _) => Some(CellTree::Under(a)),
                (Rule::cell_up_to, Some(a), _) => Some(CellTree::UpTo(a)),
                (Rule::cell_over, Some(a), _) => Some(CellTree::Over(a)),
                (Rule::cell_and_over, Some(a), _) => Some(CellTree::AndOver(a)),
                _ => None,
            }
        }
    };
    match (tree, r.problems.pop()) {
        (_, Some(d)) => Err(at_cell(d, cell.span)),
        (Some(t), None) => Ok(t),
        (None, None) => Err(bad()),
    }
}

/// Reads a heading such as `pane area (sq in)`.
pub(crate) fn parse_heading(cell: &CellText) -> Result<HeadingTree, Diagnostic> {
    let bad = || {
        Diagnostic::error("OV-411", "this heading can't be read")
            .at(cell.span, "")
            .found(cell.text.clone())
            .expected("words, then a unit in brackets if it has one: pace (min per lite)")
    };
    let Some(node) = read(Rule::heading_cell, &cell.text) else {
        return Err(bad());
    };
    let r = reader(&cell.text);
    let mut name = String::new();
    let mut unit = None;
    for p in node.into_inner() {
        match p.as_rule() {
            Rule::heading_words => {
                name = p
                    .as_str()
                    .split(|c: char| !c.is_alphanumeric())
                    .filter(|w| !w.is_empty())
                    .map(str::to_lowercase)
                    .collect::<Vec<_>>()
                    .join("_");
            }
            Rule::unit => {
                unit = Some(UnitText {
                    span: cell.span,
                    ..r.unit(p, 0)
                })
            }
            Rule::percent_sign => {
                unit = Some(UnitText {
                    text: "%".into(),
                    span: cell.span,
                })
            }
            _ => {}
        }
    }
    if name.is_empty() {
        Err(bad())
    } else {
        Ok(HeadingTree { name, unit })
    }
}

/// Reads a value cell: a number, yes or no, a text.
pub(crate) fn parse_value_cell(cell: &CellText) -> Result<ValueTree, Diagnostic> {
    let mut r = reader(&cell.text);
    let node = read(Rule::value_cell, &cell.text).and_then(|n| n.into_inner().next());
    let Some(inner) = node else {
        return Ok(ValueTree::Text(cell.text.clone()));
    };
    match inner.as_rule() {
        Rule::truth => Ok(ValueTree::Truth),
        Rule::text => Ok(ValueTree::Text(
            inner
                .into_inner()
                .next()
                .map(|b| b.as_str().to_string())
                .unwrap_or_default(),
        )),
        Rule::signed => {
            let s = r.signed(inner, 0);
            match (s, r.problems.pop()) {
                (Some(s), None) => Ok(ValueTree::Number(with_span(s, cell.span))),
                (_, Some(d)) => Err(at_cell(d, cell.span)),
                (None, None) => Ok(ValueTree::Text(cell.text.clone())),
            }
        }
        _ => Ok(ValueTree::Text(inner.as_str().trim().to_string())),
    }
}
