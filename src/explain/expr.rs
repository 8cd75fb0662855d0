//! Walks a written expression together with the values its parts were calculated to, and keeps what explains it: named values, roundings,
//! branches taken, rows of tables, calls, and what comes from other grains. Plain arithmetic is explained by the text of the rule.

use super::builder::{Builder, Here};
use super::tree::{Tree, What};
use crate::diagnostics::Span;
use crate::eval::Cell;
use crate::number::about;
use crate::program::{Grain, Kind, Ty};
use crate::report::words::rounding as mode_word;
use crate::show::absence_word;
use crate::syntax::tree::{AbsentKind, Arm, BinaryOp, Expr, ExprKind, Name, RoundWord};

impl<'a> Builder<'a> {
    /// Adds what an expression is calculated from.
    pub(super) fn walk(&mut self, e: &'a Expr, here: Here<'_>, out: &mut Vec<Tree>) {
        match &e.kind {
            ExprKind::Quantity(_) | ExprKind::Text(_) | ExprKind::Truth(_) | ExprKind::Unknown => {}
            ExprKind::Name(name) => self.name(name, e.span, here, out),
            ExprKind::Negate(a)
            | ExprKind::Not(a)
            | ExprKind::Power { base: a, .. }
            | ExprKind::Per { value: a, .. } => self.walk(a, here, out),
            ExprKind::Presence { value, .. } | ExprKind::IsOneOf { value, .. } => {
                self.walk(value, here, out)
            }
            ExprKind::Between {
                value, low, high, ..
            } => {
                for part in [value, low, high] {
                    self.walk(part, here, out);
                }
            }
            ExprKind::Binary {
                op, left, right, ..
            } => {
                self.walk(left, here, out);
                // What a side that decides alone leaves unread explains nothing.
                let settled = matches!(
                    (op, self.truth(left.span, here)),
                    (BinaryOp::And, Some(false)) | (BinaryOp::Or, Some(true))
                );
                if !settled {
                    self.walk(right, here, out);
                }
            }
            ExprKind::Rounded { value, word, step } => {
                self.rounded(e.span, value, *word, step, here, out)
            }
            ExprKind::If {
                condition,
                then,
                otherwise,
            } => {
                let tree = self.branch(e.span, condition, [then, otherwise], here);
                out.push(tree);
            }
            ExprKind::Choose { subject, arms } => self.chosen(e, subject, arms, here, out),
            ExprKind::Call { name, args } => self.called(e, name, args, here, out),
            ExprKind::Aggregate {
                kind,
                of,
                weight,
                filter,
            } => {
                let tree = self.gathered(e, *kind, of, weight.as_deref(), filter.as_deref(), here);
                out.push(tree);
            }
            ExprKind::Taken(resource) if here.grain == Grain::Job => {
                self.taken(resource, here, out)
            }
            // Of a group, the takes of the whole job would say too much.
            ExprKind::Taken(_) => {}
            ExprKind::Lookup {
                value,
                table,
                keys,
                interpolated,
            } => {
                let mut tree = self.looked_up(e.span, value, table, *interpolated, here);
                for key in keys {
                    self.walk(key, here, &mut tree.from);
                }
                out.push(tree);
            }
            ExprKind::IfAbsent {
                value,
                which,
                instead,
            } => self.if_absent(value, *which, instead, here, out),
            ExprKind::CalendarSpan { otherwise, .. } => {
                let tree = self.calendar_span(e, otherwise, here);
                out.push(tree);
            }
            ExprKind::SharedBy {
                value,
                weight,
                step,
            } => {
                let mut tree = self.shared(e, weight, here);
                if let Some(step) = step {
                    tree.fact("in steps of", self.text_of(step.span));
                }
                self.walk(value, here, &mut tree.from);
                self.walk(weight, here, &mut tree.from);
                out.push(tree);
            }
        }
    }

    /// `if`: how its condition came out, and the branch taken.
    fn branch(
        &mut self,
        span: Span,
        condition: &'a Expr,
        [then, otherwise]: [&'a Expr; 2],
        here: Here<'_>,
    ) -> Tree {
        let taken = match self.truth(condition.span, here) {
            Some(true) => Some(("yes", then)),
            Some(false) => Some(("no", otherwise)),
            None => None,
        };
        let name = format!("if {}", self.text_of(condition.span));
        let mut tree = self.of_span(What::Branch, name, span, here);
        tree.place = Some(condition.span.into());
        self.walk(condition, here, &mut tree.from);
        match taken {
            Some((word, branch)) => {
                tree.fact("it is", word);
                tree.fact("taken", self.text_of(branch.span));
                self.walk(branch, here, &mut tree.from);
            }
            None => tree.fact("it is", "not known"),
        }
        tree
    }

    /// All takes of a resource.
    fn taken(&mut self, resource: &Name, here: Here<'_>, out: &mut Vec<Tree>) {
        let takes = self.version().takes.iter().enumerate();
        let of_it: Vec<usize> = takes
            .filter(|(_, t)| {
                let def = self.version().resources.get(t.resource);
                def.is_some_and(|r| r.name == resource.text)
            })
            .map(|(at, _)| at)
            .collect();
        for at in of_it {
            let tree = self.take(at, here.level + 1);
            out.push(tree);
        }
    }

    /// Days of the calendar, with the first and the last of them; or what stands for them.
    fn calendar_span(&mut self, e: &'a Expr, otherwise: &'a Expr, here: Here<'_>) -> Tree {
        let ExprKind::CalendarSpan {
            working, from, to, ..
        } = &e.kind
        else {
            return Tree::new(What::Call, "");
        };
        let days = if *working { "work days" } else { "days" };
        let name = format!("{days} from \"{}\" to \"{}\"", from.text, to.text);
        let mut tree = self.of_span(What::Call, name, e.span, here);
        tree.place = Some(e.span.into());
        let number = self.node_at(e.span).map(|n| self.span_of(n));
        let plan = self.subject.estimate.schedule.as_ref();
        let days = number.flatten().and_then(|at| plan?.spans.get(at).copied());
        match days.map(|days| days.ends) {
            Some(Some((first, last))) => {
                let day = crate::calendar::clock::date_of;
                let phases = [(&from.text, "begins", first), (&to.text, "ends", last)];
                for (phase, word, at) in phases {
                    tree.fact(word, format!("\"{phase}\" on {}", day(at)));
                }
                tree.fact("counted", "both days; the calendar is made from the labor");
            }
            Some(None) => tree.fact(
                "no work",
                "one of the phases has none, so no days lie between",
            ),
            None => {
                tree.fact("taken", "what is stated, for want of a calendar");
                self.walk(otherwise, here, &mut tree.from);
            }
        }
        tree
    }

    /// The number of a span that a node reads.
    fn span_of(&self, node: crate::program::NodeId) -> Option<usize> {
        let kind = &self.program().node(node).kind;
        if let Kind::Down(of) = kind {
            return self.span_of(*of);
        }
        let Kind::Span { span, .. } = kind else {
            return None;
        };
        usize::try_from(*span).ok()
    }

    /// A tree with the value of a stretch of a sheet.
    pub(super) fn of_span(
        &mut self,
        what: What,
        name: impl Into<String>,
        span: Span,
        here: Here<'_>,
    ) -> Tree {
        match self.node_at(span) {
            Some(node) => self.tree_of(what, name, node, here.row, here.unit),
            None => Tree::new(what, name),
        }
    }

    fn truth(&mut self, span: Span, here: Here<'_>) -> Option<bool> {
        let node = self.node_at(span)?;
        match self.cell(node, here.row) {
            Cell::Truth(t) => Some(t),
            Cell::Number(_) | Cell::Label(_) | Cell::Text(_) | Cell::Absent(_) | Cell::Fault(_) => {
                None
            }
        }
    }

    fn name(&mut self, name: &str, span: Span, here: Here<'_>, out: &mut Vec<Tree>) {
        let Some(node) = self.node_at(span) else {
            return;
        };
        // A label of a choice is its own explanation.
        if let (Kind::Label(at), Ty::Choice(choice)) = (
            &self.program().node(node).kind,
            &self.program().node(node).ty,
        ) {
            let labels = self.program().choices.get(*choice).map(|c| &c.labels);
            if labels
                .and_then(|l| l.get(usize::from(*at)))
                .is_some_and(|l| l == name)
            {
                return;
            }
        }
        let read = self
            .value_for(name, here.grain)
            .and_then(|at| self.read(at, node, here));
        // A value read twice by one rule is reported once.
        out.extend(read.filter(|t| {
            !out.iter()
                .any(|o| (&o.name, &o.at, o.what) == (&t.name, &t.at, t.what))
        }));
    }

    fn rounded(
        &mut self,
        span: Span,
        value: &'a Expr,
        word: RoundWord,
        step: &'a Expr,
        here: Here<'_>,
        out: &mut Vec<Tree>,
    ) {
        let way = match word {
            RoundWord::Nearest => format!(
                "to the nearest, ties {}",
                mode_word(self.program().terms.ties)
            ),
            RoundWord::Mode(mode) => mode_word(mode).to_owned(),
        };
        let step_text = match self.node_at(step.span) {
            Some(node) => self.shown(node, here.row, None),
            None => self.text_of(step.span),
        };
        let mut tree = self.of_span(
            What::Rounding,
            format!("rounded {way} to {step_text}"),
            span,
            here,
        );
        tree.place = Some(step.span.into());
        if let Some(before) = self.node_at(value.span) {
            let before = self.tree_of(What::Rounding, "", before, here.row, here.unit);
            if let (Some(a), Some(b)) = (&before.number, &tree.number)
                && let Ok(moved) = b.sub(a)
            {
                let moved = match moved.is_zero() {
                    true => "nothing to round".to_owned(),
                    false => format!(
                        "moved by {} of a step",
                        self.part_of_step(&moved, step, here)
                    ),
                };
                tree.fact("before", format!("{}, {moved}", before.text));
            } else {
                tree.fact("before", before.text);
            }
        }
        self.walk(value, here, &mut tree.from);
        self.walk(step, here, &mut tree.from);
        out.push(tree);
    }

    /// How much of a step a rounding moved the value, as a decimal with its sign.
    fn part_of_step(
        &mut self,
        moved: &crate::number::Exact,
        step: &Expr,
        here: Here<'_>,
    ) -> String {
        let step = self
            .node_at(step.span)
            .and_then(|node| self.number(node, here.row));
        let part = step.and_then(|step| moved.div(&step).ok());
        part.map_or_else(String::new, |part| {
            let (digits, whole) = part.to_decimal(4);
            let sign = if part.signum() > 0 { "+" } else { "" };
            about(format!("{sign}{digits}"), whole)
        })
    }

    fn chosen(
        &mut self,
        e: &'a Expr,
        subject: &'a Expr,
        arms: &'a [Arm],
        here: Here<'_>,
        out: &mut Vec<Tree>,
    ) {
        let mut tree = self.of_span(
            What::Branch,
            format!("choose {}", self.text_of(subject.span)),
            e.span,
            here,
        );
        self.walk(subject, here, &mut tree.from);
        if let Some(node) = self.node_at(subject.span)
            && matches!(self.cell(node, here.row), Cell::Label(_))
        {
            let label = self.shown(node, here.row, None);
            let named = arms
                .iter()
                .find(|arm| arm.labels.iter().any(|l| l.text == label));
            let arm = named.or_else(|| arms.iter().find(|arm| arm.labels.is_empty()));
            tree.fact("it is", label);
            if let Some(arm) = arm {
                tree.place = Some(arm.span.into());
                tree.fact(
                    "taken",
                    format!(
                        "{} {}",
                        self.text_of(arm.span),
                        self.text_of(arm.value.span)
                    ),
                );
                self.walk(&arm.value, here, &mut tree.from);
            }
        }
        out.push(tree);
    }

    fn if_absent(
        &mut self,
        value: &'a Expr,
        which: AbsentKind,
        instead: &'a Expr,
        here: Here<'_>,
        out: &mut Vec<Tree>,
    ) {
        let cell = self
            .node_at(value.span)
            .map(|node| self.cell(node, here.row));
        let absence = match (cell, which) {
            (Some(Cell::Absent(a @ crate::table::Absence::Blank)), AbsentKind::Blank) => a,
            (
                Some(Cell::Absent(a @ crate::table::Absence::NotApplicable)),
                AbsentKind::NotApplicable,
            ) => a,
            _ => return self.walk(value, here, out),
        };
        let mut tree = self.of_span(
            What::Branch,
            format!("{} is {}", self.text_of(value.span), absence_word(absence)),
            instead.span,
            here,
        );
        if instead.kind == ExprKind::Unknown {
            tree.text = "unknown".to_owned();
        }
        tree.fact("taken", self.text_of(instead.span));
        tree.place = Some(instead.span.into());
        self.walk(value, here, &mut tree.from);
        self.walk(instead, here, &mut tree.from);
        out.push(tree);
    }

    fn called(
        &mut self,
        e: &'a Expr,
        name: &'a Name,
        args: &'a [Expr],
        here: Here<'_>,
        out: &mut Vec<Tree>,
    ) {
        let mut tree = self.of_span(What::Call, self.text_of(e.span), e.span, here);
        let Some(helper) = self.index.helper(&name.text) else {
            for arg in args {
                self.argument(self.text_of(arg.span), arg, here, &mut tree);
            }
            return out.push(tree);
        };
        let params: Vec<&str> = helper.params.iter().map(|p| p.text.as_str()).collect();
        tree.rule = Some(format!(
            "{}({}) = {}",
            helper.name.text,
            params.join(", "),
            self.text_of(helper.body.span)
        ));
        tree.place = Some(helper.name.span.into());
        for (param, arg) in helper.params.iter().zip(args) {
            self.argument(
                format!("{} = {}", param.text, self.text_of(arg.span)),
                arg,
                here,
                &mut tree,
            );
        }
        // What the body reads besides its parameters.
        let mut names = names_in(helper.body);
        names.retain(|n| !params.contains(n));
        for free in names {
            if let Some(at) = self.value_for(free, here.grain)
                && let Some(node) = self.version().values.get(at).map(|v| v.node)
            {
                let read = self.read(at, node, here);
                tree.from.extend(read);
            }
        }
        out.push(tree);
    }

    /// One value handed to a helper; a plain name explains itself.
    fn argument(&mut self, label: String, arg: &'a Expr, here: Here<'_>, tree: &mut Tree) {
        if let Some(node) = self.node_at(arg.span) {
            let text = if self.is_irrational(node) {
                "digits without end".to_owned()
            } else {
                self.shown(node, here.row, None)
            };
            tree.fact("with", format!("{label}: {text}"));
        }
        self.walk(arg, here, &mut tree.from);
    }
}

/// Names in an expression, each once.
fn names_in(e: &Expr) -> Vec<&str> {
    let mut names: Vec<&str> = Vec::new();
    e.walk(&mut |e| {
        if let ExprKind::Name(name) = &e.kind
            && !names.contains(&name.as_str())
        {
            names.push(name);
        }
        true
    });
    names
}
