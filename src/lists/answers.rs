//! The reviewer's answers to the treatment schedule: the form to fill in, and what was filled in as a sheet of changes.

use super::gather::paper_text;
use super::papers::Made;
use super::table::natural;
use crate::defuse::csv_cell;
use crate::defuse::from_csv_cell;
use crate::diagnostics::suggest::nearest;
use crate::diagnostics::{CellPlace, Diagnostic, Place};
use crate::drawing::Mark;
use crate::eval::Cell;
use crate::paper::Class;
use crate::program::{
    ChoiceId, DecideDef, Grain, NodeId, ValueDef, ValueKind, Version, class_of_reasons,
    shows_private,
};
use crate::show::{cell_text, row_name, rows, template_text};
use crate::survey::{RawOptions, RawRow, RawTable, SourceFile, raw_rows};
use crate::units::dates;
use foldhash::{HashMap, HashSet};

/// The columns of the form.
const COLUMNS: [&str; 8] = [
    "Mark", "Member", "Proposed", "Reason", "Answer", "By", "Date", "Why",
];

/// Places of the columns in [`COLUMNS`].
const MARK: usize = 0;
const MEMBER: usize = 1;
const PROPOSED: usize = 2;
const ANSWER: usize = 4;
const BY: usize = 5;
const DATE: usize = 6;
const WHY: usize = 7;

/// A treatment that the reviewer is asked about.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Question {
    /// Mark of the row it is decided on.
    pub mark: String,
    /// The members that it is the treatment of.
    pub members: Vec<String>,
    /// Name of the decision.
    decision: String,
    choice: ChoiceId,
    /// The label that is proposed.
    proposed: String,
    /// Why.
    reason: String,
}

impl Question {
    fn member(&self) -> String {
        self.members.join(", ")
    }
}

/// What was answered, as a sheet.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Answers {
    /// The sheet.
    pub sheet: String,
    /// How many treatments were agreed to as proposed, and how many were decided otherwise.
    pub agreed: usize,
    /// See `agreed`.
    pub otherwise: usize,
    /// How many wait for an answer.
    pub open: usize,
}

/// The treatments of members that nobody has decided by hand yet, in the order of the schedule. Those whose reasons are not open to every
/// reader are left out.
pub fn questions(made: &Made<'_>) -> Vec<Question> {
    let mut out: Vec<Question> = Vec::new();
    let mut at: HashMap<(usize, usize), usize> = HashMap::default();
    let version = made.version;
    let decided: HashSet<(&str, &str)> = version
        .exceptions
        .iter()
        .map(|e| (e.name.as_str(), e.mark.as_str()))
        .collect();
    for (part, grain) in made.members() {
        let Some(def) = version.parts.get(part.part) else {
            continue;
        };
        let (Some((value_at, value, decide)), Some(member)) = (
            def.treatment.and_then(|node| decision_of(version, node)),
            &part.member,
        ) else {
            continue;
        };
        if !is_open(made, value, decide) || !matches!(grain, Grain::Table(_)) {
            continue;
        }
        let member = member.replace('_', " ");
        if let Some(known) = at.get(&(value_at, part.row)).and_then(|n| out.get_mut(*n)) {
            if !known.members.contains(&member) {
                known.members.push(member);
            }
            continue;
        }
        let line = match made.results.value(decide.line, part.row) {
            Cell::Label(line) => decide.lines.get(usize::from(line)),
            Cell::Number(_) | Cell::Truth(_) | Cell::Text(_) | Cell::Absent(_) | Cell::Fault(_) => {
                None
            }
        };
        let label = made.results.value(value.node, part.row);
        let (Some(line), Cell::Label(_)) = (line, &label) else {
            continue;
        };
        if decided.contains(&(value.name.as_str(), &*part.key)) {
            continue;
        }
        at.insert((value_at, part.row), out.len());
        out.push(Question {
            mark: part.key.to_string(),
            members: vec![member],
            decision: value.name.clone(),
            choice: decide.choice,
            proposed: cell_text(made.program, value.node, &label, None),
            reason: template_text(made.program, &line.because, made.results, part.row),
        });
    }
    out.sort_by(|a, b| natural(&a.mark, &b.mark));
    out
}

fn decision_of(version: &Version, node: NodeId) -> Option<(usize, &ValueDef, &DecideDef)> {
    let mut values = version.values.iter().enumerate();
    values.find_map(|(at, value)| {
        let ValueKind::Decide(decide) = &value.kind else {
            return None;
        };
        (value.node == node).then_some((at, &**value, decide))
    })
}

/// Whether every reader may see a decision with its reasons.
fn is_open(made: &Made<'_>, value: &ValueDef, decide: &DecideDef) -> bool {
    !shows_private(made.version, &value.name)
        && class_of_reasons(made.program, made.version, decide) == Class::Open
}

/// A treatment that somebody decided by hand and signed.
pub(super) struct Given {
    pub(super) mark: String,
    /// Members, or the decision where no member has it.
    pub(super) member: String,
    pub(super) proposed: String,
    pub(super) treatment: String,
    pub(super) reason: String,
    pub(super) by: String,
    pub(super) on: String,
}

/// What must be calculated before [`given`].
pub(super) fn wanted(version: &Version, nodes: &mut Vec<NodeId>) {
    for one in &version.exceptions {
        nodes.extend(one.replaced.iter().map(|(_, node)| *node));
    }
}

/// The treatments that were decided by hand for single rows by somebody named, in the order of their marks.
pub(super) fn given(made: &Made<'_>) -> Vec<Given> {
    let mut out = Vec::new();
    for one in &made.version.exceptions {
        let value = made.version.values.iter().find(|v| v.name == one.name);
        let (Some(value), Some((by, on))) = (value, &one.by) else {
            continue;
        };
        let ValueKind::Decide(decide) = &value.kind else {
            continue;
        };
        if !is_open(made, value, decide) {
            continue;
        }
        let found = one.replaced.iter().find_map(|(table, before)| {
            let grain = Grain::Table(*table);
            let named = |row: &usize| {
                row_name(made.program, made.tables, made.results, grain, *row)
                    .is_some_and(|name| name == one.mark)
            };
            let row = (0..rows(made.tables, made.results, grain)).find(named)?;
            Some((row, *before))
        });
        let Some((row, before)) = found else { continue };
        let words = |node: NodeId| {
            let cell = made.results.value(node, row);
            paper_text(made.program, node, &cell, None)
        };
        let mut members: Vec<String> = Vec::new();
        for (part, _) in made.members() {
            let def = made.version.parts.get(part.part);
            let own = def.is_some_and(|d| d.treatment == Some(value.node));
            if let Some(member) = part.member.as_ref().filter(|_| own && part.row == row) {
                members.push(member.replace('_', " "));
            }
        }
        members.dedup();
        out.push(Given {
            mark: one.mark.clone(),
            member: match members.is_empty() {
                true => one.name.replace('_', " "),
                false => members.join(", "),
            },
            proposed: words(before),
            treatment: words(value.node),
            reason: one.because.clone(),
            by: by.clone(),
            on: on.clone(),
        });
    }
    out.sort_by(|a, b| natural(&a.mark, &b.mark));
    out
}

/// The form as CSV: how it is filled in, and a row for each treatment.
pub fn form(title: &str, questions: &[Question]) -> String {
    let told = [
        format!("Answers to the treatment schedule: {title}"),
        "Answer: agreed, or the treatment to be done instead. By: who answers. Date: as 2026-03-21. Why: the condition or the reason.".to_owned(),
    ];
    let mut out = String::new();
    for line in told {
        out.push_str(&quoted(&line));
        out.push_str(&",".repeat(COLUMNS.len() - 1));
        out.push('\n');
    }
    out.push_str(&COLUMNS.join(","));
    out.push('\n');
    for question in questions {
        let cells = [
            question.mark.clone(),
            question.member(),
            question.proposed.replace('_', " "),
            question.reason.clone(),
        ];
        let cells: Vec<String> = cells.iter().map(|c| quoted(c)).collect();
        out.push_str(&format!("{},,,,\n", cells.join(",")));
    }
    out
}

fn quoted(cell: &str) -> String {
    let cell = csv_cell(cell);
    match cell.contains([',', '"', '\n']) {
        true => format!("\"{}\"", cell.replace('"', "\"\"")),
        false => cell,
    }
}

/// Reads a form that was filled in. Errors: OV-086 where it is no such form; OV-087 to OV-089 for each row that can't be taken; OV-0xx and
/// OV-7xx of the file.
pub fn read(
    made: &Made<'_>,
    questions: &[Question],
    file: SourceFile<'_>,
) -> Result<Answers, Vec<Diagnostic>> {
    let options = RawOptions {
        wanted: COLUMNS.iter().map(|c| vec![(*c).to_owned()]).collect(),
        least: 3,
        ..RawOptions::default()
    };
    let table = raw_rows(file, &options)?;
    let lacking: Vec<&str> = [MARK, MEMBER, PROPOSED, ANSWER, BY, DATE, WHY]
        .into_iter()
        .filter(|c| table.columns.get(*c).copied().flatten().is_none())
        .map(|c| COLUMNS[c])
        .collect();
    if !lacking.is_empty() {
        return Err(vec![
            Diagnostic::error(
                "OV-086",
                format!("this form has no column headed {}", lacking.join(", nor ")),
            )
            .at(Place::File(table.file.clone()), "")
            .found(table.headings.join(", "))
            .expected(COLUMNS.join(", "))
            .mend("make the form with `ovolo answers JOB --form FILE`"),
        ]);
    }
    let mut reader = Reader {
        made,
        questions,
        table: &table,
        taken: HashMap::default(),
        lines: Vec::new(),
        agreed: 0,
        otherwise: 0,
        faults: Vec::new(),
    };
    for row in &table.rows {
        reader.row(row);
    }
    if !reader.faults.is_empty() {
        return Err(reader.faults);
    }
    let head = format!(
        "# Answers of the reviewing authority to the treatment schedule, read from {}.\n\nsheet \"Answers of the reviewing authority\" layer job\n\n",
        plain(&table.file)
    );
    Ok(Answers {
        sheet: head + &reader.lines.concat(),
        agreed: reader.agreed,
        otherwise: reader.otherwise,
        open: questions.len() - reader.taken.len(),
    })
}

struct Reader<'a> {
    made: &'a Made<'a>,
    questions: &'a [Question],
    table: &'a RawTable,
    /// Questions that were answered, each with the row that did.
    taken: HashMap<usize, u32>,
    lines: Vec<String>,
    agreed: usize,
    otherwise: usize,
    faults: Vec<Diagnostic>,
}

impl Reader<'_> {
    fn text(&self, row: &RawRow, column: usize) -> String {
        let at = self.table.columns.get(column).copied().flatten();
        let cell = at.and_then(|at| row.cells.get(at));
        cell.map_or(String::new(), |c| {
            from_csv_cell(c.view().words().trim()).to_owned()
        })
    }

    fn place(&self, row: &RawRow, column: usize) -> CellPlace {
        let at = self.table.columns.get(column).copied().flatten();
        self.table.place(row.row, at.unwrap_or(0))
    }

    fn row(&mut self, row: &RawRow) {
        let [mark, member, answer, by, date, why] =
            [MARK, MEMBER, ANSWER, BY, DATE, WHY].map(|c| self.text(row, c));
        if [&answer, &by, &date, &why].iter().all(|t| t.is_empty()) {
            return;
        }
        let before = self.faults.len();
        let asked = self.question(row, &mark, &member);
        if answer.is_empty() {
            self.faults.push(
                Diagnostic::error("OV-089", format!("{mark}, {member}: there is no answer"))
                    .at(self.place(row, ANSWER), "")
                    .found("a name, a day or a reason without an answer")
                    .expected("agreed, or the treatment to be done instead"),
            );
        }
        let label = asked.and_then(|at| self.label(row, at, &answer));
        self.signed(row, (&by, &date));
        let (Some(at), Some(label)) = (asked, label) else {
            return;
        };
        let Some(question) = self.questions.get(at) else {
            return;
        };
        let same = label == question.proposed;
        if !same && why.is_empty() {
            self.faults.push(
                Diagnostic::error(
                    "OV-089",
                    format!("{mark}, {member}: the answer gives no reason"),
                )
                .at(self.place(row, WHY), "")
                .found("a blank")
                .expected("why it is not to be done as proposed"),
            );
        }
        if self.faults.len() > before {
            return;
        }
        let because = match (same, why.is_empty()) {
            (true, true) => format!("agreed: {}", question.reason),
            (true, false) => format!("agreed on condition, {why}: {}", question.reason),
            (false, _) => why,
        };
        self.lines.push(format!(
            "change {} at \"{}\" to {label} because \"{}\" by \"{}\" on {date} was {}\n",
            question.decision,
            plain(&question.mark),
            plain(&because),
            plain(&by),
            question.proposed
        ));
        match same {
            true => self.agreed += 1,
            false => self.otherwise += 1,
        }
    }

    /// Which treatment a row answers, once each, as it is still proposed.
    fn question(&mut self, row: &RawRow, mark: &str, member: &str) -> Option<usize> {
        let of_mark = |q: &&Question| q.mark == mark;
        let named = |q: &Question| q.mark == mark && q.member() == member;
        let wrong =
            |said: String, place: CellPlace| Diagnostic::error("OV-087", said).at(place, "");
        let Some(at) = self.questions.iter().position(named) else {
            let known: Vec<String> = self
                .questions
                .iter()
                .filter(of_mark)
                .map(Question::member)
                .collect();
            let by_hand = self.made.version.exceptions.iter().any(|e| e.mark == mark);
            let d = match known.is_empty() {
                true => {
                    let d = wrong(
                        format!("no treatment of \"{mark}\" is asked about"),
                        self.place(row, MARK),
                    );
                    let marks = self.questions.iter().map(|q| q.mark.as_str());
                    let near = nearest(mark, marks).filter(|_| !by_hand);
                    match near {
                        Some(near) => d.found(mark).mend(format!("did you mean {near}?")),
                        None => d.found(mark),
                    }
                }
                false => wrong(
                    format!("no treatment of \"{member}\" at {mark} is asked about"),
                    self.place(row, MEMBER),
                )
                .found(member)
                .expected(known.join("; ")),
            };
            self.faults.push(match by_hand {
                true => d.note("What is decided by hand in the job is not asked about again."),
                false => d,
            });
            return None;
        };
        if let Some(first) = self.taken.insert(at, row.row) {
            self.faults.push(
                wrong(
                    format!("{mark}, {member} is answered twice"),
                    self.place(row, ANSWER),
                )
                .found(format!("rows {first} and {}", row.row))
                .expected("one answer"),
            );
        }
        let proposed = self.text(row, PROPOSED);
        let now = self.questions.get(at)?.proposed.replace('_', " ");
        if proposed.replace('_', " ") != now {
            self.faults.push(
                wrong(
                    format!("{mark}, {member}: this is no longer what is proposed"),
                    self.place(row, PROPOSED),
                )
                .found(proposed)
                .expected(now)
                .mend("ask again with a new form: what was answered was another proposal"),
            );
        }
        Some(at)
    }

    /// The label that an answer stands for.
    fn label(&mut self, row: &RawRow, at: usize, answer: &str) -> Option<String> {
        if answer.is_empty() {
            return None;
        }
        let question = self.questions.get(at)?;
        let words = |text: &str| text.to_lowercase().replace(['_', '-'], " ");
        let said = words(answer);
        if matches!(said.as_str(), "agreed" | "agree") {
            return Some(question.proposed.clone());
        }
        let labels = &self.made.program.choices.get(question.choice)?.labels;
        let own = |l: &&String| words(l) == said || Mark::of(l).letter() == answer && answer != "?";
        if let Some(label) = labels.iter().find(own) {
            return Some(label.clone());
        }
        let labels: Vec<String> = labels.iter().map(|l| l.replace('_', " ")).collect();
        let d = Diagnostic::error(
            "OV-088",
            format!(
                "{}, {}: the answer is no treatment",
                question.mark,
                question.member()
            ),
        )
        .at(self.place(row, ANSWER), "")
        .found(answer)
        .expected(format!("agreed, or one of {}", labels.join(", ")));
        let near = nearest(&said, labels.iter().map(String::as_str));
        self.faults.push(match near {
            Some(near) => d.mend(format!("did you mean {near}?")),
            None => d,
        });
        None
    }

    /// Who answered, and on which day.
    fn signed(&mut self, row: &RawRow, (by, date): (&str, &str)) {
        let [mark, member] = [MARK, MEMBER].map(|c| self.text(row, c));
        let mut wrong = |said: &str, column: usize, found: &str, expected: &str| {
            self.faults.push(
                Diagnostic::error("OV-089", format!("{mark}, {member}: the answer {said}"))
                    .at(
                        self.table.place(
                            row.row,
                            self.table
                                .columns
                                .get(column)
                                .copied()
                                .flatten()
                                .unwrap_or(0),
                        ),
                        "",
                    )
                    .found(found)
                    .expected(expected),
            );
        };
        if by.is_empty() {
            wrong(
                "has no name",
                BY,
                "a blank",
                "who answers for the reviewing authority",
            );
        }
        const DAY: &str = "a day as year-month-day, such as 2026-03-21";
        match date.is_empty() {
            true => wrong("has no date", DATE, "a blank", DAY),
            false if !written(date) => wrong("has no date that can be read", DATE, date, DAY),
            false => {}
        }
    }
}

/// Whether a text is a day as a sheet writes it.
fn written(date: &str) -> bool {
    let shape = date.len() == 10
        && date.bytes().enumerate().all(|(at, b)| match at {
            4 | 7 => b == b'-',
            _ => b.is_ascii_digit(),
        });
    shape && dates::read(date).is_ok()
}

/// A text as a sheet can hold it.
fn plain(text: &str) -> String {
    text.replace('"', "'")
        .replace('{', "(")
        .replace('}', ")")
        .replace(['\n', '\r'], " ")
}
