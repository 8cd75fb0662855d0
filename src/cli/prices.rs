//! `ovolo prices`: the prices of a job that are missing, old or not used, and the rows to fill in.

use super::args::{Common, PricesArgs};
use super::job;
use super::progress::Progress;
use super::written::{FileKind, Target};
use super::{exit, files, output};
use ovolo::diagnostics::{Diagnostic, Place};
use ovolo::estimate;
use ovolo::prices::{Ordered, PriceBook, PriceEntry, blank_book, read_order};
use ovolo::pricing::{BuyLine, Estimate, Want, standing};
use ovolo::report::{Cell, Column, View, json, terminal};
use ovolo::session::{Job, Priced};
use ovolo::survey::{Content, SourceFile};
use ovolo::takeoff::Wish;
use std::path::Path;
use std::process::ExitCode;

/// Takes off quantities, holds the price book against them, and says what is wrong with it.
pub fn run(args: &PricesArgs, common: &Common) -> Result<ExitCode, ExitCode> {
    let mut job = job::open(&args.job, common)?;
    let asked = args.write.as_deref().map(|file| (file, FileKind::Table));
    let asked: Vec<(&str, FileKind)> = asked.into_iter().collect();
    let progress = Progress::begin();
    let (survey, book) = job::inputs(&mut job, &args.aside, &progress, Priced::Yes, common)?;
    let targets = Target::of_kinds(&asked, &job.files)
        .map_err(|list| output::refuse(&list, &job.loaded.sources, common))?;
    let versions = &job.checked.program.versions;
    let today = versions
        .first()
        .and_then(|v| job.checked.program.day_of_issue(v));
    let wish = Wish {
        quantities: true,
        ..Wish::default()
    };
    let options = progress.options(None);
    let program = &job.checked.program;
    let (origin, more) = (job.origin(), []);
    let worked = estimate::estimate(program, 0, &survey, &book, wish, &more, &options, origin);
    progress.end();
    let worked = worked.map_err(|why| job::refused(why, &job, common))?;
    let Some(version) = program.versions.first() else {
        return Ok(ExitCode::from(exit::DONE));
    };
    if let Some(order) = &args.from {
        return came_back(&job, &worked.estimate, &book, order, targets, common);
    }
    let found = standing(version, &worked.estimate, &book, today);
    let mut view = View::new(
        "prices",
        "Prices to see to",
        vec![Column::text("resource"), Column::text("its price")],
    );
    for one in &found {
        let said = match &one.why {
            Want::Missing => "missing".to_owned(),
            Want::OfAnotherTime(age, date) => format!("of {date}: {}", age.words()),
            Want::Undated => "has no date".to_owned(),
            Want::Unused => "not used by this job".to_owned(),
        };
        view.row(vec![Cell::text(one.name.clone()), Cell::text(said)]);
    }
    if found.is_empty() {
        view.notes
            .push("Nothing: every price the job needs is there and dated.".to_owned());
    }
    if today.is_none() {
        view.notes.push(
            "The job has no day, so no price is called old: write `issued DAY` in its job block."
                .to_owned(),
        );
    }
    if common.json {
        output::json(&json::views("ovolo-prices/1", &[view]));
    } else {
        output::messages(&job.warnings, &job.loaded.sources, common);
        output::print(&terminal::draw(&view, output::width(common)));
    }
    let wanting = |id| {
        found
            .iter()
            .any(|w| w.resource == id && w.why != Want::Unused)
    };
    for target in targets {
        let rows = blank_book(program, wanting);
        let line = target.write(rows.as_bytes());
        let line = line.map_err(|d| output::refuse(&[d], &job.loaded.sources, common))?;
        output::complain(&line);
    }
    Ok(ExitCode::from(exit::DONE))
}

/// Bytes of an order.
const MOST_BYTES: u64 = 20 << 20;

/// Reads an order that a supplier filled in, and prints or writes what it comes to in the price book.
fn came_back(
    job: &Job,
    estimate: &Estimate,
    book: &PriceBook,
    order: &str,
    targets: Vec<Target>,
    common: &Common,
) -> Result<ExitCode, ExitCode> {
    let refuse = |list: &[Diagnostic]| output::refuse(list, &job.loaded.sources, common);
    let bytes = files::read_file(Path::new(order), MOST_BYTES).map_err(|why| {
        let d = Diagnostic::error("OV-002", format!("the file \"{order}\" can't be opened"));
        refuse(&[d.at(Place::File(order.to_owned()), "").found(why)])
    })?;
    let file = SourceFile {
        name: order.to_owned(),
        content: Content::Bytes(bytes),
    };
    let program = &job.checked.program;
    let returned =
        read_order(program, &ordered(job, estimate, book), file).map_err(|l| refuse(&l))?;
    let mut view = View::new(
        "prices-back",
        "Prices that came back",
        vec![
            Column::text("resource"),
            Column::text("price"),
            Column::text("for"),
            Column::text("in the book now"),
        ],
    );
    let mut both = false;
    for price in &returned.prices {
        let name = estimate.buys.iter().find(|b| b.resource == price.resource);
        let now = book.entry(price.resource);
        both |= now.is_some();
        view.row(vec![
            Cell::text(name.map_or(String::new(), |b| b.name.clone())),
            Cell::text(amount(price)),
            Cell::text(price.unit.clone()),
            Cell::text(now.map_or("nothing".to_owned(), |e| {
                format!("{} for {}", amount(e), e.unit)
            })),
        ]);
    }
    if both {
        view.notes.push(
            "Where the book has a price already, one of the two rows says yes under \"chosen\", or the old one is taken out."
                .to_owned(),
        );
    }
    if common.json {
        output::json(&json::views("ovolo-prices/1", &[view]));
    } else {
        output::messages(&returned.warnings, &job.loaded.sources, common);
        output::print(&terminal::draw(&view, output::width(common)));
    }
    for target in targets {
        let line = target.write(returned.rows.as_bytes());
        output::complain(&line.map_err(|d| refuse(&[d]))?);
    }
    Ok(ExitCode::from(exit::DONE))
}

/// A price with its cents, and with what it has beyond them.
fn amount(entry: &PriceEntry) -> String {
    match entry.price.scale() < 2 {
        true => format!("{:.2}", entry.price),
        false => entry.price.to_string(),
    }
}

/// The lines of all orders of the job.
fn ordered(job: &Job, estimate: &Estimate, book: &PriceBook) -> Vec<Ordered> {
    let resources = job.checked.program.versions.first().map(|v| &v.resources);
    let line = |buy: &BuyLine| {
        let entry = book.entry(buy.resource);
        Some(Ordered {
            resource: buy.resource,
            name: buy.name.clone(),
            sheet_name: resources?.get(buy.resource)?.name.clone(),
            count: buy.packs.as_ref().map(|p| p.count.clone()),
            pack: buy.packs.as_ref().map(|p| {
                let holds = p.stated.then(|| p.holds.clone());
                (p.word.clone(), holds)
            }),
            unit: buy.unit.clone(),
            supplier: entry.and_then(|e| e.supplier.clone()),
            spec: entry.and_then(|e| e.spec.clone()),
        })
    };
    estimate.buys.iter().filter_map(line).collect()
}
