//! Trials.

use super::super::lines::Item;
use super::super::tree::*;
use super::expr::absent_kind;
use super::{Node, Reader, Rule};
use crate::diagnostics::Span;

impl<'a> Reader<'a> {
    pub(super) fn trial(&mut self, body: &[Item]) -> Trial {
        let none = Span {
            file: self.file,
            start: 0,
            end: 0,
        };
        let mut trial = Trial {
            name: Text {
                text: String::new(),
                span: none,
            },
            with: vec![],
            rows: vec![],
            changes: vec![],
            expects: vec![],
        };
        for item in body {
            let Some(span) = self.line(item, "lines that begin with with, row, change, expect")
            else {
                continue;
            };
            let base = span.start;
            match self.first_word(span) {
                "with" => {
                    if let Some(n) = self.read(Rule::with_line, span) {
                        for p in n.into_inner().filter(|p| p.as_rule() == Rule::settings) {
                            trial.with.extend(self.settings(p, base));
                        }
                    }
                }
                "row" => {
                    if let Some(n) = self.read(Rule::row_line, span) {
                        let mut table = None;
                        let mut settings = Vec::new();
                        for p in n.into_inner() {
                            match p.as_rule() {
                                Rule::name => table = Some(self.name(&p, base)),
                                Rule::settings => settings = self.settings(p, base),
                                _ => {}
                            }
                        }
                        trial.rows.push((table, settings, span));
                    }
                }
                "change" => trial.changes.extend(
                    self.read(Rule::change_line, span)
                        .and_then(|n| self.change(n, base, span)),
                ),
                "expect" => trial.expects.extend(self.expect(span)),
                _ => self.unknown_start(span, &["with", "row", "change", "expect"], "in a trial"),
            }
        }
        trial
    }

    pub(super) fn settings(&mut self, node: Node<'a>, base: u32) -> Vec<Setting> {
        node.into_inner()
            .filter(|p| p.as_rule() == Rule::setting)
            .filter_map(|p| {
                let mut name = None;
                let mut value = None;
                for q in p.into_inner() {
                    match q.as_rule() {
                        Rule::name => name = Some(self.name(&q, base)),
                        Rule::setting_value => {
                            value = q.into_inner().next().map(|v| match v.as_rule() {
                                Rule::absent_kind => Err(absent_kind(v.as_str())),
                                _ => Ok(self.expr(v, base)),
                            });
                        }
                        _ => {}
                    }
                }
                Some(Setting {
                    name: name?,
                    value: value?,
                })
            })
            .collect()
    }

    pub(super) fn expect(&mut self, span: Span) -> Option<Expect> {
        let base = span.start;
        let node = self.read(Rule::expect_line, span)?;
        let inner = node.into_inner().next()?;
        let refused = inner.as_rule() == Rule::expect_refusal;
        let mut target = ExpectTarget::Require;
        let mut value = None;
        let mut code = None;
        let (mut within, mut because) = (None, None);
        let mut at = None;
        for p in inner.into_inner() {
            match p.as_rule() {
                Rule::name if refused && p.as_str() == "require" => {}
                Rule::name => target = ExpectTarget::Value(self.name(&p, base)),
                Rule::expect_part => {
                    let mut size = None;
                    let mut rough = false;
                    let mut name = None;
                    for q in p.into_inner() {
                        match q.as_rule() {
                            Rule::name => name = Some(self.name(&q, base)),
                            Rule::kw_rough => rough = true,
                            Rule::size_word => size = Some(super::parts::side(q.as_str())),
                            _ => {}
                        }
                    }
                    target = ExpectTarget::Part(name?, size.map(|side| (side, rough)));
                }
                Rule::expect_cut => {
                    let mut name = None;
                    let mut figure = CutFigure::Cost;
                    for q in p.into_inner() {
                        match q.as_rule() {
                            Rule::name => name = Some(self.name(&q, base)),
                            Rule::cut_figure if q.as_str() == "bound" => figure = CutFigure::Bound,
                            _ => {}
                        }
                    }
                    target = ExpectTarget::Cut(name?, figure);
                }
                Rule::expect_take => {
                    target = ExpectTarget::Take(self.names(p, base).into_iter().next()?)
                }
                Rule::expr => value = Some(self.expr(p, base)),
                Rule::code => code = Some(p.as_str().to_string()),
                Rule::within => {
                    let quantity = p.into_inner().find(|q| q.as_rule() == Rule::quantity);
                    within = quantity
                        .map(|q| self.quantity(q, base))
                        .map(|quantity| Signed {
                            negative: false,
                            span: quantity.span,
                            quantity,
                        });
                }
                Rule::expect_reason => {
                    let text = p.into_inner().find(|q| q.as_rule() == Rule::text);
                    because = text.map(|t| self.text(&t, base));
                }
                Rule::text => at = Some(self.text(&p, base)),
                _ => {}
            }
        }
        let outcome = if refused { Err(code) } else { Ok(value?) };
        Some(Expect {
            target,
            outcome,
            within,
            because,
            at,
            span,
        })
    }
}
