//! Columns of a survey.

use super::super::lines::Item;
use super::super::tree::*;
use super::expr::absent_kind;
use super::{Node, Reader, Rule};
use crate::diagnostics::Diagnostic;

impl<'a> Reader<'a> {
    pub(super) fn column(&mut self, item: &Item) -> Option<Column> {
        let span = self.line(item, "a column on one line")?;
        let base = span.start;
        let node = self.read(Rule::column_line, span)?;
        let mut name = None;
        let mut kind = None;
        let mut column = Column {
            name: Name {
                text: String::new(),
                span,
            },
            kind: ColumnType::Text,
            key: false,
            whole: false,
            optional: false,
            private: false,
            quarters: false,
            adds_up: false,
            may_be_na: false,
            if_blank: None,
            if_na: None,
            above: None,
            between: None,
            headed: Vec::new(),
            remarks: Remarks::default(),
            span,
        };
        for p in node.into_inner() {
            match p.as_rule() {
                Rule::name => name = Some(self.name(&p, base)),
                Rule::column_type => {
                    kind = p
                        .into_inner()
                        .next()
                        .and_then(|q| self.column_type(q, base))
                }
                Rule::column_more => {
                    let Some(q) = p.into_inner().next() else {
                        continue;
                    };
                    self.column_more(q, base, &mut column);
                }
                _ => {}
            }
        }
        column.name = name?;
        column.kind = kind?;
        Some(column)
    }

    pub(super) fn column_type(&mut self, node: Node<'a>, base: u32) -> Option<ColumnType> {
        Some(match node.as_rule() {
            Rule::measured_type => {
                let mut word = None;
                let mut unit = None;
                for p in node.into_inner() {
                    match p.as_rule() {
                        Rule::measure_kind => word = Some(self.name(&p, base)),
                        Rule::unit => unit = Some(self.unit(p, base)),
                        _ => {}
                    }
                }
                ColumnType::Measure(word?, unit?)
            }
            Rule::number_type => ColumnType::Number(
                node.into_inner()
                    .find(|p| p.as_rule() == Rule::unit)
                    .map(|p| self.unit(p, base)),
            ),
            Rule::counted_type => ColumnType::Count(self.names(node, base).into_iter().next()?),
            Rule::plain_type => match node.as_str() {
                "percent" => ColumnType::Percent,
                "date" => ColumnType::Date,
                "lites" => ColumnType::Lites,
                "moment" => ColumnType::Moment,
                "temperature" => ColumnType::Temperature,
                _ => ColumnType::Text,
            },
            Rule::yes_no_type => ColumnType::YesNo,
            Rule::one_of_type => {
                let specs = node
                    .into_inner()
                    .find(|p| p.as_rule() == Rule::label_specs)?;
                ColumnType::OneOf(self.label_defs(specs, base))
            }
            _ => ColumnType::Of(self.names(node, base).into_iter().next()?),
        })
    }

    pub(super) fn column_more(&mut self, node: Node<'a>, base: u32, column: &mut Column) {
        let span = self.span(&node, base);
        let mut twice = false;
        match node.as_rule() {
            Rule::column_flag => {
                let flag = match node.as_str() {
                    "key" => &mut column.key,
                    "whole" => &mut column.whole,
                    "optional" => &mut column.optional,
                    "private" => &mut column.private,
                    "quarters" => &mut column.quarters,
                    _ => &mut column.adds_up,
                };
                twice = std::mem::replace(flag, true);
            }
            Rule::may_be_na => twice = std::mem::replace(&mut column.may_be_na, true),
            Rule::column_absent => {
                let mut which = AbsentKind::Blank;
                let mut value = None;
                for p in node.into_inner() {
                    match p.as_rule() {
                        Rule::absent_kind => which = absent_kind(p.as_str()),
                        Rule::signed => value = self.signed(p, base).map(ColumnValue::Quantity),
                        Rule::truth => {
                            value =
                                Some(ColumnValue::Truth(p.as_str() == "yes", self.span(&p, base)))
                        }
                        Rule::text => value = Some(ColumnValue::Text(self.text(&p, base))),
                        Rule::name => value = Some(ColumnValue::Label(self.name(&p, base))),
                        _ => {}
                    }
                }
                let slot = if which == AbsentKind::Blank {
                    &mut column.if_blank
                } else {
                    &mut column.if_na
                };
                twice = slot.is_some();
                *slot = value;
            }
            Rule::column_above => {
                let mut names = self.names(node, base).into_iter().rev();
                let table = names.next();
                twice = column.above.is_some();
                column.above = table.map(|table| (names.next(), table));
            }
            Rule::column_between => {
                let mut ends = node
                    .into_inner()
                    .filter(|p| p.as_rule() == Rule::signed)
                    .filter_map(|p| self.signed(p, base));
                twice = column.between.is_some();
                column.between = ends.next().zip(ends.next());
            }
            Rule::headed => {
                let texts = node
                    .into_inner()
                    .find(|p| p.as_rule() == Rule::texts)
                    .map(|p| self.texts(p, base));
                column.headed.extend(texts.unwrap_or_default());
            }
            Rule::remark => self.remark(node, base, &mut column.remarks),
            _ => {}
        }
        if twice {
            self.problems.push(
                Diagnostic::error("OV-113", "the same word is given twice on this line")
                    .at(span, "the second")
                    .mend("keep one"),
            );
        }
    }
}
