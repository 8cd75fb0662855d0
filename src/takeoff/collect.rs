//! From results to quantities: which nodes a report needs, and what their columns say.

use crate::ids;
use foldhash::{HashMap, HashMapExt, HashSet, HashSetExt};
use std::sync::Arc;

use super::{Caution, DecisionCount, Facts, Quantities, Split, SurveyNotes, TakeLine, Treatment};
use crate::diagnostics::Diagnostic;
use crate::eval::{Amounts, Cell, Results};
use crate::number::Exact;
use crate::program::{
    AggregateKind, CautionDef, DecideDef, Grain, GroupId, Kind, NodeId, Piece, Program, TableId,
    TakeDef, Template, ValueDef, ValueKind, Version,
};
use crate::show::{cell_text, row_name, rows, template_text};
use crate::syntax::tree::MoneyGrain;
use crate::table::{Absence, Table};

/// What is asked for besides totals. Both cost memory for each row.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct Wish {
    /// Amounts and marks of each row of the main table.
    pub by_row: bool,
    /// Each decision on each row, with its reason.
    pub treatment: bool,
    /// Amounts alone: nothing is priced, and no price need be known.
    pub quantities: bool,
}

impl Wish {
    /// Whether amounts of each row are needed: they were asked for, or the job rounds their money.
    fn amounts_by_row(self, program: &Program) -> bool {
        self.by_row || program.terms.money_grain == MoneyGrain::Opening
    }
}

/// How many marks a caution shows.
const CAUTION_MARKS: usize = 5;

/// The nodes that must be calculated before [`collect`].
pub fn wanted(program: &Program, version: &Version, wish: Wish) -> Vec<NodeId> {
    let mut nodes = Vec::new();
    let by_row = wish.amounts_by_row(program);
    let mut sums = Sums::default();
    for take in &version.takes {
        nodes.push(take.plan.total);
        nodes.extend(take.plan.by_group.iter().map(|(_, node)| *node));
        nodes.extend(take.plan.by_row.filter(|_| by_row));
        nodes.extend(sums.below(program, take.plan.total).iter());
    }
    for (_, group) in splits(program, version) {
        nodes.extend(program.groups.get(group).and_then(|g| g.keys.first()));
    }
    for (value, decide) in decides(version) {
        nodes.push(value.node);
        if wish.treatment {
            nodes.extend(group_keys(program, value.grain));
            decide.reason_nodes(&mut nodes);
        }
    }
    for caution in &version.cautions {
        nodes.extend(caution.when);
        caution.text.nodes(&mut nodes);
        nodes.extend(group_keys(program, caution.grain));
    }
    nodes.sort_unstable();
    nodes.dedup();
    nodes
}

/// The keys that name the groups of a grain.
fn group_keys(program: &Program, grain: Grain) -> &[NodeId] {
    let group = match grain {
        Grain::Group(group) => program.groups.get(group),
        Grain::Table(_) | Grain::Job | Grain::Const => None,
    };
    group.map_or(&[], |g| &g.keys)
}

fn decides(version: &Version) -> impl Iterator<Item = (&ValueDef, &DecideDef)> {
    version.values.iter().filter_map(|v| match &v.kind {
        ValueKind::Decide(decide) => Some((v.as_ref(), decide)),
        ValueKind::Column { .. } | ValueKind::Given { .. } | ValueKind::Rule => None,
    })
}

/// The sums that amounts are made of, themselves included: each may leave rows out. Amounts share most of what they are made of.
#[derive(Default)]
struct Sums {
    below: HashMap<NodeId, Arc<[NodeId]>>,
}

impl Sums {
    /// In ascending order.
    fn below(&mut self, program: &Program, node: NodeId) -> Arc<[NodeId]> {
        let mut todo = vec![node];
        while let Some(id) = todo.last().copied() {
            if self.below.contains_key(&id) {
                todo.pop();
                continue;
            }
            let kind = &program.node(id).kind;
            let children = kind.children();
            let waiting = todo.len();
            todo.extend(
                children
                    .iter()
                    .filter(|child| !self.below.contains_key(child)),
            );
            if todo.len() > waiting {
                continue;
            }
            todo.pop();
            let is_sum = matches!(
                kind,
                Kind::Up {
                    kind: AggregateKind::Sum
                        | AggregateKind::Mean
                        | AggregateKind::Least
                        | AggregateKind::Most,
                    ..
                }
            );
            let mut found: Vec<&Arc<[NodeId]>> = children
                .iter()
                .filter_map(|child| self.below.get(child))
                .filter(|f| !f.is_empty())
                .collect();
            found.dedup();
            let sums = match (found.as_slice(), is_sum) {
                ([one], false) => Arc::clone(one),
                (found, _) => {
                    let mut all: Vec<NodeId> = found
                        .iter()
                        .flat_map(|f| f.iter().copied())
                        .chain(is_sum.then_some(id))
                        .collect();
                    all.sort_unstable();
                    all.dedup();
                    all.into()
                }
            };
            self.below.insert(id, sums);
        }
        self.below.get(&node).cloned().unwrap_or_default()
    }
}

/// The columns of `split by` with their groupings. The checker names a grouping after its column.
pub(crate) fn splits<'a>(program: &'a Program, version: &Version) -> Vec<(&'a str, GroupId)> {
    let used = version
        .takes
        .iter()
        .find(|t| !t.plan.by_group.is_empty())
        .map(|t| &t.plan.by_group);
    let by_name = |name: &str| {
        program
            .groups
            .id_of(|g| g.name == format!("by_{name}") && g.key_names == [name])
    };
    let each = program.terms.split_by.iter().enumerate();
    each.filter_map(|(at, name)| {
        let group = used
            .and_then(|list| list.get(at))
            .map(|(group, _)| *group)
            .or_else(|| by_name(name))?;
        Some((name.as_str(), group))
    })
    .collect()
}

/// Gathers the quantities of a version from its results. `tables` are in the order of the program's tables.
/// Errors: OV-891 when a failed row got here, which the caller should have reported before.
pub fn collect(
    program: &Program,
    version: &Version,
    results: &Results,
    tables: &[&Table],
    survey: SurveyNotes,
    wish: Wish,
) -> Result<Quantities, Vec<Diagnostic>> {
    let main = program.main_table();
    let collector = Collector {
        program,
        version,
        results,
        tables,
        main,
        wish,
    };
    let mut faults = Vec::new();
    let splits = collector.splits();
    let mut sums = Sums::default();
    let mut line = |take: &TakeDef| {
        collector.line(
            take,
            &splits,
            &sums.below(program, take.plan.total),
            &mut faults,
        )
    };
    let lines = version.takes.iter().map(&mut line).collect();
    if !faults.is_empty() {
        return Err(faults);
    }
    let facts = Arc::new(collector.facts(&splits, survey));
    let splits = splits.into_iter().map(|(_, split)| split).collect();
    Ok(Quantities {
        splits,
        lines,
        by_row: wish.by_row,
        facts,
    })
}

struct Collector<'a> {
    program: &'a Program,
    version: &'a Version,
    results: &'a Results,
    tables: &'a [&'a Table],
    main: Option<TableId>,
    wish: Wish,
}

impl Collector<'_> {
    fn splits(&self) -> Vec<(GroupId, Split)> {
        let found = splits(self.program, self.version).into_iter();
        found
            .map(|(name, id)| {
                let Some(groups) = self.results.groups(id) else {
                    return (
                        id,
                        Split {
                            name: name.to_owned(),
                            ..Split::default()
                        },
                    );
                };
                let keys = groups
                    .first_row
                    .iter()
                    .map(|row| self.group_key(id, ids::at(*row)))
                    .collect();
                let mut rows_in = vec![0; groups.first_row.len()];
                for key in &groups.of_row {
                    if let Some(count) = rows_in.get_mut(ids::at(*key)) {
                        *count += 1;
                    }
                }
                let by_row = self.wish.amounts_by_row(self.program);
                let key_of_row = if by_row || self.wish.treatment {
                    groups.of_row.clone()
                } else {
                    Vec::new()
                };
                (
                    id,
                    Split {
                        name: name.to_owned(),
                        keys,
                        rows_in,
                        key_of_row,
                    },
                )
            })
            .collect()
    }

    /// The keys of the group a row of its table belongs to.
    fn group_key(&self, id: GroupId, row: usize) -> String {
        let keys = self.program.groups.get(id).map_or(&[][..], |g| &g.keys);
        let text =
            |node: &NodeId| cell_text(self.program, *node, &self.results.value(*node, row), None);
        keys.iter().map(text).collect::<Vec<_>>().join(", ")
    }

    /// Reads a column row by row without looking it up each time. A column of one row has that value on every row.
    fn reader(&self, node: NodeId) -> impl Fn(usize) -> Cell + '_ {
        let column = self.results.column(node);
        move |row| match column {
            Some(column) if column.len() == 1 => column.get(0),
            Some(column) => column.get(row),
            None => Cell::Absent(Absence::Blank),
        }
    }

    fn number(&self, node: NodeId, cell: Cell, faults: &mut Vec<Diagnostic>) -> Exact {
        match cell {
            Cell::Number(value) => value,
            // Unknown: left out, and reported as such.
            Cell::Absent(_) => Exact::ZERO,
            other @ (Cell::Truth(_) | Cell::Label(_) | Cell::Text(_) | Cell::Fault(_)) => {
                let found = cell_text(self.program, node, &other, None);
                let d = Diagnostic::error(
                    "OV-891",
                    "a failed row reached the take-off; this is a fault of the program",
                );
                faults.push(
                    d.at(self.program.node(node).span, "")
                        .found(found)
                        .expected("an amount"),
                );
                Exact::ZERO
            }
        }
    }

    fn line(
        &self,
        take: &TakeDef,
        splits: &[(GroupId, Split)],
        sums: &[NodeId],
        faults: &mut Vec<Diagnostic>,
    ) -> TakeLine {
        let total = self.number(
            take.plan.total,
            self.results.value(take.plan.total, 0),
            faults,
        );
        let by_key = splits
            .iter()
            .map(|(id, split)| {
                let Some((_, node)) = take.plan.by_group.iter().find(|(group, _)| group == id)
                else {
                    return vec![Exact::ZERO; split.keys.len()];
                };
                let read = self.reader(*node);
                (0..split.keys.len())
                    .map(|key| self.number(*node, read(key), faults))
                    .collect()
            })
            .collect();
        let by_row = take
            .plan
            .by_row
            .filter(|_| self.wish.amounts_by_row(self.program))
            .and_then(|node| Some((node, self.results.column(node)?)))
            .map(|(node, column)| {
                for (_, why) in column.missing() {
                    self.number(node, why, faults);
                }
                Amounts::of_column(self.main_rows(), column)
            });
        TakeLine {
            resource: take.resource,
            phase: take.phase,
            total,
            by_key,
            by_row,
            left_out: self.left_out(take, sums),
            from_memory: take.from_memory,
        }
    }

    fn main_rows(&self) -> usize {
        self.main
            .and_then(|t| self.tables.get(t.index()))
            .map_or(0, |t| t.rows)
    }

    fn left_out(&self, take: &TakeDef, sums: &[NodeId]) -> Vec<(String, Absence)> {
        let (mut out, mut seen) = (Vec::new(), HashSet::new());
        for sum in sums.iter().copied() {
            let Kind::Up { of, .. } = &self.program.node(sum).kind else {
                continue;
            };
            let grain = self.program.node(*of).grain;
            for (row, absence) in self.results.left_out(sum).unwrap_or(&[]) {
                if seen.insert((grain, *row, *absence)) {
                    out.push((self.mark(grain, ids::at(*row)), *absence));
                }
            }
        }
        // A share by something unknown has no sum that leaves it out.
        if let Cell::Absent(absence) = self.results.value(take.plan.total, 0) {
            out.push(("whole job".to_owned(), absence));
        }
        out
    }

    /// How a row of some grain is named.
    fn mark(&self, grain: Grain, row: usize) -> String {
        row_name(self.program, self.tables, self.results, grain, row)
            .unwrap_or_else(|| "whole job".to_owned())
    }

    fn facts(&self, splits: &[(GroupId, Split)], survey: SurveyNotes) -> Facts {
        let rows = self.main_rows();
        let info = self.main.and_then(|t| self.program.tables.get(t));
        let nouns = &self.program.nouns;
        let grain = self.main.map_or(Grain::Job, Grain::Table);
        let marks = if self.wish.by_row {
            (0..rows).map(|row| self.mark(grain, row)).collect()
        } else {
            Vec::new()
        };
        Facts {
            row_word: info.map_or_else(String::new, |i| nouns.name(i.noun).to_owned()),
            rows_word: info.map_or_else(String::new, |i| nouns.plural_name(i.noun).to_owned()),
            marks,
            decided: decides(self.version)
                .map(|(value, decide)| self.count(value, decide))
                .collect(),
            treatment: if self.wish.treatment {
                self.treatment(splits)
            } else {
                Vec::new()
            },
            cautions: self
                .version
                .cautions
                .iter()
                .enumerate()
                .flat_map(|(at, caution)| self.caution(at, caution))
                .collect(),
            survey,
        }
    }

    /// What several rows of a grain are called.
    fn per(&self, grain: Grain) -> String {
        let noun = match grain {
            Grain::Table(id) => self.program.tables.get(id).map(|t| t.noun),
            Grain::Group(id) => self.program.groups.get(id).map(|g| g.noun),
            Grain::Job | Grain::Const => None,
        };
        noun.map_or_else(
            || "whole job".to_owned(),
            |noun| self.program.nouns.plural_name(noun).to_owned(),
        )
    }

    /// What one row of a grain is called.
    fn one(&self, grain: Grain) -> Option<String> {
        let noun = match grain {
            Grain::Table(id) => self.program.tables.get(id).map(|t| t.noun),
            Grain::Group(id) => self.program.groups.get(id).map(|g| g.noun),
            Grain::Job | Grain::Const => None,
        };
        noun.map(|noun| self.program.nouns.name(noun).to_owned())
    }

    fn count(&self, value: &ValueDef, decide: &DecideDef) -> DecisionCount {
        let labels = self
            .program
            .choices
            .get(decide.choice)
            .map_or(&[][..], |c| &c.labels);
        let mut counts = vec![0; labels.len()];
        let mut unknown = 0;
        let read = self.reader(value.node);
        for row in 0..rows(self.tables, self.results, value.grain) {
            match read(row) {
                Cell::Label(at) => counts
                    .get_mut(usize::from(at))
                    .into_iter()
                    .for_each(|n| *n += 1),
                Cell::Number(_)
                | Cell::Truth(_)
                | Cell::Text(_)
                | Cell::Absent(_)
                | Cell::Fault(_) => unknown += 1,
            }
        }
        DecisionCount {
            decision: value.name.clone(),
            per: self.per(value.grain),
            labels: labels.iter().cloned().zip(counts).collect(),
            unknown,
        }
    }

    /// Decisions row by row: all those of the main table's row first, then those of other grains.
    fn treatment(&self, splits: &[(GroupId, Split)]) -> Vec<Treatment> {
        let mut out = Vec::new();
        let main = self.main.map_or(Grain::Job, Grain::Table);
        let mut grains = vec![main];
        for (value, _) in decides(self.version) {
            if !grains.contains(&value.grain) {
                grains.push(value.grain);
            }
        }
        let mut texts = Shared::default();
        for grain in grains {
            let deciders: Vec<Decider<'_>> = decides(self.version)
                .filter(|(v, _)| v.grain == grain)
                .map(|(v, d)| self.decider(v, d))
                .collect();
            for row in 0..rows(self.tables, self.results, grain) {
                let keys = splits
                    .iter()
                    .filter(|_| grain == main)
                    .filter_map(|(_, split)| key_of(split, row));
                let keys: Arc<[Arc<str>]> = keys.map(|key| texts.get(key)).collect();
                let mark: Arc<str> = self.mark(grain, row).into();
                for decider in &deciders {
                    let place = (mark.clone(), self.main_row(grain, row));
                    out.push(decider.on_row(row, place, keys.clone(), &mut texts));
                }
            }
        }
        out
    }

    /// The row of the main table that a row is, or lies below.
    fn main_row(&self, grain: Grain, row: usize) -> Option<usize> {
        let Grain::Table(mut table) = grain else {
            return None;
        };
        let mut row = row;
        while Some(table) != self.main {
            let above = self.tables.get(table.index())?.parent_rows.as_ref()?;
            row = usize::try_from(*above.get(row)?).ok()?;
            table = self.program.tables.get(table)?.parent?;
        }
        Some(row)
    }

    fn decider<'b>(&'b self, value: &'b ValueDef, decide: &'b DecideDef) -> Decider<'b> {
        Decider {
            collector: self,
            value,
            decide,
            label: Box::new(self.reader(value.node)),
            line: Box::new(self.reader(decide.line)),
        }
    }

    /// A caution as it is said: once for each text it comes to. Where its condition is unknown it is said too: better warned than hurt.
    fn caution(&self, caution: usize, def: &CautionDef) -> Vec<Caution> {
        let per = self.per(def.grain);
        let condition = def.when.map(|when| self.reader(when));
        let holds = |row: usize| {
            condition
                .as_ref()
                .is_none_or(|read| matches!(read(row), Cell::Truth(true) | Cell::Absent(_)))
        };
        let by_row = matches!(def.grain, Grain::Table(_) | Grain::Group(_))
            && (def.when.is_some() || !is_fixed(&def.text));
        if !by_row {
            let said = Caution {
                caution,
                text: template_text(self.program, &def.text, self.results, 0),
                rows: None,
                per,
                marks: Vec::new(),
            };
            return if holds(0) { vec![said] } else { Vec::new() };
        }
        let fixed =
            is_fixed(&def.text).then(|| template_text(self.program, &def.text, self.results, 0));
        let mut said: Vec<Caution> = Vec::new();
        let mut at: HashMap<String, usize> = HashMap::new();
        for row in (0..rows(self.tables, self.results, def.grain)).filter(|row| holds(*row)) {
            let place = match (&fixed, said.is_empty()) {
                // One text: nothing to look up.
                (Some(_), false) => 0,
                _ => {
                    let text = fixed.clone().unwrap_or_else(|| {
                        template_text(self.program, &def.text, self.results, row)
                    });
                    *at.entry(text.clone()).or_insert_with(|| {
                        said.push(Caution {
                            caution,
                            text,
                            rows: Some(0),
                            per: per.clone(),
                            marks: Vec::new(),
                        });
                        said.len() - 1
                    })
                }
            };
            let Some(one) = said.get_mut(place) else {
                continue;
            };
            one.rows = one.rows.map(|n| n + 1);
            if one.marks.len() < CAUTION_MARKS {
                one.marks.push(self.mark(def.grain, row));
            }
        }
        for one in said.iter_mut().filter(|s| s.rows == Some(1)) {
            one.per = self.one(def.grain).unwrap_or(one.per.clone());
        }
        said
    }
}

/// Whether a text is the same on every row.
fn is_fixed(template: &Template) -> bool {
    template.pieces.iter().all(|p| matches!(p, Piece::Text(_)))
}

fn key_of(split: &Split, row: usize) -> Option<&str> {
    split
        .keys
        .get(ids::at(*split.key_of_row.get(row)?))
        .map(String::as_str)
}

/// Equal texts kept once.
#[derive(Default)]
struct Shared(HashSet<Arc<str>>);

impl Shared {
    fn get(&mut self, text: &str) -> Arc<str> {
        if let Some(known) = self.0.get(text) {
            return known.clone();
        }
        let new: Arc<str> = text.into();
        self.0.insert(new.clone());
        new
    }
}

type Reader<'a> = Box<dyn Fn(usize) -> Cell + 'a>;

/// A decision, read row by row.
struct Decider<'a> {
    collector: &'a Collector<'a>,
    value: &'a ValueDef,
    decide: &'a DecideDef,
    label: Reader<'a>,
    line: Reader<'a>,
}

impl Decider<'_> {
    fn on_row(
        &self,
        row: usize,
        (mark, main_row): (Arc<str>, Option<usize>),
        keys: Arc<[Arc<str>]>,
        texts: &mut Shared,
    ) -> Treatment {
        let Collector {
            program, results, ..
        } = self.collector;
        let cell = (self.label)(row);
        let line = match (self.line)(row) {
            Cell::Label(at) => self.decide.lines.get(usize::from(at)),
            Cell::Number(_) | Cell::Truth(_) | Cell::Text(_) | Cell::Absent(_) | Cell::Fault(_) => {
                None
            }
        };
        let because = match (line, &cell) {
            (Some(line), _) => template_text(program, &line.because, results, row),
            (None, Cell::Absent(_)) => cell_text(program, self.value.node, &cell, None),
            (None, _) => self.value.because.clone().unwrap_or_default(),
        };
        let label = matches!(cell, Cell::Label(_))
            .then(|| cell_text(program, self.value.node, &cell, None));
        Treatment {
            mark,
            main_row,
            keys,
            decision: texts.get(&self.value.name),
            label: label.map(|label| texts.get(&label)),
            because: texts.get(&because),
            rests_on: line
                .and_then(|l| l.rests_on.as_deref())
                .map(|standard| texts.get(standard)),
        }
    }
}
