//! Decisions: lines or a table of cells to conditions, and what the proof of them says.

use super::declare::Pen;
use super::prove::{self, Finding};
use super::typed::*;
use super::unknown::Known;
use crate::diagnostics::{Diagnostic, Span};
use crate::number::Exact;
use crate::program::{
    ChoiceId, Compare, DecideDef, DecideLineDef, Grain, Kind, NodeId, Piece, Template, Ty,
};
use crate::syntax::parse::{CellTree, parse_key_cell};
use crate::syntax::tree::{self, CellText, DecideBody, Name, PresenceTest};
use foldhash::{HashMap, HashMapExt};

/// The lower and the upper end of what a cell stands for, each with whether it counts itself.
type Band = (Option<(Exact, bool)>, Option<(Exact, bool)>);

/// What the columns of a decision's table are for.
struct TableColumns<'a> {
    heads: &'a [CellText],
    /// Values that are compared, by column.
    subjects: HashMap<usize, Typed>,
    label_at: usize,
    because_at: Option<usize>,
}

impl<'a> Checker<'a> {
    /// The choice of a decision's labels: the named one, or one made of its labels in order.
    pub(super) fn decide_choice(
        &mut self,
        pen: &Pen,
        decide: &'a tree::Decide,
    ) -> Option<ChoiceId> {
        if let Some(of) = &decide.of {
            let found = self.declared.choices.get(of.text.as_str()).copied();
            if found.is_none() {
                self.unknown("OV-210", "choice", of, Known::Choices);
                self.reported.broken.insert(&decide.name.text);
            }
            return found;
        }
        let mut labels: Vec<String> = Vec::new();
        let mut add = |l: &str| {
            if !l.is_empty() && !labels.iter().any(|x| x == l) {
                labels.push(l.to_string());
            }
        };
        match &decide.body {
            DecideBody::Lines(lines) => lines.iter().for_each(|l| add(&l.label.text)),
            DecideBody::Table(rows) => {
                let at = rows
                    .first()
                    .and_then(|h| h.iter().position(|c| c.text == decide.name.text));
                if let Some(at) = at {
                    rows.iter()
                        .skip(1)
                        .filter_map(|r| r.get(at))
                        .for_each(|c| add(&c.text));
                }
            }
        }
        let choice = crate::program::ChoiceDef {
            name: decide.name.text.clone(),
            labels,
        };
        self.add_choice(pen, choice, decide.name.span).ok()
    }

    pub(super) fn decide(
        &mut self,
        d: usize,
        decide: &'a tree::Decide,
        def: &Def<'a>,
        cx: &Context<'a>,
    ) -> Checks<Typed> {
        let choice = def.choice.ok_or(Poisoned)?;
        let mut ok = !decide.broken;
        let mut lines: Vec<(Option<NodeId>, DecideLineDef)> = Vec::new();
        match &decide.body {
            DecideBody::Lines(list) => {
                for line in list {
                    let label = self.label_of(choice, &line.label);
                    let when = line
                        .when
                        .as_ref()
                        .map(|w| self.condition(w, cx))
                        .transpose();
                    let because = self.template(&line.because, cx);
                    match (label, when, because) {
                        (Ok(label), Ok(when), Ok(because)) => lines.push((
                            when.map(|w| w.node),
                            DecideLineDef {
                                label,
                                because,
                                rests_on: line.rests_on.as_ref().map(|t| t.text.clone()),
                                span: line.span,
                            },
                        )),
                        _ => ok = false,
                    }
                }
            }
            DecideBody::Table(rows) => match self.decide_table(decide, rows, choice, cx) {
                Ok(found) => lines = found,
                Err(Poisoned) => ok = false,
            },
        }
        if !ok {
            return Err(Poisoned);
        }
        if lines.is_empty() {
            return self.fail(
                Diagnostic::error("OV-409", "this decision has no lines")
                    .at(decide.span, "")
                    .expected("`LABEL when CONDITION because \"...\"`"),
            );
        }
        let others: Vec<usize> = lines
            .iter()
            .enumerate()
            .filter(|(_, l)| l.0.is_none())
            .map(|(i, _)| i)
            .collect();
        if let Some(i) = others.iter().find(|i| **i + 1 != lines.len()) {
            return self.fail(
                Diagnostic::error("OV-409", "`otherwise` comes once, as the last line")
                    .at(lines[*i].1.span, "")
                    .mend("move it below the other lines"),
            );
        }
        let conditions: Vec<Option<NodeId>> = lines.iter().map(|l| l.0).collect();
        let is_answered = self.is_answered_above(d, decide);
        if is_answered {
            self.note_holds(d, &conditions, def, decide.span);
        }
        if !self.work.repeat {
            let spans: Vec<Span> = lines.iter().map(|l| l.1.span).collect();
            self.tell_proof(decide, &conditions, &spans, is_answered.then_some(d));
        }
        let ty = Ty::Choice(choice);
        let line = self.node(
            Kind::DecideLine {
                lines: conditions,
                first_holds: decide.first_holds,
            },
            ty.clone(),
            decide.span,
        );
        let line = self.brought_down(line, def.grain, decide.span);
        let labels: Vec<u16> = lines.iter().map(|l| l.1.label).collect();
        let node = self.node(Kind::LineLabel { line, labels }, ty, decide.name.span);
        self.kept.decides.insert(
            d,
            DecideDef {
                choice,
                line,
                lines: lines.into_iter().map(|l| l.1).collect(),
            },
        );
        Ok(Typed {
            node,
            pending: Pending::default(),
            whole: false,
            literal: false,
        })
    }

    /// Gives the rows whose answer a change replaced the reason of the change. A row whose answer stays keeps its own.
    pub(super) fn changed_reasons(
        &mut self,
        d: usize,
        (before, after): (NodeId, NodeId),
        change: &tree::Change,
        def: &Def<'a>,
    ) -> Checks<()> {
        let mut decide = self.kept.decides.get(&d).cloned().ok_or(Poisoned)?;
        let at = u16::try_from(decide.lines.len()).map_err(|_| Poisoned)?;
        let text = change.because.as_ref().map(|t| t.text.clone());
        decide.lines.push(DecideLineDef {
            label: 0,
            because: Template {
                pieces: text.map(Piece::Text).into_iter().collect(),
            },
            rests_on: None,
            span: change.span,
        });
        let before = self.brought_down(before, def.grain, change.span);
        let condition = self.node(Kind::Same(before, after), Ty::Truth, change.span);
        let ty = Ty::Choice(decide.choice);
        let replaced = self.constant(Kind::Label(at), ty.clone(), change.span);
        let kind = Kind::Select {
            condition,
            then: decide.line,
            otherwise: replaced,
        };
        let mut line = self.node(kind, ty.clone(), change.span);
        // Where nothing was decided before, there is no answer that could have stayed.
        if let Some(decided) = self.decided_in(d, before) {
            let kind = Kind::Select {
                condition: decided,
                then: line,
                otherwise: replaced,
            };
            line = self.node(kind, ty, change.span);
        }
        decide.line = self.brought_down(line, def.grain, change.span);
        self.kept.decides.insert(d, decide);
        Ok(())
    }

    fn tell_proof(
        &mut self,
        decide: &'a tree::Decide,
        conditions: &[Option<NodeId>],
        spans: &[Span],
        answered: Option<usize>,
    ) {
        let name = &decide.name.text;
        let findings = {
            let added = self.added_above(decide);
            prove::prove(
                &self.program,
                &self.loaded.sources,
                conditions,
                decide.first_holds,
                &|choice, label| added.contains(&(choice, label)),
            )
        };
        for finding in findings {
            let d = match finding {
                Finding::Gap { added: Some(_), .. } if answered.is_some() => {
                    self.work.gaps.extend(answered.map(|d| (d, decide)));
                    continue;
                }
                Finding::Gap { witness, sure: true, added: Some(added) } => self.gap_of_added(decide, None, witness, added),
                // What a job answers settles lines of the sheets below it.
                Finding::Never { .. } if self.settled_above(decide) => continue,
                Finding::Gap { witness, sure: true, added: None } => Diagnostic::error("OV-405", format!("`{name}` decides nothing for some openings"))
                    .at(decide.span, "")
                    .found(format!("no line holds when {witness}"))
                    .mend(match decide.body {
                        tree::DecideBody::Lines(_) => "add a line for it, or end with `LABEL otherwise because \"...\"`",
                        tree::DecideBody::Table(_) => "add a row for it; `any` in a cell takes every value",
                    }),
                Finding::Overlap { first, second, witness, sure: true } => {
                    Diagnostic::error("OV-406", format!("two lines of `{name}` hold at once"))
                        .at(spans[first], "this line")
                        .at(spans[second], "and this one")
                        .found(format!("both hold when {witness}"))
                        .mend("narrow one of them, or write `first that holds` on the heading if the order is meant to decide")
                }
                Finding::Gap { witness, sure: false, .. } => {
                    Diagnostic::warning("OV-408", format!("whether `{name}` decides every opening can't be proved before running"))
                        .at(decide.span, "")
                        .note(format!("perhaps no line holds when {witness}; every row is checked while running"))
                }
                Finding::Overlap { first, second, witness, sure: false } => {
                    Diagnostic::warning("OV-408", format!("whether two lines of `{name}` can hold at once can't be proved before running"))
                        .at(spans[first], "this line")
                        .at(spans[second], "and this one")
                        .note(format!("perhaps both hold when {witness}; every row is checked while running"))
                }
                Finding::Never { line } => Diagnostic::warning("OV-407", format!("this line of `{name}` can never count"))
                    .at(spans[line], "")
                    .note("the lines before it, or the limits of the columns, leave nothing for it"),
                Finding::TooMany => Diagnostic::warning("OV-408", format!("`{name}` has too many conditions to be proved before running"))
                    .at(decide.span, "")
                    .note("every row is checked while running"),
            };
            self.problems.push(d);
        }
    }

    /// Whether a layer above that of a decision changes a given, as a job does that answers a fact.
    fn settled_above(&self, decide: &tree::Decide) -> bool {
        let own = self.layer_of_file(decide.span);
        self.declared.changes.iter().any(|c| {
            let defs = self.declared.by_name.get(c.change.name.text.as_str());
            let is_given = |d: &usize| matches!(self.declared.defs[*d].kind, DefKind::Given(_));
            c.layer > own
                && c.layer <= self.work.up_to
                && defs.is_some_and(|list| list.iter().any(is_given))
        })
    }

    #[allow(clippy::type_complexity)]
    /// The values a decision table asks, by column, and whether all are sound.
    fn decide_subjects(
        &mut self,
        heads: &'a [CellText],
        label_at: usize,
        because_at: Option<usize>,
        cx: &Context<'a>,
    ) -> (HashMap<usize, Typed>, bool) {
        let mut subjects: HashMap<usize, Typed> = HashMap::new();
        let mut ok = true;
        for (i, head) in heads.iter().enumerate() {
            if i == label_at || Some(i) == because_at {
                continue;
            }
            if i > label_at {
                ok = false;
                self.problems.push(
                    Diagnostic::error("OV-409", "the conditions must be left of the decision")
                        .at(head.span, "")
                        .mend("move this column to the left"),
                );
                continue;
            }
            match self.named(&head.text, head.span, cx) {
                Ok(t) => {
                    subjects.insert(i, t);
                }
                Err(Poisoned) => ok = false,
            }
        }
        (subjects, ok)
    }

    fn decide_table(
        &mut self,
        decide: &'a tree::Decide,
        rows: &'a [Vec<CellText>],
        choice: ChoiceId,
        cx: &Context<'a>,
    ) -> Checks<Vec<(Option<NodeId>, DecideLineDef)>> {
        let Some((heads, body)) = rows.split_first() else {
            return self.fail(
                Diagnostic::error("OV-409", "this decision table has no headings")
                    .at(decide.span, "")
                    .expected("names of values, the decision's name, because"),
            );
        };
        let because_at = heads.iter().position(|h| h.text == "because");
        let Some(label_at) = heads.iter().position(|h| h.text == decide.name.text) else {
            return self.fail(
                Diagnostic::error(
                    "OV-409",
                    format!("no heading of this table is `{}`", decide.name.text),
                )
                .at(heads.first().map_or(decide.span, |h| h.span), "")
                .expected(format!("names of values | {} | because", decide.name.text)),
            );
        };
        let (subjects, mut ok) = self.decide_subjects(heads, label_at, because_at, cx);
        let columns = TableColumns {
            heads,
            subjects,
            label_at,
            because_at,
        };
        let mut lines = Vec::new();
        for row in body {
            let span = row
                .first()
                .map_or(decide.span, |c| c.span)
                .to(row.last().map_or(decide.span, |c| c.span));
            match self.decide_row(row, span, &columns, choice, cx) {
                Ok((when, line)) => lines.push((Some(when), line)),
                Err(Poisoned) => ok = false,
            }
        }
        if ok { Ok(lines) } else { Err(Poisoned) }
    }

    fn decide_row(
        &mut self,
        row: &'a [CellText],
        span: Span,
        columns: &TableColumns<'a>,
        choice: ChoiceId,
        cx: &Context<'a>,
    ) -> Checks<(NodeId, DecideLineDef)> {
        if row.len() != columns.heads.len() {
            return self.fail(
                Diagnostic::error(
                    "OV-410",
                    "this row has another number of cells than the headings",
                )
                .at(span, "")
                .found(format!("{} cells", row.len()))
                .expected(format!("{} cells, separated by |", columns.heads.len())),
            );
        }
        let condition = self.row_condition(row, span, columns);
        let label = &row[columns.label_at];
        let label = Name {
            text: label.text.clone(),
            span: label.span,
        };
        let because = match columns.because_at.map(|b| &row[b]) {
            Some(cell) => {
                let text = cell.text.trim_matches('"').to_string();
                let span = cell.span;
                self.template_owned(&tree::Text { text, span }, cx)
            }
            None => Ok(crate::program::Template::default()),
        };
        let label = self.label_of(choice, &label);
        let (condition, label, because) = (condition?, label?, because?);
        let line = DecideLineDef {
            label,
            because,
            rests_on: None,
            span,
        };
        Ok((condition, line))
    }

    /// All cells left of the decision hold.
    fn row_condition(
        &mut self,
        row: &'a [CellText],
        span: Span,
        columns: &TableColumns<'a>,
    ) -> Checks<NodeId> {
        let mut condition: Option<NodeId> = None;
        let mut ok = true;
        for (i, cell) in row.iter().enumerate() {
            let Some(subject) = columns.subjects.get(&i).copied() else {
                continue;
            };
            match self.cell_condition(cell, subject, &columns.heads[i].text) {
                Ok(None) => {}
                Ok(Some(c)) => {
                    condition = Some(match condition {
                        None => c,
                        Some(before) => self.node(Kind::And(before, c), Ty::Truth, span),
                    });
                }
                Err(Poisoned) => ok = false,
            }
        }
        if !ok {
            return Err(Poisoned);
        }
        // A row of `any` holds always.
        Ok(condition.unwrap_or_else(|| {
            self.program.intern(crate::program::Node {
                kind: Kind::Truth(true),
                ty: Ty::Truth,
                grain: Grain::Const,
                missing: crate::program::Missing::Never,
                span,
            })
        }))
    }

    /// A value named in a heading, at the context's grain.
    pub(super) fn named(&mut self, name: &str, span: Span, cx: &Context<'a>) -> Checks<Typed> {
        let def = self.def_for(name, cx.grain);
        match def {
            Some(d) => self.read(d, span, cx),
            None if self.reported.broken.contains(name) => Err(Poisoned),
            None => {
                let n = Name {
                    text: name.to_string(),
                    span,
                };
                self.unknown("OV-202", "value", &n, Known::Values);
                Err(Poisoned)
            }
        }
    }

    /// The condition a table cell puts on its column's value; none for `any`.
    /// Whether a value lies between two ends, each with whether it counts itself.
    fn in_band(
        &mut self,
        subject: NodeId,
        ty: &Ty,
        (low, high): Band,
        span: Span,
    ) -> Checks<NodeId> {
        let mut parts = Vec::new();
        let same = low.is_some() && low == high;
        for (end, above) in [(low, true), (high, false)] {
            let Some((value, included)) = end else {
                continue;
            };
            let right = self.program.intern(crate::program::Node {
                kind: Kind::Number(value),
                ty: ty.clone(),
                grain: Grain::Const,
                missing: crate::program::Missing::Never,
                span,
            });
            let op = match (same, above, included) {
                (true, ..) => Compare::Same,
                (_, true, true) => Compare::GreaterEq,
                (_, true, false) => Compare::Greater,
                (_, false, true) => Compare::LessEq,
                (_, false, false) => Compare::Less,
            };
            parts.push(self.node(
                Kind::Compare {
                    op,
                    left: subject,
                    right,
                },
                Ty::Truth,
                span,
            ));
            if same {
                break;
            }
        }
        let mut parts = parts.into_iter();
        let first = parts.next().ok_or(Poisoned)?;
        Ok(parts.fold(first, |a, b| self.node(Kind::And(a, b), Ty::Truth, span)))
    }

    fn cell_condition(
        &mut self,
        cell: &CellText,
        subject: Typed,
        name: &str,
    ) -> Checks<Option<NodeId>> {
        let tree = match parse_key_cell(cell) {
            Ok(t) => t,
            Err(d) => return self.fail(d),
        };
        let span = cell.span;
        let wrong = |c: &mut Self, found: &str| {
            let expected = c.words(&c.ty(&subject).clone());
            c.fail(
                Diagnostic::error("OV-411", format!("this cell does not fit `{name}`"))
                    .at(span, "")
                    .found(found.to_string())
                    .expected(expected),
            )
        };
        if matches!(tree, CellTree::Any) {
            return Ok(None);
        }
        if matches!(tree, CellTree::Blank) {
            if !subject.pending.any() {
                return wrong(self, "blank, and it is never blank");
            }
            return Ok(Some(self.node(
                Kind::Presence {
                    value: subject.node,
                    test: PresenceTest::Blank,
                },
                Ty::Truth,
                span,
            )));
        }
        let test = match self.cell_test(&tree, &subject, span)? {
            Ok(test) => test,
            Err(found) => return wrong(self, found),
        };
        if subject.pending.any() {
            let known = self.node(
                Kind::Presence {
                    value: subject.node,
                    test: PresenceTest::Known,
                },
                Ty::Truth,
                span,
            );
            return Ok(Some(self.node(Kind::And(known, test), Ty::Truth, span)));
        }
        Ok(Some(test))
    }

    /// That a value is what a cell says; or what the cell holds instead, in words, where it is nothing of the value's kind.
    fn cell_test(
        &mut self,
        tree: &CellTree,
        subject: &Typed,
        span: Span,
    ) -> Checks<Result<NodeId, &'static str>> {
        Ok(Ok(match self.ty(subject).clone() {
            ty @ (Ty::Number(_) | Ty::Point(_)) => {
                let Some((low, high)) = self.cell_band(tree, &ty)? else {
                    return Ok(Err(match ty {
                        Ty::Point(_) => "no such point, nor a band of them",
                        Ty::Number(_) | Ty::Truth | Ty::Choice(_) | Ty::Text => "no number",
                    }));
                };
                self.in_band(subject.node, &ty, (low, high), span)?
            }
            Ty::Choice(c) => match tree {
                CellTree::Labels(labels) => {
                    let set = labels
                        .iter()
                        .map(|l| self.label_of(c, l))
                        .collect::<Checks<Vec<u16>>>()?;
                    self.label_set(subject.node, set, span)
                }
                CellTree::Not(label) => {
                    let i = self.label_of(c, label)?;
                    let is = self.label_set(subject.node, vec![i], span);
                    self.node(Kind::Not(is), Ty::Truth, span)
                }
                CellTree::Any
                | CellTree::Blank
                | CellTree::Truth(_)
                | CellTree::Text(_)
                | CellTree::Number(_)
                | CellTree::FromTo(..)
                | CellTree::Under(_)
                | CellTree::UpTo(_)
                | CellTree::Over(_)
                | CellTree::AndOver(_) => return Ok(Err("no label")),
            },
            Ty::Truth => {
                let CellTree::Truth(yes) = tree else {
                    return Ok(Err("neither yes nor no"));
                };
                match yes {
                    true => subject.node,
                    false => self.node(Kind::Not(subject.node), Ty::Truth, span),
                }
            }
            Ty::Text => {
                let CellTree::Text(t) = tree else {
                    return Ok(Err("no text in quotes"));
                };
                let right = self.program.intern(crate::program::Node {
                    kind: Kind::Text(t.clone()),
                    ty: Ty::Text,
                    grain: Grain::Const,
                    missing: crate::program::Missing::Never,
                    span,
                });
                self.node(Kind::Same(subject.node, right), Ty::Truth, span)
            }
        }))
    }

    fn label_set(&mut self, subject: NodeId, mut set: Vec<u16>, span: Span) -> NodeId {
        set.sort_unstable();
        set.dedup();
        self.node(Kind::LabelIn(subject, set), Ty::Truth, span)
    }

    /// The band of a cell in base units; none when the cell holds no number.
    #[allow(clippy::type_complexity)]
    pub(super) fn cell_band(&mut self, tree: &CellTree, ty: &Ty) -> Checks<Option<Band>> {
        let mut read = |s: &tree::Signed| self.signed_like(s, ty, "OV-411");
        Ok(Some(match tree {
            CellTree::Number(s) => {
                let v = read(s)?;
                (Some((v.clone(), true)), Some((v, true)))
            }
            CellTree::FromTo(a, b) => {
                let (low, high) = (read(a)?, read(b)?);
                if low >= high {
                    return self.fail(
                        Diagnostic::error("OV-411", "this band is empty")
                            .at(a.span.to(b.span), "")
                            .expected("the lower end first, and a higher one after `to`"),
                    );
                }
                (Some((low, true)), Some((high, false)))
            }
            CellTree::Under(a) => (None, Some((read(a)?, false))),
            CellTree::UpTo(a) => (None, Some((read(a)?, true))),
            CellTree::Over(a) => (Some((read(a)?, false)), None),
            CellTree::AndOver(a) => (Some((read(a)?, true)), None),
            CellTree::Any
            | CellTree::Blank
            | CellTree::Truth(_)
            | CellTree::Text(_)
            | CellTree::Labels(_)
            | CellTree::Not(_) => return Ok(None),
        }))
    }
}
