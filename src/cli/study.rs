//! Studies asked of `ovolo weigh`: where two versions cost the same, totals over a given, givens ranked.

use super::args::{Common, WeighArgs};
use super::job;
use super::progress::Progress;
use super::written::{FileKind, Target};
use super::{exit, output};
use ovolo::charts;
use ovolo::check::read_quantity;
use ovolo::diagnostics::suggest::nearest;
use ovolo::drawing::Drawing;
use ovolo::estimate::{self, Basis, Refused, Survey};
use ovolo::lists::{self, Studies};
use ovolo::number::Exact;
use ovolo::prices::PriceBook;
use ovolo::program::{AS_DECIDED, Program, ValueKind};
use ovolo::report::{Face, study as table};
use ovolo::session::Job;
use ovolo::study::{self, Axis, FlipAsk, LifeAsk, Study, Subject};
use ovolo::takeoff::Wish;
use std::process::ExitCode;

/// Makes the study asked for and prints it.
pub fn run(
    args: &WeighArgs,
    job: &Job,
    (survey, book): (&Survey, &PriceBook),
    progress: &Progress,
    common: &Common,
) -> Result<ExitCode, ExitCode> {
    let working = progress.working();
    let options = progress.options(Some(&working));
    let study = Study {
        loaded: &job.loaded,
        program: &job.checked.program,
        survey,
        book,
        options: &options,
    };
    let told = told_range(args);
    let mut drawings = Ok(Vec::new());
    let shown = if let Some(name) = &args.flip {
        flip(args, &study, name, told)
    } else if args.rank {
        let version = version(&study, args.of.as_deref())?;
        study::rank(&study, version.as_deref())
            .map(|(as_is, ranked)| {
                let currency = study.program.currency.as_deref().unwrap_or("money");
                drawings = as_is.as_ref().map_or(Ok(Vec::new()), |total| {
                    charts::of_rank(*total, &ranked, currency)
                });
                table::rank(
                    study.program,
                    version.as_deref().unwrap_or(AS_DECIDED),
                    &as_is,
                    &ranked,
                )
            })
            .map_err(Stop::Refused)
    } else {
        over(args, &study, told)
    };
    progress.end();
    let shown = shown.map_err(|stop| match stop {
        Stop::Refused(refused) => job::refused(refused, job, common),
        Stop::Usage(code) => code,
    })?;
    let drawings = drawings.map_err(|d| output::refuse(&[d], &job.loaded.sources, common))?;
    show(&[shown], &drawings, args, (job, survey), common)
}

/// The page and the workbook that `weigh` was asked for.
pub struct Written {
    page: Option<Target>,
    workbook: Option<Target>,
}

impl Written {
    /// Looks at the places asked for before anything is written.
    pub fn targets(args: &WeighArgs, job: &Job, common: &Common) -> Result<Written, ExitCode> {
        let page = args.page.as_deref().map(|file| (file, FileKind::Page));
        let workbook = args
            .workbook
            .as_deref()
            .map(|file| (file, FileKind::Workbook));
        let asked: Vec<(&str, FileKind)> = page.into_iter().chain(workbook).collect();
        let targets = Target::of_kinds(&asked, &job.files)
            .map_err(|list| output::refuse(&list, &job.loaded.sources, common))?;
        let mut targets = targets.into_iter();
        let mut next = |asked: &Option<String>| asked.as_ref().and_then(|_| targets.next());
        let page = next(&args.page);
        Ok(Written {
            page,
            workbook: next(&args.workbook),
        })
    }

    /// Writes tables and charts. Gives a line for each file.
    pub fn write(
        self,
        tables: &[table::StudyTable],
        drawings: &[Drawing],
        (job, face): (&Job, &Face),
        common: &Common,
    ) -> Result<Vec<String>, ExitCode> {
        let refuse = |d| output::refuse(&[d], &job.loaded.sources, common);
        let title = job.checked.program.terms.title.as_str();
        let mut done = Vec::new();
        if let Some(target) = self.page {
            let page = table::page(tables, title, face, drawings);
            done.push(target.write(page.as_bytes()).map_err(refuse)?);
        }
        if let Some(target) = self.workbook {
            let bytes = table::workbook(tables, title, face).map_err(refuse)?;
            done.push(target.write(&bytes).map_err(refuse)?);
        }
        Ok(done)
    }
}

/// Prints tables: on the terminal, one of them as CSV, or all as JSON; and writes the files asked for.
pub fn show(
    tables: &[table::StudyTable],
    drawings: &[Drawing],
    args: &WeighArgs,
    (job, survey): (&Job, &Survey),
    common: &Common,
) -> Result<ExitCode, ExitCode> {
    let face = job::face(job, 0, survey);
    let written = Written::targets(args, job, common)?;
    let done = written.write(tables, drawings, (job, &face), common)?;
    if let Some(name) = args.csv.as_deref() {
        output::beside(&job.warnings, &job.loaded.sources, common);
        let names: Vec<String> = tables.iter().map(|t| t.name().to_owned()).collect();
        return output::table(
            name,
            || names,
            |out| table::csv(tables, name, &face).map(|text| out(&text)),
        );
    }
    if common.json {
        let mut value = table::json(tables);
        face.add_to(&mut value);
        value["messages"] = ovolo::diagnostics::render::to_json(&job.warnings, &job.loaded.sources);
        output::json(&value);
    } else {
        output::messages(&job.warnings, &job.loaded.sources, common);
        let width = output::width(common);
        output::print(&face.head());
        output::print(
            &tables
                .iter()
                .map(|t| t.text(width))
                .collect::<Vec<_>>()
                .join("\n"),
        );
    }
    done.iter().for_each(|line| output::complain(line));
    Ok(ExitCode::from(exit::DONE))
}

/// Why there is nothing to show.
enum Stop {
    Refused(Refused),
    Usage(ExitCode),
}

/// The command can't be followed.
fn usage<T>(text: &str) -> Result<T, ExitCode> {
    output::complain(text);
    Err(ExitCode::from(exit::USAGE))
}

fn version(study: &Study<'_>, name: Option<&str>) -> Result<Option<String>, ExitCode> {
    let name = name.filter(|n| *n != AS_DECIDED);
    if study.versions().any(|v| v.name.as_deref() == name) {
        return Ok(name.map(str::to_owned));
    }
    if study
        .program
        .versions
        .iter()
        .any(|v| v.name.as_deref() == name)
    {
        return usage(&format!(
            "\"{}\" is a mixed plan, which would pick again at every value. Study the plans it picks from.",
            name.unwrap_or_default()
        ));
    }
    let known: Vec<String> = study
        .versions()
        .map(|v| format!("\"{}\"", v.name.as_deref().unwrap_or(AS_DECIDED)))
        .collect();
    usage(&format!(
        "There is no alternate \"{}\". The job has {}.",
        name.unwrap_or_default(),
        known.join(", ")
    ))
}

fn subject(program: &Program, name: &str) -> Result<Subject, ExitCode> {
    if let Some(found) = study::find(program, name.trim()) {
        return Ok(found);
    }
    let values = program.versions.first().map_or(&[][..], |v| &v.values);
    let givens: Vec<&str> = values
        .iter()
        .filter(|v| matches!(v.kind, ValueKind::Given { .. }))
        .map(|v| v.name.as_str())
        .collect();
    let mend = nearest(name, givens).map_or_else(
        || "`ovolo estimate JOB --in-force` lists them.".to_owned(),
        |n| format!("Did you mean {n}?"),
    );
    usage(&format!(
        "There is no given \"{name}\", and it is no `price of` a resource. {mend}"
    ))
}

/// The ends given on the command line.
fn told_range(args: &WeighArgs) -> Option<(&str, &str)> {
    args.between.as_deref().zip(args.and.as_deref())
}

/// A value given on the command line, in base units; a bare number is in the subject's unit.
fn value(study: &Study<'_>, subject: &Subject, text: &str) -> Result<Exact, ExitCode> {
    let program = study.program;
    let wrong = |found: &str| {
        let unit = subject
            .unit()
            .map_or_else(String::new, |u| u.text(&program.nouns));
        usage(&format!(
            "`{}` is in {unit}, and \"{text}\" {found}.",
            subject.title()
        ))
    };
    let (Some(unit), Some(written)) = (subject.unit(), read_quantity(program, text)) else {
        return wrong("can't be read");
    };
    if written.unit.is_empty() && !unit.is_empty() {
        return unit
            .to_base(&written.value)
            .or_else(|_| wrong("has too many digits"));
    }
    if written.unit.dim() != unit.dim() || written.unit.is_percent() != unit.is_percent() {
        return wrong("is another kind of thing");
    }
    Ok(written.value)
}

fn ends(
    study: &Study<'_>,
    subject: &Subject,
    told: Option<(&str, &str)>,
) -> Result<Option<(Exact, Exact)>, ExitCode> {
    let Some((low, high)) = told else {
        return Ok(None);
    };
    let ends = (value(study, subject, low)?, value(study, subject, high)?);
    if let Some((least, most)) = subject.range()
        && [&ends.0, &ends.1]
            .into_iter()
            .any(|end| *end < least || *end > most)
    {
        let [a, b, c, d] =
            [&ends.0, &ends.1, &least, &most].map(|v| subject.text(study.program, v));
        return usage(&format!(
            "`{}` lies between {c} and {d}, as its sheet says; asked is from {a} to {b}.",
            subject.title()
        ));
    }
    Ok(Some(ends))
}

fn no_range<T>(subject: &Subject) -> Result<T, ExitCode> {
    usage(&format!(
        "`{}` states no range. Say one: --between LOW --and HIGH.",
        subject.title()
    ))
}

fn flip(
    args: &WeighArgs,
    study: &Study<'_>,
    name: &str,
    told: Option<(&str, &str)>,
) -> Result<table::StudyTable, Stop> {
    let ask = flip_ask(args, study, name, told).map_err(Stop::Usage)?;
    let flip = study::flip(study, &ask).map_err(Stop::Refused)?;
    Ok(table::flip(study.program, &flip))
}

fn flip_ask(
    args: &WeighArgs,
    study: &Study<'_>,
    name: &str,
    told: Option<(&str, &str)>,
) -> Result<FlipAsk, ExitCode> {
    let subject = subject(study.program, name)?;
    if subject.unit().is_none() {
        return usage(&format!(
            "`{name}` is no number: it has no range to look through. Try --over {name}."
        ));
    }
    let Some((low, high)) = ends(study, &subject, told)?.or_else(|| subject.range()) else {
        return no_range(&subject);
    };
    let step = args
        .within
        .as_deref()
        .map(|text| value(study, &subject, text))
        .transpose()?;
    let first = version(study, args.of.as_deref())?;
    let second = match &args.with {
        Some(name) => version(study, Some(name))?,
        // The other one that is there, if there is just that much to choose from.
        None if first.is_some() => None,
        None => study.versions().find_map(|v| v.name.clone()),
    };
    if first == second {
        return usage("A flip is between two versions. Say them: --of ALTERNATE --with ALTERNATE.");
    }
    Ok(FlipAsk {
        subject,
        low,
        high,
        step,
        pair: [first, second],
    })
}

fn over(
    args: &WeighArgs,
    study: &Study<'_>,
    told: Option<(&str, &str)>,
) -> Result<table::StudyTable, Stop> {
    let axis = |name: &String, told: Option<(&str, &str)>| -> Result<(Subject, Axis), ExitCode> {
        let subject = subject(study.program, name)?;
        let ends = if subject.unit().is_some() {
            ends(study, &subject, told)?
        } else {
            None
        };
        match Axis::new(study, &subject, ends, args.steps) {
            Some(axis) => Ok((subject, axis)),
            None => no_range(&subject),
        }
    };
    let all: Vec<Option<String>> = study.versions().map(|v| v.name.clone()).collect();
    let asked = || -> Result<_, ExitCode> {
        let mut axes = Vec::new();
        // A range that is reported is the first given's.
        for (at, name) in args.over.iter().enumerate() {
            axes.push(axis(name, told.filter(|_| at == 0))?);
        }
        let versions = match (&args.of, &args.with) {
            (None, None) if args.over.len() < 2 => all.clone(),
            (of, with) => {
                let mut list = vec![version(study, of.as_deref())?];
                if let Some(name) = with {
                    list.push(version(study, Some(name))?);
                }
                list
            }
        };
        Ok((axes, versions))
    };
    let (axes, versions) = asked().map_err(Stop::Usage)?;
    let name = versions
        .first()
        .and_then(Option::as_deref)
        .unwrap_or(AS_DECIDED)
        .to_owned();
    match axes.as_slice() {
        [(rows, axis)] => {
            let grid = study::grid(study, axis, None, &versions).map_err(Stop::Refused)?;
            Ok(table::over(&grid, rows, None, &name))
        }
        [(rows, down), (columns, across)] if rows != columns => {
            let grid = study::grid(study, down, Some(across), &versions).map_err(Stop::Refused)?;
            Ok(table::over(&grid, rows, Some(columns), &name))
        }
        _ => usage("A table needs one given, or two different ones.").map_err(Stop::Usage),
    }
}

/// The studies that papers draw: made only for the paper that is asked for, or for all where none is.
pub fn of_papers(
    job: &Job,
    (survey, book): (&Survey, &PriceBook),
    asked: Option<&str>,
) -> Result<Studies, Refused> {
    let program = &job.checked.program;
    let Some(version) = program.versions.first() else {
        return Ok(Studies::default());
    };
    let progress = Progress::begin();
    let working = progress.working();
    let options = progress.options(Some(&working));
    let study = Study {
        loaded: &job.loaded,
        program,
        survey,
        book,
        options: &options,
    };
    let effects = || {
        let (as_is, ranked) = study::rank(&study, None)?;
        Ok(as_is.ok().map(|total| (total, ranked)))
    };
    let terms = &program.terms.life;
    let years = || {
        let basis = Basis {
            program,
            survey,
            book,
            origin: job.origin(),
        };
        let versions: Vec<usize> = (0..program.versions.len()).collect();
        let nodes = study::life_nodes(program);
        let worked = estimate::estimate_all(&basis, &versions, Wish::default(), &nodes, &options)?;
        let life = study::life(program, &worked, &LifeAsk::default());
        life.map(Some).map_err(Refused::Messages)
    };
    let stated = terms.years.is_some() && terms.discount.is_some();
    let studies = Studies {
        effects: match lists::asks_effects(version, asked) {
            true => effects()?,
            false => None,
        },
        years: match lists::asks_years(version, asked) && stated {
            true => years()?,
            false => None,
        },
    };
    progress.end();
    Ok(studies)
}
