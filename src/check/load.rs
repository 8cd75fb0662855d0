//! Brings in a sheet and all it uses, each once, in an order where what is used comes first.
//!
//! Opens no file itself: it asks a [`Finder`].

use crate::diagnostics::{Diagnostic, FileId, Sources, Span};
use crate::syntax::tree::{Layer, StatementKind};
use crate::syntax::{Sheet, parse_for_run, parse_sheet};
use std::collections::HashMap;

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

/// All sheets of a run, used ones first.
#[derive(Debug, Default)]
pub struct Loaded {
    /// Their texts.
    pub sources: Sources,
    /// The sheets.
    pub sheets: Vec<LoadedSheet>,
    /// Texts of the CSV files named by tables, by sheet and path: canonical name and text, or what is wrong.
    pub tables: HashMap<(FileId, String), Result<(String, String), String>>,
}

/// Loads sheets by path. The list tells what could not be found or read.
pub fn load(paths: &[String], finder: &dyn Finder) -> (Loaded, Vec<Diagnostic>) {
    bring_in(paths, finder, true)
}

/// The same with the trials of sheets left unread.
pub fn load_for_run(paths: &[String], finder: &dyn Finder) -> (Loaded, Vec<Diagnostic>) {
    bring_in(paths, finder, false)
}

fn bring_in(paths: &[String], finder: &dyn Finder, trials: bool) -> (Loaded, Vec<Diagnostic>) {
    let mut loader = Loader { finder, trials, loaded: Loaded::default(), problems: Vec::new(), done: HashMap::new(), open: Vec::new() };
    for path in paths {
        match finder.find(path, None) {
            Ok((name, text)) => loader.sheet(name, text, None),
            Err(why) => loader
                .problems
                .push(Diagnostic::error("OV-001", "this sheet can't be opened").at(crate::diagnostics::Place::File(path.clone()), why)),
        }
    }
    (loader.loaded, loader.problems)
}

struct Loader<'a> {
    finder: &'a dyn Finder,
    trials: bool,
    loaded: Loaded,
    problems: Vec<Diagnostic>,
    done: HashMap<String, ()>,
    open: Vec<String>,
}

impl Loader<'_> {
    fn sheet(&mut self, name: String, text: String, asked: Option<Span>) {
        if self.open.contains(&name) {
            let mut path = self.open.clone();
            path.push(name);
            let d = Diagnostic::error("OV-206", "sheets use one another in a circle").found(path.join(" uses "));
            self.problems.push(
                match asked {
                    Some(s) => d.at(s, "comes back to a sheet that is being read"),
                    None => d,
                }
                .mend("take out one `use`; what both need goes into a third sheet"),
            );
            return;
        }
        if self.done.contains_key(&name) {
            return;
        }
        if self.done.len() >= MOST_SHEETS || self.open.len() >= MOST_DEPTH {
            let d = Diagnostic::error("OV-207", "too many sheets use one another")
                .expected(format!("at most {MOST_SHEETS} sheets, {MOST_DEPTH} deep"));
            self.problems.push(match asked {
                Some(s) => d.at(s, ""),
                None => d,
            });
            return;
        }
        self.done.insert(name.clone(), ());
        self.open.push(name.clone());
        let file = self.loaded.sources.add(name.clone(), text.clone());
        let (tree, problems) = if self.trials { parse_sheet(file, &text) } else { parse_for_run(file, &text) };
        self.problems.extend(problems);
        for statement in &tree.statements {
            match &statement.kind {
                StatementKind::Use(path) => match self.finder.find(&path.text, Some(&name)) {
                    Ok((found, text)) => self.sheet(found, text, Some(path.span)),
                    Err(why) => self.problems.push(
                        Diagnostic::error("OV-001", format!("the sheet \"{}\" can't be opened", path.text)).at(path.span, "").found(why),
                    ),
                },
                StatementKind::Table(def) => {
                    if let Some(from) = &def.from {
                        let found = self.finder.find(&from.text, Some(&name));
                        self.loaded.tables.insert((file, from.text.clone()), found);
                    }
                }
                _ => {}
            }
        }
        self.open.pop();
        let is_job = tree.statements.iter().any(|s| matches!(s.kind, StatementKind::Job(_)));
        let layer = tree.layer.map_or(if is_job { Layer::Job } else { Layer::Base }, |l| l.0);
        self.loaded.sheets.push(LoadedSheet { file, tree, layer });
    }
}
