//! The demonstration job from its files to its reports, through the library alone.

use std::path::{Path, PathBuf};

use ovolo::check::{self, Finder};
use ovolo::diagnostics::{Diagnostic, Sources, render};
use ovolo::eval::{self, Inputs};
use ovolo::number::Exact;
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
        let base = from.and_then(|f| Path::new(f).parent()).map_or_else(PathBuf::new, Path::to_path_buf);
        let full = base.join(path).canonicalize().map_err(|e| e.to_string())?;
        let text = std::fs::read_to_string(&full).map_err(|e| e.to_string())?;
        Ok((full.display().to_string(), text))
    }
}

fn told(list: &[Diagnostic], sources: &Sources) -> String {
    render::render_all(list, sources, render::Style { colour: false }, 50)
}

fn file(folder: &Path, name: &str) -> SourceFile<'static> {
    let bytes = std::fs::read(folder.join(name)).expect("a file of the demonstration job");
    SourceFile { name: name.to_owned(), content: Content::Bytes(bytes) }
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
    let (checked, problems) = check::check(&loaded, check::Options { alternates: true, trials: false });
    let program = checked.unwrap_or_else(|| panic!("{}", told(&problems, &loaded.sources))).program;
    let mut readings: Vec<Reading> = Vec::new();
    for (at, info) in program.tables.iter().enumerate() {
        let input = program.terms.surveys.iter().find(|s| usize::from(s.table.0) == at).expect("each table has its file");
        let files = input.files.iter().map(|f| file(&folder, &f.path)).collect();
        let options = ReadOptions { tabs: input.files.iter().flat_map(|f| f.tabs.clone()).collect(), heading_row: input.heading_row, ..ReadOptions::default() };
        let parent = info.parent.map(|p| (&program.tables[usize::from(p.0)].schema, &readings[usize::from(p.0)].table));
        let read = survey::read(&info.schema, &program.nouns, program.currency.as_deref(), files, &options, parent);
        readings.push(read.unwrap_or_else(|faults| panic!("{}", told(&faults, &loaded.sources))));
    }
    Job { program, sources: loaded.sources, readings, folder }
}

impl Job {
    fn estimate(&self, version: usize, wish: Wish) -> Estimate {
        let Job { program, sources, readings, folder } = self;
        let version = &program.versions[version];
        let tables: Vec<&Table> = readings.iter().map(|r| &r.table).collect();
        let results = eval::run(program, &Inputs { tables: tables.clone() }, &wanted(program, version, wish), &eval::Options::default()).expect("runs");
        let notes = survey_notes(program, version, &readings.iter().map(|r| &r.report).collect::<Vec<_>>());
        let quantities = collect(program, version, &results, &tables, notes, wish).unwrap_or_else(|f| panic!("{}", told(&f, sources)));
        let books = program.terms.prices.iter().map(|p| BookSource { file: file(folder, &p.path), tab: p.tabs.first().cloned() }).collect();
        let book = read_book(program, books).unwrap_or_else(|f| panic!("{}", told(&f, sources)));
        println!("{}", told(&price_warnings(program, version, &book), sources));
        estimate(program, version, &quantities, &book).unwrap_or_else(|f| panic!("{}", told(&f, sources)))
    }
}

const ALL: Wish = Wish { by_row: true, treatment: true };

#[test]
fn show() {
    let job = open("job.ovo");
    let done = job.estimate(0, ALL);
    let options = terminal::Options { openings: true, treatment: true, assumptions: true, lines: true };
    println!("{}", terminal::report(&done, &options, 80));
    let versions: Vec<_> = (0..job.program.versions.len()).map(|v| (&job.program.versions[v], job.estimate(v, ALL))).collect();
    println!("{}", weigh::report(&compare(&versions), 80));
}
