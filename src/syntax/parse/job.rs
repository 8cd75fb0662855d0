//! Lines of a job sheet.

use super::super::lines::Item;
use super::super::tree::*;
use super::nodes::{all, one};
use super::{Node, Reader, Rule};
use crate::diagnostics::{Diagnostic, Span};
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
            Rule::job_survey => self.job_survey(&inner, span)?,
            Rule::job_prices => {
                let mut lists = all(&inner, Rule::texts).map(|p| self.texts(p, base));
                let files = lists.next()?;
                JobLine::Prices {
                    files,
                    tabs: lists.next().unwrap_or_default(),
                }
            }
            Rule::job_money => JobLine::Money(self.names(inner, base).into_iter().next()?),
            Rule::job_ties => {
                let mode = match one(&inner, Rule::tie).map(|p| p.as_str()) {
                    Some("down") => Rounding::HalfDown,
                    Some("even") => Rounding::HalfEven,
                    _ => Rounding::HalfUp,
                };
                JobLine::Ties(mode)
            }
            Rule::job_issued => {
                let quantity = one(&inner, Rule::quantity).map(|p| self.quantity(p, base))?;
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
                let mut texts = all(&inner, Rule::text);
                let named = self.text(&texts.next()?, base);
                JobLine::Library {
                    named,
                    gave: texts.next().map(|p| self.text(&p, base)),
                    span,
                }
            }
            Rule::job_photos => JobLine::Photographs(self.first_text(inner, base)?),
            Rule::job_excludes => {
                let texts = one(&inner, Rule::texts)?;
                JobLine::Excludes(self.texts(texts, base))
            }
            Rule::job_split => {
                let names = one(&inner, Rule::names)?;
                JobLine::SplitBy(self.names(names, base))
            }
            _ => {
                let opening =
                    all(&inner, Rule::round_grain).any(|grain| grain.as_str() == "opening");
                JobLine::Round(if opening {
                    MoneyGrain::Opening
                } else {
                    MoneyGrain::Line
                })
            }
        })
    }

    /// `survey opening from "a.csv" tab "T" ...`.
    fn job_survey(&mut self, line: &Node<'a>, span: Span) -> Option<JobLine> {
        let base = span.start;
        let more = one(line, Rule::job_survey_more);
        let row = more.as_ref().and_then(|more| one(more, Rule::digits));
        let heading_row = row
            .as_ref()
            .and_then(|row| row.as_str().parse().ok())
            .filter(|n| *n > 0);
        if let (Some(row), None) = (&row, heading_row) {
            self.problems.push(
                Diagnostic::error("OV-114", "there is no such row in a table")
                    .at(self.span(row, base), "")
                    .found(row.as_str())
                    .expected("the number of the row that holds the headings, from 1 on"),
            );
        }
        let texts_of =
            |node: &Node<'a>| one(node, Rule::texts).map(|texts| self.texts(texts, base));
        let further = |rule| more.as_ref().and_then(|more| one(more, rule));
        Some(JobLine::Survey {
            table: one(line, Rule::name).map(|name| self.name(&name, base))?,
            files: texts_of(line).unwrap_or_default(),
            tabs: more.as_ref().and_then(texts_of).unwrap_or_default(),
            heading_row,
            separated: further(Rule::text).map(|text| self.text(&text, base)),
            decimal_comma: further(Rule::decimal_comma).is_some(),
            span,
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
        })
    }
}
