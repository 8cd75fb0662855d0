//! Written quantities and numbers.

use super::super::tree::*;
use super::{Node, Reader, Rule};
use crate::diagnostics::{Diagnostic, Span};
use crate::number::{Exact, FOOT_MARKS, INCH_MARKS, fraction_of};

impl<'a> Reader<'a> {
    pub(super) fn quantity(&mut self, node: Node<'a>, base: u32) -> Quantity {
        let span = self.span(&node, base);
        let mut parts: Vec<(Exact, Option<UnitText>)> = Vec::new();
        let told = self.problems.len();
        let whole = node.as_str();
        let mut point = None;
        let sign = |text: &str| {
            Some(UnitText {
                text: text.into(),
                span,
            })
        };
        let mut nodes = node.into_inner().peekable();
        // A measure of feet and inches is one node that holds both.
        if let Some(both) = nodes.next_if(|p| p.as_rule() == Rule::feet_inches) {
            nodes = both.into_inner().peekable();
        }
        for p in nodes {
            match p.as_rule() {
                Rule::feet => {
                    let value = self.plain(p.as_str().trim_end_matches(FOOT_MARKS), span);
                    parts.push((value, sign("ft")));
                }
                Rule::inches => {
                    let text = p.as_str().trim_end_matches(INCH_MARKS);
                    let value = self.plain(text.trim_end_matches(FOOT_MARKS), span);
                    parts.push((value, sign("in")));
                }
                Rule::number => {
                    let value = self.number(&p, base);
                    parts.push((value, None));
                }
                Rule::moment | Rule::degree => point = Some(whole.trim().to_owned()),
                rule => {
                    let unit = match rule {
                        Rule::inch_mark => sign("in"),
                        Rule::percent_sign => sign("%"),
                        _ => Some(self.unit(p, base)),
                    };
                    if let Some(last) = parts.last_mut() {
                        last.1 = unit;
                    }
                }
            }
        }
        // A number that can't be kept makes no quantity: what would follow from a stand-in for it is not told.
        if self.problems.len() > told || point.is_some() {
            parts.clear();
        }
        Quantity { parts, point, span }
    }

    pub(super) fn number(&mut self, node: &Node<'a>, base: u32) -> Exact {
        let span = self.span(node, base);
        self.plain(node.as_str(), span)
    }

    /// A written number: plain, fraction or mixed, with Unicode fractions.
    fn plain(&mut self, text: &str, span: Span) -> Exact {
        let digits = text.chars().filter(char::is_ascii_digit).count();
        if digits <= MOST_DIGITS {
            let mut plain = String::new();
            for c in text.chars() {
                match fraction_of(c) {
                    Some(f) => {
                        if !plain.is_empty() && !plain.ends_with(' ') {
                            plain.push(' ');
                        }
                        plain.push_str(f);
                    }
                    None => plain.push(c),
                }
            }
            let tidy = plain.split_whitespace().collect::<Vec<_>>().join(" ");
            if let Some(value) = Exact::parse_plain(&tidy) {
                return value;
            }
        }
        let problem = if digits > MOST_DIGITS {
            Diagnostic::error("OV-108", "this number has too many digits")
                .found(format!("{digits} digits"))
                .expected(format!("at most {MOST_DIGITS} digits"))
        } else {
            Diagnostic::error("OV-109", "this is not a number")
                .found(text.to_string())
                .note("a fraction needs a denominator above zero")
        };
        self.problems.push(problem.at(span, ""));
        Exact::ONE
    }
}

/// Digits of one written number.
const MOST_DIGITS: usize = 40;
