//! Finds what a sheet says at a place: the written rule behind a checked one, and its text.
//!
//! Knows the tree of sheets. Must not know values.

use crate::check::Loaded;
use crate::diagnostics::{FileId, Sources, Span};
use crate::ids;
use crate::syntax::tree::{
    Change, Charge, Decide, Expr, ForLine, Given, Name, Part, Resource, Rule, StatementKind, Take,
};
use std::collections::HashMap;

/// What was written.
#[derive(Debug, Clone, Copy)]
pub(super) enum Written<'a> {
    Given(&'a Given),
    Rule(&'a Rule),
    Decide(&'a Decide),
    Change(&'a Change),
    Take(&'a Take),
    Part(&'a Part),
}

/// A helper as written.
#[derive(Debug, Clone, Copy)]
pub(super) struct Helper<'a> {
    pub(super) name: &'a Name,
    pub(super) params: &'a [Name],
    pub(super) body: &'a Expr,
}

/// Everything written, by place.
#[derive(Debug, Default)]
pub(super) struct Index<'a> {
    by_span: HashMap<Span, Written<'a>>,
    helpers: HashMap<&'a str, Helper<'a>>,
    resources: HashMap<&'a str, &'a Resource>,
    /// Charges, allowances and pay blocks, by name.
    terms: HashMap<&'a str, Span>,
}

impl<'a> Index<'a> {
    pub(super) fn new(loaded: &'a Loaded) -> Index<'a> {
        let mut index = Index::default();
        for statement in loaded.sheets.iter().flat_map(|s| &s.tree.statements) {
            index.statement(statement.span, &statement.kind);
        }
        index
    }

    fn statement(&mut self, span: Span, kind: &'a StatementKind) {
        match kind {
            StatementKind::Given(given) => self.put(given.name.span, Written::Given(given)),
            StatementKind::Change(change) => self.put(change.span, Written::Change(change)),
            StatementKind::Alternate { changes, .. } => changes
                .iter()
                .for_each(|c| self.put(c.span, Written::Change(c))),
            StatementKind::Helper { name, params, body } => {
                self.helpers
                    .insert(&name.text, Helper { name, params, body });
            }
            StatementKind::Resource(resource) => {
                self.resources.insert(&resource.name.text, resource);
            }
            StatementKind::Pay { name, .. }
            | StatementKind::Allowance { name, .. }
            | StatementKind::Charge(Charge { name, .. }) => {
                self.terms.insert(&name.text, span);
            }
            StatementKind::For(block) => {
                for line in &block.lines {
                    match line {
                        ForLine::Rule(rule) => self.put(rule.span, Written::Rule(rule)),
                        ForLine::Decide(decide) => self.put(decide.span, Written::Decide(decide)),
                        ForLine::Take(take) => self.put(take.span, Written::Take(take)),
                        ForLine::Part(part) => self.put(part.span, Written::Part(part)),
                        ForLine::Require { .. } | ForLine::Caution(_) => {}
                    }
                }
            }
            StatementKind::Use(_)
            | StatementKind::Survey(_)
            | StatementKind::Rows(_)
            | StatementKind::Amend(_)
            | StatementKind::Extend(_)
            | StatementKind::Counted(_)
            | StatementKind::Phases(_)
            | StatementKind::Choice { .. }
            | StatementKind::Table(_)
            | StatementKind::Caution(_)
            | StatementKind::List(_)
            | StatementKind::Paper(_)
            | StatementKind::Trial(_)
            | StatementKind::Life { .. }
            | StatementKind::Calendar { .. }
            | StatementKind::Cut { .. }
            | StatementKind::Job(_)
            | StatementKind::Final { .. } => {}
        }
    }

    fn put(&mut self, span: Span, written: Written<'a>) {
        self.by_span.insert(span, written);
    }

    pub(super) fn at(&self, span: Span) -> Option<Written<'a>> {
        self.by_span.get(&span).copied()
    }

    pub(super) fn helper(&self, name: &str) -> Option<Helper<'a>> {
        self.helpers.get(name).copied()
    }

    /// The line of a charge or allowance, or the heading of a pay block.
    pub(super) fn term(&self, name: &str) -> Option<Span> {
        self.terms.get(name).copied()
    }

    pub(super) fn resource(&self, name: &str) -> Option<&'a Resource> {
        self.resources.get(name).copied()
    }
}

/// A stretch of a sheet on one line: blanks squeezed, comments left out.
pub(super) fn squeezed(sources: &Sources, span: Span) -> String {
    squeeze(sources.slice(span))
}

/// A sheet without some of its stretches, squeezed the same way.
pub(super) fn squeezed_rest(sources: &Sources, file: FileId, without: &[Span]) -> String {
    let mut text = sources.text(file).to_owned();
    let mut without: Vec<Span> = without.iter().copied().filter(|s| s.file == file).collect();
    without.sort_unstable();
    without.dedup();
    // From the end, so that the places before stay where they are.
    for span in without.iter().rev() {
        if text.get(ids::at(span.start)..ids::at(span.end)).is_some() {
            text.replace_range(ids::at(span.start)..ids::at(span.end), "");
        }
    }
    squeeze(&text)
}

fn squeeze(text: &str) -> String {
    let mut words = Vec::new();
    for line in text.lines() {
        let mut quoted = false;
        let end = line.find(|c: char| {
            quoted ^= c == '"';
            c == '#' && !quoted
        });
        words.extend(line[..end.unwrap_or(line.len())].split_whitespace());
    }
    words.join(" ")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_rule_is_squeezed_onto_one_line_without_its_comments() {
        let mut sources = Sources::default();
        let text = "x = a   # first\n    + \"no. #2\"  # second";
        let file = sources.add("s.ovo", text);
        let span = Span {
            file,
            start: 0,
            end: ids::row(text.len()),
        };
        assert_eq!(squeezed(&sources, span), "x = a + \"no. #2\"");
        let cut = Span {
            file,
            start: 4,
            end: 5,
        };
        assert_eq!(squeezed_rest(&sources, file, &[cut]), "x = + \"no. #2\"");
    }
}
