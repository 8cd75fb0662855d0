//! What a version keeps of the one built before it: most alternates change a few definitions of hundreds.
//!
//! A definition, a helper called in it or a line of a block comes to the same in both unless something it reads, directly or indirectly, is
//! changed or set otherwise in one of them. Must not know what is kept, only on which definitions it rests.

use super::typed::*;
use crate::program::ValueDef;
use foldhash::HashMap;
use std::sync::Arc;

/// Who reads a definition.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub(super) enum Reader {
    /// Another definition.
    Def(usize),
    /// A line of a block that declares no value, by its number in all blocks.
    Line(usize),
    /// What is worked anew for each version: keys of groups, terms of the job, life.
    Version,
}

/// What was in force when the last version was built.
#[derive(Default)]
pub(super) struct Last<'a> {
    /// The whole of a version was built, and none mixed of others.
    whole: bool,
    in_force: HashMap<usize, Vec<LayeredChange<'a>>>,
    pinned: super::trials::Pinned,
    amends: Vec<super::amend::LayeredAmend<'a>>,
    up_to: Option<crate::syntax::tree::Layer>,
    /// For each definition its place among the values of that version.
    pub(super) values: HashMap<usize, usize>,
}

impl<'a> Checker<'a> {
    /// Forgets all that does not come to the same as in the version built last. The changes of the new one are in place.
    pub(super) fn forget_changed(&mut self) {
        let whole = self.need.is_none() && self.mix.is_none();
        let fresh = Last {
            whole,
            in_force: self.in_force.clone(),
            pinned: self.pinned.clone(),
            amends: self.in_force_amends.clone(),
            up_to: Some(self.up_to),
            ..Last::default()
        };
        let last = std::mem::replace(&mut self.last, fresh);
        let alike = last.up_to == Some(self.up_to)
            && last.amends.len() == self.in_force_amends.len()
            && last
                .amends
                .iter()
                .zip(&self.in_force_amends)
                .all(|(a, b)| std::ptr::eq(a.amend, b.amend));
        self.reads.retain(|(reader, _)| *reader != Reader::Version);
        if !whole || !last.whole || !alike {
            self.sends_used.clear();
            self.sends_stuck.clear();
            self.memo.clear();
            self.calls.clear();
            self.reads.clear();
            self.span_readers.clear();
            self.decides.clear();
            self.holds.clear();
            self.certain.clear();
            self.lines.clear();
            return;
        }
        self.trace.goes_on = true;
        let mut read_by: HashMap<usize, Vec<Reader>> = HashMap::default();
        for (reader, read) in &self.reads {
            read_by.entry(*read).or_default().push(*reader);
        }
        let touched = self
            .in_force
            .keys()
            .chain(last.in_force.keys())
            .chain(self.pinned.keys())
            .chain(last.pinned.keys());
        let mut todo: Vec<Reader> = touched
            .filter(|d| {
                !same(self.in_force.get(d), last.in_force.get(d))
                    || self.pinned.get(d) != last.pinned.get(d)
            })
            .map(|d| Reader::Def(*d))
            .chain(self.span_readers.drain())
            .collect();
        let mut stale: foldhash::HashSet<Reader> = foldhash::HashSet::default();
        while let Some(reader) = todo.pop() {
            if stale.insert(reader)
                && let Reader::Def(d) = reader
            {
                todo.extend(read_by.get(&d).into_iter().flatten());
            }
        }
        self.memo
            .retain(|(d, _), _| !stale.contains(&Reader::Def(*d)));
        self.decides
            .retain(|d, _| !stale.contains(&Reader::Def(*d)));
        self.holds.retain(|d, _| !stale.contains(&Reader::Def(*d)));
        self.calls.retain(|call, _| !stale.contains(&call.reader));
        self.reads.retain(|(reader, _)| !stale.contains(reader));
        self.lines
            .retain(|line, _| !stale.contains(&Reader::Line(*line)));
        self.last.values = last.values;
        self.last
            .values
            .retain(|d, _| !stale.contains(&Reader::Def(*d)));
    }

    /// The value of a definition as the last version had it, where it comes to the same.
    pub(super) fn kept_value(&self, def: usize) -> Option<Arc<ValueDef>> {
        let at = *self.last.values.get(&def)?;
        self.program.versions.last()?.values.get(at).cloned()
    }

    /// Who reads what is being checked.
    pub(super) fn reader(&self) -> Reader {
        match (self.open.last(), self.line) {
            (Some((def, _)), _) => Reader::Def(*def),
            (None, Some(line)) => Reader::Line(line),
            (None, None) => Reader::Version,
        }
    }
}

/// Whether the same changes are in force.
fn same(a: Option<&Vec<LayeredChange<'_>>>, b: Option<&Vec<LayeredChange<'_>>>) -> bool {
    let (a, b) = (
        a.map_or(&[][..], Vec::as_slice),
        b.map_or(&[][..], Vec::as_slice),
    );
    a.len() == b.len()
        && a.iter()
            .zip(b)
            .all(|(a, b)| a.layer == b.layer && std::ptr::eq(a.change, b.change))
}
