//! Opens a job: its sheets, its survey and its prices.

use super::args::{AsideArgs, Common};
use super::files::{self, Disk};
use super::kept::{Basis, Kept, KeptSurvey};
use super::progress::Progress;
use super::{exit, output};
use ovolo::check::{self, Checked, Loaded, Options};
use ovolo::diagnostics::{Diagnostic, Sources, any_error};
use ovolo::estimate::{Survey, Worked};
use ovolo::explain::Subject;
use ovolo::prices::{BookSource, PriceBook, read_book};
use ovolo::pricing::{Origin, OriginFile};
use ovolo::program::{FileInput, TableId};
use ovolo::running;
use ovolo::survey::{self, Content, ReadOptions, SetAside, SourceFile};
use sha2::{Digest, Sha256};
use std::io::Read;
use std::path::PathBuf;
use std::process::ExitCode;
use std::sync::{Arc, Mutex};

/// Largest survey or price book, in bytes. CSV files are streamed and may be larger.
const MOST_WORKBOOK: u64 = 256 << 20;

/// Marks of rows set aside that are told.
const MOST_MARKS: usize = 6;

/// A job whose sheets are sound.
pub struct Job {
    pub loaded: Loaded,
    pub checked: Checked,
    /// What should be heard though it runs.
    pub warnings: Vec<Diagnostic>,
    origin: Arc<Mutex<Vec<OriginFile>>>,
    /// Files besides the sheets, as named and where they are.
    pub files: Vec<PathBuf>,
}

impl Job {
    /// Reads and checks the sheets of a job. Errors are printed.
    pub fn open(path: &str, options: Options, common: &Common) -> Result<Job, ExitCode> {
        Self::read(path, options)
            .map_err(|(problems, sources)| output::refuse(&problems, &sources, common))
    }

    /// As [`Job::open`], with the messages instead of printing them.
    pub fn read(path: &str, options: Options) -> Result<Job, (Vec<Diagnostic>, Sources)> {
        let disk = Disk::default();
        let (loaded, mut problems) = check::load_for_run(&[path.to_string()], &disk);
        if any_error(&problems) && problems.iter().any(|d| d.code == "OV-001") {
            return Err((problems, loaded.sources));
        }
        let (checked, found) = check::check(&loaded, options);
        problems.extend(found);
        if checked
            .as_ref()
            .is_some_and(|c| c.program.terms.surveys.is_empty())
        {
            problems.push(
                Diagnostic::error("OV-222", "this sheet is no job: it names no survey")
                    .at(ovolo::diagnostics::Place::File(path.to_string()), "")
                    .expected("a job block with a line such as: survey opening from \"survey.csv\"")
                    .note("`ovolo proof` and `ovolo trial` work on any sheet"),
            );
        }
        let Some(checked) = checked.filter(|_| !any_error(&problems)) else {
            return Err((problems, loaded.sources));
        };
        let origin = loaded
            .sources
            .iter()
            .map(|(name, text)| OriginFile {
                role: "sheet".into(),
                name: name.to_string(),
                sha256: hex(&Sha256::digest(text.as_bytes())),
            })
            .collect();
        Ok(Job {
            loaded,
            checked,
            warnings: problems,
            origin: Arc::new(Mutex::new(origin)),
            files: Vec::new(),
        })
    }

    /// What the estimate is made from, so far.
    pub fn origin(&self) -> Origin {
        let files = self.origin.lock().map(|f| f.clone()).unwrap_or_default();
        Origin {
            program: format!("ovolo {}", env!("CARGO_PKG_VERSION")),
            files,
        }
    }

    /// Names of the tables that have files, in the order of their marked copies.
    pub fn surveyed(&self) -> Vec<String> {
        let program = &self.checked.program;
        program
            .terms
            .surveys
            .iter()
            .filter(|s| !s.files.is_empty())
            .map(|s| program.tables[usize::from(s.table.0)].schema.name.clone())
            .collect()
    }

    /// Every file that the job reads, in words and as a path.
    pub fn inputs_on_disk(&self) -> Vec<(String, PathBuf)> {
        let terms = &self.checked.program.terms;
        let sheets = self
            .loaded
            .sources
            .iter()
            .map(|(name, _)| ("a sheet".to_string(), PathBuf::from(name)));
        let surveys = terms
            .surveys
            .iter()
            .flat_map(|s| &s.files)
            .map(|f| ("a survey".to_string(), self.place(f).0));
        let prices = terms
            .prices
            .iter()
            .map(|f| ("a price book".to_string(), self.place(f).0));
        sheets.chain(surveys).chain(prices).collect()
    }

    fn place(&self, input: &FileInput) -> (PathBuf, String) {
        let sheet = self.loaded.sources.name(input.span.file).to_string();
        files::beside(&input.path, &sheet)
    }

    fn source(&mut self, input: &FileInput, role: &str) -> Result<SourceFile<'static>, Diagnostic> {
        let (path, name) = if input.path == "-" {
            (PathBuf::new(), "standard input".to_string())
        } else {
            self.place(input)
        };
        let fail = |why: String| {
            Diagnostic::error(
                "OV-002",
                format!("the file \"{}\" can't be opened", input.path),
            )
            .at(input.span, "")
            .found(why)
        };
        let stream: Box<dyn Read + Send> = if input.path == "-" {
            Box::new(std::io::stdin())
        } else {
            let file = files::open(&path).map_err(fail)?;
            self.files.push(path.clone());
            Box::new(std::io::BufReader::with_capacity(1 << 16, file))
        };
        let at = self.origin.lock().map(|mut list| {
            list.push(OriginFile {
                role: role.into(),
                name: name.clone(),
                sha256: String::new(),
            });
            list.len() - 1
        });
        let at = at.unwrap_or(0);
        let hashed = Hashed {
            inner: stream,
            hash: Sha256::new(),
            origin: self.origin.clone(),
            at,
        };
        let is_text = name.rsplit('.').next().is_none_or(|e| {
            !["xlsx", "xlsm", "xls", "xlsb", "ods"].contains(&e.to_lowercase().as_str())
        });
        if is_text {
            return Ok(SourceFile {
                name,
                content: Content::Stream(Box::new(hashed)),
            });
        }
        let mut bytes = Vec::new();
        hashed
            .take(MOST_WORKBOOK + 1)
            .read_to_end(&mut bytes)
            .map_err(|e| fail(e.to_string()))?;
        if bytes.len() as u64 > MOST_WORKBOOK {
            return Err(fail(format!("it is larger than {MOST_WORKBOOK} bytes")));
        }
        // `take` hides the end of the file from the hasher: hash what was read.
        if let Ok(mut list) = self.origin.lock()
            && let Some(entry) = list.get_mut(at)
        {
            entry.sha256 = hex(&Sha256::digest(&bytes));
        }
        Ok(SourceFile {
            name,
            content: Content::Bytes(bytes),
        })
    }

    /// Reads every table of the survey.
    pub fn survey(
        &mut self,
        aside: &AsideArgs,
        keep_text: bool,
        read: &ReadOptions<'_>,
    ) -> Result<Survey, Vec<Diagnostic>> {
        let mut survey = Survey::default();
        let mut problems = Vec::new();
        let mut unmarked: Vec<Diagnostic> = Vec::new();
        let mut read_tables = 0;
        let mut failed = vec![false; self.checked.program.tables.len()];
        let set_aside = match (aside.set_aside_unreadable, aside.set_aside.is_empty()) {
            (true, _) => SetAside::AllUnreadable,
            (_, false) => SetAside::Marks(aside.set_aside.clone()),
            _ => SetAside::Nothing,
        };
        for t in 0..self.checked.program.tables.len() {
            let info = self.checked.program.tables[t].clone();
            let input = self
                .checked
                .program
                .terms
                .surveys
                .iter()
                .find(|s| usize::from(s.table.0) == t)
                .cloned();
            if input.is_none() {
                match self.nothing_named(t) {
                    Some(d) if d.is_error() => {
                        problems.push(d);
                        failed[t] = true;
                    }
                    other => self.warnings.extend(other),
                }
            }
            let Some(input) = input.filter(|i| !i.files.is_empty()) else {
                skip(&mut survey, &info);
                continue;
            };
            let mut sources = Vec::new();
            for file in &input.files {
                match self.source(file, "survey") {
                    Ok(s) => sources.push(s),
                    Err(d) => problems.push(d),
                }
            }
            let parent = info.parent.map(|p| usize::from(p.0));
            if sources.len() < input.files.len() {
                failed[t] = true;
                skip(&mut survey, &info);
                continue;
            }
            // Below a table that was refused the cells are still read; to which rows they belong waits.
            let parent = parent.filter(|p| !failed[*p]);
            let options = ReadOptions {
                set_aside: set_aside.clone(),
                parents_aside: parent
                    .map(|p| {
                        survey.reports[p]
                            .set_aside
                            .iter()
                            .map(|r| r.mark.clone())
                            .collect()
                    })
                    .unwrap_or_default(),
                keep_text,
                ..table_options(&input, read)
            };
            let program = &self.checked.program;
            let above = parent.map(|p| (&program.tables[p].schema, &survey.tables[p]));
            match survey::read(
                &info.schema,
                &program.nouns,
                program.currency.as_deref(),
                sources,
                &options,
                above,
            ) {
                Ok(mut r) => {
                    let (marks, warnings): (Vec<_>, Vec<_>) =
                        std::mem::take(&mut r.report.warnings)
                            .into_iter()
                            .partition(is_unmarked);
                    unmarked.extend(marks);
                    r.report.warnings = warnings;
                    self.warnings.extend(r.report.warnings.iter().cloned());
                    survey.tables.push(r.table);
                    survey.reports.push(r.report);
                    survey.texts.push(r.texts);
                }
                Err(list) => {
                    let (marks, list): (Vec<_>, Vec<_>) = list.into_iter().partition(is_unmarked);
                    unmarked.extend(marks);
                    problems.extend(list);
                    failed[t] = true;
                    skip(&mut survey, &info);
                }
            }
            read_tables += 1;
        }
        problems.extend(in_no_table(&unmarked, read_tables));
        if any_error(&problems) {
            return Err(problems);
        }
        self.warnings.extend(running::spellings(
            &self.checked.program,
            &survey.tables.iter().collect::<Vec<_>>(),
        ));
        self.warnings.extend(aside_note(&survey));
        Ok(survey)
    }

    /// What is to be said of a table that the job names no file for. One below another may be left out where nothing reads it.
    fn nothing_named(&self, t: usize) -> Option<Diagnostic> {
        let program = &self.checked.program;
        let info = &program.tables[t];
        let name = &info.schema.name;
        let message = format!("the job names no file for the survey `{name}`");
        let Some(parent) = info.parent else {
            let d = Diagnostic::error("OV-223", message).at(info.schema.span, "declared here");
            return Some(d.mend(format!("add to the job block: survey {name} from \"...\"")));
        };
        let reader = program.reader_of(TableId(u16::try_from(t).ok()?))?;
        let above = &program.tables[usize::from(parent.0)].schema.name;
        Some(
            Diagnostic::warning("OV-224", message)
                .at(info.schema.span, "declared here")
                .at(reader, "read here")
                .note(format!("every `{above}` counts as having none"))
                .mend(format!("add to the job block: survey {name} from \"...\", or, where there are none: survey {name} none")),
        )
    }

    /// Makes a marked copy of every table that has files, in the order of the program's tables.
    pub fn marked(
        &mut self,
        read: &ReadOptions<'_>,
    ) -> Result<Vec<(String, survey::Marked)>, Vec<Diagnostic>> {
        // Tables below need the ones above them, read as far as they can be.
        let all = AsideArgs {
            set_aside: vec![],
            set_aside_unreadable: true,
        };
        let above = self.survey(&all, false, read).ok();
        let mut copies = Vec::new();
        let mut problems = Vec::new();
        let named = self.checked.program.terms.surveys.clone();
        for input in named.into_iter().filter(|i| !i.files.is_empty()) {
            let info = self.checked.program.tables[usize::from(input.table.0)].clone();
            let sources: Result<Vec<_>, _> = input
                .files
                .iter()
                .map(|f| self.source(f, "survey"))
                .collect();
            let sources = match sources {
                Ok(s) => s,
                Err(d) => {
                    problems.push(d);
                    continue;
                }
            };
            let unread = info.parent.zip(above.as_ref()).map(|(p, s)| {
                s.reports[usize::from(p.0)]
                    .set_aside
                    .iter()
                    .map(|r| r.mark.clone())
                    .collect()
            });
            let options = ReadOptions {
                parents_unread: unread.unwrap_or_default(),
                ..table_options(&input, read)
            };
            let program = &self.checked.program;
            let parent = info.parent.and_then(|p| {
                let p = usize::from(p.0);
                Some((&program.tables[p].schema, above.as_ref()?.tables.get(p)?))
            });
            match survey::marked_copy(
                &info.schema,
                &program.nouns,
                program.currency.as_deref(),
                sources,
                &options,
                parent,
            ) {
                Ok(m) => copies.push((info.schema.name.clone(), m)),
                Err(list) => problems.extend(list),
            }
        }
        if problems.is_empty() {
            Ok(copies)
        } else {
            Err(problems)
        }
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
                match self.source(&input, "prices") {
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
        aside: &AsideArgs,
        read: &ReadOptions<'_>,
        kept: Option<&mut Kept>,
    ) -> Result<Arc<Survey>, Vec<Diagnostic>> {
        let Some(kept) = kept else {
            return self.survey(aside, false, read).map(Arc::new);
        };
        let basis = Basis::of(&self.checked.program, |file| self.place(file).0);
        if let Some(known) = kept.survey(basis.as_ref()) {
            self.warnings.extend(known.warnings);
            self.files.extend(known.files);
            if let Ok(mut origin) = self.origin.lock() {
                origin.extend(known.origin);
            }
            return Ok(known.survey);
        }
        let before = (
            self.warnings.len(),
            self.files.len(),
            self.origin().files.len(),
        );
        let survey = Arc::new(self.survey(aside, false, read)?);
        let left = KeptSurvey {
            survey: Arc::clone(&survey),
            warnings: self.warnings.split_at(before.0).1.to_vec(),
            files: self.files.split_at(before.1).1.to_vec(),
            origin: self.origin().files.split_off(before.2),
        };
        kept.keep(basis, left);
        Ok(survey)
    }

    /// Survey and prices; what is refused in either is printed.
    pub fn inputs(
        &mut self,
        aside: &AsideArgs,
        progress: &Progress,
        common: &Common,
        kept: Option<&mut Kept>,
    ) -> Result<(Arc<Survey>, PriceBook), ExitCode> {
        let reading = |done: u64, of: Option<u64>| progress.tell("reading", done, of);
        let read = ReadOptions {
            stop: Some(progress.stop()),
            progress: Some(&reading),
            ..ReadOptions::default()
        };
        let survey = self.survey_or_kept(aside, &read, kept);
        if super::progress::stopped() {
            progress.end();
            return Err(ExitCode::from(exit::STOPPED));
        }
        let prices = self.prices();
        match (survey, prices) {
            (Ok(s), Ok(p)) => {
                self.warnings.extend(
                    s.reports
                        .iter()
                        .flat_map(survey::unread)
                        .map(|u| u.message()),
                );
                Ok((s, p))
            }
            (s, p) => {
                let mut problems = s.err().unwrap_or_default();
                problems.extend(p.err().unwrap_or_default());
                Err(output::refuse(&problems, &self.loaded.sources, common))
            }
        }
    }

    /// A version worked, as explanations and records take it.
    pub fn subject<'a>(
        &'a self,
        version: usize,
        survey: &'a Survey,
        book: &'a PriceBook,
        worked: &'a Worked,
    ) -> Subject<'a> {
        let (estimate, picked) = (&worked.estimate, &worked.picked);
        Subject {
            loaded: &self.loaded,
            checked: &self.checked,
            version,
            survey,
            book,
            estimate,
            picked,
        }
    }

    /// The version of an alternate by name; 0 when none is asked for.
    pub fn version(&self, name: Option<&str>) -> Result<usize, ExitCode> {
        let Some(name) = name else { return Ok(0) };
        let versions = &self.checked.program.versions;
        versions
            .iter()
            .position(|v| v.name.as_deref() == Some(name))
            .ok_or_else(|| {
                let known: Vec<String> = versions
                    .iter()
                    .filter_map(|v| v.name.clone())
                    .map(|n| format!("\"{n}\""))
                    .collect();
                let list = if known.is_empty() {
                    "The job has none.".to_string()
                } else {
                    format!("The job has {}.", known.join(", "))
                };
                output::complain(&format!("There is no alternate \"{name}\". {list}"));
                ExitCode::from(exit::USAGE)
            })
    }
}

/// Options of reading a table as the job block states them.
fn table_options<'o>(
    input: &ovolo::program::SurveyInput,
    read: &ReadOptions<'o>,
) -> ReadOptions<'o> {
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

/// A place for a table that has no rows or can't be read, so that the others keep theirs.
fn skip(survey: &mut Survey, info: &ovolo::program::TableInfo) {
    survey.tables.push(empty_table(info));
    survey
        .reports
        .push(survey::Report::empty(&info.schema.name));
    survey.texts.push(None);
}

fn empty_table(info: &ovolo::program::TableInfo) -> ovolo::table::Table {
    use ovolo::table::{ColumnData, ColumnKind, Numbers, Table, Values};
    let columns = info
        .schema
        .columns
        .iter()
        .map(|c| {
            let values = match c.kind {
                ColumnKind::Text => Values::Text {
                    ids: vec![],
                    pool: ovolo::table::Texts::default(),
                },
                ColumnKind::YesNo => Values::YesNo(vec![]),
                ColumnKind::Choice(_) => Values::Choice(vec![]),
                ColumnKind::Date => Values::Date(vec![]),
                ColumnKind::Number { .. } => Values::Numbers(Numbers::Scaled {
                    num: vec![],
                    den: 1,
                }),
            };
            ColumnData {
                values,
                absent: None,
            }
        })
        .collect();
    Table {
        rows: 0,
        columns,
        places: vec![],
        sources: vec![],
        headings: vec![],
        parent_rows: Some(vec![]),
    }
}

fn hex(bytes: &[u8]) -> String {
    bytes.iter().map(|b| format!("{b:02x}")).collect()
}

/// Hashes what is read, and leaves the hash in the list of origins at the end of the file.
struct Hashed {
    inner: Box<dyn Read + Send>,
    hash: Sha256,
    origin: Arc<Mutex<Vec<OriginFile>>>,
    at: usize,
}

impl Read for Hashed {
    fn read(&mut self, buffer: &mut [u8]) -> std::io::Result<usize> {
        let n = self.inner.read(buffer)?;
        if n > 0 {
            self.hash.update(&buffer[..n]);
        } else if !buffer.is_empty()
            && let Ok(mut list) = self.origin.lock()
            && let Some(entry) = list.get_mut(self.at)
        {
            entry.sha256 = hex(&self.hash.clone().finalize());
        }
        Ok(n)
    }
}
