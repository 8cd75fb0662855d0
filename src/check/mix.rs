//! Plans mixed of two others: a version whose changed values are picked row by row from the two.
//!
//! Only what the two plans change is picked; everything calculated from it is calculated anew, so that packs, set-up and shares are those of
//! the mixed quantities. Which row takes which plan is a column of truths that the caller supplies once both plans are priced.

use super::typed::*;
use crate::diagnostics::{Diagnostic, Span};
use crate::program::{
    DecideDef, DecideLineDef, Grain, Kind, Missing, Node, NodeId, PickDef, Piece, TableId, Ty,
};
use crate::syntax::tree::{self, ChangePart};
use foldhash::HashMap;

/// Stages of a picked definition beyond its own: the first plan's value, the second's, the picked one.
pub(super) const STAGES: usize = 3;

/// What a mixed version is made of.
pub(super) struct Mix<'a> {
    /// Yes on the rows that take the first plan.
    pick: NodeId,
    grain: Grain,
    names: [String; 2],
    listed: [Vec<LayeredChange<'a>>; 2],
    changes: [HashMap<usize, LayeredChange<'a>>; 2],
}

impl Mix<'_> {
    /// Whether one of the plans changes this definition.
    pub(super) fn has(&self, def: usize) -> bool {
        self.changes.iter().any(|c| c.contains_key(&def))
    }

    /// Why a picked value is what it is.
    pub(super) fn because(&self) -> String {
        format!(
            "picked row by row: \"{}\" or \"{}\"",
            self.names[0], self.names[1]
        )
    }
}

impl<'a> Checker<'a> {
    /// Builds the version of an alternate that picks.
    pub(super) fn mixed_plan(&mut self, alternate: Alternate<'a>, base: &[LayeredChange<'a>]) {
        let Some(pick) = alternate.pick else { return };
        let told = self.problems.len();
        if let Some(change) = alternate.changes.first() {
            self.problems.push(
                Diagnostic::error("OV-620", "a mixed plan changes nothing itself")
                    .at(change.span, "")
                    .mend(
                        "make the change in the plans it picks from, or in an alternate of its own",
                    ),
            );
        }
        if pick.otherwise.text != pick.against.text {
            self.problems.push(
                Diagnostic::error(
                    "OV-620",
                    "a plan is weighed against the one that is taken otherwise",
                )
                .at(pick.against.span, "weighed against this")
                .at(pick.otherwise.span, "and this is taken otherwise")
                .mend("name the same plan in both places"),
            );
        }
        self.refuse_amends(alternate, pick);
        let plans = [self.plan(&pick.plan), self.plan(&pick.against)];
        let Some(table) = self.program.main_table() else {
            return;
        };
        let [Some((first, listed)), Some((second, others))] = plans else {
            return;
        };
        if self.problems.len() > told {
            return;
        }
        if pick.plan.text == pick.against.text {
            self.problems.push(
                Diagnostic::error("OV-620", "a plan can't be picked over itself")
                    .at(pick.span, "")
                    .mend("name two plans"),
            );
            return;
        }
        let picks = self
            .program
            .versions
            .iter()
            .filter(|v| v.pick.is_some())
            .count();
        let columns = self.program.tables[table].schema.columns.len();
        let Ok(column) = u16::try_from(columns + picks) else {
            return;
        };
        let node = self.pick_node(table, column, pick.span);
        let names = [pick.plan.text.clone(), pick.against.text.clone()];
        self.work.mix = Some(Mix {
            pick: node,
            grain: Grain::Table(table),
            names,
            listed: [listed, others],
            changes: Default::default(),
        });
        self.build(Some(alternate.name.text.clone()), base, &[]);
        self.work.mix = None;
        for d in self.problems.iter_mut().skip(told) {
            d.notes.push(format!(
                "in the mixed plan \"{}\", where what its plans change is one value for each row",
                alternate.name.text
            ));
        }
        if let Some(version) = self.program.versions.last_mut() {
            version.pick = Some(PickDef {
                plans: [first, second],
                share: pick.share.clone(),
                table,
                column,
                span: pick.span,
            });
        }
    }

    /// Limits, packs, names and where takes go are one for a whole version: a plan that changes them can't be picked row by row.
    fn refuse_amends(&mut self, alternate: Alternate<'a>, pick: &tree::Pick) {
        let picked = self.declared.alternates.iter().filter(|a| {
            let name = a.name.text.as_str();
            name == alternate.name.text || name == pick.plan.text || name == pick.against.text
        });
        let amends: Vec<&tree::Amend> = picked.flat_map(|a| a.amends).collect();
        for amend in amends {
            self.problems.push(
                Diagnostic::error(
                    "OV-622",
                    format!(
                        "the {} of `{}` is one for the whole job, so it can't be picked row by row",
                        amend.what.word(),
                        amend.name.text
                    ),
                )
                .at(amend.span, "")
                .mend("leave it to an alternate of its own, beside the mixed plan"),
            );
        }
    }

    /// The version and the changes of a plan by name.
    fn plan(&mut self, name: &tree::Text) -> Option<(usize, Vec<LayeredChange<'a>>)> {
        if name.text == crate::program::AS_DECIDED {
            return Some((0, vec![]));
        }
        let found = self
            .declared
            .alternates
            .iter()
            .copied()
            .find(|a| a.name.text == name.text);
        let version = self
            .program
            .versions
            .iter()
            .position(|v| v.name.as_deref() == Some(name.text.as_str()));
        match (found, version) {
            (Some(a), Some(version)) if a.pick.is_none() => Some((version, a.layered())),
            (Some(_), _) => {
                self.problems.push(
                    Diagnostic::error(
                        "OV-620",
                        "a mixed plan picks from plans that are not mixed themselves",
                    )
                    .at(name.span, ""),
                );
                None
            }
            (None, _) => {
                let mut known: Vec<String> = self
                    .declared
                    .alternates
                    .iter()
                    .filter(|a| a.pick.is_none())
                    .map(|a| format!("\"{}\"", a.name.text))
                    .collect();
                known.push(format!("\"{}\"", crate::program::AS_DECIDED));
                let d =
                    Diagnostic::error("OV-620", format!("there is no alternate \"{}\"", name.text))
                        .at(name.span, "")
                        .expected(known.join(", "));
                self.problems.push(d);
                None
            }
        }
    }

    fn pick_node(&mut self, table: TableId, column: u16, span: Span) -> NodeId {
        self.program.intern(Node {
            kind: Kind::Column { table, column },
            ty: Ty::Truth,
            grain: Grain::Table(table),
            missing: Missing::Never,
            span,
        })
    }

    /// Places the changes of both plans; those that can't differ from row to row are refused.
    pub(super) fn place_mix(&mut self) {
        let Some(mix) = &self.work.mix else { return };
        let listed = mix.listed.clone();
        let mut placed: [HashMap<usize, LayeredChange<'a>>; 2] = Default::default();
        for (changes, placed) in listed.iter().zip(&mut placed) {
            for c in changes {
                let refuse = |what: &str| {
                    Diagnostic::error(
                        "OV-622",
                        format!("{what}, so it can't be picked row by row"),
                    )
                    .at(c.change.span, "")
                    .mend("leave it to an alternate of its own, beside the mixed plan")
                };
                if c.change.at.is_some() {
                    let name = &c.change.name.text;
                    self.problems
                        .push(refuse(&format!("`{name}` is changed for one row alone")));
                    continue;
                }
                if c.change.part != ChangePart::Value {
                    let name = &c.change.name.text;
                    self.problems.push(refuse(&format!(
                        "a price, waste or yield of `{name}` is one for the whole job"
                    )));
                    continue;
                }
                // Changes that land nowhere were reported when the plan itself was built.
                let list = self
                    .declared
                    .by_name
                    .get(c.change.name.text.as_str())
                    .cloned()
                    .unwrap_or_default();
                let Some(d) = list
                    .into_iter()
                    .find(|d| !matches!(self.declared.defs[*d].kind, DefKind::Column { .. }))
                else {
                    continue;
                };
                let grain = self.declared.defs[d].grain;
                let main = self.program.main_table().map(Grain::Table);
                if grain != Grain::Const
                    && !main.is_some_and(|m| grain == m || self.reaches(grain, m))
                {
                    let is = self.name_of_grain(grain);
                    self.problems.push(refuse(&format!(
                        "`{}` is calculated {is}",
                        c.change.name.text
                    )));
                    continue;
                }
                placed.insert(d, *c);
            }
        }
        if let Some(mix) = &mut self.work.mix {
            mix.changes = placed;
        }
    }

    /// The value at one of the stages beyond a definition's own.
    pub(super) fn mixed(
        &mut self,
        d: usize,
        own: usize,
        stage: usize,
        def: &Def<'a>,
        cx: &Context<'a>,
    ) -> Checks<Typed> {
        let Some(mix) = &self.work.mix else {
            return Err(Poisoned);
        };
        if let Some(changes) = mix.changes.get(stage - 1) {
            return match changes.get(&d).copied() {
                Some(change) => self.changed(d, change, own, def, cx),
                None => self.define(d, own, def.name.span),
            };
        }
        let (pick, grain, names) = (mix.pick, mix.grain, mix.names.clone());
        let span = def.name.span;
        let at = if def.grain == Grain::Const {
            grain
        } else {
            def.grain
        };
        let condition = self.brought_down(pick, at, span);
        // A change of a decision adds its reason to those that are there: each plan starts from those of the rules.
        self.define(d, own, span)?;
        let ruled = self.kept.decides.get(&d).cloned();
        let a = self.define(d, own + 1, span)?;
        let first = self.kept.decides.get(&d).cloned();
        if let Some(ruled) = ruled {
            self.kept.decides.insert(d, ruled);
        }
        let b = self.define(d, own + 2, span)?;
        let second = self.kept.decides.get(&d).cloned();
        if let (Some(first), Some(second)) = (first, second) {
            self.picked_reasons(d, [first, second], (condition, at, span), &names)?;
        }
        if a.node == b.node {
            return Ok(a);
        }
        let ty = self.ty(&a).clone();
        let missing = self.missing_of(&[a.node, b.node]).min(Missing::Partly);
        let kind = Kind::Select {
            condition,
            then: a.node,
            otherwise: b.node,
        };
        let node = self.program.intern(Node {
            kind,
            ty,
            grain: at,
            missing,
            span,
        });
        Ok(Typed {
            node,
            pending: Pending::default(),
            whole: a.whole && b.whole,
            literal: false,
        })
    }

    /// A picked decision has the lines of both plans, each with the name of its plan.
    fn picked_reasons(
        &mut self,
        d: usize,
        [first, second]: [DecideDef; 2],
        (condition, grain, span): (NodeId, Grain, Span),
        names: &[String; 2],
    ) -> Checks<()> {
        let choice = first.choice;
        let place = |at: usize| u16::try_from(at).map_err(|_| Poisoned);
        let (from, to) = (
            place(first.lines.len())?,
            place(first.lines.len() + second.lines.len())?,
        );
        let ty = Ty::Choice(choice);
        let moved = Kind::LineLabel {
            line: second.line,
            labels: (from..to).collect(),
        };
        let otherwise = self.node(moved, ty.clone(), span);
        let kind = Kind::Select {
            condition,
            then: first.line,
            otherwise,
        };
        let line = self.node(kind, ty, span);
        let line = self.brought_down(line, grain, span);
        let of = |lines: Vec<DecideLineDef>, name: &str| {
            let plan = Piece::Text(format!("{name}: "));
            lines.into_iter().map(move |mut line| {
                line.because.pieces.insert(0, plan.clone());
                line
            })
        };
        let [a, b] = names;
        let lines = of(first.lines, a).chain(of(second.lines, b)).collect();
        self.kept.decides.insert(
            d,
            DecideDef {
                choice,
                line,
                lines,
            },
        );
        Ok(())
    }
}
