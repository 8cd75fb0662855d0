//! Lays out the stages of a run once it is known which node is worked in which: what each pass works, keeps and gives back.

use super::*;

impl Planner<'_> {
    pub(super) fn lay_out(&self) -> Schedule {
        let mut drafts = self.drafts();
        self.read_what_is_used(&mut drafts);
        self.place_kept(&mut drafts);
        let mut stages: Vec<Stage> = Vec::new();
        for ((stage, grain), draft) in drafts.passes {
            while stages.len() <= stage {
                stages.push(Stage::default());
            }
            let pass = self.pass(grain, &draft);
            stages[stage].passes.push(pass);
        }
        for (stage, shares) in drafts.in_steps {
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

    /// The pass in which each node is worked, and what has to be kept for that.
    fn drafts(&self) -> Drafts {
        let mut drafts = Drafts {
            keep: self.wanted.clone(),
            ..Drafts::default()
        };
        if self.keep_all {
            let kept = self.needed.iter().copied().filter(|id| !self.free(*id));
            drafts.keep.extend(kept);
        }
        for id in self
            .needed
            .iter()
            .copied()
            .filter(|id| !self.constant(*id) && !(self.have)(*id))
        {
            self.draft(id, &mut drafts);
        }
        for group in &self.groups {
            if let Some(of) = self.program.groups.get(*group).map(|g| Grain::Table(g.of)) {
                let stage = self.group_stage.get(group).copied().unwrap_or(0);
                drafts.pass(stage, of).groupings.push(*group);
            }
        }
        drafts
    }

    #[expect(
        clippy::wildcard_enum_match_arm,
        reason = "shares and what comes from other rows are placed apart; all others are worked where they stand"
    )]
    fn draft(&self, id: NodeId, drafts: &mut Drafts) {
        let (stage, grain) = (self.stage_of(id), self.grain(id));
        match self.kind(id) {
            Kind::Up { .. } | Kind::Count { .. } => {
                let below = other_grain(self.program, id);
                drafts.pass(stage, below).rollups.push(id);
            }
            Kind::GroupKey { .. } | Kind::Column { .. } => {}
            Kind::Down(of) if self.grain(*of) != grain => {
                drafts.keep.insert(*of);
            }
            Kind::Share {
                whole,
                weight,
                step,
            } => {
                let before = stage.saturating_sub(1);
                drafts.pass(before, grain).rollups.push(id);
                drafts.keep.insert(*whole);
                if step.is_some() {
                    drafts.keep.insert(*weight);
                    drafts.in_steps.entry(stage).or_default().push(id);
                } else {
                    drafts.pass(stage, grain).worked.insert(id);
                }
            }
            _ => {
                drafts.pass(stage, grain).worked.insert(id);
            }
        }
    }

    /// What a pass uses and does not work itself must have been kept, unless it is read afresh.
    #[expect(
        clippy::wildcard_enum_match_arm,
        reason = "shares read their weight here; all others read their operands"
    )]
    fn read_what_is_used(&self, drafts: &mut Drafts) {
        for ((_, grain), draft) in &mut drafts.passes {
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
                    drafts.keep.insert(id);
                }
                draft.read.insert(id);
            }
        }
    }

    /// The pass that keeps each column.
    #[expect(
        clippy::wildcard_enum_match_arm,
        reason = "all other kinds are read as early as they are known"
    )]
    fn place_kept(&self, drafts: &mut Drafts) {
        // What a node reads comes before it, so where that is kept is known when the node is placed.
        let mut kept: Vec<NodeId> = drafts.keep.iter().copied().collect();
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
                    .passes
                    .keys()
                    .filter(|(at, of)| *of == grain && (first..=stage).contains(at));
                passes.max().copied().unwrap_or((stage, grain))
            } else {
                (stage, grain)
            };
            kept_at.insert(id, place.0);
            let draft = drafts.passes.entry(place).or_default();
            if self.free(id) {
                draft.read.insert(id);
            }
            draft.kept.insert(id);
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
    fn pass(&self, grain: Grain, draft: &Draft) -> Pass {
        let rollups: Vec<Upward> = draft
            .rollups
            .iter()
            .filter_map(|id| self.upward(*id))
            .collect();
        let steps = self.steps(draft, &rollups);
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
            let found: Vec<Operand> = operands.iter().map(|id| slots.find(*id)).collect();
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
                        from: slots.find(id),
                    });
                }
                Make::RollUp(index) => {
                    if let Some(up) = rollups.get(index) {
                        pass.actions.push(Action::RollUp(pass.rollups.len()));
                        let [of, weight, filter] = up.reads.map(|id| id.map(|id| slots.find(id)));
                        pass.rollups.push(Rollup {
                            node: up.node,
                            job: up.job,
                            of,
                            weight,
                            filter,
                            to: up.to,
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

    /// What a roll-up reads, and the grain it goes up to.
    #[expect(clippy::wildcard_enum_match_arm, reason = "no other kind goes up")]
    fn upward(&self, node: NodeId) -> Option<Upward> {
        let (job, reads, to) = match self.kind(node) {
            Kind::Up {
                kind,
                of,
                weight,
                filter,
            } => (
                Job::Up(*kind),
                [Some(*of), *weight, *filter],
                self.grain(node),
            ),
            Kind::Count { filter, .. } => (Job::Count, [None, None, *filter], self.grain(node)),
            Kind::Share { weight, .. } => (
                Job::Weights,
                [Some(*weight), None, None],
                other_grain(self.program, node),
            ),
            _ => return None,
        };
        Some(Upward {
            node,
            job,
            reads,
            to,
        })
    }

    /// What a pass makes, in order, each with what it uses: nodes after their operands, and what only takes from them (roll-ups,
    /// groups, kept columns) as soon as the last of its operands is there.
    #[expect(
        clippy::wildcard_enum_match_arm,
        reason = "shares read their weight alone; all others are worked from their operands"
    )]
    fn steps(&self, draft: &Draft, rollups: &[Upward]) -> Vec<(Vec<NodeId>, Make)> {
        let all: BTreeSet<NodeId> = draft.worked.union(&draft.read).copied().collect();
        let mut sinks: BTreeMap<Option<NodeId>, Vec<(Vec<NodeId>, Make)>> = BTreeMap::new();
        let mut add = |operands: Vec<NodeId>, make: Make| {
            let last = operands.iter().copied().filter(|id| all.contains(id)).max();
            sinks.entry(last).or_default().push((operands, make));
        };
        for (at, up) in rollups.iter().enumerate() {
            add(up.reads.into_iter().flatten().collect(), Make::RollUp(at));
        }
        for (at, group) in draft.groupings.iter().enumerate() {
            add(self.keys(*group).to_vec(), Make::Group(at));
        }
        for id in &draft.kept {
            add(vec![*id], Make::Keep(*id));
        }
        let mut steps = sinks.remove(&None).unwrap_or_default();
        for id in &all {
            let operands = match self.kind(*id) {
                _ if draft.read.contains(id) => Vec::new(),
                Kind::Share { weight, .. } => vec![*weight],
                _ => self.operands(*id).to_vec(),
            };
            steps.push((operands, Make::Node(*id)));
            steps.extend(sinks.remove(&Some(*id)).unwrap_or_default());
        }
        steps
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

/// All passes of a run, by their stage and grain, before they are put in order.
#[derive(Debug, Default)]
struct Drafts {
    passes: BTreeMap<(usize, Grain), Draft>,
    /// Shares that are handed out in whole steps, by stage.
    in_steps: BTreeMap<usize, Vec<NodeId>>,
    keep: HashSet<NodeId>,
}

impl Drafts {
    fn pass(&mut self, stage: usize, grain: Grain) -> &mut Draft {
        self.passes.entry((stage, grain)).or_default()
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

/// A roll-up of a pass.
struct Upward {
    node: NodeId,
    job: Job,
    /// The value, its weight and the filter.
    reads: [Option<NodeId>; 3],
    to: Grain,
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
    fn find(&self, id: NodeId) -> Operand {
        match self.of.get(&id) {
            Some(slot) => Operand::Slot(*slot),
            None => Operand::Constant(id),
        }
    }

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
