//! Expressions and quantities.

use super::super::mistakes::{joined_by_hyphen, looks_like_day, measure};
use super::super::tree::*;
use super::{Node, Reader, Rule};
use crate::diagnostics::{Diagnostic, Span};
use crate::number::Rounding;

/// The nodes of a flat row.
type Parts<'a> = std::iter::Peekable<pest::iterators::Pairs<'a, Rule>>;

impl<'a> Reader<'a> {
    pub(super) fn expr(&mut self, node: Node<'a>, base: u32) -> Expr {
        let span = self.span(&node, base);
        let mut parts = node.into_inner();
        let Some(first) = parts.next() else {
            return unreadable(span);
        };
        let mut value = self.branch(first, base);
        for rounding in parts.filter(|p| p.as_rule() == Rule::rounding) {
            let end = self.span(&rounding, base);
            let mut word = RoundWord::Nearest;
            let mut step = unreadable(end);
            for p in rounding.into_inner() {
                match p.as_rule() {
                    Rule::round_mode => word = round_word(p.as_str()),
                    Rule::step => step = self.operand(&mut p.into_inner().peekable(), base, end),
                    _ => {}
                }
            }
            value = Expr {
                span: value.span.to(end),
                kind: ExprKind::Rounded {
                    value: Box::new(value),
                    word,
                    step: Box::new(step),
                },
            };
        }
        value
    }

    /// A value with or without `if`.
    pub(super) fn branch(&mut self, node: Node<'a>, base: u32) -> Expr {
        match node.as_rule() {
            Rule::conditional => self.conditional(node, base),
            _ => self.condition(node, base),
        }
    }

    fn conditional(&mut self, node: Node<'a>, base: u32) -> Expr {
        let span = self.span(&node, base);
        let mut b = node
            .into_inner()
            .filter(|n| matches!(n.as_rule(), Rule::conditional | Rule::condition))
            .map(|n| self.branch(n, base));
        match (b.next(), b.next(), b.next()) {
            (Some(c), Some(t), Some(e)) => Expr {
                span,
                kind: ExprKind::If {
                    condition: Box::new(c),
                    then: Box::new(t),
                    otherwise: Box::new(e),
                },
            },
            _ => unreadable(span),
        }
    }

    /// `a and b or not c`: `and` holds tighter than `or`, `not` tighter than both.
    fn condition(&mut self, node: Node<'a>, base: u32) -> Expr {
        let span = self.span(&node, base);
        let mut parts = node.into_inner().peekable();
        let mut either = Row::default();
        let mut both = Row::default();
        loop {
            both.take(self.claim(&mut parts, base, span));
            let Some(word) = parts.next() else { break };
            let at = self.span(&word, base);
            match word.as_rule() {
                Rule::kw_and => both.join(BinaryOp::And, at),
                _ => {
                    either.take(std::mem::take(&mut both).value(span));
                    either.join(BinaryOp::Or, at);
                }
            }
        }
        either.take(both.value(span));
        either.value(span)
    }

    /// A truth asked of sums, or a sum alone, with any `not` before it.
    fn claim(&mut self, parts: &mut Parts<'a>, base: u32, whole: Span) -> Expr {
        let mut nots = Vec::new();
        while let Some(not) = parts.next_if(|p| p.as_rule() == Rule::kw_not) {
            nots.push(self.span(&not, base));
        }
        let Some(first) = parts.next() else {
            return unreadable(whole);
        };
        let left = self.sum(first, base);
        let asked = parts.next_if(|p| matches!(p.as_rule(), Rule::relation | Rule::is_test));
        let value = match asked {
            None => left,
            Some(p) if p.as_rule() == Rule::relation => {
                let op = match p.as_str() {
                    "<" => BinaryOp::Less,
                    "<=" | "≤" => BinaryOp::LessEq,
                    ">" => BinaryOp::Greater,
                    _ => BinaryOp::GreaterEq,
                };
                let op_span = self.span(&p, base);
                let right = parts
                    .next()
                    .map_or_else(|| unreadable(op_span), |right| self.sum(right, base));
                binary(op, op_span, left, right)
            }
            Some(test) => {
                let span = left.span.to(self.span(&test, base));
                self.is_test(left, test, base, span)
            }
        };
        nots.into_iter().rev().fold(value, |value, not| Expr {
            span: not.to(value.span),
            kind: ExprKind::Not(Box::new(value)),
        })
    }

    /// `a + b * c`, left to right, `*` and `/` first.
    pub(super) fn sum(&mut self, node: Node<'a>, base: u32) -> Expr {
        let span = self.span(&node, base);
        let mut parts = node.into_inner().peekable();
        let mut sum = Row::default();
        let mut term = Row::default();
        loop {
            term.take(self.operand(&mut parts, base, span));
            let Some(sign) = parts.next() else { break };
            let at = self.span(&sign, base);
            let op = match sign.as_str().trim_end() {
                "*" | "×" => BinaryOp::Mul,
                "/" | "÷" => BinaryOp::Div,
                "+" => BinaryOp::Add,
                _ => BinaryOp::Sub,
            };
            if matches!(op, BinaryOp::Mul | BinaryOp::Div) {
                term.join(op, at);
                continue;
            }
            self.add(&mut sum, std::mem::take(&mut term).value(span));
            sum.join(op, at);
        }
        self.add(&mut sum, term.value(span));
        sum.value(span)
    }

    /// Adds a term to a sum; what is taken off by a hyphen that may join makes nothing of both.
    fn add(&mut self, sum: &mut Row, right: Expr) {
        if let (Some(left), Some((BinaryOp::Sub, hyphen))) = (&sum.so_far, sum.pending)
            && (is_nothing(left) || self.refuse_joining_hyphen(hyphen))
        {
            *sum = Row {
                so_far: Some(nothing(left.span.to(right.span))),
                pending: None,
            };
            return;
        }
        sum.take(right);
    }

    /// Tells of `30-1/2 in` and `2 ft-6 in`, which the bench reads as one measure and arithmetic as a difference.
    fn refuse_joining_hyphen(&mut self, op: Span) -> bool {
        let (before, after) = (
            &self.text[..crate::ids::at(op.start)],
            &self.text[crate::ids::at(op.end)..],
        );
        if let Some(day) = looks_like_day(before, after) {
            self.problems.push(
                Diagnostic::error("OV-161", "this may be a day, or a difference")
                    .at(op, "")
                    .expected("a day as four digits, two and two; blanks around a minus")
                    .mend(format!("write {day} for the day; for a difference put a blank on both sides of each hyphen")),
            );
            return true;
        }
        let Some(one) = joined_by_hyphen(before, after) else {
            return false;
        };
        self.problems.push(
            Diagnostic::error("OV-137", "this hyphen may join two parts of one measure, or subtract")
                .at(op, "")
                .expected("a blank inside a measure, and blanks around a minus")
                .mend(format!("write {one} for one measure; for a difference put a blank on both sides of the hyphen")),
        );
        true
    }

    fn is_test(&mut self, left: Expr, test: Node<'a>, base: u32, span: Span) -> Expr {
        let value = Box::new(left);
        let mut negated = false;
        let mut op_span = span;
        let mut between = false;
        let mut sums = Vec::new();
        for p in test.into_inner() {
            match p.as_rule() {
                Rule::kw_is => op_span = self.span(&p, base),
                Rule::is_not => negated = true,
                Rule::kw_between => between = true,
                Rule::is_state => {
                    let test = match p.as_str() {
                        "blank" => PresenceTest::Blank,
                        "known" => PresenceTest::Known,
                        _ => PresenceTest::NotApplicable,
                    };
                    return Expr {
                        span,
                        kind: ExprKind::Presence {
                            value,
                            test,
                            negated,
                        },
                    };
                }
                Rule::labels => {
                    let labels = self.names(p, base);
                    return Expr {
                        span,
                        kind: ExprKind::IsOneOf {
                            value,
                            labels,
                            negated,
                        },
                    };
                }
                Rule::sum => sums.push(self.sum(p, base)),
                _ => {}
            }
        }
        let mut sums = sums.into_iter();
        match (between, sums.next(), sums.next()) {
            (true, Some(low), Some(high)) => Expr {
                span,
                kind: ExprKind::Between {
                    value,
                    low: Box::new(low),
                    high: Box::new(high),
                    negated,
                },
            },
            (false, Some(right), None) => {
                let op = if negated {
                    BinaryOp::IsNot
                } else {
                    BinaryOp::Is
                };
                Expr {
                    span,
                    kind: ExprKind::Binary {
                        op,
                        op_span,
                        left: value,
                        right: Box::new(right),
                    },
                }
            }
            _ => unreadable(span),
        }
    }

    /// A value with the signs before it and the words and powers after it.
    fn operand(&mut self, parts: &mut Parts<'a>, base: u32, whole: Span) -> Expr {
        let mut signs = Vec::new();
        while let Some(minus) = parts.next_if(|p| p.as_rule() == Rule::minus) {
            signs.push(self.span(&minus, base));
        }
        let mut value = self.value(parts, base, whole);
        let suffix = |p: &Node<'a>| {
            matches!(
                p.as_rule(),
                Rule::per_suffix | Rule::absent_suffix | Rule::shared_suffix
            )
        };
        while let Some(suffix) = parts.next_if(suffix) {
            value = self.suffixed(value, suffix, base);
        }
        if let Some(exponent) = parts.next_if(|p| p.as_rule() == Rule::exponent) {
            let at = self.span(&exponent, base);
            // A measure in brackets has their place, and is a value like any other.
            if let ExprKind::Quantity(q) = &value.kind
                && q.span == value.span
                && let Some(unit) = q.parts.last().and_then(|(_, unit)| unit.as_ref())
                && unit.text != "%"
            {
                let written = self.piece(value.span);
                let square = measure::of_power(written, exponent.as_str());
                let d =
                    Diagnostic::error("OV-170", "a power of a written measure is read in two ways")
                        .at(value.span.to(at), "")
                        .expected("brackets around the measure, or a unit of area or volume");
                self.problems.push(match square {
                    Some(unit) => d.mend(format!(
                        "write {unit}, or ({written}) ^ {} for the power of the whole measure",
                        exponent.as_str()
                    )),
                    None => d.mend(format!("write ({written}) ^ {}", exponent.as_str())),
                });
                value = nothing(value.span.to(at));
                return signs_before(signs, value);
            }
            let digits = exponent.as_str().replace('−', "-").replace(' ', "");
            match digits.parse::<i32>().ok().filter(|e| e.abs() <= 1000) {
                Some(exponent) => {
                    value = Expr {
                        span: value.span.to(at),
                        kind: ExprKind::Power {
                            base: Box::new(value),
                            exponent,
                        },
                    };
                }
                None => self.problems.push(
                    Diagnostic::error("OV-107", "this power is too high")
                        .at(at, "")
                        .expected("a whole number between -1000 and 1000"),
                ),
            }
        }
        signs_before(signs, value)
    }

    fn suffixed(&mut self, value: Expr, suffix: Node<'a>, base: u32) -> Expr {
        let whole = value.span.to(self.span(&suffix, base));
        let boxed = Box::new(value);
        let kind = match suffix.as_rule() {
            Rule::per_suffix => match suffix.into_inner().find(|p| p.as_rule() == Rule::unit) {
                Some(u) => ExprKind::Per {
                    value: boxed,
                    unit: self.unit(u, base),
                },
                None => boxed.kind,
            },
            Rule::absent_suffix => {
                let mut which = AbsentKind::Blank;
                let mut instead = unreadable(whole);
                for p in suffix.into_inner() {
                    match p.as_rule() {
                        Rule::absent_kind => which = absent_kind(p.as_str()),
                        Rule::atom => instead = self.atom(p, base),
                        _ => {}
                    }
                }
                ExprKind::IfAbsent {
                    value: boxed,
                    which,
                    instead: Box::new(instead),
                }
            }
            _ => {
                let mut weight = unreadable(whole);
                let mut step = None;
                for p in suffix.into_inner() {
                    match p.as_rule() {
                        Rule::atom => weight = self.atom(p, base),
                        Rule::quantity => step = Some(self.quantity(p, base)),
                        _ => {}
                    }
                }
                ExprKind::SharedBy {
                    value: boxed,
                    weight: Box::new(weight),
                    step,
                }
            }
        };
        Expr { span: whole, kind }
    }

    /// A value that stands alone.
    pub(super) fn atom(&mut self, node: Node<'a>, base: u32) -> Expr {
        let span = self.span(&node, base);
        self.value(&mut node.into_inner().peekable(), base, span)
    }

    /// The next value of a row: one node, or a name and what is asked of it.
    pub(super) fn value(&mut self, parts: &mut Parts<'a>, base: u32, whole: Span) -> Expr {
        let Some(node) = parts.next() else {
            return unreadable(whole);
        };
        let span = self.span(&node, base);
        let kind = match node.as_rule() {
            Rule::quantity => ExprKind::Quantity(self.quantity(node, base)),
            Rule::text => ExprKind::Text(self.text(&node, base)),
            Rule::truth => ExprKind::Truth(node.as_str() == "yes"),
            Rule::name => {
                let asked = parts
                    .next_if(|p| p.as_rule() == Rule::asked_of)
                    .and_then(|p| p.into_inner().next());
                return match asked {
                    Some(asked) => self.asked_of(&node, asked, base),
                    None => Expr {
                        span,
                        kind: ExprKind::Name(node.as_str().to_string()),
                    },
                };
            }
            Rule::bracketed => node
                .into_inner()
                .next()
                .map_or(ExprKind::Unknown, |inner| self.expr(inner, base).kind),
            Rule::chosen => self.chosen(node, base),
            Rule::aggregate => self.aggregate(node, base, span),
            Rule::calendar_span => self.calendar_span(node, base, span),
            Rule::taken => match self.names(node, base).into_iter().next() {
                Some(name) => ExprKind::Taken(name),
                None => ExprKind::Unknown,
            },
            _ => ExprKind::Unknown,
        };
        Expr { span, kind }
    }

    fn calendar_span(&mut self, node: Node<'a>, base: u32, whole: Span) -> ExprKind {
        let (mut working, mut otherwise) = (false, unreadable(whole));
        let mut texts = Vec::new();
        for p in node.into_inner() {
            match p.as_rule() {
                Rule::span_word => working = p.as_str().starts_with("work"),
                Rule::text => texts.push(self.text(&p, base)),
                Rule::atom => otherwise = self.atom(p, base),
                _ => {}
            }
        }
        let mut texts = texts.into_iter();
        match texts.next().zip(texts.next()) {
            Some((from, to)) => ExprKind::CalendarSpan {
                working,
                from,
                to,
                otherwise: Box::new(otherwise),
            },
            None => ExprKind::Unknown,
        }
    }

    /// `name(...)` or `name from ...`.
    fn asked_of(&mut self, name: &Node<'a>, asked: Node<'a>, base: u32) -> Expr {
        let name = self.name(name, base);
        let span = name.span.to(self.span(&asked, base));
        let kind = match asked.as_rule() {
            Rule::call => {
                let args = asked
                    .into_inner()
                    .filter(|p| p.as_rule() == Rule::expr)
                    .map(|p| self.expr(p, base))
                    .collect();
                ExprKind::Call { name, args }
            }
            _ => self.lookup(name, asked, base),
        };
        Expr { span, kind }
    }

    fn chosen(&mut self, node: Node<'a>, base: u32) -> ExprKind {
        let mut subject = unreadable(self.span(&node, base));
        let mut arms = Vec::new();
        for p in node.into_inner() {
            match p.as_rule() {
                Rule::sum => subject = self.sum(p, base),
                Rule::arm => {
                    let mut labels = Vec::new();
                    let mut head = self.span(&p, base);
                    let mut value = None;
                    for q in p.into_inner() {
                        match q.as_rule() {
                            Rule::arm_head => {
                                head = self.span(&q, base);
                                labels = self.names(q, base);
                            }
                            Rule::expr => value = Some(self.expr(q, base)),
                            _ => {}
                        }
                    }
                    if let Some(value) = value {
                        arms.push(Arm {
                            labels,
                            value,
                            span: head,
                        });
                    }
                }
                _ => {}
            }
        }
        self.commas_between_arms(&arms);
        ExprKind::Choose {
            subject: Box::new(subject),
            arms,
        }
    }

    /// `single: 1 sash, pair: 2 sash` reads as `single: 1` and `sash, pair: 2 sash`: a label that is a unit gives it away.
    fn commas_between_arms(&mut self, arms: &[Arm]) {
        let unit = |arm: &Arm| match &arm.value.kind {
            ExprKind::Quantity(q) => q
                .parts
                .last()
                .and_then(|(_, u)| u.as_ref())
                .map(|u| u.text.clone()),
            _ => None,
        };
        let units: Vec<String> = arms.iter().filter_map(unit).collect();
        let told = arms.iter().find_map(|a| {
            a.labels
                .first()
                .filter(|l| a.labels.len() > 1 && units.contains(&l.text))
        });
        if let Some(label) = told {
            self.problems.push(
                Diagnostic::error("OV-135", "there is a comma between the arms of `choose`")
                    .at(label.span, "read as a label")
                    .expected("arms side by side: single: 1 sash   pair: 2 sash; a comma joins labels of one arm"),
            );
        }
    }

    fn aggregate(&mut self, node: Node<'a>, base: u32, span: Span) -> ExprKind {
        let mut kind = AggregateKind::Sum;
        let mut atoms = Vec::new();
        let mut filter = None;
        for p in node.into_inner() {
            match p.as_rule() {
                Rule::aggregate_kind => {
                    kind = match p.as_str() {
                        "sum" => AggregateKind::Sum,
                        "count" => AggregateKind::Count,
                        "least" => AggregateKind::Least,
                        "most" => AggregateKind::Most,
                        "mean" => AggregateKind::Mean,
                        "any" => AggregateKind::Any,
                        _ => AggregateKind::All,
                    }
                }
                Rule::atom => atoms.push(self.atom(p, base)),
                Rule::condition => filter = Some(Box::new(self.condition(p, base))),
                _ => {}
            }
        }
        let mut atoms = atoms.into_iter();
        let of = Box::new(atoms.next().unwrap_or_else(|| unreadable(span)));
        ExprKind::Aggregate {
            kind,
            of,
            weight: atoms.next().map(Box::new),
            filter,
        }
    }

    fn lookup(&mut self, value: Name, node: Node<'a>, base: u32) -> ExprKind {
        let mut table = Name {
            text: String::new(),
            span: value.span,
        };
        let mut keys = Vec::new();
        let mut interpolated = false;
        for p in node.into_inner() {
            match p.as_rule() {
                Rule::name => table = self.name(&p, base),
                Rule::atom => keys.push(self.atom(p, base)),
                Rule::interpolated => interpolated = true,
                _ => {}
            }
        }
        ExprKind::Lookup {
            value,
            table,
            keys,
            interpolated,
        }
    }
}

/// What one row of signs comes to so far, read from the left, and the sign that waits for its right side.
#[derive(Default)]
struct Row {
    so_far: Option<Expr>,
    pending: Option<(BinaryOp, Span)>,
}

impl Row {
    fn take(&mut self, right: Expr) {
        self.so_far = Some(match (self.so_far.take(), self.pending.take()) {
            (Some(left), Some((op, at))) => binary(op, at, left, right),
            _ => right,
        });
    }

    pub(super) fn join(&mut self, op: BinaryOp, at: Span) {
        self.pending = Some((op, at));
    }

    pub(super) fn value(self, whole: Span) -> Expr {
        self.so_far.unwrap_or_else(|| unreadable(whole))
    }
}

fn binary(op: BinaryOp, op_span: Span, left: Expr, right: Expr) -> Expr {
    Expr {
        span: left.span.to(right.span),
        kind: ExprKind::Binary {
            op,
            op_span,
            left: Box::new(left),
            right: Box::new(right),
        },
    }
}

pub(super) fn absent_kind(text: &str) -> AbsentKind {
    if text == "blank" {
        AbsentKind::Blank
    } else {
        AbsentKind::NotApplicable
    }
}

pub(super) fn round_word(text: &str) -> RoundWord {
    let words: Vec<_> = text.split_whitespace().collect();
    RoundWord::Mode(match words.as_slice() {
        ["up"] => Rounding::Up,
        ["down"] => Rounding::Down,
        ["toward", ..] => Rounding::TowardZero,
        ["away", ..] => Rounding::AwayFromZero,
        ["half", "up"] => Rounding::HalfUp,
        ["half", "down"] => Rounding::HalfDown,
        _ => Rounding::HalfEven,
    })
}

fn signs_before(signs: Vec<Span>, value: Expr) -> Expr {
    signs.into_iter().rev().fold(value, |value, sign| Expr {
        span: sign.to(value.span),
        kind: ExprKind::Negate(Box::new(value)),
    })
}

/// A value that was refused where it is written: whatever reads it is passed over in silence.
fn nothing(span: Span) -> Expr {
    Expr {
        span,
        kind: ExprKind::Quantity(Quantity {
            parts: Vec::new(),
            point: None,
            span,
        }),
    }
}

fn is_nothing(e: &Expr) -> bool {
    matches!(&e.kind, ExprKind::Quantity(q) if q.parts.is_empty() && q.point.is_none())
}

/// Stands for a part the grammar promised and did not give; the grammar's own tests keep it out of reach.
fn unreadable(span: Span) -> Expr {
    Expr {
        span,
        kind: ExprKind::Unknown,
    }
}
