//! What nothing uses: givens that nothing reads, and of helpers that nothing calls what can't be right in any use, circles and unknown names.

use super::calls::calls_itself;
use super::typed::*;
use crate::diagnostics::{Diagnostic, Span, any_error};
use crate::syntax::tree;
use foldhash::{HashMap, HashMapExt, HashSet, HashSetExt};

impl<'a> Checker<'a> {
    /// Notes the givens of shop and job sheets that nothing reads: a figure that changes nothing was likely meant for something.
    /// Base sheets hold figures for jobs of every kind.
    pub(super) fn unread_givens(&mut self) {
        // What is broken would have read some of them.
        let is_sound = self.reported.broken.is_empty() && !any_error(&self.problems);
        if !self.is_job() || !is_sound {
            return;
        }
        let read: HashSet<usize> = self.kept.reads.iter().map(|(_, def)| *def).collect();
        let helpers = self.declared.helpers.values();
        let names = helpers.flat_map(|helper| names_in(helper.body));
        let in_helpers: HashSet<&str> = names.map(|(name, _)| name).collect();
        let own = self
            .loaded
            .sheets
            .iter()
            .filter(|s| s.layer > tree::Layer::Base);
        let own: HashSet<_> = own.map(|s| s.file).collect();
        let unread = self.declared.defs.iter().enumerate().filter(|(at, def)| {
            let name = def.name.text.as_str();
            matches!(def.kind, DefKind::Given(_))
                && name != "issued"
                && own.contains(&def.name.span.file)
                && !read.contains(at)
                && !in_helpers.contains(name)
        });
        let mut spans: Vec<(&str, Span)> = unread
            .map(|(_, def)| (def.name.text.as_str(), def.name.span))
            .collect();
        spans.sort_by_key(|(_, span)| (span.file, span.start));
        let message = match spans.as_slice() {
            [] => return,
            [(name, _)] => format!("nothing reads the given `{name}`"),
            several => format!("nothing reads {} givens", several.len()),
        };
        let mut note = Diagnostic::warning("OV-268", message)
            .found(crate::diagnostics::suggest::listed(
                &spans
                    .iter()
                    .map(|(name, _)| (*name).to_owned())
                    .collect::<Vec<_>>(),
            ))
            .expected("a rule, a take or a text that reads it")
            .note("Its value changes no figure. Read it where it belongs, or take it out.");
        for (_, span) in spans {
            note = note.at(span, "");
        }
        self.problems.push(note);
    }

    /// Tells what is wrong in helpers that nothing calls; those of a library sheet often are such.
    pub(super) fn unused_helpers(&mut self) {
        let mut unused: Vec<HelperDef<'a>> = self
            .declared
            .helpers
            .values()
            .filter(|h| !self.reported.helpers_used.contains(h.name.text.as_str()))
            .copied()
            .collect();
        unused.sort_by_key(|h| (h.name.span.file, h.name.span.start));
        self.tell_circles(&unused);
        let labels: HashSet<String> = self
            .program
            .choices
            .iter()
            .flat_map(|c| c.labels.iter().cloned())
            .collect();
        for helper in unused {
            for (name, span) in names_in(helper.body) {
                let known = helper.params.iter().any(|p| p.text == name)
                    || self.declared.by_name.contains_key(name)
                    || self.reported.broken.contains(name)
                    || labels.contains(name);
                if !known {
                    self.problems.push(
                        Diagnostic::error("OV-202", format!("there is nothing named `{name}`"))
                            .at(span, "")
                            .expected("a parameter of the helper, or a value of these sheets"),
                    );
                }
            }
        }
    }

    /// Tells each circle of calls among helpers that nothing calls. Every helper is looked into once.
    fn tell_circles(&mut self, unused: &[HelperDef<'a>]) {
        let mut done: HashSet<&'a str> = HashSet::new();
        for start in unused {
            // The helpers that led here, each with the calls of it that are still to be followed.
            let mut open: Vec<(&'a str, Vec<(&'a str, Span)>)> = Vec::new();
            let mut place: HashMap<&'a str, usize> = HashMap::new();
            let mut next = Some((start.name.text.as_str(), start));
            loop {
                if let Some((name, helper)) = next.take()
                    && done.insert(name)
                {
                    let mut calls = calls_in(helper.body);
                    calls.reverse();
                    place.insert(name, open.len());
                    open.push((name, calls));
                }
                let Some((_, calls)) = open.last_mut() else {
                    break;
                };
                let Some((called, span)) = calls.pop() else {
                    if let Some((name, _)) = open.pop() {
                        place.remove(name);
                    }
                    continue;
                };
                if let Some(at) = place.get(called) {
                    let path: Vec<&str> = open[*at..]
                        .iter()
                        .map(|(n, _)| *n)
                        .chain([called])
                        .collect();
                    self.problems.push(calls_itself(&path, span));
                } else if let Some(helper) = self.declared.helpers.get(called) {
                    next = Some((called, helper));
                }
            }
        }
    }
}

/// The helpers an expression calls.
fn calls_in(e: &tree::Expr) -> Vec<(&str, Span)> {
    let mut calls = Vec::new();
    e.walk(&mut |e| {
        if let tree::ExprKind::Call { name, .. } = &e.kind {
            calls.push((name.text.as_str(), name.span));
        }
        true
    });
    calls
}

/// The names in an expression, outside what goes up by itself.
fn names_in(e: &tree::Expr) -> Vec<(&str, Span)> {
    let mut names = Vec::new();
    e.walk(&mut |e| {
        if let tree::ExprKind::Name(name) = &e.kind {
            names.push((name.as_str(), e.span));
        }
        !matches!(e.kind, tree::ExprKind::Aggregate { .. })
    });
    names
}
