//! Parts: the heading and its lines.

use super::super::lines::Item;
use super::super::tree::*;
use super::{Reader, Rule};
use crate::diagnostics::{Diagnostic, Span};

/// A line of a part.
enum Line {
    Size(PartSize),
    Place(PartPlace),
    Said(PartWord, Expr, Span),
    Remarks(Remarks),
}

impl Reader<'_> {
    pub(super) fn part(&mut self, head: Span, body: &[Item]) -> Option<Part> {
        let base = head.start;
        let node = self.read(Rule::part_head, head);
        let told = self.problems.len();
        let lines = self.each(body, Self::part_line);
        let (mut names, mut count, mut phase, mut when) = (Vec::new(), None, None, None);
        let mut remarks = Remarks::default();
        let mut kept = false;
        for p in node?.into_inner() {
            match p.as_rule() {
                Rule::name => names.push(self.name(&p, base)),
                Rule::sum => count = Some(self.sum(p, base)),
                Rule::part_more => {
                    let more = self.span(&p, base);
                    let mut twice = false;
                    for q in p.into_inner() {
                        match q.as_rule() {
                            Rule::text => twice = phase.replace(self.text(&q, base)).is_some(),
                            Rule::conditional | Rule::condition => {
                                twice = when.replace(self.branch(q, base)).is_some();
                            }
                            Rule::else_kept => twice = std::mem::replace(&mut kept, true),
                            Rule::remark => self.remark(q, base, &mut remarks),
                            _ => {}
                        }
                    }
                    self.refuse_twice(twice, more);
                }
                _ => {}
            }
        }
        let mut names = names.into_iter();
        let mut part = Part {
            name: names.next()?,
            count: count?,
            resource: names.next()?,
            phase,
            when,
            kept,
            sizes: Vec::new(),
            places: Vec::new(),
            said: Vec::new(),
            remarks,
            broken: false,
            span: head,
        };
        for line in lines {
            match line {
                Line::Size(size) => {
                    let twice = part.sizes.iter().any(|s| s.side == size.side);
                    self.refuse_twice(twice, size.span);
                    part.sizes.push(size);
                }
                Line::Place(place) => {
                    let twice = part.places.iter().any(|p| p.way == place.way);
                    self.refuse_twice(twice, place.span);
                    part.places.push(place);
                }
                Line::Said(word, e, span) => {
                    let twice = part.said.iter().any(|(w, _)| *w == word);
                    self.refuse_twice(twice, span);
                    part.said.push((word, e));
                }
                Line::Remarks(more) => {
                    part.remarks.source = part.remarks.source.or(more.source);
                    part.remarks.note = part.remarks.note.or(more.note);
                }
            }
        }
        part.broken = self.problems.len() > told;
        Some(part)
    }

    fn refuse_twice(&mut self, twice: bool, span: Span) {
        if twice {
            self.problems.push(
                Diagnostic::error("OV-113", "the same word is given twice on this line")
                    .at(span, "the second")
                    .mend("keep one"),
            );
        }
    }

    fn part_line(&mut self, item: &Item) -> Option<Line> {
        let span = self.line(item, "lines such as: length 30 in rough 31 in")?;
        let base = span.start;
        let node = self.read(Rule::part_line, span)?.into_inner().next()?;
        let rule = node.as_rule();
        if rule == Rule::remark {
            let mut remarks = Remarks::default();
            self.remark(node, base, &mut remarks);
            return Some(Line::Remarks(remarks));
        }
        let (mut word, mut values) = ("", Vec::new());
        for p in node.into_inner() {
            match p.as_rule() {
                Rule::expr => values.push(self.expr(p, base)),
                Rule::size_word | Rule::place_word | Rule::said_word => word = p.as_str(),
                _ => {}
            }
        }
        let mut values = values.into_iter();
        let first = values.next()?;
        Some(match (rule, word) {
            (Rule::part_size, _) => Line::Size(PartSize {
                side: side(word),
                finished: first,
                rough: values.next(),
                span,
            }),
            (Rule::part_place, _) => Line::Place(PartPlace {
                way: match word {
                    "from" => Way::From,
                    "to" => Way::To,
                    "across" => Way::Across,
                    "arch" => Way::Arch,
                    "point" => Way::Point,
                    _ => Way::Up,
                },
                at: first,
                each: values.next(),
                span,
            }),
            (_, "member") => Line::Said(PartWord::Member, first, span),
            (_, "decayed") => Line::Said(PartWord::Decayed, first, span),
            (_, "treatment") => Line::Said(PartWord::Treatment, first, span),
            _ => Line::Said(PartWord::Profile, first, span),
        })
    }
}

/// A size by its word.
pub(super) fn side(word: &str) -> Side {
    match word {
        "length" => Side::Length,
        "width" => Side::Width,
        "height" => Side::Height,
        _ => Side::Thickness,
    }
}
