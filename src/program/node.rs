//! Nodes: what is calculated, its type, its grain, and whether it may be missing.

use crate::diagnostics::Span;
use crate::number::{Exact, Rounding};
use crate::table::SchemaValue;
use crate::units::Dim;
use smallvec::{SmallVec, smallvec};

pub use crate::units::Scale;

crate::ids::ids! {
    /// A node of its program.
    NodeId(u32);
    /// A survey table.
    TableId(u16);
    /// A grouping.
    GroupId(u16);
    /// A choice.
    ChoiceId(u16);
    /// A lookup table.
    LookupId(u16);
}

/// What a value is per.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Grain {
    /// The same everywhere: a written number, a given.
    Const,
    /// Once for the job.
    Job,
    /// Once for each group.
    Group(GroupId),
    /// Once for each row.
    Table(TableId),
}

/// Type of a node.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub enum Ty {
    /// A number of some dimension.
    Number(NumTy),
    /// Yes or no.
    Truth,
    /// A label of a choice.
    Choice(ChoiceId),
    /// Text.
    Text,
    /// A point on a scale: a day, a moment. Its values are numbers; only steps may be added to it.
    Point(Scale),
}

/// What is known of a number before running.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub struct NumTy {
    /// Dimension.
    pub dim: Dim,
    /// A share written in hundredths.
    pub percent: bool,
    /// Whether values of several rows may be summed.
    pub adds: Adds,
    /// Irrational: must be rounded before it is used.
    pub real: bool,
}

/// Whether values of several rows may be summed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Adds {
    /// They may.
    Yes,
    /// They may not, and why.
    No(WhyNot),
}

/// Why values may not be summed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[allow(missing_docs)]
pub enum WhyNot {
    Size,
    Rate,
    Percent,
    Fact,
    Plain,
    Duration,
    Ratio,
}

/// Whether a value may be missing on some rows.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Missing {
    /// Never.
    Never,
    /// On some rows unknown; that runs on through what is calculated from it.
    Partly,
    /// On some rows absent, and the rule must still say what to do.
    Unhandled,
}

/// Orders between two numbers or dates.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
#[allow(missing_docs)]
pub enum Compare {
    Less,
    LessEq,
    Greater,
    GreaterEq,
    Same,
    NotSame,
}

impl Compare {
    /// Whether it holds of two values in this order.
    #[inline]
    pub fn holds(self, order: std::cmp::Ordering) -> bool {
        match self {
            Compare::Less => order.is_lt(),
            Compare::LessEq => order.is_le(),
            Compare::Greater => order.is_gt(),
            Compare::GreaterEq => order.is_ge(),
            Compare::Same => order.is_eq(),
            Compare::NotSame => order.is_ne(),
        }
    }
}

pub use crate::syntax::tree::{AbsentKind, AggregateKind, PresenceTest};

/// Irrational expressions, worked exactly to the rounding around them.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
#[allow(missing_docs)]
pub enum RealNode {
    /// An exact node.
    Leaf(NodeId),
    Add(Box<RealNode>, Box<RealNode>),
    Sub(Box<RealNode>, Box<RealNode>),
    Mul(Box<RealNode>, Box<RealNode>),
    Div(Box<RealNode>, Box<RealNode>),
    Power(Box<RealNode>, Box<RealNode>),
    Root(Box<RealNode>, NodeId),
    Ln(Box<RealNode>),
}

/// A node.
#[derive(Debug, Clone)]
pub struct Node {
    /// What is calculated.
    pub kind: Kind,
    /// Its type.
    pub ty: Ty,
    /// What it is per.
    pub grain: Grain,
    /// Whether it may be missing.
    pub missing: Missing,
    /// Where it was first written.
    pub span: Span,
}

/// What is calculated. Children of another grain than the node's own appear only under `Down`, `Up`, `Count` and `Share`;
/// constants may stand anywhere.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
#[allow(missing_docs)]
pub enum Kind {
    Number(Exact),
    Truth(bool),
    Label(u16),
    Text(String),
    /// The word `unknown`: missing with cause "blank".
    Unknown,
    /// A given that nobody has answered, by its number among the definitions: missing, as a cell that was not noted.
    Asked(u32),
    /// A span of the calendar, by its number in [`super::Program::spans`]; `otherwise` where the run is given none.
    Span {
        span: u32,
        otherwise: NodeId,
    },
    /// A column of a survey table.
    Column {
        table: TableId,
        column: u16,
    },
    /// A key of a group, at the group's grain.
    GroupKey {
        group: GroupId,
        key: u16,
    },
    Negate(NodeId),
    Abs(NodeId),
    Add(NodeId, NodeId),
    Sub(NodeId, NodeId),
    Mul(NodeId, NodeId),
    /// Refused on rows where the divisor is zero.
    Div(NodeId, NodeId),
    Power(NodeId, i32),
    Smaller(Vec<NodeId>),
    Larger(Vec<NodeId>),
    /// To a multiple of `step` (above zero, refused otherwise).
    Round {
        value: NodeId,
        step: NodeId,
        mode: Rounding,
    },
    RoundReal {
        real: RealNode,
        step: NodeId,
        mode: Rounding,
    },
    /// Between numbers or between dates.
    Compare {
        op: Compare,
        left: NodeId,
        right: NodeId,
    },
    /// Between labels of one choice, texts or truths.
    Same(NodeId, NodeId),
    /// Label among these.
    LabelIn(NodeId, Vec<u16>),
    /// False as soon as one side is false, whatever the other lacks.
    And(NodeId, NodeId),
    /// True as soon as one side is true.
    Or(NodeId, NodeId),
    Not(NodeId),
    /// Faults and gaps of the branch not taken do not count.
    Select {
        condition: NodeId,
        then: NodeId,
        otherwise: NodeId,
    },
    /// `arm_of[label]` is the index into `arms`.
    Choose {
        subject: NodeId,
        arm_of: Vec<u16>,
        arms: Vec<NodeId>,
    },
    /// Index (as a label) of the line that holds: the first, or the only one (refused on rows with none, or with two when not
    /// `first_holds`). `lines[i] = None` is `otherwise`.
    DecideLine {
        lines: Vec<Option<NodeId>>,
        first_holds: bool,
    },
    /// Label of the line: `labels[line]`.
    LineLabel {
        line: NodeId,
        labels: Vec<u16>,
    },
    /// Refused on rows where no row of the table fits.
    Lookup {
        table: LookupId,
        column: u16,
        keys: Vec<NodeId>,
        interpolated: bool,
    },
    IfAbsent {
        value: NodeId,
        which: AbsentKind,
        instead: NodeId,
    },
    Presence {
        value: NodeId,
        test: PresenceTest,
    },
    /// A coarser value read at this node's grain.
    Down(NodeId),
    /// Over the rows of the child's grain that belong to each row here. Unknown rows are left out (and reported);
    /// least, most and mean over no row are refused.
    Up {
        kind: AggregateKind,
        of: NodeId,
        weight: Option<NodeId>,
        filter: Option<NodeId>,
    },
    /// How many rows of `of` belong to each row here.
    Count {
        of: Grain,
        filter: Option<NodeId>,
    },
    /// A coarser amount split over rows here in proportion to `weight`; with a step by largest remainder, ties to the first row.
    Share {
        whole: NodeId,
        weight: NodeId,
        step: Option<Exact>,
    },
}

impl From<SchemaValue> for Kind {
    fn from(value: SchemaValue) -> Kind {
        match value {
            SchemaValue::Number(n) => Kind::Number(n),
            SchemaValue::Text(text) => Kind::Text(text),
            SchemaValue::YesNo(truth) => Kind::Truth(truth),
            SchemaValue::Choice(label) => Kind::Label(label),
        }
    }
}

impl Kind {
    /// The value of a constant; `None` for everything else.
    #[expect(clippy::wildcard_enum_match_arm, reason = "four kinds are constants")]
    pub fn value(&self) -> Option<SchemaValue> {
        match self {
            Kind::Number(n) => Some(SchemaValue::Number(n.clone())),
            Kind::Text(text) => Some(SchemaValue::Text(text.clone())),
            Kind::Truth(truth) => Some(SchemaValue::YesNo(*truth)),
            Kind::Label(label) => Some(SchemaValue::Choice(*label)),
            _ => None,
        }
    }

    /// Every child, in a fixed order. Most nodes have few and are looked at often, so few are kept without an allocation.
    pub fn children(&self) -> SmallVec<[NodeId; 4]> {
        fn real(r: &RealNode, out: &mut SmallVec<[NodeId; 4]>) {
            match r {
                RealNode::Leaf(n) => out.push(*n),
                RealNode::Add(a, b)
                | RealNode::Sub(a, b)
                | RealNode::Mul(a, b)
                | RealNode::Div(a, b)
                | RealNode::Power(a, b) => {
                    real(a, out);
                    real(b, out);
                }
                RealNode::Root(a, n) => {
                    real(a, out);
                    out.push(*n);
                }
                RealNode::Ln(a) => real(a, out),
            }
        }
        match self {
            Kind::Number(_)
            | Kind::Truth(_)
            | Kind::Label(_)
            | Kind::Text(_)
            | Kind::Unknown
            | Kind::Asked(_)
            | Kind::Column { .. }
            | Kind::GroupKey { .. } => smallvec![],
            Kind::Negate(a)
            | Kind::Abs(a)
            | Kind::Power(a, _)
            | Kind::Not(a)
            | Kind::LabelIn(a, _)
            | Kind::Down(a) => smallvec![*a],
            Kind::Add(a, b)
            | Kind::Sub(a, b)
            | Kind::Mul(a, b)
            | Kind::Div(a, b)
            | Kind::Same(a, b)
            | Kind::And(a, b)
            | Kind::Or(a, b) => {
                smallvec![*a, *b]
            }
            Kind::Smaller(v) | Kind::Larger(v) => v.iter().copied().collect(),
            Kind::Round { value, step, .. } => smallvec![*value, *step],
            Kind::RoundReal { real: r, step, .. } => {
                let mut out = SmallVec::new();
                real(r, &mut out);
                out.push(*step);
                out
            }
            Kind::Compare { left, right, .. } => smallvec![*left, *right],
            Kind::Select {
                condition,
                then,
                otherwise,
            } => smallvec![*condition, *then, *otherwise],
            Kind::Choose { subject, arms, .. } => std::iter::once(*subject)
                .chain(arms.iter().copied())
                .collect(),
            Kind::DecideLine { lines, .. } => lines.iter().flatten().copied().collect(),
            Kind::LineLabel { line, .. } => smallvec![*line],
            Kind::Lookup { keys, .. } => keys.iter().copied().collect(),
            Kind::IfAbsent { value, instead, .. } => smallvec![*value, *instead],
            Kind::Presence { value, .. } => smallvec![*value],
            Kind::Span { otherwise, .. } => smallvec![*otherwise],
            Kind::Up {
                of, weight, filter, ..
            } => std::iter::once(*of).chain(*weight).chain(*filter).collect(),
            Kind::Count { filter, .. } => filter.iter().copied().collect(),
            Kind::Share { whole, weight, .. } => smallvec![*whole, *weight],
        }
    }

    /// The same kind with each child replaced by what `f` makes of it.
    pub fn map(&self, f: &mut dyn FnMut(NodeId) -> NodeId) -> Kind {
        let mut kind = self.clone();
        for child in kind.children_mut() {
            *child = f(*child);
        }
        kind
    }

    /// As [`Kind::children`], to be replaced.
    fn children_mut(&mut self) -> Vec<&mut NodeId> {
        match self {
            Kind::Number(_)
            | Kind::Truth(_)
            | Kind::Label(_)
            | Kind::Text(_)
            | Kind::Unknown
            | Kind::Asked(_)
            | Kind::Column { .. }
            | Kind::GroupKey { .. } => vec![],
            Kind::Negate(a)
            | Kind::Abs(a)
            | Kind::Power(a, _)
            | Kind::Not(a)
            | Kind::LabelIn(a, _)
            | Kind::Down(a) => vec![a],
            Kind::Add(a, b)
            | Kind::Sub(a, b)
            | Kind::Mul(a, b)
            | Kind::Div(a, b)
            | Kind::Same(a, b)
            | Kind::And(a, b)
            | Kind::Or(a, b) => vec![a, b],
            Kind::Smaller(of) | Kind::Larger(of) => of.iter_mut().collect(),
            Kind::Round { value, step, .. } => vec![value, step],
            Kind::RoundReal { real, step, .. } => {
                let mut out = Vec::new();
                real.leaves_mut(&mut out);
                out.push(step);
                out
            }
            Kind::Compare { left, right, .. } => vec![left, right],
            Kind::Select {
                condition,
                then,
                otherwise,
            } => vec![condition, then, otherwise],
            Kind::Choose { subject, arms, .. } => std::iter::once(subject).chain(arms).collect(),
            Kind::DecideLine { lines, .. } => lines.iter_mut().flatten().collect(),
            Kind::LineLabel { line, .. } => vec![line],
            Kind::Lookup { keys, .. } => keys.iter_mut().collect(),
            Kind::IfAbsent { value, instead, .. } => vec![value, instead],
            Kind::Presence { value, .. } => vec![value],
            Kind::Span { otherwise, .. } => vec![otherwise],
            Kind::Up {
                of, weight, filter, ..
            } => std::iter::once(of).chain(weight).chain(filter).collect(),
            Kind::Count { filter, .. } => filter.iter_mut().collect(),
            Kind::Share { whole, weight, .. } => vec![whole, weight],
        }
    }
}

impl RealNode {
    /// Whether it may come out below zero though no leaf is.
    pub fn takes_away(&self) -> bool {
        match self {
            RealNode::Sub(..) | RealNode::Ln(_) => true,
            RealNode::Leaf(_) => false,
            RealNode::Root(a, _) => a.takes_away(),
            RealNode::Add(a, b)
            | RealNode::Mul(a, b)
            | RealNode::Div(a, b)
            | RealNode::Power(a, b) => a.takes_away() || b.takes_away(),
        }
    }

    fn leaves_mut<'a>(&'a mut self, out: &mut Vec<&'a mut NodeId>) {
        match self {
            RealNode::Leaf(n) => out.push(n),
            RealNode::Add(a, b)
            | RealNode::Sub(a, b)
            | RealNode::Mul(a, b)
            | RealNode::Div(a, b)
            | RealNode::Power(a, b) => {
                a.leaves_mut(out);
                b.leaves_mut(out);
            }
            RealNode::Root(a, n) => {
                a.leaves_mut(out);
                out.push(n);
            }
            RealNode::Ln(a) => a.leaves_mut(out),
        }
    }
}
