//! `ovolo weigh`: alternates side by side, and studies of what they turn on.

use super::args::{Common, WeighArgs};
use super::job;
use super::progress::Progress;
use super::{exit, output};
use ovolo::charts;
use ovolo::check;
use ovolo::estimate::{self, Basis, Survey, WorkedAll};
use ovolo::pricing;
use ovolo::program::{Program, Rate};
use ovolo::report::{self, json, weigh};
use ovolo::session::{Job, Priced};
use ovolo::study::{self, LifeAsk};
use ovolo::syntax::tree::RateKind;
use ovolo::takeoff::Wish;
use std::process::ExitCode;

/// Works every version of a job in one run and prints them side by side.
pub fn run(args: &WeighArgs, common: &Common) -> Result<ExitCode, ExitCode> {
    let mut job = job::open(&args.job, common)?;
    let progress = Progress::begin();
    let (survey, book) = job::inputs(&mut job, &args.aside, &progress, Priced::Yes, common)?;
    if args.flip.is_some() || args.rank || !args.over.is_empty() {
        return super::study::run(args, &job, (&survey, &book), &progress, common);
    }
    let over_years = life_ask(args, &job.checked.program)?;
    let program = &job.checked.program;
    let versions: Vec<usize> = (0..program.versions.len()).collect();
    let basis = Basis {
        program,
        survey: &survey,
        book: &book,
        origin: job.origin(),
    };
    let wish = Wish {
        by_row: true,
        ..Wish::default()
    };
    let working = progress.working();
    let options = progress.options(Some(&working));
    let worked = estimate::estimate_all(
        &basis,
        &versions,
        wish,
        &study::life_nodes(program),
        &options,
    );
    progress.end();
    let worked = worked.map_err(|why| job::refused(why, &job, common))?;
    if let Some(ask) = over_years {
        return life(args, &job, &survey, &worked, &ask, common);
    }
    let pairs: Vec<_> = program.versions.iter().zip(worked.estimates).collect();
    let mut comparison = pricing::compare(&pairs);
    comparison.picked = worked.picked;
    job.warnings.extend(worked.warnings);
    let face = job::face(&job, 0, &survey);
    let written = super::study::Written::targets(args, &job, common)?;
    let refuse = |d| output::refuse(&[d], &job.loaded.sources, common);
    let drawings = charts::of_comparison(&comparison).map_err(refuse)?;
    let done = written.write(
        &weigh::tables(&comparison),
        &drawings,
        (&job, &face),
        common,
    )?;
    if let Some(name) = &args.csv {
        output::beside(&job.warnings, &job.loaded.sources, common);
        return output::table(
            name,
            || weigh::names(&comparison),
            |out| weigh::table(&comparison, name, &face).map(|text| out(&text)),
        );
    }
    if common.json {
        let mut value = json::comparison(&comparison);
        face.add_to(&mut value);
        value["messages"] = ovolo::diagnostics::render::to_json(&job.warnings, &job.loaded.sources);
        output::json(&value);
    } else {
        output::messages(&job.warnings, &job.loaded.sources, common);
        output::print(&face.head());
        output::print(&weigh::report(&comparison, output::width(common)));
        if program.terms.cuts.iter().any(|c| c.plan.is_some()) {
            output::print(
                "Stock is counted by the waste percent in all of them; a cut plan fits the parts of one alternate, and `estimate` shows it.\n",
            );
        }
        if program.versions.iter().any(|v| !v.life.is_empty()) {
            output::print(
                "Costs over the years are not in these tables: `--life` compares them.\n",
            );
        }
    }
    done.iter().for_each(|line| output::complain(line));
    Ok(ExitCode::from(exit::DONE))
}

/// What is asked about the years, if anything is.
fn life_ask(args: &WeighArgs, program: &Program) -> Result<Option<LifeAsk>, ExitCode> {
    if !args.life && args.years.is_none() && args.discount.is_none() && args.escalation.is_none() {
        return Ok(None);
    }
    let rate = |text: &Option<String>| text.as_deref().map(|t| rate(program, t)).transpose();
    Ok(Some(LifeAsk {
        years: args.years,
        discount: rate(&args.discount)?,
        escalation: rate(&args.escalation)?,
    }))
}

/// A rate as given: a percent and its kind.
fn rate(program: &Program, text: &str) -> Result<Rate, ExitCode> {
    let parts = text.trim().rsplit_once(' ').and_then(|(percent, word)| {
        let kind = match word {
            "real" => RateKind::Real,
            "nominal" => RateKind::Nominal,
            _ => return None,
        };
        Some((check::read_quantity(program, percent)?, kind))
    });
    match parts {
        Some((written, kind)) if written.unit.is_percent() && written.value.signum() >= 0 => {
            Ok(Rate {
                share: written.value,
                kind,
            })
        }
        _ => {
            output::complain(&format!(
                "\"{text}\" is no rate. Say a percent and whether inflation is in it: \"3 % real\" or \"5 % nominal\"."
            ));
            Err(ExitCode::from(exit::USAGE))
        }
    }
}

/// Prints what the plans cost over the years.
fn life(
    args: &WeighArgs,
    job: &Job,
    survey: &Survey,
    worked: &WorkedAll,
    ask: &LifeAsk,
    common: &Common,
) -> Result<ExitCode, ExitCode> {
    let program = &job.checked.program;
    let life = study::life(program, worked, ask)
        .map_err(|list| output::refuse(&list, &job.loaded.sources, common))?;
    let currency = program.currency.as_deref().unwrap_or("money");
    let tables = [
        report::life::plans(&life, currency),
        report::life::rows(&life),
    ];
    let drawings = charts::of_life(&life, currency)
        .map_err(|d| output::refuse(&[d], &job.loaded.sources, common))?;
    super::study::show(&tables, &drawings, args, (job, survey), common)
}
