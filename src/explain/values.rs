//! Named values: columns with their cells, givens with their sources, rules and decisions with what they are calculated from.

use super::builder::{Builder, Here};
use super::rows::reaches;
use super::sheets::Written;
use super::tree::{Tree, What};
use crate::diagnostics::Place;
use crate::eval::Cell;
use crate::ids;
use crate::program::{Grain, Kind, NodeId, Piece, TableId, Template, ValueDef, ValueKind};
use crate::report::words::layer as layer_word;
use crate::show::{absence_word, template_text};
use crate::syntax::tree::{Decide, DecideBody, Expr, Given, GivenValue, Layer};

impl<'a> Builder<'a> {
    /// The named value a name means at a grain: its own first, then coarser, then finer; as the checker has it.
    pub(super) fn value_for(&self, name: &str, grain: Grain) -> Option<usize> {
        let rank = |v: &ValueDef| match () {
            () if v.grain == grain => 0,
            () if reaches(self.program(), grain, v.grain) => 1,
            () => 2,
        };
        let named = self
            .version()
            .values
            .iter()
            .enumerate()
            .filter(|(_, v)| v.name == name);
        named.min_by_key(|(_, v)| rank(v)).map(|(at, _)| at)
    }

    /// A named value read at a place.
    pub(super) fn read(&mut self, at: usize, node: NodeId, here: Here<'_>) -> Option<Tree> {
        let value = self.version().values.get(at)?;
        let last = value.replaced.len();
        let (stage, node) = match here.own {
            Some((own, stage)) if own == at => (stage.checked_sub(1)?, node),
            _ => (last, value.node),
        };
        // In a group's block its keys are read as the group's own.
        if let (Grain::Group(g), Grain::Table(t)) = (here.grain, value.grain) {
            let group = self.program().groups.get(g)?;
            if t == group.of && group.key_names.contains(&value.name) {
                let first = self
                    .results
                    .groups(g)
                    .and_then(|g| g.first_row.get(here.row))
                    .map_or(0, |r| ids::at(*r));
                return Some(self.value(at, stage, node, first, here.level));
            }
        }
        let row = self.row_up(here.grain, here.row, value.grain)?;
        Some(self.value(at, stage, node, row, here.level))
    }

    /// The tree of a named value after its first `stage` changes, on a row of its own grain.
    pub(super) fn value(
        &mut self,
        at: usize,
        stage: usize,
        node: NodeId,
        row: usize,
        level: usize,
    ) -> Tree {
        let Some(value) = self.version().values.get(at) else {
            return Tree::new(What::Rule, "");
        };
        let unit = value.unit.as_ref();
        let what = match value.kind {
            ValueKind::Column { .. } => What::Column,
            ValueKind::Given { .. } => What::Given,
            ValueKind::Rule => What::Rule,
            ValueKind::Decide(_) => What::Decision,
        };
        let mut tree = self.tree_of(what, value.name.clone(), node, row, unit);
        tree.at = self.mark(value.grain, row);
        if node == value.node && self.exception(&mut tree, value, row, unit) {
            return tree;
        }
        if let ValueKind::Column { table, column } = value.kind {
            self.column(&mut tree, value, table, column, (row, level));
            return tree;
        }
        if !self.shown.insert((at, stage, row)) {
            tree.elsewhere = true;
            return tree;
        }
        if self.picked(&mut tree, value, node, row) {
            return tree;
        }
        let span = value.replaced.get(stage).copied().unwrap_or(value.span);
        tree.place = Some(span.into());
        let here = Here {
            grain: value.grain,
            row,
            own: None,
            unit,
            level: level + 1,
        };
        // A given ends the tree: what it replaced is always reported.
        let deep = self.too_deep(level) && value.grain != Grain::Const;
        match self.index.at(span) {
            Some(Written::Given(given)) => self.given(&mut tree, value, given),
            Some(Written::Rule(rule)) => {
                tree.rule = Some(self.text_of(rule.span));
                self.below(&mut tree, &rule.value, here, deep);
            }
            Some(Written::Decide(decide)) => {
                self.decision(&mut tree, value, decide, node, here, deep)
            }
            Some(Written::Change(change)) => {
                tree.rule = Some(self.text_of(change.span));
                tree.fact(
                    "layer",
                    layer_word(self.layer_of(change.span.file, value, stage)),
                );
                if let Some(by) = &change.by {
                    tree.fact("decided by", format!("{}, {}", by.who.text, by.day.text));
                }
                let before = value.replaced.get(stage.wrapping_sub(1)).copied();
                if let Some(before) = before {
                    let text = match self.index.at(before) {
                        Some(Written::Given(given)) => self.given_text(given),
                        _ => self.text_of(before),
                    };
                    let place =
                        crate::diagnostics::render::place_text(&before.into(), self.sources());
                    tree.fact("replaces", format!("{text} ({place})"));
                }
                self.below(
                    &mut tree,
                    &change.to,
                    Here {
                        own: Some((at, stage)),
                        ..here
                    },
                    deep,
                );
            }
            Some(Written::Take(_) | Written::Part(_)) | None => {}
        }
        if tree.deeper {
            // It may be in full where it is met again nearer the root.
            self.shown.remove(&(at, stage, row));
        }
        tree
    }

    /// For a value that a person decided for this row alone: the change, and what it replaces.
    fn exception(
        &mut self,
        tree: &mut Tree,
        value: &ValueDef,
        row: usize,
        unit: Option<&crate::units::UnitExpr>,
    ) -> bool {
        let Grain::Table(table) = value.grain else {
            return false;
        };
        let decided = self.version().exceptions.iter().find_map(|e| {
            let here = e.name == value.name && Some(&e.mark) == tree.at.as_ref();
            let before = e.replaced.iter().find(|(t, _)| *t == table)?.1;
            here.then(|| (e.clone(), before))
        });
        let Some((one, before)) = decided else {
            return false;
        };
        tree.rule = Some(self.text_of(one.span));
        tree.place = Some(one.span.into());
        tree.fact("layer", layer_word(one.layer));
        tree.fact("because", one.because);
        if let Some((who, day)) = one.by {
            tree.fact("decided by", format!("{who}, {day}"));
        }
        let replaced = self.tree_of(What::Rule, value.name.clone(), before, row, unit);
        tree.fact("replaces", replaced.text);
        true
    }

    /// For a value that a mixed plan picks: which of its plans this row takes. The plan itself is an alternate that can be asked in turn.
    fn picked(&mut self, tree: &mut Tree, value: &ValueDef, node: NodeId, row: usize) -> bool {
        let Some(pick) = &self.version().pick else {
            return false;
        };
        let Kind::Select { condition, .. } = self.program().node(node).kind else {
            return false;
        };
        let mut asked = condition;
        while let Kind::Down(below) = self.program().node(asked).kind {
            asked = below;
        }
        if !matches!(self.program().node(asked).kind, Kind::Column { table, column } if (table, column) == (pick.table, pick.column))
        {
            return false;
        }
        let plan = match self.cell(condition, row) {
            Cell::Truth(first) => pick
                .plans
                .get(usize::from(!first))
                .and_then(|at| self.program().versions.get(*at)),
            Cell::Number(_) | Cell::Label(_) | Cell::Text(_) | Cell::Absent(_) | Cell::Fault(_) => {
                None
            }
        };
        tree.rule = Some(self.text_of(pick.span));
        tree.place = Some(pick.span.into());
        tree.fact("because", value.because.clone().unwrap_or_default());
        if let ValueKind::Decide(def) = &value.kind
            && let Cell::Label(line) = self.cell(def.line, row)
            && let Some(line) = def.lines.get(usize::from(line))
        {
            let reason = self.filled(&line.because, row);
            tree.fact("reason", reason);
            tree.fact("rests on", line.rests_on.clone().unwrap_or_default());
        }
        let name = plan.map(|p| p.name.as_deref().unwrap_or(crate::program::AS_DECIDED));
        tree.fact(
            "taken",
            name.map_or_else(String::new, |n| {
                format!("as in \"{n}\", which can be asked by itself")
            }),
        );
        tree.deeper = true;
        true
    }

    /// The layer a change is in.
    fn layer_of(&self, file: crate::diagnostics::FileId, value: &ValueDef, stage: usize) -> Layer {
        if stage == value.replaced.len() {
            return value.layer;
        }
        self.subject
            .loaded
            .sheets
            .iter()
            .find(|s| s.file == file)
            .map_or(value.layer, |s| s.layer)
    }

    /// What an expression is calculated from, or a note that it lies too deep.
    fn below(&mut self, tree: &mut Tree, value: &'a Expr, here: Here<'_>, deep: bool) {
        if !deep {
            self.walk(value, here, &mut tree.from);
            return;
        }
        tree.deeper = true;
    }

    fn column(
        &mut self,
        tree: &mut Tree,
        value: &ValueDef,
        table: TableId,
        column: u16,
        (row, level): (usize, usize),
    ) {
        let (t, c) = (table.index(), usize::from(column));
        let place = self
            .subject
            .survey
            .tables
            .get(t)
            .and_then(|t| t.cell(row, c));
        let found = self
            .subject
            .survey
            .texts
            .get(t)
            .and_then(Option::as_ref)
            .and_then(|texts| texts.get(row, c));
        let from_above = self.subject.survey.tables.get(t).is_some_and(|table| {
            let above = table.from_above.as_ref();
            above.is_some_and(|above| above.is_taken(row, c))
        });
        if from_above && let Some(info) = self.program().tables.get(table) {
            let schema = &info.schema;
            let own = &schema.name;
            if let Some((above, _)) = schema.parent.as_ref() {
                let says = match schema.above(c) {
                    Some(_) => format!("the {above}: nothing of the {own}'s own"),
                    None => format!("the {above}: the row of the {own} is made"),
                };
                tree.fact("read from", says);
            }
            if self.decided_above(tree, table, c, row, level) {
                return;
            }
        }
        match (&place, found) {
            (Some(_), Some("")) => tree.fact("found", "blank"),
            (Some(_), Some(text)) => tree.fact("found", format!("\"{text}\"")),
            _ => {}
        }
        if place.as_ref().is_some_and(|p| p.column.is_none()) {
            tree.fact("found", "no such column in the survey");
        }
        let assumed =
            matches!(found, Some("")) || place.as_ref().is_some_and(|p| p.column.is_none());
        if assumed && tree.text != absence_word(crate::table::Absence::Blank) {
            tree.fact(
                "taken as",
                value
                    .note
                    .clone()
                    .unwrap_or_else(|| "what the sheet says for a blank".to_owned()),
            );
        }
        tree.place = place.map(Place::from);
    }

    /// For a cell of the row above that was decided there by hand: that decision.
    fn decided_above(
        &mut self,
        tree: &mut Tree,
        table: TableId,
        column: usize,
        row: usize,
        level: usize,
    ) -> bool {
        let info = self.program().tables.get(table);
        let above = info.and_then(|i| Some((i.parent?, i.schema.above(column)?)));
        let parents = self.subject.survey.tables.get(table.index());
        let parents = parents.and_then(|t| t.parent_rows.as_ref());
        let parent = parents.and_then(|p| usize::try_from(*p.get(row)?).ok());
        let (Some((above, from)), Some(parent)) = (above, parent) else {
            return false;
        };
        let is_above = |v: &ValueDef| matches!(v.kind, ValueKind::Column { table, column } if table == above && usize::from(column) == from);
        let Some(at) = self.version().values.iter().position(|v| is_above(v)) else {
            return false;
        };
        let node = self.version().values[at].node;
        if matches!(self.program().node(node).kind, Kind::Column { .. }) {
            return false;
        }
        let of_above = self.value(at, 0, node, parent, level + 1);
        tree.from.push(of_above);
        true
    }

    fn given_text(&self, given: &Given) -> String {
        let end = match &given.value {
            GivenValue::Unsaid => given.name.span,
            GivenValue::Quantity(signed) => signed.span,
            GivenValue::Label { label, .. } => label.span,
            GivenValue::Of { choice, .. } => choice.span,
            GivenValue::Text(text) => return format!("{} \"{}\"", given.name.text, text.text),
            GivenValue::Asked(asked) => {
                return match &asked.unanswered {
                    Some((value, _)) => format!(
                        "{} asked, unanswered {}",
                        given.name.text,
                        self.text_of(value.span)
                    ),
                    None => format!("{} asked", given.name.text),
                };
            }
            GivenValue::Truth(yes) => {
                return format!("{} {}", given.name.text, if *yes { "yes" } else { "no" });
            }
        };
        self.text_of(given.name.span.to(end))
    }

    fn given(&mut self, tree: &mut Tree, value: &ValueDef, given: &Given) {
        tree.rule = Some(format!("given {}", self.given_text(given)));
        tree.fact(
            "layer",
            layer_word(self.layer_of(given.name.span.file, value, 0)),
        );
        if let Some((low, high)) = &given.range {
            tree.fact(
                "range",
                format!("{} to {}", self.text_of(low.span), self.text_of(high.span)),
            );
        }
        tree.fact(
            "source",
            given
                .remarks
                .source
                .clone()
                .unwrap_or_else(|| "none".to_owned()),
        );
        tree.fact("note", given.remarks.note.clone().unwrap_or_default());
    }

    /// The node of the line that a decision takes, also where other rows are decided one by one.
    fn line_of(&self, value: &ValueDef, node: NodeId) -> Option<NodeId> {
        let exceptions = self.version().exceptions.iter();
        let before = exceptions
            .filter(|e| e.name == value.name)
            .flat_map(|e| &e.replaced)
            .filter(|(table, _)| value.grain == Grain::Table(*table));
        let mut nodes = std::iter::once(node).chain(before.map(|(_, node)| *node));
        nodes.find_map(|node| {
            let Kind::LineLabel { line, .. } = self.program().node(node).kind else {
                return None;
            };
            Some(line)
        })
    }

    /// The line of a decision that holds, its reason, and what its condition reads.
    fn decision(
        &mut self,
        tree: &mut Tree,
        value: &ValueDef,
        decide: &'a Decide,
        node: NodeId,
        here: Here<'_>,
        deep: bool,
    ) {
        let Some(line) = self.line_of(value, node) else {
            return;
        };
        let cell = self.cell(line, here.row);
        let Cell::Label(line) = cell else {
            tree.rule = Some(self.text_of(decide.span));
            return;
        };
        let line = usize::from(line);
        if let ValueKind::Decide(def) = &value.kind
            && let Some(def) = def.lines.get(line)
        {
            tree.rule = Some(self.text_of(def.span));
            tree.place = Some(def.span.into());
            let because = self.filled(&def.because, here.row);
            tree.fact("because", because);
            tree.fact("rests on", def.rests_on.clone().unwrap_or_default());
        }
        match &decide.body {
            DecideBody::Lines(lines) => {
                tree.fact("taken", format!("line {} of {}", line + 1, lines.len()));
                // What an `otherwise` rests on is that no line above it holds.
                let when: Vec<&'a Expr> = match lines.get(line).and_then(|l| l.when.as_ref()) {
                    Some(when) => vec![when],
                    None => lines.iter().filter_map(|l| l.when.as_ref()).collect(),
                };
                for when in when {
                    self.below(tree, when, here, deep);
                }
            }
            DecideBody::Table(rows) => {
                tree.fact(
                    "taken",
                    format!("row {} of {}", line + 1, rows.len().saturating_sub(1)),
                );
                let (Some(heads), Some(cells)) = (rows.first(), rows.get(line + 1)) else {
                    return;
                };
                for (head, cell) in heads.iter().zip(cells) {
                    if head.text == decide.name.text {
                        break;
                    }
                    if cell.text == "any" {
                        continue;
                    }
                    if deep {
                        tree.deeper = true;
                        continue;
                    }
                    if let Some(at) = self.value_for(&head.text, here.grain)
                        && let Some(node) = self.version().values.get(at).map(|v| v.node)
                    {
                        let read = self.read(at, node, here);
                        tree.from.extend(read);
                    }
                }
            }
        }
    }

    /// A text of a sheet with values put in.
    fn filled(&mut self, template: &Template, row: usize) -> String {
        for piece in &template.pieces {
            if let Piece::Value { node, .. } = piece
                && self.results.column(*node).is_none()
            {
                self.missing.insert(*node);
            }
        }
        template_text(self.program(), template, self.results, row)
    }
}
