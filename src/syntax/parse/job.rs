//! Lines of a job sheet.

use super::super::lines::Item;
use super::super::tree::*;
use super::{Reader, Rule};
use crate::diagnostics::Diagnostic;
use crate::number::Rounding;

/// First words of lines in a job block.
const JOB_WORDS: &[&str] = &[
    "survey",
    "prices",
    "money",
    "ties",
    "split",
    "round",
    "issued",
    "library",
    "photographs",
    "excludes",
];

impl<'a> Reader<'a> {
    pub(super) fn job_line(&mut self, item: &Item) -> Option<JobLine> {
        let span = self.line(
            item,
            "lines that begin with survey, prices, money, ties, split, round, issued, library, photographs, excludes",
        )?;
        let base = span.start;
        if !JOB_WORDS.contains(&self.first_word(span)) {
            self.unknown_start(span, JOB_WORDS, "in a job block");
            return None;
        }
        let inner = self.read(Rule::job_line, span)?.into_inner().next()?;
        Some(match inner.as_rule() {
            Rule::job_survey => {
                let mut table = None;
                let mut files = Vec::new();
                let mut tabs = Vec::new();
                let mut heading_row = None;
                let mut separated = None;
                let mut decimal_comma = false;
                for p in inner.into_inner() {
                    match p.as_rule() {
                        Rule::name => table = Some(self.name(&p, base)),
                        Rule::texts => files = self.texts(p, base),
                        Rule::job_survey_more => {
                            for q in p.into_inner() {
                                match q.as_rule() {
                                    Rule::texts => tabs = self.texts(q, base),
                                    Rule::digits => {
                                        heading_row = q.as_str().parse().ok().filter(|n| *n > 0);
                                        if heading_row.is_none() {
                                            let d = Diagnostic::error(
                                                "OV-114",
                                                "there is no such row in a table",
                                            )
                                            .at(self.span(&q, base), "");
                                            self.problems.push(
                                                d.found(q.as_str()).expected("the number of the row that holds the headings, from 1 on"),
                                            );
                                        }
                                    }
                                    Rule::text => separated = Some(self.text(&q, base)),
                                    Rule::decimal_comma => decimal_comma = true,
                                    _ => {}
                                }
                            }
                        }
                        _ => {}
                    }
                }
                JobLine::Survey {
                    table: table?,
                    files,
                    tabs,
                    heading_row,
                    separated,
                    decimal_comma,
                    span,
                }
            }
            Rule::job_prices => {
                let mut lists = inner
                    .into_inner()
                    .filter(|p| p.as_rule() == Rule::texts)
                    .map(|p| self.texts(p, base));
                let files = lists.next()?;
                JobLine::Prices {
                    files,
                    tabs: lists.next().unwrap_or_default(),
                    span,
                }
            }
            Rule::job_money => JobLine::Money(self.names(inner, base).into_iter().next()?),
            Rule::job_ties => {
                let mode = match inner
                    .into_inner()
                    .find(|p| p.as_rule() == Rule::tie)
                    .map(|p| p.as_str())
                {
                    Some("down") => Rounding::HalfDown,
                    Some("even") => Rounding::HalfEven,
                    _ => Rounding::HalfUp,
                };
                JobLine::Ties(mode, span)
            }
            Rule::job_issued => {
                let quantity = inner
                    .into_inner()
                    .find(|p| p.as_rule() == Rule::quantity)
                    .map(|p| self.quantity(p, base))?;
                if quantity.point.is_none() {
                    self.problems.push(
                        Diagnostic::error("OV-160", "`issued` names a day")
                            .at(quantity.span, "")
                            .expected("year-month-day without blanks: issued 2026-03-21"),
                    );
                    return None;
                }
                JobLine::Issued(JobLine::issued(quantity.point, quantity.span))
            }
            Rule::job_library => {
                let mut texts = inner.into_inner().filter(|p| p.as_rule() == Rule::text);
                let named = self.text(&texts.next()?, base);
                JobLine::Library {
                    named,
                    gave: texts.next().map(|p| self.text(&p, base)),
                    span,
                }
            }
            Rule::job_photos => JobLine::Photographs(self.first_text(inner, base)?),
            Rule::job_excludes => {
                let texts = inner.into_inner().find(|p| p.as_rule() == Rule::texts)?;
                JobLine::Excludes(self.texts(texts, base))
            }
            Rule::job_split => {
                let names = inner.into_inner().find(|p| p.as_rule() == Rule::names)?;
                JobLine::SplitBy(self.names(names, base))
            }
            _ => {
                let opening = inner
                    .into_inner()
                    .any(|p| p.as_rule() == Rule::round_grain && p.as_str() == "opening");
                JobLine::Round(
                    if opening {
                        MoneyGrain::Opening
                    } else {
                        MoneyGrain::Line
                    },
                    span,
                )
            }
        })
    }

    pub(super) fn pay_line(&mut self, item: &Item) -> Option<PayLine> {
        let span = self.line(
            item,
            "lines such as wage 34 USD per h, or payroll 7.65 % of wage",
        )?;
        let base = span.start;
        let node = self.read(Rule::pay_line, span)?;
        let mut name = None;
        let mut percent = None;
        let mut amount = None;
        let mut remarks = Remarks::default();
        for p in node.into_inner() {
            match p.as_rule() {
                Rule::name => name = Some(self.name(&p, base)),
                Rule::percent => percent = p.into_inner().next().map(|n| self.percent(&n, base)),
                Rule::bases => {
                    let of = self.bases(p, base);
                    amount = percent
                        .take()
                        .map(|percent| PayAmount::Share { percent, of });
                }
                Rule::signed => amount = self.signed(p, base).map(PayAmount::Rate),
                Rule::remark => self.remark(p, base, &mut remarks),
                _ => {}
            }
        }
        Some(PayLine {
            name: name?,
            amount: amount?,
            remarks,
            span,
        })
    }
}
