//! Expressions and quantities.

use super::super::mistakes::joined_by_hyphen;
use super::super::tree::*;
use super::{Node, Reader, Rule};
use crate::diagnostics::{Diagnostic, Span};
use crate::number::{Exact, Rounding};

/// Digits of one written number.
const MOST_DIGITS: usize = 40;

impl<'a> Reader<'a> {
    pub(super) fn expr(&mut self, node: Node<'a>, base: u32) -> Expr {
        let span = self.span(&node, base);
        let mut parts = node.into_inner();
        let Some(first) = parts.next() else { return unreadable(span) };
        let mut value = self.branch(first, base);
        for rounding in parts.filter(|p| p.as_rule() == Rule::rounding) {
            let end = self.span(&rounding, base);
            let mut word = RoundWord::Nearest;
            let mut step = unreadable(end);
            for p in rounding.into_inner() {
                match p.as_rule() {
                    Rule::round_mode => word = round_word(p.as_str()),
                    Rule::postfix => step = self.branch(p, base),
                    _ => {}
                }
            }
            value = Expr { span: value.span.to(end), kind: ExprKind::Rounded { value: Box::new(value), word, step: Box::new(step) } };
        }
        value
    }

    /// Reads any rung of the ladder of operators. Rungs that hold nothing but the next are stepped over: brackets in one another
    /// would else take a dozen calls a level.
    pub(super) fn branch(&mut self, mut node: Node<'a>, base: u32) -> Expr {
        while let Some(only) = only_rung(&node) {
            node = only;
        }
        match node.as_rule() {
            Rule::conditional => self.conditional(node, base),
            Rule::or_else | Rule::and_also | Rule::sum | Rule::term => self.chain(node, base),
            Rule::negation => self.negation(node, base),
            Rule::comparison => self.comparison(node, base),
            Rule::factor => self.factor(node, base),
            Rule::power => self.power(node, base),
            Rule::postfix => self.postfix(node, base),
            Rule::atom => self.atom(node, base),
            _ => unreadable(self.span(&node, base)),
        }
    }

    fn conditional(&mut self, node: Node<'a>, base: u32) -> Expr {
        let span = self.span(&node, base);
        let mut b = node.into_inner().filter(|n| n.as_rule() == Rule::branch).map(|n| self.branch(n, base));
        match (b.next(), b.next(), b.next()) {
            (Some(c), Some(t), Some(e)) => {
                Expr { span, kind: ExprKind::If { condition: Box::new(c), then: Box::new(t), otherwise: Box::new(e) } }
            }
            _ => unreadable(span),
        }
    }

    /// `a op b op c`, left to right.
    fn chain(&mut self, node: Node<'a>, base: u32) -> Expr {
        let span = self.span(&node, base);
        let mut value: Option<Expr> = None;
        let mut pending: Option<(BinaryOp, Span)> = None;
        for part in node.into_inner() {
            let op = match part.as_rule() {
                Rule::kw_or => Some(BinaryOp::Or),
                Rule::kw_and => Some(BinaryOp::And),
                Rule::add_op => Some(if part.as_str() == "+" { BinaryOp::Add } else { BinaryOp::Sub }),
                Rule::mul_op => Some(if matches!(part.as_str(), "*" | "×") { BinaryOp::Mul } else { BinaryOp::Div }),
                _ => None,
            };
            if let Some(op) = op {
                pending = Some((op, self.span(&part, base)));
                continue;
            }
            let right = self.branch(part, base);
            value = Some(match (value, pending.take()) {
                (Some(left), Some((BinaryOp::Sub, op_span))) if is_nothing(&left) || self.refuse_joining_hyphen(op_span) => {
                    nothing(left.span.to(right.span))
                }
                (Some(left), Some((op, op_span))) => Expr {
                    span: left.span.to(right.span),
                    kind: ExprKind::Binary { op, op_span, left: Box::new(left), right: Box::new(right) },
                },
                _ => right,
            });
        }
        value.unwrap_or_else(|| unreadable(span))
    }

    /// Tells of `30-1/2 in` and `2 ft-6 in`, which the bench reads as one measure and arithmetic as a difference.
    fn refuse_joining_hyphen(&mut self, op: Span) -> bool {
        let (before, after) = (&self.text[..op.start as usize], &self.text[op.end as usize..]);
        let Some(one) = joined_by_hyphen(before, after) else { return false };
        self.problems.push(
            Diagnostic::error("OV-137", "this hyphen may join two parts of one measure, or subtract")
                .at(op, "")
                .expected("a blank inside a measure, and blanks around a minus")
                .mend(format!("write {one} for one measure; for a difference put a blank on both sides of the hyphen")),
        );
        true
    }

    fn negation(&mut self, node: Node<'a>, base: u32) -> Expr {
        let span = self.span(&node, base);
        let mut negated = false;
        for part in node.into_inner() {
            match part.as_rule() {
                Rule::kw_not => negated = true,
                Rule::negation => {
                    let inner = self.branch(part, base);
                    return if negated { Expr { span, kind: ExprKind::Not(Box::new(inner)) } } else { inner };
                }
                _ => return self.branch(part, base),
            }
        }
        unreadable(span)
    }

    fn comparison(&mut self, node: Node<'a>, base: u32) -> Expr {
        let span = self.span(&node, base);
        let mut parts = node.into_inner();
        let Some(first) = parts.next() else { return unreadable(span) };
        let left = self.branch(first, base);
        match parts.next() {
            None => left,
            Some(p) if p.as_rule() == Rule::relation => {
                let op = match p.as_str() {
                    "<" => BinaryOp::Less,
                    "<=" | "≤" => BinaryOp::LessEq,
                    ">" => BinaryOp::Greater,
                    _ => BinaryOp::GreaterEq,
                };
                let op_span = self.span(&p, base);
                let right = match parts.next() {
                    Some(r) => self.branch(r, base),
                    None => unreadable(op_span),
                };
                Expr { span, kind: ExprKind::Binary { op, op_span, left: Box::new(left), right: Box::new(right) } }
            }
            Some(test) => self.is_test(left, test, base, span),
        }
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
                    return Expr { span, kind: ExprKind::Presence { value, test, negated } };
                }
                Rule::labels => {
                    let labels = self.names(p, base);
                    return Expr { span, kind: ExprKind::IsOneOf { value, labels, negated } };
                }
                Rule::sum => sums.push(self.branch(p, base)),
                _ => {}
            }
        }
        let mut sums = sums.into_iter();
        match (between, sums.next(), sums.next()) {
            (true, Some(low), Some(high)) => {
                Expr { span, kind: ExprKind::Between { value, low: Box::new(low), high: Box::new(high), negated } }
            }
            (false, Some(right), None) => {
                let op = if negated { BinaryOp::IsNot } else { BinaryOp::Is };
                Expr { span, kind: ExprKind::Binary { op, op_span, left: value, right: Box::new(right) } }
            }
            _ => unreadable(span),
        }
    }

    fn factor(&mut self, node: Node<'a>, base: u32) -> Expr {
        let span = self.span(&node, base);
        let mut minus = false;
        for p in node.into_inner() {
            match p.as_rule() {
                Rule::minus => minus = true,
                Rule::factor => {
                    let inner = self.branch(p, base);
                    return if minus { Expr { span, kind: ExprKind::Negate(Box::new(inner)) } } else { inner };
                }
                _ => return self.branch(p, base),
            }
        }
        unreadable(span)
    }

    fn power(&mut self, node: Node<'a>, base: u32) -> Expr {
        let span = self.span(&node, base);
        let mut value = unreadable(span);
        for p in node.into_inner() {
            match p.as_rule() {
                Rule::postfix => value = self.branch(p, base),
                Rule::exponent => {
                    let digits = p.as_str().replace('−', "-").replace(' ', "");
                    let exponent = digits.parse::<i32>().ok().filter(|e| e.abs() <= 1000);
                    match exponent {
                        Some(exponent) => value = Expr { span, kind: ExprKind::Power { base: Box::new(value), exponent } },
                        None => self.problems.push(
                            Diagnostic::error("OV-107", "this power is too high")
                                .at(self.span(&p, base), "")
                                .expected("a whole number between -1000 and 1000"),
                        ),
                    }
                }
                _ => {}
            }
        }
        value
    }

    fn postfix(&mut self, node: Node<'a>, base: u32) -> Expr {
        let span = self.span(&node, base);
        let mut parts = node.into_inner();
        let Some(first) = parts.next() else { return unreadable(span) };
        let mut value = self.atom(first, base);
        for suffix in parts {
            let Some(inner) = suffix.into_inner().next() else { continue };
            let whole = value.span.to(self.span(&inner, base));
            let boxed = Box::new(value);
            let kind = match inner.as_rule() {
                Rule::per_suffix => {
                    let unit = inner.into_inner().find(|p| p.as_rule() == Rule::unit);
                    match unit {
                        Some(u) => ExprKind::Per { value: boxed, unit: self.unit(u, base) },
                        None => boxed.kind,
                    }
                }
                Rule::absent_suffix => {
                    let mut which = AbsentKind::Blank;
                    let mut instead = unreadable(whole);
                    for p in inner.into_inner() {
                        match p.as_rule() {
                            Rule::absent_kind => which = absent_kind(p.as_str()),
                            Rule::atom => instead = self.atom(p, base),
                            _ => {}
                        }
                    }
                    ExprKind::IfAbsent { value: boxed, which, instead: Box::new(instead) }
                }
                _ => {
                    let mut weight = unreadable(whole);
                    let mut step = None;
                    for p in inner.into_inner() {
                        match p.as_rule() {
                            Rule::atom => weight = self.atom(p, base),
                            Rule::quantity => step = Some(self.quantity(p, base)),
                            _ => {}
                        }
                    }
                    ExprKind::SharedBy { value: boxed, weight: Box::new(weight), step }
                }
            };
            value = Expr { span: whole, kind };
        }
        value
    }

    pub(super) fn atom(&mut self, node: Node<'a>, base: u32) -> Expr {
        let span = self.span(&node, base);
        let Some(inner) = node.into_inner().next() else { return unreadable(span) };
        let kind = match inner.as_rule() {
            Rule::quantity => ExprKind::Quantity(self.quantity(inner, base)),
            Rule::text => ExprKind::Text(self.text(&inner, base)),
            Rule::truth => ExprKind::Truth(inner.as_str() == "yes"),
            Rule::unknown => ExprKind::Unknown,
            Rule::name => ExprKind::Name(inner.as_str().to_string()),
            Rule::expr => self.expr(inner, base).kind,
            Rule::chosen => self.chosen(inner, base),
            Rule::aggregate => self.aggregate(inner, base, span),
            Rule::lookup => self.lookup(inner, base, span),
            Rule::call => {
                let mut parts = inner.into_inner();
                let name = parts.next().map(|n| self.name(&n, base));
                let args = parts.filter(|p| p.as_rule() == Rule::expr).map(|p| self.expr(p, base)).collect();
                match name {
                    Some(name) => ExprKind::Call { name, args },
                    None => ExprKind::Unknown,
                }
            }
            _ => ExprKind::Unknown,
        };
        Expr { span, kind }
    }

    fn chosen(&mut self, node: Node<'a>, base: u32) -> ExprKind {
        let mut subject = unreadable(self.span(&node, base));
        let mut arms = Vec::new();
        for p in node.into_inner() {
            match p.as_rule() {
                Rule::sum => subject = self.branch(p, base),
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
                        arms.push(Arm { labels, value, span: head });
                    }
                }
                _ => {}
            }
        }
        self.commas_between_arms(&arms);
        ExprKind::Choose { subject: Box::new(subject), arms }
    }

    /// `single: 1 sash, pair: 2 sash` reads as `single: 1` and `sash, pair: 2 sash`: a label that is a unit gives it away.
    fn commas_between_arms(&mut self, arms: &[Arm]) {
        let unit = |arm: &Arm| match &arm.value.kind {
            ExprKind::Quantity(q) => q.parts.last().and_then(|(_, u)| u.as_ref()).map(|u| u.text.clone()),
            _ => None,
        };
        let units: Vec<String> = arms.iter().filter_map(unit).collect();
        let told = arms.iter().find_map(|a| a.labels.first().filter(|l| a.labels.len() > 1 && units.contains(&l.text)));
        if let Some(label) = told {
            self.problems.push(
                Diagnostic::error("OV-135", "no comma stands between the arms of `choose`")
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
                Rule::or_else => filter = Some(Box::new(self.branch(p, base))),
                _ => {}
            }
        }
        let mut atoms = atoms.into_iter();
        let of = Box::new(atoms.next().unwrap_or_else(|| unreadable(span)));
        ExprKind::Aggregate { kind, of, weight: atoms.next().map(Box::new), filter }
    }

    fn lookup(&mut self, node: Node<'a>, base: u32, span: Span) -> ExprKind {
        let mut names = Vec::new();
        let mut keys = Vec::new();
        let mut interpolated = false;
        for p in node.into_inner() {
            match p.as_rule() {
                Rule::name => names.push(self.name(&p, base)),
                Rule::atom => keys.push(self.atom(p, base)),
                Rule::interpolated => interpolated = true,
                _ => {}
            }
        }
        let none = || Name { text: String::new(), span };
        let mut names = names.into_iter();
        let value = names.next().unwrap_or_else(none);
        let table = names.next().unwrap_or_else(none);
        ExprKind::Lookup { value, table, keys, interpolated }
    }

    pub(super) fn quantity(&mut self, node: Node<'a>, base: u32) -> Quantity {
        let span = self.span(&node, base);
        let mut parts: Vec<(Exact, Option<UnitText>)> = Vec::new();
        let told = self.problems.len();
        let unit = |text: &str| Some(UnitText { text: text.into(), span });
        let mut stack: Vec<Node<'a>> = node.into_inner().rev().collect();
        while let Some(p) = stack.pop() {
            match p.as_rule() {
                Rule::percent => {
                    if let Some(n) = p.into_inner().next() {
                        let value = self.number(&n, base);
                        parts.push((value, unit("%")));
                    }
                }
                Rule::feet => {
                    let text = p.as_str().trim_end_matches(['\'', '′', '’']);
                    let value = self.plain(text, span);
                    parts.push((value, unit("ft")));
                }
                Rule::inches => {
                    let text = p.as_str().trim_end_matches(['"', '″', '”']);
                    let value = self.plain(text, span);
                    parts.push((value, unit("in")));
                }
                Rule::feet_inches => stack.extend(p.into_inner().rev()),
                Rule::number => {
                    let value = self.number(&p, base);
                    parts.push((value, None));
                }
                Rule::unit => {
                    let u = self.unit(p, base);
                    if let Some(last) = parts.last_mut() {
                        last.1 = Some(u);
                    }
                }
                _ => {}
            }
        }
        // A number that can't be kept makes no quantity: what would follow from a stand-in for it is not told.
        if self.problems.len() > told {
            parts.clear();
        }
        Quantity { parts, span }
    }

    pub(super) fn number(&mut self, node: &Node<'a>, base: u32) -> Exact {
        let span = self.span(node, base);
        self.plain(node.as_str(), span)
    }

    /// A written number: plain, fraction or mixed, with Unicode fractions.
    fn plain(&mut self, text: &str, span: Span) -> Exact {
        let digits = text.chars().filter(char::is_ascii_digit).count();
        if digits <= MOST_DIGITS {
            let mut plain = String::new();
            for c in text.chars() {
                match vulgar(c) {
                    Some(f) => {
                        if !plain.is_empty() && !plain.ends_with(' ') {
                            plain.push(' ');
                        }
                        plain.push_str(f);
                    }
                    None => plain.push(c),
                }
            }
            let tidy = plain.split_whitespace().collect::<Vec<_>>().join(" ");
            if let Some(value) = Exact::parse_plain(&tidy) {
                return value;
            }
        }
        let problem = if digits > MOST_DIGITS {
            Diagnostic::error("OV-108", "this number has too many digits")
                .found(format!("{digits} digits"))
                .expected(format!("at most {MOST_DIGITS} digits"))
        } else {
            Diagnostic::error("OV-109", "this is not a number").found(text.to_string()).note("a fraction needs a denominator above zero")
        };
        self.problems.push(problem.at(span, ""));
        Exact::ONE
    }
}

/// The rung that a rung without an operator of its own holds.
fn only_rung<'a>(node: &Node<'a>) -> Option<Node<'a>> {
    let rung = matches!(
        node.as_rule(),
        Rule::branch
            | Rule::or_else
            | Rule::and_also
            | Rule::negation
            | Rule::comparison
            | Rule::sum
            | Rule::term
            | Rule::factor
            | Rule::power
            | Rule::postfix
    );
    let mut inner = node.clone().into_inner();
    inner.next().filter(|_| rung && inner.next().is_none())
}

fn vulgar(c: char) -> Option<&'static str> {
    Some(match c {
        '½' => "1/2",
        '¼' => "1/4",
        '¾' => "3/4",
        '⅛' => "1/8",
        '⅜' => "3/8",
        '⅝' => "5/8",
        '⅞' => "7/8",
        '⅓' => "1/3",
        '⅔' => "2/3",
        '⅕' => "1/5",
        '⅖' => "2/5",
        '⅗' => "3/5",
        '⅘' => "4/5",
        '⅙' => "1/6",
        '⅚' => "5/6",
        _ => return None,
    })
}

pub(super) fn absent_kind(text: &str) -> AbsentKind {
    if text == "blank" { AbsentKind::Blank } else { AbsentKind::NotApplicable }
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

/// A value that was refused where it is written: whatever reads it is passed over in silence.
fn nothing(span: Span) -> Expr {
    Expr { span, kind: ExprKind::Quantity(Quantity { parts: Vec::new(), span }) }
}

fn is_nothing(e: &Expr) -> bool {
    matches!(&e.kind, ExprKind::Quantity(q) if q.parts.is_empty())
}

/// Stands for a part the grammar promised and did not give; the grammar's own tests keep it out of reach.
fn unreadable(span: Span) -> Expr {
    Expr { span, kind: ExprKind::Unknown }
}
