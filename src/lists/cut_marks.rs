//! Which row each piece of a cut plan is for: the pieces of a part go to its rows one after another, in the order of the plan.

use crate::cutting::model::Problem;
use crate::cutting::offcuts::pieces;
use crate::cutting::plan::Plan;
use std::collections::VecDeque;

/// For each way of cutting and each piece in it, the rows that it is for: one for each piece of stock that is cut alike.
pub(super) struct Marks(Vec<Vec<Vec<String>>>);

impl Marks {
    pub(super) fn of(problem: &Problem, plan: &Plan) -> Marks {
        let queue = |rows: &Vec<(String, u32)>| -> VecDeque<String> {
            let each = rows.iter();
            each.flat_map(|(mark, n)| (0..*n).map(|_| mark.clone()))
                .collect()
        };
        let mut left: Vec<VecDeque<String>> =
            problem.parts.iter().map(|p| queue(&p.rows)).collect();
        let cuts = plan.cuts.iter().map(|cut| {
            let list = pieces(problem, cut).into_iter().map(|(part, _)| {
                let rows = left.get_mut(part);
                let taken = rows.map(|rows| {
                    let all = rows.len().min(crate::ids::at(cut.times));
                    rows.drain(..all).collect::<Vec<_>>()
                });
                taken.unwrap_or_default()
            });
            list.collect()
        });
        Marks(cuts.collect())
    }

    /// What is on a piece: `S3-S`, or for several cut alike `N5-L, N8-L`; none where the plan is of no job.
    pub(super) fn at(&self, cut: usize, piece: usize) -> Option<String> {
        self.told(cut, piece..piece + 1)
    }

    /// What stands for pieces that lie beside one another and are alike: `N5-L (2), N8-L`.
    pub(super) fn told(&self, cut: usize, of: std::ops::Range<usize>) -> Option<String> {
        let marks = self.0.get(cut)?.get(of)?.iter().flatten();
        let mut counted: Vec<(&str, usize)> = Vec::new();
        for mark in marks {
            match counted.iter_mut().find(|c| c.0 == mark) {
                Some((_, n)) => *n += 1,
                None => counted.push((mark, 1)),
            }
        }
        let word = |(mark, n): &(&str, usize)| match n {
            1 => (*mark).to_owned(),
            n => format!("{mark} ({n})"),
        };
        let words: Vec<String> = counted.iter().map(word).collect();
        (!words.is_empty()).then(|| words.join(", "))
    }
}
