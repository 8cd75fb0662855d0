//! The demonstration job from its files to its reports, through the library alone.

use std::path::{Path, PathBuf};

use ovolo::check::{self, Finder};
use ovolo::diagnostics::{Diagnostic, Sources, render};
use ovolo::eval::{self, Inputs};
use ovolo::number::{Exact, Rounding};
use ovolo::prices::{BookSource, read_book};
use ovolo::pricing::{CutKind, Estimate, compare, estimate, price_warnings};
use ovolo::program::Program;
use ovolo::report::{all_views, csv, json, page, terminal, weigh, workbook};
use ovolo::survey::{self, Content, ReadOptions, Reading, SourceFile};
use ovolo::table::Table;
use ovolo::takeoff::{Wish, collect, survey_notes, wanted};

struct Folder;

impl Finder for Folder {
    fn find(&self, path: &str, from: Option<&str>) -> Result<(String, String), String> {
        let base = from
            .and_then(|f| Path::new(f).parent())
            .map_or_else(PathBuf::new, Path::to_path_buf);
        let full = base.join(path).canonicalize().map_err(|e| e.to_string())?;
        let text = std::fs::read_to_string(&full).map_err(|e| e.to_string())?;
        Ok((full.display().to_string(), text))
    }
}

fn told(list: &[Diagnostic], sources: &Sources) -> String {
    render::render_all(list, sources, render::Style { color: false }, 50)
}

fn file(folder: &Path, name: &str) -> SourceFile<'static> {
    let bytes = std::fs::read(folder.join(name)).expect("a file of the demonstration job");
    SourceFile {
        name: name.to_owned(),
        content: Content::Bytes(bytes),
    }
}

struct Job {
    program: Program,
    sources: Sources,
    readings: Vec<Reading>,
    folder: PathBuf,
}

fn open(name: &str) -> Job {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("demo-data/tallowgate-school");
    let path = folder.join(name).display().to_string();
    let (loaded, problems) = check::load(&[path], &Folder);
    assert!(problems.is_empty(), "{}", told(&problems, &loaded.sources));
    let (checked, problems) = check::check(
        &loaded,
        check::Options {
            alternates: true,
            trials: false,
        },
    );
    let program = checked
        .unwrap_or_else(|| panic!("{}", told(&problems, &loaded.sources)))
        .program;
    let mut readings: Vec<Reading> = Vec::new();
    for (at, info) in program.tables.iter().enumerate() {
        let input = program
            .terms
            .surveys
            .iter()
            .find(|s| s.table.index() == at)
            .expect("each table has its file");
        let files = input.files.iter().map(|f| file(&folder, &f.path)).collect();
        let options = ReadOptions {
            tabs: input.files.iter().flat_map(|f| f.tabs.clone()).collect(),
            heading_row: input.heading_row,
            ..ReadOptions::default()
        };
        let parent = info
            .parent
            .map(|p| (&program.tables[p].schema, &readings[p.index()].table));
        let read = survey::read(
            &info.schema,
            &program.nouns,
            program.currency.as_deref(),
            files,
            &options,
            parent,
        )
        .and_then(|read| match info.parent {
            Some(p) if info.schema.is_completed() => {
                let above = survey::Above {
                    schema: &program.tables[p].schema,
                    table: &readings[p.index()].table,
                    texts: readings[p.index()].texts.as_ref(),
                };
                survey::complete(
                    &info.schema,
                    above,
                    Some(read),
                    &survey::ReadOptions::default(),
                )
            }
            _ => Ok(read),
        });
        readings.push(read.unwrap_or_else(|faults| panic!("{}", told(&faults, &loaded.sources))));
    }
    Job {
        program,
        sources: loaded.sources,
        readings,
        folder,
    }
}

impl Job {
    fn estimate(&self, version: usize, wish: Wish) -> Estimate {
        let Job {
            program,
            sources,
            readings,
            folder,
        } = self;
        let version = &program.versions[version];
        let tables: Vec<&Table> = readings.iter().map(|r| &r.table).collect();
        let results = eval::run(
            program,
            &Inputs {
                spans: &[],
                tables: tables.clone(),
            },
            &wanted(program, version, wish),
            &eval::Options::default(),
        )
        .expect("runs");
        let notes = survey_notes(
            program,
            version,
            &readings.iter().map(|r| &r.report).collect::<Vec<_>>(),
        );
        let quantities = collect(program, version, &results, &tables, notes, wish)
            .unwrap_or_else(|f| panic!("{}", told(&f, sources)));
        let books = program
            .terms
            .prices
            .iter()
            .map(|p| BookSource {
                file: file(folder, &p.path),
                tab: p.tabs.first().cloned(),
            })
            .collect();
        let book = read_book(program, books).unwrap_or_else(|f| panic!("{}", told(&f, sources)));
        let warnings = price_warnings(program, version, &book);
        assert!(warnings.is_empty(), "{}", told(&warnings, sources));
        estimate(program, version, &quantities, &book)
            .unwrap_or_else(|f| panic!("{}", told(&f, sources)))
    }
}

const ALL: Wish = Wish {
    by_row: true,
    treatment: true,
    quantities: false,
};

#[test]
fn survey_in_csv_and_in_a_workbook_give_the_same_bytes() {
    let (text, book) = (open("job.ovo"), open("job-workbook.ovo"));
    let (mut text, mut book) = (text.estimate(0, ALL), book.estimate(0, ALL));
    // What is not read of a file is told with the file's name, and one of them has a tab.
    let unread = |e: &mut Estimate| {
        std::mem::take(&mut std::sync::Arc::make_mut(&mut e.facts).survey.unread)
    };
    let said = |list: &[ovolo::survey::Unread]| {
        list.iter()
            .map(|u| (u.unasked.clone(), u.missing_words()))
            .collect::<Vec<_>>()
    };
    assert_eq!(said(&unread(&mut text)), said(&unread(&mut book)));
    let options = terminal::Options {
        openings: true,
        treatment: true,
        assumptions: true,
        lines: true,
    };
    assert_eq!(
        terminal::report(&text, &options, 80),
        terminal::report(&book, &options, 80)
    );
    assert_eq!(
        json::estimate(&text).to_string(),
        json::estimate(&book).to_string()
    );
    assert_eq!(
        page::write(&text).expect("draws"),
        page::write(&book).expect("draws")
    );
    assert!(
        workbook::write(&text).expect("a workbook") == workbook::write(&book).expect("a workbook")
    );
    for view in all_views(&text) {
        assert_eq!(
            csv::table(&text, &view.name).ok(),
            csv::table(&book, &view.name).ok(),
            "{}",
            view.name
        );
    }
}

#[test]
fn every_alternate_foots_by_every_cut() {
    let job = open("job.ovo");
    let mut sums = 0;
    for version in 0..job.program.versions.len() {
        let done = job.estimate(version, ALL);
        let name = done.version_name().to_owned();
        let direct: i128 = done.lines.iter().map(|l| l.cents).sum();
        for cut in &done.cuts {
            assert_eq!(
                cut.rows.iter().map(|r| r.cents()).sum::<i128>(),
                direct,
                "{name} by {}",
                cut.by
            );
            assert_eq!(
                cut.rows.iter().map(|r| r.labor).sum::<i128>(),
                done.totals.labor,
                "{name} by {}",
                cut.by
            );
            sums += 2;
        }
        let charges: i128 = done.charges.iter().map(|c| c.cents).sum();
        assert_eq!(
            direct + charges + done.final_rounding.as_ref().map_or(0, |f| f.cents),
            done.totals.grand,
            "{name}"
        );
        // The rows of each wing add to the wing, to the cent.
        let wings = &done.cut(CutKind::Split(0)).expect("split by wing").rows;
        let openings = &done
            .cut(CutKind::Opening)
            .expect("rows were asked for")
            .rows;
        let wing_of: Vec<&str> = done
            .facts
            .treatment
            .iter()
            .filter(|t| &*t.decision == "paint_treatment")
            .filter_map(|t| t.keys.first())
            .map(|w| &**w)
            .collect();
        for wing in wings.iter().filter(|w| !w.whole_job) {
            let of_wing = || {
                openings
                    .iter()
                    .zip(&wing_of)
                    .filter(|(_, w)| **w == wing.key)
                    .map(|(o, _)| o)
            };
            assert_eq!(
                of_wing().map(|o| o.cents()).sum::<i128>(),
                wing.cents(),
                "{name}, {}",
                wing.key
            );
            assert_eq!(
                of_wing().map(|o| o.price()).sum::<i128>(),
                wing.price(),
                "{name}, {}",
                wing.key
            );
            sums += 2;
        }
        assert!(done.sums_checked > 150, "{name}: {}", done.sums_checked);
    }
    assert!(sums > 90, "{sums}");
}

#[test]
fn asking_for_rows_changes_no_figure() {
    let job = open("job.ovo");
    let (short, long) = (job.estimate(0, Wish::default()), job.estimate(0, ALL));
    assert!(short.cut(CutKind::Opening).is_none() && short.facts.treatment.is_empty());
    let options = terminal::Options {
        assumptions: true,
        lines: true,
        ..terminal::Options::default()
    };
    let shown = |e: &Estimate| {
        terminal::report(e, &options, 80)
            .lines()
            .filter(|l| !l.contains("sums were added up"))
            .map(str::to_owned)
            .collect::<Vec<_>>()
    };
    assert_eq!(shown(&short), shown(&long));
}

#[test]
fn hours_of_the_headline_are_those_of_every_cut() {
    let done = open("job.ovo").estimate(0, ALL);
    let hours = done
        .headline
        .iter()
        .find(|h| h.unit == "h")
        .and_then(|h| h.net.clone())
        .expect("labor is used");
    for cut in &done.cuts {
        let sum = cut
            .rows
            .iter()
            .try_fold(Exact::ZERO, |sum, row| sum.add(&row.hours))
            .expect("small");
        assert_eq!(sum, hours, "by {}", cut.by);
    }
}

/// The hours of a CSV table add up to its total as they stand there, though none is exact in six places.
#[test]
fn hours_in_csv_add_up_as_printed() {
    let done = open("job.ovo").estimate(0, ALL);
    let millionths = |text: &str| -> i64 {
        let (whole, rest) = text.split_once('.').unwrap_or((text, ""));
        assert!(rest.len() <= 6, "{text}");
        format!("{whole}{rest:0<6}").parse().expect("hours")
    };
    let mut would_miss = 0;
    for cut in &done.cuts {
        let name = format!("by-{}", cut.by);
        let text = csv::table(&done, &name).expect("a table of this name");
        let mut reader = ::csv::Reader::from_reader(text.as_bytes());
        let headings = reader.headers().expect("headings").clone();
        let column = headings
            .iter()
            .position(|h| h == "hours (h)")
            .expect("hours");
        let mut rows: Vec<i64> = reader
            .records()
            .map(|r| millionths(&r.expect("a row")[column]))
            .collect();
        let total = rows.pop().expect("a total");
        assert_eq!(rows.iter().sum::<i64>(), total, "{name}");
        // Each row rounded by itself.
        let alone = cut.rows.iter().map(|row| {
            let all = row.hours.mul(&Exact::int(1_000_000)).expect("small");
            let rounded = all.round_to(&Exact::ONE, Rounding::HalfUp);
            rounded.ok().and_then(|n| n.to_i64()).expect("small")
        });
        would_miss += i32::from(alone.sum::<i64>() != total);
    }
    assert!(would_miss > 0, "no cut has hours that need it");
}

#[test]
fn alternates_stand_side_by_side() {
    let job = open("job.ovo");
    let versions: Vec<_> = (0..job.program.versions.len())
        .map(|v| (&job.program.versions[v], job.estimate(v, ALL)))
        .collect();
    let side = compare(&versions);
    assert_eq!(
        side.versions.first().map(String::as_str),
        Some("as decided")
    );
    let shown = weigh::report(&side, 80);
    for name in &side.versions[1..] {
        assert!(
            shown.contains(&format!("\"{name}\": add "))
                || shown.contains(&format!("\"{name}\": deduct ")),
            "{name}: {shown}"
        );
    }
    // Openings add to the difference of the costs before charges, less what belongs to no opening.
    for at in 1..versions.len() {
        let by_row: i128 = side.openings.iter().map(|o| o.cents[at] - o.cents[0]).sum();
        let whole = |e: &Estimate| {
            e.cut(CutKind::Opening).map_or(0, |c| {
                c.rows
                    .iter()
                    .filter(|r| r.whole_job)
                    .map(|r| r.cents())
                    .sum::<i128>()
            })
        };
        let direct = versions[at].1.totals.direct - versions[0].1.totals.direct;
        assert_eq!(
            by_row + whole(&versions[at].1) - whole(&versions[0].1),
            direct,
            "{}",
            side.versions[at]
        );
    }
}

#[test]
fn a_survey_that_is_not_the_one_the_rules_were_checked_for_is_refused() {
    use ovolo::estimate::{Refused, Survey, estimate};
    let job = open("job.ovo");
    let (empty, none) = (Survey::default(), ovolo::prices::PriceBook::default());
    let done = estimate(
        &job.program,
        0,
        &empty,
        &none,
        ALL,
        &[],
        &eval::Options::default(),
        ovolo::pricing::Origin::default(),
    )
    .map(|_| ());
    let Err(Refused::Messages(list)) = done else {
        panic!("run over nothing")
    };
    assert_eq!(list.iter().map(|d| d.code).collect::<Vec<_>>(), ["OV-913"]);
    assert!(list[0].message.contains("Missing"), "{}", list[0].message);
}
