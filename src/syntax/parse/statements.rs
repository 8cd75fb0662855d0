//! Statements at the top of a sheet.

use super::super::lines::{Item, TOP_WORDS};
use super::super::tree::*;
use super::expr::round_word;
use super::nodes::{all, has, one};
use super::{Node, Reader, Rule};
use crate::diagnostics::{Diagnostic, Span};

impl<'a> Reader<'a> {
    pub(super) fn top(&mut self, item: &Item, sheet: &mut Sheet) {
        let span = item.span();
        let base = span.start;
        let word = self.first_word(span);
        let kind = match (item, word) {
            (Item::Line(_), "sheet") => {
                self.sheet_line(span, sheet);
                return;
            }
            (Item::Block { body, .. }, _) => self.block(word, span, body),
            (Item::Line(_), "use") => self
                .read(Rule::use_line, span)
                .and_then(|n| one(&n, Rule::text))
                .map(|p| StatementKind::Use(self.text(&p, base))),
            (Item::Line(_), "counted") => self
                .read(Rule::counted_line, span)
                .map(|n| self.counted(n, base)),
            (Item::Line(_), "phases") => self.read(Rule::phases_line, span).map(|n| {
                let texts = one(&n, Rule::texts).map(|p| self.texts(p, base));
                StatementKind::Phases(texts.unwrap_or_default())
            }),
            (Item::Line(_), "choice") => self.read(Rule::choice_line, span).and_then(|n| {
                let labels = one(&n, Rule::label_specs).map(|p| self.label_defs(p, base));
                Some(StatementKind::Choice {
                    name: self.name_in(&n, base)?,
                    labels: labels.unwrap_or_default(),
                })
            }),
            (Item::Line(_), "given") => self
                .read(Rule::given_line, span)
                .and_then(|n| self.given(n, base)),
            (Item::Line(_), "resource") => self
                .read(Rule::resource_line, span)
                .and_then(|n| self.resource(n, base)),
            (Item::Line(_), "helper") => self
                .read(Rule::helper_line, span)
                .and_then(|n| self.helper(n, base)),
            (Item::Line(_), "caution") => self
                .read(Rule::caution_line, span)
                .and_then(|n| self.caution(n, base, span))
                .map(StatementKind::Caution),
            (Item::Line(_), "change") if self.is_amend(span) => {
                self.amend(span).map(StatementKind::Amend)
            }
            (Item::Line(_), "change") => self
                .read(Rule::change_line, span)
                .and_then(|n| self.change(n, base, span))
                .map(StatementKind::Change),
            (Item::Line(_), "charge") => self
                .read(Rule::charge_line, span)
                .and_then(|n| self.charge(n, base)),
            (Item::Line(_), "allowance") => self
                .read(Rule::allowance_line, span)
                .and_then(|n| self.allowance(n, base)),
            (Item::Line(_), "final") => self.read(Rule::final_line, span).and_then(|n| {
                let mode = one(&n, Rule::round_mode).map(|p| round_word(p.as_str()));
                Some(StatementKind::Final {
                    word: mode.unwrap_or(RoundWord::Nearest),
                    step: one(&n, Rule::quantity).map(|p| self.quantity(p, base))?,
                })
            }),
            // A table from a file has no rows here, so no block.
            (Item::Line(_), "table") if self.piece(span).contains(" from ") => {
                self.table(span, &[])
            }
            // As many rows as a column counts: nothing more to say, so no block.
            (Item::Line(_), "rows") => self.rows(span, None),
            (
                Item::Line(_),
                "survey" | "for" | "table" | "alternate" | "extend" | "trial" | "job" | "pay"
                | "life" | "calendar" | "list" | "paper" | "cut",
            ) => {
                self.no_block(word, span);
                None
            }
            (Item::Line(_), _) => {
                self.unknown_start(span, TOP_WORDS, "at the top of a sheet");
                None
            }
        };
        if let Some(kind) = kind {
            sheet.statements.push(Statement { span, kind });
        }
    }

    fn sheet_line(&mut self, span: Span, sheet: &mut Sheet) {
        let Some(node) = self.read(Rule::sheet_line, span) else {
            return;
        };
        if self.begun || sheet.title.is_some() || !sheet.statements.is_empty() {
            self.problems.push(
                Diagnostic::error("OV-111", "`sheet` comes once, first in its file")
                    .at(span, "")
                    .mend("move it to the top, or take it out"),
            );
            return;
        }
        for p in node.into_inner() {
            match p.as_rule() {
                Rule::text => sheet.title = Some(self.text(&p, span.start)),
                Rule::name => {
                    let name = self.name(&p, span.start);
                    let layer = match name.text.as_str() {
                        "base" => Some(Layer::Base),
                        "shop" => Some(Layer::Shop),
                        "job" => Some(Layer::Job),
                        _ => None,
                    };
                    match layer {
                        Some(l) => sheet.layer = Some((l, name.span)),
                        None => self.problems.push(
                            Diagnostic::error(
                                "OV-112",
                                format!("there is no layer `{}`", name.text),
                            )
                            .at(name.span, "")
                            .expected("layer base, layer shop or layer job"),
                        ),
                    }
                }
                _ => {}
            }
        }
    }

    /// The first name in a node.
    pub(super) fn name_in(&self, node: &Node<'a>, base: u32) -> Option<Name> {
        one(node, Rule::name).map(|name| self.name(&name, base))
    }

    fn counted(&mut self, node: Node<'a>, base: u32) -> StatementKind {
        let list = all(&node, Rule::counted)
            .filter_map(|noun| {
                let plural = one(&noun, Rule::plural).map(|p| p.as_str().to_string());
                Some((self.name_in(&noun, base)?, plural))
            })
            .collect();
        StatementKind::Counted(list)
    }

    pub(super) fn label_defs(&mut self, node: Node<'a>, base: u32) -> Vec<LabelDef> {
        all(&node, Rule::label_spec)
            .filter_map(|label| {
                let texts = one(&label, Rule::texts).map(|texts| self.texts(texts, base));
                Some(LabelDef {
                    name: self.name_in(&label, base)?,
                    spellings: texts.into_iter().flatten().map(|t| t.text).collect(),
                })
            })
            .collect()
    }

    /// Tells that a word of a line is given a second time.
    fn twice(&mut self, span: Span) {
        self.problems.push(
            Diagnostic::error("OV-113", "the same word is given twice on this line")
                .at(span, "the second")
                .mend("keep one"),
        );
    }

    pub(super) fn remark(&mut self, node: Node<'a>, base: u32, remarks: &mut Remarks) {
        let Some(text) = one(&node, Rule::text) else {
            return;
        };
        let is_source = all(&node, Rule::remark_kind).any(|kind| kind.as_str() == "source");
        let slot = if is_source {
            &mut remarks.source
        } else {
            &mut remarks.note
        };
        if slot.replace(self.text(&text, base).text).is_some() {
            self.twice(self.span(&node, base));
        }
    }

    pub(super) fn signed(&mut self, node: Node<'a>, base: u32) -> Option<Signed> {
        Some(Signed {
            negative: has(&node, Rule::minus),
            span: self.span(&node, base),
            quantity: one(&node, Rule::quantity).map(|p| self.quantity(p, base))?,
        })
    }

    fn given(&mut self, node: Node<'a>, base: u32) -> Option<StatementKind> {
        let mut remarks = Remarks::default();
        for remark in all(&node, Rule::remark) {
            self.remark(remark, base, &mut remarks);
        }
        let asked = one(&node, Rule::asked)
            .and_then(|p| self.asked(p, base))
            .map(GivenValue::Asked);
        let value = one(&node, Rule::given_value).and_then(|p| self.given_value(&p, base));
        let range = one(&node, Rule::given_range).and_then(|range| {
            let mut ends = all(&range, Rule::signed).filter_map(|q| self.signed(q, base));
            ends.next().zip(ends.next())
        });
        Some(StatementKind::Given(Given {
            name: self.name_in(&node, base)?,
            value: value.or(asked)?,
            range,
            varies: one(&node, Rule::varies).and_then(|p| self.varies(p, base)),
            private: has(&node, Rule::private),
            remarks,
        }))
    }

    fn given_value(&mut self, node: &Node<'a>, base: u32) -> Option<GivenValue> {
        if let Some(signed) = one(node, Rule::signed) {
            return self.signed(signed, base).map(GivenValue::Quantity);
        }
        if let Some(truth) = one(node, Rule::truth) {
            return Some(GivenValue::Truth(truth.as_str() == "yes"));
        }
        if let Some(text) = one(node, Rule::text) {
            return Some(GivenValue::Text(self.text(&text, base)));
        }
        let mut names = all(node, Rule::name).map(|name| self.name(&name, base));
        let label = names.next()?;
        if let Some(choice) = names.next() {
            return Some(GivenValue::Of { label, choice });
        }
        let labels = self.label_defs(one(node, Rule::label_specs)?, base);
        Some(GivenValue::Label { label, labels })
    }

    fn varies(&mut self, node: Node<'a>, base: u32) -> Option<Varies> {
        let mut signed = |p: Node<'a>| self.signed(p, base);
        let likely = one(&node, Rule::spread)
            .and_then(|spread| one(&spread, Rule::signed))
            .and_then(&mut signed);
        let mut ends = all(&node, Rule::signed).filter_map(&mut signed);
        let (low, high) = (ends.next()?, ends.next()?);
        let group = one(&node, Rule::with_group).and_then(|p| self.first_text(p, base));
        Some(Varies {
            low,
            high,
            likely,
            group: group.map(|t| t.text),
            span: self.span(&node, base),
        })
    }

    fn asked(&mut self, node: Node<'a>, base: u32) -> Option<Asked> {
        let kind = one(&node, Rule::column_type)
            .and_then(|p| p.into_inner().next())
            .and_then(|q| self.column_type(q, base));
        let unanswered = one(&node, Rule::unanswered).and_then(|p| {
            let value = one(&p, Rule::expr).map(|q| self.expr(q, base));
            value.zip(one(&p, Rule::text).map(|q| self.text(&q, base)))
        });
        Some(Asked {
            kind: kind?,
            unanswered,
        })
    }

    fn resource(&mut self, node: Node<'a>, base: u32) -> Option<StatementKind> {
        let mut more = ResourceMore::default();
        for part in all(&node, Rule::resource_more) {
            let span = self.span(&part, base);
            if self.resource_more(&part, base, &mut more) {
                self.twice(span);
            }
        }
        let unit = one(&node, Rule::unit).map(|p| self.unit(p, base));
        let mut names = all(&node, Rule::name).map(|name| self.name(&name, base));
        Some(StatementKind::Resource(Resource {
            name: names.next()?,
            class: names.next()?,
            unit: unit?,
            allowance: more.allowance,
            pack: more.pack,
            called: more.called,
            remarks: more.remarks,
        }))
    }

    /// Reads one further part of a resource; says whether it was given before.
    fn resource_more(&mut self, node: &Node<'a>, base: u32, more: &mut ResourceMore) -> bool {
        if let Some(word) = one(node, Rule::allowance_word) {
            let kind = if word.as_str() == "waste" {
                AllowanceKind::Waste
            } else {
                AllowanceKind::Yield
            };
            let percent = one(node, Rule::percent).map(|p| {
                let number = p.into_inner().next();
                number.map_or(crate::number::Exact::ZERO, |n| self.percent(&n, base))
            });
            let value = match percent {
                Some(percent) => Some(AllowanceValue::Percent(percent)),
                None => self.name_in(node, base).map(AllowanceValue::Given),
            };
            let span = self.span(node, base);
            return value
                .is_some_and(|value| more.allowance.replace((kind, value, span)).is_some());
        }
        if let Some(bought) = one(node, Rule::bought) {
            let quantity = one(&bought, Rule::quantity).map(|p| self.quantity(p, base));
            let pack = self.name_in(&bought, base).zip(quantity);
            return pack.is_some_and(|pack| more.pack.replace(pack).is_some());
        }
        if let Some(called) = one(node, Rule::called) {
            let twice = more.called.is_some();
            more.called = self.first_text(called, base).map(|t| t.text);
            return twice;
        }
        for remark in all(node, Rule::remark) {
            self.remark(remark, base, &mut more.remarks);
        }
        false
    }

    /// A written percent as a share: `35` gives 35/100.
    pub(super) fn percent(&mut self, number: &Node<'a>, base: u32) -> crate::number::Exact {
        let q = self.number(number, base);
        let hundred = crate::number::Exact::int(100);
        q.div(&hundred).unwrap_or(crate::number::Exact::ZERO)
    }

    fn helper(&mut self, node: Node<'a>, base: u32) -> Option<StatementKind> {
        let params = one(&node, Rule::names).map(|p| self.names(p, base));
        let body = one(&node, Rule::expr).map(|p| self.expr(p, base));
        Some(StatementKind::Helper {
            name: self.name_in(&node, base)?,
            params: params.unwrap_or_default(),
            body: body?,
        })
    }

    pub(super) fn caution(&mut self, node: Node<'a>, base: u32, span: Span) -> Option<Caution> {
        let when = one(&node, Rule::conditional).or_else(|| one(&node, Rule::condition));
        let when = when.map(|p| self.branch(p, base));
        let kind = one(&node, Rule::caution_as).and_then(|p| p.into_inner().next());
        let kind = match kind.map(|p| p.as_str()) {
            Some("condition") => CautionKind::Condition,
            Some("exclusion") => CautionKind::Exclusion,
            _ => CautionKind::Plain,
        };
        let about = one(&node, Rule::caution_for);
        let who = about.as_ref().and_then(|p| one(p, Rule::caution_who));
        let whose = match who.as_ref().map(|p| p.as_str()) {
            Some("shop") => Some(Whose::Shop),
            Some(_) => Some(Whose::Crew),
            None => None,
        };
        let phases = about.map(|p| self.texts(p, base)).unwrap_or_default();
        Some(Caution {
            text: self.first_text(node, base)?,
            kind,
            whose,
            phases,
            when,
            span,
        })
    }

    pub(super) fn decided_by(&mut self, node: Node<'a>, base: u32) -> Option<DecidedBy> {
        let day = one(&node, Rule::day)?;
        Some(DecidedBy {
            day: Text {
                text: day.as_str().to_string(),
                span: self.span(&day, base),
            },
            who: self.first_text(node, base)?,
        })
    }

    pub(super) fn change(&mut self, node: Node<'a>, base: u32, span: Span) -> Option<Change> {
        let target = one(&node, Rule::change_target)?;
        let part = match one(&target, Rule::change_part).map(|part| part.as_str()) {
            None => ChangePart::Value,
            Some("price") => ChangePart::Price,
            Some("waste") => ChangePart::Waste,
            Some(_) => ChangePart::Yield,
        };
        let exprs: Vec<_> = all(&node, Rule::expr).map(|p| self.expr(p, base)).collect();
        let mut exprs = exprs.into_iter();
        let at = one(&node, Rule::at_mark).and_then(|p| self.first_text(p, base));
        let by = one(&node, Rule::decided_by).and_then(|p| self.decided_by(p, base));
        Some(Change {
            part,
            name: self.name_in(&target, base)?,
            at,
            to: exprs.next()?,
            because: one(&node, Rule::text).map(|p| self.text(&p, base)),
            by,
            was: exprs.next(),
            span,
        })
    }

    pub(super) fn bases(&mut self, node: Node<'a>, base: u32) -> Bases {
        if has(&node, Rule::all_so_far) {
            return Bases::AllSoFar;
        }
        let names = all(&node, Rule::base).map(|name| self.name(&name, base));
        Bases::Named(names.collect())
    }

    fn allowance(&mut self, node: Node<'a>, base: u32) -> Option<StatementKind> {
        let mut remarks = Remarks::default();
        for remark in all(&node, Rule::remark) {
            self.remark(remark, base, &mut remarks);
        }
        let amount = one(&node, Rule::signed).and_then(|p| self.signed(p, base));
        Some(StatementKind::Allowance {
            name: self.name_in(&node, base)?,
            amount: amount?,
            remarks,
        })
    }

    fn charge(&mut self, node: Node<'a>, base: u32) -> Option<StatementKind> {
        let mut remarks = Remarks::default();
        for remark in all(&node, Rule::remark) {
            self.remark(remark, base, &mut remarks);
        }
        let amount = match one(&node, Rule::charge_share) {
            Some(share) => self.charge_share(&share, base),
            None => one(&node, Rule::signed)
                .and_then(|p| self.signed(p, base))
                .map(ChargeAmount::Sum),
        };
        Some(StatementKind::Charge(Charge {
            name: self.name_in(&node, base)?,
            amount: amount?,
            remarks,
        }))
    }

    /// `30 % mark-up on labor`.
    fn charge_share(&mut self, node: &Node<'a>, base: u32) -> Option<ChargeAmount> {
        let percent = one(node, Rule::percent).and_then(|p| p.into_inner().next());
        let percent = percent.map(|n| self.percent(&n, base));
        let kind = one(node, Rule::charge_kind);
        let kind = match kind.and_then(|kind| kind.as_str().split_whitespace().next()) {
            Some("mark-up") => ShareKind::MarkUp,
            Some("margin") => ShareKind::Margin,
            Some(_) | None => ShareKind::Of,
        };
        let basis = one(node, Rule::charge_by).map(|by| {
            if by.as_str().trim_end().ends_with("item") {
                TaxBasis::Item
            } else {
                TaxBasis::Invoice
            }
        });
        Some(ChargeAmount::Share {
            percent: percent.unwrap_or(crate::number::Exact::ZERO),
            kind,
            of: one(node, Rule::bases).map(|p| self.bases(p, base))?,
            basis,
        })
    }
}

/// The parts of a resource behind its unit.
#[derive(Default)]
struct ResourceMore {
    allowance: Option<(AllowanceKind, AllowanceValue, Span)>,
    pack: Option<(Name, Quantity)>,
    called: Option<String>,
    remarks: Remarks,
}
