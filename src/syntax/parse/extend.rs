//! Blocks that extend what another sheet declares, and changes of a thing besides its value.

use super::super::lines::Item;
use super::super::tree::*;
use super::{Node, Reader, Rule};
use crate::diagnostics::{Diagnostic, Span};

/// Second words of a `change` that is of no value.
const AMENDS: &[&str] = &["limits", "packs", "name", "resource", "phase"];
/// First words of lines that edit a table.
const EDITS: &[(&str, RowEditKind)] = &[
    ("add", RowEditKind::Add),
    ("change", RowEditKind::Change),
    ("take out", RowEditKind::TakeOut),
];
/// Where a cell says what it was.
const WAS: &str = " was ";

impl<'a> Reader<'a> {
    /// Whether a `change` is of limits, packs, a name, or of where takes go.
    pub(super) fn is_amend(&self, span: Span) -> bool {
        let mut words = self.piece(span).split_whitespace().skip(1);
        words.next().is_some_and(|w| AMENDS.contains(&w)) && words.next() == Some("of")
    }

    pub(super) fn amend(&mut self, span: Span) -> Option<Amend> {
        let base = span.start;
        let node = self.read(Rule::amend_line, span)?;
        let inner = node.into_inner().find(|p| p.as_rule() != Rule::EOI)?;
        let (mut names, mut texts) = (Vec::new(), Vec::new());
        let (mut limits, mut packs) = (Vec::new(), Vec::new());
        let (mut because, mut by) = (None, None);
        let (mut of_phase, mut filter) = (None, None);
        let rule = inner.as_rule();
        for p in inner.into_inner() {
            match p.as_rule() {
                Rule::name => names.push(self.name(&p, base)),
                Rule::text => texts.push(self.text(&p, base)),
                Rule::limits => limits.extend(self.limits(p, base)),
                Rule::packs => packs.extend(self.packs(p, base)),
                Rule::send_phase => of_phase = self.first_text(p, base),
                Rule::conditional | Rule::condition => filter = Some(self.branch(p, base)),
                Rule::amend_why => (because, by) = self.amend_why(p, base),
                _ => {}
            }
        }
        let (mut names, mut texts) = (names.into_iter(), texts.into_iter());
        let (mut limits, mut packs) = (limits.into_iter(), packs.into_iter());
        let name = names.next()?;
        let what = match rule {
            Rule::amend_limits => AmendWhat::Limits {
                to: limits.next()?,
                was: limits.next(),
            },
            Rule::amend_packs => AmendWhat::Packs {
                to: packs.next()?,
                was: packs.next(),
            },
            Rule::amend_name => AmendWhat::Called {
                to: texts.next()?,
                was: texts.next(),
            },
            _ => {
                let to_phase = self.piece(span).split_whitespace().nth(1) == Some("phase");
                let (resource, phase) = (names.next(), texts.next());
                let to = match (to_phase, resource, phase) {
                    (true, _, Some(phase)) => SendTo::Phase(phase),
                    (false, Some(resource), _) => SendTo::Resource(resource),
                    (_, _, wrong) => {
                        let found = wrong.map_or("a name", |_| "a text in quotes");
                        let (what, form) = match to_phase {
                            true => (
                                "phase",
                                "change phase of RESOURCE [for \"PHASE\"] to \"PHASE\" because \"...\"",
                            ),
                            false => (
                                "resource",
                                "change resource of RESOURCE [for \"PHASE\"] [where CONDITION] to RESOURCE because \"...\"",
                            ),
                        };
                        self.problems.push(
                            Diagnostic::error("OV-165", format!("this does not name a {what}"))
                                .at(span, "")
                                .found(found)
                                .expected(form),
                        );
                        return None;
                    }
                };
                AmendWhat::Send {
                    of_phase,
                    filter,
                    to,
                }
            }
        };
        Some(Amend {
            name,
            what,
            because,
            by,
            span,
        })
    }

    fn amend_why(&mut self, node: Node<'a>, base: u32) -> (Option<Text>, Option<DecidedBy>) {
        let (mut because, mut by) = (None, None);
        for p in node.into_inner() {
            match p.as_rule() {
                Rule::text => because = Some(self.text(&p, base)),
                Rule::decided_by => by = self.decided_by(p, base),
                _ => {}
            }
        }
        (because, by)
    }

    fn limits(&mut self, node: Node<'a>, base: u32) -> Option<(Signed, Signed)> {
        let mut ends = node
            .into_inner()
            .filter(|p| p.as_rule() == Rule::signed)
            .filter_map(|p| self.signed(p, base));
        ends.next().zip(ends.next())
    }

    fn packs(&mut self, node: Node<'a>, base: u32) -> Option<(Name, Quantity)> {
        let (mut word, mut quantity) = (None, None);
        for p in node.into_inner() {
            match p.as_rule() {
                Rule::name => word = Some(self.name(&p, base)),
                Rule::quantity => quantity = Some(self.quantity(p, base)),
                _ => {}
            }
        }
        word.zip(quantity)
    }

    pub(super) fn extend(&mut self, head: Span, body: &[Item]) -> Option<StatementKind> {
        let base = head.start;
        let node = self.read(Rule::extend_head, head)?;
        let (mut name, mut because, mut by, mut what) = (None, None, None, "");
        for p in node.into_inner() {
            match p.as_rule() {
                Rule::extend_what => what = p.as_str(),
                Rule::name => name = Some(self.name(&p, base)),
                Rule::text => because = Some(self.text(&p, base)),
                Rule::decided_by => by = self.decided_by(p, base),
                _ => {}
            }
        }
        let told = self.problems.len();
        let more = match what {
            "survey" => {
                let (mut added, mut columns) = (Vec::new(), Vec::new());
                for item in body {
                    match self.is_of_column_there(item) {
                        true => columns.extend(self.column_there(item)),
                        false => added.extend(self.column(item)),
                    }
                }
                Extension::Survey { added, columns }
            }
            "choice" => {
                let lists = self.each(body, Self::more_labels);
                Extension::Choice(lists.into_iter().flatten().collect())
            }
            "rows" => Extension::Rows(self.each(body, Self::rows_line)),
            _ => Extension::Table(self.edits(body)),
        };
        Some(StatementKind::Extend(Extend {
            name: name?,
            more,
            because,
            by,
            broken: self.problems.len() > told,
            span: head,
        }))
    }

    /// A line about a column that is there says no type.
    fn is_of_column_there(&self, item: &Item) -> bool {
        let word = self.piece(item.span()).split_whitespace().nth(1);
        word.is_some_and(|w| matches!(w, "headed" | "between" | "in"))
    }

    fn column_there(&mut self, item: &Item) -> Option<ColumnMore> {
        let span = self.line(item, "a column on one line")?;
        let base = span.start;
        let node = self.read(Rule::extend_column, span)?;
        let mut name = None;
        let (mut headed, mut unit, mut between, mut was) = (Vec::new(), None, None, None);
        for p in node.into_inner() {
            if p.as_rule() == Rule::name {
                name = Some(self.name(&p, base));
            }
            if p.as_rule() != Rule::extend_more {
                continue;
            }
            for q in p.into_inner() {
                match q.as_rule() {
                    Rule::headed => {
                        let texts = q.into_inner().find(|r| r.as_rule() == Rule::texts);
                        headed.extend(texts.map(|r| self.texts(r, base)).unwrap_or_default());
                    }
                    Rule::column_between => between = self.limits(q, base),
                    Rule::limits => was = self.limits(q, base),
                    Rule::bare_unit => {
                        let written = q.into_inner().find(|r| r.as_rule() == Rule::unit);
                        unit = written.map(|r| self.unit(r, base));
                    }
                    _ => {}
                }
            }
        }
        Some(ColumnMore {
            name: name?,
            headed,
            unit,
            between,
            was,
            span,
        })
    }

    fn more_labels(&mut self, item: &Item) -> Option<Vec<LabelDef>> {
        let span = self.line(item, "lines such as LABEL (\"SPELLING\", \"SPELLING\")")?;
        let node = self.read(Rule::extend_labels, span)?;
        let specs = node
            .into_inner()
            .find(|p| p.as_rule() == Rule::label_specs)?;
        Some(self.label_defs(specs, span.start))
    }

    /// Rows that are added, changed, taken out: the word is before the first cell.
    fn edits(&mut self, body: &[Item]) -> Vec<RowEdit> {
        let spans: Vec<Span> = body.iter().map(Item::span).collect();
        let rows = self.table_rows(body);
        let mut out = Vec::new();
        for mut cells in rows {
            let Some(first) = cells.first_mut() else {
                continue;
            };
            let line = spans.iter().find(|s| s.start == first.span.start);
            let Some((word, what)) = EDITS.iter().find(|(word, _)| {
                let rest = first.text.strip_prefix(word);
                rest.is_some_and(|rest| rest.starts_with(char::is_whitespace))
            }) else {
                self.problems.push(
                    Diagnostic::error("OV-165", "this line does not say what becomes of the row")
                        .at(first.span, "")
                        .found(first.text.clone())
                        .expected("add CELL | CELL, change CELL | CELL was OLD, or take out CELL"),
                );
                continue;
            };
            let lead = word.len() + first.text[word.len()..].len()
                - first.text[word.len()..].trim_start().len();
            first.text.drain(..lead);
            first.span.start += crate::diagnostics::offset(lead);
            let was = cells.iter_mut().map(pin_of).collect();
            out.push(RowEdit {
                what: *what,
                span: line.copied().unwrap_or_default(),
                cells,
                was,
            });
        }
        out
    }
}

/// Takes what a cell says it was out of it.
fn pin_of(cell: &mut CellText) -> Option<String> {
    let at = cell.text.rfind(WAS)?;
    // Inside quotes it is part of a text.
    if cell.text[..at].matches('"').count() % 2 == 1 {
        return None;
    }
    let was = cell.text[at + WAS.len()..].trim().to_string();
    cell.text.truncate(cell.text[..at].trim_end().len());
    cell.span.end = cell.span.start + crate::diagnostics::offset(cell.text.len());
    Some(was)
}
