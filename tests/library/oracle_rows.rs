//! A slow, obvious evaluator of checked programs: one row at a time, every number a big fraction.
//!
//! It is the judge of the columnar engine and shares no code with it, except for irrational roundings, which have
//! their own tests. It reads the program and the tables only through the public interface.

use num_bigint::BigInt;
use num_integer::Integer;
use num_rational::BigRational;
use num_traits::{Signed, Zero};
use ovolo::eval::{Cell, Fault, FaultKind, NotReal};
use ovolo::number::{Exact, MAX_BITS, NumError, Real, Rounding, round};
use ovolo::program::{
    AbsentKind, AggregateKind, Compare, Grain, GroupId, KeyCell, Kind, NodeId, PresenceTest,
    Program, RealNode, Ty,
};
use ovolo::table::{Absence, Table, Values};
use std::cell::RefCell;
use std::collections::HashMap;

/// A value, or why there is none.
#[derive(Debug, Clone, PartialEq, Eq, Hash)]
pub enum Value {
    Number(BigRational),
    Truth(bool),
    Label(u16),
    Text(String),
    Absent(Absence),
    Fault(FaultKind, NodeId),
}

use Value::{Label, Number, Text, Truth};

impl Value {
    fn present(&self) -> bool {
        !matches!(self, Value::Absent(_) | Value::Fault(..))
    }

    fn is_true(&self) -> bool {
        *self == Truth(true)
    }

    fn is_false(&self) -> bool {
        *self == Truth(false)
    }

    fn big(&self) -> BigRational {
        match self {
            Number(n) => n.clone(),
            other => panic!("{other:?} is not a number"),
        }
    }

    /// As the engine tells it.
    pub fn cell(&self) -> Cell {
        match self {
            Number(n) => {
                Cell::Number(Exact::from_big(n.clone()).expect("checked after each operation"))
            }
            Truth(t) => Cell::Truth(*t),
            Label(l) => Cell::Label(*l),
            Text(t) => Cell::Text(t.clone()),
            Value::Absent(a) => Cell::Absent(*a),
            Value::Fault(kind, node) => Cell::Fault(Fault {
                kind: *kind,
                node: *node,
            }),
        }
    }
}

/// Groups of a table: group of each row, first row of each group.
type Groups = (Vec<usize>, Vec<usize>);

/// The evaluator, with what it has worked so far.
pub struct Rows<'a> {
    program: &'a Program,
    tables: &'a [&'a Table],
    spans: &'a [Option<Exact>],
    worked: RefCell<HashMap<(NodeId, usize), Value>>,
    groups: RefCell<HashMap<GroupId, Groups>>,
    shares: RefCell<HashMap<(NodeId, usize), HashMap<usize, Value>>>,
}

impl<'a> Rows<'a> {
    pub fn new(
        program: &'a Program,
        tables: &'a [&'a Table],
        spans: &'a [Option<Exact>],
    ) -> Rows<'a> {
        Rows {
            program,
            tables,
            spans,
            worked: RefCell::default(),
            groups: RefCell::default(),
            shares: RefCell::default(),
        }
    }

    pub fn row_count(&self, grain: Grain) -> usize {
        match grain {
            Grain::Const | Grain::Job => 1,
            Grain::Table(t) => self.tables[t.index()].rows,
            Grain::Group(g) => self.group(g).1.len(),
        }
    }

    /// Groups in order of first appearance.
    pub fn group(&self, id: GroupId) -> Groups {
        if let Some(groups) = self.groups.borrow().get(&id) {
            return groups.clone();
        }
        let grouping = &self.program.groups[id];
        let mut numbers: HashMap<Vec<Value>, usize> = HashMap::new();
        let (mut of_row, mut first) = (Vec::new(), Vec::new());
        for row in 0..self.row_count(Grain::Table(grouping.of)) {
            let key: Vec<Value> = grouping
                .keys
                .iter()
                .map(|key| self.value(*key, row))
                .collect();
            let next = numbers.len();
            let number = *numbers.entry(key).or_insert(next);
            if number == next {
                first.push(row);
            }
            of_row.push(number);
        }
        self.groups
            .borrow_mut()
            .insert(id, (of_row.clone(), first.clone()));
        (of_row, first)
    }

    /// The coarser row a row belongs to.
    pub fn map(&self, from: Grain, row: usize, to: Grain) -> usize {
        if from == to {
            return row;
        }
        match (from, to) {
            (_, Grain::Job | Grain::Const) => 0,
            (Grain::Table(t), Grain::Group(g)) if self.program.groups[g].of == t => {
                self.group(g).0[row]
            }
            (Grain::Table(t), _) => {
                let parent = self.program.tables[t].parent.expect("a table above");
                let above = self.tables[t.index()]
                    .parent_rows
                    .as_ref()
                    .expect("parent rows")[row] as usize;
                self.map(Grain::Table(parent), above, to)
            }
            (Grain::Group(g), _) => {
                let of = self.program.groups[g].of;
                self.map(Grain::Table(of), self.group(g).1[row], to)
            }
            _ => panic!("no way from {from:?} to {to:?}"),
        }
    }

    /// The value of a node on a row of its grain (any row for a constant).
    pub fn value(&self, node: NodeId, row: usize) -> Value {
        let row = if self.program.node(node).grain == Grain::Const {
            0
        } else {
            row
        };
        if let Some(value) = self.worked.borrow().get(&(node, row)) {
            return value.clone();
        }
        let value = self.work(node, row).unwrap_or_else(|missing| missing);
        self.worked.borrow_mut().insert((node, row), value.clone());
        value
    }

    /// All operands present, or the first fault, or else the first absence.
    fn strict(&self, nodes: &[NodeId], row: usize) -> Result<Vec<Value>, Value> {
        let values: Vec<Value> = nodes.iter().map(|n| self.value(*n, row)).collect();
        if let Some(fault) = values.iter().find(|v| matches!(v, Value::Fault(..))) {
            return Err(fault.clone());
        }
        if let Some(absent) = values.iter().find(|v| !v.present()) {
            return Err(absent.clone());
        }
        Ok(values)
    }

    #[expect(clippy::too_many_lines, reason = "one arm for each kind of node")]
    fn work(&self, id: NodeId, row: usize) -> Result<Value, Value> {
        let node = self.program.node(id);
        let fault = |kind| Value::Fault(kind, id);
        let number =
            |n: BigRational| match n.numer().bits() > MAX_BITS || n.denom().bits() > MAX_BITS {
                true => Err(fault(FaultKind::TooManyDigits)),
                false => Ok(Number(n)),
            };
        let one = |n: NodeId| self.strict(&[n], row).map(|mut v| v.remove(0));
        let two = |a: NodeId, b: NodeId| {
            self.strict(&[a, b], row)
                .map(|v| (v[0].clone(), v[1].clone()))
        };
        Ok(match &node.kind {
            Kind::Number(n) => Number(n.to_big()),
            Kind::Truth(t) => Truth(*t),
            Kind::Label(l) => Label(*l),
            Kind::Text(t) => Text(t.clone()),
            Kind::Span { span, otherwise } => match self.spans.get(*span as usize) {
                Some(Some(days)) => Number(days.to_big()),
                _ => one(*otherwise)?,
            },
            Kind::Unknown | Kind::Asked(_) => Value::Absent(Absence::Blank),
            Kind::Column { table, column } => {
                let data = &self.tables[table.index()].columns[usize::from(*column)];
                if let Some(absent) = data
                    .absent
                    .as_ref()
                    .map(|a| a[row])
                    .filter(|a| *a != Absence::Present)
                {
                    return Err(Value::Absent(absent));
                }
                match &data.values {
                    Values::Numbers(n) => Number(n.get(row).to_big()),
                    Values::Text { ids, pool } => {
                        Text(pool.get(ids[row]).expect("a text of the column").to_owned())
                    }
                    Values::Choice(l) => Label(l[row]),
                    Values::YesNo(t) => Truth(t[row]),
                    Values::Date(d) => Number(BigRational::from_integer(BigInt::from(d[row]))),
                }
            }
            Kind::GroupKey { group, key } => {
                let grouping = &self.program.groups[*group];
                self.value(grouping.keys[usize::from(*key)], self.group(*group).1[row])
            }
            Kind::Negate(a) => Number(-one(*a)?.big()),
            Kind::Abs(a) => Number(one(*a)?.big().abs()),
            Kind::Add(a, b) => two(*a, *b).and_then(|(a, b)| number(a.big() + b.big()))?,
            Kind::Sub(a, b) => two(*a, *b).and_then(|(a, b)| number(a.big() - b.big()))?,
            Kind::Mul(a, b) => two(*a, *b).and_then(|(a, b)| number(a.big() * b.big()))?,
            Kind::Div(a, b) => {
                let (a, b) = two(*a, *b)?;
                if b.big().is_zero() {
                    return Err(fault(FaultKind::DivideByZero));
                }
                number(a.big() / b.big())?
            }
            Kind::Power(a, exponent) => {
                let base = one(*a)?.big();
                if base.is_zero() && *exponent < 0 {
                    return Err(fault(FaultKind::DivideByZero));
                }
                let mut power = BigRational::from_integer(1.into());
                for _ in 0..exponent.unsigned_abs() {
                    power *= &base;
                    number(power.clone())?;
                }
                number(if *exponent < 0 { power.recip() } else { power })?
            }
            Kind::Smaller(of) => {
                let values = self.strict(of, row)?;
                Number(values.iter().map(Value::big).min().expect("an operand"))
            }
            Kind::Larger(of) => {
                let values = self.strict(of, row)?;
                Number(values.iter().map(Value::big).max().expect("an operand"))
            }
            Kind::Round { value, step, mode } => {
                let (value, step) = two(*value, *step)?;
                if !step.big().is_positive() {
                    return Err(fault(FaultKind::NotPositiveStep));
                }
                number(value.big() / step.big())?;
                number(rounded(&value.big(), &step.big(), *mode))?
            }
            Kind::RoundReal { real, step, mode } => {
                self.strict(&node.kind.children(), row)?;
                let step = Exact::from_big(self.value(*step, row).big()).expect("in range");
                if step.signum() <= 0 {
                    return Err(fault(FaultKind::NotPositiveStep));
                }
                let real = self.real(real, row).map_err(fault)?;
                match round(&real, &step, *mode) {
                    Ok(n) => Number(n.to_big()),
                    Err(NumError::DivideByZero) => return Err(fault(FaultKind::DivideByZero)),
                    Err(NumError::LogOfNonPositive) => {
                        return Err(fault(FaultKind::NotReal(NotReal::LogOfNonPositive)));
                    }
                    Err(NumError::RootOfNegative) => {
                        return Err(fault(FaultKind::NotReal(NotReal::RootOfNegative)));
                    }
                    Err(_) => return Err(fault(FaultKind::TooManyDigits)),
                }
            }
            Kind::Compare { op, left, right } => {
                let (a, b) = two(*left, *right)?;
                let order = a.big().cmp(&b.big());
                Truth(match op {
                    Compare::Less => order.is_lt(),
                    Compare::LessEq => order.is_le(),
                    Compare::Greater => order.is_gt(),
                    Compare::GreaterEq => order.is_ge(),
                    Compare::Same => order.is_eq(),
                    Compare::NotSame => order.is_ne(),
                })
            }
            Kind::Same(a, b) => two(*a, *b).map(|(a, b)| Truth(a == b))?,
            Kind::LabelIn(a, labels) => match one(*a)? {
                Label(l) => Truth(labels.contains(&l)),
                other => panic!("{other:?} is not a label"),
            },
            Kind::And(a, b) => {
                if self.value(*a, row).is_false() || self.value(*b, row).is_false() {
                    return Ok(Truth(false));
                }
                self.strict(&[*a, *b], row)?;
                Truth(true)
            }
            Kind::Or(a, b) => {
                if self.value(*a, row).is_true() || self.value(*b, row).is_true() {
                    return Ok(Truth(true));
                }
                self.strict(&[*a, *b], row)?;
                Truth(false)
            }
            Kind::Not(a) => Truth(!one(*a)?.is_true()),
            Kind::Select {
                condition,
                then,
                otherwise,
            } => self.value(
                if one(*condition)?.is_true() {
                    *then
                } else {
                    *otherwise
                },
                row,
            ),
            Kind::Choose {
                subject,
                arm_of,
                arms,
            } => match one(*subject)? {
                Label(l) => self.value(arms[usize::from(arm_of[usize::from(l)])], row),
                other => panic!("{other:?} is not a label"),
            },
            Kind::DecideLine { lines, first_holds } => {
                self.line(lines, *first_holds, row).map_err(|e| match e {
                    Ok(missing) => missing,
                    Err(kind) => fault(kind),
                })?
            }
            Kind::LineLabel { line, labels } => match one(*line)? {
                Label(l) => Label(labels[usize::from(l)]),
                other => panic!("{other:?} is not a line"),
            },
            Kind::Lookup {
                table,
                column,
                keys,
                interpolated,
            } => {
                let keys = self.strict(keys, row)?;
                let lookup = &self.program.lookups[*table];
                let values = &lookup.values[usize::from(*column)];
                if *interpolated {
                    let mut points: Vec<(BigRational, BigRational)> = lookup.keys[0]
                        .cells
                        .iter()
                        .zip(&values.numbers)
                        .map(|(cell, y)| match cell {
                            KeyCell::Number(x) => (x.to_big(), y.to_big()),
                            other => panic!("{other:?} cannot be interpolated"),
                        })
                        .collect();
                    points.sort();
                    let x = keys[0].big();
                    if let Some((_, y)) = points.iter().find(|p| p.0 == x) {
                        return Ok(Number(y.clone()));
                    }
                    let Some(pair) = points.windows(2).find(|p| p[0].0 < x && x < p[1].0) else {
                        return Err(fault(FaultKind::NoLookupRow));
                    };
                    let share = (&x - &pair[0].0) / (&pair[1].0 - &pair[0].0);
                    return number(&pair[0].1 + share * (&pair[1].1 - &pair[0].1));
                }
                let fits = |at: &usize| {
                    let cells = lookup.keys.iter().map(|key| &key.cells[*at]);
                    cells
                        .zip(&keys)
                        .zip(lookup_keys(&node.kind))
                        .all(|((cell, key), node)| self.fits(cell, key, node))
                };
                match (0..lookup.rows).find(fits) {
                    None => return Err(fault(FaultKind::NoLookupRow)),
                    Some(at) => match node.ty {
                        Ty::Text => Text(values.texts[at].clone()),
                        _ => Number(values.numbers[at].to_big()),
                    },
                }
            }
            Kind::IfAbsent {
                value,
                which,
                instead,
            } => {
                let asked = match which {
                    AbsentKind::Blank => Absence::Blank,
                    AbsentKind::NotApplicable => Absence::NotApplicable,
                };
                match self.value(*value, row) {
                    Value::Absent(absence) if absence == asked => self.value(*instead, row),
                    other => other,
                }
            }
            Kind::Presence { value, test } => match self.value(*value, row) {
                Value::Fault(kind, node) => return Err(Value::Fault(kind, node)),
                value => Truth(match test {
                    PresenceTest::Known => value.present(),
                    PresenceTest::Blank => value == Value::Absent(Absence::Blank),
                    PresenceTest::NotApplicable => value == Value::Absent(Absence::NotApplicable),
                }),
            },
            Kind::Down(of) => {
                self.value(*of, self.map(node.grain, row, self.program.node(*of).grain))
            }
            Kind::Up {
                kind,
                of,
                weight,
                filter,
            } => self.up(id, row, *kind, *of, *weight, *filter)?,
            Kind::Count { of, filter } => {
                let rows: Vec<usize> = (0..self.row_count(*of))
                    .filter(|r| self.map(*of, *r, node.grain) == row)
                    .collect();
                let mut count = 0;
                for r in rows {
                    match filter.map(|f| self.value(f, r)) {
                        None | Some(Truth(true)) => count += 1,
                        Some(Value::Fault(kind, node)) => return Err(Value::Fault(kind, node)),
                        Some(_) => {}
                    }
                }
                Number(BigRational::from_integer(BigInt::from(count)))
            }
            Kind::Share {
                whole,
                weight,
                step,
            } => {
                let coarse_grain = match self.program.node(*whole).grain {
                    Grain::Const => Grain::Job,
                    grain => grain,
                };
                let coarse = self.map(node.grain, row, coarse_grain);
                if let Some(parts) = self.shares.borrow().get(&(id, coarse)) {
                    return Ok(parts[&row].clone());
                }
                let parts = self.share(id, *whole, *weight, step.as_ref(), coarse_grain, coarse);
                let part = parts[&row].clone();
                self.shares.borrow_mut().insert((id, coarse), parts);
                part
            }
        })
    }

    /// The line of a decision. Errors: a missing condition, or a fault.
    fn line(
        &self,
        lines: &[Option<NodeId>],
        first_holds: bool,
        row: usize,
    ) -> Result<Value, Result<Value, FaultKind>> {
        if first_holds {
            for (at, line) in lines.iter().enumerate() {
                match line.map(|n| self.value(n, row)) {
                    None | Some(Truth(true)) => return Ok(Label(at as u16)),
                    Some(Truth(false)) => {}
                    Some(missing) => return Err(Ok(missing)),
                }
            }
            return Err(Err(FaultKind::NoDecision));
        }
        let conditions: Vec<NodeId> = lines.iter().flatten().copied().collect();
        self.strict(&conditions, row).map_err(Ok)?;
        let holds = |line: &Option<NodeId>| line.is_some_and(|n| self.value(n, row).is_true());
        let holding: Vec<usize> = (0..lines.len()).filter(|at| holds(&lines[*at])).collect();
        match holding.as_slice() {
            [] => match lines.iter().position(Option::is_none) {
                Some(at) => Ok(Label(at as u16)),
                None => Err(Err(FaultKind::NoDecision)),
            },
            [only] => Ok(Label(*only as u16)),
            [one, two, ..] => Err(Err(FaultKind::TwoDecisions(*one as u16, *two as u16))),
        }
    }

    fn fits(&self, cell: &KeyCell, key: &Value, node: NodeId) -> bool {
        match (cell, key) {
            (KeyCell::Any, _) => true,
            (KeyCell::Number(n), key) => n.to_big() == key.big(),
            (KeyCell::Band { low, high }, key) => {
                let x = key.big();
                low.as_ref()
                    .is_none_or(|(end, inside)| x > end.to_big() || (*inside && x == end.to_big()))
                    && high.as_ref().is_none_or(|(end, inside)| {
                        x < end.to_big() || (*inside && x == end.to_big())
                    })
            }
            (KeyCell::Text(text), Text(key)) => text == key,
            (KeyCell::Text(text), Label(label)) => match &self.program.node(node).ty {
                Ty::Choice(choice) => {
                    self.program.choices[*choice].labels[usize::from(*label)] == *text
                }
                _ => false,
            },
            (KeyCell::Truth(a), Truth(b)) => a == b,
            _ => false,
        }
    }

    /// The rows that take part in a roll-up; `Err` for the first fault among them.
    fn taking(
        &self,
        of: NodeId,
        grain: Grain,
        rows: &[usize],
        filter: Option<NodeId>,
        weight: Option<NodeId>,
    ) -> Result<Vec<usize>, Value> {
        let _ = grain;
        let mut taken = Vec::new();
        for row in rows.iter().copied() {
            match filter.map(|f| self.value(f, row)) {
                Some(Truth(false)) | Some(Value::Absent(_)) => continue,
                Some(fault @ Value::Fault(..)) => return Err(fault),
                _ => {}
            }
            let mut operands = vec![of];
            operands.extend(weight);
            match self.strict(&operands, row) {
                Ok(_) => taken.push(row),
                Err(fault @ Value::Fault(..)) => return Err(fault),
                Err(_) => {}
            }
        }
        Ok(taken)
    }

    fn up(
        &self,
        id: NodeId,
        row: usize,
        kind: AggregateKind,
        of: NodeId,
        weight: Option<NodeId>,
        filter: Option<NodeId>,
    ) -> Result<Value, Value> {
        let node = self.program.node(id);
        let grain = [Some(of), weight, filter]
            .into_iter()
            .flatten()
            .map(|n| self.program.node(n).grain);
        let grain = grain
            .into_iter()
            .find(|g| *g != Grain::Const)
            .unwrap_or(node.grain);
        let rows: Vec<usize> = (0..self.row_count(grain))
            .filter(|r| self.map(grain, *r, node.grain) == row)
            .collect();
        let taken = self.taking(of, grain, &rows, filter, weight)?;
        let values: Vec<Value> = taken.iter().map(|r| self.value(of, *r)).collect();
        let fault = |kind| Value::Fault(kind, id);
        let fit = |n: BigRational| match n.numer().bits() > MAX_BITS || n.denom().bits() > MAX_BITS
        {
            true => Err(fault(FaultKind::TooManyDigits)),
            false => Ok(Number(n)),
        };
        let whole = |n: usize| BigRational::from_integer(BigInt::from(n));
        let sum = |values: &[BigRational]| values.iter().fold(BigRational::zero(), |a, b| a + b);
        match kind {
            AggregateKind::Sum => fit(sum(&values.iter().map(Value::big).collect::<Vec<_>>())),
            AggregateKind::Count => Ok(Number(whole(values.len()))),
            AggregateKind::Any => Ok(Truth(values.iter().any(Value::is_true))),
            AggregateKind::All => Ok(Truth(values.iter().all(Value::is_true))),
            AggregateKind::Least | AggregateKind::Most => {
                let least = kind == AggregateKind::Least;
                let best = if least {
                    values.iter().min_by_key(|v| v.big())
                } else {
                    values.iter().max_by_key(|v| v.big())
                };
                best.cloned().ok_or(fault(FaultKind::EmptyGroup))
            }
            AggregateKind::Mean => {
                if values.is_empty() {
                    return Err(fault(FaultKind::EmptyGroup));
                }
                let weights: Vec<BigRational> = taken
                    .iter()
                    .map(|r| weight.map_or(whole(1), |w| self.value(w, *r).big()))
                    .collect();
                let all = sum(&weights);
                if all.is_zero() {
                    return Err(fault(FaultKind::ZeroWeights));
                }
                let products: Vec<BigRational> = values
                    .iter()
                    .zip(&weights)
                    .map(|(v, w)| v.big() * w)
                    .collect();
                for product in &products {
                    fit(product.clone())?;
                }
                fit(sum(&products))?;
                fit(sum(&products) / all)
            }
        }
    }

    /// The parts of one coarse row, by row.
    fn share(
        &self,
        id: NodeId,
        whole: NodeId,
        weight: NodeId,
        step: Option<&Exact>,
        coarse_grain: Grain,
        coarse: usize,
    ) -> HashMap<usize, Value> {
        let grain = self.program.node(id).grain;
        let rows: Vec<usize> = (0..self.row_count(grain))
            .filter(|r| self.map(grain, *r, coarse_grain) == coarse)
            .collect();
        let whole = self.value(whole, coarse);
        let weights: Vec<Value> = rows.iter().map(|r| self.value(weight, *r)).collect();
        // The first row whose weight failed, or is below zero, fails all that take part.
        let spoiled = weights.iter().find_map(|w| match w {
            fault @ Value::Fault(..) => Some(fault.clone()),
            Number(n) if n.is_negative() => Some(Value::Fault(FaultKind::NegativeWeight, id)),
            _ => None,
        });
        let sum = weights
            .iter()
            .filter(|w| w.present())
            .fold(BigRational::zero(), |a, w| a + w.big());
        let fault = |kind| Value::Fault(kind, id);
        let part = |weight: &BigRational| -> Value {
            if whole.big().is_zero() {
                return Number(BigRational::zero());
            }
            match sum.is_zero() {
                true => fault(FaultKind::ZeroWeights),
                false => Number(whole.big() * weight / &sum),
            }
        };
        // Strict in the order whole, own weight, sum of weights; faults before absences.
        let missing = |own: &Value| {
            let spoiled = spoiled.as_ref();
            let operands = [Some(&whole), Some(own), spoiled];
            let fault = operands
                .iter()
                .flatten()
                .find(|v| matches!(v, Value::Fault(..)));
            fault
                .or_else(|| operands.iter().flatten().find(|v| !v.present()))
                .map(|v| (*v).clone())
        };
        let mut parts: HashMap<usize, Value> = HashMap::new();
        let mut sharing: Vec<(usize, BigRational)> = Vec::new();
        for (row, own) in rows.iter().zip(&weights) {
            match missing(own) {
                Some(missing) => {
                    parts.insert(*row, missing);
                }
                None => sharing.push((*row, own.big())),
            }
        }
        let Some(step) = step else {
            parts.extend(
                sharing
                    .into_iter()
                    .map(|(row, weight)| (row, part(&weight))),
            );
            return parts;
        };
        if sharing.is_empty() {
            return parts;
        }
        let step = step.to_big();
        let steps = whole.big() / &step;
        if whole.big().is_zero() || sum.is_zero() || !steps.is_integer() {
            let value = match (whole.big().is_zero(), sum.is_zero()) {
                (true, _) => Number(BigRational::zero()),
                (false, true) => fault(FaultKind::ZeroWeights),
                (false, false) => fault(FaultKind::NotMultipleOfStep),
            };
            parts.extend(sharing.into_iter().map(|(row, _)| (row, value.clone())));
            return parts;
        }
        // Largest remainder on the size, so that a negative amount splits as the positive one.
        let size = steps.abs();
        let quotas: Vec<BigRational> = sharing.iter().map(|(_, w)| &size * w / &sum).collect();
        let mut counts: Vec<BigRational> = quotas.iter().map(BigRational::floor).collect();
        let mut left = &size - counts.iter().fold(BigRational::zero(), |a, b| a + b);
        let mut order: Vec<usize> = (0..quotas.len()).collect();
        order.sort_by_key(|at| std::cmp::Reverse(quotas[*at].fract()));
        for at in order {
            if left.is_positive() {
                counts[at] += BigRational::from_integer(1.into());
                left -= BigRational::from_integer(1.into());
            }
        }
        let signed = if steps.is_negative() { -step } else { step };
        parts.extend(
            sharing
                .into_iter()
                .zip(counts)
                .map(|((row, _), count)| (row, Number(count * &signed))),
        );
        parts
    }

    fn real(&self, real: &RealNode, row: usize) -> Result<Real, FaultKind> {
        let exact = |n: NodeId| Exact::from_big(self.value(n, row).big()).expect("in range");
        let part = |r: &RealNode| self.real(r, row).map(Box::new);
        Ok(match real {
            RealNode::Leaf(n) => Real::Rat(exact(*n)),
            RealNode::Add(a, b) => Real::Add(part(a)?, part(b)?),
            RealNode::Sub(a, b) => Real::Sub(part(a)?, part(b)?),
            RealNode::Mul(a, b) => Real::Mul(part(a)?, part(b)?),
            RealNode::Div(a, b) => Real::Div(part(a)?, part(b)?),
            RealNode::Power(a, b) => Real::Power(part(a)?, part(b)?),
            RealNode::Root(a, n) => {
                let degree = exact(*n)
                    .to_i64()
                    .and_then(|n| u32::try_from(n).ok())
                    .filter(|n| *n > 0);
                Real::Root(
                    part(a)?,
                    degree.ok_or(FaultKind::NotReal(NotReal::RootDegree))?,
                )
            }
            RealNode::Ln(a) => Real::Ln(part(a)?),
        })
    }
}

fn lookup_keys(kind: &Kind) -> Vec<NodeId> {
    match kind {
        Kind::Lookup { keys, .. } => keys.clone(),
        _ => Vec::new(),
    }
}

/// To a multiple of a step, straight from the definitions of the modes.
fn rounded(value: &BigRational, step: &BigRational, mode: Rounding) -> BigRational {
    let steps = value / step;
    let (floor, ceiling) = (steps.floor(), steps.ceil());
    let toward_zero = steps.trunc();
    let away = if steps.is_negative() {
        floor.clone()
    } else {
        ceiling.clone()
    };
    let half = BigRational::new(1.into(), 2.into());
    let to_floor = &steps - &floor;
    let nearest = |tie: &BigRational| match to_floor.cmp(&half) {
        std::cmp::Ordering::Less => floor.clone(),
        std::cmp::Ordering::Greater => ceiling.clone(),
        std::cmp::Ordering::Equal => tie.clone(),
    };
    let chosen = match mode {
        Rounding::Up => ceiling.clone(),
        Rounding::Down => floor.clone(),
        Rounding::TowardZero => toward_zero.clone(),
        Rounding::AwayFromZero => away.clone(),
        Rounding::HalfUp => nearest(&away),
        Rounding::HalfDown => nearest(&toward_zero),
        Rounding::HalfEven => nearest(if floor.to_integer().is_even() {
            &floor
        } else {
            &ceiling
        }),
        Rounding::Up05 => {
            match steps.is_integer() || !(toward_zero.to_integer() % BigInt::from(5)).is_zero() {
                true => toward_zero.clone(),
                false => away.clone(),
            }
        }
    };
    chosen * step
}
