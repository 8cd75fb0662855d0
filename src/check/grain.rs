//! Going up and down between grains.

use super::kept::Reader;
use super::number_type as num;
use super::typed::*;
use super::unknown::Known;
use crate::diagnostics::{Diagnostic, Span};
use crate::number::Exact;
use crate::program::{
    Adds, AggregateKind, Grain, Kind, Missing, Node, NodeId, NumTy, TableId, Ty, WhyNot,
};
use crate::syntax::tree::{Expr, ExprKind, Layer, Quantity};
use crate::units::Dim;

impl<'a> Checker<'a> {
    /// Whether rows of `from` belong to rows of `to`: a value at `to` can be read at `from`.
    pub(super) fn reaches(&self, from: Grain, to: Grain) -> bool {
        match (from, to) {
            (a, b) if a == b => false,
            (Grain::Const, _) => false,
            (_, Grain::Const | Grain::Job) => from != Grain::Job || to == Grain::Const,
            (Grain::Table(t), Grain::Table(above)) => self.ancestors(t).any(|a| a == above),
            (Grain::Table(t), Grain::Group(g)) => {
                let of = self.program.groups[g].of;
                t == of || self.ancestors(t).any(|a| a == of)
            }
            _ => false,
        }
    }

    fn ancestors(&self, table: TableId) -> impl Iterator<Item = TableId> + '_ {
        let mut at = Some(table);
        let mut left = self.program.tables.len();
        std::iter::from_fn(move || {
            // Tables below one another in a circle end here.
            left = left.checked_sub(1)?;
            at = at.and_then(|t| self.program.tables[t].parent);
            at
        })
    }

    /// A value brought down to a grain it can be read at, as a fact; constants keep their type.
    pub(super) fn brought_down(&mut self, node: NodeId, grain: Grain, span: Span) -> NodeId {
        let n = self.program.node(node).clone();
        if n.grain == grain {
            return node;
        }
        let ty = match n.ty {
            Ty::Number(t) if n.grain != Grain::Const => Ty::Number(NumTy {
                adds: Adds::No(WhyNot::Fact),
                ..t
            }),
            other @ (Ty::Number(_) | Ty::Truth | Ty::Choice(_) | Ty::Text | Ty::Point(_)) => other,
        };
        self.program.intern(Node {
            kind: Kind::Down(node),
            ty,
            grain,
            missing: n.missing,
            span,
        })
    }

    /// The grain below `here` that the parts of an aggregate are calculated at: the finest their names belong to.
    fn grain_below(&self, parts: &[&Expr], here: Grain, cx: &Context<'a>) -> Option<Grain> {
        let mut finest: Option<Grain> = None;
        for name in parts.iter().flat_map(|part| names_in(part)) {
            if cx.params.contains_key(name) {
                continue;
            }
            let Some(list) = self.declared.by_name.get(name) else {
                continue;
            };
            for d in list {
                let g = self.declared.defs[*d].grain;
                if !self.reaches(g, here) {
                    continue;
                }
                finest = match finest {
                    None => Some(g),
                    Some(f) if self.reaches(g, f) && list.len() == 1 => Some(g),
                    Some(f) => Some(f),
                };
            }
        }
        finest
    }

    pub(super) fn aggregate(
        &mut self,
        e: &'a Expr,
        kind: AggregateKind,
        of: &'a Expr,
        weight: Option<&'a Expr>,
        filter: Option<&'a Expr>,
        cx: &Context<'a>,
    ) -> Checks<Typed> {
        let here = cx.grain;
        if here == Grain::Const {
            return self.fail(
                Diagnostic::error("OV-503", "nothing can be added up here")
                    .at(e.span, "")
                    .expected("a `for each` or `for the job` block"),
            );
        }
        if kind == AggregateKind::Count {
            return self.count(e, of, filter, cx);
        }
        let parts: Vec<&Expr> = [Some(of), weight, filter].into_iter().flatten().collect();
        let Some(below) = self.grain_below(&parts, here, cx) else {
            if let Some(n) = names_in(of)
                .into_iter()
                .find(|n| self.def_for(n, here).is_none() && !cx.params.contains_key(n))
            {
                if self.reported.broken.contains(n) {
                    return Err(Poisoned);
                }
                // An unknown name: let the plain check tell it.
                self.expr(of, cx, None)?;
            }
            let here_words = self.name_of_grain(here);
            return self.fail(
                Diagnostic::error("OV-503", "there is nothing below to bring together here")
                    .at(of.span, "")
                    .found(format!(
                        "a value calculated {here_words}, or the same everywhere"
                    ))
                    .expected("a value calculated for rows that belong to this block"),
            );
        };
        let mut inner = Context::at(below);
        inner.params.clone_from(&cx.params);
        inner.in_helper.clone_from(&cx.in_helper);
        inner.call = cx.call;
        let value = if matches!(kind, AggregateKind::Any | AggregateKind::All) {
            self.condition(of, &inner)
        } else {
            self.settled(of, &inner, None)
        };
        let w = weight.map(|w| self.settled(w, &inner, None)).transpose();
        let f = filter.map(|f| self.condition(f, &inner)).transpose();
        let (value, w, f) = (value?, w?, f?);
        let span = e.span;
        let (ty, whole) = match kind {
            AggregateKind::Any | AggregateKind::All => (Ty::Truth, false),
            AggregateKind::Least | AggregateKind::Most
                if matches!(self.ty(&value), Ty::Point(_)) =>
            {
                (self.ty(&value).clone(), value.whole)
            }
            AggregateKind::Sum
            | AggregateKind::Mean
            | AggregateKind::Least
            | AggregateKind::Most
            | AggregateKind::Count => self.type_of_numbers(kind, of, &value)?,
        };
        self.refuse_weight(e, kind, of, weight.zip(w.as_ref()))?;
        let of_node = self.brought_down(value.node, below, of.span);
        let weight_node = w.map(|w| self.brought_down(w.node, below, span));
        let filter_node = f.map(|f| self.brought_down(f.node, below, span));
        let node = self.program.intern(Node {
            kind: Kind::Up {
                kind,
                of: of_node,
                weight: weight_node,
                filter: filter_node,
            },
            ty,
            grain: here,
            missing: Missing::Never,
            span,
        });
        Ok(Typed {
            node,
            pending: Pending::default(),
            whole,
            literal: false,
        })
    }

    /// The type of numbers brought together, and whether they stay whole.
    fn type_of_numbers(
        &mut self,
        kind: AggregateKind,
        of: &'a Expr,
        value: &Typed,
    ) -> Checks<(Ty, bool)> {
        let n = self.as_number(value, of.span)?;
        let (adds, whole) = match kind {
            AggregateKind::Sum => {
                if let Adds::No(why) = n.adds
                    && !self.marked_as_adding(of)
                {
                    return self.not_additive(of, &n, why);
                }
                (Adds::Yes, value.whole)
            }
            AggregateKind::Mean => (Adds::No(WhyNot::Ratio), false),
            AggregateKind::Least
            | AggregateKind::Most
            | AggregateKind::Count
            | AggregateKind::Any
            | AggregateKind::All => (Adds::No(WhyNot::Size), value.whole),
        };
        Ok((Ty::Number(NumTy { adds, ..n }), whole))
    }

    /// A mean has a weight, which is a number, and nothing else has one.
    fn refuse_weight(
        &mut self,
        e: &Expr,
        kind: AggregateKind,
        of: &Expr,
        weight: Option<(&Expr, &Typed)>,
    ) -> Checks<()> {
        match (kind, weight) {
            (AggregateKind::Mean, None) => {
                let of = self.loaded.sources.slice(of.span);
                self.fail(
                    Diagnostic::error("OV-508", "a mean needs its weight")
                        .at(e.span, "")
                        .mend(format!("mean of {of} weighted by ...")),
                )
            }
            (AggregateKind::Mean, Some((weight, typed))) => {
                self.as_number(typed, weight.span).map(|_| ())
            }
            (_, Some((weight, _))) => self.fail(
                Diagnostic::error("OV-508", "only `mean of` takes a weight")
                    .at(weight.span, "")
                    .mend("take `weighted by` out"),
            ),
            (_, None) => Ok(()),
        }
    }

    /// Whether the author says that values of this name add up.
    fn marked_as_adding(&self, e: &Expr) -> bool {
        let ExprKind::Name(name) = &e.kind else {
            return false;
        };
        self.declared
            .by_name
            .get(name.as_str())
            .is_some_and(|list| {
                list.iter().any(|d| match &self.declared.defs[*d].kind {
                    DefKind::Rule(r) => r.adds_up,
                    DefKind::Column { column, .. } => column.adds_up,
                    DefKind::Given(_) | DefKind::Decide(_) => false,
                })
            })
    }

    fn not_additive<T>(&mut self, of: &Expr, n: &NumTy, why: WhyNot) -> Checks<T> {
        let text = self.loaded.sources.slice(of.span).to_string();
        let d = Diagnostic::error("OV-502", format!("`{text}` can't be summed"))
            .at(of.span, "")
            .note(num::why_not(why));
        let d = match why {
            WhyNot::Size | WhyNot::Plain => {
                d.mend(format!("multiply by a count first, or say `adds up` where `{text}` is declared if it really does"))
            }
            WhyNot::Rate | WhyNot::Ratio | WhyNot::Percent => {
                d.mend(format!("use `mean of {text} weighted by ...`, `least of` or `most of`"))
            }
            WhyNot::Fact => d.note("sum what belongs to each row, or read the value where it is calculated"),
            WhyNot::Duration => d.mend(format!("use `most of {text}`, or say `adds up` where it is declared")),
        };
        let _ = n;
        self.fail(d)
    }

    fn count(
        &mut self,
        e: &'a Expr,
        of: &'a Expr,
        filter: Option<&'a Expr>,
        cx: &Context<'a>,
    ) -> Checks<Typed> {
        let ExprKind::Name(name) = &of.kind else {
            return self.fail(
                Diagnostic::error("OV-503", "`count of` counts rows of a survey or group")
                    .at(of.span, "")
                    .expected("the name of a survey or group"),
            );
        };
        let (below, noun) = match (
            self.declared.tables.get(name.as_str()),
            self.declared.groups.get(name.as_str()),
        ) {
            (Some(t), _) => (Grain::Table(*t), self.program.tables[*t].noun),
            (_, Some(g)) => (Grain::Group(*g), self.program.groups[*g].noun),
            _ => {
                let n = crate::syntax::tree::Name {
                    text: name.clone(),
                    span: of.span,
                };
                self.unknown("OV-209", "survey or group", &n, Known::SurveysAndGroups);
                return Err(Poisoned);
            }
        };
        if !self.reaches(below, cx.grain) {
            let here = self.name_of_grain(cx.grain);
            return self.fail(
                Diagnostic::error(
                    "OV-503",
                    format!("rows of `{name}` do not belong to what is calculated {here}"),
                )
                .at(of.span, "")
                .expected("a table or group below this block"),
            );
        }
        let inner = Context::at(below);
        let f = filter.map(|f| self.condition(f, &inner)).transpose()?;
        let filter = f.map(|f| self.brought_down(f.node, below, e.span));
        let ty = number(Dim::noun(noun));
        let node = self.program.intern(Node {
            kind: Kind::Count { of: below, filter },
            ty,
            grain: cx.grain,
            missing: Missing::Never,
            span: e.span,
        });
        Ok(Typed {
            node,
            pending: Pending::default(),
            whole: true,
            literal: false,
        })
    }

    #[expect(
        clippy::wildcard_enum_match_arm,
        reason = "every other kind is no share"
    )]
    pub(super) fn shared_by(
        &mut self,
        e: &'a Expr,
        value: &'a Expr,
        weight: &'a Expr,
        step: Option<&'a Quantity>,
        cx: &Context<'a>,
    ) -> Checks<Typed> {
        let v = self.settled(value, cx, None);
        let w = self.settled(weight, cx, None);
        let (v, w) = (v?, w?);
        let n = self.as_number(&v, value.span)?;
        self.as_number(&w, weight.span)?;
        let whole_node = match self.program.node(v.node).kind {
            Kind::Down(inner) if self.grain_of(inner) != Grain::Const => inner,
            _ => {
                let here = self.name_of_grain(cx.grain);
                let given = matches!(
                    self.program.node(v.node).kind,
                    Kind::Down(_) | Kind::Number(_)
                );
                return self.fail(
                    Diagnostic::error(
                        "OV-505",
                        format!(
                            "`{}` has nothing to be shared out from",
                            self.loaded.sources.slice(value.span)
                        ),
                    )
                    .at(value.span, format!("calculated {here}, or the same everywhere"))
                    .expected("the name of a value calculated for a group or for the job")
                    .note(match given {
                        true => "a given belongs to no row and to no block: name it as a rule in `for the job {`, and share that rule out",
                        false => "the value is already calculated for these rows: sum it up first, in a block of a group or of the job",
                    }),
                );
            }
        };
        let step = self.step_of(step, &n.dim)?;
        let weight_node = self.brought_down(w.node, cx.grain, weight.span);
        let whole = step.as_ref().is_some_and(Exact::is_integer);
        let node = self.share(whole_node, weight_node, step, cx.grain, e.span);
        Ok(Typed {
            node,
            pending: Pending::default(),
            whole,
            literal: false,
        })
    }

    fn step_of(&mut self, step: Option<&'a Quantity>, dim: &Dim) -> Checks<Option<Exact>> {
        let Some(q) = step else { return Ok(None) };
        let l = self.literal(q)?;
        if l.scale.is_some() || l.dim() != dim || l.value.signum() <= 0 {
            let nouns = &self.program.nouns;
            let d = Diagnostic::error(
                "OV-308",
                "the steps of a split are of another kind than what is split",
            )
            .at(q.span, crate::units::describe(l.dim(), nouns))
            .expected(format!(
                "a step above zero of {}",
                crate::units::describe(dim, nouns)
            ));
            return self.fail(d);
        }
        Ok(Some(l.value))
    }

    /// A coarser amount split over rows of a grain.
    pub(super) fn share(
        &mut self,
        whole: NodeId,
        weight: NodeId,
        step: Option<Exact>,
        grain: Grain,
        span: Span,
    ) -> NodeId {
        let n = self.program.node(whole).clone();
        let ty = match n.ty {
            Ty::Number(t) => Ty::Number(NumTy {
                adds: Adds::Yes,
                ..t
            }),
            other @ (Ty::Truth | Ty::Choice(_) | Ty::Text | Ty::Point(_)) => other,
        };
        let missing = n.missing.max(self.program.node(weight).missing);
        self.program.intern(Node {
            kind: Kind::Share {
                whole,
                weight,
                step,
            },
            ty,
            grain,
            missing,
            span,
        })
    }

    /// Keys of the groups, once values are named.
    pub(super) fn group_keys(&mut self) {
        for g in self.program.groups.ids() {
            let group = self.program.groups[g].clone();
            for key in &group.key_names {
                let found = self.declared.by_name.get(key.as_str()).is_some_and(|l| {
                    l.iter()
                        .any(|d| self.declared.defs[*d].grain == Grain::Table(group.of))
                });
                if !found && !self.reported.broken.contains(key.as_str()) {
                    let table = self.program.tables[group.of].schema.name.clone();
                    let span = self.group_key_span(&group.name, key);
                    let names: Vec<String> = self
                        .declared
                        .defs
                        .iter()
                        .filter(|d| d.grain == Grain::Table(group.of))
                        .map(|d| d.name.text.clone())
                        .collect();
                    let near = self.near(key, names.len(), names.iter().map(String::as_str));
                    let d = Diagnostic::error(
                        "OV-507",
                        format!("`{key}` is not a value of each {table}"),
                    );
                    let d = if let Some(s) = span { d.at(s, "") } else { d };
                    let d = d.expected(format!("a column or rule of each {table}"));
                    self.problems.push(match near {
                        Some(n) => d.mend(format!("did you mean `{n}`?")),
                        None => d,
                    });
                }
            }
        }
    }

    #[expect(
        clippy::wildcard_enum_match_arm,
        reason = "statements of one kind are looked for; all others are read elsewhere"
    )]
    fn group_key_span(&self, group: &str, key: &str) -> Option<Span> {
        use crate::syntax::tree::{GrainHead, StatementKind};
        self.loaded
            .sheets
            .iter()
            .flat_map(|s| &s.tree.statements)
            .find_map(|s| match &s.kind {
                StatementKind::For(b) => match &b.head {
                    GrainHead::Group { name, by, .. } if name.text == group => {
                        by.iter().find(|k| k.text == key).map(|k| k.span)
                    }
                    GrainHead::Each(_) | GrainHead::Group { .. } | GrainHead::Job => None,
                },
                _ => None,
            })
    }

    /// Fills the key nodes of every group, for the version being built.
    pub(super) fn fill_group_keys(&mut self) {
        for g in self.program.groups.ids() {
            let group = self.program.groups[g].clone();
            let cx = Context::at(Grain::Table(group.of));
            let mut keys = Vec::new();
            for name in &group.key_names {
                let Some(def) = self
                    .def_for(name, cx.grain)
                    .filter(|d| self.declared.defs[*d].grain == cx.grain)
                else {
                    continue;
                };
                let span = self.declared.defs[def].name.span;
                let stages = self.last_stage(def);
                self.kept.reads.insert((Reader::Version, def));
                if let Ok(t) = self.define(def, stages, span) {
                    if t.pending.any() {
                        self.problems.push(
                            Diagnostic::error(
                                "OV-401",
                                format!("`{name}` may be missing, so it can't be a key of a group"),
                            )
                            .at(self.group_key_span(&group.name, name).unwrap_or(span), "")
                            .mend("make a rule of it with `if blank ...` and group by that"),
                        );
                    }
                    keys.push(self.brought_down(t.node, cx.grain, span));
                }
            }
            let before = &self.program.groups[g].keys;
            if before.is_empty() {
                self.program.groups[g].keys = keys;
            } else if *before != keys {
                // Groups are made once and shared by all versions.
                let group = self.program.groups[g].clone();
                let keys = group.key_names.iter();
                let keys = keys.filter_map(|k| self.def_for(k, cx.grain)).collect();
                let changed = self.alternate_behind(keys);
                let d = Diagnostic::error(
                    "OV-509",
                    format!(
                        "a key of the group `{}` can't be changed by an alternate",
                        group.name
                    ),
                );
                let d = if let Some(s) = changed {
                    d.at(s, "")
                } else {
                    d
                };
                self.problems.push(d.mend(
                    "group by a value that does not change, or change what is calculated in the group",
                ));
            }
        }
    }

    /// The change of an alternate that definitions rest on, themselves or through what they read.
    fn alternate_behind(&self, mut todo: Vec<usize>) -> Option<Span> {
        let mut seen: foldhash::HashSet<usize> = foldhash::HashSet::default();
        let mut found: Vec<Span> = Vec::new();
        while let Some(def) = todo.pop() {
            if !seen.insert(def) {
                continue;
            }
            let changes = self.work.in_force.get(&def).into_iter().flatten();
            let own = changes.filter(|c| c.layer == Layer::Alternate);
            found.extend(own.map(|c| c.change.span));
            let reads = self.kept.reads.iter();
            let read = reads.filter(|(reader, _)| *reader == Reader::Def(def));
            todo.extend(read.map(|(_, read)| *read));
        }
        // The first in the sheet, whatever order they were read in.
        found.into_iter().min()
    }
}

/// Names of values in an expression, outside what goes up by itself.
pub(super) fn names_in(e: &Expr) -> Vec<&str> {
    let mut names: Vec<&str> = Vec::new();
    e.walk(&mut |e| {
        if let ExprKind::Name(name) = &e.kind {
            names.push(name);
        }
        if let ExprKind::SharedBy { weight, .. } = &e.kind {
            names.extend(names_in(weight));
        }
        // A span of the calendar is worked out for the job, whatever holds it.
        !matches!(
            e.kind,
            ExprKind::Aggregate { .. } | ExprKind::CalendarSpan { .. } | ExprKind::SharedBy { .. }
        )
    });
    names
}
