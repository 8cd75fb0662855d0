//! Names that mean nothing: which were perhaps meant, searched for only as long as that is worth its time.

use super::declare::BUILT_IN;
use super::typed::*;
use crate::diagnostics::{Diagnostic, suggest};
use crate::syntax::tree;

/// Names compared, in all, in search of those that were meant.
const MOST_COMPARED: usize = 500_000;

/// Codes of names that another sheet may declare.
const BROUGHT_IN: &[&str] = &[
    "OV-202", "OV-203", "OV-208", "OV-209", "OV-210", "OV-214", "OV-310", "OV-414", "OV-601",
    "OV-607", "OV-610",
];

/// The names of which one was meant. Those that a whole job declares are gathered only where they are compared.
pub(super) enum Known<'n> {
    Choices,
    Surveys,
    SurveysAndGroups,
    Resources,
    Helpers,
    Tables,
    Nouns,
    /// Columns, givens, rules and decisions.
    Values,
    /// The same without columns.
    Changeable,
    ColumnsAndGivens,
    These(Vec<&'n str>),
}

impl Known<'_> {
    /// A list of names that is short or at hand.
    pub(super) fn these<'n>(names: impl IntoIterator<Item = &'n str>) -> Known<'n> {
        Known::These(names.into_iter().collect())
    }
}

impl<'a> Checker<'a> {
    /// Whether one more search for a name that was meant, among so many, is worth its time. After [`MOST_COMPARED`] names in all
    /// the messages stand without a suggestion: a sheet with thousands of unknown names is refused as soon as any other.
    pub(super) fn may_suggest(&self, among: usize) -> bool {
        let compared = self.reported.compared.get().saturating_add(among);
        self.reported.compared.set(compared);
        compared <= MOST_COMPARED
    }

    /// The name nearest to one that means nothing. Ties go to the first in the alphabet: the order of the names does not matter.
    pub(super) fn near<'n>(
        &self,
        name: &str,
        among: usize,
        names: impl IntoIterator<Item = &'n str>,
    ) -> Option<String> {
        if !self.may_suggest(among) {
            return None;
        }
        suggest::nearest(name, names).map(str::to_string)
    }

    /// How many names there are, as a bound.
    fn how_many(&self, known: &Known<'_>) -> usize {
        match known {
            Known::Choices => self.declared.choices.len(),
            Known::Surveys => self.declared.tables.len(),
            Known::SurveysAndGroups => self.declared.tables.len() + self.declared.groups.len(),
            Known::Resources => self.declared.resources.len(),
            Known::Helpers => self.declared.helpers.len() + BUILT_IN.len(),
            Known::Tables => self.declared.lookups.len(),
            Known::Nouns => self.program.nouns.iter().count(),
            Known::Values | Known::Changeable | Known::ColumnsAndGivens => self.declared.defs.len(),
            Known::These(names) => names.len(),
        }
    }

    fn names_of(&self, known: &Known<'_>) -> Vec<String> {
        let owned = |names: &mut dyn Iterator<Item = &str>| names.map(str::to_string).collect();
        let defs = |fits: fn(&DefKind<'a>) -> bool| {
            let defs = self.declared.defs.iter().filter(|d| fits(&d.kind));
            defs.map(|d| d.name.text.clone()).collect()
        };
        match known {
            Known::Choices => owned(&mut self.declared.choices.keys().copied()),
            Known::Surveys => owned(&mut self.declared.tables.keys().copied()),
            Known::SurveysAndGroups => owned(
                &mut self
                    .declared
                    .tables
                    .keys()
                    .chain(self.declared.groups.keys())
                    .copied(),
            ),
            Known::Resources => owned(&mut self.declared.resources_by_name.keys().copied()),
            Known::Helpers => owned(&mut self.declared.helpers.keys().chain(BUILT_IN).copied()),
            Known::Tables => owned(&mut self.declared.lookups.keys().copied()),
            Known::Nouns => {
                let nouns = self.program.nouns.iter();
                nouns.map(|(_, n)| n.to_string()).collect()
            }
            Known::Values => owned(&mut self.declared.by_name.keys().copied()),
            Known::Changeable => defs(|kind| !matches!(kind, DefKind::Column { .. })),
            Known::ColumnsAndGivens => {
                defs(|kind| matches!(kind, DefKind::Column { .. } | DefKind::Given(_)))
            }
            Known::These(names) => owned(&mut names.iter().copied()),
        }
    }

    /// Tells that there is nothing of this name, unless what declares it could not be read.
    pub(super) fn unknown(
        &mut self,
        code: &'static str,
        what: &str,
        name: &tree::Name,
        known: Known<'_>,
    ) {
        if self.reported.broken.contains(name.text.as_str()) {
            return;
        }
        let d = Diagnostic::error(code, format!("there is no {what} `{}`", name.text))
            .at(name.span, "");
        if !self.may_suggest(self.how_many(&known)) {
            return self.problems.push(d);
        }
        let mut list = self.names_of(&known);
        list.sort_unstable();
        self.problems.push(match suggest::nearest(&name.text, list.iter().map(String::as_str)) {
            Some(n) => d.mend(format!("did you mean `{n}`?")),
            None if list.is_empty() && BROUGHT_IN.contains(&code) => {
                d.expected(format!("a {what} declared in this sheet, or in one that it brings in with a line such as: use \"FILE.ovo\""))
            }
            None if (1..=12).contains(&list.len()) => d.expected(list.join(", ")),
            None => d,
        });
    }
}
