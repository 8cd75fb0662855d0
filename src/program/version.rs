//! A version of the job: named values, take-off lines, resources, requirements and cautions over the shared nodes.

use super::node::{ChoiceId, Grain, GroupId, NodeId, TableId};
use crate::diagnostics::Span;
use crate::ids::ById;
use crate::number::Exact;
use crate::syntax::tree::{AllowanceKind, CautionKind, Layer, Side, Way, Whose};
use crate::table::Schema;
use crate::units::{Noun, UnitExpr};
use std::sync::Arc;

crate::ids::ids! {
    /// One of [`Version::values`].
    ValueId(u32);
    /// One of [`Version::resources`].
    ResourceId(u16);
    /// One of [`super::Program::phases`].
    PhaseId(u16);
}

/// A closed choice.
#[derive(Debug, Clone)]
pub struct ChoiceDef {
    /// Name; for a choice written in place, the column's or decision's.
    pub name: String,
    /// Labels.
    pub labels: Vec<String>,
}

/// A survey table.
#[derive(Debug, Clone)]
pub struct TableInfo {
    /// What it should hold.
    pub schema: Schema,
    /// The table above it.
    pub parent: Option<TableId>,
    /// The noun its rows are counted in.
    pub noun: Noun,
}

/// A grouping of a table's rows.
#[derive(Debug, Clone)]
pub struct Grouping {
    /// Name.
    pub name: String,
    /// Table whose rows are grouped.
    pub of: TableId,
    /// Nodes at the table's grain that make the key.
    pub keys: Vec<NodeId>,
    /// Their names.
    pub key_names: Vec<String>,
    /// The noun its groups are counted in.
    pub noun: Noun,
}

/// The job under one set of changes.
#[derive(Debug, Clone, Default)]
pub struct Version {
    /// Name of the alternate; none for the job as decided.
    pub name: Option<String>,
    /// What a bid says of it; none for an alternate of the office.
    pub owner: Option<String>,
    /// Named values in the order of the sheets; versions share those that are the same.
    pub values: Vec<Arc<ValueDef>>,
    /// Take-off lines, those of parts among them.
    pub takes: Vec<TakeDef>,
    /// Parts in the order of the sheets.
    pub parts: Vec<PartDef>,
    /// Requirements.
    pub requires: Vec<RequireDef>,
    /// Cautions.
    pub cautions: Vec<CautionDef>,
    /// Resources.
    pub resources: ById<ResourceId, ResourceDef>,
    /// Prices changed by name.
    pub price_changes: Vec<PriceChange>,
    /// What later layers extend, and what they change of a thing besides its value.
    pub amends: Vec<AmendDef>,
    /// What is decided for single rows.
    pub exceptions: Vec<ExceptionDef>,
    /// Costs after the first.
    pub life: Vec<super::LifeCostDef>,
    /// Lists, of the job as decided alone.
    pub lists: Vec<super::ListDef>,
    /// Papers, likewise.
    pub papers: Vec<super::PaperDef>,
    /// Names through which a figure marked `private` can be read, of the job as decided alone.
    pub private_names: foldhash::HashSet<String>,
    /// For a plan mixed of two others: how.
    pub pick: Option<PickDef>,
}

/// What a later layer extends of a lower one, or changes of a thing besides its value.
#[derive(Debug, Clone)]
pub struct AmendDef {
    /// The survey, choice, table, given or resource.
    pub name: String,
    /// What of it: `survey`, `choice`, `rows`, `table`, `limits`, `packs`, `name`, `resource` or `phase`.
    pub what: &'static str,
    /// Reason.
    pub because: String,
    /// Who decided it, and on which day.
    pub by: Option<(String, String)>,
    /// Layer.
    pub layer: Layer,
    /// The whole line, or the heading of the block.
    pub span: Span,
}

/// A value decided for one row.
#[derive(Debug, Clone)]
pub struct ExceptionDef {
    /// Name of the rule, decision or column.
    pub name: String,
    /// Mark of the row.
    pub mark: String,
    /// Tables in which the row may be, each with the value that is replaced there.
    pub replaced: Vec<(TableId, NodeId)>,
    /// The value, the same everywhere.
    pub to: NodeId,
    /// What the value must have been, and where that is written.
    pub was: Option<(NodeId, Span)>,
    /// Reason.
    pub because: String,
    /// Who decided it and on which day, where it says so.
    pub by: Option<(String, String)>,
    /// Layer.
    pub layer: Layer,
    /// Where the mark is written.
    pub mark_span: Span,
    /// Where.
    pub span: Span,
}

/// How a plan is mixed of two others, row by row of the main table.
#[derive(Debug, Clone)]
pub struct PickDef {
    /// The version taken where its cost is below the share of the other's, and the other.
    pub plans: [usize; 2],
    /// Share of the other's cost.
    pub share: Exact,
    /// The main table.
    pub table: TableId,
    /// Column of truths that says on which rows the first is taken: it follows those of the table's schema and is supplied by the caller.
    pub column: u16,
    /// Where.
    pub span: Span,
}

/// A named value.
#[derive(Debug, Clone)]
pub struct ValueDef {
    /// Name.
    pub name: String,
    /// What it is.
    pub kind: ValueKind,
    /// Its node.
    pub node: NodeId,
    /// What it is per.
    pub grain: Grain,
    /// Unit to show it in (numbers only).
    pub unit: Option<UnitExpr>,
    /// Where it is defined (the change, when changed).
    pub span: Span,
    /// Layer it comes from.
    pub layer: Layer,
    /// Source, note.
    pub source: Option<String>,
    /// Note.
    pub note: Option<String>,
    /// Reason of the change, when changed.
    pub because: Option<String>,
    /// Who decided the change and on which day, where it says so.
    pub by: Option<(String, String)>,
    /// Kept from every reader outside the shop.
    pub private: bool,
    /// What a change replaced: its place and how it was written.
    pub replaced: Vec<Span>,
    /// Whether a decision, a take, a requirement or a caution rests on it, directly or indirectly.
    pub used: bool,
}

impl ValueDef {
    /// Whether it is a given from memory that the job has not set by a reason of its own. What a job is asked is no such given.
    pub fn is_from_memory(&self) -> bool {
        let given = matches!(self.kind, ValueKind::Given { answer: None, .. });
        given && self.because.is_none() && says_memory(self.source.as_deref())
    }
}

/// Whether a source is none, or says that there is none or that the figure is from memory.
pub fn says_memory(source: Option<&str>) -> bool {
    source.is_none_or(|s| s.contains("no source") || s.contains("from memory"))
}

/// What a named value is.
#[derive(Debug, Clone)]
pub enum ValueKind {
    /// A survey column.
    Column {
        /// Table.
        table: TableId,
        /// Column in its schema.
        column: u16,
    },
    /// A given with its range in base units.
    Given {
        /// Low and high end.
        range: Option<(Exact, Exact)>,
        /// What it may turn out to be.
        varies: Option<Varies>,
        /// For one that a job answers: how it stands.
        answer: Option<Answer>,
    },
    /// A rule.
    Rule,
    /// A decision.
    Decide(DecideDef),
}

/// What a given may turn out to be, in base units.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Varies {
    /// The least.
    pub low: Exact,
    /// The most.
    pub high: Exact,
    /// The likeliest, for a triangle.
    pub likely: Option<Exact>,
    /// Givens of one group rise and fall together.
    pub group: Option<String>,
}

/// How a fact stands that a job answers.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Answer {
    /// A change answers it.
    Given,
    /// Nobody has answered it: the sheet says what is assumed until then, and why.
    Assumed(String),
    /// Nobody has answered it, and nothing is assumed: the version can't be run.
    Missing,
}

/// A decision.
#[derive(Debug, Clone)]
pub struct DecideDef {
    /// Choice of its labels.
    pub choice: ChoiceId,
    /// Node that gives the line. Changes of the decision add lines of their own, for the rows whose answer they replace.
    pub line: NodeId,
    /// Lines.
    pub lines: Vec<DecideLineDef>,
}

impl DecideDef {
    /// What tells which line held, and all that the reasons read.
    pub fn reason_nodes(&self, nodes: &mut Vec<NodeId>) {
        nodes.push(self.line);
        self.lines.iter().for_each(|l| l.because.nodes(nodes));
    }
}

/// A line of a decision.
#[derive(Debug, Clone)]
pub struct DecideLineDef {
    /// Label.
    pub label: u16,
    /// Reason.
    pub because: Template,
    /// Standard it rests on.
    pub rests_on: Option<String>,
    /// Where.
    pub span: Span,
}

/// Text with values put in.
#[derive(Debug, Clone, Default)]
pub struct Template {
    /// Pieces in order.
    pub pieces: Vec<Piece>,
}

impl Template {
    /// Adds the nodes whose values are put in.
    pub fn nodes(&self, nodes: &mut Vec<NodeId>) {
        nodes.extend(self.pieces.iter().filter_map(|p| match p {
            Piece::Value { node, .. } => Some(*node),
            Piece::Text(_) => None,
        }));
    }
}

/// A piece of a template.
#[derive(Debug, Clone)]
pub enum Piece {
    /// As written.
    Text(String),
    /// A value at the line's grain (or constant), shown in a unit.
    Value {
        /// The name in the braces; empty for a value that the program itself puts in.
        name: String,
        /// Node.
        node: NodeId,
        /// Unit for numbers.
        unit: Option<UnitExpr>,
    },
}

/// A take-off line.
#[derive(Debug, Clone)]
pub struct TakeDef {
    /// Resource.
    pub resource: ResourceId,
    /// Phase.
    pub phase: PhaseId,
    /// What it is per.
    pub grain: Grain,
    /// Amount in base units; zero where its condition does not hold.
    pub amount: NodeId,
    /// Nodes that add it up.
    pub plan: TakePlan,
    /// Note.
    pub note: Option<String>,
    /// The part whose pieces it takes, by its place in [`Version::parts`].
    pub part: Option<usize>,
    /// Changes that sent it here from the resource or phase it is written for.
    pub sent: Vec<Span>,
    /// Whether a figure from memory goes into it: a given whose source is none or says so, and that the job has not set otherwise.
    pub from_memory: bool,
    /// Where.
    pub span: Span,
}

/// One kind of physical piece at each row of a grain. `takeoff::parts` gives what it is on each row.
#[derive(Debug, Clone)]
pub struct PartDef {
    /// Name.
    pub name: String,
    /// What it is made of.
    pub resource: ResourceId,
    /// Phase.
    pub phase: PhaseId,
    /// What it is per.
    pub grain: Grain,
    /// How many, whole; zero where its condition does not hold.
    pub count: NodeId,
    /// How many there are, made or kept; none where pieces that are not made are not there.
    pub standing: Option<NodeId>,
    /// Sizes in inches, in the order written.
    pub sizes: Vec<PartSizeDef>,
    /// Its place, in inches.
    pub places: Vec<PartPlaceDef>,
    /// The member it belongs to: a text or a label.
    pub member: Option<NodeId>,
    /// What becomes of it: a text or a label.
    pub treatment: Option<NodeId>,
    /// Its profile: a text or a label.
    pub profile: Option<NodeId>,
    /// The share of it with decay.
    pub decayed: Option<NodeId>,
    /// Note.
    pub note: Option<String>,
    /// Where.
    pub span: Span,
}

/// A size of a part.
#[derive(Debug, Clone, Copy)]
pub struct PartSizeDef {
    /// Which.
    pub side: Side,
    /// As it leaves the bench.
    pub finished: NodeId,
    /// As it is cut out of the resource.
    pub rough: NodeId,
}

/// A place of a part.
#[derive(Debug, Clone, Copy)]
pub struct PartPlaceDef {
    /// Which way.
    pub way: Way,
    /// Of the first piece.
    pub at: NodeId,
    /// From one piece to the next.
    pub each: Option<NodeId>,
}

/// Nodes that add a take up.
#[derive(Debug, Clone)]
pub struct TakePlan {
    /// Whole job, one row.
    pub total: NodeId,
    /// The least amount on any row, for the job; where the amount is per row or group and may come out below zero.
    pub least: Option<NodeId>,
    /// The take at the main table's grain, where it can be said (own grain, or shared).
    pub by_row: Option<NodeId>,
    /// For each column of `split by`: its grouping and the sums; what cannot be said by row is not in them.
    pub by_group: Vec<(GroupId, NodeId)>,
}

/// A requirement.
#[derive(Debug, Clone)]
pub struct RequireDef {
    /// Must hold.
    pub condition: NodeId,
    /// Whether it holds everywhere: one value for the job.
    pub holds: NodeId,
    /// What it is per.
    pub grain: Grain,
    /// Code of the message: OV-910 where a sheet wrote it.
    pub code: &'static str,
    /// Said where it does not.
    pub message: Template,
    /// What is wrong where it does not hold; empty for all cells that the condition reads.
    pub blames: Vec<Blamed>,
    /// Where.
    pub span: Span,
}

/// What a requirement blames.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Blamed {
    /// Cells of a column of the survey.
    Cells(TableId, u16),
    /// The line of a sheet that says a given, or answers it.
    Line(Span),
}

/// A caution.
#[derive(Debug, Clone)]
pub struct CautionDef {
    /// Condition; none for always.
    pub when: Option<NodeId>,
    /// On how many rows it holds, one value for the job; none for one that is not per row.
    pub count: Option<NodeId>,
    /// What it is per.
    pub grain: Grain,
    /// Text.
    pub text: Template,
    /// Whether it is also a condition or an exclusion of the bid.
    pub kind: CautionKind,
    /// Who of those who do the work is warned; both where it says nothing.
    pub whose: Option<Whose>,
    /// Phases of the work it is about; none where it is about all of it.
    pub phases: Vec<PhaseId>,
    /// Where.
    pub span: Span,
}

/// Classes of resources, the headline totals.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord, serde::Serialize)]
#[serde(rename_all = "lowercase")]
#[allow(missing_docs)]
pub enum ResourceClass {
    Labor,
    Stock,
    Glass,
    Points,
    Putty,
    Other,
    Equipment,
    Subcontract,
    Disposal,
}

impl ResourceClass {
    /// All of them, in the order of reports.
    pub const ALL: [Self; 9] = [
        Self::Labor,
        Self::Stock,
        Self::Glass,
        Self::Points,
        Self::Putty,
        Self::Other,
        Self::Equipment,
        Self::Subcontract,
        Self::Disposal,
    ];

    /// The goods that `materials` in the base of a charge stands for.
    pub const MATERIALS: [Self; 5] = [
        Self::Stock,
        Self::Glass,
        Self::Points,
        Self::Putty,
        Self::Other,
    ];

    /// Its word in sheets and reports.
    pub fn word(self) -> &'static str {
        match self {
            Self::Labor => "labor",
            Self::Stock => "stock",
            Self::Glass => "glass",
            Self::Points => "points",
            Self::Putty => "putty",
            Self::Other => "other",
            Self::Equipment => "equipment",
            Self::Subcontract => "subcontract",
            Self::Disposal => "disposal",
        }
    }

    /// The class of this word.
    pub fn named(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|class| class.word() == word)
    }

    /// Whether it is neither labor nor goods: equipment, subcontracts and disposal, which are taxed and marked up by rules of their own.
    pub fn is_hired(self) -> bool {
        match self {
            Self::Equipment | Self::Subcontract | Self::Disposal => true,
            Self::Labor | Self::Stock | Self::Glass | Self::Points | Self::Putty | Self::Other => {
                false
            }
        }
    }
}

/// A resource.
#[derive(Debug, Clone)]
pub struct ResourceDef {
    /// Name.
    pub name: String,
    /// Words for a report.
    pub called: Option<String>,
    /// Class.
    pub class: ResourceClass,
    /// Unit it is counted in.
    pub unit: UnitExpr,
    /// Waste added or yield divided, as a share, and the given it comes from.
    pub allowance: Option<(AllowanceKind, Exact, Option<String>)>,
    /// Pack word and quantity in base units.
    pub pack: Option<(String, Exact)>,
    /// Source.
    pub source: Option<String>,
    /// Note.
    pub note: Option<String>,
    /// Where.
    pub span: Span,
}

/// A price changed by name in a layer.
#[derive(Debug, Clone)]
pub struct PriceChange {
    /// Resource.
    pub resource: ResourceId,
    /// Price per base unit of the resource's dimension.
    pub price: Exact,
    /// Layer.
    pub layer: Layer,
    /// Reason.
    pub because: Option<String>,
    /// Where.
    pub span: Span,
}
