//! Blocks and their lines.

use super::super::lines::TOP_WORDS;
use super::super::lines::{self, Item};
use super::super::tree::*;
use super::nodes::{all, has, one};
use super::{For, Node, Reader, Rule};
use crate::diagnostics::{Diagnostic, Span};

/// First words of lines in a `for` block, besides the names of rules.
const FOR_WORDS: &[&str] = &["take", "part", "decide", "require", "caution"];

impl<'a> Reader<'a> {
    pub(super) fn block(&mut self, word: &str, head: Span, body: &[Item]) -> Option<StatementKind> {
        let base = head.start;
        match word {
            "survey" => {
                let node = self.read(Rule::survey_head, head);
                let names: Vec<Name> = node.map(|n| self.names(n, base)).unwrap_or_default();
                let told = self.problems.len();
                let columns = self.each(body, Self::column);
                let broken = self.problems.len() > told;
                let mut names = names.into_iter();
                let name = names.next()?;
                Some(StatementKind::Survey(SurveyDef {
                    name,
                    parent: names.next().zip(names.next()),
                    columns,
                    broken,
                }))
            }
            "rows" => self.rows(head, Some(body)),
            "for" => {
                let node = self.read(Rule::for_head, head);
                let lines = self.each(body, Self::for_line);
                let head = self.grain_head(&node?, base)?;
                Some(StatementKind::For(ForBlock { head, lines }))
            }
            "table" => self.table(head, body),
            "extend" => self.extend(head, body),
            "alternate" => self.alternate(head, body),
            "life" => {
                let head = self.read(Rule::life_head, head)?;
                let of = self.first_text(head, base);
                let lines = self.each(body, Self::life_line);
                Some(StatementKind::Life { of, lines })
            }
            "calendar" => {
                self.read(Rule::calendar_head, head)?;
                let lines = self.each(body, Self::calendar_line);
                Some(StatementKind::Calendar { lines, head })
            }
            "list" => self.list(head, body).map(StatementKind::List),
            "paper" => self.paper(head, body).map(StatementKind::Paper),
            "cut" => {
                let of = self
                    .read(Rule::cut_head, head)
                    .and_then(|n| self.names(n, base).into_iter().next());
                let lines = self.each(body, Self::cut_line);
                of.map(|of| StatementKind::Cut { of, lines })
            }
            "trial" if self.purpose == For::Run => None,
            "trial" => {
                let name = self
                    .read(Rule::trial_head, head)
                    .and_then(|n| self.first_text(n, base));
                let trial = self.trial(body);
                name.map(|name| StatementKind::Trial(Trial { name, ..trial }))
            }
            "job" => {
                self.read(Rule::job_head, head)?;
                Some(StatementKind::Job(self.each(body, Self::job_line)))
            }
            "pay" => {
                let name = self
                    .read(Rule::pay_head, head)
                    .and_then(|n| self.names(n, base).into_iter().next());
                let lines = self.each(body, Self::pay_line);
                name.map(|name| StatementKind::Pay { name, lines })
            }
            _ => {
                self.unknown_start(head, TOP_WORDS, "at the top of a sheet");
                None
            }
        }
    }

    /// What the rules of a `for` block are calculated for.
    fn grain_head(&self, node: &Node<'a>, base: u32) -> Option<GrainHead> {
        if has(node, Rule::the_job) {
            return Some(GrainHead::Job);
        }
        let mut names = all(node, Rule::name).map(|n| self.name(&n, base));
        let name = names.next()?;
        Some(match names.next() {
            Some(of) => {
                let by = one(node, Rule::names).map_or_else(Vec::new, |n| self.names(n, base));
                GrainHead::Group { name, of, by }
            }
            None => GrainHead::Each(name),
        })
    }

    fn alternate(&mut self, head: Span, body: &[Item]) -> Option<StatementKind> {
        let texts = self.read(Rule::alternate_head, head);
        let texts = texts.map_or_else(Vec::new, |n| self.texts(n, head.start));
        let mut texts = texts.into_iter();
        let (name, owner) = (texts.next(), texts.next());
        let (mut changes, mut amends, mut pick) = (Vec::new(), Vec::new(), None);
        for i in body {
            match (i, self.first_word(i.span())) {
                (Item::Line(s), "change") if self.is_amend(*s) => {
                    amends.extend(self.amend(*s));
                }
                (Item::Line(s), "change") => changes.extend(
                    self.read(Rule::change_line, *s)
                        .and_then(|n| self.change(n, s.start, *s)),
                ),
                (Item::Line(s), "pick") => {
                    let found = self
                        .read(Rule::pick_line, *s)
                        .and_then(|n| self.pick(n, *s));
                    if let (Some(found), Some(_)) = (&found, &pick) {
                        let d = Diagnostic::error("OV-111", "an alternate picks once")
                            .at(found.span, "the second")
                            .mend("keep one of them");
                        self.problems.push(d);
                    }
                    pick = found.or(pick);
                }
                _ => self.unknown_start(i.span(), &["change", "pick"], "in an alternate"),
            }
        }
        Some(StatementKind::Alternate {
            name: name?,
            owner,
            changes,
            amends,
            pick,
        })
    }

    /// A lookup table: with its rows, or from a file without any.
    pub(super) fn table(&mut self, head: Span, body: &[Item]) -> Option<StatementKind> {
        let base = head.start;
        let node = self.read(Rule::table_head, head)?;
        let mut name = None;
        let mut from = None;
        let mut keys = Vec::new();
        for p in node.into_inner() {
            match p.as_rule() {
                Rule::name => name = Some(self.name(&p, base)),
                Rule::text => from = Some(self.text(&p, base)),
                Rule::names => keys = self.names(p, base),
                _ => {}
            }
        }
        let told = self.problems.len();
        let rows = self.table_rows(body);
        let broken = self.problems.len() > told;
        Some(StatementKind::Table(TableDef {
            name: name?,
            from,
            keys,
            rows,
            broken,
        }))
    }

    /// Rows made from a choice, with its lines, or from a count, without any.
    pub(super) fn rows(&mut self, head: Span, body: Option<&[Item]>) -> Option<StatementKind> {
        let node = self.read(Rule::rows_head, head)?;
        let all_surveyed = node
            .clone()
            .into_inner()
            .find(|p| p.as_rule() == Rule::all_surveyed)
            .map(|p| self.span(&p, head.start));
        let mut names = self.names(node, head.start).into_iter();
        let told = self.problems.len();
        let lines = body.map(|body| self.each(body, Self::rows_line));
        Some(StatementKind::Rows(RowsDef {
            table: names.next()?,
            place: names.next()?,
            from: names.next()?,
            all_surveyed,
            lines,
            broken: self.problems.len() > told,
        }))
    }

    pub(super) fn rows_line(&mut self, item: &Item) -> Option<RowsLine> {
        let span = self.line(item, "lines such as LABEL, LABEL: ROW, ROW")?;
        let node = self.read(Rule::rows_line, span)?;
        let mut lists = node
            .into_inner()
            .filter(|p| p.as_rule() == Rule::names)
            .map(|p| self.names(p, span.start));
        Some(RowsLine {
            labels: lists.next()?,
            rows: lists.next()?,
        })
    }

    pub(super) fn first_text(&mut self, node: Node<'a>, base: u32) -> Option<Text> {
        node.into_inner()
            .find(|p| p.as_rule() == Rule::text)
            .map(|p| self.text(&p, base))
    }

    pub(super) fn line(&mut self, item: &Item, expected: &str) -> Option<Span> {
        match item {
            Item::Line(s) => Some(*s),
            Item::Block { .. } => {
                self.misplaced(item, expected);
                None
            }
        }
    }

    fn for_line(&mut self, item: &Item) -> Option<ForLine> {
        let span = item.span();
        let base = span.start;
        let word = self.first_word(span);
        let rest = self
            .text
            .get(crate::ids::at(span.start) + word.len()..crate::ids::at(span.end))
            .unwrap_or("");
        let is_rule = rest.trim_start().starts_with('=');
        match item {
            Item::Block { body, .. } if word == "decide" => {
                self.decide(span, body).map(ForLine::Decide)
            }
            Item::Block { body, .. } if word == "part" => self
                .part(span, body)
                .map(|part| ForLine::Part(Box::new(part))),
            Item::Block { .. } => {
                self.unknown_start(span, FOR_WORDS, "in a `for` block");
                None
            }
            Item::Line(_) if is_rule => self.rule(span).map(ForLine::Rule),
            Item::Line(_) => match word {
                "take" => self.take(span).map(ForLine::Take),
                "require" => {
                    let node = self.read(Rule::require_line, span)?;
                    let mut condition = None;
                    let mut message = None;
                    let mut blames = Vec::new();
                    for p in node.into_inner() {
                        match p.as_rule() {
                            Rule::conditional | Rule::condition => {
                                condition = Some(self.branch(p, base))
                            }
                            Rule::text => message = Some(self.text(&p, base)),
                            Rule::names => blames = self.names(p, base),
                            _ => {}
                        }
                    }
                    Some(ForLine::Require {
                        condition: condition?,
                        message: message?,
                        blames,
                        span,
                    })
                }
                "caution" => self
                    .read(Rule::caution_line, span)
                    .and_then(|n| self.caution(n, base, span))
                    .map(ForLine::Caution),
                "decide" | "part" => {
                    self.no_block(word, span);
                    None
                }
                _ => {
                    self.unknown_start(span, FOR_WORDS, "in a `for` block");
                    None
                }
            },
        }
    }

    fn rule(&mut self, span: Span) -> Option<Rule_> {
        let base = span.start;
        let node = self.read(Rule::rule_line, span)?;
        let mut name = None;
        let mut value = None;
        let mut shown = None;
        let mut adds_up = false;
        let mut private = false;
        let mut remarks = Remarks::default();
        for p in node.into_inner() {
            match p.as_rule() {
                Rule::name => name = Some(self.name(&p, base)),
                Rule::expr => value = Some(self.expr(p, base)),
                Rule::rule_more => {
                    for q in p.into_inner() {
                        match q.as_rule() {
                            Rule::unit => shown = Some(self.unit(q, base)),
                            Rule::adds_up => adds_up = true,
                            Rule::private => private = true,
                            Rule::remark => self.remark(q, base, &mut remarks),
                            _ => {}
                        }
                    }
                }
                _ => {}
            }
        }
        Some(Rule_ {
            name: name?,
            value: value?,
            shown,
            adds_up,
            private,
            remarks,
            span,
        })
    }

    fn take(&mut self, span: Span) -> Option<Take> {
        let base = span.start;
        let node = self.read(Rule::take_line, span)?;
        let mut resource = None;
        let mut amount = None;
        let mut phase = None;
        let mut when = None;
        let mut shared_by = None;
        let mut besides_parts = false;
        let mut remarks = Remarks::default();
        for p in node.into_inner() {
            match p.as_rule() {
                Rule::name => resource = Some(self.name(&p, base)),
                Rule::expr => amount = Some(self.expr(p, base)),
                Rule::take_more => {
                    let more = self.span(&p, base);
                    let mut twice = false;
                    for q in p.into_inner() {
                        match q.as_rule() {
                            Rule::text => twice = phase.replace(self.text(&q, base)).is_some(),
                            Rule::conditional | Rule::condition => {
                                twice = when.replace(self.branch(q, base)).is_some()
                            }
                            Rule::shared_by => {
                                if let Some(a) = q.into_inner().find(|r| r.as_rule() == Rule::atom)
                                {
                                    twice = shared_by.replace(self.atom(a, base)).is_some();
                                }
                            }
                            Rule::besides_parts => {
                                twice = std::mem::replace(&mut besides_parts, true);
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
                            .at(more, "the second")
                            .mend("keep one"),
                        );
                    }
                }
                _ => {}
            }
        }
        // `shared by` at the end of an amount or a condition reads as its postfix; on a take line it always means the split
        // of the take.
        let mut amount = amount?;
        for part in [Some(&mut amount), when.as_mut()].into_iter().flatten() {
            if shared_by.is_none() {
                shared_by = lift_shared(part);
            }
        }
        Some(Take {
            resource: resource?,
            amount,
            phase,
            when,
            besides_parts,
            shared_by,
            remarks,
            span,
        })
    }

    fn decide(&mut self, head: Span, body: &[Item]) -> Option<Decide> {
        let base = head.start;
        let node = self.read(Rule::decide_head, head)?;
        let mut names = Vec::new();
        let mut first_holds = false;
        let mut table = false;
        for p in node.into_inner() {
            match p.as_rule() {
                Rule::name => names.push(self.name(&p, base)),
                Rule::first_holds => first_holds = true,
                Rule::by_table => table = true,
                _ => {}
            }
        }
        let told = self.problems.len();
        let body = if table {
            DecideBody::Table(self.table_rows(body))
        } else {
            DecideBody::Lines(self.each(body, Self::decide_line))
        };
        let broken = self.problems.len() > told;
        let mut names = names.into_iter();
        Some(Decide {
            name: names.next()?,
            of: names.next(),
            first_holds,
            body,
            broken,
            span: head,
        })
    }

    fn decide_line(&mut self, item: &Item) -> Option<DecideLine> {
        let span = self.line(item, "lines such as LABEL when CONDITION because \"...\"")?;
        let base = span.start;
        let node = self.read(Rule::decide_line, span)?;
        let mut label = None;
        let mut when = None;
        let mut because = None;
        let mut rests_on = None;
        for p in node.into_inner() {
            match p.as_rule() {
                Rule::name => label = Some(self.name(&p, base)),
                Rule::conditional | Rule::condition => when = Some(self.branch(p, base)),
                Rule::text => because = Some(self.text(&p, base)),
                Rule::rests_on => rests_on = self.first_text(p, base),
                _ => {}
            }
        }
        Some(DecideLine {
            label: label?,
            when,
            because: because?,
            rests_on,
            span,
        })
    }

    pub(super) fn table_rows(&mut self, body: &[Item]) -> Vec<Vec<CellText>> {
        let mut rows = Vec::new();
        for item in body {
            let Some(span) = self.line(item, "lines with cells separated by |") else {
                continue;
            };
            let whole = self.piece(span);
            if let Some(at) = whole.find('\n') {
                let end = span.start + crate::diagnostics::offset(at);
                self.problems.push(
                    Diagnostic::error("OV-129", "a row of a table goes on on the next line")
                        .at(Span { end, ..span }, "")
                        .expected("each row on one line, all rows at the same depth"),
                );
                continue;
            }
            if lines::open_brackets(whole) != 0 || whole.ends_with('{') {
                self.problems.push(
                    Diagnostic::error("OV-122", "brackets do not pair in this row")
                        .at(span, "")
                        .expected("as many ( as ), and no braces"),
                );
                continue;
            }
            let mut cells = Vec::new();
            let mut start = 0;
            let mut in_text = false;
            let bytes: Vec<(usize, char)> =
                whole.char_indices().chain([(whole.len(), '|')]).collect();
            for (i, c) in bytes {
                match c {
                    '"' if in_text || !lines::is_inch_mark(whole, i) => in_text = !in_text,
                    '|' if !in_text || i == whole.len() => {
                        let raw = &whole[start..i];
                        let text = raw.trim();
                        let lead = raw.len() - raw.trim_start().len();
                        let at = |n: usize| span.start + crate::diagnostics::offset(start + n);
                        cells.push(CellText {
                            text: text.to_string(),
                            span: Span {
                                file: self.file,
                                start: at(lead),
                                end: at(lead + text.len()),
                            },
                        });
                        start = i + c.len_utf8();
                    }
                    _ => {}
                }
            }
            rows.push(cells);
        }
        rows
    }
}

/// The tree's rule, beside the grammar's enum of the same name.
type Rule_ = super::super::tree::Rule;

/// Takes a closing `shared by Y` out of an expression, from its rightmost part.
fn lift_shared(e: &mut Expr) -> Option<Expr> {
    match &mut e.kind {
        ExprKind::SharedBy {
            value,
            weight,
            step: None,
        } => {
            let weight = (**weight).clone();
            *e = (**value).clone();
            Some(weight)
        }
        ExprKind::Binary { right, .. } => lift_shared(right),
        ExprKind::Not(inner) | ExprKind::Negate(inner) => lift_shared(inner),
        ExprKind::If { otherwise, .. } => lift_shared(otherwise),
        ExprKind::Rounded { step, .. } => lift_shared(step),
        _ => None,
    }
}
