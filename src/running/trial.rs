//! Trials: worked examples of the sheets, run and compared to the last digit.
//!
//! ```
//! use ovolo::check::{Options, check, load};
//! use ovolo::session::Texts;
//!
//! let sheet = r#"
//! sheet "one"
//! given a  2 in
//! for the job {
//!   b = a + 1 in
//! }
//! trial "an inch more" {
//!   expect b = 3 in
//! }
//! "#;
//! let (loaded, _) = load(&["one.ovo".to_owned()], &Texts::from([("one.ovo", sheet)]));
//! let (checked, _) = check(&loaded, Options { trials: true, ..Options::default() });
//! let outcomes = ovolo::running::trial::run_all(&checked.expect("a sound sheet"));
//! assert_eq!(outcomes[0].name, "an inch more");
//! assert!(outcomes[0].failures.is_empty());
//! ```

use super::trial_cuts::Plans;
use crate::check::{Checked, TrialDef, TrialExpect, TrialOutcome, TrialTable};
use crate::diagnostics::Diagnostic;
use crate::eval::{self, Cell, FaultKind, Inputs, RunError};
use crate::ids;
use crate::number::Exact;
use crate::program::{Grain, Kind, Next, Node, NodeId, Program, TableId, TableInfo, Ty};
use crate::show::{cell_text, template_text};
use crate::survey::{Above, Column, ReadOptions, Reading, Report, complete};
use crate::syntax::tree::AbsentKind;
use crate::table::{Absence, ColumnData, ColumnSpec, OnMissing, RowPlace, SchemaValue, Table};
use crate::takeoff::wanted_parts;
use crate::units::UnitExpr;
use std::collections::BTreeSet;

/// How a trial came out.
#[derive(Debug)]
pub struct Outcome {
    /// Title.
    pub name: String,
    /// How many expectations it has.
    pub expects: usize,
    /// One message for each that did not come out.
    pub failures: Vec<Diagnostic>,
}

/// Runs every trial.
pub fn run_all(checked: &Checked) -> Vec<Outcome> {
    checked
        .trials
        .iter()
        .map(|t| run(&checked.program, t))
        .collect()
}

fn run(program: &Program, trial: &TrialDef) -> Outcome {
    let outcome = |failures| Outcome {
        name: trial.name.clone(),
        expects: trial.expects.len(),
        failures,
    };
    let tables = match build_tables(program, trial) {
        Ok(tables) => tables,
        Err(list) => return outcome(list),
    };
    let inputs = Inputs {
        spans: &[],
        tables: tables.iter().collect(),
    };
    let mut wanted: Vec<NodeId> = trial
        .expects
        .iter()
        .flat_map(|e| e.nodes.iter().copied())
        .collect();
    for e in &trial.expects {
        if let TrialOutcome::Value(n) = e.outcome {
            wanted.push(n);
        }
        if let Some((_, decide)) = &e.because {
            decide.reason_nodes(&mut wanted);
        }
    }
    if trial.expects.iter().any(|e| e.cut.is_some()) {
        let version = program.versions.get(trial.version);
        wanted.extend(version.iter().flat_map(|v| wanted_parts(program, v)));
    }
    let results = match eval::run(
        program,
        &inputs,
        &wanted,
        &eval::Options {
            threads: Some(1),
            ..eval::Options::default()
        },
    ) {
        Ok(r) => r,
        Err(e) => {
            let why = match e {
                RunError::Stopped => "it was stopped",
                RunError::TooLarge => "its tables have too many rows",
                RunError::WrongInputs { .. } => "its rows do not fit the sheet",
                RunError::Unrelated(_) => "a value reads rows that do not belong to it",
                RunError::NoThreads => "this machine gave it no thread to run on",
            };
            return outcome(vec![
                Diagnostic::error(
                    "OV-609",
                    format!("the trial \"{}\" can't be run: {why}", trial.name),
                )
                .at(trial.span, ""),
            ]);
        }
    };
    let mut plans = Plans::default();
    let failures = trial
        .expects
        .iter()
        .filter_map(|e| compare(program, trial, e, (&results, &mut plans), &inputs))
        .collect();
    outcome(failures)
}

fn compare(
    program: &Program,
    trial: &TrialDef,
    e: &TrialExpect,
    (results, plans): (&eval::Results, &mut Plans),
    inputs: &Inputs<'_>,
) -> Option<Diagnostic> {
    let row = match &e.at {
        None => 0,
        Some(mark) => match row_of(program, inputs, mark) {
            Some(r) => r,
            None => {
                return Some(otherwise(
                    trial,
                    e,
                    format!("no row with the mark \"{mark}\""),
                    "a mark set by one of the `row` lines".into(),
                ));
            }
        },
    };
    let ran = Ran {
        program,
        trial,
        results,
        inputs,
        row,
    };
    match &e.outcome {
        TrialOutcome::RequireFails => ran.requirement_fails(e),
        TrialOutcome::Refused(code) => ran.refused(e, code.as_deref()),
        TrialOutcome::Value(wanted) => ran.value(e, *wanted, plans),
    }
}

fn otherwise(trial: &TrialDef, e: &TrialExpect, found: String, expected: String) -> Diagnostic {
    Diagnostic::error(
        "OV-609",
        format!(
            "the trial \"{}\" comes out otherwise: {}",
            trial.name, e.target
        ),
    )
    .at(e.span, "")
    .found(found)
    .expected(expected)
}

/// A trial that was run, and the row that an expectation looks at.
struct Ran<'a> {
    program: &'a Program,
    trial: &'a TrialDef,
    results: &'a eval::Results,
    inputs: &'a Inputs<'a>,
    row: usize,
}

impl Ran<'_> {
    fn cell(&self, node: NodeId) -> Cell {
        let row = row_at_grain(self.program, self.results, node, self.row);
        self.results.value(node, row)
    }

    /// `require` must fail somewhere.
    fn requirement_fails(&self, e: &TrialExpect) -> Option<Diagnostic> {
        let broken = e.nodes.iter().any(|n| {
            self.results
                .column(*n)
                .is_some_and(|c| (0..c.len()).any(|i| matches!(c.get(i), Cell::Truth(false))))
        });
        (!broken).then(|| {
            otherwise(
                self.trial,
                e,
                "every requirement holds".into(),
                "a requirement that does not hold".into(),
            )
        })
    }

    /// The value must be refused, with a code where one is named.
    fn refused(&self, e: &TrialExpect, code: Option<&str>) -> Option<Diagnostic> {
        let node = *e.nodes.first()?;
        let (found, expected) = match (self.cell(node), code) {
            (Cell::Fault(f), Some(code)) if code != code_of(f.kind) => (
                format!("refused with {}", code_of(f.kind)),
                format!("refused with {code}"),
            ),
            (Cell::Fault(_), _) => return None,
            (
                other @ (Cell::Number(_)
                | Cell::Truth(_)
                | Cell::Label(_)
                | Cell::Text(_)
                | Cell::Absent(_)),
                _,
            ) => (
                cell_text(self.program, node, &other, None),
                "a refusal".into(),
            ),
        };
        Some(otherwise(self.trial, e, found, expected))
    }

    /// The value must be the one expected, and its reason too.
    fn value(&self, e: &TrialExpect, wanted: NodeId, plans: &mut Plans) -> Option<Diagnostic> {
        let (program, trial) = (self.program, self.trial);
        let expected = self.results.value(wanted, 0);
        let mut sum: Option<Cell> = None;
        if let Some((cut, figure)) = &e.cut {
            let tables = (self.results, self.inputs.tables.as_slice());
            match plans.figure(program, trial, tables, (cut, *figure)) {
                Ok(money) => sum = Some(Cell::Number(money)),
                Err(why) => {
                    let due = cell_text(program, wanted, &expected, e.unit.as_ref());
                    return Some(otherwise(trial, e, format!("no plan: {why}"), due));
                }
            }
        }
        for n in &e.nodes {
            sum = Some(match (sum, self.cell(*n)) {
                (None, c) => c,
                (Some(Cell::Number(a)), Cell::Number(b)) => Cell::Number(a.add(&b).unwrap_or(a)),
                (Some(Cell::Number(_)), other) => other,
                (Some(other), _) => other,
            });
        }
        // A resource that no line takes is taken in the amount of nothing.
        let found = sum.unwrap_or(Cell::Number(Exact::ZERO));
        if found == expected || is_within(&found, &expected, e.within.as_ref()) {
            let (said, due) = reason(program, e, self.results, self.row)?;
            return Some(otherwise(trial, e, said, due));
        }
        let node = e.nodes.first().copied().unwrap_or(wanted);
        let [found_text, expected_text] = self.both_texts(e, (node, &found), (wanted, &expected));
        let d = otherwise(trial, e, found_text, expected_text);
        let d = self.told_why(d, node, &found);
        Some(match e.rule {
            Some(span) => d.at(span, "worked out here"),
            None => d,
        })
    }

    /// What was found and what was expected, in words that differ.
    fn both_texts(
        &self,
        e: &TrialExpect,
        found: (NodeId, &Cell),
        expected: (NodeId, &Cell),
    ) -> [String; 2] {
        let (program, unit) = (self.program, e.unit.as_ref());
        let mut texts = [found, expected].map(|(node, cell)| cell_text(program, node, cell, unit));
        if texts[0] == texts[1] {
            texts = [found, expected].map(|(_, cell)| exactly(program, cell, unit));
        }
        if let (Some(within), (wanted, Cell::Number(_))) = (&e.within, expected) {
            let step = Cell::Number(within.clone());
            let step = match &program.node(wanted).ty {
                Ty::Number(_) => cell_text(program, wanted, &step, unit),
                Ty::Truth | Ty::Choice(_) | Ty::Text | Ty::Point(_) => format!("{within} days"),
            };
            texts[1].push_str(&format!(", within {step}"));
        }
        texts
    }

    /// Why a value was found: the fault in it, what was not set, or its parts.
    fn told_why(&self, d: Diagnostic, node: NodeId, found: &Cell) -> Diagnostic {
        match found {
            Cell::Fault(f) => {
                let code = code_of(f.kind);
                let title = crate::diagnostics::codes::find(code).map_or("", |e| e.title());
                d.note(format!("{code}: {title}"))
                    .at(self.program.node(f.node).span, "failed here")
            }
            Cell::Absent(Absence::Unreadable | Absence::Blank) => {
                let names = unset_columns(self.program, self.trial, node);
                if names.is_empty() {
                    return d;
                }
                d.found("nothing that can be worked out")
                    .note(format!("the trial does not set {}", names.join(", ")))
                    .mend("set what is needed with `with`")
            }
            Cell::Number(_) | Cell::Truth(_) | Cell::Label(_) | Cell::Text(_) | Cell::Absent(_) => {
                parts(self.program, self.trial, node, self.inputs, self.row)
                    .into_iter()
                    .fold(d, |d, (text, value)| d.note(format!("{text} is {value}")))
            }
        }
    }
}

/// Whether a number is as near to another as a tolerance allows.
fn is_within(found: &Cell, expected: &Cell, within: Option<&Exact>) -> bool {
    match (found, expected, within) {
        (Cell::Number(a), Cell::Number(b), Some(within)) => {
            a.sub(b).is_ok_and(|gap| gap.abs() <= *within)
        }
        _ => false,
    }
}

/// A number to its last digit, as a ratio where its digits do not end: two that differ are never shown alike.
fn exactly(program: &Program, cell: &Cell, unit: Option<&UnitExpr>) -> String {
    let Cell::Number(value) = cell else {
        return String::new();
    };
    let (value, unit) = match unit.and_then(|u| Some((u.from_base(value).ok()?, u))) {
        Some((value, unit)) => {
            let unit = unit.text_after(&program.nouns, &value);
            (value, unit)
        }
        None => (value.clone(), String::new()),
    };
    format!("exactly {value} {unit}").trim_end().to_owned()
}

/// The reason that a decision gives and the one expected, where they differ.
fn reason(
    program: &Program,
    e: &TrialExpect,
    results: &eval::Results,
    row: usize,
) -> Option<(String, String)> {
    let (due, decide) = e.because.as_ref()?;
    let row = row_at_grain(program, results, decide.line, row);
    let line = match results.value(decide.line, row) {
        Cell::Label(at) => decide.lines.get(usize::from(at)),
        Cell::Number(_) | Cell::Truth(_) | Cell::Text(_) | Cell::Absent(_) | Cell::Fault(_) => None,
    };
    let said = line.map_or_else(String::new, |line| {
        template_text(program, &line.because, results, row)
    });
    (said != *due).then(|| (format!("because \"{said}\""), format!("because \"{due}\"")))
}

/// The row of a node's own grain that a row of a table belongs to.
fn row_at_grain(program: &Program, results: &eval::Results, node: NodeId, row: usize) -> usize {
    match program.node(node).grain {
        Grain::Group(g) => results
            .groups(g)
            .and_then(|groups| groups.of_row.get(row))
            .map_or(row, |g| ids::at(*g)),
        Grain::Const | Grain::Job | Grain::Table(_) => row,
    }
}

/// Code of a fault, as running tells it.
fn code_of(kind: FaultKind) -> &'static str {
    match kind {
        FaultKind::DivideByZero => "OV-901",
        FaultKind::NoLookupRow => "OV-902",
        FaultKind::NoDecision => "OV-903",
        FaultKind::TwoDecisions(..) => "OV-904",
        FaultKind::NotPositiveStep => "OV-905",
        FaultKind::TooManyDigits => "OV-906",
        FaultKind::NotReal(_) => "OV-907",
        FaultKind::EmptyGroup => "OV-908",
        FaultKind::ZeroWeights | FaultKind::NegativeWeight => "OV-909",
        FaultKind::NotMultipleOfStep => "OV-912",
    }
}

/// Named values directly below a node, with what they were: the step where expected and found part is among them.
fn parts(
    program: &Program,
    trial: &TrialDef,
    node: NodeId,
    inputs: &Inputs<'_>,
    row: usize,
) -> Vec<(String, String)> {
    let version = &program.versions[trial.version];
    let named = |id: NodeId, node: &Node| {
        let mut values = version.values.iter();
        values.find(|v| v.node == id && !matches!(node.kind, Kind::Number(_)))
    };
    let walk = program.walk(program.node(node).kind.children(), |id, node| {
        match named(id, node) {
            Some(_) => Next::new(),
            None => node.kind.children(),
        }
    });
    let mut found: Vec<(String, NodeId, Option<&UnitExpr>)> = walk
        .filter_map(|(id, node)| named(id, node).map(|v| (v.name.clone(), id, v.unit.as_ref())))
        .take(8)
        .collect();
    found.sort_by(|a, b| (&a.0, a.1).cmp(&(&b.0, b.1)));
    let wanted: Vec<NodeId> = found.iter().map(|f| f.1).collect();
    match eval::run(
        program,
        inputs,
        &wanted,
        &eval::Options {
            threads: Some(1),
            ..eval::Options::default()
        },
    ) {
        Ok(r) => found
            .into_iter()
            .map(|(name, n, unit)| (name, cell_text(program, n, &r.value(n, row), unit)))
            .collect(),
        Err(_) => vec![],
    }
}

/// Columns a node reads that the trial does not set and that have no value for a blank.
#[expect(
    clippy::wildcard_enum_match_arm,
    reason = "no other kind reads a column or an answer itself"
)]
fn unset_columns(program: &Program, trial: &TrialDef, node: NodeId) -> Vec<String> {
    let mut names = BTreeSet::new();
    for (n, node) in program.below([node]) {
        match &node.kind {
            Kind::Column { table, column } => {
                let set = trial
                    .tables
                    .get(table.index())
                    .is_some_and(|t| t.rows.iter().any(|r| r.iter().any(|(c, _)| c == column)));
                let columns = &program.tables[*table].schema.columns;
                if let Some(spec) = columns.get(usize::from(*column))
                    && !set
                    && spec.blank == OnMissing::Refuse
                {
                    names.insert(spec.name.clone());
                }
            }
            Kind::Asked(_) => {
                let version = &program.versions[trial.version];
                let asked = version.values.iter().find(|v| v.node == n);
                names.extend(asked.map(|v| v.name.clone()));
            }
            _ => {}
        }
    }
    names.into_iter().collect()
}

fn row_of(program: &Program, inputs: &Inputs<'_>, mark: &str) -> Option<usize> {
    program
        .tables
        .iter()
        .zip(&inputs.tables)
        .find_map(|(info, table)| {
            let key = info.schema.key?;
            let key = table.columns.get(key)?;
            (0..table.rows).find(|row| key.text(*row) == Some(mark))
        })
}

/// The small tables of a trial. Columns that are not set hold what a blank cell would; those that may not be blank are unreadable.
fn build_tables(program: &Program, trial: &TrialDef) -> Result<Vec<Table>, Vec<Diagnostic>> {
    let mut tables: Vec<Table> = Vec::new();
    for ((id, info), rows) in program.tables.entries().zip(&trial.tables) {
        let columns: Vec<ColumnData> = (0..info.schema.columns.len())
            .map(|c| column(info, rows, c))
            .collect();
        let mut table = Table {
            rows: rows.rows.len(),
            columns,
            places: (1u32..)
                .take(rows.rows.len())
                .map(|row| RowPlace { source: 0, row })
                .collect(),
            sources: vec![(trial.name.clone(), None)],
            headings: vec![vec![None; info.schema.columns.len()]],
            parent_rows: None,
            from_above: None,
        };
        if let Some(parent) = info.parent {
            table.parent_rows = Some(parents(program, trial, &tables, &table, id, parent)?);
            table = completed(program, trial, info, parent, &tables, table)?;
        }
        tables.push(table);
    }
    Ok(tables)
}

/// The table with the rows and cells that come from the table above, as a survey's would.
fn completed(
    program: &Program,
    trial: &TrialDef,
    info: &TableInfo,
    parent: TableId,
    done: &[Table],
    table: Table,
) -> Result<Table, Vec<Diagnostic>> {
    let schema = &info.schema;
    let (true, Some(above)) = (schema.is_completed(), done.get(parent.index())) else {
        return Ok(table);
    };
    let above = Above {
        schema: &program.tables[parent].schema,
        table: above,
        texts: None,
    };
    let reading = (table.rows > 0).then(|| Reading {
        table,
        report: Report::empty(&schema.name),
        texts: None,
    });
    let told = |d: Diagnostic| {
        let told = Diagnostic::error(
            "OV-609",
            format!("the trial \"{}\" can't be run: {}", trial.name, d.message),
        )
        .at(trial.span, "")
        .note(format!("as {} would say of a survey", d.code));
        let told = d.found.iter().fold(told, |told, f| told.found(f.clone()));
        d.expected
            .iter()
            .fold(told, |told, e| told.expected(e.clone()))
    };
    complete(schema, above, reading, &ReadOptions::default())
        .map(|r| r.table)
        .map_err(|list| list.into_iter().map(told).collect())
}

/// The row above each row. The checker has refused rows that belong to none; with one row above, rows below need not name it.
fn parents(
    program: &Program,
    trial: &TrialDef,
    done: &[Table],
    table: &Table,
    id: TableId,
    parent: TableId,
) -> Result<Vec<u32>, Vec<Diagnostic>> {
    let info = &program.tables[id];
    let above = done.get(parent.index());
    let keys = |t: &Table, c: Option<usize>| -> Vec<String> {
        let column = c.and_then(|c| t.columns.get(c));
        (0..t.rows)
            .map(|row| {
                column
                    .and_then(|c| c.text(row))
                    .unwrap_or_default()
                    .to_owned()
            })
            .collect()
    };
    let own = keys(table, info.schema.parent.as_ref().map(|p| p.1));
    let theirs = above
        .map(|t| keys(t, program.tables[parent].schema.key))
        .unwrap_or_default();
    own.iter()
        .map(|k| {
            let row = theirs.iter().position(|t| t == k);
            // With one row above, rows below need not name it.
            match row.or((theirs.len() == 1).then_some(0)) {
                Some(row) => Ok(crate::ids::row(row)),
                None => Err(vec![
                    Diagnostic::error(
                        "OV-609",
                        format!("the trial \"{}\" can't be run: a row of `{}` belongs to none of its rows above", trial.name, info.schema.name),
                    )
                    .at(trial.span, "")
                    .found(format!("\"{k}\""))
                    .expected(theirs.join(", ")),
                ]),
            }
        })
        .collect()
}

/// The value of a cell that a trial sets, or leaves blank.
fn cell_set(
    spec: &ColumnSpec,
    set: Option<&Result<SchemaValue, AbsentKind>>,
) -> Result<SchemaValue, Absence> {
    let (rule, absence, refused) = match set {
        Some(Ok(v)) => return Ok(v.clone()),
        Some(Err(AbsentKind::Blank)) => (&spec.blank, Absence::Blank, Absence::Blank),
        Some(Err(AbsentKind::NotApplicable)) => {
            let absence = Absence::NotApplicable;
            (&spec.not_applicable, absence, absence)
        }
        None => (&spec.blank, Absence::Blank, Absence::Unreadable),
    };
    match rule {
        OnMissing::Value(v) => Ok(v.clone()),
        OnMissing::Keep => Err(absence),
        OnMissing::Refuse => Err(refused),
    }
}

fn column(info: &TableInfo, rows: &TrialTable, c: usize) -> ColumnData {
    let spec = &info.schema.columns[c];
    let index = ids::place(c);
    let mut column = Column::new(&spec.kind);
    for row in &rows.rows {
        let set = row.iter().find(|(i, _)| *i == index).map(|(_, v)| v);
        column.push_read(cell_set(spec, set));
    }
    column.finish(None)
}
