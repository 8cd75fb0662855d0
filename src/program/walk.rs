//! The walk over what nodes are calculated from.

use super::Program;
use super::node::{Node, NodeId};
use foldhash::HashSet;
use smallvec::SmallVec;

/// Nodes that a walk goes on to.
pub type Next = SmallVec<[NodeId; 4]>;

impl Program {
    /// These nodes and all that they are calculated from, each once.
    pub fn below(
        &self,
        roots: impl IntoIterator<Item = NodeId>,
    ) -> impl Iterator<Item = (NodeId, &Node)> {
        self.walk(roots, |_, node| node.kind.children())
    }

    /// These nodes and what the walk goes on to from each, each once. Never by recursion: sheets may be deep.
    pub fn walk<'p>(
        &'p self,
        roots: impl IntoIterator<Item = NodeId>,
        mut next: impl FnMut(NodeId, &'p Node) -> Next,
    ) -> impl Iterator<Item = (NodeId, &'p Node)> {
        let mut todo: Vec<NodeId> = roots.into_iter().collect();
        let mut seen = HashSet::default();
        std::iter::from_fn(move || {
            let id = loop {
                let id = todo.pop()?;
                if seen.insert(id) {
                    break id;
                }
            };
            let node = self.node(id);
            todo.extend(next(id, node));
            Some((id, node))
        })
    }
}
