//! Checks expressions: names to nodes, dimensions, conditions, missing values.

use super::declare::BUILT_IN;
use super::number_type as num;
use super::typed::*;
use super::words::{many, other_helper};
use crate::diagnostics::{Diagnostic, Span, suggest};
use crate::number::{Exact, NumError, Rounding};
use crate::program::{Adds, ChoiceId, Compare, Grain, Kind, Missing, Node, NodeId, NumTy, RealNode, Ty, WhyNot};
use crate::syntax::tree::{AbsentKind, BinaryOp, Expr, ExprKind, Name, PresenceTest};
use crate::units::{Base, Dim, describe};

/// Nodes of one program; a sheet that grows beyond this is refused.
const MOST_NODES: usize = 400_000;
/// Helpers call helpers only this deep.
const MOST_CALLS: usize = 32;

impl<'a> Checker<'a> {
    /// Checks an expression. `wanted` is the choice a bare label would belong to.
    pub(super) fn expr(&mut self, e: &'a Expr, cx: &Context<'a>, wanted: Option<ChoiceId>) -> Checks<Typed> {
        let typed = self.expr_kind(e, cx, wanted)?;
        if self.program.nodes().len() > MOST_NODES {
            return self.fail(
                Diagnostic::error("OV-220", "the sheets make too many different expressions")
                    .at(e.span, "")
                    .expected(format!("at most {MOST_NODES}")),
            );
        }
        if cx.in_helper.is_empty() {
            self.trace.record(e.span, typed.node);
        }
        Ok(typed)
    }

    /// As [`Self::expr`], refusing a value that still needs `if blank` or a rounding.
    pub(super) fn settled(&mut self, e: &'a Expr, cx: &Context<'a>, wanted: Option<ChoiceId>) -> Checks<Typed> {
        let t = self.expr(e, cx, wanted)?;
        self.handled(&t, e.span)?;
        if let Ty::Number(n) = self.ty(&t)
            && n.real
            && !cx.real_ok
        {
            return self.fail(irrational(e.span));
        }
        Ok(t)
    }

    fn handled(&mut self, t: &Typed, span: Span) -> Checks<()> {
        if !t.pending.any() {
            return Ok(());
        }
        let (how, what) = match (t.pending.blank, t.pending.na) {
            (true, true) => ("if blank ... if n/a ...", "blank or n/a"),
            (true, false) => ("if blank ...", "blank"),
            _ => ("if n/a ...", "n/a"),
        };
        let text = self.loaded.sources.slice(span).to_string();
        self.fail(
            Diagnostic::error("OV-401", format!("`{text}` may be {what}, and this rule does not say what to do then"))
                .at(span, "")
                .mend(format!("write `{text} {how}` with a value, or with `unknown` to let it stay unknown")),
        )
    }

    pub(super) fn plain(&self, node: NodeId) -> Typed {
        Typed { node, pending: Pending::default(), whole: false, literal: false }
    }

    pub(super) fn constant(&mut self, kind: Kind, ty: Ty, span: Span) -> NodeId {
        self.program.intern(Node { kind, ty, grain: Grain::Const, missing: Missing::Never, span })
    }

    fn expr_kind(&mut self, e: &'a Expr, cx: &Context<'a>, wanted: Option<ChoiceId>) -> Checks<Typed> {
        match &e.kind {
            ExprKind::Quantity(q) => {
                let l = self.literal(q)?;
                let adds = if l.percent { Adds::No(WhyNot::Percent) } else { adds_by_dim(l.dim()) };
                let ty = Ty::Number(NumTy { dim: l.dim().clone(), percent: l.percent, adds, real: false });
                let whole = l.value.is_integer();
                let literal = l.dim().is_none() && !l.percent;
                let node = self.constant(Kind::Number(l.value), ty, e.span);
                Ok(Typed { node, pending: Pending::default(), whole, literal })
            }
            ExprKind::Text(t) => {
                let node = self.constant(Kind::Text(t.text.clone()), Ty::Text, e.span);
                Ok(self.plain(node))
            }
            ExprKind::Truth(b) => {
                let node = self.constant(Kind::Truth(*b), Ty::Truth, e.span);
                Ok(self.plain(node))
            }
            ExprKind::Unknown => self.fail(
                Diagnostic::error("OV-420", "`unknown` stands only after `if blank` or `if n/a`")
                    .at(e.span, "")
                    .mend("write `x if blank unknown`"),
            ),
            ExprKind::Name(name) => self.name(name, e.span, cx, wanted),
            ExprKind::Negate(inner) => {
                let t = self.settled(inner, cx, None)?;
                let n = self.as_number(&t, inner.span)?;
                let node = self.fold(Kind::Negate(t.node), Ty::Number(n), e.span)?;
                Ok(Typed { whole: t.whole, literal: t.literal, ..self.plain(node) })
            }
            ExprKind::Not(inner) => {
                let t = self.condition(inner, cx)?;
                let node = self.node(Kind::Not(t.node), Ty::Truth, e.span);
                Ok(self.plain(node))
            }
            ExprKind::Binary { op, op_span, left, right } => self.binary(e, *op, *op_span, left, right, cx),
            ExprKind::Power { base, exponent } => {
                let t = self.settled(base, cx, None)?;
                let n = self.as_number(&t, base.span)?;
                let Some(dim) = n.dim.pow(*exponent) else {
                    return self.fail(Diagnostic::error("OV-307", "this power has no sensible unit").at(e.span, ""));
                };
                let adds = if matches!(n.adds, Adds::No(WhyNot::Fact)) { n.adds } else { adds_by_dim(&dim) };
                let node =
                    self.fold(Kind::Power(t.node, *exponent), Ty::Number(NumTy { dim, percent: false, adds, real: n.real }), e.span)?;
                if *exponent < 0 {
                    self.note_zero(node, &t, base, cx);
                }
                Ok(Typed { whole: t.whole && *exponent >= 0, ..self.plain(node) })
            }
            ExprKind::Rounded { value, word, step } => self.rounded(e, value, *word, step, cx),
            ExprKind::If { condition, then, otherwise } => {
                let c = self.condition(condition, cx);
                let mut with = cx.branch();
                with.known.extend(narrowing(condition, true));
                let t = self.settled(then, &with, wanted);
                let mut without = cx.branch();
                without.known.extend(narrowing(condition, false));
                let o = self.settled(otherwise, &without, wanted);
                let (c, t, o) = (c?, t?, o?);
                let ty = self.joined_type(&[(t, then.span), (o, otherwise.span)])?;
                if let Some(truth) = self.constant_truth(c.node) {
                    let taken = if truth { t } else { o };
                    if *self.ty(&taken) == ty {
                        return Ok(Typed { pending: Pending::default(), literal: false, ..taken });
                    }
                }
                let node = self.node(Kind::Select { condition: c.node, then: t.node, otherwise: o.node }, ty, e.span);
                Ok(Typed { whole: t.whole && o.whole, ..self.plain(node) })
            }
            ExprKind::Choose { subject, arms } => self.choose(e, subject, arms, cx, wanted),
            ExprKind::Call { name, args } => self.call(e, name, args, cx, wanted),
            ExprKind::Aggregate { kind, of, weight, filter } => self.aggregate(e, *kind, of, weight.as_deref(), filter.as_deref(), cx),
            ExprKind::Lookup { value, table, keys, interpolated } => self.lookup(e, value, table, keys, *interpolated, cx),
            ExprKind::Per { value, unit } => {
                let t = self.settled(value, cx, None)?;
                let n = self.as_number(&t, value.span)?;
                let unit = self.unit(unit)?;
                let per = NumTy { dim: unit.dim().clone(), percent: false, adds: Adds::Yes, real: false };
                let Some(ty) = num::quotient(&n, &per, false) else {
                    return self.fail(Diagnostic::error("OV-307", "this rate has no sensible unit").at(e.span, ""));
                };
                let divisor = self.constant(Kind::Number(unit.factor().clone()), number(unit.dim().clone()), e.span);
                let node = self.fold(Kind::Div(t.node, divisor), Ty::Number(ty), e.span)?;
                Ok(self.plain(node))
            }
            ExprKind::IfAbsent { value, which, instead } => self.if_absent(e, value, *which, instead, cx, wanted),
            ExprKind::SharedBy { value, weight, step } => self.shared_by(e, value, weight, step.as_ref(), cx),
            ExprKind::Presence { value, test, negated } => {
                let t = self.expr(value, cx, None)?;
                self.tell_settled_presence(e, value, &t, *test, *negated, cx);
                let mut node = self.node(Kind::Presence { value: t.node, test: *test }, Ty::Truth, e.span);
                if *negated {
                    node = self.node(Kind::Not(node), Ty::Truth, e.span);
                }
                Ok(self.plain(node))
            }
            ExprKind::IsOneOf { value, labels, negated } => {
                let t = self.settled(value, cx, None)?;
                let Ty::Choice(c) = *self.ty(&t) else {
                    let found = self.words(&self.ty(&t).clone());
                    return self.fail(Diagnostic::error("OV-312", "`is one of` asks about a choice").at(value.span, "").found(found));
                };
                let mut set = Vec::new();
                for (i, label) in labels.iter().enumerate() {
                    self.refuse_value_as_label(e, c, &labels[..i], label, cx)?;
                    set.push(self.label_of(c, label)?);
                }
                set.sort_unstable();
                let mut node = self.node(Kind::LabelIn(t.node, set), Ty::Truth, e.span);
                if *negated {
                    node = self.node(Kind::Not(node), Ty::Truth, e.span);
                }
                Ok(self.plain(node))
            }
            ExprKind::Between { value, low, high, negated } => {
                let v = self.settled(value, cx, None);
                let l = self.settled(low, cx, None);
                let h = self.settled(high, cx, None);
                let (v, l, h) = (v?, l?, h?);
                self.same_kind(&v, value.span, &l, low.span, value.span, "compare")?;
                self.same_kind(&v, value.span, &h, high.span, value.span, "compare")?;
                let from = self.node(Kind::Compare { op: Compare::GreaterEq, left: v.node, right: l.node }, Ty::Truth, e.span);
                let to = self.node(Kind::Compare { op: Compare::LessEq, left: v.node, right: h.node }, Ty::Truth, e.span);
                let mut node = self.node(Kind::And(from, to), Ty::Truth, e.span);
                if *negated {
                    node = self.node(Kind::Not(node), Ty::Truth, e.span);
                }
                Ok(self.plain(node))
            }
        }
    }

    /// `is one of pair, hung or leaded`, where the last is a value and no label: the list went on too far.
    fn refuse_value_as_label(&mut self, e: &Expr, choice: ChoiceId, before: &[Name], label: &Name, cx: &Context<'a>) -> Checks<()> {
        let Some(last) = before.last() else { return Ok(()) };
        let is_label = self.program.choices[usize::from(choice.0)].labels.contains(&label.text);
        if is_label || !(cx.params.contains_key(label.text.as_str()) || self.def_for(&label.text, cx.grain).is_some()) {
            return Ok(());
        }
        let list = self.loaded.sources.slice(Span { end: last.span.end, ..e.span }).to_string();
        let joint = self.loaded.sources.slice(Span { start: last.span.end, end: label.span.start, ..e.span }).trim().to_string();
        let mend = match joint.as_str() {
            "," => format!("where the comma belongs to a list of values around it, put the question in brackets: ({list})"),
            word => format!("put the question in brackets: ({list}) {word} {}", label.text),
        };
        let labels = self.program.choices[usize::from(choice.0)].labels.join(", ");
        self.fail(
            Diagnostic::error("OV-211", format!("the list after `is one of` goes on to `{}`, which is a value and no label", label.text))
                .at(label.span, "")
                .expected(labels)
                .mend(mend),
        )
    }

    /// Tells of a question that has one answer on every row: whether a value that is never missing is blank.
    fn tell_settled_presence(&mut self, e: &Expr, value: &Expr, t: &Typed, test: PresenceTest, negated: bool, cx: &Context<'a>) {
        let asked = match test {
            PresenceTest::Blank => t.pending.blank,
            PresenceTest::NotApplicable => t.pending.na,
            PresenceTest::Known => t.pending.any(),
        };
        let node = self.program.node(t.node);
        if asked || node.missing == Missing::Partly || !cx.in_helper.is_empty() {
            return;
        }
        let text = self.short(value.span);
        let (message, holds) = match test {
            PresenceTest::Blank => (format!("`{text}` is never blank here"), negated),
            PresenceTest::NotApplicable => (format!("`{text}` is never n/a here"), negated),
            PresenceTest::Known => (format!("`{text}` is always known here"), !negated),
        };
        let d = Diagnostic::warning("OV-419", message).at(e.span, if holds { "always holds" } else { "never holds" });
        let d = match &node.kind {
            Kind::Column { .. } if node.missing == Missing::Never => {
                d.note("its column must be filled, or says what stands for a blank cell").mend("take the question out, or mark the column `optional`")
            }
            _ => d.mend("take the question out"),
        };
        self.problems.push(d);
    }

    /// Whether a condition is settled before running, because only written values and givens stand in it.
    fn constant_truth(&self, node: NodeId) -> Option<bool> {
        match &self.program.node(node).kind {
            Kind::Truth(b) => Some(*b),
            Kind::Not(a) => self.constant_truth(*a).map(|b| !b),
            Kind::And(a, b) => Some(self.constant_truth(*a)? && self.constant_truth(*b)?),
            Kind::Or(a, b) => Some(self.constant_truth(*a)? || self.constant_truth(*b)?),
            Kind::LabelIn(a, set) => match &self.program.node(*a).kind {
                Kind::Label(l) => Some(set.contains(l)),
                _ => None,
            },
            Kind::Compare { op, left, right } => {
                let (a, b) = (self.program.constant(*left)?, self.program.constant(*right)?);
                Some(match op {
                    Compare::Less => a < b,
                    Compare::LessEq => a <= b,
                    Compare::Greater => a > b,
                    Compare::GreaterEq => a >= b,
                    Compare::Same => a == b,
                    Compare::NotSame => a != b,
                })
            }
            _ => None,
        }
    }

    /// A condition: yes or no.
    pub(super) fn condition(&mut self, e: &'a Expr, cx: &Context<'a>) -> Checks<Typed> {
        let t = self.settled(e, cx, None)?;
        if *self.ty(&t) != Ty::Truth {
            let found = self.words(&self.ty(&t).clone());
            return self.fail(
                Diagnostic::error("OV-305", "a condition is expected here")
                    .at(e.span, "")
                    .found(found)
                    .expected("yes or no, such as a comparison"),
            );
        }
        Ok(t)
    }

    pub(super) fn as_number(&mut self, t: &Typed, span: Span) -> Checks<NumTy> {
        match self.ty(t) {
            Ty::Number(n) => Ok(n.clone()),
            other => {
                let found = self.words(&other.clone());
                self.fail(Diagnostic::error("OV-304", "a number is expected here").at(span, "").found(found).expected("a number"))
            }
        }
    }

    /// The index of a label.
    pub(super) fn label_of(&mut self, choice: ChoiceId, label: &Name) -> Checks<u16> {
        let def = &self.program.choices[usize::from(choice.0)];
        match def.labels.iter().position(|l| *l == label.text) {
            Some(i) => Ok(u16::try_from(i).unwrap_or(0)),
            None => {
                let labels = def.labels.clone();
                let name = def.name.clone();
                let d = Diagnostic::error("OV-211", format!("`{}` is not one of the labels of `{name}`", label.text))
                    .at(label.span, "")
                    .expected(labels.join(", "));
                let near = suggest::nearest(&label.text, labels.iter().map(String::as_str)).map(str::to_string);
                self.fail(match near {
                    Some(n) => d.mend(format!("did you mean `{n}`?")),
                    None => d,
                })
            }
        }
    }

    fn label_node(&mut self, choice: ChoiceId, index: u16, span: Span) -> Typed {
        let node = self.constant(Kind::Label(index), Ty::Choice(choice), span);
        self.plain(node)
    }

    // ---- names ----------------------------------------------------------------------------------------------------------

    fn name(&mut self, name: &'a str, span: Span, cx: &Context<'a>, wanted: Option<ChoiceId>) -> Checks<Typed> {
        if let Some(t) = cx.params.get(name) {
            return Ok(*t);
        }
        if let Some(choice) = wanted
            && let Some(i) = self.program.choices[usize::from(choice.0)].labels.iter().position(|l| l == name)
        {
            return Ok(self.label_node(choice, u16::try_from(i).unwrap_or(0), span));
        }
        if let Some(def) = self.def_for(name, cx.grain) {
            return self.read(def, span, cx);
        }
        if self.broken.contains(name) {
            return Err(Poisoned);
        }
        let mut owners = self.program.choices.iter().enumerate().filter(|(_, c)| c.labels.iter().any(|l| l == name));
        if let (Some((i, c)), None) = (owners.next(), owners.next()) {
            let label = c.labels.iter().position(|l| l == name).unwrap_or(0);
            let id = ChoiceId(u16::try_from(i).unwrap_or(0));
            return Ok(self.label_node(id, u16::try_from(label).unwrap_or(0), span));
        }
        let in_several = self.program.choices.iter().any(|c| c.labels.iter().any(|l| l == name));
        if in_several {
            return self.fail(
                Diagnostic::error("OV-211", format!("`{name}` is a label of several choices; which is meant can't be told here"))
                    .at(span, "")
                    .mend("compare it with a value of its choice, or use `decide ... of CHOICE`"),
            );
        }
        let candidates: Vec<&str> = self.by_name.keys().copied().chain(cx.params.keys().copied()).collect();
        if let Some(c) = wanted {
            // Where one of a few labels belongs, any other name would be of another kind.
            let labels = self.program.choices[usize::from(c.0)].labels.clone();
            let d = Diagnostic::error("OV-211", format!("`{name}` is not one of the labels that can stand here"))
                .at(span, "")
                .expected(labels.join(", "));
            let near = suggest::nearest(name, labels.iter().map(String::as_str)).map(str::to_string);
            return self.fail(match near {
                Some(n) => d.mend(format!("did you mean `{n}`?")),
                None => d,
            });
        }
        let mut candidates = candidates;
        candidates.sort_unstable();
        let d = Diagnostic::error("OV-202", format!("there is nothing named `{name}`")).at(span, "");
        let near = suggest::nearest(name, candidates).map(str::to_string);
        let resource = self.resources.iter().any(|r| r.tree.name.text == name);
        let d = match near {
            Some(n) => d.mend(format!("did you mean `{n}`?")),
            None if resource => d.note("it is a resource: how much of it is taken can't be read in a rule"),
            None if self.helpers.contains_key(name) => d.mend(format!("a helper is written with its values: {name}(...)")),
            None => d.expected("a column, a given, a rule or a decision of these sheets"),
        };
        self.fail(d)
    }

    /// The definition a name means at a grain: its own first, then coarser, then finer.
    pub(super) fn def_for(&self, name: &str, grain: Grain) -> Option<usize> {
        let list = self.by_name.get(name)?;
        let rank = |d: &usize| {
            let g = self.defs[*d].grain;
            if g == grain {
                0
            } else if self.reaches(grain, g) {
                1
            } else {
                2
            }
        };
        list.iter().copied().min_by_key(rank)
    }

    /// Reads a named value at the context's grain.
    pub(super) fn read(&mut self, def: usize, span: Span, cx: &Context<'a>) -> Checks<Typed> {
        self.reads.insert((self.open.last().map(|(reader, _)| *reader), def));
        let stages = self.last_stage(def);
        let stage = match cx.own {
            Some((own, stage)) if own == def => stage - 1,
            _ => stages,
        };
        // In a group's block its keys are read as the group's own.
        if let Grain::Group(g) = cx.grain {
            let group = &self.program.groups[usize::from(g.0)];
            if let Grain::Table(t) = self.defs[def].grain
                && t == group.of
                && let Some(k) = group.key_names.iter().position(|n| *n == self.defs[def].name.text)
            {
                let typed = self.define(def, stage, span)?;
                let ty = match self.ty(&typed).clone() {
                    Ty::Number(n) => Ty::Number(NumTy { adds: Adds::No(WhyNot::Fact), ..n }),
                    other => other,
                };
                let key = u16::try_from(k).unwrap_or(0);
                let missing = self.program.node(typed.node).missing;
                let node = self.program.intern(Node { kind: Kind::GroupKey { group: g, key }, ty, grain: cx.grain, missing, span });
                return Ok(Typed { node, ..typed });
            }
        }
        let typed = self.define(def, stage, span)?;
        let from = self.grain_of(typed.node);
        let mut typed = if from == cx.grain || from == Grain::Const {
            typed
        } else if self.reaches(cx.grain, from) {
            let ty = match self.ty(&typed).clone() {
                Ty::Number(n) => Ty::Number(NumTy { adds: Adds::No(WhyNot::Fact), ..n }),
                other => other,
            };
            let missing = self.program.node(typed.node).missing;
            let node = self.program.intern(Node { kind: Kind::Down(typed.node), ty, grain: cx.grain, missing, span });
            Typed { node, ..typed }
        } else {
            let name = self.defs[def].name.text.clone();
            let (is, here) = (self.name_of_grain(from), self.name_of_grain(cx.grain));
            let d = if cx.grain == Grain::Const {
                Diagnostic::error("OV-501", format!("`{name}` is worked {is}, and here stands one value for all"))
                    .at(span, "")
                    .at(self.defs[def].name.span, format!("worked {is}"))
                    .expected("written values and givens; what differs from row to row is a rule in a `for` block")
            } else if self.reaches(from, cx.grain) {
                let d = Diagnostic::error("OV-501", format!("`{name}` is worked {is}, and here one value is needed {here}"))
                    .at(span, "")
                    .at(self.defs[def].name.span, format!("worked {is}"));
                match self.ty(&typed) {
                    Ty::Number(n) if n.adds == Adds::Yes => d.mend(format!("write `sum of {name}`, `least of {name}` or `most of {name}`")),
                    Ty::Number(_) => d.mend(format!("write `least of {name}`, `most of {name}` or `mean of {name} weighted by ...`")),
                    Ty::Truth => d.mend(format!("write `any of {name}` or `all of {name}`")),
                    _ => d.mend("bring it up with `count of ... where ...`, or make it a key of the group"),
                }
            } else {
                Diagnostic::error("OV-504", format!("`{name}` is worked {is}; it can't be read {here}"))
                    .at(span, "")
                    .note("neither holds rows of the other")
            };
            return self.fail(d);
        };
        for (known, what) in &cx.known {
            if *known == self.defs[def].name.text {
                typed.pending.blank &= !what.blank;
                typed.pending.na &= !what.na;
            }
        }
        Ok(typed)
    }

    // ---- operators ------------------------------------------------------------------------------------------------------

    fn binary(&mut self, e: &'a Expr, op: BinaryOp, op_span: Span, left: &'a Expr, right: &'a Expr, cx: &Context<'a>) -> Checks<Typed> {
        match op {
            BinaryOp::And | BinaryOp::Or => {
                let l = self.condition(left, cx);
                let mut after = cx.branch();
                after.known.extend(narrowing(left, op == BinaryOp::And));
                let r = self.condition(right, &after);
                let (l, r) = (l?, r?);
                let kind = if op == BinaryOp::And { Kind::And(l.node, r.node) } else { Kind::Or(l.node, r.node) };
                let node = self.node(kind, Ty::Truth, e.span);
                Ok(self.plain(node))
            }
            BinaryOp::Is | BinaryOp::IsNot => self.is(e, op == BinaryOp::IsNot, op_span, left, right, cx),
            BinaryOp::Less | BinaryOp::LessEq | BinaryOp::Greater | BinaryOp::GreaterEq => {
                let l = self.settled(left, cx, None);
                let r = self.settled(right, cx, None);
                let (l, r) = (l?, r?);
                self.same_kind(&l, left.span, &r, right.span, op_span, "compare")?;
                let op = match op {
                    BinaryOp::Less => Compare::Less,
                    BinaryOp::LessEq => Compare::LessEq,
                    BinaryOp::Greater => Compare::Greater,
                    _ => Compare::GreaterEq,
                };
                let node = self.node(Kind::Compare { op, left: l.node, right: r.node }, Ty::Truth, e.span);
                Ok(self.plain(node))
            }
            BinaryOp::Add | BinaryOp::Sub => {
                let l = self.settled(left, cx, None);
                let r = self.settled(right, cx, None);
                let (l, r) = (l?, r?);
                if op == BinaryOp::Sub && *self.ty(&l) == Ty::Date && *self.ty(&r) == Ty::Date {
                    let node = self.node(Kind::Sub(l.node, r.node), number(Dim::base(Base::Time)), e.span);
                    return Ok(Typed { whole: true, ..self.plain(node) });
                }
                let (a, b) = (self.as_number(&l, left.span), self.as_number(&r, right.span));
                let (a, b) = (a?, b?);
                let percent = match (a.percent, b.percent) {
                    (true, true) => true,
                    (false, false) => false,
                    (true, false) if r.literal => false,
                    (false, true) if l.literal => false,
                    _ => return self.percent_and_quantity(e.span, op, left, right, &a),
                };
                self.same_kind(&l, left.span, &r, right.span, op_span, if op == BinaryOp::Add { "add" } else { "subtract" })?;
                let adds = num::joined([(a.adds, self.is_constant(&l)), (b.adds, self.is_constant(&r))]);
                let kind = if op == BinaryOp::Add { Kind::Add(l.node, r.node) } else { Kind::Sub(l.node, r.node) };
                let node = self.fold(kind, Ty::Number(NumTy { dim: a.dim, percent, adds, real: a.real || b.real }), e.span)?;
                Ok(Typed { whole: l.whole && r.whole, literal: l.literal && r.literal, ..self.plain(node) })
            }
            BinaryOp::Mul | BinaryOp::Div => {
                let l = self.settled(left, cx, None);
                let r = self.settled(right, cx, None);
                let (l, r) = (l?, r?);
                let (a, b) = (self.as_number(&l, left.span), self.as_number(&r, right.span));
                let (a, b) = (a?, b?);
                let ty = if op == BinaryOp::Mul { num::product(&a, &b) } else { num::quotient(&a, &b, self.is_constant(&r)) };
                let Some(ty) = ty else {
                    return self.fail(Diagnostic::error("OV-307", "this has no sensible unit").at(e.span, ""));
                };
                // A written zero is a slip; a zero that a given or a helper's value brings may stand in a branch not taken.
                let written = matches!(right.kind, ExprKind::Quantity(_));
                if op == BinaryOp::Div && written && self.program.constant(r.node).is_some_and(Exact::is_zero) {
                    return self.fail(Diagnostic::error("OV-901", "this divides by zero").at(right.span, "is zero"));
                }
                let kind = if op == BinaryOp::Mul { Kind::Mul(l.node, r.node) } else { Kind::Div(l.node, r.node) };
                let node = self.fold(kind, Ty::Number(ty), e.span)?;
                if op == BinaryOp::Div {
                    self.note_zero(node, &r, right, cx);
                }
                let whole = op == BinaryOp::Mul && l.whole && r.whole;
                Ok(Typed { whole, literal: l.literal && r.literal, ..self.plain(node) })
            }
        }
    }

    fn is_constant(&self, t: &Typed) -> bool {
        self.grain_of(t.node) == Grain::Const
    }

    fn percent_and_quantity(&mut self, span: Span, op: BinaryOp, left: &Expr, right: &Expr, left_ty: &NumTy) -> Checks<Typed> {
        let (l, r) = (self.loaded.sources.slice(left.span).to_string(), self.loaded.sources.slice(right.span).to_string());
        let sign = if op == BinaryOp::Add { "+" } else { "-" };
        let (quantity, percent) = if left_ty.percent { (r, l) } else { (l, r) };
        self.fail(
            Diagnostic::error("OV-302", "a percent can't be added to a quantity: a percent of what?")
                .at(span, "")
                .note(format!("a share more or less: {quantity} * (1 {sign} {percent})"))
                .note(format!("a share of something else: {quantity} {sign} {percent} * X, with what X is")),
        )
    }

    /// Whether two values may be added or compared; tells how they differ.
    fn same_kind(&mut self, l: &Typed, l_span: Span, r: &Typed, r_span: Span, op_span: Span, verb: &str) -> Checks<()> {
        let (a, b) = (self.ty(l).clone(), self.ty(r).clone());
        match (&a, &b) {
            (Ty::Number(x), Ty::Number(y)) if x.dim == y.dim => {
                if verb == "compare" && (x.real || y.real) {
                    return self.fail(irrational(if x.real { l_span } else { r_span }));
                }
                Ok(())
            }
            (Ty::Date, Ty::Date) if verb == "compare" => Ok(()),
            (Ty::Number(x), Ty::Number(y)) => {
                let d = self.dimension_clash(x, l_span, y, r_span, op_span, verb, r, l);
                self.fail(d)
            }
            _ => {
                let (wa, wb) = (self.words(&a), self.words(&b));
                self.fail(
                    Diagnostic::error("OV-312", format!("these two are of different kinds; nothing to {verb}"))
                        .at(op_span, "")
                        .at(l_span, wa.clone())
                        .at(r_span, wb.clone())
                        .found(format!("{wa} and {wb}"))
                        .expected("two numbers of one kind"),
                )
            }
        }
    }

    #[allow(clippy::too_many_arguments)]
    fn dimension_clash(
        &self,
        x: &NumTy,
        l_span: Span,
        y: &NumTy,
        r_span: Span,
        op_span: Span,
        verb: &str,
        r: &Typed,
        l: &Typed,
    ) -> Diagnostic {
        let nouns = &self.program.nouns;
        let (wx, wy) = (describe(&x.dim, nouns), describe(&y.dim, nouns));
        let labor_and_time = (x.dim == Dim::base(Base::Labor) && y.dim == Dim::base(Base::Time))
            || (x.dim == Dim::base(Base::Time) && y.dim == Dim::base(Base::Labor));
        let (code, message) = if labor_and_time {
            ("OV-303", format!("person-time and calendar time do not {verb}"))
        } else {
            ("OV-301", format!("{wx} and {wy} do not {verb}"))
        };
        let mut d = Diagnostic::error(code, message)
            .at(op_span, "")
            .at(l_span, wx.clone())
            .at(r_span, wy.clone())
            .found(format!("{wx}   ({})\n{wy}   ({})", self.short(l_span), self.short(r_span)))
            .expected("the same kind on both sides");
        if labor_and_time {
            return d.note("two people for one day are two days of work: multiply or divide by how many people there are");
        }
        if let Some(one) = self.one_measure(l_span, l).or_else(|| self.one_measure(r_span, r)) {
            return d.mend(format!("a whole number and a fraction are written with a blank: {one}"));
        }
        let zero = |t: &Typed| t.literal && self.program.constant(t.node).is_some_and(Exact::is_zero);
        if zero(r) || zero(l) {
            let other = if zero(r) { &x.dim } else { &y.dim };
            let unit = crate::units::default_unit(other, nouns, self.program.currency.as_deref()).text(nouns);
            return d.mend(format!("write the unit with the zero: 0 {unit}"));
        }
        if let Some((base, power)) = x.dim.single_factor_quotient(&y.dim) {
            let word = match base {
                Base::Noun(n) => format!("a count of {}", nouns.plural_name(n)),
                Base::Length => "a length".into(),
                Base::Mass => "a weight".into(),
                Base::Labor => "person-time".into(),
                Base::Time => "calendar time".into(),
                Base::Money => "money".into(),
            };
            let (side, do_what) = if power > 0 { (r_span, "multiply") } else { (r_span, "divide") };
            d = d.note(format!("one factor is missing: {do_what} `{}` by {word}", self.short(side)));
        }
        d
    }

    /// `30 - 1/2 in` where 30 1/2 in was meant: a bare whole number, a hyphen and a fraction.
    fn one_measure(&self, span: Span, t: &Typed) -> Option<String> {
        let whole = self.loaded.sources.slice(span);
        if !t.literal || whole.is_empty() || !whole.bytes().all(|b| b.is_ascii_digit()) {
            return None;
        }
        let after = self.loaded.sources.text(span.file).get(span.end as usize..)?;
        let fraction = after.trim_start().strip_prefix('-')?.trim_start();
        let end = fraction.find(|c: char| !(c.is_ascii_digit() || c == '/')).unwrap_or(fraction.len());
        fraction[..end].split_once('/').filter(|(n, d)| !n.is_empty() && !d.is_empty())?;
        Some(format!("{whole} {}", &fraction[..end]))
    }

    pub(super) fn short(&self, span: Span) -> String {
        let text = self.loaded.sources.slice(span).split_whitespace().collect::<Vec<_>>().join(" ");
        if text.chars().count() > 40 { format!("{}...", text.chars().take(37).collect::<String>()) } else { text }
    }

    fn is(&mut self, e: &'a Expr, negated: bool, op_span: Span, left: &'a Expr, right: &'a Expr, cx: &Context<'a>) -> Checks<Typed> {
        let l = self.settled(left, cx, None)?;
        let wanted = if let Ty::Choice(c) = self.ty(&l) { Some(*c) } else { None };
        if let (Some(c), ExprKind::Name(n)) = (wanted, &right.kind)
            && self.def_for(n, cx.grain).is_none()
            && !cx.params.contains_key(n.as_str())
            && !self.broken.contains(n.as_str())
        {
            let label = Name { text: n.clone(), span: right.span };
            let i = self.label_of(c, &label)?;
            let mut node = self.node(Kind::LabelIn(l.node, vec![i]), Ty::Truth, e.span);
            if negated {
                node = self.node(Kind::Not(node), Ty::Truth, e.span);
            }
            return Ok(self.plain(node));
        }
        let r = self.settled(right, cx, wanted)?;
        let (a, b) = (self.ty(&l).clone(), self.ty(&r).clone());
        let node = match (&a, &b) {
            (Ty::Number(_) | Ty::Date, Ty::Number(_) | Ty::Date) => {
                self.same_kind(&l, left.span, &r, right.span, op_span, "compare")?;
                let op = if negated { Compare::NotSame } else { Compare::Same };
                let node = self.node(Kind::Compare { op, left: l.node, right: r.node }, Ty::Truth, e.span);
                return Ok(self.plain(node));
            }
            (Ty::Choice(x), Ty::Choice(y)) if x == y => match &self.program.node(r.node).kind {
                Kind::Label(i) => Kind::LabelIn(l.node, vec![*i]),
                _ => Kind::Same(l.node, r.node),
            },
            (Ty::Text, Ty::Text) | (Ty::Truth, Ty::Truth) => Kind::Same(l.node, r.node),
            _ => {
                let (wa, wb) = (self.words(&a), self.words(&b));
                return self.fail(
                    Diagnostic::error("OV-312", "these two are of different kinds; nothing to compare")
                        .at(op_span, "")
                        .at(left.span, wa.clone())
                        .at(right.span, wb.clone())
                        .found(format!("{wa} and {wb}")),
                );
            }
        };
        let mut node = self.node(node, Ty::Truth, e.span);
        if negated {
            node = self.node(Kind::Not(node), Ty::Truth, e.span);
        }
        Ok(self.plain(node))
    }

    /// The type of one of several values; tells which differ.
    pub(super) fn joined_type(&mut self, list: &[(Typed, Span)]) -> Checks<Ty> {
        let Some(((first, first_span), rest)) = list.split_first() else { return Err(Poisoned) };
        let a = self.ty(first).clone();
        for (other, span) in rest {
            let b = self.ty(other).clone();
            let fits = match (&a, &b) {
                (Ty::Number(x), Ty::Number(y)) => x.dim == y.dim,
                _ => a == b,
            };
            if !fits {
                let (wa, wb) = (self.words(&a), self.words(&b));
                return self.fail(
                    Diagnostic::error("OV-306", "the branches give different kinds of thing")
                        .at(*span, wb.clone())
                        .at(*first_span, wa.clone())
                        .found(format!("{wa} and {wb}"))
                        .expected("the same kind in every branch"),
                );
            }
        }
        Ok(match a {
            Ty::Number(n) => {
                let tys: Vec<(NumTy, bool)> = list
                    .iter()
                    .filter_map(|(t, _)| match self.ty(t) {
                        Ty::Number(n) => Some((n.clone(), self.is_constant(t))),
                        _ => None,
                    })
                    .collect();
                let adds = num::joined(tys.iter().map(|(n, c)| (n.adds, *c)));
                Ty::Number(NumTy { percent: tys.iter().all(|(n, _)| n.percent), adds, real: tys.iter().any(|(n, _)| n.real), dim: n.dim })
            }
            other => other,
        })
    }

    fn choose(
        &mut self,
        e: &'a Expr,
        subject: &'a Expr,
        arms: &'a [crate::syntax::tree::Arm],
        cx: &Context<'a>,
        wanted: Option<ChoiceId>,
    ) -> Checks<Typed> {
        let s = self.settled(subject, cx, None);
        let branch = cx.branch();
        let values: Vec<Checks<Typed>> = arms.iter().map(|a| self.settled(&a.value, &branch, wanted)).collect();
        let s = s?;
        let Ty::Choice(c) = *self.ty(&s) else {
            let found = self.words(&self.ty(&s).clone());
            return self.fail(
                Diagnostic::error("OV-312", "`choose` needs a choice")
                    .at(subject.span, "")
                    .found(found)
                    .expected("a column or decision with a closed set of labels; use `if` for anything else"),
            );
        };
        let labels = self.program.choices[usize::from(c.0)].labels.clone();
        let mut arm_of: Vec<Option<u16>> = vec![None; labels.len()];
        let mut ok = true;
        for (i, arm) in arms.iter().enumerate() {
            let arm_index = u16::try_from(i).unwrap_or(u16::MAX);
            if arm.labels.is_empty() {
                if arm_of.iter().all(Option::is_some) {
                    self.problems.push(
                        Diagnostic::warning("OV-404", "this `otherwise` never counts: every label has its line")
                            .at(arm.span, "")
                            .mend("take it out"),
                    );
                }
                for slot in arm_of.iter_mut().filter(|s| s.is_none()) {
                    *slot = Some(arm_index);
                }
                if i + 1 < arms.len() {
                    ok = false;
                    self.problems.push(
                        Diagnostic::error("OV-404", "`otherwise` comes last").at(arm.span, "").mend("move it below the other labels"),
                    );
                }
                continue;
            }
            for label in &arm.labels {
                match self.label_of(c, label) {
                    Ok(l) => {
                        if arm_of[usize::from(l)].replace(arm_index).is_some() {
                            ok = false;
                            self.problems.push(
                                Diagnostic::error("OV-404", format!("the label `{}` has two values", label.text))
                                    .at(label.span, "the second")
                                    .mend("keep one"),
                            );
                        }
                    }
                    Err(Poisoned) => ok = false,
                }
            }
        }
        let lacking: Vec<&str> = labels.iter().zip(&arm_of).filter(|(_, a)| a.is_none()).map(|(l, _)| l.as_str()).collect();
        if !lacking.is_empty() && ok {
            return self.fail(
                Diagnostic::error("OV-403", "`choose` does not say what holds for every label")
                    .at(subject.span, "")
                    .found(format!("nothing for {}", lacking.join(", ")))
                    .expected("every label once, or `otherwise: ...` at the end"),
            );
        }
        if !ok {
            return Err(Poisoned);
        }
        let values = values.into_iter().collect::<Checks<Vec<Typed>>>()?;
        let list: Vec<(Typed, Span)> = values.iter().copied().zip(arms.iter().map(|a| a.value.span)).collect();
        let ty = self.joined_type(&list)?;
        let kind = Kind::Choose {
            subject: s.node,
            arm_of: arm_of.into_iter().map(|a| a.unwrap_or(0)).collect(),
            arms: values.iter().map(|v| v.node).collect(),
        };
        let node = self.node(kind, ty, e.span);
        Ok(Typed { whole: values.iter().all(|v| v.whole), ..self.plain(node) })
    }

    fn if_absent(
        &mut self,
        e: &'a Expr,
        value: &'a Expr,
        which: AbsentKind,
        instead: &'a Expr,
        cx: &Context<'a>,
        wanted: Option<ChoiceId>,
    ) -> Checks<Typed> {
        let v = self.expr(value, cx, wanted)?;
        if self.program.node(v.node).missing == Missing::Never && cx.in_helper.is_empty() {
            self.problems.push(
                Diagnostic::warning("OV-402", format!("`{}` is never missing here", self.short(value.span)))
                    .at(value.span, "")
                    .mend("take the `if blank` or `if n/a` out, or mark its column `optional`"),
            );
        }
        let mut pending = v.pending;
        match which {
            AbsentKind::Blank => pending.blank = false,
            AbsentKind::NotApplicable => pending.na = false,
        }
        let (ty, instead_node, missing) = if instead.kind == ExprKind::Unknown {
            let ty = self.ty(&v).clone();
            let node = self.program.intern(Node {
                kind: Kind::Unknown,
                ty: ty.clone(),
                grain: Grain::Const,
                missing: Missing::Partly,
                span: instead.span,
            });
            (ty, self.plain(node), Missing::Partly)
        } else {
            let own = if let Ty::Choice(c) = self.ty(&v) { Some(*c) } else { wanted };
            let i = self.settled(instead, &cx.branch(), own)?;
            let ty = self.joined_type(&[(v, value.span), (i, instead.span)])?;
            let missing = self.program.node(i.node).missing;
            (ty, i, missing)
        };
        let grain = self.grain_over(&[v.node, instead_node.node]);
        let was_partly = self.program.node(v.node).missing == Missing::Partly;
        let missing = if pending.any() {
            Missing::Unhandled
        } else if was_partly {
            Missing::Partly
        } else {
            missing
        };
        let unknown = instead.kind == ExprKind::Unknown;
        let kind = Kind::IfAbsent { value: v.node, which, instead: instead_node.node };
        let node = self.program.intern(Node { kind, ty, grain, missing, span: e.span });
        Ok(Typed { node, pending, whole: v.whole && (unknown || instead_node.whole), literal: false })
    }

    // ---- calls ----------------------------------------------------------------------------------------------------------

    fn call(&mut self, e: &'a Expr, name: &'a Name, args: &'a [Expr], cx: &Context<'a>, wanted: Option<ChoiceId>) -> Checks<Typed> {
        if BUILT_IN.contains(&name.text.as_str()) {
            return self.built_in(e, name, args, cx);
        }
        let Some(helper) = self.helpers.get(name.text.as_str()).copied() else {
            if let Some(ours) = other_helper(&name.text) {
                return self
                    .fail(Diagnostic::error("OV-204", format!("there is no helper `{}`", name.text)).at(name.span, "").expected(ours));
            }
            for a in args {
                // What is wrong inside the values is told as well.
                let _ = self.settled(a, cx, None);
            }
            let names: Vec<&str> = self.helpers.keys().copied().chain(BUILT_IN.iter().copied()).collect();
            self.unknown("OV-204", "helper", name, names);
            return Err(Poisoned);
        };
        self.helpers_used.insert(&helper.name.text);
        if helper.params.len() != args.len() {
            let d = Diagnostic::error("OV-204", format!("the helper `{}` takes {}", name.text, many(helper.params.len(), "value")))
                .at(e.span, "")
                .at(helper.name.span, "declared here")
                .found(many(args.len(), "value"));
            return self.fail(with_greedy_list(d, args));
        }
        if cx.in_helper.contains(&helper.name.text.as_str()) || cx.in_helper.len() >= MOST_CALLS {
            let path: Vec<&str> = cx.in_helper.iter().copied().chain([helper.name.text.as_str()]).collect();
            return self.fail(
                Diagnostic::error("OV-212", "a helper calls itself")
                    .at(name.span, "")
                    .found(path.join(" calls "))
                    .note("a helper is worked once and can't go round"),
            );
        }
        let values: Vec<Checks<Typed>> = args.iter().map(|a| self.settled(a, cx, None)).collect();
        let values = values.into_iter().collect::<Checks<Vec<Typed>>>()?;
        let mut inner = Context::at(cx.grain);
        inner.real_ok = cx.real_ok;
        inner.in_branch = cx.in_branch;
        inner.in_helper = cx.in_helper.iter().copied().chain([helper.name.text.as_str()]).collect();
        inner.call = cx.call.or(Some(e.span));
        inner.params = helper.params.iter().map(|p| p.text.as_str()).zip(values.iter().copied()).collect();
        let before = self.problems.len();
        let result = self.expr(helper.body, &inner, wanted);
        // A fault inside a helper is shown with the call that brought it out.
        for d in &mut self.problems[before..] {
            if d.is_error() && !d.labels.iter().any(|l| l.place == crate::diagnostics::Place::Sheet(e.span)) {
                let kinds: Vec<String> = helper
                    .params
                    .iter()
                    .zip(&values)
                    .map(|(p, v)| {
                        let ty = &self.program.node(v.node).ty;
                        let words = match ty {
                            Ty::Number(n) if n.percent => "a percent".into(),
                            Ty::Number(n) => describe(&n.dim, &self.program.nouns),
                            _ => "no number".into(),
                        };
                        format!("{} is {words}", p.text)
                    })
                    .collect();
                d.labels.push(crate::diagnostics::Label { place: e.span.into(), text: format!("called here: {}", kinds.join(", ")) });
            }
        }
        result
    }

    fn built_in(&mut self, e: &'a Expr, name: &'a Name, args: &'a [Expr], cx: &Context<'a>) -> Checks<Typed> {
        let wants = match name.text.as_str() {
            "smaller" | "larger" => 2..=64,
            "abs" | "ln" => 1..=1,
            _ => 2..=2,
        };
        if !wants.contains(&args.len()) {
            let takes = if *wants.end() == 64 { "two or more values".to_string() } else { many(*wants.start(), "value") };
            let d = Diagnostic::error("OV-204", format!("`{}` takes {takes}", name.text)).at(e.span, "").found(many(args.len(), "value"));
            return self.fail(with_greedy_list(d, args));
        }
        let values: Vec<Checks<Typed>> = args.iter().map(|a| self.settled(a, cx, None)).collect();
        let values = values.into_iter().collect::<Checks<Vec<Typed>>>()?;
        let mut types = Vec::new();
        for (v, a) in values.iter().zip(args) {
            types.push(self.as_number(v, a.span)?);
        }
        let list: Vec<(Typed, Span)> = values.iter().copied().zip(args.iter().map(|a| a.span)).collect();
        let nodes: Vec<NodeId> = values.iter().map(|v| v.node).collect();
        match name.text.as_str() {
            "smaller" | "larger" => {
                let ty = self.joined_type(&list)?;
                let kind = if name.text == "smaller" { Kind::Smaller(nodes) } else { Kind::Larger(nodes) };
                let node = self.fold(kind, ty, e.span)?;
                Ok(Typed { whole: values.iter().all(|v| v.whole), ..self.plain(node) })
            }
            "abs" => {
                let node = self.fold(Kind::Abs(nodes[0]), Ty::Number(types[0].clone()), e.span)?;
                Ok(Typed { whole: values[0].whole, ..self.plain(node) })
            }
            _ => {
                if !cx.real_ok {
                    return self.fail(irrational(e.span));
                }
                let step = self.constant(Kind::Number(Exact::ONE), number(Dim::NONE), e.span);
                let leaf = |c: &mut Self, i: usize| c.real(nodes[i], e.span).map(Box::new);
                let (real, dim) = match name.text.as_str() {
                    "root" => {
                        let degree = self
                            .program
                            .constant(nodes[1])
                            .and_then(Exact::to_i64)
                            .and_then(|d| u32::try_from(d).ok())
                            .filter(|d| (1..=64).contains(d));
                        let Some(degree) = degree.filter(|_| types[1].dim.is_none()) else {
                            return self.fail(
                                Diagnostic::error("OV-307", "the second value of `root` is a written whole number from 1 to 64")
                                    .at(args[1].span, "")
                                    .mend("root(x, 2) is the square root"),
                            );
                        };
                        let Some(dim) = types[0].dim.root(degree) else {
                            return self.fail(
                                Diagnostic::error("OV-307", "this root has no sensible unit")
                                    .at(e.span, "")
                                    .found(describe(&types[0].dim, &self.program.nouns)),
                            );
                        };
                        (RealNode::Root(leaf(self, 0)?, nodes[1]), dim)
                    }
                    "power" => {
                        for (t, a) in types.iter().zip(args) {
                            if !t.dim.is_none() {
                                return self.fail(
                                    Diagnostic::error("OV-307", "`power` works on plain numbers")
                                        .at(a.span, "")
                                        .found(describe(&t.dim, &self.program.nouns))
                                        .mend("divide by a unit first, or use ^ with a whole number"),
                                );
                            }
                        }
                        (RealNode::Power(leaf(self, 0)?, leaf(self, 1)?), Dim::NONE)
                    }
                    _ => {
                        if !types[0].dim.is_none() {
                            return self.fail(
                                Diagnostic::error("OV-307", "`ln` works on plain numbers")
                                    .at(args[0].span, "")
                                    .found(describe(&types[0].dim, &self.program.nouns)),
                            );
                        }
                        (RealNode::Ln(leaf(self, 0)?), Dim::NONE)
                    }
                };
                let adds = adds_by_dim(&dim);
                let ty = Ty::Number(NumTy { dim, percent: false, adds, real: true });
                // Never worked as it stands: the rounding around it takes the expression out again.
                let node = self.node(Kind::RoundReal { real, step, mode: Rounding::HalfEven }, ty, e.span);
                Ok(self.plain(node))
            }
        }
    }

    /// A node, worked at once when all its children are written numbers.
    pub(super) fn fold(&mut self, kind: Kind, ty: Ty, span: Span) -> Checks<NodeId> {
        let c = |n: &NodeId| self.program.constant(*n);
        let is_real = matches!(&ty, Ty::Number(n) if n.real);
        let folded: Option<Result<Exact, NumError>> = match &kind {
            _ if is_real => None,
            Kind::Negate(a) => c(a).map(|a| Ok(a.neg())),
            Kind::Abs(a) => c(a).map(|a| Ok(a.abs())),
            Kind::Add(a, b) => c(a).zip(c(b)).map(|(a, b)| a.add(b)),
            Kind::Sub(a, b) => c(a).zip(c(b)).map(|(a, b)| a.sub(b)),
            Kind::Mul(a, b) => c(a).zip(c(b)).map(|(a, b)| a.mul(b)),
            Kind::Div(a, b) => c(a).zip(c(b)).map(|(a, b)| a.div(b)),
            Kind::Power(a, n) => c(a).map(|a| a.pow(*n)),
            Kind::Round { value, step, mode } => c(value).zip(c(step)).map(|(v, s)| v.round_to(s, *mode)),
            Kind::Smaller(v) => v.iter().map(c).collect::<Option<Vec<_>>>().and_then(|v| v.into_iter().min().cloned()).map(Ok),
            Kind::Larger(v) => v.iter().map(c).collect::<Option<Vec<_>>>().and_then(|v| v.into_iter().max().cloned()).map(Ok),
            _ => None,
        };
        match folded {
            None => Ok(self.node(kind, ty, span)),
            Some(Ok(value)) => Ok(self.constant(Kind::Number(value), ty, span)),
            // Refused while running, on the rows that need it.
            Some(Err(NumError::DivideByZero)) => Ok(self.node(kind, ty, span)),
            Some(Err(_)) => self.fail(
                Diagnostic::error("OV-108", "this number grows too long to be kept exactly")
                    .at(span, "")
                    .mend("round it where the rule may be rounded"),
            ),
        }
    }
}

fn irrational(span: Span) -> Diagnostic {
    Diagnostic::error("OV-313", "this value has no end of digits; say how it is rounded")
        .at(span, "")
        .mend("put it in brackets and add `rounded to ...` with a step")
}

/// Says where a comma meant for a call went to a list inside one of its values.
fn with_greedy_list(d: Diagnostic, args: &[Expr]) -> Diagnostic {
    let greedy = |e: &Expr| match &e.kind {
        ExprKind::Lookup { keys, .. } => keys.len() > 1,
        ExprKind::IsOneOf { labels, .. } => labels.len() > 1,
        _ => false,
    };
    match args.iter().any(greedy) {
        true => d.note("a comma after `at` or inside `is one of` goes on with that list: put such a value in brackets"),
        false => d,
    }
}

/// Names known to be there when a condition is true (or false).
fn narrowing(e: &Expr, truth: bool) -> Vec<(String, Pending)> {
    let all = Pending { blank: true, na: true };
    match &e.kind {
        ExprKind::Not(inner) => narrowing(inner, !truth),
        ExprKind::Binary { op: BinaryOp::And, left, right, .. } if truth => {
            let mut v = narrowing(left, true);
            v.extend(narrowing(right, true));
            v
        }
        ExprKind::Binary { op: BinaryOp::Or, left, right, .. } if !truth => {
            let mut v = narrowing(left, false);
            v.extend(narrowing(right, false));
            v
        }
        ExprKind::Presence { value, test, negated } => {
            let ExprKind::Name(name) = &value.kind else { return vec![] };
            let holds = truth != *negated;
            match (test, holds) {
                (PresenceTest::Known, true) => vec![(name.clone(), all)],
                (PresenceTest::Blank, false) => vec![(name.clone(), Pending { blank: true, na: false })],
                (PresenceTest::NotApplicable, false) => vec![(name.clone(), Pending { blank: false, na: true })],
                (PresenceTest::Blank, true) => vec![(name.clone(), Pending { blank: false, na: true })],
                _ => vec![],
            }
        }
        _ => vec![],
    }
}
