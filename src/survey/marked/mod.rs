//! Copies of a survey for the surveyor: every cell as it was, the bad ones colored and with a comment, and one more tab that lists them.
//!
//! An XLSX or XLSM file stays the surveyor's own workbook; of every other file a new workbook is made. All tables that come from one file are
//! marked in one copy. Text of a survey is written as text, so none of it becomes a formula, and the same survey gives the same bytes. Must
//! not know the rules of rows and cells.

mod fresh;
mod words;

use std::collections::{BTreeMap, HashSet};
use std::io::Read;

use crate::diagnostics::{CellPlace, Diagnostic, Place};
use crate::table::{Schema, Table};
use crate::units::Nouns;

use super::cells::CellSettings;
use super::finish::finish;
use super::gather::Gathering;
use super::made::reading_schema;
use super::raw::{CellRef, RawRow, RowView};
use super::report::TabReport;
use super::workbook::{self, Comments, FileKind, List, MAX_FILE};
use super::{Content, ReadOptions, SetAside, SourceFile};

/// A marked copy of one file.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Marked {
    /// The file it is a copy of.
    pub file: String,
    /// An XLSX workbook, or an XLSM one where the survey was one.
    pub bytes: Vec<u8>,
    /// Cells and rows marked.
    pub marked: usize,
    /// Whether something is wrong with it that stops a run, be it a cell or the whole file.
    pub is_refused: bool,
    /// Whether the copy has macros, so that its name must end in `.xlsm`.
    pub has_macros: bool,
    /// What of the file could not be kept, as a sentence; nothing where the copy is the file's own workbook with all that it had.
    pub lost: Option<String>,
}

/// A file of a survey, held whole.
#[derive(Debug, Clone)]
pub struct Original {
    name: String,
    bytes: Vec<u8>,
}

impl Original {
    /// Reads a file to its end. Errors: it cannot be read (OV-020), or is larger than a workbook may be.
    pub fn hold(file: SourceFile<'_>) -> Result<Original, Diagnostic> {
        let name = file.name;
        let bytes = match file.content {
            Content::Bytes(bytes) => bytes,
            Content::Stream(stream) => {
                let mut bytes = Vec::new();
                stream
                    .take(MAX_FILE + 1)
                    .read_to_end(&mut bytes)
                    .map_err(|e| {
                        Diagnostic::error("OV-020", "the file could not be read")
                            .at(Place::File(name.clone()), "")
                            .found(e.to_string())
                    })?;
                if crate::ids::long(bytes.len()) > MAX_FILE {
                    return Err(workbook::too_large(&name));
                }
                bytes
            }
        };
        Ok(Original { name, bytes })
    }

    /// The file to be read once more.
    pub fn again(&self) -> SourceFile<'static> {
        SourceFile {
            name: self.name.clone(),
            content: Content::Bytes(self.bytes.clone()),
        }
    }

    /// Its name.
    pub fn name(&self) -> &str {
        &self.name
    }
}

/// A table of a survey, read for its problems alone.
#[derive(Debug, Clone)]
pub struct Looked {
    tabs: Vec<TabReport>,
    delimiters: Vec<Option<u8>>,
    /// Each problem by itself, with its cells, in the words of who filled in the survey.
    pub problems: Vec<Diagnostic>,
}

/// Reads a table for its problems. Takes what [`super::read`] takes; rows are never set aside in it.
pub fn look(
    schema: &Schema,
    nouns: &Nouns,
    currency: Option<&str>,
    files: Vec<SourceFile<'_>>,
    options: &ReadOptions<'_>,
    parent: Option<(&Schema, &Table)>,
) -> Looked {
    let options = ReadOptions {
        set_aside: SetAside::Nothing,
        keep_text: false,
        ..options.clone()
    };
    let settings = CellSettings {
        nouns,
        currency,
        decimal_comma: options.decimal_comma,
    };
    let completed = schema.is_completed().then(|| reading_schema(schema));
    let schema = completed.as_ref().unwrap_or(schema);
    let mut gathering = Gathering::new(schema, settings, &options, parent);
    gathering.files(files);
    let headings = gathering.headings.clone();
    let delimiters = gathering.delimiters.clone();
    let done = finish(gathering);
    let mut problems = done.file_problems;
    problems.extend(
        done.faults
            .iter()
            .map(|f| words::of_fault(f, schema, &done.tabs, &headings)),
    );
    Looked {
        tabs: done.tabs,
        delimiters,
        problems,
    }
}

/// Makes a marked copy of each file. `more` are problems that reading alone does not find, each with its cells. Where nothing is wrong
/// nothing is marked. Errors: a file of which nothing could be read, and one with more rows than a workbook holds (OV-028).
pub fn marked_copies(
    originals: &[Original],
    looked: &[Looked],
    more: &[Diagnostic],
) -> Result<Vec<Marked>, Vec<Diagnostic>> {
    let problems: Vec<&Diagnostic> = looked
        .iter()
        .flat_map(|l| &l.problems)
        .chain(more)
        .collect();
    let mut copies = Vec::new();
    let mut refused = Vec::new();
    for (at, original) in originals.iter().enumerate() {
        let own = |d: &&&Diagnostic| match file_of(d) {
            Some(file) => file == original.name,
            None => at == 0,
        };
        let copy = Copy {
            original,
            tabs: looked
                .iter()
                .flat_map(|l| l.tabs.iter().zip(&l.delimiters))
                .filter(|(tab, _)| tab.file == original.name)
                .map(|(tab, delimiter)| (tab, *delimiter))
                .collect(),
            problems: problems.iter().filter(own).copied().collect(),
        };
        match copy.make() {
            Ok(made) => copies.push(made),
            Err(list) => refused.extend(list),
        }
    }
    if refused.is_empty() {
        Ok(copies)
    } else {
        Err(refused)
    }
}

/// The cells a problem points at.
fn cells_of(d: &Diagnostic) -> impl Iterator<Item = &CellPlace> {
    d.labels.iter().filter_map(|l| match &l.place {
        Place::Cell(cell) => Some(cell),
        Place::Sheet(_) | Place::File(_) => None,
    })
}

/// The file a problem is found in.
fn file_of(d: &Diagnostic) -> Option<&str> {
    d.labels.iter().find_map(|l| match &l.place {
        Place::Cell(cell) => Some(cell.file.as_str()),
        Place::File(file) => Some(file.as_str()),
        Place::Sheet(_) => None,
    })
}

/// The tab that lists what is wrong, and its headings with their widths in letters.
const LIST_NAME: &str = "What to mend";
const LIST_HEADINGS: [(&str, u32); 7] = [
    ("where", 22),
    ("mark", 10),
    ("what is wrong", 34),
    ("found", 18),
    ("expected", 30),
    ("how to mend it", 40),
    ("code", 9),
];

/// Whether the first rows of a tab are those of the list of a marked copy, which is no survey whatever its headings are called.
pub(crate) fn is_list(rows: &[RawRow]) -> bool {
    rows.first().is_some_and(|row| {
        row.width() == LIST_HEADINGS.len()
            && (0..).zip(LIST_HEADINGS).all(|(column, (heading, _))| {
                matches!(row.get(column), CellRef::Text(text) if text == heading)
            })
    })
}

/// One file to be marked.
struct Copy<'c> {
    original: &'c Original,
    /// The tabs that were read, each with what parts its cells.
    tabs: Vec<(&'c TabReport, Option<u8>)>,
    problems: Vec<&'c Diagnostic>,
}

impl Copy<'_> {
    fn make(&self) -> Result<Marked, Vec<Diagnostic>> {
        let new_one = "the copy is a new XLSX workbook with the cells of the tabs that were read. Their look, formulas, merged cells, comments, pictures and print set-up, and all other tabs, could not be kept: mend the original by the list.";
        let lost = match workbook::kind_of(&self.original.bytes) {
            FileKind::Parts => match self.own_workbook() {
                Ok(own) => return Ok(own),
                Err(why) => format!("The workbook could not be changed in place: {why}. So {new_one}"),
            },
            FileKind::Other(kind) => format!("The survey is {kind}, so {new_one}"),
            FileKind::Text => "The survey is a text file; the copy is a workbook with its lines as rows, and no text of it is lost. Save it as CSV UTF-8 once it is mended.".to_string(),
        };
        if self.tabs.is_empty() {
            let unread = self.problems.iter().filter(|d| d.is_error());
            return Err(unread.map(|d| (*d).clone()).collect());
        }
        self.fresh(lost)
    }

    /// The survey's own workbook with its marks. Errors: what keeps it from being changed.
    fn own_workbook(&self) -> Result<Marked, String> {
        let marks = self.comments();
        let tabs: BTreeMap<&str, Comments> = marks
            .into_iter()
            .map(|(tab, comments)| (tab.unwrap_or(""), comments))
            .collect();
        let list = List {
            name: LIST_NAME,
            headings: LIST_HEADINGS.to_vec(),
            rows: self.list(),
        };
        let (bytes, has_macros) = workbook::marked(&self.original.bytes, &tabs, &list)?;
        Ok(Marked {
            file: self.original.name.clone(),
            bytes,
            marked: tabs.values().map(BTreeMap::len).sum(),
            is_refused: self.is_refused(),
            has_macros,
            lost: None,
        })
    }

    fn is_refused(&self) -> bool {
        self.problems.iter().any(|d| d.is_error())
    }

    /// Comments of each tab by row and column, counted from 0. A problem of a row goes to its mark; a warning is listed, not marked.
    fn comments(&self) -> BTreeMap<Option<&str>, Comments> {
        let mut all: BTreeMap<Option<&str>, Comments> = BTreeMap::new();
        for d in self.problems.iter().filter(|d| d.is_error()) {
            let text = words::comment(d);
            for cell in cells_of(d).filter(|c| c.file == self.original.name) {
                let Some(column) = cell.column.or_else(|| self.mark_column(cell)) else {
                    continue;
                };
                let at = (cell.row.saturating_sub(1), column.saturating_sub(1));
                let here = all.entry(cell.tab.as_deref()).or_default().entry(at);
                let said: &mut String = here.or_default();
                if said.split("\n\n").any(|one| one == text) {
                    continue;
                }
                if !said.is_empty() {
                    said.push_str("\n\n");
                }
                said.push_str(&text);
                *said = words::clip(said).to_string();
            }
        }
        all
    }

    /// Where the problem of a whole row is shown.
    fn mark_column(&self, cell: &CellPlace) -> Option<u32> {
        let tab = self.tabs.iter().find(|(t, _)| t.tab == cell.tab)?.0;
        tab.columns.iter().find_map(|c| c.column)
    }

    /// Rows of the list, under [`LIST_HEADINGS`].
    fn list(&self) -> Vec<Vec<String>> {
        let mut seen = HashSet::new();
        let mut rows: Vec<Vec<String>> = Vec::new();
        for d in &self.problems {
            let place = words::place(d, &self.original.name);
            if seen.insert((place.clone(), d.code, &d.message)) {
                rows.push(words::line(d, place));
            }
        }
        if !self.is_refused() {
            let mut nothing = vec![String::new(); LIST_HEADINGS.len()];
            if let Some(said) = nothing.get_mut(2) {
                *said = "nothing that has to be mended".to_string();
            }
            rows.insert(0, nothing);
        }
        rows
    }
}
