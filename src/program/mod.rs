//! The checked program: an arena of typed nodes that every version of the job (as decided, and each alternate) shares.
//!
//! Only [`crate::check`] fills it, so nothing unchecked can be run. Nodes are hash-consed: equal expressions are one node and are
//! calculated once, also across alternates. Children always are before their parents, so the arena is in working order.
//! Values inside are in base units (see [`crate::units`]); a node knows its dimension, its column does not.
//!
//! ```
//! # fn worked() -> ovolo::session::Session {
//! #     include!(concat!(env!("CARGO_MANIFEST_DIR"), "/tests/docs/worked.rs"))
//! # }
//! let session = worked(); // a small job in memory
//! let run = session.run().expect("it is worked");
//! let program = &run.job.checked.program;
//! let names: Vec<&str> = program.versions[0].values.iter().map(|v| v.name.as_str()).collect();
//! assert_eq!(names, ["mark", "wide", "high", "pace", "area"]);
//! ```

// A match over kinds lists them all, so that a new kind is noticed everywhere, and no conversion fails silently.
#![warn(
    clippy::wildcard_enum_match_arm,
    clippy::match_wildcard_for_single_variants
)]
#![warn(clippy::as_conversions)]

mod calendar;
mod cut;
mod life;
mod list;
mod lookup;
mod node;
mod terms;
mod version;
mod walk;
mod words;

pub use calendar::{
    BillDef, CalendarTerms, CrewDef, HireDef, SeasonDef, SpanDef, WaitDef, WaitTime,
};
pub use cut::{BuySize, CutGoods, CutTerms, OnHand};
pub use life::{LifeAmountDef, LifeCostDef, LifeTerms, MOST_YEARS, Mixed, Rate};
pub use list::{
    Constants, DrawDef, Field, FieldKind, ItemBy, ListColumnDef, ListDef, ListKey, ListOver,
    ListShows, PaperBlockDef, PaperDef, PaperEachDef, SoftDef, class_of, class_of_name,
    class_of_reasons, class_of_text, class_of_written, shows_private,
};
pub use lookup::{KeyCell, KeyColumn, Lookup, ValueColumn};
pub use node::{
    AbsentKind, Adds, AggregateKind, ChoiceId, Compare, Grain, GroupId, Kind, LookupId, Missing,
    Node, NodeId, NumTy, PresenceTest, RealNode, Scale, TableId, Ty, WhyNot,
};
pub use terms::{
    ChargeAmountDef, ChargeBase, ChargeDef, FileInput, JobTerms, LibraryTerm, PayDef, PayLineDef,
    SurveyInput,
};
pub use version::{
    AmendDef, Answer, Blamed, CautionDef, ChoiceDef, DecideDef, DecideLineDef, ExceptionDef,
    Grouping, PartDef, PartPlaceDef, PartSizeDef, PhaseId, PickDef, Piece, PriceChange, RequireDef,
    ResourceClass, ResourceDef, ResourceId, TableInfo, TakeDef, TakePlan, Template, ValueDef,
    ValueId, ValueKind, Varies, Version, says_memory,
};
pub use walk::Next;

use crate::diagnostics::Span;
use crate::ids::ById;
use crate::number::Exact;
use crate::units::Nouns;
use foldhash::HashSet;
use foldhash::fast::RandomState;
use hashbrown::HashTable;
use hashbrown::hash_table::Entry;
use std::hash::BuildHasher;
use std::sync::Arc;

/// How the job without an alternate is named.
pub const AS_DECIDED: &str = "as decided";

/// Tables, choices, lookups, nodes and the versions built on them.
#[derive(Debug, Clone, Default)]
pub struct Program {
    /// Counted nouns.
    pub nouns: Nouns,
    /// Currency code of the job, when stated.
    pub currency: Option<String>,
    /// Closed choices.
    pub choices: ById<ChoiceId, ChoiceDef>,
    /// Tables of the survey.
    pub tables: ById<TableId, TableInfo>,
    /// Groupings of a table.
    pub groups: ById<GroupId, Grouping>,
    /// Lookup tables.
    pub lookups: ById<LookupId, Arc<Lookup>>,
    /// Phases in the order of reports.
    pub phases: ById<PhaseId, String>,
    /// What the job sheet states; defaults for sheets without one.
    pub terms: JobTerms,
    /// Spans of the calendar that rules read, in the order of [`Kind::Span`].
    pub spans: Vec<SpanDef>,
    /// As decided first, then the alternates.
    pub versions: Vec<Version>,
    nodes: ById<NodeId, Node>,
    index: HashTable<Indexed>,
    hasher: RandomState,
}

/// A node with its hash: others are told apart, and the index grows, without a look at them.
#[derive(Debug, Clone, Copy)]
struct Indexed {
    id: NodeId,
    hash: u64,
}

impl Program {
    /// The nodes in working order.
    pub fn nodes(&self) -> &ById<NodeId, Node> {
        &self.nodes
    }

    /// A node.
    pub fn node(&self, id: NodeId) -> &Node {
        &self.nodes[id]
    }

    /// The table that openings are rows of: the first one without a table above it.
    pub fn main_table(&self) -> Option<TableId> {
        self.tables.id_of(|t| t.parent.is_none())
    }

    /// Makes room for so many nodes.
    pub(crate) fn reserve(&mut self, nodes: usize) {
        self.nodes.reserve(nodes);
        self.index.reserve(nodes, |known| known.hash);
    }

    /// Adds a node, or gives the equal one that is there already.
    pub(crate) fn intern(&mut self, node: Node) -> NodeId {
        let hash = self.hasher.hash_one((&node.kind, &node.ty, node.grain));
        let same = |known: &Indexed| {
            let other = &self.nodes[known.id];
            known.hash == hash
                && (&other.kind, &other.ty, other.grain) == (&node.kind, &node.ty, node.grain)
        };
        match self.index.entry(hash, same, |known| known.hash) {
            Entry::Occupied(known) => known.get().id,
            Entry::Vacant(free) => {
                let added = self.nodes.push(node);
                let id = added.expect("memory ends long before 4,294,967,295 nodes");
                free.insert(Indexed { id, hash });
                id
            }
        }
    }

    /// The first place, in the order of the sheets, where a rule, take, requirement, decision, caution or cut block reads a table of the survey:
    /// a value of its rows, or how many there are. `None` when none does.
    #[expect(
        clippy::wildcard_enum_match_arm,
        reason = "only these kinds read a table themselves; children are walked"
    )]
    pub fn reader_of(&self, table: TableId) -> Option<Span> {
        let stock = self.terms.cuts.iter().filter_map(|c| c.on_hand.as_ref());
        let mut stock = stock.filter(|h| h.bad.as_ref().is_some_and(|b| b.0 == table));
        if let Some(on_hand) = stock.next() {
            return Some(on_hand.span);
        }
        let mut todo: Vec<(NodeId, Span)> = Vec::new();
        for v in &self.versions {
            let rules = v
                .values
                .iter()
                .filter(|v| matches!(v.kind, ValueKind::Rule | ValueKind::Decide(_)));
            todo.extend(rules.map(|r| (r.node, r.span)));
            todo.extend(v.takes.iter().map(|t| (t.amount, t.span)));
            // Counts and sizes of parts are in their takes and requirements; what else they read is here.
            for part in &v.parts {
                let places = part.places.iter().flat_map(|p| [Some(p.at), p.each]);
                let said = [part.member, part.treatment, part.profile];
                todo.extend(places.chain(said).flatten().map(|n| (n, part.span)));
            }
            todo.extend(v.requires.iter().map(|r| (r.condition, r.span)));
            todo.extend(v.cautions.iter().filter_map(|c| Some((c.when?, c.span))));
        }
        let mut seen = HashSet::default();
        let mut first: Option<Span> = None;
        while let Some((id, reader)) = todo.pop() {
            let node = self.node(id);
            let place = match &node.kind {
                Kind::Column { table: t, .. } if *t == table => Some(reader),
                Kind::Count {
                    of: Grain::Table(t),
                    ..
                } if *t == table => Some(node.span),
                _ => None,
            };
            first = first
                .into_iter()
                .chain(place)
                .min_by_key(|s| (s.file.0, s.start));
            if seen.insert(id) {
                todo.extend(
                    node.kind
                        .children()
                        .into_iter()
                        .map(|child| (child, node.span)),
                );
            }
        }
        first
    }

    /// The written value of a constant number node.
    #[expect(
        clippy::wildcard_enum_match_arm,
        reason = "only a number node is a written number"
    )]
    pub fn constant(&self, id: NodeId) -> Option<&Exact> {
        match &self.node(id).kind {
            Kind::Number(n) => Some(n),
            _ => None,
        }
    }

    /// The day of issue that the job or the command line says, in days since 1970-01-01.
    pub fn day_of_issue(&self, version: &Version) -> Option<i32> {
        let issued = version.values.iter().find(|v| v.name == "issued")?;
        let day = self.constant(issued.node)?.to_i64()?;
        i32::try_from(day).ok()
    }
}
