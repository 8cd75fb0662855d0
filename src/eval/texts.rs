//! Texts of a run: nodes whose texts meet (are compared, or chosen between) share one numbering.
//!
//! Knows which nodes carry texts and where those come from. Must not know what the texts mean.

use crate::program::{Kind, NodeId, Program, Ty};
use crate::table::{Table, Texts, Values};
use foldhash::{HashMap, HashMapExt};
use std::sync::Arc;

/// Which numbering each text node uses, and where its texts are in it.
#[derive(Debug, Default)]
pub(super) struct Classes {
    /// Index into `classes`, for nodes that carry texts.
    of_node: HashMap<NodeId, usize>,
    classes: Vec<Class>,
    /// Numbers of the texts of columns that do not give their class its numbering.
    renumbered: HashMap<(u16, u16, usize), Vec<u32>>,
}

#[derive(Debug, Default)]
struct Class {
    /// Number of distinct texts.
    len: usize,
    /// Numbers of all texts but those only the first column has.
    known: HashMap<String, u32>,
    /// Every text, when a result shows them.
    texts: Option<Arc<Texts>>,
}

/// Where the texts of a class come from.
#[derive(Default)]
struct Sources<'a> {
    columns: Vec<(u16, u16)>,
    written: Vec<&'a str>,
    shown: bool,
}

impl Classes {
    /// Numbers the texts of the needed nodes. `shown` are the nodes whose texts a result will read.
    #[expect(
        clippy::wildcard_enum_match_arm,
        reason = "every other kind takes its texts from its children"
    )]
    pub(super) fn new(
        program: &Program,
        tables: &[&Table],
        needed: &[NodeId],
        shown: &[NodeId],
    ) -> Classes {
        let text = |id: NodeId| matches!(program.node(id).ty, Ty::Text);
        let mut joined = Joined::default();
        for id in needed.iter().copied() {
            let kind = &program.node(id).kind;
            match kind {
                Kind::Same(a, b) if text(*a) => joined.join(*a, *b),
                Kind::Lookup { .. } | Kind::Up { .. } | Kind::Count { .. } => {}
                Kind::GroupKey { group, key } if text(id) => {
                    if let Some(source) = program
                        .groups
                        .get(*group)
                        .and_then(|g| g.keys.get(usize::from(*key)))
                    {
                        joined.join(id, *source);
                    }
                }
                _ if text(id) => kind
                    .children()
                    .into_iter()
                    .filter(|child| text(*child))
                    .for_each(|child| joined.join(id, child)),
                _ => {}
            }
        }
        let mut classes = Classes::default();
        let mut roots: HashMap<NodeId, usize> = HashMap::new();
        let mut sources: Vec<Sources<'_>> = Vec::new();
        for id in needed.iter().copied().filter(|id| text(*id)) {
            let root = joined.root(id);
            let class = *roots.entry(root).or_insert_with(|| {
                sources.push(Sources::default());
                sources.len() - 1
            });
            classes.of_node.insert(id, class);
            match &program.node(id).kind {
                Kind::Column { table, column } => sources[class].columns.push((table.0, *column)),
                Kind::Text(text) => sources[class].written.push(text),
                Kind::Lookup { table, column, .. } => {
                    let values = program
                        .lookups
                        .get(*table)
                        .and_then(|l| l.values.get(usize::from(*column)));
                    sources[class].written.extend(
                        values
                            .iter()
                            .flat_map(|v| v.texts.iter().map(String::as_str)),
                    );
                }
                _ => {}
            }
        }
        for id in needed.iter().copied() {
            if let Kind::Lookup { table, keys, .. } = &program.node(id).kind
                && let Some(lookup) = program.lookups.get(*table)
            {
                for (node, key) in keys.iter().zip(&lookup.keys) {
                    if let Some(class) = classes.of_node.get(node) {
                        sources[*class].written.extend(key.cells.iter().filter_map(
                            |cell| match cell {
                                crate::program::KeyCell::Text(text) => Some(text.as_str()),
                                crate::program::KeyCell::Any
                                | crate::program::KeyCell::Number(_)
                                | crate::program::KeyCell::Band { .. }
                                | crate::program::KeyCell::Truth(_) => None,
                            },
                        ));
                    }
                }
            }
        }
        for id in shown {
            if let Some(class) = classes.of_node.get(id) {
                sources[*class].shown = true;
            }
        }
        for (index, from) in sources.iter().enumerate() {
            classes.number(tables, index, from);
        }
        classes
    }

    /// Numbers one class: the first column keeps its own numbers, what others add comes after.
    fn number(&mut self, tables: &[&Table], index: usize, from: &Sources<'_>) {
        let pool = |(table, column): (u16, u16)| -> Option<&Texts> {
            match tables
                .get(usize::from(table))
                .and_then(|t| t.columns.get(usize::from(column)))
                .map(|c| &c.values)
            {
                Some(Values::Text { pool, .. }) => Some(pool),
                _ => None,
            }
        };
        let mut class = Class::default();
        let (first, others) = match from.columns.split_first() {
            Some((first, others)) => (pool(*first), others),
            None => (None, &[][..]),
        };
        let others: Vec<(u16, u16)> = others
            .iter()
            .copied()
            .filter(|c| Some(c) != from.columns.first())
            .collect();
        let added: Vec<&str> = others
            .iter()
            .flat_map(|c| pool(*c).into_iter().flat_map(Texts::iter))
            .chain(from.written.iter().copied())
            .collect();
        let mut known: HashMap<&str, Option<u32>> =
            added.iter().map(|text| (*text, None)).collect();
        let mut texts = Texts::default();
        let mut len = 0u32;
        for text in first.into_iter().flat_map(Texts::iter) {
            if !known.is_empty()
                && let Some(number) = known.get_mut(text)
            {
                number.get_or_insert(len);
            }
            if from.shown {
                texts.push(text);
            }
            len += 1;
        }
        for text in added {
            if let Some(number @ None) = known.get_mut(text) {
                *number = Some(len);
                if from.shown {
                    texts.push(text);
                }
                len += 1;
            }
        }
        class.len = crate::ids::at(len);
        class.texts = from.shown.then(|| Arc::new(texts));
        class.known = known
            .into_iter()
            .filter_map(|(text, number)| Some((text.to_owned(), number?)))
            .collect();
        for column in others {
            let numbers = pool(column)
                .into_iter()
                .flat_map(Texts::iter)
                .map(|text| class.known.get(text).copied().unwrap_or(0))
                .collect();
            self.renumbered.insert((column.0, column.1, index), numbers);
        }
        self.classes.push(class);
    }

    fn class(&self, node: NodeId) -> Option<&Class> {
        self.of_node
            .get(&node)
            .and_then(|index| self.classes.get(*index))
    }

    /// The number of a text that the program writes, for a node; 0 when the node carries no such text.
    pub(super) fn number_of(&self, node: NodeId, text: &str) -> Option<u32> {
        self.class(node)?.known.get(text).copied()
    }

    /// How many texts the class of a node has.
    pub(super) fn len(&self, node: NodeId) -> usize {
        self.class(node).map_or(0, |class| class.len)
    }

    /// The numbers that the texts of a column have for a node; `None` when they are the column's own.
    pub(super) fn renumbering(&self, node: NodeId, table: u16, column: u16) -> Option<&[u32]> {
        let index = self.of_node.get(&node)?;
        self.renumbered
            .get(&(table, column, *index))
            .map(Vec::as_slice)
    }

    /// The texts of a node, for results.
    pub(super) fn texts(&self, node: NodeId) -> Option<Arc<Texts>> {
        self.class(node)?.texts.clone()
    }
}

/// Sets of nodes that are joined step by step.
#[derive(Default)]
struct Joined {
    above: HashMap<NodeId, NodeId>,
}

impl Joined {
    fn root(&mut self, id: NodeId) -> NodeId {
        let mut at = id;
        while let Some(above) = self.above.get(&at).copied() {
            if let Some(higher) = self.above.get(&above).copied() {
                self.above.insert(at, higher); // halves the way for the next time
            }
            at = above;
        }
        at
    }

    fn join(&mut self, a: NodeId, b: NodeId) {
        let (a, b) = (self.root(a), self.root(b));
        if a != b {
            self.above.insert(a.max(b), a.min(b));
        }
    }
}
