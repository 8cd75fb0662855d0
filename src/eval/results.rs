//! What a run gives: the columns of the wanted nodes, the groups, and what roll-ups left out.
//!
//! Must not know how they were calculated.

use super::Fault;
use super::column::Column;
use super::grain::Groups;
use super::rollup::LeftOut;
use crate::number::Exact;
use crate::program::{GroupId, NodeId};
use crate::table::{Absence, SchemaValue};
use foldhash::HashMap;
use std::sync::Arc;

/// The value of a node on a row, or why there is none.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Cell {
    /// A number in base units; of a day or moment, the days since 1970-01-01.
    Number(Exact),
    /// Yes or no.
    Truth(bool),
    /// Index of a label of the node's choice, or of a line of a decision.
    Label(u16),
    /// A text.
    Text(String),
    /// Not known, and why; never [`Absence::Present`].
    Absent(Absence),
    /// Failed.
    Fault(Fault),
}

impl From<SchemaValue> for Cell {
    fn from(value: SchemaValue) -> Cell {
        match value {
            SchemaValue::Number(n) => Cell::Number(n),
            SchemaValue::Text(text) => Cell::Text(text),
            SchemaValue::YesNo(truth) => Cell::Truth(truth),
            SchemaValue::Choice(label) => Cell::Label(label),
        }
    }
}

/// The columns of the wanted nodes.
#[derive(Debug, Default)]
pub struct Results {
    pub(super) columns: HashMap<NodeId, Column>,
    pub(super) groups: Vec<Option<Arc<Groups>>>,
    pub(super) left_out: HashMap<NodeId, LeftOut>,
}

impl Results {
    /// The column of a wanted node, one value for each row of its grain; constants and values of the job have one row.
    pub fn column(&self, node: NodeId) -> Option<&Column> {
        self.columns.get(&node)
    }

    /// The groups of a grouping that a wanted node needed.
    pub fn groups(&self, group: GroupId) -> Option<&Groups> {
        self.groups.get(group.index()).and_then(Option::as_deref)
    }

    /// The value of a wanted node on a row of its grain; blank when the node was not wanted or the row is beyond the end.
    /// A column of one row (a constant, a value of the job) has that value on every row.
    pub fn value(&self, node: NodeId, row: usize) -> Cell {
        match self.columns.get(&node) {
            Some(column) => column.get(if column.len() == 1 { 0 } else { row }),
            None => Cell::Absent(Absence::Blank),
        }
    }

    /// The number of a wanted node on a row, where it is there and not zero.
    pub fn nonzero(&self, node: NodeId, row: usize) -> Option<Exact> {
        match self.value(node, row) {
            Cell::Number(n) if !n.is_zero() => Some(n),
            Cell::Number(_)
            | Cell::Truth(_)
            | Cell::Label(_)
            | Cell::Text(_)
            | Cell::Absent(_)
            | Cell::Fault(_) => None,
        }
    }

    /// For a wanted node that goes up: the rows of its operand's grain that it left out because they are missing
    /// there, in order, and why. `None` for other nodes.
    pub fn left_out(&self, node: NodeId) -> Option<&[(u32, Absence)]> {
        self.left_out.get(&node).map(Vec::as_slice)
    }
}
