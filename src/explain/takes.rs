//! Take-off lines: their rule, and the openings, groups or the job they are taken for.

use super::builder::{Builder, Here};
use super::sheets::Written;
use super::tree::{Tree, What};
use crate::eval::Cell;
use crate::number::Exact;
use crate::program::{Grain, ResourceId, TakeDef};
use crate::syntax::tree::Part;
use crate::units::UnitExpr;

impl<'a> Builder<'a> {
    /// A take line over the whole job.
    pub(super) fn take(&mut self, at: usize, level: usize) -> Tree {
        let Some(take) = self.version().takes.get(at) else {
            return Tree::new(What::Take, "");
        };
        let unit = self.unit_of(take);
        let mut tree = self.take_head(take, take.plan.total, 0, unit);
        tree.deeper = self.too_deep(level);
        if tree.deeper {
            return tree;
        }
        if matches!(take.grain, Grain::Job | Grain::Const) {
            self.take_row(take, 0, level, &mut tree);
            return tree;
        }
        let mut parts = Vec::new();
        let mut unknown = Vec::new();
        for row in 0..self.rows(take.grain) {
            match self.cell(take.amount, row) {
                Cell::Number(n) => parts.push((row, n)),
                Cell::Absent(_) => unknown.push(row),
                Cell::Truth(_) | Cell::Label(_) | Cell::Text(_) | Cell::Fault(_) => {}
            }
        }
        if !unknown.is_empty() {
            let marks = self.some_marks(take.grain, &unknown);
            tree.fact("left out, unknown", marks);
        }
        self.sum_parts(
            &mut tree,
            parts,
            take.amount,
            take.grain,
            unit,
            |b, row, part| b.take_row(take, row, level + 1, part),
        );
        tree
    }

    fn unit_of(&self, take: &TakeDef) -> Option<&'a UnitExpr> {
        self.version().resources.get(take.resource).map(|r| &r.unit)
    }

    fn take_head(
        &mut self,
        take: &TakeDef,
        node: crate::program::NodeId,
        row: usize,
        unit: Option<&UnitExpr>,
    ) -> Tree {
        let resource = self
            .version()
            .resources
            .get(take.resource)
            .map_or("", |r| r.name.as_str());
        let phase = self
            .program()
            .phases
            .get(take.phase)
            .map_or("", String::as_str);
        let part = take.part.and_then(|at| self.version().parts.get(at));
        let name = match part {
            Some(part) => format!("part {} of {resource} for {phase}", part.name),
            None => format!("take {resource} for {phase}"),
        };
        let mut tree = self.tree_of(What::Take, name, node, row, unit);
        // An amount that is unknown everywhere adds nothing.
        tree.number = Some(tree.number.unwrap_or_default());
        tree.rule = Some(self.text_of(take.span));
        tree.place = Some(take.span.into());
        for span in &take.sent {
            tree.fact("sent here by", self.text_of(*span));
        }
        tree
    }

    /// What a take is calculated from on a row of its own grain.
    fn take_row(&mut self, take: &TakeDef, row: usize, level: usize, tree: &mut Tree) {
        let written = match self.index.at(take.span) {
            Some(written @ (Written::Take(_) | Written::Part(_))) => written,
            _ => return,
        };
        if self.too_deep(level) {
            tree.deeper = true;
            return;
        }
        let here = Here {
            grain: take.grain,
            row,
            own: None,
            unit: self.unit_of(take),
            level,
        };
        match written {
            Written::Take(written) => {
                if let Some(when) = &written.when {
                    self.walk(when, here, &mut tree.from);
                }
                self.walk(&written.amount, here, &mut tree.from);
            }
            Written::Part(written) => self.part_row(take, written, here, tree),
            Written::Given(_) | Written::Rule(_) | Written::Decide(_) | Written::Change(_) => {}
        }
    }

    /// How many pieces a part has on a row, how large, and what that is calculated from.
    fn part_row(&mut self, take: &TakeDef, written: &'a Part, here: Here<'_>, tree: &mut Tree) {
        let Some(part) = take
            .part
            .and_then(|at| self.version().parts.get(at))
            .cloned()
        else {
            return;
        };
        let count = self.shown(part.count, here.row, None);
        tree.fact("pieces", count);
        for size in &part.sizes {
            let mut text = self.shown(size.finished, here.row, None);
            if size.rough != size.finished {
                text = format!(
                    "{text} finished, {} rough",
                    self.shown(size.rough, here.row, None)
                );
            }
            tree.fact(size.side.word(), text);
        }
        for (word, node) in [
            ("member", part.member),
            ("treatment", part.treatment),
            ("profile", part.profile),
        ] {
            if let Some(node) = node {
                let text = self.shown(node, here.row, None);
                tree.fact(word, text);
            }
        }
        if let Some(when) = &written.when {
            self.walk(when, here, &mut tree.from);
        }
        self.walk(&written.count, here, &mut tree.from);
        for size in &written.sizes {
            let rough = size.rough.as_ref().unwrap_or(&size.finished);
            self.walk(rough, here, &mut tree.from);
        }
    }

    /// A resource on a row of the main table: what each take line takes there.
    pub(super) fn resource_at(
        &mut self,
        id: ResourceId,
        grain: Grain,
        row: usize,
        level: usize,
    ) -> Tree {
        let Some(def) = self.version().resources.get(id) else {
            return Tree::new(What::Resource, "");
        };
        let mut tree = Tree::new(What::Resource, format!("{}, net", def.name));
        tree.at = self.mark(grain, row);
        tree.place = Some(def.span.into());
        let mut sum = Some(Exact::ZERO);
        for take in self.version().takes.iter().filter(|t| t.resource == id) {
            let Some(node) = take.plan.by_row else {
                continue;
            };
            let mut part = self.take_head(take, node, row, Some(&def.unit));
            sum = sum.and_then(|s| s.add(part.number.as_ref()?).ok());
            if part.number.as_ref().is_none_or(Exact::is_zero) {
                continue;
            }
            part.at = self.mark(grain, row);
            if take.grain == grain {
                self.take_row(take, row, level + 1, &mut part);
            } else if let Some(above) = self.row_up(grain, row, take.grain) {
                let whole = self.shown(take.amount, above, Some(&def.unit));
                let of = self
                    .mark(take.grain, above)
                    .unwrap_or_else(|| "the whole job".to_owned());
                part.fact("its share of", format!("{whole} for {of}"));
                self.take_row(take, above, level + 1, &mut part);
            } else {
                let mut rows = Vec::new();
                for below in self.rows_below(take.grain, (grain, row)) {
                    if let Cell::Number(n) = self.cell(take.amount, below) {
                        rows.push((below, n));
                    }
                }
                if rows.is_empty() {
                    part.fact("taken for", "rows below it");
                }
                self.sum_parts(
                    &mut part,
                    rows,
                    take.amount,
                    take.grain,
                    Some(&def.unit),
                    |b, row, part| b.take_row(take, row, level + 1, part),
                );
            }
            tree.addends.push(part);
        }
        tree.text = sum.as_ref().map_or_else(String::new, |n| {
            crate::units::format_quantity(
                n,
                &def.unit,
                &self.program().nouns,
                crate::units::Style::default(),
            )
        });
        tree.number = sum;
        tree
    }
}
