//! Changes of single rows: a value that a person decides for the row of one mark, with a reason.
//!
//! The rows are found by their mark in a table made here, so that no other row costs more than a look at its mark.

use super::asked::same_kind;
use super::changes::def_span;
use super::typed::*;
use super::unknown::Known;
use crate::diagnostics::{Diagnostic, Place, Span};
use crate::program::{
    ChoiceDef, DecideDef, DecideLineDef, ExceptionDef, Grain, KeyCell, KeyColumn, Kind, Lookup,
    LookupId, Missing, Node, NodeId, Piece, TableId, Template, Ty, ValueColumn, Version,
};
use crate::syntax::tree::{self, ChangePart, Layer, Text};
use crate::table::ColumnKind;
use foldhash::HashMap;
use std::sync::Arc;

/// Name of the tables that say which row a value is decided for.
pub(super) const BY_MARK: &str = "rows decided one by one";

/// Value and pin of a change of one row.
#[derive(Debug, Clone, Copy)]
pub(super) struct Decided {
    to: NodeId,
    was: Option<NodeId>,
}

impl<'a> Checker<'a> {
    /// Checks where a change of one row lands.
    pub(super) fn place_exception(
        &mut self,
        c: &LayeredChange<'a>,
        mark: &'a Text,
        of_rows: &mut HashMap<(&'a str, &'a str), Span>,
    ) {
        let change = c.change;
        let name = change.name.text.as_str();
        if let Some(first) = of_rows.insert((name, mark.text.as_str()), change.span) {
            self.problems.push(
                Diagnostic::error(
                    "OV-654",
                    format!("`{name}` is decided twice for \"{}\"", mark.text),
                )
                .at(change.span, "the second")
                .at(first, "the first")
                .mend("keep one of them, even where they are in different layers"),
            );
            return;
        }
        self.needs_reason(change);
        if change.part != ChangePart::Value {
            self.problems.push(
                Diagnostic::error("OV-655", "a price, waste or yield is one for the whole job")
                    .at(mark.span, "so it has no row")
                    .mend("take out the `at`, or change a rule or a decision of that row"),
            );
            return;
        }
        let list = self.declared.by_name.get(name).cloned().unwrap_or_default();
        if list.is_empty() {
            if !self.reported.broken.contains(name) {
                let what = "rule, decision or column";
                self.unknown("OV-601", what, &change.name, Known::Values);
            }
            return;
        }
        let mut placed = false;
        for d in list {
            let Grain::Table(table) = self.declared.defs[d].grain else {
                continue;
            };
            let schema = &self.program.tables[table].schema;
            let holds_rows = match &self.declared.defs[d].kind {
                DefKind::Column { index, .. } => {
                    let at = Some(usize::from(*index));
                    at != schema.key && at != schema.parent.as_ref().map(|p| p.1)
                }
                DefKind::Given(_) | DefKind::Rule(_) | DefKind::Decide(_) => true,
            };
            if schema.key.is_none() || !holds_rows || self.declared.defs[d].layer > c.layer {
                continue;
            }
            if let Some(below) = self.made_from(d) {
                self.problems.push(
                    Diagnostic::error("OV-655", format!("`{name}` can't be decided for one row"))
                        .at(mark.span, "")
                        .at(
                            def_span(&self.declared.defs[d]),
                            format!("rows of `{below}` are made from it"),
                        )
                        .mend("correct the cell in the survey: rows are made when it is read"),
                );
                return;
            }
            placed = true;
            let rows = self.work.exceptions.entry((d, c.layer)).or_default();
            rows.push(change);
            if rows.len() == 1 {
                self.work.in_force.entry(d).or_default().push(*c);
            }
        }
        if !placed {
            let d = self.declared.by_name[name][0];
            let is = self.name_of_grain(self.declared.defs[d].grain);
            self.problems.push(
                Diagnostic::error(
                    "OV-655",
                    format!("`{name}` can't be decided for one row"),
                )
                .at(mark.span, "")
                .at(def_span(&self.declared.defs[d]), is)
                .expected("a rule, a decision or a column of a table whose rows have a key, of this or a lower layer; the key itself stays as it is")
                .mend(format!("change it for all: change {name} to ... because \"...\"")),
            );
        }
    }

    /// A cell that reads the row above where it is blank reads it as decided there by hand.
    pub(super) fn as_decided_above(
        &mut self,
        table: TableId,
        index: u16,
        own: Typed,
        span: Span,
    ) -> Checks<Typed> {
        let info = &self.program.tables[table];
        let at = usize::from(index);
        let (Some(parent), Some(from), Some(flag)) = (
            info.parent,
            info.schema.above(at),
            info.schema.is_above(at).and_then(|f| u16::try_from(f).ok()),
        ) else {
            return Ok(own);
        };
        let is_above = |def: &Def<'_>| matches!(def.kind, DefKind::Column { table, index, .. } if table == parent && usize::from(index) == from);
        let Some(def) = self.declared.defs.iter().position(is_above) else {
            return Ok(own);
        };
        let above = self.read(def, span, &Context::at(Grain::Table(parent)))?;
        let (node, ty) = (self.program.node(above.node).clone(), self.ty(&own).clone());
        // A pattern of lites is cut apart when rows are made; it can't be decided by hand.
        if matches!(node.kind, Kind::Column { .. }) || !same_kind(&node.ty, &ty) {
            return Ok(own);
        }
        let grain = Grain::Table(table);
        let condition = self.program.intern(Node {
            kind: Kind::Column {
                table,
                column: flag,
            },
            ty: Ty::Truth,
            grain,
            missing: Missing::Never,
            span,
        });
        let then = self.brought_down(above.node, grain, span);
        let node = self.program.intern(Node {
            kind: Kind::Select {
                condition,
                then,
                otherwise: own.node,
            },
            ty,
            grain,
            missing: self.missing_of(&[then, own.node]),
            span,
        });
        Ok(Typed {
            node,
            pending: Pending {
                blank: own.pending.blank || above.pending.blank,
                na: own.pending.na || above.pending.na,
            },
            whole: own.whole && above.whole,
            literal: false,
        })
    }

    /// What of the survey can't be decided by hand, since rows below are made from it when the survey is read: the name of their table.
    fn made_from(&self, d: usize) -> Option<String> {
        let DefKind::Column { table, index, .. } = &self.declared.defs[d].kind else {
            return None;
        };
        let at = usize::from(*index);
        let column = self.program.tables[*table].schema.columns.get(at)?;
        let mut below = self.program.tables.iter();
        let found = below.find(|info| {
            let is_from = info.schema.rows.as_ref().is_some_and(|r| r.from == at);
            let is_cut = column.kind == ColumnKind::Lites && info.schema.above.contains(&Some(at));
            info.parent == Some(*table) && (is_from || is_cut)
        })?;
        Some(found.schema.name.clone())
    }

    /// The values of a definition where some rows are decided one by one in a layer.
    pub(super) fn rows_changed(
        &mut self,
        d: usize,
        layer: Layer,
        below: usize,
        def: &Def<'a>,
        cx: &Context<'a>,
    ) -> Checks<Typed> {
        let before = self.define(d, below, def.name.span)?;
        let Grain::Table(table) = def.grain else {
            return Err(Poisoned);
        };
        let changes = self
            .work
            .exceptions
            .get(&(d, layer))
            .cloned()
            .unwrap_or_default();
        let mut values = Vec::new();
        for change in &changes {
            values.push(self.decided_value(change, &before, def));
        }
        let values = values.into_iter().collect::<Checks<Vec<Typed>>>()?;
        let subject = self.which_row(table, &changes, def)?;
        let arms: Vec<NodeId> = values.iter().map(|t| t.node).chain([before.node]).collect();
        if let DefKind::Decide(_) = def.kind {
            self.decided_reasons(d, subject, &changes, def, cx)?;
        }
        let node = self.row_choice(subject, arms, before.node, def);
        Ok(Typed {
            node,
            whole: before.whole && values.iter().all(|t| t.whole),
            literal: false,
            ..before
        })
    }

    /// For each row the value of its own, or that of all others.
    fn row_choice(
        &mut self,
        subject: NodeId,
        arms: Vec<NodeId>,
        like: NodeId,
        def: &Def<'a>,
    ) -> NodeId {
        let like = self.program.node(like).clone();
        let arm_of = (0u16..).take(arms.len()).collect();
        self.program.intern(Node {
            kind: Kind::Choose {
                subject,
                arm_of,
                arms,
            },
            grain: def.grain,
            ..like
        })
    }

    /// A node that says for each row which change is of it; the last label stands for none.
    fn which_row(
        &mut self,
        table: TableId,
        changes: &[&'a tree::Change],
        def: &Def<'a>,
    ) -> Checks<NodeId> {
        let schema = &self.program.tables[table].schema;
        let key = schema.key.ok_or(Poisoned)?;
        let key_name = schema.columns[key].name.clone();
        let column = u16::try_from(key).map_err(|_| Poisoned)?;
        let marks: Vec<&Text> = changes.iter().filter_map(|c| c.at.as_ref()).collect();
        let labels: Vec<String> = (0..=marks.len()).map(|n| n.to_string()).collect();
        let span = changes.first().map_or(def.name.span, |c| c.span);
        let places: Vec<Place> = changes
            .iter()
            .map(|c| c.span.into())
            .chain([span.into()])
            .collect();
        let mark = self.program.intern(Node {
            kind: Kind::Column { table, column },
            ty: Ty::Text,
            grain: def.grain,
            missing: Missing::Never,
            span,
        });
        // Versions share the table of the same changes, so that what reads it is the same node in each.
        let there = self.program.lookups.entries().find_map(|(id, lookup)| {
            let is_same = lookup.name == BY_MARK && lookup.places == places;
            let made = lookup.values.first()?;
            is_same.then(|| (id, made.ty.clone()))
        });
        if let Some((id, ty)) = there {
            return Ok(self.lookup_by_mark(id, ty, mark, def, span));
        }
        let added = self.program.choices.push(ChoiceDef {
            name: BY_MARK.to_string(),
            labels: labels.clone(),
        });
        let choice = self.room(added, "choices", span)?;
        let cells = marks
            .iter()
            .map(|m| KeyCell::Text(m.text.clone()))
            .chain([KeyCell::Any])
            .collect();
        let added = self.program.lookups.push(Arc::new(Lookup {
            name: BY_MARK.to_string(),
            keys: vec![KeyColumn {
                name: key_name,
                ty: Ty::Text,
                unit: None,
                cells,
            }],
            values: vec![ValueColumn {
                name: "row".to_string(),
                ty: Ty::Choice(choice),
                numbers: vec![],
                texts: labels.clone(),
            }],
            rows: labels.len(),
            span,
            places,
        }));
        let id = self.room(added, "tables", span)?;
        Ok(self.lookup_by_mark(id, Ty::Choice(choice), mark, def, span))
    }

    fn lookup_by_mark(
        &mut self,
        table: LookupId,
        ty: Ty,
        mark: NodeId,
        def: &Def<'a>,
        span: Span,
    ) -> NodeId {
        self.program.intern(Node {
            kind: Kind::Lookup {
                table,
                column: 0,
                keys: vec![mark],
                interpolated: false,
            },
            ty,
            grain: def.grain,
            missing: Missing::Never,
            span,
        })
    }

    /// The written value of one row, of the kind that the value has on all others.
    fn decided_value(
        &mut self,
        change: &'a tree::Change,
        before: &Typed,
        def: &Def<'a>,
    ) -> Checks<Typed> {
        let ty = self.ty(before).clone();
        let to = self.constant_of(&change.to, &ty, &change.name.text, def)?;
        let was = match &change.was {
            Some(was) => Some(self.constant_of(was, &ty, &change.name.text, def)?.node),
            None => None,
        };
        self.work
            .decided
            .insert(change.span, Decided { to: to.node, was });
        self.within_limits(&to, change, def)?;
        // A rule that came to whole values on all other rows need not do so here.
        if before.whole && !to.whole && matches!(def.kind, DefKind::Column { .. }) {
            return self.fail(
                Diagnostic::error(
                    "OV-655",
                    format!("`{}` holds whole values only", change.name.text),
                )
                .at(change.to.span, "")
                .expected("a whole value"),
            );
        }
        Ok(to)
    }

    fn constant_of(
        &mut self,
        e: &'a tree::Expr,
        ty: &Ty,
        name: &str,
        def: &Def<'a>,
    ) -> Checks<Typed> {
        let wanted = match ty {
            Ty::Choice(c) => Some(*c),
            Ty::Number(_) | Ty::Truth | Ty::Text | Ty::Point(_) => None,
        };
        let t = self.settled(e, &Context::at(Grain::Const), wanted)?;
        let found = self.ty(&t).clone();
        if same_kind(ty, &found) {
            return Ok(t);
        }
        let (found, expected) = (self.words(&found), self.words(ty));
        self.fail(
            Diagnostic::error("OV-311", format!("a change keeps the kind of `{name}`"))
                .at(e.span, found.clone())
                .at(def.name.span, expected.clone())
                .found(found)
                .expected(expected),
        )
    }

    /// A cell decided by hand is known before anything runs, and keeps to the plausible range of its column.
    fn within_limits(&mut self, to: &Typed, change: &tree::Change, def: &Def<'a>) -> Checks<()> {
        let DefKind::Column { table, index, .. } = &def.kind else {
            return Ok(());
        };
        let span = change.to.span;
        let spec = &self.program.tables[*table].schema.columns[usize::from(*index)];
        let unfit = match self.program.constant(to.node) {
            Some(value) => self.outside(spec, value, span),
            None => spec.kind.unit().map(|_| {
                Diagnostic::error(
                    "OV-655",
                    format!("a cell of `{}` is decided by a formula", spec.name),
                )
                .at(span, "")
                .expected("a value that is written, or worked out from givens without a table")
            }),
        };
        unfit.map_or(Ok(()), |d| self.fail(d))
    }

    /// Each row decided by hand gives its own reason; the others keep theirs.
    fn decided_reasons(
        &mut self,
        d: usize,
        subject: NodeId,
        changes: &[&'a tree::Change],
        def: &Def<'a>,
        cx: &Context<'a>,
    ) -> Checks<()> {
        let mut decide: DecideDef = self.kept.decides.get(&d).cloned().ok_or(Poisoned)?;
        let ty = Ty::Choice(decide.choice);
        let line = |checker: &mut Self, at: usize| -> Checks<NodeId> {
            let at = u16::try_from(at).map_err(|_| Poisoned)?;
            Ok(checker.constant(Kind::Label(at), ty.clone(), def.name.span))
        };
        let rest = decide.line;
        let mut arms = Vec::new();
        for change in changes {
            let mut because = match &change.because {
                Some(text) => self.template(text, cx)?,
                None => Template::default(),
            };
            if let Some(by) = &change.by {
                let signed = format!(" (by {}, {})", by.who.text, by.day.text);
                because.pieces.push(Piece::Text(signed));
            }
            arms.push(line(self, decide.lines.len())?);
            decide.lines.push(DecideLineDef {
                label: 0,
                because,
                rests_on: None,
                span: change.span,
            });
        }
        arms.push(rest);
        decide.line = self.row_choice(subject, arms, rest, def);
        self.kept.decides.insert(d, decide);
        Ok(())
    }

    /// Lists what is decided for single rows in the version.
    pub(super) fn exceptions_of(&mut self, version: &mut Version) {
        let mut list: Vec<ExceptionDef> = Vec::new();
        let mut listed: HashMap<Span, usize> = HashMap::default();
        let mut all: Vec<((usize, Layer), Vec<&'a tree::Change>)> = self
            .work
            .exceptions
            .iter()
            .map(|(at, changes)| (*at, changes.clone()))
            .collect();
        all.sort_unstable_by_key(|((d, layer), _)| (*layer, *d));
        for ((d, layer), changes) in all {
            let Grain::Table(table) = self.declared.defs[d].grain else {
                continue;
            };
            let stage = self.work.in_force.get(&d).and_then(|l| {
                l.iter()
                    .position(|c| c.layer == layer && c.change.at.is_some())
            });
            let before = stage.and_then(|stage| self.kept.memo.get(&(d, stage)).copied());
            let Some(Ok(before)) = before else { continue };
            for change in changes {
                let (Some(decided), Some(mark)) =
                    (self.work.decided.get(&change.span).copied(), &change.at)
                else {
                    continue;
                };
                if let Some(at) = listed.get(&change.span) {
                    let known: &mut ExceptionDef = &mut list[*at];
                    known.replaced.push((table, before.node));
                    continue;
                }
                listed.insert(change.span, list.len());
                list.push(ExceptionDef {
                    name: change.name.text.clone(),
                    mark: mark.text.clone(),
                    replaced: vec![(table, before.node)],
                    to: decided.to,
                    was: decided.was.zip(change.was.as_ref().map(|w| w.span)),
                    because: change
                        .because
                        .as_ref()
                        .map_or_else(String::new, |t| t.text.clone()),
                    by: change
                        .by
                        .as_ref()
                        .map(|by| (by.who.text.clone(), by.day.text.clone())),
                    layer,
                    mark_span: mark.span,
                    span: change.span,
                });
            }
        }
        list.sort_by_key(|e| (e.layer, e.span.file.0, e.span.start));
        version.exceptions = list;
    }

    /// The changes that hold in a trial: of single rows those whose row the trial has.
    pub(super) fn of_rows_in(
        &self,
        trial: &tree::Trial,
        base: &[LayeredChange<'a>],
    ) -> Vec<LayeredChange<'a>> {
        let settings = trial.rows.iter().flat_map(|(_, s, _)| s).chain(&trial.with);
        let texts: Vec<&str> = settings
            .filter_map(|s| match &s.value {
                Ok(tree::Expr {
                    kind: tree::ExprKind::Text(text),
                    ..
                }) => Some(text.text.as_str()),
                _ => None,
            })
            .collect();
        let there = |mark: &Text| {
            texts.iter().any(|text| {
                // Rows that are made below a row begin with its mark.
                mark.text
                    .strip_prefix(text)
                    .is_some_and(|rest| rest.is_empty() || rest.starts_with('-'))
            })
        };
        base.iter()
            .filter(|c| c.change.at.as_ref().is_none_or(there))
            .copied()
            .collect()
    }
}
