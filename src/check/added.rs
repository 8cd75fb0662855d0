//! Labels that later layers add to a choice: which rules and decisions say nothing of them, and whether a later change does.

use super::prove::{self, Finding};
use super::typed::*;
use crate::diagnostics::suggest::listed;
use crate::diagnostics::{Diagnostic, Span};
use crate::program::{ChoiceId, Kind, Next, NodeId, Ty};
use crate::syntax::tree;
use foldhash::{HashMap, HashMapExt, HashSet};
use std::collections::BTreeSet;

impl<'a> Checker<'a> {
    /// Where these labels of a choice were added, of those that were.
    fn adders(&self, choice: ChoiceId, labels: &[String]) -> Vec<(String, Span)> {
        let name = &self.program.choices[choice].name;
        let added = self.loaded.added.iter();
        added
            .filter(|a| a.choice == *name && labels.contains(&a.label.text))
            .map(|a| (a.label.text.clone(), a.label.span))
            .collect()
    }

    /// Whether the labels a `choose` lacks were all added by later layers, and the value it is in is changed by one.
    pub(super) fn answered_later(&self, choice: ChoiceId, labels: &[String]) -> bool {
        // Trials of lower layers do not see the change; they have no row of the label either.
        let changed = self.reading.open.last().is_some_and(|(def, _)| {
            let name = &self.declared.defs[*def].name.text;
            let mut changes = self.declared.changes.iter();
            changes.any(|c| c.change.at.is_none() && c.change.name.text == *name)
        });
        let adders = self.adders(choice, labels);
        changed
            && labels
                .iter()
                .all(|l| adders.iter().any(|(added, _)| added == l))
    }

    /// That a `choose` leaves out labels.
    pub(super) fn lacking(&self, choice: ChoiceId, labels: &[String], subject: Span) -> Diagnostic {
        let mut d = Diagnostic::error("OV-403", "`choose` does not say what holds for every label")
            .at(subject, "")
            .found(format!("nothing for {}", listed(labels)))
            .expected("every label once, or `otherwise: ...` at the end");
        let adders = self.adders(choice, labels);
        for (_, span) in &adders {
            d = d.at(*span, "added here");
        }
        let (Some((label, _)), Some((def, _))) = (adders.first(), self.reading.open.last()) else {
            return d;
        };
        let name = &self.declared.defs[*def].name.text;
        d.mend(format!(
            "say it in the layer that adds the label: change {name} to choose {} {{ {label}: ...  otherwise: {name} }} because \"...\"",
            self.loaded.sources.slice(subject)
        ))
    }

    /// Labels that layers above that of a decision add.
    pub(super) fn added_above(&self, decide: &tree::Decide) -> HashSet<(ChoiceId, u16)> {
        let own = self.layer_of_file(decide.span);
        let above = self.loaded.added.iter().filter(|a| a.layer > own);
        let mut found = HashSet::default();
        for added in above {
            for (choice, def) in self.program.choices.entries() {
                let at = def.labels.iter().position(|l| *l == added.label.text);
                if def.name == added.choice
                    && let Some(Ok(at)) = at.map(u16::try_from)
                {
                    found.insert((choice, at));
                }
            }
        }
        found
    }

    /// Whether a layer above that of a decision adds labels and one changes the decision for all rows.
    pub(super) fn is_answered_above(&self, d: usize, decide: &tree::Decide) -> bool {
        let changes = self.work.in_force.get(&d).into_iter().flatten();
        changes.into_iter().any(|c| c.change.at.is_none()) && !self.added_above(decide).is_empty()
    }

    /// Notes for a decision whether some line of it holds.
    pub(super) fn note_holds(
        &mut self,
        d: usize,
        conditions: &[Option<NodeId>],
        def: &Def<'a>,
        span: Span,
    ) {
        // The line `otherwise` holds always.
        let Some(conditions) = conditions.iter().copied().collect::<Option<Vec<_>>>() else {
            return;
        };
        let any = conditions
            .into_iter()
            .reduce(|a, b| self.node(Kind::Or(a, b), Ty::Truth, span));
        if let Some(any) = any {
            let any = self.brought_down(any, def.grain, span);
            self.kept.holds.insert(d, any);
        }
    }

    /// Where a value that is calculated from a decision before its changes decides something; `None` where that is everywhere.
    pub(super) fn decided_in(&mut self, d: usize, value: NodeId) -> Option<NodeId> {
        let holds = *self.kept.holds.get(&d)?;
        let first = self.kept.memo.get(&(d, 0)).copied()?.ok()?.node;
        // Children are before parents, so nothing before the decision is calculated from it.
        let below = self.program.walk([value], |id, node| match id > first {
            true => node.kind.children(),
            false => Next::new(),
        });
        let below: BTreeSet<NodeId> = below.map(|(id, _)| id).filter(|id| *id > first).collect();
        let mut decided: HashMap<NodeId, NodeId> = HashMap::new();
        decided.insert(first, holds);
        for node in below {
            if let Some(where_) = self.decided_at(node, &decided) {
                decided.insert(node, where_);
            }
        }
        decided.get(&value).copied()
    }

    /// The same of one node, from what is known of its children.
    #[expect(
        clippy::wildcard_enum_match_arm,
        reason = "every other kind is a sum of what its children decide"
    )]
    fn decided_at(&mut self, node: NodeId, decided: &HashMap<NodeId, NodeId>) -> Option<NodeId> {
        let n = self.program.node(node).clone();
        let of = |child: &NodeId| decided.get(child).copied();
        match &n.kind {
            Kind::Select {
                condition,
                then,
                otherwise,
            } => {
                let not = self.node(Kind::Not(*condition), Ty::Truth, n.span);
                let yes = self.when(*condition, of(then), n.span);
                let no = self.when(not, of(otherwise), n.span);
                self.all([of(condition), yes, no], n.span)
            }
            Kind::Choose {
                subject,
                arm_of,
                arms,
            } => {
                let mut all = vec![of(subject)];
                for (at, arm) in arms.iter().enumerate() {
                    let labels: Vec<u16> = (0u16..)
                        .zip(arm_of)
                        .filter(|(_, a)| usize::from(**a) == at)
                        .map(|(label, _)| label)
                        .collect();
                    let other = self.node(Kind::LabelIn(*subject, labels), Ty::Truth, n.span);
                    let not = self.node(Kind::Not(other), Ty::Truth, n.span);
                    let arm = of(arm);
                    all.push(arm.map(|arm| self.node(Kind::Or(not, arm), Ty::Truth, n.span)));
                }
                self.all(all, n.span)
            }
            Kind::Down(child) => {
                let child = of(child)?;
                Some(self.brought_down(child, n.grain, n.span))
            }
            // What is gathered over other rows is known or not with those rows.
            Kind::Up { .. } | Kind::Count { .. } | Kind::Share { .. } => None,
            kind => self.all(kind.children().iter().map(of), n.span),
        }
    }

    /// That a value is decided where it is asked for: `None` where that is everywhere.
    fn when(&mut self, asked: NodeId, decided: Option<NodeId>, span: Span) -> Option<NodeId> {
        let decided = decided?;
        let not = self.node(Kind::Not(asked), Ty::Truth, span);
        Some(self.node(Kind::Or(not, decided), Ty::Truth, span))
    }

    fn all(
        &mut self,
        parts: impl IntoIterator<Item = Option<NodeId>>,
        span: Span,
    ) -> Option<NodeId> {
        parts
            .into_iter()
            .flatten()
            .reduce(|a, b| self.node(Kind::And(a, b), Ty::Truth, span))
    }

    /// Tells decisions that decide nothing under an added label, also with what later layers change.
    pub(super) fn tell_open_decisions(&mut self) {
        for (d, decide) in std::mem::take(&mut self.work.gaps) {
            let last = self.last_stage(d);
            let Some(Ok(value)) = self.kept.memo.get(&(d, last)).copied() else {
                continue;
            };
            let Some(decided) = self.decided_in(d, value.node) else {
                continue;
            };
            let added = self.added_above(decide);
            let findings = prove::prove(
                &self.program,
                &self.loaded.sources,
                &[Some(decided)],
                true,
                &|choice, label| added.contains(&(choice, label)),
            );
            let name = &decide.name.text;
            let changes = self.work.in_force.get(&d).into_iter().flatten();
            let mut changes = changes.filter(|c| c.change.at.is_none());
            let changed = changes.next_back().map(|c| c.change.span);
            for finding in findings {
                let problem = match finding {
                    Finding::Gap {
                        witness,
                        sure: true,
                        added: Some(added),
                    } => self.gap_of_added(decide, changed, witness, added),
                    // The sheet's own, which is reported with its own proof.
                    Finding::Gap { added: None, .. } => continue,
                    Finding::Gap {
                        witness,
                        sure: false,
                        ..
                    } => Diagnostic::warning(
                        "OV-408",
                        format!("whether `{name}` decides every opening can't be proved before running"),
                    )
                    .at(decide.span, "")
                    .note(format!(
                        "perhaps no line and no change holds when {witness}; every row is checked while running"
                    )),
                    Finding::TooMany => Diagnostic::warning(
                        "OV-408",
                        format!("`{name}` has too many conditions to be proved before running"),
                    )
                    .at(decide.span, "")
                    .note("every row is checked while running"),
                    Finding::Overlap { .. } | Finding::Never { .. } => continue,
                };
                self.problems.push(problem);
            }
        }
    }

    /// That a decision says nothing of a label that a later layer adds.
    pub(super) fn gap_of_added(
        &self,
        decide: &tree::Decide,
        changed: Option<Span>,
        witness: String,
        (choice, label, is): (ChoiceId, u16, String),
    ) -> Diagnostic {
        let name = &decide.name.text;
        let mut d = Diagnostic::error(
            "OV-405",
            format!("`{name}` decides nothing for some openings"),
        )
        .at(decide.span, "");
        let labels = &self.program.choices[choice].labels;
        let label = labels.get(usize::from(label)).cloned();
        for (_, span) in self.adders(choice, label.as_slice()) {
            d = d.at(span, "added here");
        }
        if let Some(changed) = changed {
            d = d.at(changed, "this change does not answer for it");
        }
        d.found(format!("no line holds when {witness}"))
            .mend(match changed {
                Some(_) => format!("let the change of `{name}` answer for it too: if {is} then ... else ..."),
                None => format!(
                    "say it in the layer that adds the label: change {name} to if {is} then ... else {name} because \"...\""
                ),
            })
    }
}
