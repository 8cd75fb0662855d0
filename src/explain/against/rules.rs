//! Rules and givens of two readings of the sheets: where each is, how it is written, and one put in the place of the other.

use super::ChangeKind;
use crate::check::{Loaded, LoadedSheet};
use crate::diagnostics::{FileId, Span};
use crate::explain::sheets::squeezed;
use crate::program::{Kind, Program, Ty, ValueDef, ValueKind};
use crate::show::{self, cell_text};
use crate::syntax::tree::{ChangePart, ForLine, GrainHead, Rule, StatementKind};
use crate::table::SchemaValue;

/// The sheets by name.
pub(super) fn names(loaded: &Loaded) -> Vec<(&str, FileId)> {
    loaded
        .sheets
        .iter()
        .map(|s| (loaded.sources.name(s.file), s.file))
        .collect()
}

/// Where a given and its changes are.
#[expect(
    clippy::wildcard_enum_match_arm,
    reason = "only these two statements say what a given is"
)]
pub(super) fn given_spans(loaded: &Loaded, name: &str) -> Vec<Span> {
    let is_it = |kind: &StatementKind| match kind {
        StatementKind::Given(given) => given.name.text == name,
        StatementKind::Change(change) => {
            change.name.text == name && change.part == ChangePart::Value
        }
        _ => false,
    };
    loaded
        .sheets
        .iter()
        .flat_map(|s| &s.tree.statements)
        .filter(|s| is_it(&s.kind))
        .map(|s| s.span)
        .collect()
}

/// Where a given or a rule is.
pub(super) fn spans_of(loaded: &Loaded, name: &str) -> Vec<Span> {
    let rules = rules_of(loaded)
        .into_iter()
        .filter(|(_, r)| r.name.text == name)
        .map(|(_, r)| r.span);
    rules.chain(given_spans(loaded, name)).collect()
}

pub(super) fn kind_of(value: &ValueDef) -> ChangeKind {
    if matches!(value.kind, ValueKind::Given { .. }) {
        ChangeKind::Given
    } else {
        ChangeKind::Rule
    }
}

/// A value as its sheet writes it.
pub(super) fn written(loaded: &Loaded, value: &ValueDef) -> String {
    let given = given_spans(loaded, &value.name)
        .first()
        .copied()
        .filter(|_| value.replaced.is_empty());
    squeezed(&loaded.sources, given.unwrap_or(value.span))
}

/// A sheet's rules with the heading of their block.
pub(super) fn rules_of(loaded: &Loaded) -> Vec<(String, &Rule)> {
    let mut out = Vec::new();
    for statement in loaded.sheets.iter().flat_map(|s| &s.tree.statements) {
        let StatementKind::For(block) = &statement.kind else {
            continue;
        };
        let head = head_text(&block.head);
        out.extend(block.lines.iter().filter_map(|l| {
            if let ForLine::Rule(rule) = l {
                Some((head.clone(), rule))
            } else {
                None
            }
        }));
    }
    out
}

pub(super) fn head_text(head: &GrainHead) -> String {
    match head {
        GrainHead::Each(name) => name.text.clone(),
        GrainHead::Group { name, .. } => name.text.clone(),
        GrainHead::Job => String::new(),
    }
}

/// Puts a rule in the place of the one of its name.
pub(super) fn put_rule(loaded: &mut Loaded, head: &str, rule: &Rule) {
    for statement in loaded
        .sheets
        .iter_mut()
        .flat_map(|s| &mut s.tree.statements)
    {
        let StatementKind::For(block) = &mut statement.kind else {
            continue;
        };
        if head_text(&block.head) != head {
            continue;
        }
        for line in &mut block.lines {
            if let ForLine::Rule(old) = line
                && old.name.text == rule.name.text
            {
                // The name stays where it was, so that the rule is still found under its place.
                let (name, span) = (old.name.clone(), old.span);
                *old = Rule {
                    name,
                    span,
                    ..rule.clone()
                };
            }
        }
    }
}

pub(super) fn copy(loaded: &Loaded) -> Loaded {
    let sheet = |s: &LoadedSheet| LoadedSheet {
        file: FileId(s.file.0),
        tree: s.tree.clone(),
        layer: s.layer,
    };
    Loaded {
        sources: loaded.sources.clone(),
        sheets: loaded.sheets.iter().map(sheet).collect(),
        tables: loaded.tables.clone(),
        issued: loaded.issued.clone(),
        added: loaded.added.clone(),
    }
}

pub(super) fn file_name(path: &str) -> &str {
    path.rsplit('/').next().unwrap_or(path)
}

/// The value a given had, where it is another than now and of the same kind.
pub(super) fn pin(
    was: &Program,
    old: &ValueDef,
    program: &Program,
    new: &ValueDef,
) -> Option<SchemaValue> {
    let (a, b) = (was.node(old.node), program.node(new.node));
    match (&a.kind, &b.kind) {
        (Kind::Number(x), Kind::Number(y)) if x != y => a.kind.value(),
        (Kind::Truth(x), Kind::Truth(y)) if x != y => a.kind.value(),
        (Kind::Label(_), Kind::Label(_)) => {
            let label = given_text(was, old);
            if label == given_text(program, new) {
                return None;
            }
            let Ty::Choice(choice) = &b.ty else {
                return None;
            };
            let labels = &program.choices.get(*choice)?.labels;
            let at = labels.iter().position(|l| *l == label)?;
            u16::try_from(at).ok().map(SchemaValue::Choice)
        }
        _ => None,
    }
}

pub(super) fn given_text(program: &Program, value: &ValueDef) -> String {
    match show::written(program, value.node) {
        Some(cell) => cell_text(program, value.node, &cell, value.unit.as_ref()),
        None => "worked out by a rule".to_owned(),
    }
}
