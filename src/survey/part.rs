//! A run of rows of one file, read: judges each row, reads its cells, notes what was done to them. Runs are read side by side.
//! Must not know file formats.

use std::collections::BTreeMap;
use std::sync::{Mutex, PoisonError};

use crate::diagnostics::Diagnostic;
use crate::table::{Absence, ColumnKind, ColumnSpec, OnMissing, Schema};

use super::cells::{CellSettings, CellValue, ColumnReader, Normalised};
use super::columns::{Column, TextColumn};
use super::faults::{Fault, Faults};
use super::heading::{Mapping, Origin};
use super::raw::{CellRef, RowView, cut};
use super::rows::{RowKind, RowRules, SkipReason};
use super::seen::{Seen, SeenValue};

/// How the rows of one tab or text file are to be read.
pub(crate) struct TabPlan<'a> {
    pub(super) schema: &'a Schema,
    pub(super) mapping: &'a Mapping,
    pub(super) readers: Vec<ColumnReader<'a>>,
    pub(super) rules: RowRules,
    /// Schema column that names rows in messages.
    pub(super) mark: Option<usize>,
    /// Cells a row must have, where the format has rows of given length.
    pub(super) width: Option<usize>,
    pub(super) source: u16,
    pub(super) keep_text: bool,
    /// Columns that must be filled but that the file does not have.
    pub(super) lost: Vec<bool>,
    /// What cells were read as in parts that are done, for parts to come.
    pub(super) seen: Mutex<Vec<Vec<Option<Seen>>>>,
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
    pub(super) fn hand_on(&self, seen: Vec<Option<Seen>>) {
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
            if self.keep_text {
                column.keep(&cell.words());
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
                // That the whole column is missing was reported with the headings.
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
    pub(super) rows: Vec<u32>,
    pub(super) columns: Vec<PartColumn>,
    /// Rows within the part, and columns.
    pub(super) dittos: Vec<(usize, usize)>,
    pub(super) faults: Faults,
    pub(super) bad_rows: Vec<usize>,
    pub(super) skipped: Vec<(u32, SkipReason)>,
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

pub(super) struct PartColumn {
    pub(super) values: Column,
    pub(super) notes: ColumnNotes,
    pub(super) texts: Option<TextColumn>,
    /// Nothing for marks, which hardly come again but in runs.
    pub(super) seen: Option<Seen>,
    /// Whether the last mark was read as it stands.
    pub(super) as_written: bool,
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
            OnMissing::Refuse | OnMissing::Keep | OnMissing::Value(_) => {
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
