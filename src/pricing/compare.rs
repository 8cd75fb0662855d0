//! Versions side by side: the same figures of each, and the rows of the survey that differ most.
//!
//! Works from finished estimates only. Must not know how anything is shown.

use super::model::{CutKind, Estimate};
use super::names;
use crate::number::{Exact, NumError};
use crate::program::{ResourceClass, Version};

/// Versions side by side. Every row has one value for each version, the first of which is the one compared with.
#[derive(Debug, Clone)]
pub struct Comparison {
    /// Currency code.
    pub currency: String,
    /// Names of the versions.
    pub versions: Vec<String>,
    /// Rows in the order of reports.
    pub rows: Vec<CompareRow>,
    /// What a row of the survey is called.
    pub row_word: String,
    /// The rows of the survey whose cost is not the same in all versions, greatest difference to the first version first; ties in order
    /// of the survey.
    pub openings: Vec<OpeningDifference>,
    /// What mixed plans picked; filled by the caller, who worked them.
    pub picked: Vec<Picked>,
}

/// What a mixed plan picked.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Picked {
    /// Its version.
    pub version: usize,
    /// Its name.
    pub name: String,
    /// The plan taken where it costs less than the share, and the other.
    pub plans: [String; 2],
    /// Share of the other's cost.
    pub share: Exact,
    /// Rows of the main table, in its order.
    pub rows: Vec<PickedRow>,
}

/// A row of a mixed plan.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PickedRow {
    /// Its mark.
    pub mark: String,
    /// Its cost under both plans, in cents: labor and materials, without charges and what belongs to the whole job.
    pub cents: [i128; 2],
    /// Whether it takes the first plan.
    pub first: bool,
}

/// For each row whether the first plan costs less than the share of the second. Both must be made by row.
/// Errors: a product too long.
pub fn pick_rows(
    first: &Estimate,
    second: &Estimate,
    share: &Exact,
) -> Result<Vec<PickedRow>, NumError> {
    let rows = |e: &Estimate| -> Vec<(String, i128)> {
        let cut = e.cut(CutKind::Opening).map_or(&[][..], |c| &c.rows);
        cut.iter()
            .filter(|r| !r.whole_job)
            .map(|r| (r.key.clone(), r.cents()))
            .collect()
    };
    let pairs = rows(first).into_iter().zip(rows(second));
    pairs
        .map(|((mark, a), (_, b))| {
            Ok(PickedRow {
                mark,
                cents: [a, b],
                first: Exact::from_i128(a) < Exact::from_i128(b).mul(share)?,
            })
        })
        .collect()
}

/// Parts of a comparison.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[allow(missing_docs)]
pub enum ComparePart {
    Headline,
    Trade,
    Cost,
    Decision,
}

impl ComparePart {
    /// One word for it.
    pub fn word(self) -> &'static str {
        match self {
            ComparePart::Headline => "headline",
            ComparePart::Trade => "hours by trade",
            ComparePart::Cost => "cost",
            ComparePart::Decision => "decisions",
        }
    }
}

/// One figure of each version.
#[derive(Debug, Clone, PartialEq)]
pub struct CompareRow {
    /// Part it belongs to.
    pub part: ComparePart,
    /// What it is.
    pub what: String,
    /// The values.
    pub values: CompareValues,
}

/// Values of a row, one for each version.
#[derive(Debug, Clone, PartialEq)]
pub enum CompareValues {
    /// Amounts in a unit; none where the version has no such amount.
    Amounts {
        /// Unit.
        unit: String,
        /// Values.
        values: Vec<Option<Exact>>,
    },
    /// Cents.
    Money(Vec<i128>),
    /// How many rows.
    Counts(Vec<usize>),
}

/// The cost of a row of the survey under each version, in cents.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct OpeningDifference {
    /// Its mark.
    pub mark: String,
    /// Costs.
    pub cents: Vec<i128>,
}

/// Puts versions side by side; the first is the one the others are compared with. Rows of the survey are compared where every estimate was
/// made by row.
pub fn compare(versions: &[(&Version, Estimate)]) -> Comparison {
    let all: Vec<&Estimate> = versions.iter().map(|(_, e)| e).collect();
    let first = all.first();
    let mut rows = headline(&all);
    rows.extend(trades(&all));
    rows.extend(costs(&all));
    rows.extend(decisions(&all));
    Comparison {
        currency: first.map_or_else(String::new, |e| e.currency.clone()),
        versions: versions
            .iter()
            .map(|(v, e)| {
                v.name
                    .clone()
                    .unwrap_or_else(|| e.version_name().to_owned())
            })
            .collect(),
        rows,
        row_word: first.map_or_else(String::new, |e| e.facts.row_word.clone()),
        openings: openings(&all),
        picked: Vec::new(),
    }
}

fn row(part: ComparePart, what: impl Into<String>, values: CompareValues) -> CompareRow {
    CompareRow {
        part,
        what: what.into(),
        values,
    }
}

/// Distinct keys in order of first appearance.
fn distinct<K: PartialEq>(keys: impl Iterator<Item = K>) -> Vec<K> {
    let mut list = Vec::new();
    for key in keys {
        if !list.contains(&key) {
            list.push(key);
        }
    }
    list
}

fn headline(all: &[&Estimate]) -> Vec<CompareRow> {
    let mut rows = Vec::new();
    for class in ResourceClass::ALL {
        let units = distinct(
            all.iter()
                .flat_map(|e| &e.headline)
                .filter(|h| h.class == class && !h.unit.is_empty())
                .map(|h| h.unit.as_str()),
        );
        for unit in units {
            let of = |e: &&Estimate| {
                e.headline
                    .iter()
                    .find(|h| h.class == class && h.unit == unit)
                    .and_then(|h| h.net.clone())
            };
            let values = all.iter().map(of).collect();
            rows.push(row(
                ComparePart::Headline,
                class.word(),
                CompareValues::Amounts {
                    unit: unit.to_owned(),
                    values,
                },
            ));
        }
    }
    rows
}

fn trades(all: &[&Estimate]) -> Vec<CompareRow> {
    let rows_of = |e: &&Estimate| e.cut(CutKind::Trade).map_or(Vec::new(), |c| c.rows.clone());
    let tables: Vec<_> = all.iter().map(rows_of).collect();
    let with_hours = tables
        .iter()
        .flatten()
        .filter(|r| !r.hours.is_zero())
        .map(|r| r.key.clone());
    distinct(with_hours)
        .into_iter()
        .map(|key| {
            let values = tables
                .iter()
                .map(|t| t.iter().find(|r| r.key == key).map(|r| r.hours.clone()))
                .collect();
            row(
                ComparePart::Trade,
                key,
                CompareValues::Amounts {
                    unit: "h".to_owned(),
                    values,
                },
            )
        })
        .collect()
}

fn costs(all: &[&Estimate]) -> Vec<CompareRow> {
    let money = |what: &str, of: &dyn Fn(&Estimate) -> i128| {
        row(
            ComparePart::Cost,
            what,
            CompareValues::Money(all.iter().map(|e| of(e)).collect()),
        )
    };
    let base = all.first().map_or(0, |e| e.totals.grand);
    let mut rows = vec![
        money("labor", &|e| e.totals.labor),
        money("materials", &|e| e.totals.materials),
        money("charges", &|e| e.totals.charges),
    ];
    if all.iter().any(|e| e.totals.hired != 0) {
        rows.insert(2, money("hired", &|e| e.totals.hired));
    }
    if all.iter().any(|e| e.final_rounding.is_some()) {
        rows.push(money("final rounding", &|e| {
            e.final_rounding.as_ref().map_or(0, |f| f.cents)
        }));
    }
    rows.push(money("total", &|e| e.totals.grand));
    rows.push(money("difference", &|e| e.totals.grand - base));
    rows
}

/// Decisions that did not fall out the same everywhere.
fn decisions(all: &[&Estimate]) -> Vec<CompareRow> {
    let counted = all.iter().flat_map(|e| {
        e.facts
            .decided
            .iter()
            .flat_map(|d| d.labels.iter().map(move |(label, _)| (&d.decision, label)))
    });
    distinct(counted)
        .into_iter()
        .map(|(decision, label)| {
            let of = |e: &&Estimate| {
                let count = e.facts.decided.iter().find(|d| d.decision == *decision);
                count.and_then(|d| d.labels.iter().find(|(l, _)| l == label)).map_or(0, |(_, n)| *n)
            };
            let what = format!("{}: {}", names::spoken(decision), names::spoken(label));
            row(ComparePart::Decision, what, CompareValues::Counts(all.iter().map(of).collect()))
        })
        .filter(|r| matches!(&r.values, CompareValues::Counts(counts) if counts.windows(2).any(|pair| pair[0] != pair[1])))
        .collect()
}

fn openings(all: &[&Estimate]) -> Vec<OpeningDifference> {
    let cuts: Option<Vec<_>> = all.iter().map(|e| e.cut(CutKind::Opening)).collect();
    let Some(cuts) = cuts else { return Vec::new() };
    let Some(first) = cuts.first() else {
        return Vec::new();
    };
    // Every version runs over the same survey, so row is beside row.
    let mut list: Vec<OpeningDifference> = Vec::new();
    for (at, one) in first.rows.iter().enumerate().filter(|(_, r)| !r.whole_job) {
        let cents: Vec<i128> = cuts
            .iter()
            .map(|c| {
                c.rows
                    .get(at)
                    .filter(|r| !r.whole_job)
                    .map_or(0, |r| r.cents())
            })
            .collect();
        if cents.iter().any(|c| *c != one.cents()) {
            list.push(OpeningDifference {
                mark: one.key.clone(),
                cents,
            });
        }
    }
    list.sort_by_key(|o| std::cmp::Reverse(o.most())); // stable: ties in order of the survey
    list
}

impl Comparison {
    /// The total of each version in cents.
    pub fn totals(&self) -> Option<&[i128]> {
        let total = |r: &&CompareRow| r.part == ComparePart::Cost && r.what == "total";
        match &self.rows.iter().find(total)?.values {
            CompareValues::Money(cents) => Some(cents),
            CompareValues::Amounts { .. } | CompareValues::Counts(_) => None,
        }
    }
}

impl OpeningDifference {
    /// The greatest difference to the first version, in cents.
    pub fn most(&self) -> u128 {
        let first = self.cents.first().copied().unwrap_or(0);
        self.cents
            .iter()
            .map(|c| (c - first).unsigned_abs())
            .max()
            .unwrap_or(0)
    }
}
