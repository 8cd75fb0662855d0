//! What checking an expression gives, and the state shared by the checker's parts.

use super::declare::Pen;
use super::kept::{Last, Reader};
use super::load::Loaded;
use crate::diagnostics::{Diagnostic, Span};
use crate::ids::ById;
use crate::number::Rounding;
use crate::program::{
    Adds, ChoiceId, Grain, GroupId, Kind, LookupId, Missing, Node, NodeId, NumTy, PhaseId, Program,
    ResourceId, TableId, Ty, WhyNot,
};
use crate::syntax::tree;
use crate::syntax::tree::{Layer, Name};
use crate::units::Dim;
use foldhash::{HashMap, HashMapExt, HashSet};

/// A fault was reported already.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Poisoned;

/// Result of checking.
pub(super) type Checks<T> = Result<T, Poisoned>;

/// Cells still unhandled: blank, "n/a".
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub(super) struct Pending {
    pub(super) blank: bool,
    pub(super) na: bool,
}

impl Pending {
    pub(super) fn any(self) -> bool {
        self.blank || self.na
    }
}

/// A checked expression.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub(super) struct Typed {
    pub(super) node: NodeId,
    pub(super) pending: Pending,
    /// Whole in base units, provably.
    pub(super) whole: bool,
    /// A written plain number, which a percent may be added to.
    pub(super) literal: bool,
}

/// Which node each stretch of a sheet became in one version.
#[derive(Debug, Default)]
pub(super) struct Trace {
    /// In the order they were read; of two the later holds.
    pub(super) nodes: Vec<(Span, NodeId)>,
    /// What is not in it is as in the version before.
    pub(super) goes_on: bool,
}

impl Trace {
    pub(super) fn record(&mut self, span: Span, node: NodeId) {
        self.nodes.push((span, node));
    }
}

/// What a name stands for.
#[derive(Debug, Clone)]
pub(super) enum DefKind<'a> {
    Column {
        table: TableId,
        index: u16,
        column: &'a tree::Column,
    },
    Given(&'a tree::Given),
    Rule(&'a tree::Rule),
    Decide(&'a tree::Decide),
}

/// A named value as declared.
#[derive(Debug, Clone)]
pub(super) struct Def<'a> {
    pub(super) name: &'a Name,
    pub(super) kind: DefKind<'a>,
    pub(super) grain: Grain,
    pub(super) layer: Layer,
    /// Choice made for a column, given or decision written in place.
    pub(super) choice: Option<ChoiceId>,
}

/// A change with its layer.
#[derive(Debug, Clone, Copy)]
pub(super) struct LayeredChange<'a> {
    pub(super) layer: Layer,
    pub(super) change: &'a tree::Change,
}

/// An alternate as declared.
#[derive(Debug, Clone, Copy)]
pub(super) struct Alternate<'a> {
    pub(super) name: &'a tree::Text,
    pub(super) owner: Option<&'a tree::Text>,
    pub(super) changes: &'a [tree::Change],
    pub(super) amends: &'a [tree::Amend],
    pub(super) pick: Option<&'a tree::Pick>,
}

impl<'a> Alternate<'a> {
    /// Its changes with their layer.
    pub(super) fn layered(&self) -> Vec<LayeredChange<'a>> {
        self.changes
            .iter()
            .map(|change| LayeredChange {
                layer: Layer::Alternate,
                change,
            })
            .collect()
    }
}

/// A block of rules with its grain.
pub(super) struct Block<'a> {
    pub(super) grain: Grain,
    pub(super) lines: &'a [tree::ForLine],
}

/// A helper as declared.
#[derive(Debug, Clone, Copy)]
pub(super) struct HelperDef<'a> {
    pub(super) name: &'a Name,
    pub(super) params: &'a [Name],
    pub(super) body: &'a tree::Expr,
}

/// A resource as declared, with its unit read.
pub(super) struct DeclaredResource<'a> {
    pub(super) tree: &'a tree::Resource,
}

/// State of a check.
pub(super) struct Checker<'a> {
    pub(super) loaded: &'a Loaded,
    /// What the check makes.
    pub(super) program: Program,
    /// What is wrong, in the order in which it was found.
    pub(super) problems: Vec<Diagnostic>,
    pub(super) declared: Sealed<Declared<'a>>,
    pub(super) work: Work<'a>,
    pub(super) kept: Kept<'a>,
    pub(super) reading: Reading,
    pub(super) reported: Reported<'a>,
    /// For each version, which node came from which place.
    pub(super) traces: Vec<Trace>,
    pub(super) trace: Trace,
    pub(super) trial_defs: Vec<super::TrialDef>,
    pub(super) point_versions: Vec<usize>,
}

/// What everyone may read, and only the holder of the [`Pen`] may write.
#[derive(Default)]
pub(super) struct Sealed<T>(T);

impl<T> std::ops::Deref for Sealed<T> {
    type Target = T;

    fn deref(&self) -> &T {
        &self.0
    }
}

impl<T> Sealed<T> {
    pub(super) fn write(&mut self, _: &Pen) -> &mut T {
        &mut self.0
    }
}

/// What the sheets declare: complete once the declarations are read. Nobody has a [`Pen`] while versions are built.
#[derive(Default)]
pub(super) struct Declared<'a> {
    /// Columns, givens, rules and decisions.
    pub(super) defs: Vec<Def<'a>>,
    /// Their places in `defs`.
    pub(super) by_name: HashMap<&'a str, Vec<usize>>,
    pub(super) helpers: HashMap<&'a str, HelperDef<'a>>,
    /// Lookup tables, each as it stands from a layer on.
    pub(super) lookups: HashMap<&'a str, Vec<(Layer, LookupId)>>,
    pub(super) choices: HashMap<&'a str, ChoiceId>,
    pub(super) tables: HashMap<&'a str, TableId>,
    pub(super) groups: HashMap<&'a str, GroupId>,
    pub(super) resources: ById<ResourceId, DeclaredResource<'a>>,
    pub(super) resources_by_name: HashMap<&'a str, ResourceId>,
    /// By label: the first choice that has it with its place there, and whether another choice has it too.
    pub(super) label_owners: HashMap<String, (ChoiceId, u16, bool)>,
    /// Resources that parts carry, with the first part of each.
    pub(super) carried: HashMap<&'a str, Span>,
    /// Whether a sheet lists the phases.
    pub(super) phases_listed: bool,
    pub(super) blocks: Vec<Block<'a>>,
    pub(super) cautions: Vec<&'a tree::Caution>,
    pub(super) changes: Vec<LayeredChange<'a>>,
    /// Changes of limits, packs, names, and of where takes go.
    pub(super) amends: Vec<super::amend::LayeredAmend<'a>>,
    pub(super) alternates: Vec<Alternate<'a>>,
    /// Trials with the layer of their sheet: changes of later layers do not touch them.
    pub(super) trials: Vec<(&'a tree::Trial, Layer)>,
    pub(super) ties: Rounding,
}

impl<'a> Declared<'a> {
    /// The names of all tables and groups.
    pub(super) fn kinds_of_row(&self) -> impl Iterator<Item = &'a str> + '_ {
        self.tables.keys().chain(self.groups.keys()).copied()
    }
}

/// The version in work: what is in force in it, and what it is for.
pub(super) struct Work<'a> {
    /// Changes in force, by definition, in the order of layers.
    pub(super) in_force: HashMap<usize, Vec<LayeredChange<'a>>>,
    /// The last layer that counts: trials see nothing of later ones.
    pub(super) up_to: Layer,
    pub(super) in_force_amends: Vec<super::amend::LayeredAmend<'a>>,
    /// Changes that sent some take elsewhere.
    pub(super) sends_used: HashSet<Span>,
    /// Takes that stay because a condition can't be read where they are calculated, by the change.
    pub(super) sends_stuck: HashMap<Span, Vec<Span>>,
    /// Changes of single rows, by definition and layer.
    pub(super) exceptions: HashMap<(usize, Layer), Vec<&'a tree::Change>>,
    /// By the place of such a change: its value and its pin.
    pub(super) decided: HashMap<Span, super::exceptions::Decided>,
    /// Decisions that decide nothing under an added label unless a change does.
    pub(super) gaps: std::collections::BTreeMap<usize, &'a tree::Decide>,
    /// Values that a trial sets.
    pub(super) pinned: super::trials::Pinned,
    /// What a trial's version needs; every part of a version when none.
    pub(super) need: Option<Need<'a>>,
    /// The version is mixed of two others.
    pub(super) mix: Option<super::mix::Mix<'a>>,
    /// It is an alternate or a trial: what the base version says is not said again.
    pub(super) repeat: bool,
}

/// What was worked out and holds for the next version too, as far as nothing below it changes.
#[derive(Default)]
pub(super) struct Kept<'a> {
    /// Phases, also those that no sheet lists and a take names.
    pub(super) phases_by_name: HashMap<String, PhaseId>,
    /// Definitions by their place and stage.
    pub(super) memo: HashMap<(usize, usize), Checks<Typed>>,
    /// Calls of helpers.
    pub(super) calls: HashMap<super::calls::CallKey<'a>, super::calls::Called>,
    /// Who reads which definition.
    pub(super) reads: foldhash::HashSet<(Reader, usize)>,
    /// Who reads spans of the calendar: each version has its own.
    pub(super) span_readers: foldhash::HashSet<Reader>,
    /// Lines of blocks, by their number in all blocks.
    pub(super) lines: HashMap<usize, Checks<super::takes::Line>>,
    /// The number of the line that each take or part is written in.
    pub(super) line_of_take: HashMap<Span, usize>,
    /// Groupings of `split by`, one a column.
    pub(super) splits: Vec<GroupId>,
    /// What was in force when the last version was built.
    pub(super) last: Last<'a>,
    /// Whether something is taken away below a node.
    pub(super) sinks: HashMap<NodeId, bool>,
    /// The lines and reasons of decisions, by definition.
    pub(super) decides: HashMap<usize, crate::program::DecideDef>,
    /// Decisions that a later layer changes after adding labels: whether some line holds.
    pub(super) holds: HashMap<usize, NodeId>,
    /// Conditions that are settled before running.
    pub(super) truths: HashMap<NodeId, bool>,
    /// Units by their text: the same few are written all over the sheets.
    pub(super) unit_cache: HashMap<String, crate::units::UnitExpr>,
    /// Faults that are the same on every row, noted where they are written.
    pub(super) certain: HashMap<NodeId, super::certain::Certain>,
}

/// Where the checker is: the definitions, calls and expressions that are being read.
#[derive(Default)]
pub(super) struct Reading {
    /// Resources whose takes are being added up for a rule.
    pub(super) taking: Vec<ResourceId>,
    /// How often that was done.
    pub(super) taken: usize,
    /// Whether something was said of a call.
    pub(super) calls_spoke: bool,
    /// How many calls were calculated in all versions.
    pub(super) calls_worked: usize,
    /// The line of a block, by its number in all blocks.
    pub(super) line: Option<usize>,
    /// Definitions being read, each needed by the one before it.
    pub(super) open: Vec<(usize, usize)>,
    /// A definition that is needed too deep inside others: it is read first, and they anew.
    pub(super) deferred: Option<(usize, usize)>,
    /// Whether a definition is being read.
    pub(super) defining: bool,
    /// What finished definitions had to say, while others are being read.
    pub(super) said: Vec<Diagnostic>,
    /// Expressions in one another that are being read.
    pub(super) deep: usize,
}

/// What was reported, so that nothing is reported twice, and how much may still be compared for suggestions.
#[derive(Default)]
pub(super) struct Reported<'a> {
    /// Names whose own declaration failed: named elsewhere without a further message.
    pub(super) broken: foldhash::HashSet<&'a str>,
    /// Kinds of things of which one too many was declared.
    pub(super) full: HashSet<&'static str>,
    /// The first so many problems by code and place, for finding one again.
    pub(super) at: HashMap<(&'static str, Option<Span>), Vec<usize>>,
    /// How many of them are indexed.
    pub(super) indexed: usize,
    /// Helpers that some rule calls; a warning names the others.
    pub(super) helpers_used: foldhash::HashSet<&'a str>,
    /// Names compared in search of those that were meant.
    pub(super) compared: std::cell::Cell<usize>,
    /// Pairs of rows of tables that may still be compared.
    pub(super) pairs_left: usize,
    /// Whether the message about too many nodes or calls was given.
    pub(super) too_many: bool,
    /// Whether the message about the missing day of the job was given.
    pub(super) unsaid: bool,
    /// Certain faults by place.
    pub(super) certain: super::certain::Told,
}

/// The part of a version that a trial looks at.
#[derive(Debug, Default)]
pub(super) struct Need<'a> {
    /// Values by name.
    pub(super) values: foldhash::HashSet<&'a str>,
    /// Resources whose take lines are added up.
    pub(super) takes: foldhash::HashSet<&'a str>,
    /// Parts by name.
    pub(super) parts: foldhash::HashSet<&'a str>,
    /// Resources whose cut plans are made.
    pub(super) cuts: foldhash::HashSet<&'a str>,
    /// Requirements.
    pub(super) requires: bool,
}

/// Where an expression is.
#[derive(Clone)]
pub(super) struct Context<'a> {
    pub(super) grain: Grain,
    /// Parameters of the helper being folded in, if any.
    pub(super) params: HashMap<&'a str, Typed>,
    pub(super) in_helper: Vec<&'a str>,
    /// Call that brought us into a helper.
    pub(super) call: Option<Span>,
    /// Names known to be there (by a test around this place).
    pub(super) known: Vec<(String, Pending)>,
    /// The definition whose change is being read: its own name means the stage before.
    pub(super) own: Option<(usize, usize)>,
    /// Inside a `rounded`: irrational values are allowed.
    pub(super) real_ok: bool,
    /// Inside a branch that may not be taken.
    pub(super) in_branch: bool,
}

impl Context<'_> {
    pub(super) fn at(grain: Grain) -> Self {
        Context {
            grain,
            params: HashMap::new(),
            in_helper: Vec::new(),
            call: None,
            known: Vec::new(),
            own: None,
            real_ok: false,
            in_branch: false,
        }
    }

    /// The same in a branch that may not be taken.
    pub(super) fn branch(&self) -> Self {
        Context {
            in_branch: true,
            ..self.clone()
        }
    }
}

impl<'a> Checker<'a> {
    /// Tells a fault and poisons.
    pub(super) fn fail<T>(&mut self, d: Diagnostic) -> Checks<T> {
        self.problems.push(d);
        Err(Poisoned)
    }

    pub(super) fn ty(&self, typed: &Typed) -> &Ty {
        &self.program.node(typed.node).ty
    }

    pub(super) fn grain_of(&self, node: NodeId) -> Grain {
        self.program.node(node).grain
    }

    pub(super) fn missing_of(&self, nodes: &[NodeId]) -> Missing {
        nodes
            .iter()
            .map(|n| self.program.node(*n).missing)
            .max()
            .unwrap_or(Missing::Never)
    }

    /// Grain of a node with these children, all at the context's grain or constant.
    pub(super) fn grain_over(&self, nodes: &[NodeId]) -> Grain {
        nodes
            .iter()
            .map(|n| self.grain_of(*n))
            .find(|g| *g != Grain::Const)
            .unwrap_or(Grain::Const)
    }

    /// A node over children at one grain. Its missing state is the greatest of theirs, unhandled counting as partly.
    pub(super) fn node(&mut self, kind: Kind, ty: Ty, span: Span) -> NodeId {
        let children = kind.children();
        let grain = self.grain_over(&children);
        let missing = self.missing_of(&children).min(Missing::Partly);
        let truth = self.settled_truth(&kind);
        let node = self.program.intern(Node {
            kind,
            ty,
            grain,
            missing,
            span,
        });
        if let Some(truth) = truth {
            self.kept.truths.insert(node, truth);
        }
        node
    }

    pub(super) fn name_of_grain(&self, grain: Grain) -> String {
        self.program.name_of_grain(grain)
    }

    /// What a value is, in words: "a length", "a choice of treatment", "yes or no".
    pub(super) fn words(&self, ty: &Ty) -> String {
        self.program.words(ty)
    }
}

/// A number type whose additivity follows from its dimension.
pub(super) fn number(dim: Dim) -> Ty {
    let adds = adds_by_dim(&dim);
    Ty::Number(NumTy {
        dim,
        percent: false,
        adds,
        real: false,
    })
}

/// Whether values of a dimension add up unless more is known.
pub(super) fn adds_by_dim(dim: &Dim) -> Adds {
    use crate::units::Base;
    if dim.is_none() {
        Adds::No(WhyNot::Plain)
    } else if dim.is_rate() {
        Adds::No(WhyNot::Rate)
    } else if dim.exponent(Base::Time) != 0 {
        Adds::No(WhyNot::Duration)
    } else if *dim == Dim::length(1) {
        Adds::No(WhyNot::Size)
    } else {
        Adds::Yes
    }
}
