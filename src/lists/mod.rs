//! Lists and papers of a worked job: rows gathered, ordered, added up, and put on papers.
//!
//! Knows where the values of a row are. What a reader may see was checked before; must not know any file format.
//!
//! ```
//! # fn worked() -> ovolo::session::Session {
//! #     include!(concat!(env!("CARGO_MANIFEST_DIR"), "/tests/docs/worked.rs"))
//! # }
//! use ovolo::eval::{Options, run};
//! use ovolo::lists::{Made, wanted, whole_lists};
//!
//! let session = worked(); // a small job in memory, with a list of its windows
//! let job = session.run().expect("it is worked");
//! let (program, tables) = (&job.job.checked.program, job.survey.inputs().tables);
//! let version = &program.versions[0];
//! let nodes = wanted(program, version);
//! let results = run(program, &job.survey.inputs(), &nodes, &Options::default()).expect("it runs");
//! let made = Made::new(program, version, &tables, &results, &job.worked.estimate);
//! assert_eq!(whole_lists(&made).expect("they add up").len(), 1);
//! ```

// A match over kinds lists them all, so that a new kind is noticed everywhere, and no conversion fails silently.
#![warn(
    clippy::wildcard_enum_match_arm,
    clippy::match_wildcard_for_single_variants
)]
#![warn(clippy::as_conversions)]

mod alike;
mod answers;
mod bid;
mod bought;
mod by_label;
mod cautions;
mod charted;
mod cut_figure;
mod cut_marks;
pub mod cuts;
mod dated;
mod draw;
mod entries;
mod gather;
mod hand;
mod offer;
mod papers;
mod places;
mod recheck;
mod rows;
mod table;
mod tags;
mod weeks;

pub use answers::{Answers, Question, form, questions, read};
pub use charted::Studies;
pub use papers::{Made, is_of, papers, photographs, whole_lists};
pub use rows::ListRows;

use crate::program::{
    DrawDef, Grain, ItemBy, ListDef, ListKey, ListOver, ListShows, NodeId, PaperBlockDef, PaperDef,
    Program, ValueKind, Version,
};
use crate::syntax::tree::Chart;
use crate::takeoff;

/// The nodes that must be calculated before [`papers`].
pub fn wanted(program: &Program, version: &Version) -> Vec<NodeId> {
    let mut nodes = takeoff::wanted_parts(program, version);
    nodes.extend(member_reasons(version));
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
        of_blocks(program, &paper.blocks, &mut nodes);
    }
    if version.lists.iter().any(|l| l.over == ListOver::Answers) {
        answers::wanted(version, &mut nodes);
    }
    // Which rows they hold at is asked row by row.
    let warns = |block: &PaperBlockDef| matches!(block, PaperBlockDef::Cautions { .. });
    if version.papers.iter().any(|p| has(p, warns)) {
        nodes.extend(version.cautions.iter().filter_map(|c| c.when));
    }
    nodes.sort_unstable();
    nodes.dedup();
    nodes
}

/// Whether a paper prints alternates, so that they must be estimated too.
pub fn asks_alternates(version: &Version) -> bool {
    let mut lists = version.lists.iter();
    lists.any(|l| l.over == ListOver::Alternates) || draws(version, None, Chart::Alternates)
}

/// Whether a paper, the one that is asked for or any, draws which givens move the total most.
pub fn asks_effects(version: &Version, asked: Option<&str>) -> bool {
    draws(version, asked, Chart::Effects)
}

/// Whether a paper, the one that is asked for or any, draws the cost over the years.
pub fn asks_years(version: &Version, asked: Option<&str>) -> bool {
    draws(version, asked, Chart::Years)
}

fn draws(version: &Version, asked: Option<&str>, chart: Chart) -> bool {
    let is = |block: &PaperBlockDef| matches!(block, PaperBlockDef::Draw(DrawDef::Chart(c, _)) if *c == chart);
    let mut papers = version.papers.iter();
    papers.any(|p| asked.is_none_or(|asked| is_of(p, asked)) && has(p, is))
}

/// Whether some block of a paper, inner ones included, is such a one.
fn has(paper: &PaperDef, is: impl Fn(&PaperBlockDef) -> bool) -> bool {
    PaperBlockDef::all(&paper.blocks).into_iter().any(is)
}

/// Whether a paper, the one that is asked for or any, prints what the cut plans of the job use.
pub fn asks_plans(version: &Version, asked: Option<&str>) -> bool {
    let mut papers = version.papers.iter();
    papers.any(|p| {
        asked.is_none_or(|asked| is_of(p, asked)) && has(p, |block| of_plans(version, block))
    })
}

fn of_plans(version: &Version, block: &PaperBlockDef) -> bool {
    matches!(block, PaperBlockDef::Draw(DrawDef::Cuts)) || is_over(version, block, ListOver::Picks)
}

/// Whether a block is a list of these rows.
fn is_over(version: &Version, block: &PaperBlockDef, over: ListOver) -> bool {
    let PaperBlockDef::List(at, ..) = block else {
        return false;
    };
    version.lists.get(*at).is_some_and(|l| l.over == over)
}

/// Whether a paper of a version compares the job with an earlier issue.
pub fn asks_changes(version: &Version) -> bool {
    version.papers.iter().any(|p| of_changes(version, p))
}

/// Whether a paper compares the job with an earlier issue.
pub fn of_changes(version: &Version, paper: &PaperDef) -> bool {
    paper.blocks.iter().any(|block| {
        matches!(block, PaperBlockDef::OfferOfChanges) || is_over(version, block, ListOver::Changes)
    })
}

fn of_blocks(program: &Program, blocks: &[PaperBlockDef], nodes: &mut Vec<NodeId>) {
    for block in blocks {
        match block {
            PaperBlockDef::Heading(text) | PaperBlockDef::Text(text) => text.nodes(nodes),
            PaperBlockDef::List(_, keys, _) => keys.iter().for_each(|key| of_key(key, nodes)),
            PaperBlockDef::Photograph(number) => nodes.push(*number),
            PaperBlockDef::Draw(draw) => match draw {
                DrawDef::Chart(..) | DrawDef::Calendar | DrawDef::Cuts => {}
                DrawDef::Sash {
                    at, within, soft, ..
                } => {
                    nodes.extend(at.iter().chain(within));
                    nodes.extend(soft.iter().flat_map(|s| [s.on, s.from, s.long, s.broad]));
                }
                DrawDef::Wall {
                    along,
                    up,
                    within,
                    letter,
                    ..
                } => {
                    nodes.extend([*along, *up]);
                    nodes.extend(within.iter().chain(letter));
                }
            },
            PaperBlockDef::Each(each) => {
                if let Grain::Group(group) = each.grain {
                    nodes.extend(program.groups.get(group).into_iter().flat_map(|g| &g.keys));
                }
                nodes.extend(each.filter);
                each.sorts.iter().for_each(|(key, ..)| of_key(key, nodes));
                of_blocks(program, &each.blocks, nodes);
            }
            PaperBlockDef::Offer
            | PaperBlockDef::OfferOfChanges
            | PaperBlockDef::Cautions { .. }
            | PaperBlockDef::Boxes(..)
            | PaperBlockDef::Rooms(_)
            | PaperBlockDef::Signs(_)
            | PaperBlockDef::PageBreak => {}
        }
    }
}

/// What the reasons of members read.
fn member_reasons(version: &Version) -> Vec<NodeId> {
    let mut nodes = Vec::new();
    for part in &version.parts {
        if let Some(decide) = part.treatment.and_then(|node| decision(version, node)) {
            decide.reason_nodes(&mut nodes);
        }
    }
    nodes
}

/// The decision that a node is the label of.
pub(crate) fn decision(version: &Version, node: NodeId) -> Option<&crate::program::DecideDef> {
    version.values.iter().find_map(|v| match &v.kind {
        ValueKind::Decide(decide) if v.node == node => Some(decide),
        ValueKind::Column { .. }
        | ValueKind::Given { .. }
        | ValueKind::Rule
        | ValueKind::Decide(_) => None,
    })
}

fn of_list(list: &ListDef, version: &Version, nodes: &mut Vec<NodeId>) {
    if let ListOver::Items(ItemBy::Label(label)) = list.over {
        by_label::wanted(version, label, nodes);
    }
    for column in &list.columns {
        match &column.shows {
            ListShows::Key(key) => of_key(key, nodes),
            ListShows::Reason(id) | ListShows::Basis(id) => {
                let value = version.values.get(id.index());
                if let Some(ValueKind::Decide(decide)) = value.map(|v| &v.kind) {
                    decide.reason_nodes(nodes);
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
