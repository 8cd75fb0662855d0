//! Pricing: quantities and a price book in, an estimate in whole cents out, each cent split so that every page adds up.
//!
//! Knows rates, packs, charges and rounding. Must not know surveys, files, or how anything is shown.
//!
//! ```
//! # fn worked() -> ovolo::session::Session {
//! #     include!(concat!(env!("CARGO_MANIFEST_DIR"), "/tests/docs/worked.rs"))
//! # }
//! let session = worked(); // a small job in memory
//! let run = session.run().expect("it is worked");
//! let estimate = &run.worked.estimate;
//! let cents: Vec<i128> = estimate.lines.iter().map(|line| line.cents).collect();
//! assert_eq!(cents, [160_00, 58_50]);
//! ```

// A match over kinds lists them all, so that a new kind is noticed everywhere, and no conversion fails silently.
#![warn(
    clippy::wildcard_enum_match_arm,
    clippy::match_wildcard_for_single_variants
)]
#![warn(clippy::as_conversions)]

mod assumptions;
pub mod bid;
mod buy;
mod charges;
mod compare;
mod crossed;
mod cuts;
mod fault;
mod foot;
mod from_memory;
mod headline;
mod lines;
mod model;
mod money;
mod names;
mod rates;
mod split;
mod standing;
mod usage;

pub use assumptions::{assumed_facts, assumed_facts_for};
pub use charges::{ChargeBases, charge_bases};
pub use compare::{
    ComparePart, CompareRow, CompareValues, Comparison, OpeningDifference, Picked, PickedRow,
    compare, pick_rows,
};
pub(crate) use fault::too_long;
pub use from_memory::FromMemory;
pub use model::{
    Allowance, AskedFact, AssumedFact, Assumptions, BuyLine, ChargeKind, ChargeLine, CostLine,
    CrossRow, Crossed, Cut, CutBeside, CutKind, CutPlanCost, CutRow, DecidedRow, Estimate,
    Extension, FinalLine, GivenUsed, HeadlineRow, LeftOut, MayVary, Origin, OriginFile, Packs,
    PayBuild, PayBuildLine, PriceOrigin, PriceUsed, StockPick, Totals,
};
pub use names::{percent, spoken};
pub use standing::{Want, Wanting, standing};

use crate::diagnostics::Diagnostic;
use crate::number::{Exact, NumError};
use crate::prices::PriceBook;
use crate::program::{Program, ResourceClass, ResourceDef, Version};
use crate::takeoff::Quantities;
use buy::{Bought, buy};
use cuts::{Cutter, Source};
use lines::{MoneyRule, price_line};
use rates::Rates;
use usage::{PhaseUse, Use};

/// Prices what a version uses. `quantities` are in base units, prices in the job's currency.
/// Errors: every fault found (OV-820 to OV-824), and OV-890 should any sum not add up.
pub fn estimate(
    program: &Program,
    version: &Version,
    quantities: &Quantities,
    book: &PriceBook,
) -> Result<Estimate, Vec<Diagnostic>> {
    let rates = Rates {
        program,
        version,
        book,
    };
    let uses = usage::gather(program, version, quantities)?;
    let prices = rates.all(&uses)?;
    worked(program, version, quantities, book, (&uses, &prices))
}

/// What a version uses, without any price: amounts in full, all money zero and not to be shown, and the resources that a price is wanting
/// for in [`Estimate::unpriced`]. Errors: as [`estimate`], but for OV-820.
pub fn quantities_only(
    program: &Program,
    version: &Version,
    quantities: &Quantities,
) -> Result<Estimate, Vec<Diagnostic>> {
    let uses = usage::gather(program, version, quantities)?;
    let book = PriceBook::default();
    let rates = Rates {
        program,
        version,
        book: &book,
    };
    let none = vec![rates.none(); uses.len()];
    let estimate = worked(program, version, quantities, &book, (&uses, &none))?;
    Ok(Estimate {
        unpriced: Some(rates.missing(&uses)),
        pay: vec![],
        charges: vec![],
        final_rounding: None,
        assumptions: Assumptions {
            prices_vary: vec![],
            prices_without_source: vec![],
            prices_without_date: vec![],
            ..estimate.assumptions
        },
        ..estimate
    })
}

fn worked(
    program: &Program,
    version: &Version,
    quantities: &Quantities,
    book: &PriceBook,
    (uses, prices): (&[Use], &[PriceUsed]),
) -> Result<Estimate, Vec<Diagnostic>> {
    let job = Job {
        program,
        version,
        quantities,
        book,
    };
    let mut priced = Priced::default();
    let mut faults = Vec::new();
    for (used, price) in uses.iter().zip(prices) {
        let Some(def) = version.resources.get(used.resource) else {
            continue;
        };
        if let Err(e) = job.price(used, def, price, &mut priced) {
            faults.push(too_long(&format!("the cost of {}", def.name), e).at(def.span, ""));
        }
    }
    if !faults.is_empty() {
        return Err(faults);
    }
    let charges = charges::charge_all(program, version, &priced.lines)?;
    job.finish(uses, prices, priced, charges)
}

/// That the rounding of the final figure turns a total into zero, where it does.
pub fn rounded_away(program: &Program, estimate: &Estimate) -> Option<Diagnostic> {
    let (_, step, span) = program.terms.final_rounding.as_ref()?;
    let before = estimate.totals.grand - estimate.final_rounding.as_ref()?.cents;
    if estimate.totals.grand != 0 || before == 0 {
        return None;
    }
    let currency = &estimate.currency;
    Some(
        Diagnostic::warning(
            "OV-827",
            "the rounding of the final figure turns it into zero",
        )
        .at(*span, "")
        .found(format!(
            "{} {currency} before it, 0.00 {currency} after",
            crate::number::cents_grouped(before)
        ))
        .expected(format!(
            "a step that is small beside the total; this one is {} {currency}",
            step.to_decimal(2).0
        )),
    )
}

/// What the reader of a job should hear about its prices though it runs.
pub fn price_warnings(program: &Program, version: &Version, book: &PriceBook) -> Vec<Diagnostic> {
    let mut all = book.warnings.clone();
    all.extend(
        Rates {
            program,
            version,
            book,
        }
        .warnings(),
    );
    all
}

struct Job<'a> {
    program: &'a Program,
    version: &'a Version,
    quantities: &'a Quantities,
    book: &'a PriceBook,
}

#[derive(Default)]
struct Priced<'a> {
    buys: Vec<BuyLine>,
    lines: Vec<CostLine>,
    sources: Vec<Source<'a>>,
    amounts: Vec<headline::Amounts>,
}

/// Cuts of the cost, those by several keys at once, totals, and the rounding of the final figure.
type Summed = (Vec<Cut>, Vec<Crossed>, Totals, Option<FinalLine>);

impl<'a> Job<'a> {
    fn price(
        &self,
        used: &'a Use,
        def: &ResourceDef,
        price: &PriceUsed,
        out: &mut Priced<'a>,
    ) -> Result<(), NumError> {
        let bought = buy(self.program, self.book, def, used)?;
        out.amounts.push(headline::Amounts {
            resource: used.resource,
            net: used.total.clone(),
            bought: bought.bought.clone(),
        });
        if def.class == ResourceClass::Labor {
            for phase in &used.phases {
                let amount = phase.total.mul(&bought.per_net)?;
                self.line(used, def, price, &bought, (amount, vec![phase]), out)?;
            }
            return Ok(());
        }
        let cents = self.line(
            used,
            def,
            price,
            &bought,
            (bought.bought.clone(), used.phases.iter().collect()),
            out,
        )?;
        out.buys
            .push(self.buy_line(used, def, price, bought, cents)?);
        Ok(())
    }

    fn line(
        &self,
        used: &Use,
        def: &ResourceDef,
        price: &PriceUsed,
        bought: &Bought,
        (amount, phases): (Exact, Vec<&'a PhaseUse>),
        out: &mut Priced<'a>,
    ) -> Result<i128, NumError> {
        let terms = &self.program.terms;
        let labor = def.class == ResourceClass::Labor;
        let rule = MoneyRule {
            ties: terms.ties,
            grain: terms.money_grain,
            by_row: self.quantities.by_row,
        };
        let exact = amount.mul(&price.per_base)?;
        let in_packs = bought.packs.is_some() && !labor;
        let cost = price_line(&rule, &exact, in_packs, &phases, &self.quantities.splits)?;
        let phase_name = |p: &&PhaseUse| names::phase(self.program, p.phase);
        let by_phase = phases
            .iter()
            .zip(&cost.pieces)
            .map(|(p, piece)| (phase_name(p), piece.cents))
            .collect();
        let quantity = def.unit.from_base(&amount)?;
        let cents = cost.cents;
        out.lines.push(CostLine {
            resource: used.resource,
            name: names::resource(self.version, used.resource),
            class: def.class,
            phase: phases.first().filter(|_| labor).map(phase_name),
            unit: def.unit.text_after(&self.program.nouns, &quantity),
            quantity,
            price: price.amount.clone(),
            per: price.per.clone(),
            exact,
            cents,
            by_phase,
        });
        let hours = match rates::is_person_time(def) {
            true => Some(bought.per_net.div(&Exact::int(60))?),
            false => None,
        };
        let name = names::resource(self.version, used.resource);
        out.sources.push(Source {
            resource: used.resource,
            class: def.class,
            name,
            phases,
            priced: cost,
            hours,
        });
        Ok(cents)
    }

    fn buy_line(
        &self,
        used: &Use,
        def: &ResourceDef,
        price: &PriceUsed,
        bought: Bought,
        cents: i128,
    ) -> Result<BuyLine, NumError> {
        let needed = def.unit.from_base(&bought.needed)?;
        let in_unit = def.unit.from_base(&bought.bought)?;
        Ok(BuyLine {
            resource: used.resource,
            name: names::resource(self.version, used.resource),
            class: def.class,
            unit: def.unit.text_after(&self.program.nouns, &needed),
            base_per_unit: def.unit.factor().clone(),
            net: def.unit.from_base(&used.total)?,
            allowance: bought.allowance,
            left_over: in_unit.sub(&needed)?,
            needed,
            packs: bought.packs,
            bought: in_unit,
            price: price.clone(),
            cents,
        })
    }

    fn finish(
        &self,
        uses: &[Use],
        prices: &[PriceUsed],
        priced: Priced<'_>,
        charges: Vec<ChargeLine>,
    ) -> Result<Estimate, Vec<Diagnostic>> {
        let one = |e: NumError| vec![too_long("the total of the job", e)];
        let Job {
            program,
            version,
            quantities,
            book,
        } = *self;
        let Priced {
            buys,
            lines,
            sources,
            amounts,
        } = priced;
        let (cuts, crossed, totals, last) = self.sum_up(&lines, &sources, &charges).map_err(one)?;
        let sums_checked = foot::check(&sources, &lines, &cuts, &charges, last.as_ref(), &totals)?
            + crossed::check(&crossed, &cuts)?;
        let mut assumptions = assumptions::gather(program, version, quantities, book, uses, prices);
        assumptions.roundings = assumptions::roundings(&lines, &charges, &buys).map_err(one)?;
        let used = uses.iter().map(|u| u.resource).zip(prices);
        assumptions.from_memory =
            from_memory::share(program, version, quantities, &lines, used).map_err(one)?;
        Ok(Estimate {
            title: program.terms.title.clone(),
            version: version.name.clone(),
            currency: program.currency.clone().unwrap_or_default(),
            ties: program.terms.ties,
            money_grain: program.terms.money_grain,
            headline: headline::headline(program, version, &amounts, &sources).map_err(one)?,
            buys,
            lines,
            cuts,
            crossed,
            charges,
            final_rounding: last,
            totals,
            pay: rates::pay_builds(program, version).map_err(one)?,
            assumptions,
            sums_checked,
            unpriced: None,
            facts: quantities.facts.clone(),
            schedule: None,
            cut_plans: Vec::new(),
            origin: Origin::default(),
        })
    }

    fn sum_up(
        &self,
        lines: &[CostLine],
        sources: &[Source<'_>],
        charges: &[ChargeLine],
    ) -> Result<Summed, NumError> {
        let labor = lines
            .iter()
            .filter(|l| l.class == ResourceClass::Labor)
            .map(|l| l.cents)
            .sum();
        let materials = lines
            .iter()
            .filter(|l| l.class != ResourceClass::Labor && !l.class.is_hired())
            .map(|l| l.cents)
            .sum();
        let hired = lines
            .iter()
            .filter(|l| l.class.is_hired())
            .map(|l| l.cents)
            .sum();
        let direct: i128 = labor + materials + hired;
        let charged: i128 = charges.iter().map(|c| c.cents).sum();
        let exact = split::total(
            lines
                .iter()
                .map(|l| &l.exact)
                .chain(charges.iter().map(|c| &c.exact)),
        )?;
        let last = charges::final_line(self.program, direct + charged)?;
        let spreads = charges::spreads(self.program, lines, charges, last.as_ref());
        let cutter = Cutter {
            program: self.program,
            quantities: self.quantities,
            sources,
            charges: spreads,
        };
        let (cuts, crossed) = (cutter.all()?, crossed::all(&cutter)?);
        let gap = Exact::from_cents(direct + charged).sub(&exact)?;
        let grand = direct + charged + last.as_ref().map_or(0, |f| f.cents);
        Ok((
            cuts,
            crossed,
            Totals {
                labor,
                materials,
                hired,
                direct,
                charges: charged,
                grand,
                exact,
                gap,
            },
            last,
        ))
    }
}
