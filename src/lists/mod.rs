//! Lists and papers of a worked job: rows gathered, ordered, added up, and put on papers.
//!
//! Knows where the values of a row stand. What a reader may see was checked before; must not know any file format.

mod gather;
mod papers;
mod recheck;
mod table;

pub use papers::{Made, papers};

use crate::program::{
    ListDef, ListKey, ListShows, NodeId, PaperBlockDef, Program, ValueKind, Version,
};
use crate::takeoff;

/// The nodes that must be worked before [`papers`].
pub fn wanted(program: &Program, version: &Version) -> Vec<NodeId> {
    let mut nodes = takeoff::wanted_parts(program, version);
    let takes = version.takes.iter().map(|t| &t.plan);
    nodes.extend(
        takes
            .flat_map(|plan| [Some(plan.total), plan.by_row])
            .flatten(),
    );
    for list in &version.lists {
        of_list(list, version, &mut nodes);
    }
    for paper in &version.papers {
        paper.title.nodes(&mut nodes);
        for block in &paper.blocks {
            match block {
                PaperBlockDef::Heading(text) | PaperBlockDef::Text(text) => text.nodes(&mut nodes),
                PaperBlockDef::List(_, Some(key)) => of_key(key, &mut nodes),
                PaperBlockDef::List(_, None)
                | PaperBlockDef::Cautions
                | PaperBlockDef::Signs(_)
                | PaperBlockDef::PageBreak => {}
            }
        }
    }
    nodes.sort_unstable();
    nodes.dedup();
    nodes
}

fn of_list(list: &ListDef, version: &Version, nodes: &mut Vec<NodeId>) {
    for column in &list.columns {
        match &column.shows {
            ListShows::Key(key) => of_key(key, nodes),
            ListShows::Reason(id) | ListShows::Basis(id) => {
                let value = version.values.get(id.index());
                if let Some(ValueKind::Decide(decide)) = value.map(|v| &v.kind) {
                    nodes.push(decide.line);
                    decide.lines.iter().for_each(|l| l.because.nodes(nodes));
                }
            }
            ListShows::Tick | ListShows::Room => {}
        }
    }
    nodes.extend(list.filter.iter().map(|(_, node)| *node));
    list.groups.iter().for_each(|(key, _)| of_key(key, nodes));
    list.sorts.iter().for_each(|(key, ..)| of_key(key, nodes));
}

fn of_key(key: &ListKey, nodes: &mut Vec<NodeId>) {
    if let ListKey::Formula(list) = key {
        nodes.extend(list.iter().map(|(_, node)| *node));
    }
}
