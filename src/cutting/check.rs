//! What keeps a problem from being solved: every fault with its place, before any work is done.
//!
//! ```
//! # fn bars() -> (ovolo::cutting::model::Problem, ovolo::cutting::plan::Plan) {
//! #     include!(concat!(env!("CARGO_MANIFEST_DIR"), "/tests/docs/bars.rs"))
//! # }
//! let (mut problem, _) = bars();
//! problem.parts[0].length = 200; // longer than any bar
//! assert_eq!(ovolo::cutting::check::check(&problem, &Default::default()).len(), 1);
//! ```

use super::model::{Goods, MOST_COST, MOST_PARTS, MOST_UNITS, Part, Problem, Stock};
use crate::diagnostics::{Diagnostic, Place};
use std::collections::HashMap;

/// Where parts and stock were read, in words: a place, and what is there.
#[derive(Debug, Clone, Default)]
pub struct Whereabouts {
    /// Of each part.
    pub parts: Vec<(Place, String)>,
    /// Of each stock.
    pub stocks: Vec<(Place, String)>,
    /// Of the settings.
    pub rules: Option<(Place, String)>,
}

/// All faults of a problem; none when it can be solved, as far as can be seen without solving it.
pub fn check(problem: &Problem, at: &Whereabouts) -> Vec<Diagnostic> {
    let check = Check { problem, at };
    let mut faults = Vec::new();
    check.rules(&mut faults);
    check.sizes(&mut faults);
    for i in 0..problem.stocks.len() {
        check.stock(i, &mut faults);
    }
    check.marks(&mut faults);
    if faults.is_empty() {
        check.places(&mut faults);
    }
    faults
}

/// The problem, where reading it found no faults and neither does [`check`]. Errors: all of them.
pub fn accept(
    problem: Problem,
    at: &Whereabouts,
    mut faults: Vec<Diagnostic>,
) -> Result<Problem, Vec<Diagnostic>> {
    if faults.is_empty() {
        faults = check(&problem, at);
    }
    match faults.is_empty() {
        true => Ok(problem),
        false => Err(faults),
    }
}

struct Check<'a> {
    problem: &'a Problem,
    at: &'a Whereabouts,
}

impl Check<'_> {
    fn placed(&self, d: Diagnostic, place: Option<&(Place, String)>) -> Diagnostic {
        match place {
            Some((place, text)) => d.at(place.clone(), text.clone()),
            None => d,
        }
    }

    fn rules(&self, faults: &mut Vec<Diagnostic>) {
        let rules = &self.problem.rules;
        let place = self.at.rules.as_ref();
        for (name, kerf) in [("crosscut", rules.crosscut), ("rip", rules.rip)] {
            let zero = kerf == 0 && rules.goods == Goods::Boards;
            if kerf < 0 || zero {
                let d = Diagnostic::error("OV-952", format!("a {name} cannot have this kerf"))
                    .found(format!(
                        "{} {}",
                        self.problem.size(kerf),
                        self.problem.shown_unit()
                    ))
                    .expected("the width of wood that a cut turns to dust, more than 0 for a saw")
                    .mend("write the kerf of the blade, such as 1/8 in");
                faults.push(self.placed(d, place));
            }
        }
        if rules.least < 0 || rules.keep.0 < 0 || rules.keep.1 < 0 {
            let d = Diagnostic::error(
                "OV-952",
                "a least strip or offcut cannot be less than nothing",
            )
            .mend("write 0 where there is no limit");
            faults.push(self.placed(d, place));
        }
        let pieces = self.problem.pieces();
        if pieces > MOST_PARTS {
            let d = Diagnostic::error("OV-957", "too many parts for one plan")
                .found(format!("{pieces} parts"))
                .expected(format!("at most {MOST_PARTS}"))
                .mend("cut the job in several plans, for example by wing or by thickness");
            faults.push(self.placed(d, place));
        }
    }

    fn sizes(&self, faults: &mut Vec<Diagnostic>) {
        let wrong = |n: i64| !(1..=MOST_UNITS).contains(&n);
        let told = |what: &str, n: i64| {
            Diagnostic::error(
                "OV-951",
                format!("the {what} is not a size that can be cut"),
            )
            .found(format!(
                "{} {}",
                self.problem.size(n),
                self.problem.shown_unit()
            ))
            .expected(format!(
                "more than 0, and at most {} {}",
                self.problem.size(MOST_UNITS),
                self.problem.shown_unit()
            ))
        };
        for (i, p) in self.problem.parts.iter().enumerate() {
            for (what, n) in [
                ("length of this part", p.length),
                ("width of this part", p.width),
            ] {
                if wrong(n) {
                    faults.push(self.placed(told(what, n), self.at.parts.get(i)));
                }
            }
        }
        let least = self.problem.rules.least;
        for (i, p) in self.problem.parts.iter().enumerate() {
            if (1..least).contains(&p.length.min(p.width)) {
                let d = Diagnostic::error("OV-951", "this part is narrower than any strip that can be snapped off")
                    .found(format!("{} x {}", self.problem.size(p.length), self.problem.size(p.width)))
                    .expected(format!("no side under the least strip, {}", self.problem.size(least)))
                    .mend("write the least strip that your cutter can snap, or have the part ground from a wider one");
                faults.push(self.placed(d, self.at.parts.get(i)));
            }
        }
        for (i, s) in self.problem.stocks.iter().enumerate() {
            for (what, n) in [
                ("length of this stock", s.length),
                ("width of this stock", s.width),
            ] {
                if wrong(n) {
                    faults.push(self.placed(told(what, n), self.at.stocks.get(i)));
                }
            }
            if !(0..=MOST_COST).contains(&s.cost) {
                let d = Diagnostic::error("OV-951", "the cost of this stock is out of range")
                    .found(s.cost.to_string())
                    .expected(format!("from 0 to {MOST_COST}"));
                faults.push(self.placed(d, self.at.stocks.get(i)));
            }
        }
    }

    fn stock(&self, i: usize, faults: &mut Vec<Diagnostic>) {
        let s = &self.problem.stocks[i];
        let place = self.at.stocks.get(i);
        let size = |n: i64| self.problem.size(n);
        let mut last: Option<(i64, i64)> = None;
        for &(from, to) in &s.bad {
            let stretch = format!(
                "from {} to {} {}",
                size(from),
                size(to),
                self.problem.shown_unit()
            );
            if from >= to || from < 0 || to > s.length {
                let d = Diagnostic::error("OV-953", "a bad stretch does not lie on its board")
                    .found(stretch)
                    .expected(format!(
                        "a stretch within the board, 0 to {} {}",
                        size(s.length),
                        self.problem.shown_unit()
                    ))
                    .mend("measure the stretch again from the same end as the others");
                faults.push(self.placed(d, place));
            } else if let Some((a, b)) = last.filter(|l| from < l.1) {
                let d = Diagnostic::error("OV-953", "two bad stretches of a board overlap")
                    .found(format!("from {} to {}, and {stretch}", size(a), size(b)))
                    .expected("stretches in order along the board, each beyond the one before")
                    .mend(format!(
                        "write one stretch from {} to {}",
                        size(a.min(from)),
                        size(b.max(to))
                    ));
                faults.push(self.placed(d, place));
            }
            last = Some((from, to));
        }
        let clear = s.clear_width(self.problem.rules.goods);
        if s.trim < 0 || 2 * s.trim >= s.length || (s.length > 0 && clear <= 0) {
            let d = Diagnostic::error("OV-958", "the trim leaves nothing of this stock")
                .found(format!(
                    "{} off each side of {} x {}",
                    size(s.trim),
                    size(s.length),
                    size(s.width)
                ))
                .expected("a trim, 0 or more, that leaves something between")
                .mend("write a smaller trim, or leave this stock out");
            faults.push(self.placed(d, place));
        }
    }

    fn marks(&self, faults: &mut Vec<Diagnostic>) {
        let mut seen: HashMap<&str, usize> = HashMap::new();
        for (i, s) in self
            .problem
            .stocks
            .iter()
            .enumerate()
            .filter(|(_, s)| !s.mark.is_empty())
        {
            if let Some(first) = seen.insert(&s.mark, i) {
                let d = Diagnostic::error(
                    "OV-954",
                    format!("two pieces of stock have the mark {}", s.mark),
                )
                .expected("a mark of its own for each")
                .mend("chalk a new mark on one of them and write it here");
                let d = self.placed(d, self.at.stocks.get(i));
                faults.push(self.placed(d, self.at.stocks.get(first)));
            }
        }
    }

    /// A part that fits on nothing, with the stock that comes nearest.
    fn places(&self, faults: &mut Vec<Diagnostic>) {
        for (i, part) in self
            .problem
            .parts
            .iter()
            .enumerate()
            .filter(|(_, p)| p.count > 0)
        {
            let there = |s: &&Stock| s.thick == part.thick && s.available != Some(0);
            let mut short: Option<(i64, &Stock, i64)> = None;
            for stock in self.problem.stocks.iter().filter(there) {
                let (lacks, run) = self.lacks(part, stock);
                if short.is_none_or(|s| lacks < s.0) {
                    short = Some((lacks, stock, run));
                }
            }
            let name = self.name(part);
            match short {
                None => {
                    faults.push(self.placed(self.no_thickness(part, &name), self.at.parts.get(i)))
                }
                Some((lacks, stock, run)) if lacks > 0 => {
                    let width = stock.clear_width(self.problem.rules.goods);
                    let d = Diagnostic::error("OV-956", format!("{name} is larger than any stock"))
                        .found(format!(
                            "{} x {} {}",
                            self.problem.size(part.length),
                            self.problem.size(part.width),
                            self.problem.shown_unit()
                        ))
                        .expected(format!(
                            "no more than a clear stretch; the nearest, of {}, is {} x {}",
                            if stock.mark.is_empty() {
                                "stock without a mark"
                            } else {
                                &stock.mark
                            },
                            self.problem.size(run),
                            self.problem.size(width)
                        ))
                        .mend("add stock that is large enough, or make the part from two");
                    faults.push(self.placed(d, self.at.parts.get(i)));
                }
                Some(_) => {}
            }
        }
    }

    /// What a part lacks to fit on a stock, in length and width together, and the run it comes nearest on.
    fn lacks(&self, part: &Part, stock: &Stock) -> (i64, i64) {
        let rules = &self.problem.rules;
        let run = stock
            .runs(rules.crosscut)
            .iter()
            .map(|r| r.length)
            .max()
            .unwrap_or(0);
        let width = stock.clear_width(rules.goods);
        let lack = |l: i64, w: i64| (l - run).max(0) + (w - width).max(0);
        let straight = lack(part.length, part.width);
        let lacks = if rules.turn {
            straight.min(lack(part.width, part.length))
        } else {
            straight
        };
        (lacks, run)
    }

    fn no_thickness(&self, part: &Part, name: &str) -> Diagnostic {
        let mut thick: Vec<i64> = self.problem.stocks.iter().map(|s| s.thick).collect();
        thick.sort_unstable();
        thick.dedup();
        let list: Vec<String> = thick.iter().map(|&t| self.problem.size(t)).collect();
        Diagnostic::error("OV-955", format!("no stock has the thickness of {name}"))
            .found(format!(
                "{} {}",
                self.problem.size(part.thick),
                self.problem.shown_unit()
            ))
            .expected(if list.is_empty() {
                "some stock".to_string()
            } else {
                format!("a thickness there is stock of: {}", list.join(", "))
            })
            .mend("add stock of this thickness, or correct the thickness of the part")
    }

    fn name(&self, part: &Part) -> String {
        if part.mark.is_empty() {
            "this part".to_string()
        } else {
            part.mark.clone()
        }
    }
}
