//! Checks a bound again from the prices that are in the plan, by plain dynamic programs of its own. It uses nothing of the solver, and
//! trades speed for code that can be read against the rules.
//!
//! ```
//! # fn bars() -> (ovolo::cutting::model::Problem, ovolo::cutting::plan::Plan) {
//! #     include!(concat!(env!("CARGO_MANIFEST_DIR"), "/tests/docs/bars.rs"))
//! # }
//! let (problem, plan) = bars();
//! assert_eq!(ovolo::cutting::verify::verify(&problem, &plan.proofs[0]), Some(10));
//! ```

use super::bound::{Yield, prove};
use super::model::{Goods, Problem};
use super::plan::Proof;

/// The bound of one thickness that its prices prove; `None` when the prices are not fit for a proof.
pub fn verify(problem: &Problem, proof: &Proof) -> Option<i64> {
    let mut price = vec![0i64; problem.parts.len()];
    let stocks = problem.stocks.iter().filter(|s| s.thick == proof.thick);
    let areas = stocks.map(|s| i128::from(s.length) * i128::from(s.width));
    let largest = areas.max().unwrap_or(0);
    for &(part, p) in &proof.prices {
        let known = problem.parts.get(part)?;
        // However many of it a piece of stock holds, their worth stays far from the largest number.
        let area = i128::from(known.length.max(1)) * i128::from(known.width.max(1));
        let fits =
            known.thick == proof.thick && p >= 0 && i128::from(p) * (largest / area + 1) <= 1 << 60;
        *price.get_mut(part)? = if fits { p } else { return None };
    }
    let worth = (problem.parts.iter().zip(&price))
        .map(|(part, &p)| i128::from(p) * i128::from(part.count))
        .sum();
    let ways: &[bool] = if problem.rules.goods == Goods::Glass {
        &[false, true]
    } else {
        &[false]
    };
    let values: Vec<Vec<i64>> = ways
        .iter()
        .map(|&along| yields(problem, proof.thick, &price, along))
        .collect();
    let stocks: Vec<Yield> = (problem.stocks.iter().enumerate())
        .filter(|(_, s)| s.thick == proof.thick && s.available != Some(0))
        .map(|(i, s)| Yield {
            cost: s.cost,
            available: s.available,
            value: values.iter().map(|v| v[i]).max().unwrap_or(0),
        })
        .collect();
    Some(prove(worth, &stocks, proof.scale))
}

/// A part as it lies: size along the pieces, across them, price.
type Lying = (usize, usize, i64);

/// The most each stock can yield when sections lie this way.
fn yields(problem: &Problem, thick: i64, price: &[i64], along: bool) -> Vec<i64> {
    let rules = &problem.rules;
    let size = crate::ids::size;
    let mut parts: Vec<Lying> = Vec::new();
    for (part, &p) in problem
        .parts
        .iter()
        .zip(price)
        .filter(|(q, p)| q.thick == thick && **p > 0)
    {
        for turned in [false, true] {
            if !turned || rules.turn {
                let (a, b) = if turned == along {
                    (part.length, part.width)
                } else {
                    (part.width, part.length)
                };
                parts.push((size(a), size(b), p));
            }
        }
    }
    let (between, beside) = if along {
        (rules.rip, rules.crosscut)
    } else {
        (rules.crosscut, rules.rip)
    };
    // Every stretch of every stock: its size along the pieces and across them.
    let stretches: Vec<Vec<(usize, usize)>> = (problem.stocks.iter())
        .map(|s| {
            let wide = size(s.clear_width(rules.goods));
            let runs = s.runs(rules.crosscut).into_iter().map(|r| size(r.length));
            match (s.thick == thick, along) {
                (false, _) => Vec::new(),
                (true, false) => runs.map(|r| (r, wide)).collect(),
                (true, true) => runs.map(|r| (wide, r)).collect(),
            }
        })
        .collect();
    let longest = stretches.iter().flatten().map(|s| s.0).max().unwrap_or(0);
    let least = size(rules.least);
    let table = Table {
        rows: rows(&parts, longest, size(between), least),
        between: size(between),
        beside: size(beside),
        least,
    };
    let mut widths: Vec<usize> = stretches.iter().flatten().map(|s| s.1).collect();
    widths.sort_unstable();
    widths.dedup();
    let mut whole = vec![0; problem.stocks.len()];
    let sections = table.sections(&widths, longest, &stretches, rules.stages);
    for (w, &width) in widths.iter().enumerate() {
        let far = stretches
            .iter()
            .flatten()
            .filter(|s| s.1 == width)
            .map(|s| s.0)
            .max()
            .unwrap_or(0);
        let best = if rules.stages == 3 {
            table.runs(&sections[w], far)
        } else {
            sections[w].clone()
        };
        for (value, list) in whole.iter_mut().zip(&stretches) {
            *value += list
                .iter()
                .filter(|s| s.1 == width)
                .map(|s| best[s.0])
                .sum::<i64>();
        }
    }
    whole
}

/// Stands for a size that no row has; with the worth of a whole row added it is still below nothing.
const NONE: i64 = i64::MIN / 4;

/// Sizes pieces take up in a row without a leftover; less than nothing where no row has exactly this size.
fn fill(items: &[(usize, i64)], longest: usize, kerf: usize) -> Vec<i64> {
    // A piece and a kerf after it, within the size and one kerf.
    let mut row = vec![NONE; longest + kerf + 1];
    row[0] = 0;
    for &(len, value) in items {
        let step = len + kerf;
        for x in step..row.len() {
            row[x] = row[x].max(row[x - step] + value);
        }
    }
    row.drain(..kerf);
    row[0] = NONE;
    row
}

/// The most within each size, when what is left over is nothing, dust, or wide enough to be taken off.
fn within(row: &[i64], kerf: usize, least: usize) -> Vec<i64> {
    let mut most = vec![0; row.len()];
    let mut so_far = 0;
    for x in 0..row.len() {
        let near = row[x.saturating_sub(kerf)..=x].iter().max().copied();
        if let Some(y) = x.checked_sub(kerf + least.max(1)) {
            so_far = row[y].max(so_far);
        }
        most[x] = near.unwrap_or(0).max(so_far);
    }
    most
}

/// For every width a strip may have, the most that a strip of each length holds.
fn rows(parts: &[Lying], longest: usize, kerf: usize, least: usize) -> Vec<(usize, Vec<i64>)> {
    let mut widths: Vec<usize> = parts.iter().flat_map(|p| [p.1, p.1 + least]).collect();
    widths.sort_unstable();
    widths.dedup();
    (widths.into_iter())
        .map(|width| {
            let items: Vec<(usize, i64)> = (parts.iter())
                .filter(|p| p.1 == width || p.1 + least.max(1) <= width)
                .map(|p| (p.0, p.2))
                .collect();
            (width, within(&fill(&items, longest, kerf), kerf, least))
        })
        .collect()
}

struct Table {
    rows: Vec<(usize, Vec<i64>)>,
    between: usize,
    beside: usize,
    least: usize,
}

impl Table {
    /// How much less a strip or section must take up to be as good as a wider one of the same value: what it leaves can always be taken
    /// off, whatever lies beside it.
    fn gap(&self, kerf: usize) -> usize {
        if self.least > 0 { kerf + self.least } else { 1 }
    }

    /// For each width of stock, the most that a section of each length holds.
    fn sections(
        &self,
        widths: &[usize],
        longest: usize,
        stretches: &[Vec<(usize, usize)>],
        stages: u8,
    ) -> Vec<Vec<i64>> {
        let widest = widths.last().copied().unwrap_or(0);
        let mut sections = vec![vec![0; longest + 1]; widths.len()];
        let (mut last, mut most) = (Vec::new(), Vec::new());
        for length in 1..=longest {
            if stages < 3 && !stretches.iter().flatten().any(|s| s.0 == length) {
                continue;
            }
            let mut items: Vec<(usize, i64)> = Vec::new();
            let mut narrow = self.rows.iter().peekable();
            let mut high = 0;
            for (width, row) in &self.rows {
                while let Some((_, row)) = narrow.next_if(|n| n.0 + self.gap(self.beside) <= *width)
                {
                    high = high.max(row[length]);
                }
                if row[length] > high {
                    items.push((*width, row[length]));
                }
            }
            // Few lengths hold more than the one before.
            if items != last || most.is_empty() {
                most = within(&fill(&items, widest, self.beside), self.beside, self.least);
                last = items;
            }
            for (w, &width) in widths.iter().enumerate() {
                sections[w][length] = most[width];
            }
        }
        sections
    }

    /// The most that a run of each length holds when it may be parted into sections.
    fn runs(&self, sections: &[i64], longest: usize) -> Vec<i64> {
        let mut row = vec![NONE; longest + 1];
        let mut firsts: Vec<(usize, i64)> = Vec::new();
        let mut short = (0, 0);
        for x in 1..=longest {
            let mut high = if sections[x] > 0 { sections[x] } else { NONE };
            let fitting = firsts.partition_point(|f| f.0 + self.between < x);
            for &(first, value) in &firsts[..fitting] {
                high = high.max(value + row[x - first - self.between]);
            }
            while short.0 + self.gap(self.between) <= x {
                short = (short.0 + 1, sections[short.0].max(short.1));
            }
            if sections[x] > short.1 {
                firsts.push((x, sections[x]));
            }
            row[x] = high;
        }
        within(&row, self.between, self.least)
    }
}
