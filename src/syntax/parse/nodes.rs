//! What is in a node of the grammar, by its rule.

use super::{Node, Rule};

/// The first node of a rule in this one.
pub(super) fn one<'a>(node: &Node<'a>, rule: Rule) -> Option<Node<'a>> {
    all(node, rule).next()
}

/// All nodes of a rule in this one, in their order.
pub(super) fn all<'a>(node: &Node<'a>, rule: Rule) -> impl Iterator<Item = Node<'a>> + use<'a> {
    node.clone()
        .into_inner()
        .filter(move |p| p.as_rule() == rule)
}

/// Whether a node of a rule is in this one.
pub(super) fn has(node: &Node<'_>, rule: Rule) -> bool {
    one(node, rule).is_some()
}
