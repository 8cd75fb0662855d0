//! A small linear program in floating point: the least cost of columns that cover the parts. It suggests prices and shares; nothing that is
//! believed rests on it.
//!
//! Rows are parts (at least so many) and stocks of which there are only so many. The inverse of the basis is kept whole, which suits a few
//! hundred rows, and the basis is kept from call to call as columns are added.

#![expect(
    clippy::as_conversions,
    reason = "floats only suggest prices here; what is believed is proved in whole numbers"
)]
// Rows and columns of matrices are walked by index, several at a time.
#![allow(clippy::needless_range_loop)]

/// A column: its cost and what it holds of each row.
#[derive(Debug, Clone)]
pub(super) struct Column {
    pub(super) cost: f64,
    pub(super) rows: Vec<(usize, f64)>,
}

const TINY: f64 = 1e-9;
/// Steps after which the inverse is worked out again from the columns.
const REFRESH: usize = 400;

/// The program and where it is.
#[derive(Debug, Clone)]
pub(super) struct Simplex {
    columns: Vec<Column>,
    basis: Vec<usize>,
    basic: Vec<bool>,
    inverse: Vec<f64>,
    right: Vec<f64>,
    at: Vec<f64>,
    rows: usize,
    since: usize,
}

impl Simplex {
    /// `need` of each part and `limit` of each stock with one. A part that is not covered costs `penalty` each.
    pub(super) fn new(need: &[f64], limit: &[f64], penalty: f64) -> Simplex {
        let rows = need.len() + limit.len();
        let mut columns = Vec::new();
        // The first columns are the basis: parts not covered, and stock not used.
        for row in 0..rows {
            columns.push(Column {
                cost: if row < need.len() { penalty } else { 0.0 },
                rows: vec![(row, 1.0)],
            });
        }
        for row in 0..need.len() {
            columns.push(Column {
                cost: 0.0,
                rows: vec![(row, -1.0)],
            });
        }
        // Right sides that differ by a hair keep the steps from going in circles.
        let right: Vec<f64> = (need.iter().chain(limit).enumerate())
            .map(|(i, &v)| v + 1e-7 * (1.0 + ((i * 7919) % 1009) as f64 / 1009.0))
            .collect();
        let mut inverse = vec![0.0; rows * rows];
        for i in 0..rows {
            inverse[i * rows + i] = 1.0;
        }
        Simplex {
            basic: (0..columns.len()).map(|i| i < rows).collect(),
            columns,
            basis: (0..rows).collect(),
            inverse,
            at: right.clone(),
            right,
            rows,
            since: 0,
        }
    }

    /// Columns that the program has of itself, before any that are added.
    pub(super) fn own(&self, parts: usize) -> usize {
        self.rows + parts
    }

    pub(super) fn add(&mut self, column: Column) {
        self.columns.push(column);
        self.basic.push(false);
    }

    /// A price for each row.
    pub(super) fn prices(&self) -> Vec<f64> {
        let mut prices = vec![0.0; self.rows];
        for (i, &column) in self.basis.iter().enumerate() {
            let cost = self.columns[column].cost;
            if cost != 0.0 {
                let row = &self.inverse[i * self.rows..(i + 1) * self.rows];
                for (price, v) in prices.iter_mut().zip(row) {
                    *price += cost * v;
                }
            }
        }
        prices
    }

    /// Cost of where the program is.
    pub(super) fn cost(&self) -> f64 {
        (self.basis.iter().zip(&self.at))
            .map(|(&c, v)| self.columns[c].cost * v)
            .sum()
    }

    /// Columns in use and how much of each.
    pub(super) fn shares(&self) -> Vec<(usize, f64)> {
        let mut list: Vec<(usize, f64)> = (self.basis.iter().zip(&self.at))
            .filter(|(_, v)| **v > 1e-5)
            .map(|(&c, &v)| (c, v))
            .collect();
        list.sort_by_key(|s| s.0);
        list
    }

    /// What a column costs beyond what its content is worth.
    pub(super) fn reduced(&self, column: usize, prices: &[f64]) -> f64 {
        let c = &self.columns[column];
        c.cost - c.rows.iter().map(|&(row, n)| prices[row] * n).sum::<f64>()
    }

    /// Goes on until no column improves the cost, or `most` steps are made.
    pub(super) fn solve(&mut self, most: usize) {
        for _ in 0..most {
            let prices = self.prices();
            let mut best = (-1e-7, usize::MAX);
            for c in 0..self.columns.len() {
                if !self.basic[c] {
                    let reduced = self.reduced(c, &prices) / (1.0 + self.columns[c].cost.abs());
                    if reduced < best.0 {
                        best = (reduced, c);
                    }
                }
            }
            if best.1 == usize::MAX || !self.step(best.1) {
                return;
            }
        }
    }

    fn direction(&self, column: usize) -> Vec<f64> {
        let n = self.rows;
        (0..n)
            .map(|i| {
                let row = &self.inverse[i * n..(i + 1) * n];
                self.columns[column]
                    .rows
                    .iter()
                    .map(|&(r, v)| row[r] * v)
                    .sum()
            })
            .collect()
    }

    /// Takes a column into the basis; `false` when no row bounds it, which only an error in floating point can bring about.
    fn step(&mut self, column: usize) -> bool {
        let n = self.rows;
        let direction = self.direction(column);
        let mut leave: Option<(f64, usize)> = None;
        for i in 0..n {
            if direction[i] > 1e-8 {
                let ratio = self.at[i].max(0.0) / direction[i];
                let better = leave.is_none_or(|(r, j)| {
                    ratio < r - TINY || (ratio < r + TINY && direction[i] > direction[j])
                });
                if better {
                    leave = Some((ratio, i));
                }
            }
        }
        let Some((ratio, out)) = leave else {
            return false;
        };
        for i in 0..n {
            self.at[i] -= ratio * direction[i];
        }
        self.at[out] = ratio;
        self.basic[self.basis[out]] = false;
        self.basic[column] = true;
        self.basis[out] = column;
        self.pivot(out, &direction);
        self.since += 1;
        if self.since >= REFRESH {
            self.refresh();
        }
        true
    }

    fn pivot(&mut self, out: usize, direction: &[f64]) {
        let n = self.rows;
        let scale = 1.0 / direction[out];
        let mut row: Vec<f64> = self.inverse[out * n..(out + 1) * n].to_vec();
        for v in &mut row {
            *v *= scale;
        }
        for i in 0..n {
            let by = direction[i];
            if i != out && by.abs() > 1e-12 {
                for (v, r) in self.inverse[i * n..(i + 1) * n].iter_mut().zip(&row) {
                    *v -= by * r;
                }
            }
        }
        self.inverse[out * n..(out + 1) * n].copy_from_slice(&row);
    }

    /// Works the inverse out again from the columns of the basis, which takes away what small errors have added up to.
    fn refresh(&mut self) {
        let n = self.rows;
        self.since = 0;
        let columns = std::mem::take(&mut self.basis);
        self.inverse = vec![0.0; n * n];
        for i in 0..n {
            self.inverse[i * n + i] = 1.0;
        }
        let mut placed = vec![usize::MAX; n];
        let mut left = columns;
        // Columns of one row first: they cost nothing to bring in.
        left.sort_by_key(|&c| (self.columns[c].rows.len(), c));
        for c in left {
            let direction = self.direction(c);
            let row = (0..n)
                .filter(|&i| placed[i] == usize::MAX)
                .max_by(|&a, &b| direction[a].abs().total_cmp(&direction[b].abs()));
            match row {
                Some(row) if direction[row].abs() > 1e-9 => {
                    self.pivot(row, &direction);
                    placed[row] = c;
                }
                _ => self.basic[c] = false,
            }
        }
        for (row, c) in placed.iter_mut().enumerate() {
            if *c == usize::MAX {
                // A column that was lost to rounding makes room for the row's own.
                *c = row;
                self.basic[row] = true;
            }
        }
        self.basis = placed;
        self.at = (0..n)
            .map(|i| {
                let row = &self.inverse[i * n..(i + 1) * n];
                row.iter()
                    .zip(&self.right)
                    .map(|(a, b)| a * b)
                    .sum::<f64>()
                    .max(0.0)
            })
            .collect();
    }
}
