//! Parts of a file put end to end in its order: one table, all counts, every fault. Ditto marks wait for that, since the row above may lie in
//! another part. Must not know file formats or how messages are grouped.

use rayon::prelude::*;

use crate::diagnostics::Diagnostic;
use crate::table::{RowPlace, Schema, Table, Texts as Pool};

use super::columns::{Column, TextColumn};
use super::faults::{Fault, Faults};
use super::part::{ColumnNotes, Part, TabPlan};
use super::relate::{Orphan, Ties};
use super::rows::SkipReason;
use super::seen::Seen;

/// For each column an index for each row and the texts it points into.
pub(crate) type Texts = Vec<(Vec<u32>, Pool)>;

/// Puts parts end to end.
pub(crate) struct Builder<'a> {
    columns: Vec<Column>,
    /// The column whose marks name rows of the table above, with what ties them.
    ties: Option<(usize, Ties<'a>)>,
    texts: Vec<Option<TextColumn>>,
    pub(crate) notes: Vec<ColumnNotes>,
    places: Vec<RowPlace>,
    /// Per row, whether something is wrong with it; shorter than the table while all is well.
    bad_rows: Vec<bool>,
    pub(crate) faults: Faults,
    pub(crate) skipped: Vec<(u16, u32, SkipReason)>,
    source_start: usize,
}

impl<'a> Builder<'a> {
    /// `parent` is the table above with its schema.
    pub(crate) fn new(
        schema: &Schema,
        keep_text: bool,
        parent: Option<(&Schema, &'a Table)>,
    ) -> Self {
        let ties = |(above, table): (&Schema, &'a Table)| {
            Some((schema.parent.as_ref()?.1, Ties::new(table, above.key?)?))
        };
        Builder {
            columns: schema
                .columns
                .iter()
                .map(|c| Column::new(&c.kind))
                .collect(),
            ties: parent.and_then(ties),
            texts: schema
                .columns
                .iter()
                .map(|_| keep_text.then(TextColumn::default))
                .collect(),
            notes: vec![ColumnNotes::default(); schema.columns.len()],
            places: Vec::new(),
            bad_rows: Vec::new(),
            faults: Faults::default(),
            skipped: Vec::new(),
            source_start: 0,
        }
    }

    /// Begins another tab or file: ditto marks do not reach above it.
    pub(crate) fn begin_source(&mut self) {
        self.source_start = self.places.len();
    }

    /// Rows so far.
    pub(crate) fn rows(&self) -> usize {
        self.places.len()
    }

    /// Rows of the current tab or file so far.
    pub(crate) fn rows_of_source(&self) -> usize {
        self.places.len() - self.source_start
    }

    /// Adds the next part of the current tab or file.
    pub(crate) fn add(&mut self, plan: &TabPlan<'_>, part: Part) {
        let start = self.places.len();
        self.places.extend(part.rows.iter().map(|row| RowPlace {
            source: plan.source,
            row: *row,
        }));
        let mut seen = Vec::with_capacity(part.columns.len());
        let columns = self
            .columns
            .iter_mut()
            .zip(&mut self.texts)
            .zip(&mut self.notes);
        for (at, (((column, texts), notes), more)) in columns.zip(part.columns).enumerate() {
            let ties = self
                .ties
                .as_mut()
                .filter(|ties| ties.0 == at)
                .map(|ties| &mut ties.1);
            column.append(more.values, ties);
            if let (Some(texts), Some(more)) = (texts, more.texts) {
                texts.append(more, None);
            }
            let mut known = more.seen;
            let again = known.as_mut().map_or_else(Vec::new, Seen::take_notes);
            seen.push(known);
            for (what, count) in more.notes.normalised.into_iter().chain(again) {
                *notes.normalised.entry(what).or_insert(0) += count;
            }
            let below = u32::try_from(start).unwrap_or(u32::MAX);
            notes.assumed_blank.extend(
                more.notes
                    .assumed_blank
                    .iter()
                    .map(|r| r.saturating_add(below)),
            );
            notes.assumed_not_applicable.extend(
                more.notes
                    .assumed_not_applicable
                    .iter()
                    .map(|r| r.saturating_add(below)),
            );
        }
        plan.hand_on(seen);
        self.skipped.extend(
            part.skipped
                .iter()
                .map(|(row, why)| (plan.source, *row, *why)),
        );
        for row in part.bad_rows {
            self.mark_bad(row + start);
        }
        self.faults.append(part.faults);
        for (row, column) in part.dittos {
            self.repeat(plan, row + start, column);
        }
    }

    fn repeat(&mut self, plan: &TabPlan<'_>, row: usize, column: usize) {
        let name = plan
            .schema
            .columns
            .get(column)
            .map_or("", |c| c.name.as_str());
        let problem = if row == self.source_start {
            Some(
                Diagnostic::error(
                    "OV-709",
                    format!("\"{name}\" repeats the cell above, but this is the first row"),
                )
                .found("a ditto mark")
                .expected("a value in the first row of the file or tab"),
            )
        } else if self
            .columns
            .get(column)
            .is_some_and(|c| c.is_unreadable(row - 1))
        {
            Some(
                Diagnostic::error(
                    "OV-729",
                    format!("\"{name}\" repeats a cell that cannot be read"),
                )
                .found("a ditto mark")
                .expected("a cell above that can be read"),
            )
        } else {
            None
        };
        match (problem, self.columns.get_mut(column)) {
            (Some(diagnostic), values) => {
                if let Some(values) = values {
                    values.set_unreadable(row);
                }
                self.mark_bad(row);
                let place = self.places.get(row).map_or(0, |p| p.row);
                let mark = plan
                    .mark
                    .and_then(|m| self.columns.get(m))
                    .and_then(|c| c.text(row))
                    .unwrap_or("")
                    .to_string();
                self.faults.push(Fault {
                    source: plan.source,
                    row: place,
                    column: Some(column),
                    mark,
                    diagnostic,
                });
            }
            (None, Some(values)) => values.copy_down(row),
            (None, None) => {}
        }
    }

    pub(crate) fn mark_bad(&mut self, row: usize) {
        if self.bad_rows.len() <= row {
            self.bad_rows.resize(row + 1, false);
        }
        if let Some(bad) = self.bad_rows.get_mut(row) {
            *bad = true;
        }
    }

    pub(crate) fn is_bad(&self, row: usize) -> bool {
        self.bad_rows.get(row).copied().unwrap_or(false)
    }

    /// Whether the cell of a row was left blank or could be read.
    pub(crate) fn is_readable(&self, row: usize, column: usize) -> bool {
        let column = self.columns.get(column);
        column.is_none_or(|c| !c.is_unreadable(row))
    }

    pub(crate) fn place(&self, row: usize) -> Option<RowPlace> {
        self.places.get(row).copied()
    }

    /// How many different texts a text column has.
    pub(crate) fn text_count(&self, column: usize) -> usize {
        self.columns
            .get(column)
            .and_then(Column::texts)
            .map_or(0, Pool::len)
    }

    /// The row above of each row, 0 where there is none, and the rows that have none; `None` for a table that hangs below no other.
    pub(crate) fn tied(&self) -> Option<(Vec<u32>, Vec<Orphan>)> {
        let (column, ties) = self.ties.as_ref()?;
        let texts = self.columns.get(*column)?.texts()?;
        Some(ties.rows(
            (0..self.rows()).map(|row| self.text_id(row, *column)),
            texts,
        ))
    }

    /// Number of the text of a row: equal for equal texts. `None` where there is no value.
    pub(crate) fn text_id(&self, row: usize, column: usize) -> Option<u32> {
        self.columns.get(column)?.text_id(row)
    }

    /// Cells left blank and cells left "n/a" in a column, without the rows in `drop`.
    pub(crate) fn missing(&self, column: usize, drop: &[bool]) -> (u64, u64) {
        self.columns.get(column).map_or((0, 0), |c| c.missing(drop))
    }

    /// Text of a text column; `None` where there is none.
    pub(crate) fn text(&self, row: usize, column: usize) -> Option<&str> {
        self.columns.get(column).and_then(|c| c.text(row))
    }

    /// Label or whole number of a row; `None` where there is none.
    pub(crate) fn label_or_number(&self, row: usize, column: usize) -> Option<u16> {
        self.columns.get(column)?.label_or_number(row)
    }

    /// The finished table of the rows that `keep` allows, and their texts as written.
    pub(crate) fn finish(self, keep: Option<&[bool]>) -> (Table, Option<Texts>) {
        let mut places = self.places;
        if let Some(keep) = keep {
            super::columns::retain(&mut places, keep);
        }
        let texts: Option<Vec<_>> = self
            .texts
            .into_iter()
            .map(|t| {
                t.map(|t| {
                    let (mut ids, pool) = t.into_parts();
                    if let Some(keep) = keep {
                        super::columns::retain(&mut ids, keep);
                    }
                    (ids, pool)
                })
            })
            .collect();
        let table = Table {
            rows: places.len(),
            columns: self
                .columns
                .into_par_iter()
                .map(|c| c.finish(keep))
                .collect(),
            places,
            sources: Vec::new(),
            headings: Vec::new(),
            parent_rows: None,
            from_above: None,
        };
        (table, texts)
    }
}
