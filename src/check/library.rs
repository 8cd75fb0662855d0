//! `library "VERSION HASH" gave "TOTALS"`: the library that a job is priced with.

use super::typed::*;
use crate::diagnostics::{Diagnostic, Span};
use crate::library;
use crate::program::LibraryTerm;
use crate::syntax::tree::Text;

impl Checker<'_> {
    /// Takes the line into the terms of the job.
    pub(super) fn library_line(&mut self, named: &Text, gave: &Option<Text>, span: Span) {
        if !library::is_stamp(&named.text) {
            self.problems.push(
                Diagnostic::error("OV-098", "this names no library")
                    .at(named.span, "")
                    .found(format!("\"{}\"", named.text))
                    .expected("its version and the twelve signs of its hash, as `ovolo library` prints them")
                    .mend(format!("library \"{}\"", library::stamp())),
            );
            return;
        }
        let used = |s: &super::LoadedSheet| {
            self.loaded
                .sources
                .name(s.file)
                .starts_with(library::PREFIX)
        };
        if !self.loaded.sheets.iter().any(used) {
            self.problems.push(
                Diagnostic::error("OV-097", "the job names a library, and uses no sheet of it")
                    .at(span, "")
                    .mend("use a shipped sheet by name, such as: use \"library:whole-job.ovo\"; or take this line out"),
            );
            return;
        }
        let term = LibraryTerm {
            named: named.text.clone(),
            gave: gave.as_ref().map(|t| t.text.clone()),
            span,
        };
        if self.program.terms.library.replace(term).is_some() {
            self.problems.push(
                Diagnostic::error("OV-213", "the library is named twice")
                    .at(span, "the second")
                    .mend("keep the line that holds"),
            );
        }
    }
}
