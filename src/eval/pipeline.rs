//! Runs a schedule: constants first, then stage by stage, each pass over its rows in stretches, on several threads.
//!
//! Knows which kernel works which kind of node. Must not know how kernels work, nor the order of nodes.

mod inputs;
mod lookups;
mod shares;

use inputs::{check_inputs, code, own, placeholder, read_values, take_rows};

use super::chunk::{Data, Faults, Piece, ROWS, Single, States, give_back};
use super::column::{Column, Kept};
use super::grain::{Grains, RowMap, StretchGroups, group_stretch, join_groups};
use super::kernels::lookup::{KeyTexts, LookedUp, Prepared};
use super::kernels::{At, arith, choose, compare, real, round};
use super::memory::Memory;
use super::results::Results;
use super::rollup::{self, Accounts, Job, LeftOut, Operands, Part};
use super::schedule::{Action, Operand, Pass, Rollup, Schedule, plan};
use super::texts::Classes;
use super::{Inputs, Options, RunError};
use crate::number::Exact;
use crate::program::{Grain, Kind, LookupId, NodeId, Program, Ty};
use foldhash::{HashMap, HashMapExt};
use rayon::prelude::*;
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};

/// Fewer stretches than this are not worth starting threads for.
const FEW_STRETCHES: usize = 4;

/// Works the wanted nodes; see [`super::run`].
pub(super) fn run(
    program: &Program,
    inputs: &Inputs<'_>,
    wanted: &[NodeId],
    options: &Options<'_>,
    mut memory: Option<&mut Memory>,
) -> Result<Results, RunError> {
    let several = inputs
        .tables
        .iter()
        .any(|t| t.rows.div_ceil(ROWS) >= FEW_STRETCHES);
    let side_by_side = several && options.threads != Some(1);
    let recall = memory
        .as_mut()
        .map(|memory| memory.recall(program, inputs, side_by_side));
    let known = memory.as_deref().zip(recall.as_ref());
    // Texts are numbered anew each run, so their columns are too.
    let text = |id: NodeId| matches!(program.node(id).ty, Ty::Text);
    let have =
        |id: NodeId| known.is_some_and(|(memory, recall)| !text(id) && memory.has(recall, id));
    let schedule = plan(program, wanted, &have, memory.is_some())?;
    check_inputs(program, &inputs.tables, &schedule.needed)?;
    let classes = Classes::new(program, &inputs.tables, &schedule.needed, wanted);
    let mut run = Run {
        program,
        spans: inputs.spans,
        grains: Grains::new(program, &inputs.tables),
        classes,
        faults: known.map_or_else(Faults::default, |(memory, recall)| memory.faults(recall)),
        constants: HashMap::new(),
        kept: HashMap::new(),
        sums: HashMap::new(),
        left_out: HashMap::new(),
        lookups: HashMap::new(),
        reals: HashMap::new(),
        options,
        done: AtomicU64::new(0),
        all: 0,
    };
    for id in schedule.needed.iter().copied().filter(|id| have(*id)) {
        if let Some((column, left_out)) =
            known.and_then(|(memory, recall)| memory.column(recall, id))
        {
            run.kept.insert(id, column);
            left_out.and_then(|left_out| run.left_out.insert(id, left_out));
        }
    }
    run.prepare(&schedule);
    match options.threads {
        Some(threads) if threads > 1 && several => {
            let pool = rayon::ThreadPoolBuilder::new()
                .num_threads(threads)
                .build()
                .map_err(|_| RunError::NoThreads)?;
            pool.install(|| run.work(&schedule))?;
        }
        _ => run.work(&schedule)?,
    }
    if let (Some(memory), Some(recall)) = (memory, recall) {
        let kept =
            |id: &NodeId| !text(*id) && !matches!(program.node(*id).kind, Kind::Column { .. });
        let kept = run
            .kept
            .iter()
            .filter(|(id, _)| kept(id))
            .map(|(id, column)| (*id, Arc::clone(column)))
            .collect();
        memory.keep(&recall, &kept, &run.left_out, &run.faults.list());
    }
    Ok(run.finish(wanted))
}

struct Run<'a> {
    program: &'a Program,
    spans: &'a [Option<Exact>],
    grains: Grains<'a>,
    classes: Classes,
    faults: Faults,
    constants: HashMap<NodeId, Piece<'static>>,
    kept: HashMap<NodeId, Arc<Column>>,
    /// Sums of the weights of shares, by the share's node.
    sums: HashMap<NodeId, Arc<Column>>,
    left_out: HashMap<NodeId, LeftOut>,
    lookups: HashMap<NodeId, Prepared>,
    reals: HashMap<NodeId, real::Worked>,
    options: &'a Options<'a>,
    /// Rows done and to do, for progress.
    done: AtomicU64,
    all: u64,
}

/// What one stretch of a pass leaves behind, in the order of the pass's actions.
#[derive(Default)]
struct Outcome {
    kept: Vec<Kept>,
    parts: Vec<Part>,
    groups: Vec<StretchGroups>,
}

impl<'a> Run<'a> {
    fn at(&self, node: NodeId, len: usize) -> At<'_> {
        At {
            faults: &self.faults,
            node,
            len,
        }
    }

    fn kind(&self, node: NodeId) -> &'a Kind {
        &self.program.node(node).kind
    }

    #[expect(
        clippy::wildcard_enum_match_arm,
        reason = "only these kinds are made ready before the rows; all others need nothing"
    )]
    fn prepare(&mut self, schedule: &Schedule) {
        for id in schedule.needed.iter().copied() {
            match self.kind(id) {
                Kind::Lookup {
                    table,
                    column,
                    keys,
                    interpolated,
                } => {
                    if let Some(ready) =
                        self.prepare_lookup(id, *table, *column, keys, *interpolated)
                    {
                        self.lookups.insert(id, ready);
                    }
                }
                Kind::RoundReal { .. } => {
                    self.reals.insert(id, real::Worked::default());
                }
                _ => {}
            }
        }
        for pass in schedule.stages.iter().flat_map(|stage| &stage.passes) {
            self.all += crate::ids::long(self.grains.rows(pass.grain));
        }
    }

    fn work(&mut self, schedule: &Schedule) -> Result<(), RunError> {
        for id in &schedule.constants {
            let piece = self.constant(*id)?.into_one();
            self.constants.insert(*id, piece);
        }
        for stage in &schedule.stages {
            for id in &stage.in_steps {
                let column = self.in_steps(*id)?;
                self.kept.insert(*id, Arc::new(column));
            }
            for pass in &stage.passes {
                self.pass(pass)?;
            }
            for id in &stage.done_with {
                self.kept.remove(id);
            }
        }
        Ok(())
    }

    #[expect(
        clippy::wildcard_enum_match_arm,
        reason = "every other kind works its one row as it works any"
    )]
    fn constant(&self, id: NodeId) -> Result<Piece<'static>, RunError> {
        let operands: Vec<Piece<'_>> = self
            .kind(id)
            .children()
            .iter()
            .map(|child| {
                let piece = self.constants.get(child).map(Piece::borrow);
                piece.ok_or(RunError::Unrelated(*child))
            })
            .collect::<Result<_, _>>()?;
        let operands: Vec<&Piece<'_>> = operands.iter().collect();
        match self.kind(id) {
            // Over the one value that a constant is.
            Kind::Up {
                kind,
                of,
                weight,
                filter,
            } => {
                let find = |node: NodeId| self.constants.get(&node);
                let operands = Operands {
                    of: find(*of),
                    weight: weight.and_then(find),
                    filter: filter.and_then(find),
                };
                let map = RowMap::All;
                let accounts = Accounts::new(&map, 0, 1, 1);
                let at = self.at(id, 1);
                let part = Part::new(Job::Up(*kind), &operands, &accounts, 0, at);
                Ok(rollup::join(Job::Up(*kind), &[&part], 0, at))
            }
            _ => self.work_node(id, &operands, 1),
        }
    }

    fn pass(&mut self, pass: &Pass) -> Result<(), RunError> {
        let rows = self.grains.rows(pass.grain);
        let mut ways: Vec<(Grain, RowMap<'a>)> = Vec::new();
        for rollup in &pass.rollups {
            if ways.iter().all(|way| way.0 != rollup.to) {
                ways.push((rollup.to, self.map(pass.grain, rollup.to, rollup.node)?));
            }
        }
        let outcomes = self.each(rows.div_ceil(ROWS), |index| {
            self.stretch(pass, &ways, index, rows)
        })?;
        self.gather(pass, rows, outcomes)
    }

    /// Works so many stretches, on all threads when there are enough of them; the results are in order.
    fn each<T: Send>(
        &self,
        stretches: usize,
        work: impl Fn(usize) -> Result<T, RunError> + Sync + Send,
    ) -> Result<Vec<T>, RunError> {
        match stretches < FEW_STRETCHES || self.options.threads == Some(1) {
            true => (0..stretches).map(work).collect(),
            false => (0..stretches).into_par_iter().map(work).collect(),
        }
    }

    fn map(&self, from: Grain, to: Grain, node: NodeId) -> Result<RowMap<'a>, RunError> {
        self.grains.map(from, to).ok_or(RunError::Unrelated(node))
    }

    /// Puts the outcomes of a pass together, in order of rows.
    fn gather(&mut self, pass: &Pass, rows: usize, outcomes: Vec<Outcome>) -> Result<(), RunError> {
        let mut columns: Vec<Vec<Kept>> = pass
            .kept
            .iter()
            .map(|_| Vec::with_capacity(outcomes.len()))
            .collect();
        let mut parts: Vec<Vec<Part>> = pass
            .rollups
            .iter()
            .map(|_| Vec::with_capacity(outcomes.len()))
            .collect();
        let mut groups: Vec<Vec<StretchGroups>> = pass
            .groupings
            .iter()
            .map(|_| Vec::with_capacity(outcomes.len()))
            .collect();
        for outcome in outcomes {
            columns
                .iter_mut()
                .zip(outcome.kept)
                .for_each(|(to, kept)| to.push(kept));
            parts
                .iter_mut()
                .zip(outcome.parts)
                .for_each(|(to, part)| to.push(part));
            groups
                .iter_mut()
                .zip(outcome.groups)
                .for_each(|(to, group)| to.push(group));
        }
        for (node, kept) in pass.kept.iter().zip(columns) {
            self.kept.insert(*node, Arc::new(Column::new(rows, kept)));
        }
        for (rollup, parts) in pass.rollups.iter().zip(parts) {
            let coarse = self.grains.rows(rollup.to);
            let by_stretch = rollup::by_stretch(&parts, coarse);
            let kept = self.each(by_stretch.len(), |index| {
                let (start, parts) = (index * ROWS, &by_stretch[index]);
                let at = self.at(rollup.node, (coarse - start).min(ROWS));
                Ok(Kept::new(&rollup::join(rollup.job, parts, start, at)))
            })?;
            let column = Arc::new(Column::new(coarse, kept));
            match rollup.job {
                Job::Weights => self.sums.insert(rollup.node, column),
                Job::Up(_) | Job::Count => {
                    self.left_out.insert(rollup.node, rollup::left_out(&parts));
                    self.kept.insert(rollup.node, column)
                }
            };
        }
        for ((group, keys), stretches) in pass.groupings.iter().zip(groups) {
            let (made, pieces) = join_groups(stretches, keys.len())?;
            let count = made.first_row.len();
            self.grains.set_groups(*group, Arc::new(made));
            for (index, node) in self.program.nodes().entries() {
                if let Kind::GroupKey { group: of, key } = &node.kind
                    && of == group
                    && let Some(piece) = pieces.get(usize::from(*key))
                {
                    self.kept
                        .insert(index, Arc::new(Column::of_whole(count, piece)));
                }
            }
        }
        Ok(())
    }

    /// Works a pass on one stretch of its rows.
    /// `ways` lead to the grains of its roll-ups.
    #[expect(
        clippy::wildcard_enum_match_arm,
        reason = "a share alone takes its whole from elsewhere; all others need every operand"
    )]
    fn stretch(
        &self,
        pass: &Pass,
        ways: &[(Grain, RowMap<'a>)],
        index: usize,
        rows: usize,
    ) -> Result<Outcome, RunError> {
        if self
            .options
            .stop
            .is_some_and(|stop| stop.load(Ordering::Relaxed))
        {
            return Err(RunError::Stopped);
        }
        let len = (rows - index * ROWS).min(ROWS);
        let first_row = u32::try_from(index * ROWS).map_err(|_| RunError::TooLarge)?;
        let mut slots: Vec<Option<Piece<'_>>> = vec![None; pass.slots];
        let accounts: Vec<(Grain, Accounts<'_>)> = ways
            .iter()
            .map(|(to, map)| (*to, Accounts::new(map, index, len, self.grains.rows(*to))))
            .collect();
        let mut out = Outcome::default();
        for action in &pass.actions {
            match action {
                Action::Free(slot) => slots[*slot].take().into_iter().for_each(give_back),
                Action::Read { node, slot } => slots[*slot] = Some(self.read(*node, index, len)),
                Action::Down { of, slot } => {
                    slots[*slot] = Some(self.down(pass.grain, *of, index, len)?)
                }
                Action::Work {
                    node,
                    operands,
                    slot,
                } => {
                    let found: Vec<&Piece<'_>> = operands
                        .iter()
                        .filter_map(|o| self.operand(&slots, *o))
                        .collect();
                    let piece = match self.kind(*node) {
                        Kind::Share { whole, .. } => {
                            self.share(*node, *whole, &found, pass.grain, index, len)?
                        }
                        _ if found.len() == operands.len() => self.work_node(*node, &found, len)?,
                        _ => return Err(RunError::Unrelated(*node)),
                    };
                    slots[*slot] = Some(piece);
                }
                Action::WorkQuotient {
                    node,
                    quotient,
                    operands: [a, b, step],
                    slot,
                } => {
                    let read = [*a, *b, *step].map(|o| self.operand(&slots, o));
                    slots[*slot] = Some(self.quotient(*node, *quotient, read, len)?);
                }
                Action::Keep { node, from } => {
                    let piece = self
                        .operand(&slots, *from)
                        .ok_or(RunError::Unrelated(*node))?;
                    out.kept.push(Kept::new(piece));
                }
                Action::RollUp(at) => {
                    if let Some(rollup) = pass.rollups.get(*at)
                        && let Some((_, accounts)) =
                            accounts.iter().find(|(to, _)| *to == rollup.to)
                    {
                        out.parts
                            .push(self.roll_up(rollup, accounts, &slots, len, first_row));
                    }
                }
                Action::Group(at) => {
                    let keys = pass.groupings.get(*at).map_or(&[][..], |g| &g.1);
                    let keys: Vec<&Piece<'_>> = keys
                        .iter()
                        .filter_map(|key| self.operand(&slots, *key))
                        .collect();
                    out.groups.push(group_stretch(&keys, len));
                }
            }
        }
        let done = self
            .done
            .fetch_add(crate::ids::long(len), Ordering::Relaxed)
            + crate::ids::long(len);
        if let Some(progress) = self.options.progress {
            progress(done, self.all.max(done));
        }
        Ok(out)
    }

    /// A division and its rounding, calculated at once.
    fn quotient(
        &self,
        node: NodeId,
        quotient: NodeId,
        operands: [Option<&Piece<'_>>; 3],
        len: usize,
    ) -> Result<Piece<'static>, RunError> {
        let (Kind::Round { mode, .. }, [Some(a), Some(b), Some(step)]) =
            (self.kind(node), operands)
        else {
            return Err(RunError::Unrelated(node));
        };
        let at = self.at(node, len);
        Ok(round::round_quotient(at, quotient, (a, b), step, *mode))
    }

    fn operand<'s>(
        &'s self,
        slots: &'s [Option<Piece<'s>>],
        operand: Operand,
    ) -> Option<&'s Piece<'s>> {
        match operand {
            Operand::Constant(id) => self.constants.get(&id),
            Operand::Slot(slot) => slots.get(slot).and_then(Option::as_ref),
        }
    }

    fn roll_up(
        &self,
        rollup: &Rollup,
        accounts: &Accounts<'_>,
        slots: &[Option<Piece<'_>>],
        len: usize,
        first_row: u32,
    ) -> Part {
        let find = |operand: Option<Operand>| operand.and_then(|o| self.operand(slots, o));
        let operands = Operands {
            of: find(rollup.of),
            weight: find(rollup.weight),
            filter: find(rollup.filter),
        };
        Part::new(
            rollup.job,
            &operands,
            accounts,
            first_row,
            self.at(rollup.node, len),
        )
    }

    /// A stretch of an input column or of a kept one.
    #[expect(
        clippy::wildcard_enum_match_arm,
        reason = "every other kind was kept when it was worked"
    )]
    fn read(&self, node: NodeId, index: usize, len: usize) -> Piece<'_> {
        match self.kind(node) {
            Kind::Column { table, column } if !self.kept.contains_key(&node) => {
                let data = self
                    .grains
                    .tables()
                    .get(table.index())
                    .and_then(|t| t.columns.get(usize::from(*column)));
                match data {
                    Some(data) => {
                        let range = index * ROWS..index * ROWS + len;
                        let states = match &data.absent {
                            Some(absent) => States::of_rows(
                                absent[range.clone()].iter().map(|a| code(*a)).collect(),
                            ),
                            None => States::CLEAR,
                        };
                        let numbers = self.classes.renumbering(node, table.0, *column);
                        Piece {
                            data: read_values(&data.values, range, numbers),
                            states,
                        }
                    }
                    None => Piece::clear(Data::One(Single::Truth(false))),
                }
            }
            _ => self
                .kept
                .get(&node)
                .map_or(Piece::clear(Data::One(Single::Truth(false))), |column| {
                    column.piece(index)
                }),
        }
    }

    /// The coarser values that the rows of a stretch belong to.
    fn down(
        &self,
        grain: Grain,
        of: NodeId,
        index: usize,
        len: usize,
    ) -> Result<Piece<'_>, RunError> {
        if let Some(constant) = self.constants.get(&of) {
            return Ok(constant.borrow());
        }
        let column = self.kept.get(&of).ok_or(RunError::Unrelated(of))?;
        let whole = column.whole();
        let map = self.map(grain, self.program.node(of).grain, of)?;
        Ok(match map.stretch(index, len) {
            Some(rows) => take_rows(whole, rows),
            None if matches!(map, RowMap::All) => whole.clone().into_one(),
            None => column.piece(index),
        })
    }

    /// Works a node from its operands, one for each of its children, in their order.
    /// Errors: [`RunError::Unrelated`] for a kind that a pass works over a whole grain.
    fn work_node(
        &self,
        id: NodeId,
        operands: &[&Piece<'_>],
        len: usize,
    ) -> Result<Piece<'static>, RunError> {
        if len > 1 && !operands.is_empty() && operands.iter().all(|operand| operand.is_one()) {
            return Ok(self.work_node(id, operands, 1)?.into_one());
        }
        let lost = RunError::Unrelated(id);
        let at = self.at(id, len);
        let of = |index: usize| operands.get(index).copied().ok_or(lost.clone());
        let single = |value: Single| Piece::clear(Data::One(value));
        // No arm stands for several kinds that are calculated differently, and none for kinds to come: a new kind needs its kernel here.
        Ok(match self.kind(id) {
            Kind::Number(n) => single(Single::Number(n.clone())),
            Kind::Truth(t) => single(Single::Truth(*t)),
            Kind::Label(l) => single(Single::Label(*l)),
            Kind::Text(text) => single(Single::Text(self.classes.number_of(id, text).ok_or(lost)?)),
            Kind::Unknown | Kind::Asked(_) => Piece {
                data: Data::One(placeholder(&self.program.node(id).ty)),
                states: States::All(1),
            },
            Kind::Span { span, .. } => match super::span_of(self.spans, *span) {
                Some(days) => single(Single::Number(days.clone())),
                None => own(of(0)?),
            },
            Kind::Negate(_) => arith::negate(at, of(0)?),
            Kind::Abs(_) => arith::abs(at, of(0)?),
            Kind::Add(..) => arith::add(at, of(0)?, of(1)?),
            Kind::Sub(..) => arith::sub(at, of(0)?, of(1)?),
            Kind::Mul(..) => arith::mul(at, of(0)?, of(1)?),
            Kind::Div(..) => arith::div(at, of(0)?, of(1)?),
            Kind::Power(_, exponent) => arith::power(at, of(0)?, *exponent),
            Kind::Smaller(_) => arith::smaller(at, operands),
            Kind::Larger(_) => arith::larger(at, operands),
            Kind::Round { mode, .. } => round::round(at, of(0)?, of(1)?, *mode),
            Kind::RoundReal { real, mode, .. } => {
                let worked = self.reals.get(&id).ok_or(lost)?;
                real::round_real(at, real, &self.kind(id).children(), operands, *mode, worked)
            }
            Kind::Compare { op, .. } => compare::compare(at, *op, of(0)?, of(1)?),
            Kind::Same(..) => compare::same(at, of(0)?, of(1)?),
            Kind::LabelIn(_, labels) => compare::label_in(at, of(0)?, labels),
            Kind::And(..) => compare::and(at, of(0)?, of(1)?),
            Kind::Or(..) => compare::or(at, of(0)?, of(1)?),
            Kind::Not(_) => compare::not(at, of(0)?),
            Kind::Select { .. } => choose::select(at, of(0)?, of(1)?, of(2)?),
            Kind::Choose { arm_of, .. } => {
                choose::choose(at, of(0)?, arm_of, operands.get(1..).ok_or(lost)?)
            }
            Kind::DecideLine { lines, first_holds } => {
                let mut conditions = operands.iter();
                let lines: Vec<Option<&Piece<'_>>> = lines
                    .iter()
                    .map(|line| line.and_then(|_| conditions.next().copied()))
                    .collect();
                choose::decide(at, &lines, *first_holds)
            }
            Kind::LineLabel { labels, .. } => choose::line_label(at, of(0)?, labels),
            Kind::Lookup { .. } => self.lookups.get(&id).ok_or(lost)?.look_up(at, operands),
            Kind::IfAbsent { which, .. } => choose::if_absent(at, of(0)?, *which, of(1)?),
            Kind::Presence { test, .. } => compare::presence(at, of(0)?, *test),
            // A value of the node's own grain is simply itself.
            Kind::Down(_) => own(of(0)?),
            Kind::Column { .. }
            | Kind::GroupKey { .. }
            | Kind::Up { .. }
            | Kind::Count { .. }
            | Kind::Share { .. } => return Err(lost),
        })
    }

    fn finish(self, wanted: &[NodeId]) -> Results {
        let faults = Arc::new(self.faults.list());
        let mut results = Results::default();
        for id in wanted {
            let texts = self.classes.texts(*id);
            let column = match self.constants.get(id) {
                Some(piece) => Some(Arc::new(Column::of_whole(1, piece))),
                None => self.kept.get(id).cloned(),
            };
            if let Some(column) = column {
                results
                    .columns
                    .insert(*id, column.for_reading(texts, Arc::clone(&faults)));
            }
        }
        let mut left_out = self.left_out;
        results.left_out = wanted
            .iter()
            .filter_map(|id| Some((*id, left_out.remove(id)?)))
            .collect();
        results.groups = self.grains.into_groups();
        results
    }
}
