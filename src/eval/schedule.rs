//! The order of a run: which nodes are worked in which pass over which rows, what is kept between passes, and when a
//! stretch of a node is let go.
//!
//! A pass works all its nodes stretch by stretch. Going up, grouping and sharing need all rows of a grain at once, so
//! their results are there one stage later. Nodes are worked as late as their users allow, so that little is kept.
//! Must not know values.

use super::RunError;
use super::rollup::Job;
use crate::program::{Grain, GroupId, Kind, NodeId, Program};
use foldhash::{HashMap, HashMapExt, HashSet, HashSetExt};
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
            grain => grain,
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
    operands: Vec<Vec<NodeId>>,
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
        operands: vec![Vec::new(); program.nodes().len()],
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
    fn free(&self, id: NodeId) -> bool {
        !(self.have)(id)
            && match self.kind(id) {
                Kind::Column { .. } => true,
                Kind::Down(of) => self.grain(*of) != self.grain(id),
                _ => false,
            }
    }

    /// Whether its column comes whole, after a pass or a grouping, rather than stretch by stretch.
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

    fn lay_out(&self) -> Schedule {
        let mut drafts: BTreeMap<(usize, Grain), Draft> = BTreeMap::new();
        let mut in_steps: BTreeMap<usize, Vec<NodeId>> = BTreeMap::new();
        let mut keep: HashSet<NodeId> = self.wanted.clone();
        if self.keep_all {
            keep.extend(self.needed.iter().copied().filter(|id| !self.free(*id)));
        }
        for id in self
            .needed
            .iter()
            .copied()
            .filter(|id| !self.constant(*id) && !(self.have)(*id))
        {
            let stage = self.stage_of(id);
            match self.kind(id) {
                Kind::Up { .. } | Kind::Count { .. } => {
                    drafts
                        .entry((stage, other_grain(self.program, id)))
                        .or_default()
                        .rollups
                        .push(id);
                }
                Kind::GroupKey { .. } => {}
                Kind::Down(of) if self.grain(*of) != self.grain(id) => {
                    keep.insert(*of);
                }
                Kind::Share {
                    whole,
                    weight,
                    step,
                } => {
                    drafts
                        .entry((stage.saturating_sub(1), self.grain(id)))
                        .or_default()
                        .rollups
                        .push(id);
                    keep.insert(*whole);
                    if step.is_some() {
                        keep.insert(*weight);
                        in_steps.entry(stage).or_default().push(id);
                    } else {
                        drafts
                            .entry((stage, self.grain(id)))
                            .or_default()
                            .worked
                            .insert(id);
                    }
                }
                Kind::Column { .. } => {}
                _ => {
                    drafts
                        .entry((stage, self.grain(id)))
                        .or_default()
                        .worked
                        .insert(id);
                }
            }
        }
        for group in &self.groups {
            if let Some(of) = self.program.groups.get(*group).map(|g| Grain::Table(g.of)) {
                let stage = self.group_stage.get(group).copied().unwrap_or(0);
                drafts
                    .entry((stage, of))
                    .or_default()
                    .groupings
                    .push(*group);
            }
        }
        // What a pass uses and does not work itself must have been kept, unless it is read afresh.
        for ((_, grain), draft) in &mut drafts {
            let mut used: BTreeSet<NodeId> = BTreeSet::new();
            for id in draft.worked.iter().chain(&draft.rollups) {
                match self.kind(*id) {
                    Kind::Share { weight, .. } => {
                        used.insert(*weight);
                    }
                    _ => used.extend(self.operands(*id)),
                }
            }
            draft
                .groupings
                .iter()
                .for_each(|group| used.extend(self.keys(*group)));
            for id in used
                .into_iter()
                .filter(|id| !self.constant(*id) && !draft.worked.contains(id))
            {
                debug_assert_eq!(self.grain(id), *grain);
                if !self.free(id) {
                    keep.insert(id);
                }
                draft.read.insert(id);
            }
        }
        for id in keep
            .iter()
            .copied()
            .filter(|id| !self.constant(*id) && !self.whole(*id))
        {
            let (stage, grain) = (self.stage_of(id), self.grain(id));
            let place = if self.free(id) {
                // Read where a pass walks its rows anyway.
                let first = self.earliest[at(id)];
                let passes = drafts
                    .keys()
                    .filter(|(at, of)| *of == grain && (first..=stage).contains(at));
                passes.max().copied().unwrap_or((stage, grain))
            } else {
                (stage, grain)
            };
            let draft = drafts.entry(place).or_default();
            if self.free(id) {
                draft.read.insert(id);
            }
            draft.kept.insert(id);
        }
        let mut stages: Vec<Stage> = Vec::new();
        for ((stage, grain), draft) in drafts {
            while stages.len() <= stage {
                stages.push(Stage::default());
            }
            let pass = self.pass(grain, &draft);
            stages[stage].passes.push(pass);
        }
        for (stage, shares) in in_steps {
            while stages.len() <= stage {
                stages.push(Stage::default());
            }
            stages[stage].in_steps = shares;
        }
        if !self.keep_all {
            self.let_go(&mut stages);
        }
        let constants = self
            .needed
            .iter()
            .copied()
            .filter(|id| self.constant(*id))
            .collect();
        Schedule {
            constants,
            stages,
            needed: self.needed.clone(),
        }
    }

    /// Finds the stage after which each kept column is of no more use.
    fn let_go(&self, stages: &mut [Stage]) {
        let mut last: HashMap<NodeId, usize> = HashMap::new();
        for (at, stage) in stages.iter().enumerate() {
            let mut used = |id: NodeId| {
                last.insert(id, at);
            };
            let shares = |id: &NodeId| match self.kind(*id) {
                Kind::Share { whole, weight, .. } => Some([*whole, *weight]),
                _ => None,
            };
            stage
                .in_steps
                .iter()
                .filter_map(shares)
                .flatten()
                .for_each(&mut used);
            for pass in &stage.passes {
                pass.kept.iter().for_each(|id| used(*id));
                pass.rollups.iter().for_each(|rollup| used(rollup.node));
                for action in &pass.actions {
                    match action {
                        Action::Read { node, .. } => used(*node),
                        Action::Down { of, .. } => used(*of),
                        Action::Work { node, .. } => {
                            shares(node).into_iter().flatten().for_each(&mut used)
                        }
                        Action::WorkQuotient { .. }
                        | Action::Keep { .. }
                        | Action::RollUp(_)
                        | Action::Group(_)
                        | Action::Free(_) => {}
                    }
                }
            }
        }
        for (id, at) in last {
            if !self.wanted.contains(&id)
                && let Some(stage) = stages.get_mut(at)
            {
                stage.done_with.push(id);
            }
        }
    }

    /// The actions of a pass, each stretch let go after its last use.
    fn pass(&self, grain: Grain, draft: &Draft) -> Pass {
        let mut steps: Vec<(Vec<NodeId>, Make)> = Vec::new();
        let all: BTreeSet<NodeId> = draft.worked.union(&draft.read).copied().collect();
        // A sink runs as soon as the last of its operands is there.
        let mut sinks: BTreeMap<Option<NodeId>, Vec<Make>> = BTreeMap::new();
        let mut add = |operands: Vec<NodeId>, make: Make| {
            let last = operands.into_iter().filter(|id| all.contains(id)).max();
            sinks.entry(last).or_default().push(make);
        };
        let mut rollups = Vec::new();
        for id in &draft.rollups {
            let (job, of, weight, filter, to) = match self.kind(*id) {
                Kind::Up {
                    kind,
                    of,
                    weight,
                    filter,
                } => (Job::Up(*kind), Some(*of), *weight, *filter, self.grain(*id)),
                Kind::Count { filter, .. } => (Job::Count, None, None, *filter, self.grain(*id)),
                Kind::Share { weight, .. } => (
                    Job::Weights,
                    Some(*weight),
                    None,
                    None,
                    other_grain(self.program, *id),
                ),
                _ => continue,
            };
            add(
                [of, weight, filter].into_iter().flatten().collect(),
                Make::RollUp(rollups.len()),
            );
            rollups.push((*id, job, [of, weight, filter], to));
        }
        for (at, group) in draft.groupings.iter().enumerate() {
            add(self.keys(*group).to_vec(), Make::Group(at));
        }
        for id in &draft.kept {
            add(vec![*id], Make::Keep(*id));
        }
        let operands_of = |make: &Make| -> Vec<NodeId> {
            match make {
                Make::RollUp(at) => rollups
                    .get(*at)
                    .map_or(Vec::new(), |r| r.2.iter().flatten().copied().collect()),
                Make::Group(at) => draft
                    .groupings
                    .get(*at)
                    .map_or(Vec::new(), |group| self.keys(*group).to_vec()),
                Make::Keep(id) => vec![*id],
                Make::Node(_) => Vec::new(),
            }
        };
        for make in sinks.remove(&None).unwrap_or_default() {
            steps.push((operands_of(&make), make));
        }
        for id in &all {
            let operands = match self.kind(*id) {
                _ if draft.read.contains(id) => Vec::new(),
                Kind::Share { weight, .. } => vec![*weight],
                _ => self.operands(*id).to_vec(),
            };
            steps.push((operands, Make::Node(*id)));
            for make in sinks.remove(&Some(*id)).unwrap_or_default() {
                steps.push((operands_of(&make), make));
            }
        }
        let mut last_use: HashMap<NodeId, usize> = HashMap::new();
        for (at, (operands, make)) in steps.iter().enumerate() {
            if let Make::Node(id) = make {
                last_use.insert(*id, at);
            }
            operands.iter().for_each(|id| {
                last_use.insert(*id, at);
            });
        }
        let mut slots = Slots::default();
        let mut pass = Pass {
            grain,
            actions: Vec::new(),
            rollups: Vec::new(),
            groupings: Vec::new(),
            kept: Vec::new(),
            slots: 0,
        };
        for (at, (operands, make)) in steps.into_iter().enumerate() {
            let find = |id: NodeId, slots: &Slots| match slots.of.get(&id) {
                Some(slot) => Operand::Slot(*slot),
                None => Operand::Constant(id),
            };
            let found: Vec<Operand> = operands.iter().map(|id| find(*id, &slots)).collect();
            let mut used = operands;
            match make {
                Make::Node(id) => {
                    let slot = slots.take(id);
                    used.push(id);
                    pass.actions
                        .push(self.make(id, draft.read.contains(&id), found, slot));
                }
                Make::Keep(id) => {
                    pass.kept.push(id);
                    pass.actions.push(Action::Keep {
                        node: id,
                        from: find(id, &slots),
                    });
                }
                Make::RollUp(index) => {
                    if let Some((node, job, [of, weight, filter], to)) = rollups.get(index) {
                        let find = |id: &Option<NodeId>| id.map(|id| find(id, &slots));
                        pass.actions.push(Action::RollUp(pass.rollups.len()));
                        pass.rollups.push(Rollup {
                            node: *node,
                            job: *job,
                            of: find(of),
                            weight: find(weight),
                            filter: find(filter),
                            to: *to,
                        });
                    }
                }
                Make::Group(index) => {
                    if let Some(group) = draft.groupings.get(index) {
                        pass.actions.push(Action::Group(pass.groupings.len()));
                        pass.groupings.push((*group, found));
                    }
                }
            }
            for id in used {
                if last_use.get(&id) == Some(&at)
                    && let Some(slot) = slots.give_back(id)
                {
                    pass.actions.push(Action::Free(slot));
                }
            }
        }
        pass.slots = slots.count;
        pass
    }

    fn make(&self, id: NodeId, read: bool, operands: Vec<Operand>, slot: usize) -> Action {
        match self.kind(id) {
            Kind::Down(of) if read && self.free(id) => Action::Down { of: *of, slot },
            _ if read => Action::Read { node: id, slot },
            Kind::Round { value, .. } if self.fused.contains(value) => match operands.as_slice() {
                [a, b, step] => Action::WorkQuotient {
                    node: id,
                    quotient: *value,
                    operands: [*a, *b, *step],
                    slot,
                },
                _ => Action::Work {
                    node: id,
                    operands,
                    slot,
                },
            },
            _ => Action::Work {
                node: id,
                operands,
                slot,
            },
        }
    }
}

/// What a pass is to do, before it is put in order.
#[derive(Debug, Default)]
struct Draft {
    worked: BTreeSet<NodeId>,
    read: BTreeSet<NodeId>,
    kept: BTreeSet<NodeId>,
    rollups: Vec<NodeId>,
    groupings: Vec<GroupId>,
}

enum Make {
    Node(NodeId),
    Keep(NodeId),
    RollUp(usize),
    Group(usize),
}

/// Places for the stretches that are held at one time.
#[derive(Default)]
struct Slots {
    of: HashMap<NodeId, usize>,
    spare: Vec<usize>,
    count: usize,
}

impl Slots {
    fn take(&mut self, id: NodeId) -> usize {
        let slot = self.spare.pop().unwrap_or_else(|| {
            self.count += 1;
            self.count - 1
        });
        self.of.insert(id, slot);
        slot
    }

    fn give_back(&mut self, id: NodeId) -> Option<usize> {
        let slot = self.of.remove(&id)?;
        self.spare.push(slot);
        Some(slot)
    }
}
