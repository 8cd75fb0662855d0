//! Helpers and the functions of the language.

use super::declare::BUILT_IN;
use super::expr::irrational;
use super::kept::Reader;
use super::typed::*;
use super::unknown::Known;
use super::words::{many, other_helper};
use crate::diagnostics::{Diagnostic, Label, Place, Span};
use crate::number::{Exact, Rounding};
use crate::program::{ChoiceId, Grain, Kind, NodeId, NumTy, RealNode, Ty};
use crate::syntax::tree::{Expr, ExprKind, Name};
use crate::units::{Dim, describe};

/// Calls calculated in one version, each with other values.
const MOST_CALLS: usize = 100_000;
/// Calls calculated in all versions of the sheets together.
const MOST_IN_ALL: usize = 1_000_000;

/// Places shown of calls that led to a fault.
const MOST_PLACES: usize = 6;

/// What the outcome of a call hangs on. The rule it is in is part of it: what a helper reads is read by that rule.
#[derive(Debug, PartialEq, Eq, Hash)]
pub(super) struct CallKey<'a> {
    helper: &'a str,
    values: Vec<Typed>,
    grain: Grain,
    wanted: Option<ChoiceId>,
    real_ok: bool,
    in_branch: bool,
    pub(super) reader: Reader,
}

/// A call that was calculated.
#[derive(Debug)]
pub(super) struct Called {
    result: Checks<Typed>,
    /// Something was said of it; it is not said again.
    spoke: bool,
}

impl<'a> Checker<'a> {
    pub(super) fn call(
        &mut self,
        e: &'a Expr,
        name: &'a Name,
        args: &'a [Expr],
        cx: &Context<'a>,
        wanted: Option<ChoiceId>,
    ) -> Checks<Typed> {
        if BUILT_IN.contains(&name.text.as_str()) {
            return self.built_in(e, name, args, cx);
        }
        let helper = self.helper_of(e, name, args, cx)?;
        let values = self.settled_all(args, cx)?;
        let key = CallKey {
            helper: &helper.name.text,
            values: values.clone(),
            grain: cx.grain,
            wanted,
            real_ok: cx.real_ok,
            in_branch: cx.in_branch,
            reader: self.reader(),
        };
        if let Some(called) = self.kept.calls.get(&key) {
            return called.result;
        }
        self.count_call(cx.call.unwrap_or(e.span))?;
        let mut inner = Context::at(cx.grain);
        inner.real_ok = cx.real_ok;
        inner.in_branch = cx.in_branch;
        inner.in_helper = cx
            .in_helper
            .iter()
            .copied()
            .chain([helper.name.text.as_str()])
            .collect();
        inner.call = cx.call.or(Some(e.span));
        inner.params = helper
            .params
            .iter()
            .map(|p| p.text.as_str())
            .zip(values.iter().copied())
            .collect();
        let before = self.problems.len();
        let result = self.expr(helper.body, &inner, wanted);
        self.show_call(e.span, before, &helper, &values);
        if self.reading.deferred.is_none() {
            let spoke = self.problems.len() > before || result.is_err();
            self.reading.calls_spoke |= spoke;
            self.kept.calls.insert(key, Called { result, spoke });
        }
        result
    }

    /// The values of a call; what is wrong with each is said, not only with the first.
    fn settled_all(&mut self, args: &'a [Expr], cx: &Context<'a>) -> Checks<Vec<Typed>> {
        let values: Vec<Checks<Typed>> = args.iter().map(|a| self.settled(a, cx, None)).collect();
        values.into_iter().collect()
    }

    /// The helper that a call names, if the call fits it.
    fn helper_of(
        &mut self,
        e: &'a Expr,
        name: &'a Name,
        args: &'a [Expr],
        cx: &Context<'a>,
    ) -> Checks<HelperDef<'a>> {
        let Some(helper) = self.declared.helpers.get(name.text.as_str()).copied() else {
            if let Some(ours) = other_helper(&name.text) {
                return self.fail(
                    Diagnostic::error("OV-204", format!("there is no helper `{}`", name.text))
                        .at(name.span, "")
                        .expected(ours),
                );
            }
            for a in args {
                // What is wrong inside the values is reported as well.
                let _ = self.settled(a, cx, None);
            }
            self.unknown("OV-204", "helper", name, Known::Helpers);
            return Err(Poisoned);
        };
        self.reported.helpers_used.insert(&helper.name.text);
        if helper.params.len() != args.len() {
            let d = Diagnostic::error(
                "OV-204",
                format!(
                    "the helper `{}` takes {}",
                    name.text,
                    many(helper.params.len(), "value")
                ),
            )
            .at(e.span, "")
            .at(helper.name.span, "declared here")
            .found(many(args.len(), "value"));
            return self.fail(with_greedy_list(d, args));
        }
        if cx.in_helper.contains(&helper.name.text.as_str()) {
            let path: Vec<&str> = cx
                .in_helper
                .iter()
                .copied()
                .chain([helper.name.text.as_str()])
                .collect();
            return self.fail(calls_itself(&path, name.span));
        }
        Ok(helper)
    }

    /// Counts one more call, unless there are too many.
    fn count_call(&mut self, span: Span) -> Checks<()> {
        self.reading.calls_worked += 1;
        if self.kept.calls.len() < MOST_CALLS && self.reading.calls_worked <= MOST_IN_ALL {
            return Ok(());
        }
        if !std::mem::replace(&mut self.reported.too_many, true) {
            self.say_once(
                Diagnostic::error("OV-220", "helpers call one another too often")
                    .at(span, "")
                    .expected(format!(
                        "at most {MOST_CALLS} calls, each with other values"
                    )),
            );
        }
        Err(Poisoned)
    }

    /// Faults reported since `before` are inside the helper: they are shown with the call that caused them.
    fn show_call(&mut self, call: Span, before: usize, helper: &HelperDef<'a>, values: &[Typed]) {
        for d in &mut self.problems[before..] {
            if !d.is_error()
                || d.labels.len() >= MOST_PLACES
                || d.labels.iter().any(|l| l.place == Place::Sheet(call))
            {
                continue;
            }
            let kinds: Vec<String> = helper
                .params
                .iter()
                .zip(values)
                .map(|(p, v)| {
                    let ty = &self.program.node(v.node).ty;
                    let words = match ty {
                        Ty::Number(n) if n.percent => "a percent".into(),
                        Ty::Number(n) => describe(&n.dim, &self.program.nouns),
                        Ty::Truth | Ty::Choice(_) | Ty::Text | Ty::Point(_) => "no number".into(),
                    };
                    format!("{} is {words}", p.text)
                })
                .collect();
            d.labels.push(Label {
                place: call.into(),
                text: format!("called here: {}", kinds.join(", ")),
            });
        }
    }

    /// A rule is read anew, and what was said of it with it.
    pub(super) fn forget_spoken_calls(&mut self) {
        if std::mem::take(&mut self.reading.calls_spoke) {
            self.kept.calls.retain(|_, called| !called.spoke);
        }
    }

    fn built_in(
        &mut self,
        e: &'a Expr,
        name: &'a Name,
        args: &'a [Expr],
        cx: &Context<'a>,
    ) -> Checks<Typed> {
        self.built_in_takes(e, name, args)?;
        let values = self.settled_all(args, cx)?;
        if matches!(name.text.as_str(), "day_of" | "midnight") {
            return self.across(&name.text, values[0], args[0].span, e.span);
        }
        let extreme = matches!(name.text.as_str(), "smaller" | "larger");
        if extreme && matches!(self.ty(&values[0]), Ty::Point(_)) {
            return self.extreme(e, name, args, &values);
        }
        let mut types = Vec::new();
        for (v, a) in values.iter().zip(args) {
            types.push(self.as_number(v, a.span)?);
        }
        match name.text.as_str() {
            "smaller" | "larger" => self.extreme(e, name, args, &values),
            "abs" => {
                let ty = Ty::Number(types[0].clone());
                let node = self.fold(Kind::Abs(values[0].node), ty, e.span)?;
                Ok(Typed {
                    whole: values[0].whole,
                    ..self.plain(node)
                })
            }
            _ if !cx.real_ok => self.fail(irrational(e.span)),
            _ => {
                let (real, dim) = match name.text.as_str() {
                    "root" => self.root(e, args, &values, &types)?,
                    "power" => self.power(e, args, &values, &types)?,
                    _ => self.logarithm(e, args, &values, &types)?,
                };
                Ok(self.irrational_value(real, dim, e.span))
            }
        }
    }

    /// A built-in function has the number of values it takes.
    fn built_in_takes(&mut self, e: &Expr, name: &Name, args: &'a [Expr]) -> Checks<()> {
        let wants = match name.text.as_str() {
            "smaller" | "larger" => 2..=64,
            "abs" | "ln" | "day_of" | "midnight" => 1..=1,
            _ => 2..=2,
        };
        if wants.contains(&args.len()) {
            return Ok(());
        }
        let takes = if *wants.end() == 64 {
            "two or more values".to_string()
        } else {
            many(*wants.start(), "value")
        };
        let d = Diagnostic::error("OV-204", format!("`{}` takes {takes}", name.text))
            .at(e.span, "")
            .found(many(args.len(), "value"));
        self.fail(with_greedy_list(d, args))
    }

    /// `smaller` and `larger`, of numbers and of days alike.
    fn extreme(&mut self, e: &Expr, name: &Name, args: &[Expr], values: &[Typed]) -> Checks<Typed> {
        let list: Vec<(Typed, Span)> = values
            .iter()
            .copied()
            .zip(args.iter().map(|a| a.span))
            .collect();
        let nodes: Vec<NodeId> = values.iter().map(|v| v.node).collect();
        let ty = self.joined_type(&list)?;
        let kind = if name.text == "smaller" {
            Kind::Smaller(nodes)
        } else {
            Kind::Larger(nodes)
        };
        let node = self.fold(kind, ty, e.span)?;
        Ok(Typed {
            whole: values.iter().all(|v| v.whole),
            ..self.plain(node)
        })
    }

    fn root(
        &mut self,
        e: &Expr,
        args: &[Expr],
        values: &[Typed],
        types: &[NumTy],
    ) -> Checks<(RealNode, Dim)> {
        let degree = self
            .program
            .constant(values[1].node)
            .and_then(Exact::to_i64)
            .and_then(|d| u32::try_from(d).ok())
            .filter(|d| (1..=64).contains(d));
        let Some(degree) = degree.filter(|_| types[1].dim.is_none()) else {
            return self.fail(
                Diagnostic::error(
                    "OV-307",
                    "the second value of `root` is a written whole number from 1 to 64",
                )
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
        let of = Box::new(self.real(values[0].node, e.span)?);
        Ok((RealNode::Root(of, values[1].node), dim))
    }

    fn power(
        &mut self,
        e: &Expr,
        args: &[Expr],
        values: &[Typed],
        types: &[NumTy],
    ) -> Checks<(RealNode, Dim)> {
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
        let base = Box::new(self.real(values[0].node, e.span)?);
        let exponent = Box::new(self.real(values[1].node, e.span)?);
        Ok((RealNode::Power(base, exponent), Dim::NONE))
    }

    fn logarithm(
        &mut self,
        e: &Expr,
        args: &[Expr],
        values: &[Typed],
        types: &[NumTy],
    ) -> Checks<(RealNode, Dim)> {
        if !types[0].dim.is_none() {
            return self.fail(
                Diagnostic::error("OV-307", "`ln` works on plain numbers")
                    .at(args[0].span, "")
                    .found(describe(&types[0].dim, &self.program.nouns)),
            );
        }
        let of = Box::new(self.real(values[0].node, e.span)?);
        Ok((RealNode::Ln(of), Dim::NONE))
    }

    /// Never worked as it stands: the rounding around it takes the expression out again.
    fn irrational_value(&mut self, real: RealNode, dim: Dim, span: Span) -> Typed {
        let step = self.constant(Kind::Number(Exact::ONE), number(Dim::NONE), span);
        let ty = Ty::Number(NumTy {
            adds: adds_by_dim(&dim),
            dim,
            percent: false,
            real: true,
        });
        let mode = Rounding::HalfEven;
        let node = self.node(Kind::RoundReal { real, step, mode }, ty, span);
        self.plain(node)
    }
}

pub(super) fn calls_itself(path: &[&str], span: Span) -> Diagnostic {
    let found = match path {
        [first, .., before, last] if path.len() > 8 => {
            format!("{first} calls ... calls {before} calls {last}")
        }
        _ => path.join(" calls "),
    };
    Diagnostic::error("OV-212", "a helper calls itself")
        .at(span, "")
        .found(found)
        .note("a helper is expanded once and can't call itself")
}

/// Says where a comma meant for a call went to a list inside one of its values.
#[expect(
    clippy::wildcard_enum_match_arm,
    reason = "these forms alone are meant; any other is a formula like all others"
)]
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
