//! Mixed plans and blocks on cost over the years.

use super::super::lines::Item;
use super::super::tree::*;
use super::{Node, Reader, Rule};
use crate::diagnostics::Span;

/// First words of lines in a `life` block.
const LIFE_WORDS: &[&str] = &[
    "study",
    "discount",
    "escalation",
    "inflation",
    "upkeep",
    "replace",
    "residual",
];

impl<'a> Reader<'a> {
    pub(super) fn pick(&mut self, node: Node<'a>, span: Span) -> Option<Pick> {
        let (mut texts, mut share) = (Vec::new(), None);
        for p in node.into_inner() {
            match p.as_rule() {
                Rule::text => texts.push(self.text(&p, span.start)),
                Rule::percent => share = self.share(p, span.start),
                _ => {}
            }
        }
        let mut texts = texts.into_iter();
        Some(Pick {
            plan: texts.next()?,
            share: share?,
            against: texts.next()?,
            otherwise: texts.next()?,
            span,
        })
    }

    pub(super) fn life_line(&mut self, item: &Item) -> Option<LifeLine> {
        let span = item.span();
        let Item::Line(_) = item else {
            self.unknown_start(span, LIFE_WORDS, "in a `life` block");
            return None;
        };
        if !LIFE_WORDS.contains(&self.first_word(span)) {
            self.unknown_start(span, LIFE_WORDS, "in a `life` block");
            return None;
        }
        let line = self.read(Rule::life_line, span)?.into_inner().next()?;
        match line.as_rule() {
            Rule::life_study => {
                let years = self.whole_years(&line)?;
                Some(LifeLine::Study { years, span })
            }
            Rule::life_rate => {
                let (mut what, mut rate, mut kind) = (LifeRate::Discount, None, None);
                for p in line.into_inner() {
                    match p.as_rule() {
                        Rule::life_rate_word => {
                            what = match p.as_str() {
                                "escalation" => LifeRate::Escalation,
                                "inflation" => LifeRate::Inflation,
                                _ => LifeRate::Discount,
                            }
                        }
                        Rule::percent => rate = self.share(p, span.start),
                        Rule::rate_kind => kind = Some(rate_kind(p.as_str())),
                        _ => {}
                    }
                }
                Some(LifeLine::Rate {
                    what,
                    rate: rate?,
                    kind,
                    span,
                })
            }
            _ => self.life_cost(line, span),
        }
    }

    fn life_cost(&mut self, line: Node<'a>, span: Span) -> Option<LifeLine> {
        let mut kind = LifeCostKind::Residual;
        let (mut name, mut amount, mut when, mut rising) = (None, None, LifeWhen::End, None);
        let mut remarks = Remarks::default();
        for p in line.into_inner() {
            match p.as_rule() {
                Rule::life_cost_word => {
                    kind = if p.as_str() == "upkeep" {
                        LifeCostKind::Upkeep
                    } else {
                        LifeCostKind::Replace
                    }
                }
                Rule::text => name = Some(self.text(&p, span.start)),
                Rule::life_amount => amount = self.life_amount(p, span.start),
                Rule::life_when => when = self.life_when(&p)?,
                Rule::life_rising => {
                    let (mut rate, mut of_kind) = (None, None);
                    for q in p.into_inner() {
                        match q.as_rule() {
                            Rule::percent => rate = self.share(q, span.start),
                            Rule::rate_kind => of_kind = Some(rate_kind(q.as_str())),
                            _ => {}
                        }
                    }
                    rising = rate.zip(of_kind);
                }
                Rule::remark => self.remark(p, span.start, &mut remarks),
                _ => {}
            }
        }
        Some(LifeLine::Cost {
            kind,
            name: name?,
            amount: amount?,
            when,
            rising,
            remarks,
            span,
        })
    }

    fn share(&mut self, percent: Node<'a>, base: u32) -> Option<crate::number::Exact> {
        percent.into_inner().next().map(|n| self.percent(&n, base))
    }

    fn life_amount(&mut self, node: Node<'a>, base: u32) -> Option<LifeAmount> {
        let first = node.into_inner().next()?;
        match first.as_rule() {
            Rule::percent => self.share(first, base).map(LifeAmount::Share),
            _ => Some(LifeAmount::Sum(self.expr(first, base))),
        }
    }

    fn life_when(&mut self, node: &Node<'a>) -> Option<LifeWhen> {
        let word = node
            .clone()
            .into_inner()
            .find(|p| p.as_rule() == Rule::cycle_word);
        match word {
            None => Some(LifeWhen::EachYear),
            Some(word) => {
                let years = self.whole_years(node)?;
                Some(if word.as_str() == "every" {
                    LifeWhen::Every(years)
                } else {
                    LifeWhen::After(years)
                })
            }
        }
    }

    /// The digits of a count of years; a number too long for any study reads as the greatest there is, which the checker refuses.
    fn whole_years(&self, node: &Node<'a>) -> Option<u32> {
        let digits = node
            .clone()
            .into_inner()
            .find(|p| p.as_rule() == Rule::digits)?;
        Some(digits.as_str().parse().unwrap_or(u32::MAX))
    }
}

fn rate_kind(word: &str) -> RateKind {
    if word == "real" {
        RateKind::Real
    } else {
        RateKind::Nominal
    }
}
