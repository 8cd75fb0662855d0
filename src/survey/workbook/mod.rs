//! Workbooks: XLSX, XLSM and XLSB streamed, XLS and ODS read whole. Only this folder knows the workbook reader and its binary numbers.
//!
//! A file is inflated once (`archive`), walked to its end and counted (`sheet`, `ods`, `xlsb`; `compound` and `biff` for XLS), and handed
//! to the reader from memory: the reader never meets a file that was not checked. Every call into it is guarded all the same. Macros and
//! links to other files are never followed. Must not know columns or units.

mod archive;
mod behind;
mod biff;
mod compound;
mod edit;
mod ods;
mod sheet;
mod stored;
mod stream;
mod xlsb;
mod xml;

use std::collections::HashMap;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::atomic::AtomicBool;

use calamine::{Ods, Reader, SheetType, SheetVisible, Xls, Xlsb, Xlsx};

use crate::diagnostics::{CellPlace, Diagnostic, Place};

use super::quiet;
use super::raw::{RawCell, RawRow};
use archive::{Bytes, Package, Refusal, Shared, is_stopped};
use behind::{Behind, Found, xlsb_behind};
use compound::Holds;
pub(crate) use edit::{Comments, List, marked};
pub(crate) use sheet::Hidden;
pub(crate) use stored::as_double;
use stored::{Shown, shown};
use stream::{dense, loose, stream_cells};
use xml::Fault;

/// Largest workbook file taken, in bytes.
pub(crate) const MAX_FILE: u64 = 256 << 20;
/// Columns a workbook can have.
const MAX_COLUMNS: usize = 16_384;
/// Rows handed on at a time.
pub(crate) const BATCH: usize = 16_384;

enum Kind<'s> {
    Xlsx(Box<Xlsx<Bytes<'s>>>),
    Xlsb(Box<Xlsb<Bytes<'s>>>),
    Xls(Box<Xls<Bytes<'s>>>),
    Ods(Box<Ods<Bytes<'s>>>),
}

/// What a message and a stop need to know of a workbook.
#[derive(Clone)]
struct Source<'s> {
    name: String,
    stop: Option<&'s AtomicBool>,
}

/// An open workbook.
pub(crate) struct Book<'s> {
    source: Source<'s>,
    package: Package,
    kind: Kind<'s>,
    tabs: Vec<Tab>,
    /// What was found in the parts of an XLSX workbook.
    parts: sheet::Parts,
    /// Tabs that can't be read, by name.
    faults: HashMap<String, Fault>,
}

/// A tab of a workbook.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(crate) struct Tab {
    pub(crate) name: String,
    pub(crate) hidden: bool,
    /// The part of an XLSX workbook that holds it.
    part: Option<String>,
}

/// Whether bytes begin as a workbook does: a zip archive or a compound file.
pub(crate) fn looks_like_workbook(start: &[u8]) -> bool {
    start.starts_with(b"PK\x03\x04")
        || start.starts_with(b"PK\x05\x06")
        || start.starts_with(b"\xd0\xcf\x11\xe0")
}

/// What a file is, as far as marking it goes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum FileKind {
    /// XLSX or XLSM, whose parts can be changed in place.
    Parts,
    /// A workbook of another kind, by its name in words.
    Other(&'static str),
    /// Lines of text.
    Text,
}

/// Looks what a file is.
pub(crate) fn kind_of(bytes: &[u8]) -> FileKind {
    if !looks_like_workbook(bytes) {
        return FileKind::Text;
    }
    if !bytes.starts_with(b"PK") {
        return FileKind::Other("an XLS workbook");
    }
    match archive::unpack(bytes, None) {
        Ok(package) if package.part("xl/workbook.bin").is_some() => {
            FileKind::Other("an XLSB workbook")
        }
        Ok(package) if package.part("content.xml").is_some() => FileKind::Other("an ODS workbook"),
        _ => FileKind::Parts,
    }
}

impl Source<'_> {
    /// Calls into the reader; a panic inside becomes an error.
    fn guarded<T>(&self, call: impl FnOnce() -> Result<T, String>) -> Result<T, Diagnostic> {
        let done = quiet::silently(|| catch_unwind(AssertUnwindSafe(call)));
        match done {
            Ok(Ok(value)) => Ok(value),
            _ if is_stopped(self.stop) => Err(stopped()),
            Ok(Err(why)) => Err(self.damaged(&why)),
            Err(_) => Err(self.damaged("its parts contradict each other")),
        }
    }

    fn damaged(&self, why: &str) -> Diagnostic {
        if why.to_lowercase().contains("password") {
            return self.locked();
        }
        Diagnostic::error("OV-012", "the workbook cannot be read")
            .at(Place::File(self.name.clone()), "")
            .found(super::raw::cut(why))
            .expected("a whole XLSX, XLSM, XLSB, XLS or ODS workbook")
            .mend("Open it in a spreadsheet program and save it again as XLSX, or save the tab as CSV UTF-8.")
    }

    fn locked(&self) -> Diagnostic {
        Diagnostic::error("OV-016", "the workbook is locked with a password")
            .at(Place::File(self.name.clone()), "")
            .expected("a workbook that opens without a password")
            .mend("Save a copy without the password.")
    }

    /// A fault of a whole workbook.
    fn fault(&self, fault: &Fault) -> Diagnostic {
        if is_stopped(self.stop) {
            stopped()
        } else if fault.is_size {
            too_full(&self.name, &fault.why)
        } else {
            self.damaged(&fault.why)
        }
    }

    fn refusal(&self, refusal: Refusal) -> Diagnostic {
        match refusal {
            Refusal::Stopped => stopped(),
            Refusal::Damaged(why) => self.damaged(&why),
            Refusal::TooLarge { packed, unpacked } => {
                unpacks_too_large(&self.name, packed, unpacked)
            }
        }
    }

    /// A fault of one tab.
    fn tab_fault(&self, tab: &str, fault: &Fault) -> Diagnostic {
        let found = super::raw::cut(&fault.why);
        let problem = match fault.cell {
            Some((row, column)) => {
                Diagnostic::error("OV-070", "a cell of the workbook cannot be read").at(
                    CellPlace {
                        file: self.name.clone(),
                        tab: Some(tab.to_string()),
                        row: row.saturating_add(1),
                        column: Some(column.saturating_add(1)),
                        heading: None,
                    },
                    "",
                )
            }
            None => Diagnostic::error("OV-070", format!("the tab \"{tab}\" cannot be read"))
                .at(Place::File(self.name.clone()), ""),
        };
        problem
            .found(found)
            .expected("cells as a spreadsheet program writes them")
            .mend("Open the workbook in a spreadsheet program, type the cell again and save. Where the tab holds no survey, name the tab that does in the job.")
    }
}

fn stopped() -> Diagnostic {
    Diagnostic::error("OV-021", "the reading was stopped before its end")
}

fn words(error: impl std::fmt::Display) -> String {
    error.to_string()
}

impl<'s> Book<'s> {
    /// Opens a workbook. Reading ends with OV-021 once `stop` is set.
    /// Errors: OV-012 damaged or of another kind, OV-013 too large, OV-015 takes more memory than a survey needs, OV-016 locked.
    pub(crate) fn open(
        name: &str,
        bytes: Vec<u8>,
        stop: Option<&'s AtomicBool>,
    ) -> Result<Book<'s>, Diagnostic> {
        if crate::ids::long(bytes.len()) > MAX_FILE {
            return Err(too_large(name));
        }
        let source = Source {
            name: name.to_string(),
            stop,
        };
        let mut book = if bytes.starts_with(b"PK") {
            Book::packed(source, &bytes)?
        } else {
            Book::compound(source, &bytes)?
        };
        book.list_tabs();
        // A part that is no tab's is needed for all tabs.
        let of_tabs: Vec<&str> = book.tabs.iter().filter_map(|t| t.part.as_deref()).collect();
        let stray = book
            .parts
            .faults
            .iter()
            .filter(|(part, _)| !of_tabs.iter().any(|t| t.eq_ignore_ascii_case(part)))
            .min_by_key(|(part, _)| part.as_str());
        if let Some((part, fault)) = stray {
            let why = format!("its part {part} has {}", fault.why);
            return Err(book.source.damaged(&why));
        }
        Ok(book)
    }

    fn packed(source: Source<'s>, bytes: &[u8]) -> Result<Book<'s>, Diagnostic> {
        let stop = source.stop;
        let package = archive::unpack(bytes, stop).map_err(|r| source.refusal(r))?;
        // An ODF package lists its parts there, each with how it is encrypted (ODF 1.3 part 2, 4.8).
        let listed = package.content_of("META-INF/manifest.xml").unwrap_or(&[]);
        if memchr::memmem::find(listed, b"encryption-data").is_some() {
            return Err(source.locked());
        }
        let at_fault = |fault: Fault| source.fault(&fault);
        let reader = |package: &Package| Bytes::new(package.bytes.clone(), stop);
        let has = |part: &str| package.part(part).is_some();
        let (mut parts, mut faults) = (sheet::Parts::default(), HashMap::new());
        let (package, kind) = if has("xl/workbook.bin") {
            xlsb::check(&package).map_err(at_fault)?;
            let kind = source.guarded(|| {
                Xlsb::new(reader(&package))
                    .map(|b| Kind::Xlsb(Box::new(b)))
                    .map_err(words)
            })?;
            (package, kind)
        } else if has("content.xml") {
            let (package, unread) = ods::check(package, stop).map_err(at_fault)?;
            faults = unread;
            let kind = source.guarded(|| {
                Ods::new(reader(&package))
                    .map(|b| Kind::Ods(Box::new(b)))
                    .map_err(words)
            })?;
            (package, kind)
        } else if package
            .parts
            .iter()
            .any(|p| p.name.to_lowercase().contains("workbook"))
        {
            parts = sheet::check(&package, stop).map_err(at_fault)?;
            let blank = parts.faults.keys().map(|part| (part.clone(), Vec::new()));
            let blank: Vec<(String, Vec<u8>)> = blank.collect();
            let package = if blank.is_empty() {
                package
            } else {
                package.replaced(&blank).map_err(|r| source.refusal(r))?
            };
            let opened = source.guarded(|| {
                Xlsx::new(reader(&package))
                    .map(|b| Kind::Xlsx(Box::new(b)))
                    .map_err(words)
            });
            let kind = opened.map_err(|why| match parts.faults.iter().min_by_key(|f| f.0) {
                Some((part, fault)) => {
                    source.damaged(&format!("its part {part} has {}", fault.why))
                }
                None => why,
            })?;
            (package, kind)
        } else {
            return Err(source.damaged("a zip archive that holds no workbook"));
        };
        Ok(Book {
            source,
            package,
            kind,
            tabs: Vec::new(),
            parts,
            faults,
        })
    }

    fn compound(source: Source<'s>, bytes: &[u8]) -> Result<Book<'s>, Diagnostic> {
        let at_fault = |fault: Fault| source.fault(&fault);
        let mut records = match compound::open(bytes).map_err(at_fault)? {
            Holds::Locked => return Err(source.locked()),
            Holds::Records(records) => records,
        };
        let faults = biff::check(&mut records).map_err(at_fault)?;
        let wrapped = compound::wrap(records)
            .ok_or_else(|| source.damaged("more records than a workbook holds"))?;
        let reader = Bytes::new(Shared::new(wrapped), source.stop);
        let book = source.guarded(|| Xls::new(reader).map_err(words))?;
        let names = book.sheets_metadata().iter().map(|s| s.name.clone());
        let faults = names.zip(faults).filter_map(|(n, f)| Some((n, f?)));
        Ok(Book {
            faults: faults.collect(),
            kind: Kind::Xls(Box::new(book)),
            source,
            package: Package::default(),
            tabs: Vec::new(),
            parts: sheet::Parts::default(),
        })
    }

    fn list_tabs(&mut self) {
        let (sheets, parts) = match &self.kind {
            Kind::Xlsx(b) => (b.sheets_metadata(), sheet::tabs(&self.package).tabs),
            Kind::Xlsb(b) => (b.sheets_metadata(), Vec::new()),
            Kind::Xls(b) => (b.sheets_metadata(), Vec::new()),
            Kind::Ods(b) => (b.sheets_metadata(), Vec::new()),
        };
        self.tabs = sheets
            .iter()
            .enumerate()
            .filter(|(_, s)| s.typ == SheetType::WorkSheet)
            .map(|(at, s)| Tab {
                name: s.name.clone(),
                hidden: s.visible != SheetVisible::Visible,
                part: parts.get(at).and_then(|t| t.1.clone()),
            })
            .collect();
    }

    fn part_of(&self, tab: &str) -> Option<&str> {
        self.tabs
            .iter()
            .find(|t| t.name == tab)
            .and_then(|t| t.part.as_deref())
    }

    /// Hidden rows and columns of a tab. Only XLSX tells.
    pub(crate) fn hidden(&self, tab: &str) -> Hidden {
        let facts = self.part_of(tab).and_then(|part| self.parts.facts(part));
        facts.map(|f| f.hidden.clone()).unwrap_or_default()
    }

    /// The tabs that hold cells, in order.
    pub(crate) fn tabs(&self) -> &[Tab] {
        &self.tabs
    }

    /// The first rows of a tab that hold anything.
    pub(crate) fn head(&mut self, tab: &str, most: usize) -> Result<Vec<RawRow>, Diagnostic> {
        let mut rows = Vec::new();
        self.stream(tab, MAX_COLUMNS, &[], most, &mut |batch| {
            rows.extend(
                batch
                    .into_iter()
                    .filter(|r| r.cells.iter().any(|c| *c != RawCell::Blank)),
            );
            rows.len() < most
        })?;
        rows.truncate(most);
        Ok(rows)
    }

    /// What is wrong with a tab as a whole.
    fn fault_of(&self, tab: &str) -> Option<&Fault> {
        let of_part = self.part_of(tab).and_then(|part| self.parts.fault(part));
        self.faults.get(tab).or(of_part)
    }

    /// Calls `sink` with the rows of a tab, in batches of up to `batch`, until it returns `false`.
    /// Cells beyond `width` are left out. Blanks in the columns `asked` are looked at twice: a formula without a result or a merged
    /// area may be behind them.
    /// Errors: OV-070 a tab or cell that cannot be read.
    pub(crate) fn stream(
        &mut self,
        tab: &str,
        width: usize,
        asked: &[usize],
        batch: usize,
        sink: &mut dyn FnMut(Vec<RawRow>) -> bool,
    ) -> Result<(), Diagnostic> {
        if let Some(fault) = self.fault_of(tab) {
            return Err(self.source.tab_fault(tab, fault));
        }
        let facts = self.part_of(tab).and_then(|part| self.parts.facts(part));
        let source = &self.source;
        let mut behind = Behind::default();
        match &mut self.kind {
            Kind::Xlsx(book) => {
                behind.found = facts.map(|f| Found {
                    open: f.open.clone(),
                    merged: f.merged.clone(),
                });
                let mut reader =
                    source.guarded(|| book.worksheet_cells_reader(tab).map_err(words))?;
                let styles: Vec<Shown> = reader.styles().iter().map(|s| shown(Some(s))).collect();
                let plain = shown(None);
                let mut next = || {
                    let cell = reader.next_cell_with_style_id().map_err(words)?;
                    Ok(cell.map(|(cell, style)| loose(&cell, styles.get(style).unwrap_or(&plain))))
                };
                stream_cells(source, tab, &mut next, width, batch, &mut |mut rows| {
                    behind.look(&mut rows, asked, &mut || Ok(Found::default()))?;
                    Ok(sink(rows))
                })
            }
            Kind::Xlsb(book) => {
                let mut reader =
                    source.guarded(|| book.worksheet_cells_reader(tab).map_err(words))?;
                let untold = Shown::default();
                let mut next = || {
                    Ok(reader
                        .next_cell()
                        .map_err(words)?
                        .map(|cell| loose(&cell, &untold)))
                };
                let bytes = Bytes::new(self.package.bytes.clone(), source.stop);
                let mut find = || xlsb_behind(source, bytes.clone(), tab);
                stream_cells(source, tab, &mut next, width, batch, &mut |mut rows| {
                    behind.look(&mut rows, asked, &mut find)?;
                    Ok(sink(rows))
                })
            }
            Kind::Xls(book) => {
                let range = source.guarded(|| book.worksheet_range(tab).map_err(words))?;
                let formulas = source.guarded(|| book.worksheet_formula(tab).map_err(words))?;
                let merged =
                    source.guarded(|| book.merge_cells_by_sheet_name(tab).map_err(words))?;
                behind.found = Some(Found::dense(&range, &formulas, &merged));
                dense(&range, width, asked, batch, &mut behind, sink)
            }
            Kind::Ods(book) => {
                let range = source.guarded(|| book.worksheet_range(tab).map_err(words))?;
                let formulas = source.guarded(|| book.worksheet_formula(tab).map_err(words))?;
                behind.found = Some(Found::dense(&range, &formulas, &[]));
                dense(&range, width, asked, batch, &mut behind, sink)
            }
        }
    }
}

/// A file that is larger than is taken.
pub(crate) fn too_large(name: &str) -> Diagnostic {
    Diagnostic::error("OV-013", "the workbook is too large")
        .at(Place::File(name.to_string()), "")
        .expected(format!("at most {} MB", MAX_FILE >> 20))
        .mend("Save the tab as CSV UTF-8: a CSV file may be of any size.")
}

/// A workbook whose content would fill the memory.
fn too_full(name: &str, found: &str) -> Diagnostic {
    Diagnostic::error("OV-015", "the workbook holds far more than a survey needs")
        .at(Place::File(name.to_string()), "")
        .found(super::raw::cut(found))
        .expected(format!(
            "at most {} million cells in all tabs of an XLS or ODS workbook, and no more tabs, formats and texts than people make",
            ods::MAX_CELLS >> 20
        ))
        .mend("Delete tabs, rows and columns that hold nothing of the survey, or save the tab as CSV UTF-8.")
}

fn unpacks_too_large(name: &str, packed: u64, unpacked: u64) -> Diagnostic {
    Diagnostic::error(
        "OV-015",
        "the workbook unpacks to far more than a survey needs",
    )
    .at(Place::File(name.to_string()), "")
    .found(format!(
        "{} MB packed, {} MB unpacked",
        packed >> 20,
        unpacked >> 20
    ))
    .expected(if unpacked > archive::MAX_UNPACKED {
        format!("at most {} MB unpacked", archive::MAX_UNPACKED >> 20)
    } else {
        format!("at most {} times the packed size", archive::MAX_RATIO)
    })
    .mend("If the file is what it should be, save the tab as CSV UTF-8.")
}
