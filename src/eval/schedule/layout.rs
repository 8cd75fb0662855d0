//! Lays out the stages of a run once it is known which node is worked in which: what each pass works, keeps and gives back.

use super::*;

impl Planner<'_> {
    #[expect(
        clippy::wildcard_enum_match_arm,
        reason = "shares and what comes from other rows are placed apart; all others are worked where they stand"
    )]
    pub(super) fn lay_out(&self) -> Schedule {
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
        // What a node reads comes before it, so where that is kept is known when the node is placed.
        let mut kept: Vec<NodeId> = keep.iter().copied().collect();
        kept.sort_unstable();
        let mut kept_at: HashMap<NodeId, usize> = HashMap::new();
        for id in kept
            .into_iter()
            .filter(|id| !self.constant(*id) && !self.whole(*id))
        {
            let (stage, grain) = (self.stage_of(id), self.grain(id));
            let place = if self.free(id) {
                // Read where a pass walks its rows anyway, once what it reads is there.
                let first = match self.kind(id) {
                    Kind::Down(of) if !self.constant(*of) && !(self.have)(*of) => {
                        let done = kept_at.get(of).copied();
                        done.unwrap_or_else(|| self.stage_of(*of)) + 1
                    }
                    _ => self.earliest[at(id)],
                };
                let passes = drafts
                    .keys()
                    .filter(|(at, of)| *of == grain && (first..=stage).contains(at));
                passes.max().copied().unwrap_or((stage, grain))
            } else {
                (stage, grain)
            };
            kept_at.insert(id, place.0);
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
    #[expect(
        clippy::wildcard_enum_match_arm,
        reason = "shares alone are read after their pass"
    )]
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
    #[expect(
        clippy::wildcard_enum_match_arm,
        reason = "what goes up and shares are told apart; all others are worked from their operands"
    )]
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

    #[expect(
        clippy::wildcard_enum_match_arm,
        reason = "every other kind is worked from its operands"
    )]
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
