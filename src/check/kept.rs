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
    /// What is calculated anew for each version: keys of groups, terms of the job, life.
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
        let whole = self.work.need.is_none() && self.work.mix.is_none();
        let fresh = Last {
            whole,
            in_force: self.work.in_force.clone(),
            pinned: self.work.pinned.clone(),
            amends: self.work.in_force_amends.clone(),
            up_to: Some(self.work.up_to),
            ..Last::default()
        };
        let last = std::mem::replace(&mut self.kept.last, fresh);
        let alike = last.up_to == Some(self.work.up_to)
            && last.amends.len() == self.work.in_force_amends.len()
            && last
                .amends
                .iter()
                .zip(&self.work.in_force_amends)
                .all(|(a, b)| std::ptr::eq(a.amend, b.amend));
        self.kept
            .reads
            .retain(|(reader, _)| *reader != Reader::Version);
        if !whole || !last.whole || !alike {
            self.work.sends_used.clear();
            self.work.sends_stuck.clear();
            self.kept.memo.clear();
            self.kept.calls.clear();
            self.kept.reads.clear();
            self.kept.span_readers.clear();
            self.kept.decides.clear();
            self.kept.holds.clear();
            self.kept.certain.clear();
            self.kept.lines.clear();
            return;
        }
        self.trace.goes_on = true;
        let mut read_by: HashMap<usize, Vec<Reader>> = HashMap::default();
        for (reader, read) in &self.kept.reads {
            read_by.entry(*read).or_default().push(*reader);
        }
        let touched = self
            .work
            .in_force
            .keys()
            .chain(last.in_force.keys())
            .chain(self.work.pinned.keys())
            .chain(last.pinned.keys());
        let mut todo: Vec<Reader> = touched
            .filter(|d| {
                !same(self.work.in_force.get(d), last.in_force.get(d))
                    || self.work.pinned.get(d) != last.pinned.get(d)
            })
            .map(|d| Reader::Def(*d))
            .chain(self.kept.span_readers.drain())
            .collect();
        let mut stale: foldhash::HashSet<Reader> = foldhash::HashSet::default();
        while let Some(reader) = todo.pop() {
            if stale.insert(reader)
                && let Reader::Def(d) = reader
            {
                todo.extend(read_by.get(&d).into_iter().flatten());
            }
        }
        self.kept
            .memo
            .retain(|(d, _), _| !stale.contains(&Reader::Def(*d)));
        self.kept
            .decides
            .retain(|d, _| !stale.contains(&Reader::Def(*d)));
        self.kept
            .holds
            .retain(|d, _| !stale.contains(&Reader::Def(*d)));
        self.kept
            .calls
            .retain(|call, _| !stale.contains(&call.reader));
        self.kept
            .reads
            .retain(|(reader, _)| !stale.contains(reader));
        self.kept
            .lines
            .retain(|line, _| !stale.contains(&Reader::Line(*line)));
        self.kept.last.values = last.values;
        self.kept
            .last
            .values
            .retain(|d, _| !stale.contains(&Reader::Def(*d)));
    }

    /// The value of a definition as the last version had it, where it comes to the same.
    pub(super) fn kept_value(&self, def: usize) -> Option<Arc<ValueDef>> {
        let at = *self.kept.last.values.get(&def)?;
        self.program.versions.last()?.values.get(at).cloned()
    }

    /// Who reads what is being checked.
    pub(super) fn reader(&self) -> Reader {
        match (self.reading.open.last(), self.reading.line) {
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
