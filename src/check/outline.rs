//! What checking knows of sheets, sound or not: for an editor and a worksheet, which must not go dark over one fault.
//!
//! Shows names, types, units and places of all that is sound. Gives no program away: only a sound one may run.

use super::{Checked, Options};
use crate::diagnostics::{Diagnostic, FileId, Place, Span, any_error};
use crate::program::{Missing, NodeId, Ty, ValueDef, ValueKind};

/// What is sound of some sheets.
///
/// ```
/// use ovolo::check::{Options, load, outline};
///
/// // The second rule is broken, and so is what is calculated from it; the others are as they were.
/// let sheet = "survey opening {\n  mark  text  key\n  wide  length in in\n}\n\
///     for each opening {\n  half = wide / 2\n  bad = wide + 1 h\n  worse = bad * 2\n}\n";
/// let files = ovolo::session::Texts::from([("sheet.ovo", sheet)]);
/// let (loaded, _) = load(&["sheet.ovo".to_owned()], &files);
/// let (outline, problems) = outline(&loaded, Options::default());
///
/// assert_eq!(problems.len(), 1);
/// let names: Vec<&str> = outline.names().map(|n| n.name).collect();
/// assert_eq!(names, ["mark", "wide", "half"]);
/// let half = outline.names().last().expect("three names");
/// assert_eq!((half.is_a.as_str(), half.per.as_str()), ("a length", "for each opening"));
/// ```
#[derive(Debug)]
pub struct Outline {
    pub(super) checked: Checked,
}

/// A sound name of the job as decided.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Named<'a> {
    /// Name.
    pub name: &'a str,
    /// `column`, `given`, `rule` or `decision`.
    pub sort: &'static str,
    /// What it is, in words: `a length`, `yes or no`.
    pub is_a: String,
    /// Unit it is shown in; empty where it has none.
    pub unit: String,
    /// What it is per, in words: `for each opening`.
    pub per: String,
    /// Whether it may be missing on some rows.
    pub missing: Missing,
    /// Where it is written.
    pub place: Span,
}

/// What an expression is, in words.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Meaning {
    /// `a length`, `yes or no`.
    pub is_a: String,
    /// `for each opening`.
    pub per: String,
    /// The stretch of the sheet that this is said of.
    pub place: Span,
}

/// Checks sheets, and gives what is sound of them with every message, errors included. It is empty only where a sheet is too large to be
/// checked at all.
pub fn outline(loaded: &super::Loaded, options: Options) -> (Outline, Vec<Diagnostic>) {
    let exceeded = super::limits::exceeded(loaded);
    if !exceeded.is_empty() {
        return (
            Outline {
                checked: Checked::default(),
            },
            exceeded,
        );
    }
    look(loaded, options, &[])
}

/// Checks sheets that are within the limits.
pub(super) fn look(
    loaded: &super::Loaded,
    options: Options,
    points: &[super::Point],
) -> (Outline, Vec<Diagnostic>) {
    let mut checker = super::declare::declare(loaded);
    checker.run(options, points);
    let (checked, mut problems) = checker.finish();
    problems.sort_by_key(|d| match d.place() {
        Some(Place::Sheet(s)) => (s.file.0, s.start),
        _ => (u16::MAX, 0),
    });
    problems.dedup();
    (Outline { checked }, problems)
}

impl Outline {
    /// The program, where no message is an error.
    pub(super) fn sound(self, problems: &[Diagnostic]) -> Option<Checked> {
        (!any_error(problems)).then_some(self.checked)
    }

    /// The names of the job as decided, in the order of the sheets. A name that is broken, or that rests on a broken one, is not among them.
    pub fn names(&self) -> impl Iterator<Item = Named<'_>> {
        let version = self.checked.program.versions.first();
        let values = version.into_iter().flat_map(|v| &v.values);
        values.map(|value| self.named(value))
    }

    fn named<'a>(&'a self, value: &'a ValueDef) -> Named<'a> {
        let program = &self.checked.program;
        let node = program.node(value.node);
        Named {
            name: &value.name,
            sort: match value.kind {
                ValueKind::Column { .. } => "column",
                ValueKind::Given { .. } => "given",
                ValueKind::Rule => "rule",
                ValueKind::Decide(_) => "decision",
            },
            is_a: program.words(&node.ty),
            unit: value
                .unit
                .as_ref()
                .map_or_else(String::new, |unit| unit.text(&program.nouns)),
            per: program.name_of_grain(value.grain),
            missing: node.missing,
            place: value.span,
        }
    }

    /// What the shortest sound expression is that covers a byte of a sheet.
    pub fn at(&self, file: FileId, byte: u32) -> Option<Meaning> {
        let covers = |span: &Span| span.file == file && span.start <= byte && byte < span.end;
        let nodes = self.checked.nodes_of(0);
        let found = nodes.into_iter().filter(|(span, _)| covers(span));
        found
            .min_by_key(|(span, node)| (span.end - span.start, *node))
            .map(|(span, node)| self.meaning(span, node))
    }

    fn meaning(&self, place: Span, node: NodeId) -> Meaning {
        let program = &self.checked.program;
        let node = program.node(node);
        let is_a: &Ty = &node.ty;
        Meaning {
            is_a: program.words(is_a),
            per: program.name_of_grain(node.grain),
            place,
        }
    }
}
