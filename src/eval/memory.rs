//! What one run keeps for the next, so that after a change only what depends on it is calculated again.
//!
//! A node of the next program is the same as one of the last when it is calculated in the same way from the same operands and,
//! at the bottom, from the same cells. Every such node has one number here, whatever its place in either program.
//! Must not know what changed.

use super::chunk::Faults;
use super::column::Column;
use super::rollup::LeftOut;
use super::schedule::other_grain;
use super::{Fault, FaultKind, Inputs, span_of};
use crate::number::Exact;
use crate::program::{Grain, GroupId, Kind, Lookup, LookupId, NodeId, Program, TableId, Ty};
use crate::table::{ColumnData, Numbers, Table, Values};
use foldhash::{HashMap, HashMapExt, HashSet};
use rayon::prelude::*;
use std::collections::BTreeSet;
use std::hash::{Hash, Hasher};
use std::sync::Arc;

/// Numbers of nodes that are held before all is forgotten; a long watch would otherwise hold every sheet it ever saw.
const MOST_KNOWN: usize = 1 << 20;

/// Columns of earlier runs, to be used again by the next.
#[derive(Debug, Default)]
pub struct Memory {
    known: HashMap<Same, u32>,
    columns: HashMap<u32, Remembered>,
    /// What failed, by number of the node; the codes in the columns are places in this list.
    faults: Vec<(FaultKind, u32)>,
    /// How many columns the last run added, and how many were here already.
    last: (usize, usize),
}

#[derive(Debug, Clone)]
struct Remembered {
    column: Arc<Column>,
    left_out: Option<LeftOut>,
}

/// What makes two nodes the same.
#[derive(Debug, PartialEq, Eq, Hash)]
struct Same {
    /// With the numbers of the operands for their places, and of the other grain for its place.
    kind: Kind,
    grain: Rows,
    other: Rows,
    /// Of the cells, or of the lookup table.
    content: Option<u128>,
    /// Names that a lookup matches labels by.
    labels: Vec<Vec<String>>,
}

/// The rows of a grain.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
enum Rows {
    One,
    /// A table: how many rows, and which rows of the tables above they belong to.
    Table(u16, usize, u128),
    /// Groups: of which table, by which nodes.
    Group(Box<Rows>, Vec<u32>),
}

impl Memory {
    /// Empty.
    pub fn new() -> Memory {
        Memory::default()
    }

    /// How many columns the last run worked and left here, and how many of its program's were here already.
    pub fn last_run(&self) -> (usize, usize) {
        self.last
    }

    /// Numbers the nodes of a program. Cells are gone through column by column, `side_by_side` on all threads.
    #[expect(
        clippy::wildcard_enum_match_arm,
        reason = "columns alone are read from a survey"
    )]
    pub(super) fn recall(
        &mut self,
        program: &Program,
        Inputs { tables, spans }: &Inputs<'_>,
        side_by_side: bool,
    ) -> Recall {
        if self.known.len() > MOST_KNOWN {
            *self = Memory::default();
        }
        let read = program.nodes().iter().filter_map(|node| match node.kind {
            Kind::Column { table, column } => Some((table.0, column)),
            _ => None,
        });
        let read: BTreeSet<(u16, u16)> = read.collect();
        let content = |(table, column): &(u16, u16)| {
            let data = tables
                .get(usize::from(*table))?
                .columns
                .get(usize::from(*column))?;
            Some(((*table, *column), cells(data)))
        };
        let columns = if side_by_side {
            read.par_iter().filter_map(content).collect()
        } else {
            read.iter().filter_map(content).collect()
        };
        let mut numbering = Numbering {
            program,
            tables,
            spans,
            memory: self,
            numbers: Vec::new(),
            columns,
            parents: HashMap::new(),
        };
        for id in program.nodes().ids() {
            let number = numbering.number(id);
            numbering.numbers.push(number);
        }
        Recall {
            numbers: numbering.numbers,
        }
    }

    /// The column of a node, when an earlier run kept it.
    pub(super) fn column(
        &self,
        recall: &Recall,
        id: NodeId,
    ) -> Option<(Arc<Column>, Option<LeftOut>)> {
        let known = self.columns.get(&recall.number(id)?)?;
        Some((Arc::clone(&known.column), known.left_out.clone()))
    }

    /// Whether a column is here.
    pub(super) fn has(&self, recall: &Recall, id: NodeId) -> bool {
        recall
            .number(id)
            .is_some_and(|number| self.columns.contains_key(&number))
    }

    /// The faults that the columns here speak of, as faults of nodes of the new program.
    pub(super) fn faults(&self, recall: &Recall) -> Faults {
        let node_of: HashMap<u32, NodeId> = (0u32..)
            .map(NodeId)
            .zip(&recall.numbers)
            .filter_map(|(id, number)| Some(((*number)?, id)))
            .collect();
        // A fault of a node that is gone is in no column that can still be asked for.
        let lost = NodeId(u32::MAX);
        let fault = |(kind, number): &(FaultKind, u32)| Fault {
            kind: *kind,
            node: *node_of.get(number).unwrap_or(&lost),
        };
        Faults::from_list(self.faults.iter().map(fault).collect())
    }

    /// Keeps the columns of a run, and forgets those that its program has no use for.
    pub(super) fn keep(
        &mut self,
        recall: &Recall,
        columns: &HashMap<NodeId, Arc<Column>>,
        left_out: &HashMap<NodeId, LeftOut>,
        faults: &[Fault],
    ) {
        self.faults = faults
            .iter()
            .map(|f| (f.kind, recall.number(f.node).unwrap_or(u32::MAX)))
            .collect();
        let current: HashSet<u32> = recall.numbers.iter().flatten().copied().collect();
        self.columns.retain(|number, _| current.contains(number));
        let before = self.columns.len();
        for (id, column) in columns {
            if let Some(number) = recall.number(*id) {
                let remembered = || Remembered {
                    column: Arc::clone(column),
                    left_out: left_out.get(id).cloned(),
                };
                self.columns.entry(number).or_insert_with(remembered);
            }
        }
        self.last = (self.columns.len() - before, before);
    }
}

/// The numbers of the nodes of one program; none for nodes that are not kept.
#[derive(Debug)]
pub(super) struct Recall {
    numbers: Vec<Option<u32>>,
}

impl Recall {
    fn number(&self, id: NodeId) -> Option<u32> {
        self.numbers.get(id.index()).copied().flatten()
    }
}

struct Numbering<'a> {
    program: &'a Program,
    tables: &'a [&'a Table],
    spans: &'a [Option<Exact>],
    memory: &'a mut Memory,
    numbers: Vec<Option<u32>>,
    /// What the cells of each column come to that the program reads.
    columns: HashMap<(u16, u16), u128>,
    parents: HashMap<u16, u128>,
}

impl Numbering<'_> {
    /// The number of a node whose operands have theirs.
    #[expect(
        clippy::wildcard_enum_match_arm,
        reason = "only these kinds hold content of the files; all others are known by kind and children"
    )]
    fn number(&mut self, id: NodeId) -> Option<u32> {
        let node = self.program.node(id);
        let (grain, other) = (
            self.rows(node.grain)?,
            self.rows(other_grain(self.program, id))?,
        );
        let mut complete = true;
        let kind = with_operands(&node.kind, &mut |child: NodeId| match self.of(child) {
            Some(number) => NodeId(number),
            None => {
                complete = false;
                child
            }
        });
        if !complete {
            return None;
        }
        let content = match &node.kind {
            Kind::Column { table, column } => Some(*self.columns.get(&(table.0, *column))?),
            Kind::Lookup { table, .. } => Some(lookup_content(self.program.lookups.get(*table)?)),
            Kind::Span { span, .. } => Some(digest(&span_of(self.spans, *span))),
            _ => None,
        };
        let labels = match &node.kind {
            Kind::Lookup { keys, .. } => keys
                .iter()
                .chain([&id])
                .map(|key| self.labels(*key))
                .collect(),
            _ => Vec::new(),
        };
        let next = u32::try_from(self.memory.known.len()).ok()?;
        Some(
            *self
                .memory
                .known
                .entry(Same {
                    kind,
                    grain,
                    other,
                    content,
                    labels,
                })
                .or_insert(next),
        )
    }

    fn of(&self, id: NodeId) -> Option<u32> {
        self.numbers.get(id.index()).copied().flatten()
    }

    fn labels(&self, id: NodeId) -> Vec<String> {
        match &self.program.node(id).ty {
            Ty::Choice(choice) => self
                .program
                .choices
                .get(*choice)
                .map_or(Vec::new(), |c| c.labels.clone()),
            Ty::Number(_) | Ty::Truth | Ty::Text | Ty::Point(_) => Vec::new(),
        }
    }

    fn rows(&mut self, grain: Grain) -> Option<Rows> {
        match grain {
            Grain::Const | Grain::Job => Some(Rows::One),
            Grain::Table(table) => Some(Rows::Table(
                table.0,
                self.tables.get(table.index())?.rows,
                self.parents(table)?,
            )),
            Grain::Group(group) => {
                let grouping = self.program.groups.get(group)?;
                let of = self.rows(Grain::Table(grouping.of))?;
                let keys = grouping
                    .keys
                    .iter()
                    .map(|key| self.of(*key))
                    .collect::<Option<Vec<u32>>>()?;
                Some(Rows::Group(Box::new(of), keys))
            }
        }
    }

    fn parents(&mut self, table: TableId) -> Option<u128> {
        if let Some(known) = self.parents.get(&table.0) {
            return Some(*known);
        }
        let rows = &self.tables.get(table.index())?.parent_rows;
        let above = match self.program.tables.get(table)?.parent {
            Some(parent) => self.parents(parent)?,
            None => 0,
        };
        let digest = digest(&(rows, above));
        self.parents.insert(table.0, digest);
        Some(digest)
    }
}

fn cells(column: &ColumnData) -> u128 {
    match &column.values {
        Values::Numbers(Numbers::Scaled { num, den }) => digest(&(0, num, den, &column.absent)),
        Values::Numbers(Numbers::Exact(rows)) => digest(&(1, rows, &column.absent)),
        Values::Text { ids, pool } => digest(&(2, ids, pool, &column.absent)),
        Values::Choice(labels) => digest(&(3, labels, &column.absent)),
        Values::YesNo(truths) => digest(&(4, truths, &column.absent)),
        Values::Date(days) => digest(&(5, days, &column.absent)),
    }
}

/// 128 bits of a content; two that differ by chance are not to be expected.
fn digest(content: &impl Hash) -> u128 {
    let mut mix = Mix {
        lanes: [
            0x243F_6A88_85A3_08D3,
            0x1319_8A2E_0370_7344,
            0xA409_3822_299F_31D0,
            0x082E_FA98_EC4E_6C89,
        ],
    };
    content.hash(&mut mix);
    let [a, b, c, d] = mix.lanes;
    let half = |x: u64, y: u64| {
        let mixed = (x ^ y.rotate_left(32)).wrapping_mul(0x9E37_79B9_7F4A_7C15);
        mixed ^ (mixed >> 32)
    };
    (u128::from(half(half(a, b), half(c, d))) << 64) | u128::from(half(half(d, a), half(b, c)))
}

/// Mixes words into lanes that do not wait for one another. It is not meant to resist an attacker.
struct Mix {
    lanes: [u64; 4],
}

impl Mix {
    #[inline]
    fn word(&mut self, lane: usize, word: u64) {
        self.lanes[lane] =
            (self.lanes[lane].rotate_left(27) ^ word).wrapping_mul(0xD6E8_FEB8_6659_FD93);
    }
}

impl Hasher for Mix {
    fn finish(&self) -> u64 {
        self.lanes.iter().fold(0, |all, lane| all ^ lane)
    }

    /// Slices of integers come here whole.
    fn write(&mut self, bytes: &[u8]) {
        let mut rows = bytes.chunks_exact(32);
        for row in &mut rows {
            for (lane, word) in row.chunks_exact(8).enumerate() {
                let mut eight = [0; 8];
                eight.copy_from_slice(word);
                self.word(lane, u64::from_le_bytes(eight));
            }
        }
        for (lane, word) in rows.remainder().chunks(8).enumerate() {
            let mut eight = [0; 8];
            eight[..word.len()].copy_from_slice(word);
            self.word(lane, u64::from_le_bytes(eight));
        }
        self.word(0, crate::ids::long(bytes.len()));
    }

    fn write_u64(&mut self, word: u64) {
        self.word(1, word);
    }

    fn write_usize(&mut self, word: usize) {
        self.word(2, crate::ids::long(word));
    }
}

fn lookup_content(lookup: &Lookup) -> u128 {
    // The written form holds every cell, and lookup tables are small beside a survey.
    let keys: Vec<String> = lookup
        .keys
        .iter()
        .map(|key| format!("{:?} {:?}", key.ty, key.cells))
        .collect();
    let values: Vec<(&Vec<Exact>, &Vec<String>)> = lookup
        .values
        .iter()
        .map(|v| (&v.numbers, &v.texts))
        .collect();
    digest(&(keys, values))
}

/// The same kind with other operands, and without what is reported otherwise: group and table by the rows of the grain and by the content,
/// a span by the content.
fn with_operands(kind: &Kind, f: &mut dyn FnMut(NodeId) -> NodeId) -> Kind {
    let mut kind = kind.map(f);
    if let Kind::GroupKey { group, .. } = &mut kind {
        *group = GroupId(0);
    }
    if let Kind::Span { span, .. } = &mut kind {
        *span = 0;
    }
    if let Kind::Lookup { table, .. } = &mut kind {
        *table = LookupId(0);
    }
    if let Kind::Count { of, .. } = &mut kind {
        *of = Grain::Const;
    }
    kind
}
