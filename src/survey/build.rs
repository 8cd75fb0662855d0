//! Rows to a table: judges each row, reads its cells, keeps count of everything done to them, and collects every fault.
//!
//! Parts of a file are read side by side ([`TabPlan::begin`]), then put end to end in the order of the file ([`Builder::add`]);
//! ditto marks wait for that, since the row above may lie in another part. Must not know file formats or how messages are grouped.

use std::collections::BTreeMap;
use std::sync::{Mutex, PoisonError};

use rayon::prelude::*;

use crate::diagnostics::Diagnostic;
use crate::table::{
    Absence, ColumnKind, ColumnSpec, OnMissing, RowPlace, Schema, Table, Texts as Pool,
};

use super::cells::{CellSettings, CellValue, ColumnReader, Normalised};
use super::columns::{Column, TextColumn};
use super::faults::{Fault, Faults};
use super::heading::{Mapping, Origin};
use super::raw::{CellRef, RowView, cut};
use super::relate::{Orphan, Ties};
use super::rows::{RowKind, RowRules, SkipReason};
use super::seen::{Seen, SeenValue};

/// How the rows of one tab or text file are to be read.
pub(crate) struct TabPlan<'a> {
    schema: &'a Schema,
    mapping: &'a Mapping,
    readers: Vec<ColumnReader<'a>>,
    rules: RowRules,
    /// Schema column that names rows in messages.
    mark: Option<usize>,
    /// Cells a row must have, where the format has rows of given length.
    width: Option<usize>,
    source: u16,
    keep_text: bool,
    /// Columns that must be filled but that the file does not have.
    lost: Vec<bool>,
    /// What cells were read as in parts that are done, for parts to come.
    seen: Mutex<Vec<Vec<Option<Seen>>>>,
}

impl<'a> TabPlan<'a> {
    /// `exact_width` asks that every row has as many cells as the heading row, as a CSV file should.
    pub(crate) fn new(
        schema: &'a Schema,
        mapping: &'a Mapping,
        settings: CellSettings<'a>,
        source: u16,
        exact_width: bool,
        keep_text: bool,
    ) -> Self {
        let parent_key = schema.parent.as_ref().map(|p| p.1);
        let readers = schema
            .columns
            .iter()
            .zip(&mapping.origins)
            .enumerate()
            .map(|(i, (spec, origin))| {
                let unit = if let Origin::Cells(_, unit) = origin {
                    unit.as_ref()
                } else {
                    None
                };
                ColumnReader::new(
                    spec,
                    unit,
                    spec.is_key || Some(i) == schema.key || Some(i) == parent_key,
                    settings,
                )
            })
            .collect();
        TabPlan {
            schema,
            mapping,
            readers,
            rules: RowRules::new(schema, mapping),
            mark: schema.key.or(parent_key),
            width: exact_width.then_some(mapping.shown.len()),
            source,
            keep_text,
            lost: schema
                .columns
                .iter()
                .zip(&mapping.origins)
                .map(|(spec, origin)| {
                    matches!(origin, Origin::Nowhere) && spec.blank == OnMissing::Refuse
                })
                .collect(),
            seen: Mutex::default(),
        }
    }

    /// Takes what the cells of a part were read as. Numbers of texts are those of their part, and where there is no more room
    /// newer texts are likelier to come again.
    fn hand_on(&self, seen: Vec<Option<Seen>>) {
        let lasts = |(seen, spec): (Option<Seen>, &ColumnSpec)| {
            seen.filter(|seen| {
                seen.has_room() && !matches!(spec.kind, ColumnKind::Text | ColumnKind::Lites)
            })
        };
        let seen = seen
            .into_iter()
            .zip(&self.schema.columns)
            .map(lasts)
            .collect();
        self.seen
            .lock()
            .unwrap_or_else(PoisonError::into_inner)
            .push(seen);
    }

    /// An empty part.
    pub(crate) fn begin(&self) -> Part {
        let seen = self
            .seen
            .lock()
            .unwrap_or_else(PoisonError::into_inner)
            .pop()
            .unwrap_or_default();
        let mut seen = seen.into_iter();
        let mut column = |(i, spec): (usize, &ColumnSpec)| {
            let seen = seen.next().flatten().unwrap_or_default();
            PartColumn::new(spec, self.keep_text, (self.mark != Some(i)).then_some(seen))
        };
        Part {
            rows: Vec::new(),
            columns: self
                .schema
                .columns
                .iter()
                .enumerate()
                .map(&mut column)
                .collect(),
            dittos: Vec::new(),
            faults: Faults::default(),
            bad_rows: Vec::new(),
            skipped: Vec::new(),
        }
    }

    fn cell<'r>(&'r self, row: &'r impl RowView, column: usize) -> CellRef<'r> {
        match self.mapping.origins.get(column) {
            Some(Origin::Cells(at, _)) => row.get(*at),
            Some(Origin::Fixed(text)) => CellRef::text(text),
            Some(Origin::Nowhere) | None => CellRef::Blank,
        }
    }

    /// Reads a row into a part.
    pub(crate) fn read_row(&self, part: &mut Part, row: &impl RowView) {
        if row.row() <= self.mapping.last_row {
            let blank = (0..row.width()).all(|c| row.get(c).is_blank());
            // The heading row itself is neither data nor skipped.
            if !blank && row.row() < self.mapping.first_row {
                part.skipped.push((row.row(), SkipReason::AboveHeading));
            }
            return;
        }
        let kind = self.rules.judge(row);
        if let RowKind::Skip(reason) = kind {
            part.skipped.push((row.row(), reason));
            return;
        }
        let fault = match self.ragged(row) {
            Some(fault) => Some(fault),
            None if kind == RowKind::MarkOnly => Some(mark_only(self.schema)),
            None => None,
        };
        part.rows.push(row.row());
        match fault {
            Some(fault) => {
                part.fault(self.fault(row, None, fault));
                for column in &mut part.columns {
                    column.values.push_missing(Absence::Unreadable);
                    column.keep("");
                }
            }
            None => self.read_cells(part, row),
        }
    }

    fn read_cells(&self, part: &mut Part, row: &impl RowView) {
        let index = part.rows.len() - 1;
        for (i, reader) in self.readers.iter().enumerate() {
            let cell = self.cell(row, i);
            let (Some(spec), Some(column)) = (self.schema.columns.get(i), part.columns.get_mut(i))
            else {
                continue;
            };
            match cell {
                _ if !self.keep_text => {}
                CellRef::Text(text) => column.keep(text),
                other => column.keep(&other.shown()),
            }
            if column.repeat(cell) {
                continue;
            }
            let mut notes = Vec::new();
            let trouble = match reader.read(cell, &mut |what| notes.push(what)) {
                Ok(CellValue::Text(t)) => column.put_text(cell, &t, &notes),
                Ok(CellValue::Number(n)) => column.put(cell, SeenValue::Number(n, (0, 0)), &notes),
                Ok(CellValue::Choice(c)) => column.put(cell, SeenValue::Choice(c), &notes),
                Ok(CellValue::YesNo(b)) => column.put(cell, SeenValue::YesNo(b), &notes),
                Ok(CellValue::Date(d)) => column.put(cell, SeenValue::Date(d), &notes),
                // That the whole column is missing was told with the headings.
                Ok(CellValue::Blank) if self.lost.get(i) == Some(&true) => {
                    column.values.push_missing(Absence::Unreadable);
                    None
                }
                Ok(CellValue::Blank) => {
                    column.missing(spec, Absence::Blank, reader, index, self.mark == Some(i))
                }
                Ok(CellValue::NotApplicable) => column.missing(
                    spec,
                    Absence::NotApplicable,
                    reader,
                    index,
                    self.mark == Some(i),
                ),
                Ok(CellValue::Ditto) => {
                    column.values.push_missing(Absence::Blank);
                    notes.push(Normalised::Borrowed("ditto marks, read as the cell above"));
                    part.dittos.push((index, i));
                    None
                }
                Err(fault) => {
                    column.values.push_missing(Absence::Unreadable);
                    Some(fault)
                }
            };
            for what in notes {
                *column.notes.normalised.entry(what).or_insert(0) += 1;
            }
            if let Some(fault) = trouble {
                part.fault(self.fault(row, Some(i), *fault));
            }
        }
    }

    fn ragged(&self, row: &impl RowView) -> Option<Diagnostic> {
        let width = self.width?;
        let found = row.width();
        let beyond = (width..found).any(|c| !row.get(c).is_blank());
        // Blank cells at the end may be left out or too many.
        let short = found < width && self.mapping.shown.iter().skip(found).any(|h| !h.is_empty());
        (beyond || short).then(|| {
            Diagnostic::error("OV-024", "this row has more or fewer cells than the heading row")
                .found(format!("{found} cells"))
                .expected(format!("{width} cells, as in the heading row"))
                .note("A comma or quote inside a cell needs the whole cell in quotes; a lost one shifts every cell behind it.")
        })
    }

    fn fault(&self, row: &impl RowView, column: Option<usize>, diagnostic: Diagnostic) -> Fault {
        let mark = self
            .mark
            .map(|m| cut(&self.cell(row, m).shown()))
            .unwrap_or_default();
        Fault {
            source: self.source,
            row: row.row(),
            column,
            mark,
            diagnostic,
        }
    }
}

fn mark_only(schema: &Schema) -> Diagnostic {
    Diagnostic::error("OV-708", format!("a row of \"{}\" has a mark and nothing else", schema.name))
        .expected("a row that is filled, or none")
        .note("If it is a heading within the table or a note, move it above the heading row or out of the mark's column.")
}

/// A run of rows of one file, read.
pub(crate) struct Part {
    rows: Vec<u32>,
    columns: Vec<PartColumn>,
    /// Rows within the part, and columns.
    dittos: Vec<(usize, usize)>,
    faults: Faults,
    bad_rows: Vec<usize>,
    skipped: Vec<(u32, SkipReason)>,
}

impl Part {
    fn fault(&mut self, fault: Fault) {
        let row = self.rows.len().saturating_sub(1);
        if self.bad_rows.last() != Some(&row) {
            self.bad_rows.push(row);
        }
        self.faults.push(fault);
    }
}

/// What was done in one column, for the report.
#[derive(Debug, Clone, Default)]
pub(crate) struct ColumnNotes {
    pub(crate) normalised: BTreeMap<Normalised, u64>,
    /// Rows for whose blank the sheet gave a value.
    pub(crate) assumed_blank: Vec<u32>,
    /// Rows for whose "n/a" the sheet gave a value.
    pub(crate) assumed_not_applicable: Vec<u32>,
}

struct PartColumn {
    values: Column,
    notes: ColumnNotes,
    texts: Option<TextColumn>,
    /// Nothing for marks, which hardly come again but in runs.
    seen: Option<Seen>,
    /// Whether the last mark was read as it stands.
    as_written: bool,
}

impl PartColumn {
    fn new(spec: &ColumnSpec, keep_text: bool, seen: Option<Seen>) -> Self {
        PartColumn {
            values: Column::new(&spec.kind),
            notes: ColumnNotes::default(),
            texts: keep_text.then(TextColumn::default),
            seen,
            as_written: false,
        }
    }

    /// Adds the value of a cell whose text was read before; `false` where it was not.
    fn repeat(&mut self, cell: CellRef<'_>) -> bool {
        let CellRef::Text(text) = cell else {
            return false;
        };
        let Some(seen) = &mut self.seen else {
            return self.as_written && self.values.repeat_mark(text);
        };
        let Some(known) = seen.find(text) else {
            return false;
        };
        known.again += 1;
        self.values.push(&mut known.value);
        true
    }

    /// The same for a cell of text.
    fn put_text(
        &mut self,
        cell: CellRef<'_>,
        value: &str,
        notes: &[Normalised],
    ) -> Option<Box<Diagnostic>> {
        match (cell, &mut self.seen) {
            (CellRef::Text(text), Some(seen)) => {
                seen.keep(text, SeenValue::Text(self.values.push_text(value)?), notes)
            }
            _ => {
                self.as_written = notes.is_empty() && cell == CellRef::Text(value);
                self.values.push_mark(value);
            }
        }
        None
    }

    /// Adds the value of a cell, and keeps it for other cells of the same text.
    fn put(
        &mut self,
        cell: CellRef<'_>,
        mut value: SeenValue,
        notes: &[Normalised],
    ) -> Option<Box<Diagnostic>> {
        self.values.push(&mut value);
        if let (CellRef::Text(text), Some(seen)) = (cell, &mut self.seen) {
            seen.keep(text, value, notes);
        }
        None
    }

    fn keep(&mut self, text: &str) {
        if let Some(texts) = &mut self.texts {
            texts.push(text);
        }
    }

    fn missing(
        &mut self,
        spec: &ColumnSpec,
        why: Absence,
        reader: &ColumnReader<'_>,
        row: usize,
        is_mark: bool,
    ) -> Option<Box<Diagnostic>> {
        let blank = why == Absence::Blank;
        match if blank {
            &spec.blank
        } else {
            &spec.not_applicable
        } {
            OnMissing::Keep if !is_mark => self.values.push_missing(why),
            OnMissing::Value(value) if !is_mark => {
                let rows = if blank {
                    &mut self.notes.assumed_blank
                } else {
                    &mut self.notes.assumed_not_applicable
                };
                rows.extend(u32::try_from(row));
                self.values.push_given(value);
            }
            _ => {
                self.values.push_missing(Absence::Unreadable);
                let name = &spec.name;
                let fault = match (is_mark, blank) {
                    (true, _) => Diagnostic::error("OV-706", format!("a row with data has no \"{name}\""))
                        .expected("a mark that names the row")
                        .note("A row without a mark is never left out by guess: give it a mark, or move notes and totals out of the columns that are read."),
                    (false, true) => Diagnostic::error("OV-710", format!("\"{name}\" is blank"))
                        .expected(reader.expected())
                        .note("Blank is never taken for zero. The sheet may say what a blank means: `if blank VALUE`, or `optional`."),
                    (false, false) => Diagnostic::error("OV-711", format!("\"{name}\" says \"n/a\", which this column may not hold"))
                        .expected(reader.expected())
                        .note("The sheet may allow it: `may be n/a`, or `if n/a VALUE`."),
                };
                return Some(Box::new(if blank {
                    fault.found("nothing")
                } else {
                    fault.found("n/a")
                }));
            }
        }
        None
    }
}

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
