//! Lists and papers: headings and lines.

use super::super::lines::Item;
use super::super::tree::*;
use super::{Node, Reader, Rule};
use crate::diagnostics::{Diagnostic, Span};

/// First words of lines in a list.
const LIST_WORDS: &[&str] = &[
    "titled", "column", "tick", "room", "where", "grouped", "sorted",
];
/// First words of lines in a paper.
const PAPER_WORDS: &[&str] = &[
    "titled",
    "heading",
    "text",
    "list",
    "draw",
    "photograph",
    "offer",
    "boxes",
    "room",
    "cautions",
    "sign",
    "page",
];

impl<'a> Reader<'a> {
    pub(super) fn list(&mut self, head: Span, body: &[Item]) -> Option<List> {
        let node = self.read(Rule::list_head, head);
        let told = self.problems.len();
        let lines = self.each(body, Self::list_line);
        let (mut names, mut job) = (Vec::new(), false);
        for p in node?.into_inner() {
            match p.as_rule() {
                Rule::name => names.push(self.name(&p, head.start)),
                Rule::the_job => job = true,
                _ => {}
            }
        }
        let mut names = names.into_iter();
        let name = names.next()?;
        let over = match job {
            true => ListOver::Job,
            false => ListOver::Each {
                what: names.next()?,
                of: names.next(),
            },
        };
        Some(List {
            name,
            over,
            lines,
            broken: self.problems.len() > told,
            span: head,
        })
    }

    pub(super) fn paper(&mut self, head: Span, body: &[Item]) -> Option<Paper> {
        let node = self.read(Rule::paper_head, head);
        let told = self.problems.len();
        let lines = self.each(body, Self::paper_line);
        let (mut names, mut each) = (Vec::new(), Vec::new());
        for p in node?.into_inner() {
            match p.as_rule() {
                Rule::name => names.push(self.name(&p, head.start)),
                Rule::names => each = self.names(p, head.start),
                _ => {}
            }
        }
        let mut names = names.into_iter();
        Some(Paper {
            name: names.next()?,
            reader: names.next()?,
            each,
            lines,
            broken: self.problems.len() > told,
            span: head,
        })
    }

    /// The line of a list or paper as a node, where its first word is one of those known.
    fn known_line(
        &mut self,
        item: &Item,
        (rule, words): (Rule, &[&str]),
        place: &str,
    ) -> Option<(Node<'a>, Span)> {
        let span = self.line(item, place)?;
        if !words.contains(&self.first_word(span)) {
            self.unknown_start(span, words, place);
            return None;
        }
        let node = self.read(rule, span)?.into_inner().next()?;
        Some((node, span))
    }

    fn list_line(&mut self, item: &Item) -> Option<ListLine> {
        let (node, span) = self.known_line(item, (Rule::list_line, LIST_WORDS), "in a list")?;
        let base = span.start;
        Some(match node.as_rule() {
            Rule::titled => ListLine::Titled(self.first_text(node, base)?),
            Rule::list_blank => match node.as_str().starts_with("tick") {
                true => ListLine::Tick(self.first_text(node, base)?),
                false => ListLine::Room(self.first_text(node, base)?),
            },
            Rule::list_where => {
                let inner = node.into_inner();
                let branch = inner
                    .into_iter()
                    .find(|p| matches!(p.as_rule(), Rule::conditional | Rule::condition))?;
                ListLine::Where(self.branch(branch, base))
            }
            Rule::list_grouped => {
                let names = node.into_inner().find(|p| p.as_rule() == Rule::names)?;
                ListLine::Grouped(self.names(names, base))
            }
            Rule::list_sorted => ListLine::Sorted(self.sort_keys(node, base)),
            _ => ListLine::Column(self.list_column(node, span)?),
        })
    }

    fn list_column(&mut self, node: Node<'a>, span: Span) -> Option<ListColumn> {
        let base = span.start;
        let (mut value, mut headed, mut shown, mut total) = (None, None, None, None);
        let mut private = false;
        for p in node.into_inner() {
            let place = self.span(&p, base);
            let twice = match p.as_rule() {
                Rule::sum => {
                    value = Some(ListValue::Formula(self.sum(p, base)));
                    false
                }
                Rule::list_reason => {
                    let basis = p.as_str().starts_with("basis");
                    let name = self.names(p, base).into_iter().next()?;
                    value = Some(match basis {
                        true => ListValue::Basis(name),
                        false => ListValue::Reason(name),
                    });
                    false
                }
                Rule::column_headed => headed.replace(self.first_text(p, base)?).is_some(),
                Rule::column_shown => {
                    let unit = p.into_inner().find(|q| q.as_rule() == Rule::unit)?;
                    shown.replace(self.unit(unit, base)).is_some()
                }
                Rule::column_total => total.replace(place).is_some(),
                Rule::private => std::mem::replace(&mut private, true),
                _ => false,
            };
            if twice {
                self.problems.push(
                    Diagnostic::error("OV-113", "the same word is given twice on this line")
                        .at(place, "the second")
                        .mend("keep one"),
                );
            }
        }
        Some(ListColumn {
            value: value?,
            headed,
            shown,
            total,
            private,
            span,
        })
    }

    fn paper_line(&mut self, item: &Item) -> Option<PaperLine> {
        if let Item::Block { head, body, .. } = item
            && self.first_word(*head) == "each"
        {
            return self.paper_each(*head, body).map(PaperLine::Each);
        }
        let (node, span) = self.known_line(item, (Rule::paper_line, PAPER_WORDS), "in a paper")?;
        let base = span.start;
        Some(match node.as_rule() {
            Rule::titled => PaperLine::Titled(self.first_text(node, base)?),
            Rule::paper_heading => PaperLine::Heading(self.first_text(node, base)?),
            Rule::paper_text => PaperLine::Text(self.first_text(node, base)?),
            Rule::paper_list => {
                let mut inner = node.clone().into_inner();
                let shape = match inner.any(|n| n.as_rule() == Rule::as_tags) {
                    true => ListShape::Tags,
                    false => ListShape::Table,
                };
                PaperLine::List(self.names(node, base).into_iter().next()?, shape)
            }
            Rule::paper_sign => {
                let texts = node.into_inner().find(|p| p.as_rule() == Rule::texts)?;
                PaperLine::Signs(self.texts(texts, base))
            }
            Rule::page_break => PaperLine::PageBreak,
            Rule::paper_boxes => {
                let mut inner = node.into_inner();
                let title = inner.next().map(|p| self.text(&p, base))?;
                let columns = inner.clone().find(|p| p.as_rule() == Rule::box_columns);
                let columns = columns.and_then(|p| p.into_inner().next());
                let across = columns.map_or_else(Vec::new, |p| self.texts(p, base));
                let texts = inner.find(|p| p.as_rule() == Rule::texts)?;
                PaperLine::Boxes(title, across, self.texts(texts, base))
            }
            Rule::paper_room => {
                let texts = node.into_inner().find(|p| p.as_rule() == Rule::texts)?;
                PaperLine::Rooms(self.texts(texts, base))
            }
            Rule::paper_offer => match node.into_inner().next() {
                Some(_) => PaperLine::OfferOfChanges(span),
                None => PaperLine::Offer(span),
            },
            Rule::paper_photo => PaperLine::Photograph(self.names(node, base).into_iter().next()?),
            Rule::paper_draw => {
                let inner = node.into_inner().next()?;
                PaperLine::Draw(self.draw(inner, base)?)
            }
            _ => {
                let (mut of_rows, mut kind) = (None, None);
                if let Some(p) = node.into_inner().next() {
                    match p.as_rule() {
                        Rule::of_its_rows => of_rows = Some(self.span(&p, base)),
                        _ if p.as_str().ends_with("conditions") => {
                            kind = Some(CautionKind::Condition);
                        }
                        _ => kind = Some(CautionKind::Exclusion),
                    }
                }
                PaperLine::Cautions { of_rows, kind }
            }
        })
    }

    fn paper_each(&mut self, head: Span, body: &[Item]) -> Option<PaperEach> {
        let base = head.start;
        let node = self.read(Rule::each_head, head);
        let lines = self.each(body, Self::paper_line);
        let mut out = PaperEach {
            what: Name {
                text: String::new(),
                span: head,
            },
            filter: None,
            sorted: Vec::new(),
            lines,
        };
        let mut named = false;
        for p in node?.into_inner() {
            match p.as_rule() {
                Rule::name => {
                    out.what = self.name(&p, base);
                    named = true;
                }
                Rule::list_where => {
                    let branch = p
                        .into_inner()
                        .find(|p| matches!(p.as_rule(), Rule::conditional | Rule::condition))?;
                    out.filter = Some(self.branch(branch, base));
                }
                Rule::list_sorted => out.sorted = self.sort_keys(p, base),
                _ => {}
            }
        }
        named.then_some(out)
    }

    fn sort_keys(&mut self, node: Node<'a>, base: u32) -> Vec<(Name, bool)> {
        let keys = node.into_inner().filter(|p| p.as_rule() == Rule::sort_key);
        let key = |p: Node<'a>| {
            let mut inner = p.into_inner();
            let name = inner.next().map(|n| self.name(&n, base))?;
            Some((name, inner.next().is_some()))
        };
        keys.filter_map(key).collect()
    }

    fn draw(&mut self, node: Node<'a>, base: u32) -> Option<Draw> {
        let rule = node.as_rule();
        let (mut names, mut sums, mut soft, mut letter) = (Vec::new(), Vec::new(), None, None);
        if rule == Rule::draw_chart {
            let span = self.span(&node, base);
            let mut inner = node.into_inner();
            let chart = inner.find(|p| p.as_rule() == Rule::chart_of)?;
            return Some(Draw::Chart(Chart::named(chart.as_str())?, span));
        }
        if rule == Rule::draw_calendar {
            return Some(Draw::Calendar);
        }
        if rule == Rule::draw_cuts {
            return Some(Draw::Cuts);
        }
        for p in node.into_inner() {
            match p.as_rule() {
                Rule::name => names.push(self.name(&p, base)),
                Rule::sum => sums.push(self.sum(p, base)),
                Rule::draw_letter => letter = self.names(p, base).into_iter().next(),
                Rule::draw_soft => {
                    let list: [Name; 5] = self.names(p, base).try_into().ok()?;
                    let [table, on, from, long, broad] = list;
                    soft = Some(Soft {
                        table,
                        on,
                        from,
                        long,
                        broad,
                    });
                }
                _ => {}
            }
        }
        let mut names = names.into_iter();
        let mut sums = sums.into_iter();
        let mut pair = || Some([sums.next()?, sums.next()?]);
        Some(match rule {
            Rule::draw_wall => Draw::Wall(Box::new(DrawWall {
                table: names.next()?,
                along: names.next()?,
                up: names.next()?,
                within: pair()?,
                letter,
            })),
            _ => Draw::Sash(Box::new(DrawSash {
                table: names.next()?,
                at: pair()?,
                within: pair()?,
                soft,
            })),
        })
    }
}
