//! Roll-ups of the estimate: what a resource, a phase, a charge and the total are made of, down to the take-off lines.
//!
//! Repeats no pricing: amounts come from the estimate, and a sum's parts are its lines.

use super::builder::Builder;
use super::gather::total;
use super::tree::{Tree, What};
use crate::number::{Exact, Written, cents_grouped, decimal};
use crate::pricing::{BuyLine, ChargeKind, CostLine, Estimate};
use crate::program::{ChargeAmountDef, ChargeBase, ResourceClass, ResourceDef, ResourceId};
use crate::report::words;
use crate::units::{Style, format_quantity};

impl<'a> Builder<'a> {
    pub(super) fn estimate(&self) -> &'a Estimate {
        self.subject.estimate
    }

    pub(super) fn money(&self, what: What, name: impl Into<String>, cents: i128) -> Tree {
        let number = Some(Exact::from_cents(cents));
        Tree::new(what, name).valued(self.currency(&cents_grouped(cents)), number)
    }

    fn currency(&self, text: &str) -> String {
        format!("{text} {}", self.estimate().currency)
            .trim_end()
            .to_owned()
    }

    /// An amount of money that need not be whole cents.
    fn exact_money(&self, value: &Exact) -> String {
        let style = Style {
            places: 6,
            ..Style::default()
        };
        self.currency(&Written::Money.text(value, style))
    }

    fn resource_def(&self, id: ResourceId) -> Option<&'a ResourceDef> {
        self.version().resources.get(id)
    }

    fn quantity(&self, def: &ResourceDef, base: &Exact) -> String {
        format_quantity(base, &def.unit, &self.program().nouns, Style::default())
    }

    /// Trees of the largest parts, and the rest as one line. `parts` are what to grow a tree from, and its number.
    fn largest<T: Copy>(
        &mut self,
        tree: &mut Tree,
        mut parts: Vec<(T, Exact)>,
        text: impl Fn(&Self, &Exact) -> String,
        mut grow: impl FnMut(&mut Self, T) -> Tree,
    ) {
        parts.retain(|(_, n)| !n.is_zero());
        parts.sort_by_key(|p| std::cmp::Reverse(p.1.abs()));
        let most = self.options.most;
        let rest = parts.split_off(if parts.len() == most + 1 {
            most + 1
        } else {
            most.min(parts.len())
        });
        for (part, _) in parts {
            let grown = grow(self, part);
            tree.addends.push(grown);
        }
        if let (false, Ok(sum)) = (rest.is_empty(), total(rest.iter().map(|(_, n)| n))) {
            let text = text(self, &sum);
            tree.addends.push(
                Tree::new(What::Rest, format!("{} more", rest.len())).valued(text, Some(sum)),
            );
        }
    }

    fn largest_cents<T: Copy>(
        &mut self,
        tree: &mut Tree,
        parts: Vec<(T, i128)>,
        grow: impl FnMut(&mut Self, T) -> Tree,
    ) {
        let parts = parts
            .into_iter()
            .map(|(t, cents)| (t, Exact::from_cents(cents)))
            .collect();
        self.largest(
            tree,
            parts,
            |b, sum| {
                sum.to_cents(crate::number::Rounding::HalfEven)
                    .map_or_else(|_| String::new(), |c| b.currency(&cents_grouped(c)))
            },
            grow,
        );
    }

    /// The whole.
    pub(super) fn total(&mut self) -> Tree {
        let estimate = self.estimate();
        let mut tree = self.money(What::Total, "total", estimate.totals.grand);
        let direct = self.direct(1);
        tree.addends.push(direct);
        for at in 0..estimate.charges.len() {
            let charge = self.charge(at, 1);
            tree.addends.push(charge);
        }
        if estimate.final_rounding.is_some() {
            let last = self.final_rounding();
            tree.addends.push(last);
        }
        let gap = self.exact_money(&estimate.totals.gap);
        tree.fact("rounded", format!("each line to the cent; the cents are {gap} off the unrounded total, before the final rounding"));
        tree
    }

    /// The rounding of the final figure.
    pub(super) fn final_rounding(&mut self) -> Tree {
        let estimate = self.estimate();
        let Some(last) = &estimate.final_rounding else {
            return self.money(What::Rounding, "final rounding", 0);
        };
        let mut tree = self.money(What::Rounding, "final rounding", last.cents);
        tree.fact(
            "rounded",
            format!(
                "{} to {}",
                words::rounding(last.mode),
                self.exact_money(&last.step)
            ),
        );
        tree.fact(
            "before",
            self.currency(&cents_grouped(estimate.before_final())),
        );
        tree.fact(
            "after",
            self.currency(&cents_grouped(estimate.totals.grand)),
        );
        if let Some((_, _, span)) = &self.program().terms.final_rounding {
            tree.rule = Some(self.text_of(*span));
            tree.place = Some((*span).into());
        }
        tree
    }

    /// Cost before charges.
    pub(super) fn direct(&mut self, level: usize) -> Tree {
        let estimate = self.estimate();
        let mut tree = self.money(What::Total, "cost", estimate.totals.direct);
        if self.cut_off(&mut tree, level) {
            return tree;
        }
        let phases = estimate
            .cut(crate::pricing::CutKind::Phase)
            .map_or(&[][..], |c| &c.rows);
        let parts = phases
            .iter()
            .enumerate()
            .map(|(at, row)| (at, row.cents()))
            .collect();
        self.largest_cents(&mut tree, parts, |b, at| b.phase(at, level + 1));
        tree
    }

    fn cut_off(&self, tree: &mut Tree, level: usize) -> bool {
        tree.deeper = self.too_deep(level);
        tree.deeper
    }

    /// Materials: all lines of goods.
    pub(super) fn materials(&mut self, level: usize) -> Tree {
        let cents = self.estimate().totals.materials;
        let mut tree = self.money(What::Total, "materials", cents);
        if !self.cut_off(&mut tree, level) {
            self.lines_of(
                &mut tree,
                |l| l.class != ResourceClass::Labor && !l.class.is_hired(),
                level + 1,
            );
        }
        tree
    }

    /// A class of the headline: its cost, and its amount.
    pub(super) fn class(&mut self, of: ResourceClass, level: usize) -> Tree {
        let estimate = self.estimate();
        let cents = estimate
            .lines
            .iter()
            .filter(|l| l.class == of)
            .map(|l| l.cents)
            .sum();
        let mut tree = self.money(What::Total, of.word(), cents);
        if self.cut_off(&mut tree, level) {
            return tree;
        }
        for row in estimate
            .headline
            .iter()
            .filter(|r| r.class == of && !r.unit.is_empty())
        {
            let Some(net) = &row.net else { continue };
            let mut amount = Tree::new(What::Quantity, "net amount");
            let fits = |def: &ResourceDef| def.class == of;
            let mut parts = Vec::new();
            let mut unit = None;
            let resources = self.version().resources.entries();
            for (id, def) in resources.filter(|(_, d)| fits(d)) {
                let first = *unit.get_or_insert(def);
                if def.unit.dim() != first.unit.dim() {
                    continue;
                }
                parts.extend(self.net(id).map(|n| (id, n)));
            }
            let Some(first) = unit else { continue };
            amount.number = first.unit.to_base(net).ok();
            amount.text = amount
                .number
                .as_ref()
                .map_or_else(String::new, |n| self.quantity(first, n));
            self.largest(
                &mut amount,
                parts,
                |b, sum| b.quantity(first, sum),
                |b, id| b.net_tree(id, level + 1),
            );
            tree.from.push(amount);
            break;
        }
        self.lines_of(&mut tree, |l| l.class == of, level + 1);
        tree
    }

    fn lines_of(&mut self, tree: &mut Tree, wanted: impl Fn(&CostLine) -> bool, level: usize) {
        let lines = &self.estimate().lines;
        let parts = lines
            .iter()
            .enumerate()
            .filter(|(_, l)| wanted(l))
            .map(|(at, l)| (at, l.cents))
            .collect();
        self.largest_cents(tree, parts, |b, at| b.line(at, level));
    }

    /// A phase by its place in the cut by phase.
    pub(super) fn phase(&mut self, at: usize, level: usize) -> Tree {
        let estimate = self.estimate();
        let cut = estimate.cut(crate::pricing::CutKind::Phase);
        let Some(row) = cut.and_then(|c| c.rows.get(at)) else {
            return Tree::new(What::Phase, "");
        };
        let mut tree = self.money(What::Phase, row.key.clone(), row.cents());
        if self.cut_off(&mut tree, level) {
            return tree;
        }
        let mut parts = Vec::new();
        for (at, line) in estimate.lines.iter().enumerate() {
            let cents: i128 = line
                .by_phase
                .iter()
                .filter(|(phase, _)| *phase == row.key)
                .map(|(_, c)| c)
                .sum();
            parts.push(((at, cents), cents));
        }
        self.largest_cents(&mut tree, parts, |b, (at, cents)| {
            b.piece(at, cents, level + 1)
        });
        tree
    }

    /// The part of a cost line that falls to a phase.
    fn piece(&mut self, at: usize, cents: i128, level: usize) -> Tree {
        let Some(line) = self.estimate().lines.get(at) else {
            return Tree::new(What::CostLine, "");
        };
        if line.cents == cents {
            return self.line(at, level);
        }
        let mut tree = self.money(What::CostLine, line.name.clone(), cents);
        tree.fact(
            "part of",
            format!(
                "{}, split over its phases by what each takes, cents by largest remainder",
                self.currency(&cents_grouped(line.cents))
            ),
        );
        if !self.cut_off(&mut tree, level) {
            let whole = self.line(at, level + 1);
            tree.from.push(whole);
        }
        tree
    }

    /// A cost line: quantity times price, rounded to the cent.
    pub(super) fn line(&mut self, at: usize, level: usize) -> Tree {
        let Some(line) = self.estimate().lines.get(at) else {
            return Tree::new(What::CostLine, "");
        };
        let name = match &line.phase {
            Some(phase) => format!("{}, {phase}", line.name),
            None => line.name.clone(),
        };
        let mut tree = self.money(What::CostLine, name, line.cents);
        let price = self.exact_money(&line.price);
        tree.fact(
            "calculated",
            format!(
                "{} {} at {price} per {}",
                decimal(&line.quantity, 4),
                line.unit,
                line.per
            ),
        );
        tree.fact("before rounding", self.exact_money(&line.exact));
        if self.cut_off(&mut tree, level) {
            return tree;
        }
        if let Some(def) = self.resource_def(line.resource) {
            let quantity = match (self.buy(line.resource), &line.phase) {
                (Some(buy), _) => Some(self.bought(def, buy, level + 1)),
                (None, phase) => self.used(def, line, phase.as_deref(), level + 1),
            };
            tree.from.extend(quantity);
            let price = self.price(def, line);
            tree.from.push(price);
        }
        tree
    }

    fn buy(&self, id: ResourceId) -> Option<&'a BuyLine> {
        self.estimate().buys.iter().find(|b| b.resource == id)
    }

    /// A resource: its cost lines.
    pub(super) fn resource(&mut self, id: ResourceId, level: usize) -> Tree {
        let Some(def) = self.resource_def(id) else {
            return Tree::new(What::Resource, "");
        };
        let lines: Vec<usize> = self
            .estimate()
            .lines
            .iter()
            .enumerate()
            .filter(|(_, l)| l.resource == id)
            .map(|(at, _)| at)
            .collect();
        let cents = lines
            .iter()
            .filter_map(|at| self.estimate().lines.get(*at))
            .map(|l| l.cents)
            .sum();
        let mut tree = self.money(What::Resource, def.name.clone(), cents);
        tree.place = Some(def.span.into());
        tree.fact("called", def.called.clone().unwrap_or_default());
        tree.fact("class", def.class.word());
        tree.fact("source", def.source.clone().unwrap_or_default());
        tree.fact("note", def.note.clone().unwrap_or_default());
        match lines.as_slice() {
            [] => tree.fact("used", "nowhere in this job"),
            [one] => {
                let line = self.line(*one, level);
                tree.facts.extend(line.facts);
                tree.from = line.from;
                tree.deeper = line.deeper;
            }
            _ if self.cut_off(&mut tree, level) => {}
            _ => {
                self.lines_of(&mut tree, |l| l.resource == id, level + 1);
                let net = self.net_tree(id, level + 1);
                tree.from.push(net);
            }
        }
        tree
    }

    /// What is bought: whole packs of what is needed.
    fn bought(&mut self, def: &'a ResourceDef, buy: &BuyLine, level: usize) -> Tree {
        let base = |x: &Exact| x.mul(&buy.base_per_unit).ok();
        let needed = self.needed(def, buy, level);
        let Some(packs) = &buy.packs else {
            return needed;
        };
        let number = base(&buy.bought);
        let text = number
            .as_ref()
            .map_or_else(String::new, |n| self.quantity(def, n));
        let mut tree = Tree::new(What::Quantity, "bought").valued(text, number);
        let holds = base(&packs.holds).map_or_else(String::new, |n| self.quantity(def, &n));
        let packs_needed = buy.needed.div(&packs.holds);
        let packs_needed = packs_needed.map_or_else(|_| String::new(), |n| decimal(&n, 4));
        if packs.stated {
            tree.fact(
                "packs",
                format!("{} {} of {holds}", packs.count, packs.word),
            );
            tree.fact(
                "before",
                format!("{packs_needed}, rounded up to whole packs once for the job"),
            );
        } else {
            tree.fact(
                "before",
                format!("{packs_needed}, rounded up to whole ones once for the job"),
            );
        }
        if let Some(resource) = self.index.resource(&def.name)
            && let Some((word, quantity)) = &resource.pack
        {
            tree.place = Some(word.span.to(quantity.span).into());
        }
        tree.from.push(needed);
        tree
    }

    /// What is needed: the net amount with its waste or yield.
    fn needed(&mut self, def: &'a ResourceDef, buy: &BuyLine, level: usize) -> Tree {
        let net = self.net_tree(buy.resource, level);
        let Some(allowance) = &buy.allowance else {
            return net;
        };
        let number = buy.needed.mul(&buy.base_per_unit).ok();
        let text = number
            .as_ref()
            .map_or_else(String::new, |n| self.quantity(def, n));
        let mut tree = Tree::new(What::Quantity, "needed").valued(text, number);
        tree.fact("with", words::allowance(allowance));
        if let Some(given) = &allowance.given {
            tree.fact("from", format!("given {given}"));
            if let Some(at) = self.value_for(given, crate::program::Grain::Const)
                && let Some(value) = self.version().values.get(at)
            {
                let value = self.value(at, value.replaced.len(), value.node, 0, level + 1);
                tree.from.push(value);
            }
        }
        tree.from.push(net);
        tree
    }

    /// The hours of a labor line, with the allowance where there is one.
    fn used(
        &mut self,
        def: &'a ResourceDef,
        line: &CostLine,
        phase: Option<&str>,
        level: usize,
    ) -> Option<Tree> {
        let number = def.unit.to_base(&line.quantity).ok()?;
        let net = self.net_of(line.resource, phase, level);
        let Some((kind, share, given)) = &def.allowance else {
            return Some(net);
        };
        let mut tree = Tree::new(What::Quantity, "with its allowance")
            .valued(self.quantity(def, &number), Some(number));
        let allowance = crate::pricing::Allowance {
            kind: *kind,
            share: share.clone(),
            given: given.clone(),
        };
        tree.fact("with", words::allowance(&allowance));
        tree.from.push(net);
        Some(tree)
    }

    /// What a resource comes to over all its take lines; none where it can't be kept.
    pub(super) fn net(&mut self, id: ResourceId) -> Option<Exact> {
        let takes: Vec<_> = self
            .version()
            .takes
            .iter()
            .filter(|t| t.resource == id)
            .map(|t| t.plan.total)
            .collect();
        let mut sum = Exact::ZERO;
        for node in takes {
            // An unknown amount is left out, as in the take-off.
            sum = sum.add(&self.number(node, 0).unwrap_or_default()).ok()?;
        }
        Some(sum)
    }

    pub(super) fn net_tree(&mut self, id: ResourceId, level: usize) -> Tree {
        self.net_of(id, None, level)
    }

    /// The net amount of a resource, in one phase or in all: its take lines.
    fn net_of(&mut self, id: ResourceId, phase: Option<&str>, level: usize) -> Tree {
        let Some(def) = self.resource_def(id) else {
            return Tree::new(What::Quantity, "");
        };
        let phases = &self.program().phases;
        let in_phase = |p: crate::program::PhaseId| {
            phase.is_none_or(|name| phases.get(p).is_some_and(|n| n == name))
        };
        let takes: Vec<usize> = self
            .version()
            .takes
            .iter()
            .enumerate()
            .filter(|(_, t)| t.resource == id && in_phase(t.phase))
            .map(|(at, _)| at)
            .collect();
        let mut parts = Vec::new();
        for at in takes {
            let node = self.version().takes.get(at).map(|t| t.plan.total);
            let number = node.and_then(|n| self.number(n, 0)).unwrap_or_default();
            parts.push((at, number));
        }
        let number = total(parts.iter().map(|(_, n)| n)).ok();
        let text = number
            .as_ref()
            .map_or_else(String::new, |n| self.quantity(def, n));
        let name = phase.map_or_else(
            || format!("{}, net", def.name),
            |p| format!("{} for {p}, net", def.name),
        );
        let mut tree = Tree::new(What::Quantity, name).valued(text, number);
        if !self.cut_off(&mut tree, level) {
            self.largest(
                &mut tree,
                parts,
                |b, sum| b.quantity(def, sum),
                |b, at| b.take(at, level + 1),
            );
        }
        tree
    }

    /// The price of a resource and where it comes from.
    fn price(&mut self, def: &ResourceDef, line: &CostLine) -> Tree {
        let text = format!("{} per {}", self.exact_money(&line.price), line.per);
        let mut tree = Tree::new(What::Price, format!("price of {}", def.name))
            .valued(text, Some(line.price.clone()));
        let pay = self
            .program()
            .terms
            .pays
            .iter()
            .find(|p| p.resource == line.resource);
        let change = self
            .version()
            .price_changes
            .iter()
            .filter(|c| c.resource == line.resource)
            .max_by_key(|c| c.layer);
        let entry = self.subject.book.entry(line.resource);
        if let Some(change) =
            change.filter(|c| c.layer >= crate::syntax::tree::Layer::Job || pay.is_none())
        {
            tree.rule = Some(self.text_of(change.span));
            tree.place = Some(change.span.into());
            tree.fact("layer", words::layer(change.layer));
            tree.fact("because", change.because.clone().unwrap_or_default());
            match (pay, entry) {
                (Some(_), _) => tree.fact("replaces", "the rate of its pay block"),
                (None, Some(entry)) => tree.fact(
                    "replaces",
                    format!(
                        "{} per {} ({})",
                        self.exact_money(&entry.price.into()),
                        entry.unit,
                        entry.place
                    ),
                ),
                (None, None) => {}
            }
        } else if let Some(pay) = pay {
            tree.place = Some(pay.span.into());
            for part in &pay.lines {
                let Ok(rate) = part.rate.mul(def.unit.factor()) else {
                    continue;
                };
                let text = format!("{} per {}", self.exact_money(&rate), line.per);
                let mut piece = Tree::new(What::Part, part.name.clone()).valued(text, Some(rate));
                if let Some((share, of)) = &part.share {
                    piece.fact(
                        "calculated",
                        format!("{} of {}", crate::pricing::percent(share), of.join(", ")),
                    );
                }
                piece.fact("source", part.source.clone().unwrap_or_default());
                piece.fact("note", part.note.clone().unwrap_or_default());
                tree.addends.push(piece);
            }
        } else if let Some(entry) = entry {
            tree.place = Some(entry.place.clone().into());
            tree.fact("supplier", entry.supplier.clone().unwrap_or_default());
            tree.fact(
                "source",
                entry.source.clone().unwrap_or_else(|| "none".to_owned()),
            );
            tree.fact(
                "date",
                entry.date.clone().unwrap_or_else(|| "none".to_owned()),
            );
            tree.fact("note", entry.note.clone().unwrap_or_default());
            tree.fact("spec", entry.spec.clone().unwrap_or_default());
        }
        tree
    }

    /// A charge or allowance by its place.
    pub(super) fn charge(&mut self, at: usize, level: usize) -> Tree {
        let estimate = self.estimate();
        let (Some(charge), Some(def)) = (
            estimate.charges.get(at),
            self.program().terms.charges.get(at),
        ) else {
            return Tree::new(What::Charge, "");
        };
        let mut tree = self.money(What::Charge, charge.name.clone(), charge.cents);
        let span = self.index.term(&def.name).unwrap_or(def.span);
        tree.rule = Some(self.text_of(span));
        tree.place = Some(def.span.into());
        tree.fact("calculated", words::charge(charge));
        tree.fact("source", charge.source.clone().unwrap_or_default());
        tree.fact("note", charge.note.clone().unwrap_or_default());
        let (Some(base), Some(share), ChargeAmountDef::Share { bases, .. }) =
            (charge.base, &charge.share, &def.amount)
        else {
            return tree;
        };
        let factor = match charge.kind {
            ChargeKind::Margin => Exact::ONE.sub(share).and_then(|rest| share.div(&rest)).ok(),
            ChargeKind::Sum
            | ChargeKind::Share
            | ChargeKind::MarkUp
            | ChargeKind::TaxByItem
            | ChargeKind::TaxByInvoice => Some(share.clone()),
        };
        if let Some(factor) = factor
            && let Ok(before) = Exact::from_cents(base).mul(&factor)
        {
            tree.fact("before rounding", self.exact_money(&before));
        }
        if charge.kind == ChargeKind::TaxByItem {
            tree.fact("rounded", "for each item of its base by itself");
        }
        if self.cut_off(&mut tree, level) {
            return tree;
        }
        let mut under = self.money(What::Total, format!("base: {}", charge.of), base);
        for (earlier, line) in estimate.charges.iter().enumerate().take(at) {
            let counts = bases
                .iter()
                .any(|b| matches!(b, ChargeBase::AllSoFar) || *b == ChargeBase::Charge(earlier));
            if counts && line.cents != 0 {
                under
                    .addends
                    .push(self.money(What::Charge, line.name.clone(), line.cents));
            }
        }
        let counts = |line: &CostLine| {
            bases.iter().any(|base| match base {
                ChargeBase::Class(class) => *class == line.class,
                ChargeBase::Resource(id) => *id == line.resource,
                ChargeBase::AllSoFar => true,
                ChargeBase::Charge(_) => false,
            })
        };
        // Lines are reported as their classes; each is a name that can be asked about in turn.
        for of in ResourceClass::ALL {
            let cents: i128 = estimate
                .lines
                .iter()
                .filter(|l| l.class == of && counts(l))
                .map(|l| l.cents)
                .sum();
            if cents != 0 {
                under
                    .addends
                    .push(self.money(What::Total, of.word(), cents));
            }
        }
        tree.from.push(under);
        tree
    }
}
