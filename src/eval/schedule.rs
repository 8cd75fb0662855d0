//! The order of a run: which nodes are worked in which pass over which rows, what is kept between passes, and when a
//! stretch of a node is let go.
//!
//! A pass works all its nodes stretch by stretch. Going up, grouping and sharing need all rows of a grain at once, so
//! their results are there one stage later. Nodes are worked as late as their users allow, so that little is kept.
//! Must not know values.

mod layout;

use super::RunError;
use super::rollup::Job;
use crate::program::{Grain, GroupId, Kind, NodeId, Program};
use foldhash::{HashMap, HashMapExt, HashSet, HashSetExt};
use smallvec::SmallVec;
use std::collections::{BTreeMap, BTreeSet};

/// Where an operand is found.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Operand {
    /// A constant.
    Constant(NodeId),
    /// A stretch held in this place.
    Slot(usize),
}

/// A roll-up of a pass.
#[derive(Debug, Clone)]
pub(super) struct Rollup {
    /// The node it belongs to.
    pub(super) node: NodeId,
    pub(super) job: Job,
    pub(super) of: Option<Operand>,
    pub(super) weight: Option<Operand>,
    pub(super) filter: Option<Operand>,
    /// Grain of the result.
    pub(super) to: Grain,
}

/// One thing to do with a stretch.
#[derive(Debug, Clone)]
pub(super) enum Action {
    /// Work a node from its operands.
    Work {
        node: NodeId,
        operands: Vec<Operand>,
        slot: usize,
    },
    /// Work a quotient that is rounded at once: dividend, divisor, step.
    WorkQuotient {
        node: NodeId,
        quotient: NodeId,
        operands: [Operand; 3],
        slot: usize,
    },
    /// Take a stretch of an input column or of a kept column.
    Read {
        node: NodeId,
        slot: usize,
    },
    /// Read the coarser values that the rows belong to.
    Down {
        of: NodeId,
        slot: usize,
    },
    /// Keep the stretch for later passes or for the results.
    Keep {
        node: NodeId,
        from: Operand,
    },
    RollUp(usize),
    Group(usize),
    Free(usize),
}

/// A pass over the rows of a grain.
#[derive(Debug)]
pub(super) struct Pass {
    pub(super) grain: Grain,
    pub(super) actions: Vec<Action>,
    pub(super) rollups: Vec<Rollup>,
    /// Groupings made in this pass, with their keys.
    pub(super) groupings: Vec<(GroupId, Vec<Operand>)>,
    /// Nodes kept, in the order of their actions.
    pub(super) kept: Vec<NodeId>,
    pub(super) slots: usize,
}

/// What can be done side by side.
#[derive(Debug, Default)]
pub(super) struct Stage {
    /// Shares in steps, which are worked on all rows at once before the passes.
    pub(super) in_steps: Vec<NodeId>,
    pub(super) passes: Vec<Pass>,
    /// Kept columns that no later stage uses and no result shows.
    pub(super) done_with: Vec<NodeId>,
}

/// The whole order.
#[derive(Debug)]
pub(super) struct Schedule {
    pub(super) constants: Vec<NodeId>,
    pub(super) stages: Vec<Stage>,
    /// Every node that is worked or read, in working order.
    pub(super) needed: Vec<NodeId>,
}

/// The grain whose rows a node that goes up adds, or that a share's whole is of.
#[expect(
    clippy::wildcard_enum_match_arm,
    reason = "every other kind stays on its own rows"
)]
pub(super) fn other_grain(program: &Program, id: NodeId) -> Grain {
    let node = program.node(id);
    match &node.kind {
        Kind::Up {
            of, weight, filter, ..
        } => {
            let grains = [Some(of), weight.as_ref(), filter.as_ref()];
            let first = grains
                .into_iter()
                .flatten()
                .map(|n| program.node(*n).grain)
                .find(|g| *g != Grain::Const);
            first.unwrap_or(node.grain)
        }
        Kind::Count { of, .. } => *of,
        Kind::Share { whole, .. } => match program.node(*whole).grain {
            Grain::Const => Grain::Job,
            grain @ (Grain::Job | Grain::Group(_) | Grain::Table(_)) => grain,
        },
        Kind::Down(of) => program.node(*of).grain,
        _ => node.grain,
    }
}

struct Planner<'a> {
    program: &'a Program,
    wanted: HashSet<NodeId>,
    have: &'a dyn Fn(NodeId) -> bool,
    keep_all: bool,
    /// Ascending.
    needed: Vec<NodeId>,
    groups: BTreeSet<GroupId>,
    /// Quotients that are worked within their rounding.
    fused: HashSet<NodeId>,
    /// By node: what it is worked from; nothing for one that is there already.
    operands: Vec<SmallVec<[NodeId; 4]>>,
    /// By node.
    earliest: Vec<usize>,
    group_stage: HashMap<GroupId, usize>,
    /// By node.
    stage: Vec<usize>,
}

/// Place of a node in what is kept by node.
fn at(id: NodeId) -> usize {
    id.index()
}

/// Lays out a run. `have` says which nodes' columns are there already; `keep_all` asks to keep every node for a later run.
/// Errors: [`RunError::Unrelated`].
pub(super) fn plan(
    program: &Program,
    wanted: &[NodeId],
    have: &dyn Fn(NodeId) -> bool,
    keep_all: bool,
) -> Result<Schedule, RunError> {
    let mut planner = Planner {
        program,
        wanted: wanted.iter().copied().collect(),
        have,
        keep_all,
        needed: Vec::new(),
        groups: BTreeSet::new(),
        fused: HashSet::new(),
        operands: vec![SmallVec::new(); program.nodes().len()],
        earliest: vec![0; program.nodes().len()],
        group_stage: HashMap::new(),
        stage: Vec::new(),
    };
    planner.find_needed();
    planner.check_grains()?;
    planner.fuse();
    planner.find_earliest()?;
    planner.find_stages();
    Ok(planner.lay_out())
}

impl<'a> Planner<'a> {
    fn kind(&self, id: NodeId) -> &'a Kind {
        &self.program.node(id).kind
    }

    fn grain(&self, id: NodeId) -> Grain {
        self.program.node(id).grain
    }

    fn constant(&self, id: NodeId) -> bool {
        self.grain(id) == Grain::Const
    }

    fn operands(&self, id: NodeId) -> &[NodeId] {
        &self.operands[at(id)]
    }

    /// Whether a column of its own is read or gathered afresh wherever it is used.
    #[expect(
        clippy::wildcard_enum_match_arm,
        reason = "only these kinds are read afresh; all others are worked"
    )]
    fn free(&self, id: NodeId) -> bool {
        !(self.have)(id)
            && match self.kind(id) {
                Kind::Column { .. } => true,
                Kind::Down(of) => self.grain(*of) != self.grain(id),
                _ => false,
            }
    }

    /// Whether its column comes whole, after a pass or a grouping, rather than stretch by stretch.
    #[expect(
        clippy::wildcard_enum_match_arm,
        reason = "only these kinds come whole; all others come stretch by stretch"
    )]
    fn whole(&self, id: NodeId) -> bool {
        (self.have)(id)
            || match self.kind(id) {
                Kind::Up { .. } | Kind::Count { .. } | Kind::GroupKey { .. } => true,
                Kind::Share { step, .. } => step.is_some(),
                _ => false,
            }
    }

    fn goes_up(&self, id: NodeId) -> bool {
        !(self.have)(id) && matches!(self.kind(id), Kind::Up { .. } | Kind::Count { .. })
    }

    fn find_needed(&mut self) {
        let mut needed = vec![false; self.operands.len()];
        let mut todo: Vec<NodeId> = self.wanted.iter().copied().collect();
        while let Some(id) = todo.pop() {
            if std::mem::replace(&mut needed[at(id)], true) {
                continue;
            }
            if !(self.have)(id) {
                self.operands[at(id)] = self.kind(id).children();
                todo.extend(self.operands(id));
            }
            for grain in [self.grain(id), other_grain(self.program, id)] {
                if let Grain::Group(group) = grain
                    && self.groups.insert(group)
                {
                    todo.extend(self.keys(group));
                }
            }
        }
        let ids = (0u32..).map(NodeId).zip(needed);
        self.needed = ids
            .filter_map(|(id, needed)| needed.then_some(id))
            .collect();
    }

    /// Operands must be of the grain whose rows are walked; nothing later asks again.
    #[expect(
        clippy::wildcard_enum_match_arm,
        reason = "every other kind needs operands of its own rows"
    )]
    fn check_grains(&self) -> Result<(), RunError> {
        let fits = |id: NodeId, grain: Grain| self.constant(id) || self.grain(id) == grain;
        for id in self.needed.iter().copied().filter(|id| !(self.have)(*id)) {
            let own = self.grain(id);
            let good = match self.kind(id) {
                Kind::Up { .. } | Kind::Count { .. } => {
                    let walked = other_grain(self.program, id);
                    self.operands(id).iter().all(|child| fits(*child, walked))
                }
                Kind::Share { weight, .. } => fits(*weight, own),
                Kind::Down(_) => true,
                Kind::GroupKey { group, .. } => own == Grain::Group(*group),
                Kind::Column { table, .. } => own == Grain::Table(*table),
                _ => self.operands(id).iter().all(|child| fits(*child, own)),
            };
            if !good {
                return Err(RunError::Unrelated(id));
            }
        }
        for group in &self.groups {
            let of = self.program.groups.get(*group).map(|g| Grain::Table(g.of));
            if let Some(key) = self
                .keys(*group)
                .iter()
                .find(|key| of.is_none_or(|of| !fits(**key, of)))
            {
                return Err(RunError::Unrelated(*key));
            }
        }
        Ok(())
    }

    fn keys(&self, group: GroupId) -> &'a [NodeId] {
        self.program.groups.get(group).map_or(&[], |g| &g.keys)
    }

    /// Finds the quotients that only their rounding uses.
    fn fuse(&mut self) {
        let mut uses: HashMap<NodeId, usize> = HashMap::new();
        let keys = self.groups.iter().flat_map(|group| self.keys(*group));
        for id in self.wanted.iter().chain(keys) {
            *uses.entry(*id).or_default() += 1;
        }
        for id in &self.needed {
            for child in self.operands(*id) {
                *uses.entry(*child).or_default() += 1;
            }
        }
        for id in &self.needed {
            if let Kind::Round { value, step, .. } = self.kind(*id)
                && let Kind::Div(_, divisor) = self.kind(*value)
                && uses.get(value) == Some(&1)
                && !self.constant(*id)
                && !self.constant(*divisor)
                && !(self.have)(*value)
                && !(self.have)(*id)
            {
                self.fused.insert(*value);
                let mut operands = self.kind(*value).children();
                operands.push(*step);
                self.operands[at(*id)] = operands;
            }
        }
        let fused = &self.fused;
        self.needed.retain(|id| !fused.contains(id));
    }

    /// First stage in which the rows of a grain can be walked.
    fn walkable(&self, grain: Grain) -> usize {
        match grain {
            Grain::Group(group) => self.group_stage.get(&group).map_or(0, |stage| stage + 1),
            Grain::Const | Grain::Job | Grain::Table(_) => 0,
        }
    }

    /// First stage in which a pass over the node's own rows can use it.
    fn usable(&self, id: NodeId) -> usize {
        let stage = self.earliest[at(id)];
        if self.goes_up(id) { stage + 1 } else { stage }
    }

    /// First stage in which all its rows are there.
    fn complete(&self, id: NodeId) -> usize {
        match self.constant(id) || (self.have)(id) {
            true => 0,
            false => self.earliest[at(id)] + 1,
        }
    }

    fn find_earliest(&mut self) -> Result<(), RunError> {
        // Each round settles at least one more grouping.
        for _ in 0..=self.groups.len() + 1 {
            let mut changed = false;
            for place in 0..self.needed.len() {
                let id = self.needed[place];
                let stage = self.earliest_of(id);
                changed |= std::mem::replace(&mut self.earliest[at(id)], stage) != stage;
            }
            for group in self.groups.clone() {
                let stage = self
                    .keys(group)
                    .iter()
                    .map(|key| self.usable(*key))
                    .max()
                    .unwrap_or(0);
                changed |= self.group_stage.insert(group, stage) != Some(stage);
            }
            if !changed {
                return Ok(());
            }
        }
        let key = self
            .groups
            .iter()
            .find_map(|group| self.keys(*group).first());
        Err(RunError::Unrelated(key.copied().unwrap_or(NodeId(0))))
    }

    #[expect(
        clippy::wildcard_enum_match_arm,
        reason = "every other kind is ready when its operands are"
    )]
    fn earliest_of(&self, id: NodeId) -> usize {
        let own = self.grain(id);
        if own == Grain::Const {
            return 0;
        }
        let ready = self
            .walkable(own)
            .max(self.walkable(other_grain(self.program, id)));
        if (self.have)(id) {
            return self.walkable(own);
        }
        match self.kind(id) {
            Kind::Down(of) if self.grain(*of) != own => ready.max(self.complete(*of)),
            Kind::Share {
                whole,
                weight,
                step,
            } => {
                let sum = ready.max(self.usable(*weight));
                let weight = if step.is_some() {
                    self.complete(*weight)
                } else {
                    0
                };
                (sum + 1).max(self.complete(*whole)).max(weight)
            }
            _ => self
                .operands(id)
                .iter()
                .map(|child| self.usable(*child))
                .fold(ready, usize::max),
        }
    }

    /// Stages as late as the users of each node allow.
    #[expect(
        clippy::wildcard_enum_match_arm,
        reason = "every other kind needs its operands by its own stage"
    )]
    fn find_stages(&mut self) {
        let last = self
            .earliest
            .iter()
            .chain(self.group_stage.values())
            .copied()
            .max()
            .unwrap_or(0);
        let mut latest = vec![last; self.operands.len()];
        let mut limit = |id: NodeId, stage: usize| {
            latest[at(id)] = latest[at(id)].min(stage);
            latest[at(id)]
        };
        for (group, stage) in &self.group_stage {
            for key in self.keys(*group) {
                limit(*key, stage.saturating_sub(usize::from(self.goes_up(*key))));
            }
        }
        for id in self.needed.iter().rev() {
            let stage = limit(*id, last);
            match self.kind(*id) {
                _ if (self.have)(*id) => {}
                Kind::Down(of) if self.grain(*of) != self.grain(*id) => {
                    limit(*of, stage.saturating_sub(1));
                }
                Kind::Share { whole, weight, .. } => {
                    limit(*whole, stage.saturating_sub(1));
                    limit(
                        *weight,
                        stage.saturating_sub(1 + usize::from(self.goes_up(*weight))),
                    );
                }
                _ => {
                    for child in self.operands(*id) {
                        limit(
                            *child,
                            stage.saturating_sub(usize::from(self.goes_up(*child))),
                        );
                    }
                }
            }
        }
        self.stage = latest;
    }

    fn stage_of(&self, id: NodeId) -> usize {
        self.stage[at(id)]
    }
}
