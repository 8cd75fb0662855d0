//! Statements at the top of a sheet.

use super::super::lines::Item;
use super::super::tree::*;
use super::expr::round_word;
use super::{Node, Reader, Rule};
use crate::diagnostics::{Diagnostic, Span};

/// First words of statements at the top of a sheet.
pub(super) const TOP_WORDS: &[&str] = &[
    "sheet",
    "use",
    "counted",
    "phases",
    "choice",
    "given",
    "resource",
    "helper",
    "survey",
    "rows",
    "table",
    "for",
    "caution",
    "change",
    "extend",
    "alternate",
    "trial",
    "job",
    "pay",
    "charge",
    "allowance",
    "final",
    "life",
    "calendar",
    "list",
    "paper",
    "cut",
];

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
            (Item::Line(_), "use") => self.read(Rule::use_line, span).and_then(|n| {
                n.into_inner()
                    .find(|p| p.as_rule() == Rule::text)
                    .map(|p| StatementKind::Use(self.text(&p, base)))
            }),
            (Item::Line(_), "counted") => self
                .read(Rule::counted_line, span)
                .map(|n| self.counted(n, base)),
            (Item::Line(_), "phases") => self.read(Rule::phases_line, span).map(|n| {
                StatementKind::Phases(
                    n.into_inner()
                        .find(|p| p.as_rule() == Rule::texts)
                        .map(|p| self.texts(p, base))
                        .unwrap_or_default(),
                )
            }),
            (Item::Line(_), "choice") => self.read(Rule::choice_line, span).and_then(|n| {
                let mut name = None;
                let mut labels = Vec::new();
                for p in n.into_inner() {
                    match p.as_rule() {
                        Rule::name => name = Some(self.name(&p, base)),
                        Rule::label_specs => labels = self.label_defs(p, base),
                        _ => {}
                    }
                }
                name.map(|name| StatementKind::Choice { name, labels })
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
            (Item::Line(_), "allowance") => self.read(Rule::allowance_line, span).and_then(|n| {
                let (name, amount, remarks) = self.name_signed_remarks(n, base);
                Some(StatementKind::Allowance {
                    name: name?,
                    amount: amount?,
                    remarks,
                })
            }),
            (Item::Line(_), "final") => self.read(Rule::final_line, span).and_then(|n| {
                let mut word = RoundWord::Nearest;
                let mut step = None;
                for p in n.into_inner() {
                    match p.as_rule() {
                        Rule::round_mode => word = round_word(p.as_str()),
                        Rule::quantity => step = Some(self.quantity(p, base)),
                        _ => {}
                    }
                }
                step.map(|step| StatementKind::Final { word, step })
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

    fn counted(&mut self, node: Node<'a>, base: u32) -> StatementKind {
        let list = node
            .into_inner()
            .filter(|p| p.as_rule() == Rule::counted)
            .filter_map(|p| {
                let mut name = None;
                let mut plural = None;
                for q in p.into_inner() {
                    match q.as_rule() {
                        Rule::name => name = Some(self.name(&q, base)),
                        Rule::plural => plural = Some(q.as_str().to_string()),
                        _ => {}
                    }
                }
                name.map(|n| (n, plural))
            })
            .collect();
        StatementKind::Counted(list)
    }

    pub(super) fn label_defs(&mut self, node: Node<'a>, base: u32) -> Vec<LabelDef> {
        node.into_inner()
            .filter(|p| p.as_rule() == Rule::label_spec)
            .filter_map(|p| {
                let mut name = None;
                let mut spellings = Vec::new();
                for q in p.into_inner() {
                    match q.as_rule() {
                        Rule::name => name = Some(self.name(&q, base)),
                        Rule::texts => {
                            spellings = self.texts(q, base).into_iter().map(|t| t.text).collect()
                        }
                        _ => {}
                    }
                }
                name.map(|name| LabelDef { name, spellings })
            })
            .collect()
    }

    pub(super) fn remark(&mut self, node: Node<'a>, base: u32, remarks: &mut Remarks) {
        let span = self.span(&node, base);
        let mut is_source = false;
        for p in node.into_inner() {
            match p.as_rule() {
                Rule::remark_kind => is_source = p.as_str() == "source",
                Rule::text => {
                    let text = self.text(&p, base).text;
                    let slot = if is_source {
                        &mut remarks.source
                    } else {
                        &mut remarks.note
                    };
                    if slot.replace(text).is_some() {
                        self.problems.push(
                            Diagnostic::error(
                                "OV-113",
                                "the same word is given twice on this line",
                            )
                            .at(span, "the second")
                            .mend("keep one"),
                        );
                    }
                }
                _ => {}
            }
        }
    }

    pub(super) fn signed(&mut self, node: Node<'a>, base: u32) -> Option<Signed> {
        let span = self.span(&node, base);
        let mut negative = false;
        let mut quantity = None;
        for p in node.into_inner() {
            match p.as_rule() {
                Rule::minus => negative = true,
                Rule::quantity => quantity = Some(self.quantity(p, base)),
                _ => {}
            }
        }
        quantity.map(|quantity| Signed {
            negative,
            quantity,
            span,
        })
    }

    fn given(&mut self, node: Node<'a>, base: u32) -> Option<StatementKind> {
        let mut name = None;
        let mut value = None;
        let mut range = None;
        let mut varies = None;
        let mut private = false;
        let mut remarks = Remarks::default();
        for p in node.into_inner() {
            match p.as_rule() {
                Rule::name => name = Some(self.name(&p, base)),
                Rule::asked => value = self.asked(p, base).map(GivenValue::Asked),
                Rule::private => private = true,
                Rule::varies => varies = self.varies(p, base),
                Rule::given_value => {
                    let mut label = None;
                    for q in p.into_inner() {
                        match q.as_rule() {
                            Rule::signed => value = self.signed(q, base).map(GivenValue::Quantity),
                            Rule::truth => value = Some(GivenValue::Truth(q.as_str() == "yes")),
                            Rule::text => value = Some(GivenValue::Text(self.text(&q, base))),
                            Rule::name => match label.take() {
                                Some(label) => {
                                    value = Some(GivenValue::Of {
                                        label,
                                        choice: self.name(&q, base),
                                    })
                                }
                                None => label = Some(self.name(&q, base)),
                            },
                            Rule::label_specs => {
                                let labels = self.label_defs(q, base);
                                value = label
                                    .take()
                                    .map(|label| GivenValue::Label { label, labels });
                            }
                            _ => {}
                        }
                    }
                }
                Rule::given_range => {
                    let mut ends = p
                        .into_inner()
                        .filter(|q| q.as_rule() == Rule::signed)
                        .filter_map(|q| self.signed(q, base));
                    range = ends.next().zip(ends.next());
                }
                Rule::remark => self.remark(p, base, &mut remarks),
                _ => {}
            }
        }
        Some(StatementKind::Given(Given {
            name: name?,
            value: value?,
            range,
            varies,
            private,
            remarks,
        }))
    }

    fn varies(&mut self, node: Node<'a>, base: u32) -> Option<Varies> {
        let span = self.span(&node, base);
        let mut ends = Vec::new();
        let (mut likely, mut group) = (None, None);
        for p in node.into_inner() {
            match p.as_rule() {
                Rule::signed => ends.extend(self.signed(p, base)),
                Rule::spread => {
                    let value = p.into_inner().find(|q| q.as_rule() == Rule::signed);
                    likely = value.and_then(|q| self.signed(q, base));
                }
                Rule::with_group => group = self.first_text(p, base).map(|t| t.text),
                _ => {}
            }
        }
        let mut ends = ends.into_iter();
        Some(Varies {
            low: ends.next()?,
            high: ends.next()?,
            likely,
            group,
            span,
        })
    }

    fn asked(&mut self, node: Node<'a>, base: u32) -> Option<Asked> {
        let mut kind = None;
        let mut unanswered = None;
        for p in node.into_inner() {
            match p.as_rule() {
                Rule::column_type => {
                    kind = p
                        .into_inner()
                        .next()
                        .and_then(|q| self.column_type(q, base))
                }
                Rule::unanswered => {
                    let (mut value, mut because) = (None, None);
                    for q in p.into_inner() {
                        match q.as_rule() {
                            Rule::expr => value = Some(self.expr(q, base)),
                            Rule::text => because = Some(self.text(&q, base)),
                            _ => {}
                        }
                    }
                    unanswered = value.zip(because);
                }
                _ => {}
            }
        }
        Some(Asked {
            kind: kind?,
            unanswered,
        })
    }

    fn resource(&mut self, node: Node<'a>, base: u32) -> Option<StatementKind> {
        let mut names = Vec::new();
        let mut unit = None;
        let mut allowance = None;
        let mut pack = None;
        let mut called = None;
        let mut remarks = Remarks::default();
        for p in node.into_inner() {
            match p.as_rule() {
                Rule::name => names.push(self.name(&p, base)),
                Rule::unit => unit = Some(self.unit(p, base)),
                Rule::resource_more => {
                    let span = self.span(&p, base);
                    let mut kind = AllowanceKind::Waste;
                    let mut twice = false;
                    for q in p.into_inner() {
                        match q.as_rule() {
                            Rule::allowance_word => {
                                kind = if q.as_str() == "waste" {
                                    AllowanceKind::Waste
                                } else {
                                    AllowanceKind::Yield
                                }
                            }
                            Rule::percent => {
                                let n = q.into_inner().next();
                                let percent = n
                                    .map_or(crate::number::Exact::ZERO, |n| self.percent(&n, base));
                                twice = allowance
                                    .replace((kind, AllowanceValue::Percent(percent), span))
                                    .is_some();
                            }
                            Rule::name => {
                                let given = AllowanceValue::Given(self.name(&q, base));
                                twice = allowance.replace((kind, given, span)).is_some();
                            }
                            Rule::bought => {
                                let mut word = None;
                                let mut quantity = None;
                                for r in q.into_inner() {
                                    match r.as_rule() {
                                        Rule::name => word = Some(self.name(&r, base)),
                                        Rule::quantity => quantity = Some(self.quantity(r, base)),
                                        _ => {}
                                    }
                                }
                                if let Some(both) = word.zip(quantity) {
                                    twice = pack.replace(both).is_some();
                                }
                            }
                            Rule::called => {
                                let text = q
                                    .into_inner()
                                    .find(|r| r.as_rule() == Rule::text)
                                    .map(|r| self.text(&r, base).text);
                                twice = called.is_some();
                                called = text;
                            }
                            Rule::remark => self.remark(q, base, &mut remarks),
                            _ => {}
                        }
                    }
                    if twice {
                        self.problems.push(
                            Diagnostic::error(
                                "OV-113",
                                "the same word is given twice on this line",
                            )
                            .at(span, "the second")
                            .mend("keep one"),
                        );
                    }
                }
                _ => {}
            }
        }
        let mut names = names.into_iter();
        Some(StatementKind::Resource(Resource {
            name: names.next()?,
            class: names.next()?,
            unit: unit?,
            allowance,
            pack,
            called,
            remarks,
        }))
    }

    /// A written percent as a share: `35` gives 35/100.
    pub(super) fn percent(&mut self, number: &Node<'a>, base: u32) -> crate::number::Exact {
        let q = self.number(number, base);
        let hundred = crate::number::Exact::int(100);
        q.div(&hundred).unwrap_or(crate::number::Exact::ZERO)
    }

    fn helper(&mut self, node: Node<'a>, base: u32) -> Option<StatementKind> {
        let mut name = None;
        let mut params = Vec::new();
        let mut body = None;
        for p in node.into_inner() {
            match p.as_rule() {
                Rule::name => name = Some(self.name(&p, base)),
                Rule::names => params = self.names(p, base),
                Rule::expr => body = Some(self.expr(p, base)),
                _ => {}
            }
        }
        Some(StatementKind::Helper {
            name: name?,
            params,
            body: body?,
        })
    }

    pub(super) fn caution(&mut self, node: Node<'a>, base: u32, span: Span) -> Option<Caution> {
        let mut text = None;
        let mut when = None;
        for p in node.into_inner() {
            match p.as_rule() {
                Rule::text => text = Some(self.text(&p, base)),
                Rule::conditional | Rule::condition => when = Some(self.branch(p, base)),
                _ => {}
            }
        }
        Some(Caution {
            text: text?,
            when,
            span,
        })
    }

    pub(super) fn decided_by(&mut self, node: Node<'a>, base: u32) -> Option<DecidedBy> {
        let (mut who, mut day) = (None, None);
        for p in node.into_inner() {
            match p.as_rule() {
                Rule::text => who = Some(self.text(&p, base)),
                Rule::day => {
                    day = Some(Text {
                        text: p.as_str().to_string(),
                        span: self.span(&p, base),
                    })
                }
                _ => {}
            }
        }
        Some(DecidedBy {
            who: who?,
            day: day?,
        })
    }

    pub(super) fn change(&mut self, node: Node<'a>, base: u32, span: Span) -> Option<Change> {
        let mut part = ChangePart::Value;
        let mut name = None;
        let mut exprs = Vec::new();
        let mut because = None;
        let (mut at, mut by) = (None, None);
        for p in node.into_inner() {
            match p.as_rule() {
                Rule::change_target => {
                    for q in p.into_inner() {
                        match q.as_rule() {
                            Rule::change_part => {
                                part = match q.as_str() {
                                    "price" => ChangePart::Price,
                                    "waste" => ChangePart::Waste,
                                    _ => ChangePart::Yield,
                                }
                            }
                            Rule::name => name = Some(self.name(&q, base)),
                            _ => {}
                        }
                    }
                }
                Rule::expr => exprs.push(self.expr(p, base)),
                Rule::text => because = Some(self.text(&p, base)),
                Rule::at_mark => at = self.first_text(p, base),
                Rule::decided_by => by = self.decided_by(p, base),
                _ => {}
            }
        }
        let mut exprs = exprs.into_iter();
        Some(Change {
            part,
            name: name?,
            at,
            to: exprs.next()?,
            because,
            by,
            was: exprs.next(),
            span,
        })
    }

    fn name_signed_remarks(
        &mut self,
        node: Node<'a>,
        base: u32,
    ) -> (Option<Name>, Option<Signed>, Remarks) {
        let mut out = (None, None, Remarks::default());
        for p in node.into_inner() {
            match p.as_rule() {
                Rule::name => out.0 = Some(self.name(&p, base)),
                Rule::signed => out.1 = self.signed(p, base),
                Rule::remark => self.remark(p, base, &mut out.2),
                _ => {}
            }
        }
        out
    }

    pub(super) fn bases(&mut self, node: Node<'a>, base: u32) -> Bases {
        let span = self.span(&node, base);
        let mut names = Vec::new();
        for p in node.into_inner() {
            match p.as_rule() {
                Rule::all_so_far => return Bases::AllSoFar(span),
                Rule::base => names.push(self.name(&p, base)),
                _ => {}
            }
        }
        Bases::Named(names)
    }

    fn charge(&mut self, node: Node<'a>, base: u32) -> Option<StatementKind> {
        let mut name = None;
        let mut amount = None;
        let mut remarks = Remarks::default();
        for p in node.into_inner() {
            match p.as_rule() {
                Rule::name => name = Some(self.name(&p, base)),
                Rule::signed => amount = self.signed(p, base).map(ChargeAmount::Sum),
                Rule::remark => self.remark(p, base, &mut remarks),
                Rule::charge_share => {
                    let mut percent = crate::number::Exact::ZERO;
                    let mut kind = ShareKind::Of;
                    let mut of = None;
                    let mut basis = None;
                    for q in p.into_inner() {
                        match q.as_rule() {
                            Rule::percent => {
                                if let Some(n) = q.into_inner().next() {
                                    percent = self.percent(&n, base);
                                }
                            }
                            Rule::charge_kind => {
                                kind = match q.as_str().split_whitespace().next() {
                                    Some("mark-up") => ShareKind::MarkUp,
                                    Some("margin") => ShareKind::Margin,
                                    _ => ShareKind::Of,
                                }
                            }
                            Rule::bases => of = Some(self.bases(q, base)),
                            Rule::charge_by => {
                                basis = Some(if q.as_str().trim_end().ends_with("item") {
                                    TaxBasis::Item
                                } else {
                                    TaxBasis::Invoice
                                })
                            }
                            _ => {}
                        }
                    }
                    amount = of.map(|of| ChargeAmount::Share {
                        percent,
                        kind,
                        of,
                        basis,
                    });
                }
                _ => {}
            }
        }
        Some(StatementKind::Charge(Charge {
            name: name?,
            amount: amount?,
            remarks,
        }))
    }
}
