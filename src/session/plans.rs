//! The cut plans that a job names, read and cut again: an estimate never makes one.

use super::files::Role;
use super::job::Job;
use crate::cutting::file;
use crate::cutting::model::{Goods, Problem};
use crate::cutting::plan::{Plan, Planned};
use crate::cutting::words::stock_name;
use crate::diagnostics::{Diagnostic, Severity};
use crate::estimate::{Survey, Worked};
use crate::ids;
use crate::number::{Exact, Rounding};
use crate::pricing::{BuyLine, CutBeside, CutPlanCost, StockPick};
use crate::program::{CutTerms, Version};
use crate::table::Table;
use crate::takeoff::{PartAt, Parts, parts};
use crate::tally::cut_problem;
use std::io::Read;

/// Largest plan file, in bytes.
const MOST_BYTES: u64 = 64 << 20;

/// Reads a finished plan of a problem from its text. Errors: those of [`file::read`] and [`file::check_bound`], and OV-836 for a plan whose
/// search was interrupted.
pub fn read_plan(problem: &Problem, text: &str, name: &str) -> Result<Plan, Vec<Diagnostic>> {
    let plan = file::read(text, name, problem)?;
    file::check_bound(problem, &plan, name)?;
    if plan.finished {
        return Ok(plan);
    }
    let d = Diagnostic::error("OV-836", "a job does not use a plan that was interrupted")
        .at(crate::diagnostics::Place::File(name.to_owned()), "finished")
        .mend("make the plan again with `ovolo cut`, and let it come to its end");
    Err(vec![d])
}

/// The plans that a job uses.
#[derive(Debug, Default)]
pub struct Plans {
    /// Each with its problem, in the order of the blocks.
    pub kept: Vec<Planned>,
    /// Why others are not used, as warnings.
    pub told: Vec<Diagnostic>,
}

impl Job {
    /// The price of one base unit of a resource in an estimate; none where none of it is bought.
    pub fn cut_price(terms: &CutTerms, worked: &Worked) -> Option<Exact> {
        let buys = &worked.estimate.buys;
        let line = buys.iter().find(|b| b.resource == terms.resource)?;
        Some(line.price.per_base.clone())
    }

    /// Puts stock by cut plan beside stock by waste percent into an estimate. `worked` was asked for [`crate::takeoff::wanted_parts`].
    /// Errors: for the job as decided, what keeps a plan from being used. For an alternate, and where rows are set aside and the plan is of
    /// other parts, the line says so, and the waste percent stands; so it does where `spare` says that nothing shows the plans, and then
    /// what was found is reported.
    pub fn put_plans(
        &self,
        version: usize,
        survey: &Survey,
        worked: &mut Worked,
        spare: bool,
    ) -> Result<Plans, Vec<Diagnostic>> {
        let program = &self.checked.program;
        let planned = || program.terms.cuts.iter().filter(|c| c.plan.is_some());
        let Some(def) = program
            .versions
            .get(version)
            .filter(|_| planned().next().is_some())
        else {
            return Ok(Plans::default());
        };
        let tables = survey.tables.iter().collect::<Vec<_>>();
        let found = parts(program, def, &worked.results, &tables);
        let fewer = !survey.set_aside().is_empty();
        let (mut faults, mut plans) = (Vec::new(), Plans::default());
        for terms in planned() {
            match self.plan_cost(terms, def, (&tables, &found), worked) {
                Ok(None) => {}
                Ok(Some((beside, planned))) => {
                    worked.estimate.cut_plans.push(beside);
                    plans.kept.push(planned);
                }
                Err(list) if version == 0 && !(fewer || spare) => faults.extend(list),
                Err(list) if version == 0 && !outgrown(&list) => faults.extend(list),
                Err(list) => {
                    if spare {
                        plans.told.extend(list.iter().cloned().map(|d| Diagnostic {
                            severity: Severity::Warning,
                            ..d
                        }));
                    }
                    worked.estimate.cut_plans.push(CutBeside {
                        name: terms.name.clone(),
                        by_waste: by_waste(terms, def, &found, worked),
                        plan: None,
                        note: format!(
                            "by the waste percent alone: {}{}",
                            if fewer {
                                "rows are set aside, and "
                            } else {
                                ""
                            },
                            list.first().map_or("", |d| d.message.as_str())
                        ),
                    });
                }
            }
        }
        worked.estimate.origin = self.origin();
        match faults.is_empty() {
            true => Ok(plans),
            false => Err(faults),
        }
    }

    fn plan_cost(
        &self,
        terms: &CutTerms,
        version: &Version,
        (tables, found): (&[&Table], &Parts),
        worked: &Worked,
    ) -> Result<Option<(CutBeside, Planned)>, Vec<Diagnostic>> {
        let (Some(input), Some(price)) = (&terms.plan, Job::cut_price(terms, worked)) else {
            return Ok(None);
        };
        let sheet = self.loaded.sources.name(input.span.file);
        let problem = cut_problem(
            &self.checked.program,
            version,
            terms,
            tables,
            found,
            &price,
            sheet,
        )?;
        let name = self.from.name(&input.path, sheet);
        let text = self.plan_text(&name).map_err(|why| {
            let d = Diagnostic::error(
                "OV-002",
                format!("the file \"{}\" can't be opened", input.path),
            )
            .at(input.span, "")
            .found(why)
            .mend(format!(
                "make the plan with `{}`, or take the line out until there is one",
                self.makes(terms)
            ));
            vec![d]
        })?;
        let plan = read_plan(&problem, &text, &name).map_err(|mut list| {
            for d in list.iter_mut().filter(|d| d.mend.is_some()) {
                d.mend = Some(format!("make the plan again: `{}`", self.makes(terms)));
            }
            list
        })?;
        let beside = CutBeside {
            name: terms.name.clone(),
            by_waste: by_waste(terms, version, found, worked),
            plan: Some(costs(&problem, &plan, terms.per_inch)),
            note: self.worth(terms, version, &worked.estimate.currency),
        };
        let planned = Planned {
            name: terms.name.clone(),
            problem,
            plan,
        };
        Ok(Some((beside, planned)))
    }

    /// The command that makes the plan of a block.
    fn makes(&self, terms: &CutTerms) -> String {
        let sheet = self.loaded.sheets.last();
        let job = sheet.map_or("JOB", |s| self.loaded.sources.name(s.file));
        format!("ovolo cut {job} --resource {}", terms.name)
    }

    fn plan_text(&self, name: &str) -> Result<String, String> {
        let mut bytes = Vec::new();
        let stream = self.from.open(name)?;
        let read = stream.take(MOST_BYTES + 1).read_to_end(&mut bytes);
        read.map_err(|e| e.to_string())?;
        if ids::long(bytes.len()) > MOST_BYTES {
            return Err(format!("it is larger than {MOST_BYTES} bytes"));
        }
        self.files.read(Role::Plan, name, &bytes);
        String::from_utf8(bytes).map_err(|_| "it is not text in UTF-8".to_owned())
    }

    /// `stock on hand counts at 6.00 USD per bf`
    fn worth(&self, terms: &CutTerms, version: &Version, currency: &str) -> String {
        let Some(on_hand) = &terms.on_hand else {
            return String::new();
        };
        let Some(unit) = version.resources.get(terms.resource).map(|r| &r.unit) else {
            return String::new();
        };
        let worth = on_hand.worth.mul(unit.factor()).unwrap_or(Exact::ZERO);
        format!(
            "stock on hand counts at {} {currency} per {}",
            worth.to_fixed(2, Rounding::HalfUp),
            unit.text(&self.checked.program.nouns)
        )
    }
}

/// Whether all that is wrong with a plan is that it is of other parts, stock or settings.
fn outgrown(list: &[Diagnostic]) -> bool {
    list.iter().all(|d| d.code == "OV-959")
}

/// What the parts alone cost by the waste percent, in cents, half a cent up: their share of the net amount of the buy line. Wood for
/// patches and the like is in no plan, so it is in this sum neither.
fn by_waste(terms: &CutTerms, version: &Version, found: &Parts, worked: &Worked) -> i128 {
    let made_of = |part: &PartAt| {
        let def = version.parts.get(part.part);
        def.is_some_and(|d| d.resource == terms.resource)
    };
    let mut net = Exact::ZERO;
    for part in found.at.iter().filter(|p| made_of(p)) {
        let count = Exact::from_i128(i128::from(part.count));
        let amount = part
            .sizes
            .iter()
            .try_fold(count, |all, s| all.mul(&s.rough));
        net = amount.and_then(|a| net.add(&a)).unwrap_or(net);
    }
    let lines = worked
        .estimate
        .buys
        .iter()
        .filter(|b| b.resource == terms.resource);
    let share = |line: &BuyLine| {
        let whole = line.net.mul(&line.base_per_unit).ok()?;
        let cents = Exact::from_i128(line.cents)
            .mul(&net)
            .ok()?
            .div(&whole)
            .ok()?;
        cents
            .div(&Exact::int(100))
            .ok()?
            .to_cents(Rounding::HalfUp)
            .ok()
    };
    lines.filter_map(share).sum()
}

fn costs(problem: &Problem, plan: &Plan, per_inch: i64) -> CutPlanCost {
    let mut used = vec![0u64; problem.stocks.len()];
    for cut in &plan.cuts {
        if let Some(n) = used.get_mut(cut.stock) {
            *n += u64::from(cut.times);
        }
    }
    let mut out = CutPlanCost {
        bought: Vec::new(),
        on_hand: 0,
        picks: Vec::new(),
        worth: 0,
        cost: plan.cost,
        bound: plan.bound(),
    };
    for (at, (stock, n)) in problem.stocks.iter().zip(used).enumerate() {
        match stock.available {
            Some(_) => {
                out.on_hand += n;
                out.worth += stock.cost.saturating_mul(ids::count(ids::length(n)));
                if n > 0 {
                    out.picks.push(pick(problem, plan, (at, n), per_inch));
                }
            }
            None if n > 0 => out.bought.push((stock_name(problem, at), n, stock.cost)),
            None => {}
        }
    }
    out
}

/// Most rows that a part on a pick list names.
const MOST_ROWS: usize = 3;

/// A piece of stock on hand with what the plan cuts from it.
fn pick(problem: &Problem, plan: &Plan, (stock, count): (usize, u64), per_inch: i64) -> StockPick {
    let own = &problem.stocks[stock];
    let side = |n: i64, there: bool| Exact::ratio(n, per_inch).filter(|_| there && n > 0);
    let mut parts: Vec<(usize, u64)> = Vec::new();
    for cut in plan.cuts.iter().filter(|c| c.stock == stock) {
        let strips = cut.sections.iter().flat_map(|s| &s.strips);
        for piece in strips.flat_map(|s| &s.pieces) {
            match parts.iter_mut().find(|(part, _)| *part == piece.part) {
                Some((_, n)) => *n += u64::from(cut.times),
                None => parts.push((piece.part, u64::from(cut.times))),
            }
        }
    }
    let words = |(part, n): (usize, u64)| {
        let Some(part) = problem.parts.get(part) else {
            return String::new();
        };
        let mut rows: Vec<&str> = part.rows.iter().map(|r| r.0.as_str()).collect();
        if rows.len() > MOST_ROWS {
            rows.truncate(MOST_ROWS);
            rows.push("others");
        }
        let name = format!("{} ({})", part.mark.replace('_', " "), rows.join(", "));
        match n {
            1 => name,
            n => format!("{n} {name}"),
        }
    };
    StockPick {
        mark: own.mark.clone(),
        sides: [
            side(own.length, true),
            side(own.width, problem.rules.goods != Goods::Linear),
            side(own.thick, true),
        ],
        count,
        parts: parts.into_iter().map(words).collect(),
    }
}
