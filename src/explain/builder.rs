//! What is shared by everything that grows a tree: the job, the values that were replayed, and those still to be.
//!
//! A tree is grown from the values at hand; what is not at hand is noted as missing, replayed, and the tree grown again.

use super::sheets::{Index, squeezed};
use super::tree::{Tree, What};
use super::{Options, Subject};

use crate::diagnostics::{Sources, Span};
use crate::eval::{Cell, Results};
use crate::number::Exact;
use crate::program::{Grain, NodeId, Program, Ty, Version};
use crate::show::cell_text;
use crate::table::Absence;
use crate::units::UnitExpr;
use foldhash::HashMap;
use std::collections::{BTreeSet, HashSet};

/// Grows one tree.
pub(super) struct Builder<'a> {
    pub(super) subject: &'a Subject<'a>,
    pub(super) index: &'a Index<'a>,
    /// What each expression of the sheets became in the version.
    pub(super) nodes: &'a HashMap<Span, NodeId>,
    pub(super) results: &'a Results,
    pub(super) options: Options,
    /// Nodes whose values are not at hand.
    pub(super) missing: BTreeSet<NodeId>,
    /// Named values that are in full in the tree: value, stage of its changes, row.
    pub(super) shown: HashSet<(usize, usize, usize)>,
}

/// Where an expression is calculated.
#[derive(Debug, Clone, Copy)]
pub(super) struct Here<'x> {
    pub(super) grain: Grain,
    pub(super) row: usize,
    /// The value whose change is being read, and the number of that change: its own name means what it replaces.
    pub(super) own: Option<(usize, usize)>,
    /// The unit of the rule, for parts of the same kind.
    pub(super) unit: Option<&'x UnitExpr>,
    /// How deep in the tree.
    pub(super) level: usize,
}

impl<'a> Builder<'a> {
    pub(super) fn program(&self) -> &'a Program {
        &self.subject.checked.program
    }

    pub(super) fn sources(&self) -> &'a Sources {
        &self.subject.loaded.sources
    }

    pub(super) fn version(&self) -> &'a Version {
        self.subject.version()
    }

    pub(super) fn node_at(&self, span: Span) -> Option<NodeId> {
        self.nodes.get(&span).copied()
    }

    pub(super) fn text_of(&self, span: Span) -> String {
        squeezed(self.sources(), span)
    }

    /// The value of a node on a row of its grain; blank, and noted as missing, while it is not at hand.
    pub(super) fn cell(&mut self, node: NodeId, row: usize) -> Cell {
        if self.results.column(node).is_none() {
            self.missing.insert(node);
            return Cell::Absent(Absence::Blank);
        }
        self.results.value(node, row)
    }

    /// The number of a node on a row, in base units; none where it is no number or not known.
    pub(super) fn number(&mut self, node: NodeId, row: usize) -> Option<Exact> {
        match self.cell(node, row) {
            Cell::Number(n) => Some(n),
            Cell::Truth(_) | Cell::Label(_) | Cell::Text(_) | Cell::Absent(_) | Cell::Fault(_) => {
                None
            }
        }
    }

    /// A value as people say it. The unit counts only where it is one of the value's kind.
    pub(super) fn shown(&mut self, node: NodeId, row: usize, unit: Option<&UnitExpr>) -> String {
        let cell = self.cell(node, row);
        let unit = unit.filter(
            |u| matches!(&self.program().node(node).ty, Ty::Number(n) if n.dim == *u.dim()),
        );
        cell_text(self.program(), node, &cell, unit)
    }

    /// A tree with the value of a node on a row. Irrational values are not calculated before they are rounded.
    pub(super) fn tree_of(
        &mut self,
        what: What,
        name: impl Into<String>,
        node: NodeId,
        row: usize,
        unit: Option<&UnitExpr>,
    ) -> Tree {
        if self.is_irrational(node) {
            return Tree::new(what, name).valued("digits without end", None);
        }
        let text = self.shown(node, row, unit);
        let number = self.number(node, row);
        Tree::new(what, name).valued(text, number)
    }

    pub(super) fn is_irrational(&self, node: NodeId) -> bool {
        matches!(&self.program().node(node).ty, Ty::Number(n) if n.real)
    }

    /// Whether a level is beyond the depth asked for.
    pub(super) fn too_deep(&self, level: usize) -> bool {
        level >= self.options.depth.min(super::MOST_LEVELS)
    }
}
