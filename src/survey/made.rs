//! Completes a table below another: makes the rows that a choice or a count of the row above asks for, and fills blank cells with
//! the values of the row above. Must not know file formats.

mod cells;

pub(super) use cells::absence;
use cells::{label_or_number, missing, push_cell};

use crate::diagnostics::{CellPlace, Diagnostic};
use crate::number::Exact;
use crate::table::{
    Absence, ColumnData, ColumnKind, FromAbove, Lites, OnMissing, RowPlace, RowsMade, RowsSpec,
    Schema, SchemaValue, Table, Texts, Values, read_lites,
};

use super::columns::Column;
use super::faults::{Fault, Faults};
use super::report::{MadeRows, Report, SetAsideRow};
use super::{RawTexts, ReadOptions, Reading, SetAside};
use foldhash::{HashMap, HashMapExt, HashSet};

/// Rows made for one row above.
const MOST_ROWS: usize = 100;

/// The schema that a file of such a table is read by: the key is made and blanks read the row above, so neither must be there.
pub(super) fn reading_schema(schema: &Schema) -> Schema {
    let mut reading = schema.clone();
    if schema.rows.is_some()
        && let Some(at) = reading.key.take()
        && let Some(key) = reading.columns.get_mut(at)
    {
        key.is_key = false;
        key.blank = OnMissing::Keep;
        if let Some(spec) = &mut reading.rows {
            spec.key = Some(at);
        }
    }
    for (column, above) in reading.columns.iter_mut().zip(&schema.above) {
        if above.is_some() {
            column.blank = OnMissing::Keep;
        }
    }
    reading
}

/// The table above, with its cells as written where they were kept.
#[derive(Clone, Copy)]
pub struct Above<'a> {
    /// Its schema.
    pub schema: &'a Schema,
    /// Its rows.
    pub table: &'a Table,
    /// Its cells as written.
    pub texts: Option<&'a RawTexts>,
}

/// A row of the completed table.
struct Row {
    above: usize,
    /// The row that was brought.
    own: Option<usize>,
    /// Which of the rows of its row above it is: the position among them, and the label or number.
    place: Option<(usize, u16)>,
}

/// Completes a table. `reading` is what a survey brings; without one all rows are made. Rows that `options` set aside are left out, made ones as well.
///
/// Errors: rows that the row above hasn't, two for one place, rows that are missing where the sheet asks for all, patterns that do
/// not fit; all of them.
pub fn complete(
    schema: &Schema,
    above: Above<'_>,
    reading: Option<Reading>,
    options: &ReadOptions<'_>,
) -> Result<Reading, Vec<Diagnostic>> {
    let brought = reading.is_some();
    let own = reading.unwrap_or_else(|| Reading {
        table: super::empty_table(schema),
        report: Report::empty(&schema.name),
        texts: None,
    });
    let mut work = Completion {
        schema,
        above,
        own,
        faults: Faults::default(),
        rows: Vec::new(),
        counts: Vec::new(),
        sources: (Vec::new(), Vec::new()),
    };
    work.add_sources();
    match &schema.rows {
        Some(spec) => {
            work.make_rows(spec, brought);
            if let SetAside::Marks(marks) = &options.set_aside {
                work.leave_out(spec, marks);
            }
        }
        None => work.keep_rows(),
    }
    work.finish(options.tentative)
}

struct Completion<'a> {
    schema: &'a Schema,
    above: Above<'a>,
    own: Reading,
    faults: Faults,
    rows: Vec<Row>,
    /// Rows that each row above has.
    counts: Vec<usize>,
    /// Files and headings of this table, then those of the table above.
    sources: (Vec<(String, Option<String>)>, Vec<Headings>),
}

type Headings = Vec<Option<(u32, String)>>;

impl Completion<'_> {
    fn add_sources(&mut self) {
        let parent = self.above.table;
        let mut sources = self.own.table.sources.clone();
        let mut headings = self.own.table.headings.clone();
        sources.extend(parent.sources.iter().cloned());
        for of in &parent.headings {
            let of_column = |column: usize| of.get(self.source_of(column)?)?.clone();
            headings.push((0..self.schema.columns.len()).map(of_column).collect());
        }
        self.sources = (sources, headings);
    }

    /// The column above that a column comes from.
    fn source_of(&self, column: usize) -> Option<usize> {
        match &self.schema.rows {
            Some(spec) if spec.place == column => Some(spec.from),
            _ if self.schema.parent.as_ref().is_some_and(|p| p.1 == column) => {
                self.above.schema.key
            }
            _ => self.schema.above(column),
        }
    }

    /// Rows above whose rows are looked at, and those of each that were brought.
    fn brought(&self) -> HashMap<usize, Vec<usize>> {
        let mut of: HashMap<usize, Vec<usize>> = HashMap::new();
        for (row, above) in (0..).zip(self.own.table.parent_rows.iter().flatten()) {
            of.entry(crate::ids::at(*above)).or_default().push(row);
        }
        of
    }

    fn keep_rows(&mut self) {
        self.rows = (0..)
            .zip(self.own.table.parent_rows.iter().flatten())
            .map(|(own, above)| Row {
                above: crate::ids::at(*above),
                own: Some(own),
                place: None,
            })
            .collect();
    }

    fn make_rows(&mut self, spec: &RowsSpec, was_brought: bool) {
        let brought = self.brought();
        // A row set aside is not made anew from what the row above says.
        let mut aside: HashMap<String, HashSet<String>> = HashMap::new();
        for row in &self.own.report.set_aside {
            let above = row.above.clone().unwrap_or_default();
            aside.entry(above).or_default().insert(row.mark.clone());
        }
        let parent = self.above.table;
        let mut faults: Vec<Fault> = Vec::new();
        // Rows below these are of a row that is there and could not be put in its place.
        let mut misplaced: Vec<String> = Vec::new();
        let mut rows = Vec::with_capacity(parent.rows * 2);
        for above in 0..parent.rows {
            let (places, is_known) = match self.places(spec, above) {
                Ok(places) => places,
                Err(d) => {
                    faults.push(self.fault_above(above, spec.from, *d));
                    continue;
                }
            };
            self.counts.push(places.len());
            let mut found: Vec<Option<usize>> = vec![None; places.len()];
            let mut extra = Vec::new();
            for own in brought.get(&above).into_iter().flatten() {
                let place = label_or_number(&self.own.table, spec.place, *own);
                match places.iter().position(|p| Some(*p) == place) {
                    None if !is_known => extra.push((*own, place)),
                    None => {
                        faults.push(self.not_had(spec, above, *own, &places));
                        misplaced.push(self.own_mark(*own));
                    }
                    Some(at) => match found.get_mut(at) {
                        Some(Some(first)) => {
                            let first = *first;
                            faults.push(self.twice(spec, first, *own));
                            misplaced.push(self.own_mark(*own));
                        }
                        Some(slot) => *slot = Some(*own),
                        None => {}
                    },
                }
            }
            rows.extend(extra.into_iter().map(|(own, place)| Row {
                above,
                own: Some(own),
                place: place.map(|p| (0, p)),
            }));
            let mark = self.mark_above(above);
            let gone = aside.get(mark);
            // Where nobody knows which one it was, none of that row above is made.
            let is_unknown = gone.is_some_and(|gone| {
                let made: HashSet<String> = places.iter().map(|p| spec.mark(mark, *p)).collect();
                !gone.is_subset(&made)
            });
            for (at, (own, place)) in found.into_iter().zip(places).enumerate() {
                let spared =
                    is_unknown || gone.is_some_and(|g| g.contains(&spec.mark(mark, place)));
                if own.is_none() && was_brought && spec.all_surveyed && !spared {
                    faults.push(self.not_surveyed(spec, above, place));
                }
                if own.is_some() || !spared {
                    let place = Some((at, place));
                    rows.push(Row { above, own, place });
                }
            }
        }
        self.rows = rows;
        self.own.report.unplaced.extend(misplaced);
        faults.sort_by_key(|f| (f.source, f.row));
        faults.into_iter().for_each(|f| self.faults.push(f));
    }

    /// Leaves out the made rows of these marks.
    fn leave_out(&mut self, spec: &RowsSpec, marks: &[String]) {
        let marks: HashSet<&str> = marks.iter().map(|m| m.trim()).collect();
        let mut rows = std::mem::take(&mut self.rows);
        rows.retain(|row| {
            let place = row.place.filter(|_| row.own.is_none());
            let mark = place.map(|(_, place)| spec.mark(self.mark_above(row.above), place));
            let Some(mark) = mark.filter(|mark| marks.contains(mark.as_str())) else {
                return true;
            };
            let place = self.place_above(row.above);
            let (file, tab) = self
                .sources
                .0
                .get(usize::from(place.source))
                .cloned()
                .unwrap_or_default();
            let place = CellPlace {
                file,
                tab,
                row: place.row,
                column: None,
                heading: None,
            };
            let above = Some(self.mark_above(row.above).to_owned());
            self.own.report.set_aside.push(SetAsideRow {
                mark,
                above,
                place,
                causes: vec![],
            });
            false
        });
        self.rows = rows;
    }

    /// The rows that a row above has, and whether that is known: a trial may leave it open.
    fn places(&self, spec: &RowsSpec, above: usize) -> Result<(Vec<u16>, bool), Box<Diagnostic>> {
        let parent = self.above.table;
        match absence(parent, spec.from, above) {
            Absence::Present => {}
            Absence::Unreadable => return Ok((vec![], false)),
            Absence::Blank | Absence::NotApplicable => return Ok((vec![], true)),
        }
        let from = parent.columns.get(spec.from).map(|c| &c.values);
        match (&spec.made, from) {
            (RowsMade::Labels(of, _), Some(Values::Choice(labels))) => {
                let label = labels.get(above).map(|l| usize::from(*l));
                let places = label.and_then(|l| of.get(l)).cloned();
                Ok((places.unwrap_or_default(), true))
            }
            (RowsMade::Count, Some(Values::Numbers(numbers))) => {
                let count = numbers.get(above);
                let whole = count.small().filter(|(_, d)| *d == 1).map(|(n, _)| n);
                match whole.and_then(|n| u16::try_from(n).ok()) {
                    Some(n) if usize::from(n) <= MOST_ROWS => Ok(((1..=n).collect(), true)),
                    _ => Err(Box::new(
                        Diagnostic::error(
                            "OV-743",
                            format!("so many rows of \"{}\" cannot be made", self.schema.name),
                        )
                        .found(count.to_decimal(6).0)
                        .expected(format!("a whole number from 0 to {MOST_ROWS}")),
                    )),
                }
            }
            _ => Ok((vec![], true)),
        }
    }

    /// The mark of a row that was brought; empty where it is left to be made.
    fn own_mark(&self, own: usize) -> String {
        let key = self.schema.key.and_then(|k| self.own.table.columns.get(k));
        key.and_then(|c| c.text(own)).unwrap_or("").to_owned()
    }

    fn mark_above(&self, above: usize) -> &str {
        let key = self.above.schema.key;
        key.and_then(|k| self.above.table.columns.get(k))
            .and_then(|c| c.text(above))
            .unwrap_or("")
    }

    /// A fault at the cell of the row above.
    fn fault_above(&self, above: usize, column: usize, diagnostic: Diagnostic) -> Fault {
        let place = self.place_above(above);
        // The column of this table that the heading of the cell above is under, if any.
        let here = (0..self.schema.columns.len()).find(|c| {
            self.schema.above(*c) == Some(column)
                || self
                    .schema
                    .rows
                    .as_ref()
                    .is_some_and(|r| r.place == *c && r.from == column)
        });
        Fault {
            source: place.source,
            row: place.row,
            column: here,
            mark: self.mark_above(above).to_owned(),
            diagnostic,
        }
    }

    fn fault_here(&self, own: usize, column: usize, diagnostic: Diagnostic) -> Fault {
        let none = RowPlace { source: 0, row: 0 };
        let place = self.own.table.places.get(own).copied().unwrap_or(none);
        let tie = self.schema.parent.as_ref().map_or(0, |p| p.1);
        let mark = self.own.table.columns.get(tie).and_then(|c| c.text(own));
        Fault {
            source: place.source,
            row: place.row,
            column: Some(column),
            mark: mark.unwrap_or("").to_owned(),
            diagnostic,
        }
    }

    fn not_had(&self, spec: &RowsSpec, above: usize, own: usize, places: &[u16]) -> Fault {
        let name = &self.schema.name;
        let from = self.above.schema.columns.get(spec.from);
        let value = match (
            from.map(|c| &c.kind),
            self.above.table.columns.get(spec.from).map(|c| &c.values),
        ) {
            _ if absence(self.above.table, spec.from, above) != Absence::Present => "blank".into(),
            (Some(ColumnKind::Choice(labels)), Some(Values::Choice(of))) => of
                .get(above)
                .and_then(|l| labels.get(usize::from(*l)))
                .map_or_else(String::new, |l| l.label.clone()),
            (_, Some(Values::Numbers(n))) => n.get(above).to_decimal(6).0,
            _ => String::new(),
        };
        let place = label_or_number(&self.own.table, spec.place, own);
        let list: Vec<String> = places
            .iter()
            .map(|p| self.place_word(spec, Some(*p)))
            .collect();
        let cell = self.above.table.cell(above, spec.from);
        let heading = cell.and_then(|c| c.heading);
        let d = Diagnostic::error(
            "OV-740",
            format!("its {} has no such {name}", self.above.schema.name),
        )
        .found(self.place_word(spec, place))
        .expected(match list.is_empty() {
            true => format!("no row of \"{name}\""),
            false => list.join(", "),
        })
        .note(format!(
            "The \"{}\" of the {} is {value}.",
            heading
                .as_deref()
                .or(from.map(|c| c.name.as_str()))
                .unwrap_or_default(),
            self.above.schema.name
        ));
        self.fault_here(own, spec.place, d)
    }

    fn twice(&self, spec: &RowsSpec, first: usize, own: usize) -> Fault {
        let place = self.place_word(spec, label_or_number(&self.own.table, spec.place, own));
        let mut d = Diagnostic::error(
            "OV-741",
            format!("two rows of \"{}\" describe the same one", self.schema.name),
        )
        .found(place)
        .expected("one row for each");
        if let Some(cell) = self.own.table.cell(first, spec.place) {
            d = d.note(format!("The first is in {cell}."));
        }
        self.fault_here(own, spec.place, d)
    }

    fn not_surveyed(&self, spec: &RowsSpec, above: usize, place: u16) -> Fault {
        let d = Diagnostic::error(
            "OV-742",
            format!(
                "the survey brings rows of \"{}\", but not this one",
                self.schema.name
            ),
        )
        .found("no row")
        .expected(format!("a row for {}", self.place_word(spec, Some(place))))
        .note("The sheet says `all surveyed`: where it brings some, a survey brings every one.");
        let fault = self.fault_above(above, spec.from, d);
        let mark = spec.mark(&fault.mark, place);
        Fault { mark, ..fault }
    }

    /// A label or a number of the place, in words.
    fn place_word(&self, spec: &RowsSpec, place: Option<u16>) -> String {
        match (place, self.schema.columns.get(spec.place).map(|c| &c.kind)) {
            (Some(p), Some(ColumnKind::Choice(labels))) => labels
                .get(usize::from(p))
                .map_or_else(String::new, |l| l.label.clone()),
            (Some(p), _) => p.to_string(),
            (None, _) => "another".to_owned(),
        }
    }

    fn place_above(&self, above: usize) -> RowPlace {
        let none = RowPlace { source: 0, row: 0 };
        let place = self.above.table.places.get(above).copied().unwrap_or(none);
        let before = u16::try_from(self.own.table.sources.len()).unwrap_or(u16::MAX);
        RowPlace {
            source: place.source.saturating_add(before),
            row: place.row,
        }
    }

    fn finish(mut self, tentative: bool) -> Result<Reading, Vec<Diagnostic>> {
        let mut columns = Vec::with_capacity(self.schema.columns.len());
        let mut taken = Vec::with_capacity(self.schema.columns.len());
        let keeps_texts = self.own.texts.is_some() || self.above.texts.is_some();
        let mut texts = keeps_texts.then(Vec::new);
        for at in 0..self.schema.columns.len() {
            let (data, from_above) = self.column(at);
            if let Some(texts) = &mut texts {
                texts.push(self.texts(at, &from_above));
            }
            if let Some(report) = self.own.report.columns.get_mut(at) {
                report.rows = self.rows.len();
                report.from_above = crate::ids::long(from_above.iter().filter(|t| **t).count());
                (report.blank, report.not_applicable) = missing(&data);
            }
            columns.push(data);
            taken.push(from_above);
        }
        self.repeated_keys(&columns);
        // Rules that read cells as decided by hand in the row above ask which cells those are.
        let numbered = taken.iter().enumerate();
        let reads_above = numbered.filter(|(at, _)| self.schema.above(*at).is_some());
        columns.extend(reads_above.map(|(_, taken)| ColumnData {
            values: Values::YesNo(taken.clone()),
            absent: None,
        }));
        let (sources, headings) = std::mem::take(&mut self.sources);
        let faults = self.faults.told(&|f| cell(&sources, &headings, f));
        if !faults.is_empty() && !tentative {
            return Err(faults);
        }
        let misfits = self.faults.each(&|f| cell(&sources, &headings, f));
        let places: Vec<RowPlace> = self
            .rows
            .iter()
            .map(|r| self.place_above(r.above))
            .collect();
        let own_or_above = |(row, above): (&Row, &RowPlace)| {
            let own = row.own.and_then(|own| self.own.table.places.get(own));
            own.copied().unwrap_or(*above)
        };
        let made: Vec<bool> = self.rows.iter().map(|r| r.own.is_none()).collect();
        let mut report = self.own.report;
        report.warnings.extend(faults);
        report.misfits = misfits;
        report.made = self.schema.rows.is_some().then(|| MadeRows {
            made: made.iter().filter(|m| **m).count(),
            brought: report.rows,
        });
        report.rows = self.rows.len();
        let above = |row: &Row| u32::try_from(row.above).unwrap_or(u32::MAX);
        let table = Table {
            rows: self.rows.len(),
            columns,
            places: self.rows.iter().zip(&places).map(own_or_above).collect(),
            sources,
            headings,
            parent_rows: Some(self.rows.iter().map(above).collect()),
            from_above: Some(FromAbove {
                made,
                taken,
                places,
            }),
        };
        Ok(Reading {
            table,
            report,
            texts: texts.map(|columns| RawTexts { columns }),
        })
    }

    /// The values of a column, and which of them are those of the row above.
    fn column(&mut self, at: usize) -> (ColumnData, Vec<bool>) {
        let schema = self.schema;
        let Some(spec) = schema.columns.get(at) else {
            return (super::empty_column(&ColumnKind::Text), vec![]);
        };
        let mut cells = Column::new(&spec.kind);
        let tie = schema.parent.as_ref().map(|p| p.1);
        let is_key = schema.rows.is_some() && schema.key == Some(at);
        let is_place = schema.rows.as_ref().is_some_and(|r| r.place == at);
        let from = match tie == Some(at) {
            true => self.above.schema.key,
            false => schema.above(at),
        };
        let by_lites = from.is_some_and(|from| {
            let kind = self.above.schema.columns.get(from).map(|c| &c.kind);
            kind == Some(&ColumnKind::Lites) && spec.kind != ColumnKind::Lites
        });
        let mut taken = Vec::new();
        let rows = std::mem::take(&mut self.rows);
        for row in &rows {
            let own = row.own.filter(|own| {
                matches!(
                    absence(&self.own.table, at, *own),
                    Absence::Present | Absence::NotApplicable
                )
            });
            match (own, from, row.place) {
                (Some(own), _, _) => push_cell(&mut cells, &self.own.table, at, own),
                (None, _, Some((_, place))) if is_key => {
                    let spec = self.schema.rows.as_ref();
                    let mark = spec.map(|s| s.mark(self.mark_above(row.above), place));
                    cells.push_text(&mark.unwrap_or_default());
                }
                (None, _, Some((_, place))) if is_place => cells.push_place(place),
                (None, Some(from), _) if by_lites => match self.lites(row, from) {
                    Ok(Some(lites)) => cells.push_given(&if spec.kind == ColumnKind::YesNo {
                        SchemaValue::YesNo(lites.margin > 0)
                    } else {
                        SchemaValue::Number(Exact::from(i64::from(lites.all())))
                    }),
                    Ok(None) => cells.push_missing(absence(self.above.table, from, row.above)),
                    Err(d) => {
                        let fault = self.fault_above(row.above, from, *d);
                        self.faults.push(fault);
                        cells.push_missing(Absence::Unreadable);
                    }
                },
                (None, Some(from), _) => push_cell(&mut cells, self.above.table, from, row.above),
                (None, None, _) => match (&spec.blank, row.own) {
                    (OnMissing::Value(v), None) => cells.push_given(v),
                    (_, Some(own)) => push_cell(&mut cells, &self.own.table, at, own),
                    (_, None) => cells.push_missing(Absence::Blank),
                },
            }
            if schema.above(at).is_some() {
                taken.push(own.is_none());
            }
        }
        self.rows = rows;
        (cells.finish(None), taken)
    }

    /// The lites of a row by the pattern of the row above; one number stands for every row.
    fn lites(&self, row: &Row, from: usize) -> Result<Option<Lites>, Box<Diagnostic>> {
        let text = match absence(self.above.table, from, row.above) {
            Absence::Present => self
                .above
                .table
                .columns
                .get(from)
                .and_then(|c| c.text(row.above)),
            Absence::Blank | Absence::NotApplicable | Absence::Unreadable => None,
        };
        let Some(lites) = text.and_then(read_lites) else {
            return Ok(None);
        };
        let count = self.rows_of(row).map_or(lites.len(), |count| count.max(1));
        match (lites.as_slice(), row.place) {
            ([all], _) => Ok(Some(*all)),
            (list, Some((at, _))) if list.len() == count => Ok(list.get(at).copied()),
            (list, _) => Err(Box::new(
                Diagnostic::error(
                    "OV-745",
                    format!(
                        "the pattern does not fit the rows of \"{}\"",
                        self.schema.name
                    ),
                )
                .found(format!("{}, for {} rows", text.unwrap_or(""), list.len()))
                .expected(format!("one number for all, or one for each of {count}")),
            )),
        }
    }

    fn rows_of(&self, row: &Row) -> Option<usize> {
        self.counts.get(row.above).copied()
    }

    /// Cells of a column as written, those of the row above where they are read.
    fn texts(&self, at: usize, taken: &[bool]) -> (Vec<u32>, Texts) {
        let mut pool = Texts::default();
        let mut known: HashMap<&str, u32> = HashMap::new();
        let mut ids = Vec::with_capacity(self.rows.len());
        for (i, row) in self.rows.iter().enumerate() {
            let above = || self.above.texts?.get(row.above, self.source_of(at)?);
            let own = row
                .own
                .and_then(|own| self.own.texts.as_ref()?.get(own, at));
            let text = match (taken.get(i), row.own) {
                (Some(true), _) | (_, None) => above(),
                _ => own,
            };
            let text = text.unwrap_or("");
            let next = u32::try_from(pool.len()).unwrap_or(u32::MAX);
            let id = *known.entry(text).or_insert(next);
            if id == next {
                pool.push(text);
            }
            ids.push(id);
        }
        (ids, pool)
    }

    fn repeated_keys(&mut self, columns: &[ColumnData]) {
        let Some(key) = self.schema.key.filter(|_| self.schema.rows.is_some()) else {
            return;
        };
        let mut first: HashMap<&str, usize> = HashMap::new();
        let Some(column) = columns.get(key) else {
            return;
        };
        let mut found = Vec::new();
        for (i, row) in self.rows.iter().enumerate() {
            let mark = column.text(i).unwrap_or("");
            let earlier = first.insert(mark, i);
            // Two rows above of one mark are reported themselves; those made for both of them are no slip of their own.
            let of_one = |other: usize| {
                let above = self.rows.get(other).map(|r| r.above);
                above.is_some_and(|a| {
                    a != row.above && self.mark_above(a) == self.mark_above(row.above)
                })
            };
            if earlier.is_some_and(|other| !of_one(other)) {
                let d = Diagnostic::error("OV-707", format!("the mark \"{mark}\" is used twice"))
                    .found(mark)
                    .expected("a mark of its own for each row");
                found.push(match row.own {
                    Some(own) => self.fault_here(own, key, d),
                    None => self.fault_above(row.above, key, d),
                });
            }
        }
        found.into_iter().for_each(|f| self.faults.push(f));
    }
}

fn cell(sources: &[(String, Option<String>)], headings: &[Headings], f: &Fault) -> CellPlace {
    let source = sources.get(usize::from(f.source));
    let heading = f
        .column
        .and_then(|c| headings.get(usize::from(f.source))?.get(c)?.clone());
    CellPlace {
        file: source.map(|s| s.0.clone()).unwrap_or_default(),
        tab: source.and_then(|s| s.1.clone()),
        row: f.row,
        column: heading.as_ref().map(|h| h.0),
        heading: heading.map(|h| h.1),
    }
}
