//! Checks a bound again from the prices that stand in the plan, by plain dynamic programs of its own. It uses nothing of the solver, and
//! trades speed for code that can be read against the rules.

use super::bound::{Yield, prove};
use super::model::{Goods, Problem};
use super::plan::Proof;

/// The bound of one thickness that its prices prove; `None` when the prices are not fit for a proof.
pub fn verify(problem: &Problem, proof: &Proof) -> Option<i64> {
    let mut price = vec![0i64; problem.parts.len()];
    for &(part, p) in &proof.prices {
        let fits = problem.parts.get(part)?.thick == proof.thick && (0..=1 << 52).contains(&p);
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
    let size = |n: i64| usize::try_from(n).unwrap_or(0);
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

/// Sizes pieces take up in a row without a leftover; nothing where no row has exactly this size.
fn fill(items: &[(usize, i64)], longest: usize, kerf: usize) -> Vec<Option<i64>> {
    let mut row: Vec<Option<i64>> = vec![None; longest + 1];
    for x in 1..=longest {
        let mut high = None;
        for &(len, value) in items {
            if len == x {
                high = high.max(Some(value));
            } else if let Some(before) = x.checked_sub(len + kerf)
                && let Some(v) = row[before]
            {
                high = high.max(Some(v + value));
            }
        }
        row[x] = high;
    }
    row
}

/// The most within each size, when what is left over is nothing, dust, or wide enough to be taken off.
fn within(row: &[Option<i64>], kerf: usize, least: usize) -> Vec<i64> {
    let mut most = vec![0; row.len()];
    let mut so_far = 0;
    for x in 0..row.len() {
        let near = row[x.saturating_sub(kerf)..=x]
            .iter()
            .flatten()
            .max()
            .copied()
            .unwrap_or(0);
        if let Some(v) = x.checked_sub(kerf + least.max(1)).and_then(|y| row[y]) {
            so_far = so_far.max(v);
        }
        most[x] = near.max(so_far);
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
            let most = within(&fill(&items, widest, self.beside), self.beside, self.least);
            for (w, &width) in widths.iter().enumerate() {
                sections[w][length] = most[width];
            }
        }
        sections
    }

    /// The most that a run of each length holds when it may be parted into sections.
    fn runs(&self, sections: &[i64], longest: usize) -> Vec<i64> {
        let mut row: Vec<Option<i64>> = vec![None; longest + 1];
        let mut firsts: Vec<usize> = Vec::new();
        let mut short = (0, 0);
        for x in 1..=longest {
            let mut high = (sections[x] > 0).then_some(sections[x]);
            for &first in firsts.iter().take_while(|&&f| f + self.between < x) {
                if let Some(rest) = row[x - first - self.between] {
                    high = high.max(Some(sections[first] + rest));
                }
            }
            while short.0 + self.gap(self.between) <= x {
                short = (short.0 + 1, sections[short.0].max(short.1));
            }
            if sections[x] > short.1 {
                firsts.push(x);
            }
            row[x] = high;
        }
        within(&row, self.between, self.least)
    }
}
