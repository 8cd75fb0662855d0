//! Brings in a sheet and all it uses, each once, in an order where what is used comes first.
//!
//! Opens no file itself: it asks a [`Finder`].
//!
//! ```
//! use ovolo::session::Texts;
//! let files = Texts::from([
//!     ("job.ovo", "sheet \"job\" layer job\nuse \"shop.ovo\"\n"),
//!     ("shop.ovo", "sheet \"shop\" layer shop\ngiven a  2 in\n"),
//! ]);
//! let (loaded, problems) = ovolo::check::load(&["job.ovo".to_owned()], &files);
//! assert_eq!((loaded.sheets.len(), problems.len()), (2, 0));
//! ```

use crate::diagnostics::{Diagnostic, FileId, Sources, Span};
use crate::library;
use crate::syntax::tree::{JobLine, Layer, Name, StatementKind};
use crate::syntax::{Sheet, parse_for_run, parse_sheet};
use rayon::prelude::*;
use std::collections::{HashMap, HashSet};

/// Sheets one job may bring in.
const MOST_SHEETS: usize = 200;
/// How deep sheets may use one another.
const MOST_DEPTH: usize = 32;

/// Finds texts of sheets and of tables in CSV files.
pub trait Finder {
    /// Gives a name that is the same for the same file however it is reached, and its text.
    /// `from` is the name of the sheet that asks; none for the first one. Errors in words: what is wrong with the file.
    fn find(&self, path: &str, from: Option<&str>) -> Result<(String, String), String>;
}

/// One sheet with its place in the layers.
#[derive(Debug)]
pub struct LoadedSheet {
    /// Its text's id.
    pub file: FileId,
    /// Its tree.
    pub tree: Sheet,
    /// Its layer.
    pub layer: Layer,
}

/// A label that an `extend` block adds to a choice; one that only gains a spelling is none.
#[derive(Debug, Clone)]
pub struct AddedLabel {
    /// The choice.
    pub choice: String,
    /// The label.
    pub label: Name,
    /// The layer that adds it.
    pub layer: Layer,
}

/// All sheets of a run, used ones first.
#[derive(Debug, Default)]
pub struct Loaded {
    /// Their texts.
    pub sources: Sources,
    /// The sheets.
    pub sheets: Vec<LoadedSheet>,
    /// Texts of the CSV files named by tables, by sheet and path: canonical name and text, or what is wrong.
    pub tables: HashMap<(FileId, String), Result<(String, String), String>>,
    /// The day that the command line gives instead of the job's `issued`, as written.
    pub issued: Option<String>,
    /// What later layers added to choices.
    pub added: Vec<AddedLabel>,
}

impl Loaded {
    /// Puts a day in place of the one that the job's block says, or in where it says none.
    pub fn issue(&mut self, day: &str) {
        self.issued = Some(day.to_owned());
        let statements = self.sheets.iter_mut().flat_map(|s| &mut s.tree.statements);
        for statement in statements {
            let at = statement.span;
            if let StatementKind::Job(lines) = &mut statement.kind {
                let place = lines.iter().find_map(|line| match line {
                    JobLine::Issued(given) => Some(given.name.span),
                    JobLine::Survey { .. }
                    | JobLine::Prices { .. }
                    | JobLine::Money(_)
                    | JobLine::Ties(..)
                    | JobLine::SplitBy(_)
                    | JobLine::Round(..)
                    | JobLine::Library { .. }
                    | JobLine::Photographs(_)
                    | JobLine::Excludes(_) => None,
                });
                lines.retain(|line| !matches!(line, JobLine::Issued(_)));
                let given = JobLine::issued(Some(day.to_owned()), place.unwrap_or(at));
                lines.push(JobLine::Issued(given));
                return;
            }
        }
    }
}

/// Loads sheets by path. The list tells what could not be found or read.
pub fn load(paths: &[String], finder: &dyn Finder) -> (Loaded, Vec<Diagnostic>) {
    bring_in(paths, finder, true)
}

/// The same with the trials of sheets left unread.
pub fn load_for_run(paths: &[String], finder: &dyn Finder) -> (Loaded, Vec<Diagnostic>) {
    bring_in(paths, finder, false)
}

/// A shipped file, or one of the finder's.
fn find(finder: &dyn Finder, path: &str, from: Option<&str>) -> Result<(String, String), String> {
    library::find(path, from).unwrap_or_else(|| finder.find(path, from))
}

fn bring_in(paths: &[String], finder: &dyn Finder, trials: bool) -> (Loaded, Vec<Diagnostic>) {
    let mut reading = Reading {
        finder,
        trials,
        loaded: Loaded::default(),
        read: HashMap::new(),
    };
    let roots: Vec<_> = paths.iter().map(|path| find(finder, path, None)).collect();
    reading.all(roots.iter().flatten().cloned().collect());
    let Reading { loaded, read, .. } = reading;
    let mut order = Order {
        loaded,
        read,
        problems: Vec::new(),
        done: HashSet::new(),
        open: Vec::new(),
    };
    for (path, root) in paths.iter().zip(roots) {
        match root {
            Ok((name, _)) => order.sheet(&name, None),
            Err(why) => order.problems.push(
                Diagnostic::error("OV-001", "this sheet can't be opened")
                    .at(crate::diagnostics::Place::File(path.clone()), why),
            ),
        }
    }
    order.problems.extend(brought_twice(&mut order.loaded));
    let added = super::extend::extend(&mut order.loaded);
    order.problems.extend(added);
    (order.loaded, order.problems)
}

/// Shipped sheets that a job brings in by a path as well: one message, and the sheets by path are left out.
#[expect(
    clippy::wildcard_enum_match_arm,
    reason = "statements of one kind are looked for; all others are read elsewhere"
)]
fn brought_twice(loaded: &mut Loaded) -> Option<Diagnostic> {
    let base = |name: &str| name.rsplit(['/', '\\', ':']).next().map(str::to_owned);
    let shipped: HashMap<Option<String>, Option<String>> = loaded
        .sheets
        .iter()
        .filter(|s| loaded.sources.name(s.file).starts_with(library::PREFIX))
        .map(|s| (base(loaded.sources.name(s.file)), title(&s.tree)))
        .collect();
    let is_twice = |s: &LoadedSheet| {
        let name = loaded.sources.name(s.file);
        let same = shipped.get(&base(name));
        !name.starts_with(library::PREFIX)
            && same.is_some_and(|t| t.is_some() && *t == title(&s.tree))
    };
    let twice: Vec<FileId> = loaded
        .sheets
        .iter()
        .filter(|s| is_twice(s))
        .map(|s| FileId(s.file.0))
        .collect();
    let names: Vec<String> = twice
        .iter()
        .filter_map(|file| base(loaded.sources.name(*file)))
        .collect();
    let first = names.last()?;
    let own = |s: &&LoadedSheet| !loaded.sources.name(s.file).starts_with(library::PREFIX);
    let uses = loaded.sheets.iter().filter(own);
    let uses = uses.flat_map(|s| &s.tree.statements);
    let by_path = uses.filter_map(|s| match &s.kind {
        StatementKind::Use(path) if !path.text.starts_with(library::PREFIX) => Some(path),
        _ => None,
    });
    let mut d = Diagnostic::error(
        "OV-252",
        format!(
            "the shipped sheet {first} is brought in twice: by its path and as library:{first}"
        ),
    );
    for path in by_path
        .filter(|path| base(&path.text).is_some_and(|b| names.contains(&b)))
        .take(3)
    {
        d = d.at(path.span, "by its path, or by that of a sheet that uses it");
    }
    if names.len() > 1 {
        d = d.note(format!("So are {} sheets in all.", names.len()));
    }
    loaded.sheets.retain(|s| !twice.contains(&s.file));
    Some(d.mend(format!(
        "name the shipped sheets one way throughout, as in: use \"library:{first}\""
    )))
}

/// What the first line of a sheet calls it.
fn title(sheet: &Sheet) -> Option<String> {
    sheet.title.as_ref().map(|t| t.text.clone())
}

/// A sheet that was read, with what it uses: where it says so, as written, and the name or what is wrong.
struct Read {
    file: FileId,
    tree: Sheet,
    problems: Vec<Diagnostic>,
    uses: Vec<(Span, String, Result<String, String>)>,
}

/// Reads sheets and all they use, those found at one time side by side.
struct Reading<'a> {
    finder: &'a dyn Finder,
    trials: bool,
    loaded: Loaded,
    read: HashMap<String, Read>,
}

/// Endings of the names of sheets and of tables in files of their own. Messages quote lines of what is read, so nothing else is read.
pub const SHEETS: &[&str] = &["ovo"];
const TABLES: &[&str] = &["csv", "tsv", "tab", "txt"];

/// Whether a file that a sheet names is named like what it is to be read as.
pub fn is_named(path: &str, endings: &[&str]) -> bool {
    let ending = path.rsplit_once('.').map(|(_, ending)| ending);
    ending.is_some_and(|e| endings.iter().any(|known| e.eq_ignore_ascii_case(known)))
}

/// That a file is not, in words.
pub fn misnamed(path: &str, endings: &[&str]) -> String {
    let list = endings.join(", .");
    format!("the name \"{path}\" does not end in .{list}, so the file is not read")
}

impl Reading<'_> {
    /// Asks for a file that a sheet names.
    fn find(&self, path: &str, from: &str, endings: &[&str]) -> Result<(String, String), String> {
        match is_named(path, endings) {
            true => find(self.finder, path, Some(from)),
            false => Err(misnamed(path, endings)),
        }
    }

    #[expect(
        clippy::wildcard_enum_match_arm,
        reason = "statements of one kind are looked for; all others are read elsewhere"
    )]
    fn all(&mut self, found: Vec<(String, String)>) {
        let mut known = HashSet::new();
        let mut next: Vec<(String, String)> = found
            .into_iter()
            .filter(|(name, _)| known.insert(name.clone()))
            .collect();
        while !next.is_empty() {
            // What the sheets at hand use is looked up before any is read, so that all are read side by side.
            let mut at = 0;
            while let Some((name, text)) = next.get(at) {
                at += 1;
                let used: Vec<_> = used_at_first_sight(text)
                    .take(MOST_SHEETS)
                    .filter(|path| is_named(path, SHEETS))
                    .flat_map(|path| find(self.finder, path, Some(name)))
                    .collect();
                for (found, text) in used {
                    if known.len() < MOST_SHEETS && known.insert(found.clone()) {
                        next.push((found, text));
                    }
                }
            }
            let texts: Vec<(FileId, String, String)> = next
                .drain(..)
                .map(|(name, text)| {
                    (
                        self.loaded.sources.add(name.clone(), text.clone()),
                        name,
                        text,
                    )
                })
                .collect();
            let parse = if self.trials {
                parse_sheet
            } else {
                parse_for_run
            };
            let trees: Vec<(Sheet, Vec<Diagnostic>)> = texts
                .par_iter()
                .with_max_len(1)
                .map(|(file, _, text)| parse(*file, text))
                .collect();
            for ((file, name, _), (tree, problems)) in texts.into_iter().zip(trees) {
                let mut uses = Vec::new();
                for statement in &tree.statements {
                    match &statement.kind {
                        // Past the most there can be, what is named is not even looked for.
                        StatementKind::Use(path) if uses.len() > MOST_SHEETS => {
                            let most = format!("at most {MOST_SHEETS} sheets are brought in");
                            uses.push((path.span, path.text.clone(), Err(most)));
                        }
                        StatementKind::Use(path) => {
                            let found = self.find(&path.text, &name, SHEETS);
                            let found = found.map(|(found, text)| {
                                if known.len() < MOST_SHEETS && known.insert(found.clone()) {
                                    next.push((found.clone(), text));
                                }
                                found
                            });
                            uses.push((path.span, path.text.clone(), found));
                        }
                        StatementKind::Table(def) => {
                            if let Some(from) = &def.from {
                                let found = self.find(&from.text, &name, TABLES);
                                self.loaded.tables.insert((file, from.text.clone()), found);
                            }
                        }
                        _ => {}
                    }
                }
                self.read.insert(
                    name,
                    Read {
                        file,
                        tree,
                        problems,
                        uses,
                    },
                );
            }
        }
    }
}

/// The files that the lines `use "FILE"` of a text name. Others than these may be used: they are found once the sheet is read.
fn used_at_first_sight(text: &str) -> impl Iterator<Item = &str> {
    text.lines().filter_map(|line| {
        line.strip_prefix("use")?
            .trim_start()
            .strip_prefix('"')?
            .split('"')
            .next()
    })
}

/// Puts sheets in order, what is used before what uses it.
struct Order {
    loaded: Loaded,
    read: HashMap<String, Read>,
    problems: Vec<Diagnostic>,
    done: HashSet<String>,
    open: Vec<String>,
}

impl Order {
    fn sheet(&mut self, name: &str, asked: Option<Span>) {
        if self.open.iter().any(|open| open == name) {
            let path: Vec<&str> = self.open.iter().map(String::as_str).chain([name]).collect();
            let d = Diagnostic::error("OV-206", "sheets use one another in a circle")
                .found(path.join(" uses "));
            self.problems.push(
                match asked {
                    Some(s) => d.at(s, "comes back to a sheet that is being read"),
                    None => d,
                }
                .mend("take out one `use`; what both need goes into a third sheet"),
            );
            return;
        }
        if self.done.contains(name) {
            return;
        }
        let within = self.done.len() < MOST_SHEETS && self.open.len() < MOST_DEPTH;
        let Some(read) = within.then(|| self.read.remove(name)).flatten() else {
            let d = Diagnostic::error("OV-207", "too many sheets use one another")
                .expected(format!("at most {MOST_SHEETS} sheets, {MOST_DEPTH} deep"));
            self.problems.push(match asked {
                Some(s) => d.at(s, ""),
                None => d,
            });
            return;
        };
        let Read {
            file,
            tree,
            problems,
            uses,
        } = read;
        self.done.insert(name.to_string());
        self.open.push(name.to_string());
        self.problems.extend(problems);
        for (span, written, found) in uses {
            match found {
                Ok(found) => self.sheet(&found, Some(span)),
                Err(why) => self.problems.push(
                    Diagnostic::error("OV-001", format!("the sheet \"{written}\" can't be opened"))
                        .at(span, "")
                        .found(why),
                ),
            }
        }
        self.open.pop();
        let is_job = tree
            .statements
            .iter()
            .any(|s| matches!(s.kind, StatementKind::Job(_)));
        let layer = tree
            .layer
            .map_or(if is_job { Layer::Job } else { Layer::Base }, |l| l.0);
        self.loaded.sheets.push(LoadedSheet { file, tree, layer });
    }
}
