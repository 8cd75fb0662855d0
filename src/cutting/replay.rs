//! Cuts a plan again, cut by cut, and says what is wrong with it. Shares nothing with the solver.
//!
//! ```
//! # fn bars() -> (ovolo::cutting::model::Problem, ovolo::cutting::plan::Plan) {
//! #     include!(concat!(env!("CARGO_MANIFEST_DIR"), "/tests/docs/bars.rs"))
//! # }
//! let (problem, mut plan) = bars();
//! plan.cuts.pop(); // parts are missing now
//! assert!(!ovolo::cutting::replay::replay(&problem, &plan).is_empty());
//! ```

use super::model::{Goods, Part, Problem, Stock};
use super::plan::{Area, PlacedSection, PlacedStrip, Plan, PlannedCut};

/// Faults listed; the rest is counted.
const MOST_FAULTS: usize = 20;

/// Follows the plan with saw and cutter; the faults found, none when it can be cut as it stands.
pub fn replay(problem: &Problem, plan: &Plan) -> Vec<String> {
    let mut faults = Vec::new();
    let mut made = vec![0u64; problem.parts.len()];
    let mut used = vec![0u64; problem.stocks.len()];
    let mut cost = 0i128;
    for (n, cut) in plan.cuts.iter().enumerate() {
        let mut shop = Shop {
            problem,
            cut,
            n: n + 1,
            faults: &mut faults,
        };
        let Some(stock) = problem.stocks.get(cut.stock) else {
            shop.fault("names a stock that is not there");
            continue;
        };
        used[cut.stock] += u64::from(cut.times);
        cost += i128::from(stock.cost) * i128::from(cut.times);
        for part in shop.cut(stock) {
            made[part] += u64::from(cut.times);
        }
    }
    for (part, made) in problem.parts.iter().zip(made) {
        if made != u64::from(part.count) {
            faults.push(format!(
                "part {}: {made} are made, {} are needed",
                name(part),
                part.count
            ));
        }
    }
    for (stock, used) in problem.stocks.iter().zip(used) {
        if let Some(there) = stock.available
            && used > u64::from(there)
        {
            faults.push(format!(
                "stock {}: {used} are cut, {there} are there",
                stock.mark
            ));
        }
    }
    if cost != i128::from(plan.cost) {
        faults.push(format!(
            "the stock used costs {cost}, the plan says {}",
            plan.cost
        ));
    }
    if faults.len() > MOST_FAULTS {
        let more = faults.len() - MOST_FAULTS;
        faults.truncate(MOST_FAULTS);
        faults.push(format!("and {more} more"));
    }
    faults
}

fn name(part: &Part) -> String {
    let size = format!("{} x {}", part.length, part.width);
    if part.mark.is_empty() {
        size
    } else {
        format!("{} ({size})", part.mark)
    }
}

struct Shop<'a> {
    problem: &'a Problem,
    cut: &'a PlannedCut,
    n: usize,
    faults: &'a mut Vec<String>,
}

impl Shop<'_> {
    fn fault(&mut self, what: impl AsRef<str>) {
        self.faults
            .push(format!("cut {}: {}", self.n, what.as_ref()));
    }

    /// Cuts one piece of stock; the parts that come out of it.
    fn cut(&mut self, stock: &Stock) -> Vec<usize> {
        let rules = self.problem.rules;
        let cut = self.cut;
        if cut.along && rules.goods != Goods::Glass {
            self.fault("is ripped first; boards and bars are cut across first");
        }
        if cut.times == 0 || cut.sections.is_empty() {
            self.fault("cuts nothing");
        }
        let (first, second) = if cut.along {
            (rules.rip, rules.crosscut)
        } else {
            (rules.crosscut, rules.rip)
        };
        let mut made = Vec::new();
        let mut pieces: Vec<Area> = Vec::new();
        let mut saw: Option<i64> = None;
        for section in &cut.sections {
            if saw.is_some_and(|end| section.at < end + first) {
                self.fault(format!(
                    "the section at {} begins before the cut ahead of it is through",
                    section.at
                ));
            }
            saw = Some(section.at + section.size);
            self.hold(stock, section);
            let mut side: Option<i64> = None;
            for strip in &section.strips {
                if side.is_some_and(|end| strip.at < end + second) {
                    self.fault(format!(
                        "the strip at {} begins before the cut beside it is through",
                        strip.at
                    ));
                }
                side = Some(strip.at + strip.width);
                self.strip(stock, section, strip, first, &mut made, &mut pieces);
            }
        }
        self.stages();
        self.leftovers(stock);
        pieces.sort_unstable();
        for (i, a) in pieces.iter().enumerate() {
            for b in pieces[i + 1..].iter().take_while(|b| b.x < a.x + a.length) {
                if b.y < a.y + a.width && a.y < b.y + b.width {
                    self.fault(format!(
                        "pieces at {}, {} and {}, {} lie over one another",
                        a.x, a.y, b.x, b.y
                    ));
                }
            }
        }
        made
    }

    fn on_stock(&self, at: i64, side: i64, long: i64, wide: i64) -> Area {
        if self.cut.along {
            Area {
                x: side,
                y: at,
                length: wide,
                width: long,
            }
        } else {
            Area {
                x: at,
                y: side,
                length: long,
                width: wide,
            }
        }
    }

    /// A section lies on sound stock, within the trims.
    fn hold(&mut self, stock: &Stock, section: &PlacedSection) {
        let wide = section
            .strips
            .iter()
            .map(|s| s.at + s.width)
            .max()
            .unwrap_or(0);
        let low = section.strips.iter().map(|s| s.at).min().unwrap_or(0);
        let a = self.on_stock(section.at, low, section.size, wide - low);
        let edge = if self.problem.rules.goods == Goods::Glass {
            stock.trim
        } else {
            0
        };
        if a.length <= 0 || a.width <= 0 {
            self.fault(format!("the section at {} has no size", section.at));
        }
        if a.x < stock.trim || a.x + a.length > stock.length - stock.trim {
            self.fault(format!(
                "the section at {} runs past the ends of {}",
                section.at, stock.mark
            ));
        }
        if a.y < edge || a.y + a.width > stock.width - edge {
            self.fault(format!(
                "the section at {} runs past the edges of {}",
                section.at, stock.mark
            ));
        }
        for &(from, to) in &stock.bad {
            if a.x < to && from < a.x + a.length {
                self.fault(format!(
                    "the section at {} holds the bad stretch {from} to {to}",
                    section.at
                ));
            }
        }
    }

    fn strip(
        &mut self,
        stock: &Stock,
        section: &PlacedSection,
        strip: &PlacedStrip,
        kerf: i64,
        made: &mut Vec<usize>,
        areas: &mut Vec<Area>,
    ) {
        let rules = self.problem.rules;
        let mut saw: Option<i64> = None;
        if strip.pieces.is_empty() {
            self.fault(format!("the strip at {} is empty", strip.at));
        }
        for piece in &strip.pieces {
            let Some(part) = self.problem.parts.get(piece.part) else {
                self.fault("makes a part that is not asked for");
                continue;
            };
            if piece.turned && !rules.turn {
                self.fault(format!("turns {}, which may not be turned", name(part)));
            }
            if part.thick != stock.thick {
                self.fault(format!("cuts {} from another thickness", name(part)));
            }
            let (long, wide) = if piece.turned == self.cut.along {
                (part.length, part.width)
            } else {
                (part.width, part.length)
            };
            if saw.is_some_and(|end| piece.at < end + kerf) || piece.at < section.at {
                self.fault(format!(
                    "the piece at {} begins before the cut ahead of it is through",
                    piece.at
                ));
            }
            saw = Some(piece.at + long);
            if piece.at + long > section.at + section.size {
                self.fault(format!("{} runs past its section", name(part)));
            }
            if wide > strip.width || (wide < strip.width && strip.width - wide < rules.least) {
                self.fault(format!(
                    "{} cannot be cut from a strip {} wide",
                    name(part),
                    strip.width
                ));
            }
            made.push(piece.part);
            areas.push(self.on_stock(piece.at, strip.at, long, wide));
        }
    }

    fn stages(&mut self) {
        let sections = &self.cut.sections;
        let stages = self.problem.rules.stages;
        if stages < 2 && sections.iter().any(|s| s.strips.len() > 1) {
            self.fault("has strips side by side, which one stage cannot cut");
        }
        if stages == 2 && sections.len() > 1 {
            self.fault("has sections, which take a third stage");
        }
    }

    /// What is left beyond the last piece, strip and section is nothing, dust, or wide enough to be snapped off.
    fn leftovers(&mut self, stock: &Stock) {
        let rules = self.problem.rules;
        if rules.least == 0 {
            return;
        }
        let cut = self.cut;
        let (first, second) = if cut.along {
            (rules.rip, rules.crosscut)
        } else {
            (rules.crosscut, rules.rip)
        };
        let (mut end, mut side) = (stock.length - stock.trim, stock.width - stock.trim);
        if cut.along {
            std::mem::swap(&mut end, &mut side);
        }
        let fine = |rest: i64, kerf: i64| rest <= kerf || rest >= kerf + rules.least;
        if let Some(last) = cut.sections.last()
            && !fine(end - last.at - last.size, first)
        {
            self.fault("leaves a strip beyond the last section that cannot be snapped off");
        }
        for section in &cut.sections {
            if let Some(last) = section.strips.last()
                && !fine(side - last.at - last.width, second)
            {
                self.fault("leaves a strip beside the last strip that cannot be snapped off");
            }
            for strip in &section.strips {
                let Some((piece, part)) = strip
                    .pieces
                    .last()
                    .and_then(|p| Some((p, self.problem.parts.get(p.part)?)))
                else {
                    continue;
                };
                let long = if piece.turned == cut.along {
                    part.length
                } else {
                    part.width
                };
                if !fine(section.at + section.size - piece.at - long, first) {
                    self.fault(format!(
                        "leaves a strip beyond {} that cannot be snapped off",
                        name(part)
                    ));
                }
            }
        }
    }
}
