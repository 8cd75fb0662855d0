//! Values brought up from the rows below, the largest shown one by one and the rest as one line; and amounts shared out.

use super::builder::{Builder, Here};
use super::tree::{Tree, What};
use crate::eval::Cell;
use crate::number::{Exact, NumError};
use crate::program::{Grain, Kind, NodeId};
use crate::syntax::tree::{AggregateKind, Expr};
use crate::units::UnitExpr;
use std::collections::HashSet;

/// A row that takes part in a sum, with its amount.
pub(super) type Part = (usize, Exact);

/// What is brought up: an expression over rows of `below`, with its value on each.
struct Gathered<'a, 'x> {
    of: &'a Expr,
    of_node: NodeId,
    below: Grain,
    cells: Vec<(usize, Cell)>,
    here: Here<'x>,
}

impl<'x> Gathered<'_, 'x> {
    fn at(&self, row: usize) -> Here<'x> {
        Here {
            grain: self.below,
            row,
            own: None,
            unit: self.here.unit,
            level: self.here.level,
        }
    }
}

impl<'a> Builder<'a> {
    /// The rows of `below` that belong to a row of `here`.
    pub(super) fn rows_below(&self, below: Grain, here: (Grain, usize)) -> Vec<usize> {
        (0..self.rows(below))
            .filter(|row| self.row_up(below, *row, here.0) == Some(here.1))
            .collect()
    }

    #[expect(
        clippy::wildcard_enum_match_arm,
        reason = "sums and counts alone are gathered"
    )]
    pub(super) fn gathered(
        &mut self,
        e: &'a Expr,
        kind: AggregateKind,
        of: &'a Expr,
        weight: Option<&'a Expr>,
        filter: Option<&'a Expr>,
        here: Here<'_>,
    ) -> Tree {
        let mut tree = self.of_span(What::Gathered, self.text_of(e.span), e.span, here);
        tree.place = Some(e.span.into());
        let Some(node) = self.node_at(e.span) else {
            return tree;
        };
        let (of_node, weight_node, filter_node, below) = match &self.program().node(node).kind {
            Kind::Up {
                of, weight, filter, ..
            } => (Some(*of), *weight, *filter, self.program().node(*of).grain),
            Kind::Count { of, filter } => (None, None, *filter, *of),
            _ => return tree,
        };
        if let Grain::Group(g) = below
            && self.results.groups(g).is_none()
        {
            self.want_groups(g);
        }
        let mut rows = self.rows_below(below, (here.grain, here.row));
        let all = rows.len();
        if let Some(filter_node) = filter_node {
            rows.retain(|row| self.cell(filter_node, *row) == Cell::Truth(true));
        }
        tree.fact("over", self.counted(below, rows.len(), all, filter));
        let Some(of_node) = of_node else {
            let marks = self.some_marks(below, &rows);
            tree.fact("rows", marks);
            return tree;
        };
        let cells: Vec<(usize, Cell)> = rows
            .iter()
            .map(|row| (*row, self.cell(of_node, *row)))
            .collect();
        let lacking: Vec<usize> = cells
            .iter()
            .filter(|(_, c)| matches!(c, Cell::Absent(_)))
            .map(|(r, _)| *r)
            .collect();
        if !lacking.is_empty() {
            let marks = self.some_marks(below, &lacking);
            tree.fact("left out, unknown", marks);
        }
        let gathered = Gathered {
            of,
            of_node,
            below,
            cells,
            here,
        };
        match kind {
            AggregateKind::Sum => {
                self.summed(&mut tree, &gathered);
                if let Some(filter) = filter
                    && let Some(row) = rows.first()
                {
                    // Why the first row that counts does.
                    self.walk(filter, gathered.at(*row), &mut tree.from);
                }
            }
            AggregateKind::Least | AggregateKind::Most => self.extreme_part(&mut tree, &gathered),
            AggregateKind::Any | AggregateKind::All => {
                self.decisive_part(&mut tree, kind, &gathered)
            }
            AggregateKind::Mean => {
                if let Some(weight_node) = weight_node
                    && let Some(weight) = weight
                {
                    self.mean_parts(&mut tree, &gathered, (weight, weight_node));
                }
            }
            // A count has no operand; it ended above.
            AggregateKind::Count => {}
        }
        tree
    }

    /// The rows of a sum.
    fn summed(&mut self, tree: &mut Tree, gathered: &Gathered<'a, '_>) {
        let parts: Vec<Part> = gathered
            .cells
            .iter()
            .filter_map(|(row, c)| {
                if let Cell::Number(n) = c {
                    Some((*row, n.clone()))
                } else {
                    None
                }
            })
            .collect();
        self.sum_parts(
            tree,
            parts,
            gathered.of_node,
            gathered.below,
            gathered.here.unit,
            |b, row, part| b.part_from(gathered.of, gathered.at(row), part),
        );
    }

    /// The first row with the least or the greatest value.
    fn extreme_part(&mut self, tree: &mut Tree, gathered: &Gathered<'a, '_>) {
        let best = gathered
            .cells
            .iter()
            .find(|(_, c)| matches!((c, &tree.number), (Cell::Number(a), Some(b)) if a == b));
        if let Some((row, _)) = best {
            self.one_part(tree, gathered, *row, gathered.here.unit);
        }
    }

    /// How many rows decide `any` or `all`, and the first of them.
    fn decisive_part(&mut self, tree: &mut Tree, kind: AggregateKind, gathered: &Gathered<'a, '_>) {
        let is_any = kind == AggregateKind::Any;
        let decisive = Cell::Truth(is_any);
        let found: Vec<usize> = gathered
            .cells
            .iter()
            .filter(|(_, c)| *c == decisive)
            .map(|(row, _)| *row)
            .collect();
        tree.fact(
            if is_any {
                "holds on"
            } else {
                "does not hold on"
            },
            format!("{} of them", found.len()),
        );
        if let Some(row) = found.first() {
            self.one_part(tree, gathered, *row, None);
        }
    }

    fn one_part(
        &mut self,
        tree: &mut Tree,
        gathered: &Gathered<'a, '_>,
        row: usize,
        unit: Option<&UnitExpr>,
    ) {
        let mut part = self.tree_of(What::Part, "", gathered.of_node, row, unit);
        part.at = self.mark(gathered.below, row);
        self.part_from(gathered.of, gathered.at(row), &mut part);
        tree.from.push(part);
    }

    /// The rows that weigh most in a mean, each with its value and weight.
    fn mean_parts(
        &mut self,
        tree: &mut Tree,
        gathered: &Gathered<'a, '_>,
        (weight, weight_node): (&'a Expr, NodeId),
    ) {
        let mut weights: Vec<Part> = Vec::new();
        for (row, _) in &gathered.cells {
            let weight = self.number(weight_node, *row);
            weights.extend(weight.map(|w| (*row, w)));
        }
        weights.sort_by(|a, b| b.1.cmp(&a.1));
        for (row, _) in weights.iter().take(self.options.most) {
            let unit = gathered.here.unit;
            let mut part = self.tree_of(What::Part, "", gathered.of_node, *row, unit);
            part.at = self.mark(gathered.below, *row);
            let weighs = self.shown(weight_node, *row, None);
            part.fact("weighs", weighs);
            let at = gathered.at(*row);
            self.part_from(gathered.of, at, &mut part);
            self.walk(weight, at, &mut part.from);
            tree.from.push(part);
        }
        if weights.len() > self.options.most {
            tree.fact(
                "and",
                format!(
                    "{} more rows that weigh less",
                    weights.len() - self.options.most
                ),
            );
        }
    }

    /// Puts the parts of a sum under it: the largest first, then all others as one line. Parts of nothing are not shown.
    pub(super) fn sum_parts(
        &mut self,
        tree: &mut Tree,
        mut parts: Vec<Part>,
        node: NodeId,
        grain: Grain,
        unit: Option<&UnitExpr>,
        mut explain: impl FnMut(&mut Self, usize, &mut Tree),
    ) {
        parts.retain(|(_, n)| !n.is_zero());
        parts.sort_by_key(|p| std::cmp::Reverse(p.1.abs())); // stable: equal parts keep the order of the survey
        let most = self.options.most;
        // One line of rest for a single row would say less than the row.
        let shown = if parts.len() == most + 1 {
            most + 1
        } else {
            most
        };
        let rest: Vec<Part> = parts.split_off(shown.min(parts.len()));
        for (row, number) in parts {
            let mut part = self.tree_of(What::Part, "", node, row, unit);
            part.number = Some(number);
            part.at = self.mark(grain, row);
            explain(self, row, &mut part);
            tree.addends.push(part);
        }
        if rest.is_empty() {
            return;
        }
        match total(rest.iter().map(|(_, n)| n)) {
            Ok(sum) => {
                let text = self.amount_text(node, &sum, unit);
                tree.addends.push(
                    Tree::new(What::Rest, format!("{} more", rest.len())).valued(text, Some(sum)),
                );
            }
            Err(_) => tree.fact("rest", "too long to be kept exactly"),
        }
    }

    /// An amount of a node's kind as text.
    pub(super) fn amount_text(
        &self,
        node: NodeId,
        amount: &Exact,
        unit: Option<&UnitExpr>,
    ) -> String {
        let unit = unit.filter(|u| matches!(&self.program().node(node).ty, crate::program::Ty::Number(n) if n.dim == *u.dim()));
        crate::show::cell_text(self.program(), node, &Cell::Number(amount.clone()), unit)
    }

    /// What a part is calculated from. Where that is one named value with the part's own value, its parts are taken up instead of it.
    fn part_from(&mut self, of: &'a Expr, here: Here<'_>, part: &mut Tree) {
        if self.too_deep(here.level) {
            part.deeper = true;
            return;
        }
        let mut below = Vec::new();
        self.walk(of, here, &mut below);
        part.from = below;
    }

    fn counted(&self, below: Grain, rows: usize, all: usize, filter: Option<&Expr>) -> String {
        let nouns = &self.program().nouns;
        let noun = match below {
            Grain::Table(t) => self.program().tables.get(t).map(|t| t.noun),
            Grain::Group(g) => self.program().groups.get(g).map(|g| g.noun),
            Grain::Job | Grain::Const => None,
        };
        let word = noun.map_or("row", |n| {
            nouns.plural(n, &Exact::int(crate::ids::count(rows)))
        });
        match filter {
            Some(filter) => format!(
                "{rows} {word} of {all}, where {}",
                self.text_of(filter.span)
            ),
            None => format!("{rows} {word}"),
        }
    }

    /// The first marks of some rows.
    pub(super) fn some_marks(&mut self, grain: Grain, rows: &[usize]) -> String {
        let mut seen = HashSet::new();
        let mut marks: Vec<String> = Vec::new();
        for row in rows.iter().take(self.options.most) {
            let mark = self
                .mark(grain, *row)
                .unwrap_or_else(|| "the whole job".to_owned());
            if seen.insert(mark.clone()) {
                marks.push(mark);
            }
        }
        let more = rows.len().saturating_sub(self.options.most);
        if more > 0 {
            format!("{} and {more} more", marks.join(", "))
        } else {
            marks.join(", ")
        }
    }

    /// A coarser amount shared out over rows here.
    pub(super) fn shared(&mut self, e: &'a Expr, weight: &'a Expr, here: Here<'_>) -> Tree {
        let mut tree = self.of_span(What::Share, self.text_of(e.span), e.span, here);
        tree.place = Some(e.span.into());
        let Some(node) = self.node_at(e.span) else {
            return tree;
        };
        let Kind::Share {
            whole,
            weight: weight_node,
            ..
        } = self.program().node(node).kind
        else {
            return tree;
        };
        let coarse = self.program().node(whole).grain;
        let Some(above) = self.row_up(here.grain, here.row, coarse) else {
            return tree;
        };
        let whole_text = self.shown(whole, above, here.unit);
        tree.fact("whole", whole_text);
        let own = self.shown(weight_node, here.row, None);
        tree.fact(
            "weighs here",
            format!("{own} ({})", self.text_of(weight.span)),
        );
        let mut weights = Vec::new();
        for row in self.rows_below(here.grain, (coarse, above)) {
            weights.extend(self.number(weight_node, row));
        }
        if let Ok(sum) = total(&weights) {
            let text = self.amount_text(weight_node, &sum, None);
            tree.fact("weighs in all", text);
        }
        tree
    }
}

/// The sum of exact values.
pub(super) fn total<'x>(values: impl IntoIterator<Item = &'x Exact>) -> Result<Exact, NumError> {
    values
        .into_iter()
        .try_fold(Exact::ZERO, |sum, x| sum.add(x))
}
