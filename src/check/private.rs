//! Names through which a figure marked `private` can be read: the names so marked, and rules whose value is made of them.
//!
//! Nodes can't tell: a given that is the same on every row is one node with every equal number. What is only asked about in a condition
//! leaves no figure behind.

use super::typed::*;
use crate::program::{PartDef, Version};
use crate::syntax::tree::{self, BinaryOp, Expr, ExprKind};
use foldhash::{HashMap, HashSet};

impl<'a> Checker<'a> {
    /// Puts the names into the version.
    pub(super) fn private_of(&self, version: &mut Version) {
        let marked = self.declared.defs.iter().any(|d| is_private(&d.kind));
        if !marked {
            return;
        }
        let mut read_by: HashMap<&'a str, Vec<&'a str>> = HashMap::default();
        for (at, def) in self.declared.defs.iter().enumerate() {
            let mut names = Vec::new();
            match self.work.in_force.get(&at).filter(|c| !c.is_empty()) {
                Some(changes) => {
                    for change in changes {
                        self.value_names(&change.change.to, &mut names);
                    }
                }
                None => {
                    if let DefKind::Rule(rule) = &def.kind {
                        self.value_names(&rule.value, &mut names);
                    }
                }
            }
            for name in names {
                read_by.entry(name).or_default().push(&def.name.text);
            }
        }
        let private = self.declared.defs.iter().filter(|d| is_private(&d.kind));
        let mut todo: Vec<&'a str> = private.map(|d| d.name.text.as_str()).collect();
        while let Some(name) = todo.pop() {
            if version.private_names.insert(name.to_owned()) {
                todo.extend(read_by.get(name).into_iter().flatten());
            }
        }
    }

    /// Whether a formula shows a private figure.
    pub(super) fn shows_private(&self, e: &'a Expr, version: &Version) -> bool {
        let mut names = Vec::new();
        self.value_names(e, &mut names);
        names.iter().any(|n| version.private_names.contains(*n))
    }

    /// Whether a part shows a private figure in its sizes, its count or what is said of it.
    pub(super) fn part_shows_private(&self, part: &PartDef, version: &Version) -> bool {
        self.shown_in_part(part, version, |tree| {
            let sizes = tree.sizes.iter();
            let sizes = sizes.flat_map(|s| [Some(&s.finished), s.rough.as_ref()]);
            let said = tree.said.iter().map(|(_, e)| e);
            sizes.flatten().chain(said).chain([&tree.count]).collect()
        })
    }

    /// Whether it shows one in its place, as a drawing does.
    pub(super) fn place_shows_private(&self, part: &PartDef, version: &Version) -> bool {
        self.shown_in_part(part, version, |tree| {
            let places = tree.places.iter();
            places
                .flat_map(|p| [Some(&p.at), p.each.as_ref()])
                .flatten()
                .collect()
        })
    }

    fn shown_in_part(
        &self,
        part: &PartDef,
        version: &Version,
        formulas: impl Fn(&'a tree::Part) -> Vec<&'a Expr>,
    ) -> bool {
        if version.private_names.is_empty() {
            return false;
        }
        let lines = self.declared.blocks.iter().flat_map(|b| b.lines);
        let mut trees = lines
            .filter_map(tree::ForLine::part)
            .filter(|tree| tree.span == part.span);
        let shown = |e: &'a Expr| self.shows_private(e, version);
        trees.any(|tree| formulas(tree).into_iter().any(shown))
    }

    /// The names whose figures a formula hands on, those in the bodies of helpers it calls among them.
    fn value_names(&self, e: &'a Expr, out: &mut Vec<&'a str>) {
        let mut called: HashSet<&'a str> = HashSet::default();
        let mut todo: Vec<&'a Expr> = vec![e];
        while let Some(e) = todo.pop() {
            match &e.kind {
                ExprKind::Name(name) => out.push(name),
                ExprKind::Call { name, args } => {
                    todo.extend(args);
                    let helper = self.declared.helpers.get(name.text.as_str());
                    if let Some(helper) = helper.filter(|h| called.insert(&h.name.text)) {
                        todo.push(helper.body);
                    }
                }
                ExprKind::Binary {
                    op: BinaryOp::Add | BinaryOp::Sub | BinaryOp::Mul | BinaryOp::Div,
                    left,
                    right,
                    ..
                } => todo.extend([&**left, right]),
                ExprKind::Negate(a)
                | ExprKind::Power { base: a, .. }
                | ExprKind::Per { value: a, .. }
                | ExprKind::CalendarSpan { otherwise: a, .. } => todo.push(a),
                ExprKind::Rounded { value, step, .. } => todo.extend([&**value, step]),
                ExprKind::If {
                    then, otherwise, ..
                } => todo.extend([&**then, otherwise]),
                ExprKind::Choose { arms, .. } => todo.extend(arms.iter().map(|a| &a.value)),
                ExprKind::Aggregate {
                    kind, of, weight, ..
                } => {
                    use tree::AggregateKind::*;
                    match kind {
                        Sum | Least | Most | Mean => {
                            todo.push(of);
                            todo.extend(weight.as_deref());
                        }
                        Count | Any | All => {}
                    }
                }
                ExprKind::Lookup { keys, .. } => todo.extend(keys),
                ExprKind::IfAbsent { value, instead, .. } => todo.extend([&**value, instead]),
                ExprKind::SharedBy { value, weight, .. } => todo.extend([&**value, weight]),
                ExprKind::Binary { .. }
                | ExprKind::Quantity(_)
                | ExprKind::Text(_)
                | ExprKind::Truth(_)
                | ExprKind::Unknown
                | ExprKind::Not(_)
                | ExprKind::Taken(_)
                | ExprKind::Presence { .. }
                | ExprKind::IsOneOf { .. }
                | ExprKind::Between { .. } => {}
            }
        }
    }
}

/// Whether a sheet marks a definition as private.
pub(super) fn is_private(kind: &DefKind<'_>) -> bool {
    match kind {
        DefKind::Column { column, .. } => column.private,
        DefKind::Given(given) => given.private,
        DefKind::Rule(rule) => rule.private,
        DefKind::Decide(_) => false,
    }
}
