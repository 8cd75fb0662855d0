//! Faults of cells and rows: all of them with their places, and the few messages that tell them.
//!
//! One cause met on many rows is reported once, with a count and the first marks. Must not know how a fault is found.

use std::collections::HashMap;

use crate::diagnostics::{CellPlace, Diagnostic};

/// Faults that are kept one by one; those beyond are counted.
const MOST_KEPT: usize = 20_000;
/// Different texts under one cause that get a message each.
const MOST_TEXTS: usize = 5;
/// Marks shown of the rows of one message.
const MOST_MARKS: usize = 3;

/// Something wrong with a cell or a row.
#[derive(Debug, Clone)]
pub(crate) struct Fault {
    /// Index of the tab or file.
    pub(crate) source: u16,
    /// 1-based row or line.
    pub(crate) row: u32,
    /// Column of the schema; `None` for the row.
    pub(crate) column: Option<usize>,
    /// The row's mark, or nothing.
    pub(crate) mark: String,
    /// What is wrong, without a place.
    pub(crate) diagnostic: Diagnostic,
}

/// All faults in the order they were met.
#[derive(Debug, Default)]
pub(crate) struct Faults {
    list: Vec<Fault>,
    beyond: HashMap<(&'static str, Option<usize>), usize>,
}

impl Faults {
    /// Adds a fault.
    pub(crate) fn push(&mut self, fault: Fault) {
        if self.list.len() < MOST_KEPT {
            self.list.push(fault);
        } else {
            *self
                .beyond
                .entry((fault.diagnostic.code, fault.column))
                .or_insert(0) += 1;
        }
    }

    /// Adds the faults of a later part.
    pub(crate) fn append(&mut self, other: Faults) {
        for fault in other.list {
            self.push(fault);
        }
        for (key, count) in other.beyond {
            *self.beyond.entry(key).or_insert(0) += count;
        }
    }

    /// Those kept.
    pub(crate) fn iter(&self) -> impl Iterator<Item = &Fault> {
        self.list.iter()
    }

    /// Keeps only the faults that `keep` allows. Those beyond the cap stay counted.
    pub(crate) fn retain(&mut self, keep: impl FnMut(&Fault) -> bool) {
        self.list.retain(keep);
    }

    /// Forgets how many there were beyond the cap, when all rows with faults are set aside.
    pub(crate) fn forget_beyond(&mut self) {
        self.beyond.clear();
    }

    /// A message for each fault kept. `place` gives the cell of a fault.
    pub(crate) fn each(&self, place: &dyn Fn(&Fault) -> CellPlace) -> Vec<Diagnostic> {
        let told = self.list.iter().map(|f| {
            let d = f.diagnostic.clone().at(place(f), "");
            d.on_rows(1, vec![f.mark.clone()])
        });
        told.collect()
    }

    /// Few messages for all faults. `place` gives the cell of a fault.
    pub(crate) fn told(&self, place: &dyn Fn(&Fault) -> CellPlace) -> Vec<Diagnostic> {
        struct Group<'f> {
            first: &'f Fault,
            texts: Vec<String>,
            rows: usize,
            marks: Vec<String>,
        }
        let mut groups: Vec<Group<'_>> = Vec::new();
        let mut by_text: HashMap<(&str, Option<usize>, &str), usize> = HashMap::new();
        let mut texts_of: HashMap<(&str, Option<usize>), usize> = HashMap::new();
        let mut folded: HashMap<(&str, Option<usize>), usize> = HashMap::new();
        for fault in &self.list {
            let cause = (fault.diagnostic.code, fault.column);
            let found = fault.diagnostic.found.as_deref().unwrap_or("");
            let index = match by_text.get(&(cause.0, cause.1, found)) {
                Some(index) => *index,
                None => {
                    let texts = texts_of.entry(cause).or_insert(0);
                    *texts += 1;
                    let open = if *texts > MOST_TEXTS {
                        folded.get(&cause).copied()
                    } else {
                        None
                    };
                    let index = open.unwrap_or_else(|| {
                        groups.push(Group {
                            first: fault,
                            texts: Vec::new(),
                            rows: 0,
                            marks: Vec::new(),
                        });
                        groups.len() - 1
                    });
                    if *texts > MOST_TEXTS {
                        folded.insert(cause, index);
                    }
                    by_text.insert((cause.0, cause.1, found), index);
                    index
                }
            };
            let Some(group) = groups.get_mut(index) else {
                continue;
            };
            group.rows += 1;
            if group.texts.len() < MOST_MARKS && !group.texts.iter().any(|t| t == found) {
                group.texts.push(found.to_string());
            }
            if group.marks.len() < MOST_MARKS {
                group.marks.push(if fault.mark.is_empty() {
                    format!("row {}", fault.row)
                } else {
                    fault.mark.clone()
                });
            }
        }
        let mut beyond = self.beyond.clone();
        groups
            .into_iter()
            .map(|group| {
                let more = beyond
                    .remove(&(group.first.diagnostic.code, group.first.column))
                    .unwrap_or(0);
                let mut d = group.first.diagnostic.clone().at(place(group.first), "");
                // The place a fault already had, such as the first of two equal marks, comes after the cell itself.
                d.labels.rotate_right(1);
                if group.texts.len() > 1 {
                    d.found = Some(format!("{} and others", group.texts.join("; ")));
                    d.notes.retain(|n| {
                        !n.starts_with("Write what is meant") && !n.starts_with("Perhaps ")
                    });
                }
                let rows = group.rows + more;
                if rows > 1 || !group.first.mark.is_empty() {
                    d.on_rows(rows, group.marks)
                } else {
                    d
                }
            })
            .collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn fault(row: u32, code: &'static str, found: &str) -> Fault {
        let diagnostic = Diagnostic::error(code, "m").found(found);
        Fault {
            source: 0,
            row,
            column: Some(0),
            mark: format!("W{row}"),
            diagnostic,
        }
    }

    fn place(f: &Fault) -> CellPlace {
        CellPlace {
            file: "t.csv".into(),
            tab: None,
            row: f.row,
            column: Some(1),
            heading: None,
        }
    }

    #[test]
    fn one_cause_over_many_rows_is_told_once() {
        let mut faults = Faults::default();
        for row in 2..802 {
            faults.push(fault(row, "OV-710", "nothing"));
        }
        let told = faults.told(&place);
        assert_eq!(told.len(), 1);
        assert_eq!(
            (told[0].rows, told[0].marks.join(" ")),
            (800, "W2 W3 W4".to_string())
        );
    }

    #[test]
    fn many_different_texts_are_folded_after_the_first_few() {
        let mut faults = Faults::default();
        for row in 0..50 {
            faults.push(fault(row, "OV-712", &format!("text {row}")));
        }
        let told = faults.told(&place);
        assert_eq!(
            told.iter().map(|d| d.rows).collect::<Vec<_>>(),
            [1, 1, 1, 1, 1, 45]
        );
        assert_eq!(
            told[5].found.as_deref(),
            Some("text 5; text 6; text 7 and others")
        );
    }

    #[test]
    fn faults_beyond_the_cap_are_still_counted() {
        let mut faults = Faults::default();
        for row in 0..30_000 {
            faults.push(fault(row, "OV-710", "nothing"));
        }
        assert_eq!(faults.told(&place)[0].rows, 30_000);
    }
}
