//! Reads what a job is calculated from: the tables of its survey, and its price book.

use super::files::{self, Role, STANDARD_INPUT};
use super::job::Job;
use super::kept::{Basis, Kept, KeptSurvey};
use crate::check::{self, is_named, misnamed};
use crate::diagnostics::{Diagnostic, Label, Place, any_error};
use crate::estimate::{Refused, Survey};
use crate::ids;
use crate::prices::{BookSource, PriceBook, read_book};
use crate::program::{FileInput, Program, SurveyInput, TableId, TableInfo};
use crate::running;
use crate::survey::{self, Content, ReadOptions, Report, SetAside, SourceFile};
use crate::takeoff::Wish;
use std::io::Read;
use std::sync::Arc;
use std::sync::atomic::Ordering;

/// Largest survey or price book, in bytes. CSV files are streamed and may be larger.
const MOST_WORKBOOK: u64 = 256 << 20;

/// Endings of the names of surveys and price books. Messages quote cells of what is read, so nothing else is read.
const WORKBOOKS: &[&str] = &["xlsx", "xlsm", "xls", "xlsb", "ods"];
const TEXTS: &[&str] = &["csv", "tsv", "tab", "txt"];

/// Marks of rows set aside that are reported.
const MOST_MARKS: usize = 6;

/// Whether anything is priced, so that the price book is read.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Priced {
    /// Prices are read.
    Yes,
    /// No price need be known.
    No,
}

impl Job {
    /// Whether a version needs prices for what is asked for: a mixed plan needs them for its amounts too, since it picks rows by cost.
    pub fn priced(&self, version: usize, wish: Wish) -> Priced {
        let mixed = self.checked.program.versions.get(version);
        let mixed = mixed.is_some_and(|v| v.pick.is_some());
        match wish.quantities && !mixed {
            true => Priced::No,
            false => Priced::Yes,
        }
    }

    pub(super) fn source(
        &mut self,
        input: &FileInput,
        role: Role,
    ) -> Result<SourceFile<'static>, Diagnostic> {
        let sheet = self.loaded.sources.name(input.span.file).to_string();
        let name = files::data_name(&input.path, &sheet, &*self.from);
        let fail = |why: String| {
            Diagnostic::error(
                "OV-002",
                format!("the file \"{}\" can't be opened", input.path),
            )
            .at(input.span, "")
            .found(why)
        };
        let is_book = is_named(&name, WORKBOOKS);
        if name != STANDARD_INPUT && !is_book && !is_named(&name, TEXTS) {
            let known = [TEXTS, WORKBOOKS].concat();
            return Err(fail(misnamed(&input.path, &known)));
        }
        let stream = self.from.open(&name).map_err(fail)?;
        if !is_book {
            return Ok(SourceFile {
                content: Content::Stream(self.files.hashed(role, &name, stream)),
                name,
            });
        }
        let mut bytes = Vec::new();
        stream
            .take(MOST_WORKBOOK + 1)
            .read_to_end(&mut bytes)
            .map_err(|e| fail(e.to_string()))?;
        if ids::long(bytes.len()) > MOST_WORKBOOK {
            return Err(fail(format!("it is larger than {MOST_WORKBOOK} bytes")));
        }
        self.files.read(role, &name, &bytes);
        Ok(SourceFile {
            name,
            content: Content::Bytes(bytes),
        })
    }

    /// Reads every table of the survey.
    pub fn survey(
        &mut self,
        aside: &SetAside,
        keep_text: bool,
        read: &ReadOptions<'_>,
    ) -> Result<Survey, Vec<Diagnostic>> {
        let (survey, problems) = self.tables(aside, keep_text, read);
        if any_error(&problems) {
            return Err(problems);
        }
        self.note_of_all(&survey);
        Ok(survey)
    }

    /// Warnings that look at all tables together.
    pub(super) fn note_of_all(&mut self, survey: &Survey) {
        self.warnings.extend(running::spellings(
            &self.checked.program,
            &survey.tables.iter().collect::<Vec<_>>(),
        ));
        self.warnings.extend(aside_note(survey));
    }

    /// Reads every table as far as it can be read, and gives the problems of those that can't, each list in the order of its file.
    pub(super) fn tables(
        &mut self,
        aside: &SetAside,
        keep_text: bool,
        read: &ReadOptions<'_>,
    ) -> (Survey, Vec<Diagnostic>) {
        let mut so_far = TablesRead {
            survey: Survey::default(),
            problems: Vec::new(),
            unmarked: Vec::new(),
            read: 0,
            failed: vec![false; self.checked.program.tables.len()],
        };
        let options = ReadOptions {
            set_aside: aside.clone(),
            ..read.clone()
        };
        for t in self.checked.program.tables.ids() {
            let surveys = &self.checked.program.terms.surveys;
            let input = surveys.iter().find(|s| s.table == t).cloned();
            let info = self.checked.program.tables[t].clone();
            if input.is_none() && info.schema.rows.is_none() {
                match self.nothing_named(t) {
                    Some(d) if d.is_error() => {
                        so_far.problems.push(d);
                        so_far.failed[t.index()] = true;
                    }
                    other => self.warnings.extend(other),
                }
            }
            match input.filter(|i| !i.files.is_empty()) {
                Some(input) => {
                    let options = ReadOptions {
                        keep_text,
                        ..table_options(&input, &options)
                    };
                    self.read_table(&info, t, &input, options, &mut so_far);
                }
                None => self.make_table(&info, t, &options, &mut so_far),
            }
        }
        so_far.all_told()
    }

    /// A table that is read from no file: its rows are made from the table above, or it has none.
    fn make_table(
        &self,
        info: &TableInfo,
        t: TableId,
        options: &ReadOptions<'_>,
        so_far: &mut TablesRead,
    ) {
        let above = info.parent.filter(|p| !so_far.failed[p.index()]);
        let program = &self.checked.program;
        let made = completed(program, t, above, &so_far.survey, None, options);
        match made {
            Ok(Some(mut made)) => {
                so_far.problems.append(&mut made.report.warnings);
                put(&mut so_far.survey, made);
            }
            Ok(None) => skip(&mut so_far.survey, info),
            Err(list) => {
                so_far.problems.extend(list);
                so_far.fail(t, info);
            }
        }
    }

    /// A table that is read from files.
    fn read_table(
        &mut self,
        info: &TableInfo,
        t: TableId,
        input: &SurveyInput,
        options: ReadOptions<'_>,
        so_far: &mut TablesRead,
    ) {
        let mut sources = Vec::new();
        for file in &input.files {
            match self.source(file, Role::Survey) {
                Ok(s) => sources.push(s),
                Err(d) => so_far.problems.push(d),
            }
        }
        if sources.len() < input.files.len() {
            return so_far.fail(t, info);
        }
        // Below a table that was refused the cells are still read; to which rows they belong waits.
        let parent = info.parent.filter(|p| !so_far.failed[p.index()]);
        let program = &self.checked.program;
        let options = so_far.options_below(program, parent, options);
        let survey = &so_far.survey;
        let above = parent.map(|p| (&program.tables[p].schema, &survey.tables[p.index()]));
        let reading = survey::read(
            &info.schema,
            &program.nouns,
            program.currency.as_deref(),
            sources,
            &options,
            above,
        )
        .and_then(|r| match info.schema.is_completed() && parent.is_some() {
            true => completed(program, t, parent, survey, Some(r), &options),
            false => Ok(Some(r)),
        });
        match reading {
            Ok(None) => skip(&mut so_far.survey, info),
            Ok(Some(mut r)) => {
                let (marks, warnings): (Vec<_>, Vec<_>) = std::mem::take(&mut r.report.warnings)
                    .into_iter()
                    .partition(is_unmarked);
                so_far.unmarked.extend(marks);
                if any_error(&warnings) {
                    so_far.problems.extend(warnings);
                } else {
                    self.warnings.extend(warnings.iter().cloned());
                    r.report.warnings = warnings;
                }
                put(&mut so_far.survey, r);
            }
            Err(list) => {
                let (marks, list): (Vec<_>, Vec<_>) = list.into_iter().partition(is_unmarked);
                so_far.unmarked.extend(marks);
                so_far.problems.extend(list);
                so_far.fail(t, info);
            }
        }
        so_far.read += 1;
    }

    /// What is to be said of a table that the job names no file for. One below another may be left out where nothing reads it.
    fn nothing_named(&self, t: TableId) -> Option<Diagnostic> {
        let program = &self.checked.program;
        let info = &program.tables[t];
        let name = &info.schema.name;
        let message = format!("the job names no file for the survey `{name}`");
        let Some(parent) = info.parent else {
            let d = Diagnostic::error("OV-223", message).at(info.schema.span, "declared here");
            return Some(d.mend(format!("add to the job block: survey {name} from \"...\"")));
        };
        let reader = program.reader_of(t)?;
        let above = &program.tables[parent].schema.name;
        Some(
            Diagnostic::warning("OV-224", message)
                .at(info.schema.span, "declared here")
                .at(reader, "read here")
                .note(format!("every `{above}` counts as having none"))
                .mend(format!("add to the job block: survey {name} from \"...\", or, where there are none: survey {name} none")),
        )
    }

    /// Reads the price book.
    pub fn prices(&mut self) -> Result<PriceBook, Vec<Diagnostic>> {
        let mut sources = Vec::new();
        let mut problems = Vec::new();
        for input in self.checked.program.terms.prices.clone() {
            let tabs: Vec<Option<String>> = if input.tabs.is_empty() {
                vec![None]
            } else {
                input.tabs.iter().cloned().map(Some).collect()
            };
            for tab in tabs {
                match self.source(&input, Role::Prices) {
                    Ok(file) => sources.push(BookSource { file, tab }),
                    Err(d) => problems.push(d),
                }
            }
        }
        if !problems.is_empty() {
            return Err(problems);
        }
        read_book(&self.checked.program, sources)
    }

    /// The survey, from what an earlier run kept if nothing in it has changed since.
    fn survey_or_kept(
        &mut self,
        aside: &SetAside,
        read: &ReadOptions<'_>,
        kept: Option<&mut Kept>,
    ) -> Result<Arc<Survey>, Vec<Diagnostic>> {
        let Some(kept) = kept else {
            return self.survey(aside, false, read).map(Arc::new);
        };
        let basis = Basis::of(&self.checked.program, aside, |file| {
            let sheet = self.loaded.sources.name(file.span.file);
            let name = files::data_name(&file.path, sheet, &*self.from);
            Some((self.from.stamp(&name)?, name))
        });
        if let Some(known) = kept.survey(basis.as_ref()) {
            self.warnings.extend(known.warnings);
            self.files.take(Role::Survey, known.files);
            return Ok(known.survey);
        }
        let before = self.warnings.len();
        let survey = Arc::new(self.survey(aside, false, read)?);
        let left = KeptSurvey {
            survey: Arc::clone(&survey),
            warnings: self.warnings.split_at(before).1.to_vec(),
            files: self.files.list(),
        };
        kept.keep(basis, left);
        Ok(survey)
    }

    /// Survey and prices, from what an earlier run kept where that is given. Errors: what is wrong with either, all of it.
    pub fn inputs(
        &mut self,
        aside: &SetAside,
        read: &ReadOptions<'_>,
        priced: Priced,
        kept: Option<&mut Kept>,
    ) -> Result<(Arc<Survey>, PriceBook), Refused> {
        let survey = self.survey_or_kept(aside, read, kept);
        if read.stop.is_some_and(|s| s.load(Ordering::SeqCst)) {
            return Err(Refused::Stopped);
        }
        let prices = match priced {
            Priced::Yes => self.prices(),
            Priced::No => Ok(PriceBook::default()),
        };
        let asked = self.checked.program.versions.first();
        let unanswered = asked.and_then(check::unanswered);
        match (survey, prices) {
            (Ok(s), Ok(p)) if unanswered.is_none() => {
                self.other_library(&s, (priced == Priced::Yes).then_some(&p))?;
                self.warnings.extend(
                    s.reports
                        .iter()
                        .flat_map(survey::unread)
                        .map(|u| u.message()),
                );
                Ok((s, p))
            }
            (s, p) => {
                let mut problems: Vec<Diagnostic> = unanswered.into_iter().collect();
                problems.extend(s.err().unwrap_or_default());
                problems.extend(p.err().unwrap_or_default());
                Err(Refused::Messages(problems))
            }
        }
    }
}

/// Tables of a survey as they are read, in the order of the program.
struct TablesRead {
    survey: Survey,
    problems: Vec<Diagnostic>,
    /// Each table told the marks to be set aside that it has not.
    unmarked: Vec<Diagnostic>,
    /// How many were read from files.
    read: usize,
    failed: Vec<bool>,
}

impl TablesRead {
    fn fail(&mut self, t: TableId, info: &TableInfo) {
        self.failed[t.index()] = true;
        skip(&mut self.survey, info);
    }

    /// What is known of the rows above when a table is read.
    fn options_below<'o>(
        &self,
        program: &Program,
        parent: Option<TableId>,
        options: ReadOptions<'o>,
    ) -> ReadOptions<'o> {
        let tables = &program.tables;
        let made_above = parent.filter(|p| tables[*p].schema.is_completed());
        let above_made = made_above.and_then(|p| tables[p].parent);
        let marks_aside = |t: TableId| {
            let rows = self.survey.reports[t.index()].set_aside.iter();
            rows.map(|r| r.mark.clone()).collect::<Vec<_>>()
        };
        let unplaced = |t: TableId| self.survey.reports[t.index()].unplaced.clone();
        ReadOptions {
            grandparents_aside: above_made.map(marks_aside).unwrap_or_default(),
            parents_aside: parent.map(marks_aside).unwrap_or_default(),
            parents_unread: parent.map(unplaced).unwrap_or_default(),
            ..options
        }
    }

    /// The survey and all problems: a mark that no table has, and a file that can't be read for several tables, are reported once.
    fn all_told(mut self) -> (Survey, Vec<Diagnostic>) {
        // Rows that were made are in no file.
        let found: Vec<String> = self
            .survey
            .set_aside()
            .into_iter()
            .map(|s| s.mark)
            .collect();
        self.unmarked
            .retain(|d| d.found.as_ref().is_none_or(|mark| !found.contains(mark)));
        self.problems.extend(in_no_table(&self.unmarked, self.read));
        let mut of_files: Vec<Diagnostic> = Vec::new();
        self.problems.retain(|problem| {
            let on_file = |l: &Label| matches!(l.place, Place::File(_));
            let again = of_files.contains(problem);
            if problem.labels.iter().all(on_file) && !again {
                of_files.push(problem.clone());
            }
            !again
        });
        (self.survey, self.problems)
    }
}

/// Options of reading a table as the job block states them.
pub(super) fn table_options<'o>(input: &SurveyInput, read: &ReadOptions<'o>) -> ReadOptions<'o> {
    ReadOptions {
        tabs: input
            .files
            .first()
            .map(|f| f.tabs.clone())
            .unwrap_or_default(),
        heading_row: input.heading_row,
        delimiter: input.delimiter,
        decimal_comma: input.decimal_comma,
        ..read.clone()
    }
}

/// Whether a message tells that a table has no row of a mark that is to be set aside.
fn is_unmarked(d: &Diagnostic) -> bool {
    d.code == "OV-732"
}

/// Marks to be set aside that no table of the survey has. Each table told those it has not.
fn in_no_table(told: &[Diagnostic], tables: usize) -> Vec<Diagnostic> {
    let mut out: Vec<Diagnostic> = Vec::new();
    for one in told {
        let of_mark = |d: &&Diagnostic| d.found == one.found;
        if out.iter().any(|d| d.found == one.found) || told.iter().filter(of_mark).count() < tables
        {
            continue;
        }
        let mark = one.found.clone().unwrap_or_default();
        let d = Diagnostic::error(
            "OV-732",
            format!("no row of the survey is marked \"{mark}\", so it cannot be set aside"),
        );
        let d = d.found(mark).expected("a mark of one of its tables");
        out.push(
            told.iter()
                .filter(of_mark)
                .flat_map(|d| &d.notes)
                .fold(d, |d, near| {
                    if d.notes.contains(near) {
                        d
                    } else {
                        d.note(near)
                    }
                }),
        );
    }
    out
}

/// That rows were set aside, as every output says.
fn aside_note(survey: &Survey) -> Option<Diagnostic> {
    let rows = survey.set_aside();
    let words = if rows.len() == 1 {
        "1 row of the survey was set aside and is in no figure"
    } else {
        "rows of the survey were set aside and are in no figure"
    };
    let marks: Vec<String> = rows
        .iter()
        .take(MOST_MARKS)
        .map(|r| r.mark.clone())
        .collect();
    (!rows.is_empty()).then(|| Diagnostic::warning("OV-734", words).on_rows(rows.len(), marks))
}

/// A table whose rows or cells may come from the one above, completed; nothing for others and below a table that was refused.
fn completed(
    program: &Program,
    table: TableId,
    above: Option<TableId>,
    survey: &Survey,
    reading: Option<survey::Reading>,
    options: &ReadOptions<'_>,
) -> Result<Option<survey::Reading>, Vec<Diagnostic>> {
    let schema = &program.tables[table].schema;
    let Some(above) = above.filter(|_| schema.is_completed()) else {
        return Ok(None);
    };
    let above = survey::Above {
        schema: &program.tables[above].schema,
        table: &survey.tables[above.index()],
        texts: survey.texts[above.index()].as_ref(),
    };
    survey::complete(schema, above, reading, options).map(Some)
}

fn put(survey: &mut Survey, reading: survey::Reading) {
    survey.tables.push(reading.table);
    survey.reports.push(reading.report);
    survey.texts.push(reading.texts);
}

/// A place for a table that has no rows or can't be read, so that the others keep theirs.
fn skip(survey: &mut Survey, info: &TableInfo) {
    survey.tables.push(survey::empty_table(&info.schema));
    survey.reports.push(Report::empty(&info.schema.name));
    survey.texts.push(None);
}
