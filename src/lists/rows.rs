//! The rows of a table of a paper, made one by one when a writer asks for them: what is kept of a line is where it is, its groups and
//! what is printed of its sums.

use super::gather::{Got, Line};
use super::papers::Made;
use super::table::{self, Days, in_unit, level_key, number_text, stretches};
use crate::number::{Exact, Style, Written};
use crate::paper::{Block, Cell, Row, RowKind, Rows, Value};
use crate::program::{FieldKind, Grain, ListDef, ListKey};
use crate::show::cell_text;
use std::borrow::Cow;
use std::rc::Rc;

/// A list, gathered and ordered.
pub(super) struct Gathered<'a> {
    pub(super) made: &'a Made<'a>,
    pub(super) list: &'a ListDef,
    pub(super) lines: Vec<Line<'a>>,
    /// For each column that is totaled what is printed on each line.
    pub(super) printed: Vec<Option<Vec<Exact>>>,
}

/// What the sum of all lines is called.
pub(super) const TOTAL: &str = "Total";

/// The rows of a table of a paper: made when they are asked for, but for the few that something else than a list has.
pub struct ListRows<'a>(Source<'a>);

enum Source<'a> {
    Kept(Vec<Row>),
    Stretch(Stretch<'a>),
}

/// A stretch of the lines of a list with its groups and sums.
struct Stretch<'a> {
    of: Rc<Gathered<'a>>,
    steps: Vec<Step>,
    days: Days,
}

/// What is in a table, one below the other.
#[derive(Clone, Copy)]
enum Step {
    /// Lines, from one to before another.
    Lines(usize, usize),
    /// The heading of a group of a level, the first of its lines.
    Group(usize, usize),
    /// The sum of a group, from one line to before another.
    Subtotal(usize, (usize, usize)),
    /// The sum of all.
    Total(usize, usize),
}

impl Rows for ListRows<'_> {
    fn each(&self) -> Box<dyn Iterator<Item = Cow<'_, Row>> + '_> {
        match &self.0 {
            Source::Kept(rows) => rows.each(),
            Source::Stretch(stretch) => Box::new(stretch.rows().map(Cow::Owned)),
        }
    }

    fn lines(&self) -> usize {
        match &self.0 {
            Source::Kept(rows) => rows.lines(),
            Source::Stretch(stretch) => {
                let lines = stretch.steps.iter().map(|step| match step {
                    Step::Lines(from, to) => to - from,
                    Step::Group(..) | Step::Subtotal(..) | Step::Total(..) => 0,
                });
                lines.sum()
            }
        }
    }

    fn total(&self) -> Option<Cow<'_, Row>> {
        match &self.0 {
            Source::Kept(rows) => rows.total(),
            Source::Stretch(stretch) => {
                let last = stretch.steps.last();
                let last = last.filter(|step| matches!(step, Step::Total(..)));
                last.map(|step| Cow::Owned(stretch.row(*step, 0)))
            }
        }
    }
}

impl<'a> ListRows<'a> {
    /// Rows that something else than a list has.
    pub(super) fn of(rows: Vec<Row>) -> ListRows<'a> {
        ListRows(Source::Kept(rows))
    }

    /// The rows of a stretch of lines.
    pub(super) fn stretch(
        of: &Rc<Gathered<'a>>,
        (from, to): (usize, usize),
        days: Days,
    ) -> ListRows<'a> {
        let mut steps = Vec::new();
        of.group(1, (from, to), &mut steps);
        if of.is_summed() && from < to {
            steps.push(Step::Total(from, to));
        }
        ListRows(Source::Stretch(Stretch {
            of: Rc::clone(of),
            steps,
            days,
        }))
    }

    /// For each row the row of the survey that it is at, where it is one.
    pub(super) fn at(&self) -> Box<dyn Iterator<Item = Option<(Grain, usize)>> + '_> {
        match &self.0 {
            Source::Kept(rows) => Box::new(rows.iter().map(|_| None)),
            Source::Stretch(stretch) => Box::new(stretch.steps().map(|(step, line)| {
                let line = stretch.of.lines.get(line);
                let own = line.filter(|_| matches!(step, Step::Lines(..)))?;
                match stretch.of.made.rows_of(own).as_slice() {
                    [one] => Some(*one),
                    _ => None,
                }
            })),
        }
    }

    /// What is in a column of each row, nothing counting as zero: no other cell is made.
    pub(super) fn numbers(&self, at: usize) -> Box<dyn Iterator<Item = (RowKind, Exact)> + '_> {
        match &self.0 {
            Source::Kept(rows) => Box::new(rows.iter().map(move |row| {
                let n = match row.cells.get(at).map(|c| &c.value) {
                    Some(Value::Number(n)) => n.clone(),
                    _ => Exact::ZERO,
                };
                (row.kind, n)
            })),
            Source::Stretch(stretch) => {
                let number = move |(step, line): (Step, usize)| {
                    let n = stretch.of.summed(step, line, at);
                    (step.kind(), n.unwrap_or(Exact::ZERO))
                };
                Box::new(stretch.steps().map(number))
            }
        }
    }
}

/// A block that no list is in.
pub(super) fn plain<'a>(block: Block) -> Block<ListRows<'a>> {
    block.with_rows(|rows| ListRows::of(rows.clone()))
}

impl Step {
    fn kind(self) -> RowKind {
        match self {
            Step::Lines(..) => RowKind::Line,
            Step::Group(level, _) => RowKind::Group(level - 1),
            Step::Subtotal(level, _) => RowKind::Subtotal(level - 1),
            Step::Total(..) => RowKind::Total,
        }
    }
}

impl Gathered<'_> {
    /// From where to where the lines of one paper are.
    pub(super) fn stretch(&self, of: Option<&[Got]>) -> (usize, usize) {
        let Some(of) = of else {
            return (0, self.lines.len());
        };
        let from = self.lines.partition_point(|l| table::before(&l.each, of));
        let own = self.lines.get(from..).unwrap_or_default();
        let count = own.iter().take_while(|l| *l.each == *of).count();
        (from, from + count)
    }

    fn is_summed(&self) -> bool {
        self.list.columns.iter().any(|c| c.total)
    }

    fn group(&self, level: usize, (from, to): (usize, usize), steps: &mut Vec<Step>) {
        if level > self.list.groups.len() {
            steps.push(Step::Lines(from, to));
            return;
        }
        for (a, b) in stretches(&self.lines, level, from, to) {
            steps.push(Step::Group(level, a));
            self.group(level + 1, (a, b), steps);
            if self.is_summed() && b - a > 1 {
                steps.push(Step::Subtotal(level, (a, b)));
            }
        }
    }

    /// What is printed in a totaled column, on one of the lines of a step or as a sum.
    fn summed(&self, step: Step, line: usize, column: usize) -> Option<Exact> {
        let values = self.printed.get(column)?.as_ref()?;
        match step {
            Step::Lines(..) => values.get(line).cloned(),
            Step::Group(..) => None,
            Step::Subtotal(_, (from, to)) | Step::Total(from, to) => {
                Some(table::sum(values.get(from..to).unwrap_or_default()))
            }
        }
    }

    /// The words of a group, by one of its lines.
    fn group_words(&self, level: usize, line: usize, days: Days) -> String {
        let line = self.lines.get(line);
        let Some(got) = line.and_then(|l| level_key(l, level).first()) else {
            return String::new();
        };
        let key = self.list.groups.get(level - 1).map(|(key, _)| key);
        match (key, got) {
            // A size has its unit, since no heading is above it.
            (Some(ListKey::Own(field)), Got::Number(n)) if field.kind() == FieldKind::Length => {
                format!("{} in", Written::Inches.text(n, Style::default()))
            }
            (Some(ListKey::Formula(nodes)), Got::Number(n)) => match nodes.first() {
                Some((_, node)) => cell_text(
                    self.made.program,
                    *node,
                    &crate::eval::Cell::Number(n.clone()),
                    None,
                ),
                None => got.words(),
            },
            _ => days.words(got),
        }
    }
}

impl Stretch<'_> {
    /// Each step, one with lines once for each of them, with that line.
    fn steps(&self) -> impl Iterator<Item = (Step, usize)> + '_ {
        self.steps.iter().flat_map(|step| {
            let lines = match step {
                Step::Lines(from, to) => *from..*to,
                Step::Group(..) | Step::Subtotal(..) | Step::Total(..) => 0..1,
            };
            lines.map(move |line| (*step, line))
        })
    }

    fn rows(&self) -> impl Iterator<Item = Row> + '_ {
        self.steps().map(|(step, line)| self.row(step, line))
    }

    fn row(&self, step: Step, line: usize) -> Row {
        let words = |text: String| {
            let mut cells = vec![Cell::blank(); self.of.list.columns.len()];
            if let Some(first) = cells.first_mut() {
                *first = Cell::words(text);
            }
            cells
        };
        let named = |level: usize, line: usize| self.of.group_words(level, line, self.days);
        let cells = match step {
            Step::Lines(..) => self.line(step, line),
            Step::Group(level, first) => words(named(level, first)),
            Step::Subtotal(level, (first, _)) => self.sums(step, words(named(level, first))),
            Step::Total(..) => self.sums(step, words(TOTAL.to_owned())),
        };
        Row {
            kind: step.kind(),
            cells,
        }
    }

    fn line(&self, step: Step, at: usize) -> Vec<Cell> {
        let list = self.of.list;
        let Some(line) = self.of.lines.get(at) else {
            return Vec::new();
        };
        let cells = list.columns.iter().enumerate().map(|(c, column)| {
            let got = self.of.made.got(list, line, c);
            match (got, self.of.summed(step, at, c)) {
                (Got::Number(_), Some(n)) => {
                    let text = number_text(&n, column);
                    Cell::number(n, text)
                }
                (Got::Number(n), None) => match in_unit(&n, column) {
                    Some(n) => {
                        let text = number_text(&n, column);
                        Cell::number(n, text)
                    }
                    None => unknown("too many digits"),
                },
                (Got::Text(text), _) => Cell::words(text),
                (Got::Day(day), _) => Cell {
                    value: Value::Day(day),
                    text: self.days.text(day).into(),
                },
                (Got::Unknown(why), _) => unknown(&why),
                (Got::Blank, _) => Cell::blank(),
                (Got::Tick, _) => by_hand(Value::Tick),
                (Got::Room, _) => by_hand(Value::Room),
            }
        });
        cells.collect()
    }

    /// The sums of a step in cells that begin with its words.
    fn sums(&self, step: Step, mut cells: Vec<Cell>) -> Vec<Cell> {
        let columns = self.of.list.columns.iter().zip(&mut cells).enumerate();
        for (at, (column, cell)) in columns {
            if let Some(n) = self.of.summed(step, 0, at) {
                let text = number_text(&n, column);
                *cell = Cell::number(n, text);
            }
        }
        cells
    }
}

fn unknown(why: &str) -> Cell {
    Cell {
        value: Value::Unknown,
        text: why.into(),
    }
}

fn by_hand(value: Value) -> Cell {
    Cell {
        value,
        ..Cell::blank()
    }
}
