//! From everything that was read to a table or a refusal: ties rows to the table above, sets rows aside, finds marks used twice, and writes
//! the report. Must not know file formats.

use foldhash::{HashMap, HashMapExt, HashSet};
use std::collections::BTreeMap;

use crate::diagnostics::suggest::nearest;
use crate::diagnostics::{CellPlace, Diagnostic, any_error};
use crate::number::Exact;
use crate::table::{OnMissing, Schema, SchemaValue};
use crate::units::{Style, format_quantity};

use super::alike;
use super::build::Builder;
use super::columns::retain;
use super::faults::{Fault, Faults};
use super::gather::Gathering;
use super::relate::{self, Orphan};
use super::report::{ColumnReport, Report, SetAsideRow, SkippedRows, TabReport};
use super::{RawTexts, ReadOptions, Reading, SetAside};

/// The outcome, with every fault for those who mark them in a copy.
pub(crate) struct Finished {
    pub(crate) reading: Result<Reading, Vec<Diagnostic>>,
    pub(crate) faults: Faults,
    pub(crate) tabs: Vec<TabReport>,
    /// Problems of files and headings alone, when the reading is refused.
    pub(crate) file_problems: Vec<Diagnostic>,
}

/// Ends a reading.
pub(crate) fn finish(gathering: Gathering<'_>) -> Finished {
    let Gathering {
        schema,
        settings,
        options,
        parent,
        mut builder,
        mut problems,
        mut tabs,
        headings,
        ..
    } = gathering;
    let mut faults = std::mem::take(&mut builder.faults);
    let ties = parent.and_then(|(above, _)| tie(schema, &mut builder, &mut faults, above, options));
    let mark = schema.key.or(schema.parent.as_ref().map(|p| p.1));
    let marked = Marked {
        schema,
        builder: &builder,
        mark,
    };
    let mut drop = dropped(&marked, &options.set_aside, ties.as_ref(), &mut problems);
    let set_aside = take_aside(&marked, &mut faults, &drop, &tabs, &headings);
    if options.set_aside == SetAside::AllUnreadable {
        faults.forget_beyond();
    }
    repeated_marks(schema, &builder, &drop, &tabs, &headings, &mut faults);
    problems.extend(near_equal_marks(schema, &builder, &drop, &tabs, &headings));
    let place = |f: &Fault| cell(&tabs, &headings, f.source, f.row, f.column);
    let file_problems = problems.clone();
    problems.extend(faults.told(&place));
    // In the order of the file; a stable sort keeps problems of whole files before those of their cells.
    problems.sort_by_key(|d| !matches!(d.place(), Some(crate::diagnostics::Place::File(_))));
    for (index, tab) in tabs.iter_mut().enumerate() {
        tab.skipped = skipped_ranges(&builder, index);
    }
    let is_read_on = options.tentative && !file_problems.iter().any(stops_all);
    if any_error(&problems) && !is_read_on {
        return Finished {
            reading: Err(problems),
            faults,
            tabs,
            file_problems,
        };
    }
    let columns = column_reports(schema, &builder, &drop, &settings);
    let unplaced = match is_read_on {
        true => leave_unplaced(schema, &builder, ties.as_ref(), &faults, &mut drop),
        false => Vec::new(),
    };
    let keep: Option<Vec<bool>> = drop
        .contains(&true)
        .then(|| drop.iter().map(|d| !d).collect());
    let (mut table, texts) = builder.finish(keep.as_deref());
    table.sources = tabs
        .iter()
        .map(|t| (t.file.clone(), t.tab.clone()))
        .collect();
    table.headings = headings;
    table.parent_rows = ties.map(|(mut rows, _, _)| {
        if let Some(keep) = &keep {
            retain(&mut rows, keep);
        }
        rows
    });
    let report = Report {
        table: schema.name.clone(),
        rows: table.rows,
        made: None,
        tabs: tabs.clone(),
        columns,
        set_aside,
        unplaced,
        misfits: Vec::new(),
        warnings: problems,
    };
    let texts = texts.map(|columns| RawTexts { columns });
    Finished {
        reading: Ok(Reading {
            table,
            report,
            texts,
        }),
        faults,
        tabs,
        file_problems,
    }
}

/// The rows that are to be set aside, and those that go with a row set aside above.
fn dropped(
    marked: &Marked<'_>,
    aside: &SetAside,
    ties: Option<&Tied>,
    problems: &mut Vec<Diagnostic>,
) -> Vec<bool> {
    let mut drop = vec![false; marked.builder.rows()];
    match aside {
        SetAside::Nothing => {}
        SetAside::AllUnreadable => {
            for (row, drop) in drop.iter_mut().enumerate() {
                *drop = marked.builder.is_bad(row);
            }
        }
        SetAside::Marks(marks) => problems.extend(by_marks(marked, marks, &mut drop)),
    }
    for row in ties.iter().flat_map(|(_, gone, _)| gone) {
        if let Some(drop) = drop.get_mut(*row) {
            *drop = true;
        }
    }
    drop
}

/// Whether nothing of a file can be looked at: all but a heading that is nearly right.
fn stops_all(problem: &Diagnostic) -> bool {
    problem.is_error() && problem.code != "OV-703"
}

/// Leaves out the rows that can't be put in their place: those whose own mark, or that of the row above, can't be read or is none. Gives
/// the marks that their faults know of, or nothing for a row of none.
fn leave_unplaced(
    schema: &Schema,
    builder: &Builder<'_>,
    ties: Option<&Tied>,
    faults: &Faults,
    drop: &mut [bool],
) -> Vec<String> {
    let marks = [schema.key, schema.parent.as_ref().map(|p| p.1)];
    let is_placed = |row: usize| {
        let mut known = marks.iter().flatten();
        // A row that is made has a mark made for it where its own is left blank.
        known.all(|column| builder.is_readable(row, *column))
    };
    let mut leaving: Vec<usize> = (0..builder.rows()).filter(|r| !is_placed(*r)).collect();
    leaving.extend(ties.into_iter().flat_map(|t| &t.2));
    let mut known: HashMap<(u16, u32), &str> = HashMap::new();
    for fault in faults.iter().filter(|f| !f.mark.is_empty()) {
        known.insert((fault.source, fault.row), &fault.mark);
    }
    let mut out = Vec::new();
    for row in leaving {
        if let (Some(drop), Some(place)) = (drop.get_mut(row), builder.place(row))
            && !std::mem::replace(drop, true)
        {
            let mark = known.get(&(place.source, place.row));
            out.push(mark.map(|m| (*m).to_owned()).unwrap_or_default());
        }
    }
    out
}

/// The row above of each row, the rows that go with a row set aside above, and all rows that have none above.
type Tied = (Vec<u32>, Vec<usize>, Vec<usize>);

/// Rows with their marks while a table grows.
#[derive(Clone, Copy)]
struct Marked<'a> {
    schema: &'a Schema,
    builder: &'a Builder<'a>,
    /// The key, or the mark of the row above.
    mark: Option<usize>,
}

impl Marked<'_> {
    /// The mark of a row that may have been made as well: its own, or the one that is made for it. `None` for other tables, and where its
    /// place can't be read.
    fn made(&self, row: usize) -> Option<String> {
        let spec = self.schema.rows.as_ref()?;
        let own = spec.key.and_then(|key| self.builder.text(row, key));
        if let Some(own) = own.filter(|own| !own.is_empty()) {
            return Some(own.to_owned());
        }
        let place = self.builder.label_or_number(row, spec.place)?;
        Some(spec.mark(&self.above(row)?, place))
    }

    /// The mark of the row above.
    fn above(&self, row: usize) -> Option<String> {
        let (_, tie) = self.schema.parent.as_ref()?;
        self.builder.text(row, *tie).map(str::to_owned)
    }

    /// The mark that a row is known by; empty where it has none.
    fn of(&self, row: usize) -> String {
        let column = || self.builder.text(row, self.mark?).map(str::to_owned);
        self.made(row).or_else(column).unwrap_or_default()
    }
}

/// Ties each row to the one above it, and tells those that have none.
fn tie(
    schema: &Schema,
    builder: &mut Builder<'_>,
    faults: &mut Faults,
    above: &Schema,
    options: &ReadOptions<'_>,
) -> Option<Tied> {
    let column = schema.parent.as_ref()?.1;
    let gone: HashSet<&str> = options.parents_aside.iter().map(String::as_str).collect();
    let unread: HashSet<&str> = options.parents_unread.iter().map(String::as_str).collect();
    let (rows, orphans) = builder.tied()?;
    let mut leaving = Vec::new();
    let mut alone = Vec::new();
    for Orphan { row, near } in orphans {
        alone.push(row);
        let mark = builder.text(row, column).unwrap_or("").to_string();
        if unread.contains(mark.as_str()) {
            continue;
        }
        // A made row such as N5-U goes with its N5.
        let of_gone = mark
            .rsplit_once('-')
            .is_some_and(|(of, _)| options.grandparents_aside.iter().any(|gone| gone == of));
        let diagnostic = if gone.contains(mark.as_str()) || of_gone {
            leaving.push(row);
            Diagnostic::error("OV-733", format!("its {} was set aside", above.name))
                .found(mark.clone())
        } else {
            let d = Diagnostic::error("OV-730", format!("no {} has this mark", above.name))
                .found(mark.clone())
                .expected(format!("a mark of the table \"{}\"", above.name));
            match near {
                Some(near) => d.note(format!("Perhaps \"{near}\" is meant.")),
                None => d,
            }
        };
        builder.mark_bad(row);
        let Some(place) = builder.place(row) else {
            continue;
        };
        faults.push(Fault {
            source: place.source,
            row: place.row,
            column: Some(column),
            mark,
            diagnostic,
        });
    }
    Some((rows, leaving, alone))
}

fn by_marks(marked: &Marked<'_>, marks: &[String], drop: &mut [bool]) -> Vec<Diagnostic> {
    let Marked {
        schema,
        builder,
        mark,
    } = *marked;
    let mut missing: Vec<&str> = marks.iter().map(|m| m.trim()).collect();
    let wanted: HashSet<&str> = missing.iter().copied().collect();
    let mut known = Vec::new();
    if let Some(mark) = mark {
        for (row, drop) in drop.iter_mut().enumerate() {
            let Some(text) = builder.text(row, mark) else {
                continue;
            };
            *drop = wanted.contains(text);
            if *drop {
                missing.retain(|m| *m != text);
            }
            let own = marked.made(row).filter(|own| wanted.contains(own.as_str()));
            if let Some(own) = own {
                *drop = true;
                missing.retain(|m| *m != own);
            }
            known.push(text);
        }
    }
    missing.sort_unstable();
    missing.dedup();
    missing
        .into_iter()
        .map(|m| {
            // The row may be in another table of the job, so this alone stops nothing.
            let d = Diagnostic::warning(
                "OV-732",
                format!(
                    "no row of \"{}\" is marked \"{m}\", so it cannot be set aside",
                    schema.name
                ),
            )
            .found(m)
            .expected("marks of the survey");
            // A mark is short, and one letter in it is much: those that differ in one are all reported.
            let one_off = |k: &&&str| strsim::damerau_levenshtein(m, k) == 1;
            let near: Vec<&str> = known.iter().filter(one_off).take(3).copied().collect();
            match nearest(m, known.iter().copied()) {
                _ if !near.is_empty() => {
                    d.note(format!("Perhaps \"{}\" is meant.", near.join("\" or \"")))
                }
                Some(near) => d.note(format!("Perhaps \"{near}\" is meant.")),
                None => d,
            }
        })
        .collect()
}

/// Lists the rows left out, with their faults, which are faults of the table no more.
fn take_aside(
    marked: &Marked<'_>,
    faults: &mut Faults,
    drop: &[bool],
    tabs: &[TabReport],
    headings: &[Vec<Option<(u32, String)>>],
) -> Vec<SetAsideRow> {
    if !drop.contains(&true) {
        return Vec::new();
    }
    let mut rows = Vec::new();
    let mut index: HashMap<(u16, u32), usize> = HashMap::new();
    for row in (0..drop.len()).filter(|r| drop.get(*r) == Some(&true)) {
        let Some(place) = marked.builder.place(row) else {
            continue;
        };
        index.insert((place.source, place.row), rows.len());
        rows.push(SetAsideRow {
            mark: marked.of(row),
            above: marked.above(row),
            place: cell(tabs, headings, place.source, place.row, None),
            causes: Vec::new(),
        });
    }
    for fault in faults.iter() {
        if let Some(row) = index
            .get(&(fault.source, fault.row))
            .and_then(|i| rows.get_mut(*i))
        {
            let mut cause = fault.diagnostic.clone().at(
                cell(tabs, headings, fault.source, fault.row, fault.column),
                "",
            );
            cause.labels.rotate_right(1);
            row.causes.push(cause);
        }
    }
    faults.retain(|f| !index.contains_key(&(f.source, f.row)));
    rows
}

fn repeated_marks(
    schema: &Schema,
    builder: &Builder<'_>,
    drop: &[bool],
    tabs: &[TabReport],
    headings: &[Vec<Option<(u32, String)>>],
    faults: &mut Faults,
) {
    let Some(key) = schema.key else { return };
    let marks = (0..builder.rows()).map(|row| {
        if drop.get(row) == Some(&true) {
            None
        } else {
            builder.text_id(row, key)
        }
    });
    for (earlier, later) in relate::repeats(marks, builder.text_count(key)) {
        let (Some(first), Some(second)) = (builder.place(earlier), builder.place(later)) else {
            continue;
        };
        let mark = builder.text(later, key).unwrap_or("").to_string();
        let diagnostic = Diagnostic::error("OV-707", format!("the mark \"{mark}\" is used twice"))
            .at(
                cell(tabs, headings, first.source, first.row, Some(key)),
                "used here first",
            )
            .found(mark.clone())
            .expected("a mark of its own for each row");
        faults.push(Fault {
            source: second.source,
            row: second.row,
            column: Some(key),
            mark,
            diagnostic,
        });
    }
}

/// Pairs of marks reported in one message.
const MOST_PAIRS: usize = 12;

/// Different marks that a person takes for the same, in one message with the cells of the first pair.
fn near_equal_marks(
    schema: &Schema,
    builder: &Builder<'_>,
    drop: &[bool],
    tabs: &[TabReport],
    headings: &[Vec<Option<(u32, String)>>],
) -> Option<Diagnostic> {
    let key = schema.key?;
    let mut met = vec![false; builder.text_count(key)];
    let (mut rows, mut marks) = (Vec::new(), Vec::new());
    for row in (0..builder.rows()).filter(|r| drop.get(*r) != Some(&true)) {
        let id = builder.text_id(row, key);
        let new = id
            .and_then(|id| met.get_mut(crate::ids::at(id)))
            .is_some_and(|m| !std::mem::replace(m, true));
        if let (true, Some(mark)) = (new, builder.text(row, key)) {
            rows.push(row);
            marks.push(mark);
        }
    }
    let pairs = alike::pairs(&marks);
    let told = |(a, b): &(usize, usize)| {
        let place = builder.place(*rows.get(*b)?)?;
        let at = cell(tabs, headings, place.source, place.row, Some(key));
        let (a, b) = (*marks.get(*a)?, *marks.get(*b)?);
        Some((
            at,
            format!("\"{a}\" and \"{b}\" differ by {}", alike::difference(a, b)),
        ))
    };
    let first = pairs.first()?;
    let (second_cell, found) = told(first)?;
    let place = builder.place(*rows.get(first.0)?)?;
    let first_cell = cell(tabs, headings, place.source, place.row, Some(key));
    let mut problem = Diagnostic::warning("OV-770", "marks that look alike are different marks")
        .at(first_cell, "this mark")
        .at(second_cell, "and this one")
        .found(found);
    for (at, found) in pairs.iter().skip(1).take(MOST_PAIRS).filter_map(told) {
        problem = problem.note(format!("{found} ({at})"));
    }
    if let Some(more) = pairs.len().checked_sub(1 + MOST_PAIRS).filter(|m| *m > 0) {
        problem = problem.note(format!("And {more} more pairs."));
    }
    Some(problem.mend("If one window is meant, write its mark the same way in both rows. If two are meant, give them marks that nobody can mix up."))
}

fn cell(
    tabs: &[TabReport],
    headings: &[Vec<Option<(u32, String)>>],
    source: u16,
    row: u32,
    column: Option<usize>,
) -> CellPlace {
    let tab = tabs.get(usize::from(source));
    let heading = column.and_then(|c| headings.get(usize::from(source))?.get(c)?.clone());
    CellPlace {
        file: tab.map(|t| t.file.clone()).unwrap_or_default(),
        tab: tab.and_then(|t| t.tab.clone()),
        row,
        column: heading.as_ref().map(|h| h.0),
        heading: heading.map(|h| h.1),
    }
}

/// Rows left out of one tab, runs of neighbours with one reason taken together.
fn skipped_ranges(builder: &Builder<'_>, source: usize) -> Vec<SkippedRows> {
    let mut ranges: Vec<SkippedRows> = Vec::new();
    for (_, row, reason) in builder
        .skipped
        .iter()
        .filter(|s| usize::from(s.0) == source)
    {
        match ranges.last_mut() {
            Some(last) if last.reason == *reason && last.last + 1 == *row => {
                last.last = *row;
                last.count += 1;
            }
            _ => ranges.push(SkippedRows {
                first: *row,
                last: *row,
                count: 1,
                reason: *reason,
            }),
        }
    }
    ranges
}

fn column_reports(
    schema: &Schema,
    builder: &Builder<'_>,
    drop: &[bool],
    settings: &super::cells::CellSettings<'_>,
) -> Vec<ColumnReport> {
    let kept = |rows: &[u32]| {
        let kept = rows
            .iter()
            .filter(|r| drop.get(crate::ids::at(**r)) != Some(&true));
        crate::ids::long(kept.count())
    };
    let given = |spec: &crate::table::ColumnSpec, missing: &OnMissing| match missing {
        OnMissing::Value(value) => Some(value_text(spec, value, settings)),
        OnMissing::Refuse | OnMissing::Keep => None,
    };
    schema
        .columns
        .iter()
        .zip(&builder.notes)
        .enumerate()
        .map(|(i, (spec, notes))| {
            let (assumed_blank, assumed_not_applicable) = (
                kept(&notes.assumed_blank),
                kept(&notes.assumed_not_applicable),
            );
            let (blank, not_applicable) = builder.missing(i, drop);
            ColumnReport {
                name: spec.name.clone(),
                rows: drop.iter().filter(|d| !**d).count(),
                cells: builder.rows(),
                normalised: notes
                    .normalised
                    .iter()
                    .map(|(what, count)| (what.to_string(), *count))
                    .collect::<BTreeMap<_, _>>(),
                assumed_blank,
                assumed_for_blank: if assumed_blank > 0 {
                    given(spec, &spec.blank)
                } else {
                    None
                },
                assumed_not_applicable,
                assumed_for_not_applicable: if assumed_not_applicable > 0 {
                    given(spec, &spec.not_applicable)
                } else {
                    None
                },
                from_above: 0,
                blank,
                not_applicable,
            }
        })
        .collect()
}

fn value_text(
    spec: &crate::table::ColumnSpec,
    value: &SchemaValue,
    settings: &super::cells::CellSettings<'_>,
) -> String {
    if let SchemaValue::Text(text) = value {
        return format!("\"{text}\"");
    }
    let number = |n: &Exact| match (&spec.kind, spec.kind.scale()) {
        (crate::table::ColumnKind::Number { unit, .. }, _) => {
            format_quantity(n, unit, settings.nouns, Style::default())
        }
        (_, Some(scale)) => crate::units::point_text(scale, n),
        (_, None) => n.to_decimal(6).0,
    };
    value.words(&spec.kind, number).unwrap_or_default()
}
