//! What later layers change of a thing besides its value: limits of a given, packs and name of a resource. Where takes go is in `sends`.

use super::extend::{same_amount, same_quantity};
use super::typed::*;
use super::unknown::Known;
use crate::diagnostics::{Diagnostic, Span};
use crate::program::{AmendDef, Version};
use crate::syntax::tree::{
    self, Amend, AmendWhat, Extend, Given, Layer, Name, Quantity, Signed, StatementKind, Text,
};

/// A change with its layer.
#[derive(Debug, Clone, Copy)]
pub(super) struct LayeredAmend<'a> {
    pub(super) layer: Layer,
    pub(super) amend: &'a Amend,
}

/// Limits in force and, where a later layer set them, the change.
pub(super) struct LimitsInForce<'a> {
    pub(super) ends: (&'a Signed, &'a Signed),
    pub(super) widened: Option<&'a Amend>,
}

impl<'a> Checker<'a> {
    /// Settles which of these changes are in force in the version to be built, and checks where they land.
    pub(super) fn place_amends(&mut self, name: Option<&str>) {
        let up_to = self.work.up_to;
        let own = self
            .declared
            .alternates
            .iter()
            .find(|a| Some(a.name.text.as_str()) == name);
        let own: &'a [Amend] = own.map_or(&[], |a| a.amends);
        let mut all: Vec<LayeredAmend<'a>> = self
            .declared
            .amends
            .iter()
            .filter(|a| a.layer <= up_to)
            .copied()
            .chain(own.iter().map(|amend| LayeredAmend {
                layer: Layer::Alternate,
                amend,
            }))
            .collect();
        all.sort_by_key(|a| a.layer);
        let mut placed: Vec<LayeredAmend<'a>> = Vec::new();
        for one in all {
            if self.may_amend(one, &placed) {
                placed.push(one);
            }
        }
        self.work.in_force_amends = placed;
    }

    /// Whether a change lands on something that is there, once in its layer.
    fn may_amend(&mut self, one: LayeredAmend<'a>, placed: &[LayeredAmend<'a>]) -> bool {
        let amend = one.amend;
        if amend.because.is_none() {
            self.problems.push(
                Diagnostic::error(
                    "OV-604",
                    format!("this change of `{}` gives no reason", amend.name.text),
                )
                .at(amend.span, "")
                .mend("add `because \"...\"` at the end"),
            );
        }
        let declared = match &amend.what {
            AmendWhat::Limits { .. } => self.given_amended(&amend.name),
            AmendWhat::Packs { .. } | AmendWhat::Called { .. } | AmendWhat::Send { .. } => {
                self.resource_amended(&amend.name)
            }
        };
        let Some((layer, span)) = declared else {
            return false;
        };
        if layer > one.layer {
            self.problems.push(
                Diagnostic::error(
                    "OV-605",
                    format!(
                        "`{}` belongs to a later layer than this change",
                        amend.name.text
                    ),
                )
                .at(amend.span, "")
                .at(span, "declared here")
                .expected("changes go from base to shop to job to alternate"),
            );
            return false;
        }
        let again = placed.iter().find(|other| {
            other.layer == one.layer
                && other.amend.name.text == amend.name.text
                && overlap(&other.amend.what, &amend.what)
        });
        if let Some(first) = again {
            let what = format!("the {} of `{}`", amend.what.word(), amend.name.text);
            self.problems.push(
                Diagnostic::error("OV-603", format!("{what} is changed twice in one layer"))
                    .at(amend.span, "the second")
                    .at(first.amend.span, "the first")
                    .mend("keep one of them"),
            );
            return false;
        }
        true
    }

    /// For something that is no value: that it is not changed by name, and the way that works.
    pub(super) fn other_way(&self, name: &Name) -> Option<Diagnostic> {
        let text = name.text.as_str();
        let part = self
            .declared
            .blocks
            .iter()
            .flat_map(|b| b.lines)
            .filter_map(tree::ForLine::part)
            .find(|part| part.name.text == text);
        let (what, mend) = if self
            .declared
            .resources
            .iter()
            .any(|r| r.tree.name.text == text)
        {
            (
                "a resource",
                format!(
                    "say what of it: change price of {text} to ..., likewise waste, yield, packs, name; or send its takes elsewhere: change resource of {text} to ..."
                ),
            )
        } else if self.declared.lookups.contains_key(text) {
            (
                "a table",
                format!("change its rows: extend table {text} because \"...\" {{"),
            )
        } else if self.declared.choices.contains_key(text) {
            (
                "a choice",
                format!("add labels or spellings: extend choice {text} because \"...\" {{"),
            )
        } else if self.declared.tables.contains_key(text) {
            (
                "a survey",
                format!("add or extend columns: extend survey {text} because \"...\" {{"),
            )
        } else if self.declared.helpers.contains_key(text) {
            ("a helper", "change the rules that call it".to_owned())
        } else if let Some(part) = part {
            (
                "a part",
                format!(
                    "change the rules that give its count and sizes, or send it to another resource: change resource of {} where ... to ...",
                    part.resource.text
                ),
            )
        } else if self.declared.groups.contains_key(text) {
            (
                "a group",
                "its keys stay; declare a group of your own with other keys".to_owned(),
            )
        } else {
            return None;
        };
        let d = Diagnostic::error(
            "OV-657",
            format!("`{text}` is {what}, which has no value to change"),
        );
        Some(d.at(name.span, "").mend(mend))
    }

    fn given_amended(&mut self, name: &'a Name) -> Option<(Layer, Span)> {
        let given = self
            .declared
            .by_name
            .get(name.text.as_str())
            .and_then(|list| {
                let is_given =
                    |d: &&usize| matches!(self.declared.defs[**d].kind, DefKind::Given(_));
                list.iter().find(is_given).map(|d| &self.declared.defs[*d])
            });
        if let Some(def) = given {
            return Some((def.layer, def.name.span));
        }
        if let Some(def) = self
            .declared
            .by_name
            .get(name.text.as_str())
            .and_then(|l| l.first())
        {
            let def = &self.declared.defs[*def];
            let d = Diagnostic::error(
                "OV-657",
                format!("`{}` is not a given, so it has no limits", name.text),
            )
            .at(name.span, "")
            .at(def.name.span, "declared here");
            self.problems.push(match def.kind {
                DefKind::Column { .. } => d.mend(format!(
                    "widen the range of a column in a block: extend survey TABLE because \"...\" {{, and in it: {} between A and B",
                    name.text
                )),
                DefKind::Given(_) | DefKind::Rule(_) | DefKind::Decide(_) => d.mend(format!("change a value that it uses, or: change {} to ... because \"...\"", name.text)),
            });
            return None;
        }
        let givens: Vec<&'a str> = self
            .declared
            .defs
            .iter()
            .filter(|d| matches!(d.kind, DefKind::Given(_)))
            .map(|d| d.name.text.as_str())
            .collect();
        self.unknown("OV-601", "given", name, Known::These(givens));
        None
    }

    fn resource_amended(&mut self, name: &'a Name) -> Option<(Layer, Span)> {
        let found = self
            .declared
            .resources
            .iter()
            .find(|r| r.tree.name.text == name.text);
        if let Some(found) = found {
            let span = found.tree.name.span;
            return Some((self.layer_of_file(span), span));
        }
        self.unknown("OV-601", "resource", name, Known::Resources);
        None
    }

    pub(super) fn layer_of_file(&self, span: Span) -> Layer {
        let mut sheets = self.loaded.sheets.iter();
        sheets
            .find(|s| s.file == span.file)
            .map_or(Layer::Base, |s| s.layer)
    }

    fn pin_fails(&mut self, amend: &Amend, found: String) {
        self.problems.push(
            Diagnostic::error(
                "OV-602",
                format!(
                    "`{}` no longer has the {} that this change says it had",
                    amend.name.text,
                    amend.what.word()
                ),
            )
            .at(amend.span, "")
            .found(found)
            .mend("look whether the change still holds, then write what it is now after `was`"),
        );
    }

    /// The limits of a given after all changes.
    pub(super) fn limits_in_force(&mut self, given: &'a Given) -> Option<LimitsInForce<'a>> {
        let mut limits = given.range.as_ref().map(|(low, high)| LimitsInForce {
            ends: (low, high),
            widened: None,
        });
        for one in self.work.in_force_amends.clone() {
            let AmendWhat::Limits { to, was } = &one.amend.what else {
                continue;
            };
            if one.amend.name.text != given.name.text {
                continue;
            }
            if let Some(was) = was {
                let same = limits.as_ref().is_some_and(|l| {
                    same_quantity(l.ends.0, &was.0) && same_quantity(l.ends.1, &was.1)
                });
                if !same {
                    let text = |s: &Signed| self.loaded.sources.slice(s.span).to_owned();
                    let found = limits.as_ref().map_or_else(
                        || "no limits".to_owned(),
                        |l| format!("between {} and {}", text(l.ends.0), text(l.ends.1)),
                    );
                    self.pin_fails(one.amend, found);
                }
            }
            limits = Some(LimitsInForce {
                ends: (&to.0, &to.1),
                widened: Some(one.amend),
            });
        }
        limits
    }

    /// The packs of a resource after all changes.
    pub(super) fn packs_in_force(
        &mut self,
        resource: &'a tree::Resource,
    ) -> Option<&'a (Name, Quantity)> {
        let mut pack = resource.pack.as_ref();
        for one in self.work.in_force_amends.clone() {
            let AmendWhat::Packs { to, was } = &one.amend.what else {
                continue;
            };
            if one.amend.name.text != resource.name.text {
                continue;
            }
            let same = |was: &(Name, Quantity)| {
                pack.is_some_and(|p| p.0.text == was.0.text && same_amount(&p.1, &was.1))
            };
            if was.as_ref().is_some_and(|was| !same(was)) {
                let found = pack.map_or_else(
                    || "no packs".to_owned(),
                    |p| format!("{} of {}", p.0.text, self.loaded.sources.slice(p.1.span)),
                );
                self.pin_fails(one.amend, found);
            }
            pack = Some(to);
        }
        pack
    }

    /// The words of a report for a resource after all changes.
    pub(super) fn called_in_force(&mut self, resource: &'a tree::Resource) -> Option<String> {
        let mut called = resource.called.clone();
        for one in self.work.in_force_amends.clone() {
            let AmendWhat::Called { to, was } = &one.amend.what else {
                continue;
            };
            if one.amend.name.text != resource.name.text {
                continue;
            }
            if was
                .as_ref()
                .is_some_and(|was| called.as_ref() != Some(&was.text))
            {
                let found = called
                    .clone()
                    .unwrap_or_else(|| "no name of its own".to_owned());
                self.pin_fails(one.amend, found);
            }
            called = Some(to.text.clone());
        }
        called
    }

    /// Lists what is extended and amended in the version.
    pub(super) fn list_amends(&mut self, version: &mut Version) {
        let because = |b: &Option<Text>| b.as_ref().map_or_else(String::new, |t| t.text.clone());
        let by = |b: &Option<tree::DecidedBy>| {
            b.as_ref()
                .map(|by| (by.who.text.clone(), by.day.text.clone()))
        };
        let loaded: &'a super::Loaded = self.loaded;
        for sheet in loaded.sheets.iter().filter(|s| s.layer <= self.work.up_to) {
            for statement in &sheet.tree.statements {
                let StatementKind::Extend(block @ Extend { more, .. }) = &statement.kind else {
                    continue;
                };
                version.amends.push(AmendDef {
                    name: block.name.text.clone(),
                    what: more.word(),
                    because: because(&block.because),
                    by: by(&block.by),
                    layer: sheet.layer,
                    span: block.span,
                });
            }
        }
        for one in &self.work.in_force_amends {
            version.amends.push(AmendDef {
                name: one.amend.name.text.clone(),
                what: one.amend.what.word(),
                because: because(&one.amend.because),
                by: by(&one.amend.by),
                layer: one.layer,
                span: one.amend.span,
            });
        }
    }
}

/// Whether two changes are of one thing. Those that hold under a condition may be beside one another; no row may fit two of them.
fn overlap(a: &AmendWhat, b: &AmendWhat) -> bool {
    match (a, b) {
        (
            AmendWhat::Send {
                of_phase: p,
                filter: f,
                ..
            },
            AmendWhat::Send {
                of_phase: q,
                filter: g,
                ..
            },
        ) => {
            a.word() == b.word()
                && f.is_none()
                && g.is_none()
                && (p.is_none()
                    || q.is_none()
                    || p.as_ref().map(|t| &t.text) == q.as_ref().map(|t| &t.text))
        }
        _ => a.word() == b.word(),
    }
}
