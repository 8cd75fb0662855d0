//! Which tabs of a workbook are read: those the job names, or the one whose headings fit the table.

use super::gather::{Gathering, find_for, quoted};
use super::heading::{self, HeadingRow};
use super::marked::is_list;
use super::workbook::{Book, Tab};
use crate::diagnostics::suggest::nearest;
use crate::diagnostics::{Diagnostic, Place, any_error};

/// Visible tabs that the job does not name.
#[derive(Default)]
pub(super) struct OtherTabs {
    names: Vec<String>,
    /// The one whose headings fit the table best, and how many do.
    fit: Option<(String, usize)>,
}

impl OtherTabs {
    /// Completes the message that a tab is not there.
    fn tell(&self, problem: Diagnostic, wanted: &str) -> Diagnostic {
        let names: Vec<&str> = self.names.iter().map(String::as_str).collect();
        let problem = match names.as_slice() {
            [] => problem.found("no other tab"),
            names => problem.found(format!("tabs {}", quoted(names))),
        };
        if let Some(near) = nearest(wanted, names.iter().copied()) {
            return problem.note(format!("Perhaps \"{near}\" is meant."));
        }
        match &self.fit {
            Some((tab, _)) => problem.note(format!(
                "Perhaps \"{tab}\" is meant: its headings fit the table."
            )),
            None => problem,
        }
    }
}

impl Gathering<'_> {
    /// Tells which named tabs no workbook had. A text file has no tabs; asking for one is only wrong where a workbook was read.
    pub(super) fn tell_missing_tabs(&mut self, last_book: Option<&str>) {
        for tab in std::mem::take(&mut self.tabs_not_found) {
            if let Some(book) = last_book {
                let problem = Diagnostic::error("OV-018", format!("no tab is called \"{tab}\""))
                    .at(Place::File(book.to_string()), "")
                    .expected(format!("\"{tab}\""));
                self.problems.push(self.others.tell(problem, &tab));
            }
        }
    }

    /// The tabs to read and their headings. Named tabs are read in the order named; else the one that holds the table.
    pub(super) fn choose_tabs(
        &mut self,
        name: &str,
        book: &mut Book<'_>,
    ) -> Vec<(String, HeadingRow)> {
        let file = || Place::File(name.to_string());
        let most = self.head_rows();
        let tabs = book.tabs().to_vec();
        let mut chosen = Vec::new();
        if !self.options.tabs.is_empty() {
            return self.named_tabs(name, book, &tabs);
        }
        let mut heads = Vec::new();
        for tab in tabs.iter().filter(|t| !t.hidden) {
            match book.head(&tab.name, most) {
                Ok(rows) if is_list(&rows) => {}
                Ok(rows) => {
                    if let Some(heading) = self.find_heading(&rows) {
                        chosen.push((tab.name.clone(), heading));
                    }
                    heads.push((tab.name.clone(), rows));
                }
                Err(problem) => {
                    self.problems.push(problem);
                    return Vec::new();
                }
            }
        }
        self.note_hidden_tabs(name, book, &tabs);
        if chosen.len() > 1 {
            let whole: Vec<_> = chosen
                .iter()
                .filter(|(tab, h)| !any_error(&self.map(h, name, Some(tab)).1))
                .cloned()
                .collect();
            if let [one] = whole.as_slice() {
                return vec![one.clone()];
            }
            let list: Vec<&str> = chosen.iter().map(|c| c.0.as_str()).collect();
            self.problems.push(
                Diagnostic::error("OV-019", "several tabs could hold the table")
                    .at(file(), "")
                    .found(format!("heading rows in {}", quoted(&list)))
                    .expected("the tabs to read, by name")
                    .mend(format!("Name them in the job: tab {}", quoted(&list))),
            );
            return Vec::new();
        }
        if chosen.is_empty() {
            match heads.first() {
                Some((tab, rows)) => self.problems.push(self.no_heading(name, Some(tab), rows)),
                None => self.problems.push(
                    Diagnostic::error("OV-010", "the workbook has no visible tab with cells")
                        .at(file(), ""),
                ),
            }
        }
        chosen
    }

    fn named_tabs(
        &mut self,
        name: &str,
        book: &mut Book<'_>,
        tabs: &[Tab],
    ) -> Vec<(String, HeadingRow)> {
        let file = || Place::File(name.to_string());
        let most = self.head_rows();
        let mut chosen = Vec::new();
        for wanted in &self.options.tabs {
            let Some(tab) = tabs
                .iter()
                .find(|t| t.name == *wanted || heading::plain(&t.name) == heading::plain(wanted))
            else {
                continue;
            };
            self.tabs_not_found.retain(|t| t != wanted);
            if tab.hidden {
                self.problems.push(
                    Diagnostic::warning(
                        "OV-026",
                        format!(
                            "the tab \"{}\" is hidden; it is read because it is named",
                            tab.name
                        ),
                    )
                    .at(file(), ""),
                );
            }
            match book.head(&tab.name, most) {
                Ok(rows) => match self.find_heading(&rows) {
                    Some(heading) => chosen.push((tab.name.clone(), heading)),
                    None => self
                        .problems
                        .push(self.no_heading(name, Some(&tab.name), &rows)),
                },
                Err(problem) => self.problems.push(problem),
            }
        }
        if !self.tabs_not_found.is_empty() {
            self.look_at_others(book, tabs, most);
        }
        if chosen.is_empty() && !any_error(&self.problems) {
            let wanted: Vec<&str> = self.options.tabs.iter().map(String::as_str).collect();
            let problem = Diagnostic::error("OV-018", "the workbook has none of the tabs named")
                .at(file(), "")
                .expected(quoted(&wanted));
            let wanted = wanted.first().copied().unwrap_or_default();
            self.problems.push(self.others.tell(problem, wanted));
            self.tabs_not_found.clear();
        }
        chosen
    }

    /// Notes the tabs that the job does not name, and whose headings fit the table best.
    fn look_at_others(&mut self, book: &mut Book<'_>, tabs: &[Tab], most: usize) {
        let named = |t: &Tab| {
            let plain = heading::plain(&t.name);
            self.options.tabs.iter().any(|n| heading::plain(n) == plain)
        };
        let others = tabs.iter().filter(|t| !t.hidden && !named(t));
        for tab in others.collect::<Vec<_>>() {
            let heading = book.head(&tab.name, most).ok();
            let hits = heading
                .and_then(|rows| self.find_heading(&rows))
                .map_or(0, |h| h.hits);
            self.others.names.push(tab.name.clone());
            if hits > self.others.fit.as_ref().map_or(0, |f| f.1) {
                self.others.fit = Some((tab.name.clone(), hits));
            }
        }
    }

    /// Hidden tabs are passed over, unless they are named; one that could hold the table is told of.
    fn note_hidden_tabs(&mut self, name: &str, book: &mut Book<'_>, tabs: &[Tab]) {
        let most = self.head_rows();
        let holds = |tab: &&Tab| {
            // A hidden tab that can't be read is no concern of the survey.
            book.head(&tab.name, most).is_ok_and(|rows| {
                let heading =
                    find_for(self.schema, &self.settings, self.options.heading_row, &rows);
                heading.is_some_and(|h| {
                    !any_error(&self.map(&h, name, Some(&tab.name)).1)
                        && rows.iter().any(|r| r.row > h.last)
                })
            })
        };
        let found: Vec<&str> = tabs
            .iter()
            .filter(|t| t.hidden)
            .filter(holds)
            .map(|t| t.name.as_str())
            .collect();
        if !found.is_empty() {
            self.problems.push(
                Diagnostic::warning("OV-032", "a hidden tab could hold a part of the table and is not read")
                    .at(Place::File(name.to_string()), "")
                    .found(format!("a heading row and rows below it in {}", quoted(&found)))
                    .note("A tab is hidden to keep an old copy, or by mistake. Look which it is; a tab that is named in the job is read."),
            );
        }
    }
}
